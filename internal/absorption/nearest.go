package absorption

import (
	"cmp"
	"math"
	"slices"

	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
	"sabinbook/internal/units"
)

// Choice says why a test was chosen among those of the fill.
type Choice struct {
	Tests    int // of the fill
	SetAside int // of them: those that are never used
	Eligible int // of the others: those that fit, or those that can be carried over
	// Fits: the test is of this very build, but perhaps for the cover.
	Fits bool
	// SameBacking: both stand against the wall, or both before air.
	SameBacking bool
	// Distance is the largest difference of an octave between the model values of the test
	// and of the sample without its cover; 0 for a test that fits.
	Distance float64
}

// found is the test that was chosen. Aside is the one that would have been, did those that are
// set aside count like any other; nil when they change nothing.
type found struct {
	test, aside *catalog.AbsorptionTest
	choice      Choice
}

// fitting finds the nearest test that fits a fill of a depth with air behind it. Those that are
// preferred go before others that fit. Nearest is by thickness, then gap, then density; ties
// end in the slug, then the id.
func (e *Estimator) fitting(fill catalog.Fill, depth, gap units.Length) found {
	var used, all *catalog.AbsorptionTest
	tests := e.tests[fill.ID]
	choice := Choice{Tests: len(tests), Fits: true, SameBacking: true}
	before := func(t, best *catalog.AbsorptionTest) bool {
		return best == nil || cmp.Or(
			preferredFirst(t, best),
			cmp.Compare(off(depth, t.Thickness), off(depth, best.Thickness)),
			cmp.Compare(off(gap, t.AirGap), off(gap, best.AirGap)),
			cmp.Compare(densityOff(*t, fill), densityOff(*best, fill)),
			cmp.Compare(t.Slug, best.Slug), cmp.Compare(t.ID, best.ID)) < 0
	}
	for i := range tests {
		t := &tests[i]
		if t.Use == catalog.SetAside {
			choice.SetAside++
		}
		if !fits(*t, fill, depth, gap) {
			continue
		}
		if before(t, all) {
			all = t
		}
		if t.Use == catalog.SetAside {
			continue
		}
		choice.Eligible++
		if before(t, used) {
			used = t
		}
	}
	return found{used, setAside(all), choice}
}

// preferredFirst compares for an order in which preferred tests come first.
func preferredFirst(a, b *catalog.AbsorptionTest) int {
	rank := func(t *catalog.AbsorptionTest) int {
		if t.Use == catalog.Preferred {
			return 0
		}
		return 1
	}
	return cmp.Compare(rank(a), rank(b))
}

// setAside is the test if it is set aside, else nil.
func setAside(t *catalog.AbsorptionTest) *catalog.AbsorptionTest {
	if t != nil && t.Use == catalog.SetAside {
		return t
	}
	return nil
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

// candidate is a test that can be carried over. Far is its distance, with what another backing
// adds.
type candidate struct {
	test          *catalog.AbsorptionTest
	same          bool
	distance, far float64
}

// nearest finds the test of the sample's fill that is carried over with the least error: the
// one whose model values differ least from those of the sample without its cover, where another
// kind of backing counts as otherBackingCounts more; ties end in the slug, then the id. Those
// that are preferred go before others that are nearer by at most NeutralChange. One test is
// carried over, never a mean of several.
func (e *Estimator) nearest(s Sample, depth, gap units.Length, uncovered bands.Curve) found {
	var used, all []candidate
	tests := e.tests[s.fill.ID]
	choice := Choice{Tests: len(tests)}
	for i := range tests {
		t := &tests[i]
		if t.Use == catalog.SetAside {
			choice.SetAside++
		}
		if !backed(*t) || densityOff(*t, *s.fill) > DensityShare {
			continue
		}
		tested, err := e.model(specimenOf(*t, s.sigma()))
		if err != nil {
			continue
		}
		c := candidate{test: t, same: againstWall(*t) == (gap <= GapLimit), distance: largestChange(uncovered, tested)}
		c.far = c.distance
		if !c.same {
			c.far += otherBackingCounts
		}
		all = append(all, c)
		if t.Use != catalog.SetAside {
			used = append(used, c)
		}
	}
	choice.Eligible = len(used)
	best := first(used)
	choice.SameBacking, choice.Distance = best.same, best.distance
	return found{best.test, setAside(first(all).test), choice}
}

// first is the candidate that is carried over; its test is nil when there is none.
func first(list []candidate) candidate {
	if len(list) == 0 {
		return candidate{}
	}
	nearer := func(a, b candidate) int {
		return cmp.Or(cmp.Compare(a.far, b.far), cmp.Compare(a.test.Slug, b.test.Slug), cmp.Compare(a.test.ID, b.test.ID))
	}
	least := slices.MinFunc(list, nearer)
	return slices.MinFunc(list, func(a, b candidate) int {
		if x, y := a.favoured(least), b.favoured(least); x != y {
			if x {
				return -1
			}
			return 1
		}
		return nearer(a, b)
	})
}

// favoured reports whether the test is preferred and about as near as the nearest one.
func (c candidate) favoured(least candidate) bool {
	return c.test.Use == catalog.Preferred && c.far <= least.far+NeutralChange
}
