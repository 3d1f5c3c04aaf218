package api

import (
	"context"
	"time"

	"github.com/oapi-codegen/runtime"

	"sabinbook/internal/access"
	"sabinbook/internal/catalog"
)

// decodeToken decodes a token and applies its rules; the error names all faults.
func (s *Server) decodeToken(w Token) (access.Token, error) {
	v := &catalog.Faults{}
	t := access.Token{Member: w.Member, Role: access.Role(w.Role)}
	for _, scope := range orZero(w.Scopes) {
		t.Scopes = append(t.Scopes, access.Scope(scope))
	}
	if w.ExpireTime != nil {
		t.Expires = decodeTime(v, "/expire_time", *w.ExpireTime, "for a token that never expires")
	}
	return t, joined(v.Err(), t.Validate(s.opts.Now()))
}

// decodeTime reads an instant to the millisecond. It is nil, with a fault, where the text tells none; without
// says what leaving it out means.
func decodeTime(v *catalog.Faults, at, text, without string) *time.Time {
	t, err := time.Parse(time.RFC3339Nano, text)
	if err != nil || t.Year() > 9999 {
		v.Add(at, "bad_time", "must be a time of RFC 3339, got "+quoted(text), "write it like 2027-11-02T00:00:00.000Z, or leave it out "+without)
		return nil
	}
	t = t.UTC().Truncate(time.Millisecond)
	return &t
}

// checkToken is the check of a token whose body breaks the contract elsewhere.
func (s *Server) checkToken(value any) []fault {
	var w Token
	if runtime.BindJSONValue(value, &w) != nil {
		return nil
	}
	_, err := s.decodeToken(w)
	return faultsIn(err)
}

func encodeToken(t access.Token) Token {
	w := Token{ID: place(string(t.ID)), Member: t.Member, Role: string(t.Role), LastFour: place(t.LastFour),
		CreateTime: place(timeText(t.Created)), CreatedBy: place(t.CreatedBy)}
	if len(t.Scopes) > 0 {
		w.Scopes = place(listOf(&t.Scopes, text[access.Scope]))
	}
	if t.Expires != nil {
		w.ExpireTime = place(timeText(*t.Expires))
	}
	if t.Revoked != nil {
		w.RevokeTime = place(timeText(*t.Revoked))
	}
	return w
}

// shown is a token with its secret, for the one answer that tells it.
func shown(t access.Token, secret access.Secret) Token {
	w := encodeToken(t)
	w.Secret = place(secret.Reveal())
	return w
}

// tokenRef checks the id of a token that a client sent; one that can be none is not looked up.
func tokenRef(id string) error {
	if !access.Noun.Is(id) {
		return catalog.ErrNotFound
	}
	return nil
}

// ListTokens lists tokens.
func (s *Server) ListTokens(ctx context.Context, _ ListTokensRequestObject) (ListTokensResponseObject, error) {
	p, err := pageOf(ctx, s.store.Tokens, encodeToken)
	return ListTokens200JSONResponse{TokenPageJSONResponse{TokenList{Items: p.items, Next: p.next, TotalCount: p.total}, TokenPageResponseHeaders{Link: p.link}}}, err
}

// CreateToken makes a token and tells its secret.
func (s *Server) CreateToken(ctx context.Context, in CreateTokenRequestObject) (CreateTokenResponseObject, error) {
	t, err := s.decodeToken(*in.Body)
	if err != nil {
		return nil, err
	}
	if err := mayGive(ctx, t); err != nil {
		return nil, err
	}
	secret, err := access.NewSecret(s.opts.Random)
	if err != nil {
		return nil, err
	}
	t, err = s.store.AddToken(ctx, memberOf(ctx), t, secret)
	if err != nil {
		return nil, err
	}
	return CreateToken201JSONResponse{TokenCreatedJSONResponse{shown(t, secret), TokenCreatedResponseHeaders{Location: "/v1/tokens/" + string(t.ID)}}}, nil
}

// GetToken answers GET /v1/tokens/{id}.
func (s *Server) GetToken(ctx context.Context, in GetTokenRequestObject) (GetTokenResponseObject, error) {
	if err := tokenRef(in.ID); err != nil {
		return nil, err
	}
	t, err := s.store.Token(ctx, in.ID)
	return GetToken200JSONResponse{TokenItemJSONResponse{Body: encodeToken(t)}}, err
}

// RevokeToken ends a token.
func (s *Server) RevokeToken(ctx context.Context, in RevokeTokenRequestObject) (RevokeTokenResponseObject, error) {
	if err := tokenRef(in.ID); err != nil {
		return nil, err
	}
	_, err := s.store.RevokeToken(ctx, in.ID)
	return RevokeToken204Response{}, err
}

// RotateToken gives a token another secret and tells it.
func (s *Server) RotateToken(ctx context.Context, in RotateTokenRequestObject) (RotateTokenResponseObject, error) {
	if err := tokenRef(in.ID); err != nil {
		return nil, err
	}
	t, err := s.store.Token(ctx, in.ID)
	if err != nil {
		return nil, err
	}
	if err := mayGive(ctx, t); err != nil { // its role and scopes never change
		return nil, err
	}
	secret, err := access.NewSecret(s.opts.Random)
	if err != nil {
		return nil, err
	}
	t, err = s.store.RotateToken(ctx, in.ID, secret)
	if err != nil {
		return nil, err
	}
	return RotateToken200JSONResponse{TokenItemJSONResponse{Body: shown(t, secret)}}, nil
}

// GetOwnToken answers GET /v1/tokens/self.
func (s *Server) GetOwnToken(ctx context.Context, _ GetOwnTokenRequestObject) (GetOwnTokenResponseObject, error) {
	return GetOwnToken200JSONResponse{TokenItemJSONResponse{Body: encodeToken(callOf(ctx).token)}}, nil
}
