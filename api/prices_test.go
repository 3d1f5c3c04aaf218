package api_test

import (
	"net/http"
	"testing"

	"sabinbook/store/storetest"
)

// From a phone an amount is enough, once a price has told the tax; nothing is assumed before.
func TestPriceOfAnAmountAlone(t *testing.T) {
	storetest.Each(t, func(t *testing.T, db *storetest.Store) {
		s := serve(t, db)
		s.source()
		for _, g := range goods {
			s.must(http.StatusCreated, s.send(http.MethodPost, g.path, g.body))
		}
		const path = "/v1/offers/quayside-slab/prices"
		first := s.must(http.StatusUnprocessableEntity, s.send(http.MethodPost, path, `{"amount":"46.80"}`))
		if first.value(t, "error_count") != 2.0 || first.value(t, "errors", 0, "pointer") != "/tax_included" || first.value(t, "errors", 1, "pointer") != "/tax_rate_percent" {
			t.Errorf("without a known tax: %s", first.body)
		}
		s.must(http.StatusCreated, s.send(http.MethodPost, path, `{"amount":"46.80","tax_included":true,"tax_rate_percent":21,"observed_date":"2026-10-01"}`))
		offer := s.get("/v1/offers/quayside-slab")
		r := s.must(http.StatusCreated, s.send(http.MethodPost, path, `{"amount":"47.10"}`))
		for member, want := range map[string]any{"tax_included": true, "tax_rate_percent": 21.0, "observed_date": "2026-11-02", "evidence": "declared", "source_id": offer.value(t, "source_id")} {
			if got := r.value(t, member); got != want {
				t.Errorf("%s: %v, want %v", member, got, want)
			}
		}
		if r.value(t, "price", "amount") != "47.10" || r.value(t, "price", "currency") != "EUR" || r.value(t, "amount") != nil {
			t.Errorf("%s", r.body)
		}

		// Another offer of the same supplier takes the tax from this one, unless the supplier's prices disagree.
		s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/offers", merged(t, offerBody, `{"slug":"other-slab"}`)))
		s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/offers", merged(t, offerBody, `{"slug":"third-slab"}`)))
		other := s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/offers/other-slab/prices", `{"price":{"amount":"50.00","currency":"CHF"},"tax_included":false}`))
		if other.value(t, "tax_rate_percent") != 21.0 || other.value(t, "tax_included") != false || other.value(t, "price", "currency") != "CHF" {
			t.Errorf("%s", other.body)
		}
		third := s.must(http.StatusUnprocessableEntity, s.send(http.MethodPost, "/v1/offers/third-slab/prices", `{"amount":"3.00"}`))
		if third.value(t, "errors", 0, "pointer") != "/tax_included" {
			t.Errorf("where the supplier's prices disagree: %s", third.body)
		}

		sum := s.get("/v1/offers/quayside-slab/price-summary?as_of_date=2027-11-01&max_price_age_days=300")
		s.must(http.StatusOK, sum)
		if sum.value(t, "currencies", 0, "prices_count") != 2.0 || sum.value(t, "currencies", 0, "least", "price", "amount") != "46.80" || sum.value(t, "currencies", 0, "latest", "price", "amount") != "47.10" ||
			sum.value(t, "currencies", 0, "stale") != true || sum.value(t, "currencies", 0, "least", "age_days") != 396.0 || sum.value(t, "currencies", 0, "years", 0, "median", "amount") != "46.95" {
			t.Errorf("%s", sum.body)
		}
	})
}
