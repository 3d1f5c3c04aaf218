package absorber

import (
	"testing"

	"sabinbook/internal/units"
)

// BenchmarkAfresh computes one assembly that shares nothing with the one before, with 64
// angles in every band: fill alone, and fabric, fill and gap.
func BenchmarkAfresh(b *testing.B) {
	for _, c := range []struct {
		name   string
		layers func(units.Length) []Layer
	}{
		{"fill", func(d units.Length) []Layer { return []Layer{Fill{Resistivity: 10_000, Thickness: d}} }},
		{"fabric+fill+gap", func(d units.Length) []Layer {
			return []Layer{Fabric{Resistance: 200, SurfaceMass: 0.2}, Fill{Resistivity: 10_000, Thickness: 50}, Gap{Depth: d}}
		}},
	} {
		b.Run(c.name, func(b *testing.B) {
			k, err := NewKernel(Conditions{Nodes: 64})
			if err != nil {
				b.Fatal(err)
			}
			b.ReportAllocs()
			for i := range b.N {
				if _, err := k.Absorption(c.layers(units.Length(50 + float64(i)*1e-6))); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "assemblies/s")
		})
	}
}

// BenchmarkCross computes 50 fills x 3 thicknesses x 4 gaps x 40 fabrics with the node
// rule, fabrics varying fastest, in a new kernel each time.
func BenchmarkCross(b *testing.B) {
	fabrics := make([]Layer, 40)
	for i := range fabrics {
		fabrics[i] = Fabric{Resistance: units.AirflowResistance(25 * (i + 1)), SurfaceMass: 0.2}
	}
	b.ReportAllocs()
	count := 0
	for range b.N {
		k, err := NewKernel(Conditions{})
		if err != nil {
			b.Fatal(err)
		}
		layers := make([]Layer, 3)
		for f := range 50 {
			for _, d := range []units.Length{25, 50, 100} {
				layers[1] = Fill{Resistivity: units.AirflowResistivity(2000 * (f + 1)), Thickness: d}
				for _, g := range []units.Length{0, 25, 50, 100} {
					layers[2] = Gap{Depth: g}
					for _, fabric := range fabrics {
						layers[0] = fabric
						if _, err := k.Absorption(layers); err != nil {
							b.Fatal(err)
						}
						count++
					}
				}
			}
		}
	}
	b.ReportMetric(float64(count)/b.Elapsed().Seconds(), "assemblies/s")
}
