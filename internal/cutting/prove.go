package cutting

import (
	"cmp"
	"math"
	"slices"
)

// DefaultBoardNodes is the number of nodes after which the exact search for a plan of many
// lengths gives up. Convention: some tenths of a second.
const DefaultBoardNodes = 200_000

// prover searches for the best plan of boards beyond what the dynamic program holds.
//
// Worths are the dual values of the relaxation in which boards may be cut by fractions of
// patterns (Gilmore and Gomory 1961, from memory): what a piece is worth so that no board of
// which there are enough holds more than it costs. The pieces left cost at least what they are
// worth, less what limited boards can hold beyond their cost. Plans are looked for
// within a limit of cost that rises from that bound; the first one found is the cheapest.
// Every next board holds the longest piece left.
type prover struct {
	*boards
	worth   []int64   // of a piece of each length, micro-units
	premium []int64   // by how much the pieces of a limited board can be worth more than it costs
	density []float64 // the largest worth by l + k of this and the later lengths
	grain   int64     // all prices are multiples of it
	widest  int64     // the largest capacity
	seen    map[uint64]value
	limit   int64 // cost that is looked for at most
	best    value
	plan    []cut // of best
	made    []cut
	nodes   int
	most    int
}

// prove returns the best plan, or the plan given with the best bound that was proven for cost.
func (p *boards) prove(known []cut, nodes int) (cuts []cut, bound int64, optimal bool) {
	if nodes <= 0 {
		nodes = DefaultBoardNodes
	}
	s := &prover{boards: p, best: p.valueOf(known), plan: known, most: nodes}
	s.worth, s.premium = p.worths()
	s.density = make([]float64, len(s.worth)+1)
	for k := len(s.worth) - 1; k >= 0; k-- {
		s.density[k] = max(s.density[k+1], float64(s.worth[k])/float64(p.weight[k]))
	}
	for i, c := range p.cap {
		s.widest, s.grain = max(s.widest, c), gcd(s.grain, p.price[i])
	}
	stockLeft := make([]int, len(p.stock))
	for i, st := range p.stock {
		stockLeft[i] = st.Max
	}
	bound = s.roundUp(max(0, s.least(p.count, stockLeft)))
	if !p.indexable() || s.grain == 0 {
		return known, bound, false
	}
	for width := int64(0); ; width = 2*width + s.grain {
		s.limit, s.seen = min(bound+width, s.best.cost), map[uint64]value{}
		complete := s.search(slices.Clone(p.count), stockLeft, value{})
		switch {
		case !complete:
			return s.plan, bound, false
		case s.best.cost <= s.limit:
			return s.plan, s.best.cost, true
		}
		bound = s.limit + s.grain // nothing costs as much as the limit or less
	}
}

func gcd(a, b int64) int64 {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

func (s *prover) roundUp(cost int64) int64 {
	if s.grain == 0 {
		return cost
	}
	return ceilDiv(cost, s.grain) * s.grain
}

// least is what the pieces left cost at least; below 0 where limited boards could hold more than
// is left.
func (s *prover) least(left, stockLeft []int) int64 {
	sum := int64(0)
	for k, n := range left {
		sum += int64(n) * s.worth[k]
	}
	for b, n := range stockLeft {
		if s.stock[b].Max > 0 {
			sum -= int64(n) * s.premium[b]
		}
	}
	return sum
}

func (p *boards) valueOf(cuts []cut) value {
	v := value{}
	for _, c := range cuts {
		v.cost, v.count, v.length = v.cost+p.price[c.stock], v.count+1, v.length+p.stock[c.stock].Length.Tenths()
	}
	return v
}

// indexable reports whether every state has a number of its own.
func (p *boards) indexable() bool {
	n := 1.0
	for _, c := range p.count {
		n *= float64(c + 1)
	}
	for _, s := range p.stock {
		n *= float64(s.Max + 1)
	}
	return n < math.MaxInt64
}

// search looks at the plans for the pieces left after boards of a value. It is false when the
// nodes are used up.
func (s *prover) search(left, stockLeft []int, so value) bool {
	if s.nodes++; s.nodes > s.most {
		return false
	}
	longest := slices.IndexFunc(left, func(n int) bool { return n > 0 })
	if longest < 0 {
		if so.compare(s.best) < 0 {
			s.best, s.plan = so, slices.Clone(s.made)
		}
		return true
	}
	weight := int64(0)
	for k, n := range left {
		weight += int64(n) * s.weight[k]
	}
	count := int(ceilDiv(weight, s.widest))
	least := s.least(left, stockLeft)
	rest := value{so.cost + s.roundUp(max(0, least)), so.count + count, so.length + weight - int64(count)*s.kerf}
	if rest.cost > s.limit || rest.compare(s.best) >= 0 {
		return true
	}
	key := uint64(s.index(left, stockLeft))
	if old, ok := s.seen[key]; ok && old.compare(so) <= 0 {
		return true
	}
	s.seen[key] = so
	// A board takes its pieces and its premium out of least, even where that is below 0.
	for _, c := range s.boardsFor(left, stockLeft, longest, s.limit-so.cost-least) {
		for k, n := range c.pieces {
			left[k] -= n
		}
		limited := s.stock[c.stock].Max > 0
		if limited { // of the others there is no number, nor a state
			stockLeft[c.stock]--
		}
		s.made = append(s.made, c.cut)
		complete := s.search(left, stockLeft, value{so.cost + s.price[c.stock], so.count + 1, so.length + s.stock[c.stock].Length.Tenths()})
		s.made = s.made[:len(s.made)-1]
		if limited {
			stockLeft[c.stock]++
		}
		for k, n := range c.pieces {
			left[k] += n
		}
		if !complete {
			return false
		}
	}
	return true
}

// candidate is a board with what it costs beyond the worth of its pieces.
type candidate struct {
	cut
	over int64
}

// boardsFor lists the fillings of boards that hold the longest piece left, to which nothing left
// can be added, and that cost no more than slack beyond their worth; the least beyond first.
func (s *prover) boardsFor(left, stockLeft []int, longest int, slack int64) []candidate {
	var list []candidate
	pieces := make([]int, len(left))
	for st := range s.stock {
		if s.stock[st].Max > 0 && stockLeft[st] == 0 {
			continue
		}
		var fill func(k int, room, over int64)
		fill = func(k int, room, over int64) {
			if over-int64(s.density[k]*float64(room)*(1+1e-12)) > slack {
				return
			}
			if k == len(left) {
				for j := longest; j < len(left); j++ {
					if left[j] > pieces[j] && s.weight[j] <= room {
						return
					}
				}
				list = append(list, candidate{cut{st, slices.Clone(pieces)}, over})
				return
			}
			least := 0
			if k == longest {
				least = 1
			}
			for n := min(left[k], int(room/s.weight[k])); n >= least; n-- {
				pieces[k] = n
				fill(k+1, room-int64(n)*s.weight[k], over-int64(n)*s.worth[k])
			}
			pieces[k] = 0
		}
		fill(longest, s.cap[st], s.price[st]+s.premium[st])
	}
	slices.SortStableFunc(list, func(a, b candidate) int { return cmp.Compare(a.over, b.over) })
	return list
}

// worths returns values of the pieces, none of which is more than a board of which there are
// enough and that could hold them costs, and the premium of each limited board.
func (p *boards) worths() (worth, premium []int64) {
	worth, premium = make([]int64, len(p.weight)), make([]int64, len(p.stock))
	of := func(k int) int64 { return worth[k] }
	for k, u := range p.duals() {
		worth[k] = int64(math.Floor(max(0, u)))
	}
	// What floating point got wrong is put right in integers.
	worst := 1.0
	for b, st := range p.stock {
		if st.Max > 0 {
			continue
		}
		if _, most := p.dearest(p.cap[b], of); most > p.price[b] {
			worst = max(worst, float64(most)/float64(max(1, p.price[b])))
		}
	}
	if worst > 1 {
		for k := range worth {
			worth[k] = int64(math.Floor(float64(worth[k]) / (worst * (1 + 1e-12))))
		}
	}
	for b, st := range p.stock {
		if st.Max > 0 {
			_, most := p.dearest(p.cap[b], of)
			premium[b] = max(0, most-p.price[b])
		}
	}
	return worth, premium
}

// dearest is the filling of a board of a capacity whose pieces are worth most: depth first over
// lengths by worth per length.
func (p *boards) dearest(room int64, worth func(k int) int64) ([]int, int64) {
	order := make([]int, 0, len(p.weight))
	for k := range p.weight {
		if worth(k) > 0 {
			order = append(order, k)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Compare(float64(worth(b))/float64(p.weight[b]), float64(worth(a))/float64(p.weight[a]))
	})
	var best []int
	most, pieces := int64(-1), make([]int, len(p.weight))
	var fill func(i int, room, sum int64)
	fill = func(i int, room, sum int64) {
		if sum > most {
			most, best = sum, slices.Clone(pieces)
		}
		if i == len(order) || float64(sum)+float64(room)*float64(worth(order[i]))/float64(p.weight[order[i]]) <= float64(most)-0.5 {
			return
		}
		k := order[i]
		for n := min(int64(p.count[k]), room/p.weight[k]); n >= 0; n-- {
			pieces[k] = int(n)
			fill(i+1, room-n*p.weight[k], sum+n*worth(k))
		}
		pieces[k] = 0
	}
	fill(0, room, 0)
	return best, most
}

// duals solves the relaxation by column generation: a simplex over patterns whose basis has one
// for each length, with the dearest filling of each board as the next candidate. Limited boards
// are left out. It returns the dual values, in micro-units, as close as floating point has them.
func (p *boards) duals() []float64 {
	n := len(p.weight)
	inverse, x, costs, u := make([][]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	for k := range inverse { // begin with boards of one length each, on the board that is best for it
		inverse[k] = make([]float64, n)
		rate := math.Inf(1)
		for b, st := range p.stock {
			if st.Max > 0 {
				continue
			}
			if held := min(int64(p.count[k]), p.cap[b]/p.weight[k]); held > 0 {
				if r := float64(p.price[b]) / float64(held); r < rate {
					rate, costs[k], inverse[k][k] = r, float64(p.price[b]), 1/float64(held)
				}
			}
		}
		if inverse[k][k] == 0 { // only limited boards hold it: nothing is proven
			return u
		}
		x[k] = float64(p.count[k]) * inverse[k][k]
	}
	for range 50 * n {
		for k := range u {
			u[k] = 0
			for r := range n {
				u[k] += costs[r] * inverse[r][k]
			}
		}
		enters, price, gain := []int(nil), 0.0, 1.0 // a micro-unit: less is rounding
		for b, st := range p.stock {
			if st.Max > 0 {
				continue
			}
			pieces, _ := p.dearest(p.cap[b], func(k int) int64 { return int64(max(0, u[k])) })
			sum := -float64(p.price[b])
			for k, held := range pieces {
				sum += float64(held) * u[k]
			}
			if sum > gain {
				enters, price, gain = pieces, float64(p.price[b]), sum
			}
		}
		if enters == nil {
			break
		}
		column := make([]float64, n)
		leaves, ratio := -1, math.Inf(1)
		for r := range column {
			for k, held := range enters {
				column[r] += inverse[r][k] * float64(held)
			}
			if column[r] > 1e-9 && x[r]/column[r] < ratio {
				leaves, ratio = r, x[r]/column[r]
			}
		}
		if leaves < 0 {
			break
		}
		pivot := column[leaves]
		for k := range inverse[leaves] {
			inverse[leaves][k] /= pivot
		}
		for r := range inverse {
			if r != leaves {
				x[r] -= column[r] * ratio
				for k := range inverse[r] {
					inverse[r][k] -= column[r] * inverse[leaves][k]
				}
			}
		}
		x[leaves], costs[leaves] = ratio, price
	}
	return u
}
