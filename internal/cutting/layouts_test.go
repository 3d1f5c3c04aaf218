package cutting_test

import (
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"sabinbook/internal/cutting"
	"sabinbook/internal/units"
)

// validLayout checks a layout against the definition of costing_problem.md section 7 alone: block
// and strips tile the piece, batts are cut straight into parts that lie in them and hold their
// strips side by side, the strips are joined from what these give, and nothing is narrower or
// shorter than the least piece.
func validLayout(plan cutting.BattPlan, w, h units.Length, n int, long, wide units.Length, rules cutting.BattRules) error {
	l, least := plan.Layout, rules.MinPiece
	covered := func(size, last units.Length, count int) units.Length {
		if count == 0 {
			return 0
		}
		return units.Length(count-1)*size + last
	}
	bw, bh := covered(l.Across, l.LastColumn, l.Columns), covered(l.Up, l.LastRow, l.Rows)
	if !(l.Across == wide && l.Up == long || rules.Turn && l.Across == long && l.Up == wide) {
		return fmt.Errorf("batts lie %g x %g", float64(l.Across), float64(l.Up))
	}
	if l.Columns > 0 && (l.LastColumn > l.Across || l.LastColumn < least) || l.Rows > 0 && (l.LastRow > l.Up || l.LastRow < least) {
		return fmt.Errorf("trimmed to %g x %g", float64(l.LastColumn), float64(l.LastRow))
	}
	width, height := bw, bh
	var upright, level *cutting.BattStrip
	for i, s := range l.Strips {
		if s.Width < least || s.Length < least {
			return fmt.Errorf("strip of %g x %g", float64(s.Width), float64(s.Length))
		}
		if s.Upright {
			upright, width = &l.Strips[i], width+units.Length(s.PerPiece)*s.Width
		} else {
			level, height = &l.Strips[i], height+units.Length(s.PerPiece)*s.Width
		}
	}
	over := func(x, y units.Length) bool { return x < y-1e-6 || x > y+1 } // two halves may be a tenth too wide
	if over(width, w) && (upright != nil || level == nil || level.Length != w) || over(height, h) && (level != nil || upright == nil || upright.Length != h) {
		return fmt.Errorf("%g x %g is filled of %g x %g", float64(width), float64(height), float64(w), float64(h))
	}
	if !(upright == nil || level == nil) && !(upright.Length == h && level.Length == bw) && !(upright.Length == bh && level.Length == w) {
		return fmt.Errorf("strips of %g and %g do not meet", float64(upright.Length), float64(level.Length))
	}
	if upright != nil && level == nil && upright.Length != h || level != nil && upright == nil && level.Length != w {
		return fmt.Errorf("strips are too short")
	}
	batts, gives := l.Whole, make([]map[units.Length]int, len(l.Strips))
	for i := range gives {
		gives[i] = map[units.Length]int{}
	}
	for _, c := range l.Cuts {
		batts += c.Times
		var sumLong, sumWide units.Length
		for _, p := range c.Parts {
			sumLong, sumWide = sumLong+p.Long, sumWide+p.Wide
			extent, length := p.Wide, p.Long
			if !p.Lengthways {
				extent, length = p.Long, p.Wide
			}
			for i := range l.Strips {
				extent -= units.Length(p.Strips[i]) * l.Strips[i].Width
				gives[i][length] += c.Times * p.Strips[i]
				if p.Strips[i] > 0 && (length < least || !rules.Turn && l.Strips[i].Upright != p.Lengthways) {
					return fmt.Errorf("strip of %g in %+v", float64(length), p)
				}
			}
			if extent < -1e-6 || p.Long > long || p.Wide > wide {
				return fmt.Errorf("%+v does not hold its strips", p)
			}
		}
		if len(c.Parts) > 2 || len(c.Parts) == 2 && !(sumLong <= long+1e-6 && c.Parts[0].Wide == wide && c.Parts[1].Wide == wide) && !(sumWide <= wide+1e-6 && c.Parts[0].Long == long && c.Parts[1].Long == long) {
			return fmt.Errorf("%+v is not one straight cut", c)
		}
	}
	for i, s := range l.Strips {
		for _, t := range s.Trims {
			sum := units.Length(0)
			for _, x := range t.Into {
				sum += x
				gives[i][x] += t.Times
			}
			if gives[i][t.Length] -= t.Times; sum > t.Length+1e-6 || gives[i][t.Length] < 0 {
				return fmt.Errorf("%+v of %d", t, gives[i][t.Length])
			}
		}
		made := 0
		for _, j := range s.Joined {
			made += j.Times
			sum := units.Length(0)
			for _, x := range j.Pieces {
				sum += x
				if gives[i][x] -= j.Times; gives[i][x] < 0 || x < least {
					return fmt.Errorf("pieces of %g are lacking for %+v", float64(x), j)
				}
			}
			if sum < s.Length-1e-6 || sum > s.Length+1e-6 {
				return fmt.Errorf("%+v is not %g", j, float64(s.Length))
			}
		}
		if made != n*s.PerPiece {
			return fmt.Errorf("%d strips, want %d", made, n*s.PerPiece)
		}
	}
	if l.Whole != n*l.Columns*l.Rows || batts != plan.Batts || plan.Batts < plan.LowerBound {
		return fmt.Errorf("%d whole, %d in all: %+v", l.Whole, batts, plan)
	}
	return nil
}

// The reference's plans of G03 and G07 themselves: blocks and widths of strips, which its file
// prints.
func TestLayoutsOfTheReference(t *testing.T) {
	g07 := cutting.Batts(1220, 610, 20, 1200, 600, cutting.BattRules{MinPiece: 50, Turn: true}).Layout
	if g07 == nil || g07.Columns != 1 || g07.Rows != 1 || g07.Across-g07.LastColumn != 30 || g07.Up-g07.LastRow != 40 || g07.Whole != 20 {
		t.Errorf("G07: %+v", g07)
	}
	g03 := cutting.Batts(1900, 900, 4, 1200, 600, cutting.BattRules{MinPiece: 50, Turn: true}).Layout
	if g03 == nil || g03.Columns != 1 || g03.Rows != 1 || len(g03.Strips) != 2 || g03.Strips[0].Width != 700 || g03.Strips[1].Width != 300 {
		t.Errorf("G03: %+v", g03)
	}
}

// Layouts of all kinds of batts and pieces are valid, also where the search is cut short.
func TestLayoutsAreValid(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		long := units.Length(rapid.SampledFrom([]int{1000, 1200, 1250, 2000}).Draw(t, "long"))
		wide := units.Length(rapid.SampledFrom([]int{575, 600, 625, 1000}).Draw(t, "wide"))
		w, h := units.Length(rapid.IntRange(1000, 30_000).Draw(t, "w"))/10, units.Length(rapid.IntRange(1000, 30_000).Draw(t, "h"))/10
		n := rapid.IntRange(1, 500).Draw(t, "n")
		rules := cutting.BattRules{MinPiece: units.Length(rapid.IntRange(20, 90).Draw(t, "least")), Turn: rapid.Bool().Draw(t, "turn")}
		plan := cutting.Batts(w, h, n, long, wide, rules)
		if plan.Status == cutting.Infeasible {
			return
		}
		if err := validBatts(plan, w, h, n, long, wide, rules); err != nil {
			t.Fatal(err)
		}
		if !slices.Contains([]cutting.Status{cutting.Optimal, cutting.Feasible}, plan.Status) || (plan.Status == cutting.Optimal) != (plan.Batts == plan.LowerBound) {
			t.Fatalf("%s with %d of %d", plan.Status, plan.Batts, plan.LowerBound)
		}
	})
}
