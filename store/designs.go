package store

import (
	"context"

	"sabinbook/internal/catalog"
)

var designs = &noun[catalog.Design]{
	Noun: catalog.NounDesign, table: "design",
	columns: "width_mm, height_mm, wrap_turn_mm, back, back_margin_mm, fill_oversize_mm, joint, braces_count, stand_offs_count, note",
	meta:    func(r *catalog.Design) *catalog.Meta { return &r.Meta },
	row: func(r *catalog.Design) []any {
		return []any{&r.Width, &r.Height, &r.Turn, &r.Back, &r.BackMargin, &r.Oversize, &r.Joint, &r.Braces, &r.StandOffs, &r.Note}
	},
	lists: []list[catalog.Design]{
		listOf("design_part", "role, part_count", func(r *catalog.Design) *[]catalog.DesignPart { return &r.Parts }, func(p *catalog.DesignPart) []any { return []any{&p.Role, &p.Count} }),
	},
	links: func(*catalog.Design) []link { return nil },
	fields: withCommon(map[string]field{
		"width_mm":  own(number, "design.width_mm"),
		"height_mm": own(number, "design.height_mm"),
	}),
}

// AddDesign stores a new panel design; by is who adds it. An id is made unless one is given.
func (s *Store) AddDesign(ctx context.Context, by string, r catalog.Design) (catalog.Design, error) {
	return designs.add(ctx, s, by, r)
}

// Design returns the panel design that is called ref: an id, a slug or a former slug.
func (s *Store) Design(ctx context.Context, ref string) (catalog.Design, error) {
	return designs.get(ctx, s, ref)
}

// Designs returns a page of the panel designs.
func (s *Store) Designs(ctx context.Context, q catalog.Query) (catalog.Page[catalog.Design], error) {
	return designs.list(ctx, s, q)
}

// ReplaceDesign stores r in the place of the panel design ref, which must be at the given revision;
// 0 stands for any. A new slug leaves the old one leading to the record.
func (s *Store) ReplaceDesign(ctx context.Context, by, ref string, revision int64, r catalog.Design) (catalog.Design, error) {
	return designs.replace(ctx, s, by, ref, revision, r)
}

// DeleteDesign marks the panel design ref as deleted. It can be restored.
func (s *Store) DeleteDesign(ctx context.Context, by, ref string, revision int64) error {
	return designs.remove(ctx, s, by, ref, revision)
}

// RestoreDesign brings a deleted panel design back.
func (s *Store) RestoreDesign(ctx context.Context, by, ref string) (catalog.Design, error) {
	return designs.restore(ctx, s, by, ref)
}
