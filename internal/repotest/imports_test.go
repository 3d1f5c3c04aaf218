package repotest

import (
	"maps"
	"slices"
	"strings"
	"testing"
)

// lattice says which package of the module may import which. "a b < c d" reads:
// c and d may each import a and b, and all that a and b may import; nothing else.
// Packages under internal/ stand without that prefix. A package may stand here
// before it is written, so that its place is settled.
const lattice = `
units < bands
units money bands < catalog
units bands < absorber ratings reverb
catalog absorber ratings < absorption
absorption < panels
panels < handling
catalog < hanging
panels handling < needs
units money < cutting buying
needs cutting buying < costing
units bands < sampling
costing handling hanging ratings rooms sampling < ranking
ranking < shortlist readymade
catalog reverb < rooms
catalog panels rooms < exchange
catalog < catalogtest
catalog < access
catalog access migrations < store
catalog < seed
ranking api/client < api/page
api/page openapi rooms shortlist readymade exchange access < api
api api/page api/client store seed < cmd/sabinbook
store < store/storetest
`

// testLattice says what the tests of a package may import beyond lattice. The
// tests of the service run on a real store with the real seed, through the real
// client; api and store meet only there and in cmd.
const testLattice = `
store/storetest < store
store/storetest seed api/client < api
store/storetest < cmd/sabinbook
seed < ranking readymade exchange shortlist
catalogtest < exchange shortlist api
exchange catalogtest < cmd/sabinbook
exchange catalogtest < store
panels rooms < seed
`

// rooms says in which packages a library may be imported: one room per foreign
// library, and one for each part of the standard library that touches the
// world. A prefix stands for all packages below it; the longest prefix holds.
// A foreign library that is not here may not be imported at all.
var rooms = map[string][]string{
	// HTTP and its contract.
	"github.com/labstack/echo/v4":        {"api", "cmd/sabinbook"},
	"github.com/labstack/gommon":         {"api"},
	"github.com/getkin/kin-openapi":      {"api", "openapi"},
	"github.com/oapi-codegen/runtime":    {"api", "api/client"},
	"github.com/oapi-codegen/nullable":   {"api", "api/client"},
	"github.com/go-json-experiment/json": {"api", "internal/shortlist", "internal/exchange"},
	"github.com/evanphx/json-patch/v5":   {"api"},
	"go.yaml.in/yaml/v3":                 {"openapi"},
	"github.com/prometheus":              {"api"},
	"net/http":                           {"api", "api/client", "api/page", "cmd/sabinbook"},
	"log":                                {"api", "cmd/sabinbook"},

	// The databases. storetest opens throw-away ones.
	"database/sql":                         {"store", "store/storetest"},
	"github.com/jackc/pgx/v5":              {"store", "store/storetest"},
	"modernc.org/sqlite":                   {"store", "store/storetest"},
	"github.com/golang-migrate/migrate/v4": {"store"},
	"github.com/testcontainers":            {"store/storetest"},

	// The process: command line, environment, files. storetest starts servers.
	"github.com/alecthomas/kong": {"cmd/sabinbook"},
	"flag":                       {"cmd/sabinbook"},
	"os":                         {"cmd/sabinbook", "store/storetest"},

	// Numbers, names and identifiers. Name keys are folded where names are
	// checked; ids are made where rows are made and given where seed rows are.
	"gonum.org/v1/gonum":         {"internal/absorber", "internal/ranking", "internal/reverb", "internal/sampling"},
	"github.com/bojanz/currency": {"internal/money"},
	"golang.org/x/text":          {"internal/catalog", "store"},
	"golang.org/x/time":          {"api"},
	"github.com/google/uuid":     {"api", "store", "seed", "cmd/sabinbook"},
}

// testRooms are the foreign libraries that tests of any package may use, beside
// those that their package may.
var testRooms = []string{
	"github.com/google/go-cmp",
	"github.com/santhosh-tekuri/jsonschema/v6",
	"pgregory.net/rapid",
	"github.com/chromedp/chromedp",
	"github.com/testcontainers",
}

// worldly is what no package under internal/ imports outside its tests: there,
// values come in and values go out. json is for the two packages whose subject
// is a document.
var worldly = map[string][]string{
	"context":       nil,
	"crypto/rand":   nil,
	"database/sql":  nil,
	"encoding/json": {"internal/shortlist", "internal/exchange"},
	"log":           nil,
	"net":           nil,
	"os":            nil,
	"syscall":       nil,
}

// clock holds the names of package time that read or wait for the clock.
var clock = []string{"After", "AfterFunc", "NewTicker", "NewTimer", "Now", "Since", "Sleep", "Tick", "Until"}

// environment holds the names of package os that read the environment.
var environment = []string{"Environ", "ExpandEnv", "Getenv", "LookupEnv"}

// short returns the name under which lattice knows the package in folder pkg.
func short(pkg string) string { return strings.TrimPrefix(pkg, "internal/") }

// closure reads the notation of lattice and returns, for each package named in
// it, all that it may import.
func closure(notation string) map[string]map[string]bool {
	direct := map[string][]string{}
	for line := range strings.Lines(strings.TrimSpace(notation)) {
		below, above, _ := strings.Cut(line, "<")
		for _, b := range strings.Fields(below) {
			direct[b] = slices.Clip(direct[b]) // the lowest have nothing below, and a place all the same
		}
		for _, a := range strings.Fields(above) {
			direct[a] = append(direct[a], strings.Fields(below)...)
		}
	}
	all := map[string]map[string]bool{}
	var collect func(from string, into map[string]bool)
	collect = func(from string, into map[string]bool) {
		for _, b := range direct[from] {
			if !into[b] {
				into[b] = true
				collect(b, into)
			}
		}
	}
	for name := range direct {
		all[name] = map[string]bool{}
		collect(name, all[name])
	}
	return all
}

// within says whether path is prefix or lies below it.
func within(path, prefix string) bool {
	return path == prefix || strings.HasPrefix(path, prefix+"/")
}

// longest returns the longest of the prefixes within which path lies.
func longest(path string, prefixes []string) (string, bool) {
	best, found := "", false
	for _, p := range prefixes {
		if within(path, p) && len(p) >= len(best) {
			best, found = p, true
		}
	}
	return best, found
}

// foreign says whether an import path names a module from elsewhere.
func foreign(path string) bool {
	first, _, _ := strings.Cut(path, "/")
	return strings.Contains(first, ".")
}

// fault returns why a file of the package in folder pkg may not import path, or
// nothing if it may.
func fault(pkg, path string, test bool) string {
	if inner, ok := strings.CutPrefix(path, module+"/"); ok {
		return innerFault(short(pkg), short(inner), test)
	}
	if !test && within(pkg, "internal") {
		if p, ok := longest(path, slices.Collect(maps.Keys(worldly))); ok && !slices.Contains(worldly[p], pkg) {
			return "packages under internal/ receive values and touch nothing outside"
		}
	}
	if test && !foreign(path) {
		return ""
	}
	if test {
		if _, ok := longest(path, testRooms); ok {
			return ""
		}
	}
	room, ok := longest(path, slices.Collect(maps.Keys(rooms)))
	switch {
	case !ok && foreign(path):
		return "no room is named for this library"
	case ok && !slices.Contains(rooms[room], pkg):
		return "its room is " + strings.Join(rooms[room], ", ")
	}
	return ""
}

// innerFault is fault for an import inside the module.
func innerFault(from, to string, test bool) string {
	allowed, known := closure(lattice)[from]
	switch {
	case !known:
		return "the importing package has no place in the lattice"
	case allowed[to]:
		return ""
	case test && (from == to || closure(testLattice)[from][to]):
		return ""
	}
	return "the lattice does not put it below"
}

func TestImportsFollowTheLattice(t *testing.T) {
	for _, f := range allGo(t) {
		for _, path := range f.imports() {
			if why := fault(f.pkg, path, f.test); why != "" {
				t.Errorf("%s imports %s: %s", f.path, path, why)
			}
		}
	}
}

// Rules that refuse nothing would pass as well, so each kind is shown to refuse.
func TestLatticeRefuses(t *testing.T) {
	for _, c := range []struct {
		pkg, path string
		test      bool
		refused   bool
	}{
		{"internal/bands", "sabinbook/internal/units", false, false},
		{"internal/units", "sabinbook/internal/bands", false, true},
		{"internal/handling", "sabinbook/internal/money", false, false},
		{"internal/ranking", "sabinbook/internal/absorber", false, false},
		{"internal/ranking", "sabinbook/internal/shortlist", false, true},
		{"api", "sabinbook/store", false, true},
		{"api", "sabinbook/store/storetest", true, false},
		{"store", "sabinbook/api", true, true},
		{"store", "sabinbook/store/storetest", false, true},
		{"cmd/sabinbook", "sabinbook/internal/ranking", false, false},
		{"internal/newcomer", "sabinbook/internal/units", false, true},
		{"api", "github.com/labstack/echo/v4/middleware", false, false},
		{"api/page", "github.com/labstack/echo/v4", false, true},
		{"internal/ranking", "github.com/labstack/echo/v4", false, true},
		{"store", "github.com/jackc/pgx/v5/stdlib", false, false},
		{"api", "database/sql", false, true},
		{"api", "github.com/jackc/pgx/v5", true, true},
		{"internal/catalog", "github.com/bojanz/currency", false, true},
		{"internal/units", "example.org/unknown", false, true},
		{"internal/units", "pgregory.net/rapid", true, false},
		{"internal/units", "pgregory.net/rapid", false, true},
		{"internal/ranking", "encoding/json", false, true},
		{"internal/ranking", "encoding/json", true, false},
		{"internal/shortlist", "encoding/json", false, false},
		{"internal/ranking", "log/slog", false, true},
		{"internal/ranking", "net/http", false, true},
		{"internal/ranking", "context", false, true},
		{"internal/ranking", "os", true, false},
		{"store", "os", false, true},
	} {
		if why := fault(c.pkg, c.path, c.test); (why != "") != c.refused {
			t.Errorf("%s imports %s (test %v): %q, want refused %v", c.pkg, c.path, c.test, why, c.refused)
		}
	}
}

// A lattice has no circle: no package may import itself by way of another.
func TestLatticeHasNoCircle(t *testing.T) {
	for name, below := range closure(lattice) {
		if below[name] {
			t.Errorf("%s stands below itself", name)
		}
	}
}

func TestInternalAsksNoClock(t *testing.T) {
	for _, f := range allGo(t) {
		if f.test || !within(f.pkg, "internal") {
			continue
		}
		used := f.uses("time")
		for _, name := range clock {
			if place, ok := used[name]; ok {
				t.Errorf("%s: time.%s: packages under internal/ receive the time as a value", place, name)
			}
		}
	}
}

func TestEnvironmentIsReadInCmdOnly(t *testing.T) {
	for _, f := range allGo(t) {
		if f.test || within(f.pkg, "cmd") || f.pkg == "store/storetest" {
			continue
		}
		used := f.uses("os")
		for _, name := range environment {
			if place, ok := used[name]; ok {
				t.Errorf("%s: os.%s: cmd reads the environment and hands values on", place, name)
			}
		}
	}
}
