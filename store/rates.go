package store

import (
	"context"

	"sabinbook/internal/catalog"
)

var rates = &noun[catalog.ExchangeRate]{
	Noun: catalog.NounRate, table: "exchange_rate",
	columns: "from_currency, to_currency, rate, observed_date, evidence, source_id, note",
	meta:    func(r *catalog.ExchangeRate) *catalog.Meta { return &r.Meta },
	row: func(r *catalog.ExchangeRate) []any {
		return []any{&r.From, &r.To, &r.Rate, &r.Observed, &r.Evidence, &r.SourceID, &r.Note}
	},
	links: func(r *catalog.ExchangeRate) []link { return []link{sourceLink("/source_id", &r.SourceID)} },
	fields: withCommon(map[string]field{
		"from_currency": own(text, "exchange_rate.from_currency"),
		"to_currency":   own(text, "exchange_rate.to_currency"),
		"observed_date": own(date, "exchange_rate.observed_date"),
		"evidence":      own(text, "exchange_rate.evidence"),
	}),
}

// AddExchangeRate stores a new exchange rate; by is who adds it. Slugs of other records in it become ids. An
// id is made unless one is given.
func (s *Store) AddExchangeRate(ctx context.Context, by string, r catalog.ExchangeRate) (catalog.ExchangeRate, error) {
	return rates.add(ctx, s, by, r)
}

// ExchangeRate returns the exchange rate that is called ref: an id, a slug or a former slug.
func (s *Store) ExchangeRate(ctx context.Context, ref string) (catalog.ExchangeRate, error) {
	return rates.get(ctx, s, ref)
}

// ExchangeRates returns a page of the exchange rates.
func (s *Store) ExchangeRates(ctx context.Context, q catalog.Query) (catalog.Page[catalog.ExchangeRate], error) {
	return rates.list(ctx, s, q)
}

// ReplaceExchangeRate stores r in the place of the exchange rate ref, which must be at the given revision;
// 0 stands for any. A new slug leaves the old one leading to the record.
func (s *Store) ReplaceExchangeRate(ctx context.Context, by, ref string, revision int64, r catalog.ExchangeRate) (catalog.ExchangeRate, error) {
	return rates.replace(ctx, s, by, ref, revision, r)
}

// DeleteExchangeRate marks the exchange rate ref as deleted. It can be restored.
func (s *Store) DeleteExchangeRate(ctx context.Context, by, ref string, revision int64) error {
	return rates.remove(ctx, s, by, ref, revision)
}

// RestoreExchangeRate brings a deleted exchange rate back. What it refers to must not be deleted.
func (s *Store) RestoreExchangeRate(ctx context.Context, by, ref string) (catalog.ExchangeRate, error) {
	return rates.restore(ctx, s, by, ref)
}
