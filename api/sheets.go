package api

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"

	paper "sabinbook/api/page"
)

// The media types of sheets.
const (
	htmlMedia     = "text/html; charset=utf-8"
	markdownMedia = "text/markdown; charset=utf-8; variant=GFM" // RFC 7763, RFC 7764
)

// in is the document in the form that was asked for. key and all choose whose shopping list a sheet tells.
func (d document) in(f form, key *string, all *bool) (document, error) {
	name := func(end string) string { return strings.Replace(d.file, ".json\"", end+"\"", 1) }
	if f.format == formatJSON || f.format == formatCSV {
		if err := notOfSheets(f.format, key, all); err != nil {
			return d, err
		}
	}
	write, media, file := paper.Sheet, htmlMedia, strings.Replace(name(".html"), "attachment", "inline", 1)
	switch f.format {
	case formatJSON:
		return d, nil
	case formatCSV:
		var kept ShortlistDocument
		if err := json.Unmarshal(d.text, &kept); err != nil {
			return d, fmt.Errorf("api: a document that was written here: %w", err)
		}
		return sealed(tableOf(kept.Answer).write(f.sheet), csvMedia, name(".csv")), nil
	case formatMarkdown:
		write, media, file = paper.Markdown, markdownMedia, name(".md")
	}
	text, err := write(d.text, paper.Choice{Key: orZero(key), All: orZero(all)})
	var unknown *paper.KeyError
	switch {
	case errors.As(err, &unknown):
		return d, &requestError{kind: problemParameter, faults: []fault{{parameter: "key", code: "unknown_word", detail: "the document has no option " + quoted(unknown.Key), fix: didYouMean(unknown.Key, unknown.Keys)}}}
	case err != nil:
		return d, err
	}
	return sealed(text, media, file), nil
}

// notOfSheets refuses what says nothing of a document or a table.
func notOfSheets(f format, key *string, all *bool) error {
	var faults []fault
	for _, p := range []struct {
		name  string
		given bool
	}{{"all", all != nil}, {"key", key != nil}} {
		if p.given {
			faults = append(faults, fault{parameter: p.name, code: "not_applicable", detail: "belongs to html and markdown, and the answer is " + string(f), fix: "add format=html, or leave it out"})
		}
	}
	if faults == nil {
		return nil
	}
	return &requestError{kind: problemParameter, faults: faults}
}
