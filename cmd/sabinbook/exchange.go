package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"fmt"
	"net/http"
	"os"
	"strings"

	"sabinbook/api/client"
)

// exportCommand writes the catalog of a service into a file.
type exportCommand struct {
	remote
	File string `arg:"" help:"The zip to write; one that is there is replaced once the new one is whole."`
}

// Run is called by kong.
func (e *exportCommand) Run(p *program) error {
	c, err := e.client()
	if err != nil {
		return err
	}
	r, err := c.ExportCatalogWithResponse(p.ctx, nil)
	if err != nil {
		return fmt.Errorf("cannot ask %s: %w", e.Server, err)
	}
	if r.StatusCode() != http.StatusOK {
		return refusal(r.ApplicationProblemJSONDefault, r.Status())
	}
	sum := sha256.Sum256(r.Body)
	if want := "sha-256=:" + base64.StdEncoding.EncodeToString(sum[:]) + ":"; r.HTTPResponse.Header.Get("Repr-Digest") != want {
		return errors.New("the package is not what the service sent: its digest differs; try again")
	}
	part := e.File + ".part"
	if err := os.WriteFile(part, r.Body, 0o600); err != nil {
		return err
	}
	if err := os.Rename(part, e.File); err != nil {
		return err
	}
	fmt.Fprintf(p.out, "%s: %d bytes, SHA-256 %x\n", e.File, len(r.Body), sum)
	return nil
}

// importCommand tells what taking a package over would do, and does it when it is told to.
type importCommand struct {
	remote
	File       string `arg:"" help:"The package, as export writes it."`
	Apply      bool   `help:"Take the package over; without it, only say what would happen."`
	OnConflict string `name:"on-conflict" default:"fail" placeholder:"WORD" help:"fail, keep what is stored, or take what the package has where both were changed (default: ${default})."`
}

// Run is called by kong.
func (i *importCommand) Run(p *program) error {
	c, err := i.client()
	if err != nil {
		return err
	}
	archive, err := os.ReadFile(i.File)
	if err != nil {
		return err
	}
	plan, err := i.ask(p.ctx, c, archive, client.ImportCatalogParams{DryRun: new(true), OnConflict: &i.OnConflict})
	if err != nil {
		return err
	}
	p.importPlan(plan)
	switch {
	case plan.Blocked && i.Apply:
		return errors.New("conflicts forbid the import; nothing was changed")
	case !i.Apply:
		return nil
	}
	done, err := i.ask(p.ctx, c, archive, client.ImportCatalogParams{PlanDigest: &plan.PlanDigest, OnConflict: &i.OnConflict})
	if err == nil {
		fmt.Fprintf(p.out, "Done: the catalog is at revision %d.\n", done.CatalogRevision)
	}
	return err
}

func (i *importCommand) ask(ctx context.Context, c *client.ClientWithResponses, archive []byte, params client.ImportCatalogParams) (*client.ImportPlan, error) {
	r, err := c.ImportCatalogWithBodyWithResponse(ctx, &params, "application/zip", bytes.NewReader(archive))
	if err != nil {
		return nil, fmt.Errorf("cannot ask %s: %w", i.Server, err)
	}
	if r.JSON200 == nil {
		return nil, refusal(r.ApplicationProblemJSONDefault, r.Status())
	}
	return r.JSON200, nil
}

// importPlan prints a plan: what changes, and what is in the way.
func (p *program) importPlan(plan *client.ImportPlan) {
	for _, row := range plan.Rows {
		if row.Action == "unchanged" {
			continue
		}
		name := row.ID
		if row.Slug != nil {
			name = *row.Slug
		}
		fmt.Fprintf(p.out, "%-9s %s %s\n", row.Action, row.Noun, name)
		if row.Reasons != nil {
			for _, why := range *row.Reasons {
				fmt.Fprintf(p.out, "          %s: %s\n", why.Detail, why.Fix)
			}
		}
		if row.Similar != nil {
			fmt.Fprintf(p.out, "          may be the same material as %s\n", strings.Join(*row.Similar, ", "))
		}
	}
	fmt.Fprintf(p.out, "%d created, %d updated, %d unchanged, %d in conflict\n", plan.CreatedCount, plan.UpdatedCount, plan.UnchangedCount, plan.ConflictCount)
}
