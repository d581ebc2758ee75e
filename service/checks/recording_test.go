package checks

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// mocap is the folder of recorded strokes, beside the project and out of its
// repository. Everything that needs it is skipped, aloud, where it is absent.
const mocap = "../../../shared/data/mocap"

// recording is one clip of a real player by optical motion capture.
type recording struct {
	name   string
	times  []float64                   // s
	places [][body.NumPoints]geom.Vec3 // level axes: Y up, heading and origin arbitrary
	has    [body.NumPoints]bool
	about  struct {
		FPS float64
		Ref struct {
			Point string  `json:"hitting_point"`
			Peak  float64 `json:"peak_speed_filtered_mps"`
			Raw   float64 `json:"peak_speed_raw_central_diff_mps"`
			At    float64 `json:"peak_time_s"`
		}
		Subject    string
		Stroke     string
		Handedness string
		TwoHanded  bool `json:"two_handed"`
		Quality    string
		Peaks      []float64 `json:"auto_peaks_s"`
	}
}

func (r *recording) series() bool { return len(r.about.Peaks) > 0 }
func (r *recording) clean() bool  { return r.about.Quality == "clean" }

// wrist is the hitting wrist.
func (r *recording) wrist() body.Point {
	if strings.HasPrefix(r.about.Ref.Point, "l_") {
		return body.LeftWrist
	}
	return body.RightWrist
}

// stroke is the label as one of our eight; no recording is labelled a slice.
func (r *recording) stroke() body.Stroke {
	label, _, _ := strings.Cut(r.about.Stroke, " ")
	switch {
	case label == "backhand" && r.about.TwoHanded:
		return body.TwoHandedBackhand
	case label == "backhand":
		return body.OneHandedBackhand
	}
	return map[string]body.Stroke{"forehand": body.Forehand, "serve": body.Serve, "smash": body.Overhead,
		"forehand_volley": body.ForehandVolley, "backhand_volley": body.BackhandVolley}[label]
}

func (r *recording) hand() body.Hand {
	if r.about.Handedness == "left" {
		return body.LeftHanded
	}
	return body.RightHanded
}

// columns lists the columns that stand for each point, as the command line's own
// mapping has them: several markers around a joint are averaged.
var columns = func() map[body.Point][]string {
	c := map[body.Point][]string{
		body.MidHip: {"pelvis"}, body.Chest: {"chest", "mk_strn", "mk_t10"}, body.Neck: {"neck", "mk_c7", "mk_clav"},
		body.Head: {"head"}, body.HeadTop: {"head_top"},
	}
	pairs := map[body.Point][]string{
		body.LeftShoulder: {"l_shoulder", "mk_lsho"}, body.LeftElbow: {"l_elbow", "mk_lelb"}, body.LeftWrist: {"l_wrist"},
		body.LeftHand: {"l_hand", "mk_lfin"}, body.LeftHip: {"l_hip", "mk_lasi", "mk_lpsi"}, body.LeftKnee: {"l_knee", "mk_lkne"},
		body.LeftAnkle: {"l_ankle", "mk_lank"}, body.LeftToe: {"l_toe", "mk_ltoe"}, body.LeftHeel: {"mk_lhee"},
		body.LeftEar: {"mk_lfhd", "mk_lbhd"},
	}
	for p, names := range pairs {
		c[p] = names
		for _, n := range names {
			c[p.Twin()] = append(c[p.Twin()], strings.Replace(strings.Replace(n, "mk_l", "mk_r", 1), "l_", "r_", 1))
		}
	}
	return c
}()

// readRecording reads a clip; z up becomes Y up.
func readRecording(file string) (*recording, error) {
	r := &recording{name: strings.TrimSuffix(filepath.Base(file), ".csv")}
	about, err := os.ReadFile(strings.TrimSuffix(file, ".csv") + ".json")
	if err != nil {
		return nil, err
	}
	if err := json.Unmarshal(about, &r.about); err != nil {
		return nil, err
	}
	in, err := os.Open(file)
	if err != nil {
		return nil, err
	}
	defer in.Close()
	rows, err := csv.NewReader(in).ReadAll()
	if err != nil {
		return nil, err
	}
	at := map[string]int{}
	for i, name := range rows[0] {
		at[name] = i
	}
	for _, row := range rows[1:] {
		t, err := strconv.ParseFloat(row[0], 64)
		if err != nil {
			return nil, err
		}
		r.times = append(r.times, t)
		r.places = append(r.places, r.row(row, at))
	}
	return r, nil
}

func (r *recording) row(row []string, at map[string]int) (places [body.NumPoints]geom.Vec3) {
	for p, names := range columns {
		var sum geom.Vec3
		n := 0.
		for _, name := range names {
			k, ok := at[name+"_x"]
			if !ok {
				continue
			}
			x, errX := strconv.ParseFloat(row[k], 64)
			y, errY := strconv.ParseFloat(row[k+1], 64)
			z, errZ := strconv.ParseFloat(row[k+2], 64)
			if errX == nil && errY == nil && errZ == nil {
				sum, n = sum.Add(geom.Vec3{X: x, Y: z, Z: -y}), n+1
			}
		}
		if n > 0 {
			places[p], r.has[p] = sum.Scale(1/n), true
		}
	}
	return places
}

// recordings are all clips, by name; empty where the folder is absent.
var recordings = sync.OnceValues(func() ([]*recording, error) {
	files, err := filepath.Glob(mocap + "/*.csv")
	if err != nil {
		return nil, err
	}
	slices.Sort(files)
	var all []*recording
	for _, f := range files {
		r, err := readRecording(f)
		if err != nil {
			return nil, err
		}
		all = append(all, r)
	}
	return all, nil
})

func haveRecordings() bool {
	all, err := recordings()
	return err == nil && len(all) > 0
}

// recorded returns the clips, or skips the test and says so.
func recorded(t *testing.T) []*recording {
	t.Helper()
	all, err := recordings()
	if err != nil {
		t.Fatal(err)
	}
	if len(all) == 0 {
		t.Skipf("SKIPPED: no recorded strokes at %s; nothing about real players was checked", mocap)
	}
	return all
}

// singles are the clips of one stroke.
func singles(t *testing.T) (out []*recording) {
	for _, r := range recorded(t) {
		if !r.series() {
			out = append(out, r)
		}
	}
	return out
}

// frames are the clip's frames in its own level axes, each place passed through f
// and given to the point that name says.
func (r *recording) frames(shift float64, f func(geom.Vec3) geom.Vec3, name func(body.Point) body.Point) []body.Frame {
	out := make([]body.Frame, len(r.times))
	for i := range out {
		out[i].Index, out[i].TimeUS = uint32(i), int64(math.Round((r.times[i]+shift)*1e6))
		for p, ok := range r.has {
			if ok {
				out[i].World[name(body.Point(p))] = seen3(f(r.places[i][p]))
			}
		}
	}
	return out
}

func seen3(v geom.Vec3) body.Seen3 {
	return body.Seen3{X: float32(v.X), Y: float32(v.Y), Z: float32(v.Z), Score: 1}
}

func sameVec(v geom.Vec3) geom.Vec3     { return v }
func samePoint(p body.Point) body.Point { return p }

// at is where everything was at t: the cubic through the neighbouring frames whose
// slopes are the central differences (Catmull & Rom 1974).
func (r *recording) at(t float64) (p [body.NumPoints]geom.Vec3) {
	n := len(r.times)
	i, _ := slices.BinarySearch(r.times, t)
	i = min(max(i-1, 0), n-2)
	h := r.times[i+1] - r.times[i]
	x := min(max((t-r.times[i])/h, 0), 1)
	slope := func(k int, q body.Point) geom.Vec3 {
		a, b := max(k-1, 0), min(k+1, n-1)
		return r.places[b][q].Sub(r.places[a][q]).Scale(h / (r.times[b] - r.times[a]))
	}
	for q, ok := range r.has {
		if !ok {
			continue
		}
		q := body.Point(q)
		a, b := r.places[i][q], r.places[i+1][q]
		d := b.Sub(a)
		u, v := slope(i, q), slope(i+1, q)
		// a + x(u + x(3d − 2u − v + x(u + v − 2d)))
		p[q] = a.Add(u.Add(d.Scale(3).Sub(u.Scale(2)).Sub(v).Add(u.Add(v).Sub(d.Scale(2)).Scale(x)).Scale(x)).Scale(x))
	}
	return p
}
