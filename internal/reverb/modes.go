package reverb

import (
	"cmp"
	"math"
	"slices"
)

// Mode is a mode of a box, by the half waves along its sides.
type Mode struct {
	X, Y, Z int
	Hertz   float64
}

// ModeFrequency returns the frequency of the mode of a box with rigid walls.
//
//	f = (c/2) √((nx/Lx)² + (ny/Ly)² + (nz/Lz)²)
//
// Source: rooms.md section 4.
func ModeFrequency(speed float64, sides [3]float64, x, y, z int) float64 {
	sum := 0.0
	for i, n := range [3]int{x, y, z} {
		q := float64(n) / sides[i]
		sum += q * q
	}
	return speed / 2 * math.Sqrt(sum)
}

// Modes lists the first modes of a box, the lowest first.
func Modes(speed float64, sides [3]float64, count int) []Mode {
	var list []Mode
	for x := 0; x <= count; x++ {
		for y := 0; (x+1)*(y+1) <= 2*count+2; y++ {
			for z := 0; (x+1)*(y+1)*(z+1) <= 2*count+2; z++ {
				if x+y+z > 0 {
					list = append(list, Mode{x, y, z, ModeFrequency(speed, sides, x, y, z)})
				}
			}
		}
	}
	slices.SortFunc(list, func(a, b Mode) int {
		return cmp.Or(cmp.Compare(a.Hertz, b.Hertz), cmp.Compare(a.X, b.X), cmp.Compare(a.Y, b.Y), cmp.Compare(a.Z, b.Z))
	})
	return list[:min(count, len(list))]
}

// ModeCount returns about how many modes a box has below a frequency.
// Source: rooms.md section 4.
func ModeCount(speed float64, sides [3]float64, hz float64) float64 {
	a, b, c := sides[0], sides[1], sides[2]
	volume, surface, edges := a*b*c, 2*(a*b+b*c+c*a), 4*(a+b+c)
	f := hz / speed
	return 4*math.Pi*volume*f*f*f/3 + math.Pi*surface*f*f/4 + edges*f/8
}
