package store

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"time"
	"unicode/utf8"
)

// packedBytes are bytes in a backup.
type packedBytes struct {
	Base64 []byte `json:"base64"`
}

// rowLine is a row as a line of a backup.
func rowLine(t table, row []any) ([]byte, error) {
	out := make([]any, len(row))
	for i, c := range t.columns {
		v, err := c.pack(row[i])
		if err != nil {
			return nil, fmt.Errorf("column %s: %w", c.name, err)
		}
		out[i] = v
	}
	return line(out), nil
}

// pack turns what a driver has read into what a backup holds. What would not come back the same is
// an error.
func (c column) pack(v any) (any, error) {
	switch v := v.(type) {
	case nil:
		return nil, nil
	case string:
		if c.kind == textColumn && utf8.ValidString(v) {
			return v, nil
		}
	case int64:
		if c.kind == integerColumn {
			return v, nil
		}
	case float64:
		if c.kind == realColumn && !math.IsNaN(v) && !math.IsInf(v, 0) {
			return v, nil
		}
	case []byte:
		if c.kind == bytesColumn {
			return packedBytes{append([]byte{}, v...)}, nil // a driver may give no bytes as nil
		}
	case bool:
		if c.kind == booleanColumn {
			if v {
				return 1, nil
			}
			return 0, nil
		}
	case time.Time:
		if c.kind == instantColumn && v.Equal(v.Truncate(time.Millisecond)) {
			return v.UTC().Format(timeForm), nil
		}
	}
	return nil, fmt.Errorf("a value of type %T cannot be backed up", v)
}

// rowValues reads the line of a row, as values that the driver stores.
func rowValues(t table, text []byte) ([]any, error) {
	var cells []json.RawMessage
	if err := json.Unmarshal(text, &cells); err != nil || len(cells) != len(t.columns) {
		return nil, damaged("a row has not %d values", len(t.columns))
	}
	row := make([]any, len(cells))
	for i, c := range t.columns {
		v, err := c.unpack(cells[i])
		if err != nil {
			return nil, damaged("column %s: %v", c.name, err)
		}
		row[i] = v
	}
	return row, nil
}

func (c column) unpack(cell json.RawMessage) (any, error) {
	if bytes.Equal(cell, []byte("null")) {
		return nil, nil
	}
	switch c.kind {
	case textColumn:
		return unpacked[string](cell)
	case integerColumn:
		return unpacked[int64](cell)
	case realColumn:
		return unpacked[float64](cell)
	case bytesColumn:
		b, err := unpacked[packedBytes](cell)
		if b.Base64 == nil {
			b.Base64 = []byte{}
		}
		return b.Base64, err
	case booleanColumn:
		n, err := unpacked[int64](cell)
		if err == nil && n != 0 && n != 1 {
			err = fmt.Errorf("%d is neither 0 nor 1", n)
		}
		return n == 1, err
	case instantColumn:
		text, err := unpacked[string](cell)
		if err == nil {
			_, err = time.Parse(timeForm, text)
		}
		return text, err
	}
	return nil, fmt.Errorf("unknown kind %d", c.kind)
}

func unpacked[T any](cell json.RawMessage) (T, error) {
	var v T
	err := strict(cell, &v)
	return v, err
}
