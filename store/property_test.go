package store_test

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"github.com/google/go-cmp/cmp"

	"sabinbook/internal/catalog"
	"sabinbook/internal/units"
	"sabinbook/store"
	"sabinbook/store/storetest"
)

// anyText is any text that PostgreSQL can hold: UTF-8 without NUL.
var anyText = rapid.StringOf(rapid.Rune().Filter(func(r rune) bool { return r != 0 }))

// anyFigure is a figure or none, with values over the whole stored range, tiny and odd ones among them.
func anyFigure[U ~float64](t *rapid.T, name string) *catalog.Figure[U] {
	if !rapid.Bool().Draw(t, name+" known") {
		return nil
	}
	value := rapid.Float64Range(0, 1e12).Draw(t, name)
	f := &catalog.Figure[U]{Value: U(value), Evidence: catalog.Estimated, SourceID: rapid.SampledFrom([]catalog.ID{labBook, shopNote}).Draw(t, name+" source"), Basis: anyText.Draw(t, name+" basis")}
	if rapid.Bool().Draw(t, name+" range") {
		f.Low, f.High = U(rapid.Float64Range(0, value).Draw(t, name+" low")), U(rapid.Float64Range(value, 1e12).Draw(t, name+" high"))
	}
	return f
}

func anyFill(t *rapid.T) catalog.Fill {
	answer := rapid.SampledFrom([]catalog.Answer{catalog.Yes, catalog.No, catalog.Unknown})
	f := catalog.Fill{
		Family: rapid.SampledFrom([]catalog.Family{catalog.GlassWool, catalog.Hemp, "a word of tomorrow"}).Draw(t, "family"),
		Form:   rapid.SampledFrom([]catalog.Form{catalog.Batt, catalog.Loose}).Draw(t, "form"),

		Density:       anyFigure[units.Density](t, "density"),
		Resistivity:   anyFigure[units.AirflowResistivity](t, "resistivity"),
		FibreDiameter: anyFigure[units.Diameter](t, "diameter"),
		Handling: catalog.Handling{Profile: catalog.Fibrous, Irritant: answer.Draw(t, "irritant"), Dust: answer.Draw(t, "dust"), Binder: catalog.NoBinder,
			Borate: anyFigure[units.Fraction](t, "borate"), Moth: catalog.MothOther, BackTissue: answer.Draw(t, "tissue"),
			NoteQ: answer.Draw(t, "q"), NoteR: answer.Draw(t, "r"), Cutting: anyFigure[units.Minutes](t, "cutting")},
		SourceID: labBook,
		Note:     anyText.Draw(t, "note"),
	}
	length := rapid.Custom(func(t *rapid.T) units.Length {
		return units.Length(rapid.Float64Range(math.SmallestNonzeroFloat64, 1e5).Draw(t, "mm"))
	})
	f.SoldSizes = rapid.SliceOfNDistinct(rapid.Custom(func(t *rapid.T) catalog.SoldSize {
		return catalog.SoldSize{Length: length.Draw(t, "length"), Width: length.Draw(t, "width"), Thickness: length.Draw(t, "thickness")}
	}), 0, 4, rapid.ID[catalog.SoldSize]).Draw(t, "sizes")
	index := rapid.Ptr(rapid.IntRange(0, 1000), true)
	f.Fire = rapid.SliceOfN(rapid.Custom(func(t *rapid.T) catalog.FireDeclaration {
		return catalog.FireDeclaration{Subject: "fill", Scheme: catalog.ASTME84, Code: anyText.Draw(t, "code"), FlameSpread: index.Draw(t, "flame"), SmokeDeveloped: index.Draw(t, "smoke"),
			EndUse: anyText.Draw(t, "end use"), Durability: "unknown", Evidence: "hearsay", SourceID: shopNote}
	}), 0, 3).Draw(t, "fire")
	return f
}

// Whatever a fill holds comes back bit by bit from either engine, added, replaced and in the
// snapshot, which is the same on both.
func TestAnyFillComesBack(t *testing.T) {
	stores := map[string]*store.Store{"sqlite": storetest.SQLite(t), "postgres": storetest.Postgres(t)}
	for _, s := range stores {
		stopped(s)
		filled(t, s)
	}
	n := 0
	rapid.Check(t, func(t *rapid.T) {
		n++
		first, second := anyFill(t), anyFill(t)
		first.Meta = catalog.Meta{Slug: catalog.Slug(fmt.Sprint("any-", n)), Name: fmt.Sprint("Any ", n)}
		second.Meta = first.Meta
		for engine, s := range stores {
			stored, err := s.AddFill(ctx, "m", first)
			if err != nil {
				t.Fatalf("%s: %v", engine, err)
			}
			check := func(what string, want, got catalog.Fill) {
				want.Meta = got.Meta
				if d := cmp.Diff(want, got, same); d != "" {
					t.Fatalf("%s, %s:\n%s", engine, what, d)
				}
			}
			check("added", first, stored)
			if stored, err = s.ReplaceFill(ctx, "m", string(stored.ID), 1, second); err != nil {
				t.Fatalf("%s: %v", engine, err)
			}
			check("replaced", second, stored)
			all, err := s.Snapshot(ctx)
			if err != nil {
				t.Fatalf("%s: %v", engine, err)
			}
			for _, f := range all.Fills {
				if f.ID == stored.ID {
					check("in the snapshot", second, f)
				}
			}
		}
	})
}
