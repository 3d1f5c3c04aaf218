package exchange

import (
	"sabinbook/internal/catalog"
	"sabinbook/internal/money"
)

func rateTable() noun[catalog.ExchangeRate] {
	type r = catalog.ExchangeRate
	meta := func(x *r) *catalog.Meta { return &x.Meta }
	return noun[r]{
		name: "exchange_rates", about: "What one unit of a currency was worth in another one on a day.", kind: catalog.NounRate, id: func(x *r) *catalog.ID { return &x.ID }, meta: meta, since: 1,
		list: func(s *catalog.Snapshot) *[]r { return &s.Rates },
		columns: columns(metaColumns(catalog.NounRate, meta), []column[r]{
			text("from_currency", "The currency of which one unit is told (ISO 4217).", func(x *r) *money.Currency { return &x.From }).need(),
			text("to_currency", "The currency in which it is told (ISO 4217).", func(x *r) *money.Currency { return &x.To }).need(),
			plain("rate", "How much of to_currency one unit of from_currency is worth, exactly as it was written down.", numberKind,
				func(x *r) string { return string(x.Rate) },
				func(x *r, s string) (string, string) {
					rate, err := money.ParseRate(s)
					if err != nil {
						return "is no rate: " + quote(s), err.Error()
					}
					x.Rate = rate
					return "", ""
				}).need(),
			day("observed_date", "Day for which the rate was told.", func(x *r) *catalog.Date { return &x.Observed }).need(),
			text("evidence", "How the rate came to be known.", func(x *r) *catalog.Evidence { return &x.Evidence }).need(),
			sourceColumn(func(x *r) *catalog.ID { return &x.SourceID }), noteColumn(func(x *r) *string { return &x.Note }),
		}),
		validate: func(x r, today catalog.Date) error { return x.Validate(today) },
	}
}
