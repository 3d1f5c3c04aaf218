package api_test

import (
	"context"
	"fmt"
	"net/http"
	"runtime"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"sabinbook/api"
	"sabinbook/internal/catalog"
	"sabinbook/store/storetest"
)

// together runs f n times at once and returns what they return.
func together(n int, f func(i int) reply) []reply {
	out := make([]reply, n)
	var wg sync.WaitGroup
	for i := range n {
		wg.Go(func() { out[i] = f(i) })
	}
	wg.Wait()
	return out
}

// TestOneOfManyWritersWins: of changes to the same revision one is stored, the others are
// told what is. Who does not care for the revision is always served.
func TestOneOfManyWritersWins(t *testing.T) {
	const writers = 12
	storetest.Each(t, func(t *testing.T, db *storetest.Store) {
		s := serve(t, db)
		s.source()
		tag := s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/fills", fillBody)).header.Get("ETag")
		patch := func(tag string) func(int) reply {
			return func(i int) reply {
				return s.send(http.MethodPatch, "/v1/fills/quay-slab", fmt.Sprintf(`{"note":"by %d"}`, i), "If-Match", tag)
			}
		}
		won := 0
		for _, r := range together(writers, patch(tag)) {
			switch r.status {
			case http.StatusOK:
				won++
			case http.StatusPreconditionFailed:
				if r.value(t, "current_revision") != 2.0 {
					t.Errorf("%s", r.body)
				}
			default:
				t.Errorf("status %d: %s", r.status, r.body)
			}
		}
		if won != 1 {
			t.Errorf("%d changes of one revision were stored", won)
		}
		for _, r := range together(writers, patch("*")) {
			if r.status != http.StatusOK {
				t.Errorf("If-Match: * answers %d: %s", r.status, r.body)
			}
		}
		if n := s.get("/v1/fills/quay-slab").value(t, "revision"); n != 2.0+writers {
			t.Errorf("revision %v, want %d", n, 2+writers)
		}
	})
}

// TestOneOfManyRecordsTakesASlug adds the same record many times at once.
func TestOneOfManyRecordsTakesASlug(t *testing.T) {
	storetest.Each(t, func(t *testing.T, db *storetest.Store) {
		s := serve(t, db)
		s.source()
		made := 0
		for _, r := range together(12, func(int) reply { return s.send(http.MethodPost, "/v1/fills", fillBody) }) {
			if r.status == http.StatusCreated {
				made++
			} else if r.status != http.StatusConflict {
				t.Errorf("status %d: %s", r.status, r.body)
			}
		}
		if made != 1 || len(s.walk("/v1/fills")) != 1 {
			t.Errorf("%d records were made", made)
		}
	})
}

// slow is an empty catalog that counts how many questions read it at once.
type slow struct {
	api.Store
	now, most, revision atomic.Int64
}

// Revision is another one each time, so that every question reads the catalog.
func (s *slow) Revision(context.Context) (int64, error) { return s.revision.Add(1), nil }

func (s *slow) Snapshot(context.Context) (catalog.Snapshot, error) {
	n := s.now.Add(1)
	defer s.now.Add(-1)
	for most := s.most.Load(); n > most && !s.most.CompareAndSwap(most, n); most = s.most.Load() {
	}
	time.Sleep(5 * time.Millisecond) // long enough for others to come in if they may
	return catalog.Snapshot{}, nil
}

// TestQuestionsWaitTheirTurn: no more questions are computed at once than there are
// processors, and all are answered.
func TestQuestionsWaitTheirTurn(t *testing.T) {
	db := &slow{}
	s := serve(t, db)
	for _, r := range together(8*runtime.GOMAXPROCS(0), func(int) reply { return s.send(http.MethodPost, "/v1/rankings", question) }) {
		if r.status != http.StatusOK {
			t.Errorf("status %d: %s", r.status, r.body)
		}
	}
	if most, limit := db.most.Load(), int64(runtime.GOMAXPROCS(0)); most > limit {
		t.Errorf("%d questions at once, want at most %d", most, limit)
	}
}
