package catalog

import (
	"fmt"
	"slices"
	"time"

	"sabinbook/internal/bands"
	"sabinbook/internal/money"
	"sabinbook/internal/units"
)

// Step is a part of the work on panels. All but Building are the lines of the handling burden.
type Step string

// The steps.
const (
	SessionOverhead Step = "session_overhead"
	CuttingFill     Step = "cutting"
	FullBackWrap    Step = "full_back_wrap"
	EdgeSealing     Step = "edge_sealing"
	Building        Step = "building" // all the rest, which no estimate counts: frames, stretching the fabric, hanging
)

// Steps lists the steps in the order of the work.
var Steps = []Step{SessionOverhead, CuttingFill, FullBackWrap, EdgeSealing, Building}

// Needs lists what a paid line may be for: fill, fabric, frame, or the role of a part.
func Needs() []string {
	return append([]string{"fill", "fabric", "frame"}, words(Roles())...)
}

// PaidLine is one thing that was paid, or had for nothing.
type PaidLine struct {
	What        string
	Need        string        // one of Needs; empty: not told
	Paid        *money.Amount // nil when it was had for nothing
	ForNothing  bool
	Replacement *money.Amount // what a thing had for nothing would have cost; nil: not known
	Note        string
}

// StepTime is the time that one step took.
type StepTime struct {
	Step    Step
	Minutes units.Minutes // of all persons together, for all panels
}

// Outcome is what became of a shortlist: what was built, paid, worked and measured. Its evidence is
// always that of the user. Nothing in it is a source of the catalog.
type Outcome struct {
	Key          string // of the option that was built
	Panels       int
	Built        Date
	Lines        []PaidLine // all of them, or none
	Minutes      []StepTime // in the order of Steps; a step that is not here was not timed
	Persons      *int       // at work at once; nil: not told
	Sessions     *int       // in which the fill was handled; nil: not told
	PanelMass    *units.Mass
	LeftoverMass *units.Mass
	FabricBought *units.Length // off the roll; nil: not told
	FabricUsed   *units.Length // of that, what is not left over
	Before       bands.Curve   // decay times by 60 dB in seconds per octave, of the room without the panels
	After        bands.Curve   // with them
	Note         string
	Recorded     time.Time
	RecordedBy   string
}

// The limits of an outcome. Conventions: wide enough for the largest order that can be asked about,
// narrow enough to catch a figure in a wrong unit.
const (
	MostBuilt     = 500
	MostPaidLines = 200
	LongestLine   = 300
	mostMinutes   = 500_000
	longestCloth  = units.Length(10_000_000)
)

var decayLimit = limit{0.05, 30, "s", "give seconds by 60 dB, e.g. 0.8; leave an octave out that was not measured"}

// Validate names every fault of the outcome but for a key that the shortlist does not have. today is
// the last day on which it can have been built.
func (o Outcome) Validate(today Date) error {
	v := &faults{}
	v.text("/key", o.Key, 1, 400)
	v.Within("/panels_count", float64(o.Panels), 1, MostBuilt, "panels", "give the number of panels that were built")
	v.date("/built_date", o.Built)
	if o.Built > today {
		v.add("/built_date", "in_the_future", fmt.Sprintf("is %s, after today (%s)", o.Built, today), "give the day on which the panels were finished")
	}
	v.paid(o.Lines)
	for i, m := range o.Minutes {
		at := fmt.Sprintf("/minutes/%d", i)
		v.word(at+"/step", string(m.Step), words(Steps))
		v.Within(at+"/time_min", float64(m.Minutes), 0, mostMinutes, "min", "give the minutes of all persons together for all panels, or leave the step out")
		if slices.ContainsFunc(o.Minutes[:i], func(before StepTime) bool { return before.Step == m.Step }) {
			v.add(at+"/step", "repeated", "is named twice", "add the minutes up")
		}
	}
	if o.Persons != nil {
		v.Within("/persons_count", float64(*o.Persons), 1, 20, "", "give the number of people working at once, or leave it out")
	}
	if o.Sessions != nil {
		v.Within("/sessions_count", float64(*o.Sessions), 1, MostBuilt, "", "give the number of sessions in which the fill was handled, or leave it out")
	}
	if o.PanelMass != nil {
		v.limited("/panel_mass_kg", float64(*o.PanelMass), limit{0.05, 500, "kg", "give what one panel weighs on a scale in kilograms, e.g. 6.2"})
	}
	if o.LeftoverMass != nil {
		v.Within("/leftover_mass_kg", float64(*o.LeftoverMass), 0, 10_000, "kg", "give what is left of the fill in kilograms, or leave it out")
	}
	v.cloth(o)
	v.decay("/decay_times_before", o.Before)
	v.decay("/decay_times_after", o.After)
	v.note(o.Note)
	return v.Err()
}

// paid checks the lines: each is paid or had for nothing, and all amounts are of one currency.
func (v *faults) paid(lines []PaidLine) {
	if len(lines) > MostPaidLines {
		v.add("/lines", "out_of_range", fmt.Sprintf("must list at most %d, got %d", MostPaidLines, len(lines)), "add small things up")
	}
	var first *money.Amount
	amount := func(at string, a *money.Amount) {
		switch {
		case a == nil:
			return
		case !a.Currency().Valid():
			v.add(at+"/currency", "unknown_currency", "is not a current ISO 4217 code: "+quote(string(a.Currency())), "write three capitals, e.g. EUR")
			return
		case a.Sign() < 0:
			v.add(at+"/amount", "out_of_range", "must not be negative", "give what was paid; leave out what was given back")
		case first != nil && first.Currency() != a.Currency():
			v.add(at+"/currency", "disagrees", fmt.Sprintf("is %s, an earlier line is in %s", a.Currency(), first.Currency()), "give all lines in one currency, as the bank has converted them")
		}
		if first == nil {
			first = a
		}
	}
	for i, l := range lines {
		at := fmt.Sprintf("/lines/%d", i)
		v.text(at+"/what", l.What, 1, LongestLine)
		if l.Need != "" {
			v.word(at+"/need", l.Need, Needs())
		}
		switch {
		case l.Paid == nil && !l.ForNothing:
			v.add(at+"/paid", "required", "is missing", "give what was paid, or say had_for_nothing: true")
		case l.Paid != nil && l.ForNothing:
			v.add(at+"/had_for_nothing", "disagrees", "there is an amount that was paid", "leave one of the two out")
		}
		if l.Replacement != nil && !l.ForNothing {
			v.add(at+"/replacement_value", "not_applicable", "is for things that were had for nothing", "leave it out, or say had_for_nothing: true and leave paid out")
		}
		amount(at+"/paid", l.Paid)
		amount(at+"/replacement_value", l.Replacement)
		v.text(at+"/note", l.Note, 0, LongestOptionNote)
	}
}

// decay checks measured decay times.
func (v *faults) decay(at string, c bands.Curve) {
	for i := range bands.OctaveCount {
		if t, ok := c.At(bands.OctaveBand(i)); ok {
			v.limited(fmt.Sprintf("%s/time_%d_hz_s", at, bands.OctaveBand(i).Nominal()), t, decayLimit)
		}
	}
}

// cloth checks the two lengths of fabric.
func (v *faults) cloth(o Outcome) {
	length := func(at string, l *units.Length) {
		if l != nil {
			v.Within(at, float64(*l), 0, float64(longestCloth), "mm", "give the length off the roll in millimetres, or leave it out")
		}
	}
	length("/fabric_bought_mm", o.FabricBought)
	length("/fabric_used_mm", o.FabricUsed)
	if b, u := o.FabricBought, o.FabricUsed; b != nil && u != nil && *u > *b {
		v.add("/fabric_used_mm", "bad_range", fmt.Sprintf("is %g, more than the %g that were bought", float64(*u), float64(*b)), "count what was there before as bought, or correct one of the two")
	}
}
