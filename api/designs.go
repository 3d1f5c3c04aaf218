package api

import (
	"context"

	"sabinbook/internal/catalog"
	"sabinbook/internal/panels"
)

func (s *Server) designs() *noun[catalog.Design, Design] {
	return &noun[catalog.Design, Design]{path: "/v1/designs/", schema: "Design",
		meta: func(r catalog.Design) catalog.Meta { return r.Meta }, decode: decodeDesignRecord, rules: panels.Validate, encode: encodeDesignRecord,
		add: s.store.AddDesign, read: s.store.Design, replace: s.store.ReplaceDesign, remove: s.store.DeleteDesign, restore: s.store.RestoreDesign, of: catalog.NounDesign, find: s.store.Meta}
}

// decodeDesignRecord fills in what is left out, so that a later default changes no stored design.
func decodeDesignRecord(_ *catalog.Faults, w Design) catalog.Design {
	d := decodeDesign(&PanelDesign{WidthMm: w.WidthMm, HeightMm: w.HeightMm, WrapTurnMm: w.WrapTurnMm, Back: w.Back, BackMarginMm: w.BackMarginMm, FillOversizeMm: w.FillOversizeMm,
		Joint: w.Joint, BracesCount: w.BracesCount, StandOffsCount: w.StandOffsCount, Parts: w.Parts}, panels.StandardDesign())
	return d.Record(decodeMeta(w.Slug, w.Name), orZero(w.Note))
}

func encodeDesignRecord(r catalog.Design) Design {
	m, d := encodeMeta(r.Meta), encodeDesign(panels.Of(r))
	return Design{
		ID: m.id, Slug: string(r.Slug), Name: r.Name,
		WidthMm: d.WidthMm, HeightMm: d.HeightMm, WrapTurnMm: d.WrapTurnMm, Back: d.Back, BackMarginMm: d.BackMarginMm, FillOversizeMm: d.FillOversizeMm,
		Joint: d.Joint, BracesCount: d.BracesCount, StandOffsCount: d.StandOffsCount, Parts: d.Parts,
		Note:     known(r.Note),
		Revision: m.revision, CreateTime: m.created, UpdateTime: m.updated, UpdatedBy: m.by, CreatedBy: m.maker,
	}
}

// decodeDesign reads a design on top of another one, from which comes what is left out.
func decodeDesign(w *PanelDesign, d panels.Design) panels.Design {
	if w == nil {
		return d
	}
	d.Width = or(w.WidthMm, length, d.Width)
	d.Height = or(w.HeightMm, length, d.Height)
	d.Turn = or(w.WrapTurnMm, length, d.Turn)
	d.Back = or(w.Back, func(x string) panels.Back { return panels.Back(x) }, d.Back)
	d.BackMargin = or(w.BackMarginMm, length, d.BackMargin)
	d.Oversize = or(w.FillOversizeMm, length, d.Oversize)
	d.Joint = or(w.Joint, func(x string) panels.Joint { return panels.Joint(x) }, d.Joint)
	d.Braces = or(w.BracesCount, count, d.Braces)
	d.StandOffs = or(w.StandOffsCount, count, d.StandOffs)
	if w.Parts != nil {
		d.Parts = listOf(w.Parts, func(p PanelPart) panels.PartCount {
			return panels.PartCount{Role: catalog.Role(p.Role), Count: count(p.Count)}
		})
	}
	return d
}

func encodeDesign(d panels.Design) *PanelDesign {
	parts := make([]PanelPart, len(d.Parts))
	for i, p := range d.Parts {
		parts[i] = PanelPart{Role: string(p.Role), Count: int64(p.Count)}
	}
	return &PanelDesign{WidthMm: place(float64(d.Width)), HeightMm: place(float64(d.Height)), WrapTurnMm: place(float64(d.Turn)),
		Back: place(string(d.Back)), BackMarginMm: place(float64(d.BackMargin)), FillOversizeMm: place(float64(d.Oversize)),
		Joint: place(string(d.Joint)), BracesCount: place(int64(d.Braces)), StandOffsCount: place(int64(d.StandOffs)), Parts: &parts}
}

// ListDesigns answers GET /v1/designs.
func (s *Server) ListDesigns(ctx context.Context, _ ListDesignsRequestObject) (ListDesignsResponseObject, error) {
	p, err := pageOf(ctx, s.store.Designs, encodeDesignRecord)
	return ListDesigns200JSONResponse{DesignPageJSONResponse{DesignList{Items: p.items, Next: p.next, TotalCount: p.total}, DesignPageResponseHeaders{Link: p.link}}}, err
}

// CreateDesign answers POST /v1/designs.
func (s *Server) CreateDesign(ctx context.Context, in CreateDesignRequestObject) (CreateDesignResponseObject, error) {
	it, err := s.designs().create(ctx, *in.Body, "")
	return CreateDesign201JSONResponse{DesignCreatedJSONResponse{it.body, DesignCreatedResponseHeaders{ETag: it.tag, Location: it.location}}}, err
}

// GetDesign answers GET /v1/designs/{id}.
func (s *Server) GetDesign(ctx context.Context, in GetDesignRequestObject) (GetDesignResponseObject, error) {
	it, err := s.designs().get(ctx, in.ID)
	return GetDesign200JSONResponse{DesignItemJSONResponse{it.body, DesignItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}

// ReplaceDesign answers PUT /v1/designs/{id}.
func (s *Server) ReplaceDesign(ctx context.Context, in ReplaceDesignRequestObject) (ReplaceDesignResponseObject, error) {
	it, err := s.designs().put(ctx, in.ID, in.Params.IfMatch, *in.Body)
	return ReplaceDesign200JSONResponse{DesignItemJSONResponse{it.body, DesignItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}

// PatchDesign answers PATCH /v1/designs/{id}.
func (s *Server) PatchDesign(ctx context.Context, in PatchDesignRequestObject) (PatchDesignResponseObject, error) {
	it, err := s.designs().patch(ctx, s, in.ID, in.Params.IfMatch, *in.Body)
	return PatchDesign200JSONResponse{DesignItemJSONResponse{it.body, DesignItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}

// DeleteDesign answers DELETE /v1/designs/{id}.
func (s *Server) DeleteDesign(ctx context.Context, in DeleteDesignRequestObject) (DeleteDesignResponseObject, error) {
	return DeleteDesign204Response{}, s.designs().delete(ctx, in.ID, in.Params.IfMatch)
}

// RestoreDesign answers POST /v1/designs/{id}/restore.
func (s *Server) RestoreDesign(ctx context.Context, in RestoreDesignRequestObject) (RestoreDesignResponseObject, error) {
	it, err := s.designs().bringBack(ctx, in.ID)
	return RestoreDesign200JSONResponse{DesignItemJSONResponse{it.body, DesignItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}
