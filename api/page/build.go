package page

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"sabinbook/api/client"
	"sabinbook/internal/hanging"
	"sabinbook/internal/units"
)

// build is how one option is bought, cut, made and hung.
type build struct {
	Heading, Layers, Fabric, Frame, Key, Note string
	Facts                                     []fact
	Orders                                    []order
	Stock, Missing                            []string
	Sums                                      []fact
	Remark                                    string // how sure the sum is
	Cuts                                      []cut
	Protection                                []worn
	Steps                                     []minutes
	Minutes, Lifting                          string
	Hanging                                   hung
	Cautions                                  []client.Note
	Fires                                     []fire
}

// CommonWork, UnknownWork, FireWords and NoFire are words for the template.
func (build) CommonWork() string  { return commonWork }
func (build) UnknownWork() string { return unknownWork }
func (build) FireWords() string   { return fireWords }
func (build) NoFire() string      { return noFire }

type fact struct{ Name, Value string }

// order is what is bought at one supplier.
type order struct {
	Supplier, Where, Note    string
	Lines                    []line
	Goods, FeeName, Fee, Sum string
}

// line is one line of the shopping list.
type line struct {
	Packs, Pack    string
	What, Offer    string
	Each, Sum, Day string
	Left           string
}

// Small is what is told of a line beside its figures: the offer, the day of its price, what is left over.
func (l line) Small() string {
	var list []string
	for _, text := range []string{l.Offer, l.Day, l.Left} {
		if text != "" {
			list = append(list, text)
		}
	}
	return strings.Join(list, "; ")
}

// cut is how one line is cut.
type cut struct {
	What, Words string
	Figures     []figure
}

type worn struct{ Role, Uses, From string }

type minutes struct{ Name, Reckoning, Minutes, Evidence string }

// hung is what is known for hanging, and what must be measured.
type hung struct {
	Masses   []fact
	Words    []string
	Drill    string
	Rows     []string // names of the panels, for the table that is filled in by hand
	MoreRows int64
}

type fire struct{ Subject, Class, Details string }

func buildOf(d *client.ShortlistDocument, o client.RankedOption, note string) build {
	c := o.Cost
	b := build{Heading: "Place " + placeOf(o) + ": " + o.Fill.Name, Layers: layersOf(o), Fabric: o.Fabric.Name, Frame: o.Frame.Name, Key: o.Key, Note: note, Cautions: o.Cautions}
	b.Facts = []fact{{"Panels", number(float64(o.PanelCount))}, {"Total", fixedMoney(c.Total)}, {"A panel", fixedMoney(c.PerPanel)},
		{"Absorption area", fixed(&o.Absorption.AreaM2, 2) + " m²"}, {"Mass of a panel", withUnit(o.PanelMassKg, 1, "kg")}, {"Extra work", withUnit(o.Burden.ExtraTimeMin, 0, "min")},
		{"From wall to face", number(o.DepthFromWallMm) + " mm"}, {"NRC", fixed(o.Ratings.Nrc, 2)}}
	offers := map[string]client.Offer{}
	for _, f := range d.Catalog.Offers {
		offers[f.Slug] = f
	}
	suppliers := map[string]client.Supplier{}
	for _, s := range d.Catalog.Suppliers {
		suppliers[s.Slug] = s
	}
	for _, f := range c.Orders {
		b.Orders = append(b.Orders, orderOf(f, c.Lines, suppliers[f.Supplier.Slug], offers))
	}
	b.Stock, b.Missing = stock(c.Lines), missing(c)
	b.Sums = []fact{{"Goods", amount(c.Goods)}, {"Delivery", amount(c.Delivery)}, {"Trips", amount(c.Trips)}, {"Total", fixedMoney(c.Total)}}
	b.Remark = remark(c)
	for _, l := range c.Lines {
		if l.CutPlan != nil {
			b.Cuts = append(b.Cuts, cut{what(l), l.CutPlan.Text, cutFigures(l, d.Answer.Inputs.KerfMm)})
		}
	}
	b.Protection, b.Steps = protection(o), work(o)
	b.Minutes = withUnit(o.Burden.ExtraTimeMin, 0, "min")
	if o.Burden.ExtraTimePerPanelMin != nil {
		b.Minutes += fmt.Sprintf(" for all panels, %s a panel", withUnit(o.Burden.ExtraTimePerPanelMin, 1, "min"))
	}
	if o.Burden.SessionsCount != nil {
		b.Minutes += ", in " + counted(float64(*o.Burden.SessionsCount), "session")
	}
	if l := o.Burden.Lifting; l != nil && l.Index != nil && l.LimitKg != nil {
		b.Lifting = fmt.Sprintf("Lifting: a panel is %s of the %s kg that the revised NIOSH lifting equation recommends at most for one person standing on the floor (%s). It is a mark, not a verdict.", fixed(l.Index, 2), fixed(l.LimitKg, 1), said(evidences, l.Evidence))
	}
	b.Hanging = hangingOf(d, o)
	sources := map[string]client.SourceRef{}
	for _, s := range d.Answer.Sources {
		sources[s.ID] = s
	}
	for _, f := range o.FireDeclarations {
		b.Fires = append(b.Fires, fireOf(f, sources))
	}
	return b
}

func withUnit(x *float64, places int, unit string) string {
	if x == nil {
		return unknown
	}
	return fixed(x, places) + " " + unit
}

// what names the thing of a line, with its size.
func what(l client.CostLine) string {
	name := said(nil, l.Need)
	if l.Item != nil {
		name = l.Item.Name
	}
	if l.Size != nil {
		name += ", " + strings.ReplaceAll(*l.Size, "x", " × ") + " mm"
	}
	return name
}

func orderOf(f client.CostOrder, lines []client.CostLine, s client.Supplier, offers map[string]client.Offer) order {
	o := order{Supplier: f.Supplier.Name, Where: orZero(s.Region), Note: orZero(s.Note), Goods: amount(f.Goods), Fee: amount(f.Fee), Sum: sum(f.Goods, f.Fee), FeeName: "Delivery"}
	if f.Mode == "collect" {
		o.FeeName = "Trip to collect"
	}
	if f.ChargedKg != nil {
		o.FeeName += fmt.Sprintf(", %d kg charged", *f.ChargedKg)
	}
	for _, l := range lines {
		if l.Supplier == nil || l.Supplier.Slug != f.Supplier.Slug {
			continue
		}
		o.Lines = append(o.Lines, lineOf(l, offers))
	}
	return o
}

func lineOf(l client.CostLine, offers map[string]client.Offer) line {
	out := line{What: what(l), Each: unknown, Sum: unknown}
	if l.PacksCount != nil {
		out.Packs = fmt.Sprint(*l.PacksCount)
	}
	if l.PackQuantity != nil {
		out.Pack = counted(*l.PackQuantity, l.Unit)
	}
	if l.UnitPrice != nil {
		out.Each = l.UnitPrice.Amount
	}
	if l.Gross != nil {
		out.Sum = l.Gross.Amount
	}
	if l.Offer != nil {
		out.Offer = l.Offer.Slug
		if note := orZero(offers[l.Offer.Slug].Note); note != "" {
			out.Offer += " – " + note
		}
	}
	if l.PriceDate != nil {
		out.Day = "price seen " + *l.PriceDate
		if orZero(l.PriceTooOld) {
			out.Day += ", old: ask again"
		}
	}
	if left := math.Round(orZero(l.LeftoverQuantity)*100) / 100; left > 0 {
		out.Left = counted(left, orZero(l.LeftoverUnit)) + " left over"
	}
	return out
}

// stock lists what is there already.
func stock(lines []client.CostLine) []string {
	var list []string
	for _, l := range lines {
		if !l.Owned {
			continue
		}
		words := what(l)
		if l.NeededQuantity > 0 {
			words = counted(l.NeededQuantity, l.Unit) + " of " + words
		}
		if l.ReplacementValue != nil {
			words += ", to replace: " + amount(*l.ReplacementValue)
		}
		list = append(list, words)
	}
	return list
}

// missing says aloud what has no price.
func missing(c client.OptionCost) []string {
	var list []string
	for _, m := range c.Missing {
		words := said(nil, m.Need)
		if m.Item != nil {
			words += ", " + m.Item.Name
		}
		if m.LackingQuantity != nil {
			words += fmt.Sprintf(" (%s lacking)", counted(*m.LackingQuantity, orZero(m.Unit)))
		}
		list = append(list, fmt.Sprintf("%s: %s. To mend it: %s.", capital(words), m.Detail, m.Fix))
	}
	return list
}

// remark says how sure the sum is.
func remark(c client.OptionCost) string {
	var list []string
	switch {
	case c.Total == nil:
		list = append(list, "The total is not known, because prices are missing. It cannot be below "+amount(c.AtLeast)+".")
	case c.Status == "optimal":
		list = append(list, "No other choice of packs and shops costs less, with the pieces cut as told.")
	case c.LowerBound != nil:
		list = append(list, "This choice of packs and shops is not proven the cheapest; none costs less than "+amount(*c.LowerBound)+".")
	}
	if c.OldestPriceDate != nil {
		list = append(list, "The oldest price was seen on "+*c.OldestPriceDate+": look at the shelf before you buy.")
	}
	return strings.Join(list, " ")
}

func protection(o client.RankedOption) []worn {
	var list []worn
	for _, p := range o.Burden.Protection {
		w := worn{Role: said(roles, p.Role), Uses: counted(float64(p.UsesCount), "use"), From: "not on the shopping list"}
		if p.Owned {
			w.From = "there already"
		}
		for _, l := range o.Cost.Lines {
			if l.Need == p.Role && l.Item != nil && l.PacksCount != nil {
				w.From = fmt.Sprintf("%d × %s", *l.PacksCount, l.Item.Name)
			}
		}
		list = append(list, w)
	}
	return list
}

func work(o client.RankedOption) []minutes {
	var list []minutes
	for _, l := range o.Burden.Lines {
		var inputs []string
		for _, in := range l.Inputs {
			text := said(nil, in.Name) + " " + number(in.Value)
			if in.Unit != nil {
				text += " " + *in.Unit
			}
			inputs = append(inputs, text)
		}
		list = append(list, minutes{said(steps, l.Name), strings.Join(inputs, " × "), fixed(&l.QuantityMin, 0), said(evidences, l.Evidence)})
	}
	return list
}

// hardware are the needs that stay on a panel and are in no mass line.
var hardware = []string{"hanger", "screw", "staple"}

// mostRows is how many panels have a line of their own in the table of drill heights.
const mostRows = 12

// hangingOf weighs a panel with its hardware and says what carries it, from the parts in the document. Drill heights
// follow from what only a tape tells.
func hangingOf(d *client.ShortlistDocument, o client.RankedOption) hung {
	h := hung{Drill: drillWords}
	parts := map[string]client.Part{}
	for _, p := range d.Catalog.Parts {
		parts[p.Slug] = p
	}
	var lacking []string
	for _, m := range o.MassLines {
		h.Masses = append(h.Masses, fact{capital(said(nil, m.Part)), withUnit(m.MassKg, 3, "kg")})
		if m.MassKg == nil {
			lacking = append(lacking, said(nil, m.Part))
		}
	}
	whole := orZero(o.PanelMassKg)
	var plates []client.CostLine
	bought := map[string]bool{}
	for _, l := range o.Cost.Lines {
		if l.Item == nil || !slices.Contains(hardware, l.Need) || o.PanelCount <= 0 {
			continue
		}
		if !l.Owned { // offers that share a need tell the whole of it, each of them
			if bought[l.Item.Slug] {
				continue
			}
			bought[l.Item.Slug] = true
		}
		if l.Need == "hanger" {
			plates = append(plates, l)
		}
		each := l.NeededQuantity / float64(o.PanelCount)
		f := fact{fmt.Sprintf("%s × %s", number(each), l.Item.Name), unknown}
		if m := parts[l.Item.Slug].UnitMassKg; m != nil {
			kg := m.Value * each
			whole += kg
			f.Value = withUnit(&kg, 3, "kg")
		} else {
			lacking = append(lacking, l.Item.Name)
		}
		h.Masses = append(h.Masses, f)
	}
	known := o.PanelMassKg != nil && len(lacking) == 0
	switch {
	case known:
		newtons := float64(hanging.Weight(units.Mass(whole)))
		h.Masses = append(h.Masses, fact{"Together", withUnit(&whole, 3, "kg")})
		h.Words = append(h.Words, fmt.Sprintf("A panel weighs about %s and pulls with %s. Weigh the first one that you finish; wet paint, glue and a back board come on top.", withUnit(&whole, 1, "kg"), withUnit(&newtons, 0, "N")))
	case o.PanelMassKg != nil:
		h.Words = append(h.Words, fmt.Sprintf("A panel weighs %s and more: the mass of %s is not known. Weigh one before you hang it.", withUnit(o.PanelMassKg, 1, "kg"), listed(lacking, "and")))
	default:
		h.Words = append(h.Words, fmt.Sprintf("What a panel weighs is not known: the mass of %s is not. Weigh one before you hang it.", listed(lacking, "and")))
	}
	load := "the whole panel"
	if known {
		load = fmt.Sprintf("the whole %s", withUnit(&whole, 1, "kg"))
	}
	h.Words = append(h.Words, fmt.Sprintf("Each plate, hook and wall fixing must be declared for %s, with a margin: of several, any one may come to carry all (convention).", load))
	for _, l := range plates {
		w := parts[l.Item.Slug].WorkingLoadKg
		switch {
		case w == nil:
			h.Words = append(h.Words, fmt.Sprintf("%s: no working load is declared here. Read it on the pack before you hang anything.", l.Item.Name))
		case known && w.Value < whole:
			h.Words = append(h.Words, fmt.Sprintf("%s: its declared working load of %s kg is less than a panel. Do not use it for these.", l.Item.Name, number(w.Value)))
		default:
			h.Words = append(h.Words, fmt.Sprintf("%s: declared working load %s kg.", l.Item.Name, number(w.Value)))
		}
	}
	for i := range min(o.PanelCount, mostRows) {
		h.Rows = append(h.Rows, fmt.Sprint(i+1))
	}
	h.MoreRows = max(0, o.PanelCount-mostRows)
	return h
}

func fireOf(f client.FireDeclaration, sources map[string]client.SourceRef) fire {
	details := []string{}
	add := func(name string, value *string) {
		if value != nil && *value != "" {
			details = append(details, name+*value)
		}
	}
	add("edition ", f.Edition)
	add("end use: ", f.EndUse)
	add("laboratory ", f.Laboratory)
	add("report ", f.ReportRef)
	if f.FlameSpreadIndex != nil {
		details = append(details, fmt.Sprintf("flame spread index %d", *f.FlameSpreadIndex))
	}
	if f.SmokeDevelopedIndex != nil {
		details = append(details, fmt.Sprintf("smoke developed index %d", *f.SmokeDevelopedIndex))
	}
	details = append(details, "durability "+said(nil, f.Durability), said(evidences, f.Evidence))
	if s, ok := sources[f.SourceID]; ok {
		details = append(details, "source: "+s.Name)
	}
	return fire{capital(said(nil, f.Subject)), cmp.Or(orZero(f.Code), "no class") + " (" + said(schemes, f.Scheme) + ")", strings.Join(details, "; ")}
}
