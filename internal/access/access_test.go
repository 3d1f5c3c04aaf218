package access_test

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"sabinbook/internal/access"
	"sabinbook/internal/catalog"
)

var now = time.Date(2026, 11, 2, 12, 0, 0, 0, time.UTC)

func TestRolesHoldThoseBelow(t *testing.T) {
	for i, a := range access.Roles {
		for k, b := range access.Roles {
			if a.Holds(b) != (i >= k) {
				t.Errorf("%s holds %s: %v", a, b, a.Holds(b))
			}
		}
		for _, none := range []access.Role{access.Anyone, "", "keeper"} {
			if none.Holds(a) || a.Holds(none) {
				t.Errorf("%q and %s hold one another", none, a)
			}
		}
	}
}

func TestScopesNarrow(t *testing.T) {
	need := access.Need{Role: access.Contributor, Scope: access.Prices}
	for _, c := range []struct {
		role   access.Role
		scopes []access.Scope
		want   bool
	}{
		{access.Contributor, nil, true},
		{access.Reader, nil, false},
		{access.Admin, nil, true},
		{access.Admin, []access.Scope{access.Read}, false},
		{access.Contributor, []access.Scope{access.Read, access.Prices}, true},
		{access.Reader, []access.Scope{access.Prices}, false},
	} {
		if got := (access.Token{Role: c.role, Scopes: c.scopes}).Meets(need); got != c.want {
			t.Errorf("%s %v: %v", c.role, c.scopes, got)
		}
	}
}

func TestMayChange(t *testing.T) {
	for role, want := range map[access.Role][2]bool{ // own, another's
		access.Reader: {false, false}, access.Contributor: {true, false}, access.Curator: {true, true}, access.Admin: {true, true},
	} {
		token := access.Token{Member: "ada", Role: role}
		if token.MayMark() != want[1] {
			t.Errorf("%s says which test is used: %v", role, token.MayMark())
		}
		if got := [2]bool{token.MayChange("ada"), token.MayChange("ben")}; got != want {
			t.Errorf("%s: %v, want %v", role, got, want)
		}
	}
}

func TestNoTokenGivesMoreThanItHas(t *testing.T) {
	narrow := access.Token{Role: access.Admin, Scopes: []access.Scope{access.Tokens, access.Read}}
	for _, c := range []struct {
		giver, given access.Token
		want         bool
	}{
		{access.Token{Role: access.Admin}, access.Token{Role: access.Admin}, true},
		{access.Token{Role: access.Admin}, narrow, true},
		{narrow, access.Token{Role: access.Admin}, false},
		{narrow, access.Token{Role: access.Reader}, false},
		{narrow, access.Token{Role: access.Reader, Scopes: []access.Scope{access.Read}}, true},
		{narrow, access.Token{Role: access.Curator, Scopes: []access.Scope{access.Read, access.Catalog}}, false},
		{access.Token{Role: access.Curator}, access.Token{Role: access.Admin}, false},
	} {
		if got := c.giver.MayGive(c.given); got != c.want {
			t.Errorf("%+v gives %+v: %v", c.giver, c.given, got)
		}
	}
}

func TestATokenEndsAtItsTime(t *testing.T) {
	token := access.Token{Expires: &now}
	if token.Expired(now.Add(-time.Millisecond)) || !token.Expired(now) || token.Live(now) {
		t.Error("a token ends at another time than its own")
	}
	if (access.Token{Revoked: &now}).Live(now.Add(-time.Hour)) || !(access.Token{}).Live(now) {
		t.Error("a revoked token lives, or one without end does not")
	}
}

func TestValidateNamesAllFaults(t *testing.T) {
	later, past := now.Add(time.Hour), now.Add(-time.Hour)
	for _, c := range []struct {
		token access.Token
		want  string // places and codes
	}{
		{access.Token{Member: "Ada of Lantern Yard", Role: access.Curator, Expires: &later}, ""},
		{access.Token{Member: "ada", Role: access.Contributor, Scopes: []access.Scope{access.Read, access.Prices}}, ""},
		{access.Token{Member: "Seed", Role: access.Reader}, "/member reserved"},
		{access.Token{Member: " ada", Role: access.Reader}, "/member spaces"},
		{access.Token{Member: "ada", Role: access.Anyone}, "/role unknown_word"},
		{access.Token{Member: "ada", Role: access.Curator, Scopes: []access.Scope{access.Tokens, "tea", access.Read, access.Read}, Expires: &past},
			"/scopes/0 beyond_role,/scopes/1 unknown_word,/scopes/3 repeated,/expire_time past"},
	} {
		var got []string
		err := c.token.Validate(now)
		if bad := new(catalog.InvalidError); errors.As(err, &bad) {
			for _, f := range bad.Faults {
				got = append(got, f.Pointer+" "+f.Code)
			}
		}
		if strings.Join(got, ",") != c.want {
			t.Errorf("%+v: %v, want %v", c.token, got, c.want)
		}
	}
	if err := (access.Token{Member: strings.Repeat("a", 81), Role: access.Reader}).Validate(now); err == nil {
		t.Error("a name of 81 characters")
	}
	if !slices.Contains(access.Scopes, access.Tokens) {
		t.Error("no scope of tokens")
	}
}
