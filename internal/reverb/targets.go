package reverb

import "math"

// Rule names a rule for the decay time that a room should have.
type Rule string

// The rules, each with what is known of its source in rooms.md section 3.
const (
	Own   Rule = "own"           // the asker's own figure
	EBU   Rule = "ebu_tech_3276" // listening rooms; 1998, seen in secondary sources
	DIN   Rule = "din_18041"     // groups A1 to A5; 2016, seen in secondary sources
	S1260 Rule = "ansi_s12_60"   // classrooms: an upper limit; seen in secondary sources
)

// Target is what a rule asks of a room in one octave.
type Target struct {
	Time      float64 // s
	Low, High float64 // what still keeps the rule; Low is 0 for an upper limit alone
}

// Groups lists the groups of DIN 18041:2016 for decay times: music, speech, teaching, teaching
// inclusive, sport.
var Groups = []string{"A1", "A2", "A3", "A4", "A5"}

// groups are the lines of DIN 18041:2016, T = slope lg V + offset, with the volumes for which
// they are given. Source: rooms.md section 3, seen in secondary sources.
var groups = map[string]struct{ slope, offset, least, most float64 }{
	"A1": {0.45, 0.07, 30, 1000},
	"A2": {0.37, -0.14, 50, 5000},
	"A3": {0.32, -0.17, 30, 5000},
	"A4": {0.26, -0.14, 30, 500},
	"A5": {0.75, -1.00, 200, 10_000},
}

// DINTime returns the decay time of a group for a volume, and whether the volume is one for which
// the standard gives it. It is 0 for a group that does not exist.
func DINTime(group string, volume float64) (t float64, within bool) {
	g, ok := groups[group]
	if !ok {
		return 0, false
	}
	if group == "A5" && volume >= 10_000 {
		return 2, true
	}
	return g.slope*math.Log10(volume) + g.offset, volume >= g.least && volume <= g.most
}

// dinTolerance is T/Tsoll by octave from 125 Hz to 4000 Hz.
// Source: rooms.md section 3, from memory; 0.8 to 1.2 seen in a secondary source.
var dinTolerance = [6][2]float64{{0.65, 1.45}, {0.8, 1.2}, {0.8, 1.2}, {0.8, 1.2}, {0.8, 1.2}, {0.65, 1.2}}

// EBUTime returns the mean decay time of a listening room, 0.25 (V / 100 m³)^(1/3), and whether it
// lies within the 0.2 s to 0.4 s that the document asks for. Source: rooms.md section 3.
func EBUTime(volume float64) (t float64, within bool) {
	t = 0.25 * math.Cbrt(volume/100)
	return t, t >= 0.2 && t <= 0.4
}

// S1260Time returns the longest decay time of an empty furnished classroom, and false for volumes
// without a limit. Source: ANSI/ASA S12.60, rooms.md section 3: 10 000 and 20 000 cubic feet.
func S1260Time(volume float64) (t float64, limited bool) {
	switch {
	case volume <= 283:
		return 0.6, true
	case volume <= 566:
		return 0.7, true
	}
	return 0, false
}

// ShareOfVolume returns the absorption area for each cubic metre that group B of DIN 18041:2016
// asks for from 250 Hz to 2000 Hz, by the height of the room; 0 for B1, false for others.
// Source: rooms.md section 3.
func ShareOfVolume(group string, height float64) (float64, bool) {
	low := map[string]float64{"B1": 0, "B2": 0.15, "B3": 0.20, "B4": 0.25, "B5": 0.30}
	high := map[string]float64{"B2": 4.80, "B3": 3.13, "B4": 2.13, "B5": 1.47}
	share, ok := low[group]
	if ok && group != "B1" && height > 2.5 {
		share = 1 / (high[group] + 4.69*math.Log10(height))
	}
	return share, ok
}

// Octave returns what a rule with a time asks in octave i from 125 Hz on. The tolerance of a
// listening room is 0.05 s, and 0.25 s more at 125 Hz (its text allows more below 200 Hz, from
// memory).
func (r Rule) Octave(t float64, i int) Target {
	switch r {
	case DIN:
		return Target{t, t * dinTolerance[i][0], t * dinTolerance[i][1]}
	case EBU:
		if i == 0 {
			return Target{t, t - 0.05, t + 0.25}
		}
		return Target{t, t - 0.05, t + 0.05}
	}
	return Target{t, 0, t}
}
