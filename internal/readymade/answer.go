package readymade

import (
	"fmt"
	"math"
	"slices"

	"sabinbook/internal/catalog"
	"sabinbook/internal/costing"
	"sabinbook/internal/handling"
	"sabinbook/internal/money"
	"sabinbook/internal/ranking"
	"sabinbook/internal/units"
)

// ModelVersion names the computation; it changes whenever an answer to an equal question
// may change.
const ModelVersion = "1"

// Gap is the code of something that is not known, so that a figure is left out.
type Gap string

// The gaps.
const (
	BuildPriceMissing     Gap = "build_price_missing"      // Built names what has none
	StockValueUnknown     Gap = "stock_value_unknown"      // of something on hand that is used
	ReadyPriceMissing     Gap = "ready_made_price_missing" // the comparison names the reason
	ToolPriceUnknown      Gap = "tool_price_unknown"       // of a tool that must be bought
	BuildingTimeUnknown   Gap = "building_time_unknown"    // of the steps besides handling the fill
	HandlingTimeUnknown   Gap = "handling_time_unknown"    // the fill has no known profile
	BuildAlphaUnknown     Gap = "build_absorption_unknown" // Built.Unabsorbed says why
	ReadyAlphaUnknown     Gap = "ready_made_absorption_unknown"
	ReadyBandsMissing     Gap = "ready_made_bands_missing"      // an octave that counts
	ReadyFaceUnknown      Gap = "ready_made_face_unknown"       // width and height
	ReadyAbsorbsTooLittle Gap = "ready_made_absorbs_too_little" // more than costing.MaxAsked panels
)

// Answer is the answer to a Question.
type Answer struct {
	Question Question
	Built    ranking.Costed
	// Panel is the stored ready-made panel, or what is known of the one described.
	Panel  catalog.ReadyMadePanel
	Stored bool
	Time   Time
	// Tools is the price of those that must be bought, nil when one of them has none; Resale
	// what these can be sold for.
	Tools      *money.Amount
	Resale     money.Amount
	EqualCount Comparison
	// EqualAbsorption compares with as many ready-made panels as absorb at least as much; nil
	// when that cannot be told.
	EqualAbsorption *Comparison
	Match           *Match
	Gaps            []Gap // in the order of their list, each once
	Suppliers       []catalog.Supplier
	Rates           []catalog.ExchangeRate // by which prices were converted
	Sources         []catalog.Source
}

// Time is what building takes, line by line.
type Time struct {
	Lines []handling.Line
	// Known is false when part of it is not known: then Total is the rest, and building takes
	// at least that.
	Known bool
	Total units.Minutes
}

// Comparison sets the built panels against a number of ready-made ones.
type Comparison struct {
	Built  int
	Bought Bought
	// Sums, Savings and Recovery are there when both sides have a full price, and Recovery
	// when the tools have one.
	Sums     *Sums
	Savings  []Saving
	Recovery *Recovery
	// Labour is what the time is worth and AfterLabour what building saves in cash after tools
	// and labour; nil without a value of the hour, or when one of them is not known.
	Labour, AfterLabour *money.Amount
	// AtMost is what building saves in cash at most, when only something of the build has no
	// price: then it costs at least what is known of it.
	AtMost *money.Amount
}

// Bought is what ready-made panels cost.
type Bought struct {
	Panels int            // that are needed
	Count  int            // that are bought
	Asked  *costing.Asked // at an asking price
	Cost   *costing.Cost  // at the offers of the catalog
	// Cheaper is a larger number that costs less at the asking price, where there is one.
	Cheaper *costing.Asked
	// Total is nil without a price; Leftovers is the value of panels beyond the need.
	Total     *money.Amount
	Leftovers money.Amount
}

// curveLabels is the limit of the search for each number of ready-made panels. Convention.
const curveLabels = 100_000

// For answers a question. The error is a *catalog.InvalidError when the
// question is not valid, names a record that is not there, or a build that cannot be.
func For(p *ranking.Prepared, q Question) (Answer, error) {
	s := p.Snapshot()
	if err := q.Validate(); err != nil {
		return Answer{}, err
	}
	a := Answer{Question: q}
	if err := a.find(s); err != nil {
		return Answer{}, err
	}
	if hour := q.Labour.ValueOfHour; hour != nil {
		q.Build.Brief.Handling.ValueOfHour = hour
	}
	var err error
	if a.Built, err = p.PriceOf(q.Build); err != nil {
		return Answer{}, below("/build", err)
	}
	terms := q.Build.Brief.Terms
	a.Tools, a.Resale = ToolSums(q.Tools, terms.Currency)
	a.Time = timeOf(q.Labour, a.Built.Option().Burden, q.Build.Brief.PanelCount)
	a.match()
	d := dealer{price: q.Rival.Price, panel: a.Panel, market: costing.NewMarket(s, terms), tax: terms.Tax, known: map[int]Bought{}}
	panels := q.Build.Brief.PanelCount
	a.EqualCount = a.compare(&d, func(built int) int { return built })
	if m := a.Match; m != nil && m.Count <= costing.MaxAsked {
		equal := a.compare(&d, func(built int) int { return m.countFor(built, panels) })
		a.EqualAbsorption = &equal
	}
	a.Gaps = a.gaps()
	a.refer(s)
	return a, nil
}

// find looks up the ready-made panel.
func (a *Answer) find(s catalog.Snapshot) error {
	r := a.Question.Rival
	if r.Panel == "" {
		a.Panel = catalog.ReadyMadePanel{Width: r.Width, Height: r.Height, Alpha: r.Alpha}
		return nil
	}
	at := slices.IndexFunc(s.ReadyMade, func(p catalog.ReadyMadePanel) bool { return string(p.ID) == r.Panel || string(p.Slug) == r.Panel })
	if at < 0 {
		v := &catalog.Faults{}
		v.Add("/ready_made/panel", "unknown_reference", fmt.Sprintf("there is no ready-made panel %q", r.Panel), "use the id or the slug of a stored ready-made panel, or describe one")
		return v.Err()
	}
	a.Panel, a.Stored = s.ReadyMade[at], true
	return nil
}

// timeOf lists what building takes.
//
//	minutes = setup + panels · minutes of a panel, and the burden's minutes where these stand apart
//
// Source: costing_problem.md section 8; handling.md section 3 for the minutes of the burden.
// They alone are not the time of building: frame, fabric and assembly take time with any fill.
func timeOf(l Labour, b handling.Burden, panels int) Time {
	t := Time{Known: l.PerPanel != nil}
	own := func(name, formula string, minutes float64, inputs ...handling.Input) {
		t.Lines = append(t.Lines, handling.Line{Name: name, Formula: formula, Inputs: inputs, Quantity: minutes, Unit: "min", Evidence: handling.ByUser})
	}
	if l.PerPanel != nil {
		own("setup", "setup", float64(l.Setup), handling.Input{Name: "setup", Value: float64(l.Setup), Unit: "min"})
		own("building", "panels × minutes_of_a_panel", float64(panels)*float64(*l.PerPanel),
			handling.Input{Name: "panels", Value: float64(panels)}, handling.Input{Name: "minutes_of_a_panel", Value: float64(*l.PerPanel), Unit: "min"})
	} else if l.Setup > 0 {
		own("setup", "setup", float64(l.Setup), handling.Input{Name: "setup", Value: float64(l.Setup), Unit: "min"})
	}
	if l.HandlingApart || l.PerPanel == nil {
		t.Known = t.Known && b.Known
		t.Lines = append(t.Lines, b.Lines...)
	}
	t.Total = handling.Sum(t.Lines)
	return t
}

// compare sets the built panels against ready-made ones; count says how many of these stand
// against a number of built ones.
func (a *Answer) compare(d *dealer, count func(built int) int) Comparison {
	brief, cost := a.Question.Build.Brief, a.Built.Option().Cost
	c := Comparison{Built: brief.PanelCount, Bought: d.sell(count(brief.PanelCount))}
	if c.Bought.Total == nil {
		return c
	}
	if p := d.price; p != nil {
		if more, ok := p.Cheaper(c.Bought.Panels, d.tax); ok {
			c.Bought.Cheaper = &more
		}
	}
	if cost.Total == nil {
		most := c.Bought.Total.Sub(cost.AtLeast)
		c.AtMost = &most
		return c
	}
	c.Sums = &Sums{Ready: *c.Bought.Total, Cash: *cost.Total, Replacement: cost.Replacement, Leftovers: cost.LeftoverValue,
		ReadyLeftovers: c.Bought.Leftovers, Tools: a.Tools, Resale: a.Resale}
	if a.Time.Known {
		c.Sums.Time = &a.Time.Total
	}
	c.Savings = c.Sums.Savings()
	if hour := a.Built.Result.Brief.Handling.ValueOfHour; hour != nil {
		if labour, saving, ok := c.Sums.AfterLabour(*hour); ok {
			c.Labour, c.AfterLabour = &labour, &saving
		}
	}
	if a.Tools != nil {
		var gains []*money.Amount
		for _, p := range a.Built.Curve {
			var gain *money.Amount
			if n := count(p.Panels); p.Total != nil && n <= costing.MaxAsked {
				if ready := d.sell(n).Total; ready != nil {
					saved := ready.Sub(*p.Total)
					gain = &saved
				}
			}
			if gains = append(gains, gain); gain == nil {
				break
			}
		}
		r := RecoveryOf(*a.Tools, c.Sums.Ready.Sub(c.Sums.Cash), brief.PanelCount, gains)
		c.Recovery = &r
	}
	return c
}

// dealer tells what ready-made panels cost; what it was asked it remembers.
type dealer struct {
	price  *costing.AskingPrice
	panel  catalog.ReadyMadePanel
	market *costing.Market
	tax    costing.TaxBasis
	known  map[int]Bought
}

func (d *dealer) sell(n int) Bought {
	b, ok := d.known[n]
	if !ok {
		b = d.work(n)
		d.known[n] = b
	}
	return b
}

func (d *dealer) work(n int) Bought {
	if d.price != nil {
		asked := d.price.For(n, d.tax)
		return Bought{Panels: n, Count: n, Asked: &asked, Total: &asked.Total, Leftovers: money.Zero(asked.Total.Currency())}
	}
	cost := d.market.ReadyMade(d.panel, n, curveLabels)
	b := Bought{Panels: n, Cost: &cost, Total: cost.Total, Leftovers: cost.LeftoverValue}
	for _, l := range cost.Lines {
		b.Count += int(math.Round(l.PackSize)) * l.Packs
	}
	return b
}

// gaps lists what is not known.
func (a *Answer) gaps() []Gap {
	var list []Gap
	add := func(missing bool, g Gap) {
		if missing {
			list = append(list, g)
		}
	}
	o := a.Built.Option()
	add(o.Cost.Total == nil, BuildPriceMissing)
	add(o.Cost.Total != nil && o.Cost.Replacement == nil, StockValueUnknown)
	add(a.EqualCount.Bought.Total == nil || a.EqualAbsorption != nil && a.EqualAbsorption.Bought.Total == nil, ReadyPriceMissing)
	add(a.Tools == nil, ToolPriceUnknown)
	add(a.Question.Labour.PerPanel == nil, BuildingTimeUnknown)
	add((a.Question.Labour.PerPanel == nil || a.Question.Labour.HandlingApart) && !o.Burden.Known, HandlingTimeUnknown)
	add(a.Built.Unabsorbed != "", BuildAlphaUnknown)
	for _, g := range a.rivalGaps() {
		add(true, g)
	}
	return list
}

// refer lists the suppliers, exchange rates and sources of the answer: those of the build, those of the
// ready-made panel and of its orders.
func (a *Answer) refer(s catalog.Snapshot) {
	used := map[catalog.ID]bool{}
	for _, r := range a.Built.Result.Sources {
		used[r.ID] = true
	}
	for _, r := range a.Built.Result.Rates {
		used[r.ID] = true
	}
	for _, r := range a.Built.Result.Suppliers {
		used[r.ID] = true
	}
	if a.Stored {
		used[a.Panel.SourceID], used[a.Panel.AlphaSourceID] = true, true
		if a.Panel.Mass != nil {
			used[a.Panel.Mass.SourceID] = true
		}
		for _, f := range a.Panel.Fire {
			used[f.SourceID] = true
		}
	}
	see := func(c *costing.Cost) {
		if c == nil {
			return
		}
		for _, l := range c.Lines {
			used[l.PriceSourceID] = true
		}
		for _, r := range c.Rates() {
			used[r.ID], used[r.SourceID] = true, true
		}
		for _, o := range c.Orders {
			used[o.Supplier.ID] = true
		}
	}
	see(a.EqualCount.Bought.Cost)
	if a.EqualAbsorption != nil {
		see(a.EqualAbsorption.Bought.Cost)
	}
	for _, r := range s.Rates {
		if used[r.ID] {
			a.Rates = append(a.Rates, r)
		}
	}
	for _, r := range s.Suppliers {
		if used[r.ID] {
			a.Suppliers = append(a.Suppliers, r)
		}
	}
	for _, r := range s.Sources {
		if used[r.ID] {
			a.Sources = append(a.Sources, r)
		}
	}
}
