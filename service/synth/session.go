package synth

import (
	"math"
	"slices"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/phase"
)

// Disturbance is what a camera of a busy court shows that is none of the player's
// motion.
type Disturbance int

// Disturbances.
const (
	// SecondPerson walks across the view: the estimator, which gives one person,
	// goes over to him and comes back.
	SecondPerson Disturbance = iota + 1
	// Away: the player is out of the view; frames come without points.
	Away
	// NoFrames: the player is out of the view, and the estimator sends nothing.
	NoFrames
)

// Disturbed is a stretch of a session, real seconds as Truth counts them.
type Disturbed struct {
	Kind     Disturbance
	From, To float64
}

// What a session's gaps between strokes allow, seconds: a stroke's own stretch
// begins sessionLead before contact and ends sessionTail after it.
const sessionLead, sessionTail = 2.0, 1.5

// Session shows n strokes of a busy court under a condition: rallies with balls 2
// to 6 s apart, what people do between strokes, drinks, and between strokes other
// people in the view and a player who leaves it. The same arguments give the same
// clip.
func Session(c Condition, n int, seed uint64) (Clip, []Disturbed) {
	d := newDraw(seed, streamPractice+20)
	spec := Spec{Seed: d.Uint64()}
	m := NewPractice(Practice{Spec: spec, Strokes: sessionStrokes(n, d), Busy: true, Interval: [2]float64{0.3, 2.5}})
	shoot := d.Uint64()
	clip, lenses := shootWith(m, c, View{}, shoot)
	s := session{clip: &clip, lenses: lenses, seed: shoot, d: d}
	s.disturb()
	return clip, s.all
}

// sessionStrokes draws the strokes: at the baseline, at the net, or serves, for a
// camera that stands still sees one place.
func sessionStrokes(n int, d draw) []body.Stroke {
	kinds := []body.Stroke{body.Forehand, body.Forehand, body.TwoHandedBackhand, body.OneHandedBackhand, body.SliceBackhand}
	switch x := d.Float64(); {
	case x < 0.2:
		kinds = []body.Stroke{body.Serve}
	case x < 0.4:
		kinds = []body.Stroke{body.ForehandVolley, body.BackhandVolley, body.Overhead}
	}
	ks := make([]body.Stroke, n)
	for i := range ks {
		ks[i] = kinds[d.IntN(len(kinds))]
	}
	return ks
}

// session is a clip being disturbed.
type session struct {
	clip   *Clip
	lenses []*lens
	seed   uint64
	d      draw
	all    []Disturbed
}

// disturb lays something over every other gap between strokes.
func (s *session) disturb() {
	truth := s.clip.Truth
	for i := range truth[:max(0, len(truth)-1)] {
		from, to := truth[i].Contact+sessionTail, truth[i+1].Contact-sessionLead
		next := &truth[i+1].Events
		for _, e := range [...]float64{next[phase.TurnStart] - 0.3, next[phase.BallRelease] - 1.0} {
			if !math.IsNaN(e) {
				to = math.Min(to, e)
			}
		}
		if to-from < 0.8 || !s.d.chance(0.5) {
			continue
		}
		x := Disturbed{Kind: SecondPerson + Disturbance(s.d.IntN(3)), From: from, To: to}
		if x.Kind == SecondPerson { // a walker is before the player for a second or two
			span := math.Min(to-from, s.d.in(0.6, 2))
			x.From += s.d.in(0, to-from-span)
			x.To = x.From + span
		}
		s.all = append(s.all, x)
		switch x.Kind {
		case SecondPerson:
			s.cross(x)
		default:
			s.leave(x)
		}
	}
}

// inside reports whether a frame lies in a stretch.
func (s *session) inside(f *body.Frame, x Disturbed) bool {
	at := s.clip.Real(float64(f.TimeUS))
	return at >= x.From && at <= x.To
}

// leave takes the points of a stretch away, or its frames.
func (s *session) leave(x Disturbed) {
	if x.Kind == NoFrames {
		s.clip.Frames = slices.DeleteFunc(s.clip.Frames, func(f body.Frame) bool { return s.inside(&f, x) })
		return
	}
	for i := range s.clip.Frames {
		if f := &s.clip.Frames[i]; s.inside(f, x) {
			f.World, f.Image = [body.NumPoints]body.Seen3{}, [body.NumPoints]body.Seen2{}
		}
	}
}

// flicker is for how long, seconds, an estimator goes to and fro between two people
// who pass one another.
const flicker = 0.1

// cross puts another person's points in the place of the player's, the racket
// gone, in all cameras or in one. About the ends of the stretch it goes to and fro.
func (s *session) cross(x Disturbed) {
	only := -1
	if len(s.lenses) > 1 && s.d.chance(0.7) {
		only = s.d.IntN(len(s.lenses))
	}
	m := s.walker(x)
	other := *s.clip
	other.Motion, other.Frames = m, nil
	for i, l := range s.lenses {
		other.film(i, l, View{}, newDraw(s.seed+uint64(len(s.all)), streamNoise+uint64(100*i)))
	}
	var ofCamera [2][]body.Frame
	for _, f := range other.Frames {
		ofCamera[f.Camera] = append(ofCamera[f.Camera], f)
	}
	var used [2]int
	for i := range s.clip.Frames {
		f := &s.clip.Frames[i]
		if !s.inside(f, x) || only >= 0 && int(f.Camera) != only {
			continue
		}
		k := used[f.Camera]
		if k >= len(ofCamera[f.Camera]) {
			continue
		}
		used[f.Camera]++
		at := s.clip.Real(float64(f.TimeUS))
		if math.Min(at-x.From, x.To-at) < flicker && s.d.chance(0.5) {
			continue
		}
		o := &ofCamera[f.Camera][k]
		copy(f.World[:body.NumBody], o.World[:body.NumBody])
		copy(f.Image[:body.NumBody], o.Image[:body.NumBody])
		for p := body.RacketTip; p <= body.RacketRight; p++ {
			f.World[p], f.Image[p] = body.Seen3{}, body.Seen2{}
		}
	}
}

// walker makes somebody who walks by, 1 to 3 m from the player, as long as a stretch.
func (s *session) walker(x Disturbed) *Motion {
	d := s.d
	by := s.clip.Motion.At(s.clip.Motion.Start + (x.From+x.To)/2).P[body.MidHip].Flat()
	way := level(d.in(0, 2*math.Pi))
	by = by.Add(level(d.in(0, 2*math.Pi)).Scale(d.in(1, 3)))
	span := x.To - x.From + 0.2
	pace := d.in(1, 1.6)
	r := &routine{d: d, rests: map[body.Stroke]*rest{}}
	r.build = newBuild(d.in(1.5, 1.95), 0.685, newDraw(d.Uint64(), streamBody+100))
	r.poseSeed = d.Uint64()
	head := math.Atan2(way.Z, way.X)
	r.m = &Motion{Build: r.build}
	r.m.stand(newDraw(r.poseSeed, streamMotion), r.rest(body.Forehand), by.Sub(way.Scale(pace*(span/2+0.7))), head)
	r.hang()
	r.now = 0.7
	r.walk(by.Add(way.Scale(pace*(span/2+0.3))), 0, body.Forehand)
	r.m.Start, r.m.End = 0.7, 0.7+span
	return r.m
}

// drink walks off, lifts a bottle to the mouth with the left hand, and comes back.
func (r *routine) drink(next body.Stroke) {
	m, d := r.m, r.d
	home := m.pelvisGoal()
	r.hang()
	r.walk(home.Add(level(d.in(0, 2*math.Pi)).Scale(d.in(2, 4))), d.about(0, 60)*deg, next)
	arm := m.Build.arm()
	for range 1 + d.IntN(3) {
		t, up := r.now, d.in(0.5, 0.8)
		m.joints[offEl].to(t, t+up, d.in(5, 25)*deg, 0)
		m.joints[offReach].to(t, t+up, d.in(0.35, 0.45)*arm, 0)
		m.joints[headPitch].to(t+0.3, t+up+0.3, 20*deg, 0)
		down := t + up + d.in(0.5, 2)
		m.joints[offEl].to(down, down+0.6, -d.in(70, 80)*deg, 0)
		m.joints[offReach].to(down, down+0.6, 0.92*arm, 0)
		m.joints[headPitch].to(down, down+0.5, -4*deg, 0)
		r.now = down + 0.7
	}
	r.walk(home, 0, next)
	r.back(next, 0.7)
}

// changeHands takes a ball out of the left hand into the racket hand and back.
func (r *routine) changeHands(next body.Stroke) {
	m, d := r.m, r.d
	arm := m.Build.arm()
	m.joints[hold].to(r.now, r.now+0.3, 0, 0)
	for range 1 + d.IntN(3) {
		t := r.now
		m.joints[offEl].to(t, t+0.35, -d.in(25, 40)*deg, 0)
		m.joints[offReach].to(t, t+0.35, d.in(0.45, 0.55)*arm, 0)
		m.joints[armReach].to(t, t+0.35, d.in(0.48, 0.58)*arm, 0)
		m.joints[offEl].to(t+0.45, t+0.85, -d.in(55, 65)*deg, 0)
		m.joints[offReach].to(t+0.45, t+0.85, 0.75*arm, 0)
		m.joints[armReach].to(t+0.45, t+0.85, d.in(0.6, 0.7)*arm, 0)
		r.now = t + 0.9
	}
	r.back(next, 0.5)
}
