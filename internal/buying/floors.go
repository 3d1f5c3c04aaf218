package buying

import (
	"sabinbook/internal/money"
)

// Floors bounds from below what problems of the same suppliers cost, need by need: the sum of
// the floors of the needs of a problem is no more than the cash of its best plan. So thousands
// of problems that share needs can be told apart without being solved.
//
// It is the Lagrangian bound of section 3.2 of costing_problem.md with multipliers that were
// found for one problem and stay: a share of each supplier's fee is charged to each class of
// needs. They are valid for every problem with at most one need of each class, and close for
// those that resemble the one they were found for.
//
// A Floors is for one goroutine at a time.
type Floors struct {
	currency money.Currency
	first    *Supplier
	strict   bool
	scale    scale
	sellers  []seller
	charges  map[string][]int64 // by class, per supplier
	sums     []int64            // of the charges of all classes, per supplier
	rates    rates
	coverer  coverer
	slots    []int64 // scratch
}

// NewFloors finds the multipliers for a problem, whose needs are of the classes. Without needs
// the floors are those of goods alone.
func NewFloors(p Problem, classes []string) *Floors {
	s := newSearch(p)
	minor := money.FromMinor(1, p.Currency).Micro()
	f := &Floors{currency: p.Currency, strict: p.NoPadding, scale: usual(minor, minor), charges: map[string][]int64{},
		sellers: make([]seller, len(p.Suppliers)), sums: make([]int64, len(p.Suppliers)), rates: newRates(len(p.Suppliers))}
	for i := range p.Suppliers {
		if !p.Suppliers[i].whole(minor) {
			return f // no scale of minor units: nothing is bounded
		}
		f.sellers[i] = newSeller(&p.Suppliers[i], &f.scale)
	}
	if len(p.Suppliers) > 0 {
		f.first = &p.Suppliers[0]
	}
	for i := range f.sellers {
		f.rates.weighs[i] = f.sellers[i].weighs(undecided)
	}
	if len(s.needs) == 0 || s.scale != f.scale {
		return f
	}
	s.run()
	nd := &node{modes: s.newModes(nil), next: -1, terms: s.start()}
	s.labels, s.coverer.steps = 0, 0
	s.climb(nd, floorSteps, false)
	at := 0
	for n, m := range s.menus {
		class := f.charges[classes[s.needs[n]]]
		if class == nil {
			class = make([]int64, len(f.sellers))
			f.charges[classes[s.needs[n]]] = class
		}
		for k, supplier := range m.slots {
			c := min(max(0, int64(nd.terms.charges[at+k])), f.most(supplier)-f.sums[supplier])
			class[supplier] += c
			f.sums[supplier] += c
		}
		at += len(m.slots)
	}
	return f
}

// mostRatio is how often the worth of goods contains what counts, at most, for lines of one
// minor unit or more and tax of up to 100 %.
const mostRatio = 3

// most is what all charges of a supplier may add up to: its least fee, and no more than its
// threshold, so that nothing is paid back.
func (f *Floors) most(at int32) int64 {
	seller := &f.sellers[at]
	if !seller.can[free] {
		return seller.least
	}
	return min(seller.least, int64(float64(seller.freeFrom)*float64(f.scale.cash)/mostRatio))
}

// floorSteps is how many subgradient steps the multipliers take. Convention.
const floorSteps = 150

// Of returns what a need of a class adds to any plan at least; nothing for a need that was not
// prepared with the suppliers of the floors. It is false for a need that cannot be met.
func (f *Floors) Of(class string, n Need) (money.Amount, bool) {
	zero := money.Zero(f.currency)
	m := n.menu
	if f.first == nil || m == nil || m.first != f.first || m.strict != f.strict {
		return zero, true
	}
	charges, back := f.charges[class], int64(0)
	f.slots = f.slots[:0]
	for k, at := range m.slots {
		seller := &f.sellers[at]
		charge := int64(0)
		if charges != nil {
			charge = charges[at]
		}
		f.slots = append(f.slots, charge)
		f.rates.factor[at] = one
		// The factor of section 3.2 with all charges of the supplier, as in lagrange.bound, and
		// how often worth contains the goods of this need.
		if seller.can[free] && f.sums[at] > 0 {
			if m.ratio[k] > mostRatio { // all that is charged anywhere may be waived
				f.rates.factor[at], f.slots[k] = 0, 0
				back += f.sums[at]
				continue
			}
			discount := float64(f.sums[at]) * m.ratio[k] / (float64(seller.freeFrom) * float64(f.scale.cash))
			f.rates.factor[at] = max(0, int64(float64((1-discount)*one)*safe)-1)
		}
	}
	f.coverer.cut = false
	points, ok := m.bound(f.sellers, &f.rates, f.slots, &f.coverer, nil, nil)
	if !ok {
		return zero, len(m.ways) > 0
	}
	if f.coverer.cut || m.coarse {
		points = m.floor
	}
	points -= back
	if points < 0 { // rounded down, also below nothing
		points -= f.scale.cash - 1
	}
	return money.FromMicro(points/f.scale.cash*f.scale.unit, f.currency), true
}
