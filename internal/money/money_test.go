package money

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"
)

func mustParse(t *testing.T, text string, c Currency) Amount {
	t.Helper()
	a, err := Parse(text, c)
	if err != nil {
		t.Fatalf("Parse(%q, %s): %v", text, c, err)
	}
	return a
}

func TestParseRefusesWhatIsNoPrice(t *testing.T) {
	for text, want := range map[string]error{
		"": ErrFormat, ".5": ErrFormat, "5.": ErrFormat, "+1": ErrFormat, "-1": ErrFormat, "1e3": ErrFormat,
		"NaN": ErrFormat, "Infinity": ErrFormat, "1,50": ErrFormat, "1 000": ErrFormat, "٣": ErrFormat,
		"1.234": ErrPlaces, "1234567890123": ErrRange,
	} {
		if _, err := Parse(text, "EUR"); !errors.Is(err, want) {
			t.Errorf("Parse(%q) = %v, want %v", text, err, want)
		}
	}
	// costing.md section 6: "JPY 1234.5 refused (exponent 0)".
	if _, err := Parse("1234.5", "JPY"); !errors.Is(err, ErrPlaces) {
		t.Errorf("JPY 1234.5: %v", err)
	}
}

// Places of ISO 4217 as listed in costing.md section 5 (list from memory there).
func TestPlacesOfCurrencies(t *testing.T) {
	for c, want := range map[Currency]string{"EUR": "7.00", "CHF": "7.00", "JPY": "7", "ISK": "7", "CLP": "7", "KWD": "7.000", "IQD": "7.000", "CLF": "7.0000", "UYW": "7.0000"} {
		if got := FromMinor(7*pow10(c.Exponent()), c).String(); got != want {
			t.Errorf("%s: %s, want %s", c, got, want)
		}
		if !c.Valid() {
			t.Errorf("%s must be valid", c)
		}
	}
	for _, c := range []Currency{"", "eur", "DEM", "HRK", "XXX", "XAU", "EURO", "ZZZ"} {
		if c.Valid() {
			t.Errorf("%q must not be valid for a new price", c)
		}
	}
}

func pow10(n int) int64 {
	p := int64(1)
	for range n {
		p *= 10
	}
	return p
}

// Tax and share check values of costing.md sections 3 and 6 and costing_problem.md section 1:
// 3.33 net at 19 % is 3.96; 9.99 is 11.89; 3 packs of 1.50 net are 5.36 by line; 1000 cents over 3 panels.
func TestRoundingCheckValues(t *testing.T) {
	for _, c := range []struct{ net, gross string }{{"3.33", "3.96"}, {"9.99", "11.89"}, {"4.50", "5.36"}} {
		if got := mustParse(t, c.net, "EUR").TimesRatio(11900, 10000).String(); got != c.gross {
			t.Errorf("%s at 19 %% = %s, want %s", c.net, got, c.gross)
		}
	}
	want := []string{"3.34", "3.33", "3.33"}
	for i, s := range FromMinor(1000, "EUR").Shares(3) {
		if s.String() != want[i] {
			t.Errorf("share %d = %s, want %s", i, s, want[i])
		}
	}
}

func TestMixedCurrenciesPanic(t *testing.T) {
	defer func() {
		if recover() == nil {
			t.Error("EUR + CHF must panic")
		}
	}()
	FromMinor(1, "EUR").Add(FromMinor(1, "CHF"))
}

func TestProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := rapid.SampledFrom([]Currency{"EUR", "JPY", "KWD", "CLF"}).Draw(t, "currency")
		a := FromMinor(rapid.Int64Range(0, 1_000_000_000).Draw(t, "a"), c)
		b := FromMinor(rapid.Int64Range(0, 1_000_000_000).Draw(t, "b"), c)
		if back, err := Parse(a.String(), c); err != nil || back != a {
			t.Fatalf("%s does not come back: %v %v", a, back, err)
		}
		if a.Add(b).Sub(b) != a || a.Add(b).Cmp(a) != b.Sign() {
			t.Fatal("sum and difference disagree")
		}
		n := rapid.IntRange(1, 500).Draw(t, "n")
		sum := Zero(c)
		for _, s := range a.Shares(n) {
			sum = sum.Add(s)
		}
		if sum != a {
			t.Fatalf("%d shares of %s add up to %s", n, a, sum)
		}
		if a.TimesRatio(int64(n), int64(n)) != a {
			t.Fatal("a times n/n must be a")
		}
	})
}

// Tenths of a per cent are H(1000 a, b), halves away from zero (costing_problem.md section 1).
func TestPerMille(t *testing.T) {
	for _, c := range []struct {
		a, of, want int64
		ok          bool
	}{
		{-840, 14790, -57, true}, // -56.795, case E03 of its break-even cases
		{1, 2000, 1, true}, {-1, 2000, -1, true}, {1, 2001, 0, true},
		{5, 0, 0, false}, {5, -1, 0, false},
	} {
		if got, ok := FromMinor(c.a, "EUR").PerMille(FromMinor(c.of, "EUR")); ok != c.ok || ok && got != c.want {
			t.Errorf("%d of %d: %d, %v", c.a, c.of, got, ok)
		}
	}
	if _, ok := FromMicro(1<<62, "EUR").PerMille(FromMicro(1, "EUR")); ok {
		t.Error("a share that cannot be counted is told")
	}
}

// Texts bring every amount back to the micro-unit, the zero of no currency too.
func TestTextsOfAmountsComeBack(t *testing.T) {
	for _, c := range []struct {
		a    Amount
		text string
	}{{Amount{}, "0.00 "}, {FromMinor(1250, "EUR"), "12.50 EUR"}, {FromMicro(37_400, "EUR"), "0.0374 EUR"}, {FromMicro(-500_001, "KWD"), "-0.500001 KWD"}, {FromMinor(800, "JPY"), "800 JPY"}} {
		if text, err := c.a.MarshalText(); err != nil || string(text) != c.text {
			t.Errorf("%v: %q, %v", c.a, text, err)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		a := FromMicro(rapid.Int64Range(-math.MaxInt64, math.MaxInt64).Draw(t, "micro"), rapid.SampledFrom([]Currency{"", "EUR", "JPY", "KWD", "CLF"}).Draw(t, "currency"))
		text, err := a.MarshalText()
		if err != nil {
			t.Fatal(err)
		}
		var back Amount
		if err := back.UnmarshalText(text); err != nil || back != a {
			t.Fatalf("%q comes back as %v: %v", text, back, err)
		}
	})
	for _, bad := range []string{"", "12.50", "1.2345678 EUR", "x EUR", " EUR", "99999999999999 EUR", "1.-5 EUR"} {
		if err := new(Amount).UnmarshalText([]byte(bad)); err == nil {
			t.Errorf("%q is read", bad)
		}
	}
}
