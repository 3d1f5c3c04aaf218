package main

import (
	"bytes"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	spdx "github.com/spdx/tools-golang/json"
	"github.com/spdx/tools-golang/spdxlib"
)

// The bill of one of the tools is valid by another program, the SPDX project's own reader, and
// names every module that the go command finds in it.
func TestBillIsValidAndNamesEveryModule(t *testing.T) {
	program := filepath.Join(t.TempDir(), "staticcheck")
	if out, err := exec.Command("go", "build", "-o", program, "honnef.co/go/tools/cmd/staticcheck").CombinedOutput(); err != nil {
		t.Fatal(err, string(out))
	}
	text, err := bill(program)
	if err != nil {
		t.Fatal(err)
	}
	doc, err := spdx.Read(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	if err := spdxlib.ValidateDocument(doc); err != nil {
		t.Error(err)
	}
	versions := map[string]string{}
	for _, p := range doc.Packages {
		versions[p.PackageName] = p.PackageVersion
	}
	out, err := exec.Command("go", "version", "-m", program).Output()
	if err != nil {
		t.Fatal(err)
	}
	count := 0
	for line := range strings.Lines(string(out)) {
		if f := strings.Fields(line); len(f) >= 3 && f[0] == "dep" {
			count++
			if versions[f[1]] != f[2] {
				t.Errorf("%s has version %q, want %q", f[1], versions[f[1]], f[2])
			}
		}
	}
	if count == 0 || len(doc.Packages) != count+2 {
		t.Errorf("%d packages for %d modules", len(doc.Packages), count)
	}
	again, err := bill(program)
	if err != nil || !bytes.Equal(again, text) {
		t.Errorf("two bills differ, %v", err)
	}
}
