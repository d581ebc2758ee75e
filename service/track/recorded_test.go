package track

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
)

const recordings = "../../../shared/data/mocap"

var recordedNames = map[string]body.Point{
	"mk_lsho": body.LeftShoulder, "mk_rsho": body.RightShoulder,
	"mk_lelb": body.LeftElbow, "mk_relb": body.RightElbow,
	"mk_lasi": body.LeftHip, "mk_rasi": body.RightHip,
	"mk_lank": body.LeftAnkle, "mk_rank": body.RightAnkle,
	"l_shoulder": body.LeftShoulder, "r_shoulder": body.RightShoulder,
	"l_elbow": body.LeftElbow, "r_elbow": body.RightElbow,
	"l_wrist": body.LeftWrist, "r_wrist": body.RightWrist,
	"l_hip": body.LeftHip, "r_hip": body.RightHip,
	"l_knee": body.LeftKnee, "r_knee": body.RightKnee,
	"l_ankle": body.LeftAnkle, "r_ankle": body.RightAnkle,
}

type recordedRef struct {
	Quality string
	Ref     struct {
		Point string  `json:"hitting_point"`
		Peak  float64 `json:"peak_speed_filtered_mps"`
		At    float64 `json:"peak_time_s"`
	}
}

func readRecording(t *testing.T, name string) ([]body.Frame, recordedRef) {
	t.Helper()
	var ref recordedRef
	b, err := os.ReadFile(filepath.Join(recordings, name+".json"))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(b, &ref); err != nil {
		t.Fatal(err)
	}
	f, err := os.Open(filepath.Join(recordings, name+".csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	column := map[string]int{}
	for i, c := range rows[0] {
		column[c] = i
	}
	var out []body.Frame
	for k, r := range rows[1:] {
		num := func(name string) float64 {
			i, ok := column[name]
			if !ok {
				return math.NaN()
			}
			v, _ := strconv.ParseFloat(r[i], 64)
			return v
		}
		fr := body.Frame{Index: uint32(k), TimeUS: int64(math.Round(num("t") * 1e6))}
		for n, p := range recordedNames {
			// z up, heading arbitrary → Y up: (x, y, z) → (x, z, −y).
			x, y, z := num(n+"_x"), num(n+"_y"), num(n+"_z")
			if !math.IsNaN(x + y + z) {
				fr.World[p] = body.Seen3{X: float32(x), Y: float32(z), Z: float32(-y), Score: 1}
			}
		}
		out = append(out, fr)
	}
	return out, ref
}

// TestRecordedWristSpeed holds the peak speed of the hitting wrist against the
// recordings' own reference (zero-lag Butterworth, 12 Hz), clean and with noise added.
func TestRecordedWristSpeed(t *testing.T) {
	files, _ := filepath.Glob(recordings + "/*.json")
	if len(files) == 0 {
		t.Skip("recorded strokes not present beside the project")
	}
	for _, f := range files {
		name := strings.TrimSuffix(filepath.Base(f), ".json")
		if strings.HasPrefix(name, "tmseq") {
			continue
		}
		frames, ref := readRecording(t, name)
		if ref.Quality != "clean" {
			continue
		}
		p := body.RightWrist
		if strings.HasPrefix(ref.Ref.Point, "l_") {
			p = body.LeftWrist
		}
		for _, sd := range []float64{0, 0.005} {
			fs := noisy(frames, sd)
			post, err := Solve(&Window{Frames: fs, Axes: camera.AxesLevel, Guess: ref.Ref.At, GuessSD: 0.06})
			if err != nil {
				t.Fatal(err)
			}
			c := post.Mean()
			peak := 0.0
			for i, v := range c.Vel[p] {
				if math.Abs(c.T[i]-ref.Ref.At) < 0.15 {
					peak = math.Max(peak, v.Norm())
				}
			}
			t.Logf("%-28s sd %.3f peak %.2f ref %.2f (%+.1f %%) contact %.3f±%.3f ref peak at %.2f level %.3g noise %.4f", name, sd, peak, ref.Ref.Peak, 100*(peak/ref.Ref.Peak-1), post.Contact, post.ContactSD, ref.Ref.At, post.scenes[0].rough[groupWrist].level, post.scenes[0].noise[place][groupWrist].total())
		}
	}
}

func noisy(frames []body.Frame, sd float64) []body.Frame {
	rng := rand.New(rand.NewPCG(5, 6))
	out := append([]body.Frame(nil), frames...)
	for i := range out {
		for p := range out[i].World {
			w := &out[i].World[p]
			w.X += float32(sd * rng.NormFloat64())
			w.Y += float32(sd * rng.NormFloat64())
			w.Z += float32(sd * rng.NormFloat64())
		}
	}
	return out
}

var _ geom.Vec3
