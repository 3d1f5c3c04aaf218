// Package hanging says what a panel weighs, how hard its wire and hooks are pulled, whether
// declared working loads cover that, and where a row of panels is drilled.
//
// The mass is the asker's own, from a scale, or a sum over the parts; a part of unknown mass
// is named and never counted as nothing, and then no load is given, only what the shape of
// the wire multiplies it by. Loads are worked out with the heavy end of the mass.
//
// A verdict is one of three: within the rating that was entered, above it, or not known. It
// compares two numbers and says nothing of the wall, of how the work is done, or of what the
// maker's number is worth. Overhead there is neither load nor verdict.
//
// Source of the method: hanging.md. Simplifications: loads are at rest; a wire runs from one
// ring over one hook in the middle to another ring, so that both legs are equal, and it does
// not stretch; of two hooks, of cleats and of clips one piece is taken to carry the whole
// panel (convention); friction and the stiffness of the frame are left out.
package hanging

import (
	"slices"

	"sabinbook/internal/catalog"
	"sabinbook/internal/units"
)

// ModelVersion names the computation; it changes whenever the answer to an equal question
// changes.
const ModelVersion = "1"

// System is how a panel hangs.
type System string

// The systems.
const (
	WireOneHook System = "wire_one_hook" // wire between two rings over one hook in the middle
	TwoHooks    System = "two_hooks"     // each ring on its own hook straight above it, by itself or on a vertical wire
	FrenchCleat System = "french_cleat"
	ZClips      System = "z_clips"
	Overhead    System = "overhead" // below a ceiling: mass and cautions only
)

var systems = []System{WireOneHook, TwoHooks, FrenchCleat, ZClips, Overhead}

// Wire is a wire between two rings over one hook. Either Sag or Length is given.
type Wire struct {
	Spacing units.Length  // of the rings
	Sag     *units.Length // of the line of the rings below the hook, wire taut
	Length  *units.Length // between the rings
}

func (w Wire) sag() units.Length {
	if w.Sag != nil {
		return *w.Sag
	}
	return Sag(*w.Length, w.Spacing)
}

func (w Wire) legs() Angle { return LegAngle(w.Spacing, w.sag()) }

// Lever is what a pull away from the wall follows from.
type Lever struct {
	Centre units.Length // distance of the centre of mass from the wall
	Height units.Length // of the hook or cleat above the lower bearing on the wall
}

// Site is what is known of the place. What is not known is warned of as well.
type Site struct {
	OverPeople  catalog.Answer // over a bed, a chair or a couch
	Earthquakes catalog.Answer // in an earthquake region
	Electrics   catalog.Answer // lamps, drivers, sockets or cables behind or beside the panel
	OutsideWall catalog.Answer // an outside, cellar or damp wall
}

// Question is what is asked. The zero values of LoadFactor and DesignFactor take the defaults.
type Question struct {
	Panel        Panel
	System       System
	Wire         *Wire
	Lever        *Lever
	Hardware     []Piece
	LoadFactor   float64 // on top of a working load
	DesignFactor float64 // by which a breaking strength is divided
	Row          *Row
	Site         Site
	Climate      *Climate
}

// The defaults of the factors. Source: hanging.md section 2 (common practice: 4 or more for picture
// hardware of which only a breaking strength is given); a maker's working load is taken as it is.
const (
	DefaultLoadFactor   = 1.0
	DefaultDesignFactor = 4.0
)

// Input is one named number that went into a formula.
type Input struct {
	Name  string
	Value float64
	Unit  string
}

// Figure is a number with the formula, in the names of its inputs, that it comes from.
type Figure struct {
	Name    string
	Formula string
	Inputs  []Input
	Value   float64
	Unit    string
	Source  string
}

// Answer is what is known about hanging a panel.
type Answer struct {
	LoadFactor, DesignFactor float64
	Mass                     Total
	// Wire holds the angle of the wire and what it multiplies the weight by: wire_angle,
	// tension_share, side_pull_share. Of several wires it is the flattest. Empty without a wire.
	Wire []Figure
	// Loads are in newtons: weight, wire_tension, ring_side_pull, hook_load or leg_load, pull_out. Empty
	// overhead and where the mass is not known.
	Loads    []Figure
	Checks   []Check
	Row      *RowAnswer
	Damp     *Damp
	Cautions []Caution
}

// where the formulas come from, for people.
const (
	legSource     = "statics of two equal legs, as in Giancoli, Physics, and University Physics (OpenStax) 5.3"
	weightSource  = "standard gravity (CGPM 1901), from memory"
	shareSource   = "convention: one piece of several may come to carry all"
	derivedSource = "derived: geometry of a taut wire with the hook in its middle"
	momentSource  = "moments about the lower bearing"
	factorSource  = "working load = breaking strength / design factor, as taught with ASME B30.9, seen in a secondary source; 4 for picture hardware is common practice"
	enteredSource = "as entered"
)

// For answers the question, which must be valid.
func For(q Question) Answer {
	a := Answer{LoadFactor: q.LoadFactor, DesignFactor: q.DesignFactor, Mass: q.Panel.mass()}
	if a.LoadFactor == 0 {
		a.LoadFactor = DefaultLoadFactor
	}
	if a.DesignFactor == 0 {
		a.DesignFactor = DefaultDesignFactor
	}
	flattest := q.flattest()
	if flattest != nil {
		a.Wire = flattest.figures()
	}
	if a.Mass.Known && q.System != Overhead {
		a.Loads = q.loads(a.Mass.High, flattest)
	}
	a.Checks = q.checks(a, flattest)
	if q.Row != nil {
		a.Row = q.rowAnswer()
	}
	if q.Climate != nil {
		d := q.Climate.answer()
		a.Damp = &d
	}
	a.Cautions = cautionsFor(q, a)
	return a
}

// flattest returns the wire of the question or of the row whose legs have the least angle, or nil.
func (q Question) flattest() *Wire {
	if q.System != WireOneHook {
		return nil
	}
	var wires []Wire
	if q.Wire != nil {
		wires = append(wires, *q.Wire)
	}
	if q.Row != nil {
		for _, p := range q.Row.Panels {
			wires = append(wires, p.wire())
		}
	}
	w := slices.MinFunc(wires, func(a, b Wire) int {
		switch d := a.legs() - b.legs(); {
		case d < 0:
			return -1
		case d > 0:
			return 1
		}
		return 0
	})
	return &w
}

// figures tells the shape of the wire: its sag when that was worked out, the angle, and
// what the weight is multiplied by.
func (w Wire) figures() []Figure {
	var list []Figure
	if w.Sag == nil {
		list = append(list, w.sagFigure())
	}
	angle := Input{"angle", w.legs().Degrees(), "deg"}
	return append(list,
		Figure{"wire_angle", "atan(2 × sag / spacing)", []Input{{"sag", float64(w.sag()), "mm"}, {"spacing", float64(w.Spacing), "mm"}}, angle.Value, "deg", legSource},
		Figure{"tension_share", "1 / (2 × sin(angle))", []Input{angle}, float64(Tension(1, w.legs())), "", legSource},
		Figure{"side_pull_share", "1 / (2 × tan(angle))", []Input{angle}, float64(SidePull(1, w.legs())), "", legSource})
}

func (w Wire) sagFigure() Figure {
	return Figure{"sag", "sqrt((length / 2)² − (spacing / 2)²)", []Input{{"length", float64(*w.Length), "mm"}, {"spacing", float64(w.Spacing), "mm"}}, float64(w.sag()), "mm", derivedSource}
}

// loads tells what pulls where when the panel has the mass, which is not known too low.
func (q Question) loads(heaviest units.Mass, wire *Wire) []Figure {
	w := Weight(heaviest)
	weight := Input{"weight", float64(w), "N"}
	list := []Figure{{"weight", "mass_high × gravity", []Input{{"mass_high", float64(heaviest), "kg"}, {"gravity", StandardGravity, "m/s2"}}, float64(w), "N", weightSource}}
	newtons := func(name, formula string, value units.Force, source string, inputs ...Input) {
		list = append(list, Figure{name, formula, inputs, float64(value), "N", source})
	}
	switch q.System {
	case WireOneHook:
		angle := Input{"angle", wire.legs().Degrees(), "deg"}
		newtons("wire_tension", "weight / (2 × sin(angle))", Tension(w, wire.legs()), legSource, weight, angle)
		newtons("ring_side_pull", "weight / (2 × tan(angle))", SidePull(w, wire.legs()), legSource, weight, angle)
		newtons("hook_load", "weight", w, legSource, weight)
	case TwoHooks:
		newtons("leg_load", "weight / 2", w/2, legSource, weight)
	}
	if q.Lever != nil {
		newtons("pull_out", "weight × centre / lever", PullOut(w, q.Lever.Centre, q.Lever.Height), momentSource, weight,
			Input{"centre", float64(q.Lever.Centre), "mm"}, Input{"lever", float64(q.Lever.Height), "mm"})
	}
	return list
}
