package api_test

import (
	"bytes"
	"compress/gzip"
	"io"
	"net/http"
	"slices"
	"strings"
	"testing"

	"sabinbook/store/storetest"
)

const question = `{"panel_count":10,"currency":"EUR","as_of_date":"2026-11-02"}`

// bad is one kind of bad input and where the problem must point.
type bad struct {
	name         string
	method, path string
	body         string
	header       []string
	status       int
	at           string // pointer, parameter or header of one fault; empty for faults of the body as a whole
	says         string // part of its detail or fix: the limit or the mend
}

func post(name, path, body string, status int, at, says string) bad {
	return bad{name: name, method: http.MethodPost, path: path, body: body, status: status, at: at, says: says}
}

// badInputs lists kinds of bad input against a service that holds one record of every noun.
func badInputs(t *testing.T) []bad {
	fill := func(name, change, at, says string) bad {
		return post(name, "/v1/fills", merged(t, fillBody, `{"slug":"other","name":"Other"}`, change), 422, at, says)
	}
	test := func(name, change, at, says string) bad {
		return post(name, "/v1/fills/quay-slab/absorption-tests", merged(t, testBody, `{"slug":"other"}`, change), 422, at, says)
	}
	price := func(name, change, at, says string) bad {
		return post(name, "/v1/offers/quayside-slab/prices", merged(t, priceBody, change), 422, at, says)
	}
	ask := func(name, change, at, says string) bad {
		return post(name, "/v1/rankings", merged(t, question, change), 422, at, says)
	}
	get := func(name, path, at, says string) bad {
		return bad{name: name, method: http.MethodGet, path: path, status: 400, at: at, says: says}
	}
	change := func(name string, status int, at, says, body string, header ...string) bad {
		return bad{name: name, method: http.MethodPatch, path: "/v1/fills/quay-slab", body: body, header: header, status: status, at: at, says: says}
	}
	density := func(v string) string {
		return `{"density_kg_per_m3":{"value":` + v + `,"evidence":"declared","source_id":"notebook"}}`
	}
	var packed bytes.Buffer
	z := gzip.NewWriter(&packed)
	_, _ = z.Write([]byte(fillBody))
	_ = z.Close()
	return []bad{
		fill("unknown member", `{"colour":"red"}`, "/colour", "no such member"),
		fill("misspelt member", `{"sold_size":[]}`, "/sold_size", "sold_sizes"),
		fill("thickness in metres", `{"sold_sizes":[{"length_mm":1200,"width_mm":600,"thickness_mm":0.05}]}`, "/sold_sizes/0/thickness_mm", "2 to 600 mm"),
		fill("density in g/m³", density("40000"), "/density_kg_per_m3/value", "5 to 1000 kg/m³"),
		fill("negative density", density("-40"), "/density_kg_per_m3/value", "5 to 1000"),
		fill("resistivity in kPa", `{"airflow_resistivity_pa_s_per_m2":{"value":11,"evidence":"declared","source_id":"notebook"}}`, "/airflow_resistivity_pa_s_per_m2/value", "10 kPa"),
		fill("text in a number", density(`"forty"`), "/density_kg_per_m3/value", "number"),
		fill("list for an object", `{"handling":[]}`, "/handling", "object"),
		fill("missing member", `{"family":null}`, "/family", "is missing"),
		fill("unknown word", `{"family":"steel_wool"}`, "/family", "rock_wool"),
		fill("bad slug", `{"slug":"Quay Slab!"}`, "/slug", "lower-case"),
		fill("reserved slug", `{"slug":"export"}`, "/slug", "another slug"),
		fill("empty name", `{"name":"  "}`, "/name", "is missing"),
		fill("control character", `{"name":"a\u0007b"}`, "/name", "U+0007"),
		fill("turned writing direction", `{"name":"a\u202eb"}`, "/name", "U+202E"),
		fill("figure without source", `{"density_kg_per_m3":{"value":40,"evidence":"declared"}}`, "/density_kg_per_m3/source_id", "add it"),
		fill("unknown source", `{"density_kg_per_m3":{"value":40,"evidence":"declared","source_id":"hearsay"}}`, "/density_kg_per_m3/source_id", "source"),
		fill("range out of order", `{"density_kg_per_m3":{"value":40,"low":50,"evidence":"declared","source_id":"notebook"}}`, "/density_kg_per_m3", "low <= value"),
		fill("class of a floor", `{"fire_declarations":[{"subject":"fill","scheme":"en_13501_1","code":"Bfl-s1","durability":"unknown","evidence":"hearsay","source_id":"notebook"}]}`, "/fire_declarations/0/code", "B-s1,d0"),
		fill("bare class", `{"fire_declarations":[{"subject":"fill","scheme":"en_13501_1","code":"B","durability":"unknown","evidence":"hearsay","source_id":"notebook"}]}`, "/fire_declarations/0/code", "never a bare"),
		fill("negative fire index", `{"fire_declarations":[{"subject":"fill","scheme":"astm_e84","code":"A","flame_spread_index":-5,"smoke_developed_index":10,"durability":"unknown","evidence":"hearsay","source_id":"notebook"}]}`, "/fire_declarations/0/flame_spread_index", "0 to 10000"),
		fill("turned writing direction in a report", `{"fire_declarations":[{"subject":"fill","scheme":"none","laboratory":"a\u202eb","durability":"unknown","evidence":"hearsay","source_id":"notebook"}]}`, "/fire_declarations/0/laboratory", "U+202E"),
		fill("read-only member", `{"revision":7}`, "/revision", "leave it out"),
		test("coefficient of 3", `{"bands":{"alpha_500_hz":3.0}}`, "/bands/alpha_500_hz", "0 to 2"),
		test("coefficient in per cent", `{"bands":{"alpha_500_hz":85}}`, "/bands/alpha_500_hz", "not per cent"),
		test("gap that the mounting denies", `{"air_gap_mm":20}`, "/air_gap_mm", "leaves 100 mm"),
		test("third in octave data", `{"bands":{"alpha_630_hz":0.5}}`, "/bands/alpha_630_hz", "octave"),
		test("no coefficient", `{"bands":{}}`, "/bands", "at least one"),
		post("timber without lengths", "/v1/parts", merged(t, timberBody, `{"slug":"other","name":"Other","stock_lengths_mm":null}`), 422, "/stock_lengths_mm", "[2400]"),
		post("role of another kind", "/v1/parts", merged(t, timberBody, `{"slug":"other","name":"Other","role":"hanger"}`), 422, "/kind", "hardware"),
		post("fabric mass in grams", "/v1/fabrics", merged(t, fabricBody, `{"slug":"other","name":"Other","surface_mass_kg_per_m2":{"value":250,"evidence":"declared","source_id":"notebook"}}`), 422, "/surface_mass_kg_per_m2/value", "250 g/m²"),
		post("permeability without pressure", "/v1/fabrics", merged(t, fabricBody, `{"slug":"other","name":"Other","air_permeability":{"velocity_mm_per_s":100,"evidence":"declared","source_id":"notebook"}}`), 422, "/air_permeability/pressure_pa", "is missing"),
		post("supplier without any way", "/v1/suppliers", merged(t, supplierBody, `{"slug":"other","name":"Other","delivery":null,"trip_cost":null}`), 422, "/delivery", "trip_cost"),
		post("fee in another currency", "/v1/suppliers", merged(t, supplierBody, `{"slug":"other","name":"Other","trip_cost":{"amount":"6.00","currency":"CHF"}}`), 422, "/trip_cost/currency", "EUR"),
		post("size that the fill does not have", "/v1/offers", merged(t, offerBody, `{"slug":"other","sold_size":{"length_mm":1000,"width_mm":600,"thickness_mm":50}}`), 422, "/sold_size", "sold_sizes"),
		post("offer of what is not there", "/v1/offers", merged(t, offerBody, `{"slug":"other","item_id":"unobtainium"}`), 422, "/item_id", "unobtainium"),
		price("price without currency", `{"price":{"amount":"46.80"}}`, "/price/currency", "is missing"),
		price("unknown currency", `{"price":{"amount":"46.80","currency":"XYZ"}}`, "/price/currency", "three capitals"),
		price("withdrawn currency", `{"price":{"amount":"46.80","currency":"DEM"}}`, "/price/currency", "ISO 4217"),
		price("yen with a fraction", `{"price":{"amount":"1234.5","currency":"JPY"}}`, "/price/amount", "0 decimal places"),
		price("exponent in an amount", `{"price":{"amount":"1e3","currency":"EUR"}}`, "/price/amount", ""),
		price("negative amount", `{"price":{"amount":"-5.00","currency":"EUR"}}`, "/price/amount", ""),
		price("amount as a number", `{"price":{"amount":46.8,"currency":"EUR"}}`, "/price/amount", "must be a text"),
		price("price of tomorrow", `{"observed_date":"2026-11-03"}`, "/observed_date", "after today"),
		price("date the other way round", `{"observed_date":"02.11.2026"}`, "/observed_date", "2026-11-02"),
		price("tax as a share of one hundred times", `{"tax_rate_percent":2100}`, "/tax_rate_percent", "0 to 100"),
		ask("no panels", `{"panel_count":0}`, "/panel_count", "1 to 500"),
		ask("ten thousand panels", `{"panel_count":10000}`, "/panel_count", "1 to 500"),
		ask("half a panel", `{"panel_count":1.5}`, "/panel_count", "whole number"),
		ask("panel count left out", `{"panel_count":null}`, "/panel_count", "is missing"),
		ask("panel in metres", `{"panel":{"width_mm":0.6,"height_mm":1.2}}`, "/panel/width_mm", "100 to 3000 mm"),
		ask("currency left out", `{"currency":null}`, "/currency", "is missing"),
		ask("currency in small letters", `{"currency":"eur"}`, "/currency", "capitals"),
		ask("unknown order", `{"order":"beauty"}`, "/order", "absorption_per_cost"),
		ask("unknown family", `{"families":["straw"]}`, "/families/0", "rock_wool"),
		ask("unknown fill", `{"fills":["unobtainium"]}`, "/fills/0", "no fill"),
		ask("eleven gaps", `{"air_gaps_mm":[0,1,2,3,4,5,6,7,8,9,10]}`, "/air_gaps_mm", "1 to 10"),
		ask("a gap twice", `{"air_gaps_mm":[50,50]}`, "/air_gaps_mm/1", "twice"),
		ask("weights that do not belong", `{"purpose":{"name":"flat","weights":{"weight_500_hz":1}}}`, "/purpose/weights", "own"),
		ask("weights of nothing", `{"purpose":{"name":"own","weights":{"weight_500_hz":0}}}`, "/purpose/weights", "zero"),
		ask("unknown purpose", `{"purpose":{"name":"party"}}`, "/purpose/name", "speech"),
		ask("day that does not exist", `{"as_of_date":"2026-02-30"}`, "/as_of_date", "2026-11-02"),
		ask("negative persons", `{"handling":{"persons_count":-1}}`, "/handling/persons_count", "0 to 20"),
		ask("role that nobody plays", `{"owned_roles":["hat"]}`, "/owned_roles/0", "goggles"),
		ask("too many options", `{"limit":5000}`, "/limit", "1 to 200"),
		ask("unknown member of a question", `{"panels":10}`, "/panels", "panel"),
		post("curve on no basis", "/v1/ratings", `{"band_basis":"sixth","bands":{"alpha_500_hz":0.5}}`, 422, "/band_basis", "third_octave, octave"),
		post("curve in per cent", "/v1/ratings", `{"band_basis":"octave","bands":{"alpha_500_hz":85}}`, 422, "/bands/alpha_500_hz", "not per cent"),
		post("curve of nothing", "/v1/ratings", `{"band_basis":"octave","bands":{}}`, 422, "/bands", "at least one"),
		post("empty body", "/v1/fills", "", 400, "", ""),
		post("no object", "/v1/fills", `[]`, 422, "", "object"),
		post("NaN", "/v1/rankings", `{"panel_count":NaN,"currency":"EUR"}`, 400, "", ""),
		post("Infinity", "/v1/rankings", `{"panel_count":Infinity,"currency":"EUR"}`, 400, "", ""),
		post("number beyond all numbers", "/v1/rankings", `{"panel_count":1e400,"currency":"EUR"}`, 0, "", ""),
		post("member twice", "/v1/rankings", `{"panel_count":1,"panel_count":2,"currency":"EUR"}`, 0, "", ""),
		post("text after the value", "/v1/rankings", question+` {}`, 400, "", ""),
		post("byte order mark", "/v1/rankings", "\xEF\xBB\xBF"+question, 400, "", ""),
		post("broken UTF-8", "/v1/rankings", "{\"currency\":\"\xff\"}", 400, "", ""),
		post("nested a hundred deep", "/v1/rankings", strings.Repeat(`{"a":`, 100)+"1"+strings.Repeat("}", 100), 0, "", ""),
		post("two mebibytes", "/v1/fills", `{"note":"`+strings.Repeat("x", 2<<20)+`"}`, 413, "", "1048576"),
		{name: "packed body", method: http.MethodPost, path: "/v1/fills", body: packed.String(), header: []string{"Content-Type", "application/json", "Content-Encoding", "gzip"}, status: 415, at: "Content-Encoding", says: "identity"},
		{name: "form", method: http.MethodPost, path: "/v1/fills", body: "a=b", header: []string{"Content-Type", "application/x-www-form-urlencoded"}, status: 415, at: "Content-Type", says: "application/json"},
		get("unknown parameter", "/v1/fills?colour=red", "colour", "no such parameter"),
		get("misspelt parameter", "/v1/fills?familly=cotton", "familly", "family"),
		get("parameter twice", "/v1/fills?q=a&q=b", "q", "2 times"),
		get("page of nothing", "/v1/fills?limit=0", "limit", "1"),
		get("page too long", "/v1/fills?limit=1000", "limit", "200"),
		get("empty cursor", "/v1/fills?cursor=", "cursor", "must be a text"),
		get("empty word in a filter", "/v1/fills?family=cotton,,hemp", "family", "one comma"),
		get("made-up cursor", "/v1/fills?cursor=abc", "cursor", ""),
		get("order that does not exist", "/v1/fills?sort=beauty", "sort", "density_kg_per_m3"),
		get("range of text", "/v1/fills?density_kg_per_m3_min=heavy", "density_kg_per_m3_min", "number"),
		change("change without If-Match", 428, "If-Match", "ETag", `{"note":"x"}`),
		change("stale change", 412, "", "", `{"note":"x"}`, "If-Match", `"fill_00000000000000000000000000.9"`),
		change("weak tag", 412, "", "", `{"note":"x"}`, "If-Match", `W/"fill_1.1"`),
		change("tag without quotes", 400, "If-Match", "ETag of the record", `{"note":"x"}`, "If-Match", "abc"),
		change("deleting what is needed", 422, "/family", "is missing", `{"family":null}`, "If-Match", "*"),
		change("patch into nonsense", 422, "/density_kg_per_m3/value", "5 to 1000", `{"density_kg_per_m3":{"value":0}}`, "If-Match", "*"),
	}
}

// TestBadInputIsNamedAndNothingIsStored sends every kind of bad input: the answer is a 4xx
// problem that names the place and says the limit and the mend.
func TestBadInputIsNamedAndNothingIsStored(t *testing.T) {
	s := stocked(t)
	before := s.revision()
	kinds := badInputs(t)
	if len(kinds) < 60 {
		t.Errorf("%d kinds, want at least 60", len(kinds))
	}
	for _, b := range kinds {
		t.Run(b.name, func(t *testing.T) {
			in := *s
			in.t = t
			header := b.header
			if b.body != "" && !slices.Contains(header, "Content-Type") {
				media := "application/json"
				if b.method == http.MethodPatch {
					media = "application/merge-patch+json"
				}
				header = append([]string{"Content-Type", media}, header...)
			}
			var body io.Reader
			if b.method != http.MethodGet {
				body = strings.NewReader(b.body)
				if b.body == "" {
					header = append([]string{"Content-Type", "application/json"}, header...)
				}
			}
			r := in.do(b.method, b.path, body, header...)
			if r.status < 400 || r.status > 499 || b.status != 0 && r.status != b.status {
				t.Fatalf("status %d, want %d: %.400s", r.status, b.status, r.body)
			}
			if b.status == 412 {
				return // names the stored revision instead of faults
			}
			faults, _ := r.value(t, "errors").([]any)
			found := false
			for _, f := range faults {
				m := f.(map[string]any)
				for _, word := range []string{"code", "detail", "fix"} {
					if text(m[word]) == "" || m[word] == nil {
						t.Errorf("a fault without %s: %v", word, m)
					}
				}
				place := ""
				for _, member := range []string{"pointer", "parameter", "header"} {
					if m[member] != nil {
						place = text(m[member])
					}
				}
				said := text(m["detail"]) + " " + text(m["fix"])
				found = found || (b.at == "" || place == b.at) && strings.Contains(said, b.says)
			}
			if !found {
				t.Errorf("no fault at %q that says %q: %.600s", b.at, b.says, r.body)
			}
			for _, leak := range []string{"sql", "SELECT", "goroutine", ".go:", "openapi3", "json:"} {
				if strings.Contains(string(r.body), leak) {
					t.Errorf("the problem speaks of the inside (%q): %s", leak, r.body)
				}
			}
		})
	}
	if after := s.revision(); after != before {
		t.Errorf("the catalog went from revision %d to %d", before, after)
	}
}

// TestAllFaultsAtOnce breaks the contract and the rules in one body.
func TestAllFaultsAtOnce(t *testing.T) {
	s := stocked(t)
	r := s.must(http.StatusUnprocessableEntity, s.send(http.MethodPost, "/v1/fills",
		`{"slug":"X","name":"Other","famly":"cotton","form":"slab","density_kg_per_m3":{"value":4000,"evidence":"declared","source_id":"notebook"},"handling":{"profile":"fibrous"},"source_id":"notebook"}`))
	for _, at := range []string{`"/slug"`, `"/famly"`, `"/family"`, `"/density_kg_per_m3/value"`} {
		if !strings.Contains(string(r.body), `"pointer":`+at) {
			t.Errorf("no fault at %s: %s", at, r.body)
		}
	}
}

func TestChunkedBodyOverTheLimit(t *testing.T) {
	s := stocked(t)
	body := io.MultiReader(strings.NewReader(`{"note":"`), strings.NewReader(strings.Repeat("x", 2<<20)), strings.NewReader(`"}`))
	s.must(http.StatusRequestEntityTooLarge, s.do(http.MethodPost, "/v1/fills", io.NopCloser(body), "Content-Type", "application/json"))
}

// TestCursorIsBoundToItsList alters a cursor and uses it for another question.
func TestCursorIsBoundToItsList(t *testing.T) {
	s := seeded(t, storetest.SQLite(t))
	next := text(s.get("/v1/fills?limit=3").value(t, "next"))
	s.must(http.StatusOK, s.get(next))
	for i := len(next) - 1; i > len(next)-12; i-- {
		other := byte('A')
		if next[i] == other {
			other = 'B'
		}
		if strings.Contains(next[i:], "=") {
			break
		}
		s.must(http.StatusBadRequest, s.get(next[:i]+string(other)+next[i+1:]))
	}
	s.must(http.StatusBadRequest, s.get(next+"&family=cotton"))
	s.must(http.StatusBadRequest, s.get(strings.Replace(next, "/v1/fills", "/v1/fabrics", 1)))
}

// FuzzRankingBody sends bodies of any kind; whatever comes, the answer is no 5xx.
func FuzzRankingBody(f *testing.F) {
	f.Add([]byte(question))
	f.Add([]byte(`{"panel_count":10,"panel":{"parts":[{"role":"screw","count":3}]},"purpose":{"name":"own","weights":{"weight_125_hz":1}},"currency":"EUR"}`))
	f.Add([]byte(`{"a":[[[[`))
	s := serve(f, quiet{})
	f.Fuzz(func(t *testing.T, body []byte) {
		in := *s
		in.t = t
		if r := in.do(http.MethodPost, "/v1/rankings", bytes.NewReader(body), "Content-Type", "application/json"); r.status >= 500 {
			t.Errorf("status %d for %q: %s", r.status, body, r.body)
		}
	})
}
