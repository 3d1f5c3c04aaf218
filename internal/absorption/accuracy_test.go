package absorption

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
)

// guide is the page whose tables this file makes:
//
//	go test ./internal/absorption -run TestAccuracyInTheGuide -update
const guide = "../../openapi/absorption.md"

// score collects how estimates do against laboratory values.
type score struct {
	cases, values   int
	inside          int
	squares, excess float64
}

// add counts an estimate: its error with both values capped at 1, as the transfer study has it,
// and whether the laboratory value as printed lies within the bounds.
func (s *score) add(lab [bands.OctaveCount]float64, e Bounded) {
	s.cases++
	for i, x := range lab {
		b := bands.OctaveBand(i)
		value, _ := e.Value.At(b)
		low, _ := e.Low.At(b)
		high, _ := e.High.At(b)
		d := min(x, 1) - min(value, 1)
		s.values++
		s.squares += d * d
		s.excess += d
		if x >= low-1e-9 && x <= high+1e-9 {
			s.inside++
		}
	}
}

func (s score) rms() float64      { return math.Sqrt(s.squares / float64(s.values)) }
func (s score) coverage() float64 { return float64(s.inside) / float64(s.values) }

func (s score) row(name, leftOut string) string {
	return fmt.Sprintf("| %s | %d | %.2f | %+.2f | %.0f %% | %s |\n", name, s.cases, s.rms(), s.excess/float64(s.values), 100*s.coverage(), leftOut)
}

// asKnown is the case with its nominal resistivity taken as published and without a range.
func (c publishedCase) asKnown(t *testing.T) Estimate {
	c.sigma.Low, c.sigma.High = 0, 0
	e, err := NewEstimator(nil, StandardConditions())
	if err != nil {
		t.Fatal(err)
	}
	f := c.fill()
	f.Resistivity.Evidence = catalog.Published
	s := c.sampleOf(f)
	out, why := e.Estimate(s)
	if why != "" {
		t.Fatal(why)
	}
	return out
}

// leavingOut is the coverage of the room spread when it is made without the cases of the
// source of each case: what somebody with a new source would have seen.
func leavingOut(t *testing.T, list []publishedCase, cover float64) float64 {
	var s score
	for _, c := range list {
		var others against
		for _, o := range list {
			if o.source != c.source {
				others.add(o.alpha, o.estimate(t, StandardConditions()).Octaves.Value)
			}
		}
		around := others.spread()
		around.cover = cover
		value := c.estimate(t, StandardConditions()).Octaves.Value
		s.add(c.alpha, bounded(value, around.inOctaves, nil, math.Inf(1)))
	}
	return s.coverage()
}

func TestNewSourceIsTheLeastFactorThatHolds95OfANewSource(t *testing.T) {
	cases := predictionCases(t)
	if at, below := leavingOut(t, cases, newSource), leavingOut(t, cases, newSource-0.1); at < 0.95 || below >= 0.95 {
		t.Errorf("holds %.3f, with 0.1 less %.3f", at, below)
	}
}

func accuracyTables(t *testing.T) string {
	var predicted, estimated, adapted, same, other, sameAsItIs score
	cases := predictionCases(t)
	var text strings.Builder
	text.WriteString("| basis | cases | rms error | mean error | inside the bounds | with the source left out |\n|---|---|---|---|---|---|\n")
	best := map[string]Estimate{}
	for _, c := range cases {
		predicted.add(c.alpha, c.asKnown(t).Octaves)
		estimated.add(c.alpha, c.estimate(t, StandardConditions()).Octaves)
		var siblings []catalog.AbsorptionTest
		for _, o := range cases {
			if o.id != c.id && o.set == c.set && c.set != "" {
				siblings = append(siblings, o.test())
			}
		}
		if len(siblings) == 0 {
			continue
		}
		e := c.estimate(t, StandardConditions(), siblings...)
		best[c.id] = e
		adapted.add(c.alpha, e.Octaves)
	}
	pairs(transferCases(t), func(from, to publishedCase) {
		e := to.estimate(t, StandardConditions(), from.test())
		raw := bounded(from.test().Alpha, measuredReaches(bands.Octave), nil, math.Inf(1))
		if e.Choice.SameBacking {
			same.add(to.alpha, e.Octaves)
			sameAsItIs.add(to.alpha, raw)
		} else {
			other.add(to.alpha, e.Octaves)
		}
	})
	text.WriteString(predicted.row("predicted (nominal resistivity taken as known)", fmt.Sprintf("%.0f %%", 100*leavingOut(t, cases, newSource))))
	text.WriteString(estimated.row("estimated (its range carried through)", ""))
	text.WriteString(adapted.row("adapted from the nearest other row of the material", ""))
	text.WriteString(same.row("adapted, every pair with the same backing", leavingOutPairs(t, true)))
	text.WriteString(other.row("adapted, every pair from the wall to air or back", leavingOutPairs(t, false)))
	text.WriteString(sameAsItIs.row("for comparison: the other test's curve as it is, same backing, bounds of a measured value", ""))

	text.WriteString("\n| case | | 125 | 250 | 500 | 1000 | 2000 | 4000 Hz |\n|---|---|---|---|---|---|---|---|\n")
	line := func(name, what string, c bands.Curve) {
		fmt.Fprintf(&text, "| %s | %s |", name, what)
		for i := range bands.OctaveCount {
			x, _ := c.Octave(i)
			fmt.Fprintf(&text, " %.2f |", x)
		}
		text.WriteString("\n")
	}
	for _, c := range cases {
		name := fmt.Sprintf("%s, %g mm", c.id, float64(c.thickness))
		if c.gap > 0 {
			name += fmt.Sprintf(" before %g mm of air", float64(c.gap))
		}
		line(name, "published", bands.OctaveCurve(c.alpha))
		line("", "predicted", c.asKnown(t).Octaves.Value)
		if e, ok := best[c.id]; ok {
			line("", "adapted from "+strings.ToUpper(string(e.Test.Slug)), e.Octaves.Value)
		}
	}
	return text.String()
}

func leavingOutPairs(t *testing.T, backing bool) string {
	type pair struct {
		source string
		alpha  [bands.OctaveCount]float64
		value  bands.Curve
	}
	var all []pair
	pairs(transferCases(t), func(from, to publishedCase) {
		if e := to.estimate(t, StandardConditions(), from.test()); e.Choice.SameBacking == backing {
			all = append(all, pair{to.source, to.alpha, e.Octaves.Value})
		}
	})
	var s score
	for _, p := range all {
		var others against
		for _, o := range all {
			if o.source != p.source {
				others.add(o.alpha, o.value)
			}
		}
		if len(others.diff[0]) < 3 {
			continue
		}
		around := others.spread()
		s.add(p.alpha, bounded(p.value, around.inOctaves, nil, math.Inf(1)))
	}
	return fmt.Sprintf("%.0f %% (%d pairs)", 100*s.coverage(), s.cases)
}

// The tables of the guide are what the code gives today.
func TestAccuracyInTheGuide(t *testing.T) {
	const begin, end = "<!-- accuracy: made by go test ./internal/absorption -run TestAccuracyInTheGuide -update -->\n", "<!-- end of accuracy -->"
	page, err := os.ReadFile(guide)
	if err != nil {
		t.Fatal(err)
	}
	head, rest, ok := strings.Cut(string(page), begin)
	_, tail, ok2 := strings.Cut(rest, end)
	if !ok || !ok2 {
		t.Fatal("the guide has no place for the tables")
	}
	want := head + begin + "\n" + accuracyTables(t) + "\n" + end + tail
	if *update {
		if err := os.WriteFile(guide, []byte(want), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if !bytes.Equal(page, []byte(want)) {
		t.Error("the tables are not those of the code: run the command beside them and read what changed")
	}
}
