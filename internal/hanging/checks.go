package hanging

import (
	"slices"

	"sabinbook/internal/units"
)

// Role is what a piece of hardware does.
type Role string

// The roles.
const (
	WireRole   Role = "wire"
	Ring       Role = "ring" // on the frame
	Hook       Role = "hook" // on the wall
	Cleat      Role = "cleat"
	Clip       Role = "z_clip"
	WallFixing Role = "wall_fixing" // nail, screw, plug or anchor that holds hook, cleat or clip in the wall
)

var roles = []Role{WireRole, Ring, Hook, Cleat, Clip, WallFixing}

// rolesOf lists the roles that a system can have, and whether it has each in any case: rings may
// sit on two hooks without a wire.
var rolesOf = map[System][]struct {
	role   Role
	always bool
}{
	WireOneHook: {{WireRole, true}, {Ring, true}, {Hook, true}, {WallFixing, true}},
	TwoHooks:    {{WireRole, false}, {Ring, true}, {Hook, true}, {WallFixing, true}},
	FrenchCleat: {{Cleat, true}, {WallFixing, true}},
	ZClips:      {{Clip, true}, {WallFixing, true}},
}

// RatingKind is the direction for which a wall fixing is rated.
type RatingKind string

// The directions.
const (
	Shear       RatingKind = "shear"   // along the wall
	Pull        RatingKind = "tension" // away from it
	UnknownKind RatingKind = "unknown"
)

// Ground is what a wall fixing sits in.
type Ground string

// The grounds.
const (
	Board         Ground = "board" // gypsum or other board between studs
	Stud          Ground = "stud"
	Masonry       Ground = "masonry"
	UnknownGround Ground = "unknown"
)

// Load is a load as its maker states it: kilograms that may hang, or newtons.
type Load struct {
	Value     float64
	Kilograms bool
}

// Force returns the load as a force, kilograms under StandardGravity.
func (l Load) Force() units.Force {
	if l.Kilograms {
		return Weight(units.Mass(l.Value))
	}
	return units.Force(l.Value)
}

// input returns the load as it was entered and how a formula turns it into newtons.
func (l Load) input(name string) (formula string, inputs []Input) {
	if l.Kilograms {
		return name + " × gravity", []Input{{name, l.Value, "kg"}, {"gravity", StandardGravity, "m/s2"}}
	}
	return name, []Input{{name, l.Value, "N"}}
}

// Piece is a kind of hardware with what is declared of one piece. At most one of WorkingLoad and
// BreakingStrength is given.
type Piece struct {
	ID               string
	Role             Role
	Count            int // 0 for not stated
	WorkingLoad      *Load
	BreakingStrength *Load
	// The rest is of wall fixings: the rating holds for one direction and one ground, and of a
	// board for its kind and thickness.
	Rating         RatingKind
	Ground         Ground
	Board          string
	BoardThickness *units.Length
	Source         string // on what the rating rests, in the asker's words
}

// Verdict compares a load with a rating.
type Verdict string

// The verdicts.
const (
	Within   Verdict = "within_rating"
	Above    Verdict = "above_rating"
	NotKnown Verdict = "not_known"
)

// Reason says why a verdict is not known.
type Reason string

// The reasons.
const (
	NotListed        Reason = "not_listed"          // the system has the role and the question does not
	NotDeclared      Reason = "not_declared"        // no working load and no breaking strength
	MassUnknown      Reason = "mass_unknown"        // and the known part alone is not above the rating
	RatingUnknown    Reason = "rating_kind_unknown" // shear or tension
	GroundUnknown    Reason = "wall_unknown"
	BoardUnknown     Reason = "board_unknown"    // kind or thickness
	PullOutUnknown   Reason = "pull_out_unknown" // of a rating in tension without a lever
	OverheadNoRating Reason = "overhead"
)

// Check is the comparison for one kind of hardware.
type Check struct {
	ID       string // empty for what the question does not list
	Role     Role
	Load     *Figure // on one piece, N; nil where it is not known
	Even     *Figure // the load if all pieces shared alike; told beside, never compared
	Needed   *Figure // load × load factor
	Declared *Figure // working load, entered or from a breaking strength; nil where none is declared
	Factor   float64 // declared / load; 0 where one of them is not known
	Verdict  Verdict
	Reason   Reason // of NotKnown
}

// equalEnough is the share by which a load may exceed a rating through the arithmetic of
// binary fractions alone. Convention.
const equalEnough = 1e-9

// checks compares every piece that is listed, and names the roles that are not.
func (q Question) checks(a Answer, wire *Wire) []Check {
	var list []Check
	for _, p := range q.Hardware {
		list = append(list, q.check(p, a, wire))
	}
	for _, r := range rolesOf[q.System] {
		if r.always && !slices.ContainsFunc(q.Hardware, func(p Piece) bool { return p.Role == r.role }) {
			list = append(list, Check{Role: r.role, Verdict: NotKnown, Reason: NotListed})
		}
	}
	return list
}

func (q Question) check(p Piece, a Answer, wire *Wire) Check {
	c := Check{ID: p.ID, Role: p.Role, Verdict: NotKnown}
	if q.System == Overhead {
		c.Reason = OverheadNoRating
		return c
	}
	c.Declared = p.declared(a.DesignFactor)
	load, formula, inputs, source, ok := q.loadOn(p, Weight(a.Mass.High), wire)
	needed := load * units.Force(a.LoadFactor)
	if ok && a.Mass.Known {
		c.Load = &Figure{"load", formula, inputs, float64(load), "N", source}
		c.Needed = &Figure{"needed", "load × load_factor", []Input{{"load", float64(load), "N"}, {"load_factor", a.LoadFactor, ""}}, float64(needed), "N", "load factor as asked; 1 when left out"}
		if p.Count > 1 && source == shareSource {
			c.Even = &Figure{"even_share", "load / count", []Input{{"load", float64(load), "N"}, {"count", float64(p.Count), ""}}, float64(load) / float64(p.Count), "N", "told beside, not compared: pieces seldom share alike"}
		}
	}
	if c.Declared == nil {
		c.Reason = NotDeclared
		return c
	}
	if c.Reason = p.open(ok); c.Reason != "" {
		return c
	}
	rating := units.Force(c.Declared.Value)
	if !a.Mass.Known {
		// What is known of the mass may be too much already; that it is enough cannot be said.
		known, _, _, _, _ := q.loadOn(p, Weight(a.Mass.Low), wire)
		if known*units.Force(a.LoadFactor) > rating*(1+equalEnough) {
			c.Verdict = Above
		} else {
			c.Reason = MassUnknown
		}
		return c
	}
	c.Factor = float64(rating / load)
	c.Verdict = Within
	if needed > rating*(1+equalEnough) {
		c.Verdict = Above
	}
	return c
}

// declared returns the working load that is declared of the piece, or nil.
func (p Piece) declared(designFactor float64) *Figure {
	switch {
	case p.WorkingLoad != nil:
		formula, inputs := p.WorkingLoad.input("working_load")
		return &Figure{"declared", formula, inputs, float64(p.WorkingLoad.Force()), "N", p.source()}
	case p.BreakingStrength != nil:
		formula, inputs := p.BreakingStrength.input("breaking_strength")
		return &Figure{"declared", formula + " / design_factor", append(inputs, Input{"design_factor", designFactor, ""}),
			float64(WorkingLoad(p.BreakingStrength.Force(), designFactor)), "N", p.source() + "; " + factorSource}
	}
	return nil
}

func (p Piece) source() string {
	if p.Source == "" {
		return enteredSource
	}
	return enteredSource + ": " + p.Source
}

// open says what keeps the rating of a wall fixing from being compared, or nothing. Source: hanging.md
// section 2: unknown kind or thickness, no verdict.
func (p Piece) open(loadKnown bool) Reason {
	switch {
	case p.Role != WallFixing:
		return ""
	case p.Rating != Shear && p.Rating != Pull:
		return RatingUnknown
	case p.Ground != Board && p.Ground != Stud && p.Ground != Masonry:
		return GroundUnknown
	case p.Ground == Board && (p.Board == "" || p.BoardThickness == nil):
		return BoardUnknown
	case !loadKnown:
		return PullOutUnknown
	}
	return ""
}

// loadOn returns the load on one piece for a weight, with its formula; false when it cannot be told.
func (q Question) loadOn(p Piece, w units.Force, wire *Wire) (load units.Force, formula string, inputs []Input, source string, ok bool) {
	weight := Input{"weight", float64(w), "N"}
	switch {
	case p.Role == WallFixing && p.Rating == Pull:
		if q.Lever == nil {
			return 0, "", nil, "", false
		}
		return PullOut(w, q.Lever.Centre, q.Lever.Height), "weight × centre / lever", []Input{weight,
			{"centre", float64(q.Lever.Centre), "mm"}, {"lever", float64(q.Lever.Height), "mm"}}, momentSource, true
	case p.Role == WallFixing && p.Rating != Shear:
		return 0, "", nil, "", false
	case q.System == WireOneHook && (p.Role == WireRole || p.Role == Ring):
		return Tension(w, wire.legs()), "weight / (2 × sin(angle))", []Input{weight, {"angle", wire.legs().Degrees(), "deg"}}, legSource, true
	}
	return w, "weight", []Input{weight}, shareSource, true
}
