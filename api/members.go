package api

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strings"

	"github.com/getkin/kin-openapi/openapi3"

	"sabinbook/internal/access"
	"sabinbook/internal/catalog"
)

// needOf reads what the contract says under x-needs: the least role, and the scope, that an
// operation asks of a token.
func needOf(o *openapi3.Operation) (access.Need, error) {
	var need struct{ Role, Scope string }
	text, err := json.Marshal(o.Extensions["x-needs"])
	if err == nil {
		err = json.Unmarshal(text, &need)
	}
	n := access.Need{Role: access.Role(need.Role), Scope: access.Scope(need.Scope)}
	if err != nil || n.Role != access.Anyone && n.Role != access.AnyToken && !n.Known() {
		return n, fmt.Errorf("api: contract: %s: x-needs names no role and scope", o.OperationID)
	}
	return n, nil
}

// authorize finds out who sends a request and refuses it when its token does not allow the
// operation. It is asked before anything else of the request is read.
func (s *Server) authorize(c *call, r *http.Request) error {
	need := c.op.need
	if need.Scope == access.Tokens || need.Role == access.AnyToken {
		c.answer.header.Set("Cache-Control", "no-store")
	}
	open := s.opts.Open && need.Scope == access.Read
	given := r.Header.Values("Authorization")
	switch {
	case need.Role == access.Anyone:
		return nil
	case len(given) == 0 && open:
		if r.Method == http.MethodGet || r.Method == http.MethodHead {
			c.answer.header.Set("Cache-Control", "public, max-age=60")
		}
		return nil
	case len(given) == 0:
		return needsToken("", "token_missing", "is missing: this needs a token", "send Authorization: Bearer and your token; an admin of this catalog makes one for you")
	}
	token, err := s.tokenOf(r.Context(), given)
	if err != nil {
		return err
	}
	c.token = token
	if open || need.Role == access.AnyToken {
		return nil
	}
	return allows(token, need)
}

// tokenOf is the live token that a request shows.
func (s *Server) tokenOf(ctx context.Context, given []string) (access.Token, error) {
	scheme, text, _ := strings.Cut(given[0], " ")
	if len(given) > 1 || !strings.EqualFold(scheme, "Bearer") {
		return access.Token{}, needsToken("invalid_request", "not_bearer", "must be Bearer and one token", "send the header once, as Authorization: Bearer and your token")
	}
	secret, err := access.ParseSecret(strings.TrimSpace(text))
	switch {
	case errors.Is(err, access.ErrNotAToken):
		return access.Token{}, needsToken("invalid_token", "not_a_token", "is no token of this service", "send the token that an admin of this catalog gave you; it begins with "+access.Prefix)
	case err != nil:
		return access.Token{}, needsToken("invalid_token", "token_mistyped", "the token has a mistake in it", "copy it again, whole, from where it was shown")
	}
	token, err := s.store.TokenByHash(ctx, secret.Hash())
	now := s.opts.Now()
	switch {
	case errors.Is(err, catalog.ErrNotFound):
		return token, needsToken("invalid_token", "token_unknown", "this catalog does not know the token", "see whether it is of another catalog or was given another secret since; an admin makes a new one")
	case err != nil:
		return token, err
	case token.Revoked != nil:
		return token, needsToken("invalid_token", "token_revoked", "the token was revoked at "+timeText(*token.Revoked), "ask an admin for a new one")
	case token.Expired(now):
		return token, needsToken("invalid_token", "token_expired", "the token ended at "+timeText(*token.Expires), "ask an admin for a new one")
	}
	return token, nil
}

// allows refuses what the role or the scopes of a token do not allow.
func allows(token access.Token, need access.Need) error {
	switch {
	case !token.Role.Holds(need.Role):
		return forbidden(need, "role_missing", fmt.Sprintf("needs the role %s, the token has %s", need.Role, token.Role),
			fmt.Sprintf("ask an admin for a token with the role %s, or a member who has one to do it", need.Role))
	case !token.InScope(need.Scope):
		return forbidden(need, "scope_missing", fmt.Sprintf("needs the scope %s, the token is narrowed to %s", need.Scope, joinedScopes(token.Scopes)),
			fmt.Sprintf("ask an admin for a token with the scope %s", need.Scope))
	}
	return nil
}

// own refuses to change a record of another member to those who may change only their own.
func own(ctx context.Context, m catalog.Meta) error {
	c := callOf(ctx)
	if c.token.MayChange(m.CreatedBy) {
		return nil
	}
	return forbidden(c.op.need, "not_your_record", fmt.Sprintf("the record was added by %s; the role %s changes only those of its own", quoted(m.CreatedBy), c.token.Role),
		"ask who added it, or a curator")
}

// mayMark refuses to say which of several tests is used to those who may not. A new test is marked as
// the zero value is.
func mayMark(ctx context.Context, before, after catalog.AbsorptionTest) error {
	c := callOf(ctx)
	if before.Use == after.Use && before.UseNote == after.UseNote || c.token.MayMark() {
		return nil
	}
	fix := "leave use and use_note out"
	if before.Use != catalog.NormalUse {
		fix = "send use and use_note as they are"
	}
	return forbiddenAt(c.op.need, fault{pointer: "/use", code: "curators_decide", detail: fmt.Sprintf("which tests are used is for curators to say; the role %s leaves this one %s", c.token.Role, before.Use.Word()),
		fix: fix + ", or ask a curator"})
}

// mayGive refuses to tell a token's secret to a token that allows less.
func mayGive(ctx context.Context, t access.Token) error {
	c := callOf(ctx)
	if c.token.MayGive(t) {
		return nil
	}
	return forbidden(c.op.need, "more_than_yours", "the token would allow more than yours, which is narrowed to "+joinedScopes(c.token.Scopes),
		"name scopes that yours has, or ask an admin whose token is not narrowed")
}

func joinedScopes(list []access.Scope) string {
	words := make([]string, len(list))
	for i, s := range list {
		words[i] = string(s)
	}
	return strings.Join(words, ", ")
}

// challenge is WWW-Authenticate as RFC 6750 section 3 has it.
func challenge(params ...string) map[string]string {
	return map[string]string{"WWW-Authenticate": strings.Join(append([]string{`Bearer realm="sabinbook"`}, params...), ", ")}
}

func needsToken(kind, code, detail, fix string) error {
	var params []string
	if kind != "" {
		params = append(params, `error="`+kind+`"`)
	}
	return &requestError{kind: problemToken, header: challenge(params...), faults: []fault{{header: "Authorization", code: code, detail: detail, fix: fix}}}
}

func forbidden(need access.Need, code, detail, fix string) error {
	return forbiddenAt(need, fault{header: "Authorization", code: code, detail: detail, fix: fix})
}

func forbiddenAt(need access.Need, f fault) error {
	return &requestError{kind: problemForbidden, header: challenge(`error="insufficient_scope"`, `scope="`+string(need.Scope)+`"`), faults: []fault{f}}
}

// memberOf is the name of the member who sends a request.
func memberOf(ctx context.Context) string { return callOf(ctx).token.Member }
