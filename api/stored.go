package api

import (
	"cmp"
	"context"
	"fmt"

	"sabinbook/internal/catalog"
	"sabinbook/internal/panels"
)

// Questions may name a stored panel design and a stored room. What they leave out is then taken
// from the record, member by member, and the answer echoes it among its inputs.

// withStored is a question with what it leaves out taken from the stored records that it names,
// at the store's revision now. The error names those that are not there.
func (s *Server) withStored(ctx context.Context, w RankingQuestion) (RankingQuestion, error) {
	design, room := w.Panel != nil && w.Panel.Design != nil, w.Room != nil && w.Room.StoredRoom != nil
	if !design && !room {
		return w, nil
	}
	stock, err := s.snapshot(ctx)
	if err != nil {
		return w, err
	}
	v := &catalog.Faults{}
	if design {
		if r, ok := named(stock.Designs, *w.Panel.Design, func(r catalog.Design) catalog.Meta { return r.Meta }); ok {
			w.Panel = encodeDesign(decodeDesign(w.Panel, panels.Of(r)))
		} else {
			unnamed(v, "/panel/design", "panel design", *w.Panel.Design, "/v1/designs")
		}
	}
	if room {
		filled, ok := withStoredRoom(v, stock, *w.Room, "/room")
		w.Room = &filled
		if !ok {
			w.Room = nil
		}
	}
	return w, v.Err()
}

// withoutStored is a question without the stored records that it names and what rests on them:
// they are not looked up for a question that is refused anyway.
func withoutStored(w RankingQuestion) RankingQuestion {
	if w.Room == nil || w.Room.StoredRoom == nil {
		return w
	}
	w.Room = nil
	if w.PanelCountFrom != nil {
		w.PanelCountFrom, w.Order, w.PanelCount = nil, nil, cmp.Or(w.PanelCount, place(int64(1)))
	}
	if w.Purpose != nil && w.Purpose.Name == "room" {
		w.Purpose = nil
	}
	return w
}

// withStoredRoom is a question about a room, whose faults lie below a pointer, with what it leaves
// out taken from the stored room that it names. It reports false when that is not there.
func withStoredRoom(v *catalog.Faults, stock catalog.Snapshot, w RoomQuestion, at string) (RoomQuestion, bool) {
	r, ok := named(stock.Rooms, *w.StoredRoom, func(r catalog.Room) catalog.Meta { return r.Meta })
	if !ok {
		unnamed(v, at+"/stored_room", "room", *w.StoredRoom, "/v1/rooms")
		return w, false
	}
	stored := encodeRoomRecord(r)
	w.StoredRoom = nil
	// Measured times stand for what is in the room, and the other way round: whoever gives one of
	// them does not mean the other one of the record.
	if w.DecayTimes == nil && w.Surfaces == nil && w.Things == nil {
		w.DecayTimes = stored.DecayTimes
	}
	w.Room, w.Surfaces, w.Things = cmp.Or(w.Room, &stored.Room), cmp.Or(w.Surfaces, stored.Surfaces), cmp.Or(w.Things, stored.Things)
	w.Air, w.Target = cmp.Or(w.Air, stored.Air), cmp.Or(w.Target, stored.Target)
	return w, true
}

// named finds the record that is called ref, by id or slug.
func named[R any](list []R, ref string, meta func(R) catalog.Meta) (R, bool) {
	for _, r := range list {
		if m := meta(r); string(m.ID) == ref || string(m.Slug) == ref {
			return r, true
		}
	}
	var none R
	return none, false
}

func unnamed(v *catalog.Faults, at, noun, ref, path string) {
	v.Add(at, "unknown_reference", fmt.Sprintf("there is no %s %q", noun, ref), "use the id or the slug of a stored one; GET "+path+" lists them")
}
