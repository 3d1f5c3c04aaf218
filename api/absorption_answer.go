package api

import (
	"slices"

	"sabinbook/internal/absorber"
	"sabinbook/internal/absorption"
	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
	"sabinbook/internal/ratings"
)

// encodeEstimate writes an answer beside the question as it was asked, every default filled
// in. Coefficients are not rounded.
func encodeEstimate(w AbsorptionQuestion, a absorption.Answer) AbsorptionEstimate {
	e := a.Estimate
	rated := encodeRatings(a.Rating)
	out := AbsorptionEstimate{
		Inputs: asUsed(w, a.Question), ModelVersion: absorption.ModelVersion, CatalogRevision: known(a.CatalogRevision),
		Basis: string(e.Basis), Alpha: bandSet(e, func(b absorption.Bounded) bands.Curve { return b.Value }),
		Low:      bandSet(e, func(b absorption.Bounded) bands.Curve { return b.Low }),
		High:     bandSet(e, func(b absorption.Bounded) bands.Curve { return b.High }),
		Figures:  make([]LayerFigure, len(a.Figures)),
		Cover:    encodeCover(e.Cover),
		Ratings:  rated,
		Warnings: weaknesses(e), Notes: estimateNotes(a), Sources: make([]SourceRef, len(a.Sources)),
		Practical: encodePractical(a.Rating.Practical),
	}
	if e.Test != nil {
		out.Test, out.TestChoice = place(encodeRef(e.Test.Meta)), place(choiceNote(e))
	}
	for i, f := range a.Figures {
		out.Figures[i] = LayerFigure{LayerIndex: int64(f.Layer), Quantity: quantityOf(a.Question.Layers[f.Layer]), Value: f.Value, Low: known(f.Low), High: known(f.High),
			Method: f.Method, FaceVelocityMmPerS: known(f.Velocity * 1000)}
	}
	for i, s := range a.Sources {
		out.Sources[i] = encodeSourceRef(s)
	}
	return out
}

// asUsed is the question with every default filled in. Members keep the digits in which they
// were asked.
func asUsed(w AbsorptionQuestion, q absorption.Question) AbsorptionQuestion {
	c := q.Conditions
	w.Incidence, w.Reaction = place(string(c.Incidence)), place(string(c.Reaction))
	w.TemperatureC, w.PressurePa, w.UseTests = &c.Air.Temperature, &c.Air.Pressure, place(!q.WithoutTests)
	w.Layers = slices.Clone(w.Layers)
	for i, l := range q.Layers {
		switch l := l.(type) {
		case absorption.FillLayer:
			if l.Model == "" {
				w.Layers[i].Model = place(string(absorber.AC92))
			}
		case absorption.FabricLayer:
			w.Layers[i].HeldStill = &l.Held
			if p := w.Layers[i].PistonTest; p != nil && p.LayersCount == nil {
				test := *p
				test.LayersCount = place(int64(1))
				w.Layers[i].PistonTest = &test
			}
		}
	}
	return w
}

func quantityOf(l absorption.Layer) string {
	if _, fabric := l.(absorption.FabricLayer); fabric {
		return "flow_resistance_pa_s_per_m"
	}
	return "airflow_resistivity_pa_s_per_m2"
}

func bandSet(e absorption.Estimate, curve func(absorption.Bounded) bands.Curve) BandSet {
	set := BandSet{Octaves: encodeBands(curve(e.Octaves))}
	if e.Thirds.Value.Len() > 0 {
		set.Thirds = place(encodeBands(curve(e.Thirds)))
	}
	return set
}

func encodeCover(effects *[bands.OctaveCount]absorption.Effect) *CoverEffect {
	if effects == nil {
		return nil
	}
	out := &CoverEffect{Text: coverWords(*effects)}
	for i, e := range effects {
		verdict, sure := e.Verdict()
		out.Octaves = append(out.Octaves, OctaveEffect{OctaveHz: int64(bands.OctaveBand(i).Nominal()), Change: rounded(e.Change, 4),
			Low: rounded(e.Low, 4), High: rounded(e.High, 4), Verdict: string(verdict), Sure: sure})
	}
	return out
}

func encodePractical(p ratings.Practical) Bands {
	curve := bands.NewCurve(bands.Octave)
	for i := range bands.OctaveCount {
		if x, ok := p.At(i); ok {
			curve.Set(bands.OctaveBand(i), x.Float())
		}
	}
	return encodeBands(curve)
}

func encodeSourceRef(s catalog.Source) SourceRef {
	return SourceRef{ID: string(s.ID), Slug: string(s.Slug), Name: s.Name, Citation: s.Citation, Licence: s.Licence,
		Evidence: string(s.Evidence), Invented: s.Invented}
}
