package ratings

import "sabinbook/internal/units"

// Decay is a reverberation measurement in one band and the state of the air in it.
type Decay struct {
	Time       float64 // reverberation time, s
	SoundSpeed float64 // m/s
	Absorption float64 // power attenuation coefficient of the air, 1/m
}

// FromDecays returns the absorption area that a specimen adds to a reverberation room
// of volume v, and its coefficient over the covered area s.
//
//	A = 55.3 V (1/(c2 T2) - 1/(c1 T1)) - 4 V (m2 - m1),  alpha_s = A/S
//
// The coefficient is an area ratio and may exceed 1. It is false when a time, a speed
// or the area is not positive.
// Source: ISO 354:2003, read second hand.
func FromDecays(v units.Volume, s units.Area, empty, with Decay) (units.Area, float64, bool) {
	for _, x := range []float64{float64(v), float64(s), empty.Time, empty.SoundSpeed, with.Time, with.SoundSpeed} {
		if !(x > 0) {
			return 0, 0, false
		}
	}
	a := 55.3*float64(v)*(1/(with.SoundSpeed*with.Time)-1/(empty.SoundSpeed*empty.Time)) -
		4*float64(v)*(with.Absorption-empty.Absorption)
	return units.Area(a), a / float64(s), true
}
