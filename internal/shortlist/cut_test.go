package shortlist_test

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"sabinbook/internal/catalog"
	"sabinbook/internal/catalogtest"
	"sabinbook/internal/costing"
	"sabinbook/internal/ranking"
	"sabinbook/internal/shortlist"
	"sabinbook/internal/units"
	"sabinbook/seed"
)

const day = catalog.Date("2026-11-02")

func demo(t testing.TB) catalog.Snapshot {
	t.Helper()
	s, err := seed.Load()
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// chosen draws a question and a few options of its answer, priced, not priced and left out.
func chosen(t interface{ Fatal(...any) }, s catalog.Snapshot, r *rand.Rand) (*ranking.Prepared, ranking.Brief) {
	b := ranking.StandardBrief(1+r.IntN(20), day, "EUR")
	b.Draws.Count, b.Limit = 0, ranking.MaxLimit
	b.Order = []ranking.Order{ranking.ByAbsorptionPerCost, ranking.ByCost, ranking.ByAbsorption, ranking.ByBurden}[r.IntN(4)]
	b.AirGaps = []units.Length{0, 50, 100}[:1+r.IntN(3)]
	b.Terms.MaxAgeDays = []int{365, 0}[r.IntN(2)]
	if r.IntN(2) == 0 {
		b.Terms.Convert, b.Terms.MaxRateAgeDays = costing.StoredRates, []int{0, 400}[r.IntN(2)]
	}
	if r.IntN(3) == 0 {
		b.Terms.Owned = []catalog.Role{catalog.Goggles}
	}
	if r.IntN(3) == 0 {
		b.Terms.Stock = []costing.OnHand{{Kind: catalog.PartItem, Item: string(s.Parts[0].Slug), Long: lengthOf(s.Parts[0]), Count: 2}}
	}
	p := ranking.Prepare(s, 2)
	all, err := p.Rank(b)
	if err != nil {
		t.Fatal(err)
	}
	for _, o := range slices.Concat(all.Options, all.NotPriced) {
		if r.IntN(30) == 0 && len(b.Options) < 12 {
			b.Options = append(b.Options, o.Key())
		}
	}
	for _, l := range all.LeftOut {
		if l.Thickness > 0 && l.Fabric.Slug != "" && r.IntN(30) == 0 && len(b.Options) < 20 {
			b.Options = append(b.Options, fmt.Sprintf("%s.%gx%d.gap-%g.%s", l.Fill.Slug, float64(l.Thickness), l.Layers, float64(l.AskedGap), l.Fabric.Slug))
		}
	}
	if len(b.Options) == 0 {
		b.Options = []string{all.Options[0].Key()}
	}
	b.Draws.Count = []int{0, 40}[r.IntN(2)]
	b.Why = b.Options[:1]
	return p, b
}

func lengthOf(p catalog.Part) units.Length {
	if p.Kind == catalog.Timber {
		return p.StockLengths[0]
	}
	return 0
}

// Ranking what was cut out gives the same answer, to the last bit, from the demo catalog and from
// such with random records of every kind beside it.
func TestCutGivesTheSameAnswer(t *testing.T) {
	base := demo(t)
	for n := range uint64(24) {
		r := rand.New(rand.NewPCG(n, 5))
		s := base
		for i := range n % 4 {
			s = catalogtest.Merged(s, catalogtest.Random(10*n+i))
		}
		p, b := chosen(t, s, r)
		want, err := p.Rank(b)
		if err != nil {
			t.Fatal(err)
		}
		cut, err := shortlist.Cut(s, want)
		if err != nil {
			t.Fatal(err)
		}
		got, err := ranking.Prepare(cut, 1).Rank(b)
		if err != nil {
			t.Fatal(err)
		}
		if at := differs("", reflect.ValueOf(want), reflect.ValueOf(got)); at != "" {
			t.Fatalf("catalog %d: %s", n, at)
		}
		checkWhole(t, cut)
	}
}

// checkWhole wants everything that is referred to in what was cut out, in the order of the whole.
func checkWhole(t interface{ Errorf(string, ...any) }, cut catalog.Snapshot) {
	there := map[catalog.ID]bool{}
	for _, r := range cut.Sources {
		there[r.ID] = true
	}
	eachSource(reflect.ValueOf(cut), func(id catalog.ID) {
		if !there[id] {
			t.Errorf("source %s is not there", id)
		}
	})
	sorted := cut
	sorted.Fills, sorted.Offers, sorted.Prices = slices.Clone(cut.Fills), slices.Clone(cut.Offers), slices.Clone(cut.Prices)
	sorted.Sources, sorted.Suppliers, sorted.Parts = slices.Clone(cut.Sources), slices.Clone(cut.Suppliers), slices.Clone(cut.Parts)
	sorted.Sort()
	if !reflect.DeepEqual(sorted, cut) {
		t.Errorf("not in the order of a snapshot")
	}
}

// eachSource calls see for every id of a source below a value.
func eachSource(v reflect.Value, see func(catalog.ID)) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			eachSource(v.Elem(), see)
		}
	case reflect.Slice:
		for i := range v.Len() {
			eachSource(v.Index(i), see)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			f := v.Type().Field(i)
			if !f.IsExported() {
				continue
			}
			if id, ok := v.Field(i).Interface().(catalog.ID); ok && (f.Name == "SourceID" || f.Name == "AlphaSourceID") && id != "" {
				see(id)
			} else {
				eachSource(v.Field(i), see)
			}
		}
	}
}

// What is cut out of the demo catalog for three options is a small part of it.
func TestCutIsSmall(t *testing.T) {
	s := demo(t)
	b := ranking.StandardBrief(10, day, "EUR")
	all, err := ranking.Prepare(s, 2).Rank(b)
	if err != nil {
		t.Fatal(err)
	}
	for _, o := range all.Options[:3] {
		b.Options = append(b.Options, o.Key())
	}
	res, err := ranking.Prepare(s, 2).Rank(b)
	if err != nil {
		t.Fatal(err)
	}
	cut, err := shortlist.Cut(s, res)
	if err != nil {
		t.Fatal(err)
	}
	if len(cut.Fills) > 3 || len(cut.Fabrics) > 3 || 2*len(cut.Offers) > len(s.Offers) || len(cut.Prices) > len(cut.Offers) || len(cut.ReadyMade)+len(cut.Rooms)+len(cut.Designs) > 0 {
		t.Errorf("%d fills, %d fabrics, %d of %d offers, %d prices", len(cut.Fills), len(cut.Fabrics), len(cut.Offers), len(s.Offers), len(cut.Prices))
	}
}

// differs says where two values differ first; nothing when they are equal.
func differs(at string, a, b reflect.Value) string {
	switch a.Kind() {
	case reflect.Pointer:
		if !a.IsNil() && !b.IsNil() {
			return differs(at, a.Elem(), b.Elem())
		}
		if a.IsNil() != b.IsNil() {
			return at + " is there once"
		}
		return ""
	case reflect.Slice, reflect.Array:
		if a.Len() != b.Len() {
			return fmt.Sprintf("%s has %d and %d elements", at, a.Len(), b.Len())
		}
		for i := range a.Len() {
			if d := differs(fmt.Sprintf("%s[%d]", at, i), a.Index(i), b.Index(i)); d != "" {
				return d
			}
		}
		return ""
	case reflect.Struct:
		for i := range a.NumField() {
			if d := differs(at+"."+a.Type().Field(i).Name, a.Field(i), b.Field(i)); d != "" {
				return d
			}
		}
		return ""
	}
	if !a.Equal(b) {
		return fmt.Sprintf("%s: %v and %v", at, a, b)
	}
	return ""
}
