package api_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"reflect"
	"testing"

	"sabinbook/store/storetest"
)

// Worked examples A and B of handling.md section 3 (convention of this project): six panels of 1.2 m x 0.6 m,
// fibrous fill: 25 + 6 x 1.8 x 1.0 + 6 x 0.72 x 3.0 = 48.76 min, polyester: 5 + 6 x 1.8 x 2.0 = 26.6 min.
// An hour at 15.00: 12.19 and 6.65.
func TestBurdenEstimate(t *testing.T) {
	s := seeded(t, storetest.SQLite(t))
	ask := func(question string) reply {
		t.Helper()
		return s.must(http.StatusOK, s.send(http.MethodPost, "/v1/burden-estimates", question))
	}
	for fill, want := range map[string][3]any{
		"rock-wool-40":      {48.76, 8.1267, "12.19"},
		"polyester-fine-50": {26.6, 4.4333, "6.65"},
	} {
		thickness := s.get("/v1/fills/"+fill).value(t, "sold_sizes", 0, "thickness_mm")
		r := ask(fmt.Sprintf(`{"panel_count":6,"fill":%q,"thickness_mm":%v,"fabric":"knit-mesh","handling":{"value_of_hour":{"amount":"15.00","currency":"EUR"}}}`, fill, thickness))
		if got := [3]any{r.value(t, "burden", "extra_time_min"), r.value(t, "burden", "extra_time_per_panel_min"), r.value(t, "burden", "labour_cost", "amount")}; got != want {
			t.Errorf("%s: %v, want %v", fill, got, want)
		}
		inputs, _ := json.Marshal(r.value(t, "inputs"))
		if again := ask(string(inputs)); string(again.body) != string(r.body) {
			t.Errorf("%s: the echo answers otherwise", fill)
		}
	}

	// A ranking tells the same of the same build, cautions among it.
	ranking, _ := s.ask(merged(t, question, `{"families":["rock_wool"],"limit":3,"panel":{"design":"panel-600x1200-braced"}}`))
	compared := 0
	for _, o := range ranking.Options {
		r := ask(fmt.Sprintf(`{"panel_count":%d,"fill":%q,"thickness_mm":%g,"layers_count":%d,"air_gap_mm":%g,"fabric":%q,"panel":{"design":"panel-600x1200-braced"}}`,
			o.PanelCount, o.Fill.Slug, o.ThicknessMm, o.LayersCount, o.AskedAirGapMm, o.Fabric.Slug))
		if r.value(t, "frame", "slug") != o.Frame.Slug {
			continue // the ranking prefers a timber that can be bought
		}
		compared++
		for member, want := range map[string]any{"burden": o.Burden, "cautions": o.Cautions, "mass_lines": o.MassLines} {
			var b any
			text, _ := json.Marshal(want)
			if err := json.Unmarshal(text, &b); err != nil || !reflect.DeepEqual(r.value(t, member), b) {
				t.Errorf("%s, %s: %v\nin the ranking %s", o.Key, member, r.value(t, member), text)
			}
		}
	}

	if compared == 0 {
		t.Error("no option was compared")
	}

	for at, body := range map[string]string{
		"/fill":                   `{"panel_count":6,"fill":"unobtainium","thickness_mm":50,"fabric":"knit-mesh"}`,
		"/fabric":                 `{"panel_count":6,"fill":"rock-wool-40","thickness_mm":50,"fabric":"unobtainium"}`,
		"/thickness_mm":           `{"panel_count":6,"fill":"rock-wool-40","thickness_mm":51,"fabric":"knit-mesh"}`,
		"/panel_count":            `{"panel_count":0,"fill":"rock-wool-40","thickness_mm":50,"fabric":"knit-mesh"}`,
		"/panel/design":           `{"panel_count":6,"fill":"rock-wool-40","thickness_mm":50,"fabric":"knit-mesh","panel":{"design":"nobodys"}}`,
		"/handling/persons_count": `{"panel_count":6,"fill":"rock-wool-40","thickness_mm":50,"fabric":"knit-mesh","handling":{"persons_count":0}}`,
		"/owned_roles/0":          `{"panel_count":6,"fill":"rock-wool-40","thickness_mm":50,"fabric":"knit-mesh","owned_roles":["crown"]}`,
	} {
		r := s.must(http.StatusUnprocessableEntity, s.send(http.MethodPost, "/v1/burden-estimates", body))
		if r.value(t, "errors", 0, "pointer") != at {
			t.Errorf("%s: %s", at, r.body)
		}
	}
}
