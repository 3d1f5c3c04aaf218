package openapi_test

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
)

// TestBothModesAgree puts each example of a request body, and every small damage to it,
// before the native validator, which the service uses, and before the full JSON Schema
// 2020-12 validator. Both must give the same verdict, so that the service checks what
// the published document says. What is read-only is left out: to JSON Schema that is a
// remark; the service refuses it in requests, see TestReadOnlyMembersAreRefused.
func TestBothModesAgree(t *testing.T) {
	refused, accepted := 0, 0
	operations(load(t), func(name string, op *openapi3.Operation) {
		if op.RequestBody == nil || !strings.HasPrefix(name, "POST") {
			return
		}
		body := op.RequestBody.Value.Content["application/json"]
		if body == nil { // lines, each of which is checked as the question it holds
			return
		}
		schema, example := body.Schema.Value, body.Example
		for what, value := range damages(t, example) {
			native := schema.VisitJSON(value, openapi3.MultiErrors())
			full := schema.VisitJSON(value, openapi3.MultiErrors(), openapi3.EnableJSONSchema2020())
			if (native == nil) != (full == nil) {
				t.Errorf("%s: %s: native says %v, 2020-12 says %v", name, what, native, full)
			}
			if native == nil {
				accepted++
			} else {
				refused++
			}
		}
	})
	if accepted < 100 || refused < 500 {
		t.Errorf("a thin corpus: %d accepted, %d refused", accepted, refused)
	}
}

func TestReadOnlyMembersAreRefused(t *testing.T) {
	for name, ref := range load(t).Components.Schemas {
		for member, schema := range ref.Value.Properties {
			if !schema.Value.ReadOnly {
				continue
			}
			if slices.Contains(ref.Value.Required, member) {
				t.Errorf("%s.%s is read-only and required: no request could be valid", name, member)
			}
			value := map[string]any{member: "x"}
			if schema.Value.Type.Is("integer") {
				value[member] = 1.0
			}
			err := ref.Value.VisitJSON(value, openapi3.VisitAsRequest(), openapi3.MultiErrors())
			if err == nil || !strings.Contains(err.Error(), "readOnly") {
				t.Errorf("%s.%s is accepted in a request: %v", name, member, err)
			}
		}
	}
}

// damages returns a value and copies of it with one thing changed: each member taken out,
// doubled under another name, or of another type.
func damages(t *testing.T, value any) map[string]any {
	t.Helper()
	all := map[string]any{"as it is": value}
	others := map[string]any{"null": nil, "text": "40", "long text": strings.Repeat("x", 10_001), "number": 40.5, "whole": 40.0, "big": 1e15,
		"true": true, "list": []any{}, "object": map[string]any{}}
	put := func(what string, path []any, change func(parent any, key any)) {
		c := copied(t, value)
		parent := c
		for _, key := range path[:len(path)-1] {
			parent = at(parent, key)
		}
		change(parent, path[len(path)-1])
		all[what+" at "+fmt.Sprint(path)] = c
	}
	var walk func(node any, path []any)
	walk = func(node any, path []any) {
		var keys []any
		switch v := node.(type) {
		case map[string]any:
			for _, k := range slices.Sorted(maps.Keys(v)) {
				keys = append(keys, k)
			}
			put("unknown member", append(slices.Clone(path), "surprise"), func(p, k any) { p.(map[string]any)[k.(string)] = 1.0 })
		case []any:
			for i := range v {
				keys = append(keys, i)
			}
		}
		for _, k := range keys {
			here := append(slices.Clone(path), k)
			if _, member := k.(string); member {
				put("without", here, func(p, k any) { delete(p.(map[string]any), k.(string)) })
			}
			for what, other := range others {
				put(what, here, func(p, k any) {
					switch p := p.(type) {
					case map[string]any:
						p[k.(string)] = other
					case []any:
						p[k.(int)] = other
					}
				})
			}
			walk(at(node, k), here)
		}
	}
	walk(value, nil)
	return all
}

func at(node, key any) any {
	switch v := node.(type) {
	case map[string]any:
		return v[key.(string)]
	case []any:
		return v[key.(int)]
	}
	return nil
}

func copied(t *testing.T, value any) any {
	t.Helper()
	text, err := json.Marshal(value)
	if err != nil {
		t.Fatal(err)
	}
	var c any
	if err := json.Unmarshal(text, &c); err != nil {
		t.Fatal(err)
	}
	return c
}
