package absorber

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"

	"sabinbook/internal/bands"
	"sabinbook/internal/units"
)

// Conditions say how sound meets the assembly. The zero value is the recommended path:
// standard air, diffuse field over all angles, bulk reaction, endless surface, mid-band
// frequencies, as many angles as each band needs.
type Conditions struct {
	Air       Air // the zero value is StandardAir
	Incidence Incidence
	Reaction  Reaction // the zero value is Bulk
	Patch     Patch
	Sampling  Sampling // the zero value is Centre
	// Nodes sets the number of angles for every band, at most MaxNodes; 0 leaves it to
	// the rule of nodeCount.
	Nodes int
}

// MaxNodes is the largest number of angles (convention; 256 are exact to 1e-5 or better).
const MaxNodes = 512

// Incidence is the set of angles from which sound comes. The zero value is Diffuse.
type Incidence struct {
	plane   bool    // one plane wave, not a field of many
	degrees float64 // its angle, or the largest angle of the field if above 0
}

// Diffuse is a diffuse field over all angles, 0° to 90°.
func Diffuse() Incidence { return Incidence{} }

// DiffuseTo is a diffuse field from 0° to a largest angle in degrees, 1 to 90; 78 is
// common practice.
func DiffuseTo(degrees float64) Incidence { return Incidence{degrees: degrees} }

// Normal is one plane wave at right angles to the surface.
func Normal() Incidence { return Oblique(0) }

// Oblique is one plane wave at an angle in degrees from the normal, 0 to 89.
func Oblique(degrees float64) Incidence { return Incidence{plane: true, degrees: degrees} }

func (in Incidence) check() error {
	if in.plane {
		return within("incidence_angle", in.degrees, 0, 89)
	}
	return within("largest_angle", in.largest(), 1, 90)
}

// largest returns the largest angle of a field in degrees.
func (in Incidence) largest() float64 {
	if in.degrees == 0 {
		return 90
	}
	return in.degrees
}

// rule is a quadrature over angles: a mean over the incidence is the sum of w times the
// value at the cosine t.
type rule struct {
	t, w []float64
}

// rule returns the quadrature of n angles: Gauss-Legendre in t = cos θ, where the
// integrand is smooth up to grazing and no node touches t = 0. A diffuse field weighs
// with 2 t dt (Paris), divided by sin² of its largest angle.
func (in Incidence) rule(n int) *rule {
	if in.plane {
		return &rule{t: []float64{math.Cos(in.degrees * math.Pi / 180)}, w: []float64{1}}
	}
	grazing := 0.0
	if l := in.largest(); l < 90 {
		grazing = math.Cos(l * math.Pi / 180)
	}
	r := &rule{t: make([]float64, n), w: make([]float64, n)}
	quad.Legendre{}.FixedLocations(r.t, r.w, grazing, 1)
	for i, t := range r.t {
		r.w[i] *= 2 * t / (1 - grazing*grazing)
	}
	return r
}

// nodeCount returns the number of angles that a band needs, from the phase k0·d over the
// depth d of all air gaps: worst error 5e-5 over 400 assemblies with fill, sigma 1 000 to
// 100 000 Pa·s/m² and fabrics up to 1000 Pa·s/m (convergence study, absorber model ground
// section 8). A fabric alone before a deep empty gap converges more slowly: 2000 Pa·s/m
// before 400 mm errs by 5e-3 with 64 angles. A patch adds structure of its own near
// grazing and has at least 64.
func (c Conditions) nodeCount(k0, gap float64) int {
	if c.Nodes > 0 {
		return c.Nodes
	}
	n := 16
	switch phase := k0 * gap; {
	case phase == 0:
	case phase < 4:
		n = 32
	case phase < 10:
		n = 64
	case phase < 25:
		n = 128
	default:
		n = 256
	}
	if c.Patch != (Patch{}) {
		return max(n, 64)
	}
	return n
}

// Reaction says whether sound travels sideways within fill and gap.
type Reaction string

// The reactions. Local is for partitioned cavities; it is fair for a fill without a gap
// above a resistivity of about 30 000 Pa·s/m² (seen in a paper, second hand).
const (
	Bulk  Reaction = "bulk"
	Local Reaction = "local"
)

// Sampling says what stands for a band.
type Sampling string

// The samplings: the exact mid-band frequency, or the mean over the band, uniform in the
// logarithm of frequency. They differ by less than 0.008 without a gap, by up to 0.027
// with gaps of 100 to 400 mm (absorber model ground section 7).
const (
	Centre   Sampling = "centre"
	BandMean Sampling = "band_mean"
)

// point is one frequency at which a band is computed, with its weight in the band.
type point struct {
	band   bands.Band
	hz     float64
	weight float64
}

// bandMeanPoints is the number of Gauss nodes in log f for BandMean; three give 0.001 for
// gaps up to 100 mm and 0.01 at 400 mm (absorber model ground section 7).
const bandMeanPoints = 5

// points returns the frequencies of all bands in ascending order.
func (s Sampling) points() []point {
	n := 1
	if s == BandMean {
		n = bandMeanPoints
	}
	// Exponents of a third-octave band, base ten: half a band is a twentieth of a decade.
	x, w := make([]float64, n), make([]float64, n)
	quad.Legendre{}.FixedLocations(x, w, -0.05, 0.05)
	var all []point
	for _, b := range bands.Thirds() {
		for i := range x {
			all = append(all, point{band: b, hz: b.Centre() * math.Pow(10, x[i]), weight: w[i] / 0.1})
		}
	}
	return all
}

// Patch is the size of the front, as a laboratory specimen has one; the zero value is
// endless. With a patch, coefficients may exceed 1: use it to compare with laboratory
// curves, not to rank. It runs high at 125 Hz, above all with deep gaps.
type Patch struct {
	Length, Width units.Length
}

func (p Patch) check() error {
	if p == (Patch{}) {
		return nil
	}
	return first(
		within("patch_length", float64(p.Length), 50, 20_000),
		within("patch_width", float64(p.Width), 50, 20_000),
	)
}

// complete returns the conditions with defaults filled in.
func (c Conditions) complete() Conditions {
	if c.Air == (Air{}) {
		c.Air = StandardAir()
	}
	if c.Reaction == "" {
		c.Reaction = Bulk
	}
	if c.Sampling == "" {
		c.Sampling = Centre
	}
	return c
}

// check returns an InvalidError if the completed conditions cannot be computed with.
func (c Conditions) check() error {
	if c.Reaction != Bulk && c.Reaction != Local {
		return unknown("reaction")
	}
	if c.Sampling != Centre && c.Sampling != BandMean {
		return unknown("sampling")
	}
	return first(
		c.Air.check(),
		c.Incidence.check(),
		c.Patch.check(),
		within("nodes", float64(c.Nodes), 0, MaxNodes),
	)
}
