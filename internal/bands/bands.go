// Package bands names the frequency bands in which absorption is measured and
// holds curves over them.
//
// Eighteen third-octave bands from 100 Hz to 5000 Hz are used, as ISO 354 and
// ASTM C423 do, and the six octave bands from 125 Hz to 4000 Hz that hold three
// of them each. A curve given in octaves occupies the third-octave band at the
// octave's centre, so that one type serves both and a missing band stays missing.
package bands

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Count of third-octave and octave bands.
const (
	ThirdCount  = 18
	OctaveCount = 6
)

// Band is a third-octave band, 0 for 100 Hz to 17 for 5000 Hz.
type Band int

var nominal = [ThirdCount]int{100, 125, 160, 200, 250, 315, 400, 500, 630, 800, 1000, 1250, 1600, 2000, 2500, 3150, 4000, 5000}

// Thirds lists all third-octave bands in ascending order.
func Thirds() []Band {
	all := make([]Band, ThirdCount)
	for i := range all {
		all[i] = Band(i)
	}
	return all
}

// Octaves lists the centre bands of the octaves 125 Hz to 4000 Hz.
func Octaves() []Band { return []Band{1, 4, 7, 10, 13, 16} }

// OctaveIndex returns 0 to 5 when b is the centre of an octave band.
func (b Band) OctaveIndex() (int, bool) {
	if b < 1 || b > 16 || (b-1)%3 != 0 {
		return 0, false
	}
	return int(b-1) / 3, true
}

// OctaveBand returns the centre band of octave i, 0 (125 Hz) to 5 (4000 Hz).
func OctaveBand(i int) Band { return Band(1 + 3*i) }

// Nominal returns the nominal frequency in Hz by which the band is called (ISO 266).
func (b Band) Nominal() int { return nominal[b] }

// Centre returns the exact mid-band frequency in Hz, 1000·10^(n/10) with n = -10 for
// 100 Hz (IEC 61260-1:2014, base ten). Formulas use it; the nominal value as a
// frequency would shift coefficients by up to 0.008.
func (b Band) Centre() float64 { return 1000 * math.Pow(10, float64(b-10)/10) }

func (b Band) String() string { return fmt.Sprintf("%d Hz", b.Nominal()) }

// Parse returns the band that is called by the nominal frequency hz.
func Parse(hz int) (Band, bool) {
	for i, n := range nominal {
		if n == hz {
			return Band(i), true
		}
	}
	return 0, false
}

// Basis says whether a curve holds third-octave or octave values.
type Basis string

// The two bases.
const (
	ThirdOctave Basis = "third_octave"
	Octave      Basis = "octave"
)

// Bands lists the bands which a curve on this basis can hold.
func (b Basis) Bands() []Band {
	if b == Octave {
		return Octaves()
	}
	return Thirds()
}

// Curve is a set of band values, some of which may be unknown. The zero value
// with a Basis is an empty curve. Curves are comparable with ==.
type Curve struct {
	Basis Basis
	value [ThirdCount]float64
	known [ThirdCount]bool
}

// NewCurve returns an empty curve on the given basis.
func NewCurve(b Basis) Curve { return Curve{Basis: b} }

// OctaveCurve returns the octave curve with the six values 125 Hz to 4000 Hz.
func OctaveCurve(v [OctaveCount]float64) Curve {
	c := NewCurve(Octave)
	for i, x := range v {
		c.Set(OctaveBand(i), x)
	}
	return c
}

// ThirdCurve returns the third-octave curve with the eighteen values 100 Hz to 5000 Hz.
func ThirdCurve(v [ThirdCount]float64) Curve {
	c := NewCurve(ThirdOctave)
	for i, x := range v {
		c.Set(Band(i), x)
	}
	return c
}

// Set stores the value of band b. It panics when an octave curve is given a band
// which is no octave centre: that is a mistake of the program, not of a user.
func (c *Curve) Set(b Band, v float64) {
	if _, centre := b.OctaveIndex(); c.Basis == Octave && !centre {
		panic(fmt.Sprintf("bands: %s is no octave band", b))
	}
	c.value[b], c.known[b] = v, true
}

// At returns the value stored for band b and whether there is one.
func (c Curve) At(b Band) (float64, bool) { return c.value[b], c.known[b] }

// Len counts the bands that have a value.
func (c Curve) Len() int {
	n := 0
	for _, k := range c.known {
		if k {
			n++
		}
	}
	return n
}

// Octave returns the value of octave i, 0 (125 Hz) to 5 (4000 Hz): the stored value
// of an octave curve, the arithmetic mean of the three thirds of a third-octave
// curve. It is unknown when any value that it needs is.
func (c Curve) Octave(i int) (float64, bool) {
	b := OctaveBand(i)
	if c.Basis == Octave {
		return c.At(b)
	}
	sum := 0.0
	for _, t := range []Band{b - 1, b, b + 1} {
		v, ok := c.At(t)
		if !ok {
			return 0, false
		}
		sum += v
	}
	return sum / 3, true
}

// InOctaves returns the curve in octaves, see Octave; bands that cannot be had are unknown.
func (c Curve) InOctaves() Curve {
	o := NewCurve(Octave)
	for i := range OctaveCount {
		if v, ok := c.Octave(i); ok {
			o.Set(OctaveBand(i), v)
		}
	}
	return o
}

// Map returns the curve with f applied to every known value.
func (c Curve) Map(f func(Band, float64) float64) Curve {
	for i := range c.value {
		if c.known[i] {
			c.value[i] = f(Band(i), c.value[i])
		}
	}
	return c
}

// MarshalText writes the curve with its basis and each known band by its nominal
// frequency: "octave 125=0.2 250=0.55". UnmarshalText reads it back bit by bit.
func (c Curve) MarshalText() ([]byte, error) {
	text := []byte(c.Basis)
	for i, known := range c.known {
		if known {
			text = fmt.Appendf(text, " %d=%s", nominal[i], strconv.FormatFloat(c.value[i], 'g', -1, 64))
		}
	}
	return text, nil
}

// UnmarshalText reads what MarshalText wrote.
func (c *Curve) UnmarshalText(text []byte) error {
	basis, values, _ := strings.Cut(string(text), " ")
	read := NewCurve(Basis(basis))
	for _, word := range strings.Fields(values) {
		hz, value, _ := strings.Cut(word, "=")
		n, err := strconv.Atoi(hz)
		if err != nil {
			return fmt.Errorf("bands: %q is no band of a curve: %w", word, err)
		}
		x, err := strconv.ParseFloat(value, 64)
		if err != nil {
			return fmt.Errorf("bands: %q is no band of a curve: %w", word, err)
		}
		b, ok := Parse(n)
		if _, centre := b.OctaveIndex(); !ok || read.Basis == Octave && !centre {
			return fmt.Errorf("bands: %q is no band of a curve in %q", word, basis)
		}
		read.Set(b, x)
	}
	*c = read
	return nil
}
