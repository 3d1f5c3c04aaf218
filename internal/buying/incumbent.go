package buying

import (
	"slices"
)

// offer compares the chosen plan with the best one and keeps the better.
func (s *search) offer(value int64) {
	if value < s.points || value == s.points && s.idsBefore(s.chosen) {
		s.points = value
		copy(s.best, s.chosen)
	}
}

// idsBefore reports whether a plan comes before the best one by the ids of its offers, or
// on equal ones by earlier ways.
func (s *search) idsBefore(plan []choice) bool {
	differ := false
	for n := range plan {
		if compareTakes(plan[n].takes, s.best[n].takes) != 0 {
			differ = true
			break
		}
	}
	if !differ {
		for n := range plan {
			if plan[n].way != s.best[n].way {
				return plan[n].way < s.best[n].way
			}
		}
		return false
	}
	return compareTakes(flat(plan), flat(s.best)) < 0
}

func flat(plan []choice) []take {
	var list []take
	for _, c := range plan {
		list = append(list, c.takes...)
	}
	slices.SortFunc(list, byID)
	return list
}

// pad tries to make the chosen plan cheaper by one larger line for each supplier that reaches
// its threshold. Source: costing_problem.md section 3.3 (polishing).
func (s *search) pad(value int64) {
	hope := int64(0)
	for _, at := range s.served {
		hope += s.gain(at)
	}
	if hope == 0 || value-hope > s.points {
		return
	}
	for _, at := range s.served {
		gain := s.gain(at)
		if gain <= 0 {
			continue
		}
		need, better, extra := -1, choice{}, gain
		for n, c := range s.chosen {
			for i := range s.menus[n].ways[c.way].items {
				mi := &s.menus[n].ways[c.way].items[i]
				for k := range mi.stalls {
					if mi.stalls[k].supplier != at {
						continue
					}
					for j := range mi.stalls[k].shelves {
						sh := &mi.stalls[k].shelves[j]
						if more, cost, ok := s.enlarge(c, mi, sh, s.sellers[at].freeFrom-s.loads[at].worth, at); ok && cost < extra {
							need, better, extra = n, more, cost
						}
					}
				}
			}
		}
		if need >= 0 {
			s.chosen[need] = better
			s.reload(at)
		}
	}
	s.offer(s.value())
}

// gain is what reaching the threshold of a supplier would save the chosen plan, in points.
func (s *search) gain(at int32) int64 {
	seller, l := &s.sellers[at], s.loads[at]
	if !seller.can[free] || l.packs == 0 || l.worth >= seller.freeFrom {
		return 0
	}
	fee, _, _ := seller.order(l)
	l.worth = seller.freeFrom
	then, _, _ := seller.order(l)
	return (fee - then) * s.scale.cash
}

// reload adds up what the chosen plan orders at a supplier.
func (s *search) reload(at int32) {
	s.loads[at] = load{}
	for _, c := range s.chosen {
		for _, t := range c.takes {
			if t.supplier == at {
				s.loads[at] = s.loads[at].add(t.load)
			}
		}
	}
}

// enlarge returns a choice with so many more packs of a shelf that they are worth a
// deficit, and what that costs in points.
func (s *search) enlarge(c choice, mi *menuItem, sh *shelf, deficit int64, at int32) (choice, int64, bool) {
	line := slices.IndexFunc(c.takes, func(t take) bool { return int(t.index) == sh.index && int(t.item) == mi.item })
	n := 0
	if line >= 0 {
		n = int(c.takes[line].packs)
	}
	gross, worth := s.scale.line(sh.offer, n)
	_, each := s.scale.line(sh.offer, max(1, n))
	each /= int64(max(1, n))
	if each <= 0 {
		return c, 0, false
	}
	to := max(n+int(min(ceilDiv(deficit, each), 1<<30)), sh.lower)
	for range 8 {
		if to > sh.upper || !inReach(sh.offer.UnitPrice(to), to) {
			return c, 0, false
		}
		g, w := s.scale.line(sh.offer, to)
		if w-worth < deficit {
			to++
			continue
		}
		more := load{packs: int64(to - n), gross: g - gross, worth: w - worth, grams: int64(to-n) * sh.offer.Grams, volume: int64(to-n) * sh.offer.Volume}
		c.takes = slices.Clone(c.takes)
		if line < 0 {
			c.takes = append(c.takes, take{id: sh.offer.ID, supplier: at, item: int32(mi.item), index: int32(sh.index)})
			line = len(c.takes) - 1
		}
		c.takes[line].packs = int32(to)
		c.takes[line].load = c.takes[line].load.add(more)
		slices.SortFunc(c.takes, byID)
		return c, (g-gross)*s.scale.cash + int64(to-n)*s.scale.pack, true
	}
	return c, 0, false
}

// descend improves the set of suppliers by leaving one out or adding one, as long as that
// helps. Source: costing_problem.md section 3.3 (local search).
func (s *search) descend() {
	ms := s.newModes(nil)
	for improved := true; improved; {
		improved = false
		for _, at := range s.served {
			ms[at] = closed
		}
		for _, c := range s.best {
			for _, t := range c.takes {
				ms[t.supplier] = undecided
			}
		}
		for _, at := range s.served {
			before := s.points
			m := ms[at]
			ms[at] = closed - m
			s.try(ms)
			if s.points < before {
				improved = true
			} else {
				ms[at] = m
			}
		}
	}
}

// try looks at the relaxed plan of a set of suppliers.
func (s *search) try(ms []mode) {
	if _, ok := s.relax(ms); ok {
		s.polish()
	}
}

// polish offers the chosen plan, as it is and padded.
func (s *search) polish() {
	value := s.value()
	s.offer(value)
	if !s.problem.NoPadding {
		s.pad(value)
	}
}

// attempt looks at the plan that is cheapest at some rates: discounts on the goods of
// suppliers with a threshold lead to plans that reach it.
func (s *search) attempt(r *rates) {
	for _, at := range s.served {
		s.loads[at] = load{}
	}
	for n, m := range s.menus {
		c := m.meet(s.sellers, r, &s.coverer, false)
		if c.way < 0 {
			return
		}
		s.chosen[n] = c
		for i := range c.takes {
			t := &c.takes[i]
			s.loads[t.supplier] = s.loads[t.supplier].add(t.load)
		}
	}
	s.polish()
}
