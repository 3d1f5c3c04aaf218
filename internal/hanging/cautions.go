package hanging

import (
	"slices"

	"sabinbook/internal/catalog"
)

// Caution is the code of a remark that goes with an answer. Its words come from Text.
type Caution string

// The cautions.
const (
	QualifiedPerson     Caution = "qualified_person"
	OverheadCaution     Caution = "overhead"
	OverPeople          Caution = "over_people"
	Earthquakes         Caution = "earthquakes"
	Electrics           Caution = "electrics"
	ColdWall            Caution = "cold_wall"
	CondensationSeen    Caution = "condensation_likely"
	MouldSeen           Caution = "mould_range"
	SteadyOnly          Caution = "steady_state_only"
	KeepClear           Caution = "keep_clear"
	PartsUnknown        Caution = "mass_unknown"
	RangeMissing        Caution = "mass_range_missing"
	WeighIt             Caution = "weigh_it"
	FlatWire            Caution = "flat_wire"
	SlackMatters        Caution = "slack_matters"
	OneCarriesAll       Caution = "one_carries_all"
	BreakingStrength    Caution = "breaking_strength"
	WallFixings         Caution = "wall_fixings"
	Studs               Caution = "studs"
	VerdictIsArithmetic Caution = "verdict_is_arithmetic"
	EachPanel           Caution = "measure_each_panel"
	HookSeen            Caution = "hook_above_edge"
	UnevenFloor         Caution = "uneven_floor"
)

// said holds the words of a code and where they come from.
type said struct {
	text, source string
}

// cautionTexts is in the order in which cautions are given. They are those of hanging.md sections 1 to 5 and fire.md
// section 6. No text draws a conclusion that
// fire.md section 5, handling.md section 4 or hanging.md section 2 forbids.
var cautionTexts = []struct {
	code Caution
	said
}{
	{QualifiedPerson, said{"These are figures for planning and replace no qualified person who has seen the wall. Where local code, the maker's instructions or a licensed tradesperson say otherwise, follow them.", "convention"}},
	{OverheadCaution, said{"Overhead there is neither load nor verdict here. It needs a qualified installer, two independent fixings per panel, a retention cable, hardware that its maker rates for overhead use, the permission of the building's owner, and local code.", "common practice; overhead installation is left to those qualified for it (convention)"}},
	{OverPeople, said{"Do not hang a panel over a bed, a chair or a couch.", "FEMA (2008)"}},
	{Earthquakes, said{"Where the ground may shake: eye hooks long enough to go through the board and 1 to 2 inches (25 to 50 mm) into the stud, two hooks rather than one, closed hooks or screws fast to the frame, so that the panel cannot jump off. Public rooms have rules of their own. Nothing is computed for it here.", "FEMA (2008); FEMA E-74 (4th ed. 2012); ASCE 7 chapter 13"}},
	{Electrics, said{"Keep light strips, drivers and plug-in supplies out of the panel and the space behind it; leave sockets, boxes and radiators uncovered; mount drivers in free air as their instructions say; look for cables before drilling; ask a licensed electrician about fixed wiring.", "NEC 410.116(B) as quoted by electricians; BS 7671 on cables in insulation; advice: convention"}},
	{ColdWall, said{"On outside, cellar or damp walls a panel keeps the room's warmth from the wall while damp air still reaches it. Leave an air gap that is open at the top and the bottom, look behind it from time to time, or use an inside wall. Do not seal it; never cover mould that is there; ask a professional where damp persists.", "WHO (2009); EN ISO 13788, from memory"}},
	{CondensationSeen, said{"By these figures the wall behind the panel is at or below the dew point of the room's air: water is likely to condense there.", "resistances in series and the Magnus formula"}},
	{MouldSeen, said{"By these figures the air at the wall behind the panel comes to 80 per cent relative humidity or more: if that lasts, mould can grow.", "criterion of EN ISO 13788, from memory"}},
	{SteadyOnly, said{"The temperatures are those of a steady state of a plain wall. Corners, thermal bridges, changing weather and damp from the ground are not in them.", "convention: what a steady state leaves out"}},
	{KeepClear, said{"Leave exits, signs, detectors, sprinklers and vents uncovered. The class of a fill or a fabric is not that of the panel; local code and the authority having jurisdiction decide.", "convention; a class holds for what was tested (EN 13501-1, end-use condition)"}},
	{PartsUnknown, said{"The mass of some parts is not known and not counted: the panel weighs more than the sum. No load is given. Weigh the panel or the part.", "convention"}},
	{RangeMissing, said{"Some masses came without a range and count as they are at both ends. The true one may be above the heavy end.", "convention"}},
	{WeighIt, said{"A sum over parts stands in for a scale. Weigh the finished panel and ask again with its mass.", "convention"}},
	{FlatWire, said{"The legs of a wire rise less than 30 degrees: the wire and each ring carry more than the whole weight, and the flatter the wire the more, without end. Give the wire more slack, set the rings closer, or use two hooks.", "statics of two equal legs; 30 degrees is a convention"}},
	{SlackMatters, said{"A little slack changes the height of the hook by more than itself, the more the flatter the wire. Measure with the wire drawn taut as it will hang, and again after a day: wire and knots settle.", "derived: geometry of a taut wire; common practice"}},
	{OneCarriesAll, said{"Of two hooks, and of the pieces of a cleat or of clips, one is taken to carry the whole panel, because it may come to that.", "convention"}},
	{BreakingStrength, said{"A breaking strength is no service load. It is divided by the design factor; a working load that the maker states is better than that.", "as taught with ASME B30.9, seen in a secondary source; 4 for picture hardware is common practice"}},
	{WallFixings, said{"The maker's number for a wall fixing holds for a static load, for the stated kind of board and its thickness, and usually along the wall; away from the wall it is another and lower number. Twice the anchors are not twice the rating of the board.", "makers' practice, common practice"}},
	{Studs, said{"Prefer studs for anything heavy. They usually stand 16 or 24 inches (406 or 610 mm) apart in North America and 400 or 600 mm elsewhere; look for them, do not count on it.", "Gypsum Association guidance on wall-hung fixtures; spacings are common practice"}},
	{VerdictIsArithmetic, said{"A verdict compares a load at rest with the number that was entered. It says nothing of the wall behind, of how the work is done, of knocks, wear or corrosion.", "convention"}},
	{EachPanel, said{"Heights are worked out panel by panel, because wires differ. Mark each panel and its place, and measure all of them down from one line.", "derived: geometry of a taut wire"}},
	{HookSeen, said{"A hook stands above the top edge of its panel and can be seen. Fix the rings lower, or shorten the wire if its legs stay at 30 degrees or more.", "derived"}},
	{UnevenFloor, said{"The floor is not level: panels measured up from it would be out of line by the step. Measure down from the line.", "derived"}},
}

// Cautions lists every caution in the order in which they are given.
func Cautions() []Caution {
	list := make([]Caution, len(cautionTexts))
	for i, c := range cautionTexts {
		list[i] = c.code
	}
	return list
}

// Text returns the words of the caution and their source; both are empty for a code that
// does not exist.
func (c Caution) Text() (text, source string) {
	for _, t := range cautionTexts {
		if t.code == c {
			return t.text, t.source
		}
	}
	return "", ""
}

// verdictTexts are the only words for a verdict. Source: hanging.md section 2.
var verdictTexts = map[Verdict]string{
	Within:   "within the rating you entered",
	Above:    "above the rating you entered",
	NotKnown: "not known",
}

// Text returns the words of the verdict.
func (v Verdict) Text() string { return verdictTexts[v] }

// reasonTexts say why a verdict is not known and what would help.
var reasonTexts = map[Reason]string{
	NotListed:        "nothing of this kind is listed, though this way of hanging has it; add it with the load that its maker states",
	NotDeclared:      "no load is declared; look on the pack or ask the maker",
	MassUnknown:      "the mass of the panel is not known; weigh it",
	RatingUnknown:    "whether the rating is along the wall or away from it is not known; ask the maker",
	GroundUnknown:    "what the fixing sits in is not known; say whether it is a board, a stud or masonry",
	BoardUnknown:     "the kind of board or its thickness is not known, and the rating holds for one kind and thickness only",
	PullOutUnknown:   "the pull away from the wall is not known; give the lever",
	OverheadNoRating: "overhead there is no verdict; it needs a qualified installer",
}

// Text returns the words of the reason.
func (r Reason) Text() string { return reasonTexts[r] }

// cautionsFor gathers the cautions that a question and its answer call for. What is not known
// of the place is warned of like what is so.
func cautionsFor(q Question, a Answer) []Caution {
	overhead := q.System == Overhead
	unless := func(answer catalog.Answer) bool { return answer != catalog.No }
	anyPlace := func(is func(RowPlace) bool) bool { return a.Row != nil && slices.ContainsFunc(a.Row.Places, is) }
	wire := q.flattest()
	worked := wire != nil && wire.Length != nil || anyPlace(func(p RowPlace) bool { return p.Sag != nil })
	calls := map[Caution]bool{
		QualifiedPerson:     true,
		OverheadCaution:     overhead,
		OverPeople:          unless(q.Site.OverPeople),
		Earthquakes:         unless(q.Site.Earthquakes),
		Electrics:           unless(q.Site.Electrics),
		ColdWall:            unless(q.Site.OutsideWall) || q.Climate != nil,
		CondensationSeen:    a.Damp != nil && a.Damp.Outcome == CondensationLikely,
		MouldSeen:           a.Damp != nil && a.Damp.Outcome == MouldRange,
		SteadyOnly:          a.Damp != nil,
		KeepClear:           true,
		PartsUnknown:        !a.Mass.Known,
		RangeMissing:        q.rangeMissing(a),
		WeighIt:             !a.Mass.Weighed,
		FlatWire:            wire != nil && wire.legs().Degrees() < leastLegAngle-1e-9,
		SlackMatters:        worked,
		OneCarriesAll:       !overhead && q.System != WireOneHook,
		BreakingStrength:    slices.ContainsFunc(q.Hardware, func(p Piece) bool { return p.BreakingStrength != nil }),
		WallFixings:         !overhead,
		Studs:               !overhead,
		VerdictIsArithmetic: slices.ContainsFunc(a.Checks, func(c Check) bool { return c.Verdict != NotKnown }),
		EachPanel:           a.Row != nil,
		HookSeen:            anyPlace(func(p RowPlace) bool { return p.HookAboveEdge > 0 }),
		UnevenFloor:         a.Row != nil && a.Row.Step != nil && a.Row.Step.Value > 0,
	}
	var list []Caution
	for _, t := range cautionTexts {
		if calls[t.code] {
			list = append(list, t.code)
		}
	}
	return list
}

// rangeMissing reports whether some known mass has no range.
func (q Question) rangeMissing(a Answer) bool {
	if q.Panel.Mass != nil {
		return !q.Panel.Mass.span().stated
	}
	return slices.ContainsFunc(a.Mass.Lines, func(l MassLine) bool { return l.Known && !l.RangeStated })
}
