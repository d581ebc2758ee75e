package wire

import (
	"encoding/base64"
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	pb "example.com/courtkin/proto/courtkin/v1"
)

// moving returns n frames of 17 image and world points on a person who walks
// and swings, with an estimator's noise, at 60 Hz; racket and ball come and go.
func moving(n int, seed uint64) []*pb.Frame {
	r := rand.New(rand.NewPCG(seed, 1))
	frames := make([]*pb.Frame, n)
	for i := range frames {
		t := float64(i) / 60
		f := &pb.Frame{Index: uint32(i), TimeUs: int64(1e6*t) + r.Int64N(500)}
		for p := range 17 {
			x, y := 800+200*math.Sin(t+float64(p)), 500+150*math.Cos(2*t+float64(p))
			score := 0.9 + 0.05*r.NormFloat64()
			if r.IntN(20) == 0 {
				score = 0
			}
			f.Image = append(f.Image, float32(x+2*r.NormFloat64()), float32(y+2*r.NormFloat64()), float32(score))
			f.World = append(f.World, float32(x/300+.005*r.NormFloat64()), float32(y/300+.005*r.NormFloat64()), float32(.005*r.NormFloat64()), float32(score))
		}
		if i%3 > 0 {
			f.RacketImage = []float32{float32(900 + 20*t), 300, 0.7, 880, 350, 0.004}
		}
		frames[i] = f
	}
	return frames
}

func TestBlockComesBackWithinItsSteps(t *testing.T) {
	for _, forJSON := range []bool{false, true} {
		frames := moving(MaxBlock, 3)
		frames[7].Index += 0
		b, err := Block(frames, forJSON)
		if err != nil {
			t.Fatal(err)
		}
		back, err := Unblock(b, "blocks[0]")
		if err != nil {
			t.Fatal(err)
		}
		for i, f := range frames {
			if back[i].Index != f.Index || back[i].TimeUs != f.TimeUs {
				t.Fatalf("frame %d at %d came back as %d at %d", f.Index, f.TimeUs, back[i].Index, back[i].TimeUs)
			}
			sameWithin(t, "image", f.Image, back[i].Image, 3, DefaultImageStep/2)
			sameWithin(t, "world", f.World, back[i].World, 4, DefaultWorldStep/2)
			if len(f.RacketImage) > 0 {
				sameWithin(t, "racket", f.RacketImage, back[i].RacketImage, 3, DefaultImageStep/2)
			} else if back[i].RacketImage[2] != 0 {
				t.Fatal("a racket was made up")
			}
		}
	}
}

// sameWithin compares lists: seen points within tol, scores within half a
// hundredth or at the least one, points not seen as such.
func sameWithin(t *testing.T, name string, want, got []float32, each int, tol float64) {
	t.Helper()
	for i := 0; i < len(want); i += each {
		score, back := float64(want[i+each-1]), float64(got[i+each-1])
		if (score == 0) != (back == 0) || !near(back, score, 0.0051) && !near(back, 0.01, 1e-6) {
			t.Fatalf("%s: score %v came back as %v", name, score, back)
		}
		for k := range each - 1 {
			if score > 0 && !near(float64(got[i+k]), float64(want[i+k]), tol*1.001) {
				t.Fatalf("%s: %v came back as %v", name, want[i+k], got[i+k])
			}
		}
	}
}

// TestBlockIsAThird holds blocks to what they are for: at 8 frames a message
// about a third of the bytes of plain frames, in protobuf and in JSON.
func TestBlockIsAThird(t *testing.T) {
	frames := moving(8, 5)
	size := func(b *pb.StreamPracticeRequest_FrameBatch, json bool) float64 {
		m := &pb.StreamPracticeRequest{Message: &pb.StreamPracticeRequest_Frames{Frames: b}}
		if !json {
			return float64(proto.Size(m))
		}
		raw, err := protojson.Marshal(m)
		if err != nil {
			t.Fatal(err)
		}
		return float64(len(raw))
	}
	for _, json := range []bool{false, true} {
		b, err := Block(frames, json)
		if err != nil {
			t.Fatal(err)
		}
		plain := size(&pb.StreamPracticeRequest_FrameBatch{Frames: frames}, json)
		block := size(&pb.StreamPracticeRequest_FrameBatch{Blocks: []*pb.FrameBlock{b}}, json)
		t.Logf("json %v: plain %.0f B, block %.0f B: %.2f", json, plain, block, block/plain)
		if block/plain > 0.36 {
			t.Errorf("json %v: a block takes %.2f of the bytes", json, block/plain)
		}
	}
}

func TestBlockKeepsGaps(t *testing.T) {
	frames := moving(5, 9)
	frames[3].Index, frames[4].Index = 10, 12
	b, err := Block(frames, false)
	if err != nil {
		t.Fatal(err)
	}
	back, err := Unblock(b, "b")
	if err != nil {
		t.Fatal(err)
	}
	if back[2].Index != 2 || back[3].Index != 10 || back[4].Index != 12 {
		t.Errorf("indices %d %d %d", back[2].Index, back[3].Index, back[4].Index)
	}
}

// TestStepsWidenForWhatIsFar: a ball 40 m off does not fit 16 bits of millimetres.
func TestStepsWidenForWhatIsFar(t *testing.T) {
	b, err := Block([]*pb.Frame{{BallWorld: []float32{40.001, 1, -2, 1}, BallImage: []float32{5000, 1, 1}}}, true)
	if err != nil {
		t.Fatal(err)
	}
	f, err := Unblock(b, "b")
	if err != nil {
		t.Fatal(err)
	}
	if b.WorldStepM != 0.002 || b.ImageStepPx != 0.25 || !near(float64(f[0].BallWorld[0]), 40.001, 0.0011) || f[0].BallImage[0] != 5000 {
		t.Errorf("steps %g, %g: %v", b.WorldStepM, b.ImageStepPx, f[0])
	}
}

// TestBlockFromAnotherClient reads a block as a page would write it by hand:
// one point, two frames, 16-bit numbers in base64.
func TestBlockFromAnotherClient(t *testing.T) {
	raw := []byte{0x10, 0, 0xf8, 0xff, 90, 0, 0x18, 0, 0, 1, 0, 0}
	b := &pb.FrameBlock{}
	text := `{"firstTimeUs":"1000","timeStepsUs":[20],"imageStepPx":0.5,"ballImage":{"steps":"` + base64.StdEncoding.EncodeToString(raw) + `"}}`
	if err := protojson.Unmarshal([]byte(text), b); err != nil {
		t.Fatal(err)
	}
	f, err := Unblock(b, "b")
	if err != nil {
		t.Fatal(err)
	}
	want := [][]float32{{8, -4, 0.9}, {12, 128, 0}}
	for i := range want {
		for k := range want[i] {
			if f[i].BallImage[k] != want[i][k] {
				t.Errorf("frame %d: %v, want %v", i, f[i].BallImage, want[i])
			}
		}
	}
}

func TestUnblockNamesTheUnfitField(t *testing.T) {
	cases := []struct {
		field string
		block *pb.FrameBlock
	}{
		{"blocks[2].image_step_px", &pb.FrameBlock{ImageStepPx: math.NaN()}},
		{"blocks[2].image_step_px", &pb.FrameBlock{ImageStepPx: 1e9}},
		{"blocks[2].world_step_m", &pb.FrameBlock{WorldStepM: -1}},
		{"blocks[2].index_steps", &pb.FrameBlock{TimeStepsUs: []uint32{1, 1}, IndexSteps: []uint32{1}}},
		{"blocks[2].index_steps", &pb.FrameBlock{FirstIndex: math.MaxUint32, TimeStepsUs: []uint32{1}}},
		{"blocks[2].first_time_us", &pb.FrameBlock{FirstTimeUs: math.MaxInt64}},
		{"blocks[2].image", &pb.FrameBlock{Image: &pb.FrameColumn{Deltas: []int32{1, 2}}}},
		{"blocks[2].image", &pb.FrameBlock{Image: &pb.FrameColumn{Deltas: []int32{1, 2, 3}, Steps: []byte{1, 2}}}},
		{"blocks[2].world", &pb.FrameBlock{TimeStepsUs: []uint32{1}, World: &pb.FrameColumn{Deltas: make([]int32, 12)}}},
		{"blocks[2].ball_image.steps", &pb.FrameBlock{BallImage: &pb.FrameColumn{Steps: []byte{1, 2, 3}}}},
	}
	for _, c := range cases {
		_, err := Unblock(c.block, "blocks[2]")
		wantField(t, err, c.field)
	}
	for name, b := range map[string]*pb.FrameBlock{
		"frames_per_block": {TimeStepsUs: make([]uint32, MaxBlock)},
		"points_per_frame": {Image: &pb.FrameColumn{Deltas: make([]int32, 3*(MaxPointNames+1))}},
	} {
		_, err := Unblock(b, "b")
		var limit *LimitError
		if !errors.As(err, &limit) || limit.Limit != name {
			t.Errorf("%v, want limit %s", err, name)
		}
	}
}

func TestBlockRefusesWhatDoesNotFit(t *testing.T) {
	for name, frames := range map[string][]*pb.Frame{
		"none":        {},
		"too many":    moving(MaxBlock+1, 1),
		"two cameras": {{TimeUs: 1}, {Camera: 1, Index: 1, TimeUs: 2}},
		"same time":   {{TimeUs: 1}, {Index: 1, TimeUs: 1}},
		"back":        {{Index: 5, TimeUs: 1}, {Index: 4, TimeUs: 2}},
		"NaN":         {{BallImage: []float32{float32(math.NaN()), 0, 1}}},
		"huge":        {{BallImage: []float32{1e30, 0, 1}}},
		"odd list":    {{BallImage: []float32{1, 0}}},
	} {
		if _, err := Block(frames, false); err == nil {
			t.Errorf("%s: packed", name)
		}
	}
	if _, err := Block([]*pb.Frame{{BallImage: []float32{1e9, 0, 1}}}, true); err == nil {
		t.Error("1e9 px fit no step")
	}
}

// FuzzUnblock: no bytes may make the decoder panic or return more frames than
// a block holds, and what it returns must pass or fail the frame decoder.
func FuzzUnblock(f *testing.F) {
	for _, forJSON := range []bool{false, true} {
		b, err := Block(moving(4, 2), forJSON)
		if err != nil {
			f.Fatal(err)
		}
		raw, err := proto.Marshal(b)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(raw)
	}
	f.Fuzz(func(t *testing.T, raw []byte) {
		b := &pb.FrameBlock{}
		if proto.Unmarshal(raw, b) != nil {
			return
		}
		frames, err := Unblock(b, "blocks[0]")
		if err != nil {
			return
		}
		if len(frames) == 0 || len(frames) > MaxBlock {
			t.Fatalf("%d frames", len(frames))
		}
		decodeAll(t, frames)
	})
}

// FuzzFrame: no frame may make the decoder panic or let a number through that
// the machine would refuse.
func FuzzFrame(f *testing.F) {
	raw, err := proto.Marshal(moving(1, 1)[0])
	if err != nil {
		f.Fatal(err)
	}
	f.Add(raw)
	f.Fuzz(func(t *testing.T, raw []byte) {
		m := &pb.Frame{}
		if proto.Unmarshal(raw, m) == nil {
			decodeAll(t, []*pb.Frame{m})
		}
	})
}
