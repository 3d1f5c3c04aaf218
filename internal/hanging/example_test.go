package hanging_test

import (
	"fmt"

	"sabinbook/internal/hanging"
	"sabinbook/internal/units"
)

// "Ours" of hanging.md section 1: a panel of 6.0 kg on rings 500 mm apart, hook 60 mm above their line:
// 13.496 degrees, T 126.06 N = 2.142 W, P 122.58 N (section 6, g 9.80665).
func ExampleTension() {
	w := hanging.Weight(6)
	legs := hanging.LegAngle(500, 60)
	t := hanging.Tension(w, legs)
	fmt.Printf("%.3f degrees, T %.2f N = %.3f W, P %.2f N\n", legs.Degrees(), float64(t), float64(t/w), float64(hanging.SidePull(w, legs)))
	// Output:
	// 13.496 degrees, T 126.06 N = 2.142 W, P 122.58 N
}

// Giancoli, Physics, as quoted in hanging.md section 1: a walker of 60.0 kg at the middle of a wire over a
// gap of 36 m, which sags 2.1 m. The book says 2500 N, with g 9.8 it is 2537.1 N exactly (section 6).
func ExampleTension_walker() {
	w := units.Force(60.0 * 9.8)
	fmt.Printf("%.1f N\n", float64(hanging.Tension(w, hanging.LegAngle(36_000, 2100))))
	// Output:
	// 2537.1 N
}

// Check of hanging.md, wire slack and drill height: L 520 mm, s 500 mm, r 150 mm, c 300 mm.
func ExampleDrillDepth() {
	h := hanging.Sag(520, 500)
	fmt.Printf("h %.1f mm, drill %.1f mm below the ceiling\n", float64(h), float64(hanging.DrillDepth(300, 150, h)))
	// Output:
	// h 71.4 mm, drill 378.6 mm below the ceiling
}

// Checks of hanging.md section 6: wall 0.5 m²K/W, 20 °C inside, −5 °C outside, panel 2.857 m²K/W (100 mm with
// 0.035 W/mK), 50 per cent: −1.17 °C behind the panel, 15.15 °C bare with 68 per cent (section 4), dew point 9.26 °C.
func ExampleSurfaceTemperature() {
	behind, bare := hanging.SurfaceTemperature(20, -5, 0.5, 2.857), hanging.SurfaceTemperature(20, -5, 0.5, 0)
	fmt.Printf("behind %.2f, bare %.2f with %.0f %%, dew point %.2f\n", behind, bare, 100*hanging.SurfaceHumidity(20, 0.5, bare), hanging.DewPoint(20, 0.5))
	// Output:
	// behind -1.17, bare 15.15 with 68 %, dew point 9.26
}
