package api

import (
	"context"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"encoding/json"
	"errors"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"sabinbook/internal/access"
	"sabinbook/internal/catalog"
)

const defaultLimit = 50

// page is one page of records on its way out.
type page[W any] struct {
	items []W
	next  *string // path of the following page
	link  *string // the same as a Link header
	total *int64
}

// pageOf answers a list. The filters are the query parameters that the contract gives the
// operation: x_min and x_max bound the field x, every other name but those of paging
// takes any of the words given.
func pageOf[R, W any](ctx context.Context, list func(context.Context, catalog.Query) (catalog.Page[R], error), encode func(R) W) (page[W], error) {
	c := callOf(ctx)
	q, err := c.listQuery()
	if err != nil {
		return page[W]{}, err
	}
	found, err := list(ctx, q)
	if err != nil {
		return page[W]{}, parameterError(err)
	}
	p := page[W]{items: make([]W, len(found.Items))}
	for i, r := range found.Items {
		p.items[i] = encode(r)
	}
	if len(found.Next) > 0 {
		query := url.Values{}
		for name, values := range c.query {
			query[name] = values
		}
		query.Set("cursor", c.cursor(found.Next))
		next := c.url.EscapedPath() + "?" + query.Encode()
		link := "<" + next + `>; rel="next"`
		p.next, p.link = &next, &link
	}
	if q.Count {
		total := int64(found.Total)
		p.total = &total
	}
	return p, nil
}

// parameterError turns the faults that a store finds in a query, a field by which it cannot
// sort for instance, into faults of the parameters of the same names.
func parameterError(err error) error {
	var invalid *catalog.InvalidError
	if !errors.As(err, &invalid) {
		return err
	}
	faults := faultsOf(invalid)
	for i := range faults {
		faults[i].parameter, faults[i].pointer = strings.TrimPrefix(faults[i].pointer, "/"), ""
	}
	return &requestError{kind: problemParameter, faults: faults}
}

// listQuery reads the parameters of a list, which the contract has let pass.
func (c *call) listQuery() (catalog.Query, error) {
	q := catalog.Query{Limit: defaultLimit}
	var faults []fault
	refuse := func(name, code, detail, fix string) {
		faults = append(faults, fault{parameter: name, code: code, detail: detail, fix: fix})
	}
	ranges := map[string]*catalog.Range{}
	for _, name := range c.op.query { // in the order of the contract
		text := c.query.Get(name)
		if text == "" {
			continue
		}
		bound, end := boundOf(name)
		switch {
		case name == "limit":
			q.Limit, _ = strconv.Atoi(text) // the contract holds it between 1 and 200
		case slices.Contains(formParameters, name):
		case name == "cursor":
			after, ok := c.readCursor(text)
			if !ok {
				refuse(name, "bad_cursor", "is not a cursor of this list with this sort and these filters", "follow next from the page before, or leave the cursor out")
			}
			q.After = after
		case name == "sort":
			for _, key := range strings.Split(text, ",") {
				field, down := strings.CutPrefix(key, "-")
				if field == "" || slices.ContainsFunc(q.Sort, func(k catalog.SortKey) bool { return k.Field == field }) {
					refuse(name, "bad_sort", "names an empty or repeated field", "name each field once, like -density_kg_per_m3,slug")
				}
				q.Sort = append(q.Sort, catalog.SortKey{Field: field, Down: down})
			}
		case name == "q":
			q.Name = text
		case name == "include":
			if text != "total_count" {
				refuse(name, "unknown_word", "must be total_count, got "+quoted(text), "use total_count, or leave it out")
			}
			q.Count = true
		case end != "":
			if ranges[bound] == nil {
				ranges[bound] = &catalog.Range{Field: bound}
			}
			if end == "min" {
				ranges[bound].Min = text
			} else {
				ranges[bound].Max = text
			}
		default:
			words := filterWords(name, text)
			if slices.Contains(words, "") {
				refuse(name, "empty_word", "holds an empty word: "+quoted(text), "put one comma between two words, and none at the ends")
			}
			if known := filterWordsOf(c.op, name); known != nil {
				for _, word := range words {
					if word != "" && !slices.Contains(known, word) {
						refuse(name, "unknown_word", "is a word that no record can have: "+quoted(word), didYouMean(word, known))
					}
				}
			}
			q.Any = append(q.Any, catalog.AnyOf{Field: name, Values: words})
		}
	}
	for _, name := range c.op.query {
		if bound, end := boundOf(name); end == "min" && ranges[bound] != nil {
			q.Ranges = append(q.Ranges, *ranges[bound])
		}
	}
	if len(faults) > 0 {
		return q, &requestError{kind: problemParameter, faults: faults}
	}
	return q, nil
}

// filterWordsOf lists the words that a record can have in the field of a filter; nil where any text may stand
// in it. A word beside them is a mistake: the list could only be empty.
func filterWordsOf(op *operation, name string) []string {
	switch name {
	case "family":
		return wordsOf(catalog.Families())
	case "form":
		return wordsOf(catalog.Forms())
	case "standard":
		return wordsOf(catalog.TestStandards())
	case "mounting_type":
		return wordsOf(catalog.Mountings())
	case "evidence":
		return wordsOf(catalog.Evidences())
	case "stretch":
		return wordsOf(catalog.Stretches())
	case "kind":
		return wordsOf(catalog.PartKinds())
	case "item_kind":
		return wordsOf(catalog.ItemKinds())
	case "fire_scheme":
		return wordsOf(catalog.FireSchemes())
	case "role":
		if op.need.Scope == access.Tokens {
			return wordsOf(access.Roles)
		}
		return wordsOf(catalog.Roles())
	}
	return nil
}

func wordsOf[T ~string](list []T) []string { return listOf(&list, text[T]) }

// filterWords splits a filter into its words. The comma within a class of EN 13501-1, such as
// B-s1,d0, parts no words.
func filterWords(name, text string) []string {
	words := strings.Split(text, ",")
	if name != "fire_code" {
		return words
	}
	for i := 1; i < len(words); i++ {
		class := catalog.NormalFireCode(catalog.EN13501, words[i-1]+","+words[i])
		if catalog.ValidEuroclass(class) {
			words = slices.Replace(words, i-1, i+1, class)
		}
	}
	return words
}

// boundOf splits "density_kg_per_m3_min" into the field and "min".
func boundOf(name string) (field, end string) {
	if field, ok := strings.CutSuffix(name, "_min"); ok {
		return field, "min"
	}
	if field, ok := strings.CutSuffix(name, "_max"); ok {
		return field, "max"
	}
	return name, ""
}

var cursorText = base64.RawURLEncoding.Strict()

const cursorSum = 12 // bytes of the checksum in front of a cursor

// cursor writes where the next page begins, with a checksum that binds it to the list,
// its sort and its filters. It keeps no secret and needs none: what it holds could as well
// be asked for.
func (c *call) cursor(after []string) string {
	text, err := json.Marshal(after)
	if err != nil { // texts only
		panic(err)
	}
	return cursorText.EncodeToString(append(c.cursorSum(text), text...))
}

func (c *call) readCursor(cursor string) (after []string, ok bool) {
	raw, err := cursorText.DecodeString(cursor)
	if err != nil || len(raw) < cursorSum || subtle.ConstantTimeCompare(raw[:cursorSum], c.cursorSum(raw[cursorSum:])) != 1 {
		return nil, false
	}
	return after, json.Unmarshal(raw[cursorSum:], &after) == nil
}

func (c *call) cursorSum(text []byte) []byte {
	bound := url.Values{}
	for name, values := range c.query {
		if name != "cursor" && name != "limit" && name != "include" && !slices.Contains(formParameters, name) {
			bound[name] = values
		}
	}
	path, _ := cutSuffix(c.url.Path)
	sum := sha256.Sum256([]byte(path + "\x00" + bound.Encode() + "\x00" + string(text)))
	return sum[:cursorSum]
}
