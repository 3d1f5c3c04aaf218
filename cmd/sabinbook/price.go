package main

import (
	"fmt"
	"net/http"

	"sabinbook/api/client"
)

// priceCommand adds a price to a running service.
type priceCommand struct {
	remote
	Offer       string   `arg:"" help:"Id or slug of the offer."`
	Amount      string   `arg:"" help:"Price of one pack, like 32.50."`
	Currency    *string  `placeholder:"CODE" help:"Currency (default: that of the supplier)."`
	TaxIncluded *bool    `negatable:"" help:"Whether the amount holds the tax (default: as in the last price of the offer)."`
	TaxRate     *float64 `placeholder:"PERCENT" help:"Rate of the tax (default: as in the last price of the offer)."`
	Date        *string  `placeholder:"DATE" help:"Day on which it was seen (default: today)."`
	Source      *string  `placeholder:"SLUG" help:"Source of the price (default: that of the offer)."`
	Corrects    *string  `placeholder:"ID" help:"Price of the same offer that this one corrects."`
	Note        *string  `help:"Free words."`
	DryRun      bool     `help:"Only try it: print what would be stored."`
}

// Run adds the price and prints it as it was stored.
func (c priceCommand) Run(p *program) error {
	service, err := c.client()
	if err != nil {
		return err
	}
	body := client.Price{TaxIncluded: c.TaxIncluded, TaxRatePercent: c.TaxRate, ObservedDate: c.Date, SourceID: c.Source, CorrectsID: c.Corrects, Note: c.Note}
	if c.Currency == nil {
		body.Amount = &c.Amount
	} else {
		body.Price = &client.Money{Amount: c.Amount, Currency: *c.Currency}
	}
	r, err := service.CreatePriceWithResponse(p.ctx, c.Offer, &client.CreatePriceParams{DryRun: &c.DryRun}, body)
	if err != nil {
		return fmt.Errorf("cannot ask %s: %w", c.Server, err)
	}
	if r.StatusCode() != http.StatusCreated {
		return refusal(r.ApplicationProblemJSONDefault, r.Status())
	}
	stored := r.JSON201
	tax := "without"
	if *stored.TaxIncluded {
		tax = "with"
	}
	id := "tried, not stored"
	if stored.ID != nil {
		id = *stored.ID
	}
	_, err = fmt.Fprintf(p.out, "%s: %s %s a pack, %s %g %% tax, seen on %s (%s)\n", c.Offer, stored.Price.Amount, stored.Price.Currency, tax, *stored.TaxRatePercent, *stored.ObservedDate, id)
	return err
}
