package buying_test

import (
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"sabinbook/internal/buying"
)

// The floors of a problem's needs never add up to more than its best plan costs, whichever
// problem of the same suppliers the multipliers were found for: here one with the needs in
// another order, with some of them left out, and with half of the offers.
func TestFloorsAreBelowTheBestPlan(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := gen(t, kind{thresholds: true})
		p.NoPadding = rapid.Bool().Draw(t, "no padding")
		classes := make([]string, len(p.Needs))
		for i := range p.Needs {
			classes[i] = fmt.Sprint("class", i)
			p.Needs[i] = buying.Prepare(p.Currency, p.Suppliers, p.Needs[i], p.NoPadding)
		}
		plan := buying.Best(p)
		n := rapid.IntRange(0, len(classes)-1).Draw(t, "left out")
		for name, model := range map[string]func(buying.Problem, []string) (buying.Problem, []string){
			"itself": func(q buying.Problem, c []string) (buying.Problem, []string) { return q, c },
			"nothing": func(q buying.Problem, _ []string) (buying.Problem, []string) {
				q.Needs = nil
				return q, nil
			},
			"others": func(q buying.Problem, c []string) (buying.Problem, []string) {
				q.Needs, c = slices.Clone(q.Needs), slices.Clone(c)
				slices.Reverse(q.Needs)
				slices.Reverse(c)
				return buying.Problem{Currency: q.Currency, Suppliers: q.Suppliers, NoPadding: q.NoPadding, Needs: q.Needs[n:]}, c[n:]
			},
		} {
			f := buying.NewFloors(model(p, classes))
			sum := cents(0)
			for i, n := range p.Needs {
				least, ok := f.Of(classes[i], n)
				if ok != (plan.Ways[i] >= 0) {
					t.Fatalf("%s: need %d can be met: %v, the plan takes way %d", name, i, ok, plan.Ways[i])
				}
				sum = sum.Add(least)
			}
			if len(plan.Unmet) == 0 && sum.Cmp(plan.Cash) > 0 {
				t.Fatalf("%s: floors add up to %s, the best plan costs %s: %+v", name, sum, plan.Cash, plan)
			}
		}
	})
}

// On the reference's problems the floors found for the problem itself come within a tenth of its
// plan, and closer than goods alone.
func TestFloorsAreClose(t *testing.T) {
	for _, c := range loadCases(t).Cases {
		p := problemOf(t, c)
		classes := make([]string, len(p.Needs))
		for i := range p.Needs {
			classes[i] = fmt.Sprint(i)
			p.Needs[i] = buying.Prepare(p.Currency, p.Suppliers, p.Needs[i], p.NoPadding)
		}
		plan := buying.Best(p)
		if len(plan.Unmet) > 0 || plan.Cash.IsZero() {
			continue
		}
		sum, goods := cents(0), cents(0)
		f, g := buying.NewFloors(p, classes), buying.NewFloors(buying.Problem{Currency: p.Currency, Suppliers: p.Suppliers, NoPadding: p.NoPadding}, nil)
		for i, n := range p.Needs {
			least, _ := f.Of(classes[i], n)
			plain, _ := g.Of(classes[i], n)
			sum, goods = sum.Add(least), goods.Add(plain)
		}
		if sum.Cmp(goods) < 0 || sum.Cmp(plan.Cash.TimesRatio(9, 10)) < 0 || sum.Cmp(plan.Cash) > 0 {
			t.Errorf("%s: floors %s, the plan costs %s, goods alone %s", c.ID, sum, plan.Cash, goods)
		}
	}
}
