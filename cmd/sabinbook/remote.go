package main

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"strings"

	"sabinbook/api/client"
)

// remote is the service that a command asks.
type remote struct {
	Server string `env:"SABINBOOK_SERVER" default:"http://127.0.0.1:8080" placeholder:"URL" help:"Service to ask (default: ${default})."`
	Token  string `env:"SABINBOOK_TOKEN" placeholder:"TOKEN" help:"Token of the member who asks; better given by SABINBOOK_TOKEN, which other users of the machine do not see."`
}

// client returns a client of the service.
func (r remote) client() (*client.ClientWithResponses, error) {
	if !strings.HasPrefix(r.Server, "http://") && !strings.HasPrefix(r.Server, "https://") {
		return nil, &configError{"SABINBOOK_SERVER (--server)", errors.New("must begin with http:// or https://")}
	}
	var options []client.ClientOption
	if r.Token != "" {
		options = append(options, client.WithRequestEditorFn(func(_ context.Context, q *http.Request) error {
			q.Header.Set("Authorization", "Bearer "+r.Token)
			return nil
		}))
	}
	return client.NewClientWithResponses(strings.TrimSuffix(r.Server, "/"), options...)
}

// refusal is a problem that a service answered, with all its faults.
func refusal(problem *client.OtherProblem, status string) error {
	if problem == nil {
		return fmt.Errorf("the service answered %s", status)
	}
	text := problem.Title
	if problem.Detail != "" {
		text += ": " + problem.Detail
	}
	if problem.Errors != nil {
		for _, f := range *problem.Errors {
			where := ""
			for _, at := range []*string{f.Parameter, f.Pointer, f.Header, f.File} {
				if at != nil {
					where = *at + " "
				}
			}
			if f.Row != nil {
				where += fmt.Sprintf("line %d ", *f.Row)
			}
			if f.Column != nil {
				where += *f.Column + " "
			}
			text += fmt.Sprintf("\n  %s%s: %s", where, f.Detail, f.Fix)
		}
	}
	return errors.New(text)
}
