package exchange

import (
	"bytes"
	"cmp"
	"slices"
	"strconv"

	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
)

// table is one file of a package.
type table interface {
	describe() description
	write(s *catalog.Snapshot) []byte
	read(r *reading, lines []line)
	check(r *reading)
}

// description is what datapackage.json tells of a table.
type description struct {
	name, about string
	fields      []field
	key         []string // columns of the primary key
	since       int      // second number of the version of the form from which on a package has it
}

func (d description) file() string { return d.name + ".csv" }

// tables lists the files in the order of references: what a table refers to comes before it.
func tables() []table {
	source, fill, test, fabric, partOf := sourceTable(), fillTable(), testTable(), fabricTable(), partTable()
	panel, supplier, offer, price := readyMadeTable(), supplierTable(), offerTable(), priceTable()
	design, room, rate := designTable(), roomTable(), rateTable()
	return []table{
		&source,
		&fill, soldSizes(&fill), fires(&fill, "fill_fire_declarations", "fill_id", func(x *catalog.Fill) *[]catalog.FireDeclaration { return &x.Fire }),
		&test, bandsOf(&test, "absorption_test_bands", "absorption_test_id", "/bands", func(x *catalog.AbsorptionTest) *bands.Curve { return &x.Alpha }),
		&fabric, fires(&fabric, "fabric_fire_declarations", "fabric_id", func(x *catalog.Fabric) *[]catalog.FireDeclaration { return &x.Fire }),
		&partOf, stockLengths(&partOf),
		&panel, bandsOf(&panel, "ready_made_panel_bands", "ready_made_panel_id", "/absorption/bands", func(x *catalog.ReadyMadePanel) *bands.Curve { return &x.Alpha }),
		fires(&panel, "ready_made_panel_fire_declarations", "ready_made_panel_id", func(x *catalog.ReadyMadePanel) *[]catalog.FireDeclaration { return &x.Fire }),
		&design, designParts(&design),
		&room, roomSurfaces(&room), roomThings(&room),
		&supplier, &offer, &price, priceBreaks(&price),
		&rate,
	}
}

// noun is the table of the records of one noun.
type noun[R any] struct {
	name, about string
	kind        catalog.Noun
	id          func(*R) *catalog.ID
	meta        func(*R) *catalog.Meta // nil for prices, which have neither slug nor name
	freeName    bool                   // two records may have the same name
	list        func(*catalog.Snapshot) *[]R
	columns     []column[R]
	validate    func(x R, today catalog.Date) error
	lists       []func(*R) []rowText // the rows of its lists
	listTables  []string             // the names of their tables
	since       int                  // see description
}

func (n *noun[R]) describe() description {
	return description{n.name, n.about, fieldsOf(n.columns), []string{"id"}, n.since}
}

func fieldsOf[R any](columns []column[R]) []field {
	list := make([]field, len(columns))
	for i, c := range columns {
		list[i] = c.field
	}
	return list
}

// byID lists the records in the order of their ids.
func (n *noun[R]) byID(s *catalog.Snapshot) []R {
	sorted := slices.Clone(*n.list(s))
	slices.SortFunc(sorted, func(a, b R) int { return cmp.Compare(*n.id(&a), *n.id(&b)) })
	return sorted
}

func (n *noun[R]) write(s *catalog.Snapshot) []byte { return written(n.columns, n.byID(s)) }

// written is a table of rows.
func written[R any](columns []column[R], rows []R) []byte {
	var out bytes.Buffer
	cells := make([]string, len(columns))
	for i, c := range columns {
		cells[i] = c.name
	}
	AppendLine(&out, ',', cells)
	for i := range rows {
		for j, c := range columns {
			cells[j] = c.get(&rows[i])
			if c.kind == textKind {
				cells[j] = Guarded(cells[j])
			}
		}
		AppendLine(&out, ',', cells)
	}
	return out.Bytes()
}

// element is a row of a list of a record.
type element[E any] struct {
	parent   catalog.ID
	position int // from 1
	value    E
}

// children is the table of one list of a noun.
type children[P, E any] struct {
	parent      *noun[P]
	name, about string
	columns     []column[element[E]]
	pointer     string // of the list in a record
	list        func(*P) *[]E
	attach      func(*P, *E) // gives an element what it has from its record; may be nil
}

func listOf[P, E any](parent *noun[P], name, about, parentID, pointer string, list func(*P) *[]E, own []column[E]) *children[P, E] {
	type row = element[E]
	all := []column[row]{
		reference(parentID, "The record of "+parent.name+" that it belongs to.", parent.name, func(r *row) *catalog.ID { return &r.parent }).need(),
		whole("position", "Place in the list, from 1.", func(r *row) *int { return &r.position }),
	}
	for _, c := range own {
		all = append(all, column[row]{c.field,
			func(r *row) string { return c.get(&r.value) },
			func(r *row, s string) (string, string) { return c.set(&r.value, s) },
			func(r *row) bool { return c.missing(&r.value) }})
	}
	c := &children[P, E]{parent: parent, name: name, about: about, columns: all, pointer: pointer, list: list}
	parent.listTables = append(parent.listTables, name)
	parent.lists = append(parent.lists, func(p *P) []rowText { return texts(all, c.rows(p)) })
	return c
}

// rows are the rows of one record.
func (c *children[P, E]) rows(p *P) []element[E] {
	var rows []element[E]
	for i, e := range *c.list(p) {
		rows = append(rows, element[E]{*c.parent.id(p), i + 1, e})
	}
	return rows
}

func (c *children[P, E]) describe() description {
	return description{c.name, c.about, fieldsOf(c.columns), []string{c.columns[0].name, "position"}, 0}
}

func (c *children[P, E]) write(s *catalog.Snapshot) []byte {
	var rows []element[E]
	for _, p := range c.parent.byID(s) {
		rows = append(rows, c.rows(&p)...)
	}
	return written(c.columns, rows)
}

// bandRow is one coefficient of a curve.
type bandRow struct {
	parent catalog.ID
	hz     int
	alpha  float64
}

// bandTable is the table of the coefficients of a noun.
type bandTable[P any] struct {
	parent         *noun[P]
	name, parentID string
	pointer        string // of the bands in a record
	curve          func(*P) *bands.Curve
}

func bandsOf[P any](parent *noun[P], name, parentID, pointer string, curve func(*P) *bands.Curve) table {
	b := &bandTable[P]{parent, name, parentID, pointer, curve}
	parent.listTables = append(parent.listTables, name)
	parent.lists = append(parent.lists, func(p *P) []rowText { return texts(b.columns(), b.rows(p)) })
	return b
}

func (b *bandTable[P]) columns() []column[bandRow] {
	return []column[bandRow]{
		reference(b.parentID, "The record of "+b.parent.name+" that it belongs to.", b.parent.name, func(r *bandRow) *catalog.ID { return &r.parent }).need(),
		whole("band_hz", "Nominal frequency of the band in Hz (ISO 266).", func(r *bandRow) *int { return &r.hz }),
		number("alpha", "Absorption coefficient as printed, no unit; above 1 it is possible in a reverberation room.", func(r *bandRow) *float64 { return &r.alpha }).under(""),
	}
}

func (b *bandTable[P]) describe() description {
	return description{b.name, "Absorption coefficients of " + b.parent.name + "; a band without a row is not known.", fieldsOf(b.columns()), []string{b.parentID, "band_hz"}, 0}
}

func (b *bandTable[P]) write(s *catalog.Snapshot) []byte {
	var rows []bandRow
	for _, p := range b.parent.byID(s) {
		rows = append(rows, b.rows(&p)...)
	}
	return written(b.columns(), rows)
}

// rows are the rows of one record.
func (b *bandTable[P]) rows(p *P) []bandRow {
	var rows []bandRow
	curve := b.curve(p)
	for _, band := range curve.Basis.Bands() {
		if alpha, known := curve.At(band); known {
			rows = append(rows, bandRow{*b.parent.id(p), band.Nominal(), alpha})
		}
	}
	return rows
}

// bandKey is the last part of a pointer to the coefficient of a band.
func bandKey(hz int) string { return "alpha_" + strconv.Itoa(hz) + "_hz" }
