package store

import (
	"context"

	"sabinbook/internal/catalog"
)

var sources = &noun[catalog.Source]{
	Noun: catalog.NounSource, table: "source",
	columns: "citation, observer, published_date, licence, evidence, invented, note",
	meta:    func(r *catalog.Source) *catalog.Meta { return &r.Meta },
	row: func(r *catalog.Source) []any {
		return []any{&r.Citation, &r.Observer, &r.Date, &r.Licence, &r.Evidence, &r.Invented, &r.Note}
	},
	users: `SELECT record_id FROM figure WHERE source_id = $1
		UNION SELECT record_id FROM fire_declaration WHERE source_id = $1
		UNION SELECT record_id FROM fill WHERE source_id = $1
		UNION SELECT record_id FROM absorption_test WHERE source_id = $1
		UNION SELECT record_id FROM fabric WHERE $1 IN (source_id, air_source_id)
		UNION SELECT record_id FROM part WHERE source_id = $1
		UNION SELECT record_id FROM ready_made_panel WHERE $1 IN (source_id, alpha_source_id)
		UNION SELECT record_id FROM room WHERE source_id = $1
		UNION SELECT record_id FROM supplier WHERE source_id = $1
		UNION SELECT record_id FROM offer WHERE source_id = $1
		UNION SELECT offer_id FROM price WHERE source_id = $1
		UNION SELECT record_id FROM exchange_rate WHERE source_id = $1`,
	fields: withCommon(map[string]field{
		"evidence": own(text, "source.evidence"),
		"invented": own(truth, "source.invented"),
		"date":     own(text, "source.published_date"),
	}),
}

// AddSource stores a new source; by is who adds it. Slugs of other records in it become ids. An
// id is made unless one is given.
func (s *Store) AddSource(ctx context.Context, by string, r catalog.Source) (catalog.Source, error) {
	return sources.add(ctx, s, by, r)
}

// Source returns the source that is called ref: an id, a slug or a former slug.
func (s *Store) Source(ctx context.Context, ref string) (catalog.Source, error) {
	return sources.get(ctx, s, ref)
}

// Sources returns a page of the sources.
func (s *Store) Sources(ctx context.Context, q catalog.Query) (catalog.Page[catalog.Source], error) {
	return sources.list(ctx, s, q)
}

// ReplaceSource stores r in the place of the source ref, which must be at the given revision;
// 0 stands for any. A new slug leaves the old one leading to the record.
func (s *Store) ReplaceSource(ctx context.Context, by, ref string, revision int64, r catalog.Source) (catalog.Source, error) {
	return sources.replace(ctx, s, by, ref, revision, r)
}

// DeleteSource marks the source ref as deleted unless live records rest on it. It can be restored.
func (s *Store) DeleteSource(ctx context.Context, by, ref string, revision int64) error {
	return sources.remove(ctx, s, by, ref, revision)
}

// RestoreSource brings a deleted source back. What it refers to must not be deleted.
func (s *Store) RestoreSource(ctx context.Context, by, ref string) (catalog.Source, error) {
	return sources.restore(ctx, s, by, ref)
}
