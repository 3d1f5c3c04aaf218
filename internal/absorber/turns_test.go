package absorber

import (
	"math"
	"math/big"
	"testing"
)

// Both loops against the library, whose functions are good to a unit of the last digit, 2.2e-16.
func TestTurnsAndDecays(t *testing.T) {
	const limit = 5e-16
	depths := []float64{0, 1e-9, 0.3, 1, 17.3, 1e3, 1e5, 3e6, 1e9}
	for x := 0.0; x < 1; x += 0.000713 {
		for _, depth := range depths {
			e := []complex128{0}
			turns([]float64{x}, depth, e)
			sin, cos := math.Sincos(x * depth)
			if math.Abs(real(e[0])-cos) > limit || math.Abs(imag(e[0])+sin) > limit {
				t.Fatalf("turn of %g: %v, want %v", x*depth, e[0], complex(cos, -sin))
			}
			turns([]float64{-x}, depth, e)
			if math.Abs(real(e[0])-cos) > limit || math.Abs(imag(e[0])-sin) > limit {
				t.Fatalf("turn of %g: %v, want %v", -x*depth, e[0], complex(cos, sin))
			}
			e[0] = complex(1, -2)
			decays([]float64{-x}, depth, e)
			want := math.Exp(-x * depth)
			if x*depth > 40 {
				want = 0
			}
			if math.Abs(real(e[0])-want) > limit || math.Abs(imag(e[0])+2*want) > 2*limit {
				t.Fatalf("decay of %g: %v, want %v", -x*depth, e[0], complex(want, -2*want))
			}
		}
	}
	e := []complex128{1}
	if decays([]float64{-1}, math.Inf(1), e); e[0] != 0 {
		t.Errorf("a wave that has died out: %v", e[0])
	}
	if turns([]float64{0}, 5, e); e[0] != 1 {
		t.Errorf("no depth turns nothing: %v", e[0])
	}
}

// The tables against ninety digits: exp(2πj/256) by half angles from cos(π) = -1, 2^(1/128) by
// square roots of 2, each power by multiplication.
func TestStepsOfTheTables(t *testing.T) {
	real90 := func(x float64) *big.Float { return new(big.Float).SetPrec(300).SetFloat64(x) }
	half := func(cos *big.Float) *big.Float { // cos(a/2) = sqrt((1 + cos a)/2)
		sum := new(big.Float).Add(cos, real90(1))
		return sum.Sqrt(sum.Quo(sum, real90(2)))
	}
	cos := real90(-1) // cos π
	for range 7 {     // π/128
		cos = half(cos)
	}
	sin := new(big.Float).Mul(cos, cos)
	sin.Sub(real90(1), sin)
	sin.Sqrt(sin)
	re, im := real90(1), real90(0)
	for i, step := range circle {
		wantRe, _ := re.Float64()
		wantIm, _ := im.Float64()
		if math.Abs(real(step)-wantRe) > 1.2e-16 || math.Abs(imag(step)-wantIm) > 1.2e-16 {
			t.Errorf("step %d of the circle: %v, want %v", i, step, complex(wantRe, wantIm))
		}
		mul := func(a, b *big.Float) *big.Float { return new(big.Float).Mul(a, b) }
		re, im = new(big.Float).Sub(mul(re, cos), mul(im, sin)), new(big.Float).Add(mul(re, sin), mul(im, cos))
	}
	root, power := real90(2), real90(1)
	for range 7 {
		root.Sqrt(root)
	}
	for i, bits := range doubling {
		want, _ := power.Float64()
		if got := math.Float64frombits(bits); math.Abs(got-want) > 2.3e-16*want {
			t.Errorf("step %d of the doubling: %v, want %v", i, got, want)
		}
		power.Mul(power, root)
	}
}

// turn and decay are turns and decays of one wave.
func turn(x float64) (sin, cos float64) {
	e := make([]complex128, 1)
	turns([]float64{-x}, 1, e)
	return imag(e[0]), real(e[0])
}

func decay(x float64) float64 {
	e := []complex128{1}
	decays([]float64{x}, 1, e)
	return real(e[0])
}

// Against power series in numbers of 300 binary digits. 2.5e-16 for sine and cosine: half a
// unit of the last digit of a table value and of the result each, and the rounding of what
// is added. 4.5e-16 of the value for the decay: a unit of a table value, half a unit of the
// result, each up to 2.2e-16.
func TestTurnAndDecayAgainstSeries(t *testing.T) {
	for x := 0.00731; x < 40; x += 0.0371 {
		sin, cos := turn(x)
		even, odd := series(x, -1)
		about(t, "sine", sin, nearestFloat(odd), 2.5e-16)
		about(t, "cosine", cos, nearestFloat(even), 2.5e-16)
		even, odd = series(x, 1)
		near(t, "decay", decay(-x), nearestFloat(even.Quo(number(1), even.Add(even, odd))), 4.5e-16)
	}
}

// series returns the sums of sign^n x^2n/(2n)! and sign^n x^(2n+1)/(2n+1)!, cosine and
// sine for sign -1, cosh and sinh for sign 1.
func series(x, sign float64) (even, odd *big.Float) {
	even, odd = number(0), number(0)
	term := number(1)
	for n := 1.0; n < 300; n += 2 {
		even.Add(even, term)
		term.Quo(term.Mul(term, number(x)), number(n))
		odd.Add(odd, term)
		term.Quo(term.Mul(term, number(sign*x)), number(n+1))
	}
	return even, odd
}

func number(x float64) *big.Float { return new(big.Float).SetPrec(300).SetFloat64(x) }

func nearestFloat(x *big.Float) float64 {
	f, _ := x.Float64()
	return f
}

// The own exponential against the library's: each may be off by a unit of the last digit,
// up to 2.2e-16.
func TestDecay(t *testing.T) {
	for x := 0.0; x > -40; x -= 0.00137 {
		near(t, "decay", decay(x), math.Exp(x), 4.5e-16)
	}
	if decay(-41) != 0 || decay(-1e300) != 0 || decay(0) != 1 {
		t.Error("the ends of decay are 0 and 1")
	}
}
