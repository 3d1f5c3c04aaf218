package api

import (
	"context"
	"fmt"
	"slices"

	"github.com/oapi-codegen/runtime"

	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
	"sabinbook/internal/reverb"
	"sabinbook/internal/rooms"
)

// EstimateRoom answers POST /v1/room-estimates.
func (s *Server) EstimateRoom(ctx context.Context, in EstimateRoomRequestObject) (EstimateRoomResponseObject, error) {
	w, revision := *in.Body, int64(0)
	var rests *[]SourceRef
	if w.StoredRoom != nil {
		stock, err := s.snapshot(ctx)
		if err != nil {
			return nil, err
		}
		v := &catalog.Faults{}
		w, _ = withStoredRoom(v, stock, w, "")
		if err := v.Err(); err != nil {
			return nil, err
		}
		revision = stock.Revision
		if r, ok := named(stock.Rooms, *in.Body.StoredRoom, func(r catalog.Room) catalog.Meta { return r.Meta }); ok {
			rests = place(sourcesOf(stock, r.SourceID))
		}
	}
	q, err := decodeRoom(w)
	if err != nil {
		return nil, err
	}
	answer := encodeRoom(w, q, q.Answer())
	answer.Sources = rests
	answer.CatalogRevision = knownAs(revision, func(n int64) int64 { return n })
	return EstimateRoom200JSONResponse{RoomAnswerJSONResponse{Body: answer}}, nil
}

// sourcesOf lists the sources with the ids, in the order of the snapshot.
func sourcesOf(stock catalog.Snapshot, ids ...catalog.ID) []SourceRef {
	list := []SourceRef{}
	for _, s := range stock.Sources {
		if slices.Contains(ids, s.ID) {
			list = append(list, encodeSourceRef(s))
		}
	}
	return list
}

// ListRoomMaterials answers GET /v1/room-materials.
func (s *Server) ListRoomMaterials(context.Context, ListRoomMaterialsRequestObject) (ListRoomMaterialsResponseObject, error) {
	var out RoomMaterialList
	for _, m := range rooms.Materials() {
		w := RoomMaterial{Name: m.Name, Category: m.Category, Description: m.Description, Mounting: known(m.Mounting), Credit: known(m.Credit),
			Source: m.Source, Licence: m.Licence, Remarks: known(m.Remarks)}
		if m.PerThing {
			w.Areas = encodeAreas(&m.Alpha)
		} else {
			w.Alpha = encodeAlphas(&m.Alpha)
		}
		out.Items = append(out.Items, w)
	}
	return ListRoomMaterials200JSONResponse{RoomMaterialsJSONResponse{Body: out}}, nil
}

// checkRoom is the check of a question that breaks the contract elsewhere.
func (s *Server) checkRoom(value any) []fault {
	var w RoomQuestion
	if runtime.BindJSONValue(value, &w) != nil || w.StoredRoom != nil { // it is not looked up for a question that is refused anyway
		return nil
	}
	_, err := decodeRoom(w)
	return faultsIn(err)
}

// decodeRoom decodes a question and applies its rules; the error names all faults.
func decodeRoom(w RoomQuestion) (rooms.Question, error) {
	v := &catalog.Faults{}
	q := roomOf(v, "", w)
	targeted(v, "", w)
	return q, joined(v.Err(), q.Validate())
}

// targeted records a fault when a question has no target.
func targeted(v *catalog.Faults, at string, w RoomQuestion) {
	if w.Target == nil {
		v.Add(at+"/target", "required", "is missing", "give a rule, like {\"rule\": \"own\", \"time_s\": 0.6}, or a stored_room that has one")
	}
}

// roomOf decodes a question whose faults lie below a pointer.
func roomOf(v *catalog.Faults, at string, w RoomQuestion) rooms.Question {
	q := rooms.Question{Air: reverb.StandardAir(), From: rooms.DefaultFrom, To: rooms.DefaultTo}
	if w.Room == nil {
		v.Add(at+"/room", "required", "is missing", "give length_m, width_m and height_m of a box, its volume_m3, or the stored_room")
	} else {
		q.Volume, q.Sides = orZero(w.Room.VolumeM3), [3]float64{orZero(w.Room.LengthM), orZero(w.Room.WidthM), orZero(w.Room.HeightM)}
		if q.Box() && w.Room.VolumeM3 != nil {
			v.Add(at+"/room/volume_m3", "not_applicable", "follows from the sides of a box", "leave it out, or leave the sides out")
		}
	}
	for i, s := range orZero(w.Surfaces) {
		if s.AreaM2 != nil && *s.AreaM2 == 0 {
			v.Add(fmt.Sprintf("%s/surfaces/%d/area_m2", at, i), "out_of_range", "must be above 0 m²", "leave it out for all that is left of the face")
		}
		q.Surfaces = append(q.Surfaces, rooms.Surface{Face: rooms.Face(orZero(s.Face)), Area: orZero(s.AreaM2), Material: orZero(s.Material), Own: decodeAlphas(s.Alpha)})
	}
	for _, t := range orZero(w.Things) {
		q.Things = append(q.Things, rooms.Thing{Material: orZero(t.Material), Own: decodeAreas(t.Areas), Count: count(t.Count)})
	}
	if a := w.Air; a != nil {
		as := func(x float64) float64 { return x }
		q.Air = reverb.Air{Temperature: or(a.TemperatureC, as, q.Air.Temperature), Humidity: or(a.HumidityPercent, as, q.Air.Humidity), Pressure: or(a.PressureKpa, as, q.Air.Pressure)}
	}
	q.Measured = decodeTimes(w.DecayTimes)
	if t := w.Target; t != nil {
		q.Rule, q.Group, q.Time = reverb.Rule(t.Rule), orZero(t.Group), orZero(t.TimeS)
		q.From, q.To = or(t.FromHz, count, q.From), or(t.ToHz, count, q.To)
	}
	if p := w.Panels; p != nil {
		v.Within(at+"/panels/width_mm", p.WidthMm, 100, 3000, "mm", "give millimetres, e.g. 600")
		v.Within(at+"/panels/height_mm", p.HeightMm, 100, 3000, "mm", "give millimetres, e.g. 1200")
		q.Panels = &rooms.Panels{Count: or(p.Count, count, 0), Face: p.WidthMm * p.HeightMm / 1e6, Alpha: *decodeAlphas(&p.Alpha), Low: decodeAlphas(p.LowAlpha), High: decodeAlphas(p.HighAlpha),
			On: rooms.Face(orZero(p.On)), Most: or(p.MostCount, count, 0)}
	}
	if p := w.Placement; p != nil {
		q.Placement = &rooms.Placement{Source: decodePoint(p.Source), Listeners: listOf(&p.Listeners, decodePoint)}
	}
	return q
}

func decodePoint(p RoomPoint) [3]float64 { return [3]float64{p.XM, p.YM, p.ZM} }

func encodePoint(p [3]float64) RoomPoint {
	return RoomPoint{XM: rounded(p[0], 3), YM: rounded(p[1], 3), ZM: rounded(p[2], 3)}
}

// alphaMembers, areaMembers and timeMembers list the places of six octaves.
func alphaMembers(w *OctaveAlphas) [bands.OctaveCount]*float64 {
	return [bands.OctaveCount]*float64{&w.Alpha125Hz, &w.Alpha250Hz, &w.Alpha500Hz, &w.Alpha1000Hz, &w.Alpha2000Hz, &w.Alpha4000Hz}
}

func areaMembers(w *OctaveAreas) [bands.OctaveCount]*float64 {
	return [bands.OctaveCount]*float64{&w.Area125HzM2, &w.Area250HzM2, &w.Area500HzM2, &w.Area1000HzM2, &w.Area2000HzM2, &w.Area4000HzM2}
}

func timeMembers(w *OctaveTimes) [bands.OctaveCount]*float64 {
	return [bands.OctaveCount]*float64{&w.Time125HzS, &w.Time250HzS, &w.Time500HzS, &w.Time1000HzS, &w.Time2000HzS, &w.Time4000HzS}
}

// sixOf reads six octaves, and sixTo writes them.
func sixOf[W any](w *W, members func(*W) [bands.OctaveCount]*float64) *rooms.Octaves {
	if w == nil {
		return nil
	}
	var out rooms.Octaves
	for i, p := range members(w) {
		out[i] = *p
	}
	return &out
}

func sixTo[W any](x *rooms.Octaves, members func(*W) [bands.OctaveCount]*float64) *W {
	if x == nil {
		return nil
	}
	w := new(W)
	for i, p := range members(w) {
		*p = x[i]
	}
	return w
}

func decodeAlphas(w *OctaveAlphas) *rooms.Octaves { return sixOf(w, alphaMembers) }
func decodeAreas(w *OctaveAreas) *rooms.Octaves   { return sixOf(w, areaMembers) }
func decodeTimes(w *OctaveTimes) *rooms.Octaves   { return sixOf(w, timeMembers) }
func encodeAlphas(x *rooms.Octaves) *OctaveAlphas { return sixTo(x, alphaMembers) }
func encodeAreas(x *rooms.Octaves) *OctaveAreas   { return sixTo(x, areaMembers) }
func encodeTimes(x *rooms.Octaves) *OctaveTimes   { return sixTo(x, timeMembers) }
