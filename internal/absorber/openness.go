package absorber

import (
	"math"

	"sabinbook/internal/units"
)

// Openness is the specific airflow resistance of a sheet with its bounds, and how it was
// found.
type Openness struct {
	Value, Low, High units.AirflowResistance // Low <= Value <= High
	Method           OpennessMethod
	Velocity         float64   // face velocity in m/s at which it was found, the least of several; 0 where there is none
	Warnings         []Warning // Layer is -1
}

// OpennessMethod says how an openness was found.
type OpennessMethod string

// The methods, in the order of trust: measured, from air permeability, from geometry
// (absorber model ground section 10). The home test stands between the first two.
const (
	OpennessStated           OpennessMethod = "stated"
	OpennessFromPiston       OpennessMethod = "piston_test"
	OpennessFromTwoPressures OpennessMethod = "two_pressures"
	OpennessFromOpenArea     OpennessMethod = "open_area"
	OpennessFromPermeability OpennessMethod = "air_permeability"
	OpennessFromWeave        OpennessMethod = "weave"
)

// Codes of warnings on an openness.
const (
	// UnusualTest: face velocity in m/s or pressure in Pa of a permeability test, with the
	// usual range.
	UnusualTest WarningCode = "unusual_test"
	// NegativeIntercept: the resistance in Pa·s/m that two pressures gave and that became 0.
	NegativeIntercept WarningCode = "negative_intercept"
	// ResistanceFalls: the resistance in Pa·s/m at the highest velocity, High at the lowest.
	// It can only rise: the figures scatter, the cloth stretches open, or friction of the
	// rig was not taken off.
	ResistanceFalls WarningCode = "resistance_falls_with_velocity"
	// WeaveEstimate: the factor by which the resistance may be wrong both ways.
	WeaveEstimate WarningCode = "weave_estimate"
	// CoarseWeave: hydraulic diameter of the pores in µm, High the largest for which the
	// geometry was found fair. The truth may lie above the range.
	CoarseWeave WarningCode = "coarse_weave"
)

// The resistance of a fabric grows with the face velocity u in m/s as R (1 + q u). These
// are the usual q and its range, s/m: engineering estimates; sintered metal sheets have
// 0.17 to 1.0 (Ver and Beranek 2006, Table 8.7, read second hand).
const (
	inertialShare     = 0.25
	inertialShareHigh = 1.0
)

// readingShare is how far one flow resistance may be wrong that one test found, both ways
// (convention: 5 % for the test, the rounding of the print and the piece of cloth).
const readingShare = 0.05

// weaveSpread is the factor by which the geometry of a weave may be wrong both ways
// (absorber model ground section 10, the service's rule).
const weaveSpread = 2

// coarsePore is the hydraulic diameter of the pores above which the geometry of a weave
// runs low: of the five published wire cloths the four with 68 to 280 µm lie within the
// factor 2, the fifth with 503 µm does not. Where between the two it fails is not known; the
// limit is the safe end, rounded (convention).
const coarsePore units.Diameter = 300

// Usual permeability tests: from dense to barely any resistance, and from below the 20 Pa
// of car makers to beyond all standards (convention).
const (
	minTestVelocity, maxTestVelocity = 0.01, 5.0    // m/s
	minTestPressure, maxTestPressure = 10.0, 2500.0 // Pa
)

// unusual warns of a permeability test that is far from any usual one.
func unusual(u, p float64) []Warning {
	var all []Warning
	warn := func(v, low, high float64) {
		if v < low || v > high {
			all = append(all, Warning{Code: UnusualTest, Layer: -1, Value: v, Low: low, High: high})
		}
	}
	warn(u, minTestVelocity, maxTestVelocity)
	warn(p, minTestPressure, maxTestPressure)
	return all
}

// StatedOpenness returns a flow resistance that was stated, with the bounds that were
// stated beside it. A bound of 0 was not stated and is the value; a bound on the wrong side
// of the value is moved to it.
func StatedOpenness(value, low, high units.AirflowResistance) Openness {
	if low == 0 {
		low = value
	}
	return Openness{Value: value, Low: min(low, value), High: max(high, value), Method: OpennessStated}
}

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

// FlowUnits lists the units.
func FlowUnits() []FlowUnit {
	return []FlowUnit{MetresPerSecond, MillimetresPerSecond, LitresPerSquareMetreSecond, CubicCentimetresPerCm2,
		LitresPerSquareDmMinute, CubicMetresPerSqMetreHour, CubicFeetPerSqFootPerMinute}
}

// FaceVelocity returns a permeability in m/s, and false for a unit that is not known.
func (u FlowUnit) FaceVelocity(permeability float64) (float64, bool) {
	factor, known := flowUnits[u]
	return permeability * factor, known
}

// apparent returns the flow resistance p/u that a permeability test at the pressure p in
// Pa found, with u the face velocity in m/s, both above 0. It is an upper bound of the
// acoustic resistance: permeability is measured at 0.05 to 2 m/s, where inertia adds,
// while sound moves the air at about 0.5 mm/s (ISO 9053-1, second hand).
// Source: definition of flow resistance.
func apparent(u, p float64) units.AirflowResistance { return units.AirflowResistance(p / u) }

// linear returns the resistance at low velocity, R/(1 + q u), from the apparent one at the
// face velocity u in m/s, with q one of the inertial shares or better known.
func linear(apparent units.AirflowResistance, u, q float64) units.AirflowResistance {
	return apparent / units.AirflowResistance(1+q*u)
}

// FromPermeability returns the flow resistance at low velocity of a fabric whose
// permeability test found the face velocity u in m/s at the pressure p in Pa, both above 0:
// the value of OpennessByPermeability.
func FromPermeability(u, p float64) units.AirflowResistance {
	return linear(apparent(u, p), u, inertialShare)
}

// OpennessByPermeability returns the openness of a fabric whose permeability test found
// the face velocity u in m/s at the pressure p in Pa, both above 0:
//
//	R = R_apparent/(1 + q u),  q = 0.25 s/m, 1 for Low, 0 for High
//
// The range is that of the inertia alone; scatter between tests is not in it.
func OpennessByPermeability(u, p float64) Openness {
	r := apparent(u, p)
	return Openness{
		Value:    FromPermeability(u, p),
		Low:      linear(r, u, inertialShareHigh),
		High:     r,
		Method:   OpennessFromPermeability,
		Velocity: u,
		Warnings: unusual(u, p),
	}
}

// OpennessByTwoPressures returns the openness of a fabric from two permeability tests, by
// dp = R u + B u² through both points:
//
//	B = (p1/u1 - p2/u2)/(u1 - u2),  R = p1/u1 - B u1
//
// A negative R is scatter and becomes 0; a negative B is scatter too, and R becomes the
// smaller apparent resistance, which it cannot exceed. Two points show no scatter, so the
// range is what readingShare of each apparent resistance does to R, the two being
// independent:
//
//	ΔR = 0.05 sqrt((R1 u2)² + (R2 u1)²)/|u2 - u1|
//
// cut at 0 and at the smaller apparent resistance. It is false when not all figures are
// above 0 or the pressure does not rise with the velocity. Source: algebra; the 5 % are
// convention.
func OpennessByTwoPressures(u1, p1, u2, p2 float64) (Openness, bool) {
	if !(u1 > 0 && u2 > 0 && p1 > 0 && p2 > 0) || !((p2-p1)*(u2-u1) > 0) {
		return Openness{}, false
	}
	if u1 > u2 {
		u1, p1, u2, p2 = u2, p2, u1, p1
	}
	r1, r2 := p1/u1, p2/u2
	smaller := min(r1, r2)
	r := r1 - (r1-r2)/(u1-u2)*u1
	o := Openness{
		Method:   OpennessFromTwoPressures,
		Velocity: u1,
		Warnings: append(unusual(u1, p1), unusual(u2, p2)...),
	}
	if r < 0 {
		o.Warnings = append(o.Warnings, Warning{Code: NegativeIntercept, Layer: -1, Value: r})
	}
	if r2 < (1-readingShare)*r1 {
		o.Warnings = append(o.Warnings, Warning{Code: ResistanceFalls, Layer: -1, Value: r2, High: r1})
	}
	r = min(max(r, 0), smaller)
	wrong := readingShare * math.Hypot(r1*u2, r2*u1) / (u2 - u1)
	o.Value = units.AirflowResistance(r)
	o.Low = units.AirflowResistance(max(r-wrong, 0))
	o.High = units.AirflowResistance(min(r+wrong, smaller))
	return o, true
}

// OpennessByOpenArea returns the openness of a fabric of known open area φ whose
// permeability test found the face velocity u in m/s at the pressure p in Pa, both above 0.
// Low takes off all the inertia of air that is squeezed through sharp openings, at most all
// there is; High is the apparent resistance:
//
//	Low = R_apparent - B u,  B = ρ0 (1 - φ²)/(2 (0.76 φ)²)
//
// Value is that of OpennessByPermeability unless Low is above it: the open area bounds the
// resistance and does not find it, because flow through fine pores is too slow for a jet
// and loses less than the orifice does. For the same reason Low can lie below that of
// OpennessByPermeability, whose largest q is an estimate from other sheets. An open area
// that is not above 0 and up to 1 is taken as not known.
// Source: orifice with a discharge coefficient of 0.76, Ingard's type, from memory; the
// choice of Value is convention.
func OpennessByOpenArea(u, p float64, open units.Fraction) Openness {
	o := OpennessByPermeability(u, p)
	if !(open > 0 && open <= 1) {
		return o
	}
	o.Method = OpennessFromOpenArea
	o.Low = max(o.High-units.AirflowResistance(openingInertia(float64(open))*u), 0)
	o.Value = max(o.Value, o.Low)
	return o
}

// openingInertia returns B of OpennessByOpenArea in Pa·s²/m².
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

// weave is what the geometry of a weave gives.
type weave struct {
	resistance units.AirflowResistance
	openArea   units.Fraction
	pore       units.Diameter // hydraulic diameter of the openings
}

// weaveOf returns the geometry of a weave of round, dense threads, and false when the
// threads leave nothing open or a figure is not above 0:
//
//	w = 1/n - d,  φ = (1 - n1 d1)(1 - n2 d2),  D = 2 w1 w2/(w1 + w2)
//	R = 32 η d/(φ D²),  d the mean diameter
//
// An order of magnitude: against published wire cloth 0.77 to 1.4 of the truth in four rows,
// 0.36 in the coarsest (Ver and Beranek 2006, Table 8.5, read second hand); yarns of staple
// fibre are porous and hairy. Source: flow through narrow channels (Hagen and Poiseuille).
func weaveOf(warp, weft Threads) (weave, bool) {
	for _, t := range []Threads{warp, weft} {
		if _, open := t.pore(); !(t.PerMetre > 0 && t.Diameter > 0 && open > 0) {
			return weave{}, false
		}
	}
	w1, open1 := warp.pore()
	w2, open2 := weft.pore()
	phi, pore := open1*open2, 2*w1*w2/(w1+w2)
	depth := (warp.Diameter + weft.Diameter).Metres() / 2
	return weave{
		resistance: units.AirflowResistance(32 * StandardAir().Viscosity() * depth / (phi * pore * pore)),
		openArea:   units.Fraction(phi),
		pore:       units.Diameter(pore * 1e6),
	}, true
}

// OpennessByWeave returns the openness of a weave of round, dense threads from their number
// and diameter, half to double of what the geometry gives, and false when the threads leave
// nothing open or a figure is not above 0. The range does not hold for coarse weaves, of
// which a warning tells.
func OpennessByWeave(warp, weft Threads) (Openness, bool) {
	w, ok := weaveOf(warp, weft)
	if !ok {
		return Openness{}, false
	}
	o := Openness{
		Value:    w.resistance,
		Low:      w.resistance / weaveSpread,
		High:     w.resistance * weaveSpread,
		Method:   OpennessFromWeave,
		Warnings: []Warning{{Code: WeaveEstimate, Layer: -1, Value: weaveSpread}},
	}
	if w.pore > coarsePore {
		o.Warnings = append(o.Warnings, Warning{Code: CoarseWeave, Layer: -1, Value: float64(w.pore), High: float64(coarsePore)})
	}
	return o, true
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
