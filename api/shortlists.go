package api

import (
	"context"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"net/http"
	"regexp"
	"slices"
	"strings"

	"github.com/oapi-codegen/runtime"

	paper "sabinbook/api/page"
	"sabinbook/internal/catalog"
)

// shortlists is what the mechanics of records need of shortlists, but for adding them and for the
// decoding of a patch, which needs the stored one.
func (s *Server) shortlists() *noun[catalog.Shortlist, Shortlist] {
	return &noun[catalog.Shortlist, Shortlist]{path: "/v1/shortlists/", schema: "Shortlist",
		meta: func(l catalog.Shortlist) catalog.Meta { return l.Meta }, rules: catalog.Shortlist.Validate, encode: encodeShortlist,
		read: func(ctx context.Context, ref string) (catalog.Shortlist, error) {
			return s.store.Shortlist(ctx, askerOf(ctx), ref)
		},
		replace: s.store.ReplaceShortlist, remove: s.store.DeleteShortlist, restore: s.store.RestoreShortlist, of: catalog.NounShortlist,
		find: func(ctx context.Context, _ catalog.Noun, ref string) (catalog.Meta, error) {
			return s.store.ShortlistMeta(ctx, askerOf(ctx), ref)
		}}
}

// askerOf is the member as whom somebody reads shortlists. Where reading is open, a token that by itself would not
// allow it, say of a script that only adds prices, reads no more than no token does.
func askerOf(ctx context.Context) string {
	c := callOf(ctx)
	if !c.token.Meets(c.op.need) {
		return ""
	}
	return c.token.Member
}

func encodeShortlist(l catalog.Shortlist) Shortlist {
	m := encodeMeta(l.Meta)
	keys := make([]string, len(l.Options))
	notes := []OptionNote{}
	for i, o := range l.Options {
		keys[i] = o.Key
		if o.Note != "" {
			notes = append(notes, OptionNote{Key: o.Key, Note: o.Note})
		}
	}
	return Shortlist{ID: m.id, Slug: string(l.Slug), Name: l.Name, Note: known(l.Note), Visibility: string(l.Visibility), Status: string(l.Status),
		OptionKeys: &keys, OptionNotes: notes, FrozenDigest: place("sha-256:" + l.Frozen),
		Revision: m.revision, CreateTime: m.created, UpdateTime: m.updated, UpdatedBy: m.by, CreatedBy: m.maker}
}

// decodeShortlist reads what is said of a stored shortlist; the options stay as they are.
func decodeShortlist(v *catalog.Faults, stored catalog.Shortlist, w Shortlist) catalog.Shortlist {
	l := stored
	l.Slug, l.Name, l.Note = catalog.Slug(w.Slug), w.Name, orZero(w.Note)
	l.Visibility, l.Status = catalog.Visibility(w.Visibility), catalog.Status(w.Status)
	l.Options = slices.Clone(stored.Options)
	for i := range l.Options {
		l.Options[i].Note = ""
	}
	for i, n := range w.OptionNotes {
		at := fmt.Sprintf("/option_notes/%d", i)
		k := slices.IndexFunc(l.Options, func(o catalog.KeptOption) bool { return o.Key == n.Key })
		switch {
		case k < 0:
			v.Add(at+"/key", "unknown_option", "is no option of this shortlist", "take a key from option_keys")
		case slices.ContainsFunc(w.OptionNotes[:i], func(before OptionNote) bool { return before.Key == n.Key }):
			v.Add(at+"/key", "repeated", "is named twice", "write one note for each option")
		case v.Text(at+"/note", n.Note, 1, catalog.LongestOptionNote):
			l.Options[k].Note = n.Note
		}
	}
	return l
}

var notInSlug = regexp.MustCompile(`[^a-z0-9]+`)

// slugOf makes a slug of a name; it is empty where the name has no letter of a slug.
func slugOf(name string) catalog.Slug {
	text := notInSlug.ReplaceAllString(strings.ToLower(name), "-")
	text = strings.TrimLeft(text, "-0123456789")
	return catalog.Slug(strings.TrimRight(text[:min(len(text), 63)], "-"))
}

// seenShortlist is the shortlist that a client names, if it is there for them.
func (s *Server) seenShortlist(ctx context.Context, ref string) (catalog.Shortlist, error) {
	return s.shortlists().load(ctx, ref)
}

// ownShortlist is the shortlist that a client names, if they may change it.
func (s *Server) ownShortlist(ctx context.Context, ref string) (catalog.Shortlist, error) {
	l, err := s.seenShortlist(ctx, ref)
	if err != nil {
		return l, err
	}
	return l, own(ctx, l.Meta)
}

// ListShortlists answers GET /v1/shortlists.
func (s *Server) ListShortlists(ctx context.Context, _ ListShortlistsRequestObject) (ListShortlistsResponseObject, error) {
	p, err := pageOf(ctx, func(ctx context.Context, q catalog.Query) (catalog.Page[catalog.Shortlist], error) {
		return s.store.Shortlists(ctx, askerOf(ctx), q)
	}, encodeShortlist)
	return ListShortlists200JSONResponse{ShortlistPageJSONResponse{ShortlistList{Items: p.items, Next: p.next, TotalCount: p.total}, ShortlistPageResponseHeaders{Link: p.link}}}, err
}

// GetShortlist answers GET /v1/shortlists/{id}.
func (s *Server) GetShortlist(ctx context.Context, in GetShortlistRequestObject) (GetShortlistResponseObject, error) {
	it, err := s.shortlists().get(ctx, in.ID)
	return GetShortlist200JSONResponse{ShortlistItemJSONResponse{it.body, ShortlistItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}

// PatchShortlist answers PATCH /v1/shortlists/{id}.
func (s *Server) PatchShortlist(ctx context.Context, in PatchShortlistRequestObject) (PatchShortlistResponseObject, error) {
	n := s.shortlists()
	it, err := n.change(ctx, in.ID, in.Params.IfMatch, func(stored catalog.Shortlist) (catalog.Shortlist, error) {
		n.decode = func(v *catalog.Faults, w Shortlist) catalog.Shortlist { return decodeShortlist(v, stored, w) }
		return n.patched(s.contract, stored, *in.Body)
	})
	return PatchShortlist200JSONResponse{ShortlistItemJSONResponse{it.body, ShortlistItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}

// DeleteShortlist answers DELETE /v1/shortlists/{id}.
func (s *Server) DeleteShortlist(ctx context.Context, in DeleteShortlistRequestObject) (DeleteShortlistResponseObject, error) {
	return DeleteShortlist204Response{}, s.shortlists().delete(ctx, in.ID, in.Params.IfMatch)
}

// RestoreShortlist answers POST /v1/shortlists/{id}/restore.
func (s *Server) RestoreShortlist(ctx context.Context, in RestoreShortlistRequestObject) (RestoreShortlistResponseObject, error) {
	it, err := s.shortlists().bringBack(ctx, in.ID)
	return RestoreShortlist200JSONResponse{ShortlistItemJSONResponse{it.body, ShortlistItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}

// CreateShortlist answers POST /v1/shortlists.
func (s *Server) CreateShortlist(ctx context.Context, in CreateShortlistRequestObject) (CreateShortlistResponseObject, error) {
	l := newShortlist(*in.Body)
	keys := make([]string, len(l.Options))
	for i, o := range l.Options {
		keys[i] = o.Key
	}
	if invalid := l.Validate(); invalid != nil {
		_, err := s.brief(ctx, in.Body.Question)
		if err != nil {
			err = below(err, "/question")
		}
		return nil, joined(err, invalid)
	}
	frozen, err := s.keep(ctx, in.Body.Question, keys)
	if err != nil {
		return nil, err
	}
	if l.Options, err = inPlaces(frozen, l.Options); err != nil {
		return nil, err
	}
	l, err = s.store.AddShortlist(ctx, memberOf(ctx), l, string(frozen))
	if err != nil {
		return nil, err
	}
	it := s.shortlists().item(l, "")
	return CreateShortlist201JSONResponse{ShortlistCreatedJSONResponse{it.body, ShortlistCreatedResponseHeaders{ETag: it.tag, Location: it.location}}}, nil
}

// newShortlist reads what is said of a new shortlist.
func newShortlist(w NewShortlist) catalog.Shortlist {
	l := catalog.Shortlist{Meta: catalog.Meta{Slug: catalog.Slug(orZero(w.Slug)), Name: w.Name}, Note: orZero(w.Note), Visibility: catalog.Group, Status: catalog.Open}
	if w.Slug == nil {
		l.Slug = slugOf(w.Name)
	}
	if w.Visibility != nil {
		l.Visibility = catalog.Visibility(*w.Visibility)
	}
	for _, o := range w.Options {
		l.Options = append(l.Options, catalog.KeptOption{Key: o.Key, Note: orZero(o.Note)})
	}
	return l
}

// checkShortlist is the check of a shortlist whose body breaks the contract elsewhere.
func (s *Server) checkShortlist(value any) []fault {
	var w NewShortlist
	if runtime.BindJSONValue(value, &w) != nil {
		return nil
	}
	_, err := s.briefOf(withoutStored(w.Question))
	if err != nil {
		err = below(err, "/question")
	}
	return faultsIn(joined(err, newShortlist(w).Validate()))
}

// inPlaces puts options into the order of the answer.
func inPlaces(frozen []byte, options []catalog.KeptOption) ([]catalog.KeptOption, error) {
	var part frozenShortlist
	if err := json.Unmarshal(frozen, &part); err != nil {
		return nil, fmt.Errorf("api: frozen part of a shortlist: %w", err)
	}
	out := make([]catalog.KeptOption, 0, len(options))
	for _, o := range part.Answer.Options {
		k := slices.IndexFunc(options, func(x catalog.KeptOption) bool { return x.Key == o.Key })
		if k < 0 {
			return nil, fmt.Errorf("api: frozen part of a shortlist: it has an option %s that was not asked for", o.Key)
		}
		out = append(out, options[k])
	}
	return out, nil
}

// document is a file on its way out.
type document struct {
	text        []byte
	media       string
	tag, digest string
	file        string // Content-Disposition
}

// sealed is a text with its tag and digest.
func sealed(text []byte, media, file string) document {
	sum := sha256.Sum256(text)
	return document{text: text, media: media, tag: `"` + hex.EncodeToString(sum[:16]) + `"`, digest: "sha-256=:" + base64.StdEncoding.EncodeToString(sum[:]) + ":", file: file}
}

// documentOf writes the document of a shortlist with its frozen part.
func documentOf(l catalog.Shortlist, frozen string) (document, error) {
	w := encodeShortlist(l)
	about := ShortlistAbout{ID: *w.ID, Slug: w.Slug, Name: w.Name, Note: w.Note, Status: w.Status, Revision: *w.Revision, KeptTime: *w.CreateTime, KeptBy: *w.CreatedBy}
	text, err := assemble([]byte(frozen), about, w.OptionNotes)
	if err != nil {
		return document{}, err
	}
	return sealed(text, "application/json", `attachment; filename="`+string(l.Slug)+`.json"`), nil
}

// send writes the document as it is: its bytes are what was digested.
func (d document) send(w http.ResponseWriter, more map[string]string) error {
	h := w.Header()
	h.Set("Content-Type", d.media)
	if d.media == htmlMedia {
		h.Set("Content-Security-Policy", paper.Policy())
	}
	h.Add("Vary", "Accept")
	h.Set("ETag", d.tag)
	h.Set("Repr-Digest", d.digest)
	h.Set("Content-Disposition", d.file)
	for name, value := range more {
		h.Set(name, value)
	}
	w.WriteHeader(http.StatusOK)
	_, err := w.Write(d.text)
	return err
}

// shortlistDocument is the answer of GetShortlistDocument.
type shortlistDocument struct {
	document
	moved *string
}

// VisitGetShortlistDocumentResponse writes the document.
func (d shortlistDocument) VisitGetShortlistDocumentResponse(w http.ResponseWriter) error {
	if d.moved != nil {
		return d.send(w, map[string]string{"Content-Location": *d.moved})
	}
	return d.send(w, nil)
}

// GetShortlistDocument answers GET /v1/shortlists/{id}/document.
func (s *Server) GetShortlistDocument(ctx context.Context, in GetShortlistDocumentRequestObject) (GetShortlistDocumentResponseObject, error) {
	seen, err := s.seenShortlist(ctx, in.ID)
	if err != nil {
		return nil, err
	}
	l, frozen, err := s.store.FrozenShortlist(ctx, askerOf(ctx), string(seen.ID))
	if err != nil {
		return nil, err
	}
	out := shortlistDocument{}
	if it := s.shortlists().item(l, in.ID); it.moved != nil {
		out.moved = place(*it.moved + "/document")
	}
	if out.document, err = documentOf(l, frozen); err == nil {
		out.document, err = out.in(callOf(ctx).form, in.Params.Key, in.Params.All)
	}
	return out, err
}
