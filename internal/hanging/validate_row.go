package hanging

import (
	"fmt"
	"slices"
)

// row checks a row of panels: the places, and that every hook comes to be between the line and the floor.
func (v *checker) row(q Question) {
	r := q.Row
	if q.System == Overhead {
		v.Add("/row", "not_applicable", "applies to panels on a wall", "leave it out")
		return
	}
	v.limited("/row/top_below_line_mm", float64(r.TopBelowLine), belowLimit)
	if n := len(r.Panels); n == 0 || n > maxRow {
		v.Within("/row/panels", float64(n), 1, float64(maxRow), "panels", "list the panels of the row")
	}
	if f := r.Floor; f != nil {
		v.limited("/row/floor/line_above_floor_mm", float64(f.BelowLine), floorLimit)
		v.length("/row/floor/drop_mm", f.Drop, dropLimit)
		v.length("/row/floor/over_mm", f.Over, spacingLimit)
		if (f.Drop == nil) != (f.Over == nil) {
			v.Add("/row/floor", "conflict", "has one of drop_mm and over_mm", "give both, or neither and floor_drop_mm for each panel")
		}
	}
	for i, p := range r.Panels {
		at := fmt.Sprintf("/row/panels/%d", i)
		v.Text(at+"/id", p.ID, 1, maxTextOfParts)
		if slices.ContainsFunc(r.Panels[:i], func(other RowPanel) bool { return other.ID == p.ID }) {
			v.Add(at+"/id", "twice", "is used twice", "give each panel an id of its own")
		}
		v.limited(at+"/ring_drop_mm", float64(p.RingDrop), ringDropLimit)
		v.length(at+"/height_mm", p.Height, sideLimit)
		placed := v.hung(at, q.System, p)
		if v.floored(at, r.Floor, p) && placed {
			v.between(at, q, p)
		}
	}
}

// hung checks what a panel of a row hangs by, and reports whether its sag is known.
func (v *checker) hung(at string, system System, p RowPanel) bool {
	if system == WireOneHook {
		if p.Spacing == nil {
			v.missing(at+"/ring_spacing_mm", "give ring_spacing_mm with sag_mm or wire_length_mm")
			return false
		}
		v.wire(at, p.wire())
		return p.Sag != nil || p.Length != nil
	}
	v.unneeded(at+"/ring_spacing_mm", p.Spacing != nil, "applies only to wire_one_hook")
	v.unneeded(at+"/wire_length_mm", p.Length != nil, "applies only to wire_one_hook")
	if system != TwoHooks {
		v.unneeded(at+"/sag_mm", p.Sag != nil, "applies only to wire_one_hook and two_hooks")
		return true
	}
	if p.Sag == nil {
		v.missing(at+"/sag_mm", "give how far the rings are below their hooks, 0 for rings on the hooks")
		return false
	}
	v.limited(at+"/sag_mm", float64(*p.Sag), twoHookLimit)
	return true
}

// floored checks what is said of the floor at a panel, and reports whether its height is known.
func (v *checker) floored(at string, f *Floor, p RowPanel) bool {
	v.length(at+"/floor_drop_mm", p.Drop, dropLimit)
	v.length(at+"/position_mm", p.Position, positionLimit)
	if f == nil {
		const why = "applies only with floor"
		v.unneeded(at+"/floor_drop_mm", p.Drop != nil, why)
		v.unneeded(at+"/position_mm", p.Position != nil, why)
		v.unneeded(at+"/height_mm", p.Height != nil, why)
		return true
	}
	switch {
	case p.Drop != nil:
		return true
	case f.Drop == nil || f.Over == nil:
		v.missing(at+"/floor_drop_mm", "give how much lower the floor is here, or drop_mm and over_mm of the floor")
		return false
	case p.Position == nil:
		v.missing(at+"/position_mm", "give where along the wall the panel hangs, or floor_drop_mm")
		return false
	case *p.Position > *f.Over:
		v.Add(at+"/position_mm", "out_of_range", fmt.Sprintf("must be at most over_mm, %g, got %g", float64(*f.Over), float64(*p.Position)), "measure the floor as far as the panels go")
		return false
	}
	return *f.Over > 0
}

// between checks that the hook is below the line, and hook and lower edge above the floor.
func (v *checker) between(at string, q Question, p RowPanel) {
	drill := q.drill(p)
	if drill <= 0 {
		v.Add(at, "above_line", fmt.Sprintf("its hook would be %.1f mm above the line", -float64(drill)), "lower the row, fix the rings lower, or shorten the wire")
	}
	f := q.Row.Floor
	if f == nil {
		return
	}
	floor := f.BelowLine + f.dropAt(p)
	if drill >= floor {
		v.Add(at, "below_floor", fmt.Sprintf("its hook would be %.1f mm below the floor", float64(drill-floor)), "check the heights")
	}
	if p.Height != nil && q.Row.TopBelowLine+*p.Height > floor {
		v.Add(at+"/height_mm", "below_floor", fmt.Sprintf("its lower edge would be %.1f mm below the floor", float64(q.Row.TopBelowLine+*p.Height-floor)), "raise the row, or check the heights")
	}
}
