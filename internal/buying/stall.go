package buying

import (
	"cmp"
	"math"
	"math/bits"
	"slices"
)

// list works out the entries of each stall: all numbers of packs of its offers of which
// no other is better in every respect. It reports whether lists were thinned out.
// Source: costing_problem.md section 3.1 (solo lists).
func (mi *menuItem) list(sellers []seller, c *scale) (coarse bool) {
	mi.floor = math.Inf(1)
	alone := len(mi.stalls) == 1
	var scratch []mixture
	for k := range mi.stalls {
		st := &mi.stalls[k]
		s := &sellers[st.supplier]
		limits := st.exchanges(s, c)
		first, last := true, 0
		for j := range limits {
			if limits[j] >= st.shelves[j].lower {
				last = j
			}
		}
		for j := range st.shelves {
			if limits[j] < st.shelves[j].lower {
				continue
			}
			b := blend{mi: mi, stall: st, shelf: j, seller: s, scale: c, complete: alone && j == last, limit: limits[j], list: scratch[:0]}
			b.numbers(first)
			if first {
				b.begin()
			} else {
				b.mix()
			}
			first = false
			coarse = coarse || b.thinned
			scratch = b.list
		}
		if alone {
			st.entries = slices.DeleteFunc(st.entries, func(e entry) bool { return e.covered < mi.rest })
		}
		// The greatest covers first: the search for a cover meets good ones early.
		if len(st.shelves) == 1 && len(st.shelves[0].offer.Breaks) == 0 {
			slices.Reverse(st.entries)
		} else {
			slices.SortFunc(st.entries, func(a, b entry) int {
				return cmp.Or(cmp.Compare(b.covered, a.covered), cmp.Compare(a.cost, b.cost), compareCounts(a.counts, b.counts))
			})
		}
		st.ratio = math.Inf(1)
		numbers := make([]int64, 2*len(st.entries))
		st.covers, st.costs = numbers[:len(st.entries)], numbers[len(st.entries):]
		for i := range st.entries {
			e := &st.entries[i]
			st.covers[i], st.costs[i] = e.covered, e.cost
			st.ratio = min(st.ratio, float64(e.cost)/float64(min(e.covered, mi.rest)))
		}
		mi.floor = min(mi.floor, st.ratio)
	}
	return coarse
}

// exchanges returns how many packs of each shelf are worth trying beside the others. Where
// two offers cost in proportion and one is dearer for the same content, so many packs of
// the dearer that the cheaper one can replace them are never best.
func (st *stall) exchanges(s *seller, c *scale) []int {
	limits := make([]int, len(st.shelves))
	for j := range limits {
		limits[j] = math.MaxInt
	}
	if s.perKg > 0 {
		return limits
	}
	even := func(o *Offer) bool {
		return len(o.Breaks) == 0 && o.MinPacks <= 1 && (o.Tax == AsListed || o.Tax == BeforeTax)
	}
	for j := range st.shelves {
		for k := range st.shelves {
			a, b := st.shelves[k].offer, st.shelves[j].offer // a is to replace b
			if j == k || !even(a) || !even(b) || a.MaxPacks > 0 {
				continue
			}
			costA, costB := a.Price.Micro()/c.unit*c.cash+c.pack, b.Price.Micro()/c.unit*c.cash+c.pack
			hiA, loA := bits.Mul64(uint64(costA), uint64(b.Pack))
			hiB, loB := bits.Mul64(uint64(costB), uint64(a.Pack))
			if hiA < hiB || hiA == hiB && loA < loB {
				limits[j] = int(min(int64(limits[j]), a.Pack/gcd(a.Pack, b.Pack)-1))
			}
		}
	}
	return limits
}

func gcd(a, b int64) int64 {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// blend puts the numbers of packs of a shelf beside the entries so far.
type blend struct {
	mi       *menuItem
	stall    *stall
	shelf    int
	seller   *seller
	scale    *scale
	complete bool // only covers of the whole item are of use
	limit    int
	packs    []int
	lines    []entry // of the packs alone
	list     []mixture
	thinned  bool
}

// mixture is an entry in the making: one of the entries so far with one of the lines.
type mixture struct {
	covered, cost, step, grams, volume int64
	entry, line                        int32
}

// numbers works out the lines that are worth trying.
func (b *blend) numbers(first bool) {
	sh := &b.stall.shelves[b.shelf]
	from, cover, step := sh.lower, min(sh.cover, b.limit), 1
	if b.complete && first { // it must cover alone
		from = max(from, cover)
	} else if room := manyEntries / max(1, len(b.stall.entries)); cover-from > room {
		step, b.thinned = (cover-from)/max(1, room)+1, true
	}
	b.packs = make([]int, 0, (cover-from)/step+2+len(sh.offer.Breaks))
	for n := from; n < cover; n += step {
		b.packs = append(b.packs, n)
	}
	b.packs = append(b.packs, cover)
	for _, br := range sh.offer.Breaks {
		if br.From > cover && br.From <= sh.upper {
			b.packs = append(b.packs, br.From)
		}
	}
	b.lines = make([]entry, len(b.packs))
	for i, n := range b.packs {
		gross, worth := b.scale.line(sh.offer, n)
		e := &b.lines[i]
		e.covered, e.cost, e.step = int64(n)*sh.offer.Pack, gross*b.scale.cash+int64(n)*b.scale.pack, sh.offer.Pack
		if !b.mi.strict {
			e.covered = min(e.covered, b.mi.rest)
		}
		if n == sh.lower {
			e.step = int64(n) * sh.offer.Pack
		}
		e.load = load{packs: int64(n), gross: gross, worth: worth}
		if b.seller.byMass {
			e.load.grams = int64(n) * sh.offer.Grams
		}
		if b.seller.bySize {
			e.load.volume = int64(n) * sh.offer.Volume
		}
		e.fee = b.seller.byWeight(e.load.grams, e.load.volume, b.scale)
	}
}

// begin takes the lines of the first shelf as entries.
func (b *blend) begin() {
	n := len(b.stall.shelves)
	arena := make([]int32, n*len(b.lines))
	for i := range b.lines {
		b.lines[i].counts = arena[i*n : i*n+n : i*n+n]
		b.lines[i].counts[b.shelf] = int32(b.packs[i])
	}
	b.stall.entries = b.lines
	if len(b.stall.shelves[b.shelf].offer.Breaks) > 0 {
		for i := range b.lines {
			l := &b.lines[i]
			b.list = append(b.list, mixture{l.covered, l.cost, l.step, l.load.grams, l.load.volume, -1, int32(i)})
		}
		b.settle()
	}
}

// mix makes every mixture of an entry and a line, and keeps the undominated ones.
func (b *blend) mix() {
	rest := b.mi.rest
	for i := range b.stall.entries {
		e := &b.stall.entries[i]
		b.list = append(b.list, mixture{e.covered, e.cost, e.step, e.load.grams, e.load.volume, int32(i), -1})
	}
	for j := range b.lines {
		l := &b.lines[j]
		b.list = append(b.list, mixture{l.covered, l.cost, l.step, l.load.grams, l.load.volume, -1, int32(j)})
		for i := range b.stall.entries {
			e := &b.stall.entries[i]
			m := mixture{e.covered + l.covered, e.cost + l.cost, min(e.step, l.step), e.load.grams + l.load.grams, e.load.volume + l.load.volume, int32(i), int32(j)}
			if e.covered >= rest || l.covered >= rest || b.complete && m.covered < rest {
				continue
			}
			if !b.mi.strict {
				m.covered = min(m.covered, rest)
			}
			b.list = append(b.list, m)
		}
	}
	b.settle()
}

// settle turns the undominated mixtures into entries.
func (b *blend) settle() {
	slices.SortFunc(b.list, func(x, y mixture) int {
		if x.cost != y.cost {
			return cmp.Compare(x.cost, y.cost)
		}
		return cmp.Or(cmp.Compare(y.covered, x.covered), compareCounts(b.counts(x), b.counts(y)))
	})
	kept := b.list[:0]
next:
	for _, m := range b.list {
		for k := len(kept) - 1; k >= 0; k-- {
			if b.dominates(&kept[k], &m) {
				continue next
			}
		}
		kept = append(kept, m)
	}
	entries := make([]entry, len(kept))
	for i, m := range kept {
		counts := b.counts(m)
		switch {
		case m.line < 0:
			entries[i] = b.stall.entries[m.entry]
		case m.entry < 0:
			entries[i] = b.lines[m.line]
		default:
			e, l := &b.stall.entries[m.entry], &b.lines[m.line]
			entries[i] = entry{covered: m.covered, cost: m.cost, step: m.step, load: e.load.add(l.load)}
			entries[i].fee = b.seller.byWeight(entries[i].load.grams, entries[i].load.volume, b.scale)
		}
		entries[i].counts = counts
	}
	b.list, b.stall.entries = kept, entries
}

func (b *blend) counts(m mixture) []int32 {
	counts := make([]int32, len(b.stall.shelves))
	if m.entry >= 0 {
		copy(counts, b.stall.entries[m.entry].counts)
	}
	if m.line >= 0 {
		counts[b.shelf] = int32(b.packs[m.line])
	}
	return counts
}

// dominates reports whether x is no worse than y in any respect, which comes later in the
// order of cost. On equal cost the ids count, because they may decide between plans.
func (b *blend) dominates(x, y *mixture) bool {
	if x.covered < y.covered || x.grams > y.grams || x.volume > y.volume {
		return false
	}
	if b.mi.strict && (x.covered != y.covered || x.step < y.step) {
		return false
	}
	return x.cost < y.cost || compareCounts(b.counts(*x), b.counts(*y)) <= 0
}

func (l load) add(m load) load {
	return load{l.packs + m.packs, l.gross + m.gross, l.worth + m.worth, l.grams + m.grams, l.volume + m.volume}
}

// compareCounts orders numbers of packs by ids: of two the better one has more packs of the
// first offer in which they differ. Source: costing_problem.md section 2.2, level 4.
func compareCounts(a, b []int32) int {
	for i := range a {
		if a[i] != b[i] {
			return cmp.Compare(b[i], a[i])
		}
	}
	return 0
}
