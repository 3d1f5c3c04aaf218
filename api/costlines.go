package api

import (
	"fmt"

	"sabinbook/internal/catalog"
	"sabinbook/internal/costing"
	"sabinbook/internal/needs"
)

func encodeCost(c costing.Cost) OptionCost {
	out := OptionCost{
		Lines: make([]CostLine, len(c.Lines)), Orders: make([]CostOrder, len(c.Orders)), Missing: make([]MissingPrice, len(c.Missing)),
		Goods: encodeMoney(c.Goods), Delivery: encodeMoney(c.Delivery), Trips: encodeMoney(c.Trips),
		Total: encodeMoneyIf(c.Total), PerPanel: encodeMoneyIf(c.PerPanel), AtLeast: encodeMoney(c.AtLeast), Used: encodeMoney(c.Used),
		ProtectionBought: encodeMoney(c.ProtectionBought), ProtectionUsed: encodeMoney(c.ProtectionUsed), GoodsTaxPerOrder: encodeMoney(c.GoodsTaxPerOrder),
		StockValue: encodeMoney(c.StockValue), ReplacementTotal: encodeMoneyIf(c.Replacement), ReplacementPerPanel: encodeMoneyIf(c.ReplacementPerPanel),
		LeftoverValue: encodeMoney(c.LeftoverValue), NetOfLeftoversPerPanel: encodeMoneyIf(c.NetPerPanel),
		OldestPriceDate: known(string(c.OldestPrice)), Status: string(c.Status),
	}
	if c.Total != nil {
		out.LowerBound = place(encodeMoney(c.LowerBound))
	}
	for i, l := range c.Lines {
		out.Lines[i] = encodeCostLine(l)
	}
	for i, o := range c.Orders {
		out.Orders[i] = CostOrder{Supplier: encodeRef(o.Supplier), Mode: string(o.Mode), Goods: encodeMoney(o.Goods), Fee: encodeMoney(o.Fee), ToFreeDelivery: encodeMoneyIf(o.ToFree), Conversion: encodeConversion(o.Conversion)}
		if o.Charged > 0 {
			out.Orders[i].ChargedKg = place(o.Charged)
		}
	}
	for i, m := range c.Missing {
		out.Missing[i] = MissingPrice{Need: m.Need, Reason: string(m.Reason), Item: refIf(catalog.Meta{ID: m.ItemID, Slug: m.Slug, Name: m.Name})}
		if m.Pieces != nil {
			out.Missing[i].Pieces = place(encodeBases(m.Pieces))
		}
		if m.Lacking > 0 {
			out.Missing[i].LackingQuantity, out.Missing[i].Unit = place(rounded(m.Lacking, 6)), known(m.Unit)
		}
		out.Missing[i].Detail, out.Missing[i].Fix = missingWords(m)
	}
	return out
}

func encodeCostLine(l costing.Line) CostLine {
	out := CostLine{Need: l.Need, ItemKind: known(string(l.Kind)), Item: refIf(catalog.Meta{ID: l.ItemID, Slug: l.Slug, Name: l.Name}), Size: known(l.Size), Owned: l.Owned,
		Pieces: encodeBases(l.Pieces), Formula: l.Formula, Inputs: encodeInputs(l.Inputs), NeededQuantity: rounded(l.Needed, 6), Unit: l.Unit}
	out.CutPlan = encodeCutPlan(l)
	if l.Owned {
		out.ReplacementValue = encodeMoneyIf(l.Replacement)
		return out
	}
	out.Offer, out.Supplier = refIf(l.Offer), refIf(l.Supplier)
	out.PackQuantity, out.PacksCount = place(rounded(l.PackSize, 6)), place(int64(l.Packs))
	out.UnitPrice, out.Gross, out.Used = place(encodeMoney(l.UnitPrice)), place(encodeMoney(l.Gross)), place(encodeMoney(l.Used))
	out.TaxIncluded, out.TaxRatePercent = place(l.TaxIncluded), place(float64(l.TaxRateBP)/100)
	out.PriceID, out.PriceDate, out.PriceEvidence = place(string(l.PriceID)), place(string(l.PriceDate)), place(string(l.PriceEvidence))
	out.Conversion = encodeConversion(l.Conversion)
	if l.PriceTooOld {
		out.PriceTooOld = &l.PriceTooOld
	}
	out.LeftoverQuantity, out.LeftoverUnit, out.LeftoverValue = place(rounded(l.Leftover, 6)), known(l.LeftoverUnit), place(encodeMoney(l.LeftoverValue))
	return out
}

func encodeBases(list []needs.Basis) []NeedBasis {
	out := make([]NeedBasis, len(list))
	for i, p := range list {
		out[i] = NeedBasis{Formula: p.Formula, Inputs: encodeInputs(p.Inputs)}
	}
	return out
}

func decodeStock(v *catalog.Faults, list *[]OnHand) []costing.OnHand {
	var out []costing.OnHand
	for i, w := range orZero(list) {
		h := costing.OnHand{Kind: catalog.ItemKind(w.ItemKind), Item: w.Item, Long: orZero(pointerTo(w.LengthMm, length)), Count: count(w.Count),
			Value: decodeMoneyIf(v, fmt.Sprintf("/stock_on_hand/%d/replacement_value", i), w.ReplacementValue)}
		if w.SoldSize != nil {
			h.Size = place(decodeSize(*w.SoldSize))
		}
		out = append(out, h)
	}
	return out
}

func encodeStock(list []costing.OnHand) *[]OnHand {
	out := make([]OnHand, len(list))
	for i, h := range list {
		out[i] = OnHand{ItemKind: string(h.Kind), Item: h.Item, LengthMm: knownAs(h.Long, number), Count: int64(h.Count), ReplacementValue: encodeMoneyIf(h.Value)}
		if h.Size != nil {
			out[i].SoldSize = place(encodeSize(*h.Size))
		}
	}
	return &out
}
