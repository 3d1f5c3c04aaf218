package absorption

import (
	"sabinbook/internal/absorber"
	"sabinbook/internal/catalog"
	"sabinbook/internal/units"
)

// Sample is what sound meets on its way to the wall, with how well its figures are known.
// The zero value is the bare wall; add layers from the room to the wall.
type Sample struct {
	layers   []absorber.Layer
	unknowns []unknown
	fill     *catalog.Fill // the stored fill that all fill layers are of, nil without one
	mixed    bool          // fill layers for which no test of one fill can stand
	blind    bool          // the resistivity of the fill is not known
	basis    Basis         // of the resistivities
	warnings []Warning
	sources  []catalog.ID
}

// unknown is one figure that is known between bounds, wherever it appears.
type unknown struct {
	key    string // layers with the same key have the same figure
	layers []int
	bounds [2]float64 // low and high; 0 where not stated
}

// Gap adds a layer of air.
func (s *Sample) Gap(depth units.Length) { s.add(absorber.Gap{Depth: depth}) }

// Perforated adds a perforated sheet, whose figures count as known.
func (s *Sample) Perforated(p absorber.Perforated) { s.add(p) }

// Fabric adds a stored fabric, which may be held still; it is false when the openness of the
// fabric is not known.
func (s *Sample) Fabric(f catalog.Fabric, held bool) bool {
	open, ok := OpennessOf(f)
	if !ok {
		return false
	}
	var mass units.SurfaceMass
	if f.SurfaceMass != nil {
		mass = f.SurfaceMass.Value
	}
	s.cloth("fabric "+string(f.ID), open.Openness, mass, held)
	if open.Method != absorber.OpennessStated || open.Evidence == catalog.Estimated || open.Evidence == catalog.Remembered {
		s.warn(Warning{OpennessEstimated, -1, float64(open.Value), float64(open.Low), float64(open.High)})
	}
	s.sources = append(s.sources, open.SourceID)
	return true
}

// Cloth adds a fabric of an openness, with its surface mass (0 when unknown), which may be
// held still.
func (s *Sample) Cloth(o absorber.Openness, mass units.SurfaceMass, held bool) {
	s.cloth("", o, mass, held)
}

func (s *Sample) cloth(key string, o absorber.Openness, mass units.SurfaceMass, held bool) {
	s.vary(key, float64(o.Value), float64(o.Low), float64(o.High))
	at := len(s.layers)
	s.add(absorber.Fabric{Resistance: o.Value, SurfaceMass: mass, Held: held})
	for _, w := range o.Warnings {
		s.warn(Warning{string(w.Code), at, w.Value, w.Low, w.High})
	}
}

// Fill adds a layer of a stored fill with the thickness, model, pores and frame of how, and
// whatever resistivity is known of it; without one only its tests can answer. Tests stand for
// the standard model alone.
func (s *Sample) Fill(f catalog.Fill, how absorber.Fill) {
	standard := absorber.Fill{Thickness: how.Thickness}
	s.mixed = s.mixed || how != standard || s.hasFill() && (s.fill == nil || s.fill.ID != f.ID)
	if s.fill == nil {
		s.fill = &f
	}
	r, ok := ResistivityOf(f)
	if !ok {
		s.blind = true
		s.add(how)
		return
	}
	s.material("fill "+string(f.ID), r, how)
	s.sources = append(s.sources, r.SourceIDs...)
}

// Material adds a layer of porous material that is not stored: of the resistivity, with the
// thickness, model, pores and frame of how.
func (s *Sample) Material(r Resistivity, how absorber.Fill) {
	s.mixed = true
	s.material("", r, how)
}

func (s *Sample) material(key string, r Resistivity, how absorber.Fill) {
	s.vary(key, float64(r.Value), float64(r.Low), float64(r.High))
	if s.basis == "" || r.Basis == Estimated {
		s.basis = r.Basis
	}
	at := len(s.layers)
	how.Resistivity = r.Value
	s.add(how)
	for _, w := range r.Warnings {
		s.warn(Warning{string(w.Code), at, w.Value, w.Low, w.High})
	}
	if r.Basis == Estimated {
		s.warn(Warning{ResistivityEstimated, at, float64(r.Value), float64(r.Low), float64(r.High)})
	}
}

func (s *Sample) add(l absorber.Layer) { s.layers = append(s.layers, l) }

// warn keeps a warning unless the same is there of another layer of the same thing.
func (s *Sample) warn(w Warning) {
	for _, old := range s.warnings {
		if old.Code == w.Code && old.Value == w.Value && old.Low == w.Low && old.High == w.High {
			return
		}
	}
	s.warnings = append(s.warnings, w)
}

// vary records the bounds of the figure of the layer that comes next.
func (s *Sample) vary(key string, value, low, high float64) {
	at := len(s.layers)
	for i, u := range s.unknowns {
		if key != "" && u.key == key {
			s.unknowns[i].layers = append(u.layers, at)
			return
		}
	}
	bounds := [2]float64{low, high}
	for i, b := range bounds {
		if b == value {
			bounds[i] = 0 // a bound that changes nothing
		}
	}
	if bounds != [2]float64{} {
		s.unknowns = append(s.unknowns, unknown{key, []int{at}, bounds})
	}
}

// hasFill reports whether the sample has a layer of fill.
func (s *Sample) hasFill() bool {
	for _, l := range s.layers {
		if _, ok := l.(absorber.Fill); ok {
			return true
		}
	}
	return false
}

// specimen returns the depth of fill and of air behind it when tests of the stored fill can
// stand for the sample: behind its sheets it has the fill alone, and then perhaps air.
func (s *Sample) specimen() (depth, gap units.Length, ok bool) {
	if s.fill == nil || s.mixed {
		return 0, 0, false
	}
	for _, l := range s.layers {
		switch l := l.(type) {
		case absorber.Fill:
			if gap > 0 {
				return 0, 0, false
			}
			depth += l.Thickness
		case absorber.Gap:
			if depth == 0 {
				return 0, 0, false
			}
			gap += l.Depth
		}
	}
	return depth, gap, depth > 0
}

// covered reports whether the sample has a fabric or sheet.
func (s *Sample) covered() bool { return len(bare(s.layers)) < len(s.layers) }

// bare returns the layers without fabrics and sheets.
func bare(layers []absorber.Layer) []absorber.Layer {
	list := make([]absorber.Layer, 0, len(layers))
	for _, l := range layers {
		switch l.(type) {
		case absorber.Fabric, absorber.Perforated:
		default:
			list = append(list, l)
		}
	}
	return list
}

// with returns the layers with the figure of an unknown set to x.
func (s *Sample) with(u unknown, x float64) []absorber.Layer {
	list := make([]absorber.Layer, len(s.layers))
	copy(list, s.layers)
	for _, i := range u.layers {
		switch l := list[i].(type) {
		case absorber.Fabric:
			l.Resistance = units.AirflowResistance(x)
			list[i] = l
		case absorber.Fill:
			l.Resistivity = units.AirflowResistivity(x)
			list[i] = l
		}
	}
	return list
}

// Openness is the specific airflow resistance of a stored fabric and on what it rests.
type Openness struct {
	absorber.Openness
	Evidence catalog.Evidence
	SourceID catalog.ID
}

// OpennessOf returns the openness of a fabric: as stated, else derived from its air
// permeability, else unknown.
func OpennessOf(f catalog.Fabric) (Openness, bool) {
	if r := f.Resistance; r != nil {
		return Openness{absorber.StatedOpenness(r.Value, r.Low, r.High), r.Evidence, r.SourceID}, true
	}
	if p := f.Permeability; p != nil {
		return Openness{absorber.OpennessByPermeability(p.Velocity/1000, p.Pressure), p.Evidence, p.SourceID}, true
	}
	return Openness{}, false
}

// Resistivity is the airflow resistivity of a fill and on what it rests.
type Resistivity struct {
	Value, Low, High units.AirflowResistivity // Low and High are zero where no range is stated
	Basis            Basis                    // Predicted or Estimated
	Warnings         []absorber.Warning
	SourceIDs        []catalog.ID
}

// estimateSpread is the factor by which an estimated resistivity may be wrong both ways
// where no range is stated. Source: absorber_model.md section 3.
const estimateSpread = 2

// ResistivityOf returns the resistivity of a stored fill: as stated, else estimated from its
// density and fibre where a relation is published for its family, else unknown.
func ResistivityOf(f catalog.Fill) (Resistivity, bool) {
	if r := f.Resistivity; r != nil {
		known := Resistivity{Value: r.Value, Low: r.Low, High: r.High, Basis: Predicted, SourceIDs: []catalog.ID{r.SourceID}}
		if r.Evidence == catalog.Estimated || r.Evidence == catalog.Remembered {
			known.Basis = Estimated
			if known.Low == 0 {
				known.Low = r.Value / estimateSpread
			}
			if known.High == 0 {
				known.High = r.Value * estimateSpread
			}
		}
		return known, true
	}
	if f.Density == nil {
		return Resistivity{}, false
	}
	sources := []catalog.ID{f.Density.SourceID}
	var diameter units.Diameter
	if d := f.FibreDiameter; d != nil {
		diameter, sources = d.Value, append(sources, d.SourceID)
	}
	r, ok := EstimatedResistivity(f.Family, f.Density.Value, diameter)
	r.SourceIDs = sources
	return r, ok
}

// EstimatedResistivity returns the resistivity of a fill of a family by the relation that is
// published for it; a fibre diameter of zero is unknown. It is false where none is.
func EstimatedResistivity(family catalog.Family, density units.Density, fibre units.Diameter) (Resistivity, bool) {
	e, ok := absorber.EstimateResistivity(string(family), density, absorber.Fibre{Diameter: fibre})
	if !ok {
		return Resistivity{}, false
	}
	return Resistivity{Value: e.Value, Low: e.Low, High: e.High, Basis: Estimated, Warnings: e.Warnings}, true
}
