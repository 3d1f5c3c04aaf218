package api_test

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"sabinbook/store/storetest"
)

// program reads a table with its own reader of CSV and writes it again with its own writer; it
// returns what it wrote, or skips the test.
type program func(t *testing.T, path string, header []string) string

// installed is the path of a program; without it the test is skipped aloud.
func installed(t *testing.T, name string) string {
	t.Helper()
	if path, err := exec.LookPath(name); err == nil {
		return path
	}
	if os.Getenv("SABINBOOK_TEST_REQUIRE_PROGRAMS") == "1" {
		t.Fatalf("%s is not installed, and SABINBOOK_TEST_REQUIRE_PROGRAMS asks for it", name)
	}
	t.Skipf("NOT TESTED: %s is not installed", name)
	return ""
}

func output(t *testing.T, stdin, path string, arguments ...string) string {
	t.Helper()
	run := exec.Command(path, arguments...)
	var errs strings.Builder
	run.Stdin, run.Stderr = strings.NewReader(stdin), &errs
	out, err := run.Output()
	if err != nil {
		t.Fatalf("%v: %s", err, errs.String())
	}
	return string(out)
}

var programs = map[string]program{
	"python3": func(t *testing.T, path string, _ []string) string {
		return output(t, "", installed(t, "python3"), "-c", `import csv, sys
rows = list(csv.reader(open(sys.argv[1], encoding="utf-8", newline=""), strict=True))
sys.stdout.reconfigure(encoding="utf-8", newline="")
csv.writer(sys.stdout).writerows(rows)`, path)
	},
	"sqlite3": func(t *testing.T, path string, _ []string) string {
		return output(t, fmt.Sprintf(".import --csv %q t\n.headers on\n.mode csv\nSELECT * FROM t ORDER BY rowid;\n", path), installed(t, "sqlite3"), ":memory:")
	},
	// COPY of PostgreSQL, where every column is a text and no text stands for NULL.
	"psql": func(t *testing.T, path string, header []string) string {
		psql := installed(t, "psql")
		columns := make([]string, len(header))
		for i, name := range header {
			columns[i] = `"` + name + `" text`
		}
		script := fmt.Sprintf("CREATE TEMPORARY TABLE t (%s);\n\\copy t FROM '%s' WITH (FORMAT csv, HEADER, NULL '\\N')\n\\copy t TO STDOUT WITH (FORMAT csv, HEADER, NULL '\\N')\n", strings.Join(columns, ", "), path)
		return output(t, script, psql, "--no-psqlrc", "--quiet", "--set", "ON_ERROR_STOP=1", storetest.PostgresURL(t))
	},
	"Rscript": func(t *testing.T, path string, _ []string) string {
		return output(t, "", installed(t, "Rscript"), "-e", `path <- commandArgs(trailingOnly = TRUE)[1]
t <- read.csv(path, colClasses = "character", na.strings = character(), check.names = FALSE, encoding = "UTF-8", quote = "\"")
write.table(t, stdout(), sep = ",", row.names = FALSE, qmethod = "double", fileEncoding = "UTF-8")`, path)
	},
}

// Every list and a ranking are read and written again by programs that know nothing of this one,
// and every cell is what it was: texts like formulas with their guard, quotation marks, commas,
// line breaks, other scripts and numbers with all their digits.
func TestTablesPassThroughOtherPrograms(t *testing.T) {
	s := priced(t, storetest.SQLite(t))
	texts := []string{"=SUM(A1:A9)", "+1", "-1+2", "@SUM(1)", "'quoted'", `a "b", c`, "two\nlines, \"three\"", "\ttab", " spaces ", "Ω² 日本 é", "1e5", "007", "NULL", `\N`, "TRUE", ";", "#N/A"}
	fills := list(s.get("/v1/fills?limit=40").value(t, "items"))
	for i, fill := range fills {
		words := texts[i%len(texts)]
		change := map[string]string{"note": words}
		if !strings.ContainsAny(words, "\n\t") && i < len(texts) {
			change["name"] = fmt.Sprintf("%s %d", words, i)
		}
		body, _ := json.Marshal(change)
		s.must(http.StatusOK, s.send(http.MethodPatch, "/v1/fills/"+text(fill.(map[string]any)["slug"]), string(body), "If-Match", "*"))
	}
	offer := text(s.get("/v1/offers").value(t, "items", 0, "id"))
	paths := []string{"/v1/rankings?panel_count=4&currency=EUR&as_of_date=2026-11-02&limit=40&format=csv"}
	for _, path := range append(slices.Clone(lists), "/v1/offers/"+offer+"/prices") {
		path = strings.Replace(path, "rock-wool-100", "rock-wool-80", 1) // one of the demo
		paths = append(paths, path+"?limit=200&format=csv")
	}
	folder := t.TempDir()
	type table struct {
		path, file string
		cells      [][]string
	}
	var tables []table
	guarded, records := 0, 0
	for i, path := range paths {
		body := s.get(path).body
		cells, err := csv.NewReader(strings.NewReader(string(body))).ReadAll()
		if err != nil || len(cells) < 2 {
			t.Fatalf("%s: %d lines, %v", path, len(cells), err)
		}
		for _, line := range cells[1:] {
			for _, cell := range line {
				if strings.HasPrefix(cell, "'") {
					guarded++
				} else if strings.HasPrefix(cell, "=") || strings.HasPrefix(cell, "@") || strings.HasPrefix(cell, "+") || strings.HasPrefix(cell, "\t") {
					t.Errorf("%s: %q is not guarded", path, cell)
				}
			}
		}
		records += len(cells) - 1
		file := filepath.Join(folder, fmt.Sprintf("table-%d.csv", i))
		if err := os.WriteFile(file, body, 0o600); err != nil {
			t.Fatal(err)
		}
		tables = append(tables, table{path, file, cells})
	}
	if guarded < 12 {
		t.Errorf("%d guarded cells", guarded)
	}
	t.Logf("%d tables, %d records, %d guarded cells", len(tables), records, guarded)
	for name, through := range programs {
		t.Run(name, func(t *testing.T) {
			for _, table := range tables {
				got, err := csv.NewReader(strings.NewReader(through(t, table.file, table.cells[0]))).ReadAll()
				if err != nil || len(got) != len(table.cells) {
					t.Fatalf("%s: %d lines, want %d, %v", table.path, len(got), len(table.cells), err)
				}
				for i, line := range table.cells {
					if !slices.Equal(line, got[i]) {
						t.Errorf("%s, line %d: %q, want %q", table.path, i+1, got[i], line)
						break
					}
				}
			}
		})
	}
}
