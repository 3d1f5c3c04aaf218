// Package costing says what it costs to build a number of panels at the prices of a day:
// how the pieces are cut, how many packs are bought of what at which supplier, what
// remains, and in all and per panel.
//
// A Market is made once per question from a snapshot and the question's terms; Cost is then
// asked for each option. Prices are the newest seen up to the day of the question;
// what has no usable price is named as missing and never counts as nothing: then there
// is no total, only what is known to be paid at least.
//
// Two bases stand side by side: bought (whole packs, what one pays: the total) and used
// (the share of them that goes into the panels). All sums are exact integers of the
// currency's minor unit.
//
// Source: costing.md and costing_problem.md. Simplifications of this version: one sold
// size of fill and one stock length of timber per order; stock on hand is all or
// nothing (Owned); breaks of price are not in the catalog; waste is added as a share
// only to cloth and to fill that is sold loose, everything else is planned piece by
// piece. A Purchase has stock and breaks, and knows no catalog.
package costing

import (
	"math"

	"sabinbook/internal/buying"
	"sabinbook/internal/catalog"
	"sabinbook/internal/cutting"
	"sabinbook/internal/handling"
	"sabinbook/internal/money"
	"sabinbook/internal/needs"
	"sabinbook/internal/units"
)

// TaxBasis says which price counts.
type TaxBasis string

// The bases.
const (
	TaxIncluded TaxBasis = "included" // for private buyers
	TaxExcluded TaxBasis = "excluded" // for those who get tax back
)

// Terms are the asker's terms of a cost question.
type Terms struct {
	AsOf       catalog.Date
	Currency   money.Currency
	MaxAgeDays int    // prices older than that are not used; 0 for any age
	Region     string // only suppliers of this region; empty for all
	Tax        TaxBasis
	Owned      []catalog.Role // parts that are there already: listed at no cost
	// FabricWasteBP and LooseWasteBP are what is bought more of cloth and of loose fill, in
	// basis points; everything else is planned piece by piece and needs none.
	FabricWasteBP, LooseWasteBP int
	Kerf                        units.Length // of saw cuts in timber
	MinPiece                    units.Length // narrowest strip of fill
	NodeLimit                   int          // of the search for the best plan
	// AllowPadding lets a pack be bought that is not needed but reaches a threshold or a
	// lower price, where that costs less.
	AllowPadding bool
}

// DefaultTerms returns the terms where the asker gives none but day and currency: tax
// included, 10 % more cloth (common practice, value from memory), 5 % more loose fill
// (convention), 3 mm kerf (common practice). Source: costing.md section 2.
func DefaultTerms(asOf catalog.Date, currency money.Currency) Terms {
	return Terms{AsOf: asOf, Currency: currency, Tax: TaxIncluded, FabricWasteBP: 1000, LooseWasteBP: 500,
		Kerf: cutting.DefaultKerf, MinPiece: cutting.DefaultMinPiece, NodeLimit: buying.DefaultNodeLimit, AllowPadding: true}
}

// Validate names every fault of the terms.
func (t Terms) Validate() error {
	v := &catalog.Faults{}
	if _, err := catalog.ParseDate(string(t.AsOf)); err != nil {
		v.Add("/as_of_date", "bad_date", err.Error(), "write year-month-day, like 2026-11-02")
	}
	if !t.Currency.Valid() {
		v.Add("/currency", "unknown_currency", "is not a current ISO 4217 code", "write three capitals, e.g. EUR")
	}
	v.Within("/max_price_age_days", float64(t.MaxAgeDays), 0, 36_500, "days", "give a number of days, or 0 for any age")
	v.Text("/region", t.Region, 0, 100)
	v.Word("/tax_basis", string(t.Tax), []string{string(TaxIncluded), string(TaxExcluded)})
	v.Within("/fabric_waste_percent", float64(t.FabricWasteBP)/100, 0, 100, "%", "give per cent, e.g. 10")
	v.Within("/loose_waste_percent", float64(t.LooseWasteBP)/100, 0, 100, "%", "give per cent, e.g. 5")
	v.Within("/kerf_mm", float64(t.Kerf), 0, 20, "mm", "give the width of a saw cut, e.g. 3")
	v.Within("/min_piece_mm", float64(t.MinPiece), 0, 500, "mm", "give the narrowest strip of fill, e.g. 50")
	v.Within("/node_limit_count", float64(t.NodeLimit), 0, 10_000_000, "", "give a number of nodes, or leave it out")
	return v.Err()
}

// Reason says why something cannot be priced.
type Reason string

// The reasons.
const (
	NoOffer       Reason = "no_offer"
	NoPrice       Reason = "no_price"
	TooOld        Reason = "too_old"
	OtherCurrency Reason = "other_currency"
	OtherRegion   Reason = "region"
	NoMass        Reason = "no_mass"      // delivery goes by weight and the pack's is not known
	DoesNotFit    Reason = "does_not_fit" // no sold size takes the pieces
	NotEnough     Reason = "not_enough"   // no single shop has that many packs
	TooWeak       Reason = "too_weak"     // every hanger with a price is declared for less than a panel
	UnknownNeed   Reason = "unknown_need" // how much is needed is not known
)

// mends tells for each reason what would help; the codes are for people's words elsewhere.
var mends = map[Reason]string{
	NoOffer: "add_offer", NoPrice: "add_price", TooOld: "add_price_or_allow_older", OtherCurrency: "add_price_in_currency",
	OtherRegion: "widen_region", NoMass: "add_pack_mass", DoesNotFit: "add_larger_size", NotEnough: "add_offer", TooWeak: "add_stronger_part", UnknownNeed: "set_handling_profile",
}

// Mend returns the code of what would help.
func (r Reason) Mend() string { return mends[r] }

// order of telling when several offers fail for several reasons: the easiest to mend first.
var reasonOrder = []Reason{TooOld, NoMass, OtherCurrency, NoPrice, OtherRegion}

// Missing is a need that cannot be priced.
type Missing struct {
	Need   string // code as in Line
	Kind   catalog.ItemKind
	ItemID catalog.ID // empty where any part of the role would do
	Slug   catalog.Slug
	Name   string
	Role   catalog.Role
	Reason Reason
}

// Line is one thing that is bought, or there already.
type Line struct {
	Need     string // code: fill, fabric, frame, or the role of a part
	Kind     catalog.ItemKind
	ItemID   catalog.ID
	Slug     catalog.Slug
	Name     string
	Role     catalog.Role // of parts
	Owned    bool         // there already: no offer, no cost, no item
	Size     string       // of fill "1200x600x50", of timber "2400"; empty otherwise
	Pieces   []needs.Basis
	Formula  string // from pieces to Needed, in the names of Inputs
	Inputs   []handling.Input
	Needed   float64
	Unit     string // batt, board, m, piece, unit
	Offer    catalog.Meta
	Supplier catalog.Meta

	PackSize  float64 // in the unit
	Packs     int
	UnitPrice money.Amount // of one pack as listed
	Listed    money.Amount
	Gross     money.Amount // what counts, by the tax basis
	// TaxIncluded says whether the listed price holds tax.
	TaxIncluded   bool
	TaxRateBP     int
	PriceID       catalog.ID
	PriceDate     catalog.Date
	PriceEvidence catalog.Evidence
	PriceSourceID catalog.ID

	Leftover      float64 // in the unit; of protective equipment in uses
	LeftoverUnit  string
	LeftoverValue money.Amount
	Used          money.Amount // Gross without the value of the leftover

	Boards *cutting.BoardPlan // of the frame
	Cloth  *cutting.ClothPlan // of the fabric
	Cut    []needs.Piece      // the pieces that Cloth counts by their index
	Batts  *cutting.BattPlan  // of fill in pieces
}

// Order is everything that is bought at one supplier.
type Order struct {
	Supplier catalog.Meta
	Mode     buying.Mode
	Goods    money.Amount
	Fee      money.Amount
	Charged  int64 // kilograms, for delivery by weight
}

// Cost is the answer for one list of needs.
type Cost struct {
	Count    int
	Lines    []Line
	Orders   []Order
	Goods    money.Amount
	Delivery money.Amount
	Trips    money.Amount
	// Total is nil when something is missing; PerPanel too.
	Total    *money.Amount
	PerPanel *money.Amount // rounded for display, not to be multiplied back
	// AtLeast is a sum below which the total cannot be: the total itself, or when something
	// is missing the cheapest lines of what is known, without fees.
	AtLeast money.Amount
	// Used is the value of what goes into the panels, without fees.
	Used money.Amount
	// ProtectionBought and ProtectionUsed are the protective equipment's part of Goods and Used.
	ProtectionBought, ProtectionUsed money.Amount
	// GoodsTaxPerOrder is Goods with tax rounded once per order and rate.
	GoodsTaxPerOrder money.Amount
	Missing          []Missing
	OldestPrice      catalog.Date // of the prices in the lines; empty without any
	Status           buying.Status
	LowerBound       money.Amount // proven for the sum of the orders, with the cut plans as they are
	Nodes, NodeLimit int
}

// Cost answers for a list of needs. The answer depends on nothing but the list, the
// snapshot and the terms; a Market may be asked from several goroutines at once.
func (m *Market) Cost(list needs.List) Cost { return m.CostWithin(list, buying.DefaultLabelLimit) }

// CostWithin is Cost with a limit of labels for the search, for those who ask for many lists:
// 10 000 labels take some three milliseconds on a machine of 2026. A plan that reaches it is
// feasible and has a proven bound.
func (m *Market) CostWithin(list needs.List, labels int) Cost {
	c := Cost{Count: list.Count, Used: money.Zero(m.terms.Currency), ProtectionBought: money.Zero(m.terms.Currency), ProtectionUsed: money.Zero(m.terms.Currency)}
	wanted := m.wanted(list)
	problem := buying.Problem{Currency: m.terms.Currency, Suppliers: m.buyers, NodeLimit: m.terms.NodeLimit, LabelLimit: labels, NoPadding: !m.terms.AllowPadding, Needs: make([]buying.Need, 0, len(wanted))}
	asked := make([]int, 0, len(wanted)) // index in wanted of each need of the problem
	for i, w := range wanted {
		if !w.owned && w.supply.reason == "" {
			problem.Needs = append(problem.Needs, w.supply.need)
			asked = append(asked, i)
		}
	}
	plan := buying.Best(problem)
	for n, way := range plan.Ways {
		if way < 0 {
			wanted[asked[n]].supply = supply{reason: NotEnough}
		}
	}
	c.Lines = make([]Line, 0, len(wanted)+2)
	bought := 0
	for i, w := range wanted {
		switch {
		case w.owned:
			c.Lines = append(c.Lines, m.ownedLine(w))
		case w.supply.reason != "":
			c.Missing = append(c.Missing, Missing{w.code, w.kind, w.item.ID, w.item.Slug, w.item.Name, w.role, w.supply.reason})
		default:
			from := bought
			for bought < len(plan.Lines) && asked[plan.Lines[bought].Need] == i {
				bought++
			}
			for _, l := range m.lines(w, plan.Lines[from:bought]) {
				if l.Cloth != nil {
					l.Cut = list.Cloth
				}
				c.add(l, w.protective)
			}
		}
	}
	if !list.ProtectionKnown {
		c.Missing = append(c.Missing, Missing{Need: "protective_equipment", Kind: catalog.PartItem, Reason: UnknownNeed})
	}
	c.Goods, c.Delivery, c.Trips, c.GoodsTaxPerOrder = plan.Goods, plan.Delivery, plan.Trips, plan.GoodsTaxPerOrder
	c.Status, c.LowerBound, c.Nodes, c.NodeLimit = plan.Status, plan.LowerBound, plan.Nodes, plan.NodeLimit
	c.Orders = make([]Order, len(plan.Orders))
	for i, o := range plan.Orders {
		c.Orders[i] = Order{m.suppliers[o.Supplier].Meta, o.Mode, o.Goods, o.Fee, o.Charged}
	}
	if len(c.Missing) > 0 {
		c.Status, c.AtLeast = buying.Incomplete, plan.LeastGoods
		return c
	}
	total, perPanel := plan.Cash, plan.Cash.TimesRatio(1, int64(list.Count))
	c.Total, c.PerPanel, c.AtLeast = &total, &perPanel, total
	return c
}

func (c *Cost) add(l Line, protective bool) {
	c.Lines = append(c.Lines, l)
	c.Used = c.Used.Add(l.Used)
	if protective {
		c.ProtectionBought = c.ProtectionBought.Add(l.Gross)
		c.ProtectionUsed = c.ProtectionUsed.Add(l.Used)
	}
	if c.OldestPrice == "" || l.PriceDate < c.OldestPrice {
		c.OldestPrice = l.PriceDate
	}
}

func (m *Market) ownedLine(w want) Line {
	zero := money.Zero(m.terms.Currency)
	return Line{Need: w.code, Kind: w.kind, ItemID: w.item.ID, Slug: w.item.Slug, Name: w.item.Name, Role: w.role, Owned: true,
		Pieces: w.pieces, UnitPrice: zero, Listed: zero, Gross: zero, LeftoverValue: zero, Used: zero}
}

// lines writes out the lines of the plan for one need. Where offers are mixed each line
// says the whole need, lines cover it in their order, and what is left over stands with
// the last ones.
//
// Value of the leftover: H(left · spent, bought) over all lines of the need, the fees apart.
// Source: costing_problem.md section 1.
func (m *Market) lines(w want, bought []buying.Line) []Line {
	out := make([]Line, len(bought))
	rest, total := int64(0), int64(0)
	spent := money.Zero(m.terms.Currency)
	counts := make([]int64, len(bought)) // in the unit of leftovers
	for i, b := range bought {
		how, item := w.supply.how[b.Way], &w.supply.need.Ways[b.Way].Items[b.Item]
		rest, counts[i] = item.Quantity, item.Offers[b.Offer].Pack*int64(b.Packs)
		if how.usesPerUnit > 0 {
			rest, counts[i] = how.uses, counts[i]*how.usesPerUnit
		}
		total += counts[i]
		spent = spent.Add(b.Gross)
	}
	left, value := total-rest, money.Zero(m.terms.Currency)
	if left > 0 {
		value = spent.TimesRatio(left, total)
	}
	for i, b := range bought {
		how := w.supply.how[b.Way]
		over := max(0, counts[i]-rest)
		rest -= counts[i] - over
		l := m.line(w, b)
		l.Leftover, l.LeftoverUnit, l.LeftoverValue = float64(over)/how.scale, how.unit, money.Zero(m.terms.Currency)
		if how.usesPerUnit > 0 {
			l.Leftover, l.LeftoverUnit = float64(over), "use"
		}
		if over == left { // the last one takes what rounding leaves
			l.LeftoverValue = value
		} else if over > 0 {
			l.LeftoverValue = value.TimesRatio(over, left)
		}
		value, left = value.Sub(l.LeftoverValue), left-over
		l.Used = l.Gross.Sub(l.LeftoverValue)
		out[i] = l
	}
	return out
}

// line is a line of the plan as bought.
func (m *Market) line(w want, bought buying.Line) Line {
	how := w.supply.how[bought.Way]
	item, q := &w.supply.need.Ways[bought.Way].Items[bought.Item], how.quotes[bought.Offer]
	return Line{
		Need: w.code, Kind: w.kind, ItemID: how.item.ID, Slug: how.item.Slug, Name: how.item.Name, Role: w.role, Size: how.size,
		Pieces: w.pieces, Formula: how.formula, Inputs: how.inputs, Needed: float64(item.Quantity) / how.scale, Unit: how.unit,
		Offer: q.offer.Meta, Supplier: m.suppliers[q.supplier].Meta,
		PackSize: float64(item.Offers[bought.Offer].Pack) / how.scale, Packs: bought.Packs, UnitPrice: bought.UnitPrice, Listed: bought.Listed, Gross: bought.Gross,
		TaxIncluded: q.price.TaxIncluded, TaxRateBP: q.price.TaxRateBP, PriceID: q.price.ID, PriceDate: q.price.Observed,
		PriceEvidence: q.price.Evidence, PriceSourceID: q.price.SourceID,
		Boards: how.boards, Cloth: how.cloth, Batts: how.batts,
	}
}

// wholeUp rounds a need that comes out of a formula up to a whole number; what exceeds it by
// no more than 1e-9 is rounding of the formula. Source: costing.md section 2.
func wholeUp(x float64) int64 { return int64(math.Ceil(x - 1e-9)) }
