package store

import (
	"context"

	"sabinbook/internal/catalog"
)

var fabrics = &noun[catalog.Fabric]{
	Noun: catalog.NounFabric, table: "fabric",
	columns: `roll_width_mm, selvedge_mm, air_velocity_mm_per_s, air_pressure_pa, air_evidence, air_source_id, directional, stretch,
		source_id, note`,
	meta: func(r *catalog.Fabric) *catalog.Meta { return &r.Meta },
	row: func(r *catalog.Fabric) []any {
		air := whole(&r.Permeability)
		return []any{&r.RollWidth, &r.Selvedge,
			optional[float64]{within(air, func(p *catalog.Permeability) *float64 { return &p.Velocity })},
			optional[float64]{within(air, func(p *catalog.Permeability) *float64 { return &p.Pressure })},
			optional[catalog.Evidence]{within(air, func(p *catalog.Permeability) *catalog.Evidence { return &p.Evidence })},
			optional[catalog.ID]{within(air, func(p *catalog.Permeability) *catalog.ID { return &p.SourceID })},
			&r.Directional, &r.Stretch, &r.SourceID, &r.Note}
	},
	figures: func(r *catalog.Fabric) []figure {
		return []figure{
			figureOf("surface_mass_kg_per_m2", &r.SurfaceMass),
			figureOf("flow_resistance_pa_s_per_m", &r.Resistance),
		}
	},
	lists: []list[catalog.Fabric]{fireOf(func(r *catalog.Fabric) *[]catalog.FireDeclaration { return &r.Fire })},
	links: func(r *catalog.Fabric) []link {
		links := append(fireLinks(r.Fire), sourceLink("/source_id", &r.SourceID))
		if r.Permeability != nil {
			links = append(links, sourceLink("/air_permeability/source_id", &r.Permeability.SourceID))
		}
		return links
	},
	detach: func(r *catalog.Fabric) {
		if r.Permeability != nil {
			p := *r.Permeability
			r.Permeability = &p
		}
	},
	users: `SELECT record_id FROM offer WHERE item_id = $1`,
	fields: withCommon(map[string]field{
		"stretch":                    own(text, "fabric.stretch"),
		"roll_width_mm":              own(number, "fabric.roll_width_mm"),
		"flow_resistance_pa_s_per_m": figureField("flow_resistance_pa_s_per_m"),
		"surface_mass_kg_per_m2":     figureField("surface_mass_kg_per_m2"),
		"fire_scheme":                inRows(text, "scheme", "fire_declaration"),
		"fire_code":                  inRows(text, "code", "fire_declaration"),
	}),
}

// AddFabric stores a new fabric; by is who adds it. Slugs of other records in it become ids. An
// id is made unless one is given.
func (s *Store) AddFabric(ctx context.Context, by string, r catalog.Fabric) (catalog.Fabric, error) {
	return fabrics.add(ctx, s, by, r)
}

// Fabric returns the fabric that is called ref: an id, a slug or a former slug.
func (s *Store) Fabric(ctx context.Context, ref string) (catalog.Fabric, error) {
	return fabrics.get(ctx, s, ref)
}

// Fabrics returns a page of the fabrics.
func (s *Store) Fabrics(ctx context.Context, q catalog.Query) (catalog.Page[catalog.Fabric], error) {
	return fabrics.list(ctx, s, q)
}

// ReplaceFabric stores r in the place of the fabric ref, which must be at the given revision;
// 0 stands for any. A new slug leaves the old one leading to the record.
func (s *Store) ReplaceFabric(ctx context.Context, by, ref string, revision int64, r catalog.Fabric) (catalog.Fabric, error) {
	return fabrics.replace(ctx, s, by, ref, revision, r)
}

// DeleteFabric marks the fabric ref as deleted unless live records refer to it. It can be restored.
func (s *Store) DeleteFabric(ctx context.Context, by, ref string, revision int64) error {
	return fabrics.remove(ctx, s, by, ref, revision)
}

// RestoreFabric brings a deleted fabric back. What it refers to must not be deleted.
func (s *Store) RestoreFabric(ctx context.Context, by, ref string) (catalog.Fabric, error) {
	return fabrics.restore(ctx, s, by, ref)
}
