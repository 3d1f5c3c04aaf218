package main

import (
	"context"
	"net"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"sabinbook/store/storetest"
)

func TestHealthcheckTellsWhetherTheServiceIsReady(t *testing.T) {
	db := "sqlite:" + filepath.Join(t.TempDir(), "c.db")
	address, _, stop := serving(t, "--listen", "127.0.0.1:0", "--database-url", db)
	_, port, _ := net.SplitHostPort(strings.TrimPrefix(address, "http://"))
	for _, listen := range []string{"127.0.0.1:" + port, "0.0.0.0:" + port, ":" + port, "localhost:" + port} {
		if code, out, errs := call(t, "healthcheck", "--listen", listen); code != 0 || !strings.Contains(out, "ready") {
			t.Errorf("%s: exit code %d: %s%s", listen, code, out, errs)
		}
	}
	if code, out, _ := call(t, "healthcheck", "--live", "--listen", "127.0.0.1:"+port); code != 0 || !strings.Contains(out, release) {
		t.Errorf("exit code %d: %s", code, out)
	}
	stop()
	if code, _, errs := call(t, "healthcheck", "--listen", "127.0.0.1:"+port); code != 1 || !strings.Contains(errs, "does not answer") {
		t.Errorf("without a service: exit code %d, %s", code, errs)
	}
	if got := reachable("[::]:80"); got != "[::1]:80" {
		t.Error(got)
	}
}

func TestPasswordComesFromAFile(t *testing.T) {
	folder := t.TempDir()
	file, empty := filepath.Join(folder, "password"), filepath.Join(folder, "empty")
	for name, text := range map[string]string{file: "p@ss/w:rd %41\n", empty: "\n"} {
		if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	got, err := config{DatabaseURL: "postgres://ada@db.yard.example:5433/book?sslmode=require", PasswordFile: file}.databaseURL()
	if err != nil {
		t.Fatal(err)
	}
	u, err := url.Parse(got)
	if err != nil {
		t.Fatal(err)
	}
	if password, _ := u.User.Password(); password != "p@ss/w:rd %41" || u.User.Username() != "ada" || u.Host != "db.yard.example:5433" || u.RawQuery != "sslmode=require" {
		t.Error(got)
	}
	for _, c := range []config{
		{DatabaseURL: "postgres://ada:hush@db/book", PasswordFile: file},
		{DatabaseURL: "postgres://ada@db/book", PasswordFile: empty},
		{DatabaseURL: "postgres://ada@db/book", PasswordFile: filepath.Join(folder, "none")},
		{DatabaseURL: "postgres://ada:hush@ d b/%", PasswordFile: file},
		{DatabaseURL: "sqlite:c.db", PasswordFile: file},
	} {
		if _, err := c.databaseURL(); err == nil || strings.Contains(err.Error(), "hush") || !strings.Contains(err.Error(), "SABINBOOK_DATABASE_PASSWORD_FILE") {
			t.Errorf("%s: %v", c.DatabaseURL, err)
		}
	}
}

func TestBackupRestoreAndMove(t *testing.T) {
	folder := t.TempDir()
	first, file := "sqlite:"+filepath.Join(folder, "first.db"), filepath.Join(folder, "first.backup")
	good := func(args ...string) string {
		t.Helper()
		code, out, errs := call(t, args...)
		if code != 0 {
			t.Fatalf("%v: exit code %d: %s%s", args, code, out, errs)
		}
		return out
	}
	good("--database-url", first, "seed")
	good("--database-url", first, "token", "add", "Ada", "--role", "admin")
	written := good("--database-url", first, "backup", file)
	if checked := good("backup", "--check", file); checked != written || !strings.Contains(checked, "digest ") {
		t.Errorf("%s, then %s", written, checked)
	}
	if info, err := os.Stat(file); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("%v, %v: others may read the hashes of tokens", info.Mode(), err)
	}
	for _, target := range []string{storetest.EmptyPostgresURL(t), "sqlite:" + filepath.Join(folder, "second.db")} {
		good("--database-url", target, "restore", file)
		if out := good("--database-url", target, "token", "list"); !strings.Contains(out, "Ada") {
			t.Error(out)
		}
		if code, _, errs := call(t, "--database-url", target, "restore", file); code != 1 || !strings.Contains(errs, "Nothing was changed") {
			t.Errorf("over a catalog: exit code %d, %s", code, errs)
		}
	}
	postgres, third := storetest.EmptyPostgresURL(t), "sqlite:"+filepath.Join(folder, "third.db")
	for _, step := range [][2]string{{first, postgres}, {postgres, third}} {
		if out := good("--database-url", step[0], "move", step[1]); !strings.Contains(out, "The two are equal") {
			t.Error(out)
		}
	}
	if again := good("--database-url", third, "backup", filepath.Join(folder, "third.backup")); !strings.HasSuffix(again, written[strings.Index(written, "digest "):]) {
		t.Errorf("%s after %s", again, written)
	}
	if code, _, errs := call(t, "--database-url", first, "move", third); code != 1 || !strings.Contains(errs, "not empty") {
		t.Errorf("over a catalog: exit code %d, %s", code, errs)
	}

	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	text[len(text)/2] ^= 1
	if err := os.WriteFile(file, text, 0o600); err != nil {
		t.Fatal(err)
	}
	untouched := filepath.Join(folder, "untouched.db")
	for _, args := range [][]string{{"backup", "--check", file}, {"--database-url", "sqlite:" + untouched, "restore", file}} {
		if code, _, errs := call(t, args...); code != 1 || !strings.Contains(errs, "damaged") {
			t.Errorf("%v: exit code %d, %s", args, code, errs)
		}
	}
	if _, err := os.Stat(untouched); err == nil {
		t.Error("a damaged backup makes a database")
	}
	for _, args := range [][]string{{"backup", "--every", "1s", folder}, {"backup", "--keep=0", file}, {"backup", "--check", "--every", "24h", folder}, {"move", "mysql://x"}} {
		if code, _, errs := call(t, args...); code != 2 {
			t.Errorf("%v: exit code %d, %s", args, code, errs)
		}
	}
}

// A backup that is killed, at any moment, leaves nothing under the final name, or the whole.
func TestKilledBackupLeavesNothingUnderItsName(t *testing.T) {
	folder := t.TempDir()
	db := "sqlite:" + filepath.Join(folder, "c.db")
	if code, _, errs := call(t, "--database-url", db, "seed"); code != 0 {
		t.Fatal(errs)
	}
	file := filepath.Join(folder, "c.backup")
	parts, whole := 0, 0
	for wait := time.Duration(0); wait < 30*time.Second && whole < 3; wait += 15*time.Millisecond + wait/8 {
		cmd := ownProcess("--database-url", db, "backup", file)
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(wait)
		cmd.Process.Signal(syscall.SIGKILL) // which may have ended already
		cmd.Wait()
		if _, err := os.Stat(file); err == nil {
			whole++
			if code, _, errs := call(t, "backup", "--check", file); code != 0 {
				t.Fatalf("after %v: %s", wait, errs)
			}
			if err := os.Remove(file); err != nil {
				t.Fatal(err)
			}
		}
		left, err := filepath.Glob(file + ".*.part")
		if err != nil {
			t.Fatal(err)
		}
		parts += len(left)
		for _, f := range left {
			os.Remove(f)
		}
	}
	if whole == 0 {
		t.Error("no backup was left in peace long enough")
	}
	t.Logf("%d were killed while they wrote, %d were whole", parts, whole)
}

func TestBackupsAreRepeatedAndOldOnesGo(t *testing.T) {
	folder := t.TempDir()
	db := "sqlite:" + filepath.Join(folder, "c.db")
	if code, _, errs := call(t, "--database-url", db, "seed"); code != 0 {
		t.Fatal(errs)
	}
	kept := filepath.Join(folder, "kept")
	if err := os.Mkdir(kept, 0o700); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"sabinbook-20251101T000000Z.backup", "sabinbook-20251102T000000Z.backup", "sabinbook-20251103T000000Z.backup", "sabinbook-20251104T000000Z.backup.1.part", "notes"} {
		if err := os.WriteFile(filepath.Join(kept, name), nil, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	var out, errs pipe
	ended := make(chan int, 1)
	go func() {
		ended <- run(ctx, []string{"--database-url", db, "backup", "--every", "24h", "--keep", "2", kept}, &out, &errs)
	}()
	deadline := time.Now().Add(time.Minute)
	var names []string
	for time.Now().Before(deadline) {
		names = nil
		files, err := os.ReadDir(kept)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range files {
			names = append(names, f.Name())
		}
		if len(names) == 3 {
			break
		}
		time.Sleep(20 * time.Millisecond)
	}
	cancel()
	if code := <-ended; code != 0 {
		t.Errorf("exit code %d: %s", code, errs.String())
	}
	if len(names) != 3 || names[0] != "notes" || names[1] != "sabinbook-20251103T000000Z.backup" {
		t.Fatal(names)
	}
	if code, _, errs := call(t, "backup", "--check", filepath.Join(kept, names[2])); code != 0 {
		t.Error(errs)
	}
	c := backupCommand{File: kept, Every: 24 * time.Hour}
	if wait, err := c.next(time.Now()); err != nil || wait < 23*time.Hour || wait > 24*time.Hour {
		t.Errorf("the next one is due in %v, %v", wait, err)
	}
	if !strings.Contains(errs.String(), `"msg":"backup"`) {
		t.Error(errs.String())
	}
}
