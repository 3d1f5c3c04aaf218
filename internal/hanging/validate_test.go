package hanging_test

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"sabinbook/internal/catalog"
	"sabinbook/internal/hanging"
)

func faultsOf(t *testing.T, q hanging.Question) []catalog.Fault {
	t.Helper()
	var invalid *catalog.InvalidError
	if err := q.Validate(); err != nil && !errors.As(err, &invalid) {
		t.Fatal(err)
	} else if err == nil {
		return nil
	}
	return invalid.Faults
}

func TestFaultsAreNamedWhereTheyAre(t *testing.T) {
	part := func(p hanging.Part) func(*hanging.Question) {
		return func(q *hanging.Question) { q.Panel = hanging.Panel{Parts: []hanging.Part{p}} }
	}
	piece := func(p hanging.Piece) func(*hanging.Question) {
		return func(q *hanging.Question) { q.Hardware = []hanging.Piece{p} }
	}
	row := func(r hanging.Row) func(*hanging.Question) {
		return func(q *hanging.Question) { q.Row = &r }
	}
	ok := hanging.RowPanel{ID: "a", RingDrop: 150, Spacing: mm(500), Length: mm(520)}
	panels := func(list ...hanging.RowPanel) []hanging.RowPanel { return list }
	with := func(change func(*hanging.RowPanel)) hanging.RowPanel { p := ok; change(&p); return p }
	low, high, wet := 7.0, 5.0, 45.0
	for _, c := range []struct {
		name     string
		change   func(*hanging.Question)
		at, code string
	}{
		{"no mass", func(q *hanging.Question) { q.Panel = hanging.Panel{} }, "/panel", "required"},
		{"mass of a lorry", func(q *hanging.Question) { q.Panel.Mass.Value = 6000 }, "/panel/mass_kg", "out_of_range"},
		{"no number", func(q *hanging.Question) { q.Panel.Mass.Value = math.NaN() }, "/panel/mass_kg", "out_of_range"},
		{"low above", func(q *hanging.Question) { q.Panel.Mass.Low = &low }, "/panel/mass_kg", "bad_range"},
		{"high below", func(q *hanging.Question) { q.Panel.Mass.High = &high }, "/panel/mass_kg", "bad_range"},
		{"mass and parts", func(q *hanging.Question) { q.Panel.Parts = lantern().Parts }, "/panel", "conflict"},
		{"too many parts", func(q *hanging.Question) {
			q.Panel = hanging.Panel{Parts: slices.Repeat([]hanging.Part{{Kind: hanging.OtherKind}}, 201)}
		}, "/panel/parts", "too_many"},
		{"unknown kind", part(hanging.Part{Kind: "lid"}), "/panel/parts/0/kind", "unknown_word"},
		{"unknown wood", part(hanging.Part{Kind: hanging.Frame, Wood: "ironwood", Length: mm(1), Width: mm(1), Thickness: mm(1)}), "/panel/parts/0/wood", "unknown_word"},
		{"wood without sides", part(hanging.Part{Kind: hanging.Frame, Wood: "c24", Length: mm(1), Width: mm(1)}), "/panel/parts/0/thickness_mm", "required"},
		{"fabric without sides", part(hanging.Part{Kind: hanging.Fabric, SurfaceMass: &hanging.Range{Value: 0.3}, Length: mm(1)}), "/panel/parts/0/width_mm", "required"},
		{"fabric in grams", part(hanging.Part{Kind: hanging.Fabric, SurfaceMass: &hanging.Range{Value: 300}, Length: mm(1), Width: mm(1)}), "/panel/parts/0/surface_mass_kg_per_m2", "out_of_range"},
		{"two ways", part(hanging.Part{Kind: hanging.Fill, Mass: &hanging.Range{Value: 1}, Density: &hanging.Range{Value: 45}, Length: mm(1), Width: mm(1), Thickness: mm(1)}), "/panel/parts/0", "conflict"},
		{"negative count", part(hanging.Part{Kind: hanging.Hardware, Count: -1}), "/panel/parts/0/count", "out_of_range"},
		{"wet wood", part(hanging.Part{Kind: hanging.Frame, Wood: "noble_fir", Moisture: &wet, Length: mm(1), Width: mm(1), Thickness: mm(1)}), "/panel/parts/0/moisture_percent", "out_of_range"},
		{"moisture of a class", part(hanging.Part{Kind: hanging.Frame, Wood: "c24", Moisture: &high, Length: mm(1), Width: mm(1), Thickness: mm(1)}), "/panel/parts/0/moisture_percent", "not_applicable"},
		{"moisture of nothing", part(hanging.Part{Kind: hanging.Frame, Moisture: &high}), "/panel/parts/0/moisture_percent", "not_applicable"},
		{"without what is there", func(q *hanging.Question) { q.Panel = lantern(); q.Panel.Without[0] = hanging.Fill }, "/panel/without/0", "conflict"},
		{"without twice", func(q *hanging.Question) { q.Panel = lantern(); q.Panel.Without = []hanging.Kind{"back", "back"} }, "/panel/without/1", "twice"},
		{"without other", func(q *hanging.Question) { q.Panel = lantern(); q.Panel.Without[0] = hanging.OtherKind }, "/panel/without/0", "unknown_word"},
		{"unknown system", func(q *hanging.Question) { q.System = "magnets" }, "/system", "unknown_word"},
		{"no wire", func(q *hanging.Question) { q.Wire = nil }, "/wire", "required"},
		{"wire of a cleat", func(q *hanging.Question) { q.System = hanging.FrenchCleat }, "/wire", "not_applicable"},
		{"straight wire", func(q *hanging.Question) { q.Wire.Sag = mm(0) }, "/wire/sag_mm", "out_of_range"}, // hanging.md section 6: h = 0 refused
		{"hook below the rings", func(q *hanging.Question) { q.Wire.Sag = mm(-60) }, "/wire/sag_mm", "out_of_range"},
		{"wire as long as the spacing", func(q *hanging.Question) { q.Wire.Sag, q.Wire.Length = nil, mm(500) }, "/wire/wire_length_mm", "flat_wire"},
		{"wire shorter than the spacing", func(q *hanging.Question) { q.Wire.Sag, q.Wire.Length = nil, mm(400) }, "/wire/wire_length_mm", "flat_wire"},
		{"sag and length", func(q *hanging.Question) { q.Wire.Length = mm(520) }, "/wire/wire_length_mm", "conflict"},
		{"neither", func(q *hanging.Question) { q.Wire.Sag = nil }, "/wire/sag_mm", "required"},
		{"rings in one place", func(q *hanging.Question) { q.Wire.Spacing = 0 }, "/wire/ring_spacing_mm", "out_of_range"},
		{"lever of nothing", func(q *hanging.Question) { q.Lever = &hanging.Lever{Centre: 50} }, "/lever/hook_above_bearing_mm", "out_of_range"},
		{"lever overhead", func(q *hanging.Question) {
			q.System, q.Wire, q.Lever = hanging.Overhead, nil, &hanging.Lever{Centre: 50, Height: 100}
		}, "/lever", "not_applicable"},
		{"load factor below 1", func(q *hanging.Question) { q.LoadFactor = 0.5 }, "/load_factor", "out_of_range"},
		{"design factor below 4", func(q *hanging.Question) { q.DesignFactor = 2 }, "/design_factor", "out_of_range"},
		{"hardware without id", piece(hanging.Piece{Role: hanging.Hook}), "/hardware/0/id", "required"},
		{"clip on a wire", piece(hanging.Piece{ID: "x", Role: hanging.Clip}), "/hardware/0/role", "unknown_word"},
		{"load of nothing", piece(hanging.Piece{ID: "x", Role: hanging.Hook, WorkingLoad: kilograms(0)}), "/hardware/0/working_load_kg", "out_of_range"},
		{"strength of nothing", piece(hanging.Piece{ID: "x", Role: hanging.Hook, BreakingStrength: newtons(0)}), "/hardware/0/breaking_strength_n", "out_of_range"},
		{"load and strength", piece(hanging.Piece{ID: "x", Role: hanging.Hook, WorkingLoad: kilograms(1), BreakingStrength: kilograms(4)}), "/hardware/0", "conflict"},
		{"direction of a hook", piece(hanging.Piece{ID: "x", Role: hanging.Hook, Rating: hanging.Shear}), "/hardware/0/rating_kind", "not_applicable"},
		{"unknown direction", piece(hanging.Piece{ID: "x", Role: hanging.WallFixing, Rating: "up"}), "/hardware/0/rating_kind", "unknown_word"},
		{"unknown ground", piece(hanging.Piece{ID: "x", Role: hanging.WallFixing, Ground: "sand"}), "/hardware/0/sits_in", "unknown_word"},
		{"board of a stud", piece(hanging.Piece{ID: "x", Role: hanging.WallFixing, Ground: hanging.Stud, BoardThickness: mm(12)}), "/hardware/0/board_thickness_mm", "not_applicable"},
		{"hardware twice", func(q *hanging.Question) {
			q.Hardware = []hanging.Piece{{ID: "x", Role: hanging.Hook}, {ID: "x", Role: hanging.Ring}}
		}, "/hardware/1/id", "twice"},
		{"too much hardware", func(q *hanging.Question) {
			q.Hardware = slices.Repeat([]hanging.Piece{{ID: "x", Role: hanging.Hook}}, 201)
		}, "/hardware", "too_many"},
		{"row overhead", func(q *hanging.Question) { q.System, q.Wire, q.Row = hanging.Overhead, nil, &hanging.Row{} }, "/row", "not_applicable"},
		{"row of nothing", row(hanging.Row{TopBelowLine: 300}), "/row/panels", "out_of_range"},
		{"row above the line", row(hanging.Row{TopBelowLine: -1, Panels: panels(ok)}), "/row/top_below_line_mm", "out_of_range"},
		{"panel twice", row(hanging.Row{TopBelowLine: 300, Panels: panels(ok, ok)}), "/row/panels/1/id", "twice"},
		{"panel without a wire", row(hanging.Row{TopBelowLine: 300, Panels: panels(hanging.RowPanel{ID: "a"})}), "/row/panels/0/ring_spacing_mm", "required"},
		{"panel with a straight wire", row(hanging.Row{TopBelowLine: 300, Panels: panels(with(func(p *hanging.RowPanel) { p.Length = mm(500) }))}), "/row/panels/0/wire_length_mm", "flat_wire"},
		{"rings above the panel", row(hanging.Row{TopBelowLine: 300, Panels: panels(with(func(p *hanging.RowPanel) { p.RingDrop = -10 }))}), "/row/panels/0/ring_drop_mm", "out_of_range"},
		{"hook above the line", row(hanging.Row{TopBelowLine: 10, Panels: panels(with(func(p *hanging.RowPanel) { p.RingDrop = 20 }))}), "/row/panels/0", "above_line"},
		{"height without a floor", row(hanging.Row{TopBelowLine: 300, Panels: panels(with(func(p *hanging.RowPanel) { p.Height = mm(1200) }))}), "/row/panels/0/height_mm", "not_applicable"},
		{"floor without a drop", row(hanging.Row{TopBelowLine: 300, Panels: panels(ok), Floor: &hanging.Floor{BelowLine: 2700}}), "/row/panels/0/floor_drop_mm", "required"},
		{"half a slope", row(hanging.Row{TopBelowLine: 300, Panels: panels(ok), Floor: &hanging.Floor{BelowLine: 2700, Drop: mm(30)}}), "/row/floor", "conflict"},
		{"slope over nothing", row(hanging.Row{TopBelowLine: 300, Panels: panels(with(func(p *hanging.RowPanel) { p.Position = mm(0) })), Floor: &hanging.Floor{BelowLine: 2700, Drop: mm(30), Over: mm(0)}}), "/row/floor/over_mm", "out_of_range"},
		{"panel somewhere", row(hanging.Row{TopBelowLine: 300, Panels: panels(ok), Floor: &hanging.Floor{BelowLine: 2700, Drop: mm(30), Over: mm(6000)}}), "/row/panels/0/position_mm", "required"},
		{"panel beyond the floor", row(hanging.Row{TopBelowLine: 300, Panels: panels(with(func(p *hanging.RowPanel) { p.Position = mm(7000) })), Floor: &hanging.Floor{BelowLine: 2700, Drop: mm(30), Over: mm(6000)}}), "/row/panels/0/position_mm", "out_of_range"},
		{"panel through the floor", row(hanging.Row{TopBelowLine: 300, Panels: panels(with(func(p *hanging.RowPanel) { p.Drop, p.Height = mm(0), mm(2500) })), Floor: &hanging.Floor{BelowLine: 2700}}), "/row/panels/0/height_mm", "below_floor"},
		{"hook below the floor", row(hanging.Row{TopBelowLine: 3000, Panels: panels(with(func(p *hanging.RowPanel) { p.Drop = mm(0) })), Floor: &hanging.Floor{BelowLine: 2700}}), "/row/panels/0", "below_floor"},
		{"row of two hooks without a sag", func(q *hanging.Question) {
			q.System, q.Wire, q.Row = hanging.TwoHooks, nil, &hanging.Row{TopBelowLine: 300, Panels: panels(hanging.RowPanel{ID: "a"})}
		}, "/row/panels/0/sag_mm", "required"},
		{"row of cleats with a sag", func(q *hanging.Question) {
			q.System, q.Wire, q.Row = hanging.FrenchCleat, nil, &hanging.Row{TopBelowLine: 300, Panels: panels(hanging.RowPanel{ID: "a", Sag: mm(5)})}
		}, "/row/panels/0/sag_mm", "not_applicable"},
		{"row of cleats with a wire", func(q *hanging.Question) {
			q.System, q.Wire, q.Row = hanging.FrenchCleat, nil, &hanging.Row{TopBelowLine: 300, Panels: panels(ok)}
		}, "/row/panels/0/ring_spacing_mm", "not_applicable"},
		{"perhaps over people", func(q *hanging.Question) { q.Site.OverPeople = "perhaps" }, "/site/over_people", "unknown_word"},
		{"warm outside", func(q *hanging.Question) {
			q.Climate = &hanging.Climate{Wall: 0.5, Panel: 2.8, Inside: 20, Outside: 20, Humidity: 0.5}
		}, "/cold_wall/outside_c", "out_of_range"},
		{"dry room", func(q *hanging.Question) {
			q.Climate = &hanging.Climate{Wall: 0.5, Panel: 2.8, Inside: 20, Outside: 0}
		}, "/cold_wall/humidity_percent", "out_of_range"},
	} {
		t.Run(c.name, func(t *testing.T) {
			q := six()
			c.change(&q)
			faults := faultsOf(t, q)
			if !slices.ContainsFunc(faults, func(f catalog.Fault) bool { return f.Pointer == c.at && f.Code == c.code }) {
				t.Errorf("%+v, want %s at %s", faults, c.code, c.at)
			}
			for _, f := range faults {
				if f.Detail == "" || f.Fix == "" {
					t.Errorf("%+v", f)
				}
			}
		})
	}
}

// All faults are named at once, and those of a question without faults are none.
func TestAllFaultsAtOnce(t *testing.T) {
	q := hanging.Question{System: "magnets", LoadFactor: -1, DesignFactor: 1, Site: hanging.Site{OverPeople: "?"}, Climate: &hanging.Climate{Inside: 80},
		Hardware: []hanging.Piece{{Role: "glue"}}, Row: &hanging.Row{TopBelowLine: -1}}
	at := map[string]bool{}
	for _, f := range faultsOf(t, q) {
		at[strings.Split(f.Pointer, "/")[1]] = true
	}
	for _, want := range []string{"panel", "system", "load_factor", "design_factor", "site", "cold_wall", "hardware", "row"} {
		if !at[want] {
			t.Errorf("nothing is said of %s", want)
		}
	}
	if err := six().Validate(); err != nil {
		t.Error(err)
	}
}
