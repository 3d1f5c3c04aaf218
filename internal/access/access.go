// Package access says who may do what: roles, scopes, and the tokens that carry them. It is
// given time and randomness, and knows neither HTTP nor a database.
//
// A role allows all that the roles below it allow. A scope narrows a token: one that has scopes may do
// what its role allows within them and nothing else. A member is a name that an admin gave; tokens of
// one name belong to one member.
package access

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"sabinbook/internal/catalog"
)

// Role is what a member may do at most.
type Role string

// The roles, each with all that the one above it in this list may do.
const (
	Reader      Role = "reader"      // reads, and asks questions
	Contributor Role = "contributor" // adds records; changes and deletes those of their own
	Curator     Role = "curator"     // changes and deletes all records
	Admin       Role = "admin"       // makes tokens and ends them
)

// Anyone is what an operation needs that asks for no token. No token has it.
const Anyone Role = "anyone"

// AnyToken is what an operation needs that every good token may do, whatever its role and scopes. No token has it.
const AnyToken Role = "any_token"

// Roles lists the roles of tokens from the least to the most.
var Roles = []Role{Reader, Contributor, Curator, Admin}

// Holds reports whether the role allows what other allows. An unknown role allows nothing.
func (r Role) Holds(other Role) bool {
	mine, need := slices.Index(Roles, r), slices.Index(Roles, other)
	return need >= 0 && mine >= need
}

// Scope is a part of what there is to do.
type Scope string

// The scopes.
const (
	Read    Scope = "read"    // reading and questions
	Prices  Scope = "prices"  // adding prices
	Catalog Scope = "catalog" // adding and changing all other records
	Tokens  Scope = "tokens"  // making and ending tokens
)

// Scopes lists all scopes.
var Scopes = []Scope{Read, Prices, Catalog, Tokens}

// leastRole is the least role to which a scope is of any use.
var leastRole = map[Scope]Role{Read: Reader, Prices: Contributor, Catalog: Contributor, Tokens: Admin}

// Need is what an operation asks of a token.
type Need struct {
	Role  Role
	Scope Scope
}

// Known reports whether there are the role and the scope.
func (n Need) Known() bool { return slices.Contains(Roles, n.Role) && slices.Contains(Scopes, n.Scope) }

// Token is a stored token, without its secret.
type Token struct {
	ID        catalog.ID
	Member    string
	Role      Role
	Scopes    []Scope // empty: all that the role allows
	LastFour  string  // of the secret
	Created   time.Time
	CreatedBy string
	Expires   *time.Time // nil: never
	Revoked   *time.Time // nil: not revoked
}

// Noun names tokens as records are named.
var Noun = catalog.Noun{Name: "token", Prefix: "token"}

// reserved are names that stand in records for the program itself, not for a member.
var reserved = []string{"seed", "local", "sabinbook"}

// longestMember is the greatest length of a member's name in characters. Convention.
const longestMember = 80

// Validate names all faults of a new token, as JSON pointers.
func (t Token) Validate(now time.Time) error {
	var v catalog.Faults
	v.Text("/member", t.Member, 1, longestMember)
	switch {
	case t.Member != strings.Join(strings.Fields(t.Member), " "):
		v.Add("/member", "spaces", "begins or ends with a space, or has two together", "write the name with single spaces")
	case slices.Contains(reserved, strings.ToLower(t.Member)):
		v.Add("/member", "reserved", "stands in records for the program itself", "choose another name")
	}
	v.Word("/role", string(t.Role), texts(Roles))
	for i, s := range t.Scopes {
		at := fmt.Sprintf("/scopes/%d", i)
		v.Word(at, string(s), texts(Scopes))
		if least, known := leastRole[s]; known && slices.Contains(Roles, t.Role) && !t.Role.Holds(least) {
			v.Add(at, "beyond_role", fmt.Sprintf("is of no use to the role %s: %s needs %s", t.Role, s, least), "leave it out, or give a higher role")
		}
		if slices.Contains(t.Scopes[:i], s) {
			v.Add(at, "repeated", "is named twice", "name it once")
		}
	}
	if t.Expires != nil && !t.Expires.After(now) {
		v.Add("/expire_time", "past", "must be later than now, got "+t.Expires.UTC().Format(time.RFC3339), "give a later time, or leave it out for a token that never expires")
	}
	return v.Err()
}

func texts[T ~string](list []T) []string {
	out := make([]string, len(list))
	for i, x := range list {
		out[i] = string(x)
	}
	return out
}

// Expired reports whether the token's time has come.
func (t Token) Expired(now time.Time) bool { return t.Expires != nil && !now.Before(*t.Expires) }

// Live reports whether the token is still good.
func (t Token) Live(now time.Time) bool { return t.Revoked == nil && !t.Expired(now) }

// InScope reports whether the scopes of the token hold the scope.
func (t Token) InScope(s Scope) bool { return len(t.Scopes) == 0 || slices.Contains(t.Scopes, s) }

// Meets reports whether the token allows what the need asks for.
func (t Token) Meets(n Need) bool { return t.Role.Holds(n.Role) && t.InScope(n.Scope) }

// MayGive reports whether a member with this token may learn the secret of the other: it must allow
// nothing that this one does not, else a narrowed token could widen itself.
func (t Token) MayGive(other Token) bool {
	if !t.Role.Holds(other.Role) || len(other.Scopes) == 0 && len(t.Scopes) > 0 {
		return false
	}
	return !slices.ContainsFunc(other.Scopes, func(s Scope) bool { return !t.InScope(s) })
}

// MayMark reports whether the token may say which of several contradicting tests is used.
func (t Token) MayMark() bool { return t.Role.Holds(Curator) }

// MayChange reports whether the token may change or delete a record that the member named
// maker has added: a curator any, a contributor those of their own.
func (t Token) MayChange(maker string) bool {
	return t.Role.Holds(Curator) || t.Role.Holds(Contributor) && t.Member == maker
}
