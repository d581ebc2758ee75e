package client

import (
	"context"
	"fmt"
	"math/rand/v2"
	"net"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"go.uber.org/goleak"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/status"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service"
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/swing"
)

// window is how many frames a made swing takes.
const window = 100

// summing is a machine whose swings are the sums of times over windows of
// frames by index: a frame lost or doubled changes a swing's id.
type summing struct{ sum int64 }

func (m *summing) Push(f *body.Frame, to swing.Sink) error {
	if f.Index%window == 0 {
		m.sum = 0
	}
	m.sum += f.TimeUS
	if f.Index%window == window/2 {
		to.Event(swing.LiveEvent{Kind: phase.Contact, TimeUS: f.TimeUS})
	}
	keep := f.Index - f.Index%window
	if f.Index%window == window-1 {
		to.Swing(&measure.Sheet{ID: fmt.Sprintf("%d:%d", f.Index/window, m.sum)})
		keep = f.Index + 1
	}
	to.Progress(swing.Progress{KeepFrom: keep})
	return nil
}

func (m *summing) Finish(swing.Sink) {}

// replica is a server that can be killed and brought back at one address.
type replica struct {
	t       testing.TB
	config  service.Config
	address string
	mu      sync.Mutex
	server  *grpc.Server
}

func newReplica(t testing.TB, limit func(*service.Limits)) *replica {
	t.Helper()
	r := &replica{t: t, address: "127.0.0.1:0", config: service.Config{
		Limits:     service.DefaultLimits(),
		NewMachine: func(swing.Setup) (service.Machine, error) { return &summing{}, nil },
	}}
	if limit != nil {
		limit(&r.config.Limits)
	}
	r.start()
	t.Cleanup(r.kill)
	return r
}

func (r *replica) start() {
	srv, err := service.New(r.config)
	if err != nil {
		r.t.Error(err)
		return
	}
	listener, err := listenAgain(r.address)
	if err != nil {
		r.t.Error(err)
		return
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	r.address = listener.Addr().String()
	r.server = grpc.NewServer(srv.Options()...)
	srv.Register(r.server)
	go func(s *grpc.Server) { _ = s.Serve(listener) }(r.server)
}

// listenAgain listens on an address that had been given up a moment ago: another
// program's connection may hold its port for a while.
func listenAgain(address string) (listener net.Listener, err error) {
	for range 200 {
		if listener, err = net.Listen("tcp", address); err == nil {
			return listener, nil
		}
		time.Sleep(100 * time.Millisecond)
	}
	return nil, err
}

// kill breaks every connection at once.
func (r *replica) kill() {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.server.Stop()
}

// notes collects what a client is handed.
type notes struct {
	mu  sync.Mutex
	all []*pb.StreamPracticeResponse
}

func (n *notes) take(m *pb.StreamPracticeResponse) {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.all = append(n.all, m)
}

func (n *notes) swings() (ids []string) {
	n.mu.Lock()
	defer n.mu.Unlock()
	for _, m := range n.all {
		if s := m.GetSwing(); s != nil {
			ids = append(ids, s.Id)
		}
	}
	return ids
}

func (n *notes) events() (at []int64) {
	n.mu.Lock()
	defer n.mu.Unlock()
	for _, m := range n.all {
		if e := m.GetEvent(); e != nil {
			at = append(at, e.TimeUs)
		}
	}
	return at
}

func config(n *notes, replicas ...*replica) Config {
	c := Config{
		Dial:       []grpc.DialOption{grpc.WithTransportCredentials(insecure.NewCredentials())},
		Open:       &pb.StreamPracticeRequest_Open{Setup: &pb.Setup{Layout: pb.PointLayout_POINT_LAYOUT_COCO_17}},
		Handle:     n.take,
		FirstPause: time.Millisecond, LastPause: 20 * time.Millisecond, Tries: 1000,
	}
	for _, r := range replicas {
		c.Targets = append(c.Targets, r.address)
	}
	return c
}

func frame(i int) *pb.Frame { return &pb.Frame{Index: uint32(i), TimeUs: int64(i) * 16_667} }

// expected lists the swings of n whole windows.
func expected(n int) (ids []string) {
	for w := range n {
		sum := int64(0)
		for i := range window {
			sum += frame(w*window + i).TimeUs
		}
		ids = append(ids, fmt.Sprintf("%d:%d", w, sum))
	}
	return ids
}

func within(t testing.TB) context.Context {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	t.Cleanup(cancel)
	return ctx
}

// play streams n windows of frames, calling between before each window.
func play(t *testing.T, c Config, n int, between func(w int)) *Practice {
	t.Helper()
	p, err := Start(within(t), c)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(p.Close)
	for w := range n {
		between(w)
		for i := range window {
			if err := p.Send(within(t), frame(w*window+i)); err != nil {
				t.Fatal(err)
			}
		}
	}
	if err := p.Finish(within(t)); err != nil {
		t.Fatal(err)
	}
	return p
}

func TestUnbroken(t *testing.T) {
	for _, compact := range []bool{false, true} {
		n := &notes{}
		c := config(n, newReplica(t, nil))
		c.Compact = compact
		play(t, c, 5, func(int) {})
		if got := n.swings(); !slices.Equal(got, expected(5)) {
			t.Errorf("compact %v: %v", compact, got)
		}
		if len(n.events()) != 5 {
			t.Errorf("events %v", n.events())
		}
	}
}

// TestKilledAgainAndAgain streams 200 swings while two replicas are killed and
// brought back at random instants; what comes out is what an unbroken run gives.
func TestKilledAgainAndAgain(t *testing.T) {
	const swings = 200
	replicas := []*replica{newReplica(t, nil), newReplica(t, nil)}
	n := &notes{}
	var mu sync.Mutex
	breaks := 0
	c := config(n, replicas...)
	c.Lost = func(error) { mu.Lock(); breaks++; mu.Unlock() }
	c.Batch = 5
	c.Tries = 1 << 20 // on a busy machine no frame may get through between many kills
	stop, stopped := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(stopped)
		r := rand.New(rand.NewPCG(4, 2))
		for {
			select {
			case <-stop:
				return
			case <-time.After(time.Duration(r.IntN(8)) * time.Millisecond):
			}
			victim := replicas[r.IntN(2)]
			victim.kill()
			time.Sleep(time.Duration(r.IntN(3)) * time.Millisecond)
			victim.start()
		}
	}()
	p := play(t, c, swings, func(w int) { // a break for every five swings at least
		for {
			mu.Lock()
			enough := breaks >= w/5
			mu.Unlock()
			if enough {
				return
			}
			time.Sleep(time.Millisecond)
		}
	})
	close(stop)
	<-stopped
	if got := n.swings(); !slices.Equal(got, expected(swings)) {
		t.Errorf("%d swings, want %d: %v", len(got), swings, got)
	}
	seen := map[int64]bool{}
	for _, at := range n.events() {
		seen[at] = true
	}
	if len(seen) != swings {
		t.Errorf("%d contacts, want %d", len(seen), swings)
	}
	if p.Kept() > window {
		t.Errorf("%d frames kept at the end", p.Kept())
	}
	t.Logf("%d breaks, %d contacts told", breaks, len(n.events()))
}

// TestRepeatedFramesTellNothingTwice breaks a stream when everything sent has
// been acknowledged: events of the frames sent again must not come again.
func TestRepeatedFramesTellNothingTwice(t *testing.T) {
	a, b := newReplica(t, nil), newReplica(t, nil)
	n := &notes{}
	p, err := Start(within(t), config(n, a, b))
	if err != nil {
		t.Fatal(err)
	}
	defer p.Close()
	for i := range 80 { // past the contact at 50, before the swing at 99
		if err := p.Send(within(t), frame(i)); err != nil {
			t.Fatal(err)
		}
	}
	for len(n.events()) == 0 || lastAck(n) < 80 {
		time.Sleep(time.Millisecond)
	}
	a.kill()
	for i := 80; i < 200; i++ {
		if err := p.Send(within(t), frame(i)); err != nil {
			t.Fatal(err)
		}
	}
	if err := p.Finish(within(t)); err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(n.swings(), expected(2)) || len(n.events()) != 2 {
		t.Errorf("swings %v, events %v", n.swings(), n.events())
	}
}

func lastAck(n *notes) (received uint32) {
	n.mu.Lock()
	defer n.mu.Unlock()
	for _, m := range n.all {
		if a := m.GetAck(); a != nil {
			received = a.Received
		}
	}
	return received
}

func TestStreamsThatReachALimitGoOn(t *testing.T) {
	r := newReplica(t, func(l *service.Limits) { l.StreamFrames = 450 })
	n := &notes{}
	play(t, config(n, r), 20, func(int) {})
	if got := n.swings(); !slices.Equal(got, expected(20)) {
		t.Errorf("%v", got)
	}
}

func TestWhatIsWrongIsNotTriedAgain(t *testing.T) {
	r := newReplica(t, nil)
	n := &notes{}
	c := config(n, r)
	c.Open = &pb.StreamPracticeRequest_Open{}
	p, err := Start(within(t), c)
	if err != nil {
		t.Fatal(err)
	}
	defer p.Close()
	if err := p.Finish(within(t)); status.Code(err) != codes.InvalidArgument {
		t.Errorf("%v", err)
	}
	if err := p.Send(within(t), frame(0)); err == nil {
		t.Error("sent after finish")
	}
}

func TestNobodyThereIsGivenUp(t *testing.T) {
	n := &notes{}
	c := config(n)
	c.Targets, c.Tries = []string{"127.0.0.1:1"}, 3
	p, err := Start(within(t), c)
	if err != nil {
		t.Fatal(err)
	}
	defer p.Close()
	if err := p.Finish(within(t)); status.Code(err) != codes.Unavailable {
		t.Errorf("%v", err)
	}
}

// TestAFullQueueWaits: while no server answers, Send must hold the caller and
// not memory.
func TestAFullQueueWaits(t *testing.T) {
	n := &notes{}
	c := config(n)
	c.Targets, c.Batch, c.Window, c.Keep = []string{"127.0.0.1:1"}, 4, 8, 50
	p, err := Start(within(t), c)
	if err != nil {
		t.Fatal(err)
	}
	defer p.Close()
	ctx, cancel := context.WithTimeout(within(t), 50*time.Millisecond)
	defer cancel()
	sent := 0
	for err == nil {
		if err = p.Send(ctx, frame(sent)); err == nil {
			sent++
		}
	}
	if sent != 50 || p.Kept() != 50 {
		t.Errorf("%d sent, %d kept", sent, p.Kept())
	}
}

func TestUnfitConfigurations(t *testing.T) {
	good := config(&notes{})
	good.Targets = []string{"x"}
	for name, spoil := range map[string]func(*Config){
		"no target": func(c *Config) { c.Targets = nil },
		"no open":   func(c *Config) { c.Open = nil },
		"no handle": func(c *Config) { c.Handle = nil },
		"batch":     func(c *Config) { c.Batch = 33 },
		"window":    func(c *Config) { c.Batch, c.Window = 8, 4 },
		"keep":      func(c *Config) { c.Window, c.Keep = 100, 50 },
		"tries":     func(c *Config) { c.Tries = -1 },
	} {
		c := good
		spoil(&c)
		if _, err := Start(within(t), c); err == nil {
			t.Errorf("%s: started", name)
		}
	}
}

// TestTheNextStreamIsToldOfThePast: swings before the frames that are sent
// again count, those that will be found again do not.
func TestTheNextStreamIsToldOfThePast(t *testing.T) {
	g := newGiven(&pb.StreamPracticeRequest_Open{SwingsSoFar: 10, RecentCues: []string{"old"}})
	for i, at := range []int64{100, 200, 300} {
		g.swing(&pb.Swing{
			Id:     fmt.Sprint(i),
			Events: []*pb.Event{{Kind: pb.EventKind_EVENT_KIND_CONTACT, TimeUs: at}},
			Cues:   []*pb.Cue{{Name: fmt.Sprint("cue", i)}},
		})
	}
	g.clock = &pb.SettledClock{SlowMotionFactor: 4}
	o := g.open(250)
	if o.GetClock().GetSlowMotionFactor() != 4 {
		t.Errorf("clock %v", o.GetClock())
	}
	if o.SwingsSoFar != 12 || strings.Join(o.RecentCues, " ") != "old cue0 cue1" {
		t.Errorf("%v", o)
	}
}

func TestNothingIsLeftBehind(t *testing.T) {
	t.Run("work", func(t *testing.T) {
		n := &notes{}
		play(t, config(n, newReplica(t, nil)), 1, func(int) {})
		p, err := Start(within(t), config(n, newReplica(t, nil)))
		if err != nil {
			t.Fatal(err)
		}
		if err := p.Send(within(t), frame(0)); err != nil {
			t.Fatal(err)
		}
		p.Close()
	})
	goleak.VerifyNone(t)
}
