package api

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/go-json-experiment/json/jsontext"
)

const (
	maxDepth = 32
	// maxNumber is 2^53: greater whole numbers are not exact in every reader of JSON
	// (RFC 8259 section 6), and no quantity of the catalog comes near.
	maxNumber = 1 << 53
)

// inspect reads a body by the strict rules of I-JSON (RFC 7493): UTF-8 without byte order
// mark, one value, no member twice. unreadable says why it is not such a text; faults are
// members that are legal JSON but no reader should have to take.
func inspect(text []byte) (faults []fault, unreadable *fault) {
	if len(bytes.TrimSpace(text)) == 0 {
		return nil, &fault{code: "empty_body", detail: "is empty", fix: "send a JSON object"}
	}
	if bytes.HasPrefix(text, []byte("\xEF\xBB\xBF")) {
		return nil, &fault{code: "byte_order_mark", detail: "begins with a byte order mark", fix: "send UTF-8 without it"}
	}
	if !utf8.Valid(text) {
		return nil, &fault{code: "bad_utf8", detail: "is not valid UTF-8", fix: "encode the text as UTF-8"}
	}
	decoder := jsontext.NewDecoder(bytes.NewReader(text))
	for {
		token, err := decoder.ReadToken()
		at := string(decoder.StackPointer())
		switch {
		case err != nil:
			return faults, syntaxFault(text, err)
		case decoder.StackDepth() > maxDepth:
			return faults, &fault{pointer: at, code: "too_deep", detail: fmt.Sprintf("is nested deeper than %d", maxDepth), fix: "flatten it"}
		case token.Kind() == '0':
			if x, err := strconv.ParseFloat(token.String(), 64); err != nil || math.Abs(x) > maxNumber {
				faults = append(faults, fault{pointer: at, code: "out_of_range", detail: "must lie within plus and minus 2^53, got " + quoted(token.String()), fix: "check the unit"})
			}
		case token.Kind() == '"' && strings.ContainsRune(token.String(), 0):
			faults = append(faults, fault{pointer: at, code: "control_character", detail: "holds the control character U+0000", fix: "take it out"})
		}
		if decoder.StackDepth() == 0 {
			break
		}
	}
	if _, err := decoder.ReadToken(); !errors.Is(err, io.EOF) {
		return faults, &fault{code: "trailing_text", detail: "has text after the value", fix: "send one JSON value"}
	}
	return faults, nil
}

// wholeNumbers writes the whole numbers within a decoded value as digits. 8.0 and 1e1 are
// whole numbers to JSON Schema and to people, but not to the decoder of an int64. Numbers
// that are not whole, or greater than inspect lets pass, stay as they are.
func wholeNumbers(value any) {
	digits := func(v any) any {
		n, number := v.(json.Number)
		if !number || !strings.ContainsAny(string(n), ".eE") {
			wholeNumbers(v)
			return v
		}
		x, err := n.Float64()
		if err != nil || x != math.Trunc(x) || math.Abs(x) > maxNumber {
			return v
		}
		return json.Number(strconv.FormatInt(int64(x), 10))
	}
	switch v := value.(type) {
	case map[string]any:
		for name, inner := range v {
			v[name] = digits(inner)
		}
	case []any:
		for i, inner := range v {
			v[i] = digits(inner)
		}
	}
}

func syntaxFault(text []byte, err error) *fault {
	var syntax *jsontext.SyntacticError
	if !errors.As(err, &syntax) { // the text is in memory: only an early end is left
		return &fault{code: "not_json", detail: "ends before the value is whole", fix: "close every object, list and text"}
	}
	f := &fault{pointer: string(syntax.JSONPointer)}
	if errors.Is(syntax.Err, jsontext.ErrDuplicateName) {
		f.code, f.detail, f.fix = "duplicate_member", "is given twice in one object", "keep one"
		return f
	}
	before := text[:min(int(syntax.ByteOffset), len(text))]
	line := bytes.Count(before, []byte("\n")) + 1
	column := utf8.RuneCount(before[bytes.LastIndexByte(before, '\n')+1:]) + 1
	f.code, f.detail = "not_json", fmt.Sprintf("is not JSON at line %d, character %d", line, column)
	f.fix = "check quotes, commas and brackets there; numbers are digits, NaN and Infinity are not JSON"
	return f
}

// plain reports whether a parameter is UTF-8 without control characters.
func plain(text string) bool {
	return utf8.ValidString(text) && !strings.ContainsFunc(text, unicode.IsControl)
}
