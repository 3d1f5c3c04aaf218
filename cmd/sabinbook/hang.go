package main

import (
	"context"
	"fmt"
	"strings"

	"sabinbook/api/client"
)

// How the demo hangs its panels: tops in one line below the ceiling, the plates a hand below the top
// edge, each straight on its own hook. Invented, like the rest of the scenario.
const (
	topBelowCeiling = 300.0 // mm
	platesBelowTop  = 150.0 // mm
)

// askHanging asks what the panels of the first option weigh and what must carry them: the masses of
// the answer, with hardware as the catalog has it.
func askHanging(ctx context.Context, c *client.ClientWithResponses, o client.RankedOption) (*client.HangingCheck, error) {
	q := client.HangingQuestion{System: "two_hooks", Row: &client.HangingRow{TopBelowLineMm: topBelowCeiling,
		Panels: []client.HangingRowPanel{{ID: "each", RingDropMm: platesBelowTop, SagMm: new(0.0)}}}}
	parts := []client.HangingPart{}
	for _, l := range o.MassLines {
		parts = append(parts, client.HangingPart{Kind: l.Part, MassKg: l.MassKg})
	}
	var hardware []client.HangingHardware
	for _, l := range o.Cost.Lines {
		role := l.Need
		if l.Item == nil || role != "hanger" && role != "screw" && role != "staple" {
			continue
		}
		r, err := c.GetPartWithResponse(ctx, l.Item.Slug, nil)
		if err != nil {
			return nil, err
		}
		if r.JSON200 == nil {
			return nil, fmt.Errorf("the service answered %s: %s", r.Status(), strings.TrimSpace(string(r.Body)))
		}
		part := client.HangingPart{Kind: "hardware", Name: &l.Item.Name}
		each := l.NeededQuantity / float64(o.PanelCount)
		if m := r.JSON200.UnitMassKg; m != nil && each > 0 {
			part.MassKg = new(m.Value * each)
		}
		parts = append(parts, part)
		if role == "hanger" {
			h := client.HangingHardware{ID: l.Item.Slug, Role: "ring", Count: new(int64(each))}
			if w := r.JSON200.WorkingLoadKg; w != nil {
				h.WorkingLoadKg = &w.Value
			}
			hardware = append(hardware, h)
		}
	}
	q.Panel = client.HangingPanel{Parts: &parts, Without: &[]string{"back", "adhesive"}}
	q.Hardware = &hardware
	r, err := c.CheckHangingWithResponse(ctx, q)
	if err != nil {
		return nil, err
	}
	if r.JSON200 == nil {
		return nil, fmt.Errorf("the service answered %s: %s", r.Status(), strings.TrimSpace(string(r.Body)))
	}
	return r.JSON200, nil
}

// hanging says what the panels of the first place weigh, what must carry them, and where to drill.
func (p *page) hanging(place int64, h *client.HangingCheck) {
	p.title(fmt.Sprintf("What to hang place %d on", place))
	if !h.Mass.Known {
		p.para("", fmt.Sprintf("What a panel weighs is not known: %s. Weigh one before you hang it.", strings.Join(h.Mass.UnknownParts, ", ")))
	} else {
		p.para("", fmt.Sprintf("A panel weighs about %.1f kg with its plates, screws and staples: weigh the first one that you finish. It hangs by two plates, each on its own hook; "+
			"either may come to carry all.", *h.Mass.MassKg))
	}
	for _, c := range h.Checks {
		name := strings.ReplaceAll(c.Role, "_", " ")
		if c.Role == "ring" {
			name = "plate"
		}
		words := c.Words
		if c.Factor != nil {
			words += fmt.Sprintf(", %.1f times the load", *c.Factor)
		}
		if c.Fix != nil {
			words += ": " + *c.Fix
		}
		p.para("  ", fmt.Sprintf("%s: %s.", name, words))
	}
	if h.Row != nil && len(h.Row.Places) > 0 {
		p.para("", fmt.Sprintf("With the tops %g mm below the ceiling and the plates %g mm below the tops, drill %g mm below the ceiling.", topBelowCeiling, platesBelowTop, h.Row.Places[0].BelowLine.Value))
	}
	for _, c := range h.Cautions {
		p.para("- ", c.Text)
	}
}
