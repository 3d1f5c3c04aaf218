package openapi

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"
)

// ShortlistForm is the name of the form of documents of shortlists, and the path of its schema.
const ShortlistForm = "/schemas/shortlist-1.json"

const (
	inContract = "#/components/schemas/"
	inSchema   = "#/$defs/"
)

// ShortlistSchema returns the JSON Schema 2020-12 of a document of a shortlist: the schema
// ShortlistDocument of the contract with all that it refers to, the same bytes each time. It asks for
// what the contract leaves open because requests lack it: the read-only members of records.
func ShortlistSchema() ([]byte, error) {
	var doc struct {
		Components struct {
			Schemas map[string]map[string]any `yaml:"schemas"`
		} `yaml:"components"`
	}
	if err := yaml.Unmarshal(Document, &doc); err != nil {
		return nil, fmt.Errorf("openapi: %w", err)
	}
	schemas := doc.Components.Schemas
	root, defs := published(schemas["ShortlistDocument"]).(map[string]any), map[string]any{}
	for missing := referred(root); len(missing) > 0; {
		name := missing[0]
		missing = missing[1:]
		if _, there := defs[name]; !there {
			defs[name] = published(schemas[name])
			missing = append(missing, referred(defs[name])...)
		}
	}
	for _, name := range referred(defs["ShortlistCatalog"]) {
		whole(defs[name].(map[string]any))
	}
	members := root["properties"].(map[string]any)
	members["schema"].(map[string]any)["const"] = ShortlistForm
	members["digest"].(map[string]any)["pattern"] = "^sha-256:[0-9a-f]{64}$"
	root["$schema"], root["$id"], root["title"], root["$defs"] = "https://json-schema.org/draft/2020-12/schema", ShortlistForm, "Document of a shortlist", defs
	text, err := json.Marshal(root)
	if err != nil {
		return nil, fmt.Errorf("openapi: %w", err)
	}
	return text, nil
}

// published is a schema of the contract as one of JSON Schema.
func published(node any) any {
	switch v := node.(type) {
	case map[string]any:
		out := make(map[string]any, len(v))
		for name, inner := range v {
			switch ref, text := inner.(string); {
			case name == "$ref" && text:
				out[name] = inSchema + strings.TrimPrefix(ref, inContract)
			case name == "example":
				out["examples"] = []any{inner}
			default:
				out[name] = published(inner)
			}
		}
		return out
	case []any:
		out := make([]any, len(v))
		for i, inner := range v {
			out[i] = published(inner)
		}
		return out
	}
	return node
}

// referred lists what a schema refers to, in order.
func referred(node any) []string {
	found := map[string]bool{}
	var walk func(any)
	walk = func(node any) {
		switch v := node.(type) {
		case map[string]any:
			if ref, ok := v["$ref"].(string); ok {
				found[strings.TrimPrefix(ref, inSchema)] = true
			}
			for _, inner := range v {
				walk(inner)
			}
		case []any:
			for _, inner := range v {
				walk(inner)
			}
		}
	}
	walk(node)
	return slices.Sorted(maps.Keys(found))
}

// whole makes the read-only members of a record required.
func whole(record map[string]any) {
	required, _ := record["required"].([]any)
	members := record["properties"].(map[string]any)
	for _, name := range slices.Sorted(maps.Keys(members)) {
		if members[name].(map[string]any)["readOnly"] == true {
			required = append(required, name)
		}
	}
	record["required"] = required
}
