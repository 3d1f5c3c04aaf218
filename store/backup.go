package store

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"hash"
	"io"
	"maps"
	"slices"
	"strings"
	"time"
)

// A backup is the whole database at one moment, the same for both engines: gzip around lines of JSON.
// The first line is a backupHead. Then each table has a line with its name and columns, and one line for
// each row, an array in the order of the columns: numbers, texts, null, {"base64": "..."} for bytes, 0 and 1
// for false and true, and instants as text of fixed width. Tables come in the order of their names, rows in
// that of their primary keys, so that equal databases give equal lines on both engines. The last line is a
// backupEnd. Tables and columns are those that the database itself tells of, so that none is forgotten.
// Behind it stands a second, empty member of gzip whose comment is the SHA-256 of the first, because not
// every bit of a gzip counts for its own checksum.

// BackupSummary tells of a backup.
type BackupSummary struct {
	Schema   uint      // version of the schema
	Revision int64     // of the catalog
	Made     time.Time // whole milliseconds, UTC
	Rows     int64     // in all tables
	Digest   string    // SHA-256 of tables and rows, in hexadecimal: equal for equal databases
}

// ErrBackupDamaged says that a backup is cut off or is not what was written.
var ErrBackupDamaged = errors.New("the backup is damaged")

// ErrNotEmpty says that a database to restore into holds something.
var ErrNotEmpty = errors.New("the database is not empty")

const backupForm = 1

type backupHead struct {
	Form     int    `json:"sabinbook_backup"`
	Schema   uint   `json:"schema_version"`
	Revision int64  `json:"catalog_revision"`
	Made     string `json:"made_time"`
}

type backupTable struct {
	Name    string   `json:"table"`
	Columns []string `json:"columns"`
}

type backupEnd struct {
	Rows   *int64 `json:"rows_count"`
	Digest string `json:"content_sha256"`
}

// table is a table as the database tells of it.
type table struct {
	name    string
	columns []column
}

// column is a column that a row brings along; one that the database works out itself is none.
type column struct {
	name string
	kind columnKind
	key  int // place in the primary key, from 1; 0 when it is no part of it
}

type columnKind int

const (
	textColumn columnKind = iota
	integerColumn
	realColumn
	bytesColumn
	booleanColumn
	instantColumn
)

// quoted is a name as SQL text.
func quoted(name string) string { return `"` + strings.ReplaceAll(name, `"`, `""`) + `"` }

func (t table) names() []string {
	var names []string
	for _, c := range t.columns {
		names = append(names, c.name)
	}
	return names
}

func (t table) list() string {
	var names []string
	for _, c := range t.columns {
		names = append(names, quoted(c.name))
	}
	return strings.Join(names, ", ")
}

// order is the primary key, or all columns where there is none. Texts are compared byte by byte.
func (t table) order(e *engine) string {
	keys := slices.DeleteFunc(slices.Clone(t.columns), func(c column) bool { return c.key == 0 })
	slices.SortFunc(keys, func(a, b column) int { return a.key - b.key })
	if len(keys) == 0 {
		keys = t.columns
	}
	var terms []string
	for _, c := range keys {
		term := quoted(c.name)
		if c.kind == textColumn {
			term += e.byBytes
		}
		terms = append(terms, quoted(c.name)+" IS NULL", term)
	}
	return strings.Join(terms, ", ")
}

// Backup writes the whole database as it is at one moment, whatever is written to it meanwhile. The
// schema may be of an older version than this program's.
func (s *Store) Backup(ctx context.Context, w io.Writer) (BackupSummary, error) {
	sum := BackupSummary{Made: s.Now().UTC().Truncate(time.Millisecond)}
	member := sha256.New()
	packed := gzip.NewWriter(io.MultiWriter(w, member))
	err := s.readTx(ctx, "backup", func(tx *sql.Tx) (err error) {
		if sum.Schema, err = schemaVersion(ctx, tx); err != nil {
			return err
		}
		if sum.Revision, err = revision(ctx, tx); err != nil {
			return err
		}
		head := backupHead{backupForm, sum.Schema, sum.Revision, sum.Made.Format(timeForm)}
		if _, err := packed.Write(line(head)); err != nil {
			return err
		}
		if sum.Rows, sum.Digest, err = s.dump(ctx, tx, packed); err != nil {
			return err
		}
		if _, err := packed.Write(line(backupEnd{&sum.Rows, sum.Digest})); err != nil {
			return err
		}
		if err := packed.Close(); err != nil {
			return err
		}
		_, err = w.Write(seal(member))
		return err
	})
	return sum, err
}

// seal is the second member of a backup. Source of its form: RFC 1952 section 2.3, RFC 1951 section 3.2.4.
func seal(member hash.Hash) []byte {
	const comment = 1 << 4
	text := append([]byte{0x1f, 0x8b, 8, comment, 0, 0, 0, 0, 0, 255}, hex.EncodeToString(member.Sum(nil))...)
	text = append(text, 0)                   // behind the comment
	text = append(text, 1, 0, 0, 0xff, 0xff) // one last block, of no bytes
	return append(text, make([]byte, 8)...)  // checksum and length of nothing
}

// schemaVersion is the version of the schema that a transaction sees.
func schemaVersion(ctx context.Context, tx *sql.Tx) (uint, error) {
	var version uint
	var dirty bool
	err := tx.QueryRowContext(ctx, `SELECT version, dirty FROM schema_migrations`).Scan(&version, &dirty)
	if err == nil && dirty {
		return 0, &SchemaError{Version: version, Dirty: true}
	}
	return version, err
}

// dump writes all tables with their rows, and returns the number of rows and the digest of the lines.
func (s *Store) dump(ctx context.Context, tx *sql.Tx, w io.Writer) (int64, string, error) {
	tables, err := s.engine.tables(ctx, tx)
	if err != nil {
		return 0, "", err
	}
	digest := sha256.New()
	both := io.MultiWriter(w, digest)
	var rows int64
	for _, t := range tables {
		if _, err := both.Write(line(backupTable{t.name, t.names()})); err != nil {
			return 0, "", err
		}
		err := s.rows(ctx, tx, t, func(text []byte) error {
			rows++
			_, err := both.Write(text)
			return err
		})
		if err != nil {
			return 0, "", fmt.Errorf("table %s: %w", t.name, err)
		}
	}
	return rows, hex.EncodeToString(digest.Sum(nil)), nil
}

// rows calls f with the line of each row of a table.
func (s *Store) rows(ctx context.Context, tx *sql.Tx, t table, f func([]byte) error) error {
	rows, err := tx.QueryContext(ctx, `SELECT `+t.list()+` FROM `+quoted(t.name)+` ORDER BY `+t.order(&s.engine))
	if err != nil {
		return err
	}
	defer rows.Close()
	row, places := make([]any, len(t.columns)), make([]any, len(t.columns))
	for i := range row {
		places[i] = &row[i]
	}
	for rows.Next() {
		if err := rows.Scan(places...); err != nil {
			return err
		}
		text, err := rowLine(t, row)
		if err != nil {
			return err
		}
		if err := f(text); err != nil {
			return err
		}
	}
	return rows.Err()
}

// Restore puts a backup into a database that holds nothing but what its migrations put there, and
// brings it to the version of this program. All rows are stored in one transaction, which compares
// what is then there with the backup's digest; when it fails the database is as empty as before. It
// returns ErrNotEmpty, ErrBackupDamaged, or a *SchemaError for a backup of a newer program.
func (s *Store) Restore(ctx context.Context, r io.Reader) (BackupSummary, error) {
	in, err := openBackup(r)
	if err != nil {
		return BackupSummary{}, err
	}
	newest, err := s.newest()
	if err != nil {
		return in.sum, err
	}
	if in.sum.Schema > newest {
		return in.sum, fmt.Errorf("store: restore: the backup: %w", &SchemaError{Version: in.sum.Schema, Newest: newest})
	}
	version, dirty, err := s.Version(ctx)
	switch {
	case err != nil:
		return in.sum, err
	case dirty || version > newest:
		return in.sum, fmt.Errorf("store: restore: %w", &SchemaError{version, newest, dirty})
	case version > 0 && version != in.sum.Schema: // going down would take away what is there
		fresh, err := freshRows(ctx, version)
		if err != nil {
			return in.sum, err
		}
		if err := s.queuedTx(ctx, "restore", func(tx *sql.Tx) error { return s.empty(ctx, tx, fresh) }); err != nil {
			return in.sum, err
		}
	}
	if err := s.MigrateTo(ctx, in.sum.Schema); err != nil {
		return in.sum, err
	}
	fresh, err := freshRows(ctx, in.sum.Schema)
	if err != nil {
		return in.sum, err
	}
	if err := s.queuedTx(ctx, "restore", func(tx *sql.Tx) error { return s.load(ctx, tx, in, fresh) }); err != nil {
		return in.sum, err
	}
	if err := s.Migrate(ctx); err != nil {
		return in.sum, err
	}
	return in.sum, s.fail("restore", s.engine.sound(ctx, s.read))
}

// ReadBackup reads a backup to its end, without any database, and returns ErrBackupDamaged unless it
// is whole.
func ReadBackup(r io.Reader) (BackupSummary, error) {
	in, err := openBackup(r)
	if err != nil {
		return BackupSummary{}, err
	}
	for {
		if _, err := in.next(); errors.Is(err, io.EOF) {
			return in.sum, nil
		} else if err != nil {
			return in.sum, err
		}
	}
}

// freshRows are the rows that the migrations up to a version put into an empty database.
func freshRows(ctx context.Context, version uint) (map[string][]string, error) {
	s, err := Open(ctx, "sqlite::memory:")
	if err != nil {
		return nil, err
	}
	defer s.Close()
	if err := s.MigrateTo(ctx, version); err != nil {
		return nil, err
	}
	all := map[string][]string{}
	err = s.readTx(ctx, "fresh rows", func(tx *sql.Tx) error {
		tables, err := s.engine.tables(ctx, tx)
		if err != nil {
			return err
		}
		for _, t := range tables {
			err := s.rows(ctx, tx, t, func(text []byte) error {
				all[t.name] = append(all[t.name], string(text))
				return nil
			})
			if err != nil {
				return err
			}
		}
		return nil
	})
	return all, err
}

// errEnough ends the reading of rows that need not be read to the end.
var errEnough = errors.New("enough")

// empty returns ErrNotEmpty unless each table holds what it does in a fresh database.
func (s *Store) empty(ctx context.Context, tx *sql.Tx, fresh map[string][]string) error {
	tables, err := s.engine.tables(ctx, tx)
	if err != nil {
		return err
	}
	for _, t := range tables {
		var there []string
		err := s.rows(ctx, tx, t, func(text []byte) error {
			there = append(there, string(text))
			if len(there) > len(fresh[t.name]) {
				return errEnough
			}
			return nil
		})
		if err != nil && !errors.Is(err, errEnough) {
			return err
		}
		if !slices.Equal(there, fresh[t.name]) {
			return fmt.Errorf("%w: the table %s has rows", ErrNotEmpty, t.name)
		}
	}
	return nil
}

// load puts all rows of a backup into an empty database, and compares what is there afterwards.
func (s *Store) load(ctx context.Context, tx *sql.Tx, in *backupReader, fresh map[string][]string) error {
	if err := s.empty(ctx, tx, fresh); err != nil {
		return err
	}
	tables, err := s.engine.tables(ctx, tx)
	if err != nil {
		return err
	}
	missing := map[string]table{}
	for _, t := range tables {
		missing[t.name] = t
	}
	referencesHold, err := s.engine.deferReferences(ctx, tx)
	if err != nil {
		return err
	}
	for name := range fresh {
		if _, err := tx.ExecContext(ctx, `DELETE FROM `+quoted(name)); err != nil {
			return err
		}
	}
	into := &inserter{tx: tx, engine: &s.engine}
	for {
		text, err := in.next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return err
		}
		if in.heads { // a table begins
			if err := into.flush(ctx); err != nil {
				return err
			}
			t, ok := missing[in.table.Name]
			if !ok || !slices.Equal(slices.Sorted(slices.Values(t.names())), slices.Sorted(slices.Values(in.table.Columns))) {
				return fmt.Errorf("the backup has a table %s (%s), which schema version %d has not", in.table.Name, strings.Join(in.table.Columns, ", "), in.sum.Schema)
			}
			delete(missing, in.table.Name)
			into.table = t.with(in.table.Columns)
			continue
		}
		row, err := rowValues(into.table, text)
		if err != nil {
			return fmt.Errorf("table %s: %w", into.table.name, err)
		}
		if err := into.add(ctx, row); err != nil {
			return fmt.Errorf("table %s: %w", into.table.name, err)
		}
	}
	if err := into.flush(ctx); err != nil {
		return err
	}
	if len(missing) > 0 {
		return fmt.Errorf("the backup lacks the tables %s", strings.Join(slices.Sorted(maps.Keys(missing)), ", "))
	}
	if err := referencesHold(); err != nil {
		return err
	}
	if err := s.engine.countOn(ctx, tx, tables); err != nil {
		return err
	}
	rows, digest, err := s.dump(ctx, tx, io.Discard)
	if err != nil {
		return err
	}
	if rows != in.sum.Rows || digest != in.sum.Digest {
		return fmt.Errorf("the database would hold other rows than the backup: %d with digest %s, want %d with %s", rows, digest, in.sum.Rows, in.sum.Digest)
	}
	return nil
}

// with is the table with its columns in another order.
func (t table) with(order []string) table {
	slices.SortFunc(t.columns, func(a, b column) int { return slices.Index(order, a.name) - slices.Index(order, b.name) })
	return t
}

// inserter stores rows of one table after the other, many with one statement.
type inserter struct {
	tx     *sql.Tx
	engine *engine
	table  table
	values []any
}

// mostValues bounds the values of one statement: PostgreSQL counts them in 16 bits, SQLite takes 32766.
const mostValues = 8192

func (i *inserter) add(ctx context.Context, row []any) error {
	i.values = append(i.values, row...)
	if len(i.values)+len(row) > mostValues {
		return i.flush(ctx)
	}
	return nil
}

func (i *inserter) flush(ctx context.Context) error {
	if len(i.values) == 0 {
		return nil
	}
	var text strings.Builder
	fmt.Fprintf(&text, "INSERT INTO %s (%s)%s VALUES ", quoted(i.table.name), i.table.list(), i.engine.givenIDs)
	for k := range i.values {
		switch {
		case k == 0:
			text.WriteString("(")
		case k%len(i.table.columns) == 0:
			text.WriteString("), (")
		default:
			text.WriteString(", ")
		}
		fmt.Fprintf(&text, "$%d", k+1)
	}
	text.WriteString(")")
	_, err := i.tx.ExecContext(ctx, text.String(), i.values...)
	i.values = i.values[:0]
	return err
}

// backupReader reads the lines of a backup.
type backupReader struct {
	raw     *hashing
	lines   *bufio.Reader
	sum     BackupSummary
	heads   bool // the last line was the head of a table
	table   backupTable
	content hash.Hash
	rows    int64
}

// hashing adds up what is taken from a reader. Package gzip takes no byte too many from it, because it
// gives single ones.
type hashing struct {
	from *bufio.Reader
	sum  hash.Hash
}

func (h *hashing) Read(p []byte) (int, error) {
	n, err := h.from.Read(p)
	h.sum.Write(p[:n])
	return n, err
}

func (h *hashing) ReadByte() (byte, error) {
	b, err := h.from.ReadByte()
	if err == nil {
		h.sum.Write([]byte{b})
	}
	return b, err
}

func damaged(format string, args ...any) error {
	return fmt.Errorf("store: %w: %s", ErrBackupDamaged, fmt.Sprintf(format, args...))
}

func openBackup(r io.Reader) (*backupReader, error) {
	in := &backupReader{raw: &hashing{bufio.NewReader(r), sha256.New()}, content: sha256.New()}
	packed, err := gzip.NewReader(in.raw)
	if err != nil {
		return nil, damaged("it does not begin like a backup: %v", err)
	}
	packed.Multistream(false)
	in.lines = bufio.NewReader(packed)
	text, err := in.line()
	if err != nil {
		return nil, err
	}
	var head backupHead
	if err := strict(text, &head); err != nil || head.Form == 0 {
		return nil, damaged("its first line is not that of a backup")
	}
	if head.Form != backupForm {
		return nil, fmt.Errorf("store: the backup is of form %d, this program reads %d: use a newer program", head.Form, backupForm)
	}
	made, err := time.Parse(timeForm, head.Made)
	if err != nil || head.Schema == 0 {
		return nil, damaged("its first line is not that of a backup")
	}
	in.sum = BackupSummary{Schema: head.Schema, Revision: head.Revision, Made: made}
	return in, nil
}

func (b *backupReader) line() ([]byte, error) {
	text, err := b.lines.ReadBytes('\n')
	if err != nil {
		return nil, damaged("it is cut off or changed: %v", err)
	}
	return text, nil
}

// next returns the next line, of a row or, when heads says so, of a table. Behind the last one, once
// the whole has proved to be what was written, it returns io.EOF.
func (b *backupReader) next() ([]byte, error) {
	text, err := b.line()
	if err != nil {
		return nil, err
	}
	b.heads = false
	if text[0] == '[' {
		b.rows++
		b.content.Write(text)
		return text, nil
	}
	var end backupEnd
	if strict(text, &end) == nil && end.Rows != nil {
		return nil, b.ended(end)
	}
	b.table = backupTable{}
	if err := strict(text, &b.table); err != nil || b.table.Name == "" {
		return nil, damaged("a line is neither table nor row")
	}
	b.heads = true
	b.content.Write(text)
	return text, nil
}

// ended checks that nothing is behind the last line, and that all before it is what was written.
func (b *backupReader) ended(end backupEnd) error {
	if _, err := b.lines.ReadByte(); !errors.Is(err, io.EOF) { // which also compares the checksum of gzip
		return damaged("its end is not that of a backup")
	}
	want := seal(b.raw.sum)
	if rest, err := io.ReadAll(io.LimitReader(b.raw.from, int64(len(want))+1)); err != nil || !bytes.Equal(rest, want) {
		return damaged("its bytes are not those that were written")
	}
	if digest := hex.EncodeToString(b.content.Sum(nil)); *end.Rows != b.rows || end.Digest != digest {
		return damaged("its digest is %s, its end says %s", digest, end.Digest)
	}
	b.sum.Rows, b.sum.Digest = b.rows, end.Digest
	return io.EOF
}

// line is a value as one line of JSON.
func line(value any) []byte {
	var text bytes.Buffer
	e := json.NewEncoder(&text)
	e.SetEscapeHTML(false)
	if err := e.Encode(value); err != nil { // numbers, texts and lists of them
		panic(err)
	}
	return text.Bytes()
}

// strict decodes one line, which may have no other members than value.
func strict(text []byte, value any) error {
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	return d.Decode(value)
}
