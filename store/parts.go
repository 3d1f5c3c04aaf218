package store

import (
	"context"
	"database/sql"

	"sabinbook/internal/catalog"
	"sabinbook/internal/units"
)

var parts = &noun[catalog.Part]{
	Noun: catalog.NounPart, table: "part",
	columns: "kind, role, section_thickness_mm, section_width_mm, uses_per_unit_count, source_id, note",
	meta:    func(r *catalog.Part) *catalog.Meta { return &r.Meta },
	row: func(r *catalog.Part) []any {
		return []any{&r.Kind, &r.Role, &r.SectionThickness, &r.SectionWidth, &r.UsesPerUnit, &r.SourceID, &r.Note}
	},
	figures: func(r *catalog.Part) []figure {
		return []figure{
			figureOf("density_kg_per_m3", &r.Density),
			figureOf("unit_mass_kg", &r.UnitMass),
			figureOf("working_load_kg", &r.WorkingLoad),
		}
	},
	lists: []list[catalog.Part]{
		listOf("part_stock_length", "length_mm", func(r *catalog.Part) *[]units.Length { return &r.StockLengths }, func(l *units.Length) []any { return []any{l} }),
	},
	links: func(r *catalog.Part) []link { return []link{sourceLink("/source_id", &r.SourceID)} },
	users: `SELECT record_id FROM offer WHERE item_id = $1`,
	fields: withCommon(map[string]field{
		"kind":                 own(text, "part.kind"),
		"role":                 own(text, "part.role"),
		"section_thickness_mm": own(number, "part.section_thickness_mm"),
		"section_width_mm":     own(number, "part.section_width_mm"),
	}),
}

// keepsOfferedLengths refuses a part that no longer has a stock length which a live offer sells.
func keepsOfferedLengths(ctx context.Context, tx *sql.Tx, p catalog.Part) error {
	return keepsOffers(ctx, tx, p.ID, "stock_lengths_mm", func(o catalog.Offer) error { return o.FitsPart(p) })
}

// AddPart stores a new part; by is who adds it. Slugs of other records in it become ids. An
// id is made unless one is given.
func (s *Store) AddPart(ctx context.Context, by string, r catalog.Part) (catalog.Part, error) {
	return parts.add(ctx, s, by, r)
}

// Part returns the part that is called ref: an id, a slug or a former slug.
func (s *Store) Part(ctx context.Context, ref string) (catalog.Part, error) {
	return parts.get(ctx, s, ref)
}

// Parts returns a page of the parts.
func (s *Store) Parts(ctx context.Context, q catalog.Query) (catalog.Page[catalog.Part], error) {
	return parts.list(ctx, s, q)
}

// ReplacePart stores r in the place of the part ref, which must be at the given revision;
// 0 stands for any. A new slug leaves the old one leading to the record. Stock lengths that live offers sell must stay.
func (s *Store) ReplacePart(ctx context.Context, by, ref string, revision int64, r catalog.Part) (catalog.Part, error) {
	return parts.replace(ctx, s, by, ref, revision, r, keepsOfferedLengths)
}

// DeletePart marks the part ref as deleted unless live records refer to it. It can be restored.
func (s *Store) DeletePart(ctx context.Context, by, ref string, revision int64) error {
	return parts.remove(ctx, s, by, ref, revision)
}

// RestorePart brings a deleted part back. What it refers to must not be deleted.
func (s *Store) RestorePart(ctx context.Context, by, ref string) (catalog.Part, error) {
	return parts.restore(ctx, s, by, ref)
}
