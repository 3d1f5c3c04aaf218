package absorber

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"sabinbook/internal/bands"
	"sabinbook/internal/units"
)

// assembly draws a plausible or extreme stack: fabric, fill, perhaps a back wrap, gap.
func assembly(t *rapid.T) []Layer {
	var list []Layer
	cloth := Fabric{
		Resistance:  units.AirflowResistance(rapid.Float64Range(0, 5000).Draw(t, "R")),
		SurfaceMass: units.SurfaceMass(rapid.Float64Range(0.02, 2).Draw(t, "m")),
	}
	if rapid.Bool().Draw(t, "fabric") {
		list = append(list, cloth)
	}
	list = append(list, Fill{
		Resistivity: units.AirflowResistivity(math.Exp(rapid.Float64Range(math.Log(500), math.Log(500_000)).Draw(t, "ln sigma"))),
		Thickness:   units.Length(rapid.Float64Range(1, 400).Draw(t, "d")),
	})
	if rapid.Bool().Draw(t, "back") {
		list = append(list, cloth)
	}
	return append(list, Gap{Depth: units.Length(rapid.Float64Range(0, 600).Draw(t, "gap"))})
}

func curve(t *rapid.T, layers []Layer) bands.Curve {
	p, err := Predict(layers, Conditions{})
	if err != nil {
		t.Fatal(err)
	}
	return p.Thirds
}

func same(t *rapid.T, what string, a, b bands.Curve) {
	for _, band := range bands.Thirds() {
		x, _ := a.At(band)
		y, _ := b.At(band)
		if !(math.Abs(x-y) <= 1e-9) {
			t.Fatalf("%s changes %s: %.12g and %.12g", what, band, x, y)
		}
	}
}

func TestProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		layers := assembly(t)
		whole := curve(t, layers)
		for _, band := range bands.Thirds() {
			if a, ok := whole.At(band); !ok || !(a >= 0 && a <= 1) {
				t.Fatalf("%s: %v", band, a)
			}
		}
		var split, padded []Layer
		for _, l := range layers {
			padded = append(padded, Fill{Resistivity: 8000}, l, Gap{}, Fabric{SurfaceMass: 0.2})
			if f, ok := l.(Fill); ok {
				part := rapid.Float64Range(0, 1).Draw(t, "part")
				a, b := f, f
				a.Thickness, b.Thickness = f.Thickness*units.Length(part), f.Thickness*units.Length(1-part)
				split = append(split, a, b)
				continue
			}
			split = append(split, l)
		}
		same(t, "splitting the fill", whole, curve(t, split))
		same(t, "adding layers of nothing", whole, curve(t, padded))
	})
}

func TestNothingAbsorbsNothing(t *testing.T) {
	for name, layers := range map[string][]Layer{"nothing": nil, "only a gap": {Gap{Depth: 100}}} {
		p, err := Predict(layers, Conditions{})
		if err != nil {
			t.Fatal(err)
		}
		for _, band := range bands.Thirds() {
			if a, _ := p.Thirds.At(band); math.Abs(a) > 1e-9 || math.IsNaN(a) {
				t.Errorf("%s absorbs %g at %s", name, a, band)
			}
		}
	}
}

// Closed form of the diffuse absorption of a locally reacting surface z = r + jx, and its
// greatest value: 0.9512 at z = 1.567 (Vigran 2008, eq. 3.80; published 0.951 near 1.6).
func TestLocalReactionAgreesWithTheClosedForm(t *testing.T) {
	closed := func(z complex128) float64 {
		r, x, m := real(z), imag(z), real(z)*real(z)+imag(z)*imag(z)
		atan := 1 / (1 + r)
		if x != 0 {
			atan = math.Atan(x/(1+r)) / x
		}
		return 8 * r / m * (1 + (r*r-x*x)/m*atan - r/m*math.Log(1+2*r+m))
	}
	about(t, "greatest value", closed(1.567), 0.9512, 5e-5)
	// A fabric held still before a hard wall with a partitioned gap is z = R/Z0 - j cot(k0 d).
	air := StandardAir()
	gap := Gap{Depth: 80}
	p, err := Predict([]Layer{Fabric{Resistance: 600, Held: true}, gap}, Conditions{Reaction: Local, Nodes: 256})
	if err != nil {
		t.Fatal(err)
	}
	for _, band := range bands.Thirds() {
		k0 := 2 * math.Pi * band.Centre() / air.SoundSpeed()
		z := complex(600/air.Impedance(), -1/math.Tan(k0*gap.Depth.Metres()))
		got, _ := p.Thirds.At(band)
		about(t, band.String(), got, closed(z), 1e-6)
	}
}
