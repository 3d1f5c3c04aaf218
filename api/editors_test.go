package api_test

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"net/http"
	"os"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"sabinbook/store/storetest"
)

// Thirty-two clients edit eight records: each reads one, adds one to its density and sends it with the
// tag that it read, again and again. No edit that was acknowledged is lost, and every revision has one
// winner. SABINBOOK_TEST_EDITS sets the number of edits, 96 otherwise.
func TestNoEditIsLost(t *testing.T) {
	const clients, records = 32, 8
	edits := int64(96)
	if text := os.Getenv("SABINBOOK_TEST_EDITS"); text != "" {
		n, err := strconv.ParseInt(text, 10, 64)
		if err != nil {
			t.Fatal(err)
		}
		edits = n
	}
	storetest.Each(t, func(t *testing.T, db *storetest.Store) {
		s := serve(t, db)
		s.source()
		const first = 5.0 // kg/m³; the limit of a density is far above what is added
		paths := make([]string, records)
		for i := range paths {
			slug := fmt.Sprintf("slab-%d", i)
			s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/fills", merged(t, fillBody, fmt.Sprintf(`{"slug":%q,"name":%q,"density_kg_per_m3":{"value":%g,"evidence":"measured","source_id":"notebook"}}`, slug, slug, first))))
			paths[i] = "/v1/fills/" + slug
		}
		var left, refused atomic.Int64
		left.Store(edits)
		var lock sync.Mutex
		winners := map[string]int{} // of a revision of a record
		acknowledged := make([]int, records)
		client := &http.Client{Transport: &http.Transport{MaxIdleConnsPerHost: clients}}
		// Other tests check answers against the contract; this one only counts.
		send := func(method, path, body, tag string) (int, string, map[string]any) {
			q, err := http.NewRequest(method, s.url+path, strings.NewReader(body))
			if err != nil {
				panic(err)
			}
			q.Header = http.Header{"Authorization": {"Bearer " + s.token}, "Content-Type": {"application/merge-patch+json"}, "If-Match": {tag}}
			if method == http.MethodGet {
				q.Header.Del("Content-Type")
				q.Header.Del("If-Match")
			}
			r, err := client.Do(q)
			if err != nil {
				t.Error(err)
				return 0, "", nil
			}
			defer r.Body.Close()
			var record map[string]any
			if err := json.NewDecoder(r.Body).Decode(&record); err != nil {
				t.Error(err)
			}
			return r.StatusCode, r.Header.Get("ETag"), record
		}
		var wg sync.WaitGroup
		for c := range clients {
			wg.Go(func() {
				r := rand.New(rand.NewPCG(uint64(c), 3))
				for left.Add(-1) >= 0 {
					for i := r.IntN(records); ; {
						_, tag, fill := send(http.MethodGet, paths[i], "", "")
						density, ok := fill["density_kg_per_m3"].(map[string]any)
						if !ok {
							return // the error is told
						}
						status, _, record := send(http.MethodPatch, paths[i], fmt.Sprintf(`{"density_kg_per_m3":{"value":%.1f}}`, density["value"].(float64)+0.1), tag)
						if status == http.StatusPreconditionFailed || status == http.StatusServiceUnavailable {
							refused.Add(1)
							continue
						}
						if status != http.StatusOK {
							t.Errorf("%d %v", status, record)
							return
						}
						lock.Lock()
						winners[fmt.Sprint(i, record["revision"])]++
						acknowledged[i]++
						lock.Unlock()
						break
					}
				}
			})
		}
		wg.Wait()
		sum := 0
		for i, path := range paths {
			r := s.get(path)
			n := acknowledged[i]
			sum += n
			if got := r.value(t, "density_kg_per_m3", "value").(float64); fmt.Sprintf("%.1f", got) != fmt.Sprintf("%.1f", first+float64(n)/10) || r.value(t, "revision") != float64(n+1) {
				t.Errorf("%s: %d edits were acknowledged, density %g, revision %v", path, n, got, r.value(t, "revision"))
			}
			// One event tells of each, and each begins where the one before it ended.
			told := 0
			density := func(event map[string]any, state string) any {
				record, _ := event[state].(map[string]any)
				figure, _ := record["density_kg_per_m3"].(map[string]any)
				return figure["value"]
			}
			var later map[string]any
			for next := "/v1/audit-events?limit=200&record=" + r.value(t, "id").(string); next != ""; {
				page := s.get(next)
				for _, e := range events(t, page) {
					if e["record_revision"] != float64(n+1-told) || later != nil && density(e, "after") != density(later, "before") {
						t.Errorf("%s: event %d before the last is %v, the one after it %v", path, told, e, later)
					}
					later, told = e, told+1
				}
				next, _ = page.value(t, "next").(string)
			}
			if told != n+1 {
				t.Errorf("%s: %d events tell of %d edits and one creation", path, told, n)
			}
		}
		for revision, n := range winners {
			if n != 1 {
				t.Errorf("revision %s has %d winners", revision, n)
			}
		}
		if sum != int(edits) {
			t.Errorf("%d edits were acknowledged, want %d", sum, edits)
		}
		t.Logf("%d edits acknowledged, %d told to read again", sum, refused.Load())
	})
}
