package main

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/url"
	"strings"
	"time"

	"sabinbook/api"
	"sabinbook/store"
)

type serveCommand struct {
	listen
	OpenReading *bool    `env:"SABINBOOK_OPEN_READING" help:"Whether reading and questions need no token (default: on a loopback address without a proxy)."`
	BehindProxy bool     `env:"SABINBOOK_BEHIND_PROXY" help:"Say that a proxy with TLS stands in front, which tells the address of a client in X-Forwarded-For."`
	RateLimit   int      `env:"SABINBOOK_RATE_LIMIT" default:"600" placeholder:"N" help:"Requests that a token, or an address without one, may send in a minute; 0 for any number (default: ${default})."`
	CORSOrigins []string `name:"cors-origins" env:"SABINBOOK_CORS_ORIGINS" placeholder:"ORIGIN,..." help:"Origins of web pages that may ask from a browser, like https://yard.example (default: none)."`
}

// clearText warns of tokens that anybody on the way can read.
const clearText = "TOKENS CROSS THE NETWORK IN THE CLEAR: whoever listens on the way can write in their members' names. " +
	"Put a proxy with TLS in front and set SABINBOOK_BEHIND_PROXY=true, or serve on a loopback address"

// open is whether reading needs no token. Who reaches a loopback address sits at this machine, unless a
// proxy brings others there.
func (c serveCommand) open(loopback bool) bool {
	if c.OpenReading != nil {
		return *c.OpenReading
	}
	return loopback && !c.BehindProxy
}

// Run serves until the program is told to stop.
func (c serveCommand) Run(p *program) error {
	address, loopback, err := c.address()
	if err != nil {
		return err
	}
	if c.RateLimit < 0 {
		return &configError{"SABINBOOK_RATE_LIMIT (--rate-limit)", errors.New("must be 0 or more")}
	}
	for _, origin := range c.CORSOrigins {
		if u, err := url.Parse(origin); err != nil || u.Scheme != "https" && u.Scheme != "http" || u.Host == "" || u.Path+u.RawQuery+u.Fragment != "" || strings.Contains(origin, "*") {
			return &configError{"SABINBOOK_CORS_ORIGINS (--cors-origins)", errors.New("must be origins such as https://yard.example, with commas between them")}
		}
	}
	db, err := p.openMigrated()
	if err != nil {
		return err
	}
	defer db.Close()
	s, err := p.start(db, address, api.Options{Open: c.open(loopback), PerMinute: c.RateLimit, Proxied: c.BehindProxy, Origins: c.CORSOrigins})
	if err != nil {
		return err
	}
	if !loopback && !c.BehindProxy {
		p.log.Warn(clearText, "address", address)
	}
	if err := p.firstAdmin(db); err != nil {
		return errors.Join(err, s.stop())
	}
	fmt.Fprintln(p.out, s.url)
	return s.wait(p.ctx)
}

// open opens the database of the settings.
func (p *program) open() (*store.Store, error) {
	url, err := p.config.databaseURL()
	if err != nil {
		return nil, err
	}
	db, err := store.Open(p.ctx, url)
	if err != nil {
		return nil, fmt.Errorf("cannot open the database: %w", err)
	}
	return db, nil
}

// openMigrated opens the database of the settings and brings it to the version of this program.
func (p *program) openMigrated() (*store.Store, error) {
	db, err := p.open()
	if err != nil {
		return nil, err
	}
	if err := db.Migrate(p.ctx); err != nil {
		return nil, errors.Join(fmt.Errorf("cannot bring the database to the version of this program: %w", err), db.Close())
	}
	return db, nil
}

// server is a running HTTP service.
type server struct {
	url    string
	http   *http.Server
	drain  func()
	failed chan error
}

// drainTime is how long requests in flight may take once the program is told to stop.
const drainTime = 5 * time.Second

// start listens and serves in the background, with the options that are not the same for all.
func (p *program) start(db *store.Store, address string, options api.Options) (*server, error) {
	options.Now, options.Log, options.Version = time.Now, p.log, version()
	service, err := api.New(db, options)
	if err != nil {
		return nil, err
	}
	l, err := net.Listen("tcp", address)
	if err != nil {
		return nil, &configError{listenSetting, err}
	}
	s := &server{url: "http://" + l.Addr().String(), http: api.HTTPServer(service), drain: service.Drain, failed: make(chan error, 1)}
	go func() {
		if err := s.http.Serve(l); !errors.Is(err, http.ErrServerClosed) {
			s.failed <- err
		}
	}()
	return s, nil
}

// wait serves until ctx is done, then lets requests in flight finish.
func (s *server) wait(ctx context.Context) error {
	select {
	case err := <-s.failed:
		return err
	case <-ctx.Done():
		return s.stop()
	}
}

func (s *server) stop() error {
	s.drain()
	ctx, cancel := context.WithTimeout(context.Background(), drainTime)
	defer cancel()
	if err := s.http.Shutdown(ctx); err != nil {
		return errors.Join(fmt.Errorf("requests did not finish within %s", drainTime), s.http.Close())
	}
	return nil
}
