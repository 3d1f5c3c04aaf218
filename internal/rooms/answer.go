package rooms

import (
	"math"

	"sabinbook/internal/bands"
	"sabinbook/internal/reverb"
)

// Answer is how the room sounds.
type Answer struct {
	Volume       float64 // m³
	Surface      float64 // m², 0 where decay times stand for it
	Constant     float64 // k of T = k V / A, s/m
	SpeedOfSound float64 // m/s
	Target       float64 // s, mean
	// WithinRule says that the rule is given for rooms of this size.
	WithinRule bool
	Octaves    [bands.OctaveCount]Octave
	// Schroeder is the frequency below which single modes rule, by the decay time at 500 Hz.
	Schroeder        float64
	CriticalDistance float64 // m, of a source that sends all around, at 500 Hz
	Modes            []reverb.Mode
	Mirrors          []Mirror
	// Least is the least number of panels that brings every octave of the target within it; 0
	// with Reached when the room is there already.
	Least   int
	Reached bool // it can be reached with the panels that there is room for
	Room    int  // panels that there is room for
}

// Octave is the answer in one octave.
type Octave struct {
	Hertz   int
	Area    float64 // absorption area of surfaces and things, m²
	AirArea float64 // of the air
	Before  Decay
	After   *Decay // with the panels
	// AfterLow and AfterHigh are Sabine's times with the upper and the lower bound of the panels'
	// coefficients.
	AfterLow, AfterHigh *float64
	Asked               bool // the target counts here
	Target              reverb.Target
	Lacking             float64 // absorption area that is lacking to the target's upper limit, m²
	Least               int     // panels that reach it
	Reached             bool
	BelowSchroeder      bool // the octave's lower edge lies below the Schroeder frequency
}

// Decay holds decay times in seconds. Eyring is nil where there is none.
type Decay struct {
	Sabine float64
	Eyring *float64
}

// Mirror is a point on a wall where a panel takes the first reflection.
type Mirror struct {
	Listener   int
	Wall       string // wall_x0, wall_x1, wall_y0, wall_y1, floor, ceiling
	Point      [3]float64
	Reflection reverb.Reflection
	Delay      float64 // s
	Level      float64 // dB beside the direct sound, from a bare wall
}

// modesListed is how many modes of a box are told. Convention.
const modesListed = 10

// Answer works the question out. It must be valid.
func (q Question) Answer() Answer {
	speed := q.Air.SpeedOfSound()
	out := Answer{Volume: q.volume(), Constant: reverb.Constant(speed), SpeedOfSound: speed}
	area, surface := q.absorption(out.Constant)
	out.Surface = surface
	out.Target, out.WithinRule = q.target()
	out.Room = q.room()
	out.Reached = true
	for i := range out.Octaves {
		o := q.octave(i, &out, area[i])
		out.Octaves[i] = o
		if o.Asked {
			out.Reached = out.Reached && o.Reached
			out.Least = max(out.Least, o.Least)
		}
	}
	middle := out.Octaves[2].Before.Sabine // 500 Hz
	out.Schroeder = reverb.Schroeder(middle, out.Volume)
	out.CriticalDistance = reverb.CriticalDistance(1, out.Volume, middle)
	for i := range out.Octaves {
		o := &out.Octaves[i]
		o.BelowSchroeder = float64(o.Hertz)/math.Sqrt2 < reverb.Schroeder(o.Before.Sabine, out.Volume)
	}
	if q.Box() {
		out.Modes = reverb.Modes(speed, q.Sides, modesListed)
		out.Mirrors = q.mirrors(speed)
	}
	return out
}

// absorption returns the absorption area of surfaces and things in each octave, and the area of
// all surfaces. Measured decay times stand for both.
func (q Question) absorption(k float64) (area Octaves, surface float64) {
	left := map[Face]float64{}
	if q.Box() {
		for _, f := range []Face{Floor, Ceiling, Walls} {
			left[f] = q.faceArea(f)
		}
		for _, s := range q.Surfaces {
			left[s.Face] -= s.Area
		}
	}
	for _, s := range q.Surfaces {
		m2 := s.Area
		if m2 == 0 {
			m2 = max(0, left[s.Face])
		}
		surface += m2
		for i, alpha := range figures(s.Material, s.Own) {
			area[i] += m2 * alpha
		}
	}
	for _, t := range q.Things {
		for i, one := range figures(t.Material, t.Own) {
			area[i] += float64(t.Count) * one
		}
	}
	if q.Measured != nil {
		for i, t := range q.Measured {
			area[i] = max(0, reverb.Area(k, q.volume(), t, q.attenuation(i)))
		}
	}
	return area, surface
}

func figures(name string, own *Octaves) Octaves {
	if own != nil {
		return *own
	}
	m, _ := Find(name)
	return m.Alpha
}

// attenuation is m of the air at the exact centre of octave i.
func (q Question) attenuation(i int) float64 {
	return q.Air.Attenuation(1000 * math.Pow(10, 0.3*float64(i-3)))
}

// target is the mean decay time that is asked for, and whether the rule knows such rooms.
func (q Question) target() (t float64, within bool) {
	switch q.Rule {
	case reverb.EBU:
		return reverb.EBUTime(q.volume())
	case reverb.DIN:
		return reverb.DINTime(q.Group, q.volume())
	case reverb.S1260:
		return reverb.S1260Time(q.volume())
	}
	return q.Time, true
}

// room is how many panels there is room for: on their face, else as many as are planned.
func (q Question) room() int {
	p := q.Panels
	switch {
	case p == nil:
		return 0
	case p.Most > 0:
		return p.Most
	case p.On != "":
		return int(q.faceArea(p.On)/p.Face + 1e-9)
	}
	return mostPanels
}

// covered is the mean coefficient of what panels on a face take the place of.
func (q Question) covered(i int) float64 {
	if q.Panels == nil || q.Panels.On == "" {
		return 0
	}
	left, sum, whole := q.faceArea(q.Panels.On), 0.0, -1
	for k, s := range q.Surfaces {
		if s.Face != q.Panels.On {
			continue
		}
		if s.Area == 0 {
			whole = k
			continue
		}
		left -= s.Area
		sum += s.Area * figures(s.Material, s.Own)[i]
	}
	if whole >= 0 { // panels hang on the wall itself and not on its windows
		return figures(q.Surfaces[whole].Material, q.Surfaces[whole].Own)[i]
	}
	if area := q.faceArea(q.Panels.On) - left; area > 0 {
		return sum / area
	}
	return 0
}

func (q Question) octave(i int, a *Answer, area float64) Octave {
	m := q.attenuation(i)
	o := Octave{Hertz: bands.OctaveBand(i).Nominal(), Area: area, AirArea: 4 * m * a.Volume}
	decay := func(area float64) Decay {
		d := Decay{Sabine: reverb.Sabine(a.Constant, a.Volume, area, m)}
		if a.Surface > 0 {
			if t, ok := reverb.Eyring(a.Constant, a.Volume, a.Surface, area/a.Surface, m); ok {
				d.Eyring = &t
			}
		}
		return d
	}
	o.Before = decay(area)
	o.Asked = o.Hertz >= q.From && o.Hertz <= q.To
	o.Target = q.Rule.Octave(a.Target, i)
	if o.Asked {
		o.Lacking = max(0, reverb.Area(a.Constant, a.Volume, o.Target.High, m)-area)
		o.Reached = o.Lacking == 0
	}
	p := q.Panels
	if p == nil {
		return o
	}
	covered := q.covered(i)
	gain := func(alpha float64) float64 { return p.Face * (min(alpha, 1) - covered) }
	after := decay(max(0, area+float64(p.Count)*gain(p.Alpha[i])))
	o.After = &after
	bound := func(x *Octaves) *float64 {
		if x == nil {
			return nil
		}
		t := reverb.Sabine(a.Constant, a.Volume, max(0, area+float64(p.Count)*gain(x[i])), m)
		return &t
	}
	o.AfterLow, o.AfterHigh = bound(p.High), bound(p.Low)
	if o.Asked && o.Lacking > 0 {
		o.Least, o.Reached = whole(takes(o.Lacking, gain(p.Alpha[i])), a.Room)
	}
	return o
}

// takes is how many panels, of which each adds so much, make up for what is lacking; infinite
// where they add nothing.
func takes(lacking, gain float64) float64 {
	switch {
	case lacking == 0:
		return 0
	case gain <= 0:
		return math.Inf(1)
	}
	return lacking / gain
}

// whole rounds up to whole panels, and reports whether there is room for them.
func whole(panels float64, room int) (int, bool) {
	if n := math.Ceil(panels - 1e-9); n <= float64(room) {
		return int(n), true
	}
	return 0, false
}

// Shortfall is what a room lacks to its target, ready to be asked about many panels of one face.
type Shortfall struct {
	lacking, covered Octaves
	face             float64
	room             int
}

// Shortfall works it out for the panels of the question, whose number and coefficients do not
// matter.
func (q Question) Shortfall() Shortfall {
	out := Shortfall{face: q.Panels.Face, room: q.room()}
	for i, o := range q.Answer().Octaves {
		out.lacking[i], out.covered[i] = o.Lacking, q.covered(i)
	}
	return out
}

// None reports whether nothing is lacking.
func (s Shortfall) None() bool { return s.lacking == Octaves{} }

// Takes returns how many panels with the coefficients bring every octave of the target within it,
// not rounded; infinite where they do not.
func (s Shortfall) Takes(alpha Octaves) float64 {
	most := 0.0
	for i, lacking := range s.lacking {
		most = max(most, takes(lacking, s.face*(min(alpha[i], 1)-s.covered[i])))
	}
	return most
}

// Least returns Takes in whole panels, as Answer has it, and whether there is room for them.
func (s Shortfall) Least(alpha Octaves) (int, bool) { return whole(s.Takes(alpha), s.room) }

// mirrors lists the points of first reflections on the six faces of a box.
func (q Question) mirrors(speed float64) []Mirror {
	p := q.Placement
	if p == nil {
		return nil
	}
	var list []Mirror
	for k, listener := range p.Listeners {
		for axis, names := range [][2]string{{"wall_x0", "wall_x1"}, {"wall_y0", "wall_y1"}, {"floor", "ceiling"}} {
			for side, name := range names {
				point, r, ok := reverb.MirrorPoint(p.Source, listener, axis, float64(side)*q.Sides[axis])
				if ok {
					list = append(list, Mirror{k, name, point, r, r.Delay(speed), r.Level(0)})
				}
			}
		}
	}
	return list
}
