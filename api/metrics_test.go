package api_test

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"regexp"
	"runtime"
	"strings"
	"testing"
	"time"

	"sabinbook/api"
	"sabinbook/internal/catalog"
	"sabinbook/store/storetest"
)

// figures reads /metrics of a server, as the text format of Prometheus has it: name{labels} value.
func figures(t *testing.T, s *api.Server) map[string]string {
	t.Helper()
	w := httptest.NewRecorder()
	s.Metrics().ServeHTTP(w, httptest.NewRequest(http.MethodGet, "/metrics", nil))
	if w.Code != http.StatusOK || !strings.HasPrefix(w.Header().Get("Content-Type"), "text/plain") {
		t.Fatalf("%d %s", w.Code, w.Header())
	}
	all := map[string]string{}
	for lines := bufio.NewScanner(w.Body); lines.Scan(); {
		if name, value, ok := cutLast(lines.Text()); ok && !strings.HasPrefix(name, "#") {
			all[name] = value
		}
	}
	return all
}

func cutLast(line string) (string, string, bool) {
	i := strings.LastIndex(line, " ")
	if i < 0 {
		return "", "", false
	}
	return line[:i], line[i+1:], true
}

// request is a request for a server that no network leads to; header holds pairs of names and values.
func request(method, target, body string, header ...string) *http.Request {
	r := httptest.NewRequest(method, target, strings.NewReader(body))
	for i := 0; i+1 < len(header); i += 2 {
		r.Header.Set(header[i], header[i+1])
	}
	return r
}

// recorded is the answer of a server.
func recorded(s *api.Server, r *http.Request) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	s.ServeHTTP(w, r)
	return w
}

// ask sends JSON, with a token unless it is empty.
func ask(s *api.Server, method, target, token, body string) *httptest.ResponseRecorder {
	r := request(method, target, body, "Content-Type", "application/json")
	if body == "" {
		r.Header.Del("Content-Type")
	}
	if token != "" {
		r.Header.Set("Authorization", "Bearer "+token)
	}
	return recorded(s, r)
}

func TestMetricsCountAndTellNoNames(t *testing.T) {
	db := storetest.SQLite(t)
	seeded(t, db) // whose service is another one
	pools := func() []api.Pool {
		return []api.Pool{{Name: "write", Open: 1, InUse: 0, Most: 1, Waits: 3, Waited: 1500 * time.Millisecond}}
	}
	s, err := api.New(withKeeper(t, db), api.Options{Open: true, Version: "1.2.3+abc", Pools: pools})
	if err != nil {
		t.Fatal(err)
	}
	token := keeperSecret.Reveal()
	for range 3 {
		ask(s, http.MethodGet, "/v1/fills", token, "")
	}
	ask(s, http.MethodGet, "/v1/fills/no-such-fill", "", "")
	ask(s, http.MethodPost, "/v1/rankings", "", `{"panel_count": 0}`)
	if w := ask(s, http.MethodPost, "/v1/rankings", "", question); w.Code != http.StatusOK {
		t.Fatal(w.Body)
	}
	// Whatever strangers ask makes no further series.
	for i := range 200 {
		ask(s, http.MethodGet, fmt.Sprintf("/v1/fills/x%d", i), "", "")
		ask(s, "BREW", fmt.Sprintf("/pot-%d/sabin_%d?who=%d", i, i, i), "", "")
		ask(s, fmt.Sprintf("M%d", i), "/v1/fills", "", "")
	}
	got := figures(t, s)
	for name, want := range map[string]string{
		`sabinbook_requests_total{operation="listFills",status="2xx"}`:                    "3",
		`sabinbook_requests_total{operation="getFill",status="4xx"}`:                      "201",
		`sabinbook_requests_total{operation="rankOptions",status="2xx"}`:                  "1",
		`sabinbook_requests_total{operation="rankOptions",status="4xx"}`:                  "1",
		`sabinbook_requests_total{operation="none",status="4xx"}`:                         "400",
		`sabinbook_request_seconds_count{operation="listFills"}`:                          "3",
		`sabinbook_question_wait_seconds_count`:                                           "1",
		`sabinbook_questions_waiting`:                                                     "0",
		`sabinbook_questions_running`:                                                     "0",
		`sabinbook_requests_running`:                                                      "0",
		`sabinbook_catalog_revision`:                                                      "1", // the seed is one change
		`sabinbook_database_up`:                                                           "1",
		`sabinbook_pool_waits_total{pool="write"}`:                                        "3",
		`sabinbook_pool_wait_seconds_total{pool="write"}`:                                 "1.5",
		`sabinbook_build_info{goversion="` + runtime.Version() + `",version="1.2.3+abc"}`: "1",
	} {
		if got[name] != want {
			t.Errorf("%s is %q, want %s", name, got[name], want)
		}
	}
	if n := len(got); n > 200 {
		t.Errorf("%d series", n)
	}
	allowed := regexp.MustCompile(`^(operation|status|pool|version|goversion|le|quantile)$`)
	for name := range got {
		if strings.Contains(name, "sabin_") || strings.Contains(name, "Lantern") || strings.Contains(name, "x1") {
			t.Errorf("%s tells what was asked or by whom", name)
		}
		if !strings.HasPrefix(name, "sabinbook_") {
			continue // of the Go run time and the process
		}
		for _, label := range regexp.MustCompile(`(\w+)="`).FindAllStringSubmatch(name, -1) {
			if !allowed.MatchString(label[1]) {
				t.Errorf("%s has the label %s", name, label[1])
			}
		}
	}
	// The public service does not show them.
	if w := ask(s, http.MethodGet, "/metrics", token, ""); w.Code != http.StatusNotFound {
		t.Errorf("the service itself answers /metrics with %d", w.Code)
	}
}

// gone is a store whose database is away.
type gone struct{ api.Store }

func (gone) Revision(context.Context) (int64, error) { return 0, catalog.ErrUnavailable }

func TestMetricsSayThatTheDatabaseIsAway(t *testing.T) {
	s, err := api.New(gone{}, api.Options{Open: true})
	if err != nil {
		t.Fatal(err)
	}
	got := figures(t, s)
	if revision, there := got["sabinbook_catalog_revision"]; there || got["sabinbook_database_up"] != "0" {
		t.Errorf("up %s, revision %q", got["sabinbook_database_up"], revision)
	}
	if w := ask(s, http.MethodPost, "/v1/rankings", "", question); w.Code != http.StatusServiceUnavailable {
		body, _ := io.ReadAll(w.Body)
		t.Errorf("%d %s", w.Code, body)
	}
	if got := figures(t, s)[`sabinbook_requests_total{operation="rankOptions",status="5xx"}`]; got != "1" {
		t.Errorf("%q answers of 5xx", got)
	}
}
