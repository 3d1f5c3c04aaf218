package api_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"os"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"sabinbook/api"
	"sabinbook/store/storetest"
)

// Two services over one database, each with a store of its own as two processes have: what one of them
// has acknowledged, the other one tells from then on, in a record, in a table and in the revision that a
// ranking counts on. SABINBOOK_TEST_PAIRS sets how often that is tried, 240 otherwise.
func TestReplicasAreNeverStale(t *testing.T) {
	pairs := int64(240)
	if text := os.Getenv("SABINBOOK_TEST_PAIRS"); text != "" {
		n, err := strconv.ParseInt(text, 10, 64)
		if err != nil {
			t.Fatal(err)
		}
		pairs = n
	}
	storetest.Two(t, func(t *testing.T, first, second *storetest.Store) {
		replicas := make([]*api.Server, 2)
		for i, db := range []*storetest.Store{first, second} {
			var err error
			if replicas[i], err = api.New(withKeeper(t, db), api.Options{Now: func() time.Time { return today }}); err != nil {
				t.Fatal(err)
			}
		}
		token := keeperSecret.Reveal()
		send := func(on int, method, target, body string) (int, []byte) {
			media := "application/json"
			if method == http.MethodPatch {
				media = "application/merge-patch+json"
			}
			r := request(method, target, body, "Authorization", "Bearer "+token, "Content-Type", media, "If-Match", "*")
			if method == http.MethodGet {
				r.Header.Del("Content-Type")
				r.Header.Del("If-Match")
			}
			w := recorded(replicas[on], r)
			return w.Code, w.Body.Bytes()
		}
		const source = `{"slug":"notebook","name":"Notebook","citation":"Lantern Yard notebook","licence":"facts only","evidence":"declared","invented":true}`
		if code, body := send(0, http.MethodPost, "/v1/sources", source); code != http.StatusCreated {
			t.Fatal(code, string(body))
		}
		const writers = 4 // two on each replica
		for i := range writers {
			slug := fmt.Sprintf("slab-%d", i)
			if code, body := send(i%2, http.MethodPost, "/v1/fills", merged(t, fillBody, fmt.Sprintf(`{"slug":%q,"name":%q}`, slug, slug))); code != http.StatusCreated {
				t.Fatal(code, string(body))
			}
		}
		base, err := first.Revision(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		var left, acknowledged, stale, refused atomic.Int64
		left.Store(pairs)
		var kinds [3]atomic.Int64
		var group sync.WaitGroup
		for i := range writers {
			group.Go(func() {
				slug := fmt.Sprintf("slab-%d", i)
				for k := 0; left.Add(-1) >= 0; k++ {
					note := fmt.Sprintf("seen %d times by %d", k, i)
					code, body := send(i%2, http.MethodPatch, "/v1/fills/"+slug, fmt.Sprintf(`{"note":%q}`, note))
					for ; code == http.StatusServiceUnavailable; code, body = send(i%2, http.MethodPatch, "/v1/fills/"+slug, fmt.Sprintf(`{"note":%q}`, note)) {
						refused.Add(1) // another writer has the database
					}
					if code != http.StatusOK {
						t.Error(code, string(body))
						return
					}
					least := base + acknowledged.Add(1)
					kind := k % 3
					kinds[kind].Add(1)
					elsewhere := 1 - i%2
					var err error
					switch kind {
					case 0:
						code, body = send(elsewhere, http.MethodGet, "/v1/fills/"+slug, "")
						var record struct{ Note string }
						if err = json.Unmarshal(body, &record); record.Note != note {
							err = errors.Join(err, fmt.Errorf("the note is %q, want %q", record.Note, note))
						}
					case 1:
						code, body = send(elsewhere, http.MethodGet, "/v1/fills.csv?limit=200", "")
						if !strings.Contains(string(body), note) {
							err = fmt.Errorf("the table does not hold %q", note)
						}
					default:
						code, body = send(elsewhere, http.MethodPost, "/v1/rankings", question)
						var answer struct {
							Revision int64 `json:"catalog_revision"`
						}
						if err = json.Unmarshal(body, &answer); answer.Revision < least {
							err = errors.Join(err, fmt.Errorf("the ranking counts on revision %d, %d was acknowledged", answer.Revision, least))
						}
					}
					if code != http.StatusOK || err != nil {
						stale.Add(1)
						t.Errorf("%d: %v", code, err)
					}
				}
			})
		}
		group.Wait()
		if n := acknowledged.Load(); n != pairs {
			t.Errorf("%d pairs, want %d", n, pairs)
		}
		t.Logf("%d pairs (%d records, %d tables, %d rankings), %d stale; %d writes had to be repeated", acknowledged.Load(), kinds[0].Load(), kinds[1].Load(), kinds[2].Load(), stale.Load(), refused.Load())
	})
}
