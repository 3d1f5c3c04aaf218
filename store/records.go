package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"time"

	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
)

// noun is what the mechanics of records need to know about one noun.
type noun[T any] struct {
	catalog.Noun
	table    string                 // of the columns that only this noun has
	columns  string                 // of the table, without record_id
	row      func(*T) []any         // places of the columns, in their order
	meta     func(*T) *catalog.Meta // what all nouns share
	figures  func(*T) []figure      // may be nil
	curve    func(*T) *bands.Curve  // may be nil
	lists    []list[T]              // child rows
	links    func(*T) []link        // references to other records, without those of figures
	detach   func(*T)               // copies what links reach through pointers; may be nil
	users    string                 // SELECT of the ids of records that refer to the record $1; may be empty
	freeName bool                   // two records may have the same name
	fields   map[string]field       // for filters and sorting
}

// check is a rule of a record that only the store can see. It is asked after the
// references of the record are resolved.
type check[T any] func(ctx context.Context, tx *sql.Tx, x T) error

const metaColumns = "record.id, record.slug, record.name, record.revision, record.create_time, record.update_time, record.updated_by, record.created_by, record.deleted"

func metaRow(m *catalog.Meta) []any {
	return []any{&m.ID, &m.Slug, &m.Name, &m.Revision, (*Time)(&m.Created), (*Time)(&m.Updated), &m.UpdatedBy, &m.CreatedBy, &m.Deleted}
}

// find returns the record of a noun that is called ref: by its id, its slug or a former
// slug. The three never clash. Deleted records are found too.
func find(ctx context.Context, tx *sql.Tx, n catalog.Noun, ref string) (catalog.Meta, error) {
	var m catalog.Meta
	err := tx.QueryRowContext(ctx, `SELECT `+metaColumns+` FROM record
		WHERE noun = $1 AND (id = $2 OR slug = $2 OR id = (SELECT record_id FROM old_slug WHERE noun = $1 AND slug = $2))`,
		n.Prefix, ref).Scan(metaRow(&m)...)
	if errors.Is(err, sql.ErrNoRows) {
		return m, catalog.ErrNotFound
	}
	return m, err
}

// findLive is find for records that are not deleted.
func findLive(ctx context.Context, tx *sql.Tx, n catalog.Noun, ref string) (catalog.Meta, error) {
	m, err := find(ctx, tx, n, ref)
	if err == nil && m.Deleted {
		err = catalog.ErrNotFound
	}
	return m, err
}

// Meta returns what all records carry, of the record of a noun that is called ref, deleted ones
// among them.
func (s *Store) Meta(ctx context.Context, noun catalog.Noun, ref string) (catalog.Meta, error) {
	var m catalog.Meta
	err := s.readTx(ctx, noun.Name+" "+ref, func(tx *sql.Tx) (err error) {
		m, err = find(ctx, tx, noun, ref)
		return err
	})
	return m, err
}

// now is the time that goes into records.
func (s *Store) now() time.Time { return s.Now().UTC().Truncate(time.Millisecond) }

func (n *noun[T]) add(ctx context.Context, s *Store, by string, x T, checks ...check[T]) (T, error) {
	m := n.meta(&x)
	m.Revision, m.Created, m.UpdatedBy, m.CreatedBy, m.Deleted = 1, s.now(), by, by, false
	m.Updated = m.Created
	var added T
	err := s.writeTx(ctx, "add "+n.Name+" "+string(m.Slug), func(tx *sql.Tx) error {
		id, err := n.insert(ctx, tx, x, checks...)
		if err != nil {
			return err
		}
		if added, err = n.one(ctx, tx, id); err != nil {
			return err
		}
		return tell(ctx, tx, author{by, m.Created}, []catalog.AuditEvent{n.event(catalog.Added, 1, nil, &added)})
	})
	return added, err
}

func (n *noun[T]) get(ctx context.Context, s *Store, ref string) (T, error) {
	var x T
	err := s.readTx(ctx, n.Name+" "+ref, func(tx *sql.Tx) error {
		m, err := findLive(ctx, tx, n.Noun, ref)
		if err != nil {
			return err
		}
		x, err = n.one(ctx, tx, m.ID)
		return err
	})
	return x, err
}

// replace stores x in place of the record ref, if that is at the given revision, or at any
// for 0.
func (n *noun[T]) replace(ctx context.Context, s *Store, by, ref string, revision int64, x T, checks ...check[T]) (T, error) {
	var replaced T
	err := s.writeTx(ctx, "replace "+n.Name+" "+ref, func(tx *sql.Tx) error {
		old, err := findLive(ctx, tx, n.Noun, ref)
		if err != nil {
			return err
		}
		before, err := n.one(ctx, tx, old.ID)
		if err != nil {
			return err
		}
		a := author{by, s.now()}
		if err := n.put(ctx, tx, a, old, revision, x, checks); err != nil {
			return err
		}
		if replaced, err = n.one(ctx, tx, old.ID); err != nil {
			return err
		}
		return tell(ctx, tx, a, []catalog.AuditEvent{n.event(catalog.Changed, n.meta(&replaced).Revision, &before, &replaced)})
	})
	return replaced, err
}

// put stores x in the place of the record old, if that is at the given revision, or at any for 0.
func (n *noun[T]) put(ctx context.Context, tx *sql.Tx, a author, old catalog.Meta, revision int64, x T, checks []check[T]) error {
	if err := bump(ctx, tx, a, old, revision); err != nil {
		return err
	}
	n.own(&x)
	m := n.meta(&x)
	m.ID = old.ID
	if err := n.admit(ctx, tx, &x, checks); err != nil {
		return err
	}
	if m.Slug != old.Slug {
		if err := n.rename(ctx, tx, old, m.Slug); err != nil {
			return err
		}
	}
	if _, err := tx.ExecContext(ctx, `UPDATE record SET slug = $2, name = $3, name_key = $4 WHERE id = $1`,
		string(m.ID), string(m.Slug), m.Name, catalog.NameKey(m.Name)); err != nil {
		return err
	}
	row, err := values(n.row(&x)...)
	if err != nil {
		return err
	}
	if _, err := tx.ExecContext(ctx, `UPDATE `+n.table+` SET (`+n.columns+`) = (`+places(2, len(row))+`) WHERE record_id = $1`,
		append([]any{string(m.ID)}, row...)...); err != nil {
		return err
	}
	if err := n.clearChildren(ctx, tx, m.ID); err != nil {
		return err
	}
	return n.insertChildren(ctx, tx, &x)
}

// remove marks the record as deleted, unless live records refer to it.
func (n *noun[T]) remove(ctx context.Context, s *Store, by, ref string, revision int64) error {
	return s.writeTx(ctx, "delete "+n.Name+" "+ref, func(tx *sql.Tx) error {
		m, err := findLive(ctx, tx, n.Noun, ref)
		if err != nil {
			return err
		}
		before, err := n.one(ctx, tx, m.ID)
		if err != nil {
			return err
		}
		a := author{by, s.now()}
		if err := bump(ctx, tx, a, m, revision); err != nil {
			return err
		}
		if err := n.unused(ctx, tx, m); err != nil {
			return err
		}
		if err := setDeleted(ctx, tx, m.ID, true); err != nil {
			return err
		}
		return tell(ctx, tx, a, []catalog.AuditEvent{n.event(catalog.Deleted, m.Revision+1, &before, nil)})
	})
}

// restore takes the mark of deletion away. A record without it stays as it is.
func (n *noun[T]) restore(ctx context.Context, s *Store, by, ref string, checks ...check[T]) (T, error) {
	var x T
	err := s.writeTx(ctx, "restore "+n.Name+" "+ref, func(tx *sql.Tx) error {
		m, err := find(ctx, tx, n.Noun, ref)
		if err != nil {
			return err
		}
		if x, err = n.one(ctx, tx, m.ID); err != nil || !m.Deleted {
			return err
		}
		if err := resolve(ctx, tx, n.allLinks(&x)); err != nil {
			return cannotReturn(err)
		}
		for _, c := range checks {
			if err := c(ctx, tx, x); err != nil {
				return cannotReturn(err)
			}
		}
		a := author{by, s.now()}
		if err := bump(ctx, tx, a, m, 0); err != nil {
			return err
		}
		if err := setDeleted(ctx, tx, m.ID, false); err != nil {
			return err
		}
		if x, err = n.one(ctx, tx, m.ID); err != nil {
			return err
		}
		return tell(ctx, tx, a, []catalog.AuditEvent{n.event(catalog.Restored, m.Revision+1, nil, &x)})
	})
	return x, err
}

// cannotReturn makes the faults of a deleted record, which nobody can edit now, a conflict
// with what happened since.
func cannotReturn(err error) error {
	var bad *catalog.InvalidError
	if !errors.As(err, &bad) {
		return err
	}
	f := bad.Faults[0]
	return &catalog.ConflictError{Field: strings.TrimPrefix(f.Pointer, "/"), Detail: f.Detail, Fix: "bring back what the record needs first, then restore the record"}
}

// insert stores a new record. Its meta is kept; without an id it gets one.
func (n *noun[T]) insert(ctx context.Context, tx *sql.Tx, x T, checks ...check[T]) (catalog.ID, error) {
	n.own(&x)
	m := n.meta(&x)
	if err := newOrGiven(ctx, tx, n.Noun, "record", &m.ID); err != nil {
		return "", err
	}
	if err := n.admit(ctx, tx, &x, checks); err != nil {
		return "", err
	}
	if _, err := tx.ExecContext(ctx, `INSERT INTO record (id, noun, slug, name, name_key, revision, create_time, update_time, updated_by, created_by, deleted)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)`,
		string(m.ID), n.Prefix, string(m.Slug), m.Name, catalog.NameKey(m.Name), m.Revision, Time(m.Created), Time(m.Updated), m.UpdatedBy, m.CreatedBy, m.Deleted); err != nil {
		return "", err
	}
	row, err := values(n.row(&x)...)
	if err != nil {
		return "", err
	}
	if err := insertRows(ctx, tx, n.table, "record_id, "+n.columns, [][]any{append([]any{string(m.ID)}, row...)}); err != nil {
		return "", err
	}
	return m.ID, n.insertChildren(ctx, tx, &x)
}

// newOrGiven makes an id where none is given, and refuses a given one that is malformed
// or taken in the table.
func newOrGiven(ctx context.Context, tx *sql.Tx, n catalog.Noun, table string, id *catalog.ID) (err error) {
	if *id == "" {
		*id, err = newID(n)
		return err
	}
	if !n.Is(string(*id)) {
		return invalid("/id", "bad_id", fmt.Sprintf("is no id of the noun %s: %q", n.Name, string(*id)), "leave it out: the store makes ids")
	}
	var taken int
	if err := tx.QueryRowContext(ctx, `SELECT count(*) FROM `+table+` WHERE id = $1`, string(*id)).Scan(&taken); err != nil {
		return err
	}
	if taken > 0 {
		return &catalog.ConflictError{Field: "id", Detail: fmt.Sprintf("a %s with the id %s is stored already, perhaps deleted", n.Name, *id), Fix: "leave the id out, or change the stored record"}
	}
	return nil
}

// own gives x copies of everything that resolving its references changes, so that the
// caller's record stays as it is.
func (n *noun[T]) own(x *T) {
	if n.figures != nil {
		for _, f := range n.figures(x) {
			if v := f.get(); v != nil {
				f.set(*v)
			}
		}
	}
	for _, l := range n.lists {
		l.detach(x)
	}
	if n.detach != nil {
		n.detach(x)
	}
}

// admit resolves the references of x and checks it against the stored records.
func (n *noun[T]) admit(ctx context.Context, tx *sql.Tx, x *T, checks []check[T]) error {
	if err := resolve(ctx, tx, n.allLinks(x)); err != nil {
		return err
	}
	for _, c := range checks {
		if err := c(ctx, tx, *x); err != nil {
			return err
		}
	}
	return n.free(ctx, tx, *n.meta(x))
}

// free returns a *catalog.ConflictError when another record of the noun has the slug, now
// or formerly, or the name. Deleted records count: they may be restored.
func (n *noun[T]) free(ctx context.Context, tx *sql.Tx, m catalog.Meta) error {
	for _, c := range []struct {
		skip                  bool
		field, condition, key string
		detail                string
	}{
		{false, "slug", `slug = $3`, string(m.Slug), "is the slug of"},
		{false, "slug", `id IN (SELECT record_id FROM old_slug WHERE noun = $1 AND slug = $3)`, string(m.Slug), "is a former slug, which still leads there, of"},
		{n.freeName, "name", `name_key = $3`, catalog.NameKey(m.Name), "is, but for case and spaces, the name of"},
	} {
		if c.skip {
			continue
		}
		var other catalog.Slug
		var deleted bool
		err := tx.QueryRowContext(ctx, `SELECT slug, deleted FROM record WHERE noun = $1 AND id <> $2 AND `+c.condition,
			n.Prefix, string(m.ID), c.key).Scan(&other, &deleted)
		switch {
		case errors.Is(err, sql.ErrNoRows):
			continue
		case err != nil:
			return err
		case deleted:
			return &catalog.ConflictError{Field: c.field, Detail: fmt.Sprintf("%s the deleted %s %s", c.detail, n.Name, other), Fix: "restore that record, or choose another " + c.field}
		default:
			return &catalog.ConflictError{Field: c.field, Detail: fmt.Sprintf("%s the %s %s", c.detail, n.Name, other), Fix: "choose another " + c.field + ", or change that record"}
		}
	}
	return nil
}

// rename keeps the old slug as a former one. A record may go back to a former slug.
func (n *noun[T]) rename(ctx context.Context, tx *sql.Tx, old catalog.Meta, slug catalog.Slug) error {
	if _, err := tx.ExecContext(ctx, `DELETE FROM old_slug WHERE noun = $1 AND slug = $2`, n.Prefix, string(slug)); err != nil {
		return err
	}
	_, err := tx.ExecContext(ctx, `INSERT INTO old_slug (noun, slug, record_id) VALUES ($1, $2, $3)`, n.Prefix, string(old.Slug), string(old.ID))
	return err
}

// bump raises the revision of the record m, if it is the given one, or any for 0. The
// check and the write are one statement.
func bump(ctx context.Context, tx *sql.Tx, a author, m catalog.Meta, revision int64) error {
	r, err := tx.ExecContext(ctx, `UPDATE record SET revision = revision + 1, update_time = $3, updated_by = $4
		WHERE id = $1 AND (revision = $2 OR CAST($2 AS bigint) = 0)`, string(m.ID), revision, Time(a.now), a.by)
	if err != nil {
		return err
	}
	changed, err := r.RowsAffected()
	if err == nil && changed == 0 {
		err = &catalog.StaleError{Current: m}
	}
	return err
}

func setDeleted(ctx context.Context, tx *sql.Tx, id catalog.ID, deleted bool) error {
	_, err := tx.ExecContext(ctx, `UPDATE record SET deleted = $2 WHERE id = $1`, string(id), deleted)
	return err
}

const usersNamed = 3 // records that a refusal to delete names

// unused returns a *catalog.ConflictError when live records refer to the record m.
func (n *noun[T]) unused(ctx context.Context, tx *sql.Tx, m catalog.Meta) error {
	if n.users == "" {
		return nil
	}
	rows, err := tx.QueryContext(ctx, `SELECT noun, slug FROM record WHERE NOT deleted AND id <> $1 AND id IN (`+n.users+`)
		ORDER BY noun, slug LIMIT $2`, string(m.ID), usersNamed+1)
	if err != nil {
		return err
	}
	defer rows.Close()
	var users []string
	for rows.Next() {
		var prefix, slug string
		if err := rows.Scan(&prefix, &slug); err != nil {
			return err
		}
		if len(users) == usersNamed {
			slug = "others"
		} else {
			slug = nounNames[prefix] + " " + slug
		}
		users = append(users, slug)
	}
	if err := rows.Err(); err != nil || len(users) == 0 {
		return err
	}
	return &catalog.ConflictError{Field: "id", Detail: fmt.Sprintf("the %s %s is used by %s", n.Name, m.Slug, strings.Join(users, ", ")), Fix: "change or delete those first"}
}

// recordNouns are the nouns of the table record.
var recordNouns = []catalog.Noun{catalog.NounSource, catalog.NounFill, catalog.NounTest, catalog.NounFabric, catalog.NounPart,
	catalog.NounReadyMade, catalog.NounDesign, catalog.NounRoom, catalog.NounSupplier, catalog.NounOffer, catalog.NounRate}

// nounNames tells the words for the prefixes of the table record.
var nounNames = func() map[string]string {
	names := map[string]string{}
	for _, n := range recordNouns {
		names[n.Prefix] = n.Name
	}
	return names
}()

// one reads the record with an id, which is stored.
func (n *noun[T]) one(ctx context.Context, tx *sql.Tx, id catalog.ID) (T, error) {
	list, err := n.load(ctx, tx, `= $1`, string(id))
	if err == nil && len(list) != 1 {
		err = catalog.ErrNotFound
	}
	if err != nil {
		var none T
		return none, err
	}
	return list[0], nil
}

// live is the set of all records of a noun, the argument $1, that are not deleted.
const live = `IN (SELECT id FROM record WHERE noun = $1 AND NOT deleted)`

// load reads the records whose id is in the set, an SQL condition like "= $1", in no
// order. The number of queries does not grow with the number of records.
func (n *noun[T]) load(ctx context.Context, tx *sql.Tx, set string, args ...any) ([]T, error) {
	var list []T
	err := eachRow(ctx, tx, `SELECT `+metaColumns+`, `+n.columns+` FROM record JOIN `+n.table+` ON record_id = record.id WHERE record.id `+set, args,
		func(scan func(...any) error) error {
			var x T
			if err := scan(append(metaRow(n.meta(&x)), n.row(&x)...)...); err != nil {
				return err
			}
			list = append(list, x)
			return nil
		})
	if err != nil || len(list) == 0 {
		return list, err
	}
	of := make(map[catalog.ID]*T, len(list))
	for i := range list {
		of[n.meta(&list[i]).ID] = &list[i]
	}
	return list, n.loadChildren(ctx, tx, of, set, args)
}

// eachRow calls read for each row of a query with a function that scans it.
func eachRow(ctx context.Context, tx *sql.Tx, query string, args []any, read func(scan func(...any) error) error) error {
	rows, err := tx.QueryContext(ctx, query, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := read(rows.Scan); err != nil {
			return err
		}
	}
	return rows.Err()
}
