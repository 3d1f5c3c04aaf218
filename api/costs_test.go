package api_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math/big"
	"net/http"
	"strings"
	"testing"

	"sabinbook/store/storetest"
)

const costQuestion = `{"panel_count":10,"fill":"rock-wool-40","thickness_mm":50,"fabric":"nonwoven-60","currency":"EUR","as_of_date":"2026-11-02"}`

func (s *service) cost(body string) reply {
	s.t.Helper()
	return s.must(http.StatusOK, s.send(http.MethodPost, "/v1/cost-estimates", body))
}

func amount(t *testing.T, v any) *big.Rat {
	t.Helper()
	m, _ := v.(map[string]any)
	r, ok := new(big.Rat).SetString(text(m["amount"]))
	if !ok {
		t.Fatalf("no amount in %v", v)
	}
	return r
}

// A cost estimate is the option that a ranking has, and its curve agrees with asking for each
// number of panels.
func TestCostEstimateIsTheOptionOfTheRanking(t *testing.T) {
	s := seeded(t, storetest.SQLite(t))
	fabric := text(s.get("/v1/fabrics?limit=3").value(t, "items", 2, "slug"))
	question := merged(t, costQuestion, fmt.Sprintf(`{"fabric":%q,"air_gap_mm":50,"layers_count":2}`, fabric))
	one := s.cost(question)
	ranked := s.must(http.StatusOK, s.send(http.MethodPost, "/v1/rankings", fmt.Sprintf(
		`{"panel_count":10,"fills":["rock-wool-40"],"fabrics":[%q],"air_gaps_mm":[50],"currency":"EUR","as_of_date":"2026-11-02"}`, fabric)))
	found := false
	for _, list := range []string{"options", "not_priced"} {
		for i := 0; ranked.value(t, list, i) != nil; i++ {
			if ranked.value(t, list, i, "key") != one.value(t, "option", "key") {
				continue
			}
			found = true
			a, _ := json.Marshal(ranked.value(t, list, i, "cost"))
			b, _ := json.Marshal(one.value(t, "option", "cost"))
			if !bytes.Equal(a, b) {
				t.Errorf("the ranking says %s, the estimate %s", a, b)
			}
		}
	}
	if !found {
		t.Fatal("the ranking does not have the option")
	}
	before := new(big.Rat)
	for n := 1; n <= 30; n++ {
		point := func(member string) any { return one.value(t, "curve", n-1, member) }
		if point("panel_count") != float64(n) {
			t.Fatalf("point %d is %v", n, point("panel_count"))
		}
		total := amount(t, point("total"))
		if step := amount(t, point("step")); new(big.Rat).Add(before, step).Cmp(total) != 0 {
			t.Errorf("%d panels: step %v", n, step)
		}
		before = total
		if n%7 == 3 {
			alone := s.cost(merged(t, question, fmt.Sprintf(`{"panel_count":%d}`, n)))
			if got := amount(t, alone.value(t, "option", "cost", "total")); got.Cmp(total) != 0 {
				t.Errorf("%d panels asked alone cost %v, the curve says %v", n, got, total)
			}
		}
	}
	if one.value(t, "curve", 30) != nil {
		t.Error("the curve goes to three times the panels")
	}
	inputs, _ := json.Marshal(one.value(t, "inputs"))
	if again := s.cost(string(inputs)); !bytes.Equal(again.body, one.body) {
		t.Error("the echo answers otherwise")
	}
}

// The words about the next panels hold the figures of the curve.
func TestNextPanelsInWords(t *testing.T) {
	s := seeded(t, storetest.SQLite(t))
	fabric := text(s.get("/v1/fabrics?limit=1").value(t, "items", 0, "slug"))
	r := s.cost(merged(t, costQuestion, fmt.Sprintf(`{"fabric":%q,"panel_count":3}`, fabric)))
	words := text(r.value(t, "next_panels", "text"))
	step := text(r.value(t, "curve", 3, "step", "amount"))
	if !strings.HasPrefix(words, "The next panels would cost "+step+", ") || !strings.Contains(words, "3 cost ") {
		t.Errorf("%s; the step is %s", words, step)
	}
}

func TestCostEstimateWithoutAPriceNamesWhatIsMissing(t *testing.T) {
	s := seeded(t, storetest.SQLite(t))
	fabric := text(s.get("/v1/fabrics?limit=1").value(t, "items", 0, "slug"))
	r := s.cost(merged(t, costQuestion, fmt.Sprintf(`{"fabric":%q,"currency":"CHF"}`, fabric)))
	if r.value(t, "option", "cost", "total") != nil || r.value(t, "option", "cost", "missing", 0) == nil || r.value(t, "curve", 0, "total") != nil ||
		r.value(t, "next_panels", "code") != "next_panels_unknown" {
		t.Errorf("%s", r.body)
	}
}

func TestCostEstimatesOfWhatCannotBe(t *testing.T) {
	s := seeded(t, storetest.SQLite(t))
	fabric := text(s.get("/v1/fabrics?limit=1").value(t, "items", 0, "slug"))
	question := merged(t, costQuestion, fmt.Sprintf(`{"fabric":%q}`, fabric))
	for _, c := range []struct{ name, change, at, says string }{
		{"fill that is not there", `{"fill":"unobtainium"}`, "/fill", "no fill"},
		{"fabric that is not there", `{"fabric":"unobtainium"}`, "/fabric", "no fabric"},
		{"no fill", `{"fill":null}`, "/fill", "missing"},
		{"empty fill", `{"fill":""}`, "/fill", "missing"},
		{"thickness that is not sold", `{"thickness_mm":51}`, "/thickness_mm", "not sold"},
		{"thickness in metres", `{"thickness_mm":0.05}`, "/thickness_mm", "2 to 600"},
		{"three layers", `{"layers_count":3}`, "/layers_count", "1 to 2"},
		{"negative gap", `{"air_gap_mm":-5}`, "/air_gap_mm", "0 to 500"},
		{"no panels", `{"panel_count":0}`, "/panel_count", "1 to 500"},
		{"unknown currency", `{"currency":"XXQ"}`, "/currency", "capitals"},
		{"unknown member", `{"colour":"red"}`, "/colour", "no such member"},
	} {
		r := s.must(http.StatusUnprocessableEntity, s.send(http.MethodPost, "/v1/cost-estimates", merged(t, question, c.change)))
		found := false
		for i := 0; r.value(t, "errors", i) != nil; i++ {
			fault, _ := json.Marshal(r.value(t, "errors", i))
			found = found || r.value(t, "errors", i, "pointer") == c.at && strings.Contains(string(fault), c.says)
		}
		if !found {
			t.Errorf("%s: %s", c.name, r.body)
		}
	}
}

// What is on hand goes through the service as it does in package costing: a remnant of fabric,
// boards, batts and screws that are there cost nothing, stand in lines of their own with what
// they would cost to replace, and the echo answers the same.
func TestStockOnHandOverHTTP(t *testing.T) {
	s := seeded(t, storetest.SQLite(t))
	without := s.cost(costQuestion)
	if replaced := amount(t, without.value(t, "option", "cost", "replacement_total")); replaced.Cmp(amount(t, without.value(t, "option", "cost", "total"))) != 0 {
		t.Errorf("replacement total %v without stock", replaced)
	}
	frame := text(without.value(t, "option", "frame", "slug"))
	with := s.cost(merged(t, costQuestion, fmt.Sprintf(`{"stock_on_hand":[
		{"item_kind":"fabric","item":"nonwoven-60","length_mm":4000,"count":1,"replacement_value":{"amount":"12.00","currency":"EUR"}},
		{"item_kind":"part","item":%q,"length_mm":2400,"count":3,"replacement_value":{"amount":"4.00","currency":"EUR"}}]}`, frame)))
	var value big.Rat
	owned := map[string]float64{}
	for i := 0; with.value(t, "option", "cost", "lines", i) != nil; i++ {
		line := func(member string) any { return with.value(t, "option", "cost", "lines", i, member) }
		if line("owned") == true {
			owned[text(line("need"))] += line("needed_quantity").(float64)
			value.Add(&value, amount(t, line("replacement_value")))
			if with.value(t, "option", "cost", "lines", i, "cut_plan", "text") == nil {
				t.Errorf("no cut plan of what is there: %v", line("need"))
			}
		}
	}
	cost := func(member string) *big.Rat { return amount(t, with.value(t, "option", "cost", member)) }
	if len(owned) != 2 || owned["frame"] != 3 || owned["fabric"] <= 0 || owned["fabric"] > 4 {
		t.Errorf("taken %v", owned)
	}
	if cost("stock_value").Cmp(&value) != 0 || cost("replacement_total").Cmp(new(big.Rat).Add(cost("total"), &value)) != 0 || cost("total").Cmp(amount(t, without.value(t, "option", "cost", "total"))) >= 0 {
		t.Errorf("stock %v, total %v, replacement %v", cost("stock_value"), cost("total"), cost("replacement_total"))
	}
	inputs, _ := json.Marshal(with.value(t, "inputs"))
	if again := s.cost(string(inputs)); !bytes.Equal(again.body, with.body) {
		t.Error("the echo answers otherwise")
	}
}

// Every need says how far it goes, and the words name those that end with the panels asked for.
func TestHowFarItGoesInWords(t *testing.T) {
	s := seeded(t, storetest.SQLite(t))
	r := s.cost(costQuestion)
	words := text(r.value(t, "next_panels", "text"))
	for i := 0; r.value(t, "enough_for", i) != nil; i++ {
		need, ends := text(r.value(t, "enough_for", i, "need")), r.value(t, "enough_for", i, "panel_count") == 10.0
		_, after, _ := strings.Cut(words, "more must be bought of: ")
		if strings.Contains(after, need) != ends {
			t.Errorf("%s ends with the panels: %v; %s", need, ends, words)
		}
	}
}

// Frames of each joint, with braces and a press fit, are priced and their pieces told.
func TestDesignsOfFrames(t *testing.T) {
	s := seeded(t, storetest.SQLite(t))
	for _, joint := range []string{"butt", "mitre", "half_lap"} {
		r := s.cost(merged(t, costQuestion, fmt.Sprintf(`{"panel_count":4,"panel":{"joint":%q,"braces_count":1,"fill_oversize_mm":5,"back":"wrapped","back_margin_mm":-10}}`, joint)))
		if r.value(t, "option", "cost", "total") == nil || r.value(t, "inputs", "panel", "joint") != joint {
			t.Errorf("%s: %s", joint, r.body)
		}
		for i := 0; r.value(t, "option", "cost", "lines", i) != nil; i++ {
			switch r.value(t, "option", "cost", "lines", i, "need") {
			case "frame":
				if r.value(t, "option", "cost", "lines", i, "pieces", 2) == nil {
					t.Errorf("%s: no brace in %v", joint, r.value(t, "option", "cost", "lines", i, "pieces"))
				}
			case "fill":
				if formula := text(r.value(t, "option", "cost", "lines", i, "pieces", 0, "formula")); !strings.Contains(formula, "bays") || !strings.Contains(formula, "oversize") {
					t.Errorf("%s: %s", joint, formula)
				}
			}
		}
	}
}
