package api_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"sabinbook/api"
	"sabinbook/internal/access"
	"sabinbook/internal/catalog"
	"sabinbook/store/storetest"
)

// keepBody is a request to keep the first options of the question, with what change says otherwise.
func (s *service) keepBody(change string) string {
	s.t.Helper()
	answer := s.must(http.StatusOK, s.send(http.MethodPost, "/v1/rankings", question))
	var options []string
	for i := range 3 {
		options = append(options, fmt.Sprintf(`{"key":%q,"note":"number %d"}`, text(answer.value(s.t, "options", 2-i, "key")), 2-i)) // from behind
	}
	return merged(s.t, `{"slug":"brass","name":"Brass quintet","question":`+question+`,"options":[`+strings.Join(options, ",")+`]}`, change)
}

// sampleShortlist is a shortlist of the seed with its frozen part, for other stores.
func sampleShortlist(t testing.TB) (catalog.Shortlist, string) {
	t.Helper()
	s := seeded(t, storetest.SQLite(t))
	s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/shortlists", s.keepBody(`{}`)))
	l, frozen, err := s.db.FrozenShortlist(context.Background(), keeper, "brass")
	if err != nil {
		t.Fatal(err)
	}
	return l, frozen
}

func TestLifeOfAShortlist(t *testing.T) {
	storetest.Each(t, func(t *testing.T, db *storetest.Store) {
		s := seeded(t, db)
		before := s.revision()
		body := s.keepBody(`{"note":"for Tuesday"}`)
		if tried := s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/shortlists?dry_run=true", body)); tried.value(t, "id") != nil || tried.value(t, "slug") != "brass" {
			t.Errorf("%s", tried.body)
		}
		s.must(http.StatusNotFound, s.get("/v1/shortlists/brass"))
		made := s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/shortlists", body))
		id := text(made.value(t, "id"))
		at := "/v1/shortlists/" + id
		if made.header.Get("Location") != at || made.header.Get("ETag") != `"`+id+`.1"` || made.value(t, "visibility") != "group" || made.value(t, "status") != "open" || made.value(t, "created_by") != keeper {
			t.Errorf("%v %s", made.header, made.body)
		}
		answer := s.send(http.MethodPost, "/v1/rankings", question)
		for i := range 3 { // in the order of the answer, whatever that of the request
			if key := answer.value(t, "options", i, "key"); made.value(t, "option_keys", i) != key || made.value(t, "option_notes", i, "key") != key || made.value(t, "option_notes", i, "note") != fmt.Sprint("number ", i) {
				t.Errorf("option %d: %s", i, made.body)
			}
		}
		for _, ref := range []string{id, "brass"} {
			if r := s.must(http.StatusOK, s.get("/v1/shortlists/"+ref)); string(r.body) != string(made.body) {
				t.Errorf("%s reads %s", ref, r.body)
			}
		}
		s.must(http.StatusNotModified, s.get(at, "If-None-Match", made.header.Get("ETag")))
		if clash := s.must(http.StatusConflict, s.send(http.MethodPost, "/v1/shortlists", body)); !strings.Contains(string(clash.body), "brass") {
			t.Errorf("%s", clash.body)
		}

		s.must(http.StatusPreconditionRequired, s.send(http.MethodPatch, at, `{"status":"decided"}`))
		change := fmt.Sprintf(`{"slug":"quintet","status":"decided","note":null,"option_notes":[{"key":%q,"note":"this one"}]}`, text(made.value(t, "option_keys", 1)))
		patched := s.must(http.StatusOK, s.send(http.MethodPatch, at, change, "If-Match", made.header.Get("ETag")))
		if patched.value(t, "revision") != 2.0 || patched.value(t, "note") != nil || patched.value(t, "status") != "decided" || patched.value(t, "option_notes", 0, "note") != "this one" || patched.value(t, "option_notes", 1) != nil ||
			patched.value(t, "frozen_digest") != made.value(t, "frozen_digest") {
			t.Errorf("%s", patched.body)
		}
		if stale := s.must(http.StatusPreconditionFailed, s.send(http.MethodPatch, at, change, "If-Match", made.header.Get("ETag"))); stale.value(t, "current_revision") != 2.0 {
			t.Errorf("%s", stale.body)
		}
		if old := s.must(http.StatusOK, s.get("/v1/shortlists/brass")); old.header.Get("Content-Location") != at {
			t.Errorf("%v", old.header)
		}

		s.must(http.StatusNoContent, s.do(http.MethodDelete, at, nil, "If-Match", "*"))
		for _, path := range []string{at, at + "/document", at + "/votes", at + "/comments"} {
			s.must(http.StatusNotFound, s.get(path))
		}
		if back := s.must(http.StatusOK, s.do(http.MethodPost, at+"/restore", nil)); back.value(t, "revision") != 4.0 {
			t.Errorf("%s", back.body)
		}
		list := s.must(http.StatusOK, s.get("/v1/shortlists?include=total_count&status=decided&q=QUINTET&created_by="+strings.ReplaceAll(keeper, " ", "%20")))
		if list.value(t, "total_count") != 1.0 || list.value(t, "items", 0, "slug") != "quintet" {
			t.Errorf("%s", list.body)
		}
		if lines := s.must(http.StatusOK, s.get("/v1/shortlists?format=csv&fields=slug,status,option_keys")); !strings.HasPrefix(string(lines.body), "slug,status,option_keys\r\nquintet,decided,") {
			t.Errorf("%s", lines.body)
		}
		s.must(http.StatusOK, s.get("/v1/shortlists.ndjson"))
		if after := s.revision(); after != before {
			t.Errorf("a shortlist took the catalog from revision %d to %d", before, after)
		}
	})
}

// The document has its digest, name and tag, tells what the record says now, and proves itself.
func TestDocumentOfAShortlist(t *testing.T) {
	storetest.Each(t, func(t *testing.T, db *storetest.Store) {
		s := seeded(t, db)
		made := s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/shortlists", s.keepBody(`{}`)))
		at := "/v1/shortlists/" + text(made.value(t, "id"))
		first := s.must(http.StatusOK, s.get("/v1/shortlists/brass/document", "Accept-Encoding", "gzip"))
		sum := sha256.Sum256(first.body)
		if first.header.Get("Repr-Digest") != "sha-256=:"+base64.StdEncoding.EncodeToString(sum[:])+":" || first.header.Get("Content-Disposition") != `attachment; filename="brass.json"` || first.header.Get("Content-Encoding") != "" {
			t.Errorf("%v", first.header)
		}
		if first.value(t, "about", "id") != made.value(t, "id") || first.value(t, "about", "kept_by") != keeper || first.value(t, "about", "kept_time") != made.value(t, "create_time") || first.value(t, "option_notes", 2, "note") != "number 2" {
			t.Errorf("%.800s", first.body)
		}
		s.must(http.StatusNotModified, s.get(at+"/document", "If-None-Match", first.header.Get("ETag")))
		s.must(http.StatusOK, s.send(http.MethodPatch, at, `{"slug":"quintet","status":"built"}`, "If-Match", "*"))
		second := s.must(http.StatusOK, s.get("/v1/shortlists/brass/document", "If-None-Match", first.header.Get("ETag")))
		if second.header.Get("Content-Location") != at+"/document" || second.value(t, "about", "status") != "built" || second.header.Get("Content-Disposition") != `attachment; filename="quintet.json"` {
			t.Errorf("%v", second.header)
		}
		for _, member := range []string{"question", "answer", "catalog", "kept_from", "program_version", "model_version"} {
			a, _ := json.Marshal(first.value(t, member))
			b, _ := json.Marshal(second.value(t, member))
			if !bytes.Equal(a, b) || len(a) < 3 {
				t.Errorf("%s has changed", member)
			}
		}
		empty := serve(t, storetest.SQLite(t)) // another machine, with nothing in its catalog
		for _, document := range [][]byte{first.body, second.body} {
			verdict := empty.must(http.StatusOK, empty.send(http.MethodPost, "/v1/shortlists/verify", string(document)))
			if verdict.value(t, "verdict") != "equal" {
				t.Errorf("%s", verdict.body)
			}
		}
	})
}

// shortlistBodies are good bodies of the operations on one shortlist.
var shortlistBodies = map[string]string{"patchShortlist": `{"status":"decided"}`, "createComment": `{"text":"I was here"}`, "putVote": `{}`, "createShareLink": `{}`, "putOutcome": `{"key":"?","panels_count":1,"built_date":"2026-11-02"}`}

// TestAPrivateShortlistIsNotThereForOthers tries every route of a shortlist with every role on a private
// shortlist of somebody else and on none: status and body are the same, but for the name of the request.
func TestAPrivateShortlistIsNotThereForOthers(t *testing.T) {
	for _, open := range []bool{false, true} {
		s := serve(t, storetest.SQLite(t), func(o *api.Options) { o.Open = open })
		sample, frozen := sampleShortlist(t)
		sample.Slug, sample.Visibility = "secret", catalog.Private
		hidden, err := s.db.AddShortlist(context.Background(), "ada", sample, frozen)
		if err != nil {
			t.Fatal(err)
		}
		ada := s.newToken(access.Token{Member: "ada", Role: access.Contributor})
		tried := 0
		for _, member := range []string{"", "ben"} {
			roles := access.Roles
			if member == "" {
				roles = roles[:1]
			}
			for _, role := range roles {
				s.token = ""
				if member != "" {
					s.token = s.newToken(access.Token{Member: member, Role: role})
				}
				for _, path := range slices.Sorted(maps.Keys(s.doc.Paths.Map())) {
					if !strings.HasPrefix(path, "/v1/shortlists/{id}") {
						continue
					}
					for method, op := range s.doc.Paths.Value(path).Operations() {
						body, known := shortlistBodies[op.OperationID]
						if op.RequestBody != nil && !known {
							t.Fatalf("no body for %s", op.OperationID)
						}
						ask := func(ref string) reply {
							filled := strings.NewReplacer("{id}", ref, "{comment}", "comment_00000000000000000000000000", "{link}", "share_00000000000000000000000000").Replace(path)
							header := []string{"If-Match", `"` + string(hidden.ID) + `.9"`, "Request-Id", "the-same-one"}
							if body != "" {
								return s.send(method, filled, body, header...)
							}
							return s.do(method, filled, nil, header...)
						}
						none := ask("short_00000000000000000000000000")
						if none.status < 400 {
							t.Errorf("%s %s of nothing: %d", method, path, none.status)
						}
						for _, ref := range []string{string(hidden.ID), "secret"} {
							tried++
							if r := ask(ref); r.status != none.status || string(r.body) != string(none.body) {
								t.Errorf("%s %s by %q (%s): %d %s, of nothing %d %s", method, path, member, role, r.status, r.body, none.status, none.body)
							}
						}
					}
				}
				if member != "" || open {
					for _, query := range []string{"", "?created_by=ada", "?visibility=private", "?q=brass", "?sort=-create_time"} {
						list := s.must(http.StatusOK, s.get("/v1/shortlists"+query))
						counted := s.must(http.StatusOK, s.get("/v1/shortlists?include=total_count&"+strings.TrimPrefix(query, "?")))
						if list.value(t, "items", 0) != nil || counted.value(t, "total_count") != 0.0 {
							t.Errorf("%q sees %s", member, counted.body)
						}
					}
				}
			}
		}
		if tried < 100 {
			t.Errorf("only %d tries", tried)
		}
		// A token of hers that may only add prices reads what no token reads.
		s.token = s.newToken(access.Token{Member: "ada", Role: access.Contributor, Scopes: []access.Scope{access.Prices}})
		for _, path := range []string{"/secret", "/secret/document", "/secret/comments", "/secret/votes"} {
			s.must(map[bool]int{true: http.StatusNotFound, false: http.StatusForbidden}[open], s.get("/v1/shortlists"+path))
		}
		s.token = ada
		s.must(http.StatusOK, s.get("/v1/shortlists/secret"))
		if now, err := s.db.Shortlist(context.Background(), "ada", "secret"); err != nil || now.Revision != 1 {
			t.Errorf("%+v, %v", now, err)
		}
	}
}

// A contributor changes their own shortlists, a curator those of the group; what is said of one is its
// writer's.
func TestWhoChangesAShortlist(t *testing.T) {
	storetest.Each(t, func(t *testing.T, db *storetest.Store) {
		s := serve(t, db)
		sample, frozen := sampleShortlist(t)
		l, err := db.AddShortlist(context.Background(), "ada", sample, frozen)
		if err != nil {
			t.Fatal(err)
		}
		at := "/v1/shortlists/" + string(l.ID)
		token := map[string]string{}
		for name, role := range map[string]access.Role{"ada": access.Contributor, "ben": access.Contributor, "cid": access.Curator, "dan": access.Reader} {
			token[name] = s.newToken(access.Token{Member: name, Role: role})
		}
		as := func(name string) *service { s.token = token[name]; return s }
		refused := func(r reply) {
			t.Helper()
			if s.must(http.StatusForbidden, r); r.value(t, "errors", 0, "code") != "not_your_record" {
				t.Errorf("%s", r.body)
			}
		}
		refused(as("ben").send(http.MethodPatch, at, `{"status":"built"}`, "If-Match", "*"))
		refused(as("ben").do(http.MethodDelete, at, nil, "If-Match", "*"))
		refused(as("ben").do(http.MethodPost, at+"/restore", nil))
		refused(as("ben").send(http.MethodPost, at+"/share-links", `{}`))
		refused(as("ben").get(at + "/share-links"))
		s.must(http.StatusOK, as("ada").send(http.MethodPatch, at, `{"status":"decided"}`, "If-Match", "*"))
		s.must(http.StatusOK, as("cid").send(http.MethodPatch, at, `{"status":"built"}`, "If-Match", "*"))
		if r := s.must(http.StatusUnprocessableEntity, as("cid").send(http.MethodPatch, at, `{"visibility":"private"}`, "If-Match", "*")); r.value(t, "errors", 0, "pointer") != "/visibility" {
			t.Errorf("%s", r.body)
		}

		bens := text(s.must(http.StatusCreated, as("ben").send(http.MethodPost, at+"/comments", `{"text":"I have a van.\nSaturday?"}`)).value(t, "id"))
		adas := text(s.must(http.StatusCreated, as("ada").send(http.MethodPost, at+"/comments", `{"text":"Yes"}`)).value(t, "id"))
		s.must(http.StatusForbidden, as("dan").send(http.MethodPost, at+"/comments", `{"text":"No"}`))
		list := s.must(http.StatusOK, as("dan").get(at+"/comments?include=total_count"))
		if list.value(t, "total_count") != 2.0 || list.value(t, "items", 0, "text") != "I have a van.\nSaturday?" || list.value(t, "items", 0, "created_by") != "ben" || list.value(t, "items", 1, "id") != adas {
			t.Errorf("%s", list.body)
		}
		refused(as("ben").do(http.MethodDelete, at+"/comments/"+adas, nil))
		s.must(http.StatusNoContent, as("ben").do(http.MethodDelete, at+"/comments/"+bens, nil))
		s.must(http.StatusNotFound, as("ben").do(http.MethodDelete, at+"/comments/"+bens, nil))
		s.must(http.StatusNotFound, as("ben").do(http.MethodDelete, at+"/comments/first", nil))
		s.must(http.StatusNoContent, as("cid").do(http.MethodDelete, at+"/comments/"+adas, nil))

		key := l.Options[1].Key
		for _, b := range []struct{ by, body string }{{"ada", fmt.Sprintf(`{"key":%q}`, l.Options[0].Key)}, {"ada", fmt.Sprintf(`{"key":%q,"note":"after all"}`, key)}, {"ben", fmt.Sprintf(`{"key":%q}`, key)}, {"cid", `{}`}} {
			if r := s.must(http.StatusOK, as(b.by).send(http.MethodPut, at+"/vote", b.body)); r.value(t, "member") != b.by {
				t.Errorf("%s", r.body)
			}
		}
		s.must(http.StatusForbidden, as("dan").send(http.MethodPut, at+"/vote", `{}`))
		votes := s.must(http.StatusOK, as("dan").get(at+"/votes"))
		if votes.value(t, "none_count") != 1.0 || votes.value(t, "options", 0, "votes_count") != 0.0 || votes.value(t, "options", 1, "votes_count") != 2.0 || votes.value(t, "votes", 0, "note") != "after all" || votes.value(t, "votes", 3) != nil {
			t.Errorf("%s", votes.body)
		}
		s.must(http.StatusNoContent, as("ben").do(http.MethodDelete, at+"/vote", nil))
		s.must(http.StatusNotFound, as("ben").do(http.MethodDelete, at+"/vote", nil))
		if votes := s.get(at + "/votes"); votes.value(t, "options", 1, "votes_count") != 1.0 {
			t.Errorf("%s", votes.body)
		}
	})
}

func TestShortlistsThatAreRefused(t *testing.T) {
	s := seeded(t, storetest.SQLite(t))
	s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/shortlists", s.keepBody(`{}`)))
	at := "/v1/shortlists/brass"
	key := text(s.get(at).value(t, "option_keys", 0))
	many := `{"key":"a"}`
	for i := range 50 {
		many += fmt.Sprintf(`,{"key":"a%d"}`, i)
	}
	for _, c := range []struct{ method, path, body, pointer, code string }{
		{http.MethodPost, "/v1/shortlists", s.keepBody(`{"slug":"x","options":[]}`), "/options", "out_of_range"},
		{http.MethodPost, "/v1/shortlists", s.keepBody(`{"slug":"x","options":[` + many + `]}`), "/options", "out_of_range"},
		{http.MethodPost, "/v1/shortlists", s.keepBody(`{"slug":"x","options":[{"key":"felt"}]}`), "/options/0/key", ""},
		{http.MethodPost, "/v1/shortlists", s.keepBody(fmt.Sprintf(`{"slug":"x","options":[{"key":%q},{"key":%q}]}`, key, key)), "/options/1/key", "repeated"},
		{http.MethodPost, "/v1/shortlists", s.keepBody(fmt.Sprintf(`{"slug":"x","options":[{"key":%q,"note":%q}]}`, key, strings.Repeat("n", 2001))), "/options/0/note", "too_long"},
		{http.MethodPost, "/v1/shortlists", s.keepBody(`{"slug":"x","visibility":"mine"}`), "/visibility", "unknown_word"},
		{http.MethodPost, "/v1/shortlists", s.keepBody(`{"slug":"verify"}`), "/slug", "reserved"},
		{http.MethodPost, "/v1/shortlists", s.keepBody(`{"slug":null,"name":"2 + 2"}`), "/slug", "bad_slug"},
		{http.MethodPost, "/v1/shortlists", s.keepBody(`{"slug":"x","name":" "}`), "/name", "required"},
		{http.MethodPost, "/v1/shortlists", s.keepBody(`{"slug":"x","question":` + merged(t, question, `{"panel_count":0}`) + `}`), "/question/panel_count", "out_of_range"},
		{http.MethodPost, "/v1/shortlists", s.keepBody(`{"slug":"x","colour":"red"}`), "/colour", "unknown_member"},
		{http.MethodPatch, at, `{"option_notes":[{"key":"felt","note":"n"}]}`, "/option_notes/0/key", "unknown_option"},
		{http.MethodPatch, at, fmt.Sprintf(`{"option_notes":[{"key":%q,"note":"n"},{"key":%q,"note":"m"}]}`, key, key), "/option_notes/1/key", "repeated"},
		{http.MethodPatch, at, fmt.Sprintf(`{"option_notes":[{"key":%q,"note":""}]}`, key), "/option_notes/0/note", "required"},
		{http.MethodPatch, at, `{"status":"done"}`, "/status", "unknown_word"},
		{http.MethodPatch, at, `{"name":null}`, "/name", "required"},
		{http.MethodPatch, at, `{"frozen_digest":"sha-256:0"}`, "/frozen_digest", "read_only"},
		{http.MethodPost, at + "/comments", `{"text":" "}`, "/text", "required"},
		{http.MethodPost, at + "/comments", `{"text":"` + strings.Repeat("x", 4001) + `"}`, "/text", "too_long"},
		{http.MethodPost, at + "/comments", `{"text":"a\u202eb"}`, "/text", "control_character"},
		{http.MethodPut, at + "/vote", `{"key":"felt"}`, "/key", "unknown_option"},
		{http.MethodPut, at + "/vote", `{"member":"ben"}`, "/member", "read_only"},
		{http.MethodPost, at + "/share-links", `{"expire_time":"tomorrow"}`, "/expire_time", "bad_time"},
		{http.MethodPost, at + "/share-links", `{"expire_time":"2026-11-02T12:00:00Z"}`, "/expire_time", "past"},
		{http.MethodPost, at + "/share-links", `{"expire_time":"2027-01-31T12:00:00.001Z"}`, "/expire_time", "out_of_range"},
	} {
		r := s.send(c.method, c.path, c.body, "If-Match", "*")
		if r.status != http.StatusUnprocessableEntity || r.value(t, "errors", 0, "pointer") != c.pointer || c.code != "" && r.value(t, "errors", 0, "code") != c.code || r.value(t, "errors", 1) != nil || r.value(t, "errors", 0, "fix") == "" {
			t.Errorf("%s %s %.200s: %d %s, want %s %s", c.method, c.path, c.body, r.status, r.body, c.pointer, c.code)
		}
	}
	// All faults at once, those of the question among them.
	r := s.must(http.StatusUnprocessableEntity, s.send(http.MethodPost, "/v1/shortlists", s.keepBody(`{"slug":"Ä","status":"open","question":{"panel_count":0,"colour":"red"},"visibility":"mine"}`)))
	for _, pointer := range []string{`"/slug"`, `"/status"`, `"/question/colour"`, `"/visibility"`} {
		if !strings.Contains(string(r.body), pointer) {
			t.Errorf("no %s in %s", pointer, r.body)
		}
	}
	// A slug is made of the name where none is given.
	if made := s.must(http.StatusCreated, s.send(http.MethodPost, "/v1/shortlists", s.keepBody(`{"slug":null,"name":"4 – Café & Brass!"}`))); made.value(t, "slug") != "caf-brass" {
		t.Errorf("%s", made.body)
	}
}

// shared makes a share link and returns its path.
func (s *service) shared(at, body string) (path, id string) {
	s.t.Helper()
	made := s.must(http.StatusCreated, s.send(http.MethodPost, at+"/share-links", body))
	if made.header.Get("Cache-Control") != "no-store" {
		s.t.Errorf("%v", made.header)
	}
	return text(made.value(s.t, "path")), text(made.value(s.t, "id"))
}

// TestShareLinks: a link shows the document to whoever has it, without a token, until it ends. Ended,
// revoked, altered and guessed links are answered alike, and none of them can change anything.
func TestShareLinks(t *testing.T) {
	storetest.Each(t, func(t *testing.T, db *storetest.Store) {
		now := today
		s := serve(t, db, func(o *api.Options) { o.Now = func() time.Time { return now } })
		sample, frozen := sampleShortlist(t)
		sample.Visibility = catalog.Private
		if _, err := db.AddShortlist(context.Background(), keeper, sample, frozen); err != nil {
			t.Fatal(err)
		}
		at, token := "/v1/shortlists/brass", s.token
		usual, _ := s.shared(at, `{}`)
		short, _ := s.shared(at, `{"expire_time":"2026-11-02T13:01:00+01:00"}`)
		revoked, id := s.shared(at, `{"expire_time":"2027-01-31T12:00:00Z"}`)
		document := s.must(http.StatusOK, s.get(at+"/document"))
		s.token = ""
		for _, path := range []string{usual, short, revoked} {
			r := s.must(http.StatusOK, s.get(path))
			if string(r.body) != string(document.body) || r.header.Get("Cache-Control") != "no-store" || r.header.Get("Repr-Digest") != document.header.Get("Repr-Digest") || r.header.Get("Referrer-Policy") != "no-referrer" {
				t.Errorf("%v %.300s", r.header, r.body)
			}
			s.must(http.StatusNotModified, s.get(path, "If-None-Match", r.header.Get("ETag")))
			s.compareHead(path, http.StatusOK)
		}
		s.token = token
		s.must(http.StatusNoContent, s.do(http.MethodDelete, at+"/share-links/"+id, nil))
		s.must(http.StatusNoContent, s.do(http.MethodDelete, at+"/share-links/"+id, nil)) // twice is once
		s.must(http.StatusNotFound, s.do(http.MethodDelete, at+"/share-links/share_00000000000000000000000000", nil))
		list := s.must(http.StatusOK, s.get(at+"/share-links?include=total_count&sort=create_time"))
		if list.value(t, "total_count") != 3.0 || list.value(t, "items", 2, "revoke_time") == nil || list.value(t, "items", 0, "expire_time") != "2026-11-16T12:00:00.000Z" || strings.Contains(string(list.body), usual[len("/v1/shared/"):][11:30]) {
			t.Errorf("%s", list.body)
		}
		now = now.Add(time.Minute)
		s.token = ""
		nothing := s.must(http.StatusNotFound, s.get("/v1/shared/nothing", "Request-Id", "the-same-one"))
		guess, err := access.NewLink(strings.NewReader("twenty other letters"))
		if err != nil {
			t.Fatal(err)
		}
		bad := []string{short, revoked, "/v1/shared/" + guess.Reveal(), strings.ToUpper(usual[:11]) + usual[11:], usual + "a", usual[:len(usual)-1], "/v1/shared/" + token, "/v1/shared/" + string(sample.ID), "/v1/shared/brass"}
		for i := len("/v1/shared/"); i < len(usual); i++ {
			other := byte('a')
			if usual[i] == 'a' {
				other = 'b'
			}
			bad = append(bad, usual[:i]+string(other)+usual[i+1:])
		}
		for _, path := range bad {
			r := s.get(path, "Request-Id", "the-same-one")
			if r.status != http.StatusNotFound || strings.HasPrefix(path, "/v1/shared/") && string(r.body) != string(nothing.body) {
				t.Errorf("%s: %d %s", path, r.status, r.body)
			}
		}
		for _, method := range []string{http.MethodPost, http.MethodPut, http.MethodPatch, http.MethodDelete} {
			s.must(http.StatusMethodNotAllowed, s.do(method, usual, nil, "If-Match", "*"))
		}
		// The secret of a link is no token, and a token is no link.
		s.must(http.StatusUnauthorized, s.get("/v1/shortlists", "Authorization", "Bearer "+usual[len("/v1/shared/"):]))

		// It shows the shortlist as it is now, and nothing once that is deleted.
		s.token = token
		s.must(http.StatusOK, s.send(http.MethodPatch, at, `{"status":"built"}`, "If-Match", "*"))
		if r := s.must(http.StatusOK, s.get(usual)); r.value(t, "about", "status") != "built" {
			t.Errorf("%.300s", r.body)
		}
		s.must(http.StatusNoContent, s.do(http.MethodDelete, at, nil, "If-Match", "*"))
		s.must(http.StatusNotFound, s.get(usual))
	})
}

// Whoever tries links by the thousand is held up like whoever tries tokens.
func TestLinksAreNotTriedByTheThousand(t *testing.T) {
	s := serve(t, storetest.SQLite(t), func(o *api.Options) { o.PerMinute = 4 })
	s.token = ""
	for i := range 4 {
		if r := s.must(http.StatusNotFound, s.get(fmt.Sprintf("/v1/shared/guess%d", i))); r.header.Get("RateLimit") == "" {
			t.Errorf("%v", r.header)
		}
	}
	s.must(http.StatusTooManyRequests, s.get("/v1/shared/guess"))
	s.must(http.StatusOK, s.get("/healthz"))
}

// TestNoLinkInTheLog: whatever a client does with the secret of a link, it is not in the log.
func TestNoLinkInTheLog(t *testing.T) {
	link, err := access.NewLink(strings.NewReader("twenty letters of it"))
	if err != nil {
		t.Fatal(err)
	}
	secret := link.Reveal()
	for name, db := range map[string]failing{"panic": {}, "error": {err: fmt.Errorf("store: shared %s: broken", secret)}} {
		s, log, end := logged(t, db)
		s.get("/v1/shared/" + secret)
		s.get("/v1/shared/" + strings.TrimPrefix(secret, "sabin"))
		s.get("/v1/shared/"+strings.ToUpper(secret), "Request-Id", secret[:64-16])
		s.get("/v1/shared/%73" + secret[1:])
		s.get("/v1/shared/" + secret + "/x")
		s.do(http.MethodDelete, "/v1/shared/"+secret, nil)
		s.get("/v1/fills/"+secret, "Referer", secret)
		end()
		body := secret[len(access.LinkPrefix) : len(access.LinkPrefix)+24]
		if strings.Contains(strings.ToLower(log.String()), body) {
			t.Errorf("%s: %s", name, log)
		}
		if n := strings.Count(log.String(), `"msg":"request"`); n != 7 {
			t.Errorf("%s: %d requests, %s", name, n, log)
		}
	}
}
