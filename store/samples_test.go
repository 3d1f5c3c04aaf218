package store_test

import (
	"context"
	"errors"
	"fmt"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
	"sabinbook/internal/money"
	"sabinbook/internal/units"
	"sabinbook/store"
	"sabinbook/store/storetest"
)

func TestMain(m *testing.M) { storetest.Main(m) }

var ctx = context.Background()

// same compares records; an empty list is no list.
var same = cmp.Options{cmpopts.EquateEmpty(),
	cmp.Comparer(func(a, b bands.Curve) bool { return a == b }),
	cmp.Comparer(func(a, b money.Amount) bool { return a == b })}

func equal(t *testing.T, what string, want, got any) {
	t.Helper()
	if d := cmp.Diff(want, got, same); d != "" {
		t.Errorf("%s: - wanted, + got\n%s", what, d)
	}
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// noon is the time of the clock of most tests, finer than what is stored. It lies after the
// clock of whoever runs them, so that what is stored at noon is the newest.
var noon = time.Date(2199, 11, 25, 12, 0, 0, 123_456_789, time.UTC)

// stopped stops the clock of a store at noon.
func stopped(s *store.Store) time.Time {
	s.Now = func() time.Time { return noon }
	return noon.Truncate(time.Millisecond)
}

// id is the n-th made-up id of a noun.
func id(n catalog.Noun, i int) catalog.ID { return catalog.ID(fmt.Sprintf("%s_%026d", n.Prefix, i)) }

var (
	labBook  = id(catalog.NounSource, 1)
	shopNote = id(catalog.NounSource, 2)
)

func number[U ~float64](value, low, high U) *catalog.Figure[U] {
	return &catalog.Figure[U]{Value: value, Low: low, High: high, Evidence: catalog.Measured, SourceID: labBook, Basis: "weighed, §4 – “twice”"}
}

func pointer[T any](v T) *T { return &v }

// fires are two declarations, one with every field.
func fires() []catalog.FireDeclaration {
	return []catalog.FireDeclaration{
		{Subject: "fill", Scheme: catalog.EN13501, Code: "B-s1,d0", Edition: "2018", Report: "R 17", Laboratory: "Quillhaven", EndUse: "on masonry, no gap",
			Durability: "inherent", Evidence: "report_seen", SourceID: shopNote},
		{Subject: "whole_panel", Scheme: catalog.ASTME84, Code: "A", FlameSpread: pointer(0), SmokeDeveloped: pointer(450), Durability: "unknown", Evidence: "hearsay", SourceID: labBook},
	}
}

// samples is a catalog of made-up records in which every field of every noun is set at
// least once, and one of each optional part is missing at least once.
func samples() catalog.Snapshot {
	meta := func(n catalog.Noun, i int, slug, name string) catalog.Meta {
		return catalog.Meta{ID: id(n, i), Slug: catalog.Slug(slug), Name: name}
	}
	thirds := bands.NewCurve(bands.ThirdOctave)
	thirds.Set(0, 0)
	thirds.Set(7, 0.8500000000000001)
	thirds.Set(17, 1.15)
	free := money.FromMinor(15000, "EUR")
	trip := money.Zero("EUR")
	all := catalog.Snapshot{
		Sources: []catalog.Source{
			{Meta: meta(catalog.NounSource, 1, "lab-book", "Lab book Ω"), Citation: "Own measurements, p. 3", Observer: "Mira", Date: "2026-01-31", Licence: "CC0-1.0", Evidence: catalog.Measured, Note: "line\nline"},
			{Meta: meta(catalog.NounSource, 2, "shop-note", "Shop note"), Citation: "A shelf", Licence: "facts only", Evidence: catalog.Declared, Invented: true},
		},
		Fills: []catalog.Fill{
			{Meta: meta(catalog.NounFill, 1, "rock-wool-45", "Rock wool 45"), Family: catalog.RockWool, Form: catalog.Slab,
				Density: number[units.Density](45, 40.5, 49.25), Resistivity: number[units.AirflowResistivity](12_345.678, 8_000, 20_000), FibreDiameter: number[units.Diameter](5.5, 5, 6.25),
				SoldSizes: []catalog.SoldSize{{Length: 1200, Width: 600, Thickness: 50}, {Length: 1000, Width: 600, Thickness: 100.5}}, Fire: fires(),
				Handling: catalog.Handling{Profile: catalog.Fibrous, Irritant: catalog.Yes, Dust: catalog.No, Binder: catalog.PhenolFormaldehyde, Borate: number[units.Fraction](0.08, 0.05, 0.1),
					Moth: catalog.MothNotNeeded, BackTissue: catalog.Unknown, NoteQ: catalog.Yes, NoteR: catalog.No, Cutting: number[units.Minutes](1.5, 1, 2)},
				SourceID: shopNote, Note: "a note"},
			{Meta: meta(catalog.NounFill, 2, "loose-cotton", "Loose cotton"), Family: catalog.Cotton, Form: catalog.Loose, Handling: unknownHandling(), SourceID: shopNote},
		},
		Tests: []catalog.AbsorptionTest{
			{Meta: meta(catalog.NounTest, 1, "rock-wool-e400", "Test"), FillID: id(catalog.NounFill, 1), Standard: "iso_354", Mounting: "E", MountingSuffix: 400, Thickness: 50, AirGap: 350, Density: 44.5,
				Alpha: thirds, CappedAtOne: true, Evidence: catalog.Published, SourceID: labBook, Use: catalog.Preferred, UseNote: "seen whole", Note: "n"},
			{Meta: meta(catalog.NounTest, 2, "rock-wool-a", "Test"), FillID: id(catalog.NounFill, 1), Standard: "handbook_table", Mounting: "A", Thickness: 100, Alpha: bands.OctaveCurve([6]float64{0.2, 0.5, 0.9, 1.1, 1, 1}),
				Evidence: catalog.Remembered, SourceID: shopNote},
		},
		Fabrics: []catalog.Fabric{
			{Meta: meta(catalog.NounFabric, 1, "loose-knit", "Loose knit"), RollWidth: 1500, Selvedge: 15, SurfaceMass: number[units.SurfaceMass](0.25, 0.24, 0.26), Resistance: number[units.AirflowResistance](35, 30, 40),
				Permeability: &catalog.Permeability{Velocity: 1200.5, Pressure: 125, Evidence: catalog.Declared, SourceID: labBook}, Directional: true, Stretch: "high", Fire: fires(), SourceID: shopNote, Note: "n"},
			{Meta: meta(catalog.NounFabric, 2, "dense-weave", "Dense weave"), RollWidth: 1400, Stretch: "unknown", SourceID: labBook},
		},
		Parts: []catalog.Part{
			{Meta: meta(catalog.NounPart, 1, "batten-18x95", "Batten"), Kind: catalog.Timber, Role: catalog.FrameTimber, SectionThickness: 18, SectionWidth: 95, StockLengths: []units.Length{2400, 3000.5},
				Density: number[units.Density](420, 380, 460), SourceID: shopNote, Note: "n"},
			{Meta: meta(catalog.NounPart, 2, "hanger", "Hanger"), Kind: catalog.Hardware, Role: catalog.Hanger, UnitMass: number[units.Mass](0.012, 0.01, 0.015), WorkingLoad: number[units.Mass](12, 11, 13), SourceID: shopNote},
			{Meta: meta(catalog.NounPart, 3, "gloves", "Gloves"), Kind: catalog.ProtectiveEquipment, Role: catalog.Gloves, UsesPerUnit: 4, SourceID: shopNote},
		},
		ReadyMade: []catalog.ReadyMadePanel{
			{Meta: meta(catalog.NounReadyMade, 1, "panel-50", "Panel 50"), Width: 600, Height: 1200, Depth: 50, Mass: number[units.Mass](4.2, 4, 4.4), Alpha: bands.OctaveCurve([6]float64{0.1, 0.4, 0.8, 0.9, 0.9, 0.9}),
				AlphaEvidence: catalog.Declared, AlphaSourceID: labBook, Mounting: "A", Fire: fires(), SourceID: shopNote, Note: "n"},
			{Meta: meta(catalog.NounReadyMade, 2, "panel-bare", "Panel bare"), Width: 600, Height: 600, Depth: 30, SourceID: shopNote},
		},
		Designs: []catalog.Design{
			{Meta: meta(catalog.NounDesign, 1, "wide-panel", "Wide panel"), Width: 900.5, Height: 1200, Turn: 60, Back: "wrapped", BackMargin: -12.5, Oversize: 5, Joint: "half_lap", Braces: 2, StandOffs: 6,
				Parts: []catalog.DesignPart{{Role: catalog.Staple, Count: 80}, {Role: catalog.Hanger, Count: 2}}, Note: "n"},
			{Meta: meta(catalog.NounDesign, 2, "bare-panel", "Bare panel"), Width: 600, Height: 600, Back: "open", Joint: "butt"},
		},
		Rooms: []catalog.Room{
			{Meta: meta(catalog.NounRoom, 1, "rehearsal", "Rehearsal room"), Sides: [3]float64{6.2, 4.4, 2.7}, Air: &catalog.RoomAir{Temperature: 0, Humidity: 45.5, Pressure: 99.9},
				Surfaces: []catalog.RoomSurface{{Face: catalog.Floor, Material: "wood-floor-on-joists"}, {Face: catalog.Walls, Area: 3.36, Own: &catalog.Octaves{0, 0.02, 0.03, 0.04, 0.05, 1.1}}, {Face: catalog.Walls, Material: "plaster"}},
				Things:   []catalog.RoomThing{{Material: "one-seated-person", Count: 6}, {Own: &catalog.Octaves{0.1, 0.2, 0.3, 0.4, 0.5, 0}, Count: 2}},
				Measured: &catalog.Octaves{1.1, 1.2, 1.3, 1.05, 0.9, 0.8}, Target: &catalog.RoomTarget{Rule: "own", Time: 0.6, From: 250, To: 4000}, SourceID: labBook, Note: "n"},
			{Meta: meta(catalog.NounRoom, 2, "attic", "Attic"), Volume: 61.5, Air: &catalog.RoomAir{Temperature: -3.5, Humidity: 80, Pressure: 101}, Surfaces: []catalog.RoomSurface{{Area: 90, Material: "plaster"}}, Target: &catalog.RoomTarget{Rule: "din_18041", Group: "A1", From: 125, To: 4000}, SourceID: shopNote},
			{Meta: meta(catalog.NounRoom, 3, "cellar", "Cellar"), Volume: 30, Surfaces: []catalog.RoomSurface{{Area: 60, Material: "plaster"}}, SourceID: shopNote},
		},
		Rates: []catalog.ExchangeRate{
			{Meta: meta(catalog.NounRate, 1, "eur-jpy", "Euro in yen"), From: "EUR", To: "JPY", Rate: "162.500", Observed: "2026-11-02", Evidence: catalog.Published, SourceID: labBook, Note: "n"},
			{Meta: meta(catalog.NounRate, 2, "gbp-eur", "Pound in euro"), From: "GBP", To: "EUR", Rate: "1.167814737825", Observed: "2026-10-31", Evidence: catalog.Declared, SourceID: shopNote},
		},
		Suppliers: []catalog.Supplier{
			{Meta: meta(catalog.NounSupplier, 1, "harbour-timber", "Harbour Timber"), Country: "NL", Region: "Quillhaven", Currency: "EUR",
				Delivery: &catalog.Delivery{Fee: money.FromMinor(1250, "EUR"), FreeFrom: &free, PerKg: money.FromMicro(37_400, "EUR"), Basis: catalog.GreaterWeight, Divisor: 5000, FreeCoversWeight: true}, TripCost: &trip, SourceID: shopNote, Note: "n"},
			{Meta: meta(catalog.NounSupplier, 2, "far-post", "Far Post"), Currency: "JPY", Delivery: &catalog.Delivery{Fee: money.FromMinor(800, "JPY"), Basis: catalog.ActualWeight}, SourceID: shopNote},
			{Meta: meta(catalog.NounSupplier, 3, "corner-shop", "Corner shop"), Currency: "EUR", TripCost: &free, SourceID: shopNote},
		},
		Offers: []catalog.Offer{
			{Meta: meta(catalog.NounOffer, 1, "rock-wool-pack", "Pack"), SupplierID: id(catalog.NounSupplier, 1), ItemKind: catalog.FillItem, ItemID: id(catalog.NounFill, 1),
				SoldSize: &catalog.SoldSize{Length: 1200, Width: 600, Thickness: 50}, PackCount: 12, PackMass: 19.4, PackVolume: 432.5, MinPacks: 1, MaxPacks: 40, SourceID: shopNote, Note: "n"},
			{Meta: meta(catalog.NounOffer, 2, "knit-by-metre", "Pack"), SupplierID: id(catalog.NounSupplier, 2), ItemKind: catalog.FabricItem, ItemID: id(catalog.NounFabric, 1), PackLength: 1000, SourceID: shopNote},
			{Meta: meta(catalog.NounOffer, 3, "batten-2400", "Batten"), SupplierID: id(catalog.NounSupplier, 1), ItemKind: catalog.PartItem, ItemID: id(catalog.NounPart, 1), StockLength: 2400, PackCount: 1, SourceID: shopNote},
			{Meta: meta(catalog.NounOffer, 4, "one-panel", "Panel"), SupplierID: id(catalog.NounSupplier, 1), ItemKind: catalog.ReadyMadeItem, ItemID: id(catalog.NounReadyMade, 1), PackCount: 1, SourceID: shopNote},
		},
	}
	all.Prices = []catalog.Price{
		{ID: id(catalog.NounPrice, 1), OfferID: id(catalog.NounOffer, 1), Amount: money.FromMinor(4680, "EUR"), TaxIncluded: true, TaxRateBP: 2100, Observed: "2026-11-02", Evidence: catalog.Measured, SourceID: shopNote, Note: "n"},
		{ID: id(catalog.NounPrice, 2), OfferID: id(catalog.NounOffer, 1), Amount: money.FromMinor(4608, "EUR"), Breaks: []catalog.Break{{From: 5, Price: money.FromMicro(44_100_500, "EUR")}, {From: 20, Price: money.FromMinor(4000, "EUR")}}, TaxRateBP: 2100, Observed: "2026-11-01", Corrects: id(catalog.NounPrice, 1), Evidence: catalog.Measured, SourceID: labBook},
		{ID: id(catalog.NounPrice, 3), OfferID: id(catalog.NounOffer, 2), Amount: money.FromMinor(900, "JPY"), Observed: "2026-10-05", Evidence: catalog.Declared, SourceID: shopNote},
	}
	all.Sort()
	return all
}

func unknownHandling() catalog.Handling {
	return catalog.Handling{Profile: catalog.OtherProfile, Irritant: catalog.Unknown, Dust: catalog.Unknown, Binder: catalog.UnknownBinder, Moth: catalog.MothUnknown,
		BackTissue: catalog.Unknown, NoteQ: catalog.Unknown, NoteR: catalog.Unknown}
}

// filled stores the samples.
func filled(t testing.TB, s *store.Store) {
	t.Helper()
	must(t, s.AddAll(ctx, "keeper", samples()))
}

// faultsAt returns the pointers and codes of an *catalog.InvalidError.
func faultsAt(err error) []string {
	var bad *catalog.InvalidError
	if !errors.As(err, &bad) {
		return []string{fmt.Sprint(err)}
	}
	var list []string
	for _, f := range bad.Faults {
		list = append(list, f.Pointer+" "+f.Code)
	}
	return list
}

// clashIn returns the field of a *catalog.ConflictError.
func clashIn(err error) string {
	var clash *catalog.ConflictError
	if !errors.As(err, &clash) || !errors.Is(err, catalog.ErrConflict) || clash.Detail == "" || clash.Fix == "" {
		return fmt.Sprint(err)
	}
	return clash.Field
}
