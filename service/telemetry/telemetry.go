package telemetry

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"os"
	"slices"
	"strings"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"
	"go.opentelemetry.io/contrib/instrumentation/google.golang.org/grpc/otelgrpc"
	"go.opentelemetry.io/contrib/instrumentation/net/http/otelhttp"
	"go.opentelemetry.io/otel/attribute"
	"go.opentelemetry.io/otel/exporters/otlp/otlpmetric/otlpmetricgrpc"
	"go.opentelemetry.io/otel/exporters/otlp/otlptrace/otlptracegrpc"
	promexporter "go.opentelemetry.io/otel/exporters/prometheus"
	"go.opentelemetry.io/otel/metric"
	metricnoop "go.opentelemetry.io/otel/metric/noop"
	"go.opentelemetry.io/otel/propagation"
	sdkmetric "go.opentelemetry.io/otel/sdk/metric"
	"go.opentelemetry.io/otel/sdk/resource"
	sdktrace "go.opentelemetry.io/otel/sdk/trace"
	semconv "go.opentelemetry.io/otel/semconv/v1.37.0"
	"go.opentelemetry.io/otel/trace"
	tracenoop "go.opentelemetry.io/otel/trace/noop"
	"google.golang.org/grpc"
	"google.golang.org/grpc/stats"
)

// Telemetry is what was asked for; parts that were not are nil.
type Telemetry struct {
	meters  *meters
	scrape  http.Handler // /metrics
	metrics metric.MeterProvider
	traces  trace.TracerProvider
	on      bool // anything at all
	stop    []func(context.Context) error
	log     *slog.Logger
}

// Getenv reads one environment variable; "" when it is not set.
type Getenv func(string) string

// Start makes what the OTEL_* variables ask for:
//
//	OTEL_SDK_DISABLED=true    nothing
//	OTEL_METRICS_EXPORTER     prometheus (the default), otlp, both with a comma, none
//	OTEL_TRACES_EXPORTER      none (the default) or otlp
//
// Endpoints, headers, samplers and the service's name come from their own
// standard variables. Logs go to log, one JSON object a line.
func Start(ctx context.Context, getenv Getenv, version string, log io.Writer) (*Telemetry, error) {
	t := &Telemetry{
		metrics: metricnoop.NewMeterProvider(), traces: tracenoop.NewTracerProvider(),
		log: slog.New(withTrace{slog.NewJSONHandler(log, nil)}),
	}
	if strings.EqualFold(getenv("OTEL_SDK_DISABLED"), "true") {
		return t, nil
	}
	about, err := resource.New(ctx, resource.WithSchemaURL(semconv.SchemaURL),
		resource.WithAttributes(semconv.ServiceName("courtkin"), semconv.ServiceVersion(version)), resource.WithFromEnv())
	if err != nil {
		return nil, err
	}
	if err := t.startMetrics(ctx, getenv, about); err != nil {
		return nil, err
	}
	if err := t.startTraces(ctx, getenv, about); err != nil {
		return nil, err
	}
	return t, nil
}

// chosen splits a variable's list; otherwise is for one that is not set.
func chosen(getenv Getenv, name, otherwise string, known ...string) ([]string, error) {
	value := getenv(name)
	if value == "" {
		value = otherwise
	}
	var out []string
	for v := range strings.SplitSeq(value, ",") {
		v = strings.TrimSpace(v)
		if v == "none" {
			continue
		}
		if !slices.Contains(known, v) {
			return nil, fmt.Errorf("%s=%s: must be none or of %s", name, v, strings.Join(known, ", "))
		}
		out = append(out, v)
	}
	return out, nil
}

func (t *Telemetry) startMetrics(ctx context.Context, getenv Getenv, about *resource.Resource) error {
	names, err := chosen(getenv, "OTEL_METRICS_EXPORTER", "prometheus", "prometheus", "otlp")
	if err != nil || len(names) == 0 {
		return err
	}
	options := []sdkmetric.Option{sdkmetric.WithResource(about), sdkmetric.WithView(views()...)}
	if slices.Contains(names, "prometheus") {
		registry := prometheus.NewRegistry()
		registry.MustRegister(collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
		reader, err := promexporter.New(promexporter.WithRegisterer(registry), promexporter.WithoutScopeInfo(), promexporter.WithoutTargetInfo())
		if err != nil {
			return err
		}
		options = append(options, sdkmetric.WithReader(reader))
		t.scrape = promhttp.HandlerFor(registry, promhttp.HandlerOpts{MaxRequestsInFlight: 4})
	}
	if slices.Contains(names, "otlp") {
		exporter, err := otlpmetricgrpc.New(ctx)
		if err != nil {
			return err
		}
		options = append(options, sdkmetric.WithReader(sdkmetric.NewPeriodicReader(exporter)))
	}
	provider := sdkmetric.NewMeterProvider(options...)
	t.metrics, t.on = provider, true
	t.stop = append(t.stop, provider.Shutdown)
	t.meters, err = newMeters(provider.Meter("example.com/courtkin"))
	return err
}

func (t *Telemetry) startTraces(ctx context.Context, getenv Getenv, about *resource.Resource) error {
	names, err := chosen(getenv, "OTEL_TRACES_EXPORTER", "none", "otlp")
	if err != nil || len(names) == 0 {
		return err
	}
	exporter, err := otlptracegrpc.New(ctx) // connects when there is something to send
	if err != nil {
		return err
	}
	provider := sdktrace.NewTracerProvider(sdktrace.WithResource(about), sdktrace.WithBatcher(exporter))
	t.traces, t.on = provider, true
	t.stop = append(t.stop, provider.Shutdown)
	return nil
}

// views keep what a client chooses out of the labels: a made-up host or method
// would make a new series each time.
func views() []sdkmetric.View {
	only := func(instrument string, labels ...attribute.Key) sdkmetric.View {
		return sdkmetric.NewView(sdkmetric.Instrument{Name: instrument},
			sdkmetric.Stream{AttributeFilter: attribute.NewAllowKeysFilter(labels...)})
	}
	drop := func(instrument string) sdkmetric.View {
		return sdkmetric.NewView(sdkmetric.Instrument{Name: instrument}, sdkmetric.Stream{Aggregation: sdkmetric.AggregationDrop{}})
	}
	return []sdkmetric.View{
		only("rpc.server.call.duration", "rpc.method", "rpc.response.status_code", "rpc.grpc.status_code"),
		only("http.server.request.duration", "http.request.method", "http.response.status_code", "http.route"),
		drop("http.server.*.body.size"), drop("http.server.active_requests"),
		drop("rpc.server.*size"), drop("rpc.server.*per_rpc"),
	}
}

// Log is the logger of the process.
func (t *Telemetry) Log() *slog.Logger { return t.log }

// Options are what a gRPC server needs to be watched. They belong before the
// service's own, so that they see what those answer. Without anything to do
// there are none but the log's.
func (t *Telemetry) Options() []grpc.ServerOption {
	options := []grpc.ServerOption{grpc.ChainUnaryInterceptor(t.unary), grpc.ChainStreamInterceptor(t.stream)}
	if t.on {
		options = append(options, grpc.StatsHandler(otelgrpc.NewServerHandler(
			otelgrpc.WithMeterProvider(t.metrics), otelgrpc.WithTracerProvider(t.traces),
			otelgrpc.WithPropagators(propagation.TraceContext{}), otelgrpc.WithFilter(ours))))
	}
	return options
}

// ours reports whether a call is of the contract; probes and made-up names are not watched.
func ours(info *stats.RPCTagInfo) bool { return rpcName(info.FullMethodName) != "" }

// Handler puts /metrics beside a handler and watches its requests.
func (t *Telemetry) Handler(next http.Handler) http.Handler {
	if t.on {
		next = otelhttp.NewHandler(next, "http",
			otelhttp.WithMeterProvider(t.metrics), otelhttp.WithTracerProvider(t.traces), otelhttp.WithPropagators(propagation.TraceContext{}),
			otelhttp.WithFilter(func(r *http.Request) bool { return r.URL.Path != "/healthz" && r.URL.Path != "/readyz" }))
	}
	if t.scrape == nil {
		return next
	}
	mux := http.NewServeMux()
	mux.Handle("GET /metrics", t.scrape)
	mux.Handle("/", next)
	return mux
}

// Took notes a delay that the service measures itself; nil when nobody counts.
func (t *Telemetry) Took() func(stage string, seconds float64) {
	if t.meters == nil {
		return nil
	}
	return t.meters.took
}

// Saturation has shares of limits in use read whenever metrics are collected.
func (t *Telemetry) Saturation(shares func() map[string]float64) error {
	if t.meters == nil {
		return nil
	}
	return t.meters.saturation(shares)
}

// Draining tells that streams which break from now on were asked to move.
func (t *Telemetry) Draining() {
	if t.meters != nil {
		t.meters.draining.Store(true)
	}
}

// Stop sends what is left.
func (t *Telemetry) Stop(ctx context.Context) error {
	var all []error
	for _, stop := range t.stop {
		all = append(all, stop(ctx))
	}
	return errors.Join(all...)
}

// Environment is the process's own.
func Environment() Getenv { return os.Getenv }
