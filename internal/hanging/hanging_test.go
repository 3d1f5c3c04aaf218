package hanging_test

import (
	"slices"
	"testing"

	"pgregory.net/rapid"

	"sabinbook/internal/catalog"
	"sabinbook/internal/hanging"
	"sabinbook/internal/units"
)

func mm(x float64) *units.Length { l := units.Length(x); return &l }

func kilograms(x float64) *hanging.Load { return &hanging.Load{Value: x, Kilograms: true} }

func newtons(x float64) *hanging.Load { return &hanging.Load{Value: x} }

// nowhere is a place where nothing needs a warning.
var nowhere = hanging.Site{OverPeople: catalog.No, Earthquakes: catalog.No, Electrics: catalog.No, OutsideWall: catalog.No}

// lantern is the panel of the mass example of handling.md section 3: 18 x 100 mm softwood C16, 3.528 m; fill of 45
// kg/m³, 1.164 x 0.564 x 0.1 m; 1.5 x 0.9 m of fabric of 0.3 kg/m².
func lantern() hanging.Panel {
	return hanging.Panel{Parts: []hanging.Part{
		{Kind: hanging.Frame, Wood: "c16", Count: 2, Length: mm(1200), Width: mm(100), Thickness: mm(18)},
		{Kind: hanging.Frame, Wood: "c16", Count: 2, Length: mm(564), Width: mm(100), Thickness: mm(18)},
		{Kind: hanging.Fill, Density: &hanging.Range{Value: 45}, Length: mm(1164), Width: mm(564), Thickness: mm(100)},
		{Kind: hanging.Fabric, SurfaceMass: &hanging.Range{Value: 0.3}, Length: mm(1500), Width: mm(900)},
	}, Without: []hanging.Kind{hanging.Back}}
}

// six is a panel of 6.0 kg that hangs as the example "ours" of hanging.md section 1.
func six(hardware ...hanging.Piece) hanging.Question {
	return hanging.Question{Panel: hanging.Panel{Mass: &hanging.Range{Value: 6}}, System: hanging.WireOneHook,
		Wire: &hanging.Wire{Spacing: 500, Sag: mm(60)}, Hardware: hardware, Site: nowhere}
}

// valid answers a question after Validate.
func valid(t interface {
	Helper()
	Fatal(...any)
}, q hanging.Question) hanging.Answer {
	t.Helper()
	if err := q.Validate(); err != nil {
		t.Fatal(err)
	}
	return hanging.For(q)
}

func figure(t *testing.T, list []hanging.Figure, name string) hanging.Figure {
	t.Helper()
	i := slices.IndexFunc(list, func(f hanging.Figure) bool { return f.Name == name })
	if i < 0 {
		t.Fatalf("no %s in %v", name, list)
	}
	return list[i]
}

// Mass example of handling.md section 3: 2.350 + 2.954 + 0.405 = 5.709 kg with glue, staples and hardware extra. They
// are extra: unknown, named, and without them there is no mass and no load.
func TestMassOfParts(t *testing.T) {
	a := valid(t, hanging.Question{Panel: lantern(), System: hanging.FrenchCleat})
	masses := map[hanging.Kind]float64{}
	var unknown []hanging.Kind
	for _, l := range a.Mass.Lines {
		masses[l.Kind] += float64(l.Mass)
		if !l.Known {
			unknown = append(unknown, l.Kind)
		}
	}
	near(t, "frame", masses[hanging.Frame], 2.350, 0.0005)
	near(t, "fill", masses[hanging.Fill], 2.954, 0.0006) // 2.95425; the reference cuts the last place
	near(t, "fabric", masses[hanging.Fabric], 0.405, 1e-9)
	near(t, "sum", float64(a.Mass.Mass), 5.709, 0.0006)
	if a.Mass.Known || !slices.Equal(unknown, []hanging.Kind{hanging.Hardware, hanging.Adhesive}) {
		t.Errorf("known %v, unknown %v", a.Mass.Known, unknown)
	}
	if len(a.Loads) != 0 || !slices.Contains(a.Cautions, hanging.PartsUnknown) {
		t.Errorf("loads %v, cautions %v", a.Loads, a.Cautions)
	}

	p := lantern()
	p.Parts = append(p.Parts, hanging.Part{Kind: hanging.Hardware, Mass: &hanging.Range{Value: 0.02}, Count: 2}, hanging.Part{Kind: hanging.Adhesive})
	if a = valid(t, hanging.Question{Panel: p, System: hanging.FrenchCleat}); a.Mass.Known {
		t.Error("adhesive of unknown mass counts as known")
	}
	p.Parts, p.Without = p.Parts[:len(p.Parts)-1], append(p.Without, hanging.Adhesive)
	heavy := hanging.Panel{Parts: slices.Clone(p.Parts), Without: p.Without}
	heavy.Parts[2] = hanging.Part{Kind: hanging.Fill, Name: "slab from the shed"}
	if a = valid(t, hanging.Question{Panel: heavy, System: hanging.FrenchCleat}); a.Mass.Known {
		t.Error("a fill of unknown mass before known parts counts as known")
	}
	a = valid(t, hanging.Question{Panel: p, System: hanging.FrenchCleat})
	if !a.Mass.Known {
		t.Error("all parts are stated and the mass is not known")
	}
	near(t, "all", float64(a.Mass.Mass), 5.709+0.04, 0.0006)
	// Loads take the heavy end: C16 is 17 per cent heavier there, the others have no range.
	near(t, "heavy end", float64(a.Mass.High), float64(a.Mass.Mass)+0.17*2.350, 0.001)
	near(t, "weight", figure(t, a.Loads, "weight").Value, float64(hanging.Weight(a.Mass.High)), 1e-12)
}

// The example "ours" of hanging.md sections 1 and 6 through the question, and the shares without a mass.
func TestWireOfTheQuestion(t *testing.T) {
	a := valid(t, six())
	near(t, "angle", figure(t, a.Wire, "wire_angle").Value, 13.496, 0.0005)
	near(t, "share", figure(t, a.Wire, "tension_share").Value, 2.142, 0.0005)
	near(t, "T", figure(t, a.Loads, "wire_tension").Value, 126.06, 0.005)
	near(t, "P", figure(t, a.Loads, "ring_side_pull").Value, 122.58, 0.005)
	near(t, "hook", figure(t, a.Loads, "hook_load").Value, 6*9.80665, 1e-12)
	if !slices.Contains(a.Cautions, hanging.FlatWire) {
		t.Error("a wire of 13 degrees is not called flat")
	}
	q := six()
	q.Wire.Sag = mm(250 * 0.5773502691896258) // tan 30 degrees
	if slices.Contains(valid(t, q).Cautions, hanging.FlatWire) {
		t.Error("a wire of 30 degrees is called flat")
	}
	q.Panel = lantern()
	if a = valid(t, q); len(a.Wire) != 3 || len(a.Loads) != 0 {
		t.Errorf("%v, %v", a.Wire, a.Loads)
	}
	q.System, q.Wire, q.Panel = hanging.TwoHooks, nil, hanging.Panel{Mass: &hanging.Range{Value: 6}}
	near(t, "leg", figure(t, valid(t, q).Loads, "leg_load").Value, 3*9.80665, 1e-12)
}

func TestChecks(t *testing.T) {
	fixing := func(kind hanging.RatingKind, ground hanging.Ground, board string, thickness *units.Length) hanging.Piece {
		return hanging.Piece{ID: "x", Role: hanging.WallFixing, WorkingLoad: kilograms(20), Rating: kind, Ground: ground, Board: board, BoardThickness: thickness}
	}
	lever := &hanging.Lever{Centre: 50, Height: 1100}
	ask := func(change func(*hanging.Question)) func(*hanging.Question) { return change }
	same := ask(func(*hanging.Question) {})
	for _, c := range []struct {
		name    string
		change  func(*hanging.Question)
		piece   hanging.Piece
		verdict hanging.Verdict
		reason  hanging.Reason
		factor  float64
	}{
		{"a hook for just the panel", same, hanging.Piece{ID: "x", Role: hanging.Hook, WorkingLoad: kilograms(6)}, hanging.Within, "", 1},
		{"a hook for less", same, hanging.Piece{ID: "x", Role: hanging.Hook, WorkingLoad: kilograms(5.99)}, hanging.Above, "", 5.99 / 6},
		{"two hooks that would do together", same, hanging.Piece{ID: "x", Role: hanging.Hook, Count: 2, WorkingLoad: kilograms(3)}, hanging.Above, "", 0.5},
		{"a ring for the panel, not for the wire", same, hanging.Piece{ID: "x", Role: hanging.Ring, WorkingLoad: kilograms(12)}, hanging.Above, "", 117.68 / 126.06},
		{"a ring for the wire", same, hanging.Piece{ID: "x", Role: hanging.Ring, WorkingLoad: newtons(126.07)}, hanging.Within, "", 1},
		// hanging.md section 6: breaking strength 400 N, factor 4 and 5: 100 and 80 N.
		{"400 N by 4 for 126 N", same, hanging.Piece{ID: "x", Role: hanging.WireRole, BreakingStrength: newtons(400)}, hanging.Above, "", 100 / 126.06},
		{"600 N by 4 for 126 N", same, hanging.Piece{ID: "x", Role: hanging.WireRole, BreakingStrength: newtons(600)}, hanging.Within, "", 150 / 126.06},
		{"600 N by 5 for 126 N", ask(func(q *hanging.Question) { q.DesignFactor = 5 }), hanging.Piece{ID: "x", Role: hanging.WireRole, BreakingStrength: newtons(600)}, hanging.Above, "", 120 / 126.06},
		{"a load factor of 2", ask(func(q *hanging.Question) { q.LoadFactor = 2 }), hanging.Piece{ID: "x", Role: hanging.Hook, WorkingLoad: kilograms(11)}, hanging.Above, "", 11.0 / 6},
		{"a load factor of 2, met", ask(func(q *hanging.Question) { q.LoadFactor = 2 }), hanging.Piece{ID: "x", Role: hanging.Hook, WorkingLoad: kilograms(12)}, hanging.Within, "", 2},
		{"nothing declared", same, hanging.Piece{ID: "x", Role: hanging.Hook}, hanging.NotKnown, hanging.NotDeclared, 0},
		{"an anchor in board", same, fixing(hanging.Shear, hanging.Board, "gypsum board", mm(12.5)), hanging.Within, "", 20.0 / 6},
		{"an anchor of unknown kind", same, fixing(hanging.UnknownKind, hanging.Board, "gypsum board", mm(12.5)), hanging.NotKnown, hanging.RatingUnknown, 0},
		{"an anchor in board of unknown thickness", same, fixing(hanging.Shear, hanging.Board, "gypsum board", nil), hanging.NotKnown, hanging.BoardUnknown, 0},
		{"an anchor in an unknown board", same, fixing(hanging.Shear, hanging.Board, "", mm(12.5)), hanging.NotKnown, hanging.BoardUnknown, 0},
		{"an anchor in something", same, fixing(hanging.Shear, "", "", nil), hanging.NotKnown, hanging.GroundUnknown, 0},
		{"a screw in a stud", same, fixing(hanging.Shear, hanging.Stud, "", nil), hanging.Within, "", 20.0 / 6},
		{"a rating in tension without a lever", same, fixing(hanging.Pull, hanging.Stud, "", nil), hanging.NotKnown, hanging.PullOutUnknown, 0},
		{"a rating in tension", ask(func(q *hanging.Question) { q.Lever = lever }), fixing(hanging.Pull, hanging.Stud, "", nil), hanging.Within, "", 20.0 / 6 * 1100 / 50},
		{"a mass with a heavy end", ask(func(q *hanging.Question) { high := 7.0; q.Panel.Mass = &hanging.Range{Value: 6, High: &high} }), hanging.Piece{ID: "x", Role: hanging.Hook, WorkingLoad: kilograms(6.5)}, hanging.Above, "", 6.5 / 7},
		{"a mass that is not known", ask(func(q *hanging.Question) { q.Panel = lantern() }), hanging.Piece{ID: "x", Role: hanging.Hook, WorkingLoad: kilograms(20)}, hanging.NotKnown, hanging.MassUnknown, 0},
		{"a known part that is too much", ask(func(q *hanging.Question) { q.Panel = lantern() }), hanging.Piece{ID: "x", Role: hanging.Hook, WorkingLoad: kilograms(5.2)}, hanging.Above, "", 0},
		// The known parts weigh 5.31 kg at the light end and 6.11 kg at the heavy end.
		{"a known part that may be too much", ask(func(q *hanging.Question) { q.Panel = lantern() }), hanging.Piece{ID: "x", Role: hanging.Hook, WorkingLoad: kilograms(5.8)}, hanging.NotKnown, hanging.MassUnknown, 0},
		{"a known part that is too much with its factor", ask(func(q *hanging.Question) { q.Panel, q.LoadFactor = lantern(), 2 }), hanging.Piece{ID: "x", Role: hanging.Hook, WorkingLoad: kilograms(8)}, hanging.Above, "", 0},
		{"overhead", ask(func(q *hanging.Question) { q.System, q.Wire = hanging.Overhead, nil }), hanging.Piece{ID: "x", Role: hanging.Hook, WorkingLoad: kilograms(600)}, hanging.NotKnown, hanging.OverheadNoRating, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			q := six(c.piece)
			c.change(&q)
			got := valid(t, q).Checks[0]
			if got.Verdict != c.verdict || got.Reason != c.reason {
				t.Errorf("%s %s, want %s %s", got.Verdict, got.Reason, c.verdict, c.reason)
			}
			near(t, "factor", got.Factor, c.factor, 1e-4*max(1, c.factor)) // 126.06 and 117.68 are rounded
			if (got.Verdict == hanging.NotKnown) != (got.Reason != "") {
				t.Errorf("%s for the reason %q", got.Verdict, got.Reason)
			}
		})
	}
}

// What a way of hanging has and the question does not list is named and has no verdict.
func TestHardwareThatIsNotListed(t *testing.T) {
	for system, want := range map[hanging.System][]hanging.Role{
		hanging.TwoHooks:    {hanging.Hook, hanging.WallFixing},
		hanging.FrenchCleat: {hanging.Cleat, hanging.WallFixing},
		hanging.ZClips:      {hanging.Clip, hanging.WallFixing},
		hanging.WireOneHook: {hanging.WireRole, hanging.Hook, hanging.WallFixing},
		hanging.Overhead:    nil,
	} {
		q := six()
		q.System = system
		if system != hanging.WireOneHook {
			q.Wire = nil
		}
		listed := 0
		if system == hanging.TwoHooks || system == hanging.WireOneHook {
			q.Hardware, listed = []hanging.Piece{{ID: "ring", Role: hanging.Ring, WorkingLoad: kilograms(50)}}, 1
		}
		var got []hanging.Role
		for _, c := range valid(t, q).Checks[listed:] {
			if c.Verdict != hanging.NotKnown || c.Reason != hanging.NotListed {
				t.Errorf("%s: %v", system, c)
			}
			got = append(got, c.Role)
		}
		if !slices.Equal(got, want) {
			t.Errorf("%s lacks %v, want %v", system, got, want)
		}
	}
}

// A row: the check of hanging.md for the first panel (378.6 mm below the ceiling), another wire for the second, and a
// floor that falls 30 mm over 6 m below a line at 2700 mm. By hand for the second: h = sqrt(265² − 250²) = 87.892 mm,
// 300 + 150 − 87.892 = 362.108 below the line; the floor at 2000 mm is 10 mm lower: 2710 − 362.108 = 2347.892 above it;
// lower edge 2710 − 300 − 1200 = 1210 mm above it. Tolerance: half the last printed place.
func TestRow(t *testing.T) {
	q := six()
	q.Wire = nil
	q.Row = &hanging.Row{TopBelowLine: 300, Floor: &hanging.Floor{BelowLine: 2700, Drop: mm(30), Over: mm(6000)}, Panels: []hanging.RowPanel{
		{ID: "a", RingDrop: 150, Spacing: mm(500), Length: mm(520), Position: mm(0), Height: mm(1200)},
		{ID: "b", RingDrop: 150, Spacing: mm(500), Length: mm(530), Position: mm(2000), Height: mm(1200)},
		{ID: "c", RingDrop: 40, Spacing: mm(500), Sag: mm(60), Drop: mm(-4)},
	}}
	a := valid(t, q)
	row := a.Row.Places
	near(t, "a sag", row[0].Sag.Value, 71.4, 0.05)
	near(t, "a below the line", row[0].BelowLine.Value, 378.6, 0.05)
	near(t, "b below the line", row[1].BelowLine.Value, 362.108, 0.0005)
	near(t, "b above the floor", row[1].AboveFloor.Value, 2347.892, 0.0005)
	near(t, "b clearance", row[1].Clearance.Value, 1210, 1e-9)
	near(t, "c above the floor", row[2].AboveFloor.Value, 2700-4-(300+40-60), 1e-9)
	near(t, "step", a.Row.Step.Value, 14, 1e-9)
	if row[2].Sag != nil || row[2].Clearance != nil || row[2].HookAboveEdge != 20 {
		t.Errorf("%+v", row[2])
	}
	for _, want := range []hanging.Caution{hanging.EachPanel, hanging.HookSeen, hanging.UnevenFloor, hanging.SlackMatters, hanging.FlatWire} {
		if !slices.Contains(a.Cautions, want) {
			t.Errorf("no caution %s", want)
		}
	}
	// The flattest wire of the row is what the hardware is held against: that of c.
	near(t, "angle", figure(t, a.Wire, "wire_angle").Value, 13.496, 0.0005)
	near(t, "tension", figure(t, a.Loads, "wire_tension").Value, 126.06, 0.005)

	q.System, q.Row.Floor = hanging.TwoHooks, nil
	q.Row.Panels = []hanging.RowPanel{{ID: "a", RingDrop: 150, Sag: mm(0)}}
	near(t, "rings on the hooks", valid(t, q).Row.Places[0].BelowLine.Value, 450, 0)
	q.System = hanging.FrenchCleat
	q.Row.Panels[0].Sag = nil
	near(t, "a cleat", valid(t, q).Row.Places[0].BelowLine.Value, 450, 0)
}

// Whatever the wires, the tops of a row come to be in line: the top of a panel is r below its hook less the sag.
func TestTopsOfARowAreInLine(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		q := six()
		c := units.Length(rapid.Float64Range(100, 2000).Draw(t, "line"))
		q.Row = &hanging.Row{TopBelowLine: c}
		for i := range rapid.IntRange(1, 6).Draw(t, "panels") {
			spacing := rapid.Float64Range(50, 1000).Draw(t, "spacing")
			length := spacing * rapid.Float64Range(1.001, 1.2).Draw(t, "slack")
			q.Row.Panels = append(q.Row.Panels, hanging.RowPanel{ID: string(rune('a' + i)), RingDrop: units.Length(rapid.Float64Range(600, 900).Draw(t, "r")),
				Spacing: mm(spacing), Length: mm(length)})
		}
		for i, p := range valid(t, q).Row.Places {
			hook, given := units.Length(p.BelowLine.Value), q.Row.Panels[i]
			if top := hook + units.Length(p.Sag.Value) - given.RingDrop; top-c > 1e-9 || c-top > 1e-9 {
				t.Fatalf("the top of %s is %g below the line, want %g", p.ID, float64(top), float64(c))
			}
		}
	})
}

// Doubling every mass doubles every load, leaving a part out lowers the sum by it, and the order of parts matters to
// nothing but the lines.
func TestMassesAdd(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var p, twice hanging.Panel
		sum := 0.0
		p.Without = []hanging.Kind{hanging.Frame, hanging.Fill, hanging.Fabric, hanging.Back, hanging.Hardware, hanging.Adhesive}
		twice.Without = p.Without
		for range rapid.IntRange(1, 8).Draw(t, "parts") {
			m := rapid.Float64Range(0.01, 20).Draw(t, "mass")
			high := m * 1.5
			doubled := 2 * high
			p.Parts = append(p.Parts, hanging.Part{Kind: hanging.OtherKind, Mass: &hanging.Range{Value: m, High: &high}})
			twice.Parts = append(twice.Parts, hanging.Part{Kind: hanging.OtherKind, Mass: &hanging.Range{Value: 2 * m, High: &doubled}})
			sum += m
		}
		q := six()
		q.Panel = p
		a := valid(t, q)
		q.Panel = twice
		b := valid(t, q)
		if d := float64(a.Mass.Mass) - sum; d > 1e-9 || d < -1e-9 {
			t.Fatalf("%g, want %g", float64(a.Mass.Mass), sum)
		}
		for i, f := range a.Loads {
			if d := b.Loads[i].Value - 2*f.Value; d > 1e-9*f.Value || d < -1e-9*f.Value {
				t.Fatalf("%s: %g, twice the mass %g", f.Name, f.Value, b.Loads[i].Value)
			}
		}
		slices.Reverse(p.Parts)
		q.Panel = p
		if d := float64(valid(t, q).Mass.High - a.Mass.High); d > 1e-9 || d < -1e-9 {
			t.Fatal("the order of parts changes the sum")
		}
	})
}

// hanging.md section 4: behind 100 mm with 0.035 W/mK condensation is likely.
func TestColdWall(t *testing.T) {
	q := six()
	q.Climate = &hanging.Climate{Wall: 0.5, Panel: 2.857, Inside: 20, Outside: -5, Humidity: 0.5}
	a := valid(t, q)
	near(t, "behind", figure(t, a.Damp.Figures, "wall_behind").Value, -1.17, 0.005)
	near(t, "bare", figure(t, a.Damp.Figures, "wall_bare").Value, 15.15, 0.005)
	near(t, "dew point", figure(t, a.Damp.Figures, "dew_point").Value, 9.26, 0.005)
	near(t, "bare humidity", figure(t, a.Damp.Figures, "humidity_bare").Value, 68, 0.5)
	if a.Damp.Outcome != hanging.CondensationLikely || !slices.Contains(a.Cautions, hanging.ColdWall) {
		t.Errorf("%s, %v", a.Damp.Outcome, a.Cautions)
	}
	// The wall behind has the dew point at 7.3 °C outside and 80 per cent at 11.2 °C.
	for outside, want := range map[float64]hanging.DampOutcome{15: hanging.BelowBoth, 9: hanging.MouldRange} {
		q.Climate.Outside = outside
		if got := valid(t, q).Damp.Outcome; got != want {
			t.Errorf("%g °C outside: %s, want %s", outside, got, want)
		}
	}
}
