package shortlist

import (
	"slices"

	"sabinbook/internal/catalog"
	"sabinbook/internal/costing"
	"sabinbook/internal/needs"
	"sabinbook/internal/ranking"
)

// Cut is the part of a snapshot on which an answer rests: ranking it by the same brief gives the
// same answer. It is at the revision of the snapshot and in its order. It holds
//
//   - the fills and fabrics of all candidates, and those that the question names otherwise,
//   - the tests of the fills that are candidates,
//   - all frame timbers, and all parts of the roles that the options need: of all roles when
//     there are candidates that the answer does not show,
//   - all offers of these, and of each the one price of the day,
//   - where prices are converted, the exchange rates that are used for it,
//   - all suppliers: in how small a unit the search for the best plan counts depends on the fees of
//     each, and with it how many nodes the answer tells,
//   - all sources that any of them names.
//
// The error is a *catalog.InvalidError when the answer is not one of the snapshot.
func Cut(s catalog.Snapshot, answer ranking.Result) (catalog.Snapshot, error) {
	brief := answer.Brief
	fills, fabrics, err := brief.Chosen(s)
	if err != nil {
		return catalog.Snapshot{}, err
	}
	c := cutter{sold: map[catalog.ID]bool{}, named: map[string]bool{}}
	for _, list := range [][]string{brief.Fills, brief.Fabrics} {
		for _, name := range list {
			c.named[name] = true
		}
	}
	for _, h := range brief.Terms.Stock {
		c.named[h.Item] = true
	}
	for _, f := range fills {
		c.sold[f.ID] = true
	}
	for _, f := range fabrics {
		c.sold[f.ID] = true
	}
	roles, all := rolesOf(answer)
	for _, p := range s.Parts {
		if all || roles[p.Role] {
			c.sold[p.ID] = true
		}
	}
	out := catalog.Snapshot{
		Revision:  s.Revision,
		Suppliers: s.Suppliers,
		Fills:     only(s.Fills, func(r catalog.Fill) bool { return c.holds(r.Meta) }),
		Tests:     only(s.Tests, func(r catalog.AbsorptionTest) bool { return c.sold[r.FillID] }),
		Fabrics:   only(s.Fabrics, func(r catalog.Fabric) bool { return c.holds(r.Meta) }),
		Parts:     only(s.Parts, func(r catalog.Part) bool { return c.holds(r.Meta) }),
		Offers:    only(s.Offers, func(r catalog.Offer) bool { return c.sold[r.ItemID] }),
	}
	offers := map[catalog.ID]bool{}
	for _, o := range out.Offers {
		offers[o.ID] = true
	}
	current := catalog.CurrentPrices(s.Prices, brief.Terms.AsOf)
	out.Prices = only(s.Prices, func(r catalog.Price) bool { return offers[r.OfferID] && current[r.OfferID].ID == r.ID })
	if t := brief.Terms; t.Convert == costing.StoredRates {
		out.Rates = only(s.Rates, catalog.ExchangeOn(s.Rates, t.Currency, t.AsOf, t.MaxRateAgeDays).Uses)
	}
	cited := sourcesOf(out)
	out.Sources = only(s.Sources, func(r catalog.Source) bool { return cited[r.ID] })
	return out, nil
}

// cutter tells what to keep.
type cutter struct {
	sold  map[catalog.ID]bool // with all that is known of them
	named map[string]bool     // ids and slugs that must be found
}

func (c cutter) holds(m catalog.Meta) bool {
	return c.sold[m.ID] || c.named[string(m.ID)] || c.named[string(m.Slug)]
}

func only[T any](list []T, keep func(T) bool) []T {
	var out []T
	for _, r := range list {
		if keep(r) {
			out = append(out, r)
		}
	}
	return out
}

// rolesOf lists the roles of the parts that the options of an answer need; all is true when there
// are candidates whose needs the answer does not tell.
func rolesOf(answer ranking.Result) (roles map[catalog.Role]bool, all bool) {
	roles = map[catalog.Role]bool{catalog.FrameTimber: true}
	shown := slices.Concat(answer.Options, answer.NotPriced)
	for _, o := range shown {
		list := needs.For(o.Build, o.Panels, o.Burden)
		for _, p := range list.Parts {
			roles[p.Role] = true
		}
		for _, p := range list.Protection {
			roles[p.Role] = true
		}
	}
	return roles, len(shown) < answer.Considered
}

// sourcesOf lists the sources that the records of a snapshot name.
func sourcesOf(s catalog.Snapshot) map[catalog.ID]bool {
	used := map[catalog.ID]bool{}
	fire := func(list []catalog.FireDeclaration) {
		for _, d := range list {
			used[d.SourceID] = true
		}
	}
	for _, f := range s.Fills {
		used[f.SourceID] = true
		cite(used, f.Density)
		cite(used, f.Resistivity)
		cite(used, f.FibreDiameter)
		cite(used, f.Handling.Borate)
		cite(used, f.Handling.Cutting)
		fire(f.Fire)
	}
	for _, t := range s.Tests {
		used[t.SourceID] = true
	}
	for _, f := range s.Fabrics {
		used[f.SourceID] = true
		cite(used, f.SurfaceMass)
		cite(used, f.Resistance)
		if p := f.Permeability; p != nil {
			used[p.SourceID] = true
		}
		fire(f.Fire)
	}
	for _, p := range s.Parts {
		used[p.SourceID] = true
		cite(used, p.Density)
		cite(used, p.UnitMass)
		cite(used, p.WorkingLoad)
	}
	for _, r := range s.Suppliers {
		used[r.SourceID] = true
	}
	for _, o := range s.Offers {
		used[o.SourceID] = true
	}
	for _, p := range s.Prices {
		used[p.SourceID] = true
	}
	for _, r := range s.Rates {
		used[r.SourceID] = true
	}
	return used
}

func cite[U ~float64](used map[catalog.ID]bool, f *catalog.Figure[U]) {
	if f != nil {
		used[f.SourceID] = true
	}
}
