package main

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"sabinbook/internal/exchange"
	"sabinbook/store"
)

// backupCommand writes backups: one into a file, or one again and again into a folder.
type backupCommand struct {
	File  string        `arg:"" help:"The file to write; one that is there is replaced once the new one is whole. With --every, a folder."`
	Every time.Duration `placeholder:"TIME" help:"Go on, and write a backup into the folder after each such time, like 24h."`
	Keep  int           `default:"14" placeholder:"N" help:"With --every, how many backups the folder keeps, the newest (default: ${default})."`
	Check bool          `help:"Write nothing: read the file to its end and say whether it is whole."`
}

// Names of the backups that --every writes, which sort by time.
const (
	backupPrefix = "sabinbook-"
	backupForm   = "20060102T150405Z"
	backupSuffix = ".backup"
	partSuffix   = ".part"
)

// Run writes a backup, or checks one, or goes on writing them until the program is told to stop.
func (c backupCommand) Run(p *program) error {
	switch {
	case c.Every < 0 || c.Every > 0 && c.Every < time.Minute:
		return &configError{"--every", errors.New("must be a minute or more, like 24h")}
	case c.Keep < 1:
		return &configError{"--keep", errors.New("must be 1 or more")}
	case c.Check && c.Every > 0:
		return &configError{"--check", errors.New("is for one file: leave out --every")}
	}
	if c.Check {
		sum, err := checkBackup(c.File)
		if err != nil {
			return err
		}
		p.backupWords(c.File, sum)
		return nil
	}
	db, err := p.open()
	if err != nil {
		return err
	}
	defer db.Close()
	if c.Every > 0 {
		return c.repeat(p, db)
	}
	sum, err := writeBackup(p.ctx, db, c.File)
	if err != nil {
		return err
	}
	p.backupWords(c.File, sum)
	return nil
}

func (p *program) backupWords(file string, sum store.BackupSummary) {
	fmt.Fprintf(p.out, "%s: the database at %s, catalog revision %d, schema version %d, %d rows, digest %s\n",
		file, sum.Made.Format(time.RFC3339), sum.Revision, sum.Schema, sum.Rows, sum.Digest)
}

// writeBackup writes a backup beside the file, reads it again, and gives it the name of the file only
// when it is whole and on the disk. A process that is killed leaves at most a file that ends in .part.
func writeBackup(ctx context.Context, db *store.Store, file string) (sum store.BackupSummary, err error) {
	part, err := os.CreateTemp(filepath.Dir(file), filepath.Base(file)+".*"+partSuffix) // only its owner may read it
	if err != nil {
		return sum, err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.Remove(part.Name()))
		}
	}()
	sum, err = db.Backup(ctx, part)
	if err == nil {
		err = part.Sync()
	}
	if err := errors.Join(err, part.Close()); err != nil {
		return sum, err
	}
	read, err := checkBackup(part.Name())
	if err != nil {
		return sum, err
	}
	if read != sum {
		return sum, fmt.Errorf("%s holds not what was written: the disk is damaged", part.Name())
	}
	if err := os.Rename(part.Name(), file); err != nil {
		return sum, err
	}
	return sum, nil
}

func checkBackup(file string) (store.BackupSummary, error) {
	f, err := os.Open(file)
	if err != nil {
		return store.BackupSummary{}, err
	}
	defer f.Close()
	return store.ReadBackup(f)
}

// repeat writes a backup whenever the newest of the folder is older than the given time. One that
// fails is tried again after a tenth of it, at most an hour.
func (c backupCommand) repeat(p *program, db *store.Store) error {
	if err := removeParts(c.File); err != nil {
		return err
	}
	for {
		wait, err := c.next(time.Now())
		if err != nil {
			return err
		}
		if wait <= 0 {
			file := filepath.Join(c.File, backupPrefix+time.Now().UTC().Format(backupForm)+backupSuffix)
			sum, err := writeBackup(p.ctx, db, file)
			switch {
			case p.ctx.Err() != nil:
				return nil
			case err != nil:
				p.log.Error("backup failed", "file", file, "cause", err.Error())
				wait = min(c.Every/10, time.Hour)
			default:
				p.log.Info("backup", "file", file, "catalog_revision", sum.Revision, "rows", sum.Rows, "digest", sum.Digest)
				if err := c.prune(); err != nil {
					p.log.Error("old backups stay", "cause", err.Error())
				}
				continue
			}
		}
		select {
		case <-time.After(wait):
		case <-p.ctx.Done():
			return nil
		}
	}
}

// backups are the files that --every has written into the folder, oldest first.
func (c backupCommand) backups() ([]string, error) {
	files, err := filepath.Glob(filepath.Join(c.File, backupPrefix+"*"+backupSuffix))
	slices.Sort(files)
	return files, err
}

// next is how long to wait for the next backup.
func (c backupCommand) next(now time.Time) (time.Duration, error) {
	files, err := c.backups()
	if err != nil {
		return 0, err
	}
	for _, file := range slices.Backward(files) {
		name := strings.TrimSuffix(strings.TrimPrefix(filepath.Base(file), backupPrefix), backupSuffix)
		if at, err := time.Parse(backupForm, name); err == nil {
			return at.Add(c.Every).Sub(now), nil
		}
	}
	return 0, nil
}

// prune removes all backups but the newest.
func (c backupCommand) prune() error {
	files, err := c.backups()
	if err != nil {
		return err
	}
	for _, file := range files[:max(0, len(files)-c.Keep)] {
		if err := os.Remove(file); err != nil {
			return err
		}
	}
	return nil
}

// removeParts takes away what a killed process has left.
func removeParts(folder string) error {
	files, err := filepath.Glob(filepath.Join(folder, backupPrefix+"*"+partSuffix))
	if err != nil {
		return err
	}
	for _, file := range files {
		if err := os.Remove(file); err != nil {
			return err
		}
	}
	return nil
}

type restoreCommand struct {
	File string `arg:"" help:"The backup."`
}

// Run restores a backup into the database of the settings.
func (c restoreCommand) Run(p *program) error {
	f, err := os.Open(c.File)
	if err != nil {
		return err
	}
	defer f.Close()
	if _, err := store.ReadBackup(f); err != nil { // before anything is touched
		return err
	}
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return err
	}
	db, err := p.open()
	if err != nil {
		return err
	}
	defer db.Close()
	sum, err := db.Restore(p.ctx, f)
	if err != nil {
		return restoreWords(err)
	}
	p.backupWords(c.File, sum)
	fmt.Fprintln(p.out, "Restored: the database holds the same rows, and its references and pages are sound.")
	return nil
}

func restoreWords(err error) error {
	if errors.Is(err, store.ErrNotEmpty) {
		return fmt.Errorf("%w. Nothing was changed: name another database, and start no service on it before", err)
	}
	return err
}

type moveCommand struct {
	To           string `arg:"" placeholder:"URL" help:"The empty database to copy into: sqlite:PATH or postgres://..."`
	PasswordFile string `name:"to-password-file" placeholder:"FILE" help:"File with the password of its PostgreSQL user."`
}

// Run copies the database of the settings and compares.
func (c moveCommand) Run(p *program) error {
	target, err := config{DatabaseURL: c.To, PasswordFile: c.PasswordFile}.databaseURL()
	if err != nil {
		return &configError{"move", errors.Unwrap(err)}
	}
	from, err := p.openMigrated()
	if err != nil {
		return err
	}
	defer from.Close()
	to, err := store.Open(p.ctx, target)
	if err != nil {
		return fmt.Errorf("cannot open the database to copy into: %w", err)
	}
	defer to.Close()
	in, out := io.Pipe()
	go func() {
		_, err := from.Backup(p.ctx, out)
		out.CloseWithError(err)
	}()
	sum, err := to.Restore(p.ctx, in)
	in.CloseWithError(errors.New("nobody reads on"))
	if err != nil {
		return restoreWords(err)
	}
	return p.equal(from, to, sum)
}

// equal proves that two databases hold the same, by the digest over all their rows and by that of the
// package that each exports.
func (p *program) equal(from, to *store.Store, moved store.BackupSummary) error {
	var rows, packages [2]string
	for i, db := range []*store.Store{from, to} {
		sum, err := db.Backup(p.ctx, io.Discard)
		if err != nil {
			return err
		}
		stock, err := db.Snapshot(p.ctx)
		if err != nil {
			return err
		}
		rows[i], packages[i] = sum.Digest, fmt.Sprintf("%x", sha256.Sum256(exchange.Archive(exchange.Write(stock))))
	}
	fmt.Fprintf(p.out, "%d rows\nall rows    from %s\n            to   %s\nthe export  from %s\n            to   %s\n", moved.Rows, rows[0], rows[1], packages[0], packages[1])
	switch {
	case rows[0] != moved.Digest:
		return errors.New("the first database was changed meanwhile, the copy is of before: stop its service, and move into another empty database")
	case rows[0] != rows[1] || packages[0] != packages[1]:
		return errors.New("the two databases differ")
	}
	fmt.Fprintln(p.out, "The two are equal. Start the service on the second one, and keep the first until you trust it.")
	return nil
}
