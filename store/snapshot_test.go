package store_test

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"testing"
	"time"

	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
	"sabinbook/internal/money"
	"sabinbook/internal/units"
	"sabinbook/store"
	"sabinbook/store/storetest"
)

func TestSnapshotHoldsWhatWasAdded(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		empty, err := s.Snapshot(ctx)
		must(t, err)
		equal(t, "empty", catalog.Snapshot{}, empty)
		now := stopped(s)
		filled(t, s)
		want := samples()
		want.Revision = 1
		stamp := func(m *catalog.Meta) {
			m.Revision, m.Created, m.Updated, m.UpdatedBy, m.CreatedBy = 1, now, now, "keeper", "keeper"
		}
		for i := range want.Sources {
			stamp(&want.Sources[i].Meta)
		}
		for i := range want.Fills {
			stamp(&want.Fills[i].Meta)
		}
		for i := range want.Tests {
			stamp(&want.Tests[i].Meta)
		}
		for i := range want.Fabrics {
			stamp(&want.Fabrics[i].Meta)
		}
		for i := range want.Parts {
			stamp(&want.Parts[i].Meta)
		}
		for i := range want.ReadyMade {
			stamp(&want.ReadyMade[i].Meta)
		}
		for i := range want.Designs {
			stamp(&want.Designs[i].Meta)
		}
		for i := range want.Rooms {
			stamp(&want.Rooms[i].Meta)
		}
		for i := range want.Suppliers {
			stamp(&want.Suppliers[i].Meta)
		}
		for i := range want.Offers {
			stamp(&want.Offers[i].Meta)
		}
		for i := range want.Rates {
			stamp(&want.Rates[i].Meta)
		}
		for i := range want.Prices {
			want.Prices[i].Created, want.Prices[i].CreatedBy = now, "keeper"
		}
		got, err := s.Snapshot(ctx)
		must(t, err)
		equal(t, "snapshot", want, got)

		// Deleted records are out of it, and the prices of deleted offers with them.
		must(t, s.DeleteOffer(ctx, "m", "rock-wool-pack", 0))
		must(t, s.DeletePart(ctx, "m", "gloves", 0))
		got, err = s.Snapshot(ctx)
		must(t, err)
		revision, err := s.Revision(ctx)
		must(t, err)
		if got.Revision != 3 || revision != 3 || len(got.Offers) != 3 || len(got.Parts) != 2 || len(got.Prices) != 1 {
			t.Errorf("after deletions: revision %d, %d offers, %d parts, %d prices", got.Revision, len(got.Offers), len(got.Parts), len(got.Prices))
		}
	})
}

// A catalog that moves from one engine to the other and back stays the same, in the same order.
func TestSnapshotMovesBetweenEngines(t *testing.T) {
	first := storetest.SQLite(t)
	filled(t, first)
	for i, slug := range []string{"a", "a-b", "ab", "z9", "a1"} { // hyphens are where locales differ
		f := samples().Fills[0]
		f.Meta = catalog.Meta{Slug: catalog.Slug(slug), Name: fmt.Sprint("Fill ", i)}
		_, err := first.AddFill(ctx, "m", f)
		must(t, err)
	}
	want, err := first.Snapshot(ctx)
	must(t, err)
	for _, other := range []*store.Store{storetest.Postgres(t), storetest.SQLiteFile(t)} {
		must(t, other.AddAll(ctx, "mover", want))
		got, err := other.Snapshot(ctx)
		must(t, err)
		got.Revision = want.Revision
		equal(t, "moved", want, got)
		for _, sort := range []string{"slug", "name"} {
			q := catalog.Query{Sort: []catalog.SortKey{{Field: sort}}}
			there, err := first.Fills(ctx, q)
			must(t, err)
			here, err := other.Fills(ctx, q)
			must(t, err)
			equal(t, "order by "+sort, there, here)
		}
	}
}

func TestAddAllIsAllOrNothing(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		for name, c := range map[string]struct {
			spoil func(*catalog.Snapshot)
			fault string
		}{
			"unknown source":      {func(a *catalog.Snapshot) { a.Fills[1].Density.SourceID = "nowhere" }, "/fills/1/density_kg_per_m3/source_id unknown_reference"},
			"size not sold":       {func(a *catalog.Snapshot) { a.Offers[3].SoldSize.Width = 1 }, "/offers/3/sold_size unknown_size"},
			"price of nothing":    {func(a *catalog.Snapshot) { a.Prices[2].OfferID = "nowhere" }, "/prices/2/offer_id unknown_reference"},
			"correcting a circle": {func(a *catalog.Snapshot) { a.Prices[1].Corrects = a.Prices[0].ID }, "/prices/0/corrects_id circular"},
			"taken slug":          {func(a *catalog.Snapshot) { a.Parts[2].Slug = a.Parts[0].Slug }, "parts/2/slug"},
			"taken id":            {func(a *catalog.Snapshot) { a.Suppliers[2].ID = a.Suppliers[0].ID }, "suppliers/2/id"},
			"refused value":       {func(a *catalog.Snapshot) { a.Offers[0].PackCount = -1 }, " refused"},
		} {
			all := samples()
			c.spoil(&all)
			err := s.AddAll(ctx, "m", all)
			if clash := clashIn(err); clash != c.fault && !slices.Equal(faultsAt(err), []string{c.fault}) {
				t.Errorf("%s: %v", name, err)
			}
			got, err := s.Snapshot(ctx)
			must(t, err)
			equal(t, name, catalog.Snapshot{}, got)
		}
		filled(t, s)
		if err := s.AddAll(ctx, "m", samples()); clashIn(err) != "sources/0/id" {
			t.Errorf("a second time: %v", err)
		}
	})
}

// While one writer keeps the same number in two records, in one transaction each, and raises it,
// every snapshot shows whole changes: the revision tells exactly what is in it.
func TestSnapshotsShowOneMoment(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		filled(t, s)
		const pairs = 40
		writing := make(chan error, 1)
		go func() {
			writing <- func() error {
				for i := range pairs {
					var batch catalog.Snapshot
					for _, side := range []string{"left", "right"} {
						f := samples().Fills[1]
						f.Meta = catalog.Meta{Slug: catalog.Slug(fmt.Sprintf("%s-%d", side, i)), Name: fmt.Sprintf("%s %d", side, i)}
						batch.Fills = append(batch.Fills, f)
					}
					if err := s.AddAll(ctx, "m", batch); err != nil {
						return err
					}
				}
				return nil
			}()
		}()
		seen := map[int64]bool{}
		for done := false; !done; {
			select {
			case err := <-writing:
				must(t, err)
				done = true
			default:
			}
			got, err := s.Snapshot(ctx)
			must(t, err)
			seen[got.Revision] = true
			figures, sizes := 0, 0
			for _, f := range got.Fills {
				if f.Density != nil && f.Handling.Cutting != nil {
					figures++
				}
				sizes += len(f.SoldSizes)
			}
			wool := len(got.Fills) - 1 // all but the cotton
			if n := int(got.Revision-1) * 2; len(got.Fills) != n+2 || figures != wool || sizes != 2*wool {
				t.Fatalf("at revision %d there are %d fills, %d with figures, %d sizes", got.Revision, len(got.Fills), figures, sizes)
			}
		}
		t.Logf("%d different revisions seen", len(seen))
	})
}

// A change whose caller goes away before it commits leaves nothing.
func TestCancelledChangesLeaveNothing(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		filled(t, s)
		for i := range 30 {
			before, err := s.Revision(ctx)
			must(t, err)
			short, cancel := context.WithCancel(ctx)
			timer := time.AfterFunc(time.Duration(i)*200*time.Microsecond, cancel)
			f := samples().Fills[1]
			f.Meta = catalog.Meta{Slug: catalog.Slug(fmt.Sprint("brief-", i)), Name: fmt.Sprint("Brief ", i)}
			_, failure := s.AddFill(short, "m", f)
			timer.Stop()
			cancel()
			after, err := s.Revision(ctx)
			must(t, err)
			_, err = s.Fill(ctx, string(f.Slug))
			switch {
			case failure == nil && (err != nil || after != before+1),
				failure != nil && (!errors.Is(err, catalog.ErrNotFound) || after != before || !errors.Is(failure, context.Canceled)):
				t.Errorf("after %v: failure %v, then reading %v, revision %d to %d", time.Duration(i)*200*time.Microsecond, failure, err, before, after)
			}
		}
	})
}

// manyRecords is a catalog of the size of the demonstration's, made up.
func manyRecords() catalog.Snapshot {
	all := samples()
	for i := range 100 {
		n := 1000 + i
		f, test, o, p := all.Fills[1], all.Tests[0], all.Offers[3], all.Prices[1]
		f.Meta = catalog.Meta{ID: id(catalog.NounFill, n), Slug: catalog.Slug(fmt.Sprint("fill-", i)), Name: fmt.Sprint("Fill ", i)}
		f.Density = number(units.Density(10+i), 0, 0)
		test.Meta = catalog.Meta{ID: id(catalog.NounTest, n), Slug: catalog.Slug(fmt.Sprint("test-", i)), Name: fmt.Sprint("Test ", i)}
		test.FillID = f.ID
		test.Alpha = bands.OctaveCurve([6]float64{0.1, 0.3, 0.7, 0.9, 1, 1})
		o.Meta = catalog.Meta{ID: id(catalog.NounOffer, n), Slug: catalog.Slug(fmt.Sprint("offer-", i)), Name: fmt.Sprint("Offer ", i)}
		o.ItemID = f.ID
		p.ID, p.OfferID, p.Amount = id(catalog.NounPrice, n), o.ID, money.FromMinor(int64(100+i), "EUR")
		all.Fills, all.Tests, all.Offers, all.Prices = append(all.Fills, f), append(all.Tests, test), append(all.Offers, o), append(all.Prices, p)
	}
	return all
}

func BenchmarkSnapshot(b *testing.B) {
	for name, open := range map[string]func(testing.TB) *store.Store{"sqlite": storetest.SQLiteFile, "postgres": storetest.Postgres} {
		b.Run(name, func(b *testing.B) {
			s := open(b)
			must(b, s.AddAll(ctx, "m", manyRecords()))
			for b.Loop() {
				all, err := s.Snapshot(ctx)
				must(b, err)
				if len(all.Fills) != 102 {
					b.Fatal("records are missing")
				}
			}
		})
	}
}
