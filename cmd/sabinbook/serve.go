package main

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"time"

	"sabinbook/api"
	"sabinbook/store"
)

type serveCommand struct{ listen }

// Run serves until the program is told to stop.
func (c serveCommand) Run(p *program) error {
	address, err := c.address()
	if err != nil {
		return err
	}
	db, err := p.open()
	if err != nil {
		return err
	}
	defer db.Close()
	if err := db.Migrate(p.ctx); err != nil {
		return fmt.Errorf("cannot bring the database to the version of this program: %w", err)
	}
	s, err := p.start(db, address)
	if err != nil {
		return err
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

// server is a running HTTP service.
type server struct {
	url    string
	http   *http.Server
	drain  func()
	failed chan error
}

// drainTime is how long requests in flight may take once the program is told to stop.
const drainTime = 5 * time.Second

// start listens and serves in the background.
func (p *program) start(db *store.Store, address string) (*server, error) {
	service, err := api.New(db, api.Options{Now: time.Now, Log: p.log, Version: version, Open: true})
	if err != nil {
		return nil, err
	}
	l, err := net.Listen("tcp", address)
	if err != nil {
		return nil, &configError{"SABINBOOK_LISTEN (--listen)", err}
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
