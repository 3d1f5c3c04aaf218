package ratings_test

import (
	"encoding/binary"
	"math"
	"math/big"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"sabinbook/internal/bands"
	"sabinbook/internal/ratings"
)

func band(hz int) bands.Band {
	b, ok := bands.Parse(hz)
	if !ok {
		panic("no such band")
	}
	return b
}

func TestMissingBandsLeaveOutWhatNeedsThem(t *testing.T) {
	c := bands.NewCurve(bands.ThirdOctave)
	for _, b := range bands.Thirds() {
		if b != band(5000) && b != band(100) {
			c.Set(b, 0.5)
		}
	}
	r := ratings.Rate(c)
	if r.Weighted != nil || r.NRC == nil || r.SAA == nil {
		t.Errorf("without 5000 Hz there is an NRC and an SAA but no weighted coefficient: %+v", r)
	}
	want := []ratings.Note{
		{Code: ratings.BandsMissing, Rating: ratings.KindPractical, Bands: []bands.Band{band(100), band(5000)}},
		{Code: ratings.BandsMissing, Rating: ratings.KindWeighted, Bands: []bands.Band{band(5000)}},
	}
	if d := cmp.Diff(want, r.Notes); d != "" {
		t.Error(d)
	}
	if _, known := r.Practical.At(0); known {
		t.Error("the 125 Hz octave lacks a third")
	}

	empty := ratings.Rate(bands.NewCurve(bands.ThirdOctave))
	if empty.Weighted != nil || empty.NRC != nil || empty.SAA != nil || len(empty.Notes) != 4 {
		t.Errorf("an empty curve rates nothing and says so four times: %+v", empty)
	}
}

func TestWhatIsNoCoefficientCountsAsMissing(t *testing.T) {
	for _, bad := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), -0.01, 1e300} {
		c := flat(0.5)
		c.Set(band(500), bad)
		r := ratings.Rate(c)
		if r.NRC != nil || r.Weighted != nil {
			t.Errorf("%v was rated", bad)
		}
		if r.Notes[0].Code != ratings.ValuesUnusable || len(r.Notes[0].Bands) != 1 || r.Notes[0].Bands[0] != band(500) {
			t.Errorf("%v: first note %+v", bad, r.Notes[0])
		}
	}
}

func TestUnclassifiedResultsHaveNoIndicator(t *testing.T) {
	// Weighted 0.05 with a value at 250 Hz far above the shifted curve, as gypsum board has.
	r := ratings.Rate(bands.OctaveCurve([6]float64{0.30, 0.30, 0.05, 0.05, 0.05, 0.05}))
	if r.Weighted.Class != ratings.NotClassified || r.Weighted.Indicators != "" {
		t.Errorf("got %v, class %s", r.Weighted, r.Weighted.Class)
	}
	if r.Notes[0].Code != ratings.NoIndicatorWhenUnclassified {
		t.Errorf("notes %+v", r.Notes)
	}
}

func TestFromDecaysRefusesWhatCannotBe(t *testing.T) {
	good := ratings.Decay{Time: 8, SoundSpeed: 343}
	for _, bad := range []ratings.Decay{{Time: 0, SoundSpeed: 343}, {Time: math.NaN(), SoundSpeed: 343}, {Time: 8}} {
		if _, _, ok := ratings.FromDecays(200, 10, good, bad); ok {
			t.Errorf("%+v was taken", bad)
		}
	}
	if _, _, ok := ratings.FromDecays(200, 0, good, good); ok {
		t.Error("a specimen without area was taken")
	}
}

// coefficients draws n coefficients in whole steps of a hundredth or in any number of decimals.
func coefficients(t *rapid.T, n int) []float64 {
	value := rapid.Custom(func(t *rapid.T) float64 { return float64(rapid.IntRange(0, 130).Draw(t, "h")) / 100 })
	if rapid.Bool().Draw(t, "fine") {
		value = rapid.Float64Range(0, 1.3)
	}
	return rapid.SliceOfN(value, n, n).Draw(t, "alpha")
}

func thirds(v []float64) bands.Curve { return bands.ThirdCurve([18]float64(v)) }

// roundRat rounds x to the nearest multiple of unit, ties up, in exact rational numbers
// of any size: an independent way to the same result.
func roundRat(x, unit *big.Rat) float64 {
	q := new(big.Rat).Add(new(big.Rat).Quo(x, unit), big.NewRat(1, 2))
	n := new(big.Int).Div(q.Num(), q.Denom())
	f, _ := new(big.Rat).Mul(new(big.Rat).SetInt(n), unit).Float64()
	return f
}

func TestAgainstRationalArithmetic(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := coefficients(t, 18)
		exact := func(from, to, every int) *big.Rat {
			total, n := new(big.Rat), int64(0)
			for b := from; b <= to; b += every {
				total.Add(total, big.NewRat(int64(math.Round(v[b]*1e6)), 1_000_000))
				n++
			}
			return total.Quo(total, big.NewRat(n, 1))
		}
		r := ratings.Rate(thirds(v))
		if want := roundRat(exact(4, 13, 3), big.NewRat(1, 20)); math.Abs(r.NRC.Float()-want) > 1e-9 {
			t.Errorf("NRC %v, want %v", r.NRC, want)
		}
		if want := roundRat(exact(3, 14, 1), big.NewRat(1, 100)); math.Abs(r.SAA.Float()-want) > 1e-9 {
			t.Errorf("SAA %v, want %v", r.SAA, want)
		}
		for i := range bands.OctaveCount {
			two := roundRat(exact(3*i, 3*i+2, 1), big.NewRat(1, 100))
			want := min(roundRat(big.NewRat(int64(math.Round(two*100)), 100), big.NewRat(1, 20)), 1)
			if p, _ := r.Practical.At(i); math.Abs(p.Float()-want) > 1e-9 {
				t.Errorf("practical %d: %v, want %v", i, p, want)
			}
		}
	})
}

func TestMoreAbsorptionNeverRatesLower(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := coefficients(t, 18)
		before := ratings.Rate(thirds(v))
		v[rapid.IntRange(0, 17).Draw(t, "band")] += rapid.Float64Range(0, 0.5).Draw(t, "rise")
		after := ratings.Rate(thirds(v))
		if after.Weighted.AlphaW < before.Weighted.AlphaW || *after.NRC < *before.NRC || *after.SAA < *before.SAA {
			t.Errorf("rating fell: %v %v %v to %v %v %v", before.Weighted, before.NRC, before.SAA, after.Weighted, after.NRC, after.SAA)
		}
	})
}

func TestTheShiftIsTheSmallestThatFits(t *testing.T) {
	curve := [5]int{80, 100, 100, 100, 90}
	rapid.Check(t, func(t *rapid.T) {
		p := ratings.PracticalOf(bands.OctaveCurve([6]float64(coefficients(t, 6))))
		w, ok := p.Weighted()
		if !ok {
			t.Fatal("all octaves are known")
		}
		below := func(shift int) (total int) {
			for i, c := range curve {
				a, _ := p.At(i + 1)
				total += max(c-shift-int(a), 0)
			}
			return total
		}
		s := int(w.Shift)
		if s%5 != 0 || below(s) != int(w.UnfavourableSum) || below(s) > 10 || (s > 0 && below(s-5) <= 10) {
			t.Errorf("%v: shift %d, sum %d", w, s, below(s))
		}
	})
}

func TestThirdsEqualWithinAnOctaveRateLikeOctaves(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		o := coefficients(t, 6)
		v := make([]float64, 18)
		for b := range v {
			v[b] = o[b/3]
		}
		a, b := ratings.Rate(thirds(v)), ratings.Rate(bands.OctaveCurve([6]float64(o)))
		if *a.Weighted != *b.Weighted || *a.NRC != *b.NRC {
			t.Errorf("%v %v against %v %v", a.Weighted, a.NRC, b.Weighted, b.NRC)
		}
	})
}

// FuzzRate feeds any eighteen numbers: no panic, and every result within its bounds.
func FuzzRate(f *testing.F) {
	f.Add(make([]byte, 18*8), true)
	f.Add(binary.LittleEndian.AppendUint64(nil, math.Float64bits(math.NaN())), false)
	f.Fuzz(func(t *testing.T, data []byte, octaves bool) {
		c := bands.NewCurve(bands.ThirdOctave)
		if octaves {
			c = bands.NewCurve(bands.Octave)
		}
		for _, b := range c.Basis.Bands() {
			if len(data) < 8 {
				break
			}
			c.Set(b, math.Float64frombits(binary.LittleEndian.Uint64(data)))
			data = data[8:]
		}
		r := ratings.Rate(c)
		if w := r.Weighted; w != nil && (w.AlphaW < 0 || w.AlphaW > 100 || w.AlphaW%5 != 0 || w.UnfavourableSum > 10) {
			t.Errorf("weighted %+v", w)
		}
		for _, n := range []*ratings.Hundredths{r.NRC, r.SAA} {
			if n != nil && (*n < 0 || n.Float() > ratings.Largest) {
				t.Errorf("out of bounds: %v", *n)
			}
		}
		if (r.Weighted == nil || r.NRC == nil || r.SAA == nil) && len(r.Notes) == 0 {
			t.Error("something is absent without a note")
		}
	})
}
