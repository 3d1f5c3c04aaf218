package buying

import (
	"cmp"
	"slices"

	"sabinbook/internal/money"
)

// Status says how good a plan is known to be.
type Status string

// The states of a plan.
const (
	Optimal    Status = "optimal"    // no plan costs less
	Feasible   Status = "feasible"   // a limit was reached; LowerBound is proven
	Incomplete Status = "incomplete" // some needs cannot be met; the plan is for the others
)

// Mode is how an order comes.
type Mode string

// The modes. On equal cost delivery is taken.
const (
	Deliver Mode = "delivery"
	Collect Mode = "collect"
)

// Line is an offer bought for an item of a need.
type Line struct {
	Need, Way, Item, Offer int // indices
	Packs                  int
	UnitPrice              money.Amount // of a pack as listed, in a line of so many
	Listed                 money.Amount // packs × unit price
	Gross                  money.Amount // what counts, after the treatment of tax
}

// Order is everything that is bought at one supplier.
type Order struct {
	Supplier int
	Mode     Mode
	Goods    money.Amount
	Worth    money.Amount // of the goods with tax, which thresholds count
	Fee      money.Amount // for delivery or for the trip
	// Flat and ByWeight are the parts of the fee for delivery; nothing for a trip.
	Flat, ByWeight money.Amount
	Charged        int64 // kilograms, for delivery by weight
}

// Lack is what all offers together lack to cover an item that cannot be covered.
type Lack struct {
	Need, Way, Item int // indices; of a need with several ways the first that lacks something
	Quantity        int64
}

// Held is a quantity of an item with its value: stock that is used, or what is left over.
type Held struct {
	Need, Way, Item int // indices
	Quantity        int64
	Value           money.Amount
}

// Plan is the answer. Lines are in order of needs, items and offer ids, orders in order of
// supplier ids.
type Plan struct {
	Status   Status
	Lines    []Line
	Orders   []Order
	Goods    money.Amount
	Delivery money.Amount
	Trips    money.Amount
	Cash     money.Amount
	Packs    int
	// Ways is the chosen way of each need, -1 for one that cannot be met.
	Ways []int
	// Stock is what is used of what is there, at what it would cost to replace; Replacement
	// is Cash with that value.
	Stock       []Held
	StockValue  money.Amount
	Replacement money.Amount
	// Leftovers is what is bought beyond the needs, at its share of what was paid for the
	// item, without fees. It takes no part in what is minimised.
	Leftovers     []Held
	LeftoverValue money.Amount
	// LeastGoods is the sum over the needs that can be met of the cheapest cover of each,
	// without fees: no plan, whatever else is bought with it, has goods for less.
	LeastGoods money.Amount
	Unmet      []Lack // what needs that cannot be met lack; needs with no way at all too
	// LowerBound is proven for Cash.
	LowerBound    money.Amount
	Nodes, Labels int // what the search took
	NodeLimit     int
	LabelLimit    int
	// GoodsTaxPerOrder is the goods value with tax rounded once per order and rate, as
	// an invoice may have it. Source: costing_problem.md section 1.
	GoodsTaxPerOrder money.Amount
}

// Gap returns how much less than Cash a plan could cost at most.
func (p Plan) Gap() money.Amount { return p.Cash.Sub(p.LowerBound) }

// plan writes the best plan out.
func (s *search) plan() Plan {
	zero := money.Zero(s.problem.Currency)
	p := Plan{Status: Optimal, Unmet: s.unmet, NodeLimit: s.nodeLimit, LabelLimit: s.labelMax, Nodes: s.nodes, Labels: s.labels,
		Goods: zero, Delivery: zero, Trips: zero, Cash: zero, GoodsTaxPerOrder: zero, StockValue: zero, LeftoverValue: zero,
		Ways: make([]int, len(s.problem.Needs)), Lines: make([]Line, 0, len(s.needs)+2)}
	for i := range p.Ways {
		p.Ways[i] = -1
	}
	for n, i := range s.needs {
		p.Ways[i] = s.menus[n].ways[s.best[n].way].way
		for _, t := range s.best[n].takes {
			o := &s.problem.Needs[i].Ways[p.Ways[i]].Items[t.item].Offers[t.index]
			l := Line{Need: i, Way: p.Ways[i], Item: int(t.item), Offer: int(t.index), Packs: int(t.packs), UnitPrice: o.UnitPrice(int(t.packs))}
			l.Listed, l.Gross = LinePrice(l.UnitPrice, l.Packs, o.Tax, o.TaxBP)
			p.Lines = append(p.Lines, l)
			p.Packs += l.Packs
		}
	}
	slices.SortStableFunc(p.Lines, func(a, b Line) int { return cmp.Or(cmp.Compare(a.Need, b.Need), cmp.Compare(a.Item, b.Item)) })
	s.order(&p)
	s.hold(&p)
	p.LeastGoods = s.leastGoods()
	p.Cash = p.Goods.Add(p.Delivery).Add(p.Trips)
	p.Replacement = p.Cash.Add(p.StockValue)
	p.LowerBound = p.Cash
	proven := s.proven
	if s.coarse || s.coverer.cut {
		floor := int64(0)
		for _, m := range s.menus {
			floor += m.floor
		}
		proven = min(floor, s.proven)
		if least := money.FromMicro(floor/s.scale.cash*s.scale.unit, s.problem.Currency); least.Cmp(p.LeastGoods) < 0 {
			p.LeastGoods = least
		}
	}
	if bound := money.FromMicro(proven/s.scale.cash*s.scale.unit, s.problem.Currency); bound.Cmp(p.Cash) < 0 {
		p.LowerBound, p.Status = bound, Feasible
	}
	if len(s.unmet) > 0 {
		p.Status = Incomplete
	}
	return p
}

// order groups the lines of a plan by supplier.
func (s *search) order(p *Plan) {
	currency := s.problem.Currency
	for _, at := range s.served {
		s.loads[at] = load{}
	}
	for _, l := range p.Lines {
		o := s.offerOf(l)
		load := &s.loads[o.Supplier]
		_, worth := s.scale.line(o, l.Packs)
		load.packs += int64(l.Packs)
		load.gross += l.Gross.Micro() / s.scale.unit
		load.worth += worth
		load.grams += int64(l.Packs) * o.Grams
		load.volume += int64(l.Packs) * o.Volume
	}
	amount := func(n int64) money.Amount { return money.FromMicro(n*s.scale.unit, currency) }
	for _, at := range s.served {
		l, seller := s.loads[at], &s.sellers[at]
		if l.packs == 0 {
			continue
		}
		fee, charged, mode := seller.order(l)
		o := Order{Supplier: int(at), Mode: mode, Goods: amount(l.gross), Worth: amount(l.worth), Fee: amount(fee), Charged: charged, Flat: amount(0), ByWeight: amount(0)}
		p.Goods = p.Goods.Add(o.Goods)
		if mode == Deliver {
			p.Delivery = p.Delivery.Add(o.Fee)
			flat := seller.fee
			if seller.threshold && l.worth >= seller.freeFrom {
				flat = 0
			}
			o.Flat, o.ByWeight = amount(flat), amount(fee-flat)
		} else {
			p.Trips = p.Trips.Add(o.Fee)
		}
		p.Orders = append(p.Orders, o)
		p.GoodsTaxPerOrder = p.GoodsTaxPerOrder.Add(s.taxPerOrder(p.Lines, int(at)))
	}
	slices.SortFunc(p.Orders, func(a, b Order) int {
		return cmp.Or(cmp.Compare(s.problem.Suppliers[a.Supplier].ID, s.problem.Suppliers[b.Supplier].ID), cmp.Compare(a.Supplier, b.Supplier))
	})
}

func (s *search) offerOf(l Line) *Offer {
	return &s.problem.Needs[l.Need].Ways[l.Way].Items[l.Item].Offers[l.Offer]
}

// hold lists what is used of the stock and what is left over of the lines.
//
// Value of stock: H(quantity · value, per value); of leftovers: H(left · spent, bought).
// Source: costing_problem.md section 1.
func (s *search) hold(p *Plan) {
	currency := s.problem.Currency
	line := 0
	for i, w := range p.Ways {
		if w < 0 {
			continue
		}
		for k := range s.problem.Needs[i].Ways[w].Items {
			item := &s.problem.Needs[i].Ways[w].Items[k]
			if used := item.stockUsed(); used > 0 {
				per := item.PerValue
				if per <= 0 {
					per = 1000
				}
				value := money.Zero(currency).Add(item.Value).TimesRatio(used, per)
				p.Stock = append(p.Stock, Held{i, w, k, used, value})
				p.StockValue = p.StockValue.Add(value)
			}
			bought, spent := int64(0), money.Zero(currency)
			for ; line < len(p.Lines) && p.Lines[line].Need == i && p.Lines[line].Item == k; line++ {
				bought += int64(p.Lines[line].Packs) * s.offerOf(p.Lines[line]).Pack
				spent = spent.Add(p.Lines[line].Gross)
			}
			if left := bought - item.rest(); bought > 0 && left > 0 {
				value := spent.TimesRatio(left, bought)
				p.Leftovers = append(p.Leftovers, Held{i, w, k, left, value})
				p.LeftoverValue = p.LeftoverValue.Add(value)
			}
		}
	}
}

// leastGoods is the sum of the cheapest covers with all suppliers, without fees.
func (s *search) leastGoods() money.Amount {
	points := int64(0)
	for _, m := range s.menus {
		if full := len(m.table) - 1; full >= 0 {
			points += m.with(full, s.sellers, &s.filling, &s.coverer).points / s.scale.cash
			continue
		}
		for _, at := range m.slots {
			s.filling.closed[at] = false
		}
		if least, ok := m.bound(s.sellers, &s.filling, nil, &s.coverer, nil, nil); ok {
			points += least / s.scale.cash
		}
	}
	return money.FromMicro(points*s.scale.unit, s.problem.Currency)
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
		o := s.offerOf(l)
		if o.Supplier != supplier {
			continue
		}
		r := rate{o.Tax, o.TaxBP}
		if o.Tax == AsListed || o.Tax == BeforeTax {
			r = rate{} // nothing is rounded
		}
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
