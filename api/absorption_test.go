package api_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"math"
	"net/http"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"sabinbook/api"
	"sabinbook/api/client"
	"sabinbook/store/storetest"
)

// estimate asks what layers absorb.
func (s *service) estimate(body string) reply {
	s.t.Helper()
	return s.must(http.StatusOK, s.send(http.MethodPost, "/v1/absorption-estimates", body))
}

// The vectors of absorber_vectors.csv (converged to 2e-9, printed to six digits) come through the
// wire as they are: normal incidence to 1e-5 relative, diffuse with the node rule to 1e-4,
// fronts of finite size to 1e-3 (tolerances of absorber_model.md section 12).
func TestPublishedVectorsOverTheWire(t *testing.T) {
	f, err := os.Open("../internal/absorber/testdata/absorber_vectors.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	s, seen := serve(t, quiet{}), 0
	for _, l := range lines[1:] {
		row := map[string]string{}
		for i, name := range lines[0] {
			row[name] = l[i]
		}
		body, ok := vectorQuestion(row)
		if !ok {
			continue
		}
		seen++
		r := s.estimate(body)
		for _, name := range lines[0] {
			hz, found := strings.CutPrefix(name, "alpha_")
			if !found {
				continue
			}
			hz = strings.TrimSuffix(hz, "_hz")
			want, err := strconv.ParseFloat(row[name], 64)
			if err != nil {
				t.Fatal(err)
			}
			got, _ := r.value(t, "alpha", "thirds", "alpha_"+hz+"_hz").(float64)
			limit := 1e-4
			switch {
			case strings.Contains(body, `"normal"`):
				limit = 1e-5 * max(want, 0.1)
			case strings.Contains(body, `"patch"`):
				limit = 1e-3
			}
			if math.Abs(got-want) > limit {
				t.Errorf("%s at %s Hz: %g, want %g", row["case_id"], hz, got, want)
			}
		}
	}
	if seen < 50 {
		t.Errorf("%d vectors only", seen)
	}
}

// vectorQuestion writes a vector as a question; those at an oblique angle or of band means have
// none.
func vectorQuestion(row map[string]string) (string, bool) {
	incidence := map[string]string{"normal": "normal", "diffuse90": "diffuse", "diffuse78": "diffuse_78", "finite": "diffuse", "finite90": "diffuse"}[row["incidence"]+row["theta_max_deg"]]
	if incidence == "" || row["band_method"] != "centre" {
		return "", false
	}
	var layers []string
	if r := row["fabric_rs_pa_s_m"]; r != "0" {
		mass := `,"held_still":true`
		if m := row["fabric_mass_kg_m2"]; m != "" {
			mass = `,"surface_mass_kg_per_m2":` + m
		}
		layers = append(layers, `{"kind":"fabric","flow_resistance_pa_s_per_m":`+r+mass+`}`)
	}
	if open := row["perf_open_area_fraction"]; open != "" {
		layers = append(layers, fmt.Sprintf(`{"kind":"perforated_sheet","open_area_fraction":%s,"hole_diameter_mm":%s,"thickness_mm":%s}`, open, row["perf_hole_diameter_mm"], row["perf_thickness_mm"]))
	}
	if d := row["fill_thickness_mm"]; d != "" && d != "0" {
		limp := ""
		if m := row["limp_bulk_density_kg_m3"]; m != "" {
			limp = `,"limp_density_kg_per_m3":` + m
		}
		layers = append(layers, fmt.Sprintf(`{"kind":"fill","airflow_resistivity_pa_s_per_m2":%s,"thickness_mm":%s,"model":%q%s}`, row["sigma_pa_s_m2"], d, row["model"], limp))
	}
	if g := row["gap_mm"]; g != "0" {
		layers = append(layers, `{"kind":"air_gap","depth_mm":`+g+`}`)
	}
	patch := ""
	if row["patch_a_m"] != "" {
		metres := func(text string) float64 { x, _ := strconv.ParseFloat(text, 64); return x }
		patch = fmt.Sprintf(`,"patch":{"length_mm":%g,"width_mm":%g}`, 1000*metres(row["patch_a_m"]), 1000*metres(row["patch_b_m"]))
	}
	return fmt.Sprintf(`{"layers":[%s],"incidence":%q,"reaction":%q,"temperature_c":%s,"pressure_pa":%s%s}`, strings.Join(layers, ","), incidence, row["reaction"], row["temperature_c"], row["pressure_pa"], patch), true
}

// absorber_model.md sections 4 and 5, as printed there: 50 mm of 10 000 Pa·s/m² on the wall, bare
// and under fabrics of 0.2 kg/m² in a diffuse field, and bare under other conditions. Printed to two
// places, hence 0.005, and 0.0005 more: octaves made of the thirds of absorber_vectors.csv (v05, v30),
// which agree with these answers to all their digits, lie that much beyond the printed ones.
func TestPrintedTablesOverTheWire(t *testing.T) {
	s := serve(t, quiet{})
	for _, c := range []struct {
		fabric, conditions string
		want               [6]float64
	}{
		{"", ``, [6]float64{0.16, 0.37, 0.61, 0.80, 0.90, 0.94}},
		{"100", ``, [6]float64{0.19, 0.43, 0.69, 0.87, 0.94, 0.95}},
		{"400", ``, [6]float64{0.19, 0.52, 0.83, 0.95, 0.94, 0.92}},
		{"800", ``, [6]float64{0.19, 0.53, 0.90, 0.94, 0.87, 0.84}},
		{"1500", ``, [6]float64{0.18, 0.53, 0.92, 0.86, 0.75, 0.72}},
		{"3000", ``, [6]float64{0.18, 0.51, 0.91, 0.74, 0.57, 0.54}},
		{"", `,"reaction":"local"`, [6]float64{0.13, 0.30, 0.51, 0.70, 0.88, 0.87}},
		{"", `,"incidence":"diffuse_78"`, [6]float64{0.15, 0.37, 0.62, 0.82, 0.92, 0.96}},
		{"", `,"incidence":"normal"`, [6]float64{0.08, 0.24, 0.49, 0.81, 0.97, 0.94}},
	} {
		cloth := ""
		if c.fabric != "" {
			cloth = `{"kind":"fabric","flow_resistance_pa_s_per_m":` + c.fabric + `,"surface_mass_kg_per_m2":0.2},`
		}
		r := s.estimate(`{"layers":[` + cloth + `{"kind":"fill","airflow_resistivity_pa_s_per_m2":10000,"thickness_mm":50}]` + c.conditions + `}`)
		for i, hz := range []int{125, 250, 500, 1000, 2000, 4000} {
			if got, _ := r.value(t, "alpha", "octaves", fmt.Sprintf("alpha_%d_hz", hz)).(float64); math.Abs(got-c.want[i]) > 0.0055 {
				t.Errorf("fabric %q%s at %d Hz: %g, want %g", c.fabric, c.conditions, hz, got, c.want[i])
			}
		}
	}
}

// Each basis on the seed, with the bounds around the value and thirds where there can be some.
func TestBasesOfTheSeed(t *testing.T) {
	s := seeded(t, storetest.SQLite(t))
	for _, c := range []struct{ name, layers, basis, thirds string }{
		{"the tested build", `{"kind":"fill","fill":"rock-wool-40","thickness_mm":50}`, "measured", "absent"},
		{"another thickness", `{"kind":"fill","fill":"rock-wool-40","thickness_mm":100}`, "adapted", "absent"},
		{"under a cloth", `{"kind":"fabric","flow_resistance_pa_s_per_m":300,"surface_mass_kg_per_m2":0.2},{"kind":"fill","fill":"rock-wool-40","thickness_mm":50}`, "adapted", "absent"},
		{"a fill without tests", `{"kind":"fill","fill":"polyester-20","thickness_mm":50}`, "predicted", "there"},
		{"one of estimated resistivity", `{"kind":"fill","fill":"hemp-40","thickness_mm":50},{"kind":"fill","family":"hemp","density_kg_per_m3":40,"thickness_mm":20}`, "estimated", "there"},
	} {
		r := s.estimate(`{"layers":[` + c.layers + `]}`)
		if got := r.value(t, "basis"); got != c.basis {
			t.Errorf("%s: %v, want %s", c.name, got, c.basis)
		}
		if there := r.value(t, "alpha", "thirds") != nil; there != (c.thirds == "there") {
			t.Errorf("%s: thirds", c.name)
		}
		for _, hz := range []string{"125", "500", "4000"} {
			at := func(name string) float64 { return r.value(t, name, "octaves", "alpha_"+hz+"_hz").(float64) }
			if !(at("low") <= at("alpha") && at("alpha") <= at("high") && at("low") < at("high")) {
				t.Errorf("%s, %s Hz: %g, %g, %g", c.name, hz, at("low"), at("alpha"), at("high"))
			}
		}
		if (c.basis == "measured" || c.basis == "adapted") != (r.value(t, "test_choice") != nil) {
			t.Errorf("%s: a test that is used is named", c.name)
		}
	}
}

// What a curator marks changes which of two contradicting tests is used, in estimates and rankings, and
// answers say so.
func TestAnswersSayWhatIsSetAside(t *testing.T) {
	s := seeded(t, storetest.SQLite(t))
	const layers = `{"layers":[{"kind":"fill","fill":"rock-wool-100","thickness_mm":50}]}`
	before := s.estimate(layers)
	used := text(before.value(t, "test", "slug"))
	at := "/v1/absorption-tests/" + used
	copied := s.must(http.StatusOK, s.get(at))
	var record map[string]any
	if err := json.Unmarshal(copied.body, &record); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"id", "fill_id", "revision", "create_time", "update_time", "updated_by", "created_by"} {
		delete(record, name)
	}
	record["slug"], record["name"] = "zz-second-laboratory", "Second laboratory"
	record["bands"].(map[string]any)["alpha_500_hz"] = 0.5
	body, err := json.Marshal(record)
	if err != nil {
		t.Fatal(err)
	}
	s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/fills/rock-wool-100/absorption-tests", string(body)))
	if r := s.estimate(layers); r.value(t, "test", "slug") != used {
		t.Errorf("without marks the first slug of equal ones: %s", r.body)
	}
	s.must(http.StatusOK, s.send(http.MethodPatch, "/v1/absorption-tests/zz-second-laboratory", `{"use":"preferred","use_note":"the mounting is told"}`, "If-Match", "*"))
	if r := s.estimate(layers); r.value(t, "test", "slug") != "zz-second-laboratory" || !strings.Contains(text(r.value(t, "test_choice", "text")), "preferred to others that fit as well (the mounting is told)") {
		t.Errorf("preferred: %s", r.body)
	}
	s.must(http.StatusOK, s.send(http.MethodPatch, "/v1/absorption-tests/zz-second-laboratory", `{"use":"normal","use_note":null}`, "If-Match", "*"))
	if r := s.estimate(layers); text(r.value(t, "alpha")) != text(before.value(t, "alpha")) || text(r.value(t, "warnings")) != text(before.value(t, "warnings")) {
		t.Errorf("without marks again: %s", r.body)
	}
	s.must(http.StatusOK, s.send(http.MethodPatch, at, `{"use":"set_aside","use_note":"a misprint at 500 Hz"}`, "If-Match", "*"))
	r := s.estimate(layers)
	said := func(where any) bool {
		return strings.Contains(text(where), "The test "+used+" would have been taken, but a curator has set it aside: a misprint at 500 Hz")
	}
	if r.value(t, "test", "slug") != "zz-second-laboratory" || !said(r.value(t, "warnings")) || !strings.Contains(text(r.value(t, "test_choice", "text")), "(1 set aside)") {
		t.Errorf("set aside: %s", r.body)
	}
	ranked, _ := s.ask(merged(t, question, `{"fills":["rock-wool-100"],"show":"all","limit":200}`))
	kept := slices.IndexFunc(ranked.Options, func(o client.RankedOption) bool {
		return slices.ContainsFunc(o.Absorption.Warnings, func(n client.Note) bool { return n.Code == "test_set_aside" && said(n.Text) })
	})
	if kept < 0 {
		t.Fatal("no option of the ranking says what is set aside")
	}
	s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/shortlists", fmt.Sprintf(`{"slug":"brass","name":"Brass quintet","question":%s,"options":[{"key":%q}]}`, question, ranked.Options[kept].Key)))
	document := s.must(http.StatusOK, s.get("/v1/shortlists/brass/document"))
	if !said(string(document.body)) {
		t.Error("a kept document forgets what is set aside")
	}
	if v := s.must(http.StatusOK, s.send(http.MethodPost, "/v1/shortlists/verify", string(document.body))); v.value(t, "verdict") != "equal" {
		t.Errorf("%s", v.body)
	}
}

// The inputs of an answer are the question with its defaults: asked again they give the same bytes.
func TestEchoedAbsorptionInputsAreTheQuestion(t *testing.T) {
	s := seeded(t, storetest.SQLite(t))
	for _, body := range []string{
		`{"layers":[{"kind":"fabric","fabric":"knit-mesh"},{"kind":"fill","fill":"rock-wool-40","thickness_mm":50},{"kind":"air_gap","depth_mm":0.1}]}`,
		`{"layers":[{"kind":"fabric","piston_test":{"piston_area_cm2":78.53,"sample_area_cm2":19.63,"volume_l":0.3,"layers_count":3,"runs":[{"mass_kg":0.1,"time_s":5.1},{"mass_kg":0.1,"time_s":5.3},{"mass_kg":0.2,"time_s":2.7}]}},{"kind":"fabric","piston_test":{"piston_area_cm2":78.53,"sample_area_cm2":19.63,"volume_l":0.3,"runs":[{"mass_kg":0.1,"time_s":5.1}]}},{"kind":"fill","airflow_resistivity_pa_s_per_m2":12345.678,"thickness_mm":33.3,"model":"miki"}],"incidence":"diffuse_78","reaction":"local","patch":{"length_mm":3601.5,"width_mm":2999.25},"temperature_c":-3.7,"pressure_pa":98765.4,"use_tests":false}`,
	} {
		first := s.estimate(body)
		inputs, err := json.Marshal(first.value(t, "inputs"))
		if err != nil {
			t.Fatal(err)
		}
		second := s.estimate(string(inputs))
		if !bytes.Equal(first.body, second.body) || first.header.Get("ETag") != second.header.Get("ETag") {
			t.Errorf("the echo answers otherwise:\n%s\n%s", first.body, second.body)
		}
	}
}

// absorber_model.md section 4: 1500 Pa·s/m over 50 mm of 10 000 helps to 1 kHz and costs above.
func TestCoverInWords(t *testing.T) {
	s := serve(t, quiet{})
	r := s.estimate(`{"layers":[{"kind":"fabric","flow_resistance_pa_s_per_m":1500,"surface_mass_kg_per_m2":0.2},{"kind":"fill","airflow_resistivity_pa_s_per_m2":10000,"thickness_mm":50}]}`)
	const want = "By the model, over this fill: 125 to 1000 Hz: it helps; 2000 to 4000 Hz: it starts to reflect and costs absorption."
	if got := r.value(t, "cover", "text"); got != want {
		t.Errorf("%v", got)
	}
	r = s.estimate(`{"layers":[{"kind":"fabric","flow_resistance_pa_s_per_m":700,"flow_resistance_low_pa_s_per_m":100,"flow_resistance_high_pa_s_per_m":3000},{"kind":"fill","airflow_resistivity_pa_s_per_m2":10000,"thickness_mm":50}]}`)
	if got := fmt.Sprint(r.value(t, "cover", "text")); !strings.Contains(got, "not known well enough") || r.value(t, "cover", "octaves", 5, "sure") != false {
		t.Errorf("%s", r.body)
	}
	if r = s.estimate(`{"layers":[{"kind":"fill","airflow_resistivity_pa_s_per_m2":10000,"thickness_mm":50}]}`); r.value(t, "cover") != nil {
		t.Error("a bare fill has no cover")
	}
}

// Every code of a warning that absorption can carry has a sentence of its own, with the figures of
// the warning but for those that have none.
func TestEveryWarningHasWords(t *testing.T) {
	codes := map[string]bool{}
	for _, folder := range []string{"../internal/absorber", "../internal/absorption"} {
		set := token.NewFileSet()
		files, err := os.ReadDir(folder)
		if err != nil {
			t.Fatal(err)
		}
		for _, file := range files {
			if !strings.HasSuffix(file.Name(), ".go") || strings.HasSuffix(file.Name(), "_test.go") {
				continue
			}
			tree, err := parser.ParseFile(set, folder+"/"+file.Name(), nil, 0)
			if err != nil {
				t.Fatal(err)
			}
			ast.Inspect(tree, func(n ast.Node) bool {
				spec, ok := n.(*ast.ValueSpec)
				if !ok || len(spec.Values) != 1 {
					return true
				}
				text, ok := spec.Values[0].(*ast.BasicLit)
				kind, typed := spec.Type.(*ast.Ident)
				if ok && text.Kind == token.STRING && (typed && kind.Name == "WarningCode" || !typed && strings.HasSuffix(folder, "absorption")) {
					if code, _ := strconv.Unquote(text.Value); strings.Contains(code, "_") {
						codes[code] = true
					}
				}
				return true
			})
		}
	}
	if len(codes) < 25 {
		t.Fatalf("%d codes found only", len(codes))
	}
	bare := strings.Fields("test_capped_at_one handbook_table density_not_compared test_of_other_backing tests_left_aside bounds_of_other_conditions finite_size_runs_high_at_low_bands no_empty_run")
	said := map[string]string{}
	for code := range codes {
		words := api.WarningWords(code, 11, 12, 13)
		if words == "See the code." || words == "" || said[words] != "" {
			t.Errorf("%s has no words of its own", code)
		}
		said[words] = code
		if figures := words != api.WarningWords(code, 21, 22, 23); figures == slices.Contains(bare, code) {
			t.Errorf("%s: figures in its words: %v", code, figures)
		}
	}
}
