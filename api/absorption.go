package api

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/oapi-codegen/runtime"

	"sabinbook/internal/absorber"
	"sabinbook/internal/absorption"
	"sabinbook/internal/catalog"
	"sabinbook/internal/units"
)

// EstimateAbsorption answers POST /v1/absorption-estimates.
func (s *Server) EstimateAbsorption(ctx context.Context, in EstimateAbsorptionRequestObject) (EstimateAbsorptionResponseObject, error) {
	question, err := decodeAbsorption(*in.Body)
	if err != nil {
		return nil, err
	}
	done, err := s.slot(ctx)
	if err != nil {
		return nil, err
	}
	defer done()
	var stock catalog.Snapshot
	if question.NamesRecords() {
		if stock, err = s.snapshot(ctx); err != nil {
			return nil, err
		}
	}
	answer, err := absorption.NewAnswerer(stock).Answer(question)
	if err != nil {
		return nil, err
	}
	return EstimateAbsorption200JSONResponse{AbsorptionAnswerJSONResponse{Body: encodeEstimate(*in.Body, answer)}}, nil
}

// checkAbsorption is the check of a question that breaks the contract elsewhere.
func (s *Server) checkAbsorption(value any) []fault {
	var w AbsorptionQuestion
	if runtime.BindJSONValue(value, &w) != nil {
		return nil
	}
	_, err := decodeAbsorption(w)
	return faultsIn(err)
}

// decodeAbsorption decodes a question and applies its rules; the error names all faults.
func decodeAbsorption(w AbsorptionQuestion) (absorption.Question, error) {
	v := &catalog.Faults{}
	q := absorption.Question{Conditions: absorption.StandardConditions()}
	for i, l := range w.Layers {
		if layer := decodeLayer(v, fmt.Sprintf("/layers/%d", i), l); layer != nil {
			q.Layers = append(q.Layers, layer)
		} else {
			q.Layers = append(q.Layers, absorption.GapLayer{}) // keeps the places of the others
		}
	}
	c := &q.Conditions
	c.Incidence = or(w.Incidence, func(x string) absorption.Incidence { return absorption.Incidence(x) }, c.Incidence)
	c.Reaction = or(w.Reaction, func(x string) absorber.Reaction { return absorber.Reaction(x) }, c.Reaction)
	c.Air.Temperature = or(w.TemperatureC, number[float64], c.Air.Temperature)
	c.Air.Pressure = or(w.PressurePa, number[float64], c.Air.Pressure)
	if p := w.Patch; p != nil {
		c.Patch = absorber.Patch{Length: length(aboveZero(v, "/patch/length_mm", &p.LengthMm)), Width: length(aboveZero(v, "/patch/width_mm", &p.WidthMm))}
	}
	q.WithoutTests = w.UseTests != nil && !*w.UseTests
	return q, joined(v.Err(), q.Validate())
}

// layerKinds lists the words for kinds.
var layerKinds = []string{"fabric", "perforated_sheet", "fill", "air_gap"}

// decodeLayer reads one layer, and is nil for a kind that is not known.
func decodeLayer(v *catalog.Faults, at string, w AbsorptionLayer) absorption.Layer {
	v.Word(at+"/kind", w.Kind, layerKinds)
	foreign(v, at, w)
	switch w.Kind {
	case "fabric":
		return decodeFabricLayer(v, at, w)
	case "perforated_sheet":
		needed(v, at+"/open_area_fraction", w.OpenAreaFraction, "give the open share, e.g. 0.12 for 12 %")
		needed(v, at+"/hole_diameter_mm", w.HoleDiameterMm, "give millimetres, e.g. 5")
		needed(v, at+"/thickness_mm", w.ThicknessMm, "give millimetres, e.g. 9.5")
		return absorption.SheetLayer{Perforated: absorber.Perforated{OpenArea: units.Fraction(orZero(w.OpenAreaFraction)),
			Hole: units.Diameter(1000 * orZero(w.HoleDiameterMm)), Thickness: length(orZero(w.ThicknessMm))}}
	case "fill":
		return decodeFillLayer(v, at, w)
	case "air_gap":
		needed(v, at+"/depth_mm", w.DepthMm, "give millimetres, e.g. 50")
		return absorption.GapLayer{Depth: length(orZero(w.DepthMm))}
	}
	return nil
}

// foreign records members that do not belong to the kind of a layer.
func foreign(v *catalog.Faults, at string, w AbsorptionLayer) {
	for _, m := range []struct {
		name  string
		given bool
		kinds string
	}{
		{"fabric", w.Fabric != nil, "fabric"},
		{"flow_resistance_pa_s_per_m", w.FlowResistancePaSPerM != nil, "fabric"},
		{"flow_resistance_low_pa_s_per_m", w.FlowResistanceLowPaSPerM != nil, "fabric"},
		{"flow_resistance_high_pa_s_per_m", w.FlowResistanceHighPaSPerM != nil, "fabric"},
		{"air_permeability", w.AirPermeability != nil, "fabric"},
		{"weave", w.Weave != nil, "fabric"},
		{"surface_mass_kg_per_m2", w.SurfaceMassKgPerM2 != nil, "fabric"},
		{"held_still", w.HeldStill != nil, "fabric"},
		{"piston_test", w.PistonTest != nil, "fabric fill"},
		{"open_area_fraction", w.OpenAreaFraction != nil, "perforated_sheet"},
		{"hole_diameter_mm", w.HoleDiameterMm != nil, "perforated_sheet"},
		{"thickness_mm", w.ThicknessMm != nil, "perforated_sheet fill"},
		{"fill", w.Fill != nil, "fill"},
		{"airflow_resistivity_pa_s_per_m2", w.AirflowResistivityPaSPerM2 != nil, "fill"},
		{"airflow_resistivity_low_pa_s_per_m2", w.AirflowResistivityLowPaSPerM2 != nil, "fill"},
		{"airflow_resistivity_high_pa_s_per_m2", w.AirflowResistivityHighPaSPerM2 != nil, "fill"},
		{"family", w.Family != nil, "fill"},
		{"density_kg_per_m3", w.DensityKgPerM3 != nil, "fill"},
		{"fibre_diameter_um", w.FibreDiameterUm != nil, "fill"},
		{"model", w.Model != nil, "fill"},
		{"pores", w.Pores != nil, "fill"},
		{"limp_density_kg_per_m3", w.LimpDensityKgPerM3 != nil, "fill"},
		{"depth_mm", w.DepthMm != nil, "air_gap"},
	} {
		kinds := strings.Fields(m.kinds)
		if m.given && slices.Contains(layerKinds, w.Kind) && !slices.Contains(kinds, w.Kind) {
			v.Add(at+"/"+m.name, "not_applicable", fmt.Sprintf("belongs to a layer of kind %s, this one is %s", listed(kinds, "or"), w.Kind), "leave it out, or correct the kind")
		}
	}
}

// needed records a member that is missing.
func needed[T any](v *catalog.Faults, at string, p *T, fix string) {
	if p == nil {
		v.Add(at, "required", "is missing", fix)
	}
}

// aboveZero is an optional figure for which 0 means that it is not known: a given 0 is a fault.
func aboveZero[T float64 | int64](v *catalog.Faults, at string, p *T) float64 {
	if p != nil && *p == 0 {
		v.Add(at, "out_of_range", "must be above 0, got 0", "leave it out when it is not known")
	}
	return float64(orZero(p))
}

// nameOf is an optional name of a record, which must not be empty when it is given.
func nameOf(v *catalog.Faults, at string, p *string) string {
	if p != nil && *p == "" {
		v.Add(at, "required", "is empty", "give the id or the slug of a stored record, or leave it out")
	}
	return orZero(p)
}

// notEmpty records an optional word that is given and empty.
func notEmpty(v *catalog.Faults, at string, p *string) {
	if p != nil && *p == "" {
		v.Add(at, "required", "is empty", "name it, or leave it out")
	}
}

// decodeRange reads a figure, called name, with its bounds.
func decodeRange(v *catalog.Faults, name, lowAt, highAt string, value, low, high *float64) *absorption.Range {
	r := absorption.Range{Value: orZero(value), Low: aboveZero(v, lowAt, low), High: aboveZero(v, highAt, high)}
	if value != nil {
		return &r
	}
	if low != nil {
		v.Add(lowAt, "not_applicable", "is a bound without its figure", "give "+name+" too, or leave the bound out")
	}
	if high != nil {
		v.Add(highAt, "not_applicable", "is a bound without its figure", "give "+name+" too, or leave the bound out")
	}
	return nil
}

func decodeFabricLayer(v *catalog.Faults, at string, w AbsorptionLayer) absorption.Layer {
	const name = "flow_resistance"
	l := absorption.FabricLayer{
		Fabric: nameOf(v, at+"/fabric", w.Fabric),
		Resistance: decodeRange(v, name+"_pa_s_per_m", at+"/"+name+"_low_pa_s_per_m", at+"/"+name+"_high_pa_s_per_m",
			w.FlowResistancePaSPerM, w.FlowResistanceLowPaSPerM, w.FlowResistanceHighPaSPerM),
		SurfaceMass: units.SurfaceMass(aboveZero(v, at+"/surface_mass_kg_per_m2", w.SurfaceMassKgPerM2)),
		Held:        orZero(w.HeldStill),
	}
	if p := w.AirPermeability; p != nil {
		at := at + "/air_permeability"
		l.Permeability = &absorption.Permeability{Flow: p.Flow, Pressure: p.TestPressurePa, Unit: absorber.FlowUnit(p.Unit),
			SecondFlow: aboveZero(v, at+"/second_flow", p.SecondFlow), SecondPressure: aboveZero(v, at+"/second_test_pressure_pa", p.SecondTestPressurePa),
			OpenArea: units.Fraction(aboveZero(v, at+"/open_area_fraction", p.OpenAreaFraction))}
		if (p.SecondFlow == nil) != (p.SecondTestPressurePa == nil) {
			const fix = "give flow and pressure of the second test, or leave both out"
			needed(v, at+"/second_flow", p.SecondFlow, fix)
			needed(v, at+"/second_test_pressure_pa", p.SecondTestPressurePa, fix)
		}
	}
	if t := w.Weave; t != nil {
		l.Weave = &absorption.Weave{Warp: decodeThreads(t.Warp), Weft: decodeThreads(t.Weft)}
	}
	if p := w.PistonTest; p != nil {
		l.Piston = decodePiston(*p)
		l.PistonLayers = count(int64(aboveZero(v, at+"/piston_test/layers_count", p.LayersCount)))
		if p.PlugThicknessMm != nil {
			v.Add(at+"/piston_test/plug_thickness_mm", "not_applicable", "belongs to the test of a fill", "leave it out; layers_count tells how many layers of fabric were in the rig")
		}
	}
	return l
}

func decodeFillLayer(v *catalog.Faults, at string, w AbsorptionLayer) absorption.Layer {
	const name = "airflow_resistivity"
	needed(v, at+"/thickness_mm", w.ThicknessMm, "give millimetres, e.g. 50")
	l := absorption.FillLayer{
		Fill: nameOf(v, at+"/fill", w.Fill), Thickness: length(orZero(w.ThicknessMm)),
		Resistivity: decodeRange(v, name+"_pa_s_per_m2", at+"/"+name+"_low_pa_s_per_m2", at+"/"+name+"_high_pa_s_per_m2",
			w.AirflowResistivityPaSPerM2, w.AirflowResistivityLowPaSPerM2, w.AirflowResistivityHighPaSPerM2),
		Family: catalog.Family(orZero(w.Family)), Density: units.Density(aboveZero(v, at+"/density_kg_per_m3", w.DensityKgPerM3)),
		FibreDiameter: units.Diameter(aboveZero(v, at+"/fibre_diameter_um", w.FibreDiameterUm)),
		Model:         absorber.Model(orZero(w.Model)), LimpDensity: units.Density(aboveZero(v, at+"/limp_density_kg_per_m3", w.LimpDensityKgPerM3)),
	}
	notEmpty(v, at+"/family", w.Family)
	notEmpty(v, at+"/model", w.Model)
	if w.FibreDiameterUm != nil && w.Family == nil && w.DensityKgPerM3 == nil {
		v.Add(at+"/fibre_diameter_um", "not_applicable", "is used with family and density_kg_per_m3 only", "give both, or leave it out")
	}
	if p := w.PistonTest; p != nil {
		l.Piston, l.PlugThickness = decodePiston(*p), length(orZero(p.PlugThicknessMm))
		needed(v, at+"/piston_test/plug_thickness_mm", p.PlugThicknessMm, "give the thickness of the plug in the rig, e.g. 100")
		if p.LayersCount != nil {
			v.Add(at+"/piston_test/layers_count", "not_applicable", "belongs to the test of a fabric", "leave it out; plug_thickness_mm tells how much fill was in the rig")
		}
	}
	if p := w.Pores; p != nil {
		l.Pores = absorber.Pores{Porosity: units.Fraction(p.PorosityFraction), Tortuosity: p.Tortuosity,
			ViscousLength: units.Diameter(p.ViscousLengthUm), ThermalLength: units.Diameter(p.ThermalLengthUm)}
		if l.Pores == (absorber.Pores{}) && l.Model != absorber.JCA { // given, though the question cannot tell
			v.Add(at+"/pores", "not_applicable", "belongs to the model jca only", "leave it out, or set model to jca")
		}
	}
	return l
}

func decodeThreads(w Threads) absorber.Threads {
	return absorber.Threads{PerMetre: 100 * w.ThreadsPerCm, Diameter: units.Diameter(w.DiameterUm)}
}

func decodePiston(w PistonTest) *absorber.Piston {
	run := func(r PistonRun) absorber.Run { return absorber.Run{Mass: units.Mass(r.MassKg), Time: r.TimeS} }
	return &absorber.Piston{PistonArea: units.Area(w.PistonAreaCm2 * 1e-4), SampleArea: units.Area(w.SampleAreaCm2 * 1e-4), Volume: w.VolumeL * 1e-3,
		Runs: listOf(&w.Runs, run), EmptyRuns: listOf(w.EmptyRuns, run)}
}
