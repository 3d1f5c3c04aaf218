package api

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"regexp"
	"slices"

	jsonpatch "github.com/evanphx/json-patch/v5"
	"github.com/getkin/kin-openapi/openapi3"
	"github.com/oapi-codegen/runtime"

	"sabinbook/internal/catalog"
)

// noun is what the mechanics of records need to know about one noun: R as the catalog has
// it, W as the wire has it.
type noun[R, W any] struct {
	path    string // of its records: "/v1/fills/"
	schema  string // of the contract
	meta    func(R) catalog.Meta
	decode  func(*catalog.Faults, W) R
	rules   func(R) error // Validate
	encode  func(R) W
	add     func(ctx context.Context, by string, r R) (R, error)
	read    func(ctx context.Context, ref string) (R, error)
	replace func(ctx context.Context, by, ref string, revision int64, r R) (R, error)
	remove  func(ctx context.Context, by, ref string, revision int64) error
	restore func(ctx context.Context, by, ref string) (R, error)
	of      catalog.Noun
	find    func(ctx context.Context, of catalog.Noun, ref string) (catalog.Meta, error) // also what is deleted
	// parent is the place of the id of the record that this one belongs to and that only
	// paths name; nil for nouns that stand alone.
	parent func(*R) *catalog.ID
	// may refuses what the role of who asks does not allow of a change, from the zero value of a new
	// record; nil where all may be set who may change the record.
	may func(ctx context.Context, before, after R) error
}

func (n *noun[R, W]) allowed(ctx context.Context, before, after R) error {
	if n.may == nil {
		return nil
	}
	return n.may(ctx, before, after)
}

// item is one record on its way out.
type item[W any] struct {
	body     W
	tag      string
	location string  // its path
	moved    *string // its path, when it was asked for by an old slug
}

func (n *noun[R, W]) item(r R, ref string) item[W] {
	m := n.meta(r)
	it := item[W]{body: n.encode(r), tag: tagOf(m), location: n.path + string(m.ID)}
	if ref != "" && ref != string(m.ID) && ref != string(m.Slug) {
		it.moved = &it.location
	}
	return it
}

var refForm = regexp.MustCompile(`^[a-z][a-z0-9_-]{0,79}$`)

// record decodes a body and applies the rules of the catalog; the error names all faults.
func (n *noun[R, W]) record(w W, parent catalog.ID) (R, error) {
	v := &catalog.Faults{}
	r := n.decode(v, w)
	if n.parent != nil {
		*n.parent(&r) = parent
	}
	return r, joined(v.Err(), n.rules(r))
}

// joined puts the faults of decoding before those of the rules.
func joined(decoding, rules error) error {
	first, second := faultsIn(decoding), faultsIn(rules)
	switch {
	case decoding == nil:
		return rules
	case len(first) == 0 || len(second) == 0:
		return decoding
	}
	return &requestError{kind: problemInvalid, faults: withRules(first, second)}
}

// check is the check of a body that breaks the contract elsewhere. Its parent is not looked
// up: any text stands for it.
func (n *noun[R, W]) check(value any) []fault {
	var w W
	if runtime.BindJSONValue(value, &w) != nil {
		return nil
	}
	_, err := n.record(w, "parent")
	return faultsIn(err)
}

func (n *noun[R, W]) parentOf(r R) catalog.ID {
	if n.parent == nil {
		return ""
	}
	return *n.parent(&r)
}

// create adds a record; parent is empty for nouns that stand alone.
func (n *noun[R, W]) create(ctx context.Context, w W, parent catalog.ID) (item[W], error) {
	r, err := n.record(w, parent)
	if err != nil {
		return item[W]{}, err
	}
	var none R
	if err := n.allowed(ctx, none, r); err != nil {
		return item[W]{}, err
	}
	r, err = n.add(ctx, memberOf(ctx), r)
	if err != nil {
		return item[W]{}, err
	}
	return n.item(r, ""), nil
}

func (n *noun[R, W]) get(ctx context.Context, ref string) (item[W], error) {
	r, err := n.load(ctx, ref)
	if err != nil {
		return item[W]{}, err
	}
	return n.item(r, ref), nil
}

// load reads a record by a text that a client sent; one that can be no name is not looked up.
func (n *noun[R, W]) load(ctx context.Context, ref string) (R, error) {
	if !refForm.MatchString(ref) {
		var none R
		return none, catalog.ErrNotFound
	}
	return n.read(ctx, ref)
}

// change lets make produce the next state of a stored record and stores it, when If-Match
// allows. With If-Match: * a change that somebody else has overtaken is made anew.
func (n *noun[R, W]) change(ctx context.Context, ref, ifMatch string, make func(stored R) (R, error)) (item[W], error) {
	for attempt := 1; ; attempt++ {
		stored, err := n.load(ctx, ref)
		if err != nil {
			return item[W]{}, err
		}
		m := n.meta(stored)
		if err := own(ctx, m); err != nil {
			return item[W]{}, err
		}
		if err := match(ifMatch, m); err != nil {
			return item[W]{}, err
		}
		next, err := make(stored)
		if err != nil {
			return item[W]{}, err
		}
		if err := n.allowed(ctx, stored, next); err != nil {
			return item[W]{}, err
		}
		saved, err := n.replace(ctx, memberOf(ctx), string(m.ID), m.Revision, next)
		if repeat, err := again(ifMatch, attempt, err); err != nil {
			return item[W]{}, err
		} else if !repeat {
			return n.item(saved, ref), nil
		}
	}
}

// starAttempts is how often a change with If-Match: * is made anew. Convention: whenever it
// is overtaken another change was stored, so that only a crowd of writers can use them up.
const starAttempts = 100

// again reports whether a write that came too late should be repeated; else it returns what
// the write has come to.
func again(ifMatch string, attempt int, err error) (repeat bool, _ error) {
	_, any, _ := tags(ifMatch)
	if stale := new(catalog.StaleError); !any || !errors.As(err, &stale) {
		return false, err
	}
	if attempt == starAttempts {
		return false, fmt.Errorf("api: overtaken %d times: %w", attempt, catalog.ErrUnavailable)
	}
	return true, nil
}

func (n *noun[R, W]) put(ctx context.Context, ref, ifMatch string, w W) (item[W], error) {
	return n.change(ctx, ref, ifMatch, func(stored R) (R, error) { return n.record(w, n.parentOf(stored)) })
}

func (n *noun[R, W]) patch(ctx context.Context, s *Server, ref, ifMatch string, patch MergePatch) (item[W], error) {
	return n.change(ctx, ref, ifMatch, func(stored R) (R, error) { return n.patched(s.contract, stored, patch) })
}

// patched is the stored record with a merge patch applied to it.
func (n *noun[R, W]) patched(c *contract, stored R, patch MergePatch) (R, error) {
	var none R
	value, faults, err := c.merge(n.schema, n.encode(stored), patch)
	if err != nil {
		return none, err
	}
	var w W
	faults = append(faults, c.bind(n.schema, value, &w)...)
	if len(faults) > 0 {
		return none, &requestError{kind: problemInvalid, faults: withRules(faults, pruned(n.check, value, faults))}
	}
	return n.record(w, n.parentOf(stored))
}

// merge applies a merge patch (RFC 7396) to a record as the wire has it. The result is a
// request body: it has no read-only members but those that the patch names. faults are
// deletions of what is not there to delete, which merging would pass over in silence.
func (c *contract) merge(schema string, record any, patch MergePatch) (any, []fault, error) {
	text, err := json.Marshal(record)
	if err != nil {
		return nil, nil, fmt.Errorf("api: merge: %w", err)
	}
	var base map[string]any
	if err := decodeNumbers(text, &base); err != nil {
		return nil, nil, fmt.Errorf("api: merge: %w", err)
	}
	c.writable(schema, base)
	old, err := json.Marshal(base)
	if err != nil {
		return nil, nil, fmt.Errorf("api: merge: %w", err)
	}
	change, err := json.Marshal(patch)
	if err != nil {
		return nil, nil, fmt.Errorf("api: merge: %w", err)
	}
	merged, err := jsonpatch.MergePatch(old, change)
	if err != nil {
		return nil, nil, fmt.Errorf("api: merge: %w", err)
	}
	var value any
	if err := decodeNumbers(merged, &value); err != nil {
		return nil, nil, fmt.Errorf("api: merge: %w", err)
	}
	return value, deletions(c.doc.Components.Schemas[schema].Value, patch, ""), nil
}

// decodeNumbers decodes JSON into *into and keeps numbers as they are written, whole ones but
// for their form.
func decodeNumbers[T any](text []byte, into *T) error {
	d := json.NewDecoder(bytes.NewReader(text))
	d.UseNumber()
	if err := d.Decode(into); err != nil {
		return err
	}
	wholeNumbers(*into)
	return nil
}

// deletions finds members that a patch deletes though they do not exist or are read-only.
func deletions(s *openapi3.Schema, patch map[string]any, at string) []fault {
	var faults []fault
	for _, name := range slices.Sorted(maps.Keys(patch)) {
		here, value := at+pointerOf([]string{name}), patch[name]
		switch member := s.Properties[name]; {
		case value == nil && member == nil:
			faults = append(faults, fault{pointer: here, code: "unknown_member", detail: "no such member", fix: didYouMean(name, writableNames(s))})
		case value == nil && member.Value.ReadOnly:
			faults = append(faults, fault{pointer: here, code: "read_only", detail: "is set by the service", fix: "leave it out"})
		case member != nil:
			if inner, object := value.(map[string]any); object {
				faults = append(faults, deletions(member.Value, inner, here)...)
			} else {
				faults = append(faults, nullsInLists(member.Value, value, here)...)
			}
		}
	}
	return faults
}

// nullsInLists finds members that are null within a list of a patch. A list replaces the
// stored one as it stands (RFC 7396 section 1), so that a null in it deletes nothing; the
// merging library takes it out unseen.
func nullsInLists(s *openapi3.Schema, value any, at string) []fault {
	var faults []fault
	switch v := value.(type) {
	case []any:
		for i, element := range v {
			if s.Items != nil {
				faults = append(faults, nullsInLists(s.Items.Value, element, fmt.Sprintf("%s/%d", at, i))...)
			}
		}
	case map[string]any:
		for _, name := range slices.Sorted(maps.Keys(v)) {
			here := at + pointerOf([]string{name})
			switch member := s.Properties[name]; {
			case member == nil && v[name] == nil:
				faults = append(faults, fault{pointer: here, code: "unknown_member", detail: "no such member", fix: didYouMean(name, writableNames(s))})
			case member == nil, v[name] == nil && slices.Contains(s.Required, name):
				// The check of the merged record names it.
			case v[name] == nil:
				faults = append(faults, fault{pointer: here, code: "null", detail: "must be " + typeWords(member.Value) + ", got null", fix: "leave the member out when it is unknown"})
			default:
				faults = append(faults, nullsInLists(member.Value, v[name], here)...)
			}
		}
	}
	return faults
}

func (n *noun[R, W]) delete(ctx context.Context, ref, ifMatch string) error {
	for attempt := 1; ; attempt++ {
		stored, err := n.load(ctx, ref)
		if err != nil {
			return err
		}
		m := n.meta(stored)
		if err := own(ctx, m); err != nil {
			return err
		}
		if err := match(ifMatch, m); err != nil {
			return err
		}
		err = n.remove(ctx, memberOf(ctx), string(m.ID), m.Revision)
		if repeat, err := again(ifMatch, attempt, err); !repeat {
			return err
		}
	}
}

func (n *noun[R, W]) bringBack(ctx context.Context, ref string) (item[W], error) {
	if !refForm.MatchString(ref) {
		return item[W]{}, catalog.ErrNotFound
	}
	m, err := n.find(ctx, n.of, ref)
	if err != nil {
		return item[W]{}, err
	}
	if err := own(ctx, m); err != nil {
		return item[W]{}, err
	}
	r, err := n.restore(ctx, memberOf(ctx), string(m.ID))
	if err != nil {
		return item[W]{}, err
	}
	return n.item(r, ref), nil
}

// bodyChecks lists the checks of the operations whose body has rules beyond the contract.
func (s *Server) bodyChecks() map[string]check {
	return map[string]check{
		"createSource": s.sources().check, "replaceSource": s.sources().check,
		"createFill": s.fills().check, "replaceFill": s.fills().check,
		"createAbsorptionTest": s.tests().check, "replaceAbsorptionTest": s.tests().check,
		"createFabric": s.fabrics().check, "replaceFabric": s.fabrics().check,
		"createPart": s.parts().check, "replacePart": s.parts().check,
		"createReadyMadePanel": s.readyMade().check, "replaceReadyMadePanel": s.readyMade().check,
		"createDesign": s.designs().check, "replaceDesign": s.designs().check,
		"createRoom": s.rooms().check, "replaceRoom": s.rooms().check,
		"createSupplier": s.suppliers().check, "replaceSupplier": s.suppliers().check,
		"createExchangeRate": s.exchangeRates().check, "replaceExchangeRate": s.exchangeRates().check,
		"createOffer": s.offers().check, "replaceOffer": s.offers().check,
		"addBatch": s.checkBatch, "createPrice": s.checkPrice, "createToken": s.checkToken, "createShortlist": s.checkShortlist, "putOutcome": s.checkOutcome,
		"rankOptions": s.checkRanking, "rateCurve": s.checkRatings, "checkHanging": s.checkHangingBody,
		"estimateAbsorption": s.checkAbsorption, "estimateCost": s.checkCost, "estimateBurden": s.checkBurden, "planBuying": s.checkPurchase, "compareBuildAndBuy": s.checkBuildOrBuy, "estimateRoom": s.checkRoom,
	}
}
