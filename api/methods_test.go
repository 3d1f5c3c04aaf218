package api_test

import (
	"context"
	"net/http"
	"slices"
	"strings"
	"testing"

	"sabinbook/openapi"
)

// paths fills what is required of the paths of the contract with records of a stocked service.
func (s *service) paths() map[string]string {
	s.t.Helper()
	s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/offers/quayside-slab/prices", priceBody))
	price := text(s.get("/v1/offers/quayside-slab/prices").value(s.t, "items", 0, "id"))
	token := text(s.get("/v1/tokens").value(s.t, "items", 0, "id"))
	sample, frozen := sampleShortlist(s.t)
	if _, err := s.db.AddShortlist(context.Background(), keeper, sample, frozen); err != nil {
		s.t.Fatal(err)
	}
	shared, link := s.shared("/v1/shortlists/brass", `{}`)
	comment := text(s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/shortlists/brass/comments", `{"text":"Saturday?"}`)).value(s.t, "id"))
	s.must(http.StatusOK, s.send(http.MethodPut, "/v1/shortlists/brass/outcome", outcomeBody(s.t, sample.Options[0].Key, `{}`), "If-Match", "*"))
	named := strings.NewReplacer("{code}", "invalid-body", "/v1/shortlists/{id}", "/v1/shortlists/brass", "{comment}", comment, "{link}", link, "/v1/shared/{secret}", shared)
	event := text(s.get("/v1/audit-events").value(s.t, "items", 0, "id"))
	out := map[string]string{}
	for path := range s.doc.Paths.Map() {
		filled := named.Replace(path)
		filled = strings.ReplaceAll(filled, "/v1/prices/{id}", "/v1/prices/"+price)
		filled = strings.ReplaceAll(filled, "/v1/tokens/{id}", "/v1/tokens/"+token)
		filled = strings.ReplaceAll(filled, "/v1/audit-events/{id}", "/v1/audit-events/"+event)
		for _, g := range goods {
			slug := text(s.get(g.path).value(s.t, "items", 0, "slug"))
			filled = strings.ReplaceAll(filled, g.item+"{id}", g.item+slug)
		}
		if strings.Contains(filled, "{") {
			s.t.Fatalf("no record for %s", path)
		}
		if path == "/v1/rankings" {
			filled += "?panel_count=3&currency=EUR"
		}
		if path == "/v1/history" {
			filled += "?noun=fill&record=quay-slab"
		}
		out[path] = filled
	}
	return out
}

func methodsOf(allow string) []string {
	list := strings.Split(allow, ", ")
	slices.Sort(list)
	return list
}

// TestMethodsOfEveryPath: OPTIONS and 405 tell the methods of the contract, HEAD answers where
// GET does with the same headers, and nothing else is honoured.
func TestMethodsOfEveryPath(t *testing.T) {
	s := stocked(t)
	paths := s.paths()
	before := s.revision()
	for path, item := range s.doc.Paths.Map() {
		want := []string{http.MethodOptions}
		for method := range item.Operations() {
			want = append(want, method)
			if method == http.MethodGet {
				want = append(want, http.MethodHead)
			}
		}
		slices.Sort(want)
		options := s.must(http.StatusNoContent, s.do(http.MethodOptions, paths[path], nil))
		if got := methodsOf(options.header.Get("Allow")); !slices.Equal(got, want) {
			t.Errorf("OPTIONS %s allows %v, want %v", path, got, want)
		}
		for _, method := range []string{http.MethodPost, http.MethodPut, http.MethodPatch, http.MethodDelete, http.MethodTrace, "BREW"} {
			if slices.Contains(want, method) {
				continue
			}
			r := s.must(http.StatusMethodNotAllowed, s.do(method, paths[path], nil, "If-Match", "*"))
			if got := methodsOf(r.header.Get("Allow")); !slices.Equal(got, want) {
				t.Errorf("%s %s allows %v, want %v", method, path, got, want)
			}
		}
		if slices.Contains(want, http.MethodGet) {
			s.compareHead(paths[path], http.StatusOK)
		}
	}
	s.compareHead("/v1/fills/no-such-fill", http.StatusNotFound)
	s.compareHead("/v1/fills?colour=red", http.StatusBadRequest)
	s.must(http.StatusNotModified, s.do(http.MethodHead, "/v1/fills/quay-slab", nil, "If-None-Match", s.get("/v1/fills/quay-slab").header.Get("ETag")))
	s.must(http.StatusConflict, s.send(http.MethodPost, "/v1/fills", fillBody, "X-HTTP-Method-Override", http.MethodDelete))
	if after := s.revision(); after != before {
		t.Errorf("the catalog went from revision %d to %d", before, after)
	}
}

// compareHead compares the headers of HEAD with those of GET.
func (s *service) compareHead(path string, status int) {
	s.t.Helper()
	get := s.must(status, s.get(path, "Request-Id", "same-request", "Accept-Encoding", "identity"))
	head := s.must(status, s.do(http.MethodHead, path, nil, "Request-Id", "same-request", "Accept-Encoding", "identity"))
	names := map[string]bool{}
	for _, r := range []reply{get, head} {
		for name := range r.header {
			names[name] = name != "Date"
		}
	}
	for name, compare := range names {
		if compare && get.header.Get(name) != head.header.Get(name) {
			s.t.Errorf("%s: %s of GET %q, of HEAD %q", path, name, get.header.Get(name), head.header.Get(name))
		}
	}
}

func TestPathsThatAreNot(t *testing.T) {
	s := stocked(t)
	for _, path := range []string{"/", "/v1", "/v2/fills", "/v1/fills/", "/v1//fills", "/v1/fill", "/v1/fills/no-such-fill", "/v1/fills/QUAY-SLAB", "/v1/fills/%00", "/v1/fills/%ff",
		"/v1/fills/quay%2fslab", "/v1/fills/%00/absorption-tests", "/v1/offers/no-such-offer/prices", "/v1/offers/%00/prices", "/v1/prices/%00", "/v1/fabrics/quay-slab", "/problems/no-such-problem"} {
		s.must(http.StatusNotFound, s.get(path))
	}
	s.must(http.StatusNotFound, s.send(http.MethodPost, "/v1/fills/no-such-fill/absorption-tests", testBody))
	s.must(http.StatusNotFound, s.send(http.MethodPost, "/v1/offers/no-such-offer/prices", priceBody))
	s.must(http.StatusNotFound, s.do(http.MethodPost, "/v1/fills/no-such-fill/restore", nil))
	// The id of another noun is no id here.
	s.must(http.StatusNotFound, s.get("/v1/fabrics/"+text(s.get("/v1/fills/quay-slab").value(t, "id"))))
}

func TestRequestIdsAreKeptOrMade(t *testing.T) {
	s := stocked(t)
	for _, id := range []string{"my-request-1", "A.b_c-123", strings.Repeat("x", 64)} {
		for _, path := range []string{"/v1/fills", "/v1/fills/no-such-fill"} {
			if got := s.get(path, "Request-Id", id).header.Get("Request-Id"); got != id {
				t.Errorf("Request-Id %q became %q", id, got)
			}
		}
	}
	made := map[string]bool{}
	for _, id := range []string{"", "short", "with space in it", "quote\"quote", "semi;colon;semi", "größe-größe", strings.Repeat("x", 65)} {
		got := s.get("/v1/fills", "Request-Id", id).header.Get("Request-Id")
		if got == id || len(got) < 8 || made[got] {
			t.Errorf("Request-Id %q became %q", id, got)
		}
		made[got] = true
	}
}

// TestRoutesOfTheService reads what is not a record: the contract, health and the pages of problems.
func TestRoutesOfTheService(t *testing.T) {
	s := stocked(t)
	want, err := openapi.JSON()
	if err != nil {
		t.Fatal(err)
	}
	if served := s.must(http.StatusOK, s.get("/openapi.json")); string(served.body) != string(want) || text(served.value(t, "openapi")) != "3.1.0" {
		t.Error("/openapi.json is not the contract")
	}
	if r := s.must(http.StatusOK, s.get("/healthz")); r.value(t, "version") != "test" {
		t.Errorf("%s", r.body)
	}
	s.must(http.StatusOK, s.get("/readyz"))
	for _, r := range []reply{
		s.get("/v1/fills/no-such-fill"), s.get("/v1/fills?colour=red"), s.send(http.MethodPost, "/v1/fills", "{"), s.send(http.MethodPost, "/v1/fills", "{}"),
		s.send(http.MethodPost, "/v1/fills", fillBody), s.do("BREW", "/v1/fills", nil), s.do(http.MethodPost, "/v1/fills", strings.NewReader("a=b")),
		s.send(http.MethodPatch, "/v1/fills/quay-slab", `{"note":"x"}`), s.send(http.MethodPatch, "/v1/fills/quay-slab", `{"note":"x"}`, "If-Match", `"other"`),
	} {
		page := s.must(http.StatusOK, s.get(text(r.value(t, "type"))))
		for _, word := range []string{text(r.value(t, "title")), "Meaning:", "Cause:", "Cure:"} {
			if !strings.Contains(string(page.body), word) {
				t.Errorf("%v has no %q: %s", r.value(t, "type"), word, page.body)
			}
		}
	}
}

// TestTagsOfRecords: an item is 304 to whoever has its tag; tags of If-Match are strong.
func TestTagsOfRecords(t *testing.T) {
	s := stocked(t)
	const item = "/v1/fills/quay-slab"
	tag := s.get(item).header.Get("ETag")
	for _, given := range []string{tag, "W/" + tag, `"other", ` + tag, "*"} {
		r := s.must(http.StatusNotModified, s.get(item, "If-None-Match", given))
		if len(r.body) > 0 || r.header.Get("ETag") != tag || r.header.Get("Content-Type") != "" {
			t.Errorf("304 to %s: %v %s", given, r.header, r.body)
		}
	}
	for _, given := range []string{`"other"`, strings.Trim(tag, `"`), "nonsense"} {
		s.must(http.StatusOK, s.get(item, "If-None-Match", given))
	}
	for given, status := range map[string]int{"W/" + tag: 412, `"other"`: 412, strings.Trim(tag, `"`): 400, ",": 400, `"other", ` + tag: 200} {
		s.must(status, s.send(http.MethodPatch, item, `{"note":"x"}`, "If-Match", given))
	}
}
