package synth

import (
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// Practice asks for several strokes in a row by one player, with what people do
// between strokes.
type Practice struct {
	Spec     Spec                 // the player; its Stroke and Shadow are not read when Strokes is set
	Strokes  []body.Stroke        // in order
	Plain    bool                 // nothing between strokes but recovery
	Busy     bool                 // drinks and balls that change hands, besides
	Each     func(i int, s *Spec) // may change stroke i: knobs for a planted trend, one seed for equal swings
	Interval [2]float64           // s of waiting between recovery and the next stroke; zero: 0.2 to 1.5
}

// NewPractice makes the motion of a practice, continuous from end to end. Motion.Struck
// lists its true strokes.
func NewPractice(p Practice) *Motion {
	s := p.Spec.filled()
	d := newDraw(s.Seed, streamPractice)
	r := &routine{p: p, d: d, rests: map[body.Stroke]*rest{}}
	r.build = newBuild(s.Stature, s.Racket, newDraw(s.Seed, streamBody+100))
	r.poseSeed = d.Uint64()
	first := body.Forehand
	if len(p.Strokes) > 0 {
		first = p.Strokes[0]
	}
	head := d.about(0, 6) * deg
	r.m = &Motion{Build: r.build, LeftHanded: s.Hand == body.LeftHanded}
	r.m.stand(newDraw(r.poseSeed, streamMotion), r.rest(first), startPlace(first, d), head)
	r.now = d.in(0.3, 1.0)
	for i, k := range p.Strokes {
		r.stroke(i, k, s)
	}
	if len(p.Strokes) == 0 {
		r.idle(first)
		r.idle(first)
	}
	r.m.End = r.now + d.in(0.3, 0.8)
	return r.m
}

// routine is a practice being laid out in time.
type routine struct {
	p        Practice
	d        draw
	m        *Motion
	build    Build
	poseSeed uint64
	rests    map[body.Stroke]*rest
	now      float64 // everything so far is over by now
}

func startPlace(k body.Stroke, d draw) geom.Vec3 {
	switch {
	case k == body.Serve:
		return geom.Vec3{X: -d.in(0.25, 0.6), Z: d.in(0.3, 2)}
	case k.Volley(), k == body.Overhead:
		return geom.Vec3{X: d.in(6.5, 9.0), Z: d.in(-2, 2)}
	}
	return geom.Vec3{X: d.in(-1.5, 1.2), Z: d.in(-2.5, 2.5)}
}

// rest is the player's waiting position for a stroke, the same each time.
func (r *routine) rest(k body.Stroke) *rest {
	kind := body.Forehand
	if k == body.Serve || k == body.TwoHandedBackhand {
		kind = k
	}
	if r.rests[kind] == nil {
		r.rests[kind] = newRest(r.build, newDraw(r.poseSeed, streamMotion+uint64(kind)), kind)
	}
	return r.rests[kind]
}

// stroke appends one stroke, what comes before it, and the recovery.
func (r *routine) stroke(i int, k body.Stroke, s Spec) {
	s.Stroke, s.Seed = k, s.Seed+uint64(i)*7919
	if r.p.Each != nil {
		r.p.Each(i, &s)
	}
	if s.Knobs.Speed == 0 {
		s.Knobs.Speed = 1
	}
	if i > 0 {
		r.between(k)
	}
	seed := newDraw(s.Seed, streamMotion).Uint64()
	v := newStroke(s, newDraw(seed, streamMotion))
	if s.Shadow {
		v.miss()
	}
	solve(v, r.fresh(k), seed, 2.2)
	tc := r.now + v.lead()
	r.m.perform(v, s, seed, tc, !s.Shadow)
	next := k
	if i+1 < len(r.p.Strokes) {
		next = r.p.Strokes[i+1]
	}
	r.recover(v, tc, next)
}

// recover brings the body back to the waiting position of the next stroke.
func (r *routine) recover(v stroker, tc float64, next body.Stroke) {
	w := v.ready()
	q := r.rest(next)
	r.m.settle(q, tc+w[0], tc+w[1], r.d)
	r.m.regroup(q, tc+w[0]-0.1, tc+w[1], 2, r.d)
	r.now = tc + w[1] + 0.02
}

func (r *routine) fresh(k body.Stroke) func() *Motion {
	return func() *Motion {
		m := &Motion{Build: r.build}
		m.stand(newDraw(r.poseSeed, streamMotion), r.rest(k), geom.Vec3{}, 0)
		return m
	}
}

// between fills the time before the next stroke: waiting, and now and then
// something that is no stroke.
func (r *routine) between(next body.Stroke) {
	if !r.p.Plain {
		r.idle(next)
	}
	switch {
	case !r.p.Busy:
	case r.d.chance(0.07):
		r.drink(next)
	case r.d.chance(0.15):
		r.changeHands(next)
	}
	wait := r.p.Interval
	if wait[1] == 0 {
		wait = [2]float64{0.1, 1.2}
	}
	r.now += r.d.in(wait[0], wait[1])
	if next == body.Serve {
		r.walkTo(startPlace(next, r.d), next)
	}
}

// idle appends one thing that people do between strokes, or nothing.
func (r *routine) idle(next body.Stroke) {
	kinds := []func(body.Stroke){
		func(body.Stroke) {}, r.stroll, r.halfSwing, r.stretch, r.pickUp, r.bounce,
	}
	n := r.d.IntN(len(kinds) + 1)
	if next == body.Serve && r.d.chance(0.5) {
		n = 5
	}
	if n < len(kinds) {
		kinds[n](next)
	}
}
