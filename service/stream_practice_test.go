package service

import (
	"context"
	"sync/atomic"
	"testing"
	"time"

	"go.uber.org/goleak"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/wire"
)

func TestStreamFromOpenToFinish(t *testing.T) {
	a := converse(t, dial(t, withMetronome()), open(coco()), batch(frames(0, 60)), batch(frames(60, 60)), finish(120))
	if a.err != nil {
		t.Fatal(a.err)
	}
	if a.all[0].GetOpened().GetServerVersion() != "dev" {
		t.Errorf("first answer %v", a.all[0])
	}
	if s := a.swings(); len(s) != 2 || s[0].Id != "swing-99" || s[1].Id != "swing-120" {
		t.Errorf("swings %v", s)
	}
	acks := a.acks()
	if len(acks) != 2 || acks[0].Received != 60 || acks[0].KeepFrom != 9 || acks[1].Received != 120 || acks[1].KeepFrom != 69 {
		t.Errorf("acks %v", acks)
	}
	if c := acks[1].GetClock(); c.GetSlowMotionFactor() != 4 || c.GetSd() != 0.5 {
		t.Errorf("clock %v", c)
	}
	events, withdrawn, readings := 0, 0, 0
	for _, m := range a.all {
		switch {
		case m.GetEvent().GetCertainty() == pb.Certainty_CERTAINTY_PROVISIONAL:
			events++
		case m.GetEvent().GetCertainty() == pb.Certainty_CERTAINTY_WITHDRAWN:
			withdrawn++
		case m.GetReading() != nil:
			readings++
		}
	}
	// 120 frames: an event every 10, each second one withdrawn; 2 s of readings at ten a second.
	if events != 6 || withdrawn != 6 || readings < 18 || readings > 22 {
		t.Errorf("%d events, %d withdrawn, %d readings", events, withdrawn, readings)
	}
}

// TestAnswersFlowWhileFramesCome: the answer to a batch must not wait for the next.
func TestAnswersFlowWhileFramesCome(t *testing.T) {
	stream, err := dial(t, withMetronome()).StreamPractice(within(t))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := stream.Header(); err != nil { // sent before anything was asked
		t.Fatal(err)
	}
	if err := stream.Send(open(coco())); err != nil {
		t.Fatal(err)
	}
	if m, err := stream.Recv(); err != nil || m.GetOpened() == nil {
		t.Fatalf("%v %v", m, err)
	}
	for i := range 5 {
		if err := stream.Send(batch(frames(i, 1))); err != nil {
			t.Fatal(err)
		}
		for {
			m, err := stream.Recv()
			if err != nil {
				t.Fatal(err)
			}
			if ack := m.GetAck(); ack != nil {
				if ack.Received != uint32(i+1) {
					t.Fatalf("ack %v", ack)
				}
				break
			}
		}
	}
}

func TestHowStreamsEnd(t *testing.T) {
	client := dial(t, withMetronome())
	all := []*pb.StreamPracticeRequest{open(coco()), batch(frames(0, 150))}
	with := func(m ...*pb.StreamPracticeRequest) []*pb.StreamPracticeRequest { return append(all[:2:2], m...) }
	cases := []struct {
		name   string
		send   []*pb.StreamPracticeRequest
		swings int // sent all the same
		check  func(*testing.T, error)
	}{
		{"finish without counts", with(finish()), 2, func(t *testing.T, err error) {
			if err != nil {
				t.Error(err)
			}
		}},
		{"cut off", with(), 1, func(t *testing.T, err error) { wantLost(t, err, ReasonCutOff) }},
		{"frames lost", with(finish(151)), 2, func(t *testing.T, err error) { wantLost(t, err, ReasonFramesLost) }},
		{"frames too many", with(finish(149)), 2, func(t *testing.T, err error) { wantInvalid(t, err, "finish.frames[0]") }},
		{"counts of two cameras", with(finish(150, 0)), 2, func(t *testing.T, err error) { wantInvalid(t, err, "finish.frames") }},
		{"unfit frame", with(batch(append(frames(150, 60), &pb.Frame{Index: 1}))), 2, func(t *testing.T, err error) { wantInvalid(t, err, "frames.frames[60].time_us") }},
		{"unfit block", with(&pb.StreamPracticeRequest{Message: &pb.StreamPracticeRequest_Frames{Frames: &pb.StreamPracticeRequest_FrameBatch{
			Blocks: []*pb.FrameBlock{{WorldStepM: -1}}}}}), 1, func(t *testing.T, err error) { wantInvalid(t, err, "frames.blocks[0].world_step_m") }},
		{"opened twice", with(open(coco())), 1, func(t *testing.T, err error) { wantInvalid(t, err, "open") }},
		{"empty message", with(&pb.StreamPracticeRequest{}), 1, func(t *testing.T, err error) { wantInvalid(t, err, "message") }},
		{"feed out of range", with(&pb.StreamPracticeRequest{Message: &pb.StreamPracticeRequest_Feed{
			Feed: &pb.StreamPracticeRequest_FeedNotice{TimeUs: 1 << 60}}}), 1, func(t *testing.T, err error) { wantInvalid(t, err, "feed.time_us") }},
		{"too large a batch", with(batch(frames(150, 4097))), 1, func(t *testing.T, err error) { wantLimit(t, err, "batch_frames") }},
		{"nothing", nil, 0, func(t *testing.T, err error) { wantLost(t, err, ReasonCutOff) }},
		{"frames first", []*pb.StreamPracticeRequest{batch(frames(0, 1))}, 0, func(t *testing.T, err error) { wantInvalid(t, err, "open") }},
		{"unfit clock", []*pb.StreamPracticeRequest{{Message: &pb.StreamPracticeRequest_Open_{Open: &pb.StreamPracticeRequest_Open{
			Setup: coco(), Clock: &pb.SettledClock{SlowMotionFactor: -1}}}}}, 0, func(t *testing.T, err error) {
			wantInvalid(t, err, "open.clock.slow_motion_factor")
		}},
		{"no setup", []*pb.StreamPracticeRequest{open(nil)}, 0, func(t *testing.T, err error) { wantInvalid(t, err, "open.setup") }},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			a := converse(t, client, c.send...)
			c.check(t, a.err)
			if n := len(a.swings()); n != c.swings {
				t.Errorf("%d swings were sent, want %d", n, c.swings)
			}
		})
	}
}

func TestStreamLimits(t *testing.T) {
	limited := func(set func(*Limits)) pb.SwingAnalysisServiceClient {
		c := withMetronome()
		c.Limits = DefaultLimits()
		set(&c.Limits)
		return dial(t, c)
	}
	t.Run("idle", func(t *testing.T) {
		stream, err := limited(func(l *Limits) { l.IdleTime = 50 * time.Millisecond }).StreamPractice(within(t))
		if err != nil {
			t.Fatal(err)
		}
		_, err = stream.Recv()
		wantLimit(t, err, "idle_time")
	})
	t.Run("length", func(t *testing.T) {
		stream, err := limited(func(l *Limits) { l.StreamTime = 50 * time.Millisecond }).StreamPractice(within(t))
		if err != nil {
			t.Fatal(err)
		}
		_, err = stream.Recv()
		wantLimit(t, err, "stream_time")
	})
	t.Run("frames", func(t *testing.T) {
		a := converse(t, limited(func(l *Limits) { l.StreamFrames = 100 }), open(coco()), batch(frames(0, 100)), batch(frames(100, 1)))
		wantLimit(t, a.err, "stream_frames")
		if len(a.swings()) != 1 {
			t.Error("the swing before is lost")
		}
	})
	t.Run("bytes", func(t *testing.T) {
		a := converse(t, limited(func(l *Limits) { l.BatchBytes = 1000 }), open(coco()), batch(frames(0, 500)))
		wantLimit(t, a.err, "batch_bytes")
	})
	t.Run("streams", func(t *testing.T) {
		client := limited(func(l *Limits) { l.Streams = 1 })
		first, err := client.StreamPractice(within(t))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := first.Header(); err != nil {
			t.Fatal(err)
		}
		a := converse(t, client, open(coco()))
		wantLimit(t, a.err, "streams")
	})
	t.Run("slow reader", func(t *testing.T) {
		stream, err := limited(func(l *Limits) { l.SendTime = 100 * time.Millisecond }).StreamPractice(within(t))
		if err != nil {
			t.Fatal(err)
		}
		if err := stream.Send(open(coco())); err != nil {
			t.Fatal(err)
		}
		// Nothing is read: the server must hold the sender, and then let go.
		var sent atomic.Int64
		go func() {
			for i := 0; stream.Send(batch(frames(100*i, 100))) == nil; i++ {
				sent.Add(100)
			}
		}()
		for last := int64(-1); sent.Load() != last || last == 0; time.Sleep(300 * time.Millisecond) {
			if last = sent.Load(); last > 1_000_000 {
				t.Fatal("a million frames were taken from a client that reads nothing")
			}
		}
		for err == nil {
			_, err = stream.Recv()
		}
		wantLimit(t, err, "send_time")
	})
}

func TestStreamsLeaveNothingBehind(t *testing.T) {
	t.Run("work", func(t *testing.T) {
		client := dial(t, withMetronome())
		converse(t, client, open(coco()), batch(frames(0, 10)), finish(10))
		converse(t, client, open(coco()), batch(frames(0, 10)))
		converse(t, client, batch(frames(0, 10)))
		ctx, cancel := context.WithCancel(within(t))
		stream, err := client.StreamPractice(ctx)
		if err != nil {
			t.Fatal(err)
		}
		if err := stream.Send(open(coco())); err != nil {
			t.Fatal(err)
		}
		if _, err := stream.Recv(); err != nil {
			t.Fatal(err)
		}
		cancel()
		if _, err := stream.Recv(); status.Code(err) != codes.Canceled {
			t.Error(err)
		}
	})
	goleak.VerifyNone(t)
}

// TestBlocksAndFramesGiveTheSame sends the same frames plainly and as blocks.
func TestBlocksAndFramesGiveTheSame(t *testing.T) {
	b, err := wire.Block(frames(0, 32), false)
	if err != nil {
		t.Fatal(err)
	}
	m := batch(nil)
	m.GetFrames().Blocks = []*pb.FrameBlock{b}
	client := dial(t, withMetronome())
	plain, block := converse(t, client, open(coco()), batch(frames(0, 32)), finish(32)), converse(t, client, open(coco()), m, finish(32))
	if plain.err != nil || block.err != nil || len(plain.all) != len(block.all) {
		t.Errorf("%v, %v; %d answers, %d", plain.err, block.err, len(plain.all), len(block.all))
	}
}

// TestPastCuesAreTakenOver: cues given before a new connection
// are not given again at once.
func TestPastCuesAreTakenOver(t *testing.T) {
	srv, err := New(withMetronome())
	if err != nil {
		t.Fatal(err)
	}
	recent := make([]string, 100)
	recent[99] = "last"
	out := newOutbox(sink{}, time.Second)
	p, err := srv.begin(t.Context(), &pb.StreamPracticeRequest_Open{Setup: coco(), RecentCues: recent, SwingsSoFar: 7}, out)
	if err != nil {
		t.Fatal(err)
	}
	if err := out.flush(); err != nil {
		t.Error(err)
	}
	if h := p.history; len(h.Recent) != maxRecent || h.Recent[maxRecent-1] != "last" || h.SwingsSoFar != 7 {
		t.Errorf("history %+v", h)
	}
	_, err = srv.begin(t.Context(), &pb.StreamPracticeRequest_Open{Setup: coco(), RecentCues: make([]string, maxOpenCues+1)}, nil)
	wantLimit(t, statusError(err), "recent_cues")
}

// sink is a stream that takes everything.
type sink struct{ practiceStream }

func (sink) Send(*pb.StreamPracticeResponse) error { return nil }
func (sink) Context() context.Context              { return context.Background() }
