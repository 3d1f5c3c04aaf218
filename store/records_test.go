package store_test

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"path"
	"reflect"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"sabinbook/internal/catalog"
	"sabinbook/store"
	"sabinbook/store/storetest"
)

// noun drives the methods of one noun.
type noun[T any] struct {
	name    string
	full    func(catalog.Snapshot) T // the record of the samples with the most fields
	meta    func(*T) *catalog.Meta
	add     func(*store.Store, context.Context, string, T) (T, error)
	get     func(*store.Store, context.Context, string) (T, error)
	list    func(*store.Store, context.Context, catalog.Query) (catalog.Page[T], error)
	replace func(*store.Store, context.Context, string, string, int64, T) (T, error)
	remove  func(*store.Store, context.Context, string, string, int64) error
	restore func(*store.Store, context.Context, string, string) (T, error)
}

var (
	theSources = noun[catalog.Source]{"source", func(all catalog.Snapshot) catalog.Source { return all.Sources[0] }, func(r *catalog.Source) *catalog.Meta { return &r.Meta }, (*store.Store).AddSource,
		(*store.Store).Source, (*store.Store).Sources, (*store.Store).ReplaceSource, (*store.Store).DeleteSource, (*store.Store).RestoreSource}
	theFills = noun[catalog.Fill]{"fill", func(all catalog.Snapshot) catalog.Fill { return all.Fills[1] }, func(r *catalog.Fill) *catalog.Meta { return &r.Meta }, (*store.Store).AddFill,
		(*store.Store).Fill, (*store.Store).Fills, (*store.Store).ReplaceFill, (*store.Store).DeleteFill, (*store.Store).RestoreFill}
	theTests = noun[catalog.AbsorptionTest]{"test", func(all catalog.Snapshot) catalog.AbsorptionTest { return all.Tests[1] }, func(r *catalog.AbsorptionTest) *catalog.Meta { return &r.Meta }, (*store.Store).AddTest,
		(*store.Store).Test, (*store.Store).Tests, (*store.Store).ReplaceTest, (*store.Store).DeleteTest, (*store.Store).RestoreTest}
	theFabrics = noun[catalog.Fabric]{"fabric", func(all catalog.Snapshot) catalog.Fabric { return all.Fabrics[1] }, func(r *catalog.Fabric) *catalog.Meta { return &r.Meta }, (*store.Store).AddFabric,
		(*store.Store).Fabric, (*store.Store).Fabrics, (*store.Store).ReplaceFabric, (*store.Store).DeleteFabric, (*store.Store).RestoreFabric}
	theParts = noun[catalog.Part]{"part", func(all catalog.Snapshot) catalog.Part { return all.Parts[0] }, func(r *catalog.Part) *catalog.Meta { return &r.Meta }, (*store.Store).AddPart,
		(*store.Store).Part, (*store.Store).Parts, (*store.Store).ReplacePart, (*store.Store).DeletePart, (*store.Store).RestorePart}
	theReadyMade = noun[catalog.ReadyMadePanel]{"panel", func(all catalog.Snapshot) catalog.ReadyMadePanel { return all.ReadyMade[0] }, func(r *catalog.ReadyMadePanel) *catalog.Meta { return &r.Meta }, (*store.Store).AddReadyMade,
		(*store.Store).ReadyMade, (*store.Store).ReadyMades, (*store.Store).ReplaceReadyMade, (*store.Store).DeleteReadyMade, (*store.Store).RestoreReadyMade}
	theDesigns = noun[catalog.Design]{"design", func(all catalog.Snapshot) catalog.Design { return all.Designs[1] }, func(r *catalog.Design) *catalog.Meta { return &r.Meta }, (*store.Store).AddDesign,
		(*store.Store).Design, (*store.Store).Designs, (*store.Store).ReplaceDesign, (*store.Store).DeleteDesign, (*store.Store).RestoreDesign}
	theRooms = noun[catalog.Room]{"room", func(all catalog.Snapshot) catalog.Room { return all.Rooms[2] }, func(r *catalog.Room) *catalog.Meta { return &r.Meta }, (*store.Store).AddRoom,
		(*store.Store).Room, (*store.Store).Rooms, (*store.Store).ReplaceRoom, (*store.Store).DeleteRoom, (*store.Store).RestoreRoom}
	theSuppliers = noun[catalog.Supplier]{"supplier", func(all catalog.Snapshot) catalog.Supplier { return all.Suppliers[2] }, func(r *catalog.Supplier) *catalog.Meta { return &r.Meta }, (*store.Store).AddSupplier,
		(*store.Store).Supplier, (*store.Store).Suppliers, (*store.Store).ReplaceSupplier, (*store.Store).DeleteSupplier, (*store.Store).RestoreSupplier}
	theOffers = noun[catalog.Offer]{"offer", func(all catalog.Snapshot) catalog.Offer { return all.Offers[3] }, func(r *catalog.Offer) *catalog.Meta { return &r.Meta }, (*store.Store).AddOffer,
		(*store.Store).Offer, (*store.Store).Offers, (*store.Store).ReplaceOffer, (*store.Store).DeleteOffer, (*store.Store).RestoreOffer}
	theRates = noun[catalog.ExchangeRate]{"exchange rate", func(all catalog.Snapshot) catalog.ExchangeRate { return all.Rates[0] }, func(r *catalog.ExchangeRate) *catalog.Meta { return &r.Meta }, (*store.Store).AddExchangeRate,
		(*store.Store).ExchangeRate, (*store.Store).ExchangeRates, (*store.Store).ReplaceExchangeRate, (*store.Store).DeleteExchangeRate, (*store.Store).RestoreExchangeRate}
)

// behaviour is what is tested of every noun.
type behaviour interface {
	called() string
	testRoundTrip(t *testing.T, s *store.Store)
	testRevisions(t *testing.T, s *store.Store)
	testDeletion(t *testing.T, s *store.Store)
	testSlugs(t *testing.T, s *store.Store)
	testClashes(t *testing.T, s *store.Store)
	testIDs(t *testing.T, s *store.Store)
	testGoingBack(t *testing.T, s *store.Store)
}

// allNouns are in the order of their references.
var allNouns = []behaviour{theSources, theFills, theTests, theFabrics, theParts, theReadyMade, theDesigns, theRooms, theSuppliers, theOffers, theRates}

func (n noun[T]) called() string { return n.name }

// sample is a new record, with every field that its noun's fullest sample has.
func (n noun[T]) sample(i int) T {
	x := n.full(samples())
	*n.meta(&x) = catalog.Meta{Slug: catalog.Slug(fmt.Sprintf("%s-%d", n.name, i)), Name: fmt.Sprintf("The %s number %d", n.name, i)}
	return x
}

// put adds a record and returns its stored form.
func (n noun[T]) put(t testing.TB, s *store.Store, x T) T {
	t.Helper()
	stored, err := n.add(s, ctx, "ada", x)
	if err != nil {
		t.Fatalf("add %s: %v", n.meta(&x).Slug, err)
	}
	return stored
}

// everyNoun runs f for each noun on a store with the samples, of each engine.
func everyNoun(t *testing.T, f func(t *testing.T, n behaviour, s *store.Store)) {
	t.Helper()
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		filled(t, s)
		for _, n := range allNouns {
			t.Run(n.called(), func(t *testing.T) { f(t, n, s) })
		}
	})
}

func TestEveryFieldComesBack(t *testing.T) {
	everyNoun(t, func(t *testing.T, n behaviour, s *store.Store) { n.testRoundTrip(t, s) })
}

func (n noun[T]) testRoundTrip(t *testing.T, s *store.Store) {
	now := stopped(s)
	x := n.sample(2)
	stored := n.put(t, s, x)
	equal(t, "the caller's record", n.sample(2), x)
	m := n.meta(&stored)
	want := n.sample(2)
	*n.meta(&want) = catalog.Meta{ID: m.ID, Slug: m.Slug, Name: m.Name, Revision: 1, Created: now, Updated: now, UpdatedBy: "ada", CreatedBy: "ada"}
	equal(t, "the added record", want, stored)
	for _, ref := range []string{string(m.ID), string(m.Slug)} {
		got, err := n.get(s, ctx, ref)
		must(t, err)
		equal(t, "the record "+ref, want, got)
	}
	page, err := n.list(s, ctx, catalog.Query{Sort: []catalog.SortKey{{Field: "create_time", Down: true}}, Limit: 1})
	must(t, err)
	equal(t, "the listed record", []T{want}, page.Items)
}

// A record may lose every optional part and get it back.
func TestOptionalPartsComeAndGo(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		filled(t, s)
		all := samples()
		comeAndGo(t, s, theFills, all.Fills[0])
		comeAndGo(t, s, theFabrics, all.Fabrics[0])
		comeAndGo(t, s, theParts, all.Parts[1])
		comeAndGo(t, s, theReadyMade, all.ReadyMade[1])
		comeAndGo(t, s, theDesigns, all.Designs[0])
		comeAndGo(t, s, theRooms, all.Rooms[0])
		comeAndGo(t, s, theRooms, all.Rooms[1])
		comeAndGo(t, s, theSuppliers, all.Suppliers[0])
		comeAndGo(t, s, theSuppliers, all.Suppliers[1])
		comeAndGo(t, s, theOffers, all.Offers[2])
		comeAndGo(t, s, theRates, all.Rates[1])
	})
}

func comeAndGo[T any](t *testing.T, s *store.Store, n noun[T], bare T) {
	t.Helper()
	x := n.sample(2 + rand.IntN(1e9))
	full := n.put(t, s, x)
	ref := string(n.meta(&full).ID)
	for _, want := range []T{bare, x} {
		*n.meta(&want) = *n.meta(&x)
		got, err := n.replace(s, ctx, "ada", ref, 0, want)
		must(t, err)
		*n.meta(&want) = *n.meta(&got)
		equal(t, n.name, want, got)
	}
}

// The samples of this test leave no field out, so that a new one cannot be forgotten.
func TestSamplesSetEveryField(t *testing.T) {
	set := map[string]bool{}
	var walk func(at string, v reflect.Value)
	walk = func(at string, v reflect.Value) {
		set[at] = set[at] || !v.IsZero()
		switch {
		case v.Kind() == reflect.Pointer && !v.IsNil():
			walk(at, v.Elem())
		case v.Kind() == reflect.Slice:
			for i := range v.Len() {
				walk(at+"[]", v.Index(i))
			}
		case v.Kind() == reflect.Struct && v.Type() != reflect.TypeFor[time.Time]():
			for i := range v.NumField() {
				if f := v.Type().Field(i); f.IsExported() {
					walk(at+"."+f.Name, v.Field(i))
				}
			}
		}
	}
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		filled(t, s)
		all, err := s.Snapshot(ctx)
		must(t, err)
		clear(set)
		walk("", reflect.ValueOf(all))
		for field, is := range set {
			part := path.Ext(field)
			if part == ".Low" || part == ".High" { // all figures share their columns
				is = set[".Fills[].Density"+part]
			}
			if !is && part != ".Deleted" {
				t.Errorf("no sample sets %s", field)
			}
		}
	})
}

func TestRevisions(t *testing.T) {
	everyNoun(t, func(t *testing.T, n behaviour, s *store.Store) { n.testRevisions(t, s) })
}

func (n noun[T]) testRevisions(t *testing.T, s *store.Store) {
	first := n.put(t, s, n.sample(2))
	m := *n.meta(&first)
	before, err := s.Revision(ctx)
	if err != nil {
		t.Fatal(err)
	}
	later := noon.Add(time.Hour)
	s.Now = func() time.Time { return later }
	second, err := n.replace(s, ctx, "ben", string(m.Slug), 1, n.sample(2))
	if err != nil {
		t.Fatal(err)
	}
	got := *n.meta(&second)
	if got.Revision != 2 || got.UpdatedBy != "ben" || got.CreatedBy != m.CreatedBy || !got.Created.Equal(m.Created) || !got.Updated.Equal(later.Truncate(time.Millisecond)) || got.ID != m.ID {
		t.Errorf("after a replacement: %+v, before: %+v", got, m)
	}
	_, err = n.replace(s, ctx, "cid", string(m.ID), 1, n.sample(2))
	stale := new(catalog.StaleError)
	if !errors.As(err, &stale) {
		t.Fatalf("replacing an older revision: %v", err)
	}
	equal(t, "the state that the error carries", got, stale.Current)
	if err := n.remove(s, ctx, "cid", string(m.ID), 1); !errors.As(err, &stale) {
		t.Errorf("deleting an older revision: %v", err)
	}
	if kept, err := n.get(s, ctx, string(m.ID)); err != nil {
		t.Error(err)
	} else {
		equal(t, "the record after refused changes", second, kept)
	}
	if third, err := n.replace(s, ctx, "cid", string(m.ID), 0, n.sample(2)); err != nil || n.meta(&third).Revision != 3 {
		t.Errorf("replacing any revision: %v", err)
	}
	after, err := s.Revision(ctx)
	if err != nil || after != before+2 {
		t.Errorf("two changes and two refusals took the catalog from revision %d to %d (%v)", before, after, err)
	}
	if _, err := n.replace(s, ctx, "cid", "nobody", 0, n.sample(3)); !errors.Is(err, catalog.ErrNotFound) {
		t.Errorf("replacing what is not there: %v", err)
	}
}

// Writers of two stores, as of two processes, race for one revision: one wins.
func TestRaceHasOneWinner(t *testing.T) {
	race := func(t *testing.T, url string) {
		var stores [2]*store.Store
		for i := range stores {
			s, err := store.Open(ctx, url)
			if err != nil {
				t.Fatal(err)
			}
			defer s.Close()
			if err := s.Migrate(ctx); err != nil {
				t.Fatal(err)
			}
			stores[i] = s
		}
		first := theSources.put(t, stores[0], samples().Sources[0])
		const racers = 16
		var wg sync.WaitGroup
		errs := make([]error, racers)
		for i := range racers {
			wg.Go(func() {
				x := samples().Sources[0]
				x.Note = string(rune('a' + i))
				for {
					_, errs[i] = stores[i%2].ReplaceSource(ctx, x.Note, string(first.ID), 1, x)
					if !errors.Is(errs[i], catalog.ErrUnavailable) { // a busy machine
						return
					}
				}
			})
		}
		wg.Wait()
		var winners []string
		for i, err := range errs {
			stale := new(catalog.StaleError)
			switch {
			case err == nil:
				winners = append(winners, string(rune('a'+i)))
			case !errors.As(err, &stale) || stale.Current.Revision != 2:
				t.Errorf("racer %d: %v", i, err)
			}
		}
		got, err := stores[1].Source(ctx, "lab-book")
		if err != nil || len(winners) != 1 || got.Note != winners[0] || got.Revision != 2 || got.UpdatedBy != winners[0] {
			t.Errorf("winners %v, stored %+v (%v)", winners, got, err)
		}
	}
	t.Run("sqlite", func(t *testing.T) { race(t, storetest.SQLiteURL(t)) })
	t.Run("postgres", func(t *testing.T) { race(t, storetest.PostgresURL(t)) })
}

func TestDeletedRecordsCanBeRestored(t *testing.T) {
	everyNoun(t, func(t *testing.T, n behaviour, s *store.Store) { n.testDeletion(t, s) })
}

func (n noun[T]) testDeletion(t *testing.T, s *store.Store) {
	x := n.put(t, s, n.sample(2))
	m := *n.meta(&x)
	if err := n.remove(s, ctx, "ben", string(m.Slug), 1); err != nil {
		t.Fatal(err)
	}
	for _, ref := range []string{string(m.ID), string(m.Slug)} {
		if _, err := n.get(s, ctx, ref); !errors.Is(err, catalog.ErrNotFound) {
			t.Errorf("reading a deleted record: %v", err)
		}
		if _, err := n.replace(s, ctx, "ben", ref, 0, n.sample(2)); !errors.Is(err, catalog.ErrNotFound) {
			t.Errorf("replacing a deleted record: %v", err)
		}
		if err := n.remove(s, ctx, "ben", ref, 0); !errors.Is(err, catalog.ErrNotFound) {
			t.Errorf("deleting a deleted record: %v", err)
		}
	}
	page, err := n.list(s, ctx, catalog.Query{Count: true})
	must(t, err)
	if page.Total != len(page.Items) || slices.ContainsFunc(page.Items, func(x T) bool { return n.meta(&x).ID == m.ID }) {
		t.Errorf("a deleted record is listed, or counted in %d", page.Total)
	}
	_, err = n.add(s, ctx, "ben", n.sample(2))
	clash(t, err, "slug", "deleted")
	back, err := n.restore(s, ctx, "cid", string(m.Slug))
	if err != nil {
		t.Fatal(err)
	}
	got := *n.meta(&back)
	if got.Revision != 3 || got.UpdatedBy != "cid" || got.Deleted {
		t.Errorf("restored as %+v", got)
	}
	*n.meta(&back) = m
	equal(t, "the restored record", x, back)
	if again, err := n.restore(s, ctx, "cid", string(m.ID)); err != nil || n.meta(&again).Revision != 3 {
		t.Errorf("restoring a live record: %v, %+v", err, *n.meta(&again))
	}
	if _, err := n.restore(s, ctx, "cid", "nobody"); !errors.Is(err, catalog.ErrNotFound) {
		t.Errorf("restoring what never was: %v", err)
	}
}

// clash checks that the error names the field, how to go on, and a word.
func clash(t *testing.T, err error, field, word string) {
	t.Helper()
	c := new(catalog.ConflictError)
	if !errors.As(err, &c) || !errors.Is(err, catalog.ErrConflict) || c.Field != field || c.Fix == "" || !strings.Contains(c.Detail, word) {
		t.Errorf("want a conflict in %s about %q, got %v", field, word, err)
	}
}

func TestFormerSlugsStillLead(t *testing.T) {
	everyNoun(t, func(t *testing.T, n behaviour, s *store.Store) { n.testSlugs(t, s) })
}

func (n noun[T]) testSlugs(t *testing.T, s *store.Store) {
	x := n.put(t, s, n.sample(2))
	id := n.meta(&x).ID
	rename := func(to catalog.Slug) {
		t.Helper()
		next := n.sample(2)
		n.meta(&next).Slug = to
		if _, err := n.replace(s, ctx, "ada", string(id), 0, next); err != nil {
			t.Fatal(err)
		}
	}
	rename("second-name")
	rename("third-name")
	for _, ref := range []string{n.name + "-2", "second-name", "third-name", string(id)} {
		got, err := n.get(s, ctx, ref)
		if err != nil || n.meta(&got).ID != id || n.meta(&got).Slug != "third-name" {
			t.Errorf("%s leads to %+v (%v)", ref, *n.meta(&got), err)
		}
	}
	thief := n.sample(3)
	n.meta(&thief).Slug = "second-name"
	_, err := n.add(s, ctx, "ada", thief)
	clash(t, err, "slug", "former")
	rename("second-name") // one's own former slug can be taken back
	rename("fourth-name")
	if got, err := n.get(s, ctx, "second-name"); err != nil || n.meta(&got).ID != id {
		t.Errorf("the slug that was taken back leads to %+v (%v)", *n.meta(&got), err)
	}
}

func TestClashesNameTheField(t *testing.T) {
	everyNoun(t, func(t *testing.T, n behaviour, s *store.Store) { n.testClashes(t, s) })
}

func (n noun[T]) testClashes(t *testing.T, s *store.Store) {
	named := func(slug catalog.Slug, name string) T {
		x := n.sample(2)
		n.meta(&x).Slug, n.meta(&x).Name = slug, name
		return x
	}
	n.put(t, s, named("cafe", "Café Straße ½"))
	_, err := n.add(s, ctx, "ada", named("cafe", "Something else"))
	clash(t, err, "slug", "cafe")
	free := n.name == "test" || n.name == "offer"
	// Composed and decomposed accents, case (also of the sharp s), width, ligature
	// forms and spaces make no other name: Unicode NFKC and full case folding.
	for i, twin := range []string{"Café Straße ½", "CAFÉ STRASSE ½", "cafe\u0301  strasse 1\u20442", " ＣＡＦÉ\tStraße ½ "} {
		x := named(catalog.Slug("twin-"+string(rune('a'+i))), twin)
		_, err := n.add(s, ctx, "ada", x)
		if free {
			if err != nil {
				t.Errorf("names of this noun may repeat: %v", err)
			}
			continue
		}
		clash(t, err, "name", "cafe")
	}
	other := n.put(t, s, named("other", "Cafe Strase"))
	_, err = n.replace(s, ctx, "ada", "other", 0, named("cafe", "Cafe Strase"))
	clash(t, err, "slug", "cafe")
	if !free {
		_, err = n.replace(s, ctx, "ada", "other", 0, named("other", "café strasse ½"))
		clash(t, err, "name", "cafe")
		if err := n.remove(s, ctx, "ada", "cafe", 0); err != nil {
			t.Fatal(err)
		}
		_, err = n.replace(s, ctx, "ada", "other", 0, named("other", "café strasse ½"))
		clash(t, err, "name", "deleted")
	}
	if kept, err := n.get(s, ctx, "other"); err != nil {
		t.Error(err)
	} else {
		equal(t, "the record after refused changes", other, kept)
	}
}

func TestGivenIDsAreKept(t *testing.T) {
	everyNoun(t, func(t *testing.T, n behaviour, s *store.Store) { n.testIDs(t, s) })
}

func (n noun[T]) testIDs(t *testing.T, s *store.Store) {
	made := n.put(t, s, n.sample(2))
	prefix, rest, _ := strings.Cut(string(n.meta(&made).ID), "_")
	given := catalog.ID(prefix + "_" + strings.Repeat("v", 20) + rest[20:])
	x := n.sample(3)
	n.meta(&x).ID = given
	if got := n.put(t, s, x); n.meta(&got).ID != given {
		t.Errorf("given %s, stored %s", given, n.meta(&got).ID)
	}
	x = n.sample(4)
	n.meta(&x).ID = given
	_, err := n.add(s, ctx, "ada", x)
	clash(t, err, "id", string(given))
	for _, bad := range []catalog.ID{"x", "price_" + catalog.ID(rest), catalog.ID(prefix + "_" + strings.ToUpper(rest[:25]) + "W")} {
		n.meta(&x).ID = bad
		_, err := n.add(s, ctx, "ada", x)
		equal(t, "a bad id", []string{"/id bad_id"}, faultsAt(err))
	}
}
