package api

import (
	"time"

	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
	"sabinbook/internal/money"
)

// Encoding leaves out what is not known and writes an empty list where there is none. It
// looks nothing up and rounds nothing.

// known points to a value, nil when it is the zero value, which means "not stated".
func known[T comparable](x T) *T {
	var none T
	if x == none {
		return nil
	}
	return &x
}

// knownAs is known for a value of another type: a length as a number, an id as a text.
func knownAs[T, U comparable](x U, as func(U) T) *T {
	var none U
	if x == none {
		return nil
	}
	t := as(x)
	return &t
}

func number[U ~float64](x U) float64 { return float64(x) }
func text[U ~string](x U) string     { return string(x) }
func whole(x int) int64              { return int64(x) }

// place points to a value that is always told.
func place[T any](x T) *T { return &x }

// timeText is RFC 3339 in UTC with milliseconds.
func timeText(t time.Time) string { return t.UTC().Format("2006-01-02T15:04:05.000Z") }

// parseTime reads what timeText writes.
func parseTime(text string) (time.Time, error) { return time.Parse("2006-01-02T15:04:05.000Z", text) }

// readOnlyMembers are the members of a record that the store sets.
type readOnlyMembers struct {
	id, created, updated, by, maker *string
	revision                        *int64
}

func encodeMeta(m catalog.Meta) readOnlyMembers {
	return readOnlyMembers{id: place(string(m.ID)), created: place(timeText(m.Created)), updated: place(timeText(m.Updated)),
		by: place(m.UpdatedBy), maker: place(m.CreatedBy), revision: place(m.Revision)}
}

func encodeFigure[U ~float64](f *catalog.Figure[U]) *Figure {
	if f == nil {
		return nil
	}
	return &Figure{Value: float64(f.Value), Low: knownAs(f.Low, number), High: knownAs(f.High, number),
		Evidence: string(f.Evidence), SourceID: string(f.SourceID), Basis: known(f.Basis)}
}

func encodeSize(s catalog.SoldSize) SoldSize {
	return SoldSize{LengthMm: float64(s.Length), WidthMm: float64(s.Width), ThicknessMm: float64(s.Thickness)}
}

func encodeFire(list []catalog.FireDeclaration) *[]FireDeclaration {
	out := make([]FireDeclaration, len(list))
	for i, d := range list {
		out[i] = FireDeclaration{Subject: d.Subject, Scheme: string(d.Scheme), Code: known(d.Code),
			FlameSpreadIndex: encodeIndex(d.FlameSpread), SmokeDevelopedIndex: encodeIndex(d.SmokeDeveloped),
			Edition: known(d.Edition), ReportRef: known(d.Report), Laboratory: known(d.Laboratory), EndUse: known(d.EndUse),
			Durability: d.Durability, Evidence: d.Evidence, SourceID: string(d.SourceID)}
	}
	return &out
}

func encodeIndex(p *int) *int64 {
	if p == nil {
		return nil
	}
	return place(int64(*p))
}

func encodeMoney(a money.Amount) Money {
	return Money{Amount: a.String(), Currency: string(a.Currency())}
}

func encodeMoneyIf(a *money.Amount) *Money {
	if a == nil {
		return nil
	}
	return place(encodeMoney(*a))
}

func encodeBands(c bands.Curve) Bands {
	var w Bands
	for b, p := range bandMembers(&w) {
		if a, ok := c.At(bands.Band(b)); ok {
			*p = &a
		}
	}
	return w
}
