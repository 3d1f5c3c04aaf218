package cutting

import (
	"cmp"
	"math"
	"slices"

	"sabinbook/internal/money"
	"sabinbook/internal/units"
)

// Bar is so many pieces of one length.
type Bar struct {
	Length units.Length
	Count  int
}

// Stock is a length in which boards are had.
type Stock struct {
	Length units.Length
	Price  money.Amount // of one board; all of one currency, or all zero to count boards only
	Max    int          // boards there are, 0 for as many as wanted
}

// BoardRules are the terms of a plan of boards.
type BoardRules struct {
	Kerf   units.Length // width of a saw cut
	Trim   units.Length // lost once per board
	States int          // limit of the dynamic program; 0 for DefaultBoardStates
	Nodes  int          // limit of the search beyond it; 0 for DefaultBoardNodes
}

// DefaultKerf is the width of a saw cut. Source: costing.md section 2, common practice.
const DefaultKerf units.Length = 3

// DefaultBoardStates is the size up to which boards of several lengths are planned exactly.
// Source: costing_problem.md section 5.
const DefaultBoardStates = 60_000

// Board is one way of cutting a board, used Times over.
type Board struct {
	Stock  int // index of the stock
	Times  int
	Cuts   []Bar // longest first
	Offcut units.Length
}

// BoardPlan is a plan of boards: of least cost, then fewest boards, then least total length.
type BoardPlan struct {
	Status     Status
	Boards     []Board
	Count      int // boards
	Length     units.Length
	Cost       money.Amount
	LowerBound money.Amount // proven for Cost
	CountBound int          // proven for Count
	TooLong    []units.Length
}

// Boards plans how to cut the bars from the stock. A board with m pieces is feasible when
//
//	Σ l + (m − 1) k <= L − trim
//
// It is exact for one stock length and at most two lengths of bars, while the product of
// (count + 1) over lengths and limited stock stays within the limit of states, and beyond
// that where the search ends within its nodes; else the plan is the best one found,
// at first by best-fit decreasing, with a proven bound for its cost.
// Bars of no or negative length make it infeasible and are listed like those too long.
// Source: costing_problem.md section 5.
func Boards(bars []Bar, stock []Stock, rules BoardRules) BoardPlan {
	p := newBoards(bars, stock, rules)
	if len(p.tooLong) > 0 {
		return BoardPlan{Status: Infeasible, TooLong: p.tooLong}
	}
	limit := rules.States
	if limit <= 0 {
		limit = DefaultBoardStates
	}
	switch {
	case len(p.weight) == 0:
		return p.plan(nil, Optimal)
	case len(stock) == 1 && stock[0].Max == 0 && len(p.weight) <= 2 && p.columnWork() <= columnLimit:
		return p.plan(p.columns(), Optimal)
	case p.states() <= int64(limit):
		cuts, found := p.search()
		if !found {
			return BoardPlan{Status: Infeasible}
		}
		return p.plan(cuts, Optimal)
	}
	cuts, found := p.bestFit()
	if !found {
		return BoardPlan{Status: NotFound}
	}
	cuts, bound, optimal := p.prove(cuts, rules.Nodes)
	if optimal {
		return p.plan(cuts, Optimal)
	}
	plan := p.plan(cuts, Feasible)
	if least := money.FromMicro(bound, p.stock[0].Price.Currency()); plan.Status == Feasible && least.Cmp(plan.LowerBound) > 0 {
		plan.LowerBound = least
	}
	return plan
}

// boards is a problem in integers: tenths of a millimetre, micro-units of money.
type boards struct {
	bars    []Bar   // one per length, longest first
	weight  []int64 // l + k
	count   []int
	cap     []int64 // L − trim + k
	price   []int64
	kerf    int64
	stock   []Stock
	tooLong []units.Length
}

// cut is one board: the pieces of each length.
type cut struct {
	stock  int
	pieces []int
}

func newBoards(bars []Bar, stock []Stock, rules BoardRules) *boards {
	p := &boards{stock: stock, kerf: rules.Kerf.Tenths()}
	longest := int64(0)
	for _, s := range stock {
		c := s.Length.Tenths() - rules.Trim.Tenths() + p.kerf
		p.cap = append(p.cap, c)
		p.price = append(p.price, s.Price.Micro())
		longest = max(longest, c)
	}
	sorted := slices.Clone(bars)
	slices.SortFunc(sorted, func(a, b Bar) int { return cmp.Compare(b.Length.Tenths(), a.Length.Tenths()) })
	for _, b := range sorted {
		switch n := len(p.bars); {
		case b.Count <= 0:
		case !positive(b.Length) || b.Length.Tenths()+p.kerf > longest:
			if !slices.Contains(p.tooLong, b.Length) {
				p.tooLong = append(p.tooLong, b.Length)
			}
		case n > 0 && p.bars[n-1].Length.Tenths() == b.Length.Tenths():
			p.bars[n-1].Count += b.Count
			p.count[n-1] += b.Count
		default:
			p.bars = append(p.bars, b)
			p.weight = append(p.weight, b.Length.Tenths()+p.kerf)
			p.count = append(p.count, b.Count)
		}
	}
	return p
}

// columnLimit bounds the work of columns; 500 panels of four pieces need about a million steps.
const columnLimit = 20_000_000

func (p *boards) columnWork() int64 {
	total := int64(0)
	for _, n := range p.count {
		total += int64(n)
	}
	return int64(p.count[0]+1) * total
}

// columns is exact for one stock length and one or two lengths of bars. With a pieces of
// the first length a board takes at most g(a) of the second; most(b, s) is how many of
// the second b boards can give together with s of the first:
//
//	most(b, s) = max over a of most(b − 1, s − a) + g(a)
//
// and the least b with most(b, d₁) >= d₂ is the answer.
func (p *boards) columns() []cut {
	first, second := p.count[0], 0
	gain := make([]int, 0, 16)
	for a := 0; a <= first && int64(a)*p.weight[0] <= p.cap[0]; a++ {
		g := 0
		if len(p.weight) == 2 {
			second = p.count[1]
			g = int((p.cap[0] - int64(a)*p.weight[0]) / p.weight[1])
		}
		gain = append(gain, g)
	}
	const none = -1
	most, next := make([]int, first+1), make([]int, first+1)
	for s := 1; s <= first; s++ {
		most[s] = none
	}
	var choices [][]int16 // per board, per s: the a that was chosen
	for most[first] < second {
		choice := make([]int16, first+1)
		for s := range next {
			next[s] = none
			for a := 0; a < len(gain); a++ {
				if from := most[max(0, s-a)]; from != none && from+gain[a] > next[s] {
					next[s], choice[s] = from+gain[a], int16(a)
				}
			}
		}
		most, next, choices = next, most, append(choices, choice)
	}
	cuts := make([]cut, 0, len(choices))
	s, left := first, second
	for b := len(choices) - 1; b >= 0; b-- {
		a := int(choices[b][s])
		c := cut{pieces: []int{min(a, s)}}
		s = max(0, s-a)
		if len(p.weight) == 2 {
			n := min(gain[a], left)
			c.pieces = append(c.pieces, n)
			left -= n
		}
		cuts = append(cuts, c)
	}
	return cuts
}

// states is the number of states of the exact search, bounded.
func (p *boards) states() int64 {
	n := int64(1)
	for _, c := range p.count {
		if n *= int64(c + 1); n > math.MaxInt32 {
			return n
		}
	}
	for _, s := range p.stock {
		if n *= int64(s.Max + 1); n > math.MaxInt32 {
			return n
		}
	}
	return n
}

// value is what is minimised, in this order.
type value struct {
	cost   int64
	count  int
	length int64
}

func (a value) compare(b value) int {
	return cmp.Or(cmp.Compare(a.cost, b.cost), cmp.Compare(a.count, b.count), cmp.Compare(a.length, b.length))
}

// node is a solved state of the search. Best is the first cut of its best plan.
type node struct {
	value value
	ok    bool
	done  bool
	best  cut
	next  int
}

// search is the exact dynamic program: the next board must hold the longest piece left, and
// is filled until nothing left fits.
func (p *boards) search() ([]cut, bool) {
	left := slices.Clone(p.count)
	stockLeft := make([]int, len(p.stock))
	for i, s := range p.stock {
		stockLeft[i] = s.Max
	}
	nodes := make([]node, p.states())
	p.solve(nodes, left, stockLeft)
	at := p.index(left, stockLeft)
	if !nodes[at].ok {
		return nil, false
	}
	var cuts []cut
	for nodes[at].value.count > 0 {
		cuts = append(cuts, nodes[at].best)
		at = nodes[at].next
	}
	return cuts, true
}

func (p *boards) index(left, stockLeft []int) int {
	i := 0
	for k, n := range left {
		i = i*(p.count[k]+1) + n
	}
	for s, n := range stockLeft {
		i = i*(p.stock[s].Max+1) + n
	}
	return i
}

func (p *boards) solve(nodes []node, left, stockLeft []int) *node {
	here := &nodes[p.index(left, stockLeft)]
	if here.done {
		return here
	}
	here.done = true
	longest := slices.IndexFunc(left, func(n int) bool { return n > 0 })
	if longest < 0 {
		here.ok = true
		return here
	}
	for s := range p.stock {
		limited := p.stock[s].Max > 0
		if limited && stockLeft[s] == 0 {
			continue
		}
		if limited {
			stockLeft[s]--
		}
		pieces := make([]int, len(left))
		p.patterns(longest, longest, p.cap[s], left, pieces, func() {
			for k, n := range pieces {
				left[k] -= n
			}
			rest := p.solve(nodes, left, stockLeft)
			next := p.index(left, stockLeft)
			for k, n := range pieces {
				left[k] += n
			}
			v := value{rest.value.cost + p.price[s], rest.value.count + 1, rest.value.length + p.stock[s].Length.Tenths()}
			if rest.ok && (!here.ok || v.compare(here.value) < 0) {
				here.value, here.ok, here.next = v, true, next
				here.best = cut{s, slices.Clone(pieces)}
			}
		})
		if limited {
			stockLeft[s]++
		}
	}
	return here
}

// patterns calls do for every filling of room by the pieces left from length k on that
// holds at least one of the longest and to which nothing left can be added.
func (p *boards) patterns(longest, k int, room int64, left, pieces []int, do func()) {
	if k == len(left) {
		for j := longest; j < len(left); j++ {
			if left[j] > pieces[j] && p.weight[j] <= room {
				return
			}
		}
		do()
		return
	}
	least := 0
	if k == longest {
		least = 1
	}
	for n := min(left[k], int(room/p.weight[k])); n >= least; n-- {
		pieces[k] = n
		p.patterns(longest, k+1, room-int64(n)*p.weight[k], left, pieces, do)
	}
	pieces[k] = 0
}

// bestFit places the pieces one by one, the longest first, each where the least is left,
// opening boards of one chosen stock (each stock is tried); then every board is
// changed for the cheapest that still holds its pieces.
func (p *boards) bestFit() ([]cut, bool) {
	var best []cut
	var bestValue value
	for opening := range p.stock {
		cuts, ok := p.fill(opening)
		if !ok {
			continue
		}
		v := value{}
		for _, c := range cuts {
			v.cost += p.price[c.stock]
			v.count++
			v.length += p.stock[c.stock].Length.Tenths()
		}
		if best == nil || v.compare(bestValue) < 0 {
			best, bestValue = cuts, v
		}
	}
	return best, best != nil
}

func (p *boards) fill(opening int) ([]cut, bool) {
	used := make([]int, len(p.stock))
	free := func(s int) bool { return p.stock[s].Max == 0 || used[s] < p.stock[s].Max }
	var cuts []cut
	var room []int64
	for k, w := range p.weight {
		for range p.count[k] {
			at := -1
			for i, r := range room {
				if w <= r && (at < 0 || r < room[at]) {
					at = i
				}
			}
			if at < 0 {
				s := opening
				if w > p.cap[s] || !free(s) {
					s = -1
					for j := range p.stock {
						if w <= p.cap[j] && free(j) && (s < 0 || p.cap[j] < p.cap[s]) {
							s = j
						}
					}
					if s < 0 {
						return nil, false
					}
				}
				used[s]++
				cuts, room = append(cuts, cut{s, make([]int, len(p.weight))}), append(room, p.cap[s])
				at = len(cuts) - 1
			}
			cuts[at].pieces[k]++
			room[at] -= w
		}
	}
	for i := range cuts {
		filled := p.cap[cuts[i].stock] - room[i]
		for s := range p.stock {
			old := cuts[i].stock
			cheaper := cmp.Or(cmp.Compare(p.price[s], p.price[old]), cmp.Compare(p.cap[s], p.cap[old])) < 0
			if cheaper && p.cap[s] >= filled && free(s) {
				used[old]--
				used[s]++
				cuts[i].stock = s
			}
		}
	}
	return cuts, true
}

// plan groups equal boards and adds up. A Feasible plan that meets a bound is Optimal.
func (p *boards) plan(cuts []cut, status Status) BoardPlan {
	slices.SortStableFunc(cuts, func(a, b cut) int {
		return cmp.Or(cmp.Compare(a.stock, b.stock), slices.Compare(b.pieces, a.pieces))
	})
	plan := BoardPlan{Status: status, Count: len(cuts)}
	length := int64(0)
	for i, c := range cuts {
		plan.Cost = plan.Cost.Add(p.stock[c.stock].Price)
		length += p.stock[c.stock].Length.Tenths()
		if i > 0 && c.stock == cuts[i-1].stock && slices.Equal(c.pieces, cuts[i-1].pieces) {
			plan.Boards[len(plan.Boards)-1].Times++
			continue
		}
		b := Board{Stock: c.stock, Times: 1}
		filled := int64(0)
		for k, n := range c.pieces {
			if n > 0 {
				b.Cuts = append(b.Cuts, Bar{p.bars[k].Length, n})
				filled += int64(n) * p.weight[k]
			}
		}
		b.Offcut = units.FromTenths(max(0, p.cap[c.stock]-p.kerf-filled))
		plan.Boards = append(plan.Boards, b)
	}
	plan.Length = units.FromTenths(length)
	if status == Optimal {
		plan.LowerBound, plan.CountBound = plan.Cost, plan.Count
		return plan
	}
	plan.LowerBound, plan.CountBound = p.bounds()
	if len(p.stock) == 1 && plan.Count == plan.CountBound {
		plan.Status = Optimal
		plan.LowerBound = plan.Cost
	}
	return plan
}

// bounds returns what the plan must cost at least and how many boards it must have at
// least, from the material alone: the sum of l + k filled into boards in order of price
// per length, limited boards up to their number.
func (p *boards) bounds() (money.Amount, int) {
	total, longest := int64(0), slices.Max(p.cap)
	for k, w := range p.weight {
		total += w * int64(p.count[k])
	}
	order := make([]int, len(p.stock))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int {
		return cmp.Or(cmp.Compare(p.price[a]*p.cap[b], p.price[b]*p.cap[a]), cmp.Compare(a, b))
	})
	cost, rest := int64(0), total
	for _, s := range order {
		if rest <= 0 || p.cap[s] <= 0 {
			continue
		}
		if room := int64(p.stock[s].Max) * p.cap[s]; p.stock[s].Max > 0 && room < rest {
			cost += int64(p.stock[s].Max) * p.price[s]
			rest -= room
			continue
		}
		cost += ceilDiv(p.price[s]*rest, p.cap[s])
		rest = 0
	}
	return money.FromMicro(cost, p.stock[0].Price.Currency()), int(ceilDiv(total, longest))
}
