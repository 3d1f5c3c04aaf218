package main

import (
	"fmt"
	"runtime/debug"
)

// release is the number of this version.
const release = "0.1.0"

// version names the program in /healthz: the release and, where the build knows it, the revision of the
// sources, as 0.1.0+1a2b3c4d5e6f. A "-changed" behind it says that the sources were changed since.
func version() string {
	if r := sourceRevision(); r != "" {
		return release + "+" + r
	}
	return release
}

// sourceRevision is the revision of the sources as go build wrote it into the program; empty where there
// was none to write.
func sourceRevision() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return ""
	}
	var revision, changed string
	for _, s := range info.Settings {
		switch {
		case s.Key == "vcs.revision":
			revision = s.Value[:min(12, len(s.Value))]
		case s.Key == "vcs.modified" && s.Value == "true":
			changed = "-changed"
		}
	}
	if revision == "" {
		return ""
	}
	return revision + changed
}

type versionCommand struct{}

// Run prints the version.
func (versionCommand) Run(p *program) error {
	_, err := fmt.Fprintln(p.out, version())
	return err
}
