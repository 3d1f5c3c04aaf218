package seed

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"

	"sabinbook/internal/catalog"
	"sabinbook/internal/money"
	"sabinbook/internal/units"
)

// The columns of each file.
var (
	sourceColumns = strings.Fields("slug name citation observer date licence evidence invented note")
	fillColumns   = slices.Concat(strings.Fields("slug name family form"), figureColumns("density", "kg_per_m3"),
		figureColumns("airflow_resistivity", "pa_s_per_m2"), figureColumns("fibre_diameter", "um"),
		strings.Fields(`profile irritant dust binder borate_fraction borate_evidence borate_source
			moth_treatment back_tissue note_q note_r source note`))
	sizeColumns = strings.Fields("fill length_mm width_mm thickness_mm")
	fireColumns = strings.Fields(`item_kind item subject scheme code flame_spread_index smoke_developed_index
		edition end_use durability evidence source`)
	testColumns = slices.Concat(strings.Fields(`slug name fill standard mounting_type mounting_suffix_mm thickness_mm
		air_gap_mm density_kg_per_m3`), octaveColumns(), strings.Fields("capped_at_one evidence source note"))
	fabricColumns = slices.Concat(strings.Fields("slug name roll_width_mm selvedge_mm"),
		figureColumns("surface_mass", "kg_per_m2"), figureColumns("flow_resistance", "pa_s_per_m"),
		strings.Fields(`air_permeability_mm_per_s test_pressure_pa air_permeability_evidence air_permeability_source
			directional stretch source note`))
	partColumns = slices.Concat(strings.Fields("slug name kind role section_thickness_mm section_width_mm stock_lengths_mm"),
		figureColumns("density", "kg_per_m3"), figureColumns("unit_mass", "kg"), figureColumns("working_load", "kg"),
		strings.Fields("uses_per_unit_count source note"))
	readyMadeColumns = slices.Concat(strings.Fields("slug name width_mm height_mm depth_mm"), figureColumns("mass", "kg"),
		strings.Fields("mounting_type"), octaveColumns(), strings.Fields("absorption_evidence absorption_source source note"))
	designColumns = strings.Fields(`slug name width_mm height_mm wrap_turn_mm back back_margin_mm fill_oversize_mm joint
		braces_count stand_offs_count parts note`)
	roomColumns = strings.Fields(`slug name length_m width_m height_m volume_m3 temperature_c humidity_percent pressure_kpa
		target_rule target_group target_time_s target_from_hz target_to_hz source note`)
	surfaceColumns  = strings.Fields("room face area_m2 material")
	thingColumns    = strings.Fields("room material count")
	supplierColumns = strings.Fields(`slug name region currency delivery_fee delivery_free_from delivery_fee_per_kg
		delivery_weight_basis delivery_divisor_cm3_per_kg delivery_free_covers_weight trip_cost source note`)
	offerColumns = strings.Fields(`slug name supplier item_kind item sold_length_mm sold_width_mm sold_thickness_mm
		stock_length_mm pack_count pack_length_mm pack_mass_kg pack_volume_l min_packs_count max_packs_count source note`)
	priceColumns = strings.Fields(`offer observed_date price breaks currency tax_included tax_rate_percent corrects_date
		evidence source note`)
)

func source(w row) catalog.Source {
	return catalog.Source{
		Meta: w.meta(catalog.NounSource), Citation: w.text("citation"), Observer: w.text("observer"),
		Date: catalog.Date(w.text("date")), Licence: w.text("licence"),
		Evidence: catalog.Evidence(w.text("evidence")), Invented: w.yes("invented"), Note: w.text("note"),
	}
}

func (w row) length(column string) units.Length { return units.Length(w.number(column)) }

// size reads a sold size from the three columns that begin with the prefix.
func (w row) size(prefix string) catalog.SoldSize {
	return catalog.SoldSize{Length: w.length(prefix + "length_mm"), Width: w.length(prefix + "width_mm"), Thickness: w.length(prefix + "thickness_mm")}
}

// owned holds rows of a file that belong to records of another file, which is read later.
type owned[T any] struct {
	by   map[catalog.ID][]T
	rows []owner
}

type owner struct {
	id catalog.ID
	row
}

func (o *owned[T]) add(id catalog.ID, w row, thing T) {
	if o.by == nil {
		o.by = map[catalog.ID][]T{}
	}
	o.by[id] = append(o.by[id], thing)
	o.rows = append(o.rows, owner{id, w})
}

// unowned faults the rows that belong to no record that was read, named by a column.
func (o owned[T]) unowned(column string) {
	for _, r := range o.rows {
		if !r.in.known[r.id] {
			r.fault(column, "no record is called %q", r.text(column))
		}
	}
}

// soldSizes reads the sizes of all fills.
func (l *loader) soldSizes() owned[catalog.SoldSize] {
	var list owned[catalog.SoldSize]
	for _, w := range l.rows("sold_sizes.csv", sizeColumns) {
		list.add(id(catalog.NounFill, w.text("fill")), w, w.size(""))
	}
	return list
}

// fireDeclarations reads the declarations of all records that have some.
func (l *loader) fireDeclarations() owned[catalog.FireDeclaration] {
	var list owned[catalog.FireDeclaration]
	for _, w := range l.rows("fire_declarations.csv", fireColumns) {
		list.add(id(w.itemNoun(), w.text("item")), w, catalog.FireDeclaration{
			Subject: w.text("subject"), Scheme: catalog.FireScheme(w.text("scheme")), Code: w.text("code"),
			FlameSpread: w.optional("flame_spread_index"), SmokeDeveloped: w.optional("smoke_developed_index"),
			Edition: w.text("edition"), EndUse: w.text("end_use"), Durability: w.text("durability"),
			Evidence: w.text("evidence"), SourceID: w.source("source"),
		})
	}
	return list
}

// itemNoun is the noun of the record that the column item names.
func (w row) itemNoun() catalog.Noun {
	switch kind := catalog.ItemKind(w.text("item_kind")); kind {
	case catalog.FillItem:
		return catalog.NounFill
	case catalog.FabricItem:
		return catalog.NounFabric
	case catalog.PartItem:
		return catalog.NounPart
	case catalog.ReadyMadeItem:
		return catalog.NounReadyMade
	default:
		w.fault("item_kind", "not a kind of item: %q", kind)
		return catalog.Noun{}
	}
}

func fill(w row, sizes owned[catalog.SoldSize], fire owned[catalog.FireDeclaration]) catalog.Fill {
	m := w.meta(catalog.NounFill)
	f := catalog.Fill{
		Meta: m, Family: catalog.Family(w.text("family")), Form: catalog.Form(w.text("form")),
		Density:       figure[units.Density](w, "density", "kg_per_m3"),
		Resistivity:   figure[units.AirflowResistivity](w, "airflow_resistivity", "pa_s_per_m2"),
		FibreDiameter: figure[units.Diameter](w, "fibre_diameter", "um"),
		SoldSizes:     sizes.by[m.ID], Fire: fire.by[m.ID],
		Handling: catalog.Handling{
			Profile: catalog.Profile(w.text("profile")), Irritant: catalog.Answer(w.text("irritant")),
			Dust: catalog.Answer(w.text("dust")), Binder: catalog.Binder(w.text("binder")),
			Moth: catalog.MothTreatment(w.text("moth_treatment")), BackTissue: catalog.Answer(w.text("back_tissue")),
			NoteQ: catalog.Answer(w.text("note_q")), NoteR: catalog.Answer(w.text("note_r")),
		},
		SourceID: w.source("source"), Note: w.text("note"),
	}
	if w.text("borate_fraction") != "" {
		f.Handling.Borate = &catalog.Figure[units.Fraction]{
			Value: units.Fraction(w.number("borate_fraction")), Evidence: catalog.Evidence(w.text("borate_evidence")), SourceID: w.source("borate_source"),
		}
	}
	return f
}

func absorptionTest(w row) catalog.AbsorptionTest {
	return catalog.AbsorptionTest{
		Meta: w.meta(catalog.NounTest), FillID: w.reference("fill", catalog.NounFill),
		Standard: catalog.TestStandard(w.text("standard")), Mounting: catalog.Mounting(w.text("mounting_type")),
		MountingSuffix: w.length("mounting_suffix_mm"), Thickness: w.length("thickness_mm"), AirGap: w.length("air_gap_mm"),
		Density: units.Density(w.number("density_kg_per_m3")), Alpha: w.octaves(), CappedAtOne: w.yes("capped_at_one"),
		Evidence: catalog.Evidence(w.text("evidence")), SourceID: w.source("source"), Note: w.text("note"),
	}
}

func fabric(w row, fire owned[catalog.FireDeclaration]) catalog.Fabric {
	m := w.meta(catalog.NounFabric)
	f := catalog.Fabric{
		Meta: m, RollWidth: w.length("roll_width_mm"), Selvedge: w.length("selvedge_mm"),
		SurfaceMass: figure[units.SurfaceMass](w, "surface_mass", "kg_per_m2"),
		Resistance:  figure[units.AirflowResistance](w, "flow_resistance", "pa_s_per_m"),
		Directional: w.yes("directional"), Stretch: catalog.Stretch(w.text("stretch")),
		Fire: fire.by[m.ID], SourceID: w.source("source"), Note: w.text("note"),
	}
	if w.text("air_permeability_mm_per_s") != "" {
		f.Permeability = &catalog.Permeability{
			Velocity: w.number("air_permeability_mm_per_s"), Pressure: w.number("test_pressure_pa"),
			Evidence: catalog.Evidence(w.text("air_permeability_evidence")), SourceID: w.source("air_permeability_source"),
		}
	}
	return f
}

func part(w row) catalog.Part {
	p := catalog.Part{
		Meta: w.meta(catalog.NounPart), Kind: catalog.PartKind(w.text("kind")), Role: catalog.Role(w.text("role")),
		SectionThickness: w.length("section_thickness_mm"), SectionWidth: w.length("section_width_mm"),
		Density:     figure[units.Density](w, "density", "kg_per_m3"),
		UnitMass:    figure[units.Mass](w, "unit_mass", "kg"),
		WorkingLoad: figure[units.Mass](w, "working_load", "kg"),
		UsesPerUnit: w.whole("uses_per_unit_count"), SourceID: w.source("source"), Note: w.text("note"),
	}
	for _, text := range strings.Fields(w.text("stock_lengths_mm")) {
		mm, err := strconv.ParseFloat(text, 64)
		if err != nil {
			w.fault("stock_lengths_mm", "not a list of numbers with spaces between them: %q", text)
		}
		p.StockLengths = append(p.StockLengths, units.Length(mm))
	}
	return p
}

func readyMade(w row, fire owned[catalog.FireDeclaration]) catalog.ReadyMadePanel {
	m := w.meta(catalog.NounReadyMade)
	return catalog.ReadyMadePanel{
		Meta: m, Width: w.length("width_mm"), Height: w.length("height_mm"), Depth: w.length("depth_mm"),
		Mass: figure[units.Mass](w, "mass", "kg"), Alpha: w.octaves(),
		AlphaEvidence: catalog.Evidence(w.text("absorption_evidence")), AlphaSourceID: w.source("absorption_source"),
		Mounting: catalog.Mounting(w.text("mounting_type")), Fire: fire.by[m.ID], SourceID: w.source("source"), Note: w.text("note"),
	}
}

// supplier reads a shop. It delivers when a fee is given, 0.00 included.
func supplier(w row) catalog.Supplier {
	s := catalog.Supplier{
		Meta: w.meta(catalog.NounSupplier), Region: w.text("region"), Currency: money.Currency(w.text("currency")),
		SourceID: w.source("source"), Note: w.text("note"),
	}
	s.TripCost = w.amount("trip_cost", s.Currency)
	free, perKg := w.amount("delivery_free_from", s.Currency), w.amount("delivery_fee_per_kg", s.Currency)
	if fee := w.amount("delivery_fee", s.Currency); fee != nil {
		s.Delivery = &catalog.Delivery{Fee: *fee, FreeFrom: free, Basis: catalog.WeightBasis(cmp.Or(w.text("delivery_weight_basis"), string(catalog.ActualWeight))),
			Divisor: w.whole("delivery_divisor_cm3_per_kg"), FreeCoversWeight: w.text("delivery_free_covers_weight") != "" && w.yes("delivery_free_covers_weight")}
		if perKg != nil {
			s.Delivery.PerKg = *perKg
		}
	} else if free != nil || perKg != nil || w.text("delivery_weight_basis") != "" {
		w.fault("delivery_fee", "is missing beside other terms of delivery")
	}
	return s
}

func offer(w row) catalog.Offer {
	o := catalog.Offer{
		Meta: w.meta(catalog.NounOffer), SupplierID: w.reference("supplier", catalog.NounSupplier),
		ItemKind: catalog.ItemKind(w.text("item_kind")), ItemID: w.reference("item", w.itemNoun()),
		StockLength: w.length("stock_length_mm"), PackCount: w.whole("pack_count"), PackLength: w.length("pack_length_mm"),
		PackMass: units.Mass(w.number("pack_mass_kg")), PackVolume: w.number("pack_volume_l"), MinPacks: w.whole("min_packs_count"), MaxPacks: w.whole("max_packs_count"),
		SourceID: w.source("source"), Note: w.text("note"),
	}
	if size := w.size("sold_"); size != (catalog.SoldSize{}) {
		o.SoldSize = &size
	}
	return o
}

// breaks reads lower prices for more packs, written like 5:17.90;10:16.50.
func (w row) breaks(column string, currency money.Currency) []catalog.Break {
	var list []catalog.Break
	for part := range strings.SplitSeq(w.text(column), ";") {
		if part == "" {
			continue
		}
		from, price, _ := strings.Cut(part, ":")
		n, err := strconv.Atoi(from)
		a, err2 := money.Parse(price, currency)
		if err != nil || err2 != nil {
			w.fault(column, "is not like 5:17.90;10:16.50: %q", part)
			continue
		}
		list = append(list, catalog.Break{From: n, Price: a})
	}
	return list
}

// price reads a price. Its id comes from the offer, the day and whether it corrects
// another, so an offer has one price a day and at most one correction of each.
func price(w row) catalog.Price {
	offer, day := w.text("offer"), w.text("observed_date")
	key := offer + "/" + day
	p := catalog.Price{
		OfferID: w.reference("offer", catalog.NounOffer), TaxIncluded: w.yes("tax_included"),
		TaxRateBP: int(math.Round(w.number("tax_rate_percent") * 100)), Observed: catalog.Date(day),
		Evidence: catalog.Evidence(w.text("evidence")), SourceID: w.source("source"), Note: w.text("note"),
		Created: moment, CreatedBy: author,
	}
	if a := w.amount("price", money.Currency(w.text("currency"))); a != nil {
		p.Amount = *a
	} else {
		w.fault("price", "is missing")
	}
	p.Breaks = w.breaks("breaks", p.Amount.Currency())
	if corrected := w.text("corrects_date"); corrected != "" {
		p.Corrects = id(catalog.NounPrice, offer+"/"+corrected)
		if !w.in.known[p.Corrects] {
			w.fault("corrects_date", "the offer %s has no price of %s above", offer, corrected)
		}
		key += "/corrects/" + corrected
	}
	p.ID = id(catalog.NounPrice, key)
	w.register(p.ID, key)
	return p
}

// design reads a panel design; its parts are words like hanger:2 with spaces between them.
func design(w row) catalog.Design {
	d := catalog.Design{
		Meta: w.meta(catalog.NounDesign), Width: w.length("width_mm"), Height: w.length("height_mm"), Turn: w.length("wrap_turn_mm"),
		Back: w.text("back"), BackMargin: w.length("back_margin_mm"), Oversize: w.length("fill_oversize_mm"), Joint: w.text("joint"),
		Braces: w.whole("braces_count"), StandOffs: w.whole("stand_offs_count"), Note: w.text("note"),
	}
	for _, text := range strings.Fields(w.text("parts")) {
		role, number, _ := strings.Cut(text, ":")
		n, err := strconv.Atoi(number)
		if err != nil {
			w.fault("parts", "not a list of words like hanger:2: %q", text)
		}
		d.Parts = append(d.Parts, catalog.DesignPart{Role: catalog.Role(role), Count: n})
	}
	return d
}

// roomSurfaces reads what bounds all rooms.
func (l *loader) roomSurfaces() owned[catalog.RoomSurface] {
	var list owned[catalog.RoomSurface]
	for _, w := range l.rows("room_surfaces.csv", surfaceColumns) {
		list.add(id(catalog.NounRoom, w.text("room")), w, catalog.RoomSurface{Face: catalog.Face(w.text("face")), Area: w.number("area_m2"), Material: w.text("material")})
	}
	return list
}

// roomThings reads what is in all rooms.
func (l *loader) roomThings() owned[catalog.RoomThing] {
	var list owned[catalog.RoomThing]
	for _, w := range l.rows("room_things.csv", thingColumns) {
		list.add(id(catalog.NounRoom, w.text("room")), w, catalog.RoomThing{Material: w.text("material"), Count: w.whole("count")})
	}
	return list
}

func room(w row, surfaces owned[catalog.RoomSurface], things owned[catalog.RoomThing]) catalog.Room {
	m := w.meta(catalog.NounRoom)
	return catalog.Room{
		Meta: m, Sides: [3]float64{w.number("length_m"), w.number("width_m"), w.number("height_m")}, Volume: w.number("volume_m3"),
		Surfaces: surfaces.by[m.ID], Things: things.by[m.ID],
		Air: &catalog.RoomAir{Temperature: w.number("temperature_c"), Humidity: w.number("humidity_percent"), Pressure: w.number("pressure_kpa")},
		Target: &catalog.RoomTarget{Rule: w.text("target_rule"), Group: w.text("target_group"), Time: w.number("target_time_s"),
			From: w.whole("target_from_hz"), To: w.whole("target_to_hz")},
		SourceID: w.source("source"), Note: w.text("note"),
	}
}
