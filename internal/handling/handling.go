// Package handling says what a fill asks of the builder: the extra minutes it costs to
// work with, line by line, the protective equipment to wear, the mass to lift, and
// the cautions that its stored facts call for.
//
// Only what differs between fills is counted; building the frame and stretching the
// fabric take the same time whatever is inside. There is no hidden score: every
// line carries its formula, inputs and evidence, and a burden that is not known says
// so and is never nothing.
//
// Source of the model and of all defaults: the handling model of handling.md section 3,
// a convention of this project; only the kinds of protective equipment are
// published (section 1 of the same). Simplifications: one kind of tool (a knife), one
// fill per panel, sealing of edges only where the user asks for it.
package handling

import (
	"math"
	"slices"

	"sabinbook/internal/catalog"
	"sabinbook/internal/money"
	"sabinbook/internal/panels"
	"sabinbook/internal/units"
)

// Evidence says on what a line of the burden rests.
type Evidence string

// The grounds of a line.
const (
	ByPublished  Evidence = "published"
	ByConvention Evidence = "convention"
	ByUser       Evidence = "user" // stated by the asker, or measured and stored by the group
)

// Input is one named number that went into a formula.
type Input struct {
	Name  string
	Value float64
	Unit  string
}

// Line is one contribution to the burden.
type Line struct {
	Name     string // code: session_overhead, cutting, full_back_wrap, edge_sealing
	Formula  string // in the names of the inputs
	Inputs   []Input
	Quantity float64
	Unit     string
	Evidence Evidence
	Note     string // code, may be empty
}

// Terms are the asker's own figures. The zero value takes every default.
type Terms struct {
	Persons          int            // working at once; 0 for DefaultPersons
	PanelsPerSession int            // 0 for DefaultPanelsPerSession
	Overhead         *units.Minutes // per session and person: don and doff, sheet, vacuum, wash
	CutPerMetre      *units.Minutes // per metre of cut
	WrapPerArea      *units.Minutes // per square metre of back
	SealPerMetre     *units.Minutes // per metre of edge; nil where no edges are sealed
	CutLength        *units.Length  // per layer and panel; nil for width + height of the face
	ValueOfHour      *money.Amount  // never assumed
	Owned            []catalog.Role // protective equipment that is there already
	Lift             *Geometry      // nil for DefaultGeometry
}

// The defaults of the model. Source: handling.md section 3, convention.
const (
	DefaultPersons                        = 1
	DefaultPanelsPerSession               = 8
	DefaultWrapPerArea      units.Minutes = 3
	PanelsPerGlovePair                    = 6
)

// Validate names every fault of the terms for a count of panels, with pointers below
// /handling and /panel_count.
func (t Terms) Validate(count int) error {
	v := &catalog.Faults{}
	v.Within("/panel_count", float64(count), 1, math.MaxInt32, "", "give the number of panels, at least 1")
	v.Within("/handling/persons_count", float64(t.Persons), 0, 20, "", "give the number of people working at once, or leave it out for 1")
	v.Within("/handling/panels_per_session_count", float64(t.PanelsPerSession), 0, 500, "", "give the panels filled in one session, or leave it out for 8")
	minutes := func(at string, m *units.Minutes, hi float64) {
		if m != nil {
			v.Within(at, float64(*m), 0, hi, "min", "give minutes, or leave it out for the default")
		}
	}
	minutes("/handling/overhead_min", t.Overhead, 480)
	minutes("/handling/cutting_min_per_m", t.CutPerMetre, 60)
	minutes("/handling/wrap_min_per_m2", t.WrapPerArea, 240)
	minutes("/handling/sealing_min_per_m", t.SealPerMetre, 60)
	if t.CutLength != nil {
		v.Within("/handling/cut_length_mm", float64(*t.CutLength), 0, 100_000, "mm", "give the length of cut per layer and panel in millimetres")
	}
	if t.ValueOfHour != nil && t.ValueOfHour.Sign() < 0 {
		v.Add("/handling/value_of_hour/amount", "out_of_range", "must not be negative", "give the value of one hour, or leave it out")
	}
	if t.Lift != nil {
		t.Lift.validate(v)
	}
	return v.Err()
}

// Protection is the need for one kind of protective equipment.
type Protection struct {
	Role        catalog.Role
	Uses        int  // wearings: sessions × persons; panels for gloves
	UsesPerUnit int  // of the model; 0 for reusable things, whose life only a part can state
	ByPanels    bool // uses are panels, so the wearings that a part states do not apply
	AtLeast     int  // units that must be there at once: one for each person
	Owned       bool // costs nothing and stays listed
	Evidence    Evidence
}

// Burden is what handling asks for a number of panels.
type Burden struct {
	// Known is false when the fill's profile is other or not stated. Then there are no
	// lines and no protection, and Total and PerPanel mean nothing.
	Known        bool
	Count        int
	Persons      int
	Sessions     int
	Lines        []Line
	Total        units.Minutes // extra minutes for all panels
	PerPanel     units.Minutes
	FullBackWrap bool
	Protection   []Protection
	ValueOfHour  *money.Amount
	Mass         units.Mass // of one panel, without hardware
	MassKnown    bool
	Lift         Lift
	Cautions     []Caution
}

// profile is a row of the model's table.
type profile struct {
	overhead units.Minutes // per session and person
	cutting  units.Minutes // per metre, with a knife
	sheds    bool
	wear     []wear
}

// wear is one thing to wear: uses per unit, 0 for reusable.
type wear struct {
	role        catalog.Role
	usesPerUnit int
}

// profiles is the table of handling.md section 3: convention throughout, only the kinds
// of equipment are published (section 1: NIOSH Pocket Guide, trade pictograms).
var profiles = map[catalog.Profile]profile{
	catalog.Fibrous: {25, 1.0, true, []wear{{catalog.Respirator, 1}, {catalog.Gloves, PanelsPerGlovePair},
		{catalog.Goggles, 0}, {catalog.Coverall, 4}}},
	catalog.DustyPlant:  {15, 1.5, true, []wear{{catalog.Respirator, 1}, {catalog.Goggles, 0}, {catalog.LongSleeves, 0}}},
	catalog.WoolProfile: {10, 2.0, false, nil},
	catalog.PolyProfile: {5, 2.0, false, nil},
	catalog.FoamProfile: {5, 1.0, false, nil},
}

// For returns the burden of count panels of the build. count must be at least 1, as
// Terms.Validate checks; For panics otherwise.
//
// Source: handling.md section 3; the full back wrap is decided by panels.
func For(b panels.Build, count int, terms Terms) Burden {
	if count < 1 {
		panic("handling: a burden needs at least one panel")
	}
	persons, perSession := DefaultPersons, DefaultPanelsPerSession
	if terms.Persons > 0 {
		persons = terms.Persons
	}
	if terms.PanelsPerSession > 0 {
		perSession = terms.PanelsPerSession
	}
	mass, _, massKnown := b.Mass()
	burden := Burden{
		Count: count, Persons: persons, Sessions: (count + perSession - 1) / perSession,
		FullBackWrap: b.BackWrapped(), ValueOfHour: terms.ValueOfHour, Mass: mass, MassKnown: massKnown,
	}
	burden.Lift = liftFor(mass, massKnown, terms.Lift)
	row, known := profiles[b.Fill.Handling.Profile]
	burden.Known = known
	if known {
		burden.Lines = lines(b, burden, row, terms)
		burden.Total = Sum(burden.Lines)
		burden.PerPanel = burden.Total / units.Minutes(count)
		burden.Protection = protection(burden, row, terms)
	}
	burden.Cautions = cautionsFor(b.Fill, burden)
	return burden
}

// Sum adds the quantities of the lines. It adds whole millionths of a minute, so that
// the order of the lines changes nothing and leaving one out lowers the sum by just
// that line.
func Sum(lines []Line) units.Minutes {
	total := int64(0)
	for _, l := range lines {
		total += micro(l.Quantity)
	}
	return units.Minutes(float64(total) / 1e6)
}

func micro(minutes float64) int64 { return int64(math.Round(minutes * 1e6)) }

// LabourCost returns what the extra minutes are worth, rounded to the minor unit, or false when
// no value of an hour was given or the burden is not known.
//
//	cost = minutes / 60 · value of an hour
func (b Burden) LabourCost() (money.Amount, bool) {
	if b.ValueOfHour == nil || !b.Known {
		return money.Amount{}, false
	}
	return Worth(b.Total, *b.ValueOfHour), true
}

// Worth returns what a time is worth at a value of the hour, rounded half away from zero to
// the minor unit: value · minutes / 60.
func Worth(time units.Minutes, hour money.Amount) money.Amount {
	return hour.TimesRatio(micro(float64(time)), 60e6)
}

// largestHour is a value of the hour in micro-units that fits into an amount with room to spare.
const largestHour = 1e18

// HourOf returns the value of the hour at which a time is worth the amount, rounded half
// away from zero to the minor unit: 60 · amount / minutes. It is false without any time, and
// when there is so little that the value would be larger than an amount can be.
// Source: costing_problem.md sections 1 and 8.
func HourOf(a money.Amount, time units.Minutes) (money.Amount, bool) {
	m := micro(float64(time))
	if m <= 0 || math.Abs(float64(a.Micro()))*60e6/float64(m) > largestHour {
		return money.Amount{}, false
	}
	return a.TimesRatio(60e6, m), true
}

// choice returns the asker's figure when there is one, else the default.
func choice(user *units.Minutes, byDefault units.Minutes) (units.Minutes, Evidence) {
	if user != nil {
		return *user, ByUser
	}
	return byDefault, ByConvention
}

func lines(b panels.Build, burden Burden, row profile, terms Terms) []Line {
	list := make([]Line, 0, 4)
	count := float64(burden.Count)

	overhead, evidence := choice(terms.Overhead, row.overhead)
	list = append(list, line("session_overhead", "sessions × persons × overhead", evidence, "",
		Input{"sessions", float64(burden.Sessions), ""}, Input{"persons", float64(burden.Persons), ""},
		Input{"overhead", float64(overhead), "min"}))

	cut, note := b.Design.Width+b.Design.Height, "cut_width_plus_height"
	if terms.CutLength != nil {
		cut, note = *terms.CutLength, "cut_length_given"
	}
	perMetre, evidence := choice(terms.CutPerMetre, row.cutting)
	if own := b.Fill.Handling.Cutting; own != nil && terms.CutPerMetre == nil {
		// A time stored with the fill was measured by a maker: user evidence (handling.md section 3).
		perMetre, evidence = own.Value, ByUser
	}
	list = append(list, line("cutting", "panels × layers × cut_length × cutting_time", evidence, note,
		Input{"panels", count, ""}, Input{"layers", float64(b.Layers), ""},
		Input{"cut_length", cut.Metres(), "m"}, Input{"cutting_time", float64(perMetre), "min/m"}))

	if burden.FullBackWrap {
		perArea, evidence := choice(terms.WrapPerArea, DefaultWrapPerArea)
		list = append(list, line("full_back_wrap", "panels × back_area × wrap_time", evidence, "",
			Input{"panels", count, ""}, Input{"back_area", float64(b.Design.Face()), "m2"},
			Input{"wrap_time", float64(perArea), "min/m2"}))
	}
	if terms.SealPerMetre != nil && row.sheds {
		edge := 2 * (b.Design.Width + b.Design.Height)
		list = append(list, line("edge_sealing", "panels × edge_length × sealing_time", ByUser, "",
			Input{"panels", count, ""}, Input{"edge_length", edge.Metres(), "m"},
			Input{"sealing_time", float64(*terms.SealPerMetre), "min/m"}))
	}
	return list
}

// line is the product of its inputs in minutes.
func line(name, formula string, evidence Evidence, note string, inputs ...Input) Line {
	product := 1.0
	for _, in := range inputs {
		product *= in.Value
	}
	return Line{name, formula, inputs, product, "min", evidence, note}
}

func protection(burden Burden, row profile, terms Terms) []Protection {
	list := make([]Protection, 0, len(row.wear))
	for _, w := range row.wear {
		p := Protection{Role: w.role, Uses: burden.Sessions * burden.Persons, UsesPerUnit: w.usesPerUnit,
			AtLeast: burden.Persons, Owned: slices.Contains(terms.Owned, w.role), Evidence: ByConvention}
		if w.role == catalog.Gloves {
			p.Uses, p.ByPanels = burden.Count, true
		}
		list = append(list, p)
	}
	return list
}

// Units returns how many whole units of a part are needed, and how many uses of how many
// in them are spent. partUses is what the part itself states, 0 for nothing.
//
//	units = max(at least, ⌈uses / uses per unit⌉)
//
// A part's own statement goes before the model's figure; a reusable thing whose life
// nobody states counts as spent whole.
func (p Protection) Units(partUses int) (count, used, available int) {
	perUnit := p.UsesPerUnit
	if partUses > 0 && !p.ByPanels {
		perUnit = partUses
	}
	if perUnit == 0 {
		return p.AtLeast, p.AtLeast, p.AtLeast
	}
	count = max(p.AtLeast, (p.Uses+perUnit-1)/perUnit)
	return count, p.Uses, count * perUnit
}
