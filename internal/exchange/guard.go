package exchange

import "strings"

// Guarded puts an apostrophe before a text that a spreadsheet would take for a formula, and one more
// before an apostrophe, so that taking one away gives the text back.
func Guarded(s string) string {
	if s != "" && strings.ContainsRune("=+-@\t\r\x00'", rune(s[0])) {
		return "'" + s
	}
	return s
}

// Unguarded takes the apostrophe away that Guarded has put before a text.
func Unguarded(s string) string { return strings.TrimPrefix(s, "'") }
