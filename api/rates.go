package api

import (
	"context"
	"fmt"
	"strings"

	"sabinbook/internal/catalog"
	"sabinbook/internal/costing"
	"sabinbook/internal/money"
)

func (s *Server) exchangeRates() *noun[catalog.ExchangeRate, ExchangeRate] {
	return &noun[catalog.ExchangeRate, ExchangeRate]{path: "/v1/exchange-rates/", schema: "ExchangeRate",
		meta: func(r catalog.ExchangeRate) catalog.Meta { return r.Meta }, decode: decodeRate, encode: encodeRate,
		rules: func(r catalog.ExchangeRate) error { return r.Validate(s.today()) },
		add:   s.store.AddExchangeRate, read: s.store.ExchangeRate, replace: s.store.ReplaceExchangeRate, remove: s.store.DeleteExchangeRate, restore: s.store.RestoreExchangeRate, of: catalog.NounRate, find: s.store.Meta}
}

// decodeRate reads a rate. Slug and name follow from currencies and day where they are left out.
func decodeRate(_ *catalog.Faults, w ExchangeRate) catalog.ExchangeRate {
	r := catalog.ExchangeRate{
		From: money.Currency(w.FromCurrency), To: money.Currency(w.ToCurrency), Rate: money.Rate(w.Rate), Observed: catalog.Date(w.ObservedDate),
		Evidence: or(w.Evidence, func(x string) catalog.Evidence { return catalog.Evidence(x) }, catalog.Declared),
		SourceID: catalog.ID(w.SourceID), Note: orZero(w.Note),
	}
	slug, name := "rate", "Exchange rate" // where a fault elsewhere leaves nothing to make them of
	if _, err := catalog.ParseDate(w.ObservedDate); err == nil && r.From.Valid() && r.To.Valid() {
		slug = strings.ToLower(fmt.Sprintf("%s-%s-%s", r.From, r.To, r.Observed))
		name = fmt.Sprintf("%s in %s on %s", r.From, r.To, r.Observed)
	}
	r.Meta = decodeMeta(or(w.Slug, func(x string) string { return x }, slug), or(w.Name, func(x string) string { return x }, name))
	return r
}

func encodeRate(r catalog.ExchangeRate) ExchangeRate {
	m := encodeMeta(r.Meta)
	return ExchangeRate{
		ID: m.id, Slug: place(string(r.Slug)), Name: &r.Name,
		FromCurrency: string(r.From), ToCurrency: string(r.To), Rate: string(r.Rate), ObservedDate: string(r.Observed), Evidence: place(string(r.Evidence)),
		SourceID: string(r.SourceID), Note: known(r.Note),
		Revision: m.revision, CreateTime: m.created, UpdateTime: m.updated, UpdatedBy: m.by, CreatedBy: m.maker,
	}
}

// encodeRates lists the rates on which an answer rests; nothing where there are none.
func encodeRates(list []catalog.ExchangeRate) *[]ExchangeRate {
	if len(list) == 0 {
		return nil
	}
	return place(listOf(&list, encodeRate))
}

func encodeConversion(c *costing.Conversion) *Conversion {
	if c == nil {
		return nil
	}
	r := c.Rate
	out := &Conversion{RateID: string(r.ID), Rate: string(r.Rate), FromCurrency: string(r.From), ToCurrency: string(r.To), ObservedDate: string(r.Observed), SourceID: string(r.SourceID), Inverse: c.Inverse}
	if c.Listed != (money.Amount{}) {
		out.ListedPrice = place(encodeMoney(c.Listed))
	}
	return out
}

// conversionNotes warn of an answer that rests on exchange rates.
func conversionNotes(list []catalog.ExchangeRate, to money.Currency) []Note {
	if len(list) == 0 {
		return nil
	}
	words := make([]string, len(list))
	for i, r := range list {
		words[i] = fmt.Sprintf("1 %s = %s %s of %s", r.From, r.Rate, r.To, r.Observed)
	}
	return []Note{{Code: "converted_prices", Text: fmt.Sprintf("Some prices or fees were seen in other currencies and are converted into %s (%s), each rounded once to its minor unit. What is paid depends on the rate and the charges of the day; neither has a part in the bounds and ties.", to, listed(words, "and"))}}
}

// ListExchangeRates answers GET /v1/exchange-rates.
func (s *Server) ListExchangeRates(ctx context.Context, _ ListExchangeRatesRequestObject) (ListExchangeRatesResponseObject, error) {
	p, err := pageOf(ctx, s.store.ExchangeRates, encodeRate)
	return ListExchangeRates200JSONResponse{ExchangeRatePageJSONResponse{ExchangeRateList{Items: p.items, Next: p.next, TotalCount: p.total}, ExchangeRatePageResponseHeaders{Link: p.link}}}, err
}

// CreateExchangeRate answers POST /v1/exchange-rates.
func (s *Server) CreateExchangeRate(ctx context.Context, in CreateExchangeRateRequestObject) (CreateExchangeRateResponseObject, error) {
	it, err := s.exchangeRates().create(ctx, *in.Body, "")
	return CreateExchangeRate201JSONResponse{ExchangeRateCreatedJSONResponse{it.body, ExchangeRateCreatedResponseHeaders{ETag: it.tag, Location: it.location}}}, err
}

// GetExchangeRate answers GET /v1/exchange-rates/{id}.
func (s *Server) GetExchangeRate(ctx context.Context, in GetExchangeRateRequestObject) (GetExchangeRateResponseObject, error) {
	it, err := s.exchangeRates().get(ctx, in.ID)
	return GetExchangeRate200JSONResponse{ExchangeRateItemJSONResponse{it.body, ExchangeRateItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}

// ReplaceExchangeRate answers PUT /v1/exchange-rates/{id}.
func (s *Server) ReplaceExchangeRate(ctx context.Context, in ReplaceExchangeRateRequestObject) (ReplaceExchangeRateResponseObject, error) {
	it, err := s.exchangeRates().put(ctx, in.ID, in.Params.IfMatch, *in.Body)
	return ReplaceExchangeRate200JSONResponse{ExchangeRateItemJSONResponse{it.body, ExchangeRateItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}

// PatchExchangeRate answers PATCH /v1/exchange-rates/{id}.
func (s *Server) PatchExchangeRate(ctx context.Context, in PatchExchangeRateRequestObject) (PatchExchangeRateResponseObject, error) {
	it, err := s.exchangeRates().patch(ctx, s, in.ID, in.Params.IfMatch, *in.Body)
	return PatchExchangeRate200JSONResponse{ExchangeRateItemJSONResponse{it.body, ExchangeRateItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}

// DeleteExchangeRate answers DELETE /v1/exchange-rates/{id}.
func (s *Server) DeleteExchangeRate(ctx context.Context, in DeleteExchangeRateRequestObject) (DeleteExchangeRateResponseObject, error) {
	return DeleteExchangeRate204Response{}, s.exchangeRates().delete(ctx, in.ID, in.Params.IfMatch)
}

// RestoreExchangeRate answers POST /v1/exchange-rates/{id}/restore.
func (s *Server) RestoreExchangeRate(ctx context.Context, in RestoreExchangeRateRequestObject) (RestoreExchangeRateResponseObject, error) {
	it, err := s.exchangeRates().bringBack(ctx, in.ID)
	return RestoreExchangeRate200JSONResponse{ExchangeRateItemJSONResponse{it.body, ExchangeRateItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}
