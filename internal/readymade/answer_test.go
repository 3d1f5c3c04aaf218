package readymade_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
	"sabinbook/internal/costing"
	"sabinbook/internal/money"
	"sabinbook/internal/ranking"
	"sabinbook/internal/readymade"
	"sabinbook/internal/units"
	"sabinbook/seed"
)

// The catalog is the demo seed. Its goods and prices are invented: on 2026-11-02 the panel of
// 45 mm costs 74.90 at the web shop (delivery 24.90, free from 250.00) and 79.00 at the cloth
// shop (5.90, free from 80.00), the one of 85 mm 229.00 for two at the web shop.
func demo(t testing.TB) catalog.Snapshot {
	t.Helper()
	s, err := seed.Load()
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func question(t testing.TB, s catalog.Snapshot, panels int) readymade.Question {
	brief := ranking.StandardBrief(panels, "2026-11-02", "EUR")
	brief.LayersMax, brief.AirGaps, brief.Fills, brief.Fabrics = 1, []units.Length{0}, []string{"rock-wool-40"}, []string{string(s.Fabrics[0].Slug)}
	price, perPanel := cents(3490), units.Minutes(75)
	return readymade.Question{Build: ranking.Single{Brief: brief, Thickness: 50}, Rival: readymade.Rival{Panel: "ready-panel-45"},
		Tools: []readymade.Tool{{Name: "stapler", Price: &price}}, Labour: readymade.Labour{Setup: 60, PerPanel: &perPanel}}
}

func answer(t testing.TB, s catalog.Snapshot, q readymade.Question) readymade.Answer {
	t.Helper()
	a, err := readymade.For(ranking.Prepare(s, 2), q)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func described(price int64, alpha float64) readymade.Rival {
	return readymade.Rival{Width: 600, Height: 1200, Alpha: bands.OctaveCurve([bands.OctaveCount]float64{alpha, alpha, alpha, alpha, alpha, alpha}),
		Price: &costing.AskingPrice{Price: cents(price), TaxIncluded: true}}
}

func TestStoredPanelsAreBoughtForLeast(t *testing.T) {
	s := demo(t)
	for _, c := range []struct {
		panel        string
		panels       int
		total, extra int64
		bought       int
	}{
		{"ready-panel-45", 6, 44_940, 0, 6},      // 6 · 74.90, above the threshold of the web shop
		{"ready-panel-45", 3, 23_700, 0, 3},      // 3 · 79.00 at the cloth shop; the web shop's 224.70 need delivery
		{"ready-panel-85", 3, 45_800, 11_450, 4}, // two pairs, half of one left over
	} {
		q := question(t, s, c.panels)
		q.Rival.Panel = c.panel
		b := answer(t, s, q).EqualCount.Bought
		if b.Total == nil || *b.Total != cents(c.total) || b.Leftovers != cents(c.extra) || b.Count != c.bought || b.Panels != c.panels {
			t.Errorf("%d of %s: %+v", c.panels, c.panel, b)
		}
	}
}

// The sums of a comparison are those of its two sides, at the same number and at the same
// absorption.
func TestComparisonsHoldBothSides(t *testing.T) {
	s := demo(t)
	a := answer(t, s, question(t, s, 6))
	cost := a.Built.Option().Cost
	if a.EqualAbsorption == nil || a.Match == nil || len(a.Gaps) > 0 || cost.Total == nil {
		t.Fatalf("gaps %v", a.Gaps)
	}
	for _, c := range []readymade.Comparison{a.EqualCount, *a.EqualAbsorption} {
		if c.Sums.Ready != *c.Bought.Total || c.Sums.Cash != *cost.Total || *c.Sums.Replacement != *cost.Replacement || c.Sums.Leftovers != cost.LeftoverValue ||
			*c.Sums.Tools != cents(3490) || *c.Sums.Time != 60+6*75 || !reflect.DeepEqual(c.Savings, c.Sums.Savings()) || len(c.Savings) != 6 {
			t.Errorf("%+v", c)
		}
		if c.Recovery == nil || c.Recovery.To != 18 {
			t.Errorf("recovery %+v", c.Recovery)
		}
		if c.Labour != nil || c.AfterLabour != nil {
			t.Error("labour is worth something though no value of the hour was given")
		}
	}
	if a.EqualCount.Bought.Panels != 6 || a.EqualAbsorption.Bought.Panels != a.Match.Count {
		t.Errorf("%d and %d panels", a.EqualCount.Bought.Panels, a.EqualAbsorption.Bought.Panels)
	}
	m := a.Match
	if m.Low > m.Built || m.High < m.Built || m.LowCount > m.Count || m.HighCount < m.Count {
		t.Errorf("%+v", m)
	}
	// The panel of 45 mm has coefficients 0.12, 0.45, 0.85, 0.95, 0.95, 0.90 on 0.72 m².
	if want := 0.72 * (0.12 + 0.45 + 0.85 + 0.95 + 0.95 + 0.90) / 6; math.Abs(float64(m.Ready)-want) > 1e-12 {
		t.Errorf("one panel absorbs %v m², want %v", m.Ready, want)
	}
}

// The match is the least number of panels that absorb as much, whatever their coefficients.
func TestMatchIsTheLeastNumber(t *testing.T) {
	s := demo(t)
	rapid.Check(t, func(t *rapid.T) {
		q := question(nil, s, rapid.IntRange(1, 4).Draw(t, "panels"))
		q.Rival = described(5000, rapid.Float64Range(0.05, 1.3).Draw(t, "alpha"))
		a, err := readymade.For(ranking.Prepare(s, 2), q)
		if err != nil || a.Match == nil {
			t.Fatal(err, a.Gaps)
		}
		m := a.Match
		const rounding = 1e-8 // in panels: ten times the tolerance of the count
		if n := float64(m.Built / m.Ready); float64(m.Count) < n-rounding || float64(m.Count-1) > n+rounding {
			t.Errorf("%d panels for %v", m.Count, n)
		}
	})
}

func TestGaps(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*catalog.Snapshot, *readymade.Question)
		gaps   []readymade.Gap
		count  bool // savings at the same number are told
		equal  bool // and at the same absorption
	}{
		{"nothing", func(*catalog.Snapshot, *readymade.Question) {}, nil, true, true},
		{"time", func(_ *catalog.Snapshot, q *readymade.Question) { q.Labour.PerPanel = nil }, []readymade.Gap{readymade.BuildingTimeUnknown}, true, true},
		{"tool", func(_ *catalog.Snapshot, q *readymade.Question) { q.Tools[0].Price = nil }, []readymade.Gap{readymade.ToolPriceUnknown}, true, true},
		{"currency", func(_ *catalog.Snapshot, q *readymade.Question) {
			q.Build.Brief.Terms.Currency = "CHF"
			q.Tools = nil
		}, []readymade.Gap{readymade.BuildPriceMissing, readymade.ReadyPriceMissing}, false, false},
		{"offers of the panel", func(s *catalog.Snapshot, _ *readymade.Question) {
			s.Offers = slices.DeleteFunc(s.Offers, func(o catalog.Offer) bool { return o.ItemKind == catalog.ReadyMadeItem })
		}, []readymade.Gap{readymade.ReadyPriceMissing}, false, false},
		{"absorption of the build", func(s *catalog.Snapshot, q *readymade.Question) {
			s.Tests = nil
			at := slices.IndexFunc(s.Fills, func(f catalog.Fill) bool { return string(f.Slug) == q.Build.Brief.Fills[0] })
			s.Fills[at].Resistivity, s.Fills[at].Density, s.Fills[at].FibreDiameter = nil, nil, nil
		}, []readymade.Gap{readymade.BuildAlphaUnknown}, true, false},
		{"absorption of the panel", func(s *catalog.Snapshot, _ *readymade.Question) {
			for i := range s.ReadyMade {
				s.ReadyMade[i].Alpha = bands.Curve{}
			}
		}, []readymade.Gap{readymade.ReadyAlphaUnknown}, true, false},
		{"an octave of the panel", func(s *catalog.Snapshot, _ *readymade.Question) {
			for i := range s.ReadyMade {
				c := bands.NewCurve(bands.Octave)
				c.Set(bands.OctaveBand(2), 0.8)
				s.ReadyMade[i].Alpha = c
			}
		}, []readymade.Gap{readymade.ReadyBandsMissing}, true, false},
		{"size", func(_ *catalog.Snapshot, q *readymade.Question) {
			q.Rival = described(5000, 0.8)
			q.Rival.Width, q.Rival.Height = 0, 0
		}, []readymade.Gap{readymade.ReadyFaceUnknown}, true, false},
		{"hardly any absorption", func(_ *catalog.Snapshot, q *readymade.Question) { q.Rival = described(5000, 0.0001) },
			[]readymade.Gap{readymade.ReadyAbsorbsTooLittle}, true, false},
		{"no absorption at all", func(_ *catalog.Snapshot, q *readymade.Question) { q.Rival = described(5000, 0) },
			[]readymade.Gap{readymade.ReadyAbsorbsTooLittle}, true, false},
		{"profile of the fill", func(s *catalog.Snapshot, q *readymade.Question) {
			at := slices.IndexFunc(s.Fills, func(f catalog.Fill) bool { return string(f.Slug) == q.Build.Brief.Fills[0] })
			s.Fills[at].Handling.Profile = ""
			q.Labour.HandlingApart = true
		}, []readymade.Gap{readymade.BuildPriceMissing, readymade.HandlingTimeUnknown}, false, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := demo(t)
			q := question(t, s, 4)
			c.change(&s, &q)
			a := answer(t, s, q)
			if !slices.Equal(a.Gaps, c.gaps) {
				t.Errorf("gaps %v", a.Gaps)
			}
			if (len(a.EqualCount.Savings) > 0) != c.count || (a.EqualAbsorption != nil && len(a.EqualAbsorption.Savings) > 0) != c.equal {
				t.Errorf("%d savings at the same number, at the same absorption %+v", len(a.EqualCount.Savings), a.EqualAbsorption)
			}
			for _, saving := range a.EqualCount.Savings {
				if (saving.BreakEven != nil) != a.Time.Known {
					t.Errorf("%+v with time %+v", saving, a.Time)
				}
			}
		})
	}
}

// Where a price of the build is missing, building saves at most what is left beside the
// lines that are known.
func TestMissingPriceBoundsTheSaving(t *testing.T) {
	s := demo(t)
	s.Offers = slices.DeleteFunc(s.Offers, func(o catalog.Offer) bool { return o.ItemKind == catalog.FabricItem })
	q := question(t, s, 4)
	q.Rival = described(5000, 0.8)
	c := answer(t, s, q).EqualCount
	least := answer(t, s, q).Built.Option().Cost.AtLeast
	if c.AtMost == nil || *c.AtMost != cents(20_000).Sub(least) || least.Sign() <= 0 || c.Sums != nil {
		t.Errorf("at least %s, %+v", least, c)
	}
}

func TestTimeLines(t *testing.T) {
	s := demo(t)
	q := question(t, s, 6)
	own := answer(t, s, q)
	if !own.Time.Known || own.Time.Total != 60+6*75 || len(own.Time.Lines) != 2 {
		t.Errorf("%+v", own.Time)
	}
	q.Labour.HandlingApart = true
	apart := answer(t, s, q)
	burden := apart.Built.Option().Burden
	if !apart.Time.Known || math.Abs(float64(apart.Time.Total-own.Time.Total-burden.Total)) > 1e-6 || len(apart.Time.Lines) != 2+len(burden.Lines) {
		t.Errorf("%+v", apart.Time)
	}
	q.Labour = readymade.Labour{}
	none := answer(t, s, q)
	if none.Time.Known || none.Time.Total != burden.Total {
		t.Errorf("%+v", none.Time)
	}
	hour := cents(1450)
	q = question(t, s, 6)
	q.Labour.ValueOfHour = &hour
	c := answer(t, s, q).EqualCount
	if c.Labour == nil || *c.Labour != cents(12_325) || *c.AfterLabour != c.Savings[1].Amount.Sub(cents(12_325)) { // 8.5 h · 14.50
		t.Errorf("labour %v", c.Labour)
	}
}

// What is on hand lowers the cash and counts at its replacement value in the savings of that name.
func TestStockOnHand(t *testing.T) {
	s := demo(t)
	q := question(t, s, 6)
	before := answer(t, s, q).EqualCount
	fill := s.Fills[slices.IndexFunc(s.Fills, func(f catalog.Fill) bool { return f.Slug == "rock-wool-40" })]
	at := slices.IndexFunc(fill.SoldSizes, func(z catalog.SoldSize) bool { return z.Thickness == 50 })
	value := cents(900)
	q.Build.Brief.Terms.Stock = []costing.OnHand{{Kind: catalog.FillItem, Item: "rock-wool-40", Size: &fill.SoldSizes[at], Count: 100, Value: &value}}
	a := answer(t, s, q)
	now := byBasis(a.EqualCount.Savings)
	stock := a.Built.Option().Cost.StockValue
	if stock.Sign() <= 0 || now[readymade.Cash].Amount.Cmp(before.Savings[0].Amount) <= 0 {
		t.Errorf("stock for %s, saves %s instead of %s", stock, now[readymade.Cash].Amount, before.Savings[0].Amount)
	}
	if now[readymade.AtReplacement].Amount != now[readymade.Cash].Amount.Sub(stock) {
		t.Errorf("%s at replacement, %s in cash, stock for %s", now[readymade.AtReplacement].Amount, now[readymade.Cash].Amount, stock)
	}
	q.Build.Brief.Terms.Stock[0].Value = nil
	if a := answer(t, s, q); !slices.Equal(a.Gaps, []readymade.Gap{readymade.StockValueUnknown}) || len(a.EqualCount.Savings) != 4 {
		t.Errorf("gaps %v, %d savings", a.Gaps, len(a.EqualCount.Savings))
	}
}

// The order of records in the snapshot changes nothing.
func TestOrderOfRecordsChangesNothing(t *testing.T) {
	s := demo(t)
	q := question(t, s, 5)
	want := answer(t, s, q)
	r := rand.New(rand.NewPCG(1, 2))
	mixed := s
	mixed.Offers, mixed.Prices, mixed.Suppliers, mixed.ReadyMade = slices.Clone(s.Offers), slices.Clone(s.Prices), slices.Clone(s.Suppliers), slices.Clone(s.ReadyMade)
	r.Shuffle(len(mixed.Offers), func(i, j int) { mixed.Offers[i], mixed.Offers[j] = mixed.Offers[j], mixed.Offers[i] })
	r.Shuffle(len(mixed.Prices), func(i, j int) { mixed.Prices[i], mixed.Prices[j] = mixed.Prices[j], mixed.Prices[i] })
	r.Shuffle(len(mixed.ReadyMade), func(i, j int) { mixed.ReadyMade[i], mixed.ReadyMade[j] = mixed.ReadyMade[j], mixed.ReadyMade[i] })
	got := answer(t, mixed, q)
	if !reflect.DeepEqual(got.EqualCount, want.EqualCount) || !reflect.DeepEqual(got.EqualAbsorption, want.EqualAbsorption) || !reflect.DeepEqual(got.Match, want.Match) {
		t.Error("another answer")
	}
}

func TestQuestionsThatAreRefused(t *testing.T) {
	s := demo(t)
	hour, other, euro := cents(1450), cents(1500), money.FromMinor(100, "CHF")
	for _, c := range []struct {
		at     string
		change func(*readymade.Question)
	}{
		{"/ready_made/panel", func(q *readymade.Question) { q.Rival.Panel = "unobtainium" }},
		{"/ready_made/panel", func(q *readymade.Question) { q.Rival.Width, q.Rival.Height = 600, 1200 }},
		{"/ready_made/price", func(q *readymade.Question) { q.Rival = readymade.Rival{} }},
		{"/ready_made/height_mm", func(q *readymade.Question) { q.Rival = described(1, 1); q.Rival.Height = 0 }},
		{"/ready_made/price/price/currency", func(q *readymade.Question) { q.Rival = described(1, 1); q.Rival.Price.Price = euro }},
		{"/tools/0/name", func(q *readymade.Question) { q.Tools[0].Name = "" }},
		{"/tools/1/name", func(q *readymade.Question) { q.Tools = append(q.Tools, q.Tools[0]) }},
		{"/tools/0/price/currency", func(q *readymade.Question) { q.Tools[0].Price = &euro }},
		{"/labour/setup_min", func(q *readymade.Question) { q.Labour.Setup = -1 }},
		{"/labour/value_of_hour", func(q *readymade.Question) { q.Labour.ValueOfHour, q.Build.Brief.Handling.ValueOfHour = &hour, &other }},
		{"/build/fills/0", func(q *readymade.Question) { q.Build.Brief.Fills = []string{"unobtainium"} }},
		{"/build/panel_count", func(q *readymade.Question) { q.Build.Brief.PanelCount = 0 }},
	} {
		q := question(t, s, 4)
		c.change(&q)
		_, err := readymade.For(ranking.Prepare(s, 2), q)
		var invalid *catalog.InvalidError
		if !errors.As(err, &invalid) || !slices.ContainsFunc(invalid.Faults, func(f catalog.Fault) bool { return f.Pointer == c.at }) {
			t.Errorf("%s: %v", c.at, err)
		}
	}
}

func BenchmarkFor(b *testing.B) {
	s := demo(b)
	for _, c := range []struct {
		name   string
		panels int
		change func(*readymade.Question)
	}{
		{"10 stored", 10, func(*readymade.Question) {}},
		{"10 described", 10, func(q *readymade.Question) { q.Rival = described(8990, 0.8) }},
		{"70 stored", 70, func(*readymade.Question) {}},
		{"500 stored", 500, func(*readymade.Question) {}},
	} {
		b.Run(c.name, func(b *testing.B) {
			q := question(b, s, c.panels)
			c.change(&q)
			p := ranking.Prepare(s, 2)
			for b.Loop() {
				if _, err := readymade.For(p, q); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
