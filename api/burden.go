package api

import (
	"context"
	"strings"

	"github.com/oapi-codegen/runtime"

	"sabinbook/internal/catalog"
	"sabinbook/internal/handling"
	"sabinbook/internal/panels"
	"sabinbook/internal/ranking"
)

// EstimateBurden answers POST /v1/burden-estimates.
func (s *Server) EstimateBurden(ctx context.Context, in EstimateBurdenRequestObject) (EstimateBurdenResponseObject, error) {
	stored, missing := s.withStored(ctx, RankingQuestion{Panel: in.Body.Panel})
	if kind, _ := problemOf(missing); missing != nil && kind != problemInvalid {
		return nil, missing
	}
	w := *in.Body
	w.Panel = stored.Panel
	question, err := burdenOf(w)
	if err := joined(missing, err); err != nil {
		return nil, err
	}
	stock, err := s.prepared(ctx)
	if err != nil {
		return nil, err
	}
	answer, err := stock.BurdenOf(question)
	if err != nil {
		return nil, moved(err, func(pointer string) string { return strings.TrimSuffix(pointer, "/0") })
	}
	return EstimateBurden200JSONResponse{BurdenAnswerJSONResponse{Body: encodeBurdened(question, answer)}}, nil
}

// checkBurden is the check of a question that breaks the contract elsewhere.
func (s *Server) checkBurden(value any) []fault {
	var w BurdenQuestion
	if runtime.BindJSONValue(value, &w) != nil {
		return nil
	}
	_, err := burdenOf(w)
	return faultsIn(err)
}

// burdenOf decodes a question and applies its rules; the error names all faults.
func burdenOf(w BurdenQuestion) (ranking.BurdenQuestion, error) {
	v := &catalog.Faults{}
	q := ranking.BurdenQuestion{
		Panels: count(w.PanelCount), Design: decodeDesign(w.Panel, panels.StandardDesign()), Fill: w.Fill, Fabric: w.Fabric, Thickness: length(w.ThicknessMm),
		Layers: or(w.LayersCount, count, 1), AirGap: length(orZero(w.AirGapMm)),
		Handling: decodeHandlingTerms(v, w.Handling, handling.Terms{Persons: handling.DefaultPersons, PanelsPerSession: handling.DefaultPanelsPerSession}),
	}
	q.Handling.Owned = listOf(w.OwnedRoles, func(x string) catalog.Role { return catalog.Role(x) })
	return q, joined(v.Err(), q.Validate())
}

func encodeBurdened(q ranking.BurdenQuestion, a ranking.Burdened) BurdenEstimate {
	b := a.Build
	out := BurdenEstimate{
		Inputs: BurdenQuestion{PanelCount: int64(q.Panels), Panel: encodeDesign(q.Design), Fill: q.Fill, ThicknessMm: float64(q.Thickness), LayersCount: place(int64(q.Layers)), AirGapMm: place(float64(q.AirGap)),
			Fabric: q.Fabric, OwnedRoles: encodeRoles(q.Handling.Owned), Handling: encodeHandlingTerms(q.Handling)},
		CatalogRevision: a.CatalogRevision, ModelVersion: ranking.ModelVersion,
		Fill: encodeRef(b.Fill.Meta), Fabric: encodeRef(b.Fabric.Meta), Frame: encodeRef(b.Frame.Meta), BackWrapped: b.BackWrapped(),
		Burden: encodeBurden(a.Burden), Cautions: cautionNotes(b, a.Burden), Sources: make([]SourceRef, len(a.Sources)),
	}
	out.PanelMassKg, out.MassLines = encodeMass(b)
	for i, s := range a.Sources {
		out.Sources[i] = encodeSourceRef(s)
	}
	return out
}
