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
// Beside the cash stands what it would cost to replace the things on hand that are used.
//
// Source: costing.md and costing_problem.md. Simplifications of this version: one sold
// size of fill per order; of the ways of mixing lengths of timber those that cost least
// at the lowest prices are weighed; fabric is bought of one offer, whose selling units
// are taken to be cut in one length; waste is added as a share only to cloth and to fill
// that is sold loose, everything else is planned piece by piece; what is on hand is used
// first and not weighed against buying. A Purchase knows no catalog and converts nothing.
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

// OldPrices says what becomes of prices that are older than asked for.
type OldPrices string

// What becomes of old prices.
const (
	OldRefused OldPrices = "refused" // not used
	OldFlagged OldPrices = "flagged" // used, and the line says so
)

// tooOld reports whether a price of the day is older than asked for.
func (t Terms) tooOld(observed catalog.Date) bool {
	return t.MaxAgeDays > 0 && t.AsOf.DaysSince(observed) > t.MaxAgeDays
}

// Terms are the asker's terms of a cost question.
type Terms struct {
	AsOf       catalog.Date
	Currency   money.Currency
	MaxAgeDays int    // prices older than that are old; 0 for any age
	Region     string // only suppliers of this region; empty for all
	Tax        TaxBasis
	OldPrices  OldPrices // what becomes of prices older than MaxAgeDays
	Convert    ConvertPrices
	// MaxRateAgeDays is the age up to which an exchange rate is used, 0 for any; of no meaning
	// unless prices are converted.
	MaxRateAgeDays int
	Owned          []catalog.Role // parts that are there already, whatever is needed: listed at no cost, in no total
	Stock          []OnHand       // things that are there already, by number
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
	return Terms{AsOf: asOf, Currency: currency, Tax: TaxIncluded, OldPrices: OldRefused, Convert: NotConverted, MaxRateAgeDays: DefaultRateAgeDays, FabricWasteBP: 1000, LooseWasteBP: 500,
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
	v.Word("/old_prices", string(t.OldPrices), []string{string(OldRefused), string(OldFlagged)})
	v.Word("/convert_prices", string(t.Convert), []string{string(NotConverted), string(StoredRates)})
	v.Within("/max_rate_age_days", float64(t.MaxRateAgeDays), 0, 36_500, "days", "give a number of days, or 0 for any age")
	t.validateStock(v)
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
	NoRate        Reason = "no_rate" // of exchange into the question's currency, as recent as asked for
	// NotConvertible says that less than half a minor unit comes of a price or fee, or more than can be counted.
	NotConvertible Reason = "not_convertible"
	OtherRegion    Reason = "region"
	NoMass         Reason = "no_mass"      // delivery goes by weight and the pack's is not known
	NoVolume       Reason = "no_volume"    // delivery goes by size and the pack's is not known
	DoesNotFit     Reason = "does_not_fit" // no sold size takes the pieces
	NotEnough      Reason = "not_enough"   // no single shop has that many packs
	TooWeak        Reason = "too_weak"     // every hanger with a price is declared for less than a panel
	UnknownNeed    Reason = "unknown_need" // how much is needed is not known
)

// mends tells for each reason what would help; the codes are for people's words elsewhere.
var mends = map[Reason]string{
	NoOffer: "add_offer", NoPrice: "add_price", TooOld: "add_price_or_allow_older", OtherCurrency: "add_price_in_currency",
	NoRate: "add_rate", NotConvertible: "add_price_in_currency", OtherRegion: "widen_region", NoMass: "add_pack_mass", NoVolume: "add_pack_volume", DoesNotFit: "add_larger_size", NotEnough: "add_offer", TooWeak: "add_stronger_part", UnknownNeed: "set_handling_profile",
}

// Mend returns the code of what would help.
func (r Reason) Mend() string { return mends[r] }

// order of telling when several offers fail for several reasons: the easiest to mend first.
var reasonOrder = []Reason{TooOld, NoRate, NoMass, NoVolume, OtherCurrency, NotConvertible, NoPrice, OtherRegion}

// Missing is a need that cannot be priced.
type Missing struct {
	Need   string // code as in Line
	Kind   catalog.ItemKind
	ItemID catalog.ID // empty where any part of the role would do
	Slug   catalog.Slug
	Name   string
	Role   catalog.Role
	Reason Reason
	Pieces []needs.Basis // that are needed
	// Lacking is what all shops together lack of what is needed, in Unit; 0 where nobody sells any
	// of it.
	Lacking float64
	Unit    string
}

// Line is one thing that is bought, or there already.
type Line struct {
	Need   string // code: fill, fabric, frame, or the role of a part
	Kind   catalog.ItemKind
	ItemID catalog.ID
	Slug   catalog.Slug
	Name   string
	Role   catalog.Role // of parts
	// Owned says that it is there already: no offer, no cost. With an item it is what is taken of
	// the things on hand, else a role of which everything is there.
	Owned   bool
	Size    string // of fill "1200x600x50", of timber "2400"; empty otherwise
	Pieces  []needs.Basis
	Formula string // from pieces to Needed, in the names of Inputs
	Inputs  []handling.Input
	Needed  float64 // of this item and size, without what is on hand: that has a line of its own
	Unit    string  // batt, board, m, piece, unit
	// Replacement is what it would cost to buy again what is taken of the things on hand; nil in
	// other lines and where it is not known.
	Replacement *money.Amount
	Offer       catalog.Meta
	Supplier    catalog.Meta

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
	PriceTooOld   bool        // older than asked for, and used because that was asked for
	Conversion    *Conversion // of the price; nil where it was seen in the currency of the question

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
	// ToFree is how much dearer the goods, with tax, would have to be for a fee to be waived; nil
	// where it is waived or nothing waives it.
	ToFree *money.Amount
	// Conversion is that of the supplier's fees and threshold; nil where they are in the currency of the question.
	Conversion *Conversion
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
	// StockValue is the value of what is taken of the things on hand, as far as it is known, and
	// Replacement the total with it: nil without a total, or when StockUnvalued says that the
	// value of something that is taken is not known.
	StockValue          money.Amount
	StockUnvalued       bool
	Replacement         *money.Amount
	ReplacementPerPanel *money.Amount
	// LeftoverValue is the sum of that of the lines. NetPerPanel is Total without it, for each
	// panel; it takes no part in what is made least.
	LeftoverValue money.Amount
	NetPerPanel   *money.Amount
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
	return m.costOf(list, m.wanted(list), labels)
}

// costOf is CostWithin for what is wanted of the market.
func (m *Market) costOf(list needs.List, wanted []want, labels int) Cost {
	zero := money.Zero(m.terms.Currency)
	c := Cost{Count: list.Count, Used: zero, ProtectionBought: zero, ProtectionUsed: zero, StockValue: zero, LeftoverValue: zero}
	problem, asked := m.problem(wanted, labels)
	plan := buying.Best(problem)
	ways := make([]int, len(wanted))
	for n, way := range plan.Ways {
		ways[asked[n]] = way
	}
	c.Lines = make([]Line, 0, len(wanted)+2)
	bought := 0
	for i, w := range wanted {
		switch {
		case w.owned:
			c.Lines = append(c.Lines, m.ownedLine(w))
		case w.supply.reason != "":
			c.Missing = append(c.Missing, w.missing(w.supply.reason))
		case ways[i] < 0:
			c.Missing = append(c.Missing, w.notEnough(plan.Unmet, asked, i))
		default:
			from := bought
			for bought < len(plan.Lines) && asked[plan.Lines[bought].Need] == i {
				bought++
			}
			for _, l := range append(m.takenLines(w, ways[i]), m.lines(w, plan.Lines[from:bought])...) {
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
		c.Orders[i] = Order{m.suppliers[o.Supplier].Meta, o.Mode, o.Goods, o.Fee, o.Charged, m.toFree(o), m.fees[o.Supplier]}
	}
	if len(c.Missing) > 0 {
		c.Status, c.AtLeast = buying.Incomplete, plan.LeastGoods
		return c
	}
	perPanel := func(a money.Amount) *money.Amount {
		each := a.TimesRatio(1, int64(list.Count))
		return &each
	}
	total := plan.Cash
	c.Total, c.AtLeast, c.PerPanel, c.NetPerPanel = &total, total, perPanel(total), perPanel(total.Sub(c.LeftoverValue))
	if !c.StockUnvalued {
		replacement := total.Add(c.StockValue)
		c.Replacement, c.ReplacementPerPanel = &replacement, perPanel(replacement)
	}
	return c
}

// problem is where what is wanted and can be had is bought; asked is the index in wanted of each
// of its needs.
func (m *Market) problem(wanted []want, labels int) (p buying.Problem, asked []int) {
	p = buying.Problem{Currency: m.terms.Currency, Suppliers: m.buyers, NodeLimit: m.terms.NodeLimit, LabelLimit: labels, NoPadding: !m.terms.AllowPadding, Needs: make([]buying.Need, 0, len(wanted))}
	asked = make([]int, 0, len(wanted))
	for i, w := range wanted {
		if !w.owned && w.supply.reason == "" {
			p.Needs = append(p.Needs, w.supply.need)
			asked = append(asked, i)
		}
	}
	return p, asked
}

// Total is the total of Cost within a limit of labels, nil when something is missing; for those
// who look at many lists and show few.
func (m *Market) Total(list needs.List, labels int) *money.Amount {
	wanted := m.wanted(list)
	problem, asked := m.problem(wanted, labels)
	for _, w := range wanted {
		if !w.owned && w.supply.reason != "" {
			return nil
		}
	}
	plan := buying.Best(problem)
	if !list.ProtectionKnown || len(asked) > 0 && plan.Status == buying.Incomplete {
		return nil
	}
	return &plan.Cash
}

// toFree is the ToFree of an order.
func (m *Market) toFree(o buying.Order) *money.Amount {
	d := m.buyers[o.Supplier].Delivery
	if o.Mode != buying.Deliver || d.FreeFrom == nil || o.Worth.Cmp(*d.FreeFrom) >= 0 || o.Flat.IsZero() && !(d.FreeCoversWeight && !o.ByWeight.IsZero()) {
		return nil
	}
	more := d.FreeFrom.Sub(o.Worth)
	return &more
}

// missing names a want that cannot be priced.
func (w want) missing(r Reason) Missing {
	return Missing{Need: w.code, Kind: w.kind, ItemID: w.item.ID, Slug: w.item.Slug, Name: w.item.Name, Role: w.role, Reason: r, Pieces: w.pieces}
}

// notEnough names a want of which all shops together do not have enough.
func (w want) notEnough(lacks []buying.Lack, asked []int, at int) Missing {
	out := w.missing(NotEnough)
	for _, l := range lacks {
		if asked[l.Need] == at {
			how := w.supply.how[l.Way]
			out.Lacking, out.Unit = float64(l.Quantity)/how.scale, how.unit
		}
	}
	return out
}

func (c *Cost) add(l Line, protective bool) {
	c.Lines = append(c.Lines, l)
	if l.Owned {
		if l.Replacement == nil {
			c.StockUnvalued = true
		} else {
			c.StockValue = c.StockValue.Add(*l.Replacement)
		}
		return
	}
	c.Used, c.LeftoverValue = c.Used.Add(l.Used), c.LeftoverValue.Add(l.LeftoverValue)
	if protective {
		c.ProtectionBought = c.ProtectionBought.Add(l.Gross)
		c.ProtectionUsed = c.ProtectionUsed.Add(l.Used)
	}
	if c.OldestPrice == "" || l.PriceDate < c.OldestPrice {
		c.OldestPrice = l.PriceDate
	}
}

// ownedLine is the line of a role of which everything is there.
func (m *Market) ownedLine(w want) Line {
	zero := money.Zero(m.terms.Currency)
	return Line{Need: w.code, Kind: w.kind, ItemID: w.item.ID, Slug: w.item.Slug, Name: w.item.Name, Role: w.role, Owned: true,
		Pieces: w.pieces, UnitPrice: zero, Listed: zero, Gross: zero, LeftoverValue: zero, Used: zero}
}

// takenLines writes out what a way takes of the things on hand.
func (m *Market) takenLines(w want, way int) []Line {
	how := w.supply.how[way]
	out := make([]Line, len(how.taken))
	for i, t := range how.taken {
		out[i] = m.ownedLine(w)
		l := &out[i]
		l.ItemID, l.Slug, l.Name, l.Size = how.item.ID, how.item.Slug, how.item.Name, t.size
		l.Formula, l.Inputs, l.Needed, l.Unit, l.Replacement = how.formula, how.inputs, t.quantity, how.unit, t.value
		l.Boards, l.Cloth, l.Batts = t.boards, t.cloth, how.batts
	}
	return out
}

// lines writes out the lines of the plan for one need. Where offers are mixed each line
// says the whole need, lines cover it in their order, and what is left over stands with
// the last ones.
//
// Value of the leftover: H(left · spent, bought) over all lines of the need, the fees apart.
// Source: costing_problem.md section 1.
func (m *Market) lines(w want, bought []buying.Line) []Line {
	var out []Line
	for from := 0; from < len(bought); {
		to := from
		for to < len(bought) && bought[to].Item == bought[from].Item {
			to++
		}
		out = append(out, m.itemLines(w, bought[from:to])...)
		from = to
	}
	return out
}

// itemLines writes out the lines of one item of a way.
func (m *Market) itemLines(w want, bought []buying.Line) []Line {
	out := make([]Line, len(bought))
	how, item := w.supply.how[bought[0].Way], &w.supply.need.Ways[bought[0].Way].Items[bought[0].Item]
	rest, total, perUnit := item.Quantity, int64(0), int64(1)
	if how.usesPerUnit > 0 {
		rest, perUnit = how.uses, how.usesPerUnit
	}
	spent := money.Zero(m.terms.Currency)
	counts := make([]int64, len(bought)) // in the unit of leftovers
	for i, b := range bought {
		counts[i] = item.Offers[b.Offer].Pack * int64(b.Packs) * perUnit
		spent = spent.Add(b.Gross)
		total += counts[i]
	}
	left, value := total-rest, money.Zero(m.terms.Currency)
	if left > 0 {
		value = spent.TimesRatio(left, total)
	}
	for i, b := range bought {
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
	sold := how.portions[bought.Item]
	item, q := &w.supply.need.Ways[bought.Way].Items[bought.Item], sold.quotes[bought.Offer]
	return Line{
		Need: w.code, Kind: w.kind, ItemID: how.item.ID, Slug: how.item.Slug, Name: how.item.Name, Role: w.role, Size: sold.size,
		Pieces: w.pieces, Formula: how.formula, Inputs: how.inputs, Needed: float64(item.Quantity) / how.scale, Unit: how.unit,
		Offer: q.offer.Meta, Supplier: m.suppliers[q.supplier].Meta,
		PackSize: float64(item.Offers[bought.Offer].Pack) / how.scale, Packs: bought.Packs, UnitPrice: bought.UnitPrice, Listed: bought.Listed, Gross: bought.Gross,
		TaxIncluded: q.price.TaxIncluded, TaxRateBP: q.price.TaxRateBP, PriceID: q.price.ID, PriceDate: q.price.Observed,
		PriceEvidence: q.price.Evidence, PriceSourceID: q.price.SourceID, PriceTooOld: m.terms.tooOld(q.price.Observed),
		Conversion: q.conversionOf(bought.Packs), Boards: sold.boards, Cloth: sold.cloth, Batts: how.batts,
	}
}

// wholeUp rounds a need that comes out of a formula up to a whole number; what exceeds it by
// no more than 1e-9 is rounding of the formula. Source: costing.md section 2.
func wholeUp(x float64) int64 { return int64(math.Ceil(x - 1e-9)) }
