// Package ranking answers the main question: for so many panels of this design, which
// fill under which fabric gives the most absorption for the money and the least
// trouble, what of everything possible was left out, and why.
//
// The answer is a pure function of a snapshot of the catalog and a Brief: nothing is read
// and no clock asked, so equal questions of equal catalogs have equal answers. Prepare
// makes a snapshot ready for questions, and remembers what they share.
//
// Every (fill in a sold thickness, number of layers, air gap, fabric) is a candidate.
// It becomes an Option with a place when its absorption is known and all that it
// needs has a price; without a full price it stands in NotPriced; otherwise in
// LeftOut with the reason. Nothing vanishes. Where the brief names its Options by their
// keys, these are all candidates there are.
//
// Simplifications of this version: absorption counts in octaves; the ranked
// coefficient is min(value, 1.00); the bounds of the coefficients are told and do
// not change the order.
package ranking

import (
	"slices"

	"sabinbook/internal/absorption"
	"sabinbook/internal/bands"
	"sabinbook/internal/buying"
	"sabinbook/internal/catalog"
	"sabinbook/internal/costing"
	"sabinbook/internal/handling"
	"sabinbook/internal/needs"
	"sabinbook/internal/panels"
	"sabinbook/internal/ratings"
	"sabinbook/internal/rooms"
	"sabinbook/internal/units"
)

// ModelVersion names the computation; it changes whenever an answer to an equal question
// may change.
const ModelVersion = "5"

// Result is the answer to a Brief.
type Result struct {
	Brief           Brief // as it was used, with every default filled in
	CatalogRevision int64
	Considered      int      // candidates
	Priced          int      // options with a place
	Options         []Option // the first Brief.Limit of them
	Unpriced        int      // options without a full price
	NotPriced       []Option // the first Brief.Limit of them, in the order of their keys
	LeftOut         []LeftOut
	Why             []Why                  // for each key of Brief.Why
	Suppliers       []catalog.Supplier     // of the orders of all options in the answer
	Rates           []catalog.ExchangeRate // by which prices of these options were converted
	Sources         []catalog.Source       // on which the options in the answer rest
}

// Option is one way to build the panels.
type Option struct {
	Place int // from 1 among what Show shows, 0 without a full price
	// OtherBuilds counts the priced options with the same fill that Show hides behind this one.
	OtherBuilds int
	Build       panels.Build
	Panels      int // how many are built
	Absorption  absorption.Estimate
	Openness    absorption.Openness // of the fabric
	Octaves     [bands.OctaveCount]Octave
	Alpha       float64    // ranked coefficient weighted by the purpose
	Area        units.Area // absorption area of all panels weighted by the purpose
	Rating      ratings.Rating
	Cost        costing.Cost
	Burden      handling.Burden
	Sources     []catalog.ID
	// BeatenBy is the key of an option in the answer that is no worse in absorption, cost and
	// minutes and better in one of them; empty for an option that none beats. When all options
	// are shown none beats it outside of the answer either, since whatever does stands before it.
	BeatenBy string
	Room     *rooms.Answer // with the panels of the option; nil without a room
	Likely   *Likely       // nil without draws and for an option without a place
}

// Octave is the absorption in one octave. Where the octave is not Known the rest is 0; that
// happens only in octaves which do not count for the purpose.
type Octave struct {
	Known  bool
	Raw    float64 // as estimated
	Low    float64 // bounds of Raw
	High   float64
	Ranked float64    // min(Raw, 1)
	Area   units.Area // of all panels, from Ranked
}

// Key names the option by what it is made of, the same in every catalog with these slugs.
func (o Option) Key() string {
	b := o.Build
	return candidateKey(b.Fill.Slug, b.Thickness, b.Layers, b.AskedGap, b.Fabric.Slug)
}

// PerCurrencyUnit returns square metres of absorption for one unit of the currency, or 0
// without a full price or when everything is had for nothing.
func (o Option) PerCurrencyUnit() float64 {
	if o.Cost.Total == nil || o.Cost.Total.IsZero() {
		return 0
	}
	return areaPerCost(o.Area, o.Cost.Total.Micro())
}

// Reason says why a candidate is in no list of options. Reasons of absorption are used as they are.
type Reason string

// Reasons of the ranking itself.
const (
	NotSold         Reason = "no_sold_thickness" // the fill has no size with a thickness, or is sold loose
	NoFrame         Reason = "no_frame_timber"
	BandsMissing    Reason = "bands_missing" // an octave that counts is not known
	LargerThanPanel Reason = "frame_too_thick"
	BeyondTarget    Reason = "target_out_of_reach" // no number of panels that the room holds reaches it
)

// LeftOut is a candidate, or all candidates that share its fields, that cannot be an option.
// Empty fields mean "any".
type LeftOut struct {
	Reason    Reason
	Fill      catalog.Meta
	Fabric    catalog.Meta
	Thickness units.Length
	Layers    int
	AskedGap  units.Length
	HasGap    bool
	Count     int // candidates that it stands for
}

// Rank answers the brief. The error is a *catalog.InvalidError when the brief is not valid or
// names a record that the snapshot does not have.
func (p *Prepared) Rank(brief Brief) (Result, error) {
	if err := brief.Validate(); err != nil {
		return Result{}, err
	}
	chosen, fabrics, err := brief.Chosen(p.snapshot)
	if err != nil {
		return Result{}, err
	}
	brief = brief.forRoom()
	r := newRanker(p, brief)
	r.labels = rankedLabels
	if brief.CountFrom == FromRoom {
		r.shortfall = brief.inRoom(nil).Shortfall()
	}
	c := r.candidates(chosen, fabrics)
	c.floors(r, r.market.Floors(), true)
	res := Result{Brief: brief, CatalogRevision: p.snapshot.Revision, Considered: c.considered, Priced: c.priced, Unpriced: len(c.unpriced)}
	res.Options = r.best(c)
	res.Priced -= c.dear()
	res.LeftOut = c.leftOut
	r.judge(res.Options)
	for i := range res.Options {
		res.Options[i].Room = brief.room(&res.Options[i])
	}
	for _, i := range c.unpriced[:min(len(c.unpriced), brief.Limit)] {
		o, _ := r.option(c.build(i), c.stands[c.list[i].stand].panels)
		res.NotPriced = append(res.NotPriced, o)
	}
	res.Why = r.why(c, res)
	res.cite(p.snapshot)
	return res, nil
}

// newRanker returns a ranker that has looked at nothing yet.
func newRanker(p *Prepared, brief Brief) *ranker {
	r := &ranker{brief: brief, prepared: p, market: p.marketOn(brief.Terms), labels: buying.DefaultLabelLimit}
	r.estimator = r.newEstimator()
	r.stockParts(p.snapshot.Parts)
	return r
}

func (r *ranker) newEstimator() *absorption.Estimator {
	tests := r.prepared.snapshot.Tests
	if r.brief.Basis == ModelBasis {
		tests = nil
	}
	estimator, err := absorption.NewEstimator(tests, absorption.StandardConditions())
	if err != nil {
		panic("ranking: the recommended conditions are valid: " + err.Error())
	}
	return estimator
}

// rankedLabels is the limit of the search for the plan of one option, of which a ranking works
// out hundreds. It is reached from about a dozen suppliers on; then the bound says what the
// plan could be missed by. CostOf searches further. Convention.
const rankedLabels = 10_000

type ranker struct {
	brief     Brief
	prepared  *Prepared
	market    *costing.Market
	estimator *absorption.Estimator
	timbers   []catalog.Part // for frames, all of them
	buyable   []catalog.Part // those with a price, or all when frames are owned
	hangers   map[catalog.ID]catalog.Part
	labels    int             // limit of the search for a plan
	shortfall rooms.Shortfall // where the number of panels comes from the room
}

// stockParts sorts out the parts that the ranking itself looks at: frame timbers, with those
// that can be had apart, and hangers by their id.
func (r *ranker) stockParts(parts []catalog.Part) {
	owned := slices.Contains(r.brief.Terms.Owned, catalog.FrameTimber)
	r.hangers = map[catalog.ID]catalog.Part{}
	for _, p := range parts {
		switch p.Role {
		case catalog.Hanger:
			r.hangers[p.ID] = p
		case catalog.FrameTimber:
			r.timbers = append(r.timbers, p)
			if owned || r.market.HasPrice(catalog.PartItem, p.ID) || r.market.HasStock(catalog.PartItem, p.ID) {
				r.buyable = append(r.buyable, p)
			}
		}
	}
}

// assemble puts a panel together with a timber that can be had, and only where none fits with
// any other: then the frame is what has no price.
func (r *ranker) assemble(fill catalog.Fill, thickness units.Length, layers int, gap units.Length, fabric catalog.Fabric) (panels.Build, bool) {
	if b, ok := panels.Assemble(r.brief.Design, fill, thickness, layers, gap, fabric, r.buyable); ok {
		return b, true
	}
	return panels.Assemble(r.brief.Design, fill, thickness, layers, gap, fabric, r.timbers)
}

// hollow reports whether the frame leaves room inside.
func hollow(b panels.Build) bool {
	_, width, height := b.Bays()
	return width > 0 && height > 0
}

// option works out everything about so many panels of one build, or says why it is none.
func (r *ranker) option(b panels.Build, count int) (Option, Reason) {
	if !hollow(b) {
		return Option{}, LargerThanPanel
	}
	sample, why := b.Sample()
	if why != "" {
		return Option{}, Reason(why)
	}
	a, why := r.estimator.Estimate(sample)
	if why != "" {
		return Option{}, Reason(why)
	}
	o := Option{Build: b, Panels: count, Absorption: a}
	o.Openness, _ = absorption.OpennessOf(b.Fabric)
	if !o.count(r.brief) {
		return Option{}, BandsMissing
	}
	o.Rating = ratings.Rate(a.Curve())
	r.price(&o)
	return o, ""
}

// price works out what a build costs and what it asks of the builder.
func (r *ranker) price(o *Option) {
	b := o.Build
	o.Burden = handling.For(b, o.Panels, r.brief.Handling)
	o.Cost = r.market.CostWithin(needs.For(b, o.Panels, o.Burden), r.labels)
	o.Sources = o.sources()
	for _, l := range o.Cost.Lines {
		if l.Role == catalog.Hanger && (r.hangers[l.ItemID].WorkingLoad == nil || !o.Burden.MassKnown) {
			o.Burden.Cautions = append(o.Burden.Cautions, handling.HangerUnknown)
		}
	}
}

// count fills in octaves and areas and reports false when an octave that counts is unknown.
func (o *Option) count(brief Brief) bool {
	face := brief.Design.Face() * units.Area(o.Panels)
	for i, weight := range brief.Purpose.Weights {
		octaves, band := o.Absorption.Octaves, bands.OctaveBand(i)
		raw, known := octaves.Value.At(band)
		if !known {
			if weight > 0 {
				return false
			}
			continue
		}
		ranked := min(raw, 1)
		low, _ := octaves.Low.At(band)
		high, _ := octaves.High.At(band)
		o.Octaves[i] = Octave{true, raw, low, high, ranked, face * units.Area(ranked)}
		o.Alpha += weight * ranked
	}
	o.Area = face * units.Area(o.Alpha)
	return true
}

// sources lists the sources on which the option rests, each once, in ascending order.
func (o Option) sources() []catalog.ID {
	b := o.Build
	ids := slices.Clone(o.Absorption.Sources)
	ids = append(ids, sourcesOf(b)...)
	for _, d := range slices.Concat(b.Fill.Fire, b.Fabric.Fire) {
		ids = append(ids, d.SourceID)
	}
	for _, l := range o.Cost.Lines {
		ids = append(ids, l.PriceSourceID)
	}
	for _, r := range o.Cost.Rates() {
		ids = append(ids, r.SourceID)
	}
	slices.Sort(ids)
	return slices.DeleteFunc(slices.Compact(ids), func(id catalog.ID) bool { return id == "" })
}

func soldThicknesses(f catalog.Fill) []units.Length {
	if f.Form == catalog.Loose {
		return nil
	}
	var list []units.Length
	for _, s := range f.SoldSizes {
		list = append(list, s.Thickness)
	}
	slices.Sort(list)
	return slices.Compact(list)
}

// cite lists the suppliers, exchange rates and sources of the options in the answer, in the order of the
// snapshot.
func (r *Result) cite(s catalog.Snapshot) {
	used := map[catalog.ID]bool{}
	shown := slices.Concat(r.Options, r.NotPriced)
	for _, w := range r.Why {
		if w.Option != nil {
			shown = append(shown, *w.Option)
		}
	}
	for _, o := range shown {
		for _, id := range o.Sources {
			used[id] = true
		}
		for _, rate := range o.Cost.Rates() {
			used[rate.ID] = true
		}
		for _, order := range o.Cost.Orders {
			used[order.Supplier.ID] = true
		}
	}
	for _, source := range s.Sources {
		if used[source.ID] {
			r.Sources = append(r.Sources, source)
		}
	}
	for _, rate := range s.Rates {
		if used[rate.ID] {
			r.Rates = append(r.Rates, rate)
		}
	}
	for _, supplier := range s.Suppliers {
		if used[supplier.ID] {
			r.Suppliers = append(r.Suppliers, supplier)
		}
	}
}
