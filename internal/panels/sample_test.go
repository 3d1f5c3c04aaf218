package panels

import (
	"testing"

	"sabinbook/internal/absorption"
	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
	"sabinbook/internal/units"
)

func estimate(t *testing.T, b Build) absorption.Estimate {
	t.Helper()
	e, err := absorption.NewEstimator(nil, absorption.StandardConditions())
	if err != nil {
		t.Fatal(err)
	}
	s, why := b.Sample()
	if why != "" {
		t.Fatal(why)
	}
	out, why := e.Estimate(s)
	if why != "" {
		t.Fatal(why)
	}
	return out
}

func TestBackWrapCountsBeforeAGapOnly(t *testing.T) {
	fill := catalog.Fill{Meta: catalog.Meta{ID: "fill_1"}, Resistivity: &catalog.Figure[units.AirflowResistivity]{Value: 10_000, Evidence: catalog.Published},
		Handling: catalog.Handling{Profile: catalog.Fibrous, BackTissue: catalog.Yes}}
	fabric := catalog.Fabric{Resistance: &catalog.Figure[units.AirflowResistance]{Value: 800}, SurfaceMass: &catalog.Figure[units.SurfaceMass]{Value: 0.2}}
	curve := func(back Back, gap units.Length) bands.Curve {
		b, ok := Assemble(StandardDesign(), fill, 50, 1, gap, fabric, []catalog.Part{timber(50)})
		if !ok {
			t.Fatal("no frame")
		}
		b.Design.Back = back
		return estimate(t, b).Curve()
	}
	if curve(BackOpen, 0) != curve(BackWrapped, 0) {
		t.Error("against the wall a back wrap changes nothing")
	}
	if curve(BackOpen, 100) == curve(BackWrapped, 100) {
		t.Error("before air a back wrap changes the absorption")
	}
}

func TestFabricOfUnknownOpennessHasNoSample(t *testing.T) {
	b := Build{Fill: catalog.Fill{}, Thickness: 50, Layers: 1}
	if _, why := b.Sample(); why != absorption.NoOpenness {
		t.Errorf("reason %q", why)
	}
}
