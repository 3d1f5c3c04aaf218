package buying

import (
	"math"
	"slices"
)

// multipliers of the Lagrangian relaxation, in points: the part of a supplier's fee that is
// charged to each need that it serves, and the weight of each open threshold.
type multipliers struct {
	charges []float64 // need by need, slot by slot
	weights []float64 // per supplier
}

// coverLabels is how many labels the cheapest cover of a need counts for, about what it takes
// beside making a label.
const coverLabels = 5

// lagrange holds what the relaxation needs at a node.
//
//	L(λ, w) = Σ_needs M(factor, charge λ) + fixed costs of open suppliers + Σ w
//	factor  = 1 - ratio Σ λ / T   undecided with a threshold T
//	factor  = 1 - ratio w / T     delivered free
//	0 ≤ λ,  Σ λ ≤ least fee of the supplier;  0 ≤ w ≤ T / ratio;  ratio = worth by goods
//
// L is a lower bound for any λ and w: an undecided supplier that is used pays its least fee,
// or with a threshold at least the share of it by which the goods fall short.
// Source: costing_problem.md section 3.2 (Fisher 1981, from memory).
type lagrange struct {
	s       *search
	modes   []mode
	at      []int // first slot of each need
	terms   multipliers
	charges []int64
	used    []bool
	goods   []float64
	sums    []int64   // of charges, per supplier
	taken   []float64 // points of goods, per supplier
	rates   rates
	points  []int64 // of each need
	total   int64
}

// sharpen raises the bound of a node by subgradient steps from the multipliers of the node
// above, and takes the supplier to branch on from the best relaxed plan.
func (s *search) sharpen(nd *node) {
	nd.sharp = true
	for _, at := range s.served {
		if s.shut[at] && nd.modes[at] == undecided {
			nd.modes[at] = closed
		}
	}
	steps := 25
	if len(s.served) <= 8 {
		steps = 6
	}
	if s.root == nil {
		s.root = s.start()
		s.descend()
		root := &node{modes: s.newModes(nil), next: -1, terms: s.root}
		long := 150
		if len(s.served) <= 8 {
			long = 40
		}
		s.climb(root, long, true)
		s.root = root.terms
		s.descend()
		s.probe(root)
		for _, at := range s.served {
			s.shut[at] = root.modes[at] == closed
		}
	}
	if nd.terms == nil {
		nd.terms = s.root
	}
	s.climb(nd, steps, false)
	if nd.bound <= s.points {
		s.probe(nd)
	}
}

// probe works out what the bound of a node becomes when one undecided supplier is given a
// mode and the multipliers stay, and closes suppliers that no better plan can use.
func (s *search) probe(nd *node) {
	g := s.newLagrange(nd)
	if _, ok := g.bound(); !ok {
		return
	}
	nd.probes = make([]int64, len(s.sellers)*int(modes))
	for _, at := range s.served {
		if nd.modes[at] != undecided {
			continue
		}
		used := false
		for m := closed; m < modes; m++ {
			if m == closed || s.sellers[at].can[m] {
				b := g.with(at, m)
				nd.probes[int(at)*int(modes)+int(m)] = b
				used = used || m != closed && b <= s.points
			}
		}
		if !used {
			nd.modes[at] = closed
		}
	}
	if nd.next >= 0 && nd.modes[nd.next] == closed {
		nd.stale = true
	}
}

// with is the bound where a supplier has a mode.
func (g *lagrange) with(at int32, mode mode) int64 {
	s := g.s
	weighs, factor := g.rates.weighs[at], g.rates.factor[at]
	g.rates.closed[at], g.rates.weighs[at], g.rates.factor[at] = mode == closed, s.sellers[at].weighs(mode), one
	sum := g.total + s.sellers[at].fixed[mode]
	for n, m := range s.menus {
		k := slices.Index(m.slots, at)
		if k < 0 {
			continue
		}
		s.labels += coverLabels
		charge := g.charges[g.at[n]+k]
		g.charges[g.at[n]+k] = 0
		points, ok := m.bound(s.sellers, &g.rates, g.charges[g.at[n]:g.at[n]+len(m.slots)], &s.coverer, nil, nil)
		g.charges[g.at[n]+k] = charge
		if !ok {
			sum = math.MaxInt64 / 2
			break
		}
		sum += points - g.points[n]
	}
	g.rates.closed[at], g.rates.weighs[at], g.rates.factor[at] = false, weighs, factor
	return sum
}

// start shares the fee of each supplier out equally among the needs that it serves.
func (s *search) start() *multipliers {
	serves := make([]float64, len(s.sellers))
	slots := 0
	for _, m := range s.menus {
		slots += len(m.slots)
		for _, at := range m.slots {
			serves[at]++
		}
	}
	t := &multipliers{make([]float64, 0, slots), make([]float64, len(s.sellers))}
	for _, m := range s.menus {
		for _, at := range m.slots {
			t.charges = append(t.charges, float64(s.sellers[at].least)/serves[at])
		}
	}
	return t
}

func (s *search) newLagrange(nd *node) *lagrange {
	g := &lagrange{s: s, modes: nd.modes, at: make([]int, len(s.menus)), rates: newRates(len(s.sellers)),
		terms:   multipliers{slices.Clone(nd.terms.charges), slices.Clone(nd.terms.weights)},
		charges: make([]int64, len(nd.terms.charges)), used: make([]bool, len(nd.terms.charges)), goods: make([]float64, len(nd.terms.charges)),
		points: make([]int64, len(s.menus)), sums: make([]int64, len(s.sellers)), taken: make([]float64, len(s.sellers))}
	slots := 0
	for n, m := range s.menus {
		g.at[n] = slots
		slots += len(m.slots)
	}
	for _, at := range s.served {
		g.rates.closed[at] = nd.modes[at] == closed
		g.rates.weighs[at] = s.sellers[at].weighs(nd.modes[at])
	}
	return g
}

// threshold is that of a supplier in points of goods as they count; the weight of no
// threshold may exceed it.
func (g *lagrange) threshold(at int32) float64 {
	seller := &g.s.sellers[at]
	return float64(seller.freeFrom) * float64(g.s.scale.cash) / seller.ratio
}

// climb takes subgradient steps. At the root the sets of suppliers that the relaxed plans
// use are tried as plans.
func (s *search) climb(nd *node, steps int, root bool) {
	g := s.newLagrange(nd)
	best := int64(math.MinInt64)
	kept := multipliers{slices.Clone(g.terms.charges), slices.Clone(g.terms.weights)}
	pace, idle := 1.2, 0
	for range steps {
		bound, ok := g.bound()
		if !ok {
			nd.bound = math.MaxInt64
			return
		}
		if bound > best {
			best, idle = bound, 0
			copy(kept.charges, g.terms.charges)
			copy(kept.weights, g.terms.weights)
			g.branchOn(nd)
			if root {
				s.try(g.set())
				if !s.problem.NoPadding {
					s.attempt(g.narrowed())
				}
			}
		} else if idle++; idle >= 5 {
			pace, idle = pace/2, 0
		}
		if best > s.points || s.exhausted() || !g.step(pace*float64(s.points-bound)) {
			break
		}
	}
	nd.terms = &kept
	nd.bound = max(nd.bound, best)
	if !root && !s.problem.NoPadding && nd.bound <= s.points && slices.Contains(nd.modes, free) {
		s.attempt(g.narrowed())
	}
}

// bound works out L and what its plan takes.
func (g *lagrange) bound() (int64, bool) {
	s := g.s
	s.labels += coverLabels * len(s.menus)
	clear(g.sums)
	clear(g.taken)
	sum := int64(0)
	for n, m := range s.menus {
		for k, at := range m.slots {
			i := g.at[n] + k
			g.charges[i] = 0
			if g.modes[at] == undecided {
				g.charges[i] = min(int64(g.terms.charges[i]), s.sellers[at].least-g.sums[at])
				g.sums[at] += g.charges[i]
			}
		}
	}
	for _, at := range s.served {
		seller := &s.sellers[at]
		m := g.modes[at]
		sum += seller.fixed[m]
		discount := 0.0
		switch {
		case m == undecided && seller.can[free] && g.sums[at] > 0:
			discount = float64(g.sums[at]) / g.threshold(at)
		case m == free:
			w := int64(g.terms.weights[at])
			sum += w
			discount = float64(w) / g.threshold(at)
		}
		// Rounded down, so that the bound stays one; nothing is paid back.
		g.rates.factor[at] = max(0, int64(float64((1-discount)*one)*safe)-1)
		if discount == 0 {
			g.rates.factor[at] = one
		}
	}
	for n, m := range s.menus {
		from, to := g.at[n], g.at[n]+len(m.slots)
		points, ok := m.bound(s.sellers, &g.rates, g.charges[from:to], &s.coverer, g.used[from:to], g.goods[from:to])
		if !ok {
			return 0, false
		}
		sum += points
		g.points[n] = points
		for k, at := range m.slots {
			g.taken[at] += g.goods[from+k]
		}
	}
	g.total = sum
	return sum, true
}

// step moves the multipliers along the subgradient, by Polyak's rule with the distance to
// the best plan, and back into their ranges. It reports whether there was anywhere to go.
func (g *lagrange) step(distance float64) bool {
	s := g.s
	norm := 0.0
	slope := func(n, k int, at int32) float64 {
		d := 0.0
		if g.used[g.at[n]+k] {
			d = 1
		}
		if s.sellers[at].can[free] {
			d -= g.taken[at] / g.threshold(at)
		}
		if d < 0 && g.terms.charges[g.at[n]+k] == 0 {
			return 0
		}
		return d
	}
	for n, m := range s.menus {
		for k, at := range m.slots {
			if g.modes[at] == undecided {
				d := slope(n, k, at)
				norm += float64(d * d)
			}
		}
	}
	for _, at := range s.served {
		if g.modes[at] == free {
			d := 1 - g.taken[at]/g.threshold(at)
			norm += float64(d * d)
		}
	}
	if norm < 1e-9 {
		return false
	}
	size := distance / norm
	sums := make([]float64, len(s.sellers))
	counts := make([]int, len(s.sellers))
	for n, m := range s.menus {
		for k, at := range m.slots {
			if i := g.at[n] + k; g.modes[at] == undecided {
				g.terms.charges[i] = max(0, g.terms.charges[i]+float64(size*slope(n, k, at)))
				sums[at] += g.terms.charges[i]
				if g.terms.charges[i] > 0 {
					counts[at]++
				}
			}
		}
	}
	for _, at := range s.served {
		switch g.modes[at] {
		case free:
			d := 1 - g.taken[at]/g.threshold(at)
			g.terms.weights[at] = max(0, min(g.threshold(at), g.terms.weights[at]+float64(size*d)))
		case undecided:
			limit := float64(s.sellers[at].least)
			if s.sellers[at].can[free] {
				limit = min(limit, g.threshold(at))
			}
			g.project(at, limit, sums[at], counts[at])
		}
	}
	return true
}

// project lowers the charges of a supplier by the same amount until they add up to the
// limit; none goes below nothing.
func (g *lagrange) project(at int32, limit, sum float64, count int) {
	for range 6 {
		if sum <= limit || count == 0 {
			return
		}
		less := (sum - limit) / float64(count)
		sum, count = 0, 0
		for n, m := range g.s.menus {
			if k := slices.Index(m.slots, at); k >= 0 {
				i := g.at[n] + k
				g.terms.charges[i] = max(0, g.terms.charges[i]-less)
				sum += g.terms.charges[i]
				if g.terms.charges[i] > 0 {
					count++
				}
			}
		}
	}
}

// branchOn takes the undecided supplier with the most goods in the relaxed plan.
func (g *lagrange) branchOn(nd *node) {
	next := int32(-1)
	for _, at := range g.s.served {
		if g.modes[at] == undecided && g.taken[at] > 0 && (next < 0 || g.taken[at] > g.taken[next] ||
			g.taken[at] == g.taken[next] && g.s.sellers[at].id < g.s.sellers[next].id) {
			next = at
		}
	}
	if next >= 0 {
		nd.next = next
	}
}

// narrowed is the rates of the relaxed plan with only the suppliers that it uses.
func (g *lagrange) narrowed() *rates {
	r := rates{slices.Clone(g.rates.closed), g.rates.weighs, g.rates.factor}
	for _, at := range g.s.served {
		r.closed[at] = g.taken[at] == 0
	}
	return &r
}

// set closes all suppliers that the relaxed plan does not use.
func (g *lagrange) set() []mode {
	ms := g.s.newModes(g.modes)
	for _, at := range g.s.served {
		if g.taken[at] == 0 {
			ms[at] = closed
		}
	}
	return ms
}
