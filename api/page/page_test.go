package page

import (
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "write the goldens anew")

// kept is a document that a service wrote: three options for Lantern Yard.
const kept = "../testdata/shortlists/form-1-model-4.json"

func keptDocument(t testing.TB) []byte {
	t.Helper()
	b, err := os.ReadFile(kept)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// changed is the kept document as somebody else might have it.
func changed(t testing.TB, change func(d map[string]any, options []any)) []byte {
	t.Helper()
	var d map[string]any
	if err := json.Unmarshal(keptDocument(t), &d); err != nil {
		t.Fatal(err)
	}
	change(d, d["answer"].(map[string]any)["options"].([]any))
	b, err := json.Marshal(d)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// copied is a deep copy of what was read from JSON.
func copied(v any) any {
	b, err := json.Marshal(v)
	if err != nil {
		panic(err)
	}
	var out any
	if err := json.Unmarshal(b, &out); err != nil {
		panic(err)
	}
	return out
}

// many is a document of n options with long names, each of whose lines has a shop of its own.
func many(t testing.TB, n int) []byte {
	t.Helper()
	long := "Wool of the sheep of the salt marshes beyond the long breakwater of Quillhaven, carded twice and stitched on both sides; Gänsefüßchen & Donaudampfschifffahrtsgesellschaftskapitänsmütze"
	return changed(t, func(d map[string]any, options []any) {
		var list, notes []any
		for i := range n {
			o := copied(options[i%len(options)]).(map[string]any)
			o["key"], o["place"] = fmt.Sprintf("option-%d", i+1), float64(i+1)
			o["fill"].(map[string]any)["name"] = fmt.Sprintf("%s (%d)", long, i+1)
			cost := o["cost"].(map[string]any)
			lines := cost["lines"].([]any)
			orders := []any{}
			for k, l := range lines {
				l := l.(map[string]any)
				l["item"].(map[string]any)["name"] = fmt.Sprintf("%s, line %d", long, k+1)
				shop := map[string]any{"slug": fmt.Sprintf("shop-%d", k+1), "name": fmt.Sprintf("Shop number %d of the %s", k+1, long)}
				l["supplier"] = shop
				order := copied(cost["orders"].([]any)[0]).(map[string]any)
				order["supplier"] = shop
				orders = append(orders, order)
			}
			cost["orders"] = orders
			list = append(list, o)
			notes = append(notes, map[string]any{"key": o["key"], "note": "Ask Mara about number " + fmt.Sprint(i+1)})
		}
		d["answer"].(map[string]any)["options"], d["option_notes"] = list, notes
	})
}

func TestMarkdownIsAsItWas(t *testing.T) {
	out, err := Markdown(keptDocument(t), Choice{})
	if err != nil {
		t.Fatal(err)
	}
	golden := filepath.Join("testdata", "lantern-yard.md")
	if *update {
		if err := os.WriteFile(golden, out, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(string(want), string(out)); d != "" {
		t.Errorf("run with -update if this is meant:\n%s", d)
	}
}

// Everything that must be on paper, as the document has it and not as the view does.
func mustSay(t testing.TB, document []byte) []string {
	t.Helper()
	d, err := read(document)
	if err != nil {
		t.Fatal(err)
	}
	o := d.Answer.Options[0]
	list := []string{d.About.Name, d.Digest, o.Fill.Name, o.Fabric.Name, o.Frame.Name, "sabinbook verify", "in EUR as of 2026-11-02"}
	for _, l := range o.Cost.Lines {
		list = append(list, l.Item.Name, l.Gross.Amount, l.UnitPrice.Amount, l.Offer.Slug)
		if l.CutPlan != nil {
			list = append(list, l.CutPlan.Text)
		}
	}
	for _, f := range o.Cost.Orders {
		list = append(list, f.Supplier.Name, f.Goods.Amount+f.Goods.Currency)
	}
	for _, c := range o.Cautions {
		list = append(list, c.Text)
	}
	for _, f := range o.FireDeclarations {
		list = append(list, *f.Code, *f.Edition)
	}
	for _, p := range o.Burden.Protection {
		list = append(list, said(roles, p.Role))
	}
	for _, s := range d.Answer.Sources {
		list = append(list, s.Name, s.Citation, s.Licence)
	}
	for _, n := range append(slices.Clone(usual), d.Answer.Notes...) {
		list = append(list, n.Text)
	}
	for _, o := range d.Answer.Options {
		list = append(list, o.Fill.Name, o.Cost.Total.Amount)
		for _, w := range o.Absorption.Warnings {
			list = append(list, w.Text)
		}
	}
	for _, n := range d.OptionNotes {
		list = append(list, n.Note)
	}
	return list
}

func TestMarkdownSaysEverything(t *testing.T) {
	plain := strings.NewReplacer("\\", "", "*", "")
	for name, document := range map[string][]byte{"kept": keptDocument(t), "many": many(t, 50)} {
		out, err := Markdown(document, Choice{})
		if err != nil {
			t.Fatal(err)
		}
		text := squashed(plain.Replace(string(out)))
		for _, want := range mustSay(t, document) {
			if !strings.Contains(text, squashed(plain.Replace(want))) {
				t.Errorf("%s: the Markdown does not say %q", name, want)
			}
		}
	}
}

// Source: GitHub Flavored Markdown 0.29, sections 2.4 (backslash escapes), 4.10 (tables), 5.2 (list items).
func TestMarkdownEscapesNames(t *testing.T) {
	for in, want := range map[string]string{
		"Wool | 50 mm":                 `Wool \| 50 mm`,
		"<script>x</script>":           `\<script\>x\</script\>`,
		"*a* _b_ `c` [d](e) # ~f~ & !": "\\*a\\* \\_b\\_ \\`c\\` \\[d\\](e) \\# \\~f\\~ \\& \\!",
		"two\nlines\r\nand  more":      "two lines and more",
		"- no list":                    `\- no list`,
		"12. no list":                  `12\. no list`,
		"Planed softwood, 18 x 50 mm.": "Planed softwood, 18 x 50 mm.",
		"https://example.org/a":        `https:\//example.org/a`,
		"ask @mara":                    `ask \@mara`,
	} {
		if got := escaped(in); got != want {
			t.Errorf("%q is escaped as %q, want %q", in, got, want)
		}
	}
}

func TestNamesCannotTurnTheText(t *testing.T) {
	document := changed(t, func(d map[string]any, _ []any) {
		d["about"].(map[string]any)["name"] = "Panels \u202e 05.1 RUE \u2066 \u0007 end"
	})
	for _, write := range []func([]byte, Choice) ([]byte, error){Sheet, Markdown} {
		out, err := write(document, Choice{})
		if err != nil {
			t.Fatal(err)
		}
		if text := string(out); strings.ContainsAny(text, "\u202e\u2066\u0007") || !strings.Contains(text, "U+202E") {
			t.Errorf("a mark of direction is left in the text, or is not told")
		}
	}
}

func TestWhatIsNoDocument(t *testing.T) {
	for _, bad := range []string{``, `[]`, `{}`, `{"schema":"/schemas/shortlist-2.json"}`, `{"schema":"/schemas/shortlist-1.json"}`} {
		if _, err := Sheet([]byte(bad), Choice{}); err == nil {
			t.Errorf("%s is taken for a document", bad)
		} else if _, ok := err.(*DocumentError); !ok {
			t.Errorf("%s: %v is no DocumentError", bad, err)
		}
	}
	_, err := Sheet(keptDocument(t), Choice{Key: "straw"})
	if e, ok := err.(*KeyError); !ok || len(e.Keys) != 3 {
		t.Errorf("an unknown key gives %v", err)
	}
}

func TestMissingPricesAreSaidAloud(t *testing.T) {
	document := changed(t, func(_ map[string]any, options []any) {
		cost := options[0].(map[string]any)["cost"].(map[string]any)
		delete(cost, "total")
		delete(cost, "per_panel")
		cost["missing"] = []any{map[string]any{"need": "fabric", "reason": "no_offer", "detail": "nobody offers Fine glass cloth", "fix": "add an offer with a price"}}
		cost["lines"].([]any)[0].(map[string]any)["owned"] = true
	})
	for _, write := range []func([]byte, Choice) ([]byte, error){Sheet, Markdown} {
		out, err := write(document, Choice{})
		if err != nil {
			t.Fatal(err)
		}
		for _, want := range []string{"Without a price", "Fabric: nobody offers Fine glass cloth. To mend it: add an offer with a price.", "The total is not known", "Taken from what is there already"} {
			if !strings.Contains(string(out), want) {
				t.Errorf("it does not say %q", want)
			}
		}
	}
}

// Masses of the parts as the catalog of the document has them, worked out by hand: 0.036, 0.025 and 0.007 kg of hardware for 4 panels.
// Where two offers share a need, each line tells the whole of it, and the mass is counted once.
func TestAPanelIsWeighedWithItsHardware(t *testing.T) {
	twice := changed(t, func(_ map[string]any, options []any) {
		cost := options[0].(map[string]any)["cost"].(map[string]any)
		lines := cost["lines"].([]any)
		for _, l := range lines {
			if l.(map[string]any)["need"] == "screw" {
				cost["lines"] = append(lines, copied(l))
			}
		}
	})
	for name, document := range map[string][]byte{"kept": keptDocument(t), "two offers": twice} {
		v, err := newView(document, Choice{})
		if err != nil {
			t.Fatal(err)
		}
		h := v.Builds[0].Hanging
		if last := h.Masses[len(h.Masses)-1]; last.Name != "Together" || last.Value != "1.068 kg" || len(h.Masses) != 7 {
			t.Errorf("%s: %v", name, h.Masses)
		}
	}
	unweighed := changed(t, func(d map[string]any, _ []any) {
		for _, p := range d["catalog"].(map[string]any)["parts"].([]any) {
			delete(p.(map[string]any), "unit_mass_kg")
			delete(p.(map[string]any), "working_load_kg")
		}
	})
	out, err := Markdown(unweighed, Choice{})
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"A panel weighs 1.0 kg and more: the mass of Steel hanging plate, 40 mm, Wood screw", "no working load is declared here", "must be declared for the whole panel"} {
		if !strings.Contains(string(out), want) {
			t.Errorf("it does not say %q", want)
		}
	}
}

// squashed is a text without white space, which line breaks move about.
func squashed(text string) string { return strings.Join(strings.Fields(text), "") }
