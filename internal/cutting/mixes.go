package cutting

import "slices"

// mixSteps bounds the work of Mixes. Convention: some ten milliseconds.
const mixSteps = 5_000_000

// Mixes lists the numbers of boards of each stock with which the bars can be cut, no more than
// there are: all that are least, so that with one board fewer of any stock they cannot. Which
// of them is cheapest depends on packs and shops; prices in the stock do not count.
//
// It knows one or two lengths of bars, and says false when it does not list all: with more
// lengths of bars, when there are more than most, or when its work is done.
// Source: costing_problem.md section 4.
func Mixes(bars []Bar, stock []Stock, rules BoardRules, most int) (mixes [][]int, all bool) {
	m := newMixer(bars, stock, rules)
	if len(m.tooLong) > 0 || len(m.weight) > 2 {
		return nil, false
	}
	if len(m.weight) == 0 {
		return [][]int{make([]int, len(stock))}, true
	}
	counts := make([]int, len(stock))
	m.enumerate(len(stock)-1, m.nothing(), counts, &mixes)
	all = m.steps <= mixSteps
	mixes = slices.DeleteFunc(mixes, func(x []int) bool {
		return slices.ContainsFunc(mixes, func(y []int) bool { return !slices.Equal(x, y) && covers(x, y) })
	})
	if len(mixes) > most {
		return mixes[:most], false
	}
	return mixes, all
}

// covers reports whether x has as many of each as y.
func covers(x, y []int) bool {
	for i := range x {
		if x[i] < y[i] {
			return false
		}
	}
	return true
}

// CutMix plans how the bars are cut from so many boards of each stock; false when they cannot be
// or Mixes does not know them. Boards that are not needed are left out.
func CutMix(bars []Bar, stock []Stock, counts []int, rules BoardRules) (BoardPlan, bool) {
	m := newMixer(bars, stock, rules)
	if len(m.tooLong) > 0 || len(m.weight) > 2 || len(m.weight) == 0 {
		return BoardPlan{}, false
	}
	at := m.nothing()
	type step struct {
		stock  int
		before []int
	}
	var made []step
	for i, n := range counts {
		for range n {
			if m.done(at) {
				break
			}
			made, at = append(made, step{i, at}), m.add(at, i)
		}
	}
	if !m.done(at) {
		return BoardPlan{}, false
	}
	var cuts []cut
	s, left := m.count[0], m.second()
	for k := len(made) - 1; k >= 0; k-- {
		b := made[k]
		best, gain := 0, none
		for a := 0; a < len(m.gains[b.stock]); a++ { // the choice that add made
			if from := b.before[max(0, s-a)]; from != none && from+m.gains[b.stock][a] > gain {
				best, gain = a, from+m.gains[b.stock][a]
			}
		}
		c := cut{stock: b.stock, pieces: []int{min(best, s)}}
		s = max(0, s-best)
		if len(m.weight) == 2 {
			n := min(m.gains[b.stock][best], left)
			c.pieces, left = append(c.pieces, n), left-n
		}
		if slices.Max(c.pieces) > 0 {
			cuts = append(cuts, c)
		}
	}
	return m.plan(cuts, Feasible), true
}

// mixer holds what Mixes computes with, see boards.columns: with s pieces of the first length a
// state tells how many of the second can be had.
type mixer struct {
	*boards
	gains [][]int // by stock: with a of the first length how many of the second it holds
	steps int
}

const none = -1

func newMixer(bars []Bar, stock []Stock, rules BoardRules) *mixer {
	m := &mixer{boards: newBoards(bars, stock, rules)}
	for i := range stock {
		if len(m.weight) == 0 {
			break
		}
		gain := []int{}
		for a := 0; a <= m.count[0] && int64(a)*m.weight[0] <= m.cap[i]; a++ {
			g := 0
			if len(m.weight) == 2 {
				g = int((m.cap[i] - int64(a)*m.weight[0]) / m.weight[1])
			}
			gain = append(gain, g)
		}
		m.gains = append(m.gains, gain)
	}
	return m
}

func (m *mixer) second() int {
	if len(m.weight) == 2 {
		return m.count[1]
	}
	return 0
}

func (m *mixer) nothing() []int {
	at := make([]int, m.count[0]+1)
	for s := 1; s < len(at); s++ {
		at[s] = none
	}
	return at
}

func (m *mixer) done(at []int) bool {
	return at[m.count[0]] != none && at[m.count[0]] >= m.second()
}

// add is the state with one more board of a length.
func (m *mixer) add(at []int, stock int) []int {
	next := make([]int, len(at))
	for s := range next {
		next[s] = none
		for a, g := range m.gains[stock] {
			if from := at[max(0, s-a)]; from != none {
				next[s] = max(next[s], min(from+g, m.second()))
			}
		}
	}
	m.steps += len(next) * len(m.gains[stock])
	return next
}

// enumerate lists the numbers of boards of this and the earlier stocks that finish a state. Of
// the first stock the least number is taken.
func (m *mixer) enumerate(stock int, at []int, counts []int, mixes *[][]int) {
	counts[stock] = 0
	for {
		if m.done(at) {
			clear(counts[:stock])
			*mixes = append(*mixes, slices.Clone(counts))
			return
		}
		if stock > 0 {
			m.enumerate(stock-1, at, counts, mixes)
		}
		if m.steps > mixSteps || m.stock[stock].Max > 0 && counts[stock] == m.stock[stock].Max {
			return
		}
		next := m.add(at, stock)
		if slices.Equal(next, at) { // this length holds none of what is left
			return
		}
		at = next
		counts[stock]++
	}
}
