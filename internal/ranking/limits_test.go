package ranking

import (
	"slices"
	"testing"

	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
	"sabinbook/internal/handling"
	"sabinbook/internal/money"
	"sabinbook/internal/units"
)

// Every limit leaves out exactly the options that break it, with its reason, and every
// candidate is still somewhere.
func TestLimitsLeaveOutWhatBreaksThem(t *testing.T) {
	fire := func(s *stock) {
		s.Fills[0].Fire = []catalog.FireDeclaration{{Subject: "fill", Scheme: catalog.EN13501, Code: "A2-s1, d0"}}
		s.Fabrics[1].Fire = []catalog.FireDeclaration{{Subject: "fabric", Scheme: catalog.EN13501, Code: "B-s1,d0"}}
		s.Fabrics[0].SurfaceMass = nil
	}
	all := smallStock()
	fire(all)
	full := rank(t, all, nil)
	minutes := units.Minutes(full.Options[0].Burden.Total)
	budget := *full.Options[2].Cost.Total
	for name, c := range map[string]struct {
		limits  Limits
		keeps   func(Option) bool
		reasons []Reason
	}{
		"budget":  {Limits{Budget: &budget}, func(o Option) bool { return o.Cost.Total.Cmp(budget) <= 0 }, []Reason{OverBudget}},
		"depth":   {Limits{Depth: 100}, func(o Option) bool { return o.Build.DepthFromWall() <= 100 }, []Reason{TooDeep}},
		"minutes": {Limits{Minutes: &minutes}, func(o Option) bool { return o.Burden.Total <= minutes }, []Reason{TooLong}},
		"mass": {Limits{Mass: 3}, func(o Option) bool { mass, _, known := o.Build.Mass(); return known && mass <= 3 },
			[]Reason{TooHeavy, MassUnclear}},
		"hazard": {Limits{Avoid: []handling.Caution{handling.MayItch}}, func(o Option) bool { return o.Build.Fill.Slug == "felt" }, []Reason{Hazard}},
		"fill's class": {Limits{Fire: &FireDemand{catalog.EN13501, []string{"A1", "A2-s1,d0"}, []string{"fill"}}},
			func(o Option) bool { return o.Build.Fill.Slug == full.fillWithClass(t) }, []Reason{OtherFire}},
		"both classes": {Limits{Fire: &FireDemand{catalog.EN13501, []string{"A2-s1,d0", "B-s1, d0"}, []string{"fill", "fabric"}}},
			func(o Option) bool { return len(o.Build.Fill.Fire) > 0 && len(o.Build.Fabric.Fire) > 0 }, []Reason{OtherFire}},
		"class of another scheme": {Limits{Fire: &FireDemand{catalog.ASTME84, []string{"A"}, []string{"fill"}}}, func(Option) bool { return false }, []Reason{OtherFire}},
	} {
		s := smallStock()
		fire(s)
		got := rank(t, s, func(b *Brief) { b.Limits, b.Limit = c.limits, 200 })
		want := slices.DeleteFunc(slices.Clone(full.Options), func(o Option) bool { return !c.keeps(o) })
		if !slices.Equal(keys(got.Options), keys(want)) || got.Priced != len(want) {
			t.Errorf("%s: %v, want %v", name, keys(got.Options), keys(want))
		}
		count, seen := got.Priced+got.Unpriced, []Reason{}
		for _, l := range got.LeftOut {
			count += l.Count
			seen = append(seen, l.Reason)
		}
		if count != got.Considered || got.Considered != full.Considered {
			t.Errorf("%s: %d of %d candidates are somewhere", name, count, got.Considered)
		}
		for _, r := range c.reasons {
			if !slices.Contains(seen, r) {
				t.Errorf("%s: nothing is left out for %s: %v", name, r, seen)
			}
		}
	}
}

func (r Result) fillWithClass(t *testing.T) catalog.Slug {
	t.Helper()
	for _, o := range r.Options {
		if len(o.Build.Fill.Fire) > 0 {
			return o.Build.Fill.Slug
		}
	}
	t.Fatal("no fill with a class")
	return ""
}

func TestBadLimitsAreNamed(t *testing.T) {
	francs, less := money.FromMinor(100, "CHF"), money.FromMinor(-1, "EUR")
	late := units.Minutes(-1)
	for pointer, l := range map[string]Limits{
		"/limits/budget/currency":    {Budget: &francs},
		"/limits/budget/amount":      {Budget: &less},
		"/limits/panel_mass_kg":      {Mass: -1},
		"/limits/depth_from_wall_mm": {Depth: 2001},
		"/limits/extra_time_min":     {Minutes: &late},
		"/limits/avoid/0":            {Avoid: []handling.Caution{"noise"}},
		"/limits/fire/scheme":        {Fire: &FireDemand{"own", []string{"A"}, []string{"fill"}}},
		"/limits/fire/codes":         {Fire: &FireDemand{catalog.EN13501, nil, []string{"fill"}}},
		"/limits/fire/of":            {Fire: &FireDemand{catalog.EN13501, []string{"A1"}, nil}},
		"/limits/fire/of/0":          {Fire: &FireDemand{catalog.EN13501, []string{"A1"}, []string{"panel"}}},
	} {
		b := StandardBrief(1, day, "EUR")
		b.Limits = l
		invalid, ok := b.Validate().(*catalog.InvalidError)
		if !ok || len(invalid.Faults) != 1 || invalid.Faults[0].Pointer != pointer {
			t.Errorf("%s: %v", pointer, b.Validate())
		}
	}
}

// With the model alone no option rests on a test, and those of fills without a resistivity are
// left out.
func TestModelAloneLeavesTestsAside(t *testing.T) {
	s := smallStock()
	s.fill("tested", 0, catalog.PolyProfile, 2000, 50)
	s.Fills[len(s.Fills)-1].Density = nil
	alpha := func() (c catalog.AbsorptionTest) {
		c = catalog.AbsorptionTest{Meta: meta("test", "tested"), FillID: "fill_tested", Standard: "iso_354", Mounting: "A", Thickness: 50, SourceID: "src_test"}
		return c
	}()
	alpha.Alpha = bands.OctaveCurve([bands.OctaveCount]float64{0.1, 0.3, 0.7, 0.9, 0.9, 0.9})
	s.Tests = append(s.Tests, alpha)
	has := func(r Result) bool {
		return slices.ContainsFunc(r.Options, func(o Option) bool { return o.Build.Fill.Slug == "tested" })
	}
	open := func(b *Brief) {
		b.Limit, b.AirGaps, b.LayersMax, b.Fabrics = 200, []units.Length{0}, 1, []string{"air"}
	}
	s.fabric("air", 1, 100)
	if r := rank(t, s, open); !has(r) {
		t.Errorf("no option rests on the test: %+v", r.LeftOut)
	}
	if r := rank(t, s, func(b *Brief) { open(b); b.Basis = ModelBasis }); has(r) || len(r.Options) == 0 {
		t.Errorf("%v", keys(r.Options))
	}
}
