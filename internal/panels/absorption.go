package panels

import (
	"cmp"
	"math"
	"slices"

	"sabinbook/internal/absorber"
	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
	"sabinbook/internal/units"
)

// Basis says on what the absorption of a panel rests.
type Basis string

// The bases, in the order of trust.
const (
	// Measured: a test of this fill at this build, used as it is.
	Measured Basis = "measured"
	// Predicted: the absorber model with the fill's airflow resistivity, gap and fabric.
	Predicted Basis = "predicted"
)

// A test fits a build within these limits. Source: convention of this project; 0.02 is a
// quarter of the reproducibility of a measured coefficient (ISO 12999-2, see ratings).
const (
	ThicknessShare              = 0.05 // of the tested thickness, and at most
	ThicknessLimit units.Length = 3
	DensityShare                = 0.10 // of the tested density, where both are known
	GapLimit       units.Length = 10
	FabricLimit                 = 0.02 // change of any octave by the fabric
)

// Reason says why no absorption can be given for a build.
type Reason string

// The reasons.
const (
	NoData         Reason = "no_absorption_data"    // neither a test nor an airflow resistivity
	NoFittingTest  Reason = "no_fitting_test"       // tests, but of other builds, and no airflow resistivity
	FabricUnclear  Reason = "fabric_effect_unclear" // a test that fits, but what the fabric does to it cannot be told
	NoOpenness     Reason = "no_fabric_openness"
	OutsideOfModel Reason = "outside_model" // a stored figure is outside what can be computed
)

// Warning weakens an absorption. Value, Low and High are what the code says.
type Warning struct {
	Code             string
	Value, Low, High float64
}

// Codes of warnings besides those of absorber.
const (
	// TestCapped: the source of the test prints no value above 1.00.
	TestCapped = "test_capped_at_one"
	// MountingFromTable: the test comes from a handbook table, which does not print its mounting.
	MountingFromTable = "handbook_table"
	// DensityUntested: the density of the tested specimen or of the fill is not known, so that
	// they were not compared.
	DensityUntested = "density_not_compared"
	// BelowLaboratory: predicted values run about Value below laboratory curves.
	BelowLaboratory = "model_runs_below_laboratory"
	// OpennessEstimated: the openness of the fabric is derived, not measured.
	OpennessEstimated = "openness_estimated"
	// ResistivityEstimated: the resistivity of the fill is estimated, between Low and High.
	ResistivityEstimated = "resistivity_estimated"
)

// laboratoryExcess is by how much laboratory curves exceed the infinite-size model on average.
// Source: mean over 180 pairs of published curves, absorber_model.md section 11.
const laboratoryExcess = 0.125

// Absorption is what one panel absorbs and on what that rests.
type Absorption struct {
	Basis    Basis
	Curve    bands.Curve // coefficients as measured (also above 1) or predicted
	Test     *catalog.AbsorptionTest
	Openness Openness
	// FabricEffect is the largest change of an octave by the fabric, by the model.
	FabricEffect float64
	Warnings     []Warning
	Sources      []catalog.ID
}

// Openness is the specific airflow resistance of a fabric and how it is known.
type Openness struct {
	Resistance units.AirflowResistance
	Derived    bool // from air permeability, not stated
	Evidence   catalog.Evidence
	SourceID   catalog.ID
}

// OpennessOf returns the openness of a fabric: as stated, else derived from its air
// permeability, else unknown.
func OpennessOf(f catalog.Fabric) (Openness, bool) {
	if r := f.Resistance; r != nil {
		return Openness{r.Value, false, r.Evidence, r.SourceID}, true
	}
	if p := f.Permeability; p != nil {
		r := absorber.FromPermeability(p.Velocity/1000, p.Pressure)
		return Openness{r, true, p.Evidence, p.SourceID}, true
	}
	return Openness{}, false
}

// Estimator gives the absorption of builds. It remembers what builds share; ask for those
// that differ only in the fabric one after the other. It is for one goroutine.
type Estimator struct {
	kernel *absorber.Kernel
	tests  map[catalog.ID][]catalog.AbsorptionTest
}

// NewEstimator returns an estimator that knows the given tests: a diffuse field on an
// endless panel in standard air, the recommended path of the absorber model.
func NewEstimator(tests []catalog.AbsorptionTest) *Estimator {
	kernel, err := absorber.NewKernel(absorber.Conditions{})
	if err != nil {
		panic("panels: the recommended conditions are valid: " + err.Error())
	}
	e := &Estimator{kernel, map[catalog.ID][]catalog.AbsorptionTest{}}
	for _, t := range tests {
		e.tests[t.FillID] = append(e.tests[t.FillID], t)
	}
	return e
}

// Absorption returns what the panel absorbs, or the reason why that cannot be said: a
// fitting measured test where the fabric changes no octave by more than FabricLimit,
// else the model with the fill's airflow resistivity.
func (e *Estimator) Absorption(b Build) (Absorption, Reason) {
	open, ok := OpennessOf(b.Fabric)
	if !ok {
		return Absorption{}, NoOpenness
	}
	a := Absorption{Openness: open, Sources: []catalog.ID{open.SourceID}}
	test := e.fitting(b)
	if test != nil {
		effect, ok := e.fabricEffect(b, open)
		if !ok {
			return Absorption{}, OutsideOfModel
		}
		if effect <= FabricLimit {
			return a.measured(b, *test, effect), ""
		}
	}
	if b.Fill.Resistivity == nil {
		switch {
		case test != nil:
			return Absorption{}, FabricUnclear
		case len(e.tests[b.Fill.ID]) > 0:
			return Absorption{}, NoFittingTest
		}
		return Absorption{}, NoData
	}
	return e.predicted(a, b)
}

func (a Absorption) measured(b Build, t catalog.AbsorptionTest, effect float64) Absorption {
	a.Basis, a.Curve, a.Test, a.FabricEffect = Measured, t.Alpha, &t, effect
	a.Sources = append(a.Sources, t.SourceID)
	if t.CappedAtOne {
		a.Warnings = append(a.Warnings, Warning{Code: TestCapped})
	}
	if t.Standard == "handbook_table" {
		a.Warnings = append(a.Warnings, Warning{Code: MountingFromTable})
	}
	if t.Density == 0 || b.Fill.Density == nil {
		a.Warnings = append(a.Warnings, Warning{Code: DensityUntested})
	}
	return a
}

func (e *Estimator) predicted(a Absorption, b Build) (Absorption, Reason) {
	sigma := b.Fill.Resistivity
	layers := b.layers(sigma.Value, &a.Openness)
	p, err := e.kernel.Predict(layers)
	if err != nil {
		return Absorption{}, OutsideOfModel
	}
	bare, err := e.kernel.Absorption(b.layers(sigma.Value, nil))
	if err != nil {
		return Absorption{}, OutsideOfModel
	}
	a.Basis, a.Curve, a.FabricEffect = Predicted, p.Thirds, largestChange(bare, p.Thirds)
	a.Sources = append(a.Sources, sigma.SourceID)
	a.Warnings = append(a.Warnings, Warning{Code: BelowLaboratory, Value: laboratoryExcess})
	if sigma.Evidence == catalog.Estimated || sigma.Evidence == catalog.Remembered {
		a.Warnings = append(a.Warnings, Warning{ResistivityEstimated, float64(sigma.Value), float64(sigma.Low), float64(sigma.High)})
	}
	if a.Openness.Derived || a.Openness.Evidence == catalog.Estimated {
		a.Warnings = append(a.Warnings, Warning{Code: OpennessEstimated, Value: float64(a.Openness.Resistance)})
	}
	for _, w := range p.Warnings {
		found := Warning{string(w.Code), w.Value, w.Low, w.High}
		if !slices.Contains(a.Warnings, found) { // front and back are of one fabric
			a.Warnings = append(a.Warnings, found)
		}
	}
	return a, ""
}

// layers lists what sound meets, from the room to the wall, with a fill of the given
// resistivity; without a fabric where open is nil. A back wrap counts where there is
// air behind it; against the wall it does nothing.
func (b Build) layers(sigma units.AirflowResistivity, open *Openness) []absorber.Layer {
	list := make([]absorber.Layer, 0, 4)
	var cloth absorber.Fabric
	if open != nil {
		cloth = absorber.Fabric{Resistance: open.Resistance}
		if b.Fabric.SurfaceMass != nil {
			cloth.SurfaceMass = b.Fabric.SurfaceMass.Value
		}
		list = append(list, cloth)
	}
	list = append(list, absorber.Fill{Resistivity: sigma, Thickness: b.FillDepth()})
	if b.AirGap > 0 {
		if open != nil && b.BackWrapped() {
			list = append(list, cloth)
		}
		list = append(list, absorber.Gap{Depth: b.AirGap})
	}
	return list
}

// bracket spans the airflow resistivities of fills for which none is known: the range in
// which the model is used (absorber_model.md section 1).
var bracket = []units.AirflowResistivity{1000, 3000, 10_000, 30_000, 100_000}

// fabricEffect returns the largest change of an octave by the fabric over this fill; where
// the fill's resistivity is not known, the largest over all that a fill may have.
func (e *Estimator) fabricEffect(b Build, open Openness) (float64, bool) {
	sigmas := bracket
	if b.Fill.Resistivity != nil {
		sigmas = []units.AirflowResistivity{b.Fill.Resistivity.Value}
	}
	worst := 0.0
	for _, sigma := range sigmas {
		bare, err1 := e.kernel.Absorption(b.layers(sigma, nil))
		covered, err2 := e.kernel.Absorption(b.layers(sigma, &open))
		if err1 != nil || err2 != nil {
			return 0, false
		}
		worst = max(worst, largestChange(bare, covered))
	}
	return worst, true
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

// fitting returns the nearest test that fits the build, or nil. Nearest is by thickness, then
// gap, then density; ties end in the slug, then the id.
func (e *Estimator) fitting(b Build) *catalog.AbsorptionTest {
	var best *catalog.AbsorptionTest
	for i := range e.tests[b.Fill.ID] {
		t := &e.tests[b.Fill.ID][i]
		if b.fits(*t) && (best == nil || b.nearer(*t, *best)) {
			best = t
		}
	}
	return best
}

func (b Build) fits(t catalog.AbsorptionTest) bool {
	off := b.thicknessOff(t)
	if off > ThicknessLimit || float64(off) > ThicknessShare*float64(t.Thickness) || b.gapOff(t) > GapLimit {
		return false
	}
	against := t.Mounting == "A" || t.Mounting == "B"
	before := t.Mounting == "E" || t.Mounting == "D"
	if !against && !before || against != (b.AirGap <= GapLimit) {
		return false
	}
	return b.densityOff(t) <= DensityShare
}

func (b Build) nearer(x, y catalog.AbsorptionTest) bool {
	return cmp.Or(
		cmp.Compare(b.thicknessOff(x), b.thicknessOff(y)),
		cmp.Compare(b.gapOff(x), b.gapOff(y)),
		cmp.Compare(b.densityOff(x), b.densityOff(y)),
		cmp.Compare(x.Slug, y.Slug),
		cmp.Compare(x.ID, y.ID)) < 0
}

func (b Build) thicknessOff(t catalog.AbsorptionTest) units.Length {
	return units.Length(math.Abs(float64(b.FillDepth() - t.Thickness)))
}

func (b Build) gapOff(t catalog.AbsorptionTest) units.Length {
	return units.Length(math.Abs(float64(b.AirGap - t.AirGap)))
}

// densityOff is the deviation as a share of the tested density, 0 where either is not known.
func (b Build) densityOff(t catalog.AbsorptionTest) float64 {
	if t.Density == 0 || b.Fill.Density == nil {
		return 0
	}
	return math.Abs(float64(b.Fill.Density.Value-t.Density)) / float64(t.Density)
}
