package main

import (
	"bytes"
	"context"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service"
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/synth"
	"example.com/courtkin/service/wire"
)

// rally writes a made practice of two forehands as a clip.
func rally(t *testing.T) string {
	t.Helper()
	m := synth.NewPractice(synth.Practice{Spec: synth.Spec{Seed: 3, Hand: body.RightHanded}, Strokes: []body.Stroke{body.Forehand, body.Forehand}, Plain: true})
	clip := synth.Shoot(m, synth.World, synth.View{Layout: synth.COCO17}, 3)
	lines := []string{line(t, wire.AsSetup(&clip.Setup, pb.PointLayout_POINT_LAYOUT_COCO_17))}
	for i := range clip.Frames {
		lines = append(lines, line(t, wire.AsFrame(&clip.Frames[i], body.COCO17)))
	}
	return written(t, strings.Join(lines, "\n"))
}

func line(t *testing.T, m proto.Message) string {
	t.Helper()
	raw, err := protojson.Marshal(m)
	if err != nil {
		t.Fatal(err)
	}
	return string(raw)
}

func written(t *testing.T, text string) string {
	t.Helper()
	name := filepath.Join(t.TempDir(), "clip.ndjson")
	if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return name
}

// advising is the service with an advice of the test's own in place of its own.
type advising struct {
	*service.Server
	advise func(*pb.AdviseFeedRequest) (*pb.AdviseFeedResponse, error)
}

func (a *advising) AdviseFeed(ctx context.Context, req *pb.AdviseFeedRequest) (*pb.AdviseFeedResponse, error) {
	if a.advise == nil {
		return a.Server.AdviseFeed(ctx, req)
	}
	return a.advise(req)
}

// serve starts a service and returns its address.
func serve(t *testing.T, advise func(*pb.AdviseFeedRequest) (*pb.AdviseFeedResponse, error)) string {
	t.Helper()
	srv, err := service.New(service.Config{})
	if err != nil {
		t.Fatal(err)
	}
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	server := grpc.NewServer(srv.Options()...)
	pb.RegisterSwingAnalysisServiceServer(server, &advising{srv, advise})
	go func() { _ = server.Serve(listener) }()
	t.Cleanup(server.Stop)
	return listener.Addr().String()
}

// rigged runs the program.
func rigged(t *testing.T, args ...string) (status int, out, errs string) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	var o, e bytes.Buffer
	status = run(ctx, args, &o, &e)
	return status, o.String(), e.String()
}

// TestADrill: balls are fed while the player waits, and every advice shows that
// it is no safety interlock.
func TestADrill(t *testing.T) {
	status, out, errs := rigged(t, "-service", serve(t, nil), "-speed", "0", rally(t))
	if status != 0 {
		t.Fatalf("%d %s\n%s", status, errs, out)
	}
	advices, cautions := strings.Count(out, " s  FEED_ACTION_"), strings.Count(out, "safety interlock")
	if advices < 3 || cautions != advices {
		t.Errorf("%d advices, %d cautions", advices, cautions)
	}
	for _, want := range []string{"FEED_ACTION_FEED", "would feed: ", "FEED_ACTION_HOLD", "settled: STROKE_FOREHAND"} {
		if !strings.Contains(out, want) {
			t.Errorf("no %q in\n%s", want, out)
		}
	}
	if fed, balls := strings.Count(out, "FEED_ACTION_FEED"), strings.Count(out, "would feed: "); fed != balls {
		t.Errorf("%d balls on %d advices", balls, fed)
	}
}

// TestStopEndsTheDrill, and an advice without the service's caution gets ours.
func TestStopEndsTheDrill(t *testing.T) {
	address := serve(t, func(*pb.AdviseFeedRequest) (*pb.AdviseFeedResponse, error) {
		return &pb.AdviseFeedResponse{Action: pb.FeedAction_FEED_ACTION_STOP, Reason: "Enough."}, nil
	})
	status, out, _ := rigged(t, "-service", address, "-speed", "0", rally(t))
	if status != 0 || strings.Count(out, "Enough.") != 1 || !strings.Contains(out, noInterlock) || strings.Contains(out, "would feed") {
		t.Errorf("%d %s", status, out)
	}
}

// TestNoAnswerNoBall: an advice that fails lets no ball go.
func TestNoAnswerNoBall(t *testing.T) {
	asked := 0
	address := serve(t, func(*pb.AdviseFeedRequest) (*pb.AdviseFeedResponse, error) {
		asked++
		return nil, context.DeadlineExceeded
	})
	status, out, _ := rigged(t, "-service", address, "-speed", "0", rally(t))
	if status != 0 || asked < 2 || strings.Count(out, "no ball: ") != asked || strings.Contains(out, "would feed") {
		t.Errorf("%d, asked %d times: %s", status, asked, out)
	}
}

// TestTheServiceIsToldOfTheBall: what was fed comes with the next question.
func TestTheServiceIsToldOfTheBall(t *testing.T) {
	ball := &pb.Feed{SpeedMps: 12, Interval: least.Interval}
	var fed []uint32
	address := serve(t, func(req *pb.AdviseFeedRequest) (*pb.AdviseFeedResponse, error) {
		fed = append(fed, req.FeedsSoFar)
		if len(fed) > 1 && !proto.Equal(req.LastFeed, ball) {
			t.Errorf("last feed %v", req.LastFeed)
		}
		if span := req.Now[len(req.Now)-1].TimeUs - req.Now[0].TimeUs; span > keptFrames || span < keptFrames/2 {
			t.Errorf("%d µs of frames", span)
		}
		return &pb.AdviseFeedResponse{Action: pb.FeedAction_FEED_ACTION_FEED, Next: ball}, nil
	})
	if status, out, errs := rigged(t, "-service", address, "-speed", "0", rally(t)); status != 0 {
		t.Fatalf("%s\n%s", errs, out)
	}
	for i, n := range fed {
		if int(n) != i {
			t.Errorf("feeds so far %v", fed)
			break
		}
	}
	if len(fed) < 2 {
		t.Errorf("asked %d times", len(fed))
	}
}

func TestExitStatus(t *testing.T) {
	for _, c := range []struct {
		args   []string
		status int
		says   string
	}{
		{[]string{"-h"}, 0, "-service"},
		{nil, 2, "usage"},
		{[]string{"-speed", "-1", "x"}, 2, "usage"},
		{[]string{"nowhere.ndjson"}, 1, "nowhere.ndjson"},
		{[]string{written(t, "{}")}, 1, "no frames"},
		{[]string{written(t, "{}\n[]")}, 1, "syntax error"},
		{[]string{"-service", "127.0.0.1:1", "-speed", "0", rally(t)}, 1, "refused"},
	} {
		if status, _, errs := rigged(t, c.args...); status != c.status || !strings.Contains(errs, c.says) {
			t.Errorf("%v: %d %s", c.args, status, errs)
		}
	}
}
