package api

import (
	"context"

	"sabinbook/internal/catalog"
	"sabinbook/internal/money"
)

func (s *Server) suppliers() *noun[catalog.Supplier, Supplier] {
	return &noun[catalog.Supplier, Supplier]{path: "/v1/suppliers/", schema: "Supplier",
		meta: func(r catalog.Supplier) catalog.Meta { return r.Meta }, decode: decodeSupplier, rules: catalog.Supplier.Validate, encode: encodeSupplier,
		add: s.store.AddSupplier, read: s.store.Supplier, replace: s.store.ReplaceSupplier, remove: s.store.DeleteSupplier, restore: s.store.RestoreSupplier, of: catalog.NounSupplier, find: s.store.Meta}
}

func decodeSupplier(v *catalog.Faults, w Supplier) catalog.Supplier {
	s := catalog.Supplier{
		Meta:     decodeMeta(w.Slug, w.Name),
		Country:  orZero(w.Country),
		Region:   orZero(w.Region),
		Currency: money.Currency(w.Currency),
		TripCost: decodeMoneyIf(v, "/trip_cost", w.TripCost),
		SourceID: catalog.ID(w.SourceID),
		Note:     orZero(w.Note),
	}
	if d := w.Delivery; d != nil {
		s.Delivery = &catalog.Delivery{
			Fee:      decodeMoney(v, "/delivery/fee", d.Fee),
			FreeFrom: decodeMoneyIf(v, "/delivery/free_from", d.FreeFrom),
			PerKg:    orZero(decodeMoneyIf(v, "/delivery/per_kg", d.PerKg)),
			Basis:    or(d.WeightBasis, func(x string) catalog.WeightBasis { return catalog.WeightBasis(x) }, catalog.ActualWeight),
			Divisor:  or(d.DivisorCm3PerKg, count, 0), FreeCoversWeight: orZero(d.FreeCoversWeight),
		}
	}
	return s
}

func encodeSupplier(r catalog.Supplier) Supplier {
	m := encodeMeta(r.Meta)
	return Supplier{
		ID: m.id, Slug: string(r.Slug), Name: r.Name,
		Country:  known(r.Country),
		Region:   known(r.Region),
		Currency: string(r.Currency),
		Delivery: encodeDelivery(r.Delivery),
		TripCost: encodeMoneyIf(r.TripCost),
		SourceID: string(r.SourceID),
		Note:     known(r.Note),
		Revision: m.revision, CreateTime: m.created, UpdateTime: m.updated, UpdatedBy: m.by, CreatedBy: m.maker,
	}
}

func encodeDelivery(d *catalog.Delivery) *Delivery {
	if d == nil {
		return nil
	}
	w := &Delivery{Fee: encodeMoney(d.Fee), FreeFrom: encodeMoneyIf(d.FreeFrom)}
	if !d.PerKg.IsZero() {
		w.PerKg = place(encodeMoney(d.PerKg))
	}
	if d.Basis != catalog.ActualWeight {
		w.WeightBasis, w.DivisorCm3PerKg = place(string(d.Basis)), knownAs(d.Divisor, whole)
	}
	if d.FreeCoversWeight {
		w.FreeCoversWeight = &d.FreeCoversWeight
	}
	return w
}

// ListSuppliers answers GET /v1/suppliers.
func (s *Server) ListSuppliers(ctx context.Context, _ ListSuppliersRequestObject) (ListSuppliersResponseObject, error) {
	p, err := pageOf(ctx, s.store.Suppliers, encodeSupplier)
	return ListSuppliers200JSONResponse{SupplierPageJSONResponse{SupplierList{Items: p.items, Next: p.next, TotalCount: p.total}, SupplierPageResponseHeaders{Link: p.link}}}, err
}

// CreateSupplier answers POST /v1/suppliers.
func (s *Server) CreateSupplier(ctx context.Context, in CreateSupplierRequestObject) (CreateSupplierResponseObject, error) {
	it, err := s.suppliers().create(ctx, *in.Body, "")
	return CreateSupplier201JSONResponse{SupplierCreatedJSONResponse{it.body, SupplierCreatedResponseHeaders{ETag: it.tag, Location: it.location}}}, err
}

// GetSupplier answers GET /v1/suppliers/{id}.
func (s *Server) GetSupplier(ctx context.Context, in GetSupplierRequestObject) (GetSupplierResponseObject, error) {
	it, err := s.suppliers().get(ctx, in.ID)
	return GetSupplier200JSONResponse{SupplierItemJSONResponse{it.body, SupplierItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}

// ReplaceSupplier answers PUT /v1/suppliers/{id}.
func (s *Server) ReplaceSupplier(ctx context.Context, in ReplaceSupplierRequestObject) (ReplaceSupplierResponseObject, error) {
	it, err := s.suppliers().put(ctx, in.ID, in.Params.IfMatch, *in.Body)
	return ReplaceSupplier200JSONResponse{SupplierItemJSONResponse{it.body, SupplierItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}

// PatchSupplier answers PATCH /v1/suppliers/{id}.
func (s *Server) PatchSupplier(ctx context.Context, in PatchSupplierRequestObject) (PatchSupplierResponseObject, error) {
	it, err := s.suppliers().patch(ctx, s, in.ID, in.Params.IfMatch, *in.Body)
	return PatchSupplier200JSONResponse{SupplierItemJSONResponse{it.body, SupplierItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}

// DeleteSupplier answers DELETE /v1/suppliers/{id}.
func (s *Server) DeleteSupplier(ctx context.Context, in DeleteSupplierRequestObject) (DeleteSupplierResponseObject, error) {
	return DeleteSupplier204Response{}, s.suppliers().delete(ctx, in.ID, in.Params.IfMatch)
}

// RestoreSupplier answers POST /v1/suppliers/{id}/restore.
func (s *Server) RestoreSupplier(ctx context.Context, in RestoreSupplierRequestObject) (RestoreSupplierResponseObject, error) {
	it, err := s.suppliers().bringBack(ctx, in.ID)
	return RestoreSupplier200JSONResponse{SupplierItemJSONResponse{it.body, SupplierItemResponseHeaders{ETag: it.tag, ContentLocation: it.moved}}}, err
}
