package api_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"sabinbook/store/storetest"
)

// events are the items of a list of events.
func events(t *testing.T, r reply) []map[string]any {
	t.Helper()
	var list struct{ Items []map[string]any }
	if err := json.Unmarshal(r.body, &list); err != nil || r.status != http.StatusOK {
		t.Fatalf("%d %s: %v", r.status, r.body, err)
	}
	return list.Items
}

// Each change of each noun leaves one event with its reason, whose states are the record as its own
// path answered it before and after; every event but a deletion can be gone back to.
func TestEveryChangeIsTold(t *testing.T) {
	storetest.Each(t, func(t *testing.T, db *storetest.Store) {
		s := serve(t, db)
		s.source()
		for _, g := range goods {
			s.must(http.StatusCreated, s.send(http.MethodPost, g.path, g.body))
		}
		for i := len(goods) - 1; i >= 0; i-- {
			var named struct{ Slug string }
			if err := json.Unmarshal([]byte(goods[i].body), &named); err != nil {
				t.Fatal(err)
			}
			at := goods[i].item + named.Slug
			first := s.get(at)
			id, noun := first.value(t, "id").(string), ""
			history := func() []map[string]any {
				t.Helper()
				all := events(t, s.get("/v1/audit-events?record="+id))
				noun = all[0]["noun"].(string)
				public := events(t, s.get("/v1/history?noun="+noun+"&record="+named.Slug))
				if len(public) != len(all) {
					t.Errorf("%s: %d events in the history, %d in the trail", at, len(public), len(all))
				}
				for i, e := range public {
					if e["before"] != nil || e["after"] != nil || e["id"] != all[i]["id"] {
						t.Errorf("%s: %v in the history", at, e)
					}
				}
				return all
			}
			change := func(action, method, path, body string, want int, header ...string) reply {
				t.Helper()
				before := s.get(at)
				count := len(history())
				why := "Während des Umbaus: " + action
				header = append(header, "Change-Reason", "  "+why+" ")
				s.must(want, s.send(method, path+"?dry_run=true", body, header...))
				if n := len(history()); n != count {
					t.Errorf("%s: a trial left %d events", path, n-count)
				}
				r := s.must(want, s.send(method, path, body, header...))
				all := history()
				if len(all) != count+1 {
					t.Fatalf("%s %s: %d events became %d", method, path, count, len(all))
				}
				e := all[0]
				if e["action"] != action || e["reason"] != why || e["slug"] != named.Slug || e["record_id"] != id {
					t.Errorf("%s %s: %v", method, path, e)
				}
				for state, answer := range map[string]reply{"before": before, "after": s.get(at)} {
					var record map[string]any
					if answer.status == http.StatusOK {
						if err := json.Unmarshal(answer.body, &record); err != nil {
							t.Fatal(err)
						}
					}
					told, _ := e[state].(map[string]any)
					if want, got := fmt.Sprint(record), fmt.Sprint(told); want != got {
						t.Errorf("%s %s: %s is %s, want %s", method, path, state, got, want)
					}
				}
				one := s.must(http.StatusOK, s.get("/v1/audit-events/"+e["id"].(string)))
				if one.value(t, "id") != e["id"] || fmt.Sprint(one.value(t, "after")) != fmt.Sprint(e["after"]) {
					t.Errorf("%s reads %s", e["id"], one.body)
				}
				return r
			}
			change("changed", http.MethodPatch, at, goods[i].change, http.StatusOK, "If-Match", "*")
			changed := history()
			if list := changed[0]["changed"].([]any); len(list) == 0 || len(list) > 3 {
				t.Errorf("%s: the patch %s changed %v", at, goods[i].change, list)
			}
			added := changed[1]["id"].(string)
			stale := fmt.Sprintf(`"%s.1"`, id)
			s.must(http.StatusPreconditionFailed, s.send(http.MethodPost, "/v1/audit-events/"+added+"/restore", "", "If-Match", stale))
			s.must(http.StatusPreconditionRequired, s.send(http.MethodPost, "/v1/audit-events/"+added+"/restore", ""))
			back := change("changed", http.MethodPost, "/v1/audit-events/"+added+"/restore", "", http.StatusOK, "If-Match", fmt.Sprintf(`"%s.2"`, id))
			same := func(r reply) {
				t.Helper()
				var was, is map[string]any
				for body, into := range map[*[]byte]*map[string]any{&first.body: &was, &r.body: &is} {
					if err := json.Unmarshal(*body, into); err != nil {
						t.Fatal(err)
					}
				}
				for _, name := range []string{"revision", "update_time", "updated_by"} {
					delete(was, name)
					delete(is, name)
				}
				if fmt.Sprint(was) != fmt.Sprint(is) {
					t.Errorf("%s went back to %v, it was %v", at, is, was)
				}
			}
			same(back)
			change("deleted", http.MethodDelete, at, "", http.StatusNoContent, "If-Match", "*")
			deletion := history()[0]["id"].(string)
			r := s.must(http.StatusConflict, s.send(http.MethodPost, "/v1/audit-events/"+deletion+"/restore", "", "If-Match", "*"))
			if earlier := history()[1]["id"].(string); !strings.Contains(string(r.body), earlier) {
				t.Errorf("the refusal does not name %s: %s", earlier, r.body)
			}
			same(change("restored", http.MethodPost, "/v1/audit-events/"+added+"/restore", "", http.StatusOK, "If-Match", fmt.Sprintf(`"%s.4"`, id)))
			change("deleted", http.MethodDelete, at, "", http.StatusNoContent, "If-Match", "*")
		}
	})
}

func TestReasonsAndWhatEventsRefuse(t *testing.T) {
	s := serve(t, storetest.SQLite(t))
	s.source()
	source := events(t, s.get("/v1/audit-events?noun=source"))[0]
	s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/fills", fillBody))
	for _, reason := range []string{"", " ", strings.Repeat("é", 501), "a\tb", "\xff"} {
		r := s.must(http.StatusBadRequest, s.send(http.MethodPost, "/v1/sources", `{}`, "Change-Reason", reason))
		if !strings.Contains(string(r.body), `"header":"Change-Reason"`) {
			t.Errorf("%q: %s", reason, r.body)
		}
	}
	s.must(http.StatusPreconditionFailed, s.send(http.MethodPost, "/v1/audit-events/"+source["id"].(string)+"/restore", "", "If-Match", `"x"`))
	s.must(http.StatusOK, s.send(http.MethodPost, "/v1/audit-events/"+source["id"].(string)+"/restore", "", "If-Match", "*", "Change-Reason", strings.Repeat("é", 500)))
	s.must(http.StatusNotFound, s.send(http.MethodPost, "/v1/audit-events/event_00000000000000000000000000/restore", "", "If-Match", "*"))
	s.must(http.StatusNotFound, s.get("/v1/audit-events/event_00000000000000000000000000"))
	s.must(http.StatusNotFound, s.get("/v1/audit-events/first"))
	for query, at := range map[string]string{"noun=fil": "fill", "change_time_min=yesterday": "change_time_min", "change_time_max=2026-13-01T00:00:00Z": "change_time_max", "sort=reason": "sort", "cursor=x": "cursor", "limit=201": "limit"} {
		if r := s.must(http.StatusBadRequest, s.get("/v1/audit-events?"+query)); !strings.Contains(string(r.body), at) {
			t.Errorf("%s: %s", query, r.body)
		}
	}
	for _, query := range []string{"noun=fill&record=nothing", "noun=fill&record=notebook", "noun=price&record=notebook", "noun=fill&record=%25"} {
		s.must(http.StatusNotFound, s.get("/v1/history?"+query))
	}
	for _, query := range []string{"noun=fil&record=notebook", "record=notebook", "noun=source", "noun=source&record=notebook&sort=id"} {
		s.must(http.StatusBadRequest, s.get("/v1/history?"+query))
	}
	all := events(t, s.get("/v1/audit-events"))
	for query, n := range map[string]int{"action=added": len(all) - 1, "action=changed": 1, "noun=fill,source": len(all), "noun=fill": 1, "changed_by=nobody": 0, "record=notebook": 2,
		"change_time_min=" + url.QueryEscape(all[0]["change_time"].(string)) + "&change_time_max=2199-01-01T00:00:00%2B01:00": -1, "change_time_min=2199-01-01T00:00:00Z": 0} {
		if got := len(events(t, s.get("/v1/audit-events?"+query))); got != n && n >= 0 || n < 0 && got == 0 {
			t.Errorf("%s finds %d events, want %d", query, got, n)
		}
	}
	if n := s.get("/v1/audit-events?limit=1&include=total_count").value(t, "total_count"); n != float64(len(all)) {
		t.Errorf("%v events are counted, %d listed", n, len(all))
	}
	seen := []string{}
	for next := "/v1/audit-events?limit=1"; next != ""; {
		page := s.get(next)
		seen = append(seen, events(t, page)[0]["id"].(string))
		next, _ = page.value(t, "next").(string)
	}
	for i, e := range all {
		if seen[i] != e["id"] {
			t.Errorf("page %d shows %s, the list %s", i, seen[i], e["id"])
		}
	}
	if table := s.must(http.StatusOK, s.get("/v1/audit-events.csv")); strings.Count(string(table.body), "event_") != len(all) {
		t.Errorf("%s", table.body)
	}
}

// A price leaves an event and cannot be taken back; what a past state needs must still be there.
func TestPastStatesThatNoLongerFit(t *testing.T) {
	s := serve(t, storetest.SQLite(t))
	s.source()
	s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/sources", merged(t, goods[0].body, `{"slug":"leaflet","name":"Leaflet"}`)))
	s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/fills", merged(t, fillBody, `{"source_id":"leaflet"}`)))
	fill := events(t, s.get("/v1/audit-events?noun=fill"))[0]
	at := "/v1/fills/" + fill["record_id"].(string)
	s.must(http.StatusOK, s.send(http.MethodPatch, at, `{"source_id":"notebook"}`, "If-Match", "*", "Content-Type", "application/merge-patch+json"))
	s.must(http.StatusNoContent, s.send(http.MethodDelete, "/v1/sources/leaflet", "", "If-Match", "*"))
	r := s.must(http.StatusConflict, s.send(http.MethodPost, "/v1/audit-events/"+fill["id"].(string)+"/restore", "", "If-Match", "*"))
	if !strings.Contains(string(r.body), "leaflet is deleted") || !strings.Contains(string(r.body), "/source_id") {
		t.Errorf("%s", r.body)
	}
	if n := len(events(t, s.get("/v1/history?noun=fill&record="+fill["record_id"].(string)))); n != 2 {
		t.Errorf("%d events", n)
	}
	for _, g := range goods[1:] {
		s.send(http.MethodPost, g.path, g.body)
	}
	s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/offers/quayside-slab/prices", priceBody))
	price := events(t, s.get("/v1/audit-events?noun=price"))[0]
	r = s.must(http.StatusConflict, s.send(http.MethodPost, "/v1/audit-events/"+price["id"].(string)+"/restore", "", "If-Match", "*"))
	if words := text(r.value(t, "errors", 0, "detail")) + text(r.value(t, "errors", 0, "fix")); !strings.Contains(words, "price") || !strings.Contains(words, "correct") {
		t.Errorf("%s", r.body)
	}
	if n := len(events(t, s.get("/v1/audit-events?noun=price"))); n != 1 {
		t.Errorf("%d events of one price", n)
	}
}
