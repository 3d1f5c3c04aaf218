package panels

import (
	"math"
	"slices"
	"testing"

	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
	"sabinbook/internal/units"
)

func resistivity(v units.AirflowResistivity) *catalog.Figure[units.AirflowResistivity] {
	return &catalog.Figure[units.AirflowResistivity]{Value: v, Evidence: catalog.Published, SourceID: "sigma"}
}

func knit(r units.AirflowResistance, m units.SurfaceMass) catalog.Fabric {
	return catalog.Fabric{
		Resistance:  &catalog.Figure[units.AirflowResistance]{Value: r, Evidence: catalog.Declared, SourceID: "cloth"},
		SurfaceMass: &catalog.Figure[units.SurfaceMass]{Value: m},
	}
}

// Mineral wool blanket of 16 kg/m³, 50 mm (Bies, Hansen and Howard 2017, Table 6.2, row P002
// of the seed's test rows).
var blanket = catalog.AbsorptionTest{
	Meta: catalog.Meta{ID: "test_p002", Slug: "p002"}, FillID: "fill_1", Standard: "handbook_table", Mounting: "A",
	Thickness: 50, Density: 16, Alpha: bands.OctaveCurve([6]float64{0.17, 0.45, 0.80, 0.89, 0.97, 0.94}), SourceID: "bies",
}

func build(t *testing.T, fill catalog.Fill, depth, gap units.Length, fabric catalog.Fabric) Build {
	t.Helper()
	fill.ID = "fill_1"
	b, ok := Assemble(StandardDesign(), fill, depth, 1, gap, fabric, []catalog.Part{timber(depth)})
	if !ok {
		t.Fatal("no frame")
	}
	return b
}

func wool(density units.Density, sigma *catalog.Figure[units.AirflowResistivity]) catalog.Fill {
	return catalog.Fill{Density: &catalog.Figure[units.Density]{Value: density}, Resistivity: sigma,
		Handling: catalog.Handling{Profile: catalog.Fibrous, BackTissue: catalog.Yes}}
}

func TestMeasuredTestIsUsedOnlyWhereItFits(t *testing.T) {
	open, dense := knit(3, 0.05), knit(400, 0.2)
	for _, c := range []struct {
		name       string
		density    units.Density
		depth, gap units.Length
		fabric     catalog.Fabric
		want       Basis
	}{
		{"the tested build under an open knit", 16, 50, 0, open, Measured},
		{"2 mm thicker", 16, 52, 0, open, Measured},
		{"3 mm thicker is more than 5 %", 16, 53, 0, open, Predicted},
		{"density 9 % higher", 17.5, 50, 0, open, Measured},
		{"density 25 % higher", 20, 50, 0, open, Predicted},
		{"with 50 mm of air", 16, 50, 50, open, Predicted},
		{"under a dense fabric", 16, 50, 0, dense, Predicted},
	} {
		a, why := NewEstimator([]catalog.AbsorptionTest{blanket}).Absorption(build(t, wool(c.density, resistivity(8000)), c.depth, c.gap, c.fabric))
		if why != "" || a.Basis != c.want {
			t.Errorf("%s: %s %s, want %s (fabric changes %.3f)", c.name, a.Basis, why, c.want, a.FabricEffect)
		}
		if a.Basis == Measured && a.Curve != blanket.Alpha {
			t.Errorf("%s: a measured curve is used as it is", c.name)
		}
		if !slices.Contains(a.Sources, "cloth") {
			t.Errorf("%s: the fabric's source is missing in %v", c.name, a.Sources)
		}
	}
}

func TestUnknownDensityOfATestIsSaid(t *testing.T) {
	unstated := blanket
	unstated.Density = 0
	for _, c := range []struct {
		test catalog.AbsorptionTest
		want bool
	}{{blanket, false}, {unstated, true}} {
		a, _ := NewEstimator([]catalog.AbsorptionTest{c.test}).Absorption(build(t, wool(16, resistivity(8000)), 50, 0, knit(3, 0.05)))
		if a.Basis != Measured || slices.Contains(a.Warnings, Warning{Code: DensityUntested}) != c.want {
			t.Errorf("%s, warnings %v, want the density said: %v", a.Basis, a.Warnings, c.want)
		}
	}
}

func TestMountingsAreNeverMixed(t *testing.T) {
	hung := blanket
	hung.Mounting, hung.MountingSuffix, hung.AirGap = "E", 55, 5
	a, _ := NewEstimator([]catalog.AbsorptionTest{hung}).Absorption(build(t, wool(16, resistivity(8000)), 50, 0, knit(3, 0.05)))
	if a.Basis != Predicted {
		t.Error("a test on mounting E must not stand for a panel on the wall, even with a gap of 5 mm")
	}
}

func TestNearestOfSeveralTestsIsChosen(t *testing.T) {
	far := blanket
	far.ID, far.Slug, far.Thickness = "test_a", "a", 52
	a, _ := NewEstimator([]catalog.AbsorptionTest{far, blanket}).Absorption(build(t, wool(16, nil), 50, 0, knit(1, 0.03)))
	if a.Test == nil || a.Test.ID != blanket.ID {
		t.Errorf("chose %v", a.Test)
	}
}

func TestReasonsForNoAbsorption(t *testing.T) {
	e := NewEstimator([]catalog.AbsorptionTest{blanket})
	other := build(t, wool(16, nil), 50, 0, knit(3, 0.05))
	other.Fill.ID = "fill_2"
	for _, c := range []struct {
		b    Build
		want Reason
	}{
		{other, NoData},
		{build(t, wool(16, nil), 100, 0, knit(3, 0.05)), NoFittingTest},
		{build(t, wool(16, nil), 50, 0, knit(400, 0.2)), FabricUnclear},
		{build(t, wool(16, resistivity(8000)), 50, 0, catalog.Fabric{}), NoOpenness},
	} {
		if _, why := e.Absorption(c.b); why != c.want {
			t.Errorf("reason %q, want %q", why, c.want)
		}
	}
}

// absorber_model.md section 4: 50 mm of 10 000 Pa·s/m², no gap, fabric 400 Pa·s/m of 0.2 kg/m²,
// octaves 0.19 0.52 0.83 0.95 0.94 0.92 (print rounding).
func TestPredictedPanelAgreesWithThePrintedTable(t *testing.T) {
	a, why := NewEstimator(nil).Absorption(build(t, wool(40, resistivity(10_000)), 50, 0, knit(400, 0.2)))
	if why != "" {
		t.Fatal(why)
	}
	for i, want := range []float64{0.19, 0.52, 0.83, 0.95, 0.94, 0.92} {
		if got, _ := a.Curve.Octave(i); math.Abs(got-want) > 0.0055 {
			t.Errorf("octave %d: %.4f, want %.2f", i, got, want)
		}
	}
	if !slices.ContainsFunc(a.Warnings, func(w Warning) bool { return w.Code == BelowLaboratory }) {
		t.Error("a predicted curve says that laboratory curves run higher")
	}
}

func TestBackWrapCountsBeforeAGapOnly(t *testing.T) {
	fill := wool(40, resistivity(10_000))
	fabric := knit(800, 0.2)
	curve := func(back Back, gap units.Length) bands.Curve {
		b := build(t, fill, 50, gap, fabric)
		b.Design.Back = back
		a, why := NewEstimator(nil).Absorption(b)
		if why != "" {
			t.Fatal(why)
		}
		return a.Curve
	}
	if curve(BackOpen, 0) != curve(BackWrapped, 0) {
		t.Error("against the wall a back wrap changes nothing")
	}
	if curve(BackOpen, 100) == curve(BackWrapped, 100) {
		t.Error("before air a back wrap changes the absorption")
	}
}

func TestOpennessIsStatedOrDerived(t *testing.T) {
	// ISO 9237 at 100 Pa: 500 mm/s is 200 Pa·s/m apparent, 177.8 at low velocity (fabric_vectors.csv).
	f := catalog.Fabric{Permeability: &catalog.Permeability{Velocity: 500, Pressure: 100, Evidence: catalog.Declared, SourceID: "p"}}
	o, ok := OpennessOf(f)
	if !ok || !o.Derived || math.Abs(float64(o.Resistance)-177.778) > 0.001 {
		t.Errorf("derived %+v", o)
	}
	f.Resistance = knit(120, 0.2).Resistance
	if o, _ = OpennessOf(f); o.Derived || o.Resistance != 120 {
		t.Errorf("a stated openness goes before a derived one: %+v", o)
	}
}
