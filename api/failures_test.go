package api_test

import (
	"context"
	"fmt"
	"net/http"
	"strings"
	"testing"

	"sabinbook/api"
	"sabinbook/internal/catalog"
)

// quiet is a store with an empty catalog that answers questions only.
type quiet struct{ api.Store }

func (quiet) Snapshot(context.Context) (catalog.Snapshot, error) { return catalog.Snapshot{}, nil }
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
func (f failing) Snapshot(context.Context) (catalog.Snapshot, error) {
	return catalog.Snapshot{}, f.err
}

func TestStoreThatIsAway(t *testing.T) {
	s := serve(t, failing{err: fmt.Errorf("store: dial: %w", catalog.ErrUnavailable)})
	for _, r := range []reply{s.get("/v1/fills/x"), s.get("/readyz"), s.send(http.MethodPost, "/v1/rankings", question)} {
		s.must(http.StatusServiceUnavailable, r)
		if r.header.Get("Retry-After") == "" || strings.Contains(string(r.body), "dial") {
			t.Errorf("Retry-After %q: %s", r.header.Get("Retry-After"), r.body)
		}
	}
	s.must(http.StatusOK, s.get("/healthz"))
}

func TestUnknownOutcomeIsSaid(t *testing.T) {
	s := serve(t, failing{err: catalog.ErrOutcomeUnknown})
	r := s.must(http.StatusServiceUnavailable, s.send(http.MethodPost, "/v1/sources", `{"slug":"a","name":"A","citation":"c","licence":"l","evidence":"declared"}`))
	if !strings.Contains(string(r.body), "outcome") {
		t.Errorf("%s", r.body)
	}
}

func TestPanicIsAFixedProblemWithoutItsCause(t *testing.T) {
	s := serve(t, failing{})
	r := s.must(http.StatusInternalServerError, s.get("/v1/fills/x"))
	if strings.Contains(string(r.body), "secret") {
		t.Errorf("%s", r.body)
	}
	s.must(http.StatusOK, s.get("/healthz"))
}

func TestEmptyCatalogHasAnEmptyRanking(t *testing.T) {
	r, _ := serve(t, quiet{}).ask(question)
	if r.CandidatesCount != 0 || len(r.Options) != 0 || r.Options == nil {
		t.Errorf("%+v", r)
	}
}
