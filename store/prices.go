package store

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"

	"sabinbook/internal/catalog"
	"sabinbook/internal/money"
)

const priceColumns = `id, offer_id, amount_micro, currency, tax_included, tax_rate_bp, observed_date, corrects_id, evidence, source_id, note,
	create_time, created_by`

func priceRow(p *catalog.Price) []any {
	micro, currency := amount(func(bool) *money.Amount { return &p.Amount })
	return []any{&p.ID, &p.OfferID, micro, currency, &p.TaxIncluded, &p.TaxRateBP, &p.Observed, reference{&p.Corrects}, &p.Evidence, &p.SourceID, &p.Note,
		(*Time)(&p.Created), &p.CreatedBy}
}

var priceFields = map[string]field{
	"observed_date": own(date, "observed_date"),
	"evidence":      own(text, "evidence"),
	"create_time":   {kind: instant, order: "create_time", fixed: true},
}

// AddPrice stores a price of a live offer for ever; by is who adds it. A price that
// corrects another one must be of the same offer. An id is made unless one is given.
func (s *Store) AddPrice(ctx context.Context, by string, p catalog.Price) (catalog.Price, error) {
	p.Created, p.CreatedBy = s.now(), by
	var added catalog.Price
	err := s.writeTx(ctx, "add price", func(tx *sql.Tx) error {
		id, err := insertPrice(ctx, tx, p)
		if err != nil {
			return err
		}
		if added, err = onePrice(ctx, tx, id); err != nil {
			return err
		}
		return tellPrices(ctx, tx, author{by, p.Created}, []catalog.Price{added})
	})
	return added, err
}

// AddPrices stores prices like AddPrice, all or none, and returns them in their order. The error
// tells the place of the one at fault: "/prices/17/...".
func (s *Store) AddPrices(ctx context.Context, by string, list []catalog.Price) ([]catalog.Price, error) {
	now := s.now()
	added := make([]catalog.Price, len(list))
	err := s.writeTx(ctx, "add prices", func(tx *sql.Tx) error {
		for i, p := range list {
			p.Created, p.CreatedBy = now, by
			id, err := insertPrice(ctx, tx, p)
			if err != nil {
				return under(fmt.Sprintf("/prices/%d", i), err)
			}
			if added[i], err = onePrice(ctx, tx, id); err != nil {
				return err
			}
		}
		return tellPrices(ctx, tx, author{by, now}, added)
	})
	return added, err
}

// Price returns the price with an id, also of a deleted offer.
func (s *Store) Price(ctx context.Context, id string) (catalog.Price, error) {
	var p catalog.Price
	err := s.readTx(ctx, "price "+id, func(tx *sql.Tx) (err error) {
		p, err = onePrice(ctx, tx, catalog.ID(id))
		return err
	})
	return p, err
}

// Prices returns a page of the prices of the live offer that is called offerRef,
// corrected ones among them.
func (s *Store) Prices(ctx context.Context, offerRef string, q catalog.Query) (catalog.Page[catalog.Price], error) {
	var page catalog.Page[catalog.Price]
	err := s.readTx(ctx, "prices of "+offerRef, func(tx *sql.Tx) error {
		offer, err := findLive(ctx, tx, catalog.NounOffer, offerRef)
		if err != nil {
			return err
		}
		sel := selection{from: `price`, where: `offer_id = $1`, args: []any{string(offer.ID)}, id: `id`, fields: priceFields}
		ids, next, total, err := sel.page(ctx, tx, q)
		if err != nil || len(ids) == 0 {
			page.Total = total
			return err
		}
		page.Next, page.Total = next, total
		page.Items, err = pricesInOrder(ctx, tx, ids)
		return err
	})
	return page, err
}

// insertPrice stores a price with the time and author it holds.
func insertPrice(ctx context.Context, tx *sql.Tx, p catalog.Price) (catalog.ID, error) {
	if err := newOrGiven(ctx, tx, catalog.NounPrice, "price", &p.ID); err != nil {
		return "", err
	}
	links := []link{{at: "/offer_id", noun: catalog.NounOffer, id: &p.OfferID}, sourceLink("/source_id", &p.SourceID)}
	if err := resolve(ctx, tx, links); err != nil {
		return "", err
	}
	if p.Corrects != "" {
		wrong, err := onePrice(ctx, tx, p.Corrects)
		switch {
		case errors.Is(err, catalog.ErrNotFound):
			return "", invalid("/corrects_id", "unknown_reference", fmt.Sprintf("there is no price observation %q", string(p.Corrects)), "give the id of the price to correct")
		case err != nil:
			return "", err
		case wrong.OfferID != p.OfferID:
			return "", invalid("/corrects_id", "other_offer", "is a price of another offer", "give the id of a price of the same offer")
		}
	}
	row, err := values(priceRow(&p)...)
	if err != nil {
		return "", err
	}
	if err := insertRows(ctx, tx, "price", priceColumns, [][]any{row}); err != nil {
		return "", err
	}
	breaks := make([][]any, len(p.Breaks))
	for i, b := range p.Breaks {
		breaks[i] = []any{string(p.ID), b.From, b.Price.Micro()}
	}
	return p.ID, insertRows(ctx, tx, "price_break", "price_id, from_count, amount_micro", breaks)
}

func onePrice(ctx context.Context, tx *sql.Tx, id catalog.ID) (catalog.Price, error) {
	list, err := loadPrices(ctx, tx, `id = $1`, string(id))
	if err == nil && len(list) == 0 {
		err = catalog.ErrNotFound
	}
	if err != nil {
		return catalog.Price{}, err
	}
	return list[0], nil
}

// pricesInOrder reads the prices with the ids, of which there is one at least.
func pricesInOrder(ctx context.Context, tx *sql.Tx, ids []catalog.ID) ([]catalog.Price, error) {
	args := make([]any, len(ids))
	at := map[catalog.ID]int{}
	for i, id := range ids {
		args[i], at[id] = string(id), i
	}
	list, err := loadPrices(ctx, tx, `id IN (`+places(1, len(ids))+`)`, args...)
	slices.SortFunc(list, func(a, b catalog.Price) int { return cmp.Compare(at[a.ID], at[b.ID]) })
	return list, err
}

func loadPrices(ctx context.Context, tx *sql.Tx, condition string, args ...any) ([]catalog.Price, error) {
	var list []catalog.Price
	err := eachRow(ctx, tx, `SELECT `+priceColumns+` FROM price WHERE `+condition, args, func(scan func(...any) error) error {
		var p catalog.Price
		if err := scan(priceRow(&p)...); err != nil {
			return err
		}
		list = append(list, p)
		return nil
	})
	if err != nil {
		return nil, err
	}
	at := make(map[catalog.ID]*catalog.Price, len(list))
	for i := range list {
		at[list[i].ID] = &list[i]
	}
	err = eachRow(ctx, tx, `SELECT price_id, from_count, amount_micro FROM price_break WHERE price_id IN (SELECT id FROM price WHERE `+condition+`)
		ORDER BY price_id, from_count`, args, func(scan func(...any) error) error {
		var id catalog.ID
		var from int
		var micro int64
		if err := scan(&id, &from, &micro); err != nil {
			return err
		}
		p := at[id]
		p.Breaks = append(p.Breaks, catalog.Break{From: from, Price: money.FromMicro(micro, p.Amount.Currency())})
		return nil
	})
	return list, err
}
