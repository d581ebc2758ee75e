package track

import (
	"math"
	"slices"

	"example.com/courtkin/service/body"
)

// breaker is one point that breaks at impact, with how it moves around it.
//
// Its sights are followed forward from the first and backward from the last; at any
// instant the two meet, and how well they agree across a jolt is the evidence for a
// break there. Both ways once serve every instant (Mayne 1966, Automatica 4:73).
type breaker struct {
	near  []sight // those around the guess; their weights are the breaker's own
	rough rough

	of      body.Point
	unasked bool // it is not to be asked for a finer answer: it was not for a coarse one

	loss float64 // what the sights' weights cost, log likelihood
	*breakRoom
}

// breakRoom is what a breaker works in while it chooses, one after the other in the same.
type breakRoom struct {
	fore []motion // after the sights 0 … i
	back []motion // after the sights i … n−1, time running back
	vs   []float64
	own  arena[sight]
	kept struct {
		fore, back []motion
		w          []float64
	}
}

// breakerMargin is how much is used on both sides of the outermost candidates, seconds.
const breakerMargin = 0.06

// leastSights is the least number of sights that tell of a break.
const leastSights = 6

// newBreaker returns the breaker of a stream of sights around the guess.
func newBreaker(s []sight, r rough, guess float64, room *breakRoom) *breaker {
	const reach = contactReach + breakerMargin
	near := within(s, guess-reach, guess+reach)
	return &breaker{near: append(room.own.take(len(near), 2048)[:0], near...), rough: r, breakRoom: room}
}

// breakLevels are the factors on a breaker's roughness that are tried, as long as they
// are ever better supported.
//
// A racket that turns fast jerks more, and with too smooth a prior every sharp
// turn would pass for impact.
var breakLevels = [...]float64{1.0 / 8, 1, 8, 64}

// choose sets the breaker's roughness to the best supported of a few and
// returns the log evidence for a break at each candidate.
func (b *breaker) choose(ts []float64) []float64 {
	if len(b.near) < leastSights {
		return make([]float64, len(ts))
	}
	b.forget()
	level := b.rough.level
	b.rough.level = level * breakLevels[0]
	vs := b.try(ts, 2, math.Inf(-1))
	for k := 1; k < len(breakLevels); k++ {
		b.rough.level = level * breakLevels[k]
		// The last level's weights of the sights are a good start.
		best := logSum(vs)
		next := b.try(ts, 1, best-farBelow)
		if logSum(next) <= best {
			b.rough.level = level * breakLevels[k-1]
			break
		}
		vs = next
	}
	return vs
}

// forget gives every sight the same weight.
func (b *breaker) forget() {
	for i := range b.near {
		b.near[i].w = 1
	}
}

// try returns the log evidence for a break at each candidate. What weight each sight
// has is asked of the motion without a break, passes times, and from there of the motion
// broken at the best candidate and at its rival: unless the evidence is under hopeless without.
func (b *breaker) try(ts []float64, passes int, hopeless float64) []float64 {
	b.follow()
	for range passes {
		b.reweigh(math.Inf(1))
		b.follow()
	}
	vs := b.scan(ts, nil)
	if logSum(vs) < hopeless {
		return vs
	}
	b.keep()
	top := argMax(vs)
	b.better(vs, ts, top)
	if rival := rivalTo(vs, top); vs[rival] > vs[top]-farBelow {
		b.better(vs, ts, rival)
	}
	b.restore()
	return vs
}

// farBelow is how far under the best, in nats, a rival is not asked: weights of its own
// raise the evidence by some nats, by ten at times.
const farBelow = 20.0

// rivalTo returns the best supported candidate that is not near the top.
func rivalTo(vs []float64, top int) (at int) {
	const apart = int(0.04 / coarseStep)
	at = top
	for i, v := range vs {
		if abs(i-top) > apart && (at == top || v > vs[at]) {
			at = i
		}
	}
	return at
}

// better raises the evidence vs to what the weights of the motion broken at candidate i
// give, asked from what was kept: the order of asking must not matter. Of two sets of
// weights the better answer holds: both are bounds from below.
func (b *breaker) better(vs, ts []float64, i int) {
	b.restore()
	for range 2 {
		b.reweigh(ts[i])
		b.follow()
	}
	b.vs = b.scan(ts, b.vs[:0])
	for i, v := range b.vs {
		vs[i] = math.Max(vs[i], v)
	}
}

// finer returns the log evidence for a break at instants near at.
func (b *breaker) finer(ts []float64, at float64) []float64 {
	if len(b.near) < leastSights || b.unasked {
		return make([]float64, len(ts))
	}
	b.forget()
	b.follow()
	for range 2 {
		b.reweigh(at)
		b.follow()
	}
	b.keep()
	vs := b.scan(ts, nil)
	top := argMax(vs)
	for _, i := range [...]int{top, top - 1, top + 1} {
		if i == top || i >= 0 && i < len(vs) && vs[i] < vs[top]-sharp {
			b.better(vs, ts, i)
		}
	}
	return vs
}

// sharp is how much the evidence must fall to the next instant, nats, before that is
// asked with weights of its own.
const sharp = 0.3

// keep keeps the sights' weights and what follows from them.
func (b *breaker) keep() {
	b.kept.fore = append(b.kept.fore[:0], b.fore...)
	b.kept.back = append(b.kept.back[:0], b.back...)
	b.kept.w = b.kept.w[:0]
	for i := range b.near {
		b.kept.w = append(b.kept.w, b.near[i].w)
	}
}

// restore takes the sights back to what was kept.
func (b *breaker) restore() {
	copy(b.fore, b.kept.fore)
	copy(b.back, b.kept.back)
	for i := range b.near {
		b.near[i].w = b.kept.w[i]
	}
}

// follow follows the sights both ways.
func (b *breaker) follow() {
	n, q := len(b.near), b.rough.level
	b.fore, b.back = slices.Grow(b.fore[:0], n)[:n], slices.Grow(b.back[:0], n)[:n]
	m, weights, sum := open(b.near[0].t), product{}, 0.0
	for i := range b.near {
		s := &b.near[i]
		m.ahead(s.t, q)
		m.see(s.p, s.sd*s.sd/s.w)
		b.fore[i] = m
		weights.times(s.w)
		sum += s.w
	}
	b.loss = studentDF / 2 * (weights.log() - sum)
	m = open(-b.near[n-1].t)
	for i := n - 1; i >= 0; i-- {
		s := &b.near[i]
		m.ahead(-s.t, q)
		m.see(s.p, s.sd*s.sd/s.w)
		b.back[i] = m
	}
}

// scan appends to out the log evidence for a break at each of ts, rising, under
// Student t noise with the present weights of the sights: a bound from below, which
// touches where the weights are those of the motion so broken.
func (b *breaker) scan(ts, out []float64) []float64 {
	q, j, k := b.rough.level, b.rough.jolt(contactStep), 0
	for _, t := range ts {
		for k < len(b.near) && b.near[k].t <= t {
			k++
		}
		f, r := b.before(k, t), b.after(k, t)
		f.ahead(t, q)
		r.ahead(-t, q)
		f.strike(j)
		v := f.agree(&r)
		if math.IsNaN(v) {
			v = math.Inf(-1)
		}
		out = append(out, v+b.loss)
	}
	return out
}

// before is the motion as the sights 0 … k−1 tell it.
func (b *breaker) before(k int, t float64) motion {
	if k == 0 {
		return open(t)
	}
	return b.fore[k-1]
}

// after is the motion as the sights from k on tell it, time running back.
func (b *breaker) after(k int, t float64) motion {
	if k == len(b.near) {
		return open(-t)
	}
	return b.back[k]
}

// reweigh sets the weights of the sights for the motion broken at t.
func (b *breaker) reweigh(t float64) {
	q, j, n := b.rough.level, b.rough.jolt(contactStep), len(b.near)
	k := 0
	for k < n && b.near[k].t <= t {
		k++
	}
	if k < n {
		f := b.before(k, t)
		f.ahead(t, q)
		f.strike(j)
		for i := k; i < n; i++ {
			s := &b.near[i]
			f.ahead(s.t, q)
			p := f.meet(&b.back[i])
			f.see(s.p, s.sd*s.sd/s.w)
			s.reweigh(p)
		}
	}
	r := b.after(k, math.Min(t, b.near[n-1].t))
	if k < n {
		r.ahead(-t, q)
		r.unstrike(j)
	}
	for i := k - 1; i >= 0; i-- {
		s := &b.near[i]
		r.ahead(-s.t, q)
		p := b.fore[i].meet(&r)
		r.see(s.p, s.sd*s.sd/s.w)
		s.reweigh(p)
	}
}

func argMax(v []float64) (at int) {
	for i, x := range v {
		if x > v[at] {
			at = i
		}
	}
	return at
}
