package repotest

import (
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// engines are the folders below migrations, one for each kind of database.
var engines = []string{"sqlite", "postgres"}

// migrationName is the form of a migration's file name: its number, what it
// does, and the way it leads.
var migrationName = regexp.MustCompile(`^(\d{6})_([a-z][a-z0-9_]*)\.(up|down)\.sql$`)

// migrations returns the names of the steps of one engine, such as
// 000001_catalog, each with the ways in which it leads.
func migrations(t *testing.T, engine string) map[string][]string {
	t.Helper()
	steps := map[string][]string{}
	for _, name := range allFiles(t) {
		if path.Dir(name) != "migrations/"+engine {
			continue
		}
		parts := migrationName.FindStringSubmatch(path.Base(name))
		if parts == nil {
			t.Errorf("%s is not named like 000001_what_it_does.up.sql", name)
			continue
		}
		step := parts[1] + "_" + parts[2]
		steps[step] = append(steps[step], parts[3])
		checkMigration(t, name)
	}
	return steps
}

// checkMigration reports a file that says nothing, does nothing, or handles
// transactions itself: each file is run as one.
func checkMigration(t *testing.T, name string) {
	t.Helper()
	content := text(t, name)
	if !strings.HasPrefix(content, "-- ") {
		t.Errorf("%s does not say at its head what happens to existing rows", name)
	}
	if !strings.Contains(content, ";") {
		t.Errorf("%s holds no statement", name)
	}
	if regexp.MustCompile(`(?im)^\s*(begin|commit|rollback)\s*(transaction)?\s*;`).MatchString(content) {
		t.Errorf("%s opens or ends a transaction", name)
	}
}

func TestMigrationsComeInPairs(t *testing.T) {
	var first []string
	for i, engine := range engines {
		var names []string
		for step, ways := range migrations(t, engine) {
			names = append(names, step)
			slices.Sort(ways)
			if !slices.Equal(ways, []string{"down", "up"}) {
				t.Errorf("migrations/%s/%s leads %v, want down and up", engine, step, ways)
			}
		}
		slices.Sort(names)
		if len(names) == 0 {
			t.Errorf("migrations/%s is empty", engine)
		}
		want := 1
		for _, name := range names {
			number, _ := strconv.Atoi(name[:6])
			if number != want {
				t.Errorf("migrations/%s/%s: want number %d", engine, name, want)
			}
			want++
		}
		if i == 0 {
			first = names
		} else if !slices.Equal(names, first) {
			t.Errorf("migrations/%s holds %v, migrations/%s holds %v", engine, names, engines[0], first)
		}
	}
}

func TestSchemaIsShown(t *testing.T) {
	for _, engine := range engines {
		if name := "migrations/schema." + engine + ".sql"; !slices.Contains(allFiles(t), name) {
			t.Errorf("%s is missing", name)
		}
	}
}
