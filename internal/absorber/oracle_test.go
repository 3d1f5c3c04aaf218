package absorber

import (
	"errors"
	"math"
	"math/cmplx"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"sabinbook/internal/bands"
	"sabinbook/internal/units"
)

// plain computes the absorption of one plane wave at the cosine ct by the equations of the
// absorber model ground section 1, written down as they stand, in complex numbers.
func plain(layers []Layer, local bool, hz, ct float64) float64 {
	air := StandardAir()
	k0 := complex(2*math.Pi*hz/air.SoundSpeed(), 0)
	y := complex(0, 0) // admittance times ρ0c0
	for i := len(layers) - 1; i >= 0; i-- {
		switch l := layers[i].(type) {
		case sheet:
			y /= 1 + l.impedance(air, hz)*y
		case slab:
			fl := l.fluid(air, hz)
			kz := cmplx.Sqrt(fl.index2)
			if !local {
				kz = cmplx.Sqrt(fl.index2 - complex(1-ct*ct, 0))
			}
			zz := fl.density / kz
			e := cmplx.Exp(-2i * kz * k0 * complex(l.depth(), 0))
			r := (1 - zz*y) / (1 + zz*y)
			y = (1 - r*e) / ((1 + r*e) * zz)
		}
	}
	b := y / complex(ct, 0)
	return 4 * real(b) / square(1+b)
}

var anyModel = rapid.SampledFrom([]Model{"", AC92, DelanyBazley, Miki, Komatsu, GaraiPompoli, DunnDavern, Wu, JCA})

// anyStack draws up to six layers of any kind, some of zero thickness or resistance.
func anyStack(t *rapid.T) []Layer {
	amount := func(name string, low, high float64) float64 {
		if rapid.IntRange(0, 9).Draw(t, name+" none") == 0 {
			return 0
		}
		return math.Exp(rapid.Float64Range(math.Log(low), math.Log(high)).Draw(t, name))
	}
	layers := make([]Layer, rapid.IntRange(0, 6).Draw(t, "layers"))
	for i := range layers {
		switch rapid.IntRange(0, 3).Draw(t, "kind") {
		case 0:
			layers[i] = Fabric{
				Resistance:  units.AirflowResistance(amount("R", 1, 20_000)),
				SurfaceMass: units.SurfaceMass(amount("mass", 0.01, 10)),
				Held:        rapid.Bool().Draw(t, "held"),
			}
		case 1:
			layers[i] = Perforated{
				OpenArea:  units.Fraction(rapid.Float64Range(0.005, 0.5).Draw(t, "open")),
				Hole:      units.Diameter(rapid.Float64Range(100, 10_000).Draw(t, "hole")),
				Thickness: units.Length(amount("sheet", 0.1, 10)),
			}
		case 2:
			layers[i] = Gap{Depth: units.Length(amount("gap", 1, 500))}
		default:
			layers[i] = Fill{
				Resistivity:  units.AirflowResistivity(math.Exp(rapid.Float64Range(math.Log(500), math.Log(2e5)).Draw(t, "ln sigma"))),
				Thickness:    units.Length(amount("d", 1, 300)),
				Model:        anyModel.Draw(t, "model"),
				Pores:        Pores{Porosity: 0.97, Tortuosity: 1.3, ViscousLength: 80, ThermalLength: 170},
				FrameDensity: units.Density(amount("frame", 5, 200)),
			}
		}
	}
	return layers
}

// The inner loops in real arithmetic against the plain complex form: 1e-9, because power
// laws far outside their range make the recursion of the oracle lose digits.
func TestKernelAgainstPlainComplexForm(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		layers := anyStack(t)
		angle := rapid.Float64Range(0, 89).Draw(t, "angle")
		reaction := rapid.SampledFrom([]Reaction{Bulk, Local}).Draw(t, "reaction")
		p, err := Predict(layers, Conditions{Incidence: Oblique(angle), Reaction: reaction})
		if err != nil {
			t.Fatal(err)
		}
		for _, b := range bands.Thirds() {
			want := plain(layers, reaction == Local, b.Centre(), math.Cos(angle*math.Pi/180))
			got, _ := p.Thirds.At(b)
			if want < 0 || want > 1 { // only power laws outside their range
				continue
			}
			if !(math.Abs(got-want) <= 1e-9) {
				t.Fatalf("%s: %.12g, plain form %.12g", b, got, want)
			}
		}
	})
}

// A kernel that remembers must answer as a fresh one does, in any order of questions and
// after its memory was used again.
func TestMemoryChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k, err := NewKernel(Conditions{})
		if err != nil {
			t.Fatal(err)
		}
		stacks := rapid.SliceOfN(rapid.Custom(anyStack), 1, 6).Draw(t, "stacks")
		for range 12 {
			if rapid.IntRange(0, 4).Draw(t, "forget") == 0 {
				k.forget()
			}
			layers := rapid.SampledFrom(stacks).Draw(t, "stack")
			got, err := k.Predict(layers)
			if err != nil {
				t.Fatal(err)
			}
			want, err := Predict(layers, Conditions{})
			if err != nil {
				t.Fatal(err)
			}
			if got.Thirds != want.Thirds {
				t.Fatalf("remembered %v, fresh %v", got.Thirds, want.Thirds)
			}
		}
	})
}

func TestMemoryIsBounded(t *testing.T) {
	k, err := NewKernel(Conditions{})
	if err != nil {
		t.Fatal(err)
	}
	for i := range 4000 {
		if _, err := k.Absorption([]Layer{Fill{Resistivity: 10_000, Thickness: units.Length(10 + float64(i)/100)}, Gap{Depth: 50}}); err != nil {
			t.Fatal(err)
		}
	}
	if n := len(k.arena.blocks); n > fullBlocks+1 {
		t.Errorf("%d blocks in use, at most %d were expected", n, fullBlocks+1)
	}
}

// One more fabric before a known surface allocates nothing once the fabric is known too.
func TestKnownLayersAllocateNothing(t *testing.T) {
	k, err := NewKernel(Conditions{})
	if err != nil {
		t.Fatal(err)
	}
	layers := []Layer{Fabric{Resistance: 200, SurfaceMass: 0.2}, Fill{Resistivity: 10_000, Thickness: 50}, Gap{Depth: 50}}
	if n := testing.AllocsPerRun(100, func() { _, _ = k.Absorption(layers) }); n != 0 {
		t.Errorf("%v allocations", n)
	}
}

func TestExtremeInput(t *testing.T) { rapid.Check(t, extremeInput) }

// FuzzPredict lets the fuzzer choose the input of extremeInput.
func FuzzPredict(f *testing.F) { f.Fuzz(rapid.MakeFuzz(extremeInput)) }

// extremeInput: whatever is taken gives coefficients from 0 to 1, at the very limits of
// input too.
func extremeInput(t *rapid.T) {
	extreme := func(low, high float64) *rapid.Generator[float64] {
		return rapid.OneOf(rapid.Just(low), rapid.Just(high), rapid.Float64Range(low, high))
	}
	layers := make([]Layer, rapid.IntRange(0, maxLayers).Draw(t, "layers"))
	for i := range layers {
		switch rapid.IntRange(0, 3).Draw(t, "kind") {
		case 0:
			layers[i] = Fabric{
				Resistance:  units.AirflowResistance(extreme(0, maxResistance).Draw(t, "R")),
				SurfaceMass: units.SurfaceMass(rapid.OneOf(rapid.Just(0.0), extreme(minMass, maxMass)).Draw(t, "m")),
			}
		case 1:
			layers[i] = Perforated{
				OpenArea:  units.Fraction(extreme(1e-4, 0.9999).Draw(t, "open")),
				Hole:      units.Diameter(extreme(10, 100_000).Draw(t, "hole")),
				Thickness: units.Length(extreme(0, 100).Draw(t, "sheet")),
			}
		case 2:
			layers[i] = Gap{Depth: units.Length(extreme(0, maxLength).Draw(t, "gap"))}
		default:
			layers[i] = Fill{
				Resistivity: units.AirflowResistivity(extreme(minSigma, maxSigma).Draw(t, "sigma")),
				Thickness:   units.Length(extreme(0, maxLength).Draw(t, "d")),
				Model:       anyModel.Draw(t, "model"),
				Pores: Pores{
					Porosity:      units.Fraction(extreme(0.01, 1).Draw(t, "porosity")),
					Tortuosity:    extreme(1, 100).Draw(t, "tortuosity"),
					ViscousLength: units.Diameter(extreme(0.1, 100_000).Draw(t, "viscous")),
					ThermalLength: units.Diameter(extreme(0.1, 100_000).Draw(t, "thermal")),
				},
				FrameDensity: units.Density(rapid.OneOf(rapid.Just(0.0), extreme(minDensity, maxDensity)).Draw(t, "frame")),
			}
		}
	}
	c := Conditions{
		Incidence: rapid.SampledFrom([]Incidence{Diffuse(), DiffuseTo(1), DiffuseTo(78), Normal(), Oblique(89)}).Draw(t, "incidence"),
		Reaction:  rapid.SampledFrom([]Reaction{"", Bulk, Local}).Draw(t, "reaction"),
		Nodes:     rapid.SampledFrom([]int{0, 1, 7, MaxNodes}).Draw(t, "nodes"),
	}
	p, err := Predict(layers, c)
	if err != nil {
		t.Fatal(err)
	}
	for _, b := range bands.Thirds() {
		if a, ok := p.Thirds.At(b); !ok || !(a >= 0 && a <= 1) {
			t.Fatalf("%s: %v", b, a)
		}
	}
}

// Small changes of input make small changes of absorption: one thousandth of every
// parameter moves no band by more than 0.01 (a bound by trial, resonances of gaps behind
// dense fabrics are the steepest).
func TestContinuity(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		layers := assembly(t)
		moved := make([]Layer, len(layers))
		for i, l := range layers {
			switch l := l.(type) {
			case Fabric:
				l.Resistance *= 1.001
				l.SurfaceMass *= 1.001
				moved[i] = l
			case Fill:
				l.Resistivity *= 1.001
				l.Thickness *= 1.001
				moved[i] = l
			case Gap:
				l.Depth *= 1.001
				moved[i] = l
			}
		}
		a, b := curve(t, layers), curve(t, moved)
		for _, band := range bands.Thirds() {
			x, _ := a.At(band)
			y, _ := b.At(band)
			if math.Abs(x-y) > 0.01 {
				t.Fatalf("%s jumps from %v to %v", band, x, y)
			}
		}
	})
}

// JCA with porosity and tortuosity 1, Λ = sqrt(8η/σ) and Λ' = 2Λ is AC92 (absorber model
// ground section 1, identity checked there to 1e-12).
func TestAC92IsAFormOfJCA(t *testing.T) {
	air := StandardAir()
	for _, sigma := range []float64{1000, 10_000, 100_000} {
		length := units.Diameter(math.Sqrt(8*air.Viscosity()/sigma) * 1e6)
		f := Fill{
			Resistivity: units.AirflowResistivity(sigma), Model: JCA,
			Pores: Pores{Porosity: 1, Tortuosity: 1, ViscousLength: length, ThermalLength: 2 * length},
		}
		for _, hz := range []float64{100, 1000, 5000} {
			got := f.fluid(air, hz)
			f := f
			f.Model = AC92
			want := f.fluid(air, hz)
			if cmplx.Abs(got.density/want.density-1) > 1e-12 || cmplx.Abs(got.index2/want.index2-1) > 1e-12 {
				t.Errorf("σ %v, %v Hz: %v, want %v", sigma, hz, got, want)
			}
		}
	}
}

// At low frequency the resistance of a layer is σd/3 plus a thermal term,
// 4 Pr ρ0 p0 (0.4/1.4)/(σd): for 10 000 Pa·s/m² and 50 mm 2.2 times σd/3 (absorber model
// ground section 9). 1 Hz is low enough for 1e-3.
func TestResistanceAtLowFrequency(t *testing.T) {
	const sigma, d, hz = 10_000.0, 0.05, 1.0
	air := StandardAir()
	fl := Fill{Resistivity: sigma}.fluid(air, hz)
	v := []complex128{0}
	k0 := 2 * math.Pi * hz / air.SoundSpeed()
	addSlab(Normal().rule(1), fl, k0*d, false, &workspace{}, v, v)
	z := (1/v[0] - 1) * complex(air.Impedance(), 0)
	thermal := 4 * prandtl * air.Density() * air.Pressure * (0.4 / 1.4) / (sigma * d)
	near(t, "resistance", real(z), sigma*d/3+thermal, 1e-3)
	near(t, "times σd/3", real(z)/(sigma*d/3), 2.2, 0.03)
}

// With every set of coefficients the absorption of a hard-backed layer at normal incidence
// stays above -0.005 for 0.01 <= X <= 1 (ratings ground section 6, checked there for 5 to
// 200 mm). Before clamping: this is what tells the order of phase and attenuation.
func TestPowerLawsAreNearlyPassive(t *testing.T) {
	air, r := StandardAir(), Normal().rule(1)
	for name, law := range map[string]powerLaw{
		"Delany-Bazley": delanyBazley, "Garai-Pompoli": garaiPompoli, "Dunn-Davern": dunnDavern, "Wu": wu, "Miki": miki,
	} {
		for x := 0.01; x <= 1; x *= 1.05 {
			fl := fromImpedance(law.at(x))
			for _, d := range []float64{0.005, 0.02, 0.05, 0.1, 0.2} {
				for _, b := range bands.Thirds() {
					v := []complex128{0}
					addSlab(r, fl, 2*math.Pi*b.Centre()/air.SoundSpeed()*d, false, &workspace{}, v, v)
					if a := absorbed(r, 0, v); a < -0.005 {
						t.Fatalf("%s, X %.3g, %v m, %s: %v", name, x, d, b, a)
					}
				}
			}
		}
	}
}

// The tube profile against the power series of J0 and J1 (Abramowitz and Stegun 9.1.10,
// from memory), where that keeps its digits; and Poiseuille's flow, whose impedance per
// length is 8η/r² + j(4/3)ωρ0, in the limit of narrow holes.
func TestTubeProfile(t *testing.T) {
	for _, s := range []float64{0, 0.1, 1, 3, 8} {
		q := complex(s, 0) * cmplx.Sqrt(-1i)
		j0, j1, term := complex(0, 0), complex(0, 0), complex(1, 0)
		for n := range 60 { // 2 J1/q and J0
			j0 += term
			j1 += term / complex(float64(n+1), 0)
			term *= -q * q / complex(4*float64(n+1)*float64(n+1), 0)
		}
		if got := tubeProfile(s); cmplx.Abs(got-j1/j0) > 1e-10 {
			t.Errorf("s %v: %v, series %v", s, got, j1/j0)
		}
	}
	air := StandardAir()
	const hz, r = 100.0, 10e-6
	inertia := 2 * math.Pi * hz * air.Density()
	z := complex(0, inertia) / (1 - tubeProfile(r*math.Sqrt(inertia/air.Viscosity())))
	near(t, "Re", real(z), 8*air.Viscosity()/(r*r), 1e-4)
	near(t, "Im", imag(z), inertia*4/3, 1e-3)
}

// Limits of the radiation impedance (absorber model ground section 6): a small square of
// side a at normal incidence, k0²a²/(2π) + j0.473201 k0a; a large one, 1/cos θ.
func TestRadiationImpedanceLimits(t *testing.T) {
	const a, k0 = 1.0, 0.01
	zr := radiationImpedance(a, a, k0, []float64{1})[0]
	near(t, "small, Re", real(zr), k0*k0*a*a/(2*math.Pi), 1e-4)
	near(t, "small, Im", imag(zr), 0.473201*k0*a, 1e-4)
	for _, cos := range []float64{1, 0.8, 0.5} {
		large := radiationImpedance(20, 20, 100, []float64{cos})[0]
		near(t, "large, Re", real(large), 1/cos, 0.01)
		about(t, "large, Im", imag(large), 0, 0.01)
	}
}

func TestWhatIsRefused(t *testing.T) {
	fill := Fill{Resistivity: 10_000, Thickness: 50}
	nan := math.NaN()
	for name, c := range map[string]struct {
		layers     []Layer
		conditions Conditions
		want       InvalidError
	}{
		"negative thickness":  {[]Layer{Gap{}, Fill{Resistivity: 1e4, Thickness: -1}}, Conditions{}, InvalidError{1, "thickness", -1, 0, maxLength}},
		"no resistivity":      {[]Layer{Fill{Thickness: 50}}, Conditions{}, InvalidError{0, "resistivity", 0, minSigma, maxSigma}},
		"resistance":          {[]Layer{Fabric{Resistance: -5}}, Conditions{}, InvalidError{0, "resistance", -5, 0, maxResistance}},
		"mass":                {[]Layer{Fabric{SurfaceMass: -5}}, Conditions{}, InvalidError{0, "surface_mass", -5, minMass, maxMass}},
		"gap":                 {[]Layer{fill, Gap{Depth: 1e5}}, Conditions{}, InvalidError{1, "depth", 1e5, 0, maxLength}},
		"model":               {[]Layer{Fill{Resistivity: 1e4, Model: "best"}}, Conditions{}, InvalidError{0, "model", 0, 0, 0}},
		"pores":               {[]Layer{Fill{Resistivity: 1e4, Model: JCA}}, Conditions{}, InvalidError{0, "porosity", 0, 0.01, 1}},
		"open area":           {[]Layer{Perforated{Hole: 1000}}, Conditions{}, InvalidError{0, "open_area", 0, 1e-4, 0.9999}},
		"nothing for a layer": {[]Layer{nil}, Conditions{}, InvalidError{0, "kind", 0, 0, 0}},
		"pointer for a layer": {[]Layer{&fill}, Conditions{}, InvalidError{0, "kind", 0, 0, 0}},
		"many layers":         {make([]Layer, 33), Conditions{}, InvalidError{-1, "layer_count", 33, 0, maxLayers}},
		"temperature":         {nil, Conditions{Air: Air{200, 101325}}, InvalidError{-1, "temperature", 200, -50, 60}},
		"pressure":            {nil, Conditions{Air: Air{20, 101}}, InvalidError{-1, "pressure", 101, 50e3, 120e3}},
		"grazing":             {nil, Conditions{Incidence: Oblique(90)}, InvalidError{-1, "incidence_angle", 90, 0, 89}},
		"largest angle":       {nil, Conditions{Incidence: DiffuseTo(91)}, InvalidError{-1, "largest_angle", 91, 1, 90}},
		"reaction":            {nil, Conditions{Reaction: "none"}, InvalidError{-1, "reaction", 0, 0, 0}},
		"sampling":            {nil, Conditions{Sampling: "none"}, InvalidError{-1, "sampling", 0, 0, 0}},
		"patch":               {nil, Conditions{Patch: Patch{Length: 600}}, InvalidError{-1, "patch_width", 0, 50, 20_000}},
		"angles":              {nil, Conditions{Nodes: 513}, InvalidError{-1, "nodes", 513, 0, MaxNodes}},
	} {
		_, err := Predict(c.layers, c.conditions)
		invalid := (*InvalidError)(nil)
		if !errors.As(err, &invalid) {
			t.Errorf("%s: %v", name, err)
		} else if d := cmp.Diff(c.want, *invalid); d != "" || err.Error() == "" {
			t.Errorf("%s: %s", name, d)
		}
	}
	if _, err := Predict([]Layer{Fill{Resistivity: units.AirflowResistivity(nan), Thickness: 50}}, Conditions{}); err == nil {
		t.Error("NaN was taken for a resistivity")
	}
}

func TestWarnings(t *testing.T) {
	for name, c := range map[string]struct {
		layers     []Layer
		conditions Conditions
		want       []WarningCode
	}{
		"recommended path":  {[]Layer{Fabric{Resistance: 100, SurfaceMass: 0.2}, Fill{Resistivity: 10_000, Thickness: 50}, Gap{Depth: 50}}, Conditions{}, nil},
		"light fill":        {[]Layer{Fill{Resistivity: 500, Thickness: 50}}, Conditions{}, []WarningCode{ResistivityOutsideRange}},
		"unknown mass":      {[]Layer{Fabric{Resistance: 100}, Fill{Resistivity: 10_000}}, Conditions{}, []WarningCode{FabricMassUnknown}},
		"Delany, too dense": {[]Layer{Fill{Resistivity: 50_000, Model: DelanyBazley}}, Conditions{}, []WarningCode{FrequencyRatioOutsideRange}},
		"Garai, too dense":  {[]Layer{Fill{Resistivity: 12_000, Model: GaraiPompoli}}, Conditions{}, []WarningCode{ResistivityOutsideRange}},
		"swapped lengths": {
			[]Layer{Fill{Resistivity: 12_000, Model: JCA, Pores: Pores{0.9, 1, 200, 100}}}, Conditions{},
			[]WarningCode{ThermalLengthBelowViscous},
		},
		"open sheet": {[]Layer{Perforated{OpenArea: 0.2, Hole: 3000, Thickness: 1}}, Conditions{}, []WarningCode{OpenAreaOutsideRange}},
		"local": {
			[]Layer{Fill{Resistivity: 10_000, Thickness: 50}, Fill{Resistivity: 40_000, Thickness: 50}, Gap{Depth: 50}, Gap{}},
			Conditions{Reaction: Local}, []WarningCode{LocalReactionDoubtful, LocalReactionDoubtful},
		},
		"patch": {nil, Conditions{Patch: Patch{600, 1200}}, []WarningCode{FiniteSizeRunsHighAtLowBands}},
	} {
		p, err := Predict(c.layers, c.conditions)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		var got []WarningCode
		for _, w := range p.Warnings {
			got = append(got, w.Code)
		}
		if d := cmp.Diff(c.want, got); d != "" {
			t.Errorf("%s: %s", name, d)
		}
	}
}
