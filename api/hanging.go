package api

import (
	"context"
	"fmt"

	"github.com/oapi-codegen/runtime"

	"sabinbook/internal/catalog"
	"sabinbook/internal/hanging"
	"sabinbook/internal/units"
)

// CheckHanging answers POST /v1/hanging-checks. It takes no slot: like a rating it costs less
// than reading its body.
func (s *Server) CheckHanging(_ context.Context, in CheckHangingRequestObject) (CheckHangingResponseObject, error) {
	question, err := decodeHanging(*in.Body)
	if err != nil {
		return nil, err
	}
	return CheckHanging200JSONResponse{HangingAnswerJSONResponse{Body: encodeHanging(*in.Body, question, hanging.For(question))}}, nil
}

// checkHangingBody is the check of a question that breaks the contract elsewhere.
func (s *Server) checkHangingBody(value any) []fault {
	var w HangingQuestion
	if runtime.BindJSONValue(value, &w) != nil {
		return nil
	}
	_, err := decodeHanging(w)
	return faultsIn(err)
}

// decodeHanging decodes a question and applies its rules; the error names all faults.
func decodeHanging(w HangingQuestion) (hanging.Question, error) {
	v := &catalog.Faults{}
	q := hanging.Question{
		Panel: decodeHungPanel(v, w.Panel), System: hanging.System(w.System),
		LoadFactor: aboveZero(v, "/load_factor", w.LoadFactor), DesignFactor: aboveZero(v, "/design_factor", w.DesignFactor),
		Site: decodeSite(v, w.Site),
	}
	if w.Wire != nil {
		q.Wire = &hanging.Wire{Spacing: length(w.Wire.RingSpacingMm), Sag: pointerTo(w.Wire.SagMm, length), Length: pointerTo(w.Wire.WireLengthMm, length)}
	}
	if w.Lever != nil {
		q.Lever = &hanging.Lever{Centre: length(w.Lever.CentreFromWallMm), Height: length(w.Lever.HookAboveBearingMm)}
	}
	for i, h := range orZero(w.Hardware) {
		q.Hardware = append(q.Hardware, decodeHardware(v, fmt.Sprintf("/hardware/%d", i), h))
	}
	if w.Row != nil {
		q.Row = decodeRow(*w.Row)
	}
	if c := w.ColdWall; c != nil {
		q.Climate = &hanging.Climate{Wall: c.WallResistanceM2KPerW, Panel: c.PanelResistanceM2KPerW, Inside: c.InsideC, Outside: c.OutsideC, Humidity: c.HumidityPercent / 100}
	}
	return q, joined(v.Err(), q.Validate())
}

// pieces is an optional number of pieces of which 0 would mean that it is not said.
func pieces(v *catalog.Faults, at string, p *int64) int {
	aboveZero(v, at, p)
	return or(p, count, 0)
}

// wordIf is an optional word of which none would mean that it is not said.
func wordIf[T ~string](v *catalog.Faults, at string, p *string) T {
	notEmpty(v, at, p)
	return T(orZero(p))
}

// decodeEnds reads a figure with the ends of its range, whose members are named name, and name
// with _low or _high, before the unit.
func decodeEnds(v *catalog.Faults, at, name, unit string, value, low, high *float64) *hanging.Range {
	if value != nil {
		return &hanging.Range{Value: *value, Low: low, High: high}
	}
	for _, end := range []struct {
		name string
		p    *float64
	}{{"_low", low}, {"_high", high}} {
		if end.p != nil {
			v.Add(at+"/"+name+end.name+unit, "not_applicable", "is a bound without its figure", "give "+name+unit+" too, or leave the bound out")
		}
	}
	return nil
}

func decodeHungPanel(v *catalog.Faults, w HangingPanel) hanging.Panel {
	p := hanging.Panel{Mass: decodeEnds(v, "/panel", "mass", "_kg", w.MassKg, w.MassLowKg, w.MassHighKg),
		Without: listOf(w.Without, func(k string) hanging.Kind { return hanging.Kind(k) })}
	for i, part := range orZero(w.Parts) {
		at := fmt.Sprintf("/panel/parts/%d", i)
		p.Parts = append(p.Parts, hanging.Part{
			Kind: hanging.Kind(part.Kind), Name: orZero(part.Name), Count: pieces(v, at+"/count", part.Count),
			Mass: decodeEnds(v, at, "mass", "_kg", part.MassKg, part.MassLowKg, part.MassHighKg),
			Wood: wordIf[string](v, at+"/wood", part.Wood), Moisture: part.MoisturePercent,
			Density:     decodeEnds(v, at, "density", "_kg_per_m3", part.DensityKgPerM3, part.DensityLowKgPerM3, part.DensityHighKgPerM3),
			SurfaceMass: decodeEnds(v, at, "surface_mass", "_kg_per_m2", part.SurfaceMassKgPerM2, part.SurfaceMassLowKgPerM2, part.SurfaceMassHighKgPerM2),
			Length:      pointerTo(part.LengthMm, length), Width: pointerTo(part.WidthMm, length), Thickness: pointerTo(part.ThicknessMm, length),
		})
	}
	return p
}

func decodeHardware(v *catalog.Faults, at string, w HangingHardware) hanging.Piece {
	return hanging.Piece{
		ID: w.ID, Role: hanging.Role(w.Role), Count: pieces(v, at+"/count", w.Count),
		WorkingLoad:      decodeLoad(v, at, "working_load", w.WorkingLoadKg, w.WorkingLoadN),
		BreakingStrength: decodeLoad(v, at, "breaking_strength", w.BreakingStrengthKg, w.BreakingStrengthN),
		Rating:           wordIf[hanging.RatingKind](v, at+"/rating_kind", w.RatingKind), Ground: wordIf[hanging.Ground](v, at+"/sits_in", w.SitsIn),
		Board: wordIf[string](v, at+"/board", w.Board), BoardThickness: pointerTo(w.BoardThicknessMm, length), Source: orZero(w.Source),
	}
}

// decodeLoad reads a load in one of two units.
func decodeLoad(v *catalog.Faults, at, name string, kilograms, newtons *float64) *hanging.Load {
	switch {
	case kilograms != nil && newtons != nil:
		v.Add(at+"/"+name+"_n", "conflict", "is given in two units", "give "+name+"_kg or "+name+"_n")
		return &hanging.Load{Value: *kilograms, Kilograms: true}
	case kilograms != nil:
		return &hanging.Load{Value: *kilograms, Kilograms: true}
	case newtons != nil:
		return &hanging.Load{Value: *newtons}
	}
	return nil
}

func decodeRow(w HangingRow) *hanging.Row {
	r := &hanging.Row{TopBelowLine: length(w.TopBelowLineMm)}
	for _, p := range w.Panels {
		r.Panels = append(r.Panels, hanging.RowPanel{
			ID: p.ID, RingDrop: length(p.RingDropMm), Spacing: pointerTo(p.RingSpacingMm, length), Sag: pointerTo(p.SagMm, length), Length: pointerTo(p.WireLengthMm, length),
			Height: pointerTo(p.HeightMm, length), Position: pointerTo(p.PositionMm, length), Drop: pointerTo(p.FloorDropMm, length),
		})
	}
	if f := w.Floor; f != nil {
		r.Floor = &hanging.Floor{BelowLine: units.Length(f.LineAboveFloorMm), Drop: pointerTo(f.DropMm, length), Over: pointerTo(f.OverMm, length)}
	}
	return r
}

func decodeSite(v *catalog.Faults, w *HangingSite) hanging.Site {
	site := orZero(w)
	answer := func(name string, p *string) catalog.Answer {
		if p == nil {
			return catalog.Unknown
		}
		return wordIf[catalog.Answer](v, "/site/"+name, p)
	}
	return hanging.Site{OverPeople: answer("over_people", site.OverPeople), Earthquakes: answer("earthquake_region", site.EarthquakeRegion),
		Electrics: answer("near_electrics", site.NearElectrics), OutsideWall: answer("outside_wall", site.OutsideWall)}
}
