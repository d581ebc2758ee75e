package track_test

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/synth"
	"example.com/courtkin/service/track"
)

const strokesRecorded = "../../../shared/data/mocap"

var recordedPoints = map[string]body.Point{
	"l_shoulder": body.LeftShoulder, "r_shoulder": body.RightShoulder,
	"l_elbow": body.LeftElbow, "r_elbow": body.RightElbow,
	"l_wrist": body.LeftWrist, "r_wrist": body.RightWrist,
	"l_hip": body.LeftHip, "r_hip": body.RightHip,
	"l_knee": body.LeftKnee, "r_knee": body.RightKnee,
	"l_ankle": body.LeftAnkle, "r_ankle": body.RightAnkle,
	"head": body.Head, "head_top": body.HeadTop, "neck": body.Neck,
}

// recorded is one recorded stroke: Y up, feet on the ground, the player at the origin.
type recorded struct {
	name, stroke string
	t            []float64
	p            []*[body.NumPoints]geom.Vec3
	peak         float64
	left         bool
	stature      float64
}

func (r *recorded) at(t float64) *[body.NumPoints]geom.Vec3 {
	i := 1
	for i+1 < len(r.t) && r.t[i] < t {
		i++
	}
	f := (t - r.t[i-1]) / (r.t[i] - r.t[i-1])
	var out [body.NumPoints]geom.Vec3
	for j := range out {
		out[j] = r.p[i-1][j].Lerp(r.p[i][j], f)
	}
	return &out
}

func readRecorded(t *testing.T) (out []*recorded) {
	files, _ := filepath.Glob(strokesRecorded + "/tm_*.csv")
	for _, f := range files {
		if strings.Contains(f, "spike") {
			continue
		}
		b, err := os.ReadFile(strings.TrimSuffix(f, ".csv") + ".json")
		if err != nil {
			t.Fatal(err)
		}
		var meta struct {
			Stroke string
			Ref    struct {
				Point string  `json:"hitting_point"`
				At    float64 `json:"peak_time_s"`
			}
		}
		if err := json.Unmarshal(b, &meta); err != nil {
			t.Fatal(err)
		}
		h, err := os.Open(f)
		if err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(h).ReadAll()
		h.Close()
		if err != nil {
			t.Fatal(err)
		}
		r := &recorded{name: strings.TrimSuffix(filepath.Base(f), ".csv"), stroke: meta.Stroke, peak: meta.Ref.At, left: strings.HasPrefix(meta.Ref.Point, "l_")}
		col := map[string]int{}
		for i, c := range rows[0] {
			col[c] = i
		}
		low := math.Inf(1)
		for _, row := range rows[1:] {
			var p [body.NumPoints]geom.Vec3
			for j := range p {
				p[j] = geom.Vec3{X: math.NaN()}
			}
			num := func(n string) float64 { v, _ := strconv.ParseFloat(row[col[n]], 64); return v }
			for n, q := range recordedPoints {
				p[q] = geom.Vec3{X: num(n + "_x"), Y: num(n + "_z"), Z: -num(n + "_y")}
			}
			low = math.Min(low, math.Min(p[body.LeftAnkle].Y, p[body.RightAnkle].Y))
			r.t = append(r.t, num("t"))
			r.p = append(r.p, &p)
		}
		// Stature from the legs: thigh and shank are .491 of it.
		leg := 0.0
		p := r.p[0]
		leg += p[body.LeftHip].Sub(p[body.LeftKnee]).Norm() + p[body.LeftKnee].Sub(p[body.LeftAnkle]).Norm()
		r.stature = leg / 0.491
		o := p[body.LeftHip].Lerp(p[body.RightHip], 0.5).Flat()
		// The chest's mean heading in the first frames becomes X.
		n := geom.Vec3{Y: 1}.Cross(p[body.RightShoulder].Sub(p[body.LeftShoulder])).Flat().Unit()
		turn := geom.RotationAbout(geom.Vec3{Y: 1}, geom.Angle(math.Atan2(n.Z, n.X)))
		for _, p := range r.p {
			for j := range p {
				v := p[j].Sub(o)
				v.Y += 0.039*r.stature - low
				p[j] = turn.Apply(v)
			}
		}
		out = append(out, r)
	}
	return out
}

func TestBeliefsAgainstBodies(t *testing.T) {
	show := func(head string, each func(visit func(p *[body.NumPoints]geom.Vec3, stature float64))) {
		var n, s, q []float64
		var tn, ts, tq [20]float64
		var kinds []int
		each(func(p *[body.NumPoints]geom.Vec3, stature float64) {
			b := track.BeliefsAt(p, stature)
			if n == nil {
				n, s, q = make([]float64, len(b)), make([]float64, len(b)), make([]float64, len(b))
			}
			for i, v := range b {
				if !math.IsNaN(v) {
					n[i]++
					s[i] += v
					q[i] += v * v
				}
			}
			var l []float64
			kinds, l = track.Ties(p, stature)
			for i, v := range l {
				if !math.IsNaN(v) {
					tn[i]++
					ts[i] += v
					tq[i] += v * v
				}
			}
		})
		fmt.Println(head)
		for i := range n {
			m := s[i] / n[i]
			fmt.Printf(" b%d %.2f±%.2f", i, m, math.Sqrt(q[i]/n[i]-m*m))
		}
		fmt.Println()
		for i, k := range kinds {
			m := ts[i] / tn[i]
			fmt.Printf(" t%d %.3f±%.3f", k, m, math.Sqrt(tq[i]/tn[i]-m*m))
		}
		fmt.Println()
	}
	show("made", func(visit func(p *[body.NumPoints]geom.Vec3, stature float64)) {
		for seed := range uint64(60) {
			m := synth.NewSwing(synth.Spec{Seed: 9000 + seed})
			st := m.Struck[0]
			for t := st.Contact - 1.2; t < st.Contact+0.3; t += 0.05 {
				p := m.At(t)
				visit(&p.P, m.Build.Stature)
			}
		}
	})
	show("recorded", func(visit func(p *[body.NumPoints]geom.Vec3, stature float64)) {
		for _, r := range readRecorded(t) {
			for x := r.peak - 1.0; x < r.peak+0.3; x += 0.05 {
				if x > 0 && x < r.t[len(r.t)-1] {
					visit(r.at(x), r.stature)
				}
			}
		}
	})
	for _, r := range readRecorded(t) {
		fmt.Printf("%s stature %.2f left %v peak %.2f of %.2f", r.name, r.stature, r.left, r.peak, r.t[len(r.t)-1])
		kinds, l := track.Ties(r.at(r.peak), r.stature)
		for i, k := range kinds {
			fmt.Printf(" t%d %.2f", k, l[i])
		}
		fmt.Println()
	}
}
