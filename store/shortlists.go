package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"slices"

	"sabinbook/internal/catalog"
)

// Shortlists do not stand in the table record: their slugs are unique among those that one member sees,
// because a slug that is taken would tell of a private shortlist. Nothing here asks for a shortlist
// without saying who asks: seen is part of every condition. For a member who may not see it there is no
// shortlist, not in a count nor in a clash of slugs either. Like tokens they are no part of
// the catalog, because they change no answer.

const shortlistColumns = metaColumns + ", record.note, record.visibility, record.status, record.frozen_sha256"

func shortlistRow(l *catalog.Shortlist) []any {
	return append(metaRow(&l.Meta), &l.Note, &l.Visibility, &l.Status, &l.Frozen)
}

// seen is the condition of the shortlists that are there for the member $1.
const seen = `(record.visibility = 'group' OR record.created_by = $1)`

var shortlistFields = withCommon(map[string]field{
	"visibility": own(text, "record.visibility"),
	"status":     own(text, "record.status"),
	"created_by": own(text, "record.created_by"),
})

// scopeOf is where the slug of a shortlist is unique.
func scopeOf(l catalog.Shortlist) string {
	if l.Visibility == catalog.Private {
		return l.CreatedBy
	}
	return ""
}

// findShortlist returns the shortlist that the member asker calls ref, by its id, slug or former slug.
// Where one of their own private ones and one of the group have the same slug, it leads to their own.
func findShortlist(ctx context.Context, tx *sql.Tx, asker, ref string, deleted bool) (catalog.Shortlist, error) {
	var l catalog.Shortlist
	err := tx.QueryRowContext(ctx, `SELECT `+shortlistColumns+` FROM shortlist AS record WHERE `+seen+` AND record.deleted = $3
		AND (record.id = $2 OR record.slug = $2 OR record.id IN (SELECT shortlist_id FROM shortlist_old_slug WHERE slug = $2))
		ORDER BY CASE WHEN record.id = $2 THEN 0 WHEN record.slug = $2 THEN 1 ELSE 3 END + CASE record.visibility WHEN 'private' THEN 0 ELSE 1 END, record.id LIMIT 1`,
		asker, ref, deleted).Scan(shortlistRow(&l)...)
	if errors.Is(err, sql.ErrNoRows) {
		return l, catalog.ErrNotFound
	}
	if err != nil {
		return l, err
	}
	lists := []catalog.Shortlist{l}
	err = loadKept(ctx, tx, lists)
	return lists[0], err
}

// loadKept reads the options of shortlists.
func loadKept(ctx context.Context, tx *sql.Tx, lists []catalog.Shortlist) error {
	at, args := map[catalog.ID]int{}, make([]any, len(lists))
	for i, l := range lists {
		at[l.ID], args[i] = i, string(l.ID)
	}
	return eachRow(ctx, tx, `SELECT shortlist_id, option_key, note FROM shortlist_option WHERE shortlist_id IN (`+places(1, len(args))+`) ORDER BY shortlist_id, position`, args,
		func(scan func(...any) error) error {
			var id catalog.ID
			var o catalog.KeptOption
			if err := scan(&id, &o.Key, &o.Note); err != nil {
				return err
			}
			l := &lists[at[id]]
			l.Options = append(l.Options, o)
			return nil
		})
}

// AddShortlist stores a new shortlist of the member by, with its frozen part, which never changes.
func (s *Store) AddShortlist(ctx context.Context, by string, l catalog.Shortlist, frozen string) (catalog.Shortlist, error) {
	l.ID, l.Revision, l.Created, l.CreatedBy, l.UpdatedBy, l.Deleted = "", 1, s.now(), by, by, false
	l.Updated, l.Frozen = l.Created, sumOf(frozen)
	var added catalog.Shortlist
	err := s.queuedTx(ctx, "add shortlist "+string(l.Slug), func(tx *sql.Tx) (err error) {
		if l.ID, err = newID(catalog.NounShortlist); err != nil {
			return err
		}
		if err := freeSlug(ctx, tx, l); err != nil {
			return err
		}
		row, err := values(&l.ID, &l.Slug, &l.Name, &l.Revision, (*Time)(&l.Created), (*Time)(&l.Updated), &l.UpdatedBy, &l.CreatedBy, &l.Deleted, &l.Note, &l.Visibility, &l.Status, &l.Frozen)
		if err != nil {
			return err
		}
		if err := insertRows(ctx, tx, "shortlist", `id, slug, name, revision, create_time, update_time, updated_by, created_by, deleted, note, visibility, status, frozen_sha256,
			name_key, slug_scope, frozen`, [][]any{append(row, catalog.NameKey(l.Name), scopeOf(l), frozen)}); err != nil {
			return err
		}
		var rows [][]any
		for i, o := range l.Options {
			rows = append(rows, []any{string(l.ID), i, o.Key, o.Note})
		}
		if err := insertRows(ctx, tx, "shortlist_option", "shortlist_id, position, option_key, note", rows); err != nil {
			return err
		}
		added, err = findShortlist(ctx, tx, by, string(l.ID), false)
		return err
	})
	return added, err
}

func sumOf(frozen string) string {
	sum := sha256.Sum256([]byte(frozen))
	return hex.EncodeToString(sum[:])
}

// freeSlug returns a *catalog.ConflictError when another shortlist of the same scope has the slug,
// now or formerly. All of that scope are seen by whoever stores l.
func freeSlug(ctx context.Context, tx *sql.Tx, l catalog.Shortlist) error {
	var other catalog.Slug
	var deleted bool
	err := tx.QueryRowContext(ctx, `SELECT slug, deleted FROM shortlist WHERE id <> $1 AND slug_scope = $2
		AND (slug = $3 OR id IN (SELECT shortlist_id FROM shortlist_old_slug WHERE slug_scope = $2 AND slug = $3)) ORDER BY id LIMIT 1`,
		string(l.ID), scopeOf(l), string(l.Slug)).Scan(&other, &deleted)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return nil
	case err != nil:
		return err
	case deleted:
		return &catalog.ConflictError{Field: "slug", Detail: "is, or was, the slug of the deleted shortlist " + string(other), Fix: "restore that shortlist, or choose another slug"}
	}
	return &catalog.ConflictError{Field: "slug", Detail: "is, or was, the slug of the shortlist " + string(other), Fix: "choose another slug, or change that shortlist"}
}

// Shortlist returns the shortlist that the member asker calls ref: an id, a slug or a former slug.
func (s *Store) Shortlist(ctx context.Context, asker, ref string) (catalog.Shortlist, error) {
	var l catalog.Shortlist
	err := s.readTx(ctx, "shortlist "+ref, func(tx *sql.Tx) (err error) {
		l, err = findShortlist(ctx, tx, asker, ref, false)
		return err
	})
	return l, err
}

// ShortlistMeta returns what all records carry of a shortlist, be it deleted. A deleted one comes first.
func (s *Store) ShortlistMeta(ctx context.Context, asker, ref string) (catalog.Meta, error) {
	var l catalog.Shortlist
	err := s.readTx(ctx, "shortlist "+ref, func(tx *sql.Tx) (err error) {
		l, err = shortlistToRestore(ctx, tx, asker, ref)
		return err
	})
	return l.Meta, err
}

func shortlistToRestore(ctx context.Context, tx *sql.Tx, asker, ref string) (catalog.Shortlist, error) {
	l, err := findShortlist(ctx, tx, asker, ref, true)
	if errors.Is(err, catalog.ErrNotFound) {
		return findShortlist(ctx, tx, asker, ref, false)
	}
	return l, err
}

// FrozenShortlist returns a shortlist with its frozen part, as it was stored to the byte.
func (s *Store) FrozenShortlist(ctx context.Context, asker, ref string) (l catalog.Shortlist, frozen string, err error) {
	err = s.readTx(ctx, "frozen shortlist "+ref, func(tx *sql.Tx) (err error) {
		if l, err = findShortlist(ctx, tx, asker, ref, false); err != nil {
			return err
		}
		frozen, err = frozenPart(ctx, tx, l)
		return err
	})
	return l, frozen, err
}

func frozenPart(ctx context.Context, tx *sql.Tx, l catalog.Shortlist) (frozen string, err error) {
	err = tx.QueryRowContext(ctx, `SELECT frozen FROM shortlist WHERE id = $1`, string(l.ID)).Scan(&frozen)
	if err == nil && sumOf(frozen) != l.Frozen {
		err = fmt.Errorf("the frozen part of %s is not what was stored", l.ID)
	}
	return frozen, err
}

// Shortlists returns a page of the shortlists that are there for the member asker.
func (s *Store) Shortlists(ctx context.Context, asker string, q catalog.Query) (catalog.Page[catalog.Shortlist], error) {
	var page catalog.Page[catalog.Shortlist]
	err := s.readTx(ctx, "list of shortlists", func(tx *sql.Tx) error {
		sel := selection{from: `shortlist AS record`, where: seen + ` AND NOT record.deleted`, args: []any{asker}, id: `record.id`, name: `record.name_key`, fields: shortlistFields}
		var err error
		if page, err = onPage(ctx, tx, sel, q, shortlistColumns, shortlistRow, func(l catalog.Shortlist) catalog.ID { return l.ID }); err != nil || len(page.Items) == 0 {
			return err
		}
		return loadKept(ctx, tx, page.Items)
	})
	return page, err
}

// ReplaceShortlist stores slug, name, note, visibility, status and the notes of the options of l in the
// shortlist ref, which must be at the given revision; 0 stands for any. Nothing else of it can change.
// Only its maker can make it private; that ends the share links of others to it.
func (s *Store) ReplaceShortlist(ctx context.Context, by, ref string, revision int64, l catalog.Shortlist) (catalog.Shortlist, error) {
	var replaced catalog.Shortlist
	err := s.queuedTx(ctx, "replace shortlist "+ref, func(tx *sql.Tx) error {
		old, err := findShortlist(ctx, tx, by, ref, false)
		if err != nil {
			return err
		}
		l.ID, l.CreatedBy = old.ID, old.CreatedBy
		if err := mayBecome(by, old, l); err != nil {
			return err
		}
		if err := freeSlug(ctx, tx, l); err != nil {
			return err
		}
		if err := moveSlugs(ctx, tx, old, l); err != nil {
			return err
		}
		if err := raise(ctx, tx, old.Meta, revision, `slug = $3, slug_scope = $4, name = $5, name_key = $6, note = $7, visibility = $8, status = $9, update_time = $10, updated_by = $11`,
			string(l.Slug), scopeOf(l), l.Name, catalog.NameKey(l.Name), l.Note, string(l.Visibility), string(l.Status), Time(s.now()), by); err != nil {
			return err
		}
		for _, o := range l.Options {
			if _, err := tx.ExecContext(ctx, `UPDATE shortlist_option SET note = $3 WHERE shortlist_id = $1 AND option_key = $2 AND note <> $3`, string(l.ID), o.Key, o.Note); err != nil {
				return err
			}
		}
		if l.Visibility == catalog.Private {
			if _, err := tx.ExecContext(ctx, `UPDATE share_link SET revoke_time = $3 WHERE shortlist_id = $1 AND created_by <> $2 AND revoke_time IS NULL`,
				string(l.ID), l.CreatedBy, Time(s.now())); err != nil {
				return err
			}
		}
		replaced, err = findShortlist(ctx, tx, by, string(l.ID), false)
		return err
	})
	return replaced, err
}

// mayBecome refuses what no change can do to a shortlist.
func mayBecome(by string, old, l catalog.Shortlist) error {
	if l.Visibility == catalog.Private && by != old.CreatedBy {
		return invalid("/visibility", "not_yours", "only its maker can make a shortlist private", "leave it as it is, or delete the shortlist")
	}
	same := func(a, b catalog.KeptOption) bool { return a.Key == b.Key }
	if !slices.EqualFunc(old.Options, l.Options, same) {
		return invalid("/options", "frozen", "the options of a shortlist never change", "keep another shortlist")
	}
	return nil
}

// moveSlugs keeps the slug of old as a former one when l has another, and takes all former slugs along
// into the scope of l, but for those that are taken there.
func moveSlugs(ctx context.Context, tx *sql.Tx, old, l catalog.Shortlist) error {
	id, from, to := string(l.ID), scopeOf(old), scopeOf(l)
	if from != to {
		if _, err := tx.ExecContext(ctx, `DELETE FROM shortlist_old_slug WHERE shortlist_id = $1 AND (slug IN (SELECT slug FROM shortlist WHERE slug_scope = $2 AND id <> $1)
			OR slug IN (SELECT slug FROM shortlist_old_slug WHERE slug_scope = $2))`, id, to); err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, `UPDATE shortlist_old_slug SET slug_scope = $2 WHERE shortlist_id = $1`, id, to); err != nil {
			return err
		}
	}
	if old.Slug == l.Slug {
		return nil
	}
	if _, err := tx.ExecContext(ctx, `DELETE FROM shortlist_old_slug WHERE shortlist_id = $1 AND slug = $2`, id, string(l.Slug)); err != nil {
		return err
	}
	_, err := tx.ExecContext(ctx, `INSERT INTO shortlist_old_slug (slug_scope, slug, shortlist_id)
		SELECT slug_scope, slug, id FROM (SELECT CAST($1 AS text) AS slug_scope, CAST($2 AS text) AS slug, CAST($3 AS text) AS id) AS former
		WHERE NOT EXISTS (SELECT 1 FROM shortlist AS other WHERE other.slug_scope = former.slug_scope AND other.slug = former.slug AND other.id <> former.id)
		AND NOT EXISTS (SELECT 1 FROM shortlist_old_slug AS other WHERE other.slug_scope = former.slug_scope AND other.slug = former.slug)`, to, string(old.Slug), id)
	return err
}

// raise sets columns of the shortlist m, from $3 on, and raises its revision, if that is the given
// one, or any for 0. The check and the write are one statement.
func raise(ctx context.Context, tx *sql.Tx, m catalog.Meta, revision int64, set string, args ...any) error {
	r, err := tx.ExecContext(ctx, `UPDATE shortlist SET revision = revision + 1, `+set+` WHERE id = $1 AND (revision = $2 OR CAST($2 AS bigint) = 0)`,
		append([]any{string(m.ID), revision}, args...)...)
	if err != nil {
		return err
	}
	changed, err := r.RowsAffected()
	if err == nil && changed == 0 {
		err = &catalog.StaleError{Current: m}
	}
	return err
}

// DeleteShortlist marks the shortlist ref as deleted. It can be restored.
func (s *Store) DeleteShortlist(ctx context.Context, by, ref string, revision int64) error {
	return s.queuedTx(ctx, "delete shortlist "+ref, func(tx *sql.Tx) error {
		l, err := findShortlist(ctx, tx, by, ref, false)
		if err != nil {
			return err
		}
		return raise(ctx, tx, l.Meta, revision, `deleted = $3, update_time = $4, updated_by = $5`, true, Time(s.now()), by)
	})
}

// RestoreShortlist brings a deleted shortlist back. One that is not deleted stays as it is.
func (s *Store) RestoreShortlist(ctx context.Context, by, ref string) (catalog.Shortlist, error) {
	var l catalog.Shortlist
	err := s.queuedTx(ctx, "restore shortlist "+ref, func(tx *sql.Tx) (err error) {
		if l, err = shortlistToRestore(ctx, tx, by, ref); err != nil || !l.Deleted {
			return err
		}
		if err := raise(ctx, tx, l.Meta, 0, `deleted = $3, update_time = $4, updated_by = $5`, false, Time(s.now()), by); err != nil {
			return err
		}
		l, err = findShortlist(ctx, tx, by, string(l.ID), false)
		return err
	})
	return l, err
}
