package sampling

import (
	"fmt"
	"math"
	"slices"
	"testing"
)

// Source: tests/kat_vectors of the Random123 distribution (D. E. Shaw Research), lines
// "philox4x32 10"; seen in several public repositories that quote them.
func TestKnownAnswers(t *testing.T) {
	for _, c := range []struct {
		counter [4]uint32
		key     [2]uint32
		want    [4]uint32
	}{
		{[4]uint32{}, [2]uint32{}, [4]uint32{0x6627e8d5, 0xe169c58d, 0xbc57ac4c, 0x9b00dbd8}},
		{[4]uint32{0xffffffff, 0xffffffff, 0xffffffff, 0xffffffff}, [2]uint32{0xffffffff, 0xffffffff}, [4]uint32{0x408f276d, 0x41c83b0e, 0xa20bc7c6, 0x6d5451fd}},
		{[4]uint32{0x243f6a88, 0x85a308d3, 0x13198a2e, 0x03707344}, [2]uint32{0xa4093822, 0x299f31d0}, [4]uint32{0xd16cfe09, 0x94fdcceb, 0x5001e420, 0x24126ea1}},
	} {
		if got := philox(c.counter, c.key); got != c.want {
			t.Errorf("%08x: %08x, want %08x", c.counter, got, c.want)
		}
	}
}

// A draw of a standard normal distribution: the share below each quantile is what the error
// function says, within four standard deviations of a binomial.
func TestDrawsAreNormal(t *testing.T) {
	const n = 100_000
	draws := make([]float64, n)
	sum := 0.0
	for i := range draws {
		draws[i] = Seed(7).Normal(uint32(i), Named("fill of Lantern Yard"))
		sum += draws[i]
	}
	if mean := sum / n; math.Abs(mean) > 4/math.Sqrt(n) {
		t.Errorf("mean %g", mean)
	}
	slices.Sort(draws)
	for _, z := range []float64{-2.5, -1, 0, 0.5, 1.645, 3} {
		below, _ := slices.BinarySearch(draws, z)
		p := 0.5 * (1 + math.Erf(z/math.Sqrt2))
		if got := float64(below) / n; math.Abs(got-p) > 4*math.Sqrt(p*(1-p)/n) {
			t.Errorf("%g of the draws below %g, want %g", got, z, p)
		}
	}
}

// Things, seeds and numbers of draws that differ give draws that do not go together.
func TestDrawsAreIndependent(t *testing.T) {
	const n = 20_000
	series := map[string]func(i uint32) float64{
		"thing":     func(i uint32) float64 { return Seed(1).Normal(i, Named("a")) },
		"another":   func(i uint32) float64 { return Seed(1).Normal(i, Named("b")) },
		"seed":      func(i uint32) float64 { return Seed(2).Normal(i, Named("a")) },
		"next draw": func(i uint32) float64 { return Seed(1).Normal(i+1, Named("a")) },
		"a series":  func(i uint32) float64 { return Seed(1).Normal(3, Named(fmt.Sprint("a", i))) },
	}
	for x, a := range series {
		for y, b := range series {
			if x >= y {
				continue
			}
			r := 0.0
			for i := range uint32(n) {
				r += a(i) * b(i)
			}
			if r /= n; math.Abs(r) > 4/math.Sqrt(n) {
				t.Errorf("%s and %s: correlation %g", x, y, r)
			}
		}
	}
}

func TestUniformIsNeverZeroOrOne(t *testing.T) {
	for i := range uint32(10_000) {
		if u := Seed(3).Uniform(i, 9); u <= 0 || u >= 1 {
			t.Fatalf("draw %d is %g", i, u)
		}
	}
	if u := (float64(1<<52-1) + 0.5) / (1 << 52); u >= 1 || math.IsInf(math.Erfinv(2*u-1), 0) {
		t.Errorf("the largest draw is %g", u)
	}
}

func BenchmarkNormal(b *testing.B) {
	t, x := Named("fill"), 0.0
	for i := range b.N {
		x += Seed(1).Normal(uint32(i), t)
	}
	_ = x
}
