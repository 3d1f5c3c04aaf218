package cutting_test

import (
	"testing"

	"pgregory.net/rapid"

	"sabinbook/internal/cutting"
	"sabinbook/internal/money"
	"sabinbook/internal/units"
)

// Source: costing.md section 6, rows on timber. Whole numbers, compared exactly.
func TestCheckValuesOfTimber(t *testing.T) {
	bars := []cutting.Bar{{Length: 1200, Count: 12}, {Length: 564, Count: 12}}
	for stock, want := range map[units.Length]int{2400: 12, 2700: 9} {
		plan := cutting.Boards(bars, []cutting.Stock{{Length: stock}}, cutting.BoardRules{Kerf: cutting.DefaultKerf})
		if plan.Count != want || plan.Status != cutting.Optimal {
			t.Errorf("stock %g mm: %d boards, %s; want %d", float64(stock), plan.Count, plan.Status, want)
		}
	}
	// The same row: two of 1200 and a cut need 2403 mm.
	if plan := cutting.Boards(bars[:1], []cutting.Stock{{Length: 2402.9}}, cutting.BoardRules{Kerf: 3}); plan.Count != 12 {
		t.Errorf("2402.9 mm took two of 1200 mm with a kerf of 3 mm")
	}
	if plan := cutting.Boards(bars[:1], []cutting.Stock{{Length: 2403}}, cutting.BoardRules{Kerf: 3}); plan.Count != 6 {
		t.Errorf("2403 mm did not take two of 1200 mm with a kerf of 3 mm")
	}
}

// Source: costing.md section 6, rows on fabric: pieces of 1.50 m x 0.90 m.
func TestCheckValuesOfFabric(t *testing.T) {
	for _, c := range []struct{ usable, want units.Length }{{1500, 5400}, {1450, 9000}} {
		piece := cutting.ClothPiece{Across: 900, Along: 1500, Count: 6, Turn: true}
		plan := cutting.Cloth([]cutting.ClothPiece{piece}, cutting.Roll{Width: c.usable + 40, Selvedge: 20}, cutting.ClothRules{})
		if plan.Length != c.want || plan.Status != cutting.Optimal {
			t.Errorf("usable %g: %g mm, %s; want %g", float64(c.usable), float64(plan.Length), plan.Status, float64(c.want))
		}
	}
}

func TestBattsOfUsualSizes(t *testing.T) {
	for _, c := range []struct {
		name                 string
		w, h                 units.Length
		count                int
		long, wide           units.Length
		batts, joints, atCut int
	}{
		// Plain counting.
		{"a batt of the panel's size gives one piece", 564, 1164, 10, 1200, 600, 10, 0, 1},
		{"a roll gives a row of pieces", 564, 1164, 10, 8000, 600, 2, 0, 6},
		{"turned pieces beside each other", 564, 590, 10, 1200, 600, 5, 0, 2},
		{"half panels", 282, 1164, 10, 1200, 600, 5, 0, 2},
		{"a panel of two batts and a strip", 1164, 1300, 1, 1200, 600, 3, 2, 1},
	} {
		plan := cutting.Batts(c.w, c.h, c.count, c.long, c.wide, cutting.BattRules{Turn: true})
		if plan.Batts != c.batts || plan.Joints != c.joints || plan.Cells[0].PerBatt != c.atCut {
			t.Errorf("%s: %+v", c.name, plan)
		}
	}
	if plan := cutting.Batts(564, -1, 1, 1200, 600, cutting.BattRules{}); plan.Status != cutting.Infeasible {
		t.Errorf("a piece of no size: %+v", plan)
	}
}

func TestNothingToCut(t *testing.T) {
	if plan := cutting.Boards(nil, []cutting.Stock{{Length: 2400}}, cutting.BoardRules{}); plan.Count != 0 || plan.Status != cutting.Optimal {
		t.Errorf("boards: %+v", plan)
	}
	if plan := cutting.Cloth(nil, cutting.Roll{Width: 1400}, cutting.ClothRules{}); plan.Length != 0 || plan.Status != cutting.Optimal {
		t.Errorf("cloth: %+v", plan)
	}
	if plan := cutting.Boards([]cutting.Bar{{Length: 0, Count: 2}}, []cutting.Stock{{Length: 2400}}, cutting.BoardRules{}); plan.Status != cutting.Infeasible {
		t.Errorf("a bar of no length: %+v", plan)
	}
	if plan := cutting.Boards([]cutting.Bar{{Length: 500, Count: 2}}, nil, cutting.BoardRules{}); plan.Status != cutting.Infeasible {
		t.Errorf("no stock: %+v", plan)
	}
}

func genBars(t *rapid.T, kinds, most int) []cutting.Bar {
	n := rapid.IntRange(1, kinds).Draw(t, "kinds")
	bars := make([]cutting.Bar, n)
	for i := range bars {
		bars[i] = cutting.Bar{Length: units.Length(rapid.IntRange(200, 2400).Draw(t, "length")), Count: rapid.IntRange(1, most).Draw(t, "count")}
	}
	return bars
}

// The column method for one stock length and the search over states are independent ways to
// the least number of boards: the same stock given twice forces the search.
func TestColumnsEqualSearch(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		bars := genBars(t, 2, 12)
		stock := cutting.Stock{Length: 2400, Price: money.FromMinor(500, "EUR")}
		rules := cutting.BoardRules{Kerf: units.Length(rapid.IntRange(0, 5).Draw(t, "kerf"))}
		columns := cutting.Boards(bars, []cutting.Stock{stock}, rules)
		search := cutting.Boards(bars, []cutting.Stock{stock, stock}, rules)
		if columns.Count != search.Count || columns.Status != cutting.Optimal || search.Status != cutting.Optimal {
			t.Fatalf("columns %d, search %d", columns.Count, search.Count)
		}
		if err := validBoards(columns, bars, []cutting.Stock{stock}, rules); err != nil {
			t.Fatal(err)
		}
	})
}

// The search by dual values and the dynamic program, which the cases of the reference prove, have
// the same three numbers, with boards that are there already too.
func TestSearchByWorthEqualsTheDynamicProgram(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		bars := genBars(t, 4, 6)
		var stock []cutting.Stock
		for i := range rapid.IntRange(1, 4).Draw(t, "lengths") {
			stock = append(stock, cutting.Stock{Length: units.Length(1500 + 300*i + rapid.IntRange(0, 200).Draw(t, "length")), Price: money.FromMinor(int64(rapid.IntRange(200, 900).Draw(t, "price")), "EUR")})
		}
		if rapid.Bool().Draw(t, "some are there") {
			stock = append(stock, cutting.Stock{Length: units.Length(rapid.IntRange(300, 3000).Draw(t, "own length")), Max: rapid.IntRange(1, 3).Draw(t, "own"), Price: money.Zero("EUR")})
		}
		rules := cutting.BoardRules{Kerf: 3}
		want := cutting.Boards(bars, stock, rules)
		rules.States = 1
		got := cutting.Boards(bars, stock, rules)
		if got.Status == cutting.Infeasible || got.Status == cutting.NotFound || len(stock) == 1 && len(bars) <= 2 {
			return
		}
		if err := validBoards(got, bars, stock, rules); err != nil {
			t.Fatal(err)
		}
		if want.Status != cutting.Optimal || got.LowerBound.Cmp(want.Cost) > 0 || got.Status == cutting.Optimal && (got.Cost.Cmp(want.Cost) != 0 || got.Count != want.Count || got.Length != want.Length) {
			t.Fatalf("%s: %s, %d boards, %g mm, bound %s; want %s, %d, %g", got.Status, got.Cost, got.Count, float64(got.Length), got.LowerBound, want.Cost, want.Count, float64(want.Length))
		}
		if got.Status != cutting.Optimal {
			t.Fatalf("not proven: %s to %s", got.LowerBound, got.Cost)
		}
	})
}

// Two problems whose plans the search once called the cheapest and were not, found by the test above:
// boards that are there could hold more than was left, and states of the search were mistaken for one another.
func TestSearchByWorthWithBoardsThatAreThere(t *testing.T) {
	board := func(length units.Length, cents int64, most int) cutting.Stock {
		return cutting.Stock{Length: length, Price: money.FromMinor(cents, "EUR"), Max: most}
	}
	for _, c := range []struct {
		bars  []cutting.Bar
		stock []cutting.Stock
		cents int64 // by hand: two boards of 2400, and the short pieces from what is there; one board of 1800 likewise
	}{
		{[]cutting.Bar{{Length: 207, Count: 2}, {Length: 1094, Count: 2}, {Length: 729, Count: 3}},
			[]cutting.Stock{board(1500, 200, 0), board(1800, 200, 0), board(2100, 273, 0), board(2400, 318, 0), board(300, 0, 2)}, 636},
		{[]cutting.Bar{{Length: 200, Count: 1}, {Length: 573, Count: 1}, {Length: 202, Count: 6}},
			[]cutting.Stock{board(1500, 200, 0), board(1800, 200, 0), board(2100, 201, 0), board(300, 0, 2)}, 200},
	} {
		got := cutting.Boards(c.bars, c.stock, cutting.BoardRules{Kerf: 3, States: 1})
		if want := money.FromMinor(c.cents, "EUR"); got.Status != cutting.Optimal || got.Cost.Cmp(want) != 0 {
			t.Errorf("%s: %s, want %s", got.Status, got.Cost, want)
		}
	}
}

func TestBoardsOfManyKindsAreValid(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		bars := genBars(t, 7, 15)
		stock := []cutting.Stock{{Length: 2400, Price: money.FromMinor(450, "EUR")}, {Length: 3000, Price: money.FromMinor(570, "EUR")},
			{Length: 1300, Max: rapid.IntRange(1, 3).Draw(t, "own"), Price: money.FromMinor(0, "EUR")}}
		rules := cutting.BoardRules{Kerf: 3}
		plan := cutting.Boards(bars, stock, rules)
		if err := validBoards(plan, bars, stock, rules); err != nil {
			t.Fatal(err)
		}
		if plan.LowerBound.Cmp(plan.Cost) > 0 || plan.CountBound > plan.Count {
			t.Fatalf("bounds %s and %d exceed the plan's %s and %d", plan.LowerBound, plan.CountBound, plan.Cost, plan.Count)
		}
	})
}

func TestClothIsValidAndWithinBounds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pieces := make([]cutting.ClothPiece, rapid.IntRange(1, 3).Draw(t, "kinds"))
		for i := range pieces {
			pieces[i] = cutting.ClothPiece{Across: units.Length(rapid.IntRange(200, 1400).Draw(t, "across")), Along: units.Length(rapid.IntRange(200, 2000).Draw(t, "along")),
				Count: rapid.IntRange(1, 8).Draw(t, "count"), Turn: rapid.Bool().Draw(t, "turn")}
		}
		rules := cutting.ClothRules{Gap: units.Length(rapid.IntRange(0, 10).Draw(t, "gap"))}
		roll := cutting.Roll{Width: 1450, Selvedge: 20}
		best := cutting.Cloth(pieces, roll, rules)
		if best.Status == cutting.Infeasible {
			return
		}
		rules.States = 1
		rough := cutting.Cloth(pieces, roll, rules)
		for _, plan := range []cutting.ClothPlan{best, rough} {
			if err := validCloth(plan, pieces, rules); err != nil {
				t.Fatal(err)
			}
		}
		if best.Length > rough.Length || best.LowerBound > best.Length {
			t.Fatalf("bound %g, exact %g, first fit %g", float64(best.LowerBound), float64(best.Length), float64(rough.Length))
		}
	})
}

func TestBattsAreValid(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, h := units.Length(rapid.IntRange(100, 3000).Draw(t, "w")), units.Length(rapid.IntRange(100, 3000).Draw(t, "h"))
		n := rapid.IntRange(1, 60).Draw(t, "n")
		rules := cutting.BattRules{MinPiece: 50, Turn: rapid.Bool().Draw(t, "turn")}
		plan := cutting.Batts(w, h, n, 1200, 600, rules)
		if plan.Status == cutting.Infeasible {
			t.Fatalf("no plan for %g x %g", float64(w), float64(h))
		}
		if err := validBatts(plan, w, h, n, 1200, 600, rules); err != nil {
			t.Fatal(err)
		}
		if plan.Batts > plan.WithoutSharing {
			t.Fatalf("%d pieces take %d batts, %d without sharing", n, plan.Batts, plan.WithoutSharing)
		}
	})
}

func BenchmarkBoards(b *testing.B) {
	stock := []cutting.Stock{{Length: 2400}}
	for _, panels := range []int{10, 500} {
		bars := []cutting.Bar{{Length: 1200, Count: 2 * panels}, {Length: 564, Count: 2 * panels}}
		b.Run(map[int]string{10: "10_panels", 500: "500_panels"}[panels], func(b *testing.B) {
			for b.Loop() {
				cutting.Boards(bars, stock, cutting.BoardRules{Kerf: 3})
			}
		})
	}
}

func BenchmarkCloth(b *testing.B) {
	for _, panels := range []int{10, 500} {
		pieces := []cutting.ClothPiece{{Across: 800, Along: 1400, Count: panels, Turn: true}, {Across: 600, Along: 1200, Count: panels, Turn: true}}
		b.Run(map[int]string{10: "10_panels", 500: "500_panels"}[panels], func(b *testing.B) {
			for b.Loop() {
				cutting.Cloth(pieces, cutting.Roll{Width: 1500, Selvedge: 20}, cutting.ClothRules{})
			}
		})
	}
}
