package telemetry

import (
	"context"
	"log/slog"

	"go.opentelemetry.io/otel/trace"
)

// withTrace adds trace and span to what is logged inside one.
type withTrace struct{ slog.Handler }

// Handle adds the ids.
func (h withTrace) Handle(ctx context.Context, r slog.Record) error {
	if span := trace.SpanContextFromContext(ctx); span.IsValid() {
		r.AddAttrs(slog.String("trace_id", span.TraceID().String()), slog.String("span_id", span.SpanID().String()))
	}
	return h.Handler.Handle(ctx, r)
}

// WithAttrs keeps the handler around the one with attributes.
func (h withTrace) WithAttrs(attrs []slog.Attr) slog.Handler {
	return withTrace{h.Handler.WithAttrs(attrs)}
}

// WithGroup keeps the handler around the one with a group.
func (h withTrace) WithGroup(name string) slog.Handler { return withTrace{h.Handler.WithGroup(name)} }
