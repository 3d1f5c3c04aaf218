package cutting

import (
	"cmp"
	"slices"

	"sabinbook/internal/units"
)

// BattRules are the terms of a plan of batts.
type BattRules struct {
	Oversize units.Length // press fit, added to both sides of each piece
	MinPiece units.Length // no piece is narrower; 0 for DefaultMinPiece
	Turn     bool         // the fibres may run either way
}

// DefaultMinPiece is the narrowest strip of fill that is still handled well.
// Source: the cases of costing_problem.md section 7, convention.
const DefaultMinPiece units.Length = 50

// BattCell is one class of pieces that are cut from batts of their own.
type BattCell struct {
	Width, Height units.Length
	Count         int // of all
	PerBatt       int
	Batts         int
}

// BattPlan says how many batts the pieces take. Where a piece is larger than a batt it is
// made of several with butt joints.
type BattPlan struct {
	Status         Status // optimal when the area alone forbids fewer
	Batts          int
	LowerBound     int // from the area
	WithoutSharing int // if no batt may serve two panels' pieces
	Joints         int // butt joints in each piece
	Cells          []BattCell
}

// Batts plans count pieces of width × height from batts of a length and a width, with
// straight cuts across what is left (guillotine).
//
// A piece that fits into a batt is cut whole, as many to a batt as two blocks of equal
// pieces allow. A larger one is a grid of whole batts with a strip at one side and at
// the top; each class of strip is cut from its own batts. A strip narrower than the
// least piece is widened and the whole batt beside it trimmed. Soft batts are cut with a
// knife: no kerf.
// Source: costing_problem.md section 7. The family there, in which different strips
// share a batt, can do better; that is what LowerBound and Feasible say.
func Batts(width, height units.Length, count int, battLength, battWidth units.Length, rules BattRules) BattPlan {
	least := rules.MinPiece
	if least == 0 {
		least = DefaultMinPiece
	}
	w, h := (width + rules.Oversize).Tenths(), (height + rules.Oversize).Tenths()
	b := batt{long: battLength.Tenths(), wide: battWidth.Tenths(), least: least.Tenths(), turn: rules.Turn}
	if w <= 0 || h <= 0 || !positive(battLength, battWidth) {
		return BattPlan{Status: Infeasible}
	}
	layouts := b.layouts(w, h)
	if len(layouts) == 0 {
		return BattPlan{Status: Infeasible}
	}
	best := slices.MinFunc(layouts, func(x, y []class) int {
		return cmp.Or(cmp.Compare(batts(x, count), batts(y, count)), cmp.Compare(pieces(x), pieces(y)))
	})
	plan := BattPlan{
		Status: Feasible, Batts: batts(best, count), WithoutSharing: count * batts(best, 1), Joints: pieces(best) - 1,
		LowerBound: int(ceilDiv(int64(count)*w*h, b.long*b.wide)),
	}
	for _, c := range best {
		n := count * c.count
		plan.Cells = append(plan.Cells, BattCell{units.FromTenths(c.width), units.FromTenths(c.height), n, c.perBatt, int(ceilDiv(int64(n), int64(c.perBatt)))})
	}
	if plan.Batts == plan.LowerBound {
		plan.Status = Optimal
	}
	return plan
}

type batt struct {
	long, wide, least int64
	turn              bool
}

// class is one size of piece: count of them in each panel's piece.
type class struct {
	width, height  int64
	count, perBatt int
}

func batts(layout []class, panels int) int {
	n := 0
	for _, c := range layout {
		n += int(ceilDiv(int64(panels*c.count), int64(c.perBatt)))
	}
	return n
}

func pieces(layout []class) int {
	n := 0
	for _, c := range layout {
		n += c.count
	}
	return n
}

// layouts lists the ways of making w × h. A piece that fits is only cut whole: joints cost
// labour that is not counted.
func (b batt) layouts(w, h int64) [][]class {
	if n := b.perBatt(w, h); n > 0 {
		return [][]class{{{w, h, 1, n}}}
	}
	list := b.grids(w, h, b.wide, b.long)
	if b.turn {
		list = append(list, b.grids(w, h, b.long, b.wide)...)
	}
	return list
}

// side divides a side of size z by batts of size q: whole ones, the size of the single or
// common whole one, and the rest. ok is false when no piece of the least size can be kept.
func (b batt) side(z, q int64) (whole, size, rest int64, ok bool) {
	whole, rest = z/q, z%q
	size = q
	if rest > 0 && rest < b.least && whole > 0 {
		trimmed := q - (b.least - rest)
		if trimmed < b.least {
			return 0, 0, 0, false
		}
		rest = b.least
		if whole == 1 {
			size = trimmed
		}
	}
	return whole, size, rest, true
}

// grids lists the layouts with batts lying p across and q up: strips cut at the lines of the
// grid, or the column over the full height, or the row over the full width.
func (b batt) grids(w, h, p, q int64) [][]class {
	columns, cw, restW, okW := b.side(w, p)
	rows, rh, restH, okH := b.side(h, q)
	if !okW || !okH {
		return nil
	}
	var list [][]class
	add := func(classes ...class) {
		var kept []class
		for _, c := range classes {
			if c.count == 0 {
				continue
			}
			if c.perBatt = b.perBatt(c.width, c.height); c.perBatt == 0 {
				return
			}
			kept = append(kept, c)
		}
		list = append(list, kept)
	}
	c, r := int(columns), int(rows)
	one := func(rest int64) int { return min(1, int(rest)) }
	block := class{width: cw, height: rh, count: c * r}
	add(block, class{width: restW, height: rh, count: one(restW) * r}, class{width: cw, height: restH, count: c * one(restH)},
		class{width: restW, height: restH, count: one(restW) * one(restH)})
	if restW > 0 && restH > 0 {
		add(block, class{width: restW, height: h, count: 1}, class{width: cw, height: restH, count: c})
		add(block, class{width: restW, height: rh, count: r}, class{width: w, height: restH, count: 1})
	}
	return list
}

// perBatt counts the pieces of w × h in a batt cut into at most two blocks of equal
// pieces.
func (b batt) perBatt(w, h int64) int {
	best := b.block(b.wide, b.long, w, h)
	steps := []int64{w}
	if b.turn {
		steps = []int64{w, h}
	}
	for _, step := range steps {
		for x := step; x < b.wide; x += step {
			best = max(best, b.block(x, b.long, w, h)+b.block(b.wide-x, b.long, w, h))
		}
	}
	steps = []int64{h}
	if b.turn {
		steps = []int64{w, h}
	}
	for _, step := range steps {
		for y := step; y < b.long; y += step {
			best = max(best, b.block(b.wide, y, w, h)+b.block(b.wide, b.long-y, w, h))
		}
	}
	return best
}

// block counts pieces of w × h all lying one way in a rectangle of across × up.
func (b batt) block(across, up, w, h int64) int {
	n := (across / w) * (up / h)
	if b.turn {
		n = max(n, (across/h)*(up/w))
	}
	return int(n)
}
