package costing

import (
	"cmp"
	"fmt"
	"slices"

	"sabinbook/internal/catalog"
	"sabinbook/internal/cutting"
	"sabinbook/internal/money"
	"sabinbook/internal/units"
)

// OnHand is so many equal things that are there already. They are used first and cost no
// cash; what it would cost to replace those that are used stands beside the cash.
type OnHand struct {
	Kind  catalog.ItemKind
	Item  string            // id or slug
	Size  *catalog.SoldSize // of a batt of fill
	Long  units.Length      // of a board of timber, or of a remnant of fabric
	Count int
	Value *money.Amount // what one of them would cost to replace; nil when not known
}

// stockKinds are the kinds of which stock is counted.
var stockKinds = []string{string(catalog.FillItem), string(catalog.FabricItem), string(catalog.PartItem)}

// Limits of the stock in a question. Convention.
const (
	maxOnHand      = 100
	maxOnHandCount = 10_000
)

// validateStock names every fault of the stock that can be seen without a catalog.
func (t Terms) validateStock(v *catalog.Faults) {
	if len(t.Stock) > maxOnHand {
		v.Add("/stock_on_hand", "out_of_range", fmt.Sprintf("must list at most %d things, got %d", maxOnHand, len(t.Stock)), "leave out what does not matter")
	}
	for i, h := range t.Stock {
		at := fmt.Sprintf("/stock_on_hand/%d", i)
		v.Word(at+"/item_kind", string(h.Kind), stockKinds)
		v.Text(at+"/item", h.Item, 1, 100)
		v.Within(at+"/count", float64(h.Count), 1, maxOnHandCount, "", "give how many there are, or leave the thing out")
		switch {
		case h.Kind == catalog.FillItem && h.Size == nil:
			v.Add(at+"/sold_size", "required", "is missing", "give length, width and thickness of the batts that are there")
		case h.Kind != catalog.FillItem && h.Size != nil:
			v.Add(at+"/sold_size", "not_applicable", "belongs to a fill only", "leave it out")
		}
		if h.Kind == catalog.FabricItem || h.Long != 0 {
			v.Within(at+"/length_mm", float64(h.Long), 1, 1e6, "mm", "give the length of one remnant or board in millimetres")
		}
		if h.Kind == catalog.FillItem && h.Long != 0 {
			v.Add(at+"/length_mm", "not_applicable", "belongs to fabric and timber only", "give sold_size")
		}
		if a := h.Value; a != nil {
			switch {
			case a.Currency() != t.Currency:
				v.Add(at+"/replacement_value/currency", "disagrees", fmt.Sprintf("is %s, the question's currency is %s", a.Currency(), t.Currency), "give it in the currency of the question; nothing is converted")
			case a.Sign() < 0 || a.Micro() > 1e15:
				v.Add(at+"/replacement_value/amount", "out_of_range", "must be 0 to 1000000000", "give what one of them would cost to buy again, e.g. 5.90")
			}
		}
	}
}

// FindStock names everything on hand that the snapshot does not have, or that can be no stock
// of it.
func (t Terms) FindStock(s catalog.Snapshot) error {
	v := &catalog.Faults{}
	seen := map[heldKey]bool{}
	for i, h := range t.Stock {
		at := fmt.Sprintf("/stock_on_hand/%d", i)
		f := find(s, h)
		switch {
		case !f.found:
			v.Add(at+"/item", "unknown_reference", fmt.Sprintf("there is no %s %q", h.Kind, h.Item), "use the id or the slug of a stored "+string(h.Kind))
			continue
		case h.Kind == catalog.FillItem && h.Size != nil && !slices.Contains(f.sizes, *h.Size):
			v.Add(at+"/sold_size", "not_sold", fmt.Sprintf("%s is not sold in %s", h.Item, h.Size), "use one of its sold sizes, or add this one to the fill")
		case f.timber && h.Long == 0:
			v.Add(at+"/length_mm", "required", "is missing", "give the length of the boards that are there")
		case h.Kind == catalog.PartItem && !f.timber && h.Long != 0:
			v.Add(at+"/length_mm", "not_applicable", "belongs to fabric and timber only", "leave it out")
		}
		key := f.key(h)
		if seen[key] {
			v.Add(at, "duplicate", "the same thing is listed twice", "list it once with the sum of the counts")
		}
		seen[key] = true
	}
	return v.Err()
}

// found is what the snapshot tells of a thing on hand.
type found struct {
	found  bool
	item   item
	sizes  []catalog.SoldSize
	timber bool
}

func find(s catalog.Snapshot, h OnHand) found {
	is := func(m catalog.Meta) bool { return string(m.ID) == h.Item || string(m.Slug) == h.Item }
	switch h.Kind {
	case catalog.FillItem:
		if i := slices.IndexFunc(s.Fills, func(f catalog.Fill) bool { return is(f.Meta) }); i >= 0 {
			return found{true, item{h.Kind, s.Fills[i].ID}, s.Fills[i].SoldSizes, false}
		}
	case catalog.FabricItem:
		if i := slices.IndexFunc(s.Fabrics, func(f catalog.Fabric) bool { return is(f.Meta) }); i >= 0 {
			return found{found: true, item: item{h.Kind, s.Fabrics[i].ID}}
		}
	case catalog.PartItem:
		if i := slices.IndexFunc(s.Parts, func(p catalog.Part) bool { return is(p.Meta) }); i >= 0 {
			return found{true, item{h.Kind, s.Parts[i].ID}, nil, s.Parts[i].Kind == catalog.Timber}
		}
	}
	return found{}
}

// heldKey tells one kind of thing on hand from another.
type heldKey struct {
	item item
	size catalog.SoldSize
	long units.Length
}

func (f found) key(h OnHand) heldKey {
	k := heldKey{item: f.item, long: h.Long}
	if h.Size != nil {
		k.size = *h.Size
	}
	return k
}

// shelved is the stock by item, each in ascending order of size and length.
func shelved(s catalog.Snapshot, list []OnHand) map[item][]OnHand {
	out := map[item][]OnHand{}
	for _, h := range list {
		if f := find(s, h); f.found {
			out[f.item] = append(out[f.item], h)
		}
	}
	for _, l := range out {
		slices.SortFunc(l, func(a, b OnHand) int {
			if a.Size != nil && b.Size != nil {
				return compareSizes(*a.Size, *b.Size)
			}
			return cmp.Compare(a.Long, b.Long)
		})
	}
	return out
}

// taken is what one way takes of one kind of thing on hand.
type taken struct {
	size     string
	count    int     // things of which something is taken
	quantity float64 // in the unit of the way
	value    *money.Amount
	boards   *cutting.BoardPlan
	cloth    *cutting.ClothPlan
}

// take takes up to n of the things.
func take(h OnHand, n int64, size string) taken {
	count := min(int64(h.Count), n)
	t := taken{size: size, count: int(count), quantity: float64(count)}
	if h.Value != nil {
		value := h.Value.Times(count)
		t.value = &value
	}
	return t
}

// battsOnHand returns the batts of a size that are there.
func (m *Market) battsOnHand(key item, size catalog.SoldSize) (OnHand, bool) {
	i := slices.IndexFunc(m.stock[key], func(h OnHand) bool { return *h.Size == size })
	if i < 0 {
		return OnHand{}, false
	}
	return m.stock[key][i], true
}

// fromRemnants cuts shelves of the plan from the remnants of fabric that are there, the
// shortest remnant first and each filled as far as shelves go, with the same waste as
// bought cloth. It returns what is taken and the plan of the rest.
func (m *Market) fromRemnants(key item, plan cutting.ClothPlan) ([]taken, cutting.ClothPlan) {
	rest := plan
	rest.Shelves = slices.Clone(plan.Shelves)
	var out []taken
	for _, h := range m.stock[key] {
		t := taken{size: fmt.Sprintf("%g", float64(h.Long)), cloth: &cutting.ClothPlan{Status: plan.Status, Usable: plan.Usable}}
		for range h.Count {
			if !m.remnant(h.Long, &rest, &t) {
				break
			}
		}
		if t.count > 0 {
			if h.Value != nil { // of the remnant, the share that is cut from it
				value := h.Value.TimesRatio(units.Length(t.quantity*1000).Tenths(), h.Long.Tenths())
				t.value = &value
			}
			out = append(out, t)
		}
	}
	return out, rest
}

// remnant moves the shelves that fill one remnant best from rest to t, and reports false when
// none fits.
func (m *Market) remnant(long units.Length, rest *cutting.ClothPlan, t *taken) bool {
	room := long.Tenths()
	best, counts, bestCounts := int64(0), make([]int, len(rest.Shelves)), make([]int, len(rest.Shelves))
	steps := 0
	var try func(i int, used int64)
	try = func(i int, used int64) {
		if steps++; used > best {
			best = used
			copy(bestCounts, counts)
		}
		if i == len(rest.Shelves) || best == room || steps > remnantSteps {
			return
		}
		depth := m.withWaste(rest.Shelves[i].Depth.Tenths())
		for n := min(int64(rest.Shelves[i].Times), (room-used)/depth); n >= 0; n-- {
			counts[i] = int(n)
			try(i+1, used+n*depth)
		}
		counts[i] = 0
	}
	try(0, 0)
	if best == 0 {
		return false
	}
	t.count++
	for i, n := range bestCounts {
		if n == 0 {
			continue
		}
		s := rest.Shelves[i]
		rest.Shelves[i].Times -= n
		length := s.Depth * units.Length(n)
		rest.Length -= length
		s.Times = n
		t.cloth.Shelves, t.cloth.Length = append(t.cloth.Shelves, s), t.cloth.Length+length
	}
	rest.Shelves = slices.DeleteFunc(rest.Shelves, func(s cutting.Shelf) bool { return s.Times == 0 })
	t.quantity += units.FromTenths(best).Metres()
	return true
}

// remnantSteps bounds the search for the shelves of one remnant; with the three or fewer depths
// of a panel it is never reached. Convention.
const remnantSteps = 100_000

// withWaste adds the waste of cloth to tenths of a millimetre, rounded up.
func (m *Market) withWaste(tenths int64) int64 {
	return (tenths*(10_000+int64(m.terms.FabricWasteBP)) + 9_999) / 10_000
}

// ofStock is the part of a plan that is cut from boards of one stock.
func ofStock(plan cutting.BoardPlan, stock []cutting.Stock, at int) cutting.BoardPlan {
	out := cutting.BoardPlan{Status: plan.Status}
	for _, b := range plan.Boards {
		if b.Stock == at {
			out.Boards, out.Count = append(out.Boards, b), out.Count+b.Times
			out.Length += stock[at].Length * units.Length(b.Times)
		}
	}
	return out
}
