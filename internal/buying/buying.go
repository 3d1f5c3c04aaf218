// Package buying decides where needs are bought for least: which offer for each need, in
// how many whole packs, delivered or collected, so that goods, delivery fees and trips
// together cost the least.
//
// The answer is exact: among all plans that meet each need with packs of one offer it is
// the best by cash, then fewest suppliers, then fewest packs, then the order of offer
// ids, which makes it unique and independent of the order of the input. When the limit
// of nodes is reached the best plan found is returned with a proven lower bound.
//
// All amounts are of one currency and every price counts once per line, tax rounded
// there, half away from zero. Source: costing_problem.md sections 1 to 3.
//
// Simplifications of this version: the offers for one need are not mixed, there are no
// quantity breaks, and no pack is bought only to reach a threshold (a dearer offer may
// be chosen to reach it). Problem and Plan have the shape for these: a need lists its
// offers with pack and price, a plan lists lines.
package buying

import (
	"cmp"
	"slices"

	"sabinbook/internal/money"
)

// Tax says what is done to a listed price to get the price that counts.
type Tax string

// The treatments of tax.
const (
	AsListed  Tax = "as_listed" // listed with tax, counted so
	AddTax    Tax = "add"       // listed before tax, counted with it
	RemoveTax Tax = "remove"    // listed with tax, counted before it
	BeforeTax Tax = "before"    // listed before tax, counted so
)

// WeightBasis is the weight for which a carrier charges.
type WeightBasis string

// The bases. The zero value is ActualWeight.
const (
	ActualWeight      WeightBasis = ""
	DimensionalWeight WeightBasis = "dimensional"
	GreaterWeight     WeightBasis = "greater"
)

// Delivery is how a supplier delivers an order.
type Delivery struct {
	Fee      money.Amount
	FreeFrom *money.Amount // goods value from which the fee is nothing; nil for never
	PerKg    money.Amount  // per started kilogram
	Basis    WeightBasis
	Divisor  int64 // cm³ per kg, for weight by size
	// FreeCoversWeight makes the threshold waive the fee per kilogram too.
	FreeCoversWeight bool
}

// Charged returns the started kilograms that are charged for a mass in grams and a volume in
// cm³. Source: costing_problem.md section 2.1; costing.md section 4.
func (d Delivery) Charged(grams, volume int64) int64 {
	actual, size := ceilDiv(grams, 1000), int64(0)
	if d.Divisor > 0 {
		size = ceilDiv(volume, d.Divisor)
	}
	switch d.Basis {
	case DimensionalWeight:
		return size
	case GreaterWeight:
		return max(actual, size)
	}
	return actual
}

// outOfReach is an amount in micro-units that no real line or fee comes near (10^11 major
// units). Offers and fees from there on are left out, so that sums stay exact.
const outOfReach = 100_000_000_000_000_000

func ceilDiv(a, b int64) int64 { return (a + b - 1) / b }

// Supplier sells, and brings or lets collect. With neither nothing can be bought there.
type Supplier struct {
	ID       string
	Delivery *Delivery
	Trip     *money.Amount // cost of collecting an order
}

// Offer is one pack size of something at a supplier.
type Offer struct {
	ID       string
	Supplier int   // index
	Pack     int64 // content, in the unit of the need's quantity
	Price    money.Amount
	Tax      Tax
	TaxBP    int
	MinPacks int   // 0 for any
	MaxPacks int   // 0 for no limit
	Grams    int64 // of one pack
	Volume   int64 // of one pack, cm³
}

// Way is one way of meeting a need: so much of things that stand in for each other.
// Another size of batt is another way.
type Way struct {
	Quantity int64 // thousandths of the unit, or any whole measure that the packs share
	Offers   []Offer
}

// Need is met by exactly one of its ways. One whose quantity is zero needs nothing.
type Need struct {
	ID   string
	Ways []Way
}

// Problem is what is to be bought.
type Problem struct {
	Currency  money.Currency
	Suppliers []Supplier
	Needs     []Need
	NodeLimit int // of the search; 0 for DefaultNodeLimit
}

// DefaultNodeLimit bounds the search to some ten milliseconds on the machines of this time.
const DefaultNodeLimit = 50_000

// Status says how good a plan is known to be.
type Status string

// The states of a plan.
const (
	Optimal    Status = "optimal"
	Feasible   Status = "feasible"   // the node limit was reached; LowerBound is proven
	Incomplete Status = "incomplete" // some needs cannot be met; the plan is for the others
)

// Mode is how an order comes.
type Mode string

// The modes. On equal cost delivery is taken.
const (
	Deliver Mode = "delivery"
	Collect Mode = "collect"
)

// Line is an offer bought for a need.
type Line struct {
	Need, Way, Offer int // indices
	Packs            int
	Listed           money.Amount // packs × price as listed
	Gross            money.Amount // what counts, after the treatment of tax
}

// Order is everything that is bought at one supplier.
type Order struct {
	Supplier int
	Mode     Mode
	Goods    money.Amount
	Fee      money.Amount // for delivery or for the trip
	Charged  int64        // kilograms, for delivery by weight
}

// Plan is the answer. Lines are in order of needs, orders in order of supplier ids.
type Plan struct {
	Status   Status
	Lines    []Line
	Orders   []Order
	Goods    money.Amount
	Delivery money.Amount
	Trips    money.Amount
	Cash     money.Amount
	Packs    int
	// LeastGoods is the sum over the needs that can be met of the cheapest line for each,
	// without fees: no plan, whatever else is bought with it, has goods for less.
	LeastGoods money.Amount
	Unmet      []int // needs that no offer can meet
	NodeLimit  int
	Nodes      int
	// LowerBound is proven for Cash, with one offer per need.
	LowerBound money.Amount
	// GoodsTaxPerOrder is the goods value with tax rounded once per order and rate, as
	// an invoice may have it. Source: costing_problem.md section 1.
	GoodsTaxPerOrder money.Amount
}

// Gap returns how much less than Cash a plan could cost at most.
func (p Plan) Gap() money.Amount { return p.Cash.Sub(p.LowerBound) }

// LinePrice returns n packs as listed and as they count, rounded half away from zero to the
// minor unit: listed · (10000 + bp) / 10000 to add tax, and its inverse to take it off.
// Source: costing_problem.md section 1.
func LinePrice(price money.Amount, packs int, tax Tax, bp int) (listed, gross money.Amount) {
	listed = price.Times(int64(packs))
	switch tax {
	case AddTax:
		return listed, listed.TimesRatio(int64(10_000+bp), 10_000)
	case RemoveTax:
		return listed, listed.TimesRatio(10_000, int64(10_000+bp))
	}
	return listed, listed
}

// shopValue is what n packs add to the goods value that a shop holds against its threshold:
// their price with tax, whichever way they count for the asker.
// Source: costing_problem.md section 2.1, thresholds count gross goods.
func shopValue(price money.Amount, packs int, tax Tax, bp int) money.Amount {
	if tax == RemoveTax {
		tax = AsListed
	} else if tax == BeforeTax {
		tax = AddTax
	}
	_, gross := LinePrice(price, packs, tax, bp)
	return gross
}

// packs returns how many packs cover a quantity, and whether the shop has that many at a
// price within reach.
func (o Offer) packs(quantity int64) (int, bool) {
	if o.Pack <= 0 {
		return 0, false
	}
	n := max(int(ceilDiv(quantity, o.Pack)), o.MinPacks)
	return n, (o.MaxPacks == 0 || n <= o.MaxPacks) && o.Price.Micro() < outOfReach/int64(max(n, 1))
}

// Best returns the plan of least cash. Needs that no offer can meet are named and left out.
func Best(p Problem) Plan {
	s := newSearch(p)
	s.run()
	return s.plan()
}

// candidate is one offer for a need with the packs it takes.
type candidate struct {
	way, offer, supplier int
	packs                int
	cost                 int64 // micro-units, as it counts
	worth                int64 // the same with tax, for the threshold of the supplier
	grams, volume        int64
	id                   string
}

// better orders candidates by cost, packs and id: the order in which plans are preferred
// when nothing else differs.
func better(a, b candidate) int {
	return cmp.Or(cmp.Compare(a.cost, b.cost), cmp.Compare(a.packs, b.packs), cmp.Compare(a.id, b.id),
		cmp.Compare(a.way, b.way), cmp.Compare(a.offer, b.offer))
}

// candidates lists the offers that can meet a need, best first. Of several at a supplier
// whose fee does not depend on the order only the best can be in a best plan.
func (s *search) candidates(n Need) []candidate {
	offers := 0
	for _, way := range n.Ways {
		offers += len(way.Offers)
	}
	list := make([]candidate, 0, offers)
	for w, way := range n.Ways {
		for i, o := range way.Offers {
			packs, ok := o.packs(way.Quantity)
			if !ok {
				continue
			}
			at := s.seller(o.Supplier)
			if s.at[at].closed {
				continue
			}
			_, gross := LinePrice(o.Price, packs, o.Tax, o.TaxBP)
			list = append(list, candidate{w, i, at, packs, gross.Micro(), shopValue(o.Price, packs, o.Tax, o.TaxBP).Micro(), int64(packs) * o.Grams, int64(packs) * o.Volume, o.ID})
		}
	}
	slices.SortFunc(list, better)
	kept := list[:0]
	for _, c := range list {
		if s.at[c.supplier].varies || !slices.ContainsFunc(kept, func(k candidate) bool { return k.supplier == c.supplier }) {
			kept = append(kept, c)
		}
	}
	return kept
}

// plan writes the best plan out.
func (s *search) plan() Plan {
	zero := money.Zero(s.problem.Currency)
	p := Plan{Status: Optimal, Unmet: s.unmet, NodeLimit: s.limit, Nodes: s.nodes,
		Goods: zero, Delivery: zero, Trips: zero, Cash: zero, GoodsTaxPerOrder: zero}
	if len(s.needs) > 0 && s.leftBound < s.bestKey.cash {
		p.Status = Feasible
	}
	if len(s.unmet) > 0 {
		p.Status = Incomplete
	}
	clear(s.loads)
	p.Lines = make([]Line, 0, len(s.needs))
	least := int64(0)
	for n, i := range s.needs {
		least += s.options[n][0].cost
		c := s.options[n][s.best[n]]
		o := s.problem.Needs[i].Ways[c.way].Offers[c.offer]
		l := Line{Need: i, Way: c.way, Offer: c.offer, Packs: c.packs}
		l.Listed, l.Gross = LinePrice(o.Price, c.packs, o.Tax, o.TaxBP)
		p.Lines = append(p.Lines, l)
		p.Packs += c.packs
		s.loads[c.supplier] = s.loads[c.supplier].add(c)
	}
	p.LeastGoods = money.FromMicro(least, s.problem.Currency)
	slices.SortFunc(p.Lines, func(a, b Line) int { return cmp.Compare(a.Need, b.Need) })
	for i, l := range s.loads {
		if l.lines == 0 {
			continue
		}
		fee, charged, mode := s.at[i].order(l)
		order := Order{Supplier: s.at[i].supplier, Mode: mode, Goods: money.FromMicro(l.goods, s.problem.Currency),
			Fee: money.FromMicro(fee, s.problem.Currency), Charged: charged}
		p.Orders = append(p.Orders, order)
		p.Goods = p.Goods.Add(order.Goods)
		if mode == Deliver {
			p.Delivery = p.Delivery.Add(order.Fee)
		} else {
			p.Trips = p.Trips.Add(order.Fee)
		}
		p.GoodsTaxPerOrder = p.GoodsTaxPerOrder.Add(s.taxPerOrder(p.Lines, order.Supplier))
	}
	slices.SortFunc(p.Orders, func(a, b Order) int {
		return cmp.Or(cmp.Compare(s.problem.Suppliers[a.Supplier].ID, s.problem.Suppliers[b.Supplier].ID), cmp.Compare(a.Supplier, b.Supplier))
	})
	p.Cash = p.Goods.Add(p.Delivery).Add(p.Trips)
	p.LowerBound = money.FromMicro(min(p.Cash.Micro(), s.leftBound), s.problem.Currency)
	return p
}

// taxPerOrder is the goods value of the order at a supplier with tax rounded once for each
// treatment and rate.
func (s *search) taxPerOrder(lines []Line, supplier int) money.Amount {
	total := money.Zero(s.problem.Currency)
	type rate struct {
		tax Tax
		bp  int
	}
	var rates []rate
	var sums []money.Amount
	for _, l := range lines {
		o := s.problem.Needs[l.Need].Ways[l.Way].Offers[l.Offer]
		if o.Supplier != supplier {
			continue
		}
		r := rate{o.Tax, o.TaxBP}
		at := slices.Index(rates, r)
		if at < 0 {
			at = len(rates)
			rates, sums = append(rates, r), append(sums, money.Zero(s.problem.Currency))
		}
		sums[at] = sums[at].Add(l.Listed)
	}
	for i, r := range rates {
		_, gross := LinePrice(sums[i], 1, r.tax, r.bp)
		total = total.Add(gross)
	}
	return total
}
