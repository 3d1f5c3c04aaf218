package exchange

import (
	"fmt"

	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
	"sabinbook/internal/panels"
	"sabinbook/internal/rooms"
	"sabinbook/internal/units"
)

func designTable() noun[catalog.Design] {
	type r = catalog.Design
	meta := func(x *r) *catalog.Meta { return &x.Meta }
	return noun[r]{
		name: "designs", about: "Panels without fill and fabric, kept under a name; parts stand in design_parts.", kind: catalog.NounDesign, id: func(x *r) *catalog.ID { return &x.ID }, meta: meta,
		list: func(s *catalog.Snapshot) *[]r { return &s.Designs },
		columns: columns(metaColumns(catalog.NounDesign, meta), []column[r]{
			number("width_mm", "Width of the face in millimetres.", func(x *r) *units.Length { return &x.Width }),
			number("height_mm", "Height of the face in millimetres.", func(x *r) *units.Length { return &x.Height }),
			number("wrap_turn_mm", "Fabric turned in behind the frame on each side, in millimetres.", func(x *r) *units.Length { return &x.Turn }),
			text("back", "How the back is covered: as_needed, open or wrapped.", func(x *r) *string { return &x.Back }).need(),
			number("back_margin_mm", "How far the piece that covers the back goes beyond the panel, in millimetres; negative when it ends inside.", func(x *r) *units.Length { return &x.BackMargin }),
			number("fill_oversize_mm", "What pieces of fill are cut larger than their space, in millimetres.", func(x *r) *units.Length { return &x.Oversize }),
			text("joint", "Corners of the frame: butt, mitre or half_lap.", func(x *r) *string { return &x.Joint }).need(),
			whole("braces_count", "Braces across a panel.", func(x *r) *int { return &x.Braces }),
			whole("stand_offs_count", "Stand-offs of a panel that hangs away from the wall.", func(x *r) *int { return &x.StandOffs }),
			noteColumn(func(x *r) *string { return &x.Note }),
		}),
		validate: func(x r, _ catalog.Date) error { return panels.Validate(x) },
	}
}

func designParts(parent *noun[catalog.Design]) table {
	type r = catalog.DesignPart
	return listOf(parent, "design_parts", "Parts on each panel of a design.", "design_id", "/parts", func(d *catalog.Design) *[]r { return &d.Parts },
		[]column[r]{
			text("role", "What the part does.", func(x *r) *catalog.Role { return &x.Role }).need(),
			whole("part_count", "How many are on one panel.", func(x *r) *int { return &x.Count }).under("/count"),
		})
}

// octaves are the columns of six octaves, all known or none; form makes a name of a frequency.
func octaves[R any](form, about, pointer string, at func(*R) **catalog.Octaves) []column[R] {
	var list []column[catalog.Octaves]
	for i := range bands.OctaveCount {
		name := fmt.Sprintf(form, bands.OctaveBand(i).Nominal())
		list = append(list, number(name, fmt.Sprintf("%s at %d Hz.", about, bands.OctaveBand(i).Nominal()), func(o *catalog.Octaves) *float64 { return &o[i] }).under(pointer+"/"+name))
	}
	return part(at, list...)
}

func roomTable() noun[catalog.Room] {
	type r = catalog.Room
	type target = catalog.RoomTarget
	meta := func(x *r) *catalog.Meta { return &x.Meta }
	side := func(i int) func(*r) *float64 { return func(x *r) *float64 { return &x.Sides[i] } }
	return noun[r]{
		name: "rooms", about: "Rooms in which panels are hung; what bounds and fills them stands in room_surfaces and room_things.", kind: catalog.NounRoom, id: func(x *r) *catalog.ID { return &x.ID }, meta: meta,
		list: func(s *catalog.Snapshot) *[]r { return &s.Rooms },
		columns: columns(metaColumns(catalog.NounRoom, meta), []column[r]{
			numberIf("length_m", "Length of a box in metres; empty for another room.", side(0)).under("/room/length_m"),
			numberIf("width_m", "Width of a box in metres.", side(1)).under("/room/width_m"),
			numberIf("height_m", "Height of a box in metres.", side(2)).under("/room/height_m"),
			numberIf("volume_m3", "Volume of a room that is no box, in cubic metres.", func(x *r) *float64 { return &x.Volume }).under("/room/volume_m3"),
		},
			part(func(x *r) **catalog.RoomAir { return &x.Air },
				number("air_temperature_c", "Temperature of the air in degrees Celsius.", func(a *catalog.RoomAir) *float64 { return &a.Temperature }).under("/air/temperature_c"),
				number("air_humidity_percent", "Relative humidity in per cent.", func(a *catalog.RoomAir) *float64 { return &a.Humidity }).under("/air/humidity_percent"),
				number("air_pressure_kpa", "Pressure of the air in kilopascals.", func(a *catalog.RoomAir) *float64 { return &a.Pressure }).under("/air/pressure_kpa")),
			octaves("time_%d_hz_s", "Measured decay time by 60 dB in seconds", "/decay_times", func(x *r) **catalog.Octaves { return &x.Measured }),
			part(func(x *r) **target { return &x.Target },
				text("target_rule", "The rule of the decay time that is wanted.", func(t *target) *string { return &t.Rule }).under("/target/rule").need(),
				text("target_group", "Group of DIN 18041.", func(t *target) *string { return &t.Group }).under("/target/group"),
				numberIf("target_time_s", "Decay time of an own target in seconds.", func(t *target) *float64 { return &t.Time }).under("/target/time_s"),
				whole("target_from_hz", "Lowest octave that counts, in Hz.", func(t *target) *int { return &t.From }).under("/target/from_hz"),
				whole("target_to_hz", "Highest octave that counts, in Hz.", func(t *target) *int { return &t.To }).under("/target/to_hz")),
			[]column[r]{sourceColumn(func(x *r) *catalog.ID { return &x.SourceID }), noteColumn(func(x *r) *string { return &x.Note })}),
		validate: func(x r, _ catalog.Date) error { return rooms.Validate(x) },
	}
}

func roomSurfaces(parent *noun[catalog.Room]) table {
	type r = catalog.RoomSurface
	return listOf(parent, "room_surfaces", "What bounds rooms: by the name of a published surface, or with coefficients of its own.", "room_id", "/surfaces",
		func(x *catalog.Room) *[]r { return &x.Surfaces },
		columns([]column[r]{
			text("face", "Of a box: floor, ceiling or walls.", func(x *r) *catalog.Face { return &x.Face }),
			numberIf("area_m2", "Area in square metres; empty for all that others leave of the face.", func(x *r) *float64 { return &x.Area }),
			text("material", "Name of a published surface.", func(x *r) *string { return &x.Material }),
		}, octaves("alpha_%d_hz", "Absorption coefficient", "/alpha", func(x *r) **catalog.Octaves { return &x.Own })))
}

func roomThings(parent *noun[catalog.Room]) table {
	type r = catalog.RoomThing
	return listOf(parent, "room_things", "Furnishings of rooms and people in them: by a published name, or with areas of their own.", "room_id", "/things",
		func(x *catalog.Room) *[]r { return &x.Things },
		columns([]column[r]{
			text("material", "Name of a published person or seat.", func(x *r) *string { return &x.Material }),
			whole("thing_count", "How many there are.", func(x *r) *int { return &x.Count }).under("/count"),
		}, octaves("area_%d_hz_m2", "Absorption area of one of them in square metres", "/areas", func(x *r) **catalog.Octaves { return &x.Own })))
}
