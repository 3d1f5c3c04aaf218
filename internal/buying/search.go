package buying

import (
	"cmp"
	"math"
	"slices"

	"sabinbook/internal/money"
)

// node is a set of plans: those that treat each supplier as its modes say.
type node struct {
	bound int64
	plain int64 // points of the relaxed plan
	order int   // of making; of equal bounds the latest goes first
	modes []mode
	next  int32 // the undecided supplier to branch on, -1 where the relaxed plan uses none
	leaf  bool  // undecided suppliers are closed and the plans are built need by need
	built bool  // the leaf of these open suppliers has been made
	sharp bool  // the Lagrangian bound has been worked out
	width int64 // of a leaf: how far above the bound plans are looked for
	terms *multipliers
	// probes are the bounds with one more supplier decided, by supplier and mode.
	probes []int64
	stale  bool // the supplier to branch on has been closed since
}

// search is a best-first branch and bound over the suppliers.
//
// The relaxed plan of a node takes the cheapest cover of each need at the suppliers that are
// not closed and pays the fixed costs of the open ones. When it uses open suppliers only
// and costs what the relaxation says, no other plan of the node is better.
// Source: costing_problem.md section 3.3.
type search struct {
	problem *Problem
	scale   scale
	sellers []seller
	served  []int32 // suppliers that serve some need
	needs   []int   // indices of the needs that can be met
	menus   []*menu // of each of them
	unmet   []Lack
	coarse  bool

	rates, filling rates
	coverer        coverer
	chosen         []choice
	loads          []load

	best      []choice
	points    int64 // of best
	heap      []*node
	made      int
	modes     []mode // arena
	shut      []bool // suppliers that no better plan uses
	root      *multipliers
	proven    int64 // points that no plan goes below
	nodes     int
	labels    int
	nodeLimit int
	labelMax  int
}

// exhausted reports whether the labels are used up, by themselves or by the steps of covers.
func (s *search) exhausted() bool { return s.labels+s.coverer.steps/stepsPerLabel >= s.labelMax }

func newSearch(p Problem) *search {
	s := &search{problem: &p, nodeLimit: p.NodeLimit, labelMax: p.LabelLimit}
	if s.nodeLimit <= 0 {
		s.nodeLimit = DefaultNodeLimit
	}
	if s.labelMax <= 0 {
		s.labelMax = DefaultLabelLimit
	}
	minor := money.FromMinor(1, p.Currency).Micro()
	unit := minor
	for i := range p.Suppliers {
		if !p.Suppliers[i].whole(minor) {
			unit = 1
		}
	}
	for i := range p.Needs {
		if p.Needs[i].menu == nil && !p.Needs[i].whole(minor) {
			unit = 1
		}
	}
	s.prepare(usual(unit, minor), unit == minor)
	if larger, other := s.fitting(); other {
		s.prepare(larger, false)
	}
	return s
}

// prepare works out suppliers and menus on a scale, with those that were prepared before
// where they fit.
func (s *search) prepare(c scale, reuse bool) {
	p := s.problem
	s.scale, s.unmet, s.coarse = c, nil, false
	s.sellers = make([]seller, len(p.Suppliers))
	for i := range p.Suppliers {
		s.sellers[i] = newSeller(&p.Suppliers[i], &c)
	}
	s.needs, s.menus, s.served = make([]int, 0, len(p.Needs)), make([]*menu, 0, len(p.Needs)), s.served[:0]
	for i := range p.Needs {
		m := p.Needs[i].menu
		if m == nil || !reuse || m.strict != p.NoPadding || len(p.Suppliers) == 0 || m.first != &p.Suppliers[0] {
			m = newMenu(&p.Needs[i], s.sellers, &c, p.NoPadding)
		}
		if len(m.ways) == 0 {
			if len(m.lacks) == 0 { // no way at all
				s.unmet = append(s.unmet, Lack{Need: i})
			}
			for _, l := range m.lacks {
				l.Need = i
				s.unmet = append(s.unmet, l)
			}
			continue
		}
		s.needs, s.menus = append(s.needs, i), append(s.menus, m)
		s.coarse = s.coarse || m.coarse
		for k, at := range m.slots {
			seller := &s.sellers[at]
			seller.total += m.worth[k]
			seller.ratio = max(seller.ratio, m.ratio[k])
			if !slices.Contains(s.served, at) {
				s.served = append(s.served, at)
			}
		}
	}
	for _, at := range s.served {
		if seller := &s.sellers[at]; seller.can[free] && seller.total < seller.freeFrom {
			seller.without()
		}
		if s.sellers[at].byMass && s.sellers[at].bySize {
			s.sellers[at].basis = s.bulky(at)
		}
	}
	s.rates, s.filling = newRates(len(s.sellers)), newRates(len(s.sellers))
	s.shut = make([]bool, len(s.sellers))
	s.loads, s.chosen, s.best = make([]load, len(s.sellers)), make([]choice, len(s.needs)), make([]choice, len(s.needs))
}

// bulky chooses the weight that bounds look at where the greater one is charged.
func (s *search) bulky(at int32) int8 {
	mass, size := int64(0), int64(0)
	for _, m := range s.menus {
		for _, w := range m.ways {
			for _, mi := range w.items {
				for _, st := range mi.stalls {
					if st.supplier == at && len(st.entries) > 0 {
						mass, size = mass+st.entries[0].fee[0], size+st.entries[0].fee[1]
					}
				}
			}
		}
	}
	if size > mass {
		return 1
	}
	return 0
}

// fitting reports whether another scale is needed because there are too many packs or too
// much money, and returns it. Where no scale holds it all, only cash is compared before
// the ids; that takes tens of millions of major units.
func (s *search) fitting() (scale, bool) {
	packs, cash := int64(1), int64(0)
	for _, m := range s.menus {
		packs, cash = packs+m.packs, cash+m.most
	}
	for _, at := range s.served {
		cash += max(s.sellers[at].fee, 0) + s.sellers[at].trip
		if s.sellers[at].perKg > 0 {
			cash += tooMuch >> 24
		}
	}
	c := s.scale
	if packs < c.supplier && len(s.served) < int(c.cash/c.supplier) && cash < math.MaxInt64/4/c.cash {
		return c, false
	}
	c.supplier = packs
	if packs > 1<<40 || cash > math.MaxInt64/4/packs/int64(len(s.served)+1) {
		c.cash, c.supplier, c.pack = 1, 0, 0
	} else {
		c.cash = packs * int64(len(s.served)+1)
	}
	return c, true
}

// enough is the number of nodes after which the Lagrangian bound is worth its time.
const enough = 40

func (s *search) run() {
	s.points = math.MaxInt64
	if len(s.needs) == 0 {
		s.points, s.proven = 0, 0
		return
	}
	root := &node{modes: s.newModes(nil)}
	if s.evaluate(root) {
		s.push(root)
	}
	for len(s.heap) > 0 {
		nd := s.heap[0]
		if nd.bound > s.points {
			break
		}
		if s.nodes >= s.nodeLimit || s.exhausted() {
			s.proven = min(s.points, nd.bound)
			return
		}
		s.pop()
		switch {
		case nd.leaf:
			if s.build(nd) {
				s.push(nd)
			}
		case s.nodes > enough && !nd.sharp:
			before := nd.bound
			s.sharpen(nd)
			if nd.bound > before {
				if nd.bound <= s.points {
					s.push(nd)
				}
				continue
			}
			s.branch(nd)
		default:
			s.branch(nd)
		}
	}
	s.proven = s.points
}

func (s *search) newModes(from []mode) []mode {
	n := len(s.sellers)
	if cap(s.modes)-len(s.modes) < n {
		s.modes = make([]mode, 0, 64*n)
	}
	at := len(s.modes)
	s.modes = s.modes[:at+n]
	m := s.modes[at : at+n : at+n]
	copy(m, from)
	return m
}

// relax finds the relaxed plan of some modes: its points are returned, its lines and loads
// kept. There is none where some need cannot be met.
func (s *search) relax(ms []mode) (int64, bool) {
	points := int64(0)
	for _, at := range s.served {
		m := ms[at]
		s.rates.closed[at] = m == closed
		s.rates.weighs[at] = s.sellers[at].weighs(m)
		points += s.sellers[at].fixed[m] // nothing for undecided and closed
		s.loads[at] = load{}
	}
	for n, m := range s.menus {
		if m.table != nil {
			mask := 0
			for k, at := range m.slots {
				if ms[at] != closed {
					mask |= 1 << k
				}
			}
			s.chosen[n] = *m.with(mask, s.sellers, &s.filling, &s.coverer)
		} else {
			s.chosen[n] = m.meet(s.sellers, &s.rates, &s.coverer, true)
		}
		c := &s.chosen[n]
		if c.way < 0 {
			return 0, false
		}
		points += c.points
		for i := range c.takes {
			t := &c.takes[i]
			s.loads[t.supplier] = s.loads[t.supplier].add(t.load)
		}
	}
	return points, true
}

// value is what a plan with the loads costs, in points.
func (s *search) value() int64 {
	points := int64(0)
	for _, at := range s.served {
		if l := &s.loads[at]; l.packs > 0 {
			fee, _, _ := s.sellers[at].order(*l)
			points += (l.gross+fee)*s.scale.cash + s.scale.supplier + l.packs*s.scale.pack
		}
	}
	return points
}

// evaluate works out the bound of a node and tries its relaxed plan. It reports whether
// the node may hold a better plan.
func (s *search) evaluate(nd *node) bool {
	s.nodes++
	points, ok := s.relax(nd.modes)
	if !ok {
		return false
	}
	nd.plain = points
	nd.bound = max(nd.bound, points)
	value := s.value()
	s.offer(value)
	if value <= points || nd.bound > s.points {
		return false
	}
	nd.next = s.heaviest(nd.modes)
	if !s.problem.NoPadding {
		s.pad(value)
	}
	return nd.bound <= s.points
}

// heaviest returns the undecided supplier that carries the most goods of the relaxed plan.
func (s *search) heaviest(ms []mode) int32 {
	next := int32(-1)
	for _, at := range s.served {
		if ms[at] != undecided || s.loads[at].packs == 0 {
			continue
		}
		if next < 0 || cmp.Or(cmp.Compare(s.loads[at].gross, s.loads[next].gross), cmp.Compare(s.sellers[next].id, s.sellers[at].id)) > 0 {
			next = at
		}
	}
	return next
}

// branch replaces a node by one for each mode of a supplier. Where the relaxed plan uses
// open suppliers only but does not keep their terms, its leaf is built, and the other
// plans of the node use one more supplier.
func (s *search) branch(nd *node) {
	if nd.stale {
		points, ok := s.relax(nd.modes)
		if !ok {
			return
		}
		nd.plain, nd.bound, nd.next = points, max(nd.bound, points), s.heaviest(nd.modes)
		value := s.value()
		s.offer(value)
		if value <= points || nd.bound > s.points {
			return
		}
	}
	if nd.next >= 0 {
		for m := closed; m < modes; m++ {
			if m == closed || s.sellers[nd.next].can[m] {
				s.child(nd, nd.next, m, nd.modes, nd.built && m == closed)
			}
		}
		return
	}
	ms := nd.modes
	if !nd.built {
		leaf := *nd
		leaf.leaf, leaf.modes = true, s.newModes(ms)
		for _, at := range s.served {
			if leaf.modes[at] == undecided {
				leaf.modes[at] = closed
			}
		}
		s.push(&leaf)
	}
	shut := s.newModes(ms)
	for _, at := range s.served {
		if ms[at] != undecided {
			continue
		}
		for m := collected; m < modes; m++ {
			if s.sellers[at].can[m] && nd.plain+s.sellers[at].fixed[m] <= s.points {
				s.child(nd, at, m, shut, false)
			}
		}
		shut[at] = closed
	}
}

// child makes the node in which a supplier is treated in a mode.
func (s *search) child(nd *node, at int32, m mode, ms []mode, built bool) {
	bound := nd.bound
	if nd.probes != nil {
		if bound = max(bound, nd.probes[int(at)*int(modes)+int(m)]); bound > s.points {
			return
		}
	}
	if s.nodes >= s.nodeLimit {
		c := &node{bound: bound, modes: s.newModes(ms), terms: nd.terms, built: built, next: -1}
		c.modes[at] = m
		s.push(c)
		return
	}
	c := &node{bound: bound, modes: s.newModes(ms), terms: nd.terms, built: built}
	c.modes[at] = m
	if s.evaluate(c) {
		s.push(c)
	}
}
