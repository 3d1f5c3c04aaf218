package api

import (
	"sabinbook/internal/catalog"
	"sabinbook/internal/handling"
	"sabinbook/internal/ranking"
	"sabinbook/internal/units"
)

func decodeLimits(v *catalog.Faults, w *RankingLimits) ranking.Limits {
	if w == nil {
		return ranking.Limits{}
	}
	l := ranking.Limits{Budget: decodeMoneyIf(v, "/limits/budget", w.Budget), Mass: or(w.PanelMassKg, func(x float64) units.Mass { return units.Mass(x) }, 0),
		Depth: or(w.DepthFromWallMm, length, 0), Minutes: pointerTo(w.ExtraTimeMin, minutes),
		Avoid: listOf(w.Avoid, func(x string) handling.Caution { return handling.Caution(x) })}
	// No limit is the zero of the brief; a limit of nothing would keep nobody.
	if w.PanelMassKg != nil && l.Mass == 0 {
		v.Add("/limits/panel_mass_kg", "out_of_range", "must be above 0 kg", "give the most that one panel may weigh, or leave it out")
	}
	if w.DepthFromWallMm != nil && l.Depth == 0 {
		v.Add("/limits/depth_from_wall_mm", "out_of_range", "must be above 0 mm", "give how far the face may stand from the wall, or leave it out")
	}
	if f := w.Fire; f != nil {
		l.Fire = &ranking.FireDemand{Scheme: catalog.FireScheme(f.Scheme), Codes: f.Codes, Of: f.Of}
	}
	return l
}

func encodeLimits(l ranking.Limits) *RankingLimits {
	out := &RankingLimits{Budget: encodeMoneyIf(l.Budget), PanelMassKg: knownAs(l.Mass, number), DepthFromWallMm: knownAs(l.Depth, number),
		ExtraTimeMin: pointerTo(l.Minutes, number[units.Minutes])}
	if len(l.Avoid) > 0 {
		out.Avoid = place(listOf(&l.Avoid, text[handling.Caution]))
	}
	if f := l.Fire; f != nil {
		out.Fire = &FireDemand{Scheme: string(f.Scheme), Codes: f.Codes, Of: f.Of}
	}
	return out
}

func encodeLikely(l *ranking.Likely) *Likely {
	if l == nil {
		return nil
	}
	out := &Likely{TieGroup: int64(l.Group), BestShare: rounded(l.Best, 4), PlaceLow: int64(l.Low), PlaceHigh: int64(l.High), Drivers: make([]Driver, len(l.Drivers))}
	for i, d := range l.Drivers {
		out.Drivers[i] = Driver{What: d.What, Of: refIf(d.Of), Share: rounded(d.Share, 3)}
	}
	return out
}
