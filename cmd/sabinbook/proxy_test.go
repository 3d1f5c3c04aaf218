package main

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"io"
	"math/big"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"
)

// certificate writes a key and a certificate of this machine into a folder, and returns who trusts it.
func certificate(t *testing.T, folder, name string) (cert, key string, trust *x509.CertPool) {
	t.Helper()
	private, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	template := &x509.Certificate{SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: name}, DNSNames: []string{name},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour), IsCA: true, BasicConstraintsValid: true}
	public, err := x509.CreateCertificate(rand.Reader, template, template, private.Public(), private)
	if err != nil {
		t.Fatal(err)
	}
	secret, err := x509.MarshalPKCS8PrivateKey(private)
	if err != nil {
		t.Fatal(err)
	}
	cert, key, trust = filepath.Join(folder, "cert.pem"), filepath.Join(folder, "key.pem"), x509.NewCertPool()
	text := pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: public})
	trust.AppendCertsFromPEM(text)
	if err := errors.Join(os.WriteFile(cert, text, 0o600),
		os.WriteFile(key, pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: secret}), 0o600)); err != nil {
		t.Fatal(err)
	}
	return cert, key, trust
}

func freePort(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	_, port, err := net.SplitHostPort(l.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	return port
}

// The example of a proxy works as it stands, but for addresses and paths: TLS in front, no token without
// it, and limits that count for the address that nginx saw, whatever the client claims.
func TestReverseProxyExample(t *testing.T) {
	nginx, err := exec.LookPath("nginx")
	if err != nil {
		if os.Getenv("SABINBOOK_TEST_REQUIRE_PROGRAMS") == "1" {
			t.Fatal(err)
		}
		t.Skip("no nginx here to run the example with")
	}
	folder := t.TempDir()
	url, errs, stop := serving(t, "--listen", "127.0.0.1:0", "--behind-proxy", "--rate-limit", "30", "--database-url", "sqlite:"+filepath.Join(folder, "c.db"))
	defer stop()
	const name = "book.yard.example"
	cert, key, trust := certificate(t, folder, name)
	plain, secure := freePort(t), freePort(t)
	text, err := os.ReadFile(filepath.Join("..", "..", "deploy", "reverse-proxy.nginx.conf"))
	if err != nil {
		t.Fatal(err)
	}
	conf := string(text)
	for _, change := range [][2]string{{"127.0.0.1:8080;", strings.TrimPrefix(url, "http://") + ";"}, {"listen [::]:80;", ""}, {"listen [::]:443 ssl http2;", ""},
		{"listen 80;", "listen 127.0.0.1:" + plain + ";"}, {"listen 443 ssl http2;", "listen 127.0.0.1:" + secure + " ssl http2;"},
		{"/etc/ssl/book.yard.example.pem", cert}, {"/etc/ssl/private/book.yard.example.key", key}} {
		if !strings.Contains(conf, change[0]) {
			t.Fatalf("the example has no %q", change[0])
		}
		conf = strings.Replace(conf, change[0], change[1], 1)
	}
	main := filepath.Join(folder, "nginx.conf")
	whole := fmt.Sprintf("daemon off; master_process off; pid %[1]s/pid; error_log stderr; events {}\nhttp {\naccess_log off;\nclient_body_temp_path %[1]s/body; proxy_temp_path %[1]s/proxy; fastcgi_temp_path %[1]s/f; uwsgi_temp_path %[1]s/u; scgi_temp_path %[1]s/s;\n%[2]s\n}\n", folder, conf)
	if err := os.WriteFile(main, []byte(whole), 0o600); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(nginx, "-p", folder, "-e", "stderr", "-c", main)
	var said pipe
	cmd.Stderr = &said
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	defer func() {
		cmd.Process.Signal(syscall.SIGQUIT)
		cmd.Wait()
	}()
	client := &http.Client{Timeout: 30 * time.Second, Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: trust, ServerName: name}, ForceAttemptHTTP2: true}}
	ask := func(method, at, path, body string, header ...string) (*http.Response, string) {
		t.Helper()
		r, err := http.NewRequest(method, at+path, strings.NewReader(body))
		if err != nil {
			t.Fatal(err)
		}
		r.Host = name
		for i := 0; i+1 < len(header); i += 2 {
			r.Header.Set(header[i], header[i+1])
		}
		answer, err := client.Do(r)
		for end := time.Now().Add(20 * time.Second); err != nil && errors.Is(err, syscall.ECONNREFUSED) && time.Now().Before(end); {
			time.Sleep(50 * time.Millisecond) // it is starting
			answer, err = client.Do(r)
		}
		if err != nil {
			t.Fatalf("%v: %s", err, said.String())
		}
		defer answer.Body.Close()
		text, err := io.ReadAll(answer.Body)
		if err != nil {
			t.Fatal(err)
		}
		return answer, string(text)
	}
	https := "https://127.0.0.1:" + secure
	if r, body := ask(http.MethodGet, https, "/readyz", ""); r.StatusCode != http.StatusOK || r.ProtoMajor != 2 || r.Header.Get("Strict-Transport-Security") == "" {
		t.Errorf("%d %s: %s", r.StatusCode, r.Proto, body)
	}
	if r, body := ask(http.MethodGet, "http://127.0.0.1:"+plain, "/v1/fills", ""); r.StatusCode != http.StatusForbidden || !strings.Contains(body, "https") {
		t.Errorf("without TLS: %d %s", r.StatusCode, body)
	}
	if r, _ := ask(http.MethodGet, https, "/v1/fills", ""); r.StatusCode != http.StatusUnauthorized {
		t.Errorf("without a token: %d", r.StatusCode)
	}
	token := regexp.MustCompile(`export SABINBOOK_TOKEN=(\S+)`).FindStringSubmatch(errs.String())
	if token == nil {
		t.Fatal(errs)
	}
	if r, body := ask(http.MethodPost, https, "/v1/absorption-estimates/batch", strings.Repeat(`{"layers":[{"kind":"air_gap","depth_mm":50}]}`+"\n", 3),
		"Authorization", "Bearer "+token[1], "Content-Type", "application/x-ndjson"); r.StatusCode != http.StatusOK || strings.Count(body, "\n") < 3 {
		t.Errorf("a batch: %d %s", r.StatusCode, body)
	}
	limited := false
	for i := range 60 { // another address each time, as the client claims
		r, _ := ask(http.MethodGet, https, "/v1/fills", "", "X-Forwarded-For", fmt.Sprintf("203.0.113.%d", i))
		limited = limited || r.StatusCode == http.StatusTooManyRequests
	}
	if !limited {
		t.Error("a client that claims many addresses is not limited")
	}
}
