package api

import "sabinbook/internal/absorption"

// WarningWords are the words of a warning, for the test that looks for codes without any.
func WarningWords(code string, value, low, high float64) string {
	return warningWords(absorption.Warning{Code: code, Value: value, Low: low, High: high})
}
