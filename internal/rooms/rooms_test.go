package rooms

import (
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"sabinbook/internal/catalog"
	"sabinbook/internal/reverb"
)

// lantern is the rehearsal room of the invented Lantern Yard.
func lantern() Question {
	return Question{
		Sides: [3]float64{6.2, 4.4, 2.7}, Air: reverb.StandardAir(), Rule: reverb.Own, Time: 0.6, From: 250, To: 4000,
		Surfaces: []Surface{{Face: Ceiling, Material: "concrete-smooth-painted-or-glazed"}, {Face: Floor, Material: "wood-floor-on-joists"}, {Face: Walls, Material: "plaster-painted"},
			{Face: Walls, Area: 3.36, Material: "ordinary-window-glass"}, {Face: Walls, Area: 1.8, Material: "solid-timber-door"}},
		Things: []Thing{{Material: "one-seated-person", Count: 6}},
		Panels: &Panels{Count: 10, Face: 0.72, Alpha: Octaves{0.17, 0.59, 0.95, 0.99, 0.98, 0.97}, On: Walls},
	}
}

// Every row of the table has a name of its own, plausible figures and a source; its figures are
// those of surfaces.csv of the reference, of which six rows were copied by hand.
func TestMaterials(t *testing.T) {
	list := Materials()
	names := map[string]bool{}
	for _, m := range list {
		if names[m.Name] || m.Source == "" || m.Licence == "" || m.Description == "" {
			t.Errorf("%+v", m)
		}
		names[m.Name] = true
		for _, a := range m.Alpha {
			if !(a >= 0 && a <= 1.3) {
				t.Errorf("%s: %g", m.Name, a)
			}
		}
	}
	if len(list) != 144 {
		t.Errorf("%d materials, the source has 144", len(list))
	}
	for name, want := range map[string]Octaves{
		"plaster-painted":                   {0.02, 0.02, 0.02, 0.02, 0.02, 0.02},
		"concrete-smooth-painted-or-glazed": {0.01, 0.01, 0.01, 0.02, 0.02, 0.02},
		"wood-floor-on-joists":              {0.15, 0.11, 0.10, 0.07, 0.06, 0.07},
		"ordinary-window-glass":             {0.35, 0.25, 0.18, 0.12, 0.07, 0.04},
		"solid-timber-door":                 {0.14, 0.10, 0.06, 0.08, 0.10, 0.10},
		"one-seated-person":                 {0.23, 0.37, 0.44, 0.45, 0.45, 0.45},
	} {
		if m, ok := Find(name); !ok || m.Alpha != want {
			t.Errorf("%s: %v, want %v", name, m.Alpha, want)
		}
	}
}

// The room by hand, at 1000 Hz: ceiling 27.28 m² x 0.02, floor 27.28 x 0.07, walls 57.24 - 5.16 =
// 52.08 x 0.02, glass 3.36 x 0.12, door 1.8 x 0.08, six people x 0.45: 6.7440 m². V = 73.656 m³, air
// 4.66 dB/km (ISO 9613-1 Table 1), m = 0.001073 /m, 4 m V = 0.3161 m². k = 55.262/343.2 = 0.16102.
// T = 0.16102 x 73.656 / 7.0601 = 1.680 s. Ten panels of 0.72 m² in the place of plaster add
// 7.2 x (0.99 - 0.02) = 6.984 m²: T = 11.860 / 14.044 = 0.844 s. To 0.60 s are lacking
// 19.767 - 0.3161 - 6.744 = 12.707 m², 18.19 panels of 0.6984 m²: 19.
func TestTheRoomByHand(t *testing.T) {
	q := lantern()
	if err := q.Validate(); err != nil {
		t.Fatal(err)
	}
	a := q.Answer()
	o := a.Octaves[3]
	near := func(what string, got, want, tolerance float64) {
		t.Helper()
		if math.Abs(got-want) > tolerance {
			t.Errorf("%s: %g, want %g", what, got, want)
		}
	}
	near("volume", a.Volume, 73.656, 1e-9)
	near("constant", a.Constant, 0.16102, 1e-5)
	near("area", o.Area, 6.7440, 0.0005)
	near("air", o.AirArea, 0.3161, 0.0005)
	near("before", o.Before.Sabine, 1.680, 0.001)
	near("after", o.After.Sabine, 0.8445, 0.001)
	near("lacking", o.Lacking, 12.707, 0.002)
	if o.Least != 19 || !o.Reached {
		t.Errorf("least %d, reached %v", o.Least, o.Reached)
	}
	if a.Room != 79 { // 57.24 m² of walls
		t.Errorf("room for %d", a.Room)
	}
	if a.Least < 19 || a.Octaves[0].Asked || !a.Octaves[0].BelowSchroeder || a.Octaves[5].BelowSchroeder {
		t.Errorf("%+v", a)
	}
	if len(a.Modes) != 10 || math.Abs(a.Modes[0].Hertz-343.2/2/6.2) > 1e-9 {
		t.Errorf("%+v", a.Modes)
	}
}

// The least number of panels is the first that brings Sabine's time to the target, tried one by one.
func TestLeastNumberByTrying(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		q := lantern()
		q.Time = rapid.Float64Range(0.3, 1.5).Draw(t, "target")
		q.Panels.Face = rapid.Float64Range(0.2, 2).Draw(t, "face")
		for i := range q.Panels.Alpha {
			q.Panels.Alpha[i] = rapid.Float64Range(0, 1.2).Draw(t, "alpha")
		}
		a := q.Answer()
		for i, o := range a.Octaves {
			if !o.Asked {
				continue
			}
			least := -1
			for n := 0; n <= a.Room; n++ {
				q.Panels.Count = n
				if q.Answer().Octaves[i].After.Sabine <= q.Time*(1+1e-9) {
					least = n
					break
				}
			}
			if o.Reached != (least >= 0) || o.Reached && o.Least != least {
				t.Fatalf("%d Hz: %d, reached %v; tried %d", o.Hertz, o.Least, o.Reached, least)
			}
		}
	})
}

// Measured decay times stand for surfaces: without panels they come back.
func TestMeasuredTimesComeBack(t *testing.T) {
	q := lantern()
	q.Surfaces, q.Things, q.Measured = nil, nil, &Octaves{1.1, 1.3, 1.5, 1.6, 1.5, 1.2}
	q.Panels.On = ""
	if err := q.Validate(); err != nil {
		t.Fatal(err)
	}
	a := q.Answer()
	for i, o := range a.Octaves {
		if math.Abs(o.Before.Sabine-q.Measured[i]) > 1e-9 || o.Before.Eyring != nil || o.After.Sabine >= o.Before.Sabine {
			t.Errorf("%d Hz: %+v", o.Hertz, o)
		}
	}
}

func TestBoundsAreInOrder(t *testing.T) {
	q := lantern()
	low, high := q.Panels.Alpha, q.Panels.Alpha
	for i := range low {
		low[i], high[i] = low[i]*0.8, high[i]*1.1
	}
	q.Panels.Low, q.Panels.High = &low, &high
	for _, o := range q.Answer().Octaves {
		if !(*o.AfterLow <= o.After.Sabine && o.After.Sabine <= *o.AfterHigh) {
			t.Errorf("%d Hz: %g, %g, %g", o.Hertz, *o.AfterLow, o.After.Sabine, *o.AfterHigh)
		}
	}
}

// The side wall of the worked example of rooms.md section 6, in the room: 1.0 m and 1.5 m from the
// wall y = 0, 2.5 m apart along it.
func TestMirrorsOfTheRoom(t *testing.T) {
	q := lantern()
	q.Placement = &Placement{Source: [3]float64{1, 1, 1.2}, Listeners: [][3]float64{{3.5, 1.5, 1.2}}}
	if err := q.Validate(); err != nil {
		t.Fatal(err)
	}
	list := q.Answer().Mirrors
	i := slices.IndexFunc(list, func(m Mirror) bool { return m.Wall == "wall_y0" })
	if len(list) != 6 || math.Abs(list[i].Point[0]-2) > 1e-9 || math.Abs(1000*list[i].Delay-2.87) > 0.01 || math.Abs(list[i].Level+2.84) > 0.005 {
		t.Errorf("%+v", list)
	}
}

func TestFaultsAreNamed(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*Question)
		at     string
	}{
		"unknown material": {func(q *Question) { q.Surfaces[0].Material = "painted plaster" }, "/surfaces/0/material"},
		"both":             {func(q *Question) { q.Surfaces[0].Own = &Octaves{} }, "/surfaces/0/material"},
		"two wholes":       {func(q *Question) { q.Surfaces[3].Area = 0 }, "/surfaces/3/area_m2"},
		"too many panels":  {func(q *Question) { q.Panels.Count = 80 }, "/panels/count"},
		"bounds":           {func(q *Question) { q.Panels.Low = &Octaves{1, 1, 1, 1, 1, 1} }, "/panels/alpha/alpha_125_hz"},
		"large for S12.60": {func(q *Question) { q.Sides, q.Rule = [3]float64{20, 20, 5}, reverb.S1260 }, "/target/rule"},
		"backwards":        {func(q *Question) { q.From, q.To = 4000, 250 }, "/target/to_hz"},
		"dry air":          {func(q *Question) { q.Air.Humidity = 0 }, "/air/humidity_percent"},
	} {
		q := lantern()
		c.change(&q)
		invalid, ok := q.Validate().(*catalog.InvalidError)
		if !ok || !slices.ContainsFunc(invalid.Faults, func(f catalog.Fault) bool { return f.Pointer == c.at }) {
			t.Errorf("%s: %v", name, q.Validate())
		}
	}
	q := lantern()
	q.Surfaces[2].Material = "painted-plaster"
	if err := q.Validate(); err == nil || !strings.Contains(err.(*catalog.InvalidError).Faults[0].Fix, "plaster-painted") {
		t.Errorf("no near name: %v", err)
	}
}
