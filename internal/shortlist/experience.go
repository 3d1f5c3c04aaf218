package shortlist

import (
	"slices"

	"sabinbook/internal/catalog"
	"sabinbook/internal/handling"
	"sabinbook/internal/units"
)

// Case is one outcome with the estimate of the option that was built.
type Case struct {
	Estimate Estimate
	Outcome  catalog.Outcome
}

// Learned is what outcomes tell of one quantity: their median, least and most. All outcomes count
// alike, however many panels were built.
type Learned struct {
	Name                string // of a step, or of a member of a question
	Unit                string
	Median, Least, Most float64
	Cases               int // outcomes that tell the quantity
}

// Experience is what a group has learned from its own outcomes.
type Experience struct {
	Cases    int
	PerPanel []Learned // minutes of each step for one panel, in the order of catalog.Steps
	Terms    []Learned // by the names of the terms of handling, and fabric_waste_percent
	// Handling has the medians that a question can be asked with. The time of sealing is not among them:
	// in a question it also asks for sealed edges.
	Handling handling.Terms
	Waste    *float64 // the median waste of fabric in per cent; nil where it is none that a question can have
}

// work lists the inputs of the lines of the burden that, with the number of panels, make the quantity of
// work to which a time per metre or square metre belongs.
var work = map[catalog.Step][]string{
	catalog.CuttingFill:  {"layers", "cut_length"},
	catalog.FullBackWrap: {"back_area"},
	catalog.EdgeSealing:  {"edge_length"},
}

// The names of the terms, which are those of the members of a question.
const (
	overheadTerm = "overhead_min"
	cuttingTerm  = "cutting_min_per_m"
	wrapTerm     = "wrap_min_per_m2"
	SealingTerm  = "sealing_min_per_m"
	wasteTerm    = "fabric_waste_percent"
)

// mostWaste is the largest waste of fabric that a question takes, in per cent.
const mostWaste = 100

// Learn finds the medians of all outcomes. A quantity that no outcome tells is absent. Metres and square
// metres are those of the kept option, for the number of panels that was built; sessions and persons
// are those of the outcome, never those of the estimate.
func Learn(cases []Case) Experience {
	out := Experience{Cases: len(cases)}
	for _, step := range catalog.Steps {
		out.PerPanel = learned(out.PerPanel, string(step), "min/panel", cases, func(c Case) *float64 {
			return quotient(timeOf(c.Outcome, step), float64(c.Outcome.Panels))
		})
	}
	out.Terms = learned(out.Terms, overheadTerm, "min", cases, func(c Case) *float64 {
		if c.Outcome.Sessions == nil || c.Outcome.Persons == nil {
			return nil
		}
		return quotient(timeOf(c.Outcome, catalog.SessionOverhead), float64(*c.Outcome.Sessions**c.Outcome.Persons))
	})
	for _, term := range []struct {
		name, unit string
		step       catalog.Step
	}{{cuttingTerm, "min/m", catalog.CuttingFill}, {wrapTerm, "min/m2", catalog.FullBackWrap}, {SealingTerm, "min/m", catalog.EdgeSealing}} {
		out.Terms = learned(out.Terms, term.name, term.unit, cases, func(c Case) *float64 {
			return quotient(timeOf(c.Outcome, term.step), workOf(c, term.step))
		})
	}
	out.Terms = learned(out.Terms, wasteTerm, "%", cases, func(c Case) *float64 { return waste(c.Estimate, c.Outcome) })
	for _, l := range out.Terms {
		m := units.Minutes(l.Median)
		switch l.Name {
		case overheadTerm:
			out.Handling.Overhead = usable(handling.Terms{Overhead: &m}, &m)
		case cuttingTerm:
			out.Handling.CutPerMetre = usable(handling.Terms{CutPerMetre: &m}, &m)
		case wrapTerm:
			out.Handling.WrapPerArea = usable(handling.Terms{WrapPerArea: &m}, &m)
		case wasteTerm:
			if l.Median >= 0 && l.Median <= mostWaste {
				out.Waste = &l.Median
			}
		}
	}
	return out
}

// usable returns a term with which a question can be asked, else nil.
func usable(alone handling.Terms, m *units.Minutes) *units.Minutes {
	if alone.Validate(1) != nil {
		return nil
	}
	return m
}

// workOf is the work of a step on all panels that were built, in metres or square metres, 0 where it is
// not known.
func workOf(c Case, step catalog.Step) float64 {
	for _, l := range c.Estimate.Lines {
		if l.Name != string(step) {
			continue
		}
		product := float64(c.Outcome.Panels)
		for _, name := range work[step] {
			i := slices.IndexFunc(l.Inputs, func(in handling.Input) bool { return in.Name == name })
			if i < 0 {
				return 0
			}
			product *= l.Inputs[i].Value
		}
		return product
	}
	return 0
}

// quotient is a time for one of so many, nil where either is not known.
func quotient(m *units.Minutes, by float64) *float64 {
	if m == nil || by <= 0 {
		return nil
	}
	q := float64(*m) / by
	return &q
}

// learned appends what the cases tell of a quantity, if any does.
func learned(list []Learned, name, unit string, cases []Case, of func(Case) *float64) []Learned {
	var all []float64
	for _, c := range cases {
		if x := of(c); x != nil {
			all = append(all, *x)
		}
	}
	if len(all) == 0 {
		return list
	}
	slices.Sort(all)
	n := len(all)
	return append(list, Learned{Name: name, Unit: unit, Median: (all[(n-1)/2] + all[n/2]) / 2, Least: all[0], Most: all[n-1], Cases: n})
}
