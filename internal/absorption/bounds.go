package absorption

import (
	"math"

	"sabinbook/internal/bands"
)

// spread says how laboratory values scatter about the values of one kind, per octave: how
// much they run above them on average, and the standard deviation of that.
type spread struct {
	excess, deviation [bands.OctaveCount]float64
	cover             float64 // deviations on each side that hold 95 of 100 cases
}

// The spreads. Those of published cases are recomputed by TestSpreads from the rows they rest
// on; laboratory values count as printed there, also above 1, since that is what a
// laboratory would print.
//
// twoSided is the coverage factor of ISO 12999-2. newSource is the least, in steps of 0.1, with
// which 95 of 100 room values lie inside the bounds when the source they come from takes no part
// in finding the scatter: rows of one book resemble each other, and the next fill comes from
// another. It serves for the pairs too, of which it then holds 91 and 93.
var (
	// roomSpread: model (infinite front) against the 15 measured rows of prediction_cases.csv.
	roomSpread = spread{
		excess:    [6]float64{0.007, 0.162, 0.218, 0.126, 0.064, 0.033},
		deviation: [6]float64{0.096, 0.130, 0.137, 0.129, 0.087, 0.145},
		cover:     newSource,
	}
	// patchSpread: the same with a patch of 2.74 m x 2.44 m for the rows from Long 2014,
	// 3.6 m x 3.0 m for the others, as assumed in the transfer study (absorber_model.md section 11).
	patchSpread = spread{
		excess:    [6]float64{-0.176, -0.150, -0.036, 0.005, 0.018, 0.017},
		deviation: [6]float64{0.124, 0.109, 0.114, 0.112, 0.084, 0.144},
		cover:     newSource,
	}
	// sameBacking: values carried from one test to another with the same kind of backing, the
	// wall or air, over the pairs of porous.csv that transferSets lists in the tests.
	sameBacking = spread{
		excess:    [6]float64{0.022, 0.038, 0.070, 0.060, 0.044, 0.072},
		deviation: [6]float64{0.147, 0.121, 0.131, 0.080, 0.065, 0.088},
		cover:     newSource,
	}
	// otherBacking: the same from the wall to air and back.
	otherBacking = spread{
		excess:    [6]float64{0.028, 0.083, 0.115, 0.080, 0.042, 0.081},
		deviation: [6]float64{0.255, 0.212, 0.186, 0.062, 0.047, 0.101},
		cover:     newSource,
	}
	// tubeSpread: model at normal incidence against the twelve tube values, 250 Hz to 1000 Hz, of
	// two foams of measured resistivity in porous_natural_foam.csv (PN001 to PN004), all bands
	// taken together and used for all.
	tubeSpread = spread{
		excess:    [6]float64{0.045, 0.045, 0.045, 0.045, 0.045, 0.045},
		deviation: [6]float64{0.082, 0.082, 0.082, 0.082, 0.082, 0.082},
		cover:     newSource,
	}
)

const (
	twoSided  = 2.0
	newSource = 2.8
)

// octaveDeviation is the reproducibility standard deviation of a coefficient measured in
// octaves. Source: ISO 12999-2:2020 as absorber_model.md section 11 gives it; example
// figures of the standard, not limits for every specimen.
var octaveDeviation = [bands.OctaveCount]float64{0.085, 0.045, 0.04, 0.04, 0.04, 0.05}

// thirdDeviation is the reproducibility standard deviation of a coefficient measured in
// thirds: half of the expanded uncertainties +-0.17 at 125 Hz, 0.09 at 250, 0.08 from 315 to
// 1000, 0.09 at 2000, 0.13 at 4000 Hz; linear over the bands between, the end value beyond.
// Source: ISO 12999-2:2020, second hand (ratings.md section 5).
func thirdDeviation(b bands.Band) float64 {
	const hz125, hz250, hz315, hz1000, hz2000, hz4000 bands.Band = 1, 4, 5, 10, 13, 16
	return between([]bands.Band{hz125, hz250, hz315, hz1000, hz2000, hz4000}, []float64{0.17, 0.09, 0.08, 0.08, 0.09, 0.13}, b) / 2
}

// between interpolates values at some bands linearly over the index of bands, which is the
// logarithm of frequency; beyond the ends it is the end value.
func between(at []bands.Band, value []float64, b bands.Band) float64 {
	if b <= at[0] {
		return value[0]
	}
	for i := 1; i < len(at); i++ {
		if b <= at[i] {
			share := float64(b-at[i-1]) / float64(at[i]-at[i-1])
			return value[i-1] + share*(value[i]-value[i-1])
		}
	}
	return value[len(value)-1]
}

// reach is how far below and above a value 95 of 100 laboratory values lie.
type reach struct{ down, up float64 }

// octave returns the reach in octave i.
func (s spread) octave(i int) reach { return s.reach(s.excess[i], s.deviation[i]) }

// inOctaves is octave by the band at the centre.
func (s spread) inOctaves(b bands.Band) reach {
	i, _ := b.OctaveIndex()
	return s.octave(i)
}

// third returns the reach in a third-octave band, interpolated between the octaves.
func (s spread) third(b bands.Band) reach {
	centres := bands.Octaves()
	return s.reach(between(centres, s.excess[:], b), between(centres, s.deviation[:], b))
}

func (s spread) reach(excess, deviation float64) reach {
	return reach{down: max(0, s.cover*deviation-excess), up: max(0, s.cover*deviation+excess)}
}

// measuredReach is the reach of a measured value in a band of a curve.
func measuredReach(basis bands.Basis, b bands.Band) reach {
	deviation := thirdDeviation(b)
	if i, centre := b.OctaveIndex(); basis == bands.Octave && centre {
		deviation = octaveDeviation[i]
	}
	return reach{twoSided * deviation, twoSided * deviation}
}

// measuredReaches is measuredReach for a curve on a basis.
func measuredReaches(basis bands.Basis) func(bands.Band) reach {
	return func(b bands.Band) reach { return measuredReach(basis, b) }
}

// coverShare is the share of the change by fabrics and sheets that may be wrong either way.
// Convention: no published pairs with and without a fabric were found.
const coverShare = 0.5

// scaled returns the two curves in which the change from a to b is so much less and more.
func scaled(a, b bands.Curve, share float64) [2]bands.Curve {
	at := func(share float64) bands.Curve {
		return b.Map(func(band bands.Band, y float64) float64 {
			x, _ := a.At(band)
			return min(max(0, x+share*(y-x)), 1)
		})
	}
	return [2]bands.Curve{at(1 - share), at(1 + share)}
}

// bounded returns the curve with bounds: the reach of each band, with what the variants of
// the curve (the same with one figure at a bound) differ from it, as independent parts. The
// bounds of a coefficient are not below 0, and not above most.
func bounded(value bands.Curve, of func(bands.Band) reach, variants [][2]bands.Curve, most float64) Bounded {
	out := Bounded{Value: value, Low: value, High: value}
	for _, b := range value.Basis.Bands() {
		x, known := value.At(b)
		if !known {
			continue
		}
		r := of(b)
		down, up := r.down*r.down, r.up*r.up
		for _, pair := range variants {
			least, largest := x, x
			for _, c := range pair {
				if y, ok := c.At(b); ok {
					least, largest = min(least, y), max(largest, y)
				}
			}
			down += (x - least) * (x - least)
			up += (largest - x) * (largest - x)
		}
		out.Low.Set(b, min(x, max(0, x-math.Sqrt(down))))
		out.High.Set(b, max(x, min(most, x+math.Sqrt(up))))
	}
	return out
}
