package api_test

import (
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"math/big"
	"math/rand/v2"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"testing"

	"sabinbook/api"
	"sabinbook/api/client"
	"sabinbook/internal/access"
	"sabinbook/store/storetest"
)

// A document equals itself, over the wire and without a service.
func TestADocumentEqualsItself(t *testing.T) {
	s := serve(t, storetest.SQLite(t))
	for i, file := range documents(t) {
		out, err := api.Compare(file, file)
		if err != nil {
			t.Fatal(err)
		}
		if !out.Equal || len(out.Options) != int(out.First.OptionsCount) || !strings.HasPrefix(out.Text, "Equal: ") || !out.First.DigestEqual {
			t.Errorf("document %d: %+v", i, out)
		}
		r := s.must(http.StatusOK, s.send(http.MethodPost, "/v1/shortlists/compare", pairOf(file, file)))
		if offline, _ := json.Marshal(out); !sameJSON(t, offline, r.body) {
			t.Errorf("%s, without a service %s", r.body, offline)
		}
	}
}

func pairOf(first, second []byte) string {
	return `{"first":` + string(first) + `,"second":` + string(second) + `}`
}

func sameJSON(t *testing.T, a, b []byte) bool {
	t.Helper()
	var x, y any
	if json.Unmarshal(a, &x) != nil || json.Unmarshal(b, &y) != nil {
		return false
	}
	one, _ := json.Marshal(x)
	two, _ := json.Marshal(y)
	return string(one) == string(two)
}

// leavesOf collects the numbers and amounts within a decoded value, by pointer.
func leavesOf(at string, value any, into map[string]func(float64)) {
	switch v := value.(type) {
	case map[string]any:
		for name, inner := range v {
			switch x := inner.(type) {
			case float64:
				into[at+"/"+name] = func(by float64) { v[name] = x + by }
			case string:
				if name == "amount" {
					old, _ := strconv.ParseFloat(x, 64)
					into[at+"/"+name] = func(by float64) { v[name] = strconv.FormatFloat(old+by, 'f', 2, 64) }
				}
			default:
				leavesOf(at+"/"+name, inner, into)
			}
		}
	case []any:
		for i, inner := range v {
			leavesOf(at+"/"+strconv.Itoa(i), inner, into)
		}
	}
}

// Numbers of an option that are changed at random are told at their pointers, each once and nothing else, and the
// figures among them with the change that was made.
func TestEveryChangedNumberIsToldOnce(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 9))
	file := documents(t)[0]
	figures, others := 0, 0
	for range 60 {
		var d map[string]any
		if err := json.Unmarshal(file, &d); err != nil {
			t.Fatal(err)
		}
		options := d["answer"].(map[string]any)["options"].([]any)
		leaves, i := map[string]func(float64){}, 0
		leavesOf("", options[i], leaves)
		for _, pointer := range []string{"/thickness_mm", "/layers_count", "/asked_air_gap_mm"} { // then it would be another option
			delete(leaves, pointer)
		}
		all, changed := slices.Sorted(maps.Keys(leaves)), map[string]bool{}
		for range 1 + r.IntN(8) {
			pointer := all[r.IntN(len(all))]
			if r.IntN(2) == 0 {
				pointer = []string{"/place", "/cost/total/amount", "/absorption/octaves/2/alpha", "/panel_mass_kg", "/likely/tie_group", "/burden/extra_time_min"}[r.IntN(6)]
			}
			if leaves[pointer] == nil {
				t.Fatalf("no number at %s", pointer)
			}
			leaves[pointer](3)
			changed[pointer] = true
		}
		text, err := json.Marshal(d)
		if err != nil {
			t.Fatal(err)
		}
		out, err := api.Compare(file, text)
		if err != nil {
			t.Fatal(err, api.FaultsIn(err))
		}
		var told []string
		for _, f := range out.Options[i].Figures {
			told = append(told, f.Pointer)
			if f.Change == nil || math.Abs(*f.Change-3) > 1e-9 {
				t.Errorf("%s: %+v", f.Pointer, f)
			}
		}
		figures, others = figures+len(told), others+len(out.Options[i].Others)
		told = append(told, out.Options[i].Others...)
		slices.Sort(told)
		if want := slices.Sorted(maps.Keys(changed)); !slices.Equal(told, want) || out.Equal || out.Second.DigestEqual || !out.First.DigestEqual {
			t.Errorf("told %v, changed %v, %s", told, want, out.Text)
		}
		for _, o := range out.Options[1:] {
			if len(o.Figures)+len(o.Others) > 0 {
				t.Errorf("another option differs: %+v", o)
			}
		}
	}
	if figures < 50 || others < 50 {
		t.Errorf("%d figures, %d others", figures, others)
	}
}

// The same options kept on two days: a slug has changed and a price, and one option is another one. What is told is
// what the two documents say, and the price of the day is the one that was added.
func TestComparingTwoDates(t *testing.T) {
	s := seeded(t, storetest.SQLite(t))
	s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/shortlists", s.keepBody(`{}`)))
	first := s.must(http.StatusOK, s.get("/v1/shortlists/brass/document"))
	line := func(name ...any) string {
		return text(first.value(t, append([]any{"answer", "options", 0, "cost", "lines", 0}, name...)...))
	}
	if line("need") == "" || line("offer", "id") == "" {
		t.Fatalf("%s", first.body)
	}
	offer := line("offer", "slug")
	amount, _ := new(big.Rat).SetString(line("unit_price", "amount"))
	dearer := new(big.Rat).Add(amount, big.NewRat(123, 100)).FloatString(2)
	s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/offers/"+offer+"/prices", `{"amount":"`+dearer+`"}`))
	fill := "/v1/fills/" + text(first.value(t, "answer", "options", 0, "fill", "slug"))
	s.must(http.StatusOK, s.send(http.MethodPatch, fill, `{"slug":"renamed-fill"}`, "If-Match", "*"))
	old := func(i int) string { return text(first.value(t, "answer", "options", i, "key")) }
	renamed := func(key string) string {
		rest, ok := strings.CutPrefix(key, text(first.value(t, "answer", "options", 0, "fill", "slug"))+".")
		if ok {
			return "renamed-fill." + rest
		}
		return key
	}
	answer := s.must(http.StatusOK, s.send(http.MethodPost, "/v1/rankings", merged(t, question, `{"limit":200}`)))
	var other string
	for i := 0; other == ""; i++ {
		if key := text(answer.value(t, "options", i, "key")); !slices.Contains([]string{renamed(old(0)), renamed(old(1)), renamed(old(2))}, key) {
			other = key
		}
	}
	keys := []string{renamed(old(0)), renamed(old(1)), other}
	s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/shortlists", s.keepBody(fmt.Sprintf(`{"slug":"again","options":[{"key":%q},{"key":%q},{"key":%q}]}`, keys[0], keys[1], keys[2]))))
	second := s.must(http.StatusOK, s.get("/v1/shortlists/again/document"))
	var was, is api.ShortlistDocument
	if json.Unmarshal(first.body, &was) != nil || json.Unmarshal(second.body, &is) != nil {
		t.Fatal("documents")
	}

	s.token = s.newToken(access.Token{Member: "ben", Role: access.Reader})
	r := s.must(http.StatusOK, s.send(http.MethodPost, "/v1/shortlists/compare", pairOf(first.body, second.body)))
	var out client.ShortlistComparison
	if err := json.Unmarshal(r.body, &out); err != nil {
		t.Fatal(err)
	}
	if out.Equal || len(out.Options) != 2 || len(out.OnlyFirst) != 1 || out.OnlyFirst[0].Key != old(2) || len(out.OnlySecond) != 1 || out.OnlySecond[0].Key != other || !out.First.DigestEqual || !out.Second.DigestEqual {
		t.Fatalf("%s", r.body)
	}
	for i, pair := range out.Options {
		if pair.KeyFirst != old(i) || pair.KeySecond != renamed(old(i)) {
			t.Errorf("%s is aligned with %s", pair.KeyFirst, pair.KeySecond)
		}
		a := was.Answer.Options[slices.IndexFunc(was.Answer.Options, func(o api.RankedOption) bool { return o.Key == pair.KeyFirst })]
		b := is.Answer.Options[slices.IndexFunc(is.Answer.Options, func(o api.RankedOption) bool { return o.Key == pair.KeySecond })]
		at := slices.IndexFunc(pair.Figures, func(v client.ComparedValue) bool { return v.Pointer == "/cost/total/amount" })
		if (a.Cost.Total.Amount == b.Cost.Total.Amount) != (at < 0) {
			t.Errorf("%s, then %s: %+v", a.Cost.Total.Amount, b.Cost.Total.Amount, pair.Figures)
			continue
		}
		if at >= 0 {
			x, _ := new(big.Rat).SetString(a.Cost.Total.Amount)
			y, _ := new(big.Rat).SetString(b.Cost.Total.Amount)
			if change, _ := y.Sub(y, x).Float64(); *pair.Figures[at].Change != change || *pair.Figures[at].First != `"`+a.Cost.Total.Amount+`"` {
				t.Errorf("%+v", pair.Figures[at])
			}
		}
	}
	at := slices.IndexFunc(out.Prices, func(p client.ComparedPrice) bool { return p.Offer.Slug == offer })
	if at < 0 || out.Prices[at].PriceSecond.Amount != dearer || out.Prices[at].Change.Amount != "1.23" || *out.Prices[at].SeenSecondDate != today.Format("2006-01-02") || !out.Prices[at].Bought {
		t.Errorf("%+v", out.Prices)
	}
	if at := slices.IndexFunc(out.Records, func(r client.ComparedRecord) bool { return r.Noun == "fill" && r.Record.Slug == "renamed-fill" }); at < 0 || *out.Records[at].RevisionFirst != 1 || *out.Records[at].RevisionSecond != 2 || !slices.Equal(out.Records[at].Members, []string{"/slug"}) {
		t.Errorf("%+v", out.Records)
	}
	if out.First.CatalogRevision >= out.Second.CatalogRevision {
		t.Errorf("%+v", out)
	}
	if !slices.ContainsFunc(out.Question, func(v client.ComparedValue) bool { return v.Pointer == "/options" && v.Change == nil }) {
		t.Errorf("%+v", out.Question)
	}
}

// Amounts of two currencies are never subtracted.
func TestTwoCurrenciesAreNotSubtracted(t *testing.T) {
	file := documents(t)[1]
	other := strings.ReplaceAll(strings.ReplaceAll(string(file), `"currency":"EUR"`, `"currency":"GBP"`), `"total":{"amount":"`, `"total":{"amount":"1`)
	out, err := api.Compare(file, []byte(other))
	if err != nil {
		t.Fatal(err)
	}
	for _, o := range out.Options {
		if !slices.ContainsFunc(o.Figures, func(v api.ComparedValue) bool { return v.Pointer == "/cost/total/amount" }) {
			t.Errorf("%+v", o.Figures)
		}
		for _, v := range o.Figures {
			if strings.HasPrefix(v.Pointer, "/cost/") && v.Change != nil {
				t.Errorf("%+v", v)
			}
		}
	}
	for _, p := range out.Prices {
		if p.Change != nil {
			t.Errorf("%+v", p)
		}
	}
	if len(out.Prices) == 0 || !strings.Contains(out.Text, "two currencies") {
		t.Errorf("%d prices: %s", len(out.Prices), out.Text)
	}
}

func TestPairsThatAreRefused(t *testing.T) {
	s := serve(t, storetest.SQLite(t))
	file := documents(t)[1]
	for _, c := range []struct {
		body   string
		status int
		at     string
	}{
		{`{}`, 422, "/first"},
		{`{"first":` + string(file) + `}`, 422, "/second"},
		{`{"first":` + string(file) + `,"second":7}`, 422, "/second"},
		{`{"first":` + string(file) + `,"second":` + string(file) + `,"third":{}}`, 422, "/third"},
		{pairOf(file, []byte(`{"schema":"/schemas/shortlist-9.json"}`)), 422, "/second/schema"},
		{pairOf([]byte(`{"schema":"/schemas/shortlist-9.json"}`), []byte(`{"schema":"/schemas/shortlist-8.json"}`)), 422, "/first/schema"},
		{pairOf([]byte(`{"schema":"/schemas/shortlist-9.json"}`), []byte(`{"schema":"/schemas/shortlist-8.json"}`)), 422, "/second/schema"},
		{pairOf([]byte(strings.Replace(string(file), `"kept_from"`, `"kept_form"`, 1)), file), 422, "/first/kept_form"},
		{pairOf([]byte(strings.ReplaceAll(string(file), `"max_price_age_days":365`, `"max_price_age_days":-1`)), file), 422, "/first/question/max_price_age_days"},
		{pairOf(file, file[:len(file)-1]), 400, ""},
		{pairOf([]byte(`{"schema":"`+strings.Repeat("x", 8<<20)+`"}`), file), 413, ""},
		{pairOf([]byte(`{"schema":"`+strings.Repeat("x", 16<<20)+`"}`), file), 413, ""},
	} {
		r := s.must(c.status, s.send(http.MethodPost, "/v1/shortlists/compare", c.body))
		if !strings.Contains(string(r.body), `"pointer":"`+c.at+`"`) && c.at != "" {
			t.Errorf("%.80s: %.400s", c.body, r.body)
		}
	}
}
