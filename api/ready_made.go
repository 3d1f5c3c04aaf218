package api

import (
	"context"

	"sabinbook/internal/catalog"
	"sabinbook/internal/units"
)

func (s *Server) readyMade() *noun[catalog.ReadyMadePanel, ReadyMadePanel] {
	return &noun[catalog.ReadyMadePanel, ReadyMadePanel]{path: "/v1/ready-made-panels/", schema: "ReadyMadePanel",
		meta: func(r catalog.ReadyMadePanel) catalog.Meta { return r.Meta }, decode: decodeReadyMade, rules: catalog.ReadyMadePanel.Validate, encode: encodeReadyMade,
		add: s.store.AddReadyMade, read: s.store.ReadyMade, replace: s.store.ReplaceReadyMade, remove: s.store.DeleteReadyMade, restore: s.store.RestoreReadyMade, of: catalog.NounReadyMade, find: s.store.Meta}
}

func decodeReadyMade(v *catalog.Faults, w ReadyMadePanel) catalog.ReadyMadePanel {
	p := catalog.ReadyMadePanel{
		Meta:     decodeMeta(w.Slug, w.Name),
		Width:    units.Length(w.WidthMm),
		Height:   units.Length(w.HeightMm),
		Depth:    units.Length(w.DepthMm),
		Mass:     decodeFigure[units.Mass](w.MassKg),
		Fire:     decodeFire(w.FireDeclarations),
		SourceID: catalog.ID(w.SourceID),
		Note:     orZero(w.Note),
	}
	if a := w.Absorption; a != nil {
		p.Alpha = decodeBands(v, "/absorption/bands", a.BandBasis, a.Bands)
		p.AlphaEvidence = catalog.Evidence(a.Evidence)
		p.AlphaSourceID = catalog.ID(a.SourceID)
		p.Mounting = catalog.Mounting(a.MountingType)
	}
	return p
}

func encodeReadyMade(r catalog.ReadyMadePanel) ReadyMadePanel {
	m := encodeMeta(r.Meta)
	w := ReadyMadePanel{
		ID: m.id, Slug: string(r.Slug), Name: r.Name,
		WidthMm:          float64(r.Width),
		HeightMm:         float64(r.Height),
		DepthMm:          float64(r.Depth),
		MassKg:           encodeFigure(r.Mass),
		FireDeclarations: encodeFire(r.Fire),
		SourceID:         string(r.SourceID),
		Note:             known(r.Note),
		Revision:         m.revision, CreateTime: m.created, UpdateTime: m.updated, UpdatedBy: m.by, CreatedBy: m.maker,
	}
	if r.Alpha.Len() > 0 {
		w.Absorption = &Absorption{BandBasis: string(r.Alpha.Basis), Bands: encodeBands(r.Alpha), MountingType: string(r.Mounting),
			Evidence: string(r.AlphaEvidence), SourceID: string(r.AlphaSourceID)}
	}
	return w
}

// ListReadyMadePanels answers GET /v1/ready-made-panels.
func (s *Server) ListReadyMadePanels(ctx context.Context, _ ListReadyMadePanelsRequestObject) (ListReadyMadePanelsResponseObject, error) {
	p, err := pageOf(ctx, s.store.ReadyMades, encodeReadyMade)
	return ListReadyMadePanels200JSONResponse{ReadyMadePanelPageJSONResponse{ReadyMadePanelList{Items: p.items, Next: p.next, TotalCount: p.total}, ReadyMadePanelPageResponseHeaders{Link: p.link}}}, err
}

// CreateReadyMadePanel answers POST /v1/ready-made-panels.
func (s *Server) CreateReadyMadePanel(ctx context.Context, in CreateReadyMadePanelRequestObject) (CreateReadyMadePanelResponseObject, error) {
	it, err := s.readyMade().create(ctx, *in.Body, "")
	return CreateReadyMadePanel201JSONResponse{ReadyMadePanelCreatedJSONResponse{it.body, ReadyMadePanelCreatedResponseHeaders{ETag: it.tag, Location: it.location}}}, err
}

// GetReadyMadePanel answers GET /v1/ready-made-panels/{id}.
func (s *Server) GetReadyMadePanel(ctx context.Context, in GetReadyMadePanelRequestObject) (GetReadyMadePanelResponseObject, error) {
	it, err := s.readyMade().get(ctx, in.ID)
	return GetReadyMadePanel200JSONResponse{ReadyMadePanelItemJSONResponse{it.body, ReadyMadePanelItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}

// ReplaceReadyMadePanel answers PUT /v1/ready-made-panels/{id}.
func (s *Server) ReplaceReadyMadePanel(ctx context.Context, in ReplaceReadyMadePanelRequestObject) (ReplaceReadyMadePanelResponseObject, error) {
	it, err := s.readyMade().put(ctx, in.ID, in.Params.IfMatch, *in.Body)
	return ReplaceReadyMadePanel200JSONResponse{ReadyMadePanelItemJSONResponse{it.body, ReadyMadePanelItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}

// PatchReadyMadePanel answers PATCH /v1/ready-made-panels/{id}.
func (s *Server) PatchReadyMadePanel(ctx context.Context, in PatchReadyMadePanelRequestObject) (PatchReadyMadePanelResponseObject, error) {
	it, err := s.readyMade().patch(ctx, s, in.ID, in.Params.IfMatch, *in.Body)
	return PatchReadyMadePanel200JSONResponse{ReadyMadePanelItemJSONResponse{it.body, ReadyMadePanelItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}

// DeleteReadyMadePanel answers DELETE /v1/ready-made-panels/{id}.
func (s *Server) DeleteReadyMadePanel(ctx context.Context, in DeleteReadyMadePanelRequestObject) (DeleteReadyMadePanelResponseObject, error) {
	return DeleteReadyMadePanel204Response{}, s.readyMade().delete(ctx, in.ID, in.Params.IfMatch)
}

// RestoreReadyMadePanel answers POST /v1/ready-made-panels/{id}/restore.
func (s *Server) RestoreReadyMadePanel(ctx context.Context, in RestoreReadyMadePanelRequestObject) (RestoreReadyMadePanelResponseObject, error) {
	it, err := s.readyMade().bringBack(ctx, in.ID)
	return RestoreReadyMadePanel200JSONResponse{ReadyMadePanelItemJSONResponse{it.body, ReadyMadePanelItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}
