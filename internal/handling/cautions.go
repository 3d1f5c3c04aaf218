package handling

import (
	"slices"

	"sabinbook/internal/catalog"
)

// Caution is the code of a warning that a fact calls for. Its words come from Text.
type Caution string

// The cautions.
const (
	ProfileUnknown  Caution = "profile_unknown"
	MayItch         Caution = "may_itch"
	FibreGroup      Caution = "fibre_group"
	NotesQROpen     Caution = "notes_q_r_open"
	NotesQRNo       Caution = "notes_q_r_no"
	OldWool         Caution = "old_wool"
	Dust            Caution = "dust"
	DustUnknown     Caution = "dust_unknown"
	VacuumOnly      Caution = "vacuum_only"
	WoodDust        Caution = "wood_dust"
	BorateListed    Caution = "borate_listed"
	BorateLow       Caution = "borate_low"
	BorateUnknown   Caution = "borate_unknown"
	Formaldehyde    Caution = "formaldehyde"
	BinderUnknown   Caution = "binder_unknown"
	FoamFire        Caution = "foam_fire"
	NoHotCutting    Caution = "no_hot_cutting"
	MothUntreated   Caution = "moth_untreated"
	MothTreated     Caution = "moth_treated"
	MothUnknown     Caution = "moth_unknown"
	LiftAboveOne    Caution = "lift_above_one"
	LiftOutside     Caution = "lift_outside"
	MassNotKnown    Caution = "mass_unknown"
	LadderNotInLift Caution = "ladder_not_in_lift"
	// HangerUnknown depends on which hangers are bought; whoever knows that adds it.
	HangerUnknown Caution = "hanger_load_unknown"
)

// cautionText holds the words of a caution and where they come from. The wording rules
// of handling.md section 4 apply: say "may itch", "wear", "read the safety data sheet";
// give a group with its meaning, year and kind of wool; draw no conclusion.
type cautionText struct {
	code         Caution
	text, source string
}

// cautionTexts is in the order in which cautions are given.
var cautionTexts = []cautionText{
	{ProfileUnknown, "How this fill is handled is not known, so its minutes and protective equipment are not counted. Read the safety data sheet.", "convention, handling.md section 3"},
	{OldWool, "Old unlabelled wool and anything that may hold asbestos: stop and ask a specialist.", "handling.md section 4"},
	{MayItch, "Fibres may itch for a short while. Cover the skin, wear gloves and loose clothes; rinse in cold water before washing.", "trade pictogram guidance for mineral wool packs, seen in a secondary source"},
	{FibreGroup, "Insulation glass wool, rock wool and slag wool: IARC Group 3 (2002), which means not classifiable and does not mean shown harmless; texts after 1988 may still say 2B.", "IARC Monographs vol. 81 (2002) and vol. 43 (1988), seen in a secondary source"},
	{NotesQROpen, "Whether note Q or note R of the European classification of mineral wool applies to this fill is not known. Read the safety data sheet.", "Regulation (EC) 1272/2008 Annex VI, notes Q and R"},
	{NotesQRNo, "By the stored facts neither note Q nor note R applies, so the European class Carc. 2 of mineral wool stands. Read the safety data sheet.", "Regulation (EC) 1272/2008 Annex VI, notes Q and R"},
	{Dust, "Dusty to cut. Ventilate, wear a disposable mask (FFP2 or N95) and goggles; cut with a knife on a board.", "NIOSH Pocket Guide (N95); class FFP2 from memory"},
	{DustUnknown, "Whether cutting raises dust is not known. Read the safety data sheet; wear a mask until you know.", "convention"},
	{VacuumOnly, "Clean with a vacuum cleaner; no dry sweeping, no compressed air.", "trade guidance, seen in a secondary source"},
	{WoodDust, "Wood dust: IARC Group 1 (1995, 2012). Cut with a knife or with extraction and wear a mask (FFP2 or FFP3).", "IARC Monographs vol. 62 (1995) and 100C (2012), seen in a secondary source"},
	{BorateListed, "Holds borates at or above 0.3 %, from which a mixture is classed Repr. 1B in the European Union. Read the safety data sheet; keep dust off skin and out of breath.", "Regulation (EU) 2021/849; additivity: (EU) 2023/1434 and 2023/1435"},
	{BorateLow, "Holds borates below 0.3 %. Read the safety data sheet.", "Regulation (EU) 2021/849"},
	{BorateUnknown, "Fills of this family may hold borates; the share is not known here. Read the safety data sheet.", "handling.md section 1"},
	{Formaldehyde, "Bound with a phenol-formaldehyde resin. Formaldehyde: IARC Group 1 (2006, 2012); ask for the declared emission.", "IARC Monographs vol. 88 (2006) and 100F (2012); Regulation (EU) 2023/1464"},
	{BinderUnknown, "The binder is not known. Read the safety data sheet.", "handling.md section 1"},
	{FoamFire, "Plastic foam may burn fast and give off carbon monoxide and hydrogen cyanide. Look at its declared fire class and at local code.", "McKenna and Hull, Fire Science Reviews 5 (2016) article 3"},
	{NoHotCutting, "Cut cold: no hot wire and no hot knife without extraction.", "trade guidance on thermal degradation, seen in a secondary source; polyester: common practice"},
	{MothUntreated, "Untreated wool is eaten by clothes moth larvae.", "laboratory study of a sheep wool panel with disodium octaborate, seen in a secondary source"},
	{MothTreated, "Treatment against moths may not last: borate left damage at the surface only, a wall with permethrin was infested after two years.", "laboratory study with disodium octaborate; ICUP (2014) poster, clothes moth in natural building insulation"},
	{MothUnknown, "Whether this wool is treated against moths is not known. Ask the maker.", "handling.md section 1"},
	{MassNotKnown, "The mass of the panel is not known: weigh it before lifting and hanging.", "convention"},
	{LiftAboveOne, "Heavier than the recommended limit for this lift by one person: lift with two or come closer.", "NIOSH publication 94-110 (1994)"},
	{LiftOutside, "This lift is outside the lifting equation, which gives no figure for it.", "NIOSH publication 94-110 (1994)"},
	{LadderNotInLift, "The lifting figure is for standing on the floor; hanging from a ladder is outside it.", "NIOSH publication 94-110 (1994), from memory"},
	{HangerUnknown, "Whether the hangers in the list carry a panel is not known: their working load or the mass of the panel is not. Weigh a panel and read the maker's figure.", "hanging.md section 2"},
}

// Cautions lists every caution there is, in the order in which they are given.
func Cautions() []Caution {
	list := make([]Caution, len(cautionTexts))
	for i, c := range cautionTexts {
		list[i] = c.code
	}
	return list
}

// Text returns the words of the caution and their source; both are empty for a code that
// does not exist.
func (c Caution) Text() (text, source string) {
	for _, t := range cautionTexts {
		if t.code == c {
			return t.text, t.source
		}
	}
	return "", ""
}

// mineralWools are the families to which the fibre groups and notes apply.
var mineralWools = []catalog.Family{catalog.GlassWool, catalog.RockWool, catalog.MineralWool}

// borateFamilies are usually treated with borates when nothing is stated.
var borateFamilies = []catalog.Family{catalog.Cellulose, catalog.Cotton, catalog.SheepWool}

// borateLimit is the share by mass from which a mixture is classed.
// Source: Regulation (EU) 2021/849, as in handling.md section 1.
const borateLimit = 0.003

// cautionsFor gathers the cautions that the facts of the fill and the burden call for.
func cautionsFor(f catalog.Fill, b Burden) []Caution {
	h := f.Handling
	mineral := slices.Contains(mineralWools, f.Family)
	wood := f.Family == catalog.WoodFibre || f.Family == catalog.WoodWool
	dusty := h.Dust == catalog.Yes || h.Profile == catalog.DustyPlant
	fibrous := h.Profile == catalog.Fibrous
	foam := f.Family == catalog.OpenCellFoam || h.Profile == catalog.FoamProfile
	polyester := f.Family == catalog.Polyester || h.Profile == catalog.PolyProfile

	calls := map[Caution]bool{
		ProfileUnknown:  !b.Known,
		MayItch:         h.Irritant == catalog.Yes || fibrous,
		FibreGroup:      mineral,
		NotesQROpen:     mineral && h.NoteQ != catalog.Yes && h.NoteR != catalog.Yes && !(h.NoteQ == catalog.No && h.NoteR == catalog.No),
		NotesQRNo:       mineral && h.NoteQ == catalog.No && h.NoteR == catalog.No,
		OldWool:         mineral,
		Dust:            dusty,
		DustUnknown:     !dusty && h.Dust != catalog.No,
		VacuumOnly:      dusty || fibrous,
		WoodDust:        wood,
		BorateListed:    h.Borate != nil && h.Borate.Value >= borateLimit,
		BorateLow:       h.Borate != nil && h.Borate.Value > 0 && h.Borate.Value < borateLimit,
		BorateUnknown:   h.Borate == nil && slices.Contains(borateFamilies, f.Family),
		Formaldehyde:    h.Binder == catalog.PhenolFormaldehyde,
		BinderUnknown:   (mineral || wood) && (h.Binder == catalog.UnknownBinder || h.Binder == ""),
		FoamFire:        foam,
		NoHotCutting:    foam || polyester,
		MothUntreated:   h.Moth == catalog.MothNone,
		MothTreated:     h.Moth == catalog.MothBorate || h.Moth == catalog.MothPermethrin || h.Moth == catalog.MothOther,
		MothUnknown:     f.Family == catalog.SheepWool && (h.Moth == catalog.MothUnknown || h.Moth == ""),
		LiftAboveOne:    b.Lift.Known && !b.Lift.Outside && b.Lift.Index > 1,
		LiftOutside:     b.Lift.Known && b.Lift.Outside,
		MassNotKnown:    !b.MassKnown,
		LadderNotInLift: b.Lift.Known && !b.Lift.Outside,
	}
	var list []Caution
	for _, t := range cautionTexts {
		if calls[t.code] {
			list = append(list, t.code)
		}
	}
	return list
}
