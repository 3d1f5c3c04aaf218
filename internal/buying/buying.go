// Package buying decides where needs are bought for least: which offers, in how many
// whole packs, delivered or collected, so that goods, delivery fees and trips together
// cost the least.
//
// The answer is exact. Among all plans it is the best by cash, then fewest suppliers,
// then fewest packs, then the order of offer ids, which makes it unique and independent
// of the order of the input. Offers for one need are mixed, prices may fall from a number
// of packs on, a pack may be bought only because it reaches free delivery, and needs that
// can be met in several ways are chosen together with everything else. When a limit is
// reached the best plan found is returned with a proven lower bound. The limits count
// steps and not time, so that the answer does not depend on the machine.
//
// The search is a best-first branch and bound over the suppliers (search.go), with the
// cheapest cover of each need (cover.go) and a Lagrangian relaxation (bound.go) as bounds;
// where thresholds or weights couple the needs, plans are built need by need (leaf.go).
// Source of definitions and of the method: costing_problem.md sections 1 to 4.
//
// All amounts are of one currency and every price counts once per line, tax rounded
// there, half away from zero. Floating point takes part only in bounds, with a margin
// to the safe side, and never in an amount.
//
// Simplifications: one order for each supplier; fees are entered with tax; no minimum
// order value, no bands of distance, no parcels, no trip to two suppliers; stock is used
// first and is not weighed against buying. Of two plans that are equal up to the ids
// in which a need is met in different ways, the earlier way is taken only where the ids
// do not decide (costing_problem.md section 4 takes the earlier way before the ids, which
// would make the plan depend on the order of the input).
package buying

import (
	"sabinbook/internal/money"
)

// ModelVersion names the computation; it changes whenever an answer to an equal question
// may change.
const ModelVersion = "1"

// Supplier sells, and brings or lets collect. With neither nothing can be bought there.
type Supplier struct {
	ID       string
	Delivery *Delivery
	Trip     *money.Amount // cost of collecting an order
}

// Break is a price from a number of packs on, for all packs of the line.
type Break struct {
	From  int
	Price money.Amount
}

// Offer is one pack size of something at a supplier. An offer may stand in several ways
// of one need; offers of different needs have different ids.
type Offer struct {
	ID       string
	Supplier int   // index
	Pack     int64 // content, in the unit of the quantity
	Price    money.Amount
	Breaks   []Break // in any order
	Tax      Tax
	TaxBP    int
	MinPacks int   // 0 for any
	MaxPacks int   // 0 for no limit
	Grams    int64 // of one pack
	Volume   int64 // of one pack, cm³
}

// Item is so much of one thing, with the offers that stand in for each other.
type Item struct {
	ID       string
	Quantity int64 // thousandths of the unit, or any whole measure that the packs share
	Stock    int64 // that is there already; used first, at no cash
	// Value is what PerValue of the quantity would cost to replace; 0 PerValue for 1000.
	Value    money.Amount
	PerValue int64
	Offers   []Offer
}

// rest returns what must be bought.
func (i *Item) rest() int64 { return i.Quantity - i.stockUsed() }

func (i *Item) stockUsed() int64 { return max(0, min(i.Quantity, i.Stock)) }

// Way is one way of meeting a need: all of its items. Another size of batt is another way;
// so is another count of boards of two lengths.
type Way struct {
	Items []Item
}

// Simple is the way of a single item without stock.
func Simple(quantity int64, offers []Offer) Way {
	return Way{Items: []Item{{Quantity: quantity, Offers: offers}}}
}

// Need is met by exactly one of its ways. A way whose items are all there needs nothing.
type Need struct {
	ID   string
	Ways []Way
	menu *menu
}

// Problem is what is to be bought.
type Problem struct {
	Currency  money.Currency
	Suppliers []Supplier
	Needs     []Need
	// NoPadding forbids packs that are not needed to cover a need: in no line can the
	// number of packs be lowered to the next one allowed (a pack less, or none where the
	// line is at its least number) and the item still be covered. A pack that only
	// reaches free delivery is such a pack, and so is one that only reaches a lower price.
	// The dearer of two offers may still be chosen because it reaches a threshold.
	// Source: costing_problem.md section 11, doubt 3.
	NoPadding  bool
	NodeLimit  int // of the search; 0 for DefaultNodeLimit
	LabelLimit int // of steps within nodes; 0 for DefaultLabelLimit
}

// The limits bound a search to about a quarter of a second on a two-core machine of 2026.
const (
	DefaultNodeLimit  = 4_000
	DefaultLabelLimit = 1_000_000
)

// Best returns the plan of least cash. Needs that no offer can meet are named and left out.
func Best(p Problem) Plan {
	s := newSearch(p)
	s.run()
	return s.plan()
}
