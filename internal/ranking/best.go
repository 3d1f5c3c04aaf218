package ranking

import (
	"cmp"
	"slices"

	"sabinbook/internal/handling"
	"sabinbook/internal/needs"
)

// exact is a candidate with what it really costs.
type exact struct {
	index, group int
	standing
}

// compare orders exact candidates as the answer does.
func (r *ranker) compare(a, b exact) int {
	return cmp.Or(r.brief.Order.compare(a.standing, b.standing), cmp.Compare(a.index, b.index))
}

// best returns the first Brief.Limit options, exactly those that working all of them out would
// give: candidates are worked out in the order of how good they can be at most, until those
// found are before everything that the rest can be. The floors of goods are known before.
func (r *ranker) best(c *candidates) []Option {
	first := -1
	for i := range c.list {
		if c.list[i].priced && (first < 0 || r.brief.Order.compare(c.list[i].standing, c.list[first].standing) < 0) {
			first = i
		}
	}
	if first < 0 {
		return nil
	}
	c.floors(r, r.market.FloorsLike(r.list(c, first), r.labels), false)
	found := r.search(c, newQueue(c, r.brief.Order))
	out := make([]Option, min(len(found), r.brief.Limit))
	for i := range out {
		out[i], _ = r.option(c.build(found[i].index), c.stands[c.list[found[i].index].stand].panels)
		out[i].Place = i + 1
		if group := int32(found[i].group); r.brief.Show == BestPerFill {
			out[i].OtherBuilds = c.pricedOf[group] - c.overBudget[group] - 1
		}
	}
	return out
}

// list is what a candidate needs.
func (r *ranker) list(c *candidates, i int) needs.List {
	b, panels := c.build(i), c.stands[c.list[i].stand].panels
	return needs.For(b, panels, handling.For(b, panels, r.brief.Handling))
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
			if !ok || r.settled(found, c.list[i].standing, i) {
				break
			}
			group := int(c.stands[c.list[i].stand].group)
			q.drop()
			if at, seen := groups[group]; seen && per && r.brief.Order.compare(found[at].standing, c.list[i].standing) < 0 {
				continue
			}
			batch = append(batch, exact{index: i, group: group})
		}
		if len(batch) == 0 {
			return found
		}
		r.work(c, batch)
		for _, e := range batch {
			if limit := r.brief.Limits.Budget; limit != nil && e.cost > limit.Micro() {
				c.overspent(e.index)
				continue
			}
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

// settled reports whether so many are found that nothing which stands so at best comes among
// the first.
func (r *ranker) settled(found []exact, best standing, index int) bool {
	return len(found) >= r.brief.Limit && r.compare(found[r.brief.Limit-1], exact{index: index, standing: best}) < 0
}

// work finds out what the candidates of a batch cost.
func (r *ranker) work(c *candidates, batch []exact) {
	r.each(len(batch), func(i int) {
		e := &batch[i]
		e.standing = c.list[e.index].standing
		e.cost = r.market.Total(r.list(c, e.index), r.labels).Micro()
	})
}

// queue gives candidates by where they can stand at best, and where that is the same the earlier
// candidate: a heap, because few of many are asked for.
type queue struct {
	list  []candidate
	order Order
	heap  []int32
}

func newQueue(c *candidates, o Order) *queue {
	q := &queue{list: c.list, order: o, heap: make([]int32, 0, c.priced)}
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
	return cmp.Or(q.order.compare(q.list[a].standing, q.list[b].standing), cmp.Compare(a, b)) < 0
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
