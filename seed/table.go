package seed

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"slices"
	"strconv"

	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
	"sabinbook/internal/money"
)

// loader reads the files. It collects faults, so that an editor sees all at once, and knows
// which records have been read.
type loader struct {
	files  fs.FS
	faults []error
	known  map[catalog.ID]bool
}

func (l *loader) err() error { return errors.Join(l.faults...) }

// fault records what is wrong in a file, and in which line unless that is 0.
func (l *loader) fault(file string, line int, format string, args ...any) {
	where := file
	if line > 0 {
		where = fmt.Sprintf("%s line %d", file, line)
	}
	l.faults = append(l.faults, fmt.Errorf("seed: %s: %s", where, fmt.Sprintf(format, args...)))
}

// row is one row of a file, its cells named by the header.
type row struct {
	in    *loader
	file  string
	line  int
	cells map[string]string
}

// load reads a file of exactly the given columns, in any order, and makes a record of each row.
func load[T any](l *loader, file string, columns []string, record func(row) T) []T {
	var list []T
	for _, w := range l.rows(file, columns) {
		list = append(list, record(w))
	}
	return list
}

// rows reads the rows of a file, none when its header is not as it must be.
func (l *loader) rows(file string, columns []string) []row {
	f, err := l.files.Open(file)
	if err != nil {
		l.fault(file, 0, "%v", err)
		return nil
	}
	defer f.Close()
	r := csv.NewReader(f)
	header, err := r.Read()
	if err != nil {
		l.fault(file, 1, "%v", err)
		return nil
	}
	before := len(l.faults)
	for _, c := range columns {
		if !slices.Contains(header, c) {
			l.fault(file, 1, "the column %s is missing", c)
		}
	}
	for i, c := range header {
		if !slices.Contains(columns, c) || slices.Index(header, c) != i {
			l.fault(file, 1, "the column %s is not known here or stands twice", c)
		}
	}
	if len(l.faults) > before {
		return nil
	}
	var list []row
	for {
		record, err := r.Read()
		if err == io.EOF {
			return list
		}
		if err != nil {
			l.fault(file, 0, "%v", err) // it names the line
			return list
		}
		line, _ := r.FieldPos(0)
		w := row{l, file, line, map[string]string{}}
		for i, c := range header {
			w.cells[c] = record[i]
		}
		list = append(list, w)
	}
}

func (w row) fault(column, format string, args ...any) {
	w.in.fault(w.file, w.line, "%s: %s", column, fmt.Sprintf(format, args...))
}

// text returns a cell. To ask for a column that is not in the file's list is a mistake of
// the program and panics.
func (w row) text(column string) string {
	cell, ok := w.cells[column]
	if !ok {
		panic("seed: " + w.file + " has no column " + column)
	}
	return cell
}

// number reads a number; an empty cell is 0, not stated.
func (w row) number(column string) float64 {
	cell := w.text(column)
	if cell == "" {
		return 0
	}
	x, err := strconv.ParseFloat(cell, 64)
	if err != nil {
		w.fault(column, "not a number: %q", cell)
	}
	return x
}

// whole reads a whole number; an empty cell is 0.
func (w row) whole(column string) int {
	cell := w.text(column)
	if cell == "" {
		return 0
	}
	n, err := strconv.Atoi(cell)
	if err != nil {
		w.fault(column, "not a whole number: %q", cell)
	}
	return n
}

// optional reads a whole number that may be missing, which is not the same as 0.
func (w row) optional(column string) *int {
	if w.text(column) == "" {
		return nil
	}
	n := w.whole(column)
	return &n
}

func (w row) yes(column string) bool {
	cell := w.text(column)
	if cell != "yes" && cell != "no" {
		w.fault(column, "neither yes nor no: %q", cell)
	}
	return cell == "yes"
}

// amount reads an amount of money; an empty cell is nil.
func (w row) amount(column string, c money.Currency) *money.Amount {
	cell := w.text(column)
	if cell == "" {
		return nil
	}
	a, err := money.Parse(cell, c)
	if err != nil {
		w.fault(column, "%v: %q", err, cell)
	}
	return &a
}

// reference returns the id of the record of a noun whose slug the column holds. An
// empty cell gives none.
func (w row) reference(column string, n catalog.Noun) catalog.ID {
	slug := w.text(column)
	if slug == "" {
		return ""
	}
	ref := id(n, slug)
	if !w.in.known[ref] {
		w.fault(column, "no %s is called %q", n.Name, slug)
	}
	return ref
}

func (w row) source(column string) catalog.ID { return w.reference(column, catalog.NounSource) }

// meta makes the head of a record and lets later rows refer to it.
func (w row) meta(n catalog.Noun) catalog.Meta {
	slug := w.text("slug")
	m := catalog.Meta{
		ID: id(n, slug), Slug: catalog.Slug(slug), Name: w.text("name"),
		Revision: 1, Created: moment, Updated: moment, UpdatedBy: author,
	}
	w.register(m.ID, slug)
	return m
}

func (w row) register(id catalog.ID, key string) {
	if w.in.known[id] {
		w.fault("slug", "%q stands twice", key)
	}
	w.in.known[id] = true
}

// figureColumns lists the columns of a figure in a unit.
func figureColumns(name, unit string) []string {
	return []string{name + "_" + unit, name + "_low_" + unit, name + "_high_" + unit, name + "_evidence", name + "_source", name + "_basis"}
}

// figure reads the columns of a figure; nil when it has no value.
func figure[U ~float64](w row, name, unit string) *catalog.Figure[U] {
	c := figureColumns(name, unit)
	if w.text(c[0]) == "" {
		for _, column := range c[1:] {
			if w.text(column) != "" {
				w.fault(column, "is given without %s", c[0])
			}
		}
		return nil
	}
	return &catalog.Figure[U]{
		Value: U(w.number(c[0])), Low: U(w.number(c[1])), High: U(w.number(c[2])),
		Evidence: catalog.Evidence(w.text(c[3])), SourceID: w.source(c[4]), Basis: w.text(c[5]),
	}
}

// octaveColumns lists the columns of a curve in octaves.
func octaveColumns() []string {
	var list []string
	for _, b := range bands.Octaves() {
		list = append(list, fmt.Sprintf("alpha_%d_hz", b.Nominal()))
	}
	return list
}

// octaves reads a curve in octaves; an empty cell leaves its band unknown.
func (w row) octaves() bands.Curve {
	curve := bands.NewCurve(bands.Octave)
	for i, column := range octaveColumns() {
		if w.text(column) != "" {
			curve.Set(bands.OctaveBand(i), w.number(column))
		}
	}
	return curve
}
