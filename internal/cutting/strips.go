package cutting

import (
	"cmp"
	"math"
	"slices"
)

// stripClass is one kind of strip: count of them in all, each of a width and a length, which is
// joined from pieces end to end.
type stripClass struct {
	width, length int64
	count         int
	upright       bool // runs up the panel
}

// part is a rectangle of a batt whose strips all run one way.
type part struct {
	long, wide int64 // along the length and the width of the batt
	lengthways bool  // the strips run along the length of the batt
	counts     [2]int
}

// piece is the length of each strip of the part.
func (p part) piece() int64 {
	if p.lengthways {
		return p.long
	}
	return p.wide
}

// pattern is a way of cutting a batt: by at most one straight cut into parts.
type pattern struct {
	parts []part
	gives [2]int64 // length of strip of each class
}

// Limits of the search for patterns and for the fewest of them, in steps. Convention: a
// millisecond or two; beyond them a plan may take more batts than the family could.
const (
	patternSteps = 20_000
	coverSteps   = 1_500
)

// patterns lists the ways of cutting a batt into strips that give more of one class for less
// of the other, the most of the first class first.
//
// The batt is cut at a sum of widths of strips, along or across, or not at all, and each part into
// parallel strips that run either way. Without turning upright strips run along the batt and
// the others across it. Source: costing_problem.md section 7.
func (b batt) patterns(classes []stripClass) []pattern {
	var front []pattern
	for _, o := range b.options(part{long: b.long, wide: b.wide}, classes) {
		front = append(front, pattern{[]part{o}, o.gives()})
	}
	steps := 0
	try := func(first, second part) {
		one, two := b.options(first, classes), b.options(second, classes)
		for _, p := range one {
			for _, q := range two {
				steps++
				x, y := p.gives(), q.gives()
				gives := [2]int64{x[0] + y[0], x[1] + y[1]}
				if !slices.ContainsFunc(front, func(f pattern) bool { return f.gives[0] >= gives[0] && f.gives[1] >= gives[1] }) {
					front = append(front, pattern{used(p, q), gives})
				}
			}
		}
		front = undominated(front)
	}
	for _, x := range positions(classes, b.long) {
		if steps < patternSteps {
			try(part{long: x, wide: b.wide}, part{long: b.long - x, wide: b.wide})
		}
	}
	for _, x := range positions(classes, b.wide) {
		if steps < patternSteps {
			try(part{long: b.long, wide: x}, part{long: b.long, wide: b.wide - x})
		}
	}
	return undominated(front)
}

// used are the parts of which strips are cut.
func used(parts ...part) []part {
	return slices.DeleteFunc(parts, func(p part) bool { return p.counts == [2]int{} })
}

// positions are the sums of widths of strips below an extent, ascending.
func positions(classes []stripClass, extent int64) []int64 {
	var list []int64
	first := classes[0].width
	for x := int64(0); x < extent; x += first {
		list = append(list, x)
		if len(classes) == 2 {
			for y := x + classes[1].width; y < extent; y += classes[1].width {
				list = append(list, y)
			}
		}
	}
	slices.Sort(list)
	return slices.Compact(list)[1:] // no cut at 0
}

// gives are the lengths of strip of each class that a part gives.
func (p part) gives() [2]int64 {
	return [2]int64{int64(p.counts[0]) * p.piece(), int64(p.counts[1]) * p.piece()}
}

// options lists the ways of cutting a part into parallel strips, without those that another
// one is as good as; the last one cuts nothing.
func (b batt) options(p part, classes []stripClass) []part {
	var list []part
	for _, lengthways := range []bool{true, false} {
		q := p
		q.lengthways = lengthways
		across := p.wide
		if !lengthways {
			across = p.long
		}
		if q.piece() < b.least {
			continue
		}
		fits := func(i int) bool { return i < len(classes) && (b.turn || classes[i].upright == lengthways) }
		most := 0
		if fits(0) {
			most = int(across / classes[0].width)
		}
		for n := most; n >= 0; n-- {
			q.counts = [2]int{n, 0}
			if fits(1) {
				q.counts[1] = int((across - int64(n)*classes[0].width) / classes[1].width)
			}
			if q.counts != [2]int{} {
				list = append(list, q)
			}
		}
	}
	slices.SortStableFunc(list, func(x, y part) int {
		return cmp.Or(cmp.Compare(y.gives()[0], x.gives()[0]), cmp.Compare(y.gives()[1], x.gives()[1]))
	})
	kept, most := list[:0], int64(-1)
	for _, q := range list {
		if g := q.gives(); g[1] > most {
			kept, most = append(kept, q), g[1]
		}
	}
	p.counts = [2]int{}
	return append(kept, p)
}

// undominated keeps the patterns that none other is as good as in both classes, the most of the
// first class first.
func undominated(list []pattern) []pattern {
	slices.SortStableFunc(list, func(x, y pattern) int {
		return cmp.Or(cmp.Compare(y.gives[0], x.gives[0]), cmp.Compare(y.gives[1], x.gives[1]), cmp.Compare(len(x.parts), len(y.parts)))
	})
	var kept []pattern
	most := int64(-1)
	for _, p := range list {
		if p.gives[1] > most {
			kept, most = append(kept, p), p.gives[1]
		}
	}
	return kept
}

// relaxed is the least sum of fractions of patterns that gives a demand: at most two of them, and
// what a unit of length of each class is worth, at which no pattern is worth more than 1.
type relaxed struct {
	sum   float64
	at    [2]int
	times [2]float64
	worth [2]float64
}

// relax finds it. Its sum is infinite where no pattern gives some class.
func relax(list []pattern, demand [2]int64) relaxed {
	best := relaxed{sum: math.Inf(1)}
	d0, d1 := float64(demand[0]), float64(demand[1])
	for i, p := range list {
		y0, y1 := float64(p.gives[0]), float64(p.gives[1])
		if alone := max(share(d0, y0), share(d1, y1)); alone < best.sum {
			best = relaxed{sum: alone, at: [2]int{i, i}, times: [2]float64{alone, 0}}
			if share(d0, y0) >= share(d1, y1) {
				best.worth[0] = share(1, y0)
			} else {
				best.worth[1] = share(1, y1)
			}
		}
		for j, q := range list[:i] {
			z0, z1 := float64(q.gives[0]), float64(q.gives[1])
			det := y0*z1 - y1*z0
			if det == 0 {
				continue
			}
			a, b := (d0*z1-d1*z0)/det, (y0*d1-y1*d0)/det
			if a >= 0 && b >= 0 && a+b < best.sum {
				best = relaxed{a + b, [2]int{i, j}, [2]float64{a, b}, [2]float64{(z1 - y1) / det, (y0 - z0) / det}}
			}
		}
	}
	return best
}

// share is how many times so much is needed for a demand.
func share(demand, gives float64) float64 {
	switch {
	case demand <= 0:
		return 0
	case gives == 0:
		return math.Inf(1)
	}
	return demand / gives
}

// batts is the least whole number of patterns that the relaxation allows; what is above a whole
// number by rounding does not count.
func (r relaxed) batts() int { return int(math.Ceil(r.sum - 1e-9)) }

// bulkBatts is the number of batts from which the bulk is not searched, and rests are how many of
// each pattern of the relaxation are left to the search, the fewer the less there is to search.
// Convention.
const bulkBatts = 16

var rests = []int{3, 0}

// fewest returns how often each pattern is used so that together they give the demand, with the
// fewest batts found, but no more than most. Of large demands, and where the search is cut short,
// the bulk is taken as the relaxation in fractions has it.
func fewest(list []pattern, demand [2]int64, most int) ([]int, bool) {
	r := relax(list, demand)
	if r.sum > float64(most) {
		return nil, false
	}
	var best []int
	for _, rest := range rests {
		times, left, taken := make([]int, len(list)), demand, 0
		if rest < rests[0] || r.sum >= bulkBatts {
			for k, at := range r.at {
				n := max(0, int(r.times[k])-rest)
				times[at] += n
				taken += n
				for c := range left {
					left[c] = max(0, left[c]-int64(n)*list[at].gives[c])
				}
			}
		}
		found, whole := finish(list, left, most-taken)
		if found == nil {
			continue
		}
		for _, c := range found {
			times[c]++
		}
		if taken+len(found) <= most {
			best, most = times, taken+len(found)-1
		}
		if whole && rest == rests[0] || best != nil && most < r.batts() {
			break
		}
	}
	return best, best != nil
}

// finish returns patterns that give a demand, at most so many: for each number from that of the
// relaxation on, level by level over the undominated sums that can still end in time. When
// coverSteps are used up it takes what comes, and whole is false. It is nil when there are none.
func finish(list []pattern, demand [2]int64, most int) (found []int, whole bool) {
	if demand == [2]int64{} {
		return []int{}, true
	}
	r, steps := relax(list, demand), 0
	for n := r.batts(); n <= most; n++ {
		if found := within(list, demand, n, r.worth, &steps); found != nil {
			return found, true
		}
		if steps > coverSteps {
			return greedy(list, demand, r.worth), false
		}
	}
	return nil, true
}

// greedy takes the pattern that is worth most of what is left, again and again.
func greedy(list []pattern, demand [2]int64, worth [2]float64) []int {
	var found []int
	for demand != [2]int64{} {
		best, most := 0, -1.0
		for c, p := range list {
			if w := worth[0]*float64(min(p.gives[0], demand[0])) + worth[1]*float64(min(p.gives[1], demand[1])); w > most && (min(p.gives[0], demand[0]) > 0 || min(p.gives[1], demand[1]) > 0) {
				best, most = c, w
			}
		}
		for k := range demand {
			demand[k] = max(0, demand[k]-list[best].gives[k])
		}
		found = append(found, best)
	}
	return found
}

// within returns n patterns that give the demand, nil when none do.
func within(list []pattern, demand [2]int64, n int, worth [2]float64, steps *int) []int {
	type state struct {
		sum    [2]int64
		from   int // index in the level before
		choice int
	}
	levels := [][]state{{{from: -1, choice: -1}}}
	for left := n; ; left-- {
		level := levels[len(levels)-1]
		for i, s := range level {
			if s.sum == demand {
				var found []int
				for k := len(levels) - 1; k > 0; k-- {
					found = append(found, levels[k][i].choice)
					i = levels[k][i].from
				}
				return found
			}
		}
		if left == 0 {
			return nil
		}
		var next []state
		for i, s := range level {
			for c, p := range list {
				if *steps++; *steps > coverSteps {
					return nil
				}
				sum := [2]int64{min(demand[0], s.sum[0]+p.gives[0]), min(demand[1], s.sum[1]+p.gives[1])}
				if worth[0]*float64(demand[0]-sum[0])+worth[1]*float64(demand[1]-sum[1]) <= float64(left-1)+1e-9 {
					next = append(next, state{sum, i, c})
				}
			}
		}
		slices.SortFunc(next, func(x, y state) int {
			return cmp.Or(cmp.Compare(y.sum[0], x.sum[0]), cmp.Compare(y.sum[1], x.sum[1]), cmp.Compare(x.from, y.from), cmp.Compare(x.choice, y.choice))
		})
		kept, most := next[:0], int64(-1)
		for _, s := range next {
			if s.sum[1] > most {
				kept, most = append(kept, s), s.sum[1]
			}
		}
		levels = append(levels, kept)
	}
}
