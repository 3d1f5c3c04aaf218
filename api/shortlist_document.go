package api

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"runtime"
	"slices"
	"strings"

	"github.com/go-json-experiment/json/jsontext"

	"sabinbook/internal/catalog"
	"sabinbook/internal/money"
	"sabinbook/internal/ranking"
	"sabinbook/internal/shortlist"
	"sabinbook/openapi"
)

// frozenShortlist is the part of a document that never changes.
type frozenShortlist struct {
	Schema         string           `json:"schema"`
	ProgramVersion string           `json:"program_version"`
	ModelVersion   string           `json:"model_version"`
	Question       RankingQuestion  `json:"question"`
	Answer         Ranking          `json:"answer"`
	Catalog        ShortlistCatalog `json:"catalog"`
	KeptFrom       ShortlistOrigin  `json:"kept_from"`
}

// keep asks a question of the catalog, ranks the options of these keys alone and returns the frozen
// part of their document in its canonical form. Faults of the question lie below /question, those of
// a key at /options/<its place>/key. Only options with a place can be kept: no total rests on a
// price that is not there.
func (s *Server) keep(ctx context.Context, question RankingQuestion, keys []string) ([]byte, error) {
	brief, err := s.brief(ctx, question)
	if err != nil {
		return nil, below(err, "/question")
	}
	done, err := s.slot(ctx)
	if err != nil {
		return nil, err
	}
	defer done()
	stock, err := s.prepared(ctx)
	if err != nil {
		return nil, err
	}
	everything := brief
	everything.Show, everything.Limit, everything.Draws.Count, everything.Why = ranking.ShowAll, ranking.MaxLimit, 0, nil
	all, err := stock.Rank(everything)
	if err != nil {
		return nil, below(err, "/question")
	}
	brief.Options, brief.Show, brief.Limit = keys, ranking.ShowAll, max(brief.Limit, len(keys))
	brief.Why = slices.DeleteFunc(slices.Clone(brief.Why), func(key string) bool { return !slices.Contains(keys, key) })
	answer, err := stock.Rank(brief)
	if err != nil {
		return nil, ofKeys(err)
	}
	if err := placed(answer, keys); err != nil {
		return nil, err
	}
	cut, err := shortlist.Cut(stock.Snapshot(), answer)
	if err != nil {
		return nil, err
	}
	frozen := frozenShortlist{Schema: openapi.ShortlistForm, ProgramVersion: s.opts.Version, ModelVersion: ranking.ModelVersion,
		Question: encodeBrief(brief), Answer: encodeRanking(answer), Catalog: encodeCut(cut), KeptFrom: originOf(all, answer)}
	text, err := canonical(frozen)
	if err != nil {
		return nil, err
	}
	// What is stored must be provable: so it is proved, from its own text, before.
	differences, err := recomputed(frozen.Question, frozen.Catalog, frozen.Answer)
	if faults, ok := asFaults(err); ok { // an imported package may hold what no other route takes
		return nil, &catalog.ConflictError{Field: "catalog", Detail: fmt.Sprintf("a record on which the answer rests cannot be written down exactly: %s %s", faults[0].pointer, faults[0].detail),
			Fix: "correct that record: " + faults[0].fix}
	}
	if err == nil && len(differences) > 0 {
		err = fmt.Errorf("api: kept options differ when they are worked out again, first at %s", differences[0].Pointer)
	}
	return text, err
}

// placed names every key whose option has no place in the answer.
func placed(answer ranking.Result, keys []string) error {
	v := &catalog.Faults{}
	for i, key := range keys {
		is := func(o ranking.Option) bool { return o.Key() == key }
		at := fmt.Sprintf("/options/%d/key", i)
		switch {
		case slices.ContainsFunc(answer.Options, is):
		case slices.ContainsFunc(answer.NotPriced, is):
			v.Add(at, "not_priced", fmt.Sprintf("%s has no full price, so there is no total to keep", key), "add the prices that it lacks: not_priced of the answer names them under missing")
		default:
			v.Add(at, "left_out", fmt.Sprintf("%s is no option of this question", key), "ask the same question: left_out of its answer says why, and what would help")
		}
	}
	return v.Err()
}

// ofKeys turns faults of the keys in a question into faults of the options to keep.
func ofKeys(err error) error {
	return moved(err, func(pointer string) string {
		if rest, ok := strings.CutPrefix(pointer, "/options/"); ok {
			return "/options/" + rest + "/key"
		}
		if pointer == "/options" {
			return pointer
		}
		return "/question" + pointer
	})
}

// below moves the faults of a part of a body below a pointer.
func below(err error, at string) error {
	return moved(err, func(pointer string) string { return at + pointer })
}

// originOf tells where options stand among everything.
func originOf(all, answer ranking.Result) ShortlistOrigin {
	out := ShortlistOrigin{CandidatesCount: int64(all.Considered), RankedCount: int64(all.Priced), Places: make([]KeptPlace, len(answer.Options))}
	for i, o := range answer.Options {
		out.Places[i] = KeptPlace{Key: o.Key()}
		if at := slices.IndexFunc(all.Options, func(x ranking.Option) bool { return x.Key() == o.Key() }); at >= 0 {
			out.Places[i].Place = place(int64(at + 1))
		}
	}
	return out
}

// assemble writes the document of a frozen part, with what the record says now and its digest, in
// the canonical form.
func assemble(frozen []byte, about ShortlistAbout, notes []OptionNote) ([]byte, error) {
	var members map[string]json.RawMessage
	if err := json.Unmarshal(frozen, &members); err != nil {
		return nil, fmt.Errorf("api: frozen part of a shortlist: %w", err)
	}
	for name, value := range map[string]any{"about": about, "option_notes": append([]OptionNote{}, notes...)} {
		text, err := json.Marshal(value)
		if err != nil {
			return nil, err
		}
		members[name] = text
	}
	digest, err := digestOf(members)
	if err != nil {
		return nil, err
	}
	if members["digest"], err = json.Marshal(digest); err != nil {
		return nil, err
	}
	return canonical(members)
}

// canonical writes a value as RFC 8785 does.
func canonical(value any) ([]byte, error) {
	text, err := json.Marshal(value)
	if err != nil {
		return nil, err
	}
	out := jsontext.Value(text)
	if err := out.Canonicalize(); err != nil {
		return nil, err
	}
	return out, nil
}

// digestOf is the digest of a document with these members, of which digest itself does not count.
func digestOf(members map[string]json.RawMessage) (string, error) {
	rest := make(map[string]json.RawMessage, len(members))
	for name, value := range members {
		if name != "digest" {
			rest[name] = value
		}
	}
	text, err := canonical(rest)
	if err != nil {
		return "", err
	}
	sum := sha256.Sum256(text)
	return "sha-256:" + hex.EncodeToString(sum[:]), nil
}

// encodeCut writes the records of a snapshot in the form of their routes.
func encodeCut(s catalog.Snapshot) ShortlistCatalog {
	var rates *[]ExchangeRate
	if len(s.Rates) > 0 {
		rates = place(everyOf(s.Rates, encodeRate))
	}
	return ShortlistCatalog{Revision: s.Revision, ExchangeRates: rates, Sources: everyOf(s.Sources, encodeSource), Fills: everyOf(s.Fills, encodeFill), AbsorptionTests: everyOf(s.Tests, encodeTest),
		Fabrics: everyOf(s.Fabrics, encodeFabric), Parts: everyOf(s.Parts, encodePart), Suppliers: everyOf(s.Suppliers, encodeSupplier), Offers: everyOf(s.Offers, encodeOffer),
		Prices: everyOf(s.Prices, encodePrice)}
}

// everyOf encodes a list, an empty one as such.
func everyOf[R, W any](list []R, encode func(R) W) []W {
	out := make([]W, len(list))
	for i, r := range list {
		out[i] = encode(r)
	}
	return out
}

// decodeCut reads the records of a document, with what the store had set, and checks them by the
// rules of the catalog on a day, and that none is there twice. Pointers lie below /catalog.
func decodeCut(w ShortlistCatalog, day catalog.Date) (catalog.Snapshot, error) {
	v := &catalog.Faults{}
	s := catalog.Snapshot{Revision: w.Revision,
		Sources: stored(v, "sources", w.Sources, func(v *catalog.Faults, w Source) catalog.Source {
			r := decodeSource(v, w)
			storedMeta(v, &r.Meta, readOnlyMembers{w.ID, w.CreateTime, w.UpdateTime, w.UpdatedBy, w.CreatedBy, w.Revision})
			return r
		}, catalog.Source.Validate, func(r catalog.Source) catalog.Meta { return r.Meta }),
		Fills: stored(v, "fills", w.Fills, func(v *catalog.Faults, w Fill) catalog.Fill {
			r := decodeFill(v, w)
			storedMeta(v, &r.Meta, readOnlyMembers{w.ID, w.CreateTime, w.UpdateTime, w.UpdatedBy, w.CreatedBy, w.Revision})
			return r
		}, catalog.Fill.Validate, func(r catalog.Fill) catalog.Meta { return r.Meta }),
		Tests: stored(v, "absorption_tests", w.AbsorptionTests, func(v *catalog.Faults, w AbsorptionTest) catalog.AbsorptionTest {
			r := decodeTest(v, w)
			storedMeta(v, &r.Meta, readOnlyMembers{w.ID, w.CreateTime, w.UpdateTime, w.UpdatedBy, w.CreatedBy, w.Revision})
			r.FillID = catalog.ID(orZero(w.FillID))
			return r
		}, catalog.AbsorptionTest.Validate, func(r catalog.AbsorptionTest) catalog.Meta { return r.Meta }),
		Fabrics: stored(v, "fabrics", w.Fabrics, func(v *catalog.Faults, w Fabric) catalog.Fabric {
			r := decodeFabric(v, w)
			storedMeta(v, &r.Meta, readOnlyMembers{w.ID, w.CreateTime, w.UpdateTime, w.UpdatedBy, w.CreatedBy, w.Revision})
			return r
		}, catalog.Fabric.Validate, func(r catalog.Fabric) catalog.Meta { return r.Meta }),
		Parts: stored(v, "parts", w.Parts, func(v *catalog.Faults, w Part) catalog.Part {
			r := decodePart(v, w)
			storedMeta(v, &r.Meta, readOnlyMembers{w.ID, w.CreateTime, w.UpdateTime, w.UpdatedBy, w.CreatedBy, w.Revision})
			return r
		}, catalog.Part.Validate, func(r catalog.Part) catalog.Meta { return r.Meta }),
		Suppliers: stored(v, "suppliers", w.Suppliers, func(v *catalog.Faults, w Supplier) catalog.Supplier {
			r := decodeSupplier(v, w)
			if d := r.Delivery; d != nil && d.PerKg == (money.Amount{}) { // as the store tells it
				d.PerKg = money.Zero(d.Fee.Currency())
			}
			storedMeta(v, &r.Meta, readOnlyMembers{w.ID, w.CreateTime, w.UpdateTime, w.UpdatedBy, w.CreatedBy, w.Revision})
			return r
		}, catalog.Supplier.Validate, func(r catalog.Supplier) catalog.Meta { return r.Meta }),
		Offers: stored(v, "offers", w.Offers, func(v *catalog.Faults, w Offer) catalog.Offer {
			r := decodeOffer(v, w)
			storedMeta(v, &r.Meta, readOnlyMembers{w.ID, w.CreateTime, w.UpdateTime, w.UpdatedBy, w.CreatedBy, w.Revision})
			return r
		}, catalog.Offer.Validate, func(r catalog.Offer) catalog.Meta { return r.Meta }),
		Prices: stored(v, "prices", w.Prices, func(v *catalog.Faults, w Price) catalog.Price {
			r := decodePrice(v, w)
			var m catalog.Meta // a price has no revision: it never changes
			storedMeta(v, &m, readOnlyMembers{id: w.ID, created: w.CreateTime, updated: w.CreateTime, by: w.CreatedBy, maker: w.CreatedBy, revision: place(int64(1))})
			r.ID, r.OfferID, r.Created, r.CreatedBy = m.ID, catalog.ID(orZero(w.OfferID)), m.Created, m.CreatedBy
			return r
		}, func(r catalog.Price) error { return r.Validate(day) }, func(r catalog.Price) catalog.Meta { return catalog.Meta{ID: r.ID, Slug: catalog.Slug(r.ID)} }),
		Rates: stored(v, "exchange_rates", orZero(w.ExchangeRates), func(v *catalog.Faults, w ExchangeRate) catalog.ExchangeRate {
			r := decodeRate(v, w)
			storedMeta(v, &r.Meta, readOnlyMembers{w.ID, w.CreateTime, w.UpdateTime, w.UpdatedBy, w.CreatedBy, w.Revision})
			return r
		}, func(r catalog.ExchangeRate) error { return r.Validate(day) }, func(r catalog.ExchangeRate) catalog.Meta { return r.Meta }),
	}
	s.Sort()
	return s, v.Err()
}

// stored reads the records of one list of a document.
func stored[R, W any](v *catalog.Faults, name string, list []W, decode func(*catalog.Faults, W) R, rules func(R) error, meta func(R) catalog.Meta) []R {
	var out []R
	ids, slugs := map[catalog.ID]bool{}, map[catalog.Slug]bool{}
	for i, w := range list {
		at := fmt.Sprintf("/catalog/%s/%d", name, i)
		own := &catalog.Faults{}
		r := decode(own, w)
		for _, f := range faultsIn(joined(own.Err(), rules(r))) {
			v.Add(at+f.pointer, f.code, f.detail, f.fix)
		}
		if m := meta(r); ids[m.ID] || slugs[m.Slug] {
			v.Add(at, "duplicate", "has the id or the slug of one before it", "take the document as it was written")
		}
		ids[meta(r).ID], slugs[meta(r).Slug] = true, true
		out = append(out, r)
	}
	return out
}

// storedMeta reads what the store had set of a record.
func storedMeta(v *catalog.Faults, m *catalog.Meta, w readOnlyMembers) {
	const mend = "take the document as it was written"
	if w.id == nil || w.created == nil || w.updated == nil || w.by == nil || w.maker == nil || w.revision == nil {
		v.Add("", "required", "lacks its id, revision, times or authors", mend)
		return
	}
	var err error
	if m.Created, err = parseTime(*w.created); err == nil {
		m.Updated, err = parseTime(*w.updated)
	}
	if err != nil {
		v.Add("", "bad_form", "has a time that is not RFC 3339 in UTC with milliseconds", mend)
	}
	m.ID, m.Revision, m.UpdatedBy, m.CreatedBy = catalog.ID(*w.id), *w.revision, *w.by, *w.maker
}

// recomputed works an answer out again from a question and the records of a document, and lists
// where it and the echo of the question differ from what is stated. The error is one of a question or
// of records that no service would have written.
func recomputed(question RankingQuestion, records ShortlistCatalog, stated Ranking) ([]ValueDifference, error) {
	brief, stock, err := restored(question, records)
	if err != nil {
		return nil, err
	}
	result, err := ranking.Prepare(stock, runtime.GOMAXPROCS(0)).Rank(brief)
	if err != nil {
		return nil, below(err, "/question")
	}
	answer := encodeRanking(result)
	if stated.ModelVersion != ranking.ModelVersion {
		answer.ModelVersion = stated.ModelVersion // told apart from the figures
	}
	list, err := differencesBetween("/question", question, encodeBrief(brief))
	if err != nil {
		return nil, err
	}
	more, err := differencesBetween("/answer", stated, answer)
	return append(list, more...), err
}

// restored reads the question and the records of a document.
func restored(question RankingQuestion, records ShortlistCatalog) (ranking.Brief, catalog.Snapshot, error) {
	v := &catalog.Faults{}
	const mend = "take the document as it was written"
	if question.AsOfDate == nil {
		v.Add("/as_of_date", "required", "is missing: a document does not ask for today", mend)
	}
	if len(orZero(question.Options)) == 0 {
		v.Add("/options", "required", "names no option", mend)
	}
	brief := decodeBrief(v, withoutStored(question), catalog.Date(orZero(question.AsOfDate)))
	if err := joined(v.Err(), brief.Validate()); err != nil {
		return brief, catalog.Snapshot{}, below(err, "/question")
	}
	stock, err := decodeCut(records, brief.Terms.AsOf)
	return brief, stock, err
}

// readDocument reads the document of a shortlist strictly: every member that the form has, none that
// it does not have, each once.
func (c *contract) readDocument(file []byte) (ShortlistDocument, map[string]json.RawMessage, error) {
	var d ShortlistDocument
	if len(file) > maxDocument {
		return d, nil, &requestError{kind: problemTooLarge, faults: []fault{tooLong(maxDocument)}}
	}
	faults, unreadable := inspect(file)
	if unreadable != nil {
		return d, nil, &requestError{kind: problemBody, faults: []fault{*unreadable}}
	}
	decoder := json.NewDecoder(bytes.NewReader(file))
	decoder.UseNumber()
	var value any
	if err := decoder.Decode(&value); err != nil {
		return d, nil, err
	}
	wholeNumbers(value)
	if object, ok := value.(map[string]any); ok && object["schema"] != nil && object["schema"] != openapi.ShortlistForm {
		return d, nil, &requestError{kind: problemInvalid, faults: []fault{{pointer: "/schema", code: "unknown_form", detail: "names a form that this program does not know: " + quoted(fmt.Sprint(object["schema"])),
			fix: "verify it with a newer program; this one knows " + openapi.ShortlistForm}}}
	}
	if faults = append(faults, c.bindAnswer("ShortlistDocument", value, &d)...); len(faults) > 0 {
		return d, nil, &requestError{kind: problemInvalid, faults: faults}
	}
	var members map[string]json.RawMessage
	if err := json.Unmarshal(file, &members); err != nil {
		return d, nil, err
	}
	return d, members, nil
}

// asFaults reports whether an error says that a document cannot be read, and what is wrong with it.
func asFaults(err error) ([]fault, bool) {
	var refused *requestError
	var invalid *catalog.InvalidError
	if errors.As(err, &refused) || errors.As(err, &invalid) {
		return faultsIn(err), true
	}
	return nil, false
}
