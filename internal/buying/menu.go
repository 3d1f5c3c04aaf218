package buying

import (
	"cmp"
	"math"
	"slices"
	"sort"
	"sync/atomic"

	"sabinbook/internal/money"
)

// menu is a need prepared for the search: per way, item and supplier what can be bought.
// It depends on the suppliers but not on the other needs.
type menu struct {
	ways  []menuWay
	slots []int32 // the suppliers that serve the need
	// table holds the cheapest way for each set of suppliers, as far as it has been asked
	// for; several searches may share a menu.
	table []atomic.Pointer[choice]
	lacks []Lack // when no way can be met

	packs  int64 // that a sensible plan has at most
	most   int64 // units of all packs worth trying, with any tax up to 100 %
	coarse bool  // some lists were thinned out
	floor  int64 // points that the need costs at least, whatever was thinned
	weighs bool  // some supplier charges by weight
	first  *Supplier
	strict bool // made for NoPadding
	worth  []int64
	ratio  []float64
}

type menuWay struct {
	way   int
	items []menuItem
}

type menuItem struct {
	item   int
	rest   int64
	stalls []stall
	strict bool // covers are checked for packs that can be taken away
	floor  float64
}

// stall is what a supplier has for an item.
type stall struct {
	supplier, slot int32
	shelves        []shelf // in order of ids
	entries        []entry // non-dominated, by falling cover
	covers, costs  []int64 // of them
	ratio          float64 // least cost of a unit of cover
}

// shelf is an offer with the numbers of packs worth trying: none, or lower to cover, and
// up to upper where the goods may serve a threshold.
type shelf struct {
	offer               *Offer
	index               int
	lower, cover, upper int
}

// entry is a number of packs of each offer of a stall.
type entry struct {
	covered int64 // capped at the rest, unless strict
	cost    int64 // points, packs counted
	fee     [2]int64
	load    load
	step    int64 // the least cover that a smaller number of packs would take away
	counts  []int32
}

// manyEntries bounds the lists of a stall; longer ones are thinned out and the answer is
// then not called optimal.
const manyEntries = 400_000

// Prepare works out what of a need does not depend on the other needs. Needs that are
// bought in many combinations are prepared once; the suppliers must be those of the problem.
func Prepare(currency money.Currency, suppliers []Supplier, n Need, noPadding bool) Need {
	minor := money.FromMinor(1, currency).Micro()
	if len(suppliers) == 0 || !n.whole(minor) {
		return n
	}
	c := usual(minor, minor)
	sellers := make([]seller, len(suppliers))
	for i := range suppliers {
		if !suppliers[i].whole(minor) {
			return n
		}
		sellers[i] = newSeller(&suppliers[i], &c)
	}
	n.menu = newMenu(&n, sellers, &c, noPadding)
	n.menu.first = &suppliers[0]
	return n
}

func (n *Need) whole(minor int64) bool {
	for w := range n.Ways {
		for i := range n.Ways[w].Items {
			for _, o := range n.Ways[w].Items[i].Offers {
				if !whole(o.Price, minor) || slices.ContainsFunc(o.Breaks, func(b Break) bool { return !whole(b.Price, minor) }) {
					return false
				}
			}
		}
	}
	return true
}

func newMenu(n *Need, sellers []seller, c *scale, noPadding bool) *menu {
	m := &menu{strict: noPadding, ways: make([]menuWay, 0, len(n.Ways))}
	slot := make([]int32, len(sellers))
	for i := range slot {
		slot[i] = -1
	}
	m.floor = math.MaxInt64
	var packs, most int64
	for w := range n.Ways {
		way := menuWay{way: w, items: make([]menuItem, 0, len(n.Ways[w].Items))}
		var lacks []Lack
		floor := 0.0
		for i := range n.Ways[w].Items {
			item := &n.Ways[w].Items[i]
			mi := menuItem{item: i, rest: item.rest()}
			if mi.rest <= 0 {
				continue
			}
			if lack := mi.shelve(item, sellers, c, noPadding); lack > 0 {
				lacks = append(lacks, Lack{Way: w, Item: i, Quantity: lack})
				continue
			}
			m.coarse = mi.list(sellers, c) || m.coarse
			floor += mi.floor * float64(mi.rest)
			for k := range mi.stalls {
				st := &mi.stalls[k]
				if slot[st.supplier] < 0 {
					slot[st.supplier] = int32(len(m.slots))
					m.slots = append(m.slots, st.supplier)
				}
				st.slot = slot[st.supplier]
				m.weighs = m.weighs || sellers[st.supplier].perKg > 0
				for _, sh := range st.shelves {
					packs += int64(sh.upper)
					most += dearest(sh.offer).Micro() / c.unit * 2 * int64(sh.upper)
				}
			}
			way.items = append(way.items, mi)
		}
		if len(lacks) == 0 {
			m.ways = append(m.ways, way)
			m.floor = min(m.floor, int64(floor*safe))
			m.most, m.packs = max(m.most, most), max(m.packs, packs)
		} else if len(m.lacks) == 0 {
			m.lacks = lacks
		}
		packs, most = 0, 0
	}
	m.measure(sellers, c)
	if len(m.slots) <= 8 && !m.weighs {
		m.table = make([]atomic.Pointer[choice], 1<<len(m.slots))
	}
	return m
}

// measure notes for each supplier how much worth it could get from the need and by how
// much worth exceeds what counts.
func (m *menu) measure(sellers []seller, c *scale) {
	m.worth, m.ratio = make([]int64, len(m.slots)), make([]float64, len(m.slots))
	for k := range m.ratio {
		m.ratio[k] = 1
	}
	for w := range m.ways {
		for i := range m.ways[w].items {
			for k := range m.ways[w].items[i].stalls {
				st := &m.ways[w].items[i].stalls[k]
				for _, sh := range st.shelves {
					m.worth[st.slot] += sh.worth(c)
					m.ratio[st.slot] = max(m.ratio[st.slot], sh.offer.ratio(c))
				}
			}
		}
	}
}

// worth is the most that a line of the shelf can count towards a threshold: more packs may
// count less where the price falls.
func (sh *shelf) worth(c *scale) int64 {
	_, most := c.line(sh.offer, sh.upper)
	for _, b := range sh.offer.Breaks {
		if b.From > sh.lower && b.From <= sh.upper {
			_, before := c.line(sh.offer, b.From-1)
			most = max(most, before)
		}
	}
	return most
}

// ratio is how often worth contains what counts, at most, in any line of the offer: with
// tax by 1 + bp, and half a unit of rounding on the least line.
func (o *Offer) ratio(c *scale) float64 {
	if ShopTax(o.Tax) == o.Tax {
		return 1
	}
	least := o.Price.Micro()
	for _, b := range o.Breaks {
		least = min(least, b.Price.Micro())
	}
	gross, _ := c.line(&Offer{Price: money.FromMicro(least, o.Price.Currency()), Tax: o.Tax, TaxBP: o.TaxBP}, 1)
	if gross <= 0 {
		return math.Inf(1)
	}
	return (1 + float64(o.TaxBP)/10_000) * (1 + 0.5/float64(gross))
}

// safe lowers a bound by more than floating point can have raised it.
const safe = 1 - 1e-12

// shelve finds the offers that can serve the item, and returns what they lack to cover it.
// Source: costing_problem.md sections 2.1, 2.3 and 3.1 (pack bound).
func (mi *menuItem) shelve(item *Item, sellers []seller, c *scale, noPadding bool) int64 {
	at := make([]int32, len(sellers))
	lack := mi.rest
	order := make([]int, len(item.Offers))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int {
		return cmp.Or(cmp.Compare(item.Offers[a].ID, item.Offers[b].ID), cmp.Compare(a, b))
	})
	for _, i := range order {
		o := &item.Offers[i]
		s := &sellers[o.Supplier]
		if !s.open() || o.Pack <= 0 {
			continue
		}
		sh := shelf{offer: o, index: i, lower: max(1, o.MinPacks)}
		most := math.MaxInt
		if o.MaxPacks > 0 {
			most = o.MaxPacks
		}
		sh.cover = min(max(int(ceilDiv(mi.rest, o.Pack)), sh.lower), most)
		if sh.lower > most || !inReach(dearest(o), sh.cover) {
			continue
		}
		sh.upper = sh.cover
		if !noPadding {
			for _, b := range o.Breaks {
				if b.From > sh.upper && b.From <= most && inReach(dearest(o), b.From) {
					sh.upper = b.From
				}
			}
			if s.can[free] {
				sh.upper = sh.padded(s, c, most)
			}
		} else {
			// A lower price from some number of packs on may make a smaller line dearer.
			for _, b := range o.Breaks {
				if b.From > sh.lower && b.From <= sh.cover {
					before, _ := c.line(o, b.From-1)
					after, _ := c.line(o, b.From)
					mi.strict = mi.strict || before >= after
				}
			}
		}
		if at[o.Supplier] == 0 {
			mi.stalls = append(mi.stalls, stall{supplier: int32(o.Supplier)})
			at[o.Supplier] = int32(len(mi.stalls))
		}
		st := &mi.stalls[at[o.Supplier]-1]
		st.shelves = append(st.shelves, sh)
		lack -= min(lack, mulDiv(int64(sh.cover), o.Pack, 1))
	}
	return lack
}

func dearest(o *Offer) money.Amount {
	p := o.Price
	for _, b := range o.Breaks {
		if b.Price.Micro() > p.Micro() {
			p = b.Price
		}
	}
	return p
}

// padded raises the number of packs that covers the need and earns the last break to the
// least with which the line alone reaches the threshold, but not beyond what costs more
// than the fee it saves.
func (sh *shelf) padded(s *seller, c *scale, most int) int {
	n := sh.upper
	start, worth := c.line(sh.offer, n)
	unit := sh.offer.UnitPrice(n).Micro() / c.unit
	if worth >= s.freeFrom || unit <= 0 || n >= most {
		return n
	}
	up := n + int(min((s.freeFrom-worth)/unit+1, 1<<40))
	fee := s.fee
	if s.covers && s.perKg > 0 || sh.offer.TaxBP > 10_000 {
		fee = math.MaxInt64 / 4 // what is saved is not known
	}
	up = min(up, n+int(min(fee/unit*2+2, 1<<40)), most)
	for up > n && !inReach(sh.offer.UnitPrice(n), up) {
		up = n + (up-n)/2
	}
	enough := func(i int) bool {
		gross, worth := c.line(sh.offer, n+1+i)
		return worth >= s.freeFrom || gross-start > fee
	}
	return min(up, n+1+sort.Search(up-n, enough))
}
