package ranking

import (
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"sabinbook/internal/catalog"
	"sabinbook/internal/costing"
	"sabinbook/internal/money"
)

// A catalog in euro, asked in pounds at a rate of 2, ranks as the same catalog entered in pounds at
// doubled prices: the same order, totals, orders and ties. The rate is told either way round.
func TestConvertedLikeEnteredInTheOtherCurrency(t *testing.T) {
	doubled := func(a money.Amount) money.Amount { return money.FromMicro(2*a.Micro(), "GBP") }
	rapid.Check(t, func(t *rapid.T) {
		euro, pound := smallStock(), smallStock()
		for i := range euro.Prices {
			price := &euro.Prices[i]
			price.Amount = money.FromMinor(rapid.Int64Range(1, 9999).Draw(t, "cents"), "EUR")
			if price.Amount.Minor() > 50 && rapid.Bool().Draw(t, "break") {
				price.Breaks = []catalog.Break{{From: 2, Price: price.Amount.TimesRatio(9, 10)}}
			}
			price.TaxIncluded = rapid.Bool().Draw(t, "tax included")
			other := *price
			other.Amount, other.Breaks = doubled(price.Amount), nil
			for _, b := range price.Breaks {
				other.Breaks = append(other.Breaks, catalog.Break{From: b.From, Price: doubled(b.Price)})
			}
			pound.Prices[i] = other
		}
		for i := range pound.Suppliers {
			s := &pound.Suppliers[i]
			s.Currency = "GBP"
			if s.Delivery != nil {
				s.Delivery.Fee, s.Delivery.PerKg = doubled(s.Delivery.Fee), money.Zero("GBP")
			}
			if s.TripCost != nil {
				trip := doubled(*s.TripCost)
				s.TripCost = &trip
			}
		}
		r := catalog.ExchangeRate{Meta: meta("rate", "two"), From: "EUR", To: "GBP", Rate: "2", Observed: day, SourceID: "src_test"}
		if rapid.Bool().Draw(t, "inverse") {
			r.From, r.To, r.Rate = "GBP", "EUR", "0.50"
		}
		euro.Rates = []catalog.ExchangeRate{r}
		ask := func(s *stock, convert costing.ConvertPrices) Result {
			s.Sort()
			b := StandardBrief(4, day, "GBP")
			b.Terms.Convert, b.Draws.Count = convert, 50
			out, err := Prepare(s.Snapshot, 1).Rank(b)
			if err != nil {
				t.Fatal(err)
			}
			return out
		}
		converted, entered := ask(euro, costing.StoredRates), ask(pound, costing.NotConverted)
		if len(converted.Rates) != 1 || len(entered.Rates) != 0 || len(entered.Options) == 0 {
			t.Fatalf("%d and %d rates", len(converted.Rates), len(entered.Rates))
		}
		type seen struct {
			Key, Total, AtLeast string
			Place               int
			Likely              any
			Orders              []string
		}
		view := func(list []Option) (out []seen) {
			for _, o := range list {
				s := seen{Key: o.Key(), Total: o.Cost.Total.String(), AtLeast: o.Cost.AtLeast.String(), Place: o.Place, Likely: o.Likely}
				for _, order := range o.Cost.Orders {
					s.Orders = append(s.Orders, string(order.Supplier.Slug)+" "+order.Goods.String()+" "+order.Fee.String())
				}
				out = append(out, s)
			}
			return out
		}
		if d := cmp.Diff(view(entered.Options), view(converted.Options)); d != "" {
			t.Fatal(d)
		}
		for _, o := range converted.Options {
			for _, l := range o.Cost.Lines {
				if l.Conversion == nil && !l.Owned {
					t.Fatalf("%s: the line %s does not tell its rate", o.Key(), l.Need)
				}
			}
		}
	})
}
