package money

import (
	"errors"
	"math/big"
	"strings"
)

// Rate is how much of one currency one unit of another is worth: a decimal number above nothing,
// exactly as it was written down, like "0.8563" or "162.5".
type Rate string

// ErrRate refuses what is no rate.
var ErrRate = errors.New("a rate is written as digits with an optional decimal point, like 0.8563, above 0, with at most 9 digits before the point and 12 after it")

// ParseRate reads a rate. What was written comes back digit for digit.
func ParseRate(text string) (Rate, error) {
	whole, frac, point := strings.Cut(text, ".")
	if whole == "" || len(whole) > 9 || len(frac) > 12 || point && frac == "" || !digits(whole) || !digits(frac) || strings.Trim(whole+frac, "0") == "" {
		return "", ErrRate
	}
	return Rate(text), nil
}

// Convert returns what an amount is worth in another currency at a rate that ParseRate has read:
//
//	amount · rate, or amount / rate where inverse
//
// in exact rational arithmetic, rounded once, half away from zero to the minor unit of the
// other currency. It is false where the result is nothing though the amount is not, or more than
// 12 digits before the point: such an amount cannot be told in the other currency.
func (r Rate) Convert(a Amount, to Currency, inverse bool) (Amount, bool) {
	rate, ok := new(big.Rat).SetString(string(r))
	if !ok || rate.Sign() <= 0 {
		panic("money: no rate: " + string(r))
	}
	if inverse {
		rate.Inv(rate)
	}
	minor := to.minorMicro()
	rate.Mul(rate, new(big.Rat).SetFrac64(a.micro, minor))
	q := bigDivRound(rate.Num(), rate.Denom())
	q.Mul(q, big.NewInt(minor))
	if !q.IsInt64() || q.CmpAbs(big.NewInt(1_000_000_000_000*Micro)) >= 0 || q.Sign() == 0 && a.micro != 0 {
		return Amount{}, false
	}
	return Amount{q.Int64(), to}, true
}
