// Package money holds exact amounts of one currency.
//
// An Amount counts millionths of the major unit in an int64, so that prices,
// totals and prices per square metre are all exact integers and no binary
// floating point takes part. Rounding to the currency's minor unit happens
// where a rule names it (costing), always half away from zero. Two currencies
// are never mixed: arithmetic on different ones is a mistake of the program and
// panics; data of different ones is kept apart by catalog and costing.
package money

import (
	"errors"
	"fmt"
	"math/big"
	"strconv"
	"strings"

	iso "github.com/bojanz/currency"
)

// Micro is the number of micro-units in one major unit.
const Micro = 1_000_000

// Currency is an ISO 4217 alphabetic code in capitals.
type Currency string

// exponents lists the currencies whose minor unit is not a hundredth.
// Source: ISO 4217 column "minor unit", from memory. The digits of the
// currency library are those of CLDR, which name customary digits (0 for IQD)
// and are therefore not used.
var exponents = map[Currency]int{
	"BIF": 0, "CLP": 0, "DJF": 0, "GNF": 0, "ISK": 0, "JPY": 0, "KMF": 0, "KRW": 0, "PYG": 0,
	"RWF": 0, "UGX": 0, "UYI": 0, "VND": 0, "VUV": 0, "XAF": 0, "XOF": 0, "XPF": 0,
	"BHD": 3, "IQD": 3, "JOD": 3, "KWD": 3, "LYD": 3, "OMR": 3, "TND": 3,
	"CLF": 4, "UYW": 4,
}

// Valid reports whether c is a currency in which a new price may be given. Withdrawn
// codes (DEM, HRK) and codes that are no currency (XAU, XXX) are not valid.
func (c Currency) Valid() bool {
	if _, listed := exponents[c]; listed {
		return true
	}
	return c != "" && iso.IsValid(string(c))
}

// Exponent is the number of decimal places of the minor unit: 2 for EUR, 0 for JPY.
func (c Currency) Exponent() int {
	if e, ok := exponents[c]; ok {
		return e
	}
	return 2
}

// minorMicro is the number of micro-units in one minor unit.
func (c Currency) minorMicro() int64 {
	m := int64(Micro)
	for range c.Exponent() {
		m /= 10
	}
	return m
}

// Amount is an exact amount of money. The zero value is zero of no currency and
// may be added to any amount.
type Amount struct {
	micro    int64
	currency Currency
}

// Errors of Parse.
var (
	ErrFormat   = errors.New("an amount is written as digits with an optional decimal point, like 12.50")
	ErrCurrency = errors.New("not a current ISO 4217 currency code")
	ErrPlaces   = errors.New("more decimal places than the currency has")
	ErrRange    = errors.New("an amount has at most 12 digits before the point")
)

// FromMicro returns the amount of n micro-units.
func FromMicro(n int64, c Currency) Amount { return Amount{n, c} }

// FromMinor returns the amount of n minor units (cents).
func FromMinor(n int64, c Currency) Amount { return Amount{n * c.minorMicro(), c} }

// Zero returns nothing of currency c.
func Zero(c Currency) Amount { return Amount{0, c} }

// Parse reads a price: digits, an optional point and decimals, no sign, no exponent,
// no grouping. More decimals than the minor unit of the currency are refused:
// 1234.5 JPY is no price. The currency is not checked against the list of
// current codes, because old observations may hold withdrawn ones; see Valid.
func Parse(text string, c Currency) (Amount, error) {
	whole, frac, point := strings.Cut(text, ".")
	if whole == "" || point && frac == "" || !digits(whole) || !digits(frac) {
		return Amount{}, ErrFormat
	}
	if len(whole) > 12 {
		return Amount{}, ErrRange
	}
	if len(frac) > c.Exponent() {
		return Amount{}, fmt.Errorf("%w: %s has %d", ErrPlaces, c, c.Exponent())
	}
	n := int64(0)
	for _, d := range whole + frac + strings.Repeat("0", 6-len(frac)) {
		n = n*10 + int64(d-'0')
	}
	return Amount{n, c}, nil
}

func digits(s string) bool {
	for _, r := range s {
		if r < '0' || r > '9' {
			return false
		}
	}
	return true
}

// Micro returns the amount in micro-units.
func (a Amount) Micro() int64 { return a.micro }

// Minor returns the amount in minor units, rounded half away from zero.
func (a Amount) Minor() int64 { return divRound(a.micro, a.currency.minorMicro()) }

// Currency returns the currency of the amount.
func (a Amount) Currency() Currency { return a.currency }

// IsZero reports whether the amount is nothing.
func (a Amount) IsZero() bool { return a.micro == 0 }

// Sign is -1, 0 or 1.
func (a Amount) Sign() int {
	switch {
	case a.micro < 0:
		return -1
	case a.micro > 0:
		return 1
	}
	return 0
}

// String prints the amount with the places of its minor unit, or with as many
// more as it needs: "12.50", "0.0374". It is the text of the wire, without the currency.
func (a Amount) String() string {
	sign, n := "", a.micro
	if n < 0 {
		sign, n = "-", -n
	}
	frac := strings.TrimRight(fmt.Sprintf("%06d", n%Micro), "0")
	if e := a.currency.Exponent(); len(frac) < e {
		frac += strings.Repeat("0", e-len(frac))
	}
	if frac != "" {
		frac = "." + frac
	}
	return fmt.Sprintf("%s%d%s", sign, n/Micro, frac)
}

// same returns the currency of both amounts; the zero Amount adopts the other's.
func same(a, b Amount) Currency {
	switch {
	case a.currency == b.currency || b == Amount{}:
		return a.currency
	case a == Amount{}:
		return b.currency
	}
	panic(fmt.Sprintf("money: %s and %s cannot be mixed", a.currency, b.currency))
}

// Add returns a + b. It panics on different currencies and on overflow.
func (a Amount) Add(b Amount) Amount {
	sum := a.micro + b.micro
	if (sum > a.micro) != (b.micro > 0) && b.micro != 0 {
		panic("money: overflow")
	}
	return Amount{sum, same(a, b)}
}

// Sub returns a - b, see Add.
func (a Amount) Sub(b Amount) Amount { return a.Add(Amount{-b.micro, b.currency}) }

// Times returns n·a. It panics on overflow.
func (a Amount) Times(n int64) Amount {
	p := a.micro * n
	if a.micro != 0 && p/a.micro != n {
		panic("money: overflow")
	}
	return Amount{p, a.currency}
}

// Cmp compares a with b: -1, 0 or 1.
func (a Amount) Cmp(b Amount) int { return a.Sub(b).Sign() }

// TimesRatio returns a·num/den rounded half away from zero to the minor unit. den must
// be positive.
func (a Amount) TimesRatio(num, den int64) Amount {
	return a.ratio(num, den, a.currency.minorMicro())
}

// Per returns a·num/den rounded half away from zero to four decimal places (or to the
// minor unit where that is finer), as unit prices are shown. It must not be
// multiplied back.
func (a Amount) Per(num, den int64) Amount {
	return a.ratio(num, den, min(100, a.currency.minorMicro()))
}

// PerMille returns a in thousandths of another amount, rounded half away from zero: tenths of
// a per cent. It is false when the other is not above nothing, or when the share is larger than
// can be counted. It panics on different currencies.
func (a Amount) PerMille(of Amount) (int64, bool) {
	same(a, of)
	if of.micro <= 0 {
		return 0, false
	}
	q := bigDivRound(new(big.Int).Mul(big.NewInt(a.micro), big.NewInt(1000)), big.NewInt(of.micro))
	return q.Int64(), q.IsInt64()
}

func (a Amount) ratio(num, den, step int64) Amount {
	if den <= 0 {
		panic("money: divisor must be positive")
	}
	p := new(big.Int).Mul(big.NewInt(a.micro), big.NewInt(num))
	d := new(big.Int).Mul(big.NewInt(den), big.NewInt(step))
	q := bigDivRound(p, d)
	q.Mul(q, big.NewInt(step))
	if !q.IsInt64() {
		panic("money: overflow")
	}
	return Amount{q.Int64(), a.currency}
}

// bigDivRound returns p/d rounded to the nearest integer, halves away from zero: the
// rule H(a, b) of the cost definitions, for big numbers. d must be positive.
func bigDivRound(p, d *big.Int) *big.Int {
	sign := p.Sign()
	n := new(big.Int).Abs(p)
	n.Lsh(n, 1).Add(n, d)
	n.Quo(n, new(big.Int).Lsh(d, 1))
	if sign < 0 {
		n.Neg(n)
	}
	return n
}

// divRound returns n/d rounded to the nearest integer, halves away from zero; d > 0.
func divRound(n, d int64) int64 {
	return bigDivRound(big.NewInt(n), big.NewInt(d)).Int64()
}

// Shares splits a into n parts that add up to it exactly; the parts differ by at most
// one minor unit and the larger ones come first. a must be whole minor units and n
// positive.
func (a Amount) Shares(n int) []Amount {
	minor := a.Minor()
	floor := minor / int64(n)
	rest := minor % int64(n)
	parts := make([]Amount, n)
	for i := range parts {
		m := floor
		if int64(i) < rest {
			m++
		}
		parts[i] = FromMinor(m, a.currency)
	}
	return parts
}

// MarshalText writes the amount with its currency: "12.50 EUR". UnmarshalText reads it back
// to the micro-unit.
func (a Amount) MarshalText() ([]byte, error) {
	return []byte(a.String() + " " + string(a.currency)), nil
}

// UnmarshalText reads what MarshalText wrote.
func (a *Amount) UnmarshalText(text []byte) error {
	number, currency, ok := strings.Cut(string(text), " ")
	whole, frac, _ := strings.Cut(number, ".")
	if !ok || whole == "" || len(frac) > 6 {
		return fmt.Errorf("money: %q is no amount with its currency", text)
	}
	n, err := strconv.ParseInt(whole+frac+strings.Repeat("0", 6-len(frac)), 10, 64)
	if err != nil {
		return fmt.Errorf("money: %q is no amount with its currency: %w", text, err)
	}
	*a = Amount{n, Currency(currency)}
	return nil
}
