package api

import (
	"fmt"

	"sabinbook/internal/costing"
	"sabinbook/internal/handling"
	"sabinbook/internal/money"
	"sabinbook/internal/ranking"
	"sabinbook/internal/readymade"
)

func encodeBuildOrBuy(a readymade.Answer) BuildOrBuy {
	r, o := a.Built.Result, a.Built.Option()
	out := BuildOrBuy{
		Inputs: encodeQuestion(a.Question), CatalogRevision: r.CatalogRevision, ModelVersion: readymade.ModelVersion,
		Build: BuiltPanels{Key: o.Key(), Fill: encodeRef(o.Build.Fill.Meta), Fabric: encodeRef(o.Build.Fabric.Meta), Frame: encodeRef(o.Build.Frame.Meta),
			Cost: encodeCost(o.Cost), Burden: encodeBurden(o.Burden), Cautions: cautionNotes(o.Build, o.Burden)},
		ReadyMade: encodeReadyFacts(a), Tools: encodeToolCost(a), Time: encodeTime(a),
		EqualCount: encodeComparison(a, a.EqualCount, ""), Gaps: make([]AnswerGap, len(a.Gaps)), Notes: buildOrBuyNotes(a),
		Suppliers: make([]RecordRef, len(a.Suppliers)), Sources: make([]SourceRef, len(a.Sources)), ExchangeRates: encodeRates(a.Rates),
	}
	if a.Built.Unabsorbed == "" {
		out.Build.Absorption = place(encodeAbsorption(o))
	}
	if a.EqualAbsorption != nil {
		out.EqualAbsorption = place(encodeComparison(a, *a.EqualAbsorption, ofAbsorption(a.EqualAbsorption.Bought.Panels)))
	}
	if m := a.Match; m != nil {
		out.AbsorptionMatch = &AbsorptionMatch{BuiltAreaM2: rounded(float64(m.Built), 4), BuiltAreaLowM2: rounded(float64(m.Low), 4), BuiltAreaHighM2: rounded(float64(m.High), 4),
			BuiltBasis: string(o.Absorption.Basis), ReadyMadeAreaM2: rounded(float64(m.Ready), 4),
			ReadyMadeCount: int64(m.Count), ReadyMadeLowCount: int64(m.LowCount), ReadyMadeHighCount: int64(m.HighCount)}
	}
	for i, g := range a.Gaps {
		detail, fix := gapWords(a, g)
		out.Gaps[i] = AnswerGap{Code: string(g), Detail: detail, Fix: fix}
	}
	for i, s := range a.Suppliers {
		out.Suppliers[i] = encodeRef(s.Meta)
	}
	for i, s := range a.Sources {
		out.Sources[i] = encodeSourceRef(s)
	}
	return out
}

// byAsker is the grade of coefficients that stand in the question.
const byAsker = "asker"

func encodeReadyFacts(a readymade.Answer) ReadyMadeFacts {
	p := a.Panel
	out := ReadyMadeFacts{WidthMm: knownAs(p.Width, number), HeightMm: knownAs(p.Height, number), FireDeclarations: *encodeFire(p.Fire)}
	if p.Alpha.Len() > 0 {
		out.Octaves, out.AbsorptionEvidence = place(encodeBands(p.Alpha.InOctaves())), place(byAsker)
	}
	if !a.Stored {
		return out
	}
	out.Panel, out.DepthMm, out.MassKg = refIf(p.Meta), knownAs(p.Depth, number), encodeFigure(p.Mass)
	if p.Alpha.Len() > 0 {
		out.AbsorptionEvidence, out.MountingType = place(string(p.AlphaEvidence)), place(string(p.Mounting))
	}
	return out
}

func encodeToolCost(a readymade.Answer) ToolCost {
	out := ToolCost{Price: encodeMoneyIf(a.Tools), ResaleValue: encodeMoney(a.Resale)}
	for _, t := range a.Question.Tools {
		if t.Owned {
			out.OwnedCount++
		} else {
			out.ToBuyCount++
		}
	}
	if a.Tools != nil {
		panels := int64(a.EqualCount.Built)
		out.PricePerPanel = place(encodeMoney(a.Tools.TimesRatio(1, panels)))
		out.PricePerPanelAfterResale = place(encodeDifference(a.Tools.Sub(a.Resale).TimesRatio(1, panels)))
	}
	return out
}

func encodeTime(a readymade.Answer) BuildingTime {
	t := a.Time
	out := BuildingTime{Known: t.Known, Lines: encodeBurdenLines(t.Lines), TotalMin: rounded(float64(t.Total), 4), TotalHours: rounded(float64(t.Total)/60, 4)}
	if t.Known {
		out.PerPanelMin = place(rounded(float64(t.Total)/float64(a.EqualCount.Built), 4))
	}
	return out
}

func encodeBurdenLines(list []handling.Line) []BurdenLine {
	out := make([]BurdenLine, len(list))
	for i, l := range list {
		out[i] = BurdenLine{Name: l.Name, Formula: l.Formula, Inputs: encodeInputs(l.Inputs), QuantityMin: rounded(l.Quantity, 4), Evidence: string(l.Evidence), Note: known(l.Note)}
	}
	return out
}

// encodeDifference writes an amount that may be negative.
func encodeDifference(a money.Amount) MoneyDifference {
	return MoneyDifference{Amount: a.String(), Currency: string(a.Currency())}
}

func encodeDifferenceIf(a *money.Amount) *MoneyDifference {
	if a == nil {
		return nil
	}
	return place(encodeDifference(*a))
}

// encodeComparison writes a comparison; which says of which ready-made panels.
func encodeComparison(a readymade.Answer, c readymade.Comparison, which string) BuildOrBuyComparison {
	out := BuildOrBuyComparison{BuiltCount: int64(c.Built), ReadyMade: encodeBought(c.Bought), Savings: make([]BuildSaving, len(c.Savings)), SavesAtMost: encodeDifferenceIf(c.AtMost),
		LabourCost: encodeMoneyIf(c.Labour), SavingAfterLabour: encodeDifferenceIf(c.AfterLabour), Conclusion: conclusion(a, c, which)}
	for i, s := range c.Savings {
		out.Savings[i] = BuildSaving{Basis: string(s.Basis), Saving: encodeDifference(s.Amount), BreakEvenValueOfHour: encodeDifferenceIf(s.BreakEven)}
		if s.PerMille != nil {
			out.Savings[i].SavingPercent = place(float64(*s.PerMille) / 10)
		}
	}
	if r := c.Recovery; r != nil {
		out.ToolRecovery = &ToolRecovery{LinearCount: r.Linear, FirstCount: pointerTo(r.First, whole), LastingCount: pointerTo(r.Lasting, whole), CurveToCount: int64(r.To)}
	}
	return out
}

func encodeBought(b readymade.Bought) ReadyMadeCost {
	out := ReadyMadeCost{NeededCount: int64(b.Panels), Lines: []CostLine{}, Orders: []CostOrder{}, Missing: []MissingPrice{}, Total: encodeMoneyIf(b.Total)}
	if b.Total != nil {
		out.BoughtCount, out.LeftoverValue = place(int64(b.Count)), place(encodeMoney(b.Leftovers))
		out.PerPanel = place(encodeMoney(b.Total.TimesRatio(1, int64(b.Panels))))
	}
	if p := b.Asked; p != nil {
		out.UnitPrice, out.Goods, out.Delivery = place(encodeMoney(p.UnitPrice)), place(encodeMoney(p.Goods)), place(encodeMoney(p.Delivery))
	}
	if b.Cheaper != nil {
		out.Cheaper = &CheaperCount{PanelCount: int64(b.Cheaper.Panels), Total: encodeMoney(b.Cheaper.Total)}
	}
	if b.Cost != nil {
		c := encodeCost(*b.Cost)
		out.Lines, out.Orders, out.Missing = c.Lines, c.Orders, c.Missing
		if b.Total != nil {
			out.Goods, out.Delivery, out.Trips = &c.Goods, &c.Delivery, &c.Trips
		}
	}
	return out
}

// The codes of conclusions.
const (
	buildingPays      = "building_pays"       // with labour at the value of the hour
	buyingPays        = "buying_pays"         // with labour counted, or even without
	paysBelow         = "building_pays_below" // a value of the hour
	savesBeforeLabour = "building_saves_before_labour"
	cannotBeTold      = "cannot_be_told"
)

// conclusion says in a sentence or two whether building pays. It counts cash after tools, or
// before them where a tool has no price.
func conclusion(a readymade.Answer, c readymade.Comparison, which string) Note {
	these, those := numbered(c.Built, "panel", "panels"), numbered(c.Bought.Panels, "ready-made one", "ready-made ones")+which
	if c.Bought.Count > c.Bought.Panels {
		those += fmt.Sprintf(" (%d are bought)", c.Bought.Count)
	}
	if c.Bought.Total == nil {
		return Note{Code: cannotBeTold, Text: fmt.Sprintf("Whether building %s pays cannot be told, because the ready-made panels have no price.", these)}
	}
	if c.AtMost != nil {
		least := a.Built.Option().Cost.AtLeast
		if c.AtMost.Sign() <= 0 {
			return Note{Code: buyingPays, Text: fmt.Sprintf("Building %s does not pay: even without what has no price it costs at least %s, and %s cost %s.", these, sum(least), those, sum(*c.Bought.Total))}
		}
		return Note{Code: cannotBeTold, Text: fmt.Sprintf("Whether building %s pays cannot be told, because something it needs has no price. It costs at least %s, so it saves at most %s against %s.", these, sum(least), sum(*c.AtMost), those)}
	}
	basis, tools := readymade.Cash, ", before the tools, of which not all have a price"
	if a.Tools != nil {
		basis, tools = readymade.CashAfterTools, ""
		if !a.Tools.IsZero() {
			tools = ", tools counted"
		}
	}
	s := savingOn(c, basis)
	var n Note
	switch {
	case c.AfterLabour != nil:
		n = withLabour(a, c, these, those)
	case s.Amount.Sign() <= 0:
		n = Note{Code: buyingPays, Text: fmt.Sprintf("Building %s costs %s more than %s%s, even with labour for nothing.", these, sum(negative(s.Amount)), those, tools)}
		if s.Amount.IsZero() {
			n.Text = fmt.Sprintf("Building %s costs just what %s cost%s, with labour for nothing.", these, those, tools)
		}
	case s.BreakEven != nil:
		n = Note{Code: paysBelow, Text: fmt.Sprintf("Building %s saves %s%s against %s%s. It takes %s: it pays as long as an hour of yours is worth less than %s.", these, sum(s.Amount), share(s), those, tools, hours(a.Time), sum(*s.BreakEven))}
	default:
		n = Note{Code: savesBeforeLabour, Text: fmt.Sprintf("Building %s saves %s%s against %s%s.", these, sum(s.Amount), share(s), those, tools)}
		if !a.Time.Known {
			n.Text += " How long it takes is not known, so that the value of an hour below which it pays cannot be told."
		}
	}
	if cost := a.Built.Option().Cost; cost.Replacement != nil && *cost.Replacement != *cost.Total {
		on := readymade.AtReplacement
		if a.Tools != nil {
			on = readymade.AtReplacementAfterTools
		}
		if r := savingOn(c, on); r.Amount.Sign() < 0 {
			n.Text += fmt.Sprintf(" With the stock on hand at what it would cost to replace, building costs %s more%s.", sum(negative(r.Amount)), beforeLabour(c))
		} else {
			n.Text += fmt.Sprintf(" With the stock on hand at what it would cost to replace, building saves %s%s.", sum(r.Amount), beforeLabour(c))
		}
	}
	return n
}

// withLabour is the conclusion where the asker gave a value of the hour.
func withLabour(a readymade.Answer, c readymade.Comparison, these, those string) Note {
	worth := fmt.Sprintf("Your time, %s, is worth %s.", hours(a.Time), sum(*c.Labour))
	limit := ""
	if s := savingOn(c, readymade.CashAfterTools); s.BreakEven != nil && s.BreakEven.Sign() >= 0 {
		limit = fmt.Sprintf(" Both cost the same at %s an hour.", sum(*s.BreakEven))
	}
	switch c.AfterLabour.Sign() {
	case 1:
		return Note{Code: buildingPays, Text: fmt.Sprintf("Building %s pays: it saves %s against %s, tools and labour counted. %s%s", these, sum(*c.AfterLabour), those, worth, limit)}
	case 0:
		return Note{Code: buyingPays, Text: fmt.Sprintf("Building %s costs just what %s cost, tools and labour counted. %s", these, those, worth)}
	}
	return Note{Code: buyingPays, Text: fmt.Sprintf("Building %s does not pay: it costs %s more than %s, tools and labour counted. %s%s", these, sum(negative(*c.AfterLabour)), those, worth, limit)}
}

func savingOn(c readymade.Comparison, b readymade.Basis) readymade.Saving {
	for _, s := range c.Savings {
		if s.Basis == b {
			return s
		}
	}
	return readymade.Saving{}
}

func beforeLabour(c readymade.Comparison) string {
	if c.AfterLabour == nil {
		return ""
	}
	return " before labour"
}

// ofAbsorption says which ready-made panels a comparison at equal absorption holds.
func ofAbsorption(n int) string {
	if n == 1 {
		return " that absorbs at least as much"
	}
	return " that absorb at least as much"
}

func numbered(n int, one, several string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, several)
}

func sum(a money.Amount) string { return a.String() + " " + string(a.Currency()) }

func negative(a money.Amount) money.Amount { return money.Zero(a.Currency()).Sub(a) }

func share(s readymade.Saving) string {
	if s.PerMille == nil {
		return ""
	}
	return fmt.Sprintf(" (%.1f %%)", float64(*s.PerMille)/10)
}

// hours writes a time as people do, to the minute.
func hours(t readymade.Time) string {
	m := int64(rounded(float64(t.Total), 0))
	if m < 60 {
		return fmt.Sprintf("%d min", m)
	}
	return fmt.Sprintf("%d h %d min", m/60, m%60)
}

// gapWords say what is not known, what is left out for it, and what would help.
func gapWords(a readymade.Answer, g readymade.Gap) (detail, fix string) {
	switch g {
	case readymade.BuildPriceMissing:
		return "something of the build has no price, so that there are no savings; build.cost.missing names it", "see the fix of each entry there"
	case readymade.StockValueUnknown:
		return "what it would cost to replace something of the stock on hand is not known, so that savings at replacement value are left out", "give its replacement value"
	case readymade.ReadyPriceMissing:
		return "the ready-made panels have no price, so that there are no savings; missing tells why", "add an offer with a price of the day, or give a price in the question"
	case readymade.ToolPriceUnknown:
		return "a tool that must be bought has no price, so that savings after tools are left out", "give its price, or say that it is owned"
	case readymade.BuildingTimeUnknown:
		return "how long cutting, assembling and covering a panel takes has no convention, so that the break-even value of the hour is left out", "give labour.building_min_per_panel, best from a panel that you built"
	case readymade.HandlingTimeUnknown:
		return "how the fill is handled is not known, nor how long that takes", "set handling.profile of the fill to one that the burden model knows, or give minutes that include it"
	case readymade.BuildAlphaUnknown:
		detail, fix = leftOutWords(ranking.LeftOut{Reason: a.Built.Unabsorbed})
		return "what the built panels absorb is not known, so that there is no comparison at equal absorption: " + detail, fix
	case readymade.ReadyAlphaUnknown:
		return "what the ready-made panels absorb is not known, so that there is no comparison at equal absorption", "add coefficients to the panel, or give them in the question"
	case readymade.ReadyBandsMissing:
		return "the ready-made panels have no coefficient in an octave that counts for the purpose, so that there is no comparison at equal absorption", "add the band, or give that octave no weight"
	case readymade.ReadyFaceUnknown:
		return "the size of the ready-made panels is not known, so that there is no comparison at equal absorption", "give ready_made.width_mm and ready_made.height_mm"
	case readymade.ReadyAbsorbsTooLittle:
		return fmt.Sprintf("more than %d ready-made panels would be needed to absorb as much, so that there is no comparison at equal absorption", costing.MaxAsked), "compare with panels that absorb more in the bands that count"
	}
	return "not known", "see the code"
}

// buildOrBuyNotes say what the figures mean.
func buildOrBuyNotes(a readymade.Answer) []Note {
	notes := []Note{
		{Code: "savings", Text: "cash is what must be paid now. after_tools takes off the tools that must be bought, once for all panels; replacement counts stock on hand at what it would cost to replace, which is the fair figure for a second build. A negative saving means that building costs more."},
		{Code: "break_even", Text: "Break-even is saving over hours: below that value of an hour building pays, above it buying does. No value of an hour is assumed."},
		{Code: "staircase", Text: "Packs, boards and free delivery make the cost of building a staircase. tool_recovery is for batches made at once; rely on lasting_count."},
		{Code: "not_alike", Text: "The panels compared may differ in size, depth, look and fire class. Look at those as well."},
		{Code: "absorption_is_not_isolation", Text: isolationText},
		{Code: "local_rules_first", Text: localText},
	}
	if m := a.Match; m != nil {
		notes = append(notes, Note{Code: "equal_absorption", Text: fmt.Sprintf("The built panels absorb %.2f m² (%s; between %.2f and %.2f m²) in the bands that count, one ready-made panel %.2f m² by its stated coefficients, for which no bounds are known. As much takes %d of them, %d to %d within the bounds.",
			float64(m.Built), a.Built.Option().Absorption.Basis, float64(m.Low), float64(m.High), float64(m.Ready), m.Count, m.LowCount, m.HighCount)})
		if gap := a.Built.Option().Build.AirGap; a.Stored && (a.Panel.Mounting != "A" || gap > 0) {
			notes = append(notes, Note{Code: "mounting_differs", Text: fmt.Sprintf("The ready-made panel was tested in mounting %s, the built ones have an air gap of %g mm behind the fill. A gap behind a panel changes what it absorbs.", a.Panel.Mounting, float64(gap))})
		}
	}
	notes = append(notes, conversionNotes(a.Rates, a.Question.Build.Brief.Terms.Currency)...)
	for _, s := range a.Sources {
		if s.Invented {
			return append(notes, Note{Code: "invented_data", Text: inventedText})
		}
	}
	return notes
}
