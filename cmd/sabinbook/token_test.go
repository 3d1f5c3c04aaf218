package main

import (
	"net/http"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"sabinbook/internal/access"
)

var tokenForm = regexp.MustCompile(access.Prefix + `[a-z2-7]{39}`)

const anySource = `{"slug":"walk","name":"Walk","citation":"c","licence":"l","evidence":"declared"}`

// The first start on a database makes a token and shows it once; it opens what needs one.
func TestFirstStartShowsOneToken(t *testing.T) {
	db := "sqlite:" + filepath.Join(t.TempDir(), "c.db")
	url, errs, stop := serving(t, "--listen", "127.0.0.1:0", "--database-url", db)
	found := tokenForm.FindAllString(errs.String(), -1)
	if len(found) != 1 || !strings.Contains(errs.String(), "export SABINBOOK_TOKEN="+found[0]) {
		t.Fatalf("%v in %s", found, errs)
	}
	if got := status(t, http.MethodPost, url+"/v1/sources", anySource, ""); got != http.StatusUnauthorized {
		t.Errorf("writing without a token: %d", got)
	}
	if got := status(t, http.MethodPost, url+"/v1/sources", anySource, found[0]); got != http.StatusCreated {
		t.Errorf("writing with the token: %d", got)
	}
	if got := status(t, http.MethodGet, url+"/v1/tokens", "", found[0]); got != http.StatusOK {
		t.Errorf("the token is no admin's: %d", got)
	}
	stop()
	if n := len(tokenForm.FindAllString(errs.String(), -1)); n != 1 {
		t.Errorf("the token is shown %d times: %s", n, errs)
	}
	_, errs, stop = serving(t, "--listen", "127.0.0.1:0", "--database-url", db)
	stop()
	if tokenForm.MatchString(errs.String()) {
		t.Errorf("the second start shows a token: %s", errs)
	}
}

// Reading is open on a loopback address alone, unless a setting says otherwise, and tokens in clear
// text are warned of.
func TestWhoMayRead(t *testing.T) {
	for _, c := range []struct {
		args []string
		want int
		warn bool
	}{
		{[]string{"--listen", "127.0.0.1:0"}, 200, false},
		{[]string{"--listen", "127.0.0.1:0", "--open-reading=false"}, 401, false},
		{[]string{"--listen", "127.0.0.1:0", "--behind-proxy"}, 401, false},
		{[]string{"--listen", "127.0.0.1:0", "--behind-proxy", "--open-reading=true"}, 200, false},
		{[]string{"--listen", "0.0.0.0:0"}, 401, true},
		{[]string{"--listen", ":0"}, 401, true},
		{[]string{"--listen", "0.0.0.0:0", "--open-reading=true"}, 200, true},
		{[]string{"--listen", "0.0.0.0:0", "--behind-proxy"}, 401, false},
	} {
		url, errs, stop := serving(t, append(c.args, "--database-url", "sqlite:"+filepath.Join(t.TempDir(), "c.db"))...)
		if got := status(t, http.MethodGet, url+"/v1/fills", "", ""); got != c.want {
			t.Errorf("%v: reading without a token: %d, want %d", c.args, got, c.want)
		}
		if got := status(t, http.MethodPost, url+"/v1/sources", anySource, ""); got != http.StatusUnauthorized {
			t.Errorf("%v: writing without a token: %d", c.args, got)
		}
		stop()
		if strings.Contains(errs.String(), "IN THE CLEAR") != c.warn {
			t.Errorf("%v: %s", c.args, errs)
		}
	}
}

func TestSettingsOfReadingComeFromTheEnvironment(t *testing.T) {
	t.Setenv("SABINBOOK_OPEN_READING", "true")
	t.Setenv("SABINBOOK_BEHIND_PROXY", "true")
	t.Setenv("SABINBOOK_LISTEN", "0.0.0.0:0")
	t.Setenv("SABINBOOK_DATABASE_URL", "sqlite:"+filepath.Join(t.TempDir(), "c.db"))
	url, errs, stop := serving(t)
	if got := status(t, http.MethodGet, url+"/v1/fills", "", ""); got != http.StatusOK {
		t.Error(got)
	}
	stop()
	if strings.Contains(errs.String(), "IN THE CLEAR") {
		t.Error(errs)
	}
}

// A keeper who lost the token makes, lists and ends tokens in the database itself, beside a running
// service.
func TestTokensByTheKeeper(t *testing.T) {
	db := "sqlite:" + filepath.Join(t.TempDir(), "c.db")
	url, _, stop := serving(t, "--listen", "127.0.0.1:0", "--database-url", db)
	defer stop()
	code, out, errs := call(t, "--database-url", db, "token", "add", "Ada of Lantern Yard", "--role", "contributor", "--scopes", "read,catalog", "--expires", "2199-11-02T00:00:00Z")
	token := strings.TrimSpace(out)
	if code != 0 || !tokenForm.MatchString(token) || token != tokenForm.FindString(token) || tokenForm.MatchString(errs) || !strings.Contains(errs, "Ada of Lantern Yard") {
		t.Fatalf("exit code %d: %q, %s", code, out, errs)
	}
	if got := status(t, http.MethodPost, url+"/v1/sources", anySource, token); got != http.StatusCreated {
		t.Errorf("the token opens nothing: %d", got)
	}
	code, out, _ = call(t, "--database-url", db, "token", "list")
	id := regexp.MustCompile(`(?m)^(token_\S+) +` + token[len(token)-4:] + ` +Ada of Lantern Yard +contributor +read,catalog +\S+ +good until 2199-11-02T00:00:00Z$`).FindStringSubmatch(out)
	if code != 0 || id == nil || tokenForm.MatchString(out) || strings.Count(out, "\n") != 3 {
		t.Fatalf("exit code %d: %s", code, out)
	}
	if code, out, _ := call(t, "--database-url", db, "token", "revoke", id[1]); code != 0 || !strings.Contains(out, "has ended") {
		t.Errorf("exit code %d: %s", code, out)
	}
	if got := status(t, http.MethodGet, url+"/v1/fills", "", token); got != http.StatusUnauthorized {
		t.Errorf("the ended token still opens: %d", got)
	}
	if _, out, _ := call(t, "--database-url", db, "token", "list"); !strings.Contains(out, "revoked 2") {
		t.Error(out)
	}
	if code, _, errs := call(t, "--database-url", db, "token", "revoke", "token_none"); code != 1 || !strings.Contains(errs, "token list") {
		t.Errorf("exit code %d: %s", code, errs)
	}
}
