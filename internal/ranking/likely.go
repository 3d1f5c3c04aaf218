package ranking

import (
	"cmp"
	"math"
	"slices"
	"sync/atomic"

	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
	"sabinbook/internal/rooms"
	"sabinbook/internal/sampling"
	"sabinbook/internal/units"
)

// Draws asks how the order holds when what is uncertain varies within its bounds.
type Draws struct {
	Count int // 0 for none
	Seed  int64
}

// DefaultDraws is the number of draws where the asker gives none. At that number the share of
// draws in which something happens is known to within 0.02, two standard deviations.
const DefaultDraws = 2000

// Likely says how sure the place of an option is, over the options in the answer.
type Likely struct {
	// Group is the number of its group: options that the draws do not tell from the first of
	// the group have one group, and so have two that the mean difference between their bases alone
	// would put the other way round, with all between them. Groups are numbered in order of place.
	Group int
	// Best is the share of draws in which the option came first.
	Best float64
	// Low and High are the places that hold it in nine of ten draws.
	Low, High int
	Drivers   []Driver
}

// Driver is one uncertain thing with its share in the variance of what the option is ordered by.
type Driver struct {
	What  string       // absorption, prices, minutes
	Of    catalog.Meta // the fill, the supplier
	Share float64
}

// The spreads of what has no bounds of its own. Convention: a price seen today is uncertain by
// 3 %, and by 5 % more with each year; minutes of the handling model by 25 %.
const (
	priceSpread        = 0.03
	priceSpreadPerYear = 0.05
	priceSpreadMost    = 0.25
	minutesSpread      = 0.25
)

// joins is the share of paired draws in which an option must beat the first of a group to belong
// to it. Convention.
const joins = 0.10

// worthNaming is the share of the variance from which a driver is named. Convention.
const worthNaming = 0.05

// uncertain is an option as it varies. One draw of the fill moves the coefficients of all octaves
// and of all its builds together, one of a supplier all its prices, one of a handling profile
// all minutes.
type uncertain struct {
	order   Order
	fill    sampling.Thing
	weights Weights
	face    units.Area
	centre  [bands.OctaveCount]float64 // the middle of the bounds
	spread  [bands.OctaveCount]float64 // a quarter of their width, one standard deviation
	cost    float64
	prices  []pricing
	minutes float64
	profile sampling.Thing
	// takes is how many panels the room takes with such coefficients, and panels how many it takes
	// with those that are told, both not rounded; nil where the number is fixed.
	takes  func(rooms.Octaves) float64
	panels float64
}

// pricing is what a supplier's prices add to the cost for each standard deviation.
type pricing struct {
	supplier catalog.Meta
	thing    sampling.Thing
	spread   float64
}

func (r *ranker) uncertain(o Option) uncertain {
	b := o.Build
	u := uncertain{order: r.brief.Order, fill: sampling.Named("absorption " + string(b.Fill.ID)), weights: r.brief.Purpose.Weights,
		face: r.brief.Design.Face() * units.Area(o.Panels), cost: float64(o.Cost.Total.Micro()),
		minutes: float64(o.Burden.Total), profile: sampling.Named("minutes " + string(b.Fill.Handling.Profile))}
	for i, oct := range o.Octaves {
		u.centre[i], u.spread[i] = (oct.Low+oct.High)/2, (oct.High-oct.Low)/4
	}
	if r.brief.CountFrom == FromRoom {
		var raw rooms.Octaves
		for i, oct := range o.Octaves {
			raw[i] = oct.Raw
		}
		u.takes, u.panels = r.shortfall.Takes, r.shortfall.Takes(raw)
	}
	at := map[catalog.ID]int{}
	for _, l := range o.Cost.Lines {
		if l.Owned || l.Supplier.ID == "" {
			continue
		}
		i, seen := at[l.Supplier.ID]
		if !seen {
			i = len(u.prices)
			at[l.Supplier.ID] = i
			u.prices = append(u.prices, pricing{supplier: l.Supplier, thing: sampling.Named("prices " + string(l.Supplier.ID))})
		}
		years := float64(r.brief.Terms.AsOf.DaysSince(l.PriceDate)) / 365
		u.prices[i].spread += float64(l.Gross.Micro()) * min(priceSpreadMost, priceSpread+priceSpreadPerYear*years)
	}
	return u
}

// score is what the option is ordered by in a draw, the more the better. The plan of what is
// bought stays; where the number of panels follows from the room, its cost to the target grows with
// the number that the drawn coefficients take.
func (u *uncertain) score(normal func(sampling.Thing) float64) float64 {
	switch u.order {
	case ByCost:
		return -u.costs(normal)
	case ByCostToTarget:
		return -u.costs(normal) * u.more(normal(u.fill))
	case ByAbsorption:
		return u.area(normal(u.fill))
	case ByBurden:
		return -u.minutes * max(0, 1+minutesSpread*normal(u.profile))
	}
	if u.cost == 0 {
		return math.Inf(1)
	}
	return u.area(normal(u.fill)) / u.costs(normal)
}

// area is the absorption area with coefficients so many standard deviations off, counted at most
// as 1.
func (u *uncertain) area(z float64) float64 {
	sum := 0.0
	for i, w := range u.weights {
		sum += w * min(max(0, u.centre[i]+z*u.spread[i]), 1)
	}
	return float64(u.face) * sum
}

// more is how many times as many panels the room takes with coefficients so many standard
// deviations off.
func (u *uncertain) more(z float64) float64 {
	var alpha rooms.Octaves
	for i := range alpha {
		alpha[i] = max(0, u.centre[i]+z*u.spread[i])
	}
	return u.takes(alpha) / u.panels
}

// costs is the cost with prices that are off; never less than a tenth of what they are.
func (u *uncertain) costs(normal func(sampling.Thing) float64) float64 {
	sum := u.cost
	for _, p := range u.prices {
		sum += p.spread * normal(p.thing)
	}
	return max(sum, u.cost/10)
}

// judge fills in what draws say about options in their order, and which of them no other beats.
func (r *ranker) judge(options []Option) {
	for i := range options {
		for j := range options {
			if options[j].standing().beats(options[i].standing()) {
				options[i].BeatenBy = options[j].Key()
				break
			}
		}
	}
	n := r.brief.Draws.Count
	if n == 0 || len(options) == 0 {
		return
	}
	all := make([]uncertain, len(options))
	for i, o := range options {
		all[i] = r.uncertain(o)
	}
	scores := r.scores(all)
	kept := inseparable(options, all)
	group, leader := 0, -1
	for i := range options {
		if leader < 0 || wins(scores[i], scores[leader]) < joins && !kept[i] {
			leader, group = i, group+1
		}
		options[i].Likely = &Likely{Group: group, Drivers: r.drivers(options[i])}
	}
	places := make([][]int, len(options)) // counts by place
	for i := range places {
		places[i] = make([]int, len(options))
	}
	order := make([]int, len(options))
	for draw := range n {
		for i := range order {
			order[i] = i
		}
		slices.SortFunc(order, func(a, b int) int { return cmp.Or(cmp.Compare(scores[b][draw], scores[a][draw]), cmp.Compare(a, b)) })
		for place, i := range order {
			places[i][place]++
		}
	}
	for i := range options {
		l := options[i].Likely
		l.Best = float64(places[i][0]) / float64(n)
		l.Low, l.High = within(places[i], n)
	}
}

// inseparable tells before which options no group may begin, because it would part two on different
// bases that the mean difference between their bases and laboratories alone, which lies in the
// middle of the bounds, would put the other way round.
func inseparable(options []Option, all []uncertain) []bool {
	middle := make([]float64, len(all))
	for i := range all {
		middle[i] = all[i].score(func(sampling.Thing) float64 { return 0 })
	}
	out := make([]bool, len(all))
	for j := range all {
		for i := range j {
			if options[i].Absorption.Basis != options[j].Absorption.Basis && middle[j] > middle[i] {
				for k := i + 1; k <= j; k++ {
					out[k] = true
				}
				break
			}
		}
	}
	return out
}

// scores draws the score of every option, draw by draw. Each uncertain thing is drawn once for
// all options; the workers share the things, then the options.
func (r *ranker) scores(all []uncertain) [][]float64 {
	var things []sampling.Thing
	for _, u := range all {
		things = append(things, u.fill, u.profile)
		for _, p := range u.prices {
			things = append(things, p.thing)
		}
	}
	slices.Sort(things)
	things = slices.Compact(things)
	drawn := make([][]float64, len(things))
	seed := sampling.Seed(r.brief.Draws.Seed)
	r.each(len(things), func(i int) {
		drawn[i] = make([]float64, r.brief.Draws.Count)
		for draw := range drawn[i] {
			drawn[i][draw] = seed.Normal(uint32(draw), things[i])
		}
	})
	of := make(map[sampling.Thing][]float64, len(things))
	for i, t := range things {
		of[t] = drawn[i]
	}
	out := make([][]float64, len(all))
	r.each(len(all), func(i int) {
		out[i] = make([]float64, r.brief.Draws.Count)
		for draw := range out[i] {
			out[i][draw] = all[i].score(func(t sampling.Thing) float64 { return of[t][draw] })
		}
	})
	return out
}

// each does the work for every number below n; the workers share it.
func (r *ranker) each(n int, work func(i int)) {
	var next atomic.Int64
	share(min(r.prepared.workers, n), func() {
		for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
			work(i)
		}
	})
}

// wins is the share of paired draws in which a beats b.
func wins(a, b []float64) float64 {
	n := 0
	for i := range a {
		if a[i] > b[i] {
			n++
		}
	}
	return float64(n) / float64(len(a))
}

// within returns the places from 1 that leave no more than one of twenty of n draws on either
// side.
func within(counts []int, n int) (low, high int) {
	low, high = 1, len(counts)
	for below := counts[0]; below*20 <= n; below += counts[low-1] {
		low++
	}
	for above := counts[high-1]; above*20 <= n; above += counts[high-1] {
		high--
	}
	return low, high
}

// drivers splits the variance of what the option is ordered by among the uncertain things, to
// first order.
func (r *ranker) drivers(o Option) []Driver {
	u := r.uncertain(o)
	var list []Driver
	add := func(what string, of catalog.Meta, deviation float64) {
		if deviation > 0 {
			list = append(list, Driver{what, of, deviation * deviation})
		}
	}
	perCost := u.order == ByAbsorptionPerCost && u.cost > 0
	if u.order == ByAbsorption || perCost {
		const step = 0.5 // standard deviations
		add("absorption", o.Build.Fill.Meta, math.Abs(u.area(step)-u.area(-step))/(2*step*max(u.area(0), 1e-12)))
	}
	if u.order == ByCostToTarget {
		const step = 0.25 // standard deviations; a larger one may make the panels useless
		if more, less := u.more(-step), u.more(step); !math.IsInf(more, 1) {
			add("absorption", o.Build.Fill.Meta, math.Abs(more-less)/(2*step*max(u.more(0), 1e-12)))
		}
	}
	if u.order == ByCost || u.order == ByCostToTarget || perCost {
		for _, p := range u.prices {
			add("prices", p.supplier, p.spread/u.cost)
		}
	}
	if u.order == ByBurden && u.minutes > 0 {
		add("minutes", o.Build.Fill.Meta, minutesSpread)
	}
	total := 0.0
	for _, d := range list {
		total += d.Share
	}
	for i := range list {
		list[i].Share /= total
	}
	list = slices.DeleteFunc(list, func(d Driver) bool { return d.Share < worthNaming })
	slices.SortStableFunc(list, func(a, b Driver) int { return cmp.Compare(b.Share, a.Share) })
	return list
}
