package api_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"testing"

	"sabinbook/internal/access"
	"sabinbook/store/storetest"
)

// nounsOf are the names of the goods in a batch, in their order.
var nounsOf = []string{"source", "fill", "absorption_test", "fabric", "part", "ready_made_panel", "design", "room", "supplier", "exchange_rate", "offer"}

// batchOf is a batch of all goods, behind the source that they name. A test has its fill beside it.
func batchOf(t *testing.T) string {
	t.Helper()
	items := []string{`{"source":` + notebook + `}`}
	for i, g := range goods {
		beside := ""
		if strings.HasSuffix(g.path, "absorption-tests") {
			beside = `"fill_id":"quay-slab",`
		}
		items = append(items, fmt.Sprintf(`{%s%q:%s}`, beside, nounsOf[i], g.body))
	}
	return `{"items":[` + strings.Join(items, ",") + `]}`
}

const notebook = `{"slug":"notebook","name":"Notebook","citation":"Lantern Yard notebook","licence":"facts only","evidence":"declared","invented":true}`

// bareRecord is a record without what differs from one catalog to the next; ids of others are their slugs.
func bareRecord(t *testing.T, s *service, text []byte) string {
	t.Helper()
	var m map[string]any
	if err := json.Unmarshal(text, &m); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"id", "create_time", "update_time"} {
		delete(m, name)
	}
	out, err := json.Marshal(m)
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{"/v1/sources", "/v1/fills", "/v1/suppliers"} {
		list, _ := s.get(path).value(t, "items").([]any)
		for _, r := range list {
			record := r.(map[string]any)
			out = bytes.ReplaceAll(out, []byte(record["id"].(string)), []byte(record["slug"].(string)))
		}
	}
	return string(out)
}

// A batch stores and answers what single POSTs one after another do, in one change of the catalog, and
// its records name each other by slug. Its repeat is the first answer; a trial keeps nothing.
func TestBatchEqualsSinglePosts(t *testing.T) {
	for engine, open := range map[string]func(testing.TB) *storetest.Store{"memory": storetest.SQLite, "sqlite": storetest.SQLiteFile, "postgres": storetest.Postgres} {
		t.Run(engine, func(t *testing.T) {
			single, s := serve(t, open(t)), serve(t, open(t))
			single.source()
			body := batchOf(t)
			before := s.revision()
			tried := s.must(http.StatusOK, s.send(http.MethodPost, "/v1/batches?dry_run=true", body))
			if again := s.send(http.MethodPost, "/v1/batches?dry_run=true", body); !bytes.Equal(tried.body, again.body) || tried.header.Get("Dry-Run") != "true" || s.revision() != before ||
				text(tried.value(t, "items", 2, "fill", "source_id")) != "notebook" || strings.Contains(string(tried.body), `"id"`) {
				t.Errorf("tried %s\nagain %s", tried.body, again.body)
			}
			key := []string{"Idempotency-Key", "delivery-1"}
			done := s.must(http.StatusOK, s.send(http.MethodPost, "/v1/batches", body, key...))
			if now := s.revision(); now != before+1 {
				t.Errorf("revision %d, was %d", now, before)
			}
			repeated(t, done, s.send(http.MethodPost, "/v1/batches", body, key...))
			if n := len(done.value(t, "items").([]any)); n != len(goods)+1 {
				t.Errorf("%d records are answered", n)
			}
			for i, g := range goods {
				want := single.must(http.StatusCreated, single.send(http.MethodPost, g.path, g.body))
				answered, err := json.Marshal(done.value(t, "items", i+1, nounsOf[i]))
				if err != nil {
					t.Fatal(err)
				}
				stored := s.must(http.StatusOK, s.get(g.item+text(want.value(t, "slug"))))
				w := bareRecord(t, single, want.body)
				if a, r := bareRecord(t, s, answered), bareRecord(t, s, stored.body); a != w || r != w {
					t.Errorf("%s\nsingle   %s\nanswered %s\nstored   %s", g.path, w, a, r)
				}
			}
		})
	}
}

// manyDesigns is a batch of n designs, with one of them changed.
func manyDesigns(t *testing.T, n, at int, change string) string {
	t.Helper()
	items := make([]string, n)
	for i := range items {
		design := merged(t, designBody, fmt.Sprintf(`{"slug":"design-%d","name":"Design %d"}`, i, i))
		if i == at {
			design = merged(t, design, change)
		}
		items[i] = `{"design":` + design + `}`
	}
	return `{"items":[` + strings.Join(items, ",") + `]}`
}

// A batch in which one record is refused stores none, whoever refuses it, and the pointer leads to it.
func TestBatchIsStoredWholeOrNotAtAll(t *testing.T) {
	storetest.Each(t, func(t *testing.T, db *storetest.Store) {
		s := serve(t, db)
		s.source()
		s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/designs", merged(t, designBody, `{"slug":"taken","name":"Taken"}`)))
		before := s.revision()
		for name, c := range map[string]struct {
			body   string
			status int
			at     string
		}{
			"contract":         {manyDesigns(t, 20, 17, `{"width_mm":"wide"}`), 422, "/items/17/design/width_mm"},
			"rules":            {manyDesigns(t, 20, 17, `{"width_mm":-1}`), 422, "/items/17/design/width_mm"},
			"taken":            {manyDesigns(t, 20, 17, `{"slug":"taken"}`), 409, "/items/17/design/slug"},
			"taken within":     {manyDesigns(t, 20, 17, `{"slug":"design-3"}`), 409, "/items/17/design/slug"},
			"unknown source":   {`{"items":[{"design":` + designBody + `},{"fill":` + merged(t, fillBody, `{"source_id":"nowhere"}`) + `}]}`, 422, "/items/1/fill/source_id"},
			"a later one":      {`{"items":[{"fill":` + merged(t, fillBody, `{"source_id":"logbook"}`) + `},{"source":` + sourceBody + `}]}`, 422, "/items/0/fill/source_id"},
			"no such fill":     {`{"items":[{"fill_id":"nowhere","absorption_test":` + testBody + `}]}`, 422, "/items/0/fill_id"},
			"no fill":          {`{"items":[{"absorption_test":` + testBody + `}]}`, 422, "/items/0/fill_id"},
			"fill of a design": {`{"items":[{"fill_id":"quay-slab","design":` + designBody + `}]}`, 422, "/items/0/fill_id"},
			"two records":      {`{"items":[{"fill":` + fillBody + `,"design":` + designBody + `}]}`, 422, "/items/0"},
			"no record":        {`{"items":[{}]}`, 422, "/items/0"},
			"another noun":     {`{"items":[{"price":` + priceBody + `}]}`, 422, "/items/0/price"},
			"read-only":        {manyDesigns(t, 2, 1, `{"id":"x"}`), 422, "/items/1/design/id"},
			"none":             {`{"items":[]}`, 422, "/items"},
			"too many":         {manyDesigns(t, 501, 0, `{}`), 422, "/items"},
		} {
			t.Run(name, func(t *testing.T) {
				in := *s
				in.t = t
				r := in.must(c.status, in.send(http.MethodPost, "/v1/batches", c.body, "Idempotency-Key", "same"))
				if text(r.value(t, "errors", 0, "pointer")) != c.at || text(r.value(t, "error_count")) != "1" {
					t.Errorf("want %s: %.600s", c.at, r.body)
				}
			})
		}
		if s.revision() != before || len(s.walk("/v1/designs")) != 1 {
			t.Error("something was stored")
		}
		// All that the rules and the contract find is told at once, of 120 faults 100.
		broken := strings.ReplaceAll(manyDesigns(t, 120, 5, `{"surprise":1}`), `"width_mm":500`, `"width_mm":-1`)
		r := s.must(http.StatusUnprocessableEntity, s.send(http.MethodPost, "/v1/batches", broken))
		if n := len(r.value(t, "errors").([]any)); n != 100 || text(r.value(t, "error_count")) != "121" {
			t.Errorf("%d faults, %v", n, r.value(t, "error_count"))
		}
		s.must(http.StatusOK, s.send(http.MethodPost, "/v1/batches", manyDesigns(t, 500, 0, `{}`), "Idempotency-Key", "same"))
		if n := len(s.walk("/v1/designs")); n != 501 || s.revision() != before+1 {
			t.Errorf("%d designs, revision %d, was %d", n, s.revision(), before)
		}
	})
}

// A batch needs what each of its records needs by itself, and its records belong to who sends it.
func TestBatchNeedsWhatItsRecordsNeed(t *testing.T) {
	doc, err := contractDoc()
	if err != nil {
		t.Fatal(err)
	}
	want := text(doc.Paths.Value("/v1/batches").Post.Extensions["x-needs"])
	for _, g := range goods {
		path := strings.Replace(g.path, "quay-slab", "{id}", 1)
		if got := text(doc.Paths.Value(path).Post.Extensions["x-needs"]); got != want {
			t.Errorf("%s needs %s, a batch %s", path, got, want)
		}
	}
	s := serve(t, storetest.SQLite(t))
	s.token = s.newToken(access.Token{Member: "ada", Role: access.Contributor, Scopes: []access.Scope{access.Prices}})
	s.must(http.StatusForbidden, s.send(http.MethodPost, "/v1/batches", batchOf(t)))
	s.token = s.newToken(access.Token{Member: "ada", Role: access.Contributor})
	if r := s.must(http.StatusOK, s.send(http.MethodPost, "/v1/batches", batchOf(t))); text(r.value(t, "items", len(goods), "offer", "created_by")) != "ada" {
		t.Errorf("%s", r.body)
	}
}
