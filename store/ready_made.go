package store

import (
	"context"

	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
)

var readyMade = &noun[catalog.ReadyMadePanel]{
	Noun: catalog.NounReadyMade, table: "ready_made_panel",
	columns: "width_mm, height_mm, depth_mm, band_basis, alpha_evidence, alpha_source_id, mounting_type, source_id, note",
	meta:    func(r *catalog.ReadyMadePanel) *catalog.Meta { return &r.Meta },
	row: func(r *catalog.ReadyMadePanel) []any {
		return []any{&r.Width, &r.Height, &r.Depth, &r.Alpha.Basis, &r.AlphaEvidence, reference{&r.AlphaSourceID}, &r.Mounting, &r.SourceID, &r.Note}
	},
	figures: func(r *catalog.ReadyMadePanel) []figure { return []figure{figureOf("mass_kg", &r.Mass)} },
	curve:   func(r *catalog.ReadyMadePanel) *bands.Curve { return &r.Alpha },
	lists:   []list[catalog.ReadyMadePanel]{fireOf(func(r *catalog.ReadyMadePanel) *[]catalog.FireDeclaration { return &r.Fire })},
	links: func(r *catalog.ReadyMadePanel) []link {
		alpha := sourceLink("/absorption/source_id", &r.AlphaSourceID)
		alpha.optional = true
		return append(fireLinks(r.Fire), alpha, sourceLink("/source_id", &r.SourceID))
	},
	users: `SELECT record_id FROM offer WHERE item_id = $1`,
	fields: withCommon(map[string]field{
		"width_mm":    own(number, "ready_made_panel.width_mm"),
		"height_mm":   own(number, "ready_made_panel.height_mm"),
		"depth_mm":    own(number, "ready_made_panel.depth_mm"),
		"mass_kg":     figureField("mass_kg"),
		"fire_scheme": inRows(text, "scheme", "fire_declaration"),
		"fire_code":   inRows(text, "code", "fire_declaration"),
	}),
}

// AddReadyMade stores a new ready-made panel; by is who adds it. Slugs of other records in it become ids. An
// id is made unless one is given.
func (s *Store) AddReadyMade(ctx context.Context, by string, r catalog.ReadyMadePanel) (catalog.ReadyMadePanel, error) {
	return readyMade.add(ctx, s, by, r)
}

// ReadyMade returns the ready-made panel that is called ref: an id, a slug or a former slug.
func (s *Store) ReadyMade(ctx context.Context, ref string) (catalog.ReadyMadePanel, error) {
	return readyMade.get(ctx, s, ref)
}

// ReadyMades returns a page of the ready-made panels.
func (s *Store) ReadyMades(ctx context.Context, q catalog.Query) (catalog.Page[catalog.ReadyMadePanel], error) {
	return readyMade.list(ctx, s, q)
}

// ReplaceReadyMade stores r in the place of the ready-made panel ref, which must be at the given revision;
// 0 stands for any. A new slug leaves the old one leading to the record.
func (s *Store) ReplaceReadyMade(ctx context.Context, by, ref string, revision int64, r catalog.ReadyMadePanel) (catalog.ReadyMadePanel, error) {
	return readyMade.replace(ctx, s, by, ref, revision, r)
}

// DeleteReadyMade marks the ready-made panel ref as deleted unless live records refer to it. It can be restored.
func (s *Store) DeleteReadyMade(ctx context.Context, by, ref string, revision int64) error {
	return readyMade.remove(ctx, s, by, ref, revision)
}

// RestoreReadyMade brings a deleted ready-made panel back. What it refers to must not be deleted.
func (s *Store) RestoreReadyMade(ctx context.Context, by, ref string) (catalog.ReadyMadePanel, error) {
	return readyMade.restore(ctx, s, by, ref)
}
