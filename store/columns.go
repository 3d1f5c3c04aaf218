package store

import (
	"database/sql"
	"database/sql/driver"
	"fmt"
	"strings"
	"time"

	"sabinbook/internal/catalog"
	"sabinbook/internal/money"
)

// A column of a row is given as a pointer: to a field of a noun, or to one of the
// types of this file. It serves both ways, as a place to scan into and, by
// values, as the value to store, so that the two can never disagree.

// values takes what the columns point to, as plain values that both drivers bind alike.
func values(columns ...any) ([]any, error) {
	out := make([]any, len(columns))
	for i, c := range columns {
		v, err := driver.DefaultParameterConverter.ConvertValue(c)
		if err != nil {
			return nil, fmt.Errorf("column %d: %w", i+1, err)
		}
		out[i] = v
	}
	return out, nil
}

// Time is an instant as both engines keep it: UTC, whole milliseconds. It is written as
// text of fixed width, which sorts by time.
type Time time.Time

const timeForm = "2006-01-02T15:04:05.000Z"

// Value returns the text of the instant.
func (t Time) Value() (driver.Value, error) { return time.Time(t).UTC().Format(timeForm), nil }

// Scan reads the text of SQLite or the instant of PostgreSQL.
func (t *Time) Scan(src any) error {
	switch v := src.(type) {
	case time.Time:
		*t = Time(v.UTC())
		return nil
	case string:
		parsed, err := time.Parse(timeForm, v)
		*t = Time(parsed)
		return err
	}
	return fmt.Errorf("not an instant: %T", src)
}

// reference is an id that may be absent: NULL in the database, empty in the noun.
type reference struct{ id *catalog.ID }

func (r reference) Value() (driver.Value, error) {
	if *r.id == "" {
		return nil, nil
	}
	return string(*r.id), nil
}

func (r reference) Scan(src any) error {
	var n sql.Null[catalog.ID]
	err := n.Scan(src)
	*r.id = n.V
	return err
}

// optional is a column of a part that may be absent as a whole. at returns the place of
// the value, making the part if it is told to, or nil.
type optional[V any] struct{ at func(make bool) *V }

func (o optional[V]) Value() (driver.Value, error) {
	p := o.at(false)
	if p == nil {
		return nil, nil
	}
	return driver.DefaultParameterConverter.ConvertValue(*p)
}

func (o optional[V]) Scan(src any) error {
	var n sql.Null[V]
	if err := n.Scan(src); err != nil || !n.Valid {
		return err
	}
	*o.at(true) = n.V
	return nil
}

// whole is the place of a part that may be absent.
func whole[P any](p **P) func(make bool) *P {
	return func(make bool) *P {
		if *p == nil && make {
			*p = new(P)
		}
		return *p
	}
}

// within is the place of a field of such a part.
func within[P, V any](part func(bool) *P, field func(*P) *V) func(make bool) *V {
	return func(make bool) *V {
		p := part(make)
		if p == nil {
			return nil
		}
		return field(p)
	}
}

// micro and currency are the two columns of an amount that may be absent.
type (
	micro    struct{ at func(make bool) *money.Amount }
	currency struct{ at func(make bool) *money.Amount }
)

func amount(at func(make bool) *money.Amount) (micro, currency) { return micro{at}, currency{at} }

func (m micro) Value() (driver.Value, error) {
	a := m.at(false)
	if a == nil {
		return nil, nil
	}
	return a.Micro(), nil
}

func (m micro) Scan(src any) error {
	var n sql.NullInt64
	if err := n.Scan(src); err != nil || !n.Valid {
		return err
	}
	a := m.at(true)
	*a = money.FromMicro(n.Int64, a.Currency())
	return nil
}

func (c currency) Value() (driver.Value, error) {
	a := c.at(false)
	if a == nil {
		return nil, nil
	}
	return string(a.Currency()), nil
}

func (c currency) Scan(src any) error {
	var n sql.NullString
	if err := n.Scan(src); err != nil || !n.Valid {
		return err
	}
	a := c.at(true)
	*a = money.FromMicro(a.Micro(), money.Currency(n.String))
	return nil
}

// places writes n placeholders from $first on: "$3, $4, $5".
func places(first, n int) string {
	list := make([]string, n)
	for i := range list {
		list[i] = fmt.Sprintf("$%d", first+i)
	}
	return strings.Join(list, ", ")
}
