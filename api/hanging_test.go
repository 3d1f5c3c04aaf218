package api_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// hangingQuestion is the example "ours" of hanging.md section 1: 6.0 kg on rings 500 mm apart, 60 mm below the hook.
const hangingQuestion = `{"panel":{"mass_kg":6},"system":"wire_one_hook","wire":{"ring_spacing_mm":500,"sag_mm":60}}`

// hangingParts is the panel of the mass example of handling.md section 3, with glue and hardware of Lantern Yard.
const hangingParts = `{"without":["back"],"parts":[
	{"kind":"frame","name":"long rails","wood":"c16","count":2,"length_mm":1200,"width_mm":100,"thickness_mm":18},
	{"kind":"frame","name":"short rails","wood":"c16","count":2,"length_mm":564,"width_mm":100,"thickness_mm":18},
	{"kind":"fill","density_kg_per_m3":45,"density_low_kg_per_m3":40,"density_high_kg_per_m3":50,"length_mm":1164,"width_mm":564,"thickness_mm":100},
	{"kind":"fabric","surface_mass_kg_per_m2":0.3,"length_mm":1500,"width_mm":900},
	{"kind":"hardware","name":"d-rings","mass_kg":0.015,"count":2},
	{"kind":"adhesive"}]}`

func (s *service) hang(body string) reply {
	s.t.Helper()
	return s.must(http.StatusOK, s.send(http.MethodPost, "/v1/hanging-checks", body))
}

// named finds an element of a list by a member.
func named(t *testing.T, r reply, name string, path ...any) map[string]any {
	t.Helper()
	list, _ := r.value(t, path...).([]any)
	for _, e := range list {
		m := e.(map[string]any)
		for _, key := range []string{"name", "id", "code", "role", "kind"} {
			if m[key] == name {
				return m
			}
		}
	}
	t.Fatalf("no %s in %v: %s", name, path, r.body)
	return nil
}

func close4(t *testing.T, what string, got any, want float64) {
	t.Helper()
	if x, ok := got.(float64); !ok || math.Abs(x-want) > 0.00005001*max(1, math.Abs(want)) {
		t.Errorf("%s: %v, want %g", what, got, want)
	}
}

// The worked examples of hanging.md over the wire: 126.06 N, 122.58 N, 13.496 degrees; below the ceiling 378.6 mm.
// Values beyond the printed places by hand: T = 29.41995 x sqrt(250² + 60²)/60 N, h = sqrt(260² − 250²) mm.
func TestHangingExamplesOverTheWire(t *testing.T) {
	s := serve(t, quiet{})
	r := s.hang(merged(t, hangingQuestion, `{"row":{"top_below_line_mm":300,"panels":[{"id":"left","ring_drop_mm":150,"ring_spacing_mm":500,"wire_length_mm":520}]},
		"hardware":[{"id":"ring","role":"ring","count":2,"working_load_kg":15},{"id":"wire","role":"wire","breaking_strength_n":400}],
		"cold_wall":{"wall_resistance_m2_k_per_w":0.5,"panel_resistance_m2_k_per_w":2.857,"inside_c":20,"outside_c":-5,"humidity_percent":50}}`))
	w := 6 * 9.80665
	close4(t, "tension", named(t, r, "wire_tension", "loads")["value"], w/2*math.Hypot(250, 60)/60)
	close4(t, "side pull", named(t, r, "ring_side_pull", "loads")["value"], w/2*250/60)
	close4(t, "angle", named(t, r, "wire_angle", "wire")["value"], math.Atan(0.24)*180/math.Pi)
	close4(t, "below the ceiling", r.value(t, "row", "places", 0, "below_line", "value"), 450-math.Sqrt(5100))
	close4(t, "declared wire", named(t, r, "wire", "checks")["declared"].(map[string]any)["value"], 100)
	if v := named(t, r, "wire", "checks"); v["verdict"] != "above_rating" || v["words"] != "above the rating you entered" {
		t.Errorf("%v", v)
	}
	if v := named(t, r, "ring", "checks"); v["verdict"] != "within_rating" || v["words"] != "within the rating you entered" {
		t.Errorf("%v", v)
	}
	if v := named(t, r, "hook", "checks"); v["verdict"] != "not_known" || v["reason"] != "not_listed" || v["fix"] == nil {
		t.Errorf("%v", v)
	}
	close4(t, "behind", named(t, r, "wall_behind", "cold_wall", "figures")["value"], 20-25*2.987/3.527)
	if r.value(t, "cold_wall", "outcome") != "condensation_likely" {
		t.Errorf("%s", r.body)
	}
	for _, code := range []string{"flat_wire", "qualified_person", "over_people", "earthquakes", "electrics", "cold_wall", "condensation_likely", "studs", "keep_clear"} {
		if c := named(t, r, code, "cautions"); text(c["text"]) == "" || text(c["source"]) == "" {
			t.Errorf("%v", c)
		}
	}
	named(t, r, "local_rules_first", "notes")
}

// A part of unknown mass is named, leaves the mass unknown and gives no load; without it there is a mass with its range.
func TestHangingMassFromParts(t *testing.T) {
	s := serve(t, quiet{})
	r := s.hang(merged(t, hangingQuestion, `{"panel":`+hangingParts+`}`))
	if r.value(t, "mass", "known") != false || r.value(t, "mass", "mass_kg") != nil || fmt.Sprint(r.value(t, "mass", "unknown_parts")) != "[adhesive]" || len(list(r.value(t, "loads"))) != 0 {
		t.Errorf("%s", r.body)
	}
	if sum := r.value(t, "mass", "known_mass_kg").(float64); math.Abs(sum-5.739) > 0.0006 { // 5.709 kg of the example, and 2 x 15 g
		t.Errorf("known %g", sum)
	}
	named(t, r, "mass_unknown", "cautions")
	close4(t, "share without a mass", named(t, r, "tension_share", "wire")["value"], math.Hypot(250, 60)/120)

	r = s.hang(merged(t, hangingQuestion, `{"panel":`+strings.Replace(strings.Replace(hangingParts, `"back"`, `"back","adhesive"`, 1), `,
	{"kind":"adhesive"}`, "", 1)+`}`))
	low, mass, high := r.value(t, "mass", "mass_low_kg").(float64), r.value(t, "mass", "mass_kg").(float64), r.value(t, "mass", "mass_high_kg").(float64)
	frame, fill := 3.528*0.1*0.018*370, 1.164*0.564*0.1
	close4(t, "low", low, 0.83*frame+40*fill+0.405+0.03)
	close4(t, "mass", mass, frame+45*fill+0.405+0.03)
	close4(t, "high", high, 1.17*frame+50*fill+0.405+0.03)
	close4(t, "weight", named(t, r, "weight", "loads")["value"], high*9.80665)
	if line := named(t, r, "long rails", "mass", "lines"); !strings.Contains(text(line["source"]), "EN 338") || text(line["formula"]) != "count × length × width × thickness × density" {
		t.Errorf("%v", line)
	}
}

// The echo of a question is the question with its defaults.
func TestEchoedHangingQuestionIsTheQuestion(t *testing.T) {
	s := serve(t, quiet{})
	first := s.hang(merged(t, hangingQuestion, `{"panel":`+hangingParts+`}`))
	inputs, err := json.Marshal(first.value(t, "inputs"))
	if err != nil {
		t.Fatal(err)
	}
	if second := s.hang(string(inputs)); string(first.body) != string(second.body) {
		t.Errorf("%s\n%s", first.body, second.body)
	}
}

// hangingForbidden are conclusions that no answer may draw (fire.md section 5, handling.md section 4, hanging.md section 2). The
// codes of verdicts and reasons are words of their own.
var hangingForbidden = regexp.MustCompile(`(?i)\bsafe|\bunsafe|\bsecure|complian|complies|\blegal|permitted|approved|certified|guarantee|non-?combustible|fire-?proof|` +
	`flame.retardant|self-extinguishing|non-?toxic|carcinogenic|harmless|will hold|strong enough|cannot fall`)

func TestNoForbiddenConclusionAboutHanging(t *testing.T) {
	s := serve(t, quiet{})
	for _, system := range []string{"wire_one_hook", "two_hooks", "french_cleat", "z_clips", "overhead"} {
		for _, answer := range []string{"yes", "no", "unknown"} {
			change := fmt.Sprintf(`{"system":%q,"site":{"over_people":%[2]q,"earthquake_region":%[2]q,"near_electrics":%[2]q,"outside_wall":%[2]q},
				"hardware":[{"id":"plug","role":"wall_fixing","working_load_kg":20,"rating_kind":"shear","sits_in":"stud"}]}`, system, answer)
			question := hangingQuestion
			if system != "wire_one_hook" {
				question = merged(t, question, `{"wire":null}`)
			}
			r := s.hang(merged(t, question, change))
			if m := hangingForbidden.Find(r.body); m != nil {
				t.Errorf("%s: the answer says %q", system, m)
			}
			if overhead := system == "overhead"; overhead != (len(list(r.value(t, "loads"))) == 0) || overhead != (named(t, r, "plug", "checks")["verdict"] == "not_known") {
				t.Errorf("%s: %s", system, r.body)
			}
		}
	}
}

// Heights of a row over an uneven floor, each with its formula; by hand as in the tests of the package.
func TestHangingRowOverTheWire(t *testing.T) {
	s := serve(t, quiet{})
	r := s.hang(merged(t, hangingQuestion, `{"row":{"top_below_line_mm":300,"floor":{"line_above_floor_mm":2700,"drop_mm":30,"over_mm":6000},"panels":[
		{"id":"a","ring_drop_mm":150,"ring_spacing_mm":500,"wire_length_mm":520,"position_mm":0},
		{"id":"b","ring_drop_mm":40,"ring_spacing_mm":500,"sag_mm":60,"position_mm":3000,"height_mm":1200}]}}`))
	b := r.value(t, "row", "places", 1).(map[string]any)
	close4(t, "below the line", member(b, "below_line", "value"), 280)
	close4(t, "above the floor", member(b, "above_floor", "value"), 2435)
	close4(t, "clearance", member(b, "clearance", "value"), 1215)
	close4(t, "above the edge", b["hook_above_edge_mm"], 20)
	close4(t, "step", r.value(t, "row", "floor_step", "value"), 15)
	if r.value(t, "row", "places", 0, "hook_above_edge_mm") != nil || r.value(t, "row", "places", 1, "sag") != nil {
		t.Errorf("%s", r.body)
	}
	for _, f := range []any{b["below_line"], b["above_floor"], b["clearance"], b["floor_drop"], b["wire_angle"], b["tension_share"]} {
		if text(member(f, "formula")) == "" || len(list(member(f, "inputs"))) == 0 || text(member(f, "source")) == "" {
			t.Errorf("%v", f)
		}
	}
	codes := []string{}
	for _, c := range list(r.value(t, "cautions")) {
		codes = append(codes, text(member(c, "code")))
	}
	for _, want := range []string{"measure_each_panel", "hook_above_edge", "uneven_floor"} {
		if !slices.Contains(codes, want) {
			t.Errorf("no caution %s in %v", want, codes)
		}
	}
}

// FuzzHangingBody sends bodies of any kind; whatever comes, the answer is no 5xx.
func FuzzHangingBody(f *testing.F) {
	f.Add([]byte(hangingQuestion))
	f.Add([]byte(`{"panel":` + hangingParts + `,"system":"overhead"}`))
	f.Add([]byte(`{"panel":{"mass_kg":6,"mass_high_kg":7},"system":"two_hooks","lever":{"centre_from_wall_mm":50,"hook_above_bearing_mm":1100},"load_factor":2,"design_factor":5,
		"hardware":[{"id":"a","role":"wall_fixing","count":2,"breaking_strength_kg":80,"rating_kind":"tension","sits_in":"board","board":"gypsum","board_thickness_mm":12.5,"source":"pack"}],
		"row":{"top_below_line_mm":300,"floor":{"line_above_floor_mm":2700,"drop_mm":30,"over_mm":6000},"panels":[{"id":"a","ring_drop_mm":150,"sag_mm":0,"position_mm":10,"height_mm":1200},{"id":"b","ring_drop_mm":150,"sag_mm":1,"floor_drop_mm":-4}]},
		"site":{"over_people":"no"},"cold_wall":{"wall_resistance_m2_k_per_w":0.5,"panel_resistance_m2_k_per_w":2.857,"inside_c":20,"outside_c":-5,"humidity_percent":50}}`))
	s := serve(f, quiet{})
	f.Fuzz(func(t *testing.T, body []byte) {
		in := *s
		in.t = t
		if r := in.do(http.MethodPost, "/v1/hanging-checks", bytes.NewReader(body), "Content-Type", "application/json"); r.status >= 500 {
			t.Errorf("status %d for %q: %s", r.status, body, r.body)
		}
	})
}
