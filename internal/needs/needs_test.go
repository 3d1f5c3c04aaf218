package needs_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"sabinbook/internal/catalog"
	"sabinbook/internal/handling"
	"sabinbook/internal/needs"
	"sabinbook/internal/panels"
	"sabinbook/internal/units"
)

func build(profile catalog.Profile) panels.Build {
	return panels.Build{
		Design:    panels.StandardDesign(),
		Fill:      catalog.Fill{Handling: catalog.Handling{Profile: profile, BackTissue: catalog.No, Dust: catalog.No}},
		Thickness: 50, Layers: 2,
		Frame: catalog.Part{Role: catalog.FrameTimber, SectionThickness: 18, SectionWidth: 100},
	}
}

func listOf(b panels.Build, count int) needs.List {
	return needs.For(b, count, handling.For(b, count, handling.Terms{}))
}

// Source: costing.md section 6: panel 1.2 x 0.6 x 0.1 m with 0.05 m turned in has pieces of 1.50
// m x 0.90 m; the frame of handling.md section 3 has 2 x 1.2 m and 2 x 0.564 m a panel.
func TestCheckValues(t *testing.T) {
	l := listOf(build(catalog.Fibrous), 6)
	if front := l.Cloth[0]; front.Width != 900 || front.Height != 1500 || front.Count != 6 {
		t.Errorf("front: %+v", front)
	}
	if len(l.Cloth) != 2 || l.Cloth[1].Width != 600 || l.Cloth[1].Height != 1200 || l.Cloth[1].Name != "back" {
		t.Errorf("back: %+v", l.Cloth)
	}
	if l.Bars[0].Length != 1200 || l.Bars[0].Count != 12 || l.Bars[1].Length != 564 || l.Bars[1].Count != 12 || len(l.Bars) != 2 {
		t.Errorf("frame: %+v", l.Bars)
	}
	if p := l.FillPieces; p.Width != 564 || p.Height != 1164 || p.Count != 12 {
		t.Errorf("fill: %+v", p)
	}
	if v := 6 * 0.564 * 1.164 * 0.1; math.Abs(float64(l.FillVolume)-v) > 1e-12 { // rounding of the product
		t.Errorf("volume %g, want %g", float64(l.FillVolume), v)
	}
	want := []needs.Part{{Role: catalog.Hanger, Count: 12}, {Role: catalog.Screw, Count: 48}, {Role: catalog.Staple, Count: 360}}
	for i, w := range want {
		if l.Parts[i].Role != w.Role || l.Parts[i].Count != w.Count {
			t.Errorf("part %d: %+v, want %+v", i, l.Parts[i], w)
		}
	}
	if len(l.Protection) != 4 || l.Protection[1].Role != catalog.Gloves || l.Protection[1].Uses != 6 {
		t.Errorf("protection: %+v", l.Protection)
	}
}

func TestOpenBackAndStandOffs(t *testing.T) {
	b := build(catalog.FoamProfile)
	b.StandOff = 50
	l := listOf(b, 3)
	if len(l.Cloth) != 1 || len(l.Protection) != 0 || !l.ProtectionKnown {
		t.Errorf("%+v", l)
	}
	if last := l.Parts[len(l.Parts)-1]; last.Role != catalog.StandOff || last.Count != 12 {
		t.Errorf("stand-offs: %+v", last)
	}
	if l := listOf(build(catalog.OtherProfile), 3); l.ProtectionKnown || len(l.Protection) != 0 {
		t.Errorf("unknown burden: %+v", l.Protection)
	}
}

// Joints and braces by hand: at mitres and laps all four corner pieces are as long as their
// outer side (hanging.md; costing_problem.md section 5 for mitres), a brace stands between the
// uprights, and two of them leave three bays of (1164 - 2 x 18) / 3 = 376 mm.
func TestJointsBracesMarginsAndOversize(t *testing.T) {
	b := build(catalog.Fibrous)
	b.Design.Braces, b.Design.BackMargin, b.Design.Oversize = 2, -10, 5
	for _, c := range []struct {
		joint panels.Joint
		short units.Length
	}{{panels.ButtJoint, 564}, {panels.Mitre, 600}, {panels.HalfLap, 600}} {
		b.Design.Joint = c.joint
		l := listOf(b, 4)
		lengths := map[string]units.Length{"rail_long": 1200, "rail_short": c.short, "brace": 564}
		for _, bar := range l.Bars {
			if bar.Length != lengths[bar.Name] || bar.Count != 8 {
				t.Errorf("%s: %+v", c.joint, bar)
			}
		}
		if len(l.Bars) != 3 || l.Mitred != (c.joint == panels.Mitre) {
			t.Errorf("%s: %+v", c.joint, l)
		}
		if p := l.FillPieces; p.Width != 569 || p.Height != 381 || p.Count != 4*2*3 {
			t.Errorf("%s: fill %+v", c.joint, p)
		}
		if back := l.Cloth[1]; back.Width != 580 || back.Height != 1180 {
			t.Errorf("%s: back %+v", c.joint, back)
		}
		if v := 4 * 3 * 0.564 * 0.376 * 0.1; math.Abs(float64(l.FillVolume)-v) > 1e-12 { // rounding of the product
			t.Errorf("%s: volume %g, want %g", c.joint, float64(l.FillVolume), v)
		}
	}
}

func TestNeedsGrowWithThePanels(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := build(rapid.SampledFrom([]catalog.Profile{catalog.Fibrous, catalog.DustyPlant, catalog.PolyProfile}).Draw(t, "profile"))
		b.Design.Width, b.Design.Height = units.Length(rapid.IntRange(200, 2000).Draw(t, "w")), units.Length(rapid.IntRange(200, 2000).Draw(t, "h"))
		n := rapid.IntRange(1, 499).Draw(t, "n")
		one, more := listOf(b, n), listOf(b, n+1)
		if more.FillPieces.Count*n != one.FillPieces.Count*(n+1) || more.Bars[0].Count*n != one.Bars[0].Count*(n+1) || more.Cloth[0].Count != n+1 {
			t.Fatalf("%+v, then %+v", one, more)
		}
		for i := range one.Protection {
			if more.Protection[i].Uses < one.Protection[i].Uses {
				t.Fatalf("%+v, then %+v", one.Protection[i], more.Protection[i])
			}
		}
	})
}
