package bands

import (
	"math"
	"testing"
)

// Exact mid-band frequencies of IEC 61260-1:2014 (base ten) as printed in the
// check line of the absorber model: 125.89 Hz and 251.19 Hz.
func TestCentreIsTheExactMidBandFrequency(t *testing.T) {
	for _, c := range []struct {
		hz   int
		want float64
	}{{125, 125.89}, {250, 251.19}, {1000, 1000}, {4000, 3981.07}, {5000, 5011.87}, {100, 100}} {
		b, ok := Parse(c.hz)
		if !ok || math.Abs(b.Centre()-c.want) > 0.005 {
			t.Errorf("centre of %d Hz = %.4f, want %.2f", c.hz, b.Centre(), c.want)
		}
	}
	if _, ok := Parse(126); ok {
		t.Error("126 Hz is no nominal band")
	}
}

func TestOctaveIsTheMeanOfItsThirdsOrUnknown(t *testing.T) {
	c := NewCurve(ThirdOctave)
	for _, hz := range []int{400, 500, 630} {
		b, _ := Parse(hz)
		c.Set(b, float64(hz)/1000)
	}
	if v, ok := c.Octave(2); !ok || math.Abs(v-0.51) > 1e-12 {
		t.Errorf("500 Hz octave = %v %v, want 0.51", v, ok)
	}
	if _, ok := c.Octave(1); ok {
		t.Error("an octave with missing thirds must be unknown")
	}
	o := OctaveCurve([OctaveCount]float64{1, 2, 3, 4, 5, 6})
	for i := range OctaveCount {
		if v, ok := o.Octave(i); !ok || v != float64(i+1) {
			t.Errorf("octave %d = %v %v", i, v, ok)
		}
	}
	if o != o.InOctaves() {
		t.Error("an octave curve in octaves is itself")
	}
}

// Texts bring every curve back bit by bit.
func TestTextsOfCurvesComeBack(t *testing.T) {
	c := OctaveCurve([OctaveCount]float64{0, 0.2, 1, 1.1, 0.30000000000000004, 5e-324})
	if text, err := c.MarshalText(); err != nil || string(text) != "octave 125=0 250=0.2 500=1 1000=1.1 2000=0.30000000000000004 4000=5e-324" {
		t.Errorf("%q, %v", text, err)
	}
	thirds := NewCurve(ThirdOctave)
	thirds.Set(0, 0.05)
	thirds.Set(17, math.Nextafter(1, 2))
	for _, c := range []Curve{{}, NewCurve(Octave), NewCurve(ThirdOctave), c, thirds} {
		text, err := c.MarshalText()
		if err != nil {
			t.Fatal(err)
		}
		var back Curve
		if err := back.UnmarshalText(text); err != nil || back != c {
			t.Errorf("%q comes back as %v: %v", text, back, err)
		}
	}
	for _, bad := range []string{"octave 160=0.1", "third_octave 126=0.1", "octave 125", "octave 125=", "octave x=1"} {
		if err := new(Curve).UnmarshalText([]byte(bad)); err == nil {
			t.Errorf("%q is read", bad)
		}
	}
}
