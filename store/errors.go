package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"

	"sabinbook/internal/catalog"
)

// fail translates an error of a driver into one of package catalog and names the
// operation. Errors of catalog and what nobody expected pass through.
func (s *Store) fail(what string, err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("store: %s: %w", what, s.translate(err))
}

func (s *Store) translate(err error) error {
	var bad *catalog.InvalidError
	var stale *catalog.StaleError
	switch {
	case errors.As(err, &bad), errors.As(err, &stale), errors.Is(err, catalog.ErrNotFound), errors.Is(err, catalog.ErrConflict),
		errors.Is(err, catalog.ErrUnavailable), errors.Is(err, catalog.ErrOutcomeUnknown), errors.Is(err, context.Canceled):
		return err
	case errors.Is(err, sql.ErrNoRows):
		return catalog.ErrNotFound
	case errors.Is(err, context.DeadlineExceeded):
		return errors.Join(catalog.ErrUnavailable, err)
	}
	switch f := s.engine.classify(err); f.kind {
	case uniqueFailure:
		return errors.Join(takenByRule(f.rule), err)
	case referenceFailure:
		return errors.Join(invalid("", "unknown_reference", "names a record that is not stored", lookAgain), err)
	case ruleFailure:
		return errors.Join(invalid("", "refused", "holds a value that the database refuses", lookAgain), err)
	case busyFailure, awayFailure:
		return errors.Join(catalog.ErrUnavailable, err)
	}
	return err
}

// takenByRule is the answer to a broken uniqueness rule that no earlier check has seen.
func takenByRule(rule string) error {
	field := "id"
	switch {
	case strings.Contains(rule, "slug"):
		field = "slug"
	case strings.Contains(rule, "name"):
		field = "name"
	case strings.Contains(rule, "size"):
		field = "sold_sizes"
	}
	return &catalog.ConflictError{Field: field, Detail: "is taken", Fix: "choose another " + field}
}

// lookAgain mends a broken rule that Validate should have named: the database does not tell
// the member, and its own words are for the log only.
const lookAgain = "check the record against the description of its members"

func invalid(pointer, code, detail, fix string) error {
	var v catalog.Faults
	v.Add(pointer, code, detail, fix)
	return v.Err()
}

// under puts the pointer of an element before the pointers of an error of that element.
func under(at string, err error) error {
	var bad *catalog.InvalidError
	var clash *catalog.ConflictError
	switch {
	case errors.As(err, &bad):
		var v catalog.Faults
		for _, f := range bad.Faults {
			v.Add(at+f.Pointer, f.Code, f.Detail, f.Fix)
		}
		return v.Err()
	case errors.As(err, &clash):
		return &catalog.ConflictError{Field: strings.TrimPrefix(at, "/") + "/" + clash.Field, Detail: clash.Detail, Fix: clash.Fix}
	case err != nil:
		return fmt.Errorf("%s: %w", at, err)
	}
	return nil
}
