package store_test

import (
	"encoding/json"
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"sabinbook/internal/catalog"
	"sabinbook/internal/catalogtest"
	"sabinbook/internal/exchange"
	"sabinbook/store"
	"sabinbook/store/storetest"
)

// trail returns all events, the oldest first, taken in pages.
func trail(t testing.TB, s *store.Store) []catalog.AuditEvent {
	t.Helper()
	var all []catalog.AuditEvent
	for q := (catalog.Query{Limit: 7, Count: true}); ; {
		page, err := s.AuditEvents(ctx, q)
		must(t, err)
		all = append(page.Items, all...)
		for i, j := 0, len(page.Items)-1; i < j; i, j = i+1, j-1 {
			all[i], all[j] = all[j], all[i]
		}
		if q.After = page.Next; len(q.After) == 0 {
			if page.Total != len(all) {
				t.Errorf("%d events are listed and %d counted", len(all), page.Total)
			}
			return all
		}
	}
}

// folded are the records that events leave, in the form of a snapshot of one store.
func folded(t testing.TB, events []catalog.AuditEvent) catalog.Snapshot {
	t.Helper()
	last := map[catalog.ID]any{}
	for _, e := range events {
		if e.Before != nil {
			if d := cmp.Diff(last[e.RecordID], e.Before, same); d != "" {
				t.Fatalf("%s begins with another state than the event before it left: %s", e.ID, d)
			}
		}
		last[e.RecordID] = e.After
	}
	var all catalog.Snapshot
	for _, x := range last {
		switch r := x.(type) {
		case catalog.Source:
			all.Sources = append(all.Sources, r)
		case catalog.Fill:
			all.Fills = append(all.Fills, r)
		case catalog.AbsorptionTest:
			all.Tests = append(all.Tests, r)
		case catalog.Fabric:
			all.Fabrics = append(all.Fabrics, r)
		case catalog.Part:
			all.Parts = append(all.Parts, r)
		case catalog.ReadyMadePanel:
			all.ReadyMade = append(all.ReadyMade, r)
		case catalog.Design:
			all.Designs = append(all.Designs, r)
		case catalog.Room:
			all.Rooms = append(all.Rooms, r)
		case catalog.Supplier:
			all.Suppliers = append(all.Suppliers, r)
		case catalog.Offer:
			all.Offers = append(all.Offers, r)
		case catalog.ExchangeRate:
			all.Rates = append(all.Rates, r)
		case catalog.Price:
			if last[r.OfferID] != nil { // as in a snapshot
				all.Prices = append(all.Prices, r)
			}
		case nil: // deleted
		default:
			t.Fatalf("an event of a %T", x)
		}
	}
	all.Sort()
	return all
}

func asStored(t testing.TB, s *store.Store) catalog.Snapshot {
	t.Helper()
	all, err := s.Snapshot(ctx)
	must(t, err)
	all.Revision = 0
	return all
}

// Whatever records hold comes back from the trail: random catalogs of every noun, stored as a whole.
func TestTheTrailHoldsEveryNoun(t *testing.T) {
	for i := range uint64(times(15)) {
		for engine, s := range engines(t) {
			want := catalogtest.Random(i)
			must(t, s.AddAll(s.Because(ctx, "first stock"), "keeper", want))
			events := trail(t, s)
			equal(t, fmt.Sprint(engine, " catalog ", i), asStored(t, s), folded(t, events))
			for _, e := range events {
				if e.Action != catalog.Added || e.By != "keeper" || e.Reason != "first stock" || e.CatalogRevision != 1 {
					t.Fatalf("%+v", e)
				}
			}
		}
		if t.Failed() {
			return
		}
	}
}

// An import leaves one event for each record that its plan creates or updates, with its state before and after, all
// of one revision of the catalog; the events, folded, are the catalog.
func TestImportsAreTold(t *testing.T) {
	created, updated := 0, 0
	for i := range uint64(times(6)) {
		base := catalogtest.Random(3 * i)
		there := catalogtest.Merged(catalogtest.Variant(i, base), catalogtest.Random(3*i+1))
		for engine, s := range engines(t) {
			must(t, s.AddAll(ctx, "keeper", base))
			p := planned(t, s, there, exchange.Take)
			if p.Blocked {
				continue
			}
			old := len(trail(t, s))
			at, err := s.ApplyImport(s.Because(ctx, "from the neighbours"), "importer", p.Revision, p.Changes)
			must(t, err)
			all := trail(t, s)
			count := map[catalog.Action]int{}
			for _, e := range all[old:] {
				count[e.Action]++
				if e.By != "importer" || e.Reason != "from the neighbours" || e.CatalogRevision != at || e.After == nil || (e.Before != nil) != (e.Action == catalog.Changed) {
					t.Fatalf("%s %d: %+v", engine, i, e)
				}
			}
			if at != p.Revision+1 || count[catalog.Added] != p.Count[exchange.Created] || count[catalog.Changed] != p.Count[exchange.Updated] || len(count) > 2 {
				t.Errorf("%s %d: events %v at revision %d, plan %v made at %d", engine, i, count, at, p.Count, p.Revision)
			}
			created, updated = created+count[catalog.Added], updated+count[catalog.Changed]
			equal(t, fmt.Sprint(engine, " import ", i), asStored(t, s), folded(t, all))
		}
	}
	if created == 0 || updated == 0 {
		t.Errorf("%d records were created and %d updated", created, updated)
	}
}

// One event for each stored change of a random sequence, none for what was refused or only tried; the
// events, folded, are the catalog.
func TestOneEventForEachStoredChange(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		filled(t, s)
		changes := len(trail(t, s))
		n := 0
		rapid.Check(t, func(rt *rapid.T) {
			for range rapid.IntRange(1, 8).Draw(rt, "steps") {
				n++
				in, dry := ctx, rapid.Bool().Draw(rt, "dry")
				why := rapid.SampledFrom([]string{"", "wrong – “Ω”"}).Draw(rt, "why")
				if why != "" {
					in = s.Because(in, why)
				}
				if dry {
					in = s.Trial(in)
				}
				wrong := rapid.Bool().Draw(rt, "wrong")
				revision := int64(0)
				if wrong {
					revision = 1 << 40
				}
				f := anyFill(rt)
				f.Meta = catalog.Meta{Slug: catalog.Slug(fmt.Sprint("fill-", n)), Name: fmt.Sprint("Fill ", n)}
				ref := "loose-cotton"
				var err error
				action := rapid.SampledFrom([]string{"add", "replace", "delete", "restore", "price"}).Draw(rt, "action")
				switch action {
				case "add":
					if wrong {
						f.SourceID = "nowhere"
					}
					_, err = s.AddFill(in, "ada", f)
				case "replace":
					f.Slug, f.Name = "loose-cotton", "Loose cotton"
					_, err = s.ReplaceFill(in, "ada", ref, revision, f)
				case "delete":
					err = s.DeleteFill(in, "ada", ref, revision)
				case "restore":
					var m catalog.Meta
					m, err = s.Meta(ctx, catalog.NounFill, ref)
					must(t, err)
					if !m.Deleted { // nothing is to be done
						continue
					}
					_, err = s.RestoreFill(in, "ada", ref)
				case "price":
					p := samples().Prices[0]
					p.ID, p.Corrects = "", ""
					if wrong {
						p.OfferID = "nothing"
					}
					_, err = s.AddPrices(in, "ada", []catalog.Price{p, p})
					if err == nil && !dry {
						changes++
					}
				}
				if err == nil && !dry {
					changes++
				}
				events := trail(t, s)
				if len(events) != changes {
					t.Fatalf("%d events after %d changes; %s, dry %t, wrong %t: %v", len(events), changes, action, dry, wrong, err)
				}
				if last := events[len(events)-1]; err == nil && !dry && (last.Reason != why || last.By != "ada") {
					t.Fatalf("%+v", last)
				}
			}
		})
		equal(t, "the folded events", asStored(t, s), folded(t, trail(t, s)))
	})
}

// The database itself keeps events from being changed, whoever asks.
func TestEventsAreOnlyEverAdded(t *testing.T) {
	eachURL(t, func(t *testing.T, url string) {
		s := opened(t, url)
		must(t, s.Migrate(ctx))
		filled(t, s)
		before := trail(t, s)
		statements := []string{`UPDATE audit_event SET reason = 'another'`, `DELETE FROM audit_event`}
		if strings.HasPrefix(url, "postgres") {
			statements = append(statements, `TRUNCATE audit_event`)
		}
		for _, statement := range statements {
			if _, err := raw(t, url).ExecContext(ctx, statement); err == nil || !strings.Contains(err.Error(), "only ever added") {
				t.Errorf("%s: %v", statement, err)
			}
		}
		equal(t, "events", before, trail(t, s))
	})
}

// Every noun goes back to what it was, live and deleted.
func TestRecordsGoBack(t *testing.T) {
	everyNoun(t, func(t *testing.T, n behaviour, s *store.Store) { n.testGoingBack(t, s) })
}

func (n noun[T]) testGoingBack(t *testing.T, s *store.Store) {
	first := n.put(t, s, n.sample(2))
	id := string(n.meta(&first).ID)
	added := ofRecord(t, s, id)[0]
	x := n.sample(2)
	n.meta(&x).Name, n.meta(&x).Slug = "Another name", catalog.Slug(n.name+"-other")
	second, err := n.replace(s, ctx, "bo", id, 1, x)
	must(t, err)
	if _, err := s.GoBack(ctx, "cy", string(added.ID), 1); err == nil || !strings.Contains(err.Error(), "revision 2") {
		t.Errorf("a stale change: %v", err)
	}
	_, err = s.GoBack(s.Trial(ctx), "cy", string(added.ID), 2)
	must(t, err)
	back, err := s.GoBack(s.Because(ctx, "it was right"), "cy", string(added.ID), 2)
	must(t, err)
	check := func(what string, revision int64, want T, got any) {
		t.Helper()
		r := got.(T)
		m, w := n.meta(&r), *n.meta(&want)
		if m.Revision != revision || m.UpdatedBy != "cy" || m.CreatedBy != "ada" {
			t.Errorf("%s: %+v", what, *m)
		}
		w.Revision, w.Updated, w.UpdatedBy = m.Revision, m.Updated, m.UpdatedBy
		*n.meta(&want) = w
		equal(t, what, want, r)
	}
	check("gone back", 3, first, back)
	must(t, n.remove(s, ctx, "bo", id, 3))
	events := ofRecord(t, s, id)
	deletion, change := events[0], events[2]
	if _, err := s.GoBack(ctx, "cy", string(deletion.ID), 0); clashIn(err) != "id" || !strings.Contains(fmt.Sprint(err), "deletion") {
		t.Errorf("to a deletion: %v", err)
	}
	back, err = s.GoBack(ctx, "cy", string(change.ID), 4)
	must(t, err)
	check("brought back", 5, second, back)
	events = ofRecord(t, s, id)
	var actions []catalog.Action
	for i, e := range events {
		actions = append(actions, e.Action)
		if e.RecordRevision != int64(len(events)-i) {
			t.Errorf("event %d tells of revision %d", i, e.RecordRevision)
		}
	}
	equal(t, "actions", []catalog.Action{catalog.Restored, catalog.Deleted, catalog.Changed, catalog.Changed, catalog.Added}, actions)
	if events[2].Reason != "it was right" {
		t.Errorf("the reason is %q", events[2].Reason)
	}
}

// ofRecord returns the events of a record, the newest first.
func ofRecord(t testing.TB, s *store.Store, ref string) []catalog.AuditEvent {
	t.Helper()
	page, err := s.AuditEvents(ctx, catalog.Query{Any: []catalog.AnyOf{{Field: "record", Values: []string{ref}}}})
	must(t, err)
	return page.Items
}

// A past state that no longer fits is refused, and so are prices.
func TestWhatNoLongerFitsStaysAsItIs(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		filled(t, s)
		note, err := s.AddSource(ctx, "ada", catalog.Source{Meta: catalog.Meta{Slug: "old-note", Name: "Old note"}, Citation: "A leaflet", Licence: "facts only", Evidence: catalog.Declared})
		must(t, err)
		f, err := s.Fill(ctx, "loose-cotton")
		must(t, err)
		f.SourceID = note.ID
		_, err = s.ReplaceFill(ctx, "ada", "loose-cotton", 0, f)
		must(t, err)
		past := ofRecord(t, s, "loose-cotton")[0]
		f.SourceID = labBook
		_, err = s.ReplaceFill(ctx, "ada", "loose-cotton", 0, f)
		must(t, err)
		must(t, s.DeleteSource(ctx, "ada", "old-note", 0))
		count := len(trail(t, s))
		if _, err := s.GoBack(ctx, "ada", string(past.ID), 0); clashIn(err) != "source_id" || !strings.Contains(err.Error(), "old-note is deleted") {
			t.Errorf("%v", err)
		}
		price := ofRecord(t, s, string(samples().Prices[0].ID))[0]
		if _, err := s.GoBack(ctx, "ada", string(price.ID), 0); clashIn(err) != "id" {
			t.Errorf("a price: %v", err)
		}
		if _, err := s.GoBack(ctx, "ada", "event_none", 0); err == nil {
			t.Error("an event that is none")
		}
		if got := len(trail(t, s)); got != count {
			t.Errorf("%d events became %d", count, got)
		}
	})
}

// What was stored as text once must be read for ever: testdata/events.txt holds the samples as the
// first schema with an audit trail kept them, and every member comes back with its value. A field of
// a noun that gets another name needs its old name too.
func TestOldEventsAreRead(t *testing.T) {
	file, err := os.ReadFile("testdata/events.txt")
	must(t, err)
	eachURL(t, func(t *testing.T, url string) {
		s := opened(t, url)
		must(t, s.Migrate(ctx))
		db := raw(t, url)
		n := 0
		for line := range strings.Lines(string(file)) {
			noun, record, _ := strings.Cut(strings.TrimSpace(line), " ")
			n++
			_, err := db.ExecContext(ctx, `INSERT INTO audit_event (id, noun, record_id, record_revision, catalog_revision, action, change_time, changed_by, reason, after_json)
				VALUES ($1, $2, $3, 1, $4, 'added', '2026-11-26T00:00:00.000Z', 'ada', '', $5)`, string(id(catalog.NounEvent, n)), noun, string(id(catalog.Noun{Prefix: noun}, n)), n, record)
			must(t, err)
			e, err := s.AuditEvent(ctx, string(id(catalog.NounEvent, n)))
			must(t, err)
			text, err := json.Marshal(e.After)
			must(t, err)
			var was, is map[string]any
			must(t, json.Unmarshal([]byte(record), &was))
			must(t, json.Unmarshal(text, &is))
			for name, value := range was {
				equal(t, noun+" "+name, value, is[name])
			}
		}
		if n < 20 {
			t.Errorf("only %d events", n)
		}
	})
}
