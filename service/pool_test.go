package service

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"go.uber.org/goleak"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/swing"
)

// TestLiveSwingsGoFirst fills a pool of one worker that is held, and looks at
// the order in which it works.
func TestLiveSwingsGoFirst(t *testing.T) {
	p := newPool(1, nil)
	begun, hold := make(chan struct{}), make(chan struct{})
	var order []string
	var all []*task
	submit := func(c class, do func()) {
		task, err := p.submit(t.Context(), c, do)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, task)
	}
	submit(clip, func() { close(begun); <-hold })
	<-begun
	for i := range 2 {
		submit(clip, func() { order = append(order, fmt.Sprint("clip ", i)) })
		submit(live, func() { order = append(order, fmt.Sprint("live ", i)) })
	}
	close(hold)
	for _, task := range all {
		if !task.wait() {
			t.Error("a task was not done")
		}
	}
	if want := []string{"live 0", "live 1", "clip 0", "clip 1"}; !slices.Equal(order, want) {
		t.Errorf("order %v, want %v", order, want)
	}
}

// TestPoolIsBounded: no more work at once than workers, no more tasks than places.
func TestPoolIsBounded(t *testing.T) {
	const workers = 3
	p := newPool(workers, nil)
	var busy, most atomic.Int64
	begun, hold := make(chan struct{}, poolQueue+workers), make(chan struct{})
	work := func() {
		n := busy.Add(1)
		begun <- struct{}{}
		for old := most.Load(); n > old && !most.CompareAndSwap(old, n); old = most.Load() {
		}
		<-hold
		busy.Add(-1)
	}
	var all []*task
	for range poolQueue + workers {
		task, err := p.submit(t.Context(), live, work)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, task)
	}
	if s := p.share(); s != 1 {
		t.Errorf("share %g of a full pool", s)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := p.submit(ctx, live, work); !errors.Is(err, context.Canceled) {
		t.Errorf("%v from a full pool", err)
	}
	for range workers { // they are all at work
		<-begun
	}
	close(hold)
	for _, task := range all {
		task.wait()
	}
	if most.Load() != workers || p.share() != 0 {
		t.Errorf("%d at once of %d, share %g at the end", most.Load(), workers, p.share())
	}
}

// TestWorkThatNobodyWaitsForIsNotBegun gives up a task that waits.
func TestWorkThatNobodyWaitsForIsNotBegun(t *testing.T) {
	p := newPool(1, nil)
	begun, hold := make(chan struct{}), make(chan struct{})
	first, err := p.submit(t.Context(), live, func() { close(begun); <-hold })
	if err != nil {
		t.Fatal(err)
	}
	<-begun
	ctx, cancel := context.WithCancel(t.Context())
	second, err := p.submit(ctx, live, func() { t.Error("it was done") })
	if err != nil {
		t.Fatal(err)
	}
	cancel()
	if second.wait() {
		t.Error("waited for what was given up")
	}
	close(hold)
	if !first.wait() {
		t.Error("the first was not done")
	}
	<-second.done
}

// gated is a metronome that hands its swings out; each is settled once its gate is opened.
type gated struct {
	n   int
	by  swing.Settler
	out []*gate
	at  func(i int) *gate
}

// gate holds the i-th swing of a machine.
type gate struct {
	open  chan struct{}
	then  func() // nil: nothing
	sheet *measure.Sheet
}

func (g *gate) Do() {
	<-g.open
	if g.then != nil {
		g.then()
	}
}

func (m *gated) SettleBy(s swing.Settler) { m.by = s }
func (m *gated) Unsettled() int           { return len(m.out) }

func (m *gated) Push(f *body.Frame, to swing.Sink) error {
	m.n++
	if m.n%10 == 0 {
		g := m.at(m.n/10 - 1)
		g.sheet = &measure.Sheet{ID: fmt.Sprint("swing-", m.n), LastFrame: f.Index}
		m.out = append(m.out, g)
		m.by.Settle(g)
	}
	to.Progress(swing.Progress{Received: uint32(m.n), KeepFrom: uint32(m.n)})
	return nil
}

func (m *gated) TakeBack(to swing.Sink) {
	to.Swing(m.out[0].sheet)
	m.out = m.out[1:]
}

func (m *gated) Finish(to swing.Sink) {
	for len(m.out) > 0 && m.by.Wait(m.out[0]) {
		m.TakeBack(to)
	}
}

// withGates is a configuration whose swings wait at gates.
func withGates(n int) (Config, []*gate) {
	gates := make([]*gate, n)
	for i := range gates {
		gates[i] = &gate{open: make(chan struct{})}
	}
	return Config{Settlers: 2, NewMachine: func(swing.Setup) (Machine, error) {
		return &gated{at: func(i int) *gate { return gates[i] }}, nil
	}}, gates
}

// heard reads answers until one passes.
func heard(t *testing.T, stream pb.SwingAnalysisService_StreamPracticeClient, pass func(*pb.StreamPracticeResponse) bool) {
	t.Helper()
	for {
		m, err := stream.Recv()
		if err != nil {
			t.Fatal(err)
		}
		if pass(m) {
			return
		}
	}
}

// TestFramesGoOnWhileASwingIsSettled: acknowledgements flow while a solve lasts,
// and the swing comes when it is settled, whether or not frames come then.
func TestFramesGoOnWhileASwingIsSettled(t *testing.T) {
	c, gates := withGates(2)
	stream, err := dial(t, c).StreamPractice(within(t))
	if err != nil {
		t.Fatal(err)
	}
	send := func(m *pb.StreamPracticeRequest) {
		if err := stream.Send(m); err != nil {
			t.Fatal(err)
		}
	}
	send(open(coco()))
	for i := range 5 {
		send(batch(frames(5*i, 5)))
		heard(t, stream, func(m *pb.StreamPracticeResponse) bool {
			if m.GetSwing() != nil {
				t.Fatal("a swing before it was settled")
			}
			return m.GetAck().GetReceived() == uint32(5*(i+1))
		})
	}
	close(gates[1].open) // the second is settled before the first, and must wait for it
	close(gates[0].open)
	for _, id := range []string{"swing-10", "swing-20"} {
		heard(t, stream, func(m *pb.StreamPracticeResponse) bool {
			if got := m.GetSwing().GetId(); got != id {
				t.Fatalf("%v, want %s", m, id)
			}
			return true
		})
	}
	send(finish(25))
	if _, err := stream.Recv(); !errors.Is(err, io.EOF) {
		t.Error(err)
	}
}

// TestAStreamWaitsForItsSwings: a stream with too many unsettled swings is held,
// and goes on when one of them is settled.
func TestAStreamWaitsForItsSwings(t *testing.T) {
	c, gates := withGates(streamUnsettled + 2)
	stream, err := dial(t, c).StreamPractice(within(t))
	if err != nil {
		t.Fatal(err)
	}
	messages := []*pb.StreamPracticeRequest{open(coco())}
	for i := range streamUnsettled + 2 {
		messages = append(messages, batch(frames(10*i, 10)))
	}
	for _, m := range append(messages, finish(10*(streamUnsettled+2))) {
		if err := stream.Send(m); err != nil {
			t.Fatal(err)
		}
	}
	var acked uint32
	var swings []string
	take := func(m *pb.StreamPracticeResponse) {
		acked = max(acked, m.GetAck().GetReceived())
		if s := m.GetSwing(); s != nil {
			swings = append(swings, s.Id)
		}
	}
	for acked < 10*streamUnsettled {
		heard(t, stream, func(m *pb.StreamPracticeResponse) bool { take(m); return true })
	}
	for i, g := range gates {
		close(g.open)
		heard(t, stream, func(m *pb.StreamPracticeResponse) bool { take(m); return len(swings) == i+1 })
		if most := uint32(10 * (streamUnsettled + i + 1)); acked > most {
			t.Fatalf("%d frames were taken with %d swings settled, at most %d", acked, i+1, most)
		}
	}
	if want := []string{"swing-10", "swing-20", "swing-30", "swing-40", "swing-50", "swing-60"}; !slices.Equal(swings, want) {
		t.Errorf("%v, want %v", swings, want)
	}
}

// TestWhatWasHandedOutIsSentAtABadEnd cuts a stream off while a swing is out.
func TestWhatWasHandedOutIsSentAtABadEnd(t *testing.T) {
	c, gates := withGates(1)
	stream, err := dial(t, c).StreamPractice(within(t))
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range []*pb.StreamPracticeRequest{open(coco()), batch(frames(0, 10))} {
		if err := stream.Send(m); err != nil {
			t.Fatal(err)
		}
	}
	heard(t, stream, func(m *pb.StreamPracticeResponse) bool { return m.GetAck() != nil })
	if err := stream.CloseSend(); err != nil {
		t.Fatal(err)
	}
	close(gates[0].open)
	heard(t, stream, func(m *pb.StreamPracticeResponse) bool { return m.GetSwing().GetId() == "swing-10" })
	_, err = stream.Recv()
	wantLost(t, err, ReasonCutOff)
}

// TestADefectOfASolveEndsItsOwnCallOnly: the others go on.
func TestADefectOfASolveEndsItsOwnCallOnly(t *testing.T) {
	c, gates := withGates(1)
	gates[0].then = func() { panic("a defect of the solve") }
	close(gates[0].open)
	var log bytes.Buffer
	c.Log = slog.New(slog.NewJSONHandler(&log, nil)) // written by handlers one after the other
	client := dial(t, c)
	for range 3 {
		if a := converse(t, client, open(coco()), batch(frames(0, 10)), finish(10)); status.Code(a.err) != codes.Internal {
			t.Errorf("%v", a.err)
		}
		if _, err := client.AnalyzeClip(within(t), &pb.AnalyzeClipRequest{Setup: coco(), Frames: frames(0, 10)}); status.Code(err) != codes.Internal {
			t.Errorf("%v", err)
		}
	}
	if a := converse(t, client, open(coco()), batch(frames(0, 9)), finish(9)); a.err != nil {
		t.Error(a.err)
	}
	if text := log.String(); !strings.Contains(text, "a defect of the solve") || !strings.Contains(text, "pool_test.go") {
		t.Errorf("the log does not tell where: %s", text)
	}
}

// TestALeftStreamLeavesNothingInThePool: a client that goes away while its
// swings are out leaves neither goroutines nor tasks.
func TestALeftStreamLeavesNothingInThePool(t *testing.T) {
	t.Run("work", func(t *testing.T) {
		c, gates := withGates(3)
		ctx, cancel := context.WithCancel(within(t))
		stream, err := dial(t, c).StreamPractice(ctx)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range []*pb.StreamPracticeRequest{open(coco()), batch(frames(0, 30))} {
			if err := stream.Send(m); err != nil {
				t.Fatal(err)
			}
		}
		heard(t, stream, func(m *pb.StreamPracticeResponse) bool { return m.GetAck() != nil })
		cancel()
		for _, g := range gates {
			close(g.open)
		}
	})
	goleak.VerifyNone(t)
}

// TestClipsSettleInParallel: each of two swings is settled only while the other is.
func TestClipsSettleInParallel(t *testing.T) {
	c, gates := withGates(2)
	var both sync.WaitGroup
	both.Add(2)
	for _, g := range gates {
		close(g.open)
		g.then = func() { both.Done(); both.Wait() }
	}
	res, err := dial(t, c).AnalyzeClip(within(t), &pb.AnalyzeClipRequest{Setup: coco(), Frames: frames(0, 20)})
	if err != nil || len(res.Swings) != 2 || res.Swings[0].Id != "swing-10" || res.Swings[1].Id != "swing-20" {
		t.Errorf("%v, %v", res, err)
	}
}
