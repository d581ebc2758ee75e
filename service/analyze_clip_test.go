package service

import (
	"context"
	"math"
	"testing"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/swing"
)

func TestClipIsAnsweredWhole(t *testing.T) {
	res, err := dial(t, withMetronome()).AnalyzeClip(within(t), &pb.AnalyzeClipRequest{
		Setup: &pb.Setup{Layout: pb.PointLayout_POINT_LAYOUT_NAMED, PointNames: []string{"nose", "tail"}}, Frames: frames(0, 250),
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(res.Swings) != 3 || res.Swings[0].Id != "swing-99" || res.Swings[2].Id != "swing-250" {
		t.Errorf("swings %v", res.Swings)
	}
	if len(res.Warnings) != 1 || res.Warnings[0].Code != "unknown_point_name" {
		t.Errorf("warnings %v", res.Warnings)
	}
}

func TestUnfitClips(t *testing.T) {
	nan := float32(math.NaN())
	spoiled := func(spoil func([]*pb.Frame)) []*pb.Frame { f := frames(0, 20); spoil(f); return f }
	cases := []struct {
		field string
		req   *pb.AnalyzeClipRequest
	}{
		{"setup", &pb.AnalyzeClipRequest{Frames: frames(0, 1)}},
		{"setup.layout", &pb.AnalyzeClipRequest{Setup: &pb.Setup{}, Frames: frames(0, 1)}},
		{"setup.layout", &pb.AnalyzeClipRequest{Setup: &pb.Setup{Layout: 9}, Frames: frames(0, 1)}},
		{"setup.cameras[0].width_px", &pb.AnalyzeClipRequest{Setup: &pb.Setup{Layout: 1, Cameras: []*pb.Camera{{}}}, Frames: frames(0, 1)}},
		{"frames", &pb.AnalyzeClipRequest{Setup: coco()}},
		{"frames[12].image", &pb.AnalyzeClipRequest{Setup: coco(), Frames: spoiled(func(f []*pb.Frame) { f[12].Image = []float32{1, 2, 3} })}},
		{"frames[12].world", &pb.AnalyzeClipRequest{Setup: coco(), Frames: spoiled(func(f []*pb.Frame) {
			f[12].World = make([]float32, 68)
			f[12].World[0], f[12].World[3] = nan, 1
		})}},
		{"frames[12].time_us", &pb.AnalyzeClipRequest{Setup: coco(), Frames: spoiled(func(f []*pb.Frame) { f[12].TimeUs = f[11].TimeUs })}},
		{"frames[12].index", &pb.AnalyzeClipRequest{Setup: coco(), Frames: spoiled(func(f []*pb.Frame) { f[12].Index = 3 })}},
		{"frames[12].camera", &pb.AnalyzeClipRequest{Setup: coco(), Frames: spoiled(func(f []*pb.Frame) { f[12].Camera = 1 })}},
		{"frames[12].camera", &pb.AnalyzeClipRequest{Setup: coco(), Frames: spoiled(func(f []*pb.Frame) { f[12] = &pb.Frame{Camera: 300} })}},
		{"blocks[1].frame[0].time_us", &pb.AnalyzeClipRequest{Setup: coco(), Blocks: []*pb.FrameBlock{{FirstIndex: 1, FirstTimeUs: 5}, {FirstIndex: 2, FirstTimeUs: 5}}}},
		{"blocks[0].image", &pb.AnalyzeClipRequest{Setup: coco(), Blocks: []*pb.FrameBlock{{Image: &pb.FrameColumn{Deltas: []int32{1}}}}}},
	}
	client := dial(t, Config{})
	for _, c := range cases {
		_, err := client.AnalyzeClip(within(t), c.req)
		wantInvalid(t, err, c.field)
	}
}

func TestIndexGapsAreNoFault(t *testing.T) {
	f := frames(0, 30)
	for i := range f {
		f[i].Index *= 7
	}
	if _, err := dial(t, withMetronome()).AnalyzeClip(within(t), &pb.AnalyzeClipRequest{Setup: coco(), Frames: f}); err != nil {
		t.Error(err)
	}
}

func TestTooManyFrames(t *testing.T) {
	c := withMetronome()
	c.Limits = DefaultLimits()
	c.Limits.ClipFrames, c.Limits.Messages = 100, 1000
	client := dial(t, c)
	if _, err := client.AnalyzeClip(within(t), &pb.AnalyzeClipRequest{Setup: coco(), Frames: frames(0, 100)}); err != nil {
		t.Error(err)
	}
	_, err := client.AnalyzeClip(within(t), &pb.AnalyzeClipRequest{Setup: coco(), Frames: frames(0, 101)})
	wantLimit(t, err, "clip_frames")
	_, err = client.AnalyzeClip(within(t), &pb.AnalyzeClipRequest{Setup: coco(), Blocks: []*pb.FrameBlock{
		{TimeStepsUs: make([]uint32, 31)}, {TimeStepsUs: make([]uint32, 31)}, {TimeStepsUs: make([]uint32, 31)}, {TimeStepsUs: make([]uint32, 31)},
	}})
	wantLimit(t, err, "clip_frames")
	_, err = client.AnalyzeClip(within(t), &pb.AnalyzeClipRequest{Setup: coco(), Frames: frames(0, 1001)})
	wantLimit(t, err, "messages")
}

func TestTenMillionFramesAreRefusedBeforeTheyAreDecoded(t *testing.T) {
	raw, err := proto.Marshal(&pb.AnalyzeClipRequest{Setup: coco()})
	if err != nil {
		t.Fatal(err)
	}
	for range 10_000_000 {
		raw = append(raw, 0x12, 0x00) // field 2, length 0
	}
	srv, err := New(withMetronome())
	if err != nil {
		t.Fatal(err)
	}
	req := &pb.AnalyzeClipRequest{}
	if err := srv.guard.Unmarshal(buffers(raw), req); err != nil {
		t.Fatal(err)
	}
	if len(req.Frames) != 0 {
		t.Errorf("%d frames were decoded", len(req.Frames))
	}
	wantLimit(t, statusError(srv.guard.refused(req)), "messages")
}

// TestAClipOf64MiBPasses sends a clip that is 64 MiB on the wire.
func TestAClipOf64MiBPasses(t *testing.T) {
	if testing.Short() {
		t.Skip("makes a clip of 64 MiB")
	}
	const size = 64 << 20
	req := &pb.AnalyzeClipRequest{Setup: coco(), Frames: frames(0, size/270)}
	for _, f := range req.Frames {
		f.World = make([]float32, 64+4)
	}
	for n := proto.Size(req); n < size; n = proto.Size(req) {
		for range max(1, (size-n)/280) {
			last := req.Frames[len(req.Frames)-1]
			req.Frames = append(req.Frames, &pb.Frame{Index: last.Index + 1, TimeUs: last.TimeUs + 16_667, World: last.World})
		}
	}
	res, err := dial(t, withMetronome()).AnalyzeClip(within(t), req)
	if err != nil {
		t.Fatal(err)
	}
	if want := (len(req.Frames) + 99) / 100; len(res.Swings) != want {
		t.Errorf("%d swings of %d frames, want %d", len(res.Swings), len(req.Frames), want)
	}
}

func TestAClipWhoseCallerIsGoneIsGivenUp(t *testing.T) {
	srv, err := New(withMetronome())
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	seen := 0
	_, err = srv.Analyze(ctx, &pb.AnalyzeClipRequest{Setup: coco(), Frames: frames(0, 10*clipChunk)}, func(done int) {
		seen = done
		cancel()
	})
	if status.Code(statusError(err)) != codes.Canceled || seen != clipChunk {
		t.Errorf("%v after %d frames", err, seen)
	}
}

// failing is a machine that breaks.
type failing struct{ metronome }

func (*failing) Push(*body.Frame, swing.Sink) error { panic("a defect") }

func TestAPanicIsAnInternalError(t *testing.T) {
	c := Config{NewMachine: func(swing.Setup) (Machine, error) { return &failing{}, nil }}
	client := dial(t, c)
	_, err := client.AnalyzeClip(within(t), &pb.AnalyzeClipRequest{Setup: coco(), Frames: frames(0, 1)})
	if status.Code(err) != codes.Internal {
		t.Errorf("%v", err)
	}
	if a := converse(t, client, open(coco()), batch(frames(0, 1))); status.Code(a.err) != codes.Internal {
		t.Errorf("%v", a.err)
	}
}

// picky is a machine that takes neither a setup with a camera nor a second frame.
type picky struct{ metronome }

func newPicky(s swing.Setup) (Machine, error) {
	if len(s.Cameras) > 0 {
		return nil, &swing.SetupError{Field: "cameras[0].focal_px", Reason: "r"}
	}
	return &picky{}, nil
}

func (p *picky) Push(f *body.Frame, to swing.Sink) error {
	if p.n > 0 {
		return &swing.FrameError{Index: f.Index, Field: "world", Reason: "r"}
	}
	return p.metronome.Push(f, to)
}

func TestMachinesErrorsKeepTheirFields(t *testing.T) {
	client := dial(t, Config{NewMachine: newPicky})
	withCamera := coco()
	withCamera.Cameras = []*pb.Camera{{WidthPx: 1, HeightPx: 1}}
	_, err := client.AnalyzeClip(within(t), &pb.AnalyzeClipRequest{Setup: withCamera, Frames: frames(0, 1)})
	wantInvalid(t, err, "setup.cameras[0].focal_px")
	wantInvalid(t, converse(t, client, open(withCamera)).err, "open.setup.cameras[0].focal_px")
	_, err = client.AnalyzeClip(within(t), &pb.AnalyzeClipRequest{Setup: coco(), Frames: frames(0, 2)})
	wantInvalid(t, err, "frames[1].world")
	wantInvalid(t, converse(t, client, open(coco()), batch(frames(0, 1)), batch(frames(1, 1))).err, "frames.frames[0].world")
}
