package api

import (
	"context"

	"sabinbook/internal/catalog"
	"sabinbook/internal/rooms"
)

func (s *Server) rooms() *noun[catalog.Room, Room] {
	return &noun[catalog.Room, Room]{path: "/v1/rooms/", schema: "Room",
		meta: func(r catalog.Room) catalog.Meta { return r.Meta }, decode: decodeRoomRecord, rules: rooms.Validate, encode: encodeRoomRecord,
		add: s.store.AddRoom, read: s.store.Room, replace: s.store.ReplaceRoom, remove: s.store.DeleteRoom, restore: s.store.RestoreRoom, of: catalog.NounRoom, find: s.store.Meta}
}

// decodeRoomRecord reads a room as a question about it is read.
func decodeRoomRecord(v *catalog.Faults, w Room) catalog.Room {
	q := roomOf(v, "", RoomQuestion{Room: &w.Room, Surfaces: w.Surfaces, Things: w.Things, Air: w.Air, DecayTimes: w.DecayTimes, Target: w.Target})
	r := catalog.Room{Meta: decodeMeta(w.Slug, w.Name), Sides: q.Sides, Volume: q.Volume, Surfaces: q.Surfaces, Things: q.Things, Measured: q.Measured,
		SourceID: catalog.ID(w.SourceID), Note: orZero(w.Note)}
	if w.Air != nil {
		r.Air = place(catalog.RoomAir(q.Air))
	}
	if w.Target != nil {
		r.Target = &catalog.RoomTarget{Rule: string(q.Rule), Group: q.Group, Time: q.Time, From: q.From, To: q.To}
	}
	return r
}

func encodeRoomRecord(r catalog.Room) Room {
	m, q := encodeMeta(r.Meta), encodeRoomQuestion(rooms.Of(r))
	w := Room{
		ID: m.id, Slug: string(r.Slug), Name: r.Name,
		Room: *q.Room, Surfaces: q.Surfaces, Things: q.Things, DecayTimes: q.DecayTimes,
		SourceID: string(r.SourceID), Note: known(r.Note),
		Revision: m.revision, CreateTime: m.created, UpdateTime: m.updated, UpdatedBy: m.by, CreatedBy: m.maker,
	}
	if r.Air != nil {
		w.Air = q.Air
	}
	if r.Target != nil {
		w.Target = q.Target
	}
	return w
}

// ListRooms answers GET /v1/rooms.
func (s *Server) ListRooms(ctx context.Context, _ ListRoomsRequestObject) (ListRoomsResponseObject, error) {
	p, err := pageOf(ctx, s.store.Rooms, encodeRoomRecord)
	return ListRooms200JSONResponse{RoomPageJSONResponse{RoomList{Items: p.items, Next: p.next, TotalCount: p.total}, RoomPageResponseHeaders{Link: p.link}}}, err
}

// CreateRoom answers POST /v1/rooms.
func (s *Server) CreateRoom(ctx context.Context, in CreateRoomRequestObject) (CreateRoomResponseObject, error) {
	it, err := s.rooms().create(ctx, *in.Body, "")
	return CreateRoom201JSONResponse{RoomCreatedJSONResponse{it.body, RoomCreatedResponseHeaders{ETag: it.tag, Location: it.location}}}, err
}

// GetRoom answers GET /v1/rooms/{id}.
func (s *Server) GetRoom(ctx context.Context, in GetRoomRequestObject) (GetRoomResponseObject, error) {
	it, err := s.rooms().get(ctx, in.ID)
	return GetRoom200JSONResponse{RoomItemJSONResponse{it.body, RoomItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}

// ReplaceRoom answers PUT /v1/rooms/{id}.
func (s *Server) ReplaceRoom(ctx context.Context, in ReplaceRoomRequestObject) (ReplaceRoomResponseObject, error) {
	it, err := s.rooms().put(ctx, in.ID, in.Params.IfMatch, *in.Body)
	return ReplaceRoom200JSONResponse{RoomItemJSONResponse{it.body, RoomItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}

// PatchRoom answers PATCH /v1/rooms/{id}.
func (s *Server) PatchRoom(ctx context.Context, in PatchRoomRequestObject) (PatchRoomResponseObject, error) {
	it, err := s.rooms().patch(ctx, s, in.ID, in.Params.IfMatch, *in.Body)
	return PatchRoom200JSONResponse{RoomItemJSONResponse{it.body, RoomItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}

// DeleteRoom answers DELETE /v1/rooms/{id}.
func (s *Server) DeleteRoom(ctx context.Context, in DeleteRoomRequestObject) (DeleteRoomResponseObject, error) {
	return DeleteRoom204Response{}, s.rooms().delete(ctx, in.ID, in.Params.IfMatch)
}

// RestoreRoom answers POST /v1/rooms/{id}/restore.
func (s *Server) RestoreRoom(ctx context.Context, in RestoreRoomRequestObject) (RestoreRoomResponseObject, error) {
	it, err := s.rooms().bringBack(ctx, in.ID)
	return RestoreRoom200JSONResponse{RoomItemJSONResponse{it.body, RoomItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}
