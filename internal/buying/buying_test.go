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
			Needs: []buying.Need{{Ways: []buying.Way{buying.Simple(c.need, []buying.Offer{{ID: "o", Pack: c.pack, Price: cents(1)}})}}}})
		if int64(plan.Packs) != c.want {
			t.Errorf("need %d, pack %d: %d packs, want %d", c.need, c.pack, plan.Packs, c.want)
		}
	}
}

// kind is what problems are drawn with.
type kind struct {
	thresholds bool
	tiny       bool // for every plan to be tried
	listed     bool // prices with tax, counted so
}

// gen draws a problem in which ties are common: few different prices and fees.
func gen(t *rapid.T, k kind) buying.Problem {
	p := buying.Problem{Currency: "EUR"}
	amount := func(name string, hi int) money.Amount { return cents(int64(50 * rapid.IntRange(0, hi).Draw(t, name))) }
	for i := range rapid.IntRange(1, 4).Draw(t, "suppliers") {
		s := buying.Supplier{ID: fmt.Sprintf("s%d", i)}
		modes := rapid.IntRange(0, 6).Draw(t, "modes")
		if modes%3 != 0 {
			trip := amount("trip", 8)
			s.Trip = &trip
		}
		if modes%3 != 1 && modes != 6 {
			s.Delivery = &buying.Delivery{Fee: amount("fee", 8)}
			if rapid.IntRange(0, 2).Draw(t, "by weight") == 0 {
				s.Delivery.PerKg = amount("per kg", 2)
				s.Delivery.Basis = rapid.SampledFrom([]buying.WeightBasis{buying.ActualWeight, buying.DimensionalWeight, buying.GreaterWeight}).Draw(t, "basis")
				s.Delivery.Divisor = 5000
			}
			if k.thresholds && rapid.IntRange(0, 2).Draw(t, "free") > 0 {
				from := amount("from", 40)
				s.Delivery.FreeFrom = &from
				s.Delivery.FreeCoversWeight = rapid.Bool().Draw(t, "covers")
			}
		}
		p.Suppliers = append(p.Suppliers, s)
	}
	offers, needs, perItem, most := 0, 5, 4, 12
	if k.tiny {
		needs, perItem, most = 3, 2, 5
	}
	for range rapid.IntRange(1, needs).Draw(t, "needs") {
		n := buying.Need{}
		for range rapid.IntRange(1, 2).Draw(t, "ways") {
			w := buying.Way{}
			for range max(1, rapid.IntRange(-2, 2).Draw(t, "items")) {
				item := buying.Item{Quantity: int64(rapid.IntRange(0, most).Draw(t, "quantity")), Stock: int64(max(0, rapid.IntRange(-4, 3).Draw(t, "stock"))), Value: cents(300), PerValue: 1}
				for range rapid.IntRange(1, perItem).Draw(t, "offers") {
					offers++
					o := buying.Offer{ID: fmt.Sprintf("o%02d", (offers*7)%61), Supplier: rapid.IntRange(0, len(p.Suppliers)-1).Draw(t, "at"),
						Pack: int64(rapid.IntRange(1, 6).Draw(t, "pack")), Price: amount("price", 12), Grams: int64(rapid.IntRange(0, 3).Draw(t, "grams")) * 700,
						Volume: int64(rapid.IntRange(0, 2).Draw(t, "volume")) * 4000, MinPacks: rapid.IntRange(0, 3).Draw(t, "min"), MaxPacks: 4 * rapid.IntRange(0, 2).Draw(t, "max"), Tax: buying.AsListed}
					if !k.listed {
						o.Tax, o.TaxBP = rapid.SampledFrom([]buying.Tax{buying.AsListed, buying.AddTax, buying.RemoveTax, buying.BeforeTax}).Draw(t, "tax"), 1900
					}
					for from := rapid.IntRange(1, 5).Draw(t, "from"); from < 4; from += 2 {
						o.Breaks = append(o.Breaks, buying.Break{From: from, Price: amount("lower", 12)})
					}
					item.Offers = append(item.Offers, o)
				}
				w.Items = append(w.Items, item)
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
			if x, y := a.lines[i][:3], b.lines[i][:3]; x != y {
				return x < y // the smaller id is the offer of which a has more
			}
			return a.lines[i] > b.lines[i] // packs, with leading zeros
		}
	}
	return len(a.lines) > len(b.lines)
}

type bought struct {
	offer buying.Offer
	packs int
}

// gross is the price of a line, and what a shop counts towards its threshold, from the
// definitions: H(a, b) = (2a + b) div 2b.
func (b bought) gross() (counts, worth int64) {
	unit, from := b.offer.Price.Minor(), 0
	for _, br := range b.offer.Breaks {
		if br.From <= b.packs && br.From > from {
			unit, from = br.Price.Minor(), br.From
		}
	}
	listed, bp := unit*int64(b.packs), int64(b.offer.TaxBP)
	with, without := (2*listed*(10_000+bp)+10_000)/20_000, (2*listed*10_000+10_000+bp)/(2*(10_000+bp))
	switch b.offer.Tax {
	case buying.AddTax:
		return with, with
	case buying.RemoveTax:
		return without, listed
	case buying.BeforeTax:
		return listed, with
	}
	return listed, listed
}

// covers lists all numbers of packs for an item that can be of use.
func covers(p buying.Problem, item buying.Item) [][]bought {
	rest := item.Quantity - min(item.Quantity, item.Stock)
	if rest == 0 {
		return [][]bought{nil}
	}
	var list [][]bought
	chosen := make([]bought, 0, len(item.Offers))
	var try func(i int, left int64)
	try = func(i int, left int64) {
		if i == len(item.Offers) {
			if left > 0 {
				return
			}
			for _, b := range chosen {
				lower := int64(1)
				if b.packs <= max(1, b.offer.MinPacks) {
					lower = int64(b.packs)
				}
				if p.NoPadding && left+lower*b.offer.Pack <= 0 {
					return
				}
			}
			list = append(list, slices.Clone(chosen))
			return
		}
		try(i+1, left)
		o := item.Offers[i]
		for _, n := range numbers(p, item, o) {
			chosen = append(chosen, bought{o, n})
			try(i+1, left-int64(n)*o.Pack)
			chosen = chosen[:len(chosen)-1]
		}
	}
	try(0, rest)
	return list
}

// bruteForce tries every plan, and gives up where there are too many. It shares nothing with
// the search but Charged, which has a test of its own.
func bruteForce(p buying.Problem) (best outcome, met int, tried bool) {
	var options [][][]bought
	plans := 1
	for _, n := range p.Needs {
		var list [][]bought
		for _, w := range n.Ways {
			combined := [][]bought{nil}
			for _, item := range w.Items {
				var next [][]bought
				for _, a := range combined {
					for _, b := range covers(p, item) {
						next = append(next, slices.Concat(a, b))
					}
				}
				combined = next
			}
			list = append(list, combined...)
		}
		if len(list) > 0 {
			options = append(options, list)
			if plans *= len(list); plans > 20_000 {
				return best, 0, false
			}
		}
	}
	found := false
	var try func(n int, so []bought)
	try = func(n int, so []bought) {
		if n < len(options) {
			for _, o := range options[n] {
				try(n+1, append(slices.Clip(so), o...))
			}
			return
		}
		var now outcome
		goods, worth, grams, volume := map[int]int64{}, map[int]int64{}, map[int]int64{}, map[int]int64{}
		for _, c := range so {
			counts, with := c.gross()
			goods[c.offer.Supplier] += counts
			worth[c.offer.Supplier] += with
			grams[c.offer.Supplier] += int64(c.packs) * c.offer.Grams
			volume[c.offer.Supplier] += int64(c.packs) * c.offer.Volume
			now.packs += c.packs
			now.lines = append(now.lines, fmt.Sprintf("%s %02d", c.offer.ID, c.packs))
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
	try(0, nil)
	return best, len(options), true
}

func outcomeOf(p buying.Problem, plan buying.Plan) outcome {
	o := outcome{cash: plan.Cash.Minor(), suppliers: len(plan.Orders), packs: plan.Packs}
	for _, l := range plan.Lines {
		o.lines = append(o.lines, fmt.Sprintf("%s %02d", offerOf(p, l).ID, l.Packs))
	}
	slices.Sort(o.lines)
	return o
}

func unmet(plan buying.Plan) int {
	n := 0
	for _, w := range plan.Ways {
		if w < 0 {
			n++
		}
	}
	return n
}

func TestBestEqualsBruteForce(t *testing.T) {
	tried, all := 0, 0
	for _, padding := range []bool{true, false} {
		rapid.Check(t, func(t *rapid.T) {
			p := gen(t, kind{thresholds: true, tiny: true})
			p.NoPadding = !padding
			want, met, ok := bruteForce(p)
			if all++; !ok {
				return
			}
			tried++
			plan := buying.Best(p)
			if unmet(plan) != len(p.Needs)-met {
				t.Fatalf("%d unmet; want %d of %d", unmet(plan), len(p.Needs)-met, len(p.Needs))
			}
			if got := outcomeOf(p, plan); fmt.Sprint(got) != fmt.Sprint(want) {
				t.Fatalf("got %v, want %v", got, want)
			}
			if plan.Gap().Sign() != 0 || plan.LeastGoods.Cmp(plan.Cash) > 0 {
				t.Fatalf("gap %s, least goods %s, cash %s", plan.Gap(), plan.LeastGoods, plan.Cash)
			}
			for i := range p.Needs {
				p.Needs[i] = buying.Prepare(p.Currency, p.Suppliers, p.Needs[i], p.NoPadding)
			}
			if again := outcomeOf(p, buying.Best(p)); fmt.Sprint(again) != fmt.Sprint(want) {
				t.Fatalf("prepared: got %v, want %v", again, want)
			}
		})
	}
	t.Logf("every plan was tried in %d of %d problems", tried, all)
}

// shuffled is the same problem in another order.
func shuffled(p buying.Problem, seed uint64) buying.Problem {
	r := rand.New(rand.NewPCG(seed, 1))
	order := r.Perm(len(p.Suppliers))
	q := p
	q.Suppliers, q.Needs = make([]buying.Supplier, len(order)), nil
	for from, to := range order {
		q.Suppliers[to] = p.Suppliers[from]
	}
	for _, n := range p.Needs {
		m := buying.Need{ID: n.ID}
		for _, w := range n.Ways {
			items := slices.Clone(w.Items)
			for k := range items {
				items[k].Offers = slices.Clone(items[k].Offers)
				for i := range items[k].Offers {
					items[k].Offers[i].Supplier = order[items[k].Offers[i].Supplier]
				}
				r.Shuffle(len(items[k].Offers), func(i, j int) {
					items[k].Offers[i], items[k].Offers[j] = items[k].Offers[j], items[k].Offers[i]
				})
			}
			r.Shuffle(len(items), func(i, j int) { items[i], items[j] = items[j], items[i] })
			m.Ways = append(m.Ways, buying.Way{Items: items})
		}
		r.Shuffle(len(m.Ways), func(i, j int) { m.Ways[i], m.Ways[j] = m.Ways[j], m.Ways[i] })
		q.Needs = append(q.Needs, m)
	}
	r.Shuffle(len(q.Needs), func(i, j int) { q.Needs[i], q.Needs[j] = q.Needs[j], q.Needs[i] })
	return q
}

func TestOrderOfInputChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := gen(t, kind{thresholds: true})
		q := shuffled(p, rapid.Uint64().Draw(t, "seed"))
		a, b := buying.Best(p), buying.Best(q)
		if x, y := outcomeOf(p, a), outcomeOf(q, b); fmt.Sprint(x) != fmt.Sprint(y) {
			t.Fatalf("%v, in another order %v", x, y)
		}
	})
}

// drawOffer draws an offer of the problem.
func drawOffer(t *rapid.T, p buying.Problem) (need int, item *buying.Item, offer int) {
	need = rapid.IntRange(0, len(p.Needs)-1).Draw(t, "of need")
	w := p.Needs[need].Ways[rapid.IntRange(0, len(p.Needs[need].Ways)-1).Draw(t, "of way")]
	item = &w.Items[rapid.IntRange(0, len(w.Items)-1).Draw(t, "of item")]
	return need, item, rapid.IntRange(0, len(item.Offers)-1).Draw(t, "offer")
}

func optimal(plan buying.Plan) bool { return plan.Gap().Sign() == 0 }

func TestDearerPriceNeverLowersTheTotalWithoutThresholds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := gen(t, kind{})
		p.NoPadding = rapid.Bool().Draw(t, "no padding")
		before := buying.Best(p)
		_, item, i := drawOffer(t, p)
		o := &item.Offers[i]
		o.Price = o.Price.Add(cents(int64(rapid.IntRange(1, 500).Draw(t, "more"))))
		if after := buying.Best(p); optimal(before) && after.Cash.Cmp(before.Cash) < 0 {
			t.Fatalf("%s before, %s after", before.Cash, after.Cash)
		}
	})
}

func TestAnotherOfferNeverRaisesTheTotal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := gen(t, kind{thresholds: true})
		with := buying.Best(p)
		_, item, i := drawOffer(t, p)
		item.Offers = slices.Delete(slices.Clone(item.Offers), i, i+1)
		without := buying.Best(p)
		if unmet(without) == unmet(with) && optimal(with) && with.Cash.Cmp(without.Cash) > 0 {
			t.Fatalf("%s with the offer, %s without", with.Cash, without.Cash)
		}
	})
}

func TestMoreNeverCostsLessWithoutThresholds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := gen(t, kind{})
		for i := range p.Needs {
			p.Needs[i].Ways = p.Needs[i].Ways[:1]
			for k := range p.Needs[i].Ways[0].Items {
				p.Needs[i].Ways[0].Items[k].Stock = 0
			}
		}
		before := buying.Best(p)
		factor := int64(rapid.IntRange(1, 4).Draw(t, "panels"))
		for i := range p.Needs {
			for k := range p.Needs[i].Ways[0].Items {
				p.Needs[i].Ways[0].Items[k].Quantity = p.Needs[i].Ways[0].Items[k].Quantity * (factor + 1) / factor
			}
		}
		after := buying.Best(p)
		if len(before.Unmet) == len(after.Unmet) && optimal(before) && optimal(after) && after.Cash.Cmp(before.Cash) < 0 {
			t.Fatalf("%s for %d, %s for %d", before.Cash, factor, after.Cash, factor+1)
		}
	})
}

// Every amount of money times a whole number: the plan stays, the total is multiplied. Prices
// are with tax, because a rounding is not multiplied.
func TestScalingMultipliesTheTotal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := gen(t, kind{thresholds: true, listed: true})
		one := buying.Best(p)
		by := int64(rapid.IntRange(2, 1000).Draw(t, "by"))
		q := shuffled(p, 0)
		for i := range q.Suppliers {
			if trip := q.Suppliers[i].Trip; trip != nil {
				more := trip.Times(by)
				q.Suppliers[i].Trip = &more
			}
			if d := q.Suppliers[i].Delivery; d != nil {
				more := *d
				more.Fee, more.PerKg = d.Fee.Times(by), d.PerKg.Times(by)
				if d.FreeFrom != nil {
					from := d.FreeFrom.Times(by)
					more.FreeFrom = &from
				}
				q.Suppliers[i].Delivery = &more
			}
		}
		for _, n := range q.Needs {
			for _, w := range n.Ways {
				for k := range w.Items {
					w.Items[k].Value = w.Items[k].Value.Times(by)
					for i := range w.Items[k].Offers {
						o := &w.Items[k].Offers[i]
						o.Price = o.Price.Times(by)
						o.Breaks = slices.Clone(o.Breaks)
						for b := range o.Breaks {
							o.Breaks[b].Price = o.Breaks[b].Price.Times(by)
						}
					}
				}
			}
		}
		many := buying.Best(q)
		if many.Cash != one.Cash.Times(by) || fmt.Sprint(outcomeOf(p, one).lines) != fmt.Sprint(outcomeOf(q, many).lines) {
			t.Fatalf("%s %v, %d times that %s %v", one.Cash, outcomeOf(p, one), by, many.Cash, outcomeOf(q, many))
		}
	})
}

func TestNodeLimitGivesAValidPlanAndAProvenBound(t *testing.T) {
	stopped := 0
	rapid.Check(t, func(t *rapid.T) {
		p := gen(t, kind{thresholds: true})
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
		Needs: []buying.Need{{Ways: []buying.Way{buying.Simple(2, []buying.Offer{{ID: "o", Pack: 1, Price: cents(490)}})}}}}
	if cash := buying.Best(p).Cash; cash != cents(1280) {
		t.Errorf("at 4.90: %s", cash)
	}
	p.Needs[0].Ways[0].Items[0].Offers[0].Price = cents(500)
	if cash := buying.Best(p).Cash; cash != cents(1000) {
		t.Errorf("at 5.00: %s", cash)
	}
}

// A threshold makes one more pack lower the total where nothing may be bought only to reach
// it: two packs at 4.00 pay the fee of 5.00, three reach the threshold of 12.00. With
// padding the third pack is bought at once. Plain arithmetic.
func TestThresholdCanRewardOneMore(t *testing.T) {
	from := cents(1200)
	for _, c := range []struct {
		packs, padded, plain int64
	}{{1, 900, 900}, {2, 1200, 1300}, {3, 1200, 1200}} {
		p := buying.Problem{Currency: "EUR", Suppliers: []buying.Supplier{{ID: "s", Delivery: &buying.Delivery{Fee: cents(500), FreeFrom: &from}}},
			Needs: []buying.Need{{Ways: []buying.Way{buying.Simple(c.packs, []buying.Offer{{ID: "o", Pack: 1, Price: cents(400)}})}}}}
		if cash := buying.Best(p).Cash; cash != cents(c.padded) {
			t.Errorf("%d packs: %s, want %d", c.packs, cash, c.padded)
		}
		p.NoPadding = true
		if cash := buying.Best(p).Cash; cash != cents(c.plain) {
			t.Errorf("%d packs without padding: %s, want %d", c.packs, cash, c.plain)
		}
	}
}

func TestAmountsOutOfReachAreLeftOut(t *testing.T) {
	huge := money.FromMicro(1e18, "EUR")
	trip := cents(0)
	p := buying.Problem{Currency: "EUR", Suppliers: []buying.Supplier{{ID: "s", Trip: &trip}, {ID: "t", Trip: &huge}}, Needs: []buying.Need{
		{Ways: []buying.Way{buying.Simple(1000, []buying.Offer{{ID: "o", Pack: 1, Price: huge}})}},
		{Ways: []buying.Way{buying.Simple(1, []buying.Offer{{ID: "p", Supplier: 1, Pack: 1, Price: cents(1)}})}}}}
	if plan := buying.Best(p); !slices.Equal(plan.Unmet, []buying.Lack{{Quantity: 1000}, {Need: 1, Quantity: 1}}) || !plan.Cash.IsZero() {
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
		w := buying.Simple(int64(5+r.IntN(60)), nil)
		base := 200 + r.IntN(2500)
		for range perNeed {
			w.Items[0].Offers = append(w.Items[0].Offers, buying.Offer{ID: fmt.Sprintf("o%03d%d", n, len(w.Items[0].Offers)), Supplier: r.IntN(suppliers), Pack: int64(5 + r.IntN(20)), Price: cents(int64(base + r.IntN(base)))})
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

// Forty suppliers at nearly one price leave a search for the best cover nothing to end it. It
// takes a bounded number of steps, and the plan then covers the need, claims no optimum and has
// a bound that the cheapest unit alone proves.
func TestManySuppliersAtNearlyOnePrice(t *testing.T) {
	p := buying.Problem{Currency: "EUR"}
	need := buying.Item{ID: "fill", Quantity: 499_000}
	for i := range 40 {
		trip := cents(int64(100 + i))
		p.Suppliers = append(p.Suppliers, buying.Supplier{ID: fmt.Sprintf("s%02d", i), Trip: &trip})
		for j, pack := range []int64{3000, 7000, 11_000} {
			need.Offers = append(need.Offers, buying.Offer{ID: fmt.Sprintf("o%02d-%d", i, j), Supplier: i, Pack: pack, Price: cents(pack/10 + int64((7*i+3*j)%11)), Tax: buying.AsListed, MaxPacks: 9})
		}
	}
	p.Needs = []buying.Need{{ID: "fill", Ways: []buying.Way{{Items: []buying.Item{need}}}}}
	plan := buying.Best(p)
	bought := int64(0)
	for _, l := range plan.Lines {
		bought += need.Offers[l.Offer].Pack * int64(l.Packs)
	}
	if bought < need.Quantity || plan.LowerBound.Cmp(plan.Cash) > 0 || plan.LowerBound.Cmp(cents(499_000/10)) < 0 {
		t.Errorf("%s: bought %d of %d for %s, not below %s", plan.Status, bought, need.Quantity, plan.Cash, plan.LowerBound)
	}
	if plan.Status == buying.Optimal && !plan.Gap().IsZero() {
		t.Errorf("optimal with a gap of %s", plan.Gap())
	}
}
