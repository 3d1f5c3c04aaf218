package buying

import (
	"math"
	"math/bits"

	"sabinbook/internal/money"
)

// Tax says what is done to a listed price to get the price that counts.
type Tax string

// The treatments of tax.
const (
	AsListed  Tax = "as_listed" // listed with tax, counted so
	AddTax    Tax = "add"       // listed before tax, counted with it
	RemoveTax Tax = "remove"    // listed with tax, counted before it
	BeforeTax Tax = "before"    // listed before tax, counted so
)

// WeightBasis is the weight for which a carrier charges.
type WeightBasis string

// The bases. The zero value is ActualWeight.
const (
	ActualWeight      WeightBasis = ""
	DimensionalWeight WeightBasis = "dimensional"
	GreaterWeight     WeightBasis = "greater"
)

// Delivery is how a supplier delivers an order.
type Delivery struct {
	Fee      money.Amount
	FreeFrom *money.Amount // goods value from which the fee is nothing; nil for never
	PerKg    money.Amount  // per started kilogram
	Basis    WeightBasis
	Divisor  int64 // cm³ per kg, for weight by size
	// FreeCoversWeight makes the threshold waive the fee per kilogram too.
	FreeCoversWeight bool
}

// Charged returns the started kilograms that are charged for a mass in grams and a volume in
// cm³. Source: costing_problem.md section 2.1; costing.md section 4.
func (d Delivery) Charged(grams, volume int64) int64 {
	actual, size := ceilDiv(grams, 1000), int64(0)
	if d.Divisor > 0 {
		size = ceilDiv(volume, d.Divisor)
	}
	switch d.Basis {
	case DimensionalWeight:
		return size
	case GreaterWeight:
		return max(actual, size)
	}
	return actual
}

func ceilDiv(a, b int64) int64 { return (a + b - 1) / b }

// LinePrice returns n packs as listed and as they count, rounded half away from zero to the
// minor unit: listed · (10000 + bp) / 10000 to add tax, and its inverse to take it off.
// Source: costing_problem.md section 1.
func LinePrice(price money.Amount, packs int, tax Tax, bp int) (listed, gross money.Amount) {
	listed = price.Times(int64(packs))
	switch tax {
	case AddTax:
		return listed, listed.TimesRatio(int64(10_000+bp), 10_000)
	case RemoveTax:
		return listed, listed.TimesRatio(10_000, int64(10_000+bp))
	}
	return listed, listed
}

// UnitPrice returns the price of a pack in a line of n: that of the highest break that n
// reaches. Source: costing_problem.md section 1.
func (o *Offer) UnitPrice(n int) money.Amount {
	price, from := o.Price, 0
	for _, b := range o.Breaks {
		if b.From <= n && b.From > from {
			price, from = b.Price, b.From
		}
	}
	return price
}

// ShopTax is the treatment that gives what a shop holds against its threshold: the
// price with tax, whichever way it counts for the asker.
// Source: costing_problem.md section 2.1, thresholds count gross goods.
func ShopTax(tax Tax) Tax {
	switch tax {
	case RemoveTax:
		return AsListed
	case BeforeTax:
		return AddTax
	}
	return tax
}

// outOfReach is an amount in micro-units that no real line or fee comes near (10^11 major
// units). Offers and fees from there on are left out, so that sums stay exact.
const outOfReach = 100_000_000_000_000_000

// plain is a listed amount in micro-units up to which tax is worked out in 64 bits.
const plain = math.MaxInt64 / 3 / 1_000_000

// scale turns amounts into points, in which the search counts: cash first, then suppliers,
// then packs, so that one number orders plans by the first three levels of preference.
//
//	points = cash/unit · cash + suppliers · supplier + packs · pack
//
// Source: costing_problem.md section 3.1, with weights that suit the problem.
type scale struct {
	unit     int64 // micro-units of the minor unit, or 1 where an amount is no whole number of them
	cash     int64
	supplier int64
	pack     int64
	minor    int64
}

// usual is the scale for up to 8191 packs and 127 suppliers.
func usual(unit, minor int64) scale {
	return scale{unit: unit, cash: 1 << 20, supplier: 1 << 13, pack: 1, minor: minor}
}

// line returns what n packs cost as they count, and with tax, in units.
func (s *scale) line(o *Offer, n int) (gross, worth int64) {
	price := o.UnitPrice(n)
	listed := price.Micro() * int64(n)
	gross = s.taxed(price, n, listed, o.Tax, o.TaxBP)
	if tax := ShopTax(o.Tax); tax != o.Tax {
		return gross, s.taxed(price, n, listed, tax, o.TaxBP)
	}
	return gross, gross
}

func (s *scale) taxed(price money.Amount, n int, listed int64, tax Tax, bp int) int64 {
	if tax == AsListed || tax == BeforeTax {
		return listed / s.unit
	}
	if listed < 0 || s.unit != s.minor || listed/s.unit > plain || bp > 1_000_000 {
		_, gross := LinePrice(price, n, tax, bp)
		return gross.Micro() / s.unit
	}
	l, full := listed/s.unit, int64(10_000+bp)
	if tax == AddTax {
		return (2*l*full + 10_000) / 20_000
	}
	return (2*l*10_000 + full) / (2 * full)
}

// inReach reports whether n packs cost an amount within reach.
func inReach(price money.Amount, n int) bool {
	return price.Micro() >= 0 && price.Micro() < outOfReach/int64(max(n, 1))
}

// mulDiv returns a·b/c rounded down, and tooMuch where that is more.
// All are positive or zero, c positive.
func mulDiv(a, b, c int64) int64 {
	hi, lo := bits.Mul64(uint64(a), uint64(b))
	if hi >= uint64(c) {
		return tooMuch
	}
	q, _ := bits.Div64(hi, lo, uint64(c))
	return int64(min(q, tooMuch))
}

// tooMuch is what a fee by weight counts at most in a bound.
const tooMuch = 1 << 54

// one is the factor 1 of times.
const one = 1 << 24

// times returns a·f/2^24 rounded down; f is at most one.
func times(a, f int64) int64 {
	if f == one {
		return a
	}
	hi, lo := bits.Mul64(uint64(a), uint64(f))
	return int64(hi<<40 | lo>>24)
}
