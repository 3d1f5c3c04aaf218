package main

import (
	"errors"
	"fmt"
	"strings"

	"sabinbook/api"
)

// compareCommand needs no database and no network.
type compareCommand struct {
	First  string `arg:"" help:"Document of a shortlist; - for standard input."`
	Second string `arg:"" help:"Document of another one, or of the same at another date; - for standard input."`
}

// Run prints what differs in words. The exit code is 0 when the documents are equal, 1 when they differ,
// 2 when one of them cannot be read.
func (c compareCommand) Run(p *program) error {
	if c.First == "-" && c.Second == "-" {
		return &unreadableError{errors.New("only one of the two documents can come from standard input")}
	}
	first, err := readDocument(c.First)
	if err != nil {
		return &unreadableError{err}
	}
	second, err := readDocument(c.Second)
	if err != nil {
		return &unreadableError{err}
	}
	told, err := api.Compare(first, second)
	var unreadable *api.UnreadableError
	if errors.As(err, &unreadable) {
		return &unreadableError{fmt.Errorf("these are not two documents of shortlists:\n  %s", strings.Join(c.named(unreadable.Faults), "\n  "))}
	}
	if err != nil {
		return err
	}
	c.print(p, told)
	if !told.Equal {
		return fmt.Errorf("%s and %s differ", c.First, c.Second)
	}
	return nil
}

// named are faults with the names of the files at which they lie.
func (c compareCommand) named(faults []string) []string {
	out := make([]string, len(faults))
	for i, f := range faults {
		out[i] = f
		for at, file := range map[string]string{"/first": c.First, "/second": c.Second} {
			if rest, ok := strings.CutPrefix(f, at); ok {
				out[i] = file + ": " + strings.TrimSpace(rest)
			}
		}
	}
	return out
}

func (c compareCommand) print(p *program, told api.ShortlistComparison) {
	say := func(form string, values ...any) { fmt.Fprintf(p.out, form+"\n", values...) }
	for _, d := range []struct {
		which string
		api.ComparedShortlist
	}{{"First", told.First}, {"Second", told.Second}} {
		say("%s: %s (%s), %s, options: %d, prices of %s, catalog revision %d, model version %s", d.which, d.Name, d.Slug, d.Status, d.OptionsCount, orNothing(d.AsOfDate), d.CatalogRevision, d.ModelVersion)
	}
	say("%s", told.Text)
	if len(told.Question) > 0 {
		say("Inputs of the question:")
		for _, v := range told.Question {
			sayValue(p, v)
		}
	}
	for _, o := range told.Options {
		if len(o.Figures) == 0 && o.OthersCount == 0 {
			continue
		}
		if o.KeySecond == o.KeyFirst {
			say("%s:", o.KeyFirst)
		} else {
			say("%s, in the second %s:", o.KeyFirst, o.KeySecond)
		}
		for _, v := range o.Figures {
			sayValue(p, v)
		}
		if o.OthersCount > 0 {
			say("  differing details: %d, the first at %s", o.OthersCount, o.Others[0])
		}
	}
	for _, side := range []struct {
		which string
		list  []api.LoneOption
	}{{"first", told.OnlyFirst}, {"second", told.OnlySecond}} {
		for _, o := range side.list {
			say("Only in the %s: %s, %s under %s%s%s, absorbs %g m2", side.which, o.Key, o.Fill.Name, o.Fabric.Name, inPlace(o.Place), costing(o.Total), o.AreaM2)
		}
	}
	if len(told.Prices) > 0 {
		say("Prices of a pack:")
		for _, d := range told.Prices {
			line := fmt.Sprintf("  %s: %s, then %s", d.Offer.Slug, seenPrice(d.PriceFirst, d.SeenFirstDate), seenPrice(d.PriceSecond, d.SeenSecondDate))
			if d.Change != nil {
				line += fmt.Sprintf(", %s", signed(d.Change.Amount))
			}
			if len(d.Others) > 0 {
				line += ", differs in " + members(d.Others)
			}
			if !d.Bought {
				line += " (not bought)"
			}
			say("%s", line)
		}
	}
	if len(told.Records) > 0 {
		say("Records:")
		for _, r := range told.Records {
			what := fmt.Sprintf("  %s %s", strings.ReplaceAll(r.Noun, "_", " "), r.Record.Slug)
			switch {
			case r.RevisionSecond == nil:
				say("%s: in the first alone", what)
			case r.RevisionFirst == nil:
				say("%s: in the second alone", what)
			case len(r.Members) == 0:
				say("%s: revision %d, then %d, with the same members", what, *r.RevisionFirst, *r.RevisionSecond)
			default:
				say("%s: revision %d, then %d, differs in %s", what, *r.RevisionFirst, *r.RevisionSecond, members(r.Members))
			}
		}
	}
}

func sayValue(p *program, v api.ComparedValue) {
	fmt.Fprintf(p.out, "  %s: %s, then %s%s\n", v.Pointer, orNothing(v.First), orNothing(v.Second), byHowMuch(v.Change))
}

func inPlace(place *int64) string {
	if place == nil {
		return ", without a place"
	}
	return fmt.Sprintf(", place %d", *place)
}

func costing(total *api.Money) string {
	if total == nil {
		return ""
	}
	return ", " + total.Amount + " " + total.Currency
}

func seenPrice(price *api.Money, day *string) string {
	if price == nil {
		return "none"
	}
	return price.Amount + " " + price.Currency + " seen on " + orNothing(day)
}

// signed is a difference with its sign.
func signed(amount string) string {
	if strings.HasPrefix(amount, "-") {
		return amount
	}
	return "+" + amount
}

// members are the names of members at pointers.
func members(pointers []string) string {
	return strings.ReplaceAll(strings.Join(pointers, ", "), "/", "")
}
