package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"sabinbook/internal/catalog"
)

// link is a reference of a record to another one.
type link struct {
	at       string // pointer of the member
	noun     catalog.Noun
	id       *catalog.ID // an id or a slug until it is resolved
	optional bool
}

// sourceLink is the reference of a record, or of a part of it, to its source.
func sourceLink(at string, id *catalog.ID) link {
	return link{at: at, noun: catalog.NounSource, id: id}
}

func fireLinks(declarations []catalog.FireDeclaration) []link {
	links := make([]link, len(declarations))
	for i := range declarations {
		links[i] = sourceLink(fmt.Sprintf("/fire_declarations/%d/source_id", i), &declarations[i].SourceID)
	}
	return links
}

// allLinks are the links of x and of its figures.
func (n *noun[T]) allLinks(x *T) []link {
	var all []link
	if n.figures != nil {
		for _, f := range n.figures(x) {
			if f.get() != nil {
				all = append(all, sourceLink("/"+f.field+"/source_id", f.source()))
			}
		}
	}
	if n.links != nil {
		all = append(all, n.links(x)...)
	}
	return all
}

// resolve puts ids in the place of slugs. The error is a *catalog.InvalidError that names
// all links which lead to no live record.
func resolve(ctx context.Context, tx *sql.Tx, links []link) error {
	type name struct{ prefix, ref string }
	found := map[name]catalog.Meta{}
	var v catalog.Faults
	for _, l := range links {
		if *l.id == "" {
			if !l.optional {
				v.Add(l.at, "required", "is missing", "give the id or slug of a "+l.noun.Name)
			}
			continue
		}
		key := name{l.noun.Prefix, string(*l.id)}
		m, seen := found[key]
		if !seen {
			var err error
			if m, err = find(ctx, tx, l.noun, key.ref); err != nil && !errors.Is(err, catalog.ErrNotFound) {
				return err
			}
			found[key] = m
		}
		switch {
		case m.ID == "":
			v.Add(l.at, "unknown_reference", fmt.Sprintf("there is no %s %q", l.noun.Name, key.ref), "give the id or slug of a stored "+l.noun.Name+", or add it first")
		case m.Deleted:
			v.Add(l.at, "deleted_reference", fmt.Sprintf("the %s %s is deleted", l.noun.Name, m.Slug), "restore it, or give another "+l.noun.Name)
		default:
			*l.id = m.ID
		}
	}
	return v.Err()
}
