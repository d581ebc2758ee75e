package main

import (
	"context"
	"fmt"
	"io"
	"slices"
	"sync"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/protobuf/types/known/durationpb"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/client"
)

// machine is what throws balls.
type machine interface {
	feed(ball *pb.Feed)
	hear(atUS int64, advice *pb.AdviseFeedResponse)
	say(format string, args ...any)
}

// What our invented machine can throw.
var (
	least = &pb.Feed{SpeedMps: 8, LateralM: -2, DepthM: 1, HeightM: 0.4, TopspinRps: -15, Interval: &durationpb.Duration{Seconds: 2}}
	most  = &pb.Feed{SpeedMps: 28, LateralM: 2, DepthM: 6, HeightM: 2, TopspinRps: 40, Interval: &durationpb.Duration{Seconds: 8}}
)

const (
	keptSwings = 10                     // the service judges how steady the last balls were
	keptFrames = 1_000_000              // µs: it looks at the last second
	askTime    = 500 * time.Millisecond // an answer that takes longer is about a player who has moved on
	startUS    = 1_000_000              // µs of frames before the first question
	silentUS   = 1_000_000              // µs to the next question when one was not answered
)

// rig streams, listens and asks.
type rig struct {
	machine  machine
	service  pb.SwingAnalysisServiceClient
	practice *client.Practice
	setup    *pb.Setup

	now   []*pb.Frame // the last second
	askUS int64       // when to ask next, on the frames' clock
	last  *pb.Feed
	fed   uint32

	mu     sync.Mutex // the practice's findings come from another goroutine
	swings []*pb.Swing
}

// play plays a clip to the service as if a camera saw it now.
func play(ctx context.Context, target string, speed float64, clip *pb.AnalyzeClipRequest, m machine) error {
	dial := grpc.WithTransportCredentials(insecure.NewCredentials()) // across a network: TLS and a key
	conn, err := grpc.NewClient(target, dial)
	if err != nil {
		return err
	}
	defer conn.Close()
	r := &rig{machine: m, service: pb.NewSwingAnalysisServiceClient(conn), setup: clip.Setup, askUS: clip.Frames[0].TimeUs + startUS}
	r.practice, err = client.Start(ctx, client.Config{
		Targets: []string{target}, Dial: []grpc.DialOption{dial},
		Open: &pb.StreamPracticeRequest_Open{Setup: clip.Setup}, Handle: r.hear,
		Lost:  func(err error) { m.say("connection lost, trying again: %v", err) },
		Tries: 5,
	})
	if err != nil {
		return err
	}
	defer r.practice.Close()
	begin := time.Now()
	for _, f := range clip.Frames {
		if speed > 0 {
			at := time.Duration(float64(f.TimeUs-clip.Frames[0].TimeUs)/speed) * time.Microsecond
			sleep(ctx, time.Until(begin.Add(at)))
		}
		more, err := r.see(ctx, f)
		if err != nil || !more {
			break // the reason of an error shows in Finish
		}
	}
	return r.practice.Finish(ctx)
}

func sleep(ctx context.Context, d time.Duration) {
	select {
	case <-time.After(d):
	case <-ctx.Done():
	}
}

// hear keeps the settled swings. It runs in the practice's goroutine.
func (r *rig) hear(m *pb.StreamPracticeResponse) {
	s := m.GetSwing()
	if s == nil {
		return
	}
	r.machine.say("settled: %v, %d cues", s.Stroke, len(s.Cues))
	r.mu.Lock()
	defer r.mu.Unlock()
	r.swings = append(r.swings, s)
	r.swings = r.swings[max(0, len(r.swings)-keptSwings):]
}

// see sends a frame on and asks when it is time; more is false when the drill
// is over.
func (r *rig) see(ctx context.Context, f *pb.Frame) (more bool, err error) {
	if err := r.practice.Send(ctx, f); err != nil {
		return false, err
	}
	r.now = append(r.now, f)
	old := 0
	for r.now[old].TimeUs < f.TimeUs-keptFrames {
		old++
	}
	r.now = r.now[old:]
	if f.TimeUs < r.askUS {
		return true, nil
	}
	advice, err := r.ask(ctx)
	if err != nil { // no answer, no ball
		r.machine.say("no ball: %v", err)
		r.askUS = f.TimeUs + silentUS
		return true, ctx.Err()
	}
	return r.follow(ctx, f.TimeUs, advice)
}

// ask asks what to do now.
func (r *rig) ask(ctx context.Context) (*pb.AdviseFeedResponse, error) {
	r.mu.Lock()
	recent := slices.Clone(r.swings)
	r.mu.Unlock()
	ctx, cancel := context.WithTimeout(ctx, askTime)
	defer cancel()
	return r.service.AdviseFeed(ctx, &pb.AdviseFeedRequest{
		Recent: recent, LastFeed: r.last, Least: least, Most: most,
		Player: r.setup.GetPlayer(), FeedsSoFar: r.fed, Now: r.now, Setup: r.setup,
	})
}

// follow does what was advised. After a ball the service is told of it.
func (r *rig) follow(ctx context.Context, nowUS int64, advice *pb.AdviseFeedResponse) (more bool, err error) {
	r.machine.hear(nowUS, advice)
	switch advice.Action {
	case pb.FeedAction_FEED_ACTION_FEED:
		r.machine.feed(advice.Next)
		r.last, r.fed = advice.Next, r.fed+1
		r.askUS = nowUS + advice.Next.GetInterval().AsDuration().Microseconds()
		return true, r.practice.Feed(ctx, nowUS)
	case pb.FeedAction_FEED_ACTION_STOP:
		return false, nil
	}
	r.askUS = nowUS + max(advice.RetryAfter.AsDuration().Microseconds(), silentUS/10)
	return true, nil
}

// noInterlock is said when the service's own caution is missing.
const noInterlock = "This is advice and no safety interlock."

// printed is a machine that only says what it would do.
// Its lines come from two goroutines.
type printed struct {
	mu  sync.Mutex
	out io.Writer
}

func (p *printed) say(format string, args ...any) {
	p.mu.Lock()
	defer p.mu.Unlock()
	fmt.Fprintf(p.out, format+"\n", args...)
}

// hear prints an advice with its cautions: they belong to every one.
func (p *printed) hear(atUS int64, advice *pb.AdviseFeedResponse) {
	p.say("%8.2f s  %v: %s", float64(atUS)/1e6, advice.Action, advice.Reason)
	if advice.Cue != nil {
		p.say("            say: %s", advice.Cue.Text)
	}
	for _, c := range advice.Cautions {
		p.say("            caution: %s", c.Text)
	}
	if !slices.ContainsFunc(advice.Cautions, func(c *pb.Cue) bool { return c.Name == "caution_feed_advice" }) {
		p.say("            caution: %s", noInterlock)
	}
}

func (p *printed) feed(b *pb.Feed) {
	p.say("            would feed: %.1f m/s, %+.1f m to the right, %.1f m in front of the baseline, %.1f m over the net, topspin %+.0f a second",
		b.SpeedMps, b.LateralM, b.DepthM, b.HeightM, b.TopspinRps)
}
