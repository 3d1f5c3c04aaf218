package handling_test

import (
	"fmt"

	"sabinbook/internal/catalog"
	"sabinbook/internal/handling"
	"sabinbook/internal/money"
	"sabinbook/internal/panels"
	"sabinbook/internal/units"
)

// six returns the build of the worked examples of handling.md section 3: panels of
// 1.2 m x 0.6 m x 0.1 m with one layer of a fill of the profile.
func six(profile catalog.Profile, family catalog.Family) panels.Build {
	return panels.Build{
		Design: panels.StandardDesign(),
		Fill: catalog.Fill{Family: family, Density: &catalog.Figure[units.Density]{Value: 45},
			Handling: catalog.Handling{Profile: profile, Irritant: catalog.Unknown, Dust: catalog.No, BackTissue: catalog.No}},
		Thickness: 100, Layers: 1,
		Fabric: catalog.Fabric{SurfaceMass: &catalog.Figure[units.SurfaceMass]{Value: 0.3}},
		Frame:  catalog.Part{Role: catalog.FrameTimber, SectionThickness: 18, SectionWidth: 100, Density: &catalog.Figure[units.Density]{Value: 370}},
	}
}

// Worked example A of handling.md section 3: 25 + 10.8 + 12.96 = 48.76 minutes, 8.1267 a
// panel; with an hour at 15.00 they are worth 12.19.
func ExampleFor_fibrous() {
	hour := money.FromMinor(1500, "EUR")
	b := handling.For(six(catalog.Fibrous, catalog.RockWool), 6, handling.Terms{ValueOfHour: &hour})
	for _, l := range b.Lines {
		fmt.Printf("%s %.2f %s, %s\n", l.Name, l.Quantity, l.Unit, l.Evidence)
	}
	worth, _ := b.LabourCost()
	fmt.Printf("%.2f min, %.4f a panel, worth %s\n", float64(b.Total), float64(b.PerPanel), worth)
	// Output:
	// session_overhead 25.00 min, convention
	// cutting 10.80 min, convention
	// full_back_wrap 12.96 min, convention
	// 48.76 min, 8.1267 a panel, worth 12.19
}

// Worked example B of handling.md section 3: 26.6 minutes, 4.4333 a panel, worth 6.65, and
// nothing to wear.
func ExampleFor_polyester() {
	hour := money.FromMinor(1500, "EUR")
	b := handling.For(six(catalog.PolyProfile, catalog.Polyester), 6, handling.Terms{ValueOfHour: &hour})
	worth, _ := b.LabourCost()
	fmt.Printf("%.1f min, %.4f a panel, worth %s, %d things to wear\n", float64(b.Total), float64(b.PerPanel), worth, len(b.Protection))
	// Output:
	// 26.6 min, 4.4333 a panel, worth 6.65, 0 things to wear
}

// Lift of handling.md section 3: 12.65 kg and LI 0.451 at the origin, 9.804 kg and 0.582 at
// the destination, for the 5.709 kg of the example above it; the worse is shown.
func ExampleLiftOf() {
	l := handling.LiftOf(5.709, handling.DefaultGeometry)
	fmt.Printf("%.2f kg, %.3f\n%.3f kg, %.3f\nworse %.3f\n", float64(l.Origin.Limit), l.Origin.Index, float64(l.Destination.Limit), l.Destination.Index, l.Index)
	// Output:
	// 12.65 kg, 0.451
	// 9.804 kg, 0.582
	// worse 0.582
}
