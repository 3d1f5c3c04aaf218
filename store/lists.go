package store

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"sabinbook/internal/catalog"
)

// kind tells how a value of a field is written as text and how it is bound.
type kind int

const (
	text kind = iota
	date
	number
	integer
	truth
	instant
)

// place is where a value of the kind is scanned into.
func (k kind) place() any {
	switch k {
	case number:
		return new(float64)
	case integer:
		return new(int64)
	case instant:
		return new(Time)
	}
	return new(string)
}

// write writes a scanned value as text.
func (k kind) write(place any) string {
	switch v := place.(type) {
	case *float64:
		return strconv.FormatFloat(*v, 'g', -1, 64)
	case *int64:
		return strconv.FormatInt(*v, 10)
	case *Time:
		return time.Time(*v).Format(timeForm)
	}
	return *place.(*string)
}

// read reads what write or a caller wrote.
func (k kind) read(s string) (any, error) {
	switch k {
	case number:
		x, err := strconv.ParseFloat(s, 64)
		if err == nil && (math.IsNaN(x) || math.IsInf(x, 0)) {
			err = errors.New("not a number")
		}
		return x, err
	case integer:
		return strconv.ParseInt(s, 10, 64)
	case truth:
		return strconv.ParseBool(s)
	case date:
		d, err := catalog.ParseDate(s)
		return string(d), err
	case instant:
		t, err := time.Parse(timeForm, s)
		return Time(t), err
	}
	return s, nil
}

func (k kind) String() string {
	return [...]string{"a text", "a date like 2026-11-02", "a number", "a whole number", "true or false", "a time"}[k]
}

// field is a field by which records can be filtered or ordered.
type field struct {
	kind  kind
	value string         // SQL of its value
	rows  string         // child rows that hold it, with their condition, when value is a column of them
	order string         // SQL of the one value that stands for the record; empty: no order
	down  string         // the same in a descending order, where it differs
	names []catalog.Noun // of the records that its values name; they may be slugs
	fixed bool           // no filter, only an order
}

// own is a field that is a column.
func own(k kind, column string) field {
	f := field{kind: k, value: column, order: column}
	if k == truth {
		f.order = ""
	}
	return f
}

// naming is a column that names a record of one of the nouns.
func naming(column string, names ...catalog.Noun) field {
	return field{kind: text, value: column, names: names}
}

// figureField is a figure. Unknown ones come last in either order, see unknownLast.
func figureField(name string) field {
	rows := `figure WHERE record_id = record.id AND field = '` + name + `'`
	f := unknownLast("(SELECT value FROM " + rows + ")")
	f.value, f.rows = "value", rows
	return f
}

// unknownLast is a number that may be unknown and is never negative. In an order the unknown
// ones stand behind all known ones, whichever way it goes.
func unknownLast(value string) field {
	return field{kind: number, value: value, order: "COALESCE(" + value + ", 1e300)", down: "COALESCE(" + value + ", -1.0)"}
}

// inRows is a column of child rows. Filters on the same rows must hold for one of them.
func inRows(k kind, column, table string) field {
	return field{kind: k, value: column, rows: table + ` WHERE record_id = record.id`}
}

// withCommon adds the fields that all records have.
func withCommon(fields map[string]field) map[string]field {
	maps.Copy(fields, map[string]field{
		"slug":        {kind: text, order: "record.slug", fixed: true},
		"name":        {kind: text, order: "record.name_key", fixed: true},
		"revision":    {kind: integer, order: "record.revision", fixed: true},
		"create_time": {kind: instant, order: "record.create_time", fixed: true},
		"update_time": {kind: instant, order: "record.update_time", fixed: true},
	})
	return fields
}

// selection is the set of rows of which a query takes pages.
type selection struct {
	from, where string // with the arguments args
	args        []any
	id          string // SQL of the id
	name        string // SQL of the key of the name; empty: there are no names
	fields      map[string]field
}

// statement is SQL under construction.
type statement struct{ args []any }

// arg adds an argument and returns its placeholder.
func (s *statement) arg(v any) string {
	s.args = append(s.args, v)
	return fmt.Sprintf("$%d", len(s.args))
}

const (
	defaultPage = 50
	largestPage = 1000
)

// page returns the ids of one page, in order.
func (sel selection) page(ctx context.Context, tx *sql.Tx, q catalog.Query) (ids []catalog.ID, next []string, total int, err error) {
	st := &statement{args: slices.Clone(sel.args)}
	conditions, err := sel.filters(ctx, tx, st, q)
	if err != nil {
		return nil, nil, 0, err
	}
	order, err := sel.order(q.Sort)
	if err != nil {
		return nil, nil, 0, err
	}
	if q.Count {
		err := tx.QueryRowContext(ctx, `SELECT count(*) FROM `+sel.from+` WHERE `+strings.Join(conditions, " AND "), st.args...).Scan(&total)
		if err != nil {
			return nil, nil, 0, err
		}
	}
	if len(q.After) > 0 {
		after, err := beyond(st, order, q.After)
		if err != nil {
			return nil, nil, 0, err
		}
		conditions = append(conditions, after)
	}
	limit := q.Limit
	if limit <= 0 {
		limit = defaultPage
	}
	limit = min(limit, largestPage)
	var columns, keys []string
	for _, k := range order {
		columns = append(columns, k.order)
		if k.down {
			keys = append(keys, k.order+" DESC")
		} else {
			keys = append(keys, k.order)
		}
	}
	var last []string
	err = eachRow(ctx, tx, `SELECT `+strings.Join(columns, ", ")+` FROM `+sel.from+` WHERE `+strings.Join(conditions, " AND ")+
		` ORDER BY `+strings.Join(keys, ", ")+` LIMIT `+st.arg(limit+1), st.args, func(scan func(...any) error) error {
		if len(ids) == limit { // there is one more
			next = last
			return nil
		}
		places := make([]any, len(order))
		for i, k := range order {
			places[i] = k.kind.place()
		}
		if err := scan(places...); err != nil {
			return err
		}
		last = make([]string, len(order))
		for i, k := range order {
			last[i] = k.kind.write(places[i])
		}
		ids = append(ids, catalog.ID(last[len(last)-1]))
		return nil
	})
	return ids, next, total, err
}

// filters returns the conditions of the rows asked for.
func (sel selection) filters(ctx context.Context, tx *sql.Tx, st *statement, q catalog.Query) ([]string, error) {
	conditions := []string{sel.where}
	var v catalog.Faults
	if q.Name != "" {
		if sel.name == "" {
			v.Add("/q", "unknown_field", "these records have no names", "leave it out")
		} else {
			pattern := "%" + strings.NewReplacer(`\`, `\\`, `%`, `\%`, `_`, `\_`).Replace(catalog.NameKey(q.Name)) + "%"
			conditions = append(conditions, sel.name+` LIKE `+st.arg(pattern)+` ESCAPE '\'`)
		}
	}
	var sets []string // of child rows, in the order of the filters
	inSet := map[string][]string{}
	add := func(f field, condition string) {
		switch {
		case f.rows == "":
			conditions = append(conditions, condition)
		case inSet[f.rows] == nil:
			sets = append(sets, f.rows)
			fallthrough
		default:
			inSet[f.rows] = append(inSet[f.rows], condition)
		}
	}
	bind := func(f field, name, value string) string {
		x, err := f.kind.read(value)
		if err != nil {
			v.Add("/"+name, "bad_value", fmt.Sprintf("must be %s, got %q", f.kind, value), "correct the value")
			return ""
		}
		return st.arg(x)
	}
	for _, a := range q.Any {
		f, ok := sel.filter(&v, a.Field)
		if !ok || len(a.Values) == 0 {
			continue
		}
		values, err := f.named(ctx, tx, a.Values)
		if err != nil {
			return nil, err
		}
		list := make([]string, len(values))
		for i, value := range values {
			list[i] = bind(f, a.Field, value)
		}
		add(f, f.value+` IN (`+strings.Join(list, ", ")+`)`)
	}
	for _, r := range q.Ranges {
		f, ok := sel.filter(&v, r.Field)
		switch {
		case !ok:
		case f.kind != number && f.kind != integer && f.kind != date && f.kind != instant:
			v.Add("/"+r.Field, "no_range", "has no least and greatest value", "give the values wanted")
		default:
			if r.Min != "" {
				add(f, f.value+` >= `+bind(f, r.Field+"_min", r.Min))
			}
			if r.Max != "" {
				add(f, f.value+` <= `+bind(f, r.Field+"_max", r.Max))
			}
		}
	}
	for _, rows := range sets {
		conditions = append(conditions, `EXISTS (SELECT 1 FROM `+rows+` AND `+strings.Join(inSet[rows], " AND ")+`)`)
	}
	return conditions, v.Err()
}

// filter returns the field of that name, or records the fault that it is no filter.
func (sel selection) filter(v *catalog.Faults, name string) (field, bool) {
	f, ok := sel.fields[name]
	if !ok || f.fixed {
		var names []string
		for name, f := range sel.fields {
			if !f.fixed {
				names = append(names, name)
			}
		}
		slices.Sort(names)
		v.Add("/"+name, "unknown_field", "is no filter of this list", "filter by "+strings.Join(names, ", "))
		return f, false
	}
	return f, true
}

// named adds to values the ids of the records that they name as slugs.
func (f field) named(ctx context.Context, tx *sql.Tx, values []string) ([]string, error) {
	all := values
	for _, n := range f.names {
		for _, value := range values {
			m, err := find(ctx, tx, n, value)
			if err != nil && !errors.Is(err, catalog.ErrNotFound) {
				return nil, err
			}
			if err == nil && string(m.ID) != value {
				all = append(slices.Clip(all), string(m.ID))
			}
		}
	}
	return all, nil
}

// sortKey is a field with its direction.
type sortKey struct {
	field
	down bool
}

// order is the total order that sort asks for: it ends in the id.
func (sel selection) order(sort []catalog.SortKey) ([]sortKey, error) {
	var v catalog.Faults
	var order []sortKey
	for _, key := range sort {
		if key.Field == "id" {
			return append(order, sortKey{field{kind: text, order: sel.id}, key.Down}), v.Err()
		}
		f, ok := sel.fields[key.Field]
		if !ok || f.order == "" {
			names := []string{"id"}
			for name, f := range sel.fields {
				if f.order != "" {
					names = append(names, name)
				}
			}
			slices.Sort(names)
			v.Add("/sort", "unknown_field", fmt.Sprintf("these records cannot be ordered by %q", key.Field), "sort by "+strings.Join(names, ", "))
			continue
		}
		if key.Down && f.down != "" {
			f.order = f.down
		}
		order = append(order, sortKey{f, key.Down})
	}
	return append(order, sortKey{field{kind: text, order: sel.id}, false}), v.Err()
}

// beyond is the condition of the rows that come after one in an order.
func beyond(st *statement, order []sortKey, after []string) (string, error) {
	bad := func() (string, error) {
		return "", invalid("/cursor", "bad_cursor", "belongs to another list or order", "begin with the first page")
	}
	if len(after) != len(order) {
		return bad()
	}
	var cases []string
	equal := ""
	for i, k := range order {
		if k.kind == date { // which is empty where there is none
			k.kind = text
		}
		x, err := k.kind.read(after[i])
		if err != nil {
			return bad()
		}
		value, than := st.arg(x), ` > `
		if k.down {
			than = ` < `
		}
		cases = append(cases, `(`+equal+k.order+than+value+`)`)
		equal += k.order + ` = ` + value + ` AND `
	}
	return `(` + strings.Join(cases, ` OR `) + `)`, nil
}

// list returns one page of the live records.
func (n *noun[T]) list(ctx context.Context, s *Store, q catalog.Query) (catalog.Page[T], error) {
	var page catalog.Page[T]
	err := s.readTx(ctx, "list of "+n.Name, func(tx *sql.Tx) error {
		sel := selection{from: `record JOIN ` + n.table + ` ON ` + n.table + `.record_id = record.id`, where: `record.noun = $1 AND NOT record.deleted`,
			args: []any{n.Prefix}, id: `record.id`, name: `record.name_key`, fields: n.fields}
		ids, next, total, err := sel.page(ctx, tx, q)
		if err != nil {
			return err
		}
		page.Next, page.Total = next, total
		page.Items, err = n.inOrder(ctx, tx, ids)
		return err
	})
	return page, err
}

// inOrder reads the records with the ids.
func (n *noun[T]) inOrder(ctx context.Context, tx *sql.Tx, ids []catalog.ID) ([]T, error) {
	if len(ids) == 0 {
		return nil, nil
	}
	args := make([]any, len(ids))
	at := map[catalog.ID]int{}
	for i, id := range ids {
		args[i] = string(id)
		at[id] = i
	}
	list, err := n.load(ctx, tx, `IN (`+places(1, len(ids))+`)`, args...)
	slices.SortFunc(list, func(a, b T) int { return cmp.Compare(at[n.meta(&a).ID], at[n.meta(&b).ID]) })
	return list, err
}
