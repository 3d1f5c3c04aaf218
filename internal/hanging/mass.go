package hanging

import (
	"fmt"
	"slices"

	"sabinbook/internal/units"
)

// Kind is what a part of a panel is.
type Kind string

// The kinds of parts. A panel has all but the last, unless it is said to be without one.
const (
	Frame     Kind = "frame"
	Fill      Kind = "fill"
	Fabric    Kind = "fabric"
	Back      Kind = "back"
	Hardware  Kind = "hardware"
	Adhesive  Kind = "adhesive"
	OtherKind Kind = "other"
)

// kinds lists the kinds in the order of answers.
var kinds = []Kind{Frame, Fill, Fabric, Back, Hardware, Adhesive, OtherKind}

// expected are the kinds that count as unknown until they are stated or said to be absent.
var expected = kinds[:len(kinds)-1]

// Range is a figure as it was entered, with the ends of its range when these were too.
type Range struct {
	Value     float64
	Low, High *float64
}

func (r Range) span() span {
	s := span{r.Value, r.Value, r.Value, r.Low != nil || r.High != nil}
	if r.Low != nil {
		s.low = *r.Low
	}
	if r.High != nil {
		s.high = *r.High
	}
	return s
}

// Part is a part of the panel, or several equal pieces. Its mass is given, or worked out from
// a density (given, or that of a wood) and three sides, or from a mass per area and two
// sides. A part with none of these has an unknown mass.
type Part struct {
	Kind                     Kind
	Name                     string // free, may be empty
	Count                    int    // pieces; 0 for 1
	Mass                     *Range // kg each
	Wood                     string // word of a wood
	Moisture                 *float64
	Density                  *Range // kg/m³
	SurfaceMass              *Range // kg/m²
	Length, Width, Thickness *units.Length
}

// Panel is what hangs. Either its mass is known from a scale, or it is worked out from
// the parts.
type Panel struct {
	Mass    *Range // kg
	Parts   []Part
	Without []Kind // kinds that the panel does not have
}

// MassLine is the mass of one part.
type MassLine struct {
	Kind           Kind
	Name           string
	Known          bool
	Mass           units.Mass // and the rest only when Known
	Low, High      units.Mass
	RangeStated    bool // else Low and High are Mass
	Formula        string
	Inputs         []Input
	Source         string
	NotStatedAtAll bool // the question does not mention the kind
}

// Total is the mass of a panel.
type Total struct {
	Lines []MassLine
	// Known is false when some line is not known; then Mass, Low and High are those of the known
	// lines alone and the panel weighs more.
	Known           bool
	Mass, Low, High units.Mass
	Weighed         bool // taken from a scale
}

// mass works out the mass of the panel. The ends of the range are sums of ends, as if all parts
// were light or heavy together: wider than chance makes it, and never too narrow for independent parts.
func (p Panel) mass() Total {
	if p.Mass != nil {
		s := p.Mass.span()
		return Total{Known: true, Mass: units.Mass(s.value), Low: units.Mass(s.low), High: units.Mass(s.high), Weighed: true}
	}
	t := Total{Known: true}
	for _, k := range kinds {
		stated := false
		for _, part := range p.Parts {
			if part.Kind == k {
				stated = true
				t.Lines = append(t.Lines, part.line())
			}
		}
		if !stated && slices.Contains(expected, k) && !slices.Contains(p.Without, k) {
			t.Lines = append(t.Lines, MassLine{Kind: k, NotStatedAtAll: true})
		}
	}
	for _, l := range t.Lines {
		t.Known = t.Known && l.Known
		t.Mass += l.Mass
		t.Low += l.Low
		t.High += l.High
	}
	return t
}

// line works out the mass of the part. The part must be valid.
func (p Part) line() MassLine {
	l := MassLine{Kind: p.Kind, Name: p.Name, Known: true}
	count := max(p.Count, 1)
	if p.Count != 1 && p.Count != 0 {
		l.Formula, l.Inputs = "count × ", []Input{{"count", float64(count), ""}}
	}
	factor := float64(count)
	side := func(name string, x *units.Length) {
		l.Formula += name + " × "
		l.Inputs = append(l.Inputs, Input{name, x.Metres(), "m"})
		factor *= x.Metres()
	}
	var per span
	var name, unit string
	switch {
	case p.Mass != nil:
		per, name, unit, l.Source = p.Mass.span(), "mass_each", "kg", "as entered"
	case p.SurfaceMass != nil:
		per, name, unit, l.Source = p.SurfaceMass.span(), "surface_mass", "kg/m2", "as entered"
		side("length", p.Length)
		side("width", p.Width)
	case p.Density != nil || p.Wood != "":
		name, unit = "density", "kg/m3"
		if p.Density != nil {
			per, l.Source = p.Density.span(), "as entered"
		} else {
			wood := woodNamed(p.Wood)
			per, l.Source = wood.density(p.Moisture)
			l.Source = fmt.Sprintf("%s: %s", wood.Name, l.Source)
		}
		side("length", p.Length)
		side("width", p.Width)
		side("thickness", p.Thickness)
	default:
		return MassLine{Kind: p.Kind, Name: p.Name}
	}
	l.Formula += name
	l.Inputs = append(l.Inputs, Input{name, per.value, unit})
	if per.stated {
		l.Inputs = append(l.Inputs, Input{name + "_low", per.low, unit}, Input{name + "_high", per.high, unit})
	}
	l.RangeStated = per.stated
	l.Mass, l.Low, l.High = units.Mass(factor*per.value), units.Mass(factor*per.low), units.Mass(factor*per.high)
	return l
}
