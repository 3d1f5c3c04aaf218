package seed

import (
	"cmp"
	"fmt"
	"io/fs"
	"regexp"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	gocmp "github.com/google/go-cmp/cmp"

	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
	"sabinbook/internal/money"
	"sabinbook/internal/panels"
	"sabinbook/internal/rooms"
)

// today is the day of the demo, on which no price may lie in the future.
const today catalog.Date = "2026-11-02"

func snapshot(t *testing.T) catalog.Snapshot {
	t.Helper()
	s, err := Load()
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// bySlug finds records by their slug.
func bySlug[T any](list []T, meta func(T) catalog.Meta) map[catalog.Slug]T {
	found := map[catalog.Slug]T{}
	for _, r := range list {
		found[meta(r).Slug] = r
	}
	return found
}

func fillMeta(f catalog.Fill) catalog.Meta     { return f.Meta }
func fabricMeta(f catalog.Fabric) catalog.Meta { return f.Meta }

func TestLoadTwiceGivesTheSame(t *testing.T) {
	exact := gocmp.AllowUnexported(bands.Curve{}, money.Amount{})
	if diff := gocmp.Diff(snapshot(t), snapshot(t), exact); diff != "" {
		t.Error(diff)
	}
}

// The least numbers come from the task of the demo: at least 24 fills over all families, ten
// fabrics, two ready-made panels, several suppliers, and a choice where a role is filled.
func TestThereIsEnoughToChooseFrom(t *testing.T) {
	s := snapshot(t)
	for name, c := range map[string]struct{ got, least int }{
		"fills": {len(s.Fills), 28}, "tests": {len(s.Tests), 30}, "fabrics": {len(s.Fabrics), 10},
		"ready-made panels": {len(s.ReadyMade), 2}, "suppliers": {len(s.Suppliers), 3}, "sources": {len(s.Sources), 15},
		"parts": {len(s.Parts), 25}, "offers": {len(s.Offers), 100}, "prices": {len(s.Prices), 150},
	} {
		if c.got < c.least {
			t.Errorf("%d %s, want at least %d", c.got, name, c.least)
		}
	}
	families := map[catalog.Family]int{}
	for _, f := range s.Fills {
		families[f.Family]++
	}
	for _, f := range catalog.Families() {
		if families[f] == 0 {
			t.Errorf("no fill of the family %s", f)
		}
	}
	roles := map[catalog.Role]int{}
	for _, p := range s.Parts {
		roles[p.Role]++
	}
	for _, r := range catalog.Roles() {
		if roles[r] == 0 {
			t.Errorf("no part with the role %s", r)
		}
	}
	for _, r := range []catalog.Role{catalog.FrameTimber, catalog.Hanger, catalog.StandOff, catalog.Screw, catalog.Staple, catalog.Respirator, catalog.Gloves} {
		if roles[r] < 2 {
			t.Errorf("no choice of parts with the role %s", r)
		}
	}
}

// record is what the tests need of a record of any noun.
type record struct {
	noun catalog.Noun
	id   catalog.ID
	name string
	err  error
}

// records lists all records of the snapshot with what Validate says of them.
func records(s catalog.Snapshot) []record {
	var list []record
	add := func(n catalog.Noun, m catalog.Meta, err error) {
		list = append(list, record{n, m.ID, fmt.Sprintf("%s %s", n.Name, m.Slug), err})
	}
	for _, r := range s.Sources {
		add(catalog.NounSource, r.Meta, r.Validate())
	}
	for _, r := range s.Fills {
		add(catalog.NounFill, r.Meta, r.Validate())
	}
	for _, r := range s.Tests {
		add(catalog.NounTest, r.Meta, r.Validate())
	}
	for _, r := range s.Fabrics {
		add(catalog.NounFabric, r.Meta, r.Validate())
	}
	for _, r := range s.Parts {
		add(catalog.NounPart, r.Meta, r.Validate())
	}
	for _, r := range s.ReadyMade {
		add(catalog.NounReadyMade, r.Meta, r.Validate())
	}
	for _, r := range s.Designs {
		add(catalog.NounDesign, r.Meta, panels.Validate(r))
	}
	for _, r := range s.Rooms {
		add(catalog.NounRoom, r.Meta, rooms.Validate(r))
	}
	for _, r := range s.Suppliers {
		add(catalog.NounSupplier, r.Meta, r.Validate())
	}
	for _, r := range s.Offers {
		add(catalog.NounOffer, r.Meta, r.Validate())
	}
	for _, p := range s.Prices {
		list = append(list, record{catalog.NounPrice, p.ID, "price " + string(p.ID), p.Validate(today)})
	}
	return list
}

func TestEveryRecordIsValid(t *testing.T) {
	s := snapshot(t)
	for _, r := range records(s) {
		if r.err != nil {
			t.Errorf("%s: %v", r.name, r.err)
		}
	}
	fills, parts := map[catalog.ID]catalog.Fill{}, map[catalog.ID]catalog.Part{}
	for _, f := range s.Fills {
		fills[f.ID] = f
	}
	for _, p := range s.Parts {
		parts[p.ID] = p
	}
	for _, o := range s.Offers {
		var err error
		switch o.ItemKind {
		case catalog.FillItem:
			err = o.FitsFill(fills[o.ItemID])
		case catalog.PartItem:
			err = o.FitsPart(parts[o.ItemID])
		}
		if err != nil {
			t.Errorf("%s: %v", o.Slug, err)
		}
	}
}

func TestIDsAreUniqueFixedAndOfVersionSeven(t *testing.T) {
	seen := map[catalog.ID]string{}
	for _, r := range records(snapshot(t)) {
		if !r.noun.Is(string(r.id)) {
			t.Errorf("%s: %q is no id of its noun", r.name, r.id)
		}
		if other, twice := seen[r.id]; twice {
			t.Errorf("%s and %s have the id %s", r.name, other, r.id)
		}
		seen[r.id] = r.name
		// RFC 9562 section 5.7: Unix milliseconds in 48 bits, then the version, and the variant
		// in the two bits after 64.
		b, err := idText.DecodeString(strings.TrimPrefix(string(r.id), r.noun.Prefix+"_"))
		if err != nil || len(b) != 16 {
			t.Fatalf("%s: %s holds %d bytes, %v", r.name, r.id, len(b), err)
		}
		ms := int64(0)
		for _, x := range b[:6] {
			ms = ms<<8 | int64(x)
		}
		if ms != moment.UnixMilli() || b[6]>>4 != 7 || b[8]>>6 != 2 {
			t.Errorf("%s: %x is no UUID of version 7 at %s", r.name, b, moment)
		}
	}
	// Ids are permanent: a shared link or a saved document holds them. These were written
	// down when the seed was made.
	for key, want := range map[string]catalog.ID{
		"rock-wool-45": "fill_06gpmhdo01uv3acca7g18la1lg", "cellulose-loose": "fill_06gpmhdo01p2r6vlviqb9dq58s",
	} {
		if got := id(catalog.NounFill, key); got != want {
			t.Errorf("the id of %s became %s, want %s", key, got, want)
		}
	}
}

func TestRecordsAreOfOneMomentAndAuthor(t *testing.T) {
	s := snapshot(t)
	for _, f := range s.Fills {
		if f.Created.Format("2006-01-02T15:04:05Z") != "2026-11-02T08:00:00Z" || f.Updated != f.Created || f.UpdatedBy != "seed" || f.Revision != 1 || f.Deleted {
			t.Errorf("%+v", f.Meta)
		}
	}
	for _, p := range s.Prices {
		if p.Created != moment || p.CreatedBy != "seed" {
			t.Errorf("%+v", p)
		}
	}
}

// everySource lists what names a source in the snapshot, with its evidence where it has one.
func everySource(s catalog.Snapshot) (list []cited) {
	add := func(where catalog.Slug, what string, e catalog.Evidence, id catalog.ID) {
		list = append(list, cited{fmt.Sprintf("%s: %s", where, what), e, id})
	}
	for _, f := range s.Fills {
		add(f.Slug, "record", "", f.SourceID)
		list = append(list, figureSource(f.Slug, "density", f.Density), figureSource(f.Slug, "resistivity", f.Resistivity),
			figureSource(f.Slug, "fibre diameter", f.FibreDiameter), figureSource(f.Slug, "borate", f.Handling.Borate))
		for _, d := range f.Fire {
			add(f.Slug, "fire", "", d.SourceID)
		}
	}
	for _, a := range s.Tests {
		add(a.Slug, "curve", a.Evidence, a.SourceID)
	}
	for _, f := range s.Fabrics {
		add(f.Slug, "record", "", f.SourceID)
		list = append(list, figureSource(f.Slug, "surface mass", f.SurfaceMass), figureSource(f.Slug, "resistance", f.Resistance))
		if f.Permeability != nil {
			add(f.Slug, "permeability", f.Permeability.Evidence, f.Permeability.SourceID)
		}
		for _, d := range f.Fire {
			add(f.Slug, "fire", "", d.SourceID)
		}
	}
	for _, p := range s.Parts {
		add(p.Slug, "record", "", p.SourceID)
		list = append(list, figureSource(p.Slug, "density", p.Density), figureSource(p.Slug, "unit mass", p.UnitMass), figureSource(p.Slug, "working load", p.WorkingLoad))
	}
	for _, p := range s.ReadyMade {
		add(p.Slug, "record", "", p.SourceID)
		add(p.Slug, "curve", p.AlphaEvidence, p.AlphaSourceID)
		list = append(list, figureSource(p.Slug, "mass", p.Mass))
		for _, d := range p.Fire {
			add(p.Slug, "fire", "", d.SourceID)
		}
	}
	for _, r := range s.Rooms {
		add(r.Slug, "record", "", r.SourceID)
	}
	for _, r := range s.Suppliers {
		add(r.Slug, "record", "", r.SourceID)
	}
	for _, r := range s.Offers {
		add(r.Slug, "record", "", r.SourceID)
	}
	for _, r := range s.Prices {
		add(catalog.Slug(r.ID), "price", r.Evidence, r.SourceID)
	}
	return slices.DeleteFunc(list, func(c cited) bool { return c.where == "" })
}

// cited is one mention of a source.
type cited struct {
	where    string
	evidence catalog.Evidence
	source   catalog.ID
}

func figureSource[U ~float64](where catalog.Slug, what string, f *catalog.Figure[U]) cited {
	if f == nil {
		return cited{}
	}
	return cited{fmt.Sprintf("%s: %s", where, what), f.Evidence, f.SourceID}
}

func TestEveryFigureHasAStoredSourceAndAnHonestGrade(t *testing.T) {
	s := snapshot(t)
	sources := map[catalog.ID]catalog.Source{}
	for _, r := range s.Sources {
		sources[r.ID] = r
	}
	used := map[catalog.ID]bool{}
	for _, c := range everySource(s) {
		src, ok := sources[c.source]
		if !ok {
			t.Errorf("%s names a source that is not there", c.where)
			continue
		}
		used[c.source] = true
		// A figure is never graded better than by its source; only the authors of a paper measure.
		switch {
		case c.evidence == catalog.Measured && src.Evidence != catalog.Measured,
			src.Evidence == catalog.Remembered && c.evidence != catalog.Remembered && c.evidence != "",
			src.Invented && c.evidence != catalog.Declared && c.evidence != "":
			t.Errorf("%s is %s by the source %s, which is %s", c.where, c.evidence, src.Slug, src.Evidence)
		}
	}
	for _, r := range s.Sources {
		if !used[r.ID] {
			t.Errorf("nothing rests on the source %s", r.Slug)
		}
	}
}

// Shops, offers, prices, fire classes, sold goods and ready-made panels are made up for
// the demo scenario and must say so, in the source and where a reader sees the name.
func TestInventedThingsSaySo(t *testing.T) {
	s := snapshot(t)
	invented := map[catalog.ID]bool{}
	for _, r := range s.Sources {
		invented[r.ID] = r.Invented
		if r.Invented != strings.Contains(r.Citation, "nvented") {
			t.Errorf("%s: invented is %v but the citation reads %q", r.Slug, r.Invented, r.Citation)
		}
	}
	named := func(m catalog.Meta, source catalog.ID) {
		if !invented[source] || !strings.Contains(m.Name, "(invented)") {
			t.Errorf("%q does not say that it is invented", m.Name)
		}
	}
	for _, r := range s.Suppliers {
		named(r.Meta, r.SourceID)
	}
	for _, r := range s.Offers {
		named(r.Meta, r.SourceID)
	}
	for _, r := range s.ReadyMade {
		named(r.Meta, r.SourceID)
	}
	for _, p := range s.Prices {
		if !invented[p.SourceID] {
			t.Errorf("the price %s does not say that it is invented", p.ID)
		}
	}
	for _, f := range s.Fills {
		if !invented[f.SourceID] {
			t.Errorf("%s: the sold goods are invented", f.Slug)
		}
	}
	none := 0
	for _, f := range s.Fills {
		if len(f.Fire) == 0 {
			none++
		}
		for _, d := range f.Fire {
			if !invented[d.SourceID] {
				t.Errorf("%s: the fire declaration does not say that it is invented", f.Slug)
			}
		}
	}
	if none < 5 || none > len(s.Fills)-10 {
		t.Errorf("%d of %d fills without a fire class: both kinds must occur", none, len(s.Fills))
	}
}

// words are those of which the names of goods and shops are made: materials, forms and the
// invented places. A brand is none of them; whoever adds a word looks at it.
var words = strings.Fields(`
	a adjustable air and back barn batt beech blade blanket board bottle builders' building bundle by
	canvas cellulose class cleat closed cloth coarse coated coconut cotton coverall curve cut dense
	density disposable drilled felt fibre fine flakes flexible foam glass gloves glue goggles half hand
	hanging harbour hardware heavy hemp hessian insulation invented jute knife knit lane leather length
	light linen long-sleeved loom loose mask melamine metre mineral muslin needled non-woven not of open
	open-cell open-weave order pack pair panel plain planed plate plywood polyester polyurethane
	quillhaven ready-made recycled resin rock roll safety saltmarsh screw scrim sheep sheet shirt shop
	slab softboard softwood spacer split stainless stand-off staple stapler stated steel street textile
	the to unbleached velour wall washable weave web wood wooden wool work woven yard zinc`)

func TestNamesAreNeutral(t *testing.T) {
	s := snapshot(t)
	var texts []string
	for _, r := range s.Fills {
		texts = append(texts, r.Name)
	}
	for _, r := range s.Fabrics {
		texts = append(texts, r.Name)
	}
	for _, r := range s.Parts {
		texts = append(texts, r.Name)
	}
	for _, r := range s.ReadyMade {
		texts = append(texts, r.Name)
	}
	for _, r := range s.Suppliers {
		texts = append(texts, r.Name)
	}
	for _, r := range s.Offers {
		texts = append(texts, r.Name)
	}
	figures := regexp.MustCompile(`^(\d+|mm|m|g|x|FFP[23]|g/m2|kg/m3)$`)
	for _, text := range texts {
		for _, word := range strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune(" ,()", r) }) {
			if !slices.Contains(words, strings.ToLower(word)) && !figures.MatchString(word) {
				t.Errorf("%q in %q is no word of the list", word, text)
			}
		}
	}
}

// Without these the demo could not show an option that has no price.
var (
	withoutOffer = []catalog.Slug{"cellulose-loose", "glass-cloth-96", "glass-wool-130"}
	onlyOldPrice = []catalog.Slug{"polyester-fine-50"}
)

func TestEverythingButTheIntendedHasAnOfferWithAPriceOfThisAutumn(t *testing.T) {
	s := snapshot(t)
	newest := map[catalog.ID]catalog.Date{}
	for _, p := range s.Prices {
		newest[p.OfferID] = max(newest[p.OfferID], p.Observed)
	}
	offered, priced, sizes := map[catalog.ID]bool{}, map[catalog.ID]bool{}, map[string]bool{}
	for _, o := range s.Offers {
		day := newest[o.ID]
		if day == "" {
			t.Errorf("the offer %s has no price", o.Slug)
		}
		offered[o.ItemID] = true
		if day >= "2026-09-01" && day <= "2026-11-01" {
			priced[o.ItemID] = true
		}
		if o.SoldSize != nil {
			sizes[string(o.ItemID)+o.SoldSize.String()] = true
		}
		if o.StockLength != 0 {
			sizes[fmt.Sprint(o.ItemID, o.StockLength)] = true
		}
	}
	var missing, old []catalog.Slug
	check := func(m catalog.Meta) {
		switch {
		case !offered[m.ID]:
			missing = append(missing, m.Slug)
		case !priced[m.ID]:
			old = append(old, m.Slug)
		}
	}
	for _, r := range s.Fills {
		check(r.Meta)
		for _, size := range r.SoldSizes {
			if offered[r.ID] && priced[r.ID] && !sizes[string(r.ID)+size.String()] {
				t.Errorf("%s: nobody offers the size %s", r.Slug, size)
			}
		}
	}
	for _, r := range s.Fabrics {
		check(r.Meta)
	}
	for _, r := range s.Parts {
		check(r.Meta)
		for _, l := range r.StockLengths {
			if !sizes[fmt.Sprint(r.ID, l)] {
				t.Errorf("%s: nobody offers the length %g", r.Slug, float64(l))
			}
		}
	}
	for _, r := range s.ReadyMade {
		check(r.Meta)
	}
	slices.Sort(missing)
	if !slices.Equal(missing, withoutOffer) || !slices.Equal(old, onlyOldPrice) {
		t.Errorf("without an offer %v, want %v; without a new price %v, want %v", missing, withoutOffer, old, onlyOldPrice)
	}
}

func TestPricesAreMostlyWithTaxAndSomeWithout(t *testing.T) {
	s := snapshot(t)
	with, without, corrections := 0, 0, 0
	ids := map[catalog.ID]catalog.Price{}
	for _, p := range s.Prices {
		ids[p.ID] = p
	}
	for _, p := range s.Prices {
		if p.TaxIncluded {
			with++
		} else if without++; p.TaxRateBP != 2100 {
			t.Errorf("%s: before tax at %d basis points, want 2100", p.ID, p.TaxRateBP)
		}
		if (p.Observed < "2026-09-01" || p.Observed > "2026-11-01") && p.Observed.DaysSince("2024-12-31") > 0 {
			t.Errorf("%s was seen on %s, neither this autumn nor in 2024", p.ID, p.Observed)
		}
		if p.Amount.Currency() != "EUR" || p.Amount.Sign() <= 0 {
			t.Errorf("%s: %s %s", p.ID, p.Amount, p.Amount.Currency())
		}
		if p.Corrects != "" {
			corrections++
			if ids[p.Corrects].OfferID != p.OfferID {
				t.Errorf("%s corrects a price of another offer", p.ID)
			}
		}
	}
	if without == 0 || with < 4*without || corrections != 1 {
		t.Errorf("%d prices with tax, %d before tax, %d corrections", with, without, corrections)
	}
}

// A frame must be as deep as the fill and, where no air gap is asked for, at most 5 mm
// deeper (a convention of package panels).
func TestEveryOfferedFillFindsAFrameOfItsDepth(t *testing.T) {
	s := snapshot(t)
	for _, f := range s.Fills {
		for _, size := range f.SoldSizes {
			if !slices.ContainsFunc(s.Parts, func(p catalog.Part) bool {
				return p.Role == catalog.FrameTimber && p.SectionThickness == 18 && p.SectionWidth >= size.Thickness && p.SectionWidth <= size.Thickness+5
			}) {
				t.Errorf("no frame for %s of %g mm", f.Slug, float64(size.Thickness))
			}
			if short := min(size.Length, size.Width); short < 600-2*18 || max(size.Length, size.Width) < 1200-2*18 {
				t.Errorf("%s %s does not fill a panel of 600 x 1200 in one piece", f.Slug, size)
			}
		}
	}
}

func TestFabricsRunFromLooseToDense(t *testing.T) {
	s := snapshot(t)
	var openness []float64
	for _, f := range s.Fabrics {
		switch {
		case f.Resistance != nil:
			openness = append(openness, float64(f.Resistance.Value))
		case f.Permeability != nil:
			openness = append(openness, f.Permeability.Pressure/(f.Permeability.Velocity/1000)) // Δp/u
		default:
			t.Errorf("%s: neither openness nor permeability", f.Slug)
		}
	}
	slices.Sort(openness)
	if lo, hi := openness[0], openness[len(openness)-1]; lo < 5 || lo > 15 || hi < 1500 || hi > 3000 {
		t.Errorf("openness from %g to %g Pa s/m, want from 5-15 to 1500-3000", lo, hi)
	}
}

// A question may keep to the suppliers of one region, which is compared word for word: the
// shops of the demo town carry its bare name and sell all that a panel needs.
func TestOneRegionSellsAllThatAPanelNeeds(t *testing.T) {
	s := snapshot(t)
	inTown := map[catalog.ID]bool{}
	for _, r := range s.Suppliers {
		if r.Region != "Quillhaven" && r.Region != "Saltmarsh" {
			t.Errorf("%s: the region %q is not the bare name of a place", r.Slug, r.Region)
		}
		inTown[r.ID] = r.Region == "Quillhaven"
	}
	roles := map[catalog.ID]catalog.Role{}
	for _, p := range s.Parts {
		roles[p.ID] = p.Role
	}
	sold := map[string]bool{}
	for _, o := range s.Offers {
		if inTown[o.SupplierID] {
			sold[string(o.ItemKind)+string(roles[o.ItemID])] = true
		}
	}
	for _, need := range []string{"fill", "fabric", "ready_made_panel"} {
		if !sold[need] {
			t.Errorf("no %s is sold in Quillhaven", need)
		}
	}
	for _, r := range catalog.Roles() {
		if !sold["part"+string(r)] {
			t.Errorf("no part with the role %s is sold in Quillhaven", r)
		}
	}
}

// How often protective equipment can be worn: common practice, kept with the invented goods.
func TestProtectiveEquipmentSaysHowOftenItIsWorn(t *testing.T) {
	uses := map[catalog.Role]int{catalog.Respirator: 1, catalog.Gloves: 1, catalog.Goggles: 200, catalog.Coverall: 4, catalog.LongSleeves: 50}
	for _, p := range snapshot(t).Parts {
		if p.UsesPerUnit != uses[p.Role] {
			t.Errorf("%s: %d uses, want %d", p.Slug, p.UsesPerUnit, uses[p.Role])
		}
	}
}

// Every fault of the files is named with file and line; nothing is loaded then.
func TestFaultsOfTheFilesAreNamed(t *testing.T) {
	for name, c := range map[string]struct{ file, old, new, want string }{
		"unknown source":    {"parts.csv", "demo-goods", "demo-gods", `parts.csv line 2: source: no source is called "demo-gods"`},
		"unknown fill":      {"absorption_tests.csv", ",glass-wool-12,", ",glas-wool,", `absorption_tests.csv line 2: fill: no fill is called "glas-wool"`},
		"unknown item":      {"offers.csv", ",fill,glass-wool-12,", ",fill,glass,", `item: no fill is called "glass"`},
		"kind of item":      {"offers.csv", ",fill,glass-wool-12,", ",filling,glass-wool-12,", `item_kind: not a kind of item: "filling"`},
		"size of no fill":   {"sold_sizes.csv", "glass-wool-12,", "steel-wool,", `sold_sizes.csv line 2: fill: no record is called "steel-wool"`},
		"fire of no fill":   {"fire_declarations.csv", "fill,glass-wool-12,", "fill,steel-wool,", `fire_declarations.csv line 2: item: no record is called "steel-wool"`},
		"slug twice":        {"fills.csv", "\nglass-wool-22,", "\nglass-wool-12,", `fills.csv line 3: slug: "glass-wool-12" stands twice`},
		"not a number":      {"fabrics.csv", "1600,20,", "1600,wide,", `fabrics.csv line 2: selvedge_mm: not a number: "wide"`},
		"not a whole":       {"parts.csv", ",200,demo-goods", ",2e2,demo-goods", `uses_per_unit_count: not a whole number: "2e2"`},
		"list of lengths":   {"parts.csv", ",2400 2700,", ",2400/2700,", `stock_lengths_mm: not a list of numbers with spaces between them: "2400/2700"`},
		"neither yes or no": {"sources.csv", ",no,", ",nein,", `sources.csv line 2: invented: neither yes nor no: "nein"`},
		"price":             {"prices.csv", ",,EUR,", "5,,EUR,", `prices.csv line 2: price: more decimal places`},
		"no price":          {"prices.csv", "69.00", "", `price: is missing`},
		"correction":        {"prices.csv", ",2026-10-12,declared", ",2026-10-11,declared", `corrects_date: the offer harbour-hardware-screw-4x50-100 has no price of 2026-10-11 above`},
		"delivery":          {"suppliers.csv", ",24.90,", ",,", `suppliers.csv line 3: delivery_fee: is missing beside other terms of delivery`},
		"figure":            {"fills.csv", ",12,,,estimated,", ",,,,estimated,", `fills.csv line 2: density_evidence: is given without density_kg_per_m3`},
		"column missing":    {"suppliers.csv", "trip_cost", "trip_price", `suppliers.csv line 1: the column trip_cost is missing`},
		"column unknown":    {"suppliers.csv", "trip_cost", "trip_price", `suppliers.csv line 1: the column trip_price is not known here or stands twice`},
		"cells":             {"suppliers.csv", "\ninsulation-web,", "\n,insulation-web,", `suppliers.csv: record on line 3: wrong number of fields`},
	} {
		t.Run(name, func(t *testing.T) {
			changed := fstest.MapFS{}
			entries, _ := fs.Glob(files, "*.csv")
			for _, e := range entries {
				content, _ := fs.ReadFile(files, e)
				if e == c.file {
					content = []byte(strings.Replace(string(content), c.old, c.new, 1))
				}
				changed[e] = &fstest.MapFile{Data: content}
			}
			s, err := read(changed)
			if err == nil || !strings.Contains(err.Error(), c.want) || len(s.Fills) > 0 {
				t.Errorf("%v, want it to hold %s", err, c.want)
			}
		})
	}
	if _, err := read(fstest.MapFS{}); err == nil || !strings.Contains(err.Error(), "prices.csv") {
		t.Errorf("without files: %v", err)
	}
}

// The order in which a file is edited does not matter to the snapshot.
func TestSnapshotIsSorted(t *testing.T) {
	s := snapshot(t)
	again := s
	again.Prices = slices.Clone(s.Prices)
	slices.Reverse(again.Prices)
	again.Sort()
	if !slices.EqualFunc(s.Prices, again.Prices, func(a, b catalog.Price) bool { return a.ID == b.ID }) {
		t.Error("the prices are not in the order of a snapshot")
	}
	if !slices.IsSortedFunc(s.Fills, func(a, b catalog.Fill) int { return cmp.Compare(a.Slug, b.Slug) }) {
		t.Error("the fills are not in the order of a snapshot")
	}
}
