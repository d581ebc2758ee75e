package camera

import (
	"math"
	"sort"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/signal"
)

const (
	// heldWithin is the distance, metres, from a wrist or hand up to which a ball may
	// be held: the ball lies some 10 cm from the wrist joint.
	heldWithin = 0.16
	// releasedWithin and struckWithin are how far a ball is at most from the wrist that let
	// it go, from racket tip or throat when it is hit: its way and theirs in a frame or two.
	releasedWithin, struckWithin = 0.5, 0.6
	// wristToBall is the distance from the wrist to a ball on the strings: the racket's
	// length less grip and half the head, some 0.5 m. Common practice.
	wristToBall = 0.5
	// leastRacketSD: the arm and the racket's sign are guessed.
	leastRacketSD = 0.4
	// Errors of a ball's distance, metres: at a hand whose place is known; at a hand known by
	// the body alone (arm's length); at the racket.
	releaseDepthSD, handDepthSD, racketDepthSD = 0.15, 0.40, 0.55
)

// BallFalls finds the stretches of free flight of the ball in one camera's image and
// fits each. hips tells where the player was (Location.Hips or hip places in the
// pose's camera axes). A ball's distance from the camera is known only where it meets
// the player: arcs count that start with the hand that let go (its speed is the
// ball's), or start or end at a fast racket.
func BallFalls(frames []body.Frame, pose *Pose, hips []HipFix) []Fall {
	w := ballWatch{frames: frames, pose: pose, hips: hipsByFrame(len(frames), hips), seen: paths(frames)}
	if w.hips == nil {
		return nil
	}
	w.interval, _ = FrameInterval(frames)
	w.wrist = w.racketWrist()
	w.findSwings()
	clean, pieces, noise := smoothPieces(w.free(), arcLeast)
	var out []Fall
	for _, a := range w.arcs(clean, pieces, noise) {
		if f, ok := FitFall(a); ok {
			out = append(out, f)
		}
	}
	return out
}

// ballWatch holds what is needed to put a ball's flight at a distance.
type ballWatch struct {
	frames []body.Frame
	pose   *Pose
	hips   []HipFix // one a frame
	seen   *[body.NumPoints]path
	wrist  body.Point // of the racket's hand

	// When the racket is swung: the hand's speed in space when there are world points,
	// else the racket's in the image.
	hand  [2]path                 // the wrist's x and y, and z, metres from mid-hip; empty without
	speed func(t float64) float64 // m/s or pixels a second
	fast  float64                 // from which it counts as swung
	reach float64                 // seconds that a swing's fast part takes
	at, v []float64               // times, and that speed at them

	interval float64 // seconds between frames
}

// hipsByFrame spreads the fixes over all frames, distances smoothed; a frame without
// one takes the last.
func hipsByFrame(n int, hips []HipFix) []HipFix {
	if len(hips) == 0 || n == 0 {
		return nil
	}
	out := make([]HipFix, n)
	last, k := hips[0], 0
	last.InCamera.Z = smoothDepth(hips, 0)
	for i := range out {
		for k < len(hips) && hips[k].Frame <= i {
			last = hips[k]
			last.InCamera.Z = smoothDepth(hips, k)
			k++
		}
		out[i] = last
	}
	return out
}

// free is the ball's image track without the samples in which a hand may hold it.
func (w *ballWatch) free() track2 {
	k := track2{cols: make([][]float64, 2)}
	for i := range w.frames {
		b := w.frames[i].Image[body.Ball]
		if b.Score <= 0 || !finite32(b.X, b.Y) {
			continue
		}
		if _, d := nearestHand(&w.frames[i], b, handPoints); w.metres(i, d) < heldWithin {
			continue
		}
		k.t = append(k.t, float64(w.frames[i].TimeUS)*1e-6)
		k.cols[0] = append(k.cols[0], float64(b.X))
		k.cols[1] = append(k.cols[1], float64(b.Y))
	}
	return k
}

// metres turns pixels at the player's distance into metres.
func (w *ballWatch) metres(frame int, px float64) float64 {
	return px * w.hips[frame].InCamera.Z / w.pose.Focal
}

// frameAt is the frame taken at a time that a sample has.
func (w *ballWatch) frameAt(t float64) int {
	us := int64(math.Round(t * 1e6))
	i := sort.Search(len(w.frames), func(i int) bool { return w.frames[i].TimeUS >= us })
	return min(i, len(w.frames)-1)
}

// handPoints are where a ball may be held; strikePoints tell where it is struck.
var (
	handPoints   = []body.Point{body.LeftWrist, body.RightWrist, body.LeftHand, body.RightHand}
	strikePoints = []body.Point{body.RacketTip, body.RacketThroat}
)

// nearestHand is the point nearest to the ball and its distance in pixels; +Inf when
// none is seen.
func nearestHand(f *body.Frame, b body.Seen2, among []body.Point) (body.Point, float64) {
	best, at := math.Inf(1), body.NumPoints
	for _, p := range among {
		if s := f.Image[p]; s.Score > 0 {
			if d := math.Hypot(float64(s.X-b.X), float64(s.Y-b.Y)); d < best {
				best, at = d, p
			}
		}
	}
	return at, best
}

const (
	// swungShare is the share of a clip's fastest speed from which a racket is swung.
	swungShare = 0.5
	// strikeShare is the share of its swing's top speed that a racket reaches about the
	// impact: hands are slowed a little before it. A ball that crosses a racket in the image
	// far behind it or before it does so at any time of the swing; its fall, taken as one at
	// the player, would seem as much slower as it is further away.
	strikeShare = 0.8
	// swingReach is how far from its fastest instant a swing reaches with its take-back, in
	// times of its fast part: 1 s or more.
	swingReach = 8.0
)

// findSwings settles what speed counts as a swing: half the fastest of the clip (which
// should hold a swing). The fast part of a swing takes the time for 0.4 m of the hand's
// way, 0.8 m of the racket's.
func (w *ballWatch) findSwings() {
	for i := range w.frames {
		if h, ok := world3(&w.frames[i].World, w.wrist); ok {
			t := float64(w.frames[i].TimeUS) * 1e-6
			w.hand[0].add(t, h.X, h.Y)
			w.hand[1].add(t, h.Z, 0)
		}
	}
	way, at := 0.4, w.hand[0].t
	w.speed = w.handSpeed
	if len(at) < len(w.frames)/2 {
		way = 0.8 * w.pose.Focal / quantileDepth(w.hips)
		at = w.seen[w.strikers()[0]].t
		w.speed = w.racketSpeed
	}
	w.fast, w.reach = math.Inf(1), 0
	// In a slow clip noise drowns the speed over a few frames: look over longer spans.
	for range 3 {
		w.at, w.v = w.at[:0], w.v[:0]
		for i, stride := 0, 1+len(at)/clockSamples; i < len(at); i += stride {
			w.at, w.v = append(w.at, at[i]), append(w.v, w.speed(at[i]))
		}
		q := quantile(w.v, 0.995)
		if q > 0 {
			w.fast, w.reach = swungShare*q, way/(swungShare*q)
		}
		if !(signal.Median(w.v) > 0.25*q) {
			break
		}
		w.interval *= 2
	}
}

// handSpeed is the speed of the racket's wrist from mid-hip, m/s.
func (w *ballWatch) handSpeed(t float64) float64 {
	vx, vy := w.hand[0].steadySlope(t, w.interval)
	vz, _ := w.hand[1].steadySlope(t, w.interval)
	return math.Sqrt(vx*vx + vy*vy + vz*vz)
}

// racketSpeed is the fastest of the racket's points (or hands) in the image, pixels a second.
func (w *ballWatch) racketSpeed(t float64) float64 {
	v := 0.0
	for _, p := range w.strikers() {
		v = max(v, math.Hypot(w.seen[p].steadySlope(t, w.interval)))
	}
	return v
}

// racketWrist is the wrist that is nearer to the racket on the whole.
func (w *ballWatch) racketWrist() body.Point {
	var d [2][]float64
	for i := range w.frames {
		im := &w.frames[i].Image
		for _, r := range []body.Point{body.RacketButt, body.RacketThroat, body.RacketTip} {
			l, h, s := im[body.LeftWrist], im[body.RightWrist], im[r]
			if l.Score > 0 && h.Score > 0 && s.Score > 0 {
				d[0] = append(d[0], math.Hypot(float64(l.X-s.X), float64(l.Y-s.Y)))
				d[1] = append(d[1], math.Hypot(float64(h.X-s.X), float64(h.Y-s.Y)))
				break
			}
		}
	}
	if len(d[0]) > 0 && signal.Median(d[0]) < signal.Median(d[1]) {
		return body.LeftWrist
	}
	return body.RightWrist
}

// meeting is an arc's end at the racket.
type meeting struct {
	arc Arc
	t   float64
	off float64 // metres between ball and racket, across the view
}

// arcs puts the smooth stretches at their distances and leaves out those that have none.
// Of the meetings with the racket during one swing only the closest counts, on both
// its sides: a ball far behind may cross the racket in the image.
func (w *ballWatch) arcs(k track2, pieces []piece, noise float64) []Arc {
	var out []Arc
	var meetings []meeting
	for _, p := range pieces {
		a := w.unplaced(k.slice(p.i, p.j), noise)
		if depth, sd, ok := w.release(a); ok {
			a.Depth, a.DepthSD, a.Sure = depth, sd, true
			out = append(out, a)
		} else if m, ok := w.meets(a); ok {
			meetings = append(meetings, m)
		}
	}
	var last meeting
	for _, m := range meetings {
		if !w.closest(m, meetings) {
			continue
		}
		m.arc.Meeting = last.arc.Meeting
		if last.arc.Meeting == 0 || math.Abs(m.t-last.t) > w.reach/3 {
			m.arc.Meeting++
		}
		last = m
		out = append(out, m.arc)
	}
	return out
}

// closest tells whether no closer meeting lies within a swing's time of m; meetings at
// the same instant are two sides of one.
func (w *ballWatch) closest(m meeting, all []meeting) bool {
	for _, o := range all {
		if d := math.Abs(o.t - m.t); o.off < m.off && d > w.reach/3 && d < 3*w.reach {
			return false
		}
	}
	return true
}

func (w *ballWatch) unplaced(k track2, noise float64) Arc {
	a := Arc{T: k.t, Pose: w.pose, Noise: noise}
	for i := range k.t {
		a.Image = append(a.Image, Pixel{k.cols[0][i], k.cols[1][i]})
	}
	return a
}

// meets finds the end of an arc that is nearer to a swung racket.
func (w *ballWatch) meets(a Arc) (meeting, bool) {
	best := meeting{off: math.Inf(1)}
	for _, end := range []int{0, len(a.T) - 1} {
		if off, ok := w.strike(a.T[end], a.Image[end]); ok && off < best.off {
			a.Near = end
			a.Depth, a.DepthSD = w.racketDepth(w.frameAt(a.T[end]), a.Image[end])
			best = meeting{a, a.T[end], off}
		}
	}
	return best, !math.IsInf(best.off, 1)
}

// release finds the hand that let the ball go at the arc's start: near it and moving
// as it does.
func (w *ballWatch) release(a Arc) (depth, sd float64, ok bool) {
	i := w.frameAt(a.T[0])
	// The ball's first quarter metre.
	span := (a.T[len(a.T)-1] - a.T[0]) / 4
	p, d := w.nearestAround(i, a.Image[0], handPoints)
	if p == body.NumPoints || w.metres(i, d) > releasedWithin || w.swungAbout(a.T[0], w.fast) {
		return 0, 0, false
	}
	ball := path{t: a.T}
	for _, q := range a.Image {
		ball.x, ball.y = append(ball.x, q.X), append(ball.y, q.Y)
	}
	bx, by := ball.slopeIn(a.T[0], a.T[0]+span)
	hx, hy := w.seen[p].slopeIn(a.T[0]-span, a.T[0])
	// A toss goes up; a ball that passes a hand by chance goes anywhere.
	if math.Hypot(bx-hx, by-hy) > 0.5*math.Hypot(bx, by) || by > -1.5*math.Abs(bx) {
		return 0, 0, false
	}
	z := w.hips[i].InCamera.Z
	if h, ok := world3(&w.frames[i].World, p); ok {
		return z + h.Z, releaseDepthSD, true
	}
	return z, handDepthSD, true
}

// strike tells how far from a swung racket a ball is at a time, metres across the view.
func (w *ballWatch) strike(t float64, at Pixel) (off float64, ok bool) {
	i := w.frameAt(t)
	p, d := w.nearestAround(i, at, w.strikers())
	off = w.metres(i, d)
	return off, p != body.NumPoints && off < struckWithin && w.swungAbout(t, w.strikeSpeed(t))
}

// strikeSpeed is the speed that a racket must reach about an impact at a time.
func (w *ballWatch) strikeSpeed(t float64) float64 {
	top := 0.0
	for i, at := range w.at {
		if math.Abs(at-t) < swingReach*w.reach {
			top = max(top, w.v[i])
		}
	}
	// One wrong sample makes a speed that no racket had: the clip's own fastest is robust.
	return max(w.fast, strikeShare*min(top, w.fast/swungShare))
}

// strikers are the racket's points, or the hands in a clip without.
func (w *ballWatch) strikers() []body.Point {
	if len(w.seen[body.RacketTip].t) == 0 {
		return handPoints
	}
	return strikePoints
}

// swungAbout tells whether the racket is so fast within half a swing's time of t.
func (w *ballWatch) swungAbout(t, fast float64) bool {
	for k := -2; k <= 2; k++ {
		if w.speed(t+w.reach*float64(k)/4) >= fast {
			return true
		}
	}
	return false
}

// nearestAround looks for the nearest of some points in a frame and its neighbours, since
// a racket is often lost at contact.
func (w *ballWatch) nearestAround(i int, at Pixel, among []body.Point) (body.Point, float64) {
	best, p := math.Inf(1), body.NumPoints
	b := body.Seen2{X: float32(at.X), Y: float32(at.Y)}
	for j := max(0, i-2); j <= min(len(w.frames)-1, i+2); j++ {
		if q, d := nearestHand(&w.frames[j], b, among); d < best {
			best, p = d, q
		}
	}
	return p, best
}

// racketDepth is the distance of a ball on the strings at frame i: that of the wrist
// and, from the wrist, what is left of the racket after its length across the view.
// It goes on away from the shoulders if the arm does.
func (w *ballWatch) racketDepth(i int, at Pixel) (depth, sd float64) {
	f, z := &w.frames[i], w.hips[i].InCamera.Z
	seen := f.Image[w.wrist]
	h, ok := world3(&f.World, w.wrist)
	s, too := middle3(&f.World, body.LeftShoulder)
	if !ok || !too || seen.Score <= 0 {
		return z, racketDepthSD
	}
	across := w.metres(i, math.Hypot(float64(seen.X)-at.X, float64(seen.Y)-at.Y))
	left := math.Sqrt(max(0, sq(wristToBall)-sq(across)))
	depth = z + h.Z
	if arm := h.Z - s.Z; math.Abs(arm) > 0.15 {
		return depth + 0.6*left*sign(arm), math.Hypot(leastRacketSD, 0.5*left)
	}
	return depth, math.Hypot(leastRacketSD, 0.7*left)
}

// BallFalls3 finds and fits the ball's flights in space: world points (Y up), their
// times on the clip's clock and NaN where the ball was not seen. Samples are taken as
// they are; leave out those in which the ball is held.
func BallFalls3(t []float64, ball []geom.Vec3) []Fall {
	k := track2{cols: make([][]float64, 3)}
	for i := range min(len(t), len(ball)) {
		if p := ball[i]; p.Finite() {
			k.t = append(k.t, t[i])
			k.cols[0] = append(k.cols[0], p.X)
			k.cols[1] = append(k.cols[1], p.Y)
			k.cols[2] = append(k.cols[2], p.Z)
		}
	}
	clean, pieces, noise := smoothPieces(k, arcLeast)
	var out []Fall
	for _, p := range pieces {
		s := clean.slice(p.i, p.j)
		a := Arc{T: s.t, Noise: noise}
		for i := range s.t {
			a.World = append(a.World, geom.Vec3{X: s.cols[0][i], Y: s.cols[1][i], Z: s.cols[2][i]})
		}
		if f, ok := FitFall(a); ok {
			out = append(out, f)
		}
	}
	return out
}
