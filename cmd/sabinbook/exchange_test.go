package main

import (
	"context"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// served starts the service on a database and returns its address.
func served(t *testing.T, database string) string {
	t.Helper()
	ctx, stop := context.WithCancel(context.Background())
	var out pipe
	ended := make(chan int, 1)
	go func() {
		ended <- run(ctx, []string{"serve", "--listen", "127.0.0.1:0", "--database-url", database}, &out, io.Discard)
	}()
	t.Cleanup(func() {
		stop()
		<-ended
	})
	for deadline := time.Now().Add(10 * time.Second); !strings.HasSuffix(out.String(), "\n"); time.Sleep(10 * time.Millisecond) {
		if time.Now().After(deadline) {
			t.Fatal("no address")
		}
	}
	return strings.TrimSpace(out.String())
}

// A catalog goes from one service to another by two commands, and back without a change.
func TestCatalogGoesFromServiceToService(t *testing.T) {
	folder := t.TempDir()
	full := "sqlite:" + filepath.Join(folder, "full.db")
	if code, _, errs := call(t, "--database-url", full, "seed"); code != 0 {
		t.Fatal(errs)
	}
	empty := "sqlite:" + filepath.Join(folder, "empty.db")
	curator := func(database string) string {
		code, out, errs := call(t, "--database-url", database, "token", "add", "Ada", "--role", "curator")
		if code != 0 {
			t.Fatal(errs)
		}
		return strings.TrimSpace(out)
	}
	here, there := curator(full), curator(empty)
	from, to := served(t, full), served(t, empty)
	first, second := filepath.Join(folder, "first.zip"), filepath.Join(folder, "second.zip")
	if code, out, errs := call(t, "export", first, "--server", from, "--token", here); code != 0 || !strings.Contains(out, "SHA-256") {
		t.Fatalf("exit code %d: %s%s", code, out, errs)
	}
	if code, out, errs := call(t, "import", first, "--server", to, "--token", there); code != 0 || !strings.Contains(out, "created   fill ") || strings.Contains(out, "Done") {
		t.Fatalf("exit code %d: %.300s%s", code, out, errs)
	}
	if code, out, errs := call(t, "import", first, "--apply", "--server", to, "--token", there); code != 0 || !strings.Contains(out, "Done") {
		t.Fatalf("exit code %d: %.300s%s", code, out, errs)
	}
	if code, _, errs := call(t, "export", second, "--server", to, "--token", there); code != 0 {
		t.Fatal(errs)
	}
	if code, out, errs := call(t, "import", second, "--apply", "--server", from, "--token", here); code != 0 || !strings.HasPrefix(out, "0 created, 0 updated") {
		t.Fatalf("exit code %d: %.300s%s", code, out, errs)
	}
	if err := os.WriteFile(second, []byte("PK"), 0o600); err != nil {
		t.Fatal(err)
	}
	if code, _, errs := call(t, "import", second, "--server", from, "--token", here); code != 1 || !strings.Contains(errs, "cut off") {
		t.Errorf("exit code %d: %s", code, errs)
	}
	if code, _, errs := call(t, "export", second, "--server", "nowhere"); code != 2 || !strings.Contains(errs, "SABINBOOK_SERVER") {
		t.Errorf("exit code %d: %s", code, errs)
	}
}
