package store_test

import (
	"crypto/rand"
	"errors"
	"fmt"
	"strings"
	"sync"
	"testing"
	"time"

	"sabinbook/internal/access"
	"sabinbook/internal/catalog"
	"sabinbook/store"
	"sabinbook/store/storetest"
)

func newSecret(t testing.TB) access.Secret {
	t.Helper()
	s, err := access.NewSecret(rand.Reader)
	must(t, err)
	return s
}

func TestTokensComeBack(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		now := stopped(s)
		before, err := s.Revision(ctx)
		must(t, err)
		end := now.Add(24 * time.Hour)
		for _, want := range []access.Token{
			{Member: "Ada", Role: access.Contributor, Scopes: []access.Scope{access.Read, access.Prices}, Expires: &end},
			{Member: "Bén", Role: access.Admin},
		} {
			secret := newSecret(t)
			added, err := s.AddToken(ctx, "keeper", want, secret)
			must(t, err)
			if !access.Noun.Is(string(added.ID)) {
				t.Errorf("id %s", added.ID)
			}
			want.ID, want.Created, want.CreatedBy, want.LastFour = added.ID, now, "keeper", secret.LastFour()
			equal(t, "the added token", want, added)
			got, err := s.Token(ctx, string(added.ID))
			must(t, err)
			equal(t, "the token by id", want, got)
			got, err = s.TokenByHash(ctx, secret.Hash())
			must(t, err)
			equal(t, "the token by hash", want, got)

			next := newSecret(t)
			got, err = s.RotateToken(ctx, string(added.ID), next)
			must(t, err)
			want.LastFour = next.LastFour()
			equal(t, "the rotated token", want, got)
			if _, err := s.TokenByHash(ctx, secret.Hash()); !errors.Is(err, catalog.ErrNotFound) {
				t.Errorf("the old secret: %v", err)
			}
			got, err = s.RevokeToken(ctx, string(added.ID))
			must(t, err)
			want.Revoked = &now
			equal(t, "the revoked token", want, got)
			s.Now = func() time.Time { return noon.Add(time.Hour) }
			got, err = s.RevokeToken(ctx, string(added.ID))
			must(t, err)
			equal(t, "the token revoked twice", want, got)
			stopped(s)
			got, err = s.TokenByHash(ctx, next.Hash())
			must(t, err)
			equal(t, "the revoked token by hash", want, got)
			if _, err := s.RotateToken(ctx, string(added.ID), newSecret(t)); !errors.Is(err, catalog.ErrConflict) {
				t.Errorf("rotating a revoked token: %v", err)
			}
		}
		for _, err := range []error{second(s.Token(ctx, "token_none")), second(s.RevokeToken(ctx, "token_none")), second(s.RotateToken(ctx, "token_none", newSecret(t))), second(s.TokenByHash(ctx, "none"))} {
			if !errors.Is(err, catalog.ErrNotFound) {
				t.Errorf("a token that is not there: %v", err)
			}
		}
		if after, err := s.Revision(ctx); err != nil || after != before {
			t.Errorf("tokens took the catalog from revision %d to %d, %v", before, after, err)
		}
	})
}

func second[T any](_ T, err error) error { return err }

func TestAnExpiredTokenGetsNoOtherSecret(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		now := stopped(s)
		added, err := s.AddToken(ctx, "keeper", access.Token{Member: "ada", Role: access.Reader, Expires: &now}, newSecret(t))
		must(t, err)
		if _, err := s.RotateToken(ctx, string(added.ID), newSecret(t)); !errors.Is(err, catalog.ErrConflict) {
			t.Error(err)
		}
	})
}

func TestTokensAreListed(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		for i := range 5 {
			_, err := s.AddToken(ctx, "keeper", access.Token{Member: fmt.Sprintf("m%d", i%2), Role: access.Reader}, newSecret(t))
			must(t, err)
		}
		q := catalog.Query{Limit: 2, Count: true, Any: []catalog.AnyOf{{Field: "member", Values: []string{"m0"}}}, Sort: []catalog.SortKey{{Field: "create_time"}}}
		seen := map[catalog.ID]bool{}
		for pages := 1; ; pages++ {
			page, err := s.Tokens(ctx, q)
			must(t, err)
			for _, token := range page.Items {
				if token.Member != "m0" || seen[token.ID] {
					t.Errorf("%+v", token)
				}
				seen[token.ID] = true
			}
			if page.Total != 3 {
				t.Errorf("total %d", page.Total)
			}
			if len(page.Next) == 0 {
				if pages != 2 || len(seen) != 3 {
					t.Errorf("%d tokens on %d pages", len(seen), pages)
				}
				break
			}
			q.After = page.Next
		}
	})
}

// What is stored of a token does not hold its secret.
func TestNoSecretIsStored(t *testing.T) {
	eachURL(t, func(t *testing.T, url string) {
		s := opened(t, url)
		must(t, s.Migrate(ctx))
		secret := newSecret(t)
		_, err := s.AddToken(ctx, "keeper", access.Token{Member: "ada", Role: access.Reader}, secret)
		must(t, err)
		body := secret.Reveal()[len(access.Prefix) : len(access.Prefix)+32]
		rows := lines(t, raw(t, url), `SELECT * FROM member_token`)
		if len(rows) != 1 || strings.Contains(rows[0], body) || !strings.Contains(rows[0], secret.Hash()) {
			t.Errorf("%v", rows)
		}
	})
}

// Processes that start together on an empty database make one admin token.
func TestStartersMakeOneAdmin(t *testing.T) {
	eachURL(t, func(t *testing.T, url string) {
		must(t, opened(t, url).Migrate(ctx))
		const starters = 8
		var group sync.WaitGroup
		made := make([]bool, starters)
		errs := make([]error, starters)
		for i := range starters {
			s, secret := opened(t, url), newSecret(t)
			group.Go(func() {
				made[i], errs[i] = s.FirstAdmin(ctx, "sabinbook", access.Token{Member: "keeper", Role: access.Admin}, secret)
			})
		}
		group.Wait()
		count := 0
		for i := range starters {
			must(t, errs[i])
			if made[i] {
				count++
			}
		}
		page, err := opened(t, url).Tokens(ctx, catalog.Query{})
		must(t, err)
		if count != 1 || len(page.Items) != 1 || page.Items[0].Role != access.Admin {
			t.Errorf("%d starters made a token, stored are %+v", count, page.Items)
		}
	})
}

// A database whose only token has ended makes no other by itself: its keeper does.
func TestAnEndedTokenIsNoEmptyDatabase(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		added, err := s.AddToken(ctx, "keeper", access.Token{Member: "ada", Role: access.Admin}, newSecret(t))
		must(t, err)
		_, err = s.RevokeToken(ctx, string(added.ID))
		must(t, err)
		if made, err := s.FirstAdmin(ctx, "sabinbook", access.Token{Member: "keeper", Role: access.Admin}, newSecret(t)); made || err != nil {
			t.Error(made, err)
		}
	})
}

func TestMetaFindsDeletedRecords(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		filled(t, s)
		f, err := s.AddFill(ctx, "ada", newFill("one"))
		must(t, err)
		must(t, s.DeleteFill(ctx, "ben", "one", 1))
		m, err := s.Meta(ctx, catalog.NounFill, "one")
		must(t, err)
		if m.ID != f.ID || m.CreatedBy != "ada" || m.UpdatedBy != "ben" || !m.Deleted {
			t.Errorf("%+v", m)
		}
	})
}
