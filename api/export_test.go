package api

import (
	"context"
	"encoding/json"

	"github.com/getkin/kin-openapi/openapi3"

	"sabinbook/internal/absorption"
	"sabinbook/internal/catalog"
)

// WarningWords are the words of a warning, for the test that looks for codes without any.
func WarningWords(code string, value, low, high float64) string {
	return warningWords(absorption.Warning{Code: code, Value: value, Low: low, High: high})
}

// NeedsError is what is wrong with the x-needs of an operation.
func NeedsError(o *openapi3.Operation) error {
	_, err := needOf(o)
	return err
}

// KeptDocument keeps options and writes their document.
func (s *Server) KeptDocument(ctx context.Context, question RankingQuestion, keys []string, about ShortlistAbout, notes []OptionNote) ([]byte, error) {
	frozen, err := s.keep(ctx, question, keys)
	if err != nil {
		return nil, err
	}
	return assemble(frozen, about, notes)
}

// FaultsIn are the pointers and codes of the faults that an error names.
func FaultsIn(err error) []string {
	var list []string
	for _, f := range faultsIn(err) {
		list = append(list, f.pointer+" "+f.code)
	}
	return list
}

// CutThroughTheWire writes the records of a snapshot as a document does, and reads them again.
func CutThroughTheWire(s catalog.Snapshot, day catalog.Date) (catalog.Snapshot, error) {
	text, err := canonical(encodeCut(s))
	if err != nil {
		return s, err
	}
	c, err := publishedContract()
	if err != nil {
		return s, err
	}
	value, err := onWire(json.RawMessage(text))
	if err != nil {
		return s, err
	}
	wholeNumbers(value)
	var w ShortlistCatalog
	if faults := c.bindAnswer("ShortlistCatalog", value, &w); len(faults) > 0 {
		return s, &requestError{kind: problemInvalid, faults: faults}
	}
	return decodeCut(w, day)
}

// Sealed gives the members of a document the digest that fits them, and writes it.
func Sealed(members map[string]json.RawMessage) ([]byte, error) {
	digest, err := digestOf(members)
	if err != nil {
		return nil, err
	}
	if members["digest"], err = json.Marshal(digest); err != nil {
		return nil, err
	}
	return canonical(members)
}

// EncodedCut writes the records of a snapshot as a document does.
func EncodedCut(s catalog.Snapshot) ([]byte, error) { return canonical(encodeCut(s)) }

// Canonical is canonical.
func Canonical(value any) ([]byte, error) { return canonical(value) }
