package catalog

import (
	"sabinbook/internal/bands"
	"sabinbook/internal/units"
)

// Octaves are values from 125 Hz to 4000 Hz.
type Octaves = [bands.OctaveCount]float64

// Face is a part of a box.
type Face string

// The faces.
const (
	Floor   Face = "floor"
	Ceiling Face = "ceiling"
	Walls   Face = "walls" // all four
)

// RoomSurface is a part of what bounds a room. Without an area it is all of its face that
// the others leave.
type RoomSurface struct {
	Face     Face     // of a box; what has an area lies in it and takes it from what has none
	Area     float64  // m²
	Material string   // name of a published surface
	Own      *Octaves // coefficients that stand for a material
}

// RoomThing is so many equal furnishings or people.
type RoomThing struct {
	Material string
	Own      *Octaves // m² of one of them
	Count    int
}

// RoomAir is the state of the air in a room.
type RoomAir struct {
	Temperature float64 // °C
	Humidity    float64 // relative, per cent
	Pressure    float64 // kPa
}

// RoomTarget is the decay time that is wanted.
type RoomTarget struct {
	Rule     string
	Group    string  // of DIN 18041
	Time     float64 // s, of an own target
	From, To int     // octaves that count, Hz
}

// Room is a room that is asked about again and again. What its words mean is known to the
// room question, which also checks them.
type Room struct {
	Meta
	Sides    [3]float64 // length, width, height of a box in m; all 0 for another room
	Volume   float64    // m³, of a room that is no box
	Surfaces []RoomSurface
	Things   []RoomThing
	Air      *RoomAir    // nil: not stated
	Measured *Octaves    // decay times in s that stand for surfaces and things
	Target   *RoomTarget // nil: none yet
	SourceID ID          // who measured sides and times, and when
	Note     string
}

// DesignPart asks for so many parts of a role on each panel.
type DesignPart struct {
	Role  Role
	Count int
}

// Design is a panel without its fill and fabric, kept under a name. What its words mean is
// known to package panels, which also checks them.
type Design struct {
	Meta
	Width, Height units.Length // of the face, outside of the frame
	Turn          units.Length // fabric turned in behind the frame, on each side
	Back          string
	BackMargin    units.Length // of the piece that covers the back, beyond the panel; may be negative
	Oversize      units.Length // of pieces of fill, for a press fit
	Joint         string
	Braces        int
	StandOffs     int
	Parts         []DesignPart
	Note          string
}

// Stored names every fault of what all records have in common, the note among it.
func (v *Faults) Stored(m Meta, note string) {
	v.meta(m)
	v.note(note)
}

// Source records a fault unless id may name a source.
func (v *Faults) Source(pointer string, id ID) { v.source(pointer, id) }
