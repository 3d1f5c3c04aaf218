package api

import (
	"context"
	"fmt"

	"github.com/oapi-codegen/runtime"

	"sabinbook/internal/money"
	"sabinbook/internal/ranking"
)

// EstimateCost answers POST /v1/cost-estimates.
func (s *Server) EstimateCost(ctx context.Context, in EstimateCostRequestObject) (EstimateCostResponseObject, error) {
	question, err := s.single(ctx, *in.Body)
	if err != nil {
		return nil, err
	}
	done, err := s.slot(ctx)
	if err != nil {
		return nil, err
	}
	defer done()
	stock, err := s.prepared(ctx)
	if err != nil {
		return nil, err
	}
	answer, err := stock.CostOf(question)
	if err != nil {
		return nil, asOfSingle(err)
	}
	return EstimateCost200JSONResponse{CostAnswerJSONResponse{Body: encodeCosted(question, answer)}}, nil
}

// single decodes a question by way of the ranking that holds the one build alone; the error
// names all faults.
func (s *Server) single(ctx context.Context, w CostQuestion) (ranking.Single, error) {
	brief, err := s.brief(ctx, asRanking(w))
	return singleOf(w, brief, err)
}

func singleOf(w CostQuestion, brief ranking.Brief, err error) (ranking.Single, error) {
	q := ranking.Single{Brief: brief, Thickness: length(w.ThicknessMm)}
	return q, asOfSingle(joined(err, q.Validate()))
}

// asRanking is the ranking that holds the one build alone.
func asRanking(w CostQuestion) RankingQuestion {
	layers, gap := or(w.LayersCount, count, 1), orZero(w.AirGapMm)
	return RankingQuestion{
		PanelCount: &w.PanelCount, Panel: w.Panel, LayersMaxCount: place(int64(layers)), AirGapsMm: &[]float64{gap}, Fills: &[]string{w.Fill}, Fabrics: &[]string{w.Fabric},
		Currency: w.Currency, AsOfDate: w.AsOfDate, MaxPriceAgeDays: w.MaxPriceAgeDays, ConvertPrices: w.ConvertPrices, MaxRateAgeDays: w.MaxRateAgeDays, Region: w.Region, TaxBasis: w.TaxBasis, OwnedRoles: w.OwnedRoles, OldPrices: w.OldPrices, StockOnHand: w.StockOnHand,
		FabricWastePercent: w.FabricWastePercent, LooseWastePercent: w.LooseWastePercent, KerfMm: w.KerfMm, MinPieceMm: w.MinPieceMm, NodeLimitCount: w.NodeLimitCount, AllowPadding: w.AllowPadding,
		Handling: w.Handling,
	}
}

// singleNames are the places of a ranking's question that a cost question calls otherwise.
var singleNames = map[string]string{"/fills/0": "/fill", "/fabrics/0": "/fabric", "/air_gaps_mm/0": "/air_gap_mm", "/layers_max_count": "/layers_count"}

// asOfSingle is an error about the ranking's question with the names of the cost question.
func asOfSingle(err error) error {
	if err == nil {
		return nil
	}
	kind, detail := problemOf(err)
	if kind != problemInvalid {
		return err
	}
	var faults []fault
	for _, f := range detail.faults {
		if name, ok := singleNames[f.pointer]; ok {
			f.pointer = name
		}
		faults = append(faults, f)
	}
	return &requestError{kind: problemInvalid, faults: faults}
}

// checkCost is the check of a question that breaks the contract elsewhere.
func (s *Server) checkCost(value any) []fault {
	var w CostQuestion
	if runtime.BindJSONValue(value, &w) != nil {
		return nil
	}
	brief, err := s.briefOf(withoutStored(asRanking(w)))
	_, err = singleOf(w, brief, err)
	return faultsIn(err)
}

func encodeCosted(q ranking.Single, c ranking.Costed) CostEstimate {
	r := encodeRanking(c.Result)
	out := CostEstimate{CatalogRevision: r.CatalogRevision, ModelVersion: r.ModelVersion, Option: encodeOption(c.Option()), Curve: make([]CostPoint, len(c.Curve)),
		NextPanels: nextPanels(c), Notes: append(r.Notes, thresholdNotes(c)...), Suppliers: r.Suppliers, Sources: r.Sources, ExchangeRates: r.ExchangeRates}
	out.Inputs = encodeSingle(q, r.Inputs)
	out.EnoughFor = make([]EnoughFor, len(c.Reaches))
	for i, r := range c.Reaches {
		out.EnoughFor[i] = EnoughFor{Need: r.Need, PanelCount: int64(r.Panels), OrMore: r.More}
	}
	before := new(money.Zero(q.Brief.Terms.Currency))
	for i, p := range c.Curve {
		point := CostPoint{PanelCount: int64(p.Panels), Total: encodeMoneyIf(p.Total), AtLeast: encodeMoney(p.AtLeast), Status: string(p.Status)}
		if p.Total != nil && before != nil {
			point.Step = place(encodeDifference(p.Total.Sub(*before)))
		}
		out.Curve[i], before = point, p.Total
	}
	return out
}

// nextCount is the number of panels after those that are asked for of which the words tell.
// Convention.
const nextCount = 5

// nextPanels says what the next panels would cost, and where the next step of the staircase is.
func nextPanels(c ranking.Costed) Note {
	n := Note{Code: "next_panels"}
	asked := c.Result.Brief.PanelCount
	total := func(panels int) *money.Amount {
		if panels < 1 || panels > len(c.Curve) {
			return nil
		}
		return c.Curve[panels-1].Total
	}
	now, next := total(asked), total(asked+1)
	if now == nil || next == nil {
		n.Code, n.Text = "next_panels_unknown", "What more panels would cost cannot be told, because something has no price or the curve ends here."
		return n
	}
	var short []string
	for _, r := range c.Reaches {
		if r.Panels == asked && !r.More {
			short = append(short, r.Need)
		}
	}
	average := now.TimesRatio(1, int64(asked))
	currency := string(now.Currency())
	var steps, high []string
	for panels := asked + 1; panels <= asked+nextCount && total(panels) != nil; panels++ {
		step := total(panels).Sub(*total(panels - 1))
		steps = append(steps, step.String())
		if step.Cmp(average) > 0 {
			high = append(high, fmt.Sprint(panels))
		}
	}
	n.Text = fmt.Sprintf("The next panels would cost %s %s more, one after the other; %d cost %s a panel.", listed(steps, "and"), currency, asked, average)
	if len(high) > 0 {
		these := "Panel %s costs"
		if len(high) > 1 {
			these = "Panels %s cost"
		}
		n.Text += fmt.Sprintf(" "+these+" more than that, because another pack, board or order is needed.", listed(high, "and"))
	}
	if len(short) > 0 {
		n.Text += fmt.Sprintf(" For panel %d more must be bought of: %s.", asked+1, listed(short, "and"))
	}
	for panels := asked + 1; total(panels) != nil; panels++ {
		if total(panels).Cmp(*now) < 0 {
			n.Text += fmt.Sprintf(" %d panels would cost %s %s less than %d: more goods reach a threshold of delivery.", panels, now.Sub(*total(panels)), currency, asked)
			break
		}
	}
	return n
}

// thresholdNotes say how far each delivery is from being free.
func thresholdNotes(c ranking.Costed) []Note {
	var out []Note
	for _, o := range c.Option().Cost.Orders {
		if o.ToFree != nil {
			out = append(out, Note{Code: "free_delivery", Text: fmt.Sprintf("%s charges %s %s for delivery; goods for %s %s more, with tax, would bring it down.",
				o.Supplier.Name, o.Fee, o.Fee.Currency(), o.ToFree, o.ToFree.Currency())})
		}
	}
	return out
}

// encodeSingle writes the question as it was used; in is the ranking's question of its brief.
func encodeSingle(q ranking.Single, in RankingQuestion) CostQuestion {
	return CostQuestion{
		PanelCount: *in.PanelCount, Panel: in.Panel, Fill: q.Brief.Fills[0], ThicknessMm: float64(q.Thickness), LayersCount: in.LayersMaxCount,
		AirGapMm: place(float64(q.Brief.AirGaps[0])), Fabric: q.Brief.Fabrics[0],
		Currency: in.Currency, AsOfDate: in.AsOfDate, MaxPriceAgeDays: in.MaxPriceAgeDays, ConvertPrices: in.ConvertPrices, MaxRateAgeDays: in.MaxRateAgeDays, Region: in.Region, TaxBasis: in.TaxBasis, OwnedRoles: in.OwnedRoles, OldPrices: in.OldPrices, StockOnHand: in.StockOnHand,
		FabricWastePercent: in.FabricWastePercent, LooseWastePercent: in.LooseWastePercent, KerfMm: in.KerfMm, MinPieceMm: in.MinPieceMm, NodeLimitCount: in.NodeLimitCount, AllowPadding: in.AllowPadding,
		Handling: in.Handling,
	}
}
