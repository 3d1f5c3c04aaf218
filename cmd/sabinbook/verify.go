package main

import (
	"errors"
	"fmt"
	"strings"

	"sabinbook/api"
)

// verifyCommand needs no database and no network.
type verifyCommand struct {
	File string `arg:"" help:"Document of a shortlist; - for standard input."`
}

// unreadableError says why there is no verdict.
type unreadableError struct{ err error }

func (e *unreadableError) Error() string { return e.err.Error() }

// Run prints the verdict in words. The exit code is 0 when the document is equal, 1 when it differs,
// 2 when it cannot be read.
func (c verifyCommand) Run(p *program) error {
	text, err := readDocument(c.File)
	if err != nil {
		return &unreadableError{err}
	}
	verdict, err := api.Verify(text)
	var unreadable *api.UnreadableError
	if errors.As(err, &unreadable) {
		return &unreadableError{fmt.Errorf("%s: this is no document of a shortlist:\n  %s", c.File, strings.Join(unreadable.Faults, "\n  "))}
	}
	if err != nil {
		return err
	}
	fmt.Fprintln(p.out, verdict.Text)
	if verdict.DigestEqual {
		fmt.Fprintln(p.out, "Digest:", verdict.DigestStated)
	} else {
		fmt.Fprintf(p.out, "Digest stated: %s\nDigest of the file: %s\n", verdict.DigestStated, verdict.DigestComputed)
	}
	for _, d := range verdict.Differences {
		fmt.Fprintf(p.out, "%s: the file says %s, the computation %s%s\n", d.Pointer, orNothing(d.Stated), orNothing(d.Computed), byHowMuch(d.Change))
	}
	if more := int(verdict.DifferencesCount) - len(verdict.Differences); more > 0 {
		fmt.Fprintf(p.out, "and %d more\n", more)
	}
	fmt.Fprintln(p.out, "What the file cannot prove:")
	for _, n := range verdict.NotProved {
		fmt.Fprintf(p.out, "- %s: %s\n", strings.ReplaceAll(n.Code, "_", " "), n.Text)
	}
	if verdict.Verdict != api.VerdictEqual {
		return errors.New(c.File + " differs")
	}
	return nil
}

func orNothing(text *string) string {
	if text == nil {
		return "nothing"
	}
	return *text
}

func byHowMuch(change *float64) string {
	if change == nil {
		return ""
	}
	return fmt.Sprintf(", %+g", *change)
}
