package api

import (
	"math"
	"strings"

	"sabinbook/internal/absorption"
	"sabinbook/internal/bands"
	"sabinbook/internal/costing"
	"sabinbook/internal/ranking"
	"sabinbook/internal/ratings"
)

// Words for people: calculations return codes and numbers, this file says them.

// rounded rounds a computed figure to so many places, once, on its way out.
func rounded(x float64, places int) float64 {
	scale := math.Pow(10, float64(places))
	return math.Round(x*scale) / scale
}

// fireDeference goes with every fire class (fire.md section 1).
const fireDeference = "A class of a fill or a fabric is not the class of the panel. Local code and the authority having jurisdiction decide."

// What goes with every answer about absorption.
const (
	isolationText = "These panels change how the room sounds inside. They do not stop sound going to or coming from the next room. That needs mass, airtightness and separated construction."
	inventedText  = "Some of the suppliers, goods or prices in this answer are invented for demonstration; their sources are marked so."
	localText     = "Local code, the maker's data sheet and licensed practice come before anything said here."
)

// tiesText says what tie groups and shares of draws are.
const tiesText = "Places within one tie group mean nothing: what is uncertain about the fills, and about prices (3 % on the day, 5 % more a year, a convention), moves the order about. " +
	"An option belongs to the group of the first in it when it beats that one in at least one of ten draws, in which coefficients move within their bounds, all bands and all builds of a fill together, and all prices of a supplier together; what is bought stays. Nor does a group end between two options on different bases that the mean difference between the bases alone would put the other way round."

// answerNotes say what the figures of a ranking mean.
func answerNotes(r ranking.Result) []Note {
	notes := []Note{
		{Code: "absorption_area", Text: "A square metre of absorption takes as much sound out of the room, in its band, as one square metre of open window. It is coefficient x face x panels, with coefficients above 1.00 counted as 1.00."},
		{Code: "bases", Text: basesText},
		{Code: "low_and_high", Text: boundsText},
		{Code: "absorption_is_not_isolation", Text: isolationText},
		{Code: "local_rules_first", Text: localText},
	}
	if r.Brief.Draws.Count > 0 && len(r.Options) > 1 {
		notes = append(notes, Note{Code: "ties", Text: tiesText})
	}
	if r.Brief.Limits.Budget != nil {
		notes = append(notes, Note{Code: "budget", Text: "Options are worked out from the best on; of the rest only those whose cost is known to be over the budget are counted as left out."})
	}
	if r.Brief.Purpose.Name == ranking.Low {
		notes = append(notes, Note{Code: "low_bands", Text: "Only 125 Hz and 250 Hz count. In a small room single modes rule there: these figures are a guide only, and thin porous panels do little."})
	}
	if r.Brief.Purpose.Name == ranking.Room {
		notes = append(notes, Note{Code: "room_weights", Text: "Bands are weighted by their share in the absorption area that the room lacks to its target; where nothing is lacking all six count alike."})
	}
	if r.Brief.CountFrom == ranking.FromRoom {
		notes = append(notes, Note{Code: "count_from_room", Text: "Of each option as many panels are counted as bring every octave of the target within it by Sabine's formula and by the coefficients as they are told. With the lower bounds of the coefficients, or all on one wall, it takes more: build most of them, measure, then decide on the rest."})
	}
	if r.Brief.Room != nil {
		notes = append(notes, Note{Code: "in_the_room", Text: "Decay times in the room are after Sabine and Eyring with all panels on the walls, in the place of what the walls are made of. They suppose sound and absorption spread evenly: what hangs on one wall works less. The target is a choice, not a verdict."})
	}
	if r.Brief.Purpose.Name == ranking.Speech {
		notes = append(notes, Note{Code: "speech_weights", Text: "Bands are weighted by the octave-band importance of average speech, 250 Hz to 4000 Hz; the 8000 Hz band has no coefficient and is left out, the rest scaled to 1.",
			Source: place("ANSI S3.5-1997, Table 4, seen in several public implementations, not in the standard")})
	}
	if r.Brief.Terms.Tax == costing.TaxExcluded {
		notes = append(notes, Note{Code: "fees_with_tax", Text: "Goods are counted before tax. Delivery fees and trips are counted as entered, with whatever tax they hold; thresholds for free delivery are held against goods with tax."})
	}
	notes = append(notes, conversionNotes(r.Rates, r.Brief.Terms.Currency)...)
	for _, s := range r.Sources {
		if s.Invented {
			notes = append(notes, Note{Code: "invented_data", Text: inventedText})
			break
		}
	}
	return notes
}

// leftOutWords says why candidates are left out and what would bring them back.
func leftOutWords(l ranking.LeftOut) (detail, fix string) {
	switch l.Reason {
	case ranking.NotSold:
		return "the fill has no sold size with a thickness, or is sold loose", "add a sold size to the fill; loose fill needs a panel with a bag or a box, which is not ranked"
	case ranking.NoFrame:
		return "no frame timber is deep enough for the fill without being deeper than fill and air gap", "add a timber whose width is the depth of the fill or up to 5 mm more, or ask for a larger air gap"
	case ranking.BeyondTarget:
		return "no number of these panels that the room has a place for brings every octave of its target within it", "ask for thicker fill or more air behind it, for a target of fewer octaves or a longer time, or for a fixed panel_count"
	case ranking.OverBudget:
		return "the total is over the budget", "raise limits.budget, or ask for fewer panels"
	case ranking.TooHeavy:
		return "a panel weighs more than the limit", "raise limits.panel_mass_kg, or ask for smaller panels"
	case ranking.MassUnclear:
		return "the mass of a panel is not known, because a density or a mass per area is not", "add it with its source, or leave limits.panel_mass_kg out"
	case ranking.TooDeep:
		return "the face stands farther from the wall than the limit", "raise limits.depth_from_wall_mm, or ask for smaller gaps"
	case ranking.TooLong:
		return "the extra minutes of handling are over the limit", "raise limits.extra_time_min, or ask for fewer panels"
	case ranking.MinutesUnclear:
		return "the extra minutes of handling are not known", "set handling.profile of the fill, or leave limits.extra_time_min out"
	case ranking.Hazard:
		return "the fill calls for a caution that is to be avoided", "take it out of limits.avoid"
	case ranking.OtherFire:
		return "none of the demanded fire classes is declared for it", "add the declaration with its source if the maker has one, or ask for other codes"
	case ranking.BandsMissing:
		return "the measured test lacks an octave that counts for the purpose", "add the band to the test, add the airflow resistivity of the fill, or give that octave no weight"
	case ranking.LargerThanPanel:
		return "the frame timber is as thick as the panel is wide", "ask for a larger panel or add a thinner timber"
	case ranking.Reason(absorption.NoData):
		return "the fill has neither an absorption test nor an airflow resistivity, and none can be estimated from its density and family", "add one of them with its source"
	case ranking.Reason(absorption.NoFittingTest):
		return "the tests of the fill are of other builds, and it has no airflow resistivity to predict from", "add the airflow resistivity of the fill, by which a test can be carried over, or a test of this build"
	case ranking.Reason(absorption.TestSetAside):
		return "the test of the fill that fits is set aside, and the fill has no airflow resistivity to predict from", "add the airflow resistivity of the fill, or another test of this build; use_note of the test says why it is set aside"
	case ranking.Reason(absorption.FabricUnclear):
		return "a test of the bare fill fits, but the fabric may change it by more than 0.02 and the fill has no airflow resistivity to tell by how much", "add the airflow resistivity of the fill, or ask for a more open fabric"
	case ranking.Reason(absorption.NoOpenness):
		return "the fabric has neither a flow resistance nor an air permeability", "add one of them, with the test pressure of the permeability"
	case ranking.Reason(absorption.OutsideOfModel):
		return "a stored figure is outside what the model can compute", "check the airflow resistivity of the fill and the figures of the fabric"
	}
	return "left out", "see the reason"
}

// missingWords says why a need has no price and what would help.
func missingWords(m costing.Missing) (detail, fix string) {
	what := m.Name
	if what == "" {
		what = "any part with the role " + m.Need
	}
	if m.Reason == costing.UnknownNeed {
		return "which protective equipment is needed is not known, because how the fill is handled is not", "set handling.profile of the fill to one that the burden model knows"
	}
	switch m.Reason {
	case costing.NoOffer:
		return "nobody offers " + what, "add an offer with a price"
	case costing.NoPrice:
		return "no offer of " + what + " has a price up to the day of the question", "add a price"
	case costing.TooOld:
		return "every price of " + what + " is older than asked", "add a new price, raise max_price_age_days, or set old_prices to flagged"
	case costing.OtherCurrency:
		return "every price of " + what + " is in another currency", "add a price in the currency of the question, or exchange rates and let convert_prices be stored_rates"
	case costing.NoRate:
		return "every price of " + what + ", or the fees of its supplier, are in another currency, and no exchange rate of it is as recent as asked", "add an exchange rate with its source, or raise max_rate_age_days"
	case costing.NotConvertible:
		return "a price of " + what + ", or a fee of its supplier, cannot be told in the currency of the question: it comes to less than half a minor unit, or to more than can be counted", "add a price in the currency of the question"
	case costing.OtherRegion:
		return "no supplier of the region offers " + what, "leave region out or add an offer there"
	case costing.NoMass:
		return "delivery of " + what + " goes by weight and the mass of its pack is not known", "add pack_mass_kg to the offer"
	case costing.NoVolume:
		return "delivery of " + what + " goes by size and the volume of its pack is not known", "add pack_volume_l to the offer"
	case costing.DoesNotFit:
		return "no sold size of " + what + " takes the pieces", "add a larger size, or ask for a smaller panel"
	case costing.TooWeak:
		return "every hanger with a price is declared for less than the mass of a panel", "add a hanger with a higher working load and its price, or build lighter panels"
	case costing.NotEnough:
		return "all shops together lack " + measured(m.Lacking, m.Unit) + " of " + what, "raise max_packs_count of an offer, or add another offer"
	}
	return "no price", "see the reason"
}

// ratingWords says why a rating is absent or what it rests on.
func ratingWords(n ratings.Note) string {
	switch n.Code {
	case ratings.BandsMissing:
		return "Bands are missing, so the rating is absent or incomplete: " + bandWords(n.Bands)
	case ratings.ValuesUnusable:
		return "Values that are no coefficients count as missing: " + bandWords(n.Bands)
	case ratings.SAANeedsThirds:
		return "The sound absorption average needs third-octave values; the curve is in octaves."
	case ratings.WeightedFromOctavesIsCustomary:
		return "The standard rates third-octave values; a weighted coefficient from octaves is customary and an estimate."
	case ratings.NRCFromOctavesIsCustomary:
		return "The standard takes third-octave values; a noise reduction coefficient from octaves is customary."
	case ratings.IndicatorAdvisesFullCurve:
		return "With a shape indicator the standard advises to look at the full curve as well."
	case ratings.NoIndicatorWhenUnclassified:
		return "No shape indicator is given because the result has no class."
	}
	return "See the code."
}

// listed joins words as people list them.
func listed(words []string, last string) string {
	if n := len(words); n > 1 {
		return strings.Join(words[:n-1], ", ") + " " + last + " " + words[n-1]
	}
	return strings.Join(words, "")
}

func bandWords(list []bands.Band) string {
	names := make([]string, len(list))
	for i, b := range list {
		names[i] = b.String()
	}
	return strings.Join(names, ", ") + "."
}
