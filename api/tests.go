package api

import (
	"context"

	"sabinbook/internal/catalog"
	"sabinbook/internal/units"
)

func (s *Server) tests() *noun[catalog.AbsorptionTest, AbsorptionTest] {
	return &noun[catalog.AbsorptionTest, AbsorptionTest]{path: "/v1/absorption-tests/", schema: "AbsorptionTest",
		meta: func(r catalog.AbsorptionTest) catalog.Meta { return r.Meta }, decode: decodeTest, rules: catalog.AbsorptionTest.Validate, encode: encodeTest,
		parent: func(t *catalog.AbsorptionTest) *catalog.ID { return &t.FillID },
		add:    s.store.AddTest, read: s.store.Test, replace: s.store.ReplaceTest, remove: s.store.DeleteTest, restore: s.store.RestoreTest, of: catalog.NounTest, find: s.store.Meta, may: mayMark}
}

func decodeTest(v *catalog.Faults, w AbsorptionTest) catalog.AbsorptionTest {
	return catalog.AbsorptionTest{
		Meta:           decodeMeta(w.Slug, w.Name),
		Standard:       catalog.TestStandard(w.Standard),
		Mounting:       catalog.Mounting(w.MountingType),
		MountingSuffix: units.Length(orZero(w.MountingSuffixMm)),
		Thickness:      units.Length(w.ThicknessMm),
		AirGap:         units.Length(w.AirGapMm),
		Density:        units.Density(orZero(w.DensityKgPerM3)),
		Alpha:          decodeBands(v, "/bands", w.BandBasis, w.Bands),
		CappedAtOne:    orZero(w.CappedAtOne),
		Evidence:       catalog.Evidence(w.Evidence),
		SourceID:       catalog.ID(w.SourceID),
		Use:            catalog.UseOf(orZero(w.Use)),
		UseNote:        orZero(w.UseNote),
		Note:           orZero(w.Note),
	}
}

func encodeTest(r catalog.AbsorptionTest) AbsorptionTest {
	m := encodeMeta(r.Meta)
	return AbsorptionTest{
		ID: m.id, Slug: string(r.Slug), Name: r.Name,
		FillID:           place(string(r.FillID)),
		Standard:         string(r.Standard),
		MountingType:     string(r.Mounting),
		MountingSuffixMm: knownAs(r.MountingSuffix, number),
		ThicknessMm:      float64(r.Thickness),
		AirGapMm:         float64(r.AirGap),
		DensityKgPerM3:   knownAs(r.Density, number),
		BandBasis:        string(r.Alpha.Basis),
		Bands:            encodeBands(r.Alpha),
		CappedAtOne:      place(r.CappedAtOne),
		Evidence:         string(r.Evidence),
		SourceID:         string(r.SourceID),
		Use:              place(r.Use.Word()),
		UseNote:          known(r.UseNote),
		Note:             known(r.Note),
		Revision:         m.revision, CreateTime: m.created, UpdateTime: m.updated, UpdatedBy: m.by, CreatedBy: m.maker,
	}
}

// ListAbsorptionTests lists the tests of a fill.
func (s *Server) ListAbsorptionTests(ctx context.Context, in ListAbsorptionTestsRequestObject) (ListAbsorptionTestsResponseObject, error) {
	fill, err := s.fills().load(ctx, in.ID)
	if err != nil {
		return nil, err
	}
	ofFill := func(ctx context.Context, q catalog.Query) (catalog.Page[catalog.AbsorptionTest], error) {
		q.Any = append(q.Any, catalog.AnyOf{Field: "fill_id", Values: []string{string(fill.ID)}})
		return s.store.Tests(ctx, q)
	}
	p, err := pageOf(ctx, ofFill, encodeTest)
	return ListAbsorptionTests200JSONResponse{AbsorptionTestPageJSONResponse{AbsorptionTestList{Items: p.items, Next: p.next, TotalCount: p.total}, AbsorptionTestPageResponseHeaders{Link: p.link}}}, err
}

// CreateAbsorptionTest adds a test of a fill.
func (s *Server) CreateAbsorptionTest(ctx context.Context, in CreateAbsorptionTestRequestObject) (CreateAbsorptionTestResponseObject, error) {
	fill, err := s.fills().load(ctx, in.ID)
	if err != nil {
		return nil, err
	}
	it, err := s.tests().create(ctx, *in.Body, fill.ID)
	return CreateAbsorptionTest201JSONResponse{AbsorptionTestCreatedJSONResponse{it.body, AbsorptionTestCreatedResponseHeaders{ETag: it.tag, Location: it.location}}}, err
}

// GetAbsorptionTest answers GET /v1/absorption-tests/{id}.
func (s *Server) GetAbsorptionTest(ctx context.Context, in GetAbsorptionTestRequestObject) (GetAbsorptionTestResponseObject, error) {
	it, err := s.tests().get(ctx, in.ID)
	return GetAbsorptionTest200JSONResponse{AbsorptionTestItemJSONResponse{it.body, AbsorptionTestItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}

// ReplaceAbsorptionTest answers PUT /v1/absorption-tests/{id}.
func (s *Server) ReplaceAbsorptionTest(ctx context.Context, in ReplaceAbsorptionTestRequestObject) (ReplaceAbsorptionTestResponseObject, error) {
	it, err := s.tests().put(ctx, in.ID, in.Params.IfMatch, *in.Body)
	return ReplaceAbsorptionTest200JSONResponse{AbsorptionTestItemJSONResponse{it.body, AbsorptionTestItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}

// PatchAbsorptionTest answers PATCH /v1/absorption-tests/{id}.
func (s *Server) PatchAbsorptionTest(ctx context.Context, in PatchAbsorptionTestRequestObject) (PatchAbsorptionTestResponseObject, error) {
	it, err := s.tests().patch(ctx, s, in.ID, in.Params.IfMatch, *in.Body)
	return PatchAbsorptionTest200JSONResponse{AbsorptionTestItemJSONResponse{it.body, AbsorptionTestItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}

// DeleteAbsorptionTest answers DELETE /v1/absorption-tests/{id}.
func (s *Server) DeleteAbsorptionTest(ctx context.Context, in DeleteAbsorptionTestRequestObject) (DeleteAbsorptionTestResponseObject, error) {
	return DeleteAbsorptionTest204Response{}, s.tests().delete(ctx, in.ID, in.Params.IfMatch)
}

// RestoreAbsorptionTest answers POST /v1/absorption-tests/{id}/restore.
func (s *Server) RestoreAbsorptionTest(ctx context.Context, in RestoreAbsorptionTestRequestObject) (RestoreAbsorptionTestResponseObject, error) {
	it, err := s.tests().bringBack(ctx, in.ID)
	return RestoreAbsorptionTest200JSONResponse{AbsorptionTestItemJSONResponse{it.body, AbsorptionTestItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}
