package buying

import (
	"cmp"
	"math"
	"slices"
)

// seller is a supplier in micro-units.
type seller struct {
	supplier           int  // index in the problem
	closed             bool // neither delivers nor lets collect
	varies             bool // its fee depends on what is ordered
	delivers, collects bool
	fee, trip, perKg   int64
	freeFrom           int64 // math.MaxInt64 for never
	leastFee           int64 // that an order can cost, whatever is in it
	delivery           Delivery
}

func newSeller(index int, sup Supplier) seller {
	s := seller{supplier: index, freeFrom: math.MaxInt64}
	if sup.Trip != nil && sup.Trip.Micro() < outOfReach {
		s.collects, s.trip = true, sup.Trip.Micro()
	}
	if d := sup.Delivery; d != nil && d.Fee.Micro() < outOfReach {
		s.delivers, s.delivery = true, *d
		s.fee, s.perKg = d.Fee.Micro(), d.PerKg.Micro()
		if d.FreeFrom != nil {
			s.freeFrom = d.FreeFrom.Micro()
		}
		s.varies = s.perKg > 0 || s.fee > 0 && d.FreeFrom != nil
	}
	s.closed = !s.delivers && !s.collects
	s.leastFee = s.cheaper(s.fee)
	return s
}

// cheaper is the fee of an order whose delivery would cost so much.
func (s *seller) cheaper(delivery int64) int64 {
	switch {
	case !s.delivers:
		return s.trip
	case s.collects:
		return min(s.trip, delivery)
	}
	return delivery
}

// load is what an order holds; the zero load is no order.
type load struct {
	lines         int
	goods         int64 // as it counts
	worth         int64 // with tax, as the supplier counts it
	grams, volume int64
}

func (l load) add(c candidate) load {
	return load{l.lines + 1, l.goods + c.cost, l.worth + c.worth, l.grams + c.grams, l.volume + c.volume}
}

// deliveryCost returns what delivering an order costs.
func (s *seller) deliveryCost(l load) (cost, charged int64) {
	cost, charged = s.fee, s.delivery.Charged(l.grams, l.volume)
	weight := s.byWeight(charged)
	if l.worth >= s.freeFrom {
		cost = 0
		if s.delivery.FreeCoversWeight {
			weight = 0
		}
	}
	return cost + weight, charged
}

// byWeight is the fee for so many kilograms.
func (s *seller) byWeight(kg int64) int64 {
	if kg > 0 && s.perKg > outOfReach/kg {
		return outOfReach
	}
	return s.perKg * kg
}

// order returns the cheaper mode of an order; on equal cost delivery.
func (s *seller) order(l load) (fee, charged int64, mode Mode) {
	if s.delivers {
		if cost, charged := s.deliveryCost(l); !s.collects || cost <= s.trip {
			return cost, charged, Deliver
		}
	}
	return s.trip, 0, Collect
}

// atLeast returns what an order costs at least that holds l and may still grow by goods
// worth more.
func (s *seller) atLeast(l load, more int64) int64 {
	if !s.varies {
		return s.leastFee
	}
	fee, weight := s.fee, s.byWeight(s.delivery.Charged(l.grams, l.volume))
	if s.freeFrom-l.worth <= more {
		fee = 0
		if s.delivery.FreeCoversWeight {
			weight = 0
		}
	}
	return s.cheaper(fee + weight)
}

// key is what plans are ordered by, before the ids.
type key struct {
	cash      int64
	suppliers int
	packs     int
}

func (a key) compare(b key) int {
	return cmp.Or(cmp.Compare(a.cash, b.cash), cmp.Compare(a.suppliers, b.suppliers), cmp.Compare(a.packs, b.packs))
}

// decision is what a node says about a supplier.
type decision int8

const (
	undecided decision = iota
	open               // its least fee counts
	shut               // nothing is bought there
)

// search is a branch and bound over the suppliers. The relaxed plan of a node takes the
// best candidate of each need at the suppliers that are not shut and pays the least fee
// of the open ones. When it uses open suppliers only, no other plan of the node is
// better, unless the fee of an open one varies: then the node's plans are searched need
// by need.
type search struct {
	problem Problem
	at      []seller      // that some candidate uses
	local   []int         // 1 + index in at of each supplier of the problem, 0 for none yet
	needs   []int         // indices of the needs that can be met, in the order of the search
	options [][]candidate // of each of them, best first
	unmet   []int

	decided []decision
	chosen  []int // candidate per need
	best    []int
	bestKey key

	nodes, limit int
	leftBound    int64 // least bound of what the limit left unsearched

	loads []load
	rest  []int64   // least cost of the needs from here on
	reach [][]int64 // per need and supplier: worth that the needs from here on can add
}

func newSearch(p Problem) *search {
	s := &search{problem: p, limit: p.NodeLimit, leftBound: math.MaxInt64}
	if s.limit <= 0 {
		s.limit = DefaultNodeLimit
	}
	s.local = make([]int, len(p.Suppliers))
	lists := make([][]candidate, len(p.Needs))
	for i, n := range p.Needs {
		if len(n.Ways) > 0 && n.Ways[0].Quantity == 0 {
			continue
		}
		if lists[i] = s.candidates(n); len(lists[i]) == 0 {
			s.unmet = append(s.unmet, i)
			continue
		}
		s.needs = append(s.needs, i)
	}
	// Needs with the fewest choices and the most money first: the bounds bite early.
	slices.SortFunc(s.needs, func(a, b int) int {
		return cmp.Or(cmp.Compare(len(lists[a]), len(lists[b])), cmp.Compare(lists[b][0].cost, lists[a][0].cost),
			cmp.Compare(lists[a][0].id, lists[b][0].id), cmp.Compare(a, b))
	})
	s.options = make([][]candidate, len(s.needs))
	for n, i := range s.needs {
		s.options[n] = lists[i]
	}
	s.chosen, s.best = make([]int, len(s.needs)), make([]int, len(s.needs))
	s.rest = make([]int64, len(s.needs)+1)
	s.decided, s.loads = make([]decision, len(s.at)), make([]load, len(s.at))
	s.reachable()
	return s
}

// seller returns the index in at of a supplier of the problem.
func (s *search) seller(supplier int) int {
	if s.local[supplier] == 0 {
		s.at = append(s.at, newSeller(supplier, s.problem.Suppliers[supplier]))
		s.local[supplier] = len(s.at)
	}
	return s.local[supplier] - 1
}

// reachable notes how much worth of goods each supplier can still get from the needs on, and lets a
// threshold that is in reach lower the least fee; out of reach it is dropped.
func (s *search) reachable() {
	width := len(s.at)
	table := make([]int64, (len(s.needs)+1)*width)
	s.reach = make([][]int64, len(s.needs)+1)
	for n := len(s.needs); n >= 0; n-- {
		s.reach[n] = table[n*width : (n+1)*width]
		if n == len(s.needs) {
			continue
		}
		for _, c := range s.options[n] {
			s.reach[n][c.supplier] = max(s.reach[n][c.supplier], c.worth)
		}
		for i := range s.at {
			s.reach[n][i] += s.reach[n+1][i]
		}
	}
	for i := range s.at {
		seller := &s.at[i]
		if seller.freeFrom == math.MaxInt64 {
			continue
		}
		if s.reach[0][i] >= seller.freeFrom {
			seller.leastFee = 0
		} else {
			seller.freeFrom = math.MaxInt64
			seller.varies = seller.perKg > 0
		}
	}
}

func (s *search) run() {
	if len(s.needs) == 0 {
		return
	}
	s.bestKey = key{cash: math.MaxInt64}
	s.branch()
}

// offer compares the chosen plan with the best one and keeps the better.
func (s *search) offer() {
	clear(s.loads)
	var k key
	for n, c := range s.chosen {
		o := s.options[n][c]
		if s.loads[o.supplier].lines == 0 {
			k.suppliers++
		}
		s.loads[o.supplier] = s.loads[o.supplier].add(o)
		k.packs += o.packs
	}
	for i, l := range s.loads {
		if l.lines > 0 {
			fee, _, _ := s.at[i].order(l)
			k.cash += l.goods + fee
		}
	}
	s.keep(k)
}

func (s *search) keep(k key) {
	if c := k.compare(s.bestKey); c < 0 || c == 0 && s.idsBefore() {
		s.bestKey = k
		copy(s.best, s.chosen)
	}
}

// idsBefore reports whether the chosen plan comes before the best one by ids: of the first
// offer in which they differ it has more packs. An offer stands in one need only, so
// that offer is the least id that one plan has and the other has not.
func (s *search) idsBefore() bool {
	first, ours := "", false
	for n := range s.chosen {
		if s.chosen[n] == s.best[n] {
			continue
		}
		a, b := s.options[n][s.chosen[n]], s.options[n][s.best[n]]
		if first == "" || a.id < first {
			first, ours = a.id, true
		}
		if b.id < first {
			first, ours = b.id, false
		}
	}
	return ours
}

// enter counts a node and reports whether the search may go into it.
func (s *search) enter(bound int64) bool {
	if bound > s.bestKey.cash {
		return false
	}
	if s.nodes >= s.limit {
		s.leftBound = min(s.leftBound, bound)
		return false
	}
	s.nodes++
	return true
}

// branch searches the plans that buy at no shut supplier and at every open one.
func (s *search) branch() {
	bound := int64(0)
	varies := false
	for i, d := range s.decided {
		if d == open {
			bound += s.at[i].leastFee
			varies = varies || s.at[i].varies
		}
	}
	for n, list := range s.options {
		c := slices.IndexFunc(list, func(c candidate) bool { return s.decided[c.supplier] != shut })
		if c < 0 {
			return
		}
		s.chosen[n] = c
		bound += list[c].cost
	}
	if !s.enter(bound) {
		return
	}
	s.offer()
	if next, found := s.heaviest(); found {
		s.decided[next] = open
		s.branch()
		s.decided[next] = shut
		s.branch()
		s.decided[next] = undecided
		return
	}
	if varies {
		s.byNeeds()
	}
}

// heaviest returns the undecided supplier that carries the most goods of the chosen plan,
// whose loads offer has just filled.
func (s *search) heaviest() (int, bool) {
	at := -1
	for i, l := range s.loads {
		if l.lines > 0 && s.decided[i] == undecided && (at < 0 || l.goods > s.loads[at].goods ||
			l.goods == s.loads[at].goods && s.id(i) < s.id(at)) {
			at = i
		}
	}
	return at, at >= 0
}

func (s *search) id(seller int) string { return s.problem.Suppliers[s.at[seller].supplier].ID }

// byNeeds searches all plans that buy at no shut supplier.
func (s *search) byNeeds() {
	for n := len(s.needs) - 1; n >= 0; n-- {
		s.rest[n] = s.rest[n+1] + s.options[n][s.chosen[n]].cost
	}
	clear(s.loads)
	s.need(0, key{})
}

// need chooses for the needs from n on; so far holds the goods, suppliers and packs of
// those before it, without fees.
func (s *search) need(n int, soFar key) {
	bound := soFar.cash + s.rest[n]
	for i := range s.at {
		if s.loads[i].lines > 0 || s.decided[i] == open {
			bound += s.at[i].atLeast(s.loads[i], s.reach[n][i])
		}
	}
	if bound == s.bestKey.cash && soFar.suppliers > s.bestKey.suppliers || !s.enter(bound) {
		return
	}
	if n == len(s.needs) {
		total := soFar
		for i, l := range s.loads {
			if l.lines > 0 {
				fee, _, _ := s.at[i].order(l)
				total.cash += fee
			}
		}
		s.keep(total)
		return
	}
	for c, o := range s.options[n] {
		at := o.supplier
		if s.decided[at] == shut {
			continue
		}
		next := key{soFar.cash + o.cost, soFar.suppliers, soFar.packs + o.packs}
		before := s.loads[at]
		if before.lines == 0 {
			next.suppliers++
		}
		s.loads[at], s.chosen[n] = before.add(o), c
		s.need(n+1, next)
		s.loads[at] = before
	}
}
