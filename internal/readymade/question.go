package readymade

import (
	"errors"
	"fmt"

	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
	"sabinbook/internal/costing"
	"sabinbook/internal/money"
	"sabinbook/internal/ranking"
	"sabinbook/internal/units"
)

// Question asks whether building pays. The purpose of the build's brief says over which bands
// absorption counts.
type Question struct {
	Build  ranking.Single
	Rival  Rival
	Tools  []Tool
	Labour Labour
}

// Rival is the ready-made panel: a stored one, or one that is described.
type Rival struct {
	Panel string // id or slug; empty for one that is described
	// Width, Height and Alpha describe one that is not stored; each may be unknown.
	Width, Height units.Length
	Alpha         bands.Curve
	// Price is what is asked for it; nil for the offers of the catalog.
	Price *costing.AskingPrice
}

// Labour is what the asker knows of the time that building takes.
type Labour struct {
	Setup    units.Minutes  // once, whatever the number of panels
	PerPanel *units.Minutes // nil: not known, and never assumed
	// HandlingApart says that the figures do not hold the time that handling the fill takes: then
	// the burden model's minutes are added.
	HandlingApart bool
	// ValueOfHour is the value of the maker's hour, nil for that of the build's handling
	// terms; never assumed.
	ValueOfHour *money.Amount
}

// Validate names every fault of the question that can be seen without a catalog, but for
// those of the build, which it names itself, and of coefficients.
func (q Question) Validate() error {
	v := &catalog.Faults{}
	currency := q.Build.Brief.Terms.Currency
	q.Rival.validate(v)
	if q.Rival.Price != nil {
		q.Rival.Price.Validate(v, "/ready_made/price", currency)
	}
	validateTools(v, q.Tools, currency)
	v.Within("/labour/setup_min", float64(q.Labour.Setup), 0, 100_000, "min", "give minutes, or leave it out for none")
	if m := q.Labour.PerPanel; m != nil {
		v.Within("/labour/building_min_per_panel", float64(*m), 0, 10_000, "min", "give the minutes that one panel takes you, e.g. 75")
	}
	if h := q.Labour.ValueOfHour; h != nil {
		const at = "/labour/value_of_hour"
		switch other := q.Build.Brief.Handling.ValueOfHour; {
		case h.Currency() != currency:
			v.Add(at+"/currency", "disagrees", fmt.Sprintf("is %s, the question's currency is %s", h.Currency(), currency), "give it in the currency of the question; nothing is converted")
		case h.Sign() < 0 || h.Micro() > maxHour*money.Micro:
			v.Add(at+"/amount", "out_of_range", fmt.Sprintf("must be 0 to %d", maxHour), "give the value of one hour, or leave it out")
		case other != nil && *other != *h:
			v.Add(at, "disagrees", fmt.Sprintf("is %s, the handling terms of the build say %s", h, other), "give it in one place")
		}
	}
	return v.Err()
}

// maxHour is the largest value of an hour in major units. Convention.
const maxHour = 1_000_000

func (r Rival) validate(v *catalog.Faults) {
	const at = "/ready_made"
	described := r.Width != 0 || r.Height != 0 || r.Alpha.Len() > 0
	switch {
	case r.Panel != "" && described:
		v.Add(at+"/panel", "disagrees", "a stored panel is named and another one described", "keep one of them: leave out width, height and absorption, or the panel")
	case r.Panel == "" && r.Price == nil:
		v.Add(at+"/price", "required", "is missing: without a stored panel there are no offers to look at", "give the price, or the id or slug of a stored ready-made panel")
	}
	if r.Width != 0 || r.Height != 0 {
		v.Within(at+"/width_mm", float64(r.Width), 100, 3000, "mm", "give both sides of the face in millimetres, or none")
		v.Within(at+"/height_mm", float64(r.Height), 100, 3000, "mm", "give both sides of the face in millimetres, or none")
	}
}

// below puts the faults of an error below a place.
func below(at string, err error) error {
	var invalid *catalog.InvalidError
	if !errors.As(err, &invalid) {
		return err
	}
	v := &catalog.Faults{}
	for _, f := range invalid.Faults {
		v.Add(at+f.Pointer, f.Code, f.Detail, f.Fix)
	}
	return v.Err()
}
