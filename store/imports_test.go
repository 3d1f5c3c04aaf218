package store_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"slices"
	"strconv"
	"testing"
	"time"

	"sabinbook/internal/catalog"
	"sabinbook/internal/catalogtest"
	"sabinbook/internal/exchange"
	"sabinbook/store"
	"sabinbook/store/storetest"
)

// times is n, or what SABINBOOK_TEST_IMPORTS says for long runs.
func times(n int) int {
	if many, err := strconv.Atoi(os.Getenv("SABINBOOK_TEST_IMPORTS")); err == nil {
		return many
	}
	return n
}

// engines are a fresh store on each engine; one store for each catalog would take long.
func engines(t *testing.T) map[string]*store.Store {
	all := map[string]*store.Store{"sqlite": storetest.SQLite(t)}
	all["postgres"] = storetest.Postgres(t)
	return all
}

func exported(t *testing.T, s *store.Store) []byte {
	t.Helper()
	all, err := s.Snapshot(ctx)
	must(t, err)
	return exchange.Archive(exchange.Write(all))
}

func planned(t *testing.T, s *store.Store, incoming catalog.Snapshot, choice exchange.Choice) exchange.Plan {
	t.Helper()
	all, err := s.Snapshot(ctx)
	must(t, err)
	at, held, err := s.Held(ctx)
	must(t, err)
	if at != all.Revision {
		t.Fatalf("held at revision %d, snapshot at %d", at, all.Revision)
	}
	return exchange.NewPlan(all, incoming, held, choice)
}

// expected is the stored catalog after the changes of a plan, but for the history of updates.
func expected(before catalog.Snapshot, c catalog.Changes, after catalog.Snapshot) catalog.Snapshot {
	after.Revision = 0
	want := catalog.Snapshot{}
	want.Sources = overlaid(before.Sources, c.Created.Sources, c.Updated.Sources, after.Sources, func(x *catalog.Source) *catalog.Meta { return &x.Meta })
	want.Fills = overlaid(before.Fills, c.Created.Fills, c.Updated.Fills, after.Fills, func(x *catalog.Fill) *catalog.Meta { return &x.Meta })
	want.Tests = overlaid(before.Tests, c.Created.Tests, c.Updated.Tests, after.Tests, func(x *catalog.AbsorptionTest) *catalog.Meta { return &x.Meta })
	want.Fabrics = overlaid(before.Fabrics, c.Created.Fabrics, c.Updated.Fabrics, after.Fabrics, func(x *catalog.Fabric) *catalog.Meta { return &x.Meta })
	want.Parts = overlaid(before.Parts, c.Created.Parts, c.Updated.Parts, after.Parts, func(x *catalog.Part) *catalog.Meta { return &x.Meta })
	want.ReadyMade = overlaid(before.ReadyMade, c.Created.ReadyMade, c.Updated.ReadyMade, after.ReadyMade, func(x *catalog.ReadyMadePanel) *catalog.Meta { return &x.Meta })
	want.Designs = overlaid(before.Designs, c.Created.Designs, c.Updated.Designs, after.Designs, func(x *catalog.Design) *catalog.Meta { return &x.Meta })
	want.Rooms = overlaid(before.Rooms, c.Created.Rooms, c.Updated.Rooms, after.Rooms, func(x *catalog.Room) *catalog.Meta { return &x.Meta })
	want.Suppliers = overlaid(before.Suppliers, c.Created.Suppliers, c.Updated.Suppliers, after.Suppliers, func(x *catalog.Supplier) *catalog.Meta { return &x.Meta })
	want.Offers = overlaid(before.Offers, c.Created.Offers, c.Updated.Offers, after.Offers, func(x *catalog.Offer) *catalog.Meta { return &x.Meta })
	want.Prices = slices.Concat(before.Prices, c.Created.Prices)
	want.Rates = overlaid(before.Rates, c.Created.Rates, c.Updated.Rates, after.Rates, func(x *catalog.ExchangeRate) *catalog.Meta { return &x.Meta })
	want.Sort()
	return want
}

func overlaid[T any](before, created, updated, after []T, meta func(*T) *catalog.Meta) []T {
	list := slices.Concat(before, created)
	for _, x := range updated {
		m := meta(&x)
		same := func(y T) bool { return meta(&y).ID == m.ID }
		i := slices.IndexFunc(list, same)
		old := *meta(&list[i])
		if j := slices.IndexFunc(after, same); j >= 0 {
			got := *meta(&after[j])
			m.Revision, m.Created, m.Updated, m.UpdatedBy = old.Revision+1, old.Created, got.Updated, "importer"
		}
		list[i] = x
	}
	return list
}

// Whatever a plan says comes to pass, on either engine: the same plan, and after it the
// stored catalog with the planned changes and nothing else. A plan that leaves nothing to do
// afterwards is empty. Every own export, before and after, imports as no change.
func TestImportsDoWhatThePlanSays(t *testing.T) {
	n, applied := times(60), map[exchange.Action]int{}
	reasons := map[string]int{}
	for i := range uint64(n) {
		base := catalogtest.Random(3 * i)
		here := catalogtest.Merged(catalogtest.Variant(i, base), catalogtest.Random(3*i+1))
		there := catalogtest.Merged(catalogtest.Variant(i+1_000_000, base), catalogtest.Random(3*i+2))
		choice := exchange.Choices[i%3]
		s := storetest.SQLite(t)
		s.Now = func() time.Time { return noon }
		must(t, s.AddAll(ctx, "keeper", here))
		// Some of it is deleted again, some renamed.
		for j, o := range here.Offers {
			if j%5 == 4 {
				must(t, s.DeleteOffer(ctx, "keeper", string(o.ID), 0))
			}
		}
		for j, f := range here.Fabrics {
			if j == 0 {
				f.Slug += "-new"
				_, err := s.ReplaceFabric(ctx, "keeper", string(f.ID), 0, f)
				must(t, err)
			}
		}
		before, err := s.Snapshot(ctx)
		must(t, err)
		if p := planned(t, s, before, exchange.Fail); p.Count[exchange.Unchanged] != len(p.Rows) || p.Blocked {
			t.Fatalf("%d: the own export changes something: %v", i, p.Count)
		}
		p := planned(t, s, there, choice)
		if again := planned(t, s, there, choice); again.Digest != p.Digest {
			t.Fatalf("%d: two plans of one thing differ", i)
		}
		for _, row := range p.Rows {
			applied[row.Action]++
			for _, why := range row.Reasons {
				reasons[why.Code]++
			}
		}
		changes := p.Changes
		if p.Blocked {
			p = planned(t, s, there, exchange.Keep)
			changes = p.Changes
		}
		if _, err := s.ApplyImport(ctx, "importer", p.Revision, changes); err != nil {
			t.Fatalf("%d %s: the plan was %v, but: %v", i, choice, p.Count, err)
		}
		after, err := s.Snapshot(ctx)
		must(t, err)
		want := expected(before, changes, after)
		after.Revision = 0
		equal(t, fmt.Sprint("catalog ", i), want, after)
		if p.Count[exchange.Conflict] == 0 {
			if p := planned(t, s, there, exchange.Fail); p.Count[exchange.Unchanged] != len(p.Rows) {
				t.Fatalf("%d: imported twice it changes something: %v", i, p.Count)
			}
		}
		must(t, s.Close())
		if t.Failed() {
			return
		}
	}
	t.Logf("%d imports: %v; %v", n, applied, reasons)
	for _, code := range []string{"changed_in_both", "slug_taken", "deleted_here", "price_differs", "reference_missing"} {
		if reasons[code] == 0 {
			t.Errorf("no import had the conflict %s", code)
		}
	}
}

// Both engines give the same bytes, which read as what was stored and import as no change.
func TestExportsAreEqualOnBothEngines(t *testing.T) {
	var stores map[string]*store.Store
	var whole catalog.Snapshot
	for i := range uint64(times(100)) {
		if i%10 == 0 { // ten catalogs grow in one pair of stores
			for _, s := range stores { // whose connections would add up
				must(t, s.Close())
			}
			stores, whole = engines(t), catalog.Snapshot{}
		}
		whole = catalogtest.Merged(whole, catalogtest.Random(i))
		archives := map[string][]byte{}
		for name, s := range stores {
			p := planned(t, s, whole, exchange.Fail)
			_, err := s.ApplyImport(ctx, "m", p.Revision, p.Changes)
			must(t, err)
			archives[name] = exported(t, s)
			own, err := s.Snapshot(ctx)
			must(t, err)
			files, err := exchange.Open(archives[name])
			must(t, err)
			back, err := exchange.Read(files, catalogtest.Today)
			must(t, err)
			equal(t, name, own, back)
			if p := planned(t, s, back, exchange.Fail); p.Count[exchange.Unchanged] != len(p.Rows) || len(p.Rows) == 0 {
				t.Fatalf("%d %s: the own export changes something: %v", i, name, p.Count)
			}
		}
		if !bytes.Equal(archives["sqlite"], archives["postgres"]) {
			t.Fatalf("catalog %d: the engines differ", i)
		}
	}
}

// An import that fails leaves nothing, and so does one for an older revision.
func TestFailedImportLeavesNothing(t *testing.T) {
	for name, s := range engines(t) {
		filled(t, s)
		before := exported(t, s)
		p := planned(t, s, catalogtest.Random(9), exchange.Fail)
		bad := p.Changes
		bad.Created.Prices = slices.Clone(bad.Created.Prices)
		bad.Created.Prices = append(bad.Created.Prices, catalog.Price{ID: id(catalog.NounPrice, 99), OfferID: id(catalog.NounOffer, 98), SourceID: labBook})
		if _, err := s.ApplyImport(ctx, "m", p.Revision, bad); err == nil || !bytes.Equal(before, exported(t, s)) {
			t.Errorf("%s: %v, or something was left", name, err)
		}
		if _, err := s.ApplyImport(ctx, "m", p.Revision-1, p.Changes); !errors.Is(err, catalog.ErrConflict) || !bytes.Equal(before, exported(t, s)) {
			t.Errorf("%s: %v, or something was left", name, err)
		}
		if len(p.Changes.Created.Sources) == 0 {
			t.Error("nothing would have been imported")
		}
	}
}

// An import that is broken off at whatever moment leaves all or nothing.
func TestImportBrokenOffIsWholeOrNothing(t *testing.T) {
	for name, s := range engines(t) {
		filled(t, s)
		broken := 0
		for i := range uint64(25) {
			before, err := s.Snapshot(ctx)
			must(t, err)
			incoming := catalogtest.Merged(before, catalogtest.Random(100+i))
			p := planned(t, s, incoming, exchange.Fail)
			short, stop := context.WithTimeout(ctx, time.Duration(i)*1500*time.Microsecond)
			_, err = s.ApplyImport(short, "m", p.Revision, p.Changes)
			stop()
			after, readErr := s.Snapshot(ctx)
			must(t, readErr)
			whole := len(after.Sources) == len(incoming.Sources) && len(after.Prices) == len(incoming.Prices) && len(after.Offers) == len(incoming.Offers)
			switch {
			case err == nil && !whole:
				t.Errorf("%s %d: an import that succeeded is not there", name, i)
			case err != nil && !errors.Is(err, catalog.ErrOutcomeUnknown):
				broken++
				equal(t, fmt.Sprint(name, " ", i), before, after)
			}
		}
		if broken == 0 {
			t.Errorf("%s: no import was broken off", name)
		}
		t.Logf("%s: %d of 25 were broken off", name, broken)
	}
}

// A package in which a price has moved to another offer, and a new one of that offer corrects it. The stored
// price stays what it was, hence the new one would correct a price of another offer: it is left out.
func TestCorrectionOfAPriceOfAnotherOfferIsAConflict(t *testing.T) {
	for name, s := range engines(t) {
		filled(t, s)
		before, err := s.Snapshot(ctx)
		must(t, err)
		incoming := before
		incoming.Prices = slices.Clone(before.Prices)
		moved := &incoming.Prices[slices.IndexFunc(incoming.Prices, func(p catalog.Price) bool { return p.Corrects == "" && p.OfferID == id(catalog.NounOffer, 1) })]
		moved.OfferID = id(catalog.NounOffer, 4)
		right := *moved
		right.ID, right.Corrects = id(catalog.NounPrice, 77), moved.ID
		kept := *moved
		incoming.Prices = append(slices.DeleteFunc(incoming.Prices, func(p catalog.Price) bool { return p.Corrects == kept.ID }), right)
		incoming.Sort()
		for _, choice := range exchange.Choices {
			p := planned(t, s, incoming, choice)
			codes := map[catalog.ID]string{}
			for _, row := range p.Rows {
				if row.Noun == catalog.NounPrice && row.Action == exchange.Conflict {
					codes[row.ID] = row.Reasons[0].Code
				}
			}
			if len(codes) != 2 || codes[kept.ID] != "price_differs" || codes[right.ID] != "other_offer" || p.Blocked != (choice != exchange.Keep) {
				t.Errorf("%s, %s: %v, blocked %t", name, choice, codes, p.Blocked)
			}
		}
		p := planned(t, s, incoming, exchange.Keep)
		_, err = s.ApplyImport(ctx, "importer", p.Revision, p.Changes)
		must(t, err)
		after, err := s.Snapshot(ctx)
		must(t, err)
		equal(t, name+": prices", before.Prices, after.Prices)
	}
}
