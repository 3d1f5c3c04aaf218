package store

import (
	"encoding/base32"
	"fmt"

	"github.com/google/uuid"

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
