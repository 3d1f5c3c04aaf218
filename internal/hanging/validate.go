package hanging

import (
	"fmt"
	"slices"

	"sabinbook/internal/catalog"
	"sabinbook/internal/units"
)

// limit is the plausible range of a quantity; outside it a unit was most likely mistaken. The
// limits are conventions.
type limit struct {
	lo, hi     float64
	unit, hint string
}

var (
	massLimit      = limit{0.0001, 500, "kg", "give kilograms, e.g. 0.05 for 50 g"}
	densityLimit   = limit{5, 12_000, "kg/m³", "give kg per cubic metre, e.g. 45"}
	surfaceLimit   = limit{0.005, 50, "kg/m²", "give kg per square metre, e.g. 0.3 for 300 g/m²"}
	sideLimit      = limit{0.01, 100_000, "mm", "give millimetres, e.g. 1200"}
	moistureLimit  = limit{0, 30, "%", "give per cent of the dry mass, e.g. 12; above about 30 the wood no longer swells"}
	countLimit     = limit{1, 100_000, "", "give the number of pieces, or leave it out"}
	spacingLimit   = limit{10, 50_000, "mm", "give millimetres between the rings, e.g. 500"}
	sagLimit       = limit{0.1, 20_000, "mm", "give millimetres from the line of the rings up to the hook, above 0: no tension holds a straight wire"}
	lengthLimit    = limit{10, 100_000, "mm", "give millimetres of wire between the rings, e.g. 540"}
	centreLimit    = limit{0.1, 2000, "mm", "give millimetres from the wall to the centre of mass, e.g. half the depth of the panel"}
	leverLimit     = limit{10, 20_000, "mm", "give millimetres from the lower bearing up to the hook, e.g. 1100"}
	loadMassLimit  = limit{0.001, 100_000, "kg", "give the kilograms that the maker states, or leave it out when none are stated"}
	forceLimit     = limit{0.01, 1_000_000, "N", "give the newtons that the maker states, or leave it out when none are stated"}
	loadLimit      = limit{1, 20, "", "give a factor of 1 or more, or leave it out for 1"}
	designLimit    = limit{4, 20, "", "give a factor of 4 or more, or leave it out for 4"}
	boardLimit     = limit{3, 100, "mm", "give millimetres, e.g. 12.5"}
	belowLimit     = limit{0, 20_000, "mm", "give millimetres below the line, e.g. 300"}
	floorLimit     = limit{100, 50_000, "mm", "give millimetres from the line down to the floor, e.g. 2700"}
	dropLimit      = limit{-2000, 2000, "mm", "give millimetres, above 0 where the floor is lower"}
	resistLimit    = limit{0.01, 20, "m²K/W", "give thickness in metres divided by the thermal conductivity, e.g. 0.5"}
	insideLimit    = limit{0, 40, "°C", "give degrees Celsius"}
	outsideLimit   = limit{-50, 40, "°C", "give degrees Celsius"}
	humidityLimit  = limit{1, 100, "%", "give per cent, e.g. 50"}
	ringDropLimit  = limit{0, 5000, "mm", "give millimetres from the top edge down to the rings, cleat or clips, e.g. 150"}
	twoHookLimit   = limit{0, 20_000, "mm", "give millimetres from the rings up to their hooks, 0 for rings on the hooks"}
	positionLimit  = limit{0, 100_000, "mm", "give millimetres along the wall"}
	maxParts       = 200
	maxRow         = 500
	maxTextOfParts = 200
)

type checker struct{ catalog.Faults }

func (v *checker) limited(at string, x float64, l limit) { v.Within(at, x, l.lo, l.hi, l.unit, l.hint) }

func (v *checker) length(at string, x *units.Length, l limit) {
	if x != nil {
		v.limited(at, float64(*x), l)
	}
}

// figure checks a figure whose members on the wire are named name, and name with low or high before the unit.
func (v *checker) figure(at, name, unit string, r *Range, l limit) {
	if r == nil {
		return
	}
	v.limited(at+"/"+name+unit, r.Value, l)
	for _, end := range []struct {
		name string
		x    *float64
	}{{"_low", r.Low}, {"_high", r.High}} {
		if end.x != nil {
			v.limited(at+"/"+name+end.name+unit, *end.x, l)
		}
	}
	if s := r.span(); s.low > s.value || s.high < s.value {
		v.Add(at+"/"+name+unit, "bad_range", fmt.Sprintf("needs low <= value <= high, got %g, %g, %g", s.low, s.value, s.high), "put the three in order, or leave low and high out")
	}
}

func (v *checker) missing(at, fix string) { v.Add(at, "required", "is missing", fix) }

func (v *checker) unneeded(at string, given bool, why string) {
	if given {
		v.Add(at, "not_applicable", why, "leave it out")
	}
}

// Validate names every fault of the question.
func (q Question) Validate() error {
	v := &checker{}
	v.panel(q.Panel)
	v.Word("/system", string(q.System), words(systems))
	v.wires(q)
	if l := q.Lever; l != nil {
		v.unneeded("/lever", q.System == Overhead, "applies to panels on a wall")
		v.limited("/lever/centre_from_wall_mm", float64(l.Centre), centreLimit)
		v.limited("/lever/hook_above_bearing_mm", float64(l.Height), leverLimit)
	}
	v.hardware(q)
	if q.LoadFactor != 0 {
		v.limited("/load_factor", q.LoadFactor, loadLimit)
	}
	if q.DesignFactor != 0 {
		v.limited("/design_factor", q.DesignFactor, designLimit)
	}
	if q.Row != nil {
		v.row(q)
	}
	v.site(q.Site)
	if q.Climate != nil {
		v.climate(*q.Climate)
	}
	return v.Err()
}

func (v *checker) panel(p Panel) {
	v.figure("/panel", "mass", "_kg", p.Mass, massLimit)
	switch {
	case p.Mass == nil && len(p.Parts) == 0:
		v.Add("/panel", "required", "has neither a mass nor parts", "give mass_kg from a scale, or the parts")
	case p.Mass != nil && (len(p.Parts) > 0 || len(p.Without) > 0):
		v.Add("/panel", "conflict", "has a mass and parts", "give one of them: the mass from a scale goes before a sum")
	}
	if len(p.Parts) > maxParts {
		v.Add("/panel/parts", "too_many", fmt.Sprintf("may have at most %d elements", maxParts), "put equal pieces together with count")
	}
	for i, part := range p.Parts {
		v.part(fmt.Sprintf("/panel/parts/%d", i), part)
	}
	for i, k := range p.Without {
		at := fmt.Sprintf("/panel/without/%d", i)
		v.Word(at, string(k), words(expected))
		if slices.Contains(p.Without[:i], k) {
			v.Add(at, "twice", "is listed twice", "leave it out once")
		}
		if slices.ContainsFunc(p.Parts, func(part Part) bool { return part.Kind == k }) {
			v.Add(at, "conflict", "is among the parts as well", "leave it out of one of them")
		}
	}
}

func (v *checker) part(at string, p Part) {
	v.Word(at+"/kind", string(p.Kind), words(kinds))
	v.Text(at+"/name", p.Name, 0, maxTextOfParts)
	if p.Count != 0 {
		v.limited(at+"/count", float64(p.Count), countLimit)
	}
	v.figure(at, "mass", "_kg", p.Mass, massLimit)
	v.figure(at, "density", "_kg_per_m3", p.Density, densityLimit)
	v.figure(at, "surface_mass", "_kg_per_m2", p.SurfaceMass, surfaceLimit)
	ways := 0
	for _, given := range []bool{p.Mass != nil, p.Density != nil, p.SurfaceMass != nil, p.Wood != ""} {
		if given {
			ways++
		}
	}
	if ways > 1 {
		v.Add(at, "conflict", fmt.Sprintf("has %d ways to its mass", ways), "give one of mass_kg, density_kg_per_m3, surface_mass_kg_per_m2 and wood")
	}
	wood := woodNamed(p.Wood)
	if p.Wood != "" && wood == nil {
		list := make([]string, len(woods))
		for i, w := range woods {
			list[i] = w.Word
		}
		v.Word(at+"/wood", p.Wood, list)
	}
	if p.Moisture != nil {
		v.limited(at+"/moisture_percent", *p.Moisture, moistureLimit)
		v.unneeded(at+"/moisture_percent", p.Wood == "", "applies only to a wood")
		v.unneeded(at+"/moisture_percent", wood != nil && wood.Gravity == 0, "cannot be used: no specific gravity of this wood is in the table")
	}
	sides := []struct {
		name   string
		x      *units.Length
		needed bool
	}{
		{"/length_mm", p.Length, p.Density != nil || p.SurfaceMass != nil || p.Wood != ""},
		{"/width_mm", p.Width, p.Density != nil || p.SurfaceMass != nil || p.Wood != ""},
		{"/thickness_mm", p.Thickness, p.Density != nil || p.Wood != ""},
	}
	for _, s := range sides {
		v.length(at+s.name, s.x, sideLimit)
		if s.needed && s.x == nil {
			v.missing(at+s.name, "give it in millimetres, or give mass_kg instead")
		}
	}
}

func (v *checker) wire(at string, w Wire) {
	v.limited(at+"/ring_spacing_mm", float64(w.Spacing), spacingLimit)
	v.length(at+"/sag_mm", w.Sag, sagLimit)
	v.length(at+"/wire_length_mm", w.Length, lengthLimit)
	switch {
	case w.Sag == nil && w.Length == nil:
		v.missing(at+"/sag_mm", "give sag_mm or wire_length_mm")
	case w.Sag != nil && w.Length != nil:
		v.Add(at+"/wire_length_mm", "conflict", "is given beside sag_mm", "give one of them; the other follows")
	case w.Length != nil && float64(Sag(*w.Length, w.Spacing)) < sagLimit.lo:
		v.Add(at+"/wire_length_mm", "flat_wire", fmt.Sprintf("is no longer than the spacing of the rings, %g mm: no tension holds a straight wire", float64(w.Spacing)), "give the wire slack, or set the rings closer")
	}
}

func (v *checker) wires(q Question) {
	switch {
	case q.Wire != nil && q.System == WireOneHook:
		v.wire("/wire", *q.Wire)
	case q.Wire == nil && q.System == WireOneHook && (q.Row == nil || len(q.Row.Panels) == 0):
		v.missing("/wire", "give ring_spacing_mm with sag_mm or wire_length_mm")
	default:
		v.unneeded("/wire", q.Wire != nil, "applies only to wire_one_hook")
	}
}

func (v *checker) hardware(q Question) {
	if len(q.Hardware) > maxParts {
		v.Add("/hardware", "too_many", fmt.Sprintf("may have at most %d elements", maxParts), "shorten the list")
	}
	allowed := roles
	if list, known := rolesOf[q.System]; known {
		allowed = nil
		for _, r := range list {
			allowed = append(allowed, r.role)
		}
	}
	for i, p := range q.Hardware {
		at := fmt.Sprintf("/hardware/%d", i)
		v.Text(at+"/id", p.ID, 1, maxTextOfParts)
		if slices.ContainsFunc(q.Hardware[:i], func(other Piece) bool { return other.ID == p.ID }) {
			v.Add(at+"/id", "twice", "is used twice", "give each kind of hardware an id of its own")
		}
		v.Word(at+"/role", string(p.Role), words(allowed))
		if p.Count != 0 {
			v.limited(at+"/count", float64(p.Count), countLimit)
		}
		v.load(at+"/working_load", p.WorkingLoad)
		v.load(at+"/breaking_strength", p.BreakingStrength)
		if p.WorkingLoad != nil && p.BreakingStrength != nil {
			v.Add(at, "conflict", "has a working load and a breaking strength", "give the working load")
		}
		v.Text(at+"/source", p.Source, 0, 500)
		v.Text(at+"/board", p.Board, 0, maxTextOfParts)
		v.length(at+"/board_thickness_mm", p.BoardThickness, boardLimit)
		if p.Role != WallFixing {
			const why = "applies only to a wall_fixing"
			v.unneeded(at+"/rating_kind", p.Rating != "", why)
			v.unneeded(at+"/sits_in", p.Ground != "", why)
			v.unneeded(at+"/board", p.Board != "", why)
			v.unneeded(at+"/board_thickness_mm", p.BoardThickness != nil, why)
			continue
		}
		if p.Rating != "" {
			v.Word(at+"/rating_kind", string(p.Rating), words([]RatingKind{Shear, Pull, UnknownKind}))
		}
		if p.Ground != "" {
			v.Word(at+"/sits_in", string(p.Ground), words([]Ground{Board, Stud, Masonry, UnknownGround}))
		}
		if p.Ground == Stud || p.Ground == Masonry {
			const why = "applies only to a fixing in a board"
			v.unneeded(at+"/board", p.Board != "", why)
			v.unneeded(at+"/board_thickness_mm", p.BoardThickness != nil, why)
		}
	}
}

func (v *checker) load(at string, l *Load) {
	switch {
	case l == nil:
	case l.Kilograms:
		v.limited(at+"_kg", l.Value, loadMassLimit)
	default:
		v.limited(at+"_n", l.Value, forceLimit)
	}
}

func (v *checker) site(s Site) {
	for _, f := range []struct {
		at     string
		answer catalog.Answer
	}{{"over_people", s.OverPeople}, {"earthquake_region", s.Earthquakes}, {"near_electrics", s.Electrics}, {"outside_wall", s.OutsideWall}} {
		if f.answer != "" {
			v.Word("/site/"+f.at, string(f.answer), words([]catalog.Answer{catalog.Yes, catalog.No, catalog.Unknown}))
		}
	}
}

func (v *checker) climate(c Climate) {
	v.limited("/cold_wall/wall_resistance_m2_k_per_w", c.Wall, resistLimit)
	v.limited("/cold_wall/panel_resistance_m2_k_per_w", c.Panel, resistLimit)
	v.limited("/cold_wall/inside_c", c.Inside, insideLimit)
	v.limited("/cold_wall/outside_c", c.Outside, outsideLimit)
	v.limited("/cold_wall/humidity_percent", 100*c.Humidity, humidityLimit)
	if c.Outside >= c.Inside {
		v.Add("/cold_wall/outside_c", "out_of_range", fmt.Sprintf("must be below inside_c, %g", c.Inside), "give the outside temperature of a cold day")
	}
}

func words[T ~string](list []T) []string {
	out := make([]string, len(list))
	for i, w := range list {
		out[i] = string(w)
	}
	return out
}
