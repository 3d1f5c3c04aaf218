package shortlist_test

import (
	"slices"
	"testing"

	"sabinbook/internal/catalog"
	"sabinbook/internal/costing"
	"sabinbook/internal/money"
	"sabinbook/internal/ranking"
	"sabinbook/internal/shortlist"
)

// A scripted history: three weeks later one price has gone up, one fill has another slug and one
// fabric is gone. Totals and places are those of a ranking over that catalog.
func TestRepriceAfterAHistoryOfPrices(t *testing.T) {
	s := demo(t)
	b := ranking.StandardBrief(10, day, "EUR")
	b.Draws.Count, b.Order = 0, ranking.ByCost
	all, err := ranking.Prepare(s, 2).Rank(b)
	if err != nil {
		t.Fatal(err)
	}
	first := all.Options[0]
	other := all.Options[slices.IndexFunc(all.Options, func(o ranking.Option) bool {
		return o.Build.Fill.ID != first.Build.Fill.ID && o.Build.Fabric.ID == first.Build.Fabric.ID
	})]
	gone := all.Options[slices.IndexFunc(all.Options, func(o ranking.Option) bool { return o.Build.Fabric.ID != first.Build.Fabric.ID })]
	b.Options = []string{first.Key(), other.Key(), gone.Key()}
	kept, err := ranking.Prepare(s, 2).Rank(b)
	if err != nil {
		t.Fatal(err)
	}
	then, err := shortlist.Cut(s, kept)
	if err != nil {
		t.Fatal(err)
	}
	same, err := shortlist.Reprice(then, kept, ranking.Prepare(s, 2), day)
	if err != nil || !same.OrderHolds || len(same.Changes) > 0 || same.First != first.Key() {
		t.Fatalf("%v %+v", err, same)
	}

	const today = catalog.Date("2026-11-23")
	fillOffer := first.Cost.Lines[slices.IndexFunc(first.Cost.Lines, func(l costing.Line) bool { return l.Need == "fill" })].Offer
	old := catalog.CurrentPrices(s.Prices, day)[fillOffer.ID]
	seen := old
	seen.ID, seen.Observed, seen.Amount = "price_zzzzzzzzzzzzzzzzzzzzzzzzzz", "2026-11-20", old.Amount.Add(money.FromMinor(200, "EUR"))
	s.Prices = append(slices.Clone(s.Prices), seen)
	s.Fabrics = slices.DeleteFunc(slices.Clone(s.Fabrics), func(f catalog.Fabric) bool { return f.ID == gone.Build.Fabric.ID })
	s.Fills = slices.Clone(s.Fills)
	for i := range s.Fills {
		if s.Fills[i].ID == other.Build.Fill.ID {
			s.Fills[i].Slug = "renamed-fill"
		}
	}
	s.Sort()
	now := ranking.Prepare(s, 2)
	r, err := shortlist.Reprice(then, kept, now, today)
	if err != nil {
		t.Fatal(err)
	}
	if r.OrderHolds {
		t.Error("an option is gone, and the order holds")
	}
	for _, o := range r.Options {
		if o.Key == gone.Key() {
			if o.Gone != shortlist.FabricGone || o.PlaceNow != 0 {
				t.Errorf("%+v", o)
			}
			continue
		}
		q := b
		q.Terms.AsOf, q.Options = today, []string{o.KeyNow}
		alone, err := now.Rank(q)
		if err != nil {
			t.Fatal(err)
		}
		if o.Now == nil || o.Now.Cmp(*alone.Options[0].Cost.Total) != 0 {
			t.Errorf("%s: %v, want %v", o.Key, o.Now, alone.Options[0].Cost.Total)
			continue
		}
		if o.Key == other.Key() && o.KeyNow == o.Key {
			t.Error("the new slug is not in the key")
		}
		sum := *o.Rest
		for _, e := range o.Explained {
			sum = sum.Add(e.Amount)
		}
		if sum.Cmp(o.Now.Sub(o.Then)) != 0 {
			t.Errorf("%s: explained %v and rest %v of %v", o.Key, o.Explained, o.Rest, o.Now.Sub(o.Then))
		}
		// Only this price has changed: all of the change is its.
		if !o.Rest.IsZero() {
			t.Errorf("%s: a rest of %s", o.Key, o.Rest)
		}
	}
	if len(r.Changes) != 1 || r.Changes[0].Offer.ID != fillOffer.ID || r.Changes[0].Now.Amount != seen.Amount || r.Changes[0].Then.Amount != old.Amount {
		t.Errorf("%+v", r.Changes)
	}
}
