package api

import (
	"fmt"
	"strconv"
	"strings"

	"sabinbook/internal/catalog"
	"sabinbook/internal/ranking"
)

// encodeWhy writes how options that were asked about came to where they are.
func encodeWhy(list []ranking.Why) *[]OptionReasons {
	if list == nil {
		return nil
	}
	out := make([]OptionReasons, len(list))
	for i, w := range list {
		out[i] = OptionReasons{Key: w.Key, Found: string(w.Found), Reason: known(string(w.Reason)), Criterion: encodeStepIf(w.Criterion), Burden: encodeStepIf(w.Burden),
			Before: encodeNeighbour(w.Before), After: encodeNeighbour(w.After), Text: whyText(w)}
		if w.Found == ranking.Excluded {
			detail, fix := leftOutWords(ranking.LeftOut{Reason: w.Reason})
			out[i].Text, out[i].Fix = "It was left out: "+detail+".", &fix
		}
		if w.Option != nil {
			out[i].Place = knownAs(w.Option.Place, whole)
		}
	}
	return &out
}

func encodeNeighbour(n *ranking.Neighbour) *Neighbour {
	if n == nil {
		return nil
	}
	return &Neighbour{Key: n.Key, Value: n.Value}
}

func encodeStepIf(s *ranking.Step) *ReasonStep {
	if s == nil {
		return nil
	}
	return place(encodeStep(*s))
}

func encodeStep(s ranking.Step) ReasonStep {
	out := ReasonStep{Name: s.Name, How: string(s.How), Text: stepText(s), Value: s.Value, Unit: known(s.Unit), Amount: encodeMoneyIf(s.Amount), Detail: known(s.Detail),
		Record: refIf(s.Record), Steps: make([]ReasonStep, len(s.Of))}
	if len(s.Sources) > 0 {
		out.SourceIds = place(listOf(&s.Sources, text[catalog.ID]))
	}
	for i, of := range s.Of {
		out.Steps[i] = encodeStep(of)
	}
	return out
}

// whyText says where an option is. Of what was left out the reason says it.
func whyText(w ranking.Why) string {
	switch w.Found {
	case ranking.Ranked:
		words := fmt.Sprintf("Place %d, by %s.", w.Option.Place, stepText(*w.Criterion))
		if w.Before != nil {
			words += fmt.Sprintf(" Before it stands %s with %s.", w.Before.Key, figure(w.Before.Value))
		}
		if w.After != nil {
			words += fmt.Sprintf(" Behind it stands %s with %s.", w.After.Key, figure(w.After.Value))
		}
		if l := w.Option.Likely; l != nil {
			words += fmt.Sprintf(" It is in tie group %d; in nine of ten draws its place is %d to %d.", l.Group, l.Low, l.High)
		}
		return words
	case ranking.Hidden:
		words := fmt.Sprintf("It stands behind the options that are shown, by %s.", stepText(*w.Criterion))
		if w.Before != nil {
			words += fmt.Sprintf(" The last of them is %s with %s.", w.Before.Key, figure(w.Before.Value))
		}
		return words
	case ranking.NoPrice:
		return "It has no place, because something that it needs has no price; see not_priced, or ask what this build costs."
	}
	return "The question looks at no such build: check the slugs, the thickness in which the fill is sold, layers, air gaps, and which fills and fabrics are asked for."
}

// stepText says what a step is and how it follows.
func stepText(s ranking.Step) string {
	words := spaced(s.Name)
	if s.Record.Name != "" && s.Name != "extra_minutes" {
		words += " of " + s.Record.Name
	}
	switch {
	case s.Amount != nil:
		words += fmt.Sprintf(" %s %s", s.Amount, s.Amount.Currency())
	case s.Unit != "":
		words += " " + figure(s.Value) + " " + s.Unit
	default:
		words += " " + figure(s.Value)
	}
	names := make([]string, len(s.Of))
	for i, of := range s.Of {
		names[i] = spaced(of.Name)
	}
	switch s.How {
	case ranking.Sum:
		if len(s.Of) == 1 {
			return words
		}
		return words + fmt.Sprintf(", the sum of %d steps", len(s.Of))
	case ranking.Product:
		return words + " = " + strings.Join(names, " × ")
	case ranking.Quotient:
		return words + " = " + strings.Join(names, " / ")
	case ranking.AtMost:
		return words + ", counted at most as 1"
	case ranking.Carried:
		return words + " = tested alpha × model of panel / model of specimen, at most 1"
	case ranking.Exchanged:
		return words + " = " + names[0] + " by the exchange rate, rounded once"
	case ranking.Taxed:
		return words + " = packs × price, with tax, rounded once"
	case ranking.Modelled:
		return words + ", by the model of absorption"
	case ranking.Chosen:
		return words + ", in the plan that costs least"
	case ranking.ByRule:
		return words + ", by the supplier's rule (" + s.Detail + ")"
	case ranking.Counted:
		return words + ", the least that brings the room within its target"
	case ranking.Stored:
		if s.Name == "price" || s.Name == "listed_price" || s.Name == "exchange_rate" {
			return words + ", seen on " + s.Detail
		}
		return words + ", a figure of the catalog"
	}
	return words
}

func spaced(code string) string { return strings.ReplaceAll(code, "_", " ") }

// figure writes a number to four places that count.
func figure(x float64) string {
	short, err := strconv.ParseFloat(strconv.FormatFloat(x, 'e', 3, 64), 64)
	if err != nil {
		short = x
	}
	return strconv.FormatFloat(short, 'f', -1, 64)
}
