package handling

import (
	"math"

	"sabinbook/internal/catalog"
	"sabinbook/internal/units"
)

// Coupling is how well the hands hold the load.
type Coupling string

// The couplings of the lifting equation.
const (
	GoodCoupling Coupling = "good"
	FairCoupling Coupling = "fair"
	PoorCoupling Coupling = "poor"
)

var couplings = []string{string(GoodCoupling), string(FairCoupling), string(PoorCoupling)}

// Geometry describes a lift: H, V, D and A of the equation, in the centimetres and
// degrees in which its source gives them.
type Geometry struct {
	Horizontal float64 // H, from the ankles to the hands, cm
	From, To   float64 // V, height of the hands at origin and destination, cm
	Asymmetry  float64 // A, degrees
	PerMinute  float64 // lifts per minute
	Hours      float64 // of lifting in the session
	Coupling   Coupling
	// Unusual is true for lifts with one hand, from a ladder, seated, kneeling or of an
	// unsteady load: the equation does not hold for them (from memory).
	Unusual bool
}

// DefaultGeometry is the lift of the worked example: a panel taken at 75 cm and hung at
// 150 cm, 40 cm from the body, fair grip, seldom. Convention.
var DefaultGeometry = Geometry{Horizontal: 40, From: 75, To: 150, PerMinute: 0.2, Hours: 1, Coupling: FairCoupling}

func (g Geometry) validate(v *catalog.Faults) {
	v.Within("/handling/lift/horizontal_cm", g.Horizontal, 1, 200, "cm", "give the distance from the ankles to the hands")
	v.Within("/handling/lift/from_cm", g.From, 0, 300, "cm", "give the height of the hands at the start")
	v.Within("/handling/lift/to_cm", g.To, 0, 300, "cm", "give the height of the hands at the end")
	v.Within("/handling/lift/asymmetry_deg", g.Asymmetry, 0, 180, "deg", "give the angle of the twist")
	v.Within("/handling/lift/lifts_per_min", g.PerMinute, 0, 60, "1/min", "give the lifts per minute, 0.2 for rare ones")
	v.Within("/handling/lift/duration_hours", g.Hours, 0, 24, "h", "give the hours of lifting")
	v.Word("/handling/lift/coupling", string(g.Coupling), couplings)
}

// Multipliers are the factors of the lifting equation at one end of a lift.
type Multipliers struct{ Horizontal, Vertical, Distance, Asymmetry, Frequency, Coupling float64 }

// End is the result at the origin or the destination of a lift.
type End struct {
	Factors Multipliers
	Limit   units.Mass // recommended weight limit
	Index   float64    // mass / limit; 0 when outside
}

// Lift is the lifting index of one panel for one person.
type Lift struct {
	Geometry Geometry
	Evidence Evidence // convention for the default geometry, user otherwise
	Known    bool     // false when the mass of the panel is not known
	// Outside says that the equation does not hold for this lift; there is no index then.
	Outside             bool
	Origin, Destination End
	AtDestination       bool    // the worse end, whose index is shown
	Index               float64 // of the worse end
}

// loadConstant is the mass that the equation allows in the best posture, kg.
// Source: NIOSH 94-110 (1994), as in handling.md section 2.
const loadConstant = 23

// LiftOf applies the revised NIOSH lifting equation to a mass.
//
//	RWL = 23 kg · HM · VM · DM · AM · FM · CM      LI = mass / RWL
//
// H, V, D in cm, A in degrees. It holds for two-handed lifts of steady loads standing;
// H to 63, V to 175, D to 175, A to 135, 15 lifts a minute and 8 hours. Beyond that
// the lift is Outside.
// Source: NIOSH publication 94-110 (1994), Applications Manual, as in handling.md section 2.
func LiftOf(mass units.Mass, g Geometry) Lift {
	l := Lift{Geometry: g, Evidence: ByUser, Known: true}
	l.Origin, l.Destination = liftEnd(mass, g, g.From), liftEnd(mass, g, g.To)
	l.Outside = g.Unusual || l.Origin.Limit <= 0 || l.Destination.Limit <= 0
	if l.Outside {
		l.Origin.Index, l.Destination.Index = 0, 0
		return l
	}
	l.AtDestination = l.Destination.Index > l.Origin.Index
	l.Index = max(l.Origin.Index, l.Destination.Index)
	return l
}

func liftFor(mass units.Mass, known bool, asked *Geometry) Lift {
	g, evidence := DefaultGeometry, ByConvention
	if asked != nil {
		g, evidence = *asked, ByUser
	}
	if !known {
		return Lift{Geometry: g, Evidence: evidence}
	}
	l := LiftOf(mass, g)
	l.Evidence = evidence
	return l
}

func liftEnd(mass units.Mass, g Geometry, v float64) End {
	m := Multipliers{
		Horizontal: bounded(25/math.Max(g.Horizontal, 25), g.Horizontal > 63),
		Vertical:   bounded(1-0.003*math.Abs(v-75), v < 0 || v > 175),
		Asymmetry:  bounded(1-0.0032*g.Asymmetry, g.Asymmetry < 0 || g.Asymmetry > 135),
		Frequency:  frequencyMultiplier(g.PerMinute, g.Hours, v),
		Coupling:   couplingMultiplier(g.Coupling, v),
	}
	d := math.Abs(g.To - g.From)
	m.Distance = bounded(0.82+4.5/math.Max(d, 25), d > 175)
	e := End{Factors: m}
	e.Limit = units.Mass(loadConstant * m.Horizontal * m.Vertical * m.Distance * m.Asymmetry * m.Frequency * m.Coupling)
	if e.Limit > 0 {
		e.Index = float64(mass / e.Limit)
	}
	return e
}

// bounded is a factor, or 0 beyond its bound. The distance factor is 1.00 at its lower
// bound of 25 cm by its own formula.
func bounded(factor float64, beyond bool) float64 {
	if beyond {
		return 0
	}
	return factor
}

func couplingMultiplier(c Coupling, v float64) float64 {
	switch {
	case c == GoodCoupling, c == FairCoupling && v >= 75:
		return 1
	case c == FairCoupling:
		return 0.95
	}
	return 0.90
}

// frequencyRow holds the multipliers for up to 1, 2 and 8 hours, each for V below 75 cm
// and from 75 cm on.
type frequencyRow struct {
	perMinute float64
	low, high [3]float64
}

func sameRow(perMinute, h1, h2, h8 float64) frequencyRow {
	return frequencyRow{perMinute, [3]float64{h1, h2, h8}, [3]float64{h1, h2, h8}}
}

// frequencyTable is the table of handling.md section 2, seen in a secondary source. Rows 11
// and 12 and the tail differ in other public copies: a doubt noted there.
var frequencyTable = []frequencyRow{
	sameRow(0.2, 1.00, 0.95, 0.85), sameRow(0.5, 0.97, 0.92, 0.81), sameRow(1, 0.94, 0.88, 0.75),
	sameRow(2, 0.91, 0.84, 0.65), sameRow(3, 0.88, 0.79, 0.55), sameRow(4, 0.84, 0.72, 0.45),
	sameRow(5, 0.80, 0.60, 0.35), sameRow(6, 0.75, 0.50, 0.27), sameRow(7, 0.70, 0.42, 0.22),
	sameRow(8, 0.60, 0.35, 0.18),
	{9, [3]float64{0.52, 0.30, 0}, [3]float64{0.52, 0.30, 0.15}},
	{10, [3]float64{0.45, 0.26, 0}, [3]float64{0.45, 0.26, 0.13}},
	{11, [3]float64{0.41, 0, 0}, [3]float64{0.41, 0.23, 0}},
	{12, [3]float64{0.37, 0, 0}, [3]float64{0.37, 0.21, 0}},
	{13, [3]float64{}, [3]float64{0.34, 0, 0}},
	{14, [3]float64{}, [3]float64{0.31, 0, 0}},
	{15, [3]float64{}, [3]float64{0.28, 0, 0}},
}

// frequencyMultiplier takes the next row for a rate between two of the table, which is the
// cautious reading (convention); it is 0 beyond the table.
func frequencyMultiplier(perMinute, hours, v float64) float64 {
	column := 0
	switch {
	case hours > 8:
		return 0
	case hours > 2:
		column = 2
	case hours > 1:
		column = 1
	}
	for _, row := range frequencyTable {
		if perMinute <= row.perMinute {
			if v < 75 {
				return row.low[column]
			}
			return row.high[column]
		}
	}
	return 0
}
