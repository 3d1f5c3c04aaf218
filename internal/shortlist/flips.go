package shortlist

import (
	"cmp"
	"math"
	"slices"

	"sabinbook/internal/buying"
	"sabinbook/internal/catalog"
	"sabinbook/internal/money"
	"sabinbook/internal/ranking"
)

// Flip says how far the price of one offer can go before another option takes the first place, all
// other prices as they are. Prices are those of one pack as listed; lower prices for many packs stay.
type Flip struct {
	Offer catalog.Meta
	Price money.Amount // today's
	// Below and Above are the nearest prices, to the smallest unit of the currency, at which another
	// option is first; nil where there is none down to Lowest and up to Highest.
	Below, Above    *FlipPoint
	Lowest, Highest money.Amount // how far it was looked for
	// Exact is false where a limit ended the search before the range, or where the search rests on
	// what need not hold: plans that are not proven least, and frames of boards of several lengths, of
	// which the cheapest few mixes are weighed at each price.
	Exact bool
	Asked int // prices at which the options were worked out
}

// FlipPoint is a price at which another option is first.
type FlipPoint struct {
	Price money.Amount
	First string // its key; empty where every option is over the budget
}

// Limits of the search. Convention.
const (
	flipRange  = 10  // times today's price
	flipAsked  = 150 // prices that are asked about for one offer in one direction
	flipOffers = 30  // offers that are looked at
)

// Flips looks at every offer that is bought in the options of an answer to a snapshot.
//
// What an option costs as a function of one price is the least of what its plans cost, and each of
// those grows in a straight line: so it is concave, but for the rounding of the line and, where the shop
// waives a fee from some value of goods on, for that fee. Between two prices that were asked about it
// is then nowhere below the straight line between them, and nowhere above the plans of the two. Where
// these bounds show that the first option stays first there is nothing to look for; elsewhere the
// interval is halved, down to the smallest unit of the currency, the half nearer to today's price first.
func Flips(s catalog.Snapshot, answer ranking.Result) []Flip {
	if len(answer.Options) == 0 {
		return nil
	}
	prices := catalog.CurrentPrices(s.Prices, answer.Brief.Terms.AsOf)
	race := ranking.NewRace(s, answer)
	var list []Flip
	for _, offer := range bought(answer.Options) {
		if len(list) < flipOffers {
			list = append(list, newProbe(s, answer, race, prices[offer]).flip())
		}
	}
	return list
}

// bought lists the offers in the lines of options, in ascending order of slug, then id.
func bought(options []ranking.Option) []catalog.ID {
	slugs := map[catalog.ID]catalog.Slug{}
	var ids []catalog.ID
	for _, o := range options {
		for _, l := range o.Cost.Lines {
			if _, seen := slugs[l.Offer.ID]; !seen && l.Offer.ID != "" {
				slugs[l.Offer.ID] = l.Offer.Slug
				ids = append(ids, l.Offer.ID)
			}
		}
	}
	slices.SortFunc(ids, func(a, b catalog.ID) int { return cmp.Or(cmp.Compare(slugs[a], slugs[b]), cmp.Compare(a, b)) })
	return ids
}

// probe asks about the prices of one offer.
type probe struct {
	race   *ranking.Race
	brief  ranking.Brief
	offer  catalog.Offer
	price  catalog.Price
	minor  float64 // micro-units of the smallest unit
	waived float64 // micro-units of fees that the shop may waive
	exact  bool
	known  map[int64]asked // by price in the smallest unit
	first  string          // today
}

// asked are the options at one price.
type asked struct {
	options map[string]ranking.Option
	first   string
}

func newProbe(s catalog.Snapshot, answer ranking.Result, race *ranking.Race, price catalog.Price) *probe {
	p := &probe{race: race, brief: answer.Brief, price: price, exact: true, known: map[int64]asked{}, minor: float64(money.FromMinor(1, price.Amount.Currency()).Micro())}
	p.offer = s.Offers[slices.IndexFunc(s.Offers, func(o catalog.Offer) bool { return o.ID == price.OfferID })]
	if i := slices.IndexFunc(s.Suppliers, func(r catalog.Supplier) bool { return r.ID == p.offer.SupplierID }); i >= 0 {
		if d := s.Suppliers[i].Delivery; d != nil && d.FreeFrom != nil {
			p.waived = float64(d.Fee.Micro())
			if d.FreeCoversWeight && !d.PerKg.IsZero() || d.Fee.Currency() != answer.Brief.Terms.Currency {
				p.waived = math.Inf(1) // no bound is known: every price is asked about
			}
		}
	}
	if price.Amount.Currency() != answer.Brief.Terms.Currency {
		p.waived = math.Inf(1) // each price is rounded as it is converted
	}
	lengths := map[any]bool{}
	for _, o := range s.Offers {
		if o.ItemKind == catalog.PartItem && o.ItemID == p.offer.ItemID && o.StockLength > 0 {
			lengths[o.StockLength] = true
		}
	}
	p.exact = len(lengths) < 2
	return p
}

func (p *probe) at(price int64) asked {
	if a, there := p.known[price]; there {
		return a
	}
	other := p.price
	other.Amount = money.FromMinor(price, p.price.Amount.Currency())
	a := asked{options: map[string]ranking.Option{}}
	for _, o := range p.race.With(other) {
		a.options[o.Key()] = o
		if o.Place == 1 {
			a.first = o.Key()
		}
		if o.Cost.Status != buying.Optimal {
			p.exact = false
		}
	}
	p.known[price] = a
	return a
}

func (p *probe) flip() Flip {
	today, currency := p.price.Amount.Minor(), p.price.Amount.Currency()
	p.first = p.at(today).first
	f := Flip{Offer: p.offer.Meta, Price: p.price.Amount}
	budget := len(p.known) + flipAsked
	up, high := p.nearest(today, today*flipRange, &budget)
	budget = len(p.known) + flipAsked
	down, low := p.nearest(today, min(today, 1), &budget)
	f.Above, f.Below = p.point(up, currency), p.point(down, currency)
	f.Lowest, f.Highest = money.FromMinor(low, currency), money.FromMinor(high, currency)
	f.Exact, f.Asked = p.exact && (up >= 0 || high == today*flipRange) && (down >= 0 || low == min(today, 1)) && p.price.Amount == money.FromMinor(today, currency), len(p.known)
	return f
}

func (p *probe) point(price int64, currency money.Currency) *FlipPoint {
	if price < 0 {
		return nil
	}
	return &FlipPoint{money.FromMinor(price, currency), p.at(price).first}
}

// nearest returns the price nearest to near, up to far on either side, at which another option is
// first, or -1; and how far there is certainly none nearer. near itself is no such price.
func (p *probe) nearest(near, far int64, budget *int) (found, reached int64) {
	if near == far || p.stays(near, far, budget) {
		return -1, far
	}
	if len(p.known) >= *budget {
		return -1, near
	}
	if far-near == 1 || near-far == 1 {
		if p.at(far).first != p.first {
			return far, far
		}
		return -1, far
	}
	middle := near + (far-near)/2
	if found, reached = p.nearest(near, middle, budget); found >= 0 || reached != middle {
		return found, reached
	}
	return p.nearest(middle, far, budget)
}

// stays reports whether the bounds show that the first option of today is first at all prices
// between two.
func (p *probe) stays(x, y int64, budget *int) bool {
	if len(p.known)+2 > *budget || math.IsInf(p.waived, 1) {
		return false
	}
	a, b := min(x, y), max(x, y)
	low, high := p.at(a), p.at(b)
	if low.first != p.first || high.first != p.first {
		return false
	}
	limit := math.Inf(1)
	if l := p.brief.Limits.Budget; l != nil {
		limit = float64(l.Micro())
	}
	if p.first == "" {
		for key := range low.options {
			if min(cost(low.options[key]), cost(high.options[key]))-p.minor-p.waived <= limit {
				return false
			}
		}
		return true
	}
	from, to := float64(a)*p.minor, float64(b)*p.minor
	first, last := low.options[p.first], high.options[p.first]
	atLow := func(x float64) float64 { return cost(first) + p.slope(first)*(x-from) + p.minor }
	atHigh := func(x float64) float64 { return cost(last) - p.slope(last)*(to-x) + p.minor + p.waived }
	places := []float64{from, to}
	if bend := p.slope(first) - p.slope(last); bend != 0 { // where the two meet
		if x := from + (atHigh(from)-atLow(from))/bend; x > from && x < to {
			places = append(places, x)
		}
	}
	for _, x := range places {
		most := min(atLow(x), atHigh(x))
		if most > limit {
			return false
		}
		for key, o := range low.options {
			if key == p.first {
				continue
			}
			mine, its, decides := p.brief.Order.Scales(first, o)
			if !decides {
				continue
			}
			other := high.options[key]
			least := cost(o) + (cost(other)-cost(o))*(x-from)/(to-from) - p.minor - p.waived
			if !(most/mine < least/its*(1-1e-12)) {
				return false
			}
		}
	}
	return true
}

func cost(o ranking.Option) float64 { return float64(o.Cost.Total.Micro()) }

// slope is how much more an option costs for each unit that the price goes up, with the plan as it is.
func (p *probe) slope(o ranking.Option) float64 {
	sum := 0.0
	for _, l := range o.Cost.Lines {
		if l.Offer.ID != p.offer.ID || breakOf(p.price, l.Packs) {
			continue
		}
		packs := float64(l.Packs)
		if l.TaxIncluded && p.brief.Terms.Tax == "excluded" {
			packs *= 10_000 / float64(10_000+l.TaxRateBP)
		} else if !l.TaxIncluded && p.brief.Terms.Tax == "included" {
			packs *= float64(10_000+l.TaxRateBP) / 10_000
		}
		sum += packs
	}
	return sum
}

// breakOf reports whether so many packs have a lower price of their own.
func breakOf(price catalog.Price, packs int) bool {
	return slices.ContainsFunc(price.Breaks, func(b catalog.Break) bool { return b.From <= packs })
}
