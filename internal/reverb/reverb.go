// Package reverb computes how a room sounds: decay times from absorption, absorption of air,
// where the statistical figures end, modes, targets, and first reflections.
//
// Quantities are plain numbers in SI: metres, square and cubic metres, seconds, hertz. Every
// source of worked examples uses a constant of its own for decay times, so that the constant
// is an argument and never hidden.
//
// Source: rooms.md. Simplifications: a diffuse field, absorption spread evenly over the
// room; a panel's coefficient is that of a reverberation room; what absorbs on one wall only,
// as panels often do, works less than computed here (rooms.md section 4).
package reverb

import "math"

// Constant returns k of T = k V / A for a speed of sound: 24 ln 10 / c, in s/m.
// Source: rooms.md section 1; 55.262 / c.
func Constant(speed float64) float64 { return 24 * math.Ln10 / speed }

// Sabine returns the decay time by 60 dB of a room of a volume with an equivalent absorption
// area, in air of power attenuation m.
//
//	T = k V / (A + 4 m V)
//
// It is +Inf where nothing absorbs. Source: rooms.md section 1.
func Sabine(k, volume, area, m float64) float64 { return k * volume / (area + 4*m*volume) }

// Eyring returns the decay time of a room whose surface S has the mean coefficient a.
//
//	T = k V / (-S ln(1 - a) + 4 m V)
//
// It is false for a mean coefficient of 1 or more, which is possible with coefficients of
// reverberation rooms and for which there is none. Source: rooms.md section 1.
func Eyring(k, volume, surface, mean, m float64) (float64, bool) {
	if !(mean >= 0 && mean < 1) {
		return 0, false
	}
	return k * volume / (-surface*math.Log1p(-mean) + 4*m*volume), true
}

// Area returns the absorption area of a room, without that of its air, that decays in t: the
// inverse of Sabine. It is negative where the air alone decays faster.
func Area(k, volume, t, m float64) float64 { return k*volume/t - 4*m*volume }

// Schroeder returns the frequency from which on modes overlap and the statistical figures hold:
// 2000 √(T/V). It is a guide, not a cliff. Source: rooms.md section 4.
func Schroeder(t, volume float64) float64 { return 2000 * math.Sqrt(t/volume) }

// CriticalDistance returns the distance from a source of directivity q at which direct and
// reverberant sound are equally strong: 0.057 √(q V/T). Source: rooms.md section 5.
func CriticalDistance(q, volume, t float64) float64 { return 0.057 * math.Sqrt(q*volume/t) }

// LevelChange returns by how much reverberant sound changes in level, in dB, when the
// absorption area does: -10 lg(after/before). Source: rooms.md section 5.
func LevelChange(before, after float64) float64 { return -10 * math.Log10(after/before) }
