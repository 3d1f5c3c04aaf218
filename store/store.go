// Package store keeps the catalog in a database: an SQLite file or a PostgreSQL
// server, with the same SQL text for both.
//
// Every record has a row in the table record, which holds what all nouns share,
// and one in the table of its noun; figures, fire declarations, bands and lists
// are child rows. The mechanics stand once, in records.go, and the file of each
// noun lists its columns, references and filters. Whatever differs between the
// two engines stands in dialect.go and in package migrations.
//
// Every change is one transaction that first raises the revision of the catalog.
// That statement also puts writers in a queue, so that what a transaction has
// checked (a slug is free, a source is live) still holds when it commits. Tokens of
// members are no part of the catalog: their changes wait in the same queue and leave
// its revision. The answer to a request with a key is kept in the transaction of its
// change (keys.go) and is no part of the catalog either.
// Records are checked by their Validate before they come here; the store checks
// what only it can see: references, clashes, revisions, and whether an offer
// fits the item it sells.
package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"strings"
	"time"

	"github.com/golang-migrate/migrate/v4"
	"github.com/golang-migrate/migrate/v4/source"
	"github.com/golang-migrate/migrate/v4/source/iofs"

	"sabinbook/migrations"
)

// Store is one open database. Its methods may be called from several goroutines.
type Store struct {
	// Now tells the time that goes into create_time and update_time. It is time.Now
	// unless a test sets another before the first use.
	Now func() time.Time

	engine engine
	write  *sql.DB // one connection: writers of this process wait here
	read   *sql.DB // a pool; the same as write for a database in memory
}

// Open opens the database that url names: "sqlite:PATH" for a file, made if it is
// not there, "sqlite::memory:" for a private one in memory, or
// "postgres://..." for a server. It does not migrate. The error of an unusable
// url never holds its password.
func Open(ctx context.Context, url string) (*Store, error) {
	var s *Store
	var err error
	switch path, isSQLite := strings.CutPrefix(url, "sqlite:"); {
	case isSQLite && path != "":
		s, err = openSQLite(path)
	case strings.HasPrefix(url, "postgres://"), strings.HasPrefix(url, "postgresql://"):
		s, err = openPostgres(url)
	default:
		return nil, errors.New("store: the database must be given as sqlite:PATH or postgres://USER@HOST/NAME")
	}
	if err != nil {
		return nil, fmt.Errorf("store: open: %w", err)
	}
	s.Now = time.Now
	if err := s.engine.verify(ctx, s.write); err != nil {
		return nil, errors.Join(s.fail("open", err), s.Close())
	}
	return s, nil
}

// Close ends all connections.
func (s *Store) Close() error {
	if s.read == s.write {
		return s.write.Close()
	}
	return errors.Join(s.read.Close(), s.write.Close())
}

// Pool is a pool of connections as it is now.
type Pool struct {
	Name  string // write or read
	Stats sql.DBStats
}

// Pools tells of the connections to the database. In memory there is one for all.
func (s *Store) Pools() []Pool {
	pools := []Pool{{"write", s.write.Stats()}}
	if s.read != s.write {
		pools = append(pools, Pool{"read", s.read.Stats()})
	}
	return pools
}

// Ping reports whether the database answers; the error is a catalog.ErrUnavailable if it
// does not.
func (s *Store) Ping(ctx context.Context) error {
	return s.fail("ping", s.read.PingContext(ctx))
}

// SchemaError says that the schema of the database is not the one this program works with.
type SchemaError struct {
	Version, Newest uint // of the database and of this program; 0 is an empty database
	Dirty           bool // a migration was broken off
}

func (e *SchemaError) Error() string {
	switch {
	case e.Dirty:
		return fmt.Sprintf("the migration to schema version %d was broken off; each is one transaction, so the tables are as before it or after it: "+
			"restore the last backup, or set version and dirty in the table schema_migrations to what is there", e.Version)
	case e.Version > e.Newest:
		return fmt.Sprintf("the database has schema version %d, this program knows %d: use a newer program", e.Version, e.Newest)
	}
	return fmt.Sprintf("the database has schema version %d, this program needs %d: migrate it first", e.Version, e.Newest)
}

// CheckSchema returns a *SchemaError unless the database has the newest schema.
func (s *Store) CheckSchema(ctx context.Context) error {
	newest, err := s.newest()
	if err != nil {
		return err
	}
	version, dirty, err := s.Version(ctx)
	if err != nil {
		return err
	}
	if dirty || version != newest {
		return fmt.Errorf("store: schema: %w", &SchemaError{version, newest, dirty})
	}
	return nil
}

// Migrate brings the schema up to the newest version.
func (s *Store) Migrate(ctx context.Context) error {
	return s.migrate(ctx, (*migrate.Migrate).Up)
}

// MigrateTo brings the schema up or down to a version; what a migration down takes
// away is lost.
func (s *Store) MigrateTo(ctx context.Context, version uint) error {
	if version == 0 {
		return s.MigrateDown(ctx)
	}
	return s.migrate(ctx, func(m *migrate.Migrate) error { return m.Migrate(version) })
}

// MigrateDown takes the whole schema away, and with it all that is stored.
func (s *Store) MigrateDown(ctx context.Context) error {
	return s.migrate(ctx, (*migrate.Migrate).Down)
}

// Version returns the version of the schema, 0 for an empty database, and whether a
// migration to it was broken off.
func (s *Store) Version(ctx context.Context) (version uint, dirty bool, err error) {
	err = s.migrate(ctx, func(m *migrate.Migrate) (err error) {
		version, dirty, err = m.Version()
		if errors.Is(err, migrate.ErrNilVersion) {
			return nil
		}
		return err
	})
	return version, dirty, err
}

// migrate lets do work on the schema; golang-migrate itself takes no context.
func (s *Store) migrate(ctx context.Context, do func(*migrate.Migrate) error) error {
	if err := s.write.PingContext(ctx); err != nil {
		return s.fail("migrate", err)
	}
	files, err := s.files()
	if err != nil {
		return err
	}
	driver, err := s.engine.migrations(s)
	if err != nil {
		return s.fail("migrate", err)
	}
	m, err := migrate.NewWithInstance("iofs", files, s.engine.name, driver)
	if err != nil {
		return s.fail("migrate", err)
	}
	err = do(m)
	fileErr, databaseErr := m.Close()
	if dirty := (migrate.ErrDirty{}); errors.As(err, &dirty) {
		err = &SchemaError{Version: uint(max(0, dirty.Version)), Dirty: true}
	} else if errors.Is(err, migrate.ErrNoChange) {
		err = nil
	}
	return s.fail("migrate", errors.Join(err, fileErr, databaseErr))
}

func (s *Store) files() (source.Driver, error) {
	files, err := iofs.New(migrations.Files, s.engine.name)
	if err != nil {
		return nil, fmt.Errorf("store: migrations: %w", err)
	}
	return files, nil
}

// newest is the number of the last migration of this program.
func (s *Store) newest() (uint, error) {
	files, err := s.files()
	if err != nil {
		return 0, err
	}
	defer files.Close()
	version, err := files.First()
	for err == nil {
		var next uint
		if next, err = files.Next(version); err == nil {
			version = next
		}
	}
	if !errors.Is(err, fs.ErrNotExist) {
		return 0, fmt.Errorf("store: migrations: %w", err)
	}
	return version, nil
}

// Revision returns the revision of the catalog, which every change raises.
func (s *Store) Revision(ctx context.Context) (int64, error) {
	var n int64
	err := s.readTx(ctx, "revision", func(tx *sql.Tx) (err error) {
		n, err = revision(ctx, tx)
		return err
	})
	return n, err
}

func revision(ctx context.Context, tx *sql.Tx) (n int64, err error) {
	err = tx.QueryRowContext(ctx, `SELECT revision FROM catalog_state`).Scan(&n)
	return n, err
}
