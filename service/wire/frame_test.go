package wire

import (
	"errors"
	"math"
	"strings"
	"testing"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/body"
)

func cocoDecoder(t testing.TB) *Decoder {
	t.Helper()
	in, err := Setup(&pb.Setup{Layout: pb.PointLayout_POINT_LAYOUT_COCO_17}, "setup")
	if err != nil {
		t.Fatal(err)
	}
	return NewDecoder(&in)
}

// cocoImage is a list of 17 points, point i at (10i, 20i) with score 0.5.
func cocoImage() []float32 {
	var out []float32
	for i := range 17 {
		out = append(out, float32(10*i), float32(20*i), 0.5)
	}
	return out
}

func cocoWorld() []float32 {
	var out []float32
	for i := range 17 {
		out = append(out, float32(i)/10, float32(i)/20, float32(i)/30, 0.5)
	}
	return out
}

func TestFramePutsPointsInTheirPlaces(t *testing.T) {
	var f body.Frame
	err := cocoDecoder(t).Frame(&pb.Frame{
		Index: 4, TimeUs: -7, Image: cocoImage(), World: cocoWorld(),
		RacketImage: []float32{1, 2, 1, 3, 4, 0.5}, RacketWorld: []float32{1, 2, 3, 1.25},
		BallImage: []float32{9, 8, 1}, BallWorld: []float32{float32(math.NaN()), 0, 0, 0},
	}, "frames", 0, &f)
	if err != nil {
		t.Fatal(err)
	}
	if f.Index != 4 || f.TimeUS != -7 || f.Image[body.RightWrist] != (body.Seen2{X: 100, Y: 200, Score: 0.5}) {
		t.Errorf("frame %d at %d, right wrist %v", f.Index, f.TimeUS, f.Image[body.RightWrist])
	}
	if f.World[body.LeftAnkle] != (body.Seen3{X: 1.5, Y: 0.75, Z: 0.5, Score: 0.5}) {
		t.Errorf("left ankle %v", f.World[body.LeftAnkle])
	}
	if f.Image[body.RacketThroat] != (body.Seen2{X: 3, Y: 4, Score: 0.5}) || f.Image[body.RacketButt].Score != 0 {
		t.Errorf("racket %v %v", f.Image[body.RacketThroat], f.Image[body.RacketButt])
	}
	if f.World[body.RacketTip].Score != 1 { // a score above 1 counts as 1
		t.Errorf("tip score %v", f.World[body.RacketTip].Score)
	}
	if f.World[body.Ball].Score != 0 { // not seen: its coordinates are void
		t.Errorf("ball %v", f.World[body.Ball])
	}
}

func TestFrameNamesTheUnfitField(t *testing.T) {
	nan := float32(math.NaN())
	cases := []struct {
		field string
		frame *pb.Frame
	}{
		{"frames[12].image", &pb.Frame{Image: []float32{1, 2}}},
		{"frames[12].image", &pb.Frame{Image: append(cocoImage(), 1, 2, 3)}},
		{"frames[12].image", &pb.Frame{Image: with(cocoImage(), 4, nan)}},
		{"frames[12].image", &pb.Frame{Image: with(cocoImage(), 4, float32(math.Inf(1)))}},
		{"frames[12].image", &pb.Frame{Image: with(cocoImage(), 4, 1e30)}},
		{"frames[12].image", &pb.Frame{Image: with(cocoImage(), 5, nan)}},
		{"frames[12].image", &pb.Frame{Image: with(cocoImage(), 5, -1)}},
		{"frames[12].world", &pb.Frame{World: cocoWorld()[:64]}},
		{"frames[12].world", &pb.Frame{World: with(cocoWorld(), 6, nan)}},
		{"frames[12].world", &pb.Frame{World: with(cocoWorld(), 7, float32(math.Inf(-1)))}},
		{"frames[12].racket_image", &pb.Frame{RacketImage: []float32{1, 2}}},
		{"frames[12].racket_image", &pb.Frame{RacketImage: make([]float32, 18)}},
		{"frames[12].racket_world", &pb.Frame{RacketWorld: []float32{nan, 0, 0, 1}}},
		{"frames[12].ball_image", &pb.Frame{BallImage: make([]float32, 6)}},
		{"frames[12].ball_world", &pb.Frame{BallWorld: make([]float32, 3)}},
		{"frames[12].camera", &pb.Frame{Camera: 1}},
		{"frames[12].camera", &pb.Frame{Camera: 1 << 31}},
		{"frames[12].time_us", &pb.Frame{TimeUs: math.MaxInt64}},
		{"frames[12].time_us", &pb.Frame{TimeUs: math.MinInt64}},
	}
	for _, c := range cases {
		var f body.Frame
		wantField(t, cocoDecoder(t).Frame(c.frame, "frames", 12, &f), c.field)
	}
}

// with returns v with element i set to x.
func with(v []float32, i int, x float32) []float32 { v[i] = x; return v }

func TestTimeAndIndexRiseForEachCamera(t *testing.T) {
	in, err := Setup(&pb.Setup{
		Layout:  pb.PointLayout_POINT_LAYOUT_COCO_17,
		Cameras: []*pb.Camera{{WidthPx: 1, HeightPx: 1}, {WidthPx: 1, HeightPx: 1}},
	}, "setup")
	if err != nil {
		t.Fatal(err)
	}
	d := NewDecoder(&in)
	var out body.Frame
	for i, f := range []*pb.Frame{
		{Index: 5, TimeUs: 100}, {Index: 9, TimeUs: 200}, {Camera: 1, Index: 0, TimeUs: 50}, {Index: 10, TimeUs: 201},
	} {
		if err := d.Frame(f, "frames", i, &out); err != nil {
			t.Fatal(err)
		}
	}
	if d.Taken[0] != 3 || d.Taken[1] != 1 {
		t.Errorf("taken %v", d.Taken)
	}
	wantField(t, d.Frame(&pb.Frame{Index: 11, TimeUs: 201}, "frames", 4, &out), "frames[4].time_us")
	wantField(t, d.Frame(&pb.Frame{Index: 10, TimeUs: 300}, "frames", 4, &out), "frames[4].index")
	err = d.Frame(&pb.Frame{Camera: 1, Index: 1, TimeUs: 49}, "frames", 4, &out)
	wantField(t, err, "frames[4].time_us")
	if !strings.Contains(err.Error(), "frame 1 of camera 1") {
		t.Errorf("%v does not name the frame", err)
	}
}

func TestFrameRateIsBounded(t *testing.T) {
	d := cocoDecoder(t)
	var out body.Frame
	for i := range MaxRate + 1 {
		err := d.Frame(&pb.Frame{Index: uint32(i), TimeUs: int64(i + 1)}, "frames", i, &out)
		var limit *LimitError
		if got := errors.As(err, &limit) && limit.Limit == "frame_rate"; got != (i == MaxRate) {
			t.Fatalf("frame %d: %v", i, err)
		}
	}
}

func TestAsFrameComesBack(t *testing.T) {
	var first, again body.Frame
	in := &pb.Frame{
		Index: 3, TimeUs: 9, Image: cocoImage(), World: cocoWorld(),
		RacketWorld: []float32{1, 2, 3, 1, 4, 5, 6, 1}, BallImage: []float32{1, 2, 1},
	}
	if err := cocoDecoder(t).Frame(in, "frames", 0, &first); err != nil {
		t.Fatal(err)
	}
	if err := cocoDecoder(t).Frame(AsFrame(&first, body.COCO17), "frames", 0, &again); err != nil {
		t.Fatal(err)
	}
	if first != again {
		t.Errorf("%v\n%v", first, again)
	}
}
