// Package rooms answers how a room sounds, and what panels would change.
//
// A Question lists surfaces, furnishings and people with what they absorb, or the decay times
// that were measured; a target; and panels with their coefficients. Answer is a pure function
// of it. Six octaves are computed, 125 Hz to 4000 Hz, because materials and panels have
// coefficients there.
//
// Source: rooms.md. Simplifications, told in every answer: a diffuse field; the absorption of
// air is that of pure tones at the exact centres of the octaves (ISO 9613-1); panels take the
// place of the surface they hang on; their coefficient counts at most as 1; what hangs on one
// wall works less than absorption that is spread.
package rooms

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
	"sabinbook/internal/reverb"
)

// ModelVersion names the computation; it changes whenever the answer to an equal question may
// change.
const ModelVersion = "1"

// What a room is made of, as the catalog keeps it. A material is the name of a Material.
type (
	Octaves = catalog.Octaves
	Face    = catalog.Face
	Surface = catalog.RoomSurface
	Thing   = catalog.RoomThing
)

// The faces of a box.
const (
	Floor   = catalog.Floor
	Ceiling = catalog.Ceiling
	Walls   = catalog.Walls
)

var faces = []string{string(Floor), string(Ceiling), string(Walls)}

// Panels are what is hung.
type Panels struct {
	Count     int
	Face      float64 // m² of one of them
	Alpha     Octaves
	Low, High *Octaves // bounds of Alpha
	On        Face     // what they cover; empty for what hangs free
	Most      int      // that there is room for; 0 for what the wall holds
}

// Placement is where a source and listeners are, in metres from a corner of the box along length,
// width and height.
type Placement struct {
	Source    [3]float64
	Listeners [][3]float64
}

// Question asks about a room.
type Question struct {
	Sides     [3]float64 // length, width, height of a box; all 0 for another room
	Volume    float64    // of a room that is no box
	Surfaces  []Surface
	Things    []Thing
	Air       reverb.Air
	Measured  *Octaves // decay times in s that stand for surfaces and things
	Rule      reverb.Rule
	Group     string  // of DIN 18041
	Time      float64 // of an own target
	From, To  int     // octaves of the target, Hz
	Panels    *Panels
	Placement *Placement
}

// Box reports whether the room is a box.
func (q Question) Box() bool { return q.Sides != [3]float64{} }

// volume of the room in m³.
func (q Question) volume() float64 {
	if q.Box() {
		return q.Sides[0] * q.Sides[1] * q.Sides[2]
	}
	return q.Volume
}

// faceArea is the area of a face of the box.
func (q Question) faceArea(f Face) float64 {
	if f == Walls {
		return 2 * (q.Sides[0] + q.Sides[1]) * q.Sides[2]
	}
	return q.Sides[0] * q.Sides[1]
}

// Limits of a question. Convention.
const (
	maxSurfaces  = 100
	maxThings    = 50
	maxListeners = 20
	mostPanels   = 2000
)

// Validate names every fault of the question. Pointers are those of the wire.
func (q Question) Validate() error {
	v := &catalog.Faults{}
	q.checkRoom(v)
	q.checkTarget(v)
	q.checkPanels(v)
	q.checkPlacement(v)
	return v.Err()
}

// checkRoom names the faults of the room and what is in it.
func (q Question) checkRoom(v *catalog.Faults) {
	if q.Box() {
		for i, name := range []string{"length_m", "width_m", "height_m"} {
			v.Within("/room/"+name, q.Sides[i], 1, 100, "m", "give metres, e.g. 6.2")
		}
	} else {
		v.Within("/room/volume_m3", q.Volume, 1, 1e6, "m³", "give the volume, or length_m, width_m and height_m of a box")
	}
	if n := len(q.Surfaces); n > maxSurfaces || n == 0 && q.Measured == nil {
		v.Add("/surfaces", "out_of_range", fmt.Sprintf("must list 1 to %d surfaces, got %d", maxSurfaces, n), "list floor, ceiling and walls, or give decay_times")
	}
	q.checkSurfaces(v)
	if len(q.Things) > maxThings {
		v.Add("/things", "out_of_range", fmt.Sprintf("must list at most %d, got %d", maxThings, len(q.Things)), "leave out what does not matter")
	}
	for i, t := range q.Things {
		at := fmt.Sprintf("/things/%d", i)
		v.Within(at+"/count", float64(t.Count), 1, 10_000, "", "give how many there are")
		material(v, at, t.Material, t.Own, true)
		octaves(v, at+"/areas", areaName, t.Own, 0, 50, "m²")
	}
	v.Within("/air/temperature_c", q.Air.Temperature, -10, 50, "°C", "give degrees Celsius, e.g. 20")
	v.Within("/air/humidity_percent", q.Air.Humidity, 5, 100, "%", "give per cent, e.g. 50")
	v.Within("/air/pressure_kpa", q.Air.Pressure, 50, 110, "kPa", "give kilopascals, e.g. 101.325")
	octaves(v, "/decay_times", timeName, q.Measured, 0.05, 30, "s")
}

func (q Question) checkSurfaces(v *catalog.Faults) {
	whole := map[Face]bool{}
	taken := map[Face]float64{}
	for i, s := range q.Surfaces {
		at := fmt.Sprintf("/surfaces/%d", i)
		switch {
		case q.Box():
			v.Word(at+"/face", string(s.Face), faces)
		case s.Face != "":
			v.Add(at+"/face", "not_applicable", "only a box has faces", "leave it out")
		}
		switch {
		case s.Area != 0 || !q.Box():
			v.Within(at+"/area_m2", s.Area, 0.01, 1e5, "m²", "give square metres")
			taken[s.Face] += s.Area
		case whole[s.Face]:
			v.Add(at+"/area_m2", "required", fmt.Sprintf("two surfaces without an area lie on the %s", s.Face), "give the area of one of them")
		default:
			whole[s.Face] = true
		}
		material(v, at, s.Material, s.Own, false)
		octaves(v, at+"/alpha", alphaName, s.Own, 0, 1.5, "")
	}
	if !q.Box() || len(q.Surfaces) == 0 {
		return
	}
	for _, name := range faces {
		f := Face(name)
		area := q.faceArea(f)
		switch {
		case taken[f] > area+1e-9:
			v.Add("/surfaces", "disagrees", fmt.Sprintf("surfaces of %.2f m² lie on the %s of %.2f m²", taken[f], f, area), "correct an area, or the sides of the room")
		case !whole[f] && taken[f] < area-0.01 && q.Measured == nil:
			v.Add("/surfaces", "required", fmt.Sprintf("%.2f m² of the %s have no surface", area-taken[f], f), "list a surface with this face and without an area: it takes what is left")
		}
	}
}

// material checks that something has either a known material of the right kind or figures of its own.
func material(v *catalog.Faults, at, name string, own *Octaves, perThing bool) {
	m, ok := Find(name)
	switch {
	case (name == "") == (own == nil):
		v.Add(at+"/material", "required", "must have a material or figures of its own, one of them", "name a material, or give what it absorbs in each octave")
	case name == "":
	case !ok:
		hint := "GET /v1/room-materials lists all"
		if list := near(name); len(list) > 0 {
			hint = "did you mean " + strings.Join(list, ", ") + "? " + hint
		}
		v.Add(at+"/material", "unknown_reference", fmt.Sprintf("there is no material %q", name), hint)
	case m.PerThing != perThing && perThing:
		v.Add(at+"/material", "not_applicable", fmt.Sprintf("%s has a coefficient, and a thing needs an area of one piece", name), "list it under surfaces with its area, or give areas")
	case m.PerThing != perThing:
		v.Add(at+"/material", "not_applicable", fmt.Sprintf("%s has an area for each one, not a coefficient", name), "list it under things with its count")
	}
}

// octaves checks the values of octaves whose names on the wire are made of their frequency.
func octaves(v *catalog.Faults, at, name string, x *Octaves, low, high float64, unit string) {
	if x == nil {
		return
	}
	for i := range x {
		v.Within(at+"/"+fmt.Sprintf(name, bands.OctaveBand(i).Nominal()), x[i], low, high, unit, "give a number for each octave from 125 to 4000 Hz")
	}
}

// names of octaves on the wire.
const (
	alphaName = "alpha_%d_hz"
	areaName  = "area_%d_hz_m2"
	timeName  = "time_%d_hz_s"
)

func (q Question) checkTarget(v *catalog.Faults) {
	v.Word("/target/rule", string(q.Rule), []string{string(reverb.Own), string(reverb.EBU), string(reverb.DIN), string(reverb.S1260)})
	switch q.Rule {
	case reverb.Own:
		v.Within("/target/time_s", q.Time, 0.1, 10, "s", "give the decay time that is wanted, e.g. 0.6")
	case reverb.DIN:
		v.Word("/target/group", q.Group, reverb.Groups)
	case reverb.S1260:
		if _, limited := reverb.S1260Time(q.volume()); !limited && q.volume() > 0 {
			v.Add("/target/rule", "not_applicable", fmt.Sprintf("a room of %.0f m³ has no limit in ansi_s12_60", q.volume()), "choose another rule, or give a time of your own")
		}
	}
	centre := func(at string, hz int) {
		if !slices.Contains(centres(), hz) {
			v.Add(at, "out_of_range", fmt.Sprintf("is %d, not one of 125, 250, 500, 1000, 2000, 4000", hz), "give the centre of an octave")
		}
	}
	centre("/target/from_hz", q.From)
	centre("/target/to_hz", q.To)
	if q.From > q.To {
		v.Add("/target/to_hz", "bad_range", fmt.Sprintf("is %d, below from_hz %d", q.To, q.From), "exchange them")
	}
}

func centres() []int {
	list := make([]int, bands.OctaveCount)
	for i := range list {
		list[i] = bands.OctaveBand(i).Nominal()
	}
	return list
}

func (q Question) checkPanels(v *catalog.Faults) {
	p := q.Panels
	if p == nil {
		return
	}
	v.Within("/panels/count", float64(p.Count), 0, mostPanels, "panels", "give the number of panels, 0 to ask for the least")
	v.Within("/panels/face_m2", p.Face, 0.01, 20, "m²", "give width_mm and height_mm of one panel")
	octaves(v, "/panels/alpha", alphaName, &p.Alpha, 0, 1.5, "")
	octaves(v, "/panels/low_alpha", alphaName, p.Low, 0, 1.5, "")
	octaves(v, "/panels/high_alpha", alphaName, p.High, 0, 2, "")
	for i, a := range p.Alpha {
		if p.Low != nil && p.Low[i] > a || p.High != nil && p.High[i] < a {
			v.Add("/panels/alpha/"+fmt.Sprintf(alphaName, bands.OctaveBand(i).Nominal()), "bad_range", "does not lie between low_alpha and high_alpha", "give bounds that hold the value")
		}
	}
	v.Within("/panels/most_count", float64(p.Most), 0, mostPanels, "panels", "give how many there is room for, or leave it out")
	if p.On != "" {
		v.Word("/panels/on", string(p.On), faces)
	}
	if p.On != "" && !q.Box() {
		v.Add("/panels/on", "not_applicable", "only a box has faces", "leave it out: the panels then add to what is there")
	}
	if p.On != "" && q.Box() && float64(p.Count)*p.Face > q.faceArea(p.On)+1e-9 {
		v.Add("/panels/count", "disagrees", fmt.Sprintf("%d panels of %.2f m² do not fit on the %s of %.2f m²", p.Count, p.Face, p.On, q.faceArea(p.On)), "ask for fewer, or leave on out for panels that hang free")
	}
}

func (q Question) checkPlacement(v *catalog.Faults) {
	p := q.Placement
	if p == nil {
		return
	}
	if !q.Box() {
		v.Add("/placement", "not_applicable", "mirror points are worked out for a box", "give length_m, width_m and height_m, or leave it out")
		return
	}
	if n := len(p.Listeners); n == 0 || n > maxListeners {
		v.Add("/placement/listeners", "out_of_range", fmt.Sprintf("must list 1 to %d, got %d", maxListeners, n), "give where people listen")
	}
	inside := func(at string, x [3]float64) {
		for i, name := range []string{"x_m", "y_m", "z_m"} {
			if !(x[i] > 0 && x[i] < q.Sides[i]) || math.IsNaN(x[i]) {
				v.Add(at+"/"+name, "out_of_range", fmt.Sprintf("must lie inside the room, between 0 and %g m", q.Sides[i]), "measure from one corner, along length, width and height")
			}
		}
	}
	inside("/placement/source", p.Source)
	for i, l := range p.Listeners {
		inside(fmt.Sprintf("/placement/listeners/%d", i), l)
	}
}
