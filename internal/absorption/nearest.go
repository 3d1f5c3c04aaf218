package absorption

import (
	"cmp"
	"math"

	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
	"sabinbook/internal/units"
)

// Choice says why a test was chosen among those of the fill.
type Choice struct {
	Tests    int // of the fill
	Eligible int // of them: those that fit, or those that can be carried over
	// Fits: the test is of this very build, but perhaps for the cover.
	Fits bool
	// SameBacking: both stand against the wall, or both before air.
	SameBacking bool
	// Distance is the largest difference of an octave between the model values of the test
	// and of the sample without its cover; 0 for a test that fits.
	Distance float64
}

// fitting returns the nearest test that fits a fill of a depth with air behind it. Nearest is
// by thickness, then gap, then density; ties end in the slug, then the id.
func (e *Estimator) fitting(fill catalog.Fill, depth, gap units.Length) (catalog.AbsorptionTest, Choice, bool) {
	var best *catalog.AbsorptionTest
	tests := e.tests[fill.ID]
	choice := Choice{Tests: len(tests), Fits: true, SameBacking: true}
	for i := range tests {
		t := &tests[i]
		if !fits(*t, fill, depth, gap) {
			continue
		}
		choice.Eligible++
		if best == nil || cmp.Or(
			cmp.Compare(off(depth, t.Thickness), off(depth, best.Thickness)),
			cmp.Compare(off(gap, t.AirGap), off(gap, best.AirGap)),
			cmp.Compare(densityOff(*t, fill), densityOff(*best, fill)),
			cmp.Compare(t.Slug, best.Slug), cmp.Compare(t.ID, best.ID)) < 0 {
			best = t
		}
	}
	if best == nil {
		return catalog.AbsorptionTest{}, choice, false
	}
	return *best, choice, true
}

func fits(t catalog.AbsorptionTest, fill catalog.Fill, depth, gap units.Length) bool {
	thickness := off(depth, t.Thickness)
	return thickness <= ThicknessLimit && float64(thickness) <= ThicknessShare*float64(t.Thickness) &&
		off(gap, t.AirGap) <= GapLimit && backed(t) && againstWall(t) == (gap <= GapLimit) &&
		densityOff(t, fill) <= DensityShare
}

// backed reports whether the mounting tells what was behind the specimen, and is one that a
// panel can have: A and B against a hard surface, D and E before air.
func backed(t catalog.AbsorptionTest) bool {
	switch t.Mounting {
	case "A", "B", "D", "E":
		return true
	}
	return false
}

func againstWall(t catalog.AbsorptionTest) bool { return t.Mounting == "A" || t.Mounting == "B" }

func off(a, b units.Length) units.Length { return units.Length(math.Abs(float64(a - b))) }

// densityOff is the deviation as a share of the tested density, 0 where either is not known.
func densityOff(t catalog.AbsorptionTest, fill catalog.Fill) float64 {
	if t.Density == 0 || fill.Density == nil {
		return 0
	}
	return math.Abs(float64(fill.Density.Value-t.Density)) / float64(t.Density)
}

// otherBackingCounts is by how much another kind of backing makes a test farther, as a
// difference of model values. Over the published materials of TestSpreads each case is then
// carried over from its nearest test with an rms error of 0.07; with none it is 0.08, with more
// no less, but a plenum of 375 mm would stand for a gap of 50 mm before a wall does.
const otherBackingCounts = 0.1

// nearest returns the test of the sample's fill that is carried over with the least error: the
// one whose model values differ least from those of the sample without its cover, where another
// kind of backing counts as otherBackingCounts more; ties end in the slug, then the id. One
// test is carried over, never a mean of several.
func (e *Estimator) nearest(s Sample, depth, gap units.Length, uncovered bands.Curve) (catalog.AbsorptionTest, Choice, bool) {
	var best *catalog.AbsorptionTest
	tests := e.tests[s.fill.ID]
	choice, least := Choice{Tests: len(tests)}, 0.0
	for i := range tests {
		t := &tests[i]
		if !backed(*t) || densityOff(*t, *s.fill) > DensityShare {
			continue
		}
		tested, err := e.model(specimenOf(*t, s.sigma()))
		if err != nil {
			continue
		}
		choice.Eligible++
		same, distance := againstWall(*t) == (gap <= GapLimit), largestChange(uncovered, tested)
		far := distance
		if !same {
			far += otherBackingCounts
		}
		if best == nil || cmp.Or(cmp.Compare(far, least), cmp.Compare(t.Slug, best.Slug), cmp.Compare(t.ID, best.ID)) < 0 {
			best, least = t, far
			choice.SameBacking, choice.Distance = same, distance
		}
	}
	if best == nil {
		return catalog.AbsorptionTest{}, choice, false
	}
	return *best, choice, true
}
