package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	paper "sabinbook/api/page" // page is the printed answer of the demo
)

// sheetCommand prints a document of a shortlist for people. It asks no service and no database.
type sheetCommand struct {
	File string `arg:"" help:"The document, as a service writes it; - for standard input."`
	Key  string `xor:"which" placeholder:"KEY" help:"Option whose shopping list and cut plan are told (default: the first place)."`
	All  bool   `xor:"which" help:"Tell them for every option."`
	Form string `enum:"html,markdown" default:"html" help:"html, which a browser prints on A4, or markdown (default: ${default})."`
}

// longestFile is more than the longest document.
const longestFile = 16 << 20

// Run writes the sheet to standard output.
func (s sheetCommand) Run(p *program) error {
	document, err := readDocument(s.File)
	if err != nil {
		return err
	}
	write := paper.Sheet
	if s.Form == "markdown" {
		write = paper.Markdown
	}
	out, err := write(document, paper.Choice{Key: s.Key, All: s.All})
	var unknown *paper.KeyError
	if errors.As(err, &unknown) {
		return fmt.Errorf("no option of %s has the key %s; there are:\n  %s", s.File, s.Key, strings.Join(unknown.Keys, "\n  "))
	}
	if err != nil {
		return fmt.Errorf("%s: %w", s.File, err)
	}
	_, err = p.out.Write(out)
	return err
}

// readDocument reads a file, or standard input for -.
func readDocument(name string) ([]byte, error) {
	from := io.Reader(os.Stdin)
	if name != "-" {
		file, err := os.Open(name)
		if err != nil {
			return nil, err
		}
		defer file.Close()
		from = file
	}
	return io.ReadAll(io.LimitReader(from, longestFile))
}
