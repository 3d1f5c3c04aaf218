// Package catalogtest makes up whole catalogs for tests: every rule of package catalog is
// kept, every field is set now and then and missing now and then, and texts hold what
// breaks careless readers of files. Equal seeds give equal catalogs.
package catalogtest

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"time"

	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
	"sabinbook/internal/money"
	"sabinbook/internal/units"
)

// Today is the last day on which a price of these catalogs was seen.
const Today catalog.Date = "2026-11-25"

// maker draws one catalog.
type maker struct {
	*rand.Rand
	all catalog.Snapshot
	n   int // records made so far
}

// Random makes a catalog of some records of each noun, at revision 1.
func Random(seed uint64) catalog.Snapshot {
	m := &maker{Rand: rand.New(rand.NewPCG(seed, 7))}
	m.all.Revision = 1
	for range 1 + m.IntN(3) {
		m.all.Sources = append(m.all.Sources, m.source())
	}
	for range m.IntN(4) {
		m.all.Fills = append(m.all.Fills, m.fill())
	}
	for range m.IntN(3) {
		m.all.Fabrics = append(m.all.Fabrics, m.fabric())
	}
	for range m.IntN(4) {
		m.all.Parts = append(m.all.Parts, m.part())
	}
	for range m.IntN(3) {
		m.all.ReadyMade = append(m.all.ReadyMade, m.panel())
	}
	for range m.IntN(3) {
		m.all.Designs = append(m.all.Designs, m.design())
	}
	for range m.IntN(3) {
		m.all.Rooms = append(m.all.Rooms, m.room())
	}
	for range m.IntN(3) {
		m.all.Suppliers = append(m.all.Suppliers, m.supplier())
	}
	for _, f := range m.all.Fills {
		for range m.IntN(3) {
			m.all.Tests = append(m.all.Tests, m.test(f))
		}
	}
	m.offers()
	for range m.IntN(3) {
		m.all.Rates = append(m.all.Rates, m.rate())
	}
	m.all.Sort()
	return m.all
}

func (m *maker) coin() bool { return m.IntN(2) == 0 }

func pick[T any](m *maker, list ...T) T { return list[m.IntN(len(list))] }

// words are pieces of texts: plain, formulas, quotes, line breaks, other scripts.
var words = []string{"felt", "wool 45", "=1+1", "+SUM(A1)", "-5", "@home", "'quoted", "''", `"`, `a "b" c`, ",", ";", "\n", "line\nline", "\ttab", " space ", "Ω²", "日本", "é", "NULL", "0012", "1e5", "<b>", "%s", "\\", "/"}

// text is any text the catalog takes, empty now and then.
func (m *maker) text() string {
	var b strings.Builder
	for range m.IntN(4) {
		b.WriteString(pick(m, words...))
	}
	return b.String()
}

func (m *maker) title() string { return m.text() + "x" }

// number is a number between two ends, round or with all its digits.
func (m *maker) number(lo, hi float64) float64 {
	x := lo + (hi-lo)*m.Float64()
	if m.coin() {
		if r := float64(int(x)); r >= lo && r > 0 {
			return r
		}
	}
	return x
}

func (m *maker) meta(n catalog.Noun) catalog.Meta {
	m.n++
	made := time.Date(2026, 1, 1+m.IntN(300), m.IntN(24), 0, 0, m.IntN(1000)*1_000_000, time.UTC)
	return catalog.Meta{ID: m.id(n), Slug: catalog.Slug(fmt.Sprintf("%s-%d%s", n.Prefix, m.n, pick(m, "", "-f", "-k", "-m", "-p", "-r", "-s", "-t"))), Name: fmt.Sprintf("%s %d", m.title(), m.n),
		Revision: 1 + m.Int64N(5), Created: made, Updated: made.Add(time.Duration(m.IntN(5000)) * time.Millisecond), UpdatedBy: pick(m, "ada", "bo"), CreatedBy: pick(m, "ada", "cy")}
}

func (m *maker) id(n catalog.Noun) catalog.ID {
	id := []byte(n.Prefix + "_")
	for range 26 {
		id = append(id, "0123456789abcdefghijklmnopqrstuv"[m.IntN(32)])
	}
	return catalog.ID(id)
}

func (m *maker) evidence() catalog.Evidence {
	return pick(m, catalog.Measured, catalog.Published, catalog.Declared, catalog.Estimated, catalog.Remembered)
}

func (m *maker) sourceID() catalog.ID { return pick(m, m.all.Sources...).ID }

func (m *maker) source() catalog.Source {
	return catalog.Source{Meta: m.meta(catalog.NounSource), Citation: m.title(), Observer: m.text(), Date: pick[catalog.Date](m, "", "2024-02-29"),
		Licence: m.title(), Evidence: m.evidence(), Invented: m.coin(), Note: m.text()}
}

func figure[U ~float64](m *maker, lo, hi float64) *catalog.Figure[U] {
	if m.IntN(3) == 0 {
		return nil
	}
	value := m.number(lo, hi)
	f := &catalog.Figure[U]{Value: U(value), Evidence: m.evidence(), SourceID: m.sourceID(), Basis: m.text()}
	if m.coin() {
		f.Low, f.High = U(m.number(lo, value)), U(m.number(value, hi))
		f.Low = min(f.Low, f.Value)
		f.High = max(f.High, f.Value)
	}
	return f
}

func (m *maker) fires() []catalog.FireDeclaration {
	var list []catalog.FireDeclaration
	for range m.IntN(3) {
		d := catalog.FireDeclaration{Subject: pick(m, "fill", "whole_panel"), Scheme: catalog.EN13501, Code: pick(m, "A1", "B-s1,d0", "E"), Edition: m.text(), Report: m.text(),
			Laboratory: m.text(), EndUse: m.text(), Durability: pick(m, "inherent", "unknown"), Evidence: pick(m, "report_seen", "hearsay"), SourceID: m.sourceID()}
		switch m.IntN(3) {
		case 0:
			flame, smoke := m.IntN(300), m.IntN(600)
			d.Scheme, d.FlameSpread, d.SmokeDeveloped, d.Code = catalog.ASTME84, &flame, &smoke, catalog.E84Class(flame, smoke)
		case 1:
			d.Scheme, d.Code = catalog.NoScheme, ""
		}
		list = append(list, d)
	}
	return list
}

func (m *maker) answer() catalog.Answer { return pick(m, catalog.Yes, catalog.No, catalog.Unknown) }

func (m *maker) fill() catalog.Fill {
	f := catalog.Fill{Meta: m.meta(catalog.NounFill), Family: pick(m, catalog.Families()...), Form: pick(m, catalog.Batt, catalog.Loose),
		Density: figure[units.Density](m, 5, 1000), Resistivity: figure[units.AirflowResistivity](m, 100, 2e6), FibreDiameter: figure[units.Diameter](m, 0.5, 500),
		Fire: m.fires(), SourceID: m.sourceID(), Note: m.text(),
		Handling: catalog.Handling{Profile: catalog.Fibrous, Irritant: m.answer(), Dust: m.answer(), Binder: catalog.UnknownBinder, Borate: figure[units.Fraction](m, 0, 1),
			Moth: catalog.MothOther, BackTissue: m.answer(), NoteQ: m.answer(), NoteR: m.answer(), Cutting: figure[units.Minutes](m, 0.05, 60)}}
	for range m.IntN(4) {
		size := catalog.SoldSize{Length: units.Length(m.number(50, 1e5)), Width: units.Length(m.number(50, 1e5)), Thickness: units.Length(m.number(2, 600))}
		if !slices.Contains(f.SoldSizes, size) {
			f.SoldSizes = append(f.SoldSizes, size)
		}
	}
	return f
}

func (m *maker) curve() bands.Curve {
	c := bands.NewCurve(pick(m, bands.Octave, bands.ThirdOctave))
	for _, b := range c.Basis.Bands() {
		if m.IntN(4) > 0 {
			c.Set(b, m.number(0, 2))
		}
	}
	c.Set(bands.OctaveBand(2), m.number(0, 2))
	return c
}

func (m *maker) test(f catalog.Fill) catalog.AbsorptionTest {
	t := catalog.AbsorptionTest{Meta: m.meta(catalog.NounTest), FillID: f.ID, Standard: "iso_354", Mounting: pick[catalog.Mounting](m, "A", catalog.UnknownMounting, "E"), Thickness: units.Length(m.number(2, 300)),
		Alpha: m.curve(), CappedAtOne: m.coin(), Evidence: m.evidence(), SourceID: m.sourceID(), Note: m.text()}
	if t.Mounting == "E" {
		t.MountingSuffix = 400
		t.AirGap = 400 - t.Thickness
	}
	if m.coin() {
		t.Density = units.Density(m.number(5, 1000))
	}
	if t.Use = pick(m, catalog.NormalUse, catalog.Preferred, catalog.SetAside); t.Use != catalog.NormalUse {
		t.UseNote = "because: " + m.text()
	}
	return t
}

func (m *maker) fabric() catalog.Fabric {
	f := catalog.Fabric{Meta: m.meta(catalog.NounFabric), RollWidth: units.Length(m.number(100, 6000)), Selvedge: units.Length(m.number(0, 50)), SurfaceMass: figure[units.SurfaceMass](m, 0.005, 20),
		Resistance: figure[units.AirflowResistance](m, 1, 1e5), Directional: m.coin(), Stretch: "unknown", Fire: m.fires(), SourceID: m.sourceID(), Note: m.text()}
	if m.coin() {
		f.Permeability = &catalog.Permeability{Velocity: m.number(0.1, 2e4), Pressure: m.number(10, 2500), Evidence: m.evidence(), SourceID: m.sourceID()}
	}
	return f
}

func (m *maker) part() catalog.Part {
	p := catalog.Part{Meta: m.meta(catalog.NounPart), Kind: catalog.Hardware, Role: catalog.Screw, Density: figure[units.Density](m, 50, 2000), UnitMass: figure[units.Mass](m, 0.00001, 500),
		WorkingLoad: figure[units.Mass](m, 0.1, 5000), SourceID: m.sourceID(), Note: m.text()}
	switch m.IntN(4) {
	case 0:
		p.Kind, p.Role, p.SectionThickness, p.SectionWidth = catalog.Timber, catalog.FrameTimber, units.Length(m.number(2, 200)), units.Length(m.number(5, 600))
		p.StockLengths = []units.Length{2400, units.Length(m.number(200, 2399))}
	case 1:
		p.Kind, p.Role, p.SectionThickness = catalog.Board, catalog.BackBoard, units.Length(m.number(2, 200))
	case 2:
		p.Kind, p.Role, p.UsesPerUnit = catalog.ProtectiveEquipment, catalog.Gloves, 1+m.IntN(9)
	}
	return p
}

func (m *maker) panel() catalog.ReadyMadePanel {
	p := catalog.ReadyMadePanel{Meta: m.meta(catalog.NounReadyMade), Width: units.Length(m.number(50, 1e5)), Height: units.Length(m.number(50, 1e5)), Depth: units.Length(m.number(2, 600)), Mass: figure[units.Mass](m, 0.00001, 500),
		Fire: m.fires(), SourceID: m.sourceID(), Note: m.text()}
	if m.coin() {
		p.Alpha, p.AlphaEvidence, p.AlphaSourceID, p.Mounting = m.curve(), m.evidence(), m.sourceID(), "A"
	}
	return p
}

func (m *maker) design() catalog.Design {
	d := catalog.Design{Meta: m.meta(catalog.NounDesign), Width: units.Length(m.number(100, 3000)), Height: units.Length(m.number(100, 3000)), Turn: units.Length(m.number(0, 300)),
		Back: pick(m, "as_needed", "open", "wrapped"), BackMargin: units.Length(m.number(-40, 300)), Oversize: units.Length(m.number(0, 50)), Joint: pick(m, "butt", "mitre", "half_lap"),
		Braces: m.IntN(5), StandOffs: m.IntN(7), Note: m.text()}
	for _, role := range []catalog.Role{catalog.Hanger, catalog.Screw, catalog.Staple} {
		if m.coin() {
			d.Parts = append(d.Parts, catalog.DesignPart{Role: role, Count: 1 + m.IntN(80)})
		}
	}
	return d
}

// six are numbers of six octaves between two ends.
func (m *maker) six(lo, hi float64) *catalog.Octaves {
	var o catalog.Octaves
	for i := range o {
		o[i] = m.number(lo, hi)
	}
	return &o
}

func (m *maker) room() catalog.Room {
	r := catalog.Room{Meta: m.meta(catalog.NounRoom), SourceID: m.sourceID(), Note: m.text()}
	surface := func(face catalog.Face, area float64) catalog.RoomSurface {
		if m.coin() {
			return catalog.RoomSurface{Face: face, Area: area, Material: "plaster-painted"}
		}
		return catalog.RoomSurface{Face: face, Area: area, Own: m.six(0, 1.5)}
	}
	if m.coin() {
		r.Sides = [3]float64{m.number(3, 20), m.number(3, 20), m.number(2, 6)}
		r.Surfaces = []catalog.RoomSurface{surface(catalog.Floor, 0), surface(catalog.Walls, 0), surface(catalog.Walls, m.number(0.1, 3)), surface(catalog.Ceiling, 0)}
	} else {
		r.Volume, r.Surfaces = m.number(10, 5000), []catalog.RoomSurface{surface("", m.number(1, 900)), surface("", m.number(1, 900))}
	}
	if m.coin() {
		r.Things = []catalog.RoomThing{{Material: "one-seated-person", Count: 1 + m.IntN(9)}, {Own: m.six(0, 3), Count: 1 + m.IntN(9)}}
	}
	if m.coin() {
		r.Air = &catalog.RoomAir{Temperature: m.number(-5, 40), Humidity: m.number(10, 100), Pressure: m.number(90, 105)}
	}
	if m.coin() {
		r.Measured = m.six(0.1, 5)
	}
	r.Target = pick(m, nil, &catalog.RoomTarget{Rule: "own", Time: m.number(0.2, 3), From: 250, To: 4000}, &catalog.RoomTarget{Rule: "din_18041", Group: "A2", From: 125, To: 2000})
	return r
}

// money is an amount of one to four decimals, as far as the currency goes.
func (m *maker) money(c money.Currency) money.Amount {
	if c == "JPY" || m.coin() {
		return money.FromMinor(m.Int64N(100_000), c)
	}
	return money.FromMicro(m.Int64N(1e9)*100, c)
}

func (m *maker) supplier() catalog.Supplier {
	c := pick[money.Currency](m, "EUR", "JPY", "KWD")
	s := catalog.Supplier{Meta: m.meta(catalog.NounSupplier), Country: pick(m, "", "NL"), Region: m.text(), Currency: c, SourceID: m.sourceID(), Note: m.text()}
	trip := m.money(c)
	s.TripCost = &trip
	if m.coin() {
		d := &catalog.Delivery{Fee: m.money(c), PerKg: money.Zero(c), Basis: catalog.ActualWeight}
		if m.coin() {
			d.PerKg, d.Basis, d.Divisor = m.money(c), catalog.GreaterWeight, 5000
		}
		if m.coin() {
			free := m.money(c)
			d.FreeFrom, d.FreeCoversWeight = &free, m.coin()
		}
		s.Delivery = d
		if m.coin() {
			s.TripCost = nil
		}
	}
	return s
}

func (m *maker) rate() catalog.ExchangeRate {
	r := catalog.ExchangeRate{Meta: m.meta(catalog.NounRate), From: "EUR", To: pick[money.Currency](m, "JPY", "GBP"), Rate: pick[money.Rate](m, "162.50", "0.8563", "1", "0.000000000001", "123456789.123456789012"),
		Evidence: m.evidence(), SourceID: m.sourceID(), Note: m.text()}
	r.Observed = catalog.DateOf(r.Created)
	return r
}

// offers makes offers of what there is, and their prices.
func (m *maker) offers() {
	if len(m.all.Suppliers) == 0 {
		return
	}
	add := func(o catalog.Offer) {
		if m.IntN(3) == 0 {
			return
		}
		o.Meta, o.SupplierID, o.SourceID, o.Note = m.meta(catalog.NounOffer), pick(m, m.all.Suppliers...).ID, m.sourceID(), m.text()
		if m.coin() {
			o.PackMass, o.PackVolume, o.MinPacks, o.MaxPacks = units.Mass(m.number(0.1, 500)), m.number(0.001, 1e5), 1, 1+m.IntN(50)
		}
		m.all.Offers = append(m.all.Offers, o)
		m.prices(o)
	}
	for _, f := range m.all.Fills {
		for _, s := range f.SoldSizes {
			add(catalog.Offer{ItemKind: catalog.FillItem, ItemID: f.ID, SoldSize: &s, PackCount: 1 + m.IntN(20)})
		}
	}
	for _, f := range m.all.Fabrics {
		add(catalog.Offer{ItemKind: catalog.FabricItem, ItemID: f.ID, PackLength: units.Length(m.number(10, 1e6))})
	}
	for _, p := range m.all.Parts {
		o := catalog.Offer{ItemKind: catalog.PartItem, ItemID: p.ID, PackCount: 1}
		if p.Kind == catalog.Timber {
			o.StockLength = p.StockLengths[m.IntN(2)]
		}
		add(o)
	}
	for _, p := range m.all.ReadyMade {
		add(catalog.Offer{ItemKind: catalog.ReadyMadeItem, ItemID: p.ID, PackCount: 1})
	}
}

func (m *maker) prices(o catalog.Offer) {
	c := pick[money.Currency](m, "EUR", "JPY")
	var last catalog.ID
	for range m.IntN(4) {
		made := time.Date(2026, 1, 1+m.IntN(300), 0, 0, m.IntN(60), 0, time.UTC)
		p := catalog.Price{ID: m.id(catalog.NounPrice), OfferID: o.ID, Amount: money.FromMicro(5e9+m.Int64N(1000)*1e6, c), TaxIncluded: m.coin(), TaxRateBP: m.IntN(3000),
			Observed: catalog.DateOf(made), Evidence: m.evidence(), SourceID: m.sourceID(), Note: m.text(), Created: made, CreatedBy: "ada"}
		if m.coin() {
			p.Breaks = []catalog.Break{{From: 2, Price: money.FromMinor(300, c)}, {From: 7, Price: money.FromMinor(200, c)}}
		}
		if m.coin() {
			p.Corrects = last
		}
		last = p.ID
		m.all.Prices = append(m.all.Prices, p)
	}
}
