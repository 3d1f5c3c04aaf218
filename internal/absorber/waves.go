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
// leaves v as it is. On the bare wall, where in is nil and v = 0, κ cancels once:
//
//	v' = κ(1 - e)/[ρ t (1 + e) + κ(1 - e)]
//
// Short loops and not one long one: the steps depend on each other within an angle but
// not across angles, and the processor overlaps angles only if a step is short.
func addSlab(r *rule, fl fluid, k0d float64, local bool, work *workspace, in, out []complex128) {
	n := len(r.t)
	re, im, e := work.re[:n], work.im[:n], work.trip[:n]
	if local {
		kappa := root(fl.index2)
		for i := range re {
			re[i], im[i] = real(kappa), imag(kappa)
		}
	} else {
		roots(r, fl.index2, re, im)
	}
	turns(re, 2*k0d, e)
	decays(im, 2*k0d, e)
	out = out[:n]
	if in == nil {
		for i, t := range r.t {
			flow := times(t, fl.density)
			u := complex(re[i], im[i]) * (1 - e[i])
			out[i] = over(u, flow*(1+e[i])+u)
		}
		return
	}
	in = in[:n]
	for i, t := range r.t {
		v, kappa, flow := in[i], complex(re[i], im[i]), times(t, fl.density)
		p, u := kappa*(1-v), flow*v
		a, b := p+u, (p-u)*e[i]
		u = kappa * (a - b)
		out[i] = over(u, flow*(a+b)+u)
	}
}

// addGap is addSlab for air with bulk reaction, which needs neither root, decay nor
// division: κ is t and ρ is 1, so that A is t, B is t(1 - 2v)e, and
//
//	v' = [1 - (1 - 2v)e]/2 = v + (1/2 - v)(1 - e)
//
// With local reaction κ is 1 but ρ t is still t: that gap is left to addSlab.
func addGap(r *rule, k0d float64, work *workspace, in, out []complex128) {
	n := len(r.t)
	e := work.trip[:n]
	turns(r.t, 2*k0d, e)
	in, out = in[:n], out[:n]
	for i, e := range e {
		out[i] = in[i] + (0.5-in[i])*(1-e)
	}
}

// workspace holds what addSlab computes for each angle of one point: κ and e.
type workspace struct {
	re, im [MaxNodes]float64
	trip   [MaxNodes]complex128
}

// roots writes κ = sqrt(n² - 1 + t²) for every angle.
func roots(r *rule, index2 complex128, re, im []float64) {
	re, im = re[:len(r.t)], im[:len(r.t)]
	for i, t := range r.t {
		kappa := root(index2 - complex(1-t*t, 0))
		re[i], im[i] = real(kappa), imag(kappa)
	}
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

// times returns t x. Go multiplies complex(t, 0) by x in six steps, not two.
func times(t float64, x complex128) complex128 { return complex(t*real(x), t*imag(x)) }

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
