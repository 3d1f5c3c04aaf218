package store

import (
	"context"
	"database/sql"
	"errors"
	"time"

	"sabinbook/internal/access"
	"sabinbook/internal/catalog"
)

const shareColumns = `id, last_four, create_time, created_by, expire_time, revoke_time`

func shareRow(l *catalog.ShareLink) []any {
	return []any{&l.ID, &l.LastFour, (*Time)(&l.Created), &l.CreatedBy, (*Time)(&l.Expires), moment{&l.Revoked}}
}

var shareFields = map[string]field{
	"created_by":  own(text, "created_by"),
	"create_time": {kind: instant, order: "create_time", fixed: true},
	"expire_time": {kind: instant, order: "expire_time", fixed: true},
}

// AddShareLink stores a link to the shortlist ref by the hash of its secret.
func (s *Store) AddShareLink(ctx context.Context, by, ref string, link catalog.ShareLink, secret access.Secret) (catalog.ShareLink, error) {
	var added catalog.ShareLink
	err := s.queuedTx(ctx, "share shortlist "+ref, func(tx *sql.Tx) error {
		l, err := findShortlist(ctx, tx, by, ref, false)
		if err != nil {
			return err
		}
		if link.ID, err = newID(catalog.NounShareLink); err != nil {
			return err
		}
		link.LastFour, link.Created, link.CreatedBy, link.Revoked = secret.LastFour(), s.now(), by, nil
		row, err := values(shareRow(&link)...)
		if err != nil {
			return err
		}
		if err := insertRows(ctx, tx, "share_link", shareColumns+", shortlist_id, hash", [][]any{append(row, string(l.ID), secret.Hash())}); err != nil {
			return err
		}
		added, err = oneShare(ctx, tx, l, string(link.ID))
		return err
	})
	return added, err
}

func oneShare(ctx context.Context, tx *sql.Tx, l catalog.Shortlist, id string) (catalog.ShareLink, error) {
	var link catalog.ShareLink
	err := tx.QueryRowContext(ctx, `SELECT `+shareColumns+` FROM share_link WHERE shortlist_id = $1 AND id = $2`, string(l.ID), id).Scan(shareRow(&link)...)
	if errors.Is(err, sql.ErrNoRows) {
		err = catalog.ErrNotFound
	}
	return link, err
}

// ShareLinks returns a page of the links to the shortlist ref, ended ones among them.
func (s *Store) ShareLinks(ctx context.Context, asker, ref string, q catalog.Query) (catalog.Page[catalog.ShareLink], error) {
	var page catalog.Page[catalog.ShareLink]
	err := s.readTx(ctx, "share links of shortlist "+ref, func(tx *sql.Tx) error {
		l, err := findShortlist(ctx, tx, asker, ref, false)
		if err != nil {
			return err
		}
		sel := selection{from: `share_link`, where: `shortlist_id = $1`, args: []any{string(l.ID)}, id: `id`, fields: shareFields}
		page, err = onPage(ctx, tx, sel, q, shareColumns, shareRow, func(link catalog.ShareLink) catalog.ID { return link.ID })
		return err
	})
	return page, err
}

// RevokeShareLink ends a link to the shortlist ref for ever. One that is revoked keeps its time.
func (s *Store) RevokeShareLink(ctx context.Context, by, ref, id string) (catalog.ShareLink, error) {
	var link catalog.ShareLink
	err := s.queuedTx(ctx, "revoke share link "+id, func(tx *sql.Tx) error {
		l, err := findShortlist(ctx, tx, by, ref, false)
		if err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, `UPDATE share_link SET revoke_time = $3 WHERE shortlist_id = $1 AND id = $2 AND revoke_time IS NULL`, string(l.ID), id, Time(s.now())); err != nil {
			return err
		}
		link, err = oneShare(ctx, tx, l, id)
		return err
	})
	return link, err
}

// Shared returns the shortlist, with its frozen part, to which a secret with the hash leads at a
// time: one whose link lives, of a shortlist that is not deleted. It asks nobody who they are.
func (s *Store) Shared(ctx context.Context, hash string, now time.Time) (l catalog.Shortlist, frozen string, err error) {
	err = s.readTx(ctx, "shared shortlist", func(tx *sql.Tx) (err error) {
		var id, maker string
		err = tx.QueryRowContext(ctx, `SELECT shortlist.id, shortlist.created_by FROM share_link JOIN shortlist ON shortlist.id = shortlist_id
			WHERE hash = $1 AND revoke_time IS NULL AND expire_time > $2 AND NOT deleted`, hash, Time(now)).Scan(&id, &maker)
		if err != nil {
			return err
		}
		if l, err = findShortlist(ctx, tx, maker, id, false); err != nil {
			return err
		}
		frozen, err = frozenPart(ctx, tx, l)
		return err
	})
	return l, frozen, err
}
