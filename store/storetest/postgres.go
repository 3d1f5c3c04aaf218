package storetest

import (
	"context"
	"crypto/rand"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"sabinbook/store"
)

// The settings; see the package comment.
const (
	settingURL     = "SABINBOOK_TEST_DATABASE_URL"
	settingImage   = "SABINBOOK_TEST_POSTGRES_IMAGE"
	settingVia     = "SABINBOOK_TEST_POSTGRES_VIA"
	settingRequire = "SABINBOOK_TEST_REQUIRE_POSTGRES"
)

// server is a running PostgreSQL with the template of the databases of tests.
type server struct {
	url      string        // of a database from which others can be made
	patience time.Duration // how long it may take to answer
	end      func() error
	admin    *sql.DB
	template string
	made     atomic.Int64
}

var (
	inMain  bool
	started *server
	start   = sync.OnceValue(func() (err error) {
		started, err = find()
		return err
	})
)

// PostgresURL returns the address of a fresh migrated database on PostgreSQL, which is
// dropped with the test, or skips the test.
func PostgresURL(t testing.TB) string {
	t.Helper()
	s := running(t)
	return s.fresh(t, s.template+" STRATEGY FILE_COPY")
}

// EmptyPostgresURL is PostgresURL for a database without a schema.
func EmptyPostgresURL(t testing.TB) string {
	t.Helper()
	return running(t).fresh(t, emptyTemplate)
}

// running returns the server of this process, or skips the test.
func running(t testing.TB) *server {
	t.Helper()
	if !inMain {
		t.Fatal("storetest: the package needs func TestMain(m *testing.M) { storetest.Main(m) }")
	}
	if err := start(); err != nil {
		if absent := (*missing)(nil); errors.As(err, &absent) && os.Getenv(settingRequire) != "1" {
			t.Skip(err)
		}
		t.Fatal(err)
	}
	return started
}

// emptyTemplate is the template that a server comes with.
const emptyTemplate = "template0 ENCODING 'UTF8'"

// fresh makes a database from a template, for as long as the test takes.
func (s *server) fresh(t testing.TB, template string) string {
	t.Helper()
	name := fmt.Sprintf("%s_%d", s.template, s.made.Add(1))
	if err := s.exec("CREATE DATABASE " + name + " TEMPLATE " + template); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.drop(name); err != nil {
			t.Error(err)
		}
	})
	return at(s.url, name)
}

// find starts a server in the first way that leads to one.
func find() (*server, error) {
	ways := []struct {
		name string
		open func() (*server, error)
	}{{"url", fromURL}, {"binaries", fromBinaries}, {"container", fromContainer}}
	via := os.Getenv(settingVia)
	var reasons []string
	for _, way := range ways {
		if via != "" && via != way.name {
			continue
		}
		s, err := way.open()
		if err == nil {
			if err = s.prepare(); err == nil {
				return s, nil
			}
			err = errors.Join(err, s.close())
		}
		absent := (*missing)(nil)
		if !errors.As(err, &absent) {
			return nil, fmt.Errorf("storetest: PostgreSQL by %s: %w", way.name, err)
		}
		reasons = append(reasons, absent.reason)
	}
	if len(reasons) == 0 {
		return nil, fmt.Errorf("storetest: %s must be url, binaries or container, not %q", settingVia, via)
	}
	return nil, none("storetest: no PostgreSQL here: set %s, or put initdb and postgres of PostgreSQL 15 or newer on PATH, or start a Docker engine (%s)",
		settingURL, strings.Join(reasons, "; "))
}

// none is the error of a way that leads to no server here, for a reason that is no fault.
func none(format string, args ...any) error {
	return &missing{fmt.Sprintf(format, args...)}
}

type missing struct{ reason string }

func (e *missing) Error() string { return e.reason }

// fromURL uses a server that somebody else runs.
func fromURL() (*server, error) {
	address := os.Getenv(settingURL)
	if address == "" {
		return nil, none("%s is not set", settingURL)
	}
	if !strings.HasPrefix(address, "postgres://") && !strings.HasPrefix(address, "postgresql://") {
		return nil, fmt.Errorf("%s must begin with postgres://", settingURL)
	}
	return &server{url: address, patience: 10 * time.Second, end: func() error { return nil }}, nil
}

// prepare waits for the server and makes the template.
func (s *server) prepare() error {
	var err error
	if s.admin, err = sql.Open("pgx", s.url); err != nil {
		return err
	}
	if err := s.wait(s.patience); err != nil {
		return err
	}
	name := "sabinbook_test_" + strings.ToLower(rand.Text()[:10])
	if err := s.exec("CREATE DATABASE " + name + " TEMPLATE " + emptyTemplate); err != nil {
		return err
	}
	s.template = name
	template, err := store.Open(context.Background(), at(s.url, name))
	if err != nil {
		return err
	}
	return errors.Join(template.Migrate(context.Background()), template.Close())
}

// wait waits until the server answers.
func (s *server) wait(most time.Duration) error {
	for end := time.Now().Add(most); ; time.Sleep(20 * time.Millisecond) {
		err := s.exec("SELECT 1")
		if err == nil || time.Now().After(end) {
			return err
		}
	}
}

// exec runs a statement outside a transaction, as CREATE DATABASE wants it.
func (s *server) exec(statement string) error {
	ctx, cancel := context.WithTimeout(context.Background(), 30*time.Second)
	defer cancel()
	if _, err := s.admin.ExecContext(ctx, statement); err != nil {
		return fmt.Errorf("%s: %w", statement, err)
	}
	return nil
}

func (s *server) drop(database string) error {
	return s.exec("DROP DATABASE " + database + " WITH (FORCE)")
}

// close takes the template away and ends the server.
func (s *server) close() error {
	var err error
	if s.template != "" {
		err = s.drop(s.template)
	}
	if s.admin != nil {
		err = errors.Join(err, s.admin.Close())
	}
	return errors.Join(err, s.end())
}

// stop ends the server if one was started.
func stop() error {
	if started == nil {
		return nil
	}
	return started.close()
}

// at is the address of another database on the same server.
func at(address, database string) string {
	u, err := url.Parse(address)
	if err != nil { // it was opened before
		panic(err)
	}
	u.Path = "/" + database
	return u.String()
}
