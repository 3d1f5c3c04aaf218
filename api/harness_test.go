package api_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/getkin/kin-openapi/openapi3filter"
	"github.com/getkin/kin-openapi/routers"

	"sabinbook/api"
	"sabinbook/api/client"
	paper "sabinbook/api/page"
	"sabinbook/internal/access"
	"sabinbook/internal/catalog"
	"sabinbook/openapi"
	"sabinbook/seed"
	"sabinbook/store/storetest"
)

func TestMain(m *testing.M) {
	// The validator of answers knows the media type of lines as text.
	openapi3filter.RegisterBodyDecoder("application/x-ndjson", openapi3filter.PlainBodyDecoder)
	openapi3filter.RegisterBodyDecoder("text/csv", openapi3filter.PlainBodyDecoder) // its own takes commas alone
	openapi3filter.RegisterBodyDecoder("text/html", openapi3filter.PlainBodyDecoder)
	openapi3filter.RegisterBodyDecoder("text/markdown", openapi3filter.PlainBodyDecoder)
	openapi3filter.RegisterBodyDecoder("application/zip", openapi3filter.FileBodyDecoder) // its own unpacks
	storetest.Main(m)
}

// today is the day of the tests; the prices of the seed are of the weeks before it.
var today = time.Date(2026, 11, 2, 12, 0, 0, 0, time.UTC)

// service is a server under test. It is the transport of its clients, which checks every
// answer against the contract.
type service struct {
	t   testing.TB
	url string
	doc *openapi3.T
	db  *storetest.Store
	// token is shown with every request that shows none of its own; empty: none is.
	token string
}

// keeper is the admin who sends the requests of most tests.
const keeper = "Keeper of Lantern Yard"

// keeperSecret is the keeper's token.
var keeperSecret = func() access.Secret {
	s, err := access.NewSecret(strings.NewReader("twenty letters of it"))
	if err != nil {
		panic(err)
	}
	return s
}()

// signing shows a token with every request that shows none.
type signing struct{ token string }

func (g signing) RoundTrip(req *http.Request) (*http.Response, error) {
	if g.token != "" && req.Header.Get("Authorization") == "" {
		req.Header.Set("Authorization", "Bearer "+g.token)
	}
	return http.DefaultTransport.RoundTrip(req)
}

// keepers is a client that shows the keeper's token and checks no answer.
var keepers = &http.Client{Transport: signing{keeperSecret.Reveal()}}

// kept is a store that is not a real one, with the keeper's token.
type kept struct{ api.Store }

func (kept) TokenByHash(_ context.Context, hash string) (access.Token, error) {
	if hash != keeperSecret.Hash() {
		return access.Token{}, catalog.ErrNotFound
	}
	return access.Token{Member: keeper, Role: access.Admin}, nil
}

// withKeeper gives a store the keeper's token.
func withKeeper(t testing.TB, db api.Store) api.Store {
	t.Helper()
	real, ok := db.(*storetest.Store)
	if !ok {
		return kept{db}
	}
	_, err := real.AddToken(context.Background(), "test", access.Token{Member: keeper, Role: access.Admin}, keeperSecret)
	if err != nil && !errors.Is(err, catalog.ErrConflict) { // which has it already
		t.Fatal(err)
	}
	return db
}

// contractDoc is the contract for the native validator, as the service uses it; read once.
var contractDoc = sync.OnceValues(func() (*openapi3.T, error) {
	doc, err := openapi3.NewLoader().LoadFromData(openapi.Document)
	if err == nil {
		doc.OpenAPI = "3.0.3"
	}
	return doc, err
})

// serve starts the service over a store.
func serve(t testing.TB, db api.Store, set ...func(*api.Options)) *service {
	t.Helper()
	options := api.Options{Now: func() time.Time { return today }, Version: "test"}
	for _, f := range set {
		f(&options)
	}
	s, err := api.New(withKeeper(t, db), options)
	if err != nil {
		t.Fatal(err)
	}
	server := httptest.NewServer(s)
	t.Cleanup(server.Close)
	doc, err := contractDoc()
	if err != nil {
		t.Fatal(err)
	}
	sv := &service{t: t, url: server.URL, doc: doc, token: keeperSecret.Reveal()}
	sv.db, _ = db.(*storetest.Store)
	return sv
}

// seeded starts the service over the seed catalog in a store.
func seeded(t testing.TB, db *storetest.Store) *service {
	t.Helper()
	stock, err := seed.Load()
	if err != nil {
		t.Fatal(err)
	}
	if err := db.AddAll(context.Background(), "seed", stock); err != nil {
		t.Fatal(err)
	}
	return serve(t, db)
}

// reply is an answer that has been read.
type reply struct {
	status int
	header http.Header
	body   []byte
}

// value reads a member of the body by a path of names and indices.
func (r reply) value(t testing.TB, path ...any) any {
	t.Helper()
	var v any
	if err := json.Unmarshal(r.body, &v); err != nil {
		t.Fatalf("%v in %s", err, r.body)
	}
	for _, p := range path {
		switch p := p.(type) {
		case string:
			m, _ := v.(map[string]any)
			v = m[p]
		case int:
			l, _ := v.([]any)
			if p >= len(l) {
				return nil
			}
			v = l[p]
		}
	}
	return v
}

// do sends a request; header holds pairs of names and values. The answer must be one that
// the contract has for the operation.
func (s *service) do(method, path string, body io.Reader, header ...string) reply {
	s.t.Helper()
	req, err := http.NewRequest(method, s.url+path, body)
	if err != nil {
		s.t.Fatal(err)
	}
	for i := 0; i+1 < len(header); i += 2 {
		req.Header.Set(header[i], header[i+1])
	}
	return s.exchange(req)
}

// exchange sends a request and reads the answer.
func (s *service) exchange(req *http.Request) reply {
	s.t.Helper()
	resp, err := (&http.Client{Transport: s}).Do(req)
	if err != nil {
		s.t.Fatal(err)
	}
	defer resp.Body.Close()
	text, err := io.ReadAll(resp.Body)
	if err != nil {
		s.t.Fatal(err)
	}
	return reply{resp.StatusCode, resp.Header, text}
}

// RoundTrip sends a request and checks the answer before anybody reads it.
func (s *service) RoundTrip(req *http.Request) (*http.Response, error) {
	s.t.Helper()
	resp, err := signing{s.token}.RoundTrip(req)
	if err != nil {
		return nil, err
	}
	defer resp.Body.Close()
	text, err := io.ReadAll(resp.Body)
	if err != nil {
		return nil, err
	}
	resp.Body = io.NopCloser(bytes.NewReader(text))
	s.check(req, reply{resp.StatusCode, resp.Header, text})
	return resp, nil
}

// typed returns the generated client of the service.
func (s *service) typed() *client.ClientWithResponses {
	s.t.Helper()
	c, err := client.NewClientWithResponses(s.url, client.WithHTTPClient(&http.Client{Transport: s}))
	if err != nil {
		s.t.Fatal(err)
	}
	return c
}

// send sends JSON with POST, PUT or PATCH.
func (s *service) send(method, path, body string, header ...string) reply {
	s.t.Helper()
	media := "application/json"
	if method == http.MethodPatch {
		media = "application/merge-patch+json"
	}
	return s.do(method, path, strings.NewReader(body), append([]string{"Content-Type", media}, header...)...)
}

func (s *service) get(path string, header ...string) reply {
	s.t.Helper()
	return s.do(http.MethodGet, path, nil, header...)
}

// must fails unless the answer has the status.
func (s *service) must(status int, r reply) reply {
	s.t.Helper()
	if r.status != status {
		s.t.Fatalf("status %d, want %d: %.600s", r.status, status, r.body)
	}
	return r
}

// check validates an answer: what every answer has, and that it is the one that the contract
// has for the operation and status, else a problem.
func (s *service) check(req *http.Request, r reply) {
	s.t.Helper()
	policy := "default-src 'none'"
	if strings.HasPrefix(r.header.Get("Content-Type"), "text/html") || r.status == http.StatusNotModified && strings.Contains(r.header.Get("Content-Security-Policy"), "style-src") {
		policy = paper.Policy()
	}
	for name, want := range map[string]string{"X-Content-Type-Options": "nosniff", "Content-Security-Policy": policy, "Referrer-Policy": "no-referrer"} {
		if got := r.header.Get(name); got != want {
			s.t.Errorf("%s %s: %s is %q", req.Method, req.URL.Path, name, got)
		}
	}
	if r.header.Get("Request-Id") == "" || r.header.Get("Cache-Control") == "" {
		s.t.Errorf("%s %s: no Request-Id or Cache-Control in %v", req.Method, req.URL.Path, r.header)
	}
	if req.Method == http.MethodHead || req.Method == http.MethodOptions && r.status == http.StatusNoContent {
		if len(r.body) > 0 {
			s.t.Errorf("%s %s has the body %.200s", req.Method, req.URL.Path, r.body)
		}
		return // the contract describes GET; OPTIONS has no operation
	}
	if r.status >= 400 {
		s.checkProblem(req, r)
	}
	route, vars := s.route(req)
	if route == nil {
		if r.status < 400 {
			s.t.Errorf("%s %s answers %d and is not in the contract", req.Method, req.URL.Path, r.status)
		}
		return
	}
	if r.status < 400 && route.Operation.Responses.Status(r.status) == nil {
		s.t.Errorf("%s %s: the contract has no status %d", req.Method, route.Path, r.status)
	}
	in := &openapi3filter.RequestValidationInput{Request: req, PathParams: vars, Route: route}
	out := &openapi3filter.ResponseValidationInput{RequestValidationInput: in, Status: r.status, Header: r.header,
		Options: &openapi3filter.Options{IncludeResponseStatus: true, MultiError: true}}
	out.SetBodyBytes(r.body)
	if err := openapi3filter.ValidateResponse(context.Background(), out); err != nil {
		s.t.Errorf("%s %s: the answer breaks the contract: %.800s", req.Method, req.URL.Path, err)
	}
}

// checkProblem validates the body of an error, and that it agrees with status and headers.
func (s *service) checkProblem(req *http.Request, r reply) {
	s.t.Helper()
	var v any
	if r.header.Get("Content-Type") != "application/problem+json" || json.Unmarshal(r.body, &v) != nil {
		s.t.Errorf("%s %s: %d is no problem+json: %.200s", req.Method, req.URL.Path, r.status, r.body)
		return
	}
	if err := s.doc.Components.Schemas["Problem"].Value.VisitJSON(v, openapi3.VisitAsResponse(), openapi3.MultiErrors()); err != nil {
		s.t.Errorf("%s %s: the problem breaks the contract: %v", req.Method, req.URL.Path, err)
	}
	if text(r.value(s.t, "status")) != text(r.status) || text(r.value(s.t, "instance")) != "urn:request:"+r.header.Get("Request-Id") {
		s.t.Errorf("%s %s: status %d, Request-Id %s, but %s", req.Method, req.URL.Path, r.status, r.header.Get("Request-Id"), r.body)
	}
	for status, header := range map[int]string{http.StatusUnauthorized: "WWW-Authenticate", http.StatusForbidden: "WWW-Authenticate", http.StatusServiceUnavailable: "Retry-After", http.StatusMethodNotAllowed: "Allow"} {
		if r.status == status && r.header.Get(header) == "" {
			s.t.Errorf("%s %s: %d without %s", req.Method, req.URL.Path, status, header)
		}
	}
}

// formSuffix is the end of a path that chooses the form of the answer; the contract tells it once for all.
var formSuffix = regexp.MustCompile(`^(/v1/.*)\.(json|csv|ndjson|html|md)$`)

// route finds the operation of a request in the contract; the fixed segments of a path go
// before parameters.
func (s *service) route(req *http.Request) (*routers.Route, map[string]string) {
	parts := strings.Split(formSuffix.ReplaceAllString(req.URL.Path, "$1"), "/")
	var found *routers.Route
	var values map[string]string
	for path, item := range s.doc.Paths.Map() {
		names := strings.Split(path, "/")
		op := item.GetOperation(req.Method)
		if len(names) != len(parts) || op == nil {
			continue
		}
		vars, ok := map[string]string{}, true
		for i, n := range names {
			if strings.HasPrefix(n, "{") {
				vars[strings.Trim(n, "{}")] = parts[i]
			} else if n != parts[i] {
				ok = false
			}
		}
		if ok && (found == nil || len(vars) < len(values)) {
			found, values = &routers.Route{Spec: s.doc, Path: path, PathItem: item, Method: req.Method, Operation: op}, vars
		}
	}
	return found, values
}

// revision is the revision of the catalog, which every stored change raises.
func (s *service) revision() int64 {
	s.t.Helper()
	n, err := s.db.Revision(context.Background())
	if err != nil {
		s.t.Fatal(err)
	}
	return n
}

// source adds a source for other records and returns its slug.
func (s *service) source() string {
	s.t.Helper()
	s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/sources", `{"slug":"notebook","name":"Notebook","citation":"Lantern Yard notebook","licence":"facts only","evidence":"declared","invented":true}`))
	return "notebook"
}

// merged returns a JSON object with members changed; null takes a member out.
func merged(t testing.TB, object string, changes ...string) string {
	t.Helper()
	var m map[string]any
	if err := json.Unmarshal([]byte(object), &m); err != nil {
		t.Fatal(err)
	}
	for _, c := range changes {
		var change map[string]any
		if err := json.Unmarshal([]byte(c), &change); err != nil {
			t.Fatal(err, c)
		}
		for k, v := range change {
			if v == nil {
				delete(m, k)
			} else {
				m[k] = v
			}
		}
	}
	var out bytes.Buffer
	if err := json.NewEncoder(&out).Encode(m); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

func text(v any) string { return fmt.Sprint(v) }
