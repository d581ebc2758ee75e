package track

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
)

// rodStage is a racket that turns before one camera, held by a right hand: the camera
// looks along −Z from 6 m.
type rodStage struct {
	m    *scene
	axis func(t float64) geom.Vec3
	hold geom.Vec3 // grip centre − wrist along axis, forearm and their cross product, metres
}

// newRodStage makes sights every 1/60 s over a second, impact at 0.7 s. The axis turns at rate
// rad/s about an axis that is tilted to the line of sight.
func newRodStage(rate float64, noise float64) *rodStage {
	const end = 1.0
	s := &rodStage{hold: geom.Vec3{X: 0.03, Y: 0.02, Z: -0.03}}
	about := geom.Vec3{X: 0.5, Y: 1, Z: 0.3}.Unit()
	s.axis = func(t float64) geom.Vec3 {
		return geom.RotationAbout(about, geom.Angle(rate*t)).Apply(geom.Vec3{X: 1, Y: -0.2, Z: 0.1}.Unit())
	}
	eye := camera.Pose{R: geom.Rows(geom.Vec3{X: 1}, geom.Vec3{Y: -1}, geom.Vec3{Z: -1}), T: geom.Vec3{Y: 1, Z: 6}, Focal: 1500, CX: 960, CY: 540}
	m := &scene{w: &Window{Guess: 0.7, Slow: 1}, rig: &Rig{Eyes: []camera.Pose{eye}}, length: 0.685, throat: 0.34}
	m.g = newGrid(solveSteps, -0.02, 0.7, end+0.02)
	wrist := func(t float64) geom.Vec3 { return geom.Vec3{X: 0.3 * math.Sin(4*t), Y: 1, Z: 0.2 * t} }
	elbow := func(t float64) geom.Vec3 {
		return wrist(t).Add(geom.Vec3{X: -0.2, Y: 0.1 * math.Cos(3*t), Z: -0.05})
	}
	for p, at := range map[body.Point]func(t float64) geom.Vec3{body.RightWrist: wrist, body.RightElbow: elbow} {
		q := &path{g: m.g}
		for _, t := range m.g.t {
			q.mean = append(q.mean, at(t))
		}
		m.paths[p] = q
	}
	rng := rand.New(rand.NewPCG(5, 6))
	for k := range 60 {
		t := float64(k) / 60
		m.w.Frames = append(m.w.Frames, body.Frame{TimeUS: int64(t * 1e6)})
		u, f := s.axis(t), wrist(t).Sub(elbow(t)).Unit()
		grip := wrist(t).Add(u.Scale(s.hold.X)).Add(f.Scale(s.hold.Y)).Add(u.Cross(f).Scale(s.hold.Z))
		for _, p := range []body.Point{body.RacketTip, body.RacketButt} {
			x, y, _ := m.rig.Eyes[0].Project(grip.Add(u.Scale(m.along(p))))
			px := geom.Vec3{X: x + noise*rng.NormFloat64(), Y: y + noise*rng.NormFloat64()}
			m.sights[p] = append(m.sights[p], sight{kind: image, t: t, p: px, eye: &m.rig.Eyes[0], sd: 1, w: 1, h: &hiss{white: 1}})
		}
	}
	m.moved = make([]float64, len(m.w.Frames))
	s.m = m
	return s
}

// A turning racket shows its hold from all sides: the fit finds it, depth and all.
func TestGraspIsLearned(t *testing.T) {
	s := newRodStage(9, 1)
	g := s.m.fitGrasp(body.RightWrist, s.axis, s.m.alongForearm(body.RightWrist), graspMean, graspSD)
	if g == nil {
		t.Fatal("no grasp")
	}
	if d := g.mean.Sub(s.hold).Norm(); d > 0.012 {
		t.Errorf("hold %v, want %v: %.3f m off", g.mean, s.hold, d)
	}
	sum := 0.0
	for _, d := range g.draws {
		sum += d.Dot(d)
	}
	if sd := math.Sqrt(sum / liftDraws); sd > 0.04 || sd < 0.002 {
		t.Errorf("its error is said to be %.4f m", sd)
	}
}

// A racket that does not turn shows nothing of its hold along the line of sight: the
// belief stays as wide there as before.
func TestGraspStaysOpenWhereNothingShows(t *testing.T) {
	s := newRodStage(9, 1)
	still := func(float64) geom.Vec3 { return geom.Vec3{Z: 1} }
	s.m.paths[body.RightElbow] = nil
	g := s.m.fitGrasp(body.RightWrist, still, s.m.alongForearm(body.RightWrist), graspMean, graspSD)
	sum := 0.0
	for _, d := range g.draws {
		sum += d.X * d.X
	}
	if sd := math.Sqrt(sum / liftDraws); sd < 0.6*graspSD.X {
		t.Errorf("sd along the line of sight %.3f m, believed before %.3f", sd, graspSD.X)
	}
}

func (s *rodStage) grip(t float64) geom.Vec3 { return s.m.paths[body.RightWrist].at(t) }

// The instants at which the rod lies across the view are found, and where the racket went
// on through the plane across the view, that is said to be likelier than turning back.
func TestTurningPointsArePassed(t *testing.T) {
	s := newRodStage(9, 0.5)
	cs := s.m.choices(s.m.grips())
	if len(cs) != 60 {
		t.Fatalf("%d frames", len(cs))
	}
	c := s.m.newTilts(cs, make([][2]float64, len(cs)), inTime(append(s.m.racketSights(), s.m.gripAnchors()...)), s.m.grips())
	early := 0
	for k := 1; k < len(c.cost); k++ {
		at := cs[c.bounds[k]].t
		forward := s.m.rig.Eyes[0].Forward()
		if z := s.axis(at).Dot(forward); math.Abs(z) > 0.3 {
			t.Errorf("a turning point at %.3f s, where the sine of the tilt is %.2f", at, z)
		}
		if at < c.at-nearBefore {
			early++
			went := s.axis(at-0.06).Dot(forward)*s.axis(at+0.06).Dot(forward) < 0
			if went != (c.pass[k] > 0) {
				t.Errorf("went on at %.3f s: %v; log odds of that %.2f", at, went, c.pass[k])
			}
		}
	}
	if early == 0 {
		t.Error("no turning point before impact")
	}
}

// Draws change sign as often as the chain's odds say.
func TestSignsAreDrawnByTheirOdds(t *testing.T) {
	c := &tilts{cost: [][2]float64{{1, 0}, {0, 3}, {0, 0}}, pass: []float64{0, 0.7, -0.4}, early: 2, late: 2}
	c.gather()
	// P(s1 = 1 | s2 = 0): enumerate stretch 0.
	var w [2]float64
	for s1 := range 2 {
		for s0 := range 2 {
			l := -0.5 * (c.cost[0][s0] + c.cost[1][s1])
			if s0 != s1 {
				l += c.pass[1]
			}
			if s1 != 0 {
				l += c.pass[2]
			}
			w[s1] += math.Exp(l)
		}
	}
	want, got := w[1]/(w[0]+w[1]), 0.0
	const n = 20000
	rng := newDice(1, 1)
	for range n {
		got += float64(c.signs([2]int{0, 0}, rng)[1]) / n
	}
	if sd := math.Sqrt(want * (1 - want) / n); math.Abs(got-want) > 4*sd {
		t.Errorf("drawn in %.4f, want %.4f ± %.4f", got, want, sd)
	}
}

// What is turned over in a draw is seen by the camera where it was, and is as long.
func TestWaverKeepsTheImage(t *testing.T) {
	s := newRodStage(9, 0)
	cs := s.m.choices(s.m.grips())
	c := s.m.newTilts(cs, make([][2]float64, len(cs)), inTime(append(s.m.racketSights(), s.m.gripAnchors()...)), s.m.grips())
	if c.early == 0 {
		t.Fatal("nothing before the racket's last stretch")
	}
	c.cost[0] = [2]float64{0, 0}
	c.pass[1] = 0
	c.gather()
	var grip, axis []geom.Vec3
	for _, x := range s.m.g.t {
		grip, axis = append(grip, s.grip(x)), append(axis, s.axis(x))
	}
	r := newRod(nil, s.m.g, grip, axis)
	o := c.open(r)
	eye := &s.m.rig.Eyes[0]
	flipped := 0
	for k := range 20 {
		a := append([]geom.Vec3(nil), axis...)
		o.waver(newDice(9, k), s.m.g, grip, a)
		edge := cs[c.bounds[1]].t - 2*crossTime
		for i, x := range s.m.g.t {
			if x > edge {
				break
			}
			tip := func(u geom.Vec3) (float64, float64) {
				px, py, _ := eye.Project(grip[i].Add(u.Scale(c.reach)))
				return px, py
			}
			x0, y0 := tip(axis[i])
			x1, y1 := tip(a[i])
			if d := math.Hypot(x1-x0, y1-y0); d > 4 {
				t.Fatalf("at %.2f s the tip moved by %.1f px", x, d)
			}
			if a[i].Dot(axis[i]) < 0.99 {
				flipped++
			}
			if l := a[i].Norm(); math.Abs(l-1) > 1e-9 {
				t.Fatalf("an axis of length %f", l)
			}
		}
	}
	if flipped == 0 {
		t.Error("no draw was turned over")
	}
}

// Two hands on one handle tell which way it is tilted, and the trunk is in the way.
func TestHabitsTellTheTilt(t *testing.T) {
	h := &habits{at: 2, reach: 0.585}
	grip := geom.Vec3{X: 0.3, Y: 1.1}
	u := geom.Vec3{X: 0.4, Y: 0.3, Z: 0.85}.Unit()
	mirror := geom.Vec3{X: u.X, Y: u.Y, Z: -u.Z}
	h.hand = func(float64) geom.Vec3 { return grip }
	h.sight = func(geom.Vec3) geom.Vec3 { return geom.Vec3{Z: -1} }
	h.apart = func(float64) float64 { return 0.06 }
	h.other = func(float64) geom.Vec3 { return grip.Add(u.Scale(0.22)) }
	if a, b := h.cost(0, u), h.cost(0, mirror); b-a < 4 {
		t.Errorf("a second hand on the handle: cost %.1f, of its mirror image %.1f", a, b)
	}
	h.other = func(float64) geom.Vec3 { return grip.Add(geom.Vec3{X: -0.5, Y: -0.4, Z: 0.3}) }
	if a, b := h.cost(0, u), h.cost(0, mirror); math.Abs(a-b) > 1 {
		t.Errorf("a free hand: cost %.1f, of its mirror image %.1f", a, b)
	}
	h.other = nil
	hips := grip.Add(mirror.Scale(0.35)).Sub(geom.Vec3{Y: 0.3})
	h.trunk = [][]trunkAt{{{hips, hips.Add(geom.Vec3{Y: 0.5}), geom.Vec3{X: 1}}}}
	if a, b := h.cost(0, u), h.cost(0, mirror); b-a < 4 {
		t.Errorf("a trunk in the way: cost %.1f, of its mirror image %.1f", a, b)
	}
}
