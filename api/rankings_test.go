package api_test

import (
	"context"
	"encoding/json"
	"math"
	"net/http"
	"regexp"
	"strings"
	"testing"

	"sabinbook/api/client"
	"sabinbook/internal/money"
	"sabinbook/store/storetest"
)

// ask sends a question for a ranking and reads the answer through the typed client's types.
func (s *service) ask(body string) (client.Ranking, []byte) {
	s.t.Helper()
	r := s.must(http.StatusOK, s.send(http.MethodPost, "/v1/rankings", body))
	var out client.Ranking
	if err := json.Unmarshal(r.body, &out); err != nil {
		s.t.Fatal(err)
	}
	return out, r.body
}

// TestRankingIsEqualOnBothEnginesAndOverTime is the promise that equal questions of equal
// catalogs have equal bytes.
func TestRankingIsEqualOnBothEnginesAndOverTime(t *testing.T) {
	const all = `{"panel_count":10,"currency":"EUR","as_of_date":"2026-11-02","limit":200}`
	answers := map[string]string{}
	storetest.Each(t, func(t *testing.T, db *storetest.Store) {
		s := seeded(t, db)
		_, first := s.ask(all)
		_, again := s.ask(all)
		if string(first) != string(again) {
			t.Error("the same question has another answer")
		}
		answers[t.Name()] = string(first)
	})
	var last string
	for name, a := range answers {
		if last != "" && a != last {
			t.Errorf("%s answers otherwise", name)
		}
		last = a
	}
}

func cents(t *testing.T, m client.Money) int64 {
	t.Helper()
	a, err := money.Parse(m.Amount, money.Currency(m.Currency))
	if err != nil {
		t.Fatal(err)
	}
	return a.Minor()
}

func TestRankingOfTheSeedAddsUp(t *testing.T) {
	s := seeded(t, storetest.SQLite(t))
	r, _ := s.ask(`{"panel_count":10,"currency":"EUR","as_of_date":"2026-11-02","show":"best_per_fill"}`)
	if r.CandidatesCount != r.RankedCount+r.NotPricedCount+r.LeftOutCount {
		t.Errorf("%d candidates, %d ranked, %d without a price, %d left out", r.CandidatesCount, r.RankedCount, r.NotPricedCount, r.LeftOutCount)
	}
	if len(r.Options) < 15 || r.NotPricedCount == 0 || r.LeftOutCount == 0 {
		t.Errorf("%d options, %d not priced, %d left out", len(r.Options), r.NotPricedCount, r.LeftOutCount)
	}
	known := map[string]bool{}
	for _, src := range r.Sources {
		known[src.ID] = true
	}
	bases := map[string]int{}
	for _, o := range r.Options {
		bases[o.Absorption.Basis]++
		var gross, goods, fees int64
		for _, l := range o.Cost.Lines {
			if l.Gross != nil {
				gross += cents(t, *l.Gross)
			}
			if !l.Owned && (l.Offer == nil || l.PriceDate == nil || *l.PriceDate > "2026-11-02") {
				t.Errorf("%s: %s has no offer of the day", o.Key, l.Need)
			}
		}
		for _, order := range o.Cost.Orders {
			goods += cents(t, order.Goods)
			fees += cents(t, order.Fee)
		}
		if gross != goods || goods != cents(t, o.Cost.Goods) || goods+fees != cents(t, *o.Cost.Total) {
			t.Errorf("%s: lines %d, orders %d, fees %d, total %s", o.Key, gross, goods, fees, o.Cost.Total.Amount)
		}
		sum, area := 0.0, 0.0
		for _, l := range o.Burden.Lines {
			sum += l.QuantityMin
		}
		if math.Abs(sum-*o.Burden.ExtraTimeMin) > 1e-6 {
			t.Errorf("%s: minutes %g and %g", o.Key, sum, *o.Burden.ExtraTimeMin)
		}
		for _, oct := range o.Absorption.Octaves {
			if oct.RankedAlpha > 1 || oct.RankedAlpha != math.Min(oct.Alpha, 1) || math.Abs(oct.AreaM2-7.2*oct.RankedAlpha) > 0.0005 {
				t.Errorf("%s: %+v", o.Key, oct)
			}
			area += oct.AreaM2 / 6
		}
		if math.Abs(area-o.Absorption.AreaM2) > 0.001 {
			t.Errorf("%s: areas %g and %g", o.Key, area, o.Absorption.AreaM2)
		}
		total, _ := json.Number(o.Cost.Total.Amount).Float64()
		if math.Abs(*o.AreaM2PerCurrencyUnit-o.Absorption.AreaM2/total) > 1e-5 {
			t.Errorf("%s: %g m2 per unit", o.Key, *o.AreaM2PerCurrencyUnit)
		}
		if o.Absorption.Basis == "measured" && o.Absorption.Test == nil || len(o.Cautions) == 0 || len(o.SourceIds) == 0 {
			t.Errorf("%s: incomplete", o.Key)
		}
		for _, id := range o.SourceIds {
			if !known[id] {
				t.Errorf("%s: the source %s is not told", o.Key, id)
			}
		}
	}
	if bases["measured"] == 0 || bases["predicted"] == 0 {
		t.Errorf("bases %v", bases)
	}
	for _, o := range r.NotPriced {
		if o.Place != nil || o.Cost.Total != nil || o.AreaM2PerCurrencyUnit != nil || len(o.Cost.Missing) == 0 {
			t.Errorf("%s has no full price but %v", o.Key, o.Cost.Total)
		}
	}
}

func TestEchoedInputsAreTheQuestion(t *testing.T) {
	s := seeded(t, storetest.SQLite(t))
	r, body := s.ask(`{"panel_count":7,"panel":{"width_mm":500},"currency":"EUR","families":["cotton","hemp"],"purpose":{"name":"speech"},"order":"burden","limit":5,"owned_roles":["goggles"],"handling":{"value_of_hour":{"amount":"12.00","currency":"EUR"}}}`)
	if *r.Inputs.AsOfDate != "2026-11-02" {
		t.Errorf("as of %s, want the day of the service", *r.Inputs.AsOfDate)
	}
	// Weights of a named purpose are told for reading and may not be sent along with the name.
	r.Inputs.Purpose.Weights = nil
	again, err := json.Marshal(r.Inputs)
	if err != nil {
		t.Fatal(err)
	}
	if _, second := s.ask(string(again)); string(second) != string(body) {
		t.Error("the echoed inputs are another question")
	}
}

func TestOrdersOfTheSeed(t *testing.T) {
	s := seeded(t, storetest.SQLite(t))
	for order, value := range map[string]func(client.RankedOption) float64{
		"cost":                func(o client.RankedOption) float64 { f, _ := json.Number(o.Cost.Total.Amount).Float64(); return f },
		"absorption":          func(o client.RankedOption) float64 { return -o.Absorption.AreaM2 },
		"burden":              func(o client.RankedOption) float64 { return *o.Burden.ExtraTimeMin },
		"absorption_per_cost": func(o client.RankedOption) float64 { return -*o.AreaM2PerCurrencyUnit },
	} {
		r, _ := s.ask(merged(t, question, `{"limit":200,"order":"`+order+`"}`))
		for i := 1; i < len(r.Options); i++ {
			if value(r.Options[i-1]) > value(r.Options[i]) || *r.Options[i].Place != int64(i+1) {
				t.Errorf("%s: place %d is out of order", order, i+1)
				break
			}
		}
	}
}

// forbidden are verdicts that no answer may give (fire.md section 5, handling.md section 4).
var forbidden = regexp.MustCompile(`(?i)\b(is|are|as) (safe|legal|compliant)\b|non-toxic|carcinogenic|self-extinguishing|\bcompliant\b`)

func TestNoForbiddenVerdictInAnyText(t *testing.T) {
	s := seeded(t, storetest.SQLite(t))
	_, body := s.ask(merged(t, question, `{"limit":200,"show":"best_per_fill"}`))
	if m := forbidden.Find(body); m != nil {
		t.Errorf("the answer says %q", m)
	}
	if !strings.Contains(string(body), "do not stop sound going to or coming from the next room") {
		t.Error("the answer does not say that absorption is not isolation")
	}
}

func TestQuestionStoresNothing(t *testing.T) {
	s := seeded(t, storetest.SQLite(t))
	before := s.revision()
	s.ask(question)
	if s.revision() != before {
		t.Error("a question changed the catalog")
	}
	if err := s.db.Ping(context.Background()); err != nil {
		t.Error(err)
	}
}

func TestAnOfferThatBecomesCheaperMovesUp(t *testing.T) {
	s := seeded(t, storetest.SQLite(t))
	const byCost = `{"panel_count":10,"currency":"EUR","as_of_date":"2026-11-02","order":"cost","show":"best_per_fill","limit":200}`
	place := func(fill string) int64 {
		r, _ := s.ask(byCost)
		for _, o := range r.Options {
			if o.Fill.Slug == fill {
				return *o.Place
			}
		}
		t.Fatalf("%s is not ranked", fill)
		return 0
	}
	before := place("hemp-40")
	items, _ := s.get("/v1/offers?limit=200&q=hemp").value(t, "items").([]any)
	if len(items) == 0 {
		t.Fatal("no offers of hemp")
	}
	src := text(s.get("/v1/sources?limit=1").value(t, "items", 0, "slug"))
	for _, o := range items {
		s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/offers/"+text(o.(map[string]any)["id"])+"/prices",
			`{"price":{"amount":"1.00","currency":"EUR"},"tax_included":true,"tax_rate_percent":21,"observed_date":"2026-11-02","evidence":"declared","source_id":"`+src+`"}`))
	}
	if after := place("hemp-40"); after >= before {
		t.Errorf("hemp stands at %d, stood at %d", after, before)
	}
}

// ISO 11654:1997 Annex A, examples A.1 and A.2, figures read second hand (ratings_cases.csv R001
// and R002), as octave data; NRC by ASTM C423 on the same columns (customary).
func TestRatingsOfTheStandardsExamples(t *testing.T) {
	s := serve(t, quiet{})
	for _, c := range []struct{ at500, want string }{
		{"0.70", `{"alpha_w":0.6,"class":"C","shift":0.4,"unfavourable_sum":0.05}`},
		{"1.00", `{"alpha_w":0.6,"class":"C","shape_indicators":"M","shift":0.4,"unfavourable_sum":0.05}`},
	} {
		r := s.must(http.StatusOK, s.send(http.MethodPost, "/v1/ratings",
			`{"band_basis":"octave","bands":{"alpha_250_hz":0.35,"alpha_500_hz":`+c.at500+`,"alpha_1000_hz":0.65,"alpha_2000_hz":0.60,"alpha_4000_hz":0.55}}`))
		got, err := json.Marshal(r.value(t, "weighted"))
		if err != nil || string(got) != c.want {
			t.Errorf("weighted %s, want %s", got, c.want)
		}
		if r.value(t, "saa") != nil || !strings.Contains(string(r.body), "saa_needs_thirds") || r.value(t, "nrc") == nil {
			t.Errorf("%s", r.body)
		}
	}
}
