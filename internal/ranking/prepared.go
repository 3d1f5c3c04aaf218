package ranking

import (
	"reflect"
	"sync"

	"sabinbook/internal/absorption"
	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
	"sabinbook/internal/costing"
	"sabinbook/internal/panels"
	"sabinbook/internal/units"
)

// Prepared answers questions about one snapshot and remembers what they share: what each build
// absorbs, and the market on the terms that were asked for last. Answers do not depend on what
// was asked before, nor on the number of workers. It may be asked from several goroutines.
type Prepared struct {
	snapshot catalog.Snapshot
	workers  int
	fabrics  map[catalog.ID]int // index in the snapshot

	lock   sync.Mutex
	values map[stack]*values
	market *costing.Market
}

// Prepare returns the snapshot ready for questions, which at most so many workers share.
func Prepare(s catalog.Snapshot, workers int) *Prepared {
	p := &Prepared{snapshot: s, workers: max(1, workers), fabrics: map[catalog.ID]int{}, values: map[stack]*values{}}
	for i, f := range s.Fabrics {
		p.fabrics[f.ID] = i
	}
	return p
}

// Snapshot is the snapshot, which must not be changed.
func (p *Prepared) Snapshot() catalog.Snapshot { return p.snapshot }

// Revision is the revision of the snapshot.
func (p *Prepared) Revision() int64 { return p.snapshot.Revision }

// marketOn returns the market on the terms.
func (p *Prepared) marketOn(terms costing.Terms) *costing.Market {
	p.lock.Lock()
	defer p.lock.Unlock()
	if p.market == nil || !reflect.DeepEqual(p.market.Terms(), terms) {
		p.market = costing.NewMarket(p.snapshot, terms)
	}
	return p.market
}

// stack is what stands behind the fabric: what a build absorbs depends on it and the fabric.
type stack struct {
	fill      catalog.ID
	thickness units.Length
	layers    int
	gap       units.Length
	wrapped   bool
}

func stackOf(b panels.Build) stack {
	return stack{b.Fill.ID, b.Thickness, b.Layers, b.AirGap, b.BackWrapped()}
}

// value is what one build absorbs in octaves, or why that is not known.
type value struct {
	octaves [bands.OctaveCount]float64
	known   [bands.OctaveCount]bool
	why     Reason
	done    bool
}

// values are the values of a stack, by fabric in the order of the snapshot.
type values struct {
	lock sync.Mutex
	of   []value
}

// mostValues bounds what is remembered, some 20 MB; beyond it everything is forgotten.
// Convention: twice what a question of 96 000 candidates takes.
const mostValues = 200_000

// valuesOf returns the values of a stack, worked out or not.
func (p *Prepared) valuesOf(s stack) *values {
	p.lock.Lock()
	defer p.lock.Unlock()
	v := p.values[s]
	if v == nil {
		if len(p.values)*len(p.snapshot.Fabrics) >= mostValues {
			clear(p.values)
		}
		v = &values{of: make([]value, len(p.snapshot.Fabrics))}
		p.values[s] = v
	}
	return v
}

// absorbs fills in the values of a build under each of the fabrics.
func (p *Prepared) absorbs(e *absorption.Estimator, b panels.Build, fabrics []catalog.Fabric) *values {
	v := p.valuesOf(stackOf(b))
	v.lock.Lock()
	defer v.lock.Unlock()
	for _, f := range fabrics {
		out := &v.of[p.fabrics[f.ID]]
		if out.done {
			continue
		}
		b.Fabric = f
		*out = valueOf(e, b)
	}
	return v
}

func valueOf(e *absorption.Estimator, b panels.Build) value {
	out := value{done: true}
	sample, why := b.Sample()
	if why == "" {
		var octaves bands.Curve
		octaves, _, why = e.Octaves(sample)
		for i := range out.octaves {
			out.octaves[i], out.known[i] = octaves.At(bands.OctaveBand(i))
		}
	}
	out.why = Reason(why)
	return out
}

// alpha weighs the ranked coefficients by the purpose; it is false when an octave that counts
// is not known.
func (v *value) alpha(purpose Purpose) (float64, bool) {
	sum := 0.0
	for i, weight := range purpose.Weights {
		if !v.known[i] && weight > 0 {
			return 0, false
		}
		if v.known[i] {
			sum += float64(weight * min(v.octaves[i], 1))
		}
	}
	return sum, true
}
