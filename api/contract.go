package api

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/getkin/kin-openapi/openapi3filter"
	"github.com/getkin/kin-openapi/routers"
	"github.com/oapi-codegen/runtime"

	"sabinbook/internal/access"
)

// contract is the published document, prepared for checking requests.
//
// A document that says 3.1 makes the library compile a JSON Schema for every value that
// it checks. The copy in use says 3.0.3, which selects the library's native validator:
// it knows all keywords that the contract uses and costs a twentieth. Tests refuse
// keywords that it would ignore and compare its verdicts with those of the slow mode.
type contract struct {
	doc        *openapi3.T
	operations map[string]*operation // by method and route: "GET /v1/fills/:id"
	methods    map[string][]string   // by route, HEAD among them
}

// operation is one operation of the contract with what the checks need at hand.
type operation struct {
	id         string
	method     string
	route      string // as the router writes it
	parameters openapi3.Parameters
	query      []string // names of its query parameters
	trial      bool     // dry_run tries it
	reason     bool     // Change-Reason tells why
	ifMatch    bool     // needs If-Match
	keyed      bool     // takes Idempotency-Key
	need       access.Need
	media      string // media type of its request body, empty for none
	limit      int64  // length of its longest body that is one JSON value
	target     *routers.Route
	columns    []column // of a list as a table; nil for what is no list
}

func loadContract(text []byte) (*contract, error) {
	doc, err := openapi3.NewLoader().LoadFromData(text)
	if err != nil {
		return nil, fmt.Errorf("api: contract: %w", err)
	}
	if err := doc.Validate(context.Background(), openapi3.DisableExamplesValidation()); err != nil {
		return nil, fmt.Errorf("api: contract: %w", err)
	}
	doc.OpenAPI = "3.0.3"
	c := &contract{doc: doc, operations: map[string]*operation{}, methods: map[string][]string{}}
	for path, item := range doc.Paths.Map() {
		for method, o := range item.Operations() {
			need, err := needOf(o)
			if err != nil {
				return nil, err
			}
			op := &operation{id: o.OperationID, method: method, route: strings.NewReplacer("{", ":", "}", "").Replace(path),
				need: need, limit: longestBody(o.Extensions["x-longest-body"]), parameters: o.Parameters, target: &routers.Route{Spec: doc, Path: path, PathItem: item, Method: method, Operation: o}}
			for _, p := range o.Parameters {
				if p.Value.In == openapi3.ParameterInQuery {
					op.query = append(op.query, p.Value.Name)
				}
				op.trial = op.trial || p.Ref == "#/components/parameters/DryRun"
				op.keyed = op.keyed || p.Ref == "#/components/parameters/IdempotencyKey"
				op.reason = op.reason || p.Ref == "#/components/parameters/ChangeReason"
				op.ifMatch = op.ifMatch || p.Value.Name == "If-Match"
			}
			op.columns = op.listColumns()
			if o.RequestBody != nil {
				for media := range o.RequestBody.Value.Content {
					op.media = media
				}
			}
			c.operations[method+" "+op.route] = op
			c.methods[op.route] = append(c.methods[op.route], method)
			if method == http.MethodGet {
				c.methods[op.route] = append(c.methods[op.route], http.MethodHead)
			}
		}
	}
	return c, nil
}

// listColumns are the columns of the records of a list; nil for an operation that answers no list, or in
// JSON alone.
func (op *operation) listColumns() []column {
	if op.method != http.MethodGet || !slices.Contains(op.formats(), formatCSV) {
		return nil
	}
	answer := op.target.Operation.Responses.Value("200").Value.Content["application/json"].Schema.Value
	if items := answer.Properties["items"]; items != nil {
		return columnsOf(items.Value.Items.Value)
	}
	return nil
}

// names lists the operations by method and route, in order.
func (c *contract) names() []string {
	list := make([]string, 0, len(c.operations))
	for name := range c.operations {
		list = append(list, name)
	}
	slices.Sort(list)
	return list
}

// find returns the operation that the router has matched, nil when it matched none.
func (c *contract) find(method, route string) *operation {
	if method == http.MethodHead {
		method = http.MethodGet
	}
	return c.operations[method+" "+route]
}

// fixedMethods are the methods of a path that the contract names word for word, where the router, which has not
// found the method there, has matched it with the route of a record; else nil.
func (c *contract) fixedMethods(route, path string) []string {
	if route == path || !strings.Contains(route, ":") || c.methods[path] == nil {
		return nil
	}
	list := append([]string{http.MethodOptions}, c.methods[path]...)
	slices.Sort(list)
	return list
}

// requestOptions make the library collect all faults, keep the checked value for the
// handler and add no defaults.
func requestOptions() *openapi3filter.Options {
	return &openapi3filter.Options{MultiError: true, KeepValidatedValue: true, SkipSettingDefaults: true,
		AuthenticationFunc: openapi3filter.NoopAuthenticationFunc}
}

// bind checks a value against a schema as a request and reads it into *into. It returns
// the faults of the value.
func (c *contract) bind(schema string, value, into any) []fault {
	return c.bindAs(schema, value, into, openapi3.VisitAsRequest())
}

func (c *contract) bindAs(schema string, value, into any, as openapi3.SchemaValidationOption) []fault {
	err := c.doc.Components.Schemas[schema].Value.VisitJSON(value, as, openapi3.MultiErrors())
	if err != nil {
		return schemaFaults(err, nil)
	}
	if err := runtime.BindJSONValue(value, into); err != nil {
		return []fault{{code: "wrong_type", detail: "cannot be read as the record it describes", fix: "compare it with the schema " + schema + " in /openapi.json"}}
	}
	return nil
}

// bindAnswer is bind for a value as the service writes it, with its read-only members.
func (c *contract) bindAnswer(schema string, value, into any) []fault {
	return c.bindAs(schema, value, into, openapi3.VisitAsResponse())
}

// writable takes the read-only members out of an encoded record.
func (c *contract) writable(schema string, value map[string]any) {
	for name, member := range c.doc.Components.Schemas[schema].Value.Properties {
		if member.Value.ReadOnly {
			delete(value, name)
		}
	}
}
