package catalog

import (
	"encoding/csv"
	"errors"
	"os"
	"slices"
	"strings"
	"testing"

	"sabinbook/internal/bands"
	"sabinbook/internal/money"
	"sabinbook/internal/units"
)

// testdata/fire_classes.csv lists valid and invalid codes of each scheme, every row with
// its source (EN 13501-1:2018, ASTM E84, NFPA 286, 265 and 701, EN 13773, BS 476).
func TestFireCodesAgainstTheListedClasses(t *testing.T) {
	file, err := os.Open("testdata/fire_classes.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	col := func(row []string, name string) string { return row[slices.Index(rows[0], name)] }
	euro := 0
	for _, row := range rows[1:] {
		d := FireDeclaration{Subject: "fill", Scheme: FireScheme(col(row, "scheme")), Code: col(row, "code"),
			Durability: "unknown", Evidence: "maker_statement", SourceID: "src"}
		v := &Faults{}
		d.validate(v, "")
		if valid := col(row, "is_valid") == "true"; valid != (v.Err() == nil) {
			t.Errorf("%s %q: valid %v, got %v", d.Scheme, d.Code, valid, v.Err())
		} else if valid && d.Scheme == EN13501 {
			euro++
		}
	}
	if len(rows)-1 != 97 || euro != 40 {
		t.Errorf("%d rows with %d valid Euroclasses, want 97 and 40 (1 + 4x9 + 2 + 1)", len(rows)-1, euro)
	}
}

func TestSpacingVariantsAreNormalisedAndNothingElse(t *testing.T) {
	for in, want := range map[string]string{"B-s1, d0": "B-s1,d0", "B s1 d0": "B-s1,d0", " A2-s1,d0 ": "A2-s1,d0", "b-s1,d0": "b-s1,d0", "Bfl-s1": "Bfl-s1"} {
		if got := NormalFireCode(EN13501, in); got != want {
			t.Errorf("%q becomes %q, want %q", in, got, want)
		}
	}
	if got := NormalFireCode("national_other", "B s1 d0"); got != "B s1 d0" {
		t.Errorf("another scheme's words were changed to %q", got)
	}
}

// Check values of fire.md section 7 (classes of ASTM E84).
func TestE84Class(t *testing.T) {
	for _, c := range []struct {
		spread, smoke int
		want          string
	}{{25, 450, "A"}, {26, 450, "B"}, {75, 0, "B"}, {76, 450, "C"}, {200, 450, "C"}, {201, 10, "unclassified"}, {10, 451, "unclassified"}} {
		if got := E84Class(c.spread, c.smoke); got != c.want {
			t.Errorf("%d/%d = %s, want %s", c.spread, c.smoke, got, c.want)
		}
	}
	thirty := 30
	v := &Faults{}
	FireDeclaration{Subject: "fill", Scheme: ASTME84, Code: "A", FlameSpread: &thirty, SmokeDeveloped: &thirty, Durability: "unknown", Evidence: "hearsay", SourceID: "s"}.validate(v, "")
	if v.Err() == nil {
		t.Error("class A with flame spread 30 must be refused")
	}
}

func goodFill() Fill {
	return Fill{
		Meta: Meta{Slug: "rock-wool-45", Name: "Rock wool slab"}, Family: RockWool, Form: Slab,
		Density:   &Figure[units.Density]{Value: 45, Evidence: Declared, SourceID: "s"},
		SoldSizes: []SoldSize{{1200, 600, 50}},
		Handling:  Handling{Profile: Fibrous, Irritant: Yes, Dust: Unknown, Binder: UnknownBinder, Moth: MothNotNeeded, BackTissue: No, NoteQ: Unknown, NoteR: Unknown},
		SourceID:  "s",
	}
}

func pointers(err error) []string {
	var invalid *InvalidError
	if !errors.As(err, &invalid) {
		return nil
	}
	list := make([]string, len(invalid.Faults))
	for i, f := range invalid.Faults {
		list[i] = f.Pointer
		if f.Detail == "" || f.Fix == "" || f.Code == "" {
			list[i] += " (without words)"
		}
	}
	return list
}

func TestEveryFaultIsNamedAtOnce(t *testing.T) {
	if err := goodFill().Validate(); err != nil {
		t.Fatalf("a good fill: %v", err)
	}
	f := goodFill()
	f.Slug, f.Name, f.Family = "Rock Wool", " ", "steel_wool"
	f.Density.Value, f.Density.SourceID = 4000, ""
	f.SoldSizes = []SoldSize{{1.2, 600, 0.05}}
	want := []string{"/name", "/slug", "/family", "/density_kg_per_m3/value", "/density_kg_per_m3/source_id", "/sold_sizes/0/length_mm", "/sold_sizes/0/thickness_mm"}
	if got := pointers(f.Validate()); !slices.Equal(got, want) {
		t.Errorf("faults at %v, want %v", got, want)
	}
}

func TestMountingAndGapMustAgree(t *testing.T) {
	good := AbsorptionTest{Meta: Meta{Slug: "t", Name: "t"}, FillID: "f", Standard: "iso_354", Mounting: "A", Thickness: 50,
		Alpha: bands.OctaveCurve([6]float64{0.2, 0.5, 0.9, 1.1, 1, 1}), Evidence: Measured, SourceID: "s"}
	if err := good.Validate(); err != nil {
		t.Fatal(err)
	}
	// E-400 is face to hard surface: 50 mm of material leave 350 mm (ASTM E795, see ratings).
	e400 := good
	e400.Mounting, e400.MountingSuffix, e400.AirGap = "E", 400, 350
	if err := e400.Validate(); err != nil {
		t.Error(err)
	}
	for name, change := range map[string]func(*AbsorptionTest){
		"gap on A": func(t *AbsorptionTest) { t.AirGap = 50 }, "E without number": func(t *AbsorptionTest) { t.Mounting = "E" },
		"number on A": func(t *AbsorptionTest) { t.MountingSuffix = 20 }, "coefficient 3": func(t *AbsorptionTest) { t.Alpha.Set(7, 3) },
		"no coefficients": func(t *AbsorptionTest) { t.Alpha = bands.NewCurve(bands.Octave) },
		"wrong E gap":     func(t *AbsorptionTest) { t.Mounting, t.MountingSuffix, t.AirGap = "E", 400, 400 },
	} {
		bad := good
		change(&bad)
		if bad.Validate() == nil {
			t.Errorf("%s must be refused", name)
		}
	}
}

func TestUseOfATestNeedsItsReason(t *testing.T) {
	for _, c := range []struct {
		use  Use
		note string
		want []string
	}{
		{NormalUse, "", nil}, {Preferred, "seen whole", nil}, {SetAside, "the mounting is not told", nil}, {UseOf("normal"), "", nil},
		{NormalUse, "why", []string{"/use_note"}}, {Preferred, "", []string{"/use_note"}}, {SetAside, " ", []string{"/use_note"}},
		{SetAside, strings.Repeat("a", 501), []string{"/use_note"}}, {"best", "why", []string{"/use"}},
	} {
		test := AbsorptionTest{Meta: Meta{Slug: "t", Name: "t"}, FillID: "f", Standard: "iso_354", Mounting: "A", Thickness: 50,
			Alpha: bands.OctaveCurve([6]float64{0.2, 0.5, 0.9, 1.1, 1, 1}), Evidence: Measured, SourceID: "s", Use: c.use, UseNote: c.note}
		var got []string
		if err := test.Validate(); err != nil {
			got = pointers(err)
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s %q: faults at %v, want %v", c.use.Word(), c.note, got, c.want)
		}
	}
}

func TestPriceIsOfAPastDayAndACurrentCurrency(t *testing.T) {
	p := Price{OfferID: "o", Amount: money.FromMinor(1250, "EUR"), Observed: "2026-11-02", Evidence: Declared, SourceID: "s"}
	if err := p.Validate("2026-11-02"); err != nil {
		t.Fatal(err)
	}
	if got := pointers(p.Validate("2026-11-01")); !slices.Equal(got, []string{"/observed_date"}) {
		t.Errorf("a price of tomorrow: %v", got)
	}
	p.Amount = money.FromMinor(1250, "DEM")
	if got := pointers(p.Validate("2026-11-02")); !slices.Equal(got, []string{"/price/currency"}) {
		t.Errorf("a withdrawn currency: %v", got)
	}
}

func TestBreaksOfAPriceFall(t *testing.T) {
	eur := func(minor int64) money.Amount { return money.FromMinor(minor, "EUR") }
	p := Price{OfferID: "o", Amount: eur(1250), Observed: "2026-11-02", Evidence: Declared, SourceID: "s"}
	for name, c := range map[string]struct {
		breaks []Break
		at     []string
	}{
		"falling":          {[]Break{{5, eur(1200)}, {20, eur(1100)}}, nil},
		"from one pack":    {[]Break{{1, eur(1200)}}, []string{"/breaks/0/from_count", "/breaks/0/from_count"}},
		"twice":            {[]Break{{5, eur(1200)}, {5, eur(1100)}}, []string{"/breaks/1/from_count"}},
		"not lower":        {[]Break{{5, eur(1250)}}, []string{"/breaks/0/price/amount"}},
		"rising":           {[]Break{{5, eur(1100)}, {20, eur(1200)}}, []string{"/breaks/1/price/amount"}},
		"negative":         {[]Break{{5, eur(-1)}}, []string{"/breaks/0/price/amount"}},
		"another currency": {[]Break{{5, money.FromMinor(900, "JPY")}}, []string{"/breaks/0/price/currency"}},
	} {
		p.Breaks = c.breaks
		if got := pointers(p.Validate("2026-11-02")); !slices.Equal(got, c.at) {
			t.Errorf("%s: faults at %v, want %v", name, got, c.at)
		}
	}
	p.Breaks = nil
	for i := range MaxBreaks + 1 {
		p.Breaks = append(p.Breaks, Break{2 + i, eur(int64(1200 - i))})
	}
	if got := pointers(p.Validate("2026-11-02")); !slices.Equal(got, []string{"/breaks"}) {
		t.Errorf("too many: faults at %v", got)
	}
}

func TestTermsOfDeliveryByWeight(t *testing.T) {
	fee := money.FromMinor(500, "EUR")
	for name, c := range map[string]struct {
		d  Delivery
		at []string
	}{
		"actual":           {Delivery{Fee: fee, PerKg: fee, Basis: ActualWeight}, nil},
		"dimensional":      {Delivery{Fee: fee, PerKg: fee, Basis: DimensionalWeight, Divisor: 5000}, nil},
		"no basis":         {Delivery{Fee: fee}, []string{"/delivery/weight_basis", "/delivery/divisor_cm3_per_kg"}},
		"no divisor":       {Delivery{Fee: fee, Basis: GreaterWeight}, []string{"/delivery/divisor_cm3_per_kg"}},
		"divisor of mass":  {Delivery{Fee: fee, Basis: ActualWeight, Divisor: 5000}, []string{"/delivery/divisor_cm3_per_kg"}},
		"waived by nobody": {Delivery{Fee: fee, Basis: ActualWeight, FreeCoversWeight: true}, []string{"/delivery/free_covers_weight"}},
	} {
		s := Supplier{Meta: Meta{Slug: "shop", Name: "Shop"}, Currency: "EUR", Delivery: &c.d, SourceID: "s"}
		if got := pointers(s.Validate()); !slices.Equal(got, c.at) {
			t.Errorf("%s: faults at %v, want %v", name, got, c.at)
		}
	}
}

func TestHostileTextIsRefused(t *testing.T) {
	f := goodFill()
	f.Name = "wool\u202Egnp"
	f.Note = strings.Repeat("x", 5001)
	if got := pointers(f.Validate()); !slices.Equal(got, []string{"/name", "/note"}) {
		t.Errorf("faults at %v", got)
	}
}

func TestDates(t *testing.T) {
	for _, bad := range []string{"", "2026-2-1", "2026-02-30", "02.11.2026", "2026-11-02T00:00:00Z"} {
		if _, err := ParseDate(bad); err == nil {
			t.Errorf("%q is no date", bad)
		}
	}
	if n := Date("2026-03-01").DaysSince("2026-02-27"); n != 2 {
		t.Errorf("27 February to 1 March 2026 is 2 days, got %d", n)
	}
}
