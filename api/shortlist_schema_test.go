package api_test

import (
	"bytes"
	"encoding/json"
	"maps"
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/go-json-experiment/json/jsontext"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"sabinbook/api"
	"sabinbook/internal/catalogtest"
	"sabinbook/store/storetest"
)

// publishedSchema is what the service publishes, compiled by a validator that has nothing to do with
// the service.
func publishedSchema(t testing.TB) *jsonschema.Schema {
	t.Helper()
	s := serve(t, storetest.SQLite(t))
	s.token = "" // it is open, like the contract
	r := s.must(http.StatusOK, s.get("/schemas/shortlist-1.json"))
	schema, err := jsonschema.UnmarshalJSON(bytes.NewReader(r.body))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	c.AssertFormat()
	const at = "https://quillhaven.example/schemas/shortlist-1.json"
	if err := c.AddResource(at, schema); err != nil {
		t.Fatal(err)
	}
	compiled, err := c.Compile(at)
	if err != nil {
		t.Fatal(err)
	}
	return compiled
}

func parsed(t testing.TB, file []byte) map[string]any {
	t.Helper()
	v, err := jsonschema.UnmarshalJSON(bytes.NewReader(file))
	if err != nil {
		t.Fatal(err)
	}
	return v.(map[string]any)
}

// An independent validator accepts every document, also with the records of random catalogs.
func TestSchemaAcceptsEveryDocument(t *testing.T) {
	schema := publishedSchema(t)
	for i, file := range documents(t) {
		if err := schema.Validate(parsed(t, file)); err != nil {
			t.Errorf("document %d: %v", i, err)
		}
	}
	d := parsed(t, documents(t)[0])
	for n := range uint64(40) {
		text, err := api.EncodedCut(catalogtest.Random(n))
		if err != nil {
			t.Fatal(err)
		}
		d["catalog"] = parsed(t, text)
		if err := schema.Validate(d); err != nil {
			t.Errorf("catalog %d: %v", n, err)
		}
	}
}

// It refuses what is broken, and so does the service.
func TestSchemaRefusesBrokenDocuments(t *testing.T) {
	schema := publishedSchema(t)
	file := documents(t)[1]
	broken := 0
	refused := func(what string, change func(d map[string]any)) {
		t.Helper()
		broken++
		d := parsed(t, file)
		change(d)
		if schema.Validate(d) == nil {
			t.Errorf("%s: the schema accepts it", what)
		}
		text, err := json.Marshal(d)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := api.Verify(text); err == nil {
			t.Errorf("%s: the service reads it", what)
		}
	}
	// within is the object at a path of members; of a list it takes the first element.
	within := func(d map[string]any, path ...string) map[string]any {
		for _, name := range path {
			switch v := d[name].(type) {
			case map[string]any:
				d = v
			case []any:
				d = v[0].(map[string]any)
			default:
				t.Fatalf("no %s in %v", name, slices.Sorted(maps.Keys(d)))
			}
		}
		return d
	}
	for _, name := range []string{"schema", "digest", "about", "option_notes", "program_version", "model_version", "question", "answer", "catalog", "kept_from"} {
		refused("without "+name, func(d map[string]any) { delete(d, name) })
		refused(name+" as null", func(d map[string]any) { d[name] = nil })
		refused(name+" as a list in a list", func(d map[string]any) { d[name] = []any{[]any{}} })
	}
	for _, at := range [][]string{{}, {"about"}, {"option_notes"}, {"question"}, {"question", "purpose"}, {"answer"}, {"answer", "options"}, {"answer", "options", "cost"}, {"answer", "options", "absorption"},
		{"catalog"}, {"catalog", "fills"}, {"catalog", "fills", "handling"}, {"catalog", "offers"}, {"catalog", "prices"}, {"catalog", "prices", "price"}, {"catalog", "suppliers"}, {"catalog", "sources"}, {"kept_from"}, {"kept_from", "places"}} {
		refused("unknown member in "+strings.Join(at, "/"), func(d map[string]any) { within(d, at...)["colour"] = "green" })
	}
	for _, list := range []string{"sources", "fills", "fabrics", "parts", "suppliers", "offers"} {
		for _, name := range []string{"id", "revision", "create_time", "created_by"} {
			refused(list+" without "+name, func(d map[string]any) { delete(within(d, "catalog", list), name) })
		}
	}
	refused("price without its offer", func(d map[string]any) { delete(within(d, "catalog", "prices"), "offer_id") })
	refused("another form", func(d map[string]any) { d["schema"] = "/schemas/shortlist-2.json" })
	refused("a number as text", func(d map[string]any) { within(d, "catalog", "fabrics")["roll_width_mm"] = "1500" })
	refused("a number as true", func(d map[string]any) { within(d, "answer", "options")["thickness_mm"] = true })
	refused("an amount as a number", func(d map[string]any) { within(d, "catalog", "prices", "price")["amount"] = 3.5 })
	refused("a broken revision", func(d map[string]any) { within(d, "catalog")["revision"] = 1.5 })
	refused("a text as an object", func(d map[string]any) { within(d, "about")["name"] = map[string]any{} })
	if broken < 50 {
		t.Errorf("%d broken documents", broken)
	}
	t.Logf("%d broken documents", broken)
}

// The canonical form of texts and of the order of members is that of the examples of RFC 8785,
// sections 3.2.2 to 3.2.4, as the tests of the library quote them.
func TestCanonicalFormOfTheStandardsExamples(t *testing.T) {
	for in, want := range map[string]string{
		`{"numbers":[333333333.33333329,1E30,4.50,2e-3,0.000000000000000000000000001],"string":"\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/","literals":[null,true,false]}`:                                        `{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],"string":"€$\u000f\nA'B\"\\\\\"/"}`,
		`{"\u20ac":"Euro Sign","\r":"Carriage Return","\ufb33":"Hebrew Letter Dalet With Dagesh","1":"One","\ud83d\ude00":"Emoji: Grinning Face","\u0080":"Control","\u00f6":"Latin Small Letter O With Diaeresis"}`: "{\"\\r\":\"Carriage Return\",\"1\":\"One\",\"\u0080\":\"Control\",\"ö\":\"Latin Small Letter O With Diaeresis\",\"€\":\"Euro Sign\",\"😀\":\"Emoji: Grinning Face\",\"\ufb33\":\"Hebrew Letter Dalet With Dagesh\"}",
	} {
		got, err := api.Canonical(json.RawMessage(in))
		if err != nil || string(got) != want {
			t.Errorf("%s\nwant %s %v", got, want, err)
		}
	}
}

// The canonical form of numbers is that of the samples of RFC 8785, appendix B; from memory.
func TestCanonicalFormOfTheStandardsNumbers(t *testing.T) {
	for bits, want := range map[uint64]string{0: "0", 0x8000000000000000: "0", 1: "5e-324", 0x8000000000000001: "-5e-324", 0x7fefffffffffffff: "1.7976931348623157e+308", 0xffefffffffffffff: "-1.7976931348623157e+308",
		0x4340000000000000: "9007199254740992", 0xc340000000000000: "-9007199254740992", 0x4430000000000000: "295147905179352830000", 0x44b52d02c7e14af5: "9.999999999999997e+22", 0x44b52d02c7e14af6: "1e+23",
		0x44b52d02c7e14af7: "1.0000000000000001e+23", 0x444b1ae4d6e2ef4e: "999999999999999700000", 0x444b1ae4d6e2ef4f: "999999999999999900000", 0x444b1ae4d6e2ef50: "1e+21", 0x3eb0c6f7a0b5ed8c: "9.999999999999997e-7",
		0x3eb0c6f7a0b5ed8d: "0.000001", 0x41b3de4355555553: "333333333.3333332", 0x41b3de4355555554: "333333333.33333325", 0x41b3de4355555555: "333333333.3333333", 0x41b3de4355555556: "333333333.3333334",
		0x41b3de4355555557: "333333333.33333343", 0xbecbf647612f3696: "-0.0000033333333333333333", 0x43143ff3c1cb0959: "1424953923781206.2"} {
		x := math.Float64frombits(bits)
		got, err := api.Canonical(jsontext.Value(strconv.FormatFloat(x, 'e', 30, 64)))
		if err != nil || string(got) != want {
			t.Errorf("%016x: %s, want %s %v", bits, got, want, err)
		}
	}
}
