package absorption

import (
	"math"

	"sabinbook/internal/absorber"
	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
	"sabinbook/internal/units"
)

// Estimator estimates what samples absorb under the same conditions. It remembers what
// samples share; ask for those that differ only in the cover one after the other. It is for
// one goroutine.
type Estimator struct {
	kernel     *absorber.Kernel
	conditions Conditions
	tests      map[catalog.ID][]catalog.AbsorptionTest
	hasTests   map[catalog.ID]bool
}

// NewEstimator returns an estimator that knows the given tests. The error is an
// *absorber.InvalidError for conditions that cannot be computed with.
//
// Tests are made in a diffuse field on a whole specimen: under any other incidence, local
// reaction or a patch they are left aside.
func NewEstimator(tests []catalog.AbsorptionTest, c Conditions) (*Estimator, error) {
	kernel, err := absorber.NewKernel(absorber.Conditions{Air: c.Air, Incidence: c.Incidence.angles(), Reaction: c.Reaction, Patch: c.Patch})
	if err != nil {
		return nil, err
	}
	e := &Estimator{kernel, c, map[catalog.ID][]catalog.AbsorptionTest{}, map[catalog.ID]bool{}}
	for _, t := range tests {
		e.hasTests[t.FillID] = true
		if c.likeTests() {
			e.tests[t.FillID] = append(e.tests[t.FillID], t)
		}
	}
	return e, nil
}

func (c Conditions) likeTests() bool {
	return c.Incidence == Diffuse && c.Reaction == absorber.Bulk && c.Patch == absorber.Patch{}
}

func (i Incidence) angles() absorber.Incidence {
	switch i {
	case Normal:
		return absorber.Normal()
	case Diffuse78:
		return absorber.DiffuseTo(78)
	}
	return absorber.Diffuse()
}

// fits of a test. Source: convention of this project.
const (
	ThicknessShare              = 0.05 // of the tested thickness, and at most
	ThicknessLimit units.Length = 3
	DensityShare                = 0.10 // of the tested density, where both are known
	GapLimit       units.Length = 10
)

// laboratoryExcess is by how much laboratory curves exceed the infinite-size model on average.
// Source: mean over 180 pairs of published curves, absorber_model.md section 11.
const laboratoryExcess = 0.125

// bracket spans the airflow resistivities of fills for which none is known: the range in
// which the model is used (absorber_model.md section 1).
var bracket = []float64{1000, 3000, 10_000, 30_000, 100_000}

// ground is on what the value of a sample rests.
type ground struct {
	basis             Basis
	uncovered, sample bands.Curve // by the model
	test              catalog.AbsorptionTest
	choice            Choice
	aside             *catalog.AbsorptionTest // would have been taken, but is set aside
	tested            bands.Curve             // the specimen of an adapted test, by the model
	blindEffect       float64                 // the largest change of an octave by the cover, for any resistivity
}

// ground finds on what the value of a sample rests, or the reason why nothing can be said:
//
//   - measured: the nearest test that fits, where the cover changes no octave by more than
//     NeutralChange, whatever its openness is within its range;
//   - adapted: one under a cover that does, or else the nearest other test, times the ratio of
//     model values of sample and test;
//   - predicted or estimated: the model.
//
// A sample of a fill of unknown resistivity rests on a fitting test or on nothing. Tests that are
// set aside take no part.
func (e *Estimator) ground(s *Sample) (ground, Reason) {
	if s.blind {
		return e.blind(s)
	}
	g := ground{basis: s.basis}
	var err error
	if g.sample, err = e.model(s.layers); err != nil {
		return g, OutsideOfModel
	}
	g.uncovered = g.sample
	if s.covered() {
		if g.uncovered, err = e.model(bare(s.layers)); err != nil {
			return g, OutsideOfModel
		}
	}
	depth, gap, ok := s.specimen()
	if !ok {
		return g, ""
	}
	best := e.fitting(*s.fill, depth, gap)
	g.aside = best.aside
	if best.test != nil {
		most := 0.0
		if s.covered() {
			effects, err := e.cover(s, g.uncovered, g.sample)
			if err != nil {
				return g, OutsideOfModel
			}
			most = atMost(effects)
		}
		if most <= NeutralChange {
			g.basis, g.test, g.choice = Measured, *best.test, best.choice
			return g, ""
		}
	} else {
		best = e.nearest(*s, depth, gap, g.uncovered)
		if g.aside == nil {
			g.aside = best.aside
		}
		if best.test == nil {
			return g, ""
		}
	}
	g.basis, g.test, g.choice = Adapted, *best.test, best.choice
	if g.tested, err = e.model(specimenOf(g.test, s.sigma())); err != nil {
		return g, OutsideOfModel
	}
	return g, ""
}

// Octaves returns the values of Estimate in octaves, and their basis, without bounds and what
// else an Estimate tells; for those who look at many samples and show few.
func (e *Estimator) Octaves(s Sample) (bands.Curve, Basis, Reason) {
	g, why := e.ground(&s)
	if why != "" {
		return bands.Curve{}, "", why
	}
	switch g.basis {
	case Measured:
		return g.test.Alpha.InOctaves(), Measured, ""
	case Adapted:
		var limited bool
		return carried(g.test.Alpha.InOctaves(), g.sample.InOctaves(), g.tested.InOctaves(), &limited), Adapted, ""
	case "":
		return g.sample.InOctaves(), Predicted, "" // no fill: all figures are given
	}
	return g.sample.InOctaves(), g.basis, ""
}

// Estimate returns what the sample absorbs, or the reason why that cannot be said.
func (e *Estimator) Estimate(s Sample) (Estimate, Reason) {
	g, why := e.ground(&s)
	if why != "" {
		return Estimate{}, why
	}
	out := Estimate{Warnings: s.warnings, Sources: s.sources, SetAside: g.aside}
	if s.covered() && !s.blind {
		effects, err := e.cover(&s, g.uncovered, g.sample)
		if err != nil {
			return Estimate{}, OutsideOfModel
		}
		out.Cover, out.CoverEffect = &effects, largestChange(g.uncovered, g.sample)
	}
	switch {
	case g.basis == Measured:
		out.CoverEffect = max(out.CoverEffect, g.blindEffect)
		return out.measured(s, g.test, g.choice), ""
	case g.basis == Adapted:
		return e.adapted(s, out, g)
	}
	return e.modelled(s, out, g)
}

func (e *Estimator) model(layers []absorber.Layer) (bands.Curve, error) {
	return e.kernel.Absorption(layers)
}

// blind is the ground of a sample of a fill of unknown resistivity: a fitting test is all that
// can answer, and only under a cover that changes little whatever the resistivity is.
func (e *Estimator) blind(s *Sample) (ground, Reason) {
	depth, gap, ok := s.specimen()
	if !ok {
		return ground{}, NoData
	}
	best := e.fitting(*s.fill, depth, gap)
	switch {
	case best.test == nil && best.aside != nil:
		return ground{}, TestSetAside
	case best.test == nil && e.hasTests[s.fill.ID]:
		return ground{}, NoFittingTest
	case best.test == nil:
		return ground{}, NoData
	}
	g := ground{basis: Measured, test: *best.test, choice: best.choice, aside: best.aside}
	if s.covered() {
		var fills []int
		for i, l := range s.layers {
			if _, is := l.(absorber.Fill); is {
				fills = append(fills, i)
			}
		}
		for _, sigma := range bracket {
			layers := s.with(unknown{layers: fills}, sigma)
			covered, err1 := e.model(layers)
			uncovered, err2 := e.model(bare(layers))
			if err1 != nil || err2 != nil {
				return ground{}, OutsideOfModel
			}
			g.blindEffect = max(g.blindEffect, largestChange(uncovered, covered))
		}
		if g.blindEffect > NeutralChange {
			return ground{}, FabricUnclear
		}
	}
	return g, ""
}

// measured takes a test as it is.
func (out Estimate) measured(s Sample, t catalog.AbsorptionTest, choice Choice) Estimate {
	out.Basis = Measured
	out.rest(t, choice, *s.fill)
	if t.Alpha.Basis == bands.ThirdOctave {
		out.Thirds = bounded(t.Alpha, measuredReaches(bands.ThirdOctave), nil, math.Inf(1))
	}
	out.Octaves = bounded(t.Alpha.InOctaves(), measuredReaches(bands.Octave), nil, math.Inf(1))
	return out
}

// rest records the test on which the estimate rests, with what weakens it.
func (out *Estimate) rest(t catalog.AbsorptionTest, choice Choice, fill catalog.Fill) {
	out.Test, out.Choice = &t, choice
	out.Sources = append(out.Sources, t.SourceID)
	if t.CappedAtOne {
		out.warn(Warning{Code: TestCapped, Layer: -1})
	}
	if t.Standard == "handbook_table" {
		out.warn(Warning{Code: MountingFromTable, Layer: -1})
	}
	if t.Density == 0 || fill.Density == nil {
		out.warn(Warning{Code: DensityUntested, Layer: -1})
	}
}

func (out *Estimate) warn(w Warning) { out.Warnings = append(out.Warnings, w) }

// Limits of the ratio of model values by which a test is carried over.
// Source: absorber_model.md section 11.
const (
	ratioLow  = 0.25
	ratioHigh = 4
)

// adapted carries a test over to the sample:
//
//	alpha = clamp(alpha_test · model_sample/model_test, 0, 1), ratio limited to 0.25 ... 4
//
// Model_test is the bare specimen; so the fabric comes on top as the ratio with and without it.
// Source: absorber_model.md section 11, the best of six ways over 180 pairs of published
// curves: median error 0.08.
// A test that fits but for the cover keeps the reproducibility of a measured value; what the
// cover may do beside the model comes on top.
func (e *Estimator) adapted(s Sample, out Estimate, g ground) (Estimate, Reason) {
	t, choice := g.test, g.choice
	limited := false
	carry := func(sample, tested bands.Curve) (thirds, octaves bands.Curve) {
		if t.Alpha.Basis == bands.ThirdOctave {
			thirds = carried(t.Alpha, sample, tested, &limited)
		}
		return thirds, carried(t.Alpha.InOctaves(), sample.InOctaves(), tested.InOctaves(), &limited)
	}
	thirds, octaves := carry(g.sample, g.tested)
	outside := limited
	var ofThirds, ofOctaves [][2]bands.Curve
	for _, u := range s.unknowns {
		var pairThirds, pairOctaves [2]bands.Curve
		for i, x := range u.bounds {
			pairThirds[i], pairOctaves[i] = thirds, octaves
			if x == 0 {
				continue
			}
			layers := s.with(u, x)
			sample, err1 := e.model(layers)
			other, err2 := e.model(specimenOf(t, sigmaOf(layers)))
			if err1 != nil || err2 != nil {
				return Estimate{}, OutsideOfModel
			}
			pairThirds[i], pairOctaves[i] = carry(sample, other)
		}
		ofThirds, ofOctaves = append(ofThirds, pairThirds), append(ofOctaves, pairOctaves)
	}
	if s.covered() {
		var pairThirds, pairOctaves [2]bands.Curve
		for i, c := range scaled(g.uncovered, g.sample, coverShare) {
			pairThirds[i], pairOctaves[i] = carry(c, g.tested)
		}
		ofThirds, ofOctaves = append(ofThirds, pairThirds), append(ofOctaves, pairOctaves)
	}
	out.Basis, out.Model = Adapted, &Ratio{g.sample.InOctaves(), g.tested.InOctaves()}
	out.rest(t, choice, *s.fill)
	thirdReach, octaveReach := sameBacking.third, sameBacking.inOctaves
	switch {
	case choice.Fits:
		thirdReach, octaveReach = measuredReaches(bands.ThirdOctave), measuredReaches(bands.Octave)
	case !choice.SameBacking:
		thirdReach, octaveReach = otherBacking.third, otherBacking.inOctaves
		out.warn(Warning{Code: OtherBacking, Layer: -1})
	}
	if outside {
		out.warn(Warning{Code: RatioLimited, Layer: -1, Low: ratioLow, High: ratioHigh})
	}
	out.warnModel(e, s)
	if thirds.Len() > 0 {
		out.Thirds = bounded(thirds, thirdReach, ofThirds, math.Inf(1))
	}
	out.Octaves = bounded(octaves, octaveReach, ofOctaves, math.Inf(1))
	return out, ""
}

// carried returns a measured curve times the ratio of two model curves.
func carried(measured, sample, tested bands.Curve, limited *bool) bands.Curve {
	return measured.Map(func(b bands.Band, alpha float64) float64 {
		x, _ := sample.At(b)
		y, _ := tested.At(b)
		ratio := x / y
		if !(ratio >= ratioLow && ratio <= ratioHigh) { // also when both are 0
			*limited = true
			ratio = min(max(ratioLow, ratio), ratioHigh)
		}
		return min(max(0, alpha*ratio), 1)
	})
}

// specimenOf lists the layers of the specimen of a test, of the resistivity of the fill.
func specimenOf(t catalog.AbsorptionTest, sigma units.AirflowResistivity) []absorber.Layer {
	list := []absorber.Layer{absorber.Fill{Resistivity: sigma, Thickness: t.Thickness}}
	if t.AirGap > 0 {
		list = append(list, absorber.Gap{Depth: t.AirGap})
	}
	return list
}

// sigma returns the resistivity of the first fill layer.
func (s *Sample) sigma() units.AirflowResistivity { return sigmaOf(s.layers) }

func sigmaOf(layers []absorber.Layer) units.AirflowResistivity {
	for _, l := range layers {
		if f, ok := l.(absorber.Fill); ok {
			return f.Resistivity
		}
	}
	return 0
}

// modelled takes the values of the model.
func (e *Estimator) modelled(s Sample, out Estimate, g ground) (Estimate, Reason) {
	m := g.sample
	var ofThirds, ofOctaves [][2]bands.Curve
	for _, u := range s.unknowns {
		pair := [2]bands.Curve{m, m}
		for i, x := range u.bounds {
			if x == 0 {
				continue
			}
			c, err := e.model(s.with(u, x))
			if err != nil {
				return Estimate{}, OutsideOfModel
			}
			pair[i] = c
		}
		ofThirds = append(ofThirds, pair)
		ofOctaves = append(ofOctaves, [2]bands.Curve{pair[0].InOctaves(), pair[1].InOctaves()})
	}
	if s.covered() {
		pair := scaled(g.uncovered, m, coverShare)
		ofThirds = append(ofThirds, pair)
		ofOctaves = append(ofOctaves, [2]bands.Curve{pair[0].InOctaves(), pair[1].InOctaves()})
	}
	out.Basis = s.basis
	if out.Basis == "" {
		out.Basis = Predicted // no fill: all figures are given
	}
	if s.fill != nil && e.hasTests[s.fill.ID] && (s.mixed || !e.conditions.likeTests()) {
		out.warn(Warning{Code: TestsLeftAside, Layer: -1})
	}
	around, most, exact := e.conditions.spread()
	if around == &roomSpread {
		out.warn(Warning{Code: BelowLaboratory, Layer: -1, Value: laboratoryExcess})
	}
	if !exact || !s.hasFill() {
		out.warn(Warning{Code: SpreadOfOtherConditions, Layer: -1})
	}
	out.warnModel(e, s)
	out.Thirds = bounded(m, around.third, ofThirds, most)
	out.Octaves = bounded(m.InOctaves(), around.inOctaves, ofOctaves, most)
	return out, ""
}

// spread returns the scatter of published cases about the model under the conditions, the
// largest value that a measurement can give there, and whether the cases are of these very
// conditions.
func (c Conditions) spread() (around *spread, most float64, exact bool) {
	switch {
	case c.Incidence == Normal:
		return &tubeSpread, 1, c.Patch == absorber.Patch{}
	case c.Patch != absorber.Patch{}:
		return &patchSpread, math.Inf(1), c.Incidence == Diffuse && c.Reaction == absorber.Bulk
	}
	return &roomSpread, math.Inf(1), c.likeTests()
}

// warnModel adds what of the sample is outside the validity of the model.
func (out *Estimate) warnModel(e *Estimator, s Sample) {
	known := Sample{warnings: out.Warnings}
	for _, w := range e.kernel.Warnings(s.layers) {
		known.warn(Warning{string(w.Code), w.Layer, w.Value, w.Low, w.High})
	}
	out.Warnings = known.warnings
}

// cover tells what the fabrics and sheets of the sample change.
func (e *Estimator) cover(s *Sample, uncovered, covered bands.Curve) ([bands.OctaveCount]Effect, error) {
	effects := [bands.OctaveCount]Effect{}
	change := func(covered bands.Curve, i int) float64 {
		x, _ := uncovered.Octave(i)
		y, _ := covered.Octave(i)
		return y - x
	}
	for i := range effects {
		c := change(covered, i)
		effects[i] = Effect{c, c, c}
	}
	for _, u := range s.unknowns {
		if _, fabric := s.layers[u.layers[0]].(absorber.Fabric); !fabric {
			continue
		}
		for _, x := range u.bounds {
			if x == 0 {
				continue
			}
			at, err := e.model(s.with(u, x))
			if err != nil {
				return effects, err
			}
			for i := range effects {
				c := change(at, i)
				effects[i].Low, effects[i].High = min(effects[i].Low, c), max(effects[i].High, c)
			}
		}
	}
	return effects, nil
}

// atMost is the largest change of an octave by the cover within the range of its openness.
func atMost(effects [bands.OctaveCount]Effect) float64 {
	most := 0.0
	for _, e := range effects {
		most = max(most, math.Abs(e.Low), math.Abs(e.High))
	}
	return most
}

func largestChange(a, b bands.Curve) float64 {
	worst := 0.0
	for i := range bands.OctaveCount {
		x, _ := a.Octave(i)
		y, _ := b.Octave(i)
		worst = max(worst, math.Abs(x-y))
	}
	return worst
}
