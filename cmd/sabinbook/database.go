package main

import (
	"errors"
	"fmt"

	"sabinbook/internal/catalog"
	"sabinbook/seed"
)

type seedCommand struct {
	IfEmpty bool `name:"if-empty" help:"Where the database holds a catalog already, leave it and end well."`
}

// Run loads the seed catalog into the database, which must hold nothing yet.
func (c seedCommand) Run(p *program) error {
	db, err := p.openMigrated()
	if err != nil {
		return err
	}
	defer db.Close()
	stock, err := seed.Load()
	if err != nil {
		return err
	}
	revision, err := db.Revision(p.ctx)
	if err != nil {
		return err
	}
	if revision > 0 && c.IfEmpty {
		fmt.Fprintln(p.out, "The database holds a catalog already. Nothing was changed.")
		return nil
	}
	if revision > 0 {
		return errors.New("the database holds a catalog already; the seed is only for an empty one. Nothing was changed")
	}
	if err := db.AddAll(p.ctx, "seed", stock); err != nil {
		return err
	}
	fmt.Fprintln(p.out, seedWords(stock))
	return nil
}

func seedWords(s catalog.Snapshot) string {
	return fmt.Sprintf("Loaded %d fills with %d absorption tests, %d fabrics, %d parts, %d ready-made panels, %d panel designs, %d rooms, %d offers of %d suppliers and %d prices. Rooms, suppliers, goods sizes and prices are invented.",
		len(s.Fills), len(s.Tests), len(s.Fabrics), len(s.Parts), len(s.ReadyMade), len(s.Designs), len(s.Rooms), len(s.Offers), len(s.Suppliers), len(s.Prices))
}

type migrateCommand struct {
	To      *uint `help:"Go to this version instead of the newest; 0 takes everything away, records included." placeholder:"VERSION"`
	Version bool  `help:"Only show the version."`
}

// Run brings the database to a version and shows it.
func (c migrateCommand) Run(p *program) error {
	db, err := p.open()
	if err != nil {
		return err
	}
	defer db.Close()
	switch {
	case c.Version:
	case c.To == nil:
		err = db.Migrate(p.ctx)
	case *c.To == 0:
		err = db.MigrateDown(p.ctx)
	default:
		err = db.MigrateTo(p.ctx, *c.To)
	}
	if err != nil {
		return err
	}
	v, dirty, err := db.Version(p.ctx)
	if err != nil {
		return err
	}
	if dirty {
		return fmt.Errorf("the database is at version %d, which was left half done: restore a backup, or set it right by hand and run migrate --to again", v)
	}
	fmt.Fprintln(p.out, "version", v)
	return nil
}
