package api

import "sabinbook/internal/absorption"

// WarningWords are the words of a warning, for the test that looks for codes without any.
func WarningWords(code string) string {
	return warningWords(absorption.Warning{Code: code, Value: 1, Low: 1, High: 2})
}
