package hanging_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"sabinbook/internal/hanging"
	"sabinbook/internal/units"
)

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: got %g, want %g within %g", what, got, want, within)
	}
}

func degrees(x float64) hanging.Angle { return hanging.Angle(x * math.Pi / 180) }

// The tables of hanging.md section 1; tolerance: half the last printed place.
func TestTablesOfLegs(t *testing.T) {
	for _, c := range []struct{ angle, tension, side float64 }{
		{60, 0.577, 0.289}, {45, 0.707, 0.500}, {30, 1.000, 0.866}, {20, 1.462, 1.374}, {15, 1.932, 1.866}, {10, 2.879, 2.836}, {5, 5.737, 5.715},
	} {
		near(t, "T/W by angle", float64(hanging.Tension(1, degrees(c.angle))), c.tension, 0.0005)
		near(t, "P/W by angle", float64(hanging.SidePull(1, degrees(c.angle))), c.side, 0.0005)
	}
	for _, c := range []struct{ sag, tension float64 }{
		{0.05, 5.025}, {0.10, 2.550}, {0.15, 1.740}, {0.20, 1.346}, {0.25, 1.118}, {0.30, 0.972}, {0.50, 0.707},
	} {
		near(t, "T/W by sag", float64(hanging.Tension(1, hanging.LegAngle(1000, units.Length(1000*c.sag)))), c.tension, 0.0005)
	}
}

// Worked examples of texts as quoted in hanging.md sections 1, 2 and 6, each with the gravity that its source
// used (g 9.8 in the books); tolerance: half the last place that is printed.
func TestWorkedExamplesOfTexts(t *testing.T) {
	// University Physics (OpenStax) 5.3: 90.0 kg on a rope at 10.0 degrees, 2.54e3 N; exactly 2539.6 N.
	near(t, "University Physics 5.3", float64(hanging.Tension(90.0*9.8, degrees(10))), 2539.6, 0.05)
	near(t, "70 kg at 3 degrees", float64(hanging.Tension(70*9.8, degrees(3))), 6554, 0.5)
	// Giancoli prints 2500 N, rounded to two digits.
	near(t, "Giancoli as printed", float64(hanging.Tension(60*9.8, hanging.LegAngle(36_000, 2100))), 2500, 50)
	// EN 13414-1:2003 Table 4: two legs carry 1.4 times one up to 45 degrees from the vertical, 1.0 times up to 60.
	near(t, "sling at 45 degrees", 1/float64(hanging.Tension(1, degrees(90-45))), 1.4, 0.05)
	near(t, "sling at 60 degrees", 1/float64(hanging.Tension(1, degrees(90-60))), 1.0, 1e-9)
	// Section 6: theta 30 degrees, 100 N.
	near(t, "T at 30 degrees", float64(hanging.Tension(100, degrees(30))), 100.0, 1e-9)
	near(t, "P at 30 degrees", float64(hanging.SidePull(100, degrees(30))), 86.6, 0.05)
	near(t, "pull-out", float64(hanging.PullOut(60, 50, 1100)), 2.73, 0.005)
	near(t, "400 N by 4", float64(hanging.WorkingLoad(400, 4)), 100, 0)
	near(t, "400 N by 5", float64(hanging.WorkingLoad(400, 5)), 80, 0)
}

// The vertical parts of both tensions carry the weight, the sideways parts are the side pull, and the formula by
// angle is that by lengths, T = (W/2) sqrt((s/2)² + h²)/h. Tolerance: rounding of doubles.
func TestLegsAreInBalance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := rapid.Float64Range(0.1, 5000).Draw(t, "weight")
		s := rapid.Float64Range(10, 50_000).Draw(t, "spacing")
		h := rapid.Float64Range(0.1, 20_000).Draw(t, "sag")
		legs := hanging.LegAngle(units.Length(s), units.Length(h))
		tension, side := float64(hanging.Tension(units.Force(w), legs)), float64(hanging.SidePull(units.Force(w), legs))
		for what, pair := range map[string][2]float64{
			"up":         {2 * tension * math.Sin(float64(legs)), w},
			"sideways":   {tension * math.Cos(float64(legs)), side},
			"by lengths": {tension, w / 2 * math.Hypot(s/2, h) / h},
		} {
			if math.Abs(pair[0]-pair[1]) > 1e-9*max(w, tension) {
				t.Fatalf("%s: %g is not %g", what, pair[0], pair[1])
			}
		}
		if flatter := hanging.Tension(units.Force(w), hanging.LegAngle(units.Length(s), units.Length(h/2))); float64(flatter) <= tension {
			t.Fatalf("a flatter wire carries %g, not more than %g", float64(flatter), tension)
		}
		// A wire as long as two legs sags as far; the relative error grows as the wire gets flat.
		length := 2 * math.Hypot(s/2, h)
		if got := float64(hanging.Sag(units.Length(length), units.Length(s))); math.Abs(got-h) > 1e-12*length*length/h {
			t.Fatalf("sag %g, want %g", got, h)
		}
	})
}

// At the dew point the surface is at 100 per cent, and air is saturated at its own temperature only when it
// is at 100 per cent: the two formulas are one.
func TestDewPointIsSaturation(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := rapid.Float64Range(0, 40).Draw(t, "temperature")
		humidity := rapid.Float64Range(0.01, 1).Draw(t, "humidity")
		dew := hanging.DewPoint(at, humidity)
		if dew > at+1e-9 {
			t.Fatalf("dew point %g above %g", dew, at)
		}
		if got := hanging.SurfaceHumidity(at, humidity, dew); math.Abs(got-1) > 1e-9 {
			t.Fatalf("%g at the dew point", got)
		}
	})
}
