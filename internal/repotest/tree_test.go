package repotest

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
)

// module is the path of the module whose tree is tested.
const module = "sabinbook"

// root is the top of the repository, seen from this package.
const root = "../.."

// goFile is one Go source file of the module.
type goFile struct {
	path   string // from the top of the repository, with slashes
	pkg    string // folder of the package, the same way
	test   bool
	source []byte
	syntax *ast.File
	fset   *token.FileSet
}

// generated says whether a tool wrote the file.
func (f goFile) generated() bool { return ast.IsGenerated(f.syntax) }

// imports lists the paths that the file imports.
func (f goFile) imports() []string {
	var paths []string
	for _, spec := range f.syntax.Imports {
		p, err := strconv.Unquote(spec.Path.Value)
		if err != nil {
			panic(err) // the parser accepted it as a string
		}
		paths = append(paths, p)
	}
	return paths
}

// uses lists, with their places, the names that the file selects from the
// package with the given import path: time.Now gives "Now".
func (f goFile) uses(importPath string) map[string]string {
	local := ""
	for _, spec := range f.syntax.Imports {
		if spec.Path.Value == strconv.Quote(importPath) {
			local = path.Base(importPath)
			if spec.Name != nil {
				local = spec.Name.Name
			}
		}
	}
	found := map[string]string{}
	if local == "" {
		return found
	}
	ast.Inspect(f.syntax, func(n ast.Node) bool {
		if sel, ok := n.(*ast.SelectorExpr); ok {
			if x, ok := sel.X.(*ast.Ident); ok && x.Name == local {
				line := f.fset.Position(sel.Pos()).Line
				found[sel.Sel.Name] = f.path + ":" + strconv.Itoa(line)
			}
		}
		return true
	})
	return found
}

// tree lists the files of the repository, with slashes, in order. What
// .gitignore names is no part of it.
var tree = sync.OnceValues(func() ([]string, error) {
	ignore, err := os.ReadFile(filepath.Join(root, ".gitignore"))
	if err != nil {
		return nil, err
	}
	patterns := strings.Fields(withoutComments(string(ignore)))
	var files []string
	err = filepath.WalkDir(root, func(p string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(root, p)
		if err != nil {
			return err
		}
		rel = filepath.ToSlash(rel)
		switch {
		case rel == ".git" || ignored(patterns, rel):
			if d.IsDir() {
				return filepath.SkipDir
			}
		case !d.IsDir():
			files = append(files, rel)
		}
		return nil
	})
	slices.Sort(files)
	return files, err
})

// withoutComments drops the lines that start with #.
func withoutComments(text string) string {
	var kept []string
	for line := range strings.Lines(text) {
		if !strings.HasPrefix(line, "#") {
			kept = append(kept, line)
		}
	}
	return strings.Join(kept, "")
}

// ignored says whether one of the patterns, in the part of git's notation that
// this repository uses (an anchored path, or a name with wildcards), names rel.
func ignored(patterns []string, rel string) bool {
	return slices.ContainsFunc(patterns, func(pattern string) bool {
		pattern = strings.TrimSuffix(pattern, "/")
		name := path.Base(rel)
		if anchored, ok := strings.CutPrefix(pattern, "/"); ok {
			pattern, name = anchored, rel
		}
		match, err := path.Match(pattern, name)
		return err == nil && match
	})
}

// goFiles parses every Go file of the module. What lies below a folder with a go.mod
// of its own is of another module.
var goFiles = sync.OnceValues(func() ([]goFile, error) {
	names, err := tree()
	if err != nil {
		return nil, err
	}
	var modules []string
	for _, name := range names {
		if path.Base(name) == "go.mod" && name != "go.mod" {
			modules = append(modules, path.Dir(name))
		}
	}
	foreign := func(name string) bool {
		return slices.ContainsFunc(modules, func(module string) bool { return strings.HasPrefix(name, module+"/") })
	}
	var files []goFile
	for _, name := range names {
		if path.Ext(name) != ".go" || foreign(name) || strings.Contains(name, "testdata/") {
			continue
		}
		source, err := os.ReadFile(filepath.Join(root, name))
		if err != nil {
			return nil, err
		}
		fset := token.NewFileSet()
		syntax, err := parser.ParseFile(fset, name, source, parser.ParseComments|parser.SkipObjectResolution)
		if err != nil {
			return nil, err
		}
		files = append(files, goFile{
			path: name, pkg: path.Dir(name), test: strings.HasSuffix(name, "_test.go"),
			source: source, syntax: syntax, fset: fset,
		})
	}
	return files, nil
})

// allFiles returns the names of all files of the repository.
func allFiles(t *testing.T) []string {
	t.Helper()
	names, err := tree()
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Contains(names, "go.mod") {
		t.Fatalf("%s is not the top of the repository", root)
	}
	return names
}

// allGo returns the Go files of the module.
func allGo(t *testing.T) []goFile {
	t.Helper()
	files, err := goFiles()
	if err != nil {
		t.Fatal(err)
	}
	return files
}

// text reads a file of the repository.
func text(t *testing.T, name string) string {
	t.Helper()
	content, err := os.ReadFile(filepath.Join(root, name))
	if err != nil {
		t.Fatal(err)
	}
	return string(content)
}
