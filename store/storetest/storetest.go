// Package storetest gives tests fresh, migrated stores on SQLite and on a real
// PostgreSQL.
//
// A PostgreSQL is looked for in this order:
//
//   - the server of SABINBOOK_TEST_DATABASE_URL, whose user must be allowed to
//     create databases;
//   - the programs initdb and postgres, on PATH or where Debian puts them: a
//     throw-away cluster on a unix socket;
//   - a Docker engine: a container of SABINBOOK_TEST_POSTGRES_IMAGE, by default
//     the official image.
//
// SABINBOOK_TEST_POSTGRES_VIA forces one of them: url, binaries or container.
// Where none can be had the tests on PostgreSQL are skipped with the reason, or
// fail with it when SABINBOOK_TEST_REQUIRE_POSTGRES is 1.
//
// The server is started once in a test process, migrated into one template
// database, and every test gets a copy of that. Packages that use PostgreSQL give
// themselves
//
//	func TestMain(m *testing.M) { storetest.Main(m) }
//
// so that nothing is left behind.
package storetest

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"sabinbook/store"
)

// Store is the store that tests are given, for the packages that do not import it.
type Store = store.Store

// Main runs the tests of a package, ends what was started for them and exits.
func Main(m *testing.M) {
	inMain = true
	code := m.Run()
	if err := stop(); err != nil {
		os.Stderr.WriteString("storetest: " + err.Error() + "\n")
		code = max(code, 1)
	}
	os.Exit(code)
}

// Each runs f as a subtest for each engine, on a fresh migrated store. On SQLite that is
// a file, so that readers and writers meet as they do in service.
func Each(t *testing.T, f func(t *testing.T, s *store.Store)) {
	t.Helper()
	t.Run("sqlite", func(t *testing.T) { f(t, SQLiteFile(t)) })
	t.Run("postgres", func(t *testing.T) { f(t, Postgres(t)) })
}

// Two runs f as a subtest for each engine, with two stores over one fresh migrated database, as two
// processes have them.
func Two(t *testing.T, f func(t *testing.T, first, second *store.Store)) {
	t.Helper()
	for _, engine := range []struct {
		name string
		url  func(testing.TB) string
	}{{"sqlite", SQLiteURL}, {"postgres", PostgresURL}} {
		t.Run(engine.name, func(t *testing.T) {
			url := engine.url(t)
			f(t, migrated(t, url), open(t, url))
		})
	}
}

// SQLite returns a fresh migrated store in memory, on one connection.
func SQLite(t testing.TB) *store.Store {
	t.Helper()
	return migrated(t, "sqlite::memory:")
}

// SQLiteFile returns a fresh migrated store in a file that goes with the test.
func SQLiteFile(t testing.TB) *store.Store {
	t.Helper()
	return migrated(t, SQLiteURL(t))
}

// SQLiteURL returns the address of a file that is not there yet and goes with the test.
func SQLiteURL(t testing.TB) string {
	t.Helper()
	return "sqlite:" + filepath.Join(t.TempDir(), "catalog.db")
}

// Postgres returns a fresh migrated store on PostgreSQL, or skips the test.
func Postgres(t testing.TB) *store.Store {
	t.Helper()
	return open(t, PostgresURL(t))
}

// open opens a store that is closed with the test.
func open(t testing.TB, url string) *store.Store {
	t.Helper()
	s, err := store.Open(context.Background(), url)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}

func migrated(t testing.TB, url string) *store.Store {
	t.Helper()
	s := open(t, url)
	if err := s.Migrate(context.Background()); err != nil {
		t.Fatal(err)
	}
	return s
}
