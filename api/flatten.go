package api

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"github.com/getkin/kin-openapi/openapi3"
)

// column is a column of a list as a table: the way to a member of a record, and how its cell is written.
type column struct {
	name string
	path []string
	kind cellKind
}

type cellKind int

const (
	textKind   cellKind = iota // texts, words, true and false
	numberKind                 // numbers, and amounts of money
	wordsKind                  // a list of texts, with spaces between them; [] for none, since an empty cell is not known
	jsonKind                   // anything else, as JSON
)

// columnsOf makes columns of the schema of a record. A member with members of its own becomes a column
// for each, called member_submember; the value of a figure and the amount of money are called as the
// member itself. Lists of texts are one cell, other lists a cell of JSON.
func columnsOf(schema *openapi3.Schema) []column {
	var list []column
	add := func(name string, p *openapi3.SchemaRef) {
		for _, c := range columnsOfMember(name, p.Value) {
			c.path = append([]string{name}, c.path...)
			list = append(list, c)
		}
	}
	for _, name := range memberNames(schema) {
		add(name, schema.Properties[name])
	}
	return list
}

func columnsOfMember(name string, s *openapi3.Schema) []column {
	switch {
	case s.Type.Is("number"), s.Type.Is("integer"):
		return []column{{name: name, kind: numberKind}}
	case s.Type.Is("array") && s.Items.Value.Type.Is("string"):
		return []column{{name: name, kind: wordsKind}}
	case s.Type.Is("object") && s.Properties["amount"] != nil:
		return []column{{name: name, path: []string{"amount"}, kind: numberKind}, {name: name + "_currency", path: []string{"currency"}}}
	case s.Type.Is("object") && len(s.Properties) > 0:
		list := columnsOf(s)
		for i := range list {
			if list[i].name == "value" {
				list[i].name = name
			} else {
				list[i].name = name + "_" + list[i].name
			}
		}
		return list
	case s.Type.Is("array"), s.Type.Is("object"):
		return []column{{name: name, kind: jsonKind}}
	}
	return []column{{name: name}}
}

// memberNames orders the members of a record: what names it first, what the store sets last, the rest by name,
// the value of a figure before its bounds.
func memberNames(s *openapi3.Schema) []string {
	first := []string{"id", "slug", "name", "value", "low", "high"}
	last := []string{"revision", "create_time", "update_time", "updated_by", "created_by"}
	var names []string
	for name := range s.Properties {
		names = append(names, name)
	}
	weight := func(name string) int {
		if i := slices.Index(first, name); i >= 0 {
			return i - len(first)
		}
		return 1 + slices.Index(last, name)
	}
	slices.SortFunc(names, func(a, b string) int {
		if d := weight(a) - weight(b); d != 0 {
			return d
		}
		return strings.Compare(a, b)
	})
	return names
}

// cell is the cell of a record in the column; empty where the record does not have the member.
func (c column) cell(record any) cell {
	for _, name := range c.path {
		members, _ := record.(map[string]any)
		record = members[name]
	}
	switch v := record.(type) {
	case nil:
		return cell{}
	case json.Number:
		return cell{v.String(), true}
	case string:
		return cell{v, c.kind == numberKind}
	case bool:
		return textCell(fmt.Sprint(v))
	case []any:
		if c.kind == wordsKind && len(v) > 0 && !slices.ContainsFunc(v, func(x any) bool { return strings.Contains(fmt.Sprint(x), " ") }) {
			texts := make([]string, len(v))
			for i, x := range v {
				texts[i] = fmt.Sprint(x)
			}
			return textCell(strings.Join(texts, " "))
		}
	}
	text, err := json.Marshal(record)
	if err != nil { // it was read from JSON
		panic(err)
	}
	return textCell(string(text))
}

// chosenColumns are the columns that the parameter fields names, in its order, or all.
func (op *operation) chosenColumns(fields []string) ([]column, []fault) {
	if len(fields) == 0 {
		return op.columns, nil
	}
	var list []column
	var faults []fault
	names := make([]string, len(op.columns))
	for i, c := range op.columns {
		names[i] = c.name
	}
	for i, name := range fields {
		at := slices.Index(names, name)
		switch {
		case at < 0:
			faults = append(faults, fault{parameter: "fields", code: "unknown_word", detail: "there is no column " + quoted(name), fix: didYouMean(name, names)})
		case slices.Contains(fields[:i], name):
			faults = append(faults, fault{parameter: "fields", code: "duplicate", detail: quoted(name) + " is named twice", fix: "name it once"})
		default:
			list = append(list, op.columns[at])
		}
	}
	return list, faults
}

// rewrite turns the page of a list that was answered in JSON into the form that was asked for.
func (c *call) rewrite() error {
	var page struct {
		Items []json.RawMessage `json:"items"`
	}
	if err := json.Unmarshal(c.answer.body.Bytes(), &page); err != nil {
		return fmt.Errorf("api: the page of a list: %w", err)
	}
	c.answer.body.Reset()
	if c.form.format == formatLines {
		c.answer.header.Set("Content-Type", "application/x-ndjson")
		for _, item := range page.Items {
			if err := json.Compact(&c.answer.body, item); err != nil {
				return err
			}
			c.answer.body.WriteByte('\n')
		}
		return nil
	}
	columns, _ := c.op.chosenColumns(c.form.fields)
	t := table{header: make([]string, len(columns)), rows: make([][]cell, len(page.Items))}
	for i, col := range columns {
		t.header[i] = col.name
	}
	for i, item := range page.Items {
		decoder := json.NewDecoder(bytes.NewReader(item))
		decoder.UseNumber()
		var record any
		if err := decoder.Decode(&record); err != nil {
			return err
		}
		t.rows[i] = make([]cell, len(columns))
		for k, col := range columns {
			t.rows[i][k] = col.cell(record)
		}
	}
	c.answer.header.Set("Content-Type", csvMedia)
	c.answer.body.Write(t.write(c.form.sheet))
	return nil
}
