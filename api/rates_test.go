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

const euroInPounds = `{"from_currency":"EUR","to_currency":"GBP","rate":"0.80","observed_date":"2026-10-30","source_id":"yard-notebook"}`

// priced is the demo with a notebook and one rate.
func priced(t *testing.T, db *storetest.Store) *service {
	s := seeded(t, db)
	s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/sources", `{"slug":"yard-notebook","name":"Yard notebook","citation":"Lantern Yard notebook","licence":"facts only","evidence":"declared","invented":true}`))
	s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/exchange-rates", euroInPounds))
	return s
}

// What slug and name are called follows from the rate; the text of the rate stays as it was sent.
func TestRatesAreNamedByCurrenciesAndDay(t *testing.T) {
	storetest.Each(t, func(t *testing.T, db *storetest.Store) {
		s := priced(t, db)
		r := s.get("/v1/exchange-rates/eur-gbp-2026-10-30")
		if r.value(t, "name") != "EUR in GBP on 2026-10-30" || r.value(t, "rate") != "0.80" || r.value(t, "evidence") != "declared" {
			t.Errorf("%s", r.body)
		}
		clash := s.must(http.StatusConflict, s.send(http.MethodPost, "/v1/exchange-rates", euroInPounds))
		if !strings.Contains(string(clash.body), "slug") {
			t.Errorf("%s", clash.body)
		}
		changed := s.must(http.StatusOK, s.send(http.MethodPatch, "/v1/exchange-rates/eur-gbp-2026-10-30", `{"rate":"0.8125"}`, "If-Match", r.header.Get("ETag")))
		if changed.value(t, "rate") != "0.8125" || changed.value(t, "slug") != "eur-gbp-2026-10-30" {
			t.Errorf("%s", changed.body)
		}
	})
}

// The demo's prices are in euro. Asked in pounds nothing has a price; with stored rates every line tells its
// rate, listed price and source, the answer names the rate and warns, its echo answers the same, and without a
// rate that is recent enough the reason is its own. By hand: a price of P euro at 0.80 is 0.8 P.
func TestQuestionsConvertWhenAsked(t *testing.T) {
	storetest.Each(t, func(t *testing.T, db *storetest.Store) {
		s := priced(t, db)
		question := merged(t, costQuestion, `{"fabric":"knit-mesh","currency":"GBP"}`)
		if r := s.cost(question); r.value(t, "option", "cost", "missing", 0, "reason") != "other_currency" || bytes.Contains(r.body, []byte("convert_prices\":")) {
			t.Errorf("not asked for: %s", r.body)
		}
		if a, b := s.cost(question), s.cost(merged(t, question, `{"convert_prices":"none"}`)); !bytes.Equal(a.body, b.body) {
			t.Error("none differs from nothing")
		}
		r := s.cost(merged(t, question, `{"convert_prices":"stored_rates"}`))
		lines := 0
		for i := 0; r.value(t, "option", "cost", "lines", i) != nil; i++ {
			at := func(path ...any) any {
				return r.value(t, append([]any{"option", "cost", "lines", i}, path...)...)
			}
			if at("owned") == true {
				continue
			}
			lines++
			listed, unit := amount(t, at("conversion", "listed_price")), amount(t, at("unit_price"))
			off := new(big.Rat).Sub(new(big.Rat).Mul(listed, big.NewRat(4, 5)), unit)
			if off.Abs(off).Cmp(big.NewRat(1, 200)) > 0 || at("conversion", "rate") != "0.80" || at("conversion", "observed_date") != "2026-10-30" || at("conversion", "inverse") != false ||
				at("conversion", "source_id") != s.get("/v1/sources/yard-notebook").value(t, "id") || at("unit_price", "currency") != "GBP" || at("conversion", "listed_price", "currency") != "EUR" {
				t.Errorf("%v", r.value(t, "option", "cost", "lines", i))
			}
		}
		text := string(r.body)
		if lines == 0 || r.value(t, "exchange_rates", 0, "slug") != "eur-gbp-2026-10-30" || !strings.Contains(text, `"converted_prices"`) || !strings.Contains(text, "1 EUR = 0.80 GBP of 2026-10-30") ||
			!strings.Contains(text, `"slug":"yard-notebook"`) || r.value(t, "inputs", "max_rate_age_days") != 30.0 {
			t.Errorf("%d lines: %s", lines, text)
		}
		inputs, _ := json.Marshal(r.value(t, "inputs"))
		if again := s.cost(string(inputs)); !bytes.Equal(again.body, r.body) {
			t.Error("the echo answers otherwise")
		}
		old := s.cost(merged(t, question, `{"convert_prices":"stored_rates","max_rate_age_days":2}`))
		if old.value(t, "option", "cost", "missing", 0, "reason") != "no_rate" || !strings.Contains(text, "GBP") {
			t.Errorf("too old: %s", old.body)
		}
	})
}

// A ranking in pounds at 0.80 has the totals of its options; build or buy converts both sides.
func TestEveryQuestionAboutMoneyConverts(t *testing.T) {
	s := priced(t, storetest.SQLite(t))
	const q = "/v1/rankings?panel_count=4&currency=GBP&as_of_date=2026-11-02&limit=3"
	if r := s.get(q); r.value(t, "options", 0) != nil {
		t.Error("prices in euro count in pounds")
	}
	r := s.get(q + "&convert_prices=stored_rates")
	if r.value(t, "options", 0, "cost", "total", "currency") != "GBP" || r.value(t, "exchange_rates", 0, "rate") != "0.80" || r.value(t, "options", 0, "cost", "orders", 0, "conversion", "rate") != "0.80" {
		t.Errorf("%.2000s", r.body)
	}
	if csv := string(s.get(q + "&convert_prices=stored_rates&format=csv").body); !strings.Contains(csv, ",exchange_rate_ids\r\n") || strings.Count(csv, text(r.value(t, "exchange_rates", 0, "id"))) < 3 {
		t.Errorf("%s", csv)
	}
	if csv := string(s.get(q + "&format=csv").body); strings.Contains(csv, "exchange_rate") {
		t.Error("the table has a column that nobody asked for")
	}
	key := text(r.value(t, "options", 0, "key"))
	why := s.must(http.StatusOK, s.send(http.MethodPost, "/v1/rankings", fmt.Sprintf(`{"panel_count":4,"currency":"GBP","as_of_date":"2026-11-02","convert_prices":"stored_rates","limit":1,"why":[%q]}`, key)))
	for _, words := range []string{`"exchanged"`, "by the exchange rate, rounded once", `"listed_price"`, "0.8 GBP/EUR, seen on 2026-10-30"} {
		if !strings.Contains(string(why.body), words) {
			t.Errorf("why does not say %s", words)
		}
	}
	both := s.compare(merged(t, buildOrBuyQuestion, `{"build":`+merged(t, costQuestion, `{"fabric":"knit-mesh","currency":"GBP","convert_prices":"stored_rates"}`)+`,"tools":null}`))
	if both.value(t, "equal_count", "ready_made", "total", "currency") != "GBP" || both.value(t, "equal_count", "ready_made", "lines", 0, "conversion", "rate") != "0.80" ||
		both.value(t, "exchange_rates", 0, "rate") != "0.80" || !strings.Contains(string(both.body), `"converted_prices"`) {
		t.Errorf("%s", both.body)
	}
}
