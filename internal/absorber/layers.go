package absorber

import "sabinbook/internal/units"

// Layer is one layer of an assembly: Fabric, Perforated, Fill or Gap. Layers are listed
// from the room to the wall. Layers of thickness, depth or resistance zero change nothing.
type Layer interface {
	// check returns an InvalidError if the layer cannot be computed with.
	check() error
	// warnings lists what of the layer lies outside the validity of its formulas.
	warnings(Air) []Warning
}

// sheet is a layer without thickness, described by its impedance over ρ0c0.
type sheet interface {
	Layer
	impedance(air Air, hz float64) complex128
}

// slab is a layer of some thickness in metres that holds an equivalent fluid.
type slab interface {
	Layer
	fluid(air Air, hz float64) fluid
	depth() float64
	material() slab // the slab at thickness zero: what its fluid depends on
}

// Limits of what is computed (convention: far beyond what can be built, so that only
// slips are refused, and near enough that no formula overflows).
const (
	maxLength     = 10_000 // mm
	maxResistance = 1e8    // Pa·s/m
	minSigma      = 1.0    // Pa·s/m²
	maxSigma      = 1e9    // Pa·s/m²
	minMass       = 0.001  // kg/m²
	maxMass       = 1000.0 // kg/m²
	minDensity    = 1.0    // kg/m³
	maxDensity    = 5000.0 // kg/m³
)

// DefaultFabricMass stands in for a surface mass that is not known, 0.2 kg/m²
// (common practice); a warning says so.
const DefaultFabricMass units.SurfaceMass = 0.2

// Fabric is a limp sheet: its flow resistance acts in parallel with its mass.
type Fabric struct {
	Resistance units.AirflowResistance
	// SurfaceMass 0 means unknown, and DefaultFabricMass is taken.
	SurfaceMass units.SurfaceMass
	// Held says that the fabric is held still, as glued to a stiff board, so that its
	// mass does not matter. It flatters the low bands of a fabric that can move.
	Held bool
}

func (f Fabric) check() error {
	err := within("resistance", float64(f.Resistance), 0, maxResistance)
	if f.SurfaceMass != 0 {
		err = first(err, within("surface_mass", float64(f.SurfaceMass), minMass, maxMass))
	}
	return err
}

func (f Fabric) warnings(Air) []Warning {
	if f.SurfaceMass > 0 || f.Held || f.Resistance == 0 {
		return nil
	}
	return []Warning{{Code: FabricMassUnknown, Value: float64(DefaultFabricMass)}}
}

// mass returns the surface mass in kg/m², the default one if it is unknown.
func (f Fabric) mass() float64 {
	if f.SurfaceMass == 0 {
		return float64(DefaultFabricMass)
	}
	return float64(f.SurfaceMass)
}

// Perforated is a stiff sheet with round holes in a square lattice.
type Perforated struct {
	OpenArea  units.Fraction // share of the area that is open, above 0 and below 1
	Hole      units.Diameter // 10 µm to 100 mm
	Thickness units.Length
}

func (p Perforated) check() error {
	return first(
		within("open_area", float64(p.OpenArea), 1e-4, 0.9999),
		within("hole", float64(p.Hole), 10, 100_000),
		within("thickness", float64(p.Thickness), 0, 100),
	)
}

// maxOpenArea is where the end correction of Perforated ends: sqrt(open area) < 0.4.
const maxOpenArea = 0.16

func (p Perforated) warnings(Air) []Warning {
	if p.OpenArea < maxOpenArea {
		return nil
	}
	return []Warning{{Code: OpenAreaOutsideRange, Value: float64(p.OpenArea), High: maxOpenArea}}
}

// Gap is a layer of air. With bulk reaction sound travels along it; a partitioned
// cavity is locally reacting.
type Gap struct {
	Depth units.Length
}

func (g Gap) check() error             { return within("depth", float64(g.Depth), 0, maxLength) }
func (g Gap) warnings(Air) []Warning   { return nil }
func (g Gap) depth() float64           { return g.Depth.Metres() }
func (g Gap) material() slab           { return Gap{} }
func (g Gap) fluid(Air, float64) fluid { return fluid{density: 1, index2: 1} }

// Fill is a layer of porous material.
type Fill struct {
	Resistivity units.AirflowResistivity
	Thickness   units.Length
	Model       Model // the zero value is AC92
	Pores       Pores // read by JCA alone
	// FrameDensity is the bulk density of a limp frame; 0 means that the frame stands still.
	FrameDensity units.Density
}

// Pores holds what JCA needs beside the resistivity. The two lengths are characteristic
// lengths in micrometres.
type Pores struct {
	Porosity      units.Fraction
	Tortuosity    float64
	ViscousLength units.Diameter
	ThermalLength units.Diameter
}

func (f Fill) check() error {
	m, known := models[f.named()]
	if !known {
		return unknown("model")
	}
	err := first(
		within("resistivity", float64(f.Resistivity), minSigma, maxSigma),
		within("thickness", float64(f.Thickness), 0, maxLength),
	)
	if f.FrameDensity != 0 {
		err = first(err, within("frame_density", float64(f.FrameDensity), minDensity, maxDensity))
	}
	if err != nil || !m.needsPores {
		return err
	}
	return first(
		within("porosity", float64(f.Pores.Porosity), 0.01, 1),
		within("tortuosity", f.Pores.Tortuosity, 1, 100),
		within("viscous_length", float64(f.Pores.ViscousLength), 0.1, 100_000),
		within("thermal_length", float64(f.Pores.ThermalLength), 0.1, 100_000),
	)
}

// named returns the model with its default filled in.
func (f Fill) named() Model {
	if f.Model == "" {
		return AC92
	}
	return f.Model
}

func (f Fill) depth() float64 { return f.Thickness.Metres() }

func (f Fill) material() slab {
	f.Thickness = 0
	return f
}
