package absorber

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"
)

// radiationImpedance returns the radiation impedance over ρ0c0, mean over azimuth, of a
// rectangular patch in a hard wall whose velocity follows a plane wave at the angles of
// cosine t. Sides in metres, k0 in rad/m.
//
//	zr   = (2jk0/(πab)) ∫_0^D W(R) J0(k0 R sin θ) exp(-jk0R) dR,  D = sqrt(a² + b²), a >= b
//	W(R) = F(p2) - F(p1),  F(p) = abp + aR cos p - bR sin p + R² sin²(p)/2
//	p1   = acos(a/R) if R > a else 0;  p2 = asin(b/R) if R > b else π/2
//
// Source: Thomasson 1980, Acustica 44, 265; the azimuth mean as one integral is derived in
// the absorber model ground section 6, where it equals the double integral.
func radiationImpedance(sideA, sideB, k0 float64, t []float64) []complex128 {
	a, b := max(sideA, sideB), min(sideA, sideB)
	weigh := func(r float64) float64 {
		p1, p2 := 0.0, math.Pi/2
		if r > a {
			p1 = math.Acos(a / r)
		}
		if r > b {
			p2 = math.Asin(b / r)
		}
		f := func(p float64) float64 {
			s, c := math.Sincos(p)
			return a*b*p + a*r*c - b*r*s + r*r*s*s/2
		}
		return f(p2) - f(p1)
	}

	// The source part of the integrand depends on distance alone: one list for all angles.
	var distance []float64
	var source []complex128
	for _, d := range distances(a, b, k0) {
		s, c := math.Sincos(k0 * d.r)
		distance = append(distance, k0*d.r)
		source = append(source, complex(d.weight*weigh(d.r), 0)*complex(c, -s))
	}

	zr := make([]complex128, len(t))
	for i, cos := range t {
		sin := math.Sqrt(max(1-cos*cos, 0))
		sum := complex(0, 0)
		for n, x := range distance {
			sum += source[n] * complex(math.J0(x*sin), 0)
		}
		zr[i] = complex(0, 2*k0/(math.Pi*a*b)) * sum
	}
	return zr
}

// node is a distance with its weight in an integral over distance.
type node struct{ r, weight float64 }

// distances returns the quadrature over 0 to the diagonal: 0..b, b..a and a..D apart,
// because W has kinks there, in panels of about half a wavelength with eight Gauss nodes.
// On the last two R = lo + (hi - lo)s² takes off the square-root start of W.
func distances(a, b, k0 float64) []node {
	const perPanel = 8
	x, w := make([]float64, perPanel), make([]float64, perPanel)
	quad.Legendre{}.FixedLocations(x, w, 0, 1)
	diagonal := math.Hypot(a, b)

	var all []node
	for i, span := range [][2]float64{{0, b}, {b, a}, {a, diagonal}} {
		lo, length := span[0], span[1]-span[0]
		panels := int(math.Ceil(2*length*k0/math.Pi)) + 1
		for p := range panels {
			for n := range x {
				s := (float64(p) + x[n]) / float64(panels)
				d := node{r: lo + length*s, weight: w[n] / float64(panels) * length}
				if i > 0 {
					d = node{r: lo + length*s*s, weight: 2 * s * d.weight}
				}
				all = append(all, d)
			}
		}
	}
	return all
}
