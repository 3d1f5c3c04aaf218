package api_test

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"strings"
	"testing"

	"sabinbook/internal/access"
	"sabinbook/internal/catalog"
	"sabinbook/store/storetest"
)

// outcomeBody is what became of ten panels of an option, with what change says otherwise.
func outcomeBody(t testing.TB, key, change string) string {
	return merged(t, fmt.Sprintf(`{"key":%q,"panels_count":10,"built_date":"2026-11-02","lines":[{"what":"Batts","need":"fill","paid":{"amount":"100.00","currency":"EUR"}},
		{"what":"Cloth from the theatre","need":"fabric","had_for_nothing":true,"replacement_value":{"amount":"30.50","currency":"EUR"},"note":"thanks, Quillhaven"}],
		"minutes":[{"step":"session_overhead","time_min":80},{"step":"cutting","time_min":54},{"step":"building","time_min":900}],"persons_count":2,"sessions_count":2,"panel_mass_kg":5,
		"fabric_bought_mm":20000,"fabric_used_mm":15000,"decay_times_before":{"time_500_hz_s":1.25},"decay_times_after":{"time_500_hz_s":0.75},"note":"done"}`, key), change)
}

// near reports whether a value of an answer is a number close to another.
func near(got any, want float64) bool {
	x, ok := got.(float64)
	return ok && math.Abs(x-want) < 0.0051
}

// optionIn is the first option of the document of a shortlist.
func (s *service) optionIn(at string) reply {
	s.t.Helper()
	d := s.must(http.StatusOK, s.get(at+"/document"))
	text, err := json.Marshal(d.value(s.t, "answer", "options", 0))
	if err != nil {
		s.t.Fatal(err)
	}
	d.body = text
	return d
}

func TestLifeOfAnOutcome(t *testing.T) {
	storetest.Each(t, func(t *testing.T, db *storetest.Store) {
		s := seeded(t, db)
		made := s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/shortlists", s.keepBody(`{"question":{"panel_count":10,"currency":"EUR","as_of_date":"2026-11-02","tax_basis":"excluded","handling":{"sealing_min_per_m":0.5},"room":{"room":{"length_m":6,"width_m":5,"height_m":3},"surfaces":[{"face":"floor","material":"slate"},{"face":"ceiling","material":"slate"},{"face":"walls","material":"slate"}],"target":{"rule":"own","time_s":0.8}}}}`)))
		before := s.revision()
		at := "/v1/shortlists/" + text(made.value(t, "id"))
		o := s.optionIn(at)
		body := outcomeBody(t, text(o.value(t, "key")), `{}`)
		s.must(http.StatusNotFound, s.get(at+"/outcome"))
		s.must(http.StatusPreconditionRequired, s.send(http.MethodPut, at+"/outcome", body))
		s.must(http.StatusOK, s.send(http.MethodPut, at+"/outcome?dry_run=true", body, "If-Match", made.header.Get("ETag")))
		s.must(http.StatusNotFound, s.get(at+"/outcome"))
		put := s.must(http.StatusOK, s.send(http.MethodPut, at+"/outcome", body, "If-Match", made.header.Get("ETag")))
		if stale := s.must(http.StatusPreconditionFailed, s.send(http.MethodPut, at+"/outcome", body, "If-Match", made.header.Get("ETag"))); stale.value(t, "current_revision") != 2.0 {
			t.Errorf("%s", stale.body)
		}
		got := s.must(http.StatusOK, s.get("/v1/shortlists/brass/outcome"))
		list := s.must(http.StatusOK, s.get(at))
		if string(got.body) != string(put.body) || got.header.Get("ETag") != list.header.Get("ETag") || list.value(t, "status") != "built" || list.value(t, "revision") != 2.0 {
			t.Errorf("%v %s, then %s of %s", got.header, put.body, got.body, list.body)
		}
		s.must(http.StatusNotModified, s.get(at+"/outcome", "If-None-Match", put.header.Get("ETag")))
		if got.value(t, "outcome", "evidence") != "user" || got.value(t, "outcome", "recorded_by") != keeper || got.value(t, "outcome", "lines", 1, "had_for_nothing") != true || got.value(t, "outcome", "decay_times_after", "time_250_hz_s") != nil {
			t.Errorf("%s", got.body)
		}

		// The estimates are those of the document, the rest is worked out here.
		amount := func(v any) float64 {
			var x float64
			if _, err := fmt.Sscan(text(v), &x); err != nil {
				t.Errorf("amount %v: %v", v, err)
			}
			return x
		}
		r := func(path ...any) any { return got.value(t, append([]any{"report"}, path...)...) }
		total := amount(o.value(t, "cost", "total", "amount"))
		if r("cash", "estimate", "amount") != o.value(t, "cost", "total", "amount") || amount(r("cash", "actual", "amount")) != 100 || !near(amount(r("cash", "difference", "amount")), 100-total) || !near(r("cash", "difference_percent"), 100*(100-total)/total) {
			t.Errorf("cash: %s", got.body)
		}
		if r("replacement", "estimate", "amount") != o.value(t, "cost", "replacement_total", "amount") || amount(r("replacement", "actual", "amount")) != 130.5 {
			t.Errorf("replacement: %s", got.body)
		}
		if r("notes", 0, "code") != "estimate_without_tax" || r("notes", 1) != nil {
			t.Errorf("notes: %s", got.body)
		}
		lines := o.value(t, "burden", "lines").([]any)
		if o.value(t, "burden", "lines", len(lines)-1, "name") != "edge_sealing" {
			t.Errorf("no line of sealing: %v", lines)
		}
		for i := range lines {
			if r("steps", i, "step") != o.value(t, "burden", "lines", i, "name") || r("steps", i, "estimate_min") != o.value(t, "burden", "lines", i, "quantity_min") {
				t.Errorf("step %d: %s", i, got.body)
			}
		}
		if cut := o.value(t, "burden", "lines", 1, "quantity_min").(float64); !near(r("steps", 1, "difference_min"), 54-cut) || !near(r("steps", 1, "difference_percent"), 100*(54-cut)/cut) {
			t.Errorf("cutting: %s", got.body)
		}
		if r("extra_time", "estimate_min") != o.value(t, "burden", "extra_time_min") || (r("extra_time", "actual_min") == nil) != (len(lines) > 2) || r("all_time_min") != 1034.0 {
			t.Errorf("times: %s", got.body)
		}
		if r("panel_mass", "estimate_kg") == nil || r("panel_mass", "actual_kg") != 5.0 || r("fabric_left_percent") != 25.0 {
			t.Errorf("mass and cloth: %s", got.body)
		}
		if then := o.value(t, "room", "octaves", 2, "after", "sabine_s").(float64); r("octaves", 2, "octave_hz") != 500.0 || r("octaves", 2, "before", "estimate_s") != o.value(t, "room", "octaves", 2, "before", "sabine_s") ||
			r("octaves", 2, "after", "actual_s") != 0.75 || !near(r("octaves", 2, "after", "difference_s"), 0.75-then) || r("octaves", 0, "before", "estimate_s") == nil || r("octaves", 0, "before", "actual_s") != nil || r("octaves", 0, "before", "difference_s") != nil {
			t.Errorf("decay: %s", got.body)
		}

		// With another number of panels only what is told of one panel, or of the room before, has a difference.
		other := s.must(http.StatusOK, s.send(http.MethodPut, at+"/outcome", merged(t, body, `{"panels_count":9,"note":null}`), "If-Match", "*"))
		if other.value(t, "report", "notes", 0, "code") != "other_panel_count" || other.value(t, "report", "cash", "difference") != nil || other.value(t, "report", "cash", "estimate") == nil || other.value(t, "report", "steps", 0, "difference_min") != nil ||
			other.value(t, "report", "panel_mass", "difference_kg") == nil || other.value(t, "report", "octaves", 2, "after", "difference_s") != nil || other.value(t, "report", "octaves", 2, "before", "difference_s") == nil || other.value(t, "outcome", "note") != nil {
			t.Errorf("%s", other.body)
		}

		s.must(http.StatusOK, s.send(http.MethodPatch, at, `{"slug":"quintet"}`, "If-Match", "*"))
		if moved := s.must(http.StatusOK, s.get("/v1/shortlists/brass/outcome")); moved.header.Get("Content-Location") != at+"/outcome" {
			t.Errorf("%v", moved.header)
		}
		s.must(http.StatusPreconditionRequired, s.do(http.MethodDelete, at+"/outcome", nil))
		s.must(http.StatusPreconditionFailed, s.do(http.MethodDelete, at+"/outcome", nil, "If-Match", made.header.Get("ETag")))
		s.must(http.StatusNoContent, s.do(http.MethodDelete, at+"/outcome", nil, "If-Match", "*"))
		s.must(http.StatusNotFound, s.get(at+"/outcome"))
		s.must(http.StatusNotFound, s.do(http.MethodDelete, at+"/outcome", nil, "If-Match", "*"))
		if after := s.revision(); after != before {
			t.Errorf("an outcome took the catalog from revision %d to %d", before, after)
		}
	})
}

// TestBadOutcomesAreNamed sends outcomes that cannot be: each is a 422 that names the place and the mend.
func TestBadOutcomesAreNamed(t *testing.T) {
	s := serve(t, storetest.SQLite(t))
	sample, frozen := sampleShortlist(t)
	if _, err := s.db.AddShortlist(context.Background(), keeper, sample, frozen); err != nil {
		t.Fatal(err)
	}
	lines := func(line string) string {
		return `{"lines":[{"what":"Batts","paid":{"amount":"1.00","currency":"EUR"}},` + line + `]}`
	}
	for _, b := range []struct{ name, change, at, says string }{
		{"option of nothing", `{"key":"moss"}`, "/key", "option_keys"},
		{"option left out", `{"key":null}`, "/key", "is missing"},
		{"no panels", `{"panels_count":0}`, "/panels_count", "1 to 500"},
		{"half a panel", `{"panels_count":1.5}`, "/panels_count", "whole number"},
		{"day that is none", `{"built_date":"21 November"}`, "/built_date", "2026-11-02"},
		{"day to come", `{"built_date":"2199-01-01"}`, "/built_date", "after today"},
		{"line of nothing", lines(`{"what":" ","paid":{"amount":"1.00","currency":"EUR"}}`), "/lines/1/what", "is missing"},
		{"line neither paid nor for nothing", lines(`{"what":"x"}`), "/lines/1/paid", "had_for_nothing"},
		{"line both paid and for nothing", lines(`{"what":"x","had_for_nothing":true,"paid":{"amount":"1.00","currency":"EUR"}}`), "/lines/1/had_for_nothing", "leave one"},
		{"replacement of what was paid", lines(`{"what":"x","paid":{"amount":"1.00","currency":"EUR"},"replacement_value":{"amount":"1.00","currency":"EUR"}}`), "/lines/1/replacement_value", "for nothing"},
		{"two currencies", lines(`{"what":"x","paid":{"amount":"1.00","currency":"CHF"}}`), "/lines/1/paid/currency", "one currency"},
		{"currency of nobody", lines(`{"what":"x","paid":{"amount":"1.00","currency":"XYZ"}}`), "/lines/1/paid/currency", "three capitals"},
		{"tenth of a cent", lines(`{"what":"x","paid":{"amount":"1.001","currency":"EUR"}}`), "/lines/1/paid/amount", "minor unit"},
		{"money back", lines(`{"what":"x","paid":{"amount":"-1.00","currency":"EUR"}}`), "/lines/1/paid/amount", "12.50"},
		{"need of nobody", lines(`{"what":"x","need":"glitter","had_for_nothing":true}`), "/lines/1/need", "fabric"},
		{"member of a line that is none", lines(`{"what":"x","price":"1.00"}`), "/lines/1/price", "paid"},
		{"too many lines", `{"lines":[` + strings.TrimSuffix(strings.Repeat(`{"what":"x","had_for_nothing":true},`, 201), ",") + `]}`, "/lines", "at most 200"},
		{"step of nobody", `{"minutes":[{"step":"tea","time_min":30}]}`, "/minutes/0/step", "building"},
		{"step told twice", `{"minutes":[{"step":"cutting","time_min":3},{"step":"cutting","time_min":3}]}`, "/minutes/1/step", "add the minutes up"},
		{"less than no time", `{"minutes":[{"step":"cutting","time_min":-3}]}`, "/minutes/0/time_min", "0 to 500000"},
		{"nobody at work", `{"persons_count":0}`, "/persons_count", "leave it out"},
		{"no session", `{"sessions_count":0}`, "/sessions_count", "leave it out"},
		{"mass in grams", `{"panel_mass_kg":5200}`, "/panel_mass_kg", "kilograms"},
		{"panel that weighs nothing", `{"panel_mass_kg":0}`, "/panel_mass_kg", "0.05 to 500"},
		{"less than nothing left", `{"leftover_mass_kg":-1}`, "/leftover_mass_kg", "0 to 10000"},
		{"more cloth used than bought", `{"fabric_used_mm":20001}`, "/fabric_used_mm", "more than"},
		{"cloth of less than no length", `{"fabric_bought_mm":-1,"fabric_used_mm":null}`, "/fabric_bought_mm", "millimetres"},
		{"decay in milliseconds", `{"decay_times_before":{"time_500_hz_s":1250}}`, "/decay_times_before/time_500_hz_s", "0.05 to 30 s"},
		{"decay of nothing", `{"decay_times_after":{"time_4000_hz_s":0}}`, "/decay_times_after/time_4000_hz_s", "leave an octave out"},
		{"decay in a band that is none", `{"decay_times_after":{"time_315_hz_s":1}}`, "/decay_times_after/time_315_hz_s", "time_"},
		{"evidence of one's own", `{"evidence":"measured"}`, "/evidence", "leave it out"},
		{"bell in a note", `{"note":"\u0007"}`, "/note", "U+0007"},
	} {
		t.Run(b.name, func(t *testing.T) {
			r := s.must(http.StatusUnprocessableEntity, s.send(http.MethodPut, "/v1/shortlists/brass/outcome", outcomeBody(t, sample.Options[0].Key, b.change), "If-Match", "*"))
			faults, _ := r.value(t, "errors").([]any)
			for _, f := range faults {
				m := f.(map[string]any)
				if m["pointer"] == b.at && strings.Contains(text(m["detail"])+" "+text(m["fix"]), b.says) && m["code"] != nil {
					return
				}
			}
			t.Errorf("no fault at %s that says %q: %s", b.at, b.says, r.body)
		})
	}
	if l, err := s.db.Shortlist(context.Background(), keeper, "brass"); err != nil || l.Revision != 1 || l.Status != catalog.Open {
		t.Errorf("%+v, %v", l, err)
	}
}

// A contributor says what became of their own shortlists, a curator of those of the group, a reader reads.
func TestWhoTellsAnOutcome(t *testing.T) {
	s := serve(t, storetest.SQLite(t))
	sample, frozen := sampleShortlist(t)
	l, err := s.db.AddShortlist(context.Background(), "ada", sample, frozen)
	if err != nil {
		t.Fatal(err)
	}
	at := "/v1/shortlists/" + string(l.ID) + "/outcome"
	body := outcomeBody(t, l.Options[0].Key, `{}`)
	as := func(member string, role access.Role) { s.token = s.newToken(access.Token{Member: member, Role: role}) }
	as("ada", access.Contributor)
	s.must(http.StatusOK, s.send(http.MethodPut, at, body, "If-Match", "*"))
	as("cid", access.Curator)
	if r := s.must(http.StatusOK, s.send(http.MethodPut, at, body, "If-Match", "*")); r.value(t, "outcome", "recorded_by") != "cid" {
		t.Errorf("%s", r.body)
	}
	as("ben", access.Contributor)
	for _, r := range []reply{s.send(http.MethodPut, at, body, "If-Match", "*"), s.do(http.MethodDelete, at, nil, "If-Match", "*")} {
		if s.must(http.StatusForbidden, r); r.value(t, "errors", 0, "code") != "not_your_record" {
			t.Errorf("%s", r.body)
		}
	}
	as("dan", access.Reader)
	s.must(http.StatusOK, s.get(at))
	s.must(http.StatusOK, s.get("/v1/experience"))
	s.must(http.StatusForbidden, s.send(http.MethodPut, at, body, "If-Match", "*"))
	s.must(http.StatusForbidden, s.do(http.MethodDelete, at, nil, "If-Match", "*"))
	s.token = ""
	s.must(http.StatusUnauthorized, s.get(at))
	s.must(http.StatusUnauthorized, s.get("/v1/experience"))
}

// What was learned goes into a question as it is, counts there as the user's word, and rests on no private outcome.
func TestExperienceIsAskedWith(t *testing.T) {
	storetest.Each(t, func(t *testing.T, db *storetest.Store) {
		s := seeded(t, db)
		none := s.must(http.StatusOK, s.get("/v1/experience"))
		if none.value(t, "outcomes_count") != 0.0 || none.value(t, "terms", 0) != nil || none.value(t, "handling", "overhead_min") != nil {
			t.Errorf("%s", none.body)
		}
		for _, l := range []struct{ slug, change, outcome string }{
			{"first", `{}`, `{}`},
			{"second", `{}`, `{"minutes":[{"step":"cutting","time_min":108}]}`},
			{"third", `{}`, `{"minutes":[{"step":"cutting","time_min":36},{"step":"session_overhead","time_min":50}],"persons_count":1}`},
			{"hidden", `{"visibility":"private"}`, `{"minutes":[{"step":"cutting","time_min":9000}]}`},
		} {
			made := s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/shortlists", merged(t, s.keepBody(l.change), fmt.Sprintf(`{"slug":%q}`, l.slug))))
			s.must(http.StatusOK, s.send(http.MethodPut, "/v1/shortlists/"+l.slug+"/outcome", outcomeBody(t, text(made.value(t, "option_keys", 0)), l.outcome), "If-Match", "*"))
		}
		o := s.optionIn("/v1/shortlists/first")
		metres := 10 * o.value(t, "burden", "lines", 1, "inputs", 1, "value").(float64) * o.value(t, "burden", "lines", 1, "inputs", 2, "value").(float64)
		x := s.must(http.StatusOK, s.get("/v1/experience"))
		// Cutting took 54, 108 and 36 minutes for ten panels; overhead 80 of two persons in two sessions and 50 of one in two: 20 and 25.
		if x.value(t, "outcomes_count") != 3.0 || x.value(t, "evidence") != "user" || x.value(t, "per_panel", 1, "name") != "cutting" || !near(x.value(t, "per_panel", 1, "value"), 5.4) || !near(x.value(t, "per_panel", 1, "low"), 3.6) ||
			!near(x.value(t, "per_panel", 1, "high"), 10.8) || x.value(t, "per_panel", 1, "outcomes_count") != 3.0 || !near(x.value(t, "handling", "overhead_min"), 22.5) || !near(x.value(t, "handling", "cutting_min_per_m"), 54/metres) {
			t.Errorf("%s of %g m", x.body, metres)
		}
		mine, err := json.Marshal(x.value(t, "handling"))
		if err != nil {
			t.Fatal(err)
		}
		answer := s.must(http.StatusOK, s.send(http.MethodPost, "/v1/rankings", merged(t, question, `{"handling":`+string(mine)+`}`)))
		for i, name := range []string{"session_overhead", "cutting"} {
			if answer.value(t, "options", 0, "burden", "lines", i, "name") != name || answer.value(t, "options", 0, "burden", "lines", i, "evidence") != "user" {
				t.Errorf("%s: %v", name, answer.value(t, "options", 0, "burden", "lines", i))
			}
		}
		if plain := s.send(http.MethodPost, "/v1/rankings", question); plain.value(t, "options", 0, "burden", "lines", 0, "evidence") == "user" {
			t.Error("a question that does not ask with it is answered with it")
		}
		s.must(http.StatusNotModified, s.get("/v1/experience", "If-None-Match", x.header.Get("ETag")))
	})
}
