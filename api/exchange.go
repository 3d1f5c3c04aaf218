package api

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"sabinbook/internal/catalog"
	"sabinbook/internal/exchange"
)

// ExportCatalog answers GET /v1/exports/catalog. The package has a tag of its own and so is
// never compressed: the digest is that of the file as it is stored.
func (s *Server) ExportCatalog(ctx context.Context, _ ExportCatalogRequestObject) (ExportCatalogResponseObject, error) {
	done, err := s.slot(ctx)
	if err != nil {
		return nil, err
	}
	defer done()
	stock, err := s.snapshot(ctx)
	if err != nil {
		return nil, err
	}
	archive := exchange.Archive(exchange.Write(stock))
	sum := sha256.Sum256(archive)
	tag := `"` + hex.EncodeToString(sum[:16]) + `"`
	digest := "sha-256=:" + base64.StdEncoding.EncodeToString(sum[:]) + ":"
	return ExportCatalog200ApplicationZipResponse{CatalogPackageApplicationZipResponse{Body: bytes.NewReader(archive),
		Headers: CatalogPackageResponseHeaders{ETag: &tag, ReprDigest: &digest}}}, nil
}

// ImportCatalog answers POST /v1/imports: a plan, or what came of one.
func (s *Server) ImportCatalog(ctx context.Context, in ImportCatalogRequestObject) (ImportCatalogResponseObject, error) {
	choice, err := decodeImport(in.Params)
	if err != nil {
		return nil, err
	}
	archive, err := io.ReadAll(in.Body)
	if err != nil {
		return nil, fmt.Errorf("api: import: %w", err)
	}
	done, err := s.slot(ctx)
	if err != nil {
		return nil, err
	}
	defer done()
	incoming, err := s.readPackage(archive)
	if err != nil {
		return nil, err
	}
	plan, err := s.planImport(ctx, incoming, choice)
	if err != nil {
		return nil, err
	}
	answer := encodeImport(plan)
	if !or(in.Params.DryRun, func(b bool) bool { return b }, false) {
		if err := carriedOut(plan, *in.Params.PlanDigest); err != nil {
			return nil, err
		}
		if len(plan.Rows) > plan.Count[exchange.Unchanged]+plan.Count[exchange.Conflict] { // else nothing is to be stored
			if answer.CatalogRevision, err = s.store.ApplyImport(ctx, memberOf(ctx), plan.Revision, plan.Changes); err != nil {
				return nil, err
			}
		}
		answer.Applied = true
	}
	return ImportCatalog200JSONResponse{ImportPlanAnswerJSONResponse{Body: answer}}, nil
}

// decodeImport reads the parameters of an import.
func decodeImport(p ImportCatalogParams) (exchange.Choice, error) {
	choice := exchange.Choice(or(p.OnConflict, func(s string) string { return s }, string(exchange.Fail)))
	var faults []fault
	if !slices.Contains(exchange.Choices, choice) {
		faults = append(faults, fault{parameter: "on_conflict", code: "unknown_word", detail: "must be fail, keep or take, got " + quoted(string(choice)), fix: "use one of them, or leave it out for fail"})
	}
	dry := p.DryRun != nil && *p.DryRun
	switch {
	case !dry && p.PlanDigest == nil:
		faults = append(faults, fault{parameter: "plan_digest", code: "required", detail: "is missing", fix: "ask with dry_run=true first, look at the plan, and send its plan_digest"})
	case dry && p.PlanDigest != nil:
		faults = append(faults, fault{parameter: "plan_digest", code: "not_applicable", detail: "carries a plan out, and dry_run asks for one", fix: "leave one of the two out"})
	}
	if len(faults) > 0 {
		return "", &requestError{kind: problemParameter, faults: faults}
	}
	return choice, nil
}

// readPackage takes the catalog out of an archive.
func (s *Server) readPackage(archive []byte) (catalog.Snapshot, error) {
	files, err := exchange.Open(archive)
	if err == nil {
		var stock catalog.Snapshot
		if stock, err = exchange.Read(files, s.today()); err == nil {
			return stock, nil
		}
	}
	var bad *exchange.FaultyError
	if !errors.As(err, &bad) {
		return catalog.Snapshot{}, err
	}
	list := make([]fault, len(bad.Faults))
	for i, f := range bad.Faults {
		list[i] = fault{file: f.File, row: f.Row, column: f.Column, code: f.Code, detail: f.Detail, fix: f.Fix}
	}
	return catalog.Snapshot{}, &requestError{kind: problemInvalid, faults: list}
}

// planImport makes the plan for the catalog as it is now. The catalog and the names that are
// held are read one after the other, again when somebody changed something between.
func (s *Server) planImport(ctx context.Context, incoming catalog.Snapshot, choice exchange.Choice) (exchange.Plan, error) {
	for range starAttempts {
		stock, err := s.snapshot(ctx)
		if err != nil {
			return exchange.Plan{}, err
		}
		at, held, err := s.store.Held(ctx)
		if err != nil {
			return exchange.Plan{}, err
		}
		if at == stock.Revision {
			return exchange.NewPlan(stock, incoming, held, choice), nil
		}
	}
	return exchange.Plan{}, fmt.Errorf("api: import: overtaken %d times: %w", starAttempts, catalog.ErrUnavailable)
}

// carriedOut refuses a plan that is not the one which was looked at, or that conflicts block.
func carriedOut(plan exchange.Plan, digest string) error {
	if plan.Digest != digest {
		return &requestError{kind: problemConflict, faults: []fault{{parameter: "plan_digest", code: "other_plan", detail: "is not that of the plan for this package, this choice and the catalog as it is now", fix: "ask with dry_run=true again and look at what has changed"}}}
	}
	if !plan.Blocked {
		return nil
	}
	var list []fault
	for i, row := range plan.Rows {
		if row.Action != exchange.Conflict {
			continue
		}
		for _, why := range row.Reasons {
			list = append(list, fault{pointer: fmt.Sprintf("/rows/%d", i), code: why.Code, detail: fmt.Sprintf("the %s %s %s", row.Noun.Name, row.ID, why.Detail), fix: why.Fix})
		}
	}
	return &requestError{kind: problemConflict, detail: "conflicts forbid the import; the pointers lead into the plan", faults: list}
}

func encodeImport(p exchange.Plan) ImportPlan {
	out := ImportPlan{Blocked: p.Blocked, OnConflict: string(p.Choice), CatalogRevision: p.Revision, IncomingDigest: p.Incoming, PlanDigest: p.Digest,
		CreatedCount: int64(p.Count[exchange.Created]), UpdatedCount: int64(p.Count[exchange.Updated]),
		UnchangedCount: int64(p.Count[exchange.Unchanged]), ConflictCount: int64(p.Count[exchange.Conflict]), Rows: []ImportRow{}}
	for _, r := range p.Rows {
		row := ImportRow{Noun: r.Noun.Name, ID: string(r.ID), Action: string(r.Action)}
		if r.Slug != "" {
			slug := string(r.Slug)
			row.Slug, row.Name = &slug, &r.Name
		}
		if len(r.Reasons) > 0 {
			reasons := make([]ImportReason, len(r.Reasons))
			for i, why := range r.Reasons {
				reasons[i] = ImportReason{Code: why.Code, Detail: strings.TrimSpace(why.Detail), Fix: why.Fix}
			}
			row.Reasons = &reasons
		}
		if len(r.Similar) > 0 {
			similar := make([]string, len(r.Similar))
			for i, slug := range r.Similar {
				similar[i] = string(slug)
			}
			row.Similar = &similar
		}
		out.Rows = append(out.Rows, row)
	}
	return out
}
