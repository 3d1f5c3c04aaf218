package api_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"math"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"sabinbook/api"
	"sabinbook/internal/catalog"
	"sabinbook/internal/units"
)

// quiet is a store with an empty catalog that answers questions only.
type quiet struct{ api.Store }

func (quiet) Snapshot(context.Context) (catalog.Snapshot, error) { return catalog.Snapshot{}, nil }
func (quiet) Revision(context.Context) (int64, error)            { return 0, nil }
func (quiet) Ping(context.Context) error                         { return nil }

// failing is a store that fails in one way; it is here to provoke failures, everything else is
// tested on real stores.
type failing struct {
	api.Store
	err error
}

func (f failing) Ping(context.Context) error { return f.err }
func (f failing) Fill(context.Context, string) (catalog.Fill, error) {
	if f.err == nil {
		panic("secret of the inside")
	}
	return catalog.Fill{}, f.err
}
func (f failing) AddSource(context.Context, string, catalog.Source) (catalog.Source, error) {
	return catalog.Source{}, f.err
}
func (f failing) Revision(context.Context) (int64, error) { return 0, f.err }
func (f failing) Snapshot(context.Context) (catalog.Snapshot, error) {
	return catalog.Snapshot{}, f.err
}

// logged starts the service over a store with a log, which may be read after end.
func logged(t *testing.T, db api.Store) (s *service, log *bytes.Buffer, end func()) {
	t.Helper()
	s, log = serve(t, db), new(bytes.Buffer)
	handler, err := api.New(withKeeper(t, db), api.Options{Log: slog.New(slog.NewJSONHandler(log, nil)), Version: "test"})
	if err != nil {
		t.Fatal(err)
	}
	server := httptest.NewServer(handler)
	s.url = server.URL
	return s, log, server.Close // waits until all requests have their line
}

func TestStoreThatIsAway(t *testing.T) {
	s := serve(t, failing{err: fmt.Errorf("store: dial: %w", catalog.ErrUnavailable)})
	for _, r := range []reply{s.get("/v1/fills/x"), s.get("/readyz"), s.send(http.MethodPost, "/v1/rankings", question),
		s.send(http.MethodPatch, "/v1/fills/x", `{"note":"x"}`, "If-Match", "*"), s.do(http.MethodDelete, "/v1/fills/x", nil, "If-Match", "*")} {
		s.must(http.StatusServiceUnavailable, r)
		if r.header.Get("Retry-After") == "" || strings.Contains(string(r.body), "dial") || r.value(t, "type") != "/problems/unavailable" {
			t.Errorf("Retry-After %q: %s", r.header.Get("Retry-After"), r.body)
		}
	}
	s.must(http.StatusOK, s.get("/healthz"))
	s.must(http.StatusUnprocessableEntity, s.send(http.MethodPost, "/v1/rankings", `{}`)) // what is wrong is said without the store
}

// crowded is a store in which somebody else always comes first.
type crowded struct{ api.Store }

func (crowded) Fill(context.Context, string) (catalog.Fill, error) { return catalog.Fill{}, nil }
func (crowded) DeleteFill(context.Context, string, string, int64) error {
	return &catalog.StaleError{}
}

// TestCrowdOfWriters: who sends If-Match: * is never told that the record has changed.
func TestCrowdOfWriters(t *testing.T) {
	s := serve(t, crowded{})
	s.must(http.StatusServiceUnavailable, s.do(http.MethodDelete, "/v1/fills/x", nil, "If-Match", "*"))
}

func TestUnknownOutcomeIsSaid(t *testing.T) {
	s := serve(t, failing{err: fmt.Errorf("store: commit: %w", catalog.ErrOutcomeUnknown)})
	r := s.must(http.StatusServiceUnavailable, s.send(http.MethodPost, "/v1/sources", `{"slug":"a","name":"A","citation":"c","licence":"l","evidence":"declared"}`))
	if r.value(t, "type") != "/problems/outcome-unknown" || strings.Contains(string(r.body), "commit:") {
		t.Errorf("%s", r.body)
	}
}

// TestFaultOfTheProgram provokes a panic and an error that nobody expects: the client gets a
// fixed text, the log the cause with the same Request-Id, once.
func TestFaultOfTheProgram(t *testing.T) {
	bodies := map[string]string{}
	for name, db := range map[string]failing{"panic": {}, "error": {err: errors.New("secret of the inside")}} {
		s, log, end := logged(t, db)
		r := s.must(http.StatusInternalServerError, s.get("/v1/fills/x", "Request-Id", "same-request"))
		s.must(http.StatusOK, s.get("/healthz"))
		end()
		bodies[name] = string(r.body)
		for _, leak := range []string{"secret", "goroutine", ".go", "store", "sql"} {
			if strings.Contains(string(r.body), leak) {
				t.Errorf("%s: the answer says %q: %s", name, leak, r.body)
			}
		}
		if n := strings.Count(log.String(), "secret of the inside"); n != 1 || strings.Count(log.String(), `"same-request"`) != 2 {
			t.Errorf("%s: the cause is logged %d times: %s", name, n, log)
		}
	}
	if bodies["panic"] != bodies["error"] {
		t.Errorf("two texts for one problem: %v", bodies)
	}
}

// TestOneLineForEachRequest: what a client chooses is a value in the log, never a line.
func TestOneLineForEachRequest(t *testing.T) {
	s, log, end := logged(t, quiet{})
	s.get("/v1/fills/%0a%7b%22level%22:%22ERROR%22%7d")
	s.get("/healthz", "Request-Id", "my-request-1")
	s.send(http.MethodPost, "/v1/rankings", question)
	end()
	lines := strings.Split(strings.TrimSpace(log.String()), "\n")
	if len(lines) != 3 {
		t.Fatalf("%d lines: %s", len(lines), log)
	}
	for i, want := range []string{`"status":404`, `"request_id":"my-request-1"`, `"route":"/v1/rankings","status":200`} {
		if !json.Valid([]byte(lines[i])) || !strings.Contains(lines[i], want) {
			t.Errorf("line %d has no %s: %s", i, want, lines[i])
		}
	}
}

// TestReadinessWhileDraining: a process about to stop says so and goes on answering.
func TestReadinessWhileDraining(t *testing.T) {
	server, err := api.New(quiet{}, api.Options{Version: "test"})
	if err != nil {
		t.Fatal(err)
	}
	status := func(path string) int {
		w := httptest.NewRecorder()
		server.ServeHTTP(w, httptest.NewRequest(http.MethodGet, path, nil))
		return w.Code
	}
	if got := status("/readyz"); got != http.StatusOK {
		t.Errorf("readyz %d before", got)
	}
	server.Drain()
	if ready, healthy := status("/readyz"), status("/healthz"); ready != http.StatusServiceUnavailable || healthy != http.StatusOK {
		t.Errorf("readyz %d, healthz %d while draining", ready, healthy)
	}
}

// TestFigureThatIsNoNumber: an answer that cannot be written is no half answer.
func TestFigureThatIsNoNumber(t *testing.T) {
	s := serve(t, broken{})
	s.must(http.StatusInternalServerError, s.get("/v1/fills/x"))
}

// broken is a store that reads a density which is no number.
type broken struct{ api.Store }

func (broken) Fill(context.Context, string) (catalog.Fill, error) {
	return catalog.Fill{Density: &catalog.Figure[units.Density]{Value: units.Density(math.NaN())}}, nil
}

func TestEmptyCatalogHasAnEmptyRanking(t *testing.T) {
	r, _ := serve(t, quiet{}).ask(question)
	if r.CandidatesCount != 0 || len(r.Options) != 0 || r.Options == nil {
		t.Errorf("%+v", r)
	}
}
