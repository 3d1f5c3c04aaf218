package cutting

import (
	"cmp"
	"math"
	"slices"
	"sync"

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

// BattLayout says how each piece is laid of batts: a block of whole ones in columns and rows,
// filled up by strips.
type BattLayout struct {
	Across, Up    units.Length // of a whole batt as it lies in the piece
	Columns, Rows int
	// LastColumn and LastRow are the width of the last column and the height of the last row,
	// which may be trimmed so that no strip is too narrow.
	LastColumn, LastRow units.Length
	Whole               int // batts in all blocks, trimmed ones among them
	Strips              []BattStrip
	Cuts                []BattCut
}

// BattStrip is one class of strips, joined end to end from pieces.
type BattStrip struct {
	Width, Length units.Length
	Upright       bool // runs up the piece, else across it
	PerPiece      int
	Joined        []JoinedStrips // of all, alike ones together
	// Trims says how the lengths of strip that the batts give are cut for that.
	Trims []StripTrim
}

// JoinedStrips are strips that are made of pieces of the same lengths, in the order of joining.
type JoinedStrips struct {
	Times  int
	Pieces []units.Length
}

// StripTrim is so many lengths of strip that are cut into the same pieces.
type StripTrim struct {
	Times  int
	Length units.Length
	Into   []units.Length
}

// BattCut is so many batts that are cut alike: by at most one straight cut into parts, and each
// part into strips side by side.
type BattCut struct {
	Times int
	Parts []BattPart
}

// BattPart is a part of a batt.
type BattPart struct {
	Long, Wide units.Length // along the length and the width of the batt
	Lengthways bool         // the strips run along the length of the batt
	Strips     [2]int       // of each class of the layout
}

// BattPlan says how many batts the pieces take. Where a piece is larger than a batt it is
// made of several with butt joints: Layout says how when strips share batts, else Cells.
type BattPlan struct {
	Status         Status // optimal when the area alone forbids fewer
	Batts          int
	LowerBound     int // from the area
	WithoutSharing int // if no batt may serve two panels' pieces
	Joints         int // butt joints in each piece, at most
	Cells          []BattCell
	Layout         *BattLayout
}

// Batts plans count pieces of width × height from batts of a length and a width, with
// straight cuts across what is left (guillotine).
//
// A piece that fits into a batt is cut whole, as many to a batt as two blocks of equal
// pieces allow: joints cost labour that is not counted. A larger one is a block of whole
// batts with strips beside and above it, which are joined end to end from what patterns
// of one straight cut give, or a grid of pieces of which each class is cut from its own
// batts; whichever takes fewer batts, then fewer pieces. A strip narrower than the least
// piece is widened and the whole batt beside it trimmed. Soft batts are cut with a knife:
// no kerf. The search is bounded in steps: the plan is valid then, and may take more batts
// than one for more pieces, but never more than without sharing.
// Source: costing_problem.md section 7, a family in which no fewer batts may be proven than
// the area says: hence LowerBound and Feasible.
func Batts(width, height units.Length, count int, battLength, battWidth units.Length, rules BattRules) BattPlan {
	return new(BattPlanner).Plan(width, height, count, battLength, battWidth, rules)
}

// BattPlanner plans as Batts does and remembers the ways of cutting a batt into strips, which do
// not depend on the number of pieces. It may be used from several goroutines.
type BattPlanner struct {
	lock  sync.Mutex
	known map[patternKey][]pattern
}

// patternKey is what patterns depend on.
type patternKey struct {
	b       batt
	widths  [2]int64
	upright [2]bool
	classes int
}

// patterns returns those of a batt for classes of strips, worked out once.
func (p *BattPlanner) patterns(b batt, classes []stripClass) []pattern {
	key := patternKey{b: b, classes: len(classes)}
	for i, c := range classes {
		key.widths[i], key.upright[i] = c.width, c.upright
	}
	p.lock.Lock()
	list, ok := p.known[key]
	p.lock.Unlock()
	if ok {
		return list
	}
	list = b.patterns(classes)
	p.lock.Lock()
	defer p.lock.Unlock()
	if p.known == nil || len(p.known) > mostPatterns {
		p.known = map[patternKey][]pattern{}
	}
	p.known[key] = list
	return list
}

// mostPatterns bounds what is remembered. Convention.
const mostPatterns = 2000

// Plan is Batts.
func (p *BattPlanner) Plan(width, height units.Length, count int, battLength, battWidth units.Length, rules BattRules) BattPlan {
	least := rules.MinPiece
	if least == 0 {
		least = DefaultMinPiece
	}
	w, h := (width + rules.Oversize).Tenths(), (height + rules.Oversize).Tenths()
	b := batt{long: battLength.Tenths(), wide: battWidth.Tenths(), least: least.Tenths(), turn: rules.Turn}
	if w <= 0 || h <= 0 || !positive(battLength, battWidth) {
		return BattPlan{Status: Infeasible}
	}
	best, found := b.celled(w, h, count)
	if b.perBatt(w, h) == 0 {
		blocks := b.blocks(w, h)
		slices.SortStableFunc(blocks, func(x, y block) int {
			m, p := b.atLeast(x, count)
			n, q := b.atLeast(y, count)
			return cmp.Or(cmp.Compare(m, n), cmp.Compare(p, q))
		})
		for _, l := range blocks {
			most := math.MaxInt32
			if found {
				most = best.Batts
			}
			if n, pieces := b.atLeast(l, count); n > most || n == most && pieces >= best.pieces {
				continue
			}
			if plan, ok := b.shared(p, l, count, most); ok && (!found || cmp.Or(cmp.Compare(plan.Batts, best.Batts), cmp.Compare(plan.pieces, best.pieces)) < 0) {
				best, found = plan, true
			}
		}
	}
	if !found {
		return BattPlan{Status: Infeasible}
	}
	plan := best.BattPlan
	plan.WithoutSharing = plan.Batts
	if count > 1 {
		one := p.Plan(width, height, 1, battLength, battWidth, rules)
		plan.WithoutSharing = count * one.Batts
		if plan.Batts > plan.WithoutSharing { // the search was cut short
			plan = one.times(count)
		}
	}
	plan.Status, plan.LowerBound = Feasible, int(ceilDiv(int64(count)*w*h, b.long*b.wide))
	if plan.Batts == plan.LowerBound {
		plan.Status = Optimal
	}
	return plan
}

// times is the plan for one piece, made so many times.
func (p BattPlan) times(n int) BattPlan {
	p.Batts, p.WithoutSharing = n*p.Batts, n*p.Batts
	p.Cells = slices.Clone(p.Cells)
	for i := range p.Cells {
		p.Cells[i].Count, p.Cells[i].Batts = n*p.Cells[i].Count, n*p.Cells[i].Batts
	}
	if p.Layout == nil {
		return p
	}
	l := *p.Layout
	l.Whole, l.Cuts, l.Strips = n*l.Whole, slices.Clone(l.Cuts), slices.Clone(l.Strips)
	for i := range l.Cuts {
		l.Cuts[i].Times *= n
	}
	for i := range l.Strips {
		s := &l.Strips[i]
		s.Joined, s.Trims = slices.Clone(s.Joined), slices.Clone(s.Trims)
		for k := range s.Joined {
			s.Joined[k].Times *= n
		}
		for k := range s.Trims {
			s.Trims[k].Times *= n
		}
	}
	p.Layout = &l
	return p
}

// laid is a plan with the number of pieces that it is made of.
type laid struct {
	BattPlan
	pieces int
}

// celled is the best plan in which each class of pieces has batts of its own.
func (b batt) celled(w, h int64, count int) (laid, bool) {
	layouts := b.layouts(w, h)
	if len(layouts) == 0 {
		return laid{}, false
	}
	best := slices.MinFunc(layouts, func(x, y []class) int {
		return cmp.Or(cmp.Compare(batts(x, count), batts(y, count)), cmp.Compare(pieces(x), pieces(y)))
	})
	plan := laid{BattPlan{Batts: batts(best, count), Joints: pieces(best) - 1}, count * pieces(best)}
	for _, c := range best {
		n := count * c.count
		plan.Cells = append(plan.Cells, BattCell{units.FromTenths(c.width), units.FromTenths(c.height), n, c.perBatt, int(ceilDiv(int64(n), int64(c.perBatt)))})
	}
	return plan, true
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

// layouts lists the ways of making w × h of classes of pieces. A piece that fits is only cut
// whole.
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
