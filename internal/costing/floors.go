package costing

import (
	"sabinbook/internal/buying"
	"sabinbook/internal/catalog"
	"sabinbook/internal/money"
	"sabinbook/internal/needs"
)

// Floors says cheaply of many lists what they cost at least and whether they have a full price,
// so that few of them need be worked out. The sum over the parts of a list is never more than
// its total. Lists share most of their parts: ask for each once.
//
// A Floors is for one goroutine at a time.
type Floors struct {
	market *Market
	bounds *buying.Floors
	known  map[*supply]Floor
}

// Floor is what a part of a list costs at least. Without Priced something of it has no price,
// and the list no total.
type Floor struct {
	Least  money.Amount
	Priced bool
}

// Add joins two parts.
func (f Floor) Add(g Floor) Floor { return Floor{f.Least.Add(g.Least), f.Priced && g.Priced} }

// Floors returns the floors of the goods alone.
func (m *Market) Floors() *Floors {
	return &Floors{m, buying.NewFloors(buying.Problem{Currency: m.terms.Currency, Suppliers: m.buyers, NoPadding: !m.terms.AllowPadding}, nil), map[*supply]Floor{}}
}

// FloorsLike returns floors that count fees too, and are close for lists that resemble the one
// given.
func (m *Market) FloorsLike(list needs.List, labels int) *Floors {
	wanted := m.wanted(list)
	problem, asked := m.problem(wanted, labels)
	classes := make([]string, len(asked))
	for i, at := range asked {
		classes[i] = wanted[at].code
	}
	return &Floors{m, buying.NewFloors(problem, classes), map[*supply]Floor{}}
}

// Of returns the floor of a want.
func (f *Floors) of(code string, s *supply) Floor {
	if known, ok := f.known[s]; ok {
		return known
	}
	out := Floor{money.Zero(f.market.terms.Currency), s.reason == ""}
	if out.Priced {
		out.Least, out.Priced = f.bounds.Of(code, s.need)
	}
	f.known[s] = out
	return out
}

// Fabric is the floor of the fabric of a list.
func (f *Floors) Fabric(l needs.List) Floor { return f.of("fabric", f.market.fabric(l)) }

// Part is the floor of a part of a list.
func (f *Floors) Part(p needs.Part) Floor {
	if p.Count == 0 || f.market.owns(p.Role) {
		return Floor{money.Zero(f.market.terms.Currency), true}
	}
	return f.of(string(p.Role), f.market.part(p.Role, p.Count, p.Carries))
}

// Rest is the floor of a list without its fabric and without the parts that must carry it.
func (f *Floors) Rest(l needs.List) Floor {
	out := Floor{money.Zero(f.market.terms.Currency), l.ProtectionKnown}
	out = out.Add(f.of("fill", f.market.fill(l)))
	if !f.market.owns(l.Frame.Role) {
		out = out.Add(f.of("frame", f.market.frame(l)))
	}
	for _, p := range l.Parts {
		if p.Role != catalog.Hanger {
			out = out.Add(f.Part(p))
		}
	}
	for _, p := range l.Protection {
		if !p.Owned && !f.market.owns(p.Role) {
			out = out.Add(f.of(string(p.Role), f.market.protection(p.Protection)))
		}
	}
	return out
}
