package costing

import (
	"cmp"
	"slices"
	"sync"

	"sabinbook/internal/buying"
	"sabinbook/internal/catalog"
	"sabinbook/internal/cutting"
)

// Market holds the prices that count on the terms of one question. What was worked out for
// one option, such as a cut plan, is kept for the others.
type Market struct {
	terms     Terms
	suppliers []catalog.Supplier // in ascending order of ids, as all lists here
	buyers    []buying.Supplier
	fees      []*Conversion // of each supplier's fees; nil where they are in the currency of the question
	exchange  catalog.Exchange
	quotes    map[item][]*quote
	parts     map[catalog.Role][]catalog.Part
	stock     map[item][]OnHand

	lock      sync.Mutex
	known     map[ask]*supply
	battPlans map[battKey]*cutting.BattPlan
	planner   cutting.BattPlanner
}

// item names what an offer sells.
type item struct {
	kind catalog.ItemKind
	id   catalog.ID
}

// quote is an offer with its price of the day, or the reason why it has none.
type quote struct {
	offer    catalog.Offer
	supplier int
	price    catalog.Price // in the currency of the question
	seen     catalog.Price // as it was seen
	// conversion leads from seen to price; nil where they are the same.
	conversion *Conversion
	reason     Reason
	grams      int64 // of a pack
	volume     int64 // of a pack, cm³
}

// NewMarket finds the price of every offer on the terms.
//
// Prices observed after the day of the question do not exist, nor do those that an existing
// one corrects. The newest of the rest is the offer's price. It is not used when it is
// older than asked (or flagged, as asked), or in another currency, as long as that is not to be
// converted: by the rules of catalog.ExchangeOn, each price of a pack and each fee and threshold of a
// supplier by itself, rounded once to the minor unit.
// Of the stock in the terms only what the snapshot has is there: FindStock names the rest.
func NewMarket(s catalog.Snapshot, terms Terms) *Market {
	m := &Market{terms: terms, quotes: map[item][]*quote{}, parts: map[catalog.Role][]catalog.Part{}, stock: shelved(s, terms.Stock), known: map[ask]*supply{}, battPlans: map[battKey]*cutting.BattPlan{}}
	m.exchange = catalog.ExchangeOn(s.Rates, terms.Currency, terms.AsOf, terms.MaxRateAgeDays)
	m.suppliers = byID(s.Suppliers, func(r catalog.Supplier) catalog.ID { return r.ID })
	at := map[catalog.ID]int{}
	closed := make([]Reason, len(m.suppliers)) // why a supplier's fees cannot be told
	for i, sup := range m.suppliers {
		at[sup.ID] = i
		shop, fees, reason := m.convertedShop(sup)
		closed[i] = reason
		m.buyers, m.fees = append(m.buyers, buyer(shop)), append(m.fees, fees)
	}
	for _, p := range byID(s.Parts, func(r catalog.Part) catalog.ID { return r.ID }) {
		m.parts[p.Role] = append(m.parts[p.Role], p)
	}
	packs := newPacks(s)
	prices := catalog.CurrentPrices(s.Prices, terms.AsOf)
	for _, o := range byID(s.Offers, func(r catalog.Offer) catalog.ID { return r.ID }) {
		supplier, ok := at[o.SupplierID]
		if !ok {
			continue
		}
		q := &quote{offer: o, supplier: supplier}
		price, seen := prices[o.ID]
		in, conversion, unpriced := m.convertedPrice(price)
		mass, weighed := packs.grams(o)
		volume, sized := packs.volume(o)
		switch sup := m.suppliers[supplier]; {
		case terms.Region != "" && sup.Region != terms.Region:
			q.reason = OtherRegion
		case !seen:
			q.reason = NoPrice
		case unpriced != "" || closed[supplier] != "":
			q.reason = cmp.Or(unpriced, closed[supplier])
		case terms.OldPrices != OldFlagged && terms.tooOld(price.Observed):
			q.reason = TooOld
		case byMass(sup) && !weighed:
			q.reason = NoMass
		case bySize(sup) && !sized:
			q.reason = NoVolume
		default:
			q.price, q.seen, q.conversion, q.grams, q.volume = in, price, conversion, mass, volume
		}
		key := item{o.ItemKind, o.ItemID}
		m.quotes[key] = append(m.quotes[key], q)
	}
	return m
}

// Terms returns the terms of the market.
func (m *Market) Terms() Terms { return m.terms }

// HasStock reports whether something of the item is on hand.
func (m *Market) HasStock(kind catalog.ItemKind, id catalog.ID) bool {
	return len(m.stock[item{kind, id}]) > 0
}

// HasPrice reports whether some offer of the item has a usable price.
func (m *Market) HasPrice(kind catalog.ItemKind, id catalog.ID) bool {
	return slices.ContainsFunc(m.quotes[item{kind, id}], func(q *quote) bool { return q.reason == "" })
}

func byID[T any](list []T, id func(T) catalog.ID) []T {
	sorted := slices.Clone(list)
	slices.SortFunc(sorted, func(a, b T) int { return cmp.Compare(id(a), id(b)) })
	return sorted
}

// byMass and bySize report what the supplier's fee for delivery looks at.
func byMass(s catalog.Supplier) bool {
	return s.Delivery != nil && !s.Delivery.PerKg.IsZero() && s.Delivery.Basis != catalog.DimensionalWeight
}

func bySize(s catalog.Supplier) bool {
	return s.Delivery != nil && !s.Delivery.PerKg.IsZero() && (s.Delivery.Basis == catalog.DimensionalWeight || s.Delivery.Basis == catalog.GreaterWeight)
}

func buyer(s catalog.Supplier) buying.Supplier {
	b := buying.Supplier{ID: string(s.ID), Trip: s.TripCost}
	if d := s.Delivery; d != nil {
		b.Delivery = &buying.Delivery{Fee: d.Fee, FreeFrom: d.FreeFrom, PerKg: d.PerKg, Divisor: int64(d.Divisor), FreeCoversWeight: d.FreeCoversWeight}
		switch d.Basis {
		case catalog.DimensionalWeight:
			b.Delivery.Basis = buying.DimensionalWeight
		case catalog.GreaterWeight:
			b.Delivery.Basis = buying.GreaterWeight
		}
	}
	return b
}
