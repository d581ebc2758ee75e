package telemetry

import (
	"context"
	"errors"
	"math"
	"runtime/debug"
	"runtime/metrics"
	"sync/atomic"

	"go.opentelemetry.io/otel/attribute"
	"go.opentelemetry.io/otel/metric"
)

// delayBounds are the histogram's bounds in seconds; 0.1 is what a player is
// promised, so the quantile is exact there.
var delayBounds = []float64{0.0001, 0.00025, 0.0005, 0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5}

// meters are the instruments of deploy/metrics.md.
type meters struct {
	meter   metric.Meter
	active  metric.Int64UpDownCounter
	closed  metric.Int64Counter
	frames  metric.Int64Counter
	rejects metric.Int64Counter
	delay   metric.Float64Histogram
	stages  map[string]metric.MeasurementOption
	swings  metric.Int64Counter
	given   metric.Int64Counter
	refused metric.Int64Counter
	clocks  metric.Int64Counter
	cues    metric.Int64Counter
	feeds   metric.Int64Counter

	draining atomic.Bool
}

// The stages of a delay.
const (
	stageReceive = "receive"
	stagePush    = "push"
	stageQueue   = "queue"
	stageSettle  = "settle"
	stageSend    = "send"
	stageEvent   = "event"
	stageSwing   = "swing"
)

func newMeters(m metric.Meter) (*meters, error) {
	out := &meters{meter: m, stages: map[string]metric.MeasurementOption{}}
	for _, s := range []string{stageReceive, stagePush, stageQueue, stageSettle, stageSend, stageEvent, stageSwing} {
		out.stages[s] = metric.WithAttributeSet(attribute.NewSet(attribute.String("stage", s)))
	}
	var errs [2]error
	out.active, errs[0] = m.Int64UpDownCounter("courtkin.streams.active", metric.WithUnit("{stream}"),
		metric.WithDescription("Live practices open now."))
	out.delay, errs[1] = m.Float64Histogram("courtkin.delay", metric.WithUnit("s"),
		metric.WithDescription("How long a stage kept its input."), metric.WithExplicitBucketBoundaries(delayBounds...))
	err := errors.Join(errs[:]...)
	for _, c := range []struct {
		to               *metric.Int64Counter
		name, unit, text string
	}{
		{&out.closed, "courtkin.streams.closed", "{stream}", "Live practices that ended, by how."},
		{&out.frames, "courtkin.frames", "{frame}", "Frames taken."},
		{&out.rejects, "courtkin.rejects", "{message}", "Messages and requests refused."},
		{&out.swings, "courtkin.swings", "{swing}", "Swings measured."},
		{&out.given, "courtkin.measures", "{measure}", "Figures given, by grade."},
		{&out.refused, "courtkin.refusals", "{measure}", "Figures that are not measurable, by reason."},
		{&out.clocks, "courtkin.clock.failures", "{clip}", "Clips and streams whose clock could not be verified."},
		{&out.cues, "courtkin.cues", "{cue}", "Cues given."},
		{&out.feeds, "courtkin.feeds", "{advice}", "Advice to ball machines."},
	} {
		var one error
		*c.to, one = m.Int64Counter(c.name, metric.WithUnit(c.unit), metric.WithDescription(c.text))
		err = errors.Join(err, one)
	}
	return out, err
}

// count adds n to a counter under labels, given as name and value in turn.
func count(c metric.Int64Counter, n int, labels ...string) {
	if n > 0 {
		c.Add(context.Background(), int64(n), labelled(labels...))
	}
}

func labelled(labels ...string) metric.MeasurementOption {
	set := make([]attribute.KeyValue, 0, len(labels)/2)
	for i := 0; i < len(labels); i += 2 {
		set = append(set, attribute.String(labels[i], labels[i+1]))
	}
	return metric.WithAttributes(set...)
}

// took notes a delay of a known stage.
func (m *meters) took(stage string, seconds float64) {
	if s, ok := m.stages[stage]; ok {
		m.delay.Record(context.Background(), seconds, s)
	}
}

// saturation reads shares of limits, and the memory's, at each collection.
func (m *meters) saturation(shares func() map[string]float64) error {
	_, err := m.meter.Float64ObservableGauge("courtkin.saturation", metric.WithUnit("1"),
		metric.WithDescription("Share of a limit in use."),
		metric.WithFloat64Callback(func(_ context.Context, o metric.Float64Observer) error {
			for resource, share := range shares() {
				o.Observe(share, labelled("resource", resource))
			}
			if share, ok := memoryShare(); ok {
				o.Observe(share, labelled("resource", "memory"))
			}
			return nil
		}))
	return err
}

// memoryShare is the memory that GOMEMLIMIT counts, as a share of it; there is
// none without a limit.
func memoryShare() (float64, bool) {
	limit := debug.SetMemoryLimit(-1)
	if limit == math.MaxInt64 || limit <= 0 {
		return 0, false
	}
	samples := []metrics.Sample{{Name: "/memory/classes/total:bytes"}, {Name: "/memory/classes/heap/released:bytes"}}
	metrics.Read(samples)
	return float64(samples[0].Value.Uint64()-samples[1].Value.Uint64()) / float64(limit), true
}
