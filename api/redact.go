package api

import (
	"context"
	"log/slog"

	"sabinbook/internal/access"
)

// redacting is a log without tokens: wherever a client or an error puts one, in a path or a
// Request-Id for instance, only its beginning is written.
type redacting struct{ slog.Handler }

func (h redacting) Handle(ctx context.Context, r slog.Record) error {
	clean := slog.NewRecord(r.Time, r.Level, access.Redact(r.Message), r.PC)
	r.Attrs(func(a slog.Attr) bool {
		clean.AddAttrs(redacted(a))
		return true
	})
	return h.Handler.Handle(ctx, clean)
}

func (h redacting) WithAttrs(list []slog.Attr) slog.Handler {
	clean := make([]slog.Attr, len(list))
	for i, a := range list {
		clean[i] = redacted(a)
	}
	return redacting{h.Handler.WithAttrs(clean)}
}

func (h redacting) WithGroup(name string) slog.Handler { return redacting{h.Handler.WithGroup(name)} }

// redacted cleans an attribute that is a text. The service logs texts and numbers only.
func redacted(a slog.Attr) slog.Attr {
	if a.Value.Kind() == slog.KindString {
		a.Value = slog.StringValue(access.Redact(a.Value.String()))
	}
	return a
}
