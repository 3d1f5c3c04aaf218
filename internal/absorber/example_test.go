package absorber_test

import (
	"fmt"

	"sabinbook/internal/absorber"
)

// 50 mm of 10 000 Pa·s/m² on a wall under a fabric of 400 Pa·s/m and 0.2 kg/m²: the octaves
// printed in the absorber model ground section 4.
func ExamplePredict() {
	p, err := absorber.Predict([]absorber.Layer{
		absorber.Fabric{Resistance: 400, SurfaceMass: 0.2},
		absorber.Fill{Resistivity: 10_000, Thickness: 50},
	}, absorber.Conditions{})
	if err != nil {
		fmt.Println(err)
	}
	for i := range 6 {
		v, _ := p.Octaves().Octave(i)
		fmt.Printf("%.2f ", v)
	}
	// Output: 0.19 0.52 0.83 0.95 0.94 0.92
}
