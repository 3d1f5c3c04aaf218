package api_test

import (
	"math"
	"strings"
	"testing"

	"sabinbook/api/client"
	"sabinbook/store/storetest"
)

// Whoever saws by a cut plan gets every piece: nothing overlaps, saw cuts are counted, pieces
// fit on what they are cut from, and the plan takes what the line needs. The check knows only
// the answer.
func TestCutPlansCanBeSawnBy(t *testing.T) {
	s := seeded(t, storetest.SQLite(t))
	ranking, _ := s.ask(`{"panel_count":7,"currency":"EUR","as_of_date":"2026-11-02","kerf_mm":4,"limit":200,"show":"best_per_fill","air_gaps_mm":[0,50,100]}`)
	seen := map[string]int{}
	for _, o := range ranking.Options {
		frame := map[float64]int64{}
		for _, l := range o.Cost.Lines {
			if (l.CutPlan != nil) != (l.Need == "frame" || l.Need == "fabric" || l.Need == "fill") {
				t.Errorf("%s: %s has a plan, or has none", o.Key, l.Need)
			}
			if l.CutPlan == nil {
				continue
			}
			seen[l.Need]++
			checkCutPlan(t, o, l)
			if l.Need == "frame" { // a frame may be cut from boards of several lengths, a line each
				for _, b := range l.CutPlan.Boards {
					for _, c := range b.Pieces {
						frame[c.LengthMm] += c.Count * b.Count
					}
				}
			}
		}
		inner := 600 - 2*float64(18) // the seed's frame timbers are 18 mm thick
		if frame[1200] != 2*7 || frame[inner] != 2*7 {
			t.Errorf("%s: pieces %v", o.Key, frame)
		}
	}
	for _, need := range []string{"frame", "fabric", "fill"} {
		if seen[need] < 10 {
			t.Errorf("%d plans of %s", seen[need], need)
		}
	}
}

func checkCutPlan(t *testing.T, o client.RankedOption, l client.CostLine) {
	t.Helper()
	const kerf, panels = 4.0, 7
	p := l.CutPlan
	near := func(what string, got, want float64) {
		t.Helper()
		if math.Abs(got-want) > 1e-6*max(1, want) {
			t.Errorf("%s, %s: %s is %g, want %g", o.Key, l.Need, what, got, want)
		}
	}
	switch l.Need {
	case "frame":
		boards := int64(0)
		for _, b := range p.Boards {
			boards += b.Count
			length, cuts := 0.0, int64(0)
			for _, c := range b.Pieces {
				length += c.LengthMm * float64(c.Count)
				cuts += c.Count
			}
			if used := length + float64(cuts-1)*kerf; used > b.StockLengthMm {
				t.Errorf("%s: %g mm are cut from %g mm", o.Key, used, b.StockLengthMm)
			}
			near("offcut", b.OffcutMm, max(0, b.StockLengthMm-length-float64(cuts)*kerf))
		}
		near("boards", float64(boards), l.NeededQuantity)
	case "fabric":
		roll, pieces := 0.0, map[string]int64{}
		for _, shelf := range p.Shelves {
			across := 0.0
			for _, c := range shelf.Pieces {
				across += c.AcrossMm * float64(c.Count)
				pieces[c.Name] += c.Count * shelf.Count
				if c.AlongMm > shelf.DepthMm {
					t.Errorf("%s: a piece of %g mm in a length of %g mm", o.Key, c.AlongMm, shelf.DepthMm)
				}
			}
			if across > *p.UsableWidthMm {
				t.Errorf("%s: %g mm across a roll of %g mm", o.Key, across, *p.UsableWidthMm)
			}
			roll += shelf.DepthMm * float64(shelf.Count)
		}
		near("roll", *p.RollLengthMm, roll)
		near("needed", l.NeededQuantity, math.Ceil(roll*1.1*10-1e-6)/10_000)
		if pieces["front"] < panels || o.BackWrapped && pieces["back"] < panels {
			t.Errorf("%s: pieces %v", o.Key, pieces)
		}
	case "fill":
		batts := int64(0)
		if layout := p.Layout; layout != nil {
			batts += layout.WholeBattsCount
			for _, c := range layout.Cuts {
				batts += c.Count
			}
			for _, s := range layout.Strips {
				made := int64(0)
				for _, j := range s.Joined {
					made += j.Count
					length := 0.0
					for _, x := range j.PiecesMm {
						length += x
					}
					near("strip", length, s.LengthMm)
				}
				near("strips", float64(made), float64(panels*o.LayersCount*s.PerPieceCount))
			}
		}
		for _, b := range p.Batts {
			batts += b.BattsCount
			if b.PerBattCount*b.BattsCount < b.PiecesCount {
				t.Errorf("%s: %d pieces from %d batts of %d", o.Key, b.PiecesCount, b.BattsCount, b.PerBattCount)
			}
		}
		near("batts", float64(batts), l.NeededQuantity)
	}
	if p.Text == "" || p.Text == "." {
		t.Errorf("%s: no words", o.Key)
	}
}

// Panels larger than their batts are laid of whole ones and strips, which the answer tells.
func TestLargePanelsShareBatts(t *testing.T) {
	s := seeded(t, storetest.SQLite(t))
	ranking, _ := s.ask(`{"panel_count":7,"panel":{"width_mm":1300,"height_mm":760},"currency":"EUR","as_of_date":"2026-11-02","kerf_mm":4,"limit":200,"show":"best_per_fill"}`)
	laid := 0
	for _, o := range ranking.Options {
		for _, l := range o.Cost.Lines {
			if l.Need == "fill" && l.CutPlan.Layout != nil {
				laid++
				checkCutPlan(t, o, l)
				if !strings.Contains(l.CutPlan.Text, "joined from") && !strings.Contains(l.CutPlan.Text, "strip") {
					t.Errorf("%s: %s", o.Key, l.CutPlan.Text)
				}
			}
		}
	}
	if laid < 5 {
		t.Errorf("%d layouts", laid)
	}
}
