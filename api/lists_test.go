package api_test

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"

	"sabinbook/store/storetest"
)

// object is a record as an answer has it.
type object = map[string]any

// walk follows next from page to page and returns all records.
func (s *service) walk(path string) []object {
	s.t.Helper()
	var all []object
	for pages := 0; path != ""; pages++ {
		if pages > 500 {
			s.t.Fatalf("%s has no end", path)
		}
		r := s.must(http.StatusOK, s.get(path))
		items, _ := r.value(s.t, "items").([]any)
		for _, item := range items {
			all = append(all, item.(object))
		}
		path, _ = r.value(s.t, "next").(string)
		if link := r.header.Get("Link"); path != "" && link != "<"+path+`>; rel="next"` || path == "" && link != "" {
			s.t.Errorf("next %s, Link %s", path, link)
		}
	}
	return all
}

func slugs(list []object) []string {
	out := make([]string, len(list))
	for i, o := range list {
		out[i] = text(o["slug"])
	}
	return out
}

// lists are the lists of the seed, with a fill that has tests.
var lists = []string{"/v1/sources", "/v1/fills", "/v1/fills/rock-wool-100/absorption-tests", "/v1/fabrics", "/v1/parts", "/v1/ready-made-panels", "/v1/designs", "/v1/rooms", "/v1/suppliers", "/v1/offers", "/v1/exchange-rates"}

// sortable asks a list for the names of its orders, which the refusal of a wrong one tells.
func (s *service) sortable(list string) []string {
	s.t.Helper()
	r := s.must(http.StatusBadRequest, s.get(list+"?sort=beauty"))
	return strings.Split(strings.TrimPrefix(text(r.value(s.t, "errors", 0, "fix")), "sort by "), ", ")
}

// TestEveryOrderMeetsEveryRecordOnce walks every list of the seed in every order, both ways, in
// pages of three. Both engines have the same order.
func TestEveryOrderMeetsEveryRecordOnce(t *testing.T) {
	orders := map[string]map[string]string{}
	storetest.Each(t, func(t *testing.T, db *storetest.Store) {
		s := seeded(t, db)
		s.source()
		for day := range 9 { // the seed has no rates
			s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/exchange-rates", merged(t, rateBody, fmt.Sprintf(`{"slug":"rate-%d","name":"Rate %d","observed_date":"2026-10-%02d"}`, day, day, day+1))))
		}
		for _, list := range lists {
			first := s.must(http.StatusOK, s.get(list+"?limit=200&include=total_count"))
			whole := slugs(s.walk(list + "?limit=200"))
			if len(whole) == 0 || text(len(whole)) != text(first.value(t, "total_count")) {
				t.Errorf("%s: %d records, total_count %v", list, len(whole), first.value(t, "total_count"))
			}
			slices.Sort(whole)
			for _, field := range s.sortable(list) {
				if strings.HasSuffix(field, "_time") {
					continue // the times of the seed rows differ by when each engine was filled
				}
				for _, sign := range []string{"", "-"} {
					query := list + "?limit=7&sort=" + sign + field
					met := slugs(s.walk(query))
					if orders[query] == nil {
						orders[query] = map[string]string{}
					}
					orders[query][t.Name()] = strings.Join(met, " ")
					slices.Sort(met)
					if !slices.Equal(met, whole) {
						t.Errorf("%s meets %d records of %d", query, len(met), len(whole))
					}
				}
			}
		}
	})
	for query, engines := range orders {
		last := ""
		for _, order := range engines {
			if last != "" && last != order {
				t.Errorf("%s: the engines have different orders:\n%s\n%s", query, last, order)
			}
			last = order
		}
	}
}

// TestUnknownFiguresStandLast orders fills by a figure that some of them lack.
func TestUnknownFiguresStandLast(t *testing.T) {
	s := seeded(t, storetest.SQLite(t))
	for sign, sorted := range map[string]func(before, after float64) bool{
		"": func(a, b float64) bool { return a <= b }, "-": func(a, b float64) bool { return a >= b },
	} {
		list := s.walk("/v1/fills?limit=7&sort=" + sign + "airflow_resistivity_pa_s_per_m2")
		unknown := 0
		for i, o := range list {
			x, known := has(o, "airflow_resistivity_pa_s_per_m2", "value")
			switch {
			case !known:
				unknown++
			case unknown > 0:
				t.Errorf("%s stands behind an unknown figure", o["slug"])
			case i > 0:
				if last, _ := has(list[i-1], "airflow_resistivity_pa_s_per_m2", "value"); !sorted(last, x) {
					t.Errorf("sort=%s: %g stands before %g", sign, last, x)
				}
			}
		}
		if unknown == 0 || unknown == len(list) {
			t.Errorf("%d of %d are unknown: the seed does not show what is tested", unknown, len(list))
		}
	}
}

// has returns the number at a path of members; ok is false when it is absent.
func has(o object, path ...string) (float64, bool) {
	var v any = o
	for _, p := range path {
		m, _ := v.(object)
		v = m[p]
	}
	x, ok := v.(float64)
	return x, ok
}

// some reports whether a list of objects in a record has one that fits.
func some(o object, member string, fits func(object) bool) bool {
	list, _ := o[member].([]any)
	return slices.ContainsFunc(list, func(v any) bool { return fits(v.(object)) })
}

// TestFilters compares what each filter finds with what the whole list holds.
func TestFilters(t *testing.T) {
	between := func(lo, hi float64, path ...string) func(object) bool {
		return func(o object) bool { x, ok := has(o, path...); return ok && x >= lo && x <= hi }
	}
	is := func(member string, words ...string) func(object) bool {
		return func(o object) bool { return slices.Contains(words, text(o[member])) }
	}
	declared := func(scheme, code string) func(object) bool {
		return func(o object) bool {
			return some(o, "fire_declarations", func(d object) bool {
				return (scheme == "" || d["scheme"] == scheme) && (code == "" || d["code"] == code)
			})
		}
	}
	cases := []struct {
		list, query string
		fits        func(object) bool
	}{
		{"/v1/fills", "family=cotton,hemp", is("family", "cotton", "hemp")},
		{"/v1/fills", "form=slab", is("form", "slab")},
		{"/v1/fills", "density_kg_per_m3_min=30&density_kg_per_m3_max=48", between(30, 48, "density_kg_per_m3", "value")},
		{"/v1/fills", "airflow_resistivity_pa_s_per_m2_max=12000", between(0, 12000, "airflow_resistivity_pa_s_per_m2", "value")},
		{"/v1/fills", "thickness_mm_min=45&thickness_mm_max=55", func(o object) bool { return some(o, "sold_sizes", between(45, 55, "thickness_mm")) }},
		{"/v1/fills", "q=WOOL", func(o object) bool { return strings.Contains(strings.ToLower(text(o["name"])), "wool") }},
		{"/v1/fills", "q=wool&family=sheep_wool", is("family", "sheep_wool")},
		{"/v1/fills", "fire_scheme=en_13501_1", declared("en_13501_1", "")},
		{"/v1/fills", "fire_code=B-s1%2Cd0", declared("", "B-s1,d0")},
		{"/v1/fabrics", "stretch=high,low", is("stretch", "high", "low")},
		{"/v1/fabrics", "roll_width_mm_min=1500", between(1500, 1e9, "roll_width_mm")},
		{"/v1/parts", "kind=timber", is("kind", "timber")},
		{"/v1/parts", "role=hanger,screw", is("role", "hanger", "screw")},
		{"/v1/ready-made-panels", "depth_mm_min=10&width_mm_max=3000", func(o object) bool { return between(10, 1e9, "depth_mm")(o) && between(0, 3000, "width_mm")(o) }},
		{"/v1/designs", "width_mm_min=500&height_mm_max=1300", func(o object) bool { return between(500, 1e9, "width_mm")(o) && between(0, 1300, "height_mm")(o) }},
		{"/v1/rooms", "length_m_min=5", func(o object) bool { return between(5, 1e9, "room", "length_m")(o) }},
		{"/v1/suppliers", "currency=EUR", is("currency", "EUR")},
		{"/v1/exchange-rates", "from_currency=EUR&to_currency=GBP", is("to_currency", "GBP")},
		{"/v1/offers", "item_kind=fabric", is("item_kind", "fabric")},
		{"/v1/sources", "evidence=published", is("evidence", "published")},
		{"/v1/fills/rock-wool-100/absorption-tests", "mounting_type=A", is("mounting_type", "A")},
		{"/v1/fills/rock-wool-100/absorption-tests", "thickness_mm_min=31", between(31, 1e9, "thickness_mm")},
	}
	storetest.Each(t, func(t *testing.T, db *storetest.Store) {
		s := priced(t, db)
		s.source()
		s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/fills", fillBody)) // with a class of EN 13501-1
		for _, c := range cases {
			var want []string
			for _, o := range s.walk(c.list + "?limit=200") {
				if c.fits(o) {
					want = append(want, text(o["slug"]))
				}
			}
			got := slugs(s.walk(c.list + "?limit=2&" + c.query))
			if len(want) == 0 || !slices.Equal(got, want) {
				t.Errorf("%s?%s finds %v, want %v", c.list, c.query, got, want)
			}
		}
	})
}

// TestSpellingsOfAFireClass: the comma of a class may be escaped and followed by a space, and
// half a class is none.
func TestSpellingsOfAFireClass(t *testing.T) {
	s := stocked(t)
	for query, found := range map[string]int{"B-s1%2Cd0": 1, "B-s1,%20d0": 1, "B-s1,d0,A1": 1, "A2-s1,d0,B-s1,d0": 1, "d0": 0, "B-s1": 0} {
		if got := len(s.walk("/v1/fills?fire_code=" + query)); got != found {
			t.Errorf("%s finds %d, want %d", query, got, found)
		}
	}
}

// TestReferencesInFilters: a filter by a record takes its id as well as its slug.
func TestReferencesInFilters(t *testing.T) {
	s := stocked(t)
	fill, supplier := text(s.get("/v1/fills/quay-slab").value(t, "id")), text(s.get("/v1/suppliers/quayside").value(t, "id"))
	for _, query := range []string{"item_id=quay-slab", "item_id=" + fill, "supplier_id=quayside", "supplier_id=" + supplier, "item_id=quay-slab&supplier_id=" + supplier, "item_id=nothing,quay-slab"} {
		if got := slugs(s.walk("/v1/offers?" + query)); !slices.Equal(got, []string{"quayside-slab"}) {
			t.Errorf("%s finds %v", query, got)
		}
	}
	if got := s.walk("/v1/offers?item_id=nothing"); len(got) != 0 {
		t.Errorf("an unknown item has the offers %v", got)
	}
}

// TestFreshnessOfPrices filters offers by the day of their newest price.
func TestFreshnessOfPrices(t *testing.T) {
	s := stocked(t)
	if n := len(s.walk("/v1/offers?observed_date_max=2026-11-02")); n != 0 {
		t.Errorf("%d offers without a price have one", n)
	}
	for _, day := range []string{"2026-03-01", "2026-09-01"} {
		s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/offers/quayside-slab/prices", merged(t, priceBody, fmt.Sprintf(`{"observed_date":%q}`, day))))
	}
	for query, found := range map[string]int{"observed_date_min=2026-09-01": 1, "observed_date_min=2026-09-02": 0, "observed_date_max=2026-09-01": 1, "observed_date_max=2026-08-31": 0} {
		if got := len(s.walk("/v1/offers?" + query)); got != found {
			t.Errorf("%s finds %d, want %d", query, got, found)
		}
	}
}

// TestSearchTakesNoPatterns: the signs of SQL patterns stand for themselves.
func TestSearchTakesNoPatterns(t *testing.T) {
	storetest.Each(t, func(t *testing.T, db *storetest.Store) {
		s := serve(t, db)
		s.source()
		for i, name := range []string{"Half 50% wool", "Half 50 wool", "Under_score", "Under score", `Back\slash`, "Owner's felt", "Größe Ω"} {
			s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/fills", merged(t, fillBody, fmt.Sprintf(`{"slug":"fill-%d","name":%q}`, i, name))))
		}
		for q, want := range map[string]string{"50%": "fill-0", "r_s": "fill-2", `k\s`: "fill-4", "'": "fill-5", "größe ω": "fill-6", "HALF": "fill-0 fill-1", "' OR '1'='1": ""} {
			if got := strings.Join(slugs(s.walk("/v1/fills?sort=slug&limit=1&q="+url.QueryEscape(q))), " "); got != want {
				t.Errorf("q=%s finds %q, want %q", q, got, want)
			}
		}
	})
}

// TestTagOfAList: the tag is of the bytes, so that it changes with any record on the page.
func TestTagOfAList(t *testing.T) {
	s := stocked(t)
	const list = "/v1/fills?family=rock_wool"
	first := s.must(http.StatusOK, s.get(list))
	tag := first.header.Get("ETag")
	for _, given := range []string{tag, "W/" + tag, `"other", ` + tag, "*"} {
		r := s.must(http.StatusNotModified, s.get(list, "If-None-Match", given))
		if len(r.body) > 0 || r.header.Get("ETag") != tag || r.header.Get("Content-Type") != "" {
			t.Errorf("304 to %s: %v %s", given, r.header, r.body)
		}
	}
	s.must(http.StatusOK, s.get(list, "If-None-Match", `"other"`))
	s.must(http.StatusOK, s.send(http.MethodPatch, "/v1/fills/quay-slab", `{"note":"moved"}`, "If-Match", "*"))
	if now := s.must(http.StatusOK, s.get(list, "If-None-Match", tag)); now.header.Get("ETag") == tag {
		t.Error("the page has changed and its tag has not")
	}
}
