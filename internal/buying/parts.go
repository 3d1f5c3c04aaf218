package buying

import (
	"cmp"
	"math"
	"slices"
)

// option is a number of packs of an offer, or an entry, in a leaf.
type option struct {
	covered, step int64
	cost, reduced int64 // with the linear fee by weight
	packs         int32
	entry         *entry
	load          load
}

// shelves is a column of options of which a cover takes one or none.
type shelves struct {
	stall          *stall
	shelf          *shelf
	options        []option
	pads           bool // more than covers may be taken, for a threshold
	ratio, reduced float64
	// of this and the later columns
	leastRatio, leastReduced float64
}

// lister lists the covers of an item within two limits.
type lister struct {
	lf             *leaf
	item           *menuItem
	columns        []shelves
	picks          []int
	limit, reduced int64
	strict         bool
	found          []choice
}

// list finds for every need the ways of meeting it that stay within the slack of the
// two bounds, best first. It fails when it runs out of labels.
func (lf *leaf) list(slack, slackReduced int64) bool {
	s := lf.s
	lf.parts, lf.order = make([][]choice, len(s.menus)), make([]int, len(s.menus))
	for n, m := range s.menus {
		lf.order[n] = n
		for w := range m.ways {
			found, ok := lf.way(m, w, lf.least[n]+slack, lf.reduced[n]+slackReduced)
			if !ok {
				return false
			}
			lf.parts[n] = append(lf.parts[n], found...)
		}
		if lf.parts[n] = lf.thinParts(lf.parts[n]); s.labels > s.labelMax {
			return false
		}
	}
	slices.SortFunc(lf.order, func(a, b int) int { return cmp.Or(cmp.Compare(len(lf.parts[a]), len(lf.parts[b])), cmp.Compare(a, b)) })
	return true
}

// way lists how a need can be met in one of its ways.
func (lf *leaf) way(m *menu, w int, limit, reduced int64) ([]choice, bool) {
	items := m.ways[w].items
	least, leastReduced := make([]int64, len(items)), make([]int64, len(items))
	for i := range items {
		var ok, also bool
		least[i], ok = lf.s.coverer.cover(&items[i], lf.s.sellers, &lf.plain, nil, false)
		leastReduced[i], also = lf.s.coverer.cover(&items[i], lf.s.sellers, &lf.mu, nil, false)
		if !ok || !also {
			return nil, true
		}
		limit -= least[i]
		reduced -= leastReduced[i]
	}
	if limit < 0 || reduced < 0 {
		return nil, true
	}
	all := []choice{{way: w}}
	for i := range items {
		l := lister{lf: lf, item: &items[i], limit: limit + least[i], reduced: reduced + leastReduced[i], strict: lf.s.problem.NoPadding}
		if !l.list() {
			return nil, false
		}
		if len(items) == 1 {
			for k := range l.found {
				l.found[k].way = w
			}
			return l.found, true
		}
		combined := make([]choice, 0, len(all)*len(l.found))
		for _, a := range all {
			for _, b := range l.found {
				c := choice{points: a.points + b.points, way: w, takes: slices.Concat(a.takes, b.takes)}
				slices.SortFunc(c.takes, byID)
				combined = append(combined, c)
				lf.s.labels++
			}
		}
		all = combined
		if lf.s.labels > lf.s.labelMax {
			return nil, false
		}
	}
	return all, true
}

func (l *lister) list() bool {
	s := l.lf.s
	for k := range l.item.stalls {
		st := &l.item.stalls[k]
		m := l.lf.modes[st.supplier]
		if m == closed {
			continue
		}
		if m != free && !l.strict {
			l.columns = append(l.columns, l.entries(st))
			continue
		}
		for j := range st.shelves {
			l.columns = append(l.columns, l.packs(st, &st.shelves[j], m == free && !l.strict))
		}
	}
	slices.SortStableFunc(l.columns, func(a, b shelves) int { return cmp.Compare(a.ratio, b.ratio) })
	ratio, reduced := math.Inf(1), math.Inf(1)
	for k := len(l.columns) - 1; k >= 0; k-- {
		ratio, reduced = min(ratio, l.columns[k].ratio), min(reduced, l.columns[k].reduced)
		l.columns[k].leastRatio, l.columns[k].leastReduced = ratio, reduced
	}
	l.picks = make([]int, len(l.columns))
	l.search(0, l.item.rest, 0, 0, math.MaxInt64)
	return s.labels <= s.labelMax
}

// entries is the column of a supplier whose goods do not count towards a threshold.
func (l *lister) entries(st *stall) shelves {
	col := shelves{stall: st, ratio: math.Inf(1), reduced: math.Inf(1)}
	for i := range st.entries {
		e := &st.entries[i]
		l.add(&col, option{covered: e.covered, step: e.step, cost: e.cost, entry: e, load: e.load}, e.fee)
	}
	return col
}

// packs is the column of an offer.
func (l *lister) packs(st *stall, sh *shelf, pads bool) shelves {
	s := l.lf.s
	col := shelves{stall: st, shelf: sh, pads: pads, ratio: math.Inf(1), reduced: math.Inf(1)}
	last := 0
	for _, b := range sh.offer.Breaks {
		last = max(last, b.From)
	}
	seller := &s.sellers[st.supplier]
	for n := sh.lower; n <= sh.upper; n++ {
		gross, worth := s.scale.line(sh.offer, n)
		o := option{covered: int64(n) * sh.offer.Pack, step: sh.offer.Pack, packs: int32(n),
			load: load{packs: int64(n), gross: gross, worth: worth}}
		if seller.byMass {
			o.load.grams = int64(n) * sh.offer.Grams
		}
		if seller.bySize {
			o.load.volume = int64(n) * sh.offer.Volume
		}
		if n == sh.lower {
			o.step = o.covered
		}
		o.cost = gross*s.scale.cash + int64(n)*s.scale.pack
		if s.labels++; !l.add(&col, o, seller.byWeight(o.load.grams, o.load.volume, &s.scale)) && n >= last || s.labels > s.labelMax {
			break
		}
	}
	return col
}

// add puts an option into a column unless it is beyond a limit.
func (l *lister) add(col *shelves, o option, fee [2]int64) bool {
	at := col.stall.supplier
	o.reduced = times(o.cost, l.lf.mu.factor[at])
	if l.lf.plain.weighs[at] {
		f := fee[l.lf.s.sellers[at].basis]
		o.cost += f
		o.reduced += f
	}
	if o.cost > l.limit || o.reduced > l.reduced {
		return o.cost <= l.limit
	}
	cover := float64(min(o.covered, l.item.rest))
	col.ratio, col.reduced = min(col.ratio, float64(o.cost)/cover), min(col.reduced, float64(o.reduced)/cover)
	col.options = append(col.options, o)
	return true
}

func (l *lister) search(k int, rest, cost, reduced, step int64) {
	s := l.lf.s
	if s.labels > s.labelMax {
		return
	}
	for k < len(l.columns) && rest <= 0 && !l.columns[k].pads {
		l.picks[k] = -1 // nothing more is needed
		k++
	}
	if k == len(l.columns) {
		if rest <= 0 && (!l.strict || step > -rest) {
			l.keep()
		}
		return
	}
	col := &l.columns[k]
	if rest > 0 && (cost+int64(col.leastRatio*float64(rest)*safe) > l.limit || reduced+int64(col.leastReduced*float64(rest)*safe) > l.reduced) {
		return
	}
	l.picks[k] = -1
	l.search(k+1, rest, cost, reduced, step)
	for i := range col.options {
		o := &col.options[i]
		if cost+o.cost > l.limit || reduced+o.reduced > l.reduced {
			continue
		}
		s.labels++
		l.picks[k] = i
		l.search(k+1, rest-o.covered, cost+o.cost, reduced+o.reduced, min(step, o.step))
	}
	l.picks[k] = -1
}

// keep notes the cover that is picked.
func (l *lister) keep() {
	c := choice{}
	for k, i := range l.picks {
		if i < 0 {
			continue
		}
		col := &l.columns[k]
		o := &col.options[i]
		c.points += o.load.gross*l.lf.s.scale.cash + o.load.packs*l.lf.s.scale.pack
		if o.entry != nil {
			c.takes = col.stall.takes(o.entry, l.item.item, c.takes)
			continue
		}
		c.takes = append(c.takes, take{id: col.shelf.offer.ID, packs: o.packs, supplier: col.stall.supplier,
			item: int32(l.item.item), index: int32(col.shelf.index), load: o.load})
	}
	slices.SortFunc(c.takes, byID)
	l.found = append(l.found, c)
}

// linear is the linear fee by weight of a part.
func (lf *leaf) linear(c *choice) int64 {
	fee := int64(0)
	for i := range c.takes {
		t := &c.takes[i]
		if lf.plain.weighs[t.supplier] {
			seller := &lf.s.sellers[t.supplier]
			fee += seller.byWeight(t.load.grams, t.load.volume, &lf.s.scale)[seller.basis]
		}
	}
	return fee
}

// heldBy lists the resources of parts.
func (lf *leaf) heldBy(parts []choice) []int64 {
	k := len(lf.resources)
	held := make([]int64, k*len(parts))
	for j := range parts {
		for i := range parts[j].takes {
			t := &parts[j].takes[i]
			for r := range lf.resources {
				if lf.resources[r].supplier == t.supplier {
					held[j*k+r] = lf.resources[r].add(held[j*k+r], &t.load)
				}
			}
		}
	}
	return held
}

// thinParts keeps the parts of which no other is better, by rising points.
func (lf *leaf) thinParts(list []choice) []choice {
	slices.SortStableFunc(list, func(a, b choice) int {
		return cmp.Or(cmp.Compare(a.points, b.points), compareTakes(a.takes, b.takes), cmp.Compare(a.way, b.way))
	})
	k := len(lf.resources)
	held := lf.heldBy(list)
	var kept []int
	out := list[:0:0]
next:
	for i := range list {
		for y := len(kept) - 1; y >= 0; y-- {
			j, worse := kept[y], false
			for r := range lf.resources {
				worse = worse || lf.resources[r].worse(held[j*k+r], held[i*k+r])
			}
			if !worse {
				continue next
			}
		}
		kept = append(kept, i)
		out = append(out, list[i])
		if lf.s.labels += len(kept) / 32; lf.s.labels > lf.s.labelMax {
			break
		}
	}
	return out
}
