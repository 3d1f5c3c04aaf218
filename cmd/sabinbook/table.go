package main

import (
	"bytes"
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"sabinbook/api/client"
)

// width is the number of columns of a terminal for which the answer is laid out.
const width = 100

// printAnswer writes a ranking with options, with what its first options cost by themselves and what the first is hung on, for somebody
// who wants to build panels and knows no acoustics. It writes the same bytes for the same answer.
func printAnswer(out io.Writer, r *client.Ranking, costs []*client.CostEstimate, hanging *client.HangingCheck) error {
	p := &page{}
	p.head(r)
	p.short(r, hanging)
	p.options(r)
	p.meaning(r)
	p.little(r)
	p.inRoom(r)
	for i, c := range costs {
		p.shopping(*r.Options[i].Place, c)
	}
	p.hanging(*r.Options[0].Place, hanging)
	p.unranked(r)
	p.cautions(r)
	_, err := p.WriteTo(out)
	return err
}

type page struct{ bytes.Buffer }

// para writes first and then words, wrapped to the width, lines after the first one behind
// as many spaces as first has characters.
func (p *page) para(first, text string) {
	line, empty := first, true
	for _, word := range strings.Fields(text) {
		if !empty && utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > width {
			fmt.Fprintln(p, line)
			line, empty = strings.Repeat(" ", utf8.RuneCountInString(first)), true
		}
		if !empty {
			line += " "
		}
		line += word
		empty = false
	}
	fmt.Fprintln(p, line)
}

func (p *page) title(text string) {
	fmt.Fprintf(p, "\n%s\n%s\n", text, strings.Repeat("-", utf8.RuneCountInString(text)))
}

func (p *page) head(r *client.Ranking) {
	in := r.Inputs
	p.para("", fmt.Sprintf("%d panels of %g mm x %g mm for Lantern Yard (an invented workshop in the invented town of Quillhaven), at prices of %s in %s. "+
		"Suppliers, sizes of goods and prices are invented.", *in.PanelCount, *in.Panel.WidthMm, *in.Panel.HeightMm, *in.AsOfDate, in.Currency))
	p.para("", fmt.Sprintf("%d combinations of fill, thickness, layers, air gap and fabric were looked at: %d ranked, %d without a full price, %d left out. "+
		"Shown is the best build of each fill.", r.CandidatesCount, r.RankedCount, r.NotPricedCount, r.LeftOutCount))
}

// short answers in a few sentences: what to buy, how many, what that does in the room and what not, what
// to wear, what to hang it on.
func (p *page) short(r *client.Ranking, h *client.HangingCheck) {
	p.title("In short")
	o := r.Options[0]
	shops := make([]string, len(o.Cost.Orders))
	for i, order := range o.Cost.Orders {
		shops[i] = strings.TrimSuffix(order.Supplier.Name, " (invented)")
	}
	p.para("Build       ", fmt.Sprintf("%d panels, %g mm thick, of %s under %s.", o.PanelCount, o.FillDepthMm, o.Fill.Name, o.Fabric.Name))
	p.para("Buy         ", fmt.Sprintf("for %s %s in all, %s a panel, at %s; the list is below.", o.Cost.Total.Amount, o.Cost.Total.Currency, o.Cost.PerPanel.Amount, strings.Join(shops, ", ")))
	alike := 0
	for _, other := range r.Options[1:] {
		if other.Likely.TieGroup == o.Likely.TieGroup {
			alike++
		}
	}
	if alike > 0 {
		p.para("Or          ", fmt.Sprintf("another of the %d options of the first tie group: what is known does not tell them apart. Take what is easiest to get.", alike+1))
	}
	if o.Room != nil {
		for _, b := range o.Room.Octaves {
			if b.OctaveHz == 1000 {
				p.para("It does     ", fmt.Sprintf("this in the room: at 1000 Hz a sound dies away in %.2f s instead of %.2f s. For the target of %.2f s it takes %d such panels there, "+
					"and %d for every octave of it.", b.After.SabineS, b.Before.SabineS, b.Target.HighS, b.LeastCount, o.Room.LeastCount))
			}
		}
	}
	lows := ""
	if low := o.Absorption.Octaves[0]; low.RankedAlpha < weak {
		lows = fmt.Sprintf("do much for low notes (it takes %.0f %% of what meets it at %d Hz), nor ", 100*low.RankedAlpha, low.OctaveHz)
	}
	p.para("It doesn't  ", lows+"keep sound from the neighbours.")
	var wear []string
	for _, l := range o.Cost.Lines {
		if slices.ContainsFunc(o.Burden.Protection, func(n client.ProtectionNeed) bool { return n.Role == l.Need }) && l.Item != nil {
			wear = append(wear, l.Item.Name)
		}
	}
	if len(wear) > 0 {
		p.para("Wear        ", strings.Join(wear, "; ")+".")
	}
	if h.Mass.Known {
		p.para("Hang        ", fmt.Sprintf("each, of about %.1f kg, on two hooks, either of them declared by its maker for more than a whole panel, in a wall that holds them; not overhead, not over a bed or a chair.", *h.Mass.MassKg))
	} else {
		p.para("Hang        ", "only after weighing one: what it weighs is not known.")
	}
}

// columns of the table; the sum of widths and spaces is at most width.
const tableRow = "%3s %3s %-26s %6s %3s %-13s %-4s %4s %5s %7s %6s %3s %4s\n"

// orders says of each order what stands first.
var orders = map[string]string{
	"absorption_per_cost": "most absorption for the money",
	"cost":                "least total",
	"absorption":          "most absorption",
	"burden":              "fewest extra minutes",
	"cost_to_target":      "least total that reaches the target",
}

func (p *page) options(r *client.Ranking) {
	order := *r.Inputs.Order
	p.title(fmt.Sprintf("Best options, %s first", cmp.Or(orders[order], order)))
	fmt.Fprintf(p, tableRow, "", "", "", "fill", "gap", "", "", "", "", r.Inputs.Currency, "m2/", "", "kg/")
	fmt.Fprintf(p, tableRow, "#", "tie", "fill", "mm", "mm", "fabric", "rest", "NRC", "m2", "total", r.Inputs.Currency, "min", "pan")
	for _, o := range r.Options {
		fmt.Fprintf(p, tableRow, fmt.Sprint(*o.Place), fmt.Sprint(o.Likely.TieGroup), cut(o.Fill.Name, 26), layers(o), fmt.Sprintf("%g", o.AirGapMm), cut(o.Fabric.Name, 13),
			o.Absorption.Basis[:4], optional(o.Ratings.Nrc, "%.2f"), fmt.Sprintf("%.2f", o.Absorption.AreaM2), o.Cost.Total.Amount,
			optional(o.AreaM2PerCurrencyUnit, "%.4f"), optional(o.Burden.ExtraTimeMin, "%.0f"), optional(o.PanelMassKg, "%.1f"))
	}
	p.para("", "tie: options with one number are not told apart by what is known, whatever their places. fill mm: layers x thickness. gap: air between fill and wall. rest: what the absorption rests on: a test as it is, meas(ured), "+
		"a test carried over, adap(ted), the model with a known airflow resistivity, pred(icted), or with an estimated one, esti(mated). "+
		"NRC: mean coefficient of 250 to 2000 Hz (from octave tables it is customary only). m2: absorption of all panels, mean of 125 to 4000 Hz. "+
		"min: extra working minutes that the fill asks for, all panels. kg/pan: mass of a panel without hardware.")
}

func layers(o client.RankedOption) string {
	return fmt.Sprintf("%dx%g", o.LayersCount, o.ThicknessMm)
}

// cut shortens a name to n characters.
func cut(name string, n int) string {
	if utf8.RuneCountInString(name) <= n {
		return name
	}
	return strings.TrimRight(string([]rune(name)[:n-1]), " ,(") + "~"
}

func optional(x *float64, format string) string {
	if x == nil {
		return "?"
	}
	return fmt.Sprintf(format, *x)
}

func (p *page) meaning(r *client.Ranking) {
	p.title("What the figures mean")
	for _, n := range r.Notes {
		p.para("", n.Text)
	}
}

// weak is the ranked coefficient below which a panel is said to do little in a band. Convention.
const weak = 0.40

// little names the bands in which panels of this kind do little.
func (p *page) little(r *client.Ranking) {
	p.title("Where these panels do little")
	first := r.Options[0]
	var shares []string
	for _, o := range first.Absorption.Octaves {
		shares = append(shares, fmt.Sprintf("%d Hz %.2f (%.2f to %.2f)", o.OctaveHz, o.RankedAlpha, o.LowAlpha, o.HighAlpha))
	}
	p.para("", fmt.Sprintf("The panels of place %d take this share of the sound that meets them, and in 95 of 100 cases a laboratory would measure what stands in brackets: %s.", *first.Place, strings.Join(shares, ", ")))
	best := map[int64]client.RankedOctave{}
	by := map[int64]client.RankedOption{}
	for _, option := range r.Options {
		for _, o := range option.Absorption.Octaves {
			if _, seen := best[o.OctaveHz]; !seen || o.RankedAlpha > best[o.OctaveHz].RankedAlpha {
				best[o.OctaveHz], by[o.OctaveHz] = o, option
			}
		}
	}
	for _, o := range first.Absorption.Octaves {
		if o.RankedAlpha >= weak {
			continue
		}
		b, from := best[o.OctaveHz], by[o.OctaveHz]
		p.para("", fmt.Sprintf("At %d Hz they do little (%.2f). The most of all options shown is %.2f, place %d: %s of %s with %g mm of air. "+
			"Low bands need thicker fill, more air behind it, or panels across corners.", o.OctaveHz, o.RankedAlpha, b.RankedAlpha, *from.Place, layers(from), from.Fill.Name, from.AirGapMm))
	}
}

// inRoom says what the panels of the first place do in the room.
func (p *page) inRoom(r *client.Ranking) {
	if r.Options[0].Room == nil {
		return
	}
	p.title("In the rehearsal room")
	o := r.Options[0]
	const row = "%8s %10s %10s %18s %10s %12s\n"
	fmt.Fprintf(p, row, "octave", "now", fmt.Sprintf("with %d", o.PanelCount), "(19 of 20 cases)", "target", "least number")
	for _, b := range o.Room.Octaves {
		least, target := "none will", "-"
		if b.Reached {
			least = fmt.Sprint(b.LeastCount)
		}
		if !b.Asked {
			least = "-"
		} else {
			target = fmt.Sprintf("%.2f s", b.Target.HighS)
		}
		hz := fmt.Sprintf("%d Hz", b.OctaveHz)
		if b.BelowSchroeder {
			hz += "*"
		}
		fmt.Fprintf(p, row, hz, fmt.Sprintf("%.2f s", b.Before.SabineS), fmt.Sprintf("%.2f s", b.After.SabineS), fmt.Sprintf("%.2f to %.2f s", *b.AfterLowS, *b.AfterHighS), target, least)
	}
	p.para("", fmt.Sprintf("Decay times by 60 dB after Sabine, now and with the %d panels of place %d on the walls, and how many of them bring an octave to the target; there is room for %d. "+
		"* Here single modes of the room rule, and the figures are a guide only. The target of 0.6 s from 250 to 4000 Hz is the group's own choice. "+
		"People, windows and the door are counted, chairs are not.", o.PanelCount, *o.Place, o.Room.RoomForCount))
	if o.Room.Reached {
		p.para("", fmt.Sprintf("%d of these panels would bring every octave of the target within it.", o.Room.LeastCount))
	} else {
		p.para("", fmt.Sprintf("%d of these panels would bring every octave within the target that such panels can; for the rest take thicker fill, more air behind it, or panels across corners.", o.Room.LeastCount))
	}
}

// shopping lists what must be bought for an option, supplier by supplier, and how it is cut.
func (p *page) shopping(place int64, c *client.CostEstimate) {
	o := c.Option
	p.title(fmt.Sprintf("What to buy for place %d: %s", place, o.Key))
	for _, order := range o.Cost.Orders {
		fee := "delivered free"
		switch {
		case order.Mode == "collect":
			fee = "collected, trip " + order.Fee.Amount
		case strings.Trim(order.Fee.Amount, "0.") != "":
			fee = "delivered for " + order.Fee.Amount
		}
		fmt.Fprintf(p, "%s: %s, goods %s\n", order.Supplier.Name, fee, order.Goods.Amount)
		for _, l := range o.Cost.Lines {
			if l.Supplier == nil || l.Supplier.Slug != order.Supplier.Slug {
				continue
			}
			what := l.Item.Name
			if l.Size != nil {
				what += ", " + *l.Size + " mm"
			}
			left := ""
			if l.LeftoverQuantity != nil && *l.LeftoverQuantity > 0 {
				left = fmt.Sprintf("%g %s left", *l.LeftoverQuantity, *l.LeftoverUnit)
			}
			fmt.Fprintf(p, "  %3d x %-50s %5g %-6s %8s  %s\n", *l.PacksCount, cut(what, 50), *l.PackQuantity, l.Unit, l.Gross.Amount, cut(left, 18))
		}
	}
	p.para("", fmt.Sprintf("Total %s %s, %s a panel; %s of it goes into the panels, the rest is left over, or fees and trips.", o.Cost.Total.Amount, o.Cost.Total.Currency, o.Cost.PerPanel.Amount, o.Cost.Used.Amount))
	if o.Cost.Status != "optimal" && o.Cost.LowerBound != nil {
		fmt.Fprintf(p, "This plan is not proven the cheapest; none costs less than %s.\n", o.Cost.LowerBound.Amount)
	}
	p.para("", c.NextPanels.Text)
	fmt.Fprintln(p, "How to cut it:")
	for _, l := range o.Cost.Lines {
		if l.CutPlan != nil {
			p.para(fmt.Sprintf("  %-7s ", l.Need), l.CutPlan.Text)
		}
	}
}

// reasons counts lines by their words, the most frequent first.
type reasons map[string]int64

func (p *page) reasons(m reasons) {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, func(a, b string) int { return cmp.Or(cmp.Compare(m[b], m[a]), cmp.Compare(a, b)) })
	for _, k := range keys {
		p.para(fmt.Sprintf("%5d  ", m[k]), k)
	}
}

func (p *page) unranked(r *client.Ranking) {
	if r.NotPricedCount > 0 {
		p.title(fmt.Sprintf("Without a full price: %d (they have no place)", r.NotPricedCount))
		m := reasons{}
		for _, o := range r.NotPriced {
			for _, miss := range o.Cost.Missing {
				m[miss.Detail+": "+miss.Fix]++
			}
		}
		if shown := int64(len(r.NotPriced)); shown < r.NotPricedCount {
			fmt.Fprintf(p, "Of the first %d:\n", shown)
		}
		p.reasons(m)
	}
	if r.LeftOutCount > 0 {
		p.title(fmt.Sprintf("Left out: %d", r.LeftOutCount))
		m := reasons{}
		for _, l := range r.LeftOut {
			m[l.Detail+": "+l.Fix] += l.CandidatesCount
		}
		p.reasons(m)
	}
}

// cautions lists every caution of the options shown, each once, with the places it is for.
func (p *page) cautions(r *client.Ranking) {
	p.title("Cautions")
	var order []string
	places := map[string][]string{}
	for _, o := range r.Options {
		for _, c := range o.Cautions {
			if _, seen := places[c.Text]; !seen {
				order = append(order, c.Text)
			}
			places[c.Text] = append(places[c.Text], fmt.Sprint(*o.Place))
		}
	}
	for _, text := range order {
		of := "all options"
		if n := len(places[text]); n < len(r.Options) {
			of = "# " + strings.Join(places[text][:min(n, 6)], ", ")
			if n > 6 {
				of += fmt.Sprintf(" and %d more", n-6)
			}
		}
		p.para("- ", fmt.Sprintf("%s [%s]", text, of))
	}
}
