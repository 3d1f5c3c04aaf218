package store

import (
	"encoding/base32"
	"fmt"
	"strings"

	"github.com/google/uuid"
	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"

	"sabinbook/internal/catalog"
)

var idText = base32.NewEncoding("0123456789abcdefghijklmnopqrstuv").WithPadding(base32.NoPadding)

// newID makes an id of the noun: its prefix and the 26 characters of a UUIDv7. Ids made by one
// process ascend; those of several processes ascend by the millisecond.
func newID(noun catalog.Noun) (catalog.ID, error) {
	u, err := uuid.NewV7()
	if err != nil {
		return "", fmt.Errorf("new id: %w", err)
	}
	return catalog.ID(noun.Prefix + "_" + idText.EncodeToString(u[:])), nil
}

// nameKey folds a name so that twins have one key: compatibility forms, case and spaces
// are levelled (Unicode NFKC and full case folding). Stored keys rest on the Unicode
// tables of the library; a change of them needs a migration of name_key.
func nameKey(name string) string {
	folded := cases.Fold().String(norm.NFKC.String(name))
	return strings.Join(strings.Fields(norm.NFKC.String(folded)), " ")
}
