package ranking

import (
	"errors"
	"fmt"
	"slices"

	"sabinbook/internal/catalog"
	"sabinbook/internal/costing"
	"sabinbook/internal/handling"
	"sabinbook/internal/money"
	"sabinbook/internal/panels"
	"sabinbook/internal/rooms"
	"sabinbook/internal/units"
)

// Show says which of the options with a place are in the answer.
type Show string

// What is shown.
const (
	ShowAll     Show = "all"
	BestPerFill Show = "best_per_fill" // the first option of each fill, each with its place among these
)

var shows = []string{string(ShowAll), string(BestPerFill)}

// Basis says on what absorption may rest.
type Basis string

// The bases.
const (
	BestBasis  Basis = "best"  // a test where there is one, else the model
	ModelBasis Basis = "model" // the model alone, the same for all
)

var bases = []string{string(BestBasis), string(ModelBasis)}

// CountFrom says where the number of panels comes from.
type CountFrom string

// What the number of panels comes from.
const (
	Asked    CountFrom = ""     // Brief.PanelCount, the same for all options
	FromRoom CountFrom = "room" // the least with which an option brings the room within its target
)

// Bounds of a brief. Convention.
const (
	MaxPanels = 500
	MaxLayers = 2
	MaxLimit  = 200
	MaxDraws  = 20_000
	MaxWhy    = 10
	maxGaps   = 10
)

// Brief is a question for a ranking.
type Brief struct {
	PanelCount int // 0 where it follows from the room
	CountFrom  CountFrom
	Design     panels.Design
	LayersMax  int
	AirGaps    []units.Length // behind the fill
	Fills      []string       // ids or slugs; empty for all
	Fabrics    []string       // ids or slugs; empty for all
	Families   []catalog.Family
	// Options are the keys of the only candidates; empty for all. Each has the figures that it has
	// among all, and the same order; what is drawn is drawn among these alone.
	Options  []string
	Purpose  Purpose
	Order    Order
	Show     Show
	Limit    int
	Room     *rooms.Question // in which the panels are hung, without panels; nil for none
	Limits   Limits
	Basis    Basis
	Draws    Draws
	Why      []string // keys of options whose figures are wanted step by step
	Terms    costing.Terms
	Handling handling.Terms
}

// StandardBrief returns the brief where the asker gives nothing but the number of panels, the
// day and the currency: the standard design, one or two layers, against the wall and
// with 50 mm of air, flat purpose, absorption per cost, prices of at most a year.
func StandardBrief(count int, today catalog.Date, currency money.Currency) Brief {
	terms := costing.DefaultTerms(today, currency)
	terms.MaxAgeDays = 365
	return Brief{
		PanelCount: count, Design: panels.StandardDesign(), LayersMax: 2, AirGaps: []units.Length{0, 50},
		Purpose: FlatPurpose(), Order: ByAbsorptionPerCost, Show: ShowAll, Limit: 50, Basis: BestBasis, Draws: Draws{DefaultDraws, 1}, Terms: terms,
		Handling: handling.Terms{Persons: handling.DefaultPersons, PanelsPerSession: handling.DefaultPanelsPerSession},
	}
}

// Validate names every fault of the brief that can be seen without a catalog.
func (b Brief) Validate() error {
	v := &catalog.Faults{}
	b.checkCount(v)
	b.Design.Check(v, "/panel")
	v.Within("/layers_max_count", float64(b.LayersMax), 1, MaxLayers, "layers", "ask for 1 or 2")
	if n := len(b.AirGaps); n < 1 || n > maxGaps {
		v.Add("/air_gaps_mm", "out_of_range", fmt.Sprintf("must hold 1 to %d gaps, got %d", maxGaps, n), "list the gaps to compare, e.g. [0, 50]")
	}
	for i, g := range b.AirGaps {
		v.Within(fmt.Sprintf("/air_gaps_mm/%d", i), float64(g), 0, 500, "mm", "give millimetres, e.g. 50; 0 for none")
		if slices.Contains(b.AirGaps[:i], g) {
			v.Add(fmt.Sprintf("/air_gaps_mm/%d", i), "duplicate", fmt.Sprintf("the gap of %g mm is listed twice", float64(g)), "keep one")
		}
	}
	for i, f := range b.Families {
		v.Word(fmt.Sprintf("/families/%d", i), string(f), wordsOf(catalog.Families()))
	}
	v.Word("/order", string(b.Order), orders)
	v.Word("/show", string(b.Show), shows)
	v.Within("/limit", float64(b.Limit), 1, MaxLimit, "options", "ask for fewer; the counts in the answer tell how many there are")
	v.Word("/basis", string(b.Basis), bases)
	b.checkRoom(v)
	checkKeys(v, "/why", b.Why, MaxWhy)
	checkKeys(v, "/options", b.Options, MaxOptions)
	b.Limits.validate(v, b.Terms.Currency)
	v.Within("/draws/count", float64(b.Draws.Count), 0, MaxDraws, "", "give the number of draws, 0 for none; 2000 is enough for shares to within 0.02")
	if a := b.Handling.ValueOfHour; a != nil && a.Currency() != b.Terms.Currency {
		v.Add("/handling/value_of_hour/currency", "disagrees", fmt.Sprintf("is %s, the question's currency is %s", a.Currency(), b.Terms.Currency), "give it in the currency of the question; nothing is converted")
	}
	checkHandling(v, b.Handling)
	return join(v.Err(), b.Terms.Validate(), b.Handling.Validate(max(1, b.PanelCount)))
}

// checkHandling names the faults of handling terms that their own rules take for defaults.
func checkHandling(v *catalog.Faults, h handling.Terms) {
	for i, r := range h.Owned {
		v.Word(fmt.Sprintf("/owned_roles/%d", i), string(r), wordsOf(catalog.Roles()))
	}
	// The handling model takes 0 for its default; a question is echoed as it is used and says it.
	if h.Persons == 0 {
		v.Add("/handling/persons_count", "out_of_range", "must be 1 to 20, got 0", "give the number of people working at once, or leave it out for 1")
	}
	if h.PanelsPerSession == 0 {
		v.Add("/handling/panels_per_session_count", "out_of_range", "must be 1 to 500, got 0", "give the panels filled in one session, or leave it out for 8")
	}
}

// checkCount names every fault of the number of panels, and of an order that needs it from the room.
func (b Brief) checkCount(v *catalog.Faults) {
	if b.CountFrom != Asked {
		v.Word("/panel_count_from", string(b.CountFrom), []string{string(FromRoom)})
	}
	switch {
	case b.CountFrom == Asked:
		v.Within("/panel_count", float64(b.PanelCount), 1, MaxPanels, "panels", "ask for 1 to 500 panels, plan larger jobs in parts; or let panel_count_from be room")
		if b.Order == ByCostToTarget {
			v.Add("/order", "not_applicable", "cost_to_target orders by what reaching the target of a room costs, and the number of panels is fixed", "give a room and panel_count_from room instead of panel_count, or take another order")
		}
	case b.PanelCount != 0:
		v.Add("/panel_count", "conflict", "is given, and panel_count_from too", "give one of them")
	case b.Room == nil:
		v.Add("/room", "required", "is missing: the number of panels is to come from it", "give room, or panel_count")
	case b.Room.Panels == nil && b.inRoom(nil).Validate() == nil && b.inRoom(nil).Shortfall().None():
		v.Add("/panel_count_from", "not_applicable", "the room is within its target without panels", "give panel_count, or a shorter target")
	}
}

func wordsOf[T ~string](list []T) []string {
	out := make([]string, len(list))
	for i, w := range list {
		out[i] = string(w)
	}
	return out
}

// join makes one InvalidError of several, without repeating a fault.
func join(errs ...error) error {
	var all []catalog.Fault
	for _, err := range errs {
		var invalid *catalog.InvalidError
		switch {
		case err == nil:
		case errors.As(err, &invalid):
			for _, f := range invalid.Faults {
				if !slices.Contains(all, f) {
					all = append(all, f)
				}
			}
		default:
			return err
		}
	}
	if all == nil {
		return nil
	}
	return &catalog.InvalidError{Faults: all}
}

// Chosen returns the fills and fabrics that the brief asks for, in the order of the snapshot. The
// error is a *catalog.InvalidError when it names what the snapshot does not have.
func (b Brief) Chosen(s catalog.Snapshot) ([]catalog.Fill, []catalog.Fabric, error) {
	v := &catalog.Faults{}
	fills := pick(s.Fills, b.Fills, func(f catalog.Fill) catalog.Meta { return f.Meta }, "/fills", "fill", v)
	fabrics := pick(s.Fabrics, b.Fabrics, func(f catalog.Fabric) catalog.Meta { return f.Meta }, "/fabrics", "fabric", v)
	if len(b.Families) > 0 {
		fills = slices.DeleteFunc(slices.Clone(fills), func(f catalog.Fill) bool { return !slices.Contains(b.Families, f.Family) })
	}
	fills, fabrics = b.named(v, fills, fabrics)
	return fills, fabrics, join(v.Err(), b.Terms.FindStock(s))
}

func pick[T any](all []T, asked []string, meta func(T) catalog.Meta, at, noun string, v *catalog.Faults) []T {
	if len(asked) == 0 {
		return all
	}
	wanted := map[string]bool{}
	for i, name := range asked {
		found := slices.ContainsFunc(all, func(t T) bool { m := meta(t); return string(m.ID) == name || string(m.Slug) == name })
		if !found {
			v.Add(fmt.Sprintf("%s/%d", at, i), "unknown_reference", fmt.Sprintf("there is no %s %q", noun, name), "use the id or the slug of a stored "+noun)
		}
		wanted[name] = true
	}
	var list []T
	for _, t := range all {
		if m := meta(t); wanted[string(m.ID)] || wanted[string(m.Slug)] {
			list = append(list, t)
		}
	}
	return list
}
