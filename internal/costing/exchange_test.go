package costing_test

import (
	"testing"

	"sabinbook/internal/catalog"
	"sabinbook/internal/costing"
	"sabinbook/internal/money"
)

func rate(id string, from, to money.Currency, r money.Rate, day catalog.Date) catalog.ExchangeRate {
	return catalog.ExchangeRate{Meta: meta("rate_" + id), From: from, To: to, Rate: r, Observed: day, SourceID: "src_bank"}
}

// One price of 5.00 USD in a question in euro. By hand: 5.00 / 1.08 = 4.6296, 5.00 · 0.93 = 4.65,
// 5.00 / 1.10 = 4.5454, 5.00 / 1.12 = 4.4642.
func TestWhichRateCounts(t *testing.T) {
	unit := func(list []catalog.ExchangeRate, change func(*shelf, *costing.Terms)) (string, string) {
		s, terms := workshop(), terms()
		s.price("offer_g_screw", 1, "2026-11-02").Amount = money.FromMinor(500, "USD")
		s.Rates, terms.Convert = list, costing.StoredRates
		if change != nil {
			change(s, &terms)
		}
		c := costing.NewMarket(s.Snapshot, terms).Cost(listOf(build(), 6, goggles))
		for _, m := range c.Missing {
			if m.Need == "screw" {
				return "", string(m.Reason)
			}
		}
		l := lineOf(t, c, "screw")
		if l.Conversion == nil || l.Conversion.Listed != money.FromMinor(500, "USD") || l.PriceSourceID != "src_walk" || l.PriceDate != "2026-11-02" {
			t.Fatalf("%+v", l)
		}
		if rates := c.Rates(); len(rates) != 1 || rates[0].ID != l.Conversion.Rate.ID || l.Conversion.Inverse != (rates[0].From == "EUR") {
			t.Fatalf("%+v", rates)
		}
		return l.UnitPrice.String(), string(l.Conversion.Rate.ID)
	}
	inverse, direct := rate("a", "EUR", "USD", "1.08", "2026-11-01"), rate("b", "USD", "EUR", "0.93", "2026-11-01")
	for name, c := range map[string]struct {
		rates       []catalog.ExchangeRate
		change      func(*shelf, *costing.Terms)
		price, what string
	}{
		"told the other way":  {[]catalog.ExchangeRate{inverse}, nil, "4.63", "rate_a"},
		"told this way":       {[]catalog.ExchangeRate{direct}, nil, "4.65", "rate_b"},
		"this way goes first": {[]catalog.ExchangeRate{direct, rate("c", "EUR", "USD", "1.08", "2026-11-01")}, nil, "4.65", "rate_b"},
		"the latest":          {[]catalog.ExchangeRate{rate("c", "EUR", "USD", "1.10", "2026-11-02"), direct}, nil, "4.55", "rate_c"},
		"the last entered":    {[]catalog.ExchangeRate{rate("d", "EUR", "USD", "1.12", "2026-11-01"), inverse}, nil, "4.46", "rate_d"},
		"of the day":          {[]catalog.ExchangeRate{inverse, rate("c", "EUR", "USD", "1.10", today)}, nil, "4.55", "rate_c"},
		"not the future":      {[]catalog.ExchangeRate{inverse, rate("c", "EUR", "USD", "1.10", "2026-11-11")}, nil, "4.63", "rate_a"},
		"just young enough":   {[]catalog.ExchangeRate{inverse}, func(_ *shelf, t *costing.Terms) { t.MaxRateAgeDays = 9 }, "4.63", "rate_a"},
		"too old":             {[]catalog.ExchangeRate{inverse}, func(_ *shelf, t *costing.Terms) { t.MaxRateAgeDays = 8 }, "", "no_rate"},
		"thirty days":         {[]catalog.ExchangeRate{rate("a", "EUR", "USD", "1.08", "2026-10-10")}, nil, "", "no_rate"},
		"any age":             {[]catalog.ExchangeRate{rate("a", "EUR", "USD", "1.08", "1999-01-04")}, func(_ *shelf, t *costing.Terms) { t.MaxRateAgeDays = 0 }, "4.63", "rate_a"},
		"none":                {nil, nil, "", "no_rate"},
		"no chain":            {[]catalog.ExchangeRate{rate("a", "USD", "GBP", "0.8", today), rate("b", "GBP", "EUR", "1.2", today)}, nil, "", "no_rate"},
		"nothing comes of it": {[]catalog.ExchangeRate{rate("a", "USD", "EUR", "0.0009", today)}, nil, "", "not_convertible"},
		"not asked for":       {[]catalog.ExchangeRate{inverse}, func(_ *shelf, t *costing.Terms) { t.Convert = costing.NotConverted }, "", "other_currency"},
	} {
		if price, what := unit(c.rates, c.change); price != c.price || what != c.what {
			t.Errorf("%s: %q, %q; want %q, %q", name, price, what, c.price, c.what)
		}
	}
}

// A shop whose prices, breaks, fee and threshold are in pounds at 1.25 EUR each, by hand: 4.00 GBP
// are 5.00 EUR, from 2 packs on 3.30 GBP are 4.125, rounded to 4.13; delivery 7.99 GBP is 9.9875,
// rounded to 9.99, and nothing from 20.01 GBP, 25.0125, rounded to 25.01, on.
func TestConvertedShop(t *testing.T) {
	pounds := func(n int64) money.Amount { return money.FromMinor(n, "GBP") }
	for _, c := range []struct {
		packs              int
		unit, listed       string
		fee, total, toFree string
	}{
		{1, "5.00", "4.00", "9.99", "14.99", "20.01"},
		{2, "4.13", "3.30", "9.99", "18.25", "16.75"},
		{7, "4.13", "3.30", "0.00", "28.91", ""},
	} {
		s := &shelf{}
		s.ReadyMade = []catalog.ReadyMadePanel{{Meta: meta("panel_mole")}}
		s.Suppliers = []catalog.Supplier{{Meta: meta("sup_isle"), Currency: "GBP", Delivery: &catalog.Delivery{Fee: pounds(799), FreeFrom: pointer(pounds(2001)), Basis: catalog.ActualWeight}}}
		s.offer("offer_mole", "sup_isle", catalog.ReadyMadeItem, "panel_mole", 0, nil)
		s.Prices[0].Amount, s.Prices[0].Breaks = pounds(400), []catalog.Break{{From: 2, Price: pounds(330)}}
		s.Rates = []catalog.ExchangeRate{rate("a", "GBP", "EUR", "1.25", "2026-11-01")}
		terms := terms()
		if cost := costing.NewMarket(s.Snapshot, terms).ReadyMade(s.ReadyMade[0], c.packs, 10_000); cost.Total != nil || cost.Missing[0].Reason != costing.OtherCurrency {
			t.Errorf("not converted: %+v", cost)
		}
		terms.Convert = costing.StoredRates
		cost := costing.NewMarket(s.Snapshot, terms).ReadyMade(s.ReadyMade[0], c.packs, 10_000)
		if cost.Total == nil {
			t.Fatalf("%+v", cost)
		}
		l, o := cost.Lines[0], cost.Orders[0]
		toFree := ""
		if o.ToFree != nil {
			toFree = o.ToFree.String()
		}
		if l.UnitPrice.String() != c.unit || l.Conversion.Listed.String() != c.listed || l.Conversion.Listed.Currency() != "GBP" || o.Fee.String() != c.fee || cost.Total.String() != c.total || toFree != c.toFree || o.Conversion == nil || cost.Total.Currency() != "EUR" {
			t.Errorf("%d packs: %s (%s), fee %s, to free %s, total %s", c.packs, l.UnitPrice, l.Conversion.Listed, o.Fee, toFree, cost.Total)
		}
	}
}

// A shop with a fee that cannot be told sells nothing, though its prices can.
func TestFeesWithoutARateCloseTheShop(t *testing.T) {
	s, terms := workshop(), terms()
	terms.Convert = costing.StoredRates
	s.Suppliers[1].Delivery.Fee = money.FromMinor(700, "GBP")
	c := costing.NewMarket(s.Snapshot, terms).Cost(listOf(build(), 6, goggles))
	if c.Total != nil || len(c.Missing) != 1 || c.Missing[0].Need != "fabric" || c.Missing[0].Reason != costing.NoRate {
		t.Errorf("%+v", c.Missing)
	}
}
