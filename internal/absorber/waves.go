package absorber

import "math"

// The inner loops. Each takes the state v of a surface at every angle of a rule and works
// in real arithmetic where Go's complex division would cost most; the plain complex form
// stands in the tests as oracle.

// addSheet writes the state in front of a sheet of impedance f: z becomes z + f, so
//
//	v' = v/(1 + t f v)
func addSheet(r *rule, f complex128, in, out []complex128) {
	for i, t := range r.t {
		out[i] = over(in[i], 1+complex(t, 0)*f*in[i])
	}
}

// addSlab writes the state in front of a slab of depth k0d (times the wave number of air)
// that holds a fluid of relative density ρ and squared index n²:
//
//	κ  = sqrt(n² - 1 + t²)         n if locally reacting
//	A  = κ(1 - v) + ρ t v          wave towards the wall, at the inner face
//	B  = [κ(1 - v) - ρ t v] e      wave back, e = exp(-2jκ k0d)
//	v' = κ(A - B)/[ρ t (A + B) + κ(A - B)]
//
// This is the impedance recursion with r = (1 - zY)/(1 + zY), Y' = (1 - re)/((1 + re)z),
// all divisions merged into one. |e| <= 1, so that nothing overflows, and a depth of zero
// leaves v as it is.
//
// Short loops and not one long one: the steps depend on each other within an angle but
// not across angles, and the processor overlaps angles only if a step is short.
func addSlab(r *rule, fl fluid, k0d float64, local bool, work *workspace, in, out []complex128) {
	n := len(r.t)
	kappa, e := work.kappa[:n], work.trip[:n]
	for i, t := range r.t {
		sin2 := 1 - t*t
		if local {
			sin2 = 0
		}
		kappa[i] = root(fl.index2 - complex(sin2, 0))
	}
	roundTrips(kappa, k0d, e)
	in, out = in[:n], out[:n]
	for i, t := range r.t {
		v := in[i]
		flow := fl.density * complex(t, 0)
		p, u := kappa[i]*(1-v), flow*v
		a, b := p+u, (p-u)*e[i]
		u = kappa[i] * (a - b)
		out[i] = over(u, flow*(a+b)+u)
	}
}

// workspace holds what addSlab computes for each angle of one point.
type workspace struct {
	kappa, trip [MaxNodes]complex128
}

// root returns the square root of x that decays in the direction of travel: its imaginary
// part is not positive. Real square roots and one division do.
func root(x complex128) complex128 {
	a, b := real(x), imag(x)
	size := math.Sqrt(a*a + b*b)
	large := math.Sqrt((size + math.Abs(a)) / 2)
	if large == 0 {
		return 0
	}
	small := math.Abs(b) / (2 * large)
	re, im := large, -small
	if a < 0 {
		re, im = small, -large
	}
	if b > 0 {
		re = -re
	}
	return complex(re, im)
}

// roundTrips writes e = exp(-2jκ k0d), the change of a wave on its way to the wall and back.
func roundTrips(kappa []complex128, k0d float64, e []complex128) {
	for i, k := range kappa {
		e[i] = complex(decay(2*imag(k)*k0d), 0)
	}
	for i, k := range kappa {
		sin, cos := math.Sincos(2 * real(k) * k0d)
		size := real(e[i])
		e[i] = complex(size*cos, -size*sin)
	}
}

// decay returns exp(x) for x <= 0, and 0 where that is below 1e-17 and adds nothing to 1.
// It takes two thirds of the time of math.Exp, a tenth of a prediction.
//
//	x = n ln 2 + r,  exp(x) = 2^n exp(r),  exp(r) = 1 + r + r c/(2 - c) with c a polynomial
//
// Source: FreeBSD msun e_exp.c, as Go's own math.Exp without assembly; error below 2.2e-16.
func decay(x float64) float64 {
	const (
		log2e = 1.44269504088896338700
		ln2Hi = 6.93147180369123816490e-01
		ln2Lo = 1.90821492927058770002e-10
		p1    = 1.66666666666666657415e-01
		p2    = -2.77777777770155933842e-03
		p3    = 6.61375632143793436117e-05
		p4    = -1.65339022054652515390e-06
		p5    = 4.13813679705723846039e-08
	)
	if x < -40 {
		return 0
	}
	n := int64(log2e*x - 0.5)
	hi, lo := x-float64(n)*ln2Hi, float64(n)*ln2Lo
	r := hi - lo
	t := r * r
	c := r - t*(p1+t*(p2+t*(p3+t*(p4+t*p5))))
	return (1 + (hi - (lo - r*c/(2-c)))) * math.Float64frombits(uint64(n+1023)<<52)
}

// over returns a/b.
func over(a, b complex128) complex128 {
	s := 1 / (real(b)*real(b) + imag(b)*imag(b))
	return complex(
		(real(a)*real(b)+imag(a)*imag(b))*s,
		(imag(a)*real(b)-real(a)*imag(b))*s,
	)
}

// absorbed returns the absorption of the surface v behind a sheet of impedance f, mean
// over the rule. With v' = v/(1 + t f v) as in addSheet,
//
//	4 (Re v' - |v'|²) = 4 [Re v + (t Re f - 1)|v|²]/|1 + t f v|²
func absorbed(r *rule, f complex128, v []complex128) float64 {
	fr, fi := real(f), imag(f)
	w, v := r.w[:len(r.t)], v[:len(r.t)]
	sum := 0.0
	for i, t := range r.t {
		a, b := real(v[i]), imag(v[i])
		x := 1 + t*(fr*a-fi*b)
		y := t * (fr*b + fi*a)
		sum += w[i] * (a + (t*fr-1)*(a*a+b*b)) / (x*x + y*y)
	}
	return 4 * sum
}

// absorbedByPatch is absorbed for a front of finite size with radiation impedance zr:
//
//	alpha = mean of (1/t) 4 Re y/|1 + zr y|²,  y = 1/z = v' t/(1 - v')
//	      = mean of 4 (Re v' - |v'|²)/|1 - v' + zr t v'|²
//
// With zr = 1/t, an endless front, it is absorbed.
// Source: Thomasson 1980, Acustica 44, 265, in the form of Vigran 2008 eq. 5.58.
func absorbedByPatch(r *rule, zr []complex128, f complex128, v []complex128) float64 {
	sum := 0.0
	for i, t := range r.t {
		tc := complex(t, 0)
		s := over(v[i], 1+tc*f*v[i])
		d := 1 - s + zr[i]*tc*s
		sum += r.w[i] * (real(s) - square(s)) / square(d)
	}
	return 4 * sum
}

// square returns |x|².
func square(x complex128) float64 { return real(x)*real(x) + imag(x)*imag(x) }
