package api

import (
	"errors"
	"fmt"
	"math"

	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
	"sabinbook/internal/money"
	"sabinbook/internal/units"
)

// Decoding knows the names and units of the wire. It refuses only what cannot be put into
// a value of the catalog; whether the value is allowed is the business of Validate.

// orZero is the value of an optional member, the zero value when it is absent.
func orZero[T any](p *T) T {
	if p == nil {
		var none T
		return none
	}
	return *p
}

// orUnknown is an optional answer; what is not said is unknown.
func orUnknown[T ~string](p *string) T {
	if p == nil {
		return "unknown"
	}
	return T(*p)
}

// or is the value of an optional member, else as it is.
func or[T, W any](p *W, as func(W) T, otherwise T) T {
	if p == nil {
		return otherwise
	}
	return as(*p)
}

func length(x float64) units.Length   { return units.Length(x) }
func minutes(x float64) units.Minutes { return units.Minutes(x) }
func count(x int64) int               { return int(min(max(x, -1<<31), 1<<31-1)) }

func listOf[T any, W any](p *[]W, as func(W) T) []T {
	var out []T
	for _, w := range orZero(p) {
		out = append(out, as(w))
	}
	return out
}

func pointerTo[T, W any](p *W, as func(W) T) *T {
	if p == nil {
		return nil
	}
	return place(as(*p))
}

func decodeMeta(slug, name string) catalog.Meta {
	return catalog.Meta{Slug: catalog.Slug(slug), Name: name}
}

func decodeFigure[U ~float64](w *Figure) *catalog.Figure[U] {
	if w == nil {
		return nil
	}
	return &catalog.Figure[U]{Value: U(w.Value), Low: U(orZero(w.Low)), High: U(orZero(w.High)),
		Evidence: catalog.Evidence(w.Evidence), SourceID: catalog.ID(w.SourceID), Basis: orZero(w.Basis)}
}

func decodeSize(w SoldSize) catalog.SoldSize {
	return catalog.SoldSize{Length: units.Length(w.LengthMm), Width: units.Length(w.WidthMm), Thickness: units.Length(w.ThicknessMm)}
}

func decodeFire(list *[]FireDeclaration) []catalog.FireDeclaration {
	var out []catalog.FireDeclaration
	for _, w := range orZero(list) {
		scheme := catalog.FireScheme(w.Scheme)
		out = append(out, catalog.FireDeclaration{Subject: w.Subject, Scheme: scheme, Code: catalog.NormalFireCode(scheme, orZero(w.Code)),
			FlameSpread: decodeIndex(w.FlameSpreadIndex), SmokeDeveloped: decodeIndex(w.SmokeDevelopedIndex),
			Edition: orZero(w.Edition), Report: orZero(w.ReportRef), Laboratory: orZero(w.Laboratory), EndUse: orZero(w.EndUse),
			Durability: w.Durability, Evidence: w.Evidence, SourceID: catalog.ID(w.SourceID)})
	}
	return out
}

func decodeIndex(p *int64) *int {
	if p == nil {
		return nil
	}
	n := int(*p)
	return &n
}

// decodeMoney refuses an amount with more places than its currency has.
func decodeMoney(v *catalog.Faults, at string, w Money) money.Amount {
	a, err := money.Parse(w.Amount, money.Currency(w.Currency))
	switch {
	case errors.Is(err, money.ErrPlaces):
		n := money.Currency(w.Currency).Exponent()
		v.Add(at+"/amount", "too_many_places", fmt.Sprintf("has more than the %d decimal places of %q", n, w.Currency), "round it to the minor unit of the currency")
	case err != nil:
		v.Add(at+"/amount", "bad_form", err.Error(), "write it like 12.50")
	}
	if err != nil {
		return money.Zero(money.Currency(w.Currency)) // the currency may still be judged
	}
	return a
}

func decodeMoneyIf(v *catalog.Faults, at string, w *Money) *money.Amount {
	if w == nil {
		return nil
	}
	a := decodeMoney(v, at, *w)
	return &a
}

// decodeBands refuses a band that the basis does not have. An unknown basis is left to
// Validate; its bands are read as thirds.
func decodeBands(v *catalog.Faults, at, basis string, w Bands) bands.Curve {
	curve := bands.NewCurve(bands.Basis(basis))
	for b, p := range bandMembers(&w) {
		if *p == nil {
			continue
		}
		if _, centre := bands.Band(b).OctaveIndex(); curve.Basis == bands.Octave && !centre {
			v.Add(fmt.Sprintf("%s/alpha_%d_hz", at, bands.Band(b).Nominal()), "not_applicable", "is no octave band", "leave it out, or set band_basis to third_octave")
			continue
		}
		curve.Set(bands.Band(b), **p)
	}
	return curve
}

// bandMembers lists the places of the band members from 100 Hz to 5000 Hz.
func bandMembers(w *Bands) [bands.ThirdCount]**float64 {
	return [bands.ThirdCount]**float64{&w.Alpha100Hz, &w.Alpha125Hz, &w.Alpha160Hz, &w.Alpha200Hz, &w.Alpha250Hz, &w.Alpha315Hz,
		&w.Alpha400Hz, &w.Alpha500Hz, &w.Alpha630Hz, &w.Alpha800Hz, &w.Alpha1000Hz, &w.Alpha1250Hz,
		&w.Alpha1600Hz, &w.Alpha2000Hz, &w.Alpha2500Hz, &w.Alpha3150Hz, &w.Alpha4000Hz, &w.Alpha5000Hz}
}

// decodePercent reads a rate of at most two places as basis points.
func decodePercent(v *catalog.Faults, at string, percent float64) int {
	points := math.Round(percent * 100)
	if math.Abs(points) > 1e9 {
		points = math.Copysign(1e9, points) // far out of every range; Validate says so
	} else if math.Abs(points/100-percent) > 1e-9 {
		v.Add(at, "too_many_places", fmt.Sprintf("may have at most two decimal places, got %v", percent), "round it, e.g. 21 or 5.5")
	}
	return int(points)
}
