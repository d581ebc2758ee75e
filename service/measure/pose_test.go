package measure

import (
	"math"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/phase"
)

// Poses by hand. Axes and senses: X to the net, Y up, Z to the right (Wu & Cavanagh
// 1995, ISB); elbow and knee flexion 0 when straight, rising as the joint folds (Wu
// et al. 2002 for the knee, 2005 for the elbow, ISB). Turns, tilts and leans have
// the signs of measures.md: positive toward the side on which the ball is hit, so a
// backhand's are the forehand's in a mirror.
func TestPoses(t *testing.T) {
	const fh, bh, ohb = body.Forehand, body.TwoHandedBackhand, body.OneHandedBackhand
	nan := math.NaN()
	set := func(pairs ...any) func(*made) {
		return func(m *made) {
			for i := 0; i < len(pairs); i += 2 {
				m.points[pairs[i].(body.Point)] = still2(pairs[i+1].(geom.Vec3))
			}
		}
	}
	faceRight := set(body.LeftShoulder, vec(0.2, 1.45, 0), body.RightShoulder, vec(-0.2, 1.45, 0))
	backToNet := set(body.LeftShoulder, vec(0, 1.45, 0.2), body.RightShoulder, vec(-0.01, 1.45, -0.2))
	hipsRight := set(body.LeftHip, vec(0.15, 1, 0), body.RightHip, vec(-0.15, 1, 0))
	bent := set(body.RightWrist, vec(0.25, 1.15, 0.2))
	folded := set(body.RightElbow, vec(0, 1.15, 0.2), body.RightWrist, vec(0, 1.45, 0.2))
	rightUp := set(body.LeftShoulder, vec(0, 1.4, -0.2), body.RightShoulder, vec(0, 1.8, 0.2))
	leanRight := set(body.LeftShoulder, vec(0, 1.4, 0.2), body.RightShoulder, vec(0, 1.4, 0.6))
	leanAhead := set(body.LeftShoulder, vec(0.4, 1.4, -0.2), body.RightShoulder, vec(0.4, 1.4, 0.2))
	kneeBent := set(body.RightKnee, vec(0.45, 1, 0.15), body.RightAnkle, vec(0.45, 0.55, 0.15))
	lagging := func(u geom.Vec3) func(*made) {
		return func(m *made) {
			m.axis = still2(u)
			m.grip = func(t float64) geom.Vec3 { return vec(5*t, 1, 0.5) }
		}
	}
	strike := func(d geom.Vec3) func(*made) {
		return func(m *made) { m.center = func(t float64) geom.Vec3 { return vec(0.4, 1.1, 0.9).Add(d.Scale(t - 1)) } }
	}
	cases := []struct {
		measure string
		pose    string
		change  func(*made)
		stroke  body.Stroke
		want    float64
	}{
		{"turn.shoulders.contact", "facing the net", nil, fh, 0},
		{"turn.shoulders.contact", "chest to the right", faceRight, fh, 90},
		{"turn.shoulders.contact", "chest to the right, hit on the left", faceRight, bh, -90},
		{"turn.shoulders.contact", "back to the net", backToNet, fh, 180 - degrees(math.Atan2(0.01, 0.4))},
		{"turn.shoulders.max", "chest to the right", faceRight, fh, 90},
		{"turn.hips.contact", "belly to the right", hipsRight, fh, 90},
		{"turn.hips.max", "belly to the right, hit on the left", hipsRight, bh, -90},
		{"turn.separation.contact", "shoulders turned on square hips", faceRight, fh, 90},
		{"turn.separation.forward_start", "hips turned under square shoulders", hipsRight, fh, -90},
		{"turn.separation.max", "shoulders turned on square hips", faceRight, fh, 90},

		{"elbow.hitting.contact", "straight", nil, fh, 0},
		{"elbow.hitting.contact", "right angle", bent, fh, 90},
		{"elbow.hitting.forward_start", "right angle", bent, fh, 90},
		{"elbow.hitting.contact", "folded", folded, fh, 180},
		{"elbow.hitting.contact", "two-handed: the left arm hits", bent, bh, 0},
		{"elbow.support.contact", "two-handed: the right arm supports", bent, bh, 90},
		{"elbow.support.forward_start", "two-handed: the right arm supports", bent, bh, 90},
		{"elbow.hitting.contact", "one-handed: the right arm hits", bent, ohb, 90},
		{"elbow.support.contact", "not for a one-handed backhand", bent, ohb, nan},

		{"lag.contact", "tip straight behind the hand", lagging(vec(-1, 0, 0)), fh, 90},
		{"lag.contact", "racket square to the path", lagging(vec(0, 0, 1)), fh, 0},
		{"lag.contact", "tip straight ahead", lagging(vec(1, 0, 0)), fh, -90},
		{"lag.contact", "tip up is square too", lagging(vec(0, 1, 0)), fh, 0},
		{"lag.contact", "a hand at rest has no lag", nil, fh, nan},
		{"lag.max", "half behind", lagging(vec(-math.Sqrt2/2, 0, math.Sqrt2/2)), fh, 45},
		{"wrist.racket_forearm.max", "racket square to a hanging forearm", nil, fh, 90},
		{"wrist.racket_forearm.max", "racket in line with it", func(m *made) { m.axis = still(0, -1, 0) }, fh, 0},

		{"posture.shoulder_tilt", "level", nil, fh, 0},
		{"posture.shoulder_tilt", "hitting side higher", rightUp, fh, 45},
		{"posture.shoulder_tilt", "hitting side lower", rightUp, bh, -45},
		{"posture.lean_side", "upright", nil, fh, 0},
		{"posture.lean_side", "toward the hitting side", leanRight, fh, 45},
		{"posture.lean_side", "away from the hitting side", leanRight, bh, -45},
		{"posture.lean_forward", "toward the net", leanAhead, fh, 45},
		{"posture.lean_side", "toward the net is not sideways", leanAhead, fh, 0},

		{"legs.stance", "square", set(body.LeftAnkle, vec(0.5, 0.1, 0.15)), fh, 0},
		{"legs.stance", "closed: the front foot steps across", set(body.LeftAnkle, vec(0.5, 0.1, 0.65)), fh, 45},
		{"legs.stance", "open: the front foot stays away", set(body.LeftAnkle, vec(0.5, 0.1, -0.35)), fh, -45},
		{"legs.stance", "closed backhand", set(body.RightAnkle, vec(0.5, 0.1, -0.65)), bh, 45},
		{"legs.stance", "level feet: straight away from the hitting side", nil, fh, -90},
		{"legs.knee_back.max", "right knee bent square, right foot back", func(m *made) {
			kneeBent(m)
			m.points[body.LeftAnkle] = still(0.8, 0.1, -0.15)
		}, fh, 90},
		{"legs.knee_front.max", "right knee bent square, right foot in front", kneeBent, fh, 90},
		{"legs.base_width", "0.7 m apart at 1.75 m", set(body.LeftAnkle, vec(0, 0.1, -0.55)), fh, 0.4},

		{"head.over_shoulder", "eyes to the net, shoulders turned", faceRight, fh, 90},
		{"head.over_shoulder", "eyes with the chest", func(m *made) { faceRight(m); m.points[body.Nose] = still(0, 1.65, 0.12) }, fh, 0},
		{"head.over_shoulder", "eyes to the net on a backhand", set(body.LeftShoulder, vec(-0.2, 1.45, 0), body.RightShoulder, vec(0.2, 1.45, 0)), bh, 90},

		{"contact.height", "", nil, fh, 1.1},
		{"contact.height_waist", "", nil, fh, 0.1},
		{"contact.ahead", "", nil, fh, 0.4},
		{"spacing.hands", "", nil, fh, 0.5},
		{"spacing.hands", "hands on the other side", nil, bh, -0.5},
		{"spacing.clearance", "half of 0.3 m less", nil, fh, 0.35},
		{"spacing.reach", "0.4 ahead, 0.9 to the side", nil, fh, math.Hypot(0.4, 0.9)},
		{"take_back.tip_above_hands", "", set(body.RacketTip, vec(0.3, 1.4, 0.9)), fh, 0.4},
		{"take_back.hands_height", "", func(m *made) { m.grip = still(0.3, 1.25, 0.5) }, fh, 0.25},
		{"take_back.tip_side", "", nil, fh, 0.6},
		{"take_back.tip_side", "on the other side", nil, bh, -0.6},

		{"path.rise_angle", "level", strike(vec(10, 0, 3)), fh, 0},
		{"path.rise_angle", "half way up", strike(vec(6, 10, 8)), fh, 45},
		{"path.rise_angle", "down", strike(vec(6, -10, 8)), fh, -45},
		{"path.out_angle", "inside to outside", strike(vec(5, 2, 5)), fh, 45},
		{"path.out_angle", "outside to inside on the other side", strike(vec(5, 2, 5)), bh, -45},
		{"path.tip_drop", "", set(body.RacketTip, vec(0.3, 0.6, 1.1)), fh, 0.5},
		{"path.hand_drop", "", nil, fh, 0.1},

		{"lag.tip_wrap", "tip ahead throughout: undefined", nil, fh, nan},
		{"lag.tip_wrap", "behind, on the hitting side", set(body.RacketTip, vec(-0.2, 1, 0.3)), fh, -0.3},
		{"lag.tip_wrap", "behind, past the middle", set(body.RacketTip, vec(-0.2, 1, -0.3)), fh, 0.3},
		{"lag.tip_wrap", "the same on a backhand", set(body.RacketTip, vec(-0.2, 1, 0.3)), bh, 0.3},
	}
	for _, c := range cases {
		t.Run(c.measure+"/"+c.pose, func(t *testing.T) {
			m := standing()
			if c.change != nil {
				c.change(&m)
			}
			near(t, c.measure, read(t, c.measure, m, someTimes(), c.stroke), c.want, 1e-6)
		})
	}
}

func still2(v geom.Vec3) path { return still(v.X, v.Y, v.Z) }

// A tip on a circle of radius 1.2 m that speeds up evenly: speeds and paths by hand.
func TestSpeedsOnACircle(t *testing.T) {
	const radius, rate = 1.2, 8.0 // m, rad/s²
	m := standing()
	m.points[body.RacketTip] = func(t float64) geom.Vec3 {
		s, c := math.Sincos(rate * t * t / 2)
		return vec(radius*s, 1, radius*c)
	}
	m.center = func(t float64) geom.Vec3 { return m.points[body.RacketTip](t).Scale(0.5) }
	m.grip = func(t float64) geom.Vec3 { return vec(3*t, 4*t, 0) }
	angle := func(from, to float64) float64 { return rate * (to*to - from*from) / 2 }
	times := someTimes()
	cases := []struct {
		measure string
		want    float64
		tol     float64
	}{
		{"racket_speed.tip.contact", radius * rate, 1e-4},
		{"racket_speed.tip.peak", radius * rate, 1e-4},
		{"racket_speed.head.contact", radius * rate / 2, 1e-4},
		{"racket_speed.hand.contact", 5, 1e-6},
		{"racket_speed.tip.mean_forward", radius * angle(0.7, 1) / 0.3, 1e-4},
		{"lag.tip_path", radius * angle(0.7, 1), 1e-5},
		{"lag.snap_back", radius * angle(0.6, 0.85), 1e-5},
	}
	for _, c := range cases {
		near(t, c.measure, read(t, c.measure, m, times, body.Forehand), c.want, c.tol)
	}
	times[phase.DropStart] = math.NaN()
	near(t, "snap-back from the completed turn", read(t, "lag.snap_back", m, times, body.Forehand), radius*angle(0.5, 0.85), 1e-5)
}

// The lag falls as a parabola: its rate is largest at contact.
func TestRelease(t *testing.T) {
	m := standing()
	m.grip = func(t float64) geom.Vec3 { return vec(10*t, 1, 0.5) }
	m.axis = func(t float64) geom.Vec3 {
		s, c := math.Sincos(1 - 40*(t-0.85)*(t-0.85))
		return vec(-s, 0, c)
	}
	near(t, "largest lag", read(t, "lag.max", m, someTimes(), body.Forehand), degrees(1), 1e-3)
	near(t, "lag at contact", read(t, "lag.contact", m, someTimes(), body.Forehand), degrees(0.1), 1e-6)
	near(t, "release rate", read(t, "lag.release_rate", m, someTimes(), body.Forehand), degrees(12), 0.01)
	near(t, "release time", read(t, "lag.release_time", m, someTimes(), body.Forehand), 0.15, 1e-12)
}

// A head that swings by 5 mm, two whole swings in 120 ms: RMS 5/√2 mm. What head and
// shoulders do together is none of it.
func TestStillness(t *testing.T) {
	m := standing()
	sway := func(p path, by float64) path {
		return func(t float64) geom.Vec3 {
			return p(t).Add(vec(2*t, 0, by*math.Sin(2*math.Pi*(t-1)/0.06)))
		}
	}
	for _, p := range []body.Point{body.LeftShoulder, body.RightShoulder} {
		m.points[p] = sway(m.points[p], 0)
	}
	for _, p := range []body.Point{body.LeftEar, body.RightEar} {
		m.points[p] = sway(m.points[p], 0.005)
	}
	near(t, "head.stillness", read(t, "head.stillness", m, someTimes(), body.Forehand), 0.005/math.Sqrt2, 1e-4)
	c := m.course()
	short := c.Break + 10 // frames end 40 ms after contact
	c.T = c.T[:short]
	for p := range c.Pos {
		if c.Has[p] {
			c.Pos[p], c.Vel[p] = c.Pos[p][:short], c.Vel[p][:short]
		}
	}
	near(t, "head.stillness of a short clip", readCourse(t, "head.stillness", c, someTimes(), body.Forehand), math.NaN(), 0)
}

// Hips that sink in a parabola and come up again.
func TestRise(t *testing.T) {
	m := standing()
	for _, p := range []body.Point{body.LeftHip, body.RightHip} {
		base := m.points[p]
		m.points[p] = func(t float64) geom.Vec3 { return base(t).Add(vec(0, (t-0.8)*(t-0.8), 0)) }
	}
	near(t, "legs.rise", read(t, "legs.rise", m, someTimes(), body.Forehand), 0.04, 1e-6)
	times := someTimes()
	times[phase.TurnComplete] = 0.9
	near(t, "legs.rise from 0.9 s", read(t, "legs.rise", m, times, body.Forehand), 0.03, 1e-5) // ends are linear between samples
}

// bump is a peak of rate at t0: the integral of a Gaussian of 30 ms, size 1.
func bump(t, t0 float64) float64 { return 0.5 * (1 + math.Erf((t-t0)/(0.03*math.Sqrt2))) }

func chained(hips, shoulders, hand, tip, spin float64) made {
	m := standing()
	turn := func(left, right body.Point, w, y, at float64) {
		end := func(sign float64) path {
			return func(t float64) geom.Vec3 {
				s, c := math.Sincos(1.5 - bump(t, at))
				return vec(-sign*w*s, y, sign*w*c)
			}
		}
		m.points[left], m.points[right] = end(-1), end(1)
	}
	turn(body.LeftHip, body.RightHip, 0.15, 1, hips)
	turn(body.LeftShoulder, body.RightShoulder, 0.2, 1.45, shoulders)
	m.grip = func(t float64) geom.Vec3 { return vec(bump(t, hand), 1, 0.5) }
	m.points[body.RacketTip] = func(t float64) geom.Vec3 { return vec(3*bump(t, tip), 1, 1) }
	m.axis = func(t float64) geom.Vec3 {
		s, c := math.Sincos(bump(t, spin))
		return vec(s, 0, c)
	}
	return m
}

func TestChain(t *testing.T) {
	times := someTimes()
	m := chained(0.75, 0.8, 0.85, 0.9, 0.91)
	near(t, "chain.hips_to_racket", read(t, "chain.hips_to_racket", m, times, body.Forehand), 0.16, 5e-4)
	cases := []struct {
		name                       string
		hips, shoulders, hand, tip float64
		want                       float64
	}{
		{"in order", 0.75, 0.8, 0.85, 0.9, 1},
		{"4 ms early counts as in order", 0.75, 0.8, 0.796, 0.9, 1},
		{"10 ms early does not", 0.75, 0.8, 0.79, 0.9, 2. / 3},
		{"reversed", 0.9, 0.85, 0.8, 0.75, 0},
	}
	for _, c := range cases {
		m := chained(c.hips, c.shoulders, c.hand, c.tip, 0.9)
		near(t, c.name, read(t, "chain.in_order", m, times, body.Forehand), c.want, 1e-12)
	}
	near(t, "a serve without a trophy", read(t, "chain.in_order", m, times, body.Serve), math.NaN(), 0)
	times[phase.Trophy] = 0.5
	near(t, "a serve with one", read(t, "chain.in_order", m, times, body.Serve), 1, 1e-12)
}

// "At contact" is the limit from before impact: nothing after moves it, except what
// is defined over both sides.
func TestContactReadsBeforeImpact(t *testing.T) {
	m := chained(0.75, 0.8, 0.85, 0.9, 0.91)
	c := m.course()
	ctx := Context{Context: phase.Context{Stroke: body.TwoHandedBackhand}, Stature: 1.7}
	want := Evaluate(c, someTimes(), ctx)
	bad := func(v []geom.Vec3) {
		for i := c.Break + 1; i < len(v); i++ {
			v[i] = vec(1e6, -1e6, float64(i))
		}
	}
	for p := range c.Pos {
		bad(c.Pos[p])
		bad(c.Vel[p])
	}
	for _, v := range [][]geom.Vec3{c.Grip, c.GripVel, c.Axis, c.AxisVel, c.Center, c.CenterVel} {
		bad(v)
	}
	got := Evaluate(c, someTimes(), ctx)
	for i, row := range Catalog() {
		if row.Name != "head.stillness" {
			near(t, row.Name, got[i], want[i], 0)
		}
	}
}

// TestStature: what was told, else lengths: the standing figure's trunk is 0.45 m (hips
// at 1 m, shoulders at 1.45 m), its legs 0.9 m (ankles at 0.1 m): 1.35 m ÷ 0.779.
func TestStature(t *testing.T) {
	at, _ := Index(Stature)
	c := standing().course()
	forehand := Context{Context: phase.Context{Stroke: body.Forehand}}
	told := forehand
	told.Stature = 1.82
	near(t, "told", Evaluate(c, someTimes(), told)[at], 1.82, 0)
	near(t, "from lengths", Evaluate(c, someTimes(), forehand)[at], 1.35/0.779, 1e-9)
	m := standing()
	delete(m.points, body.LeftKnee)
	near(t, "a knee not seen", Evaluate(m.course(), someTimes(), forehand)[at], math.NaN(), 0)

	for _, k := range []struct {
		name, method string
		told         bool
		sd           float64
		grade        Grade
	}{
		{"told", MethodImage, true, 0.01, Good},
		{"points in space", MethodWorld, false, math.Sqrt(.003*.003 + .01*.01 + .03*.03*1.7*1.7), Rough},
		{"two cameras", MethodTwoView, false, math.Sqrt(.003*.003 + .01*.01 + .03*.03*1.7*1.7), Rough},
		{"one image has no scale of its own", MethodImage, false, math.NaN(), NotMeasurable},
		{"nor an estimator's metres", MethodOneView, false, math.NaN(), NotMeasurable},
	} {
		cond := Conditions{Stroke: body.Forehand, Have: everything, Times: someTimes(), Method: k.method}
		draws := spreadOut(1.7, 0)
		if !k.told {
			cond.Have &^= NeedStature
			draws = spreadOut(1.7, .003)
		}
		f := figureOf(t, Stature, 1.7, draws, cond)
		if f.Grade != k.grade || (f.Grade != Good) != (f.Reason != "") {
			t.Errorf("%s: grade %v, %q", k.name, f.Grade, f.Reason)
		}
		near(t, k.name, f.SD, k.sd, 1e-9)
	}
}
