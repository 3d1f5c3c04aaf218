package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

const keptFile = "../../api/testdata/shortlists/form-1-model-4.json"

func TestVerifyReadsAloud(t *testing.T) {
	code, out, errs := call(t, "verify", keptFile)
	if code != 0 || !strings.HasPrefix(out, "Equal: ") || !strings.Contains(out, "cannot prove") {
		t.Errorf("exit code %d: %s%s", code, out, errs)
	}
	text, err := os.ReadFile(keptFile)
	if err != nil {
		t.Fatal(err)
	}
	file, err := os.Open(keptFile)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	defer func(real *os.File) { os.Stdin = real }(os.Stdin)
	os.Stdin = file
	if code, piped, errs := call(t, "verify", "-"); code != 0 || piped != out {
		t.Errorf("from standard input: exit code %d: %s%s", code, piped, errs)
	}
	changed := filepath.Join(t.TempDir(), "changed.json")
	if err := os.WriteFile(changed, bytes.Replace(text, []byte(`"place":1`), []byte(`"place":7`), 1), 0o600); err != nil {
		t.Fatal(err)
	}
	if code, out, errs := call(t, "verify", changed); code != 1 || !strings.Contains(out, "/place: the file says 7, the computation 1, -6") || !strings.Contains(errs, "differs") {
		t.Errorf("exit code %d: %s%s", code, out, errs)
	}
	for _, file := range []string{"no-such-file.json", "verify_test.go"} {
		if code, out, _ := call(t, "verify", file); code != 2 || out != "" {
			t.Errorf("%s: exit code %d: %s", file, code, out)
		}
	}
}
