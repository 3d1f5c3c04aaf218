package store_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"sabinbook/internal/catalog"
	"sabinbook/internal/money"
	"sabinbook/internal/units"
	"sabinbook/store"
	"sabinbook/store/storetest"
)

func slugs[T any](t *testing.T, meta func(T) catalog.Meta, list func(catalog.Query) (catalog.Page[T], error), q catalog.Query) string {
	t.Helper()
	page, err := list(q)
	if err != nil {
		return strings.Join(faultsAt(err), ", ")
	}
	var all []string
	for _, x := range page.Items {
		all = append(all, string(meta(x).Slug))
	}
	return strings.Join(all, " ")
}

func anyOf(field string, values ...string) catalog.Query {
	return catalog.Query{Any: []catalog.AnyOf{{Field: field, Values: values}}}
}

func between(field, low, high string) catalog.Query {
	return catalog.Query{Ranges: []catalog.Range{{Field: field, Min: low, Max: high}}}
}

// both joins the filters of two queries.
func both(a, b catalog.Query) catalog.Query {
	return catalog.Query{Any: append(a.Any, b.Any...), Ranges: append(a.Ranges, b.Ranges...)}
}

func TestFilters(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		filled(t, s)
		f := samples().Fills[1]
		f.Meta = catalog.Meta{Slug: "glass-30", Name: "Glass 100 %_wool"}
		f.Family, f.Form, f.Density = catalog.GlassWool, catalog.Roll, number[units.Density](30, 0, 0)
		f.SoldSizes = []catalog.SoldSize{{Length: 1000, Width: 600, Thickness: 30}, {Length: 1000, Width: 600, Thickness: 140}}
		f.Fire = fires()[1:]
		_, err := s.AddFill(ctx, "m", f)
		must(t, err)

		fills := func(q catalog.Query) string {
			return slugs(t, func(f catalog.Fill) catalog.Meta { return f.Meta }, func(q catalog.Query) (catalog.Page[catalog.Fill], error) { return s.Fills(ctx, q) }, q)
		}
		tests := func(q catalog.Query) string {
			return slugs(t, func(r catalog.AbsorptionTest) catalog.Meta { return r.Meta }, func(q catalog.Query) (catalog.Page[catalog.AbsorptionTest], error) { return s.Tests(ctx, q) }, q)
		}
		fabrics := func(q catalog.Query) string {
			return slugs(t, func(r catalog.Fabric) catalog.Meta { return r.Meta }, func(q catalog.Query) (catalog.Page[catalog.Fabric], error) { return s.Fabrics(ctx, q) }, q)
		}
		parts := func(q catalog.Query) string {
			return slugs(t, func(r catalog.Part) catalog.Meta { return r.Meta }, func(q catalog.Query) (catalog.Page[catalog.Part], error) { return s.Parts(ctx, q) }, q)
		}
		panels := func(q catalog.Query) string {
			return slugs(t, func(r catalog.ReadyMadePanel) catalog.Meta { return r.Meta }, func(q catalog.Query) (catalog.Page[catalog.ReadyMadePanel], error) { return s.ReadyMades(ctx, q) }, q)
		}
		suppliers := func(q catalog.Query) string {
			return slugs(t, func(r catalog.Supplier) catalog.Meta { return r.Meta }, func(q catalog.Query) (catalog.Page[catalog.Supplier], error) { return s.Suppliers(ctx, q) }, q)
		}
		offers := func(q catalog.Query) string {
			return slugs(t, func(r catalog.Offer) catalog.Meta { return r.Meta }, func(q catalog.Query) (catalog.Page[catalog.Offer], error) { return s.Offers(ctx, q) }, q)
		}
		sources := func(q catalog.Query) string {
			return slugs(t, func(r catalog.Source) catalog.Meta { return r.Meta }, func(q catalog.Query) (catalog.Page[catalog.Source], error) { return s.Sources(ctx, q) }, q)
		}
		down := catalog.Query{Sort: []catalog.SortKey{{Field: "slug", Down: true}}}
		for i, c := range []struct {
			list func(catalog.Query) string
			q    catalog.Query
			want string
		}{
			{fills, catalog.Query{}, "rock-wool-45 loose-cotton glass-30"}, // by id, made last
			{fills, down, "rock-wool-45 loose-cotton glass-30"},
			{fills, anyOf("family", "cotton", "glass_wool"), "loose-cotton glass-30"},
			{fills, anyOf("family", "no' OR '1'='1"), ""},
			{fills, anyOf("form", "slab"), "rock-wool-45"},
			{fills, between("density_kg_per_m3", "30", "44.9"), "glass-30"},
			{fills, between("density_kg_per_m3", "", "45"), "rock-wool-45 glass-30"}, // unknown lies in no range
			{fills, between("airflow_resistivity_pa_s_per_m2", "12345.678", ""), "rock-wool-45 glass-30"},
			{fills, between("thickness_mm", "45", "55"), "rock-wool-45"}, // 30 and 140 mm are no 50 mm
			{fills, between("thickness_mm", "100.5", ""), "rock-wool-45 glass-30"},
			{fills, anyOf("thickness_mm", "30"), "glass-30"},
			{fills, anyOf("fire_scheme", "astm_e84"), "rock-wool-45 glass-30"},
			{fills, both(anyOf("fire_scheme", "astm_e84"), anyOf("fire_code", "B-s1,d0")), ""}, // not of one declaration
			{fills, both(anyOf("fire_scheme", "en_13501_1"), anyOf("fire_code", "B-s1,d0", "A1")), "rock-wool-45"},
			{fills, catalog.Query{Name: "WOOL"}, "rock-wool-45 glass-30"},
			{fills, catalog.Query{Name: "100 %_W"}, "glass-30"},
			{fills, catalog.Query{Name: "%"}, "glass-30"},
			{fills, catalog.Query{Name: `\`}, ""},
			{fills, anyOf("slug", "x"), "/slug unknown_field"},
			{fills, both(anyOf("colour", "x"), between("density", "1", "2")), "/colour unknown_field, /density unknown_field"},
			{fills, between("density_kg_per_m3", "heavy", "NaN"), "/density_kg_per_m3_min bad_value, /density_kg_per_m3_max bad_value"},
			{fills, between("family", "a", "b"), "/family no_range"},
			{fills, catalog.Query{Sort: []catalog.SortKey{{Field: "fire_code"}}}, "/sort unknown_field"},
			{fills, catalog.Query{After: []string{"a", "b"}}, "/cursor bad_cursor"},
			{fills, catalog.Query{Sort: []catalog.SortKey{{Field: "revision"}}, After: []string{"a", "b"}}, "/cursor bad_cursor"},
			{tests, anyOf("fill_id", "rock-wool-45"), "rock-wool-e400 rock-wool-a"},
			{tests, anyOf("fill_id", string(id(catalog.NounFill, 1))), "rock-wool-e400 rock-wool-a"},
			{tests, anyOf("fill_id", "loose-cotton", "nobody"), ""},
			{tests, both(anyOf("mounting_type", "A"), anyOf("thickness_mm", "100")), "rock-wool-a"},
			{tests, between("air_gap_mm", "100", "350"), "rock-wool-e400"},
			{fabrics, between("flow_resistance_pa_s_per_m", "30", "40"), "loose-knit"},
			{fabrics, between("surface_mass_kg_per_m2", "0.3", ""), ""},
			{fabrics, between("roll_width_mm", "1450", ""), "loose-knit"},
			{fabrics, anyOf("fire_code", "A"), "loose-knit"},
			{parts, anyOf("kind", "timber", "hardware"), "batten-18x95 hanger"},
			{parts, anyOf("role", "gloves"), "gloves"},
			{panels, between("depth_mm", "", "30"), "panel-bare"},
			{suppliers, anyOf("country", "NL"), "harbour-timber"},
			{suppliers, anyOf("currency", "EUR"), "harbour-timber corner-shop"},
			{suppliers, anyOf("region", "Quillhaven"), "harbour-timber"},
			{offers, anyOf("supplier_id", "far-post"), "knit-by-metre"},
			{offers, anyOf("item_kind", "part", "ready_made_panel"), "batten-2400 one-panel"},
			{offers, anyOf("item_id", "rock-wool-45"), "rock-wool-pack"},
			// The price of 2 November is corrected; the newest one that holds is of the 1st.
			{offers, between("observed_date", "2026-11-01", "2026-11-01"), "rock-wool-pack"},
			{offers, between("observed_date", "2026-11-02", ""), ""},
			{offers, between("observed_date", "", "2026-10-31"), "knit-by-metre"},
			{offers, between("observed_date", "yesterday", ""), "/observed_date_min bad_value"},
			{sources, anyOf("evidence", "declared"), "shop-note"},
			{sources, anyOf("invented", "true"), "shop-note"},
			{sources, anyOf("invented", "false"), "lab-book"},
			{sources, anyOf("invented", "perhaps"), "/invented bad_value"},
		} {
			if got := c.list(c.q); got != c.want {
				t.Errorf("%d: %+v lists %q, want %q", i, c.q, got, c.want)
			}
		}
		page, err := s.Fills(ctx, catalog.Query{Ranges: between("density_kg_per_m3", "1", "").Ranges, Limit: 1, Count: true})
		must(t, err)
		if page.Total != 2 || len(page.Items) != 1 || page.Next == nil {
			t.Errorf("total %d, %d items, next %v", page.Total, len(page.Items), page.Next)
		}
	})
}

// Prices of one offer: corrected ones stay, ties of the day end in the id.
func TestPricesOfAnOffer(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		filled(t, s)
		now := stopped(s)
		p := samples().Prices[1]
		p.ID, p.OfferID, p.Corrects = "", "rock-wool-pack", id(catalog.NounPrice, 1)
		added, err := s.AddPrice(ctx, "mira", p)
		must(t, err)
		want := p
		want.ID, want.OfferID, want.Created, want.CreatedBy = added.ID, id(catalog.NounOffer, 1), now, "mira"
		equal(t, "added", want, added)
		got, err := s.Price(ctx, string(added.ID))
		must(t, err)
		equal(t, "read", want, got)

		p.Corrects = id(catalog.NounPrice, 3)
		_, err = s.AddPrice(ctx, "m", p)
		equal(t, "correcting another offer's price", []string{"/corrects_id other_offer"}, faultsAt(err))
		p.Corrects = id(catalog.NounPrice, 9)
		_, err = s.AddPrice(ctx, "m", p)
		equal(t, "correcting nothing", []string{"/corrects_id unknown_reference"}, faultsAt(err))
		p.Corrects, p.ID = "", added.ID
		if _, err := s.AddPrice(ctx, "m", p); clashIn(err) != "id" {
			t.Errorf("a taken id: %v", err)
		}

		ids := func(q catalog.Query) (list []string) {
			for {
				page, err := s.Prices(ctx, "rock-wool-pack", q)
				must(t, err)
				for _, p := range page.Items {
					list = append(list, string(p.ID))
				}
				if q.Count && page.Total != 3 {
					t.Errorf("total %d", page.Total)
				}
				if q.After = page.Next; q.After == nil {
					return list
				}
			}
		}
		one, two, three := string(id(catalog.NounPrice, 1)), string(id(catalog.NounPrice, 2)), string(added.ID)
		newest := []catalog.SortKey{{Field: "observed_date", Down: true}}
		equal(t, "all", []string{one, two, three}, ids(catalog.Query{Count: true}))
		equal(t, "newest first, by ones", []string{one, three, two}, ids(catalog.Query{Sort: newest, Limit: 1}))
		equal(t, "of one day", []string{two}, ids(between("observed_date", "2026-10-30", "2026-11-01")))
		_, err = s.Prices(ctx, "rock-wool-pack", catalog.Query{Name: "x"})
		equal(t, "names of prices", []string{"/q unknown_field"}, faultsAt(err))
	})
}

// A walk through pages meets every record exactly once that nobody touches meanwhile.
func TestWalkThroughPagesWhileRecordsChange(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		filled(t, s)
		start := noon
		s.Now = func() time.Time { start = start.Add(time.Minute); return start }
		random := rand.New(rand.NewPCG(7, 11)) // any seed will do
		made := 0
		add := func() catalog.Fill {
			made++
			f := samples().Fills[0]
			f.Meta = catalog.Meta{Slug: catalog.Slug(fmt.Sprintf("walk-%03d", random.IntN(900)*1000+made)), Name: fmt.Sprintf("Walk %d", made)}
			f.Family = []catalog.Family{catalog.Cotton, catalog.Hemp, catalog.GlassWool}[random.IntN(3)]
			if random.IntN(4) > 0 {
				f.Density = number(units.Density(10+random.IntN(5)), 0, 0)
			}
			f, err := s.AddFill(ctx, "m", f)
			must(t, err)
			return f
		}
		untouched := map[catalog.ID]bool{}
		var victims []catalog.Fill
		for i := range 60 {
			if f := add(); i%3 == 0 {
				victims = append(victims, f)
			} else {
				untouched[f.ID] = true
			}
		}
		for _, sort := range [][]catalog.SortKey{nil, {{Field: "id", Down: true}}, {{Field: "slug"}}, {{Field: "name", Down: true}}, {{Field: "density_kg_per_m3"}},
			{{Field: "density_kg_per_m3", Down: true}, {Field: "family"}}, {{Field: "family", Down: true}, {Field: "update_time"}}, {{Field: "create_time", Down: true}},
			{{Field: "revision"}, {Field: "form"}}, {{Field: "airflow_resistivity_pa_s_per_m2"}}} {
			q := catalog.Query{Sort: sort, Limit: 7}
			seen := map[catalog.ID]int{}
			for pages := 0; ; pages++ {
				page, err := s.Fills(ctx, q)
				must(t, err)
				for _, f := range page.Items {
					seen[f.ID]++
				}
				if page.Next == nil {
					break
				}
				if pages > 60 {
					t.Fatalf("%v: the walk does not end", sort)
				}
				q.After = page.Next
				add()
				v := &victims[random.IntN(len(victims))]
				switch random.IntN(3) {
				case 0:
					if err := s.DeleteFill(ctx, "m", string(v.ID), 0); err != nil {
						_, err = s.RestoreFill(ctx, "m", string(v.ID))
						must(t, err)
					}
				default:
					v.Density, v.Family = number(units.Density(5+random.IntN(20)), 0, 0), catalog.Hemp
					v.Slug = catalog.Slug(fmt.Sprintf("moved-%d", made))
					if _, err := s.ReplaceFill(ctx, "m", string(v.ID), 0, *v); err != nil {
						_, err = s.RestoreFill(ctx, "m", string(v.ID))
						must(t, err)
					}
				}
			}
			for id := range untouched {
				if seen[id] != 1 {
					t.Errorf("%v: %s was met %d times", sort, id, seen[id])
				}
			}
		}
	})
}

func TestOffersInTheOrderOfTheirNewestPrice(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		filled(t, s)
		_, err := s.AddPrice(ctx, "m", catalog.Price{OfferID: "one-panel", Amount: money.FromMinor(9900, "EUR"), Observed: "2026-11-20", Evidence: catalog.Measured, SourceID: shopNote})
		must(t, err)
		var got []string
		q := catalog.Query{Sort: []catalog.SortKey{{Field: "observed_date"}}, Limit: 1}
		for {
			page, err := s.Offers(ctx, q)
			must(t, err)
			got = append(got, string(page.Items[0].Slug))
			if q.After = page.Next; q.After == nil {
				break
			}
		}
		want := []string{"batten-2400", "knit-by-metre", "rock-wool-pack", "one-panel"} // without a price first
		if !slices.Equal(got, want) {
			t.Errorf("%v, want %v", got, want)
		}
	})
}
