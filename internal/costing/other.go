package costing

import (
	"maps"
	"slices"

	"sabinbook/internal/catalog"
	"sabinbook/internal/cutting"
)

// With returns the market in which an offer that has a price was seen at another one. What does not depend on
// it is shared with m, so that many prices of one offer can be asked about.
func (m *Market) With(price catalog.Price) *Market {
	out := &Market{terms: m.terms, exchange: m.exchange, suppliers: m.suppliers, buyers: m.buyers, fees: m.fees, quotes: maps.Clone(m.quotes), parts: m.parts, stock: m.stock, known: map[ask]*supply{}, battPlans: map[battKey]*cutting.BattPlan{}}
	var sold item
	for key, list := range m.quotes {
		if i := slices.IndexFunc(list, func(q *quote) bool { return q.offer.ID == price.OfferID && q.reason == "" }); i >= 0 {
			sold = key
			other := *list[i]
			other.seen = price
			other.price, other.conversion, other.reason = m.convertedPrice(price)
			list = slices.Clone(list)
			list[i] = &other
			out.quotes[key] = list
		}
	}
	var role catalog.Role
	for r, list := range m.parts {
		if slices.ContainsFunc(list, func(p catalog.Part) bool { return sold.kind == catalog.PartItem && p.ID == sold.id }) {
			role = r
		}
	}
	m.lock.Lock()
	defer m.lock.Unlock()
	for key, s := range m.known {
		if key.item != sold && (role == "" || key.role != role) {
			out.known[key] = s
		}
	}
	maps.Copy(out.battPlans, m.battPlans)
	return out
}
