package store

import (
	"cmp"
	"context"
	"database/sql"
	"fmt"
	"slices"

	"sabinbook/internal/catalog"
)

// Snapshot returns all live records as they were at one revision, whatever is written
// meanwhile. Prices of deleted offers are left out.
func (s *Store) Snapshot(ctx context.Context) (catalog.Snapshot, error) {
	var all catalog.Snapshot
	err := s.readTx(ctx, "snapshot", func(tx *sql.Tx) (err error) {
		all = catalog.Snapshot{}
		if all.Revision, err = revision(ctx, tx); err != nil {
			return err
		}
		for _, read := range []func() error{
			func() error { return sources.loadLive(ctx, tx, &all.Sources) },
			func() error { return fills.loadLive(ctx, tx, &all.Fills) },
			func() error { return tests.loadLive(ctx, tx, &all.Tests) },
			func() error { return fabrics.loadLive(ctx, tx, &all.Fabrics) },
			func() error { return parts.loadLive(ctx, tx, &all.Parts) },
			func() error { return readyMade.loadLive(ctx, tx, &all.ReadyMade) },
			func() error { return designs.loadLive(ctx, tx, &all.Designs) },
			func() error { return rooms.loadLive(ctx, tx, &all.Rooms) },
			func() error { return suppliers.loadLive(ctx, tx, &all.Suppliers) },
			func() error { return offers.loadLive(ctx, tx, &all.Offers) },
			func() error { return rates.loadLive(ctx, tx, &all.Rates) },
		} {
			if err := read(); err != nil {
				return err
			}
		}
		all.Prices, err = loadPrices(ctx, tx, `offer_id `+live, catalog.NounOffer.Prefix)
		return err
	})
	all.Sort()
	return all, err
}

func (n *noun[T]) loadLive(ctx context.Context, tx *sql.Tx, into *[]T) (err error) {
	*into, err = n.load(ctx, tx, live, n.Prefix)
	return err
}

// AddAll stores a whole snapshot in one transaction, in the order of references. Ids,
// times, revisions and authors that are set are kept; by and the clock fill the
// others. The error names the list and the place in it.
func (s *Store) AddAll(ctx context.Context, by string, all catalog.Snapshot) error {
	a := author{by, s.now()}
	return s.writeTx(ctx, "add all", func(tx *sql.Tx) error {
		for _, add := range []func() error{
			func() error { return sources.insertAll(ctx, tx, a, "/sources", all.Sources) },
			func() error { return fills.insertAll(ctx, tx, a, "/fills", all.Fills) },
			func() error { return tests.insertAll(ctx, tx, a, "/absorption_tests", all.Tests) },
			func() error { return fabrics.insertAll(ctx, tx, a, "/fabrics", all.Fabrics) },
			func() error { return parts.insertAll(ctx, tx, a, "/parts", all.Parts) },
			func() error { return readyMade.insertAll(ctx, tx, a, "/ready_made_panels", all.ReadyMade) },
			func() error { return designs.insertAll(ctx, tx, a, "/designs", all.Designs) },
			func() error { return rooms.insertAll(ctx, tx, a, "/rooms", all.Rooms) },
			func() error { return suppliers.insertAll(ctx, tx, a, "/suppliers", all.Suppliers) },
			func() error { return offers.insertAll(ctx, tx, a, "/offers", all.Offers, fitsItem) },
			func() error { return insertPrices(ctx, tx, a, all.Prices) },
			func() error { return rates.insertAll(ctx, tx, a, "/exchange_rates", all.Rates) },
		} {
			if err := add(); err != nil {
				return err
			}
		}
		return nil
	})
}

func (n *noun[T]) insertAll(ctx context.Context, tx *sql.Tx, a author, at string, list []T, checks ...check[T]) error {
	ids := make([]catalog.ID, len(list))
	for i, x := range list {
		m := n.meta(&x)
		m.Revision, m.UpdatedBy, m.Deleted = cmp.Or(m.Revision, 1), cmp.Or(m.UpdatedBy, a.by), false
		m.CreatedBy = cmp.Or(m.CreatedBy, m.UpdatedBy)
		if m.Created.IsZero() {
			m.Created = a.now
		}
		if m.Updated.IsZero() {
			m.Updated = m.Created
		}
		id, err := n.insert(ctx, tx, x, checks...)
		if err != nil {
			return under(fmt.Sprintf("%s/%d", at, i), err)
		}
		ids[i] = id
	}
	return n.tellAll(ctx, tx, a, nil, ids)
}

// insertPrices stores prices, each after the one it corrects.
func insertPrices(ctx context.Context, tx *sql.Tx, a author, list []catalog.Price) error {
	waiting := map[catalog.ID]bool{} // not yet stored
	for _, p := range list {
		waiting[p.ID] = true
	}
	var ids []catalog.ID
	todo := make([]int, len(list))
	for i := range list {
		todo[i] = i
	}
	for len(todo) > 0 {
		var later []int
		for _, i := range todo {
			p := list[i]
			if p.Corrects != "" && waiting[p.Corrects] {
				later = append(later, i)
				continue
			}
			p.CreatedBy = cmp.Or(p.CreatedBy, a.by)
			if p.Created.IsZero() {
				p.Created = a.now
			}
			id, err := insertPrice(ctx, tx, p)
			if err != nil {
				return under(fmt.Sprintf("/prices/%d", i), err)
			}
			ids = append(ids, id)
			delete(waiting, p.ID)
		}
		if len(later) == len(todo) {
			return under(fmt.Sprintf("/prices/%d", later[0]), invalid("/corrects_id", "circular", "leads back to the price itself", "name the price that was wrong"))
		}
		todo = later
	}
	for chunk := range slices.Chunk(ids, rowsAtOnce) {
		added, err := pricesInOrder(ctx, tx, chunk)
		if err != nil {
			return err
		}
		if err := tellPrices(ctx, tx, a, added); err != nil {
			return err
		}
	}
	return nil
}
