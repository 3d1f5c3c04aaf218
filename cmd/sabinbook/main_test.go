package main

import (
	"bytes"
	"context"
	"io"
	"net"
	"net/http"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"
	"unicode/utf8"
)

// call runs the program to its end.
func call(t *testing.T, args ...string) (code int, out, errs string) {
	t.Helper()
	var o, e bytes.Buffer
	code = run(t.Context(), args, &o, &e)
	return code, o.String(), e.String()
}

func TestDemoRanksTheSeedAndSaysTheSameTwice(t *testing.T) {
	code, first, errs := call(t, "demo", "--once")
	if code != 0 {
		t.Fatalf("exit code %d: %s", code, errs)
	}
	if _, second, _ := call(t, "demo", "--once"); second != first {
		t.Error("two runs differ on standard output")
	}
	rows := regexp.MustCompile(`(?m)^ *[0-9]+ .* [0-9]x[0-9]+ .*(meas|adap|pred|esti)`).FindAllString(first, -1)
	if len(rows) < 15 {
		t.Errorf("%d options, want at least 15", len(rows))
	}
	for _, line := range strings.Split(first, "\n") {
		if n := utf8.RuneCountInString(line); n > width {
			t.Errorf("%d columns: %s", n, line)
		}
	}
	for _, part := range []string{"open window", "measured:", "predicted:", "In short", "Buy ", "It does ", "It doesn't ", "Wear ", "Hang ", "Where these panels do little", "In the rehearsal room", "What to buy for place 1", "What to hang place 1 on", "drill ", "Left out", "Cautions", "do not stop sound", "invented"} {
		if !strings.Contains(first, part) {
			t.Errorf("the answer says nothing of %q", part)
		}
	}
	if !strings.Contains(errs, "curl -s http://127.0.0.1:") {
		t.Errorf("no curl line on standard error: %s", errs)
	}
	if strings.Contains(first, "http://") {
		t.Error("the address changes from run to run and must not be on standard output")
	}
}

func TestBadSettingsEndWithTwoAndHideTheValue(t *testing.T) {
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer taken.Close()
	db := "sqlite:" + filepath.Join(t.TempDir(), "c.db")
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"serve", "--listen", "quillhaven.example:80"}, "IP address"},
		{[]string{"demo", "--once", "--listen", "0.0.0.0:8080"}, "SABINBOOK_LISTEN"},
		{[]string{"serve", "--listen", "nowhere"}, "HOST:PORT"},
		{[]string{"demo", "--once", "--listen", ":8080"}, "loopback"},
		{[]string{"serve", "--database-url", "mysql://root:hush@db/x"}, "SABINBOOK_DATABASE_URL"},
		{[]string{"serve", "--database-url", db, "--listen", taken.Addr().String()}, "SABINBOOK_LISTEN"},
		{[]string{"serve", "--open-reading=perhaps"}, "open-reading"},
		{[]string{"token", "add", "ada", "--role", "keeper", "--database-url", db}, "curator"},
		{[]string{"token", "add", "seed", "--role", "reader", "--database-url", db}, "another name"},
		{[]string{"token", "add", "ada", "--database-url", db}, "--role"},
		{[]string{"serve", "--rate-limit=-1"}, "SABINBOOK_RATE_LIMIT"},
		{[]string{"serve", "--cors-origins", "https://yard.example/page"}, "SABINBOOK_CORS_ORIGINS"},
		{[]string{"serve", "--cors-origins", "*"}, "SABINBOOK_CORS_ORIGINS"},
		{[]string{"serve", "--colour"}, "--colour"},
		{[]string{"paint"}, "paint"},
	} {
		code, _, errs := call(t, c.args...)
		if code != 2 || !strings.Contains(errs, c.want) || strings.Contains(errs, "hush") {
			t.Errorf("%v: exit code %d, %s", c.args, code, errs)
		}
	}
}

func TestHelpIsNoMistake(t *testing.T) {
	if code, out, _ := call(t, "--help"); code != 0 || !strings.Contains(out, "demo") {
		t.Errorf("exit code %d: %s", code, out)
	}
}

func TestSeedIsOnlyForAnEmptyDatabase(t *testing.T) {
	db := "sqlite:" + filepath.Join(t.TempDir(), "c.db")
	if code, out, errs := call(t, "--database-url", db, "seed"); code != 0 || !strings.Contains(out, "invented") {
		t.Fatalf("exit code %d: %s%s", code, out, errs)
	}
	if code, _, errs := call(t, "--database-url", db, "seed"); code != 1 || !strings.Contains(errs, "Nothing was changed") {
		t.Errorf("seeding twice: exit code %d, %s", code, errs)
	}
	if code, out, errs := call(t, "--database-url", db, "seed", "--if-empty"); code != 0 || !strings.Contains(out, "Nothing was changed") {
		t.Errorf("seeding twice where that is no mistake: exit code %d, %s%s", code, out, errs)
	}
	if code, out, _ := call(t, "--database-url", db, "migrate", "--version"); code != 0 || !strings.HasPrefix(out, "version ") {
		t.Errorf("version: exit code %d, %s", code, out)
	}
	if code, out, _ := call(t, "--database-url", db, "migrate", "--to", "0"); code != 0 || out != "version 0\n" {
		t.Errorf("down: exit code %d, %q", code, out)
	}
}

// pipe hands over what one goroutine writes and another reads.
type pipe struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (p *pipe) Write(b []byte) (int, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.text.Write(b)
}

func (p *pipe) String() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.text.String()
}

// serving runs serve until the test stops it, and returns its address and what it has written to
// standard error.
func serving(t *testing.T, args ...string) (url string, errs *pipe, stop func()) {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	var out pipe
	errs = new(pipe)
	ended := make(chan int, 1)
	go func() { ended <- run(ctx, append([]string{"serve"}, args...), &out, errs) }()
	deadline := time.Now().Add(10 * time.Second)
	for !strings.HasSuffix(out.String(), "\n") {
		if time.Now().After(deadline) {
			t.Fatal("no address: ", errs)
		}
		time.Sleep(10 * time.Millisecond)
	}
	return strings.TrimSpace(out.String()), errs, func() {
		t.Helper()
		cancel()
		select {
		case code := <-ended:
			if code != 0 {
				t.Errorf("exit code %d", code)
			}
		case <-time.After(10 * time.Second):
			t.Fatal("the server does not stop")
		}
	}
}

// status sends a request, with a token unless it is empty.
func status(t *testing.T, method, url, body, token string) int {
	t.Helper()
	req, err := http.NewRequestWithContext(t.Context(), method, url, strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	if body != "" {
		req.Header.Set("Content-Type", "application/json")
	}
	if token != "" {
		req.Header.Set("Authorization", "Bearer "+token)
	}
	r, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	r.Body.Close()
	return r.StatusCode
}

func TestServePrintsItsAddressAnswersAndStops(t *testing.T) {
	url, _, stop := serving(t, "--listen", "127.0.0.1:0", "--database-url", "sqlite:"+filepath.Join(t.TempDir(), "c.db"))
	for _, path := range []string{"/healthz", "/readyz", "/openapi.json", "/v1/fills"} {
		if got := status(t, http.MethodGet, url+path, "", ""); got != http.StatusOK {
			t.Errorf("%s: %d", path, got)
		}
	}
	stop()
}

// The figures have an address of their own, and none unless it is asked for.
func TestServeShowsMetricsWhereItIsTold(t *testing.T) {
	db := "sqlite:" + filepath.Join(t.TempDir(), "c.db")
	url, errs, stop := serving(t, "--listen", "127.0.0.1:0", "--metrics-listen", "127.0.0.1:0", "--database-url", db)
	at := regexp.MustCompile(`"msg":"metrics","url":"([^"]+)"`).FindStringSubmatch(errs.String())
	if at == nil {
		t.Fatal(errs)
	}
	r, err := http.Get(at[1])
	if err != nil {
		t.Fatal(err)
	}
	body, err := io.ReadAll(r.Body)
	r.Body.Close()
	if err != nil || r.StatusCode != http.StatusOK || !strings.Contains(string(body), `sabinbook_pool_connections_limit{pool="read"} 10`) {
		t.Errorf("%d, %v: %s", r.StatusCode, err, body)
	}
	if got := status(t, http.MethodGet, url+"/metrics", "", ""); got != http.StatusNotFound {
		t.Errorf("the service itself answers %d", got)
	}
	stop()
	if _, err := http.Get(at[1]); err == nil {
		t.Error("the figures outlive the service")
	}
	if code, _, errs := call(t, "serve", "--listen", "127.0.0.1:0", "--metrics-listen", "somewhere", "--database-url", db); code != 2 || !strings.Contains(errs, "SABINBOOK_METRICS_LISTEN") {
		t.Errorf("exit code %d, %s", code, errs)
	}
}
