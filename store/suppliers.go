package store

import (
	"context"

	"sabinbook/internal/catalog"
	"sabinbook/internal/money"
)

var suppliers = &noun[catalog.Supplier]{
	Noun: catalog.NounSupplier, table: "supplier",
	columns: `country, region, currency, delivery_fee_micro, delivery_fee_currency, delivery_free_from_micro, delivery_free_from_currency,
		delivery_per_kg_micro, delivery_per_kg_currency, delivery_weight_basis, delivery_divisor_cm3_per_kg, delivery_free_covers_weight,
		trip_cost_micro, trip_cost_currency, source_id, note`,
	meta: func(r *catalog.Supplier) *catalog.Meta { return &r.Meta },
	row: func(r *catalog.Supplier) []any {
		delivery := whole(&r.Delivery)
		fee, feeIn := amount(within(delivery, func(d *catalog.Delivery) *money.Amount { return &d.Fee }))
		free, freeIn := amount(func(make bool) *money.Amount {
			if d := delivery(make); d != nil {
				return whole(&d.FreeFrom)(make)
			}
			return nil
		})
		perKg, perKgIn := amount(within(delivery, func(d *catalog.Delivery) *money.Amount { return &d.PerKg }))
		trip, tripIn := amount(whole(&r.TripCost))
		return []any{&r.Country, &r.Region, &r.Currency, fee, feeIn, free, freeIn, perKg, perKgIn,
			optional[catalog.WeightBasis]{within(delivery, func(d *catalog.Delivery) *catalog.WeightBasis { return &d.Basis })},
			optional[int]{within(delivery, func(d *catalog.Delivery) *int { return &d.Divisor })},
			optional[bool]{within(delivery, func(d *catalog.Delivery) *bool { return &d.FreeCoversWeight })},
			trip, tripIn, &r.SourceID, &r.Note}
	},
	links: func(r *catalog.Supplier) []link { return []link{sourceLink("/source_id", &r.SourceID)} },
	users: `SELECT record_id FROM offer WHERE supplier_id = $1`,
	fields: withCommon(map[string]field{
		"country":  own(text, "supplier.country"),
		"region":   own(text, "supplier.region"),
		"currency": own(text, "supplier.currency"),
	}),
}

// AddSupplier stores a new supplier; by is who adds it. Slugs of other records in it become ids. An
// id is made unless one is given.
func (s *Store) AddSupplier(ctx context.Context, by string, r catalog.Supplier) (catalog.Supplier, error) {
	return suppliers.add(ctx, s, by, r)
}

// Supplier returns the supplier that is called ref: an id, a slug or a former slug.
func (s *Store) Supplier(ctx context.Context, ref string) (catalog.Supplier, error) {
	return suppliers.get(ctx, s, ref)
}

// Suppliers returns a page of the suppliers.
func (s *Store) Suppliers(ctx context.Context, q catalog.Query) (catalog.Page[catalog.Supplier], error) {
	return suppliers.list(ctx, s, q)
}

// ReplaceSupplier stores r in the place of the supplier ref, which must be at the given revision;
// 0 stands for any. A new slug leaves the old one leading to the record.
func (s *Store) ReplaceSupplier(ctx context.Context, by, ref string, revision int64, r catalog.Supplier) (catalog.Supplier, error) {
	return suppliers.replace(ctx, s, by, ref, revision, r)
}

// DeleteSupplier marks the supplier ref as deleted unless live records refer to it. It can be restored.
func (s *Store) DeleteSupplier(ctx context.Context, by, ref string, revision int64) error {
	return suppliers.remove(ctx, s, by, ref, revision)
}

// RestoreSupplier brings a deleted supplier back. What it refers to must not be deleted.
func (s *Store) RestoreSupplier(ctx context.Context, by, ref string) (catalog.Supplier, error) {
	return suppliers.restore(ctx, s, by, ref)
}
