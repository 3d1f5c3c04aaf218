package api

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/getkin/kin-openapi/openapi3filter"

	"sabinbook/internal/catalog"
)

// fault is one thing that is wrong with a request: with the member at a pointer of the
// body, unless it names a parameter, a header or a cell of a file of a package.
type fault struct {
	pointer, parameter, header string
	file, column               string
	row                        int
	code, detail, fix          string
}

func (f fault) wire() Fault {
	w := Fault{Code: f.code, Detail: f.detail, Fix: f.fix}
	switch {
	case f.parameter != "":
		w.Parameter = &f.parameter
	case f.header != "":
		w.Header = &f.header
	case f.file != "" || f.row > 0: // of a table that came alone, the file has no name
		if f.file != "" {
			w.File = &f.file
		}
		if f.row > 0 {
			row := int64(f.row)
			w.Row = &row
		}
		if f.column != "" {
			w.Column = &f.column
		}
	default:
		w.Pointer = &f.pointer
	}
	return w
}

func faultsOf(e *catalog.InvalidError) []fault {
	list := make([]fault, len(e.Faults))
	for i, f := range e.Faults {
		list[i] = fault{pointer: f.Pointer, code: f.Code, detail: f.Detail, fix: f.Fix}
	}
	return list
}

// faultsIn lists the faults that an error names.
func faultsIn(err error) []fault {
	if err == nil {
		return nil
	}
	_, detail := problemOf(err)
	return detail.faults
}

// withRules adds the faults that the rules of the catalog find to those of the contract.
// What the contract has named already, at the member, in it or around it, is not named
// twice.
func withRules(contract, rules []fault) []fault {
	list := slices.Clone(contract)
	for _, r := range rules {
		if !slices.ContainsFunc(contract, func(c fault) bool { return inside(c.pointer, r.pointer) || inside(r.pointer, c.pointer) }) {
			list = append(list, r)
		}
	}
	return list
}

// inside reports whether pointer leads to or below at.
func inside(pointer, at string) bool { return pointer == at || strings.HasPrefix(pointer, at+"/") }

// schemaFaults lists what the contract's validator found, in its order.
func schemaFaults(err error, list []fault) []fault {
	switch e := err.(type) { // MultiError.As would find its first member only
	case nil:
		return list
	case openapi3.MultiError:
		for _, one := range e {
			list = schemaFaults(one, list)
		}
		return list
	case *openapi3filter.RequestError:
		if e.Parameter != nil {
			return append(list, parameterFault(e))
		}
		if errors.Is(e.Err, openapi3filter.ErrInvalidRequired) {
			return append(list, fault{code: "empty_body", detail: "is empty", fix: "send a JSON object"})
		}
		if e.Err != nil {
			return schemaFaults(e.Err, list)
		}
	case *openapi3.SchemaError:
		return append(list, memberFault(e))
	}
	return append(list, fault{code: "invalid", detail: "does not fit the contract", fix: "compare the request with /openapi.json"})
}

// memberFault puts one finding of the validator into words.
func memberFault(e *openapi3.SchemaError) fault {
	f := fault{pointer: pointerOf(e.JSONPointer())}
	switch e.SchemaField {
	case "properties":
		name := unknownName(e.Reason)
		f.pointer += pointerOf([]string{name})
		f.code, f.detail, f.fix = "unknown_member", "no such member", didYouMean(name, writableNames(e.Schema))
	case "readOnly":
		f.code, f.detail, f.fix = "read_only", "is set by the service", "leave it out"
	case "required":
		f.code, f.detail, f.fix = "required", "is missing", "add it"
		path := e.JSONPointer()
		if member := e.Schema.Properties[path[len(path)-1]]; member != nil && member.Value.Description != "" {
			f.fix = "add it: " + member.Value.Description
		}
	case "type":
		f.code, f.detail, f.fix = "wrong_type", "must be "+typeWords(e.Schema)+", got "+valueWords(e.Value), "give "+typeWords(e.Schema)
		if _, text := e.Value.(string); text && (e.Schema.Type.Is("number") || e.Schema.Type.Is("integer")) {
			f.fix = "write the number without quotes, e.g. 40"
		}
	case "nullable":
		f.code, f.detail, f.fix = "null", "must be "+typeWords(e.Schema)+", got null", "leave the member out when it is unknown"
	case "pattern":
		f.code, f.detail = "bad_form", "does not have the form "+e.Schema.Pattern
		f.fix = fmt.Sprintf("write it like %v", e.Schema.Example)
	case "maxLength":
		f.code, f.detail, f.fix = "too_long", fmt.Sprintf("may have at most %d characters", *e.Schema.MaxLength), "shorten it"
	case "maxItems":
		f.code, f.detail, f.fix = "too_many", fmt.Sprintf("may have at most %d elements", *e.Schema.MaxItems), "shorten the list"
	case "minProperties":
		f.code, f.detail, f.fix = "empty", "names no member", "name at least one member to change"
	default:
		f.code, f.detail, f.fix = "invalid", e.Reason, "compare it with /openapi.json"
	}
	return f
}

// parameterFault puts what is wrong with a parameter or header into words.
func parameterFault(e *openapi3filter.RequestError) fault {
	p := e.Parameter
	f := fault{code: "bad_parameter", detail: "must be " + parameterWords(p.Schema.Value), fix: p.Description}
	if errors.Is(e.Err, openapi3filter.ErrInvalidRequired) {
		f.code, f.detail = "required", "is missing"
	}
	switch given := e.Input.GetQueryParams()[p.Name]; {
	case p.In == openapi3.ParameterInHeader:
		f.header = p.Name
	case len(given) > 0:
		f.parameter = p.Name
		f.detail += ", got " + quoted(given[0])
	default:
		f.parameter = p.Name
	}
	return f
}

func parameterWords(s *openapi3.Schema) string {
	switch {
	case s.Type.Is("integer") && s.Min != nil && s.Max != nil:
		return fmt.Sprintf("a whole number of %g to %g", *s.Min, *s.Max)
	case s.Type.Is("array"):
		return fmt.Sprintf("1 to %d words with commas between them", *s.MaxItems)
	case s.Pattern != "":
		return fmt.Sprintf("like %v", s.Example)
	case s.Type.Is("string"):
		return fmt.Sprintf("a text of 1 to %d characters", *s.MaxLength)
	}
	return typeWords(s)
}

func typeWords(s *openapi3.Schema) string {
	switch {
	case s.Type.Is("string"):
		return "a text"
	case s.Type.Is("number"):
		return "a number"
	case s.Type.Is("integer"):
		return "a whole number"
	case s.Type.Is("boolean"):
		return "true or false"
	case s.Type.Is("array"):
		return "a list"
	}
	return "an object"
}

func valueWords(value any) string {
	switch v := value.(type) {
	case nil:
		return "null"
	case string:
		return "the text " + quoted(v)
	case bool:
		return strconv.FormatBool(v)
	case []any:
		return "a list"
	case map[string]any:
		return "an object"
	case json.Number:
		return v.String()
	}
	return fmt.Sprint(value)
}

// quoted quotes at most 60 characters of what a client sent.
func quoted(text string) string {
	if r := []rune(text); len(r) > 60 {
		text = string(r[:60]) + "..."
	}
	return strconv.Quote(text)
}

func pointerOf(path []string) string {
	var b strings.Builder
	for _, name := range path {
		b.WriteString("/" + strings.NewReplacer("~", "~0", "/", "~1").Replace(name))
	}
	return b.String()
}

// unknownName takes the name out of the validator's sentence `property "x" is unsupported`.
func unknownName(reason string) string {
	begin, end := strings.Index(reason, `"`), strings.LastIndex(reason, `"`)
	if begin < 0 || end <= begin {
		return reason
	}
	name, err := strconv.Unquote(reason[begin : end+1])
	if err != nil {
		return reason
	}
	return name
}

func writableNames(s *openapi3.Schema) []string {
	var names []string
	for name, member := range s.Properties {
		if !member.Value.ReadOnly {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	return names
}

// didYouMean proposes the name that was most likely meant, or lists all.
func didYouMean(name string, known []string) string {
	best, least := "", max(2, len(name)/3)+1
	for _, k := range known {
		d := distance(strings.ToLower(name), k)
		if len(name) >= 3 && strings.HasPrefix(k, strings.ToLower(name)) {
			d = min(d, 1) // the unit was left out
		}
		if d < least {
			best, least = k, d
		}
	}
	switch {
	case best != "":
		return "did you mean " + best + "?"
	case len(known) == 0:
		return "leave it out"
	}
	return "use one of " + strings.Join(known, ", ")
}

// distance counts the letters to insert, delete or change between two words (Levenshtein
// 1966; the usual dynamic program over one row).
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			cost := diagonal
			if a[i] != b[j] {
				cost++
			}
			diagonal, row[j+1] = row[j+1], min(cost, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}
