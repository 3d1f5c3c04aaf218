package repotest

import (
	"bytes"
	"go/ast"
	"go/format"
	"go/token"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"
)

// top lists what stands at the top of the repository, beside names that start
// with a dot. All of it must be there.
var top = []string{
	"cmd", "api", "store", "migrations", "seed", "openapi", "deploy", "internal",
	"go.mod", "go.sum", "README.md", "DEVELOPERS.md", "LICENSE",
}

// largest is the size in bytes above which a file is no longer one that a person
// reviews.
const largest = 600 << 10

// scripts are the files that a shell runs by name.
var scripts = []string{".ci/run", ".ci/long", ".ci/postgres-image", ".ci/postgres-entrypoint", "deploy/build"}

// forbidden are traces of unfinished or private work. Words are put together
// from parts, so that this file does not hold them.
var forbidden = []struct {
	name    string
	pattern *regexp.Regexp
}{
	{"a record of talk", regexp.MustCompile(`(?i)\btran` + `scripts?\b`)},
	{"a planning paper", regexp.MustCompile(`(?i)\bseed ` + `document`)},
	{"a number of the tracker", regexp.MustCompile(`(?i)\bissue ` + `#?\d`)},
	{"a mark of unfinished work", regexp.MustCompile(`\b(TO` + `DO|FIX` + `ME)\b|(?i)\bnot ` + `implemented\b`)},
	{"a conflict left by a merge", regexp.MustCompile(`(?m)^(<{7}|>{7}) `)},
	{"a path of one machine", regexp.MustCompile("(?m)(^|[\\s\"'`=(:,])/(root|work|home|Users)/")},
	{"a skip without a reason", regexp.MustCompile(`\.Skip(Now)?\(\)`)},
}

// isText says whether content is text that a person wrote or reads.
func isText(content []byte) bool {
	return utf8.Valid(content) && !bytes.ContainsRune(content, 0)
}

func TestTopHoldsWhatItShould(t *testing.T) {
	present := map[string]bool{}
	for _, name := range allFiles(t) {
		first, _, _ := strings.Cut(name, "/")
		present[first] = true
	}
	for name := range present {
		if !strings.HasPrefix(name, ".") && !slices.Contains(top, name) {
			t.Errorf("%s stands at the top; only %s and dot files do", name, strings.Join(top, ", "))
		}
	}
	for _, name := range top {
		if !present[name] {
			t.Errorf("%s is missing at the top", name)
		}
	}
}

func TestFilesAreSmall(t *testing.T) {
	for _, name := range allFiles(t) {
		info, err := os.Stat(filepath.Join(root, name))
		if err != nil {
			t.Error(err)
			continue
		}
		if info.Size() > largest {
			t.Errorf("%s has %d bytes, more than %d", name, info.Size(), largest)
		}
	}
}

func TestNoForbiddenWords(t *testing.T) {
	for _, name := range allFiles(t) {
		if name == "LICENSE" || path.Base(name) == "go.sum" {
			continue
		}
		content := []byte(text(t, name))
		if !isText(content) {
			continue
		}
		for _, f := range forbidden {
			if at := f.pattern.FindIndex(content); at != nil {
				line := 1 + bytes.Count(content[:at[0]], []byte("\n"))
				t.Errorf("%s:%d: %s: %q", name, line, f.name, content[at[0]:at[1]])
			}
		}
	}
}

func TestForbiddenWordsAreSeen(t *testing.T) {
	for name, sample := range map[string]string{
		"a record of talk":            "see the tran" + "scripts",
		"a planning paper":            "the Seed " + "Document",
		"a number of the tracker":     "closes issue " + "#12",
		"a mark of unfinished work":   "// TO" + "DO: more",
		"a conflict left by a merge":  "a\n<<<<<<" + "< HEAD",
		"a path of one machine":       "open(\"/ro" + "ot/x\")",
		"a skip without a reason":     "t.Sk" + "ip()",
		"a mark of unfinished work 2": "not " + "implemented",
	} {
		seen := slices.ContainsFunc(forbidden, func(f struct {
			name    string
			pattern *regexp.Regexp
		}) bool {
			return strings.HasPrefix(name, f.name) && f.pattern.MatchString(sample)
		})
		if !seen {
			t.Errorf("%s is not seen in %q", name, sample)
		}
	}
}

func TestGoFilesAreFormatted(t *testing.T) {
	for _, f := range allGo(t) {
		formatted, err := format.Source(f.source)
		if err != nil {
			t.Errorf("%s: %v", f.path, err)
			continue
		}
		if !bytes.Equal(formatted, f.source) {
			t.Errorf("%s is not formatted: gofmt -w %[1]s", f.path)
		}
	}
}

// A generated file brings a package comment of its own; it does not count,
// because it says nothing about the package.
func TestEachPackageHasOneComment(t *testing.T) {
	comments := map[string][]string{}
	for _, f := range allGo(t) {
		if f.test {
			continue
		}
		if _, ok := comments[f.pkg]; !ok {
			comments[f.pkg] = nil
		}
		if f.syntax.Doc == nil || f.generated() {
			continue
		}
		comments[f.pkg] = append(comments[f.pkg], f.path)
		name := f.syntax.Name.Name
		if name != "main" && !strings.HasPrefix(f.syntax.Doc.Text(), "Package "+name+" ") {
			t.Errorf("%s: the package comment must start with %q", f.path, "Package "+name)
		}
	}
	for pkg, in := range comments {
		if len(in) != 1 {
			t.Errorf("%s has %d package comments, want one: %v", pkg, len(in), in)
		}
	}
}

func TestExportedNamesAreExplained(t *testing.T) {
	for _, f := range allGo(t) {
		if f.test || f.generated() || f.syntax.Name.Name == "main" {
			continue
		}
		for _, decl := range f.syntax.Decls {
			for _, name := range unexplained(decl) {
				t.Errorf("%s: %s has no comment", f.fset.Position(name.Pos()), name.Name)
			}
		}
	}
}

// unexplained lists the exported names that decl declares at the top level
// without a comment. A comment on a group of constants or variables explains
// all of them; Error and String need none, because every reader knows them.
func unexplained(decl ast.Decl) []*ast.Ident {
	var names []*ast.Ident
	add := func(candidates ...*ast.Ident) {
		for _, n := range candidates {
			if n.IsExported() {
				names = append(names, n)
			}
		}
	}
	switch d := decl.(type) {
	case *ast.FuncDecl:
		known := d.Recv != nil && (d.Name.Name == "Error" || d.Name.Name == "String")
		if d.Doc == nil && !known && (d.Recv == nil || exportedReceiver(d)) {
			add(d.Name)
		}
	case *ast.GenDecl:
		for _, spec := range d.Specs {
			switch s := spec.(type) {
			case *ast.TypeSpec:
				if s.Doc == nil && d.Doc == nil {
					add(s.Name)
				}
			case *ast.ValueSpec:
				if s.Doc == nil && s.Comment == nil && d.Doc == nil && d.Tok != token.IMPORT {
					add(s.Names...)
				}
			}
		}
	}
	return names
}

// exportedReceiver says whether the method is of an exported type.
func exportedReceiver(method *ast.FuncDecl) bool {
	kind := method.Recv.List[0].Type
	for {
		switch k := kind.(type) {
		case *ast.StarExpr:
			kind = k.X
		case *ast.IndexExpr:
			kind = k.X
		case *ast.IndexListExpr:
			kind = k.X
		case *ast.Ident:
			return k.IsExported()
		default:
			return false
		}
	}
}

func TestScriptsCanRun(t *testing.T) {
	for _, name := range scripts {
		info, err := os.Stat(filepath.Join(root, name))
		if err != nil {
			t.Error(err)
			continue
		}
		if info.Mode()&0o111 == 0 {
			t.Errorf("%s has no run bit", name)
		}
		if content := text(t, name); !regexp.MustCompile(`(?m)^set -eu`).MatchString(content) {
			t.Errorf("%s does not stop at the first failure", name)
		}
	}
}
