package absorber

import (
	"errors"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"sabinbook/internal/units"
)

// loss is a pressure a + b u + c u² in Pa over the face velocity u in m/s.
type loss struct{ a, b, c float64 }

// time returns how long a piston of a mass takes where the loss is all that holds it up.
func (l loss) time(p Piston, mass units.Mass) float64 {
	dp := float64(mass)*gravity/float64(p.PistonArea) - l.a
	u := dp / l.b
	if l.c > 0 {
		u = 2 * dp / (l.b + math.Sqrt(l.b*l.b+4*l.c*dp)) // no difference of near figures
	}
	return p.Volume / (float64(p.SampleArea) * u)
}

// runs returns a run of each mass.
func (l loss) runs(p Piston, masses ...units.Mass) []Run {
	var all []Run
	for _, m := range masses {
		all = append(all, Run{m, l.time(p, m)})
	}
	return all
}

// tube is a piston of 0.05 m² above a sample of 0.01 m², 5 litres a run.
func tube() Piston { return Piston{PistonArea: 0.05, SampleArea: 0.01, Volume: 0.005} }

// Times that follow from a known resistance give it back. The figures are exact, so 1e-9
// relative. 0.4 kg on 0.05 m² is 78.4532 Pa.
func TestPistonGivesBackWhatItWasMadeFrom(t *testing.T) {
	sample := loss{b: 4000, c: 20_000}
	for name, c := range map[string]struct {
		rig        loss
		masses     []units.Mass
		empty      []units.Mass
		resistance float64
	}{
		"several masses":             {loss{}, []units.Mass{0.2, 0.4, 0.8}, nil, 4000},
		"friction and ducts":         {loss{a: 10, b: 300}, []units.Mass{0.2, 0.4, 0.8}, []units.Mass{0.1, 0.15}, 4000},
		"ducts alone, one empty":     {loss{b: 300}, []units.Mass{0.2, 0.4, 0.8}, []units.Mass{0.1}, 4000},
		"friction taken as ducts":    {loss{a: 10}, []units.Mass{0.4, 0.4}, nil, 78.4532 / ((-4000 + math.Sqrt(4000*4000+4*20_000*68.4532)) / 40_000)},
		"one mass, all of the curve": {loss{}, []units.Mass{0.4, 0.4}, nil, 4000 + 20_000*(-4000+math.Sqrt(4000*4000+4*20_000*78.4532))/40_000},
	} {
		p := tube()
		p.Runs = loss{sample.a + c.rig.a, sample.b + c.rig.b, sample.c}.runs(p, c.masses...)
		if c.empty != nil {
			p.EmptyRuns = c.rig.runs(p, c.empty...)
		}
		if c.rig.b == 0 && len(c.empty) > 0 {
			t.Fatal("an empty run without a duct has no velocity")
		}
		o, err := p.Openness()
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		want := c.resistance
		if first := c.masses[0]; first == c.masses[1] {
			want /= 1 + 0.25*o.Velocity
		}
		near(t, name, float64(o.Value), want, 1e-9)
	}
}

// One mass by hand: 0.4 kg on 0.05 m² is 78.4532 Pa; 5 litres through 0.01 m² in 25 s are
// 0.02 m/s. R = 3922.66. Times of 24, 25 and 26 s spread by 0.04, so ±8 %.
func TestPistonByHand(t *testing.T) {
	p := tube()
	p.Runs = []Run{{0.4, 24}, {0.4, 25}, {0.4, 26}}
	o, err := p.Openness()
	if err != nil {
		t.Fatal(err)
	}
	near(t, "velocity", o.Velocity, 0.02, 1e-12)
	near(t, "value", float64(o.Value), 3922.66/1.005, 1e-12)
	near(t, "low", float64(o.Low), 3922.66*(1/1.02-0.08), 1e-12)
	near(t, "high", float64(o.High), 3922.66*1.08, 1e-12)
	if d := cmp.Diff([]WarningCode{FewRuns, NoEmptyRun}, codes(t, o.Warnings)); d != "" {
		t.Error(d)
	}
	// An empty run of 1 s at 0.2 kg: 39.2266 Pa at 0.5 m/s, 78.4532 Pa·s/m. Its kind of loss
	// adds all of that to the half range; its time, without repeats and so good to 10 % as
	// standard deviation, adds two tenths.
	p.EmptyRuns = []Run{{0.2, 1}}
	if o, err = p.Openness(); err != nil {
		t.Fatal(err)
	}
	near(t, "value less the empty run", float64(o.Value), (3922.66-78.4532)/1.005, 1e-12)
	half := math.Sqrt(math.Pow(0.08*3922.66, 2) + math.Pow(78.4532, 2) + math.Pow(15.69064, 2))
	near(t, "high less the empty run", float64(o.High), 3922.66-78.4532+half, 1e-9)
	// One run: a single run is good to 20 %.
	p.Runs, p.EmptyRuns = p.Runs[1:2], nil
	if o, err = p.Openness(); err != nil {
		t.Fatal(err)
	}
	near(t, "high of one run", float64(o.High), 1.2*3922.66, 1e-12)
	if d := cmp.Diff([]Warning{
		{Code: FewRuns, Layer: -1, Value: 1, Low: 5},
		{Code: SpreadUnknown, Layer: -1, Value: 0.2},
		{Code: NoEmptyRun, Layer: -1},
	}, o.Warnings); d != "" {
		t.Error(d)
	}
	// Five equal times do not make areas and leaks exact: 5 %.
	p.Runs = slices.Repeat(p.Runs, 5)
	if o, err = p.Openness(); err != nil {
		t.Fatal(err)
	}
	near(t, "high of five equal times", float64(o.High), 1.05*3922.66, 1e-12)
}

// Two masses, three runs each. The line through R1 at u and R2 at 2u ends at 2 R1 - R2, with
// a variance of (4 + 1)/3 of that of a single run, to which that of a single run is added:
// sqrt(8/3) of the half range of single runs. Where the line would fall it is level, and
// the mean of six runs is surer; times moved to where it rises lie between.
func TestExtrapolationWidensTheRange(t *testing.T) {
	p := tube()
	p.Runs = []Run{{0.2, 48}, {0.2, 50}, {0.2, 52}, {0.4, 23.8}, {0.4, 24.8}, {0.4, 25.8}}
	o, err := p.Openness()
	if err != nil {
		t.Fatal(err)
	}
	r1, r2 := 0.2*gravity/0.05*50*2, 0.4*gravity/0.05*24.8*2
	near(t, "a line that would fall is level", float64(o.Value), (r1+r2)/2, 1e-12)
	single := coverage * math.Sqrt((2*0.04*0.04+2/24.8/24.8)/4) * float64(o.Value)
	if half := float64(o.High - o.Value); half <= single || half > single*math.Sqrt(1+5.0/3) {
		t.Errorf("half range %g, that of a single run %g", half, single)
	}
	p.Runs = []Run{{0.2, 48}, {0.2, 50}, {0.2, 52}, {0.4, 24.4}, {0.4, 25.4}, {0.4, 26.4}}
	if o, err = p.Openness(); err != nil {
		t.Fatal(err)
	}
	r2 = 0.4 * gravity / 0.05 * 25.4 * 2
	u1, u2 := 0.01, 0.25/12.7
	near(t, "a line that rises is drawn to zero", float64(o.Value), r1-(r2-r1)/(u2-u1)*u1, 1e-9)
	if half := float64(o.High - o.Value); half < 1.3*single {
		t.Errorf("half range %g is hardly that of a single run, %g", half, single)
	}
}

func TestPistonWarnings(t *testing.T) {
	sample := loss{b: 4000}
	steady := func(l loss, masses ...units.Mass) []Run { return l.runs(tube(), masses...) }
	five := []units.Mass{0.2, 0.2, 0.4, 0.4, 0.4}
	empty := steady(loss{b: 100}, 0.05, 0.1)
	for name, c := range map[string]struct {
		runs, empty []Run
		want        []WarningCode
	}{
		"as it should be":    {steady(loss{b: 4100}, five...), empty, nil},
		"no repeats":         {steady(sample, 0.2, 0.3, 0.4, 0.5, 0.6), empty, []WarningCode{SpreadUnknown}},
		"two runs":           {steady(sample, 0.2, 0.2), empty, []WarningCode{FewRuns, SpreadUnknown}},
		"nothing taken off":  {steady(sample, five...), nil, []WarningCode{NoEmptyRun}},
		"a choked rig":       {steady(loss{b: 4000}, five...), steady(loss{b: 2100}, 0.1, 0.2), []WarningCode{RigDominates}},
		"open cloth":         {steady(loss{b: 300}, five...), steady(loss{b: 10}, 0.05, 0.1), []WarningCode{FastTest}},
		"friction left over": {steady(loss{a: 15, b: 4000}, five...), empty, []WarningCode{ResistanceFalls}},
	} {
		p := tube()
		p.Runs, p.EmptyRuns = c.runs, c.empty
		o, err := p.Openness()
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if d := cmp.Diff(c.want, codes(t, o.Warnings)); d != "" {
			t.Errorf("%s: %s", name, d)
		}
	}
}

func TestPistonRefuses(t *testing.T) {
	good := func() Piston {
		p := tube()
		p.Runs, p.EmptyRuns = []Run{{0.4, 25}, {0.4, 26}}, []Run{{0.2, 1}}
		return p
	}
	for _, c := range []struct {
		field string
		spoil func(*Piston)
	}{
		{"piston_area", func(p *Piston) { p.PistonArea = 0 }},
		{"sample_area", func(p *Piston) { p.SampleArea = units.Area(math.NaN()) }},
		{"volume", func(p *Piston) { p.Volume = -1 }},
		{"runs", func(p *Piston) { p.Runs = nil }},
		{"runs", func(p *Piston) { p.Runs = slices.Repeat(p.Runs, 51) }},
		{"empty_runs", func(p *Piston) { p.EmptyRuns = slices.Repeat(p.EmptyRuns, 101) }},
		{"mass", func(p *Piston) { p.Runs[1].Mass = 0 }},
		{"mass", func(p *Piston) { p.EmptyRuns[0].Mass = units.Mass(math.Inf(1)) }},
		{"time", func(p *Piston) { p.Runs[0].Time = 0 }},
		{"time", func(p *Piston) { p.EmptyRuns[0].Time = math.NaN() }},
		// The rig is no faster without the sample than with it.
		{"empty_runs", func(p *Piston) { p.EmptyRuns = []Run{{0.4, 26}} }},
		// Twice the mass, and not much faster: the line ends below 0 (R = 3923 and 9807 Pa·s/m
		// at 0.02 and 0.032 m/s).
		{"runs", func(p *Piston) { p.Runs = []Run{{0.4, 25}, {1.6, 15.625}} }},
	} {
		p := good()
		c.spoil(&p)
		_, err := p.Openness()
		invalid := (*InvalidError)(nil)
		if !errors.As(err, &invalid) || invalid.Field != c.field || invalid.Layer != -1 || invalid.High == 0 {
			t.Errorf("%s: %#v", c.field, err)
		}
		if _, again := p.Resistivity(50); fmt.Sprint(again) != fmt.Sprint(err) {
			t.Errorf("%s: a plug gives %v", c.field, again)
		}
	}
	invalid := (*InvalidError)(nil)
	if _, err := good().Resistivity(0); !errors.As(err, &invalid) || invalid.Field != "thickness" {
		t.Errorf("no thickness: %v", err)
	}
}

// machine draws a piston with repeats of one to three masses on a rig with friction and ducts.
func machine(t *rapid.T) Piston {
	p := Piston{
		PistonArea: units.Area(between(t, "piston area", 1e-3, 1)),
		SampleArea: units.Area(between(t, "sample area", 1e-3, 1)),
		Volume:     between(t, "volume", 1e-3, 0.1),
	}
	heavy := between(t, "pressure", 10, 2000) * float64(p.PistonArea) / gravity
	rig := loss{a: rapid.Float64Range(0, 5).Draw(t, "friction"), b: between(t, "ducts", 1, 200)}
	both := loss{rig.a, rig.b + between(t, "R", 10, 1e4), between(t, "B", 1, 1e4)}
	draw := func(l loss, masses, runs int, name string) []Run {
		var all []Run
		for i := range masses {
			m := units.Mass(heavy * (1 + 0.7*float64(i)))
			for range runs {
				all = append(all, Run{m, l.time(p, m) * (1 + rapid.Float64Range(-0.1, 0.1).Draw(t, name))})
			}
		}
		return all
	}
	p.Runs = draw(both, rapid.IntRange(1, 3).Draw(t, "masses"), rapid.IntRange(1, 3).Draw(t, "repeats"), "scatter")
	p.EmptyRuns = draw(rig, rapid.IntRange(0, 2).Draw(t, "empty masses"), rapid.IntRange(1, 3).Draw(t, "empty repeats"), "empty scatter")
	return p
}

func TestPistonProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := machine(t)
		o, err := p.Openness()
		if p.Check() != nil || err != nil {
			// Ten percent of scatter may bring a result below 0; then there is an error.
			invalid := (*InvalidError)(nil)
			if !errors.As(err, &invalid) {
				t.Fatal(err)
			}
			return
		}
		ordered(t, o)
		alike := func(what string, changed Piston, factor, u float64) {
			c, err := changed.Openness()
			if err != nil {
				t.Fatalf("%s: %v", what, err)
			}
			// 1e-6: the ends of lines are differences, and so are the moved times.
			closely(t, what+" velocity", c.Velocity, u*o.Velocity, 1e-9)
			correction := 1.0
			if f := p.find(); f.masses == 1 {
				correction = (1 + inertialShare*o.Velocity) / (1 + inertialShare*c.Velocity)
			} else {
				closely(t, what+" low", float64(c.Low)+float64(c.High), factor*float64(o.Low+o.High), 1e-6)
			}
			closely(t, what+" value", float64(c.Value), factor*correction*float64(o.Value), 1e-6)
			closely(t, what+" high", float64(c.High), factor*float64(o.High), 1e-6)
		}
		changed := p
		changed.SampleArea *= 2
		alike("twice the sample area", changed, 2, 0.5)
		changed = p
		changed.Volume *= 2
		alike("twice the volume", changed, 0.5, 2)
		changed = p
		changed.PistonArea *= 2
		alike("twice the piston area", changed, 0.5, 1)
		changed = p
		changed.Runs, changed.EmptyRuns = slices.Clone(p.Runs), slices.Clone(p.EmptyRuns)
		for _, runs := range [][]Run{changed.Runs, changed.EmptyRuns} {
			slices.Reverse(runs)
			for i := range runs {
				runs[i].Time *= 2
			}
		}
		alike("twice the times in another order", changed, 2, 0.5)

		d := units.Length(between(t, "thickness", 5, 500))
		plug, err := p.Resistivity(d)
		if err != nil {
			t.Fatal(err)
		}
		closely(t, "plug", float64(plug.Value)*d.Metres(), float64(o.Value), 1e-12)
		if !(plug.Low <= plug.Value && plug.Value <= plug.High) || plug.Velocity != o.Velocity || len(plug.Warnings) != len(o.Warnings) {
			t.Fatalf("%+v", plug)
		}
	})
}

// The worked example of openapi/measuring.md, whose figures must be those of the code.
func TestMeasuringPage(t *testing.T) {
	page, err := os.ReadFile("../../openapi/measuring.md")
	if err != nil {
		t.Fatal(err)
	}
	text := strings.Join(strings.Fields(string(page)), " ")
	p := Piston{
		PistonArea: 0.05, SampleArea: 0.01, Volume: 0.005,
		Runs:      []Run{{0.3, 35.2}, {0.3, 36.0}, {0.3, 36.8}, {0.6, 18.1}, {0.6, 18.5}},
		EmptyRuns: []Run{{0.3, 0.8}, {0.3, 0.9}, {0.3, 1.0}},
	}
	o, err := p.Openness()
	if err != nil {
		t.Fatal(err)
	}
	if len(o.Warnings) != 0 {
		t.Errorf("%+v", o.Warnings)
	}
	plug, err := p.Resistivity(100)
	if err != nil {
		t.Fatal(err)
	}
	light, heavy, empty := p.means(p.Runs)[0], p.means(p.Runs)[1], p.means(p.EmptyRuns)[0]
	r := func(m meanRun) float64 { return m.pressure / m.velocity }
	for _, want := range []string{
		fmt.Sprintf("%.1f Pa", light.pressure), fmt.Sprintf("%.1f Pa", heavy.pressure),
		fmt.Sprintf("%.4f m/s", light.velocity), fmt.Sprintf("%.4f m/s", heavy.velocity),
		fmt.Sprintf("%.0f Pa s/m", r(light)), fmt.Sprintf("%.0f Pa s/m", r(heavy)), fmt.Sprintf("%.0f Pa s/m", r(empty)),
		fmt.Sprintf("%.0f Pa s/m", r(light)-r(empty)), fmt.Sprintf("%.0f Pa s/m", r(heavy)-r(empty)),
		fmt.Sprintf("%.0f Pa s/m for the stack, %.0f to %.0f", o.Value, o.Low, o.High),
		fmt.Sprintf("%.0f Pa s/m for one layer, %.0f to %.0f", o.Value/10, o.Low/10, o.High/10),
		fmt.Sprintf("%.0f Pa s/m2, %.0f to %.0f", plug.Value, plug.Low, plug.High),
	} {
		if !strings.Contains(text, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	for _, run := range append(p.Runs, p.EmptyRuns...) {
		if !strings.Contains(text, fmt.Sprintf("%.1f", run.Time)) {
			t.Errorf("the page does not have the time %.1f s", run.Time)
		}
	}
}
