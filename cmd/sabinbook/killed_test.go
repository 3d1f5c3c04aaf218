package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"net/http"
	"strings"
	"testing"
	"time"

	"sabinbook/internal/catalogtest"
	"sabinbook/internal/exchange"
	"sabinbook/seed"
	"sabinbook/store/storetest"
)

// asked sends a request and returns the body of an answer 200, or what went wrong.
func asked(ctx context.Context, method, url, token string, body []byte) ([]byte, error) {
	r, err := http.NewRequestWithContext(ctx, method, url, bytes.NewReader(body))
	if err != nil {
		return nil, err
	}
	r.Header.Set("Authorization", "Bearer "+token)
	if body != nil {
		r.Header.Set("Content-Type", "application/zip")
	}
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		return nil, err
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	if err == nil && answer.StatusCode != http.StatusOK {
		err = fmt.Errorf("status %d: %.300s", answer.StatusCode, text)
	}
	return text, err
}

// digestOf is the plan_digest of the answer to an import that was only tried.
func digestOf(t *testing.T, plan []byte) string {
	t.Helper()
	_, rest, found := strings.Cut(string(plan), `"plan_digest":"`)
	if !found {
		t.Fatalf("no digest in %.300s", plan)
	}
	digest, _, _ := strings.Cut(rest, `"`)
	return digest
}

// The service is killed at ever later moments of an import of some thousand rows, from when it begins to write. Whoever starts it again finds
// the catalog as it was, byte for byte, or, once the import was committed, the whole of what was imported, on
// both engines. At least half of the kills must come while the import runs.
func TestAKilledImportLeavesNothing(t *testing.T) {
	demo, err := seed.Load()
	if err != nil {
		t.Fatal(err)
	}
	incoming := demo
	for i := range uint64(40) {
		incoming = catalogtest.Merged(incoming, catalogtest.Random(500+i))
	}
	archive := exchange.Archive(exchange.Write(incoming))
	for engine, address := range map[string]func(testing.TB) string{"sqlite": storetest.SQLiteURL, "postgres": storetest.PostgresURL} {
		t.Run(engine, func(t *testing.T) {
			fresh := func() (database, token string) {
				database = address(t)
				if code, _, errs := call(t, "--database-url", database, "seed"); code != 0 {
					t.Fatal(errs)
				}
				code, out, errs := call(t, "--database-url", database, "token", "add", "Ada", "--role", "curator")
				if code != 0 {
					t.Fatal(errs)
				}
				return database, strings.TrimSpace(out)
			}
			get := func(p *process, token string) []byte {
				body, err := asked(t.Context(), http.MethodGet, p.url+"/v1/exports/catalog", token, nil)
				if err != nil {
					t.Fatal(err)
				}
				return body
			}
			plan := func(p *process, token string) string {
				body, err := asked(t.Context(), http.MethodPost, p.url+"/v1/imports?dry_run=true", token, archive)
				if err != nil {
					t.Fatal(err)
				}
				return p.url + "/v1/imports?plan_digest=" + digestOf(t, body)
			}
			// One import that is left alone tells how long it takes and what it leads to.
			database, token := fresh()
			p := started(t, database)
			t.Cleanup(func() { p.killed() })
			begin := time.Now()
			path := plan(p, token)
			looked := time.Since(begin) // as long as an import takes until it begins to write
			begin = time.Now()
			if _, err := asked(t.Context(), http.MethodPost, path, token, archive); err != nil {
				t.Fatal(err)
			}
			took := time.Since(begin)
			whole := get(p, token)
			p.killed()

			database, token = fresh()
			p = started(t, database)
			before := get(p, token)
			const kills = 6
			running, committed := 0, 0
			for i := range kills {
				path := plan(p, token)
				ended := make(chan error, 1)
				go func() {
					_, err := asked(context.Background(), http.MethodPost, path, token, archive)
					ended <- err
				}()
				time.Sleep(looked + max(0, took-looked)*time.Duration(i)/(kills+1))
				p.killed()
				answered := <-ended == nil
				p = started(t, database)
				after := get(p, token)
				switch {
				case bytes.Equal(after, before) && !answered:
					running++
				case bytes.Equal(after, whole):
					committed++
					p.killed()
					database, token = fresh()
					p = started(t, database)
				default:
					t.Fatalf("kill %d, answered %t: the catalog is neither as it was nor whole", i, answered)
				}
			}
			t.Logf("an import of %d bytes takes %v, %v of it until it writes; of %d kills %d left nothing and %d came after COMMIT", len(archive), took.Round(time.Millisecond), looked.Round(time.Millisecond), kills, running, committed)
			if running < kills/2 {
				t.Errorf("only %d of %d kills came while the import ran", running, kills)
			}
			if _, err := asked(t.Context(), http.MethodPost, plan(p, token), token, archive); err != nil || !bytes.Equal(get(p, token), whole) {
				t.Errorf("after all kills the import does not lead to the same: %v", err)
			}
		})
	}
}
