package ranking

import (
	"regexp"
	"slices"
	"strconv"

	"sabinbook/internal/absorption"
	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
	"sabinbook/internal/costing"
	"sabinbook/internal/money"
)

// Found says where a candidate that was asked about is.
type Found string

// Where a candidate can be.
const (
	Ranked   Found = "ranked"       // among the options that are shown
	Hidden   Found = "behind_shown" // it has a full price, and stands behind those that are shown
	NoPrice  Found = "not_priced"
	Excluded Found = "left_out"
	Nowhere  Found = "no_candidate" // the question looks at nothing of this key
)

// Why tells how a candidate came to where it is.
type Why struct {
	Key    string
	Found  Found
	Reason Reason  // of Excluded
	Option *Option // nil for Excluded and Nowhere
	// Criterion is what options are ordered by, with every step down to stored figures; nil where
	// there is none, without a full price.
	Criterion *Step
	Burden    *Step // of the extra minutes; nil where they are not known
	// Before is the option that stands next in front, and After the next behind; nil where there is
	// none, or for Before of a Hidden candidate the last that is shown.
	Before, After *Neighbour
}

// Neighbour is an option that stands next to another, with what it is ordered by.
type Neighbour struct {
	Key   string
	Value float64
}

// How says how the value of a step follows from those of the steps below it.
type How string

// The ways.
const (
	Sum       How = "sum"
	Product   How = "product"
	Quotient  How = "quotient"  // the first by the second
	AtMost    How = "at_most"   // the first, at most the second
	Carried   How = "carried"   // the first times the ratio of the second to the third, which counts as 0.25 to 4; at most 1
	Exchanged How = "exchanged" // the first by the exchange rate, rounded once
	Taxed     How = "taxed"     // packs times price with the tax of the offer, rounded once
	Modelled  How = "modelled"  // by the model of absorption, from the figures below
	Chosen    How = "chosen"    // in the plan that costs least
	ByRule    How = "by_rule"   // by the supplier's rule of delivery or the way there
	Counted   How = "counted"   // as many as bring the room within its target
	Stored    How = "stored"    // a figure of the catalog
	AskedFor  How = "asked"     // of the question, or its default
)

// Step is a figure and how it came about. Value is in Unit; of money, Amount is exact.
type Step struct {
	Name    string // code
	How     How
	Value   float64
	Unit    string
	Amount  *money.Amount
	Of      []Step
	Record  catalog.Meta // what a stored figure or a choice belongs to
	Sources []catalog.ID
	Detail  string // code that goes with How: a basis, a mode, a date
}

// why answers for every key that was asked about.
func (r *ranker) why(c *candidates, res Result) []Why {
	out := make([]Why, len(r.brief.Why))
	for i, key := range r.brief.Why {
		out[i] = r.whyOne(c, res, key)
	}
	return out
}

func (r *ranker) whyOne(c *candidates, res Result, key string) Why {
	w := Why{Key: key, Found: Nowhere}
	value := func(o Option) *Neighbour { return &Neighbour{o.Key(), r.criterion(o).Value} }
	if i := slices.IndexFunc(res.Options, func(o Option) bool { return o.Key() == key }); i >= 0 {
		w.Found, w.Option = Ranked, &res.Options[i]
		if i > 0 {
			w.Before = value(res.Options[i-1])
		}
		if i+1 < len(res.Options) {
			w.After = value(res.Options[i+1])
		}
	} else if i := slices.IndexFunc(c.list, func(k candidate) bool { return r.keyOf(c, k) == key }); i >= 0 {
		o, _ := r.option(c.build(i), c.stands[c.list[i].stand].panels)
		w.Option = &o
		limit := r.brief.Limits.Budget
		switch {
		case o.Cost.Total == nil:
			w.Found = NoPrice
		case limit != nil && o.Cost.Total.Cmp(*limit) > 0:
			return Why{Key: key, Found: Excluded, Reason: OverBudget}
		default:
			w.Found = Hidden
			if n := len(res.Options); n > 0 {
				w.Before = value(res.Options[n-1])
			}
		}
	} else if l, ok := c.leftOutAs(key); ok && r.asked(key) {
		w.Found, w.Reason = Excluded, l.Reason
	}
	if w.Option == nil {
		return w
	}
	if w.Option.Cost.Total != nil {
		s := r.criterion(*w.Option)
		w.Criterion = &s
	}
	if w.Option.Burden.Known {
		s := burdenStep(*w.Option)
		w.Burden = &s
	}
	return w
}

// asked reports whether the question looks at what a key may name.
func (r *ranker) asked(key string) bool {
	return len(r.brief.Options) == 0 || slices.Contains(r.brief.Options, key)
}

func (r *ranker) keyOf(c *candidates, k candidate) string {
	b := c.stands[k.stand].build
	b.Fabric = c.fabrics[k.fabric]
	return Option{Build: b}.Key()
}

// keyParts takes a key apart: fill, thickness, layers, gap, fabric. Slugs have no dots.
var keyParts = regexp.MustCompile(`^([a-z0-9-]+)\.([0-9.]+)x([0-9]+)\.gap-([0-9.]+)\.([a-z0-9-]+)$`)

// leftOutAs finds what was left out that a key belongs to.
func (c *candidates) leftOutAs(key string) (LeftOut, bool) {
	part := keyParts.FindStringSubmatch(key)
	if part == nil {
		return LeftOut{}, false
	}
	thickness, _ := strconv.ParseFloat(part[2], 64)
	layers, _ := strconv.Atoi(part[3])
	gap, _ := strconv.ParseFloat(part[4], 64)
	known := slices.ContainsFunc(c.fabrics, func(f catalog.Fabric) bool { return string(f.Slug) == part[5] })
	i := slices.IndexFunc(c.leftOut, func(l LeftOut) bool {
		return known && string(l.Fill.Slug) == part[1] && (l.Thickness == 0 || float64(l.Thickness) == thickness && l.Layers == layers) &&
			(!l.HasGap || float64(l.AskedGap) == gap) && (l.Fabric.Slug == "" || string(l.Fabric.Slug) == part[5])
	})
	if i < 0 {
		return LeftOut{}, false
	}
	return c.leftOut[i], true
}

// criterion is what the brief orders options by. The option has a full price.
func (r *ranker) criterion(o Option) Step {
	switch r.brief.Order {
	case ByCost, ByCostToTarget:
		return totalStep(o)
	case ByAbsorption:
		return r.areaStep(o)
	case ByBurden:
		if o.Burden.Known {
			return burdenStep(o)
		}
		return Step{Name: "minutes_unknown", How: Stored, Record: o.Build.Fill.Meta}
	}
	return Step{Name: "area_per_cost", How: Quotient, Value: o.PerCurrencyUnit(), Unit: "m2/" + string(r.brief.Terms.Currency), Of: []Step{r.areaStep(o), totalStep(o)}}
}

// areaStep is the absorption area that counts.
func (r *ranker) areaStep(o Option) Step {
	d := r.brief.Design
	face := Step{Name: "face", How: Product, Value: float64(d.Face()), Unit: "m2", Of: []Step{
		{Name: "width", How: AskedFor, Value: d.Width.Metres(), Unit: "m"}, {Name: "height", How: AskedFor, Value: d.Height.Metres(), Unit: "m"}}}
	panels := Step{Name: "panels", How: AskedFor, Value: float64(o.Panels)}
	if r.brief.CountFrom == FromRoom {
		panels.How = Counted
	}
	alpha := Step{Name: "weighted_alpha", How: Sum, Value: o.Alpha, Detail: string(r.brief.Purpose.Name)}
	for i, weight := range r.brief.Purpose.Weights {
		oct := o.Octaves[i]
		if weight == 0 || !oct.Known {
			continue
		}
		hz := strconv.Itoa(bands.OctaveBand(i).Nominal())
		ranked := Step{Name: "ranked_alpha_" + hz, How: AtMost, Value: oct.Ranked, Of: []Step{o.rawStep(i), {Name: "full_absorption", How: AskedFor, Value: 1}}}
		alpha.Of = append(alpha.Of, Step{Name: "octave_" + hz, How: Product, Value: float64(weight * oct.Ranked), Of: []Step{
			{Name: "weight_" + hz, How: AskedFor, Value: weight, Detail: string(r.brief.Purpose.Name)}, ranked}})
	}
	return Step{Name: "absorption_area", How: Product, Value: float64(o.Area), Unit: "m2", Of: []Step{face, panels, alpha}}
}

// rawStep is the coefficient in an octave, as it was estimated.
func (o Option) rawStep(i int) Step {
	a, band := o.Absorption, bands.OctaveBand(i)
	out := Step{Name: "alpha_" + strconv.Itoa(band.Nominal()), Value: o.Octaves[i].Raw, Detail: string(a.Basis)}
	var test Step
	if a.Test != nil {
		value, _ := a.Test.Alpha.InOctaves().At(band)
		test = Step{Name: "tested_alpha", How: Stored, Value: value, Record: a.Test.Meta, Sources: []catalog.ID{a.Test.SourceID}}
	}
	switch a.Basis {
	case absorption.Measured:
		test.Name, test.Detail = out.Name, out.Detail
		return test
	case absorption.Adapted:
		sample, _ := a.Model.Sample.At(band)
		tested, _ := a.Model.Tested.At(band)
		out.How, out.Of = Carried, []Step{test, {Name: "model_of_panel", How: Modelled, Value: sample, Of: o.modelled()}, {Name: "model_of_specimen", How: Modelled, Value: tested, Record: a.Test.Meta}}
	default:
		out.How, out.Of = Modelled, o.modelled()
	}
	return out
}

// modelled lists the figures that the model of absorption takes.
func (o Option) modelled() []Step {
	b := o.Build
	out := []Step{{Name: "fill_depth", How: AskedFor, Value: float64(b.FillDepth()), Unit: "mm"}, {Name: "air_gap", How: AskedFor, Value: float64(b.AirGap), Unit: "mm"}}
	if s := b.Fill.Resistivity; s != nil {
		out = append(out, Step{Name: "airflow_resistivity", How: Stored, Value: float64(s.Value), Unit: "Pa s/m2", Record: b.Fill.Meta, Sources: []catalog.ID{s.SourceID}, Detail: string(s.Evidence)})
	} else if d := b.Fill.Density; d != nil {
		out = append(out, Step{Name: "density", How: Stored, Value: float64(d.Value), Unit: "kg/m3", Record: b.Fill.Meta, Sources: []catalog.ID{d.SourceID}, Detail: string(d.Evidence)})
	}
	return append(out, Step{Name: "fabric_flow_resistance", How: Stored, Value: float64(o.Openness.Value), Unit: "Pa s/m", Record: b.Fabric.Meta, Sources: []catalog.ID{b.Fabric.SourceID}})
}

func amountStep(name string, how How, a money.Amount, of ...Step) Step {
	return Step{Name: name, How: how, Value: float64(a.Micro()) / 1e6, Unit: string(a.Currency()), Amount: &a, Of: of}
}

// totalStep is the cost, order by order and line by line.
func totalStep(o Option) Step {
	var orders []Step
	for _, order := range o.Cost.Orders {
		var lines []Step
		for _, l := range o.Cost.Lines {
			if !l.Owned && l.Supplier.ID == order.Supplier.ID {
				lines = append(lines, lineStep(l))
			}
		}
		goods := amountStep("goods", Sum, order.Goods, lines...)
		fee := amountStep("fee", ByRule, order.Fee)
		fee.Detail, fee.Record = string(order.Mode), order.Supplier
		sum := amountStep("order", Sum, order.Goods.Add(order.Fee), goods, fee)
		sum.Record = order.Supplier
		orders = append(orders, sum)
	}
	return amountStep("total", Sum, *o.Cost.Total, orders...)
}

// lineStep is what one thing costs: so many packs at the price that somebody saw.
func lineStep(l costing.Line) Step {
	item := catalog.Meta{ID: l.ItemID, Slug: l.Slug, Name: l.Name}
	price := amountStep("price", Stored, l.UnitPrice)
	price.Record, price.Sources, price.Detail = l.Offer, []catalog.ID{l.PriceSourceID}, string(l.PriceDate)
	if c := l.Conversion; c != nil {
		listed := amountStep("listed_price", Stored, c.Listed)
		listed.Record, listed.Sources, listed.Detail = price.Record, price.Sources, price.Detail
		rate, _ := strconv.ParseFloat(string(c.Rate.Rate), 64)
		by := Step{Name: "exchange_rate", How: Stored, Value: rate, Unit: string(c.Rate.To) + "/" + string(c.Rate.From), Record: c.Rate.Meta, Sources: []catalog.ID{c.Rate.SourceID}, Detail: string(c.Rate.Observed)}
		price.How, price.Record, price.Sources, price.Of = Exchanged, catalog.Meta{}, nil, []Step{listed, by}
	}
	packs := Step{Name: "packs", How: Chosen, Value: float64(l.Packs), Record: item, Of: []Step{
		{Name: "needed", How: AskedFor, Value: l.Needed, Unit: l.Unit, Detail: l.Formula}, {Name: "pack", How: Stored, Value: l.PackSize, Unit: l.Unit, Record: l.Offer}}}
	how := Taxed
	if l.UnitPrice.Times(int64(l.Packs)).Cmp(l.Gross) == 0 {
		how = Product
	}
	out := amountStep("line", how, l.Gross, packs, price)
	out.Record, out.Detail = item, l.Need
	return out
}

// burdenStep is the extra minutes, line by line.
func burdenStep(o Option) Step {
	out := Step{Name: "extra_minutes", How: Sum, Value: float64(o.Burden.Total), Unit: "min", Record: o.Build.Fill.Meta, Detail: string(o.Build.Fill.Handling.Profile)}
	for _, l := range o.Burden.Lines {
		line := Step{Name: l.Name, How: Product, Value: l.Quantity, Unit: l.Unit, Detail: string(l.Evidence)}
		for _, in := range l.Inputs {
			line.Of = append(line.Of, Step{Name: in.Name, How: AskedFor, Value: in.Value, Unit: in.Unit, Detail: string(l.Evidence)})
		}
		out.Of = append(out.Of, line)
	}
	return out
}
