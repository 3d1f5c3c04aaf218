package shortlist_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"sabinbook/internal/catalog"
	"sabinbook/internal/costing"
	"sabinbook/internal/money"
	"sabinbook/internal/ranking"
	"sabinbook/internal/shortlist"
)

// cheap is a catalog cut out of the demo one for a few options, with prices of some ten cents, so that
// every cent up to ten times a price can be asked about, and shops that waive their fee at times.
func cheap(t testing.TB, seed uint64) (catalog.Snapshot, ranking.Brief) {
	t.Helper()
	r := rand.New(rand.NewPCG(seed, 9))
	s := demo(t)
	b := ranking.StandardBrief(1+r.IntN(6), day, "EUR")
	b.Order = []ranking.Order{ranking.ByAbsorptionPerCost, ranking.ByCost, ranking.ByAbsorptionPerCost, ranking.ByAbsorption}[seed%4]
	b.Draws.Count, b.Limit, b.Terms.MaxAgeDays = 0, ranking.MaxLimit, 0
	p := ranking.Prepare(s, 2)
	all, err := p.Rank(b)
	if err != nil {
		t.Fatal(err)
	}
	for range 4 {
		if key := all.Options[r.IntN(len(all.Options))].Key(); !slices.Contains(b.Options, key) {
			b.Options = append(b.Options, key)
		}
	}
	answer, err := p.Rank(b)
	if err != nil {
		t.Fatal(err)
	}
	cut, err := shortlist.Cut(s, answer)
	if err != nil {
		t.Fatal(err)
	}
	cents := func(least, most int) money.Amount { return money.FromMinor(int64(least+r.IntN(most-least)), "EUR") }
	cut.Prices, cut.Suppliers = slices.Clone(cut.Prices), slices.Clone(cut.Suppliers)
	for i := range cut.Prices {
		p := &cut.Prices[i]
		p.Amount, p.Breaks = cents(10, 30), nil
		if r.IntN(4) == 0 {
			p.Breaks = []catalog.Break{{From: 2 + r.IntN(4), Price: cents(5, 9)}}
		}
	}
	for i := range cut.Suppliers {
		c := &cut.Suppliers[i]
		c.TripCost, c.Delivery = nil, &catalog.Delivery{Fee: cents(5, 60), PerKg: money.Zero("EUR"), Basis: catalog.ActualWeight}
		if r.IntN(3) == 0 {
			from := cents(50, 300)
			c.Delivery.FreeFrom = &from
		}
	}
	return cut, b
}

// with is a snapshot in which an offer has another price.
func with(s catalog.Snapshot, offer catalog.ID, price money.Amount) catalog.Snapshot {
	s.Prices = slices.Clone(s.Prices)
	for i := range s.Prices {
		if s.Prices[i].OfferID == offer {
			s.Prices[i].Amount = price
		}
	}
	return s
}

func first(t testing.TB, s catalog.Snapshot, b ranking.Brief) string {
	t.Helper()
	answer, err := ranking.Prepare(s, 1).Rank(b)
	if err != nil {
		t.Fatal(err)
	}
	if len(answer.Options) == 0 {
		return ""
	}
	return answer.Options[0].Key()
}

// The nearest prices at which another option is first are those that asking for the whole ranking at
// every cent gives.
func TestFlipsEqualEveryCentAsked(t *testing.T) {
	found, none, inexact := 0, 0, 0
	for seed := range uint64(5) {
		s, b := cheap(t, seed)
		answer, err := ranking.Prepare(s, 2).Rank(b)
		if err != nil {
			t.Fatal(err)
		}
		if seed%3 == 0 { // a budget that the first option nearly reaches
			limit := answer.Options[0].Cost.Total.Add(money.FromMinor(40, "EUR"))
			b.Limits.Budget = &limit
			if answer, err = ranking.Prepare(s, 2).Rank(b); err != nil {
				t.Fatal(err)
			}
		}
		today := first(t, s, b)
		flips := shortlist.Flips(s, answer)
		for i := int(seed) % 3; i < len(flips); i += 6 {
			f := flips[i]
			if !f.Exact {
				inexact++
				continue
			}
			for _, way := range []int64{-1, 1} {
				point, end := f.Below, int64(1)
				if way > 0 {
					point, end = f.Above, f.Price.Minor()*10
				}
				want, at := "", int64(-1)
				for c := f.Price.Minor() + way; c != end+way && (point == nil || c != point.Price.Minor()+way); c += way {
					if key := first(t, with(s, f.Offer.ID, money.FromMinor(c, "EUR")), b); key != today {
						want, at = key, c
						break
					}
				}
				switch {
				case point == nil && at >= 0, point != nil && (point.Price.Minor() != at || point.First != want):
					t.Errorf("catalog %d, %s at %s: %+v, want %s at %d", seed, f.Offer.Slug, f.Price, point, want, at)
				case point == nil:
					none++
				default:
					found++
				}
			}
		}
	}
	if found < 1 || none < 5 {
		t.Errorf("%d found, %d with none", found, none)
	}
	t.Logf("%d found, %d with none, %d offers without a proof", found, none, inexact)
}

// At the price that it has every offer leaves the answer as it is, one whose price was seen in
// another currency and is converted too.
func TestRaceAtThePricesOfToday(t *testing.T) {
	s := demo(t)
	for i := range s.Prices {
		if p := &s.Prices[i]; i%3 == 0 && len(p.Breaks) == 0 {
			p.Amount = money.FromMicro(p.Amount.Micro()/2/10_000*10_000, "GBP")
		}
	}
	s.Rates = []catalog.ExchangeRate{{Meta: catalog.Meta{ID: "rate_a"}, From: "GBP", To: "EUR", Rate: "1.25", Observed: day, SourceID: s.Sources[0].ID}}
	b := ranking.StandardBrief(10, day, "EUR")
	b.Draws.Count, b.Limit = 0, 5
	b.Terms.Convert, b.Terms.MaxRateAgeDays = costing.StoredRates, 30
	answer, err := ranking.Prepare(s, 2).Rank(b)
	if err != nil {
		t.Fatal(err)
	}
	race, current, converted := ranking.NewRace(s, answer), catalog.CurrentPrices(s.Prices, day), 0
	for _, o := range answer.Options {
		for _, l := range o.Cost.Lines {
			price, there := current[l.Offer.ID]
			if !there {
				continue
			}
			if price.Amount.Currency() != "EUR" {
				converted++
			}
			for i, again := range race.With(price) {
				if got, want := *again.Cost.Total, *answer.Options[i].Cost.Total; again.Key() != answer.Options[i].Key() || got.Cmp(want) != 0 {
					t.Fatalf("%s at its price: %s for %s, want %s for %s", l.Offer.Slug, got, again.Key(), want, answer.Options[i].Key())
				}
			}
		}
	}
	if converted == 0 {
		t.Error("no price was converted")
	}
}

// A scripted history: after the day of the keeping each price was seen again three times, once by mistake and corrected.
// The flips of repricing are those of the last good sighting, and the whole ranking asked with every cent as one more
// sighting of today finds the same nearest prices.
func TestFlipsAfterAHistoryOfPrices(t *testing.T) {
	const today = catalog.Date("2026-11-23")
	found, none := 0, 0
	for seed := range uint64(4) {
		r := rand.New(rand.NewPCG(seed, 77))
		s, b := cheap(t, seed)
		kept, err := ranking.Prepare(s, 2).Rank(b)
		if err != nil {
			t.Fatal(err)
		}
		then, last := s, map[catalog.ID]money.Amount{}
		s.Prices = slices.Clone(s.Prices)
		for i, p := range then.Prices {
			seen := func(n int, on catalog.Date, cents int, corrects catalog.ID) catalog.ID {
				q := p
				q.ID, q.Observed, q.Amount, q.Corrects = catalog.ID(fmt.Sprintf("price_%03d_%d", i, n)), on, money.FromMinor(int64(cents), "EUR"), corrects
				s.Prices = append(s.Prices, q)
				return q.ID
			}
			seen(1, "2026-11-05", 10+r.IntN(20), "")
			wrong := seen(2, "2026-11-19", 900, "")
			cents := 10 + r.IntN(20)
			seen(3, "2026-11-20", cents, wrong)
			last[p.OfferID] = money.FromMinor(int64(cents), "EUR")
		}
		s.Sort()
		again, err := shortlist.Reprice(then, kept, ranking.Prepare(s, 2), today)
		if err != nil {
			t.Fatal(err)
		}
		b.Terms.AsOf = today
		leader := first(t, s, b)
		if leader != again.First {
			t.Errorf("catalog %d: %s is first, want %s", seed, again.First, leader)
		}
		for i, f := range again.Flips {
			if f.Price != last[f.Offer.ID] {
				t.Errorf("catalog %d, %s: today's price is %s, want %s", seed, f.Offer.Slug, f.Price, last[f.Offer.ID])
			}
			if !f.Exact {
				continue
			}
			ask := func(cents int64) string {
				now := s
				sighting := s.Prices[slices.IndexFunc(s.Prices, func(p catalog.Price) bool { return p.OfferID == f.Offer.ID && p.Corrects != "" })]
				sighting.ID, sighting.Observed, sighting.Amount, sighting.Corrects = "price_zzz", today, money.FromMinor(cents, "EUR"), ""
				now.Prices = append(slices.Clone(s.Prices), sighting)
				now.Sort()
				return first(t, now, b)
			}
			for _, way := range []int64{-1, 1} {
				point, end := f.Below, int64(1)
				if way > 0 {
					point, end = f.Above, f.Price.Minor()*10
				}
				if point == nil && (seed > 0 || i != 1) { // asking for every cent takes long where there is nothing to find
					continue
				}
				want, at := "", int64(-1)
				for c := f.Price.Minor() + way; (end-c)*way >= 0 && at < 0; c += way {
					if key := ask(c); key != leader {
						want, at = key, c
					}
				}
				switch {
				case (point == nil) != (at < 0), point != nil && (point.Price.Minor() != at || point.First != want):
					t.Errorf("catalog %d, %s at %s: %+v, want %s at %d", seed, f.Offer.Slug, f.Price, point, want, at)
				case point == nil:
					none++
				default:
					found++
				}
			}
		}
	}
	if found < 2 || none < 1 {
		t.Errorf("%d found, %d with none", found, none)
	}
	t.Logf("%d found, %d with none", found, none)
}
