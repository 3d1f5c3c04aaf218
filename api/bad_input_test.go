package api_test

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"io"
	"net/http"
	"slices"
	"strings"
	"testing"

	"sabinbook/internal/catalog"
	"sabinbook/internal/exchange"
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
	layer := func(name, layer, at, says string) bad {
		return post(name, "/v1/absorption-estimates", `{"layers":[`+layer+`]}`, 422, "/layers/0"+at, says)
	}
	field := func(name, change, at, says string) bad {
		return post(name, "/v1/absorption-estimates", merged(t, `{"layers":[{"kind":"fill","airflow_resistivity_pa_s_per_m2":10000,"thickness_mm":50}]}`, change), 422, at, says)
	}
	compare := func(name, change, at, says string) bad {
		return post(name, "/v1/build-or-buy", merged(t, buildOrBuyQuestion, change), 422, at, says)
	}
	token := func(name, change, at, says string) bad {
		return post(name, "/v1/tokens", merged(t, `{"member":"Ada","role":"contributor"}`, change), 422, at, says)
	}
	get := func(name, path, at, says string) bad {
		return bad{name: name, method: http.MethodGet, path: path, status: 400, at: at, says: says}
	}
	change := func(name string, status int, at, says, body string, header ...string) bad {
		return bad{name: name, method: http.MethodPatch, path: "/v1/fills/quay-slab", body: body, header: header, status: status, at: at, says: says}
	}
	read := func(name, query, at, says string) bad {
		return bad{name: name, method: http.MethodGet, path: "/v1/rankings?" + query, status: 400, at: at, says: says}
	}
	rate := func(name, change, at, says string) bad {
		return post(name, "/v1/exchange-rates", merged(t, rateBody, change), 422, at, says)
	}
	hang := func(name, change, at, says string) bad {
		return post(name, "/v1/hanging-checks", merged(t, hangingQuestion, change), 422, at, says)
	}
	partOf := func(name, part, at, says string) bad {
		return hang(name, `{"panel":{"parts":[`+part+`]}}`, "/panel/parts/0"+at, says)
	}
	density := func(v string) string {
		return `{"density_kg_per_m3":{"value":` + v + `,"evidence":"declared","source_id":"notebook"}}`
	}
	imported := func(name, query string, status int, at, says string, files ...exchange.File) bad {
		return bad{name: name, method: http.MethodPost, path: "/v1/imports?" + query, body: string(exchange.Archive(files)), header: []string{"Content-Type", "application/zip"}, status: status, at: at, says: says}
	}
	empty := exchange.Write(catalog.Snapshot{})
	broken := func(name, file, rows, at, says string) bad {
		files := slices.Clone(empty)
		i := slices.IndexFunc(files, func(f exchange.File) bool { return f.Name == file })
		files[i].Data = append(slices.Clone(files[i].Data), rows...)
		return imported(name, "dry_run=true", 422, at, says, files...)
	}
	var packed bytes.Buffer
	z := gzip.NewWriter(&packed)
	_, _ = z.Write([]byte(fillBody))
	_ = z.Close()
	return []bad{
		fill("unknown member", `{"colour":"red"}`, "/colour", "no such member"),
		fill("misspelt member", `{"sold_size":[]}`, "/sold_size", "sold_sizes"),
		fill("thickness in metres", `{"sold_sizes":[{"length_mm":1200,"width_mm":600,"thickness_mm":0.05}]}`, "/sold_sizes/0/thickness_mm", "2 to 600 mm"),
		fill("density of stone", density("4000"), "/density_kg_per_m3/value", "5 to 1000 kg/m³"),
		fill("resistivity of ten", `{"airflow_resistivity_pa_s_per_m2":{"value":10,"evidence":"declared","source_id":"notebook"}}`, "/airflow_resistivity_pa_s_per_m2/value", "100 to 2e+06 Pa·s/m²"),
		post("null for what is not known", "/v1/fills", strings.Replace(fillBody, `"sold_sizes"`, `"note":null,"sold_sizes"`, 1), 422, "/note", "leave the member out"),
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
		test("use of no kind", `{"use":"best","use_note":"seen whole"}`, "/use", "set_aside"),
		test("use without a reason", `{"use":"preferred"}`, "/use_note", "at most 500"),
		test("reason without a use", `{"use_note":"seen whole"}`, "/use_note", "preferred or set_aside"),
		test("gap that the mounting denies", `{"air_gap_mm":20}`, "/air_gap_mm", "leaves 100 mm"),
		test("third in octave data", `{"bands":{"alpha_630_hz":0.5}}`, "/bands/alpha_630_hz", "octave"),
		test("no coefficient", `{"bands":{}}`, "/bands", "at least one"),
		post("timber without lengths", "/v1/parts", merged(t, timberBody, `{"slug":"other","name":"Other","stock_lengths_mm":null}`), 422, "/stock_lengths_mm", "[2400]"),
		post("role of another kind", "/v1/parts", merged(t, timberBody, `{"slug":"other","name":"Other","role":"hanger"}`), 422, "/kind", "hardware"),
		post("fabric mass in grams", "/v1/fabrics", merged(t, fabricBody, `{"slug":"other","name":"Other","surface_mass_kg_per_m2":{"value":250,"evidence":"declared","source_id":"notebook"}}`), 422, "/surface_mass_kg_per_m2/value", "250 g/m²"),
		post("permeability without pressure", "/v1/fabrics", merged(t, fabricBody, `{"slug":"other","name":"Other","air_permeability":{"velocity_mm_per_s":100,"evidence":"declared","source_id":"notebook"}}`), 422, "/air_permeability/pressure_pa", "is missing"),
		post("design of a width in metres", "/v1/designs", merged(t, designBody, `{"slug":"other","name":"Other","width_mm":0.6}`), 422, "/width_mm", "100 to 3000"),
		post("design with another corner", "/v1/designs", merged(t, designBody, `{"slug":"other","name":"Other","joint":"dowel"}`), 422, "/joint", "half_lap"),
		post("design with a part of no panel", "/v1/designs", merged(t, designBody, `{"slug":"other","name":"Other","parts":[{"role":"goggles","count":1}]}`), 422, "/parts/0/role", "hanger"),
		post("room without sides or volume", "/v1/rooms", merged(t, roomBody, `{"slug":"other","name":"Other","room":{},"surfaces":[{"area_m2":20,"material":"plaster-painted"}]}`), 422, "/room/volume_m3", "give the volume"),
		post("room with a wall of nothing", "/v1/rooms", merged(t, roomBody, `{"slug":"other","name":"Other","surfaces":[{"face":"walls","material":"unobtainium"}]}`), 422, "/surfaces/0/material", "room-materials"),
		post("room without a source", "/v1/rooms", merged(t, roomBody, `{"slug":"other","name":"Other","source_id":null}`), 422, "/source_id", "who measured"),
		post("room with a target of nobody", "/v1/rooms", merged(t, roomBody, `{"slug":"other","name":"Other","target":{"rule":"dry"}}`), 422, "/target/rule", "din_18041"),
		post("question about a room that is not there", "/v1/room-estimates", `{"stored_room":"unobtainium"}`, 422, "/stored_room", "/v1/rooms"),
		post("question about a room of no kind", "/v1/room-estimates", `{"target":{"rule":"own","time_s":0.6}}`, 422, "/room", "stored_room"),
		post("question about a room without a target", "/v1/room-estimates", `{"room":{"volume_m3":50},"surfaces":[{"area_m2":90,"material":"plaster-painted"}]}`, 422, "/target", "time_s"),
		ask("ranking in a room that is not there", `{"room":{"stored_room":"unobtainium"}}`, "/room/stored_room", "/v1/rooms"),
		ask("ranking of a design that is not there", `{"panel":{"design":"unobtainium"}}`, "/panel/design", "/v1/designs"),
		get("short question in a room that is not there", "/v1/rankings?panel_count=2&currency=EUR&room=unobtainium", "room", "/v1/rooms"),
		get("short question of a design that is not there", "/v1/rankings?panel_count=2&currency=EUR&design=unobtainium", "design", "/v1/designs"),
		post("supplier by the size of nothing", "/v1/suppliers", merged(t, supplierBody, `{"slug":"other","name":"Other","delivery":{"fee":{"amount":"5.00","currency":"EUR"},"weight_basis":"greater"}}`), 422, "/delivery/divisor_cm3_per_kg", "5000"),
		post("supplier by another weight", "/v1/suppliers", merged(t, supplierBody, `{"slug":"other","name":"Other","delivery":{"fee":{"amount":"5.00","currency":"EUR"},"weight_basis":"moon"}}`), 422, "/delivery/weight_basis", "dimensional"),
		post("supplier without any way", "/v1/suppliers", merged(t, supplierBody, `{"slug":"other","name":"Other","delivery":null,"trip_cost":null}`), 422, "/delivery", "trip_cost"),
		post("fee in another currency", "/v1/suppliers", merged(t, supplierBody, `{"slug":"other","name":"Other","trip_cost":{"amount":"6.00","currency":"CHF"}}`), 422, "/trip_cost/currency", "EUR"),
		rate("rate of nothing", `{"rate":"0.00"}`, "/rate", "above 0"),
		rate("rate with a comma", `{"rate":"0,8563"}`, "/rate", "like 0.8563"),
		rate("rate with an exponent", `{"rate":"1e3"}`, "/rate", "decimal point"),
		rate("rate as a number", `{"rate":0.8563}`, "/rate", "text"),
		rate("rate into no currency", `{"to_currency":"XXX"}`, "/to_currency", "ISO 4217"),
		rate("rate of a currency in itself", `{"to_currency":"EUR"}`, "/to_currency", "other currency"),
		rate("rate of tomorrow", `{"observed_date":"2027-01-01"}`, "/observed_date", "after today"),
		rate("rate without a source", `{"source_id":null}`, "/source_id", "add it"),
		ask("prices converted by guess", `{"convert_prices":"guess"}`, "/convert_prices", "stored_rates"),
		ask("age of rates that are not used", `{"max_rate_age_days":3}`, "/max_rate_age_days", "stored_rates"),
		ask("rates from the future", `{"convert_prices":"stored_rates","max_rate_age_days":-1}`, "/max_rate_age_days", "0 to 36500"),
		read("prices converted by guess, asked in short", "panel_count=2&currency=EUR&convert_prices=guess", "convert_prices", "stored_rates"),
		get("family that there is not", "/v1/fills?family=rock_wol", "family", "did you mean rock_wool?"),
		get("form that there is not", "/v1/fills?form=batt,slap", "form", "did you mean slab?"),
		get("method that there is not", "/v1/fills/quay-slab/absorption-tests?standard=iso354", "standard", "did you mean iso_354?"),
		get("mounting that there is not", "/v1/fills/quay-slab/absorption-tests?mounting_type=unknwn", "mounting_type", "did you mean unknown?"),
		get("evidence that there is not", "/v1/sources?evidence=hearsay", "evidence", "measured"),
		get("stretch that there is not", "/v1/fabrics?stretch=hi", "stretch", "high"),
		get("kind that there is not", "/v1/parts?kind=timbre", "kind", "did you mean timber?"),
		get("role of no part", "/v1/parts?role=admin", "role", "hanger"),
		get("noun that nobody sells", "/v1/offers?item_kind=fills", "item_kind", "did you mean fill?"),
		get("scheme that there is not", "/v1/fills?fire_scheme=en_13501", "fire_scheme", "did you mean en_13501_1?"),
		get("role of no token", "/v1/tokens?role=hanger", "role", "curator"),
		token("token of nobody", `{"member":" "}`, "/member", "80"),
		token("token of the program", `{"member":"seed"}`, "/member", "another name"),
		token("token of a long name", `{"member":"`+strings.Repeat("a", 81)+`"}`, "/member", "at most 80"),
		token("token with a secret of one's own", `{"secret":"hush"}`, "/secret", "leave it out"),
		token("token of no role", `{"role":"keeper"}`, "/role", "curator"),
		token("token without role", `{"role":null}`, "/role", "missing"),
		token("token with a scope of no use", `{"scopes":["read","tokens"]}`, "/scopes/1", "admin"),
		token("token with a scope that is none", `{"scopes":["write"]}`, "/scopes/0", "prices"),
		token("token with a scope twice", `{"scopes":["read","read"]}`, "/scopes/1", "once"),
		token("token that has ended", `{"expire_time":"2026-11-02T12:00:00Z"}`, "/expire_time", "later"),
		token("token that ends on no day", `{"expire_time":"tomorrow"}`, "/expire_time", "2027-11-02T00:00:00.000Z"),
		get("tokens by age", "/v1/tokens?sort=age", "sort", "create_time"),
		post("size that the fill does not have", "/v1/offers", merged(t, offerBody, `{"slug":"other","sold_size":{"length_mm":1000,"width_mm":600,"thickness_mm":50}}`), 422, "/sold_size", "sold_sizes"),
		post("offer of what is not there", "/v1/offers", merged(t, offerBody, `{"slug":"other","item_id":"unobtainium"}`), 422, "/item_id", "unobtainium"),
		compare("nothing to compare with", `{"ready_made":{}}`, "/ready_made/price", "is missing"),
		compare("two ready-made panels", `{"ready_made":{"panel":"ready-panel-85","width_mm":600,"height_mm":1200}}`, "/ready_made/panel", "keep one"),
		compare("face with one side", `{"ready_made":{"width_mm":600,"price":{"price":{"amount":"89.90","currency":"EUR"},"tax_included":true,"tax_rate_percent":21}}}`, "/ready_made/height_mm", "or none"),
		compare("price of a panel in another currency", `{"ready_made":{"price":{"price":{"amount":"89.90","currency":"CHF"},"tax_included":true,"tax_rate_percent":21}}}`, "/ready_made/price/price/currency", "nothing is converted"),
		compare("break from one panel", `{"ready_made":{"price":{"price":{"amount":"89.90","currency":"EUR"},"tax_included":true,"tax_rate_percent":21,"breaks":[{"from_count":1,"price":{"amount":"80.00","currency":"EUR"}}]}}}`, "/ready_made/price/breaks/0/from_count", "2 to 2000"),
		compare("coefficient of a panel in per cent", `{"ready_made":{"panel":"ready-panel-85","absorption":{"band_basis":"octave","bands":{"alpha_500_hz":85}}}}`, "/ready_made/absorption/bands/alpha_500_hz", "not per cent"),
		compare("tool twice", `{"tools":[{"name":"saw"},{"name":"saw"}]}`, "/tools/1/name", "once"),
		compare("tool in another currency", `{"tools":[{"name":"saw","price":{"amount":"20.00","currency":"CHF"}}]}`, "/tools/0/price/currency", "nothing is converted"),
		compare("negative time", `{"labour":{"building_min_per_panel":-5}}`, "/labour/building_min_per_panel", "0 to 10000"),
		compare("value of the hour in another currency", `{"labour":{"value_of_hour":{"amount":"20.00","currency":"CHF"}}}`, "/labour/value_of_hour/currency", "nothing is converted"),
		compare("build without a fill", `{"build":{"panel_count":4,"thickness_mm":50,"fabric":"knit-mesh","currency":"EUR"}}`, "/build/fill", "is missing"),
		compare("build of no panels", `{"build":{"panel_count":0,"fill":"rock-wool-40","thickness_mm":50,"fabric":"knit-mesh","currency":"EUR"}}`, "/build/panel_count", "1 to 500"),
		compare("build of a fill that is not there", `{"build":{"panel_count":4,"fill":"unobtainium","thickness_mm":50,"fabric":"knit-mesh","currency":"EUR"},"ready_made":{"price":{"price":{"amount":"89.90","currency":"EUR"},"tax_included":true,"tax_rate_percent":21}}}`, "/build/fill", "no fill"),
		compare("ready-made panel that is not there", `{"ready_made":{"panel":"unobtainium"}}`, "/ready_made/panel", "there is no ready-made panel"),
		compare("unknown purpose", `{"purpose":{"name":"loud"}}`, "/purpose/name", "speech"),
		price("amount and price", `{"amount":"46.80"}`, "/amount", "one of them"),
		price("amount with a comma", `{"price":null,"amount":"46,80"}`, "/amount", "12.50"),
		price("neither amount nor price", `{"price":null}`, "/amount", "46.80"),
		get("summary on no day", "/v1/offers/quayside-slab/price-summary?as_of_date=yesterday", "as_of_date", "2026-11-02"),
		get("summary of a negative age", "/v1/offers/quayside-slab/price-summary?max_price_age_days=-1", "max_price_age_days", "0 to"),
		price("price without currency", `{"price":{"amount":"46.80"}}`, "/price/currency", "is missing"),
		price("unknown currency", `{"price":{"amount":"46.80","currency":"XYZ"}}`, "/price/currency", "three capitals"),
		price("withdrawn currency", `{"price":{"amount":"46.80","currency":"DEM"}}`, "/price/currency", "ISO 4217"),
		price("yen with a fraction", `{"price":{"amount":"1234.5","currency":"JPY"}}`, "/price/amount", "0 decimal places"),
		price("exponent in an amount", `{"price":{"amount":"1e3","currency":"EUR"}}`, "/price/amount", "12.50"),
		price("negative amount", `{"price":{"amount":"-5.00","currency":"EUR"}}`, "/price/amount", "12.50"),
		price("amount as a number", `{"price":{"amount":46.8,"currency":"EUR"}}`, "/price/amount", "must be a text"),
		price("price of tomorrow", `{"observed_date":"2026-11-03"}`, "/observed_date", "after today"),
		price("date the other way round", `{"observed_date":"02.11.2026"}`, "/observed_date", "2026-11-02"),
		post("room without sides or volume", "/v1/room-estimates", `{"room":{},"surfaces":[{"area_m2":10,"material":"plaster-painted"}],"target":{"rule":"own","time_s":0.6}}`, 422, "/room/volume_m3", "length_m"),
		post("room of a material that nobody published", "/v1/room-estimates", `{"room":{"volume_m3":60},"surfaces":[{"area_m2":10,"material":"painted-plaster"}],"target":{"rule":"own","time_s":0.6}}`, 422, "/surfaces/0/material", "plaster-painted"),
		post("room with a bare wall", "/v1/room-estimates", `{"room":{"length_m":5,"width_m":4,"height_m":3},"surfaces":[{"face":"floor","material":"slate"},{"face":"ceiling","material":"slate"}],"target":{"rule":"own","time_s":0.6}}`, 422, "/surfaces", "walls"),
		post("window larger than its wall", "/v1/room-estimates", `{"room":{"length_m":5,"width_m":4,"height_m":3},"surfaces":[{"face":"floor","material":"slate"},{"face":"ceiling","material":"slate"},{"face":"walls","material":"slate"},{"face":"walls","area_m2":99,"material":"lead-glazing"}],"target":{"rule":"own","time_s":0.6}}`, 422, "/surfaces", "99.00"),
		post("person as a surface", "/v1/room-estimates", `{"room":{"volume_m3":60},"surfaces":[{"area_m2":10,"material":"one-seated-person"}],"target":{"rule":"own","time_s":0.6}}`, 422, "/surfaces/0/material", "things"),
		post("target of nobody's rule", "/v1/room-estimates", `{"room":{"volume_m3":60},"surfaces":[{"area_m2":10,"material":"slate"}],"target":{"rule":"taste"}}`, 422, "/target/rule", "own"),
		post("target without a time", "/v1/room-estimates", `{"room":{"volume_m3":60},"surfaces":[{"area_m2":10,"material":"slate"}],"target":{"rule":"own"}}`, 422, "/target/time_s", "0.6"),
		post("group that the standard does not have", "/v1/room-estimates", `{"room":{"volume_m3":60},"surfaces":[{"area_m2":10,"material":"slate"}],"target":{"rule":"din_18041","group":"A9"}}`, 422, "/target/group", "A1"),
		post("octave that is none", "/v1/room-estimates", `{"room":{"volume_m3":60},"surfaces":[{"area_m2":10,"material":"slate"}],"target":{"rule":"own","time_s":0.6,"from_hz":300}}`, 422, "/target/from_hz", "octave"),
		post("listener outside of the room", "/v1/room-estimates", `{"room":{"length_m":5,"width_m":4,"height_m":3},"surfaces":[{"face":"floor","material":"slate"},{"face":"ceiling","material":"slate"},{"face":"walls","material":"slate"}],"target":{"rule":"own","time_s":0.6},"placement":{"source":{"x_m":1,"y_m":1,"z_m":1},"listeners":[{"x_m":9,"y_m":1,"z_m":1}]}}`, 422, "/placement/listeners/0/x_m", "inside"),
		price("dearer by the dozen", `{"breaks":[{"from_count":12,"price":{"amount":"9999.00","currency":"EUR"}}]}`, "/breaks/0/price/amount", "lower"),
		price("break in another currency", `{"breaks":[{"from_count":12,"price":{"amount":"1.00","currency":"CHF"}}]}`, "/breaks/0/price/currency", "currency of the price"),
		price("tax as a share of one hundred times", `{"tax_rate_percent":2100}`, "/tax_rate_percent", "0 to 100"),
		field("no layers", `{"layers":[]}`, "/layers", "1 to 16"),
		field("layers left out", `{"layers":null}`, "/layers", "is missing"),
		field("unknown incidence", `{"incidence":"grazing"}`, "/incidence", "diffuse_78"),
		field("unknown reaction", `{"reaction":"slow"}`, "/reaction", "bulk"),
		field("degrees Fahrenheit", `{"temperature_c":68}`, "/temperature_c", "-50 to 60"),
		field("pressure in hectopascals", `{"pressure_pa":1013}`, "/pressure_pa", "1013 hPa"),
		field("patch in metres", `{"patch":{"length_mm":3.6,"width_mm":3.0}}`, "/patch/width_mm", "50 to 6000"),
		field("patch without width", `{"patch":{"length_mm":3600}}`, "/patch/width_mm", "is missing"),
		field("patch of nothing", `{"patch":{"length_mm":0,"width_mm":0}}`, "/patch/length_mm", "above 0"),
		layer("unknown kind", `{"kind":"door"}`, "/kind", "air_gap"),
		layer("kind left out", `{"thickness_mm":50}`, "/kind", "is missing"),
		layer("gap of a fabric", `{"kind":"fabric","flow_resistance_pa_s_per_m":100,"depth_mm":20}`, "/depth_mm", "air_gap"),
		layer("openness of a fill", `{"kind":"fill","airflow_resistivity_pa_s_per_m2":10000,"thickness_mm":50,"flow_resistance_pa_s_per_m":100}`, "/flow_resistance_pa_s_per_m", "kind fabric"),
		layer("fabric without openness", `{"kind":"fabric","surface_mass_kg_per_m2":0.2}`, "/flow_resistance_pa_s_per_m", "air_permeability"),
		layer("two opennesses", `{"kind":"fabric","flow_resistance_pa_s_per_m":100,"weave":{"warp":{"threads_per_cm":20,"diameter_um":100},"weft":{"threads_per_cm":20,"diameter_um":100}}}`, "", "2 ways"),
		layer("mass of nothing", `{"kind":"fabric","flow_resistance_pa_s_per_m":100,"surface_mass_kg_per_m2":0}`, "/surface_mass_kg_per_m2", "leave it out"),
		layer("mass in grams", `{"kind":"fabric","flow_resistance_pa_s_per_m":100,"surface_mass_kg_per_m2":250}`, "/surface_mass_kg_per_m2", "250 g/m²"),
		layer("unknown fabric", `{"kind":"fabric","fabric":"unobtainium"}`, "/fabric", "unobtainium"),
		layer("fabric without a name", `{"kind":"fabric","fabric":""}`, "/fabric", "slug"),
		layer("permeability in gallons", `{"kind":"fabric","air_permeability":{"flow":5,"unit":"gallons","test_pressure_pa":100}}`, "/air_permeability/unit", "cfm_per_ft2"),
		layer("flow without its pressure", `{"kind":"fabric","air_permeability":{"flow":500,"unit":"mm_per_s"}}`, "/air_permeability/test_pressure_pa", "is missing"),
		layer("flow in the wrong unit", `{"kind":"fabric","air_permeability":{"flow":500,"unit":"m_per_s","test_pressure_pa":100}}`, "/air_permeability/flow", "check the unit"),
		layer("second flow without its pressure", `{"kind":"fabric","air_permeability":{"flow":500,"unit":"mm_per_s","test_pressure_pa":100,"second_flow":900}}`, "/air_permeability/second_test_pressure_pa", "is missing"),
		layer("second pressure without its flow", `{"kind":"fabric","air_permeability":{"flow":500,"unit":"mm_per_s","test_pressure_pa":100,"second_test_pressure_pa":200}}`, "/air_permeability/second_flow", "is missing"),
		layer("second flow of nothing", `{"kind":"fabric","air_permeability":{"flow":500,"unit":"mm_per_s","test_pressure_pa":100,"second_flow":0,"second_test_pressure_pa":200}}`, "/air_permeability/second_flow", "above 0"),
		layer("bound without figure", `{"kind":"fabric","fabric":"harbour-knit","flow_resistance_low_pa_s_per_m":10}`, "/flow_resistance_low_pa_s_per_m", "without its figure"),
		layer("closed weave", `{"kind":"fabric","weave":{"warp":{"threads_per_cm":100,"diameter_um":200},"weft":{"threads_per_cm":20,"diameter_um":100}}}`, "/weave/warp", "nothing open"),
		layer("run without time", `{"kind":"fabric","piston_test":{"piston_area_cm2":78,"sample_area_cm2":20,"volume_l":0.5,"runs":[{"mass_kg":0.1}]}}`, "/piston_test/runs/0/time_s", "is missing"),
		layer("run of no time", `{"kind":"fabric","piston_test":{"piston_area_cm2":78,"sample_area_cm2":20,"volume_l":0.5,"runs":[{"mass_kg":0.1,"time_s":0}]}}`, "/piston_test/runs/0/time_s", "0.05 to"),
		layer("plug of a fabric", `{"kind":"fabric","piston_test":{"piston_area_cm2":78,"sample_area_cm2":20,"volume_l":0.5,"plug_thickness_mm":50,"runs":[{"mass_kg":0.1,"time_s":5}]}}`, "/piston_test/plug_thickness_mm", "layers_count"),
		layer("test of a fill without its plug", `{"kind":"fill","thickness_mm":50,"piston_test":{"piston_area_cm2":78,"sample_area_cm2":20,"volume_l":0.5,"runs":[{"mass_kg":0.1,"time_s":5}]}}`, "/piston_test/plug_thickness_mm", "is missing"),
		layer("fill without resistivity", `{"kind":"fill","thickness_mm":50}`, "/airflow_resistivity_pa_s_per_m2", "piston_test"),
		layer("fill without thickness", `{"kind":"fill","airflow_resistivity_pa_s_per_m2":10000}`, "/thickness_mm", "is missing"),
		layer("resistivity in kPa", `{"kind":"fill","airflow_resistivity_pa_s_per_m2":10,"thickness_mm":50}`, "/airflow_resistivity_pa_s_per_m2", "10 kPa"),
		layer("bounds out of order", `{"kind":"fill","airflow_resistivity_pa_s_per_m2":10000,"airflow_resistivity_low_pa_s_per_m2":20000,"thickness_mm":50}`, "/airflow_resistivity_pa_s_per_m2", "low <= value"),
		layer("unknown stored fill", `{"kind":"fill","fill":"unobtainium","thickness_mm":50}`, "/fill", "unobtainium"),
		layer("density without family", `{"kind":"fill","density_kg_per_m3":40,"thickness_mm":50}`, "/family", "rock_wool"),
		layer("family without relation", `{"kind":"fill","family":"open_cell_foam","density_kg_per_m3":30,"thickness_mm":50}`, "/family", "no relation"),
		layer("diameter for nothing", `{"kind":"fill","airflow_resistivity_pa_s_per_m2":10000,"fibre_diameter_um":6,"thickness_mm":50}`, "/fibre_diameter_um", "family"),
		layer("unknown model", `{"kind":"fill","airflow_resistivity_pa_s_per_m2":10000,"thickness_mm":50,"model":"best"}`, "/model", "ac92"),
		layer("pores without their model", `{"kind":"fill","airflow_resistivity_pa_s_per_m2":10000,"thickness_mm":50,"pores":{"porosity_fraction":0.98,"tortuosity":1.1,"viscous_length_um":100,"thermal_length_um":200}}`, "/pores", "jca"),
		layer("pores of zero without their model", `{"kind":"fill","airflow_resistivity_pa_s_per_m2":10000,"thickness_mm":50,"pores":{"porosity_fraction":0,"tortuosity":0,"viscous_length_um":0,"thermal_length_um":0}}`, "/pores", "jca"),
		layer("pores without tortuosity", `{"kind":"fill","airflow_resistivity_pa_s_per_m2":10000,"thickness_mm":50,"model":"jca","pores":{"porosity_fraction":0.98,"viscous_length_um":100,"thermal_length_um":200}}`, "/pores/tortuosity", "is missing"),
		layer("model without a name", `{"kind":"fill","airflow_resistivity_pa_s_per_m2":10000,"thickness_mm":50,"model":""}`, "/model", "is empty"),
		layer("family without a name", `{"kind":"fill","airflow_resistivity_pa_s_per_m2":10000,"thickness_mm":50,"family":""}`, "/family", "is empty"),
		layer("density of nothing", `{"kind":"fill","airflow_resistivity_pa_s_per_m2":10000,"density_kg_per_m3":0,"thickness_mm":50}`, "/density_kg_per_m3", "leave it out"),
		layer("bound of nothing", `{"kind":"fill","airflow_resistivity_pa_s_per_m2":10000,"airflow_resistivity_low_pa_s_per_m2":0,"thickness_mm":50}`, "/airflow_resistivity_low_pa_s_per_m2", "above 0"),
		layer("two resistivities", `{"kind":"fill","fill":"quay-slab","airflow_resistivity_pa_s_per_m2":10000,"thickness_mm":50}`, "", "2 ways"),
		layer("model without its pores", `{"kind":"fill","airflow_resistivity_pa_s_per_m2":10000,"thickness_mm":50,"model":"jca"}`, "/pores/tortuosity", "1 to 100"),
		layer("open area in per cent", `{"kind":"perforated_sheet","open_area_fraction":20,"hole_diameter_mm":5,"thickness_mm":3}`, "/open_area_fraction", "0.12 for 12 %"),
		layer("sheet without holes", `{"kind":"perforated_sheet","open_area_fraction":0.2,"thickness_mm":3}`, "/hole_diameter_mm", "is missing"),
		layer("depth of a sheet", `{"kind":"perforated_sheet","open_area_fraction":0.2,"hole_diameter_mm":5,"thickness_mm":3,"depth_mm":20}`, "/depth_mm", "kind air_gap"),
		layer("thickness of a gap", `{"kind":"air_gap","depth_mm":50,"thickness_mm":50}`, "/thickness_mm", "perforated_sheet or fill"),
		layer("piston test of a gap", `{"kind":"air_gap","depth_mm":50,"piston_test":{"piston_area_cm2":78,"sample_area_cm2":20,"volume_l":0.5,"runs":[{"mass_kg":0.1,"time_s":5}]}}`, "/piston_test", "fabric or fill"),
		layer("gap without depth", `{"kind":"air_gap"}`, "/depth_mm", "is missing"),
		layer("gap of ten metres", `{"kind":"air_gap","depth_mm":10000}`, "/depth_mm", "0 to 2000"),
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
		ask("weights of a room that is not told", `{"purpose":{"name":"room"}}`, "/purpose/name", "give room"),
		ask("room with panels of its own", `{"room":{"room":{"volume_m3":60},"surfaces":[{"area_m2":10,"material":"slate"}],"target":{"rule":"own","time_s":0.6},"panels":{"width_mm":600,"height_mm":1200,"alpha":{"alpha_125_hz":0.1,"alpha_250_hz":0.1,"alpha_500_hz":0.1,"alpha_1000_hz":0.1,"alpha_2000_hz":0.1,"alpha_4000_hz":0.1}}}}`, "/room/panels", "leave it out"),
		ask("room of a material that nobody published", `{"room":{"room":{"volume_m3":60},"surfaces":[{"area_m2":10,"material":"plasterish"}],"target":{"rule":"own","time_s":0.6}}}`, "/room/surfaces/0/material", "room-materials"),
		read("short question without a number", "currency=EUR", "panel_count", "missing"),
		read("short question for no panels", "currency=EUR&panel_count=0", "panel_count", "1 to 500"),
		read("short question in no currency", "currency=euro&panel_count=3", "currency", "EUR"),
		read("short question with a width in metres", "currency=EUR&panel_count=3&width_mm=0.6", "width_mm", "millimetres"),
		read("short question with a budget in words", "currency=EUR&panel_count=3&budget=little", "budget", "12.50"),
		read("short question for an order that is none", "currency=EUR&panel_count=3&order=price", "order", "absorption_per_cost"),
		read("short question for a fill that is not there", "currency=EUR&panel_count=3&fills=moon-dust", "fills", "moon-dust"),
		read("short question by a member of long ones", "currency=EUR&panel_count=3&handling=none", "handling", "use one of"),
		read("short question in a format that is none", "currency=EUR&panel_count=3&format=xlsx", "format", "json or csv"),
		read("table with commas for everything", "currency=EUR&panel_count=3&format=csv&decimal=comma", "decimal", "semicolon"),
		read("table parameters without a table", "currency=EUR&panel_count=3&bom=true", "bom", "format=csv"),
		{name: "column that is none", method: http.MethodGet, path: "/v1/fills.csv?fields=slug,densty_kg_per_m3", status: 400, at: "fields", says: "did you mean density_kg_per_m3"},
		{name: "column twice", method: http.MethodGet, path: "/v1/fills.csv?fields=slug,slug", status: 400, at: "fields", says: "twice"},
		{name: "columns of no table", method: http.MethodGet, path: "/v1/fills?fields=slug", status: 400, at: "fields", says: "format=csv"},
		{name: "delimiter that is none", method: http.MethodGet, path: "/v1/fills.csv?delimiter=tab", status: 400, at: "delimiter", says: "semicolon"},
		{name: "format that is none", method: http.MethodGet, path: "/v1/fills?format=xml", status: 400, at: "format", says: "ndjson"},
		{name: "reason that is empty", method: http.MethodPost, path: "/v1/fills", body: "{}", header: []string{"Change-Reason", ""}, status: 400, at: "Change-Reason", says: "leave the header out"},
		{name: "reason that is too long", method: http.MethodDelete, path: "/v1/fills/quay-slab", header: []string{"If-Match", "*", "Change-Reason", strings.Repeat("x", 501)}, status: 400, at: "Change-Reason", says: "1 to 500"},
		{name: "reason that is not UTF-8", method: http.MethodDelete, path: "/v1/fills/quay-slab", header: []string{"If-Match", "*", "Change-Reason", "\xe9"}, status: 400, at: "Change-Reason", says: "UTF-8"},
		get("events of a noun that is none", "/v1/audit-events?noun=fil", "noun", "fill"),
		get("events since a day", "/v1/audit-events?change_time_min=2026-11-02", "change_time_min", "RFC 3339"),
		get("events in an order that is none", "/v1/audit-events?sort=reason", "sort", "change_time"),
		get("history of a noun that is none", "/v1/history?noun=fabrik&record=quay-slab", "noun", "fabric"),
		get("history without a record", "/v1/history?noun=fill", "record", ""),
		imported("import without a plan", "", 400, "plan_digest", "dry_run=true", empty...),
		imported("import by a choice that is none", "dry_run=true&on_conflict=merge", 400, "on_conflict", "keep", empty...),
		imported("plan with the digest of a plan", "dry_run=true&plan_digest=0", 400, "plan_digest", "leave one"),
		imported("import by another plan", "plan_digest=0", 409, "plan_digest", "again", empty...),
		imported("package with a folder", "dry_run=true", 422, "catalog/fills.csv", "without a folder", exchange.File{Name: "catalog/fills.csv"}),
		imported("package without its tables", "dry_run=true", 422, "offers.csv", "add it", exchange.File{Name: "datapackage.json"}),
		{name: "package that is no zip", method: http.MethodPost, path: "/v1/imports?dry_run=true", body: "PK", header: []string{"Content-Type", "application/zip"}, status: 422, says: "cut off"},
		{name: "package as JSON", method: http.MethodPost, path: "/v1/imports?dry_run=true", body: "{}", status: 415, at: "Content-Type", says: "application/zip"},
		broken("package with a torn table", "fills.csv", "\"", "fills.csv:2", "cut off"),
		broken("package with a short row", "price_breaks.csv", "a,1\r\n", "price_breaks.csv:2", "the header has 4"),
		broken("package with a coefficient of nothing", "absorption_test_bands.csv", "test_00000000000000000000000000,500,0.5\r\n", "absorption_test_bands.csv:2 absorption_test_id", "add the row"),
		broken("package with a number in words", "price_breaks.csv", "price_00000000000000000000000000,one,5,3.00\r\n", "price_breaks.csv:2 position", "digits"),
		ask("lift with hands in the floor", `{"handling":{"lift":{"from_cm":-5}}}`, "/handling/lift/from_cm", "0 to 300"),
		ask("lift with a grip that is none", `{"handling":{"lift":{"coupling":"firm"}}}`, "/handling/lift/coupling", "fair"),
		ask("reasons for no key", `{"why":["rock wool"]}`, "/why/0", "copy the key"),
		ask("reasons for too many", `{"why":["a.50x1.gap-0.b","a.50x2.gap-0.b","a.50x1.gap-1.b","a.50x1.gap-2.b","a.50x1.gap-3.b","a.50x1.gap-4.b","a.50x1.gap-5.b","a.50x1.gap-6.b","a.50x1.gap-7.b","a.50x1.gap-8.b","a.50x1.gap-9.b"]}`, "/why", "at most 10"),
		ask("options by no key", `{"options":["rock wool"]}`, "/options/0", "copy the key"),
		ask("options that are no candidates", `{"options":["moon-cheese.50x1.gap-0.nonwoven-60"]}`, "/options/0", "no candidate"),
		ask("number from the room and fixed", `{"panel_count_from":"room"}`, "/panel_count", "one of them"),
		ask("number from nowhere", `{"panel_count":null}`, "/panel_count", "is missing"),
		ask("number from the moon", `{"panel_count":null,"panel_count_from":"moon"}`, "/panel_count_from", "room"),
		ask("number from a room that is not told", `{"panel_count":null,"panel_count_from":"room"}`, "/room", "is missing"),
		ask("number from a room that is within its target", `{"panel_count":null,"panel_count_from":"room","room":{"room":{"volume_m3":60},"surfaces":[{"area_m2":500,"material":"slate"}],"target":{"rule":"own","time_s":10}}}`, "/panel_count_from", "without panels"),
		ask("cost to a target of a fixed number", `{"order":"cost_to_target"}`, "/order", "panel_count_from"),
		ask("more panels than the walls hold", `{"panel_count":400,"room":{"room":{"length_m":5,"width_m":4,"height_m":3},"surfaces":[{"face":"floor","material":"slate"},{"face":"ceiling","material":"slate"},{"face":"walls","material":"slate"}],"target":{"rule":"own","time_s":0.6}}}`, "/panel_count", "larger room"),
		ask("basis of nothing", `{"basis":"guess"}`, "/basis", "model"),
		ask("more draws than are made", `{"draws":{"count":20001}}`, "/draws/count", "2000"),
		ask("budget in another currency", `{"limits":{"budget":{"amount":"1.00","currency":"CHF"}}}`, "/limits/budget/currency", "converted"),
		ask("panel that may weigh nothing", `{"limits":{"panel_mass_kg":0}}`, "/limits/panel_mass_kg", "leave"),
		ask("face in the wall", `{"limits":{"depth_from_wall_mm":0}}`, "/limits/depth_from_wall_mm", "leave"),
		ask("less than no time", `{"limits":{"extra_time_min":-1}}`, "/limits/extra_time_min", "leave"),
		ask("hazard that is no caution", `{"limits":{"avoid":["noise"]}}`, "/limits/avoid/0", "may_itch"),
		ask("fire class of nobody's scheme", `{"limits":{"fire":{"scheme":"own","codes":["A"],"of":["fill"]}}}`, "/limits/fire/scheme", "en_13501_1"),
		ask("fire class without a class", `{"limits":{"fire":{"scheme":"astm_e84","codes":[],"of":["fill"]}}}`, "/limits/fire/codes", "word for word"),
		ask("fire class of the whole panel", `{"limits":{"fire":{"scheme":"astm_e84","codes":["A"],"of":["panel"]}}}`, "/limits/fire/of/0", "fabric"),
		ask("joint that nobody makes", `{"panel":{"joint":"dovetail"}}`, "/panel/joint", "half_lap"),
		ask("more braces than a panel takes", `{"panel":{"braces_count":21}}`, "/panel/braces_count", "20"),
		ask("back piece that ends far inside", `{"panel":{"back_margin_mm":-41}}`, "/panel/back_margin_mm", "-40"),
		ask("fill cut far too large", `{"panel":{"fill_oversize_mm":51}}`, "/panel/fill_oversize_mm", "50"),
		ask("old prices dealt with otherwise", `{"old_prices":"ignored"}`, "/old_prices", "flagged"),
		ask("stock of a kind that is not counted", `{"stock_on_hand":[{"item_kind":"shelf","item":"x","count":1}]}`, "/stock_on_hand/0/item_kind", "fabric"),
		ask("stock of nothing", `{"stock_on_hand":[{"item_kind":"part","item":"no-such-part","count":1}]}`, "/stock_on_hand/0/item", "slug"),
		ask("none of it on hand", `{"stock_on_hand":[{"item_kind":"part","item":"x","count":0}]}`, "/stock_on_hand/0/count", "leave"),
		ask("batts without a size", `{"stock_on_hand":[{"item_kind":"fill","item":"rock-wool-40","count":1}]}`, "/stock_on_hand/0/sold_size", "thickness"),
		ask("remnant without a length", `{"stock_on_hand":[{"item_kind":"fabric","item":"nonwoven-60","count":1}]}`, "/stock_on_hand/0/length_mm", "remnant"),
		ask("stock valued in another currency", `{"stock_on_hand":[{"item_kind":"part","item":"x","count":1,"replacement_value":{"amount":"1.00","currency":"CHF"}}]}`, "/stock_on_hand/0/replacement_value/currency", "converted"),
		ask("role that nobody plays", `{"owned_roles":["hat"]}`, "/owned_roles/0", "goggles"),
		ask("control character in a region", `{"region":"Quill\u0007haven"}`, "/region", "U+0007"),
		ask("too many options", `{"limit":5000}`, "/limit", "1 to 200"),
		ask("no options", `{"limit":0}`, "/limit", "1 to 200"),
		ask("unknown currency of a question", `{"currency":"XYZ"}`, "/currency", "three capitals"),
		ask("own weights left out", `{"purpose":{"name":"own"}}`, "/purpose/weights", "is missing"),
		ask("negative weight", `{"purpose":{"name":"own","weights":{"weight_500_hz":-1,"weight_250_hz":2}}}`, "/purpose/weights/weight_500_hz", "0 to 1000"),
		ask("weights of another purpose", `{"purpose":{"name":"flat","weights":{"weight_250_hz":0.0656,"weight_500_hz":0.1768}}}`, "/purpose/weights", "own"),
		ask("no gaps", `{"air_gaps_mm":[]}`, "/air_gaps_mm", "1 to 10"),
		ask("gap in metres below zero", `{"air_gaps_mm":[-0.05]}`, "/air_gaps_mm/0", "0 to 500 mm"),
		ask("three layers", `{"layers_max_count":3}`, "/layers_max_count", "1 to 2"),
		ask("frame as a part", `{"panel":{"parts":[{"role":"frame_timber","count":4}]}}`, "/panel/parts/0/role", "hanger"),
		ask("unknown fabric", `{"fabrics":["gossamer"]}`, "/fabrics/0", "no fabric"),
		ask("negative age of prices", `{"max_price_age_days":-1}`, "/max_price_age_days", "0"),
		ask("waste in thousandths", `{"fabric_waste_percent":10.001}`, "/fabric_waste_percent", "two decimal places"),
		ask("hour without a currency", `{"handling":{"value_of_hour":{"amount":"12.00"}}}`, "/handling/value_of_hour/currency", "is missing"),
		post("question that is null", "/v1/rankings", `null`, 422, "", "object"),
		ask("unknown member of a question", `{"panels":10}`, "/panels", "panel"),
		post("curve on no basis", "/v1/ratings", `{"band_basis":"sixth","bands":{"alpha_500_hz":0.5}}`, 422, "/band_basis", "third_octave, octave"),
		post("curve in per cent", "/v1/ratings", `{"band_basis":"octave","bands":{"alpha_500_hz":85}}`, 422, "/bands/alpha_500_hz", "not per cent"),
		post("curve of nothing", "/v1/ratings", `{"band_basis":"octave","bands":{}}`, 422, "/bands", "at least one"),
		hang("panel of nothing", `{"panel":{}}`, "/panel", "mass_kg from a scale"),
		hang("panel left out", `{"panel":null}`, "/panel", "is missing"),
		hang("mass in grams", `{"panel":{"mass_kg":6000}}`, "/panel/mass_kg", "0.0001 to 500 kg"),
		hang("bound of a mass without it", `{"panel":{"mass_high_kg":7}}`, "/panel/mass_high_kg", "without its figure"),
		hang("mass and parts", `{"panel":{"mass_kg":6,"parts":[{"kind":"fill"}]}}`, "/panel", "one of them"),
		partOf("unknown wood", `{"kind":"frame","wood":"ironwood","length_mm":1200,"width_mm":100,"thickness_mm":18}`, "/wood", "douglas_fir"),
		partOf("wood without a name", `{"kind":"frame","wood":"","length_mm":1200,"width_mm":100,"thickness_mm":18}`, "/wood", "is empty"),
		partOf("wood without a length", `{"kind":"frame","wood":"c24","width_mm":100,"thickness_mm":18}`, "/length_mm", "is missing"),
		partOf("two ways to a mass", `{"kind":"fill","mass_kg":3,"wood":"c24","length_mm":1200,"width_mm":100,"thickness_mm":18}`, "", "2 ways"),
		partOf("no pieces", `{"kind":"hardware","mass_kg":0.02,"count":0}`, "/count", "above 0"),
		hang("way of hanging that is none", `{"system":"magnets"}`, "/system", "french_cleat"),
		hang("straight wire", `{"wire":{"ring_spacing_mm":500,"sag_mm":0}}`, "/wire/sag_mm", "straight wire"),
		hang("wire without slack", `{"wire":{"ring_spacing_mm":500,"wire_length_mm":500}}`, "/wire/wire_length_mm", "slack"),
		hang("sag and length of a wire", `{"wire":{"ring_spacing_mm":500,"sag_mm":60,"wire_length_mm":520}}`, "/wire/wire_length_mm", "one of them"),
		hang("load in two units", `{"hardware":[{"id":"ring","role":"ring","working_load_kg":15,"working_load_n":147}]}`, "/hardware/0/working_load_n", "two units"),
		hang("breaking strength of nothing", `{"hardware":[{"id":"ring","role":"ring","breaking_strength_kg":0}]}`, "/hardware/0/breaking_strength_kg", "0.001 to"),
		hang("cleat on a wire", `{"hardware":[{"id":"cleat","role":"cleat"}]}`, "/hardware/0/role", "wall_fixing"),
		hang("small design factor", `{"design_factor":2}`, "/design_factor", "4 to 20"),
		hang("factor of nothing", `{"load_factor":0}`, "/load_factor", "above 0"),
		hang("row of nothing", `{"row":{"top_below_line_mm":300,"panels":[]}}`, "/row/panels", "1 to 500"),
		hang("hook above the ceiling", `{"row":{"top_below_line_mm":0,"panels":[{"id":"a","ring_drop_mm":20,"ring_spacing_mm":500,"sag_mm":60}]}}`, "/row/panels/0", "40.0 mm above the line"),
		hang("unknown answer about the place", `{"site":{"over_people":"perhaps"}}`, "/site/over_people", "unknown"),
		hang("empty answer about the place", `{"site":{"over_people":""}}`, "/site/over_people", "is empty"),
		hang("humidity as a fraction", `{"cold_wall":{"wall_resistance_m2_k_per_w":0.5,"panel_resistance_m2_k_per_w":2.8,"inside_c":20,"outside_c":-5,"humidity_percent":0.5}}`, "/cold_wall/humidity_percent", "1 to 100"),
		hang("warm day", `{"cold_wall":{"wall_resistance_m2_k_per_w":0.5,"panel_resistance_m2_k_per_w":2.8,"inside_c":20,"outside_c":25,"humidity_percent":50}}`, "/cold_wall/outside_c", "cold day"),
		post("empty body", "/v1/fills", "", 400, "", "is empty"),
		post("layers that are no number", "/v1/absorption-estimates", `{"layers":[{"kind":"air_gap","depth_mm":NaN}]}`, 400, "/layers/0/depth_mm", "NaN and Infinity"),
		post("layer with a member twice", "/v1/absorption-estimates", `{"layers":[{"kind":"air_gap","depth_mm":5,"depth_mm":50}]}`, 400, "/layers/0/depth_mm", "twice"),
		post("layer with a member in other letters", "/v1/absorption-estimates", `{"layers":[{"kind":"air_gap","Depth_mm":5}]}`, 422, "/layers/0/Depth_mm", "did you mean depth_mm"),
		post("layer that is null", "/v1/absorption-estimates", `{"layers":[null]}`, 422, "/layers/0", "null"),
		post("question of a list", "/v1/absorption-estimates", `[]`, 422, "", "object"),
		post("no object", "/v1/fills", `[]`, 422, "", "object"),
		post("NaN", "/v1/rankings", `{"panel_count":NaN,"currency":"EUR"}`, 400, "/panel_count", "NaN and Infinity"),
		post("Infinity", "/v1/rankings", `{"panel_count":Infinity,"currency":"EUR"}`, 400, "/panel_count", "NaN and Infinity"),
		post("number beyond all numbers", "/v1/rankings", `{"panel_count":1e400,"currency":"EUR"}`, 422, "/panel_count", "2^53"),
		post("member twice", "/v1/rankings", `{"panel_count":1,"panel_count":2,"currency":"EUR"}`, 400, "/panel_count", "twice"),
		post("text after the value", "/v1/rankings", question+` {}`, 400, "", "after the value"),
		post("byte order mark", "/v1/rankings", "\xEF\xBB\xBF"+question, 400, "", "byte order mark"),
		post("broken UTF-8", "/v1/rankings", "{\"currency\":\"\xff\"}", 400, "", "UTF-8"),
		post("nested a hundred deep", "/v1/rankings", strings.Repeat(`{"a":`, 100)+"1"+strings.Repeat("}", 100), 400, strings.Repeat("/a", 32), "deeper than 32"),
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
		get("made-up cursor", "/v1/fills?cursor=abc", "cursor", "leave the cursor out"),
		get("order that does not exist", "/v1/fills?sort=beauty", "sort", "density_kg_per_m3"),
		get("range of text", "/v1/fills?density_kg_per_m3_min=heavy", "density_kg_per_m3_min", "number"),
		change("change without If-Match", 428, "If-Match", "ETag", `{"note":"x"}`),
		change("stale change", 412, "", "", `{"note":"x"}`, "If-Match", `"fill_00000000000000000000000000.9"`),
		change("weak tag", 412, "", "", `{"note":"x"}`, "If-Match", `W/"fill_1.1"`),
		change("tag without quotes", 400, "If-Match", "ETag of the record", `{"note":"x"}`, "If-Match", "abc"),
		change("half a tag", 400, "If-Match", "ETag of the record", `{"note":"x"}`, "If-Match", `"abc`),
		change("nothing to change", 422, "", "at least one member", `{}`, "If-Match", "*"),
		change("list for a patch", 422, "", "object", `[]`, "If-Match", "*"),
		change("deleting what no record has", 422, "/colour", "no such member", `{"colour":null}`, "If-Match", "*"),
		change("deleting inside what no record has", 422, "/handling/colour", "no such member", `{"handling":{"colour":null}}`, "If-Match", "*"),
		change("deleting what the service sets", 422, "/revision", "leave it out", `{"revision":null}`, "If-Match", "*"),
		change("changing what the service sets", 422, "/id", "leave it out", `{"id":"fill_00000000000000000000000000"}`, "If-Match", "*"),
		change("null within a list", 422, "/fire_declarations/0/code", "leave the member out", `{"fire_declarations":[{"subject":"fill","scheme":"none","code":null,"durability":"unknown","evidence":"hearsay","source_id":"notebook"}]}`, "If-Match", "*"),
		change("needed member null within a list", 422, "/sold_sizes/0/thickness_mm", "is missing", `{"sold_sizes":[{"length_mm":1200,"width_mm":600,"thickness_mm":null}]}`, "If-Match", "*"),
		change("unknown member null within a list", 422, "/sold_sizes/0/colour", "no such member", `{"sold_sizes":[{"length_mm":1200,"width_mm":600,"thickness_mm":50,"colour":null}]}`, "If-Match", "*"),
		change("element null", 422, "/sold_sizes/0", "null", `{"sold_sizes":[null]}`, "If-Match", "*"),
		{name: "replacing without If-Match", method: http.MethodPut, path: "/v1/fills/quay-slab", body: fillBody, status: 428, at: "If-Match", says: "ETag"},
		{name: "replacing by nonsense", method: http.MethodPut, path: "/v1/fills/quay-slab", body: merged(t, fillBody, density("-40")), header: []string{"If-Match", "*"}, status: 422, at: "/density_kg_per_m3/value", says: "5 to 1000"},
		{name: "patch of another type", method: http.MethodPatch, path: "/v1/fills/quay-slab", body: `{"note":"x"}`, header: []string{"If-Match", "*", "Content-Type", "application/json"}, status: 415, at: "Content-Type", says: "application/merge-patch+json"},
		{name: "letters of another set", method: http.MethodPost, path: "/v1/fills", body: fillBody, header: []string{"Content-Type", "application/json; charset=latin1"}, status: 415, at: "Content-Type", says: "application/json"},
		price("tax in thousandths", `{"tax_rate_percent":21.005}`, "/tax_rate_percent", "two decimal places"),
		price("euro with a tenth of a cent", `{"price":{"amount":"46.801","currency":"EUR"}}`, "/price/amount", "2 decimal places"),
		price("comma in an amount", `{"price":{"amount":"46,80","currency":"EUR"}}`, "/price/amount", "12.50"),
		post("half a character", "/v1/fills", strings.Replace(fillBody, "Quay slab", `Quay \ud800 slab`, 1), 400, "", ""),
		post("NUL in a name", "/v1/fills", strings.Replace(fillBody, "Quay slab", `Quay \u0000 slab`, 1), 422, "/name", "U+0000"),
		post("member in other letters", "/v1/fills", strings.Replace(fillBody, `"name"`, `"Name"`, 1), 422, "/Name", "did you mean name"),
		get("words with a gap at the end", "/v1/fills?fire_code=B-s1,d0,", "fire_code", "one comma"),
		get("number of another kind", "/v1/fills?density_kg_per_m3_min=NaN", "density_kg_per_m3_min", "number"),
		get("day that is not", "/v1/offers?observed_date_min=2026-02-30", "observed_date_min", "2026-11-02"),
		get("order given twice", "/v1/fills?sort=slug,-slug", "sort", "once"),
		get("order of two words", "/v1/fills?sort=slug%0a", "sort", "control character"),
		get("unknown inclusion", "/v1/fills?include=everything", "include", "total_count"),
		get("parameter where there is none", "/healthz?verbose=1", "verbose", "no such parameter"),
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
	if len(kinds) < 200 {
		t.Errorf("%d kinds, want at least 200", len(kinds))
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
			if b.status == 412 { // names the stored revision instead of faults
				if r.value(t, "current_revision") != 1.0 || r.value(t, "updated_by") != keeper || r.value(t, "update_time") == nil {
					t.Errorf("stale, but %s", r.body)
				}
				return
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
				if m["file"] != nil {
					place = text(m["file"])
				}
				if m["row"] != nil {
					place += ":" + text(m["row"])
				}
				if m["column"] != nil {
					place += " " + text(m["column"])
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
	all := func(r reply, pointers ...string) {
		t.Helper()
		s.must(http.StatusUnprocessableEntity, r)
		var got []string
		for _, f := range r.value(t, "errors").([]any) {
			got = append(got, text(f.(map[string]any)["pointer"]))
		}
		slices.Sort(got)
		slices.Sort(pointers)
		if !slices.Equal(got, pointers) {
			t.Errorf("faults at %v, want %v", got, pointers)
		}
	}
	all(s.send(http.MethodPost, "/v1/rankings", `{"panel_count":"ten","panels":10,"currency":"XYZ","limit":0,"air_gaps_mm":[0,-1],"purpose":{"name":"party"}}`),
		"/panel_count", "/panels", "/currency", "/limit", "/air_gaps_mm/1", "/purpose/name")
	all(s.send(http.MethodPost, "/v1/absorption-estimates", `{"layers":[{"kind":"fill"},{"kind":"fabric"},{"kind":"air_gap"}]}`),
		"/layers/0/thickness_mm", "/layers/0/airflow_resistivity_pa_s_per_m2", "/layers/1/flow_resistance_pa_s_per_m", "/layers/2/depth_mm")
	all(s.send(http.MethodPost, "/v1/absorption-estimates", `{"layers":[{"kind":"fill","fill":"quay-slab","thickness_mm":"50"},{"kind":"air_gap","depth_mm":1e9,"held_still":false},{"kind":"fabric","weave":{"warp":{"threads_per_cm":0,"diameter_um":100},"weft":{"threads_per_cm":20}}}],"use_tests":"yes","incidence":"x"}`),
		"/layers/0/thickness_mm", "/layers/1/held_still", "/layers/1/depth_mm", "/layers/2/weave/warp/threads_per_cm", "/layers/2/weave/weft/diameter_um", "/use_tests", "/incidence")
	all(s.send(http.MethodPatch, "/v1/fills/quay-slab", `{"colour":null,"form":7,"slug":"X","density_kg_per_m3":{"value":-1}}`, "If-Match", "*"),
		"/colour", "/form", "/slug", "/density_kg_per_m3/value", "/density_kg_per_m3") // also below its own low
	all(s.send(http.MethodPost, "/v1/offers/quayside-slab/prices", merged(t, priceBody, `{"tax_included":"yes","observed_date":"2027-01-01","price":{"amount":"1.234","currency":"EUR"}}`)),
		"/tax_included", "/observed_date", "/price/amount")
	r := s.must(http.StatusUnprocessableEntity, s.send(http.MethodPost, "/v1/fills",
		`{"slug":"X","name":"Other","famly":"cotton","form":"slab","density_kg_per_m3":{"value":4000,"evidence":"declared","source_id":"notebook"},"handling":{"profile":"fibrous"},"source_id":"notebook"}`))
	for _, at := range []string{`"/slug"`, `"/famly"`, `"/family"`, `"/density_kg_per_m3/value"`} {
		if !strings.Contains(string(r.body), `"pointer":`+at) {
			t.Errorf("no fault at %s: %s", at, r.body)
		}
	}
}

// TestLengthOfBodies: one byte more than a body may have is refused before it is read as JSON,
// also when it comes in chunks; one that is just not too long is read.
func TestLengthOfBodies(t *testing.T) {
	s := stocked(t)
	before := s.revision()
	for over, status := range map[int]int{0: 422, 1: 413, 1 << 20: 413} {
		body := `{"note":"` + strings.Repeat("x", 1<<20+over-len(`{"note":""}`)) + `"}`
		for _, chunked := range []io.Reader{strings.NewReader(body), io.NopCloser(strings.NewReader(body))} {
			s.must(status, s.do(http.MethodPost, "/v1/fills", chunked, "Content-Type", "application/json"))
		}
	}
	s.must(http.StatusBadRequest, s.do(http.MethodPost, "/v1/fills", io.NopCloser(strings.NewReader("")), "Content-Type", "application/json"))
	if s.revision() != before {
		t.Error("something was stored")
	}
}

// TestManyFaults: at most a hundred faults are told, and how many there are.
func TestManyFaults(t *testing.T) {
	s := stocked(t)
	var members []string
	for i := range 150 {
		members = append(members, fmt.Sprintf(`"x%d":1`, i))
	}
	r := s.must(http.StatusUnprocessableEntity, s.send(http.MethodPost, "/v1/fills", "{"+strings.Join(members, ",")+"}"))
	if told := len(r.value(t, "errors").([]any)); told != 100 || r.value(t, "error_count").(float64) < 150 {
		t.Errorf("%d faults are told, error_count %v", told, r.value(t, "error_count"))
	}
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

// FuzzRatingsBody sends bodies of any kind; whatever comes, the answer is no 5xx.
func FuzzRatingsBody(f *testing.F) {
	f.Add([]byte(`{"band_basis":"octave","bands":{"alpha_125_hz":0.1,"alpha_250_hz":0.35,"alpha_500_hz":0.7,"alpha_1000_hz":0.65,"alpha_2000_hz":0.6,"alpha_4000_hz":0.55}}`))
	f.Add([]byte(`{"band_basis":"third_octave","bands":{"alpha_100_hz":0.625,"alpha_200_hz":1.2e0,"alpha_5000_hz":9.99}}`))
	s := serve(f, quiet{})
	f.Fuzz(func(t *testing.T, body []byte) {
		in := *s
		in.t = t
		if r := in.do(http.MethodPost, "/v1/ratings", bytes.NewReader(body), "Content-Type", "application/json"); r.status >= 500 {
			t.Errorf("status %d for %q: %s", r.status, body, r.body)
		}
	})
}

// FuzzBuyingBody sends bodies of any kind; whatever comes, the answer is no 5xx.
func FuzzBuyingBody(f *testing.F) {
	f.Add([]byte(purchase))
	f.Add([]byte(`{"currency":"JPY","tax_basis":"excluded","allow_padding":false,"suppliers":[{"id":"a","delivery":{"fee":{"amount":"100","currency":"JPY"},"free_from":{"amount":"900","currency":"JPY"},"fee_per_kg":{"amount":"7","currency":"JPY"},"weight_basis":"greater","divisor_cm3_per_kg":5000,"free_covers_weight":true}}],"one_of":[{"id":"w","ways":[{"items":[{"id":"x","quantity":3.5,"stock_quantity":1,"replacement_value":{"amount":"40","currency":"JPY"}}]},{"items":[{"id":"y","quantity":2}]}]}],"offers":[{"id":"o","supplier":"a","item":"x","pack_quantity":0.5,"price":{"amount":"99","currency":"JPY"},"breaks":[{"from_count":4,"price":{"amount":"80","currency":"JPY"}}],"tax_included":false,"tax_rate_percent":10,"min_packs_count":2,"max_packs_count":9,"pack_mass_kg":0.2,"pack_volume_l":3},{"id":"p","supplier":"a","item":"y","pack_quantity":1,"price":{"amount":"200","currency":"JPY"},"tax_included":true,"tax_rate_percent":10,"pack_mass_kg":0.2,"pack_volume_l":3}]}`))
	s := serve(f, quiet{})
	f.Fuzz(func(t *testing.T, body []byte) {
		in := *s
		in.t = t
		if r := in.do(http.MethodPost, "/v1/buying-plans", bytes.NewReader(body), "Content-Type", "application/json"); r.status >= 500 {
			t.Errorf("status %d for %q: %s", r.status, body, r.body)
		}
	})
}

// FuzzAbsorptionBody sends bodies of any kind, alone and as a line of many; whatever comes, the
// answer is no 5xx, and has no figure that is no number.
func FuzzAbsorptionBody(f *testing.F) {
	f.Add([]byte(`{"layers":[{"kind":"fill","airflow_resistivity_pa_s_per_m2":10000,"thickness_mm":50}]}`))
	f.Add([]byte(`{"layers":[{"kind":"fabric","air_permeability":{"flow":500,"unit":"mm_per_s","test_pressure_pa":100,"second_flow":900,"second_test_pressure_pa":200}},{"kind":"fill","family":"hemp","density_kg_per_m3":40,"thickness_mm":50},{"kind":"air_gap","depth_mm":50}],"incidence":"normal","patch":{"length_mm":3600,"width_mm":3000}}`))
	f.Add([]byte(`{"layers":[{"kind":"perforated_sheet","open_area_fraction":0.001,"hole_diameter_mm":0.01,"thickness_mm":100},{"kind":"fill","airflow_resistivity_pa_s_per_m2":2000000,"thickness_mm":2000,"model":"jca","pores":{"porosity_fraction":0.01,"tortuosity":100,"viscous_length_um":0.1,"thermal_length_um":100000}}],"reaction":"local"}`))
	f.Add([]byte(`{"layers":[{"kind":"fabric","piston_test":{"piston_area_cm2":78,"sample_area_cm2":20,"volume_l":0.5,"layers_count":3,"runs":[{"mass_kg":0.1,"time_s":5},{"mass_kg":0.2,"time_s":2.6}],"empty_runs":[{"mass_kg":0.1,"time_s":0.2}]}},{"kind":"fill","fill":"x","thickness_mm":1e1}]}`))
	s := serve(f, quiet{})
	f.Fuzz(func(t *testing.T, body []byte) {
		in := *s
		in.t = t
		r := in.do(http.MethodPost, "/v1/absorption-estimates", bytes.NewReader(body), "Content-Type", "application/json")
		if r.status >= 500 {
			t.Errorf("status %d for %q: %s", r.status, body, r.body)
		}
		many := in.do(http.MethodPost, "/v1/absorption-estimates/batch", bytes.NewReader(body), "Content-Type", "application/x-ndjson")
		if many.status >= 500 || bytes.Contains(many.body, []byte(`"status":5`)) {
			t.Errorf("batch: status %d for %q: %s", many.status, body, many.body)
		}
	})
}

// FuzzPatch sends patches of any kind; whatever comes, the answer is no 5xx and what is then
// stored can be read.
func FuzzPatch(f *testing.F) {
	f.Add([]byte(`{"note":"x"}`))
	f.Add([]byte(`{"density_kg_per_m3":{"value":42,"low":null},"sold_sizes":[{"length_mm":1200,"width_mm":600,"thickness_mm":50,"x":null}],"handling":null}`))
	f.Add([]byte(`{"fire_declarations":[{"code":null},null,[]],"a/b~c":null,"":{"":null}}`))
	s := serve(f, storetest.SQLite(f))
	s.source()
	s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/fills", fillBody))
	id := text(s.get("/v1/fills/quay-slab").value(f, "id"))
	f.Fuzz(func(t *testing.T, body []byte) {
		in := *s
		in.t = t
		if r := in.send(http.MethodPatch, "/v1/fills/"+id, string(body), "If-Match", "*"); r.status >= 500 {
			t.Errorf("status %d for %q: %s", r.status, body, r.body)
		}
		in.must(http.StatusOK, in.get("/v1/fills/"+id))
	})
}
