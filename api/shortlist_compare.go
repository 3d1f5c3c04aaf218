package api

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"

	"sabinbook/internal/catalog"
)

// Compare sets two documents side by side, with what they state. It needs no store. The error is an
// *UnreadableError when one of them is no document of a shortlist; its faults begin with /first or /second.
func Compare(first, second []byte) (ShortlistComparison, error) {
	c, err := publishedContract()
	if err != nil {
		return ShortlistComparison{}, err
	}
	out, err := c.compare(first, second)
	return out, asUnreadable(err)
}

// CompareShortlists answers POST /v1/shortlists/compare.
func (s *Server) CompareShortlists(ctx context.Context, _ CompareShortlistsRequestObject) (CompareShortlistsResponseObject, error) {
	var files struct{ First, Second json.RawMessage }
	if err := json.Unmarshal(callOf(ctx).text, &files); err != nil {
		return nil, err
	}
	done, err := s.slot(ctx)
	if err != nil {
		return nil, err
	}
	defer done()
	out, err := s.contract.compare(files.First, files.Second)
	if err != nil {
		return nil, err
	}
	return CompareShortlists200JSONResponse{ShortlistComparisonAnswerJSONResponse{Body: out}}, nil
}

// compared is a document that is compared.
type compared struct {
	ShortlistDocument
	prices map[catalog.ID]catalog.Price // by offer, of the day of the question
	digest string
}

// comparedFile reads a document; the error has its faults below at.
func (c *contract) comparedFile(at string, file []byte) (compared, error) {
	d, members, err := c.readDocument(file)
	if err != nil {
		return compared{}, below(err, at)
	}
	brief, stock, err := restored(d.Question, d.Catalog)
	if err != nil {
		return compared{}, below(err, at)
	}
	digest, err := digestOf(members)
	return compared{d, catalog.CurrentPrices(stock.Prices, brief.Terms.AsOf), digest}, err
}

// compare is Compare with the errors of requests.
func (c *contract) compare(first, second []byte) (ShortlistComparison, error) {
	a, errA := c.comparedFile("/first", first)
	b, errB := c.comparedFile("/second", second)
	if err := bothOf(errA, errB); err != nil {
		return ShortlistComparison{}, err
	}
	out := ShortlistComparison{First: a.head(), Second: b.head(), Options: []ComparedOption{}, OnlyFirst: []LoneOption{}, OnlySecond: []LoneOption{}}
	var err error
	if out.Question, err = comparedQuestions(a.Question, b.Question); err != nil {
		return out, err
	}
	if out.Answer, err = comparedRest(a.Answer, b.Answer, len(out.Question) > 0); err != nil {
		return out, err
	}
	pairs, lone := aligned(a.Answer.Options, b.Answer.Options)
	for i, o := range a.Answer.Options {
		if pairs[i] < 0 {
			out.OnlyFirst = append(out.OnlyFirst, loneOption(o))
			continue
		}
		pair, err := comparedOption(o, b.Answer.Options[pairs[i]])
		if err != nil {
			return out, err
		}
		out.Options = append(out.Options, pair)
	}
	for _, i := range lone {
		out.OnlySecond = append(out.OnlySecond, loneOption(b.Answer.Options[i]))
	}
	if out.Prices, err = comparedPrices(a, b); err != nil {
		return out, err
	}
	if out.Records, err = comparedRecords(a.Catalog, b.Catalog); err != nil {
		return out, err
	}
	out.Equal = len(out.OnlyFirst)+len(out.OnlySecond)+len(out.Question)+len(out.Answer)+len(out.Prices)+len(out.Records)+changedOptions(out) == 0
	out.Text = comparisonWords(out)
	return out, nil
}

// bothOf is what is wrong with either document, the faults of both together where they are of one kind.
func bothOf(a, b error) error {
	one, unreadable := asFaults(a)
	two, both := asFaults(b)
	if !unreadable || !both {
		return cmp.Or(a, b)
	}
	kind, _ := problemOf(a)
	if other, _ := problemOf(b); other != kind {
		return a
	}
	return &requestError{kind: kind, faults: append(one, two...)}
}

func (d compared) head() ComparedShortlist {
	return ComparedShortlist{ID: d.About.ID, Slug: d.About.Slug, Name: d.About.Name, Status: d.About.Status, KeptTime: d.About.KeptTime, AsOfDate: d.Question.AsOfDate,
		CatalogRevision: d.Answer.CatalogRevision, ModelVersion: d.Answer.ModelVersion, DigestStated: d.Digest, DigestComputed: d.digest, DigestEqual: d.Digest == d.digest,
		OptionsCount: int64(len(d.Answer.Options))}
}

func loneOption(o RankedOption) LoneOption {
	return LoneOption{Key: o.Key, Fill: o.Fill, Fabric: o.Fabric, Place: o.Place, Total: o.Cost.Total, PerPanel: o.Cost.PerPanel, AreaM2: o.Absorption.AreaM2}
}

// aligned finds for each option of the first list its place in the second, -1 for none, and what of the second is
// left. Options are the same when they are made of the same; of the others those of the same key.
func aligned(first, second []RankedOption) (pairs, lone []int) {
	pairs, taken := slices.Repeat([]int{-1}, len(first)), make([]bool, len(second))
	for _, same := range []func(a, b RankedOption) bool{madeAlike, func(a, b RankedOption) bool { return a.Key == b.Key }} {
		for i, a := range first {
			for j, b := range second {
				if pairs[i] < 0 && !taken[j] && same(a, b) {
					pairs[i], taken[j] = j, true
				}
			}
		}
	}
	for j := range second {
		if !taken[j] {
			lone = append(lone, j)
		}
	}
	return pairs, lone
}

func madeAlike(a, b RankedOption) bool {
	same := func(x, y RecordRef) bool { return x.ID != nil && y.ID != nil && *x.ID == *y.ID }
	return same(a.Fill, b.Fill) && same(a.Fabric, b.Fabric) && a.ThicknessMm == b.ThicknessMm && a.LayersCount == b.LayersCount && a.AskedAirGapMm == b.AskedAirGapMm
}

// comparedFigures are the figures of an option that people compare, in the order in which they are told; * stands
// for every element of a list.
var comparedFigures = []string{
	"/place", "/likely/tie_group", "/likely/best_share", "/likely/place_low", "/likely/place_high", "/beaten_by", "/panel_count",
	"/cost/total", "/cost/per_panel", "/cost/goods", "/cost/delivery", "/cost/trips", "/cost/protection_bought", "/cost/replacement_total", "/cost/net_of_leftovers_per_panel",
	"/cost/status", "/cost/oldest_price_date", "/area_m2_per_currency_unit",
	"/absorption/basis", "/absorption/area_m2", "/absorption/weighted_alpha", "/absorption/octaves/*/alpha", "/absorption/octaves/*/area_m2",
	"/ratings/nrc", "/ratings/weighted/alpha_w", "/ratings/weighted/class",
	"/burden/known", "/burden/extra_time_min", "/burden/extra_time_per_panel_min", "/burden/sessions_count", "/panel_mass_kg",
	"/depth_from_wall_mm", "/fill_depth_mm", "/frame_depth_mm", "/air_gap_mm", "/room/reached", "/room/least_count", "/room/room_for_count",
}

// figureAt is the number of the figure at a pointer or around it, -1 for none.
func figureAt(pointer string) int {
	path := strings.Split(pointer, "/")
	return slices.IndexFunc(comparedFigures, func(figure string) bool {
		names := strings.Split(figure, "/")
		return len(path) >= len(names) && slices.EqualFunc(names, path[:len(names)], func(name, at string) bool { return name == "*" || name == at })
	})
}

func comparedOption(a, b RankedOption) (ComparedOption, error) {
	out := ComparedOption{KeyFirst: a.Key, KeySecond: b.Key, Figures: []ComparedValue{}, Others: []string{}}
	list, err := differencesBetween("", a, b)
	if err != nil {
		return out, err
	}
	list = withinOneCurrency(list)
	slices.SortStableFunc(list, func(x, y ValueDifference) int { return cmp.Compare(figureAt(x.Pointer), figureAt(y.Pointer)) })
	for _, d := range list {
		if figureAt(d.Pointer) >= 0 {
			out.Figures = append(out.Figures, comparedValue(d))
		} else {
			out.Others = append(out.Others, d.Pointer)
		}
	}
	out.OthersCount = int64(len(out.Others))
	out.Others = out.Others[:min(len(out.Others), mostDifferences)]
	return out, nil
}

func comparedValue(d ValueDifference) ComparedValue {
	return ComparedValue{Pointer: d.Pointer, First: d.Stated, Second: d.Computed, Change: d.Change}
}

// withinOneCurrency takes away the change of amounts whose currency differs too.
func withinOneCurrency(list []ValueDifference) []ValueDifference {
	differs := map[string]bool{}
	for _, d := range list {
		differs[d.Pointer] = true
	}
	for i, d := range list {
		amount, ok := strings.CutSuffix(d.Pointer, "/amount")
		if ok && differs[amount+"/currency"] || d.Pointer == "/area_m2_per_currency_unit" && differs["/cost/at_least/currency"] {
			list[i].Change = nil
		}
	}
	return list
}

// comparedQuestions lists the inputs that differ. A list of the question is one value: what stands at which place in it
// means nothing.
func comparedQuestions(a, b RankingQuestion) ([]ComparedValue, error) {
	x, y, err := membersOf(a, b)
	if err != nil {
		return nil, err
	}
	out := []ComparedValue{}
	for _, at := range differing(x, y) {
		name := at[1:]
		v, w := member(x, name), member(y, name)
		_, list := v.([]any)
		_, other := w.([]any)
		if list || other {
			out = append(out, comparedValue(differenceOf(at, v, w)))
			continue
		}
		for _, d := range withinOneCurrency(differences(nil, at, v, w)) {
			out = append(out, comparedValue(d))
		}
	}
	return out, nil
}

// comparedRest lists the members of two answers that differ, but for the options and for what is told of the
// documents. The echo of the question counts where the questions are the same.
func comparedRest(a, b Ranking, asked bool) ([]string, error) {
	x, y, err := membersOf(a, b)
	return slices.DeleteFunc(differing(x, y), func(at string) bool {
		return at == "/options" || at == "/catalog_revision" || at == "/model_version" || at == "/inputs" && asked
	}), err
}

// membersOf are the members of two values on the wire.
func membersOf(a, b any) (x, y map[string]any, err error) {
	v, err := onWire(a)
	if err != nil {
		return nil, nil, err
	}
	w, err := onWire(b)
	if err != nil {
		return nil, nil, err
	}
	x, _ = v.(map[string]any)
	y, _ = w.(map[string]any)
	return x, y, nil
}

// differing are pointers to the members that differ, in order.
func differing(a, b map[string]any) []string {
	out := []string{}
	for _, name := range slices.Sorted(maps.Keys(a)) {
		if len(differences(nil, "", a[name], member(b, name))) > 0 {
			out = append(out, pointerOf([]string{name}))
		}
	}
	for _, name := range slices.Sorted(maps.Keys(b)) {
		if _, both := a[name]; !both {
			out = append(out, pointerOf([]string{name}))
		}
	}
	slices.Sort(out)
	return out
}

// comparedPrices lists the prices that differ of the offers that both documents hold, those that are bought first.
func comparedPrices(a, b compared) ([]ComparedPrice, error) {
	bought := map[string]bool{}
	for _, o := range slices.Concat(a.Answer.Options, b.Answer.Options) {
		for _, line := range o.Cost.Lines {
			if line.Offer != nil {
				bought[orZero(line.Offer.ID)] = true
			}
		}
	}
	out := []ComparedPrice{}
	for _, offer := range a.Catalog.Offers {
		id := orZero(offer.ID)
		if !slices.ContainsFunc(b.Catalog.Offers, func(o Offer) bool { return orZero(o.ID) == id }) {
			continue
		}
		p, before := a.prices[catalog.ID(id)]
		q, after := b.prices[catalog.ID(id)]
		if !before && !after {
			continue
		}
		w := ComparedPrice{Offer: RecordRef{ID: offer.ID, Slug: offer.Slug, Name: offer.Name}, Bought: bought[id], Others: []string{}}
		if before {
			w.PriceFirst, w.SeenFirstDate = place(encodeMoney(p.Amount)), place(string(p.Observed))
		}
		if after {
			w.PriceSecond, w.SeenSecondDate = place(encodeMoney(q.Amount)), place(string(q.Observed))
		}
		if before && after {
			x, y, err := membersOf(encodePrice(p), encodePrice(q))
			if err != nil {
				return nil, err
			}
			told := []string{"/id", "/create_time", "/created_by", "/corrects_id", "/price", "/observed_date"}
			w.Others = slices.DeleteFunc(differing(x, y), func(at string) bool { return slices.Contains(told, at) })
			if p.Amount.Currency() == q.Amount.Currency() {
				w.Change = encodeDifferenceIf(place(q.Amount.Sub(p.Amount)))
			}
			if p.Amount == q.Amount && p.Observed == q.Observed && len(w.Others) == 0 {
				continue
			}
		}
		out = append(out, w)
	}
	slices.SortFunc(out, func(x, y ComparedPrice) int {
		if x.Bought != y.Bought {
			return map[bool]int{true: -1, false: 1}[x.Bought]
		}
		return cmp.Or(cmp.Compare(x.Offer.Slug, y.Offer.Slug), cmp.Compare(orZero(x.Offer.ID), orZero(y.Offer.ID)))
	})
	return out, nil
}

// comparedRecords lists the records that differ, of every noun that a catalog of a document has but prices.
func comparedRecords(a, b ShortlistCatalog) ([]ComparedRecord, error) {
	x, y, err := membersOf(a, b)
	if err != nil {
		return nil, err
	}
	out := []ComparedRecord{}
	names := slices.Collect(maps.Keys(x))
	for name := range y {
		if _, both := x[name]; !both {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	for _, name := range names {
		if name == "prices" || name == "revision" {
			continue
		}
		was, is := recordsOf(x[name]), recordsOf(y[name])
		ids := slices.Collect(maps.Keys(was))
		for id := range is {
			if _, both := was[id]; !both {
				ids = append(ids, id)
			}
		}
		slices.Sort(ids)
		for _, id := range ids {
			w := ComparedRecord{Noun: strings.TrimSuffix(name, "s"), RevisionFirst: revisionOf(was[id]), RevisionSecond: revisionOf(is[id]), Members: []string{}}
			record := is[id]
			if record == nil {
				record = was[id]
			}
			slug, _ := record["slug"].(string)
			title, _ := record["name"].(string)
			w.Record = RecordRef{ID: place(id), Slug: slug, Name: title}
			if was[id] != nil && is[id] != nil {
				w.Members = slices.DeleteFunc(differing(was[id], is[id]), func(at string) bool {
					return at == "/revision" || at == "/update_time" || at == "/updated_by"
				})
				if orZero(w.RevisionFirst) == orZero(w.RevisionSecond) && len(w.Members) == 0 {
					continue
				}
			}
			out = append(out, w)
		}
	}
	return out, nil
}

// recordsOf are records on the wire by their ids.
func recordsOf(list any) map[string]map[string]any {
	out := map[string]map[string]any{}
	elements, _ := list.([]any)
	for _, e := range elements {
		record, _ := e.(map[string]any)
		id, _ := record["id"].(string)
		out[id] = record
	}
	return out
}

// revisionOf is the revision of a record, nil of none.
func revisionOf(record map[string]any) *int64 {
	if record == nil {
		return nil
	}
	number, _ := record["revision"].(json.Number)
	n, err := number.Int64()
	if err != nil { // reading the document has refused this
		return nil
	}
	return &n
}

// changedOptions counts the options of both documents that differ.
func changedOptions(c ShortlistComparison) int {
	n := 0
	for _, o := range c.Options {
		if len(o.Figures)+len(o.Others) > 0 {
			n++
		}
	}
	return n
}

// comparisonWords says a comparison in one paragraph.
func comparisonWords(c ShortlistComparison) string {
	var say []string
	tell := func(n int, one, more string) {
		switch {
		case n == 1:
			say = append(say, one)
		case n > 1:
			say = append(say, fmt.Sprintf(more, n))
		}
	}
	if c.Equal {
		say = append(say, "Equal: question, answer and records are the same.")
	} else {
		say = append(say, "Different.")
		switch n := changedOptions(c); {
		case len(c.Options) == 0:
			say = append(say, "No option stands in both.")
		case n == 0:
			say = append(say, fmt.Sprintf("Options in both: %d, all of them equal.", len(c.Options)))
		default:
			say = append(say, fmt.Sprintf("Options in both: %d, those that differ: %d.", len(c.Options), n))
		}
		tell(len(c.OnlyFirst), "One option stands in the first alone.", "%d options stand in the first alone.")
		tell(len(c.OnlySecond), "One option stands in the second alone.", "%d options stand in the second alone.")
		tell(len(c.Question), "One input of the question differs.", "%d inputs of the question differ.")
		bought := 0
		for _, p := range c.Prices {
			if p.Bought {
				bought++
			}
		}
		if n := len(c.Prices); n > 0 {
			say = append(say, fmt.Sprintf("Prices that differ: %d, of what is bought: %d.", n, bought))
		}
		tell(len(c.Records), "One record differs or stands in one document alone.", "%d records differ or stand in one document alone.")
		if len(c.Answer) > 0 {
			say = append(say, "Also different in the answer: "+strings.ReplaceAll(strings.Join(c.Answer, ", "), "/", "")+".")
		}
	}
	if slices.ContainsFunc(c.Question, func(d ComparedValue) bool { return d.Pointer == "/currency" }) {
		say = append(say, "The questions are in two currencies; their amounts are set side by side and not subtracted.")
	}
	if c.First.ModelVersion != c.Second.ModelVersion {
		say = append(say, fmt.Sprintf("The first was worked out by model version %s, the second by %s; that may explain differences.", c.First.ModelVersion, c.Second.ModelVersion))
	}
	if c.First.DigestEqual && c.Second.DigestEqual {
		say = append(say, "Both digests fit.")
	}
	for _, d := range []struct {
		which string
		head  ComparedShortlist
	}{{"first", c.First}, {"second", c.Second}} {
		if !d.head.DigestEqual {
			say = append(say, "The digest of the "+d.which+" does not fit: something in it was changed after it was written.")
		}
	}
	return strings.Join(say, " ")
}
