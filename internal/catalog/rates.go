package catalog

import (
	"cmp"
	"fmt"

	"sabinbook/internal/money"
)

// ExchangeRate says what one unit of a currency was worth in another one on a day. It is entered,
// with its source; nothing fetches it.
type ExchangeRate struct {
	Meta
	From, To money.Currency
	Rate     money.Rate // one unit of From is worth so much of To
	Observed Date
	Evidence Evidence
	SourceID ID
	Note     string
}

// Validate names every fault of the rate. today is the last day on which it can have been seen.
func (r ExchangeRate) Validate(today Date) error {
	v := &faults{}
	v.meta(r.Meta)
	for _, c := range []struct {
		at       string
		currency money.Currency
	}{{"/from_currency", r.From}, {"/to_currency", r.To}} {
		if !c.currency.Valid() {
			v.add(c.at, "unknown_currency", "is not a current ISO 4217 code: "+quote(string(c.currency)), "write three capitals, e.g. EUR")
		}
	}
	if r.From == r.To && r.From.Valid() {
		v.add("/to_currency", "disagrees", "is the currency of from_currency too", "give the other currency")
	}
	if _, err := money.ParseRate(string(r.Rate)); err != nil {
		v.add("/rate", "bad_rate", err.Error(), "give how much of to_currency one unit of from_currency is worth, e.g. 0.8563")
	}
	v.date("/observed_date", r.Observed)
	if r.Observed > today {
		v.add("/observed_date", "in_the_future", fmt.Sprintf("is %s, after today (%s)", r.Observed, today), "give the day for which the rate was told")
	}
	v.word("/evidence", string(r.Evidence), words(evidences))
	v.source("/source_id", r.SourceID)
	v.note(r.Note)
	return v.Err()
}

// Exchange turns amounts of other currencies into one, by rates of the catalog.
type Exchange struct {
	to    money.Currency
	rates map[money.Currency]ExchangeRate // by the currency to convert
}

// ExchangeOn finds, for each currency, the rate by which its amounts are turned into another one on a
// day: the latest that was seen by then and is not older than so many days, 0 for any age, whether it is told
// from the one to the other or the other way round. Of rates of one day the one that is told in the
// direction asked for goes before its inverse, then the one entered last. No third currency stands
// between.
func ExchangeOn(rates []ExchangeRate, to money.Currency, on Date, maxAgeDays int) Exchange {
	e := Exchange{to, map[money.Currency]ExchangeRate{}}
	direct := func(r ExchangeRate) int {
		if r.To == to {
			return 1
		}
		return 0
	}
	for _, r := range rates {
		other := r.From
		if direct(r) == 0 {
			other = r.To
		}
		if r.From != to && r.To != to || r.Observed > on || maxAgeDays > 0 && on.DaysSince(r.Observed) > maxAgeDays {
			continue
		}
		best, there := e.rates[other]
		if !there || cmp.Or(cmp.Compare(r.Observed, best.Observed), cmp.Compare(direct(r), direct(best)), cmp.Compare(r.ID, best.ID)) > 0 {
			e.rates[other] = r
		}
	}
	return e
}

// Of returns the rate by which amounts of a currency are converted, if there is one.
func (e Exchange) Of(c money.Currency) (ExchangeRate, bool) {
	r, there := e.rates[c]
	return r, there
}

// Uses reports whether amounts of some currency are converted by the rate.
func (e Exchange) Uses(r ExchangeRate) bool {
	return e.rates[r.From].ID == r.ID || e.rates[r.To].ID == r.ID
}

// Convert returns an amount in the currency of the exchange, rounded once to its minor unit. It is
// false where no rate does it, or where the result cannot be told: see money.Rate.Convert.
func (e Exchange) Convert(a money.Amount) (money.Amount, bool) {
	r, there := e.rates[a.Currency()]
	if !there {
		return money.Amount{}, false
	}
	return r.Rate.Convert(a, e.to, r.To != e.to)
}
