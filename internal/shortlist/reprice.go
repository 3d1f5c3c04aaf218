package shortlist

import (
	"reflect"
	"slices"

	"sabinbook/internal/catalog"
	"sabinbook/internal/money"
	"sabinbook/internal/ranking"
)

// Repricing is a kept answer beside the answer to the same question on another day.
type Repricing struct {
	Today      catalog.Date
	Options    []Repriced // in the order of the kept answer
	First      string     // key of the kept option that is first today; empty for none
	OrderHolds bool       // every option still has a place, and they stand in the same order
	Changes    []PriceChange
	Flips      []Flip // of the prices of today
}

// Repriced is one option then and now.
type Repriced struct {
	Key               string // as it was kept
	KeyNow            string // slugs may have changed; empty for one that is gone
	PlaceThen         int
	PlaceNow          int // 0 for none
	AreaThen, AreaNow float64
	Then              money.Amount
	Now               *money.Amount // nil without a full price
	Gone              Gone          // why it has no place; empty for one that has
	Reason            ranking.Reason
	Explained         []Explained
	Rest              *money.Amount // what of the change of the total no single price explains
}

// Gone says why a kept option has no place today.
type Gone string

// The reasons.
const (
	FillGone   Gone = "fill_gone"
	FabricGone Gone = "fabric_gone"
	SizeGone   Gone = "thickness_not_sold"
	PriceGone  Gone = "not_priced"
	LeftOutNow Gone = "left_out" // Repriced.Reason says why
)

// PriceChange is an offer that is bought in an option then or now, with another price now.
type PriceChange struct {
	Offer     catalog.Meta
	Then, Now catalog.Price
}

// Explained is how much less an option would cost today if one price were as it was, all others being
// as they are.
type Explained struct {
	Offer  catalog.Meta
	Amount money.Amount
}

// Reprice asks the question of a kept answer, which rests on the records then, anew over the catalog
// on a day. Options are the same when fill and fabric are, by their ids, and thickness, layers and gap.
// The error is a *catalog.InvalidError when the question names something else that is gone.
func Reprice(then catalog.Snapshot, kept ranking.Result, now *ranking.Prepared, today catalog.Date) (Repricing, error) {
	out := Repricing{Today: today}
	stock := now.Snapshot()
	b := kept.Brief
	b.Terms.AsOf = today
	b.Fills, b.Fabrics, b.Families, b.Why, b.Options, b.Draws.Count = nil, nil, nil, nil, nil, 0
	for _, o := range kept.Options {
		r := Repriced{Key: o.Key(), PlaceThen: o.Place, AreaThen: float64(o.Area), Then: *o.Cost.Total}
		r.KeyNow, r.Gone = keyIn(stock, o)
		if r.KeyNow != "" {
			b.Options = append(b.Options, r.KeyNow)
		}
		out.Options = append(out.Options, r)
	}
	var answer ranking.Result
	if len(b.Options) > 0 { // none would stand for all
		var err error
		if answer, err = now.Rank(b); err != nil {
			return out, err
		}
	}
	out.Changes = changes(then, stock, kept, answer)
	var race *ranking.Race
	if len(answer.Options) > 0 {
		race = ranking.NewRace(stock, answer)
	}
	for i := range out.Options {
		out.Options[i].find(answer, race, out.Changes)
	}
	out.OrderHolds = true
	for i, r := range out.Options {
		out.OrderHolds = out.OrderHolds && r.PlaceNow == i+1
		if r.PlaceNow == 1 {
			out.First = r.Key
		}
	}
	out.Flips = Flips(stock, answer)
	return out, nil
}

// keyIn is the key of an option in a snapshot, or why it is no candidate there.
func keyIn(s catalog.Snapshot, o ranking.Option) (string, Gone) {
	b := &o.Build
	fill := slices.IndexFunc(s.Fills, func(f catalog.Fill) bool { return f.ID == b.Fill.ID })
	fabric := slices.IndexFunc(s.Fabrics, func(f catalog.Fabric) bool { return f.ID == b.Fabric.ID })
	switch {
	case fill < 0:
		return "", FillGone
	case fabric < 0:
		return "", FabricGone
	case !slices.ContainsFunc(s.Fills[fill].SoldSizes, func(z catalog.SoldSize) bool { return z.Thickness == b.Thickness }):
		return "", SizeGone
	}
	b.Fill, b.Fabric = s.Fills[fill], s.Fabrics[fabric]
	return o.Key(), ""
}

// changes lists the offers that are bought then or now and have another price now.
func changes(then, now catalog.Snapshot, kept, answer ranking.Result) []PriceChange {
	old, current := catalog.CurrentPrices(then.Prices, kept.Brief.Terms.AsOf), map[catalog.ID]catalog.Price{}
	if len(answer.Options) > 0 {
		current = catalog.CurrentPrices(now.Prices, answer.Brief.Terms.AsOf)
	}
	var list []PriceChange
	for _, id := range bought(slices.Concat(kept.Options, answer.Options)) {
		a, before := old[id]
		b, after := current[id]
		i := slices.IndexFunc(now.Offers, func(o catalog.Offer) bool { return o.ID == id })
		if before && after && i >= 0 && (a.Amount != b.Amount || !reflect.DeepEqual(a.Breaks, b.Breaks) || a.TaxIncluded != b.TaxIncluded || a.TaxRateBP != b.TaxRateBP) {
			list = append(list, PriceChange{now.Offers[i].Meta, a, b})
		}
	}
	return list
}

// find fills in what an option is today, and what each changed price has to do with it.
func (r *Repriced) find(answer ranking.Result, race *ranking.Race, changes []PriceChange) {
	if r.Gone != "" {
		return
	}
	at := slices.IndexFunc(answer.Options, func(o ranking.Option) bool { return o.Key() == r.KeyNow })
	if at < 0 {
		r.Gone, r.Reason = LeftOutNow, reasonIn(answer, r.KeyNow)
		if slices.ContainsFunc(answer.NotPriced, func(o ranking.Option) bool { return o.Key() == r.KeyNow }) {
			r.Gone = PriceGone
		}
		return
	}
	o := answer.Options[at]
	r.PlaceNow, r.AreaNow, r.Now = o.Place, float64(o.Area), o.Cost.Total
	if r.Then.Currency() != o.Cost.Total.Currency() {
		return
	}
	rest := o.Cost.Total.Sub(r.Then)
	for _, c := range changes {
		if c.Then.Amount.Currency() != c.Now.Amount.Currency() {
			continue
		}
		for _, other := range race.With(c.Then) {
			if other.Key() == r.KeyNow && other.Cost.Total != nil {
				if d := o.Cost.Total.Sub(*other.Cost.Total); !d.IsZero() {
					r.Explained, rest = append(r.Explained, Explained{c.Offer, d}), rest.Sub(d)
				}
			}
		}
	}
	r.Rest = &rest
}

// reasonIn is why a candidate is left out of an answer.
func reasonIn(answer ranking.Result, key string) ranking.Reason {
	for _, l := range answer.LeftOut {
		o := ranking.Option{}
		o.Build.Fill.Meta, o.Build.Fabric.Meta, o.Build.Thickness, o.Build.Layers, o.Build.AskedGap = l.Fill, l.Fabric, l.Thickness, l.Layers, l.AskedGap
		if o.Key() == key {
			return l.Reason
		}
	}
	return ""
}
