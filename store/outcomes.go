package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"

	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
	"sabinbook/internal/units"
)

// An outcome hangs on its shortlist, at most one on each, and is there for those who see that. Storing
// one, or taking it away, raises the revision of the shortlist, so that its tag guards both.

const outcomeColumns = `option_key, panels_count, built_date, persons_count, sessions_count, panel_mass_kg, leftover_mass_kg, fabric_bought_mm, fabric_used_mm, note, record_time, recorded_by`

func outcomeRow(o *catalog.Outcome) []any {
	return []any{&o.Key, &o.Panels, &o.Built, optional[int]{whole(&o.Persons)}, optional[int]{whole(&o.Sessions)}, optional[units.Mass]{whole(&o.PanelMass)}, optional[units.Mass]{whole(&o.LeftoverMass)},
		optional[units.Length]{whole(&o.FabricBought)}, optional[units.Length]{whole(&o.FabricUsed)}, &o.Note, (*Time)(&o.Recorded), &o.RecordedBy}
}

const paidColumns = `what, need, paid_micro, paid_currency, had_for_nothing, replacement_micro, replacement_currency, note`

func paidRow(l *catalog.PaidLine) []any {
	paid, paidIn := amount(whole(&l.Paid))
	again, againIn := amount(whole(&l.Replacement))
	return []any{&l.What, &l.Need, paid, paidIn, &l.ForNothing, again, againIn, &l.Note}
}

// outcomeParts are the tables of the parts of an outcome.
var outcomeParts = []string{"shortlist_outcome_decay", "shortlist_outcome_time", "shortlist_outcome_line"}

// measured names the two curves of decay times.
func measured(o *catalog.Outcome) map[string]*bands.Curve {
	return map[string]*bands.Curve{"before": &o.Before, "after": &o.After}
}

// readOutcome reads the outcome of a shortlist.
func readOutcome(ctx context.Context, tx *sql.Tx, id catalog.ID) (catalog.Outcome, error) {
	o := catalog.Outcome{Before: bands.NewCurve(bands.Octave), After: bands.NewCurve(bands.Octave)}
	args := []any{string(id)}
	err := tx.QueryRowContext(ctx, `SELECT `+outcomeColumns+` FROM shortlist_outcome WHERE shortlist_id = $1`, args...).Scan(outcomeRow(&o)...)
	if errors.Is(err, sql.ErrNoRows) {
		return o, catalog.ErrNotFound
	}
	if err != nil {
		return o, err
	}
	if err := eachRow(ctx, tx, `SELECT `+paidColumns+` FROM shortlist_outcome_line WHERE shortlist_id = $1 ORDER BY position`, args, func(scan func(...any) error) error {
		var l catalog.PaidLine
		if err := scan(paidRow(&l)...); err != nil {
			return err
		}
		o.Lines = append(o.Lines, l)
		return nil
	}); err != nil {
		return o, err
	}
	if err := eachRow(ctx, tx, `SELECT step, time_min FROM shortlist_outcome_time WHERE shortlist_id = $1 ORDER BY position`, args, func(scan func(...any) error) error {
		var m catalog.StepTime
		if err := scan(&m.Step, &m.Minutes); err != nil {
			return err
		}
		o.Minutes = append(o.Minutes, m)
		return nil
	}); err != nil {
		return o, err
	}
	err = eachRow(ctx, tx, `SELECT measured, octave_hz, time_s FROM shortlist_outcome_decay WHERE shortlist_id = $1`, args, func(scan func(...any) error) error {
		var which string
		var hz int
		var t float64
		if err := scan(&which, &hz, &t); err != nil {
			return err
		}
		b, ok := bands.Parse(hz)
		curve := measured(&o)[which]
		if !ok || curve == nil {
			return fmt.Errorf("the outcome of %s has an unknown decay time %s at %d Hz", id, which, hz)
		}
		curve.Set(b, t)
		return nil
	})
	return o, err
}

// insertOutcome stores the outcome of a shortlist that has none.
func insertOutcome(ctx context.Context, tx *sql.Tx, id catalog.ID, o catalog.Outcome) error {
	row, err := values(outcomeRow(&o)...)
	if err != nil {
		return err
	}
	if err := insertRows(ctx, tx, "shortlist_outcome", outcomeColumns+", shortlist_id", [][]any{append(row, string(id))}); err != nil {
		return err
	}
	var lines, times, decay [][]any
	for i := range o.Lines {
		row, err := values(paidRow(&o.Lines[i])...)
		if err != nil {
			return err
		}
		lines = append(lines, append(row, string(id), i))
	}
	for i, m := range o.Minutes {
		times = append(times, []any{string(m.Step), float64(m.Minutes), string(id), i})
	}
	for which, curve := range measured(&o) {
		for i := range bands.OctaveCount {
			b := bands.OctaveBand(i)
			if t, ok := curve.At(b); ok {
				decay = append(decay, []any{which, b.Nominal(), t, string(id)})
			}
		}
	}
	if err := insertRows(ctx, tx, "shortlist_outcome_line", paidColumns+", shortlist_id, position", lines); err != nil {
		return err
	}
	if err := insertRows(ctx, tx, "shortlist_outcome_time", "step, time_min, shortlist_id, position", times); err != nil {
		return err
	}
	return insertRows(ctx, tx, "shortlist_outcome_decay", "measured, octave_hz, time_s, shortlist_id", decay)
}

// removeOutcome takes the outcome of a shortlist away, or returns ErrNotFound.
func removeOutcome(ctx context.Context, tx *sql.Tx, id catalog.ID) error {
	for _, table := range outcomeParts {
		if _, err := tx.ExecContext(ctx, `DELETE FROM `+table+` WHERE shortlist_id = $1`, string(id)); err != nil {
			return err
		}
	}
	r, err := tx.ExecContext(ctx, `DELETE FROM shortlist_outcome WHERE shortlist_id = $1`, string(id))
	if err != nil {
		return err
	}
	return foundOne(r)
}

// PutOutcome stores what became of the shortlist ref, which must be at the given revision (0 stands for
// any), in the place of an earlier outcome. The shortlist is built then. It returns both as stored.
func (s *Store) PutOutcome(ctx context.Context, by, ref string, revision int64, o catalog.Outcome) (l catalog.Shortlist, stored catalog.Outcome, err error) {
	o.Recorded, o.RecordedBy = s.now(), by
	err = s.queuedTx(ctx, "outcome of shortlist "+ref, func(tx *sql.Tx) (err error) {
		if l, err = findShortlist(ctx, tx, by, ref, false); err != nil {
			return err
		}
		if !slices.ContainsFunc(l.Options, func(k catalog.KeptOption) bool { return k.Key == o.Key }) {
			return invalid("/key", "unknown_option", "is no option of this shortlist", "take a key from its option_keys")
		}
		if err := raise(ctx, tx, l.Meta, revision, `status = $3, update_time = $4, updated_by = $5`, string(catalog.Built), Time(o.Recorded), by); err != nil {
			return err
		}
		if err := removeOutcome(ctx, tx, l.ID); err != nil && !errors.Is(err, catalog.ErrNotFound) {
			return err
		}
		if err := insertOutcome(ctx, tx, l.ID, o); err != nil {
			return err
		}
		if l, err = findShortlist(ctx, tx, by, string(l.ID), false); err != nil {
			return err
		}
		stored, err = readOutcome(ctx, tx, l.ID)
		return err
	})
	return l, stored, err
}

// Outcome returns what became of the shortlist ref, with that shortlist and its frozen part.
func (s *Store) Outcome(ctx context.Context, asker, ref string) (l catalog.Shortlist, frozen string, o catalog.Outcome, err error) {
	err = s.readTx(ctx, "outcome of shortlist "+ref, func(tx *sql.Tx) (err error) {
		if l, err = findShortlist(ctx, tx, asker, ref, false); err != nil {
			return err
		}
		if o, err = readOutcome(ctx, tx, l.ID); err != nil {
			return err
		}
		frozen, err = frozenPart(ctx, tx, l)
		return err
	})
	return l, frozen, o, err
}

// DeleteOutcome takes the outcome of the shortlist ref away for ever. The status of the shortlist stays.
func (s *Store) DeleteOutcome(ctx context.Context, by, ref string, revision int64) error {
	return s.queuedTx(ctx, "delete outcome of shortlist "+ref, func(tx *sql.Tx) error {
		l, err := findShortlist(ctx, tx, by, ref, false)
		if err != nil {
			return err
		}
		if err := removeOutcome(ctx, tx, l.ID); err != nil {
			return err
		}
		return raise(ctx, tx, l.Meta, revision, `update_time = $3, updated_by = $4`, Time(s.now()), by)
	})
}

// MostOutcomes is how many outcomes the group's experience rests on at most. Convention.
const MostOutcomes = 500

// GroupOutcomes calls each with the outcomes of the shortlists of the group that are not deleted, the
// latest built first, at most MostOutcomes of them, and with the frozen parts of their shortlists.
func (s *Store) GroupOutcomes(ctx context.Context, each func(o catalog.Outcome, frozen string) error) error {
	return s.readTx(ctx, "outcomes of the group", func(tx *sql.Tx) error {
		var lists []catalog.Shortlist
		if err := eachRow(ctx, tx, `SELECT shortlist.id, shortlist.frozen_sha256 FROM shortlist_outcome JOIN shortlist ON shortlist.id = shortlist_id
			WHERE visibility = $1 AND NOT deleted ORDER BY built_date DESC, shortlist.id LIMIT $2`, []any{string(catalog.Group), MostOutcomes}, func(scan func(...any) error) error {
			var l catalog.Shortlist
			if err := scan(&l.ID, &l.Frozen); err != nil {
				return err
			}
			lists = append(lists, l)
			return nil
		}); err != nil {
			return err
		}
		for _, l := range lists {
			o, err := readOutcome(ctx, tx, l.ID)
			if err != nil {
				return err
			}
			frozen, err := frozenPart(ctx, tx, l)
			if err != nil {
				return err
			}
			if err := each(o, frozen); err != nil {
				return err
			}
		}
		return nil
	})
}
