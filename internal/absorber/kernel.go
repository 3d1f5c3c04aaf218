package absorber

import (
	"math"

	"sabinbook/internal/bands"
)

// Kernel predicts many assemblies under the same conditions. It remembers the fluid of
// each fill, the impedance of each sheet and the surface of each stack of layers on the
// wall, so that assemblies that share layers share their cost: a gap is computed once for
// all fills before it, a fill on it once for all fabrics. Ask with the outermost layer
// varying fastest. What it remembers is bounded; it starts afresh when that is full.
//
// A Kernel is for one goroutine at a time.
type Kernel struct {
	conditions Conditions
	speed      float64 // of sound, m/s
	points     []point
	bare       []complex128 // the impedance of no sheet at every point
	rules      map[int]*rule
	walls      map[float64]*surface // by the depth of all gaps, which sets the angles
	surfaces   map[stack]*surface
	fluids     map[slab][]fluid // by the slab at thickness zero
	sheets     map[sheet][]complex128
	radiation  map[angles][]complex128
	arena      arena
	work       workspace
}

// surface is the state of a surface at every point and angle, one after the other.
type surface struct {
	rules []*rule // one per point
	v     []complex128
	bare  bool // the wall itself, where v is 0 everywhere
}

// stack is a surface with one more layer before it.
type stack struct {
	behind *surface
	layer  Layer
}

// angles are the angles of one point.
type angles struct {
	point int
	rule  *rule
}

// maxLayers is the largest number of layers (convention).
const maxLayers = 32

// NewKernel returns a kernel for the conditions, or an InvalidError.
func NewKernel(c Conditions) (*Kernel, error) {
	c = c.complete()
	if err := c.check(); err != nil {
		return nil, err
	}
	points := c.Sampling.points()
	return &Kernel{
		conditions: c,
		speed:      c.Air.SoundSpeed(),
		points:     points,
		bare:       make([]complex128, len(points)),
		rules:      map[int]*rule{},
		walls:      map[float64]*surface{},
		surfaces:   map[stack]*surface{},
		fluids:     map[slab][]fluid{},
		sheets:     map[sheet][]complex128{},
		radiation:  map[angles][]complex128{},
	}, nil
}

// Absorption returns the absorption coefficients of the layers, listed from the room to
// the wall, in third octaves: 0 to 1, above 1 only with a Patch. No layers absorb nothing.
// The error is an InvalidError. It is Predict without the warnings.
func (k *Kernel) Absorption(layers []Layer) (bands.Curve, error) {
	if err := check(layers); err != nil {
		return bands.Curve{}, err
	}
	if k.arena.full() {
		k.forget()
	}
	front, rest := k.bare, layers
	if len(layers) > 0 {
		if s, ok := layers[0].(sheet); ok {
			front, rest = k.sheet(s), layers[1:]
		}
	}
	return k.curve(k.surface(rest), front), nil
}

func check(layers []Layer) error {
	if err := within("layer_count", float64(len(layers)), 0, maxLayers); err != nil {
		return err
	}
	for i, l := range layers {
		var err error
		switch l.(type) {
		case Fabric, Perforated, Fill, Gap:
			err = l.check()
		default: // nil, or a pointer, which could change behind the kernel's memory
			err = unknown("kind")
		}
		if err != nil {
			return inLayer(i, err)
		}
	}
	return nil
}

// curve returns the mean over angles of what the surface behind a front sheet absorbs.
func (k *Kernel) curve(s *surface, front []complex128) bands.Curve {
	var alpha [bands.ThirdCount]float64
	v := s.v
	for i, p := range k.points {
		r := s.rules[i]
		n := len(r.t)
		var a float64
		if k.conditions.Patch == (Patch{}) {
			a = absorbed(r, front[i], v[:n])
		} else {
			a = absorbedByPatch(r, k.radiationAt(i, r), front[i], v[:n])
		}
		alpha[p.band] += p.weight * a
		v = v[n:]
	}
	// Only rounding leaves the range, and Delany-Bazley, whose layers give energy back
	// below its range (down to a surface conductance of -0.0027).
	for b := range alpha {
		alpha[b] = max(alpha[b], 0)
		if k.conditions.Patch == (Patch{}) {
			alpha[b] = min(alpha[b], 1)
		}
	}
	return bands.ThirdCurve(alpha)
}

// surface returns the surface of the layers on the wall.
func (k *Kernel) surface(layers []Layer) *surface {
	gap := 0.0
	for _, l := range layers {
		if g, ok := l.(Gap); ok {
			gap += g.depth()
		}
	}
	s := k.wall(gap)
	for i := len(layers) - 1; i >= 0; i-- {
		s = k.before(s, layers[i])
	}
	return s
}

// wall returns the bare wall with the angles that gaps of a total depth need.
func (k *Kernel) wall(gap float64) *surface {
	if s, ok := k.walls[gap]; ok {
		return s
	}
	s, total := &surface{}, 0
	for _, p := range k.points {
		r := k.rule(k.conditions.nodeCount(k.k0(p), gap))
		s.rules = append(s.rules, r)
		total += len(r.t)
	}
	s.v, s.bare = atWall[:total], true
	k.walls[gap] = s
	return s
}

func (k *Kernel) rule(n int) *rule {
	r, ok := k.rules[n]
	if !ok {
		r = k.conditions.Incidence.rule(n)
		k.rules[n] = r
	}
	return r
}

// before returns the surface of a layer that stands before another surface.
func (k *Kernel) before(s *surface, l Layer) *surface {
	key := stack{behind: s, layer: l}
	if known, ok := k.surfaces[key]; ok {
		return known
	}
	made := &surface{rules: s.rules, v: k.arena.take(len(s.v))}
	switch l := l.(type) {
	case sheet:
		f := k.sheet(l)
		k.each(s, made, func(i int, in, out []complex128) { addSheet(s.rules[i], f[i], in, out) })
	case slab:
		fl, local := k.fluid(l), k.conditions.Reaction == Local
		_, air := l.(Gap)
		k.each(s, made, func(i int, in, out []complex128) {
			k0d := k.k0(k.points[i]) * l.depth()
			if air && !local {
				addGap(s.rules[i], k0d, &k.work, in, out)
				return
			}
			if s.bare {
				in = nil
			}
			addSlab(s.rules[i], fl[i], k0d, local, &k.work, in, out)
		})
	}
	k.surfaces[key] = made
	return made
}

// each calls do for every point with the states of two surfaces at that point.
func (k *Kernel) each(from, to *surface, do func(i int, in, out []complex128)) {
	at := 0
	for i, r := range from.rules {
		next := at + len(r.t)
		do(i, from.v[at:next], to.v[at:next])
		at = next
	}
}

// sheet returns the impedance of a sheet at every point.
func (k *Kernel) sheet(s sheet) []complex128 {
	f, ok := k.sheets[s]
	if !ok {
		f = make([]complex128, len(k.points))
		for i, p := range k.points {
			f[i] = s.impedance(k.conditions.Air, p.hz)
		}
		k.sheets[s] = f
	}
	return f
}

// fluid returns the fluid of a slab at every point.
func (k *Kernel) fluid(s slab) []fluid {
	s = s.material()
	f, ok := k.fluids[s]
	if !ok {
		f = make([]fluid, len(k.points))
		for i, p := range k.points {
			f[i] = s.fluid(k.conditions.Air, p.hz)
		}
		k.fluids[s] = f
	}
	return f
}

// radiationAt returns the radiation impedance of the patch at the angles of r.
func (k *Kernel) radiationAt(point int, r *rule) []complex128 {
	key := angles{point: point, rule: r}
	zr, ok := k.radiation[key]
	if !ok {
		p := k.conditions.Patch
		zr = radiationImpedance(p.Length.Metres(), p.Width.Metres(), k.k0(k.points[point]), r.t)
		k.radiation[key] = zr
	}
	return zr
}

// k0 returns the wave number of air in rad/m.
func (k *Kernel) k0(p point) float64 { return 2 * math.Pi * p.hz / k.speed }

// forget drops what was remembered of layers; angles and radiation stay.
func (k *Kernel) forget() {
	clear(k.walls)
	clear(k.surfaces)
	clear(k.fluids)
	clear(k.sheets)
	k.arena.reuse()
}

// atWall is the state of the bare wall for any number of points and angles. Nothing writes it.
var atWall [blockSize]complex128

// arena hands out room for surfaces from blocks that are used again after reuse, so that
// computing many assemblies leaves no garbage.
type arena struct {
	blocks [][]complex128
	block  int // the block in use
	used   int // of that block
}

// A block holds the largest surface there is; twenty-four of them are 17 MiB, room for
// 1300 surfaces of 46 angles in the mean.
const (
	blockSize  = bands.ThirdCount * bandMeanPoints * MaxNodes
	fullBlocks = 24
)

// take returns room for n states, which hold anything.
func (a *arena) take(n int) []complex128 {
	if a.block < len(a.blocks) && a.used+n > blockSize {
		a.block, a.used = a.block+1, 0
	}
	if a.block == len(a.blocks) {
		a.blocks = append(a.blocks, make([]complex128, blockSize))
	}
	room := a.blocks[a.block][a.used : a.used+n : a.used+n]
	a.used += n
	return room
}

// full says whether it is time to reuse; what one assembly takes more is still handed out.
func (a *arena) full() bool { return a.block >= fullBlocks }

func (a *arena) reuse() { a.block, a.used = 0, 0 }
