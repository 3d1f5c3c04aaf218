package api

import (
	"context"

	"sabinbook/internal/catalog"
	"sabinbook/internal/units"
)

func (s *Server) offers() *noun[catalog.Offer, Offer] {
	return &noun[catalog.Offer, Offer]{path: "/v1/offers/", schema: "Offer",
		meta: func(r catalog.Offer) catalog.Meta { return r.Meta }, decode: decodeOffer, rules: catalog.Offer.Validate, encode: encodeOffer,
		add: s.store.AddOffer, read: s.store.Offer, replace: s.store.ReplaceOffer, remove: s.store.DeleteOffer, restore: s.store.RestoreOffer, of: catalog.NounOffer, find: s.store.Meta}
}

func decodeOffer(_ *catalog.Faults, w Offer) catalog.Offer {
	o := catalog.Offer{
		Meta:        decodeMeta(w.Slug, w.Name),
		SupplierID:  catalog.ID(w.SupplierID),
		ItemKind:    catalog.ItemKind(w.ItemKind),
		ItemID:      catalog.ID(w.ItemID),
		StockLength: units.Length(orZero(w.StockLengthMm)),
		PackCount:   int(orZero(w.PackCount)),
		PackLength:  units.Length(orZero(w.PackLengthMm)),
		PackMass:    units.Mass(orZero(w.PackMassKg)),
		PackVolume:  orZero(w.PackVolumeL),
		MinPacks:    int(orZero(w.MinPacksCount)),
		MaxPacks:    int(orZero(w.MaxPacksCount)),
		SourceID:    catalog.ID(w.SourceID),
		Note:        orZero(w.Note),
	}
	if w.SoldSize != nil {
		o.SoldSize = place(decodeSize(*w.SoldSize))
	}
	return o
}

func encodeOffer(r catalog.Offer) Offer {
	m := encodeMeta(r.Meta)
	var size *SoldSize
	if r.SoldSize != nil {
		size = place(encodeSize(*r.SoldSize))
	}
	return Offer{
		ID: m.id, Slug: string(r.Slug), Name: r.Name,
		SupplierID:    string(r.SupplierID),
		ItemKind:      string(r.ItemKind),
		ItemID:        string(r.ItemID),
		SoldSize:      size,
		StockLengthMm: knownAs(r.StockLength, number),
		PackCount:     knownAs(r.PackCount, whole),
		PackLengthMm:  knownAs(r.PackLength, number),
		PackMassKg:    knownAs(r.PackMass, number),
		PackVolumeL:   knownAs(r.PackVolume, number[float64]),
		MinPacksCount: knownAs(r.MinPacks, whole),
		MaxPacksCount: knownAs(r.MaxPacks, whole),
		SourceID:      string(r.SourceID),
		Note:          known(r.Note),
		Revision:      m.revision, CreateTime: m.created, UpdateTime: m.updated, UpdatedBy: m.by, CreatedBy: m.maker,
	}
}

// ListOffers answers GET /v1/offers.
func (s *Server) ListOffers(ctx context.Context, _ ListOffersRequestObject) (ListOffersResponseObject, error) {
	p, err := pageOf(ctx, s.store.Offers, encodeOffer)
	return ListOffers200JSONResponse{OfferPageJSONResponse{OfferList{Items: p.items, Next: p.next, TotalCount: p.total}, OfferPageResponseHeaders{Link: p.link}}}, err
}

// CreateOffer answers POST /v1/offers.
func (s *Server) CreateOffer(ctx context.Context, in CreateOfferRequestObject) (CreateOfferResponseObject, error) {
	it, err := s.offers().create(ctx, *in.Body, "")
	return CreateOffer201JSONResponse{OfferCreatedJSONResponse{it.body, OfferCreatedResponseHeaders{ETag: it.tag, Location: it.location}}}, err
}

// GetOffer answers GET /v1/offers/{id}.
func (s *Server) GetOffer(ctx context.Context, in GetOfferRequestObject) (GetOfferResponseObject, error) {
	it, err := s.offers().get(ctx, in.ID)
	return GetOffer200JSONResponse{OfferItemJSONResponse{it.body, OfferItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}

// ReplaceOffer answers PUT /v1/offers/{id}.
func (s *Server) ReplaceOffer(ctx context.Context, in ReplaceOfferRequestObject) (ReplaceOfferResponseObject, error) {
	it, err := s.offers().put(ctx, in.ID, in.Params.IfMatch, *in.Body)
	return ReplaceOffer200JSONResponse{OfferItemJSONResponse{it.body, OfferItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}

// PatchOffer answers PATCH /v1/offers/{id}.
func (s *Server) PatchOffer(ctx context.Context, in PatchOfferRequestObject) (PatchOfferResponseObject, error) {
	it, err := s.offers().patch(ctx, s, in.ID, in.Params.IfMatch, *in.Body)
	return PatchOffer200JSONResponse{OfferItemJSONResponse{it.body, OfferItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}

// DeleteOffer answers DELETE /v1/offers/{id}.
func (s *Server) DeleteOffer(ctx context.Context, in DeleteOfferRequestObject) (DeleteOfferResponseObject, error) {
	return DeleteOffer204Response{}, s.offers().delete(ctx, in.ID, in.Params.IfMatch)
}

// RestoreOffer answers POST /v1/offers/{id}/restore.
func (s *Server) RestoreOffer(ctx context.Context, in RestoreOfferRequestObject) (RestoreOfferResponseObject, error) {
	it, err := s.offers().bringBack(ctx, in.ID)
	return RestoreOffer200JSONResponse{OfferItemJSONResponse{it.body, OfferItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}
