package api

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/oapi-codegen/runtime"

	"sabinbook/internal/buying"
	"sabinbook/internal/catalog"
	"sabinbook/internal/costing"
	"sabinbook/internal/money"
	"sabinbook/internal/ranking"
	"sabinbook/internal/readymade"
)

// CompareBuildAndBuy answers POST /v1/build-or-buy.
func (s *Server) CompareBuildAndBuy(ctx context.Context, in CompareBuildAndBuyRequestObject) (CompareBuildAndBuyResponseObject, error) {
	build, wrong := s.single(ctx, in.Body.Build)
	if kind, _ := problemOf(wrong); wrong != nil && kind != problemInvalid {
		return nil, wrong
	}
	question, err := buildOrBuyOf(*in.Body, build, wrong)
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
	answer, err := readymade.For(stock, question)
	if err != nil {
		return nil, asOfBuild(err)
	}
	return CompareBuildAndBuy200JSONResponse{BuildOrBuyAnswerJSONResponse{Body: encodeBuildOrBuy(answer)}}, nil
}

// checkBuildOrBuy is the check of a question that breaks the contract elsewhere.
func (s *Server) checkBuildOrBuy(value any) []fault {
	var w BuildOrBuyQuestion
	if runtime.BindJSONValue(value, &w) != nil {
		return nil
	}
	brief, err := s.briefOf(withoutStored(asRanking(w.Build)))
	build, wrong := singleOf(w.Build, brief, err)
	_, err = buildOrBuyOf(w, build, wrong)
	return faultsIn(err)
}

// buildOrBuyOf decodes a question whose build is decoded, with what is wrong in that, and applies
// its rules; the error names all faults.
func buildOrBuyOf(w BuildOrBuyQuestion, build ranking.Single, wrong error) (readymade.Question, error) {
	if wrong != nil {
		wrong = moved(wrong, func(pointer string) string { return "/build" + pointer })
	}
	v := &catalog.Faults{}
	if w.Purpose != nil {
		build.Brief.Purpose = decodePurpose(v, *w.Purpose)
	}
	r := w.ReadyMade
	q := readymade.Question{
		Build: build,
		Rival: readymade.Rival{Panel: orZero(r.Panel), Width: or(r.WidthMm, length, 0), Height: or(r.HeightMm, length, 0)},
	}
	var absorption error
	if r.Absorption != nil {
		q.Rival.Alpha, absorption = decodeCurve(*r.Absorption)
		absorption = moved(absorption, func(pointer string) string { return "/ready_made/absorption" + pointer })
	}
	if r.Price != nil {
		q.Rival.Price = place(decodeAskingPrice(v, "/ready_made/price", *r.Price))
	}
	for i, t := range orZero(w.Tools) {
		at := fmt.Sprintf("/tools/%d", i)
		q.Tools = append(q.Tools, readymade.Tool{Name: t.Name, Price: decodeMoneyIf(v, at+"/price", t.Price), Resale: decodeMoneyIf(v, at+"/resale_value", t.ResaleValue), Owned: orZero(t.Owned)})
	}
	if l := w.Labour; l != nil {
		q.Labour = readymade.Labour{Setup: or(l.SetupMin, minutes, 0), PerPanel: pointerTo(l.BuildingMinPerPanel, minutes),
			HandlingApart: l.HandlingIncluded != nil && !*l.HandlingIncluded, ValueOfHour: decodeMoneyIf(v, "/labour/value_of_hour", l.ValueOfHour)}
	}
	rest := joined(v.Err(), q.Validate())
	if wrong == nil && absorption == nil {
		return q, rest
	}
	return q, &requestError{kind: problemInvalid, faults: withRules(append(faultsIn(wrong), faultsIn(absorption)...), faultsIn(rest))}
}

func decodeAskingPrice(v *catalog.Faults, at string, w AskingPrice) costing.AskingPrice {
	p := costing.AskingPrice{Price: decodeMoney(v, at+"/price", w.Price), TaxIncluded: w.TaxIncluded, TaxRateBP: decodePercent(v, at+"/tax_rate_percent", w.TaxRatePercent)}
	for i, b := range orZero(w.Breaks) {
		p.Breaks = append(p.Breaks, buying.Break{From: count(b.FromCount), Price: decodeMoney(v, fmt.Sprintf("%s/breaks/%d/price", at, i), b.Price)})
	}
	if d := w.Delivery; d != nil {
		p.Flat = orZero(decodeMoneyIf(v, at+"/delivery/fee", d.Fee))
		p.FreeFrom = decodeMoneyIf(v, at+"/delivery/free_from", d.FreeFrom)
		p.PerPanel = orZero(decodeMoneyIf(v, at+"/delivery/fee_per_panel", d.FeePerPanel))
	}
	return p
}

// moved is an error with its faults at other places.
func moved(err error, to func(pointer string) string) error {
	var refused *requestError
	var invalid *catalog.InvalidError
	if !errors.As(err, &refused) && !errors.As(err, &invalid) {
		return err
	}
	kind, detail := problemOf(err)
	faults := make([]fault, len(detail.faults))
	for i, f := range detail.faults {
		f.pointer = to(f.pointer)
		faults[i] = f
	}
	return &requestError{kind: kind, detail: detail.text, faults: faults}
}

// asOfBuild is an error about a question with the names that the wire has for its build.
func asOfBuild(err error) error {
	return moved(err, func(pointer string) string {
		if inner, ok := strings.CutPrefix(pointer, "/build"); ok {
			if name, other := singleNames[inner]; other {
				return "/build" + name
			}
		}
		return pointer
	})
}

// encodeQuestion writes the question as it was used, every default filled in.
func encodeQuestion(q readymade.Question) BuildOrBuyQuestion {
	in := encodeBrief(q.Build.Brief)
	out := BuildOrBuyQuestion{
		Build: encodeSingle(q.Build, in), Purpose: in.Purpose, Tools: place(make([]WantedTool, len(q.Tools))),
		ReadyMade: ReadyMadeRival{Panel: known(q.Rival.Panel), WidthMm: knownAs(q.Rival.Width, number), HeightMm: knownAs(q.Rival.Height, number)},
		Labour: &BuildingLabour{SetupMin: place(float64(q.Labour.Setup)), BuildingMinPerPanel: pointerTo(q.Labour.PerPanel, number),
			HandlingIncluded: place(!q.Labour.HandlingApart), ValueOfHour: encodeMoneyIf(q.Labour.ValueOfHour)},
	}
	if a := q.Rival.Alpha; a.Len() > 0 {
		out.ReadyMade.Absorption = &RatingsQuestion{BandBasis: string(a.Basis), Bands: encodeBands(a)}
	}
	if p := q.Rival.Price; p != nil {
		fee := func(a money.Amount) *Money {
			if a == (money.Amount{}) {
				return nil
			}
			return place(encodeMoney(a))
		}
		w := AskingPrice{Price: encodeMoney(p.Price), TaxIncluded: p.TaxIncluded, TaxRatePercent: float64(p.TaxRateBP) / 100, Breaks: place(make([]PriceBreak, len(p.Breaks))),
			Delivery: &PanelDelivery{Fee: fee(p.Flat), FreeFrom: encodeMoneyIf(p.FreeFrom), FeePerPanel: fee(p.PerPanel)}}
		for i, b := range p.Breaks {
			(*w.Breaks)[i] = PriceBreak{FromCount: int64(b.From), Price: encodeMoney(b.Price)}
		}
		out.ReadyMade.Price = &w
	}
	for i, t := range q.Tools {
		(*out.Tools)[i] = WantedTool{Name: t.Name, Price: encodeMoneyIf(t.Price), ResaleValue: encodeMoneyIf(t.Resale), Owned: place(t.Owned)}
	}
	return out
}
