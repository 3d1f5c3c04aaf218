package absorber

import "math"

// The exponential of a wave number, of which every plane wave needs one for each slab.
//
// Both loops look up the value at the nearest of many steps and go the short rest with
// the first terms of the Taylor series, where all other terms are below the last digit. A
// circle has 256 steps and a doubling 128, so that the tables take 5 KiB. The method is
// Gal's and Tang's (P. T. P. Tang 1989, ACM Trans. Math. Softw. 15, 144, from memory),
// the two-part step Cody and Waite's. It needs neither a division nor a choice of octants,
// which the processor cannot foresee: math.Sincos takes two and a half times as long.

// turns writes e = exp(-jκ depth), the phase that a wave gains over a depth (times the
// wave number of air). With x = κ depth the next step at s and the rest r = x - s,
// |r| <= π/256:
//
//	exp(jx) = (cos s + j sin s)(cos r + j sin r)
//	sin r     = r - r³/3! + r⁵/5!           up to 9e-18
//	1 - cos r = r²/2! - r⁴/4! + r⁶/6!       up to 2e-20
//
// The error of each part is below 2.5e-16. Beyond 2^26 steps, where a step times their
// number is no longer exact, math.Sincos does it.
func turns(kappa []float64, depth float64, e []complex128) {
	const (
		stepHi = 0x1.921fb54p-6            // π/128 in 27 digits
		stepLo = math.Pi/128 - stepHi      // the rest
		most   = (1 << 26) * math.Pi / 128 // the largest x
	)
	e = e[:len(kappa)]
	for i, k := range kappa {
		x := k * depth
		if math.Abs(x) > most {
			sin, cos := math.Sincos(x)
			e[i] = complex(cos, -sin)
			continue
		}
		n, number := nearest(x * (128 / math.Pi))
		r := (x - n*stepHi) - n*stepLo
		step := circle[number%256]
		sin, versed := r*(1-r*r*(1./6-r*r*(1./120))), r*r*(1./2-r*r*(1./24-r*r*(1./720)))
		e[i] = complex(
			real(step)-(real(step)*versed+imag(step)*sin),
			-imag(step)-(real(step)*sin-imag(step)*versed),
		)
	}
}

// decays multiplies e by exp(κ depth), the decay of a wave over a depth; κ <= 0. With
// x = κ depth = n (ln 2)/128 + r, |r| <= (ln 2)/256:
//
//	exp(x) = 2^(n/128) exp(r)
//	exp(r) = 1 + r + r²/2! + r³/3! + r⁴/4! + r⁵/5!    up to 1e-18
//
// Below 1e-17 it writes 0, which adds nothing to 1.
func decays(kappa []float64, depth float64, e []complex128) {
	const (
		stepHi = 0x1.62e42fefp-8       // (ln 2)/128 in 33 digits
		stepLo = math.Ln2/128 - stepHi // the rest
	)
	e = e[:len(kappa)]
	for i, k := range kappa {
		x := k * depth
		if x < -40 {
			e[i] = 0
			continue
		}
		n, number := nearest(x * (128 / math.Ln2))
		r := (x - n*stepHi) - n*stepLo
		step := math.Float64frombits(doubling[number%128] + number>>7<<52)
		size := step + step*(r*(1+r*(1./2+r*(1./6+r*(1./24+r*(1./120))))))
		e[i] = complex(size*real(e[i]), size*imag(e[i]))
	}
}

// nearest returns the integer nearest to x, |x| < 2^51, as it is and as the last 51 bits
// of number. A float64 of the size of 1.5 x 2^52 has no digit after the point, so that
// adding that much rounds x, and its last bits count.
func nearest(x float64) (n float64, number uint64) {
	const toInteger = 3 << 51
	q := x + toInteger
	return q - toInteger, math.Float64bits(q)
}

// circle holds exp(2πj i/256).
var circle = func() (steps [256]complex128) {
	for i := range 33 { // an eighth of it, where angles are small and so is their rounding
		sin, cos := math.Sincos(float64(i) * math.Pi / 128)
		steps[i], steps[64-i] = complex(cos, sin), complex(sin, cos)
	}
	for i := 64; i < 256; i++ { // a quarter turn more
		steps[i] = complex(-imag(steps[i-64]), real(steps[i-64]))
	}
	return steps
}()

// doubling holds the bits of 2^(i/128); 2^n times that is n in the bits of the exponent.
var doubling = func() (steps [128]uint64) {
	for i := range steps {
		steps[i] = math.Float64bits(math.Exp2(float64(i) / 128))
	}
	return steps
}()
