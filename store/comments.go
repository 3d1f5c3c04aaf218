package store

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"slices"

	"sabinbook/internal/catalog"
)

// Comments and votes hang on a shortlist and are there for those who see it. They leave its revision.

const commentColumns = `id, text, create_time, created_by`

func commentRow(c *catalog.Comment) []any {
	return []any{&c.ID, &c.Text, (*Time)(&c.Created), &c.CreatedBy}
}

var commentFields = map[string]field{
	"created_by":  own(text, "created_by"),
	"create_time": {kind: instant, order: "create_time", fixed: true},
}

// AddComment stores what the member by says about the shortlist ref.
func (s *Store) AddComment(ctx context.Context, by, ref string, c catalog.Comment) (catalog.Comment, error) {
	var added catalog.Comment
	err := s.queuedTx(ctx, "comment on shortlist "+ref, func(tx *sql.Tx) error {
		l, err := findShortlist(ctx, tx, by, ref, false)
		if err != nil {
			return err
		}
		if c.ID, err = newID(catalog.NounComment); err != nil {
			return err
		}
		c.Created, c.CreatedBy = s.now(), by
		row, err := values(commentRow(&c)...)
		if err != nil {
			return err
		}
		if err := insertRows(ctx, tx, "shortlist_comment", commentColumns+", shortlist_id", [][]any{append(row, string(l.ID))}); err != nil {
			return err
		}
		added, err = oneComment(ctx, tx, l, string(c.ID))
		return err
	})
	return added, err
}

func oneComment(ctx context.Context, tx *sql.Tx, l catalog.Shortlist, id string) (catalog.Comment, error) {
	var c catalog.Comment
	err := tx.QueryRowContext(ctx, `SELECT `+commentColumns+` FROM shortlist_comment WHERE shortlist_id = $1 AND id = $2`, string(l.ID), id).Scan(commentRow(&c)...)
	if errors.Is(err, sql.ErrNoRows) {
		err = catalog.ErrNotFound
	}
	return c, err
}

// Comment returns the comment with an id on the shortlist ref, if the member asker sees that.
func (s *Store) Comment(ctx context.Context, asker, ref, id string) (catalog.Comment, error) {
	var c catalog.Comment
	err := s.readTx(ctx, "comment "+id, func(tx *sql.Tx) error {
		l, err := findShortlist(ctx, tx, asker, ref, false)
		if err != nil {
			return err
		}
		c, err = oneComment(ctx, tx, l, id)
		return err
	})
	return c, err
}

// Comments returns a page of the comments on the shortlist ref.
func (s *Store) Comments(ctx context.Context, asker, ref string, q catalog.Query) (catalog.Page[catalog.Comment], error) {
	var page catalog.Page[catalog.Comment]
	err := s.readTx(ctx, "comments on shortlist "+ref, func(tx *sql.Tx) error {
		l, err := findShortlist(ctx, tx, asker, ref, false)
		if err != nil {
			return err
		}
		sel := selection{from: `shortlist_comment`, where: `shortlist_id = $1`, args: []any{string(l.ID)}, id: `id`, fields: commentFields}
		page, err = onPage(ctx, tx, sel, q, commentColumns, commentRow, func(c catalog.Comment) catalog.ID { return c.ID })
		return err
	})
	return page, err
}

// onPage reads the rows of one page of a table that has no child rows.
func onPage[T any](ctx context.Context, tx *sql.Tx, sel selection, q catalog.Query, columns string, row func(*T) []any, id func(T) catalog.ID) (catalog.Page[T], error) {
	var page catalog.Page[T]
	ids, next, total, err := sel.page(ctx, tx, q)
	page.Next, page.Total = next, total
	if err != nil || len(ids) == 0 {
		return page, err
	}
	args := make([]any, len(ids))
	for i, id := range ids {
		args[i] = string(id)
	}
	err = eachRow(ctx, tx, `SELECT `+columns+` FROM `+sel.from+` WHERE `+sel.id+` IN (`+places(1, len(ids))+`)`, args, func(scan func(...any) error) error {
		var x T
		if err := scan(row(&x)...); err != nil {
			return err
		}
		page.Items = append(page.Items, x)
		return nil
	})
	slices.SortFunc(page.Items, func(a, b T) int { return cmp.Compare(slices.Index(ids, id(a)), slices.Index(ids, id(b))) })
	return page, err
}

// DeleteComment takes a comment away for ever.
func (s *Store) DeleteComment(ctx context.Context, by, ref, id string) error {
	return s.queuedTx(ctx, "delete comment "+id, func(tx *sql.Tx) error {
		l, err := findShortlist(ctx, tx, by, ref, false)
		if err != nil {
			return err
		}
		r, err := tx.ExecContext(ctx, `DELETE FROM shortlist_comment WHERE shortlist_id = $1 AND id = $2`, string(l.ID), id)
		if err != nil {
			return err
		}
		return foundOne(r)
	})
}

// foundOne returns ErrNotFound when a statement has changed no row.
func foundOne(r sql.Result) error {
	changed, err := r.RowsAffected()
	if err == nil && changed == 0 {
		err = catalog.ErrNotFound
	}
	return err
}

// PutVote stores the vote of the member by on the shortlist ref in the place of an earlier one.
func (s *Store) PutVote(ctx context.Context, by, ref string, b catalog.Vote) (catalog.Vote, error) {
	b.Member, b.Voted = by, s.now()
	err := s.queuedTx(ctx, "vote on shortlist "+ref, func(tx *sql.Tx) error {
		l, err := findShortlist(ctx, tx, by, ref, false)
		if err != nil {
			return err
		}
		if b.Key != "" && !slices.ContainsFunc(l.Options, func(o catalog.KeptOption) bool { return o.Key == b.Key }) {
			return invalid("/key", "unknown_option", "is no option of this shortlist", "take a key from its options, or leave it out to vote for none of them")
		}
		_, err = tx.ExecContext(ctx, `INSERT INTO shortlist_vote (shortlist_id, member, option_key, note, vote_time) VALUES ($1, $2, $3, $4, $5)
			ON CONFLICT (shortlist_id, member) DO UPDATE SET option_key = excluded.option_key, note = excluded.note, vote_time = excluded.vote_time`,
			string(l.ID), by, sql.NullString{String: b.Key, Valid: b.Key != ""}, b.Note, Time(b.Voted))
		return err
	})
	return b, err
}

// WithdrawVote takes the vote of the member by on the shortlist ref away.
func (s *Store) WithdrawVote(ctx context.Context, by, ref string) error {
	return s.queuedTx(ctx, "withdraw vote on shortlist "+ref, func(tx *sql.Tx) error {
		l, err := findShortlist(ctx, tx, by, ref, false)
		if err != nil {
			return err
		}
		r, err := tx.ExecContext(ctx, `DELETE FROM shortlist_vote WHERE shortlist_id = $1 AND member = $2`, string(l.ID), by)
		if err != nil {
			return err
		}
		return foundOne(r)
	})
}

// Votes returns the shortlist ref with all votes on it, in the order of the members' names.
func (s *Store) Votes(ctx context.Context, asker, ref string) (l catalog.Shortlist, votes []catalog.Vote, err error) {
	err = s.readTx(ctx, "votes on shortlist "+ref, func(tx *sql.Tx) (err error) {
		if l, err = findShortlist(ctx, tx, asker, ref, false); err != nil {
			return err
		}
		votes = nil
		return eachRow(ctx, tx, `SELECT member, COALESCE(option_key, ''), note, vote_time FROM shortlist_vote WHERE shortlist_id = $1 ORDER BY member`, []any{string(l.ID)},
			func(scan func(...any) error) error {
				var b catalog.Vote
				if err := scan(&b.Member, &b.Key, &b.Note, (*Time)(&b.Voted)); err != nil {
					return err
				}
				votes = append(votes, b)
				return nil
			})
	})
	return l, votes, err
}
