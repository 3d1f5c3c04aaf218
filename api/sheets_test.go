package api_test

import (
	"crypto/sha256"
	"encoding/base64"
	"encoding/csv"
	"net/http"
	"net/url"
	"strings"
	"testing"

	paper "sabinbook/api/page"
	"sabinbook/store/storetest"
)

// A document is had as a sheet, as Markdown and as a table, by parameter, by the end of the path and by Accept, also by a share link.
func TestDocumentAsASheet(t *testing.T) {
	s := seeded(t, storetest.SQLite(t))
	made := s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/shortlists", s.keepBody(`{}`)))
	at := "/v1/shortlists/" + text(made.value(t, "slug")) + "/document"
	document := s.must(http.StatusOK, s.get(at))
	link := s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/shortlists/"+text(made.value(t, "slug"))+"/share-links", `{}`))
	shared := text(link.value(t, "path"))
	sheet, err := paper.Sheet(document.body, paper.Choice{})
	if err != nil {
		t.Fatal(err)
	}
	all, err := paper.Sheet(document.body, paper.Choice{All: true})
	if err != nil {
		t.Fatal(err)
	}
	markdown, err := paper.Markdown(document.body, paper.Choice{})
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{document.header.Get("ETag"): true}
	for _, c := range []struct{ path, accept, media, want, file string }{
		{at + "?format=html", "", "text/html; charset=utf-8", string(sheet), `inline; filename="brass.html"`},
		{at + ".html", "", "text/html; charset=utf-8", string(sheet), `inline; filename="brass.html"`},
		{shared, "text/html,application/xhtml+xml,*/*;q=0.8", "text/html; charset=utf-8", string(sheet), `inline; filename="brass.html"`}, // as browsers ask
		{at + "?format=html&all=true", "", "text/html; charset=utf-8", string(all), `inline; filename="brass.html"`},
		{at + ".md", "", "text/markdown; charset=utf-8; variant=GFM", string(markdown), `attachment; filename="brass.md"`},
		{at, "text/markdown", "text/markdown; charset=utf-8; variant=GFM", string(markdown), `attachment; filename="brass.md"`},
		{shared, "", "application/json", string(document.body), `attachment; filename="brass.json"`},
	} {
		var more []string
		if c.accept != "" {
			more = []string{"Accept", c.accept}
		}
		got := s.must(http.StatusOK, s.get(c.path, more...))
		sum := sha256.Sum256(got.body)
		if string(got.body) != c.want || got.header.Get("Content-Type") != c.media || got.header.Get("Content-Disposition") != c.file || got.header.Get("Repr-Digest") != "sha-256=:"+base64.StdEncoding.EncodeToString(sum[:])+":" ||
			!strings.Contains(got.header.Get("Vary"), "Accept") || got.header.Get("X-Content-Type-Options") != "nosniff" {
			t.Errorf("%s: %v: %.300s", c.path, got.header, got.body)
		}
		seen[got.header.Get("ETag")] = true
		s.must(http.StatusNotModified, s.get(c.path, append(more, "If-None-Match", got.header.Get("ETag"))...))
	}
	if len(seen) != 4 {
		t.Errorf("%d tags for 4 texts", len(seen))
	}
	table := s.must(http.StatusOK, s.get(at+"?format=csv&delimiter=semicolon&decimal=comma"))
	reader := csv.NewReader(strings.NewReader(string(table.body)))
	reader.Comma = ';'
	rows, err := reader.ReadAll()
	if err != nil || rows[0][0] != "place" || len(rows) != 1+len(document.value(t, "answer", "options").([]any)) || rows[1][2] != text(document.value(t, "answer", "options", 0, "key")) {
		t.Errorf("%v: %.300s", err, table.body)
	}
	second := text(document.value(t, "answer", "options", 1, "key"))
	if got := s.must(http.StatusOK, s.get(at+".html?key="+url.QueryEscape(second))); !strings.Contains(string(got.body), "<h2>Place 2: ") {
		t.Errorf("%.300s", got.body)
	}
	for path, parameter := range map[string]string{at + ".html?key=straw": "key", at + "?key=straw": "key", at + "?all=true": "all", at + "?format=pdf": "format", at + ".html?delimiter=comma": "delimiter", shared + "?format=html&key=straw": "key"} {
		if got := s.must(http.StatusBadRequest, s.get(path)); got.value(t, "errors", 0, "parameter") != parameter {
			t.Errorf("%s: %s", path, got.body)
		}
	}
	s.must(http.StatusNotFound, s.get("/v1/fills.html"))
}
