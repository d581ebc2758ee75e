package telemetry

import (
	"context"
	"log/slog"
	"strings"
	"sync"
	"time"

	"go.opentelemetry.io/otel/metric"
	"google.golang.org/grpc"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"

	pb "example.com/courtkin/proto/courtkin/v1"
)

// rpcName returns the short name of a call of the contract, "" for any other.
func rpcName(method string) string { return rpcNames[method] }

var rpcNames = func() map[string]string {
	names := map[string]string{}
	d := pb.SwingAnalysisService_ServiceDesc
	for _, m := range d.Methods {
		names["/"+d.ServiceName+"/"+m.MethodName] = m.MethodName
	}
	for _, s := range d.Streams {
		names["/"+d.ServiceName+"/"+s.StreamName] = s.StreamName
	}
	return names
}()

// unary watches a single call.
func (t *Telemetry) unary(ctx context.Context, req any, info *grpc.UnaryServerInfo, next grpc.UnaryHandler) (any, error) {
	name, begin := rpcName(info.FullMethod), time.Now()
	if name == "" {
		return next(ctx, req)
	}
	res, err := next(ctx, req)
	t.ended(ctx, name, begin, err)
	if m := t.meters; m != nil {
		if err != nil {
			m.reject(name, err)
		} else {
			m.request(name, req)
			m.response(res)
		}
	}
	return res, err
}

// stream watches live practice.
func (t *Telemetry) stream(srv any, stream grpc.ServerStream, info *grpc.StreamServerInfo, next grpc.StreamHandler) error {
	name, begin := rpcName(info.FullMethod), time.Now()
	if name == "" {
		return next(srv, stream)
	}
	m := t.meters
	if m == nil {
		err := next(srv, stream)
		t.ended(stream.Context(), name, begin, err)
		return err
	}
	transport := transportOf(stream.Context())
	m.active.Add(stream.Context(), 1, labelled("transport", transport))
	err := next(srv, &watched{ServerStream: stream, meters: m, rpc: labelled("rpc", name)})
	m.active.Add(stream.Context(), -1, labelled("transport", transport))
	t.ended(stream.Context(), name, begin, err)
	count(m.closed, 1, "transport", transport, "end", m.endOf(err))
	if err != nil {
		m.reject(name, err)
	}
	return err
}

// ended logs a call's end.
func (t *Telemetry) ended(ctx context.Context, name string, begin time.Time, err error) {
	level := slog.LevelInfo
	s := status.Convert(err)
	if serverFault(s.Code()) {
		level = slog.LevelError
	}
	attrs := []slog.Attr{
		slog.String("rpc", name), slog.String("code", s.Code().String()),
		slog.Float64("seconds", time.Since(begin).Seconds()), slog.String("transport", transportOf(ctx)),
	}
	if id := requestID(ctx); id != "" {
		attrs = append(attrs, slog.String("request_id", id))
	}
	t.log.LogAttrs(ctx, level, "call ended", attrs...)
}

// TransportKey is the metadata by which the gateway says what a practice came by.
const TransportKey = "courtkin-transport"

func transportOf(ctx context.Context) string {
	for _, v := range metadata.ValueFromIncomingContext(ctx, TransportKey) {
		if v == "websocket" || v == "ndjson" {
			return v
		}
	}
	return "grpc"
}

// requestID returns the gateway's id of a request, when it is fit for a log.
func requestID(ctx context.Context) string {
	for _, v := range metadata.ValueFromIncomingContext(ctx, "x-request-id") {
		if len(v) <= 64 && strings.Trim(v, "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz._-") == "" {
			return v
		}
	}
	return ""
}

// What is remembered of a stream: batches not acknowledged yet, events whose
// batch is not known yet, and the newest batches, in which the end of a swing's
// window is looked for: 4 s of frames sent one by one at 60 Hz.
const (
	maxWaiting = 64
	maxPast    = 256
)

// watched is a practice's stream, counted on its way. The service acknowledges
// each batch after the events that it found in it, so an acknowledgement tells
// when the frames came that showed the events before it. A swing comes when it
// is settled, and names the last frame of its window.
type watched struct {
	grpc.ServerStream
	meters *meters
	rpc    metric.MeasurementOption

	mu       sync.Mutex
	batches  []time.Time // when batches came that are not acknowledged yet
	events   []time.Time // when CONTACTs were written whose batch is not known yet
	past     []batch     // the newest that came, oldest first
	badClock bool        // said once for a stream
}

// batch is when frames came, and the highest index among them.
type batch struct {
	came   time.Time
	newest uint32
}

// RecvMsg counts what comes.
func (w *watched) RecvMsg(m any) error {
	err := w.ServerStream.RecvMsg(m)
	if err != nil {
		return err
	}
	if req, ok := m.(*pb.StreamPracticeRequest); ok {
		w.received(req)
	}
	return nil
}

func (w *watched) received(req *pb.StreamPracticeRequest) {
	n := framesIn(req.GetFrames().GetFrames(), req.GetFrames().GetBlocks())
	if n == 0 {
		return
	}
	w.meters.frames.Add(w.Context(), int64(n), w.rpc)
	w.mu.Lock()
	defer w.mu.Unlock()
	now := time.Now()
	if len(w.batches) < maxWaiting {
		w.batches = append(w.batches, now)
	}
	if len(w.past) == maxPast {
		w.past = w.past[:copy(w.past, w.past[1:])]
	}
	w.past = append(w.past, batch{now, newestIn(req.GetFrames())})
}

// newestIn returns the highest index of a batch's frames.
func newestIn(b *pb.StreamPracticeRequest_FrameBatch) (newest uint32) {
	for _, f := range b.GetFrames() {
		newest = max(newest, f.GetIndex())
	}
	for _, block := range b.GetBlocks() {
		newest = max(newest, block.GetFirstIndex()+uint32(len(block.GetTimeStepsUs())))
	}
	return newest
}

// showed returns when the first frame after a swing's window came: with it the
// swing's settling begins. The swing that ends a practice is shown by the last.
func (w *watched) showed(s *pb.Swing) (time.Time, bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, b := range w.past {
		if b.newest > s.GetLastFrame() {
			return b.came, true
		}
	}
	if len(w.past) == 0 {
		return time.Time{}, false
	}
	return w.past[len(w.past)-1].came, true
}

// SendMsg counts what goes.
func (w *watched) SendMsg(m any) error {
	begin := time.Now()
	if err := w.ServerStream.SendMsg(m); err != nil {
		return err
	}
	res, ok := m.(*pb.StreamPracticeResponse)
	if !ok {
		return nil
	}
	now := time.Now()
	w.meters.took(stageSend, now.Sub(begin).Seconds())
	w.sent(res, begin, now)
	return nil
}

// sent notes a finding, and at an acknowledgement the delays of those before it.
func (w *watched) sent(res *pb.StreamPracticeResponse, begin, now time.Time) {
	switch m := res.GetMessage().(type) {
	case *pb.StreamPracticeResponse_Event:
		if m.Event.GetKind() == pb.EventKind_EVENT_KIND_CONTACT && m.Event.GetCertainty() == pb.Certainty_CERTAINTY_PROVISIONAL &&
			len(w.events) < maxWaiting {
			w.events = append(w.events, now)
		}
	case *pb.StreamPracticeResponse_Swing:
		w.meters.swing(m.Swing)
		if reason := badClock(m.Swing); reason != "" && !w.badClock {
			w.badClock = true
			count(w.meters.clocks, 1, "reason", reason)
		}
		if came, ok := w.showed(m.Swing); ok {
			w.meters.took(stageSwing, now.Sub(came).Seconds())
		}
	case *pb.StreamPracticeResponse_Ack_:
		w.acknowledged(begin)
	}
}

func (w *watched) acknowledged(at time.Time) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if len(w.batches) > 0 {
		came := w.batches[0]
		w.batches = w.batches[1:]
		w.meters.took(stageReceive, at.Sub(came).Seconds())
		for _, t := range w.events {
			w.meters.took(stageEvent, t.Sub(came).Seconds())
		}
	}
	w.events = w.events[:0]
}
