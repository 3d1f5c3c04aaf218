package cutting_test

import (
	"testing"

	"sabinbook/internal/cutting"
	"sabinbook/internal/money"
	"sabinbook/internal/units"
)

// BenchmarkBatts plans the fill of frames of 600 mm x 1200 mm and of a panel that is larger than
// its batts.
func BenchmarkBatts(b *testing.B) {
	for name, c := range map[string]struct {
		w, h, long, wide units.Length
		count            int
	}{
		"whole/10":   {564, 1164, 1200, 600, 10},
		"joined/10":  {564, 1164, 1000, 600, 10},
		"joined/500": {564, 1164, 1000, 600, 500},
		"larger/20":  {1220, 610, 1200, 600, 20},
		"larger/500": {1900, 900, 1200, 600, 500},
	} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				cutting.Batts(c.w, c.h, c.count, c.long, c.wide, cutting.BattRules{Turn: true})
			}
		})
	}
}

// BenchmarkManyLengths plans case C11 of cutting_cases.json: sixty pieces of eight lengths from six
// lengths of boards, to a proven optimum.
func BenchmarkManyLengths(b *testing.B) {
	bars := []cutting.Bar{{Length: 1175, Count: 10}, {Length: 1010, Count: 6}, {Length: 905, Count: 8}, {Length: 780, Count: 6},
		{Length: 665, Count: 10}, {Length: 575, Count: 8}, {Length: 480, Count: 6}, {Length: 410, Count: 6}}
	var stock []cutting.Stock
	for length, price := range map[units.Length]int64{1800: 355, 2100: 409, 2400: 459, 2700: 529, 3000: 589, 3600: 709} {
		stock = append(stock, cutting.Stock{Length: length, Price: money.FromMinor(price, "EUR")})
	}
	for b.Loop() {
		if plan := cutting.Boards(bars, stock, cutting.BoardRules{Kerf: 3}); plan.Status != cutting.Optimal {
			b.Fatal(plan.Status)
		}
	}
}
