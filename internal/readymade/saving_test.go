package readymade_test

import (
	"testing"

	"pgregory.net/rapid"

	"sabinbook/internal/buying"
	"sabinbook/internal/costing"
	"sabinbook/internal/money"
	"sabinbook/internal/readymade"
	"sabinbook/internal/units"
)

// anySums draws sums up to ten thousand euros in whole cents.
func anySums(t *rapid.T) readymade.Sums {
	draw := func(name string) money.Amount { return cents(rapid.Int64Range(0, 1_000_000).Draw(t, name)) }
	s := readymade.Sums{Ready: draw("ready"), Cash: draw("cash"), Leftovers: draw("leftovers"), ReadyLeftovers: draw("ready leftovers"), Resale: draw("resale")}
	if rapid.Bool().Draw(t, "stock known") {
		total := s.Cash.Add(draw("stock"))
		s.Replacement = &total
	}
	if rapid.Bool().Draw(t, "tools known") {
		price := draw("tools")
		s.Tools = &price
	}
	if rapid.Bool().Draw(t, "time known") {
		time := units.Minutes(rapid.IntRange(0, 100_000).Draw(t, "tenths of a minute")) / 10
		s.Time = &time
	}
	return s
}

func byBasis(list []readymade.Saving) map[readymade.Basis]readymade.Saving {
	out := map[readymade.Basis]readymade.Saving{}
	for _, s := range list {
		out[s.Basis] = s
	}
	return out
}

// Prices in another unit scale the savings and change no per cent.
func TestSavingsScale(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, k := anySums(t), rapid.Int64Range(1, 1000).Draw(t, "k")
		times := func(a *money.Amount) *money.Amount {
			if a == nil {
				return nil
			}
			b := a.Times(k)
			return &b
		}
		scaled := readymade.Sums{Ready: s.Ready.Times(k), Cash: s.Cash.Times(k), Leftovers: s.Leftovers.Times(k), ReadyLeftovers: s.ReadyLeftovers.Times(k),
			Resale: s.Resale.Times(k), Replacement: times(s.Replacement), Tools: times(s.Tools), Time: s.Time}
		before, after := s.Savings(), scaled.Savings()
		if len(before) != len(after) {
			t.Fatalf("%d and %d savings", len(before), len(after))
		}
		for i := range before {
			b, a := before[i], after[i]
			if a.Basis != b.Basis || a.Amount != b.Amount.Times(k) || (a.PerMille == nil) != (b.PerMille == nil) || a.PerMille != nil && *a.PerMille != *b.PerMille {
				t.Errorf("%+v and %d times %+v", b, k, a)
			}
			// Each is rounded by at most half a cent.
			if b.BreakEven != nil {
				if off := a.BreakEven.Sub(b.BreakEven.Times(k)).Minor(); 2*max(off, -off) > k+1 {
					t.Errorf("an hour of %s and %d times %s", b.BreakEven, k, a.BreakEven)
				}
			}
		}
	})
}

// To own a tool lowers no saving after tools and touches none without them.
func TestOwningAToolNeverCosts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anySums(t)
		var list []readymade.Tool
		for range rapid.IntRange(1, 5).Draw(t, "tools") {
			price := cents(rapid.Int64Range(0, 100_000).Draw(t, "price"))
			resale := cents(rapid.Int64Range(0, price.Minor()).Draw(t, "resale"))
			list = append(list, readymade.Tool{Price: &price, Resale: &resale, Owned: rapid.Bool().Draw(t, "owned")})
		}
		with := func() map[readymade.Basis]readymade.Saving {
			s.Tools, s.Resale = readymade.ToolSums(list, "EUR")
			return byBasis(s.Savings())
		}
		before := with()
		list[rapid.IntRange(0, len(list)-1).Draw(t, "got")].Owned = true
		after := with()
		for b, saving := range before {
			switch rest := after[b].Amount.Cmp(saving.Amount); b {
			case readymade.Cash, readymade.CashCreditLeftovers, readymade.AtReplacement:
				if rest != 0 {
					t.Errorf("%s: %s, with the tool %s", b, saving.Amount, after[b].Amount)
				}
			default:
				if rest < 0 {
					t.Errorf("%s: %s, with the tool %s", b, saving.Amount, after[b].Amount)
				}
			}
		}
	})
}

// Labour at the break-even value of the hour takes all of the saving but for rounding, which
// is half a cent of the hour and half a cent of labour.
func TestBreakEvenBreaksEven(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anySums(t)
		saving, ok := byBasis(s.Savings())[readymade.CashAfterTools]
		if !ok || saving.BreakEven == nil {
			return
		}
		_, after, _ := s.AfterLabour(*saving.BreakEven)
		if limit := 0.5*float64(*s.Time)/60 + 0.5; float64(after.Minor()) > limit || float64(after.Minor()) < -limit {
			t.Errorf("%s an hour leaves %s", saving.BreakEven, after)
		}
	})
}

// What is not known takes away its own savings and no other.
func TestWhatIsNotKnownIsLeftOut(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anySums(t)
		full := s
		one, time := cents(1), units.Minutes(1)
		full.Tools, full.Replacement, full.Time = &one, &one, &time
		if len(full.Savings()) != 6 {
			t.Fatalf("%d savings", len(full.Savings()))
		}
		got := byBasis(s.Savings())
		for b, needsTools := range map[readymade.Basis]bool{readymade.Cash: false, readymade.CashCreditLeftovers: false, readymade.AtReplacement: false,
			readymade.CashAfterTools: true, readymade.CashAfterToolsAndResale: true, readymade.AtReplacementAfterTools: true} {
			needsStock := b == readymade.AtReplacement || b == readymade.AtReplacementAfterTools
			if _, told := got[b]; told != ((!needsTools || s.Tools != nil) && (!needsStock || s.Replacement != nil)) {
				t.Errorf("%s is told: %v", b, told)
			}
		}
		for _, saving := range got {
			if saving.BreakEven != nil && s.Time == nil || (saving.PerMille == nil) != s.Ready.IsZero() {
				t.Errorf("%+v", saving)
			}
		}
	})
}

// From the lasting number of panels on every gain covers the tools, and the first is no later.
func TestRecoveryHolds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		price := cents(rapid.Int64Range(0, 300).Draw(t, "tools"))
		var gains []*money.Amount
		for _, n := range rapid.SliceOfN(rapid.Int64Range(-400, 400), 1, 30).Draw(t, "gains") {
			gain := cents(n)
			gains = append(gains, &gain)
		}
		r := readymade.RecoveryOf(price, *gains[0], 1, gains)
		covers := func(n int) bool { return gains[n-1].Cmp(price) >= 0 }
		for n := 1; n <= len(gains); n++ {
			if covers(n) && (r.First == nil || n < *r.First) {
				t.Errorf("%d panels cover %s, first is %v", n, price, r.First)
			}
			if lasts := r.Lasting != nil && n >= *r.Lasting; lasts && !covers(n) {
				t.Errorf("%d panels do not cover %s", n, price)
			}
		}
		if r.Lasting == nil && covers(len(gains)) || r.Lasting != nil && *r.Lasting > 1 && covers(*r.Lasting-1) {
			t.Errorf("lasting is %v of %v", r.Lasting, gains)
		}
	})
}

func TestAskingPrice(t *testing.T) {
	from := cents(50_000)
	p := costing.AskingPrice{Price: cents(5000), TaxRateBP: 2100, Flat: cents(1500), FreeFrom: &from, Breaks: []buying.Break{{From: 10, Price: cents(4000)}}}
	for _, c := range []struct {
		n               int
		basis           costing.TaxBasis
		goods, delivery int64
	}{
		{8, costing.TaxIncluded, 48_400, 1500},  // 8 · 50 · 1.21
		{9, costing.TaxIncluded, 54_450, 0},     // above the threshold
		{10, costing.TaxIncluded, 48_400, 1500}, // the lower price falls below it again
		{9, costing.TaxExcluded, 45_000, 0},     // counted before tax, held against the threshold with it
	} {
		if a := p.For(c.n, c.basis); a.Goods != cents(c.goods) || a.Delivery != cents(c.delivery) || a.Total != cents(c.goods+c.delivery) {
			t.Errorf("%d panels, tax %s: %s + %s = %s", c.n, c.basis, a.Goods, a.Delivery, a.Total)
		}
	}
	if a, ok := p.Cheaper(9, costing.TaxIncluded); !ok || a.Panels != 10 {
		t.Errorf("ten cost less than nine: %+v, %v", a, ok)
	}
	if a, ok := p.Cheaper(10, costing.TaxIncluded); ok {
		t.Errorf("%d cost less than ten: %s", a.Panels, a.Total)
	}
}
