package api_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"sabinbook/api"
	"sabinbook/internal/access"
	"sabinbook/internal/catalog"
	"sabinbook/store/storetest"
)

// repeated fails unless again is the kept answer of first: status, headers and bytes.
func repeated(t *testing.T, first, again reply) {
	t.Helper()
	if again.header.Get("Idempotency-Replayed") != "true" || first.header.Get("Idempotency-Replayed") != "" {
		t.Errorf("Idempotency-Replayed is %q, then %q", first.header.Get("Idempotency-Replayed"), again.header.Get("Idempotency-Replayed"))
	}
	if first.status != again.status || !bytes.Equal(first.body, again.body) {
		t.Errorf("first %d %s\nagain %d %s", first.status, first.body, again.status, again.body)
	}
	for name := range first.header {
		if name != "Date" && name != "Request-Id" && first.header.Get(name) != again.header.Get(name) {
			t.Errorf("%s is %q, then %q", name, first.header.Get(name), again.header.Get(name))
		}
	}
}

// Every POST that stores something answers its repeat as before, byte for byte, and stores nothing
// more; this also in memory, on one connection.
func TestRepeatsAreAnsweredAsBefore(t *testing.T) {
	for engine, open := range map[string]func(testing.TB) *storetest.Store{"memory": storetest.SQLite, "sqlite": storetest.SQLiteFile, "postgres": storetest.Postgres} {
		t.Run(engine, func(t *testing.T) {
			s := serve(t, open(t))
			s.source()
			keys := 0
			once := func(path, body string, header ...string) reply {
				t.Helper()
				keys++
				header = append(header, "Idempotency-Key", fmt.Sprint("request-", keys))
				first := s.do(http.MethodPost, path, strings.NewReader(body), header...)
				if first.status >= 300 {
					t.Fatalf("%s: %d %s", path, first.status, first.body)
				}
				before := s.revision()
				repeated(t, first, s.do(http.MethodPost, path, strings.NewReader(body), header...))
				if after := s.revision(); after != before {
					t.Errorf("%s: the repeat raised the revision from %d to %d", path, before, after)
				}
				return first
			}
			asJSON, asCSV := []string{"Content-Type", "application/json"}, []string{"Content-Type", "text/csv"}
			for _, g := range goods {
				made := once(g.path, g.body, asJSON...)
				slug := text(made.value(t, "slug"))
				s.must(http.StatusOK, s.send(http.MethodPatch, g.item+slug, `{"slug":"`+slug+`-b"}`, "If-Match", "*"))
				s.must(http.StatusNoContent, s.do(http.MethodDelete, g.item+slug, nil, "If-Match", "*"))
				if back := once(g.item+slug+"/restore", ""); back.header.Get("Content-Location") == "" {
					t.Errorf("%s: restored by a former slug: %v", g.path, back.header)
				}
				s.must(http.StatusOK, s.send(http.MethodPatch, g.item+slug, `{"slug":"`+slug+`"}`, "If-Match", "*"))
				once(g.item+slug+"/restore", "") // which changes nothing
			}
			once("/v1/offers/quayside-slab/prices", priceBody, asJSON...)
			const prices = "offer,amount\nquayside-slab,47.10\n"
			once("/v1/price-lists", prices, asCSV...)
			if r := once("/v1/price-lists", prices, asCSV...); text(r.value(t, "created_count")) != "0" { // changes nothing under another key
				t.Errorf("%s", r.body)
			}
			archive := string(s.must(http.StatusOK, s.get("/v1/exports/catalog")).body)
			other := serve(t, open(t))
			s, keys = other, 0
			asZip := []string{"Content-Type", "application/zip"}
			for range 2 { // the second time nothing is left to do
				plan := s.must(http.StatusOK, s.do(http.MethodPost, "/v1/imports?dry_run=true", strings.NewReader(archive), asZip...))
				once("/v1/imports?plan_digest="+text(plan.value(t, "plan_digest")), archive, asZip...)
			}
		})
	}
}

// Of fifty same requests at once, to two services over one database, one is carried out; the others get its answer or
// are told to wait.
func TestFiftySameRequestsAtOnce(t *testing.T) {
	storetest.Each(t, func(t *testing.T, db *storetest.Store) {
		first, second := serve(t, db), serve(t, db)
		first.source()
		for round := range 5 {
			body := merged(t, fillBody, fmt.Sprintf(`{"slug":"slab-%d","name":"Slab %d"}`, round, round))
			key := []string{"Idempotency-Key", fmt.Sprint("round-", round)}
			made := 0
			var answers []reply
			for _, r := range together(50, func(i int) reply {
				return []*service{first, second}[i%2].send(http.MethodPost, "/v1/fills", body, key...)
			}) {
				switch {
				case r.status == http.StatusCreated:
					answers = append(answers, r)
					if r.header.Get("Idempotency-Replayed") == "" {
						made++
					}
				case r.status == http.StatusConflict && r.header.Get("Retry-After") == "1" && r.value(t, "type") == "/problems/still-running":
				default:
					t.Errorf("status %d: %s", r.status, r.body)
				}
			}
			answers = append(answers, second.must(http.StatusCreated, second.send(http.MethodPost, "/v1/fills", body, key...)))
			for _, r := range answers {
				if !bytes.Equal(r.body, answers[0].body) {
					t.Errorf("two answers: %s and %s", answers[0].body, r.body)
				}
			}
			if made != 1 || len(first.walk("/v1/fills")) != round+1 {
				t.Errorf("round %d: %d were carried out", round, made)
			}
		}
	})
}

func TestKeysThatDiffer(t *testing.T) {
	storetest.Each(t, func(t *testing.T, db *storetest.Store) {
		s := serve(t, db)
		s.source()
		key := []string{"Idempotency-Key", "!~a-b"}
		first := s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/fills", fillBody, key...))
		// The same body with its members in another order and its numbers in another form.
		same := "\n" + strings.NewReplacer(`"value":40`, `"value":4.0e1`, `:[`, ` : [ `).Replace(merged(t, fillBody)) + " "
		repeated(t, first, s.send(http.MethodPost, "/v1/fills", same, key...))
		for path, body := range map[string]string{"/v1/fills": merged(t, fillBody, `{"note":"another"}`), "/v1/fills?dry_run=false": fillBody} {
			r := s.must(http.StatusUnprocessableEntity, s.send(http.MethodPost, path, body, key...))
			if r.value(t, "type") != "/problems/key-reused" || text(r.value(t, "errors", 0, "header")) != "Idempotency-Key" {
				t.Errorf("%s", r.body)
			}
		}
		// Another path, and another token: other requests.
		s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/fabrics", goodBody(t, "/v1/fabrics"), key...))
		secret := text(s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/tokens", `{"member":"Ada","role":"contributor"}`)).value(t, "secret"))
		s.must(http.StatusConflict, s.send(http.MethodPost, "/v1/fills", fillBody, append(key, "Authorization", "Bearer "+secret)...))
		// What was refused keeps no key.
		free := []string{"Idempotency-Key", "corrected"}
		s.must(http.StatusUnprocessableEntity, s.send(http.MethodPost, "/v1/fills", merged(t, fillBody, `{"slug":"second","name":"Second","source_id":"nowhere"}`), free...))
		s.must(http.StatusUnprocessableEntity, s.send(http.MethodPost, "/v1/fills", merged(t, fillBody, `{"slug":"second","name":" "}`), free...))
		s.must(http.StatusConflict, s.send(http.MethodPost, "/v1/fills", merged(t, fillBody, `{"name":"Second"}`), free...))
		// Nor does a trial.
		body := merged(t, fillBody, `{"slug":"second","name":"Second"}`)
		for range 2 {
			if r := s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/fills?dry_run=true", body, free...)); r.header.Get("Idempotency-Replayed") != "" {
				t.Error("a trial was kept")
			}
		}
		done := s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/fills", body, free...))
		repeated(t, done, s.send(http.MethodPost, "/v1/fills", body, free...))
	})
}

// goodBody is the body of the first good with a path.
func goodBody(t *testing.T, path string) string {
	t.Helper()
	for _, g := range goods {
		if g.path == path {
			return g.body
		}
	}
	t.Fatal(path)
	return ""
}

func TestBadKeys(t *testing.T) {
	s := stocked(t)
	before := s.revision()
	for name, c := range map[string]struct{ path, body, key string }{
		"empty":         {"/v1/fills", fillBody, ""},
		"too long":      {"/v1/fills", fillBody, strings.Repeat("k", 256)},
		"a space":       {"/v1/fills", fillBody, "a b"},
		"a tab":         {"/v1/fills", fillBody, "a\tb"},
		"not ASCII":     {"/v1/fills", fillBody, "schlüssel"},
		"of a trial":    {"/v1/fills?dry_run=true", fillBody, "a b"},
		"of a list":     {"/v1/price-lists", "offer,amount\n", "a b"},
		"of a token":    {"/v1/tokens", `{"member":"Ada","role":"reader"}`, "good"},
		"of a rotation": {"/v1/tokens/tok_00000000000000000000000000/rotate", "", "good"},
	} {
		t.Run(name, func(t *testing.T) {
			in := *s
			in.t = t
			media := "application/json"
			if strings.HasPrefix(c.path, "/v1/price-lists") {
				media = "text/csv"
			}
			r := in.must(http.StatusBadRequest, in.do(http.MethodPost, c.path, strings.NewReader(c.body), "Content-Type", media, "Idempotency-Key", c.key))
			if text(r.value(t, "errors", 0, "header")) != "Idempotency-Key" || text(r.value(t, "error_count")) != "1" {
				t.Errorf("%s", r.body)
			}
		})
	}
	req, err := http.NewRequest(http.MethodPost, s.url+"/v1/fills", strings.NewReader(fillBody))
	if err != nil {
		t.Fatal(err)
	}
	req.Header = http.Header{"Content-Type": {"application/json"}, "Idempotency-Key": {"one", "two"}}
	if r := s.must(http.StatusBadRequest, s.exchange(req)); !strings.Contains(string(r.body), "2 times") {
		t.Errorf("%s", r.body)
	}
	if s.revision() != before {
		t.Error("something was stored")
	}
	s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/fills", merged(t, fillBody, `{"slug":"longest","name":"Longest"}`), "Idempotency-Key", strings.Repeat("~", 255)))
}

// After two days a key is new again, and what was kept for it is gone.
func TestKeysEnd(t *testing.T) {
	storetest.Each(t, func(t *testing.T, db *storetest.Store) {
		now := today
		db.Now = func() time.Time { return now }
		s := serve(t, db)
		s.source()
		key := []string{"Idempotency-Key", "nightly"}
		first := s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/fills", fillBody, key...))
		now = today.Add(48*time.Hour - time.Millisecond)
		repeated(t, first, s.send(http.MethodPost, "/v1/fills", fillBody, key...))
		now = today.Add(48 * time.Hour)
		s.must(http.StatusConflict, s.send(http.MethodPost, "/v1/fills", fillBody, key...)) // the slug is taken
		s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/fills", merged(t, fillBody, `{"slug":"second","name":"Second"}`), key...))
		now = today // even then: the old answer is swept
		s.must(http.StatusUnprocessableEntity, s.send(http.MethodPost, "/v1/fills", fillBody, key...))
	})
}

// forgetful is a store that fails when an answer is to be kept.
type forgetful struct {
	*storetest.Store
	err error
}

func (f *forgetful) Keep(ctx context.Context, a access.Answer) error {
	if f.err != nil {
		return f.err
	}
	return f.Store.Keep(ctx, a)
}

func (f *forgetful) AddFabric(context.Context, string, catalog.Fabric) (catalog.Fabric, error) {
	panic("secret of the inside")
}

// What cannot be kept with its answer is not stored, and the next change has its turn.
func TestWhatIsNotKeptIsNotStored(t *testing.T) {
	storetest.Each(t, func(t *testing.T, db *storetest.Store) {
		serve(t, db).source()
		f := &forgetful{Store: db}
		s := serve(t, api.Store(f))
		s.token = keeperSecret.Reveal()
		key := []string{"Idempotency-Key", "k"}
		for status, err := range map[int]error{http.StatusServiceUnavailable: catalog.ErrUnavailable, http.StatusInternalServerError: errors.New("secret of the inside")} {
			f.err = err
			r := s.must(status, s.send(http.MethodPost, "/v1/fills", fillBody, key...))
			if r.header.Get("ETag") != "" || r.header.Get("Location") != "" {
				t.Errorf("%v", r.header)
			}
		}
		f.err = nil
		s.must(http.StatusInternalServerError, s.send(http.MethodPost, "/v1/fabrics", goodBody(t, "/v1/fabrics"), key...))
		first := s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/fills", fillBody, key...))
		repeated(t, first, s.send(http.MethodPost, "/v1/fills", fillBody, key...))
	})
}

// A shortlist that is kept, a comment and a restored shortlist are answered a second time as the first;
// a share link, whose answer tells a secret, takes no key. This also in memory, on one connection.
func TestRepeatsAtShortlistsAreAnsweredAsBefore(t *testing.T) {
	for engine, open := range map[string]func(testing.TB) *storetest.Store{"memory": storetest.SQLite, "postgres": storetest.Postgres} {
		t.Run(engine, func(t *testing.T) {
			s := seeded(t, open(t))
			keys := 0
			once := func(path, body string) {
				t.Helper()
				keys++
				header := []string{"Idempotency-Key", fmt.Sprint("kept-", keys), "Content-Type", "application/json"}
				if body == "" {
					header = header[:2]
				}
				made := s.do(http.MethodPost, path, strings.NewReader(body), header...)
				if made.status >= 300 {
					t.Fatalf("%s: %d %s", path, made.status, made.body)
				}
				repeated(t, made, s.do(http.MethodPost, path, strings.NewReader(body), header...))
			}
			once("/v1/shortlists", s.keepBody(`{"slug":"keyed"}`))
			once("/v1/shortlists/keyed/comments", `{"text":"Saturday?"}`)
			if n := text(s.get("/v1/shortlists/keyed/comments?include=total_count").value(t, "total_count")); n != "1" {
				t.Errorf("%s comments", n)
			}
			s.must(http.StatusNoContent, s.do(http.MethodDelete, "/v1/shortlists/keyed", nil, "If-Match", "*"))
			once("/v1/shortlists/keyed/restore", "")
			r := s.must(http.StatusBadRequest, s.send(http.MethodPost, "/v1/shortlists/keyed/share-links", `{}`, "Idempotency-Key", "k"))
			if !strings.Contains(string(r.body), "secret") {
				t.Errorf("%s", r.body)
			}
		})
	}
}
