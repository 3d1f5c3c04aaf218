package exchange

import (
	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
	"sabinbook/internal/units"
)

func sourceTable() noun[catalog.Source] {
	type r = catalog.Source
	meta := func(x *r) *catalog.Meta { return &x.Meta }
	return noun[r]{
		name: "sources", about: "Where figures come from.", kind: catalog.NounSource, id: func(x *r) *catalog.ID { return &x.ID }, meta: meta,
		list: func(s *catalog.Snapshot) *[]r { return &s.Sources },
		columns: columns(metaColumns(catalog.NounSource, meta), []column[r]{
			text("citation", "Author, year, title and page, or what was observed.", func(x *r) *string { return &x.Citation }).need(),
			text("observer", "Who saw or measured it.", func(x *r) *string { return &x.Observer }),
			day("date", "Day of publication or observation.", func(x *r) *catalog.Date { return &x.Date }),
			text("licence", "SPDX expression, or words on what may be done with the figures.", func(x *r) *string { return &x.Licence }).need(),
			text("evidence", "The usual grade of figures from it.", func(x *r) *catalog.Evidence { return &x.Evidence }).need(),
			flag("invented", "Whether it was made up for a demonstration and is never to be taken for real.", func(x *r) *bool { return &x.Invented }),
			noteColumn(func(x *r) *string { return &x.Note }),
		}),
		validate: func(x r, _ catalog.Date) error { return x.Validate() },
	}
}

func noteColumn[R any](at func(*R) *string) column[R] { return text("note", "Free words.", at) }

func sourceColumn[R any](at func(*R) *catalog.ID) column[R] {
	return reference("source_id", "The source of the record as a whole.", "sources", at).need()
}

func answer[R any](name, about string, at func(*R) *catalog.Answer) column[R] {
	return text(name, about+" yes, no or unknown.", at).under("/handling/" + name).need()
}

func fillTable() noun[catalog.Fill] {
	type r = catalog.Fill
	meta := func(x *r) *catalog.Meta { return &x.Meta }
	return noun[r]{
		name: "fills", about: "Porous materials that absorb sound inside of a panel.", kind: catalog.NounFill, id: func(x *r) *catalog.ID { return &x.ID }, meta: meta,
		list: func(s *catalog.Snapshot) *[]r { return &s.Fills },
		columns: columns(metaColumns(catalog.NounFill, meta), []column[r]{
			text("family", "Kind of fill.", func(x *r) *catalog.Family { return &x.Family }).need(),
			text("form", "Form in which it is sold.", func(x *r) *catalog.Form { return &x.Form }).need(),
		},
			figure("density", "kg_per_m3", "Density in kg per cubic metre.", "/density_kg_per_m3", func(x *r) **catalog.Figure[units.Density] { return &x.Density }),
			figure("airflow_resistivity", "pa_s_per_m2", "Airflow resistivity in Pa s per square metre.", "/airflow_resistivity_pa_s_per_m2", func(x *r) **catalog.Figure[units.AirflowResistivity] { return &x.Resistivity }),
			figure("fibre_diameter", "um", "Mean diameter of the fibres in micrometres.", "/fibre_diameter_um", func(x *r) **catalog.Figure[units.Diameter] { return &x.FibreDiameter }),
			[]column[r]{
				text("profile", "The way in which it is handled.", func(x *r) *catalog.Profile { return &x.Handling.Profile }).under("/handling/profile").need(),
				answer("irritant", "Whether it may itch:", func(x *r) *catalog.Answer { return &x.Handling.Irritant }),
				answer("dust", "Whether it gives off dust:", func(x *r) *catalog.Answer { return &x.Handling.Dust }),
				text("binder", "What holds it together.", func(x *r) *catalog.Binder { return &x.Handling.Binder }).under("/handling/binder").need(),
				text("moth_treatment", "Treatment of wool against moths.", func(x *r) *catalog.MothTreatment { return &x.Handling.Moth }).under("/handling/moth_treatment").need(),
				answer("back_tissue", "Whether a tissue is bonded to the back:", func(x *r) *catalog.Answer { return &x.Handling.BackTissue }),
				answer("note_q", "Whether note Q of the European classification of mineral wool holds:", func(x *r) *catalog.Answer { return &x.Handling.NoteQ }),
				answer("note_r", "Whether note R of the European classification of mineral wool holds:", func(x *r) *catalog.Answer { return &x.Handling.NoteR }),
			},
			figure("borate", "fraction", "Share of borate by mass, from 0 to 1.", "/handling/borate_fraction", func(x *r) **catalog.Figure[units.Fraction] { return &x.Handling.Borate }),
			figure("cutting", "min_per_m", "Measured cutting time in minutes per metre of cut.", "/handling/cutting_min_per_m", func(x *r) **catalog.Figure[units.Minutes] { return &x.Handling.Cutting }),
			[]column[r]{sourceColumn(func(x *r) *catalog.ID { return &x.SourceID }), noteColumn(func(x *r) *string { return &x.Note })}),
		validate: func(x r, _ catalog.Date) error { return x.Validate() },
	}
}

// sizeColumns are the columns of a sold size; their names begin with prefix.
func sizeColumns(prefix, pointer string) []column[catalog.SoldSize] {
	return []column[catalog.SoldSize]{
		number(prefix+"length_mm", "Length in millimetres.", func(s *catalog.SoldSize) *units.Length { return &s.Length }).under(pointer + "/length_mm"),
		number(prefix+"width_mm", "Width in millimetres.", func(s *catalog.SoldSize) *units.Length { return &s.Width }).under(pointer + "/width_mm"),
		number(prefix+"thickness_mm", "Thickness in millimetres.", func(s *catalog.SoldSize) *units.Length { return &s.Thickness }).under(pointer + "/thickness_mm"),
	}
}

func soldSizes(parent *noun[catalog.Fill]) table {
	return listOf(parent, "fill_sold_sizes", "Sizes in which fills are sold.", "fill_id", "/sold_sizes",
		func(f *catalog.Fill) *[]catalog.SoldSize { return &f.SoldSizes },
		sizeColumns("", ""))
}

// fires is the table of the fire declarations of one noun.
func fires[P any](parent *noun[P], name, parentID string, at func(*P) *[]catalog.FireDeclaration) table {
	type r = catalog.FireDeclaration
	return listOf(parent, name, "Fire classes word for word as they were declared; never derived or converted.", parentID, "/fire_declarations", at,
		columns([]column[r]{
			text("subject", "What was declared: fill, fabric, frame, adhesive or whole_panel.", func(x *r) *string { return &x.Subject }).need(),
			text("scheme", "The scheme of the class; no scheme converts into another.", func(x *r) *catalog.FireScheme { return &x.Scheme }).need(),
			text("code", "The class.", func(x *r) *string { return &x.Code }),
		},
			part(func(x *r) **int { return &x.FlameSpread }, whole("flame_spread_index", "Index of ASTM E84.", func(n *int) *int { return n })),
			part(func(x *r) **int { return &x.SmokeDeveloped }, whole("smoke_developed_index", "Index of ASTM E84.", func(n *int) *int { return n })),
			[]column[r]{
				text("edition", "Edition of the standard.", func(x *r) *string { return &x.Edition }),
				text("report_ref", "Number of the report.", func(x *r) *string { return &x.Report }),
				text("laboratory", "Who tested.", func(x *r) *string { return &x.Laboratory }),
				text("end_use", "Substrate, air gap, fixing and face tested.", func(x *r) *string { return &x.EndUse }),
				text("durability", "Whether the class is inherent or from a treatment.", func(x *r) *string { return &x.Durability }).need(),
				text("evidence", "report_seen, maker_statement or hearsay.", func(x *r) *string { return &x.Evidence }).need(),
				reference("source_id", "The source of the declaration.", "sources", func(x *r) *catalog.ID { return &x.SourceID }).need(),
			}))
}

func testTable() noun[catalog.AbsorptionTest] {
	type r = catalog.AbsorptionTest
	meta := func(x *r) *catalog.Meta { return &x.Meta }
	return noun[r]{
		name: "absorption_tests", about: "Measured diffuse-field absorption of bare fills; the coefficients stand in absorption_test_bands.", kind: catalog.NounTest, id: func(x *r) *catalog.ID { return &x.ID }, meta: meta, freeName: true,
		list: func(s *catalog.Snapshot) *[]r { return &s.Tests },
		columns: columns(metaColumns(catalog.NounTest, meta), []column[r]{
			reference("fill_id", "The fill that was measured.", "fills", func(x *r) *catalog.ID { return &x.FillID }).need(),
			text("standard", "The method.", func(x *r) *catalog.TestStandard { return &x.Standard }).need(),
			text("mounting_type", "Letter of the mounting (ASTM E795, ISO 354 annex B), or unknown.", func(x *r) *catalog.Mounting { return &x.Mounting }).need(),
			numberIf("mounting_suffix_mm", "Number behind the letter in millimetres.", func(x *r) *units.Length { return &x.MountingSuffix }),
			number("thickness_mm", "Thickness of the specimen in millimetres.", func(x *r) *units.Length { return &x.Thickness }),
			number("air_gap_mm", "Air behind the specimen in millimetres, 0 for none.", func(x *r) *units.Length { return &x.AirGap }),
			numberIf("density_kg_per_m3", "Density of the specimen in kg per cubic metre.", func(x *r) *units.Density { return &x.Density }),
			basisColumn(func(x *r) *bands.Curve { return &x.Alpha }).need(),
			flag("capped_at_one", "Whether the source prints no value above 1.00.", func(x *r) *bool { return &x.CappedAtOne }),
			text("evidence", "How the coefficients came to be known.", func(x *r) *catalog.Evidence { return &x.Evidence }).need(),
			plain("use", "normal, preferred (before others that fit as well) or set_aside (never used); normal when empty.", textKind,
				func(x *r) string { return x.Use.Word() },
				func(x *r, s string) (string, string) { x.Use = catalog.UseOf(s); return "", "" }).from(2),
			text("use_note", "Why it is preferred or set aside.", func(x *r) *string { return &x.UseNote }).from(2),
			sourceColumn(func(x *r) *catalog.ID { return &x.SourceID }), noteColumn(func(x *r) *string { return &x.Note }),
		}),
		validate: func(x r, _ catalog.Date) error { return x.Validate() },
	}
}

func basisColumn[R any](at func(*R) *bands.Curve) column[R] {
	return text("band_basis", "Whether the coefficients are of third_octave or octave bands.", func(x *R) *bands.Basis { return &at(x).Basis })
}

func fabricTable() noun[catalog.Fabric] {
	type r = catalog.Fabric
	type air = catalog.Permeability
	meta := func(x *r) *catalog.Meta { return &x.Meta }
	return noun[r]{
		name: "fabrics", about: "Coverings through which sound must pass.", kind: catalog.NounFabric, id: func(x *r) *catalog.ID { return &x.ID }, meta: meta,
		list: func(s *catalog.Snapshot) *[]r { return &s.Fabrics },
		columns: columns(metaColumns(catalog.NounFabric, meta), []column[r]{
			number("roll_width_mm", "Width of the roll in millimetres.", func(x *r) *units.Length { return &x.RollWidth }),
			number("selvedge_mm", "Unusable edge on each side in millimetres.", func(x *r) *units.Length { return &x.Selvedge }),
		},
			figure("surface_mass", "kg_per_m2", "Mass in kg per square metre.", "/surface_mass_kg_per_m2", func(x *r) **catalog.Figure[units.SurfaceMass] { return &x.SurfaceMass }),
			figure("flow_resistance", "pa_s_per_m", "Stated airflow resistance in Pa s per metre.", "/flow_resistance_pa_s_per_m", func(x *r) **catalog.Figure[units.AirflowResistance] { return &x.Resistance }),
			part(func(x *r) **air { return &x.Permeability },
				number("air_velocity_mm_per_s", "Air permeability as a velocity in mm/s, which is also l/(m2 s).", func(p *air) *float64 { return &p.Velocity }).under("/air_permeability/velocity_mm_per_s"),
				number("air_pressure_pa", "Test pressure of the air permeability in Pa.", func(p *air) *float64 { return &p.Pressure }).under("/air_permeability/pressure_pa"),
				text("air_evidence", "How the air permeability came to be known.", func(p *air) *catalog.Evidence { return &p.Evidence }).under("/air_permeability/evidence"),
				reference("air_source_id", "The source of the air permeability.", "sources", func(p *air) *catalog.ID { return &p.SourceID }).under("/air_permeability/source_id")),
			[]column[r]{
				flag("directional", "Whether pieces may not be turned.", func(x *r) *bool { return &x.Directional }),
				text("stretch", "How much it gives.", func(x *r) *catalog.Stretch { return &x.Stretch }).need(),
				sourceColumn(func(x *r) *catalog.ID { return &x.SourceID }), noteColumn(func(x *r) *string { return &x.Note }),
			}),
		validate: func(x r, _ catalog.Date) error { return x.Validate() },
	}
}

func partTable() noun[catalog.Part] {
	type r = catalog.Part
	meta := func(x *r) *catalog.Meta { return &x.Meta }
	return noun[r]{
		name: "parts", about: "Whatever a panel needs besides fill and fabric.", kind: catalog.NounPart, id: func(x *r) *catalog.ID { return &x.ID }, meta: meta,
		list: func(s *catalog.Snapshot) *[]r { return &s.Parts },
		columns: columns(metaColumns(catalog.NounPart, meta), []column[r]{
			text("kind", "Kind of part.", func(x *r) *catalog.PartKind { return &x.Kind }).need(),
			text("role", "What it does in or for a panel.", func(x *r) *catalog.Role { return &x.Role }).need(),
			numberIf("section_thickness_mm", "Thickness of timber and boards in millimetres.", func(x *r) *units.Length { return &x.SectionThickness }),
			numberIf("section_width_mm", "Width of timber in millimetres.", func(x *r) *units.Length { return &x.SectionWidth }),
		},
			figure("density", "kg_per_m3", "Density in kg per cubic metre.", "/density_kg_per_m3", func(x *r) **catalog.Figure[units.Density] { return &x.Density }),
			figure("unit_mass", "kg", "Mass of one piece in kg.", "/unit_mass_kg", func(x *r) **catalog.Figure[units.Mass] { return &x.UnitMass }),
			figure("working_load", "kg", "Working load limit in kg.", "/working_load_kg", func(x *r) **catalog.Figure[units.Mass] { return &x.WorkingLoad }),
			[]column[r]{
				wholeIf("uses_per_unit_count", "Wearings of one unit of protective equipment before it is spent.", func(x *r) *int { return &x.UsesPerUnit }),
				sourceColumn(func(x *r) *catalog.ID { return &x.SourceID }), noteColumn(func(x *r) *string { return &x.Note }),
			}),
		validate: func(x r, _ catalog.Date) error { return x.Validate() },
	}
}

func stockLengths(parent *noun[catalog.Part]) table {
	return listOf(parent, "part_stock_lengths", "Lengths in which timber is sold.", "part_id", "/stock_lengths_mm",
		func(p *catalog.Part) *[]units.Length { return &p.StockLengths },
		[]column[units.Length]{number("length_mm", "Length in millimetres.", func(l *units.Length) *units.Length { return l }).under("")})
}

func readyMadeTable() noun[catalog.ReadyMadePanel] {
	type r = catalog.ReadyMadePanel
	meta := func(x *r) *catalog.Meta { return &x.Meta }
	return noun[r]{
		name: "ready_made_panels", about: "Panels that one would buy instead of building; coefficients stand in ready_made_panel_bands.", kind: catalog.NounReadyMade, id: func(x *r) *catalog.ID { return &x.ID }, meta: meta,
		list: func(s *catalog.Snapshot) *[]r { return &s.ReadyMade },
		columns: columns(metaColumns(catalog.NounReadyMade, meta), []column[r]{
			number("width_mm", "Width in millimetres.", func(x *r) *units.Length { return &x.Width }),
			number("height_mm", "Height in millimetres.", func(x *r) *units.Length { return &x.Height }),
			number("depth_mm", "Depth in millimetres.", func(x *r) *units.Length { return &x.Depth }),
		},
			figure("mass", "kg", "Mass in kg.", "/mass_kg", func(x *r) **catalog.Figure[units.Mass] { return &x.Mass }),
			[]column[r]{
				basisColumn(func(x *r) *bands.Curve { return &x.Alpha }).under("/absorption/band_basis"),
				text("absorption_evidence", "How the coefficients came to be known.", func(x *r) *catalog.Evidence { return &x.AlphaEvidence }).under("/absorption/evidence"),
				reference("absorption_source_id", "The source of the coefficients.", "sources", func(x *r) *catalog.ID { return &x.AlphaSourceID }).under("/absorption/source_id"),
				text("mounting_type", "Letter of the mounting of the test, or unknown.", func(x *r) *catalog.Mounting { return &x.Mounting }).under("/absorption/mounting_type"),
				sourceColumn(func(x *r) *catalog.ID { return &x.SourceID }), noteColumn(func(x *r) *string { return &x.Note }),
			}),
		validate: func(x r, _ catalog.Date) error { return x.Validate() },
	}
}
