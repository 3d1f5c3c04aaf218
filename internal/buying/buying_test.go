package buying_test

import (
	"cmp"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"sabinbook/internal/buying"
	"sabinbook/internal/money"
)

// Source: costing.md section 6 (carriers' volumetric rules), whole numbers. 30.4 x 19.6 x 19.5
// in with each side to the nearest inch is 30 x 20 x 20 in, divided by 139 in³/lb; the
// function counts started units whatever the unit is.
func TestChargedWeight(t *testing.T) {
	parcel := buying.Delivery{Basis: buying.DimensionalWeight, Divisor: 139}
	if lb := parcel.Charged(0, 30*20*20); lb != 87 {
		t.Errorf("parcel: %d lb, want 87", lb)
	}
	pallet := buying.Delivery{Basis: buying.GreaterWeight, Divisor: 6000}
	for actual, want := range map[int64]int64{150: 210, 260: 260} {
		if kg := pallet.Charged(actual*1000, 140*100*90); kg != want {
			t.Errorf("pallet of %d kg: %d kg, want %d", actual, kg, want)
		}
	}
	if kg := (buying.Delivery{}).Charged(1001, 0); kg != 2 {
		t.Errorf("1001 g: %d started kg, want 2", kg)
	}
}

// Source: costing.md section 6, rows on packs.
func TestWholePacks(t *testing.T) {
	for _, c := range []struct{ need, pack, want int64 }{{6, 8, 1}, {9, 8, 2}, {12, 8, 2}, {6, 6, 1}, {5940, 500, 12}, {9900, 500, 20}} {
		free := cents(0)
		plan := buying.Best(buying.Problem{Currency: "EUR", Suppliers: []buying.Supplier{{ID: "s", Trip: &free}},
			Needs: []buying.Need{{Ways: []buying.Way{{Quantity: c.need, Offers: []buying.Offer{{ID: "o", Pack: c.pack, Price: cents(1)}}}}}}})
		if int64(plan.Packs) != c.want {
			t.Errorf("need %d, pack %d: %d packs, want %d", c.need, c.pack, plan.Packs, c.want)
		}
	}
}

// gen draws a problem in which ties are common: few different prices and fees.
func gen(t *rapid.T, thresholds bool) buying.Problem {
	p := buying.Problem{Currency: "EUR"}
	amount := func(name string, hi int) money.Amount { return cents(int64(50 * rapid.IntRange(0, hi).Draw(t, name))) }
	for i := range rapid.IntRange(1, 4).Draw(t, "suppliers") {
		s := buying.Supplier{ID: fmt.Sprintf("s%d", i)}
		kind := rapid.IntRange(0, 6).Draw(t, "modes")
		if kind%3 != 0 {
			trip := amount("trip", 8)
			s.Trip = &trip
		}
		if kind%3 != 1 && kind != 6 {
			s.Delivery = &buying.Delivery{Fee: amount("fee", 8)}
			if rapid.IntRange(0, 3).Draw(t, "by weight") == 0 {
				s.Delivery.PerKg = amount("per kg", 2)
				s.Delivery.Basis = buying.GreaterWeight
				s.Delivery.Divisor = 5000
			}
			if thresholds && rapid.Bool().Draw(t, "free") {
				from := amount("from", 40)
				s.Delivery.FreeFrom = &from
				s.Delivery.FreeCoversWeight = rapid.Bool().Draw(t, "covers")
			}
		}
		p.Suppliers = append(p.Suppliers, s)
	}
	offers := 0
	for range rapid.IntRange(1, 5).Draw(t, "needs") {
		n := buying.Need{}
		for range rapid.IntRange(1, 2).Draw(t, "ways") {
			w := buying.Way{Quantity: int64(rapid.IntRange(1, 12).Draw(t, "quantity"))}
			for range rapid.IntRange(0, 3).Draw(t, "offers") {
				offers++
				w.Offers = append(w.Offers, buying.Offer{ID: fmt.Sprintf("o%02d", (offers*7)%61), Supplier: rapid.IntRange(0, len(p.Suppliers)-1).Draw(t, "at"),
					Pack: int64(rapid.IntRange(1, 6).Draw(t, "pack")), Price: amount("price", 12), Grams: int64(rapid.IntRange(0, 3).Draw(t, "grams")) * 700,
					Volume: int64(rapid.IntRange(0, 2).Draw(t, "volume")) * 4000, MinPacks: rapid.IntRange(0, 3).Draw(t, "min"), MaxPacks: 4 * rapid.IntRange(0, 2).Draw(t, "max"),
					Tax: rapid.SampledFrom([]buying.Tax{buying.AsListed, buying.AddTax, buying.RemoveTax, buying.BeforeTax}).Draw(t, "tax"), TaxBP: 1900})
			}
			n.Ways = append(n.Ways, w)
		}
		p.Needs = append(p.Needs, n)
	}
	return p
}

// outcome is what plans are compared by: cash, suppliers, packs, then packs of the offers in
// order of their ids.
type outcome struct {
	cash             int64
	suppliers, packs int
	lines            []string // "id packs", sorted by id
}

func (a outcome) before(b outcome) bool {
	if c := cmp.Or(cmp.Compare(a.cash, b.cash), cmp.Compare(a.suppliers, b.suppliers), cmp.Compare(a.packs, b.packs)); c != 0 {
		return c < 0
	}
	for i := range min(len(a.lines), len(b.lines)) {
		if a.lines[i] != b.lines[i] {
			return a.lines[i] < b.lines[i] // ids differ: the smaller id is the offer of which a has more
		}
	}
	return false
}

// bruteForce tries every choice of one offer per need. It shares nothing with the search
// but LinePrice and Charged, which have tests of their own.
func bruteForce(p buying.Problem) (best outcome, met int) {
	type option struct {
		offer buying.Offer
		packs int
	}
	var options [][]option
	for _, n := range p.Needs {
		var list []option
		for _, w := range n.Ways {
			for _, o := range w.Offers {
				packs := max(int((w.Quantity+o.Pack-1)/o.Pack), o.MinPacks)
				s := p.Suppliers[o.Supplier]
				if (o.MaxPacks == 0 || packs <= o.MaxPacks) && (s.Delivery != nil || s.Trip != nil) {
					list = append(list, option{o, packs})
				}
			}
		}
		if len(list) > 0 {
			options = append(options, list)
		}
	}
	chosen := make([]option, len(options))
	found := false
	var try func(n int)
	try = func(n int) {
		if n < len(options) {
			for _, o := range options[n] {
				chosen[n] = o
				try(n + 1)
			}
			return
		}
		var now outcome
		goods, worth, grams, volume := map[int]int64{}, map[int]int64{}, map[int]int64{}, map[int]int64{}
		for _, c := range chosen {
			_, gross := buying.LinePrice(c.offer.Price, c.packs, c.offer.Tax, c.offer.TaxBP)
			goods[c.offer.Supplier] += gross.Minor()
			// A threshold counts goods with tax, also for one who counts them before it.
			listed := c.offer.Price.Times(int64(c.packs))
			if c.offer.Tax == buying.AddTax || c.offer.Tax == buying.BeforeTax {
				listed = listed.TimesRatio(int64(10_000+c.offer.TaxBP), 10_000)
			}
			worth[c.offer.Supplier] += listed.Minor()
			grams[c.offer.Supplier] += int64(c.packs) * c.offer.Grams
			volume[c.offer.Supplier] += int64(c.packs) * c.offer.Volume
			now.packs += c.packs
			now.lines = append(now.lines, fmt.Sprintf("%s %d", c.offer.ID, c.packs))
		}
		slices.Sort(now.lines)
		for s, g := range goods {
			now.suppliers++
			cost := int64(-1)
			if d := p.Suppliers[s].Delivery; d != nil {
				fee, weight := d.Fee.Minor(), d.PerKg.Minor()*d.Charged(grams[s], volume[s])
				if d.FreeFrom != nil && worth[s] >= d.FreeFrom.Minor() {
					fee = 0
					if d.FreeCoversWeight {
						weight = 0
					}
				}
				cost = fee + weight
			}
			if trip := p.Suppliers[s].Trip; trip != nil && (cost < 0 || trip.Minor() < cost) {
				cost = trip.Minor()
			}
			now.cash += g + cost
		}
		if !found || now.before(best) {
			best, found = now, true
		}
	}
	try(0)
	return best, len(options)
}

func outcomeOf(p buying.Problem, plan buying.Plan) outcome {
	o := outcome{cash: plan.Cash.Minor(), suppliers: len(plan.Orders), packs: plan.Packs}
	for _, l := range plan.Lines {
		o.lines = append(o.lines, fmt.Sprintf("%s %d", offerOf(p, l).ID, l.Packs))
	}
	slices.Sort(o.lines)
	return o
}

func TestBestEqualsBruteForce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := gen(t, true)
		plan := buying.Best(p)
		want, met := bruteForce(p)
		if len(plan.Lines) != met || len(plan.Unmet) != len(p.Needs)-met {
			t.Fatalf("%d lines, %d unmet; want %d of %d", len(plan.Lines), len(plan.Unmet), met, len(p.Needs))
		}
		if got := outcomeOf(p, plan); fmt.Sprint(got) != fmt.Sprint(want) {
			t.Fatalf("got %v, want %v", got, want)
		}
		if plan.Gap().Sign() != 0 || plan.LeastGoods.Cmp(plan.Cash) > 0 {
			t.Fatalf("gap %s, least goods %s, cash %s", plan.Gap(), plan.LeastGoods, plan.Cash)
		}
	})
}

// shuffled is the same problem in another order.
func shuffled(p buying.Problem, seed uint64) buying.Problem {
	r := rand.New(rand.NewPCG(seed, 1))
	order := r.Perm(len(p.Suppliers))
	q := buying.Problem{Currency: p.Currency, NodeLimit: p.NodeLimit, Suppliers: make([]buying.Supplier, len(order))}
	for from, to := range order {
		q.Suppliers[to] = p.Suppliers[from]
	}
	for _, n := range p.Needs {
		m := buying.Need{ID: n.ID}
		for _, w := range n.Ways {
			offers := slices.Clone(w.Offers)
			for i := range offers {
				offers[i].Supplier = order[offers[i].Supplier]
			}
			r.Shuffle(len(offers), func(i, j int) { offers[i], offers[j] = offers[j], offers[i] })
			m.Ways = append(m.Ways, buying.Way{Quantity: w.Quantity, Offers: offers})
		}
		r.Shuffle(len(m.Ways), func(i, j int) { m.Ways[i], m.Ways[j] = m.Ways[j], m.Ways[i] })
		q.Needs = append(q.Needs, m)
	}
	r.Shuffle(len(q.Needs), func(i, j int) { q.Needs[i], q.Needs[j] = q.Needs[j], q.Needs[i] })
	return q
}

func TestOrderOfInputChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := gen(t, true)
		q := shuffled(p, rapid.Uint64().Draw(t, "seed"))
		if a, b := outcomeOf(p, buying.Best(p)), outcomeOf(q, buying.Best(q)); fmt.Sprint(a) != fmt.Sprint(b) {
			t.Fatalf("%v, in another order %v", a, b)
		}
	})
}

func TestDearerOfferNeverLowersTheTotalWithoutThresholds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := gen(t, false)
		before := buying.Best(p).Cash
		w := p.Needs[rapid.IntRange(0, len(p.Needs)-1).Draw(t, "need")].Ways[0]
		if len(w.Offers) == 0 {
			return
		}
		o := &w.Offers[rapid.IntRange(0, len(w.Offers)-1).Draw(t, "offer")]
		o.Price = o.Price.Add(cents(int64(rapid.IntRange(1, 500).Draw(t, "more"))))
		if after := buying.Best(p).Cash; after.Cmp(before) < 0 {
			t.Fatalf("%s before, %s after", before, after)
		}
	})
}

func TestAnotherOfferNeverRaisesTheTotal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := gen(t, true)
		with := buying.Best(p)
		n := rapid.IntRange(0, len(p.Needs)-1).Draw(t, "need")
		w := &p.Needs[n].Ways[0]
		if len(w.Offers) == 0 || slices.Contains(with.Unmet, n) {
			return
		}
		w.Offers = w.Offers[1:]
		without := buying.Best(p)
		if len(without.Unmet) == len(with.Unmet) && with.Cash.Cmp(without.Cash) > 0 {
			t.Fatalf("%s with the offer, %s without", with.Cash, without.Cash)
		}
	})
}

func TestNodeLimitGivesAValidPlanAndAProvenBound(t *testing.T) {
	stopped := 0
	rapid.Check(t, func(t *rapid.T) {
		p := gen(t, true)
		best := buying.Best(p)
		p.NodeLimit = rapid.IntRange(1, 6).Draw(t, "limit")
		plan := buying.Best(p)
		if plan.Nodes > p.NodeLimit || plan.NodeLimit != p.NodeLimit {
			t.Fatalf("%d nodes of %d", plan.Nodes, p.NodeLimit)
		}
		if plan.Status == buying.Feasible {
			stopped++
		}
		if plan.LowerBound.Cmp(best.Cash) > 0 || plan.Cash.Cmp(best.Cash) < 0 {
			t.Fatalf("bound %s, optimum %s, plan %s", plan.LowerBound, best.Cash, plan.Cash)
		}
		if plan.Status == buying.Optimal && plan.Cash.Cmp(best.Cash) != 0 {
			t.Fatalf("called optimal at %s, the optimum is %s", plan.Cash, best.Cash)
		}
	})
	if stopped == 0 {
		t.Error("the limit never stopped a search")
	}
}

// A threshold makes a dearer price lower the total: two packs at 4.90 pay the fee of 3.00,
// at 5.00 they reach the threshold of 10.00. Plain arithmetic.
func TestThresholdCanRewardADearerPrice(t *testing.T) {
	from := cents(1000)
	p := buying.Problem{Currency: "EUR", Suppliers: []buying.Supplier{{ID: "s", Delivery: &buying.Delivery{Fee: cents(300), FreeFrom: &from}}},
		Needs: []buying.Need{{Ways: []buying.Way{{Quantity: 2, Offers: []buying.Offer{{ID: "o", Pack: 1, Price: cents(490)}}}}}}}
	if cash := buying.Best(p).Cash; cash != cents(1280) {
		t.Errorf("at 4.90: %s", cash)
	}
	p.Needs[0].Ways[0].Offers[0].Price = cents(500)
	if cash := buying.Best(p).Cash; cash != cents(1000) {
		t.Errorf("at 5.00: %s", cash)
	}
}

func TestAmountsOutOfReachAreLeftOut(t *testing.T) {
	huge := money.FromMicro(1e18, "EUR")
	trip := cents(0)
	p := buying.Problem{Currency: "EUR", Suppliers: []buying.Supplier{{ID: "s", Trip: &trip}, {ID: "t", Trip: &huge}}, Needs: []buying.Need{
		{Ways: []buying.Way{{Quantity: 1000, Offers: []buying.Offer{{ID: "o", Pack: 1, Price: huge}}}}},
		{Ways: []buying.Way{{Quantity: 1, Offers: []buying.Offer{{ID: "p", Supplier: 1, Pack: 1, Price: cents(1)}}}}}}}
	if plan := buying.Best(p); !slices.Equal(plan.Unmet, []int{0, 1}) || !plan.Cash.IsZero() {
		t.Errorf("%+v", plan)
	}
}

// marketProblem is of the size of one option's shopping: 10 needs with 4 offers at 6
// suppliers, half of them with a threshold.
func marketProblem(seed uint64, needs, perNeed, suppliers int) buying.Problem {
	r := rand.New(rand.NewPCG(seed, 2))
	p := buying.Problem{Currency: "EUR"}
	for i := range suppliers {
		s := buying.Supplier{ID: fmt.Sprintf("s%02d", i), Delivery: &buying.Delivery{Fee: cents(int64(390 + r.IntN(900)))}}
		if i%2 == 0 {
			from := cents(int64(3000 + r.IntN(12000)))
			s.Delivery.FreeFrom = &from
		}
		if i%3 == 0 {
			trip := cents(int64(200 + r.IntN(900)))
			s.Trip = &trip
		}
		p.Suppliers = append(p.Suppliers, s)
	}
	for n := range needs {
		w := buying.Way{Quantity: int64(5 + r.IntN(60))}
		base := 200 + r.IntN(2500)
		for range perNeed {
			w.Offers = append(w.Offers, buying.Offer{ID: fmt.Sprintf("o%03d%d", n, len(w.Offers)), Supplier: r.IntN(suppliers), Pack: int64(5 + r.IntN(20)), Price: cents(int64(base + r.IntN(base)))})
		}
		p.Needs = append(p.Needs, buying.Need{Ways: []buying.Way{w}})
	}
	return p
}

func BenchmarkBest(b *testing.B) {
	for _, size := range []struct{ needs, offers, suppliers int }{{10, 4, 3}, {10, 4, 6}, {10, 4, 8}, {12, 6, 12}} {
		problems := make([]buying.Problem, 50)
		for i := range problems {
			problems[i] = marketProblem(uint64(i), size.needs, size.offers, size.suppliers)
		}
		b.Run(fmt.Sprintf("%d_needs_%d_offers_%d_suppliers", size.needs, size.offers, size.suppliers), func(b *testing.B) {
			nodes, i := 0, 0
			for b.Loop() {
				nodes += buying.Best(problems[i%len(problems)]).Nodes
				i++
			}
			b.ReportMetric(float64(nodes)/float64(i), "nodes/op")
		})
	}
}
