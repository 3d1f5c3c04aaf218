package buying

import (
	"sabinbook/internal/money"
)

// mode is what a node of the search says about a supplier.
type mode int8

const (
	undecided mode = iota
	closed         // nothing is bought there
	collected
	paid // delivered for the fee
	free // delivered, with goods that reach the threshold
	modes
)

// seller is a supplier in units of the scale.
type seller struct {
	id                         string
	delivers, collects         bool
	trip, fee, perKg, freeFrom int64
	threshold                  bool // delivery becomes cheaper from freeFrom on
	covers                     bool // the threshold waives the fee by weight too
	byMass, bySize             bool // which of them the fee by weight looks at
	delivery                   Delivery

	can   [modes]bool  // the modes worth trying
	fixed [modes]int64 // points of an order in each
	least int64        // of fixed, but for free
	// light says that some mode charges nothing by weight.
	light bool
	basis int8    // of the fee by weight in bounds: 0 mass, 1 size
	ratio float64 // worth of goods by what they count, at most
	total int64   // worth of all that the problem could ask for there
}

// newSeller prepares a supplier. Modes that another one makes pointless are left out:
// collecting where delivery costs no more, paying where collecting costs no more.
// Source: costing_problem.md section 3.1.
func newSeller(sup *Supplier, c *scale) seller {
	s := seller{id: sup.ID, ratio: 1}
	if sup.Trip != nil && inReach(*sup.Trip, 1) {
		s.collects, s.trip = true, sup.Trip.Micro()/c.unit
	}
	if d := sup.Delivery; d != nil && inReach(d.Fee, 1) {
		s.delivers, s.delivery = true, *d
		s.fee, s.perKg, s.covers = d.Fee.Micro()/c.unit, max(0, min(d.PerKg.Micro(), outOfReach))/c.unit, d.FreeCoversWeight
		if d.FreeFrom != nil {
			s.threshold, s.freeFrom = true, d.FreeFrom.Micro()/c.unit
		}
	}
	if s.threshold && s.freeFrom <= 0 {
		s.threshold, s.fee = false, 0
		if s.covers {
			s.perKg = 0
		}
	}
	if s.perKg > 0 {
		s.byMass = s.delivery.Basis != DimensionalWeight
		s.bySize = s.delivery.Basis != ActualWeight && s.delivery.Divisor > 0
	}
	s.can[collected] = s.collects && !(s.delivers && s.fee <= s.trip && s.perKg == 0)
	s.can[paid] = s.delivers && !(s.collects && (s.trip < s.fee || s.trip == s.fee && s.perKg > 0))
	s.can[free] = s.threshold && (s.fee > 0 || s.covers && s.perKg > 0) && !(s.collects && s.trip == 0)
	s.fixed[collected] = s.trip*c.cash + c.supplier
	s.fixed[paid] = s.fee*c.cash + c.supplier
	s.fixed[free] = c.supplier
	s.least = s.fixed[paid]
	if !s.can[paid] || s.can[collected] && s.fixed[collected] < s.least {
		s.least = s.fixed[collected]
	}
	s.light = s.can[collected] || s.can[free] && s.covers
	return s
}

// without drops the threshold, which is out of reach.
func (s *seller) without() {
	s.can[free] = false
	s.light = s.can[collected]
}

func (s *seller) open() bool { return s.delivers || s.collects }

// weighs reports whether an order in a mode pays by weight.
func (s *seller) weighs(m mode) bool {
	return s.perKg > 0 && (m == paid || m == free && !s.covers || m == undecided && !s.light)
}

// byWeight returns the linear parts of the fee in points, by mass and by size: what the
// started kilograms come to at least.
func (s *seller) byWeight(grams, volume int64, c *scale) (fee [2]int64) {
	if s.byMass {
		fee[0] = mulDiv(s.perKg*c.cash, grams, 1000)
	}
	if s.bySize {
		fee[1] = mulDiv(s.perKg*c.cash, volume, s.delivery.Divisor)
	}
	return fee
}

// load is what an order holds; the zero load is no order.
type load struct {
	packs         int64
	gross, worth  int64 // as it counts; with tax
	grams, volume int64
}

// order returns the cheaper way of getting an order; on equal cost delivery.
func (s *seller) order(l load) (fee, charged int64, m Mode) {
	if s.delivers {
		kg := s.delivery.Charged(l.grams, l.volume)
		cost, weight := s.fee, s.kilograms(kg)
		if s.threshold && l.worth >= s.freeFrom {
			cost = 0
			if s.covers {
				weight = 0
			}
		}
		if cost += weight; !s.collects || cost <= s.trip {
			return cost, kg, Deliver
		}
	}
	return s.trip, 0, Collect
}

// kilograms is the fee for so many of them, cut off at 2^34 units.
func (s *seller) kilograms(kg int64) int64 {
	if kg > 0 && s.perKg > tooMuch/kg>>20 {
		return tooMuch >> 20
	}
	return s.perKg * kg
}

// whole reports whether an amount is a whole number of minor units.
func whole(a money.Amount, minor int64) bool { return a.Micro()%minor == 0 }

func (sup *Supplier) whole(minor int64) bool {
	if sup.Trip != nil && !whole(*sup.Trip, minor) {
		return false
	}
	d := sup.Delivery
	return d == nil || whole(d.Fee, minor) && whole(d.PerKg, minor) && (d.FreeFrom == nil || whole(*d.FreeFrom, minor))
}
