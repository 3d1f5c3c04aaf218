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
	Metrics     string   `name:"metrics-listen" env:"SABINBOOK_METRICS_LISTEN" placeholder:"ADDRESS" help:"Address on which to serve /metrics for Prometheus, to whoever reaches it (default: nowhere)."`
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
	var metrics string
	if c.Metrics != "" {
		if metrics, _, err = addressOf(metricsSetting, c.Metrics); err != nil {
			return err
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
	if c.Metrics != "" {
		if err := s.showMetrics(metrics); err != nil {
			return errors.Join(err, s.stop())
		}
		p.log.Info("metrics", "url", s.metricsURL)
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
	url, metricsURL string
	http            *http.Server
	metrics         *http.Server // nil while nobody may see them
	service         *api.Server
	failed          chan error
}

// drainTime is how long requests in flight may take once the program is told to stop.
const drainTime = 5 * time.Second

// start listens and serves in the background, with the options that are not the same for all.
func (p *program) start(db *store.Store, address string, options api.Options) (*server, error) {
	options.Now, options.Log, options.Version, options.Pools = time.Now, p.log, version(), poolsOf(db)
	service, err := api.New(db, options)
	if err != nil {
		return nil, err
	}
	l, err := net.Listen("tcp", address)
	if err != nil {
		return nil, &configError{listenSetting, err}
	}
	s := &server{url: "http://" + l.Addr().String(), http: api.HTTPServer(service), service: service, failed: make(chan error, 2)}
	s.serve(s.http, l)
	return s, nil
}

// serve serves in the background.
func (s *server) serve(h *http.Server, l net.Listener) {
	go func() {
		if err := h.Serve(l); !errors.Is(err, http.ErrServerClosed) {
			s.failed <- err
		}
	}()
}

// metricsSetting is the name of the setting of the address of the figures.
const metricsSetting = "SABINBOOK_METRICS_LISTEN (--metrics-listen)"

// showMetrics serves the figures on an address of their own.
func (s *server) showMetrics(address string) error {
	l, err := net.Listen("tcp", address)
	if err != nil {
		return &configError{metricsSetting, err}
	}
	s.metricsURL = "http://" + l.Addr().String() + "/metrics"
	s.metrics = api.HTTPServer(s.service.Metrics())
	s.serve(s.metrics, l)
	return nil
}

// poolsOf tells the service of the connections of a store.
func poolsOf(db *store.Store) func() []api.Pool {
	return func() []api.Pool {
		var pools []api.Pool
		for _, p := range db.Pools() {
			pools = append(pools, api.Pool{Name: p.Name, Open: p.Stats.OpenConnections, InUse: p.Stats.InUse, Most: p.Stats.MaxOpenConnections,
				Waits: p.Stats.WaitCount, Waited: p.Stats.WaitDuration})
		}
		return pools
	}
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
	s.service.Drain()
	ctx, cancel := context.WithTimeout(context.Background(), drainTime)
	defer cancel()
	err := s.http.Shutdown(ctx)
	if err != nil {
		err = errors.Join(fmt.Errorf("requests did not finish within %s", drainTime), s.http.Close())
	}
	if s.metrics != nil { // to the end, so that the last requests are seen
		err = errors.Join(err, s.metrics.Close())
	}
	return err
}
