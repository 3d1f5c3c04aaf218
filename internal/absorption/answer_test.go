package absorption

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"testing"

	"sabinbook/internal/absorber"
	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
	"sabinbook/internal/units"
)

// stock has one fill with a test, one without anything, and two fabrics.
func stock() catalog.Snapshot {
	fill := wool(16, stated(5000))
	fill.Slug, fill.SourceID = "blanket", "goods"
	blank := catalog.Fill{Meta: catalog.Meta{ID: "fill_2", Slug: "blank"}, Family: catalog.OtherFamily}
	cloth := *knit(200, 0.2)
	cloth.Slug = "cloth"
	veil := catalog.Fabric{Meta: catalog.Meta{ID: "fabric_2", Slug: "veil"}}
	return catalog.Snapshot{Revision: 7, Fills: []catalog.Fill{fill, blank}, Fabrics: []catalog.Fabric{cloth, veil}, Tests: []catalog.AbsorptionTest{blanket},
		Sources: []catalog.Source{{Meta: catalog.Meta{ID: "bies"}}, {Meta: catalog.Meta{ID: "cloth"}}, {Meta: catalog.Meta{ID: "sigma"}}, {Meta: catalog.Meta{ID: "unused"}}}}
}

func ask(layers ...Layer) Question { return Question{Layers: layers, Conditions: StandardConditions()} }

func answer(t *testing.T, q Question) Answer {
	t.Helper()
	a, err := NewAnswerer(stock()).Answer(q)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func inline(sigma float64, thickness units.Length) FillLayer {
	return FillLayer{Resistivity: &Range{Value: sigma}, Thickness: thickness}
}

func TestStoredRecordsAnswerAsSamplesDo(t *testing.T) {
	a := answer(t, ask(FabricLayer{Fabric: "cloth"}, FillLayer{Fill: "fill_1", Thickness: 100}))
	want := estimate(t, estimator(t, blanket), sampleOf(stock().Fills[0], 100, 0, knit(200, 0.2)))
	if a.Estimate.Octaves != want.Octaves || a.Estimate.Basis != Adapted {
		t.Errorf("%s %v, want %v", a.Estimate.Basis, a.Estimate.Octaves, want.Octaves)
	}
	if a.CatalogRevision != 7 || len(a.Sources) != 3 {
		t.Errorf("revision %d, sources %v", a.CatalogRevision, a.Sources)
	}
	if len(a.Figures) != 2 || a.Figures[0].Value != 200 || a.Figures[1].Value != 5000 || a.Figures[1].Layer != 1 {
		t.Errorf("figures %+v", a.Figures)
	}
	without := ask(FillLayer{Fill: "blanket", Thickness: 50})
	without.WithoutTests = true
	if b := answer(t, without); b.Estimate.Basis != Predicted || b.Estimate.Test != nil {
		t.Errorf("without tests: %s", b.Estimate.Basis)
	}
	other := ask(FillLayer{Fill: "blanket", Thickness: 50, Model: absorber.Miki})
	if b := answer(t, other); b.Estimate.Basis != Predicted || !slices.ContainsFunc(b.Estimate.Warnings, func(w Warning) bool { return w.Code == TestsLeftAside }) {
		t.Errorf("another model: %s %v", b.Estimate.Basis, b.Estimate.Warnings)
	}
	if b := answer(t, ask(FillLayer{Fill: "blanket", Thickness: 50, Model: absorber.AC92})); b.Estimate.Basis != Measured {
		t.Errorf("the default model by its name: %s", b.Estimate.Basis)
	}
}

// Two layers of one stored fill are one depth of it; another fill or air between them is not.
func TestWhatOneFillCanStandFor(t *testing.T) {
	half := FillLayer{Fill: "blanket", Thickness: 25}
	for name, c := range map[string]struct {
		layers []Layer
		want   Basis
	}{
		"two halves":       {[]Layer{half, half}, Measured},
		"air between":      {[]Layer{half, GapLayer{20}, half}, Predicted},
		"air before":       {[]Layer{GapLayer{20}, half}, Predicted},
		"another behind":   {[]Layer{half, inline(8000, 25)}, Predicted},
		"a sheet before":   {[]Layer{SheetLayer{absorber.Perforated{OpenArea: 0.2, Hole: 5000, Thickness: 3}}, half, half}, Adapted},
		"no fill at all":   {[]Layer{FabricLayer{Fabric: "cloth"}, GapLayer{100}}, Predicted},
		"a gap of nothing": {[]Layer{half, half, GapLayer{0}}, Measured},
	} {
		if a := answer(t, ask(c.layers...)); a.Estimate.Basis != c.want {
			t.Errorf("%s: %s, want %s", name, a.Estimate.Basis, c.want)
		}
	}
	air := answer(t, ask(GapLayer{100}))
	for _, b := range bands.Thirds() {
		if x, _ := air.Estimate.Thirds.Value.At(b); math.Abs(x) > 1e-9 {
			t.Errorf("air alone absorbs %g at %s", x, b)
		}
	}
}

// The ways to tell an openness: permeability row f007 of fabric_vectors.csv type (ISO 9237, 100 Pa,
// 500 mm/s: 200 Pa·s/m apparent, 177.8 at low velocity); a stack of ten in the rig is a tenth each.
func TestWaysToTellOpenness(t *testing.T) {
	iso := Permeability{Flow: 500, Unit: absorber.MillimetresPerSecond, Pressure: 100}
	rig := absorber.Piston{PistonArea: 0.05, SampleArea: 0.01, Volume: 0.005, Runs: []absorber.Run{{Mass: 0.3, Time: 36}, {Mass: 0.3, Time: 36.4}, {Mass: 0.3, Time: 35.6}}}
	one := answer(t, ask(FabricLayer{Piston: &rig}, inline(8000, 50))).Figures[0]
	ten := answer(t, ask(FabricLayer{Piston: &rig, PistonLayers: 10}, inline(8000, 50))).Figures[0]
	if math.Abs(one.Value-10*ten.Value) > 1e-9 || math.Abs(one.High-10*ten.High) > 1e-9 || ten.Method != "piston_test" {
		t.Errorf("one layer %+v, ten %+v", one, ten)
	}
	for name, c := range map[string]struct {
		layer  FabricLayer
		method string
		value  float64
	}{
		"permeability": {FabricLayer{Permeability: &iso}, "air_permeability", 177.778},
		"stated":       {FabricLayer{Resistance: &Range{200, 150, 300}}, "stated", 200},
		"stored":       {FabricLayer{Fabric: "cloth"}, "stated", 200},
	} {
		f := answer(t, ask(c.layer, inline(8000, 50))).Figures[0]
		if f.Method != c.method || math.Abs(f.Value-c.value) > 0.001 {
			t.Errorf("%s: %+v", name, f)
		}
	}
	weave := FabricLayer{Weave: &Weave{absorber.Threads{PerMetre: 4700, Diameter: 90}, absorber.Threads{PerMetre: 4700, Diameter: 90}}}
	if f := answer(t, ask(weave, inline(8000, 50))).Figures[0]; f.Method != "weave" || f.Low*2 != f.Value || f.High != 2*f.Value {
		t.Errorf("weave %+v", f)
	}
}

func TestWaysToTellResistivity(t *testing.T) {
	byDensity := FillLayer{Family: catalog.GlassWool, Density: 48, Thickness: 50}
	a := answer(t, ask(byDensity))
	r, _ := EstimatedResistivity(catalog.GlassWool, 48, 0)
	if f := a.Figures[0]; a.Estimate.Basis != Estimated || f.Value != float64(r.Value) || f.Method != "estimated" || f.High != 2*f.Value {
		t.Errorf("%s %+v", a.Estimate.Basis, f)
	}
	rig := absorber.Piston{PistonArea: 0.05, SampleArea: 0.01, Volume: 0.005, Runs: []absorber.Run{{Mass: 0.3, Time: 36}, {Mass: 0.3, Time: 36.4}, {Mass: 0.3, Time: 35.6}}}
	m, err := rig.Resistivity(100)
	if err != nil {
		t.Fatal(err)
	}
	a = answer(t, ask(FillLayer{Piston: &rig, PlugThickness: 100, Thickness: 50}))
	if f := a.Figures[0]; a.Estimate.Basis != Predicted || f.Value != float64(m.Value) || f.Method != "piston_test" || f.Velocity == 0 {
		t.Errorf("%s %+v", a.Estimate.Basis, f)
	}
}

func TestRefusals(t *testing.T) {
	tooMany := slices.Repeat([]Layer{GapLayer{1}}, MaxLayers+1)
	run := []absorber.Run{{Mass: 0.3, Time: 10}}
	same := absorber.Piston{PistonArea: 0.05, SampleArea: 0.01, Volume: 0.005, Runs: run, EmptyRuns: run}
	for _, c := range []struct {
		name, pointer, code string
		q                   Question
	}{
		{"no layers", "/layers", "out_of_range", ask()},
		{"too many", "/layers", "out_of_range", ask(tooMany...)},
		{"no openness", "/layers/0/flow_resistance_pa_s_per_m", "required", ask(FabricLayer{})},
		{"two ways", "/layers/0", "disagrees", ask(FabricLayer{Fabric: "cloth", Resistance: &Range{Value: 3}})},
		{"unknown fabric", "/layers/0/fabric", "unknown_reference", ask(FabricLayer{Fabric: "none"})},
		{"fabric without openness", "/layers/0/fabric", "no_fabric_openness", ask(FabricLayer{Fabric: "veil"})},
		{"unknown fill", "/layers/0/fill", "unknown_reference", ask(FillLayer{Fill: "none", Thickness: 50})},
		{"fill without data", "/layers/0/fill", "no_absorption_data", ask(FillLayer{Fill: "blank", Thickness: 50})},
		{"no relation", "/layers/0/family", "no_relation", ask(FillLayer{Family: catalog.OpenCellFoam, Density: 30, Thickness: 50})},
		{"range in disorder", "/layers/0/airflow_resistivity_pa_s_per_m2", "bad_range", ask(FillLayer{Resistivity: &Range{5000, 6000, 0}, Thickness: 50})},
		{"kilopascals", "/layers/0/airflow_resistivity_pa_s_per_m2", "out_of_range", ask(inline(10, 50))},
		{"thickness", "/layers/0/thickness_mm", "out_of_range", ask(inline(10_000, 5000))},
		{"unit", "/layers/0/air_permeability/unit", "unknown_word", ask(FabricLayer{Permeability: &Permeability{Flow: 1, Unit: "gallons", Pressure: 100}})},
		{"flow in another unit", "/layers/0/air_permeability/flow", "out_of_range", ask(FabricLayer{Permeability: &Permeability{Flow: 500, Unit: absorber.MetresPerSecond, Pressure: 100}})},
		{"no flow", "/layers/0/air_permeability/flow", "out_of_range", ask(FabricLayer{Permeability: &Permeability{Unit: absorber.MetresPerSecond, Pressure: 100}})},
		{"one pressure twice", "/layers/0/air_permeability/second_test_pressure_pa", "disagrees", ask(FabricLayer{Permeability: &Permeability{Flow: 500, Unit: absorber.MillimetresPerSecond, Pressure: 100, SecondFlow: 600, SecondPressure: 100}})},
		{"flow that falls", "/layers/0/air_permeability/second_flow", "disagrees", ask(FabricLayer{Permeability: &Permeability{Flow: 500, Unit: absorber.MillimetresPerSecond, Pressure: 100, SecondFlow: 400, SecondPressure: 200}})},
		{"closed weave", "/layers/0/weave/warp", "disagrees", ask(FabricLayer{Weave: &Weave{absorber.Threads{PerMetre: 10_000, Diameter: 200}, absorber.Threads{PerMetre: 1000, Diameter: 200}}})},
		{"rig takes all", "/layers/0/piston_test/empty_runs", "out_of_range", ask(FabricLayer{Piston: &same})},
		{"pores without jca", "/layers/0/pores", "not_applicable", ask(FillLayer{Resistivity: &Range{Value: 5000}, Thickness: 50, Pores: absorber.Pores{Porosity: 0.9}})},
		{"jca without pores", "/layers/0/pores/tortuosity", "out_of_range", ask(FillLayer{Resistivity: &Range{Value: 5000}, Thickness: 50, Model: absorber.JCA})},
		{"model", "/layers/0/model", "unknown_word", ask(FillLayer{Resistivity: &Range{Value: 5000}, Thickness: 50, Model: "best"})},
		{"sheet", "/layers/0/open_area_fraction", "out_of_range", ask(SheetLayer{absorber.Perforated{OpenArea: 2, Hole: 5000, Thickness: 3}})},
		{"gap", "/layers/0/depth_mm", "out_of_range", ask(GapLayer{-1})},
	} {
		_, err := NewAnswerer(stock()).Answer(c.q)
		var invalid *catalog.InvalidError
		if !errors.As(err, &invalid) || !slices.ContainsFunc(invalid.Faults, func(f catalog.Fault) bool {
			return f.Pointer == c.pointer && f.Code == c.code && f.Detail != "" && f.Fix != ""
		}) {
			t.Errorf("%s: %v, want %s at %s", c.name, err, c.code, c.pointer)
		}
	}
	bad := ask(inline(5000, 50))
	bad.Conditions = Conditions{Incidence: "grazing", Reaction: "elastic", Patch: absorber.Patch{Length: 3, Width: 3000}, Air: absorber.Air{Temperature: 300, Pressure: 1013}}
	err := bad.Validate()
	var invalid *catalog.InvalidError
	if !errors.As(err, &invalid) || len(invalid.Faults) != 5 {
		t.Errorf("conditions: %v", err)
	}
}

// One answerer gives the same answers as a new one for each question, however many conditions
// it has seen.
func TestAnswererRemembersNothingThatMatters(t *testing.T) {
	shared := NewAnswerer(stock())
	for i := range 3 * kept {
		q := ask(FabricLayer{Fabric: "cloth"}, FillLayer{Fill: "blanket", Thickness: units.Length(20 + i)}, GapLayer{units.Length(10 * i)})
		q.Conditions.Air.Temperature = float64(i % (kept + 2))
		got, err := shared.Answer(q)
		if err != nil {
			t.Fatal(err)
		}
		if want := answer(t, q); fmt.Sprint(got.Estimate.Octaves) != fmt.Sprint(want.Estimate.Octaves) {
			t.Errorf("question %d: %v, want %v", i, got.Estimate.Octaves, want.Estimate.Octaves)
		}
	}
}

// Every published vector of the absorber is reached through a question too: case of
// absorber_model.md section 4, R_s 800 of 0.2 kg/m², octaves 0.19 0.53 0.90 0.94 0.87 0.84.
func TestInlineLayersAgreeWithThePrintedTable(t *testing.T) {
	a := answer(t, ask(FabricLayer{Resistance: &Range{Value: 800}, SurfaceMass: 0.2}, inline(10_000, 50)))
	for i, want := range []float64{0.19, 0.53, 0.90, 0.94, 0.87, 0.84} {
		if got, _ := a.Estimate.Octaves.Value.Octave(i); math.Abs(got-want) > 0.0055 {
			t.Errorf("octave %d: %.4f, want %.2f", i, got, want)
		}
	}
	if a.Rating.SAA == nil || a.CatalogRevision != 0 {
		t.Errorf("rating %+v, revision %d", a.Rating, a.CatalogRevision)
	}
}
