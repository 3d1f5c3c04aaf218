package catalog

import (
	"fmt"
	"slices"
	"time"
)

// NounShortlist names shortlists as records are named. They are no part of a Snapshot.
var NounShortlist = Noun{"shortlist", "short"}

// Visibility says who sees a shortlist.
type Visibility string

// The visibilities.
const (
	Group   Visibility = "group"   // all who may read the catalog
	Private Visibility = "private" // who made it and nobody else, whatever their role; to all others it does not exist
)

var visibilities = []Visibility{Group, Private}

// Status tells how far the decision about a shortlist has come. It may go either way.
type Status string

// The states.
const (
	Open    Status = "open"
	Decided Status = "decided"
	Built   Status = "built"
)

var statuses = []Status{Open, Decided, Built}

// KeptOption is one option of a shortlist.
type KeptOption struct {
	Key  string // of the option in the answer
	Note string
}

// Shortlist is what was kept of a ranking, without the frozen part: question, answer and the
// records under it, which are made once and never change.
type Shortlist struct {
	Meta
	Note       string
	Visibility Visibility
	Status     Status
	Options    []KeptOption // in the order of the answer
	Frozen     string       // SHA-256 of the frozen part in hexadecimal; the store sets it
}

// LongestOptionNote is the greatest length of a note on an option or vote in characters. Convention.
const LongestOptionNote = 2000

// MostKept is the greatest number of options of a shortlist. Convention: what a group can
// look through.
const MostKept = 50

// SeenBy reports whether the shortlist is there for a member.
func (s Shortlist) SeenBy(member string) bool {
	return s.Visibility == Group || s.CreatedBy == member
}

// Validate names every fault of the shortlist.
func (s Shortlist) Validate() error {
	var v faults
	v.meta(s.Meta)
	v.note(s.Note)
	v.word("/visibility", string(s.Visibility), words(visibilities))
	v.word("/status", string(s.Status), words(statuses))
	if n := len(s.Options); n < 1 || n > MostKept {
		v.add("/options", "out_of_range", fmt.Sprintf("must be 1 to %d options, got %d", MostKept, n), "keep fewer options, or at least one")
	}
	for i, o := range s.Options {
		at := fmt.Sprintf("/options/%d", i)
		v.text(at+"/key", o.Key, 1, 400)
		v.text(at+"/note", o.Note, 0, LongestOptionNote)
		if slices.ContainsFunc(s.Options[:i], func(before KeptOption) bool { return before.Key == o.Key }) {
			v.add(at+"/key", "repeated", "is named twice", "name each option once")
		}
	}
	return v.Err()
}

// NounComment names comments as records are named.
var NounComment = Noun{"comment", "comment"}

// Comment is what a member says about a shortlist. It is never changed.
type Comment struct {
	ID        ID
	Text      string
	Created   time.Time
	CreatedBy string
}

// LongestComment is the greatest length of a comment in characters. Convention.
const LongestComment = 4000

// Validate names every fault of the comment.
func (c Comment) Validate() error {
	var v faults
	v.text("/text", c.Text, 1, LongestComment)
	return v.Err()
}

// Vote is the one vote of a member on a shortlist. It may be changed.
type Vote struct {
	Member string
	Key    string // of the option; empty: none of them
	Note   string
	Voted  time.Time
}

// Validate names every fault of the vote, but for a key that the shortlist does not have.
func (b Vote) Validate() error {
	var v faults
	v.text("/key", b.Key, 0, 400)
	v.text("/note", b.Note, 0, LongestOptionNote)
	return v.Err()
}

// NounShareLink names share links as records are named.
var NounShareLink = Noun{"share link", "share"}

// ShareLink lets whoever has its secret read one shortlist until it ends.
type ShareLink struct {
	ID        ID
	LastFour  string // of the secret
	Created   time.Time
	CreatedBy string
	Expires   time.Time
	Revoked   *time.Time // nil: not revoked
}

// How long a share link may live, and does unless another time is given. Conventions.
const (
	LongestShare = 90 * 24 * time.Hour
	UsualShare   = 14 * 24 * time.Hour
)

// Validate names every fault of a new share link.
func (l ShareLink) Validate(now time.Time) error {
	var v faults
	switch {
	case !l.Expires.After(now):
		v.add("/expire_time", "past", "must be later than now, got "+l.Expires.UTC().Format(time.RFC3339), "give a later time, or leave it out for a link that ends in 14 days")
	case l.Expires.After(now.Add(LongestShare)):
		v.add("/expire_time", "out_of_range", "must be within 90 days, got "+l.Expires.UTC().Format(time.RFC3339), "give an earlier time; when the link has ended another can be made")
	}
	return v.Err()
}

// Live reports whether the link still leads to its shortlist.
func (l ShareLink) Live(now time.Time) bool { return l.Revoked == nil && now.Before(l.Expires) }
