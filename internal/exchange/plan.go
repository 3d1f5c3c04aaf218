package exchange

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"

	"sabinbook/internal/catalog"
)

// Choice says what becomes of conflicts.
type Choice string

// The choices.
const (
	Fail Choice = "fail" // nothing is taken over while there is a conflict
	Keep Choice = "keep" // what is stored stays, with all that would rest on what is left out
	Take Choice = "take" // of a record that was changed in both, the package's state is taken
)

// Choices lists the words for choices.
var Choices = []Choice{Fail, Keep, Take}

// Action is what becomes of one record of a package.
type Action string

// The actions.
const (
	Created   Action = "created"
	Updated   Action = "updated"
	Unchanged Action = "unchanged"
	Conflict  Action = "conflict"
)

// Reason is why a record is in conflict, or was before the choice settled it.
type Reason struct{ Code, Detail, Fix string }

// Row is what becomes of one record of a package.
type Row struct {
	Noun    catalog.Noun
	ID      catalog.ID
	Slug    catalog.Slug // of a price, empty
	Name    string       // of a price, empty
	Action  Action
	Reasons []Reason
	Similar []catalog.Slug // of a fill that is created: stored ones that may be the same material
}

// Plan is what taking a package over would do.
type Plan struct {
	Choice   Choice
	Revision int64  // of the stored catalog
	Incoming string // SHA-256 of the package in its canonical form
	Rows     []Row  // by table, then id
	Count    map[Action]int
	Blocked  bool   // conflicts forbid taking it over
	Digest   string // SHA-256 of all of the above
	Changes  catalog.Changes
}

// planner works out a plan. Rows and incoming records have the same places.
type planner struct {
	choice   Choice
	incoming []record
	rows     []Row
	at       map[named]int   // place of an incoming record
	users    map[named][]int // places of the incoming records that refer to one
	stored   map[named]record
	slugs    map[string]catalog.ID // prefix and slug to the stored record that has it
	keys     map[string]catalog.ID // prefix and folded name, the same way
	held     []catalog.Held
	gone     map[catalog.ID]bool // held ids
	// Items that offers sell, as they are stored and as they come in.
	fills, newFills map[catalog.ID]catalog.Fill
	parts, newParts map[catalog.ID]catalog.Part
}

// NewPlan tells row by row what taking the catalog incoming over would do to the stored one.
// held is what other records than the live ones keep others from taking.
//
// A record with the id of a stored one is unchanged if it says the same, whatever its
// history. Else it is an update if it rests on the stored state: its revision is higher and it was
// changed later, or revision and time are those of the stored one, as after an edit of the
// files. Otherwise both were changed, or the package is older. Records that only the
// stored catalog has stay as they are. Conventions.
func NewPlan(stored, incoming catalog.Snapshot, held []catalog.Held, choice Choice) Plan {
	digest := sha256.Sum256(Archive(Write(incoming)))
	p := &planner{choice: choice, incoming: recordsOf(&incoming), at: map[named]int{}, users: map[named][]int{}, stored: map[named]record{},
		slugs: map[string]catalog.ID{}, keys: map[string]catalog.ID{}, held: held, gone: map[catalog.ID]bool{}}
	p.fills, p.parts = itemsOf(stored)
	p.newFills, p.newParts = itemsOf(incoming)
	for _, r := range recordsOf(&stored) {
		p.stored[named{r.table, r.meta.ID}] = r
		p.take(r.noun.Prefix, r.meta, r.free)
	}
	for _, h := range held {
		if !h.Former {
			p.gone[h.ID] = true
		}
		p.take(h.Prefix, catalog.Meta{ID: h.ID, Slug: h.Slug, Name: h.Name}, h.Name == "" || h.Prefix == catalog.NounTest.Prefix || h.Prefix == catalog.NounOffer.Prefix)
	}
	for i, r := range p.incoming {
		p.at[named{r.table, r.meta.ID}] = i
		p.rows = append(p.rows, Row{Noun: r.noun, ID: r.meta.ID, Slug: r.meta.Slug, Name: r.meta.Name})
		for _, to := range r.refs {
			p.users[to] = append(p.users[to], i)
		}
		p.judge(i)
	}
	for p.missing() || p.misfits(stored, incoming) {
	}
	p.similar(stored, incoming)
	plan := Plan{Choice: choice, Revision: stored.Revision, Incoming: hex.EncodeToString(digest[:]), Rows: p.rows, Count: map[Action]int{}}
	for i, row := range p.rows {
		plan.Count[row.Action]++
		switch row.Action {
		case Created:
			p.incoming[i].put(&plan.Changes.Created)
		case Updated:
			p.incoming[i].put(&plan.Changes.Updated)
		}
	}
	plan.Changes.Created.Sort()
	plan.Changes.Updated.Sort()
	plan.Blocked = choice != Keep && plan.Count[Conflict] > 0
	plan.Digest = plan.digest()
	return plan
}

func itemsOf(s catalog.Snapshot) (map[catalog.ID]catalog.Fill, map[catalog.ID]catalog.Part) {
	fills, parts := map[catalog.ID]catalog.Fill{}, map[catalog.ID]catalog.Part{}
	for _, f := range s.Fills {
		fills[f.ID] = f
	}
	for _, p := range s.Parts {
		parts[p.ID] = p
	}
	return fills, parts
}

// take notes the slug and name of a record.
func (p *planner) take(prefix string, m catalog.Meta, freeName bool) {
	if m.Slug != "" {
		p.slugs[prefix+" "+string(m.Slug)] = m.ID
	}
	if !freeName {
		p.keys[prefix+" "+catalog.NameKey(m.Name)] = m.ID
	}
}

func (p *planner) conflict(i int, code, detail, fix string) {
	p.rows[i].Action = Conflict
	p.rows[i].Reasons = append(p.rows[i].Reasons, Reason{code, detail, fix})
}

// judge decides on one record by itself.
func (p *planner) judge(i int) {
	in, row := p.incoming[i], &p.rows[i]
	m := in.meta
	old, there := p.stored[named{in.table, m.ID}]
	switch {
	case there && old.content == in.content:
		row.Action = Unchanged
		return
	case there && m.Slug == "":
		p.conflict(i, "price_differs", "is stored with other figures, and prices are only ever added", "give the price a new id and name the stored one in corrects_id")
		return
	case there && !follows(m, old.meta):
		row.Action = Updated
		why := Reason{"changed_in_both", fmt.Sprintf("is stored at revision %d of %s, the package has revision %d of %s, and they differ",
			old.meta.Revision, old.meta.Updated.UTC().Format(instantForm), m.Revision, m.Updated.UTC().Format(instantForm)), "compare both; choose keep for the stored state or take for that of the package"}
		row.Reasons = append(row.Reasons, why)
		if p.choice != Take {
			row.Action = Conflict
			return
		}
	case there:
		row.Action = Updated
	case p.gone[m.ID]:
		p.conflict(i, "deleted_here", "is stored and deleted", "restore the stored record first, or choose keep to leave it deleted")
		return
	default:
		row.Action = Created
	}
	if other, taken := p.slugs[in.noun.Prefix+" "+string(m.Slug)]; m.Slug != "" && taken && other != m.ID {
		p.conflict(i, "slug_taken", fmt.Sprintf("the slug %s is, or was, that of %s", m.Slug, other), "change the slug in the package")
	}
	if other, taken := p.keys[in.noun.Prefix+" "+catalog.NameKey(m.Name)]; m.Name != "" && !in.free && taken && other != m.ID {
		p.conflict(i, "name_taken", fmt.Sprintf("the name is, but for case and spaces, that of %s", other), "change the name in the package, or take the stored record's id if both are the same thing")
	}
}

// follows reports whether the state m of a record was made from the state old.
func follows(m, old catalog.Meta) bool {
	if m.Revision == old.Revision {
		return m.Updated.Equal(old.Updated)
	}
	return m.Revision > old.Revision && m.Updated.After(old.Updated)
}

func (p *planner) applied(i int) bool {
	return p.rows[i].Action == Created || p.rows[i].Action == Updated
}

// missing turns records into conflicts that would refer to what is not there, and reports
// whether there were any. Those that refer to such a record follow it.
func (p *planner) missing() bool {
	todo := make([]int, len(p.incoming))
	for i := range todo {
		todo[i] = i
	}
	found := false
	for len(todo) > 0 {
		i := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		if p.applied(i) && p.dangles(i) {
			found = true
			todo = append(todo, p.users[named{p.incoming[i].table, p.incoming[i].meta.ID}]...)
		}
	}
	return found
}

// dangles makes a record a conflict if it refers to what is not there.
func (p *planner) dangles(i int) bool {
	in := p.incoming[i]
	for _, to := range in.refs {
		old, there := p.stored[to]
		j, comes := p.at[to]
		switch {
		case in.table == "prices" && to.table == "prices" && there && !sameOffer(in, old):
			p.conflict(i, "other_offer", "corrects "+string(to.id)+", which is stored as a price of another offer", "name a price of the same offer")
			return true
		case !there && !(comes && p.applied(j)):
			p.conflict(i, "reference_missing", fmt.Sprintf("refers to %s, which is left out", to.id), "settle the conflict of that record first")
			return true
		}
	}
	return false
}

// sameOffer reports whether two prices are of one offer, the first thing they refer to.
func sameOffer(a, b record) bool { return a.refs[0] == b.refs[0] }

// misfits turns records into conflicts after which an offer would sell what its item does not
// have, and reports whether there were any.
func (p *planner) misfits(stored, incoming catalog.Snapshot) bool {
	fills, parts := map[catalog.ID]catalog.Fill{}, map[catalog.ID]catalog.Part{}
	for id, f := range p.fills {
		fills[id] = f
	}
	for id, x := range p.parts {
		parts[id] = x
	}
	for id, f := range p.newFills {
		if p.applied(p.at[named{"fills", id}]) {
			fills[id] = f
		}
	}
	for id, x := range p.newParts {
		if p.applied(p.at[named{"parts", id}]) {
			parts[id] = x
		}
	}
	found := false
	for _, o := range incoming.Offers {
		i := p.at[named{"offers", o.ID}]
		if bad := misfit(o, fills, parts); p.applied(i) && bad != nil {
			p.conflict(i, "does_not_fit", bad.Detail, bad.Fix)
			found = true
		}
	}
	for _, o := range stored.Offers {
		if i, comes := p.at[named{"offers", o.ID}]; comes && p.applied(i) || misfit(o, fills, parts) == nil {
			continue
		}
		table := "fills"
		if o.ItemKind == catalog.PartItem {
			table = "parts"
		}
		if i, comes := p.at[named{table, o.ItemID}]; comes && p.applied(i) {
			p.conflict(i, "still_sold", fmt.Sprintf("the stored offer %s sells what the record would no longer have", o.Slug), "keep the size or length, or change that offer first")
			found = true
		}
	}
	return found
}

// similar names, for each fill that is new, stored fills that may be the same material.
func (p *planner) similar(stored, incoming catalog.Snapshot) {
	for _, f := range incoming.Fills {
		row := &p.rows[p.at[named{"fills", f.ID}]]
		if row.Action != Created {
			continue
		}
		for _, g := range stored.Fills {
			if len(row.Similar) < maxSimilar && catalog.SimilarFills(f, g) {
				row.Similar = append(row.Similar, g.Slug)
			}
		}
	}
}

// maxSimilar is the number of similar fills that a row names. Convention.
const maxSimilar = 5

// digest is the SHA-256 of all that the plan says.
func (p Plan) digest() string {
	h := sha256.New()
	fmt.Fprintf(h, "%d %s %s\n", p.Revision, p.Incoming, p.Choice)
	for _, r := range p.Rows {
		codes := make([]string, len(r.Reasons))
		for i, why := range r.Reasons {
			codes[i] = why.Code
		}
		fmt.Fprintf(h, "%s %s %s\n", r.ID, r.Action, strings.Join(codes, ","))
	}
	return hex.EncodeToString(h.Sum(nil))
}
