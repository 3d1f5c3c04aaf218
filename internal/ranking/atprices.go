package ranking

import (
	"cmp"
	"slices"

	"sabinbook/internal/catalog"
	"sabinbook/internal/costing"
	"sabinbook/internal/needs"
)

// Race are options of an answer, to be asked in which order they stand when one price is another one.
type Race struct {
	brief   Brief
	options []Option
	lists   []needs.List
	market  *costing.Market
}

// NewRace returns the options of an answer to a snapshot as a race.
func NewRace(s catalog.Snapshot, answer Result) *Race {
	r := &Race{brief: answer.Brief, options: answer.Options, market: costing.NewMarket(s, answer.Brief.Terms)}
	for _, o := range r.options {
		r.lists = append(r.lists, needs.For(o.Build, o.Panels, o.Burden))
	}
	r.in(r.market) // what they share is worked out once
	return r
}

// With returns all options with what they cost when an offer that has a price has this one: those
// with a place in their order, then those over the budget, without one. Nothing else of them changes.
func (r *Race) With(price catalog.Price) []Option { return r.in(r.market.With(price)) }

func (r *Race) in(market *costing.Market) []Option {
	var placed, over []Option
	for i, o := range r.options {
		o.Place, o.Cost = 0, market.CostWithin(r.lists[i], rankedLabels)
		if limit := r.brief.Limits.Budget; o.Cost.Total == nil || limit != nil && o.Cost.Total.Cmp(*limit) > 0 {
			over = append(over, o)
		} else {
			placed = append(placed, o)
		}
	}
	slices.SortFunc(placed, func(a, b Option) int {
		x, y := a.Build, b.Build
		return cmp.Or(r.brief.Order.compare(a.standing(), b.standing()), compareBySlug(x.Fill.Meta, y.Fill.Meta), cmp.Compare(x.Thickness, y.Thickness),
			cmp.Compare(x.Layers, y.Layers), cmp.Compare(x.AskedGap, y.AskedGap), compareBySlug(x.Fabric.Meta, y.Fabric.Meta))
	})
	for i := range placed {
		placed[i].Place = i + 1
	}
	return append(placed, over...)
}

// Scales are what the costs of two options are divided by to find out which stands in front: the one
// that costs less for one unit of its scale. They are false where the order looks at something else
// first in which the two differ, so that no price moves one past the other.
func (o Order) Scales(a, b Option) (first, second float64, ok bool) {
	x, y := a.standing(), b.standing()
	switch o {
	case ByCost, ByCostToTarget:
		return 1, 1, true
	case ByAbsorption:
		return 1, 1, x.area == y.area
	case ByBurden:
		return 1, 1, byMinutes(x, y) == 0
	}
	return float64(x.area), float64(y.area), x.area > 0 && y.area > 0
}
