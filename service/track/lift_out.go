package track

import (
	"math"
	"math/rand/v2"
	"slices"
	"sort"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/signal"
)

// liftImage sees the motion by one camera's image points alone: the camera from
// the court's marks, or else from stature; the depths by a lift.
func (m *scene) liftImage() error {
	frames := m.framesOf(0)
	var cam camera.Camera
	if len(m.w.Cameras) > 0 {
		cam = m.w.Cameras[0]
	}
	eye, distance, err := m.imageEye(cam, frames)
	if err != nil {
		return err
	}
	m.method = "image_plane"
	m.rig = &Rig{Eyes: []camera.Pose{eye}, Offset: []float64{0}}
	m.collectImages(m.rig)
	m.measureNoise()
	if !m.lift(&m.rig.Eyes[0], distance, nil) {
		return ErrTooLittle
	}
	return nil
}

// imageEye finds the camera and roughly how far off the player is, metres.
func (m *scene) imageEye(cam camera.Camera, frames []body.Frame) (camera.Pose, float64, error) {
	if pose, err := m.court(0); err == nil {
		m.onCourt = true
		return pose, groundDistance(&pose, frames), nil
	}
	loc, err := camera.LocateByStature(cam, frames, m.w.Player.Stature, cam.View)
	if err != nil {
		return camera.Pose{}, 0, err
	}
	if len(loc.Hips) == 0 {
		return camera.Pose{}, 0, ErrTooLittle
	}
	m.upright = math.Max(float64(loc.Gravity.PitchSD), float64(loc.Gravity.RollSD))
	return loc.Pose, loc.Hips[0].InCamera.Z, nil
}

// groundDistance is the median distance at which the feet's rays meet the ground, metres.
func groundDistance(eye *camera.Pose, frames []body.Frame) float64 {
	up := eye.R.Apply(geom.Vec3{Y: 1})
	floor := up.Dot(eye.T) + ankleShare*usualPlayer
	var d []float64
	for i := range frames {
		for _, p := range [2]body.Point{body.LeftAnkle, body.RightAnkle} {
			s := frames[i].Image[p]
			if down := up.Dot(eye.CameraRay(float64(s.X), float64(s.Y))); s.Score > 0 && down < -0.01 {
				d = append(d, floor/down)
			}
		}
	}
	if len(d) == 0 {
		return usualDistance
	}
	return clamp(signal.Median(d), 1, 60)
}

// usualDistance is how far a camera stands from a player where nothing tells, metres.
const usualDistance = 8.0

// lift finds the joints' depths in the view of one camera and adds them to the sights: of
// each joint, its distance along the camera's axis at the lift's nodes, and its
// place as a start. worlds, where given, help. It reports whether it could.
func (m *scene) lift(eye *camera.Pose, distance float64, worlds []worldDepth) bool {
	l := m.newLift(eye, m.onCourt, distance)
	if l == nil {
		return false
	}
	l.worlds = l.onNodes(worlds)
	if !l.liftUp(distance, liftPasses) {
		return false
	}
	l.makeDraws(&m.room.lift)
	m.emit(l)
	m.room.lift.a, m.room.lift.still = l.a, l.still
	return true
}

// liftPasses bounds the Gauss–Newton steps. With world points further ones move joints by a
// millimetre or two; with image points alone by a centimetre, along depths of which nothing
// tells to within several: made swings come out no better for them.
const liftPasses = 4

// emit adds the lift's depths to the sights and starts.
func (m *scene) emit(l *lift) {
	eye := l.eye
	back, forward := eye.R.T(), eye.Forward()
	ahead := forward.Dot(eye.Center())
	for j := range liftJoints {
		if !l.seen[j] {
			continue
		}
		n := len(l.t)
		noise, errs := make([]hiss, n), m.room.zeros(liftDraws*n)
		depths, starts := m.room.sightList(n)[:n], m.room.sightList(n)[:n]
		for i, t := range l.t {
			c := l.at(i, j)
			noise[i] = l.noise(i, j)
			e := errs[liftDraws*i:][:liftDraws:liftDraws]
			for k, d := range l.draws {
				e[k] = d[i*liftJoints+j]
			}
			depths[i] = sight{kind: reach, t: t, dir: forward, p: geom.Vec3{X: c.Z + ahead}, sd: liftFollow, h: &noise[i], errs: e, w: 1}
			starts[i] = sight{kind: place, t: t, p: back.Apply(c.Sub(eye.T)), sd: 0.04, w: 1}
		}
		m.sights[j] = merged(m.room.sightList(len(m.sights[j])+n), m.sights[j], depths)
		if m.crossings[j] == nil {
			m.crossings[j] = starts
		} else {
			m.crossings[j] = append(m.crossings[j], starts...)
		}
	}
	m.emitFollowers(l, back, forward, ahead)
}

// followers are points that other layouts hold beside the joints, with the joints between
// which they lie and how far about them, metres.
var followers = []struct {
	p, a, b body.Point
	f, sd   float64
}{
	{body.LeftToe, body.LeftAnkle, body.LeftAnkle, 0, 0.11},
	{body.RightToe, body.RightAnkle, body.RightAnkle, 0, 0.11},
	{body.LeftHeel, body.LeftAnkle, body.LeftAnkle, 0, 0.05},
	{body.RightHeel, body.RightAnkle, body.RightAnkle, 0, 0.05},
	{body.LeftHand, body.LeftElbow, body.LeftWrist, 1.3, 0.04},
	{body.RightHand, body.RightElbow, body.RightWrist, 1.3, 0.04},
	{body.Neck, body.LeftShoulder, body.RightShoulder, 0.5, 0.02},
	{body.MidHip, body.LeftHip, body.RightHip, 0.5, 0.01},
}

// emitFollowers gives the points that follow joints their depths.
func (m *scene) emitFollowers(l *lift, back geom.Mat3, forward geom.Vec3, ahead float64) {
	rng := rand.New(rand.NewPCG(0x6c696674, 2))
	for _, f := range followers {
		if len(m.sights[f.p]) < 8 || !l.seen[f.a] || !l.seen[f.b] {
			continue
		}
		var own [liftDraws]float64
		for k := range own {
			own[k] = rng.NormFloat64()
		}
		h := &hiss{white: 0.01, slow: math.Hypot(f.sd, l.noise(len(l.t)/2, int(f.b)).slow), memory: liftMemory}
		n := len(l.t)
		errs, depths := m.room.zeros(liftDraws*n), m.room.sightList(n)[:n]
		for i, t := range l.t {
			c := l.at(i, int(f.a)).Lerp(l.at(i, int(f.b)), f.f)
			e := errs[liftDraws*i:][:liftDraws:liftDraws]
			for k, d := range l.draws {
				q := d[i*liftJoints:]
				e[k] = (1-f.f)*q[f.a] + f.f*q[f.b] + f.sd*own[k]
			}
			depths[i] = sight{kind: reach, t: t, dir: forward, p: geom.Vec3{X: c.Z + ahead}, sd: liftFollow, h: h, errs: e, w: 1}
			m.crossings[f.p] = append(m.crossings[f.p], sight{kind: place, t: t, p: back.Apply(c.Sub(l.eye.T)), sd: 0.06, w: 1})
		}
		m.sights[f.p] = merged(m.room.sightList(len(m.sights[f.p])+n), m.sights[f.p], depths)
	}
}

// merged appends two lists of sights, each in time order, to out as one; those of one time as
// they come.
func merged(out, a, b []sight) []sight {
	for len(a) > 0 && len(b) > 0 {
		if b[0].t < a[0].t {
			out = append(out, b[0])
			b = b[1:]
		} else {
			out = append(out, a[0])
			a = a[1:]
		}
	}
	return append(append(out, a...), b...)
}

// onNodes keeps the world depths that lie within the nodes.
func (l *lift) onNodes(w []worldDepth) (out []worldDepth) {
	if len(w) == 0 {
		return nil
	}
	out = make([]worldDepth, 0, len(w))
	k := 0
	for _, x := range w {
		for k+2 < len(l.t) && l.t[k+1] < x.t {
			k++
		}
		for k > 0 && l.t[k] > x.t {
			k--
		}
		x.node = k
		x.share = clamp((x.t-l.t[k])/(l.t[k+1]-l.t[k]), 0, 1)
		out = append(out, x)
	}
	return out
}

// liftFollow is how closely a point's path follows the lift, metres: the lift has smoothed
// already, so this says nothing of its error.
const liftFollow = 0.02

// liftMemory is how long an error of a depth lasts, seconds.
const liftMemory = 0.25

// makeDraws draws from the lift's posterior and finds the sd of each joint's distance beside the body's own: of
// the solution and of the signs that fit nearly as well.
func (l *lift) makeDraws(r *liftRoom) {
	rng := rand.New(rand.NewPCG(0x6c696674, 1))
	n := len(l.lam)
	l.sd = make([]float64, n)
	l.draws = make([][]float64, liftDraws)
	var theta [liftParams]float64
	chains := l.chains()
	r.draws = slices.Grow(r.draws[:0], 2*liftDraws*n)[:2*liftDraws*n]
	room := r.draws
	for k := range l.draws {
		l.draws[k] = room[k*n : (k+1)*n : (k+1)*n]
	}
	moves := room[liftDraws*n:] // by the signs
	clear(moves)
	for k, d := range l.draws {
		l.draw(rng, d, &theta)
		for _, c := range chains {
			c.add(moves[k*n:(k+1)*n], rng)
		}
	}
	for k := 0; k < liftDraws; k += 4 {
		l.spread(l.draws[k : k+4])
	}
	for k, d := range l.draws {
		for i, v := range moves[k*n : (k+1)*n] {
			d[i] += v
		}
		for i := range l.t {
			q := d[i*liftJoints : (i+1)*liftJoints]
			mid := (q[body.LeftHip] + q[body.RightHip]) / 2
			for j, v := range q {
				l.sd[i*liftJoints+j] += (v - mid) * (v - mid) / liftDraws
			}
		}
	}
	for i, v := range l.sd {
		l.sd[i] = math.Sqrt(v)
	}
}

// noise is how a distance errs at a node.
func (l *lift) noise(i, j int) hiss {
	return hiss{white: 0.01, slow: math.Max(0.01, l.sd[i*liftJoints+j]), memory: liftMemory}
}

// liftErrs are the errors, in each draw, of the distance that a lift found for a
// point about time t; nil without one.
func (m *scene) liftErrs(p body.Point, t float64) []float64 {
	s := m.sights[p]
	hi := sort.Search(len(s), func(i int) bool { return s[i].t >= t })
	lo := hi - 1
	for lo >= 0 && s[lo].errs == nil {
		lo--
	}
	for hi < len(s) && s[hi].errs == nil {
		hi++
	}
	switch {
	case lo < 0 && hi == len(s):
		return nil
	case lo < 0 || hi < len(s) && s[hi].t-t < t-s[lo].t:
		return s[hi].errs
	}
	return s[lo].errs
}
