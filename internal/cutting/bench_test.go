package cutting_test

import (
	"testing"

	"sabinbook/internal/cutting"
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
