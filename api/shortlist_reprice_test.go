package api_test

import (
	"encoding/json"
	"net/http"
	"strings"
	"testing"

	"sabinbook/api/client"
	"sabinbook/internal/access"
	"sabinbook/store/storetest"
)

// A document is priced again at the prices of the day: at first nothing has changed but the day; after a
// new price of the first fill the change is named, and explains the change of the total.
func TestRepricingOfADocument(t *testing.T) {
	s := seeded(t, storetest.SQLite(t))
	file := documents(t)[1]
	again := func() client.ShortlistRepricing {
		r := s.must(http.StatusOK, s.send(http.MethodPost, "/v1/shortlists/repricings", string(file)))
		var out client.ShortlistRepricing
		if err := json.Unmarshal(r.body, &out); err != nil {
			t.Fatal(err)
		}
		return out
	}
	before := again()
	if !before.OrderHolds || len(before.PriceChanges) != 0 || len(before.Flips) == 0 || len(before.Options) != 3 {
		t.Fatalf("%+v", before)
	}
	offer := before.Flips[0].Offer.Slug
	s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/offers/"+offer+"/prices", `{"amount":"0.50"}`))
	after := again()
	if len(after.PriceChanges) > 1 || len(after.PriceChanges) == 1 && (after.PriceChanges[0].Offer.Slug != offer || after.PriceChanges[0].PriceNow.Amount != "0.50") {
		t.Errorf("%+v", after.PriceChanges)
	}
	for i, o := range after.Options {
		if (o.TotalNow.Amount != before.Options[i].TotalNow.Amount) != (len(o.Explained) > 0) {
			t.Errorf("%s: %s, then %s, explained by %+v", o.Key, o.TotalNow.Amount, before.Options[i].TotalNow.Amount, o.Explained)
		}
	}
	s.must(http.StatusUnprocessableEntity, s.send(http.MethodPost, "/v1/shortlists/repricings", `{"schema":"/schemas/shortlist-1.json"}`))
}

// A stored shortlist is priced again like its document, by every reader, and one whose question names what is gone says so.
func TestRepricingOfAShortlist(t *testing.T) {
	s := seeded(t, storetest.SQLite(t))
	onHand := merged(t, question, `{"stock_on_hand":[{"item_kind":"fabric","item":"muslin","length_mm":2100,"count":1}]}`)
	s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/shortlists", s.keepBody(`{"question":`+onHand+`}`)))
	file := s.must(http.StatusOK, s.get("/v1/shortlists/brass/document"))
	keeper, before := s.token, s.revision()
	s.token = s.newToken(access.Token{Member: "ben", Role: access.Reader})
	want := s.must(http.StatusOK, s.send(http.MethodPost, "/v1/shortlists/repricings", string(file.body)))
	for _, ref := range []string{"brass", text(file.value(t, "about", "id"))} {
		if r := s.must(http.StatusOK, s.do(http.MethodPost, "/v1/shortlists/"+ref+"/repricing", nil)); string(r.body) != string(want.body) {
			t.Errorf("%s, its document %s", r.body, want.body)
		}
	}
	s.must(http.StatusNotFound, s.do(http.MethodPost, "/v1/shortlists/nothing/repricing", nil))
	s.must(http.StatusBadRequest, s.send(http.MethodPost, "/v1/shortlists/brass/repricing", `{}`))
	s.token = keeper
	if after := s.revision(); after != before {
		t.Errorf("revision %d, then %d", before, after)
	}
	for _, path := range []string{"/v1/offers/cloth-shop-muslin-500", "/v1/offers/fibre-barn-muslin-1000", "/v1/fabrics/muslin"} {
		s.must(http.StatusNoContent, s.do(http.MethodDelete, path, nil, "If-Match", "*"))
	}
	if r := s.must(http.StatusConflict, s.do(http.MethodPost, "/v1/shortlists/brass/repricing", nil)); !strings.Contains(string(r.body), "stock_on_hand") {
		t.Errorf("%s", r.body)
	}
}
