package api

import (
	"context"

	"sabinbook/internal/catalog"
	"sabinbook/internal/units"
)

func (s *Server) fabrics() *noun[catalog.Fabric, Fabric] {
	return &noun[catalog.Fabric, Fabric]{path: "/v1/fabrics/", schema: "Fabric",
		meta: func(r catalog.Fabric) catalog.Meta { return r.Meta }, decode: decodeFabric, rules: catalog.Fabric.Validate, encode: encodeFabric,
		add: s.store.AddFabric, read: s.store.Fabric, replace: s.store.ReplaceFabric, remove: s.store.DeleteFabric, restore: s.store.RestoreFabric, of: catalog.NounFabric, find: s.store.Meta}
}

func decodeFabric(_ *catalog.Faults, w Fabric) catalog.Fabric {
	f := catalog.Fabric{
		Meta:        decodeMeta(w.Slug, w.Name),
		RollWidth:   units.Length(w.RollWidthMm),
		Selvedge:    units.Length(orZero(w.SelvedgeMm)),
		SurfaceMass: decodeFigure[units.SurfaceMass](w.SurfaceMassKgPerM2),
		Resistance:  decodeFigure[units.AirflowResistance](w.FlowResistancePaSPerM),
		Directional: orZero(w.Directional),
		Stretch:     orUnknown[catalog.Stretch](w.Stretch),
		Fire:        decodeFire(w.FireDeclarations),
		SourceID:    catalog.ID(w.SourceID),
		Note:        orZero(w.Note),
	}
	if p := w.AirPermeability; p != nil {
		f.Permeability = &catalog.Permeability{Velocity: p.VelocityMmPerS, Pressure: p.PressurePa,
			Evidence: catalog.Evidence(p.Evidence), SourceID: catalog.ID(p.SourceID)}
	}
	return f
}

func encodeFabric(r catalog.Fabric) Fabric {
	m := encodeMeta(r.Meta)
	w := Fabric{
		ID: m.id, Slug: string(r.Slug), Name: r.Name,
		RollWidthMm:           float64(r.RollWidth),
		SelvedgeMm:            place(float64(r.Selvedge)),
		SurfaceMassKgPerM2:    encodeFigure(r.SurfaceMass),
		FlowResistancePaSPerM: encodeFigure(r.Resistance),
		Directional:           place(r.Directional),
		Stretch:               place(string(r.Stretch)),
		FireDeclarations:      encodeFire(r.Fire),
		SourceID:              string(r.SourceID),
		Note:                  known(r.Note),
		Revision:              m.revision, CreateTime: m.created, UpdateTime: m.updated, UpdatedBy: m.by, CreatedBy: m.maker,
	}
	if p := r.Permeability; p != nil {
		w.AirPermeability = &AirPermeability{VelocityMmPerS: p.Velocity, PressurePa: p.Pressure, Evidence: string(p.Evidence), SourceID: string(p.SourceID)}
	}
	return w
}

// ListFabrics answers GET /v1/fabrics.
func (s *Server) ListFabrics(ctx context.Context, _ ListFabricsRequestObject) (ListFabricsResponseObject, error) {
	p, err := pageOf(ctx, s.store.Fabrics, encodeFabric)
	return ListFabrics200JSONResponse{FabricPageJSONResponse{FabricList{Items: p.items, Next: p.next, TotalCount: p.total}, FabricPageResponseHeaders{Link: p.link}}}, err
}

// CreateFabric answers POST /v1/fabrics.
func (s *Server) CreateFabric(ctx context.Context, in CreateFabricRequestObject) (CreateFabricResponseObject, error) {
	it, err := s.fabrics().create(ctx, *in.Body, "")
	return CreateFabric201JSONResponse{FabricCreatedJSONResponse{it.body, FabricCreatedResponseHeaders{ETag: it.tag, Location: it.location}}}, err
}

// GetFabric answers GET /v1/fabrics/{id}.
func (s *Server) GetFabric(ctx context.Context, in GetFabricRequestObject) (GetFabricResponseObject, error) {
	it, err := s.fabrics().get(ctx, in.ID)
	return GetFabric200JSONResponse{FabricItemJSONResponse{it.body, FabricItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}

// ReplaceFabric answers PUT /v1/fabrics/{id}.
func (s *Server) ReplaceFabric(ctx context.Context, in ReplaceFabricRequestObject) (ReplaceFabricResponseObject, error) {
	it, err := s.fabrics().put(ctx, in.ID, in.Params.IfMatch, *in.Body)
	return ReplaceFabric200JSONResponse{FabricItemJSONResponse{it.body, FabricItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}

// PatchFabric answers PATCH /v1/fabrics/{id}.
func (s *Server) PatchFabric(ctx context.Context, in PatchFabricRequestObject) (PatchFabricResponseObject, error) {
	it, err := s.fabrics().patch(ctx, s, in.ID, in.Params.IfMatch, *in.Body)
	return PatchFabric200JSONResponse{FabricItemJSONResponse{it.body, FabricItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}

// DeleteFabric answers DELETE /v1/fabrics/{id}.
func (s *Server) DeleteFabric(ctx context.Context, in DeleteFabricRequestObject) (DeleteFabricResponseObject, error) {
	return DeleteFabric204Response{}, s.fabrics().delete(ctx, in.ID, in.Params.IfMatch)
}

// RestoreFabric answers POST /v1/fabrics/{id}/restore.
func (s *Server) RestoreFabric(ctx context.Context, in RestoreFabricRequestObject) (RestoreFabricResponseObject, error) {
	it, err := s.fabrics().bringBack(ctx, in.ID)
	return RestoreFabric200JSONResponse{FabricItemJSONResponse{it.body, FabricItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}
