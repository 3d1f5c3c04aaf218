package api

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"sabinbook/internal/catalog"
)

const longestReason = 500 // characters

// reasonOf reads the header Change-Reason; it is empty where none is sent.
func reasonOf(h http.Header) (string, []fault) {
	given := h.Values("Change-Reason")
	refuse := func(code, detail, fix string) (string, []fault) {
		return "", []fault{{header: "Change-Reason", code: code, detail: detail, fix: fix}}
	}
	if len(given) == 0 {
		return "", nil
	}
	reason := strings.TrimSpace(given[0])
	switch n := utf8.RuneCountInString(reason); {
	case len(given) > 1:
		return refuse("repeated_header", fmt.Sprintf("is given %d times", len(given)), "give one reason")
	case !plain(reason):
		return refuse("control_character", "holds a control character or is not UTF-8", "write one line of text in UTF-8")
	case n == 0:
		return refuse("too_short", "is empty", "say why the record is changed, or leave the header out")
	case n > longestReason:
		return refuse("too_long", fmt.Sprintf("must have 1 to %d characters, got %d", longestReason, n), "say it shorter")
	}
	return reason, nil
}

// teller is what the audit trail needs to know about a noun; records are values such as a
// catalog.Fill.
type teller interface {
	noun() catalog.Noun
	word() string
	tell(record any) (AnyRecord, error)
	still(record any) error // its rules, as they are now
	metaOf(record any) catalog.Meta
	pathOf(id catalog.ID) string
}

// tellers are the nouns of which there are events.
func (s *Server) tellers() []teller {
	return []teller{s.sources(), s.fills(), s.tests(), s.fabrics(), s.parts(), s.readyMade(), s.designs(), s.rooms(), s.suppliers(), s.offers(), s.prices(), s.exchangeRates()}
}

func (n *noun[R, W]) noun() catalog.Noun { return n.of }

// word is the noun in the words of the wire: "absorption_test".
func (n *noun[R, W]) word() string {
	var word strings.Builder
	for i, r := range n.schema {
		if r >= 'A' && r <= 'Z' && i > 0 {
			word.WriteByte('_')
		}
		word.WriteRune(r)
	}
	return strings.ToLower(word.String())
}

func (n *noun[R, W]) tell(record any) (AnyRecord, error) {
	told, err := onWire(n.encode(record.(R)))
	if err != nil {
		return nil, fmt.Errorf("api: event: %w", err)
	}
	return told.(map[string]any), nil
}

func (n *noun[R, W]) still(record any) error { return n.rules(record.(R)) }

func (n *noun[R, W]) metaOf(record any) catalog.Meta { return n.meta(record.(R)) }

func (n *noun[R, W]) pathOf(id catalog.ID) string { return n.path + string(id) }

// tellerOf finds the noun that is called by a word of the wire.
func (s *Server) tellerOf(word string) (teller, error) {
	var words []string
	for _, t := range s.tellers() {
		if t.word() == word {
			return t, nil
		}
		words = append(words, t.word())
	}
	return nil, &requestError{kind: problemParameter, faults: []fault{{parameter: "noun", code: "unknown_word", detail: "is no noun: " + quoted(word), fix: didYouMean(word, words)}}}
}

func (s *Server) tellerFor(n catalog.Noun) (teller, error) {
	for _, t := range s.tellers() {
		if t.noun() == n {
			return t, nil
		}
	}
	return nil, fmt.Errorf("api: no events of the noun %s are told", n.Name)
}

// encodeEvent encodes an event with its states.
func (s *Server) encodeEvent(e catalog.AuditEvent) (AuditEvent, error) {
	t, err := s.tellerFor(e.Noun)
	if err != nil {
		return AuditEvent{}, err
	}
	w := AuditEvent{ID: string(e.ID), Noun: t.word(), RecordID: string(e.RecordID), RecordRevision: e.RecordRevision, CatalogRevision: e.CatalogRevision,
		Action: string(e.Action), ChangeTime: timeText(e.Time), ChangedBy: e.By, Reason: known(e.Reason), Changed: []string{}}
	for _, state := range []struct {
		record any
		into   **AnyRecord
	}{{e.Before, &w.Before}, {e.After, &w.After}} {
		if state.record == nil {
			continue
		}
		told, err := t.tell(state.record)
		if err != nil {
			return AuditEvent{}, err
		}
		*state.into, w.Slug = &told, knownAs(t.metaOf(state.record).Slug, text)
	}
	if w.Before != nil && w.After != nil {
		for _, d := range differences(nil, "", map[string]any(*w.Before), map[string]any(*w.After)) {
			if !slices.Contains(everyChange, d.Pointer) {
				w.Changed = append(w.Changed, d.Pointer)
			}
		}
	}
	return w, nil
}

// everyChange are the members that each change of a record sets anew.
var everyChange = []string{"/revision", "/update_time", "/updated_by"}

// eventsOf answers a list of events; query makes what was asked a question for the store.
func (s *Server) eventsOf(ctx context.Context, query func(*catalog.Query) error, states bool) (page[AuditEvent], error) {
	var failed error
	encode := func(e catalog.AuditEvent) AuditEvent {
		w, err := s.encodeEvent(e)
		if !states {
			w.Before, w.After = nil, nil
		}
		failed = errors.Join(failed, err)
		return w
	}
	list := func(ctx context.Context, q catalog.Query) (catalog.Page[catalog.AuditEvent], error) {
		if err := query(&q); err != nil {
			return catalog.Page[catalog.AuditEvent]{}, err
		}
		return s.store.AuditEvents(ctx, q)
	}
	p, err := pageOf(ctx, list, encode)
	if err == nil {
		err = failed
	}
	return p, err
}

// ListAuditEvents answers GET /v1/audit-events.
func (s *Server) ListAuditEvents(ctx context.Context, _ ListAuditEventsRequestObject) (ListAuditEventsResponseObject, error) {
	p, err := s.eventsOf(ctx, func(q *catalog.Query) error {
		for _, any := range q.Any {
			for i := range any.Values {
				if any.Field != "noun" {
					break
				}
				t, err := s.tellerOf(any.Values[i])
				if err != nil {
					return err
				}
				any.Values[i] = t.noun().Prefix
			}
		}
		for i := range q.Ranges { // of change_time, the only one
			r := &q.Ranges[i]
			// Times are stored in whole milliseconds: the first one not before the least.
			if err := errors.Join(wholeTime(r.Field+"_min", &r.Min, time.Millisecond-1), wholeTime(r.Field+"_max", &r.Max, 0)); err != nil {
				return err
			}
		}
		return nil
	}, true)
	return ListAuditEvents200JSONResponse{AuditEventPageJSONResponse{AuditEventList{Items: p.items, Next: p.next, TotalCount: p.total}, AuditEventPageResponseHeaders{Link: p.link}}}, err
}

// wholeTime writes the time of a parameter, if there is one, in whole milliseconds in UTC.
func wholeTime(name string, text *string, later time.Duration) error {
	if *text == "" {
		return nil
	}
	t, err := time.Parse(time.RFC3339Nano, *text)
	if err != nil || t.UTC().Year() < 1 || t.UTC().Year() > 9998 {
		return &requestError{kind: problemParameter, faults: []fault{{parameter: name, code: "bad_time", detail: "must be a time of RFC 3339, got " + quoted(*text), fix: "write it like 2026-11-02T00:00:00Z"}}}
	}
	*text = timeText(t.Add(later).Truncate(time.Millisecond))
	return nil
}

// ListHistory answers GET /v1/history.
func (s *Server) ListHistory(ctx context.Context, in ListHistoryRequestObject) (ListHistoryResponseObject, error) {
	t, err := s.tellerOf(in.Params.Noun)
	if err != nil {
		return nil, err
	}
	id, err := s.idOf(ctx, t, in.Params.Record)
	if err != nil {
		return nil, err
	}
	p, err := s.eventsOf(ctx, func(q *catalog.Query) error {
		q.Any = []catalog.AnyOf{{Field: "record", Values: []string{string(id)}}}
		return nil
	}, false)
	return ListHistory200JSONResponse{AuditEventPageJSONResponse{AuditEventList{Items: p.items, Next: p.next, TotalCount: p.total}, AuditEventPageResponseHeaders{Link: p.link}}}, err
}

// idOf is the id of the record that is called ref, also of a deleted one.
func (s *Server) idOf(ctx context.Context, t teller, ref string) (catalog.ID, error) {
	if !refForm.MatchString(ref) {
		return "", catalog.ErrNotFound
	}
	if t.noun() == catalog.NounPrice {
		p, err := s.store.Price(ctx, ref)
		return p.ID, err
	}
	m, err := s.store.Meta(ctx, t.noun(), ref)
	return m.ID, err
}

// event reads an event by an id that a client sent; one that can be none is not looked up.
func (s *Server) event(ctx context.Context, id string) (catalog.AuditEvent, error) {
	if !catalog.NounEvent.Is(id) {
		return catalog.AuditEvent{}, catalog.ErrNotFound
	}
	return s.store.AuditEvent(ctx, id)
}

// GetAuditEvent answers GET /v1/audit-events/{id}.
func (s *Server) GetAuditEvent(ctx context.Context, in GetAuditEventRequestObject) (GetAuditEventResponseObject, error) {
	e, err := s.event(ctx, in.ID)
	if err != nil {
		return nil, err
	}
	w, err := s.encodeEvent(e)
	return GetAuditEvent200JSONResponse{AuditEventItemJSONResponse{Body: w}}, err
}

// RestoreAuditEvent makes a record what it was after an event.
func (s *Server) RestoreAuditEvent(ctx context.Context, in RestoreAuditEventRequestObject) (RestoreAuditEventResponseObject, error) {
	e, err := s.event(ctx, in.ID)
	if err != nil {
		return nil, err
	}
	t, err := s.tellerFor(e.Noun)
	if err != nil {
		return nil, err
	}
	m := catalog.Meta{ID: e.RecordID, Revision: 1} // of a price, which the store refuses
	for attempt := 1; ; attempt++ {
		if e.Noun != catalog.NounPrice {
			if m, err = s.store.Meta(ctx, e.Noun, string(e.RecordID)); err != nil {
				return nil, err
			}
		}
		if err := match(in.Params.IfMatch, m); err != nil {
			return nil, err
		}
		if e.After != nil {
			if err := unfit(t.still(e.After)); err != nil {
				return nil, err
			}
		}
		record, err := s.store.GoBack(ctx, memberOf(ctx), in.ID, m.Revision)
		if repeat, err := again(in.Params.IfMatch, attempt, err); err != nil {
			return nil, err
		} else if repeat {
			continue
		}
		told, err := t.tell(record)
		return RestoreAuditEvent200JSONResponse{AnyRecordItemJSONResponse{told, AnyRecordItemResponseHeaders{ETag: tagOf(t.metaOf(record)), ContentLocation: place(t.pathOf(m.ID))}}}, err
	}
}

// unfit makes the faults of a past state, which no request can mend, a conflict with the rules of now.
func unfit(err error) error {
	var bad *catalog.InvalidError
	if !errors.As(err, &bad) {
		return err
	}
	f := bad.Faults[0]
	return &catalog.ConflictError{Field: strings.TrimPrefix(f.Pointer, "/"), Detail: "the state no longer keeps the rules: " + f.Detail, Fix: "change the record as it is now instead"}
}
