package ranking

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"sabinbook/internal/absorption"
	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
	"sabinbook/internal/costing"
	"sabinbook/internal/handling"
	"sabinbook/internal/money"
	"sabinbook/internal/panels"
	"sabinbook/internal/units"
)

// All goods and prices here are invented for the tests; what is checked against published
// figures are the packages underneath.

const day = catalog.Date("2026-11-02")

func meta(noun, slug string) catalog.Meta {
	return catalog.Meta{ID: catalog.ID(noun + "_" + slug), Slug: catalog.Slug(slug), Name: slug}
}

func figure[U ~float64](v U) *catalog.Figure[U] {
	return &catalog.Figure[U]{Value: v, Evidence: catalog.Declared, SourceID: "src_test"}
}

// stock is a catalog under construction.
type stock struct{ catalog.Snapshot }

func (s *stock) offer(kind catalog.ItemKind, item catalog.Meta, supplier string, cents int64, change func(*catalog.Offer)) {
	o := catalog.Offer{Meta: meta("offer", fmt.Sprintf("%s-%s-%d", item.Slug, supplier, len(s.Offers))), SupplierID: catalog.ID("sup_" + supplier),
		ItemKind: kind, ItemID: item.ID, PackCount: 1, SourceID: "src_test"}
	if change != nil {
		change(&o)
	}
	s.Offers = append(s.Offers, o)
	s.Prices = append(s.Prices, catalog.Price{ID: catalog.ID(fmt.Sprintf("price_%04d", len(s.Prices))), OfferID: o.ID, Amount: money.FromMinor(cents, "EUR"),
		TaxIncluded: true, Observed: "2026-10-01", Evidence: catalog.Declared, SourceID: "src_test"})
}

func (s *stock) fill(slug string, sigma units.AirflowResistivity, profile catalog.Profile, cents int64, thicknesses ...units.Length) *catalog.Fill {
	f := catalog.Fill{Meta: meta("fill", slug), Family: catalog.RockWool, Form: catalog.Slab, Density: figure(units.Density(40)), SourceID: "src_test",
		Handling: catalog.Handling{Profile: profile, Irritant: catalog.Unknown, Dust: catalog.No, BackTissue: catalog.No}}
	if sigma > 0 {
		f.Resistivity = figure(sigma)
	}
	for _, t := range thicknesses {
		size := catalog.SoldSize{Length: 1200, Width: 600, Thickness: t}
		f.SoldSizes = append(f.SoldSizes, size)
		if cents > 0 {
			s.offer(catalog.FillItem, f.Meta, "yard", cents*int64(t)/50, func(o *catalog.Offer) { o.SoldSize = &size; o.PackCount = 5 })
		}
	}
	s.Fills = append(s.Fills, f)
	return &s.Fills[len(s.Fills)-1]
}

func (s *stock) fabric(slug string, r units.AirflowResistance, cents int64) {
	f := catalog.Fabric{Meta: meta("fabric", slug), RollWidth: 1500, SurfaceMass: figure(units.SurfaceMass(0.2)), SourceID: "src_test"}
	if r > 0 {
		f.Resistance = figure(r)
	}
	s.Fabrics = append(s.Fabrics, f)
	if cents > 0 {
		s.offer(catalog.FabricItem, f.Meta, "cloth", cents, func(o *catalog.Offer) { o.PackCount, o.PackLength = 0, 500 })
	}
}

func (s *stock) part(slug string, role catalog.Role, kind catalog.PartKind, width units.Length, cents int64) {
	p := catalog.Part{Meta: meta("part", slug), Kind: kind, Role: role, SectionThickness: 18, SectionWidth: width, Density: figure(units.Density(400)), SourceID: "src_test"}
	if kind == catalog.Timber {
		p.StockLengths = []units.Length{2400}
	}
	if kind == catalog.ProtectiveEquipment {
		p.UsesPerUnit = 1
	}
	s.Parts = append(s.Parts, p)
	s.offer(catalog.PartItem, p.Meta, "yard", cents, func(o *catalog.Offer) {
		if kind == catalog.Timber {
			o.StockLength = 2400
		}
	})
}

// smallStock has what panels of 50 and 100 mm need, at one yard and one cloth shop.
func smallStock() *stock {
	s := &stock{}
	fee, trip := money.FromMinor(900, "EUR"), money.FromMinor(300, "EUR")
	s.Suppliers = []catalog.Supplier{
		{Meta: meta("sup", "cloth"), Currency: "EUR", Delivery: &catalog.Delivery{Fee: fee, PerKg: money.Zero("EUR")}, SourceID: "src_test"},
		{Meta: meta("sup", "yard"), Currency: "EUR", TripCost: &trip, SourceID: "src_test"},
	}
	s.Sources = []catalog.Source{{Meta: meta("src", "test"), Citation: "test", Licence: "facts only", Evidence: catalog.Declared, Invented: true}}
	for _, w := range []units.Length{50, 100} {
		s.part(fmt.Sprintf("pine-%g", float64(w)), catalog.FrameTimber, catalog.Timber, w, 300+int64(w))
	}
	s.part("hook", catalog.Hanger, catalog.Hardware, 0, 120)
	s.part("screw", catalog.Screw, catalog.Hardware, 0, 5)
	s.part("spacer", catalog.StandOff, catalog.Hardware, 0, 60)
	s.part("staple", catalog.Staple, catalog.Consumable, 0, 1)
	for _, role := range []catalog.Role{catalog.Respirator, catalog.Gloves, catalog.Goggles, catalog.Coverall, catalog.LongSleeves} {
		s.part("wear-"+string(role[:3]), role, catalog.ProtectiveEquipment, 0, 250)
	}
	s.fill("felt", 9000, catalog.PolyProfile, 6000, 50)
	s.fill("slab", 12_000, catalog.Fibrous, 4000, 50, 100)
	s.fabric("knit", 60, 400)
	s.fabric("weave", 900, 300)
	return s
}

func rank(t testing.TB, s *stock, change func(*Brief)) Result {
	t.Helper()
	s.Sort()
	b := StandardBrief(10, day, "EUR")
	if change != nil {
		change(&b)
	}
	r, err := Prepare(s.Snapshot, 1).Rank(b)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func keys(list []Option) []string {
	out := make([]string, len(list))
	for i, o := range list {
		out[i] = o.Key()
	}
	return out
}

func TestEveryCandidateIsSomewhere(t *testing.T) {
	r := rank(t, smallStock(), nil)
	// felt 50 and slab 50, 100 in 1 and 2 layers, 2 gaps, 2 fabrics
	if want := 3 * 2 * 2 * 2; r.Considered != want {
		t.Errorf("%d candidates, want %d", r.Considered, want)
	}
	left := 0
	for _, l := range r.LeftOut {
		left += l.Count
		if l.Reason != NoFrame || l.Fill.Slug != "slab" || l.Thickness != 100 || l.Layers != 2 {
			t.Errorf("left out: %+v", l)
		}
	}
	if r.Priced+r.Unpriced+left != r.Considered || left != 4 {
		t.Errorf("%d ranked, %d unpriced, %d left out of %d", r.Priced, r.Unpriced, left, r.Considered)
	}
}

func TestOrders(t *testing.T) {
	s := smallStock()
	s.fill("mystery", 10_000, catalog.OtherProfile, 100, 50)
	for _, c := range []struct {
		order Order
		value func(Option) float64 // not descending down the list
	}{
		{ByAbsorptionPerCost, func(o Option) float64 { return -o.PerCurrencyUnit() }},
		{ByCost, func(o Option) float64 { return float64(o.Cost.Total.Minor()) }},
		{ByAbsorption, func(o Option) float64 { return -float64(o.Area) }},
		{ByBurden, func(o Option) float64 { return float64(o.Burden.Total) }},
	} {
		r := rank(t, s, func(b *Brief) { b.Order = c.order })
		if len(r.Options) == 0 {
			t.Fatal("no options")
		}
		for i, o := range r.Options {
			if o.Place != i+1 {
				t.Errorf("%s: place %d at %d", c.order, o.Place, i)
			}
			if i > 0 && c.value(r.Options[i-1]) > c.value(o) {
				t.Errorf("%s: %s before %s", c.order, r.Options[i-1].Key(), o.Key())
			}
		}
	}
}

func TestUnknownBurdenMeansNoFullPriceAndIsNeverZero(t *testing.T) {
	s := smallStock()
	s.fill("mystery", 10_000, catalog.OtherProfile, 100, 50)
	r := rank(t, s, nil)
	if slices.ContainsFunc(r.Options, func(o Option) bool { return o.Build.Fill.Slug == "mystery" }) {
		t.Error("what protective equipment a fill of unknown profile needs is not known, so its cost is not either")
	}
	if !slices.ContainsFunc(r.NotPriced, func(o Option) bool { return o.Build.Fill.Slug == "mystery" && o.Place == 0 && o.Cost.Total == nil }) {
		t.Error("it must stand in NotPriced")
	}
}

func TestOptionWithoutPriceHasNoPlace(t *testing.T) {
	s := smallStock()
	s.fill("gift", 10_000, catalog.PolyProfile, 0, 50)
	r := rank(t, s, func(b *Brief) { b.Order = ByCost })
	for _, o := range r.NotPriced {
		if o.Build.Fill.Slug != "gift" || o.Place != 0 || len(o.Cost.Missing) == 0 || o.PerCurrencyUnit() != 0 {
			t.Errorf("not priced: %s %+v", o.Key(), o.Cost.Missing)
		}
	}
	if r.Unpriced != 8 || slices.ContainsFunc(r.Options, func(o Option) bool { return o.Build.Fill.Slug == "gift" }) {
		t.Errorf("%d unpriced", r.Unpriced)
	}
}

func TestReasonsAreNamed(t *testing.T) {
	s := smallStock()
	s.fill("blank", 0, catalog.PolyProfile, 100, 50).Family = catalog.OtherFamily // no relation to density
	s.fill("wool", 5000, catalog.WoolProfile, 100).Form = catalog.Loose
	s.fabric("veil", 0, 100)
	s.fill("tested", 0, catalog.PolyProfile, 100, 50).Family = catalog.OtherFamily
	s.Tests = append(s.Tests, catalog.AbsorptionTest{Meta: meta("test", "tested-25"), FillID: "fill_tested", Mounting: "A", Thickness: 25,
		Alpha: bands.OctaveCurve([6]float64{0.1, 0.2, 0.3, 0.4, 0.5, 0.6}), SourceID: "src_test"})
	r := rank(t, s, nil)
	got := map[string]bool{}
	for _, l := range r.LeftOut {
		got[string(l.Reason)+" "+string(l.Fill.Slug)] = true
	}
	for _, want := range []string{"no_absorption_data blank", "no_sold_thickness wool", "no_fabric_openness felt", "no_fitting_test tested", "no_frame_timber slab"} {
		if !got[want] {
			t.Errorf("no %q in %v", want, got)
		}
	}
}

func TestRankedCoefficientIsAtMostOneAndTheRawValueIsKept(t *testing.T) {
	s := smallStock()
	f := s.fill("tested", 0, catalog.PolyProfile, 2000, 50)
	s.Tests = append(s.Tests, catalog.AbsorptionTest{Meta: meta("test", "tested-50"), FillID: f.ID, Mounting: "A", Thickness: 50,
		Alpha: bands.OctaveCurve([6]float64{0.2, 0.7, 1.2, 1.1, 1, 1}), SourceID: "src_test"})
	s.Fabrics = nil
	s.fabric("gauze", 1, 400)
	r := rank(t, s, func(b *Brief) { b.Fills, b.AirGaps, b.LayersMax = []string{"tested"}, []units.Length{0}, 1 })
	if len(r.Options) != 1 {
		t.Fatalf("%d options, left out %+v", len(r.Options), r.LeftOut)
	}
	o := r.Options[0]
	face := units.Area(0.72 * 10)
	if o.Absorption.Basis != absorption.Measured || o.Octaves[2].Raw != 1.2 || o.Octaves[2].Ranked != 1 || math.Abs(float64(o.Octaves[2].Area-face)) > 1e-12 {
		t.Errorf("octave 500 Hz: %+v", o.Octaves[2])
	}
	// flat purpose: (0.2 + 0.7 + 1 + 1 + 1 + 1)/6 of 7.2 m²
	if want := 4.9 / 6 * 7.2; math.Abs(float64(o.Area)-want) > 1e-9 {
		t.Errorf("area %.6f m², want %.6f", float64(o.Area), want)
	}
}

func TestMissingBandMattersOnlyWhereItCounts(t *testing.T) {
	s := smallStock()
	f := s.fill("tested", 0, catalog.PolyProfile, 2000, 50)
	c := bands.NewCurve(bands.Octave)
	for i := 1; i < bands.OctaveCount; i++ {
		c.Set(bands.OctaveBand(i), 0.8)
	}
	s.Tests = append(s.Tests, catalog.AbsorptionTest{Meta: meta("test", "tested-50"), FillID: f.ID, Mounting: "A", Thickness: 50, Alpha: c, SourceID: "src_test"})
	s.Fabrics = nil
	s.fabric("gauze", 1, 400)
	only := func(p Purpose) func(*Brief) {
		return func(b *Brief) {
			b.Fills, b.AirGaps, b.LayersMax, b.Purpose = []string{"tested"}, []units.Length{0}, 1, p
		}
	}
	if r := rank(t, s, only(FlatPurpose())); len(r.Options) != 0 || r.LeftOut[0].Reason != BandsMissing {
		t.Errorf("flat needs 125 Hz: %v %+v", keys(r.Options), r.LeftOut)
	}
	if r := rank(t, s, only(SpeechPurpose())); len(r.Options) != 1 || math.Abs(r.Options[0].Alpha-0.8) > 1e-12 {
		t.Errorf("speech does not: %+v", r.LeftOut)
	}
}

func TestBestPerFillCountsTheRest(t *testing.T) {
	all := rank(t, smallStock(), nil)
	best := rank(t, smallStock(), func(b *Brief) { b.Show = BestPerFill })
	if len(best.Options) != 2 || best.Priced != all.Priced {
		t.Fatalf("%d shown of %d", len(best.Options), best.Priced)
	}
	hidden := 0
	for i, o := range best.Options {
		hidden += o.OtherBuilds
		first := slices.IndexFunc(all.Options, func(a Option) bool { return a.Build.Fill.ID == o.Build.Fill.ID })
		if o.Place != i+1 || all.Options[first].Key() != o.Key() {
			t.Errorf("place %d is %s, the first of all with this fill %s", o.Place, o.Key(), all.Options[first].Key())
		}
	}
	if hidden+2 != all.Priced {
		t.Errorf("%d hidden and 2 shown of %d", hidden, all.Priced)
	}
}

func TestOrderOfInputChangesNothing(t *testing.T) {
	want := rank(t, smallStock(), nil)
	rapid.Check(t, func(rt *rapid.T) {
		s := smallStock()
		s.Fills = rapid.Permutation(s.Fills).Draw(rt, "fills")
		s.Fabrics = rapid.Permutation(s.Fabrics).Draw(rt, "fabrics")
		s.Parts = rapid.Permutation(s.Parts).Draw(rt, "parts")
		s.Offers = rapid.Permutation(s.Offers).Draw(rt, "offers")
		s.Prices = rapid.Permutation(s.Prices).Draw(rt, "prices")
		got := rank(t, s, nil)
		if diff := cmp.Diff(keys(want.Options), keys(got.Options)); diff != "" {
			rt.Fatal(diff)
		}
		if !reflect.DeepEqual(want, got) {
			rt.Fatal("the same catalog in another order has another answer")
		}
	})
}

// A cheaper offer never brings an option that buys it behind one that does not; those that buy
// more of it may overtake it.
func TestCheaperOfferNeverWorsensAPlaceByCost(t *testing.T) {
	ahead := func(list []Option) map[string]int {
		others, n := 0, map[string]int{}
		for _, o := range list {
			if o.Build.Fill.Slug != "slab" {
				others++
			}
			n[o.Key()] = others
		}
		return n
	}
	before := rank(t, smallStock(), func(b *Brief) { b.Order = ByCost })
	s := smallStock()
	for i, o := range s.Offers {
		if o.ItemID == "fill_slab" {
			s.Prices[i].Amount = money.FromMinor(s.Prices[i].Amount.Minor()-500, "EUR")
		}
	}
	was, is := ahead(before.Options), ahead(rank(t, s, func(b *Brief) { b.Order = ByCost }).Options)
	for _, o := range before.Options {
		if key := o.Key(); o.Build.Fill.Slug == "slab" && is[key] > was[key] {
			t.Errorf("%s: %d options with another fill are before it, then %d", key, was[key], is[key])
		}
	}
}

// A higher coefficient in a test never brings a fill farther back by absorption, whatever build of it stands first.
func TestHigherCoefficientNeverWorsensAPlaceByAbsorption(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(rt, "catalog"), 3))
		s := market(r, 2+r.IntN(6), 1+r.IntN(3), 3, 30, 50, 100)
		f := s.Fills[r.IntN(len(s.Fills))]
		alpha := [bands.OctaveCount]float64{0.15, 0.5, 0.85, 0.9, 0.9, 0.9}
		test := catalog.AbsorptionTest{Meta: meta("test", "tested"), FillID: f.ID, Mounting: "A", Thickness: 50, Alpha: bands.OctaveCurve(alpha), SourceID: "src_test"}
		place := func() int {
			s.Tests = []catalog.AbsorptionTest{test}
			got := rank(t, s, func(b *Brief) { b.Order, b.Show, b.Draws.Count = ByAbsorption, BestPerFill, 0 })
			return 1 + slices.IndexFunc(got.Options, func(o Option) bool { return o.Build.Fill.ID == f.ID })
		}
		was := place()
		alpha[rapid.IntRange(0, bands.OctaveCount-1).Draw(rt, "octave")] += rapid.Float64Range(0, 0.3).Draw(rt, "more")
		test.Alpha = bands.OctaveCurve(alpha)
		if is := place(); is > was {
			rt.Fatalf("place %d, then %d", was, is)
		}
	})
}

// Names for people take no part: under other names everything has the same key, place and figures.
func TestNamesChangeNothing(t *testing.T) {
	want := rank(t, smallStock(), nil)
	s := smallStock()
	for i := range s.Fills {
		s.Fills[i].Name = fmt.Sprintf("%c %d", 'z'-rune(i%26), i)
	}
	for i := range s.Fabrics {
		s.Fabrics[i].Name = fmt.Sprintf("%c %d", 'z'-rune(i%26), i)
	}
	for i := range s.Suppliers {
		s.Suppliers[i].Name = fmt.Sprintf("%c %d", 'z'-rune(i%26), i)
	}
	got := rank(t, s, nil)
	if diff := cmp.Diff(keys(want.Options), keys(got.Options)); diff != "" {
		t.Error(diff)
	}
	for i, o := range got.Options {
		if w := want.Options[i]; o.Area != w.Area || o.Cost.Total.Cmp(*w.Cost.Total) != 0 || o.Likely.Best != w.Likely.Best || o.Likely.Group != w.Likely.Group || o.BeatenBy != w.BeatenBy {
			t.Errorf("%s: other figures", o.Key())
		}
	}
}

func TestTimberWithoutPriceIsNotATimberThatDoesNotExist(t *testing.T) {
	s := smallStock()
	for i, o := range s.Offers {
		if o.ItemID == "part_pine-100" {
			s.Prices[i].Observed = "2024-01-01"
		}
	}
	thick := func(b *Brief) { b.Fills, b.LayersMax = []string{"slab"}, 1 }
	r := rank(t, s, thick)
	if len(r.LeftOut) != 0 || r.Unpriced != 4 || r.NotPriced[0].Cost.Missing[0].Need != "frame" {
		t.Errorf("%d unpriced, left out %+v", r.Unpriced, r.LeftOut)
	}
	r = rank(t, s, func(b *Brief) {
		thick(b)
		b.Terms.Owned, b.Handling.Owned = []catalog.Role{catalog.FrameTimber}, []catalog.Role{catalog.FrameTimber}
	})
	if r.Unpriced != 0 || r.Priced != 8 {
		t.Errorf("an owned frame needs no price: %d ranked, %d unpriced", r.Priced, r.Unpriced)
	}
}

// Of two hooks any one is taken to carry the whole panel (convention of hanging.md section 2).
func TestHangersAreHeldAgainstTheMassOfThePanel(t *testing.T) {
	weigh := func(load *catalog.Figure[units.Mass]) Result {
		s := smallStock()
		for i := range s.Parts {
			if s.Parts[i].Role == catalog.Hanger {
				s.Parts[i].WorkingLoad = load
			}
		}
		return rank(t, s, nil)
	}
	strong, weak, unknown := weigh(figure(units.Mass(50))), weigh(figure(units.Mass(0.5))), weigh(nil)
	if strong.Priced == 0 || slices.Contains(strong.Options[0].Burden.Cautions, handling.HangerUnknown) {
		t.Errorf("strong hangers: %d ranked", strong.Priced)
	}
	if weak.Priced != 0 || weak.Unpriced != strong.Priced || weak.NotPriced[0].Cost.Missing[0].Reason != costing.TooWeak {
		t.Errorf("weak hangers: %d ranked, %d not priced", weak.Priced, weak.Unpriced)
	}
	if unknown.Priced != strong.Priced || !slices.Contains(unknown.Options[0].Burden.Cautions, handling.HangerUnknown) {
		t.Errorf("hangers of unknown load: %d ranked", unknown.Priced)
	}
	// A stronger and dearer hanger is bought where the cheap one is too weak.
	s := smallStock()
	s.Parts[2].WorkingLoad = figure(units.Mass(0.5))
	s.part("cleat", catalog.Hanger, catalog.Hardware, 0, 900)
	s.Parts[len(s.Parts)-1].WorkingLoad = figure(units.Mass(50))
	if s.Parts[2].Role != catalog.Hanger {
		t.Fatal("the hook has moved")
	}
	r := rank(t, s, nil)
	for _, l := range r.Options[0].Cost.Lines {
		if l.Role == catalog.Hanger && l.Slug != "cleat" {
			t.Errorf("%s is bought", l.Slug)
		}
	}
}

func TestBadBriefsNameTheirFaults(t *testing.T) {
	good := StandardBrief(10, day, "EUR")
	for _, c := range []struct {
		at     string
		change func(*Brief)
	}{
		{"/panel_count", func(b *Brief) { b.PanelCount = 0 }},
		{"/panel_count", func(b *Brief) { b.PanelCount = 10_000 }},
		{"/panel/width_mm", func(b *Brief) { b.Design.Width = 0.6 }},
		{"/panel/back", func(b *Brief) { b.Design.Back = "glass" }},
		{"/panel/parts/0/role", func(b *Brief) { b.Design.Parts = []panels.PartCount{{Role: catalog.Goggles, Count: 1}} }},
		{"/layers_max_count", func(b *Brief) { b.LayersMax = 3 }},
		{"/air_gaps_mm", func(b *Brief) { b.AirGaps = nil }},
		{"/air_gaps_mm/1", func(b *Brief) { b.AirGaps = []units.Length{50, 50} }},
		{"/families/0", func(b *Brief) { b.Families = []catalog.Family{"straw"} }},
		{"/order", func(b *Brief) { b.Order = "beauty" }},
		{"/show", func(b *Brief) { b.Show = "some" }},
		{"/limit", func(b *Brief) { b.Limit = 0 }},
		{"/currency", func(b *Brief) { b.Terms.Currency = "DEM" }},
		{"/as_of_date", func(b *Brief) { b.Terms.AsOf = "yesterday" }},
		{"/handling/persons_count", func(b *Brief) { b.Handling.Persons = -1 }},
		{"/handling/persons_count", func(b *Brief) { b.Handling.Persons = 0 }},
		{"/handling/panels_per_session_count", func(b *Brief) { b.Handling.PanelsPerSession = 0 }},
		{"/handling/value_of_hour/currency", func(b *Brief) { a := money.FromMinor(1500, "USD"); b.Handling.ValueOfHour = &a }},
		{"/owned_roles/0", func(b *Brief) { b.Handling.Owned = []catalog.Role{"hat"} }},
	} {
		b := good
		c.change(&b)
		_, err := Prepare(catalog.Snapshot{}, 1).Rank(b)
		var invalid *catalog.InvalidError
		if !errors.As(err, &invalid) || !slices.ContainsFunc(invalid.Faults, func(f catalog.Fault) bool { return f.Pointer == c.at && f.Detail != "" && f.Fix != "" }) {
			t.Errorf("%s: %v", c.at, err)
		}
	}
	b := good
	b.Fills = []string{"unobtainium"}
	if _, err := Prepare(smallStock().Snapshot, 1).Rank(b); err == nil {
		t.Error("an unknown fill must be refused")
	}
}

func BenchmarkRank(b *testing.B) {
	s := smallStock()
	for i := range 30 {
		s.fill(fmt.Sprintf("fill-%02d", i), units.AirflowResistivity(3000+1000*i), catalog.Fibrous, int64(3000+100*i), 50, 100)
	}
	for i := range 10 {
		s.fabric(fmt.Sprintf("cloth-%02d", i), units.AirflowResistance(20+40*i), int64(200+10*i))
	}
	s.Sort()
	brief := StandardBrief(10, day, "EUR")
	for b.Loop() {
		r, err := Prepare(s.Snapshot, 1).Rank(brief)
		if err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(r.Considered), "candidates")
	}
}
