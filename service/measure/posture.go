package measure

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/phase"
)

// leftHits reports whether the left arm is the hitting arm: the top hand of a
// two-handed backhand, the player being right-handed.
func (r *Reader) leftHits() bool { return r.ctx.Stroke == body.TwoHandedBackhand }

// arm returns shoulder, elbow and wrist of an arm.
func arm(left bool) (shoulder, elbow, wrist body.Point) {
	if left {
		return body.LeftShoulder, body.LeftElbow, body.LeftWrist
	}
	return body.RightShoulder, body.RightElbow, body.RightWrist
}

// elbow returns the flexion, degrees, of an arm's elbow at an event; 0 is straight.
func elbow(hitting bool, at phase.EventKind) func(*Reader) float64 {
	return func(r *Reader) float64 {
		s, e, w := arm(r.leftHits() == hitting)
		t := r.t[at]
		return degrees(phase.Flexion(r.k.At(s, t), r.k.At(e, t), r.k.At(w, t)))
	}
}

// turnMax is the largest turn, degrees, in the stretch in which turns are searched.
func (r *Reader) turnMax(turn []float64) float64 {
	_, v := r.k.Largest(turn, r.k.SearchFrom(), r.contact())
	return degrees(v)
}

// forwardRange is the turn at FORWARD_START − at contact, degrees.
func (r *Reader) forwardRange(turn []float64) float64 {
	return degrees(r.k.Value(turn, r.t[phase.ForwardStart]) - turn[r.b])
}

// separationMax is the largest separation, degrees, between TURN_START and contact.
func (r *Reader) separationMax() float64 {
	from := r.t[phase.TurnStart]
	lo, hi, ok := r.k.Window(from, r.contact())
	if !ok {
		return math.NaN()
	}
	sep := r.k.Spare(0)
	for i := lo; i <= hi; i++ {
		sep[i] = r.k.Separation(i)
	}
	_, v := r.k.Largest(sep, from, r.contact())
	return degrees(v)
}

// separationAt returns shoulder turn − hip turn at t, degrees.
func (r *Reader) separationAt(t float64) float64 {
	d := r.k.Value(r.k.ShoulderTurn, t) - r.k.Value(r.k.HipTurn, t)
	return degrees(math.Remainder(d, 2*math.Pi))
}

// handsOut is (grip centre − mid-hip)·h at contact, m.
func (r *Reader) handsOut() float64 {
	pos, _ := r.k.Grip()
	return r.toward(pos[r.b].Sub(r.hips(r.contact())))
}

// clearance is handsOut − half the distance of the hip joints, m.
func (r *Reader) clearance() float64 {
	width := r.c.Pos[body.RightHip][r.b].Sub(r.c.Pos[body.LeftHip][r.b]).Norm()
	return r.handsOut() - width/2
}

// reach is the horizontal distance mid-shoulder → head centre at contact, m.
func (r *Reader) reach() float64 {
	return r.head().Sub(r.shoulders(r.contact())).Flat().Norm()
}

// shoulderTilt is the elevation, degrees, of the line from the other shoulder to
// the hitting-side shoulder at contact: > 0 is the hitting side higher.
func (r *Reader) shoulderTilt() float64 {
	across := r.c.Pos[body.RightShoulder][r.b].Sub(r.c.Pos[body.LeftShoulder][r.b])
	return elevation(across.Scale(r.k.Side()))
}

// trunk is mid-hip → mid-shoulder at contact.
func (r *Reader) trunk() geom.Vec3 { return r.shoulders(r.contact()).Sub(r.hips(r.contact())) }

// leanSide and leanForward are atan2(component toward h or X, vertical
// component) of the trunk at contact, degrees: > 0 leans to the hitting side,
// toward the net. They are projected angles, not ISB's Cardan angles of the
// thorax (Wu et al. 2005), which they equal for a lean in one plane.
func (r *Reader) leanSide() float64 {
	v := r.trunk()
	return degrees(math.Atan2(r.toward(v), v.Y))
}

func (r *Reader) leanForward() float64 {
	v := r.trunk()
	return degrees(math.Atan2(v.X, v.Y))
}

// overShoulder is, at TURN_COMPLETE, shoulder turn − facing of the head (mid-ear →
// nose), degrees in [−180, 180].
func (r *Reader) overShoulder() float64 {
	t := r.t[phase.TurnComplete]
	facing := r.k.At(body.Nose, t).Sub(r.k.Middle(body.LeftEar, body.RightEar, t))
	turn := degrees(r.k.Value(r.k.ShoulderTurn, t))
	return math.Remainder(turn-r.heading(facing), 360)
}

// stillFor is the half width, s, of the stretch around contact over which the head
// is watched (measures.md).
const stillFor = 0.060

// stillness is the RMS displacement, m, of the middle of the ears about its mean,
// relative to mid-shoulder, contact ± 60 ms. The mean is over time. NaN when
// the course does not hold the stretch.
func (r *Reader) stillness() float64 {
	from, to := r.contact()-stillFor, r.contact()+stillFor
	if from < r.c.T[0] || to > r.c.T[len(r.c.T)-1] {
		return math.NaN()
	}
	start := r.headOver(from)
	var span, square float64
	var sum geom.Vec3
	last, at := from, start
	step := func(t float64) {
		if t <= last {
			return
		}
		next := r.headOver(t)
		a, b := at.Sub(start), next.Sub(start)
		dt := t - last
		span += dt
		sum = sum.Add(a.Add(b).Scale(dt / 2))
		square += dt * (a.Dot(a) + a.Dot(b) + b.Dot(b)) / 3
		last, at = t, next
	}
	lo, _ := r.k.Bracket(from)
	for i := lo + 1; i < len(r.c.T) && r.c.T[i] < to; i++ {
		step(r.c.T[i])
	}
	step(to)
	mean := sum.Scale(1 / span)
	return math.Sqrt(math.Max(0, square/span-mean.Dot(mean)))
}

// headOver is the middle of the ears relative to mid-shoulder at t.
func (r *Reader) headOver(t float64) geom.Vec3 {
	return r.k.Middle(body.LeftEar, body.RightEar, t).Sub(r.shoulders(t))
}

// baseWidth is the distance of the ankles ÷ stature at SPLIT_LANDING; without
// one, at TURN_START.
func (r *Reader) baseWidth() float64 {
	t := r.t[phase.SplitLanding]
	if math.IsNaN(t) {
		t = r.t[phase.TurnStart]
	}
	if math.IsNaN(t) {
		return math.NaN()
	}
	return r.k.At(body.LeftAnkle, t).Sub(r.k.At(body.RightAnkle, t)).Norm() / r.ctx.Stature
}

// kneeMax returns the largest flexion, degrees, of the back or front knee between
// TURN_START and contact.
func kneeMax(back bool) func(*Reader) float64 {
	return func(r *Reader) float64 {
		hip, knee, ankle := phase.Knee(r.k.BackFootRight() == back)
		_, v := r.k.MostBent(r.t[phase.TurnStart], r.contact(), hip, knee, ankle)
		return degrees(v)
	}
}

// rise is the mid-hip height at contact − its lowest between TURN_COMPLETE and contact, m.
func (r *Reader) rise() float64 {
	from := r.t[phase.TurnComplete]
	lo, hi, ok := r.k.Window(from, r.contact())
	if !ok {
		return math.NaN()
	}
	height := r.k.Spare(0)
	for i := lo; i <= hi; i++ {
		height[i] = (r.c.Pos[body.LeftHip][i].Y + r.c.Pos[body.RightHip][i].Y) / 2
	}
	_, low := r.k.Smallest(height, from, r.contact())
	return height[r.b] - low
}

// stance is the horizontal direction, degrees, of back ankle → front ankle at
// contact: about 0 square, > 0 closed, < 0 open.
func (r *Reader) stance() float64 {
	d := r.c.Pos[body.LeftAnkle][r.b].Sub(r.c.Pos[body.RightAnkle][r.b])
	if !r.k.BackFootRight() {
		d = d.Scale(-1)
	}
	return r.heading(d)
}
