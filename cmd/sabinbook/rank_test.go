package main

import (
	"bytes"
	"crypto/rand"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"strings"
	"testing"

	"sabinbook/api"
	"sabinbook/api/client"
	"sabinbook/internal/access"
	"sabinbook/seed"
	"sabinbook/store"
)

// seeded serves the seed catalog and returns the address.
func seeded(t *testing.T) string {
	t.Helper()
	url, _ := seededFor(t, access.Reader)
	return url
}

// seededFor serves the seed catalog and returns the address and a token of a role.
func seededFor(t *testing.T, role access.Role) (url, token string) {
	t.Helper()
	db, err := store.Open(t.Context(), "sqlite::memory:")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	stock, err := seed.Load()
	if err != nil {
		t.Fatal(err)
	}
	if err := db.Migrate(t.Context()); err != nil {
		t.Fatal(err)
	}
	if err := db.AddAll(t.Context(), "seed", stock); err != nil {
		t.Fatal(err)
	}
	p := &program{ctx: t.Context(), log: slog.New(slog.DiscardHandler)}
	s, err := p.start(db, "127.0.0.1:0", api.Options{Open: true})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.stop() })
	secret, err := access.NewSecret(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.AddToken(t.Context(), "test", access.Token{Member: "Ada", Role: role}, secret); err != nil {
		t.Fatal(err)
	}
	return s.url, secret.Reveal()
}

// recipe is one block of a page of recipes.
type recipe struct{ heading, language, text string }

func recipesOf(page string) []recipe {
	var list []recipe
	heading, inside := "", false
	for line := range strings.Lines(page) {
		switch fence, isFence := strings.CutPrefix(line, "```"); {
		case isFence && inside:
			inside = false
		case isFence:
			inside = true
			list = append(list, recipe{heading: heading, language: strings.TrimSpace(fence)})
		case inside:
			list[len(list)-1].text += line
		case strings.HasPrefix(line, "## "):
			heading = strings.TrimSpace(line[3:])
		}
	}
	return list
}

// Every recipe of the page does as it stands what the page says, against a service of which only the address differs.
// Programs that are not installed are skipped, unless SABINBOOK_TEST_REQUIRE_PROGRAMS is 1.
func TestRecipesRunAsTheyStand(t *testing.T) {
	const address = "http://127.0.0.1:8080"
	url := seeded(t)
	c, err := client.NewClientWithResponses(url)
	if err != nil {
		t.Fatal(err)
	}
	show, day, limit, panels := "best_per_fill", "2026-11-02", int64(3), int64(10)
	r, err := c.ReadRankingWithResponse(t.Context(), &client.ReadRankingParams{PanelCount: &panels, Currency: "EUR", Show: &show, AsOfDate: &day, Limit: &limit})
	if err != nil || r.JSON200 == nil || len(r.JSON200.Options) != 3 {
		t.Fatal(err, string(r.Body))
	}
	run := map[string][]string{"sh": {"bash", "-eo", "pipefail", "-c"}, "python": {"python3", "-c"}, "r": {"Rscript", "-e"}}
	page, err := os.ReadFile("../../openapi/recipes.md")
	if err != nil {
		t.Fatal(err)
	}
	recipes := recipesOf(string(page))
	if len(recipes) != 7 {
		t.Errorf("%d recipes, want 7", len(recipes))
	}
	for i, recipe := range recipes {
		t.Run(fmt.Sprintf("%d %s", i+1, recipe.heading), func(t *testing.T) {
			text := strings.ReplaceAll(recipe.text, address, url)
			var out string
			command, own := strings.CutPrefix(strings.TrimSpace(text), "sabinbook ")
			switch {
			case own:
				t.Setenv("SABINBOOK_SERVER", url)
				code, o, errs := call(t, strings.Fields(command)...)
				if code != 0 {
					t.Fatalf("exit code %d: %s", code, errs)
				}
				out = o
			case text == recipe.text:
				t.Fatalf("asks %s nowhere", address)
			case recipe.language == "": // an address for a spreadsheet
				answer, err := http.Get(strings.TrimSpace(text))
				if err != nil {
					t.Fatal(err)
				}
				defer answer.Body.Close()
				rows, err := csv.NewReader(answer.Body).ReadAll()
				if err != nil || answer.StatusCode != http.StatusOK || len(rows) < 10 {
					t.Errorf("%s, %d rows, %v", answer.Status, len(rows), err)
				}
				return
			default:
				words := run[recipe.language]
				if words == nil {
					t.Fatalf("no program for %q", recipe.language)
				}
				out = execute(t, append(words, text)...)
			}
			if strings.Contains(text, "/v1/fills") {
				var fills, first string
				if _, err := fmt.Sscan(out, &fills, &first); err != nil || fills == "10" || first == "" {
					t.Errorf("prints %q", out)
				}
				return
			}
			for _, o := range r.JSON200.Options {
				for _, part := range []string{fmt.Sprint(*o.Place), o.Key, o.Cost.Total.Amount} {
					if own && part == o.Key { // the table for people names the fill
						part = cut(o.Fill.Name, 26)
					}
					if !strings.Contains(out, part) {
						t.Errorf("place %d: no %q in:\n%s", *o.Place, part, out)
					}
				}
			}
		})
	}
}

// execute runs a program and returns what it prints.
func execute(t *testing.T, words ...string) string {
	t.Helper()
	needed := []string{words[0]}
	for _, program := range []string{"curl", "jq"} {
		if strings.Contains(words[len(words)-1], program+" ") {
			needed = append(needed, program)
		}
	}
	for _, program := range needed {
		if _, err := exec.LookPath(program); err != nil {
			if os.Getenv("SABINBOOK_TEST_REQUIRE_PROGRAMS") == "1" {
				t.Fatalf("%s is not installed, and SABINBOOK_TEST_REQUIRE_PROGRAMS asks for it", program)
			}
			t.Skipf("%s is not installed: the recipe is not tested", program)
		}
	}
	var errs bytes.Buffer
	command := exec.CommandContext(t.Context(), words[0], words[1:]...)
	command.Stderr = &errs
	out, err := command.Output()
	if err != nil {
		t.Fatalf("%v\n%s%s", err, out, errs.String())
	}
	return string(out)
}

func TestRankPrintsAnswersAndFaults(t *testing.T) {
	url := seeded(t)
	ask := func(more ...string) (int, string, string) {
		return call(t, append([]string{"rank", "--server", url, "--currency", "EUR", "--as-of", "2026-11-02"}, more...)...)
	}
	code, out, errs := ask("--panels", "4", "--order", "cost", "--families", "rock_wool,hemp", "--limit", "2")
	if code != 0 || !strings.Contains(out, "least total first") || !strings.Contains(out, "Cautions") {
		t.Errorf("exit code %d: %s%s", code, out, errs)
	}
	if code, out, errs := ask("--panels", "4", "--limit", "2", "--format", "json"); code != 0 || !json.Valid([]byte(out)) {
		t.Errorf("exit code %d: %s%s", code, out, errs)
	}
	if code, out, errs := ask("--panels", "4", "--limit", "2", "--format", "csv"); code != 0 || !strings.HasPrefix(out, "place,") {
		t.Errorf("exit code %d: %s%s", code, out, errs)
	}
	if code, out, errs := ask("--from-room", "--room", "rehearsal-room", "--purpose", "room", "--order", "cost_to_target", "--design", "panel-600x1200-braced", "--limit", "2"); code != 0 || !strings.Contains(out, "reaches the target first") {
		t.Errorf("exit code %d: %s%s", code, out, errs)
	}
	// Nothing within the budget: no empty table, but why.
	if code, out, errs := ask("--panels", "4", "--budget", "1.00"); code != 0 || strings.Contains(out, "Best options") || !strings.Contains(out, "Left out") {
		t.Errorf("exit code %d: %s%s", code, out, errs)
	}
	for _, c := range []struct {
		args []string
		code int
		want string
	}{
		{[]string{"--panels", "0", "--order", "beauty"}, 1, "panel_count must be"},
		{[]string{"--panels", "4", "--order", "beauty"}, 1, "order "},
		{[]string{"--panels", "4", "--server", "ftp://x"}, 2, "SABINBOOK_SERVER"},
		{[]string{"--panels", "4", "--server", "http://127.0.0.1:1"}, 1, "cannot ask http://127.0.0.1:1"},
		{[]string{}, 2, "--from-room"},
		{[]string{"--panels", "4", "--room", "nobodys"}, 1, "there is no room"},
		{[]string{"--panels", "4", "--format", "xml"}, 2, "--format"},
	} {
		if code, out, errs := ask(c.args...); code != c.code || out != "" && c.code == 1 || !strings.Contains(errs, c.want) {
			t.Errorf("%v: exit code %d: %s%s", c.args, code, out, errs)
		}
	}
}

// A service that is not one of ours is told as such.
func TestRankOfSomethingElse(t *testing.T) {
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { http.Error(w, "teapot", http.StatusTeapot) }))
	defer s.Close()
	if code, _, errs := call(t, "rank", "--server", s.URL, "--currency", "EUR", "--panels", "1"); code != 1 || !strings.Contains(errs, "418") {
		t.Errorf("exit code %d: %s", code, errs)
	}
}
