package cutting_test

import (
	"slices"
	"testing"

	"pgregory.net/rapid"

	"sabinbook/internal/cutting"
	"sabinbook/internal/money"
)

// Case J02 of buying_cases.json lists the nine pairs of board counts, of 2.4 m and of 3.0 m, from
// which twelve pieces of 1160 mm and twelve of 560 mm can be cut with a kerf of 3 mm.
func TestMixesOfTheReference(t *testing.T) {
	bars, lengths := []cutting.Bar{{Length: 1160, Count: 12}, {Length: 560, Count: 12}}, []cutting.Stock{{Length: 2400}, {Length: 3000}}
	got, all := cutting.Mixes(bars, lengths, cutting.BoardRules{Kerf: 3}, 100)
	for _, counts := range got {
		checkMix(t, bars, lengths, counts)
	}
	want := [][]int{{9, 0}, {8, 1}, {7, 2}, {6, 3}, {4, 4}, {3, 5}, {2, 6}, {1, 7}, {0, 8}}
	if !all || !slices.EqualFunc(got, want, slices.Equal[[]int]) {
		t.Errorf("%v, all %v, want %v", got, all, want)
	}
}

func checkMix(t interface {
	Helper()
	Fatalf(string, ...any)
}, bars []cutting.Bar, lengths []cutting.Stock, counts []int) {
	t.Helper()
	rules := cutting.BoardRules{Kerf: 3}
	plan, ok := cutting.CutMix(bars, lengths, counts, rules)
	if !ok {
		t.Fatalf("%v is no plan", counts)
	}
	stock, used := make([]cutting.Stock, len(lengths)), make([]int, len(lengths))
	for i, l := range lengths {
		stock[i] = cutting.Stock{Length: l.Length, Max: counts[i]}
	}
	if err := validBoards(plan, bars, stock, rules); err != nil {
		t.Fatalf("%v: %v", counts, err)
	}
	for _, b := range plan.Boards {
		used[b.Stock] += b.Times
	}
	if !slices.Equal(used, counts) {
		t.Fatalf("%v boards are used of %v", used, counts)
	}
}

// The mixes are those that trying every number of boards finds by the search of Boards.
func TestMixesAreAllThatAreLeast(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		bars := genBars(t, 2, 5)
		lengths := []cutting.Stock{{Length: 1200, Max: rapid.IntRange(0, 3).Draw(t, "there")}, {Length: 1500}, {Length: 2700}}[:rapid.IntRange(1, 3).Draw(t, "lengths")]
		for i := range bars {
			bars[i].Length = min(bars[i].Length, 2700)
		}
		got, all := cutting.Mixes(bars, lengths, cutting.BoardRules{Kerf: 3}, 1000)
		fits := func(counts []int) bool {
			stock := []cutting.Stock{}
			for i, l := range lengths {
				if counts[i] > 0 {
					stock = append(stock, cutting.Stock{Length: l.Length, Max: counts[i], Price: money.FromMinor(1, "EUR")})
				}
			}
			if len(stock) == 0 {
				return false
			}
			s := cutting.Boards(bars, stock, cutting.BoardRules{Kerf: 3, States: 500_000}).Status
			return s == cutting.Optimal
		}
		longest := slices.MaxFunc(bars, func(a, b cutting.Bar) int { return int(a.Length - b.Length) }).Length
		if longest > lengths[len(lengths)-1].Length {
			if all || len(got) > 0 {
				t.Fatalf("%v for bars that are too long", got)
			}
			return
		}
		if len(lengths) == 1 && lengths[0].Max > 0 && len(got) == 0 {
			if fits([]int{lengths[0].Max}) {
				t.Fatalf("%d boards will do", lengths[0].Max)
			}
			return
		}
		if !all || len(got) == 0 {
			t.Fatalf("%v, all %v of %v in %v", got, all, bars, lengths)
		}
		for _, counts := range got {
			checkMix(t, bars, lengths, counts)
			for i := range counts {
				if counts[i] > 0 {
					fewer := slices.Clone(counts)
					if fewer[i]--; fits(fewer) {
						t.Fatalf("%v is not least: %v will do", counts, fewer)
					}
				}
			}
		}
		// Any other number that will do has one of them in it.
		for range 20 {
			counts := make([]int, len(lengths))
			for i := range counts {
				most := 6
				if lengths[i].Max > 0 {
					most = lengths[i].Max
				}
				counts[i] = rapid.IntRange(0, most).Draw(t, "boards")
			}
			if covered := slices.ContainsFunc(got, func(m []int) bool {
				for i := range m {
					if m[i] > counts[i] {
						return false
					}
				}
				return true
			}); covered != fits(counts) {
				t.Fatalf("%v: fits %v, mixes %v", counts, fits(counts), got)
			}
		}
	})
}
