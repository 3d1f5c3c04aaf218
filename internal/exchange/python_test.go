package exchange_test

import (
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"sabinbook/internal/catalogtest"
	"sabinbook/internal/exchange"
)

// reader loads a package with Python's own modules into SQLite, with the types, primary keys
// and foreign keys that the descriptor tells, and prints every value that a text or a number
// has, with what breaks a key.
const reader = `
import csv, json, sqlite3, sys, zipfile, io
z = zipfile.ZipFile(sys.argv[1])
assert z.testzip() is None
package = json.loads(z.read("datapackage.json"))
db = sqlite3.connect(":memory:")
kinds = {"number": "REAL", "integer": "INTEGER"}
order = package["resources"]
for r in order:
    s = r["schema"]
    q = lambda names: ", ".join('"%s"' % n for n in names)
    parts = ['"%s" %s%s' % (f["name"], kinds.get(f["type"], "TEXT"), " NOT NULL" if f.get("constraints", {}).get("required") else "") for f in s["fields"]]
    parts.append("PRIMARY KEY (%s)" % q(s["primaryKey"]))
    for k in s.get("foreignKeys", []):
        parts.append('FOREIGN KEY (%s) REFERENCES "%s" (%s)' % (q(k["fields"]), k["reference"].get("resource", r["name"]), q(k["reference"]["fields"])))
    db.execute('CREATE TABLE "%s" (%s)' % (r["name"], ", ".join(parts)))
out = {}
for r in order:
    data = z.read(r["path"])
    assert len(data) == r["bytes"]
    rows = list(csv.reader(io.StringIO(data.decode("utf-8"), newline=""), strict=True))
    fields = r["schema"]["fields"]
    assert rows[0] == [f["name"] for f in fields]
    table = []
    for row in rows[1:]:
        values = []
        for f, c in zip(fields, row, strict=True):
            if f["type"] == "string" and c.startswith("'"):
                c = c[1:]
            values.append(None if c == "" else float(c) if f["type"] == "number" else int(c) if f["type"] == "integer" else c)
        table.append(values)
    db.executemany('INSERT INTO "%s" VALUES (%s)' % (r["name"], ", ".join("?" * len(fields))), table)
    back = db.execute('SELECT * FROM "%s" ORDER BY rowid' % r["name"]).fetchall()
    assert [list(b) for b in back] == table, r["name"]
    out[r["name"]] = table
broken = db.execute("PRAGMA foreign_key_check").fetchall()
assert not broken, broken
print(json.dumps(out))
`

// Python's csv, json and sqlite3 read the same values, and its keys hold.
func TestPythonReadsTheSame(t *testing.T) {
	python, err := exec.LookPath("python3")
	if err == nil {
		err = exec.Command(python, "-c", "import sqlite3").Run()
	}
	if err != nil && os.Getenv("SABINBOOK_TEST_REQUIRE_PROGRAMS") == "1" {
		t.Fatal("python3 with sqlite3 is not installed, and SABINBOOK_TEST_REQUIRE_PROGRAMS asks for it")
	}
	if err != nil {
		t.Skip("NOT TESTED with Python: python3 with sqlite3 is not installed")
	}
	for seed := range uint64(12) {
		s := catalogtest.Random(seed)
		path := filepath.Join(t.TempDir(), "catalog.zip")
		if err := os.WriteFile(path, exchange.Archive(exchange.Write(s)), 0o600); err != nil {
			t.Fatal(err)
		}
		command := exec.Command(python, "-c", reader, path)
		var stderr strings.Builder
		command.Stderr = &stderr
		text, err := command.Output()
		if err != nil {
			t.Fatalf("seed %d: %v\n%s", seed, err, stderr.String())
		}
		var got map[string][][]any
		if err := json.Unmarshal(text, &got); err != nil {
			t.Fatal(err)
		}
		// The tables stand by id, the snapshot by slug.
		notes, amounts, densities := map[any]any{}, map[any]any{}, map[any]any{}
		for _, row := range got["sources"] {
			notes[row[0]] = row[len(row)-1]
		}
		for _, row := range got["prices"] {
			amounts[row[0]] = row[2]
		}
		for _, row := range got["fills"] {
			densities[row[0]] = row[10]
		}
		for _, x := range s.Sources {
			if note, _ := notes[string(x.ID)].(string); note != x.Note {
				t.Errorf("seed %d: note %q is read as %q", seed, x.Note, note)
			}
		}
		for _, x := range s.Prices {
			if amounts[string(x.ID)] != float64(x.Amount.Micro())/1e6 {
				t.Errorf("seed %d: %s is read as %v", seed, x.Amount, amounts[string(x.ID)])
			}
		}
		for _, x := range s.Fills {
			if d, _ := densities[string(x.ID)].(float64); x.Density != nil && d != float64(x.Density.Value) {
				t.Errorf("seed %d: density %v is read as %v", seed, x.Density.Value, d)
			}
		}
	}
}
