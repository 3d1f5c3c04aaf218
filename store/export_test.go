package store

import (
	"context"
	"database/sql"
)

// What tests in package store_test reach for.

func (s *Store) Engine() string { return s.engine.name }
func (s *Store) DB() *sql.DB    { return s.write }
func (s *Store) WriteTx(ctx context.Context, f func(*sql.Tx) error) error {
	return s.writeTx(ctx, "test", f)
}
func (s *Store) ReadTx(ctx context.Context, f func(*sql.Tx) error) error {
	return s.readTx(ctx, "test", f)
}
func NameKey(name string) string { return nameKey(name) }
