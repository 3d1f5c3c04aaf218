package rooms

import (
	"sabinbook/internal/catalog"
	"sabinbook/internal/reverb"
)

// Octaves that count for a target that does not say.
const (
	DefaultFrom = 250
	DefaultTo   = 4000
)

// Of returns the question about a stored room, without panels. A room that has no air stated
// has that of reverb.StandardAir; one without a target has none.
func Of(r catalog.Room) Question {
	q := Question{Sides: r.Sides, Volume: r.Volume, Surfaces: r.Surfaces, Things: r.Things, Air: reverb.StandardAir(), Measured: r.Measured, From: DefaultFrom, To: DefaultTo}
	if r.Air != nil {
		q.Air = reverb.Air(*r.Air)
	}
	if t := r.Target; t != nil {
		q.Rule, q.Group, q.Time, q.From, q.To = reverb.Rule(t.Rule), t.Group, t.Time, t.From, t.To
	}
	return q
}

// Validate names every fault of a room that is to be stored.
func Validate(r catalog.Room) error {
	v := &catalog.Faults{}
	v.Stored(r.Meta, r.Note)
	v.Source("/source_id", r.SourceID)
	q := Of(r)
	q.checkRoom(v)
	if r.Target != nil {
		q.checkTarget(v)
	}
	return v.Err()
}
