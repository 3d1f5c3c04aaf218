package costing

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"sabinbook/internal/buying"
	"sabinbook/internal/catalog"
	"sabinbook/internal/money"
)

// Purchase asks where things are bought for least, from suppliers and offers that it lists
// itself. Pointers of faults are those of the wire.
type Purchase struct {
	Currency  money.Currency
	Tax       TaxBasis
	Suppliers []Shop
	Items     []Item  // everything that is wanted
	OneOf     []OneOf // wants that can be met in one of several ways
	Offers    []OnOffer
	NoPadding bool // see buying.Problem
	// NodeLimit and LabelLimit bound the search; 0 for the default.
	NodeLimit, LabelLimit int
}

// Shop is a supplier: it delivers, lets collect, or both.
type Shop struct {
	ID       string
	Delivery *buying.Delivery
	Trip     *money.Amount
}

// Item is so much of one thing.
type Item struct {
	ID              string
	Quantity, Stock float64 // in its unit, at most three decimal places
	Value           *money.Amount
}

// OneOf is a want that is met in exactly one of its ways, by all items of that way.
type OneOf struct {
	ID   string
	Ways [][]Item
}

// OnOffer is one pack size of an item at a shop.
type OnOffer struct {
	ID, Shop, Item     string
	Pack               float64 // content in the unit of the item, at most three decimal places
	Price              money.Amount
	TaxIncluded        bool
	TaxRateBP          int
	Breaks             []buying.Break
	MinPacks, MaxPacks int
	Mass, Volume       float64 // of one pack, kg and l; 0 when not given
}

// Limits of a purchase. Convention: more than a workshop orders at once, and as much as was seen
// to be planned within a few seconds.
const (
	maxShops  = 40
	maxItems  = 40 // in all ways together
	maxWays   = 50
	maxOffers = 400
	// mostPacks is the largest number of packs of one offer that may be wanted, and
	// mostByWeight the same at a supplier who charges by weight.
	mostPacks    = 500
	mostByWeight = 200
	maxQuantity  = 1e6
	maxPacks     = 100_000
)

// Parts is the number of parts of a unit in which quantities are counted.
// Source: costing_problem.md section 1.
const Parts = 1000

// thousandths returns a quantity in whole thousandths, and whether it has no finer part.
func thousandths(q float64) (int64, bool) {
	n := math.Round(q * Parts)
	return int64(n), math.Abs(n-q*Parts) < 1e-6
}

// Validate names every fault of the purchase.
func (p Purchase) Validate() error {
	v := &catalog.Faults{}
	if !p.Currency.Valid() {
		v.Add("/currency", "unknown_currency", "is not a current ISO 4217 code", "write three capitals, e.g. EUR")
	}
	v.Word("/tax_basis", string(p.Tax), []string{string(TaxIncluded), string(TaxExcluded)})
	many := func(at string, n, least, most int) {
		if n < least || n > most {
			v.Add(at, "out_of_range", fmt.Sprintf("must list %d to %d, got %d", least, most, n), "split the purchase, or leave out what does not matter")
		}
	}
	many("/suppliers", len(p.Suppliers), 1, maxShops)
	many("/items", len(p.Items), 0, maxItems)
	many("/one_of", len(p.OneOf), 0, maxItems)
	many("/offers", len(p.Offers), 1, maxOffers)
	if len(p.Items)+len(p.OneOf) == 0 {
		v.Add("/items", "required", "names nothing to buy", "list what is needed with its quantity")
	}
	shops := map[string]bool{}
	for i, s := range p.Suppliers {
		p.shop(v, fmt.Sprintf("/suppliers/%d", i), s, shops)
	}
	items, wanted := map[string]bool{}, map[string]bool{}
	for i, it := range p.Items {
		p.item(v, fmt.Sprintf("/items/%d", i), it, items)
	}
	for i, o := range p.OneOf {
		at := fmt.Sprintf("/one_of/%d", i)
		unique(v, at+"/id", o.ID, wanted)
		many(at+"/ways", len(o.Ways), 1, maxWays)
		own := map[string]bool{}
		for j, way := range o.Ways {
			many(fmt.Sprintf("%s/ways/%d/items", at, j), len(way), 1, maxItems)
			inWay := map[string]bool{}
			for k, it := range way {
				p.item(v, fmt.Sprintf("%s/ways/%d/items/%d", at, j, k), it, inWay)
			}
			for id := range inWay {
				own[id] = true
			}
		}
		for _, id := range slices.Sorted(maps.Keys(own)) {
			if items[id] {
				v.Add(at, "duplicate", fmt.Sprintf("the item %q is wanted elsewhere too", id), "want each item in one place: add the quantities, or give one of them another id with offers of its own")
			}
			items[id] = true
		}
	}
	if len(items) > maxItems {
		v.Add("/one_of", "out_of_range", fmt.Sprintf("items and ways name %d items, at most %d are planned together", len(items), maxItems), "split the purchase")
	}
	offers, most := map[string]bool{}, p.largest()
	for i, o := range p.Offers {
		at := fmt.Sprintf("/offers/%d", i)
		p.offer(v, at, o, offers, shops, items)
		p.packs(v, at, o, most[o.Item])
	}
	v.Within("/node_limit_count", float64(p.NodeLimit), 0, 1_000_000, "", "give a number of nodes, or leave it out")
	v.Within("/label_limit_count", float64(p.LabelLimit), 0, 20_000_000, "", "give a number of labels, or leave it out")
	return v.Err()
}

func unique(v *catalog.Faults, at, id string, seen map[string]bool) {
	v.Text(at, id, 1, 100)
	if seen[id] {
		v.Add(at, "duplicate", "is used twice: "+fmt.Sprintf("%q", id), "give each its own id")
	}
	seen[id] = true
}

// amount checks an amount that may be absent.
func (p Purchase) amount(v *catalog.Faults, at string, a *money.Amount) {
	switch {
	case a == nil:
	case a.Currency() != p.Currency:
		v.Add(at+"/currency", "disagrees", fmt.Sprintf("is %s, the purchase is in %s", a.Currency(), p.Currency), "give it in the currency of the purchase; nothing is converted")
	case a.Sign() < 0 || a.Micro() > 1e15:
		v.Add(at+"/amount", "out_of_range", "must be 0 to 1000000000", "give what is asked for, e.g. 12.50")
	}
}

func (p Purchase) shop(v *catalog.Faults, at string, s Shop, seen map[string]bool) {
	unique(v, at+"/id", s.ID, seen)
	if s.Delivery == nil && s.Trip == nil {
		v.Add(at+"/delivery", "required", "the supplier neither delivers nor lets collect", "give delivery, trip_cost or both; 0.00 when it costs nothing")
	}
	p.amount(v, at+"/trip_cost", s.Trip)
	if d := s.Delivery; d != nil {
		p.amount(v, at+"/delivery/fee", &d.Fee)
		p.amount(v, at+"/delivery/free_from", d.FreeFrom)
		p.amount(v, at+"/delivery/fee_per_kg", &d.PerKg)
		basis := catalog.WeightBasis(d.Basis)
		if d.Basis == buying.ActualWeight {
			basis = catalog.ActualWeight
		}
		v.Weight(at+"/delivery", basis, int(d.Divisor))
	}
}

func quantity(v *catalog.Faults, at string, q, least float64) {
	v.Within(at, q, least, maxQuantity, "", "give a quantity in the unit of the item")
	if _, exact := thousandths(q); !exact && math.Abs(q) < maxQuantity {
		v.Add(at, "too_many_places", fmt.Sprintf("may have at most three decimal places, got %v", q), "round it up to a thousandth")
	}
}

func (p Purchase) item(v *catalog.Faults, at string, it Item, seen map[string]bool) {
	unique(v, at+"/id", it.ID, seen)
	quantity(v, at+"/quantity", it.Quantity, 0)
	quantity(v, at+"/stock_quantity", it.Stock, 0)
	p.amount(v, at+"/replacement_value", it.Value)
}

func (p Purchase) offer(v *catalog.Faults, at string, o OnOffer, seen, shops, items map[string]bool) {
	unique(v, at+"/id", o.ID, seen)
	if !shops[o.Shop] {
		v.Add(at+"/supplier", "unknown_reference", fmt.Sprintf("there is no supplier %q in the purchase", o.Shop), "use the id of one of the suppliers")
	}
	if !items[o.Item] {
		v.Add(at+"/item", "unknown_reference", fmt.Sprintf("there is no item %q in the purchase", o.Item), "use the id of one of the items")
	}
	quantity(v, at+"/pack_quantity", o.Pack, 0.001)
	p.amount(v, at+"/price", &o.Price)
	v.Within(at+"/tax_rate_percent", float64(o.TaxRateBP)/100, 0, 100, "%", "give per cent, e.g. 21")
	v.Within(at+"/min_packs_count", float64(o.MinPacks), 0, mostPacks, "packs", "give the least number sold, or leave it out")
	v.Within(at+"/max_packs_count", float64(o.MaxPacks), 0, maxPacks, "packs", "give what the shop has, or leave it out")
	if o.MaxPacks != 0 && o.MaxPacks < o.MinPacks {
		v.Add(at+"/max_packs_count", "disagrees", fmt.Sprintf("is %d, below the least number sold, %d", o.MaxPacks, o.MinPacks), "correct one of them, or leave the offer out")
	}
	if len(o.Breaks) > catalog.MaxBreaks {
		v.Add(at+"/breaks", "out_of_range", fmt.Sprintf("must list at most %d, got %d", catalog.MaxBreaks, len(o.Breaks)), "leave out what does not matter")
	}
	from := map[int]bool{}
	for i, b := range o.Breaks {
		here := fmt.Sprintf("%s/breaks/%d", at, i)
		v.Within(here+"/from_count", float64(b.From), 2, mostPacks, "packs", "give the number of packs from which the price holds")
		if from[b.From] {
			v.Add(here+"/from_count", "duplicate", fmt.Sprintf("two prices hold from %d packs", b.From), "keep one")
		}
		from[b.From] = true
		p.amount(v, here+"/price", &b.Price)
	}
	v.Within(at+"/pack_mass_kg", o.Mass, 0, 10_000, "kg", "give kilograms")
	v.Within(at+"/pack_volume_l", o.Volume, 0, 100_000, "l", "give litres")
	for _, s := range p.Suppliers {
		if s.ID != o.Shop || s.Delivery == nil || s.Delivery.PerKg.IsZero() {
			continue
		}
		if s.Delivery.Basis != buying.DimensionalWeight && o.Mass == 0 {
			v.Add(at+"/pack_mass_kg", "required", "is missing: the supplier charges by weight", "give the mass of one pack")
		}
		if s.Delivery.Basis != buying.ActualWeight && o.Volume == 0 {
			v.Add(at+"/pack_volume_l", "required", "is missing: the supplier charges by size", "give the volume of one pack")
		}
	}
}

// largest returns the largest quantity of each item that must be bought in any way.
func (p Purchase) largest() map[string]float64 {
	most := map[string]float64{}
	see := func(it Item) { most[it.ID] = max(most[it.ID], it.Quantity-it.Stock) }
	for _, it := range p.Items {
		see(it)
	}
	for _, o := range p.OneOf {
		for _, way := range o.Ways {
			for _, it := range way {
				see(it)
			}
		}
	}
	return most
}

// packs records an offer of which too many packs would be wanted to be planned.
func (p Purchase) packs(v *catalog.Faults, at string, o OnOffer, quantity float64) {
	if !(o.Pack > 0) {
		return
	}
	wanted, limit := math.Ceil(quantity/o.Pack), float64(mostPacks)
	if o.MaxPacks > 0 {
		wanted = min(wanted, float64(o.MaxPacks))
	}
	for _, s := range p.Suppliers {
		if s.ID == o.Shop && s.Delivery != nil && !s.Delivery.PerKg.IsZero() {
			limit = mostByWeight
		}
	}
	if wanted > limit || float64(o.MinPacks) > limit {
		v.Add(at+"/pack_quantity", "out_of_range", fmt.Sprintf("the item takes %.0f packs of this size, at most %.0f are planned", max(wanted, float64(o.MinPacks)), limit), "count in a larger pack, or leave the offer out")
	}
}

// Problem is the purchase as the search has it: first Items, then OneOf, one need each.
func (p Purchase) Problem() buying.Problem {
	out := buying.Problem{Currency: p.Currency, NoPadding: p.NoPadding, NodeLimit: p.NodeLimit, LabelLimit: p.LabelLimit}
	place := map[string]int{}
	for i, s := range p.Suppliers {
		place[s.ID] = i
		out.Suppliers = append(out.Suppliers, buying.Supplier{ID: s.ID, Delivery: s.Delivery, Trip: s.Trip})
	}
	offers := map[string][]buying.Offer{}
	for _, o := range p.Offers {
		pack, _ := thousandths(o.Pack)
		offers[o.Item] = append(offers[o.Item], buying.Offer{ID: o.ID, Supplier: place[o.Shop], Pack: pack, Price: o.Price, Breaks: o.Breaks,
			Tax: taxOf(o.TaxIncluded, p.Tax), TaxBP: o.TaxRateBP, MinPacks: o.MinPacks, MaxPacks: o.MaxPacks, Grams: grams(o.Mass), Volume: cm3(o.Volume)})
	}
	item := func(it Item) buying.Item {
		need, _ := thousandths(it.Quantity)
		stock, _ := thousandths(it.Stock)
		b := buying.Item{ID: it.ID, Quantity: need, Stock: stock, Value: money.Zero(p.Currency), Offers: offers[it.ID]}
		if it.Value != nil {
			b.Value = *it.Value
		}
		return b
	}
	for _, it := range p.Items {
		out.Needs = append(out.Needs, buying.Need{ID: it.ID, Ways: []buying.Way{{Items: []buying.Item{item(it)}}}})
	}
	for _, o := range p.OneOf {
		need := buying.Need{ID: o.ID}
		for _, way := range o.Ways {
			w := buying.Way{}
			for _, it := range way {
				w.Items = append(w.Items, item(it))
			}
			need.Ways = append(need.Ways, w)
		}
		out.Needs = append(out.Needs, need)
	}
	return out
}
