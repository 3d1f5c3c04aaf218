package api

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"sabinbook/internal/catalog"
)

// prices has no replace, remove and restore: prices are only ever added.
func (s *Server) prices() *noun[catalog.Price, Price] {
	return &noun[catalog.Price, Price]{path: "/v1/prices/", schema: "Price",
		meta: func(r catalog.Price) catalog.Meta { return catalog.Meta{ID: r.ID, Revision: 1} }, decode: decodePrice, encode: encodePrice,
		rules:  func(r catalog.Price) error { return r.Validate(s.today()) },
		parent: func(p *catalog.Price) *catalog.ID { return &p.OfferID },
		add:    s.store.AddPrice, read: s.store.Price}
}

// today is the last day on which a price can have been seen.
func (s *Server) today() catalog.Date { return catalog.DateOf(s.opts.Now()) }

func decodePrice(v *catalog.Faults, w Price) catalog.Price {
	var breaks []catalog.Break
	for i, b := range orZero(w.Breaks) {
		breaks = append(breaks, catalog.Break{From: count(b.FromCount), Price: decodeMoney(v, fmt.Sprintf("/breaks/%d/price", i), b.Price)})
	}
	slices.SortStableFunc(breaks, func(a, b catalog.Break) int { return cmp.Compare(a.From, b.From) })
	return catalog.Price{
		Amount:      decodeMoney(v, "/price", w.Price),
		Breaks:      breaks,
		TaxIncluded: w.TaxIncluded,
		TaxRateBP:   decodePercent(v, "/tax_rate_percent", w.TaxRatePercent),
		Observed:    catalog.Date(w.ObservedDate),
		Corrects:    catalog.ID(orZero(w.CorrectsID)),
		Evidence:    catalog.Evidence(w.Evidence),
		SourceID:    catalog.ID(w.SourceID),
		Note:        orZero(w.Note),
	}
}

func encodePrice(r catalog.Price) Price {
	var breaks *[]PriceBreak
	if len(r.Breaks) > 0 {
		breaks = place(listOf(&r.Breaks, func(b catalog.Break) PriceBreak {
			return PriceBreak{FromCount: int64(b.From), Price: encodeMoney(b.Price)}
		}))
	}
	return Price{
		Breaks:         breaks,
		ID:             place(string(r.ID)),
		OfferID:        place(string(r.OfferID)),
		Price:          encodeMoney(r.Amount),
		TaxIncluded:    r.TaxIncluded,
		TaxRatePercent: float64(r.TaxRateBP) / 100,
		ObservedDate:   string(r.Observed),
		CorrectsID:     knownAs(r.Corrects, text),
		Evidence:       string(r.Evidence),
		SourceID:       string(r.SourceID),
		Note:           known(r.Note),
		CreateTime:     place(timeText(r.Created)),
		CreatedBy:      place(r.CreatedBy),
	}
}

// ListPrices lists the prices of an offer.
func (s *Server) ListPrices(ctx context.Context, in ListPricesRequestObject) (ListPricesResponseObject, error) {
	offer, err := s.offers().load(ctx, in.ID)
	if err != nil {
		return nil, err
	}
	ofOffer := func(ctx context.Context, q catalog.Query) (catalog.Page[catalog.Price], error) {
		return s.store.Prices(ctx, string(offer.ID), q)
	}
	p, err := pageOf(ctx, ofOffer, encodePrice)
	return ListPrices200JSONResponse{PricePageJSONResponse{PriceList{Items: p.items, Next: p.next, TotalCount: p.total}, PricePageResponseHeaders{Link: p.link}}}, err
}

// CreatePrice adds a price of an offer.
func (s *Server) CreatePrice(ctx context.Context, in CreatePriceRequestObject) (CreatePriceResponseObject, error) {
	offer, err := s.offers().load(ctx, in.ID)
	if err != nil {
		return nil, err
	}
	it, err := s.prices().create(ctx, *in.Body, offer.ID)
	return CreatePrice201JSONResponse{PriceCreatedJSONResponse{it.body, PriceCreatedResponseHeaders{ETag: it.tag, Location: it.location}}}, err
}

// GetPrice answers GET /v1/prices/{id}.
func (s *Server) GetPrice(ctx context.Context, in GetPriceRequestObject) (GetPriceResponseObject, error) {
	it, err := s.prices().get(ctx, in.ID)
	return GetPrice200JSONResponse{PriceItemJSONResponse{it.body, PriceItemResponseHeaders{ETag: it.tag}}}, err
}
