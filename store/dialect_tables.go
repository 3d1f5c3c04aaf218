package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
)

// How each engine tells of its tables, for backups. The table of golang-migrate is none of the
// catalog's: a restore writes it by migrating.

// catalogTables reads rows of table, column, type and place in the primary key, in the order of tables
// and columns.
func catalogTables(ctx context.Context, tx *sql.Tx, query string, kinds map[string]columnKind) ([]table, error) {
	rows, err := tx.QueryContext(ctx, query)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var all []table
	for rows.Next() {
		var name, kind string
		var c column
		if err := rows.Scan(&name, &c.name, &kind, &c.key); err != nil {
			return nil, err
		}
		k, known := kinds[strings.ToLower(kind)]
		if !known {
			return nil, fmt.Errorf("the column %s of table %s is of type %s, which backups do not know", c.name, name, kind)
		}
		c.kind = k
		if len(all) == 0 || all[len(all)-1].name != name {
			all = append(all, table{name: name})
		}
		last := &all[len(all)-1]
		last.columns = append(last.columns, c)
	}
	return all, rows.Err()
}

var sqliteKinds = map[string]columnKind{"text": textColumn, "integer": integerColumn, "real": realColumn, "blob": bytesColumn}

// sqliteTables lists tables and columns. Source: sqlite.org, "PRAGMA Statements", table_list and
// table_xinfo; hidden is not 0 for columns that are worked out.
func sqliteTables(ctx context.Context, tx *sql.Tx) ([]table, error) {
	return catalogTables(ctx, tx, `SELECT t.name, c.name, c.type, c.pk
		FROM pragma_table_list AS t JOIN pragma_table_xinfo(t.name) AS c
		WHERE t.schema = 'main' AND t.type = 'table' AND t.name NOT LIKE 'sqlite\_%' ESCAPE '\' AND t.name <> 'schema_migrations' AND c.hidden = 0
		ORDER BY t.name, c.name`, sqliteKinds)
}

// deferSQLite puts the check of references off until COMMIT, and lets it be asked for before.
func deferSQLite(ctx context.Context, tx *sql.Tx) (func() error, error) {
	if _, err := tx.ExecContext(ctx, `PRAGMA defer_foreign_keys = 1`); err != nil {
		return nil, err
	}
	return func() error {
		var table, parent string
		var row, rule any
		err := tx.QueryRowContext(ctx, `PRAGMA foreign_key_check`).Scan(&table, &row, &parent, &rule)
		switch {
		case errors.Is(err, sql.ErrNoRows):
			return nil
		case err != nil:
			return err
		}
		return fmt.Errorf("a row of %s refers to one of %s that is not there", table, parent)
	}, nil
}

// soundSQLite reads every page of the file.
func soundSQLite(ctx context.Context, db *sql.DB) error {
	var verdict string
	if err := db.QueryRowContext(ctx, `PRAGMA integrity_check(1)`).Scan(&verdict); err != nil {
		return err
	}
	if verdict != "ok" {
		return fmt.Errorf("the database is damaged: %s", verdict)
	}
	return nil
}

var postgresKinds = map[string]columnKind{"text": textColumn, "bigint": integerColumn, "integer": integerColumn, "double precision": realColumn,
	"bytea": bytesColumn, "boolean": booleanColumn, "timestamp with time zone": instantColumn}

// postgresTables lists tables and columns. Source: PostgreSQL manual, "System Catalogs".
func postgresTables(ctx context.Context, tx *sql.Tx) ([]table, error) {
	return catalogTables(ctx, tx, `SELECT c.relname::text, a.attname::text, format_type(a.atttypid, NULL), coalesce(array_position(i.indkey::smallint[], a.attnum) + 1, 0)
		FROM pg_class AS c JOIN pg_attribute AS a ON a.attrelid = c.oid LEFT JOIN pg_index AS i ON i.indrelid = c.oid AND i.indisprimary
		WHERE c.relnamespace = current_schema()::regnamespace AND c.relkind IN ('r', 'p') AND NOT c.relispartition AND c.relname <> 'schema_migrations'
			AND a.attnum > 0 AND NOT a.attisdropped AND a.attgenerated = ''
		ORDER BY c.relname::text COLLATE "C", a.attname::text COLLATE "C"`, postgresKinds)
}

// each runs a statement for each row of a query, whose columns are the arguments of its format.
func each(ctx context.Context, tx *sql.Tx, query, format string) error {
	rows, err := tx.QueryContext(ctx, query)
	if err != nil {
		return err
	}
	defer rows.Close()
	var statements []string
	for rows.Next() {
		var table, name string
		if err := rows.Scan(&table, &name); err != nil {
			return err
		}
		statements = append(statements, fmt.Sprintf(format, table, name))
	}
	if err := rows.Err(); err != nil {
		return err
	}
	for _, s := range statements {
		if _, err := tx.ExecContext(ctx, s); err != nil {
			return err
		}
	}
	return nil
}

// deferPostgres makes references deferrable for this transaction; the check makes them as they were.
func deferPostgres(ctx context.Context, tx *sql.Tx) (func() error, error) {
	const references = `SELECT quote_ident(r.relname), quote_ident(c.conname) FROM pg_constraint AS c JOIN pg_class AS r ON r.oid = c.conrelid
		WHERE c.contype = 'f' AND c.connamespace = current_schema()::regnamespace AND `
	if _, err := tx.ExecContext(ctx, `CREATE TEMPORARY TABLE was_immediate ON COMMIT DROP AS
		SELECT oid FROM pg_constraint WHERE contype = 'f' AND connamespace = current_schema()::regnamespace AND NOT condeferrable`); err != nil {
		return nil, err
	}
	if err := each(ctx, tx, references+`NOT c.condeferrable`, `ALTER TABLE %s ALTER CONSTRAINT %s DEFERRABLE INITIALLY DEFERRED`); err != nil {
		return nil, err
	}
	return func() error {
		if _, err := tx.ExecContext(ctx, `SET CONSTRAINTS ALL IMMEDIATE`); err != nil {
			return err
		}
		return each(ctx, tx, references+`c.oid IN (SELECT oid FROM was_immediate)`, `ALTER TABLE %s ALTER CONSTRAINT %s NOT DEFERRABLE`)
	}, nil
}

// countOnPostgres lets the sequences of identity and serial columns go on behind what is stored.
func countOnPostgres(ctx context.Context, tx *sql.Tx, tables []table) error {
	for _, t := range tables {
		for _, c := range t.columns {
			if c.kind != integerColumn {
				continue
			}
			// The first argument of pg_get_serial_sequence is read like an identifier, the second is not.
			if _, err := tx.ExecContext(ctx, fmt.Sprintf(`SELECT setval(s.name, m.most) FROM (SELECT pg_get_serial_sequence($1, $2) AS name) AS s,
				(SELECT max(%s) AS most FROM %s) AS m WHERE s.name IS NOT NULL AND m.most IS NOT NULL`, quoted(c.name), quoted(t.name)),
				quoted(t.name), c.name); err != nil {
				return err
			}
		}
	}
	return nil
}
