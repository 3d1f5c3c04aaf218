package buying

import (
	"cmp"
	"math"
	"slices"
)

// take is a line of a plan in the making. Only the sum of the loads of all lines at a supplier
// counts: lines of one entry have their load together, in the last of them.
type take struct {
	id                    string
	packs                 int32
	supplier, item, index int32
	load                  load
}

// choice is how a need is met: the way, its points without fees, and the lines by id.
type choice struct {
	points int64
	way    int // index in the menu; -1 where the allowed suppliers cannot meet the need
	takes  []take
	cut    bool // some cover was not searched to its end: it may be missed by a little
}

// compareTakes orders lines by ids, see compareCounts.
func compareTakes(a, b []take) int {
	for i := range min(len(a), len(b)) {
		switch {
		case a[i].id != b[i].id: // the one with the smaller id has packs of it, the other none
			return cmp.Compare(a[i].id, b[i].id)
		case a[i].packs != b[i].packs:
			return cmp.Compare(b[i].packs, a[i].packs)
		}
	}
	return cmp.Compare(len(b), len(a))
}

// rates is what a relaxation pays at each supplier: a share of the goods, the linear fee
// by weight or not, or nothing because it is closed.
type rates struct {
	closed []bool
	weighs []bool
	factor []int64 // 2^24 for all
}

func newRates(n int) rates {
	r := rates{make([]bool, n), make([]bool, n), make([]int64, n)}
	for i := range r.factor {
		r.factor[i] = one
	}
	return r
}

// column is a stall with its costs in a relaxation.
type column struct {
	stall *stall
	costs []int64
	ratio float64 // least cost of a unit of cover
}

// coverer finds the cheapest cover of an item with one entry of each supplier.
//
// It starts with the best single cover and goes depth first over the suppliers by their
// cost per unit; what the rest costs at least at the best ratio ends a branch.
// Source: costing_problem.md section 3.1 (item problem).
//
// Dozens of suppliers at nearly one price leave that bound nothing to end. After coverSteps
// the cover found is taken and cut says so: the plan then claims no more than what the
// cheapest units alone prove.
type coverer struct {
	columns []column
	order   []int32 // of columns, by ratio
	costs   []int64
	picks   []int32 // entry per column, -1 for none
	best    []int32
	points  int64
	found   bool
	ties    bool // decide between equal covers by ids; else take any
	strict  bool

	steps int  // of all covers so far
	until int  // steps at which the present cover is taken as it is
	cut   bool // some cover was

	sums  []int64 // scratch
	used  []bool
	goods []float64
}

// coverSteps bounds the search for one cover, and stepsPerLabel says how many of its steps
// count as a label. Convention: a hundred times what common problems take.
const (
	coverSteps    = 20_000
	stepsPerLabel = 16
)

// cover finds the least points of an item, and leaves the cover in best.
func (w *coverer) cover(mi *menuItem, sellers []seller, r *rates, charge []int64, ties bool) (int64, bool) {
	w.columns, w.costs, w.order, w.picks, w.best = w.columns[:0], w.costs[:0], w.order[:0], w.picks[:0], w.best[:0]
	w.points, w.found, w.ties, w.strict = math.MaxInt64, false, ties, mi.strict
	w.until = w.steps + coverSteps
	single, entry := int32(-1), int32(-1)
	for k := range mi.stalls {
		st := &mi.stalls[k]
		if r.closed[st.supplier] {
			continue
		}
		col := column{stall: st, costs: st.costs, ratio: st.ratio}
		factor, weighs := r.factor[st.supplier], r.weighs[st.supplier]
		fixed := int64(0)
		if charge != nil {
			fixed = charge[st.slot]
		}
		switch {
		case weighs || factor == one && fixed > 0 && len(st.costs) > 1:
			from, basis := len(w.costs), sellers[st.supplier].basis
			col.ratio = math.Inf(1)
			for i, cost := range st.costs {
				cost = times(cost, factor) + fixed
				if weighs {
					cost += st.entries[i].fee[basis]
				}
				w.costs = append(w.costs, cost)
				col.ratio = min(col.ratio, float64(cost)/float64(min(st.covers[i], mi.rest)))
			}
			col.costs = w.costs[from:len(w.costs):len(w.costs)]
		case factor != one || fixed > 0:
			from := len(w.costs)
			for _, cost := range st.costs {
				w.costs = append(w.costs, times(cost, factor)+fixed)
			}
			col.costs = w.costs[from:len(w.costs):len(w.costs)]
			// The charge spread over the whole cover, and less what rounding down takes.
			col.ratio = max(0, st.ratio*(float64(factor)/one)*safe+float64(fixed)/float64(mi.rest)*safe-1/float64(st.covers[len(st.covers)-1]))
		}
		for i, covered := range st.covers {
			if covered < mi.rest {
				break // entries come by falling cover
			}
			if col.costs[i] < w.points && (!mi.strict || st.entries[i].step > covered-mi.rest) {
				w.points, single, entry = col.costs[i], int32(len(w.columns)), int32(i)
			}
		}
		j := len(w.order)
		w.order = append(w.order, int32(len(w.columns)))
		for ; j > 0 && col.ratio < w.columns[w.order[j-1]].ratio; j-- {
			w.order[j] = w.order[j-1]
		}
		w.order[j] = int32(len(w.columns))
		w.columns = append(w.columns, col)
		w.picks, w.best = append(w.picks, -1), append(w.best, -1)
	}
	if single >= 0 {
		w.best[single], w.found = entry, true
	}
	if len(w.columns) > 1 || len(w.columns) == 1 && (ties || mi.strict) {
		w.search(0, mi.rest, 0, math.MaxInt64)
	}
	return w.points, w.found
}

func (w *coverer) search(k int, rest, cost, step int64) {
	if w.steps++; w.found && w.steps > w.until {
		w.cut = true
		return
	}
	if rest <= 0 {
		if w.strict && step <= -rest {
			return
		}
		if cost < w.points || !w.found || w.ties && cost == w.points && w.better() {
			w.points, w.found = cost, true
			copy(w.best, w.picks)
		}
		return
	}
	if k == len(w.order) {
		return
	}
	at := w.order[k]
	col := &w.columns[at]
	if w.worse(cost + int64(col.ratio*float64(rest)*safe)) {
		return
	}
	next := math.Inf(1)
	if k+1 < len(w.order) {
		next = w.columns[w.order[k+1]].ratio * safe
	}
	for i, c := range col.costs {
		more := rest - col.stall.covers[i]
		c += cost
		if more > 0 {
			if k+1 == len(w.order) {
				break // entries come by falling cover
			}
			if w.worse(c + int64(next*float64(more))) {
				continue
			}
		}
		if !w.worse(c) {
			w.picks[at] = int32(i)
			s := step
			if w.strict {
				s = min(step, col.stall.entries[i].step)
			}
			w.search(k+1, more, c, s)
		}
	}
	w.picks[at] = -1
	w.search(k+1, rest, cost, step)
}

// worse reports whether a cover of at least so many points cannot replace the best one.
func (w *coverer) worse(points int64) bool {
	return points > w.points || !w.ties && points == w.points && w.found
}

// better compares the picks with the best cover by ids.
func (w *coverer) better() bool {
	return compareTakes(w.takes(w.picks, 0, nil), w.takes(w.best, 0, nil)) < 0
}

// takes lists the lines of picks by id.
func (w *coverer) takes(picks []int32, item int, list []take) []take {
	from := len(list)
	for k, i := range picks {
		if i < 0 {
			continue
		}
		st := w.columns[k].stall
		list = st.takes(&st.entries[i], item, list)
	}
	slices.SortFunc(list[from:], byID)
	return list
}

func byID(a, b take) int { return cmp.Or(cmp.Compare(a.id, b.id), cmp.Compare(a.index, b.index)) }

// takes lists the lines of an entry.
func (st *stall) takes(e *entry, item int, list []take) []take {
	for j, n := range e.counts {
		if n > 0 {
			sh := &st.shelves[j]
			list = append(list, take{id: sh.offer.ID, packs: n, supplier: st.supplier, item: int32(item), index: int32(sh.index)})
		}
	}
	list[len(list)-1].load = e.load
	return list
}
