package exchange

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"sabinbook/internal/catalog"
	"sabinbook/internal/money"
)

// kind is a type of Table Schema.
type kind string

const (
	textKind    kind = "string"
	numberKind  kind = "number"
	wholeKind   kind = "integer"
	flagKind    kind = "boolean"
	dateKind    kind = "date"
	instantKind kind = "datetime"
)

// field describes a column.
type field struct {
	name, about string
	kind        kind
	pointer     string // of the member, in the faults of package catalog
	refers      string // the table whose id the column holds
	required    bool   // no cell may be empty
	since       int    // as in description
}

// column is a column with its way to and from the rows R.
type column[R any] struct {
	field
	get     func(*R) string                       // empty for what is not known
	set     func(*R, string) (detail, fix string) // of a cell that is not empty; detail is empty when all is well
	missing func(*R) bool                         // whether the row needs this cell, asked when it is empty
}

func always[R any](*R) bool { return true }
func never[R any](*R) bool  { return false }

func (c column[R]) need() column[R] { c.required, c.missing = true, always[R]; return c }

// from gives the second number of the version of the form from which on the table has the column.
func (c column[R]) from(since int) column[R] { c.since = since; return c }

// under gives the pointer of the member that the column holds.
func (c column[R]) under(pointer string) column[R] { c.pointer = pointer; return c }

func plain[R any](name, about string, k kind, get func(*R) string, set func(*R, string) (string, string)) column[R] {
	return column[R]{field{name: name, about: about, kind: k, pointer: "/" + name}, get, set, never[R]}
}

func text[R any, S ~string](name, about string, at func(*R) *S) column[R] {
	return plain(name, about, textKind, func(r *R) string { return string(*at(r)) },
		func(r *R, s string) (string, string) {
			// Spreadsheets end the lines inside of a cell in CR LF; a text of the catalog has LF.
			*at(r) = S(strings.ReplaceAll(s, "\r\n", "\n"))
			return "", ""
		})
}

// reference is the id of a row of another table.
func reference[R any](name, about, table string, at func(*R) *catalog.ID) column[R] {
	c := text(name, about, at)
	c.refers = table
	return c
}

func day[R any](name, about string, at func(*R) *catalog.Date) column[R] {
	return plain(name, about, dateKind, func(r *R) string { return string(*at(r)) },
		func(r *R, s string) (string, string) {
			d, err := catalog.ParseDate(s)
			if err != nil {
				return "is not a date: " + quote(s), "write year-month-day, like 2026-11-02"
			}
			*at(r) = d
			return "", ""
		})
}

// instantForm is the form of instants: UTC in whole milliseconds, as the store keeps them.
const instantForm = "2006-01-02T15:04:05.000Z"

func instant[R any](name, about string, at func(*R) *time.Time) column[R] {
	return plain(name, about, instantKind,
		func(r *R) string {
			if at(r).IsZero() {
				return ""
			}
			return at(r).UTC().Format(instantForm)
		},
		func(r *R, s string) (string, string) {
			t, err := time.Parse(time.RFC3339, s)
			if err != nil || t.Year() < 1 || !t.Equal(t.Truncate(time.Millisecond)) {
				return "is not an instant in whole milliseconds: " + quote(s), "write it like 2026-11-02T08:00:00.000Z"
			}
			*at(r) = t.UTC()
			return "", ""
		})
}

func flag[R any](name, about string, at func(*R) *bool) column[R] {
	return plain(name, about, flagKind, func(r *R) string { return strconv.FormatBool(*at(r)) },
		func(r *R, s string) (string, string) {
			switch s {
			case "true", "True", "TRUE":
				*at(r) = true
			case "false", "False", "FALSE":
				*at(r) = false
			default:
				return "is neither true nor false: " + quote(s), "write true or false"
			}
			return "", ""
		}).need()
}

// number is a number that is always known.
func number[R any, N ~float64](name, about string, at func(*R) *N) column[R] {
	return plain(name, about, numberKind, func(r *R) string { return numeral(float64(*at(r))) },
		func(r *R, s string) (string, string) {
			x, err := strconv.ParseFloat(s, 64)
			// ParseFloat would also take names, hexadecimals and underscores.
			if err != nil || strings.Trim(s, "0123456789.eE+-") != "" || math.IsInf(x, 0) {
				return "is not a number: " + quote(s), "write a number with a decimal point, like 12.5"
			}
			*at(r) = N(x)
			return "", ""
		}).need()
}

// numberIf is a number that is not known when it is 0.
func numberIf[R any, N ~float64](name, about string, at func(*R) *N) column[R] {
	c := number(name, about, at)
	c.required, c.missing = false, never[R]
	written := c.get
	c.get = func(r *R) string {
		if *at(r) == 0 {
			return ""
		}
		return written(r)
	}
	return c
}

// numeral writes a number in the fewest digits that give it back, with an exponent only
// where the digits would be many.
func numeral(x float64) string {
	if x == 0 {
		return "0"
	}
	if a := math.Abs(x); a < 1e-6 || a >= 1e21 {
		return strconv.FormatFloat(x, 'e', -1, 64)
	}
	return strconv.FormatFloat(x, 'f', -1, 64)
}

func whole[R any, N ~int | ~int64](name, about string, at func(*R) *N) column[R] {
	return plain(name, about, wholeKind, func(r *R) string { return strconv.FormatInt(int64(*at(r)), 10) },
		func(r *R, s string) (string, string) {
			n, err := strconv.ParseInt(s, 10, 64)
			if err != nil || n > maxWhole || n < -maxWhole {
				return "is not a whole number: " + quote(s), "write digits only, like 12"
			}
			*at(r) = N(n)
			return "", ""
		}).need()
}

// maxWhole is the largest whole number that JSON and spreadsheets keep exactly, 2^53 - 1.
const maxWhole = 1<<53 - 1

// wholeIf is a whole number that is not stated when it is 0.
func wholeIf[R any, N ~int | ~int64](name, about string, at func(*R) *N) column[R] {
	c := whole(name, about, at)
	c.required, c.missing = false, never[R]
	written := c.get
	c.get = func(r *R) string {
		if *at(r) == 0 {
			return ""
		}
		return written(r)
	}
	return c
}

// part lends the columns of a part that may be absent as a whole, which it is when all
// its cells are empty.
func part[R, P any](at func(*R) **P, columns ...column[P]) []column[R] {
	var list []column[R]
	for _, c := range columns {
		f := c.field
		f.required = false
		list = append(list, column[R]{f,
			func(r *R) string {
				if *at(r) == nil {
					return ""
				}
				return c.get(*at(r))
			},
			func(r *R, s string) (string, string) {
				if *at(r) == nil {
					*at(r) = new(P)
				}
				return c.set(*at(r), s)
			},
			func(r *R) bool { return *at(r) != nil && c.missing(*at(r)) },
		})
	}
	return list
}

// figure is the columns of a figure in a unit, at a pointer.
func figure[R any, U ~float64](name, unit, about, pointer string, at func(*R) **catalog.Figure[U]) []column[R] {
	type f = catalog.Figure[U]
	return part(at,
		number(name+"_"+unit, about, func(f *f) *U { return &f.Value }).under(pointer+"/value"),
		numberIf(name+"_low_"+unit, "Lower end of the range of "+name+", same unit.", func(f *f) *U { return &f.Low }).under(pointer+"/low"),
		numberIf(name+"_high_"+unit, "Upper end of the range of "+name+", same unit.", func(f *f) *U { return &f.High }).under(pointer+"/high"),
		text(name+"_evidence", "How "+name+" came to be known: measured, published, declared, estimated or remembered.", func(f *f) *catalog.Evidence { return &f.Evidence }).under(pointer+"/evidence"),
		reference(name+"_source_id", "The source of "+name+".", "sources", func(f *f) *catalog.ID { return &f.SourceID }).under(pointer+"/source_id"),
		text(name+"_basis", "How "+name+" was found, in words.", func(f *f) *string { return &f.Basis }).under(pointer+"/basis"),
	)
}

// amount is the two columns of an amount of money, at a pointer.
func amount[R any](name, about, pointer string, at func(*R) *money.Amount) []column[R] {
	stated := func(r *R) bool { return *at(r) != money.Amount{} }
	number := plain(name, about, numberKind,
		func(r *R) string {
			if !stated(r) {
				return ""
			}
			return at(r).String()
		},
		func(r *R, s string) (string, string) {
			micro, ok := parseMicro(s)
			if !ok {
				return "is not an amount of money: " + quote(s), "write at most 12 digits and 6 decimals, like 12.50, without a sign"
			}
			*at(r) = money.FromMicro(micro, at(r).Currency())
			return "", ""
		}).under(pointer + "/amount")
	in := plain(name+"_currency", "The currency of "+name+" (ISO 4217).", textKind,
		func(r *R) string { return string(at(r).Currency()) },
		func(r *R, s string) (string, string) {
			*at(r) = money.FromMicro(at(r).Micro(), money.Currency(s))
			return "", ""
		}).under(pointer + "/currency")
	number.missing, in.missing = stated, func(r *R) bool { return !at(r).IsZero() }
	return []column[R]{number, in}
}

// parseMicro reads an amount in micro-units. A price of the catalog may have more places than the
// minor unit of its currency.
func parseMicro(s string) (int64, bool) {
	units, frac, point := strings.Cut(s, ".")
	if units == "" || len(units) > 12 || point && frac == "" || len(frac) > 6 || strings.Trim(units+frac, "0123456789") != "" {
		return 0, false
	}
	n, err := strconv.ParseInt(units+frac+strings.Repeat("0", 6-len(frac)), 10, 64)
	return n, err == nil
}

// metaColumns are the columns that all nouns share; the first is the id.
func metaColumns[R any](noun catalog.Noun, meta func(*R) *catalog.Meta) []column[R] {
	return append([]column[R]{idColumn(noun, func(r *R) *catalog.ID { return &meta(r).ID })},
		text("slug", "The short unique name within the noun.", func(r *R) *catalog.Slug { return &meta(r).Slug }).need(),
		text("name", "The name for people.", func(r *R) *string { return &meta(r).Name }).need(),
		whole("revision", "Counts the states of the record, from 1.", func(r *R) *int64 { return &meta(r).Revision }),
		instant("create_time", "When the record was made (UTC).", func(r *R) *time.Time { return &meta(r).Created }).need(),
		instant("update_time", "When the record was last changed (UTC).", func(r *R) *time.Time { return &meta(r).Updated }).need(),
		text("updated_by", "Who last changed the record.", func(r *R) *string { return &meta(r).UpdatedBy }),
		text("created_by", "Who added the record.", func(r *R) *string { return &meta(r).CreatedBy }),
	)
}

func wrongID(noun catalog.Noun, s string) (detail, fix string) {
	if noun.Is(s) {
		return "", ""
	}
	return fmt.Sprintf("is no id of the noun %s: %s", noun.Name, quote(s)), fmt.Sprintf("give %s_ and 26 characters 0-9a-v", noun.Prefix)
}

// columns strings lists of columns and single ones together.
func columns[R any](lists ...[]column[R]) []column[R] {
	var all []column[R]
	for _, l := range lists {
		all = append(all, l...)
	}
	return all
}

// idColumn is the primary key of a noun.
func idColumn[R any](noun catalog.Noun, at func(*R) *catalog.ID) column[R] {
	return plain("id", fmt.Sprintf("The permanent name of the %s: %s_ and 26 characters 0-9a-v.", noun.Name, noun.Prefix), textKind,
		func(r *R) string { return string(*at(r)) },
		func(r *R, s string) (string, string) {
			*at(r) = catalog.ID(s)
			return wrongID(noun, s)
		}).need()
}
