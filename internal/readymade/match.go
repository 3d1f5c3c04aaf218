package readymade

import (
	"math"

	"sabinbook/internal/costing"
	"sabinbook/internal/ranking"
	"sabinbook/internal/units"
)

// Match sets the absorption area of the built panels against that of one ready-made panel,
// both weighted by the purpose, with coefficients above 1 counted as 1.
type Match struct {
	Built, Low, High units.Area // of all built panels, with the bounds of the estimate
	Ready            units.Area // of one ready-made panel, as its source tells it
	// Count is the least number of ready-made panels that absorb at least Built; LowCount and
	// HighCount are the same for the bounds.
	Count, LowCount, HighCount int
}

// match finds out how many ready-made panels absorb as much, if that can be told.
func (a *Answer) match() {
	if a.Built.Unabsorbed != "" || len(a.rivalGaps()) > 0 {
		return
	}
	o, brief := a.Built.Option(), a.Question.Build.Brief
	face := brief.Design.Face() * units.Area(brief.PanelCount)
	m := Match{Built: o.Area}
	for i, weight := range brief.Purpose.Weights {
		m.Low += face * units.Area(weight*min(o.Octaves[i].Low, 1))
		m.High += face * units.Area(weight*min(o.Octaves[i].High, 1))
	}
	m.Ready, _ = a.readyArea(brief.Purpose)
	m.Count, m.LowCount, m.HighCount = m.least(m.Built), m.least(m.Low), m.least(m.High)
	a.Match = &m
}

// readyArea is the weighted absorption area of one ready-made panel, false when an octave that
// counts is not known.
func (a *Answer) readyArea(p ranking.Purpose) (units.Area, bool) {
	alpha := 0.0
	for i, weight := range p.Weights {
		x, known := a.Panel.Alpha.Octave(i)
		if weight > 0 && !known {
			return 0, false
		}
		if weight > 0 {
			alpha += weight * min(x, 1)
		}
	}
	return units.Rectangle(a.Panel.Width, a.Panel.Height) * units.Area(alpha), true
}

// rivalGaps names what is lacking to tell what ready-made panels absorb.
func (a *Answer) rivalGaps() []Gap {
	var list []Gap
	area, known := a.readyArea(a.Question.Build.Brief.Purpose)
	switch {
	case a.Panel.Alpha.Len() == 0:
		list = append(list, ReadyAlphaUnknown)
	case !known:
		list = append(list, ReadyBandsMissing)
	}
	switch {
	case a.Panel.Width == 0:
		list = append(list, ReadyFaceUnknown)
	case len(list) == 0 && (area == 0 || a.Built.Unabsorbed == "" && a.Built.Option().Area > area*costing.MaxAsked):
		list = append(list, ReadyAbsorbsTooLittle)
	}
	return list
}

// least returns the least number of ready-made panels that absorb an area, at least one. What
// exceeds a whole number by no more than 1e-9 is rounding of the formula.
//
// Source: costing.md section 2 (the tolerance of packs).
func (m Match) least(area units.Area) int {
	return int(min(max(1, math.Ceil(float64(area)/float64(m.Ready)-1e-9)), math.MaxInt32))
}

// countFor is Count for another number of the same built panels than the one asked for.
func (m Match) countFor(built, asked int) int {
	if built == asked {
		return m.Count
	}
	return m.least(m.Built * units.Area(built) / units.Area(asked))
}
