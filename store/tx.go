package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"sabinbook/internal/catalog"
)

// commitWait is how long a COMMIT may take before its outcome counts as unknown.
const commitWait = 10 * time.Second

// readTx lets f read one state of the database, whatever is written meanwhile. what names
// the operation in errors.
func (s *Store) readTx(ctx context.Context, what string, f func(*sql.Tx) error) error {
	tx, err := s.read.BeginTx(ctx, &s.engine.reading)
	if err != nil {
		return s.fail(what, caused(ctx, err))
	}
	defer tx.Rollback()
	return s.fail(what, caused(ctx, f(tx)))
}

// caused is the error of a statement whose context has ended: the driver may have closed
// the connection and tell only of that.
func caused(ctx context.Context, err error) error {
	if err != nil && ctx.Err() != nil {
		return ctx.Err()
	}
	return err
}

// writeTx lets f change the database in one transaction that is stored as a whole or,
// when f or the COMMIT fails, not at all. what names the operation in errors.
func (s *Store) writeTx(ctx context.Context, what string, f func(*sql.Tx) error) error {
	return s.fail(what, s.change(ctx, raiseRevision, f))
}

// queuedTx is writeTx for what is no part of the catalog and leaves its revision as it is.
// Its writers stand in the same queue.
func (s *Store) queuedTx(ctx context.Context, what string, f func(*sql.Tx) error) error {
	return s.fail(what, s.change(ctx, keepRevision, f))
}

type trialKey struct{}

// Trial returns a context in which every change is made and undone: its transaction is rolled back
// where it would be committed. What it returns is as if it had been stored.
func (s *Store) Trial(ctx context.Context) context.Context {
	return context.WithValue(ctx, trialKey{}, true)
}

// Every change begins with a statement that makes the next one wait for it.
const (
	raiseRevision = `UPDATE catalog_state SET revision = revision + 1`
	keepRevision  = `UPDATE catalog_state SET revision = revision`
)

func (s *Store) change(ctx context.Context, first string, f func(*sql.Tx) error) error {
	if tx, ok := ctx.Value(togetherKey{}).(*sql.Tx); ok {
		return f(tx)
	}
	held, _ := ctx.Value(heldKey{}).(*held)
	if held != nil && held.made != nil {
		return errors.New("a second change under one key")
	}
	p, err := s.begin(ctx, first)
	if err != nil {
		return err
	}
	hold := false
	defer func() {
		if !hold {
			p.undo()
		}
	}()
	if held != nil {
		if err := unused(ctx, p.tx, held.key, s.now()); err != nil {
			return caused(ctx, err)
		}
	}
	if err := f(p.tx); err != nil {
		return caused(ctx, err)
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	if ctx.Value(trialKey{}) != nil {
		return nil // undone
	}
	if held != nil {
		held.made, hold = p, true
		return nil
	}
	return s.commit(p)
}

type togetherKey struct{}

// Together makes the changes that f makes in its context one: one transaction that raises the
// revision once and is stored as a whole or not at all. A later change sees the earlier ones. In f
// nothing may be read but by changes: a database in memory has one connection.
func (s *Store) Together(ctx context.Context, f func(ctx context.Context) error) error {
	return s.writeTx(ctx, "changes together", func(tx *sql.Tx) error { return f(context.WithValue(ctx, togetherKey{}, tx)) })
}

// pending is a transaction that has its turn among the changes and is not stored yet.
type pending struct {
	conn   *sql.Conn
	tx     *sql.Tx
	cancel context.CancelFunc
}

// begin waits until it is the turn of a change.
func (s *Store) begin(ctx context.Context, first string) (*pending, error) {
	wait, cancelWait := context.WithTimeout(ctx, lockWait)
	defer cancelWait()
	conn, err := s.write.Conn(wait)
	if err != nil {
		if wait.Err() != nil && ctx.Err() == nil {
			return nil, fmt.Errorf("%w: other changes are being stored", catalog.ErrUnavailable)
		}
		return nil, err
	}
	// The end of ctx ends the running statement, but not the transaction behind its
	// back: a COMMIT that has begun is waited for.
	own, cancel := context.WithCancel(context.WithoutCancel(ctx))
	tx, err := conn.BeginTx(own, nil)
	if err != nil {
		cancel()
		conn.Close()
		return nil, err
	}
	p := &pending{conn, tx, cancel}
	if _, err := tx.ExecContext(ctx, first); err != nil {
		p.undo()
		return nil, caused(ctx, err)
	}
	return p, nil
}

// undo ends a transaction, leaves nothing of it unless it was committed, and gives the connection back.
func (p *pending) undo() {
	p.tx.Rollback()
	p.cancel()
	p.conn.Close()
}

// commit stores what was pending. undo must follow.
func (s *Store) commit(p *pending) error {
	timer := time.AfterFunc(commitWait, p.cancel)
	defer timer.Stop()
	return s.committed(p.tx.Commit())
}

// committed tells an error of COMMIT that leaves nothing stored from one that leaves it open.
func (s *Store) committed(err error) error {
	if err == nil {
		return nil
	}
	switch s.engine.classify(err).kind {
	case otherFailure, awayFailure:
		return errors.Join(catalog.ErrOutcomeUnknown, err)
	}
	return err
}
