package measure

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/track"
)

// Context is what a course does not say.
type Context struct {
	phase.Context
	Stature float64 // standing height, m; 0 unknown
}

// Reader evaluates measures on one course after the other, in memory of its own.
// The zero value is ready for use; a Reader serves one goroutine.
type Reader struct {
	k   phase.Curves
	c   *track.Course
	ctx Context
	t   phase.Times
	b   int // sample of contact, the limit from before impact
}

// Read takes a course, locates its events and returns them. ctx.Stroke decides
// the rules. The course must not change while it is read.
func (r *Reader) Read(c *track.Course, ctx Context) phase.Times {
	r.load(c, ctx)
	r.t = r.k.Locate()
	return r.t
}

// Adjust puts other times in the place of those that Read found, for the values
// that are read next.
func (r *Reader) Adjust(t phase.Times) { r.t = t }

func (r *Reader) load(c *track.Course, ctx Context) {
	r.k.Read(c, ctx.Context)
	r.c, r.ctx, r.b, r.t = c, ctx, c.Break, phase.None()
}

// EndAgain tells of the FOLLOW_END that Read found what phase.Curves.EndAgain does.
func (r *Reader) EndAgain() (next float64, dips bool) { return r.k.EndAgain(r.t[phase.FollowEnd]) }

// Values appends the value of every measure of the catalog, in order, in its
// unit, to dst; NaN where it is undefined or not for this stroke.
func (r *Reader) Values(dst []float64) []float64 {
	have := r.Have()
	for i := range catalog {
		dst = append(dst, r.value(&catalog[i], have))
	}
	return dst
}

func (r *Reader) value(row *Row, have Need) float64 {
	if !r.k.Usable() || row.Needs&^have != 0 || !row.For(r.ctx.Stroke) || !row.present(&r.t, r.ctx.Stroke) {
		return math.NaN()
	}
	if v := row.read(r); !math.IsInf(v, 0) {
		return v
	}
	return math.NaN()
}

// Evaluate returns the value of every measure of the catalog, in order, for a
// course whose events are t; NaN where it is undefined. It makes a Reader of its
// own; over an ensemble use Reader.Read and Reader.Values.
func Evaluate(c *track.Course, t phase.Times, ctx Context) []float64 {
	var r Reader
	r.load(c, ctx)
	if r.k.Usable() {
		r.k.Locate() // for the stretch in which turns are searched
	}
	r.t = t
	return r.Values(make([]float64, 0, len(catalog)))
}

// present reports whether the events of the row are there, TurnComplete standing in
// for DropStart.
func (r *Row) present(t *phase.Times, stroke body.Stroke) bool {
	if r.Chain && math.IsNaN(chainFrom(t, stroke)) {
		return false
	}
	for _, k := range r.Events {
		at := t[k]
		if k == phase.DropStart {
			at = t.DropOrTurn()
		}
		if math.IsNaN(at) {
			return false
		}
	}
	return true
}

// chainFrom is the start of the stretch in which the chain's peaks are searched.
func chainFrom(t *phase.Times, stroke body.Stroke) float64 {
	if stroke.OverheadMotion() {
		return t[phase.Trophy]
	}
	return t[phase.TurnComplete]
}

// Have returns what the course and the context hold.
func (r *Reader) Have() Need {
	if !r.k.Usable() {
		return 0
	}
	var n Need
	add := func(bit Need, ok bool) {
		if ok {
			n |= bit
		}
	}
	flight := r.c.Ball
	add(NeedRacket, r.k.HasTip() && r.k.HasCenter() && r.k.HasGrip() && len(r.c.AxisVel) == len(r.c.T))
	add(NeedGrip, r.k.HasGrip())
	add(NeedBall, flight.SpeedIn > 0 || flight.SpeedOut > 0 || flight.Apex > 0)
	add(NeedEars, r.k.Known(body.LeftEar, body.RightEar))
	add(NeedNose, r.k.Known(body.Nose))
	add(NeedShoulders, r.k.Known(body.LeftShoulder, body.RightShoulder))
	add(NeedElbows, r.k.Known(body.LeftElbow, body.RightElbow))
	add(NeedWrists, r.k.Known(body.LeftWrist, body.RightWrist))
	add(NeedHips, r.k.Known(body.LeftHip, body.RightHip))
	add(NeedKnees, r.k.Known(body.LeftKnee, body.RightKnee))
	add(NeedAnkles, r.k.Known(body.LeftAnkle, body.RightAnkle))
	add(NeedStature, r.ctx.Stature > 0)
	return n
}

// positive returns v, or NaN when it is no speed or height that a ball can tell.
func positive(v float64) float64 {
	if v > 0 {
		return v
	}
	return math.NaN()
}

// degrees turns radians into degrees.
func degrees(a float64) float64 { return geom.Angle(a).Degrees() }

// toward returns the component of v along h, the side on which the ball is hit.
func (r *Reader) toward(v geom.Vec3) float64 { return r.k.Side() * v.Z }

// heading returns the horizontal direction of v, degrees from X, positive toward h,
// in (−180, 180].
func (r *Reader) heading(v geom.Vec3) float64 { return degrees(math.Atan2(r.toward(v), v.X)) }

// elevation returns the angle of v over the horizontal, degrees in [−90, 90].
func elevation(v geom.Vec3) float64 { return degrees(math.Atan2(v.Y, math.Hypot(v.X, v.Z))) }

// hips and shoulders return mid-hip and mid-shoulder at t.
func (r *Reader) hips(t float64) geom.Vec3 { return r.k.Middle(body.LeftHip, body.RightHip, t) }
func (r *Reader) shoulders(t float64) geom.Vec3 {
	return r.k.Middle(body.LeftShoulder, body.RightShoulder, t)
}

// tip returns the tip at t.
func (r *Reader) tip(t float64) geom.Vec3 { return r.k.At(body.RacketTip, t) }

// contact returns the instant of impact: values there are limits from before it.
func (r *Reader) contact() float64 { return r.c.T[r.b] }

// head returns the head centre just before impact.
func (r *Reader) head() geom.Vec3 { return r.c.Center[r.b] }

// after returns the time from one event to another.
func after(to, from phase.EventKind) func(*Reader) float64 {
	return func(r *Reader) float64 { return r.t[to] - r.t[from] }
}
