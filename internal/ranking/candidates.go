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
}

// stand is what candidates share that differ in the fabric alone.
type stand struct {
	build  panels.Build // without a fabric
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
	area          units.Area
	key           float64 // the larger the better it can be at most, see optimism
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
	all := &candidates{fabrics: fabrics, pricedOf: map[int32]int{}}
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
	if len(thicknesses) == 0 {
		c.leave(LeftOut{Reason: NotSold, Fill: fill.Meta, Count: 1})
		return
	}
	gaps := slices.Clone(r.brief.AirGaps)
	slices.Sort(gaps)
	for _, thickness := range thicknesses {
		for layers := 1; layers <= r.brief.LayersMax; layers++ {
			for _, gap := range gaps {
				out := LeftOut{Fill: fill.Meta, Thickness: thickness, Layers: layers, AskedGap: gap, HasGap: true, Count: len(c.fabrics)}
				b, ok := r.assemble(fill, thickness, layers, gap, catalog.Fabric{})
				switch {
				case !ok:
					out.Reason = NoFrame
					c.leave(out)
				case !hollow(b):
					out.Reason = LargerThanPanel
					c.leave(out)
				default:
					c.stand(r, e, b, group, out)
				}
			}
		}
	}
}

// stand lists the candidates of one stand.
func (c *candidates) stand(r *ranker, e *absorption.Estimator, b panels.Build, group int32, out LeftOut) {
	face := r.brief.Design.Face() * units.Area(r.brief.PanelCount)
	of := r.prepared.absorbs(e, b, c.fabrics).of
	from := len(c.list)
	for i, fabric := range c.fabrics {
		v := &of[r.prepared.fabrics[fabric.ID]]
		alpha, known := v.alpha(r.brief.Purpose)
		out.Fabric, out.Count, out.Reason = fabric.Meta, 1, v.why
		if out.Reason == "" && !known {
			out.Reason = BandsMissing
		}
		if out.Reason != "" {
			c.leave(out)
			continue
		}
		c.considered++
		c.list = append(c.list, candidate{stand: int32(len(c.stands)), fabric: int32(i), area: face * units.Area(alpha)})
	}
	if len(c.list) == from {
		return
	}
	s := stand{build: b, group: group, burden: handling.For(b, r.brief.PanelCount, r.brief.Handling)}
	s.list = needs.For(b, r.brief.PanelCount, s.burden)
	for i := range s.list.Parts {
		if s.list.Parts[i].Role == catalog.Hanger {
			s.hanger = &s.list.Parts[i]
		}
	}
	if s.hanger != nil {
		for i := from; i < len(c.list); i++ {
			b.Fabric = c.fabrics[c.list[i].fabric]
			if mass, _, known := b.Mass(); known {
				c.list[i].carries = mass
			}
		}
	}
	c.stands = append(c.stands, s)
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

// floors works out what each candidate costs at least, and with it its key. The first time it
// also finds out which have a full price.
func (c *candidates) floors(r *ranker, f *costing.Floors, first bool) {
	type clothed struct {
		depth   units.Length
		wrapped bool
	}
	cloths := map[clothed][]*costing.Floor{}
	hangers := map[units.Mass]costing.Floor{}
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
			key := clothed{s.build.FrameDepth(), s.build.BackWrapped()}
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
			hanger, ok := hangers[k.carries]
			if !ok {
				part := *s.hanger
				part.Carries = k.carries
				hanger = f.Part(part)
				hangers[k.carries] = hanger
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
		k.key = r.brief.Order.optimism(k.area, floor.Least, s.burden)
	}
}
