package absorption

import (
	"errors"
	"fmt"
	"slices"

	"sabinbook/internal/absorber"
	"sabinbook/internal/catalog"
	"sabinbook/internal/ratings"
	"sabinbook/internal/units"
)

// Answer is the answer to a question.
type Answer struct {
	Question Question
	// CatalogRevision is the revision of the catalog where stored records take part, else 0.
	CatalogRevision int64
	Estimate        Estimate
	Figures         []Figure // one for each fabric and fill whose figure is known
	Rating          ratings.Rating
	Sources         []catalog.Source
}

// Figure is what was taken for the airflow resistance of a fabric (Pa·s/m) or the resistivity
// of a fill (Pa·s/m²).
type Figure struct {
	Layer            int
	Value, Low, High float64 // Low and High are zero where no range is stated
	Method           string  // a word of absorber.OpennessMethod, of Basis, or "piston_test"
	Velocity         float64 // of the air in the test, m/s; 0 without one
}

// NamesRecords reports whether the question names stored records.
func (q Question) NamesRecords() bool {
	return slices.ContainsFunc(q.Layers, func(l Layer) bool {
		switch l := l.(type) {
		case FabricLayer:
			return l.Fabric != ""
		case FillLayer:
			return l.Fill != ""
		}
		return false
	})
}

// Answerer answers questions from one snapshot of the catalog. It remembers what questions
// share. It is for one goroutine.
type Answerer struct {
	stock      catalog.Snapshot
	estimators map[asked]*Estimator
}

// asked is what an estimator answers for.
type asked struct {
	conditions   Conditions
	withoutTests bool
}

// NewAnswerer returns an answerer from a snapshot, which may be empty for questions that name
// no records.
func NewAnswerer(stock catalog.Snapshot) *Answerer {
	return &Answerer{stock, map[asked]*Estimator{}}
}

// Answer answers one question. The error is a *catalog.InvalidError that names all faults.
func (a *Answerer) Answer(q Question) (Answer, error) {
	if err := q.Validate(); err != nil {
		return Answer{}, err
	}
	out := Answer{Question: q}
	if q.NamesRecords() {
		out.CatalogRevision = a.stock.Revision
	}
	var s Sample
	v := &catalog.Faults{}
	for i, l := range q.Layers {
		at := fmt.Sprintf("/layers/%d", i)
		switch l := l.(type) {
		case FabricLayer:
			out.figure(a.fabric(&s, v, at, l), i)
		case SheetLayer:
			s.Perforated(l.Perforated)
		case FillLayer:
			out.figure(a.fill(&s, v, at, l), i)
		case GapLayer:
			s.Gap(l.Depth)
		}
	}
	if err := v.Err(); err != nil {
		return Answer{}, err
	}
	e, err := a.estimator(q)
	if err != nil {
		return Answer{}, fmt.Errorf("absorption: %w", err) // Validate has the same limits
	}
	estimate, why := e.Estimate(s)
	if why != "" {
		return Answer{}, refusal(q, why)
	}
	out.Estimate, out.Rating = estimate, ratings.Rate(estimate.Curve())
	for _, source := range a.stock.Sources {
		if slices.Contains(estimate.Sources, source.ID) {
			out.Sources = append(out.Sources, source)
		}
	}
	return out, nil
}

func (out *Answer) figure(f Figure, layer int) {
	if f.Method != "" {
		f.Layer = layer
		out.Figures = append(out.Figures, f)
	}
}

// kept is how many estimators an answerer keeps: each holds a kernel with its memory, and
// questions may all have other conditions. Convention.
const kept = 4

func (a *Answerer) estimator(q Question) (*Estimator, error) {
	key := asked{q.Conditions, q.WithoutTests}
	if e, ok := a.estimators[key]; ok {
		return e, nil
	}
	if len(a.estimators) >= kept {
		clear(a.estimators)
	}
	var tests []catalog.AbsorptionTest
	if !q.WithoutTests {
		tests = a.stock.Tests
	}
	e, err := NewEstimator(tests, q.Conditions)
	if err != nil {
		return nil, err
	}
	a.estimators[key] = e
	return e, nil
}

// fabric adds a fabric to the sample and returns the openness that was taken.
func (a *Answerer) fabric(s *Sample, v *catalog.Faults, at string, l FabricLayer) Figure {
	var o absorber.Openness
	ok := true
	var err error
	switch {
	case l.Fabric != "":
		f, found := find(a.stock.Fabrics, func(f catalog.Fabric) catalog.Meta { return f.Meta }, l.Fabric)
		if !found {
			unknownRecord(v, at+"/fabric", "fabric", l.Fabric)
			return Figure{}
		}
		if l.SurfaceMass != 0 {
			f.SurfaceMass = &catalog.Figure[units.SurfaceMass]{Value: l.SurfaceMass}
		}
		if !s.Fabric(f, l.Held) {
			v.Add(at+"/fabric", string(NoOpenness), "the stored fabric has neither a flow resistance nor an air permeability", "add one of them to the fabric, or give the openness in the question")
			return Figure{}
		}
		stored, _ := OpennessOf(f)
		return openness(stored.Openness)
	case l.Resistance != nil:
		r := l.Resistance
		o = absorber.StatedOpenness(units.AirflowResistance(r.Value), units.AirflowResistance(r.Low), units.AirflowResistance(r.High))
	case l.Permeability != nil:
		o, ok = l.Permeability.openness()
	case l.Weave != nil:
		o, ok = absorber.OpennessByWeave(l.Weave.Warp, l.Weave.Weft)
	case l.Piston != nil:
		o, err = l.Piston.Openness()
		n := units.AirflowResistance(max(1, l.PistonLayers))
		o.Value, o.Low, o.High = o.Value/n, o.Low/n, o.High/n
	}
	if err != nil || !ok {
		cannotTell(v, at, err)
		return Figure{}
	}
	s.Cloth(o, l.SurfaceMass, l.Held)
	return openness(o)
}

func (p Permeability) openness() (absorber.Openness, bool) {
	u, _ := p.Unit.FaceVelocity(p.Flow)
	switch {
	case p.SecondFlow != 0:
		u2, _ := p.Unit.FaceVelocity(p.SecondFlow)
		return absorber.OpennessByTwoPressures(u, p.Pressure, u2, p.SecondPressure)
	case p.OpenArea != 0:
		return absorber.OpennessByOpenArea(u, p.Pressure, p.OpenArea), true
	}
	return absorber.OpennessByPermeability(u, p.Pressure), true
}

func openness(o absorber.Openness) Figure {
	f := Figure{Value: float64(o.Value), Low: float64(o.Low), High: float64(o.High), Method: string(o.Method), Velocity: o.Velocity}
	if f.Low == f.Value && f.High == f.Value {
		f.Low, f.High = 0, 0
	}
	return f
}

// cannotTell records that the figures of a layer lead to no resistance.
func cannotTell(v *catalog.Faults, at string, err error) {
	if invalid := (*absorber.InvalidError)(nil); errors.As(err, &invalid) {
		v.Add(at+"/piston_test/"+invalid.Field, "out_of_range", "the runs leave no resistance for the sample: the empty rig takes as much as the rig with it", "check for leaks and friction, use a smaller piston mass or a larger sample area, and repeat the empty runs")
		return
	}
	v.Add(at, "disagrees", "no flow resistance follows from these figures", "check them against each other")
}

// fill adds a fill to the sample and returns the resistivity that was taken.
func (a *Answerer) fill(s *Sample, v *catalog.Faults, at string, l FillLayer) Figure {
	how := absorber.Fill{Thickness: l.Thickness, Model: l.Model, Pores: l.Pores, FrameDensity: l.LimpDensity}
	if how.Model == absorber.AC92 {
		how.Model = "" // the same fill to whoever compares
	}
	var r Resistivity
	velocity, method := 0.0, ""
	switch {
	case l.Fill != "":
		f, found := find(a.stock.Fills, func(f catalog.Fill) catalog.Meta { return f.Meta }, l.Fill)
		if !found {
			unknownRecord(v, at+"/fill", "fill", l.Fill)
			return Figure{}
		}
		s.Fill(f, how)
		stored, ok := ResistivityOf(f)
		if !ok {
			return Figure{}
		}
		return resistivity(stored)
	case l.Resistivity != nil:
		x := l.Resistivity
		r = Resistivity{Value: units.AirflowResistivity(x.Value), Low: units.AirflowResistivity(x.Low), High: units.AirflowResistivity(x.High), Basis: Predicted}
	case l.Piston != nil:
		m, err := l.Piston.Resistivity(l.PlugThickness)
		if err != nil {
			cannotTell(v, at, err)
			return Figure{}
		}
		r = Resistivity{Value: m.Value, Low: m.Low, High: m.High, Basis: Predicted, Warnings: m.Warnings}
		velocity, method = m.Velocity, string(absorber.OpennessFromPiston)
	default:
		var ok bool
		if r, ok = EstimatedResistivity(l.Family, l.Density, l.FibreDiameter); !ok {
			v.Add(at+"/family", "no_relation", fmt.Sprintf("no relation of density to airflow resistivity is published for %s at this density", l.Family), "give the airflow resistivity: ask the maker, or measure it with the piston test")
			return Figure{}
		}
	}
	s.Material(r, how)
	f := resistivity(r)
	f.Velocity = velocity
	if method != "" {
		f.Method = method
	}
	return f
}

func resistivity(r Resistivity) Figure {
	method := "stated"
	if r.Basis == Estimated {
		method = string(Estimated)
	}
	return Figure{Value: float64(r.Value), Low: float64(r.Low), High: float64(r.High), Method: method}
}

func find[T any](all []T, meta func(T) catalog.Meta, ref string) (T, bool) {
	i := slices.IndexFunc(all, func(t T) bool { m := meta(t); return string(m.ID) == ref || string(m.Slug) == ref })
	if i < 0 {
		var none T
		return none, false
	}
	return all[i], true
}

func unknownRecord(v *catalog.Faults, at, noun, ref string) {
	v.Add(at, "unknown_reference", fmt.Sprintf("there is no %s %q", noun, ref), "use the id or the slug of a stored "+noun)
}

// refusal says at the layers why a question has no answer.
func refusal(q Question, why Reason) error {
	v := &catalog.Faults{}
	for i, l := range q.Layers {
		fill, ok := l.(FillLayer)
		if !ok || fill.Fill == "" {
			continue
		}
		at := fmt.Sprintf("/layers/%d/fill", i)
		switch why {
		case NoData:
			v.Add(at, string(why), "the stored fill has no airflow resistivity, none can be estimated from its density and family, and no test can stand for these layers", "add the airflow resistivity to the fill, or give it in the question")
		case NoFittingTest:
			v.Add(at, string(why), "the tests of the stored fill are of other builds, and it has no airflow resistivity to carry them over", "add the airflow resistivity to the fill, or give it in the question")
		case TestSetAside:
			v.Add(at, string(why), "the test of the stored fill that fits is set aside, and the fill has no airflow resistivity", "add the airflow resistivity to the fill, or give it in the question")
		case FabricUnclear:
			v.Add(at, string(why), "a test of the bare fill fits, but the cover may change it by more than 0.02 and the fill has no airflow resistivity to tell by how much", "add the airflow resistivity to the fill, or ask for a more open fabric")
		}
	}
	if v.Err() == nil {
		v.Add("/layers", string(why), "a figure of these layers is outside what the model can compute", "check the airflow resistivities and the figures of the fabrics")
	}
	return v.Err()
}
