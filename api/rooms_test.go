package api_test

import (
	"encoding/json"
	"net/http"
	"strconv"
	"testing"

	"sabinbook/store/storetest"
)

const lanternRoom = `{"room":{"length_m":6.2,"width_m":4.4,"height_m":2.7},
	"surfaces":[{"face":"ceiling","material":"concrete-smooth-painted-or-glazed"},{"face":"floor","material":"wood-floor-on-joists"},{"face":"walls","material":"plaster-painted"},
		{"face":"walls","area_m2":3.36,"material":"ordinary-window-glass"},{"face":"walls","area_m2":1.8,"material":"solid-timber-door"}],
	"things":[{"material":"one-seated-person","count":6}],"target":{"rule":"own","time_s":0.6},
	"panels":{"count":10,"width_mm":600,"height_mm":1200,"on":"walls","alpha":{"alpha_125_hz":0.17,"alpha_250_hz":0.59,"alpha_500_hz":0.95,"alpha_1000_hz":0.99,"alpha_2000_hz":0.98,"alpha_4000_hz":0.97}},
	"placement":{"source":{"x_m":1,"y_m":1,"z_m":1.2},"listeners":[{"x_m":3.5,"y_m":1.5,"z_m":1.2}]}}`

// The room of package rooms' test over HTTP; the echo answers the same, and no store is asked.
func TestRoomEstimate(t *testing.T) {
	s := serve(t, quiet{})
	r := s.must(http.StatusOK, s.send(http.MethodPost, "/v1/room-estimates", lanternRoom))
	for want, got := range map[any]any{
		1.68: r.value(t, "octaves", 3, "before", "sabine_s"), 0.844: r.value(t, "octaves", 3, "after", "sabine_s"), 19.0: r.value(t, "octaves", 3, "least_count"),
		73.656: r.value(t, "volume_m3"), 79.0: r.value(t, "room_for_count"), 27.7: r.value(t, "modes", 0, "frequency_hz"),
	} {
		if got != want {
			t.Errorf("%v, want %v", got, want)
		}
	}
	codes := map[any]bool{}
	for i := 0; r.value(t, "notes", i) != nil; i++ {
		codes[r.value(t, "notes", i, "code")] = true
	}
	for _, code := range []string{"absorption_is_not_isolation", "below_schroeder", "target_is_a_choice"} {
		if !codes[code] {
			t.Errorf("no note %s in %v", code, codes)
		}
	}
	inputs, _ := json.Marshal(r.value(t, "inputs"))
	if again := s.must(http.StatusOK, s.send(http.MethodPost, "/v1/room-estimates", string(inputs))); string(again.body) != string(r.body) {
		t.Errorf("the echo answers otherwise: %s", again.body)
	}
}

// Where the number of panels comes from the room, every option has the least number that brings the
// room within its target: with it all asked octaves are within, with one less one is not.
func TestNumberFromTheRoom(t *testing.T) {
	s := seeded(t, storetest.SQLite(t))
	question := merged(t, lanternRoom, `{"panels":null,"placement":null}`)
	question = `{"panel_count_from":"room","order":"cost_to_target","show":"best_per_fill","currency":"EUR","as_of_date":"2026-11-02","room":` + question + `}`
	r, first := s.ask(question)
	counts, last := map[int64]bool{}, 0.0
	for _, o := range r.Options {
		counts[o.PanelCount] = true
		if o.PanelCount != o.Room.LeastCount || o.PanelCount < 1 || o.PanelCount > o.Room.RoomForCount {
			t.Errorf("%s: %d panels, %+v", o.Key, o.PanelCount, o.Room)
		}
		tight := false
		for _, b := range o.Room.Octaves {
			if b.Asked && b.After.SabineS > b.Target.HighS+0.0005 {
				t.Errorf("%s: %g s at %d Hz with %d panels", o.Key, b.After.SabineS, b.OctaveHz, o.PanelCount)
			}
			tight = tight || b.Asked && b.LeastCount == o.PanelCount
		}
		total, err := strconv.ParseFloat(o.Cost.Total.Amount, 64)
		if !tight || err != nil || total < last {
			t.Errorf("%s: tight %v, %g after %g, %v", o.Key, tight, total, last, err)
		}
		last = total
	}
	out := 0
	for _, l := range r.LeftOut {
		if l.Reason == "target_out_of_reach" {
			out += int(l.CandidatesCount)
		}
	}
	if len(r.Options) < 15 || len(counts) < 5 || out == 0 || r.Inputs.PanelCount != nil {
		t.Errorf("%d options with %d numbers of panels, %d out of reach", len(r.Options), len(counts), out)
	}
	inputs, _ := json.Marshal(r.Inputs)
	if _, again := s.ask(string(inputs)); string(again) != string(first) {
		t.Error("the echo answers otherwise")
	}
}

// Every material that is listed can be asked for.
func TestRoomMaterialsCanBeAskedFor(t *testing.T) {
	s := serve(t, quiet{})
	list := s.get("/v1/room-materials")
	n := 0
	for ; list.value(t, "items", n) != nil; n++ {
		name := text(list.value(t, "items", n, "name"))
		body := `{"room":{"volume_m3":60},"surfaces":[{"area_m2":94,"material":"` + name + `"}],"target":{"rule":"ebu_tech_3276"}}`
		if list.value(t, "items", n, "areas") != nil {
			body = `{"room":{"volume_m3":60},"surfaces":[{"area_m2":94,"material":"slate"}],"things":[{"material":"` + name + `","count":2}],"target":{"rule":"din_18041","group":"A3"}}`
		}
		s.must(http.StatusOK, s.send(http.MethodPost, "/v1/room-estimates", body))
	}
	if n != 144 {
		t.Errorf("%d materials", n)
	}
}
