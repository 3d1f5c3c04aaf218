package repotest

import (
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// commands are the two that README gives first and .ci/run repeats as written.
var commands = []string{"go run ./cmd/sabinbook demo", "go test ./..."}

// kinds of test, by the word with which DEVELOPERS.md must say how to run each.
var testWords = []string{
	"go test ./...", "-race", ".ci/run", ".ci/long",
	"SABINBOOK_TEST_DATABASE_URL", "SABINBOOK_TEST_POSTGRES_IMAGE", "SABINBOOK_TEST_REQUIRE_POSTGRES", "SABINBOOK_TEST_REQUIRE_PROGRAMS",
}

// page reads a page for readers, or ends the test.
func page(t *testing.T, name string) string {
	t.Helper()
	if !slices.Contains(allFiles(t), name) {
		t.Fatalf("%s is missing", name)
	}
	return text(t, name)
}

// fenced returns the lines inside the code fences of a Markdown page.
func fenced(markdown string) []string {
	var lines []string
	inside := false
	for line := range strings.Lines(markdown) {
		line = strings.TrimSpace(line)
		if strings.HasPrefix(line, "```") {
			inside = !inside
		} else if inside {
			lines = append(lines, line)
		}
	}
	return lines
}

// opening returns the prose of a page up to its first fence, without headings.
func opening(markdown string) string {
	before, _, _ := strings.Cut(markdown, "```")
	var prose []string
	for line := range strings.Lines(before) {
		if line = strings.TrimSpace(line); !strings.HasPrefix(line, "#") {
			prose = append(prose, line)
		}
	}
	return strings.TrimSpace(strings.Join(prose, "\n"))
}

// A reader of README learns the job first, then how to see it done.
func TestREADMESaysTheJobThenTheCommands(t *testing.T) {
	readme := page(t, "README.md")
	job, _, _ := strings.Cut(opening(readme), "\n\n")
	if words := len(strings.Fields(job)); words < 30 || words > 150 {
		t.Errorf("README.md opens with a paragraph of %d words before the commands, want 30 to 150", words)
	}
	for _, word := range []string{"panel", "fill", "fabric", "absor"} {
		if !strings.Contains(strings.ToLower(job), word) {
			t.Errorf("README.md does not say %q in its first paragraph", word)
		}
	}
	code := fenced(readme)
	for _, command := range commands {
		if !slices.ContainsFunc(code, func(line string) bool {
			return line == command || strings.HasPrefix(line, command+" ")
		}) {
			t.Errorf("README.md does not give the command %q in a fence", command)
		}
	}
	last := 0
	for _, step := range []string{
		regexp.QuoteMeta(commands[0]), `curl[^\n]*(\\\n[^\n]*)*/v1/rankings`, `(?im)^#+.*\brests?\b`, `(?im)^#+.*\bcautions?\b`,
	} {
		at := regexp.MustCompile(step).FindStringIndex(readme[last:])
		if at == nil {
			t.Errorf("README.md lacks %q, or has it in another order than job, commands, curl, what the numbers rest on, cautions", step)
			continue
		}
		last += at[0]
	}
}

func TestCIRunsTheCommandsOfREADME(t *testing.T) {
	run := page(t, ".ci/run")
	for _, command := range commands {
		if !strings.Contains(run, command) {
			t.Errorf(".ci/run does not run %q", command)
		}
	}
}

func TestDEVELOPERSKnowsEveryPackage(t *testing.T) {
	developers := page(t, "DEVELOPERS.md")
	seen := map[string]bool{}
	for _, f := range allGo(t) {
		if seen[f.pkg] {
			continue
		}
		seen[f.pkg] = true
		if !regexp.MustCompile(`\b` + regexp.QuoteMeta(path.Base(f.pkg)) + `\b`).MatchString(developers) {
			t.Errorf("DEVELOPERS.md does not name %s", f.pkg)
		}
	}
}

func TestDEVELOPERSSaysHow(t *testing.T) {
	developers := page(t, "DEVELOPERS.md")
	for _, word := range testWords {
		if !strings.Contains(developers, word) {
			t.Errorf("DEVELOPERS.md does not say how to test with %s", word)
		}
	}
	for _, task := range []string{`how to add.*field`, `how to add.*formula`, `how to add.*question`, `decode.*validate.*encode`} {
		if !regexp.MustCompile(`(?is)` + task).MatchString(developers) {
			t.Errorf("DEVELOPERS.md does not explain %q", task)
		}
	}
}

// link is a Markdown link or image, its target without title and anchor.
var link = regexp.MustCompile(`\]\(([^)#\s]+)[^)]*\)`)

func TestLinksResolve(t *testing.T) {
	for _, name := range allFiles(t) {
		if path.Ext(name) != ".md" {
			continue
		}
		for _, m := range link.FindAllStringSubmatch(text(t, name), -1) {
			target := m[1]
			if strings.Contains(target, ":") {
				continue // an address elsewhere
			}
			if _, err := os.Stat(filepath.Join(root, path.Dir(name), target)); err != nil {
				t.Errorf("%s links to %s, which is not there", name, target)
			}
		}
	}
}

func TestLicenceIsWhole(t *testing.T) {
	licence := page(t, "LICENSE")
	for _, part := range []string{
		"Apache License", "Version 2.0, January 2004", "END OF TERMS AND CONDITIONS", "9. Accepting Warranty or Additional Liability.",
	} {
		if !strings.Contains(licence, part) {
			t.Errorf("LICENSE lacks %q", part)
		}
	}
}

func TestModuleIsNamed(t *testing.T) {
	if mod := text(t, "go.mod"); !strings.HasPrefix(mod, "module "+module+"\n") || !strings.Contains(mod, "\ngo 1.26") {
		t.Errorf("go.mod must start with module %s and ask for go 1.26", module)
	}
}
