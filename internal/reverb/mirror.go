package reverb

import "math"

// Reflection is the first reflection of a source by a wall on its way to a listener.
type Reflection struct {
	FromSource        float64 // along the wall, from the foot of the source to the point
	Direct, Reflected float64 // paths
}

// Mirror finds where sound from a source at distance a from a wall meets the wall on its way to
// a listener at distance b, d apart along it: d a/(a + b) from the foot of the source.
// Source: rooms.md section 6; Allen and Berkley, JASA 65 (1979) 943.
func Mirror(a, b, d float64) Reflection {
	return Reflection{d * a / (a + b), math.Hypot(d, a-b), math.Hypot(d, a+b)}
}

// Delay returns by how many seconds the reflection comes later than the direct sound.
func (r Reflection) Delay(speed float64) float64 { return (r.Reflected - r.Direct) / speed }

// Level returns the level of the reflection beside the direct sound in dB, by distance and by a
// coefficient below 1. Source: rooms.md section 6.
func (r Reflection) Level(alpha float64) float64 {
	return 20*math.Log10(r.Direct/r.Reflected) + 10*math.Log10(1-alpha)
}

// MirrorPoint returns where on the wall that is across axis i of a box, at a place of it, sound
// from source to listener is reflected, with its paths. It is false when they are not on one
// side of the wall, or on it.
func MirrorPoint(source, listener [3]float64, axis int, place float64) ([3]float64, Reflection, bool) {
	a, b := source[axis]-place, listener[axis]-place
	if a*b <= 0 {
		return [3]float64{}, Reflection{}, false
	}
	share := math.Abs(a) / (math.Abs(a) + math.Abs(b))
	point, square := [3]float64{}, 0.0
	for i := range point {
		point[i] = source[i] + share*(listener[i]-source[i])
		if i != axis {
			d := listener[i] - source[i]
			square += d * d
		}
	}
	point[axis] = place
	return point, Mirror(math.Abs(a), math.Abs(b), math.Sqrt(square)), true
}
