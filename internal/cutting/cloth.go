package cutting

import (
	"cmp"
	"math"
	"slices"

	"sabinbook/internal/units"
)

// ClothPiece is so many rectangles of cloth: Across is laid across the roll.
type ClothPiece struct {
	Across, Along units.Length
	Count         int
	Turn          bool // the piece may be laid with its sides exchanged
}

// Roll is the cloth as sold.
type Roll struct {
	Width, Selvedge             units.Length // the selvedge of each edge is not used
	ShrinkWidthBP, ShrinkLongBP int          // in washing, basis points
}

// ClothRules are the terms of a plan of cloth.
type ClothRules struct {
	Gap     units.Length // between neighbours in a shelf
	EndTrim units.Length // added once
	Step    units.Length // cloth is sold in multiples of it; 0 for any length
	States  int          // limit of the exact search; 0 for DefaultClothStates
}

// DefaultClothStates is the size up to which cloth is planned exactly.
// Source: costing_problem.md section 6.
const DefaultClothStates = 500_000

// maxClothKinds is the number of different pieces up to which cloth is planned exactly; the
// fillings of a shelf grow fast with it. The source names one to four.
const maxClothKinds = 6

// Shelf is one cut over the full width of the roll, made Times over.
type Shelf struct {
	Depth  units.Length
	Times  int
	Pieces []ShelfPiece
}

// ShelfPiece is so many of a piece, lying side by side in a shelf.
type ShelfPiece struct {
	Piece  int // index
	Count  int
	Turned bool
}

// ClothPlan is a layout of two stages: shelves over the full width, pieces in each.
type ClothPlan struct {
	Status  Status // optimal among layouts of two stages
	Usable  units.Length
	Shelves []Shelf
	Length  units.Length // of all shelves
	Buy     units.Length // with shrinkage and end trim, in steps
	// LowerBound holds for any layout, also one that is not of two stages.
	LowerBound units.Length
	TooWide    []int // pieces that are wider than the usable width either way
}

// Cloth plans the least length of roll for the pieces.
//
//	f(0) = 0,  f(d) = min over depths h and fillings a of a shelf of  h + f(max(0, d − a))
//
// where a piece takes the smaller across-size over its positions whose along-size is at
// most h. It is exact, among layouts of two stages, while the product of (count + 1)
// stays within the limit of states; beyond that it is first-fit decreasing height.
// Source: costing_problem.md section 6; terms after Lodi, Martello, Monaci, EJOR 141
// (2002) 241-252.
func Cloth(pieces []ClothPiece, roll Roll, rules ClothRules) ClothPlan {
	w := (roll.Width - 2*roll.Selvedge).Tenths() * int64(10_000-roll.ShrinkWidthBP) / 10_000
	w -= w % 10 // whole millimetres, as the definition has them
	p := cloth{pieces: pieces, width: w, gap: rules.Gap.Tenths()}
	plan := ClothPlan{Usable: units.FromTenths(max(0, w))}
	for i, c := range pieces {
		if c.Count > 0 && len(p.positions(i)) == 0 {
			plan.TooWide = append(plan.TooWide, i)
		}
	}
	if len(plan.TooWide) > 0 {
		plan.Status = Infeasible
		return plan
	}
	limit := rules.States
	if limit <= 0 {
		limit = DefaultClothStates
	}
	var shelves []shelf
	if len(pieces) <= maxClothKinds && p.states() <= int64(limit) {
		plan.Status, shelves = Optimal, p.exact()
	} else {
		plan.Status, shelves = Feasible, p.firstFit()
	}
	length := int64(0)
	for _, s := range shelves {
		length += s.depth
	}
	plan.Shelves = group(shelves)
	plan.Length = units.FromTenths(length)
	plan.Buy = units.FromTenths(buy(length, roll, rules))
	plan.LowerBound = units.FromTenths(p.bound())
	if plan.Length == plan.LowerBound {
		plan.Status = Optimal
	}
	return plan
}

// buy adds shrinkage and end trim and rounds up to the step:
// ⌈⌈f · 10000 / (10000 − shrink)⌉ + end trim⌉.
func buy(length int64, roll Roll, rules ClothRules) int64 {
	if roll.ShrinkLongBP > 0 {
		length = ceilMM(ceilDiv(length*10_000, int64(10_000-roll.ShrinkLongBP)))
	}
	length += rules.EndTrim.Tenths()
	if step := rules.Step.Tenths(); step > 0 {
		length = ceilDiv(length, step) * step
	}
	return length
}

type cloth struct {
	pieces     []ClothPiece
	width, gap int64
}

// position is a way of laying a piece.
type position struct {
	across, along int64
	turned        bool
}

// positions lists the ways of laying piece i that fit the width.
func (p cloth) positions(i int) []position {
	c := p.pieces[i]
	across, along := c.Across.Tenths(), c.Along.Tenths()
	var list []position
	if across <= 0 || along <= 0 {
		return nil
	}
	if across <= p.width {
		list = append(list, position{across, along, false})
	}
	if c.Turn && across != along && along <= p.width {
		list = append(list, position{along, across, true})
	}
	return list
}

func (p cloth) states() int64 {
	n := int64(1)
	for _, c := range p.pieces {
		if n *= int64(c.Count + 1); n > math.MaxInt32 {
			return n
		}
	}
	return n
}

// shelf is a filling: so many of each piece.
type shelf struct {
	depth int64
	count []int
	turn  []bool
}

// depths lists the along-sizes at which a shelf may end, ascending.
func (p cloth) depths() []int64 {
	var list []int64
	for i, c := range p.pieces {
		if c.Count > 0 {
			for _, pos := range p.positions(i) {
				list = append(list, pos.along)
			}
		}
	}
	slices.Sort(list)
	return slices.Compact(list)
}

// fillings lists the shelves to which nothing can be added, over all depths, without those
// that another one beats: no deeper and with no fewer of any piece.
func (p cloth) fillings() []shelf {
	var list []shelf
	for _, h := range p.depths() {
		across := make([]int64, len(p.pieces))
		turn := make([]bool, len(p.pieces))
		for i, c := range p.pieces {
			if c.Count == 0 {
				continue
			}
			for _, pos := range p.positions(i) {
				if pos.along <= h && (across[i] == 0 || pos.across < across[i]) {
					across[i], turn[i] = pos.across, pos.turned
				}
			}
		}
		count := make([]int, len(p.pieces))
		var fill func(i int, room int64)
		fill = func(i int, room int64) {
			if i == len(p.pieces) {
				for j, a := range across {
					if a > 0 && count[j] < p.pieces[j].Count && a+p.gap <= room {
						return
					}
				}
				list = append(list, shelf{h, slices.Clone(count), turn})
				return
			}
			most := 0
			if across[i] > 0 {
				most = min(p.pieces[i].Count, int(room/(across[i]+p.gap)))
			}
			for n := most; n >= 0; n-- {
				count[i] = n
				fill(i+1, room-int64(n)*(across[i]+p.gap))
			}
			count[i] = 0
		}
		fill(0, p.width+p.gap)
	}
	var kept []shelf
	for i, s := range list { // in ascending order of depth
		if !slices.ContainsFunc(list[:i], s.beatenBy) {
			kept = append(kept, s)
		}
	}
	return kept
}

// beatenBy reports whether a shelf that is no deeper holds no fewer of any piece.
func (s shelf) beatenBy(other shelf) bool {
	for i, n := range s.count {
		if other.count[i] < n {
			return false
		}
	}
	return true
}

// exact is the dynamic program over the pieces still to lay, in ascending order of the
// mixed-radix number of the state.
func (p cloth) exact() []shelf {
	fillings := p.fillings()
	n := len(p.pieces)
	stride := make([]int, n)
	total := 1
	for i := n - 1; i >= 0; i-- {
		stride[i] = total
		total *= p.pieces[i].Count + 1
	}
	least := make([]int64, total)
	choice := make([]int16, total)
	state := make([]int, n)
	for at := 1; at < total; at++ {
		for i := n - 1; i >= 0; i-- { // count up by one
			if state[i]++; state[i] <= p.pieces[i].Count {
				break
			}
			state[i] = 0
		}
		least[at] = math.MaxInt64
		for c := range fillings {
			next := at
			for i, k := range fillings[c].count {
				next -= min(k, state[i]) * stride[i]
			}
			if next < at && fillings[c].depth+least[next] < least[at] {
				least[at], choice[at] = fillings[c].depth+least[next], int16(c)
			}
		}
	}
	var list []shelf
	for at := total - 1; at > 0; {
		f := fillings[choice[at]]
		s := shelf{f.depth, make([]int, n), f.turn}
		rest := at
		for i := range n {
			left := rest / stride[i]
			rest %= stride[i]
			s.count[i] = min(f.count[i], left)
			at -= s.count[i] * stride[i]
		}
		list = append(list, s)
	}
	return list
}

// firstFit lays each piece the way that is least deep, the deepest first, into the first
// shelf with room.
func (p cloth) firstFit() []shelf {
	order := make([]int, 0, len(p.pieces))
	laid := make([]position, len(p.pieces))
	for i, c := range p.pieces {
		if c.Count == 0 {
			continue
		}
		order = append(order, i)
		laid[i] = slices.MinFunc(p.positions(i), func(a, b position) int { return cmp.Compare(a.along, b.along) })
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(laid[b].along, laid[a].along) })
	var list []shelf
	var room []int64
	for _, i := range order {
		need := laid[i].across + p.gap
		at := 0
		for range p.pieces[i].Count {
			for at < len(list) && room[at] < need {
				at++
			}
			if at == len(list) {
				list = append(list, shelf{laid[i].along, make([]int, len(p.pieces)), make([]bool, len(p.pieces))})
				room = append(room, p.width+p.gap)
			}
			list[at].count[i]++
			list[at].turn[i] = laid[i].turned
			room[at] -= need
		}
	}
	return list
}

// bound holds for any layout: the area over the width, and the deepest piece laid its
// least deep way; in whole millimetres.
func (p cloth) bound() int64 {
	area, deepest := int64(0), int64(0)
	for i, c := range p.pieces {
		if c.Count == 0 {
			continue
		}
		area += int64(c.Count) * c.Across.Tenths() * c.Along.Tenths()
		least := int64(math.MaxInt64)
		for _, pos := range p.positions(i) {
			least = min(least, pos.along)
		}
		deepest = max(deepest, least)
	}
	if area == 0 {
		return 0
	}
	return max(ceilMM(ceilDiv(area, p.width)), deepest)
}

// group joins equal shelves, the deepest first.
func group(shelves []shelf) []Shelf {
	slices.SortStableFunc(shelves, func(a, b shelf) int {
		return cmp.Or(cmp.Compare(b.depth, a.depth), slices.Compare(b.count, a.count))
	})
	var list []Shelf
	for i, s := range shelves {
		if i > 0 && s.depth == shelves[i-1].depth && slices.Equal(s.count, shelves[i-1].count) && slices.Equal(s.turn, shelves[i-1].turn) {
			list[len(list)-1].Times++
			continue
		}
		out := Shelf{Depth: units.FromTenths(s.depth), Times: 1}
		for k, n := range s.count {
			if n > 0 {
				out.Pieces = append(out.Pieces, ShelfPiece{k, n, s.turn[k]})
			}
		}
		list = append(list, out)
	}
	return list
}
