package feed

import (
	"math"
	"slices"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/signal"
)

// pose is one frame in the player's directions: X toward the net, Y up, Z to
// the right of a player who faces it, in the frames' own unit (metres or
// pixels). From an image the direction of sight is missing and stands at NaN.
type pose struct {
	t            float64 // s
	at           [6]geom.Vec3
	nose, midEar geom.Vec3 // NaN where the face is not seen
}

// path is a player's poses and from where they were seen.
type path struct {
	poses []pose
	torso float64 // median distance mid-hip to mid-shoulder, the unit of all limits
	flat  bool    // from an image: one direction is missing
	view  camera.Viewpoint
}

// Places of needed points in pose.at.
const (
	leftShoulder = iota
	rightShoulder
	leftHip
	rightHip
	leftWrist
	rightWrist
)

func (q pose) hip() geom.Vec3  { return q.at[leftHip].Lerp(q.at[rightHip], .5) }
func (q pose) neck() geom.Vec3 { return q.at[leftShoulder].Lerp(q.at[rightShoulder], .5) }

// track reads the poses of a view: from world points where their direction to
// the net is known, else from the image; nil when too few frames show the
// needed points or nothing tells where the net is.
func (v *view) track(r *Request) *path {
	side := v.viewpoint(r)
	if axes := toNet(r.Axes, side); axes != nil {
		if p := v.read(func(f *body.Frame, at body.Point) (geom.Vec3, bool) {
			s := f.World[at]
			return axes(geom.Vec3{X: float64(s.X), Y: float64(s.Y), Z: float64(s.Z)}), s.Score >= seenScore && finite(s.X, s.Y, s.Z)
		}); p != nil {
			p.view = side
			return p
		}
	}
	if side == camera.ViewUnknown {
		return nil
	}
	return v.image(side)
}

// image reads the poses of a view from its image; nil when too few frames show
// the needed points.
func (v *view) image(side camera.Viewpoint) *path {
	lay := inImage(side)
	p := v.read(func(f *body.Frame, at body.Point) (geom.Vec3, bool) {
		s := f.Image[at]
		return lay(float64(s.X), float64(s.Y)), s.Score >= seenScore && finite(s.X, s.Y)
	})
	if p != nil {
		p.view, p.flat = side, true
	}
	return p
}

// viewpoint returns where the camera looks from: as described, as its court
// marks tell, or as the newest swing found it.
func (v *view) viewpoint(r *Request) camera.Viewpoint {
	i := int(v.frames[0].Camera)
	if i < len(r.Cameras) {
		if r.Cameras[i].View != camera.ViewUnknown {
			return r.Cameras[i].View
		}
		if side := fromMarks(r.Cameras[i].Marks); side != camera.ViewUnknown {
			return side
		}
	}
	for k := len(r.Recent) - 1; k >= 0; k-- {
		if s := r.Recent[k]; s != nil && s.Capture.View != camera.ViewUnknown && len(r.Cameras) <= 1 {
			return s.Capture.View
		}
	}
	return camera.ViewUnknown
}

// lastNear is the last mark on the near baseline; firstNet and lastNet frame
// those of the net (the numbers are the wire's).
const lastNear = 5

// fromMarks tells the viewpoint from where the far marks lie against the near
// baseline in the image: above is behind the player, below is in front of
// him, right and left are his right and left side.
func fromMarks(marks []camera.MarkedPoint) camera.Viewpoint {
	var near, far [3]float64 // x, y, count
	for _, m := range marks {
		to := &far
		if m.Mark <= lastNear {
			to = &near
		}
		to[0], to[1], to[2] = to[0]+m.X, to[1]+m.Y, to[2]+1
	}
	if near[2] == 0 || far[2] == 0 {
		return camera.ViewUnknown
	}
	dx, dy := far[0]/far[2]-near[0]/near[2], far[1]/far[2]-near[1]/near[2]
	switch {
	case math.Abs(dx) > 2*math.Abs(dy) && dx > 0:
		return camera.ViewRight
	case math.Abs(dx) > 2*math.Abs(dy):
		return camera.ViewLeft
	case dy < 0:
		return camera.ViewBehind
	case dy > 0:
		return camera.ViewFront
	}
	return camera.ViewUnknown
}

// toNet returns the map from a world point's axes to X toward the net; nil
// when nothing tells where the net is (level axes have no heading). Camera axes
// are x right, y down, z away: seen from the right side, the net is to the right.
func toNet(axes camera.Axes, side camera.Viewpoint) func(geom.Vec3) geom.Vec3 {
	switch axes {
	case camera.AxesCourt:
		return func(p geom.Vec3) geom.Vec3 { return p }
	case camera.AxesCamera:
	default:
		return nil
	}
	switch side {
	case camera.ViewBehind:
		return func(p geom.Vec3) geom.Vec3 { return geom.Vec3{X: p.Z, Y: -p.Y, Z: p.X} }
	case camera.ViewFront:
		return func(p geom.Vec3) geom.Vec3 { return geom.Vec3{X: -p.Z, Y: -p.Y, Z: -p.X} }
	case camera.ViewRight:
		return func(p geom.Vec3) geom.Vec3 { return geom.Vec3{X: p.X, Y: -p.Y, Z: -p.Z} }
	case camera.ViewLeft:
		return func(p geom.Vec3) geom.Vec3 { return geom.Vec3{X: -p.X, Y: -p.Y, Z: p.Z} }
	}
	return nil
}

// inImage lays an image point into the same axes, the direction of sight NaN.
func inImage(side camera.Viewpoint) func(x, y float64) geom.Vec3 {
	none := math.NaN()
	switch side {
	case camera.ViewFront:
		return func(x, y float64) geom.Vec3 { return geom.Vec3{X: none, Y: -y, Z: -x} }
	case camera.ViewRight:
		return func(x, y float64) geom.Vec3 { return geom.Vec3{X: x, Y: -y, Z: none} }
	case camera.ViewLeft:
		return func(x, y float64) geom.Vec3 { return geom.Vec3{X: -x, Y: -y, Z: none} }
	}
	return func(x, y float64) geom.Vec3 { return geom.Vec3{X: none, Y: -y, Z: x} }
}

// read makes a path of the frames that show every needed point; nil when they
// are too few, or the newest shows too little. A point that is lost for a
// moment stays where it was for up to bridge.
func (v *view) read(point func(*body.Frame, body.Point) (geom.Vec3, bool)) *path {
	p := &path{}
	r := reader{point: point}
	var torsos []float64
	for i := range v.frames {
		if q, ok := r.pose(&v.frames[i]); ok {
			p.poses = append(p.poses, q)
			torsos = append(torsos, length(q.neck().Sub(q.hip())))
		}
	}
	if n := len(p.poses); n < leastFrames || float64(n) < seenShare*float64(len(v.frames)) {
		return nil
	}
	if last := p.poses[len(p.poses)-1].t; float64(v.frames[len(v.frames)-1].TimeUS)/1e6-last > leastSpan {
		return nil
	}
	if p.torso = signal.Median(torsos); !(p.torso > 0) || math.IsInf(p.torso, 0) {
		return nil
	}
	return p
}

// bridge is how long a lost point is taken to stay where it was, s.
const bridge = 0.12

// reader reads poses, bridging short losses.
type reader struct {
	point func(*body.Frame, body.Point) (geom.Vec3, bool)
	last  [6]geom.Vec3
	seen  [6]float64 // s, when last holds
	any   [6]bool
}

func (r *reader) pose(f *body.Frame) (pose, bool) {
	q := pose{t: float64(f.TimeUS) / 1e6}
	for i, n := range needed {
		if x, ok := r.point(f, n); ok && !math.IsInf(length(x), 0) {
			r.last[i], r.seen[i], r.any[i] = x, q.t, true
		}
		if !r.any[i] || q.t-r.seen[i] > bridge {
			return pose{}, false
		}
		q.at[i] = r.last[i]
	}
	q.nose, q.midEar = r.face(f)
	return q, true
}

// face returns the nose and the middle of the ears that are seen; NaN without them.
func (r *reader) face(f *body.Frame) (nose, ear geom.Vec3) {
	none := geom.Vec3{X: math.NaN(), Y: math.NaN(), Z: math.NaN()}
	nose, a := r.point(f, body.Nose)
	left, b := r.point(f, body.LeftEar)
	right, c := r.point(f, body.RightEar)
	switch {
	case !a || !b && !c:
		return none, none
	case !c:
		return nose, left
	case !b:
		return nose, right
	}
	return nose, left.Lerp(right, .5)
}

func finite(xs ...float32) bool {
	for _, x := range xs {
		if v := float64(x); math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}

// length is the norm over the directions that are known.
func length(v geom.Vec3) float64 {
	sum := 0.0
	for _, x := range [3]float64{v.X, v.Y, v.Z} {
		if !math.IsNaN(x) {
			sum += x * x
		}
	}
	return math.Sqrt(sum)
}

// Ready position, lengths in torsos (mid-hip to mid-shoulder, about 0.5 m).
// Common practice where the position is concerned; the numbers are our choice.
const (
	facingNet    = 45 * geom.Deg // the chest may be off the net by so much
	handsAhead   = 0.15          // hands in front of the shoulders, at least
	handsTop     = 1.15          // over mid-hip: below the chin
	handsBottom  = -0.35         // over mid-hip: above the knees
	handsApart   = 1.1           // both hands near the racket
	handsWide    = 0.9           // from the middle of the body, to the side
	stillHands   = 3.0           // torsos a second: bouncing on the toes is less, a swing is more
	stillBody    = 1.6           // torsos a second: 0.8 m/s, a slow walk is more
	wideShoulder = 0.30          // image from behind or in front: shoulders at least so wide
	slimShoulder = 0.55          // image from the side: shoulders at most so wide
	upright      = 0.75          // cosine of the lean
)

// stance judges whether the player waits in the ready position.
func (p *path) stance() sight {
	q := p.settled()
	switch {
	case p.moving():
		return sight{busy, "player_moving"}
	case q.neck().Sub(q.hip()).Y < upright*p.torso:
		return sight{busy, "not_ready"}
	case !p.faces(q):
		return sight{busy, "not_facing_net"}
	case !p.handsReady(q):
		return sight{busy, "not_ready"}
	}
	return sight{ready, "ready"}
}

// settledOver is the stretch before the newest frame over which a pose is
// taken as the median of each coordinate, s: noise and a swapped left and right
// then do not decide.
const settledOver = 0.3

// settled returns the pose of the newest moments.
func (p *path) settled() pose {
	first := len(p.poses) - 1
	for first > 0 && p.poses[first-1].t >= p.poses[len(p.poses)-1].t-settledOver {
		first--
	}
	late := p.poses[first:]
	q := pose{t: p.poses[len(p.poses)-1].t}
	for i := range q.at {
		q.at[i] = middle(late, func(q pose) geom.Vec3 { return q.at[i] })
	}
	q.nose, q.midEar = middle(late, func(q pose) geom.Vec3 { return q.nose }), middle(late, func(q pose) geom.Vec3 { return q.midEar })
	return q
}

// middle returns the median of each coordinate over the poses that have it.
func middle(poses []pose, of func(pose) geom.Vec3) geom.Vec3 {
	var x, y, z []float64
	for _, q := range poses {
		v := of(q)
		x, y, z = some(x, v.X), some(y, v.Y), some(z, v.Z)
	}
	return geom.Vec3{X: signal.Median(x), Y: signal.Median(y), Z: signal.Median(z)}
}

func some(x []float64, v float64) []float64 {
	if math.IsNaN(v) {
		return x
	}
	return append(x, v)
}

// moving reports whether the body or a hand moved too fast to be waiting, at
// any time in the frames: who has just swung is not waiting yet.
func (p *path) moving() bool {
	if p.fastest(pose.hip) > stillBody {
		return true
	}
	for _, i := range []int{leftWrist, rightWrist} {
		if p.fastest(func(q pose) geom.Vec3 { return q.at[i].Sub(q.hip()) }) > stillHands {
			return true
		}
	}
	return false
}

// burst is the stretch over which a speed is taken, s: a forward swing lasts
// about as long.
const burst = 0.2

// fastest returns the highest speed of a point over any burst, torsos a second,
// by the Theil–Sen slope in each direction: one bad frame does not count as motion.
func (p *path) fastest(of func(pose) geom.Vec3) float64 {
	most, from := 0.0, 0
	for from < len(p.poses) {
		to := from
		for to < len(p.poses) && p.poses[to].t <= p.poses[from].t+burst {
			to++
		}
		if to-from >= leastFrames || from == 0 {
			most = math.Max(most, speed(p.poses[from:to], of))
		}
		if to == len(p.poses) {
			break
		}
		from += max(1, (to-from)/2) // bursts overlap by half
	}
	return most / p.torso
}

// mostForSpeed bounds the pairs of slopes.
const mostForSpeed = 40

func speed(poses []pose, of func(pose) geom.Vec3) float64 {
	step := max(1, (len(poses)+mostForSpeed-1)/mostForSpeed)
	var t, x, y, z []float64
	for i := 0; i < len(poses); i += step {
		q := of(poses[i])
		t, x, y, z = append(t, poses[i].t), append(x, q.X), append(y, q.Y), append(z, q.Z)
	}
	return length(geom.Vec3{X: signal.TheilSen(t, x), Y: signal.TheilSen(t, y), Z: signal.TheilSen(t, z)})
}

// faces reports whether the chest looks to the net.
//
//	world: the normal of the shoulder line, up × (right − left), within facingNet of X
//	image from behind or in front: the right shoulder is on the player's right, and wide
//	image from the side: shoulders slim, the nose ahead of the ears
func (p *path) faces(q pose) bool {
	line := q.at[rightShoulder].Sub(q.at[leftShoulder]).Scale(1 / p.torso)
	if !p.flat {
		chest := geom.Vec3{Y: 1}.Cross(line).Flat()
		return length(chest) > 0 && geom.Between(chest, geom.Vec3{X: 1}) <= facingNet
	}
	if p.view == camera.ViewBehind || p.view == camera.ViewFront {
		return line.Z >= wideShoulder
	}
	return math.Abs(line.X) <= slimShoulder && q.nose.X > q.midEar.X
}

// handsReady reports whether the hands wait in front of the body, together.
func (p *path) handsReady(q pose) bool {
	unit := 1 / p.torso
	hands := q.at[leftWrist].Lerp(q.at[rightWrist], .5)
	height := hands.Sub(q.hip()).Scale(unit).Y
	off := hands.Sub(q.neck()).Scale(unit)
	if height > handsTop || height < handsBottom || length(q.at[leftWrist].Sub(q.at[rightWrist]))*unit > handsApart {
		return false
	}
	return !(off.X < handsAhead) && !(math.Abs(off.Z) > handsWide)
}

// Signs of a second person in one person's track: three of the shoulders and hips at least
// leap at once, further than a body can go; the fourth may be lost or mistaken in that
// frame. Our choice: no player does 10 m/s.
const (
	jumpSpeed = 20.0 // torsos a second
	jumpLeast = 0.6  // torsos: less may be noise, or left and right swapped
)

// jumps reports whether the track leaps from one body to another, as pose
// estimators do when a second person comes into the picture.
func (p *path) jumps() bool {
	for i := 1; i < len(p.poses); i++ {
		a, b := p.poses[i-1], p.poses[i]
		var leaps [4]float64
		for i, k := range [...]int{leftShoulder, rightShoulder, leftHip, rightHip} {
			leaps[i] = length(b.at[k].Sub(a.at[k])) / p.torso
		}
		slices.Sort(leaps[:])
		if leaps[1] > jumpLeast+jumpSpeed*(b.t-a.t) {
			return true
		}
	}
	return false
}
