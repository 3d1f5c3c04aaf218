package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestCompareReadsAloud(t *testing.T) {
	if code, out, errs := call(t, "compare", keptFile, keptFile); code != 0 || !strings.Contains(out, "\nEqual: ") || errs != "" {
		t.Errorf("exit code %d: %s%s", code, out, errs)
	}
	text, err := os.ReadFile(keptFile)
	if err != nil {
		t.Fatal(err)
	}
	for _, change := range []struct{ old, new string }{
		{`"place":1,`, `"place":7,`},
		{`"total":{"amount":"81.65"`, `"total":{"amount":"99.00"`},
	} {
		text = bytes.Replace(text, []byte(change.old), []byte(change.new), 1)
	}
	changed := filepath.Join(t.TempDir(), "changed.json")
	if err := os.WriteFile(changed, text, 0o600); err != nil {
		t.Fatal(err)
	}
	code, out, errs := call(t, "compare", keptFile, changed)
	for _, line := range []string{"  /place: 1, then 7, +6", `  /cost/total/amount: "81.65", then "99.00", +17.35`, "The digest of the second does not fit"} {
		if code != 1 || !strings.Contains(out, line) || !strings.Contains(errs, "differ") {
			t.Errorf("exit code %d, without %q: %s%s", code, line, out, errs)
		}
	}
	for _, files := range [][]string{{keptFile, "no-such-file.json"}, {"compare_test.go", keptFile}, {"-", "-"}} {
		if code, out, errs := call(t, "compare", files[0], files[1]); code != 2 || out != "" || errs == "" {
			t.Errorf("%v: exit code %d: %s%s", files, code, out, errs)
		}
	}
	if _, _, errs := call(t, "compare", keptFile, "compare_test.go"); !strings.Contains(errs, "compare_test.go: is not JSON") {
		t.Errorf("%s", errs)
	}
}
