package api

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"github.com/oapi-codegen/runtime"

	"sabinbook/internal/catalog"
)

// addition is one record of a batch, ready to be added.
type addition struct {
	item, name string                      // the pointer of its item, and of the record within that
	child      bool                        // it belongs to a record that the item names beside it
	err        error                       // what the rules of its noun say
	add        func(context.Context) error // stores it and puts it into the answer
}

// additionOf is the record that an item of a batch holds under the name of a noun, none when in is nil.
func additionOf[R, W any](n *noun[R, W], at, name string, in *W, out **W, parent catalog.ID) []addition {
	if in == nil {
		return nil
	}
	r, err := n.record(*in, parent)
	return []addition{{item: at, name: "/" + name, child: n.parent != nil, err: err, add: func(ctx context.Context) error {
		var none R
		if err := n.allowed(ctx, none, r); err != nil {
			return err
		}
		stored, err := n.add(ctx, memberOf(ctx), r)
		if err == nil {
			*out = place(n.encode(stored))
		}
		return err
	}}}
}

// additionsOf lists what the items of a batch add, and all that the rules find wrong.
func (s *Server) additionsOf(w Batch, out []BatchItem) ([]addition, error) {
	var list []addition
	var faults []fault
	for i := range w.Items {
		at, in, o := fmt.Sprintf("/items/%d", i), w.Items[i], &out[i]
		fill := catalog.ID(orZero(in.FillID))
		one := slices.Concat(
			additionOf(s.sources(), at, "source", in.Source, &o.Source, ""),
			additionOf(s.fills(), at, "fill", in.Fill, &o.Fill, ""),
			additionOf(s.tests(), at, "absorption_test", in.AbsorptionTest, &o.AbsorptionTest, fill),
			additionOf(s.fabrics(), at, "fabric", in.Fabric, &o.Fabric, ""),
			additionOf(s.parts(), at, "part", in.Part, &o.Part, ""),
			additionOf(s.readyMade(), at, "ready_made_panel", in.ReadyMadePanel, &o.ReadyMadePanel, ""),
			additionOf(s.designs(), at, "design", in.Design, &o.Design, ""),
			additionOf(s.rooms(), at, "room", in.Room, &o.Room, ""),
			additionOf(s.suppliers(), at, "supplier", in.Supplier, &o.Supplier, ""),
			additionOf(s.offers(), at, "offer", in.Offer, &o.Offer, ""),
			additionOf(s.exchangeRates(), at, "exchange_rate", in.ExchangeRate, &o.ExchangeRate, ""))
		switch {
		case len(one) != 1:
			faults = append(faults, fault{pointer: at, code: "not_one_record", detail: fmt.Sprintf("holds %d records", len(one)), fix: "give one record under the name of its noun, e.g. fill"})
			continue
		case in.AbsorptionTest == nil && in.FillID != nil:
			faults = append(faults, fault{pointer: at + "/fill_id", code: "not_applicable", detail: "belongs to an absorption test", fix: "leave it out"})
		}
		faults = append(faults, one[0].faults(one[0].err)...)
		list = append(list, one...)
	}
	if len(faults) > 0 {
		return nil, &requestError{kind: problemInvalid, faults: faults}
	}
	return list, nil
}

// faults are those of an error about the record, with pointers from the top of the batch. What a record
// belongs to stands beside it.
func (a addition) faults(err error) []fault {
	found := slices.Clone(faultsIn(err))
	for i, f := range found {
		if a.child && f.pointer == "/fill_id" {
			found[i].pointer = a.item + f.pointer
		} else {
			found[i].pointer = a.item + a.name + f.pointer
		}
	}
	return found
}

// refusal is an error of the store about the record as one about the batch.
func (a addition) refusal(err error) error {
	var invalid *catalog.InvalidError
	var clash *catalog.ConflictError
	var refused *requestError
	switch {
	case errors.As(err, &refused):
		return &requestError{kind: refused.kind, header: refused.header, faults: a.faults(err)}
	case errors.As(err, &invalid):
		return &requestError{kind: problemInvalid, faults: a.faults(err)}
	case errors.As(err, &clash):
		return &catalog.ConflictError{Field: a.item[1:] + a.name + "/" + clash.Field, Detail: clash.Detail, Fix: clash.Fix}
	}
	return err
}

// checkBatch is the check of a batch that breaks the contract somewhere.
func (s *Server) checkBatch(value any) []fault {
	var w Batch
	if runtime.BindJSONValue(value, &w) != nil {
		return nil
	}
	_, err := s.additionsOf(w, make([]BatchItem, len(w.Items)))
	return faultsIn(err)
}

// AddBatch answers POST /v1/batches.
func (s *Server) AddBatch(ctx context.Context, in AddBatchRequestObject) (AddBatchResponseObject, error) {
	out := Batch{Items: make([]BatchItem, len(in.Body.Items))}
	list, err := s.additionsOf(*in.Body, out.Items)
	if err != nil {
		return nil, err
	}
	err = s.store.Together(ctx, func(ctx context.Context) error {
		for _, a := range list {
			if err := a.add(ctx); err != nil {
				return a.refusal(err)
			}
		}
		return nil
	})
	return AddBatch200JSONResponse{BatchAnswerJSONResponse{Body: out}}, err
}
