package ranking

import (
	"cmp"

	"sabinbook/internal/units"
)

// Order is what options are ordered by. Options that are alike in it are ordered by absorption,
// cost and minutes, so that none stands before another that is better in one of them and no
// worse in the others.
type Order string

// The orders.
const (
	ByAbsorptionPerCost Order = "absorption_per_cost" // most absorption area for one currency unit first
	ByCost              Order = "cost"                // least total first
	ByAbsorption        Order = "absorption"          // most absorption area first
	ByBurden            Order = "burden"              // fewest extra minutes first; unknown last
	ByCostToTarget      Order = "cost_to_target"      // as ByCost, of as many panels as the room takes
)

var orders = []string{string(ByAbsorptionPerCost), string(ByCost), string(ByAbsorption), string(ByBurden), string(ByCostToTarget)}

// standing is what options are compared by.
type standing struct {
	area    units.Area
	cost    int64 // micro-units, or a sum below which the cost cannot be
	minutes units.Minutes
	known   bool // the minutes are
}

func (o Option) standing() standing {
	s := standing{area: o.Area, minutes: o.Burden.Total, known: o.Burden.Known}
	if o.Cost.Total != nil {
		s.cost = o.Cost.Total.Micro()
	}
	return s
}

// compare returns a negative number when a comes before b. To cost less never puts an option
// farther back: with a sum below which its cost cannot be it stands where it can stand at best.
func (o Order) compare(a, b standing) int {
	area, cost, minutes := cmp.Compare(b.area, a.area), cmp.Compare(a.cost, b.cost), byMinutes(a, b)
	switch o {
	case ByCost, ByCostToTarget:
		return cmp.Or(cost, area, minutes)
	case ByAbsorption:
		return cmp.Or(area, cost, minutes)
	case ByBurden:
		return cmp.Or(minutes, cost, area)
	}
	return cmp.Or(byAreaPerCost(a, b), area, minutes)
}

func byMinutes(a, b standing) int {
	switch {
	case a.known && b.known:
		return cmp.Compare(a.minutes, b.minutes)
	case a.known:
		return -1
	case b.known:
		return 1
	}
	return 0
}

// byAreaPerCost puts what costs nothing before everything that costs something.
func byAreaPerCost(a, b standing) int {
	switch free := a.cost <= 0; {
	case free != (b.cost <= 0):
		if free {
			return -1
		}
		return 1
	case free:
		return 0
	}
	return cmp.Compare(areaPerCost(b.area, b.cost), areaPerCost(a.area, a.cost))
}

// areaPerCost is absorption area for one currency unit.
func areaPerCost(area units.Area, micro int64) float64 { return float64(area) / (float64(micro) / 1e6) }

// beats reports whether a is no worse than b in absorption, cost and minutes, and better in one.
func (a standing) beats(b standing) bool {
	minutes := byMinutes(a, b)
	return a.area >= b.area && a.cost <= b.cost && minutes <= 0 && (a.area > b.area || a.cost < b.cost || minutes < 0)
}
