package page

import (
	"fmt"
	"strings"
)

// Markdown is the document for a wiki or a chat: what the sheet says, without its drawings. Tables are in the form
// that GitHub Flavored Markdown describes, section 4.10. The error is a DocumentError or a KeyError.
func Markdown(doc []byte, c Choice) ([]byte, error) {
	v, err := newView(doc, c)
	if err != nil {
		return nil, err
	}
	var m markdown
	m.sheet(v)
	return []byte(visible(m.String())), nil
}

type markdown struct{ strings.Builder }

// special are the characters by which text becomes markup wherever they stand. Others do so only at the beginning of a
// line or beside these.
const special = "\\`*_{}[]<>#!|~&@$^"

// escaped makes one line of plain text of a text.
func escaped(text string) string {
	text = strings.Join(strings.Fields(text), " ")
	var out strings.Builder
	for _, r := range text {
		if strings.ContainsRune(special, r) {
			out.WriteByte('\\')
		}
		out.WriteRune(r)
	}
	escaped := strings.ReplaceAll(out.String(), "://", ":\\//") // no address becomes a link by itself
	if escaped != "" && strings.ContainsRune("-+=", rune(escaped[0])) {
		return "\\" + escaped
	}
	return listMark(escaped)
}

// listMark keeps a number at the beginning of a line from becoming a list.
func listMark(text string) string {
	rest := strings.TrimLeft(text, "0123456789")
	if rest != text && (strings.HasPrefix(rest, ". ") || strings.HasPrefix(rest, ") ")) {
		return text[:len(text)-len(rest)] + "\\" + rest
	}
	return text
}

func (m *markdown) heading(level int, text string) {
	fmt.Fprintf(m, "\n%s %s\n\n", strings.Repeat("#", level), escaped(text))
}

// para writes a paragraph, a line of it for each line of a text.
func (m *markdown) para(text string) {
	var lines []string
	for line := range strings.Lines(text) {
		if line = escaped(line); line != "" {
			lines = append(lines, line)
		}
	}
	if len(lines) > 0 {
		fmt.Fprintf(m, "%s\n\n", strings.Join(lines, "  \n"))
	}
}

func (m *markdown) items(mark string, list []string) {
	for _, text := range list {
		fmt.Fprintf(m, "- %s%s\n", mark, escaped(text))
	}
	if len(list) > 0 {
		m.WriteByte('\n')
	}
}

// table writes a table; a colon after a head puts its column to the right.
func (m *markdown) table(heads []string, rows [][]string) {
	line := func(cells []string) { fmt.Fprintf(m, "| %s |\n", strings.Join(cells, " | ")) }
	var names, rules []string
	for _, h := range heads {
		name, right := strings.CutSuffix(h, ":")
		names = append(names, escaped(name))
		if right {
			rules = append(rules, "---:")
		} else {
			rules = append(rules, "---")
		}
	}
	line(names)
	line(rules)
	for _, r := range rows {
		cells := make([]string, len(r))
		for i, c := range r {
			cells[i] = escaped(c)
		}
		line(cells)
	}
	m.WriteByte('\n')
}

func (m *markdown) sheet(v *view) {
	fmt.Fprintf(m, "# %s\n\n", escaped(v.Title))
	m.para(fmt.Sprintf("Shortlist, %s. %s.", v.Status, v.Kept))
	m.para(v.Note)
	if v.Invented != "" {
		fmt.Fprintf(m, "**%s**\n\n", escaped(v.Invented))
	}
	m.heading(2, "What was asked")
	m.para(strings.Join(v.Question, " "))
	m.heading(2, "The options side by side")
	var rows [][]string
	for _, r := range v.Rows {
		rows = append(rows, []string{r.Place, r.Fill + ", " + r.Layers, r.Fabric, r.Total, r.PerPanel, r.Area, strings.TrimSpace(r.AlphaW + " " + r.Class), r.NRC, r.Minutes, r.Mass, r.Tie, r.Basis})
	}
	m.table([]string{"#:", "build", "fabric", "total:", "a panel:", "absorbs m²:", "alpha_w:", "NRC:", "extra min:", "kg a panel:", "tie:", "absorption rests on"}, rows)
	for _, r := range v.Rows {
		if r.Note != "" {
			m.para("Place " + r.Place + ": " + r.Note)
		}
	}
	m.para("Absorbs: the area of all panels, coefficients above 1.00 counted as 1.00, weighted as asked. Places within one tie are not told apart by what is known. " + v.Origin)
	m.heading(2, "What they absorb")
	rows = nil
	heads := []string{"option"}
	for _, o := range octaveNames {
		heads = append(heads, number(o.hz)+" Hz:")
	}
	for _, s := range v.Singles {
		cells := []string{s.Label}
		for _, o := range octaveNames {
			text := unknown
			for _, b := range s.Bounds {
				if b.Hz == o.hz {
					text = fmt.Sprintf("%.2f (%.2f to %.2f)", b.Alpha, b.Low, b.High)
				}
			}
			cells = append(cells, text)
		}
		rows = append(rows, cells)
	}
	m.table(heads, rows)
	m.para("In brackets: between these a laboratory would measure the octave in 95 of 100 cases.")
	for _, b := range v.Builds {
		m.build(b)
	}
	m.heading(2, "What to mind with every panel")
	for _, n := range v.Usual {
		fmt.Fprintf(m, "**%s.** %s\n\n", escaped(n.Code), escaped(n.Text))
	}
	m.heading(2, "What the figures mean")
	for _, n := range v.Notes {
		m.para(sourced(n))
	}
	m.heading(2, "What weakens the figures")
	for _, s := range v.Singles {
		for _, w := range s.Warnings {
			fmt.Fprintf(m, "- %s: %s\n", escaped(s.Label), escaped(sourced(w)))
		}
	}
	m.heading(2, "Sources")
	for _, s := range v.Sources {
		invented := ""
		if s.Invented {
			invented = " **INVENTED**"
		}
		fmt.Fprintf(m, "- **%s**%s %s (%s; %s)\n", escaped(s.Name), invented, escaped(s.Citation), escaped(s.Evidence), escaped(s.Licence))
	}
	m.heading(2, "How to prove it")
	m.para("Digest of the document from which this was written: " + v.Digest)
	m.para("It was not checked when this was written. sabinbook verify FILE checks it, works everything out again from the document alone, and says equal, or which figure differs.")
	m.para(v.Versions + ".")
}

func (m *markdown) build(b build) {
	m.heading(2, b.Heading)
	m.para(b.Layers + ". Fabric: " + b.Fabric + ". Frame: " + b.Frame + ".")
	m.para(b.Note)
	m.facts("", "", b.Facts)
	if len(b.Missing) > 0 {
		m.WriteString("**Without a price. The sums below are too low by these:**\n\n")
		m.items("", b.Missing)
	}
	m.heading(3, "Shopping list")
	for _, o := range b.Orders {
		m.heading(4, o.Supplier)
		m.para(o.Note)
		for _, l := range o.Lines {
			fmt.Fprintf(m, "- [ ] **%s × %s** (%s each) at %s: %s. %s\n", escaped(l.Packs), escaped(l.What), escaped(l.Pack), escaped(l.Each), escaped(l.Sum), escaped(l.Small()))
		}
		m.WriteByte('\n')
		m.para(fmt.Sprintf("Goods %s, %s %s, order %s.", o.Goods, strings.ToLower(o.FeeName), o.Fee, o.Sum))
	}
	if len(b.Stock) > 0 {
		m.heading(4, "Taken from what is there already")
		m.items("", b.Stock)
	}
	m.facts("All orders", "amount", b.Sums)
	m.para(b.Remark)
	if len(b.Cuts) > 0 {
		m.heading(3, "How it is cut")
	}
	for _, c := range b.Cuts {
		fmt.Fprintf(m, "- **%s**: %s\n", escaped(c.What), escaped(c.Words))
	}
	if len(b.Protection) > 0 {
		m.heading(3, "What to wear")
	}
	for _, p := range b.Protection {
		fmt.Fprintf(m, "- %s, %s: %s\n", escaped(p.Role), escaped(p.Uses), escaped(p.From))
	}
	m.heading(3, "Extra work that this fill asks for")
	var rows [][]string
	for _, s := range b.Steps {
		rows = append(rows, []string{s.Name, s.Reckoning, s.Evidence, s.Minutes})
	}
	if len(rows) > 0 {
		m.table([]string{"step", "reckoned from", "rests on", "minutes:"}, rows)
		m.para(b.Minutes + ". " + commonWork)
	} else {
		m.para(unknownWork)
	}
	m.para(b.Lifting)
	m.heading(3, "Hanging")
	m.facts("part of one panel", "mass", b.Hanging.Masses)
	m.items("", b.Hanging.Words)
	m.para(drillWords)
	m.heading(3, "Cautions for this build")
	for _, c := range b.Cautions {
		fmt.Fprintf(m, "- %s\n", escaped(sourced(c)))
	}
	m.heading(3, "Fire, as it was declared")
	for _, f := range b.Fires {
		fmt.Fprintf(m, "- %s: **%s**. %s\n", escaped(f.Subject), escaped(f.Class), escaped(f.Details))
	}
	if len(b.Fires) > 0 {
		m.WriteByte('\n')
		m.para(fireWords)
	} else {
		m.para(noFire)
	}
}

func (m *markdown) facts(name, value string, facts []fact) {
	var rows [][]string
	for _, f := range facts {
		rows = append(rows, []string{f.Name, f.Value})
	}
	m.table([]string{name, value + ":"}, rows)
}
