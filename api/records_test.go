package api_test

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"sabinbook/store/storetest"
)

// goods holds a good body for each noun, in the order in which they can be added. All of it
// is invented.
var goods = []struct{ path, item, body, change string }{
	{"/v1/sources", "/v1/sources/", sourceBody, `{"observer":"Marit"}`},
	{"/v1/fills", "/v1/fills/", fillBody, `{"note":"seen on the shelf"}`},
	{"/v1/fills/quay-slab/absorption-tests", "/v1/absorption-tests/", testBody, `{"capped_at_one":true}`},
	{"/v1/fabrics", "/v1/fabrics/", fabricBody, `{"stretch":"low"}`},
	{"/v1/parts", "/v1/parts/", timberBody, `{"note":"dry"}`},
	{"/v1/ready-made-panels", "/v1/ready-made-panels/", panelBody, `{"note":"grey"}`},
	{"/v1/designs", "/v1/designs/", designBody, `{"braces_count":2}`},
	{"/v1/rooms", "/v1/rooms/", roomBody, `{"air":{"temperature_c":0}}`},
	{"/v1/suppliers", "/v1/suppliers/", supplierBody, `{"region":"Quillhaven"}`},
	{"/v1/exchange-rates", "/v1/exchange-rates/", rateBody, `{"note":"mid rate"}`},
	{"/v1/offers", "/v1/offers/", offerBody, `{"min_packs_count":2}`},
}

const (
	sourceBody   = `{"slug":"logbook","name":"Logbook","citation":"Lantern Yard logbook","licence":"facts only","date":"2026-10-01","evidence":"declared","invented":true}`
	fillBody     = `{"slug":"quay-slab","name":"Quay slab","family":"rock_wool","form":"slab","density_kg_per_m3":{"value":40,"low":38,"high":44,"evidence":"declared","source_id":"notebook","basis":"label"},"airflow_resistivity_pa_s_per_m2":{"value":11000,"evidence":"estimated","source_id":"notebook"},"sold_sizes":[{"length_mm":1200,"width_mm":600,"thickness_mm":50}],"fire_declarations":[{"subject":"fill","scheme":"en_13501_1","code":"B-s1, d0","durability":"inherent","evidence":"maker_statement","source_id":"notebook"}],"handling":{"profile":"fibrous","irritant":"yes"},"source_id":"notebook"}`
	testBody     = `{"slug":"quay-slab-e-150","name":"Quay slab with a gap","standard":"iso_354","mounting_type":"E","mounting_suffix_mm":150,"thickness_mm":50,"air_gap_mm":100,"band_basis":"octave","bands":{"alpha_250_hz":0.78,"alpha_500_hz":1.02},"evidence":"published","source_id":"notebook"}`
	fabricBody   = `{"slug":"harbour-knit","name":"Harbour knit","roll_width_mm":1500,"selvedge_mm":15,"surface_mass_kg_per_m2":{"value":0.18,"evidence":"declared","source_id":"notebook"},"air_permeability":{"velocity_mm_per_s":1900,"pressure_pa":200,"evidence":"declared","source_id":"notebook"},"directional":false,"stretch":"high","source_id":"notebook"}`
	timberBody   = `{"slug":"pine-18-95","name":"Planed pine","kind":"timber","role":"frame_timber","section_thickness_mm":18,"section_width_mm":95,"stock_lengths_mm":[2400,3000],"density_kg_per_m3":{"value":480,"evidence":"estimated","source_id":"notebook"},"source_id":"notebook"}`
	panelBody    = `{"slug":"mole-panel","name":"Mole panel","width_mm":600,"height_mm":1200,"depth_mm":50,"mass_kg":{"value":4.2,"evidence":"declared","source_id":"notebook"},"absorption":{"band_basis":"octave","bands":{"alpha_250_hz":0.55},"mounting_type":"A","evidence":"declared","source_id":"notebook"},"source_id":"notebook"}`
	designBody   = `{"slug":"tall-panel","name":"Tall panel","width_mm":500,"height_mm":1500,"parts":[{"role":"hanger","count":3}]}`
	roomBody     = `{"slug":"loft","name":"Loft","room":{"length_m":5,"width_m":4,"height_m":2.5},"surfaces":[{"face":"ceiling","material":"plaster-painted"},{"face":"floor","material":"wood-floor-on-joists"},{"face":"walls","material":"plaster-painted"},{"face":"walls","area_m2":2,"alpha":{"alpha_125_hz":0.3,"alpha_250_hz":0.2,"alpha_500_hz":0.1,"alpha_1000_hz":0.1,"alpha_2000_hz":0.05,"alpha_4000_hz":0.02}}],"things":[{"material":"one-seated-person","count":3}],"target":{"rule":"own","time_s":0.5},"source_id":"notebook"}`
	supplierBody = `{"slug":"quayside","name":"Quayside","country":"NL","currency":"EUR","delivery":{"fee":{"amount":"39.00","currency":"EUR"},"free_from":{"amount":"400.00","currency":"EUR"}},"trip_cost":{"amount":"6.00","currency":"EUR"},"source_id":"notebook"}`
	offerBody    = `{"slug":"quayside-slab","name":"Slab at Quayside","supplier_id":"quayside","item_kind":"fill","item_id":"quay-slab","sold_size":{"length_mm":1200,"width_mm":600,"thickness_mm":50},"pack_count":8,"pack_mass_kg":12,"source_id":"notebook"}`
	rateBody     = `{"slug":"pound","name":"Pound","from_currency":"EUR","to_currency":"GBP","rate":"0.8563","observed_date":"2026-11-02","evidence":"published","source_id":"notebook"}`
	priceBody    = `{"price":{"amount":"46.80","currency":"EUR"},"tax_included":true,"tax_rate_percent":21,"observed_date":"2026-11-01","evidence":"measured","source_id":"notebook"}`
)

// stocked starts the service with one record of every noun.
func stocked(t *testing.T) *service {
	t.Helper()
	s := serve(t, storetest.SQLite(t))
	s.source()
	for _, g := range goods {
		s.must(http.StatusCreated, s.send(http.MethodPost, g.path, g.body))
	}
	return s
}

func TestLifeOfEveryNoun(t *testing.T) {
	storetest.Each(t, func(t *testing.T, db *storetest.Store) {
		s := serve(t, db)
		s.source()
		for _, g := range goods {
			made := s.must(http.StatusCreated, s.send(http.MethodPost, g.path, g.body))
			id, slug := text(made.value(t, "id")), text(made.value(t, "slug"))
			if made.header.Get("Location") != g.item+id || made.header.Get("ETag") != `"`+id+`.1"` {
				t.Errorf("%s: Location %s, ETag %s", g.path, made.header.Get("Location"), made.header.Get("ETag"))
			}
			for _, member := range []string{"revision", "create_time", "update_time", "updated_by", "created_by"} {
				if made.value(t, member) == nil {
					t.Errorf("%s: no %s in the answer", g.path, member)
				}
			}
			for _, ref := range []string{id, slug} {
				if r := s.must(http.StatusOK, s.get(g.item+ref)); string(r.body) != string(made.body) {
					t.Errorf("%s reads\n%s, made as\n%s", ref, r.body, made.body)
				}
			}
			s.must(http.StatusNotModified, s.get(g.item+slug, "If-None-Match", made.header.Get("ETag")))
			s.must(http.StatusConflict, s.send(http.MethodPost, g.path, g.body))

			tag := made.header.Get("ETag")
			for _, head := range []string{id, slug} {
				if r := s.do(http.MethodHead, g.item+head, nil); r.status != http.StatusOK || r.header.Get("ETag") != tag {
					t.Errorf("HEAD %s: %d %v", head, r.status, r.header)
				}
			}
			s.must(http.StatusPreconditionRequired, s.send(http.MethodPatch, g.item+slug, g.change))
			s.must(http.StatusPreconditionRequired, s.send(http.MethodPut, g.item+slug, g.body))
			s.must(http.StatusPreconditionRequired, s.do(http.MethodDelete, g.item+slug, nil))
			patched := s.must(http.StatusOK, s.send(http.MethodPatch, g.item+slug, g.change, "If-Match", made.header.Get("ETag")))
			if text(patched.value(t, "revision")) != "2" || strings.Contains(string(patched.body), "null") {
				t.Errorf("%s: patched %s", g.path, patched.body)
			}
			stale := s.must(http.StatusPreconditionFailed, s.send(http.MethodPatch, g.item+slug, g.change, "If-Match", made.header.Get("ETag")))
			if text(stale.value(t, "current_revision")) != "2" || stale.value(t, "updated_by") == nil || stale.value(t, "update_time") == nil {
				t.Errorf("%s: stale %s", g.path, stale.body)
			}
			s.must(http.StatusPreconditionFailed, s.send(http.MethodPut, g.item+slug, g.body, "If-Match", tag))
			s.must(http.StatusPreconditionFailed, s.do(http.MethodDelete, g.item+slug, nil, "If-Match", tag))
			back := s.must(http.StatusOK, s.send(http.MethodPut, g.item+id, g.body, "If-Match", patched.header.Get("ETag")))
			if text(back.value(t, "revision")) != "3" {
				t.Errorf("%s: replaced %s", g.path, back.body)
			}

			renamed := s.must(http.StatusOK, s.send(http.MethodPatch, g.item+slug, `{"slug":"`+slug+`-b"}`, "If-Match", "*"))
			old := s.must(http.StatusOK, s.get(g.item+slug))
			if old.header.Get("Content-Location") != g.item+id || string(old.body) != string(renamed.body) {
				t.Errorf("%s: an old slug answers %v", g.path, old.header)
			}
			s.must(http.StatusOK, s.send(http.MethodPatch, g.item+id, `{"slug":"`+slug+`"}`, "If-Match", "*"))

			s.must(http.StatusNoContent, s.do(http.MethodDelete, g.item+slug, nil, "If-Match", "*"))
			s.must(http.StatusNotFound, s.get(g.item+slug))
			s.must(http.StatusNotFound, s.get(g.item+id))
			s.must(http.StatusNotFound, s.send(http.MethodPatch, g.item+id, g.change, "If-Match", "*"))
			s.must(http.StatusNotFound, s.send(http.MethodPut, g.item+id, g.body, "If-Match", "*"))
			s.must(http.StatusNotFound, s.do(http.MethodDelete, g.item+id, nil, "If-Match", "*"))
			if kept := s.must(http.StatusConflict, s.send(http.MethodPost, g.path, g.body)); !strings.Contains(string(kept.body), "restore") {
				t.Errorf("%s: the slug of a deleted record: %s", g.path, kept.body)
			}
			restored := s.must(http.StatusOK, s.do(http.MethodPost, g.item+slug+"/restore", nil))
			if now := s.must(http.StatusOK, s.get(g.item+slug)); text(restored.value(t, "id")) != id || string(now.body) != string(restored.body) {
				t.Errorf("%s: restored %s, reads %s", g.path, restored.body, now.body)
			}
			name := url.QueryEscape(text(made.value(t, "name")))
			list := s.must(http.StatusOK, s.get(g.path+"?include=total_count&q="+name))
			if text(list.value(t, "items", 0, "slug")) != slug || text(list.value(t, "total_count")) != "1" {
				t.Errorf("%s: list %s", g.path, list.body)
			}
		}
		price := s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/offers/quayside-slab/prices", priceBody))
		s.must(http.StatusOK, s.get(price.header.Get("Location")))
		if n := text(s.must(http.StatusOK, s.get("/v1/offers/quayside-slab/prices")).value(t, "items", 0, "price", "amount")); n != "46.80" {
			t.Errorf("price %s", n)
		}
	})
}

func TestFireClassIsStoredInItsWrittenForm(t *testing.T) {
	s := stocked(t)
	if code := text(s.get("/v1/fills/quay-slab").value(t, "fire_declarations", 0, "code")); code != "B-s1,d0" {
		t.Errorf("stored as %q", code)
	}
}

func TestSourceInUseIsNotDeleted(t *testing.T) {
	s := stocked(t)
	r := s.must(http.StatusConflict, s.do(http.MethodDelete, "/v1/sources/notebook", nil, "If-Match", "*"))
	if len(r.body) == 0 {
		t.Error("the conflict says nothing")
	}
}

func TestPriceOfTheFutureIsOfNoDay(t *testing.T) {
	s := stocked(t)
	before := s.revision()
	s.must(http.StatusUnprocessableEntity, s.send(http.MethodPost, "/v1/offers/quayside-slab/prices", merged(t, priceBody, `{"observed_date":"2026-11-03"}`)))
	if s.revision() != before {
		t.Error("something was stored")
	}
	if _, err := s.db.Snapshot(context.Background()); err != nil {
		t.Error(err)
	}
}

// TestWholeNumbersInAnyForm: 8.0 and 8e0 are the whole number 8 to JSON Schema, and to the
// handler behind it.
func TestWholeNumbersInAnyForm(t *testing.T) {
	s := stocked(t)
	for i, form := range []string{"8", "8.0", "8e0", "0.8e1"} {
		body := strings.Replace(merged(t, offerBody, fmt.Sprintf(`{"slug":"form-%d","pack_count":4321}`, i)), "4321", form, 1)
		if n := s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/offers", body)).value(t, "pack_count"); n != 8.0 {
			t.Errorf("%s became %v", form, n)
		}
		// Beside a fault of the contract the rules of the catalog are still asked.
		broken := strings.Replace(merged(t, body, `{"surprise":1,"name":" ","pack_count":4321}`), "4321", form, 1)
		r := s.must(http.StatusUnprocessableEntity, s.send(http.MethodPost, "/v1/offers", broken))
		for _, at := range []string{`"/surprise"`, `"/name"`} {
			if !strings.Contains(string(r.body), `"pointer":`+at) {
				t.Errorf("%s: no fault at %s: %s", form, at, r.body)
			}
		}
	}
}

// TestTagsOnSeveralLines sends If-Match on two lines, which are one list (RFC 9110 section 5.3).
func TestTagsOnSeveralLines(t *testing.T) {
	s := stocked(t)
	tag := s.get("/v1/fills/quay-slab").header.Get("ETag")
	req, err := http.NewRequest(http.MethodPatch, s.url+"/v1/fills/quay-slab", strings.NewReader(`{"note":"seen"}`))
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Content-Type", "application/merge-patch+json")
	req.Header.Add("If-Match", `"fill_00000000000000000000000000.9"`)
	req.Header.Add("If-Match", tag)
	s.must(http.StatusOK, s.exchange(req))
}

// TestMergePatch changes a record by merge patches (RFC 7396): null takes a member out, an
// object changes members, a list replaces the list.
func TestMergePatch(t *testing.T) {
	s := stocked(t)
	before := s.get("/v1/fills/quay-slab")
	patch := func(body string) reply {
		return s.must(http.StatusOK, s.send(http.MethodPatch, "/v1/fills/quay-slab", body, "If-Match", "*"))
	}
	r := patch(`{"density_kg_per_m3":{"value":42,"low":null}}`)
	if d := text(r.value(t, "density_kg_per_m3")); d != text(map[string]any{"value": 42.0, "high": 44.0, "evidence": "declared", "basis": "label",
		"source_id": before.value(t, "density_kg_per_m3", "source_id")}) {
		t.Errorf("density %s", d)
	}
	for _, member := range []string{"name", "handling", "sold_sizes", "fire_declarations", "create_time", "id"} {
		if text(r.value(t, member)) != text(before.value(t, member)) {
			t.Errorf("%s was not named and is %v", member, r.value(t, member))
		}
	}
	for range 2 { // what is not there is not there afterwards either
		if r := patch(`{"airflow_resistivity_pa_s_per_m2":null}`); strings.Contains(string(r.body), "airflow_resistivity") {
			t.Errorf("resistivity is still there: %s", r.body)
		}
	}
	// null in a member that is new tells that it has none.
	if r := patch(`{"airflow_resistivity_pa_s_per_m2":{"value":9000,"low":null,"evidence":"declared","source_id":"notebook"}}`); r.value(t, "airflow_resistivity_pa_s_per_m2", "value") != 9000.0 {
		t.Errorf("resistivity %v", r.value(t, "airflow_resistivity_pa_s_per_m2"))
	}
	if r := patch(`{"sold_sizes":[{"length_mm":1000,"width_mm":500,"thickness_mm":40},{"length_mm":1200,"width_mm":600,"thickness_mm":50}]}`); len(r.value(t, "sold_sizes").([]any)) != 2 {
		t.Errorf("sizes %v", r.value(t, "sold_sizes"))
	}
	if r := patch(`{"fire_declarations":[]}`); len(r.value(t, "fire_declarations").([]any)) != 0 {
		t.Errorf("fire %v", r.value(t, "fire_declarations"))
	}
}

// TestClashesAreNamed makes changes that clash with other records: each is a 409 that says
// with what, and nothing is stored.
func TestClashesAreNamed(t *testing.T) {
	storetest.Each(t, func(t *testing.T, db *storetest.Store) {
		s := serve(t, db)
		s.source()
		for _, g := range goods {
			s.must(http.StatusCreated, s.send(http.MethodPost, g.path, g.body))
		}
		s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/fills", merged(t, fillBody, `{"slug":"second","name":"Second"}`)))
		before := s.revision()
		for _, c := range []struct {
			method, path, body, at, says string
		}{
			{http.MethodPost, "/v1/fills", merged(t, fillBody, `{"name":"Third"}`), "/slug", "quay-slab"},
			{http.MethodPost, "/v1/fills", merged(t, fillBody, `{"slug":"third","name":"QUAY  slab"}`), "/name", "quay-slab"},
			{http.MethodPut, "/v1/fills/second", merged(t, fillBody, `{"name":"Second"}`), "/slug", "quay-slab"},
			{http.MethodPut, "/v1/fills/second", merged(t, fillBody, `{"slug":"second"}`), "/name", "quay-slab"},
			{http.MethodPatch, "/v1/fills/second", `{"slug":"quay-slab"}`, "/slug", "choose another slug"},
			{http.MethodDelete, "/v1/fills/quay-slab", "", "/id", "quayside-slab"},
			{http.MethodDelete, "/v1/suppliers/quayside", "", "/id", "quayside-slab"},
			{http.MethodDelete, "/v1/sources/notebook", "", "/id", "change or delete"},
		} {
			r := s.must(http.StatusConflict, s.send(c.method, c.path, c.body, "If-Match", "*"))
			said := text(r.value(t, "errors", 0, "detail")) + " " + text(r.value(t, "errors", 0, "fix"))
			if text(r.value(t, "errors", 0, "pointer")) != c.at || !strings.Contains(said, c.says) {
				t.Errorf("%s %s: %s", c.method, c.path, r.body)
			}
		}
		if after := s.revision(); after != before {
			t.Errorf("the catalog went from revision %d to %d", before, after)
		}
	})
}

// TestPricesAreOnlyAdded: an observation is never changed or taken back.
func TestPricesAreOnlyAdded(t *testing.T) {
	s := stocked(t)
	const prices = "/v1/offers/quayside-slab/prices"
	for i, day := range []string{"2026-10-01", "2026-11-02", "2026-10-15"} {
		r := s.must(http.StatusCreated, s.send(http.MethodPost, prices, merged(t, priceBody, fmt.Sprintf(`{"observed_date":%q,"price":{"amount":"%d.5","currency":"EUR"}}`, day, 40+i))))
		if r.value(t, "create_time") == nil || r.value(t, "created_by") != keeper || text(r.value(t, "price", "amount")) != fmt.Sprintf("%d.50", 40+i) {
			t.Errorf("%s", r.body)
		}
		at := r.header.Get("Location")
		if read := s.must(http.StatusOK, s.get(at)); string(read.body) != string(r.body) {
			t.Errorf("made as %s, reads %s", r.body, read.body)
		}
		for _, method := range []string{http.MethodPut, http.MethodPatch, http.MethodDelete} {
			s.must(http.StatusMethodNotAllowed, s.send(method, at, priceBody, "If-Match", "*"))
		}
	}
	newest := s.must(http.StatusOK, s.get(prices+"?sort=-observed_date&limit=1&include=total_count"))
	if newest.value(t, "items", 0, "observed_date") != "2026-11-02" || newest.value(t, "total_count") != 3.0 {
		t.Errorf("%s", newest.body)
	}
}

// TestFireClassWithItsCommaIsAFilter asks for classes of EN 13501-1, which hold a comma
// themselves.
func TestFireClassWithItsCommaIsAFilter(t *testing.T) {
	s := stocked(t)
	for query, want := range map[string]int{"B-s1,d0": 1, "A1,B-s1,d0": 1, "A1": 0, "B-s2,d0,E": 0} {
		if n := len(s.must(http.StatusOK, s.get("/v1/fills?fire_code="+query)).value(t, "items").([]any)); n != want {
			t.Errorf("%s finds %d, want %d", query, n, want)
		}
	}
}

// Terms of delivery by size, the volume of a pack and lower prices for more packs come back as
// they were given, breaks by rising number.
func TestDeliveryBySizeAndBreaksComeBack(t *testing.T) {
	s := stocked(t)
	shop := s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/suppliers", merged(t, supplierBody,
		`{"slug":"by-size","name":"By size","delivery":{"fee":{"amount":"5.00","currency":"EUR"},"free_from":{"amount":"90.00","currency":"EUR"},"per_kg":{"amount":"0.30","currency":"EUR"},"weight_basis":"greater","divisor_cm3_per_kg":5000,"free_covers_weight":true}}`)))
	for member, want := range map[string]any{"weight_basis": "greater", "divisor_cm3_per_kg": 5000.0, "free_covers_weight": true} {
		if got := shop.value(t, "delivery", member); got != want {
			t.Errorf("%s is %v, want %v", member, got, want)
		}
	}
	offer := s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/offers", merged(t, offerBody, `{"slug":"voluminous","name":"Voluminous","pack_volume_l":43.2}`)))
	if got := offer.value(t, "pack_volume_l"); got != 43.2 {
		t.Errorf("volume %v", got)
	}
	price := s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/offers/voluminous/prices", merged(t, priceBody,
		`{"price":{"amount":"20.00","currency":"EUR"},"breaks":[{"from_count":20,"price":{"amount":"16.00","currency":"EUR"}},{"from_count":5,"price":{"amount":"18.50","currency":"EUR"}}]}`)))
	again := s.get("/v1/prices/" + text(price.value(t, "id")))
	for _, r := range []reply{price, again} {
		if r.value(t, "breaks", 0, "from_count") != 5.0 || r.value(t, "breaks", 1, "price", "amount") != "16.00" {
			t.Errorf("breaks %v", r.value(t, "breaks"))
		}
	}
}
