// Package ratings turns an absorption curve into the single numbers of the
// trade: practical coefficients and the weighted coefficient with shape
// indicators and class (ISO 11654:1997), NRC and SAA (ASTM C423).
//
// All of it is integer arithmetic. In real curves the sum of deviations is often
// exactly 0.10, an excess exactly 0.25, an NRC mean exactly between two steps;
// binary floating point gets these wrong. A coefficient is rounded once to whole
// millionths, everything after that is exact, and every tie goes up.
//
// Simplifications and choices:
//   - The rules were read second hand, in restatements of the standards and in
//     tests that assert their worked examples, not in the standards themselves.
//   - ISO 11654 names no tie rule for values with more than two decimals; half up
//     is used, as ASTM C423 prescribes for NRC and ISO 80000-1 Annex B offers.
//   - Below a weighted coefficient of 0.20 the shifted reference curve is negative
//     at 250 Hz and nothing seen says whether it is floored. No shape indicator is
//     given to an unclassified result.
//   - Both standards rate third-octave values. Rating octave values is customary
//     in handbooks; it is done, and said in a note. SAA cannot be had from octaves.
//   - A value that is no coefficient at all (NaN, infinite, negative, above Largest)
//     counts as missing. Values above 1 are coefficients and are used as measured.
package ratings

import (
	"fmt"
	"math"

	"sabinbook/internal/bands"
)

// Largest is the largest value that is taken for a coefficient (convention of
// this package: edge diffraction has been measured to about 1.5, never to 10).
const Largest = 10.0

// Hundredths is a rated coefficient in whole hundredths: 65 is 0.65.
type Hundredths int

// Float returns the coefficient as a number.
func (h Hundredths) Float() float64 { return float64(h) / 100 }

// String prints the coefficient with its two decimals.
func (h Hundredths) String() string { return fmt.Sprintf("%d.%02d", h/100, h%100) }

// step is the spacing of practical and weighted coefficients and of NRC, 0.05.
const step = 5

const microsPerHundredth = 10_000

// micros returns the known, usable value of band b in whole millionths.
func micros(c bands.Curve, b bands.Band) (int64, bool) {
	v, known := c.At(b)
	if !known || !(v >= 0 && v <= Largest) {
		return 0, false
	}
	return int64(math.Round(v * 1e6)), true
}

// sum adds the values of the listed bands in millionths, or lists those that lack one.
func sum(c bands.Curve, of []bands.Band) (total int64, missing []bands.Band) {
	for _, b := range of {
		v, ok := micros(c, b)
		if !ok {
			missing = append(missing, b)
		}
		total += v
	}
	return total, missing
}

// halfUp returns n/d rounded to the nearest whole number, ties up, for n >= 0, d > 0.
func halfUp(n, d int64) int64 { return (2*n + d) / (2 * d) }

// nearestStep returns n/d hundredths rounded to the nearest multiple of 0.05, ties up.
func nearestStep(n, d int64) Hundredths { return Hundredths(step * halfUp(n, step*d)) }

// Practical holds the practical absorption coefficients alpha_p of the six octaves
// 125 Hz to 4000 Hz, some of which may be unknown. The value at 125 Hz is shown
// only; no rating uses it (ISO 11654:1997 clause 4.1).
type Practical struct {
	value [bands.OctaveCount]Hundredths
	known [bands.OctaveCount]bool
}

// At returns the coefficient of octave i, 0 (125 Hz) to 5 (4000 Hz), and whether there is one.
func (p Practical) At(i int) (Hundredths, bool) { return p.value[i], p.known[i] }

// octaveBands lists the bands of c that the practical coefficient of octave i is made of.
func octaveBands(c bands.Curve, i int) []bands.Band {
	b := bands.OctaveBand(i)
	if c.Basis == bands.Octave {
		return []bands.Band{b}
	}
	return []bands.Band{b - 1, b, b + 1}
}

// PracticalOf returns the practical coefficients of c: per octave the mean of the
// three thirds (or the octave value itself), rounded to two decimals, then to the
// nearest 0.05, each tie up, and at most 1.00. An octave that lacks a value is unknown.
//
// Source: ISO 11654:1997 clause 4.1, read second hand; 0.92 becomes 0.90. Rounding
// an octave value in place of the mean is common practice with handbook data.
func PracticalOf(c bands.Curve) Practical {
	var p Practical
	for i := range bands.OctaveCount {
		of := octaveBands(c, i)
		total, missing := sum(c, of)
		if len(missing) > 0 {
			continue
		}
		mean := halfUp(total, microsPerHundredth*int64(len(of)))
		p.value[i], p.known[i] = min(nearestStep(mean, 1), 100), true
	}
	return p
}

// Class is a sound absorption class of ISO 11654:1997 Annex B.
type Class string

// The classes.
const (
	ClassA        Class = "A"
	ClassB        Class = "B"
	ClassC        Class = "C"
	ClassD        Class = "D"
	ClassE        Class = "E"
	NotClassified Class = "not_classified"
)

// ClassOf returns the class of a weighted coefficient (ISO 11654:1997 Table B.1,
// informative, read second hand).
func ClassOf(alphaW Hundredths) Class {
	switch {
	case alphaW >= 90:
		return ClassA
	case alphaW >= 80:
		return ClassB
	case alphaW >= 60:
		return ClassC
	case alphaW >= 30:
		return ClassD
	case alphaW >= 15:
		return ClassE
	}
	return NotClassified
}

// Weighted is the weighted absorption coefficient with what led to it.
type Weighted struct {
	// AlphaW is the shifted reference curve at 500 Hz.
	AlphaW Hundredths
	// Indicators joins the letters L, M, H of the ranges that exceed the shifted curve
	// by 0.25 or more; empty if none does or if the result is not classified.
	Indicators string
	Class      Class
	// Shift is how far the reference curve was moved down.
	Shift Hundredths
	// UnfavourableSum is the sum of deviations below the shifted curve, at most 0.10.
	UnfavourableSum Hundredths
}

// String prints the result as the standard writes it, for instance "0.60(M)".
func (w Weighted) String() string {
	if w.Indicators == "" {
		return w.AlphaW.String()
	}
	return w.AlphaW.String() + "(" + w.Indicators + ")"
}

// reference is the reference curve at 250, 500, 1000, 2000 and 4000 Hz, allowance the
// largest sum of unfavourable deviations, excess the size that earns an indicator
// (ISO 11654:1997 clauses 4.2 and 4.3; three second-hand sources agree on the curve).
var reference = [5]Hundredths{80, 100, 100, 100, 90}

const (
	allowance Hundredths = 10
	excess    Hundredths = 25
)

// Weighted returns the weighted coefficient of p, and false when one of the octaves
// 250 Hz to 4000 Hz is unknown. The reference curve moves down in steps of 0.05 until
// the sum of unfavourable deviations is at most 0.10.
//
// Source: ISO 11654:1997 clauses 4.2 and 4.3, read second hand.
func (p Practical) Weighted() (Weighted, bool) {
	var alpha [len(reference)]Hundredths
	for i := range alpha {
		v, known := p.At(i + 1)
		if !known {
			return Weighted{}, false
		}
		alpha[i] = v
	}
	w := Weighted{UnfavourableSum: below(alpha, 0)}
	for w.UnfavourableSum > allowance {
		w.Shift += step
		w.UnfavourableSum = below(alpha, w.Shift)
	}
	w.AlphaW = reference[1] - w.Shift
	w.Class = ClassOf(w.AlphaW)
	if w.Class != NotClassified {
		w.Indicators = indicators(alpha, w.Shift)
	}
	return w, true
}

// below sums how far alpha lies below the reference curve moved down by shift.
func below(alpha [5]Hundredths, shift Hundredths) Hundredths {
	total := Hundredths(0)
	for i, a := range alpha {
		total += max(reference[i]-shift-a, 0)
	}
	return total
}

func indicators(alpha [5]Hundredths, shift Hundredths) string {
	above := func(i int) bool { return alpha[i]-(reference[i]-shift) >= excess }
	letters := ""
	if above(0) {
		letters += "L"
	}
	if above(1) || above(2) {
		letters += "M"
	}
	if above(3) || above(4) {
		letters += "H"
	}
	return letters
}

// nrcBands are the bands 250, 500, 1000 and 2000 Hz.
var nrcBands = []bands.Band{bands.OctaveBand(1), bands.OctaveBand(2), bands.OctaveBand(3), bands.OctaveBand(4)}

// saaBands returns the twelve third-octave bands from 200 Hz to 2500 Hz.
func saaBands() []bands.Band { return bands.Thirds()[3:15] }

// NRC returns the noise reduction coefficient, and false when a band is missing: the
// mean of the values at 250, 500, 1000 and 2000 Hz to the nearest 0.05, a tie up, with
// no upper limit. The values are third-octave values; from an octave curve the octave
// values are taken, which is customary only.
//
// Source: ASTM C423 up to C423-17, in quotation: 0.625 becomes 0.65 and 0.675 becomes 0.70.
func NRC(c bands.Curve) (Hundredths, bool) {
	total, missing := sum(c, nrcBands)
	return nearestStep(total, microsPerHundredth*int64(len(nrcBands))), len(missing) == 0
}

// SAA returns the sound absorption average, and false for an octave curve or when a
// band is missing: the mean of the twelve thirds from 200 Hz to 2500 Hz to the nearest
// 0.01, a tie up, with no upper limit.
//
// Source: ASTM C423, read second hand; its wording on ties was not seen.
func SAA(c bands.Curve) (Hundredths, bool) {
	if c.Basis == bands.Octave {
		return 0, false
	}
	of := saaBands()
	total, missing := sum(c, of)
	return Hundredths(halfUp(total, microsPerHundredth*int64(len(of)))), len(missing) == 0
}
