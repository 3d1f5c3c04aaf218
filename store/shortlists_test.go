package store_test

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"sabinbook/internal/catalog"
	"sabinbook/store"
	"sabinbook/store/storetest"
)

const frozen = `{"answer":{"options":[]},"note":"Ω – to the byte  "}`

func newShortlist(slug string, v catalog.Visibility) catalog.Shortlist {
	return catalog.Shortlist{Meta: catalog.Meta{Slug: catalog.Slug(slug), Name: "Brass room Ω"}, Note: "for\nTuesday", Visibility: v, Status: catalog.Open,
		Options: []catalog.KeptOption{{Key: "rock-wool-45+loose-knit", Note: "the cheap one"}, {Key: "hemp+loose-knit"}}}
}

// keep stores a shortlist of a member.
func keep(t testing.TB, s *store.Store, by, slug string, v catalog.Visibility) catalog.Shortlist {
	t.Helper()
	l, err := s.AddShortlist(ctx, by, newShortlist(slug, v), frozen)
	must(t, err)
	return l
}

func TestShortlistsComeBack(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		now := stopped(s)
		before, err := s.Revision(ctx)
		must(t, err)
		for _, v := range []catalog.Visibility{catalog.Group, catalog.Private} {
			got := keep(t, s, "ada", "brass-"+string(v), v)
			want := newShortlist("brass-"+string(v), v)
			want.Meta = catalog.Meta{ID: got.ID, Slug: want.Slug, Name: want.Name, Revision: 1, Created: now, Updated: now, UpdatedBy: "ada", CreatedBy: "ada"}
			want.Frozen = fmt.Sprintf("%x", sha256.Sum256([]byte(frozen)))
			equal(t, "the added shortlist", want, got)
			must(t, want.Validate())
			for _, ref := range []string{string(got.ID), string(got.Slug)} {
				read, err := s.Shortlist(ctx, "ada", ref)
				must(t, err)
				equal(t, "the shortlist "+ref, want, read)
				read, text, err := s.FrozenShortlist(ctx, "ada", ref)
				must(t, err)
				equal(t, "the shortlist "+ref, want, read)
				equal(t, "its frozen part", frozen, text)
			}
			page, err := s.Shortlists(ctx, "ada", catalog.Query{Any: []catalog.AnyOf{{Field: "visibility", Values: []string{string(v)}}}, Name: "BRASS room"})
			must(t, err)
			equal(t, "the listed shortlist", []catalog.Shortlist{want}, page.Items)

			next := want
			next.Slug, next.Name, next.Note, next.Status = want.Slug+"-2", "Other", "", catalog.Built
			next.Options = []catalog.KeptOption{{Key: want.Options[0].Key}, {Key: want.Options[1].Key, Note: "the kind one"}}
			s.Now = func() time.Time { return noon.Add(time.Hour) }
			got, err = s.ReplaceShortlist(ctx, "ada", string(want.Slug), 1, next)
			must(t, err)
			next.Revision, next.Updated = 2, now.Add(time.Hour)
			equal(t, "the replaced shortlist", next, got)
			former, err := s.Shortlist(ctx, "ada", string(want.Slug))
			must(t, err)
			equal(t, "the shortlist by its former slug", next, former)
			stopped(s)

			stale := new(catalog.StaleError)
			if _, err := s.ReplaceShortlist(ctx, "ada", string(got.ID), 1, next); !errors.As(err, &stale) || stale.Current.Revision != 2 {
				t.Errorf("replacing an older revision: %v", err)
			}
			if err := s.DeleteShortlist(ctx, "ada", string(got.ID), 1); !errors.As(err, &stale) {
				t.Errorf("deleting an older revision: %v", err)
			}
			next.Options = next.Options[:1]
			equal(t, "fewer options", []string{"/options frozen"}, faultsAt(second(s.ReplaceShortlist(ctx, "ada", string(got.ID), 2, next))))
		}
		if after, err := s.Revision(ctx); err != nil || after != before {
			t.Errorf("shortlists took the catalog from revision %d to %d, %v", before, after, err)
		}
	})
}

// Whatever is asked by somebody who does not see a shortlist, the answer is that of a store without it.
func TestAPrivateShortlistIsNotThere(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		l := keep(t, s, "ada", "secret", catalog.Private)
		l.Slug = "known"
		l, err := s.ReplaceShortlist(ctx, "ada", "secret", 1, l)
		must(t, err)
		c, err := s.AddComment(ctx, "ada", "known", catalog.Comment{Text: "mine"})
		must(t, err)
		link, err := s.AddShareLink(ctx, "ada", "known", catalog.ShareLink{Expires: noon}, newSecret(t))
		must(t, err)
		gone := keep(t, s, "ada", "gone", catalog.Private)
		must(t, s.DeleteShortlist(ctx, "ada", "gone", 1))
		before := fmt.Sprint(everything(t, s))
		for _, asker := range []string{"ben", "", "ADA", "ada "} {
			for _, ref := range []string{string(l.ID), "known", "secret", string(gone.ID), "gone"} {
				for name, err := range map[string]error{
					"read":     second(s.Shortlist(ctx, asker, ref)),
					"meta":     second(s.ShortlistMeta(ctx, asker, ref)),
					"frozen":   func() error { _, _, err := s.FrozenShortlist(ctx, asker, ref); return err }(),
					"replace":  second(s.ReplaceShortlist(ctx, asker, ref, 0, newShortlist("known", catalog.Group))),
					"stale":    second(s.ReplaceShortlist(ctx, asker, ref, 9, newShortlist("known", catalog.Group))),
					"delete":   s.DeleteShortlist(ctx, asker, ref, 0),
					"restore":  second(s.RestoreShortlist(ctx, asker, ref)),
					"comment":  second(s.AddComment(ctx, asker, ref, catalog.Comment{Text: "?"})),
					"read c":   second(s.Comment(ctx, asker, ref, string(c.ID))),
					"list c":   second(s.Comments(ctx, asker, ref, catalog.Query{})),
					"delete c": s.DeleteComment(ctx, asker, ref, string(c.ID)),
					"vote":     second(s.PutVote(ctx, asker, ref, catalog.Vote{Key: "no such"})),
					"withdraw": s.WithdrawVote(ctx, asker, ref),
					"votes":    func() error { _, _, err := s.Votes(ctx, asker, ref); return err }(),
					"share":    second(s.AddShareLink(ctx, asker, ref, catalog.ShareLink{Expires: noon}, newSecret(t))),
					"shares":   second(s.ShareLinks(ctx, asker, ref, catalog.Query{})),
					"revoke":   second(s.RevokeShareLink(ctx, asker, ref, string(link.ID))),
				} {
					if !errors.Is(err, catalog.ErrNotFound) {
						t.Errorf("%s by %q of %s: %v", name, asker, ref, err)
					}
				}
			}
			for _, q := range []catalog.Query{{Count: true}, {Count: true, Name: "brass"}, {Count: true, Any: []catalog.AnyOf{{Field: "created_by", Values: []string{"ada"}}}},
				{Count: true, Any: []catalog.AnyOf{{Field: "visibility", Values: []string{"private"}}}}} {
				page, err := s.Shortlists(ctx, asker, q)
				if err != nil || len(page.Items) > 0 || page.Total > 0 {
					t.Errorf("%q lists %d, counts %d, %v", asker, len(page.Items), page.Total, err)
				}
			}
		}
		equal(t, "what is stored", before, fmt.Sprint(everything(t, s)))
	})
}

// everything is what is stored of the shortlists that ada sees.
func everything(t testing.TB, s *store.Store) []any {
	t.Helper()
	var all []any
	page, err := s.Shortlists(ctx, "ada", catalog.Query{})
	must(t, err)
	for _, l := range page.Items {
		comments, err := s.Comments(ctx, "ada", string(l.ID), catalog.Query{})
		must(t, err)
		_, votes, err := s.Votes(ctx, "ada", string(l.ID))
		must(t, err)
		links, err := s.ShareLinks(ctx, "ada", string(l.ID), catalog.Query{})
		must(t, err)
		all = append(all, l, comments.Items, votes, links.Items)
	}
	return all
}

// A slug tells of no private shortlist: each member may take it, and so may the group.
func TestSlugsTellOfNoPrivateShortlist(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		mine := keep(t, s, "ada", "brass", catalog.Private)
		theirs := keep(t, s, "ben", "brass", catalog.Private)
		group := keep(t, s, "ben", "brass", catalog.Group)
		for asker, want := range map[string]catalog.ID{"ada": mine.ID, "ben": theirs.ID, "cid": group.ID, "": group.ID} {
			if got, err := s.Shortlist(ctx, asker, "brass"); err != nil || got.ID != want {
				t.Errorf("%q is led to %s (%v), want %s", asker, got.ID, err, want)
			}
		}
		for by, v := range map[string]catalog.Visibility{"ada": catalog.Private, "cid": catalog.Group} {
			_, err := s.AddShortlist(ctx, by, newShortlist("brass", v), frozen)
			clash(t, err, "slug", "brass")
		}

		// Going into the group it meets the one there.
		mine.Visibility = catalog.Group
		_, err := s.ReplaceShortlist(ctx, "ada", string(mine.ID), 1, mine)
		clash(t, err, "slug", "brass")
		mine.Slug = "brass-2"
		mine, err = s.ReplaceShortlist(ctx, "ada", string(mine.ID), 1, mine)
		must(t, err)
		if got, err := s.Shortlist(ctx, "ada", "brass"); err != nil || got.ID != group.ID {
			t.Errorf("the former private slug leads to %s, %v", got.ID, err)
		}

		// A former slug goes with its shortlist, out of sight and back.
		mine.Slug = "brass-3"
		mine, err = s.ReplaceShortlist(ctx, "ada", string(mine.ID), 2, mine)
		must(t, err)
		mine.Visibility = catalog.Private
		mine, err = s.ReplaceShortlist(ctx, "ada", string(mine.ID), 3, mine)
		must(t, err)
		for _, slug := range []string{"brass-2", "brass-3"} {
			if got, err := s.Shortlist(ctx, "ada", slug); err != nil || got.ID != mine.ID {
				t.Errorf("%s: %v", slug, err)
			}
			if _, err := s.Shortlist(ctx, "ben", slug); !errors.Is(err, catalog.ErrNotFound) {
				t.Errorf("%s still leads others: %v", slug, err)
			}
		}
		taken := keep(t, s, "ben", "brass-2", catalog.Group)
		mine.Visibility = catalog.Group
		mine, err = s.ReplaceShortlist(ctx, "ada", string(mine.ID), 4, mine)
		must(t, err)
		for slug, want := range map[string]catalog.ID{"brass-2": taken.ID, "brass-3": mine.ID} {
			if got, err := s.Shortlist(ctx, "cid", slug); err != nil || got.ID != want {
				t.Errorf("%s leads to %s, %v", slug, got.ID, err)
			}
		}

		// Only the maker hides a shortlist.
		mine.Visibility = catalog.Private
		equal(t, "hiding another's shortlist", []string{"/visibility not_yours"}, faultsAt(second(s.ReplaceShortlist(ctx, "ben", string(mine.ID), 0, mine))))
	})
}

func TestDeletedShortlistsCanBeRestored(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		l := keep(t, s, "ada", "brass", catalog.Group)
		secret := newSecret(t)
		_, err := s.AddShareLink(ctx, "ada", "brass", catalog.ShareLink{Expires: noon.Add(time.Hour)}, secret)
		must(t, err)
		must(t, s.DeleteShortlist(ctx, "ben", "brass", 1))
		_, _, shared := s.Shared(ctx, secret.Hash(), noon)
		for _, err := range []error{second(s.Shortlist(ctx, "ada", "brass")), second(s.Comments(ctx, "ada", "brass", catalog.Query{})), s.DeleteShortlist(ctx, "ada", "brass", 0), shared} {
			if !errors.Is(err, catalog.ErrNotFound) {
				t.Errorf("a deleted shortlist: %v", err)
			}
		}
		page, err := s.Shortlists(ctx, "ada", catalog.Query{Count: true})
		if err != nil || page.Total != 0 || len(page.Items) != 0 {
			t.Errorf("%+v, %v", page, err)
		}
		_, err = s.AddShortlist(ctx, "ben", newShortlist("brass", catalog.Group), frozen)
		clash(t, err, "slug", "deleted")
		m, err := s.ShortlistMeta(ctx, "ada", "brass")
		if err != nil || !m.Deleted || m.CreatedBy != "ada" {
			t.Errorf("%+v, %v", m, err)
		}
		back, err := s.RestoreShortlist(ctx, "cid", "brass")
		if err != nil || back.Revision != 3 || back.UpdatedBy != "cid" || back.Deleted {
			t.Errorf("%+v, %v", back, err)
		}
		again, err := s.RestoreShortlist(ctx, "ben", "brass")
		must(t, err)
		equal(t, "restored twice", back, again)
		back.Meta = l.Meta
		equal(t, "the restored shortlist", l, back)
		if _, _, err := s.Shared(ctx, secret.Hash(), noon); err != nil {
			t.Errorf("its link: %v", err)
		}
	})
}

func TestShortlistsArePagedAndSorted(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		var want []string
		for i := range 7 {
			keep(t, s, "ben", fmt.Sprintf("hidden-%d", i), catalog.Private)
			keep(t, s, "ada", fmt.Sprintf("seen-%d", i), []catalog.Visibility{catalog.Group, catalog.Private}[i%2])
			want = append([]string{fmt.Sprintf("seen-%d", i)}, want...)
		}
		for _, limit := range []int{1, 2, 3, 50} {
			var got []string
			q := catalog.Query{Limit: limit, Count: true, Sort: []catalog.SortKey{{Field: "slug", Down: true}}}
			for {
				page, err := s.Shortlists(ctx, "ada", q)
				must(t, err)
				if page.Total != 7 {
					t.Errorf("total %d", page.Total)
				}
				for _, l := range page.Items {
					got = append(got, string(l.Slug))
				}
				if q.After = page.Next; len(page.Next) == 0 {
					break
				}
			}
			equal(t, "slugs", want, got)
		}
		equal(t, "an unknown filter", []string{"/frozen unknown_field"}, faultsAt(second(s.Shortlists(ctx, "ada", catalog.Query{Any: []catalog.AnyOf{{Field: "frozen", Values: []string{"x"}}}}))))
	})
}

func TestCommentsAndVotes(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		now := stopped(s)
		l := keep(t, s, "ada", "brass", catalog.Group)
		other := keep(t, s, "ada", "other", catalog.Group)
		var texts []string
		var last catalog.Comment
		for i := range 5 {
			c := catalog.Comment{Text: fmt.Sprintf("Line\n%d – Ω", i)}
			got, err := s.AddComment(ctx, []string{"ben", "cid"}[i%2], "brass", c)
			must(t, err)
			if !catalog.NounComment.Is(string(got.ID)) || got.Text != c.Text || !got.Created.Equal(now) || got.CreatedBy != []string{"ben", "cid"}[i%2] {
				t.Errorf("%+v", got)
			}
			texts, last = append(texts, c.Text), got
		}
		var got []string
		q := catalog.Query{Limit: 2, Count: true}
		for {
			page, err := s.Comments(ctx, "dan", string(l.ID), q)
			must(t, err)
			for _, c := range page.Items {
				got = append(got, c.Text)
			}
			if q.After = page.Next; len(page.Next) == 0 || page.Total != 5 {
				break
			}
		}
		equal(t, "comments", texts, got)
		if _, err := s.Comment(ctx, "ada", string(other.ID), string(last.ID)); !errors.Is(err, catalog.ErrNotFound) {
			t.Errorf("a comment on another shortlist: %v", err)
		}
		if err := s.DeleteComment(ctx, "ada", "other", string(last.ID)); !errors.Is(err, catalog.ErrNotFound) {
			t.Errorf("a comment on another shortlist: %v", err)
		}
		must(t, s.DeleteComment(ctx, "ben", "brass", string(last.ID)))
		if err := s.DeleteComment(ctx, "ben", "brass", string(last.ID)); !errors.Is(err, catalog.ErrNotFound) {
			t.Errorf("deleted twice: %v", err)
		}

		for _, b := range []catalog.Vote{{Member: "cid", Key: l.Options[0].Key, Note: "first"}, {Member: "ben", Key: l.Options[1].Key}, {Member: "cid", Note: "none of them"}, {Member: "dan", Key: l.Options[1].Key, Note: "n"}} {
			got, err := s.PutVote(ctx, b.Member, "brass", b)
			must(t, err)
			b.Voted = now
			equal(t, "the vote", b, got)
		}
		equal(t, "a vote for another's option", []string{"/key unknown_option"}, faultsAt(second(s.PutVote(ctx, "ben", "brass", catalog.Vote{Key: "felt+felt"}))))
		_, votes, err := s.Votes(ctx, "", "brass")
		must(t, err)
		equal(t, "votes", []catalog.Vote{{Member: "ben", Key: l.Options[1].Key, Voted: now}, {Member: "cid", Note: "none of them", Voted: now}, {Member: "dan", Key: l.Options[1].Key, Note: "n", Voted: now}}, votes)
		must(t, s.WithdrawVote(ctx, "ben", "brass"))
		if err := s.WithdrawVote(ctx, "ben", "brass"); !errors.Is(err, catalog.ErrNotFound) {
			t.Errorf("withdrawn twice: %v", err)
		}
		if kept, err := s.Shortlist(ctx, "ada", "brass"); err != nil || kept.Revision != 1 {
			t.Errorf("comments and votes took the shortlist to revision %d, %v", kept.Revision, err)
		}
	})
}

func TestShareLinks(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		now := stopped(s)
		l := keep(t, s, "ada", "brass", catalog.Group)
		end := now.Add(time.Hour)
		mine, theirs := newSecret(t), newSecret(t)
		link, err := s.AddShareLink(ctx, "ada", "brass", catalog.ShareLink{Expires: end}, mine)
		must(t, err)
		equal(t, "the link", catalog.ShareLink{ID: link.ID, LastFour: mine.LastFour(), Created: now, CreatedBy: "ada", Expires: end}, link)
		_, err = s.AddShareLink(ctx, "ben", "brass", catalog.ShareLink{Expires: end}, theirs)
		must(t, err)
		leads := func(secretHash string, at time.Time) bool {
			t.Helper()
			got, text, err := s.Shared(ctx, secretHash, at)
			if err == nil && (got.ID != l.ID || text != frozen) {
				t.Errorf("leads to %+v", got)
			}
			if err != nil && !errors.Is(err, catalog.ErrNotFound) {
				t.Error(err)
			}
			return err == nil
		}
		for _, c := range []struct {
			hash string
			at   time.Time
			want bool
		}{{mine.Hash(), now, true}, {mine.Hash(), end.Add(-time.Millisecond), true}, {mine.Hash(), end, false}, {theirs.Hash(), now, true}, {newSecret(t).Hash(), now, false}, {"", now, false}} {
			if got := leads(c.hash, c.at); got != c.want {
				t.Errorf("at %s: %v, want %v", c.at, got, c.want)
			}
		}

		// Made private by its maker, it is no longer shared by others.
		l.Visibility = catalog.Private
		_, err = s.ReplaceShortlist(ctx, "ada", "brass", 1, l)
		must(t, err)
		if !leads(mine.Hash(), now) || leads(theirs.Hash(), now) {
			t.Error("a private shortlist has a link of another member, or lost that of its maker")
		}
		link, err = s.RevokeShareLink(ctx, "ada", "brass", string(link.ID))
		if err != nil || link.Revoked == nil || !link.Revoked.Equal(now) || leads(mine.Hash(), now) {
			t.Errorf("%+v, %v", link, err)
		}
		s.Now = func() time.Time { return noon.Add(time.Minute) }
		again, err := s.RevokeShareLink(ctx, "ada", "brass", string(link.ID))
		must(t, err)
		equal(t, "revoked twice", link, again)
		page, err := s.ShareLinks(ctx, "ada", "brass", catalog.Query{Count: true})
		if err != nil || page.Total != 2 || page.Items[0].CreatedBy != "ada" || page.Items[1].Revoked == nil {
			t.Errorf("%+v, %v", page, err)
		}
	})
}

// What is stored of a link does not hold its secret, and a frozen part that was changed is not shown.
func TestWhatIsStoredOfShortlists(t *testing.T) {
	eachURL(t, func(t *testing.T, url string) {
		s := opened(t, url)
		must(t, s.Migrate(ctx))
		keep(t, s, "ada", "brass", catalog.Private)
		secret := newSecret(t)
		_, err := s.AddShareLink(ctx, "ada", "brass", catalog.ShareLink{Expires: noon}, secret)
		must(t, err)
		db := raw(t, url)
		rows := lines(t, db, `SELECT * FROM share_link`)
		if len(rows) != 1 || strings.Contains(rows[0], secret.Reveal()[6:38]) || !strings.Contains(rows[0], secret.Hash()) {
			t.Errorf("%v", rows)
		}
		_, err = db.ExecContext(ctx, `UPDATE shortlist SET frozen = replace(frozen, 'byte', 'bite')`)
		must(t, err)
		if _, _, err := s.FrozenShortlist(ctx, "ada", "brass"); err == nil || errors.Is(err, catalog.ErrNotFound) {
			t.Errorf("a changed frozen part: %v", err)
		}
		for _, statement := range []string{`UPDATE shortlist SET slug_scope = ''`, `UPDATE shortlist SET visibility = 'secret'`, `UPDATE shortlist SET status = ''`} {
			if _, err := db.ExecContext(ctx, statement); err == nil {
				t.Errorf("the database takes %s", statement)
			}
		}
	})
}

func TestATriedShortlistIsNotStored(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		if l, err := s.AddShortlist(s.Trial(ctx), "ada", newShortlist("brass", catalog.Group), frozen); err != nil || l.Revision != 1 {
			t.Errorf("%+v, %v", l, err)
		}
		if page, err := s.Shortlists(ctx, "ada", catalog.Query{}); err != nil || len(page.Items) > 0 {
			t.Errorf("%+v, %v", page, err)
		}
	})
}
