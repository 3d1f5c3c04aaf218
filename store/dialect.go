package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"io"
	"net"
	"net/url"
	"path/filepath"
	"strings"
	"time"

	"github.com/golang-migrate/migrate/v4/database"
	migratepgx "github.com/golang-migrate/migrate/v4/database/pgx/v5"
	migratesqlite "github.com/golang-migrate/migrate/v4/database/sqlite"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/stdlib"
	"modernc.org/sqlite"
)

// lockWait is how long a change waits for another one before it is refused. It is a
// convention: longer than any change takes, shorter than a person waits.
const lockWait = 2 * time.Second

// migrationWait is how long a process waits for another one that migrates the same SQLite file. The library
// waits 15 s for its lock.
const migrationWait = 14 * time.Second

// engine is all that differs between the two databases beside the migrations.
type engine struct {
	name       string // folder of its migrations
	reading    sql.TxOptions
	verify     func(context.Context, *sql.DB) error
	migrations func(*Store) (database.Driver, error)
	classify   func(error) failure

	// What backups need; see backup.go.
	byBytes  string // behind a text in ORDER BY: compare it byte by byte
	givenIDs string // in INSERT: take the given values of columns that count by themselves
	tables   func(context.Context, *sql.Tx) ([]table, error)
	// deferReferences lets rows be stored before those they refer to; what it returns checks them all.
	deferReferences func(context.Context, *sql.Tx) (check func() error, err error)
	countOn         func(context.Context, *sql.Tx, []table) error // behind the highest id that was given
	sound           func(context.Context, *sql.DB) error          // whether the database itself finds no damage
}

// failure is what an error of a driver means, and the constraint it names.
type failure struct {
	kind failureKind
	rule string
}

type failureKind int

const (
	otherFailure  failureKind = iota
	uniqueFailure             // a value is taken
	referenceFailure
	ruleFailure // a CHECK, a missing or an unstorable value
	busyFailure // the database refused for now and undid the transaction
	awayFailure // connection or disk failed; what became of a COMMIT is not known
)

func openSQLite(path string) (*Store, error) {
	query := url.Values{
		"_pragma": {fmt.Sprintf("busy_timeout(%d)", lockWait.Milliseconds()), "foreign_keys(1)", "synchronous(FULL)"},
		"_txlock": {"immediate"},
	}
	guard := "" // of migrations
	e := engine{name: "sqlite", reading: sql.TxOptions{ReadOnly: true}, classify: classifySQLite,
		tables: sqliteTables, deferReferences: deferSQLite, sound: soundSQLite,
		countOn: func(context.Context, *sql.Tx, []table) error { return nil }, // it does so by itself
		// The driver would close the handle it is given, which may be the database itself.
		migrations: func(s *Store) (database.Driver, error) {
			d, err := migratesqlite.WithInstance(s.write, &migratesqlite.Config{})
			return &sqliteMigrations{Driver: d, guard: guard}, err
		}}
	if path == ":memory:" {
		e.verify = func(ctx context.Context, db *sql.DB) error { return db.PingContext(ctx) }
		db, err := sql.Open("sqlite", "file::memory:?"+query.Encode())
		if err != nil {
			return nil, err
		}
		db.SetMaxOpenConns(1)
		db.SetConnMaxLifetime(0)
		return &Store{engine: e, write: db, read: db}, nil
	}
	e.verify = func(ctx context.Context, db *sql.DB) error {
		var mode string
		if err := db.QueryRowContext(ctx, "PRAGMA journal_mode").Scan(&mode); err != nil {
			return fmt.Errorf("the file %s cannot be used as a database: %w", path, err)
		}
		if mode != "wal" {
			return fmt.Errorf("the file %s lies where SQLite cannot keep a write-ahead log: put it on a local disk", path)
		}
		return nil
	}
	query.Add("_pragma", "journal_mode(WAL)")
	file := "file:" + strings.NewReplacer("%", "%25", "?", "%3F", "#", "%23").Replace(filepath.Clean(path)) + "?"
	guard = strings.TrimSuffix(file, "?") + "-migrating?" + url.Values{"_pragma": {fmt.Sprintf("busy_timeout(%d)", migrationWait.Milliseconds())}}.Encode()
	write, err := sql.Open("sqlite", file+query.Encode())
	if err != nil {
		return nil, err
	}
	write.SetMaxOpenConns(1)
	query.Set("_query_only", "1")
	read, err := sql.Open("sqlite", file+query.Encode())
	if err != nil {
		return nil, errors.Join(err, write.Close())
	}
	limitPool(read)
	return &Store{engine: e, write: write, read: read}, nil
}

// sqliteMigrations is the library's driver of migrations, whose database stays open and whose lock
// holds between processes too: they wait for a transaction on an empty file beside the database. One on
// the database itself would be in the way of the migrations.
type sqliteMigrations struct {
	database.Driver
	guard string // source of that file; none for a database in memory
	held  *sql.DB
}

func (*sqliteMigrations) Close() error { return nil }

func (m *sqliteMigrations) Lock() error {
	if err := m.Driver.Lock(); err != nil || m.guard == "" {
		return err
	}
	db, err := sql.Open("sqlite", m.guard)
	if err != nil {
		return errors.Join(err, m.Driver.Unlock())
	}
	db.SetMaxOpenConns(1)
	if _, err := db.Exec("BEGIN EXCLUSIVE"); err != nil {
		return errors.Join(fmt.Errorf("another process brings the database to its version: %w", err), db.Close(), m.Driver.Unlock())
	}
	m.held = db
	return nil
}

func (m *sqliteMigrations) Unlock() error {
	var err error
	if m.held != nil {
		err, m.held = m.held.Close(), nil // which ends the transaction
	}
	return errors.Join(err, m.Driver.Unlock())
}

// limitPool bounds a pool of reading connections. Ten are a convention: few enough for a
// small server's connection limit, more than its cores.
func limitPool(db *sql.DB) {
	db.SetMaxOpenConns(10)
	db.SetMaxIdleConns(10)
	db.SetConnMaxIdleTime(5 * time.Minute)
}

// oldestPostgres is the first version of PostgreSQL that the tests know.
const oldestPostgres = 150000

func openPostgres(url string) (*Store, error) {
	config, err := pgx.ParseConfig(url)
	if err != nil {
		return nil, err
	}
	if config.ConnectTimeout == 0 {
		config.ConnectTimeout = 5 * time.Second
	}
	with := func(settings map[string]string) *sql.DB {
		c := config.Copy()
		for name, value := range settings {
			c.RuntimeParams[name] = value
		}
		return stdlib.OpenDB(*c)
	}
	e := engine{name: "postgres", reading: sql.TxOptions{ReadOnly: true, Isolation: sql.LevelRepeatableRead},
		verify: verifyPostgres, classify: classifyPostgres,
		byBytes: ` COLLATE "C"`, givenIDs: " OVERRIDING SYSTEM VALUE",
		tables: postgresTables, deferReferences: deferPostgres, countOn: countOnPostgres,
		sound: func(context.Context, *sql.DB) error { return nil }, // pages are checked when they are read
		// A handle of its own: the driver closes it, and waits for another migrating
		// process as long as that takes.
		migrations: func(*Store) (database.Driver, error) {
			db := with(map[string]string{"application_name": "sabinbook migrate"})
			d, err := migratepgx.WithInstance(db, &migratepgx.Config{})
			if err != nil {
				return nil, errors.Join(err, db.Close())
			}
			return d, nil
		}}
	s := &Store{engine: e,
		write: with(map[string]string{"application_name": "sabinbook write", "timezone": "UTC",
			"lock_timeout": fmt.Sprint(lockWait.Milliseconds()), "idle_in_transaction_session_timeout": "60s"}),
		read: with(map[string]string{"application_name": "sabinbook read", "timezone": "UTC",
			"default_transaction_read_only": "on", "idle_in_transaction_session_timeout": "60s"}),
	}
	s.write.SetMaxOpenConns(1)
	limitPool(s.read)
	return s, nil
}

func verifyPostgres(ctx context.Context, db *sql.DB) error {
	var version int
	if err := db.QueryRowContext(ctx, "SELECT CAST(current_setting('server_version_num') AS integer)").Scan(&version); err != nil {
		return err
	}
	if version < oldestPostgres {
		return fmt.Errorf("PostgreSQL %d is too old: use 15 or newer", version/10000)
	}
	return nil
}

// The result codes of SQLite that are told apart; the extended code is the primary one
// in its low byte. Source: sqlite.org, "Result and Error Codes".
const (
	sqliteBusy       = 5
	sqliteLocked     = 6
	sqliteNoMemory   = 7
	sqliteReadOnly   = 8
	sqliteIOError    = 10
	sqliteFull       = 13
	sqliteCannotOpen = 14
	sqliteConstraint = 19

	sqliteCheck      = sqliteConstraint | 1<<8
	sqliteForeignKey = sqliteConstraint | 3<<8
	sqliteNotNull    = sqliteConstraint | 5<<8
	sqlitePrimaryKey = sqliteConstraint | 6<<8
	sqliteUnique     = sqliteConstraint | 8<<8
	sqliteDatatype   = sqliteConstraint | 12<<8
)

func classifySQLite(err error) failure {
	var e *sqlite.Error
	if !errors.As(err, &e) {
		return failure{kind: otherFailure}
	}
	rule := e.Error()
	if _, after, found := strings.Cut(rule, "constraint failed: "); found {
		rule, _, _ = strings.Cut(after, " (")
	}
	switch e.Code() {
	case sqliteUnique, sqlitePrimaryKey:
		return failure{uniqueFailure, rule}
	case sqliteForeignKey:
		return failure{referenceFailure, rule}
	case sqliteCheck, sqliteNotNull, sqliteDatatype:
		return failure{ruleFailure, rule}
	}
	switch e.Code() & 0xff {
	case sqliteBusy, sqliteLocked, sqliteFull, sqliteReadOnly:
		return failure{busyFailure, ""}
	case sqliteIOError, sqliteCannotOpen, sqliteNoMemory:
		return failure{awayFailure, ""}
	}
	return failure{kind: otherFailure}
}

// classifyPostgres reads SQLSTATE codes. Source: PostgreSQL manual, appendix A.
func classifyPostgres(err error) failure {
	var e *pgconn.PgError
	if errors.As(err, &e) {
		switch e.Code {
		case "23505":
			return failure{uniqueFailure, e.ConstraintName}
		case "23503":
			return failure{referenceFailure, e.ConstraintName}
		case "23514":
			return failure{ruleFailure, e.ConstraintName}
		case "23502":
			return failure{ruleFailure, e.TableName + "." + e.ColumnName}
		case "55P03", "25006": // lock not available, read-only transaction
			return failure{busyFailure, ""}
		}
		switch e.Code[:2] {
		case "22": // data that cannot be stored, such as a NUL in a text
			return failure{ruleFailure, e.Message}
		case "40": // rolled back: serialization failure, deadlock
			return failure{busyFailure, ""}
		case "08", "53", "57", "58": // connection, resources, operator, system
			return failure{awayFailure, ""}
		}
		return failure{kind: otherFailure}
	}
	var connect *pgconn.ConnectError
	var network net.Error
	switch {
	case errors.Is(err, pgx.ErrTxCommitRollback):
		return failure{busyFailure, ""}
	case errors.As(err, &connect), errors.As(err, &network), errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF),
		errors.Is(err, driver.ErrBadConn), errors.Is(err, sql.ErrConnDone), pgconn.SafeToRetry(err):
		return failure{awayFailure, ""}
	}
	return failure{kind: otherFailure}
}
