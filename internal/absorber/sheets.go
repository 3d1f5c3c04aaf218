package absorber

import "math"

// impedance returns the impedance of the fabric over ρ0c0: its resistance R alone if it
// is held still, otherwise R in parallel with the mass m,
//
//	Z = 1/(1/R + 1/(jωm)) = R ωm (ωm + jR)/(R² + (ωm)²)
//
// Source: a limp porous sheet, as Pieren 2012, Textile Res. J. 82, 864 uses (abstract).
func (f Fabric) impedance(air Air, hz float64) complex128 {
	r := float64(f.Resistance)
	if f.Held || r == 0 {
		return complex(r/air.Impedance(), 0)
	}
	inertia := 2 * math.Pi * hz * f.mass()
	scale := r * inertia / ((r*r + inertia*inertia) * air.Impedance())
	return complex(scale*inertia, scale*r)
}

// impedance returns the impedance of the perforated sheet over ρ0c0, viscous tubes with
// end corrections: open area φ, hole radius r, thickness h,
//
//	s = r sqrt(ρ0ω/η),  q = s sqrt(-j),  e = 0.48 sqrt(π) r (1 - 1.14 sqrt φ), not below 0
//	Z = { jωρ0 h/[1 - 2 J1(q)/(q J0(q))] + sqrt(2ηρ0ω) + 2jωρ0 e }/φ
//
// The square root is the surface loss of both faces together; the literature has 0.5
// (Maa) to 2 (sharp edges, Ingard) times it. Source: from memory; the limit of narrow
// holes is Poiseuille's flow, which a test checks.
func (p Perforated) impedance(air Air, hz float64) complex128 {
	phi, r, h := float64(p.OpenArea), p.Hole.Metres()/2, p.Thickness.Metres()
	inertia, eta := 2*math.Pi*hz*air.Density(), air.Viscosity()

	tube := complex(0, inertia*h) / (1 - tubeProfile(r*math.Sqrt(inertia/eta)))
	faces := complex(math.Sqrt(2*eta*inertia), 2*inertia*p.endCorrection())
	return (tube + faces) / complex(phi*air.Impedance(), 0)
}

// endCorrection returns the length e in metres that the air before each mouth of a hole
// adds, see impedance.
func (p Perforated) endCorrection() float64 {
	r := p.Hole.Metres() / 2
	return max(0.48*math.Sqrt(math.Pi)*r*(1-1.14*math.Sqrt(float64(p.OpenArea))), 0)
}

// tubeProfile returns 2 J1(q)/(q J0(q)) for q = s sqrt(-j), from the continued fraction
//
//	1/(1 - u/(1·2)/(1 - u/(2·3)/(1 - u/(3·4)/ ...))),  u = (q/2)² = -js²/4
//
// evaluated from a depth at which it has converged. Source: Abramowitz and Stegun 9.1.73,
// from memory; a test checks it against the series of the two Bessel functions.
func tubeProfile(s float64) complex128 {
	u := complex(0, -s*s/4)
	tail := complex(1, 0)
	for n := int(s) + 40; n > 0; n-- {
		tail = 1 - u/complex(float64(n)*float64(n+1), 0)/tail
	}
	return 1 / tail
}
