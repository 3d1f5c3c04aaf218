package absorption

import (
	"fmt"

	"sabinbook/internal/absorber"
	"sabinbook/internal/catalog"
	"sabinbook/internal/units"
)

// MaxLayers is the largest number of layers of a question. Convention.
const MaxLayers = 16

// maxPatch is the longest side of a front in mm: larger than any specimen (ISO 354 has 10 to
// 12 m², more in large rooms), and small enough to be computed in a quarter of a second.
// Convention.
const maxPatch = 6000

// Question asks what layers on a wall absorb. Pointers of faults are those of the wire.
type Question struct {
	Layers     []Layer // from the room to the wall
	Conditions Conditions
	// WithoutTests leaves the tests of stored fills aside.
	WithoutTests bool
}

// Conditions say how sound meets the layers. StandardConditions are the recommended ones.
type Conditions struct {
	Incidence Incidence
	Reaction  absorber.Reaction
	Patch     absorber.Patch // the zero value is endless
	Air       absorber.Air
}

// Incidence is a word for the angles from which sound comes.
type Incidence string

// The incidences. Diffuse78 leaves out grazing sound; common practice.
const (
	Normal    Incidence = "normal"
	Diffuse   Incidence = "diffuse"
	Diffuse78 Incidence = "diffuse_78"
)

// StandardConditions are a diffuse field, bulk reaction and an endless front in standard air.
func StandardConditions() Conditions {
	return Conditions{Incidence: Diffuse, Reaction: absorber.Bulk, Air: absorber.StandardAir()}
}

// Layer is one layer of a question: FabricLayer, SheetLayer, FillLayer or GapLayer.
type Layer interface {
	validate(v *catalog.Faults, at string)
}

// Range is a figure with its bounds; Low and High are zero when none are stated.
type Range struct{ Value, Low, High float64 }

// FabricLayer is a limp sheet. Its openness comes from exactly one of Fabric, Resistance,
// Permeability, Weave and Piston.
type FabricLayer struct {
	Fabric       string // id or slug of a stored fabric
	Resistance   *Range // Pa·s/m
	Permeability *Permeability
	Weave        *Weave
	Piston       *absorber.Piston
	PistonLayers int               // of the fabric in the piston test, laid one on the other; zero for one
	SurfaceMass  units.SurfaceMass // zero when unknown
	Held         bool              // held still, as glued to a stiff board
}

// Permeability is the flow of air through a fabric at a test pressure, in a unit of the trade.
type Permeability struct {
	Flow, Pressure float64 // in Unit, Pa
	Unit           absorber.FlowUnit
	// SecondFlow and SecondPressure are a second test of the same fabric, zero without one.
	SecondFlow, SecondPressure float64
	// OpenArea is the share of the area that is open, zero when unknown.
	OpenArea units.Fraction
}

// Weave is the geometry of a weave.
type Weave struct{ Warp, Weft absorber.Threads }

// SheetLayer is a perforated sheet.
type SheetLayer struct{ absorber.Perforated }

// FillLayer is a layer of porous material. Its resistivity comes from exactly one of Fill,
// Resistivity, Piston, and Family with Density.
type FillLayer struct {
	Fill          string // id or slug of a stored fill
	Thickness     units.Length
	Resistivity   *Range // Pa·s/m²
	Piston        *absorber.Piston
	PlugThickness units.Length // of the plug in the piston test
	Family        catalog.Family
	Density       units.Density
	FibreDiameter units.Diameter // zero when unknown
	Model         absorber.Model // empty: ac92
	Pores         absorber.Pores // of the model jca
	LimpDensity   units.Density  // of a frame that moves; zero: it stands still
}

// GapLayer is a layer of air.
type GapLayer struct{ Depth units.Length }

var incidences = []string{string(Normal), string(Diffuse), string(Diffuse78)}

var reactions = []string{string(absorber.Bulk), string(absorber.Local)}

// Validate names every fault of the question; it does not look records up.
func (q Question) Validate() error {
	v := &catalog.Faults{}
	if n := len(q.Layers); n == 0 || n > MaxLayers {
		v.Add("/layers", "out_of_range", fmt.Sprintf("must list 1 to %d layers, got %d", MaxLayers, n), "list what sound meets from the room to the wall; join neighbours that are alike")
	}
	for i, l := range q.Layers {
		l.validate(v, fmt.Sprintf("/layers/%d", i))
	}
	c := q.Conditions
	v.Word("/incidence", string(c.Incidence), incidences)
	v.Word("/reaction", string(c.Reaction), reactions)
	v.Within("/temperature_c", c.Air.Temperature, -50, 60, "°C", "give degrees Celsius, e.g. 20")
	v.Within("/pressure_pa", c.Air.Pressure, 50e3, 120e3, "Pa", "give pascals, e.g. 101325 (1013 hPa is 101300)")
	if c.Patch != (absorber.Patch{}) {
		v.Within("/patch/length_mm", float64(c.Patch.Length), 50, maxPatch, "mm", "give millimetres, e.g. 3600")
		v.Within("/patch/width_mm", float64(c.Patch.Width), 50, maxPatch, "mm", "give millimetres, e.g. 3000")
	}
	return v.Err()
}

// one records a fault unless exactly one of the alternatives is given; missing is the member
// that is most likely to be wanted where none is.
func one(v *catalog.Faults, at, missing string, given []bool, what, fix string) {
	n := 0
	for _, g := range given {
		if g {
			n++
		}
	}
	switch n {
	case 0:
		v.Add(at+missing, "required", what+" is missing", fix)
	case 1:
	default:
		v.Add(at, "disagrees", fmt.Sprintf("%s is given in %d ways", what, n), "keep one of them")
	}
}

func (r Range) validate(v *catalog.Faults, at, low, high string, lo, hi float64, unit, hint string) {
	v.Within(at, r.Value, lo, hi, unit, hint)
	if r.Low != 0 {
		v.Within(low, r.Low, lo, hi, unit, hint)
	}
	if r.High != 0 {
		v.Within(high, r.High, lo, hi, unit, hint)
	}
	if r.Low > r.Value || r.High != 0 && r.High < r.Value {
		v.Add(at, "bad_range", fmt.Sprintf("needs low <= value <= high, got %g, %g, %g", r.Low, r.Value, r.High), "put the three in order, or leave low and high out")
	}
}

func (l FabricLayer) validate(v *catalog.Faults, at string) {
	one(v, at, "/flow_resistance_pa_s_per_m", []bool{l.Fabric != "", l.Resistance != nil, l.Permeability != nil, l.Weave != nil, l.Piston != nil}, "the openness of the fabric",
		"name a stored fabric, or give one of flow_resistance_pa_s_per_m, air_permeability, weave and piston_test")
	if r := l.Resistance; r != nil {
		name := at + "/flow_resistance"
		r.validate(v, name+"_pa_s_per_m", name+"_low_pa_s_per_m", name+"_high_pa_s_per_m", 0, 100_000, "Pa·s/m", "give Pa·s per metre, e.g. 120; 0 for nothing")
	}
	if p := l.Permeability; p != nil {
		p.validate(v, at+"/air_permeability")
	}
	if w := l.Weave; w != nil {
		threads(v, at+"/weave/warp", w.Warp)
		threads(v, at+"/weave/weft", w.Weft)
	}
	if p := l.Piston; p != nil {
		piston(v, at+"/piston_test", *p)
		if l.PistonLayers != 0 {
			v.Within(at+"/piston_test/layers_count", float64(l.PistonLayers), 1, 100, "layers", "give the layers of fabric in the rig, e.g. 10")
		}
	}
	if l.SurfaceMass != 0 {
		v.Within(at+"/surface_mass_kg_per_m2", float64(l.SurfaceMass), 0.005, 20, "kg/m²", "give kg per square metre, e.g. 0.25 for 250 g/m²")
	}
}

// Flows that a fabric can have in a test, m/s. Convention.
const (
	leastFlow = 1e-4
	mostFlow  = 20
)

func (p Permeability) validate(v *catalog.Faults, at string) {
	v.Word(at+"/unit", string(p.Unit), wordsOf(absorber.FlowUnits()))
	flow := func(at string, x float64) {
		if unit, known := p.Unit.FaceVelocity(1); known {
			v.Within(at, x, leastFlow/unit, mostFlow/unit, string(p.Unit), "check the unit: this is 0.1 mm/s to 20 m/s through the fabric")
		} else if !(x > 0) {
			v.Add(at, "out_of_range", fmt.Sprintf("must be above 0, got %g", x), "give the flow as printed")
		}
	}
	pressure := func(at string, x float64) {
		v.Within(at, x, 1, 10_000, "Pa", "give the test pressure, e.g. 100 (ISO 9237) or 125 (ASTM D737)")
	}
	flow(at+"/flow", p.Flow)
	pressure(at+"/test_pressure_pa", p.Pressure)
	if p.SecondFlow != 0 || p.SecondPressure != 0 {
		flow(at+"/second_flow", p.SecondFlow)
		pressure(at+"/second_test_pressure_pa", p.SecondPressure)
		switch {
		case p.SecondPressure == p.Pressure:
			v.Add(at+"/second_test_pressure_pa", "disagrees", "is that of the first test", "give a test at another pressure, or leave the second one out")
		case (p.SecondPressure > p.Pressure) != (p.SecondFlow > p.Flow) || p.SecondFlow == p.Flow:
			v.Add(at+"/second_flow", "disagrees", "does not rise with the pressure", "check which flow belongs to which pressure")
		}
	}
	if p.OpenArea != 0 {
		v.Within(at+"/open_area_fraction", float64(p.OpenArea), 0.001, 0.99, "", "give the open share, e.g. 0.12 for 12 %")
		if p.SecondFlow != 0 {
			v.Add(at+"/open_area_fraction", "disagrees", "adds nothing to tests at two pressures", "leave one of them out")
		}
	}
}

func threads(v *catalog.Faults, at string, t absorber.Threads) {
	v.Within(at+"/threads_per_cm", t.PerMetre/100, 1, 500, "per cm", "count the threads over one centimetre, e.g. 24")
	v.Within(at+"/diameter_um", float64(t.Diameter), 1, 5000, "µm", "give micrometres, e.g. 180")
	if t.PerMetre > 0 && t.Diameter > 0 && t.PerMetre*t.Diameter.Metres() >= 1 {
		v.Add(at, "disagrees", "the threads cover the whole width and leave nothing open", "check count and diameter; round threads cannot be thicker than their spacing")
	}
}

func (l SheetLayer) validate(v *catalog.Faults, at string) {
	v.Within(at+"/open_area_fraction", float64(l.OpenArea), 1e-4, 0.9999, "", "give the open share, e.g. 0.12 for 12 %")
	v.Within(at+"/hole_diameter_mm", float64(l.Hole)/1000, 0.01, 100, "mm", "give millimetres, e.g. 5")
	v.Within(at+"/thickness_mm", float64(l.Thickness), 0, 100, "mm", "give millimetres, e.g. 9.5")
}

func (l GapLayer) validate(v *catalog.Faults, at string) {
	v.Within(at+"/depth_mm", float64(l.Depth), 0, 2000, "mm", "give millimetres, e.g. 50")
}

func (l FillLayer) validate(v *catalog.Faults, at string) {
	one(v, at, "/airflow_resistivity_pa_s_per_m2", []bool{l.Fill != "", l.Resistivity != nil, l.Piston != nil, l.Family != "" || l.Density != 0}, "the airflow resistivity of the fill",
		"name a stored fill, or give one of airflow_resistivity_pa_s_per_m2, piston_test, and family with density_kg_per_m3")
	v.Within(at+"/thickness_mm", float64(l.Thickness), 0, 2000, "mm", "give millimetres, e.g. 50")
	if r := l.Resistivity; r != nil {
		name := at + "/airflow_resistivity"
		r.validate(v, name+"_pa_s_per_m2", name+"_low_pa_s_per_m2", name+"_high_pa_s_per_m2", 100, 2_000_000, "Pa·s/m²", "give Pa·s per square metre, e.g. 10000 (10 kPa·s/m² is 10000)")
	}
	if p := l.Piston; p != nil {
		piston(v, at+"/piston_test", *p)
		v.Within(at+"/piston_test/plug_thickness_mm", float64(l.PlugThickness), 2, 600, "mm", "give the thickness of the plug, e.g. 50")
	}
	if l.Family != "" || l.Density != 0 {
		v.Word(at+"/family", string(l.Family), wordsOf(catalog.Families()))
		v.Within(at+"/density_kg_per_m3", float64(l.Density), 5, 1000, "kg/m³", "give kg per cubic metre, e.g. 40")
		if l.FibreDiameter != 0 {
			v.Within(at+"/fibre_diameter_um", float64(l.FibreDiameter), 0.5, 500, "µm", "give micrometres, e.g. 6")
		}
	}
	if l.Model != "" {
		v.Word(at+"/model", string(l.Model), wordsOf(absorber.Models()))
	}
	if l.LimpDensity != 0 {
		v.Within(at+"/limp_density_kg_per_m3", float64(l.LimpDensity), 1, 1000, "kg/m³", "give kg per cubic metre, e.g. 10")
	}
	if l.Model == absorber.JCA {
		p := l.Pores
		v.Within(at+"/pores/porosity_fraction", float64(p.Porosity), 0.01, 1, "", "give the open share of the volume, e.g. 0.98")
		v.Within(at+"/pores/tortuosity", p.Tortuosity, 1, 100, "", "give the tortuosity, e.g. 1.1")
		v.Within(at+"/pores/viscous_length_um", float64(p.ViscousLength), 0.1, 100_000, "µm", "give micrometres, e.g. 100")
		v.Within(at+"/pores/thermal_length_um", float64(p.ThermalLength), 0.1, 100_000, "µm", "give micrometres, e.g. 200")
	} else if l.Pores != (absorber.Pores{}) {
		v.Add(at+"/pores", "not_applicable", "belongs to the model jca only", "leave it out, or set model to jca")
	}
}

func piston(v *catalog.Faults, at string, p absorber.Piston) {
	v.Within(at+"/piston_area_cm2", float64(p.PistonArea)*1e4, 0.1, 10_000, "cm²", "give square centimetres, e.g. 78.5 for a piston of 100 mm")
	v.Within(at+"/sample_area_cm2", float64(p.SampleArea)*1e4, 0.1, 10_000, "cm²", "give square centimetres, e.g. 19.6 for an opening of 50 mm")
	v.Within(at+"/volume_l", p.Volume*1e3, 0.001, 1000, "l", "give litres, e.g. 0.5")
	runs(v, at+"/runs", p.Runs, 1)
	runs(v, at+"/empty_runs", p.EmptyRuns, 0)
}

// maxRuns is the largest number of runs of a piston test. Convention.
const maxRuns = 100

func runs(v *catalog.Faults, at string, list []absorber.Run, least int) {
	if n := len(list); n < least || n > maxRuns {
		v.Add(at, "out_of_range", fmt.Sprintf("must list %d to %d runs, got %d", least, maxRuns, n), "list each run with its mass and time")
	}
	for i, r := range list {
		v.Within(fmt.Sprintf("%s/%d/mass_kg", at, i), float64(r.Mass), 0.0001, 500, "kg", "give kilograms, e.g. 0.05 for 50 g")
		v.Within(fmt.Sprintf("%s/%d/time_s", at, i), r.Time, 0.05, 100_000, "s", "give seconds, e.g. 12.4")
	}
}

func wordsOf[T ~string](list []T) []string {
	out := make([]string, len(list))
	for i, w := range list {
		out[i] = string(w)
	}
	return out
}
