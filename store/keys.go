package store

import (
	"context"
	"database/sql"
	"errors"
	"time"

	"sabinbook/internal/access"
	"sabinbook/internal/catalog"
)

// keyLife is how long an answer is kept for the repeat of its request. Convention: two days, so
// that a script that runs every night may repeat the last one.
const keyLife = 48 * time.Hour

type heldKey struct{}

// held is the change of one request with a key. It waits, within its transaction, for the answer.
type held struct {
	key  access.Key
	made *pending // nil while nothing was changed
}

// Hold returns a context for a request with a key. The change that is made in it, one at most, is
// refused with catalog.ErrKeyUsed when an answer is kept for the key. Else it is not stored until
// Keep is called, and until Keep or Release no other change has its turn. In between nothing may
// be read: a database in memory has one connection.
func (s *Store) Hold(ctx context.Context, key access.Key) context.Context {
	return context.WithValue(ctx, heldKey{}, &held{key: key})
}

// Keep stores the change that was made in a context of Hold, and the answer to it, in one
// transaction. When nothing was changed it stores the answer alone.
func (s *Store) Keep(ctx context.Context, a access.Answer) error {
	h := ctx.Value(heldKey{}).(*held)
	if h.made == nil {
		if err := s.queuedTx(ctx, "keep an answer", func(*sql.Tx) error { return nil }); err != nil {
			return err
		}
	}
	defer s.Release(ctx)
	err := keepAnswer(ctx, h.made.tx, h.key, a, s.now())
	if err == nil {
		err = ctx.Err()
	}
	if err != nil {
		return s.fail("keep an answer", caused(ctx, err))
	}
	return s.fail("keep an answer", s.commit(h.made))
}

// Release undoes the change that was made in a context of Hold, unless it was kept.
func (s *Store) Release(ctx context.Context) {
	if h := ctx.Value(heldKey{}).(*held); h.made != nil {
		h.made.undo()
		h.made = nil
	}
}

// KeptAnswer returns the answer that is kept for a key, catalog.ErrNotFound when there is none.
func (s *Store) KeptAnswer(ctx context.Context, key access.Key) (access.Answer, error) {
	var a access.Answer
	err := s.read.QueryRowContext(ctx, `SELECT fingerprint, status, etag, location, content_location, content_type, body FROM kept_answer
		WHERE scope = $1 AND request_key = $2 AND create_time > $3`, key.Scope, key.Text, Time(s.now().Add(-keyLife))).
		Scan(&a.Fingerprint, &a.Status, &a.ETag, &a.Location, &a.ContentLocation, &a.ContentType, &a.Body)
	return a, s.fail("kept answer", caused(ctx, err))
}

// unused returns catalog.ErrKeyUsed when an answer is kept for the key.
func unused(ctx context.Context, tx *sql.Tx, key access.Key, now time.Time) error {
	var one int
	err := tx.QueryRowContext(ctx, `SELECT 1 FROM kept_answer WHERE scope = $1 AND request_key = $2 AND create_time > $3`,
		key.Scope, key.Text, Time(now.Add(-keyLife))).Scan(&one)
	switch {
	case err == nil:
		return catalog.ErrKeyUsed
	case errors.Is(err, sql.ErrNoRows):
		return nil
	}
	return err
}

// keepAnswer stores an answer, and forgets those whose time is over.
func keepAnswer(ctx context.Context, tx *sql.Tx, key access.Key, a access.Answer, now time.Time) error {
	if _, err := tx.ExecContext(ctx, `DELETE FROM kept_answer WHERE create_time <= $1`, Time(now.Add(-keyLife))); err != nil {
		return err
	}
	return insertRows(ctx, tx, "kept_answer", "scope, request_key, fingerprint, status, etag, location, content_location, content_type, body, create_time",
		[][]any{{key.Scope, key.Text, a.Fingerprint, a.Status, a.ETag, a.Location, a.ContentLocation, a.ContentType, a.Body, Time(now)}})
}
