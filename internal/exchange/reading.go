package exchange

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
)

// reading is a package on its way in.
type reading struct {
	snapshot catalog.Snapshot
	today    catalog.Date
	form     int // second number of the version of the package
	faults   []Fault
	rows     map[string]map[catalog.ID]int  // table and id to the line of the record
	broken   map[string]bool                // tables that could not be read: nothing is missed in them
	doubtful map[string]map[catalog.ID]bool // records with faults in their cells or lists: the rules would only repeat them
	elements map[place]cellAt
	pending  []mention
}

// place is an element of a list of a record, by the table of the record and the pointer.
type place struct {
	table   string
	id      catalog.ID
	pointer string
}

// cellAt is a line of a table and how members are called there.
type cellAt struct {
	file   string
	row    int
	fields []field
}

// mention is a cell that refers to another table.
type mention struct {
	file, column, table string
	row                 int
	id                  catalog.ID
}

func (r *reading) fault(file string, row int, column, code, detail, fix string) {
	r.faults = append(r.faults, Fault{File: file, Row: row, Column: column, Code: code, Detail: detail, Fix: fix})
}

// lacks reports whether one of the tables could not be read.
func (r *reading) lacks(tables ...string) bool {
	return slices.ContainsFunc(tables, func(t string) bool { return r.broken[t] })
}

func (r *reading) doubt(table string, id catalog.ID) {
	if r.doubtful[table] == nil {
		r.doubtful[table] = map[catalog.ID]bool{}
	}
	r.doubtful[table][id] = true
}

// rowsOf reads the lines of a table into rows and hands each on with its line, and whether
// all its cells could be read.
func rowsOf[R any](r *reading, d description, columns []column[R], lines []line, each func(x R, row int, clean bool)) {
	file := d.file()
	if len(lines) == 0 {
		r.broken[d.name] = true
		r.fault(file, 1, "", "missing_header", "has no header", "begin with the names of the columns: "+strings.Join(names(d.fields), ","))
		return
	}
	header := lines[0].cells
	place := make([]int, len(columns))
	for i, c := range columns {
		place[i] = slices.Index(header, c.name)
		if place[i] < 0 && c.since <= r.form {
			r.broken[d.name] = true
			r.fault(file, 1, c.name, "missing_column", "the column is missing", "add it; its cells may be empty where nothing is known")
		}
	}
	for i, h := range header {
		if !slices.ContainsFunc(columns, func(c column[R]) bool { return c.name == h }) {
			r.broken[d.name] = true
			r.fault(file, 1, h, "unknown_column", "the table has no such column", "use the columns that datapackage.json lists")
		} else if slices.Index(header, h) != i {
			r.broken[d.name] = true
			r.fault(file, 1, h, "duplicate_column", "the column stands twice", "keep one")
		}
	}
	if r.broken[d.name] {
		return
	}
	for _, l := range lines[1:] {
		if len(l.cells) != len(header) {
			r.broken[d.name] = true // whoever refers to its id is right perhaps
			r.fault(file, l.number, "", "wrong_count", fmt.Sprintf("has %d cells, the header has %d", len(l.cells), len(header)), "put texts with commas in quotation marks")
			continue
		}
		var x R
		clean := true
		for i, c := range columns {
			cell := cellOf(l, place[i])
			if c.kind == textKind {
				cell = Unguarded(cell)
			}
			if cell == "" {
				continue
			}
			if detail, fix := c.set(&x, cell); detail != "" {
				clean = false
				r.fault(file, l.number, c.name, "bad_"+string(c.kind), detail, fix)
			}
			if c.refers != "" {
				r.pending = append(r.pending, mention{file, c.name, c.refers, l.number, catalog.ID(cell)})
			}
		}
		for i, c := range columns {
			if cellOf(l, place[i]) == "" && c.missing(&x) {
				clean = false
				r.fault(file, l.number, c.name, "required", "is missing", "fill the cell: "+c.about)
			}
		}
		each(x, l.number, clean)
	}
}

// cellOf is a cell of a line, empty where the table has no such column.
func cellOf(l line, place int) string {
	if place < 0 {
		return ""
	}
	return l.cells[place]
}

func names(fields []field) []string {
	list := make([]string, len(fields))
	for i, f := range fields {
		list[i] = f.name
	}
	return list
}

func (n *noun[R]) read(r *reading, lines []line) {
	seen := map[catalog.ID]int{}
	r.rows[n.name] = seen
	d := n.describe()
	rowsOf(r, d, n.columns, lines, func(x R, row int, clean bool) {
		id := *n.id(&x)
		if first, twice := seen[id]; twice && id != "" {
			r.fault(d.file(), row, "id", "duplicate", fmt.Sprintf("stands in line %d already", first), "keep one of the two")
			r.doubt(n.name, id)
			return
		}
		seen[id] = row
		if !clean {
			r.doubt(n.name, id)
		}
		list := n.list(&r.snapshot)
		*list = append(*list, x)
	})
}

// check applies the rules of the noun to its records, when these are there with all their lists.
func (n *noun[R]) check(r *reading) {
	n.unique(r)
	if r.lacks(n.listTables...) {
		return
	}
	for _, x := range *n.list(&r.snapshot) {
		id := *n.id(&x)
		var bad *catalog.InvalidError
		if r.doubtful[n.name][id] || !errors.As(n.validate(x, r.today), &bad) {
			continue
		}
		for _, f := range bad.Faults {
			at, column := n.locate(r, id, f.Pointer)
			r.fault(at.file, at.row, column, f.Code, f.Detail, f.Fix)
		}
	}
}

// locate finds the cell of the member of a record that a pointer names.
func (n *noun[R]) locate(r *reading, id catalog.ID, pointer string) (cellAt, string) {
	// The longest part of the pointer that is an element of a list, like /sold_sizes/0.
	for cut := len(pointer); cut > 0; cut = strings.LastIndexByte(pointer[:cut], '/') {
		if at, ok := r.elements[place{n.name, id, pointer[:cut]}]; ok {
			return at, columnAt(at.fields, pointer[cut:])
		}
	}
	d := n.describe()
	return cellAt{d.file(), r.rows[n.name][id], d.fields}, columnAt(d.fields, pointer)
}

// columnAt is the column of a member, or of the first member below it.
func columnAt(fields []field, pointer string) string {
	for _, f := range fields {
		if f.pointer == pointer {
			return f.name
		}
	}
	for _, f := range fields {
		if strings.HasPrefix(f.pointer, pointer+"/") {
			return f.name
		}
	}
	return ""
}

func (c *children[P, E]) check(*reading) {}

func (c *children[P, E]) read(r *reading, lines []line) {
	type found struct {
		element[E]
		row int
	}
	of := map[catalog.ID][]found{}
	d := c.describe()
	rowsOf(r, d, c.columns, lines, func(x element[E], row int, clean bool) {
		if !clean {
			r.doubt(c.parent.name, x.parent)
		}
		of[x.parent] = append(of[x.parent], found{x, row})
	})
	parents := *c.parent.list(&r.snapshot)
	for i := range parents {
		p := &parents[i]
		id := *c.parent.id(p)
		list := of[id]
		slices.SortStableFunc(list, func(a, b found) int { return cmp.Compare(a.position, b.position) })
		for k, e := range list {
			if e.position != k+1 {
				r.fault(d.file(), e.row, "position", "bad_position", fmt.Sprintf("is %d, the next place in the list is %d", e.position, k+1), "count the rows of each record from 1, without gaps")
				r.doubt(c.parent.name, id)
				break
			}
			if c.attach != nil {
				c.attach(p, &e.value)
			}
			*c.list(p) = append(*c.list(p), e.value)
			r.elements[place{c.parent.name, id, c.pointer + "/" + strconv.Itoa(k)}] = cellAt{d.file(), e.row, d.fields}
		}
	}
}

func (b *bandTable[P]) check(*reading) {}

func (b *bandTable[P]) read(r *reading, lines []line) {
	type found struct {
		bandRow
		row int
	}
	of := map[catalog.ID][]found{}
	d := b.describe()
	rowsOf(r, d, b.columns(), lines, func(x bandRow, row int, clean bool) {
		if !clean {
			r.doubt(b.parent.name, x.parent)
			return
		}
		of[x.parent] = append(of[x.parent], found{x, row})
	})
	parents := *b.parent.list(&r.snapshot)
	for i := range parents {
		id := *b.parent.id(&parents[i])
		curve := b.curve(&parents[i])
		for _, x := range of[id] {
			band, known := bands.Parse(x.hz)
			_, twice := curve.At(band)
			switch {
			case !known || !slices.Contains(curve.Basis.Bands(), band):
				r.fault(d.file(), x.row, "band_hz", "unknown_band", fmt.Sprintf("%d Hz is no band of the basis %s", x.hz, quote(string(curve.Basis))), "use the third-octave bands 100 to 5000, or the octave bands 125 to 4000")
				r.doubt(b.parent.name, id)
			case twice:
				r.fault(d.file(), x.row, "band_hz", "duplicate", "the band has a coefficient already", "keep one of the two")
				r.doubt(b.parent.name, id)
			default:
				curve.Set(band, x.alpha)
				r.elements[place{b.parent.name, id, b.pointer + "/" + bandKey(x.hz)}] = cellAt{d.file(), x.row, d.fields}
			}
		}
	}
}

// follow names the cells that refer to what is not in the package.
func (r *reading) follow() {
	for _, m := range r.pending {
		if _, there := r.rows[m.table][m.id]; !there && !r.broken[m.table] {
			r.fault(m.file, m.row, m.column, "unknown_reference", fmt.Sprintf("there is no %s in %s.csv", quote(string(m.id)), m.table), "give the id of a row of that table, or add the row")
		}
	}
}
