package catalog

import (
	"strings"

	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"
)

// NameKey folds a name so that twins have one key: compatibility forms, case and spaces
// are levelled (Unicode NFKC and full case folding). Stored keys rest on the Unicode
// tables of the library; a change of them needs a migration of name_key.
func NameKey(name string) string {
	folded := cases.Fold().String(norm.NFKC.String(name))
	return strings.Join(strings.Fields(norm.NFKC.String(folded)), " ")
}
