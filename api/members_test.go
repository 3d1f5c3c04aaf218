package api_test

import (
	"context"
	"crypto/rand"
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/getkin/kin-openapi/openapi3"

	"sabinbook/api"
	"sabinbook/internal/access"
	"sabinbook/internal/catalog"
	"sabinbook/store/storetest"
)

// newToken stores a token and returns its text.
func (s *service) newToken(token access.Token) string {
	s.t.Helper()
	secret, err := access.NewSecret(rand.Reader)
	if err != nil {
		s.t.Fatal(err)
	}
	if _, err := s.db.AddToken(context.Background(), keeper, token, secret); err != nil {
		s.t.Fatal(err)
	}
	return secret.Reveal()
}

// scopeSets are all sets of scopes, the empty one among them, which narrows nothing.
func scopeSets() [][]access.Scope {
	sets := [][]access.Scope{nil}
	for _, scope := range access.Scopes {
		for _, set := range slices.Clone(sets) {
			sets = append(sets, append(slices.Clone(set), scope))
		}
	}
	return sets
}

// knock sends a request that no handler would do anything with: without body and precondition.
// What it is answered tells whether the door opened.
func (s *service) knock(method, path string, token string) (status int, code string) {
	s.t.Helper()
	var header []string
	if token != "" {
		header = []string{"Authorization", token}
	}
	r := s.do(method, path, nil, header...)
	if r.status == http.StatusUnauthorized || r.status == http.StatusForbidden {
		if !strings.HasPrefix(r.header.Get("WWW-Authenticate"), `Bearer realm="sabinbook"`) || r.value(s.t, "errors", 0, "header") != "Authorization" || r.value(s.t, "errors", 0, "fix") == "" {
			s.t.Errorf("%s %s: %v %s", method, path, r.header, r.body)
		}
		return r.status, text(r.value(s.t, "errors", 0, "code"))
	}
	return r.status, ""
}

// TestEveryDoor tries every operation of the contract with every role, each narrowed to every set of
// scopes, and with what is no good token, on a service whose reading is closed and on one where it is
// open. What must come is worked out from x-needs by another rule than the service's: by tables.
func TestEveryDoor(t *testing.T) {
	for _, open := range []bool{false, true} {
		t.Run(fmt.Sprintf("open reading %v", open), func(t *testing.T) { everyDoor(t, open) })
	}
}

func everyDoor(t *testing.T, open bool) {
	db := storetest.SQLite(t)
	s := serve(t, db, func(o *api.Options) { o.Open = open })
	s.token = ""
	rank := map[string]int{"reader": 1, "contributor": 2, "curator": 3, "admin": 4}
	type try struct {
		token  string
		role   string
		scopes []access.Scope
		code   string // of the refusal of a bad token
	}
	tries := []try{{code: "token_missing"}}
	for _, role := range access.Roles {
		for _, scopes := range scopeSets() {
			tries = append(tries, try{token: "Bearer " + s.newToken(access.Token{Member: "ada", Role: role, Scopes: scopes}), role: string(role), scopes: scopes})
		}
		past, good := today.Add(-time.Millisecond), s.newToken(access.Token{Member: "ada", Role: role})
		last := map[bool]string{true: "b", false: "a"}[strings.HasSuffix(good, "a")]
		revoked := access.Token{Member: "ada", Role: role}
		tries = append(tries, try{token: "Bearer " + s.newToken(access.Token{Member: "ada", Role: role, Expires: &past}), code: "token_expired"},
			try{token: "Bearer " + s.revoked(revoked), code: "token_revoked"},
			try{token: "Bearer " + good[:len(good)-1] + last, code: "token_mistyped"},
			try{token: "Bearer " + good[:len(good)-1], code: "token_mistyped"},
			try{token: "Basic " + good, code: "not_bearer"},
			try{token: "bearer  " + good, role: string(role)})
	}
	stranger, err := access.NewSecret(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	tries = append(tries, try{token: "Bearer " + stranger.Reveal(), code: "token_unknown"}, try{token: "Bearer letmein", code: "not_a_token"}, try{token: "Bearer", code: "not_a_token"})

	knocks := 0
	for _, path := range slices.Sorted(maps.Keys(s.doc.Paths.Map())) {
		for method, op := range s.doc.Paths.Value(path).Operations() {
			needs := op.Extensions["x-needs"].(map[string]any)
			role, scope := text(needs["role"]), access.Scope(text(needs["scope"]))
			at := strings.NewReplacer("{id}", "nothing", "{comment}", "nothing", "{link}", "nothing", "{secret}", "nothing", "{code}", "invalid-body").Replace(path)
			methods := []string{method}
			if method == http.MethodGet {
				methods = append(methods, http.MethodHead)
			}
			for _, method := range methods {
				for _, c := range tries {
					want := c.code
					switch {
					case role == "anyone", open && scope == access.Read && (c.token == "" || c.code == ""):
						want = ""
					case want != "" || role == "any_token":
					case rank[c.role] < rank[role]:
						want = "role_missing"
					case len(c.scopes) > 0 && !slices.Contains(c.scopes, scope):
						want = "scope_missing"
					}
					wanted := http.StatusOK // stands for whatever comes behind the door
					if want != "" {
						wanted = http.StatusUnauthorized
					}
					if strings.HasSuffix(want, "_missing") && want != "token_missing" {
						wanted = http.StatusForbidden
					}
					knocks++
					if method == http.MethodHead { // has no body to tell the code
						r := s.do(method, at, nil, pair("Authorization", c.token)...)
						if refused := r.status == http.StatusUnauthorized || r.status == http.StatusForbidden; refused != (want != "") || refused && r.status != wanted {
							t.Errorf("HEAD %s by %s %v (%s): %d, want %s", path, c.role, c.scopes, c.code, r.status, want)
						}
						continue
					}
					status, code := s.knock(method, at, c.token)
					if code != want || want != "" && status != wanted || status == http.StatusInternalServerError {
						t.Errorf("%s %s by %s %v (%s): %d %s, want %s", method, path, c.role, c.scopes, c.code, status, code, want)
					}
				}
			}
		}
	}
	if knocks < 5000 {
		t.Errorf("only %d knocks", knocks)
	}
	if n := s.revision(); n != 0 {
		t.Errorf("knocking took the catalog to revision %d", n)
	}
	t.Logf("%d knocks", knocks)
}

func pair(name, value string) []string {
	if value == "" {
		return nil
	}
	return []string{name, value}
}

// revoked stores a token, ends it and returns its text.
func (s *service) revoked(token access.Token) string {
	s.t.Helper()
	secret, err := access.NewSecret(rand.Reader)
	if err != nil {
		s.t.Fatal(err)
	}
	stored, err := s.db.AddToken(context.Background(), keeper, token, secret)
	if err != nil {
		s.t.Fatal(err)
	}
	if _, err := s.db.RevokeToken(context.Background(), string(stored.ID)); err != nil {
		s.t.Fatal(err)
	}
	return secret.Reveal()
}

// TestContributorsChangeTheirOwn: on every noun, a contributor changes, deletes and restores what they
// added, also by another token of theirs, and nothing that somebody else added; a curator everything.
func TestContributorsChangeTheirOwn(t *testing.T) {
	storetest.Each(t, func(t *testing.T, db *storetest.Store) {
		s := serve(t, db)
		s.source()
		ada := s.newToken(access.Token{Member: "ada", Role: access.Contributor})
		adaToo := s.newToken(access.Token{Member: "ada", Role: access.Contributor, Scopes: []access.Scope{access.Catalog, access.Read}})
		ben := s.newToken(access.Token{Member: "ben", Role: access.Contributor})
		cid := s.newToken(access.Token{Member: "cid", Role: access.Curator})
		for _, g := range goods {
			s.token = ada
			made := s.must(http.StatusCreated, s.send(http.MethodPost, g.path, g.body))
			at := g.item + text(made.value(t, "id"))
			if made.value(t, "created_by") != "ada" || made.value(t, "updated_by") != "ada" {
				t.Errorf("%s: %s", at, made.body)
			}
			refused := func() {
				t.Helper()
				s.token = ben
				for _, r := range []reply{
					s.send(http.MethodPatch, at, g.change, "If-Match", "*"),
					s.send(http.MethodPut, at, g.body, "If-Match", "*"),
					s.do(http.MethodDelete, at, nil, "If-Match", "*"),
					s.do(http.MethodPost, at+"/restore", nil),
				} {
					if r.status == http.StatusNotFound {
						continue // deleted records are found by restore alone
					}
					s.must(http.StatusForbidden, r)
					if r.value(t, "errors", 0, "code") != "not_your_record" || !strings.Contains(string(r.body), "ada") {
						t.Errorf("%s", r.body)
					}
				}
			}
			refused()
			s.token = adaToo
			s.must(http.StatusOK, s.send(http.MethodPatch, at, g.change, "If-Match", "*"))
			s.must(http.StatusNoContent, s.do(http.MethodDelete, at, nil, "If-Match", "*"))
			refused()
			s.token = ada
			s.must(http.StatusOK, s.do(http.MethodPost, at+"/restore", nil))
			s.token = cid
			r := s.must(http.StatusOK, s.send(http.MethodPatch, at, g.change, "If-Match", "*"))
			if r.value(t, "created_by") != "ada" || r.value(t, "updated_by") != "cid" {
				t.Errorf("%s: %s", at, r.body)
			}
			refused()
			s.token = ada // it is still theirs
			s.must(http.StatusOK, s.send(http.MethodPut, at, g.body, "If-Match", "*"))
		}
		s.token = ben // prices are added by anybody who may add
		s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/offers/quayside-slab/prices", priceBody))
	})
}

// TestCuratorsSayWhichTestIsUsed: a contributor adds tests and changes their own, but leaves them used as they
// are; a curator marks them with a reason.
func TestCuratorsSayWhichTestIsUsed(t *testing.T) {
	s := serve(t, storetest.SQLite(t))
	s.source()
	s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/fills", fillBody))
	ada := s.newToken(access.Token{Member: "ada", Role: access.Contributor})
	cid := s.newToken(access.Token{Member: "cid", Role: access.Curator})
	refused := func(at string, r reply) {
		t.Helper()
		s.must(http.StatusForbidden, r)
		if r.value(t, "errors", 0, "pointer") != at || r.value(t, "errors", 0, "code") != "curators_decide" {
			t.Errorf("%s", r.body)
		}
	}
	const path, aside, best = "/v1/fills/quay-slab/absorption-tests", `{"use":"set_aside","use_note":"the mounting is not told"}`, `{"use":"preferred","use_note":"seen whole"}`
	s.token = ada
	for _, mark := range []string{aside, best} {
		refused("/use", s.send(http.MethodPost, path, merged(t, testBody, mark)))
		refused("/items/0/absorption_test/use", s.send(http.MethodPost, "/v1/batches", `{"items":[{"fill_id":"quay-slab","absorption_test":`+merged(t, testBody, mark)+`}]}`))
	}
	made := s.must(http.StatusCreated, s.send(http.MethodPost, path, merged(t, testBody, `{"use":"normal"}`)))
	at := "/v1/absorption-tests/" + text(made.value(t, "id"))
	refused("/use", s.send(http.MethodPatch, at, aside, "If-Match", "*"))
	refused("/use", s.send(http.MethodPut, at, merged(t, testBody, best), "If-Match", "*"))
	s.token = cid
	if r := s.must(http.StatusOK, s.send(http.MethodPatch, at, aside, "If-Match", "*")); r.value(t, "use") != "set_aside" || r.value(t, "use_note") != "the mounting is not told" {
		t.Errorf("%s", r.body)
	}
	s.token = ada
	refused("/use", s.send(http.MethodPatch, at, `{"use":"normal","use_note":null}`, "If-Match", "*"))
	refused("/use", s.send(http.MethodPatch, at, `{"use_note":"no idea"}`, "If-Match", "*"))
	refused("/use", s.send(http.MethodPut, at, testBody, "If-Match", "*"))
	s.must(http.StatusOK, s.send(http.MethodPut, at, merged(t, testBody, aside, `{"note":"mine"}`), "If-Match", "*"))
	if r := s.must(http.StatusOK, s.send(http.MethodPatch, at, `{"note":"mine too"}`, "If-Match", "*")); r.value(t, "use") != "set_aside" {
		t.Errorf("%s", r.body)
	}
	if r := s.get(path); r.value(t, "items", 0, "use") != "set_aside" {
		t.Errorf("what is set aside stays listed: %s", r.body)
	}
	s.token = cid
	if r := s.must(http.StatusOK, s.send(http.MethodPut, at, testBody, "If-Match", "*")); r.value(t, "use") != "normal" {
		t.Errorf("%s", r.body)
	}
}

// TestSeedIsNobodys: what the program itself has put in is changed by curators.
func TestSeedIsNobodys(t *testing.T) {
	s := seeded(t, storetest.SQLite(t))
	s.token = s.newToken(access.Token{Member: "ada", Role: access.Contributor})
	s.must(http.StatusForbidden, s.send(http.MethodPatch, "/v1/fills/rock-wool-40", `{"note":"mine"}`, "If-Match", "*"))
}

// TestLifeOfAToken: an admin makes a token, it works, gets another secret, and ends; its secret is in the
// answers that make it and nowhere else.
func TestLifeOfAToken(t *testing.T) {
	storetest.Each(t, func(t *testing.T, db *storetest.Store) {
		s := serve(t, db)
		admin := s.token
		made := s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/tokens", `{"member":"Ada","role":"contributor","scopes":["read","catalog"],"expire_time":"2027-01-01T00:00:00+01:00"}`))
		at, secret := made.header.Get("Location"), text(made.value(t, "secret"))
		if made.value(t, "expire_time") != "2026-12-31T23:00:00.000Z" || made.value(t, "created_by") != keeper || !strings.HasSuffix(secret, text(made.value(t, "last_four"))) {
			t.Errorf("%s", made.body)
		}
		works := func(token string, status int) {
			t.Helper()
			s.token = token
			s.must(status, s.get("/v1/fills"))
			s.token = admin
		}
		works(secret, http.StatusOK)
		rotated := s.must(http.StatusOK, s.do(http.MethodPost, at+"/rotate", nil))
		next := text(rotated.value(t, "secret"))
		works(secret, http.StatusUnauthorized)
		works(next, http.StatusOK)
		read, list := s.must(http.StatusOK, s.get(at)), s.must(http.StatusOK, s.get("/v1/tokens?member=Ada&include=total_count"))
		if list.value(t, "total_count") != 1.0 || list.value(t, "items", 0, "member") != "Ada" || read.value(t, "secret") != nil {
			t.Errorf("%s", list.body)
		}
		for _, r := range []reply{read, list} {
			for _, word := range []string{secret, next, secret[6:38], next[6:38], "hash"} {
				if strings.Contains(string(r.body), word) {
					t.Errorf("an answer tells %s: %s", word, r.body)
				}
			}
		}
		ended := s.must(http.StatusNoContent, s.do(http.MethodDelete, at, nil))
		s.must(http.StatusNoContent, s.do(http.MethodDelete, at, nil)) // twice is once
		works(next, http.StatusUnauthorized)
		s.must(http.StatusConflict, s.do(http.MethodPost, at+"/rotate", nil))
		if s.get(at).value(t, "revoke_time") == nil {
			t.Error("the token does not tell that it was revoked")
		}
		for _, r := range []reply{made, rotated, read, list, ended} {
			if r.header.Get("Cache-Control") != "no-store" {
				t.Errorf("Cache-Control %q of %s", r.header.Get("Cache-Control"), r.body)
			}
		}
		for _, r := range []reply{s.get("/v1/tokens/ada"), s.do(http.MethodDelete, "/v1/tokens/token_00000000000000000000000000", nil), s.do(http.MethodPost, "/v1/tokens/x/rotate", nil)} {
			s.must(http.StatusNotFound, r)
		}
	})
}

// TestANarrowTokenWidensNothing: an admin's token that is narrowed neither makes a token for more nor
// learns the new secret of one.
func TestANarrowTokenWidensNothing(t *testing.T) {
	s := serve(t, storetest.SQLite(t))
	wide := text(s.get("/v1/tokens").value(t, "items", 0, "id"))
	s.token = s.newToken(access.Token{Member: "ada", Role: access.Admin, Scopes: []access.Scope{access.Tokens, access.Read}})
	for _, r := range []reply{
		s.send(http.MethodPost, "/v1/tokens", `{"member":"ada","role":"admin"}`),
		s.send(http.MethodPost, "/v1/tokens", `{"member":"ada","role":"admin","scopes":["tokens","catalog"]}`),
		s.do(http.MethodPost, "/v1/tokens/"+wide+"/rotate", nil),
	} {
		s.must(http.StatusForbidden, r)
		if r.value(t, "errors", 0, "code") != "more_than_yours" {
			t.Errorf("%s", r.body)
		}
	}
	s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/tokens", `{"member":"ben","role":"reader","scopes":["read"]}`))
	s.token = keeperSecret.Reveal()
	s.must(http.StatusOK, s.get("/v1/fills"))
}

// lockedOut is a store that cannot look up tokens.
type lockedOut struct{ api.Store }

func (lockedOut) TokenByHash(context.Context, string) (access.Token, error) {
	return access.Token{}, fmt.Errorf("store: %w", catalog.ErrUnavailable)
}

// TestNobodyIsTurnedAwayForTheStore: while tokens cannot be looked up nobody hears that theirs is bad.
func TestNobodyIsTurnedAwayForTheStore(t *testing.T) {
	handler, err := api.New(lockedOut{}, api.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{"/v1/fills", "/v1/tokens"} {
		w, req := httptest.NewRecorder(), httptest.NewRequest(http.MethodGet, path, nil)
		req.Header.Set("Authorization", "Bearer "+keeperSecret.Reveal())
		handler.ServeHTTP(w, req)
		if w.Code != http.StatusServiceUnavailable || w.Header().Get("Retry-After") == "" {
			t.Errorf("%s: %d %v", path, w.Code, w.Header())
		}
	}
}

// TestTokensLeaveTheCatalogAlone: making and ending them is no change of the catalog.
func TestTokensLeaveTheCatalogAlone(t *testing.T) {
	s := serve(t, storetest.SQLite(t))
	before := s.revision()
	s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/tokens", `{"member":"Ada","role":"reader"}`))
	if after := s.revision(); after != before {
		t.Errorf("revision %d, then %d", before, after)
	}
}

// TestOpenReadingMayBeCached: what all may read, caches on the way may keep for a minute; what a
// member is answered is theirs.
func TestOpenReadingMayBeCached(t *testing.T) {
	s := serve(t, storetest.SQLite(t), func(o *api.Options) { o.Open = true })
	if got := s.get("/v1/fills").header.Get("Cache-Control"); got != "private, no-cache" {
		t.Errorf("with a token: %q", got)
	}
	s.token = ""
	for path, want := range map[string]string{"/v1/fills": "public, max-age=60", "/readyz": "private, no-cache", "/v1/tokens": "no-store", "/v1/fills/none": "no-store"} {
		if got := s.get(path).header.Get("Cache-Control"); got != want {
			t.Errorf("%s: %q, want %q", path, got, want)
		}
	}
	if got := s.send(http.MethodPost, "/v1/rankings", question).header.Get("Cache-Control"); got != "private, no-cache" {
		t.Errorf("a question: %q", got)
	}
}

// TestNoTokenInTheLog: wherever a client puts a token, and whatever is logged, it is not there.
func TestNoTokenInTheLog(t *testing.T) {
	secret := keeperSecret.Reveal()
	for name, db := range map[string]failing{"panic": {}, "error": {err: fmt.Errorf("store: fill %s: broken", secret)}} {
		s, log, end := logged(t, db)
		s.get("/v1/fills/x")
		s.get("/v1/fills/"+secret, "Request-Id", secret)
		s.get("/v1/fills/"+strings.ToUpper(secret), "Authorization", "Bearer "+secret[:40])
		s.get("/v1/fills?"+secret+"="+secret, "Referer", secret, "User-Agent", secret)
		s.send(http.MethodPost, "/v1/sources", `{"slug":"`+secret+`"}`)
		s.do("BREW", "/v1/"+secret, nil)
		end()
		if strings.Contains(strings.ToLower(log.String()), secret[6:30]) {
			t.Errorf("%s: %s", name, log)
		}
		if n := strings.Count(log.String(), `"msg":"request"`); n != 6 || !strings.Contains(log.String(), `"member":"`+keeper+`"`) {
			t.Errorf("%s: %d requests, %s", name, n, log)
		}
	}
}

// TestNeeds: each operation says what it needs, and its security says the same to programs that know
// OpenAPI alone. Only the documents of the service itself, and share links, ask for nothing, and nothing that writes
// needs less than a contributor.
func TestNeeds(t *testing.T) {
	doc, err := contractDoc()
	if err != nil {
		t.Fatal(err)
	}
	for path, item := range doc.Paths.Map() {
		for method, op := range item.Operations() {
			needs, _ := op.Extensions["x-needs"].(map[string]any)
			need := access.Need{Role: access.Role(text(needs["role"])), Scope: access.Scope(text(needs["scope"]))}
			// A share link lets in whoever has it.
			service, question := slices.Contains(op.Tags, "service") || path == "/v1/shared/{secret}", slices.Contains(op.Tags, "questions")
			want := map[bool]int{true: 0, false: 1}[service]
			switch {
			case path == "/v1/tokens/self":
				if need.Role != access.AnyToken || len(needs) != 1 || op.Security == nil || len(*op.Security) != 1 || op.Responses.Value("401") == nil || op.Responses.Value("403") != nil {
					t.Errorf("%s %s needs %v", method, path, needs)
				}
				continue
			case service && (need.Role != access.Anyone || len(needs) != 1), !service && !need.Known():
				t.Errorf("%s %s needs %v", method, path, needs)
			case op.Security == nil && (need.Scope != access.Read || len(doc.Security) != 2), op.Security != nil && len(*op.Security) != want:
				t.Errorf("%s %s: needs %v, but its security is %v", method, path, needs, op.Security)
			case method != http.MethodGet && !service && !question && !need.Role.Holds(access.Contributor):
				t.Errorf("%s %s writes and needs only %v", method, path, needs)
			case strings.HasPrefix(path, "/v1/tokens") != (need == access.Need{Role: access.Admin, Scope: access.Tokens}):
				t.Errorf("%s %s needs %v", method, path, needs)
			}
			for _, status := range []string{"401", "403"} {
				if has := op.Responses.Value(status) != nil; has == service {
					t.Errorf("%s %s: describes %s: %v", method, path, status, has)
				}
			}
		}
	}
}

// TestContractWithoutNeedsIsRefused: an operation that was added without x-needs keeps the service
// from starting.
func TestContractWithoutNeedsIsRefused(t *testing.T) {
	for _, needs := range []any{nil, map[string]any{}, map[string]any{"role": "admin"}, map[string]any{"role": "boss", "scope": "read"}, "admin"} {
		op := &openapi3.Operation{OperationID: "x", Extensions: map[string]any{"x-needs": needs}}
		if err := api.NeedsError(op); err == nil {
			t.Errorf("%v is let pass", needs)
		}
	}
}

// Whoever holds a good token may ask what it is, whatever it is narrowed to; where reading is open it takes a
// token all the same, and the answer is kept by nobody.
func TestATokenTellsWhatItIs(t *testing.T) {
	storetest.Each(t, func(t *testing.T, db *storetest.Store) {
		s := serve(t, db, func(o *api.Options) { o.Open = true })
		end := today.Add(time.Hour)
		narrow := s.newToken(access.Token{Member: "ada", Role: access.Contributor, Scopes: []access.Scope{access.Prices}, Expires: &end})
		s.token = ""
		r := s.must(http.StatusOK, s.get("/v1/tokens/self", "Authorization", "Bearer "+narrow))
		if r.value(t, "member") != "ada" || r.value(t, "role") != "contributor" || r.value(t, "scopes", 0) != "prices" || r.value(t, "scopes", 1) != nil || r.value(t, "secret") != nil ||
			r.value(t, "expire_time") != end.UTC().Format("2006-01-02T15:04:05.000Z") || r.value(t, "last_four") != narrow[len(narrow)-4:] || r.header.Get("Cache-Control") != "no-store" {
			t.Errorf("%v %s", r.header, r.body)
		}
		s.must(http.StatusUnauthorized, s.get("/v1/tokens/self"))
	})
}

// Browsers are told to stay with TLS only where a proxy says that it has it (RFC 6797 section 7.2 forbids the
// header over plain HTTP).
func TestStrictTransportSecurity(t *testing.T) {
	for _, proxied := range []bool{false, true} {
		s := serve(t, storetest.SQLite(t), func(o *api.Options) { o.Proxied = proxied })
		for _, path := range []string{"/v1/fills", "/healthz", "/nowhere"} {
			if got := s.get(path).header.Get("Strict-Transport-Security"); got != map[bool]string{true: "max-age=31536000"}[proxied] {
				t.Errorf("%s, proxied %v: %q", path, proxied, got)
			}
		}
	}
}

// An answer about a stored room names the source of the room; one about a room in the question has none to
// name. What handling takes rests on the figures behind the mass as well.
func TestAnswersNameTheSourcesOfStoredRecords(t *testing.T) {
	s := stocked(t)
	s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/sources", scalesBody))
	r := s.must(http.StatusOK, s.send(http.MethodPost, "/v1/room-estimates", `{"stored_room":"loft"}`))
	if r.value(t, "sources", 0, "slug") != "notebook" || r.value(t, "sources", 1) != nil {
		t.Errorf("%v", r.value(t, "sources"))
	}
	inputs, _ := json.Marshal(r.value(t, "inputs"))
	if r := s.must(http.StatusOK, s.send(http.MethodPost, "/v1/room-estimates", string(inputs))); r.value(t, "sources") != nil {
		t.Errorf("%v", r.value(t, "sources"))
	}
	for _, c := range []struct{ path, change string }{
		{"/v1/fills/quay-slab", `{"density_kg_per_m3":{"value":40,"evidence":"measured","source_id":"scales"}}`},
	} {
		s.must(http.StatusOK, s.send(http.MethodPatch, c.path, c.change, "If-Match", "*"))
	}
	s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/parts", merged(t, timberBody, `{"slug":"pine-50","name":"Pine 50","section_width_mm":50}`)))
	burden := s.must(http.StatusOK, s.send(http.MethodPost, "/v1/burden-estimates", `{"panel_count":2,"fill":"quay-slab","thickness_mm":50,"fabric":"harbour-knit"}`))
	if slugs := fmt.Sprint(burden.value(t, "sources", 0, "slug"), " ", burden.value(t, "sources", 1, "slug")); slugs != "notebook scales" {
		t.Errorf("burden rests on %s", slugs)
	}
}

const scalesBody = `{"slug":"scales","name":"Scales","citation":"Weighed at Lantern Yard","licence":"facts only","evidence":"measured","invented":true}`
