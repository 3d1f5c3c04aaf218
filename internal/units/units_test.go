package units

import (
	"math"
	"testing"
)

func TestConversions(t *testing.T) {
	if got := Length(600).Metres(); got != 0.6 {
		t.Errorf("600 mm = %g m", got)
	}
	// A length in tenths is exact, also where binary fractions are not: 18.3 mm is 183 tenths.
	for _, c := range []struct {
		l Length
		n int64
	}{{18.3, 183}, {0.05, 1}, {2400, 24000}, {564.25, 5643}} {
		if got := c.l.Tenths(); got != c.n {
			t.Errorf("%g mm = %d tenths, want %d", float64(c.l), got, c.n)
		}
	}
	if got := FromTenths(183); got != 18.3 {
		t.Errorf("183 tenths = %g mm", float64(got))
	}
	if got := Rectangle(600, 1200); math.Abs(float64(got)-0.72) > 1e-15 {
		t.Errorf("600 mm x 1200 mm = %g m²", float64(got))
	}
	if got := Diameter(7).Metres(); got != 7e-6 {
		t.Errorf("7 µm = %g m", got)
	}
}
