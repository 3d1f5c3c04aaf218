// Command sbom prints the bill of materials of a Go program, as SPDX 2.3 in JSON: the module it is
// built from and every module that is linked into it, with versions and checksums, as the Go linker
// wrote them into the program, and the Go toolchain with its standard library.
//
// It takes nothing from the machine or the clock: the time is that of the commit, where the program
// tells it, so that equal programs have equal bills.
//
//	sbom PROGRAM > bill.spdx.json
package main

import (
	"crypto/sha256"
	"debug/buildinfo"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"runtime/debug"
	"strings"
)

// The part of SPDX 2.3 that is used. Source: SPDX Specification 2.3, clauses 6, 7 and 11.
type (
	document struct {
		Version       string         `json:"spdxVersion"`
		License       string         `json:"dataLicense"`
		ID            string         `json:"SPDXID"`
		Name          string         `json:"name"`
		Namespace     string         `json:"documentNamespace"`
		Creation      creation       `json:"creationInfo"`
		Packages      []component    `json:"packages"`
		Relationships []relationship `json:"relationships"`
	}
	creation struct {
		Created  string   `json:"created"`
		Creators []string `json:"creators"`
	}
	component struct {
		Name      string     `json:"name"`
		ID        string     `json:"SPDXID"`
		Version   string     `json:"versionInfo,omitempty"`
		Location  string     `json:"downloadLocation"`
		Analyzed  bool       `json:"filesAnalyzed"`
		Concluded string     `json:"licenseConcluded"`
		Declared  string     `json:"licenseDeclared"`
		Copyright string     `json:"copyrightText"`
		Checksums []checksum `json:"checksums,omitempty"`
		Comment   string     `json:"comment,omitempty"`
		Refs      []ref      `json:"externalRefs,omitempty"`
	}
	checksum struct {
		Algorithm string `json:"algorithm"`
		Value     string `json:"checksumValue"`
	}
	ref struct {
		Category string `json:"referenceCategory"`
		Type     string `json:"referenceType"`
		Locator  string `json:"referenceLocator"`
	}
	relationship struct {
		Element string `json:"spdxElementId"`
		Type    string `json:"relationshipType"`
		Related string `json:"relatedSpdxElement"`
	}
)

const unknown = "NOASSERTION"

func main() {
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "usage: sbom PROGRAM")
		os.Exit(2)
	}
	text, err := bill(os.Args[1])
	if err != nil {
		fmt.Fprintln(os.Stderr, "sbom:", err)
		os.Exit(1)
	}
	os.Stdout.Write(text)
}

// bill is the bill of materials of the program in a file.
func bill(file string) ([]byte, error) {
	info, err := buildinfo.ReadFile(file)
	if err != nil {
		return nil, err
	}
	program, err := os.ReadFile(file)
	if err != nil {
		return nil, err
	}
	sum := hex.EncodeToString(digest(program))
	name := filepath.Base(file)
	created, revision := "1970-01-01T00:00:00Z", ""
	for _, s := range info.Settings {
		switch s.Key {
		case "vcs.time":
			created = s.Value
		case "vcs.revision":
			revision = s.Value
		}
	}
	d := document{Version: "SPDX-2.3", License: "CC0-1.0", ID: "SPDXRef-DOCUMENT", Name: name,
		Namespace: "https://spdx.org/spdxdocs/" + name + "-" + sum, // the convention of clause 6.5, made unique by the digest
		Creation:  creation{created, []string{"Tool: " + name + "-sbom"}}}
	root := component{Name: name, ID: "SPDXRef-program", Version: revision, Location: unknown, Concluded: unknown, Declared: "Apache-2.0", Copyright: unknown,
		Checksums: []checksum{{"SHA256", sum}}}
	toolchain := component{Name: "std", ID: "SPDXRef-go", Version: strings.TrimPrefix(info.GoVersion, "go"), Location: unknown, Concluded: unknown, Declared: unknown, Copyright: unknown,
		Comment: "the Go toolchain and its standard library", Refs: purl("std", strings.TrimPrefix(info.GoVersion, "go"))}
	d.Packages = []component{root, toolchain}
	d.Relationships = []relationship{{d.ID, "DESCRIBES", root.ID}, {root.ID, "DEPENDS_ON", toolchain.ID}}
	for _, m := range info.Deps {
		c := moduleOf(m)
		d.Packages = append(d.Packages, c)
		d.Relationships = append(d.Relationships, relationship{root.ID, "DEPENDS_ON", c.ID})
	}
	text, err := json.MarshalIndent(d, "", " ")
	return append(text, '\n'), err
}

func digest(b []byte) []byte {
	sum := sha256.Sum256(b)
	return sum[:]
}

var noID = regexp.MustCompile(`[^A-Za-z0-9.-]`) // clause 7.2

func moduleOf(m *debug.Module) component {
	for m.Replace != nil {
		m = m.Replace
	}
	c := component{Name: m.Path, ID: "SPDXRef-" + noID.ReplaceAllString(m.Path, "-") + "-" + noID.ReplaceAllString(m.Version, "-"),
		Version: m.Version, Location: unknown, Concluded: unknown, Declared: unknown, Copyright: unknown, Refs: purl(m.Path, m.Version)}
	// The checksum of go.sum is one over a list of files, not over an archive, which is what SPDX would
	// have under checksums (go.dev/ref/mod, "go.sum files").
	if m.Sum != "" {
		c.Comment = "go.sum has " + m.Sum
	}
	return c
}

// purl names a module as package URLs do, type golang.
func purl(path, version string) []ref {
	return []ref{{"PACKAGE-MANAGER", "purl", "pkg:golang/" + path + "@" + strings.ReplaceAll(version, "+", "%2B")}}
}
