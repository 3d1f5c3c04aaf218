package catalog

import (
	"regexp"
	"slices"
	"strings"
)

// FireScheme names the scheme in which a fire class was declared. No scheme converts
// into another.
type FireScheme string

// The schemes.
const (
	EN13501   FireScheme = "en_13501_1"
	ASTME84   FireScheme = "astm_e84"
	NoScheme  FireScheme = "none"
	NFPA701M1 FireScheme = "nfpa_701_tm1"
	NFPA701M2 FireScheme = "nfpa_701_tm2"
)

var fireSchemes = []FireScheme{EN13501, ASTME84, "nfpa_286", "nfpa_265_method_b", NFPA701M1, NFPA701M2, "en_13773",
	"iso_6940", "iso_6941", "bs_476", "furniture_or_component", "national_other", NoScheme}

// FireSchemes lists the words for schemes.
func FireSchemes() []FireScheme { return fireSchemes }

// FireDeclaration is a fire class word for word as a maker or test house declared it.
// It is never derived, converted, upgraded or combined: the class of a fill is not
// the class of the panel.
type FireDeclaration struct {
	Subject        string // fill, fabric, frame, adhesive, whole_panel
	Scheme         FireScheme
	Code           string
	FlameSpread    *int // ASTM E84 only
	SmokeDeveloped *int // ASTM E84 only
	Edition        string
	Report         string
	Laboratory     string
	EndUse         string // substrate, air gap, fixing, face tested
	Durability     string // inherent, treated_washable, treated_water_soluble, unknown
	Evidence       string // report_seen, maker_statement, hearsay
	SourceID       ID
}

var (
	fireSubjects    = []string{"fill", "fabric", "frame", "adhesive", "whole_panel"}
	fireDurability  = []string{"inherent", "treated_washable", "treated_water_soluble", "unknown"}
	fireEvidence    = []string{"report_seen", "maker_statement", "hearsay"}
	euroclass       = regexp.MustCompile(`^(A1|(A2|B|C|D)-s[123],d[012]|E(-d2)?|F)$`)
	euroclassSpaced = regexp.MustCompile(`^(A2|B|C|D)[ -]s([123])(?:, *| )d([012])$`)
)

// NormalFireCode returns the written form of a declared code: spacing variants of a class of
// EN 13501-1 ("B-s1, d0", "B s1 d0") become "B-s1,d0". Nothing else is changed.
func NormalFireCode(scheme FireScheme, code string) string {
	code = strings.TrimSpace(code)
	if m := euroclassSpaced.FindStringSubmatch(code); m != nil && scheme == EN13501 {
		return m[1] + "-s" + m[2] + ",d" + m[3]
	}
	return code
}

// ValidEuroclass reports whether code is one of the 40 classes of EN 13501-1 for walls and
// ceilings. Bare A2 to D, suffixes on A1 or F, smoke classes on E and codes for
// floors, pipes and cables are not.
// Source: EN 13501-1:2018 class list as seen in secondary tables (fire.md section 2).
func ValidEuroclass(code string) bool { return euroclass.MatchString(code) }

// fireCodes lists the codes of the schemes that have a closed list besides EN 13501-1; the
// others keep the declaration's own words.
// Source: the classes of each scheme as listed in testdata/fire_classes.csv.
var fireCodes = map[FireScheme][]string{
	ASTME84:             {"A", "B", "C", "unclassified"},
	"nfpa_286":          {"pass", "fail", "not_tested"},
	"nfpa_265_method_b": {"pass", "fail", "not_tested"},
	NFPA701M1:           {"pass", "fail"},
	NFPA701M2:           {"pass", "fail"},
	"en_13773":          {"1", "2", "3", "4", "5"},
	"bs_476":            {"0", "1", "2", "3", "4"},
}

// E84Class returns the class that ASTM E84 indices give: A up to 25, B up to 75, C up to
// 200, each with smoke developed up to 450; "unclassified" otherwise.
// Source: ASTM E84 classes as used by the International Building Code (fire.md section 3).
func E84Class(flameSpread, smokeDeveloped int) string {
	switch {
	case smokeDeveloped > 450 || flameSpread > 200:
		return "unclassified"
	case flameSpread <= 25:
		return "A"
	case flameSpread <= 75:
		return "B"
	}
	return "C"
}

// index checks an index of ASTM E84 that may be absent. The upper end is a convention, far
// above any report.
func (v *faults) index(pointer string, n *int) {
	if n != nil {
		v.Within(pointer, float64(*n), 0, 10_000, "", "copy the index from the report")
	}
}

// validate names the faults of one declaration at a pointer.
func (d FireDeclaration) validate(v *faults, at string) {
	v.word(at+"/subject", d.Subject, fireSubjects)
	v.word(at+"/scheme", string(d.Scheme), words(fireSchemes))
	v.word(at+"/durability", d.Durability, fireDurability)
	v.word(at+"/evidence", d.Evidence, fireEvidence)
	v.source(at+"/source_id", d.SourceID)
	v.text(at+"/code", d.Code, 0, 60)
	v.text(at+"/edition", d.Edition, 0, 200)
	v.text(at+"/report_ref", d.Report, 0, 200)
	v.text(at+"/laboratory", d.Laboratory, 0, 200)
	v.text(at+"/end_use", d.EndUse, 0, 1000)
	v.index(at+"/flame_spread_index", d.FlameSpread)
	v.index(at+"/smoke_developed_index", d.SmokeDeveloped)
	switch d.Scheme {
	case NoScheme:
		return
	case EN13501:
		if !ValidEuroclass(d.Code) {
			v.add(at+"/code", "bad_fire_class", "is not a class of EN 13501-1 for walls and ceilings: "+quote(d.Code),
				"write it as declared, like A1, B-s1,d0, E or F; never a bare A2, B, C or D")
		}
	default:
		if codes, closed := fireCodes[d.Scheme]; closed && !slices.Contains(codes, d.Code) {
			v.add(at+"/code", "bad_fire_class", "is not a class of "+string(d.Scheme)+": "+quote(d.Code), "use one of "+strings.Join(codes, ", "))
		} else if strings.TrimSpace(d.Code) == "" {
			v.add(at+"/code", "required", "is missing", "copy the class from the declaration, word for word")
		}
	}
	if d.Scheme != ASTME84 {
		if d.FlameSpread != nil || d.SmokeDeveloped != nil {
			v.add(at+"/flame_spread_index", "not_applicable", "indices belong to the scheme astm_e84 only", "leave them out or change the scheme")
		}
		return
	}
	if (d.FlameSpread == nil) != (d.SmokeDeveloped == nil) {
		v.add(at+"/flame_spread_index", "incomplete", "flame spread and smoke developed go together", "give both indices or none")
	} else if d.FlameSpread != nil {
		if want := E84Class(*d.FlameSpread, *d.SmokeDeveloped); want != d.Code {
			v.add(at+"/code", "disagrees", "is "+quote(d.Code)+" but the indices give "+quote(want), "check the report: class and indices must agree")
		}
	}
}
