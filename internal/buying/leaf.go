package buying

import (
	"cmp"
	"math"
	"slices"
)

// resource is something of an order on which its fee depends: the worth of its goods up to a
// threshold (more is better), its mass or its volume (less is better).
type resource struct {
	supplier int32
	kind     int8
	enough   int64 // of worth
}

const (
	goods int8 = iota
	mass
	volume
)

// add adds what a load has of the resource.
func (r *resource) add(held int64, l *load) int64 {
	switch r.kind {
	case goods:
		return min(held+l.worth, r.enough)
	case mass:
		return held + l.grams
	}
	return held + l.volume
}

// worse reports whether a is worse than b.
func (r *resource) worse(a, b int64) bool {
	if r.kind == goods {
		return a < b
	}
	return a > b
}

// label is a plan for the needs so far, or (with parent -1) a way of meeting one need.
type label struct {
	points int64 // without fees
	fee    int64 // linear fees by weight
	parent int32 // in the list of the needs before
	part   int32 // in the list of the need
}

// leaf is the exact search for the plans of a node in which every supplier has a mode.
//
// Labels are made need by need: points and, for each supplier whose fee depends on
// it, worth, mass and volume. A label goes when another one is no worse in every respect,
// or when it cannot stay within the target, which is tested twice: with plain costs
// and with the goods of suppliers with a threshold at a discount that counts again where
// the threshold is missed. Source: costing_problem.md section 3.3 (leaf).
type leaf struct {
	s         *search
	modes     []mode
	resources []resource
	base      int64
	plain, mu rates   // without and with the discount
	discount  []int64 // per supplier, of 2^24

	least, reduced []int64 // per need
	labels         [][]label
	held           [][]int64 // resources of labels
	parts          [][]choice
	order          []int // needs in the order of merging
	target         int64
}

// build searches a leaf up to its target. It reports whether the leaf may hold a better plan
// beyond it.
func (s *search) build(nd *node) bool {
	s.nodes++
	lf := &leaf{s: s, modes: nd.modes, plain: newRates(len(s.sellers)), discount: make([]int64, len(s.sellers))}
	lf.mu = newRates(len(s.sellers))
	for _, at := range s.served {
		m := nd.modes[at]
		seller := &s.sellers[at]
		lf.base += seller.fixed[m]
		lf.plain.closed[at], lf.mu.closed[at] = m == closed, m == closed
		lf.plain.weighs[at], lf.mu.weighs[at] = seller.weighs(m), seller.weighs(m)
		if m == free {
			lf.resources = append(lf.resources, resource{at, goods, seller.freeFrom})
		}
		if seller.weighs(m) && seller.byMass {
			lf.resources = append(lf.resources, resource{at, mass, 0})
		}
		if seller.weighs(m) && seller.bySize {
			lf.resources = append(lf.resources, resource{at, volume, 0})
		}
	}
	lf.least, lf.reduced = make([]int64, len(s.menus)), make([]int64, len(s.menus))
	bound, ok := lf.bound(&lf.plain, lf.least)
	if !ok {
		return false
	}
	discounted := lf.findDiscounts()
	nd.bound = max(nd.bound, bound, discounted)
	if nd.width == 0 {
		nd.width = max(40*s.scale.cash, nd.bound/1400) // 40 cents, 0.07 %
		if !s.problem.NoPadding {
			s.attempt(&lf.mu)
		}
	}
	lf.target = min(s.points, nd.bound+nd.width)
	if nd.bound > lf.target {
		return false
	}
	if !lf.list(lf.target-bound, lf.target-discounted) || !lf.merge() {
		return true // out of labels
	}
	if s.points <= lf.target {
		return false
	}
	nd.bound, nd.width = lf.target+1, nd.width*2
	return nd.bound <= s.points
}

// bound is the relaxed value at some rates, and the points of each need.
func (lf *leaf) bound(r *rates, each []int64) (int64, bool) {
	sum := lf.base
	for n, m := range lf.s.menus {
		points, ok := m.bound(lf.s.sellers, r, nil, &lf.s.coverer, nil, nil)
		if !ok {
			return 0, false
		}
		each[n] = points
		sum += points
	}
	for i := range lf.resources {
		if r := &lf.resources[i]; r.kind == goods {
			sum += times(r.enough*lf.s.scale.cash, lf.discount[r.supplier])
		}
	}
	return sum, true
}

// setDiscount sets the discount on the goods of a supplier.
func (lf *leaf) setDiscount(at int32, d int64) {
	lf.discount[at] = d
	f := one - int64(math.Ceil(float64(d)*lf.s.sellers[at].ratio))
	lf.mu.factor[at] = max(0, f)
}

// findDiscounts looks for the discounts with the highest bound, supplier by supplier, in
// ever finer steps around the best. Any discount is valid. It stops where the bound says
// that the leaf holds nothing better.
func (lf *leaf) findDiscounts() int64 {
	s := lf.s
	best, _ := lf.bound(&lf.mu, lf.reduced)
	trial := make([]int64, len(s.menus))
	for range min(2, len(lf.resources)) {
		for i := range lf.resources {
			r := &lf.resources[i]
			if r.kind != goods || math.IsInf(s.sellers[r.supplier].ratio, 1) {
				continue
			}
			limit := int64(one / s.sellers[r.supplier].ratio)
			kept := lf.discount[r.supplier]
			for step := limit / 4; step > limit/100 && best <= s.points; step /= 3 {
				for _, d := range [...]int64{kept - step, kept + step, kept + 2*step} {
					if d < 0 || d > limit {
						continue
					}
					if b := best + lf.change(r, d, trial); b > best {
						best, kept = b, d
						copy(lf.reduced, trial)
					} else {
						lf.setDiscount(r.supplier, kept)
					}
				}
			}
		}
	}
	return best
}

// change sets another discount at a supplier and returns how that changes the bound; the
// points of each need are left in trial.
func (lf *leaf) change(r *resource, d int64, trial []int64) int64 {
	s := lf.s
	before := times(r.enough*s.scale.cash, lf.discount[r.supplier])
	lf.setDiscount(r.supplier, d)
	sum := times(r.enough*s.scale.cash, d) - before
	copy(trial, lf.reduced)
	for n, m := range s.menus {
		if slices.Contains(m.slots, r.supplier) {
			trial[n], _ = m.bound(s.sellers, &lf.mu, nil, &s.coverer, nil, nil)
			sum += trial[n] - lf.reduced[n]
		}
	}
	return sum
}

// merge combines the parts of the needs one after the other, and offers what remains.
func (lf *leaf) merge() bool {
	s, k := lf.s, len(lf.resources)
	restPlain, restReduced := lf.base, lf.base
	for n := range s.menus {
		restPlain += lf.least[n]
		restReduced += lf.reduced[n]
	}
	lf.labels, lf.held = [][]label{{{parent: -1}}}, [][]int64{make([]int64, k)}
	parts := make([][]int64, len(lf.order))
	for step, n := range lf.order {
		restPlain -= lf.least[n]
		restReduced -= lf.reduced[n]
		parts[step] = lf.heldBy(lf.parts[n])
		var list []label
		var held []int64
		now := make([]int64, k)
		for i, l := range lf.labels[step] {
			for j := range lf.parts[n] {
				p := &lf.parts[n][j]
				points, fee := l.points+p.points, l.fee
				if points+fee+restPlain > lf.target {
					break // parts come by rising points
				}
				if fee += lf.linear(p); points+fee+restPlain > lf.target {
					continue
				}
				short := int64(0)
				for r := range lf.resources {
					res := &lf.resources[r]
					now[r] = lf.held[step][i*k+r] + parts[step][j*k+r]
					if res.kind == goods {
						now[r] = min(now[r], res.enough)
						short += times((res.enough-now[r])*s.scale.cash, lf.discount[res.supplier])
					}
				}
				if points+fee+short+restReduced > lf.target {
					continue
				}
				list = append(list, label{points, fee, int32(i), int32(j)})
				held = append(held, now...)
				if s.labels++; s.labels > s.labelMax {
					return false
				}
			}
		}
		lf.labels, lf.held = append(lf.labels, nil), append(lf.held, nil)
		if !lf.thin(step+1, list, held) {
			return false
		}
	}
	last := len(lf.order)
	for i := range lf.labels[last] {
		enough := true
		for r := range lf.resources {
			if res := &lf.resources[r]; res.kind == goods && lf.held[last][i*k+r] < res.enough {
				enough = false
			}
		}
		if enough {
			lf.offer(i)
		}
	}
	return true
}

// thin keeps the labels of which no other is better.
func (lf *leaf) thin(step int, list []label, held []int64) bool {
	k := len(lf.resources)
	order := make([]int32, len(list))
	for i := range order {
		order[i] = int32(i)
	}
	slices.SortFunc(order, func(a, b int32) int { return cmp.Or(cmp.Compare(list[a].points, list[b].points), cmp.Compare(a, b)) })
	kept := make([]int32, 0, len(list))
	compared := 0
	for from := 0; from < len(order); {
		// Labels of equal points are compared with each other both ways.
		to := from + 1
		for to < len(order) && list[order[to]].points == list[order[from]].points {
			to++
		}
		for x := from; x < to; x++ {
			gone := false
			for y := len(kept) - 1; y >= 0 && !gone; y-- {
				compared++
				gone = lf.dominates(step, list, held, k, kept[y], order[x])
			}
			for y := x + 1; y < to && !gone; y++ {
				compared++
				gone = lf.dominates(step, list, held, k, order[y], order[x])
			}
			if !gone {
				kept = append(kept, order[x])
			}
		}
		if lf.s.labels+compared/32 > lf.s.labelMax {
			break
		}
		from = to
	}
	lf.s.labels += compared / 32
	out, res := make([]label, 0, len(kept)), make([]int64, 0, len(kept)*k)
	for _, i := range kept {
		out, res = append(out, list[i]), append(res, held[int(i)*k:int(i)*k+k]...)
	}
	lf.labels[step], lf.held[step] = out, res
	return lf.s.labels <= lf.s.labelMax
}

func (lf *leaf) dominates(step int, list []label, held []int64, k int, a, b int32) bool {
	for r := range lf.resources {
		if lf.resources[r].worse(held[int(a)*k+r], held[int(b)*k+r]) {
			return false
		}
	}
	if list[a].points != list[b].points {
		return list[a].points < list[b].points
	}
	c := compareTakes(lf.takes(step, list[a]), lf.takes(step, list[b]))
	return c < 0 || c == 0 && a < b
}

// takes lists the lines of a label by id.
func (lf *leaf) takes(step int, l label) []take {
	var list []take
	for ; step > 0; step-- {
		list = append(list, lf.parts[lf.order[step-1]][l.part].takes...)
		l = lf.labels[step-1][l.parent]
	}
	slices.SortFunc(list, byID)
	return list
}

// offer tries the plan of a label that meets all needs.
func (lf *leaf) offer(i int) {
	s := lf.s
	for _, at := range s.served {
		s.loads[at] = load{}
	}
	l := lf.labels[len(lf.order)][i]
	for step := len(lf.order); step > 0; step-- {
		n := lf.order[step-1]
		s.chosen[n] = lf.parts[n][l.part]
		for _, t := range s.chosen[n].takes {
			s.loads[t.supplier] = s.loads[t.supplier].add(t.load)
		}
		l = lf.labels[step-1][l.parent]
	}
	s.offer(s.value())
}
