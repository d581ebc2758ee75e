package load

import (
	"context"
	"fmt"
	"math"
	"slices"

	"google.golang.org/protobuf/proto"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service"
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/synth"
	"example.com/courtkin/service/wire"
)

// Script is a made practice, ready to be played by any number of players: its
// frames are shared and never changed.
type Script struct {
	Setup  *pb.Setup
	Frames []*pb.Frame // one camera, in time order
	Swings []string    // ids that an unbroken run finds, in order
	Balls  int         // strokes that were made

	wire [][]byte // the frames as they are sent, each as an element of a batch
}

// Kind says what practices to make.
type Kind struct {
	Condition synth.Condition // World or Phone
	FPS       int             // frames a second; a whole fraction of what the condition films
	Seconds   float64         // length of a practice, about
	Count     int             // different practices
	Compact   bool            // the reference is of frames rounded as compact blocks round them
	Seed      uint64
}

// strokes are what a player hits, over and over, from another place in the
// list for each script.
var strokes = []body.Stroke{
	body.Forehand, body.TwoHandedBackhand, body.Forehand, body.SliceBackhand,
	body.Forehand, body.OneHandedBackhand, body.Serve, body.Forehand,
}

// ballEvery is the think time's aim: a ball every 4 s, as a ball machine at a
// common setting feeds (our own figure).
const ballEvery = 4.0 // s

// thinkTime is the waiting between recovery and the next stroke, s. A made
// stroke of this list lasts about 3.25 s with its recovery, so a ball comes
// every 4 s.
var thinkTime = [2]float64{0.3, 1.2}

// Scripts makes practices and finds what an unbroken run finds in each.
func Scripts(ctx context.Context, k Kind) ([]*Script, error) {
	srv, err := service.New(service.Config{})
	if err != nil {
		return nil, err
	}
	out := make([]*Script, k.Count)
	for i := range out {
		if out[i], err = script(k, i); err != nil {
			return nil, err
		}
		if err := out[i].refer(ctx, srv, k.Compact); err != nil {
			return nil, err
		}
		if err := out[i].encode(); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// script makes the i-th practice.
func script(k Kind, i int) (*Script, error) {
	hand := body.RightHanded
	if i%5 == 4 { // about as often as among players
		hand = body.LeftHanded
	}
	seed := k.Seed + uint64(i)*1009
	balls := max(1, int(math.Round(k.Seconds/ballEvery)))
	list := make([]body.Stroke, balls)
	for n := range list {
		list[n] = strokes[(i+n)%len(strokes)]
	}
	motion := synth.NewPractice(synth.Practice{
		Spec:    synth.Spec{Level: body.Intermediate, Hand: hand, Seed: seed},
		Strokes: list, Plain: true, Interval: thinkTime,
	})
	clip := synth.Shoot(motion, k.Condition, synth.View{Layout: synth.BlazePose33}, seed)
	thin := int(math.Round(clip.Rate)) / max(1, k.FPS)
	if thin < 1 || thin*k.FPS != int(math.Round(clip.Rate)) {
		return nil, fmt.Errorf("%d frames a second: must divide the %g that this capture films", k.FPS, clip.Rate)
	}
	s := &Script{Setup: wire.AsSetup(&clip.Setup, pb.PointLayout_POINT_LAYOUT_BLAZEPOSE_33), Balls: balls}
	for n := 0; n < len(clip.Frames); n += thin {
		f := wire.AsFrame(&clip.Frames[n], body.BlazePose33)
		f.Index = uint32(n / thin)
		s.Frames = append(s.Frames, f)
	}
	return s, nil
}

// refer notes what an unbroken run of the script finds.
func (s *Script) refer(ctx context.Context, srv *service.Server, compact bool) error {
	req := &pb.AnalyzeClipRequest{Setup: s.Setup, Frames: s.Frames}
	if compact {
		req.Frames = nil
		for part := range slices.Chunk(s.Frames, 32) {
			block, err := wire.Block(part, false)
			if err != nil {
				return err
			}
			req.Blocks = append(req.Blocks, block)
		}
	}
	res, err := srv.Analyze(ctx, req, func(int) {})
	if err != nil {
		return err
	}
	for _, w := range res.GetSwings() {
		s.Swings = append(s.Swings, w.GetId())
	}
	return nil
}

// seconds is how long the script plays.
func (s *Script) seconds() float64 {
	return float64(s.Frames[len(s.Frames)-1].GetTimeUs()-s.Frames[0].GetTimeUs()) / 1e6
}

// open is the message that opens a practice.
func (s *Script) open() *pb.StreamPracticeRequest_Open {
	return &pb.StreamPracticeRequest_Open{Setup: proto.CloneOf(s.Setup)}
}

// Silent returns the scripts without their swings, for a server that finds none.
func Silent(scripts []*Script) []*Script {
	out := make([]*Script, len(scripts))
	for i, s := range scripts {
		out[i] = &Script{Setup: s.Setup, Frames: s.Frames, Balls: s.Balls, wire: s.wire}
	}
	return out
}

// Summary tells of scripts what a reader of figures should know.
func Summary(scripts []*Script) (seconds float64, frames, balls, swings int) {
	for _, s := range scripts {
		seconds += s.seconds()
		frames += len(s.Frames)
		balls += s.Balls
		swings += len(s.Swings)
	}
	return seconds, frames, balls, swings
}
