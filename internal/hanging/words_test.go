package hanging_test

import (
	"regexp"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"sabinbook/internal/catalog"
	"sabinbook/internal/hanging"
)

// forbidden are conclusions that no text may draw, whatever is asked. Sources: fire.md section 5 (1 to 10), handling.md
// section 4, hanging.md section 2 ('not safe').
var forbidden = regexp.MustCompile(`(?i)\bsafe|\bsafety\b|\bunsafe|secure(d|ly)?\b|compl(y|ies|iant|iance)|\blegal|\blawful|permitted|allowed|approved|certified|guarantee|` +
	`non-?combustible|incombustible|fire-?proof|flame.retardant|self-extinguishing|non-?toxic|carcinogenic|harmless|no risk|risk-free|will hold|strong enough|cannot fall|` +
	`class of the panel is|has the class|equivalent to|corresponds to class`)

// texts is everything that the package can say about anything, with a name for each.
func texts() map[string]string {
	all := map[string]string{}
	for _, c := range hanging.Cautions() {
		all[string(c)], all[string(c)+" source"] = c.Text()
	}
	for _, v := range []hanging.Verdict{hanging.Within, hanging.Above, hanging.NotKnown} {
		all[string(v)] = v.Text()
	}
	for _, r := range []hanging.Reason{hanging.NotListed, hanging.NotDeclared, hanging.MassUnknown, hanging.RatingUnknown, hanging.GroundUnknown,
		hanging.BoardUnknown, hanging.PullOutUnknown, hanging.OverheadNoRating} {
		all[string(r)+" reason"] = r.Text()
	}
	for _, w := range hanging.Woods() {
		all[w.Word] = w.Name
	}
	return all
}

func TestNoForbiddenConclusion(t *testing.T) {
	all := texts()
	if len(all) < 2*20+3+8+30 {
		t.Fatalf("%d texts", len(all))
	}
	for name, text := range all {
		if text == "" {
			t.Errorf("%s has no words", name)
		}
		if m := forbidden.FindString(text); m != "" {
			t.Errorf("%s says %q: %s", name, m, text)
		}
		if m := forbidden.FindString(name); m != "" {
			t.Errorf("the code %s says %q", name, m)
		}
	}
	for _, unknown := range []string{"none", ""} {
		if text, source := hanging.Caution(unknown).Text(); text+source+hanging.Verdict(unknown).Text()+hanging.Reason(unknown).Text() != "" {
			t.Errorf("%q has words", unknown)
		}
	}
}

// What is forbidden is found: each sentence draws a conclusion of fire.md section 5 or its like.
func TestForbiddenConclusionsAreSeen(t *testing.T) {
	for _, text := range []string{
		"This hook is safe.", "Hangs safely.", "A non-combustible fill makes a panel that may cover exits.", "Fireproof.", "The panel is compliant.", "It complies with the code.",
		"It is legal.", "Self-extinguishing foam.", "A flame-retardant spray gives a class.", "The panel has the class of its fill.", "B-s1,d0 is equivalent to class A.",
		"The anchor will hold.", "The wire is strong enough.", "It cannot fall.", "Not carcinogenic.", "Non-toxic.", "Approved for ceilings.",
	} {
		if !forbidden.MatchString(text) {
			t.Errorf("not seen: %s", text)
		}
	}
}

// The words of a verdict are those of hanging.md section 2 and no others.
func TestWordsOfVerdicts(t *testing.T) {
	for v, want := range map[hanging.Verdict]string{hanging.Within: "within the rating you entered", hanging.Above: "above the rating you entered", hanging.NotKnown: "not known"} {
		if v.Text() != want {
			t.Errorf("%s: %s", v, v.Text())
		}
	}
}

// Whatever is asked, an answer warns of what is not known of the place, defers to a qualified person, says nothing that
// is forbidden in any formula, name or source, and overhead it has neither load nor verdict.
func TestEveryAnswerKeepsToTheRules(t *testing.T) {
	answers := []catalog.Answer{"", catalog.Yes, catalog.No, catalog.Unknown}
	load := func(t *rapid.T, name string) *hanging.Load {
		if !rapid.Bool().Draw(t, name) {
			return nil
		}
		return kilograms(rapid.Float64Range(0.1, 50).Draw(t, name+" load"))
	}
	rapid.Check(t, func(t *rapid.T) {
		q := six()
		q.System = rapid.SampledFrom([]hanging.System{hanging.WireOneHook, hanging.TwoHooks, hanging.FrenchCleat, hanging.ZClips, hanging.Overhead}).Draw(t, "system")
		if q.System != hanging.WireOneHook {
			q.Wire = nil
		}
		if rapid.Bool().Draw(t, "parts") {
			q.Panel = lantern()
		}
		draw := func(name string) catalog.Answer { return rapid.SampledFrom(answers).Draw(t, name) }
		q.Site = hanging.Site{OverPeople: draw("people"), Earthquakes: draw("earthquakes"), Electrics: draw("electrics"), OutsideWall: draw("wall")}
		kind := rapid.SampledFrom([]hanging.RatingKind{"", hanging.Shear, hanging.Pull, hanging.UnknownKind}).Draw(t, "kind")
		ground := rapid.SampledFrom([]hanging.Ground{"", hanging.Board, hanging.Stud, hanging.Masonry, hanging.UnknownGround}).Draw(t, "ground")
		q.Hardware = []hanging.Piece{{ID: "fixing", Role: hanging.WallFixing, WorkingLoad: load(t, "fixing"), Rating: kind, Ground: ground, Source: "pack"}}
		if q.System == hanging.WireOneHook {
			q.Hardware = append(q.Hardware, hanging.Piece{ID: "wire", Role: hanging.WireRole, BreakingStrength: load(t, "wire")})
		}
		a := valid(t, q)
		has := func(c hanging.Caution) bool { return slices.Contains(a.Cautions, c) }
		for c, want := range map[hanging.Caution]bool{
			hanging.QualifiedPerson: true, hanging.KeepClear: true, hanging.OverPeople: q.Site.OverPeople != catalog.No, hanging.Earthquakes: q.Site.Earthquakes != catalog.No,
			hanging.Electrics: q.Site.Electrics != catalog.No, hanging.ColdWall: q.Site.OutsideWall != catalog.No, hanging.OverheadCaution: q.System == hanging.Overhead,
			hanging.Studs: q.System != hanging.Overhead, hanging.PartsUnknown: !a.Mass.Known,
		} {
			if has(c) != want {
				t.Fatalf("caution %s: %v", c, has(c))
			}
		}
		var said []string
		figures := append(slices.Clone(a.Wire), a.Loads...)
		for _, c := range a.Checks {
			for _, f := range []*hanging.Figure{c.Load, c.Even, c.Needed, c.Declared} {
				if f != nil {
					figures = append(figures, *f)
				}
			}
			if c.Verdict == hanging.Within && (c.Declared == nil || c.Needed == nil || c.Declared.Value < c.Needed.Value*(1-1e-9)) {
				t.Fatalf("within the rating: %+v", c)
			}
			if q.System == hanging.Overhead && (c.Verdict != hanging.NotKnown || c.Load != nil || c.Declared != nil) {
				t.Fatalf("overhead: %+v", c)
			}
		}
		if q.System == hanging.Overhead && len(a.Loads) > 0 || !a.Mass.Known && len(a.Loads) > 0 {
			t.Fatal("loads that nobody may tell")
		}
		for _, l := range a.Mass.Lines {
			said = append(said, l.Formula, l.Source)
			if !l.Known && (l.Mass != 0 || l.Formula != "") {
				t.Fatalf("%+v", l)
			}
		}
		for _, f := range figures {
			if f.Formula == "" || f.Source == "" || len(f.Inputs) == 0 {
				t.Fatalf("%+v", f)
			}
			said = append(said, f.Name, f.Formula, f.Source)
		}
		for _, text := range said {
			if m := forbidden.FindString(text); m != "" {
				t.Fatalf("%q in %q", m, text)
			}
		}
	})
}
