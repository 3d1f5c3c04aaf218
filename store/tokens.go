package store

import (
	"cmp"
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"sabinbook/internal/access"
	"sabinbook/internal/catalog"
)

const tokenColumns = `id, member, role, scopes, last_four, create_time, expire_time, revoke_time, created_by`

func tokenRow(t *access.Token) []any {
	return []any{&t.ID, &t.Member, &t.Role, scopes{&t.Scopes}, &t.LastFour, (*Time)(&t.Created), moment{&t.Expires}, moment{&t.Revoked}, &t.CreatedBy}
}

// scopes is a list of scopes in one column, with commas between them; empty for none.
type scopes struct{ list *[]access.Scope }

func (s scopes) Value() (driver.Value, error) {
	words := make([]string, len(*s.list))
	for i, scope := range *s.list {
		words[i] = string(scope)
	}
	return strings.Join(words, ","), nil
}

func (s scopes) Scan(src any) error {
	var text sql.Null[string]
	if err := text.Scan(src); err != nil {
		return err
	}
	*s.list = nil
	if text.V != "" {
		for word := range strings.SplitSeq(text.V, ",") {
			*s.list = append(*s.list, access.Scope(word))
		}
	}
	return nil
}

// moment is an instant that may be absent.
type moment struct{ at **time.Time }

func (m moment) Value() (driver.Value, error) {
	if *m.at == nil {
		return nil, nil
	}
	return Time(**m.at).Value()
}

func (m moment) Scan(src any) error {
	*m.at = nil
	if src == nil {
		return nil
	}
	var t Time
	err := t.Scan(src)
	*m.at = (*time.Time)(&t)
	return err
}

var tokenFields = map[string]field{
	"member":      own(text, "member"),
	"role":        own(text, "role"),
	"create_time": {kind: instant, order: "create_time", fixed: true},
}

// AddToken stores a token by the hash of its secret; by is who makes it. The store gives
// it id and time.
func (s *Store) AddToken(ctx context.Context, by string, t access.Token, secret access.Secret) (access.Token, error) {
	var added access.Token
	err := s.queuedTx(ctx, "add token", func(tx *sql.Tx) (err error) {
		added, err = s.insertToken(ctx, tx, by, t, secret)
		return err
	})
	return added, err
}

// FirstAdmin stores a token like AddToken if there is none at all, live or ended, and
// reports whether it did. Of several processes that start together one does.
func (s *Store) FirstAdmin(ctx context.Context, by string, t access.Token, secret access.Secret) (made bool, err error) {
	err = s.queuedTx(ctx, "add first token", func(tx *sql.Tx) error {
		var count int
		if err := tx.QueryRowContext(ctx, `SELECT count(*) FROM member_token`).Scan(&count); err != nil || count > 0 {
			return err
		}
		_, err := s.insertToken(ctx, tx, by, t, secret)
		made = err == nil
		return err
	})
	return made && err == nil, err
}

func (s *Store) insertToken(ctx context.Context, tx *sql.Tx, by string, t access.Token, secret access.Secret) (access.Token, error) {
	t.ID, t.Created, t.CreatedBy, t.LastFour, t.Revoked = "", s.now(), by, secret.LastFour(), nil
	if err := newOrGiven(ctx, tx, access.Noun, "member_token", &t.ID); err != nil {
		return t, err
	}
	row, err := values(tokenRow(&t)...)
	if err != nil {
		return t, err
	}
	if err := insertRows(ctx, tx, "member_token", tokenColumns+", hash", [][]any{append(row, secret.Hash())}); err != nil {
		return t, err
	}
	return oneToken(ctx, tx, t.ID)
}

// Token returns the token with an id.
func (s *Store) Token(ctx context.Context, id string) (access.Token, error) {
	var t access.Token
	err := s.readTx(ctx, "token "+id, func(tx *sql.Tx) (err error) {
		t, err = oneToken(ctx, tx, catalog.ID(id))
		return err
	})
	return t, err
}

// TokenByHash returns the token whose secret has the hash, live or ended.
func (s *Store) TokenByHash(ctx context.Context, hash string) (access.Token, error) {
	var t access.Token
	err := s.fail("token by hash", caused(ctx, s.read.QueryRowContext(ctx, `SELECT `+tokenColumns+` FROM member_token WHERE hash = $1`, hash).Scan(tokenRow(&t)...)))
	return t, err
}

// Tokens returns a page of the tokens, ended ones among them.
func (s *Store) Tokens(ctx context.Context, q catalog.Query) (catalog.Page[access.Token], error) {
	var page catalog.Page[access.Token]
	err := s.readTx(ctx, "tokens", func(tx *sql.Tx) error {
		sel := selection{from: `member_token`, where: `1 = 1`, id: `id`, fields: tokenFields}
		ids, next, total, err := sel.page(ctx, tx, q)
		page.Next, page.Total = next, total
		if err != nil || len(ids) == 0 {
			return err
		}
		args := make([]any, len(ids))
		for i, id := range ids {
			args[i] = string(id)
		}
		page.Items, err = loadTokens(ctx, tx, `id IN (`+places(1, len(ids))+`)`, args...)
		slices.SortFunc(page.Items, func(a, b access.Token) int { return cmp.Compare(slices.Index(ids, a.ID), slices.Index(ids, b.ID)) })
		return err
	})
	return page, err
}

// RevokeToken ends a token for ever. One that is revoked already keeps its time.
func (s *Store) RevokeToken(ctx context.Context, id string) (access.Token, error) {
	var t access.Token
	err := s.queuedTx(ctx, "revoke token "+id, func(tx *sql.Tx) (err error) {
		if _, err := tx.ExecContext(ctx, `UPDATE member_token SET revoke_time = $2 WHERE id = $1 AND revoke_time IS NULL`, id, Time(s.now())); err != nil {
			return err
		}
		t, err = oneToken(ctx, tx, catalog.ID(id))
		return err
	})
	return t, err
}

// RotateToken gives a live token another secret; the old one ends with that.
func (s *Store) RotateToken(ctx context.Context, id string, secret access.Secret) (access.Token, error) {
	var t access.Token
	err := s.queuedTx(ctx, "rotate token "+id, func(tx *sql.Tx) (err error) {
		if t, err = oneToken(ctx, tx, catalog.ID(id)); err != nil {
			return err
		}
		if !t.Live(s.now()) {
			return &catalog.ConflictError{Field: "id", Detail: fmt.Sprintf("the token %s has ended", id), Fix: "make a new token for the member"}
		}
		if _, err := tx.ExecContext(ctx, `UPDATE member_token SET hash = $2, last_four = $3 WHERE id = $1`, id, secret.Hash(), secret.LastFour()); err != nil {
			return err
		}
		t, err = oneToken(ctx, tx, t.ID)
		return err
	})
	return t, err
}

func oneToken(ctx context.Context, tx *sql.Tx, id catalog.ID) (access.Token, error) {
	var t access.Token
	err := tx.QueryRowContext(ctx, `SELECT `+tokenColumns+` FROM member_token WHERE id = $1`, string(id)).Scan(tokenRow(&t)...)
	if errors.Is(err, sql.ErrNoRows) {
		err = catalog.ErrNotFound
	}
	return t, err
}

func loadTokens(ctx context.Context, tx *sql.Tx, condition string, args ...any) ([]access.Token, error) {
	var list []access.Token
	err := eachRow(ctx, tx, `SELECT `+tokenColumns+` FROM member_token WHERE `+condition, args, func(scan func(...any) error) error {
		var t access.Token
		if err := scan(tokenRow(&t)...); err != nil {
			return err
		}
		list = append(list, t)
		return nil
	})
	return list, err
}
