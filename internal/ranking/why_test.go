package ranking

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"sabinbook/internal/absorption"
	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
	"sabinbook/internal/money"
	"sabinbook/internal/units"
)

// recompute works a step out from those below it, in the words of its How and not in those of the
// code that made it, down to the leaves; it returns how many were worked out.
func recompute(t *testing.T, s Step) int {
	t.Helper()
	value, arithmetic := 0.0, true
	switch s.How {
	case Sum:
		for _, of := range s.Of {
			value += of.Value
		}
	case Product:
		value = 1
		for _, of := range s.Of {
			value *= of.Value
		}
	case Quotient:
		value = s.Of[0].Value / s.Of[1].Value
	case AtMost:
		value = math.Min(s.Of[0].Value, s.Of[1].Value)
	case Carried:
		value = math.Min(1, s.Of[0].Value*math.Max(0.25, math.Min(4, s.Of[1].Value/s.Of[2].Value)))
	case Taxed, Modelled, Chosen, ByRule, Counted, Stored, AskedFor:
		arithmetic = false
	default:
		t.Errorf("%s follows in no known way: %q", s.Name, s.How)
	}
	n := 0
	if arithmetic {
		n = 1
		if math.Abs(value-s.Value) > 1e-9*math.Max(1, math.Abs(s.Value)) {
			t.Errorf("%s (%s) is %.12g, its steps give %.12g", s.Name, s.How, s.Value, value)
		}
	}
	if s.Amount != nil && s.How == Sum {
		sum := money.Zero(s.Amount.Currency())
		for _, of := range s.Of {
			sum = sum.Add(*of.Amount)
		}
		if sum.Cmp(*s.Amount) != 0 {
			t.Errorf("%s is %s, its steps add up to %s", s.Name, s.Amount, sum)
		}
	}
	if s.How == Stored && (s.Record.Slug == "" || s.Value != 0 && s.Name != "pack" && len(s.Sources) == 0) {
		t.Errorf("%s is stored, of %q with sources %v", s.Name, s.Record.Slug, s.Sources)
	}
	for _, of := range s.Of {
		n += recompute(t, of)
	}
	return n
}

// Every figure of every step is what those below it give, in every order and on every basis; the
// first step is what the option is ordered by; neighbours stand where their values say.
func TestStepsAddUp(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	s := market(r, 8, 3, 4, 30, 50, 100)
	for i, f := range s.Fills {
		if i%2 == 0 {
			s.Tests = append(s.Tests, catalog.AbsorptionTest{Meta: meta("test", "of-"+string(f.Slug)), FillID: f.ID, Mounting: "A", Thickness: 50,
				Alpha: bands.OctaveCurve([6]float64{0.15, 0.5, 0.95, 1.1, 1, 0.9}), SourceID: "src_test"})
		}
	}
	s.fabric("gauze", 1, 300) // changes nothing: tests are taken as they are
	s.Sort()
	p, seen := Prepare(s.Snapshot, 2), map[absorption.Basis]bool{}
	for _, order := range orders {
		b := StandardBrief(7, day, "EUR")
		b.Order, b.Limit, b.Draws.Count = Order(order), 200, 0
		if b.Order == ByCostToTarget {
			b.Room, b.PanelCount, b.CountFrom = lantern(), 0, FromRoom
		}
		all, err := p.Rank(b)
		if err != nil {
			t.Fatal(err)
		}
		for at := 0; at < len(all.Options); at += len(all.Options)/8 + 1 {
			b.Why = append(b.Why, all.Options[at].Key())
		}
		got, err := p.Rank(b)
		if err != nil || len(got.Why) != len(b.Why) {
			t.Fatalf("%d answers: %v", len(got.Why), err)
		}
		for _, w := range got.Why {
			o := w.Option
			seen[o.Absorption.Basis] = true
			want := map[Order]float64{ByCost: float64(o.Cost.Total.Micro()) / 1e6, ByCostToTarget: float64(o.Cost.Total.Micro()) / 1e6, ByAbsorption: float64(o.Area),
				ByBurden: float64(o.Burden.Total), ByAbsorptionPerCost: o.PerCurrencyUnit()}[b.Order]
			if w.Found != Ranked || w.Criterion.Value != want || w.Key != o.Key() {
				t.Errorf("%s: %s %g, want %g", w.Key, w.Found, w.Criterion.Value, want)
			}
			if n := recompute(t, *w.Criterion); b.Order != ByBurden && n < 5 {
				t.Errorf("%s: %d steps worked out", w.Key, n)
			}
			recompute(t, *w.Burden)
			up := b.Order == ByCost || b.Order == ByCostToTarget || b.Order == ByBurden
			for _, n := range []struct {
				x      *Neighbour
				behind bool
			}{{w.Before, false}, {w.After, true}} {
				if n.x != nil && n.x.Value != want && (n.x.Value > want) != (n.behind == up) {
					t.Errorf("%s: %s of %g beside %s of %g", order, w.Key, want, n.x.Key, n.x.Value)
				}
			}
			if (w.Before == nil) != (o.Place == 1) || (w.After == nil) != (o.Place == len(got.Options)) {
				t.Errorf("place %d has neighbours %v, %v", o.Place, w.Before, w.After)
			}
		}
	}
	if len(seen) < 3 {
		t.Errorf("bases %v: the test shows little", seen)
	}
}

// Whatever is asked about, the answer says where it is.
func TestWhereCandidatesAre(t *testing.T) {
	s := smallStock()
	s.fill("dear", 12_000, catalog.Fibrous, 90_000, 50)
	s.fill("unoffered", 12_000, catalog.Fibrous, 0, 50)
	s.Sort()
	fabric := string(s.Fabrics[0].Slug)
	b := StandardBrief(10, day, "EUR")
	b.AirGaps, b.Limit, b.LayersMax = []units.Length{0}, 1, 1
	for _, f := range s.Fabrics[1:] {
		b.Fabrics = append(b.Fabrics, string(f.Slug))
	}
	b.Fabrics = append(b.Fabrics, fabric)
	b.Why = []string{"dear.50x1.gap-0." + fabric, "unoffered.50x1.gap-0." + fabric, "dear.50x1.gap-70." + fabric, "nobody.50x1.gap-0." + fabric, "dear.50x1.gap-0.nothing"}
	find := func() []Found {
		got, err := Prepare(s.Snapshot, 1).Rank(b)
		if err != nil {
			t.Fatal(err)
		}
		var out []Found
		for _, w := range got.Why {
			out = append(out, w.Found)
			if (w.Found == Excluded) != (w.Reason != "") || (w.Criterion != nil) != (w.Found == Ranked || w.Found == Hidden) {
				t.Errorf("%+v", w)
			}
		}
		return out
	}
	if got := find(); !slices.Equal(got, []Found{Hidden, NoPrice, Nowhere, Nowhere, Nowhere}) {
		t.Errorf("%v", got)
	}
	b.Limits.Depth = 40
	if got := find(); !slices.Equal(got, []Found{Excluded, Excluded, Nowhere, Nowhere, Nowhere}) {
		t.Errorf("%v", got)
	}
	b.Limits = Limits{Budget: new(money.FromMinor(50_000, "EUR"))}
	if got := find(); got[0] != Excluded {
		t.Errorf("%v", got)
	}
}
