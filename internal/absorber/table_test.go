package absorber

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"
)

// row is one line of a table in testdata; the column source says where its figures are from.
type row map[string]string

func table(t testing.TB, name string) []row {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	records, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var all []row
	for _, rec := range records[1:] {
		r := row{}
		for i, column := range records[0] {
			r[column] = rec[i]
		}
		all = append(all, r)
	}
	return all
}

// num reads a figure; an empty cell is 0.
func (r row) num(t testing.TB, column string) float64 {
	t.Helper()
	text, ok := r[column]
	if !ok {
		t.Fatalf("no column %q", column)
	}
	if text == "" {
		return 0
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// near fails unless got is within a relative tolerance of want.
func near(t testing.TB, what string, got, want, relative float64) {
	t.Helper()
	if !(math.Abs(got-want) <= relative*math.Abs(want)) {
		t.Errorf("%s = %.8g, want %.8g within %g of it", what, got, want, relative)
	}
}

// about fails unless got is within an absolute tolerance of want.
func about(t testing.TB, what string, got, want, absolute float64) {
	t.Helper()
	if !(math.Abs(got-want) <= absolute) {
		t.Errorf("%s = %.8g, want %.8g within %g", what, got, want, absolute)
	}
}
