package store_test

import (
	"errors"
	"fmt"
	"testing"
	"time"

	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
	"sabinbook/internal/money"
	"sabinbook/internal/units"
	"sabinbook/store"
	"sabinbook/store/storetest"
)

// fullOutcome has a value of its own in every member.
func fullOutcome() catalog.Outcome {
	at := func(x units.Mass) *units.Mass { return &x }
	long := func(x units.Length) *units.Length { return &x }
	count := func(n int) *int { return &n }
	paid, again := money.FromMinor(5230, "EUR"), money.FromMicro(12_345_678, "EUR")
	o := catalog.Outcome{Key: "hemp+loose-knit", Panels: 4, Built: "2026-11-21", Persons: count(2), Sessions: count(3), PanelMass: at(4.4), LeftoverMass: at(0), FabricBought: long(6000.5), FabricUsed: long(5500),
		Lines:   []catalog.PaidLine{{What: "Batts Ω", Need: "fill", Paid: &paid, Note: "two\npacks"}, {What: "Curtain", ForNothing: true, Replacement: &again}, {What: "Screws", ForNothing: true}},
		Minutes: []catalog.StepTime{{Step: catalog.Building, Minutes: 300.25}, {Step: catalog.CuttingFill, Minutes: 0}},
		Before:  bands.OctaveCurve([6]float64{1.5, 1.4, 1.3, 1.2, 1.1, 0.9}), After: bands.NewCurve(bands.Octave), Note: "longer screws"}
	o.After.Set(bands.OctaveBand(2), 0.8)
	return o
}

func TestOutcomesComeBack(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		now := stopped(s)
		before, err := s.Revision(ctx)
		must(t, err)
		kept := keep(t, s, "ada", "brass", catalog.Group)
		if _, _, _, err := s.Outcome(ctx, "ben", "brass"); !errors.Is(err, catalog.ErrNotFound) {
			t.Errorf("an outcome of nothing: %v", err)
		}
		if err := s.DeleteOutcome(ctx, "ada", "brass", 0); !errors.Is(err, catalog.ErrNotFound) {
			t.Errorf("an outcome of nothing: %v", err)
		}
		sparse := catalog.Outcome{Key: "rock-wool-45+loose-knit", Panels: 1, Built: "2026-11-20", Before: bands.NewCurve(bands.Octave), After: bands.NewCurve(bands.Octave)}
		for i, want := range []catalog.Outcome{fullOutcome(), sparse, fullOutcome()} {
			by := []string{"ada", "cid", "ada"}[i]
			must(t, want.Validate("2026-11-25"))
			l, got, err := s.PutOutcome(ctx, by, "brass", int64(i+1), want)
			must(t, err)
			want.Recorded, want.RecordedBy = now, by
			equal(t, "the stored outcome", want, got)
			if l.Revision != int64(i+2) || l.Status != catalog.Built || l.UpdatedBy != by || l.Frozen != kept.Frozen {
				t.Errorf("the shortlist after it: %+v", l)
			}
			read, text, got, err := s.Outcome(ctx, "ben", string(kept.ID))
			must(t, err)
			equal(t, "the outcome", want, got)
			equal(t, "its shortlist", l, read)
			equal(t, "its frozen part", frozen, text)
		}
		stale := new(catalog.StaleError)
		if _, _, err := s.PutOutcome(ctx, "ada", "brass", 3, sparse); !errors.As(err, &stale) || stale.Current.Revision != 4 {
			t.Errorf("an older revision: %v", err)
		}
		if err := s.DeleteOutcome(ctx, "ada", "brass", 3); !errors.As(err, &stale) {
			t.Errorf("an older revision: %v", err)
		}
		other := sparse
		other.Key = "moss"
		_, _, err = s.PutOutcome(ctx, "ada", "brass", 4, other)
		equal(t, "an unknown option", []string{"/key unknown_option"}, faultsAt(err))
		if _, _, got, err := s.Outcome(ctx, "ada", "brass"); err != nil || len(got.Lines) != 3 {
			t.Errorf("after what was refused: %+v, %v", got, err)
		}
		must(t, s.DeleteOutcome(ctx, "ada", "brass", 4))
		if _, _, _, err := s.Outcome(ctx, "ada", "brass"); !errors.Is(err, catalog.ErrNotFound) {
			t.Errorf("a deleted outcome: %v", err)
		}
		if l, err := s.Shortlist(ctx, "ada", "brass"); err != nil || l.Revision != 5 || l.Status != catalog.Built {
			t.Errorf("its shortlist: %+v, %v", l, err)
		}
		if after, err := s.Revision(ctx); err != nil || after != before {
			t.Errorf("outcomes took the catalog from revision %d to %d, %v", before, after, err)
		}
	})
}

// Outcomes of private and of deleted shortlists are in no experience, and private ones are not there.
func TestOutcomesOfTheGroup(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		s.Now = func() time.Time { return noon }
		for i, l := range []struct {
			slug string
			v    catalog.Visibility
		}{{"first", catalog.Group}, {"secret", catalog.Private}, {"second", catalog.Group}, {"gone", catalog.Group}} {
			keep(t, s, "ada", l.slug, l.v)
			o := fullOutcome()
			o.Built, o.Note = catalog.Date(fmt.Sprintf("2026-11-%02d", 10+i)), l.slug
			_, _, err := s.PutOutcome(ctx, "ada", l.slug, 1, o)
			must(t, err)
		}
		must(t, s.DeleteShortlist(ctx, "ada", "gone", 2))
		var notes []string
		must(t, s.GroupOutcomes(ctx, func(o catalog.Outcome, text string) error {
			equal(t, "the frozen part", frozen, text)
			if len(o.Lines) != 3 || len(o.Minutes) != 2 || o.Before.Len() != 6 {
				t.Errorf("%+v", o)
			}
			notes = append(notes, o.Note)
			return nil
		}))
		equal(t, "outcomes of the group", []string{"second", "first"}, notes)
		for _, err := range []error{
			func() error { _, _, _, err := s.Outcome(ctx, "ben", "secret"); return err }(),
			func() error { _, _, err := s.PutOutcome(ctx, "ben", "secret", 0, fullOutcome()); return err }(),
			func() error {
				_, _, err := s.PutOutcome(ctx, "ben", "secret", 9, catalog.Outcome{Key: "?"})
				return err
			}(),
			s.DeleteOutcome(ctx, "ben", "secret", 0),
		} {
			if !errors.Is(err, catalog.ErrNotFound) {
				t.Errorf("a private outcome: %v", err)
			}
		}
		if l, err := s.Shortlist(ctx, "ada", "secret"); err != nil || l.Revision != 2 {
			t.Errorf("%+v, %v", l, err)
		}
	})
}
