package camera

import (
	"errors"
	"math"
	"slices"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/signal"
)

// Errors of Locate and LocateByStature.
var (
	ErrNoBody    = errors.New("camera: no frame shows enough of the body to find the camera by")
	ErrNoStature = errors.New("camera: the player's stature is not known")
)

// HipFix is where the middle of the hips was in one frame.
type HipFix struct {
	Frame    int       // index in the frames given
	Time     float64   // seconds, on the camera's clock
	InCamera geom.Vec3 // metres, camera axes, origin at the camera
	// SD holds this frame's own error in camera axes, metres: across, down and away.
	// What all frames share (focal length, scale) is in the pose's covariance.
	SD geom.Vec3
}

// Location is a camera found from the player alone. The pose's world axes are level
// (Y up); the origin is on the ground under the first mid-hip; X is where the net
// lies when the camera looks from just the viewpoint given (ViewUnknown: as from
// behind). The heading's error is not in the covariance: turn the axes as the
// definitions say.
type Location struct {
	Pose    Pose
	Gravity Gravity // after the camera's height was believed
	Hips    []HipFix
	RMS     float64 // of the image about the placed body, pixels
}

// Locate places the camera by the body: each frame's world points (camera axes,
// origin at mid-hip) are moved until they lie on their image points. The depth is
// proportional to the focal length, which unless given is a belief sharpened a
// little by the perspective within the body. view gives the heading.
func Locate(cam Camera, frames []body.Frame, g Gravity, view Viewpoint) (Location, error) {
	cam = Sized(cam, frames)
	lens := newLens(cam)
	if !(cam.Focal > 0) {
		lens.learn(frames)
	}
	fits := placeAll(frames, lens.at(lens.mean))
	if len(fits) == 0 {
		return Location{}, ErrNoBody
	}
	loc := Location{Gravity: g}
	var scales, feet []float64
	for _, p := range fits {
		loc.Hips = append(loc.Hips, p.fix(frames))
		scales = append(scales, p.scale)
	}
	loc.RMS = signal.Median(scales)
	foot, ok := meanFoot(frames, fits)
	if ok {
		loc.Gravity = withHeight(g, foot)
	}
	for _, p := range fits {
		if h, ok := p.lowerAnkle(&frames[p.frame].World, loc.Gravity.Up); ok {
			feet = append(feet, h)
		}
	}
	loc.Pose = levelPose(lens, loc.Gravity, firstHip(loc.Hips), groundOf(feet), worldScaleSD, view)
	return loc, nil
}

// worldScaleSD is the relative error of world points' scale that the pose's
// covariance assumes once they were scaled by stature: segment proportions vary by
// a few per cent between people (Drillis & Contini 1966). Common practice.
const worldScaleSD = 0.03

// ankleHeight is the ankle joint's height over the ground, metres: .039 of a
// stature of 1.7 m (Drillis & Contini 1966).
const ankleHeight = 0.066

// lens is the belief about a camera's focal length.
type lens struct {
	cam      Camera
	mean, sd float64 // of the logarithm of the focal length in pixels
}

func newLens(cam Camera) lens {
	if cam.Focal > 0 {
		return lens{cam, math.Log(cam.Focal), givenFocalSD}
	}
	side := float64(max(cam.Width, cam.Height))
	return lens{cam, math.Log(priorFocal * side), priorFocalSD}
}

// at returns a camera at the origin with that logarithm of the focal length.
func (l *lens) at(logFocal float64) Pose {
	return Pose{R: geom.Identity3, Focal: math.Exp(logFocal), CX: float64(l.cam.Width) / 2, CY: float64(l.cam.Height) / 2}
}

// usualSizes are the sizes of phone video, pixels.
var usualSizes = [][2]uint32{{1280, 720}, {1920, 1080}, {3840, 2160}}

// Sized returns the camera with its image's size filled in where it is missing: the
// smallest usual one that holds all points, upright when they reach further down
// than across.
func Sized(cam Camera, frames []body.Frame) Camera {
	if cam.Width > 0 && cam.Height > 0 {
		return cam
	}
	var x, y []float64
	for i := range frames {
		for _, p := range frames[i].Image {
			if p.Score > 0 && finite32(p.X, p.Y) {
				x, y = append(x, float64(p.X)), append(y, float64(p.Y))
			}
		}
	}
	// A few points may be wrong.
	w, h := quantile(x, 0.99), quantile(y, 0.99)
	for _, s := range usualSizes {
		cam.Width, cam.Height = s[0], s[1]
		if h > w && h > float64(s[1]) {
			cam.Width, cam.Height = s[1], s[0]
		}
		if !(w > float64(cam.Width)) && !(h > float64(cam.Height)) {
			break
		}
	}
	return cam
}

// quantile returns the q-quantile of x, q in [0, 1]; NaN without values.
func quantile(x []float64, q float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	s := slices.Sorted(slices.Values(x))
	return s[int(q*float64(len(s)-1)+0.5)]
}

// placed is one frame's body put before the camera.
type placed struct {
	frame int
	at    geom.Vec3 // mid-hip in camera axes, metres
	cov   geom.Mat3
	scale float64 // robust sd of the image about it, pixels
	cost  float64 // sum of robust losses over scale 1 px
	n     int
}

// placeLeast is the least number of points that place a body.
const placeLeast = 6

// placeAll places every frame that shows enough.
func placeAll(frames []body.Frame, p Pose) []placed {
	out := make([]placed, 0, len(frames))
	rows := make([]placeRow, 0, body.NumBody)
	for i := range frames {
		if rows = placeRows(&frames[i], p.CX, p.CY, rows[:0]); len(rows) < placeLeast {
			continue
		}
		if f, ok := solvePlace(rows, p.Focal, 0, placePasses); ok {
			f.frame = i
			out = append(out, f)
		}
	}
	return out
}

// placeRow is a point that places a body. With its pixel (u, v) from the principal point and
// its place w beside mid-hip, f·t.x − u·t.z = u·w.z − f·w.x and y alike; divided by the
// depth they are pixels.
type placeRow struct {
	u, v   float64 // pixels
	p      geom.Vec3
	wx, wy float64 // weights
}

// placeRows appends the points of a frame that place its body about a principal point.
func placeRows(f *body.Frame, cx, cy float64, rows []placeRow) []placeRow {
	for k := range body.NumBody {
		w, ok := world3(&f.World, body.Point(k))
		s := f.Image[k]
		if ok && s.Score > 0 && finite32(s.X, s.Y) {
			rows = append(rows, placeRow{float64(s.X) - cx, float64(s.Y) - cy, w, 1, 1})
		}
	}
	return rows
}

// placePasses is how often a place is reweighed.
const placePasses = 5

// solvePlace finds t so that the points w + t project to their pixels at the focal length f,
// by reweighing with Cauchy weights against wrong points, from the weights that the rows
// have. A scale known > 0 is the noise in pixels; 0: taken from the residuals.
func solvePlace(rows []placeRow, f, known float64, passes int) (placed, bool) {
	out := placed{n: 2 * len(rows)}
	var res, spare [2 * body.NumBody]float64
	for pass := range passes {
		var wx, wy, wu, wv, wuu, wbx, wby, wub float64
		for i := range rows {
			r := &rows[i]
			bx, by := r.u*r.p.Z-f*r.p.X, r.v*r.p.Z-f*r.p.Y
			u, v := r.wx*r.u, r.wy*r.v
			wx, wy, wu, wv = wx+r.wx, wy+r.wy, wu+u, wv+v
			wuu += u*r.u + v*r.v
			wbx += r.wx * bx
			wby += r.wy * by
			wub += u*bx + v*by
		}
		a := geom.Mat3{f * f * wx, 0, -f * wu, 0, f * f * wy, -f * wv, -f * wu, -f * wv, wuu}
		g := geom.Vec3{X: f * wbx, Y: f * wby, Z: -wub}
		inv, ok := invert3(a)
		if !ok {
			return out, false
		}
		out.at, out.cov = inv.Apply(g), inv
		if !out.at.Finite() || out.at.Z < 0.5 || out.at.Z > 200 {
			return out, false // a player is neither on the lens nor out of sight
		}
		iz := 1 / out.at.Z
		for i := range rows {
			r := &rows[i]
			z := out.at.Z + r.p.Z
			res[2*i], res[2*i+1] = iz*(f*(out.at.X+r.p.X)-r.u*z), iz*(f*(out.at.Y+r.p.Y)-r.v*z)
		}
		out.scale = known
		if known == 0 {
			out.scale = max(0.3, signal.MADOver(spare[:copy(spare[:], res[:2*len(rows)])]))
		}
		k := 1 / (2.385 * out.scale) // as in clock.round
		for i := range rows {
			qx, qy := k*res[2*i], k*res[2*i+1]
			rows[i].wx, rows[i].wy = 1/(1+qx*qx), 1/(1+qy*qy)
			if pass == passes-1 {
				out.cost -= 2.385 * 2.385 * math.Log(rows[i].wx*rows[i].wy)
			}
		}
	}
	s := out.scale * out.at.Z
	for i := range out.cov {
		out.cov[i] *= s * s
	}
	return out, true
}

func (p placed) fix(frames []body.Frame) HipFix {
	return HipFix{
		Frame: p.frame, Time: float64(frames[p.frame].TimeUS) * 1e-6, InCamera: p.at,
		SD: geom.Vec3{X: math.Sqrt(p.cov[0]), Y: math.Sqrt(p.cov[4]), Z: math.Sqrt(p.cov[8])},
	}
}

// lowerAnkle is the height of the lower ankle over the camera, metres (negative
// below it).
func (p placed) lowerAnkle(w *[body.NumPoints]body.Seen3, up geom.Vec3) (float64, bool) {
	l, ok := world3(w, body.LeftAnkle)
	r, too := world3(w, body.RightAnkle)
	return min(up.Dot(l), up.Dot(r)) + up.Dot(p.at), ok && too
}

const (
	// learnFrames bounds the frames from which a focal length is learned.
	learnFrames = 60
	// learnBlock is the time, seconds, within which the estimator's errors are
	// taken as the same ones: its depth errors last. Common practice, no source.
	learnBlock = 0.5
	// learnMost is the number of blocks that may count: a slow clip shows one motion
	// for long, and an estimator has habits that no time wears out.
	learnMost = 6
)

// learn sharpens the focal length by the perspective in the body: nearer limbs look
// larger. Losses are averaged within blocks of time, since a pose estimator repeats
// its errors, and weighed against the belief on a grid.
func (l *lens) learn(frames []body.Frame) {
	p := l.at(l.mean)
	var posed []posedFrame
	var scales []float64
	for i := 0; i < len(frames); i += 1 + len(frames)/learnFrames {
		f := posedFrame{int(float64(frames[i].TimeUS) * 1e-6 / learnBlock), placeRows(&frames[i], p.CX, p.CY, nil)}
		if len(f.rows) < placeLeast {
			continue
		}
		if q, ok := solvePlace(f.rows, p.Focal, 0, placePasses); ok {
			posed = append(posed, f)
			scales = append(scales, q.scale)
		}
	}
	if len(posed) == 0 {
		return
	}
	noise := signal.Median(scales)
	const steps, width = 6, 0.4 // ± 2.4 sd
	var losses [2*steps + 1]float64
	// From the belief's middle outward, each from the weights of the one before it.
	for _, way := range [2]int{-1, 1} {
		for k := range steps + 1 {
			z := float64(way*k) * width
			losses[steps+way*k] = z*z + blockLoss(posed, l.at(l.mean+z*l.sd).Focal, noise)
		}
	}
	least := slices.Min(losses[:])
	var weight, first, second float64
	for k, c := range losses {
		z := float64(k-steps) * width
		w := math.Exp(-(c - least) / 2)
		weight, first, second = weight+w, first+w*z, second+w*z*z
	}
	m := first / weight
	v := max(0.01, second/weight-m*m)
	l.mean, l.sd = l.mean+m*l.sd, l.sd*math.Sqrt(v)
}

// posedFrame is a frame's body with the block of time in which it lies.
type posedFrame struct {
	block int
	rows  []placeRow
}

// blockPasses is how often blockLoss reweighs: it sets out from near the answer.
const blockPasses = 2

// blockLoss is the loss of all blocks of time, which follow one another, at the focal length f.
func blockLoss(frames []posedFrame, f, noise float64) float64 {
	total, blocks := 0.0, 0.0
	for i := 0; i < len(frames); {
		block, loss, n := frames[i].block, 0.0, 0.0
		for ; i < len(frames) && frames[i].block == block; i++ {
			if q, ok := solvePlace(frames[i].rows, f, noise, blockPasses); ok {
				loss, n = loss+q.cost, n+1
			}
		}
		if n > 0 {
			total, blocks = total+loss/n, blocks+1
		}
	}
	return total * min(1, learnMost/blocks)
}

// meanFoot is the median place of the feet in camera axes.
func meanFoot(frames []body.Frame, fits []placed) (geom.Vec3, bool) {
	var x, y, z []float64
	for _, p := range fits {
		if f, ok := middle3(&frames[p.frame].World, body.LeftAnkle); ok {
			f = f.Add(p.at)
			x, y, z = append(x, f.X), append(y, f.Y), append(z, f.Z)
		}
	}
	return geom.Vec3{X: signal.Median(x), Y: signal.Median(y), Z: signal.Median(z)}, len(x) > 0
}

// withHeight combines gravity with the belief on how high the camera stands. With
// p = tan(pitch), the camera's height over a foot at (x, y, z) is about y − p·z.
func withHeight(g Gravity, foot geom.Vec3) Gravity {
	p0, sd0 := -g.Up.Z/g.Up.Y, float64(g.PitchSD)
	p1, sd1 := (foot.Y+ankleHeight-cameraHeight)/foot.Z, cameraHeightSD/foot.Z
	w0, w1 := 1/(sd0*sd0), 1/(sd1*sd1)
	p := (w0*p0 + w1*p1) / (w0 + w1)
	r := -g.Up.X / g.Up.Y
	g.Up = geom.Vec3{X: r, Y: -1, Z: p}.Unit()
	g.PitchSD = geom.Angle(1 / math.Sqrt(w0+w1))
	return g
}

// firstHip is the median of the first few fixes.
func firstHip(h []HipFix) geom.Vec3 {
	var x, y, z []float64
	for _, f := range h[:min(5, len(h))] {
		x, y, z = append(x, f.InCamera.X), append(y, f.InCamera.Y), append(z, f.InCamera.Z)
	}
	return geom.Vec3{X: signal.Median(x), Y: signal.Median(y), Z: signal.Median(z)}
}

// groundOf is the ground's height over the camera from those of the lower ankle:
// mostly a foot is down, so a low third is ankle height. NaN without any.
func groundOf(ankles []float64) float64 { return quantile(ankles, 0.35) - ankleHeight }

// levelPose builds the pose whose world origin lies on the ground (its height over
// the camera: ground) under a point in camera axes.
func levelPose(l lens, g Gravity, under geom.Vec3, ground, scaleSD float64, view Viewpoint) Pose {
	p := l.at(l.mean)
	p.R = levelAxes(g.Up, view)
	p.T = under.Add(g.Up.Scale(ground - g.Up.Dot(under)))
	c := &p.Cov
	c[0][0], c[1][1], c[2][2] = sq(float64(g.PitchSD)), 1e-10, sq(float64(g.RollSD))
	t := [3]float64{p.T.X, p.T.Y, p.T.Z}
	for i := range 3 {
		for j := range 3 {
			c[3+i][3+j] = t[i] * t[j] * sq(scaleSD)
		}
		c[3+i][3+i] += sq(groundSD)
	}
	// Depth goes with the focal length: what is seen stays as large.
	c[5][5] += sq(p.T.Z * l.sd)
	c[5][6], c[6][5], c[6][6] = p.T.Z*sq(l.sd), p.T.Z*sq(l.sd), sq(l.sd)
	c[7][7] = sq(fixedK1SD)
	return p
}

// groundSD is the error of the origin's place beside scale and focal length,
// metres: a shoe's sole, an ankle's centre. Common practice, no source.
const groundSD = 0.02

func sq(x float64) float64 { return x * x }

// levelAxes is the rotation from level axes to camera axes for an upward direction
// in camera axes and a camera that looks from view.
func levelAxes(up geom.Vec3, view Viewpoint) geom.Mat3 {
	ahead := geom.Vec3{Z: 1}
	ahead = ahead.Sub(up.Scale(ahead.Dot(up))).Unit() // the camera's forward, level
	right := ahead.Cross(up)
	x := ahead
	switch view {
	case ViewFront:
		x = ahead.Scale(-1)
	case ViewRight: // looks toward −Z, so the net is to its right
		x = right
	case ViewLeft:
		x = right.Scale(-1)
	}
	return geom.Rows(x, up, x.Cross(up)).T()
}
