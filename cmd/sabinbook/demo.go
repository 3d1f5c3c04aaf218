package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"strings"

	"sabinbook/api"
	"sabinbook/api/client"
	"sabinbook/seed"
	"sabinbook/store"
)

type demoCommand struct {
	Once   bool   `help:"Stop after printing the answer."`
	Listen string `env:"SABINBOOK_LISTEN" default:"127.0.0.1:0" placeholder:"ADDRESS" help:"Loopback address to serve on (default: a free port)."`
}

// demoQuestion asks for the ten panels of Lantern Yard, the invented workshop of the demo.
// The day is fixed, so that the answer does not change as the invented prices age.
const demoQuestion = `{"panel_count": 10, "panel": {"width_mm": 600, "height_mm": 1200}, "air_gaps_mm": [0, 50], "currency": "EUR", "as_of_date": "2026-11-02", "show": "best_per_fill", ` +
	`"room": {"stored_room": "rehearsal-room"}}`

// Run makes a fresh embedded database with the seed catalog, starts the service, asks it
// over HTTP, prints the answer and goes on serving.
func (c demoCommand) Run(p *program) error {
	address, loopback, err := listen{c.Listen}.address()
	if err != nil {
		return err
	}
	if !loopback {
		return &configError{listenSetting, errNotLoopback}
	}
	folder, err := os.MkdirTemp("", "sabinbook-demo-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(folder)
	db, err := store.Open(p.ctx, "sqlite:"+filepath.Join(folder, "catalog.db"))
	if err != nil {
		return err
	}
	defer db.Close()
	if err := db.Migrate(p.ctx); err != nil {
		return err
	}
	stock, err := seed.Load()
	if err != nil {
		return err
	}
	if err := db.AddAll(p.ctx, "seed", stock); err != nil {
		return err
	}
	quiet := *p
	quiet.log = slog.New(slog.DiscardHandler)
	s, err := quiet.start(db, address, api.Options{Open: true})
	if err != nil {
		return err
	}
	service, err := client.NewClientWithResponses(s.url)
	if err != nil {
		return err
	}
	answer, err := ask(p.ctx, service)
	if err != nil {
		return err
	}
	costs, err := askCosts(p.ctx, service, answer)
	if err != nil {
		return err
	}
	hanging, err := askHanging(p.ctx, service, answer.Options[0])
	if err != nil {
		return err
	}
	if err := printAnswer(p.out, answer, costs, hanging); err != nil {
		return err
	}
	fmt.Fprintf(p.err, "\nThe same question by curl:\n\ncurl -s %s/v1/rankings -H 'Content-Type: application/json' -d '%s'\n", s.url, demoQuestion)
	if c.Once {
		return s.stop()
	}
	fmt.Fprintf(p.err, "\nServing on %s until you press Ctrl-C.\n", s.url)
	return s.wait(p.ctx)
}

// ask sends the question of the demo to a server.
func ask(ctx context.Context, c *client.ClientWithResponses) (*client.Ranking, error) {
	r, err := c.RankOptionsWithBodyWithResponse(ctx, "application/json", bytes.NewReader([]byte(demoQuestion)))
	if err != nil {
		return nil, err
	}
	if r.JSON200 == nil {
		return nil, fmt.Errorf("the service answered %s: %s", r.Status(), strings.TrimSpace(string(r.Body)))
	}
	if len(r.JSON200.Options) == 0 {
		return nil, errors.New("the service ranks no option of the seed catalog")
	}
	return r.JSON200, nil
}

// shopped is the number of options for which the demo prints what to buy and how to cut it.
const shopped = 3

// askCosts asks what the first options cost by themselves, on the terms of the ranking.
func askCosts(ctx context.Context, c *client.ClientWithResponses, ranking *client.Ranking) ([]*client.CostEstimate, error) {
	var list []*client.CostEstimate
	in := ranking.Inputs
	for _, o := range ranking.Options[:min(shopped, len(ranking.Options))] {
		r, err := c.EstimateCostWithResponse(ctx, client.CostQuestion{
			PanelCount: o.PanelCount, Panel: in.Panel, Fill: o.Fill.Slug, ThicknessMm: o.ThicknessMm, LayersCount: &o.LayersCount, AirGapMm: &o.AskedAirGapMm, Fabric: o.Fabric.Slug,
			Currency: in.Currency, AsOfDate: in.AsOfDate, MaxPriceAgeDays: in.MaxPriceAgeDays, Region: in.Region, TaxBasis: in.TaxBasis, OwnedRoles: in.OwnedRoles,
			FabricWastePercent: in.FabricWastePercent, LooseWastePercent: in.LooseWastePercent, KerfMm: in.KerfMm, MinPieceMm: in.MinPieceMm, NodeLimitCount: in.NodeLimitCount, AllowPadding: in.AllowPadding, Handling: in.Handling,
		})
		if err != nil {
			return nil, err
		}
		if r.JSON200 == nil {
			return nil, fmt.Errorf("the service answered %s: %s", r.Status(), strings.TrimSpace(string(r.Body)))
		}
		list = append(list, r.JSON200)
	}
	return list, nil
}
