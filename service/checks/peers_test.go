package checks

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

const peers = "../../testdata/peers"

// clips are the swings by formula that the peer pipeline is tried on, as CSV at
// 120 Hz with 5 mm of noise on the body and 8 mm on the racket, and 3 % of points
// lost. Contact is at 2 s.
var clips = map[string]built{
	"backhand.csv": backhand(71.1, 47.4),
	"forehand.csv": forehand(15.4, .16, -.093, -.075),
}

var clipPoints = []body.Point{
	body.LeftShoulder, body.RightShoulder, body.LeftHip, body.RightHip, body.LeftWrist, body.RightWrist,
	body.RacketTip, body.RacketButt,
}

// clip is the swing as a CSV file.
func (b built) clip() []byte {
	b = b.settled()
	rng := rand.New(rand.NewPCG(9, 9))
	var out bytes.Buffer
	fmt.Fprintf(&out, "# A swing by formula: %s, contact at 2 s, shoulders turned %g deg, head at %g m/s level.\n", b.stroke, b.shoulders.max, b.speed)
	out.WriteString("time_s")
	for _, p := range clipPoints {
		fmt.Fprintf(&out, ",%s_x,%s_y,%s_z", p, p, p)
	}
	for k := range 360 {
		t := float64(k) / 120
		place := b.place(t - 2)
		fmt.Fprintf(&out, "\n%.5f", t)
		for _, p := range clipPoints {
			sd := .005
			if p.IsRacket() {
				sd = .008
			}
			n := geom.Vec3{X: rng.NormFloat64(), Y: rng.NormFloat64(), Z: rng.NormFloat64()}
			if v := place[p].Add(n.Scale(sd)); rng.Float64() > .03 {
				fmt.Fprintf(&out, ",%.3f,%.3f,%.3f", v.X, v.Y, v.Z)
			} else {
				out.WriteString(",,,")
			}
		}
	}
	out.WriteString("\n")
	return out.Bytes()
}

func TestClips(t *testing.T) {
	for name, b := range clips {
		path := filepath.Join(peers, name)
		if *write {
			if err := os.WriteFile(path, b.clip(), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		have, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(have, b.clip()) {
			t.Errorf("%s is out of date: go test ./service/checks -write", path)
		}
	}
}

// peerSwing is what the peer pipeline says of a swing.
type peerSwing struct {
	Contact float64 `json:"contact_s"`
	Stroke  string  `json:"stroke"`
	Turn    float64 `json:"shoulder_turn_max"`
	Tip     float64 `json:"tip_speed_contact"`
}

// The peer must do its job on its clips before anything is compared with it:
// one swing, the right side, contact within 40 ms, the turn within 5°, the tip's
// speed within a third (it smooths through impact).
func TestPeerPipeline(t *testing.T) {
	path, err := exec.Command("sh", "-c", "command -v -p python3").Output()
	if err != nil {
		t.Fatal("python3 is not installed (apt-get install python3-scipy):", err)
	}
	if _, err := os.ReadFile(filepath.Join(peers, "pipeline.py")); err != nil { // so that go test sees it change
		t.Fatal(err)
	}
	for name, b := range clips {
		cmd := exec.Command(strings.TrimSpace(string(path)), "pipeline.py", name)
		cmd.Dir = peers
		out, err := cmd.Output()
		if err != nil {
			t.Fatal(name, err)
		}
		var a struct{ Swings []peerSwing }
		if err := json.Unmarshal(out, &a); err != nil {
			t.Fatal(err)
		}
		if len(a.Swings) != 1 {
			t.Fatalf("%s: %d swings", name, len(a.Swings))
		}
		b, s := b.settled(), a.Swings[0]
		const h = 1e-5
		tip := b.place(-h)[body.RacketTip].Sub(b.place(-2 * h)[body.RacketTip]).Norm() / h
		t.Logf("%s: %+v, true tip speed %.1f", name, s, tip)
		if math.Abs(s.Contact-2) > .040 || math.Abs(s.Turn-b.shoulders.max) > 5 || math.Abs(s.Tip/tip-1) > 1./3 ||
			!strings.HasSuffix(b.stroke.String(), s.Stroke) {
			t.Errorf("%s: %+v", name, s)
		}
	}
}

// BenchmarkClip is what testdata/peers/pipeline.py --bench times, by the whole
// machine: every point, and each figure with its error.
func BenchmarkClip(b *testing.B) {
	frames := backhand(71.1, 47.4).settled().filmed(1)
	b.Run(fmt.Sprintf("fps=240/frames=%d", len(frames)), func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if found, err := run(frames); err != nil || len(found) != 1 {
				b.Fatal(len(found), err)
			}
		}
		b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(b.N*len(frames)), "µs/frame")
	})
}
