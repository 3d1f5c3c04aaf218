package readymade

import (
	"fmt"
	"math/big"

	"sabinbook/internal/catalog"
	"sabinbook/internal/money"
)

// Tool is a tool that building takes once, however many panels are built.
type Tool struct {
	Name   string
	Price  *money.Amount // nil when not known; an owned one needs none
	Resale *money.Amount // what it can be sold for afterwards; nil for nothing
	Owned  bool
}

// maxTools is the largest number of tools of a question, maxToolPrice the largest price in
// major units. Convention.
const (
	maxTools     = 50
	maxToolPrice = 1_000_000
)

func validateTools(v *catalog.Faults, tools []Tool, currency money.Currency) {
	if len(tools) > maxTools {
		v.Add("/tools", "out_of_range", fmt.Sprintf("must list at most %d, got %d", maxTools, len(tools)), "list the tools that must be bought")
	}
	seen := map[string]bool{}
	for i, t := range tools {
		at := fmt.Sprintf("/tools/%d", i)
		v.Text(at+"/name", t.Name, 1, 100)
		if seen[t.Name] {
			v.Add(at+"/name", "duplicate", fmt.Sprintf("%q is listed twice", t.Name), "list each tool once")
		}
		seen[t.Name] = true
		for _, a := range []struct {
			at string
			of *money.Amount
		}{{at + "/price", t.Price}, {at + "/resale_value", t.Resale}} {
			switch {
			case a.of == nil:
			case a.of.Currency() != currency:
				v.Add(a.at+"/currency", "disagrees", fmt.Sprintf("is %s, the question's currency is %s", a.of.Currency(), currency), "give it in the currency of the question; nothing is converted")
			case a.of.Sign() < 0 || a.of.Micro() > maxToolPrice*money.Micro:
				v.Add(a.at+"/amount", "out_of_range", fmt.Sprintf("must be 0 to %d", maxToolPrice), "give what is asked for, e.g. 34.90")
			}
		}
	}
}

// ToolSums adds the prices of the tools that must be bought, and what these can be sold for.
// The price is nil when one of them has none. A tool that is owned counts in neither.
func ToolSums(tools []Tool, currency money.Currency) (price *money.Amount, resale money.Amount) {
	sum, known := money.Zero(currency), true
	resale = money.Zero(currency)
	for _, t := range tools {
		if t.Owned {
			continue
		}
		if t.Price == nil {
			known = false
		} else {
			sum = sum.Add(*t.Price)
		}
		if t.Resale != nil {
			resale = resale.Add(*t.Resale)
		}
	}
	if known {
		price = &sum
	}
	return price, resale
}

// Recovery says from how many panels on the tools have paid for themselves.
type Recovery struct {
	// Linear takes the saving of one panel as the same for every one; nil where building
	// does not save anything.
	Linear *int64
	// First and Lasting are exact: the least number of panels, made at once, that saves
	// the price of the tools, and the least from which all numbers up to To do. They
	// differ because packs make the cost a staircase. Nil where there is none up to To.
	First, Lasting *int
	To             int
}

// RecoveryOf returns when tools of a price are recovered. saved is R - cash for the panels of
// the question; curve holds R - cash for 1, 2, ... panels, nil from where it is not known.
//
//	linear = ⌈T · panels / saved⌉, 0 without tools to buy
//
// Source: costing_problem.md section 8.
func RecoveryOf(tools, saved money.Amount, panels int, curve []*money.Amount) Recovery {
	r := Recovery{}
	if tools.IsZero() {
		r.Linear = new(int64)
	} else if saved.Sign() > 0 {
		needed := new(big.Int).Mul(big.NewInt(tools.Micro()), big.NewInt(int64(panels)))
		one := big.NewInt(saved.Micro())
		needed.Add(needed, one).Sub(needed, big.NewInt(1)).Quo(needed, one)
		if needed.IsInt64() {
			n := needed.Int64()
			r.Linear = &n
		}
	}
	for i, gain := range curve {
		if gain == nil {
			break
		}
		n := i + 1
		r.To = n
		if gain.Cmp(tools) < 0 {
			r.Lasting = nil
			continue
		}
		if r.First == nil {
			r.First = &n
		}
		if r.Lasting == nil {
			r.Lasting = &n
		}
	}
	return r
}
