package store_test

import (
	"bytes"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"

	"sabinbook/internal/access"
	"sabinbook/internal/catalog"
	"sabinbook/internal/catalogtest"
	"sabinbook/migrations"
	"sabinbook/store"
	"sabinbook/store/storetest"
)

// backedUp is a backup of a store, with what it says of itself.
func backedUp(t *testing.T, s *store.Store) ([]byte, store.BackupSummary) {
	t.Helper()
	var b bytes.Buffer
	sum, err := s.Backup(ctx, &b)
	must(t, err)
	read, err := store.ReadBackup(bytes.NewReader(b.Bytes()))
	must(t, err)
	equal(t, "what reading tells", sum, read)
	return b.Bytes(), sum
}

// eachEmpty runs f with an empty database of each engine, not migrated.
func eachEmpty(t *testing.T, f func(t *testing.T, url string)) {
	t.Run("sqlite", func(t *testing.T) { f(t, storetest.SQLiteURL(t)) })
	t.Run("postgres", func(t *testing.T) { f(t, storetest.EmptyPostgresURL(t)) })
}

// From SQLite to PostgreSQL and back: the same rows, the same export, byte for byte, and tokens that
// still open the door.
func TestBackupsGoFromEngineToEngineAndBack(t *testing.T) {
	first := opened(t, storetest.SQLiteURL(t))
	must(t, first.Migrate(ctx))
	filled(t, first)
	must(t, first.AddAll(ctx, "keeper", catalogtest.Random(4)))
	secret := newSecret(t)
	_, err := first.AddToken(ctx, "keeper", access.Token{Member: "Ada", Role: access.Curator, Scopes: []access.Scope{access.Read}}, secret)
	must(t, err)
	renamed, err := first.Fill(ctx, string(samples().Fills[1].Slug))
	must(t, err)
	renamed.Slug = "renamed"
	_, err = first.ReplaceFill(ctx, "ada", string(renamed.ID), renamed.Revision, renamed)
	must(t, err)
	want, whole := exported(t, first), lineCount(t, first)
	from := first
	for _, url := range []string{storetest.EmptyPostgresURL(t), storetest.SQLiteURL(t), storetest.PostgresURL(t)} {
		file, sum := backedUp(t, from)
		to := opened(t, url)
		got, err := to.Restore(ctx, bytes.NewReader(file))
		must(t, err)
		equal(t, "what was restored", sum, got)
		again, sumAgain := backedUp(t, to)
		if sumAgain.Digest != sum.Digest || sumAgain.Rows != sum.Rows || sumAgain.Revision != sum.Revision || sumAgain.Rows < int64(whole) {
			t.Errorf("%+v after %+v", sumAgain, sum)
		}
		if a, b := contents(t, file), contents(t, again); a != b {
			t.Error("the lines of the two backups differ")
		}
		if !bytes.Equal(exported(t, to), want) {
			t.Error("the export differs")
		}
		token, err := to.TokenByHash(ctx, secret.Hash())
		if err != nil || token.Member != "Ada" || len(token.Scopes) != 1 {
			t.Errorf("%+v, %v", token, err)
		}
		old, err := to.Fill(ctx, string(samples().Fills[1].Slug)) // a former slug
		if err != nil || old.Slug != "renamed" {
			t.Errorf("%v, %v", old.Slug, err)
		}
		_, err = to.AddFill(ctx, "ada", newFill("afterwards")) // the copy can be written to
		must(t, err)
		must(t, to.DeleteFill(ctx, "ada", "afterwards", 1))
		_, err = to.Restore(ctx, bytes.NewReader(file))
		if !errors.Is(err, store.ErrNotEmpty) {
			t.Errorf("restoring over a catalog: %v", err)
		}
		// The next step starts from a backup without these two changes.
		clean := opened(t, storetest.SQLiteURL(t))
		_, err = clean.Restore(ctx, bytes.NewReader(file))
		must(t, err)
		from = clean
	}
}

// contents are the lines of a backup behind its head.
func contents(t testing.TB, file []byte) string {
	t.Helper()
	r, err := gzip.NewReader(bytes.NewReader(file))
	must(t, err)
	text, err := io.ReadAll(r)
	must(t, err)
	_, behind, _ := strings.Cut(string(text), "\n")
	return behind
}

// lineCount is the number of records in a store.
func lineCount(t testing.TB, s *store.Store) int {
	t.Helper()
	all, err := s.Snapshot(ctx)
	must(t, err)
	return len(all.Fills) + len(all.Fabrics) + len(all.Parts) + len(all.Offers) + len(all.Prices) + len(all.Sources)
}

// Every table that the migrations make is in a backup with all its columns, by the whole schemas.
func TestBackupsForgetNoTable(t *testing.T) {
	for engine, open := range map[string]func(testing.TB) *store.Store{"sqlite": storetest.SQLiteFile, "postgres": storetest.Postgres} {
		t.Run(engine, func(t *testing.T) {
			text, err := migrations.Files.ReadFile("schema." + engine + ".sql")
			must(t, err)
			file, _ := backedUp(t, open(t))
			lines := strings.Split(contents(t, file), "\n")
			found := regexp.MustCompile(`(?s)CREATE TABLE (\w+) \((.*?)\)(?: STRICT)?;`).FindAllStringSubmatch(string(text), -1)
			if len(found) < 20 {
				t.Fatalf("%d tables in the schema", len(found))
			}
			for _, m := range found {
				at := slices.IndexFunc(lines, func(l string) bool { return strings.HasPrefix(l, `{"table":"`+m[1]+`",`) })
				if at < 0 {
					t.Errorf("the table %s is in no backup", m[1])
					continue
				}
				for _, c := range regexp.MustCompile(`(?mi)(?:^    |, )(\w+) +(?:text|bigint|integer|double|real|boolean|timestamptz|bytea|blob)\b`).FindAllStringSubmatch(m[2], -1) {
					if !strings.Contains(lines[at], `"`+c[1]+`"`) {
						t.Errorf("the column %s of %s is in no backup: %s", c[1], m[1], lines[at])
					}
				}
			}
		})
	}
}

// While 16 clients write, each backup holds one moment's state: what a change stores together is there
// together, and the revision of the catalog counts the changes.
func TestBackupsHoldOneMoment(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		filled(t, s)
		base, err := s.Snapshot(ctx)
		must(t, err)
		offer := samples().Prices[0].OfferID
		const clients, each = 16, 12
		var group sync.WaitGroup
		running, end := context.WithCancel(ctx)
		defer end()
		for i := range clients {
			group.Go(func() {
				for k := range each {
					left, right := samples().Prices[0], samples().Prices[0]
					for _, p := range []*catalog.Price{&left, &right} {
						p.ID, p.OfferID, p.Corrects = "", offer, ""
					}
					left.Note, right.Note = fmt.Sprintf("left %d %d", i, k), fmt.Sprintf("right %d %d", i, k)
					_, err := s.AddPrices(ctx, "m", []catalog.Price{left, right})
					for errors.Is(err, catalog.ErrUnavailable) { // others are writing
						_, err = s.AddPrices(ctx, "m", []catalog.Price{left, right})
					}
					if err != nil {
						t.Error(err)
					}
				}
			})
		}
		go func() {
			group.Wait()
			end()
		}()
		var files [][]byte
		for running.Err() == nil {
			file, _ := backedUp(t, s)
			files = append(files, file)
		}
		file, _ := backedUp(t, s)
		files = append(files, file)
		seen := map[int64]bool{}
		for i, file := range files {
			if i > 4 && i < len(files)-1 && i%(len(files)/4) != 0 {
				continue
			}
			copied := opened(t, storetest.SQLiteURL(t))
			sum, err := copied.Restore(ctx, bytes.NewReader(file))
			must(t, err)
			all, err := copied.Snapshot(ctx)
			must(t, err)
			seen[all.Revision] = true
			notes := map[string]int{}
			for _, p := range all.Prices {
				if side, number, pair := strings.Cut(p.Note, " "); pair && (side == "left" || side == "right") {
					notes[number]++
				}
			}
			for number, n := range notes {
				if n != 2 {
					t.Errorf("backup %d holds half of the change %s", i, number)
				}
			}
			if all.Revision != sum.Revision || all.Revision != base.Revision+int64(len(notes)) {
				t.Errorf("backup %d: %d changes at revision %d", i, len(notes), all.Revision)
			}
		}
		if len(files) < 3 || len(seen) < 2 || !seen[base.Revision+clients*each] {
			t.Errorf("%d backups of the revisions %v", len(files), seen)
		}
		t.Logf("%d backups while %d clients wrote %d changes", len(files), clients, clients*each)
	})
}

// A backup that is cut off, or has one byte changed anywhere, is refused, and leaves the database as
// empty as it was.
func TestDamagedBackupsAreRefused(t *testing.T) {
	s := storetest.SQLite(t)
	filled(t, s)
	file, _ := backedUp(t, s)
	for at := range file {
		bad := bytes.Clone(file)
		bad[at] ^= 1 << rand.IntN(8)
		if _, err := store.ReadBackup(bytes.NewReader(bad)); err == nil {
			t.Errorf("byte %d of %d was changed and nobody saw", at, len(file))
		}
	}
	for _, bad := range [][]byte{nil, file[:5], file[:len(file)/2], file[:len(file)-1], append(bytes.Clone(file), 0), append(bytes.Clone(file), file...), []byte("a shopping list")} {
		if _, err := store.ReadBackup(bytes.NewReader(bad)); !errors.Is(err, store.ErrBackupDamaged) {
			t.Errorf("%d bytes: %v", len(bad), err)
		}
	}
	eachEmpty(t, func(t *testing.T, url string) {
		to := opened(t, url)
		bad := bytes.Clone(file)
		bad[len(bad)-20] ^= 4
		for _, bad := range [][]byte{bad, file[:len(file)*3/4]} {
			if _, err := to.Restore(ctx, bytes.NewReader(bad)); !errors.Is(err, store.ErrBackupDamaged) {
				t.Fatal(err)
			}
			if n, err := to.Revision(ctx); err != nil || n != 0 {
				t.Errorf("the database is at revision %d, %v", n, err)
			}
		}
		_, err := to.Restore(ctx, bytes.NewReader(file)) // which is still empty
		must(t, err)
	})
}

// Rows of what other versions of the schema may bring: numbers that count by themselves, bytes, rows that
// refer to later ones of the same table, names that want quotes. The schema is as before afterwards.
func TestRestoreTakesEveryKindOfTable(t *testing.T) {
	extra := map[string][]string{
		"sqlite": {`CREATE TABLE "odd ""name" (id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, "Parent" INTEGER REFERENCES "odd ""name" (id), body BLOB, share REAL) STRICT`,
			`INSERT INTO "odd ""name" (id, "Parent", body, share) VALUES (1, NULL, NULL, 0.1), (7, 1, X'', 1e300), (3, 7, X'00ff', NULL)`},
		"postgres": {`CREATE TABLE "odd ""name" (id bigint NOT NULL GENERATED ALWAYS AS IDENTITY PRIMARY KEY, "Parent" bigint REFERENCES "odd ""name" (id), body bytea, share double precision)`,
			`INSERT INTO "odd ""name" (id, "Parent", body, share) OVERRIDING SYSTEM VALUE VALUES (1, NULL, NULL, 0.1), (7, 1, '', 1e300), (3, 7, '\x00ff', NULL)`},
	}
	urls := map[string]func(testing.TB) string{"sqlite": storetest.SQLiteURL, "postgres": storetest.PostgresURL}
	for from := range extra {
		for to := range extra {
			t.Run(from+" to "+to, func(t *testing.T) {
				source, target := urls[from](t), urls[to](t)
				a, b := opened(t, source), opened(t, target)
				must(t, a.Migrate(ctx))
				must(t, b.Migrate(ctx))
				for _, statement := range extra[from] {
					_, err := raw(t, source).ExecContext(ctx, statement)
					must(t, err)
				}
				_, err := raw(t, target).ExecContext(ctx, extra[to][0])
				must(t, err)
				filled(t, a)
				before := objects(t, target)
				file, sum := backedUp(t, a)
				_, err = b.Restore(ctx, bytes.NewReader(file))
				must(t, err)
				_, copied := backedUp(t, b)
				if copied.Digest != sum.Digest {
					t.Error("the copy differs")
				}
				equal(t, "schema", before, objects(t, target))
				_, err = raw(t, target).ExecContext(ctx, `INSERT INTO "odd ""name" ("Parent") VALUES (3)`)
				must(t, err)
				equal(t, "the next number", []string{"8"}, lines(t, raw(t, target), `SELECT max(id) FROM "odd ""name"`))
				if _, err := raw(t, target).ExecContext(ctx, `INSERT INTO "odd ""name" ("Parent") VALUES (99)`); err == nil {
					t.Error("references are no longer checked")
				}
			})
		}
	}
}

// A backup of an older version is restored as that version and then brought up; one of a newer program,
// and one that lacks a table, are refused.
func TestRestoreKnowsVersions(t *testing.T) {
	eachEmpty(t, func(t *testing.T, url string) {
		old := opened(t, storetest.SQLiteURL(t))
		must(t, old.MigrateTo(ctx, 3))
		file, sum := backedUp(t, old)
		if sum.Schema != 3 {
			t.Fatalf("%+v", sum)
		}
		for range 2 { // a database without tables, and one that is newer and empty
			to := opened(t, url)
			_, err := to.Restore(ctx, bytes.NewReader(file))
			must(t, err)
			must(t, to.CheckSchema(ctx))
		}
		to := opened(t, url)
		_, err := to.AddToken(ctx, "keeper", access.Token{Member: "ada", Role: access.Admin}, newSecret(t))
		must(t, err)
		if _, err := to.Restore(ctx, bytes.NewReader(file)); !errors.Is(err, store.ErrNotEmpty) {
			t.Errorf("a database with a token: %v", err)
		}
		must(t, to.CheckSchema(ctx)) // it was not taken down

		newer := bytes.ReplaceAll(unzipped(t, file), []byte(`"schema_version":3`), []byte(`"schema_version":900`))
		var behind *store.SchemaError
		if _, err := to.Restore(ctx, bytes.NewReader(zipped(t, newer))); !errors.As(err, &behind) || !strings.Contains(err.Error(), "newer program") {
			t.Errorf("a backup of a newer program: %v", err)
		}
	})
	s := storetest.SQLite(t)
	text := string(unzipped(t, must1(t)(backupOf(s))))
	begin := strings.Index(text, `{"table":"room"`)
	cut := text[:begin] + text[begin+strings.Index(text[begin:], "\n")+1:]
	_, body, _ := strings.Cut(cut, "\n")
	body, _, _ = strings.Cut(body, `{"rows_count"`)
	digest := fmt.Sprintf("%x", sha256.Sum256([]byte(body)))
	cut = regexp.MustCompile(`"content_sha256":"[0-9a-f]+"`).ReplaceAllString(cut, `"content_sha256":"`+digest+`"`)
	if _, err := storetest.SQLite(t).Restore(ctx, bytes.NewReader(zipped(t, []byte(cut)))); err == nil || !strings.Contains(err.Error(), "lacks the tables room") {
		t.Errorf("a backup without a table: %v", err)
	}
}

func backupOf(s *store.Store) ([]byte, error) {
	var b bytes.Buffer
	_, err := s.Backup(ctx, &b)
	return b.Bytes(), err
}

func must1(t testing.TB) func([]byte, error) []byte {
	return func(b []byte, err error) []byte {
		t.Helper()
		must(t, err)
		return b
	}
}

func unzipped(t testing.TB, file []byte) []byte {
	t.Helper()
	r, err := gzip.NewReader(bytes.NewReader(file))
	must(t, err)
	return must1(t)(io.ReadAll(r))
}

func zipped(t testing.TB, text []byte) []byte {
	t.Helper()
	var b bytes.Buffer
	w := gzip.NewWriter(&b)
	_, err := w.Write(text)
	must(t, errors.Join(err, w.Close()))
	first := sha256.Sum256(b.Bytes())
	second := gzip.NewWriter(&b)
	second.Comment = fmt.Sprintf("%x", first)
	must(t, second.Close())
	return b.Bytes()
}
