package api

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"

	"sabinbook/internal/catalog"
)

// problemKind is one kind of problem: its status and the page behind its type.
type problemKind struct {
	code                 string
	status               int
	title                string
	meaning, cause, cure string
}

// The kinds of problems. Codes never change.
var (
	problemBody = &problemKind{"unreadable-body", 400, "The body cannot be read",
		"The body is not one JSON value in UTF-8.",
		"It is empty, cut off or nested too deeply, holds a member twice, has text behind the value, or is not JSON.",
		"Send one JSON value, without byte order mark and comments. The errors name the place."}
	problemParameter = &problemKind{"bad-parameter", 400, "A parameter or header is not valid",
		"A parameter of the path or query, or a header, cannot be used.",
		"An unknown or repeated name, a value outside its limits, or a cursor that belongs to another list.",
		"Correct what the errors name. The contract at /openapi.json lists the parameters of each operation."}
	problemToken = &problemKind{"token-needed", 401, "A good token is needed",
		"The operation is for members, and the request does not show a token that is good.",
		"No header Authorization, or a token that is mistyped, unknown, expired or revoked. The errors say which.",
		"Send Authorization: Bearer and the token that an admin of this catalog made for you."}
	problemForbidden = &problemKind{"not-allowed", 403, "The token does not allow this",
		"The token is good, but lacks the role or the scope that the operation needs, or the record was added by another member.",
		"A token for less than what was asked.",
		"Do what the errors say: ask an admin for the role or scope, or somebody who has it to do it."}
	problemNotFound = &problemKind{"not-found", 404, "There is no such thing",
		"No record, route or page has this name.",
		"A misspelt path, id or slug, or a record that was deleted.",
		"List the collection to see what there is. A deleted record comes back by POST to its restore path."}
	problemMethod = &problemKind{"method-not-allowed", 405, "The method is not for this path",
		"The path exists, but not with this method.",
		"A method that the path does not have.",
		"Use one of the methods in the header Allow."}
	problemNotAcceptable = &problemKind{"not-acceptable", 406, "The answer cannot be had in this form",
		"What is here is answered in other media types than those that Accept takes.",
		"An Accept header that names none of them.",
		"Send Accept with one of the media types that the error lists, or leave it out for JSON."}
	problemConflict = &problemKind{"conflict", 409, "The change clashes with what is stored",
		"A name that must be unique is taken, or the state of another record forbids the change.",
		"Another record has this slug or name, or still refers to the record.",
		"Do what the errors say: choose another name, or change the other record first."}
	problemRunning = &problemKind{"still-running", 409, "The same request is being carried out",
		"A request with this Idempotency-Key has come already and has no answer yet.",
		"The request was repeated before the first one was done.",
		"Repeat it after the time in Retry-After: it is then answered as the first one was."}
	problemKeyReused = &problemKind{"key-reused", 422, "The Idempotency-Key belongs to another request",
		"A request with this key was carried out in the last two days, and its body or query was another one.",
		"One key for two requests.",
		"Give every new request a new key. Only a repeat has that of the request which it repeats."}
	problemStale = &problemKind{"stale", 412, "The record has changed meanwhile",
		"If-Match names a revision that is not the stored one. Nothing was changed.",
		"Somebody else changed the record after it was read.",
		"Read the record again, look at what is new, and repeat the change with its new ETag."}
	problemTooLarge = &problemKind{"too-large", 413, "The body is too large",
		"The body is longer than 1 MiB; a package or a document of a shortlist may have 8 MiB; one of many questions, one a line, 8 MiB and 10 000 lines, none of them longer than 1 MiB.",
		"Too much in one request.",
		"Split it."}
	problemMedia = &problemKind{"unsupported-media-type", 415, "The body is of the wrong type",
		"The body has another media type than the operation reads, or is compressed.",
		"A missing or different Content-Type, or a Content-Encoding.",
		"Send the type that Accept-Post or Accept-Patch names, uncompressed."}
	problemInvalid = &problemKind{"invalid-body", 422, "The body is not valid",
		"The body can be read, but breaks a rule of the record, question or package.",
		"A missing, unknown or read-only member, a figure in another unit, a word that is not in the list, a contradiction.",
		"Each error names a member, what is wrong and how to mend it. All are listed at once."}
	problemPrecondition = &problemKind{"precondition-required", 428, "The change needs If-Match",
		"A stored record may only be changed or deleted by who has seen it.",
		"If-Match is missing.",
		"Read the record and send its ETag as If-Match, or send If-Match: * if any revision will do."}
	problemTooMany = &problemKind{"too-many-requests", 429, "Too many requests",
		"The token, or the address where no token is shown, has sent more requests in a minute than the service takes.",
		"A script without a pause, or many members behind one address who show no tokens.",
		"Wait for the seconds in Retry-After. RateLimit tells with every answer how many requests are left."}
	problemInternal = &problemKind{"internal", 500, "The service made a mistake",
		"Something happened that must not happen.",
		"A fault of the program.",
		"Report the Request-Id of the answer; the log holds the cause."}
	problemUnavailable = &problemKind{"unavailable", 503, "The service cannot answer now",
		"The store does not answer, or the process is about to stop. Nothing was stored.",
		"The database is busy or away.",
		"Repeat the request after the time in Retry-After."}
	problemOutcome = &problemKind{"outcome-unknown", 503, "It is not known whether the change was stored",
		"The store was told to keep the change and did not confirm it.",
		"The database went away at the last moment.",
		"Repeat the request with the same Idempotency-Key: what was stored then is answered, not stored again. Sent without a key, read the record before repeating it."}
)

var problemKinds = []*problemKind{problemBody, problemParameter, problemToken, problemForbidden, problemNotFound, problemMethod, problemNotAcceptable, problemConflict, problemRunning, problemKeyReused, problemStale, problemTooLarge,
	problemMedia, problemInvalid, problemPrecondition, problemTooMany, problemInternal, problemUnavailable, problemOutcome}

// requestError refuses a request before or beside the rules of the catalog.
type requestError struct {
	kind   *problemKind
	detail string // empty: counts the faults
	faults []fault
	header map[string]string
}

func (e *requestError) Error() string { return e.kind.code + ": " + e.detail }

// problemDetail is what one occurrence of a problem adds to its kind.
type problemDetail struct {
	text   string
	faults []fault
	stored *catalog.Meta // of a stale change
	header map[string]string
}

// problemOf is the one table from errors to problems.
func problemOf(err error) (*problemKind, problemDetail) {
	var refused *requestError
	var invalid *catalog.InvalidError
	var stale *catalog.StaleError
	var clash *catalog.ConflictError
	var routed *echo.HTTPError
	again := map[string]string{"Retry-After": "1"}
	switch {
	case errors.As(err, &refused):
		return refused.kind, problemDetail{text: refused.detail, faults: refused.faults, header: refused.header}
	case errors.As(err, &invalid):
		return problemInvalid, problemDetail{faults: faultsOf(invalid)}
	case errors.As(err, &stale):
		return problemStale, problemDetail{text: "the stored record is at revision " + fmt.Sprint(stale.Current.Revision), stored: &stale.Current}
	case errors.As(err, &clash):
		return problemConflict, problemDetail{text: clash.Detail, faults: []fault{{pointer: "/" + clash.Field, code: "conflict", detail: clash.Detail, fix: clash.Fix}}}
	case errors.Is(err, catalog.ErrKeyUsed):
		return problemRunning, problemDetail{text: "a request with this Idempotency-Key is being carried out", header: again}
	case errors.Is(err, catalog.ErrConflict):
		return problemConflict, problemDetail{text: "the state of a stored record forbids the change"}
	case errors.Is(err, catalog.ErrNotFound):
		return problemNotFound, problemDetail{text: "no record has this id or slug"}
	case errors.Is(err, catalog.ErrOutcomeUnknown):
		return problemOutcome, problemDetail{text: "repeat the request with the same Idempotency-Key; without one read the record first", header: again}
	case errors.Is(err, catalog.ErrUnavailable), errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		return problemUnavailable, problemDetail{text: "repeat the request in a moment", header: again}
	case errors.As(err, &routed) && routed.Code == http.StatusNotFound:
		return problemNotFound, problemDetail{text: "no route has this path"}
	case errors.As(err, &routed) && routed.Code == http.StatusMethodNotAllowed:
		return problemMethod, problemDetail{text: "the header Allow lists the methods of this path"}
	case errors.As(err, &routed) && routed.Code == http.StatusBadRequest:
		return problemParameter, problemDetail{text: "a parameter or header cannot be read"}
	}
	return problemInternal, problemDetail{}
}

// handleError answers with the problem of an error, and logs what a client must not see.
func (s *Server) handleError(err error, c echo.Context) {
	ctx := c.Request().Context()
	kind, detail := problemOf(err)
	if kind.status >= http.StatusInternalServerError {
		s.opts.Log.ErrorContext(ctx, kind.code, "request_id", callOf(ctx).id, "cause", err.Error())
	}
	writeProblem(c.Response(), callOf(ctx).id, kind, detail)
}

// maxFaults is the number of faults in one problem.
const maxFaults = 100

// problemBodyOf is a problem as RFC 9457 has it.
func problemBodyOf(requestID string, kind *problemKind, d problemDetail) Problem {
	body := Problem{Type: "/problems/" + kind.code, Title: kind.title, Status: int64(kind.status), Detail: d.text, Instance: "urn:request:" + requestID}
	switch {
	case body.Detail != "":
	case len(d.faults) == 1:
		body.Detail = "1 thing needs a change"
	case len(d.faults) > 1:
		body.Detail = fmt.Sprintf("%d things need a change", len(d.faults))
	default:
		body.Detail = kind.meaning
	}
	if n := int64(len(d.faults)); n > 0 {
		body.ErrorCount = &n
		list := make([]Fault, 0, min(len(d.faults), maxFaults))
		for _, f := range d.faults[:min(len(d.faults), maxFaults)] {
			list = append(list, f.wire())
		}
		body.Errors = &list
	}
	if d.stored != nil {
		body.CurrentRevision = &d.stored.Revision
		body.UpdatedBy = &d.stored.UpdatedBy
		updated := timeText(d.stored.Updated)
		body.UpdateTime = &updated
	}
	return body
}

// writeProblem writes a problem as the whole answer.
func writeProblem(w http.ResponseWriter, requestID string, kind *problemKind, d problemDetail) {
	text, err := json.Marshal(problemBodyOf(requestID, kind, d))
	if err != nil { // it holds texts and numbers only
		panic(err)
	}
	for name, value := range d.header {
		w.Header().Set(name, value)
	}
	w.Header().Set("Content-Type", "application/problem+json")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(kind.status)
	_, _ = w.Write(append(text, '\n')) // into the buffer of ServeHTTP
}

// page explains the kind to people.
func (k *problemKind) page() string {
	return strings.Join([]string{fmt.Sprintf("%s (%d)", k.title, k.status), "", "Meaning: " + k.meaning, "Cause:   " + k.cause, "Cure:    " + k.cure, ""}, "\n")
}
