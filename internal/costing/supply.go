package costing

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"sabinbook/internal/buying"
	"sabinbook/internal/catalog"
	"sabinbook/internal/cutting"
	"sabinbook/internal/handling"
	"sabinbook/internal/needs"
	"sabinbook/internal/units"
)

// want is one need of the list with the ways in which it can be met.
type want struct {
	code       string
	kind       catalog.ItemKind
	item       catalog.Meta // zero where any part of the role will do
	role       catalog.Role
	pieces     []needs.Basis
	owned      bool
	protective bool
	supply     supply
}

// supply is what the market has for a need: ways, each with how it is bought; or the reason
// why there is none.
type supply struct {
	ways   []buying.Way
	how    []how       // of each way
	need   buying.Need // of the ways, prepared
	reason Reason
}

// how describes a way: its item, its quotes in the order of its offers, and the step from
// pieces to the quantity.
type how struct {
	item    catalog.Meta
	size    string
	unit    string
	scale   float64 // quantity per unit
	formula string
	inputs  []handling.Input
	quotes  []*quote
	// of protective equipment: uses in a unit, and how many are spent in all
	usesPerUnit, uses int64
	boards            *cutting.BoardPlan
	cloth             *cutting.ClothPlan
	batts             *cutting.BattPlan
}

// ask is the key under which a supply is kept: what is asked of which item.
type ask struct {
	item   item
	role   catalog.Role
	size   units.Length // thickness of fill
	pieces [2]rect
	wear   handling.Protection
	load   units.Mass // least working load of hangers
}

// rect is so many pieces of one size.
type rect struct {
	width, height units.Length
	count         int
}

// remember returns the supply for a key, worked out once.
func (m *Market) remember(key ask, work func() supply) supply {
	m.lock.Lock()
	defer m.lock.Unlock()
	s, ok := m.known[key]
	if !ok {
		s = work()
		if s.reason == "" {
			s.need = buying.Prepare(m.terms.Currency, m.buyers, buying.Need{Ways: s.ways}, !m.terms.AllowPadding)
		}
		m.known[key] = s
	}
	return s
}

// wanted lists what the panels need, in the order of the answer: fill, fabric, frame, parts,
// protective equipment. Something that is owned needs no supply.
func (m *Market) wanted(l needs.List) []want {
	list := make([]want, 0, 3+len(l.Parts)+len(l.Protection))
	list = append(list,
		want{code: "fill", kind: catalog.FillItem, item: l.Fill.Meta, pieces: []needs.Basis{l.FillPieces.Basis}, supply: m.fill(l)},
		want{code: "fabric", kind: catalog.FabricItem, item: l.Fabric.Meta, pieces: clothBases(l.Cloth), supply: m.fabric(l)})
	frame := want{code: "frame", kind: catalog.PartItem, item: l.Frame.Meta, role: l.Frame.Role, pieces: barBases(l.Bars), owned: m.owns(l.Frame.Role)}
	if !frame.owned {
		frame.supply = m.frame(l)
	}
	list = append(list, frame)
	for _, p := range l.Parts {
		if p.Count == 0 {
			continue
		}
		w := want{code: string(p.Role), kind: catalog.PartItem, role: p.Role, pieces: []needs.Basis{p.Basis}, owned: m.owns(p.Role)}
		if !w.owned {
			w.supply = m.part(p.Role, p.Count, p.Carries)
		}
		list = append(list, w)
	}
	for _, p := range l.Protection {
		w := want{code: string(p.Role), kind: catalog.PartItem, role: p.Role, pieces: []needs.Basis{p.Basis}, protective: true,
			owned: p.Owned || m.owns(p.Role)}
		if !w.owned {
			w.supply = m.protection(p.Protection)
		}
		list = append(list, w)
	}
	return list
}

func (m *Market) owns(r catalog.Role) bool { return slices.Contains(m.terms.Owned, r) }

func clothBases(list []needs.Piece) []needs.Basis {
	out := make([]needs.Basis, len(list))
	for i, p := range list {
		out[i] = p.Basis
	}
	return out
}

func barBases(list []needs.Bar) []needs.Basis {
	out := make([]needs.Basis, len(list))
	for i, b := range list {
		out[i] = b.Basis
	}
	return out
}

// usable splits the quotes into those with a price and the reason why the others have none.
func usable(quotes []*quote, fits func(*quote) bool) ([]*quote, Reason) {
	var list []*quote
	found := map[Reason]bool{}
	for _, q := range quotes {
		switch {
		case !fits(q):
		case q.reason == "":
			list = append(list, q)
		default:
			found[q.reason] = true
		}
	}
	for _, r := range reasonOrder {
		if found[r] {
			return list, r
		}
	}
	return list, NoOffer
}

// way makes a way of quotes whose packs hold what pack says.
func (m *Market) way(quantity int64, quotes []*quote, pack func(catalog.Offer) int64) buying.Way {
	offers := make([]buying.Offer, len(quotes))
	for i, q := range quotes {
		offers[i] = buying.Offer{ID: string(q.offer.ID), Supplier: q.supplier, Pack: pack(q.offer), Price: q.price.Amount,
			Tax: m.tax(q.price), TaxBP: q.price.TaxRateBP, MinPacks: q.offer.MinPacks, MaxPacks: q.offer.MaxPacks, Grams: q.grams}
	}
	return buying.Simple(quantity, offers)
}

func (m *Market) tax(p catalog.Price) buying.Tax { return taxOf(p.TaxIncluded, m.terms.Tax) }

// taxOf is what is done with the tax of a price that holds it or not.
func taxOf(included bool, basis TaxBasis) buying.Tax {
	switch counted := basis != TaxExcluded; {
	case included && counted:
		return buying.AsListed
	case included:
		return buying.RemoveTax
	case counted:
		return buying.AddTax
	}
	return buying.BeforeTax
}

func packCount(o catalog.Offer) int64 { return int64(o.PackCount) }

// sizes lists the different sizes of quotes, in the order given by compare.
func sizes[S comparable](quotes []*quote, size func(*quote) S, compare func(a, b S) int) []S {
	var list []S
	for _, q := range quotes {
		list = append(list, size(q))
	}
	slices.SortFunc(list, compare)
	return slices.Compact(list)
}

// fill has one way for each sold size of the thickness: batts are not mixed.
func (m *Market) fill(l needs.List) supply {
	p := l.FillPieces
	key := ask{item: item{catalog.FillItem, l.Fill.ID}, size: l.Thickness, pieces: [2]rect{{p.Width, p.Height, p.Count}}}
	return m.remember(key, func() supply {
		quotes, reason := usable(m.quotes[key.item], func(q *quote) bool { return q.offer.SoldSize != nil && q.offer.SoldSize.Thickness == l.Thickness })
		var s supply
		for _, size := range sizes(quotes, func(q *quote) catalog.SoldSize { return *q.offer.SoldSize }, compareSizes) {
			h := how{item: l.Fill.Meta, size: size.String(), unit: "batt", scale: 1}
			quantity, ok := int64(0), false
			if l.Fill.Form == catalog.Loose {
				quantity, ok = m.loose(l, size, &h)
			} else {
				quantity, ok = m.batts(p, size, &h)
			}
			if !ok {
				reason = DoesNotFit
				continue
			}
			for _, q := range quotes {
				if *q.offer.SoldSize == size {
					h.quotes = append(h.quotes, q)
				}
			}
			s.ways, s.how = append(s.ways, m.way(quantity, h.quotes, packCount)), append(s.how, h)
		}
		return s.or(reason)
	})
}

func compareSizes(a, b catalog.SoldSize) int {
	return cmp.Or(cmp.Compare(a.Length, b.Length), cmp.Compare(a.Width, b.Width), cmp.Compare(a.Thickness, b.Thickness))
}

// or gives the reason to a supply without a way.
func (s supply) or(reason Reason) supply {
	if len(s.ways) == 0 {
		s.reason = reason
	}
	return s
}

// batts counts the batts that the pieces take.
func (m *Market) batts(p needs.Piece, size catalog.SoldSize, h *how) (int64, bool) {
	plan := cutting.Batts(p.Width, p.Height, p.Count, size.Length, size.Width, cutting.BattRules{MinPiece: m.terms.MinPiece, Turn: true})
	if plan.Status == cutting.Infeasible {
		return 0, false
	}
	h.batts = &plan
	h.formula = "⌈pieces / pieces_per_batt⌉"
	h.inputs = []handling.Input{{Name: "pieces", Value: float64(p.Count)}, {Name: "pieces_per_batt", Value: float64(plan.Cells[0].PerBatt)}}
	if plan.Joints > 0 {
		h.formula = "sum over pieces of a joined panel of ⌈pieces / pieces_per_batt⌉"
		h.inputs = []handling.Input{{Name: "pieces", Value: float64(p.Count)}, {Name: "joints", Value: float64(plan.Joints)}}
	}
	return int64(plan.Batts), true
}

// loose counts the packages of a fill that is sold by volume, with waste.
func (m *Market) loose(l needs.List, size catalog.SoldSize, h *how) (int64, bool) {
	volume := size.Length.Metres() * size.Width.Metres() * size.Thickness.Metres()
	h.formula = "⌈volume × (1 + waste) / pack_volume⌉"
	waste := float64(m.terms.LooseWasteBP) / 10_000
	h.inputs = []handling.Input{{Name: "volume", Value: float64(l.FillVolume), Unit: "m3"}, {Name: "waste", Value: waste}, {Name: "pack_volume", Value: volume, Unit: "m3"}}
	return wholeUp(float64(l.FillVolume) * (1 + waste) / volume), true
}

// tenthsPerMetre is the scale of cloth: its quantities are whole tenths of a millimetre.
const tenthsPerMetre = 10_000

// fabric has one way: a length of the roll, with waste.
func (m *Market) fabric(l needs.List) supply {
	key := ask{item: item{catalog.FabricItem, l.Fabric.ID}}
	pieces := make([]cutting.ClothPiece, len(l.Cloth))
	for i, p := range l.Cloth {
		pieces[i] = cutting.ClothPiece{Across: p.Width, Along: p.Height, Count: p.Count, Turn: !l.Fabric.Directional}
		key.pieces[i] = rect{p.Width, p.Height, p.Count}
	}
	return m.remember(key, func() supply {
		quotes, reason := usable(m.quotes[key.item], func(*quote) bool { return true })
		if len(quotes) == 0 {
			return supply{reason: reason}
		}
		plan := cutting.Cloth(pieces, cutting.Roll{Width: l.Fabric.RollWidth, Selvedge: l.Fabric.Selvedge}, cutting.ClothRules{})
		if plan.Status == cutting.Infeasible {
			return supply{reason: DoesNotFit}
		}
		waste := int64(m.terms.FabricWasteBP)
		quantity := (plan.Length.Tenths()*(10_000+waste) + 9_999) / 10_000
		h := how{item: l.Fabric.Meta, unit: "m", scale: tenthsPerMetre, cloth: &plan, quotes: quotes, formula: "roll_length × (1 + waste)",
			inputs: []handling.Input{{Name: "roll_length", Value: plan.Length.Metres(), Unit: "m"}, {Name: "waste", Value: float64(waste) / 10_000}}}
		return supply{ways: []buying.Way{m.way(quantity, quotes, func(o catalog.Offer) int64 { return o.PackLength.Tenths() })}, how: []how{h}}
	})
}

// frame has one way for each stock length of the timber.
func (m *Market) frame(l needs.List) supply {
	key := ask{item: item{catalog.PartItem, l.Frame.ID}}
	bars := make([]cutting.Bar, len(l.Bars))
	for i, b := range l.Bars {
		bars[i] = cutting.Bar{Length: b.Length, Count: b.Count}
		key.pieces[i] = rect{b.Length, 0, b.Count}
	}
	return m.remember(key, func() supply {
		quotes, reason := usable(m.quotes[key.item], func(*quote) bool { return true })
		var s supply
		for _, stock := range sizes(quotes, func(q *quote) units.Length { return q.offer.StockLength }, cmp.Compare) {
			plan := cutting.Boards(bars, []cutting.Stock{{Length: stock}}, cutting.BoardRules{Kerf: m.terms.Kerf})
			if plan.Status == cutting.Infeasible {
				reason = DoesNotFit
				continue
			}
			h := how{item: l.Frame.Meta, size: fmt.Sprintf("%g", float64(stock)), unit: "board", scale: 1, boards: &plan,
				formula: "boards of stock_length that hold all pieces with kerf between them",
				inputs:  []handling.Input{{Name: "stock_length", Value: float64(stock), Unit: "mm"}, {Name: "kerf", Value: float64(m.terms.Kerf), Unit: "mm"}}}
			for _, q := range quotes {
				if q.offer.StockLength == stock {
					h.quotes = append(h.quotes, q)
				}
			}
			s.ways, s.how = append(s.ways, m.way(int64(plan.Count), h.quotes, packCount)), append(s.how, h)
		}
		return s.or(reason)
	})
}

// part has one way for each part that plays the role: they are not mixed. Parts that are
// declared for less than they must carry are none; those that are not declared stay.
func (m *Market) part(role catalog.Role, count int, carries units.Mass) supply {
	load := m.leastLoad(role, carries)
	return m.remember(ask{role: role, pieces: [2]rect{{count: count}}, load: load}, func() supply {
		strong := func(p catalog.Part) bool { return p.WorkingLoad == nil || p.WorkingLoad.Value >= load }
		return m.anyPart(role, strong, func(catalog.Part) (int64, how) {
			return int64(count), how{unit: "piece", formula: "panels × per_panel"}
		})
	})
}

// leastLoad returns the least working load of the role's parts that carries a mass. Masses
// between two loads ask for the same parts, so that they are worked out once.
func (m *Market) leastLoad(role catalog.Role, carries units.Mass) units.Mass {
	if carries == 0 {
		return 0
	}
	least := units.Mass(math.Inf(1))
	for _, p := range m.parts[role] {
		if p.WorkingLoad != nil && p.WorkingLoad.Value >= carries {
			least = min(least, p.WorkingLoad.Value)
		}
	}
	return least
}

// protection has one way for each part that plays the role, by its uses.
func (m *Market) protection(p handling.Protection) supply {
	return m.remember(ask{role: p.Role, wear: p}, func() supply {
		return m.anyPart(p.Role, func(catalog.Part) bool { return true }, func(part catalog.Part) (int64, how) {
			count, used, available := p.Units(part.UsesPerUnit)
			perUnit := available / count
			return int64(count), how{unit: "unit", usesPerUnit: int64(perUnit), uses: int64(used), formula: "max(at_least, ⌈uses / uses_per_unit⌉)",
				inputs: []handling.Input{{Name: "at_least", Value: float64(p.AtLeast)}, {Name: "uses", Value: float64(used)}, {Name: "uses_per_unit", Value: float64(perUnit)}}}
		})
	})
}

// anyPart has one way for each fitting part that plays the role.
func (m *Market) anyPart(role catalog.Role, fits func(catalog.Part) bool, quantity func(catalog.Part) (int64, how)) supply {
	var s supply
	var all []*quote
	weak := false
	for _, p := range m.parts[role] {
		quotes := m.quotes[item{catalog.PartItem, p.ID}]
		if !fits(p) {
			weak = weak || m.HasPrice(catalog.PartItem, p.ID)
			continue
		}
		all = append(all, quotes...)
		if priced, _ := usable(quotes, func(*quote) bool { return true }); len(priced) > 0 {
			n, h := quantity(p)
			h.item, h.scale, h.quotes = p.Meta, 1, priced
			s.ways, s.how = append(s.ways, m.way(n, priced, packCount)), append(s.how, h)
		}
	}
	_, reason := usable(all, func(*quote) bool { return true })
	if weak && len(all) == 0 {
		reason = TooWeak
	}
	return s.or(reason)
}
