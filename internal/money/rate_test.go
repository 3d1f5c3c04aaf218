package money

import (
	"errors"
	"testing"

	"pgregory.net/rapid"
)

func TestParseRate(t *testing.T) {
	for _, text := range []string{"1", "0.8563", "162.50", "007", "999999999.999999999999", "0.000000000001"} {
		if r, err := ParseRate(text); err != nil || string(r) != text {
			t.Errorf("%q: %q, %v", text, r, err)
		}
	}
	for _, text := range []string{"", ".", "1.", ".5", "0", "0.000", "-1", "+1", "1e3", "1,5", " 1", "1 000", "1234567890", "0.0000000000001", "NaN", "٣"} {
		if _, err := ParseRate(text); !errors.Is(err, ErrRate) {
			t.Errorf("%q: %v", text, err)
		}
	}
}

// Worked by hand with a pencil: 46.80 / 0.8563 = 54.653743..., 46.80 · 162.5 = 7605, 1.005 · 1
// and 0.995 · 1 are halves of a cent, and half a yen is rounded away from zero.
func TestConvert(t *testing.T) {
	for _, c := range []struct {
		amount  string
		from    Currency
		rate    Rate
		to      Currency
		inverse bool
		want    string
	}{
		{"46.80", "EUR", "162.5", "JPY", false, "7605"},
		{"46.80", "GBP", "0.8563", "EUR", true, "54.65"},
		{"1", "JPY", "200", "EUR", true, "0.01"}, // half a cent
		{"1", "JPY", "200.000000000001", "EUR", true, ""},
		{"0.01", "EUR", "50", "JPY", false, "1"}, // half a yen
		{"0.01", "EUR", "49.999999999999", "JPY", false, ""},
		{"0.00", "EUR", "0.000000000001", "JPY", false, "0"},
		{"3.00", "EUR", "0.333", "KWD", false, "0.999"},
		{"999999999999.99", "EUR", "1", "GBP", false, "999999999999.99"},
		{"999999999999.99", "EUR", "1.1", "GBP", false, ""},
		{"999999999999.99", "EUR", "999999999", "JPY", false, ""},
	} {
		a, err := Parse(c.amount, c.from)
		if err != nil {
			t.Fatal(err)
		}
		got, ok := c.rate.Convert(a, c.to, c.inverse)
		if ok != (c.want != "") || ok && (got.String() != c.want || got.Currency() != c.to) {
			t.Errorf("%s %s at %s (inverse %t): %s %s, %t; want %q", c.amount, c.from, c.rate, c.inverse, got, got.Currency(), ok, c.want)
		}
	}
}

// There and back at one rate is off by no more than half a minor unit of either side.
func TestConvertThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := FromMinor(rapid.Int64Range(1, 1_000_000_000).Draw(t, "cents"), "EUR")
		there, ok := Rate("1.25").Convert(a, "GBP", false) // 5/4, and 4/5 back: errors do not grow
		if !ok {
			t.Fatal("not converted")
		}
		back, ok := Rate("1.25").Convert(there, "EUR", true)
		if d := back.Sub(a).Minor(); !ok || d < -1 || d > 1 {
			t.Fatalf("%s becomes %s and %s", a, there, back)
		}
	})
}
