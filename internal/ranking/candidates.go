package ranking

import (
	"cmp"
	"slices"
	"sync"
	"sync/atomic"

	"sabinbook/internal/absorption"
	"sabinbook/internal/catalog"
	"sabinbook/internal/costing"
	"sabinbook/internal/handling"
	"sabinbook/internal/needs"
	"sabinbook/internal/panels"
	"sabinbook/internal/units"
)

// candidates are all builds that the brief asks for, in the order of tie: fill, thickness,
// layers, gap, fabric. Only those whose absorption is known are listed.
type candidates struct {
	stands     []stand
	fabrics    []catalog.Fabric
	list       []candidate
	unpriced   []int // indices in list
	leftOut    []LeftOut
	considered int
	priced     int
	pricedOf   map[int32]int // by group
	overBudget map[int32]int // by group, of the priced ones
}

// stand is what candidates share that differ in the fabric alone and are built in one number.
type stand struct {
	build  panels.Build // without a fabric
	panels int          // how many are built
	group  int32        // index of the fill
	burden handling.Burden
	list   needs.List // without a fabric
	hanger *needs.Part
}

// candidate is a build of a stand under a fabric.
type candidate struct {
	stand, fabric int32
	priced        bool
	carries       units.Mass // of the hangers
	// standing has the least cost in the place of the cost: no option stands farther in front.
	standing
}

// build puts the build of a candidate together.
func (c *candidates) build(i int) panels.Build {
	b := c.stands[c.list[i].stand].build
	b.Fabric = c.fabrics[c.list[i].fabric]
	return b
}

// compareBySlug orders by slug, then id.
func compareBySlug(a, b catalog.Meta) int {
	return cmp.Or(cmp.Compare(a.Slug, b.Slug), cmp.Compare(a.ID, b.ID))
}

// candidates lists everything that can be built of the fills and fabrics; fill by fill, which
// the workers share.
func (r *ranker) candidates(fills []catalog.Fill, fabrics []catalog.Fabric) *candidates {
	fills, fabrics = slices.Clone(fills), slices.Clone(fabrics)
	slices.SortFunc(fills, func(a, b catalog.Fill) int { return compareBySlug(a.Meta, b.Meta) })
	slices.SortFunc(fabrics, func(a, b catalog.Fabric) int { return compareBySlug(a.Meta, b.Meta) })
	parts := make([]candidates, len(fills))
	var next atomic.Int64
	share(min(r.prepared.workers, len(fills)), func() {
		estimator := r.newEstimator()
		for i := int(next.Add(1)) - 1; i < len(fills); i = int(next.Add(1)) - 1 {
			parts[i].fabrics = fabrics
			parts[i].fill(r, estimator, fills[i], int32(i))
		}
	})
	all := &candidates{fabrics: fabrics, pricedOf: map[int32]int{}, overBudget: map[int32]int{}}
	for i := range parts {
		p := &parts[i]
		from := int32(len(all.stands))
		for j := range p.list {
			p.list[j].stand += from
		}
		all.stands, all.list = append(all.stands, p.stands...), append(all.list, p.list...)
		all.leftOut, all.considered = append(all.leftOut, p.leftOut...), all.considered+p.considered
	}
	return all
}

// share runs the work in so many goroutines at once.
func share(workers int, work func()) {
	var group sync.WaitGroup
	for range workers - 1 {
		group.Go(work)
	}
	work()
	group.Wait()
}

// fill lists all candidates with one fill.
func (c *candidates) fill(r *ranker, e *absorption.Estimator, fill catalog.Fill, group int32) {
	thicknesses := soldThicknesses(fill)
	if len(thicknesses) == 0 { // no key names it
		c.leave(LeftOut{Reason: NotSold, Fill: fill.Meta, Count: 1})
		return
	}
	gaps := slices.Clone(r.brief.AirGaps)
	slices.Sort(gaps)
	for _, thickness := range thicknesses {
		for layers := 1; layers <= r.brief.LayersMax; layers++ {
			for _, gap := range gaps {
				fabrics := c.under(r.brief, fill, thickness, layers, gap)
				if len(fabrics) == 0 {
					continue
				}
				out := LeftOut{Fill: fill.Meta, Thickness: thickness, Layers: layers, AskedGap: gap, HasGap: true, Count: len(fabrics)}
				b, ok := r.assemble(fill, thickness, layers, gap, catalog.Fabric{})
				switch {
				case !ok:
					out.Reason = NoFrame
					c.leave(out)
				case !hollow(b):
					out.Reason = LargerThanPanel
					c.leave(out)
				default:
					c.stand(r, e, b, group, out, fabrics)
				}
			}
		}
	}
}

// stand lists the candidates of one build under the fabrics, given by their indices: one stand for
// each number of panels.
func (c *candidates) stand(r *ranker, e *absorption.Estimator, b panels.Build, group int32, out LeftOut, under []int32) {
	if out.Reason = r.brief.Limits.ofStand(b, handling.For(b, max(1, r.brief.PanelCount), r.brief.Handling)); out.Reason != "" {
		c.leave(out)
		return
	}
	fabrics := make([]catalog.Fabric, len(under))
	for n, i := range under {
		fabrics[n] = c.fabrics[i]
	}
	of := r.prepared.absorbs(e, r.brief.Basis, b, fabrics).of
	type made struct {
		at  int32
		why Reason
	}
	stands := map[int]made{} // by number of panels
	for n, fabric := range fabrics {
		b.Fabric = fabric
		alpha, count, why := r.counted(&of[r.prepared.fabrics[fabric.ID]])
		if why == "" {
			why = r.brief.Limits.ofBuild(b)
		}
		var s made
		if why == "" {
			var seen bool
			if s, seen = stands[count]; !seen {
				stand := newStand(r, b, count, group)
				if s = (made{int32(len(c.stands)), r.brief.Limits.ofTime(stand.burden)}); s.why == "" {
					c.stands = append(c.stands, stand)
				}
				stands[count] = s
			}
			why = s.why
		}
		if out.Fabric, out.Count, out.Reason = fabric.Meta, 1, why; why != "" {
			c.leave(out)
			continue
		}
		k := candidate{stand: s.at, fabric: under[n], standing: standing{area: r.brief.Design.Face() * units.Area(count) * units.Area(alpha)}}
		if c.stands[s.at].hanger != nil {
			if mass, _, known := b.Mass(); known {
				k.carries = mass
			}
		}
		c.considered++
		c.list = append(c.list, k)
	}
}

// counted returns the weighted coefficient of a build and how many of it are asked for, or why that
// is not known.
func (r *ranker) counted(v *value) (alpha float64, count int, why Reason) {
	if v.why != "" {
		return 0, 0, v.why
	}
	alpha, known := v.alpha(r.brief.Purpose)
	if !known {
		return 0, 0, BandsMissing
	}
	if r.brief.CountFrom == Asked {
		return alpha, r.brief.PanelCount, ""
	}
	if slices.Contains(v.known[:], false) {
		return 0, 0, BandsMissing
	}
	count, ok := r.shortfall.Least(v.octaves)
	if !ok || count > MaxPanels {
		return 0, 0, BeyondTarget
	}
	return alpha, count, ""
}

// newStand returns what so many panels of a build share under any fabric.
func newStand(r *ranker, b panels.Build, count int, group int32) stand {
	b.Fabric = catalog.Fabric{}
	s := stand{build: b, panels: count, group: group, burden: handling.For(b, count, r.brief.Handling)}
	s.list = needs.For(b, count, s.burden)
	for i := range s.list.Parts {
		if s.list.Parts[i].Role == catalog.Hanger {
			s.hanger = &s.list.Parts[i]
		}
	}
	return s
}

// leave records what is left out; neighbours that differ only in the fabric become one.
func (c *candidates) leave(out LeftOut) {
	c.considered += out.Count
	if n := len(c.leftOut); n > 0 {
		last := c.leftOut[n-1]
		last.Fabric, last.Count = out.Fabric, out.Count
		if last == out && out.Reason != Reason(absorption.NoOpenness) {
			c.leftOut[n-1].Fabric = catalog.Meta{}
			c.leftOut[n-1].Count += out.Count
			return
		}
	}
	c.leftOut = append(c.leftOut, out)
}

// overspent notes a candidate with a full price that is over the budget.
func (c *candidates) overspent(i int) {
	c.overBudget[c.stands[c.list[i].stand].group]++
}

// dear lists what was found to be over the budget among what is left out, fill by fill, and
// returns how many candidates that are.
func (c *candidates) dear() int {
	count := 0
	var last int32 = -1
	for _, s := range c.stands {
		if n := c.overBudget[s.group]; n > 0 && s.group != last {
			c.leftOut = append(c.leftOut, LeftOut{Reason: OverBudget, Fill: s.build.Fill.Meta, Count: n})
			count += n
		}
		last = s.group
	}
	return count
}

// floors works out what each candidate costs at least. The first time it also finds out which
// have a full price.
func (c *candidates) floors(r *ranker, f *costing.Floors, first bool) {
	type clothed struct {
		depth   units.Length
		wrapped bool
		panels  int
	}
	cloths := map[clothed][]*costing.Floor{}
	type hung struct {
		mass   units.Mass
		panels int
	}
	hangers := map[hung]costing.Floor{}
	var rest costing.Floor
	var cloth []*costing.Floor
	at := int32(-1)
	for i := range c.list {
		k := &c.list[i]
		if !first && !k.priced {
			continue
		}
		s := &c.stands[k.stand]
		if k.stand != at {
			at, rest = k.stand, f.Rest(s.list)
			key := clothed{s.build.FrameDepth(), s.build.BackWrapped(), s.panels}
			if cloth = cloths[key]; cloth == nil {
				cloth = make([]*costing.Floor, len(c.fabrics))
				cloths[key] = cloth
			}
		}
		if cloth[k.fabric] == nil {
			list := s.list
			list.Fabric = c.fabrics[k.fabric]
			floor := f.Fabric(list)
			cloth[k.fabric] = &floor
		}
		floor := rest.Add(*cloth[k.fabric])
		if s.hanger != nil {
			key := hung{k.carries, s.panels}
			hanger, ok := hangers[key]
			if !ok {
				part := *s.hanger
				part.Carries = k.carries
				hanger = f.Part(part)
				hangers[key] = hanger
			}
			floor = floor.Add(hanger)
		}
		if first {
			if k.priced = floor.Priced; floor.Priced {
				c.priced++
				c.pricedOf[s.group]++
			} else {
				c.unpriced = append(c.unpriced, i)
			}
		}
		if limit := r.brief.Limits.Budget; first && k.priced && limit != nil && floor.Least.Cmp(*limit) > 0 {
			k.priced = false
			c.overspent(i)
		}
		k.cost, k.minutes, k.known = floor.Least.Micro(), s.burden.Total, s.burden.Known
	}
}
