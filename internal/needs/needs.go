// Package needs says what a number of panels needs: pieces of fill, of fabric and of
// frame, parts by their role, and protective equipment by its uses; each with the
// formula and the numbers it comes from.
//
// It speaks of pieces, not of packs or boards: how they are cut is the room of
// cutting, where they are bought that of buying, and costing joins them. Nothing is
// added for waste here.
package needs

import (
	"sabinbook/internal/catalog"
	"sabinbook/internal/handling"
	"sabinbook/internal/panels"
	"sabinbook/internal/units"
)

// Basis says how a need was found: the formula in the names of its inputs.
type Basis struct {
	Formula string
	Inputs  []handling.Input
}

// Piece is so many rectangles of one size.
type Piece struct {
	Name          string // code: fill, front, back
	Width, Height units.Length
	Count         int
	Basis         Basis
}

// Bar is so many frame pieces of one length.
type Bar struct {
	Name   string // code: rail_long, rail_short, brace
	Length units.Length
	Count  int
	Basis  Basis
}

// Part is so many pieces of any part that plays the role.
type Part struct {
	Role  catalog.Role
	Count int
	// Carries is the mass that one piece must be declared for: of hangers a whole panel,
	// because one hook of two may come to carry all (convention of hanging.md section 2). 0
	// for other parts and where the mass is not known.
	Carries units.Mass
	Basis   Basis
}

// Protection is protective equipment of a role, see handling.Protection.
type Protection struct {
	handling.Protection
	Basis Basis
}

// List is what Count panels need.
type List struct {
	Count      int
	Fill       catalog.Fill
	Thickness  units.Length // of one layer of fill
	FillPieces Piece
	FillVolume units.Volume // for fills that are sold loose
	Fabric     catalog.Fabric
	Cloth      []Piece // front, and back when it is wrapped
	Frame      catalog.Part
	Bars       []Bar
	// Mitred says that the bars are cut at 45 degrees, where a saw takes more of their length.
	Mitred     bool
	Parts      []Part
	Protection []Protection
	// ProtectionKnown is false when the burden is not known; then Protection is empty and
	// that does not mean that nothing is needed.
	ProtectionKnown bool
}

// For lists what count panels of the build need; burden tells the protective equipment.
//
// Source: costing.md section 2 for the pieces; hanging.md for the frame's butt joints;
// handling.md section 3 for the protective equipment.
func For(b panels.Build, count int, burden handling.Burden) List {
	bays, width, height := b.Bays()
	l := List{
		Count: count, Fill: b.Fill, Thickness: b.Thickness, Fabric: b.Fabric, Frame: b.Frame,
		FillPieces:      fill(b, count),
		FillVolume:      units.Volume(float64(count*bays) * float64(units.Rectangle(width, height)) * b.FillDepth().Metres()),
		Cloth:           cloth(b, count),
		Bars:            bars(b, count),
		Mitred:          b.Design.Joint == panels.Mitre,
		ProtectionKnown: burden.Known,
	}
	parts := b.PartCounts()
	l.Parts = make([]Part, len(parts))
	for i, p := range parts {
		l.Parts[i] = Part{Role: p.Role, Count: count * p.Count, Basis: Basis{"panels × per_panel",
			[]handling.Input{number("panels", count), number("per_panel", p.Count)}}}
		if p.Role == catalog.Hanger && burden.MassKnown {
			l.Parts[i].Carries = burden.Mass
		}
	}
	l.Protection = make([]Protection, len(burden.Protection))
	for i, p := range burden.Protection {
		l.Protection[i] = Protection{p, protectionBasis(p, burden)}
	}
	return l
}

// fill counts the pieces of fill: one in each bay and layer. Formula and inputs name only
// what the panel has: without braces there is one bay, as high as the inside.
func fill(b panels.Build, count int) Piece {
	bays, width, height := b.Bays()
	p := Piece{"fill", width, height, count * b.Layers, Basis{"panels × layers of (width − 2 × timber) × (height − 2 × timber)", []handling.Input{
		number("panels", count), number("layers", b.Layers), length("width", b.Design.Width), length("height", b.Design.Height),
		length("timber", b.Frame.SectionThickness)}}}
	if bays > 1 {
		p.Count *= bays
		p.Basis.Formula = "panels × layers × bays of (width − 2 × timber) × (height − (bays + 1) × timber) / bays"
		p.Basis.Inputs = append(p.Basis.Inputs, number("bays", bays))
	}
	if over := b.Design.Oversize; over > 0 {
		p.Width, p.Height = width+over, height+over
		p.Basis.Formula += ", both ways larger by oversize"
		p.Basis.Inputs = append(p.Basis.Inputs, length("oversize", over))
	}
	return p
}

func cloth(b panels.Build, count int) []Piece {
	width, height := b.FrontPiece()
	list := []Piece{{"front", width, height, count, Basis{"panels of (width + 2 × depth + 2 × turn) × (height + 2 × depth + 2 × turn)", []handling.Input{
		number("panels", count), length("width", b.Design.Width), length("height", b.Design.Height),
		length("depth", b.FrameDepth()), length("turn", b.Design.Turn)}}}}
	if width, height, wrapped := b.BackPiece(); wrapped {
		back := Piece{"back", width, height, count, Basis{"panels of width × height", []handling.Input{
			number("panels", count), length("width", b.Design.Width), length("height", b.Design.Height)}}}
		if margin := b.Design.BackMargin; margin != 0 {
			back.Basis.Formula = "panels of (width + 2 × margin) × (height + 2 × margin)"
			back.Basis.Inputs = append(back.Basis.Inputs, length("margin", margin))
		}
		list = append(list, back)
	}
	return list
}

// bars lists the frame pieces of all panels, kind by kind as panels lists them.
func bars(b panels.Build, count int) []Bar {
	var list []Bar
	for _, p := range b.FramePieces() {
		formula := "panels × per_panel of (width − 2 × timber)"
		inputs := []handling.Input{number("panels", count), number("per_panel", p.Count), length("width", b.Design.Width), length("timber", b.Frame.SectionThickness)}
		switch {
		case p.Name == "rail_long":
			formula = "panels × per_panel of the height"
			inputs = []handling.Input{number("panels", count), number("per_panel", p.Count), length("height", b.Design.Height)}
		case p.Name == "rail_short" && b.Design.Joint != panels.ButtJoint:
			formula, inputs = "panels × per_panel of the width", inputs[:3]
		}
		list = append(list, Bar{p.Name, p.Length, count * p.Count, Basis{formula, inputs}})
	}
	return list
}

func protectionBasis(p handling.Protection, burden handling.Burden) Basis {
	atLeast := number("at_least", p.AtLeast)
	if p.ByPanels {
		return Basis{"max(at_least, panels / uses_per_unit)", []handling.Input{number("panels", p.Uses), number("uses_per_unit", p.UsesPerUnit), atLeast}}
	}
	sessions, persons := number("sessions", burden.Sessions), number("persons", burden.Persons)
	if p.UsesPerUnit == 0 {
		return Basis{"at_least, reusable", []handling.Input{sessions, persons, atLeast}}
	}
	return Basis{"max(at_least, sessions × persons / uses_per_unit)", []handling.Input{sessions, persons, number("uses_per_unit", p.UsesPerUnit), atLeast}}
}

func number(name string, n int) handling.Input {
	return handling.Input{Name: name, Value: float64(n)}
}

func length(name string, l units.Length) handling.Input {
	return handling.Input{Name: name, Value: float64(l), Unit: "mm"}
}
