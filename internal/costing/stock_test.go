package costing_test

import (
	"fmt"
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"sabinbook/internal/catalog"
	"sabinbook/internal/costing"
	"sabinbook/internal/money"
	"sabinbook/internal/needs"
	"sabinbook/internal/panels"
	"sabinbook/internal/units"
)

func battsOnHand(count int, value int64) costing.OnHand {
	return costing.OnHand{Kind: catalog.FillItem, Item: "slug-fill_wool", Size: &catalog.SoldSize{Length: 1200, Width: 600, Thickness: 100}, Count: count, Value: pointer(cents(value))}
}

func remnants(long units.Length, count int, value int64) costing.OnHand {
	return costing.OnHand{Kind: catalog.FabricItem, Item: "fabric_cloth", Long: long, Count: count, Value: pointer(cents(value))}
}

func boardsOnHand(long units.Length, count int, value int64) costing.OnHand {
	return costing.OnHand{Kind: catalog.PartItem, Item: "part_board", Long: long, Count: count, Value: pointer(cents(value))}
}

// linesOf are the lines of a need: what is taken of the things on hand, then what is bought.
func linesOf(c costing.Cost, need string) (own, bought []costing.Line) {
	for _, l := range c.Lines {
		switch {
		case l.Need != need:
		case l.Owned:
			own = append(own, l)
		default:
			bought = append(bought, l)
		}
	}
	return own, bought
}

// The six panels of TestSixPanels with some of it there already, by hand. Source of the rule that
// stock is used first and of the values: costing_problem.md sections 1 and 2.
func TestStockOnHandIsUsedFirst(t *testing.T) {
	b := build()
	b.Design.Back = panels.BackOpen
	with := terms()
	with.Stock = []costing.OnHand{
		battsOnHand(8, 450), boardsOnHand(2700, 3, 600), remnants(2100, 1, 840),
		{Kind: catalog.PartItem, Item: "part_coverall", Count: 1, Value: pointer(cents(600))},
		{Kind: catalog.PartItem, Item: "slug-part_screw", Count: 20, Value: pointer(cents(5))},
	}
	s := workshop().Snapshot
	if err := with.FindStock(s); err != nil || with.Validate() != nil {
		t.Fatal(err, with.Validate())
	}
	c := costing.NewMarket(s, with).Cost(listOf(b, 6, goggles))
	if c.Total == nil {
		t.Fatalf("missing %+v", c.Missing)
	}
	// Six of the eight batts, none bought.
	own, bought := linesOf(c, "fill")
	if len(own) != 1 || len(bought) != 0 || own[0].Needed != 6 || *own[0].Replacement != cents(6*450) || own[0].Batts == nil || own[0].Size != "1200x600x100" {
		t.Errorf("fill: %+v, %+v", own, bought)
	}
	// Each of the three boards of 2.7 m gives two of 1.2 m and nothing of 0.564 m (0.294 m left). The
	// other six of 1.2 m and twelve of 0.564 m come from six boards of 2.4 m (1.2 + 2 x 0.564 +
	// 2 kerfs = 2.334 m) at 5.49, or from six of 2.7 m at 6.49: no five hold six of 1.2 m twice.
	own, bought = linesOf(c, "frame")
	if len(own) != 1 || own[0].Needed != 3 || own[0].Boards.Count != 3 || *own[0].Replacement != cents(1800) {
		t.Errorf("frame on hand: %+v", own)
	}
	if len(bought) != 1 || bought[0].Packs != 6 || bought[0].Size != "2400" || bought[0].Boards.Count != 6 {
		t.Errorf("frame bought: %+v", bought)
	}
	// Six shelves of 0.90 m; with 10 % waste two of them, 1.98 m, come from the remnant of 2.1 m,
	// worth H(840 x 1.98 / 2.1) = 792. Four are 3.96 m, eight units of half a metre.
	own, bought = linesOf(c, "fabric")
	if len(own) != 1 || own[0].Needed != 1.98 || *own[0].Replacement != cents(792) || own[0].Cloth.Length != 1800 {
		t.Errorf("remnant: %+v", own)
	}
	if len(bought) != 1 || bought[0].Needed != 3.96 || bought[0].Packs != 8 || bought[0].Cloth.Length != 3600 {
		t.Errorf("fabric bought: %+v", bought)
	}
	// 20 of 48 screws are there; of 100 bought 72 are left.
	own, bought = linesOf(c, "screw")
	if len(own) != 1 || own[0].Needed != 20 || *own[0].Replacement != cents(100) || len(bought) != 1 || bought[0].Leftover != 72 {
		t.Errorf("screws: %+v, %+v", own, bought)
	}
	if own, bought = linesOf(c, "coverall"); len(own) != 1 || len(bought) != 0 {
		t.Errorf("coverall: %+v, %+v", own, bought)
	}
	// 27.00 + 18.00 + 7.92 + 1.00 + 6.00
	if c.StockValue != cents(5992) || *c.Replacement != c.Total.Add(cents(5992)) || *c.ReplacementPerPanel != c.Replacement.TimesRatio(1, 6) {
		t.Errorf("stock %s, replacement %s of %s", c.StockValue, c.Replacement, c.Total)
	}
	if net := c.Total.Sub(c.LeftoverValue).TimesRatio(1, 6); *c.NetPerPanel != net || c.LeftoverValue.IsZero() {
		t.Errorf("net %s, want %s", c.NetPerPanel, net)
	}
}

func TestStockAloneNeedsNoShop(t *testing.T) {
	s := workshop()
	s.Offers = slices.DeleteFunc(s.Offers, func(o catalog.Offer) bool {
		return o.ItemKind == catalog.FillItem || o.ItemKind == catalog.FabricItem || o.ItemID == "part_board"
	})
	with := terms()
	with.Stock = []costing.OnHand{battsOnHand(6, 450), remnants(10_000, 1, 4000), boardsOnHand(2700, 9, 600)}
	c := costing.NewMarket(s.Snapshot, with).Cost(listOf(build(), 6, goggles))
	if c.Total == nil {
		t.Fatalf("missing %+v", c.Missing)
	}
	with.Stock[0].Count, with.Stock[1].Long, with.Stock[2].Count = 5, 9_800, 8
	c = costing.NewMarket(s.Snapshot, with).Cost(listOf(build(), 6, goggles))
	var lacking []string
	for _, m := range c.Missing {
		lacking = append(lacking, m.Need)
	}
	if c.Total != nil || !slices.Equal(lacking, []string{"fill", "fabric", "frame"}) {
		t.Errorf("missing %v", lacking)
	}
}

func TestStockWithoutAValueHasNoReplacementTotal(t *testing.T) {
	with := terms()
	with.Stock = []costing.OnHand{{Kind: catalog.PartItem, Item: "part_screw", Count: 5}}
	c := costing.NewMarket(workshop().Snapshot, with).Cost(listOf(build(), 6, goggles))
	if c.Total == nil || c.Replacement != nil || c.ReplacementPerPanel != nil || !c.StockUnvalued {
		t.Errorf("replacement %v", c.Replacement)
	}
	if c = costing.NewMarket(workshop().Snapshot, terms()).Cost(listOf(build(), 6, goggles)); c.Replacement == nil || *c.Replacement != *c.Total {
		t.Errorf("without stock the replacement total is %v, the total %s", c.Replacement, c.Total)
	}
}

func TestStockThatIsNotThereIsNamed(t *testing.T) {
	with := terms()
	yen, _ := money.Parse("100", "JPY")
	with.Stock = []costing.OnHand{
		{Kind: "ready_made_panel", Item: "", Count: 0},
		{Kind: catalog.FillItem, Item: "fill_wool", Count: 1, Long: 5},
		{Kind: catalog.FabricItem, Item: "fabric_cloth", Count: 1, Size: &catalog.SoldSize{Length: 1, Width: 1, Thickness: 1}},
		{Kind: catalog.PartItem, Item: "part_screw", Count: 1, Value: &yen},
		{Kind: catalog.PartItem, Item: "part_screw", Count: 1, Value: pointer(cents(-1))},
	}
	pointers := func(err error) []string {
		var list []string
		if invalid, ok := err.(*catalog.InvalidError); ok {
			for _, f := range invalid.Faults {
				list = append(list, f.Pointer)
			}
		}
		return list
	}
	want := []string{"/stock_on_hand/0/item_kind", "/stock_on_hand/0/item", "/stock_on_hand/0/count", "/stock_on_hand/1/sold_size", "/stock_on_hand/1/length_mm",
		"/stock_on_hand/2/sold_size", "/stock_on_hand/2/length_mm", "/stock_on_hand/3/replacement_value/currency", "/stock_on_hand/4/replacement_value/amount"}
	if got := pointers(with.Validate()); !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
	with.Stock = []costing.OnHand{
		{Kind: catalog.FillItem, Item: "fill_none", Size: &catalog.SoldSize{Length: 1, Width: 1, Thickness: 1}, Count: 1},
		{Kind: catalog.FillItem, Item: "fill_wool", Size: &catalog.SoldSize{Length: 1, Width: 1, Thickness: 1}, Count: 1},
		{Kind: catalog.PartItem, Item: "part_board", Count: 1},
		{Kind: catalog.PartItem, Item: "part_screw", Count: 1, Long: 5},
		remnants(1000, 1, 100), remnants(1000, 2, 100), remnants(1100, 2, 100),
	}
	want = []string{"/stock_on_hand/0/item", "/stock_on_hand/1/sold_size", "/stock_on_hand/2/length_mm", "/stock_on_hand/3/length_mm", "/stock_on_hand/5"}
	if got := pointers(with.FindStock(workshop().Snapshot)); !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}

// More on hand is never more to pay where no goods value has to be reached, and the order in
// which it is listed changes nothing.
func TestMoreOnHandNeverCostsMore(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := genShelf(t, false).Snapshot
		list := listOf(build(), rapid.IntRange(1, 12).Draw(t, "n"), goggles)
		with := terms()
		cost := *costing.NewMarket(s, with).Cost(list).Total
		all := []costing.OnHand{
			battsOnHand(rapid.IntRange(1, 9).Draw(t, "batts"), 450), remnants(units.Length(rapid.IntRange(500, 5000).Draw(t, "remnant")), 2, 800),
			boardsOnHand(2400, rapid.IntRange(1, 6).Draw(t, "boards"), 600), boardsOnHand(1300, 1, 300),
			{Kind: catalog.PartItem, Item: "part_mask", Count: rapid.IntRange(1, 4).Draw(t, "masks")},
		}
		for _, h := range all {
			with.Stock = append(with.Stock, h)
			c := costing.NewMarket(s, with).Cost(list)
			if c.Total.Cmp(cost) > 0 {
				t.Fatalf("%s with %+v, %s without", c.Total, with.Stock, cost)
			}
			cost = *c.Total
		}
		want := costing.NewMarket(s, with).Cost(list)
		slices.Reverse(with.Stock)
		if got := costing.NewMarket(s, with).Cost(list); !reflect.DeepEqual(got, want) {
			t.Fatalf("got %+v, want %+v", got, want)
		}
	})
}

// Old prices are refused or flagged, as asked.
func TestOldPricesAreRefusedOrFlagged(t *testing.T) {
	s := workshop()
	s.Prices[6].Observed = "2025-01-01" // of screws
	with := terms()
	with.MaxAgeDays = 365
	if c := costing.NewMarket(s.Snapshot, with).Cost(listOf(build(), 6, goggles)); c.Total != nil || c.Missing[0].Reason != costing.TooOld || len(c.Missing[0].Pieces) != 1 {
		t.Errorf("%v, missing %+v", c.Total, c.Missing)
	}
	with.OldPrices = costing.OldFlagged
	c := costing.NewMarket(s.Snapshot, with).Cost(listOf(build(), 6, goggles))
	if c.Total == nil || c.OldestPrice != "2025-01-01" {
		t.Fatalf("missing %+v, oldest %s", c.Missing, c.OldestPrice)
	}
	for _, l := range c.Lines {
		if l.PriceTooOld != (l.Need == "screw") {
			t.Errorf("%s: too old %v", l.Need, l.PriceTooOld)
		}
	}
}

// The mill sells cloth for 41.40 and charges 7.90 below 50.00: 8.60 are lacking. With net prices
// the threshold still counts tax, as TestThresholdCountsTaxAlsoForThoseWhoGetItBack has it.
func TestWhatLacksToFreeDelivery(t *testing.T) {
	s := workshop()
	s.Suppliers[1].Delivery.FreeFrom = pointer(cents(5000))
	b := build()
	b.Design.Back = panels.BackOpen
	for _, basis := range []costing.TaxBasis{costing.TaxIncluded, costing.TaxExcluded} {
		with := terms()
		with.Tax, with.AllowPadding = basis, false
		c := costing.NewMarket(s.Snapshot, with).Cost(listOf(b, 6, goggles))
		if depot, mill := c.Orders[0], c.Orders[1]; depot.ToFree != nil || mill.ToFree == nil || *mill.ToFree != cents(860) {
			t.Errorf("%s: %+v, %+v", basis, depot, mill)
		}
	}
}

// By hand for the panels of TestSixPanels: one pack of six batts is enough for six panels, 6.0 m
// of cloth give no seventh piece (6.93 m), fourteen pieces of 1.2 m and of 0.564 m take more
// than nine boards of 2.7 m, twelve hangers are three packs of four, 100 screws last for twelve
// panels and 1000 staples for sixteen; a pair of gloves lasts for six panels, a mask for a
// session of eight (handling.md section 3).
func TestHowFarWhatIsBoughtGoes(t *testing.T) {
	b := build()
	b.Design.Back = panels.BackOpen
	m := costing.NewMarket(workshop().Snapshot, terms())
	var lists []needs.List
	for n := 7; n <= 14; n++ {
		lists = append(lists, listOf(b, n, goggles))
	}
	got := map[string]string{}
	for _, r := range m.Reaches(m.Cost(listOf(b, 6, goggles)), lists) {
		got[r.Need] = fmt.Sprint(r.Panels, r.More)
	}
	want := map[string]string{"fill": "6 false", "fabric": "6 false", "frame": "6 false", "hanger": "6 false", "screw": "12 false", "staple": "14 true",
		"respirator": "8 false", "gloves": "6 false", "coverall": "14 true"}
	for need, w := range want {
		if got[need] != w {
			t.Errorf("%s reaches %s, want %s", need, got[need], w)
		}
	}
	if len(got) != len(want) {
		t.Errorf("%v", got)
	}
}
