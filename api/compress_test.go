package api_test

import (
	"compress/gzip"
	"io"
	"net/http"
	"strings"
	"testing"

	"sabinbook/store/storetest"
)

// A long answer is compressed for those who ask, with a tag of its own and the same content; a record never is,
// because its tag is that of a change, nor is a short answer.
func TestCompression(t *testing.T) {
	s := seeded(t, storetest.SQLite(t))
	fetch := func(path, accept, noneMatch string) (*http.Response, string) {
		t.Helper()
		req, err := http.NewRequestWithContext(t.Context(), http.MethodGet, s.url+path, nil)
		if err != nil {
			t.Fatal(err)
		}
		req.Header.Set("Accept-Encoding", accept) // the transport then leaves the coding to us
		if noneMatch != "" {
			req.Header.Set("If-None-Match", noneMatch)
		}
		r, err := keepers.Transport.RoundTrip(req)
		if err != nil {
			t.Fatal(err)
		}
		defer r.Body.Close()
		body := io.Reader(r.Body)
		if r.Header.Get("Content-Encoding") == "gzip" {
			if body, err = gzip.NewReader(r.Body); err != nil {
				t.Fatal(err)
			}
		}
		text, err := io.ReadAll(body)
		if err != nil {
			t.Fatal(err)
		}
		return r, string(text)
	}
	plain, text := fetch("/v1/fills.csv?limit=200", "identity", "")
	packed, same := fetch("/v1/fills.csv?limit=200", "br, gzip;q=0.5", "")
	if plain.Header.Get("Content-Encoding") != "" || packed.Header.Get("Content-Encoding") != "gzip" || same != text {
		t.Errorf("codings %q and %q", plain.Header.Get("Content-Encoding"), packed.Header.Get("Content-Encoding"))
	}
	if packed.ContentLength <= 0 || packed.ContentLength > plain.ContentLength/2 {
		t.Errorf("%d bytes of %d", packed.ContentLength, plain.ContentLength)
	}
	tag := plain.Header.Get("ETag")
	if packed.Header.Get("ETag") != strings.TrimSuffix(tag, `"`)+`-gz"` || packed.Header.Get("Vary") != "Accept, Accept-Encoding" || plain.Header.Get("Vary") != packed.Header.Get("Vary") {
		t.Errorf("tags %s and %s, Vary %q", tag, packed.Header.Get("ETag"), packed.Header.Get("Vary"))
	}
	if r, _ := fetch("/v1/fills.csv?limit=200", "gzip", packed.Header.Get("ETag")); r.StatusCode != http.StatusNotModified || r.Header.Get("Vary") == "" {
		t.Errorf("status %d for what the client holds", r.StatusCode)
	}
	for path, accept := range map[string]string{"/v1/fills/rock-wool-80": "gzip", "/v1/fills?limit=200": "gzip;q=0, *;q=0", "/v1/fills?limit=200&format=csv": "*;q=0", "/v1/fills?limit=1&q=nobody": "gzip"} {
		if r, _ := fetch(path, accept, ""); r.Header.Get("Content-Encoding") != "" {
			t.Errorf("%s is compressed for %q", path, accept)
		}
	}
	if r, _ := fetch("/v1/fills?limit=200", "*", ""); r.Header.Get("Content-Encoding") != "gzip" {
		t.Error("who takes every coding gets none")
	}
}
