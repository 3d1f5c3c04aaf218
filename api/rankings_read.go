package api

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"sabinbook/internal/bands"
)

// ReadRanking answers GET /v1/rankings: a ranking asked by parameters, also as a table.
func (s *Server) ReadRanking(ctx context.Context, in ReadRankingRequestObject) (ReadRankingResponseObject, error) {
	brief, err := s.brief(ctx, questionOf(in.Params))
	if err != nil {
		return nil, ofParameters(err)
	}
	result, err := s.rank(ctx, brief)
	if err != nil { // also of a fill or a fabric that is not there
		return nil, ofParameters(err)
	}
	answer := encodeRanking(result)
	if form := callOf(ctx).form; form.format == formatCSV {
		return rankingTable(csvAnswer(tableOf(answer).write(form.sheet))), nil
	}
	return ReadRanking200JSONResponse{RankingReadJSONResponse{Body: answer}}, nil
}

// questionOf is the question that the parameters ask.
func questionOf(p ReadRankingParams) RankingQuestion {
	q := RankingQuestion{
		PanelCount: p.PanelCount, PanelCountFrom: p.PanelCountFrom, Currency: p.Currency, Fills: p.Fills, Fabrics: p.Fabrics, Families: p.Families, LayersMaxCount: p.LayersMaxCount, AirGapsMm: p.AirGapsMm,
		Order: p.Order, Basis: p.Basis, Show: p.Show, Limit: p.Limit, AsOfDate: p.AsOfDate, MaxPriceAgeDays: p.MaxPriceAgeDays, ConvertPrices: p.ConvertPrices, MaxRateAgeDays: p.MaxRateAgeDays, Region: p.Region, TaxBasis: p.TaxBasis,
		Panel:  &PanelDesign{Design: p.Design, WidthMm: p.WidthMm, HeightMm: p.HeightMm},
		Limits: &RankingLimits{PanelMassKg: p.PanelMassKg, DepthFromWallMm: p.DepthFromWallMm, ExtraTimeMin: p.ExtraTimeMin, Avoid: p.Avoid},
	}
	if p.Room != nil {
		q.Room = &RoomQuestion{StoredRoom: p.Room}
	}
	if p.Purpose != nil {
		q.Purpose = &Purpose{Name: *p.Purpose}
	}
	if p.Budget != nil {
		q.Limits.Budget = &Money{Amount: *p.Budget, Currency: p.Currency}
	}
	return q
}

// ofParameters turns faults of the question into faults of the parameters that it was made of:
// /air_gaps_mm/0 is of air_gaps_mm, /panel/width_mm of width_mm, /limits/budget/amount of budget.
func ofParameters(err error) error {
	if err == nil {
		return nil
	}
	kind, detail := problemOf(err)
	if kind != problemInvalid {
		return err
	}
	faults := slices.Clone(detail.faults)
	for i := range faults {
		path := strings.Split(strings.TrimPrefix(faults[i].pointer, "/"), "/")
		name := path[0]
		if len(path) > 1 && (name == "panel" || name == "limits") {
			name = path[1]
		}
		faults[i].parameter, faults[i].pointer = name, ""
	}
	return &requestError{kind: problemParameter, faults: faults}
}

// rankingTable is a ranking as CSV.
type rankingTable csvAnswer

// VisitReadRankingResponse writes it.
func (t rankingTable) VisitReadRankingResponse(w http.ResponseWriter) error {
	return csvAnswer(t).visit(w)
}

// tableOf lists the options of a ranking, one a line: those with a place, then those without a full
// price, which have no place and no total.
func tableOf(r Ranking) table {
	t := table{header: []string{"place", "tie_group", "key", "panel_count", "fill", "fill_name", "family", "thickness_mm", "layers_count", "air_gap_mm", "fabric", "fabric_name", "basis"}}
	for i := range bands.OctaveCount {
		t.header = append(t.header, fmt.Sprintf("alpha_%d_hz", bands.OctaveBand(i).Nominal()))
	}
	t.header = append(t.header, "area_m2", "nrc", "alpha_w", "total", "at_least", "per_panel", "currency", "area_m2_per_currency_unit", "extra_time_min", "panel_mass_kg", "depth_from_wall_mm", "room_least_count",
		"best_share", "place_low", "place_high", "beaten_by", "oldest_price_date", "cautions")
	converted := r.Inputs.ConvertPrices != nil
	if converted {
		t.header = append(t.header, "exchange_rate_ids")
	}
	for _, o := range append(append([]RankedOption{}, r.Options...), r.NotPriced...) {
		row := optionRow(o, r.Inputs.Currency)
		if converted {
			row = append(row, textCell(strings.Join(ratesOf(o.Cost), " ")))
		}
		t.rows = append(t.rows, row)
	}
	return t
}

// ratesOf are the ids of the exchange rates on which a cost rests, each once.
func ratesOf(c OptionCost) []string {
	var ids []string
	see := func(by *Conversion) {
		if by != nil {
			ids = append(ids, by.RateID)
		}
	}
	for _, l := range c.Lines {
		see(l.Conversion)
	}
	for _, o := range c.Orders {
		see(o.Conversion)
	}
	slices.Sort(ids)
	return slices.Compact(ids)
}

func optionRow(o RankedOption, currency string) []cell {
	place, group := cell{}, cell{}
	if o.Place != nil {
		place = wholeCell(*o.Place)
	}
	var low, high, share cell
	if l := o.Likely; l != nil {
		group, share, low, high = wholeCell(l.TieGroup), numberCell(l.BestShare), wholeCell(l.PlaceLow), wholeCell(l.PlaceHigh)
	}
	row := []cell{place, group, textCell(o.Key), wholeCell(o.PanelCount), textCell(o.Fill.Slug), textCell(o.Fill.Name), textCell(o.Family), numberCell(o.ThicknessMm), wholeCell(o.LayersCount),
		numberCell(o.AirGapMm), textCell(o.Fabric.Slug), textCell(o.Fabric.Name), textCell(o.Absorption.Basis)}
	octaves := map[int64]RankedOctave{}
	for _, b := range o.Absorption.Octaves {
		octaves[b.OctaveHz] = b
	}
	for i := range bands.OctaveCount {
		c := cell{}
		if b, ok := octaves[int64(bands.OctaveBand(i).Nominal())]; ok {
			c = numberCell(b.RankedAlpha)
		}
		row = append(row, c)
	}
	weighted := cell{}
	if w := o.Ratings.Weighted; w != nil {
		weighted = numberCell(w.AlphaW)
	}
	least := cell{} // of a room that such panels do not bring within its target there is none
	if o.Room != nil && o.Room.Reached {
		least = wholeCell(o.Room.LeastCount)
	}
	cautions := make([]string, len(o.Cautions))
	for i, c := range o.Cautions {
		cautions[i] = c.Code
	}
	return append(row, numberCell(o.Absorption.AreaM2), numberCellIf(o.Ratings.Nrc), weighted, moneyCell(o.Cost.Total), moneyCell(&o.Cost.AtLeast), moneyCell(o.Cost.PerPanel), textCell(currency),
		numberCellIf(o.AreaM2PerCurrencyUnit), numberCellIf(o.Burden.ExtraTimeMin), numberCellIf(o.PanelMassKg), numberCell(o.DepthFromWallMm), least, share, low, high, textCellIf(o.BeatenBy),
		textCellIf(o.Cost.OldestPriceDate), textCell(strings.Join(cautions, " ")))
}
