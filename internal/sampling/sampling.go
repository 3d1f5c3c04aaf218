// Package sampling draws numbers for the uncertainty of answers.
//
// A draw is a function of the seed, its number and the thing that is uncertain, and of nothing
// else: in whatever order things are looked at, by how many workers, and whatever else is in
// the catalog, the same thing has the same draw. Different things are independent.
//
// The generator is Philox4x32-10 of Salmon, Moraes, Dror and Shaw, "Parallel random numbers: as
// easy as 1, 2, 3", SC11 (2011), with the known answers published with it as tests. The key is
// the seed; the counter is the number of the draw and a hash (FNV-1a, 64 bits) of the thing.
package sampling

import (
	"hash/fnv"
	"math"
	"math/bits"
)

// Seed chooses one of the series of draws.
type Seed uint64

// Thing is something uncertain.
type Thing uint64

// Named returns the thing with a name, such as the id of a record and what of it is uncertain.
func Named(name string) Thing {
	h := fnv.New64a()
	h.Write([]byte(name))
	return Thing(h.Sum64())
}

// Uniform returns a number above 0 and below 1, uniformly distributed.
func (s Seed) Uniform(draw uint32, t Thing) float64 {
	r := philox([4]uint32{draw, 0, uint32(t), uint32(t >> 32)}, [2]uint32{uint32(s), uint32(s >> 32)})
	n := uint64(r[0])<<20 | uint64(r[1])>>12 // 52 bits
	return (float64(n) + 0.5) / (1 << 52)
}

// Normal returns a number of the standard normal distribution.
func (s Seed) Normal(draw uint32, t Thing) float64 {
	return math.Sqrt2 * math.Erfinv(2*s.Uniform(draw, t)-1)
}

// Constants of Philox4x32: multipliers and what the key grows by each round.
// Source: Salmon et al. 2011, table 2 and section 3.3 (second hand, from implementations that
// pass the published known answers).
const (
	multiplier0, multiplier1 = 0xD2511F53, 0xCD9E8D57
	weyl0, weyl1             = 0x9E3779B9, 0xBB67AE85
	rounds                   = 10
)

func philox(c [4]uint32, k [2]uint32) [4]uint32 {
	for range rounds {
		hi0, lo0 := bits.Mul32(multiplier0, c[0])
		hi1, lo1 := bits.Mul32(multiplier1, c[2])
		c = [4]uint32{hi1 ^ c[1] ^ k[0], lo1, hi0 ^ c[3] ^ k[1], lo0}
		k[0] += weyl0
		k[1] += weyl1
	}
	return c
}
