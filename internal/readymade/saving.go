package readymade

import (
	"sabinbook/internal/handling"
	"sabinbook/internal/money"
	"sabinbook/internal/units"
)

// Basis says what is counted in a saving.
type Basis string

// The bases. R is the total of the ready-made panels with delivery, T the price of the tools
// that must be bought, Z what they can be sold for afterwards.
const (
	Cash                    Basis = "cash"                        // R - cash
	CashAfterTools          Basis = "cash_after_tools"            // R - cash - T
	CashAfterToolsAndResale Basis = "cash_after_tools_and_resale" // R - cash - T + Z
	CashCreditLeftovers     Basis = "cash_credit_leftovers"       // R - cash + value of leftovers
	AtReplacement           Basis = "replacement"                 // R - cash - value of used stock
	AtReplacementAfterTools Basis = "replacement_after_tools"     // R - cash - value of used stock - T
	bases                         = 6
)

// Sums are the sums of money and the time of one comparison.
type Sums struct {
	Ready money.Amount // total of the ready-made panels with delivery
	Cash  money.Amount // what building costs now
	// Replacement is Cash with the used stock at what it would cost to replace; nil when that
	// is not known.
	Replacement *money.Amount
	// Leftovers is the value of what building leaves over, ReadyLeftovers that of ready-made
	// panels which are bought only because a pack holds several.
	Leftovers, ReadyLeftovers money.Amount
	// Tools is the price of the tools that must be bought; nil when one of them has none.
	Tools  *money.Amount
	Resale money.Amount // what they can be sold for
	// Time is what building takes; nil when it is not known.
	Time *units.Minutes
}

// Saving is what building saves on one basis; a negative one is what it costs more.
type Saving struct {
	Basis  Basis
	Amount money.Amount
	// PerMille is the saving in tenths of a per cent of the total of the ready-made panels,
	// nil where these cost nothing.
	PerMille *int64
	// BreakEven is the value of the maker's hour at which building and buying cost the same:
	// below it building pays. Nil when the time is nothing or not known. A negative one
	// means that building costs more even with labour for nothing.
	BreakEven *money.Amount
}

// Savings returns what building saves on every basis that can be told, in the order of the bases.
//
//	per mille = 1000 · saving / R         break-even = 60 · saving / minutes
//
// Source: costing_problem.md section 8. That the credit for leftovers counts those of both
// sides is an addition: there, ready-made panels are sold singly.
func (s Sums) Savings() []Saving {
	list := make([]Saving, 0, bases)
	add := func(b Basis, a money.Amount) { list = append(list, s.saving(b, a)) }
	cash := s.Ready.Sub(s.Cash)
	add(Cash, cash)
	if s.Tools != nil {
		add(CashAfterTools, cash.Sub(*s.Tools))
		add(CashAfterToolsAndResale, cash.Sub(*s.Tools).Add(s.Resale))
	}
	add(CashCreditLeftovers, cash.Add(s.Leftovers).Sub(s.ReadyLeftovers))
	if s.Replacement != nil {
		replaced := s.Ready.Sub(*s.Replacement)
		add(AtReplacement, replaced)
		if s.Tools != nil {
			add(AtReplacementAfterTools, replaced.Sub(*s.Tools))
		}
	}
	return list
}

func (s Sums) saving(b Basis, a money.Amount) Saving {
	out := Saving{Basis: b, Amount: a}
	if share, ok := a.PerMille(s.Ready); ok {
		out.PerMille = &share
	}
	if s.Time != nil {
		if hour, ok := handling.HourOf(a, *s.Time); ok {
			out.BreakEven = &hour
		}
	}
	return out
}

// AfterLabour returns what the time is worth at a value of the hour, and what building saves
// in cash after tools and labour; false when the time or a tool's price is not known.
//
//	saving = R - cash - T - hour · minutes / 60
//
// Source: costing_problem.md section 8.
func (s Sums) AfterLabour(hour money.Amount) (labour, saving money.Amount, ok bool) {
	if s.Time == nil || s.Tools == nil {
		return money.Amount{}, money.Amount{}, false
	}
	labour = handling.Worth(*s.Time, hour)
	return labour, s.Ready.Sub(s.Cash).Sub(*s.Tools).Sub(labour), true
}
