package ranking

import (
	"errors"

	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
	"sabinbook/internal/rooms"
)

// inRoom is the question about the room with so many panels of an option, on the walls of a box.
func (b Brief) inRoom(o *Option) rooms.Question {
	q := *b.Room
	p := rooms.Panels{Count: b.PanelCount, Face: float64(b.Design.Face())}
	if o != nil {
		p.Count = o.Panels
	}
	if q.Box() {
		p.On = rooms.Walls
	}
	if o != nil {
		var low, high rooms.Octaves
		for i, oct := range o.Octaves {
			p.Alpha[i], low[i], high[i] = oct.Raw, oct.Low, oct.High
		}
		p.Low, p.High = &low, &high
	}
	q.Panels = &p
	return q
}

// checkRoom names every fault of the room; its pointers lie below /room.
func (b Brief) checkRoom(v *catalog.Faults) {
	if b.Room == nil {
		if b.Purpose.Name == Room {
			v.Add("/purpose/name", "required", "room weighs the bands by what a room lacks, and there is none", "give room, or another purpose")
		}
		return
	}
	if b.Room.Panels != nil {
		v.Add("/room/panels", "not_applicable", "the panels are those of the options", "leave it out")
		return
	}
	var invalid *catalog.InvalidError
	if errors.As(b.inRoom(nil).Validate(), &invalid) {
		for _, f := range invalid.Faults {
			if f.Pointer == "/panels/count" {
				v.Add("/panel_count", f.Code, f.Detail, "ask for fewer panels, or for a larger room")
				continue
			}
			if f.Pointer != "/panels/face_m2" { // the sides have faults of their own
				v.Add("/room"+f.Pointer, f.Code, f.Detail, f.Fix)
			}
		}
	}
}

// forRoom returns the brief with the weights of the purpose Room: the share of each octave in the
// absorption area that is lacking to the target; all six alike where nothing is.
func (b Brief) forRoom() Brief {
	if b.Purpose.Name != Room {
		return b
	}
	b.Purpose.Weights = Weights{}
	for i, o := range b.Room.Answer().Octaves {
		b.Purpose.Weights[i] = o.Lacking
	}
	if b.Purpose.Weights.sum() == 0 {
		b.Purpose.Weights = FlatPurpose().Weights
	}
	b.Purpose.Weights = b.Purpose.Weights.scaled()
	return b
}

// room is what the panels of an option do in the room, nil without one or where an octave of the
// option is not known.
func (b Brief) room(o *Option) *rooms.Answer {
	if b.Room == nil {
		return nil
	}
	for i := range bands.OctaveCount {
		if !o.Octaves[i].Known {
			return nil
		}
	}
	a := b.inRoom(o).Answer()
	return &a
}
