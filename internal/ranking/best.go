package ranking

import (
	"cmp"
	"math"
	"slices"
	"sync/atomic"

	"sabinbook/internal/costing"
	"sabinbook/internal/handling"
	"sabinbook/internal/money"
	"sabinbook/internal/needs"
	"sabinbook/internal/units"
)

// optimism is a number for an option that costs a sum: the larger comes first in the order. The
// same for a sum below which the cost cannot be is never less, so that it says how far in
// front an option can be at most. +Inf is for what may cost nothing.
func (o Order) optimism(area units.Area, cost money.Amount, burden handling.Burden) float64 {
	switch o {
	case ByCost:
		return -float64(cost.Micro())
	case ByAbsorption:
		return float64(area)
	case ByBurden:
		if !burden.Known {
			return math.Inf(-1)
		}
		return -float64(burden.Total)
	}
	if cost.Sign() <= 0 {
		return math.Inf(1)
	}
	return perCurrencyUnit(area, cost)
}

// exact is a candidate with what it really costs.
type exact struct {
	index, group int
	key          float64 // optimism at the total
	option       Option  // with what orders it
}

// compare orders exact candidates as the answer does.
func (r *ranker) compare(a, b exact) int {
	return cmp.Or(r.brief.Order.compare(a.option, b.option), cmp.Compare(a.index, b.index))
}

// best returns the first Brief.Limit options, exactly those that working all of them out would
// give: candidates are worked out in the order of how good they can be at most, until those
// found are before everything that the rest can be. It takes the floors of goods as keys.
func (r *ranker) best(c *candidates) []Option {
	first := -1
	for i := range c.list {
		if c.list[i].priced && (first < 0 || c.list[i].key > c.list[first].key) {
			first = i
		}
	}
	if first < 0 {
		return nil
	}
	if r.brief.Order == ByAbsorptionPerCost || r.brief.Order == ByCost {
		c.floors(r, r.market.FloorsLike(r.list(c, first), r.labels), false)
	}
	found := r.search(c, newQueue(c))
	out := make([]Option, min(len(found), r.brief.Limit))
	for i := range out {
		out[i], _ = r.option(c.build(found[i].index))
		out[i].Place = i + 1
		if r.brief.Show == BestPerFill {
			out[i].OtherBuilds = c.pricedOf[int32(found[i].group)] - 1
		}
	}
	return out
}

// list is what a candidate needs.
func (r *ranker) list(c *candidates, i int) needs.List {
	b := c.build(i)
	return needs.For(b, r.brief.PanelCount, handling.For(b, r.brief.PanelCount, r.brief.Handling))
}

// worked is how many candidates each worker works out between two looks at what was found.
// Convention; it changes nothing but the time.
const worked = 8

// search returns what is found in its order, one for each fill where only the best of a fill
// is shown; the first Brief.Limit are final.
func (r *ranker) search(c *candidates, q *queue) []exact {
	var found []exact
	groups := map[int]int{} // place in found of the best of a fill, where only that is shown
	per := r.brief.Show == BestPerFill
	for {
		var batch []exact
		for len(batch) < worked*r.prepared.workers {
			i, ok := q.next()
			if !ok || r.settled(found, c.list[i].key, i) {
				break
			}
			group := int(c.stands[c.list[i].stand].group)
			q.drop()
			if at, seen := groups[group]; seen && per && found[at].key > c.list[i].key {
				continue
			}
			batch = append(batch, exact{index: i, group: group})
		}
		if len(batch) == 0 {
			return found
		}
		r.work(c, batch)
		for _, e := range batch {
			at, seen := groups[e.group]
			switch {
			case !per || !seen:
				found = append(found, e)
			case r.compare(e, found[at]) < 0:
				found[at] = e
			default:
				continue
			}
			if per && !seen {
				groups[e.group] = len(found) - 1
			}
		}
		slices.SortFunc(found, r.compare)
		if per {
			for at, e := range found {
				groups[e.group] = at
			}
		}
	}
}

// settled reports whether so many are found that nothing which can be as good as key at most
// comes among the first.
func (r *ranker) settled(found []exact, key float64, index int) bool {
	if len(found) < r.brief.Limit || math.IsInf(key, 1) {
		return false
	}
	last := found[r.brief.Limit-1]
	return cmp.Or(cmp.Compare(key, last.key), cmp.Compare(last.index, index)) < 0
}

// work finds out what the candidates of a batch cost.
func (r *ranker) work(c *candidates, batch []exact) {
	var next atomic.Int64
	share(min(r.prepared.workers, len(batch)), func() {
		for i := int(next.Add(1)) - 1; i < len(batch); i = int(next.Add(1)) - 1 {
			e := &batch[i]
			k := &c.list[e.index]
			burden := c.stands[k.stand].burden
			total := r.market.Total(r.list(c, e.index), r.labels)
			e.option = Option{Area: k.area, Cost: costing.Cost{Total: total}, Burden: handling.Burden{Known: burden.Known, Total: burden.Total}}
			e.key = r.brief.Order.optimism(k.area, *total, burden)
		}
	})
}

// queue gives candidates by their keys, the largest first, and of equal keys the earlier
// candidate: a heap, because few of many are asked for.
type queue struct {
	list []candidate
	heap []int32
}

func newQueue(c *candidates) *queue {
	q := &queue{list: c.list, heap: make([]int32, 0, c.priced)}
	for i := range c.list {
		if c.list[i].priced {
			q.heap = append(q.heap, int32(i))
		}
	}
	for at := len(q.heap)/2 - 1; at >= 0; at-- {
		q.sink(at)
	}
	return q
}

// next is the first candidate, and whether there is one.
func (q *queue) next() (int, bool) {
	if len(q.heap) == 0 {
		return 0, false
	}
	return int(q.heap[0]), true
}

// drop takes the first candidate out.
func (q *queue) drop() {
	last := len(q.heap) - 1
	q.heap[0] = q.heap[last]
	q.heap = q.heap[:last]
	q.sink(0)
}

func (q *queue) before(a, b int32) bool {
	return cmp.Or(cmp.Compare(q.list[b].key, q.list[a].key), cmp.Compare(a, b)) < 0
}

func (q *queue) sink(at int) {
	for {
		first := at
		for child := 2*at + 1; child <= 2*at+2 && child < len(q.heap); child++ {
			if q.before(q.heap[child], q.heap[first]) {
				first = child
			}
		}
		if first == at {
			return
		}
		q.heap[at], q.heap[first] = q.heap[first], q.heap[at]
		at = first
	}
}
