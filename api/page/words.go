package page

import (
	"fmt"
	"strings"
	"unicode"

	"sabinbook/api/client"
)

// bases say on what an absorption rests, as the note bases of an answer does.
var bases = map[string]string{
	"measured":  "measured: a published test of the fill at this build",
	"adapted":   "adapted: a published test of the fill, carried over to this build by the model",
	"predicted": "predicted: by the model, from an airflow resistivity that somebody measured or declared",
	"estimated": "estimated: by the model, from density and fibre, good to a factor of two in resistivity",
}

var orders = map[string]string{
	"absorption_per_cost": "the most absorption for the money",
	"cost":                "the least cost",
	"absorption":          "the most absorption",
	"burden":              "the least extra work",
	"cost_to_target":      "the least cost to bring the room to its target",
}

var purposes = map[string]string{
	"flat":   "125 Hz to 4000 Hz counted alike",
	"speech": "bands counted by their importance for understanding speech",
	"low":    "only 125 Hz and 250 Hz counted",
	"room":   "bands counted by what the room lacks",
	"own":    "bands counted by weights of the group's own",
}

// steps are the names of the itemised minutes.
var steps = map[string]string{
	"session_overhead": "Dress, sheet the floor, vacuum and wash",
	"cutting":          "Cut the fill",
	"full_back_wrap":   "Wrap the back",
	"edge_sealing":     "Seal the edges",
}

// roles are the names of what is worn.
var roles = map[string]string{
	"respirator":   "Respirator (dust mask)",
	"gloves":       "Gloves",
	"goggles":      "Goggles",
	"coverall":     "Coverall",
	"long_sleeves": "Long sleeves",
}

// schemes are the names of the standards under which fire is declared.
var schemes = map[string]string{
	"en_13501_1":             "EN 13501-1",
	"astm_e84":               "ASTM E84",
	"nfpa_286":               "NFPA 286",
	"nfpa_265_method_b":      "NFPA 265, method B",
	"nfpa_701_tm1":           "NFPA 701, test method 1",
	"nfpa_701_tm2":           "NFPA 701, test method 2",
	"en_13773":               "EN 13773",
	"iso_6940":               "ISO 6940",
	"iso_6941":               "ISO 6941",
	"bs_476":                 "BS 476",
	"furniture_or_component": "a test of furniture or components",
	"national_other":         "another national scheme",
	"none":                   "no scheme",
}

// evidences are the grades of declarations and of conventions.
var evidences = map[string]string{
	"report_seen":     "report seen",
	"maker_statement": "statement of the maker",
	"hearsay":         "hearsay, no document seen",
	"convention":      "convention",
	"user":            "the group's own figure",
}

// said is the text for a word, or the word itself, because enumerations are open.
func said(texts map[string]string, word string) string {
	if text, ok := texts[word]; ok {
		return text
	}
	return strings.ReplaceAll(word, "_", " ")
}

// usual are the cautions that go with every sheet.
var usual = []client.Note{
	{Code: "Fibres and dust", Text: "Mineral wools may itch; plant fibres and cellulose are dusty. Wear what this sheet lists, cut with a knife rather than a saw, ventilate, vacuum instead of sweeping, rinse in cold water before washing. Read the maker's safety data sheet. Old unlabelled wool and anything that may hold asbestos: stop and ask a specialist."},
	{Code: "Fire", Text: "The class of a fill or a fabric is not the class of the panel. Foam plastics stay foam plastics behind a fabric. In public rooms, schools and workplaces ask the authority having jurisdiction before anything is hung. Never cover exits, signs, detectors, sprinklers or vents."},
	{Code: "Falling panels", Text: "Hang on hardware whose declared working load exceeds the load with a margin, in a wall that holds it. Overhead mounting is work for a qualified installer."},
	{Code: "Electrics and damp", Text: "Keep light strips, their drivers and sockets clear of panels, look for cables before you drill, and leave fixed wiring to a licensed electrician. On cold outside walls leave air behind the panel and look there from time to time."},
	{Code: "What decides", Text: "Local code, the maker's data sheet and licensed practice come before anything printed here."},
}

// What the sheet and the Markdown say alike.
const (
	commonWork  = "Making frames and covering fronts is the same for every fill and is not counted."
	unknownWork = "How this fill is handled is not known, and neither are its minutes and its protective equipment. Read the safety data sheet before you cut it."
	drillWords  = "Strike one level line, or take the ceiling where it is level, and measure down from it, never up from the floor. " +
		"How far below the line each hook is drilled is a + b − c: a is the top edge below the line, b the rings or plates below the top edge, c the rings below the hook with the wire taut, 0 for plates on hooks."
	fireWords = "Word for word; nothing is converted. None of them is the class of the panel."
	noFire    = "Nothing is declared for fill or fabric. Unknown is not a class."
)

// sourced is a remark with what it rests on.
func sourced(n client.Note) string {
	if n.Source == nil {
		return n.Text
	}
	return n.Text + " [" + *n.Source + "]"
}

// visible writes marks of direction and other controls as their codes, so that a name cannot change how the rest is read.
func visible(text string) string {
	var out strings.Builder
	for _, r := range text {
		if unicode.Is(unicode.Bidi_Control, r) || unicode.IsControl(r) && r != '\n' && r != '\t' {
			fmt.Fprintf(&out, "[U+%04X]", r)
			continue
		}
		out.WriteRune(r)
	}
	return out.String()
}

// counted is a number of things: 1 board, 2 boards, 2.5 m.
func counted(x float64, unit string) string {
	if x == 1 || unit == "m" {
		return number(x) + " " + unit
	}
	if strings.HasSuffix(unit, "s") {
		return number(x) + " " + unit + "es"
	}
	return number(x) + " " + unit + "s"
}

// listed joins texts as people do: a, b and c.
func listed(texts []string, last string) string {
	n := len(texts)
	if n < 2 {
		return strings.Join(texts, "")
	}
	return strings.Join(texts[:n-1], ", ") + " " + last + " " + texts[n-1]
}

// amount is money with its currency.
func amount(m client.Money) string { return m.Amount + " " + m.Currency }

// capital begins a sentence.
func capital(text string) string {
	for i, r := range text {
		return string(unicode.ToUpper(r)) + text[i+len(string(r)):]
	}
	return text
}
