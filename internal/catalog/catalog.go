// Package catalog holds the nouns of the shared catalog: fills with their
// absorption tests, fabrics, parts, ready-made panels, panel designs, rooms,
// suppliers, offers, prices, exchange rates and the sources on which every figure rests; and the rules which a record must
// keep to be stored.
//
// Nouns are plain values: they know neither the wire nor the database. A
// Validate method names every fault of a record at once. Zero values mean "not
// stated": all quantities here are positive, so an unknown never looks like a
// figure. A Snapshot is the whole catalog at one revision, the input of every
// question.
package catalog

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
)

// ID is the permanent name of a record: a prefix that tells the noun and 26
// characters 0-9a-v of a UUIDv7, so that ids sort as they were made.
type ID string

// Slug is the short unique name of a record within its noun. It may change.
type Slug string

// Noun is a kind of record.
type Noun struct {
	Name   string // as in messages: "ready-made panel"
	Prefix string // of its ids: "panel"
}

// The nouns of the catalog.
var (
	NounSource    = Noun{"source", "src"}
	NounFill      = Noun{"fill", "fill"}
	NounTest      = Noun{"absorption test", "test"}
	NounFabric    = Noun{"fabric", "fabric"}
	NounPart      = Noun{"part", "part"}
	NounReadyMade = Noun{"ready-made panel", "panel"}
	NounSupplier  = Noun{"supplier", "sup"}
	NounOffer     = Noun{"offer", "offer"}
	NounPrice     = Noun{"price observation", "price"}
	NounDesign    = Noun{"panel design", "design"}
	NounRoom      = Noun{"room", "room"}
	NounRate      = Noun{"exchange rate", "rate"}
)

// Is reports whether text has the form of an id of the noun.
func (n Noun) Is(text string) bool {
	rest, ok := strings.CutPrefix(text, n.Prefix+"_")
	if !ok || len(rest) != 26 {
		return false
	}
	for _, r := range rest {
		if (r < '0' || r > '9') && (r < 'a' || r > 'v') {
			return false
		}
	}
	return true
}

// Meta is what every record carries. The store sets all of it but Slug and Name.
type Meta struct {
	ID        ID
	Slug      Slug
	Name      string
	Revision  int64 // from 1
	Created   time.Time
	Updated   time.Time
	UpdatedBy string
	CreatedBy string // never changes
	Deleted   bool
}

// Evidence grades how a figure came to be known.
type Evidence string

// The grades of evidence, from the most to the least trusted.
const (
	Measured   Evidence = "measured"   // by the source itself
	Published  Evidence = "published"  // in a book, paper or standard
	Declared   Evidence = "declared"   // by a maker or seller
	Estimated  Evidence = "estimated"  // from other figures
	Remembered Evidence = "remembered" // from memory, source not seen
)

var evidences = []Evidence{Measured, Published, Declared, Estimated, Remembered}

// Evidences lists the grades.
func Evidences() []Evidence { return evidences }

// Figure is one stored quantity with what it rests on. Low and High are zero when no
// range is stated.
type Figure[U ~float64] struct {
	Value     U
	Low, High U
	Evidence  Evidence
	SourceID  ID
	Basis     string // how it was found, in words: a method, a relation
}

// Answer is a fact that may be unknown; the zero value is not valid in a stored
// record, so that nobody says "no" by leaving a field out.
type Answer string

// The answers.
const (
	Yes     Answer = "yes"
	No      Answer = "no"
	Unknown Answer = "unknown"
)

// Date is a day of the calendar, "2026-11-02".
type Date string

// ParseDate reads a date of the form 2026-11-02.
func ParseDate(text string) (Date, error) {
	if _, err := time.Parse(time.DateOnly, text); err != nil || len(text) != 10 {
		return "", fmt.Errorf("not a date of the form 2026-11-02: %q", text)
	}
	return Date(text), nil
}

// DateOf returns the day in UTC of an instant.
func DateOf(t time.Time) Date { return Date(t.UTC().Format(time.DateOnly)) }

// DaysSince counts the days from an earlier day to d; it is negative when d comes first.
func (d Date) DaysSince(earlier Date) int {
	a, _ := time.Parse(time.DateOnly, string(earlier))
	b, _ := time.Parse(time.DateOnly, string(d))
	return int(b.Sub(a).Hours() / 24)
}

// Sentinel errors of whoever keeps the catalog.
var (
	ErrNotFound = errors.New("no such record")
	ErrConflict = errors.New("conflict with a stored record")
	// ErrKeyUsed says that a request with this key has been carried out already.
	ErrKeyUsed = fmt.Errorf("the key of the request is used: %w", ErrConflict)
	// ErrUnavailable says that the store cannot answer now; nothing was stored.
	ErrUnavailable = errors.New("the store cannot answer now")
	// ErrOutcomeUnknown says that a change may or may not have been stored.
	ErrOutcomeUnknown = errors.New("the change may or may not have been stored")
)

// StaleError refuses a change that was made against an older revision. It carries
// the stored record's state for the answer.
type StaleError struct{ Current Meta }

func (e *StaleError) Error() string {
	return fmt.Sprintf("the record is at revision %d", e.Current.Revision)
}

// ConflictError names the field in which a record clashes with stored ones.
type ConflictError struct{ Field, Detail, Fix string }

func (e *ConflictError) Error() string { return e.Field + ": " + e.Detail }

// Unwrap makes a ConflictError an ErrConflict.
func (e *ConflictError) Unwrap() error { return ErrConflict }

// Query asks for a page of records of one noun. Fields are the names of the wire; a
// store refuses those it does not list for the noun.
type Query struct {
	Name   string // part of the name, any case
	Any    []AnyOf
	Ranges []Range
	Sort   []SortKey // ties end in the id
	After  []string  // sort values and id of the last record seen, empty for the first page
	Limit  int
	Count  bool // also count all matches
}

// AnyOf keeps records whose field has one of the values.
type AnyOf struct {
	Field  string
	Values []string
}

// Range keeps records whose field lies between Min and Max, both included, as texts of
// numbers or dates; empty is open.
type Range struct{ Field, Min, Max string }

// SortKey orders by a field.
type SortKey struct {
	Field string
	Down  bool
}

// Page is one page of a list. Next holds the After of the following page, and is
// empty on the last one.
type Page[T any] struct {
	Items []T
	Next  []string
	Total int // with Query.Count
}

// Snapshot is the whole catalog, without deleted records, at one revision. Every list is
// in ascending order of slug, then id; prices in ascending order of offer, date, then id.
type Snapshot struct {
	Revision  int64
	Sources   []Source
	Fills     []Fill
	Tests     []AbsorptionTest
	Fabrics   []Fabric
	Parts     []Part
	ReadyMade []ReadyMadePanel
	Designs   []Design
	Rooms     []Room
	Suppliers []Supplier
	Offers    []Offer
	Prices    []Price
	Rates     []ExchangeRate
}

// Sort puts every list of the snapshot into its order, whatever order they came in.
func (s *Snapshot) Sort() {
	sortBy(s.Sources, func(r Source) Meta { return r.Meta })
	sortBy(s.Fills, func(r Fill) Meta { return r.Meta })
	sortBy(s.Tests, func(r AbsorptionTest) Meta { return r.Meta })
	sortBy(s.Fabrics, func(r Fabric) Meta { return r.Meta })
	sortBy(s.Parts, func(r Part) Meta { return r.Meta })
	sortBy(s.ReadyMade, func(r ReadyMadePanel) Meta { return r.Meta })
	sortBy(s.Designs, func(r Design) Meta { return r.Meta })
	sortBy(s.Rooms, func(r Room) Meta { return r.Meta })
	sortBy(s.Suppliers, func(r Supplier) Meta { return r.Meta })
	sortBy(s.Offers, func(r Offer) Meta { return r.Meta })
	sortBy(s.Rates, func(r ExchangeRate) Meta { return r.Meta })
	slices.SortFunc(s.Prices, func(a, b Price) int {
		return cmp.Or(cmp.Compare(a.OfferID, b.OfferID), cmp.Compare(a.Observed, b.Observed), cmp.Compare(a.ID, b.ID))
	})
}

func sortBy[T any](list []T, meta func(T) Meta) {
	slices.SortFunc(list, func(a, b T) int {
		x, y := meta(a), meta(b)
		return cmp.Or(cmp.Compare(x.Slug, y.Slug), cmp.Compare(x.ID, y.ID))
	})
}
