package api

import (
	"github.com/getkin/kin-openapi/openapi3"

	"sabinbook/internal/absorption"
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
