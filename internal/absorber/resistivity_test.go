package absorber

import (
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"sabinbook/internal/units"
)

// The relation rows of testdata/flow_resistivity.csv and flow_resistivity_cotton_polyester.csv
// hold one check value each, computed and printed to three or four digits: 2e-3 relative.
func TestFlowResistivityRelations(t *testing.T) {
	offered := map[string]Relation{
		"F003": PolyesterBlanket, "F004": PolyesterFine, "F005": SheepWool, "F006": ShortWoodFibre,
		"F007": GlassFibre, "F008": MineralFibre, "F011": RandomFibre, "FC001": PolyesterBlanket,
	}
	checked, others := 0, []string{}
	rows := append(table(t, "flow_resistivity.csv"), table(t, "flow_resistivity_cotton_polyester.csv")...)
	for _, r := range rows {
		id := r["id"]
		relation, ok := offered[id]
		if !ok && (id == "FC041" || strings.Contains(r["relation"], "as the row above") || strings.Contains(r["relation"], "effective-radius")) {
			relation, ok = RecycledFibre, true
		}
		if !ok {
			others = append(others, id)
			continue
		}
		checked++
		e, ok := relation.Estimate(units.Density(r.num(t, "check_density_kg_m3")), Fibre{
			Diameter: units.Diameter(r.num(t, "check_fibre_diameter_um")),
			Density:  units.Density(r.num(t, "check_fibre_density_kg_m3")),
		})
		if !ok {
			t.Errorf("%s was refused", id)
		}
		near(t, id, float64(e.Value), r.num(t, "check_flow_resistivity_pa_s_per_m2"), 2e-3)
	}
	t.Logf("%d rows checked; relations that are not offered, another one standing for the family: %v", checked, others)
	if checked != 21 {
		t.Errorf("%d rows checked, want 21", checked)
	}
}

func TestEstimateNamesWhatItAssumes(t *testing.T) {
	e, ok := EstimateResistivity("polyester", 80, Fibre{})
	if !ok || e.Relation != PolyesterBlanket || e.Low != e.Value/2 || e.High != e.Value*2 {
		t.Errorf("%+v", e)
	}
	want := []Warning{
		{Code: FibreDiameterAssumed, Layer: -1, Value: 33},
		{Code: BulkDensityOutsideRange, Layer: -1, Value: 80, Low: 12, High: 60},
	}
	if d := cmp.Diff(want, e.Warnings); d != "" {
		t.Error(d)
	}
	if e, _ := EstimateResistivity("polyester", 40, Fibre{Diameter: 12}); e.Relation != PolyesterFine || len(e.Warnings) != 0 {
		t.Errorf("fine polyester: %+v", e)
	}
	for _, family := range []string{"glass_wool", "rock_wool", "mineral_wool_unspecified", "cotton", "sheep_wool", "wood_fibre", "hemp"} {
		e, ok := EstimateResistivity(family, 50, Fibre{})
		if !ok || !(e.Value > 500 && e.Value < 200_000) {
			t.Errorf("%s of 50 kg/m³: %+v", family, e)
		}
	}
}

func TestEstimateRefusesWhatCannotBe(t *testing.T) {
	for _, family := range []string{"open_cell_foam", "cellulose", "wood_wool", "other", ""} {
		if _, ok := EstimateResistivity(family, 50, Fibre{}); ok {
			t.Errorf("there is no relation for %q", family)
		}
	}
	for _, bad := range []units.Density{0, -1, 2000, units.Density(math.NaN()), units.Density(math.Inf(1))} {
		if _, ok := EstimateResistivity("glass_wool", bad, Fibre{}); ok {
			t.Errorf("a density of %v was taken", bad)
		}
	}
	if _, ok := EstimateResistivity("glass_wool", 50, Fibre{Diameter: units.Diameter(math.NaN())}); ok {
		t.Error("a diameter of NaN was taken")
	}
}
