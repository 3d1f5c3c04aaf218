package api

import (
	"context"

	"sabinbook/internal/catalog"
	"sabinbook/internal/units"
)

func (s *Server) parts() *noun[catalog.Part, Part] {
	return &noun[catalog.Part, Part]{path: "/v1/parts/", schema: "Part",
		meta: func(r catalog.Part) catalog.Meta { return r.Meta }, decode: decodePart, rules: catalog.Part.Validate, encode: encodePart,
		add: s.store.AddPart, read: s.store.Part, replace: s.store.ReplacePart, remove: s.store.DeletePart, restore: s.store.RestorePart, of: catalog.NounPart, find: s.store.Meta}
}

func decodePart(_ *catalog.Faults, w Part) catalog.Part {
	p := catalog.Part{
		Meta:             decodeMeta(w.Slug, w.Name),
		Kind:             catalog.PartKind(w.Kind),
		Role:             catalog.Role(w.Role),
		SectionThickness: units.Length(orZero(w.SectionThicknessMm)),
		SectionWidth:     units.Length(orZero(w.SectionWidthMm)),
		Density:          decodeFigure[units.Density](w.DensityKgPerM3),
		UnitMass:         decodeFigure[units.Mass](w.UnitMassKg),
		WorkingLoad:      decodeFigure[units.Mass](w.WorkingLoadKg),
		UsesPerUnit:      int(orZero(w.UsesPerUnitCount)),
		SourceID:         catalog.ID(w.SourceID),
		Note:             orZero(w.Note),
	}
	for _, l := range orZero(w.StockLengthsMm) {
		p.StockLengths = append(p.StockLengths, units.Length(l))
	}
	return p
}

func encodePart(r catalog.Part) Part {
	m := encodeMeta(r.Meta)
	lengths := make([]float64, len(r.StockLengths))
	for i, l := range r.StockLengths {
		lengths[i] = float64(l)
	}
	return Part{
		ID: m.id, Slug: string(r.Slug), Name: r.Name,
		Kind:               string(r.Kind),
		Role:               string(r.Role),
		SectionThicknessMm: knownAs(r.SectionThickness, number),
		SectionWidthMm:     knownAs(r.SectionWidth, number),
		StockLengthsMm:     &lengths,
		DensityKgPerM3:     encodeFigure(r.Density),
		UnitMassKg:         encodeFigure(r.UnitMass),
		WorkingLoadKg:      encodeFigure(r.WorkingLoad),
		UsesPerUnitCount:   knownAs(r.UsesPerUnit, whole),
		SourceID:           string(r.SourceID),
		Note:               known(r.Note),
		Revision:           m.revision, CreateTime: m.created, UpdateTime: m.updated, UpdatedBy: m.by, CreatedBy: m.maker,
	}
}

// ListParts answers GET /v1/parts.
func (s *Server) ListParts(ctx context.Context, _ ListPartsRequestObject) (ListPartsResponseObject, error) {
	p, err := pageOf(ctx, s.store.Parts, encodePart)
	return ListParts200JSONResponse{PartPageJSONResponse{PartList{Items: p.items, Next: p.next, TotalCount: p.total}, PartPageResponseHeaders{Link: p.link}}}, err
}

// CreatePart answers POST /v1/parts.
func (s *Server) CreatePart(ctx context.Context, in CreatePartRequestObject) (CreatePartResponseObject, error) {
	it, err := s.parts().create(ctx, *in.Body, "")
	return CreatePart201JSONResponse{PartCreatedJSONResponse{it.body, PartCreatedResponseHeaders{ETag: it.tag, Location: it.location}}}, err
}

// GetPart answers GET /v1/parts/{id}.
func (s *Server) GetPart(ctx context.Context, in GetPartRequestObject) (GetPartResponseObject, error) {
	it, err := s.parts().get(ctx, in.ID)
	return GetPart200JSONResponse{PartItemJSONResponse{it.body, PartItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}

// ReplacePart answers PUT /v1/parts/{id}.
func (s *Server) ReplacePart(ctx context.Context, in ReplacePartRequestObject) (ReplacePartResponseObject, error) {
	it, err := s.parts().put(ctx, in.ID, in.Params.IfMatch, *in.Body)
	return ReplacePart200JSONResponse{PartItemJSONResponse{it.body, PartItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}

// PatchPart answers PATCH /v1/parts/{id}.
func (s *Server) PatchPart(ctx context.Context, in PatchPartRequestObject) (PatchPartResponseObject, error) {
	it, err := s.parts().patch(ctx, s, in.ID, in.Params.IfMatch, *in.Body)
	return PatchPart200JSONResponse{PartItemJSONResponse{it.body, PartItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}

// DeletePart answers DELETE /v1/parts/{id}.
func (s *Server) DeletePart(ctx context.Context, in DeletePartRequestObject) (DeletePartResponseObject, error) {
	return DeletePart204Response{}, s.parts().delete(ctx, in.ID, in.Params.IfMatch)
}

// RestorePart answers POST /v1/parts/{id}/restore.
func (s *Server) RestorePart(ctx context.Context, in RestorePartRequestObject) (RestorePartResponseObject, error) {
	it, err := s.parts().bringBack(ctx, in.ID)
	return RestorePart200JSONResponse{PartItemJSONResponse{it.body, PartItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}
