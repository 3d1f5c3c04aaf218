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
