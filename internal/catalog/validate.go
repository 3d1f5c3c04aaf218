package catalog

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"sabinbook/internal/money"
	"sabinbook/internal/units"
)

// Fault is one thing that is wrong with a record or a question: where (a JSON
// pointer of wire names), what, and how to mend it.
type Fault struct{ Pointer, Code, Detail, Fix string }

// InvalidError refuses a record or a question and names all its faults.
type InvalidError struct{ Faults []Fault }

func (e *InvalidError) Error() string {
	texts := make([]string, len(e.Faults))
	for i, f := range e.Faults {
		texts[i] = f.Pointer + " " + f.Detail
	}
	return strings.Join(texts, "; ")
}

// Faults collects the faults of a record or question.
type Faults struct{ list []Fault }

type faults = Faults

// Add records a fault.
func (v *Faults) Add(pointer, code, detail, fix string) { v.add(pointer, code, detail, fix) }

// Err returns an *InvalidError with all faults, or nil when there are none.
func (v *Faults) Err() error {
	if len(v.list) == 0 {
		return nil
	}
	return &InvalidError{v.list}
}

func (v *faults) add(pointer, code, detail, fix string) {
	v.list = append(v.list, Fault{pointer, code, detail, fix})
}

// Within records a fault unless lo <= x <= hi; unit and hint make the message, like
// "kg/m³" and "give kg per cubic metre, e.g. 40".
func (v *Faults) Within(pointer string, x, lo, hi float64, unit, hint string) {
	if math.IsNaN(x) || x < lo || x > hi {
		v.add(pointer, "out_of_range", strings.TrimSpace(fmt.Sprintf("must be %g to %g %s", lo, hi, unit))+fmt.Sprintf(", got %g", x), hint)
	}
}

// Word records a fault unless text is one of the allowed words.
func (v *Faults) Word(pointer, text string, allowed []string) { v.word(pointer, text, allowed) }

func (v *faults) word(pointer, text string, allowed []string) {
	if !slices.Contains(allowed, text) {
		v.add(pointer, "unknown_word", "is not a word of this list: "+quote(text), "use one of "+strings.Join(allowed, ", "))
	}
}

func words[T ~string](list []T) []string {
	out := make([]string, len(list))
	for i, w := range list {
		out[i] = string(w)
	}
	return out
}

func quote(text string) string {
	if utf8.RuneCountInString(text) > 60 {
		text = string([]rune(text)[:60]) + "..."
	}
	return fmt.Sprintf("%q", text)
}

// Text records a fault unless s has lo to hi characters and holds no control characters or
// direction overrides, and reports whether it recorded none.
func (v *Faults) Text(pointer, s string, lo, hi int) bool {
	before := len(v.list)
	v.text(pointer, s, lo, hi)
	return len(v.list) == before
}

// text checks a text of lo to hi characters without control characters or direction overrides.
func (v *faults) text(pointer, s string, lo, hi int) {
	n := utf8.RuneCountInString(s)
	switch {
	case strings.TrimSpace(s) == "" && lo > 0:
		v.add(pointer, "required", "is missing", fmt.Sprintf("give a text of at most %d characters", hi))
	case n > hi:
		v.add(pointer, "too_long", fmt.Sprintf("has %d characters, at most %d are allowed", n, hi), "shorten it")
	}
	for _, r := range s {
		if unicode.IsControl(r) && r != '\n' && r != '\t' || r >= 0x202A && r <= 0x202E || r >= 0x2066 && r <= 0x2069 {
			v.add(pointer, "control_character", fmt.Sprintf("holds the control character U+%04X", r), "take it out")
			return
		}
	}
}

func (v *faults) source(pointer string, id ID) {
	if id == "" {
		v.add(pointer, "required", "is missing: every figure needs its source", "give the id or slug of a source; add one under /v1/sources first")
	}
}

func (v *faults) reference(pointer string, id ID, noun Noun) {
	if id == "" {
		v.add(pointer, "required", "is missing", "give the id or slug of a "+noun.Name)
	}
}

var slugForm = regexp.MustCompile(`^[a-z]([a-z0-9-]{0,61}[a-z0-9])?$`)

var reservedSlugs = []string{"batch", "export", "import", "schema", "verify", "compare", "repricings"}

func (v *faults) meta(m Meta) {
	v.text("/name", m.Name, 1, 200)
	if !slugForm.MatchString(string(m.Slug)) {
		v.add("/slug", "bad_slug", "must be lower-case letters, digits and inner hyphens, 1 to 63, starting with a letter, got "+quote(string(m.Slug)), "use something like rock-wool-45")
	} else if slices.Contains(reservedSlugs, string(m.Slug)) {
		v.add("/slug", "reserved", "is a reserved word: "+quote(string(m.Slug)), "choose another slug")
	}
}

// limit is the plausible range of one quantity; outside it a unit was most likely mistaken.
type limit struct {
	lo, hi     float64
	unit, hint string
}

// The limits of stored quantities are conventions: wide enough for every material
// that the sources name, narrow enough to catch a figure in a wrong unit.
var (
	densityLimit     = limit{5, 1000, "kg/m³", "give kg per cubic metre, e.g. 40"}
	resistivityLimit = limit{100, 2_000_000, "Pa·s/m²", "give Pa·s per square metre, e.g. 10000 (10 kPa·s/m² is 10000)"}
	fibreLimit       = limit{0.5, 500, "µm", "give micrometres, e.g. 6"}
	resistanceLimit  = limit{1, 100_000, "Pa·s/m", "give Pa·s per metre, e.g. 120"}
	surfaceLimit     = limit{0.005, 20, "kg/m²", "give kg per square metre, e.g. 0.25 for 250 g/m²"}
	thicknessLimit   = limit{2, 600, "mm", "give millimetres, e.g. 50"}
	sideLimit        = limit{50, 100_000, "mm", "give millimetres, e.g. 1200"}
	gapLimit         = limit{0, 1000, "mm", "give millimetres, e.g. 50; 0 for none"}
	alphaLimit       = limit{0, 2, "", "give the coefficient as printed, e.g. 0.85, not per cent"}
	massLimit        = limit{0.00001, 500, "kg", "give kilograms, e.g. 0.05 for 50 g"}
)

func (v *faults) limited(pointer string, x float64, l limit) {
	v.Within(pointer, x, l.lo, l.hi, l.unit, l.hint)
}

// figure checks a figure that may be absent.
func figure[U ~float64](v *faults, at string, f *Figure[U], l limit) {
	if f == nil {
		return
	}
	v.limited(at+"/value", float64(f.Value), l)
	if f.Low != 0 {
		v.limited(at+"/low", float64(f.Low), l)
	}
	if f.High != 0 {
		v.limited(at+"/high", float64(f.High), l)
	}
	if f.Low > f.Value || f.High != 0 && f.High < f.Value {
		v.add(at, "bad_range", fmt.Sprintf("needs low <= value <= high, got %g, %g, %g", float64(f.Low), float64(f.Value), float64(f.High)), "put the three in order, or leave low and high out")
	}
	v.word(at+"/evidence", string(f.Evidence), words(evidences))
	v.source(at+"/source_id", f.SourceID)
	v.text(at+"/basis", f.Basis, 0, 500)
}

func (v *faults) note(s string) { v.text("/note", s, 0, 5000) }

// Validate names every fault of the source.
func (s Source) Validate() error {
	v := &faults{}
	v.meta(s.Meta)
	v.text("/citation", s.Citation, 1, 1000)
	v.text("/observer", s.Observer, 0, 200)
	v.text("/licence", s.Licence, 1, 300)
	if s.Date != "" {
		v.date("/date", s.Date)
	}
	v.word("/evidence", string(s.Evidence), words(evidences))
	v.note(s.Note)
	return v.Err()
}

func (v *faults) date(pointer string, d Date) {
	if _, err := ParseDate(string(d)); err != nil {
		v.add(pointer, "bad_date", "is not a date: "+quote(string(d)), "write year-month-day, like 2026-11-02")
	}
}

// Validate names every fault of the fill.
func (f Fill) Validate() error {
	v := &faults{}
	v.meta(f.Meta)
	v.word("/family", string(f.Family), words(families))
	v.word("/form", string(f.Form), words(forms))
	figure(v, "/density_kg_per_m3", f.Density, densityLimit)
	figure(v, "/airflow_resistivity_pa_s_per_m2", f.Resistivity, resistivityLimit)
	figure(v, "/fibre_diameter_um", f.FibreDiameter, fibreLimit)
	seen := map[SoldSize]bool{}
	for i, s := range f.SoldSizes {
		at := fmt.Sprintf("/sold_sizes/%d", i)
		v.limited(at+"/length_mm", float64(s.Length), sideLimit)
		v.limited(at+"/width_mm", float64(s.Width), sideLimit)
		v.limited(at+"/thickness_mm", float64(s.Thickness), thicknessLimit)
		if seen[s] {
			v.add(at, "duplicate", "the size "+s.String()+" is listed twice", "keep one")
		}
		seen[s] = true
	}
	fires(v, f.Fire)
	f.Handling.validate(v)
	v.source("/source_id", f.SourceID)
	v.note(f.Note)
	return v.Err()
}

func fires(v *faults, list []FireDeclaration) {
	for i, d := range list {
		d.validate(v, fmt.Sprintf("/fire_declarations/%d", i))
	}
}

func (h Handling) validate(v *faults) {
	answers := []string{string(Yes), string(No), string(Unknown)}
	v.word("/handling/profile", string(h.Profile), words(profiles))
	v.word("/handling/irritant", string(h.Irritant), answers)
	v.word("/handling/dust", string(h.Dust), answers)
	v.word("/handling/binder", string(h.Binder), words(binders))
	v.word("/handling/moth_treatment", string(h.Moth), words(mothTreatments))
	v.word("/handling/back_tissue", string(h.BackTissue), answers)
	v.word("/handling/note_q", string(h.NoteQ), answers)
	v.word("/handling/note_r", string(h.NoteR), answers)
	figure(v, "/handling/borate_fraction", h.Borate, limit{0, 1, "", "give a share by mass, e.g. 0.08 for 8 %"})
	figure(v, "/handling/cutting_min_per_m", h.Cutting, limit{0.05, 60, "min/m", "give minutes per metre of cut, e.g. 1.5"})
}

// Validate names every fault of the test.
func (t AbsorptionTest) Validate() error {
	v := &faults{}
	v.meta(t.Meta)
	v.reference("/fill_id", t.FillID, NounFill)
	v.word("/standard", string(t.Standard), words(testStandards))
	v.word("/mounting_type", string(t.Mounting), words(mountings))
	v.limited("/thickness_mm", float64(t.Thickness), thicknessLimit)
	v.limited("/air_gap_mm", float64(t.AirGap), gapLimit)
	if t.Density != 0 {
		v.limited("/density_kg_per_m3", float64(t.Density), densityLimit)
	}
	suffixed := strings.Contains("CDEG", string(t.Mounting)) && len(t.Mounting) == 1
	switch {
	case suffixed && (t.MountingSuffix <= 0 || math.Mod(float64(t.MountingSuffix), 5) != 0 || t.MountingSuffix > 2000):
		v.add("/mounting_suffix_mm", "out_of_range", fmt.Sprintf("mounting %s needs a number of 5 to 2000 mm in steps of 5, got %g", t.Mounting, float64(t.MountingSuffix)), "give the number behind the letter, e.g. 400 for E-400")
	case !suffixed && t.MountingSuffix != 0:
		v.add("/mounting_suffix_mm", "not_applicable", "only mountings C, D, E and G have a number", "leave it out")
	case suffixed && !approx(t.AirGap, t.mountingGap()):
		v.add("/air_gap_mm", "disagrees", fmt.Sprintf("mounting %s-%g with %g mm of material leaves %g mm, got %g", t.Mounting, float64(t.MountingSuffix), float64(t.Thickness), float64(t.mountingGap()), float64(t.AirGap)), "correct the gap, the number or the thickness")
	case (t.Mounting == "A" || t.Mounting == "B") && t.AirGap != 0:
		v.add("/air_gap_mm", "disagrees", fmt.Sprintf("mounting %s has no gap, got %g mm", t.Mounting, float64(t.AirGap)), "set 0, or name the mounting E with its number")
	}
	if t.Alpha.Basis != "third_octave" && t.Alpha.Basis != "octave" {
		v.add("/band_basis", "unknown_word", "is not a word of this list: "+quote(string(t.Alpha.Basis)), "use third_octave or octave")
	} else if t.Alpha.Len() == 0 {
		v.add("/bands", "required", "holds no coefficient", "give at least one, like alpha_500_hz")
	}
	for _, b := range t.Alpha.Basis.Bands() {
		if a, ok := t.Alpha.At(b); ok {
			v.limited(fmt.Sprintf("/bands/alpha_%d_hz", b.Nominal()), a, alphaLimit)
		}
	}
	v.word("/evidence", string(t.Evidence), words(evidences))
	v.source("/source_id", t.SourceID)
	v.use(t)
	v.note(t.Note)
	return v.Err()
}

// longestUseNote is the greatest length of a reason in characters. Convention.
const longestUseNote = 500

func (v *faults) use(t AbsorptionTest) {
	v.word("/use", t.Use.Word(), []string{normalWord, string(Preferred), string(SetAside)})
	switch {
	case t.Use != NormalUse:
		v.text("/use_note", t.UseNote, 1, longestUseNote)
	case t.UseNote != "":
		v.add("/use_note", "not_applicable", "only a test that is preferred or set aside has a reason for it", "leave it out, or set use to preferred or set_aside")
	}
}

func approx(a, b units.Length) bool { return math.Abs(float64(a-b)) < 0.5 }

// mountingGap is the gap that the number of the mounting tells: D names the batten, C, E and
// G the distance from the surface to the face (ASTM E795, see ratings).
func (t AbsorptionTest) mountingGap() units.Length {
	if t.Mounting == "D" || t.Mounting == "G" {
		return t.MountingSuffix
	}
	return max(0, t.MountingSuffix-t.Thickness)
}

// Validate names every fault of the fabric.
func (f Fabric) Validate() error {
	v := &faults{}
	v.meta(f.Meta)
	v.limited("/roll_width_mm", float64(f.RollWidth), limit{100, 6000, "mm", "give millimetres, e.g. 1500"})
	v.Within("/selvedge_mm", float64(f.Selvedge), 0, float64(f.RollWidth)/2, "mm", "give the unusable edge on one side in millimetres")
	figure(v, "/surface_mass_kg_per_m2", f.SurfaceMass, surfaceLimit)
	figure(v, "/flow_resistance_pa_s_per_m", f.Resistance, resistanceLimit)
	if p := f.Permeability; p != nil {
		v.Within("/air_permeability/velocity_mm_per_s", p.Velocity, 0.1, 20_000, "mm/s", "give mm/s, which is also l/(m² s)")
		v.Within("/air_permeability/pressure_pa", p.Pressure, 10, 2500, "Pa", "give the test pressure, e.g. 100, 125 or 200")
		v.word("/air_permeability/evidence", string(p.Evidence), words(evidences))
		v.source("/air_permeability/source_id", p.SourceID)
	}
	v.word("/stretch", string(f.Stretch), words(stretches))
	fires(v, f.Fire)
	v.source("/source_id", f.SourceID)
	v.note(f.Note)
	return v.Err()
}

// Validate names every fault of the part.
func (p Part) Validate() error {
	v := &faults{}
	v.meta(p.Meta)
	if kind, ok := roleKinds[p.Role]; !ok {
		v.word("/role", string(p.Role), words(Roles()))
	} else if kind != p.Kind {
		v.add("/kind", "disagrees", fmt.Sprintf("a part with the role %s is of the kind %s, got %s", p.Role, kind, quote(string(p.Kind))), "set kind to "+string(kind))
	}
	figure(v, "/density_kg_per_m3", p.Density, limit{50, 2000, "kg/m³", "give kg per cubic metre, e.g. 420"})
	figure(v, "/unit_mass_kg", p.UnitMass, massLimit)
	figure(v, "/working_load_kg", p.WorkingLoad, limit{0.1, 5000, "kg", "give the working load limit in kg, not the breaking load"})
	if p.Kind == Timber || p.Kind == Board {
		v.Within("/section_thickness_mm", float64(p.SectionThickness), 2, 200, "mm", "give millimetres, e.g. 18")
	}
	if p.Kind == Timber {
		v.Within("/section_width_mm", float64(p.SectionWidth), 5, 600, "mm", "give millimetres, e.g. 95")
		if len(p.StockLengths) == 0 {
			v.add("/stock_lengths_mm", "required", "is missing", "list the lengths sold, e.g. [2400]")
		}
		for i, l := range p.StockLengths {
			v.Within(fmt.Sprintf("/stock_lengths_mm/%d", i), float64(l), 200, 12_000, "mm", "give millimetres, e.g. 2400")
		}
	}
	if p.Kind == ProtectiveEquipment {
		v.Within("/uses_per_unit_count", float64(p.UsesPerUnit), 1, 10_000, "", "give the number of wearings of one unit, e.g. 1 or 4")
	} else if p.UsesPerUnit != 0 {
		v.add("/uses_per_unit_count", "not_applicable", "only protective equipment has uses", "leave it out")
	}
	v.source("/source_id", p.SourceID)
	v.note(p.Note)
	return v.Err()
}

// Validate names every fault of the ready-made panel.
func (p ReadyMadePanel) Validate() error {
	v := &faults{}
	v.meta(p.Meta)
	v.limited("/width_mm", float64(p.Width), sideLimit)
	v.limited("/height_mm", float64(p.Height), sideLimit)
	v.limited("/depth_mm", float64(p.Depth), thicknessLimit)
	figure(v, "/mass_kg", p.Mass, massLimit)
	if p.Alpha.Len() > 0 {
		for _, b := range p.Alpha.Basis.Bands() {
			if a, ok := p.Alpha.At(b); ok {
				v.limited(fmt.Sprintf("/absorption/bands/alpha_%d_hz", b.Nominal()), a, alphaLimit)
			}
		}
		v.word("/absorption/mounting_type", string(p.Mounting), words(mountings))
		v.word("/absorption/evidence", string(p.AlphaEvidence), words(evidences))
		v.source("/absorption/source_id", p.AlphaSourceID)
	}
	fires(v, p.Fire)
	v.source("/source_id", p.SourceID)
	v.note(p.Note)
	return v.Err()
}

var countryForm = regexp.MustCompile(`^[A-Z]{2}$`)

// Validate names every fault of the supplier.
func (s Supplier) Validate() error {
	v := &faults{}
	v.meta(s.Meta)
	if s.Country != "" && !countryForm.MatchString(s.Country) {
		v.add("/country", "bad_country", "is not an ISO 3166-1 code of two capitals: "+quote(s.Country), "write e.g. NL, or leave it out")
	}
	v.text("/region", s.Region, 0, 100)
	if !s.Currency.Valid() {
		v.add("/currency", "unknown_currency", "is not a current ISO 4217 code: "+quote(string(s.Currency)), "write three capitals, e.g. EUR")
	}
	fee := func(pointer string, a *money.Amount) {
		if a != nil && !a.IsZero() && a.Currency() != s.Currency {
			v.add(pointer+"/currency", "disagrees", fmt.Sprintf("is %s, the supplier's currency is %s", a.Currency(), s.Currency), "give fees in the currency of the supplier")
		}
	}
	if d := s.Delivery; d != nil {
		fee("/delivery/fee", &d.Fee)
		fee("/delivery/free_from", d.FreeFrom)
		fee("/delivery/per_kg", &d.PerKg)
		v.Weight("/delivery", d.Basis, d.Divisor)
		if d.FreeCoversWeight && d.FreeFrom == nil {
			v.add("/delivery/free_covers_weight", "disagrees", "there is no free_from that could waive the fee by weight", "give free_from, or leave it out")
		}
	}
	fee("/trip_cost", s.TripCost)
	if s.Delivery == nil && s.TripCost == nil {
		v.add("/delivery", "required", "a supplier must deliver or let orders be collected", "give delivery with its fee, or trip_cost; a fee of 0.00 is allowed")
	}
	v.source("/source_id", s.SourceID)
	v.note(s.Note)
	return v.Err()
}

// Weight records the faults of terms of delivery by weight below a pointer.
func (v *Faults) Weight(at string, basis WeightBasis, divisor int) {
	v.word(at+"/weight_basis", string(basis), words(WeightBases))
	switch {
	case basis != ActualWeight:
		v.Within(at+"/divisor_cm3_per_kg", float64(divisor), 100, 100_000, "cm³ per kg", "give what the carrier says, e.g. 5000")
	case divisor != 0:
		v.add(at+"/divisor_cm3_per_kg", "not_applicable", "is for a fee by size", "leave it out, or give weight_basis dimensional or greater")
	}
}

// MaxBreaks is the largest number of breaks of a price. Convention.
const MaxBreaks = 20

// breaks checks lower prices for more packs: each is lower than the one before, of the same
// currency, and they stand by rising number of packs.
func (v *faults) breaks(p Price) {
	if len(p.Breaks) > MaxBreaks {
		v.add("/breaks", "out_of_range", fmt.Sprintf("must list at most %d, got %d", MaxBreaks, len(p.Breaks)), "leave out what does not matter")
	}
	before, from := p.Amount, 1
	for i, b := range p.Breaks {
		at := fmt.Sprintf("/breaks/%d", i)
		v.Within(at+"/from_count", float64(b.From), 2, 10_000, "packs", "give the number of packs from which the price holds")
		if b.From == from {
			v.add(at+"/from_count", "duplicate", fmt.Sprintf("two prices hold from %d packs", b.From), "keep one")
		}
		switch {
		case b.Price.Currency() != p.Amount.Currency():
			v.add(at+"/price/currency", "disagrees", fmt.Sprintf("is %s, the price is in %s", b.Price.Currency(), p.Amount.Currency()), "give it in the currency of the price")
			return
		case b.Price.Sign() < 0:
			v.add(at+"/price/amount", "out_of_range", "must not be negative", "give the price of one pack")
		case b.Price.Cmp(before) >= 0:
			v.add(at+"/price/amount", "bad_range", fmt.Sprintf("is %s, not below %s for fewer packs", b.Price, before), "give the lower price of one pack, or leave the break out")
		}
		before, from = b.Price, b.From
	}
}

// Validate names every fault of the offer that can be seen without the item it sells;
// Fits checks the rest.
func (o Offer) Validate() error {
	v := &faults{}
	v.meta(o.Meta)
	v.reference("/supplier_id", o.SupplierID, NounSupplier)
	v.word("/item_kind", string(o.ItemKind), words(itemKinds))
	if o.ItemID == "" {
		v.add("/item_id", "required", "is missing", "give the id or slug of what is sold")
	}
	if o.ItemKind == FabricItem {
		v.Within("/pack_length_mm", float64(o.PackLength), 10, 1_000_000, "mm", "give the length of one selling unit, e.g. 1000 for cloth by the metre")
		if o.PackCount != 0 {
			v.add("/pack_count", "not_applicable", "fabric is sold by length", "leave it out")
		}
	} else {
		v.Within("/pack_count", float64(o.PackCount), 1, 100_000, "", "give the number of things in a pack, 1 for single ones")
		if o.PackLength != 0 {
			v.add("/pack_length_mm", "not_applicable", "only fabric is sold by length", "leave it out")
		}
	}
	if (o.SoldSize != nil) != (o.ItemKind == FillItem) {
		v.add("/sold_size", "disagrees", "an offer of a fill names its size, no other does", "give length_mm, width_mm and thickness_mm of one of the fill's sold sizes")
	}
	if o.PackMass != 0 {
		v.limited("/pack_mass_kg", float64(o.PackMass), massLimit)
	}
	if o.PackVolume != 0 {
		v.Within("/pack_volume_l", o.PackVolume, 0.001, 100_000, "l", "give litres: length x width x height in dm")
	}
	v.Within("/min_packs_count", float64(o.MinPacks), 0, 10_000, "", "give the least number of packs sold, or leave it out")
	v.Within("/max_packs_count", float64(o.MaxPacks), 0, 1_000_000, "", "give the number of packs in stock, or leave it out")
	if o.MaxPacks != 0 && o.MaxPacks < o.MinPacks {
		v.add("/max_packs_count", "bad_range", fmt.Sprintf("is %d, below min_packs_count %d", o.MaxPacks, o.MinPacks), "raise it or leave it out")
	}
	v.source("/source_id", o.SourceID)
	v.note(o.Note)
	return v.Err()
}

// FitsFill checks that the offer names one of the fill's sold sizes.
func (o Offer) FitsFill(f Fill) error {
	v := &faults{}
	if o.SoldSize != nil && !slices.Contains(f.SoldSizes, *o.SoldSize) {
		v.add("/sold_size", "unknown_size", "the fill "+string(f.Slug)+" is not sold as "+o.SoldSize.String(), "use one of its sold_sizes, or add the size to the fill first")
	}
	return v.Err()
}

// FitsPart checks that an offer of timber names one of the part's stock lengths, and no
// other offer names one.
func (o Offer) FitsPart(p Part) error {
	v := &faults{}
	switch {
	case p.Kind == Timber && !slices.Contains(p.StockLengths, o.StockLength):
		v.add("/stock_length_mm", "unknown_size", fmt.Sprintf("the part %s has no stock length of %g mm", p.Slug, float64(o.StockLength)), "use one of its stock_lengths_mm, or add the length to the part first")
	case p.Kind != Timber && o.StockLength != 0:
		v.add("/stock_length_mm", "not_applicable", "only timber is sold by stock length", "leave it out")
	}
	return v.Err()
}

// Validate names every fault of the price. today is the last day on which it can have
// been seen.
func (p Price) Validate(today Date) error {
	v := &faults{}
	v.reference("/offer_id", p.OfferID, NounOffer)
	if !p.Amount.Currency().Valid() {
		v.add("/price/currency", "unknown_currency", "is not a current ISO 4217 code: "+quote(string(p.Amount.Currency())), "write three capitals, e.g. EUR")
	}
	if p.Amount.Sign() < 0 {
		v.add("/price/amount", "out_of_range", "must not be negative", "give the price of one pack")
	}
	v.breaks(p)
	v.Within("/tax_rate_percent", float64(p.TaxRateBP)/100, 0, 100, "%", "give per cent, e.g. 21 for 21 %")
	v.date("/observed_date", p.Observed)
	if p.Observed > today {
		v.add("/observed_date", "in_the_future", fmt.Sprintf("is %s, after today (%s)", p.Observed, today), "give the day on which the price was seen")
	}
	v.word("/evidence", string(p.Evidence), words(evidences))
	v.source("/source_id", p.SourceID)
	v.note(p.Note)
	return v.Err()
}
