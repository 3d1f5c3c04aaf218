package ranking

import (
	"errors"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"sabinbook/internal/catalog"
	"sabinbook/internal/units"
)

// Options that are ranked alone have the figures and the order that they have among all, in every
// order and for every purpose; what depends on who else is there does not count.
func TestOptionsRankedAloneEqualThemselvesAmongAll(t *testing.T) {
	purposes := []Purpose{FlatPurpose(), SpeechPurpose(), LowPurpose()}
	rapid.Check(t, func(rt *rapid.T) {
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(rt, "catalog"), 3))
		s := market(r, 1+r.IntN(6), r.IntN(4), 1+r.IntN(4), 50, 100)
		b := StandardBrief(1+r.IntN(20), day, "EUR")
		b.Order = Order(rapid.SampledFrom(orders).Draw(rt, "order"))
		b.Purpose = rapid.SampledFrom(purposes).Draw(rt, "purpose")
		b.Limit, b.Draws.Count = MaxLimit, 0
		if b.Order == ByCostToTarget || r.IntN(4) == 0 {
			b.Room, b.PanelCount, b.CountFrom = lantern(), 0, FromRoom
			b.Room.Time = 0.4 + r.Float64()
		}
		all, err := Prepare(s.Snapshot, 2).Rank(b)
		if err != nil {
			rt.Fatal(err)
		}
		var kept []Option
		for _, o := range slices.Concat(all.Options, all.NotPriced) {
			if r.IntN(4) == 0 && len(kept) < MaxOptions {
				kept = append(kept, o)
			}
		}
		if len(kept) == 0 {
			rt.Skip("nothing to keep")
		}
		b.Options = keys(kept)
		r.Shuffle(len(b.Options), func(i, j int) { b.Options[i], b.Options[j] = b.Options[j], b.Options[i] })
		alone, err := Prepare(s.Snapshot, 2).Rank(b)
		if err != nil {
			rt.Fatal(err)
		}
		got := slices.Concat(alone.Options, alone.NotPriced)
		if alone.Considered != len(kept) || alone.Priced+alone.Unpriced != len(kept) || len(got) != len(kept) || len(alone.LeftOut) > 0 {
			rt.Fatalf("considered %d, priced %d, not priced %d, left out %d of %d", alone.Considered, alone.Priced, alone.Unpriced, len(alone.LeftOut), len(kept))
		}
		for i := range got {
			want := kept[i]
			if got[i].Place > 0 && got[i].Place != i+1 {
				rt.Fatalf("place %d at %d", got[i].Place, i)
			}
			want.Place, want.BeatenBy = got[i].Place, got[i].BeatenBy
			if !reflect.DeepEqual(want, got[i]) {
				rt.Fatalf("%s: %+v\nwant %+v", b.Order, got[i], want)
			}
		}
	})
}

// What a key names and cannot be an option is left out, alone; nothing else is looked at.
func TestKeysOfWhatIsLeftOut(t *testing.T) {
	s := smallStock()
	s.fill("mystery", 0, "fibrous", 4000, 50)
	s.Fills[len(s.Fills)-1].Density = nil
	res := rank(t, s, func(b *Brief) {
		b.Options = []string{"slab.50x1.gap-0.knit", "mystery.50x1.gap-0.knit", "mystery.50x1.gap-50.weave"}
		b.Why = []string{"mystery.50x1.gap-0.knit", "mystery.50x1.gap-0.weave", "slab.50x1.gap-0.weave"}
	})
	count := 0
	for _, l := range res.LeftOut {
		count += l.Count
		if l.Fill.Slug != "mystery" {
			t.Errorf("%+v", l)
		}
	}
	if res.Considered != 3 || count != 2 || len(res.Options) != 1 {
		t.Errorf("considered %d, left out %d, options %v", res.Considered, count, keys(res.Options))
	}
	for i, want := range []Found{Excluded, Nowhere, Nowhere} {
		if got := res.Why[i].Found; got != want {
			t.Errorf("%s: %s, want %s", res.Why[i].Key, got, want)
		}
	}
}

func TestUnknownKeysOfOptions(t *testing.T) {
	s := smallStock()
	b := StandardBrief(4, day, "EUR")
	b.AirGaps = []units.Length{0}
	b.Options = []string{"slab.50x1.gap-0.knit", "slab.50x1.gap-50.knit", "slab.70x1.gap-0.knit", "nothing.50x1.gap-0.knit", "slab.50x1.gap-0.nothing", "slab.50.0x1.gap-0.knit"}
	_, err := Prepare(s.Snapshot, 1).Rank(b)
	var invalid *catalog.InvalidError
	if !errors.As(err, &invalid) {
		t.Fatal(err)
	}
	var at []string
	for _, f := range invalid.Faults {
		at = append(at, f.Pointer+" "+f.Code)
	}
	want := []string{"/options/1 unknown_reference", "/options/2 unknown_reference", "/options/3 unknown_reference", "/options/4 unknown_reference", "/options/5 unknown_reference"}
	if diff := cmp.Diff(want, at); diff != "" {
		t.Error(diff)
	}
}
