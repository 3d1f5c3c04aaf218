package main

import (
	"fmt"
	"io"
	"net/http"

	"sabinbook/api/client"
)

// rankCommand asks a running service for a ranking.
type rankCommand struct {
	remote
	Panels   *int64   `placeholder:"N" xor:"panels" required:"" help:"Panels to build."`
	FromRoom bool     `xor:"panels" required:"" help:"As many panels of each option as the target of the room takes."`
	Currency string   `required:"" placeholder:"CODE" help:"Currency of the prices, like EUR."`
	Width    *float64 `placeholder:"MM" help:"Width of a panel."`
	Height   *float64 `placeholder:"MM" help:"Height of a panel."`
	Room     *string  `placeholder:"SLUG" help:"Stored room in which they are hung."`
	Design   *string  `placeholder:"SLUG" help:"Stored design of a panel."`
	Families []string `help:"Families of fills to compare, with commas between them (default: all)."`
	Fills    []string `help:"Fills to compare, by slug (default: all)."`
	Fabrics  []string `help:"Fabrics to compare, by slug (default: all)."`
	Order    *string  `placeholder:"WORD" help:"absorption_per_cost, cost, absorption, burden, or cost_to_target with --from-room."`
	Purpose  *string  `placeholder:"WORD" help:"flat, speech, low, or room with --room."`
	Show     string   `default:"best_per_fill" placeholder:"WORD" help:"all or best_per_fill (default: ${default})."`
	Limit    *int64   `placeholder:"N" help:"Options to show."`
	Budget   *string  `placeholder:"AMOUNT" help:"The most that all panels may cost."`
	AsOf     *string  `placeholder:"DATE" help:"Day from which the age of prices counts (default: today)."`
	Format   string   `default:"table" enum:"table,csv,json" help:"table, csv or json (default: ${default})."`
}

// Run asks and prints.
func (c rankCommand) Run(p *program) error {
	service, err := c.client()
	if err != nil {
		return err
	}
	format := "json"
	if c.Format == "csv" {
		format = c.Format
	}
	var from *string
	if c.FromRoom {
		from = new(string)
		*from = "room"
	}
	r, err := service.ReadRankingWithResponse(p.ctx, &client.ReadRankingParams{
		PanelCount: c.Panels, PanelCountFrom: from, Room: c.Room, Design: c.Design, Currency: c.Currency, WidthMm: c.Width, HeightMm: c.Height, Families: some(c.Families), Fills: some(c.Fills), Fabrics: some(c.Fabrics),
		Order: c.Order, Purpose: c.Purpose, Show: &c.Show, Limit: c.Limit, Budget: c.Budget, AsOfDate: c.AsOf, Format: &format,
	})
	if err != nil {
		return fmt.Errorf("cannot ask %s: %w", c.Server, err)
	}
	if r.StatusCode() != http.StatusOK {
		return refusal(r.ApplicationProblemJSONDefault, r.Status())
	}
	if c.Format != "table" {
		_, err := p.out.Write(r.Body)
		return err
	}
	return printRanking(p.out, r.JSON200)
}

func some(list []string) *[]string {
	if len(list) == 0 {
		return nil
	}
	return &list
}

// printRanking writes the table of a ranking, the cautions of its options, and what has no place and why.
func printRanking(out io.Writer, r *client.Ranking) error {
	p := &page{}
	p.para("", fmt.Sprintf("%d options of %d combinations have a place; %d have no full price, %d are left out.", r.RankedCount, r.CandidatesCount, r.NotPricedCount, r.LeftOutCount))
	if len(r.Options) > 0 {
		p.options(r)
		p.cautions(r)
	}
	p.unranked(r)
	_, err := p.WriteTo(out)
	return err
}
