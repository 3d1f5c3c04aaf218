package ranking

import (
	"math"
	"testing"

	"sabinbook/internal/reverb"
	"sabinbook/internal/rooms"
)

func lantern() *rooms.Question {
	return &rooms.Question{Sides: [3]float64{6.2, 4.4, 2.7}, Air: reverb.StandardAir(), Rule: reverb.Own, Time: 0.6, From: 250, To: 4000,
		Surfaces: []rooms.Surface{{Face: rooms.Ceiling, Material: "concrete-smooth-painted-or-glazed"}, {Face: rooms.Floor, Material: "wood-floor-on-joists"}, {Face: rooms.Walls, Material: "plaster-painted"}}}
}

// With a room every option says what it does there, as package rooms has it for its coefficients,
// and the purpose room weighs each octave by its share in what is lacking.
func TestOptionsInTheRoom(t *testing.T) {
	r := rank(t, smallStock(), func(b *Brief) { b.Room, b.Purpose = lantern(), Purpose{Name: Room} })
	bare := lantern().Answer()
	sum, total := 0.0, 0.0
	for _, o := range bare.Octaves {
		total += o.Lacking
	}
	for i, w := range r.Brief.Purpose.Weights {
		sum += w
		if want := bare.Octaves[i].Lacking / total; math.Abs(w-want) > 1e-12 {
			t.Errorf("weight %d is %g, want %g", i, w, want)
		}
	}
	if r.Brief.Purpose.Weights[0] != 0 || math.Abs(sum-1) > 1e-12 {
		t.Errorf("%v", r.Brief.Purpose.Weights)
	}
	for _, o := range r.Options {
		q := *lantern()
		q.Panels = &rooms.Panels{Count: 10, Face: 0.72, On: rooms.Walls}
		for i, oct := range o.Octaves {
			q.Panels.Alpha[i] = oct.Raw
		}
		want := q.Answer()
		for i, oct := range o.Room.Octaves {
			if oct.After.Sabine != want.Octaves[i].After.Sabine || oct.Least != want.Octaves[i].Least || *oct.AfterLow > oct.After.Sabine || *oct.AfterHigh < oct.After.Sabine {
				t.Fatalf("%s: %+v, want %+v", o.Key(), oct, want.Octaves[i])
			}
		}
	}
	if len(r.Options) < 10 || rank(t, smallStock(), nil).Options[0].Room != nil {
		t.Errorf("%d options", len(r.Options))
	}
}

func TestLowPurpose(t *testing.T) {
	if w := LowPurpose().Weights; w != (Weights{0.5, 0.5}) {
		t.Errorf("%v", w)
	}
}
