package api_test

import (
	"encoding/csv"
	"net/http"
	"strconv"
	"strings"
	"testing"

	"sabinbook/store/storetest"
)

const readQuestion = "/v1/rankings?panel_count=10&currency=EUR&as_of_date=2026-11-02&show=best_per_fill&limit=12&air_gaps_mm=0,50&families=rock_wool,polyester,cotton&budget=400.00"

// What the parameters ask is what a body of the same members asks, byte for byte.
func TestReadRankingEqualsPosted(t *testing.T) {
	s := seeded(t, storetest.SQLite(t))
	read := s.get(readQuestion)
	posted := s.must(http.StatusOK, s.send(http.MethodPost, "/v1/rankings", `{"panel_count":10,"currency":"EUR","as_of_date":"2026-11-02","show":"best_per_fill","limit":12,"air_gaps_mm":[0,50],
		"families":["rock_wool","polyester","cotton"],"limits":{"budget":{"amount":"400.00","currency":"EUR"}}}`))
	if string(read.body) != string(posted.body) {
		t.Errorf("%.300s\n%.300s", read.body, posted.body)
	}
	if r := s.do(http.MethodGet, readQuestion, nil, "If-None-Match", read.header.Get("ETag")); r.status != http.StatusNotModified {
		t.Errorf("status %d for an answer that the client holds", r.status)
	}
}

// The table has the figures of the JSON answer, digit for digit, in both customs of writing them, and
// a text that a spreadsheet would take for a formula has an apostrophe before it.
func TestRankingAsATable(t *testing.T) {
	s := seeded(t, storetest.SQLite(t))
	fill := s.get("/v1/fills/rock-wool-80")
	s.must(http.StatusOK, s.do(http.MethodPatch, "/v1/fills/rock-wool-80", strings.NewReader(`{"name":"=1+1, \"rock\""}`), "Content-Type", "application/merge-patch+json", "If-Match", fill.header.Get("ETag")))
	r, _ := s.ask(`{"panel_count":10,"currency":"EUR","as_of_date":"2026-11-02","show":"best_per_fill","limit":12,"air_gaps_mm":[0,50],"families":["rock_wool","polyester","cotton"],"limits":{"budget":{"amount":"400.00","currency":"EUR"}}}`)
	for _, custom := range []struct {
		query     string
		delimiter rune
		comma     bool
	}{{"&format=csv", ',', false}, {"&format=csv&delimiter=semicolon&decimal=comma&bom=true", ';', true}} {
		got := s.get(readQuestion + custom.query)
		if media := got.header.Get("Content-Type"); media != "text/csv; charset=utf-8; header=present" {
			t.Errorf("media type %s", media)
		}
		body, marked := strings.CutPrefix(string(got.body), "\ufeff")
		if marked != custom.comma || strings.Count(body, "\r\n") != strings.Count(body, "\n") {
			t.Errorf("mark %v, line ends of %.100q", marked, body)
		}
		reader := csv.NewReader(strings.NewReader(body))
		reader.Comma = custom.delimiter
		lines, err := reader.ReadAll()
		if err != nil || len(lines) != 1+len(r.Options)+len(r.NotPriced) {
			t.Fatalf("%d lines, %v", len(lines), err)
		}
		number := func(row int, name string) float64 {
			text := cellOf(t, lines, row, name)
			if custom.comma {
				text = strings.Replace(text, ",", ".", 1)
			}
			x, err := strconv.ParseFloat(text, 64)
			if err != nil {
				t.Errorf("%s: %v", name, err)
			}
			return x
		}
		formulas := 0
		for i, o := range r.Options {
			total, _ := strconv.ParseFloat(o.Cost.Total.Amount, 64)
			if number(i+1, "place") != float64(*o.Place) || number(i+1, "area_m2") != o.Absorption.AreaM2 || number(i+1, "total") != total ||
				number(i+1, "alpha_500_hz") != o.Absorption.Octaves[2].RankedAlpha || number(i+1, "tie_group") != float64(o.Likely.TieGroup) || cellOf(t, lines, i+1, "key") != o.Key {
				t.Errorf("line %d: %q is not %s", i+1, lines[i+1], o.Key)
			}
			name := cellOf(t, lines, i+1, "fill_name")
			if strings.HasPrefix(o.Fill.Name, "=") {
				formulas++
				name = strings.TrimPrefix(name, "'")
			}
			if name != o.Fill.Name || strings.HasPrefix(cellOf(t, lines, i+1, "fill_name"), "=") {
				t.Errorf("%q for %q", cellOf(t, lines, i+1, "fill_name"), o.Fill.Name)
			}
		}
		if formulas != 1 {
			t.Errorf("%d names like a formula", formulas)
		}
	}
}

func cellOf(t *testing.T, lines [][]string, row int, name string) string {
	t.Helper()
	for i, head := range lines[0] {
		if head == name {
			return lines[row][i]
		}
	}
	t.Fatalf("no column %s in %q", name, lines[0])
	return ""
}
