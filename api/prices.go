package api

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"github.com/oapi-codegen/runtime"

	"sabinbook/internal/catalog"
)

// prices has no replace, remove and restore: prices are only ever added.
func (s *Server) prices() *noun[catalog.Price, Price] {
	return &noun[catalog.Price, Price]{path: "/v1/prices/", schema: "Price",
		meta: func(r catalog.Price) catalog.Meta { return catalog.Meta{ID: r.ID, Revision: 1} }, decode: decodePrice, encode: encodePrice,
		rules:  func(r catalog.Price) error { return r.Validate(s.today()) },
		parent: func(p *catalog.Price) *catalog.ID { return &p.OfferID },
		add:    s.store.AddPrice, read: s.store.Price, of: catalog.NounPrice}
}

// today is the last day on which a price can have been seen.
func (s *Server) today() catalog.Date { return catalog.DateOf(s.opts.Now()) }

// completed is a price with what it leaves out taken from what is known of the offer's prices.
func completed(v *catalog.Faults, w Price, terms catalog.PriceTerms, today catalog.Date) Price {
	switch {
	case w.Amount != nil && w.Price != nil:
		v.Add("/amount", "conflict", "is given, and price too", "give one of them")
	case w.Amount != nil:
		w.Price = place(encodeMoney(decodeMoney(v, "", Money{Amount: *w.Amount, Currency: string(terms.Currency)})))
	case w.Price == nil:
		v.Add("/amount", "required", "is missing", "give the price of one pack, e.g. 46.80, or price with its currency")
	}
	w.Amount = nil
	if !terms.TaxKnown {
		const what, mend = "is missing, and no price of this offer tells it, nor do those of the supplier agree", "give it with this price; later ones can leave it out"
		if w.TaxIncluded == nil {
			v.Add("/tax_included", "required", what, mend)
		}
		if w.TaxRatePercent == nil {
			v.Add("/tax_rate_percent", "required", what, mend)
		}
	}
	w.TaxIncluded, w.TaxRatePercent = cmp.Or(w.TaxIncluded, &terms.Included), cmp.Or(w.TaxRatePercent, place(float64(terms.RateBP)/100))
	w.ObservedDate = cmp.Or(w.ObservedDate, place(string(today)))
	w.Evidence, w.SourceID = cmp.Or(w.Evidence, place(string(catalog.Declared))), cmp.Or(w.SourceID, place(string(terms.SourceID)))
	return w
}

// checkPrice is the check of a price that breaks the contract elsewhere: what it leaves out is not
// looked up, and any terms stand for it.
func (s *Server) checkPrice(value any) []fault {
	var w Price
	if runtime.BindJSONValue(value, &w) != nil {
		return nil
	}
	v := &catalog.Faults{}
	w = completed(v, w, catalog.PriceTerms{Currency: "EUR", TaxKnown: true, SourceID: "source"}, s.today())
	_, err := s.prices().record(w, "parent")
	return faultsIn(joined(v.Err(), err))
}

func decodePrice(v *catalog.Faults, w Price) catalog.Price {
	var breaks []catalog.Break
	for i, b := range orZero(w.Breaks) {
		breaks = append(breaks, catalog.Break{From: count(b.FromCount), Price: decodeMoney(v, fmt.Sprintf("/breaks/%d/price", i), b.Price)})
	}
	slices.SortStableFunc(breaks, func(a, b catalog.Break) int { return cmp.Compare(a.From, b.From) })
	return catalog.Price{
		Amount:      orZero(decodeMoneyIf(v, "/price", w.Price)),
		Breaks:      breaks,
		TaxIncluded: orZero(w.TaxIncluded),
		TaxRateBP:   decodePercent(v, "/tax_rate_percent", orZero(w.TaxRatePercent)),
		Observed:    catalog.Date(orZero(w.ObservedDate)),
		Corrects:    catalog.ID(orZero(w.CorrectsID)),
		Evidence:    catalog.Evidence(orZero(w.Evidence)),
		SourceID:    catalog.ID(orZero(w.SourceID)),
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
		Price:          place(encodeMoney(r.Amount)),
		TaxIncluded:    &r.TaxIncluded,
		TaxRatePercent: place(float64(r.TaxRateBP) / 100),
		ObservedDate:   place(string(r.Observed)),
		CorrectsID:     knownAs(r.Corrects, text),
		Evidence:       place(string(r.Evidence)),
		SourceID:       place(string(r.SourceID)),
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
	stock, err := s.snapshot(ctx)
	if err != nil {
		return nil, err
	}
	v := &catalog.Faults{}
	w := completed(v, *in.Body, stock.TermsOf(offer, s.today()), s.today())
	if err := v.Err(); err != nil {
		_, rest := s.prices().record(w, offer.ID)
		return nil, joined(err, rest)
	}
	it, err := s.prices().create(ctx, w, offer.ID)
	return CreatePrice201JSONResponse{PriceCreatedJSONResponse{it.body, PriceCreatedResponseHeaders{ETag: it.tag, Location: it.location}}}, err
}

// GetPrice answers GET /v1/prices/{id}.
func (s *Server) GetPrice(ctx context.Context, in GetPriceRequestObject) (GetPriceResponseObject, error) {
	it, err := s.prices().get(ctx, in.ID)
	return GetPrice200JSONResponse{PriceItemJSONResponse{it.body, PriceItemResponseHeaders{ETag: it.tag}}}, err
}

// SummarizePrices answers GET /v1/offers/{id}/price-summary.
func (s *Server) SummarizePrices(ctx context.Context, in SummarizePricesRequestObject) (SummarizePricesResponseObject, error) {
	day, oldest := or(in.Params.AsOfDate, func(x string) catalog.Date { return catalog.Date(x) }, s.today()), or(in.Params.MaxPriceAgeDays, count, 365)
	v := &catalog.Faults{}
	if _, err := catalog.ParseDate(string(day)); err != nil {
		v.Add("/as_of_date", "bad_date", err.Error(), "write a day like 2026-11-02")
	}
	v.Within("/max_price_age_days", float64(oldest), 0, 36_500, "days", "give days, 0 for any age")
	if err := v.Err(); err != nil {
		return nil, ofParameters(err)
	}
	offer, err := s.offers().load(ctx, in.ID)
	if err != nil {
		return nil, err
	}
	stock, err := s.snapshot(ctx)
	if err != nil {
		return nil, err
	}
	seen := slices.DeleteFunc(slices.Clone(stock.Prices), func(p catalog.Price) bool { return p.OfferID != offer.ID })
	out := PriceSummary{OfferID: string(offer.ID), AsOfDate: string(day), MaxPriceAgeDays: int64(oldest), Currencies: []PriceSpan{}}
	for _, c := range catalog.SummarizePrices(seen, day) {
		span := PriceSpan{Currency: string(c.Currency), PricesCount: int64(c.Count), Latest: encodeSeen(c.Latest, day), Least: encodeSeen(c.Least, day),
			Years: listOf(&c.Years, func(y catalog.PriceYear) PriceYear {
				return PriceYear{Year: y.Year, PricesCount: int64(y.Count), Least: encodeMoney(y.Least), Median: encodeMoney(y.Median)}
			})}
		span.Stale = oldest > 0 && span.Latest.AgeDays > int64(oldest)
		out.Currencies = append(out.Currencies, span)
	}
	return SummarizePrices200JSONResponse{PriceSummaryAnswerJSONResponse{Body: out}}, nil
}

func encodeSeen(p catalog.PriceSeen, day catalog.Date) PriceSeen {
	return PriceSeen{Price: encodeMoney(p.Gross), ObservedDate: string(p.Observed), AgeDays: int64(day.DaysSince(p.Observed)), PriceID: string(p.ID)}
}
