package absorber

import (
	"math"

	"sabinbook/internal/units"
)

// The resistance of a fabric grows with the face velocity u in m/s as R (1 + q u). These
// are the usual q and its range, s/m: engineering estimates; sintered metal sheets have
// 0.17 to 1.0 (Ver and Beranek 2006, Table 8.7, read second hand).
const (
	InertialShare     = 0.25
	InertialShareLow  = 0.0
	InertialShareHigh = 1.0
)

// FlowUnit is a unit in which air permeability is printed, a face velocity by nature. The
// test pressure must be known beside it: the figure alone is ambiguous by a factor 2.
type FlowUnit string

// The units of ISO 9237, ASTM D737 and of older standards.
const (
	MetresPerSecond             FlowUnit = "m_per_s"
	MillimetresPerSecond        FlowUnit = "mm_per_s"
	LitresPerSquareMetreSecond  FlowUnit = "l_per_m2_s"
	CubicCentimetresPerCm2      FlowUnit = "cm3_per_cm2_s"
	LitresPerSquareDmMinute     FlowUnit = "l_per_dm2_min"
	CubicMetresPerSqMetreHour   FlowUnit = "m3_per_m2_h"
	CubicFeetPerSqFootPerMinute FlowUnit = "cfm_per_ft2"
)

// flowUnits holds the units in m/s; all follow from their definition.
var flowUnits = map[FlowUnit]float64{
	MetresPerSecond:             1,
	MillimetresPerSecond:        1e-3,
	LitresPerSquareMetreSecond:  1e-3,
	CubicCentimetresPerCm2:      1e-2,
	LitresPerSquareDmMinute:     1.0 / 600,
	CubicMetresPerSqMetreHour:   1.0 / 3600,
	CubicFeetPerSqFootPerMinute: 0.00508, // one foot per minute
}

// FaceVelocity returns a permeability in m/s, and false for a unit that is not known.
func (u FlowUnit) FaceVelocity(permeability float64) (float64, bool) {
	factor, known := flowUnits[u]
	return permeability * factor, known
}

// Apparent returns the flow resistance p/u that a permeability test at the pressure p in
// Pa found, with u the face velocity in m/s, both above 0. It is an upper bound of the
// acoustic resistance: permeability is measured at 0.05 to 2 m/s, where inertia adds,
// while sound moves the air at about 0.5 mm/s (ISO 9053-1, second hand).
// Source: definition of flow resistance.
func Apparent(u, p float64) units.AirflowResistance { return units.AirflowResistance(p / u) }

// Linear returns the resistance at low velocity, R/(1 + q u), from the apparent one at the
// face velocity u in m/s, with q one of the InertialShare constants or better known.
func Linear(apparent units.AirflowResistance, u, q float64) units.AirflowResistance {
	return apparent / units.AirflowResistance(1+q*u)
}

// FromPermeability returns the flow resistance at low velocity of a fabric whose
// permeability test found the face velocity u in m/s at the pressure p in Pa, both above 0:
// Linear of Apparent with the usual InertialShare.
func FromPermeability(u, p float64) units.AirflowResistance {
	return Linear(Apparent(u, p), u, InertialShare)
}

// FromTwoPressures returns the flow resistance at low velocity from two permeability tests
// of one fabric, by dp = R u + B u² through both points:
//
//	B = (p1/u1 - p2/u2)/(u1 - u2),  R = p1/u1 - B u1
//
// A negative result is scatter and becomes 0. It is false when the velocities are equal or
// not all figures are above 0. Source: algebra.
func FromTwoPressures(u1, p1, u2, p2 float64) (units.AirflowResistance, bool) {
	if !(u1 > 0 && u2 > 0 && p1 > 0 && p2 > 0) || u1 == u2 {
		return 0, false
	}
	b := (p1/u1 - p2/u2) / (u1 - u2)
	return units.AirflowResistance(max(p1/u1-b*u1, 0)), true
}

// FromOpenArea returns the least flow resistance at low velocity of a fabric of known open
// area φ: its apparent resistance at the face velocity u in m/s, less the inertia of the
// air that is squeezed through the openings, and at least 0.
//
//	R = R_apparent - B u,  B = ρ0 (1 - φ²)/(2 (0.76 φ)²)
//
// Source: orifice with a discharge coefficient of 0.76, Ingard's type, from memory.
func FromOpenArea(apparent units.AirflowResistance, u float64, open units.Fraction) units.AirflowResistance {
	return max(apparent-units.AirflowResistance(openingInertia(float64(open))*u), 0)
}

// openingInertia returns B of FromOpenArea in Pa·s²/m².
func openingInertia(phi float64) float64 {
	return StandardAir().Density() * (1 - phi*phi) / (2 * math.Pow(0.76*phi, 2))
}

// Threads are the parallel threads of a weave.
type Threads struct {
	PerMetre float64
	Diameter units.Diameter
}

// pore returns the width between two threads in metres, and the share that is open.
func (t Threads) pore() (width, open float64) {
	return 1/t.PerMetre - t.Diameter.Metres(), 1 - t.PerMetre*t.Diameter.Metres()
}

// Weave is what the geometry of a weave gives.
type Weave struct {
	Resistance units.AirflowResistance
	OpenArea   units.Fraction
	Pore       units.Diameter // hydraulic diameter of the openings
}

// FromWeave returns the openness of a weave of round, dense threads, and false when the
// threads leave nothing open or a figure is not above 0:
//
//	w = 1/n - d,  φ = (1 - n1 d1)(1 - n2 d2),  D = 2 w1 w2/(w1 + w2)
//	R = 32 η d/(φ D²),  d the mean diameter
//
// An order of magnitude: against published wire cloth 0.77 to 1.4 of the truth in four rows,
// 0.36 in the coarsest (Ver and Beranek 2006, Table 8.5, read second hand); yarns of staple
// fibre are porous and hairy. Source: flow through narrow channels (Hagen and Poiseuille).
func FromWeave(warp, weft Threads) (Weave, bool) {
	for _, t := range []Threads{warp, weft} {
		if _, open := t.pore(); !(t.PerMetre > 0 && t.Diameter > 0 && open > 0) {
			return Weave{}, false
		}
	}
	w1, open1 := warp.pore()
	w2, open2 := weft.pore()
	phi, pore := open1*open2, 2*w1*w2/(w1+w2)
	depth := (warp.Diameter + weft.Diameter).Metres() / 2
	return Weave{
		Resistance: units.AirflowResistance(32 * StandardAir().Viscosity() * depth / (phi * pore * pore)),
		OpenArea:   units.Fraction(phi),
		Pore:       units.Diameter(pore * 1e6),
	}, true
}

// FlowResistance returns the resistance of the sheet to slow steady flow,
//
//	R = 32 η h/(φ d²) + 6π η/(φ d)
//
// with h thickness, d hole diameter, φ open area. Its acoustic impedance is larger and
// mostly mass. Source: Hagen and Poiseuille, with the end loss of Sampson 1891,
// Phil. Trans. A 182, 449 (second hand).
func (p Perforated) FlowResistance() units.AirflowResistance {
	eta, d, phi := StandardAir().Viscosity(), p.Hole.Metres(), float64(p.OpenArea)
	return units.AirflowResistance(eta / (phi * d) * (32*p.Thickness.Metres()/d + 6*math.Pi))
}
