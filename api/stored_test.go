package api_test

import (
	"encoding/json"
	"net/http"
	"strings"
	"testing"

	"sabinbook/store/storetest"
)

// Whoever names a stored room or design gets what they would get by writing it out, and the echo, which
// no longer needs the record, gets it again.
func TestStoredRoomAndDesignStandForWhatTheyHold(t *testing.T) {
	storetest.Each(t, func(t *testing.T, db *storetest.Store) {
		s := seeded(t, db)
		without := func(r reply, members ...string) string {
			var m map[string]any
			if err := json.Unmarshal(r.body, &m); err != nil {
				t.Fatal(err)
			}
			for _, name := range members {
				delete(m, name)
			}
			text, _ := json.Marshal(m)
			return string(text)
		}
		post := func(path, body string) reply {
			t.Helper()
			return s.must(http.StatusOK, s.send(http.MethodPost, path, body))
		}

		// The seed's room is the one that the other tests write out.
		full := post("/v1/room-estimates", merged(t, lanternRoom, `{"air":{"temperature_c":20,"humidity_percent":50,"pressure_kpa":101.325},"target":{"rule":"own","time_s":0.6,"from_hz":250,"to_hz":4000}}`))
		asked := merged(t, lanternRoom, `{"room":null,"surfaces":null,"things":null,"target":null,"stored_room":"rehearsal-room"}`)
		short := post("/v1/room-estimates", asked)
		if short.value(t, "catalog_revision") == nil || short.value(t, "sources", 0) == nil || without(short, "catalog_revision", "sources") != without(full) {
			t.Errorf("the stored room answers %s\nwritten out %s", short.body, full.body)
		}
		// What is given counts, and the rest comes from the record.
		other := post("/v1/room-estimates", merged(t, asked, `{"target":{"rule":"own","time_s":0.9}}`))
		if other.value(t, "target_time_s") != 0.9 || other.value(t, "volume_m3") != 73.656 {
			t.Errorf("with a target of one's own: %s", other.body)
		}

		const terms = `"currency":"EUR","as_of_date":"2026-11-02","show":"best_per_fill","families":["rock_wool","hemp"]}`
		byName := post("/v1/rankings", `{"panel_count_from":"room","order":"cost_to_target","purpose":{"name":"room"},"panel":{"design":"panel-600x1200-braced"},"room":{"stored_room":"rehearsal-room"},`+terms)
		inputs, _ := json.Marshal(byName.value(t, "inputs"))
		if byName.value(t, "inputs", "panel", "joint") != "mitre" || byName.value(t, "inputs", "room", "room", "length_m") != 6.2 || strings.Contains(string(inputs), "stored_room") || strings.Contains(string(inputs), `"design"`) {
			t.Errorf("inputs %s", inputs)
		}
		if again := post("/v1/rankings", string(inputs)); string(again.body) != string(byName.body) {
			t.Error("the echo of a ranking answers otherwise")
		}
		read := s.must(http.StatusOK, s.get("/v1/rankings?panel_count_from=room&order=cost_to_target&purpose=room&design=panel-600x1200-braced&room=rehearsal-room&currency=EUR&as_of_date=2026-11-02&show=best_per_fill&families=rock_wool,hemp"))
		if string(read.body) != string(byName.body) {
			t.Error("GET answers otherwise than POST")
		}
		if byName.value(t, "options", 0, "room", "reached") != true {
			t.Errorf("no target reached: %s", byName.body[:400])
		}

		const build = `{"panel_count":4,"fill":"rock-wool-40","thickness_mm":50,"fabric":"knit-mesh","currency":"EUR","as_of_date":"2026-11-02","panel":`
		named := post("/v1/cost-estimates", build+`{"design":"panel-600x1200-braced","width_mm":500}}`)
		written := post("/v1/cost-estimates", build+`{"width_mm":500,"height_mm":1200,"joint":"mitre","braces_count":1,"fill_oversize_mm":5,"parts":[{"role":"hanger","count":2},{"role":"screw","count":10},{"role":"staple","count":70}]}}`)
		if string(named.body) != string(written.body) {
			t.Errorf("cost by the design's name %s\nwritten out %s", named.body[:300], written.body[:300])
		}
		post("/v1/build-or-buy", `{"build":`+build+`{"design":"panel-600x1200-braced"}},"ready_made":{"panel":"ready-panel-85"}}`)
		s.must(http.StatusUnprocessableEntity, s.send(http.MethodPost, "/v1/build-or-buy", `{"build":`+build+`{"design":"nobodys"}},"ready_made":{"panel":"ready-panel-85"}}`))
	})
}

// A stored room is asked about as it is now: a change counts at once, measured times stand for
// what is in it, and a room without a target needs one from the asker.
func TestStoredRoomChanges(t *testing.T) {
	s := stocked(t)
	const path = "/v1/room-estimates"
	before := s.must(http.StatusOK, s.send(http.MethodPost, path, `{"stored_room":"loft"}`))
	s.must(http.StatusOK, s.send(http.MethodPatch, "/v1/rooms/loft", `{"slug":"attic","target":null,"decay_times":{"time_125_hz_s":0.9,"time_250_hz_s":0.9,"time_500_hz_s":0.9,"time_1000_hz_s":0.9,"time_2000_hz_s":0.9,"time_4000_hz_s":0.9}}`, "If-Match", "*"))
	r := s.must(http.StatusUnprocessableEntity, s.send(http.MethodPost, path, `{"stored_room":"attic"}`))
	if r.value(t, "errors", 0, "pointer") != "/target" {
		t.Errorf("no target: %s", r.body)
	}
	after := s.must(http.StatusOK, s.send(http.MethodPost, path, `{"stored_room":"attic","target":{"rule":"own","time_s":0.5}}`))
	if before.value(t, "octaves", 2, "before", "sabine_s") == 0.9 || after.value(t, "octaves", 2, "before", "sabine_s") != 0.9 {
		t.Errorf("before %s\nafter %s", before.body, after.body)
	}
	// Surfaces of the asker stand for the measured times of the record.
	own := s.must(http.StatusOK, s.send(http.MethodPost, path, `{"stored_room":"attic","target":{"rule":"own","time_s":0.5},"surfaces":[{"face":"ceiling","material":"plaster-painted"},{"face":"floor","material":"plaster-painted"},{"face":"walls","material":"plaster-painted"}]}`))
	if own.value(t, "octaves", 2, "before", "sabine_s") == 0.9 || own.value(t, "inputs", "decay_times") != nil {
		t.Errorf("with surfaces of one's own %s", own.body)
	}
	s.must(http.StatusNoContent, s.send(http.MethodDelete, "/v1/rooms/attic", "", "If-Match", "*"))
	s.must(http.StatusUnprocessableEntity, s.send(http.MethodPost, path, `{"stored_room":"attic"}`))
}
