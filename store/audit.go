package store

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"sabinbook/internal/catalog"
)

// Every stored change of a record leaves one event in the audit trail, written in the
// transaction of the change by the mechanics of records. The record before and after it is
// kept as JSON with the names of the fields of package catalog, which so must stay, or be
// read under their old names too.

type reasonKey struct{}

// Because returns a context whose changes are stored with a reason.
func (s *Store) Because(ctx context.Context, reason string) context.Context {
	return context.WithValue(ctx, reasonKey{}, reason)
}

const eventColumns = `id, noun, record_id, record_revision, catalog_revision, action, change_time, changed_by, reason, before_json, after_json`

// eventRow names the columns but for the last two.
func eventRow(e *catalog.AuditEvent) []any {
	return []any{&e.ID, &e.Noun.Prefix, &e.RecordID, &e.RecordRevision, &e.CatalogRevision, &e.Action, (*Time)(&e.Time), &e.By, &e.Reason}
}

var eventFields = map[string]field{
	"noun":             own(text, "noun"),
	"record":           naming("record_id", recordNouns...),
	"changed_by":       own(text, "changed_by"),
	"action":           own(text, "action"),
	"change_time":      own(instant, "change_time"),
	"catalog_revision": own(integer, "catalog_revision"),
}

// newestFirst is the order of events: ids made in one transaction ascend, and one transaction
// has one revision of the catalog. The clock takes no part.
var newestFirst = []catalog.SortKey{{Field: "catalog_revision", Down: true}, {Field: "id", Down: true}}

// author is who changes records and when.
type author struct {
	by  string
	now time.Time
}

// tell stores events of which noun, record, action, before and after are known. They are told in
// the order of the list.
func tell(ctx context.Context, tx *sql.Tx, a author, events []catalog.AuditEvent) error {
	at, err := revision(ctx, tx)
	if err != nil {
		return err
	}
	reason, _ := ctx.Value(reasonKey{}).(string)
	rows := make([][]any, len(events))
	for i, e := range events {
		e.CatalogRevision, e.Time, e.By, e.Reason = at, a.now, a.by, reason
		if e.ID, err = newID(catalog.NounEvent); err != nil {
			return err
		}
		if rows[i], err = values(eventRow(&e)...); err != nil {
			return err
		}
		for _, record := range []any{e.Before, e.After} {
			if record == nil {
				rows[i] = append(rows[i], nil)
				continue
			}
			text, err := json.Marshal(record)
			if err != nil {
				return fmt.Errorf("the %s %s as text: %w", e.Noun.Name, e.RecordID, err)
			}
			rows[i] = append(rows[i], string(text))
		}
	}
	return insertRows(ctx, tx, "audit_event", eventColumns, rows)
}

// event tells what an action did to a record, of which one state at least is given.
func (n *noun[T]) event(action catalog.Action, revision int64, before, after *T) catalog.AuditEvent {
	e := catalog.AuditEvent{Noun: n.Noun, RecordRevision: revision, Action: action}
	if before != nil {
		e.Before, e.RecordID = *before, n.meta(before).ID
	}
	if after != nil {
		e.After, e.RecordID = *after, n.meta(after).ID
	}
	return e
}

// tellAll stores the events of records that are stored now; before holds those that were stored
// before, by their ids, and the others are new.
func (n *noun[T]) tellAll(ctx context.Context, tx *sql.Tx, a author, before map[catalog.ID]*T, ids []catalog.ID) error {
	after, err := n.all(ctx, tx, ids)
	if err != nil || len(after) == 0 {
		return err
	}
	events := make([]catalog.AuditEvent, len(after))
	for i := range after {
		m := n.meta(&after[i])
		action := catalog.Added
		if before[m.ID] != nil {
			action = catalog.Changed
		}
		events[i] = n.event(action, m.Revision, before[m.ID], &after[i])
	}
	return tell(ctx, tx, a, events)
}

// all reads the records with the ids, in their order. The number of queries grows with the
// hundreds of records.
func (n *noun[T]) all(ctx context.Context, tx *sql.Tx, ids []catalog.ID) ([]T, error) {
	var all []T
	for chunk := range slices.Chunk(ids, rowsAtOnce) {
		list, err := n.inOrder(ctx, tx, chunk)
		if err != nil {
			return nil, err
		}
		all = append(all, list...)
	}
	return all, nil
}

// tellPrices stores the events of prices that were added.
func tellPrices(ctx context.Context, tx *sql.Tx, a author, added []catalog.Price) error {
	if len(added) == 0 {
		return nil
	}
	events := make([]catalog.AuditEvent, len(added))
	for i, p := range added {
		events[i] = catalog.AuditEvent{Noun: catalog.NounPrice, RecordID: p.ID, RecordRevision: 1, Action: catalog.Added, After: p}
	}
	return tell(ctx, tx, a, events)
}

// keeper is what the audit trail needs to know about a noun to read its events.
type keeper interface {
	about() catalog.Noun
	read(text string) (any, error)
	// goBack gives the stored record the state after, as replace and restore would, and returns
	// it as it is then.
	goBack(ctx context.Context, tx *sql.Tx, a author, revision int64, after any) (any, error)
}

// kept is the keeper of a noun of records; the checks are those of replacing and restoring one.
type kept[T any] struct {
	*noun[T]
	checks []check[T]
}

func keep[T any](n *noun[T], checks ...check[T]) keeper { return kept[T]{n, checks} }

// keepers are those of all nouns that leave events.
var keepers = func() map[string]keeper {
	all := map[string]keeper{}
	for _, k := range []keeper{keep(sources), keep(fills, keepsOfferedSizes), keep(tests), keep(fabrics), keep(parts, keepsOfferedLengths), keep(readyMade),
		keep(designs), keep(rooms), keep(suppliers), keep(offers, fitsItem, pricesStandOnLive), keep(rates), keptPrices{}} {
		all[k.about().Prefix] = k
	}
	return all
}()

func (k kept[T]) about() catalog.Noun { return k.Noun }

func (k kept[T]) read(text string) (any, error) { return readRecord[T](text) }

// readRecord reads a record as it was told. A member that the noun does not have is an error:
// leaving it out would show a state that never was.
func readRecord[T any](text string) (any, error) {
	var x T
	d := json.NewDecoder(bytes.NewReader([]byte(text)))
	d.DisallowUnknownFields()
	err := d.Decode(&x)
	return x, err
}

func (k kept[T]) goBack(ctx context.Context, tx *sql.Tx, a author, revision int64, after any) (any, error) {
	x := after.(T)
	old, err := find(ctx, tx, k.Noun, string(k.meta(&x).ID))
	if err != nil {
		return nil, err
	}
	before, err := k.one(ctx, tx, old.ID)
	if err != nil {
		return nil, err
	}
	if err := k.put(ctx, tx, a, old, revision, x, k.checks); err != nil {
		return nil, cannotReturn(err)
	}
	action, was := catalog.Changed, &before
	if old.Deleted {
		if err := setDeleted(ctx, tx, old.ID, false); err != nil {
			return nil, err
		}
		action, was = catalog.Restored, nil
	}
	now, err := k.one(ctx, tx, old.ID)
	if err != nil {
		return nil, err
	}
	return now, tell(ctx, tx, a, []catalog.AuditEvent{k.event(action, k.meta(&now).Revision, was, &now)})
}

// keptPrices is the keeper of prices.
type keptPrices struct{}

func (keptPrices) about() catalog.Noun { return catalog.NounPrice }

func (keptPrices) read(text string) (any, error) { return readRecord[catalog.Price](text) }

func (keptPrices) goBack(context.Context, *sql.Tx, author, int64, any) (any, error) {
	return nil, &catalog.ConflictError{Field: "id", Detail: "is the event of a price, and prices are only ever added", Fix: "add a price that corrects the wrong one: name that in corrects_id"}
}

// AuditEvent returns the event with an id.
func (s *Store) AuditEvent(ctx context.Context, id string) (catalog.AuditEvent, error) {
	var e catalog.AuditEvent
	err := s.readTx(ctx, "audit event "+id, func(tx *sql.Tx) (err error) {
		e, err = oneEvent(ctx, tx, catalog.ID(id))
		return err
	})
	return e, err
}

// AuditEvents returns a page of the events, the newest first unless another order is asked for.
func (s *Store) AuditEvents(ctx context.Context, q catalog.Query) (catalog.Page[catalog.AuditEvent], error) {
	if len(q.Sort) == 0 {
		q.Sort = newestFirst
	}
	var page catalog.Page[catalog.AuditEvent]
	err := s.readTx(ctx, "audit events", func(tx *sql.Tx) error {
		sel := selection{from: `audit_event`, where: `1 = 1`, id: `id`, fields: eventFields}
		ids, next, total, err := sel.page(ctx, tx, q)
		page.Next, page.Total = next, total
		if err != nil {
			return err
		}
		page.Items, err = eventsInOrder(ctx, tx, ids)
		return err
	})
	return page, err
}

// GoBack makes a record what it was after the event with an id, as a new change: the record must be at
// the given revision, 0 stands for any, and what it refers to must be live. A deleted record is brought
// back. It returns the record, a value such as a Fill. The caller has checked the state by Validate.
func (s *Store) GoBack(ctx context.Context, by, id string, revision int64) (any, error) {
	var x any
	err := s.writeTx(ctx, "go back to "+id, func(tx *sql.Tx) error {
		e, err := oneEvent(ctx, tx, catalog.ID(id))
		if err != nil {
			return err
		}
		if e.After == nil {
			return noState(ctx, tx, e)
		}
		x, err = keepers[e.Noun.Prefix].goBack(ctx, tx, author{by, s.now()}, revision, e.After)
		return err
	})
	return x, err
}

// noState refuses to go back to a deletion.
func noState(ctx context.Context, tx *sql.Tx, e catalog.AuditEvent) error {
	clash := &catalog.ConflictError{Field: "id", Detail: fmt.Sprintf("is the deletion of the %s %s, which left no state to go back to", e.Noun.Name, e.RecordID),
		Fix: "nothing earlier was kept; restore the record as it was when deleted, by its own restore"}
	var earlier catalog.ID
	err := tx.QueryRowContext(ctx, `SELECT id FROM audit_event WHERE record_id = $1 AND (catalog_revision < $2 OR catalog_revision = $2 AND id < $3)
		ORDER BY catalog_revision DESC, id DESC LIMIT 1`, string(e.RecordID), e.CatalogRevision, string(e.ID)).Scan(&earlier)
	switch {
	case err == nil:
		clash.Fix = fmt.Sprintf("take the event before it, %s", earlier)
	case !errors.Is(err, sql.ErrNoRows):
		return err
	}
	return clash
}

func oneEvent(ctx context.Context, tx *sql.Tx, id catalog.ID) (catalog.AuditEvent, error) {
	list, err := eventsInOrder(ctx, tx, []catalog.ID{id})
	if err == nil && len(list) == 0 {
		err = catalog.ErrNotFound
	}
	if err != nil {
		return catalog.AuditEvent{}, err
	}
	return list[0], nil
}

func eventsInOrder(ctx context.Context, tx *sql.Tx, ids []catalog.ID) ([]catalog.AuditEvent, error) {
	if len(ids) == 0 {
		return nil, nil
	}
	args := make([]any, len(ids))
	at := map[catalog.ID]int{}
	for i, id := range ids {
		args[i], at[id] = string(id), i
	}
	var list []catalog.AuditEvent
	err := eachRow(ctx, tx, `SELECT `+eventColumns+` FROM audit_event WHERE id IN (`+places(1, len(ids))+`)`, args, func(scan func(...any) error) error {
		var e catalog.AuditEvent
		var before, after sql.NullString
		if err := scan(append(eventRow(&e), &before, &after)...); err != nil {
			return err
		}
		k := keepers[e.Noun.Prefix]
		if k == nil {
			return fmt.Errorf("the event %s is of an unknown noun %q", e.ID, e.Noun.Prefix)
		}
		e.Noun = k.about()
		for _, state := range []struct {
			text sql.NullString
			into *any
		}{{before, &e.Before}, {after, &e.After}} {
			if !state.text.Valid {
				continue
			}
			var err error
			if *state.into, err = k.read(state.text.String); err != nil {
				return fmt.Errorf("the event %s: %w", e.ID, err)
			}
		}
		list = append(list, e)
		return nil
	})
	slices.SortFunc(list, func(a, b catalog.AuditEvent) int { return at[a.ID] - at[b.ID] })
	return list, err
}
