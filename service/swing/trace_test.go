package swing

import (
	"flag"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
)

var rewrite = flag.Bool("rewrite", false, "rewrite the golden traces; read them before they are committed")

// pose is a keyframe of a plain drawn player: chest heading in degrees (0 faces
// the net, > 0 turned to the right), right wrist before the chest in metres to
// its right, up from the hips and forward, racket direction in degrees from the
// chest's heading.
type pose struct{ t, chest, side, up, ahead, racket float64 }

// scene is a drawn player over time, and the ball's flight before and after a hit.
type scene struct {
	poses []pose
	hit   float64 // s; 0: no ball
}

// scenes are what the golden traces are about.
var scenes = map[string]scene{
	"forehand": {hit: 2.12, poses: []pose{
		{0, 0, 0.05, 0.25, 0.35, 0}, {1.0, 0, 0.05, 0.25, 0.35, 0}, {1.55, 85, 0.50, 0.35, 0.05, 80}, {1.85, 85, 0.52, 0.15, -0.05, 110},
		{2.40, -60, -0.15, 0.60, 0.45, -120}, {2.7, -60, -0.15, 0.60, 0.40, -120}, {3.7, 0, 0.05, 0.25, 0.35, 0}, {4.5, 0, 0.05, 0.25, 0.35, 0},
	}},
	"pulled_back": {poses: []pose{
		{0, 0, 0.05, 0.25, 0.35, 0}, {1.0, 0, 0.05, 0.25, 0.35, 0}, {1.55, 85, 0.50, 0.35, 0.05, 80}, {1.80, 85, 0.52, 0.15, -0.05, 110},
		{2.5, 35, 0.45, 0.17, 0.25, 95}, {3.6, 0, 0.05, 0.25, 0.35, 0}, {4.5, 0, 0.05, 0.25, 0.35, 0},
	}},
	"waiting": {poses: []pose{
		{0, 0, 0.05, 0.25, 0.35, 0}, {1, 10, 0.10, 0.25, 0.33, 5}, {2, -10, 0.02, 0.22, 0.35, -5}, {3, 5, 0.05, 0.25, 0.35, 0}, {4.5, 0, 0.05, 0.25, 0.35, 0},
	}},
}

// at returns the pose at t, eased from key to key.
func (s *scene) at(t float64) pose {
	p := s.poses
	for i := 1; i < len(p); i++ {
		if t > p[i].t && i < len(p)-1 {
			continue
		}
		x := min(max((t-p[i-1].t)/(p[i].t-p[i-1].t), 0), 1)
		x = x * x * x * (10 + x*(-15+6*x))
		mix := func(a, b float64) float64 { return a + x*(b-a) }
		a, b := p[i-1], p[i]
		return pose{t, mix(a.chest, b.chest), mix(a.side, b.side), mix(a.up, b.up), mix(a.ahead, b.ahead), mix(a.racket, b.racket)}
	}
	return p[0]
}

// frame draws the scene at t in court axes.
func (s *scene) frame(i int, t float64) body.Frame {
	f := body.Frame{Index: uint32(i), TimeUS: int64(math.Round(t * 1e6))}
	put := func(p body.Point, v geom.Vec3) {
		f.World[p] = body.Seen3{X: float32(v.X), Y: float32(v.Y), Z: float32(v.Z), Score: 1}
	}
	q := s.at(t)
	sin, cos := math.Sincos(q.chest * math.Pi / 180)
	ahead, side := geom.Vec3{X: cos, Z: sin}, geom.Vec3{X: -sin, Z: cos}
	hip := geom.Vec3{Y: 0.95}
	place := func(a, s, y float64) geom.Vec3 {
		return hip.Add(ahead.Scale(a)).Add(side.Scale(s)).Add(geom.Vec3{Y: y})
	}
	put(body.LeftShoulder, place(0, -0.18, 0.48))
	put(body.RightShoulder, place(0, 0.18, 0.48))
	for _, leg := range []struct {
		hip, knee, ankle body.Point
		z                float64
	}{{body.LeftHip, body.LeftKnee, body.LeftAnkle, -0.12}, {body.RightHip, body.RightKnee, body.RightAnkle, 0.12}} {
		put(leg.hip, geom.Vec3{Y: 0.95, Z: leg.z})
		put(leg.knee, geom.Vec3{Y: 0.52, Z: leg.z})
		put(leg.ankle, geom.Vec3{Y: 0.09, Z: leg.z})
	}
	put(body.LeftWrist, place(0.35, -0.10, 0.25))
	wrist := place(q.ahead, q.side, q.up)
	put(body.RightWrist, wrist)
	sin, cos = math.Sincos((q.chest + q.racket) * math.Pi / 180)
	axis := geom.Vec3{X: cos, Z: sin}
	put(body.RacketButt, wrist.Sub(axis.Scale(0.08)))
	put(body.RacketTip, wrist.Add(axis.Scale(0.58)))
	if s.hit > 0 && t > s.hit-0.6 && t < s.hit+0.5 {
		h := s.frameless(s.hit)
		v := geom.Vec3{X: -15, Y: -1}
		if t > s.hit {
			v = geom.Vec3{X: 20, Y: 3}
		}
		put(body.Ball, h.Add(v.Scale(t-s.hit)))
	}
	return f
}

// frameless returns where the strings are at t: 0.4 m up the racket.
func (s *scene) frameless(t float64) geom.Vec3 {
	c := scene{poses: s.poses}
	f := c.frame(0, t)
	w, e := f.World[body.RightWrist], f.World[body.RacketTip]
	mix := func(a, b float32) float64 { return float64(a) + 0.75*float64(b-a) }
	return geom.Vec3{X: mix(w.X, e.X), Y: mix(w.Y, e.Y), Z: mix(w.Z, e.Z)}
}

func (s *scene) frames(fps float64) []body.Frame {
	var out []body.Frame
	for i := 0; float64(i)/fps < s.poses[len(s.poses)-1].t; i++ {
		out = append(out, s.frame(i, float64(i)/fps))
	}
	return out
}

// TestGoldenTraces reads what the live depth believes, sentence by sentence.
func TestGoldenTraces(t *testing.T) {
	for name, s := range scenes {
		t.Run(name, func(t *testing.T) {
			m, err := New(Setup{Axes: camera.AxesCourt, Player: body.Player{Hand: body.RightHanded}})
			if err != nil {
				t.Fatal(err)
			}
			m.settle = unsettled
			var said []string
			m.Explain(func(line string) { said = append(said, line) })
			frames := s.frames(60)
			for i := range frames {
				if err := m.Push(&frames[i], &quiet{}); err != nil {
					t.Fatal(err)
				}
			}
			m.Finish(&quiet{})
			got := strings.Join(said, "\n") + "\n"
			file := filepath.Join("testdata", "traces", name+".txt")
			if *rewrite {
				if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			if got != string(want) {
				t.Errorf("got\n%s\nwant\n%s", got, want)
			}
		})
	}
}
