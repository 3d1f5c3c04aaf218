package absorber

import (
	"math"
	"testing"

	"sabinbook/internal/units"
)

// testdata/fabric_vectors.csv: each row names its source; figures are printed to six
// digits, so 1e-5 relative. Rows of measured cloths hold nothing that could be computed.
func TestFabricVectors(t *testing.T) {
	computed, measured := map[string]int{}, map[string]int{}
	for _, r := range table(t, "fabric_vectors.csv") {
		kind, id := r["kind"], r["case_id"]
		u, p := r.num(t, "face_velocity_m_s"), r.num(t, "pressure_pa")
		apparent, linear := r.num(t, "r_apparent_pa_s_m"), r.num(t, "r_linear_pa_s_m")
		switch kind {
		case "astm_d737_125pa", "iso_9237_100pa", "iso_9237_200pa", "iso_9237_125pa", "iso_9237_20pa", "unit":
			v, ok := FlowUnit(r["input_unit"]).FaceVelocity(r.num(t, "input_value"))
			if !ok {
				t.Errorf("%s: no unit %q", id, r["input_unit"])
			}
			near(t, id+" velocity", v, u, 1e-5)
			near(t, id+" apparent", float64(Apparent(v, p)), apparent, 1e-5)
			if kind != "unit" {
				near(t, id+" linear", float64(FromPermeability(v, p)), linear, 1e-5)
			}
		case "two_pressures":
			got, ok := FromTwoPressures(r.num(t, "input_value"), p, r.num(t, "input_value_2"), r.num(t, "pressure_2_pa"))
			if !ok {
				t.Errorf("%s was refused", id)
			}
			near(t, id, float64(got), linear, 1e-5)
		case "nonlinearity_at_125pa":
			ratio := r.num(t, "input_value") // R at 5 m/s over R at 0.2 m/s
			q := (ratio - 1) / (5 - 0.2*ratio)
			near(t, id+" q", q, r.num(t, "b_over_r0_s_m"), 1e-5)
			near(t, id+" apparent", float64(Apparent(u, p)), apparent, 1e-5)
			near(t, id+" linear", float64(Linear(Apparent(u, p), u, q)), linear, 1e-5)
		case "open_area_inertia_at_125pa":
			phi := units.Fraction(r.num(t, "open_area_fraction"))
			near(t, id+" B", openingInertia(float64(phi)), r.num(t, "inertial_b_pa_s2_m2"), 1e-5)
			// A difference of two printed figures: their rounding is of the apparent value.
			about(t, id+" linear", float64(FromOpenArea(Apparent(u, p), u, phi)), linear, 1e-5*apparent)
		case "wire_mesh", "weave_geometry":
			w, ok := FromWeave(
				Threads{100 * r.num(t, "threads_per_cm_1"), units.Diameter(r.num(t, "yarn_diameter_1_um"))},
				Threads{100 * r.num(t, "threads_per_cm_2"), units.Diameter(r.num(t, "yarn_diameter_2_um"))},
			)
			if !ok {
				t.Errorf("%s was refused", id)
			}
			near(t, id+" resistance", float64(w.Resistance), linear, 1e-5)
			near(t, id+" open area", float64(w.OpenArea), r.num(t, "open_area_fraction"), 1e-5)
			near(t, id+" pore", float64(w.Pore), r.num(t, "hydraulic_diameter_um"), 1e-5)
		case "perforate_steady_flow":
			s := Perforated{
				OpenArea:  units.Fraction(r.num(t, "open_area_fraction")),
				Hole:      units.Diameter(r.num(t, "hydraulic_diameter_um")),
				Thickness: units.Length(r.num(t, "thickness_um") / 1000),
			}
			near(t, id, float64(s.FlowResistance()), linear, 1e-5)
		default:
			measured[kind]++
			continue
		}
		computed[kind]++
	}
	total := 0
	for _, n := range computed {
		total += n
	}
	t.Logf("%d rows computed: %v; rows of measured resistances, without an input: %v", total, computed, measured)
	if total != 82 {
		t.Errorf("%d rows computed, want 82", total)
	}
}

func TestOpennessRefusesWhatCannotBe(t *testing.T) {
	if _, ok := FlowUnit("furlong").FaceVelocity(1); ok {
		t.Error("an unknown unit was taken")
	}
	for _, c := range [][4]float64{{0.2, 50, 0.2, 100}, {0, 50, 0.2, 100}, {math.NaN(), 50, 0.2, 100}} {
		if _, ok := FromTwoPressures(c[0], c[1], c[2], c[3]); ok {
			t.Errorf("%v was taken", c)
		}
	}
	open := Threads{1000, 300}
	for _, closed := range []Threads{{1000, 1000}, {0, 300}, {1000, 0}, {math.NaN(), 300}} {
		if _, ok := FromWeave(open, closed); ok {
			t.Errorf("%+v was taken", closed)
		}
	}
	if r, _ := FromTwoPressures(0.2, 50, 0.35, 200); r != 0 {
		t.Errorf("scatter that gives a negative resistance must give 0, not %v", r)
	}
}
