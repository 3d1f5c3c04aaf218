package readymade_test

import (
	"encoding/json"
	"os"
	"reflect"
	"testing"

	"sabinbook/internal/buying"
	"sabinbook/internal/costing"
	"sabinbook/internal/money"
	"sabinbook/internal/readymade"
	"sabinbook/internal/units"
)

// Source of all cases: buying_cases.json of the reference, break_even_cases and the curve of
// 24 panels (definitions in costing_problem.md section 8). Cents are compared literally.
type caseFile struct {
	Cases  []breakEvenCase `json:"break_even_cases"`
	Curves []struct {
		Ready    casePrice
		Tools    []caseTool
		Expected struct {
			Cash    []int64 `json:"cash_curve_cents"`
			Ready   []int64 `json:"ready_curve_cents"`
			First   int     `json:"tool_recovery_first"`
			Lasting int     `json:"tool_recovery_lasting"`
		}
	} `json:"curve_cases"`
}

type casePrice struct {
	Price       int64 `json:"price_cents"`
	TaxIncluded *bool `json:"tax_included"`
	TaxBP       int   `json:"tax_bp"`
	Breaks      []struct {
		From  int
		Price int64 `json:"price_cents"`
	}
	PerPanel int64  `json:"delivery_per_panel_cents"`
	Flat     int64  `json:"delivery_flat_cents"`
	FreeFrom *int64 `json:"delivery_free_from_cents"`
}

type caseTool struct {
	ID     string
	Price  int64 `json:"price_cents"`
	Resale int64 `json:"resale_cents"`
	Owned  bool
}

type breakEvenCase struct {
	ID          string
	Panels      int
	Cash        int64 `json:"cash_cents"`
	Replacement int64 `json:"replacement_total_cents"`
	Leftovers   int64 `json:"leftover_value_cents"`
	Ready       casePrice
	Setup       float64 `json:"setup_minutes"`
	PerPanel    float64 `json:"minutes_per_panel"`
	Hour        *int64  `json:"hour_value_cents"`
	Tools       []caseTool
	Expected    struct {
		Goods    int64 `json:"ready_goods_cents"`
		Delivery int64 `json:"ready_delivery_cents"`
		Total    int64 `json:"ready_total_cents"`
		Tools    int64 `json:"tools_cents"`
		Minutes  float64
		Savings  map[readymade.Basis]struct {
			Saving    int64  `json:"saving_cents"`
			Percent   int64  `json:"percent_tenths"`
			BreakEven *int64 `json:"break_even_cents_per_hour"`
		}
		Linear *int64 `json:"tool_recovery_panels_linear"`
		Labour *int64 `json:"labour_cents"`
		After  *int64 `json:"saving_after_labour_cents"`
	}
}

func readCases(t testing.TB) caseFile {
	t.Helper()
	text, err := os.ReadFile("testdata/break_even_cases.json")
	if err != nil {
		t.Fatal(err)
	}
	var file caseFile
	if err := json.Unmarshal(text, &file); err != nil {
		t.Fatal(err)
	}
	return file
}

func cents(n int64) money.Amount { return money.FromMinor(n, "EUR") }

func (p casePrice) asking() costing.AskingPrice {
	out := costing.AskingPrice{Price: cents(p.Price), TaxIncluded: p.TaxIncluded == nil || *p.TaxIncluded, TaxRateBP: p.TaxBP, Flat: cents(p.Flat), PerPanel: cents(p.PerPanel)}
	for _, b := range p.Breaks {
		out.Breaks = append(out.Breaks, buying.Break{From: b.From, Price: cents(b.Price)})
	}
	if p.FreeFrom != nil {
		from := cents(*p.FreeFrom)
		out.FreeFrom = &from
	}
	return out
}

func tools(list []caseTool) []readymade.Tool {
	var out []readymade.Tool
	for _, c := range list {
		price, resale := cents(c.Price), cents(c.Resale)
		out = append(out, readymade.Tool{Name: c.ID, Price: &price, Resale: &resale, Owned: c.Owned})
	}
	return out
}

func minor(a *money.Amount) *int64 {
	if a == nil {
		return nil
	}
	n := a.Minor()
	return &n
}

func TestBreakEvenCases(t *testing.T) {
	file := readCases(t)
	if len(file.Cases) != 7 {
		t.Fatalf("%d cases", len(file.Cases))
	}
	for _, c := range file.Cases {
		t.Run(c.ID, func(t *testing.T) {
			want := c.Expected
			ready := c.Ready.asking().For(c.Panels, costing.TaxIncluded)
			if ready.Goods != cents(want.Goods) || ready.Delivery != cents(want.Delivery) || ready.Total != cents(want.Total) {
				t.Errorf("ready-made: %s + %s = %s", ready.Goods, ready.Delivery, ready.Total)
			}
			price, resale := readymade.ToolSums(tools(c.Tools), "EUR")
			if price == nil || *price != cents(want.Tools) {
				t.Errorf("tools cost %v", price)
			}
			replacement, time := cents(c.Replacement), units.Minutes(c.Setup+float64(c.Panels)*c.PerPanel)
			sums := readymade.Sums{Ready: ready.Total, Cash: cents(c.Cash), Replacement: &replacement, Leftovers: cents(c.Leftovers),
				ReadyLeftovers: cents(0), Tools: price, Resale: resale, Time: &time}
			savings := sums.Savings()
			if len(savings) != len(want.Savings) || len(savings) != 6 || float64(time) != want.Minutes {
				t.Errorf("%d savings, %v minutes", len(savings), time)
			}
			for _, s := range savings {
				w := want.Savings[s.Basis]
				if s.Amount != cents(w.Saving) || s.PerMille == nil || *s.PerMille != w.Percent || !reflect.DeepEqual(minor(s.BreakEven), w.BreakEven) {
					t.Errorf("%s: saves %s, want %+v", s.Basis, s.Amount, w)
				}
			}
			r := readymade.RecoveryOf(*price, ready.Total.Sub(cents(c.Cash)), c.Panels, nil)
			if !reflect.DeepEqual(r.Linear, want.Linear) {
				t.Errorf("tools are recovered by %v panels, want %v", r.Linear, want.Linear)
			}
			if c.Hour != nil {
				labour, after, ok := sums.AfterLabour(cents(*c.Hour))
				if !ok || labour != cents(*want.Labour) || after != cents(*want.After) {
					t.Errorf("labour %s, saving after it %s", labour, after)
				}
			}
		})
	}
}

func TestRecoveryFromACurve(t *testing.T) {
	file := readCases(t)
	if len(file.Curves) != 1 {
		t.Fatalf("%d curves", len(file.Curves))
	}
	for _, c := range file.Curves {
		var gains []*money.Amount
		for i, cash := range c.Expected.Cash {
			ready := c.Ready.asking().For(i+1, costing.TaxIncluded).Total
			if ready != cents(c.Expected.Ready[i]) {
				t.Errorf("%d panels cost %s", i+1, ready)
			}
			gain := ready.Sub(cents(cash))
			gains = append(gains, &gain)
		}
		price, _ := readymade.ToolSums(tools(c.Tools), "EUR")
		r := readymade.RecoveryOf(*price, *gains[23], 24, gains)
		if r.First == nil || *r.First != c.Expected.First || r.Lasting == nil || *r.Lasting != c.Expected.Lasting || r.To != 24 {
			t.Errorf("%+v", r)
		}
		gains[19] = nil // what comes after is not known to follow
		if r := readymade.RecoveryOf(*price, *gains[23], 24, gains); r.To != 19 || *r.Lasting != c.Expected.Lasting {
			t.Errorf("%+v", r)
		}
	}
}
