package api

import (
	"context"
	"fmt"
	"slices"

	"github.com/oapi-codegen/runtime"

	"sabinbook/internal/buying"
	"sabinbook/internal/catalog"
	"sabinbook/internal/costing"
	"sabinbook/internal/money"
)

// PlanBuying answers POST /v1/buying-plans.
func (s *Server) PlanBuying(ctx context.Context, in PlanBuyingRequestObject) (PlanBuyingResponseObject, error) {
	purchase, panels, err := decodePurchase(*in.Body)
	if err != nil {
		return nil, err
	}
	done, err := s.slot(ctx)
	if err != nil {
		return nil, err
	}
	defer done()
	problem := purchase.Problem()
	return PlanBuying200JSONResponse{BuyingAnswerJSONResponse{Body: encodePlan(*in.Body, panels, problem, buying.Best(problem))}}, nil
}

// checkPurchase is the check of a question that breaks the contract elsewhere.
func (s *Server) checkPurchase(value any) []fault {
	var w BuyingQuestion
	if runtime.BindJSONValue(value, &w) != nil {
		return nil
	}
	_, _, err := decodePurchase(w)
	return faultsIn(err)
}

// decodePurchase decodes a question and applies its rules; the error names all faults.
func decodePurchase(w BuyingQuestion) (costing.Purchase, int, error) {
	v := &catalog.Faults{}
	p := costing.Purchase{
		Currency: money.Currency(w.Currency), Tax: or(w.TaxBasis, func(x string) costing.TaxBasis { return costing.TaxBasis(x) }, costing.TaxIncluded),
		NoPadding: w.AllowPadding != nil && !*w.AllowPadding, NodeLimit: or(w.NodeLimitCount, count, 0), LabelLimit: or(w.LabelLimitCount, count, 0),
	}
	for i, s := range w.Suppliers {
		p.Suppliers = append(p.Suppliers, decodeShop(v, fmt.Sprintf("/suppliers/%d", i), s))
	}
	for i, it := range orZero(w.Items) {
		p.Items = append(p.Items, decodeWanted(v, fmt.Sprintf("/items/%d", i), it))
	}
	for i, o := range orZero(w.OneOf) {
		want := costing.OneOf{ID: o.ID}
		for j, way := range o.Ways {
			var items []costing.Item
			for k, it := range way.Items {
				items = append(items, decodeWanted(v, fmt.Sprintf("/one_of/%d/ways/%d/items/%d", i, j, k), it))
			}
			want.Ways = append(want.Ways, items)
		}
		p.OneOf = append(p.OneOf, want)
	}
	for i, o := range w.Offers {
		p.Offers = append(p.Offers, decodeShopOffer(v, fmt.Sprintf("/offers/%d", i), o))
	}
	panels := or(w.PanelCount, count, 1)
	v.Within("/panel_count", float64(panels), 1, 10_000, "panels", "give the panels among which the totals are divided, or leave it out")
	return p, panels, joined(v.Err(), p.Validate())
}

func decodeShop(v *catalog.Faults, at string, w Shop) costing.Shop {
	s := costing.Shop{ID: w.ID, Trip: decodeMoneyIf(v, at+"/trip_cost", w.TripCost)}
	if d := w.Delivery; d != nil {
		fee := decodeMoney(v, at+"/delivery/fee", d.Fee)
		s.Delivery = &buying.Delivery{Fee: fee, FreeFrom: decodeMoneyIf(v, at+"/delivery/free_from", d.FreeFrom), PerKg: money.Zero(fee.Currency()),
			Divisor: int64(or(d.DivisorCm3PerKg, count, 0)), FreeCoversWeight: orZero(d.FreeCoversWeight)}
		if perKg := decodeMoneyIf(v, at+"/delivery/fee_per_kg", d.FeePerKg); perKg != nil {
			s.Delivery.PerKg = *perKg
		}
		if b := orZero(d.WeightBasis); b != "actual" {
			s.Delivery.Basis = buying.WeightBasis(b)
		}
	}
	return s
}

func decodeWanted(v *catalog.Faults, at string, w WantedItem) costing.Item {
	return costing.Item{ID: w.ID, Quantity: w.Quantity, Stock: orZero(w.StockQuantity), Value: decodeMoneyIf(v, at+"/replacement_value", w.ReplacementValue)}
}

func decodeShopOffer(v *catalog.Faults, at string, w ShopOffer) costing.OnOffer {
	o := costing.OnOffer{ID: w.ID, Shop: w.Supplier, Item: w.Item, Pack: w.PackQuantity, Price: decodeMoney(v, at+"/price", w.Price),
		TaxIncluded: w.TaxIncluded, TaxRateBP: decodePercent(v, at+"/tax_rate_percent", w.TaxRatePercent),
		MinPacks: or(w.MinPacksCount, count, 0), MaxPacks: or(w.MaxPacksCount, count, 0), Mass: orZero(w.PackMassKg), Volume: orZero(w.PackVolumeL)}
	if w.MaxPacksCount != nil && *w.MaxPacksCount == 0 {
		v.Add(at+"/max_packs_count", "out_of_range", "must be above 0, got 0", "leave the offer out when the shop has none")
	}
	for i, b := range orZero(w.Breaks) {
		o.Breaks = append(o.Breaks, buying.Break{From: count(b.FromCount), Price: decodeMoney(v, fmt.Sprintf("%s/breaks/%d/price", at, i), b.Price)})
	}
	return o
}

// encodePlan writes a plan beside the question as it was asked, every default filled in.
func encodePlan(w BuyingQuestion, panels int, problem buying.Problem, p buying.Plan) BuyingPlan {
	w.TaxBasis, w.PanelCount, w.AllowPadding = place(or(w.TaxBasis, text[string], string(costing.TaxIncluded))), place(int64(panels)), place(!problem.NoPadding)
	w.NodeLimitCount, w.LabelLimitCount = place(int64(p.NodeLimit)), place(int64(p.LabelLimit))
	if w.Items == nil {
		w.Items = &[]WantedItem{}
	}
	if w.OneOf == nil {
		w.OneOf = &[]Alternatives{}
	}
	share := func(a money.Amount) Money { return encodeMoney(a.TimesRatio(1, int64(panels))) }
	out := BuyingPlan{
		Inputs: w, ModelVersion: buying.ModelVersion, Status: string(p.Status),
		Orders: make([]BuyingOrder, len(p.Orders)), Lines: make([]BuyingLine, len(p.Lines)), Lacking: make([]BuyingLack, len(p.Unmet)),
		Goods: encodeMoney(p.Goods), Delivery: encodeMoney(p.Delivery), Trips: encodeMoney(p.Trips), Cash: encodeMoney(p.Cash),
		ReplacementTotal: encodeMoney(p.Replacement), StockValue: encodeMoney(p.StockValue), LeftoverValue: encodeMoney(p.LeftoverValue),
		LowerBound: encodeMoney(p.LowerBound), Gap: encodeMoney(p.Gap()), GoodsTaxPerOrder: encodeMoney(p.GoodsTaxPerOrder), PacksCount: int64(p.Packs),
		CashPerPanel: share(p.Cash), ReplacementPerPanel: share(p.Replacement), NetOfLeftoversPerPanel: share(p.Cash.Sub(p.LeftoverValue)),
		NodesCount: int64(p.Nodes), LabelsCount: int64(p.Labels), Notes: planNotes(p),
	}
	itemOf := func(need, way, item int) buying.Item { return problem.Needs[need].Ways[way].Items[item] }
	held := func(list []buying.Held) []BuyingHeld {
		out := make([]BuyingHeld, len(list))
		for i, h := range list {
			out[i] = BuyingHeld{Item: itemOf(h.Need, h.Way, h.Item).ID, Quantity: float64(h.Quantity) / costing.Parts, Value: encodeMoney(h.Value)}
		}
		return out
	}
	out.StockUsed, out.Leftovers = held(p.Stock), held(p.Leftovers)
	for i, o := range p.Orders {
		out.Orders[i] = BuyingOrder{Supplier: problem.Suppliers[o.Supplier].ID, Mode: string(o.Mode), Goods: encodeMoney(o.Goods), Cost: encodeMoney(o.Fee)}
		if o.Mode == buying.Deliver {
			out.Orders[i].FlatFee, out.Orders[i].WeightFee = place(encodeMoney(o.Flat)), place(encodeMoney(o.ByWeight))
		}
		if o.Charged > 0 {
			out.Orders[i].ChargedKg = &o.Charged
		}
	}
	for i, l := range p.Lines {
		item := itemOf(l.Need, l.Way, l.Item)
		o := item.Offers[l.Offer]
		out.Lines[i] = BuyingLine{Offer: o.ID, Supplier: problem.Suppliers[o.Supplier].ID, Item: item.ID, PacksCount: int64(l.Packs),
			UnitPrice: encodeMoney(l.UnitPrice), Listed: encodeMoney(l.Listed), Gross: encodeMoney(l.Gross)}
	}
	for i, l := range p.Unmet {
		out.Lacking[i] = BuyingLack{Item: itemOf(l.Need, l.Way, l.Item).ID, Quantity: float64(l.Quantity) / costing.Parts}
	}
	return out
}

// planNotes say what the figures of a plan mean.
func planNotes(p buying.Plan) []Note {
	notes := []Note{
		{Code: "cash_and_replacement", Text: "cash is what must be paid now. replacement_total adds what the used stock would cost to replace: compare builds by it, not by what happens to lie in the rack. Leftovers are not taken off either."},
		{Code: "tax_per_line", Text: "Tax is rounded once a line, half away from zero. goods_tax_per_order has it rounded once per order and rate, as an invoice may."},
	}
	if p.Status == buying.Feasible {
		notes = append(notes, Note{Code: "not_proven", Text: fmt.Sprintf("A limit of the search was reached: no plan costs less than %s, so that at most %s could be saved.", p.LowerBound, p.Gap())})
	}
	free := slices.ContainsFunc(p.Orders, func(o buying.Order) bool { return o.Mode == buying.Deliver && o.Fee.IsZero() })
	if free {
		notes = append(notes, Note{Code: "thresholds", Text: "With free delivery from a threshold a dearer price, or one panel more, can lower the total, because it reaches the threshold."})
	}
	return notes
}
