package api_test

import (
	"bytes"
	"encoding/json"
	"net/http"
	"reflect"
	"strings"
	"testing"

	"sabinbook/store/storetest"
)

// A trial of any change of any noun answers what the change then answers, but for what only stored
// records have, and keeps nothing: the catalog and its revision are as before.
func TestDryRunAnswersAsTheChangeAndKeepsNothing(t *testing.T) {
	storetest.Each(t, func(t *testing.T, db *storetest.Store) {
		s := serve(t, db)
		s.source()
		bare := func(r reply) map[string]any {
			var m map[string]any
			if err := json.Unmarshal(r.body, &m); err != nil && len(r.body) > 0 {
				t.Fatal(err)
			}
			for _, name := range []string{"id", "revision", "create_time", "update_time"} {
				delete(m, name)
			}
			return m
		}
		twice := func(method, path, body string, header ...string) {
			t.Helper()
			before := s.revision()
			tried := s.send(method, path+"?dry_run=true", body, header...)
			if tried.header.Get("Dry-Run") != "true" || strings.Contains(tried.header.Get("ETag"), "_") || tried.header.Get("Location") != "" ||
				len(tried.body) > 0 && tried.value(t, "revision") != nil || tried.status == http.StatusCreated && (tried.value(t, "id") != nil || tried.header.Get("ETag") != "") {
				t.Errorf("%s %s tried: %d %v %s", method, path, tried.status, tried.header, tried.body)
			}
			if s.revision() != before {
				t.Errorf("%s %s: a trial raised the revision", method, path)
			}
			if again := s.send(method, path+"?dry_run=true", body, header...); !bytes.Equal(again.body, tried.body) {
				t.Errorf("%s %s: two trials answer %s and %s", method, path, tried.body, again.body)
			}
			done := s.send(method, path+"?dry_run=false", body, header...)
			if done.status >= 300 || done.status != tried.status || !reflect.DeepEqual(bare(done), bare(tried)) || done.header.Get("Dry-Run") != "" {
				t.Errorf("%s %s: tried %d %s\ndone %d %s", method, path, tried.status, tried.body, done.status, done.body)
			}
		}
		for _, g := range goods {
			twice(http.MethodPost, g.path, g.body)
		}
		twice(http.MethodPost, "/v1/offers/quayside-slab/prices", priceBody)
		for i := len(goods) - 1; i >= 0; i-- {
			var named struct{ Slug string }
			if err := json.Unmarshal([]byte(goods[i].body), &named); err != nil {
				t.Fatal(err)
			}
			at := goods[i].item + named.Slug
			twice(http.MethodPatch, at, goods[i].change, "If-Match", "*")
			twice(http.MethodPut, at, goods[i].body, "If-Match", "*")
			twice(http.MethodDelete, at, "", "If-Match", "*")
			twice(http.MethodPost, at+"/restore", "")
			twice(http.MethodDelete, at, "", "If-Match", "*")
		}
		// A trial is refused like the change, and a token counts as for the change.
		r := s.must(http.StatusUnprocessableEntity, s.send(http.MethodPost, "/v1/fills?dry_run=true", merged(t, fillBody, `{"density_kg_per_m3":{"value":-1,"evidence":"declared","source_id":"notebook"}}`)))
		if r.header.Get("Dry-Run") != "" {
			t.Error("a refusal says that something was tried")
		}
		s.must(http.StatusBadRequest, s.send(http.MethodPost, "/v1/fills?dry_run=perhaps", fillBody))
		s.must(http.StatusBadRequest, s.get("/v1/fills?dry_run=true"))
	})
}
