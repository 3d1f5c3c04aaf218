package api_test

import (
	"fmt"
	"net/http"
	"strings"
	"testing"

	"sabinbook/store/storetest"
)

// A table of prices is tried, added, and added again without effect; a single wrong line adds nothing.
func TestPriceList(t *testing.T) {
	storetest.Each(t, func(t *testing.T, db *storetest.Store) {
		s := seeded(t, db)
		const rock, other = "builders-yard-rock-wool-40-50-8", "insulation-web-rock-wool-40-50-8"
		post := func(path, table string) reply {
			return s.do(http.MethodPost, path, strings.NewReader(table), "Content-Type", "text/csv; charset=utf-8")
		}
		count := func() any { return s.get("/v1/offers/"+rock+"/prices?include=total_count").value(t, "total_count") }
		before, revision := count(), s.revision()
		table := "offer,amount,observed_date,note\r\n" + rock + ",41.50,2026-11-01,\"'=on the shelf, left\"\r\n" + other + ",39.9,,\r\n" + rock + ",41.50,2026-11-01,again\r\n"

		tried := s.must(http.StatusOK, post("/v1/price-lists?dry_run=true", table))
		if tried.value(t, "created_count") != 2.0 || tried.value(t, "unchanged_count") != 1.0 || tried.value(t, "rows", 0, "price_id") != nil || tried.value(t, "rows", 1, "observed_date") != "2026-11-02" ||
			tried.value(t, "rows", 1, "tax_included") != true || tried.value(t, "rows", 2, "action") != "unchanged" || tried.header.Get("Dry-Run") != "true" || count() != before || s.revision() != revision {
			t.Errorf("tried: %s", tried.body)
		}
		done := s.must(http.StatusOK, post("/v1/price-lists", table))
		for i := range 3 {
			for _, member := range []string{"row", "action", "offer", "tax_included", "tax_rate_percent", "observed_date"} {
				if done.value(t, "rows", i, member) != tried.value(t, "rows", i, member) {
					t.Errorf("line %d, %s: tried %v, done %v", i, member, tried.value(t, "rows", i, member), done.value(t, "rows", i, member))
				}
			}
		}
		price := s.get("/v1/prices/" + text(done.value(t, "rows", 0, "price_id")))
		if price.value(t, "price", "amount") != "41.50" || price.value(t, "note") != "=on the shelf, left" || price.value(t, "created_by") != keeper {
			t.Errorf("%s", price.body)
		}
		if count() != before.(float64)+1 || s.revision() != revision+1 {
			t.Errorf("%v prices, revision %d; were %v, %d", count(), s.revision(), before, revision)
		}
		again := s.must(http.StatusOK, post("/v1/price-lists", table))
		if again.value(t, "created_count") != 0.0 || s.revision() != revision+1 {
			t.Errorf("again: %s", again.body)
		}
		// As a spreadsheet with decimal commas saves it.
		local := s.must(http.StatusOK, post("/v1/price-lists", "\ufeffoffer;amount;currency;tax_included;tax_rate_percent\n"+rock+";1234,5;CHF;FALSE;8,1\n"))
		if local.value(t, "rows", 0, "price", "amount") != "1234.50" || local.value(t, "rows", 0, "price", "currency") != "CHF" || local.value(t, "rows", 0, "tax_rate_percent") != 8.1 || local.value(t, "rows", 0, "tax_included") != false {
			t.Errorf("%s", local.body)
		}

		revision = s.revision()
		good := rock + ",42.00\n"
		for _, c := range []struct {
			table  string
			row    float64
			column any
			says   string
		}{
			{"offer,amount\n" + good + "nobodys-offer,1.00\n", 3, "offer", "/v1/offers"},
			{"offer,amount\n" + good + rock + ",\n", 3, "amount", "46.80"},
			{"offer,amount\n" + rock + ",4 2\n", 2, "amount", "12.50"},
			{"offer,amount\n" + rock + ",-1\n", 2, "amount", ""},
			{"offer,amount,observed_date\n" + rock + ",1.00,2199-01-01\n", 2, "observed_date", "after today"},
			{"offer,amount,currency\n" + rock + ",1.00,EURO\n", 2, "currency", "EUR"},
			{"offer,amount,tax_included\n" + rock + ",1.00,perhaps\n", 2, "tax_included", "true or false"},
			{"offer,amount,tax_rate_percent\n" + rock + ",1.00,much\n", 2, "tax_rate_percent", "21"},
			{"offer,amount,source\n" + good[:len(good)-1] + ",lab\n" + rock + ",1.00,nobody\n", 2, "source", "lab"},
			{"offer,amount,evidence\n" + rock + ",1.00,rumour\n", 2, "evidence", "declared"},
			{"offer,amount,corrects_id\n" + rock + ",1.00,price_00000000000000000000000000\n", 2, "corrects_id", ""},
			{"offer,prise\n" + good, 1, "prise", "tax_included"},
			{"offer\n" + rock + "\n", 1, "amount", "add the column"},
			{"offer,amount,amount\n", 1, "amount", "keep one"},
			{"offer,amount\n" + good + rock + "\n", 3, nil, "as many cells"},
			{"offer,amount\n\"" + rock + ",1\n", 2, nil, "cannot be read"},
			{"", 1, nil, "header"},
			{"offer,amount\n\xff,1\n", 1, nil, "UTF-8"},
			{"offer,amount\n" + strings.Repeat(good, 5001), 5002, nil, "5000"},
		} {
			r := s.must(http.StatusUnprocessableEntity, post("/v1/price-lists", c.table))
			found := false
			for i := 0; r.value(t, "errors", i) != nil; i++ {
				words := fmt.Sprint(r.value(t, "errors", i, "detail"), r.value(t, "errors", i, "fix"))
				found = found || r.value(t, "errors", i, "row") == c.row && r.value(t, "errors", i, "column") == c.column && strings.Contains(words, c.says)
			}
			if !found {
				t.Errorf("%.60q: no fault in line %g, column %v, that says %q: %.400s", c.table, c.row, c.column, c.says, r.body)
			}
		}
		if s.revision() != revision {
			t.Error("a refused table has changed the catalog")
		}
		s.must(http.StatusUnsupportedMediaType, s.send(http.MethodPost, "/v1/price-lists", "offer,amount\n"))
	})
}
