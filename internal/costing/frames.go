package costing

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"sabinbook/internal/catalog"
	"sabinbook/internal/cutting"
	"sabinbook/internal/handling"
	"sabinbook/internal/money"
	"sabinbook/internal/needs"
	"sabinbook/internal/units"
)

// mitredKerf is what a cut at 45 degrees takes of the length for each width of the saw.
// Source: costing_problem.md section 5.
const mitredKerf = 1.4142

// frame has ways in which boards on hand and of the lengths that are sold are mixed, those that
// cost least at the lowest prices and those of one length.
func (m *Market) frame(l needs.List) *supply {
	key := ask{item: item{catalog.PartItem, l.Frame.ID}, mitred: l.Mitred}
	bars := make([]cutting.Bar, len(l.Bars))
	for i, b := range l.Bars {
		bars[i] = cutting.Bar{Length: b.Length, Count: b.Count}
		key.pieces[i] = rect{b.Length, 0, b.Count}
	}
	kerf := m.terms.Kerf
	if l.Mitred {
		kerf = units.FromTenths(int64(math.Ceil(float64(kerf.Tenths()) * mitredKerf)))
	}
	return m.remember(key, func() supply {
		quotes, reason := usable(m.quotes[key.item], func(*quote) bool { return true })
		lengths := sizes(quotes, func(q *quote) units.Length { return q.offer.StockLength })
		slices.Sort(lengths)
		f := framer{m, l.Frame.Meta, bars, kerf, quotes, m.stock[key.item], slices.Compact(lengths)}
		var s supply
		if !f.mixed(&s) && !f.single(&s) && len(lengths) > 0 {
			reason = DoesNotFit
		}
		return s.or(reason)
	})
}

// framer finds ways of buying the boards of a frame.
type framer struct {
	m       *Market
	item    catalog.Meta
	bars    []cutting.Bar
	kerf    units.Length
	quotes  []*quote
	own     []OnHand
	lengths []units.Length // that are sold
}

// single adds a way for each length that is sold, after the boards on hand; one in which nothing
// is bought where these suffice. It is false when the bars fit into none.
func (f framer) single(s *supply) bool {
	fits := false
	for _, length := range append([]units.Length{0}, f.lengths...) {
		if length == 0 && len(f.own) == 0 {
			continue
		}
		stock := f.stock(length)
		plan := cutting.Boards(f.bars, stock, cutting.BoardRules{Kerf: f.kerf})
		if plan.Status == cutting.Optimal || plan.Status == cutting.Feasible {
			fits = true
			f.add(s, plan, stock)
		}
	}
	return fits
}

// Limits of ways in which lengths of boards are mixed: so many are listed, and those kept that
// cost least at the lowest prices, beside those of one length. Convention.
const (
	mixesListed = 500
	mixesKept   = 8
)

// mixed adds ways in which boards on hand and of all lengths that are sold are mixed. It is false
// when not all of them can be listed. Source: costing_problem.md section 4.
func (f framer) mixed(s *supply) bool {
	stock := f.stock(f.lengths...)
	rules := cutting.BoardRules{Kerf: f.kerf}
	list, all := cutting.Mixes(f.bars, stock, rules, mixesListed)
	if !all {
		return false
	}
	least, kinds := map[int]int64{}, map[int]int{}
	var order []int
	for i, counts := range list {
		enough := true
		for k, n := range counts {
			if n > 0 && stock[k].Max == 0 {
				price, there := f.lowest(stock[k].Length)
				least[i] += int64(n) * price
				enough = enough && n <= there
				kinds[i]++
			}
		}
		if enough || kinds[i] < 2 {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(least[a], least[b]) })
	for place, i := range order {
		if place < mixesKept || kinds[i] < 2 {
			if plan, ok := cutting.CutMix(f.bars, stock, list[i], rules); ok {
				f.add(s, plan, stock)
			}
		}
	}
	return true
}

// stock lists the boards on hand, then lengths that are sold.
func (f framer) stock(lengths ...units.Length) []cutting.Stock {
	var stock []cutting.Stock
	for _, h := range f.own {
		stock = append(stock, cutting.Stock{Length: h.Long, Price: money.Zero(f.m.terms.Currency), Max: h.Count})
	}
	for _, l := range lengths {
		if l > 0 {
			stock = append(stock, cutting.Stock{Length: l, Price: money.FromMinor(1, f.m.terms.Currency)})
		}
	}
	return stock
}

// add adds the way of a plan.
func (f framer) add(s *supply, plan cutting.BoardPlan, stock []cutting.Stock) {
	h := how{item: f.item, unit: "board", scale: 1, formula: "boards of each length that hold all pieces together with kerf between them",
		inputs: []handling.Input{{Name: "kerf", Value: float64(f.kerf), Unit: "mm"}}}
	var portions []portion
	for i, st := range stock {
		part := ofStock(plan, stock, i)
		if part.Count == 0 {
			continue
		}
		name := "boards_of"
		if i < len(f.own) {
			name = "on_hand_of"
			t := take(f.own[i], int64(part.Count), fmt.Sprintf("%g", float64(st.Length)))
			t.boards = &part
			h.taken = append(h.taken, t)
		} else {
			portions = append(portions, f.boards(st.Length, part))
		}
		h.inputs = append(h.inputs, handling.Input{Name: fmt.Sprintf("%s_%g", name, float64(st.Length)), Value: float64(part.Count)})
	}
	s.add(f.m, h, packCount, portions...)
}

// boards is the portion of boards of a length.
func (f framer) boards(length units.Length, plan cutting.BoardPlan) portion {
	p := portion{quantity: int64(plan.Count), size: fmt.Sprintf("%g", float64(length)), boards: &plan}
	for _, q := range f.quotes {
		if q.offer.StockLength == length {
			p.quotes = append(p.quotes, q)
		}
	}
	return p
}

// lowest is the lowest price of one board of a length, in micro-units, and how many there are.
func (f framer) lowest(length units.Length) (price int64, there int) {
	best := int64(math.MaxInt64)
	for _, q := range f.quotes {
		if q.offer.StockLength != length {
			continue
		}
		price := q.price.Amount
		if n := len(q.price.Breaks); n > 0 {
			price = q.price.Breaks[n-1].Price
		}
		best = min(best, price.Micro()/int64(max(1, q.offer.PackCount)))
		if q.offer.MaxPacks == 0 {
			there = math.MaxInt32
		} else if there < math.MaxInt32 {
			there += q.offer.MaxPacks * q.offer.PackCount
		}
	}
	return best, there
}
