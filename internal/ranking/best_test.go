package ranking

import (
	"cmp"
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"sabinbook/internal/catalog"
	"sabinbook/internal/money"
	"sabinbook/internal/units"
)

// market draws a catalog with fills, fabrics, shops and prices at random, all invented.
func market(r *rand.Rand, fills, fabrics, shops int, thicknesses ...units.Length) *stock {
	s := smallStock()
	for i := range shops {
		trip := money.FromMinor(int64(r.IntN(600)), "EUR")
		sup := catalog.Supplier{Meta: meta("sup", fmt.Sprintf("shop%02d", i)), Currency: "EUR", SourceID: "src_test",
			Delivery: &catalog.Delivery{Fee: money.FromMinor(int64(300+r.IntN(900)), "EUR"), PerKg: money.Zero("EUR")}}
		if r.IntN(2) == 0 {
			from := money.FromMinor(int64(3000+r.IntN(20_000)), "EUR")
			sup.Delivery.FreeFrom = &from
		}
		if r.IntN(3) == 0 {
			sup.TripCost = &trip
		}
		s.Suppliers = append(s.Suppliers, sup)
	}
	shop := func() string { return string(s.Suppliers[r.IntN(len(s.Suppliers))].Slug) }
	for i := range fills {
		price := int64(2000 + r.IntN(6000))
		f := s.fill(fmt.Sprintf("fill-%03d", i), units.AirflowResistivity(2000+r.IntN(40_000)), []catalog.Profile{catalog.Fibrous, catalog.PolyProfile, catalog.OtherProfile}[max(0, r.IntN(12)-9)], price, thicknesses...)
		for range r.IntN(3) {
			size := f.SoldSizes[r.IntN(len(f.SoldSizes))]
			s.offer(catalog.FillItem, f.Meta, shop(), price*int64(size.Thickness)*int64(80+r.IntN(40))/5000, func(o *catalog.Offer) { o.SoldSize, o.PackCount = &size, 1+r.IntN(8) })
		}
	}
	for i := range fabrics {
		s.fabric(fmt.Sprintf("cloth-%03d", i), units.AirflowResistance(10+r.IntN(1500)), int64(100+r.IntN(900)))
		if r.IntN(2) == 0 {
			s.offer(catalog.FabricItem, s.Fabrics[len(s.Fabrics)-1].Meta, shop(), int64(200+r.IntN(900)), func(o *catalog.Offer) { o.PackCount, o.PackLength = 0, 1000 })
		}
	}
	for _, p := range s.Parts {
		if r.IntN(2) == 0 {
			s.offer(catalog.PartItem, p.Meta, shop(), int64(5+r.IntN(400)), func(o *catalog.Offer) {
				if p.Kind == catalog.Timber {
					o.StockLength = 3000
				}
			})
		}
	}
	s.Sort()
	return s
}

// exhaustive works every candidate out and sorts them, independently of floors and queues.
func exhaustive(t testing.TB, s *stock, b Brief) []Option {
	t.Helper()
	p := Prepare(s.Snapshot, 1)
	fills, fabrics, err := b.Chosen(s.Snapshot)
	if err != nil {
		t.Fatal(err)
	}
	r := newRanker(p, b)
	r.labels = rankedLabels
	var all []Option
	for _, fill := range fills {
		for _, thickness := range soldThicknesses(fill) {
			for layers := 1; layers <= b.LayersMax; layers++ {
				for _, gap := range b.AirGaps {
					for _, fabric := range fabrics {
						build, ok := r.assemble(fill, thickness, layers, gap, fabric)
						if !ok {
							continue
						}
						count := b.PanelCount
						if b.CountFrom == FromRoom {
							one, why := r.option(build, 1)
							if why != "" {
								continue
							}
							a := b.room(&one)
							if a == nil || !a.Reached {
								continue
							}
							count = a.Least
						}
						if o, why := r.option(build, count); why == "" && o.Cost.Total != nil {
							all = append(all, o)
						}
					}
				}
			}
		}
	}
	slices.SortFunc(all, func(x, y Option) int {
		a, b, order := x.Build, y.Build, b.Order.compare(x.standing(), y.standing())
		return cmp.Or(order, cmp.Compare(a.Fill.Slug, b.Fill.Slug), cmp.Compare(a.Thickness, b.Thickness), cmp.Compare(a.Layers, b.Layers),
			cmp.Compare(a.AskedGap, b.AskedGap), cmp.Compare(a.Fabric.Slug, b.Fabric.Slug))
	})
	return all
}

// The first options are those that working everything out gives, to the last digit, in every
// order, whatever is shown, and with any number of workers.
func TestFirstOptionsEqualTheExhaustiveOnes(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(rt, "catalog"), 1))
		s := market(r, 1+r.IntN(8), r.IntN(4), 1+r.IntN(5), 50)
		b := StandardBrief(1+r.IntN(20), day, "EUR")
		b.AirGaps = []units.Length{50, 0}
		b.Order = Order(rapid.SampledFrom(orders).Draw(rt, "order"))
		b.Limit, b.Draws.Count = 1+r.IntN(12), 0
		if b.Order == ByCostToTarget || r.IntN(4) == 0 {
			b.Room, b.PanelCount, b.CountFrom = lantern(), 0, FromRoom
			b.Room.Time = 0.4 + r.Float64()
		}
		all := exhaustive(t, s, b)
		if limit := r.IntN(3 * len(all)); limit < len(all) {
			b.Limits.Budget = all[limit].Cost.Total
			all = slices.DeleteFunc(all, func(o Option) bool { return o.Cost.Total.Cmp(*b.Limits.Budget) > 0 })
		}
		want := all[:min(len(all), b.Limit)]
		for _, workers := range []int{1, 2, 8} {
			got, err := Prepare(s.Snapshot, workers).Rank(b)
			if err != nil {
				rt.Fatal(err)
			}
			over := 0
			for _, l := range got.LeftOut {
				if l.Reason == OverBudget {
					over += l.Count
				}
			}
			if got.Priced < len(all) || b.Limits.Budget == nil && (got.Priced != len(all) || over > 0) || len(got.Options) != len(want) {
				rt.Fatalf("%d workers: %d of %d, want %d of %d", workers, len(got.Options), got.Priced, len(want), len(all))
			}
			for i, o := range got.Options {
				if o.Place != i+1 {
					rt.Fatalf("place %d at %d", o.Place, i)
				}
				beaten := slices.ContainsFunc(all, func(x Option) bool { return x.standing().beats(o.standing()) })
				if beaten != (o.BeatenBy != "") {
					rt.Fatalf("%s: beaten %v, by %q", o.Key(), beaten, o.BeatenBy)
				}
				o.Place, o.BeatenBy, o.Room = 0, "", nil
				if !reflect.DeepEqual(o, want[i]) {
					rt.Fatalf("%s, %d workers: place %d is %s at %s, want %s at %s", b.Order, workers, i+1, o.Key(), o.Cost.Total, want[i].Key(), want[i].Cost.Total)
				}
			}
		}
		b.Show = BestPerFill
		var first []Option
		hidden := map[catalog.ID]int{}
		for _, o := range all {
			if hidden[o.Build.Fill.ID]++; hidden[o.Build.Fill.ID] == 1 {
				first = append(first, o)
			}
		}
		got, err := Prepare(s.Snapshot, 2).Rank(b)
		if err != nil || len(got.Options) != min(len(first), b.Limit) {
			rt.Fatalf("%d fills shown, want %d: %v", len(got.Options), min(len(first), b.Limit), err)
		}
		for i, o := range got.Options {
			if o.Key() != first[i].Key() || b.Limits.Budget == nil && o.OtherBuilds != hidden[o.Build.Fill.ID]-1 {
				rt.Fatalf("%s: fill %d is %s with %d others, want %s with %d", b.Order, i+1, o.Key(), o.OtherBuilds, first[i].Key(), hidden[o.Build.Fill.ID]-1)
			}
		}
	})
}

// What was asked before changes nothing.
func TestPreparedAnswersAsAfresh(t *testing.T) {
	s := market(rand.New(rand.NewPCG(5, 6)), 6, 4, 4, 50, 100)
	p := Prepare(s.Snapshot, 2)
	for i := range 12 {
		b := StandardBrief(3+i, day, "EUR")
		if b.Order = Order(orders[i%len(orders)]); b.Order == ByCostToTarget {
			b.Room, b.PanelCount, b.CountFrom = lantern(), 0, FromRoom
		}
		b.Show, b.Design.Back = Show(shows[i%2]), "wrapped"
		if i%3 == 0 {
			b.Design.Back, b.Fabrics, b.Terms.MaxAgeDays = "as_needed", []string{"knit"}, 20
		}
		got, err := p.Rank(b)
		want, err2 := Prepare(s.Snapshot, 1).Rank(b)
		if err != nil || err2 != nil || !reflect.DeepEqual(got, want) {
			t.Fatalf("question %d answers otherwise", i)
		}
	}
}

// BenchmarkLarge ranks 200 fills in three thicknesses, four gaps and 40 fabrics, the first 50
// options with exact costs: 96 000 candidates. Cold is a fresh snapshot, warm the same one on
// the same day for another number of panels, again the same question.
func BenchmarkLarge(b *testing.B) {
	for _, fills := range []int{50, 100, 200} {
		s := market(rand.New(rand.NewPCG(1, 2)), fills, 38, 6, 30, 50, 100)
		for _, w := range []units.Length{30} {
			s.part("pine-30", catalog.FrameTimber, catalog.Timber, w, 310)
		}
		s.Sort()
		brief := StandardBrief(10, day, "EUR")
		brief.AirGaps, brief.LayersMax = []units.Length{0, 25, 50, 100}, 1
		rank := func(b *testing.B, p *Prepared, brief Brief) {
			r, err := p.Rank(brief)
			if err != nil || len(r.Options) != 50 {
				b.Fatal(err, len(r.Options))
			}
			b.ReportMetric(float64(r.Considered), "candidates")
		}
		b.Run(fmt.Sprintf("cold/%d", fills), func(b *testing.B) {
			for b.Loop() {
				rank(b, Prepare(s.Snapshot, 2), brief)
			}
		})
		b.Run(fmt.Sprintf("warm/%d", fills), func(b *testing.B) {
			p := Prepare(s.Snapshot, 2)
			rank(b, p, brief)
			for n := 0; b.Loop(); n++ {
				brief.PanelCount = 8 + n%5
				rank(b, p, brief)
			}
		})
	}
}
