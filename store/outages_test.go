package store_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/url"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"sabinbook/internal/catalog"
	"sabinbook/store"
	"sabinbook/store/storetest"
)

// newFill is a fill that can be added to the samples.
func newFill(slug string) catalog.Fill {
	f := samples().Fills[1]
	f.Meta = catalog.Meta{Slug: catalog.Slug(slug), Name: "The fill " + slug}
	return f
}

// While somebody else holds the database changes are refused after a while, and reading goes on.
func TestForeignLockRefusesChangesOnly(t *testing.T) {
	for engine, c := range map[string]struct {
		url  func(testing.TB) string
		lock []string
	}{
		"sqlite":   {storetest.SQLiteURL, []string{`BEGIN IMMEDIATE`}},
		"postgres": {storetest.PostgresURL, []string{`BEGIN`, `LOCK TABLE catalog_state IN EXCLUSIVE MODE`}},
	} {
		t.Run(engine, func(t *testing.T) {
			address := c.url(t)
			s := opened(t, address)
			must(t, s.Migrate(ctx))
			filled(t, s)
			conn, err := raw(t, address).Conn(ctx)
			must(t, err)
			for _, statement := range c.lock {
				_, err := conn.ExecContext(ctx, statement)
				must(t, err)
			}
			start := time.Now()
			refused := make(chan error, 2)
			for _, slug := range []string{"one", "two"} {
				go func() {
					_, err := s.AddFill(ctx, "m", newFill(slug))
					refused <- err
				}()
			}
			for range 2 {
				if err := <-refused; !errors.Is(err, catalog.ErrUnavailable) || errors.Is(err, catalog.ErrOutcomeUnknown) {
					t.Errorf("a change while the database is locked: %v", err)
				}
				// A change waits 2 s for its turn in this process and then 2 s for the lock, so that the
				// second one may take 4 s; twice that is for a busy machine.
				if took := time.Since(start); took < time.Second || took > 8*time.Second {
					t.Errorf("it was refused after %v", took)
				}
				all, err := s.Snapshot(ctx)
				if err != nil || len(all.Fills) != 2 {
					t.Errorf("reading: %d fills, %v", len(all.Fills), err)
				}
			}
			_, err = conn.ExecContext(ctx, `ROLLBACK`)
			must(t, err)
			must(t, conn.Close())
			_, err = s.AddFill(ctx, "m", newFill("one"))
			must(t, err)
		})
	}
}

// A deadline that passes makes the store unavailable; a caller who went away gets their own error.
func TestDeadlines(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		filled(t, s)
		late, cancel := context.WithDeadline(ctx, time.Now().Add(-time.Second))
		defer cancel()
		_, read := s.Snapshot(late)
		_, write := s.AddFill(late, "m", newFill("late"))
		for _, err := range []error{read, write, s.Ping(late)} {
			if !errors.Is(err, catalog.ErrUnavailable) || errors.Is(err, catalog.ErrOutcomeUnknown) {
				t.Errorf("after the deadline: %v", err)
			}
		}
		gone, leave := context.WithCancel(ctx)
		leave()
		if _, err := s.Fills(gone, catalog.Query{}); !errors.Is(err, context.Canceled) {
			t.Errorf("a caller who left: %v", err)
		}
		must(t, s.Ping(ctx))
	})
}

// wire stands between a store and its server and can be cut.
type wire struct {
	url string
	cut atomic.Int32
}

const (
	whole     int32 = iota
	beforeEnd       // at COMMIT, which the server does not get
	afterEnd        // after COMMIT has reached the server, before its answer
)

// newWire listens for connections to the server of a database.
func newWire(t *testing.T, address string) *wire {
	t.Helper()
	u, err := url.Parse(address)
	must(t, err)
	network, server := "tcp", u.Host
	q := u.Query()
	if folder := q.Get("host"); folder != "" {
		network, server = "unix", filepath.Join(folder, ".s.PGSQL.5432")
		q.Del("host")
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	must(t, err)
	t.Cleanup(func() { l.Close() })
	q.Set("sslmode", "disable")
	u.Host, u.RawQuery = l.Addr().String(), q.Encode()
	w := &wire{url: u.String()}
	go func() {
		for {
			client, err := l.Accept()
			if err != nil {
				return
			}
			go w.serve(client, network, server)
		}
	}()
	return w
}

func (w *wire) serve(client net.Conn, network, address string) {
	defer client.Close()
	server, err := net.Dial(network, address)
	if err != nil {
		return
	}
	defer server.Close()
	var deaf atomic.Bool // to answers of the server
	go func() {
		buffer := make([]byte, 1<<16)
		for {
			n, err := server.Read(buffer)
			if n > 0 && !deaf.Load() {
				client.Write(buffer[:n])
			}
			if err != nil {
				client.Close()
				return
			}
		}
	}()
	buffer := make([]byte, 1<<16)
	for {
		n, err := client.Read(buffer)
		if err != nil {
			return
		}
		if cut := w.cut.Load(); cut != whole && bytes.Contains(bytes.ToLower(buffer[:n]), []byte("commit\x00")) {
			if cut == afterEnd {
				deaf.Store(true)
				server.Write(buffer[:n])
				time.Sleep(100 * time.Millisecond) // the server commits
			}
			return
		}
		if _, err := io.Copy(server, bytes.NewReader(buffer[:n])); err != nil {
			return
		}
	}
}

// When the answer to COMMIT is lost the store says that the outcome is unknown, whether
// the change was stored or not, and works again afterwards.
func TestLostAnswerToCommit(t *testing.T) {
	address := storetest.PostgresURL(t)
	direct := opened(t, address)
	filled(t, direct)
	w := newWire(t, address)
	s := opened(t, w.url)
	for i, cut := range []int32{beforeEnd, afterEnd, beforeEnd, afterEnd} {
		slug := fmt.Sprint("lost-", i)
		w.cut.Store(cut)
		_, err := s.AddFill(ctx, "m", newFill(slug))
		if !errors.Is(err, catalog.ErrOutcomeUnknown) {
			t.Errorf("cut %d: %v", cut, err)
		}
		w.cut.Store(whole)
		_, err = direct.Fill(ctx, slug)
		if stored := err == nil; stored != (cut == afterEnd) {
			t.Errorf("cut %d: reading gives %v", cut, err)
		}
		_, err = s.AddFill(ctx, "m", newFill(fmt.Sprint("after-", i)))
		must(t, err)
	}
}

// A connection that ends before COMMIT leaves nothing, and nothing unknown.
func TestServerEndsConnections(t *testing.T) {
	address := storetest.PostgresURL(t)
	s := opened(t, address)
	filled(t, s)
	db := raw(t, address)
	for i := range 5 {
		_, err := db.ExecContext(ctx, `SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid()`)
		must(t, err)
		// The first of each may meet a dead connection that the pool still holds.
		for _, try := range []func() error{
			func() error { _, err := s.Snapshot(ctx); return err },
			func() error { _, err := s.AddFill(ctx, "m", newFill(fmt.Sprint("again-", i))); return err },
		} {
			if err := try(); err != nil {
				if !errors.Is(err, catalog.ErrUnavailable) {
					t.Errorf("over a dead connection: %v", err)
				}
				must(t, try())
			}
		}
	}
	all, err := s.Snapshot(ctx)
	must(t, err)
	if n := len(all.Fills); n != 2+5 {
		t.Errorf("%d fills", n)
	}
}

// Ids given by the store ascend as they were made.
func TestIDsAscend(t *testing.T) {
	s := storetest.SQLite(t)
	filled(t, s)
	last := ""
	for i := range 50 {
		f, err := s.AddFill(ctx, "m", newFill(fmt.Sprint("n-", i)))
		must(t, err)
		if !catalog.NounFill.Is(string(f.ID)) || strings.Compare(last, string(f.ID)) >= 0 {
			t.Fatalf("%s after %s", f.ID, last)
		}
		last = string(f.ID)
	}
}
