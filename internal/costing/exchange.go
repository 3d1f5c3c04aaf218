package costing

import (
	"cmp"
	"slices"

	"sabinbook/internal/buying"
	"sabinbook/internal/catalog"
	"sabinbook/internal/money"
)

// ConvertPrices says what becomes of prices in other currencies than the question's.
type ConvertPrices string

// What becomes of them.
const (
	NotConverted ConvertPrices = "none"         // not used
	StoredRates  ConvertPrices = "stored_rates" // converted by the exchange rates of the catalog
)

// DefaultRateAgeDays is the age up to which an exchange rate is used. Convention.
const DefaultRateAgeDays = 30

// Conversion tells by which rate amounts came into the currency of the question.
type Conversion struct {
	Rate    catalog.ExchangeRate
	Inverse bool         // divided by the rate, which is told the other way round
	Listed  money.Amount // of a line: one pack in the number that is bought, as it was seen
}

// converted returns an amount in the currency of the question and how it came to be: nil for one
// that is in it already. The reason says why it cannot be told.
func (m *Market) converted(a money.Amount) (money.Amount, *Conversion, Reason) {
	c := a.Currency()
	if c == m.terms.Currency || a == (money.Amount{}) {
		return a, nil, ""
	}
	if m.terms.Convert != StoredRates {
		return a, nil, OtherCurrency
	}
	rate, there := m.exchange.Of(c)
	if !there {
		return a, nil, NoRate
	}
	in, ok := m.exchange.Convert(a)
	if !ok {
		return a, nil, NotConvertible
	}
	return in, &Conversion{Rate: rate, Inverse: rate.To != m.terms.Currency}, ""
}

// convertedPrice is a price with its breaks in the currency of the question, each rounded once.
func (m *Market) convertedPrice(p catalog.Price) (catalog.Price, *Conversion, Reason) {
	in, how, reason := m.converted(p.Amount)
	if reason != "" || how == nil {
		return p, nil, reason
	}
	p.Amount, p.Breaks = in, slices.Clone(p.Breaks)
	for i := range p.Breaks {
		if p.Breaks[i].Price, _, reason = m.converted(p.Breaks[i].Price); reason != "" {
			return p, nil, reason
		}
	}
	return p, how, ""
}

// convertedShop is a supplier with its fees and thresholds in the currency of the question, each
// rounded once. One whose fees cannot be told sells nothing: the reason says why.
func (m *Market) convertedShop(s catalog.Supplier) (catalog.Supplier, *Conversion, Reason) {
	var how *Conversion
	var why Reason
	turn := func(a money.Amount) money.Amount {
		in, by, reason := m.converted(a)
		how, why = cmp.Or(how, by), cmp.Or(why, reason)
		return in
	}
	if s.Delivery != nil {
		d := *s.Delivery
		d.Fee, d.PerKg = turn(d.Fee), turn(d.PerKg)
		if d.FreeFrom != nil {
			d.FreeFrom = new(turn(*d.FreeFrom))
		}
		s.Delivery = &d
	}
	if s.TripCost != nil {
		s.TripCost = new(turn(*s.TripCost))
	}
	return s, how, why
}

// conversionOf is how the price of a line of so many packs came to be.
func (q *quote) conversionOf(packs int) *Conversion {
	if q.conversion == nil {
		return nil
	}
	c := *q.conversion
	listed := buying.Offer{Price: q.seen.Amount}
	for _, b := range q.seen.Breaks {
		listed.Breaks = append(listed.Breaks, buying.Break{From: b.From, Price: b.Price})
	}
	c.Listed = listed.UnitPrice(packs)
	return &c
}

// Rates lists the exchange rates on which the cost rests, each once, by id.
func (c Cost) Rates() []catalog.ExchangeRate {
	var list []catalog.ExchangeRate
	for _, l := range c.Lines {
		if l.Conversion != nil {
			list = append(list, l.Conversion.Rate)
		}
	}
	for _, o := range c.Orders {
		if o.Conversion != nil {
			list = append(list, o.Conversion.Rate)
		}
	}
	slices.SortFunc(list, func(a, b catalog.ExchangeRate) int { return cmp.Compare(a.ID, b.ID) })
	return slices.CompactFunc(list, func(a, b catalog.ExchangeRate) bool { return a.ID == b.ID })
}
