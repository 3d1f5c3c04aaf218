package api

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"net/http"

	"github.com/go-json-experiment/json/jsontext"
	"github.com/labstack/echo/v4"

	"sabinbook/internal/access"
	"sabinbook/internal/catalog"
)

const keyHeader = "Idempotency-Key"

// keyOf is the key of a request; none for one without, and for a trial, which keeps nothing.
func (op *operation) keyOf(c *call, r *http.Request, body content) (access.Key, bool, error) {
	given := r.Header.Values(keyHeader)
	if len(given) == 0 || !op.keyed || c.query.Get("dry_run") == "true" {
		return access.Key{}, false, nil
	}
	print, err := fingerprint(op.media, c.query.Encode(), body.text)
	return access.Key{Scope: digest(string(c.token.ID), r.Method, r.URL.Path), Text: given[0], Fingerprint: print}, true, err
}

// keyFaults are those of the header that the contract's validator does not see.
func (op *operation) keyFaults(r *http.Request) []fault {
	given := r.Header.Values(keyHeader)
	bad := fault{header: keyHeader, code: "bad_header"}
	switch {
	case len(given) == 0:
		return nil
	case r.Method == http.MethodPost && (op.need.Scope == access.Tokens || op.id == "createShareLink"):
		bad.detail, bad.fix = "cannot be used where the answer tells a secret: secrets are kept nowhere", "leave it out; when no answer came, look up what was made and revoke it"
	case !op.keyed:
		return nil
	case len(given) > 1:
		bad.detail, bad.fix = fmt.Sprintf("is given %d times", len(given)), "give it once"
	default:
		return nil
	}
	return []fault{bad}
}

// fingerprint is equal for requests that say the same: JSON in its canonical form (RFC 8785),
// everything else byte by byte, with its media type.
func fingerprint(media, query string, body []byte) (string, error) {
	if media == "application/json" {
		canonical := jsontext.Value(body).Clone()
		if err := canonical.Canonicalize(); err != nil {
			return "", fmt.Errorf("api: fingerprint: %w", err)
		}
		body = canonical
	}
	return digest(media, query, string(body)), nil
}

// digest is the SHA-256 of texts, with the end of each marked.
func digest(texts ...string) string {
	h := sha256.New()
	for _, text := range texts {
		fmt.Fprintf(h, "%d:%s", len(text), text)
	}
	return hex.EncodeToString(h.Sum(nil))
}

// once carries out a request with a key unless that was done before, and keeps its answer together
// with the change. A request that is refused keeps nothing.
func (s *Server) once(c echo.Context, key access.Key, next echo.HandlerFunc) error {
	r := c.Request()
	if _, begun := s.running.LoadOrStore(key.Scope+key.Text, true); begun {
		return catalog.ErrKeyUsed
	}
	defer s.running.Delete(key.Scope + key.Text)
	if done, err := s.replay(r.Context(), c.Response(), key); done || err != nil {
		return err
	}
	ctx := s.store.Hold(r.Context(), key)
	defer s.store.Release(ctx)
	c.SetRequest(r.WithContext(ctx))
	err := next(c)
	a := callOf(ctx).answer
	if err == nil {
		err = s.store.Keep(ctx, access.Answer{Fingerprint: key.Fingerprint, Status: a.status, ETag: a.header.Get("ETag"), Location: a.header.Get("Location"),
			ContentLocation: a.header.Get("Content-Location"), ContentType: a.header.Get("Content-Type"), Body: a.body.String()})
	}
	if err == nil {
		return nil
	}
	s.store.Release(ctx)
	a.forget(c.Response())
	if kind, _ := problemOf(err); kind.status < http.StatusInternalServerError {
		// Another process may have carried the same request out meanwhile, which then stands in the way of this one.
		if done, err := s.replay(r.Context(), c.Response(), key); done || err != nil {
			return err
		}
	}
	return err
}

// replay answers with what is kept for the key, and reports whether there was anything.
func (s *Server) replay(ctx context.Context, to *echo.Response, key access.Key) (bool, error) {
	kept, err := s.store.KeptAnswer(ctx, key)
	switch {
	case errors.Is(err, catalog.ErrNotFound):
		return false, nil
	case err != nil:
		return false, err
	case kept.Fingerprint != key.Fingerprint:
		return false, &requestError{kind: problemKeyReused, faults: []fault{{header: keyHeader, code: "key_reused",
			detail: "was used for a request with another body or query, which was carried out", fix: "give every new request a key of its own"}}}
	}
	for name, value := range map[string]string{"ETag": kept.ETag, "Location": kept.Location, "Content-Location": kept.ContentLocation,
		"Content-Type": kept.ContentType, "Idempotency-Replayed": "true"} {
		if value != "" {
			to.Header().Set(name, value)
		}
	}
	to.WriteHeader(kept.Status)
	_, err = to.Write([]byte(kept.Body))
	return true, err
}

// forget takes back what a handler has answered and nobody was told.
func (a *answer) forget(r *echo.Response) {
	for _, name := range []string{"ETag", "Location", "Content-Location", "Content-Type"} {
		a.header.Del(name)
	}
	a.status, r.Committed, r.Size = 0, false, 0
	a.body.Reset()
}
