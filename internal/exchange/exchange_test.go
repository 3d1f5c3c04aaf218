package exchange_test

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
	"sabinbook/internal/catalogtest"
	"sabinbook/internal/exchange"
	"sabinbook/internal/money"
	"sabinbook/seed"
)

// same compares snapshots; an empty list is no list.
var same = cmp.Options{cmpopts.EquateEmpty(), cmp.AllowUnexported(bands.Curve{}, money.Amount{})}

func read(t interface{ Fatal(...any) }, archive []byte) catalog.Snapshot {
	files, err := exchange.Open(archive)
	if err != nil {
		t.Fatal(err)
	}
	s, err := exchange.Read(files, catalogtest.Today)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// What was written reads as what it was, and is written as the same bytes again.
func TestRoundTrip(t *testing.T) {
	check := func(t interface{ Fatal(...any) }, s catalog.Snapshot) {
		archive := exchange.Archive(exchange.Write(s))
		back := read(t, archive)
		if d := cmp.Diff(s, back, same); d != "" {
			t.Fatal(d)
		}
		if !bytes.Equal(archive, exchange.Archive(exchange.Write(back))) {
			t.Fatal("written again it differs")
		}
	}
	rapid.Check(t, func(t *rapid.T) { check(t, catalogtest.Random(rapid.Uint64().Draw(t, "seed"))) })
	demo, err := seed.Load()
	if err != nil {
		t.Fatal(err)
	}
	check(t, demo)
	check(t, catalog.Snapshot{})
}

// The order of the lists of a snapshot changes no byte.
func TestOrderChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := catalogtest.Random(rapid.Uint64().Draw(t, "seed"))
		want := exchange.Archive(exchange.Write(s))
		s.Sources, s.Offers, s.Prices = rapid.Permutation(s.Sources).Draw(t, "sources"), rapid.Permutation(s.Offers).Draw(t, "offers"), rapid.Permutation(s.Prices).Draw(t, "prices")
		if !bytes.Equal(want, exchange.Archive(exchange.Write(s))) {
			t.Fatal("the bytes differ")
		}
	})
}

// Spreadsheets write LF, a byte order mark, other orders of columns, and CR LF inside of texts.
func TestOtherWritersAreRead(t *testing.T) {
	s := catalogtest.Random(12)
	files := exchange.Write(s)
	for i, f := range files {
		if strings.HasSuffix(f.Name, ".csv") {
			files[i].Data = []byte("\ufeff" + strings.ReplaceAll(string(f.Data), "\r\n", "\n") + "\n\n")
		}
	}
	back, err := exchange.Read(files, catalogtest.Today)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(s, back, same); d != "" {
		t.Error(d)
	}
}

func TestGuard(t *testing.T) {
	for _, s := range []string{"", "a", "=1", "+", "-1", "@x", "\tx", "\r", "\x00", "'", "''a", "a'="} {
		g := exchange.Guarded(s)
		if g != "" && strings.ContainsRune("=+-@\t\r\x00", rune(g[0])) || exchange.Unguarded(g) != s {
			t.Errorf("%q becomes %q and %q", s, g, exchange.Unguarded(g))
		}
	}
}

// The descriptor names every file, every column in its order, and keys that exist.
func TestDescriptor(t *testing.T) {
	files := exchange.Write(catalogtest.Random(3))
	headers := map[string][]string{}
	var d struct {
		Resources []struct {
			Name, Path, Type string
			Bytes            int
			Schema           struct {
				Fields []struct {
					Name, Type, Description string
				}
				PrimaryKey  []string
				ForeignKeys []struct {
					Fields    []string
					Reference struct {
						Resource string
						Fields   []string
					}
				}
			}
		}
	}
	size := map[string]int{}
	for _, f := range files {
		if f.Name == "datapackage.json" {
			if err := json.Unmarshal(f.Data, &d); err != nil {
				t.Fatal(err)
			}
			continue
		}
		first, _, _ := strings.Cut(string(f.Data), "\r\n")
		headers[f.Name], size[f.Name] = strings.Split(first, ","), len(f.Data)
	}
	if len(d.Resources) != len(headers) {
		t.Errorf("%d resources, %d files", len(d.Resources), len(headers))
	}
	names := map[string]bool{}
	for _, r := range d.Resources {
		names[r.Name] = true
	}
	for _, r := range d.Resources {
		var list []string
		for _, f := range r.Schema.Fields {
			list = append(list, f.Name)
			if f.Description == "" || f.Type == "" {
				t.Errorf("%s %s has no description or type", r.Name, f.Name)
			}
			for suffix, unit := range map[string]string{"_mm": "millimetre", "_kg": " kg", "_per_m3": "per cubic metre", "_hz": "Hz", "_um": "micrometres", "_l": "litres"} {
				if strings.HasSuffix(f.Name, suffix) && !strings.Contains(f.Name, "_low_") && !strings.Contains(f.Name, "_high_") && !strings.Contains(f.Description, unit) {
					t.Errorf("%s %s does not name its unit: %s", r.Name, f.Name, f.Description)
				}
			}
		}
		if d := cmp.Diff(headers[r.Path], list); d != "" || r.Bytes != size[r.Path] || r.Type != "table" {
			t.Errorf("%s: %s", r.Path, d)
		}
		joined := "," + strings.Join(list, ",") + ","
		for _, k := range r.Schema.PrimaryKey {
			if !strings.Contains(joined, ","+k+",") {
				t.Errorf("%s has no key column %s", r.Name, k)
			}
		}
		for _, k := range r.Schema.ForeignKeys {
			if k.Reference.Resource != "" && !names[k.Reference.Resource] {
				t.Errorf("%s refers to %s", r.Name, k.Reference.Resource)
			}
		}
	}
}

// edited is the package of a catalog with one text of one file replaced.
func edited(t *testing.T, file, old, new string) []exchange.File {
	t.Helper()
	demo, err := seed.Load()
	if err != nil {
		t.Fatal(err)
	}
	files := exchange.Write(demo)
	for i, f := range files {
		if f.Name == file {
			if !strings.Contains(string(f.Data), old) {
				t.Fatalf("%s does not hold %q", file, old)
			}
			files[i].Data = []byte(strings.Replace(string(f.Data), old, new, 1))
		}
	}
	return files
}

// Each fault is named with its file, line, column and code.
func TestFaults(t *testing.T) {
	for _, c := range []struct{ file, old, new, want string }{
		{"sources.csv", "citation", "zitation", "sources.csv 1 citation missing_column"},
		{"fills.csv", "glass_wool,", "glas,", "fills.csv 8 family unknown_word"},
		{"fill_sold_sizes.csv", ",1,1250,", ",1,12x50,", "length_mm bad_number"},
		{"fill_sold_sizes.csv", ",1,1250,", ",1,2,", "length_mm out_of_range"},
		{"fill_sold_sizes.csv", ",1,1250,", ",7,1250,", "position bad_position"},
		{"absorption_test_bands.csv", ",500,", ",501,", "band_hz unknown_band"},
		{"absorption_test_bands.csv", ",125,0.", ",125,9.", "alpha out_of_range"},
		{"prices.csv", ",EUR,", ",eur,", "price_currency unknown_currency"},
		{"prices.csv", "2026-", "2926-", "observed_date in_the_future"},
		{"prices.csv", "offer_0", "offer_v", "offer_id unknown_reference"},
		{"datapackage.json", `"name":"sabinbook-catalog"`, `"name":"other"`, "datapackage.json 0  other_form"},
		{"sources.csv", "\r\n", "\r\n\"a\"b", "sources.csv 2  bad_quotes"},
		{"sources.csv", "true", "maybe", "bad_boolean"},
	} {
		if c.file == "prices.csv" && c.old == "offer_0" {
			demo, _ := seed.Load()
			c.old = string(demo.Offers[0].ID)
			c.new = "offer_" + strings.Repeat("0", 26)
		}
		_, err := exchange.Read(edited(t, c.file, c.old, c.new), catalogtest.Today)
		var bad *exchange.FaultyError
		if !errors.As(err, &bad) {
			t.Errorf("%s with %q: %v", c.file, c.new, err)
			continue
		}
		var got []string
		for _, f := range bad.Faults {
			got = append(got, fmt.Sprintf("%s %d %s %s", f.File, f.Row, f.Column, f.Code))
			if f.Detail == "" || f.Fix == "" {
				t.Errorf("%s has no mend", f)
			}
		}
		if !strings.Contains(strings.Join(got, "; "), c.want) || len(got) > 20 {
			t.Errorf("%s with %q: got %d: %v, want %s", c.file, c.new, len(got), got, c.want)
		}
	}
}

// packed is a zip of one entry.
func packed(t *testing.T, method uint16, names ...string) []byte {
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	for _, n := range names {
		e, err := w.CreateHeader(&zip.FileHeader{Name: n, Method: method})
		if err != nil {
			t.Fatal(err)
		}
		_, _ = e.Write([]byte("x"))
	}
	_ = w.Close()
	return out.Bytes()
}

func TestBadArchives(t *testing.T) {
	whole := exchange.Archive(exchange.Write(catalogtest.Random(5)))
	bomb := func() []byte {
		var out bytes.Buffer
		w := zip.NewWriter(&out)
		e, _ := w.Create("sources.csv")
		block := make([]byte, 1<<20)
		for range exchange.MaxUnpacked>>20 + 1 {
			_, _ = e.Write(block)
		}
		_ = w.Close()
		return out.Bytes()
	}()
	many := make([]string, exchange.MaxEntries+1)
	for i := range many {
		many[i] = fmt.Sprint(i)
	}
	damaged := bytes.Clone(whole)
	damaged[200] ^= 1
	for name, c := range map[string]struct {
		archive []byte
		code    string
	}{
		"empty": {nil, "bad_archive"}, "truncated": {whole[:len(whole)-30], "bad_archive"}, "damaged": {damaged, "bad_archive"},
		"outside": {packed(t, zip.Store, "../sources.csv"), "path"}, "absolute": {packed(t, zip.Store, "/sources.csv"), "path"},
		"folder": {packed(t, zip.Store, "catalog/sources.csv"), "path"}, "backslash": {packed(t, zip.Store, `..\sources.csv`), "path"},
		"bomb": {bomb, "too_large"}, "many": {packed(t, zip.Store, many...), "too_many_entries"},
	} {
		_, err := exchange.Open(c.archive)
		var bad *exchange.FaultyError
		if !errors.As(err, &bad) || bad.Faults[0].Code != c.code {
			t.Errorf("%s: %v, want %s", name, err, c.code)
		}
	}
	// A package without its tables names each, and so does one with a table twice.
	_, err := exchange.Read(nil, catalogtest.Today)
	var bad *exchange.FaultyError
	if !errors.As(err, &bad) || len(bad.Faults) != len(exchange.Write(catalog.Snapshot{})) {
		t.Error(err)
	}
}

// Nothing that is read makes the reader fail in another way than by naming faults.
func FuzzRead(f *testing.F) {
	f.Add("a,b\r\n\"x\"\"\",\n", "{}")
	f.Fuzz(func(t *testing.T, table, descriptor string) {
		files := exchange.Write(catalogtest.Random(4))
		for i := range files {
			if files[i].Name == "fills.csv" || files[i].Name == "prices.csv" {
				files[i].Data = []byte(table)
			}
			if files[i].Name == "datapackage.json" {
				files[i].Data = []byte(descriptor)
			}
		}
		_, err := exchange.Read(files, catalogtest.Today)
		if bad := new(exchange.FaultyError); err != nil && !errors.As(err, &bad) {
			t.Error(err)
		}
	})
}

// A package of version 1.0.0 has no exchange rates, one of 1.1.0 does not say which tests are used, and one
// of this version must have both.
func TestOlderPackagesAreRead(t *testing.T) {
	s := catalogtest.Random(12)
	s.Rates = nil
	for i := range s.Tests {
		s.Tests[i].Use, s.Tests[i].UseNote = catalog.NormalUse, ""
	}
	older := exchange.Write(s)
	older = slices.DeleteFunc(older, func(f exchange.File) bool { return f.Name == "exchange_rates.csv" })
	for i, f := range older {
		if f.Name == "absorption_tests.csv" {
			older[i].Data = withoutColumns(t, f.Data, "use", "use_note")
		}
	}
	for version, missing := range map[string][]string{"1.2.0": {"exchange_rates.csv", "use: ", "use_note: "}, "1.1.0": {"exchange_rates.csv"}, "1.0.0": nil} {
		files := slices.Clone(older)
		for i, f := range files {
			if f.Name == "datapackage.json" {
				files[i].Data = []byte(strings.Replace(string(f.Data), `"version":"1.2.0"`, `"version":"`+version+`"`, 1))
			}
		}
		back, err := exchange.Read(files, catalogtest.Today)
		if bad := new(exchange.FaultyError); errors.As(err, &bad) {
			var got []string
			for _, f := range bad.Faults {
				if f.Column == "" {
					got = append(got, f.File)
				} else {
					got = append(got, f.Column+": ")
				}
			}
			slices.Sort(got)
			if !slices.Equal(got, missing) {
				t.Errorf("%s: faults %v, want %v", version, got, missing)
			}
			continue
		}
		if err != nil || missing != nil {
			t.Fatalf("%s: %v", version, err)
		}
		if d := cmp.Diff(s, back, same); d != "" {
			t.Error(d)
		}
	}
}

// withoutColumns takes columns out of a table, by the csv package of Go.
func withoutColumns(t *testing.T, table []byte, names ...string) []byte {
	t.Helper()
	rows, err := csv.NewReader(bytes.NewReader(table)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	w := csv.NewWriter(&out)
	header := rows[0]
	for _, row := range rows {
		var kept []string
		for i, cell := range row {
			if !slices.Contains(names, header[i]) {
				kept = append(kept, cell)
			}
		}
		if err := w.Write(kept); err != nil {
			t.Fatal(err)
		}
	}
	w.Flush()
	return out.Bytes()
}
