package ranking

import (
	"fmt"
	"slices"

	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
)

// Weights hold the share of each octave, 125 Hz to 4000 Hz, in what a panel is wanted for.
// They are not negative and add up to 1.
type Weights [bands.OctaveCount]float64

// Purpose says over which bands absorption counts.
type Purpose struct {
	Name    PurposeName
	Weights Weights
}

// PurposeName is the word for a purpose.
type PurposeName string

// The purposes.
const (
	Flat   PurposeName = "flat"   // every octave from 125 Hz to 4000 Hz alike
	Speech PurposeName = "speech" // by the importance of the octave for understanding speech
	Low    PurposeName = "low"    // 125 Hz and 250 Hz
	Room   PurposeName = "room"   // by the absorption area that the asker's room lacks to its target
	Own    PurposeName = "own"    // the asker's own weights
)

var purposeNames = []string{string(Flat), string(Speech), string(Low), string(Room), string(Own)}

// speechImportance is the octave-band importance of average speech for 125 Hz to 4000 Hz,
// the 8000 Hz band (0.0549) left out because panels have no coefficient there.
// Source: ANSI S3.5-1997, Table 4, octave method, seen in several independent public
// implementations, not in the standard (rooms.md section 9). 125 Hz takes no part.
var speechImportance = Weights{0, 0.0617, 0.1671, 0.2373, 0.2648, 0.2142}

// FlatPurpose weighs all six octaves alike.
func FlatPurpose() Purpose { return Purpose{Flat, Weights{1, 1, 1, 1, 1, 1}.scaled()} }

// SpeechPurpose weighs 250 Hz to 4000 Hz by their importance for understanding speech,
// scaled to 1.
func SpeechPurpose() Purpose { return Purpose{Speech, speechImportance.scaled()} }

// LowPurpose weighs 125 Hz and 250 Hz alike. In small rooms single modes rule there, and
// statistical figures are a guide only (rooms.md section 4).
func LowPurpose() Purpose { return Purpose{Low, Weights{1, 1}.scaled()} }

// OwnPurpose scales the asker's weights to 1. They must not all be zero; see Brief.Validate.
func OwnPurpose(w Weights) Purpose { return Purpose{Own, w.scaled()} }

func (w Weights) sum() float64 {
	s := 0.0
	for _, x := range w {
		s += x
	}
	return s
}

func (w Weights) scaled() Weights {
	if s := w.sum(); s > 0 {
		for i := range w {
			w[i] /= s
		}
	}
	return w
}

// ParsePurpose returns the purpose called name; own are the asker's weights, used by (and
// only allowed with) Own. Faults point below /purpose.
func ParsePurpose(name string, own *Weights, v *catalog.Faults) Purpose {
	if !slices.Contains(purposeNames, name) {
		v.Word("/purpose/name", name, purposeNames)
		return FlatPurpose()
	}
	if PurposeName(name) != Own {
		if own != nil {
			v.Add("/purpose/weights", "not_applicable", "weights belong to the purpose own only, the purpose is "+name, "leave weights out, or set name to own")
		}
		switch PurposeName(name) {
		case Speech:
			return SpeechPurpose()
		case Low:
			return LowPurpose()
		case Room: // its weights follow from the room, see Brief.forRoom
			return Purpose{Name: Room}
		}
		return FlatPurpose()
	}
	if own == nil {
		v.Add("/purpose/weights", "required", "is missing: the purpose own needs weights", "give weights such as weight_250_hz and weight_500_hz")
		return FlatPurpose()
	}
	for i, w := range own {
		v.Within(fmt.Sprintf("/purpose/weights/weight_%d_hz", bands.OctaveBand(i).Nominal()), w, 0, 1000, "", "give a share of any scale, 0 for a band that does not count")
	}
	if own.sum() <= 0 {
		v.Add("/purpose/weights", "out_of_range", "all weights are zero", "give at least one weight above zero")
	}
	return OwnPurpose(*own)
}
