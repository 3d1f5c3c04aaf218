package exchange

import (
	"fmt"
	"strings"
)

// Fault is one thing that is wrong with a package: in which file, in which line of it
// (counted from 1, the header being line 1; 0 for the file as a whole) and column, what,
// and how to mend it.
type Fault struct {
	File, Column      string
	Row               int
	Code, Detail, Fix string
}

func (f Fault) String() string {
	where := f.File
	if f.Row > 0 {
		where += fmt.Sprintf(" line %d", f.Row)
	}
	if f.Column != "" {
		where += " " + f.Column
	}
	return where + " " + f.Detail
}

// FaultyError refuses a package and names its faults.
type FaultyError struct{ Faults []Fault }

func (e *FaultyError) Error() string {
	texts := make([]string, len(e.Faults))
	for i, f := range e.Faults {
		texts[i] = f.String()
	}
	return "exchange: " + strings.Join(texts, "; ")
}

// quote names a text that was given, shortened.
func quote(s string) string {
	if r := []rune(s); len(r) > 60 {
		s = string(r[:60]) + "..."
	}
	return fmt.Sprintf("%q", s)
}
