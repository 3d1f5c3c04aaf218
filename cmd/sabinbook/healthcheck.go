package main

import (
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/netip"
	"time"
)

// healthcheckCommand asks the service of the same settings how it is, for whoever keeps it running
// and has no other program to ask with.
type healthcheckCommand struct {
	listen
	Live bool `help:"Ask only whether the process lives (/healthz), not whether its database answers too (/readyz)."`
}

// healthcheckWait is how long the answer may take: longer than the service waits for its database.
const healthcheckWait = 4 * time.Second

// Run succeeds when the service answers 200.
func (c healthcheckCommand) Run(p *program) error {
	address, _, err := c.address()
	if err != nil {
		return err
	}
	path := "/readyz"
	if c.Live {
		path = "/healthz"
	}
	ctx, cancel := context.WithTimeout(p.ctx, healthcheckWait)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://"+reachable(address)+path, nil)
	if err != nil {
		return err
	}
	r, err := http.DefaultClient.Do(req)
	if err != nil {
		return fmt.Errorf("the service does not answer: %w", err)
	}
	defer r.Body.Close()
	body, err := io.ReadAll(io.LimitReader(r.Body, 4096))
	if err != nil {
		return err
	}
	if r.StatusCode != http.StatusOK {
		return fmt.Errorf("the service answers %s: %s", r.Status, body)
	}
	_, err = p.out.Write(body)
	return err
}

// reachable is an address at which a service that listens on address answers: that of every
// address of the machine is asked on loopback.
func reachable(address string) string {
	host, port, err := net.SplitHostPort(address)
	if err != nil {
		return address
	}
	ip, err := netip.ParseAddr(host)
	switch {
	case host == "" || err == nil && ip.IsUnspecified() && ip.Is4():
		host = "127.0.0.1"
	case err == nil && ip.IsUnspecified():
		host = "::1"
	}
	return net.JoinHostPort(host, port)
}
