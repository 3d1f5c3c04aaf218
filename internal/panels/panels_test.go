package panels

import (
	"math"
	"testing"

	"sabinbook/internal/catalog"
	"sabinbook/internal/units"
)

func timber(width units.Length) catalog.Part {
	return catalog.Part{Meta: catalog.Meta{Slug: catalog.Slug("frame-" + string(rune('a'+int(width)%26)))}, Kind: catalog.Timber, Role: catalog.FrameTimber,
		SectionThickness: 18, SectionWidth: width, Density: &catalog.Figure[units.Density]{Value: 370}}
}

func fibrous() catalog.Fill {
	return catalog.Fill{Density: &catalog.Figure[units.Density]{Value: 45},
		Handling: catalog.Handling{Profile: catalog.Fibrous, Dust: catalog.Unknown, BackTissue: catalog.Unknown}}
}

func cloth() catalog.Fabric {
	return catalog.Fabric{SurfaceMass: &catalog.Figure[units.SurfaceMass]{Value: 0.3}}
}

// Worked example "Mass" of handling.md section 3: frame 18 x 100 mm of C16 (370 kg/m³, EN 338
// mean) 3.528 m: 2.350 kg; fill 1.164 x 0.564 x 0.1 m at 45 kg/m³: 2.954 kg; fabric
// 1.5 x 0.9 m at 0.3 kg/m²: 0.405 kg; total 5.709 kg. Tolerance: print rounding.
func TestMassOfTheWorkedExample(t *testing.T) {
	d := StandardDesign()
	d.Back = BackOpen
	b, ok := Assemble(d, fibrous(), 100, 1, 0, cloth(), []catalog.Part{timber(100)})
	if !ok {
		t.Fatal("the frame fits")
	}
	total, lines, known := b.Mass()
	want := map[string]float64{"frame": 2.350, "fill": 2.954, "fabric": 0.405}
	for _, l := range lines {
		if math.Abs(float64(l.Mass)-want[l.What]) > 0.0005 {
			t.Errorf("%s: %.4f kg, want %.3f", l.What, l.Mass, want[l.What])
		}
	}
	if !known || math.Abs(float64(total)-5.709) > 0.0005 {
		t.Errorf("total %.4f kg, known %v, want 5.709", total, known)
	}
	// costing.md section 6: cut piece 1.50 x 0.90 m for 1.2 x 0.6 x 0.1 m with 0.05 m turned in.
	if w, h := b.FrontPiece(); w != 900 || h != 1500 {
		t.Errorf("front piece %g x %g", float64(w), float64(h))
	}
}

func TestUnknownDensityIsNotNothing(t *testing.T) {
	fill := fibrous()
	fill.Density = nil
	b, _ := Assemble(StandardDesign(), fill, 50, 1, 0, cloth(), []catalog.Part{timber(50)})
	if _, _, known := b.Mass(); known {
		t.Error("a panel with a fill of unknown density has an unknown mass")
	}
}

func TestFrameIsTheNarrowestThatHoldsTheFill(t *testing.T) {
	timbers := []catalog.Part{timber(100), timber(70), timber(50), timber(45)}
	for _, c := range []struct {
		depth, gap            units.Length
		frame, behind, spacer units.Length
		ok                    bool
	}{
		{50, 0, 50, 0, 0, true},
		{50, 50, 50, 50, 50, true},
		{48, 0, 50, 2, 0, true},
		{60, 0, 0, 0, 0, false},    // 70 is 10 mm deeper: more than the allowance
		{60, 20, 70, 20, 10, true}, // 10 mm of the gap lie inside the frame
		{120, 50, 0, 0, 0, false},
	} {
		b, ok := Assemble(StandardDesign(), fibrous(), c.depth, 1, c.gap, cloth(), timbers)
		if ok != c.ok || ok && (b.FrameDepth() != c.frame || b.AirGap != c.behind || b.StandOff != c.spacer) {
			t.Errorf("%g mm of fill, %g mm of gap: frame %g, gap %g, stand-off %g, %v", float64(c.depth), float64(c.gap), float64(b.FrameDepth()), float64(b.AirGap), float64(b.StandOff), ok)
		}
	}
}

func TestBackIsWrappedWhenTheFillSheds(t *testing.T) {
	for _, c := range []struct {
		name string
		h    catalog.Handling
		back Back
		want bool
	}{
		{"fibrous", catalog.Handling{Profile: catalog.Fibrous, BackTissue: catalog.No}, BackAsNeeded, true},
		{"fibrous with tissue", catalog.Handling{Profile: catalog.Fibrous, BackTissue: catalog.Yes}, BackAsNeeded, false},
		{"dusty plant", catalog.Handling{Profile: catalog.DustyPlant, Dust: catalog.Yes}, BackAsNeeded, true},
		{"unknown dust", catalog.Handling{Profile: catalog.WoolProfile, Dust: catalog.Unknown}, BackAsNeeded, true},
		{"clean wool", catalog.Handling{Profile: catalog.WoolProfile, Dust: catalog.No}, BackAsNeeded, false},
		{"foam", catalog.Handling{Profile: catalog.FoamProfile, Dust: catalog.Unknown}, BackAsNeeded, false},
		{"polyester", catalog.Handling{Profile: catalog.PolyProfile, Dust: catalog.Yes}, BackAsNeeded, false},
		{"fibrous, builder closes it", catalog.Handling{Profile: catalog.Fibrous}, BackOpen, false},
		{"foam, asked for", catalog.Handling{Profile: catalog.FoamProfile}, BackWrapped, true},
	} {
		d := StandardDesign()
		d.Back = c.back
		if got := (Build{Design: d, Fill: catalog.Fill{Handling: c.h}}).BackWrapped(); got != c.want {
			t.Errorf("%s: wrapped %v, want %v", c.name, got, c.want)
		}
	}
}

// The ring of a frame is the same with every joint; a brace of 564 mm of 18 x 100 mm at 370
// kg/m³ adds 0.3756 kg and takes the place of 18 mm of the fill: 0.0457 kg at 45 kg/m³. By hand.
func TestMassWithJointsAndBraces(t *testing.T) {
	mass := func(joint Joint, braces int) float64 {
		d := StandardDesign()
		d.Joint, d.Braces = joint, braces
		b, _ := Assemble(d, fibrous(), 100, 1, 0, cloth(), []catalog.Part{timber(100)})
		total, _, _ := b.Mass()
		return float64(total)
	}
	plain := mass(ButtJoint, 0)
	for _, joint := range Joints {
		if got := mass(joint, 0); got != plain {
			t.Errorf("%s: %g kg, want %g", joint, got, plain)
		}
		if got, want := mass(joint, 1)-plain, 0.3756-0.0457; math.Abs(got-want) > 0.0001 {
			t.Errorf("%s: a brace adds %.4f kg, want %.4f", joint, got, want)
		}
	}
}
