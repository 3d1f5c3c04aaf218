package store_test

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"

	"sabinbook/internal/access"
	"sabinbook/internal/catalog"
	"sabinbook/store"
	"sabinbook/store/storetest"
)

func keyed(text string) access.Key {
	return access.Key{Scope: strings.Repeat("5c", 32), Text: text, Fingerprint: strings.Repeat("f0", 32)}
}

// addOnce adds a fill under a key as a request does, and returns the answer that is kept for it.
func addOnce(s *store.Store, key, slug string) (access.Answer, error) {
	a, err := s.KeptAnswer(ctx, keyed(key))
	if !errors.Is(err, catalog.ErrNotFound) {
		return a, err
	}
	held := s.Hold(ctx, keyed(key))
	defer s.Release(held)
	f, err := s.AddFill(held, "m", newFill(slug))
	if err != nil {
		return a, err
	}
	a = access.Answer{Fingerprint: keyed(key).Fingerprint, Status: 201, ETag: `"` + string(f.ID) + `.1"`, Location: "/v1/fills/" + string(f.ID), ContentType: "application/json", Body: `{"id":"` + string(f.ID) + `"}`}
	return a, s.Keep(held, a)
}

// An answer is kept word for word, and a key that is used refuses a second change.
func TestAnswerIsKeptWithItsChange(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		filled(t, s)
		want, err := addOnce(s, "one", "one")
		must(t, err)
		got, err := s.KeptAnswer(ctx, keyed("one"))
		must(t, err)
		equal(t, "answer", want, got)
		held := s.Hold(ctx, keyed("one"))
		if _, err := s.AddFill(held, "m", newFill("two")); !errors.Is(err, catalog.ErrKeyUsed) {
			t.Errorf("a used key: %v", err)
		}
		held = s.Hold(ctx, keyed("two"))
		_, err = s.AddFill(held, "m", newFill("two"))
		must(t, err)
		if _, err := s.AddFill(held, "m", newFill("three")); err == nil {
			t.Error("two changes under one key")
		}
		s.Release(held)
		s.Release(held) // nothing is left to do
		for _, slug := range []string{"two", "three"} {
			if _, err := s.Fill(ctx, slug); !errors.Is(err, catalog.ErrNotFound) {
				t.Errorf("released, and %s: %v", slug, err)
			}
		}
		gone, leave := context.WithCancel(ctx)
		held = s.Hold(gone, keyed("two"))
		_, err = s.AddFill(held, "m", newFill("two"))
		must(t, err)
		leave()
		if err := s.Keep(held, want); !errors.Is(err, context.Canceled) {
			t.Errorf("a client who left: %v", err)
		}
		_, err = addOnce(s, "two", "two")
		must(t, err)
	})
}

// A held change whose connection ends was never there.
func TestHeldChangeOfAnEndedConnection(t *testing.T) {
	address := storetest.PostgresURL(t)
	s := opened(t, address)
	filled(t, s)
	held := s.Hold(ctx, keyed("k"))
	_, err := s.AddFill(held, "m", newFill("k"))
	must(t, err)
	_, err = raw(t, address).ExecContext(ctx, `SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = current_database() AND application_name = 'sabinbook write'`)
	must(t, err)
	if err := s.Keep(held, access.Answer{Fingerprint: keyed("k").Fingerprint, Status: 201}); !errors.Is(err, catalog.ErrUnavailable) || errors.Is(err, catalog.ErrOutcomeUnknown) {
		t.Errorf("kept over a dead connection: %v", err)
	}
	if _, err := s.Fill(ctx, "k"); !errors.Is(err, catalog.ErrNotFound) {
		t.Errorf("%v", err)
	}
	_, err = addOnce(s, "k", "k")
	must(t, err)
}

// A request whose COMMIT gets no answer is repeated with its key: it is stored once, whether the
// connection was cut before COMMIT reached the server or after.
func TestLostAnswerToCommitIsRepeatedWithItsKey(t *testing.T) {
	address := storetest.PostgresURL(t)
	direct := opened(t, address)
	filled(t, direct)
	w := newWire(t, address)
	s := opened(t, w.url)
	const trials = 100
	for i := range trials {
		slug, cut := fmt.Sprint("lost-", i), []int32{beforeEnd, afterEnd}[i%2]
		w.cut.Store(cut)
		_, err := addOnce(s, slug, slug)
		if !errors.Is(err, catalog.ErrOutcomeUnknown) {
			t.Fatalf("trial %d: %v", i, err)
		}
		w.cut.Store(whole)
		stored, lost := direct.Fill(ctx, slug)
		a, err := addOnce(s, slug, slug)
		must(t, err)
		if (lost == nil) != (cut == afterEnd) || lost == nil && !strings.HasSuffix(a.Location, string(stored.ID)) {
			t.Errorf("trial %d: stored %v (%v), answered %s", i, stored.ID, lost, a.Location)
		}
		f, err := direct.Fill(ctx, slug)
		must(t, err)
		if !strings.HasSuffix(a.Location, string(f.ID)) {
			t.Errorf("trial %d: answered %s, stored %s", i, a.Location, f.ID)
		}
	}
	all, err := direct.Snapshot(ctx)
	must(t, err)
	if n := len(all.Fills); n != 2+trials {
		t.Errorf("%d fills, want %d", n, 2+trials)
	}
}
