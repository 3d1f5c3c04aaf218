package catalogtest

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"time"

	"sabinbook/internal/catalog"
)

// Merged is a and what b has besides; slugs and names of b that a has get an ending.
func Merged(a, b catalog.Snapshot) catalog.Snapshot {
	s := catalog.Snapshot{Revision: a.Revision}
	s.Sources = merged(a.Sources, b.Sources, func(x *catalog.Source) *catalog.Meta { return &x.Meta })
	s.Fills = merged(a.Fills, b.Fills, func(x *catalog.Fill) *catalog.Meta { return &x.Meta })
	s.Tests = merged(a.Tests, b.Tests, func(x *catalog.AbsorptionTest) *catalog.Meta { return &x.Meta })
	s.Fabrics = merged(a.Fabrics, b.Fabrics, func(x *catalog.Fabric) *catalog.Meta { return &x.Meta })
	s.Parts = merged(a.Parts, b.Parts, func(x *catalog.Part) *catalog.Meta { return &x.Meta })
	s.ReadyMade = merged(a.ReadyMade, b.ReadyMade, func(x *catalog.ReadyMadePanel) *catalog.Meta { return &x.Meta })
	s.Designs = merged(a.Designs, b.Designs, func(x *catalog.Design) *catalog.Meta { return &x.Meta })
	s.Rooms = merged(a.Rooms, b.Rooms, func(x *catalog.Room) *catalog.Meta { return &x.Meta })
	s.Suppliers = merged(a.Suppliers, b.Suppliers, func(x *catalog.Supplier) *catalog.Meta { return &x.Meta })
	s.Offers = merged(a.Offers, b.Offers, func(x *catalog.Offer) *catalog.Meta { return &x.Meta })
	s.Prices = slices.Concat(a.Prices, b.Prices)
	s.Rates = merged(a.Rates, b.Rates, func(x *catalog.ExchangeRate) *catalog.Meta { return &x.Meta })
	s.Sort()
	return s
}

func merged[T any](a, b []T, meta func(*T) *catalog.Meta) []T {
	list := slices.Clone(a)
	for _, x := range b {
		m := meta(&x)
		clash := func(test func(o *catalog.Meta) bool) bool {
			return slices.ContainsFunc(list, func(y T) bool { return test(meta(&y)) })
		}
		slug, name := m.Slug, m.Name
		for i := 2; clash(func(o *catalog.Meta) bool { return o.Slug == m.Slug }); i++ {
			m.Slug = catalog.Slug(fmt.Sprintf("%s-%d", slug, i))
		}
		for i := 2; clash(func(o *catalog.Meta) bool { return catalog.NameKey(o.Name) == catalog.NameKey(m.Name) }); i++ {
			m.Name = fmt.Sprintf("%s (%d)", name, i)
		}
		list = append(list, x)
	}
	return list
}

// Variant is a catalog that another group may have made of s: some records changed, sooner
// or later than in s or as if a file had been edited, some renamed, some left out.
func Variant(seed uint64, s catalog.Snapshot) catalog.Snapshot {
	r := rand.New(rand.NewPCG(seed, 11))
	change := func(m *catalog.Meta, note *string) {
		if r.IntN(4) > 0 {
			return
		}
		*note += " changed"
		if r.IntN(6) == 0 {
			m.Slug += "-v"
		}
		switch r.IntN(4) {
		case 0: // an edit of the file
		case 1:
			m.Updated = m.Updated.Add(time.Hour)
		default:
			m.Revision++
			m.Updated = m.Updated.Add(time.Hour)
		}
	}
	v := catalog.Snapshot{Revision: s.Revision, Sources: slices.Clone(s.Sources), Fills: slices.Clone(s.Fills), Tests: slices.Clone(s.Tests), Fabrics: slices.Clone(s.Fabrics),
		Parts: slices.Clone(s.Parts), ReadyMade: slices.Clone(s.ReadyMade), Designs: slices.Clone(s.Designs), Rooms: slices.Clone(s.Rooms), Suppliers: slices.Clone(s.Suppliers), Rates: slices.Clone(s.Rates)}
	for i := range v.Sources {
		change(&v.Sources[i].Meta, &v.Sources[i].Note)
	}
	smaller := map[catalog.ID]bool{}
	for i := range v.Fills {
		f := &v.Fills[i]
		change(&f.Meta, &f.Note)
		if n := len(f.SoldSizes); n > 0 && r.IntN(6) == 0 {
			f.SoldSizes = f.SoldSizes[:n-1]
			smaller[f.ID] = true
		}
	}
	for i := range v.Tests {
		change(&v.Tests[i].Meta, &v.Tests[i].Note)
	}
	for i := range v.Fabrics {
		change(&v.Fabrics[i].Meta, &v.Fabrics[i].Note)
	}
	for i := range v.Parts {
		change(&v.Parts[i].Meta, &v.Parts[i].Note)
	}
	for i := range v.ReadyMade {
		change(&v.ReadyMade[i].Meta, &v.ReadyMade[i].Note)
	}
	for i := range v.Designs {
		change(&v.Designs[i].Meta, &v.Designs[i].Note)
	}
	for i := range v.Rooms {
		change(&v.Rooms[i].Meta, &v.Rooms[i].Note)
	}
	for i := range v.Suppliers {
		change(&v.Suppliers[i].Meta, &v.Suppliers[i].Note)
	}
	for i := range v.Rates {
		change(&v.Rates[i].Meta, &v.Rates[i].Note)
	}
	kept := map[catalog.ID]bool{}
	for _, o := range s.Offers {
		if r.IntN(8) == 0 {
			continue
		}
		if smaller[o.ItemID] {
			i := slices.IndexFunc(v.Fills, func(f catalog.Fill) bool { return f.ID == o.ItemID })
			if len(v.Fills[i].SoldSizes) == 0 {
				continue
			}
			o.SoldSize = &v.Fills[i].SoldSizes[0]
		}
		change(&o.Meta, &o.Note)
		kept[o.ID] = true
		v.Offers = append(v.Offers, o)
	}
	for _, p := range s.Prices {
		if !kept[p.OfferID] {
			continue
		}
		if r.IntN(20) == 0 {
			p.Note += " changed"
		}
		v.Prices = append(v.Prices, p)
	}
	v.Sort()
	return v
}
