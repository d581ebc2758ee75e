package swing

import (
	"fmt"
	"math"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
)

// layouts are the points of the common layouts, by count.
var layouts = map[int][]body.Point{
	17: {
		body.Nose, body.LeftEar, body.RightEar, body.LeftShoulder, body.RightShoulder, body.LeftElbow, body.RightElbow,
		body.LeftWrist, body.RightWrist, body.LeftHip, body.RightHip, body.LeftKnee, body.RightKnee, body.LeftAnkle, body.RightAnkle,
	},
	33: {
		body.Nose, body.LeftEar, body.RightEar, body.LeftShoulder, body.RightShoulder, body.LeftElbow, body.RightElbow,
		body.LeftWrist, body.RightWrist, body.LeftHip, body.RightHip, body.LeftKnee, body.RightKnee, body.LeftAnkle, body.RightAnkle,
		body.LeftToe, body.RightToe, body.LeftHeel, body.RightHeel, body.LeftHand, body.RightHand,
	},
}

// standing makes a frame of a player who waits and sways, racket and ball in
// view, in the world and in an image.
func standing(i int, fps float64, points []body.Point) body.Frame {
	t := float64(i) / fps
	f := body.Frame{Index: uint32(i), TimeUS: int64(t * 1e6)}
	put := func(p body.Point, x, y, z float64) {
		x += 0.02 * math.Sin(2*t)
		f.World[p] = body.Seen3{X: float32(x), Y: float32(y), Z: float32(z), Score: 0.9}
		f.Image[p] = body.Seen2{X: float32(960 + 250*z), Y: float32(900 - 250*y), Score: 0.9}
	}
	heights := map[body.Point][2]float64{
		body.LeftShoulder: {1.4, -0.18}, body.RightShoulder: {1.4, 0.18}, body.LeftHip: {0.9, -0.1}, body.RightHip: {0.9, 0.1},
		body.LeftKnee: {0.5, -0.12}, body.RightKnee: {0.5, 0.12}, body.LeftAnkle: {0.08, -0.15}, body.RightAnkle: {0.08, 0.15},
		body.LeftWrist: {1.05, -0.05}, body.RightWrist: {1.05, 0.05},
	}
	for _, p := range points {
		h, ok := heights[p]
		if !ok {
			h = [2]float64{1.2, 0}
		}
		put(p, 0, h[0], h[1])
	}
	for p := body.RacketTip; p <= body.RacketRight; p++ {
		put(p, 0.3, 1.2, 0.1*float64(p-body.RacketTip))
	}
	put(body.Ball, 3, 1, 0)
	return f
}

func BenchmarkPush(b *testing.B) {
	for _, points := range []int{17, 33} {
		for _, fps := range []float64{60, 240} {
			b.Run(fmt.Sprintf("points=%d/fps=%.0f", points, fps), func(b *testing.B) {
				frames := standingFor(2048, fps, layouts[points])
				m, _ := New(Setup{Axes: camera.AxesCourt})
				to := &quiet{}
				span := frames[len(frames)-1].TimeUS + int64(1e6/fps)
				b.ReportAllocs()
				for i := range b.N {
					f := &frames[i%len(frames)]
					f.TimeUS += span * int64(min(1, i/len(frames)))
					if err := m.Push(f, to); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}

func standingFor(n int, fps float64, points []body.Point) []body.Frame {
	frames := make([]body.Frame, n)
	for i := range frames {
		frames[i] = standing(i, fps, points)
	}
	return frames
}

func TestSteadyPushAllocatesNothing(t *testing.T) {
	for _, c := range []struct{ fps, warm float64 }{{60, 8}, {240, 8}, {60, 100}} {
		fps := c.fps
		frames := standingFor(int((c.warm+12)*fps), fps, layouts[33])
		s := Setup{Axes: camera.AxesCourt}
		if c.warm > 8 {
			s.Axes = camera.AxesCamera // of unknown slow motion: five lanes, 42 s of frames
		}
		m, _ := New(s)
		to := &quiet{}
		warm := int(c.warm * fps)
		for i := range frames[:warm] {
			if err := m.Push(&frames[i], to); err != nil {
				t.Fatal(err)
			}
		}
		i := warm
		if n := testing.AllocsPerRun(len(frames)-warm-1, func() {
			if err := m.Push(&frames[i], to); err != nil {
				t.Fatal(err)
			}
			i++
		}); n != 0 {
			t.Errorf("%.0f fps: %g allocations a frame", fps, n)
		}
	}
}

func TestAQuietStreamKeepsLittle(t *testing.T) {
	frames := standingFor(60*60, 60, layouts[33])
	m, _ := New(Setup{Axes: camera.AxesCourt})
	to := &quiet{}
	for i := range frames {
		if err := m.Push(&frames[i], to); err != nil {
			t.Fatal(err)
		}
	}
	if got, most := m.bytes(), 200_000; got > most {
		t.Errorf("%d bytes, at most %d", got, most)
	}
}
