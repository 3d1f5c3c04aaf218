package shortlist

import (
	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
	"sabinbook/internal/handling"
	"sabinbook/internal/money"
	"sabinbook/internal/units"
)

// Estimate is what the kept answer says of the option that was built. What the answer does not tell
// is nil or empty.
type Estimate struct {
	Panels      int
	Cash        *money.Amount
	Replacement *money.Amount // the cash with what the stock on hand would cost again
	WithoutTax  bool          // the amounts are
	Lines       []handling.Line
	PanelMass   *units.Mass
	Cloth       *units.Length // off the roll as the cut plan needs it, without waste
	Before      bands.Curve   // decay times after Sabine in seconds, without the panels
	After       bands.Curve   // with them
}

// Compared is an estimate beside what came of it. Difference is actual less estimate and Percent that
// in per cent of the estimate; both are nil where either is not known or the two are not of the same
// thing, Percent also where the estimate is nothing.
type Compared[T any] struct {
	Estimate, Actual, Difference *T
	Percent                      *float64
}

// StepCompared is the time of one step, in minutes of all persons together for all panels.
type StepCompared struct {
	Step catalog.Step
	Time Compared[units.Minutes]
}

// DecayCompared is the decay time in one octave, in seconds.
type DecayCompared struct {
	Octave        bands.Band
	Before, After Compared[float64]
}

// Report sets an estimate beside an outcome.
type Report struct {
	OtherCount    bool // not as many panels were built as the estimate is for; differences of what depends on it are left out
	OtherCurrency bool // not the currency of the estimate was paid in; nothing is converted
	WithoutTax    bool // the estimate is without tax; whether the lines are nobody tells
	Cash          Compared[money.Amount]
	Replacement   *Compared[money.Amount] // nil unless something was had for nothing
	Steps         []StepCompared          // those that the estimate or the outcome has, in the order of catalog.Steps
	Extra         Compared[units.Minutes] // all steps but building, which no estimate counts
	All           *units.Minutes          // all that was timed, building too
	PanelMass     Compared[units.Mass]
	Decay         []DecayCompared // octaves that the estimate or the outcome has
	ClothLeft     *float64        // per cent of the fabric bought
	ClothWaste    *float64        // per cent by which more fabric was used than the cut plan needs
}

// Compare sets the estimate of an option beside what came of it. Nothing is scaled: where the numbers of
// panels differ, only what is told of one panel, or of the room without panels, has a difference.
func Compare(e Estimate, o catalog.Outcome) Report {
	r := Report{OtherCount: e.Panels != o.Panels, WithoutTax: e.WithoutTax, PanelMass: compared(e.PanelMass, o.PanelMass, true)}
	same := !r.OtherCount
	cash, replacement := paid(o.Lines, e.Cash)
	r.OtherCurrency = cash != nil && e.Cash != nil && cash.Currency() != e.Cash.Currency()
	r.Cash = comparedMoney(e.Cash, cash, same)
	for _, l := range o.Lines {
		if l.ForNothing {
			c := comparedMoney(e.Replacement, replacement, same)
			r.Replacement = &c
			break
		}
	}
	r.times(e, o, same)
	for i := range bands.OctaveCount {
		b := bands.OctaveBand(i)
		d := DecayCompared{b, compared(at(e.Before, b), at(o.Before, b), true), compared(at(e.After, b), at(o.After, b), same)}
		if d.Before.Estimate != nil || d.Before.Actual != nil || d.After.Estimate != nil || d.After.Actual != nil {
			r.Decay = append(r.Decay, d)
		}
	}
	if o.FabricBought != nil && o.FabricUsed != nil && *o.FabricBought > 0 {
		left := 100 * float64(*o.FabricBought-*o.FabricUsed) / float64(*o.FabricBought)
		r.ClothLeft = &left
	}
	r.ClothWaste = waste(e, o)
	return r
}

// paid adds up what was paid, and that with the replacement values of what was had for nothing. The
// first is nil when no line was written down, the second also when one of these values is not known.
// Where no line tells a currency nothing was paid, in the currency of the estimate.
func paid(lines []catalog.PaidLine, estimate *money.Amount) (cash, replacement *money.Amount) {
	var in *money.Amount
	for _, l := range lines {
		for _, a := range []*money.Amount{l.Paid, l.Replacement} {
			if in == nil {
				in = a
			}
		}
	}
	if in == nil {
		in = estimate
	}
	if len(lines) == 0 || in == nil {
		return nil, nil
	}
	sum := money.Zero(in.Currency())
	again, known := sum, true
	for _, l := range lines {
		switch {
		case l.Paid != nil:
			sum, again = sum.Add(*l.Paid), again.Add(*l.Paid)
		case l.Replacement != nil:
			again = again.Add(*l.Replacement)
		default:
			known = false
		}
	}
	if !known {
		return &sum, nil
	}
	return &sum, &again
}

// times compares the minutes. The extra time is known when every step that the estimate counts was timed.
func (r *Report) times(e Estimate, o catalog.Outcome, same bool) {
	var extra, all units.Minutes
	known := len(e.Lines) > 0
	for _, step := range catalog.Steps {
		var estimate *units.Minutes
		for _, l := range e.Lines {
			if l.Name == string(step) {
				m := units.Minutes(l.Quantity)
				estimate = &m
			}
		}
		actual := timeOf(o, step)
		if actual == nil {
			known = known && estimate == nil
		} else {
			all += *actual
			if step != catalog.Building {
				extra += *actual
			}
		}
		if estimate != nil || actual != nil {
			r.Steps = append(r.Steps, StepCompared{step, compared(estimate, actual, same)})
		}
	}
	var foreseen, taken *units.Minutes
	if len(e.Lines) > 0 {
		sum := handling.Sum(e.Lines)
		foreseen = &sum
	}
	if known {
		taken = &extra
	}
	r.Extra = compared(foreseen, taken, same)
	if len(o.Minutes) > 0 {
		r.All = &all
	}
}

// timeOf is how long a step took, nil when it was not timed.
func timeOf(o catalog.Outcome, step catalog.Step) *units.Minutes {
	for _, m := range o.Minutes {
		if m.Step == step {
			return &m.Minutes
		}
	}
	return nil
}

// waste is by how many per cent more fabric was used than the cut plan needs, nil where that is not known.
func waste(e Estimate, o catalog.Outcome) *float64 {
	if e.Panels != o.Panels || e.Cloth == nil || *e.Cloth <= 0 || o.FabricUsed == nil {
		return nil
	}
	w := 100 * float64(*o.FabricUsed-*e.Cloth) / float64(*e.Cloth)
	return &w
}

func at(c bands.Curve, b bands.Band) *float64 {
	if v, ok := c.At(b); ok {
		return &v
	}
	return nil
}

func compared[T ~float64](estimate, actual *T, same bool) Compared[T] {
	c := Compared[T]{Estimate: estimate, Actual: actual}
	if same && estimate != nil && actual != nil {
		d := *actual - *estimate
		c.Difference, c.Percent = &d, perCent(float64(d), float64(*estimate))
	}
	return c
}

func comparedMoney(estimate, actual *money.Amount, same bool) Compared[money.Amount] {
	c := Compared[money.Amount]{Estimate: estimate, Actual: actual}
	if same && estimate != nil && actual != nil && estimate.Currency() == actual.Currency() {
		d := actual.Sub(*estimate)
		c.Difference, c.Percent = &d, perCent(float64(d.Micro()), float64(estimate.Micro()))
	}
	return c
}

func perCent(difference, estimate float64) *float64 {
	if estimate == 0 {
		return nil
	}
	p := 100 * difference / estimate
	return &p
}
