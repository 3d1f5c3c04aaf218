package buying

import (
	"math"
	"slices"
)

// meet finds the cheapest way of a need, decided by ids and then by the order of the ways
// where they are equal if ties asks for that.
func (m *menu) meet(sellers []seller, r *rates, w *coverer, ties bool) choice {
	best := choice{way: -1, points: math.MaxInt64}
	for i := range m.ways {
		now := choice{way: i}
		for k := range m.ways[i].items {
			mi := &m.ways[i].items[k]
			points, ok := w.cover(mi, sellers, r, nil, ties)
			now.points += points
			if !ok || now.points > best.points {
				now.way = -1
				break
			}
			now.takes = w.takes(w.best, mi.item, now.takes)
		}
		if now.way < 0 {
			continue
		}
		if len(m.ways[i].items) > 1 {
			slices.SortFunc(now.takes, byID)
		}
		if now.points < best.points || best.way < 0 || compareTakes(now.takes, best.takes) < 0 {
			best = now
		}
	}
	return best
}

// with returns the cheapest way with the suppliers of a mask, without fees.
func (m *menu) with(mask int, sellers []seller, r *rates, w *coverer) *choice {
	if c := m.table[mask].Load(); c != nil {
		w.cut = w.cut || c.cut
		return c
	}
	for k, s := range m.slots {
		r.closed[s] = mask&(1<<k) == 0
	}
	before := w.cut
	w.cut = false
	c := m.meet(sellers, r, w, true)
	c.cut = w.cut
	w.cut = before || c.cut
	m.table[mask].Store(&c)
	return &c
}

// bound finds the least points of a need in a relaxation with charges, and adds to used and
// goods what its plan takes: one for each supplier it uses, and the points of its goods.
func (m *menu) bound(sellers []seller, r *rates, charge []int64, w *coverer, used []bool, goods []float64) (int64, bool) {
	best, found := int64(math.MaxInt64), false
	for i := range m.ways {
		sum, ok := int64(0), true
		split := charge
		if charge != nil && len(m.ways[i].items) > 1 {
			split = m.split(i, charge, w)
		}
		items := m.ways[i].items
		if len(items) == 0 {
			clear(used)
			return 0, true
		}
		for k := range items {
			points, covered := w.cover(&items[k], sellers, r, split, false)
			if sum += points; !covered || sum >= best && found {
				ok = false
				break
			}
			if used == nil {
				continue
			}
			if k == 0 {
				clear(used)
				clear(goods)
			}
			for c, e := range w.best {
				if e >= 0 {
					st := w.columns[c].stall
					used[st.slot] = true
					goods[st.slot] += float64(st.entries[e].cost)
				}
			}
		}
		if ok {
			best, found = sum, true
			if used != nil && i+1 < len(m.ways) {
				w.keep(used, goods)
			}
		} else if used != nil && found {
			w.restore(used, goods)
		}
	}
	return best, found
}

// split shares the charges out among the items of a way that a supplier serves, so that a
// supplier is not charged more for the way than for the need.
func (m *menu) split(way int, charge []int64, w *coverer) []int64 {
	w.sums = append(w.sums[:0], charge...)
	items := m.ways[way].items
	for slot := range w.sums {
		n := int64(0)
		for k := range items {
			if slices.ContainsFunc(items[k].stalls, func(st stall) bool { return int(st.slot) == slot }) {
				n++
			}
		}
		w.sums[slot] /= max(n, 1)
	}
	return w.sums
}

// keep and restore hold what the best way so far uses, while others are tried.
func (w *coverer) keep(used []bool, goods []float64) {
	w.used, w.goods = append(w.used[:0], used...), append(w.goods[:0], goods...)
}

func (w *coverer) restore(used []bool, goods []float64) {
	copy(used, w.used)
	copy(goods, w.goods)
}
