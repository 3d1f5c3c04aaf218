package api

import (
	"context"

	"sabinbook/internal/catalog"
	"sabinbook/internal/units"
)

func (s *Server) fills() *noun[catalog.Fill, Fill] {
	return &noun[catalog.Fill, Fill]{path: "/v1/fills/", schema: "Fill",
		meta: func(r catalog.Fill) catalog.Meta { return r.Meta }, decode: decodeFill, rules: catalog.Fill.Validate, encode: encodeFill,
		add: s.store.AddFill, read: s.store.Fill, replace: s.store.ReplaceFill, remove: s.store.DeleteFill, restore: s.store.RestoreFill, of: catalog.NounFill, find: s.store.Meta}
}

func decodeFill(_ *catalog.Faults, w Fill) catalog.Fill {
	f := catalog.Fill{
		Meta:          decodeMeta(w.Slug, w.Name),
		Family:        catalog.Family(w.Family),
		Form:          catalog.Form(w.Form),
		Density:       decodeFigure[units.Density](w.DensityKgPerM3),
		Resistivity:   decodeFigure[units.AirflowResistivity](w.AirflowResistivityPaSPerM2),
		FibreDiameter: decodeFigure[units.Diameter](w.FibreDiameterUm),
		Fire:          decodeFire(w.FireDeclarations),
		Handling:      decodeHandling(w.Handling),
		SourceID:      catalog.ID(w.SourceID),
		Note:          orZero(w.Note),
	}
	for _, s := range orZero(w.SoldSizes) {
		f.SoldSizes = append(f.SoldSizes, decodeSize(s))
	}
	return f
}

func decodeHandling(w Handling) catalog.Handling {
	return catalog.Handling{
		Profile:    catalog.Profile(w.Profile),
		Irritant:   orUnknown[catalog.Answer](w.Irritant),
		Dust:       orUnknown[catalog.Answer](w.Dust),
		Binder:     orUnknown[catalog.Binder](w.Binder),
		Borate:     decodeFigure[units.Fraction](w.BorateFraction),
		Moth:       orUnknown[catalog.MothTreatment](w.MothTreatment),
		BackTissue: orUnknown[catalog.Answer](w.BackTissue),
		NoteQ:      orUnknown[catalog.Answer](w.NoteQ),
		NoteR:      orUnknown[catalog.Answer](w.NoteR),
		Cutting:    decodeFigure[units.Minutes](w.CuttingMinPerM),
	}
}

func encodeFill(r catalog.Fill) Fill {
	m := encodeMeta(r.Meta)
	sizes := make([]SoldSize, len(r.SoldSizes))
	for i, s := range r.SoldSizes {
		sizes[i] = encodeSize(s)
	}
	return Fill{
		ID: m.id, Slug: string(r.Slug), Name: r.Name,
		Family:                     string(r.Family),
		Form:                       string(r.Form),
		DensityKgPerM3:             encodeFigure(r.Density),
		AirflowResistivityPaSPerM2: encodeFigure(r.Resistivity),
		FibreDiameterUm:            encodeFigure(r.FibreDiameter),
		SoldSizes:                  &sizes,
		FireDeclarations:           encodeFire(r.Fire),
		Handling:                   encodeHandling(r.Handling),
		SourceID:                   string(r.SourceID),
		Note:                       known(r.Note),
		Revision:                   m.revision, CreateTime: m.created, UpdateTime: m.updated, UpdatedBy: m.by, CreatedBy: m.maker,
	}
}

func encodeHandling(h catalog.Handling) Handling {
	return Handling{
		Profile:        string(h.Profile),
		Irritant:       place(string(h.Irritant)),
		Dust:           place(string(h.Dust)),
		Binder:         place(string(h.Binder)),
		BorateFraction: encodeFigure(h.Borate),
		MothTreatment:  place(string(h.Moth)),
		BackTissue:     place(string(h.BackTissue)),
		NoteQ:          place(string(h.NoteQ)),
		NoteR:          place(string(h.NoteR)),
		CuttingMinPerM: encodeFigure(h.Cutting),
	}
}

// ListFills answers GET /v1/fills.
func (s *Server) ListFills(ctx context.Context, _ ListFillsRequestObject) (ListFillsResponseObject, error) {
	p, err := pageOf(ctx, s.store.Fills, encodeFill)
	return ListFills200JSONResponse{FillPageJSONResponse{FillList{Items: p.items, Next: p.next, TotalCount: p.total}, FillPageResponseHeaders{Link: p.link}}}, err
}

// CreateFill answers POST /v1/fills.
func (s *Server) CreateFill(ctx context.Context, in CreateFillRequestObject) (CreateFillResponseObject, error) {
	it, err := s.fills().create(ctx, *in.Body, "")
	return CreateFill201JSONResponse{FillCreatedJSONResponse{it.body, FillCreatedResponseHeaders{ETag: it.tag, Location: it.location}}}, err
}

// GetFill answers GET /v1/fills/{id}.
func (s *Server) GetFill(ctx context.Context, in GetFillRequestObject) (GetFillResponseObject, error) {
	it, err := s.fills().get(ctx, in.ID)
	return GetFill200JSONResponse{FillItemJSONResponse{it.body, FillItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}

// ReplaceFill answers PUT /v1/fills/{id}.
func (s *Server) ReplaceFill(ctx context.Context, in ReplaceFillRequestObject) (ReplaceFillResponseObject, error) {
	it, err := s.fills().put(ctx, in.ID, in.Params.IfMatch, *in.Body)
	return ReplaceFill200JSONResponse{FillItemJSONResponse{it.body, FillItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}

// PatchFill answers PATCH /v1/fills/{id}.
func (s *Server) PatchFill(ctx context.Context, in PatchFillRequestObject) (PatchFillResponseObject, error) {
	it, err := s.fills().patch(ctx, s, in.ID, in.Params.IfMatch, *in.Body)
	return PatchFill200JSONResponse{FillItemJSONResponse{it.body, FillItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}

// DeleteFill answers DELETE /v1/fills/{id}.
func (s *Server) DeleteFill(ctx context.Context, in DeleteFillRequestObject) (DeleteFillResponseObject, error) {
	return DeleteFill204Response{}, s.fills().delete(ctx, in.ID, in.Params.IfMatch)
}

// RestoreFill answers POST /v1/fills/{id}/restore.
func (s *Server) RestoreFill(ctx context.Context, in RestoreFillRequestObject) (RestoreFillResponseObject, error) {
	it, err := s.fills().bringBack(ctx, in.ID)
	return RestoreFill200JSONResponse{FillItemJSONResponse{it.body, FillItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}
