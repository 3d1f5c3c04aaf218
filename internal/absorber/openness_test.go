package absorber

import "testing"

// Rows of fabric_vectors.csv of the kinds astm_d737 and iso_9237: unit definitions, R = dp/u, and
// the estimate q = 0.25 s/m; printed to six digits.
func TestFromPermeability(t *testing.T) {
	checked, others := 0, map[string]int{}
	for _, r := range table(t, "fabric_vectors.csv") {
		if r["b_over_r0_s_m"] != "0.25" || r["face_velocity_m_s"] == "" {
			others[r["kind"]]++
			continue
		}
		checked++
		got := FromPermeability(r.num(t, "face_velocity_m_s"), r.num(t, "pressure_pa"))
		near(t, r["case_id"], float64(got), r.num(t, "r_linear_pa_s_m"), 1e-5)
	}
	if checked != 25 {
		t.Errorf("%d rows checked, want 25", checked)
	}
	t.Logf("rows of other kinds, for which the package has no conversion: %v", others)
}
