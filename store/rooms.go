package store

import (
	"context"

	"sabinbook/internal/catalog"
)

var rooms = &noun[catalog.Room]{
	Noun: catalog.NounRoom, table: "room",
	columns: "length_m, width_m, height_m, volume_m3, air_temperature_c, air_humidity_percent, air_pressure_kpa, " +
		"time_125_hz_s, time_250_hz_s, time_500_hz_s, time_1000_hz_s, time_2000_hz_s, time_4000_hz_s, " +
		"target_rule, target_group, target_time_s, target_from_hz, target_to_hz, source_id, note",
	meta: func(r *catalog.Room) *catalog.Meta { return &r.Meta },
	row: func(r *catalog.Room) []any {
		air, target := whole(&r.Air), whole(&r.Target)
		row := []any{&r.Sides[0], &r.Sides[1], &r.Sides[2], &r.Volume,
			optional[float64]{within(air, func(a *catalog.RoomAir) *float64 { return &a.Temperature })},
			optional[float64]{within(air, func(a *catalog.RoomAir) *float64 { return &a.Humidity })},
			optional[float64]{within(air, func(a *catalog.RoomAir) *float64 { return &a.Pressure })}}
		row = append(row, octaveColumns(&r.Measured)...)
		return append(row,
			optional[string]{within(target, func(t *catalog.RoomTarget) *string { return &t.Rule })},
			optional[string]{within(target, func(t *catalog.RoomTarget) *string { return &t.Group })},
			optional[float64]{within(target, func(t *catalog.RoomTarget) *float64 { return &t.Time })},
			optional[int]{within(target, func(t *catalog.RoomTarget) *int { return &t.From })},
			optional[int]{within(target, func(t *catalog.RoomTarget) *int { return &t.To })},
			&r.SourceID, &r.Note)
	},
	lists: []list[catalog.Room]{
		listOf("room_surface", "face, area_m2, material, alpha_125_hz, alpha_250_hz, alpha_500_hz, alpha_1000_hz, alpha_2000_hz, alpha_4000_hz",
			func(r *catalog.Room) *[]catalog.RoomSurface { return &r.Surfaces },
			func(s *catalog.RoomSurface) []any {
				return append([]any{&s.Face, &s.Area, &s.Material}, octaveColumns(&s.Own)...)
			}),
		listOf("room_thing", "material, thing_count, area_125_hz_m2, area_250_hz_m2, area_500_hz_m2, area_1000_hz_m2, area_2000_hz_m2, area_4000_hz_m2",
			func(r *catalog.Room) *[]catalog.RoomThing { return &r.Things },
			func(t *catalog.RoomThing) []any {
				return append([]any{&t.Material, &t.Count}, octaveColumns(&t.Own)...)
			}),
	},
	links: func(r *catalog.Room) []link { return []link{sourceLink("/source_id", &r.SourceID)} },
	fields: withCommon(map[string]field{
		"length_m":  own(number, "room.length_m"),
		"volume_m3": own(number, "room.volume_m3"),
	}),
}

// octaveColumns are the columns of six octaves that may be absent together.
func octaveColumns(at **catalog.Octaves) []any {
	six := whole(at)
	columns := make([]any, len(catalog.Octaves{}))
	for i := range columns {
		columns[i] = optional[float64]{within(six, func(o *catalog.Octaves) *float64 { return &o[i] })}
	}
	return columns
}

// AddRoom stores a new room; by is who adds it. Slugs of other records in it become ids. An
// id is made unless one is given.
func (s *Store) AddRoom(ctx context.Context, by string, r catalog.Room) (catalog.Room, error) {
	return rooms.add(ctx, s, by, r)
}

// Room returns the room that is called ref: an id, a slug or a former slug.
func (s *Store) Room(ctx context.Context, ref string) (catalog.Room, error) {
	return rooms.get(ctx, s, ref)
}

// Rooms returns a page of the rooms.
func (s *Store) Rooms(ctx context.Context, q catalog.Query) (catalog.Page[catalog.Room], error) {
	return rooms.list(ctx, s, q)
}

// ReplaceRoom stores r in the place of the room ref, which must be at the given revision;
// 0 stands for any. A new slug leaves the old one leading to the record.
func (s *Store) ReplaceRoom(ctx context.Context, by, ref string, revision int64, r catalog.Room) (catalog.Room, error) {
	return rooms.replace(ctx, s, by, ref, revision, r)
}

// DeleteRoom marks the room ref as deleted. It can be restored.
func (s *Store) DeleteRoom(ctx context.Context, by, ref string, revision int64) error {
	return rooms.remove(ctx, s, by, ref, revision)
}

// RestoreRoom brings a deleted room back. What it refers to must not be deleted.
func (s *Store) RestoreRoom(ctx context.Context, by, ref string) (catalog.Room, error) {
	return rooms.restore(ctx, s, by, ref)
}
