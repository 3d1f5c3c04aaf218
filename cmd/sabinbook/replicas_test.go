package main

import (
	"fmt"
	"io"
	"net/http"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"

	"sabinbook/store/storetest"
)

// Four processes start at once on one empty database, an SQLite file too: one of them migrates while the
// others wait, one makes the first token, and each tells at once what another one has stored.
func TestProcessesShareADatabase(t *testing.T) {
	for engine, url := range map[string]func() string{
		"sqlite":   func() string { return "sqlite:" + filepath.Join(t.TempDir(), "c.db") },
		"postgres": func() string { return storetest.EmptyPostgresURL(t) },
	} {
		t.Run(engine, func(t *testing.T) {
			db := url()
			all := make([]*process, 4)
			var group sync.WaitGroup
			for i := range all {
				group.Go(func() {
					all[i] = started(t, db)
				})
			}
			group.Wait()
			for _, p := range all {
				t.Cleanup(func() { p.stopped(t) })
			}
			if t.Failed() {
				return
			}
			var tokens []string
			for _, p := range all {
				for _, m := range regexp.MustCompile(`export SABINBOOK_TOKEN=(\S+)`).FindAllStringSubmatch(p.err.String(), -1) {
					tokens = append(tokens, m[1])
				}
			}
			if len(tokens) != 1 {
				t.Fatalf("%d first tokens", len(tokens))
			}
			for i := range 24 {
				slug := fmt.Sprintf("note-%d", i)
				body := fmt.Sprintf(`{"slug":%q,"name":%q,"citation":"Lantern Yard notebook","licence":"facts only","evidence":"declared","invented":true}`, slug, slug)
				writer, reader := all[i%len(all)], all[(i+1+i/4%3)%len(all)]
				if got := status(t, http.MethodPost, writer.url+"/v1/sources", body, tokens[0]); got != http.StatusCreated {
					t.Fatalf("%s: %d", slug, got)
				}
				if got := status(t, http.MethodGet, reader.url+"/v1/sources/"+slug, "", ""); got != http.StatusOK {
					t.Errorf("%s is not seen elsewhere: %d", slug, got)
				}
				r, err := http.Get(reader.url + "/v1/sources.csv?fields=slug&limit=200")
				if err != nil {
					t.Fatal(err)
				}
				table, err := io.ReadAll(r.Body)
				r.Body.Close()
				if err != nil || !strings.Contains(string(table), slug) {
					t.Errorf("%s is in no table elsewhere: %v", slug, err)
				}
			}
		})
	}
}
