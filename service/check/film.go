package check

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/signal"
	"example.com/courtkin/service/synth"
)

// A film runs from filmBefore to filmAfter contact, real seconds: the window that
// the machine looks back, and a follow-through.
const filmBefore, filmAfter = 2.7, 1.4

// seedOf keeps the chances of strokes and cameras apart.
func seedOf(take uint64, camera uint8) *rand.Rand {
	return rand.New(rand.NewPCG(0x636865636b, take<<8|uint64(camera)))
}

// film shows a made stroke to every eye, frames in order of time.
func (s *scene) film(m *synth.Motion, take uint64) []body.Frame {
	var out []body.Frame
	for i := range s.eyes {
		out = append(out, s.filmBy(&s.eyes[i], m, seedOf(take, s.eyes[i].camera))...)
	}
	slices.SortStableFunc(out, func(a, b body.Frame) int { return cmp.Compare(a.TimeUS, b.TimeUS) })
	return out
}

// epoch is the clip's time at the film's start, µs: far from 0, so that offsets
// between clocks leave times positive.
const epoch = 10_000_000

func (s *scene) filmBy(e *eye, m *synth.Motion, rng *rand.Rand) []body.Frame {
	contact := m.Struck[0].Contact
	from, to := math.Max(m.Start, contact-filmBefore), math.Min(m.End, contact+filmAfter)
	dt := 1 / math.Min(e.rate*s.slow, mostRate)
	start := m.At(m.Start).P[body.MidHip].Flat()
	var linger [2][body.NumPoints]lingering
	var out []body.Frame
	last := int64(math.MinInt64)
	for t := from + dt*rng.Float64(); t <= to; t += dt {
		wrong := e.jitter / math.Sqrt2 * rng.NormFloat64() // two of them make an interval's
		f := body.Frame{Index: uint32(len(out)), Camera: e.camera}
		f.TimeUS = max(last+1, epoch+int64(math.Round(((t-from)*s.slow+wrong-e.offset)*1e6)))
		last = f.TimeUS
		pose := m.At(t)
		x := exposure{eye: e, rng: rng, frame: &f, dt: dt, near: math.Abs(t-contact) <= nearContact, linger: &linger}
		for p := range body.NumPoints {
			if p != body.Ball || pose.HasBall {
				x.point(p, s.stand(pose.P[p], start), s.stand(pose.P[body.MidHip], start))
			}
		}
		out = append(out, f)
	}
	return out
}

// exposure is one frame being filled.
type exposure struct {
	eye    *eye
	rng    *rand.Rand
	frame  *body.Frame
	dt     float64
	near   bool // contact
	linger *[2][body.NumPoints]lingering
}

// usualScore is what made points score: the machine takes scores for hints alone.
const usualScore = 0.8

// point shows one point that is at a place, in the eye's axes, unless it is lost.
func (x *exposure) point(p body.Point, at, hip geom.Vec3) {
	e, f := x.eye, &x.eye.faults
	if !e.imaged[p] && !e.placed[p] {
		return
	}
	racket := p >= body.RacketTip
	lost := f.lost
	if racket {
		lost = f.lostRacket
	}
	if x.rng.Float64() < lost || x.near && (p == body.RacketTip || p == body.RacketThroat) && x.rng.Float64() < f.lostNear {
		return
	}
	if e.imaged[p] && e.pose != nil {
		x.image(p, at, racket)
	}
	if e.placed[p] {
		x.world(p, at, hip, racket)
	}
}

func (x *exposure) image(p body.Point, at geom.Vec3, racket bool) {
	n := x.eye.faults.image
	if racket {
		n = x.eye.faults.imageRacket
	}
	d := x.linger[0][p].next(x.dt, [3]signal.Noise{n, n}, x.rng)
	u, v, ok := x.eye.pose.Project(at)
	if !ok || !x.eye.inside(u, v) {
		return
	}
	x.frame.Image[p] = body.Seen2{X: float32(u + d[0]), Y: float32(v + d[1]), Score: usualScore}
}

// world gives a point in the client's axes: the camera's, with the origin at
// mid-hip, or the scene's.
func (x *exposure) world(p body.Point, at, hip geom.Vec3, racket bool) {
	f := &x.eye.faults
	n := [3]signal.Noise{f.across, f.across, f.depth}
	if racket {
		n = [3]signal.Noise{f.racket, f.racket, f.racket}
	}
	if x.eye.pose != nil {
		at = x.eye.pose.R.Apply(at.Sub(hip))
	}
	d := x.linger[1][p].next(x.dt, n, x.rng)
	x.frame.World[p] = body.Seen3{
		X: float32(at.X + d[0]), Y: float32(at.Y + d[1]), Z: float32(at.Z + d[2]), Score: usualScore,
	}
}
