package camera

import (
	"bytes"
	"encoding/json"
	"math"
	"math/rand/v2"
	"os/exec"
	"strings"
	"testing"

	"example.com/courtkin/service/geom"
)

type cvView struct {
	R  geom.Mat3  `json:"R"`
	T  [3]float64 `json:"t"`
	F  float64    `json:"f"`
	K1 float64    `json:"k1"`
	CX float64    `json:"cx"`
	CY float64    `json:"cy"`
}

type cvMarks struct {
	cvView
	World  [][3]float64 `json:"world"`
	Pixels [][2]float64 `json:"pixels"`
}

type cvQuestion struct {
	Views   []cvView       `json:"views"`
	World   [][3]float64   `json:"world"`
	Pixels  [][][2]float64 `json:"pixels"`
	Pinhole [][][2]float64 `json:"pinhole"` // as pixels, from cameras without distortion
	Marks   cvMarks        `json:"marks"`
}

type cvAnswer struct {
	Version    string
	Projected  [][][2]float64
	Rays       [][][2]float64
	Points     [][3]float64
	Center     [3]float64
	Calibrated [5]float64
}

func triple(v geom.Vec3) [3]float64 { return [3]float64{v.X, v.Y, v.Z} }

func cvViewOf(p *Pose) cvView { return cvView{p.R, triple(p.T), p.Focal, p.K1, p.CX, p.CY} }

// askOpenCV runs the reference under the system's own python3, which has OpenCV.
func askOpenCV(t *testing.T, q cvQuestion) (a cvAnswer) {
	t.Helper()
	where, err := exec.Command("sh", "-c", "command -v -p python3").Output()
	if err != nil {
		t.Fatal("no system python3; install python3-opencv:", err)
	}
	in, _ := json.Marshal(q)
	cmd := exec.Command(strings.TrimSpace(string(where)), "testdata/reference/opencv_camera.py")
	cmd.Stdin = bytes.NewReader(in)
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("install python3-opencv: %v\n%s", err, stderr.String())
	}
	if err := json.Unmarshal(out, &a); err != nil {
		t.Fatal(err)
	}
	return a
}

// TestOpenCV compares with OpenCV on the same inputs: projection and its inverse to
// rounding, the optimal two-view point to 0.1 mm, and the poses that minimise the
// reprojection of noisy marks to 1 mm.
func TestOpenCV(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 1))
	poses := twoViews(r)
	plain := twoViews(r)
	poses[0].K1, poses[1].K1 = -0.05, 0.08
	var q cvQuestion
	var pinhole [2][]Pixel
	q.Pixels, q.Pinhole = make([][][2]float64, 2), make([][][2]float64, 2)
	for range 40 {
		w := geom.Vec3{X: r.NormFloat64(), Y: 1 + 0.4*r.NormFloat64(), Z: r.NormFloat64()}
		q.World = append(q.World, triple(w))
		for v := range poses {
			x, y, _ := poses[v].Project(w)
			q.Pixels[v] = append(q.Pixels[v], [2]float64{x + r.NormFloat64(), y + r.NormFloat64()})
			x, y, _ = plain[v].Project(w)
			p := Pixel{x + 2*r.NormFloat64(), y + 2*r.NormFloat64()}
			pinhole[v] = append(pinhole[v], p)
			q.Pinhole[v] = append(q.Pinhole[v], [2]float64{p.X, p.Y})
		}
	}
	q.Views = []cvView{cvViewOf(&poses[0]), cvViewOf(&poses[1])}
	wide := aim(geom.Vec3{X: -7, Y: 3, Z: 2}, geom.Vec3{X: 6, Y: 0, Z: 0}, 0.01, 1400, 0.02, 1920, 1080)
	marks := cvSightings(&wide, r)
	q.Marks.cvView = cvViewOf(&wide)
	for _, s := range marks {
		q.Marks.World = append(q.Marks.World, triple(s.world))
		q.Marks.Pixels = append(q.Marks.Pixels, [2]float64{s.x, s.y})
	}
	// The pinholes of the triangulation stand beside the distorted views.
	projected := askOpenCV(t, q)
	q.Views = []cvView{cvViewOf(&plain[0]), cvViewOf(&plain[1])}
	met := askOpenCV(t, q)

	for v := range poses {
		for i, w := range q.World {
			x, y, _ := poses[v].Project(geom.Vec3{X: w[0], Y: w[1], Z: w[2]})
			near(t, "projectPoints x", x, projected.Projected[v][i][0], 1e-6)
			near(t, "projectPoints y", y, projected.Projected[v][i][1], 1e-6)
			ray := poses[v].CameraRay(q.Pixels[v][i][0], q.Pixels[v][i][1])
			near(t, "undistortPoints x", ray.X, projected.Rays[v][i][0], 1e-8)
			near(t, "undistortPoints y", ray.Y, projected.Rays[v][i][1], 1e-8)
		}
	}
	for i, want := range met.Points {
		got, _, err := Triangulate(plain, []Pixel{pinhole[0][i], pinhole[1][i]}, []float64{1, 1})
		if err != nil {
			t.Fatal(err)
		}
		near(t, "triangulatePoints", got.Sub(geom.Vec3{X: want[0], Y: want[1], Z: want[2]}).Norm(), 0, 1e-4)
	}

	held, _ := refine(unlensed(wide), marks, 1, prior{math.Log(wide.Focal), 1e-9, 1e-9})
	c := triple(held.Center())
	for k := range c {
		near(t, "solvePnP place", c[k], met.Center[k], 1e-3)
	}
	free, _ := refine(wide, marks, 1, prior{math.Log(wide.Focal), 1e6, 1e6})
	c = triple(free.Center())
	near(t, "calibrateCamera focal", free.Focal, met.Calibrated[0], 0.05)
	near(t, "calibrateCamera k1", free.K1, met.Calibrated[1], 1e-4)
	for k := range c {
		near(t, "calibrateCamera place", c[k], met.Calibrated[2+k], 1e-3)
	}
}

func unlensed(p Pose) Pose { p.K1 = 0; return p }

func cvSightings(p *Pose, r *rand.Rand) []sighting {
	var out []sighting
	for _, m := range seenMarks(p, r, 1) {
		w, _ := m.Mark.Point()
		out = append(out, sighting{m.Mark, w, m.X, m.Y})
	}
	return out
}
