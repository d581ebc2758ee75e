package track

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
)

// One camera shows where each joint lies across the line of sight, not how far
// off it is. The lift finds the distances for the whole window at once: one
// unknown for each joint and node, the distance along the camera's axis of the
// joint on its smoothed image ray. Segments keep their lengths (known shares of
// stature, themselves estimated), feet stand on the ground and still there, joints bend one
// way, the body stays over its feet, and all of it moves smoothly. The problem
// is a sum of squares with a robust loss, solved by Gauss–Newton on banded
// normal equations. A segment's tilt toward or away from the camera follows
// from its length up to a sign (Taylor 2000, CVIU 80:349–363); lift_signs.go
// finds the signs to set out from.

// liftJoints counts the joints that are lifted: body.Nose to body.RightAnkle,
// which every layout holds.
const liftJoints = int(body.RightAnkle) + 1

// lift is the state of one solve. Everything is in camera axes (x right, y
// down, z away), metres.
type lift struct {
	eye      *camera.Pose
	up       geom.Vec3 // unit
	floor    float64   // up·p of a point p on the ground
	net      geom.Vec3 // horizontal direction of the net, unit; zero when not known
	distance float64   // the player's, roughly, metres
	court    bool      // the camera's place is known from court marks

	t      []float64 // nodes, seconds
	span   []float64 // the time each node stands for
	ray    [liftJoints][]geom.Vec3
	seen   [liftJoints]bool
	blur   [liftJoints]float64   // sd of a smoothed image point, pixels
	lively [liftJoints][]float64 // density of acceleration along the line of sight
	stand  [2][]float64          // of the left and right ankle, m/s: sd of its speed along the line of sight, from each node to the next
	fast   [2][]float64          // image speed of the left and right ankle, m/s

	stature, statureSD float64
	lam                []float64 // node·liftJoints + joint: the distance sought
	theta              [liftParams]float64
	worlds             []worldDepth
	hint               [liftJoints + 1][]float64 // depths beyond mid-hip that worlds show, NaN without; last: mid-hip's own

	a       band
	still   band                // what smoothness adds to a: the same in each step
	holds   []bool              // which beliefs there is something to see of
	slants  [][]slant           // of ties between two joints, at each node: what their rays say
	shows   []worldSums         // what worlds say of each joint at each node and the next
	lengths [liftParams]float64 // of the kinds of segments, at present, metres
	volume  []float64           // of each tie at each node: what the size's likelihood gains (lift_volume.go)
	schur   band
	g       []float64
	edge    [liftParams][]float64
	inner   [liftParams][liftParams]float64
	gin     [liftParams]float64

	sd    []float64   // of each distance beside mid-hip's
	draws [][]float64 // errors of the distances, one draw each
	steps int

	long   []float64
	order  []float64
	stance stanceAt
}

// liftRoom is memory in which one lift works after another.
type liftRoom struct {
	a, still band
	draws    []float64
}

// worldDepth is what a pose estimator's world point says of a joint's distance:
// further away than mid-hip by z metres. Joint −1 is mid-hip itself, z metres from
// the camera.
type worldDepth struct {
	t     float64
	joint int
	z, sd float64
	node  int     // the node before
	share float64 // of the next node
}

// Parameters that all nodes share: the logarithms of stature and of each kind of
// segment's length over its usual share, then the ground's height and slope
// beside what the pose says.
const (
	paramStature = iota
	paramUpperArm
	paramForearm
	paramThigh
	paramShank
	paramTrunk
	paramShoulders
	paramHips
	paramEars
	paramNose
	paramNeck
	paramGround
	paramSlope
	liftParams
)

// share is a length as a share of stature with its relative sd between people.
type share struct{ mean, sd float64 }

// shares by parameter (Drillis & Contini 1966 via Winter; from memory). Widths
// between joint centres are narrower than the bony ones, and pose estimators
// differ in where they put them, so theirs are wider beliefs (common practice, no
// source).
var shares = [liftParams]share{
	paramUpperArm:  {0.186, 0.045},
	paramForearm:   {0.146, 0.045},
	paramThigh:     {0.245, 0.04},
	paramShank:     {0.246, 0.04},
	paramTrunk:     {0.288, 0.05},
	paramShoulders: {0.215, 0.05},
	paramHips:      {0.118, 0.06},
	paramEars:      {0.086, 0.10},
	paramNose:      {0.063, 0.15},
	paramNeck:      {0.112, 0.12},
}

// length is the present estimate of a kind of segment, metres.
func (l *lift) length(k int) float64 {
	return shares[k].mean * math.Exp(l.theta[paramStature]+l.theta[k])
}

// at is the joint's place at a node.
func (l *lift) at(i, j int) geom.Vec3 { return l.ray[j][i].Scale(l.lam[i*liftJoints+j]) }

// Node spacing of the lift, seconds: depth is smoother than what the image shows.
var liftSpacing = []struct{ before, after, step float64 }{
	{0.25, 0.20, 1.0 / 60},
	{1.20, 0.50, 1.0 / 30},
	{99, 99, 1.0 / 20},
}

// newLift prepares a lift of the window's image sights by camera eye; nil where too little
// of the trunk is seen.
func (m *scene) newLift(eye *camera.Pose, court bool, distance float64) *lift {
	if !(distance > 0.5 && distance < 100) || m.end() < shortestLift {
		return nil
	}
	l := &lift{eye: eye, court: court, distance: distance, a: m.room.lift.a, still: m.room.lift.still}
	l.up = eye.R.Apply(geom.Vec3{Y: 1})
	l.floor = l.up.Dot(eye.T)
	if court || len(m.w.Cameras) > 0 && m.w.Cameras[0].View != camera.ViewUnknown {
		l.net = eye.R.Apply(geom.Vec3{X: 1})
	}
	l.layNodes(m.w.Guess, m.end())
	if !m.raysFor(l, distance) {
		return nil
	}
	l.stature, l.statureSD = m.w.Player.Stature, 0.01
	if !(l.stature > 0) {
		if v, sd, ok := camera.ApparentStature(m.w.Frames); ok {
			l.stature, l.statureSD = v, sd/v
		}
	}
	if !(l.stature > 0) {
		// Players from 1.35 to 1.98 m.
		l.stature, l.statureSD = usualPlayer, 0.1
	}
	l.theta[paramStature] = math.Log(l.stature)
	n := len(l.t) * liftJoints
	l.lam, l.g = make([]float64, n), make([]float64, n)
	for k := range l.edge {
		l.edge[k] = make([]float64, n)
	}
	l.long, l.order = make([]float64, len(l.t)), make([]float64, len(l.t))
	l.lookAtMotion(distance)
	l.lookAtFeet(distance, m.footNoise(eye, distance))
	l.ready()
	return l
}

// shortestLift is the shortest window that is lifted, seconds.
const shortestLift = 0.5

// usualPlayer is the stature believed where none is given, metres, with a relative sd of 0.1.
const usualPlayer = 1.70

func (l *lift) layNodes(impact, end float64) {
	step := func(d float64, after bool) float64 {
		for _, s := range liftSpacing {
			if !after && d < s.before || after && d < s.after {
				return s.step
			}
		}
		return liftSpacing[len(liftSpacing)-1].step
	}
	impact = clamp(impact, 0.1, end-0.05)
	for d := 0.0; impact-d > -0.02; d += step(d, false) {
		l.t = append(l.t, impact-d)
	}
	for i, j := 0, len(l.t)-1; i < j; i, j = i+1, j-1 {
		l.t[i], l.t[j] = l.t[j], l.t[i]
	}
	for d := step(0, true); impact+d < end+0.02; d += step(d, true) {
		l.t = append(l.t, impact+d)
	}
	l.span = make([]float64, len(l.t))
	for i := range l.t {
		lo, hi := max(0, i-1), min(len(l.t)-1, i+1)
		l.span[i] = (l.t[hi] - l.t[lo]) / float64(hi-lo)
	}
}

// raysFor smooths each joint's image path and reads its ray at the nodes.
// distance is the player's, roughly, metres.
func (m *scene) raysFor(l *lift, distance float64) bool {
	g := newGrid(solveSteps, -0.03, clamp(m.w.Guess, 0.1, m.end()-0.05), m.end()+0.03)
	scale := l.eye.Focal / distance
	for j := range liftJoints {
		p := body.Point(j)
		s := m.room.sightList(len(m.sights[p]))
		for _, x := range m.sights[p] {
			if x.kind == image && x.eye == l.eye {
				x.kind = place
				s = append(s, x)
			}
		}
		l.ray[j] = make([]geom.Vec3, len(l.t))
		if len(s) < 20 {
			continue
		}
		q := m.room.path()
		if !q.smooth(g, s, roughOf[groupOf[p]].scaled(scale), 2, nil) {
			continue
		}
		l.seen[j] = true
		l.blur[j] = 0.75 * s[0].sd
		for i, t := range l.t {
			c := q.at(clamp(t, g.t[0], g.t[len(g.t)-1]))
			l.ray[j][i] = l.eye.CameraRay(c.X, c.Y)
			l.seen[j] = l.seen[j] && l.ray[j][i].Finite()
		}
		m.room.giveBack(q)
	}
	for k, p := range [2]body.Point{body.LeftAnkle, body.RightAnkle} {
		l.fast[k] = make([]float64, len(l.t))
		for i := range l.t {
			lo, hi := max(0, i-1), min(len(l.t)-1, i+1)
			l.fast[k][i] = l.ray[p][hi].Sub(l.ray[p][lo]).Norm() * distance / (l.t[hi] - l.t[lo])
		}
	}
	return l.seen[body.LeftShoulder] && l.seen[body.RightShoulder] && l.seen[body.LeftHip] && l.seen[body.RightHip]
}

// liftStill is the root of the acceleration toward or away from the camera that a joint may have
// while the image shows none, m/s².
var liftStill = func() (a [liftJoints]float64) {
	for j := range a {
		switch groupOf[j] {
		case groupElbow:
			a[j] = 16
		case groupWrist:
			a[j] = 25
		case groupLeg:
			a[j] = 12
		default:
			a[j] = 10
		}
	}
	return a
}()

const (
	accelMemory = 0.05 // s: how long an acceleration lasts
	accelShare  = 15   // mean square along the line of sight over that of one axis across it;
	// set by where the errors on made swings came out as stated
	accelReach = 0.08 // s: over which the acceleration across is averaged
)

// lookAtMotion learns how fast each joint's distance may change its rate at each node
// from how it moves across: what is still in the image is likely still, what is
// swung is swung in all directions. The result is a density of white acceleration,
// (m/s²)²·s.
func (l *lift) lookAtMotion(distance float64) {
	n := len(l.t)
	raw := l.long[:n]
	// near[i] are the weights of the nodes about node i, from node from[i] on.
	near, from := make([][]float64, n), make([]int, n)
	for i, t := range l.t {
		for from[i] < n && t-l.t[from[i]] >= 3*accelReach {
			from[i]++
		}
		for k := from[i]; k < n && l.t[k]-t < 3*accelReach; k++ {
			x := (t - l.t[k]) / accelReach
			near[i] = append(near[i], l.span[k]*math.Exp(-0.5*x*x))
		}
	}
	for j := range liftJoints {
		l.lively[j] = make([]float64, n)
		for i := range n {
			k := max(1, min(n-2, i))
			b, _ := l.bendOf(k)
			a := l.ray[j][k-1].Scale(b[0]).Add(l.ray[j][k].Scale(b[1])).Add(l.ray[j][k+1].Scale(b[2])).Scale(distance)
			raw[i] = (a.X*a.X + a.Y*a.Y) / 2
		}
		for i := range l.t {
			sum, w := 0.0, 0.0
			for k, f := range near[i] {
				sum, w = sum+f*raw[from[i]+k], w+f
			}
			l.lively[j][i] = accelMemory * (accelShare*sum/w + liftStill[j]*liftStill[j])
		}
	}
}

// improve makes one Gauss–Newton step and returns the root mean square change of a distance, metres.
func (l *lift) improve() (float64, bool) {
	l.a.reset(len(l.lam), 2*liftJoints)
	copy(l.a.a, l.still.a)
	clear(l.g)
	for k := range l.edge {
		clear(l.edge[k])
		clear(l.inner[k][:])
	}
	clear(l.gin[:])
	l.assemble()
	return l.step()
}

// ready works out what stays the same in all steps.
func (l *lift) ready() {
	l.stiffen()
	l.layTies()
	l.holds = make([]bool, len(beliefs))
	for b := range beliefs {
		l.holds[b] = l.all(beliefs[b].joints)
	}
}

// assemble adds every row.
func (l *lift) assemble() {
	for p := range l.lengths {
		l.lengths[p] = l.length(p)
	}
	l.pullStill()
	for i := range l.t {
		l.addSegments(i)
		l.addPriors(i)
		l.addStands(i)
	}
	l.addLongest()
	l.addShared()
	l.addWorlds()
	l.addVolume()
}

// step solves the bordered system by the Schur complement of the banded part.
func (l *lift) step() (float64, bool) {
	if !l.a.factor() {
		return 0, false
	}
	s := &l.schur
	s.reset(liftParams, liftParams-1)
	sides := append(l.edge[:liftParams:liftParams], l.g)
	for ; len(sides) >= 4; sides = sides[4:] {
		l.a.forwardFour(sides[0], sides[1], sides[2], sides[3])
	}
	for _, x := range sides {
		l.a.forward(x)
	}
	for p := range liftParams {
		l.gin[p] -= dot(l.edge[p], l.g)
		for q := 0; q <= p; q++ {
			s.add(p, q, l.inner[p][q]-dot(l.edge[p], l.edge[q]))
		}
	}
	if !s.factor() {
		return 0, false
	}
	s.solve(l.gin[:])
	for p, d := range l.gin {
		for i := range l.g {
			l.g[i] -= l.edge[p][i] * d
		}
	}
	l.a.backward(l.g)
	sum := 0.0
	for i, d := range l.g {
		d = clamp(d, -0.4, 0.4)
		sum += d * d
		l.lam[i] = math.Max(0.5, l.lam[i]+d)
	}
	for p, d := range l.gin {
		l.theta[p] += clamp(d, -0.1, 0.1)
	}
	return math.Sqrt(sum / float64(len(l.g))), true
}

func dot(a, b []float64) (s float64) {
	b = b[:len(a)]
	for i, v := range a {
		s += v * b[i]
	}
	return s
}
