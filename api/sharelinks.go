package api

import (
	"context"
	"net/http"
	"time"

	"sabinbook/internal/access"
	"sabinbook/internal/catalog"
)

// sharedPath is where share links lead. What follows it is secret.
const sharedPath = "/v1/shared/"

// decodeShare reads a new share link and applies its rules; the error names all faults.
func (s *Server) decodeShare(w ShareLink) (catalog.ShareLink, error) {
	now := s.opts.Now().UTC().Truncate(time.Millisecond)
	link := catalog.ShareLink{Expires: now.Add(catalog.UsualShare)}
	if w.ExpireTime != nil {
		v := &catalog.Faults{}
		end := decodeTime(v, "/expire_time", *w.ExpireTime, "for a link that ends in 14 days")
		if end == nil {
			return link, v.Err()
		}
		link.Expires = *end
	}
	return link, link.Validate(now)
}

func encodeShare(l catalog.ShareLink) ShareLink {
	w := ShareLink{ID: place(string(l.ID)), LastFour: place(l.LastFour), CreateTime: place(timeText(l.Created)), CreatedBy: place(l.CreatedBy), ExpireTime: place(timeText(l.Expires))}
	if l.Revoked != nil {
		w.RevokeTime = place(timeText(*l.Revoked))
	}
	return w
}

// keepNowhere forbids every cache to keep the answer.
func keepNowhere(ctx context.Context) { callOf(ctx).answer.header.Set("Cache-Control", "no-store") }

// ListShareLinks answers GET /v1/shortlists/{id}/share-links.
func (s *Server) ListShareLinks(ctx context.Context, in ListShareLinksRequestObject) (ListShareLinksResponseObject, error) {
	keepNowhere(ctx)
	l, err := s.ownShortlist(ctx, in.ID)
	if err != nil {
		return nil, err
	}
	p, err := pageOf(ctx, func(ctx context.Context, q catalog.Query) (catalog.Page[catalog.ShareLink], error) {
		return s.store.ShareLinks(ctx, askerOf(ctx), string(l.ID), q)
	}, encodeShare)
	return ListShareLinks200JSONResponse{ShareLinkPageJSONResponse{ShareLinkList{Items: p.items, Next: p.next, TotalCount: p.total}, ShareLinkPageResponseHeaders{Link: p.link}}}, err
}

// CreateShareLink answers POST /v1/shortlists/{id}/share-links, and alone tells the secret.
func (s *Server) CreateShareLink(ctx context.Context, in CreateShareLinkRequestObject) (CreateShareLinkResponseObject, error) {
	keepNowhere(ctx)
	l, err := s.ownShortlist(ctx, in.ID)
	if err != nil {
		return nil, err
	}
	link, err := s.decodeShare(*in.Body)
	if err != nil {
		return nil, err
	}
	secret, err := access.NewLink(s.opts.Random)
	if err != nil {
		return nil, err
	}
	link, err = s.store.AddShareLink(ctx, memberOf(ctx), string(l.ID), link, secret)
	if err != nil {
		return nil, err
	}
	w := encodeShare(link)
	w.Path = place(sharedPath + secret.Reveal())
	return CreateShareLink201JSONResponse{ShareLinkCreatedJSONResponse{Body: w}}, nil
}

// RevokeShareLink answers DELETE /v1/shortlists/{id}/share-links/{link}.
func (s *Server) RevokeShareLink(ctx context.Context, in RevokeShareLinkRequestObject) (RevokeShareLinkResponseObject, error) {
	l, err := s.ownShortlist(ctx, in.ID)
	if err != nil {
		return nil, err
	}
	if !catalog.NounShareLink.Is(in.Link) {
		return nil, catalog.ErrNotFound
	}
	_, err = s.store.RevokeShareLink(ctx, memberOf(ctx), string(l.ID), in.Link)
	return RevokeShareLink204Response{}, err
}

// sharedDocument is the answer of GetShared.
type sharedDocument struct{ document }

// VisitGetSharedResponse writes the document; no cache may keep it beyond the link.
func (d sharedDocument) VisitGetSharedResponse(w http.ResponseWriter) error {
	return d.send(w, map[string]string{"Cache-Control": "no-store"})
}

// GetShared answers GET /v1/shared/{secret}. Whatever does not lead anywhere is answered alike.
func (s *Server) GetShared(ctx context.Context, in GetSharedRequestObject) (GetSharedResponseObject, error) {
	secret, err := access.ParseLink(in.Secret)
	if err != nil {
		return nil, catalog.ErrNotFound
	}
	l, frozen, err := s.store.Shared(ctx, secret.Hash(), s.opts.Now())
	if err != nil {
		return nil, err
	}
	d, err := documentOf(l, frozen)
	if err == nil {
		d, err = d.in(callOf(ctx).form, in.Params.Key, in.Params.All)
	}
	return sharedDocument{d}, err
}
