package api

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/getkin/kin-openapi/openapi3filter"
	"github.com/labstack/echo/v4"

	"sabinbook/internal/access"
)

// Lengths of the longest bodies that are read: one value; many, one a line, or a package.
const (
	maxBody  = 1 << 20
	maxLines = 8 << 20
)

// check finds the faults that the rules of the catalog see in a decoded body.
type check func(value any) []fault

// admit lets a request pass to its handler when it keeps the contract. The handler then
// gets the very value that was checked (oapi-codegen binds it by exact names), never a
// second, more lenient reading of the body.
func (s *Server) admit(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		r := c.Request()
		op := s.contract.find(r.Method, c.Path())
		this := callOf(r.Context())
		if methods := s.contract.fixedMethods(c.Path(), r.URL.Path); methods != nil {
			this.answer.header.Set("Allow", strings.Join(methods, ", "))
			op, next = nil, func(echo.Context) error { return echo.ErrMethodNotAllowed }
		}
		if op == nil { // no route, no such method, or OPTIONS
			if err := s.limit(this, c.RealIP()); err != nil {
				return err
			}
			return next(c)
		}
		this.op = op
		refused := s.authorize(this, r)
		if op.need.Role != access.Anyone || strings.HasPrefix(op.route, sharedPath) { // probes are always answered
			if err := s.limit(this, c.RealIP()); err != nil {
				return err
			}
		}
		if refused != nil {
			return refused
		}
		query, faults := op.readQuery(r.URL)
		this.query = query
		form, wrong, err := op.formOf(this.suffix, query, r.Header.Values("Accept"))
		if err != nil {
			return err
		}
		this.form, faults = form, append(faults, wrong...)
		reason := ""
		if op.reason {
			if reason, wrong = reasonOf(r.Header); len(wrong) > 0 {
				faults = append(faults, wrong...)
			}
		}
		if op.ifMatch && r.Header.Get("If-Match") == "" {
			return &requestError{kind: problemPrecondition, faults: []fault{{header: "If-Match", code: "required", detail: "is missing",
				fix: "send the ETag of the record as you read it, or * for any revision"}}}
		}
		if list := r.Header.Values("If-Match"); len(list) > 1 { // one list on several lines (RFC 9110 section 5.3)
			r.Header.Set("If-Match", strings.Join(list, ", "))
		}
		body, err := op.readBody(this.real, r)
		if err != nil {
			return err
		}
		this.text = body.text
		names, values := c.ParamNames(), c.ParamValues()
		path := make(map[string]string, len(names))
		for i, name := range names {
			path[name] = values[i]
		}
		options := requestOptions()
		options.ExcludeRequestBody = op.raw() // what is inside is checked by the handler
		input := &openapi3filter.RequestValidationInput{Request: r, PathParams: path, QueryParams: query, Route: op.target, Options: options}
		found := schemaFaults(openapi3filter.ValidateRequest(r.Context(), input), nil)
		for _, f := range found {
			if f.parameter != "" || f.header != "" {
				faults = append(faults, f)
			}
		}
		if faults = append(faults, op.keyFaults(r)...); len(faults) > 0 {
			return &requestError{kind: problemParameter, faults: faults}
		}
		found = append(found, body.faults...)
		if len(found) > 0 {
			return &requestError{kind: problemInvalid, faults: withRules(found, s.rules(op, body.text, found))}
		}
		if checked, ok := r.Body.(interface{ ValidatedValue() any }); ok {
			wholeNumbers(checked.ValidatedValue())
		}
		if key, given, err := op.keyOf(this, r, body); err != nil {
			return err
		} else if given {
			return s.once(c, key, next)
		}
		trial := op.trial && query.Get("dry_run") == "true"
		ctx := r.Context()
		if trial {
			ctx = s.store.Trial(ctx)
		}
		if reason != "" {
			ctx = s.store.Because(ctx, reason)
		}
		c.SetRequest(r.WithContext(ctx))
		switch err := next(c); {
		case err != nil:
			return err
		case trial:
			return this.tried()
		case form.format == formatJSON || op.columns == nil:
			return nil
		}
		return this.rewrite()
	}
}

// readQuery parses the query. Only the parameters of the operation may be in it, each once.
func (op *operation) readQuery(u *url.URL) (url.Values, []fault) {
	query, err := url.ParseQuery(u.RawQuery)
	if err != nil {
		return query, []fault{{parameter: "query", code: "bad_parameter", detail: "the query cannot be read", fix: "escape what is not a letter or digit, as in %20"}}
	}
	var faults []fault
	for name, values := range query {
		switch {
		case !slices.Contains(op.query, name):
			faults = append(faults, fault{parameter: name, code: "unknown_parameter", detail: "no such parameter", fix: didYouMean(name, op.query)})
		case len(values) > 1:
			faults = append(faults, fault{parameter: name, code: "repeated_parameter", detail: fmt.Sprintf("is given %d times", len(values)),
				fix: "give it once; several values have commas between them"})
		case !plain(values[0]):
			faults = append(faults, fault{parameter: name, code: "control_character", detail: "holds a control character or is not UTF-8", fix: "take it out"})
		}
	}
	slices.SortFunc(faults, func(a, b fault) int { return strings.Compare(a.parameter, b.parameter) })
	return query, faults
}

// content is a request body, with what is wrong inside it when it is JSON.
type content struct {
	text   []byte
	faults []fault
}

// readBody reads the body of an operation that has one, when it is of the right type, not
// too long and strictly JSON, and leaves it on the request for the validator.
func (op *operation) readBody(w http.ResponseWriter, r *http.Request) (content, error) {
	if op.media == "" {
		if r.ContentLength > 0 {
			return content{}, &requestError{kind: problemBody, detail: "this operation has no body"}
		}
		return content{}, nil
	}
	if coding := r.Header.Get("Content-Encoding"); coding != "" && coding != "identity" {
		return content{}, &requestError{kind: problemMedia, header: map[string]string{"Accept-Encoding": "identity"}, faults: []fault{{header: "Content-Encoding",
			code: "unsupported_coding", detail: "must be identity, got " + quoted(coding), fix: "send the body uncompressed"}}}
	}
	if err := op.checkMedia(r); err != nil {
		return content{}, err
	}
	text, err := io.ReadAll(http.MaxBytesReader(w, r.Body, op.longest()))
	if tooLarge := new(http.MaxBytesError); errors.As(err, &tooLarge) {
		return content{}, &requestError{kind: problemTooLarge, header: map[string]string{"Connection": "close"},
			faults: []fault{tooLong(op.longest())}}
	} else if err != nil {
		return content{}, &requestError{kind: problemBody, detail: "the body ended before it was whole"}
	}
	if op.raw() {
		r.Body = io.NopCloser(bytes.NewReader(text))
		return content{text: text}, nil
	}
	faults, unreadable := inspect(text)
	if unreadable != nil {
		return content{}, &requestError{kind: problemBody, faults: []fault{*unreadable}}
	}
	r.Body = io.NopCloser(bytes.NewReader(text))
	r.ContentLength = int64(len(text))
	return content{text, faults}, nil
}

// lines reports whether the body is one JSON value a line.
func (op *operation) lines() bool { return op.media == "application/x-ndjson" }

// raw reports whether the body is not one JSON value: many lines, a table or a package.
func (op *operation) raw() bool {
	return op.lines() || op.media == "application/zip" || op.media == "text/csv"
}

func (op *operation) longest() int64 {
	if op.raw() && op.media != "text/csv" {
		return maxLines
	}
	return op.limit
}

func tooLong(longest int64) fault {
	return fault{code: "too_large", detail: fmt.Sprintf("may have at most %d bytes", longest), fix: "send less at once"}
}

func (op *operation) checkMedia(r *http.Request) error {
	given := r.Header.Get("Content-Type")
	media, params, err := mime.ParseMediaType(given)
	if err == nil && media == op.media && (len(params) == 0 || len(params) == 1 && strings.EqualFold(params["charset"], "utf-8")) {
		r.Header.Set("Content-Type", media)
		return nil
	}
	accept := "Accept"
	switch op.method {
	case http.MethodPost:
		accept = "Accept-Post"
	case http.MethodPatch:
		accept = "Accept-Patch"
	}
	return &requestError{kind: problemMedia, header: map[string]string{accept: op.media}, faults: []fault{{header: "Content-Type",
		code: "unsupported_media_type", detail: "must be " + op.media + ", got " + quoted(given), fix: "send Content-Type: " + op.media}}}
}

// rules asks the rules of the catalog about a body that breaks the contract, so that all
// faults are named at once.
func (s *Server) rules(op *operation, text []byte, found []fault) []fault {
	var value any
	ask := s.checks[op.id]
	if ask == nil || decodeNumbers(text, &value) != nil {
		return nil
	}
	return pruned(ask, value, found)
}

// pruned asks about a value without the members that are at fault already.
func pruned(ask check, value any, found []fault) []fault {
	if _, object := value.(map[string]any); !object {
		return nil
	}
	for _, f := range found {
		prune(value, strings.Split(f.pointer, "/")[1:])
	}
	return ask(value)
}

// prune removes the member at a path, or empties the element of a list, so that the
// other elements keep their places.
func prune(value any, path []string) {
	if len(path) == 0 {
		return
	}
	name := strings.NewReplacer("~1", "/", "~0", "~").Replace(path[0])
	switch v := value.(type) {
	case map[string]any:
		if len(path) == 1 {
			delete(v, name)
			return
		}
		prune(v[name], path[1:])
	case []any:
		i, err := strconv.Atoi(name)
		if err != nil || i < 0 || i >= len(v) {
			return
		}
		if len(path) == 1 {
			v[i] = nil
			return
		}
		prune(v[i], path[1:])
	}
}
