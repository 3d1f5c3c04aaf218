package api_test

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"net/http"
	"regexp"
	"strings"
	"testing"

	"sabinbook/store/storetest"
)

// leaves collects the figures of a record by the name that their column must have: members with _ between them,
// without a last value or amount. Lists are a leaf.
func leaves(prefix string, value any, out map[string]string) {
	switch v := value.(type) {
	case map[string]any:
		for name, member := range v {
			switch {
			case prefix == "":
				leaves(name, member, out)
			case name == "value", name == "amount":
				leaves(prefix, member, out)
			default:
				leaves(prefix+"_"+name, member, out)
			}
		}
	case []any:
		texts, plain := []string{}, true
		for _, x := range v {
			s, ok := x.(string)
			texts, plain = append(texts, s), plain && ok && !strings.Contains(s, " ")
		}
		out[prefix] = strings.Join(texts, " ")
		if !plain || len(v) == 0 {
			text, _ := json.Marshal(v)
			out[prefix] = string(text)
		}
	default:
		out[prefix] = fmt.Sprint(v)
	}
}

// Every list says the same in each of its forms, and by each way to ask for one: every figure of every record
// stands in the cell of its column, and nothing else stands anywhere.
func TestListsInEveryForm(t *testing.T) {
	s := priced(t, storetest.SQLite(t))
	offer := text(s.get("/v1/offers").value(t, "items", 0, "id"))
	for _, path := range []string{"/v1/sources", "/v1/fills", "/v1/fills/rock-wool-80/absorption-tests", "/v1/fabrics", "/v1/parts", "/v1/ready-made-panels", "/v1/designs", "/v1/rooms", "/v1/suppliers", "/v1/exchange-rates", "/v1/offers", "/v1/offers/" + offer + "/prices"} {
		page := s.get(path + "?limit=200")
		decoder := json.NewDecoder(strings.NewReader(string(page.body)))
		decoder.UseNumber()
		var list struct{ Items []any }
		if err := decoder.Decode(&list); err != nil || len(list.Items) == 0 {
			t.Fatalf("%s: %d items, %v", path, len(list.Items), err)
		}
		table := s.get(path + ".csv?limit=200")
		lines, err := csv.NewReader(strings.NewReader(string(table.body))).ReadAll()
		if err != nil || len(lines) != 1+len(list.Items) {
			t.Fatalf("%s: %d lines, %v", path, len(lines), err)
		}
		columns := map[string]bool{}
		for _, name := range lines[0] {
			if columns[name] || !regexp.MustCompile(`^[a-z][a-z0-9_]*$`).MatchString(name) {
				t.Errorf("%s: column %q", path, name)
			}
			columns[name] = true
		}
		for i, item := range list.Items {
			want := map[string]string{}
			leaves("", item, want)
			for k, name := range lines[0] {
				got, figure := lines[i+1][k], want[name]
				if figure != "" && strings.ContainsRune("=+-@\t\r'", rune(figure[0])) && !regexp.MustCompile(`^-?[0-9.]+$`).MatchString(figure) {
					figure = "'" + figure
				}
				if got != figure {
					t.Errorf("%s, line %d, %s: %q, want %q", path, i+1, name, got, figure)
				}
				delete(want, name)
			}
			if len(want) > 0 {
				t.Errorf("%s, line %d has no cell for %v", path, i+1, want)
			}
		}
		same := s.do(http.MethodGet, path+"?limit=200", nil, "Accept", "text/csv;q=0.9, application/json;q=0.1")
		if string(same.body) != string(table.body) || string(s.get(path+"?limit=200&format=csv").body) != string(table.body) {
			t.Errorf("%s: three ways to ask for a table, and not one table", path)
		}
		rows := strings.Split(strings.TrimSuffix(string(s.get(path+".ndjson?limit=200").body), "\n"), "\n")
		joined := `{"items":[` + strings.Join(rows, ",") + `]`
		if !strings.HasPrefix(string(page.body), joined) {
			t.Errorf("%s: lines are not the items of the page: %.200s", path, joined)
		}
	}
}

// A table goes on where the page goes on, its columns are those that are asked for, and its tag holds.
func TestTablesOfLists(t *testing.T) {
	s := seeded(t, storetest.SQLite(t))
	var slugs []string
	path := "/v1/fills.csv?limit=10&fields=slug,density_kg_per_m3&sort=slug"
	for path != "" {
		r := s.get(path)
		lines, err := csv.NewReader(strings.NewReader(string(r.body))).ReadAll()
		if err != nil || strings.Join(lines[0], " ") != "slug density_kg_per_m3" {
			t.Fatalf("%q, %v", lines, err)
		}
		for _, l := range lines[1:] {
			slugs = append(slugs, l[0])
		}
		next := regexp.MustCompile(`^<(.*)>; rel="next"$`).FindStringSubmatch(r.header.Get("Link"))
		if path = ""; next != nil {
			path = next[1]
		}
		if again := s.do(http.MethodGet, "/v1/fills.csv?limit=10&fields=slug,density_kg_per_m3&sort=slug", nil, "If-None-Match", r.header.Get("ETag")); again.status != http.StatusNotModified && len(slugs) == 10 {
			t.Errorf("status %d for a table that the client holds", again.status)
		}
	}
	whole := s.get("/v1/fills?limit=200&sort=slug")
	for i, slug := range slugs {
		if slug != text(whole.value(t, "items", i, "slug")) {
			t.Errorf("fill %d is %s", i, slug)
		}
	}
	if len(slugs) < 25 || whole.value(t, "items", len(slugs)) != nil {
		t.Errorf("%d fills", len(slugs))
	}
}

func TestFormsThatAreNotThere(t *testing.T) {
	s := stocked(t)
	for path, want := range map[string]int{
		"/v1/fills.xlsx": 404, "/v1/fills/quay-slab.csv": 404, "/v1/fills/quay-slab.json": 200, "/v1/fills.json": 200, "/v1/nothing.csv": 404, "/healthz.json": 404, "/v1/room-materials.csv": 404,
	} {
		if r := s.do(http.MethodGet, path, nil); r.status != want {
			t.Errorf("%s: status %d, want %d: %.200s", path, r.status, want, r.body)
		}
	}
	for accept, want := range map[string]int{
		"text/html": 406, "text/html, */*;q=0.1": 200, "application/json": 200, "application/*": 200, "text/csv": 200, "application/json;q=0": 406, "nonsense": 406, "text/csv;q=0, */*": 200, "application/x-ndjson": 200,
	} {
		r := s.do(http.MethodGet, "/v1/fills", nil, "Accept", accept)
		if r.status != want {
			t.Errorf("Accept: %s: status %d, want %d: %.200s", accept, r.status, want, r.body)
		}
		if media := r.header.Get("Content-Type"); want == 406 && media != "application/problem+json" {
			t.Errorf("Accept: %s: refused in %s", accept, media)
		}
	}
	if r := s.do(http.MethodGet, "/v1/fills/quay-slab", nil, "Accept", "text/csv"); r.status != 406 {
		t.Errorf("a record as a table: status %d", r.status)
	}
}
