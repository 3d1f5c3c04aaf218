package absorber

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"
)

// The lines are those of gonum's package stat, which the program itself does not link: with it come
// the whole of its linear algebra and 2 MB.
func TestLinesAreThoseOfTheLibrary(t *testing.T) {
	near := func(a, b float64) bool { return math.Abs(a-b) <= 1e-9*(1+math.Abs(b)) }
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 8).Draw(t, "points")
		x, y, w := make([]float64, n), make([]float64, n), make([]float64, n)
		for i := range n {
			x[i] = float64(i) + rapid.Float64Range(0.1, 0.9).Draw(t, "x")
			y[i] = rapid.Float64Range(-5, 50).Draw(t, "y")
			w[i] = float64(rapid.IntRange(1, 9).Draw(t, "weight"))
		}
		a, b := lineThrough(x, y, w)
		wantA, wantB := stat.LinearRegression(x, y, w, false)
		_, wantSlope := stat.LinearRegression(x, y, w, true)
		if !near(a, wantA) || !near(b, wantB) || !near(slopeThrough(x, y, w), wantSlope) || !near(mean(x, w), stat.Mean(x, w)) || !near(mean(y, nil), stat.Mean(y, nil)) {
			t.Fatalf("%g + %g x, want %g + %g x", a, b, wantA, wantB)
		}
	})
}
