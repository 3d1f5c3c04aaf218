package store

import (
	"context"

	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
)

var tests = &noun[catalog.AbsorptionTest]{
	Noun: catalog.NounTest, table: "absorption_test", freeName: true,
	columns: `fill_id, standard, mounting_type, mounting_suffix_mm, thickness_mm, air_gap_mm, density_kg_per_m3, band_basis,
		capped_at_one, evidence, source_id, use, use_note, note`,
	meta: func(r *catalog.AbsorptionTest) *catalog.Meta { return &r.Meta },
	row: func(r *catalog.AbsorptionTest) []any {
		return []any{&r.FillID, &r.Standard, &r.Mounting, &r.MountingSuffix, &r.Thickness, &r.AirGap, &r.Density, &r.Alpha.Basis,
			&r.CappedAtOne, &r.Evidence, &r.SourceID, &r.Use, &r.UseNote, &r.Note}
	},
	curve: func(r *catalog.AbsorptionTest) *bands.Curve { return &r.Alpha },
	links: func(r *catalog.AbsorptionTest) []link {
		return []link{{at: "/fill_id", noun: catalog.NounFill, id: &r.FillID}, sourceLink("/source_id", &r.SourceID)}
	},
	fields: withCommon(map[string]field{
		"fill_id":           naming("absorption_test.fill_id", catalog.NounFill),
		"standard":          own(text, "absorption_test.standard"),
		"mounting_type":     own(text, "absorption_test.mounting_type"),
		"thickness_mm":      own(number, "absorption_test.thickness_mm"),
		"air_gap_mm":        own(number, "absorption_test.air_gap_mm"),
		"density_kg_per_m3": own(number, "absorption_test.density_kg_per_m3"),
		"evidence":          own(text, "absorption_test.evidence"),
	}),
}

// AddTest stores a new absorption test; by is who adds it. Slugs of other records in it become ids. An
// id is made unless one is given.
func (s *Store) AddTest(ctx context.Context, by string, r catalog.AbsorptionTest) (catalog.AbsorptionTest, error) {
	return tests.add(ctx, s, by, r)
}

// Test returns the absorption test that is called ref: an id, a slug or a former slug.
func (s *Store) Test(ctx context.Context, ref string) (catalog.AbsorptionTest, error) {
	return tests.get(ctx, s, ref)
}

// Tests returns a page of the absorption tests.
func (s *Store) Tests(ctx context.Context, q catalog.Query) (catalog.Page[catalog.AbsorptionTest], error) {
	return tests.list(ctx, s, q)
}

// ReplaceTest stores r in the place of the absorption test ref, which must be at the given revision;
// 0 stands for any. A new slug leaves the old one leading to the record.
func (s *Store) ReplaceTest(ctx context.Context, by, ref string, revision int64, r catalog.AbsorptionTest) (catalog.AbsorptionTest, error) {
	return tests.replace(ctx, s, by, ref, revision, r)
}

// DeleteTest marks the absorption test ref as deleted. It can be restored.
func (s *Store) DeleteTest(ctx context.Context, by, ref string, revision int64) error {
	return tests.remove(ctx, s, by, ref, revision)
}

// RestoreTest brings a deleted absorption test back. What it refers to must not be deleted.
func (s *Store) RestoreTest(ctx context.Context, by, ref string) (catalog.AbsorptionTest, error) {
	return tests.restore(ctx, s, by, ref)
}
