package catalog_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"sabinbook/internal/catalog"
	"sabinbook/internal/money"
)

func euros(minor int64) money.Amount { return money.FromMinor(minor, "EUR") }

// Figures worked by hand: a price without tax counts with it (40.00 at 21 % is 48.40), a corrected one
// does not count, the median of two is their mean, and francs stand by themselves.
func TestSummarizePrices(t *testing.T) {
	prices := []catalog.Price{
		{ID: "p1", Amount: euros(5000), TaxIncluded: true, Observed: "2025-03-01"},
		{ID: "p2", Amount: euros(4000), TaxRateBP: 2100, Observed: "2025-09-01"},
		{ID: "p3", Amount: euros(1), TaxIncluded: true, Observed: "2026-01-05"}, // a slip
		{ID: "p4", Amount: euros(5100), TaxIncluded: true, Observed: "2026-01-05", Corrects: "p3"},
		{ID: "p5", Amount: money.FromMinor(6000, "CHF"), TaxIncluded: true, Observed: "2026-02-01"},
		{ID: "p6", Amount: euros(100), TaxIncluded: true, Observed: "2026-12-01"}, // not yet
	}
	got := catalog.SummarizePrices(prices, "2026-11-02")
	if len(got) != 2 || got[0].Currency != "CHF" || got[1].Currency != "EUR" {
		t.Fatalf("%+v", got)
	}
	e := got[1]
	if e.Count != 3 || e.Latest.Gross != euros(5100) || e.Latest.ID != "p4" || e.Least.Gross != euros(4840) || e.Least.Observed != "2025-09-01" || len(e.Years) != 2 ||
		e.Years[0].Median != euros(4920) || e.Years[0].Least != euros(4840) || e.Years[0].Count != 2 || e.Years[1].Median != euros(5100) {
		t.Errorf("%+v", e)
	}
	// Before the correction was seen, the slip counts.
	if early := catalog.SummarizePrices(prices[:3], "2026-11-02"); early[0].Least.ID != "p3" {
		t.Errorf("%+v", early)
	}
	if none := catalog.SummarizePrices(prices, "2024-01-01"); len(none) != 0 {
		t.Errorf("%+v", none)
	}
}

// The median is where half of the prices lie on either side: found by counting, not by sorting.
func TestMedianHalvesThePrices(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		list := rapid.SliceOfN(rapid.Int64Range(0, 100_000), 1, 30).Draw(t, "minor")
		var prices []catalog.Price
		for i, m := range list {
			prices = append(prices, catalog.Price{ID: catalog.ID(fmt.Sprintf("p%02d", i)), Amount: euros(m), TaxIncluded: true, Observed: "2026-05-05"})
		}
		y := catalog.SummarizePrices(prices, "2026-11-02")[0].Years[0]
		below, above := 0, 0
		for _, p := range prices {
			switch p.Amount.Cmp(y.Median) {
			case -1:
				below++
			case 1:
				above++
			}
		}
		if half := int(math.Ceil(float64(len(list)) / 2)); below > half || above > half || below > len(list)/2 || above > len(list)/2 {
			t.Fatalf("%d below and %d above %s of %v", below, above, y.Median, list)
		}
		if y.Least != euros(slices.Min(list)) || y.Count != len(list) {
			t.Fatalf("%+v of %v", y, list)
		}
	})
}
