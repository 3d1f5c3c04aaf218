package store

import (
	"context"
	"database/sql"

	"sabinbook/internal/catalog"
)

var fills = &noun[catalog.Fill]{
	Noun: catalog.NounFill, table: "fill",
	columns: "family, form, handling_profile, irritant, dust, binder, moth_treatment, back_tissue, note_q, note_r, source_id, note",
	meta:    func(r *catalog.Fill) *catalog.Meta { return &r.Meta },
	row: func(r *catalog.Fill) []any {
		h := &r.Handling
		return []any{&r.Family, &r.Form, &h.Profile, &h.Irritant, &h.Dust, &h.Binder, &h.Moth, &h.BackTissue, &h.NoteQ, &h.NoteR, &r.SourceID, &r.Note}
	},
	figures: func(r *catalog.Fill) []figure {
		return []figure{
			figureOf("density_kg_per_m3", &r.Density),
			figureOf("airflow_resistivity_pa_s_per_m2", &r.Resistivity),
			figureOf("fibre_diameter_um", &r.FibreDiameter),
			figureOf("handling/borate_fraction", &r.Handling.Borate),
			figureOf("handling/cutting_min_per_m", &r.Handling.Cutting),
		}
	},
	lists: []list[catalog.Fill]{
		listOf("fill_size", "length_mm, width_mm, thickness_mm", func(r *catalog.Fill) *[]catalog.SoldSize { return &r.SoldSizes }, sizeRow),
		fireOf(func(r *catalog.Fill) *[]catalog.FireDeclaration { return &r.Fire }),
	},
	links: func(r *catalog.Fill) []link {
		return append(fireLinks(r.Fire), sourceLink("/source_id", &r.SourceID))
	},
	users: `SELECT record_id FROM absorption_test WHERE fill_id = $1 UNION SELECT record_id FROM offer WHERE item_id = $1`,
	fields: withCommon(map[string]field{
		"family":                          own(text, "fill.family"),
		"form":                            own(text, "fill.form"),
		"density_kg_per_m3":               figureField("density_kg_per_m3"),
		"airflow_resistivity_pa_s_per_m2": figureField("airflow_resistivity_pa_s_per_m2"),
		"thickness_mm":                    inRows(number, "thickness_mm", "fill_size"),
		"fire_scheme":                     inRows(text, "scheme", "fire_declaration"),
		"fire_code":                       inRows(text, "code", "fire_declaration"),
	}),
}

func sizeRow(s *catalog.SoldSize) []any { return []any{&s.Length, &s.Width, &s.Thickness} }

// keepsOfferedSizes refuses a fill that no longer has a size which a live offer sells.
func keepsOfferedSizes(ctx context.Context, tx *sql.Tx, f catalog.Fill) error {
	return keepsOffers(ctx, tx, f.ID, "sold_sizes", func(o catalog.Offer) error { return o.FitsFill(f) })
}

// AddFill stores a new fill; by is who adds it. Slugs of other records in it become ids. An
// id is made unless one is given.
func (s *Store) AddFill(ctx context.Context, by string, r catalog.Fill) (catalog.Fill, error) {
	return fills.add(ctx, s, by, r)
}

// Fill returns the fill that is called ref: an id, a slug or a former slug.
func (s *Store) Fill(ctx context.Context, ref string) (catalog.Fill, error) {
	return fills.get(ctx, s, ref)
}

// Fills returns a page of the fills.
func (s *Store) Fills(ctx context.Context, q catalog.Query) (catalog.Page[catalog.Fill], error) {
	return fills.list(ctx, s, q)
}

// ReplaceFill stores r in the place of the fill ref, which must be at the given revision;
// 0 stands for any. A new slug leaves the old one leading to the record. Sizes that live offers sell must stay.
func (s *Store) ReplaceFill(ctx context.Context, by, ref string, revision int64, r catalog.Fill) (catalog.Fill, error) {
	return fills.replace(ctx, s, by, ref, revision, r, keepsOfferedSizes)
}

// DeleteFill marks the fill ref as deleted unless live records refer to it. It can be restored.
func (s *Store) DeleteFill(ctx context.Context, by, ref string, revision int64) error {
	return fills.remove(ctx, s, by, ref, revision)
}

// RestoreFill brings a deleted fill back. What it refers to must not be deleted.
func (s *Store) RestoreFill(ctx context.Context, by, ref string) (catalog.Fill, error) {
	return fills.restore(ctx, s, by, ref)
}
