package costing

import (
	"cmp"
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
	supply     *supply // nil of what is owned
}

// supply is what the market has for a need: ways, each with how it is bought; or the reason
// why there is none.
type supply struct {
	ways   []buying.Way
	how    []how       // of each way
	need   buying.Need // of the ways, prepared
	reason Reason
}

// how describes a way: the step from pieces to quantities, what is taken of what is there,
// and what is bought, one portion for each item of the way.
type how struct {
	item     catalog.Meta
	unit     string
	scale    float64 // quantity per unit
	formula  string
	inputs   []handling.Input
	taken    []taken
	portions []portion
	// of protective equipment: uses in a unit, and how many are spent of what is bought
	usesPerUnit, uses int64
	batts             *cutting.BattPlan
}

// portion is what is bought of one size: its quotes stand in the order of the offers.
type portion struct {
	quantity int64
	size     string
	quotes   []*quote
	boards   *cutting.BoardPlan
	cloth    *cutting.ClothPlan
}

// ask is the key under which a supply is kept: what is asked of which item.
type ask struct {
	item   item
	role   catalog.Role
	size   units.Length // thickness of fill
	pieces [3]rect
	mitred bool
	wear   handling.Protection
	load   units.Mass // least working load of hangers
}

// rect is so many pieces of one size.
type rect struct {
	width, height units.Length
	count         int
}

// remember returns the supply for a key, worked out once. Two who ask at the same time may both
// work it out; the first one stays.
func (m *Market) remember(key ask, work func() supply) *supply {
	m.lock.Lock()
	s, ok := m.known[key]
	m.lock.Unlock()
	if ok {
		return s
	}
	made := work()
	if made.reason == "" {
		made.need = buying.Prepare(m.terms.Currency, m.buyers, buying.Need{Ways: made.ways}, !m.terms.AllowPadding)
	}
	m.lock.Lock()
	defer m.lock.Unlock()
	if s, ok := m.known[key]; ok {
		return s
	}
	m.known[key] = &made
	return &made
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

// offer writes a portion of so much as an item of a way; pack says what a pack holds.
func (m *Market) offer(quantity int64, quotes []*quote, pack func(catalog.Offer) int64) buying.Item {
	offers := make([]buying.Offer, len(quotes))
	for i, q := range quotes {
		offers[i] = buying.Offer{ID: string(q.offer.ID), Supplier: q.supplier, Pack: pack(q.offer), Price: q.price.Amount,
			Tax: m.tax(q.price), TaxBP: q.price.TaxRateBP, MinPacks: q.offer.MinPacks, MaxPacks: q.offer.MaxPacks, Grams: q.grams, Volume: q.volume}
		for _, b := range q.price.Breaks {
			offers[i].Breaks = append(offers[i].Breaks, buying.Break{From: b.From, Price: b.Price})
		}
	}
	return buying.Item{Quantity: quantity, Offers: offers}
}

// add adds the way in which portions are bought, after what is on hand. A way in which something
// is lacking that nobody sells is none.
func (s *supply) add(m *Market, h how, pack func(catalog.Offer) int64, portions ...portion) {
	way := buying.Way{}
	for _, p := range portions {
		if p.quantity == 0 {
			continue
		}
		if len(p.quotes) == 0 {
			return
		}
		way.Items = append(way.Items, m.offer(p.quantity, p.quotes, pack))
		h.portions = append(h.portions, p)
	}
	s.ways, s.how = append(s.ways, way), append(s.how, h)
}

// less takes what is on hand from a quantity; formula and inputs say so.
func (h *how) less(quantity int64, own OnHand, size string) int64 {
	t := take(own, quantity, size)
	h.taken = append(h.taken, t)
	h.formula += " − on_hand"
	h.inputs = append(h.inputs, handling.Input{Name: "on_hand", Value: float64(own.Count)})
	return quantity - int64(t.count)
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

// sizes lists the sizes of quotes.
func sizes[S any](quotes []*quote, size func(*quote) S) []S {
	list := make([]S, len(quotes))
	for i, q := range quotes {
		list[i] = size(q)
	}
	return list
}

// fill has one way for each size of the thickness that is sold or on hand: batts are not
// mixed.
func (m *Market) fill(l needs.List) *supply {
	p := l.FillPieces
	key := ask{item: item{catalog.FillItem, l.Fill.ID}, size: l.Thickness, pieces: [3]rect{{p.Width, p.Height, p.Count}}}
	return m.remember(key, func() supply {
		quotes, reason := usable(m.quotes[key.item], func(q *quote) bool { return q.offer.SoldSize != nil && q.offer.SoldSize.Thickness == l.Thickness })
		all := sizes(quotes, func(q *quote) catalog.SoldSize { return *q.offer.SoldSize })
		for _, own := range m.stock[key.item] {
			if own.Size.Thickness == l.Thickness {
				all = append(all, *own.Size)
			}
		}
		slices.SortFunc(all, compareSizes)
		var s supply
		for _, size := range slices.Compact(all) {
			h := how{item: l.Fill.Meta, unit: "batt", scale: 1}
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
			if own, there := m.battsOnHand(key.item, size); there {
				quantity = h.less(quantity, own, size.String())
			}
			sold := portion{quantity: quantity, size: size.String()}
			for _, q := range quotes {
				if *q.offer.SoldSize == size {
					sold.quotes = append(sold.quotes, q)
				}
			}
			s.add(m, h, packCount, sold)
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
	plan := m.battPlan(p, size)
	if plan.Status == cutting.Infeasible {
		return 0, false
	}
	h.batts = plan
	h.inputs = []handling.Input{{Name: "pieces", Value: float64(p.Count)}, {Name: "joints", Value: float64(plan.Joints)}}
	switch {
	case plan.Layout != nil:
		h.formula = "batts of the layout: whole ones and those cut into strips, which pieces share"
	case plan.Joints > 0:
		h.formula = "sum over pieces of a joined panel of ⌈pieces / pieces_per_batt⌉"
	default:
		h.formula = "⌈pieces / pieces_per_batt⌉"
		h.inputs[1] = handling.Input{Name: "pieces_per_batt", Value: float64(plan.Cells[0].PerBatt)}
	}
	return int64(plan.Batts), true
}

// rect of a batt and of the pieces cut from it: the plan is the same for all fills.
type battKey struct {
	pieces        rect
	length, width units.Length
}

// battPlan returns the plan for pieces and a size, worked out once.
func (m *Market) battPlan(p needs.Piece, size catalog.SoldSize) *cutting.BattPlan {
	key := battKey{rect{p.Width, p.Height, p.Count}, size.Length, size.Width}
	m.lock.Lock()
	plan, ok := m.battPlans[key]
	m.lock.Unlock()
	if !ok {
		made := m.planner.Plan(p.Width, p.Height, p.Count, size.Length, size.Width, cutting.BattRules{MinPiece: m.terms.MinPiece, Turn: true})
		plan = &made
		m.lock.Lock()
		m.battPlans[key] = plan
		m.lock.Unlock()
	}
	return plan
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

// fabric has one way for each offer, a length that is cut from one roll: pieces cannot be
// made of two. What remnants on hand give is not bought.
func (m *Market) fabric(l needs.List) *supply {
	key := ask{item: item{catalog.FabricItem, l.Fabric.ID}}
	pieces := make([]cutting.ClothPiece, len(l.Cloth))
	for i, p := range l.Cloth {
		pieces[i] = cutting.ClothPiece{Across: p.Width, Along: p.Height, Count: p.Count, Turn: !l.Fabric.Directional}
		key.pieces[i] = rect{p.Width, p.Height, p.Count}
	}
	return m.remember(key, func() supply {
		quotes, reason := usable(m.quotes[key.item], func(*quote) bool { return true })
		if len(quotes) == 0 && len(m.stock[key.item]) == 0 {
			return supply{reason: reason}
		}
		plan := cutting.Cloth(pieces, cutting.Roll{Width: l.Fabric.RollWidth, Selvedge: l.Fabric.Selvedge}, cutting.ClothRules{})
		if plan.Status == cutting.Infeasible {
			return supply{reason: DoesNotFit}
		}
		h := how{item: l.Fabric.Meta, unit: "m", scale: tenthsPerMetre, formula: "roll_length × (1 + waste)", inputs: []handling.Input{
			{Name: "roll_length", Value: plan.Length.Metres(), Unit: "m"}, {Name: "waste", Value: float64(m.terms.FabricWasteBP) / 10_000}}}
		if h.taken, plan = m.fromRemnants(key.item, plan); len(h.taken) > 0 {
			h.formula = "(roll_length − from_remnants) × (1 + waste)"
			h.inputs = append(h.inputs, handling.Input{Name: "from_remnants", Value: h.inputs[0].Value - plan.Length.Metres(), Unit: "m"})
		}
		quantity := m.withWaste(plan.Length.Tenths())
		var s supply
		if quantity == 0 {
			s.add(m, h, nil)
		}
		for _, q := range quotes {
			if quantity > 0 {
				s.add(m, h, func(o catalog.Offer) int64 { return o.PackLength.Tenths() }, portion{quantity: quantity, quotes: []*quote{q}, cloth: &plan})
			}
		}
		return s.or(reason)
	})
}

// part has one way for each part that plays the role: they are not mixed. Parts that are
// declared for less than they must carry are none; those that are not declared stay.
func (m *Market) part(role catalog.Role, count int, carries units.Mass) *supply {
	load := m.leastLoad(role, carries)
	return m.remember(ask{role: role, pieces: [3]rect{{count: count}}, load: load}, func() supply {
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
func (m *Market) protection(p handling.Protection) *supply {
	return m.remember(ask{role: p.Role, wear: p}, func() supply {
		return m.anyPart(p.Role, func(catalog.Part) bool { return true }, func(part catalog.Part) (int64, how) {
			count, used, available := p.Units(part.UsesPerUnit)
			perUnit := available / count
			return int64(count), how{unit: "unit", usesPerUnit: int64(perUnit), uses: int64(used), formula: "max(at_least, ⌈uses / uses_per_unit⌉)",
				inputs: []handling.Input{{Name: "at_least", Value: float64(p.AtLeast)}, {Name: "uses", Value: float64(used)}, {Name: "uses_per_unit", Value: float64(perUnit)}}}
		})
	})
}

// anyPart has one way for each fitting part that plays the role, after what is on hand of it.
func (m *Market) anyPart(role catalog.Role, fits func(catalog.Part) bool, quantity func(catalog.Part) (int64, how)) supply {
	var s supply
	var all []*quote
	weak := false
	for _, p := range m.parts[role] {
		key := item{catalog.PartItem, p.ID}
		quotes := m.quotes[key]
		if !fits(p) {
			weak = weak || m.HasPrice(catalog.PartItem, p.ID)
			continue
		}
		all = append(all, quotes...)
		n, h := quantity(p)
		h.item, h.scale = p.Meta, 1
		if own := m.stock[key]; len(own) > 0 { // a part that is not timber has one kind
			n = h.less(n, own[0], "")
			h.uses = max(0, h.uses-int64(h.taken[0].count)*h.usesPerUnit)
		}
		priced, _ := usable(quotes, func(*quote) bool { return true })
		s.add(m, h, packCount, portion{quantity: n, quotes: priced})
	}
	_, reason := usable(all, func(*quote) bool { return true })
	if weak && len(all) == 0 {
		reason = TooWeak
	}
	return s.or(reason)
}
