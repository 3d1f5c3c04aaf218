// Package ranking answers the main question: for so many panels of this design, which
// fill under which fabric gives the most absorption for the money and the least
// trouble, what of everything possible was left out, and why.
//
// Rank is a pure function of a snapshot of the catalog and a Brief: it reads nothing
// and asks no clock, so equal questions of equal catalogs have equal answers.
//
// Every (fill in a sold thickness, number of layers, air gap, fabric) is a candidate.
// It becomes an Option with a place when its absorption is known and all that it
// needs has a price; without a full price it stands in NotPriced; otherwise in
// LeftOut with the reason. Nothing vanishes.
//
// Simplifications of this version: absorption counts in octaves; the ranked
// coefficient is min(value, 1.00); the bounds of the coefficients are told and do
// not change the order.
package ranking

import (
	"cmp"
	"fmt"
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
	"sabinbook/internal/units"
)

// ModelVersion names the computation; it changes whenever an answer to an equal question
// may change.
const ModelVersion = "3"

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
	Suppliers       []catalog.Supplier // of the orders of all options in the answer
	Sources         []catalog.Source   // on which the options in the answer rest
}

// Option is one way to build the panels.
type Option struct {
	Place int // from 1, 0 without a full price
	// OtherBuilds counts the priced options with the same fill that Show hides behind this one.
	OtherBuilds int
	Build       panels.Build
	Absorption  absorption.Estimate
	Openness    absorption.Openness // of the fabric
	Octaves     [bands.OctaveCount]Octave
	Alpha       float64    // ranked coefficient weighted by the purpose
	Area        units.Area // absorption area of all panels weighted by the purpose
	Rating      ratings.Rating
	Cost        costing.Cost
	Burden      handling.Burden
	Sources     []catalog.ID
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
	return fmt.Sprintf("%s.%gx%d.gap-%g.%s", b.Fill.Slug, float64(b.Thickness), b.Layers, float64(b.AskedGap), b.Fabric.Slug)
}

// PerCurrencyUnit returns square metres of absorption for one unit of the currency, or 0
// without a full price or when everything is had for nothing.
func (o Option) PerCurrencyUnit() float64 {
	if o.Cost.Total == nil || o.Cost.Total.IsZero() {
		return 0
	}
	return float64(o.Area) / (float64(o.Cost.Total.Micro()) / 1e6)
}

// Reason says why a candidate is in no list of options. Reasons of absorption are used as they are.
type Reason string

// Reasons of the ranking itself.
const (
	NotSold         Reason = "no_sold_thickness" // the fill has no size with a thickness, or is sold loose
	NoFrame         Reason = "no_frame_timber"
	BandsMissing    Reason = "bands_missing" // an octave that counts is not known
	LargerThanPanel Reason = "frame_too_thick"
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

// Rank answers the brief from the snapshot. The error is a *catalog.InvalidError when the
// brief is not valid or names a record that the snapshot does not have.
func Rank(s catalog.Snapshot, brief Brief) (Result, error) {
	if err := brief.Validate(); err != nil {
		return Result{}, err
	}
	fills, fabrics, err := brief.chosen(s)
	if err != nil {
		return Result{}, err
	}
	r := newRanker(s, brief)
	r.labels = rankedLabels
	for _, fill := range fills {
		r.fill(fill, fabrics)
	}
	return r.result(s), nil
}

// newRanker returns a ranker over the snapshot that has looked at nothing yet.
func newRanker(s catalog.Snapshot, brief Brief) *ranker {
	estimator, err := absorption.NewEstimator(s.Tests, absorption.StandardConditions())
	if err != nil {
		panic("ranking: the recommended conditions are valid: " + err.Error())
	}
	r := &ranker{brief: brief, market: costing.NewMarket(s, brief.Terms), estimator: estimator, labels: buying.DefaultLabelLimit}
	r.stockParts(s.Parts)
	return r
}

// rankedLabels is the limit of the search for the plan of one option, of which a ranking has
// thousands. It is reached from about a dozen suppliers on; then the bound says what the
// plan could be missed by. CostOf searches further. Convention.
const rankedLabels = 10_000

type ranker struct {
	brief      Brief
	market     *costing.Market
	estimator  *absorption.Estimator
	timbers    []catalog.Part // for frames, all of them
	buyable    []catalog.Part // those with a price, or all when frames are owned
	hangers    map[catalog.ID]catalog.Part
	labels     int // limit of the search for a plan
	considered int
	priced     []Option
	unpriced   []Option
	leftOut    []LeftOut
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

// fill looks at all candidates with one fill.
func (r *ranker) fill(fill catalog.Fill, fabrics []catalog.Fabric) {
	each := len(fabrics)
	thicknesses := soldThicknesses(fill)
	if len(thicknesses) == 0 {
		r.leave(LeftOut{Reason: NotSold, Fill: fill.Meta, Count: 1})
		return
	}
	for _, thickness := range thicknesses {
		for layers := 1; layers <= r.brief.LayersMax; layers++ {
			for _, gap := range r.brief.AirGaps {
				out := LeftOut{Fill: fill.Meta, Thickness: thickness, Layers: layers, AskedGap: gap, HasGap: true, Count: each}
				if _, ok := r.assemble(fill, thickness, layers, gap, catalog.Fabric{}); !ok {
					out.Reason = NoFrame
					r.leave(out)
					continue
				}
				for _, fabric := range fabrics {
					b, _ := r.assemble(fill, thickness, layers, gap, fabric)
					out.Fabric, out.Count = fabric.Meta, 1
					r.build(b, out)
				}
			}
		}
	}
}

// build keeps what orders one build, or leaves it out.
func (r *ranker) build(b panels.Build, out LeftOut) {
	o, why := r.option(b)
	if why != "" {
		out.Reason = why
		r.leave(out)
		return
	}
	r.considered++
	// The answer shows few of thousands: the rest of the option is worked out again for those.
	o = Option{Build: b, Area: o.Area, Cost: costing.Cost{Total: o.Cost.Total}, Burden: handling.Burden{Known: o.Burden.Known, Total: o.Burden.Total}}
	if o.Cost.Total == nil {
		r.unpriced = append(r.unpriced, o)
	} else {
		r.priced = append(r.priced, o)
	}
}

// option works out everything about one build, or says why it is none.
func (r *ranker) option(b panels.Build) (Option, Reason) {
	if _, w, h := b.Bays(); w <= 0 || h <= 0 {
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
	o := Option{Build: b, Absorption: a}
	o.Openness, _ = absorption.OpennessOf(b.Fabric)
	if !o.count(r.brief) {
		return Option{}, BandsMissing
	}
	o.Rating = ratings.Rate(a.Curve())
	r.price(&o)
	return o, ""
}

// price works out what one build costs and what it asks of the builder.
func (r *ranker) price(o *Option) {
	b := o.Build
	o.Burden = handling.For(b, r.brief.PanelCount, r.brief.Handling)
	o.Cost = r.market.CostWithin(needs.For(b, r.brief.PanelCount, o.Burden), r.labels)
	o.Sources = o.sources()
	for _, l := range o.Cost.Lines {
		if l.Role == catalog.Hanger && (r.hangers[l.ItemID].WorkingLoad == nil || !o.Burden.MassKnown) {
			o.Burden.Cautions = append(o.Burden.Cautions, handling.HangerUnknown)
		}
	}
}

// whole returns the options with everything about them.
func (r *ranker) whole(list []Option) []Option {
	out := make([]Option, len(list))
	for i, o := range list {
		out[i], _ = r.option(o.Build)
		out[i].Place, out[i].OtherBuilds = o.Place, o.OtherBuilds
	}
	return out
}

// count fills in octaves and areas and reports false when an octave that counts is unknown.
func (o *Option) count(brief Brief) bool {
	face := brief.Design.Face() * units.Area(brief.PanelCount)
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
	ids = append(ids, b.Fill.SourceID, b.Fabric.SourceID, b.Frame.SourceID)
	if b.Fill.Density != nil {
		ids = append(ids, b.Fill.Density.SourceID)
	}
	if b.Fabric.SurfaceMass != nil {
		ids = append(ids, b.Fabric.SurfaceMass.SourceID)
	}
	if b.Frame.Density != nil {
		ids = append(ids, b.Frame.Density.SourceID)
	}
	for _, d := range slices.Concat(b.Fill.Fire, b.Fabric.Fire) {
		ids = append(ids, d.SourceID)
	}
	for _, l := range o.Cost.Lines {
		ids = append(ids, l.PriceSourceID)
	}
	slices.Sort(ids)
	return slices.DeleteFunc(slices.Compact(ids), func(id catalog.ID) bool { return id == "" })
}

// leave records what is left out; neighbours that differ only in the fabric become one.
func (r *ranker) leave(out LeftOut) {
	r.considered += out.Count
	if n := len(r.leftOut); n > 0 {
		last := r.leftOut[n-1]
		last.Fabric, last.Count = out.Fabric, out.Count
		if last == out && out.Reason != Reason(absorption.NoOpenness) {
			r.leftOut[n-1].Fabric = catalog.Meta{}
			r.leftOut[n-1].Count += out.Count
			return
		}
	}
	r.leftOut = append(r.leftOut, out)
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

// result puts everything into its order and cuts the lists to what was asked for.
func (r *ranker) result(s catalog.Snapshot) Result {
	slices.SortFunc(r.priced, func(a, b Option) int { return cmp.Or(r.brief.Order.compare(a, b), tie(a, b)) })
	slices.SortFunc(r.unpriced, tie)
	for i := range r.priced {
		r.priced[i].Place = i + 1
	}
	shown := r.priced
	if r.brief.Show == BestPerFill {
		shown = bestPerFill(r.priced)
	}
	res := Result{
		Brief: r.brief, CatalogRevision: s.Revision, Considered: r.considered,
		Priced: len(r.priced), Options: r.whole(shown[:min(len(shown), r.brief.Limit)]),
		Unpriced: len(r.unpriced), NotPriced: r.whole(r.unpriced[:min(len(r.unpriced), r.brief.Limit)]),
		LeftOut: r.leftOut,
	}
	res.refer(s)
	return res
}

// refer lists the sources and suppliers of the options in the answer.
func (res *Result) refer(s catalog.Snapshot) {
	used := map[catalog.ID]bool{}
	for _, o := range slices.Concat(res.Options, res.NotPriced) {
		for _, id := range o.Sources {
			used[id] = true
		}
		for _, order := range o.Cost.Orders {
			used[order.Supplier.ID] = true
		}
	}
	for _, source := range s.Sources {
		if used[source.ID] {
			res.Sources = append(res.Sources, source)
		}
	}
	for _, supplier := range s.Suppliers {
		if used[supplier.ID] {
			res.Suppliers = append(res.Suppliers, supplier)
		}
	}
}

// tie orders options that are alike in what is asked for: by the slugs of fill and fabric
// and the build between them, then by ids.
func tie(a, b Option) int {
	x, y := a.Build, b.Build
	return cmp.Or(
		cmp.Compare(x.Fill.Slug, y.Fill.Slug), cmp.Compare(x.Thickness, y.Thickness), cmp.Compare(x.Layers, y.Layers),
		cmp.Compare(x.AskedGap, y.AskedGap), cmp.Compare(x.Fabric.Slug, y.Fabric.Slug),
		cmp.Compare(x.Fill.ID, y.Fill.ID), cmp.Compare(x.Fabric.ID, y.Fabric.ID))
}

// bestPerFill keeps the first option of every fill and counts the others.
func bestPerFill(list []Option) []Option {
	at := map[catalog.ID]int{}
	var best []Option
	for _, o := range list {
		if i, seen := at[o.Build.Fill.ID]; seen {
			best[i].OtherBuilds++
			continue
		}
		at[o.Build.Fill.ID] = len(best)
		best = append(best, o)
	}
	return best
}
