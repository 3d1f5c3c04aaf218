package store

import (
	"context"
	"database/sql"
	"fmt"

	"sabinbook/internal/catalog"
)

// Held returns what deleted records and former slugs keep others from taking, and the
// revision at which that was so.
func (s *Store) Held(ctx context.Context) (int64, []catalog.Held, error) {
	var at int64
	var held []catalog.Held
	err := s.readTx(ctx, "held names", func(tx *sql.Tx) (err error) {
		held = nil
		if at, err = revision(ctx, tx); err != nil {
			return err
		}
		return eachRow(ctx, tx, `SELECT noun, id, slug, name, 0 AS former FROM record WHERE deleted
			UNION ALL SELECT noun, record_id, slug, '', 1 FROM old_slug
			UNION ALL SELECT $1, id, '', '', 0 FROM price WHERE offer_id IN (SELECT id FROM record WHERE deleted)
			ORDER BY 1, 2, 5, 3`, []any{catalog.NounPrice.Prefix}, func(scan func(...any) error) error {
			var h catalog.Held
			var former int
			if err := scan(&h.Prefix, &h.ID, &h.Slug, &h.Name, &former); err != nil {
				return err
			}
			h.Former = former == 1
			held = append(held, h)
			return nil
		})
	})
	return at, held, err
}

// ApplyImport stores changes in one transaction, all or none. It refuses them with a
// *catalog.ConflictError when the catalog is no longer at the given revision, for which they
// were worked out. Records that are created keep their history; those that are updated get
// a new revision by whoever imports. It returns the revision of the catalog after.
func (s *Store) ApplyImport(ctx context.Context, by string, at int64, c catalog.Changes) (int64, error) {
	a := author{by, s.now()}
	err := s.writeTx(ctx, "import", func(tx *sql.Tx) error {
		reached, err := revision(ctx, tx)
		if err != nil {
			return err
		}
		if reached != at+1 { // this transaction has raised it already
			return &catalog.ConflictError{Field: "plan_digest", Detail: fmt.Sprintf("the catalog is at revision %d, the plan was made for %d", reached-1, at), Fix: "make a new plan with dry_run=true"}
		}
		for _, step := range []func() error{
			func() error {
				return sources.importAll(ctx, tx, a, "/sources", c.Created.Sources, c.Updated.Sources)
			},
			func() error { return fills.importAll(ctx, tx, a, "/fills", c.Created.Fills, c.Updated.Fills) },
			func() error {
				return tests.importAll(ctx, tx, a, "/absorption_tests", c.Created.Tests, c.Updated.Tests)
			},
			func() error {
				return fabrics.importAll(ctx, tx, a, "/fabrics", c.Created.Fabrics, c.Updated.Fabrics)
			},
			func() error { return parts.importAll(ctx, tx, a, "/parts", c.Created.Parts, c.Updated.Parts) },
			func() error {
				return readyMade.importAll(ctx, tx, a, "/ready_made_panels", c.Created.ReadyMade, c.Updated.ReadyMade)
			},
			func() error {
				return designs.importAll(ctx, tx, a, "/designs", c.Created.Designs, c.Updated.Designs)
			},
			func() error { return rooms.importAll(ctx, tx, a, "/rooms", c.Created.Rooms, c.Updated.Rooms) },
			func() error {
				return suppliers.importAll(ctx, tx, a, "/suppliers", c.Created.Suppliers, c.Updated.Suppliers)
			},
			func() error {
				return offers.importAll(ctx, tx, a, "/offers", c.Created.Offers, c.Updated.Offers, fitsItem)
			},
			func() error { return insertPrices(ctx, tx, a, c.Created.Prices) },
			func() error {
				return rates.importAll(ctx, tx, a, "/exchange_rates", c.Created.Rates, c.Updated.Rates)
			},
			// Only now is every offer in its new state.
			func() error { return checkAll(ctx, tx, "/fills", c.Updated.Fills, keepsOfferedSizes) },
			func() error { return checkAll(ctx, tx, "/parts", c.Updated.Parts, keepsOfferedLengths) },
		} {
			if err := step(); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return 0, err
	}
	return at + 1, nil
}

// importAll inserts new records and puts others in the place of those that are stored. New ones come
// first: an update may refer to them.
func (n *noun[T]) importAll(ctx context.Context, tx *sql.Tx, a author, at string, created, updated []T, checks ...check[T]) error {
	if err := n.insertAll(ctx, tx, a, at, created, checks...); err != nil {
		return err
	}
	ids := make([]catalog.ID, len(updated))
	for i, x := range updated {
		ids[i] = n.meta(&x).ID
	}
	stored, err := n.all(ctx, tx, ids)
	if err != nil {
		return err
	}
	before := make(map[catalog.ID]*T, len(stored))
	for i := range stored {
		before[n.meta(&stored[i]).ID] = &stored[i]
	}
	for i, x := range updated {
		old, err := findLive(ctx, tx, n.Noun, string(n.meta(&x).ID))
		if err == nil {
			err = n.put(ctx, tx, a, old, 0, x, checks)
		}
		if err != nil {
			return under(fmt.Sprintf("%s/%d", at, i), err)
		}
	}
	return n.tellAll(ctx, tx, a, before, ids)
}

func checkAll[T any](ctx context.Context, tx *sql.Tx, at string, list []T, c check[T]) error {
	for i, x := range list {
		if err := c(ctx, tx, x); err != nil {
			return under(fmt.Sprintf("%s/%d", at, i), err)
		}
	}
	return nil
}
