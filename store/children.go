package store

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"strings"

	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
)

// figure is one figure of a record, whatever its unit.
type figure struct {
	field  string // as on the wire, with its parts: "handling/borate_fraction"
	get    func() *catalog.Figure[float64]
	set    func(catalog.Figure[float64])
	source func() *catalog.ID
}

func figureOf[U ~float64](field string, at **catalog.Figure[U]) figure {
	return figure{field: field,
		get: func() *catalog.Figure[float64] {
			f := *at
			if f == nil {
				return nil
			}
			return &catalog.Figure[float64]{Value: float64(f.Value), Low: float64(f.Low), High: float64(f.High), Evidence: f.Evidence, SourceID: f.SourceID, Basis: f.Basis}
		},
		set: func(f catalog.Figure[float64]) {
			*at = &catalog.Figure[U]{Value: U(f.Value), Low: U(f.Low), High: U(f.High), Evidence: f.Evidence, SourceID: f.SourceID, Basis: f.Basis}
		},
		source: func() *catalog.ID { return &(*at).SourceID },
	}
}

const figureColumns = "value, low, high, evidence, source_id, basis"

func figureRow(f *catalog.Figure[float64]) []any {
	return []any{&f.Value, &f.Low, &f.High, &f.Evidence, &f.SourceID, &f.Basis}
}

// list is a list of a record whose elements are rows of a table of their own.
type list[T any] struct {
	table, columns string // without record_id and position
	rows           func(*T) [][]any
	next           func() (row []any, push func(*T)) // places for one more element
	detach         func(*T)
}

func listOf[T, E any](table, columns string, elements func(*T) *[]E, row func(*E) []any) list[T] {
	return list[T]{table: table, columns: columns,
		rows: func(x *T) [][]any {
			var rows [][]any
			for i := range *elements(x) {
				rows = append(rows, row(&(*elements(x))[i]))
			}
			return rows
		},
		next: func() ([]any, func(*T)) {
			e := new(E)
			return row(e), func(x *T) { *elements(x) = append(*elements(x), *e) }
		},
		detach: func(x *T) { *elements(x) = slices.Clone(*elements(x)) },
	}
}

// fireOf is the list of the fire declarations of a record.
func fireOf[T any](declarations func(*T) *[]catalog.FireDeclaration) list[T] {
	return listOf("fire_declaration",
		"subject, scheme, code, flame_spread_index, smoke_developed_index, edition, report, laboratory, end_use, durability, evidence, source_id",
		declarations, func(d *catalog.FireDeclaration) []any {
			return []any{&d.Subject, &d.Scheme, &d.Code, &d.FlameSpread, &d.SmokeDeveloped, &d.Edition, &d.Report, &d.Laboratory, &d.EndUse, &d.Durability, &d.Evidence, &d.SourceID}
		})
}

func (n *noun[T]) insertChildren(ctx context.Context, tx *sql.Tx, x *T) error {
	id := string(n.meta(x).ID)
	if n.figures != nil {
		var rows [][]any
		for _, f := range n.figures(x) {
			v := f.get()
			if v == nil {
				continue
			}
			row, err := values(figureRow(v)...)
			if err != nil {
				return err
			}
			rows = append(rows, append([]any{id, f.field}, row...))
		}
		if err := insertRows(ctx, tx, "figure", "record_id, field, "+figureColumns, rows); err != nil {
			return err
		}
	}
	if n.curve != nil {
		var rows [][]any
		curve := n.curve(x)
		for _, b := range curve.Basis.Bands() {
			if alpha, known := curve.At(b); known {
				rows = append(rows, []any{id, b.Nominal(), alpha})
			}
		}
		if err := insertRows(ctx, tx, "band", "record_id, band_hz, alpha", rows); err != nil {
			return err
		}
	}
	for _, l := range n.lists {
		var rows [][]any
		for i, places := range l.rows(x) {
			row, err := values(places...)
			if err != nil {
				return err
			}
			rows = append(rows, append([]any{id, i}, row...))
		}
		if err := insertRows(ctx, tx, l.table, "record_id, position, "+l.columns, rows); err != nil {
			return err
		}
	}
	return nil
}

func (n *noun[T]) clearChildren(ctx context.Context, tx *sql.Tx, id catalog.ID) error {
	tables := []string{"figure", "band"}
	for _, l := range n.lists {
		tables = append(tables, l.table)
	}
	for _, table := range tables {
		if _, err := tx.ExecContext(ctx, `DELETE FROM `+table+` WHERE record_id = $1`, string(id)); err != nil {
			return err
		}
	}
	return nil
}

// loadChildren reads the child rows of the records of, which are those in the set.
func (n *noun[T]) loadChildren(ctx context.Context, tx *sql.Tx, of map[catalog.ID]*T, set string, args []any) error {
	if n.figures != nil {
		err := eachRow(ctx, tx, `SELECT record_id, field, `+figureColumns+` FROM figure WHERE record_id `+set, args, func(scan func(...any) error) error {
			var id catalog.ID
			var field string
			var v catalog.Figure[float64]
			if err := scan(append([]any{&id, &field}, figureRow(&v)...)...); err != nil {
				return err
			}
			for _, f := range n.figures(of[id]) {
				if f.field == field {
					f.set(v)
					return nil
				}
			}
			return fmt.Errorf("the %s %s has an unknown figure %s", n.Name, id, field)
		})
		if err != nil {
			return err
		}
	}
	if n.curve != nil {
		err := eachRow(ctx, tx, `SELECT record_id, band_hz, alpha FROM band WHERE record_id `+set, args, func(scan func(...any) error) error {
			var id catalog.ID
			var hz int
			var alpha float64
			if err := scan(&id, &hz, &alpha); err != nil {
				return err
			}
			curve := n.curve(of[id])
			b, ok := bands.Parse(hz)
			if !ok || !slices.Contains(curve.Basis.Bands(), b) {
				return fmt.Errorf("the %s %s has an unknown band %d Hz", n.Name, id, hz)
			}
			curve.Set(b, alpha)
			return nil
		})
		if err != nil {
			return err
		}
	}
	for _, l := range n.lists {
		err := eachRow(ctx, tx, `SELECT record_id, `+l.columns+` FROM `+l.table+` WHERE record_id `+set+` ORDER BY record_id, position`, args, func(scan func(...any) error) error {
			var id catalog.ID
			row, push := l.next()
			if err := scan(append([]any{&id}, row...)...); err != nil {
				return err
			}
			push(of[id])
			return nil
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// rowsAtOnce keeps the number of parameters of a statement far below the limits of both
// engines (SQLite 32766, PostgreSQL 65535).
const rowsAtOnce = 500

// insertRows inserts rows of plain values.
func insertRows(ctx context.Context, tx *sql.Tx, table, columns string, rows [][]any) error {
	for chunk := range slices.Chunk(rows, rowsAtOnce) {
		var tuples []string
		var args []any
		for _, row := range chunk {
			tuples = append(tuples, "("+places(len(args)+1, len(row))+")")
			args = append(args, row...)
		}
		if _, err := tx.ExecContext(ctx, `INSERT INTO `+table+` (`+columns+`) VALUES `+strings.Join(tuples, ", "), args...); err != nil {
			return err
		}
	}
	return nil
}
