package api

import (
	"context"

	"sabinbook/internal/catalog"
)

func (s *Server) sources() *noun[catalog.Source, Source] {
	return &noun[catalog.Source, Source]{path: "/v1/sources/", schema: "Source",
		meta: func(r catalog.Source) catalog.Meta { return r.Meta }, decode: decodeSource, rules: catalog.Source.Validate, encode: encodeSource,
		add: s.store.AddSource, read: s.store.Source, replace: s.store.ReplaceSource, remove: s.store.DeleteSource, restore: s.store.RestoreSource, of: catalog.NounSource, find: s.store.Meta}
}

func decodeSource(_ *catalog.Faults, w Source) catalog.Source {
	return catalog.Source{
		Meta:     decodeMeta(w.Slug, w.Name),
		Citation: w.Citation,
		Observer: orZero(w.Observer),
		Date:     catalog.Date(orZero(w.Date)),
		Licence:  w.Licence,
		Evidence: catalog.Evidence(w.Evidence),
		Invented: orZero(w.Invented),
		Note:     orZero(w.Note),
	}
}

func encodeSource(r catalog.Source) Source {
	m := encodeMeta(r.Meta)
	return Source{
		ID: m.id, Slug: string(r.Slug), Name: r.Name,
		Citation: r.Citation,
		Observer: known(r.Observer),
		Date:     knownAs(r.Date, text),
		Licence:  r.Licence,
		Evidence: string(r.Evidence),
		Invented: place(r.Invented),
		Note:     known(r.Note),
		Revision: m.revision, CreateTime: m.created, UpdateTime: m.updated, UpdatedBy: m.by, CreatedBy: m.maker,
	}
}

// ListSources answers GET /v1/sources.
func (s *Server) ListSources(ctx context.Context, _ ListSourcesRequestObject) (ListSourcesResponseObject, error) {
	p, err := pageOf(ctx, s.store.Sources, encodeSource)
	return ListSources200JSONResponse{SourcePageJSONResponse{SourceList{Items: p.items, Next: p.next, TotalCount: p.total}, SourcePageResponseHeaders{Link: p.link}}}, err
}

// CreateSource answers POST /v1/sources.
func (s *Server) CreateSource(ctx context.Context, in CreateSourceRequestObject) (CreateSourceResponseObject, error) {
	it, err := s.sources().create(ctx, *in.Body, "")
	return CreateSource201JSONResponse{SourceCreatedJSONResponse{it.body, SourceCreatedResponseHeaders{ETag: it.tag, Location: it.location}}}, err
}

// GetSource answers GET /v1/sources/{id}.
func (s *Server) GetSource(ctx context.Context, in GetSourceRequestObject) (GetSourceResponseObject, error) {
	it, err := s.sources().get(ctx, in.ID)
	return GetSource200JSONResponse{SourceItemJSONResponse{it.body, SourceItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}

// ReplaceSource answers PUT /v1/sources/{id}.
func (s *Server) ReplaceSource(ctx context.Context, in ReplaceSourceRequestObject) (ReplaceSourceResponseObject, error) {
	it, err := s.sources().put(ctx, in.ID, in.Params.IfMatch, *in.Body)
	return ReplaceSource200JSONResponse{SourceItemJSONResponse{it.body, SourceItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}

// PatchSource answers PATCH /v1/sources/{id}.
func (s *Server) PatchSource(ctx context.Context, in PatchSourceRequestObject) (PatchSourceResponseObject, error) {
	it, err := s.sources().patch(ctx, s, in.ID, in.Params.IfMatch, *in.Body)
	return PatchSource200JSONResponse{SourceItemJSONResponse{it.body, SourceItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}

// DeleteSource answers DELETE /v1/sources/{id}.
func (s *Server) DeleteSource(ctx context.Context, in DeleteSourceRequestObject) (DeleteSourceResponseObject, error) {
	return DeleteSource204Response{}, s.sources().delete(ctx, in.ID, in.Params.IfMatch)
}

// RestoreSource answers POST /v1/sources/{id}/restore.
func (s *Server) RestoreSource(ctx context.Context, in RestoreSourceRequestObject) (RestoreSourceResponseObject, error) {
	it, err := s.sources().bringBack(ctx, in.ID)
	return RestoreSource200JSONResponse{SourceItemJSONResponse{it.body, SourceItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}
