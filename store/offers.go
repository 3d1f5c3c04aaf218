package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"sabinbook/internal/catalog"
	"sabinbook/internal/units"
)

// itemNouns tells the noun of each kind of item.
var itemNouns = map[catalog.ItemKind]catalog.Noun{
	catalog.FillItem: catalog.NounFill, catalog.FabricItem: catalog.NounFabric,
	catalog.PartItem: catalog.NounPart, catalog.ReadyMadeItem: catalog.NounReadyMade,
}

// newestPrice is the day of the newest price of an offer that no other price corrects.
const newestPrice = `(SELECT max(observed_date) FROM price WHERE price.offer_id = record.id
	AND NOT EXISTS (SELECT 1 FROM price AS newer WHERE newer.corrects_id = price.id))`

var offers = &noun[catalog.Offer]{
	Noun: catalog.NounOffer, table: "offer", freeName: true,
	columns: `supplier_id, item_kind, item_id, size_length_mm, size_width_mm, thickness_mm, stock_length_mm, pack_count, pack_length_mm,
		pack_mass_kg, pack_volume_l, min_packs_count, max_packs_count, source_id, note`,
	meta: func(r *catalog.Offer) *catalog.Meta { return &r.Meta },
	row: func(r *catalog.Offer) []any {
		size := whole(&r.SoldSize)
		return []any{&r.SupplierID, &r.ItemKind, &r.ItemID,
			optional[units.Length]{within(size, func(s *catalog.SoldSize) *units.Length { return &s.Length })},
			optional[units.Length]{within(size, func(s *catalog.SoldSize) *units.Length { return &s.Width })},
			optional[units.Length]{within(size, func(s *catalog.SoldSize) *units.Length { return &s.Thickness })},
			&r.StockLength, &r.PackCount, &r.PackLength, &r.PackMass, &r.PackVolume, &r.MinPacks, &r.MaxPacks, &r.SourceID, &r.Note}
	},
	links: func(r *catalog.Offer) []link {
		links := []link{{at: "/supplier_id", noun: catalog.NounSupplier, id: &r.SupplierID}}
		if n, known := itemNouns[r.ItemKind]; known {
			links = append(links, link{at: "/item_id", noun: n, id: &r.ItemID})
		}
		return append(links, sourceLink("/source_id", &r.SourceID))
	},
	fields: withCommon(map[string]field{
		"supplier_id":   naming("offer.supplier_id", catalog.NounSupplier),
		"item_kind":     own(text, "offer.item_kind"),
		"item_id":       naming("offer.item_id", catalog.NounFill, catalog.NounFabric, catalog.NounPart, catalog.NounReadyMade),
		"observed_date": {kind: date, value: newestPrice, order: `COALESCE(` + newestPrice + `, '')`},
		"thickness_mm":  unknownLast("offer.thickness_mm"),
	}),
}

// fitsItem checks the offer against the item it sells.
func fitsItem(ctx context.Context, tx *sql.Tx, o catalog.Offer) error {
	switch o.ItemKind {
	case catalog.FillItem:
		f, err := fills.one(ctx, tx, o.ItemID)
		if err != nil {
			return err
		}
		return o.FitsFill(f)
	case catalog.PartItem:
		p, err := parts.one(ctx, tx, o.ItemID)
		if err != nil {
			return err
		}
		return o.FitsPart(p)
	}
	return nil
}

// keepsOffers refuses a change of an item after which one of its live offers would not fit.
func keepsOffers(ctx context.Context, tx *sql.Tx, item catalog.ID, field string, fits func(catalog.Offer) error) error {
	selling, err := offers.load(ctx, tx, `IN (SELECT id FROM record JOIN offer ON record_id = id WHERE item_id = $1 AND NOT deleted)`, string(item))
	if err != nil {
		return err
	}
	for _, o := range selling {
		if fits(o) != nil {
			return &catalog.ConflictError{Field: field, Detail: fmt.Sprintf("the offer %s sells what the record would no longer have", o.Slug), Fix: "keep it, or change or delete that offer first"}
		}
	}
	return nil
}

// pricesStandOnLive refuses to bring back an offer whose prices rest on a deleted source.
func pricesStandOnLive(ctx context.Context, tx *sql.Tx, o catalog.Offer) error {
	var slug catalog.Slug
	err := tx.QueryRowContext(ctx, `SELECT slug FROM record WHERE deleted AND id IN (SELECT source_id FROM price WHERE offer_id = $1) ORDER BY slug LIMIT 1`,
		string(o.ID)).Scan(&slug)
	if errors.Is(err, sql.ErrNoRows) {
		return nil
	}
	if err != nil {
		return err
	}
	return &catalog.ConflictError{Field: "id", Detail: fmt.Sprintf("prices of the offer rest on the deleted source %s", slug), Fix: "restore that source first"}
}

// AddOffer stores a new offer; by is who adds it. Slugs of other records in it become ids. An
// id is made unless one is given. It must fit the item it sells.
func (s *Store) AddOffer(ctx context.Context, by string, r catalog.Offer) (catalog.Offer, error) {
	return offers.add(ctx, s, by, r, fitsItem)
}

// Offer returns the offer that is called ref: an id, a slug or a former slug.
func (s *Store) Offer(ctx context.Context, ref string) (catalog.Offer, error) {
	return offers.get(ctx, s, ref)
}

// Offers returns a page of the offers.
func (s *Store) Offers(ctx context.Context, q catalog.Query) (catalog.Page[catalog.Offer], error) {
	return offers.list(ctx, s, q)
}

// ReplaceOffer stores r in the place of the offer ref, which must be at the given revision;
// 0 stands for any. A new slug leaves the old one leading to the record. It must fit the item it sells.
func (s *Store) ReplaceOffer(ctx context.Context, by, ref string, revision int64, r catalog.Offer) (catalog.Offer, error) {
	return offers.replace(ctx, s, by, ref, revision, r, fitsItem)
}

// DeleteOffer marks the offer ref as deleted. It can be restored.
func (s *Store) DeleteOffer(ctx context.Context, by, ref string, revision int64) error {
	return offers.remove(ctx, s, by, ref, revision)
}

// RestoreOffer brings a deleted offer back. What it refers to must not be deleted.
func (s *Store) RestoreOffer(ctx context.Context, by, ref string) (catalog.Offer, error) {
	return offers.restore(ctx, s, by, ref, fitsItem, pricesStandOnLive)
}
