package api_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/base64"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"sabinbook/internal/catalog"
	"sabinbook/internal/catalogtest"
	"sabinbook/internal/exchange"
	"sabinbook/seed"
	"sabinbook/store/storetest"
)

// importing sends a package with parameters.
func (s *service) importing(archive []byte, query string) reply {
	s.t.Helper()
	return s.do(http.MethodPost, "/v1/imports?"+query, bytes.NewReader(archive), "Content-Type", "application/zip")
}

func packageOf(s catalog.Snapshot) []byte { return exchange.Archive(exchange.Write(s)) }

// The export is the same from both engines, carries its digest and its tag, and importing
// it changes nothing.
func TestOwnExportImportsAsNoChange(t *testing.T) {
	var first []byte
	for name, open := range map[string]func(testing.TB) *storetest.Store{"sqlite": storetest.SQLite, "postgres": storetest.Postgres} {
		t.Run(name, func(t *testing.T) {
			s := seeded(t, open(t))
			r := s.must(http.StatusOK, s.get("/v1/exports/catalog", "Accept-Encoding", "gzip"))
			sum := sha256.Sum256(r.body)
			if want := "sha-256=:" + base64.StdEncoding.EncodeToString(sum[:]) + ":"; r.header.Get("Repr-Digest") != want || r.header.Get("Content-Encoding") != "" {
				t.Errorf("%v, want Repr-Digest %s", r.header, want)
			}
			if first == nil {
				first = r.body
			}
			if !bytes.Equal(first, r.body) {
				t.Error("the engines differ")
			}
			s.must(http.StatusNotModified, s.get("/v1/exports/catalog", "If-None-Match", r.header.Get("ETag")))
			if head := s.do(http.MethodHead, "/v1/exports/catalog", nil); head.header.Get("Repr-Digest") != r.header.Get("Repr-Digest") {
				t.Error(head.header)
			}
			before := s.revision()
			plan := s.must(http.StatusOK, s.importing(r.body, "dry_run=true"))
			for _, count := range []string{"created_count", "updated_count", "conflict_count"} {
				if plan.value(t, count) != 0.0 {
					t.Errorf("%s is %v", count, plan.value(t, count))
				}
			}
			done := s.must(http.StatusOK, s.importing(r.body, "plan_digest="+plan.value(t, "plan_digest").(string)))
			if done.value(t, "applied") != true || plan.value(t, "applied") != false || s.revision() != before {
				t.Errorf("revision %d after %d, %.200s", s.revision(), before, done.body)
			}
		})
	}
}

// An empty catalog that takes a package over gives the same records out again.
func TestCatalogMovesToAnotherService(t *testing.T) {
	from, to := seeded(t, storetest.SQLite(t)), serve(t, storetest.Postgres(t))
	archive := from.must(http.StatusOK, from.get("/v1/exports/catalog")).body
	plan := to.must(http.StatusOK, to.importing(archive, "dry_run=true"))
	to.must(http.StatusOK, to.importing(archive, "plan_digest="+plan.value(t, "plan_digest").(string)))
	for _, path := range []string{"/v1/fills?limit=200", "/v1/offers?limit=200", "/v1/suppliers", "/v1/fabrics", "/v1/parts", "/v1/sources"} {
		if a, b := from.get(path), to.get(path); !bytes.Equal(a.body, b.body) {
			t.Errorf("%s differs", path)
		}
	}
	// A plan is good for one state of the catalog.
	if r := to.importing(archive, "plan_digest="+plan.value(t, "plan_digest").(string)); r.status != http.StatusConflict {
		t.Errorf("%d: %s", r.status, r.body)
	}
}

// What a dry run says is what the run answers, for random packages over random catalogs.
func TestDryRunEqualsRun(t *testing.T) {
	blocked := 0
	for i := range uint64(40) {
		base := catalogtest.Random(3 * i)
		db := storetest.SQLite(t)
		if err := db.AddAll(context.Background(), "m", catalogtest.Merged(catalogtest.Variant(i, base), catalogtest.Random(3*i+1))); err != nil {
			t.Fatal(err)
		}
		s := serve(t, db)
		there := catalogtest.Merged(catalogtest.Variant(i+1000, base), catalogtest.Random(3*i+2))
		there.Prices = nil // some were seen after the day of these tests
		archive := packageOf(there)
		choice := "on_conflict=" + string(exchange.Choices[i%3])
		plan := s.must(http.StatusOK, s.importing(archive, choice+"&dry_run=true"))
		before := s.get("/v1/exports/catalog").body
		run := s.importing(archive, choice+"&plan_digest="+plan.value(t, "plan_digest").(string))
		if plan.value(t, "blocked") == true {
			blocked++
			s.must(http.StatusConflict, run)
			if !bytes.Equal(before, s.get("/v1/exports/catalog").body) {
				t.Fatalf("%d: a refused import has left something", i)
			}
			continue
		}
		s.must(http.StatusOK, run)
		for _, member := range []string{"plan_digest", "created_count", "updated_count", "unchanged_count", "conflict_count"} {
			if plan.value(t, member) != run.value(t, member) {
				t.Errorf("%d: %s differs", i, member)
			}
		}
		if rows := func(r reply) string { _, after, _ := strings.Cut(string(r.body), `"rows"`); return after }; rows(plan) != rows(run) {
			t.Errorf("%d: the rows differ", i)
		}
	}
	if blocked == 0 || blocked == 40 {
		t.Errorf("%d of 40 were blocked", blocked)
	}
}

// Broken packages are refused with the place of each fault.
func TestBrokenPackages(t *testing.T) {
	s := serve(t, storetest.SQLite(t))
	stock, err := seed.Load()
	if err != nil {
		t.Fatal(err)
	}
	edited := func(file, old, new string) []byte {
		files := exchange.Write(stock)
		for i, f := range files {
			if f.Name == file {
				files[i].Data = bytes.Replace(f.Data, []byte(old), []byte(new), 1)
			}
		}
		return exchange.Archive(files)
	}
	whole := packageOf(stock)
	for name, c := range map[string]struct {
		archive            []byte
		file, column, code string
		row                any
	}{
		"truncated":   {whole[:len(whole)/2], "", "", "bad_archive", nil},
		"header":      {edited("fills.csv", "family", "kin"), "fills.csv", "family", "missing_column", 1.0},
		"number":      {edited("fill_sold_sizes.csv", ",1,1250,", ",1,wide,"), "fill_sold_sizes.csv", "length_mm", "bad_number", nil},
		"foreign key": {edited("fill_sold_sizes.csv", "\r\nfill_", "\r\nfill_x"), "fill_sold_sizes.csv", "fill_id", "unknown_reference", nil},
		"path":        {exchange.Archive([]exchange.File{{Name: "../../etc/passwd"}}), "../../etc/passwd", "", "path", nil},
	} {
		r := s.must(http.StatusUnprocessableEntity, s.importing(c.archive, "dry_run=true"))
		got := []string{}
		for _, member := range []string{"file", "column", "code"} {
			word, _ := r.value(t, "errors", 0, member).(string)
			got = append(got, word)
		}
		if strings.Join(got, " ") != c.file+" "+c.column+" "+c.code {
			t.Errorf("%s: %.300s", name, r.body)
		}
		if c.row != nil && r.value(t, "errors", 0, "row") != c.row {
			t.Errorf("%s: row %v", name, r.value(t, "errors", 0, "row"))
		}
	}
	for query, at := range map[string]string{"": "plan_digest", "dry_run=true&on_conflict=merge": "on_conflict", "dry_run=true&plan_digest=" + url.QueryEscape("x"): "plan_digest"} {
		if r := s.must(http.StatusBadRequest, s.importing(whole, query)); r.value(t, "errors", 0, "parameter") != at {
			t.Errorf("%s: %s", query, r.body)
		}
	}
	s.must(http.StatusRequestEntityTooLarge, s.importing(make([]byte, 8<<20+1), "dry_run=true"))
	s.must(http.StatusUnsupportedMediaType, s.send(http.MethodPost, "/v1/imports?dry_run=true", "{}"))
	if n := s.revision(); n != 0 && n != 1 {
		t.Errorf("something was stored: revision %d", n)
	}
}
