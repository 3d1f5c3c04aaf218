package openapi_test

import (
	"bytes"
	"context"
	"encoding/json"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"

	"sabinbook/openapi"
)

func load(t *testing.T) *openapi3.T {
	t.Helper()
	doc, err := openapi3.NewLoader().LoadFromData(openapi.Document)
	if err != nil {
		t.Fatal(err)
	}
	return doc
}

// operations calls see for every operation, in the order of path and method.
func operations(doc *openapi3.T, see func(name string, op *openapi3.Operation)) {
	for _, path := range slices.Sorted(maps.Keys(doc.Paths.Map())) {
		ops := doc.Paths.Value(path).Operations()
		for _, method := range slices.Sorted(maps.Keys(ops)) {
			see(method+" "+path, ops[method])
		}
	}
}

func TestDocumentIsValid(t *testing.T) {
	if err := load(t).Validate(context.Background()); err != nil {
		t.Fatal(err)
	}
	a, err := openapi.JSON()
	if err != nil {
		t.Fatal(err)
	}
	b, _ := openapi.JSON()
	if !bytes.Equal(a, b) {
		t.Error("JSON differs from call to call")
	}
	var served, written map[string]any
	if err := json.Unmarshal(a, &served); err != nil {
		t.Fatal(err)
	}
	if served["openapi"] != "3.1.0" {
		t.Errorf("served document says openapi %v", served["openapi"])
	}
	doc, err := openapi3.NewLoader().LoadFromData(a)
	if err != nil {
		t.Fatal("the served JSON is no contract:", err)
	}
	again, err := doc.MarshalJSON()
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(again, &written); err != nil {
		t.Fatal(err)
	}
}

func TestEveryOperation(t *testing.T) {
	ids := map[string]string{}
	operations(load(t), func(name string, op *openapi3.Operation) {
		if op.OperationID == "" || ids[op.OperationID] != "" {
			t.Errorf("%s: operationId %q is missing or also of %s", name, op.OperationID, ids[op.OperationID])
		}
		ids[op.OperationID] = name
		if !strings.HasSuffix(op.Summary, ".") {
			t.Errorf("%s: summary %q is no sentence", name, op.Summary)
		}
		if len(op.Tags) != 1 {
			t.Errorf("%s: needs one tag", name)
		}
		if op.RequestBody != nil {
			if !op.RequestBody.Value.Required {
				t.Errorf("%s: its body must be required", name)
			}
			if len(op.RequestBody.Value.Content) != 1 {
				t.Errorf("%s: needs one media type", name)
			}
		}
		if op.Responses.Value("default") == nil {
			t.Errorf("%s: has no default answer", name)
		}
		for status, answer := range op.Responses.Map() {
			if status[0] != '4' && status[0] != '5' && status != "default" {
				continue
			}
			content := answer.Value.Content
			if len(content) != 1 || content["application/problem+json"] == nil || content["application/problem+json"].Schema.Ref != "#/components/schemas/Problem" {
				t.Errorf("%s: answer %s is no problem", name, status)
			}
		}
		for _, p := range op.Parameters {
			if p.Value.Description == "" || p.Value.Schema == nil {
				t.Errorf("%s: parameter %s needs a description and a schema", name, p.Value.Name)
			}
		}
	})
}

// TestConditionalOperations: changes of stored records need If-Match and say what a
// missing or stale one answers (http_conventions: conditional requests).
func TestConditionalOperations(t *testing.T) {
	operations(load(t), func(name string, op *openapi3.Operation) {
		method, _, _ := strings.Cut(name, " ")
		// Whatever became of a token or link, it must end; comments never change; a vote is its member's alone.
		if slices.Contains([]string{"DELETE /v1/tokens/{id}", "DELETE /v1/shortlists/{id}/share-links/{link}", "DELETE /v1/shortlists/{id}/comments/{comment}",
			"PUT /v1/shortlists/{id}/vote", "DELETE /v1/shortlists/{id}/vote"}, name) {
			return
		}
		if !slices.Contains([]string{"PUT", "PATCH", "DELETE"}, method) {
			return
		}
		p := op.Parameters.GetByInAndName("header", "If-Match")
		if p == nil || !p.Required {
			t.Errorf("%s: does not demand If-Match", name)
		}
		for _, status := range []string{"404", "412", "428"} {
			if op.Responses.Value(status) == nil {
				t.Errorf("%s: does not describe %s", name, status)
			}
		}
	})
}

// open names the objects that are not closed: a patch holds members of any noun and is
// checked after merging; an event tells of records of any noun; a document is checked against the form that it names; the contract itself is described by OpenAPI.
var open = []string{"#/components/schemas/MergePatch", "#/components/schemas/AnyRecord", "#/components/schemas/ShortlistFile", "#/paths/~1openapi.json/get/responses/200/content/application~1json/schema",
	"#/paths/~1schemas~1shortlist-1.json/get/responses/200/content/application~1json/schema"}

// ignored are the keywords that native validation of the library passes over (dependencies: read in
// its source); a schema that used one would promise what nobody checks.
var ignored = []string{"const", "if", "then", "else", "prefixItems", "contains", "minContains", "maxContains", "patternProperties",
	"dependentRequired", "dependentSchemas", "propertyNames", "unevaluatedItems", "unevaluatedProperties", "$defs", "$dynamicRef",
	"contentEncoding", "contentMediaType", "contentSchema"}

func TestSchemas(t *testing.T) {
	text, err := openapi.JSON()
	if err != nil {
		t.Fatal(err)
	}
	var doc any
	if err := json.Unmarshal(text, &doc); err != nil {
		t.Fatal(err)
	}
	seen := 0
	var schema func(at string, s map[string]any)
	schema = func(at string, s map[string]any) {
		seen++
		for _, word := range ignored {
			if _, used := s[word]; used {
				t.Errorf("%s: %s is not checked by native validation", at, word)
			}
		}
		if s["nullable"] != nil {
			t.Errorf("%s: nothing is nullable", at)
		}
		if _, several := s["type"].([]any); several {
			t.Errorf("%s: has several types", at)
		}
		if s["type"] == "object" && s["additionalProperties"] != false && !slices.Contains(open, at) {
			t.Errorf("%s: is not closed", at)
		}
		request := !strings.Contains(at, "/schemas/Problem") && !strings.Contains(at, "/schemas/Fault") && !strings.Contains(at, "/schemas/Health") &&
			!strings.Contains(at, "List/") && !strings.Contains(at, "/responses/") && !strings.Contains(at, "/headers/")
		if request && s["type"] == "string" && s["maxLength"] == nil && s["readOnly"] != true {
			t.Errorf("%s: a text needs maxLength", at)
		}
		if request && s["type"] == "array" && s["maxItems"] == nil {
			t.Errorf("%s: a list needs maxItems", at)
		}
		if s["pattern"] != nil && s["example"] == nil {
			t.Errorf("%s: a pattern needs an example, which becomes the mend in problems", at)
		}
		if s["enum"] != nil {
			t.Errorf("%s: lists of words are open", at)
		}
		members, _ := s["properties"].(map[string]any)
		for _, name := range slices.Sorted(maps.Keys(members)) {
			member := members[name].(map[string]any)
			if member["$ref"] == nil && member["description"] == nil {
				t.Errorf("%s: %s needs a description", at, name)
			}
			schema(at+"/properties/"+name, member)
		}
		if items, ok := s["items"].(map[string]any); ok {
			schema(at+"/items", items)
		}
	}
	var walk func(at string, node any)
	walk = func(at string, node any) {
		switch v := node.(type) {
		case map[string]any:
			for name, inner := range v {
				here := at + "/" + strings.NewReplacer("~", "~0", "/", "~1").Replace(name)
				switch {
				case name == "example" || name == "examples":
				case name == "schema", at == "#/components/schemas":
					schema(here, inner.(map[string]any))
				default:
					walk(here, inner)
				}
			}
		case []any:
			for _, inner := range v {
				walk(at+"/-", inner)
			}
		}
	}
	walk("#", doc)
	if seen < 100 {
		t.Errorf("looked at %d schemas only", seen)
	}
}

// units are the endings of names that hold a quantity (http_conventions: ids, names).
var units = []string{"_mm", "_m", "_m2", "_m3", "_kg", "_um", "_hz", "_pa", "_kpa", "_db", "_ms", "_percent", "_count", "_kg_per_m2", "_kg_per_m3",
	"_pa_s_per_m", "_pa_s_per_m2", "_mm_per_s", "_min", "_min_per_m", "_min_per_m2", "_min_per_panel", "_hours", "_days", "_cm2", "_per_cm", "_l", "_s", "_c", "_n", "_cm", "_deg", "_m2_k_per_w", "_m2_per_currency_unit"}

// dimensionless are the numbers without a unit, or with the unit in a member beside them. The
// members of Figure take the unit of the member that holds the figure.
var dimensionless = []string{"value", "low", "high", "borate_fraction", "revision", "record_revision", "current_revision", "revision_first", "revision_second", "status", "row", "limit",
	"flame_spread_index", "smoke_developed_index", "catalog_revision", "place", "count", "index", "alpha", "ranked_alpha", "weighted_alpha",
	"fabric_effect", "shift", "unfavourable_sum", "nrc", "saa", "alpha_w", "needed_quantity", "pack_quantity", "leftover_quantity", "lacking_quantity", "listener_index", "seed", "tie_group", "best_share", "place_low", "place_high", "share", "place_then", "place_now",
	"low_alpha", "high_alpha", "layer_index", "line_index", "open_area_fraction", "porosity_fraction", "tortuosity", "flow", "second_flow", "change",
	"quantity", "stock_quantity", "divisor_cm3_per_kg", "load_factor", "design_factor", "factor"}

// money members hold an amount and its currency, not a plain number.
var snake = regexp.MustCompile(`^[a-z][a-z0-9]*(_[a-z0-9]+)*$`)

func TestNames(t *testing.T) {
	doc := load(t)
	quantity := func(ref *openapi3.SchemaRef) bool {
		return ref.Ref == "#/components/schemas/Figure" || ref.Value.Type.Is("number") || ref.Value.Type.Is("integer") ||
			ref.Value.Type.Is("array") && (ref.Value.Items.Value.Type.Is("number") || ref.Value.Items.Value.Type.Is("integer"))
	}
	check := func(at, name string, ref *openapi3.SchemaRef) {
		if !snake.MatchString(name) {
			t.Errorf("%s: %s is not in snake_case", at, name)
		}
		bare := strings.TrimSuffix(strings.TrimSuffix(name, "_min"), "_max") // bounds of a filter
		if quantity(ref) && !slices.Contains(dimensionless, name) && !slices.ContainsFunc(units, func(u string) bool { return strings.HasSuffix(bare, u) || strings.HasSuffix(name, u) }) {
			t.Errorf("%s: %s does not end in a unit", at, name)
		}
		if ref.Value.Type.Is("string") && strings.HasSuffix(name, "_at") {
			t.Errorf("%s: %s should end in _time or _date", at, name)
		}
	}
	for name, s := range doc.Components.Schemas {
		for member, ref := range s.Value.Properties {
			check(name, member, ref)
		}
	}
	operations(doc, func(name string, op *openapi3.Operation) {
		for _, p := range op.Parameters {
			if p.Value.In == "query" {
				check(name, p.Value.Name, p.Value.Schema)
			}
		}
	})
	for path := range doc.Paths.Map() {
		for _, part := range strings.Split(strings.Trim(path, "/"), "/") {
			if !regexp.MustCompile(`^([a-z0-9]+(-[a-z0-9]+)*|\{[a-z]+\}|openapi\.json|shortlist-1\.json)$`).MatchString(part) {
				t.Errorf("%s: %s is not in kebab-case", path, part)
			}
		}
	}
}

// TestExamples: each body has an example, and each example is valid in both modes.
func TestExamples(t *testing.T) {
	doc := load(t)
	see := func(at string, content openapi3.Content, asRequest bool) {
		for media, m := range content {
			if m.Example == nil {
				t.Errorf("%s: %s has no example", at, media)
				continue
			}
			direction := openapi3.VisitAsResponse()
			if asRequest {
				direction = openapi3.VisitAsRequest()
			}
			if err := m.Schema.Value.VisitJSON(m.Example, direction, openapi3.MultiErrors()); err != nil {
				t.Errorf("%s: %s: native: %v", at, media, err)
			}
			if err := m.Schema.Value.VisitJSON(m.Example, direction, openapi3.MultiErrors(), openapi3.EnableJSONSchema2020()); err != nil {
				t.Errorf("%s: %s: 2020-12: %v", at, media, err)
			}
		}
	}
	operations(doc, func(name string, op *openapi3.Operation) {
		if op.RequestBody != nil {
			see(name+" request", op.RequestBody.Value.Content, true)
		}
		for status, r := range op.Responses.Map() {
			see(name+" "+status, r.Value.Content, false)
		}
	})
}

// TestGeneratedCodeIsCurrent runs the generator anew and compares.
func TestGeneratedCodeIsCurrent(t *testing.T) {
	if testing.Short() {
		t.Skip("builds the generator")
	}
	for config, file := range map[string]string{"server.gen.yaml": "../api/server.gen.go", "strict.gen.yaml": "../api/strict.gen.go", "wire.gen.yaml": "../api/wire.gen.go", "models.gen.yaml": "../api/client/models.gen.go",
		"client.gen.yaml": "../api/client/client.gen.go", "answers.gen.yaml": "../api/client/answers.gen.go"} {
		// The output that the configuration names goes before a flag, so a copy names another.
		fresh := filepath.Join(t.TempDir(), "fresh.go")
		text, err := os.ReadFile(config)
		if err != nil {
			t.Fatal(err)
		}
		elsewhere := filepath.Join(t.TempDir(), config)
		text = regexp.MustCompile(`(?m)^output: .*$`).ReplaceAll(text, []byte("output: "+fresh))
		if err := os.WriteFile(elsewhere, text, 0o600); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command("go", "tool", "-modfile=../internal/tools/go.mod", "oapi-codegen", "-config", elsewhere, "openapi.yaml").CombinedOutput()
		if err != nil {
			t.Fatalf("%s: %v\n%s", config, err, out)
		}
		want, err := os.ReadFile(fresh)
		if err != nil {
			t.Fatal(err)
		}
		got, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got, want) {
			t.Errorf("%s is not what the contract generates: run go generate ./openapi", file)
		}
	}
}
