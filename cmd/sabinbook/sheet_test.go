package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestSheetIsPrintedFromAFile(t *testing.T) {
	const file = "../../api/testdata/shortlists/form-1-model-4.json"
	for want, args := range map[string][]string{
		"<!DOCTYPE html>":                 {file},
		"\n## Place 1: Mineral wool":      {file, "--form", "markdown"},
		"\n## Place 3: Polyester":         {file, "--form", "markdown", "--all"},
		"<h2>Place 3: Polyester":          {file, "--key", "polyester-20.50x1.gap-0.muslin"},
		"# Panels for Lantern Yard\n\nSh": {file, "--form", "markdown", "--key", "polyester-20.50x1.gap-0.muslin"},
	} {
		if code, out, errs := call(t, append([]string{"sheet"}, args...)...); code != 0 || !strings.Contains(out, want) {
			t.Errorf("%v: exit code %d, %d bytes without %q: %s", args, code, len(out), want, errs)
		}
	}
	other := filepath.Join(t.TempDir(), "other.json")
	if err := os.WriteFile(other, []byte(`{"schema":"/schemas/shortlist-2.json"}`), 0o600); err != nil {
		t.Fatal(err)
	}
	for want, args := range map[string][]string{
		"polyester-20.50x1.gap-0.muslin": {file, "--key", "straw"},
		"shortlist-1.json":               {other},
		"no such file":                   {"nothing.json"},
	} {
		if code, out, errs := call(t, append([]string{"sheet"}, args...)...); code != 1 || out != "" || !strings.Contains(errs, want) {
			t.Errorf("%v: exit code %d, want 1 and %q: %s%s", args, code, want, out, errs)
		}
	}
}
