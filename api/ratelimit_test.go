package api_test

import (
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"sabinbook/api"
	"sabinbook/internal/access"
	"sabinbook/store/storetest"
)

// Six requests a minute: six at once, then one every ten seconds; each token counts by itself, and the
// address for all that show none. Probes are always answered.
func TestRateLimit(t *testing.T) {
	now := time.Date(2026, 11, 2, 12, 0, 0, 0, time.UTC)
	s := serve(t, storetest.SQLite(t), func(o *api.Options) { o.PerMinute, o.Open, o.Now = 6, true, func() time.Time { return now } })
	ada, ben := s.newToken(access.Token{Member: "Ada", Role: access.Reader}), s.newToken(access.Token{Member: "Ben", Role: access.Reader})
	ask := func(token string) reply { s.token = token; return s.get("/v1/fills") }
	for i := range 6 {
		r := s.must(http.StatusOK, ask(ada))
		if want := fmt.Sprintf(`"default";r=%d;t=%d`, 5-i, 10*(i+1)); r.header.Get("RateLimit") != want || r.header.Get("RateLimit-Policy") != `"default";q=6;w=60` {
			t.Errorf("request %d: %s, want %s", i, r.header.Get("RateLimit"), want)
		}
	}
	r := s.must(http.StatusTooManyRequests, ask(ada))
	if r.header.Get("Retry-After") != "10" || r.value(t, "type") != "/problems/too-many-requests" || !strings.Contains(string(r.body), "6 requests") {
		t.Errorf("%v %s", r.header, r.body)
	}
	s.must(http.StatusOK, ask(ben))
	now = now.Add(9 * time.Second)
	s.must(http.StatusTooManyRequests, ask(ada))
	now = now.Add(time.Second)
	s.must(http.StatusOK, ask(ada))
	s.must(http.StatusTooManyRequests, ask(ada))

	// What is refused counts too, so that nobody tries tokens or paths by the thousand.
	s.token = ""
	for range 3 {
		s.must(http.StatusNotFound, s.get("/v1/nothing"))
		s.must(http.StatusUnauthorized, s.get("/v1/fills", "Authorization", "Bearer sabin_wrong"))
	}
	s.must(http.StatusTooManyRequests, s.get("/v1/fills"))
	s.must(http.StatusTooManyRequests, s.get("/v1/nothing"))
	s.must(http.StatusOK, s.get("/healthz"))
	now = now.Add(time.Hour)
	s.must(http.StatusOK, s.get("/v1/fills"))
}

// Behind a proxy the address of a client is the one that the proxy tells; without one nobody may choose his own.
func TestRateLimitBehindAProxy(t *testing.T) {
	for _, proxied := range []bool{false, true} {
		s := serve(t, storetest.SQLite(t), func(o *api.Options) {
			o.PerMinute, o.Open, o.Proxied, o.Now = 2, true, proxied, func() time.Time { return time.Date(2026, 11, 2, 12, 0, 0, 0, time.UTC) }
		})
		s.token = ""
		for i := range 6 {
			want := http.StatusOK
			if !proxied && i >= 2 {
				want = http.StatusTooManyRequests
			}
			s.must(want, s.get("/v1/fills", "X-Forwarded-For", fmt.Sprintf("203.0.113.%d", i)))
		}
	}
}

// A page of a configured origin may ask, with a token and without cookies; others are told nothing.
func TestCrossOrigin(t *testing.T) {
	s := serve(t, storetest.SQLite(t), func(o *api.Options) { o.Origins = []string{"https://yard.example"} })
	preflight := s.do(http.MethodOptions, "/v1/fills", nil, "Origin", "https://yard.example", "Access-Control-Request-Method", "POST", "Access-Control-Request-Headers", "authorization")
	if preflight.status != http.StatusNoContent || preflight.header.Get("Access-Control-Allow-Origin") != "https://yard.example" || !strings.Contains(preflight.header.Get("Access-Control-Allow-Headers"), "Authorization") ||
		!strings.Contains(preflight.header.Get("Access-Control-Allow-Headers"), "Idempotency-Key") || preflight.header.Get("Access-Control-Allow-Credentials") != "" {
		t.Errorf("preflight: %d %v", preflight.status, preflight.header)
	}
	r := s.must(http.StatusOK, s.get("/v1/fills", "Origin", "https://yard.example"))
	if r.header.Get("Access-Control-Allow-Origin") != "https://yard.example" || !strings.Contains(r.header.Get("Access-Control-Expose-Headers"), "ETag") ||
		!strings.Contains(r.header.Get("Access-Control-Expose-Headers"), "Idempotency-Replayed") || !strings.Contains(strings.Join(r.header.Values("Vary"), ","), "Origin") {
		t.Errorf("%v", r.header)
	}
	for _, other := range []*service{s, serve(t, storetest.SQLite(t))} {
		if r := other.get("/v1/fills", "Origin", "https://elsewhere.example"); r.status != http.StatusOK || r.header.Get("Access-Control-Allow-Origin") != "" {
			t.Errorf("%d %v", r.status, r.header)
		}
	}
}
