package api

import (
	"context"
	"fmt"
	"runtime"
	"strings"

	"sabinbook/internal/catalog"
	"sabinbook/internal/ranking"
	"sabinbook/internal/shortlist"
)

// RepriceDocument answers POST /v1/shortlists/repricings.
func (s *Server) RepriceDocument(ctx context.Context, _ RepriceDocumentRequestObject) (RepriceDocumentResponseObject, error) {
	answer, err := s.reprice(ctx, callOf(ctx).text)
	return RepriceDocument200JSONResponse{ShortlistRepricingAnswerJSONResponse{Body: answer}}, err
}

// RepriceShortlist answers POST /v1/shortlists/{id}/repricing.
func (s *Server) RepriceShortlist(ctx context.Context, in RepriceShortlistRequestObject) (RepriceShortlistResponseObject, error) {
	seen, err := s.seenShortlist(ctx, in.ID)
	if err != nil {
		return nil, err
	}
	l, frozen, err := s.store.FrozenShortlist(ctx, askerOf(ctx), string(seen.ID))
	if err != nil {
		return nil, err
	}
	file, err := documentOf(l, frozen)
	if err != nil {
		return nil, err
	}
	answer, err := s.reprice(ctx, file.text)
	if faults, ok := asFaults(err); ok { // of what was kept, not of what was sent
		err = &catalog.ConflictError{Field: strings.TrimPrefix(faults[0].pointer, "/"), Detail: "the kept question cannot be asked today: " + faults[0].detail,
			Fix: "restore what it names, or keep a new shortlist"}
	}
	return RepriceShortlist200JSONResponse{ShortlistRepricingAnswerJSONResponse{Body: answer}}, err
}

// reprice asks the question of a document again of the catalog at the prices of today.
func (s *Server) reprice(ctx context.Context, file []byte) (ShortlistRepricing, error) {
	d, _, err := s.contract.readDocument(file)
	if err != nil {
		return ShortlistRepricing{}, err
	}
	brief, then, err := restored(d.Question, d.Catalog)
	if err != nil {
		return ShortlistRepricing{}, err
	}
	done, err := s.slot(ctx)
	if err != nil {
		return ShortlistRepricing{}, err
	}
	defer done()
	kept, err := ranking.Prepare(then, runtime.GOMAXPROCS(0)).Rank(brief)
	if err != nil {
		return ShortlistRepricing{}, below(err, "/question")
	}
	stock, err := s.prepared(ctx)
	if err != nil {
		return ShortlistRepricing{}, err
	}
	r, err := shortlist.Reprice(then, kept, stock, s.today())
	if err != nil {
		return ShortlistRepricing{}, below(err, "/question")
	}
	return encodeRepricing(r, kept), nil
}

func encodeRepricing(r shortlist.Repricing, kept ranking.Result) ShortlistRepricing {
	out := ShortlistRepricing{AsOfDate: string(r.Today), KeptDate: string(kept.Brief.Terms.AsOf), OrderHolds: r.OrderHolds, First: known(r.First), Text: repricingWords(r),
		Options: everyOf(r.Options, encodeRepriced), Flips: everyOf(r.Flips, encodeFlip)}
	out.PriceChanges = everyOf(r.Changes, func(c shortlist.PriceChange) PriceChange {
		return PriceChange{Offer: encodeRef(c.Offer), PriceThen: encodeMoney(c.Then.Amount), SeenThenDate: string(c.Then.Observed), PriceNow: encodeMoney(c.Now.Amount), SeenNowDate: string(c.Now.Observed)}
	})
	return out
}

func encodeRepriced(o shortlist.Repriced) RepricedOption {
	out := RepricedOption{Key: o.Key, KeyNow: known(o.KeyNow), PlaceThen: int64(o.PlaceThen), PlaceNow: knownAs(o.PlaceNow, whole), TotalThen: encodeMoney(o.Then), TotalNow: encodeMoneyIf(o.Now),
		AreaThenM2: rounded(o.AreaThen, 4), Rest: encodeDifferenceIf(o.Rest),
		Explained: everyOf(o.Explained, func(e shortlist.Explained) ExplainedChange {
			return ExplainedChange{Offer: encodeRef(e.Offer), Amount: encodeDifference(e.Amount)}
		})}
	if o.Gone != "" {
		out.Gone = &Note{Code: string(o.Gone), Text: goneWords(o)}
	} else {
		out.AreaNowM2 = place(rounded(o.AreaNow, 4))
	}
	return out
}

func goneWords(o shortlist.Repriced) string {
	switch o.Gone {
	case shortlist.FillGone:
		return "Its fill is not in the catalog any more."
	case shortlist.FabricGone:
		return "Its fabric is not in the catalog any more."
	case shortlist.SizeGone:
		return "Its fill is not sold in this thickness any more."
	case shortlist.PriceGone:
		return "Something that it needs has no usable price today; a ranking with this key tells what under not_priced."
	}
	return strings.TrimSpace("The question leaves it out today. " + string(o.Reason))
}

func encodeFlip(f shortlist.Flip) PriceFlip {
	point := func(p *shortlist.FlipPoint) *FlipPoint {
		if p == nil {
			return nil
		}
		return &FlipPoint{Price: encodeMoney(p.Price), First: known(p.First)}
	}
	return PriceFlip{Offer: encodeRef(f.Offer), Price: encodeMoney(f.Price), Below: point(f.Below), Above: point(f.Above), Lowest: encodeMoney(f.Lowest), Highest: encodeMoney(f.Highest), Exact: f.Exact}
}

// repricingWords says a repricing in one paragraph.
func repricingWords(r shortlist.Repricing) string {
	gone := 0
	for _, o := range r.Options {
		if o.Gone != "" {
			gone++
		}
	}
	var say []string
	switch {
	case r.OrderHolds:
		say = append(say, "The order holds.")
	case r.First == "":
		say = append(say, "No option has a place today.")
	case r.First == r.Options[0].Key:
		say = append(say, "The first option is still the first; others stand otherwise or are gone.")
	default:
		say = append(say, fmt.Sprintf("Another option is first today: %s.", r.First))
	}
	if gone > 0 {
		say = append(say, fmt.Sprintf("Of %d options %d have no place today.", len(r.Options), gone))
	}
	switch n := len(r.Changes); n {
	case 0:
		say = append(say, "No price that is bought has changed.")
	case 1:
		say = append(say, "One price that is bought has changed.")
	default:
		say = append(say, fmt.Sprintf("%d prices that are bought have changed.", n))
	}
	return strings.Join(say, " ")
}
