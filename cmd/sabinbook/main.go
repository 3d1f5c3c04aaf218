// Command sabinbook serves a shared catalog of materials for sound-absorbing panels and
// answers over HTTP which of them give the most absorption for the money.
//
// It reads flags and environment and joins the parts: the store, the HTTP service, the
// seed. Exit code 0 is success, 1 a failure, 2 a mistake in the settings or a file that cannot be
// read.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"os/signal"
	"syscall"

	"github.com/alecthomas/kong"
)

// program is what a command gets beside its own settings.
type program struct {
	ctx      context.Context
	config   *config
	out, err io.Writer
	log      *slog.Logger
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	go func() { // a second signal ends the process at once
		<-ctx.Done()
		stop()
	}()
	os.Exit(run(ctx, os.Args[1:], os.Stdout, os.Stderr))
}

// run is the whole program; it returns the exit code.
func run(ctx context.Context, args []string, out, errs io.Writer) int {
	var c config
	exit := -1
	parser, err := kong.New(&c, kong.Name("sabinbook"),
		kong.Description("A price book kept in sabins: which fill under which fabric gives the most absorption for the money."),
		kong.Writers(out, errs), kong.Exit(func(code int) { exit = code }), kong.UsageOnError())
	if err != nil {
		fmt.Fprintln(errs, "sabinbook:", err)
		return 1
	}
	k, err := parser.Parse(args)
	if exit >= 0 { // help was asked for
		return exit
	}
	if err != nil {
		fmt.Fprintf(errs, "sabinbook: %v\n", err)
		return 2
	}
	log := slog.New(slog.NewJSONHandler(errs, nil))
	err = k.Run(&program{ctx: ctx, config: &c, out: out, err: errs, log: log})
	var wrong *configError
	var unreadable *unreadableError
	switch {
	case errors.As(err, &wrong), errors.As(err, &unreadable):
		fmt.Fprintln(errs, "sabinbook:", err)
		return 2
	case err != nil:
		fmt.Fprintln(errs, "sabinbook:", err)
		return 1
	}
	return 0
}
