package ranking

import (
	"fmt"

	"sabinbook/internal/buying"
	"sabinbook/internal/catalog"
	"sabinbook/internal/costing"
	"sabinbook/internal/handling"
	"sabinbook/internal/money"
	"sabinbook/internal/needs"
	"sabinbook/internal/panels"
	"sabinbook/internal/units"
)

// Single asks what one build costs, for its number of panels and for others. Brief names the
// fill, the fabric and the air gap, one of each; LayersMax is the number of layers, and what
// orders and cuts a list of options does not matter.
type Single struct {
	Brief     Brief
	Thickness units.Length // of one layer, a sold one
}

// Costed is the answer to a Single.
type Costed struct {
	Result Result // with one option, which has a place when it has a full price
	Curve  []Point
	// Reaches says for each need how far what is bought goes, looked at up to the end of Curve.
	Reaches []costing.Reach
	// Unabsorbed says why the absorption of the option is not known; only PriceOf answers
	// then, with an option that has neither absorption nor rating nor place.
	Unabsorbed Reason
}

// Point is the cost of another number of panels of the same build.
type Point struct {
	Panels  int
	Total   *money.Amount // nil without a full price
	AtLeast money.Amount
	Status  buying.Status
}

// The curve goes to three times the panels that are asked for, and to no more than that many.
// Source: convention of the cost answer (costing_problem.md section 8).
const (
	curveTimes = 3
	curveMost  = 200
	// curveLabels is the limit of the search for each of them. Convention.
	curveLabels = 100_000
)

// Option is the one option of the answer.
func (c Costed) Option() Option {
	if len(c.Result.Options) > 0 {
		return c.Result.Options[0]
	}
	return c.Result.NotPriced[0]
}

// CostOf answers a Single. The error is a *catalog.InvalidError when the question is not valid,
// names a record that is not there, or a build that cannot be or whose absorption is not known.
func (p *Prepared) CostOf(q Single) (Costed, error) {
	out, err := p.PriceOf(q)
	if why := out.Unabsorbed; err == nil && why != "" {
		return Costed{}, invalid("/fill", string(why), fmt.Sprintf("the absorption of %s cannot be told (%s)", out.Option().Build.Fill.Slug, why), "ask for the ranking of this fill: left_out says what would help")
	}
	return out, err
}

// PriceOf is CostOf also for a build whose absorption is not known.
func (p *Prepared) PriceOf(q Single) (Costed, error) {
	if err := q.Validate(); err != nil {
		return Costed{}, err
	}
	fills, fabrics, err := q.Brief.Chosen(p.snapshot)
	if err != nil {
		return Costed{}, err
	}
	r := newRanker(p, q.Brief)
	b, err := q.build(r, fills[0], fabrics[0])
	if err != nil {
		return Costed{}, err
	}
	o, why := r.option(b, q.Brief.PanelCount)
	if why == LargerThanPanel {
		return Costed{}, noRoomInside()
	}
	out := Costed{Result: Result{Brief: q.Brief, CatalogRevision: p.snapshot.Revision, Considered: 1}, Unabsorbed: why}
	if why != "" {
		o = Option{Build: b, Panels: q.Brief.PanelCount}
		r.price(&o)
	}
	if o.Cost.Total != nil && why == "" {
		o.Place, out.Result.Priced, out.Result.Options = 1, 1, []Option{o}
	} else {
		out.Result.Unpriced, out.Result.NotPriced = 1, []Option{o}
	}
	out.Result.cite(p.snapshot)
	var lists []needs.List
	for n := 1; n <= min(curveTimes*q.Brief.PanelCount, curveMost); n++ {
		list := needs.For(b, n, handling.For(b, n, q.Brief.Handling))
		cost := r.market.CostWithin(list, curveLabels)
		out.Curve = append(out.Curve, Point{n, cost.Total, cost.AtLeast, cost.Status})
		if n > q.Brief.PanelCount {
			lists = append(lists, list)
		}
	}
	out.Reaches = r.market.Reaches(out.Option().Cost, lists)
	return out, nil
}

// Validate names every fault of the question that can be seen without a catalog.
func (q Single) Validate() error {
	v := &catalog.Faults{}
	if len(q.Brief.Fills) != 1 || q.Brief.Fills[0] == "" {
		v.Add("/fill", "required", "is missing", "give the id or slug of a stored fill")
	}
	if len(q.Brief.Fabrics) != 1 || q.Brief.Fabrics[0] == "" {
		v.Add("/fabric", "required", "is missing", "give the id or slug of a stored fabric")
	}
	if len(q.Brief.AirGaps) != 1 {
		v.Add("/air_gap_mm", "required", "is missing", "give millimetres, 0 for none")
	}
	v.Within("/thickness_mm", float64(q.Thickness), 2, 600, "mm", "give the thickness of one layer, e.g. 50")
	return join(v.Err(), q.Brief.Validate())
}

// build puts the panel together.
func (q Single) build(r *ranker, fill catalog.Fill, fabric catalog.Fabric) (panels.Build, error) {
	return built(fill, q.Thickness, func() (panels.Build, bool) {
		return r.assemble(fill, q.Thickness, q.Brief.LayersMax, q.Brief.AirGaps[0], fabric)
	})
}

func invalid(pointer, code, detail, fix string) error {
	v := &catalog.Faults{}
	v.Add(pointer, code, detail, fix)
	return v.Err()
}
