package exchange

import (
	"slices"
	"strings"

	"sabinbook/internal/catalog"
)

// rowText is a row as it is written, without what tells of its history, and what it refers to.
type rowText struct {
	cells []string
	refs  []named
}

// named is the record of a table with an id.
type named struct {
	table string
	id    catalog.ID
}

// history are the columns that tell how a row came to be, not what it says.
var history = []string{"revision", "create_time", "update_time", "updated_by", "created_by"}

func texts[R any](columns []column[R], rows []R) []rowText {
	list := make([]rowText, len(rows))
	for i := range rows {
		for _, c := range columns {
			cell := c.get(&rows[i])
			if !slices.Contains(history, c.name) {
				list[i].cells = append(list[i].cells, cell)
			}
			if c.refers != "" && cell != "" {
				list[i].refs = append(list[i].refs, named{c.refers, catalog.ID(cell)})
			}
		}
	}
	return list
}

// record is a record of whatever noun, as a plan sees it.
type record struct {
	table   string
	noun    catalog.Noun
	meta    catalog.Meta // of a price, its id alone
	free    bool         // another record may have the same name
	content string       // all that it says; equal records have equal ones
	refs    []named      // what it refers to, without the records that it is a part of itself
	put     func(*catalog.Snapshot)
}

// records lists the records of the noun by id.
func (n *noun[R]) records(s *catalog.Snapshot) []record {
	var list []record
	for _, x := range n.byID(s) {
		r := record{table: n.name, noun: n.kind, free: n.freeName, meta: catalog.Meta{ID: *n.id(&x)},
			put: func(to *catalog.Snapshot) { l := n.list(to); *l = append(*l, x) }}
		if n.meta != nil {
			r.meta = *n.meta(&x)
		}
		rows := texts(n.columns, []R{x})
		for _, l := range n.lists {
			rows = append(rows, rowText{cells: []string{"\x00"}}) // texts hold no NUL
			rows = append(rows, l(&x)...)
		}
		var b strings.Builder
		for _, row := range rows {
			b.WriteString(strings.Join(row.cells, "\x00") + "\x00\x00")
			for _, to := range row.refs {
				if to.id != r.meta.ID {
					r.refs = append(r.refs, to)
				}
			}
		}
		r.content = b.String()
		list = append(list, r)
	}
	return list
}

// recordsOf lists the records of a snapshot, those that are referred to first.
func recordsOf(s *catalog.Snapshot) []record {
	var list []record
	for _, t := range tables() {
		if n, ok := t.(interface {
			records(*catalog.Snapshot) []record
		}); ok {
			list = append(list, n.records(s)...)
		}
	}
	return list
}
