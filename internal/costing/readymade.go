package costing

import (
	"fmt"

	"sabinbook/internal/buying"
	"sabinbook/internal/catalog"
	"sabinbook/internal/handling"
	"sabinbook/internal/money"
	"sabinbook/internal/needs"
)

// ReadyMade returns what at least n ready-made panels of one kind cost at the offers of the
// catalog, on the terms of the market: packs of several, fees, trips and thresholds count as
// for anything else. labels is the limit of the search, see CostWithin.
func (m *Market) ReadyMade(p catalog.ReadyMadePanel, n, labels int) Cost {
	key := item{catalog.ReadyMadeItem, p.ID}
	w := want{code: "ready_made_panel", kind: catalog.ReadyMadeItem, item: p.Meta}
	w.supply = m.remember(ask{item: key, pieces: [3]rect{{count: n}}}, func() supply {
		quotes, reason := usable(m.quotes[key], func(*quote) bool { return true })
		if len(quotes) == 0 {
			return supply{reason: reason}
		}
		h := how{item: p.Meta, unit: "panel", scale: 1, formula: "panels", inputs: []handling.Input{{Name: "panels", Value: float64(n)}}}
		var s supply
		s.add(m, h, packCount, portion{quantity: int64(n), quotes: quotes})
		return s
	})
	return m.costOf(needs.List{Count: n, ProtectionKnown: true}, []want{w}, labels)
}

// AskingPrice is the price of a ready-made panel as somebody states it, without an offer in
// the catalog.
type AskingPrice struct {
	Price       money.Amount // of one panel
	TaxIncluded bool
	TaxRateBP   int
	Breaks      []buying.Break // for all panels of the order, in any order
	// Flat is the fee for delivering the order, nothing from FreeFrom of goods with tax on,
	// and PerPanel a fee for each panel that is never waived. Fees count as entered.
	Flat     money.Amount
	FreeFrom *money.Amount // nil: never free
	PerPanel money.Amount
}

// Asked is what a number of panels costs at an asking price.
type Asked struct {
	Panels    int
	UnitPrice money.Amount // as listed, of the highest break that is reached
	Goods     money.Amount // by the tax basis, rounded once
	Delivery  money.Amount
	Total     money.Amount
}

// MaxAsked is the largest number of ready-made panels that is priced. Convention: what
// absorbs so little that more are needed is no rival of a built panel.
const MaxAsked = 2000

// maxAskedPrice is the largest price or fee in major units, so that sums stay exact.
const maxAskedPrice = 1_000_000

// Validate records every fault of the price, at is its place. All amounts are of one currency.
func (p AskingPrice) Validate(v *catalog.Faults, at string, currency money.Currency) {
	amount := func(at string, a money.Amount) {
		switch {
		case a == money.Amount{}:
		case a.Currency() != currency:
			v.Add(at+"/currency", "disagrees", fmt.Sprintf("is %s, the question's currency is %s", a.Currency(), currency), "give it in the currency of the question; nothing is converted")
		case a.Sign() < 0 || a.Micro() > maxAskedPrice*money.Micro:
			v.Add(at+"/amount", "out_of_range", fmt.Sprintf("must be 0 to %d", maxAskedPrice), "give what is asked for, e.g. 89.90")
		}
	}
	amount(at+"/price", p.Price)
	v.Within(at+"/tax_rate_percent", float64(p.TaxRateBP)/100, 0, 100, "%", "give per cent, e.g. 21")
	if len(p.Breaks) > catalog.MaxBreaks {
		v.Add(at+"/breaks", "out_of_range", fmt.Sprintf("must list at most %d, got %d", catalog.MaxBreaks, len(p.Breaks)), "leave out what does not matter")
	}
	from := map[int]bool{}
	for i, b := range p.Breaks {
		here := fmt.Sprintf("%s/breaks/%d", at, i)
		v.Within(here+"/from_count", float64(b.From), 2, MaxAsked, "panels", "give the number of panels from which the price holds")
		if from[b.From] {
			v.Add(here+"/from_count", "duplicate", fmt.Sprintf("two prices hold from %d panels", b.From), "keep one")
		}
		from[b.From] = true
		amount(here+"/price", b.Price)
	}
	amount(at+"/delivery/fee", p.Flat)
	if p.FreeFrom != nil {
		amount(at+"/delivery/free_from", *p.FreeFrom)
	}
	amount(at+"/delivery/fee_per_panel", p.PerPanel)
}

// For returns what exactly n panels cost on a tax basis:
//
//	total = goods + (flat fee, or nothing from the threshold on) + n · fee per panel
//
// Source: costing_problem.md section 8; breaks, tax and threshold as in its sections 1 and 2.
func (p AskingPrice) For(n int, basis TaxBasis) Asked {
	tax := taxOf(p.TaxIncluded, basis)
	offer := buying.Offer{Price: p.Price, Breaks: p.Breaks}
	a := Asked{Panels: n, UnitPrice: offer.UnitPrice(n), Delivery: money.Zero(p.Price.Currency()).Add(p.PerPanel.Times(int64(n)))}
	_, a.Goods = buying.LinePrice(a.UnitPrice, n, tax, p.TaxRateBP)
	_, held := buying.LinePrice(a.UnitPrice, n, buying.ShopTax(tax), p.TaxRateBP)
	if p.FreeFrom == nil || held.Cmp(*p.FreeFrom) < 0 {
		a.Delivery = a.Delivery.Add(p.Flat)
	}
	a.Total = a.Goods.Add(a.Delivery)
	return a
}

// Cheaper returns what the least number above n costs that costs less than n do, because it
// reaches a lower price or free delivery, or false where there is none.
func (p AskingPrice) Cheaper(n int, basis TaxBasis) (Asked, bool) {
	if len(p.Breaks) == 0 && p.FreeFrom == nil {
		return Asked{}, false
	}
	now := p.For(n, basis)
	for more := n + 1; more <= MaxAsked; more++ {
		if a := p.For(more, basis); a.Total.Cmp(now.Total) < 0 {
			return a, true
		}
	}
	return Asked{}, false
}
