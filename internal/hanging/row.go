package hanging

import "sabinbook/internal/units"

// Row is a row of panels whose tops are to be in line below a ceiling line, which may be the
// ceiling itself or a level line struck on the wall.
type Row struct {
	TopBelowLine units.Length
	Panels       []RowPanel
	Floor        *Floor // nil where heights above the floor are not asked
}

// RowPanel is one panel of a row.
type RowPanel struct {
	ID       string
	RingDrop units.Length // of the rings, cleat or clips below the top edge
	// Spacing and either Sag or Length are of WireOneHook, each panel's own, because wires differ.
	// TwoHooks has Sag alone: how far the rings are below their hooks, 0 for rings on the hooks.
	Spacing, Sag, Length *units.Length
	Height               *units.Length
	Position             *units.Length // along the wall from where the floor was measured first
	Drop                 *units.Length // measured: how much lower the floor is here; negative where it is higher
}

// Floor is an uneven floor: so far below the line at the start, and lower by Drop after Over along the wall.
type Floor struct {
	BelowLine  units.Length
	Drop, Over *units.Length // nil where every panel has its own Drop
}

// RowPlace is where a panel of a row is drilled. Figures are nil where they are not asked.
type RowPlace struct {
	ID         string
	Sag        *Figure // of a wire whose length was given
	Angle      *Figure // of a wire
	Tension    *Figure // of a wire: what the weight is multiplied by
	BelowLine  Figure  // of the hook, cleat or clip
	FloorDrop  *Figure
	AboveFloor *Figure
	Clearance  *Figure // of the lower edge above the floor
	// HookAboveEdge is how far the hook stands above the top edge, where it can be seen; 0 or
	// less where it is hidden.
	HookAboveEdge units.Length
}

// RowAnswer tells where the panels of a row are drilled.
type RowAnswer struct {
	Places []RowPlace
	// Step is how far the floor differs along the row, by which panels measured from the floor
	// would be out of line; nil without a floor.
	Step *Figure
}

// wire returns the wire of a panel that hangs by one.
func (p RowPanel) wire() Wire { return Wire{Spacing: *p.Spacing, Sag: p.Sag, Length: p.Length} }

// sag returns how far the rings of a panel hang below the hook.
func (p RowPanel) sag(system System) units.Length {
	switch system {
	case WireOneHook:
		return p.wire().sag()
	case TwoHooks:
		return *p.Sag
	}
	return 0
}

// dropAt returns how much lower the floor is at a panel than at the start: measured, or along
// an even slope.
func (f Floor) dropAt(p RowPanel) units.Length {
	if p.Drop != nil {
		return *p.Drop
	}
	return *f.Drop * *p.Position / *f.Over
}

// drill returns how far below the line the hook of a panel goes.
func (q Question) drill(p RowPanel) units.Length {
	return DrillDepth(q.Row.TopBelowLine, p.RingDrop, p.sag(q.System))
}

func (q Question) rowAnswer() *RowAnswer {
	r := q.Row
	a := &RowAnswer{}
	var least, most units.Length
	for i, p := range r.Panels {
		sag, drill := p.sag(q.System), q.drill(p)
		place := RowPlace{ID: p.ID, HookAboveEdge: sag - p.RingDrop, BelowLine: millimetres("below_line", "top_below_line + ring_drop − sag", drill, derivedSource,
			Input{"top_below_line", float64(r.TopBelowLine), "mm"}, Input{"ring_drop", float64(p.RingDrop), "mm"}, Input{"sag", float64(sag), "mm"})}
		if q.System == WireOneHook {
			shape := p.wire().figures()
			if p.Sag == nil {
				place.Sag, shape = &shape[0], shape[1:]
			}
			place.Angle, place.Tension = &shape[0], &shape[1]
		}
		if f := r.Floor; f != nil {
			drop := f.dropAt(p)
			if i == 0 {
				least, most = drop, drop
			}
			least, most = min(least, drop), max(most, drop)
			place.FloorDrop = floorFigure(f, p, drop)
			place.AboveFloor = pointer(millimetres("above_floor", "line_above_floor + floor_drop − below_line", f.BelowLine+drop-drill, "heights of one place",
				Input{"line_above_floor", float64(f.BelowLine), "mm"}, Input{"floor_drop", float64(drop), "mm"}, Input{"below_line", float64(drill), "mm"}))
			if p.Height != nil {
				place.Clearance = pointer(millimetres("clearance", "line_above_floor + floor_drop − top_below_line − height", f.BelowLine+drop-r.TopBelowLine-*p.Height, "heights of one place",
					Input{"line_above_floor", float64(f.BelowLine), "mm"}, Input{"floor_drop", float64(drop), "mm"}, Input{"top_below_line", float64(r.TopBelowLine), "mm"}, Input{"height", float64(*p.Height), "mm"}))
			}
		}
		a.Places = append(a.Places, place)
	}
	if r.Floor != nil {
		a.Step = pointer(millimetres("floor_step", "largest floor_drop − least floor_drop", most-least, "heights of one place",
			Input{"largest", float64(most), "mm"}, Input{"least", float64(least), "mm"}))
	}
	return a
}

func floorFigure(f *Floor, p RowPanel, drop units.Length) *Figure {
	if p.Drop != nil {
		return pointer(millimetres("floor_drop", "floor_drop", drop, "as measured", Input{"floor_drop", float64(drop), "mm"}))
	}
	return pointer(millimetres("floor_drop", "drop × position / over", drop, "convention: the floor falls evenly",
		Input{"drop", float64(*f.Drop), "mm"}, Input{"position", float64(*p.Position), "mm"}, Input{"over", float64(*f.Over), "mm"}))
}

func millimetres(name, formula string, value units.Length, source string, inputs ...Input) Figure {
	return Figure{name, formula, inputs, float64(value), "mm", source}
}

func pointer[T any](x T) *T { return &x }
