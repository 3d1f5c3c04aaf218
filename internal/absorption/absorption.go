// Package absorption says what layers on a wall absorb, on what that rests, and how sure
// it is.
//
// Four bases, in the order of trust:
//
//	measured   a test of this fill at this build, used as it is
//	adapted    a test of the same fill at another thickness, gap or cover, carried over by
//	           the ratio of model values
//	predicted  the absorber model with an airflow resistivity that somebody measured,
//	           published or declared
//	estimated  the same with a resistivity estimated from density and fibre
//
// A Question names layers, from stored records or with figures of its own, and Answer
// works it out from a snapshot of the catalog. A Sample is the same without names: package
// panels makes one of a panel as it is built. An Estimator answers for many samples and
// remembers what they share.
//
// Low and high bound, on every basis, what a reverberation room would measure on a
// specimen of the sample, in 95 of 100 cases (for normal incidence: an impedance tube). A
// measured value has the reproducibility of the method. The others have the scatter that
// published curves show about the values of this package, which is mostly one-sided: the
// model has no edges and laboratory specimens have. To that the stated ranges of
// resistivities and of the openness of fabrics are added, carried through the model.
// Where such a range is not stated nothing is added.
//
// Simplifications:
//   - What fabrics and sheets do rests on the model alone: no published pairs with and without
//     were found. By convention half of their change counts as doubtful.
//   - The scatter of a third-octave band is that of the octaves around it, since only
//     octave values were found; single thirds scatter somewhat more.
//   - All estimated cases that were found have estimated resistivities. The scatter of
//     predicted values is therefore that of estimated ones, and on the safe side.
package absorption

import (
	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
)

// ModelVersion names the computation; it changes whenever the answer to an equal question
// may change.
const ModelVersion = "1"

// Basis says on what an absorption rests.
type Basis string

// The bases, in the order of trust.
const (
	Measured  Basis = "measured"
	Adapted   Basis = "adapted"
	Predicted Basis = "predicted"
	Estimated Basis = "estimated"
)

// Reason says why no absorption can be given for a sample.
type Reason string

// The reasons.
const (
	NoData         Reason = "no_absorption_data"    // neither a test nor an airflow resistivity
	NoFittingTest  Reason = "no_fitting_test"       // tests, but of other builds, and no airflow resistivity
	TestSetAside   Reason = "test_set_aside"        // the test that fits is set aside, and no airflow resistivity
	FabricUnclear  Reason = "fabric_effect_unclear" // a test that fits, but what the fabric does to it cannot be told
	NoOpenness     Reason = "no_fabric_openness"
	OutsideOfModel Reason = "outside_model" // a stored figure is outside what can be computed
)

// Warning weakens an absorption. Value, Low and High are what the code says; Layer is the
// index from the room, -1 for the sample as a whole.
type Warning struct {
	Code             string
	Layer            int
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
	// OtherBacking: the test stood against the wall and the sample before air, or the reverse;
	// such values scatter twice as much.
	OtherBacking = "test_of_other_backing"
	// RatioLimited: the ratio of model values left Low to High in some band and was limited.
	RatioLimited = "ratio_limited"
	// TestsLeftAside: there are tests of the fill, but the question asks for conditions in
	// which no test was made.
	TestsLeftAside = "tests_left_aside"
	// BelowLaboratory: predicted values run about Value below laboratory curves.
	BelowLaboratory = "model_runs_below_laboratory"
	// SpreadOfOtherConditions: the bounds are those of the recommended conditions; for the
	// asked ones no published cases were found.
	SpreadOfOtherConditions = "bounds_of_other_conditions"
	// OpennessEstimated: the openness of the fabric is derived, not measured; it may be Low to High.
	OpennessEstimated = "openness_estimated"
	// ResistivityEstimated: the resistivity of the fill is estimated, between Low and High.
	ResistivityEstimated = "resistivity_estimated"
)

// Bounded is a curve with its bounds: in each band Low <= Value <= High.
type Bounded struct {
	Value, Low, High bands.Curve
}

// Estimate is what a sample absorbs, on what that rests and how sure it is.
type Estimate struct {
	Basis Basis
	// Thirds are empty where the values come from a test in octaves.
	Thirds, Octaves Bounded
	// Test is the test on which measured and adapted values rest, and Choice says why this one.
	Test   *catalog.AbsorptionTest
	Choice Choice
	// SetAside is the test that would have been taken, had nobody set it aside; nil without one.
	SetAside *catalog.AbsorptionTest
	// Model holds the model values of which an adapted value takes the ratio; nil for others.
	Model *Ratio
	// Cover tells what fabrics and sheets do in each octave, by the model; nil without any, and
	// where the resistivity of the fill is not known.
	Cover *[bands.OctaveCount]Effect
	// CoverEffect is the largest change of an octave by them.
	CoverEffect float64
	Warnings    []Warning
	Sources     []catalog.ID
}

// Ratio holds model values in octaves: of the sample, and of the specimen of the test.
type Ratio struct{ Sample, Tested bands.Curve }

// Curve is the estimate in thirds, in octaves where it has no thirds.
func (e Estimate) Curve() bands.Curve {
	if e.Thirds.Value.Len() > 0 {
		return e.Thirds.Value
	}
	return e.Octaves.Value
}

// Effect is the change of a coefficient by the cover, with its bounds from the openness.
type Effect struct {
	Change, Low, High float64
}

// Verdict is a word for an effect.
type Verdict string

// The verdicts. Neutral is a change of at most NeutralChange.
const (
	Helps    Verdict = "helps"
	Neutral  Verdict = "neutral"
	Reflects Verdict = "reflects"
)

// NeutralChange is the largest change by a cover that counts as none: a quarter of the
// reproducibility of a measured coefficient. Convention.
const NeutralChange = 0.02

// Verdict returns the word for the change, and whether both bounds have the same.
func (e Effect) Verdict() (word Verdict, sure bool) {
	word = verdict(e.Change)
	return word, verdict(e.Low) == word && verdict(e.High) == word
}

func verdict(change float64) Verdict {
	switch {
	case change > NeutralChange:
		return Helps
	case change < -NeutralChange:
		return Reflects
	}
	return Neutral
}
