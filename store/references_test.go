package store_test

import (
	"errors"
	"slices"
	"testing"

	"sabinbook/internal/catalog"
	"sabinbook/internal/units"
	"sabinbook/store"
	"sabinbook/store/storetest"
)

func TestEveryReferenceThatLeadsNowhereIsNamed(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		filled(t, s)
		doomed := samples().Sources[0]
		doomed.Meta = catalog.Meta{Slug: "doomed", Name: "Doomed"}
		_, err := s.AddSource(ctx, "mira", doomed)
		must(t, err)
		must(t, s.DeleteSource(ctx, "mira", "doomed", 1))
		before, err := s.Snapshot(ctx)
		must(t, err)

		all := samples()
		fill, test, fabric, part, panel, supplier, offer, price := all.Fills[1], all.Tests[0], all.Fabrics[1], all.Parts[0], all.ReadyMade[0], all.Suppliers[2], all.Offers[0], all.Prices[0]
		for _, m := range []*catalog.Meta{&fill.Meta, &test.Meta, &fabric.Meta, &part.Meta, &panel.Meta, &supplier.Meta, &offer.Meta} {
			*m = catalog.Meta{Slug: "bad", Name: "Bad"}
		}
		fill.Density.SourceID, fill.Handling.Borate.SourceID, fill.Fire[1].SourceID, fill.SourceID = "nowhere", "doomed", id(catalog.NounSource, 99), ""
		test.FillID, test.SourceID = "lab-book", "rock-wool-45" // the wrong noun each
		fabric.Permeability.SourceID, fabric.Resistance.SourceID = "nowhere", "nowhere"
		part.Density = &catalog.Figure[units.Density]{Value: 400, Evidence: catalog.Declared, SourceID: "nowhere"}
		panel.AlphaSourceID, panel.Fire[0].SourceID = "nowhere", "doomed"
		supplier.SourceID = "nowhere"
		offer.SupplierID, offer.ItemKind, offer.ItemID = "nowhere", catalog.FabricItem, "rock-wool-45"
		price.ID, price.OfferID, price.SourceID = "", "nowhere", "doomed"

		for name, c := range map[string]struct {
			add  func() error
			want []string
		}{
			"fill": {func() error { _, err := s.AddFill(ctx, "m", fill); return err }, []string{"/density_kg_per_m3/source_id unknown_reference", "/handling/borate_fraction/source_id deleted_reference",
				"/fire_declarations/1/source_id unknown_reference", "/source_id required"}},
			"test":   {func() error { _, err := s.AddTest(ctx, "m", test); return err }, []string{"/fill_id unknown_reference", "/source_id unknown_reference"}},
			"fabric": {func() error { _, err := s.AddFabric(ctx, "m", fabric); return err }, []string{"/flow_resistance_pa_s_per_m/source_id unknown_reference", "/air_permeability/source_id unknown_reference"}},
			"part":   {func() error { _, err := s.AddPart(ctx, "m", part); return err }, []string{"/density_kg_per_m3/source_id unknown_reference"}},
			"panel": {func() error { _, err := s.AddReadyMade(ctx, "m", panel); return err }, []string{"/fire_declarations/0/source_id deleted_reference",
				"/absorption/source_id unknown_reference"}},
			"supplier": {func() error { _, err := s.AddSupplier(ctx, "m", supplier); return err }, []string{"/source_id unknown_reference"}},
			"offer":    {func() error { _, err := s.AddOffer(ctx, "m", offer); return err }, []string{"/supplier_id unknown_reference", "/item_id unknown_reference"}},
			"price":    {func() error { _, err := s.AddPrice(ctx, "m", price); return err }, []string{"/offer_id unknown_reference", "/source_id deleted_reference"}},
			"replaced fill": {func() error { _, err := s.ReplaceFill(ctx, "m", "loose-cotton", 1, fill); return err }, []string{"/density_kg_per_m3/source_id unknown_reference",
				"/handling/borate_fraction/source_id deleted_reference", "/fire_declarations/1/source_id unknown_reference", "/source_id required"}},
		} {
			if got := faultsAt(c.add()); !slices.Equal(got, c.want) {
				t.Errorf("%s: faults %v, want %v", name, got, c.want)
			}
		}
		// Nothing of all that was stored, not even a revision of the catalog.
		after, err := s.Snapshot(ctx)
		must(t, err)
		equal(t, "after refusals", before, after)
	})
}

func TestReferencesMayBeSlugsAndFormerSlugs(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		filled(t, s)
		lab, err := s.Source(ctx, "lab-book")
		must(t, err)
		lab.Slug = "laboratory-book"
		_, err = s.ReplaceSource(ctx, "mira", "lab-book", 1, lab)
		must(t, err)
		o := samples().Offers[2]
		o.Meta = catalog.Meta{Slug: "by-slugs", Name: "By slugs"}
		want := o
		o.SupplierID, o.ItemID, o.SourceID = "harbour-timber", catalog.ID(slugOf(t, s, o)), "lab-book"
		want.SourceID = labBook
		got, err := s.AddOffer(ctx, "mira", o)
		must(t, err)
		want.Meta, want.SupplierID = got.Meta, id(catalog.NounSupplier, 1)
		equal(t, "offer", want, got)
	})
}

// slugOf is the slug of what the offer sells.
func slugOf(t *testing.T, s *store.Store, o catalog.Offer) catalog.Slug {
	t.Helper()
	p, err := s.ReadyMade(ctx, string(o.ItemID))
	must(t, err)
	return p.Slug
}

func TestWhatLiveRecordsNeedCannotBeDeleted(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		filled(t, s)
		refused := map[string]func() error{
			"source of figures":      func() error { return s.DeleteSource(ctx, "m", "lab-book", 1) },
			"source of records":      func() error { return s.DeleteSource(ctx, "m", "shop-note", 1) },
			"fill with tests":        func() error { return s.DeleteFill(ctx, "m", "rock-wool-45", 1) },
			"offered fabric":         func() error { return s.DeleteFabric(ctx, "m", "loose-knit", 1) },
			"offered part":           func() error { return s.DeletePart(ctx, "m", "batten-18x95", 1) },
			"offered panel":          func() error { return s.DeleteReadyMade(ctx, "m", "panel-50", 1) },
			"supplier with an offer": func() error { return s.DeleteSupplier(ctx, "m", "harbour-timber", 1) },
		}
		for name, remove := range refused {
			if err := remove(); clashIn(err) != "id" {
				t.Errorf("%s: %v", name, err)
			}
		}
		var clash *catalog.ConflictError
		if err := s.DeleteSupplier(ctx, "m", "harbour-timber", 0); !errors.As(err, &clash) ||
			clash.Detail != "the supplier harbour-timber is used by offer batten-2400, offer one-panel, offer rock-wool-pack" {
			t.Errorf("users are named: %v", err)
		}
		if err := s.DeleteSource(ctx, "m", "shop-note", 0); !errors.As(err, &clash) ||
			clash.Detail != "the source shop-note is used by fabric loose-knit, fill loose-cotton, fill rock-wool-45, others" {
			t.Errorf("the first users are named: %v", err)
		}

		// In the right order all can be deleted, and restored only in the other one.
		for _, ref := range []string{"rock-wool-pack", "knit-by-metre", "batten-2400", "one-panel"} {
			must(t, s.DeleteOffer(ctx, "m", ref, 0))
		}
		must(t, s.DeleteSupplier(ctx, "m", "harbour-timber", 0))
		must(t, s.DeleteTest(ctx, "m", "rock-wool-a", 0))
		must(t, s.DeleteTest(ctx, "m", "rock-wool-e400", 0))
		must(t, s.DeleteFill(ctx, "m", "rock-wool-45", 0))
		if _, err := s.RestoreTest(ctx, "m", "rock-wool-a"); clashIn(err) != "fill_id" {
			t.Errorf("a test without its fill: %v", err)
		}
		if _, err := s.RestoreOffer(ctx, "m", "rock-wool-pack"); clashIn(err) != "supplier_id" {
			t.Errorf("an offer without its supplier: %v", err)
		}
		_, err := s.RestoreSupplier(ctx, "m", "harbour-timber")
		must(t, err)
		if _, err := s.RestoreOffer(ctx, "m", "rock-wool-pack"); clashIn(err) != "item_id" {
			t.Errorf("an offer without its fill: %v", err)
		}
		_, err = s.RestoreFill(ctx, "m", "rock-wool-45")
		must(t, err)
		offer, err := s.RestoreOffer(ctx, "m", "rock-wool-pack")
		must(t, err)
		want := samples().Offers[3]
		want.Meta = offer.Meta
		equal(t, "restored offer", want, offer)
	})
}

func TestAnOfferNeedsTheSourcesOfItsPrices(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		filled(t, s)
		slip := samples().Sources[0]
		slip.Meta = catalog.Meta{Slug: "slip", Name: "Slip"}
		_, err := s.AddSource(ctx, "m", slip)
		must(t, err)
		p := samples().Prices[1]
		p.ID, p.OfferID, p.SourceID = "", "one-panel", "slip"
		_, err = s.AddPrice(ctx, "m", p)
		must(t, err)
		if err := s.DeleteSource(ctx, "m", "slip", 0); clashIn(err) != "id" {
			t.Errorf("the source of a price: %v", err)
		}
		must(t, s.DeleteOffer(ctx, "m", "one-panel", 0))
		must(t, s.DeleteSource(ctx, "m", "slip", 0))
		if _, err := s.RestoreOffer(ctx, "m", "one-panel"); clashIn(err) != "id" {
			t.Errorf("an offer whose prices lost their source: %v", err)
		}
		_, err = s.RestoreSource(ctx, "m", "slip")
		must(t, err)
		_, err = s.RestoreOffer(ctx, "m", "one-panel")
		must(t, err)
	})
}

func TestOffersFitWhatTheySell(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		filled(t, s)
		all := samples()
		timber, pack := all.Offers[0], all.Offers[3]
		timber.StockLength = 2700
		pack.SoldSize = &catalog.SoldSize{Length: 1200, Width: 600, Thickness: 75}
		_, err := s.ReplaceOffer(ctx, "m", "batten-2400", 1, timber)
		equal(t, "timber", []string{"/stock_length_mm unknown_size"}, faultsAt(err))
		_, err = s.ReplaceOffer(ctx, "m", "rock-wool-pack", 1, pack)
		equal(t, "pack", []string{"/sold_size unknown_size"}, faultsAt(err))
		pack.Meta = catalog.Meta{Slug: "new", Name: "New"}
		_, err = s.AddOffer(ctx, "m", pack)
		equal(t, "new pack", []string{"/sold_size unknown_size"}, faultsAt(err))

		// The other way round: the item keeps what is offered of it.
		wool, batten := all.Fills[1], all.Parts[0]
		wool.SoldSizes = wool.SoldSizes[1:]
		batten.StockLengths = batten.StockLengths[1:]
		if _, err := s.ReplaceFill(ctx, "m", "rock-wool-45", 1, wool); clashIn(err) != "sold_sizes" {
			t.Errorf("an offered size: %v", err)
		}
		if _, err := s.ReplacePart(ctx, "m", "batten-18x95", 1, batten); clashIn(err) != "stock_lengths_mm" {
			t.Errorf("an offered length: %v", err)
		}
		must(t, s.DeleteOffer(ctx, "m", "rock-wool-pack", 1))
		_, err = s.ReplaceFill(ctx, "m", "rock-wool-45", 1, wool)
		must(t, err)
		if _, err := s.RestoreOffer(ctx, "m", "rock-wool-pack"); clashIn(err) != "sold_size" {
			t.Errorf("an offer whose size is gone: %v", err)
		}
	})
}

// What Validate should have refused, the database refuses too.
func TestTheDatabaseKeepsItsRules(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		filled(t, s)
		nul := samples().Suppliers[0]
		nul.Meta = catalog.Meta{Slug: "long", Name: "Long"}
		nul.Currency = "EURO"
		_, err := s.AddSupplier(ctx, "m", nul)
		equal(t, "currency of four letters", []string{" refused"}, faultsAt(err))
		f := samples().Fills[1]
		f.Meta = catalog.Meta{Slug: "mad", Name: "Mad"}
		f.Handling.Dust = "perhaps"
		_, err = s.AddFill(ctx, "m", f)
		equal(t, "perhaps dusty", []string{" refused"}, faultsAt(err))
		f = samples().Fills[1]
		f.Meta = catalog.Meta{Slug: "mad", Name: "Mad"}
		f.SoldSizes = append(f.SoldSizes, f.SoldSizes[0])
		if _, err := s.AddFill(ctx, "m", f); clashIn(err) != "sold_sizes" {
			t.Errorf("a size twice: %v", err)
		}
		f.SoldSizes = nil
		f.Density.Low = 46
		_, err = s.AddFill(ctx, "m", f)
		equal(t, "low above value", []string{" refused"}, faultsAt(err))
		f.Density.Low = 0
		f.Name = " \u2003 "
		_, err = s.AddFill(ctx, "m", f)
		equal(t, "a name of spaces", []string{" refused"}, faultsAt(err))
	})
}
