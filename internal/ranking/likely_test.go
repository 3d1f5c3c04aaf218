package ranking

import (
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"sabinbook/internal/absorption"
	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
	"sabinbook/internal/rooms"
)

// Groups and shares of draws are those that a sampling written on its own gives, with another
// generator: standard normal numbers for each fill, supplier and handling profile, coefficients
// and prices moved by them, options sorted in each draw. Both have 20 000 draws; a share of
// draws differs by at most four standard deviations of the difference of two binomials.
func TestSharesOfDrawsEqualAnotherSampling(t *testing.T) {
	const draws = MaxDraws
	r := rand.New(rand.NewPCG(11, 12))
	s := market(r, 5, 3, 4, 50)
	for _, order := range orders {
		b := StandardBrief(8, day, "EUR")
		b.Order, b.Limit, b.Draws.Count, b.Show = Order(order), 12, draws, BestPerFill
		plaster, _ := rooms.Find("plaster-painted") // on the walls of the room
		if b.Order == ByCostToTarget {
			b.Room, b.PanelCount, b.CountFrom = lantern(), 0, FromRoom
			b.Room.From = 500 // where panels of 50 mm are sure to absorb
		}
		got, err := Prepare(s.Snapshot, 2).Rank(b)
		if err != nil {
			t.Fatal(err)
		}
		best, beats := make([]float64, len(got.Options)), make([][]float64, len(got.Options))
		for i := range beats {
			beats[i] = make([]float64, len(got.Options))
		}
		for range draws {
			z := map[string]float64{}
			normal := func(thing string) float64 {
				if _, ok := z[thing]; !ok {
					z[thing] = r.NormFloat64()
				}
				return z[thing]
			}
			score := make([]float64, len(got.Options))
			for i, o := range got.Options {
				area, cost := 0.0, float64(o.Cost.Total.Minor())
				for k, w := range b.Purpose.Weights {
					oct := o.Octaves[k]
					a := (oct.Low+oct.High)/2 + normal("fill "+string(o.Build.Fill.Slug))*(oct.High-oct.Low)/4
					area += w * math.Min(1, math.Max(0, a))
				}
				for _, l := range o.Cost.Lines {
					years := float64(b.Terms.AsOf.DaysSince(l.PriceDate)) / 365
					cost += float64(l.Gross.Minor()) * (0.03 + 0.05*years) * normal("shop "+string(l.Supplier.Slug))
				}
				minutes := float64(o.Burden.Total) * (1 + 0.25*normal("profile "+string(o.Build.Fill.Handling.Profile)))
				times := 0.0 // as many panels as with the coefficients that are told
				if b.Order == ByCostToTarget {
					drawn, told := 0.0, 0.0
					for k, bare := range b.Room.Answer().Octaves {
						oct := o.Octaves[k]
						a := (oct.Low+oct.High)/2 + normal("fill "+string(o.Build.Fill.Slug))*(oct.High-oct.Low)/4
						drawn = max(drawn, bare.Lacking/(math.Min(1, a)-plaster.Alpha[k]))
						told = max(told, bare.Lacking/(math.Min(1, oct.Raw)-plaster.Alpha[k]))
					}
					times = drawn / told
				}
				score[i] = map[Order]float64{ByCostToTarget: -cost * times, ByAbsorptionPerCost: area / cost, ByCost: -cost, ByAbsorption: area, ByBurden: -math.Max(0, minutes)}[b.Order]
			}
			first := 0
			for i := range score {
				if score[i] > score[first] {
					first = i
				}
				for j := range score {
					if score[i] > score[j] {
						beats[i][j]++
					}
				}
			}
			best[first]++
		}
		off := func(share float64) float64 { return 4 * math.Sqrt(2*max(share*(1-share), 1.0/draws)/draws) }
		leader := 0
		for i, o := range got.Options {
			if share := best[i] / draws; math.Abs(o.Likely.Best-share) > off(share) {
				t.Errorf("%s: %s is best in %g of the draws, want %g", order, o.Key(), o.Likely.Best, share)
			}
			if i == 0 {
				continue
			}
			share := beats[i][leader] / draws
			if joined := o.Likely.Group == got.Options[leader].Likely.Group; joined != (share >= 0.1) && math.Abs(share-0.1) > off(0.1) {
				t.Errorf("%s: %s beats %s in %g of the draws, same group: %v", order, o.Key(), got.Options[leader].Key(), share, joined)
			} else if !joined {
				leader = i
			}
		}
	}
}

// No two options on different bases are in different groups when what the bases differ by on average
// would put them the other way round: the middle of the bounds holds that difference.
func TestBasesAreNotRankedApart(t *testing.T) {
	apart, bases := 0, map[absorption.Basis]bool{}
	for seed := range uint64(12) {
		r := rand.New(rand.NewPCG(seed, 9))
		s := market(r, 8, 3, 4, 30, 50, 100)
		for i, f := range s.Fills { // some have a test, from which other builds are carried over
			if i%2 == 0 {
				up := 0.8 + 0.4*r.Float64()
				s.Tests = append(s.Tests, catalog.AbsorptionTest{Meta: meta("test", "of-"+string(f.Slug)), FillID: f.ID, Mounting: "A", Thickness: 50,
					Alpha: bands.OctaveCurve([6]float64{0.15 * up, 0.5 * up, 0.85 * up, 0.9 * up, 0.9 * up, 0.9 * up}), SourceID: "src_test"})
			}
		}
		b := StandardBrief(8, day, "EUR")
		b.Order, b.Limit, b.Show = ByAbsorption, 60, ShowAll
		got, err := Prepare(s.Snapshot, 2).Rank(b)
		if err != nil {
			t.Fatal(err)
		}
		middle := func(o Option) (sum float64) {
			for k, w := range b.Purpose.Weights {
				sum += w * math.Min(1, (o.Octaves[k].Low+o.Octaves[k].High)/2)
			}
			return sum
		}
		for j, later := range got.Options {
			bases[later.Absorption.Basis] = true
			for _, first := range got.Options[:j] {
				if first.Likely.Group == later.Likely.Group {
					continue
				}
				apart++
				if first.Absorption.Basis != later.Absorption.Basis && middle(later) > middle(first)+1e-12 {
					t.Errorf("%s (%s) and %s (%s) are apart", first.Key(), first.Absorption.Basis, later.Key(), later.Absorption.Basis)
				}
			}
		}
	}
	if apart == 0 || len(bases) < 2 {
		t.Errorf("%d pairs apart, bases %v: the test shows nothing", apart, bases)
	}
}

// Two fills that are alike but for their names tie, and share the first place evenly.
func TestIdenticalFillsTie(t *testing.T) {
	s := smallStock()
	s.fill("twin-a", 15_000, catalog.PolyProfile, 1500, 50)
	s.fill("twin-b", 15_000, catalog.PolyProfile, 1500, 50)
	r := rank(t, s, func(b *Brief) { b.Fills, b.Show, b.Draws.Count = []string{"twin-a", "twin-b"}, BestPerFill, 10_000 })
	a, b := r.Options[0].Likely, r.Options[1].Likely
	if a.Group != 1 || b.Group != 1 || math.Abs(a.Best-0.5) > 0.02 || a.Best+b.Best != 1 {
		t.Errorf("%+v, %+v", a, b)
	}
	if a.Low != 1 || a.High != 2 || b.Low != 1 || b.High != 2 {
		t.Errorf("places %d to %d, %d to %d", a.Low, a.High, b.Low, b.High)
	}
	if r.Options[0].BeatenBy != "" || r.Options[1].BeatenBy != "" {
		t.Error("twins beat each other")
	}
}

// What is drawn for a fill depends on nothing else: without the other fills, with more workers
// and in another order of input the same options have the same draws.
func TestDrawsDependOnNothingElse(t *testing.T) {
	s := market(rand.New(rand.NewPCG(3, 4)), 6, 3, 4, 50)
	b := StandardBrief(10, day, "EUR")
	b.Limit, b.Show = 200, BestPerFill
	want, err := Prepare(s.Snapshot, 1).Rank(b)
	if err != nil {
		t.Fatal(err)
	}
	for _, workers := range []int{2, 8} {
		if got, _ := Prepare(s.Snapshot, workers).Rank(b); !reflect.DeepEqual(got, want) {
			t.Errorf("%d workers: another answer", workers)
		}
	}
	one := func(fills ...string) map[string][]Driver {
		b.Fills = fills
		got, err := Prepare(s.Snapshot, 2).Rank(b)
		if err != nil {
			t.Fatal(err)
		}
		out := map[string][]Driver{}
		for _, o := range got.Options {
			out[o.Key()] = o.Likely.Drivers
		}
		return out
	}
	pair := []string{string(want.Options[0].Build.Fill.Slug), string(want.Options[1].Build.Fill.Slug)}
	both := one(pair...)
	for _, fill := range pair {
		for key, drivers := range one(fill) {
			if !reflect.DeepEqual(both[key], drivers) {
				t.Errorf("%s: %+v alone, %+v beside another", key, drivers, both[key])
			}
		}
	}
}

// A share of 0.95 of the draws lies in no more places than needed.
func TestWithin(t *testing.T) {
	for _, c := range []struct {
		counts    []int
		low, high int
	}{
		{[]int{100, 0, 0}, 1, 1},
		{[]int{5, 90, 5}, 2, 2},
		{[]int{6, 88, 6}, 1, 3},
		{[]int{0, 4, 2, 94}, 3, 4},
		{[]int{50, 50}, 1, 2},
	} {
		if low, high := within(c.counts, 100); low != c.low || high != c.high {
			t.Errorf("%v: %d to %d, want %d to %d", c.counts, low, high, c.low, c.high)
		}
	}
}

// The drivers are what moves the score: by hand, an option whose coefficients vary by 10 % a
// standard deviation and all of whose goods, 90 % of the cost, were seen today at one shop.
// (0.1)² to (0.9 × 0.03)²: 0.932 and 0.068.
func TestDrivers(t *testing.T) {
	s := smallStock()
	r := newRanker(Prepare(s.Snapshot, 1), StandardBrief(10, day, "EUR"))
	o := rank(t, s, nil).Options[0]
	for i := range o.Octaves {
		o.Octaves[i] = Octave{Known: true, Raw: 0.5, Low: 0.4, High: 0.6, Ranked: 0.5}
	}
	o.Cost.Lines = slices.Clone(o.Cost.Lines[:1])
	l := &o.Cost.Lines[0]
	l.PriceDate, l.Gross = day, o.Cost.Total.TimesRatio(9, 10)
	drivers := r.drivers(o)
	if len(drivers) != 2 || drivers[0].What != "absorption" || math.Abs(drivers[0].Share-0.932) > 0.001 || drivers[1].What != "prices" || drivers[1].Of.ID != l.Supplier.ID {
		t.Errorf("%+v", drivers)
	}
}

// BenchmarkDraws is the sampling alone: 50 options, 2000 draws.
func BenchmarkDraws(b *testing.B) {
	s := market(rand.New(rand.NewPCG(1, 2)), 60, 10, 6, 50, 100)
	brief := StandardBrief(10, day, "EUR")
	brief.Show = BestPerFill
	p := Prepare(s.Snapshot, 2)
	res, err := p.Rank(brief)
	if err != nil || len(res.Options) != 50 {
		b.Fatal(err, len(res.Options))
	}
	r := newRanker(p, brief)
	for b.Loop() {
		r.judge(res.Options)
	}
}
