package track_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"sort"
	"testing"
	"time"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/synth"
	"example.com/courtkin/service/track"
)

// body in motion, court axes
type mover func(t float64) *[body.NumPoints]geom.Vec3

func eyeAt(at, look geom.Vec3, focal, roll float64) camera.Pose {
	fwd := look.Sub(at).Unit()
	rt := fwd.Cross(geom.Vec3{Y: 1}).Unit()
	rt = geom.RotationAbout(fwd, geom.Angle(roll)).Apply(rt)
	r := geom.Rows(rt, fwd.Cross(rt), fwd)
	return camera.Pose{R: r, T: r.Apply(at).Scale(-1), Focal: focal, CX: 960, CY: 540}
}

type filmed struct {
	frames []body.Frame
	eye    camera.Pose
	cam    camera.Camera
	view   camera.Viewpoint
}

func film(mv mover, focus geom.Vec3, from, to float64, view camera.Viewpoint, marks bool, rng *rand.Rand) filmed {
	in := func(a, b float64) float64 { return a + (b-a)*rng.Float64() }
	var f filmed
	f.view = view
	for range 40 {
		focal := in(1350, 1750)
		az := ([]float64{0, 180, 0, 90, -90}[view] + in(-25, 25)) * math.Pi / 180
		far := math.Max(in(4, 12), focus.Y*focal/480)
		at := geom.Vec3{X: focus.X + far*math.Cos(az), Y: in(1, 3), Z: focus.Z + far*math.Sin(az)}
		f.eye = eyeAt(at, focus.Add(geom.Vec3{X: in(-.2, .2), Y: in(-.1, .1), Z: in(-.2, .2)}), focal, 0.017*rng.NormFloat64())
		f.cam = camera.Camera{Width: 1920, Height: 1080}
		if rng.Float64() < 0.5 {
			f.cam.Focal = math.Round(focal * (1 + 0.01*rng.NormFloat64()))
		}
		if !marks {
			break
		}
		for k := camera.Mark(1); k <= camera.NumMarks; k++ {
			p, _ := k.Point()
			if x, y, ok := f.eye.Project(p); ok && x >= 0 && x < 1920 && y >= 0 && y < 1080 {
				f.cam.Marks = append(f.cam.Marks, camera.MarkedPoint{Mark: k, X: x + rng.NormFloat64(), Y: y + rng.NormFloat64()})
			}
		}
		if len(f.cam.Marks) >= 6 {
			break
		}
		f.cam.Marks = nil
	}
	kept, memory := 0.0, 0.0
	if rng.Float64() < 0.5 {
		kept, memory = in(0.2, 0.7), in(0.02, 0.25)
	}
	var slow [body.NumPoints][2]float64
	dt := 1.0 / 60
	a := 0.0
	if memory > 0 {
		a = math.Exp(-dt / memory)
	}
	for k := 0; from+float64(k)*dt < to; k++ {
		t := from + float64(k)*dt + in(-0.001, 0.001)
		p := mv(t)
		fr := body.Frame{Index: uint32(k), TimeUS: int64(math.Round(t*1e6)) + 10_000_000}
		for q := range body.RightAnkle + 1 {
			if rng.Float64() < 0.05 || !p[q].Finite() {
				continue
			}
			x, y, ok := f.eye.Project(p[q])
			if !ok {
				continue
			}
			var n [2]float64
			for d := range 2 {
				slow[q][d] = a*slow[q][d] + math.Sqrt(1-a*a)*rng.NormFloat64()
				n[d] = 2 * (math.Sqrt(kept)*slow[q][d] + math.Sqrt(1-kept)*rng.NormFloat64())
			}
			if rng.Float64() < 0.005 {
				n[0], n[1] = 160*(rng.Float64()-.5), 160*(rng.Float64()-.5)
			}
			fr.Image[q] = body.Seen2{X: float32(x + n[0]), Y: float32(y + n[1]), Score: 0.8}
		}
		f.frames = append(f.frames, fr)
	}
	return f
}

type tally map[string][]float64

func (t tally) add(k string, v float64) { t[k] = append(t[k], v) }

func (t tally) print(head string) {
	keys := []string{"mid", "joint", "trunk.z", "elbow.z", "wrist.z", "knee.z", "shoulders", "hips", "sep", "elbowflex", "kneeflex", "turn>45", "zsh", "zhip", "zel", "zwr", "pitch", "pitched"}
	fmt.Printf("%-26s", head)
	for _, k := range keys {
		v := t[k]
		if len(v) == 0 {
			fmt.Printf(" %s –", k)
			continue
		}
		sort.Float64s(v)
		fmt.Printf(" %s %.3g/%.3g", k, v[len(v)/2], v[len(v)*9/10])
		if k[0] == 'z' {
			in, lie := 0.0, 0.0
			for _, x := range v {
				if x < 1.96 {
					in++
				}
				if x > 4 {
					lie++
				}
			}
			fmt.Printf("(%.0f%% %.1f%%)", 100*in/float64(len(v)), 100*lie/float64(len(v)))
		}
	}
	fmt.Println()
}

func yawOf(up, l, r geom.Vec3) geom.Vec3 {
	n := up.Cross(r.Sub(l))
	return n.Sub(up.Scale(n.Dot(up))).Unit()
}

func angleAbout(up, a, b geom.Vec3) float64 {
	return math.Atan2(up.Dot(a.Cross(b)), a.Dot(b)) * 180 / math.Pi
}

// judge compares a lift with the truth from contact −1.2 to contact +0.3 s.
func judge(l *track.Lifted, f *filmed, mv mover, t0, contact float64, out ...tally) {
	up := f.eye.R.Apply(geom.Vec3{Y: 1})
	add := func(k string, v float64) {
		for _, o := range out {
			o.add(k, v)
		}
	}
	var draws [24][track.LiftJoints][]geom.Vec3
	rng := rand.New(rand.NewPCG(1, 2))
	for k := range draws {
		draws[k] = l.Draw(rng)
	}
	cover := func(name string, truth, got float64, of func(p *[track.LiftJoints][]geom.Vec3) float64) {
		v := 0.0
		for k := range draws {
			d := of(&draws[k]) - got
			v += d * d / float64(len(draws))
		}
		z := math.Abs(got-truth) / math.Sqrt(v+imageSD(name)) // rays err too
		if os.Getenv("LIES") == name && z > 4 {
			fmt.Printf("lie %.1f ± %.1f\n", got-truth, math.Sqrt(v))
		}
		add(name, z)
	}
	for i, s := range l.T {
		t := s + t0
		if t < contact-1.2 || t > contact+0.05 {
			continue
		}
		p := mv(t)
		var c [track.LiftJoints]geom.Vec3
		for j := range c {
			c[j] = f.eye.InCamera(p[j])
		}
		hip := c[body.LeftHip].Lerp(c[body.RightHip], .5).Z
		got := l.P[body.LeftHip][i].Lerp(l.P[body.RightHip][i], .5).Z
		add("mid", math.Abs(got-hip))
		rel := func(q body.Point) float64 {
			return math.Abs(l.P[q][i].Z - got - (c[q].Z - hip))
		}
		for _, q := range []body.Point{body.LeftShoulder, body.RightShoulder, body.LeftHip, body.RightHip} {
			add("trunk.z", rel(q))
		}
		add("elbow.z", rel(body.LeftElbow))
		add("elbow.z", rel(body.RightElbow))
		add("wrist.z", rel(body.LeftWrist))
		add("wrist.z", rel(body.RightWrist))
		add("knee.z", rel(body.LeftKnee))
		add("knee.z", rel(body.RightKnee))
		sh := angleAbout(up, yawOf(up, c[body.LeftShoulder], c[body.RightShoulder]), yawOf(l.Up, l.P[body.LeftShoulder][i], l.P[body.RightShoulder][i]))
		hp := angleAbout(up, yawOf(up, c[body.LeftHip], c[body.RightHip]), yawOf(l.Up, l.P[body.LeftHip][i], l.P[body.RightHip][i]))
		add("shoulders", math.Abs(sh))
		add("hips", math.Abs(hp))
		add("sep", math.Abs(sh-hp))
		cover("zsh", 0, sh, func(p *[track.LiftJoints][]geom.Vec3) float64 {
			return angleAbout(up, yawOf(up, c[body.LeftShoulder], c[body.RightShoulder]), yawOf(l.Up, p[body.LeftShoulder][i], p[body.RightShoulder][i]))
		})
		cover("zhip", 0, hp, func(p *[track.LiftJoints][]geom.Vec3) float64 {
			return angleAbout(up, yawOf(up, c[body.LeftHip], c[body.RightHip]), yawOf(l.Up, p[body.LeftHip][i], p[body.RightHip][i]))
		})
		hitting := body.RightWrist
		cover("zwr", c[hitting].Z-hip, l.P[hitting][i].Z-got, func(p *[track.LiftJoints][]geom.Vec3) float64 {
			return p[hitting][i].Z - p[body.LeftHip][i].Lerp(p[body.RightHip][i], .5).Z
		})
		if math.Abs(sh) > 45 {
			add("turn>45", 1)
		} else {
			add("turn>45", 0)
		}
		for _, k := range [][3]body.Point{{body.LeftShoulder, body.LeftElbow, body.LeftWrist}, {body.RightShoulder, body.RightElbow, body.RightWrist}} {
			a := geom.Between(c[k[1]].Sub(c[k[0]]), c[k[2]].Sub(c[k[1]])).Degrees()
			b := geom.Between(l.P[k[1]][i].Sub(l.P[k[0]][i]), l.P[k[2]][i].Sub(l.P[k[1]][i])).Degrees()
			add("elbowflex", math.Abs(a-b))
			cover("zel", a, b, func(p *[track.LiftJoints][]geom.Vec3) float64 {
				return geom.Between(p[k[1]][i].Sub(p[k[0]][i]), p[k[2]][i].Sub(p[k[1]][i])).Degrees()
			})
		}
	}
}

func TestLiftAgainstTruth(t *testing.T) {
	n := 40
	var spent time.Duration
	lifts := 0
	if os.Getenv("LIFTROUNDS") != "" {
		k := 0
		fmt.Sscan(os.Getenv("LIFTROUNDS"), &k)
		track.SetRounds(k)
	}
	if os.Getenv("LIFTPASS") != "" {
		fmt.Sscan(os.Getenv("LIFTPASS"), &track.LiftPasses)
	}
	if os.Getenv("LIFTN") != "" {
		fmt.Sscan(os.Getenv("LIFTN"), &n)
	}
	for _, marks := range []bool{true, false} {
		all := tally{}
		for view := camera.ViewBehind; view <= camera.ViewLeft; view++ {
			per := tally{}
			for k := range n / 4 {
				seed := uint64(view)*1000 + uint64(k) + 500
				m := synth.NewSwing(synth.Spec{Seed: seed})
				st := m.Struck[0]
				mv := func(t float64) *[body.NumPoints]geom.Vec3 { p := m.At(t); return &p.P }
				focus := m.At(st.Contact).P[body.MidHip]
				focus.Y = 0.62 * m.Build.Stature
				if st.Stroke.OverheadMotion() {
					focus.Y = 0.85 * m.Build.Stature
				}
				rng := rand.New(rand.NewPCG(seed, 9))
				f := film(mv, focus, math.Max(m.Start, st.Contact-2.3), st.Contact+0.7, view, marks, rng)
				w := &track.Window{Frames: f.frames, Cameras: []camera.Camera{f.cam}}
				t0 := float64(f.frames[0].TimeUS-10_000_000) / 1e6
				w.Guess, w.GuessSD = st.Contact-t0+0.03*rng.NormFloat64(), 0.06
				var eye camera.Pose
				distance := 0.0
				if marks && f.cam.Marks != nil {
					var err error
					if eye, err = camera.Solve(f.cam); err != nil {
						t.Log(seed, err)
						continue
					}
					distance = eye.InCamera(focus).Z
				} else {
					w.Player.Stature = math.Round(m.Build.Stature*100) / 100
					loc, err := camera.LocateByStature(f.cam, f.frames, w.Player.Stature, view)
					if err != nil {
						t.Log(seed, err)
						continue
					}
					eye = loc.Pose
					distance = loc.Hips[0].InCamera.Z
				}
				if os.Getenv("LIFTTRUTH") != "" {
					track.TrueStature = m.Build.Stature
					track.FromTruth = os.Getenv("LIFTTRUTH") == "2"
					track.Truth = func(s float64) (z [track.LiftJoints]float64) {
						p := mv(s + t0)
						for j := range z {
							z[j] = f.eye.InCamera(p[j]).Z * distance / f.eye.InCamera(focus).Z
						}
						return z
					}
				}
				began := time.Now()
				l := track.LiftImage(w, eye, marks, distance)
				spent += time.Since(began)
				lifts++
				if l == nil {
					t.Log(seed, "no lift")
					continue
				}
				if !marks {
					up := f.eye.R.Apply(geom.Vec3{Y: 1})
					was := math.Asin(l.Up.Z) - math.Asin(up.Z)
					now := math.Asin(l.Up.Sub(geom.Vec3{Z: l.Theta[12]}).Unit().Z) - math.Asin(up.Z)
					per.add("pitch", math.Abs(was)*57.3)
					all.add("pitch", math.Abs(was)*57.3)
					per.add("pitched", math.Abs(now)*57.3)
					all.add("pitched", math.Abs(now)*57.3)
				}
				one := tally{}
				judge(l, &f, mv, t0, st.Contact, per, all, one)
				if os.Getenv("LIFTSEED") == fmt.Sprint(seed) {
					look(l, &f, mv, t0, st.Contact)
				}
				if testing.Verbose() {
					one.print(fmt.Sprintf("  %d %s s%d/%d r%d c%.0f", seed, st.Stroke, l.Steps, l.Tries, l.Rivals, l.Cost))
				}
			}
			per.print(fmt.Sprintf("marks %v view %d", marks, view))
		}
		all.print(fmt.Sprintf("marks %v all", marks))
	}
	fmt.Printf("%.1f ms a lift\n", float64(spent.Microseconds())/1e3/float64(max(1, lifts)))
}

// imageSD is the variance that the rays' own errors add.
func imageSD(name string) float64 {
	if name == "zwr" {
		return 0.0001
	}
	return 4
}
