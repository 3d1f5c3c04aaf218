package api

import (
	"context"
	"errors"
	"fmt"
	"math"

	"github.com/oapi-codegen/runtime"

	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
	"sabinbook/internal/costing"
	"sabinbook/internal/handling"
	"sabinbook/internal/money"
	"sabinbook/internal/panels"
	"sabinbook/internal/ranking"
	"sabinbook/internal/ratings"
	"sabinbook/internal/units"
)

// RankOptions answers POST /v1/rankings.
func (s *Server) RankOptions(ctx context.Context, in RankOptionsRequestObject) (RankOptionsResponseObject, error) {
	brief, err := s.brief(ctx, *in.Body)
	if err != nil {
		return nil, err
	}
	result, err := s.rank(ctx, brief)
	if err != nil {
		return nil, err
	}
	return RankOptions200JSONResponse{RankingAnswerJSONResponse{Body: encodeRanking(result)}}, nil
}

// rank answers a brief when there is a slot for it.
func (s *Server) rank(ctx context.Context, brief ranking.Brief) (ranking.Result, error) {
	done, err := s.slot(ctx)
	if err != nil {
		return ranking.Result{}, err
	}
	defer done()
	stock, err := s.prepared(ctx)
	if err != nil {
		return ranking.Result{}, err
	}
	return stock.Rank(brief)
}

// brief decodes a question, with what it takes from stored records, and applies the rules of
// the ranking; the error names all faults.
func (s *Server) brief(ctx context.Context, w RankingQuestion) (ranking.Brief, error) {
	w, missing := s.withStored(ctx, w)
	if invalid := new(catalog.InvalidError); missing != nil && !errors.As(missing, &invalid) {
		return ranking.Brief{}, missing
	}
	b, err := s.briefOf(w)
	return b, joined(missing, err)
}

// briefOf is brief of a question that names no stored records.
func (s *Server) briefOf(w RankingQuestion) (ranking.Brief, error) {
	v := &catalog.Faults{}
	b := decodeBrief(v, w, catalog.DateOf(s.opts.Now()))
	return b, joined(v.Err(), b.Validate())
}

// checkRanking is the check of a question that breaks the contract elsewhere.
func (s *Server) checkRanking(value any) []fault {
	var w RankingQuestion
	if runtime.BindJSONValue(value, &w) != nil {
		return nil
	}
	_, err := s.briefOf(withoutStored(w))
	return faultsIn(err)
}

func decodeBrief(v *catalog.Faults, w RankingQuestion, today catalog.Date) ranking.Brief {
	b := ranking.StandardBrief(or(w.PanelCount, count, 0), today, money.Currency(w.Currency))
	b.CountFrom = wordIf[ranking.CountFrom](v, "/panel_count_from", w.PanelCountFrom)
	if w.PanelCount == nil && w.PanelCountFrom == nil {
		v.Add("/panel_count", "required", "is missing", "give the number of panels, or a room and panel_count_from room")
	}
	b.Design = decodeDesign(w.Panel, b.Design)
	b.LayersMax = or(w.LayersMaxCount, count, b.LayersMax)
	if w.AirGapsMm != nil {
		b.AirGaps = listOf(w.AirGapsMm, length)
	}
	b.Why, b.Options = orZero(w.Why), orZero(w.Options)
	b.Fills, b.Fabrics = orZero(w.Fills), orZero(w.Fabrics)
	b.Families = listOf(w.Families, func(x string) catalog.Family { return catalog.Family(x) })
	if w.Purpose != nil {
		b.Purpose = decodePurpose(v, *w.Purpose)
	}
	b.Order = or(w.Order, func(x string) ranking.Order { return ranking.Order(x) }, b.Order)
	b.Show = or(w.Show, func(x string) ranking.Show { return ranking.Show(x) }, b.Show)
	b.Limit = or(w.Limit, count, b.Limit)
	b.Basis = or(w.Basis, func(x string) ranking.Basis { return ranking.Basis(x) }, b.Basis)
	b.Limits = decodeLimits(v, w.Limits)
	if w.Room != nil {
		room := roomOf(v, "/room", *w.Room)
		targeted(v, "/room", *w.Room)
		b.Room = &room
	}
	if w.Draws != nil {
		b.Draws = ranking.Draws{Count: or(w.Draws.Count, count, b.Draws.Count), Seed: or(w.Draws.Seed, func(n int64) int64 { return n }, b.Draws.Seed)}
	}
	b.Handling = decodeHandlingTerms(v, w.Handling, b.Handling)
	b.Handling.Owned = listOf(w.OwnedRoles, func(x string) catalog.Role { return catalog.Role(x) })
	b.Terms = decodeTerms(v, w, b.Terms)
	b.Terms.Owned = b.Handling.Owned
	return b
}

// decodePurpose reads a purpose. The inputs of an answer are a question with the same answer:
// hence a named purpose may stand beside its own weights as they are told, and weights that
// add up to 1 already are not scaled again, which could change their last digit.
func decodePurpose(v *catalog.Faults, w Purpose) ranking.Purpose {
	if w.Weights == nil || ranking.PurposeName(w.Name) == ranking.Room { // of a room they follow from it
		return ranking.ParsePurpose(w.Name, nil, v)
	}
	var own ranking.Weights
	sum := 0.0
	for i, p := range weightMembers(w.Weights) {
		own[i] = orZero(*p)
		sum += own[i]
	}
	if ranking.PurposeName(w.Name) != ranking.Own {
		if named := ranking.ParsePurpose(w.Name, nil, &catalog.Faults{}); own == toldWeights(named) {
			return ranking.ParsePurpose(w.Name, nil, v)
		}
	}
	p := ranking.ParsePurpose(w.Name, &own, v)
	if p.Name == ranking.Own && math.Abs(sum-1) < 1e-9 { // far below the four places of an answer
		p.Weights = own
	}
	return p
}

// toldWeights are the weights of a purpose as an answer tells them: those of a named purpose to
// four places, for reading, the asker's own to the last digit, because nothing else holds them.
func toldWeights(p ranking.Purpose) ranking.Weights {
	w := p.Weights
	if p.Name != ranking.Own {
		for i := range w {
			w[i] = rounded(w[i], 4)
		}
	}
	return w
}

func decodeHandlingTerms(v *catalog.Faults, w *HandlingTerms, t handling.Terms) handling.Terms {
	if w == nil {
		return t
	}
	t.Persons = or(w.PersonsCount, count, t.Persons)
	t.PanelsPerSession = or(w.PanelsPerSessionCount, count, t.PanelsPerSession)
	t.Overhead = pointerTo(w.OverheadMin, minutes)
	t.CutPerMetre = pointerTo(w.CuttingMinPerM, minutes)
	t.WrapPerArea = pointerTo(w.WrapMinPerM2, minutes)
	t.SealPerMetre = pointerTo(w.SealingMinPerM, minutes)
	t.CutLength = pointerTo(w.CutLengthMm, length)
	t.ValueOfHour = decodeMoneyIf(v, "/handling/value_of_hour", w.ValueOfHour)
	if l := w.Lift; l != nil {
		same, g := func(x float64) float64 { return x }, handling.DefaultGeometry
		t.Lift = &handling.Geometry{Horizontal: or(l.HorizontalCm, same, g.Horizontal), From: or(l.FromCm, same, g.From), To: or(l.ToCm, same, g.To), Asymmetry: or(l.AsymmetryDeg, same, g.Asymmetry),
			PerMinute: or(l.LiftsPerMin, same, g.PerMinute), Hours: or(l.DurationHours, same, g.Hours), Coupling: or(l.Coupling, func(x string) handling.Coupling { return handling.Coupling(x) }, g.Coupling),
			Unusual: orZero(l.Unusual)}
	}
	return t
}

func decodeTerms(v *catalog.Faults, w RankingQuestion, t costing.Terms) costing.Terms {
	t.AsOf = or(w.AsOfDate, func(x string) catalog.Date { return catalog.Date(x) }, t.AsOf)
	t.MaxAgeDays = or(w.MaxPriceAgeDays, count, t.MaxAgeDays)
	t.OldPrices = or(w.OldPrices, func(x string) costing.OldPrices { return costing.OldPrices(x) }, t.OldPrices)
	t.Convert = or(w.ConvertPrices, func(x string) costing.ConvertPrices { return costing.ConvertPrices(x) }, t.Convert)
	t.MaxRateAgeDays = or(w.MaxRateAgeDays, count, t.MaxRateAgeDays)
	if w.MaxRateAgeDays != nil && t.Convert == costing.NotConverted {
		v.Add("/max_rate_age_days", "not_applicable", "is the age of exchange rates, and nothing is converted", "let convert_prices be stored_rates, or leave it out")
	}
	t.Stock = decodeStock(v, w.StockOnHand)
	t.Region = orZero(w.Region)
	t.Tax = or(w.TaxBasis, func(x string) costing.TaxBasis { return costing.TaxBasis(x) }, t.Tax)
	if w.FabricWastePercent != nil {
		t.FabricWasteBP = decodePercent(v, "/fabric_waste_percent", *w.FabricWastePercent)
	}
	if w.LooseWastePercent != nil {
		t.LooseWasteBP = decodePercent(v, "/loose_waste_percent", *w.LooseWastePercent)
	}
	t.Kerf = or(w.KerfMm, length, t.Kerf)
	t.MinPiece = or(w.MinPieceMm, length, t.MinPiece)
	t.NodeLimit = or(w.NodeLimitCount, count, t.NodeLimit)
	t.AllowPadding = w.AllowPadding == nil || *w.AllowPadding
	return t
}

// weightMembers lists the places of the weights from 125 Hz to 4000 Hz.
func weightMembers(w *BandWeights) [bands.OctaveCount]**float64 {
	return [bands.OctaveCount]**float64{&w.Weight125Hz, &w.Weight250Hz, &w.Weight500Hz, &w.Weight1000Hz, &w.Weight2000Hz, &w.Weight4000Hz}
}

// encodeBrief writes the question as it was used, every default filled in.
func encodeBrief(b ranking.Brief) RankingQuestion {
	gaps := listOf(&b.AirGaps, number[units.Length])
	families := append([]string{}, listOf(&b.Families, text[catalog.Family])...)
	owned := encodeRoles(b.Handling.Owned)
	weights, told := BandWeights{}, toldWeights(b.Purpose)
	for i, p := range weightMembers(&weights) {
		*p = place(told[i])
	}
	t := b.Terms
	var convert *string
	var rateAge *int64
	if t.Convert != costing.NotConverted {
		convert, rateAge = place(string(t.Convert)), place(int64(t.MaxRateAgeDays))
	}
	out := RankingQuestion{
		PanelCount: knownAs(b.PanelCount, whole), PanelCountFrom: known(string(b.CountFrom)),
		Panel:          encodeDesign(b.Design),
		LayersMaxCount: place(int64(b.LayersMax)), AirGapsMm: &gaps,
		Fills: place(append([]string{}, b.Fills...)), Fabrics: place(append([]string{}, b.Fabrics...)), Families: &families,
		Purpose: &Purpose{Name: string(b.Purpose.Name), Weights: &weights},
		Room:    roomQuestionIf(b.Room),
		Basis:   place(string(b.Basis)), Limits: encodeLimits(b.Limits), Draws: &Draws{Count: place(int64(b.Draws.Count)), Seed: place(b.Draws.Seed)},
		Why:   place(append([]string{}, b.Why...)),
		Order: place(string(b.Order)), Show: place(string(b.Show)), Limit: place(int64(b.Limit)),
		Currency: string(t.Currency), AsOfDate: place(string(t.AsOf)), MaxPriceAgeDays: place(int64(t.MaxAgeDays)), ConvertPrices: convert, MaxRateAgeDays: rateAge, Region: known(t.Region),
		TaxBasis: place(string(t.Tax)), OldPrices: place(string(t.OldPrices)), OwnedRoles: owned, StockOnHand: encodeStock(t.Stock),
		FabricWastePercent: place(float64(t.FabricWasteBP) / 100), LooseWastePercent: place(float64(t.LooseWasteBP) / 100),
		KerfMm: place(float64(t.Kerf)), MinPieceMm: place(float64(t.MinPiece)), NodeLimitCount: place(int64(t.NodeLimit)), AllowPadding: &t.AllowPadding,
		Handling: encodeHandlingTerms(b.Handling),
	}
	if len(b.Options) > 0 {
		out.Options = place(b.Options)
	}
	return out
}

func encodeRoles(list []catalog.Role) *[]string {
	return place(append([]string{}, listOf(&list, text[catalog.Role])...))
}

func encodeHandlingTerms(h handling.Terms) *HandlingTerms {
	return &HandlingTerms{PersonsCount: place(int64(h.Persons)), PanelsPerSessionCount: place(int64(h.PanelsPerSession)),
		OverheadMin: pointerTo(h.Overhead, number[units.Minutes]), CuttingMinPerM: pointerTo(h.CutPerMetre, number[units.Minutes]),
		WrapMinPerM2: pointerTo(h.WrapPerArea, number[units.Minutes]), SealingMinPerM: pointerTo(h.SealPerMetre, number[units.Minutes]),
		CutLengthMm: pointerTo(h.CutLength, number[units.Length]), ValueOfHour: encodeMoneyIf(h.ValueOfHour), Lift: encodeLift(h.Lift)}
}

func encodeLift(g *handling.Geometry) *LiftTerms {
	if g == nil {
		return nil
	}
	return &LiftTerms{HorizontalCm: &g.Horizontal, FromCm: &g.From, ToCm: &g.To, AsymmetryDeg: &g.Asymmetry, LiftsPerMin: &g.PerMinute, DurationHours: &g.Hours,
		Coupling: place(string(g.Coupling)), Unusual: &g.Unusual}
}

func encodeRanking(r ranking.Result) Ranking {
	out := Ranking{
		Inputs: encodeBrief(r.Brief), CatalogRevision: r.CatalogRevision, ModelVersion: ranking.ModelVersion,
		CandidatesCount: int64(r.Considered), RankedCount: int64(r.Priced), NotPricedCount: int64(r.Unpriced),
		Options: make([]RankedOption, len(r.Options)), NotPriced: make([]RankedOption, len(r.NotPriced)),
		LeftOut: make([]LeftOutCandidate, len(r.LeftOut)), Notes: answerNotes(r),
		Suppliers: make([]RecordRef, len(r.Suppliers)), Sources: make([]SourceRef, len(r.Sources)), Why: encodeWhy(r.Why), ExchangeRates: encodeRates(r.Rates),
	}
	for i, o := range r.Options {
		out.Options[i] = encodeOption(o)
	}
	for i, o := range r.NotPriced {
		out.NotPriced[i] = encodeOption(o)
	}
	for i, l := range r.LeftOut {
		out.LeftOut[i] = encodeLeftOut(l)
		out.LeftOutCount += int64(l.Count)
	}
	for i, s := range r.Suppliers {
		out.Suppliers[i] = encodeRef(s.Meta)
	}
	for i, s := range r.Sources {
		out.Sources[i] = encodeSourceRef(s)
	}
	return out
}

func encodeRef(m catalog.Meta) RecordRef {
	return RecordRef{ID: known(string(m.ID)), Slug: string(m.Slug), Name: m.Name}
}

// refIf is a reference to a record, nil where there is none.
func refIf(m catalog.Meta) *RecordRef {
	if m.ID == "" {
		return nil
	}
	return place(encodeRef(m))
}

func encodeLeftOut(l ranking.LeftOut) LeftOutCandidate {
	out := LeftOutCandidate{Fill: refIf(l.Fill), Fabric: refIf(l.Fabric), ThicknessMm: knownAs(l.Thickness, number), LayersCount: knownAs(l.Layers, whole),
		CandidatesCount: int64(l.Count), Reason: string(l.Reason)}
	if l.HasGap {
		out.AskedAirGapMm = place(float64(l.AskedGap))
	}
	out.Detail, out.Fix = leftOutWords(l)
	return out
}

func encodeOption(o ranking.Option) RankedOption {
	b := o.Build
	out := RankedOption{
		Key: o.Key(), PanelCount: int64(o.Panels), Place: knownAs(o.Place, whole), OtherBuildsCount: knownAs(o.OtherBuilds, whole), BeatenBy: known(o.BeatenBy), Likely: encodeLikely(o.Likely), Room: encodeInRoom(o.Room),
		Fill: encodeRef(b.Fill.Meta), Family: string(b.Fill.Family), Fabric: encodeRef(b.Fabric.Meta), Frame: encodeRef(b.Frame.Meta),
		ThicknessMm: float64(b.Thickness), LayersCount: int64(b.Layers), FillDepthMm: float64(b.FillDepth()),
		AskedAirGapMm: float64(b.AskedGap), AirGapMm: float64(b.AirGap), StandOffMm: float64(b.StandOff),
		FrameDepthMm: float64(b.FrameDepth()), DepthFromWallMm: float64(b.DepthFromWall()), BackWrapped: b.BackWrapped(),
		Absorption: encodeAbsorption(o), Ratings: encodeRatings(o.Rating), Cost: encodeCost(o.Cost), Burden: encodeBurden(o.Burden),
		FireDeclarations: *encodeFire(append(append([]catalog.FireDeclaration{}, b.Fill.Fire...), b.Fabric.Fire...)),
		Cautions:         cautionNotes(b, o.Burden), SourceIds: listOf(&o.Sources, text[catalog.ID]),
	}
	out.PanelMassKg, out.MassLines = encodeMass(b)
	if per := o.PerCurrencyUnit(); per != 0 {
		out.AreaM2PerCurrencyUnit = place(rounded(per, 6))
	}
	return out
}

// encodeMass is the mass of a panel when it is known, and where it comes from.
func encodeMass(b panels.Build) (*float64, []MassLine) {
	total, lines, complete := b.Mass()
	out := []MassLine{}
	for _, l := range lines {
		line := MassLine{Part: l.What}
		if l.Known {
			line.MassKg = place(rounded(float64(l.Mass), 3))
		}
		out = append(out, line)
	}
	if !complete {
		return nil, out
	}
	return place(rounded(float64(total), 3)), out
}

func encodeAbsorption(o ranking.Option) OptionAbsorption {
	a := o.Absorption
	curve := a.Curve()
	out := OptionAbsorption{
		Basis: string(a.Basis), BandBasis: string(curve.Basis), Bands: encodeBands(curve.Map(func(_ bands.Band, x float64) float64 { return rounded(x, 4) })),
		Octaves: []RankedOctave{}, WeightedAlpha: rounded(o.Alpha, 4), AreaM2: rounded(float64(o.Area), 4),
		FabricFlowResistancePaSPerM: rounded(float64(o.Openness.Value), 2), FabricEffect: rounded(a.CoverEffect, 4), Warnings: weaknesses(a),
	}
	if a.Test != nil {
		out.Test, out.TestChoice = place(encodeRef(a.Test.Meta)), place(choiceNote(a))
	}
	for i, oct := range o.Octaves {
		if oct.Known {
			out.Octaves = append(out.Octaves, RankedOctave{OctaveHz: int64(bands.OctaveBand(i).Nominal()), Alpha: rounded(oct.Raw, 4),
				LowAlpha: rounded(oct.Low, 4), HighAlpha: rounded(oct.High, 4), RankedAlpha: rounded(oct.Ranked, 4), AreaM2: rounded(float64(oct.Area), 4)})
		}
	}
	for i := range out.Warnings {
		out.Warnings[i].LayerIndex = nil // an option lists no layers
	}
	return out
}

func encodeInputs(list []handling.Input) []Input {
	out := make([]Input, len(list))
	for i, in := range list {
		out[i] = Input{Name: in.Name, Value: rounded(in.Value, 6), Unit: known(in.Unit)}
	}
	return out
}

func encodeBurden(b handling.Burden) OptionBurden {
	out := OptionBurden{Known: b.Known, Lines: encodeBurdenLines(b.Lines), FullBackWrap: b.FullBackWrap, Protection: make([]ProtectionNeed, len(b.Protection))}
	for i, p := range b.Protection {
		out.Protection[i] = ProtectionNeed{Role: string(p.Role), UsesCount: int64(p.Uses), Owned: p.Owned, Evidence: string(p.Evidence)}
	}
	if b.Known {
		out.ExtraTimeMin, out.ExtraTimePerPanelMin, out.SessionsCount = place(rounded(float64(b.Total), 4)), place(rounded(float64(b.PerPanel), 4)), place(int64(b.Sessions))
	}
	if cost, ok := b.LabourCost(); ok {
		out.LabourCost = place(encodeMoney(cost))
	}
	if lift := b.Lift; lift.Known {
		out.Lifting = &LiftingIndex{Outside: lift.Outside, Evidence: string(lift.Evidence)}
		if !lift.Outside {
			worse := lift.Origin
			if lift.AtDestination {
				worse = lift.Destination
			}
			out.Lifting.Index, out.Lifting.LimitKg = place(rounded(lift.Index, 3)), place(rounded(float64(worse.Limit), 3))
		}
	}
	return out
}

// cautionNotes are the cautions of a build in words.
func cautionNotes(b panels.Build, burden handling.Burden) []Note {
	out := []Note{}
	for _, c := range burden.Cautions {
		words, source := c.Text()
		out = append(out, Note{Code: string(c), Text: words, Source: known(source)})
	}
	if gap := b.StandOff; gap > 0 && len(b.PartCounts()) > len(b.Design.Parts) {
		out = append(out, Note{Code: "stand_off_length", Text: fmt.Sprintf("The stand-offs in the list are priced without regard to their length. This build needs %g mm: check the price, and that they hold the panel at that distance.", float64(gap))})
	}
	if len(b.Fill.Fire)+len(b.Fabric.Fire) > 0 {
		out = append(out, Note{Code: "fire_class_of_parts", Text: fmt.Sprintf("The fire classes are those declared for the parts, in the build that was tested. %s", fireDeference)})
	} else {
		out = append(out, Note{Code: "fire_class_unknown", Text: fmt.Sprintf("No fire class is declared for fill or fabric; unknown is not a class. %s", fireDeference)})
	}
	return out
}

func encodeRatings(r ratings.Rating) OptionRatings {
	out := OptionRatings{Nrc: pointerTo(r.NRC, ratings.Hundredths.Float), Saa: pointerTo(r.SAA, ratings.Hundredths.Float), Notes: make([]Note, len(r.Notes))}
	if w := r.Weighted; w != nil {
		out.Weighted = &WeightedRating{AlphaW: w.AlphaW.Float(), ShapeIndicators: known(w.Indicators), Class: string(w.Class),
			Shift: w.Shift.Float(), UnfavourableSum: w.UnfavourableSum.Float()}
	}
	for i, n := range r.Notes {
		out.Notes[i] = Note{Code: string(n.Code), Text: ratingWords(n)}
	}
	return out
}
