package main

import (
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"
	"time"

	"sabinbook/internal/access"
	"sabinbook/internal/catalog"
	"sabinbook/store"
)

// tokenCommand works on the database itself, for keepers who have no token, or have lost it: who
// can open the database needs none.
type tokenCommand struct {
	Add    tokenAddCommand    `cmd:"" help:"Make a token and print it, this once, on standard output."`
	List   tokenListCommand   `cmd:"" help:"List tokens, ended ones among them."`
	Revoke tokenRevokeCommand `cmd:"" help:"End a token for ever."`
}

// self names who made a token that no member has made.
const self = "sabinbook"

type tokenAddCommand struct {
	Member  string     `arg:"" help:"Name of the member, which records will tell."`
	Role    string     `required:"" help:"reader, contributor, curator or admin."`
	Scopes  []string   `placeholder:"SCOPE,..." help:"Narrow it to read, prices, catalog, tokens (default: all that the role allows)."`
	Expires *time.Time `placeholder:"TIME" help:"When it ends, like 2027-11-02T00:00:00Z (default: never)."`
}

// Run makes a token.
func (c tokenAddCommand) Run(p *program) error {
	t := access.Token{Member: c.Member, Role: access.Role(c.Role), Expires: c.Expires}
	for _, s := range c.Scopes {
		t.Scopes = append(t.Scopes, access.Scope(s))
	}
	if err := t.Validate(time.Now()); err != nil {
		return &configError{"token add", mended(err)}
	}
	db, err := p.openMigrated()
	if err != nil {
		return err
	}
	defer db.Close()
	secret, err := access.NewSecret(rand.Reader)
	if err != nil {
		return err
	}
	t, err = db.AddToken(p.ctx, self, t, secret)
	if err != nil {
		return err
	}
	fmt.Fprintf(p.err, "Made the token %s of %s, role %s. It is shown this once:\n", t.ID, t.Member, t.Role)
	_, err = fmt.Fprintln(p.out, secret.Reveal())
	return err
}

// mended adds to each fault how to mend it.
func mended(err error) error {
	var bad *catalog.InvalidError
	if !errors.As(err, &bad) {
		return err
	}
	lines := make([]string, len(bad.Faults))
	for i, f := range bad.Faults {
		lines[i] = strings.TrimPrefix(f.Pointer, "/") + " " + f.Detail + ": " + f.Fix
	}
	return errors.New(strings.Join(lines, "; "))
}

type tokenListCommand struct{}

// Run lists all tokens.
func (tokenListCommand) Run(p *program) error {
	db, err := p.openMigrated()
	if err != nil {
		return err
	}
	defer db.Close()
	w := tabwriter.NewWriter(p.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "ID\tENDS IN\tMEMBER\tROLE\tSCOPES\tMADE\tSTATE")
	q := catalog.Query{Sort: []catalog.SortKey{{Field: "create_time"}}}
	for {
		page, err := db.Tokens(p.ctx, q)
		if err != nil {
			return err
		}
		for _, t := range page.Items {
			fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\t%s\t%s\n", t.ID, t.LastFour, t.Member, t.Role, scopeWords(t.Scopes), t.Created.Format(time.DateOnly), stateOf(t, time.Now()))
		}
		if len(page.Next) == 0 {
			return w.Flush()
		}
		q.After = page.Next
	}
}

func scopeWords(list []access.Scope) string {
	if len(list) == 0 {
		return "all"
	}
	words := make([]string, len(list))
	for i, s := range list {
		words[i] = string(s)
	}
	return strings.Join(words, ",")
}

func stateOf(t access.Token, now time.Time) string {
	switch {
	case t.Revoked != nil:
		return "revoked " + t.Revoked.Format(time.RFC3339)
	case t.Expired(now):
		return "ended " + t.Expires.Format(time.RFC3339)
	case t.Expires != nil:
		return "good until " + t.Expires.Format(time.RFC3339)
	}
	return "good"
}

type tokenRevokeCommand struct {
	ID string `arg:"" help:"Id of the token, as token list shows it."`
}

// Run ends a token.
func (c tokenRevokeCommand) Run(p *program) error {
	db, err := p.openMigrated()
	if err != nil {
		return err
	}
	defer db.Close()
	t, err := db.RevokeToken(p.ctx, c.ID)
	if errors.Is(err, catalog.ErrNotFound) {
		return errors.New("there is no token with this id; token list shows them")
	}
	if err != nil {
		return err
	}
	fmt.Fprintf(p.out, "The token %s of %s has ended.\n", t.ID, t.Member)
	return nil
}

// firstAdmin makes a token for the keeper of a catalog that has none yet, and shows it.
func (p *program) firstAdmin(db *store.Store) error {
	secret, err := access.NewSecret(rand.Reader)
	if err != nil {
		return err
	}
	made, err := db.FirstAdmin(p.ctx, self, access.Token{Member: "Keeper", Role: access.Admin}, secret)
	if err != nil || !made {
		return err
	}
	return showFirst(p.err, secret)
}

func showFirst(w io.Writer, secret access.Secret) error {
	_, err := fmt.Fprintf(w, `This catalog had no tokens yet. Here is one for its keeper, an admin. It is shown this once:

  export SABINBOOK_TOKEN=%s

Writing needs a token; the examples of README.md take it from that variable. Keep it where you keep
passwords, and give every member one of their own by POST /v1/tokens. If it gets lost:
sabinbook token add NAME --role admin

`, secret.Reveal())
	return err
}
