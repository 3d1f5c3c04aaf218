package catalog

import (
	"cmp"
	"slices"

	"sabinbook/internal/money"
)

// CurrentPrices returns the price of each offer on a day: the last one seen by then that no other
// one seen by then corrects.
func CurrentPrices(prices []Price, on Date) map[ID]Price {
	list := map[ID]Price{}
	for _, p := range standing(prices, on) {
		old, ok := list[p.OfferID]
		if !ok || cmp.Or(cmp.Compare(p.Observed, old.Observed), cmp.Compare(p.ID, old.ID)) > 0 {
			list[p.OfferID] = p
		}
	}
	return list
}

// standing are the prices seen by a day that no other one seen by then corrects.
func standing(prices []Price, on Date) []Price {
	corrected := map[ID]bool{}
	for _, p := range prices {
		if p.Observed <= on && p.Corrects != "" {
			corrected[p.Corrects] = true
		}
	}
	var list []Price
	for _, p := range prices {
		if p.Observed <= on && !corrected[p.ID] {
			list = append(list, p)
		}
	}
	return list
}

// Gross is the price of a pack with its tax, to four places of the major unit.
func (p Price) Gross() money.Amount {
	if p.TaxIncluded {
		return p.Amount
	}
	return p.Amount.Per(int64(10_000+p.TaxRateBP), 10_000)
}

// PriceSeen is one price of a pack, with tax, and when it was seen.
type PriceSeen struct {
	Gross    money.Amount
	Observed Date
	ID       ID
}

// PriceYear sums up the prices seen in one year.
type PriceYear struct {
	Year          string
	Count         int
	Least, Median money.Amount
}

// PriceSummary sums up the prices of an offer in one currency, with tax. Corrected prices do not
// count.
type PriceSummary struct {
	Currency      money.Currency
	Count         int
	Latest, Least PriceSeen   // the first of equal ones for Least
	Years         []PriceYear // ascending
}

// SummarizePrices sums up the prices of one offer that were seen by a day, by currency in
// ascending order.
func SummarizePrices(prices []Price, on Date) []PriceSummary {
	byCurrency := map[money.Currency][]PriceSeen{}
	for _, p := range standing(prices, on) {
		c := p.Amount.Currency()
		byCurrency[c] = append(byCurrency[c], PriceSeen{p.Gross(), p.Observed, p.ID})
	}
	var list []PriceSummary
	for c, seen := range byCurrency {
		slices.SortFunc(seen, func(a, b PriceSeen) int { return cmp.Or(cmp.Compare(a.Observed, b.Observed), cmp.Compare(a.ID, b.ID)) })
		s := PriceSummary{Currency: c, Count: len(seen), Latest: seen[len(seen)-1], Least: seen[0]}
		for _, one := range seen {
			if one.Gross.Cmp(s.Least.Gross) < 0 {
				s.Least = one
			}
		}
		for len(seen) > 0 {
			year := string(seen[0].Observed[:4])
			n := slices.IndexFunc(seen, func(p PriceSeen) bool { return string(p.Observed[:4]) != year })
			if n < 0 {
				n = len(seen)
			}
			s.Years = append(s.Years, yearOf(year, seen[:n]))
			seen = seen[n:]
		}
		list = append(list, s)
	}
	slices.SortFunc(list, func(a, b PriceSummary) int { return cmp.Compare(a.Currency, b.Currency) })
	return list
}

// yearOf sums up the prices of a year. The median of an even number is the mean of the middle two.
func yearOf(year string, seen []PriceSeen) PriceYear {
	amounts := make([]money.Amount, len(seen))
	for i, p := range seen {
		amounts[i] = p.Gross
	}
	slices.SortFunc(amounts, money.Amount.Cmp)
	n := len(amounts)
	median := amounts[n/2]
	if n%2 == 0 {
		median = amounts[n/2-1].Add(amounts[n/2]).Per(1, 2)
	}
	return PriceYear{Year: year, Count: n, Least: amounts[0], Median: median}
}

// PriceTerms are what is known of the prices of an offer before one is seen.
type PriceTerms struct {
	Currency money.Currency // in which the supplier charges
	TaxKnown bool
	Included bool // whether its prices hold the tax
	RateBP   int
	SourceID ID // of the offer
}

// TermsOf tells what is known of the prices of an offer on a day: its last price tells the tax, or,
// where it has none, those of the supplier's other offers when they all agree. Nothing is assumed.
func (s Snapshot) TermsOf(offer Offer, on Date) PriceTerms {
	t := PriceTerms{SourceID: offer.SourceID}
	for _, supplier := range s.Suppliers {
		if supplier.ID == offer.SupplierID {
			t.Currency = supplier.Currency
		}
	}
	current := CurrentPrices(s.Prices, on)
	if last, ok := current[offer.ID]; ok {
		t.TaxKnown, t.Included, t.RateBP = true, last.TaxIncluded, last.TaxRateBP
		return t
	}
	found, agree := false, true
	for _, o := range s.Offers {
		last, ok := current[o.ID]
		switch {
		case !ok || o.SupplierID != offer.SupplierID:
		case !found:
			found, t.Included, t.RateBP = true, last.TaxIncluded, last.TaxRateBP
		case t.Included != last.TaxIncluded || t.RateBP != last.TaxRateBP:
			agree = false
		}
	}
	t.TaxKnown = found && agree
	return t
}
