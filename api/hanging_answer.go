package api

import (
	"sabinbook/internal/handling"
	"sabinbook/internal/hanging"
	"sabinbook/internal/units"
)

// encodeHanging writes an answer beside the question as it was asked, every default filled in.
func encodeHanging(w HangingQuestion, q hanging.Question, a hanging.Answer) HangingCheck {
	w.LoadFactor, w.DesignFactor = &a.LoadFactor, &a.DesignFactor
	w.Site = &HangingSite{OverPeople: place(string(q.Site.OverPeople)), EarthquakeRegion: place(string(q.Site.Earthquakes)),
		NearElectrics: place(string(q.Site.Electrics)), OutsideWall: place(string(q.Site.OutsideWall))}
	if w.Hardware == nil {
		w.Hardware = &[]HangingHardware{}
	}
	out := HangingCheck{Inputs: w, ModelVersion: hanging.ModelVersion, Mass: encodeTotal(a.Mass), Wire: encodeResults(a.Wire), Loads: encodeResults(a.Loads),
		Checks: make([]HangingVerdict, len(a.Checks)), Cautions: make([]Note, len(a.Cautions)), Notes: hangingNotes(a)}
	for i, c := range a.Checks {
		out.Checks[i] = HangingVerdict{ID: known(c.ID), Role: string(c.Role), Verdict: string(c.Verdict), Words: c.Verdict.Text(), Reason: known(string(c.Reason)), Fix: known(c.Reason.Text()),
			Load: encodeResultIf(c.Load), EvenShare: encodeResultIf(c.Even), Needed: encodeResultIf(c.Needed), Declared: encodeResultIf(c.Declared), Factor: known(rounded(c.Factor, 4))}
	}
	for i, c := range a.Cautions {
		words, source := c.Text()
		out.Cautions[i] = Note{Code: string(c), Text: words, Source: &source}
	}
	if a.Row != nil {
		out.Row = &HangingPlaces{Places: make([]HangingPlace, len(a.Row.Places)), FloorStep: encodeResultIf(a.Row.Step)}
		for i, p := range a.Row.Places {
			out.Row.Places[i] = HangingPlace{ID: p.ID, BelowLine: encodeResult(p.BelowLine), AboveFloor: encodeResultIf(p.AboveFloor), Clearance: encodeResultIf(p.Clearance),
				FloorDrop: encodeResultIf(p.FloorDrop), Sag: encodeResultIf(p.Sag), WireAngle: encodeResultIf(p.Angle), TensionShare: encodeResultIf(p.Tension)}
			if p.HookAboveEdge > 0 {
				out.Row.Places[i].HookAboveEdgeMm = place(rounded(float64(p.HookAboveEdge), 4))
			}
		}
	}
	if a.Damp != nil {
		out.ColdWall = &HangingDamp{Outcome: string(a.Damp.Outcome), Figures: encodeResults(a.Damp.Figures)}
	}
	return out
}

func encodeTotal(t hanging.Total) HangingMass {
	kg := func(m units.Mass) *float64 { return place(rounded(float64(m), 6)) }
	out := HangingMass{Known: t.Known, Weighed: t.Weighed, Lines: make([]HangingMassLine, len(t.Lines)), UnknownParts: []string{}}
	if t.Known {
		out.MassKg, out.MassLowKg, out.MassHighKg = kg(t.Mass), kg(t.Low), kg(t.High)
	} else {
		out.KnownMassKg = kg(t.Mass)
	}
	for i, l := range t.Lines {
		out.Lines[i] = HangingMassLine{Kind: string(l.Kind), Name: known(l.Name), Known: l.Known, Stated: !l.NotStatedAtAll}
		if !l.Known {
			name := l.Name
			if name == "" {
				name = string(l.Kind)
			}
			out.UnknownParts = append(out.UnknownParts, name)
			continue
		}
		line := &out.Lines[i]
		line.MassKg, line.MassLowKg, line.MassHighKg, line.RangeStated = kg(l.Mass), kg(l.Low), kg(l.High), &l.RangeStated
		line.Formula, line.Source, line.Inputs = &l.Formula, &l.Source, place(encodeHungInputs(l.Inputs))
	}
	return out
}

func encodeHungInputs(list []hanging.Input) []Input {
	inputs := make([]handling.Input, len(list))
	for i, in := range list {
		inputs[i] = handling.Input(in)
	}
	return encodeInputs(inputs)
}

func encodeResult(f hanging.Figure) HangingFigure {
	return HangingFigure{Name: f.Name, Formula: f.Formula, Inputs: encodeHungInputs(f.Inputs), Value: rounded(f.Value, 4), Unit: known(f.Unit), Source: f.Source}
}

func encodeResultIf(f *hanging.Figure) *HangingFigure {
	if f == nil {
		return nil
	}
	return place(encodeResult(*f))
}

func encodeResults(list []hanging.Figure) []HangingFigure {
	out := make([]HangingFigure, len(list))
	for i, f := range list {
		out[i] = encodeResult(f)
	}
	return out
}

// hangingNotes say what the figures of a hanging check mean.
func hangingNotes(a hanging.Answer) []Note {
	var notes []Note
	if !a.Mass.Weighed && a.Mass.Known {
		notes = append(notes, Note{Code: "range_of_mass", Text: "The ends of the mass are those at which all parts are light or heavy together, which is wider than chance makes it."})
	}
	if len(a.Loads) > 0 {
		notes = append(notes, Note{Code: "heavy_end", Text: "Loads are worked out with the heavy end of the mass, for a panel at rest."})
	}
	if len(a.Wire) > 0 {
		notes = append(notes, Note{Code: "shares_of_weight", Text: "tension_share and side_pull_share are what the weight of the panel is multiplied by, in the wire and at each ring, and sideways at each ring."})
	}
	return append(notes, Note{Code: "local_rules_first", Text: localText})
}
