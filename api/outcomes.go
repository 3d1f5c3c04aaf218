package api

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"

	"github.com/oapi-codegen/runtime"

	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
	"sabinbook/internal/costing"
	"sabinbook/internal/handling"
	"sabinbook/internal/shortlist"
	"sabinbook/internal/units"
)

// measuredMembers lists the places of six measured octaves.
func measuredMembers(w *MeasuredTimes) [bands.OctaveCount]**float64 {
	return [bands.OctaveCount]**float64{&w.Time125HzS, &w.Time250HzS, &w.Time500HzS, &w.Time1000HzS, &w.Time2000HzS, &w.Time4000HzS}
}

func decodeMeasured(w *MeasuredTimes) bands.Curve {
	c := bands.NewCurve(bands.Octave)
	if w == nil {
		return c
	}
	for i, p := range measuredMembers(w) {
		if *p != nil {
			c.Set(bands.OctaveBand(i), **p)
		}
	}
	return c
}

func encodeMeasured(c bands.Curve) *MeasuredTimes {
	if c.Len() == 0 {
		return nil
	}
	w := new(MeasuredTimes)
	for i, p := range measuredMembers(w) {
		if t, ok := c.At(bands.OctaveBand(i)); ok {
			*p = &t
		}
	}
	return w
}

// maybe carries a value that may be absent over to another type.
func maybe[T, U any](p *U, as func(U) T) *T {
	if p == nil {
		return nil
	}
	return place(as(*p))
}

func asMass(x float64) units.Mass     { return units.Mass(x) }
func asLength(x float64) units.Length { return units.Length(x) }
func asCount(n int64) int             { return int(n) }

func decodeOutcome(v *catalog.Faults, w Outcome) catalog.Outcome {
	o := catalog.Outcome{Key: w.Key, Panels: int(w.PanelsCount), Built: catalog.Date(w.BuiltDate), Persons: maybe(w.PersonsCount, asCount), Sessions: maybe(w.SessionsCount, asCount),
		PanelMass: maybe(w.PanelMassKg, asMass), LeftoverMass: maybe(w.LeftoverMassKg, asMass), FabricBought: maybe(w.FabricBoughtMm, asLength), FabricUsed: maybe(w.FabricUsedMm, asLength),
		Before: decodeMeasured(w.DecayTimesBefore), After: decodeMeasured(w.DecayTimesAfter), Note: orZero(w.Note)}
	for i, l := range orZero(w.Lines) {
		at := fmt.Sprintf("/lines/%d", i)
		o.Lines = append(o.Lines, catalog.PaidLine{What: l.What, Need: orZero(l.Need), Paid: decodeMoneyIf(v, at+"/paid", l.Paid), ForNothing: orZero(l.HadForNothing),
			Replacement: decodeMoneyIf(v, at+"/replacement_value", l.ReplacementValue), Note: orZero(l.Note)})
	}
	for _, m := range orZero(w.Minutes) {
		o.Minutes = append(o.Minutes, catalog.StepTime{Step: catalog.Step(m.Step), Minutes: units.Minutes(m.TimeMin)})
	}
	return o
}

func encodeOutcome(o catalog.Outcome) Outcome {
	w := Outcome{Key: o.Key, PanelsCount: int64(o.Panels), BuiltDate: string(o.Built), PersonsCount: maybe(o.Persons, whole), SessionsCount: maybe(o.Sessions, whole),
		PanelMassKg: maybe(o.PanelMass, number), LeftoverMassKg: maybe(o.LeftoverMass, number), FabricBoughtMm: maybe(o.FabricBought, number), FabricUsedMm: maybe(o.FabricUsed, number),
		DecayTimesBefore: encodeMeasured(o.Before), DecayTimesAfter: encodeMeasured(o.After), Note: known(o.Note),
		Evidence: place(string(handling.ByUser)), RecordTime: place(timeText(o.Recorded)), RecordedBy: place(o.RecordedBy)}
	if len(o.Lines) > 0 {
		w.Lines = place(everyOf(o.Lines, func(l catalog.PaidLine) PaidLine {
			return PaidLine{What: l.What, Need: known(l.Need), Paid: encodeMoneyIf(l.Paid), HadForNothing: known(l.ForNothing), ReplacementValue: encodeMoneyIf(l.Replacement), Note: known(l.Note)}
		}))
	}
	if len(o.Minutes) > 0 {
		w.Minutes = place(everyOf(o.Minutes, func(m catalog.StepTime) StepTime {
			return StepTime{Step: string(m.Step), TimeMin: float64(m.Minutes)}
		}))
	}
	return w
}

// outcomeOf reads an outcome and checks it, but for its key.
func (s *Server) outcomeOf(w Outcome) (catalog.Outcome, error) {
	v := &catalog.Faults{}
	o := decodeOutcome(v, w)
	return o, joined(v.Err(), o.Validate(s.today()))
}

// checkOutcome is the check of an outcome whose body breaks the contract elsewhere.
func (s *Server) checkOutcome(value any) []fault {
	var w Outcome
	if runtime.BindJSONValue(value, &w) != nil {
		return nil
	}
	_, err := s.outcomeOf(w)
	return faultsIn(err)
}

// keptAnswer is what the frozen part of a shortlist tells of its options.
type keptAnswer struct {
	Question struct {
		TaxBasis string `json:"tax_basis"`
	} `json:"question"`
	Answer struct {
		Options []RankedOption `json:"options"`
	} `json:"answer"`
}

// estimateOf reads what the frozen part of a shortlist says of the option with a key.
func estimateOf(frozen, key string) (shortlist.Estimate, error) {
	var kept keptAnswer
	if err := json.Unmarshal([]byte(frozen), &kept); err != nil {
		return shortlist.Estimate{}, fmt.Errorf("api: frozen part of a shortlist: %w", err)
	}
	i := slices.IndexFunc(kept.Answer.Options, func(o RankedOption) bool { return o.Key == key })
	if i < 0 {
		return shortlist.Estimate{}, fmt.Errorf("api: frozen part of a shortlist: it has no option %s", key)
	}
	o := kept.Answer.Options[i]
	v := &catalog.Faults{}
	e := shortlist.Estimate{Panels: int(o.PanelCount), Cash: decodeMoneyIf(v, "/total", o.Cost.Total), Replacement: decodeMoneyIf(v, "/replacement_total", o.Cost.ReplacementTotal),
		WithoutTax: kept.Question.TaxBasis == string(costing.TaxExcluded), PanelMass: maybe(o.PanelMassKg, asMass), Cloth: clothOf(o), Before: bands.NewCurve(bands.Octave), After: bands.NewCurve(bands.Octave)}
	for _, l := range o.Burden.Lines {
		e.Lines = append(e.Lines, handling.Line{Name: l.Name, Formula: l.Formula, Quantity: l.QuantityMin, Unit: "min", Evidence: handling.Evidence(l.Evidence), Note: orZero(l.Note),
			Inputs: everyOf(l.Inputs, func(in Input) handling.Input {
				return handling.Input{Name: in.Name, Value: in.Value, Unit: orZero(in.Unit)}
			})})
	}
	if o.Room != nil {
		for _, oct := range o.Room.Octaves {
			b, ok := bands.Parse(int(oct.OctaveHz))
			if !ok {
				v.Add("/octave_hz", "unknown_band", "is no octave", "")
				continue
			}
			e.Before.Set(b, oct.Before.SabineS)
			if oct.After != nil {
				e.After.Set(b, oct.After.SabineS)
			}
		}
	}
	if err := v.Err(); err != nil { // no fault of who asks
		return e, fmt.Errorf("api: frozen part of a shortlist: %v", err)
	}
	return e, nil
}

// clothOf is the length of fabric that the cut plan of an option needs, nil where lines disagree or do not tell.
func clothOf(o RankedOption) *units.Length {
	var cloth *units.Length
	for _, l := range o.Cost.Lines {
		for _, in := range l.Inputs {
			if l.Need != "fabric" || in.Name != "roll_length" {
				continue
			}
			length := units.Length(in.Value * 1000)
			if cloth != nil && *cloth != length {
				return nil
			}
			cloth = &length
		}
	}
	return cloth
}

// outcomeItem answers an outcome with its report.
func (s *Server) outcomeItem(l catalog.Shortlist, ref string, o catalog.Outcome, e shortlist.Estimate) OutcomeItemJSONResponse {
	it := s.shortlists().item(l, ref)
	out := OutcomeItemJSONResponse{Body: OutcomeAnswer{Outcome: encodeOutcome(o), Report: encodeReport(shortlist.Compare(e, o), e, o)}, Headers: OutcomeItemResponseHeaders{ETag: it.tag}}
	if it.moved != nil {
		out.Headers.ContentLocation = place(*it.moved + "/outcome")
	}
	return out
}

// GetOutcome answers GET /v1/shortlists/{id}/outcome.
func (s *Server) GetOutcome(ctx context.Context, in GetOutcomeRequestObject) (GetOutcomeResponseObject, error) {
	seen, err := s.seenShortlist(ctx, in.ID)
	if err != nil {
		return nil, err
	}
	l, frozen, o, err := s.store.Outcome(ctx, askerOf(ctx), string(seen.ID))
	if err != nil {
		return nil, err
	}
	e, err := estimateOf(frozen, o.Key)
	return GetOutcome200JSONResponse{s.outcomeItem(l, in.ID, o, e)}, err
}

// PutOutcome answers PUT /v1/shortlists/{id}/outcome.
func (s *Server) PutOutcome(ctx context.Context, in PutOutcomeRequestObject) (PutOutcomeResponseObject, error) {
	for attempt := 1; ; attempt++ {
		seen, err := s.ownShortlist(ctx, in.ID)
		if err != nil {
			return nil, err
		}
		if err := match(in.Params.IfMatch, seen.Meta); err != nil {
			return nil, err
		}
		o, err := s.outcomeOf(*in.Body)
		if err != nil {
			return nil, err
		}
		_, frozen, err := s.store.FrozenShortlist(ctx, askerOf(ctx), string(seen.ID))
		if err != nil {
			return nil, err
		}
		l, o, err := s.store.PutOutcome(ctx, memberOf(ctx), string(seen.ID), seen.Revision, o)
		repeat, err := again(in.Params.IfMatch, attempt, err)
		if err != nil {
			return nil, err
		}
		if repeat {
			continue
		}
		e, err := estimateOf(frozen, o.Key)
		return PutOutcome200JSONResponse{s.outcomeItem(l, in.ID, o, e)}, err
	}
}

// DeleteOutcome answers DELETE /v1/shortlists/{id}/outcome.
func (s *Server) DeleteOutcome(ctx context.Context, in DeleteOutcomeRequestObject) (DeleteOutcomeResponseObject, error) {
	for attempt := 1; ; attempt++ {
		seen, err := s.ownShortlist(ctx, in.ID)
		if err != nil {
			return nil, err
		}
		if err := match(in.Params.IfMatch, seen.Meta); err != nil {
			return nil, err
		}
		err = s.store.DeleteOutcome(ctx, memberOf(ctx), string(seen.ID), seen.Revision)
		if repeat, err := again(in.Params.IfMatch, attempt, err); !repeat {
			return DeleteOutcome204Response{}, err
		}
	}
}

func percent(p *float64) *float64 { return maybe(p, func(x float64) float64 { return rounded(x, 2) }) }

// figures writes an estimate, what came of it and the difference, rounded to a number of places.
func figures[T ~float64](c shortlist.Compared[T], places int) (estimate, actual, difference, per *float64) {
	as := func(x T) float64 { return rounded(float64(x), places) }
	return maybe(c.Estimate, as), maybe(c.Actual, as), maybe(c.Difference, as), percent(c.Percent)
}

func comparedTime(step catalog.Step, c shortlist.Compared[units.Minutes]) ComparedTime {
	w := ComparedTime{Step: knownAs(step, text)}
	w.EstimateMin, w.ActualMin, w.DifferenceMin, w.DifferencePercent = figures(c, 4)
	return w
}

func comparedDecay(c shortlist.Compared[float64]) ComparedDecay {
	var w ComparedDecay
	w.EstimateS, w.ActualS, w.DifferenceS, w.DifferencePercent = figures(c, 3)
	return w
}

func encodeReport(r shortlist.Report, e shortlist.Estimate, o catalog.Outcome) OutcomeReport {
	w := OutcomeReport{PanelsEstimatedCount: int64(e.Panels), PanelsBuiltCount: int64(o.Panels), ExtraTime: comparedTime("", r.Extra), FabricLeftPercent: percent(r.ClothLeft), FabricWastePercent: percent(r.ClothWaste),
		Steps: everyOf(r.Steps, func(s shortlist.StepCompared) ComparedTime { return comparedTime(s.Step, s.Time) }),
		Octaves: everyOf(r.Decay, func(d shortlist.DecayCompared) ComparedOctave {
			return ComparedOctave{OctaveHz: int64(d.Octave.Nominal()), Before: comparedDecay(d.Before), After: comparedDecay(d.After)}
		}), AllTimeMin: maybe(r.All, func(m units.Minutes) float64 { return rounded(float64(m), 4) }), Notes: reportNotes(r)}
	w.PanelMass.EstimateKg, w.PanelMass.ActualKg, w.PanelMass.DifferenceKg, w.PanelMass.DifferencePercent = figures(r.PanelMass, 4)
	w.Cash = ComparedMoney{Estimate: encodeMoneyIf(r.Cash.Estimate), Actual: encodeMoneyIf(r.Cash.Actual), Difference: encodeDifferenceIf(r.Cash.Difference), DifferencePercent: percent(r.Cash.Percent)}
	if c := r.Replacement; c != nil {
		w.Replacement = &ComparedMoney{Estimate: encodeMoneyIf(c.Estimate), Actual: encodeMoneyIf(c.Actual), Difference: encodeDifferenceIf(c.Difference), DifferencePercent: percent(c.Percent)}
	}
	return w
}

func reportNotes(r shortlist.Report) []Note {
	notes := []Note{}
	if r.OtherCount {
		notes = append(notes, Note{Code: "other_panel_count", Text: "Not as many panels were built as the option was kept for, so nothing that depends on their number has a difference: cash, minutes, fabric, and decay times with the panels."})
	}
	if r.OtherCurrency {
		notes = append(notes, Note{Code: "other_currency", Text: "What was paid is in another currency than the estimate; nothing is converted, and there is no difference."})
	}
	if r.WithoutTax && r.Cash.Difference != nil {
		notes = append(notes, Note{Code: "estimate_without_tax", Text: "The estimate is without tax, as the question asked: the differences of amounts are of the same thing only if the lines are without tax too."})
	}
	return notes
}

// GetExperience answers GET /v1/experience.
func (s *Server) GetExperience(ctx context.Context, _ GetExperienceRequestObject) (GetExperienceResponseObject, error) {
	done, err := s.slot(ctx)
	if err != nil {
		return nil, err
	}
	defer done()
	var cases []shortlist.Case
	err = s.store.GroupOutcomes(ctx, func(o catalog.Outcome, frozen string) error {
		e, err := estimateOf(frozen, o.Key)
		cases = append(cases, shortlist.Case{Estimate: e, Outcome: o})
		return err
	})
	return GetExperience200JSONResponse{ExperienceAnswerJSONResponse{Body: encodeExperience(shortlist.Learn(cases))}}, err
}

func encodeExperience(x shortlist.Experience) Experience {
	term := func(m units.Minutes) float64 { return rounded(float64(m), 2) }
	learned := func(l shortlist.Learned) LearnedFigure {
		return LearnedFigure{Name: l.Name, Unit: l.Unit, Value: rounded(l.Median, 2), Low: rounded(l.Least, 2), High: rounded(l.Most, 2), OutcomesCount: int64(l.Cases)}
	}
	w := Experience{Evidence: string(handling.ByUser), OutcomesCount: int64(x.Cases), FabricWastePercent: percent(x.Waste), Notes: []Note{},
		PerPanel: everyOf(x.PerPanel, learned), Terms: everyOf(x.Terms, learned),
		Handling: HandlingTerms{OverheadMin: maybe(x.Handling.Overhead, term), CuttingMinPerM: maybe(x.Handling.CutPerMetre, term), WrapMinPerM2: maybe(x.Handling.WrapPerArea, term)}}
	if slices.ContainsFunc(x.Terms, func(l shortlist.Learned) bool { return l.Name == shortlist.SealingTerm }) {
		w.Notes = append(w.Notes, Note{Code: "sealing_is_asked_for", Text: "sealing_min_per_m stands under terms alone: in a question it also asks for sealed edges, so it is copied by hand where that is meant."})
	}
	return w
}
