package api_test

import (
	"context"
	"net/http"
	"testing"

	"sabinbook/api/client"
	"sabinbook/store/storetest"
)

// TestTypedClient goes the way of a script in Go: add, read, change and delete a record, walk a
// list and ask for a ranking, all through the generated client.
func TestTypedClient(t *testing.T) {
	s := seeded(t, storetest.SQLite(t))
	s.source()
	ctx, c := context.Background(), s.typed()
	made, err := c.CreateSupplierWithResponse(ctx, nil, client.Supplier{Slug: "mole-shop", Name: "Mole shop", Currency: "EUR",
		TripCost: &client.Money{Amount: "6", Currency: "EUR"}, SourceID: "notebook"})
	if err != nil || made.StatusCode() != http.StatusCreated || made.JSON201.TripCost.Amount != "6.00" {
		t.Fatalf("%v: %s", err, made.Body)
	}
	id, tag := *made.JSON201.ID, made.HTTPResponse.Header.Get("ETag")
	read, err := c.GetSupplierWithResponse(ctx, "mole-shop", nil)
	if err != nil || read.JSON200 == nil || *read.JSON200.ID != id || *read.JSON200.Revision != 1 {
		t.Fatalf("%v: %s", err, read.Body)
	}
	unchanged, err := c.GetSupplierWithResponse(ctx, id, &client.GetSupplierParams{IfNoneMatch: &tag})
	if err != nil || unchanged.StatusCode() != http.StatusNotModified {
		t.Errorf("%v: %d", err, unchanged.StatusCode())
	}
	next := *read.JSON200
	next.ID, next.Revision, next.CreateTime, next.UpdateTime, next.UpdatedBy, next.CreatedBy = nil, nil, nil, nil, nil, nil
	next.Name = "Mole shop and yard"
	replaced, err := c.ReplaceSupplierWithResponse(ctx, id, &client.ReplaceSupplierParams{IfMatch: tag}, next)
	if err != nil || replaced.JSON200 == nil || replaced.JSON200.Name != next.Name {
		t.Fatalf("%v: %s", err, replaced.Body)
	}
	stale, err := c.DeleteSupplierWithResponse(ctx, id, &client.DeleteSupplierParams{IfMatch: tag})
	if err != nil || stale.ApplicationProblemJSONDefault == nil || *stale.ApplicationProblemJSONDefault.CurrentRevision != 2 {
		t.Errorf("%v: %s", err, stale.Body)
	}
	gone, err := c.DeleteSupplierWithResponse(ctx, id, &client.DeleteSupplierParams{IfMatch: "*"})
	if err != nil || gone.StatusCode() != http.StatusNoContent {
		t.Errorf("%v: %s", err, gone.Body)
	}
	codes := []string{"A1", "B-s1,d0"}
	listed, err := c.ListFillsWithResponse(ctx, &client.ListFillsParams{FireCode: &codes, Include: &[]string{"total_count"}})
	if err != nil || listed.JSON200 == nil || *listed.JSON200.TotalCount == 0 {
		t.Errorf("%v: %s", err, listed.Body)
	}
	ranked, err := c.RankOptionsWithResponse(ctx, client.RankingQuestion{PanelCount: new(int64(10)), Currency: "EUR", AsOfDate: new("2026-11-02")})
	if err != nil || ranked.JSON200 == nil || len(ranked.JSON200.Options) == 0 {
		t.Fatalf("%v: %.300s", err, ranked.Body)
	}
	again, err := c.RankOptionsWithResponse(ctx, ranked.JSON200.Inputs)
	if err != nil || string(again.Body) != string(ranked.Body) {
		t.Errorf("the echoed inputs are another question: %v %.300s", err, again.Body)
	}
}
