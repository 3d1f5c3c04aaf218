package ranking

import (
	"math"
	"testing"
)

// Octave-band importance of ANSI S3.5-1997 Table 4 as printed in rooms.md section 9; the six
// figures with 8000 Hz add up to 1.0000. Without 8000 Hz they are scaled by 1/0.9451.
func TestSpeechWeightsAreThoseOfTheStandard(t *testing.T) {
	const at8000 = 0.0549
	if s := speechImportance.sum() + at8000; math.Abs(s-1) > 1e-9 {
		t.Errorf("importance adds up to %.4f, want 1.0000", s)
	}
	w := SpeechPurpose().Weights
	if math.Abs(w.sum()-1) > 1e-12 || math.Abs(w[4]-0.2648/0.9451) > 1e-12 || w[0] != 0 {
		t.Errorf("scaled weights %v", w)
	}
}

func TestFlatWeighsSixOctavesAlike(t *testing.T) {
	for i, w := range FlatPurpose().Weights {
		if math.Abs(w-1.0/6) > 1e-15 {
			t.Errorf("octave %d weighs %g", i, w)
		}
	}
}
