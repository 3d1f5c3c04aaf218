package hanging

import (
	"math"

	"sabinbook/internal/units"
)

// StandardGravity is the standard acceleration of free fall in m/s². Source: 3rd General
// Conference on Weights and Measures (1901), ISO 80000-3; from memory. Books often use 9.8.
const StandardGravity = 9.80665

// Weight returns the weight of a mass under StandardGravity.
//
//	W = m g
func Weight(m units.Mass) units.Force { return units.Force(float64(m) * StandardGravity) }

// Angle is the angle of a leg of wire above the horizontal, in radians.
type Angle float64

// Degrees returns the angle in degrees.
func (a Angle) Degrees() float64 { return float64(a) * 180 / math.Pi }

// LegAngle returns the angle of each leg of a wire that runs from one ring over a hook in
// the middle to the other ring; the rings are the spacing apart and the hook is the sag
// above the line between them. Both must be above 0.
//
//	θ = atan(2 h / s)      h sag, s spacing
//
// Source: hanging.md section 1; statics of two equal legs, as in Giancoli, Physics, and University
// Physics (OpenStax) section 5.3.
func LegAngle(spacing, sag units.Length) Angle {
	return Angle(math.Atan2(2*float64(sag), float64(spacing)))
}

// Tension returns the tension of the wire, which also pulls at each ring along the wire.
//
//	T = W / (2 sin θ)
//
// It grows without end as the wire gets flat. Source: as LegAngle.
func Tension(weight units.Force, legs Angle) units.Force {
	return weight / units.Force(2*math.Sin(float64(legs)))
}

// SidePull returns the part of the tension that pulls the rings towards each other.
//
//	P = W / (2 tan θ)
//
// Source: as LegAngle.
func SidePull(weight units.Force, legs Angle) units.Force {
	return weight / units.Force(2*math.Tan(float64(legs)))
}

// Sag returns how far a hook in the middle of a taut wire is above the line between the
// rings. It is 0 for a wire that is no longer than the spacing.
//
//	h = sqrt((L/2)² − (s/2)²)      L length of the wire between the rings, s spacing
//
// Source: hanging.md, wire slack and drill height (derived: Pythagoras).
func Sag(length, spacing units.Length) units.Length {
	half, side := float64(length)/2, float64(spacing)/2
	return units.Length(math.Sqrt(max(0, (half-side)*(half+side))))
}

// PullOut returns the pull away from the wall on a hook or cleat near the top of a panel
// that leans on the wall at its lower edge.
//
//	F = W e / L      e distance of the centre of mass from the wall, L height of the hook above the lower bearing
//
// Source: hanging.md section 1 (moments about the lower bearing).
func PullOut(weight units.Force, centre, lever units.Length) units.Force {
	return weight * units.Force(centre/lever)
}

// WorkingLoad returns the load that may hang on something of which the breaking strength
// is known.
//
//	WLL = breaking strength / design factor
//
// Source: hanging.md section 2 (as taught with ASME B30.9).
func WorkingLoad(breaking units.Force, designFactor float64) units.Force {
	return breaking / units.Force(designFactor)
}

// DrillDepth returns how far below the ceiling line a hook is drilled.
//
//	d = c + r − h      c top of the panel below the line, r line of the rings below the top, h sag
//
// Source: hanging.md, wire slack and drill height (derived).
func DrillDepth(topBelowLine, ringDrop, sag units.Length) units.Length {
	return topBelowLine + ringDrop - sag
}

// The limits that a taut wire should keep. Source: hanging.md section 1, the rule to show
// (convention): legs at 30 degrees or more carry at most the whole weight each.
const leastLegAngle = 30.0
