// Package openapi holds the contract of the HTTP service: an OpenAPI 3.1 document
// that is written by hand. The wire types, the strict server and the typed client are
// generated from it, requests are validated by it, and tests validate every answer
// against it.
package openapi

import (
	_ "embed" // embeds the document
	"encoding/json"
	"fmt"

	"go.yaml.in/yaml/v3"
)

//go:generate go tool -modfile=../internal/tools/go.mod oapi-codegen -config server.gen.yaml openapi.yaml
//go:generate go tool -modfile=../internal/tools/go.mod oapi-codegen -config strict.gen.yaml openapi.yaml
//go:generate go tool -modfile=../internal/tools/go.mod oapi-codegen -config wire.gen.yaml openapi.yaml
//go:generate go tool -modfile=../internal/tools/go.mod oapi-codegen -config models.gen.yaml openapi.yaml
//go:generate go tool -modfile=../internal/tools/go.mod oapi-codegen -config client.gen.yaml openapi.yaml
//go:generate go tool -modfile=../internal/tools/go.mod oapi-codegen -config answers.gen.yaml openapi.yaml

// Document is the contract as it is written, in YAML.
//
//go:embed openapi.yaml
var Document []byte

// JSON returns the contract as JSON with its members in alphabetical order, the same
// bytes each time.
func JSON() ([]byte, error) {
	var doc any
	if err := yaml.Unmarshal(Document, &doc); err != nil {
		return nil, fmt.Errorf("openapi: %w", err)
	}
	text, err := json.Marshal(doc)
	if err != nil {
		return nil, fmt.Errorf("openapi: %w", err)
	}
	return text, nil
}
