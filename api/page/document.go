package page

import (
	"encoding/json"
	"fmt"
	"slices"

	"sabinbook/api/client"
)

// Schema is the form of document that this package reads.
const Schema = "/schemas/shortlist-1.json"

// DocumentError says that the bytes are no document of a shortlist.
type DocumentError struct{ reason string }

func (e *DocumentError) Error() string { return "page: not a document of a shortlist: " + e.reason }

// KeyError says that no option of the document has the key.
type KeyError struct {
	Key  string
	Keys []string // of the document, in the order of their places
}

func (e *KeyError) Error() string { return fmt.Sprintf("page: no option has the key %q", e.Key) }

// read reads a document. It does not check the digest: that is what proving is for, and the sheet says so.
func read(bytes []byte) (*client.ShortlistDocument, error) {
	var d client.ShortlistDocument
	if err := json.Unmarshal(bytes, &d); err != nil {
		return nil, &DocumentError{err.Error()}
	}
	switch {
	case d.Schema != Schema:
		return nil, &DocumentError{fmt.Sprintf("its schema is %q, must be %q", d.Schema, Schema)}
	case len(d.Answer.Options) == 0:
		return nil, &DocumentError{"its answer has no options"}
	}
	return &d, nil
}

// chosen are the options that the sheet tells how to buy and build.
func chosen(d *client.ShortlistDocument, c Choice) ([]client.RankedOption, error) {
	options := d.Answer.Options
	switch {
	case c.All:
		return options, nil
	case c.Key == "":
		return options[:1], nil
	}
	i := slices.IndexFunc(options, func(o client.RankedOption) bool { return o.Key == c.Key })
	if i < 0 {
		e := &KeyError{Key: c.Key}
		for _, o := range options {
			e.Keys = append(e.Keys, o.Key)
		}
		return nil, e
	}
	return options[i : i+1], nil
}
