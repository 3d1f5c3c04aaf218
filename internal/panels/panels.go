// Package panels describes a sound-absorbing panel as it is built: a face of fabric
// over a timber frame that holds one or more layers of fill, hung at a distance from
// a wall. It works out sizes, masses and the layers that sound meets, and says
// what the panel absorbs and on what that rests.
//
// Simplifications: the frame is flush with the face and reflects nothing (the
// coefficient is taken over the whole face, as catalogues of panels do); braces are of
// the timber of the frame, as deep as it, and let into nothing; fabric is stretched
// without touching the acoustic length of the fill.
package panels

import (
	"cmp"
	"slices"

	"sabinbook/internal/catalog"
	"sabinbook/internal/units"
)

// Back says how the back of a panel is covered.
type Back string

// The backs.
const (
	BackAsNeeded Back = "as_needed" // wrapped when the fill asks for it
	BackOpen     Back = "open"      // the builder says that the back stays closed by other means
	BackWrapped  Back = "wrapped"
)

// Backs lists the words for backs.
var Backs = []Back{BackAsNeeded, BackOpen, BackWrapped}

// Joint says how the corners of a frame are made.
type Joint string

// The joints.
const (
	ButtJoint Joint = "butt"     // the long rails run through, the short ones stand between them
	Mitre     Joint = "mitre"    // all four at 45 degrees; a piece is as long as its longer side
	HalfLap   Joint = "half_lap" // all four run through and are let into each other
)

// Joints lists the words for joints.
var Joints = []Joint{ButtJoint, Mitre, HalfLap}

// PartCount asks for so many parts of a role on each panel.
type PartCount struct {
	Role  catalog.Role
	Count int
}

// Design is a panel without its fill and fabric.
type Design struct {
	Width, Height units.Length // of the face, outside of the frame
	Turn          units.Length // fabric turned in behind the frame, on each side
	Back          Back
	// BackMargin is how far the piece that covers the back goes beyond the panel on each side;
	// negative when it ends inside of it.
	BackMargin units.Length
	// Oversize is what pieces of fill are cut larger than their space, both ways, for a press fit.
	Oversize  units.Length
	Joint     Joint
	Braces    int         // across the panel between the long rails, which divide the fill into bays
	Parts     []PartCount // per panel
	StandOffs int         // stand-offs per panel when it is hung away from the wall
}

// StandardDesign returns the design that is used where none is given: 600 mm x 1200 mm,
// 50 mm of fabric turned in, the back wrapped as needed without a margin, butt joints
// without braces, two hangers, eight screws, 60 staples and four stand-offs a panel.
// Convention.
func StandardDesign() Design {
	return Design{Width: 600, Height: 1200, Turn: 50, Back: BackAsNeeded, Joint: ButtJoint, StandOffs: 4,
		Parts: []PartCount{{catalog.Hanger, 2}, {catalog.Screw, 8}, {catalog.Staple, 60}}}
}

// Face returns the area of one panel's face.
func (d Design) Face() units.Area { return units.Rectangle(d.Width, d.Height) }

// Build is one panel as it is built.
type Build struct {
	Design    Design
	Fill      catalog.Fill
	Thickness units.Length // of one layer of fill
	Layers    int
	Fabric    catalog.Fabric
	Frame     catalog.Part // a timber; its section width is the depth of the frame
	AskedGap  units.Length
	AirGap    units.Length // behind the fill: the asked gap, or what the frame leaves if that is more
	StandOff  units.Length // between the frame and the wall
}

// FrameAllowance is how much deeper than the fill a frame may be when no air gap is
// asked for. Convention: a fill that sits 5 mm back is still held by the fabric.
const FrameAllowance units.Length = 5

// Assemble puts a panel together from the design, layers of a fill in a sold thickness,
// the air gap asked for behind it, a fabric, and the narrowest of the given frame
// timbers that is at least as deep as the fill and no deeper than fill and gap
// together (or FrameAllowance). It reports false when none of the timbers is.
func Assemble(d Design, fill catalog.Fill, thickness units.Length, layers int, gap units.Length, fabric catalog.Fabric, timbers []catalog.Part) (Build, bool) {
	depth := thickness * units.Length(layers)
	var frame *catalog.Part
	for i, t := range timbers {
		if t.Role != catalog.FrameTimber || t.SectionWidth < depth || t.SectionWidth > depth+max(gap, FrameAllowance) {
			continue
		}
		if frame == nil || cmp.Or(cmp.Compare(t.SectionWidth, frame.SectionWidth), cmp.Compare(t.Slug, frame.Slug), cmp.Compare(t.ID, frame.ID)) < 0 {
			frame = &timbers[i]
		}
	}
	if frame == nil {
		return Build{}, false
	}
	excess := frame.SectionWidth - depth
	return Build{
		Design: d, Fill: fill, Thickness: thickness, Layers: layers, Fabric: fabric, Frame: *frame,
		AskedGap: gap, AirGap: max(gap, excess), StandOff: max(0, gap-excess),
	}, true
}

// FillDepth returns the thickness of all layers of fill.
func (b Build) FillDepth() units.Length { return b.Thickness * units.Length(b.Layers) }

// FrameDepth returns the depth of the frame.
func (b Build) FrameDepth() units.Length { return b.Frame.SectionWidth }

// DepthFromWall returns how far the face stands from the wall.
func (b Build) DepthFromWall() units.Length { return b.FrameDepth() + b.StandOff }

// Inner returns width and height of the space inside the frame.
func (b Build) Inner() (width, height units.Length) {
	t := 2 * b.Frame.SectionThickness
	return b.Design.Width - t, b.Design.Height - t
}

// Bays returns into how many equal spaces the braces divide the inside of the frame, one
// above the other, and their width and height, which a piece of fill occupies.
func (b Build) Bays() (count int, width, height units.Length) {
	width, height = b.Inner()
	braces := units.Length(b.Design.Braces)
	return b.Design.Braces + 1, width, (height - braces*b.Frame.SectionThickness) / (braces + 1)
}

// FramePiece is one kind of piece of a frame, Count of them in each panel.
type FramePiece struct {
	Name   string // rail_long, rail_short, brace
	Length units.Length
	Count  int
}

// FramePieces returns the pieces of a frame: two upright rails over the whole height, two
// across (between them at butt joints, else over the whole width, measured at the longer
// side), and braces between the uprights.
func (b Build) FramePieces() []FramePiece {
	inner, _ := b.Inner()
	across := inner
	if b.Design.Joint != ButtJoint {
		across = b.Design.Width
	}
	list := []FramePiece{{"rail_long", b.Design.Height, 2}, {"rail_short", across, 2}}
	if b.Design.Braces > 0 {
		list = append(list, FramePiece{"brace", inner, b.Design.Braces})
	}
	return list
}

// FrontPiece returns the sides of the piece of fabric that covers the face, goes round
// the frame and is turned in behind it: (side + 2 depth + 2 turn) both ways.
// Source: costing.md section 2 (common practice).
func (b Build) FrontPiece() (width, height units.Length) {
	more := 2*b.FrameDepth() + 2*b.Design.Turn
	return b.Design.Width + more, b.Design.Height + more
}

// BackPiece returns the sides of the piece of fabric that covers the back, (side + 2 margin)
// both ways, or false when the back is not wrapped.
// Source: costing_problem.md section 6.
func (b Build) BackPiece() (width, height units.Length, wrapped bool) {
	if !b.BackWrapped() {
		return 0, 0, false
	}
	more := 2 * b.Design.BackMargin
	return b.Design.Width + more, b.Design.Height + more, true
}

// BackWrapped reports whether the back is wrapped with the fabric: when the design says
// so or, as needed, when the fill sheds: profile fibrous, or dusty, unless a tissue is
// bonded to its back; never for self-supporting foam and polyester. What is not
// known counts as shedding.
// Source: convention of the handling model (handling.md section 3).
func (b Build) BackWrapped() bool {
	switch b.Design.Back {
	case BackOpen:
		return false
	case BackWrapped:
		return true
	}
	h := b.Fill.Handling
	if h.BackTissue == catalog.Yes || h.Profile == catalog.FoamProfile || h.Profile == catalog.PolyProfile {
		return false
	}
	return h.Profile == catalog.Fibrous || h.Dust != catalog.No
}

// PartCounts lists the parts of one panel by role, stand-offs included.
func (b Build) PartCounts() []PartCount {
	list := slices.Clone(b.Design.Parts)
	if b.StandOff > 0 && b.Design.StandOffs > 0 {
		list = append(list, PartCount{catalog.StandOff, b.Design.StandOffs})
	}
	return list
}

// MassLine is one contribution to the mass of a panel. Mass is zero when it is not Known.
type MassLine struct {
	What  string // fill, frame, fabric
	Mass  units.Mass
	Known bool
}

// Mass returns the mass of one panel without hardware, glue and staples, line by line,
// and whether all of it is known; an unknown line is never counted as nothing.
func (b Build) Mass() (total units.Mass, lines []MassLine, known bool) {
	bays, width, height := b.Bays()
	frame := float64(units.Rectangle(b.Frame.SectionThickness, b.Frame.SectionWidth)) * b.frameLength().Metres()
	fw, fh := b.FrontPiece()
	cloth := units.Rectangle(fw, fh)
	if bw, bh, wrapped := b.BackPiece(); wrapped {
		cloth += units.Rectangle(bw, bh)
	}
	lines = []MassLine{
		massLine("fill", float64(bays)*float64(units.Rectangle(width, height))*b.FillDepth().Metres(), b.Fill.Density),
		massLine("frame", frame, b.Frame.Density),
		massLine("fabric", float64(cloth), b.Fabric.SurfaceMass),
	}
	known = true
	for _, l := range lines {
		total += l.Mass
		known = known && l.Known
	}
	return total, lines, known
}

// frameLength returns the length of timber in a frame without what the corners would count
// twice; the ring of the frame holds the same with every joint.
func (b Build) frameLength() units.Length {
	inner, _ := b.Inner()
	return 2*b.Design.Height + units.Length(2+b.Design.Braces)*inner
}

func massLine[U ~float64](what string, quantity float64, per *catalog.Figure[U]) MassLine {
	if per == nil {
		return MassLine{What: what}
	}
	return MassLine{what, units.Mass(quantity * float64(per.Value)), true}
}
