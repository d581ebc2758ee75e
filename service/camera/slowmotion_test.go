package camera

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// TestFreeFall254 times a drop of 254 cm: 0.7197 s without drag (literature.md G27).
func TestFreeFall254(t *testing.T) {
	near(t, "time", math.Sqrt(2*2.54/standardGravity), 0.7197, 5e-5)
	for _, c := range []struct{ factor, rate float64 }{{1, 60}, {1, 240}, {8, 30}, {4, 60}} {
		a := Arc{Noise: 1e-3}
		for i := 0; ; i++ {
			s := float64(i) / c.rate
			real := s / c.factor
			if real > 0.7197 {
				break
			}
			a.T = append(a.T, s)
			a.World = append(a.World, geom.Vec3{Y: 2.54 - standardGravity*real*real/2})
		}
		f, ok := FitFall(a)
		if !ok {
			t.Fatal("no fall")
		}
		near(t, "g", f.G*c.factor*c.factor, standardGravity, 0.025*standardGravity) // the fit assumes air
		s := CheckClock([]Fall{f}, 0.01, Tempo{}, Camera{}, math.NaN())
		near(t, "factor", s.Factor, c.factor, 1e-9)
		if !s.Verified || !s.Snapped {
			t.Errorf("%+v", s)
		}
	}
}

// madeBall is a ball's path in real time: break times and a flight after each.
type madeBall struct {
	from []float64
	legs []flight
}

func (b madeBall) at(t float64) (geom.Vec3, bool) {
	for i := len(b.from) - 1; i >= 0; i-- {
		if t < b.from[i] {
			continue
		}
		p := b.legs[i].until(t - b.from[i]).p
		return p, p.Y > 0
	}
	return geom.Vec3{}, false
}

// until runs a flight for s seconds, backwards when s < 0.
func (f flight) until(s float64) flight {
	n := math.Ceil(math.Abs(s) / 0.005)
	for range int(n) {
		f.advance(s / n)
	}
	return f
}

// madeRally is a ball that comes in, bounces, is hit with the racket's head and leaves.
// It is made backwards from the hit.
func madeRally(s swinger, r *rand.Rand) madeBall {
	at := s.pose(s.contact)
	hit := at[body.RacketTip].Lerp(at[body.RacketThroat], 0.5)
	drag, lift := 0.02*(0.8+0.4*r.Float64()), -0.006*r.Float64()
	rise := 0.25 + 0.2*r.Float64()
	in := flight{hit, geom.Vec3{X: -(8 + 7*r.Float64()), Y: hit.Y/rise - standardGravity*rise/2, Z: 2 * r.NormFloat64()}, standardGravity, lift, drag}
	bounced := in.until(-rise)
	fell := bounced
	fell.v = geom.Vec3{X: 1.4 * fell.v.X, Y: -1.3 * fell.v.Y, Z: 1.4 * fell.v.Z}
	const before = 0.4
	out := flight{hit, geom.Vec3{X: 20 + 10*r.Float64(), Y: 3, Z: 4 * r.NormFloat64()}, standardGravity, lift, drag}
	return madeBall{[]float64{s.contact - rise - before, s.contact - rise, s.contact}, []flight{fell.until(-before), bounced, out}}
}

// madeToss is a ball tossed from the left hand and hit 0.8–1.0 s later; until then the
// hand carries it.
func madeToss(s *swinger, r *rand.Rand) madeBall {
	up := 0.8 + 0.2*r.Float64()
	s.toss, s.tossV = s.contact-up, 5+1.2*r.Float64()
	from := s.pose(s.toss)[body.LeftWrist].Add(geom.Vec3{Y: 0.1})
	toss := flight{from, geom.Vec3{X: 0.4 * r.NormFloat64(), Y: s.tossV, Z: 0.3 * r.NormFloat64()}, standardGravity, 0, 0.02}
	hit := toss.until(up)
	out := flight{hit.p, geom.Vec3{X: 35, Y: -1, Z: 3 * r.NormFloat64()}, standardGravity, -0.003, 0.02}
	return madeBall{[]float64{s.toss, s.contact}, []flight{toss, out}}
}

// filmSlow films player and ball with a sensor at rate and stretches the times.
func filmSlow(s swinger, b madeBall, p *Pose, rate, factor float64, r *rand.Rand) []body.Frame {
	frames := s.film(p, 0, 0, 3, rate, 0, 2, r)
	withWorld(frames, s, p, r)
	for i := range frames {
		f := &frames[i]
		t := float64(f.TimeUS) * 1e-6
		f.Image[body.Ball] = body.Seen2{}
		w, ok := b.at(t)
		if !ok && s.tossV > 0 {
			w, ok = s.pose(t)[body.LeftWrist].Add(geom.Vec3{Y: 0.1}), true
		}
		if ok {
			if x, y, ok := p.Project(w); ok && r.Float64() > 0.05 {
				f.Image[body.Ball] = body.Seen2{X: float32(x + 2*r.NormFloat64()), Y: float32(y + 2*r.NormFloat64()), Score: 0.8}
				if r.Float64() < 0.005 {
					f.Image[body.Ball].X += 150
				}
			}
		}
		f.TimeUS = int64(t * factor * 1e6)
	}
	return frames
}

func TestClockFromOnePhone(t *testing.T) {
	r := rand.New(rand.NewPCG(31, 1))
	for _, kind := range []string{"toss", "rally"} {
		var z scores
		var wrong, right, silent int
		const n = 45
		for i := range n {
			s := randomSwinger(r)
			s.heading = 0
			p, view := phone(r, s)
			rate, factor := []float64{60, 120, 240}[i%3], []float64{1, 4, 8}[i%3]
			ball := madeRally(s, r)
			if kind == "toss" {
				ball = madeToss(&s, r)
			}
			frames := filmSlow(s, ball, &p, rate, factor, r)
			cam := Camera{Width: 1920, Height: 1080}
			loc, err := Locate(cam, frames, Upright(frames), view)
			if err != nil {
				t.Fatal(err)
			}
			c := loc.Clock(cam, frames, 0.02, true)
			if c.SD > 0 && !c.TempoOnly {
				p := factorPosterior(loc.Falls(frames), 0.02, Tempo{})
				z.add(p.mean-math.Log(factor), p.sd)
			}
			off := math.Abs(math.Log(c.Factor / factor))
			switch {
			case c.Verified && off < 0.05:
				right++
			case c.Verified:
				wrong++
				t.Logf("%s: true %g, said %+v; falls %+v", kind, factor, c, loc.Falls(frames))
			default:
				silent++
			}
		}
		t.Logf("%s: right %d, unverified %d, wrong %d; rms z %.2f of %d, wild %d", kind, right, silent, wrong, z.rms(), z.n, z.wild)
		if wrong > 1 || kind == "toss" && right < n*7/10 {
			t.Errorf("%s: %d wrong, %d right of %d", kind, wrong, right, n)
		}
	}
}

// TestStatedClock: what the client states stands while gravity allows it.
func TestStatedClock(t *testing.T) {
	fall := func(factor, rel float64) []Fall {
		g := standardGravity / (factor * factor)
		return []Fall{{G: g, SD: rel * g, Sure: true}, {G: g * 1.01, SD: rel * g}}
	}
	for _, c := range []struct {
		name         string
		falls        []Fall
		cam          Camera
		interval     float64
		factor       float64
		verified     bool
		contradicted bool
	}{
		{"nothing known", nil, Camera{}, 1.0 / 60, 1, false, false},
		{"stated only", nil, Camera{SlowMotion: 4}, 1.0 / 30, 4, false, false},
		{"rate only", nil, Camera{CaptureRate: 240}, 1.0 / 30, 8, false, false},
		{"true time seen", fall(1, 0.02), Camera{}, 1.0 / 60, 1, true, false},
		{"stated and seen", fall(8, 0.02), Camera{CaptureRate: 240}, 1.0 / 30, 8, true, false},
		{"odd factor stated and seen", fall(5, 0.02), Camera{SlowMotion: 5}, 1.0 / 30, 5, true, false},
		{"stated true time, seen slow", fall(4, 0.02), Camera{SlowMotion: 1}, 1.0 / 30, 4, true, true},
		{"rate contradicted", fall(1, 0.02), Camera{CaptureRate: 240}, 1.0 / 30, 1, true, true},
		{"too rough to contradict", fall(4, 0.9), Camera{SlowMotion: 1}, 1.0 / 30, 1, false, false},
		{"a rolling ball", []Fall{{G: 0.001, SD: 0.01, Sure: true}}, Camera{}, 1.0 / 60, 1, false, false},
		{"no numbers", []Fall{{G: math.NaN(), SD: math.NaN()}, {G: math.Inf(1), SD: math.Inf(1)}}, Camera{SlowMotion: math.NaN()}, math.NaN(), 1, false, false},
	} {
		s := CheckClock(c.falls, 0.02, Tempo{}, c.cam, c.interval)
		near(t, c.name+": factor", s.Factor, c.factor, 1e-9)
		if s.Verified != c.verified || s.Contradicted != c.contradicted {
			t.Errorf("%s: %+v", c.name, s)
		}
	}
}

// TestHopFalls: a hop of 10 cm under gravity on the clip's own clock, and none in a walk.
func TestHopFalls(t *testing.T) {
	r := rand.New(rand.NewPCG(41, 1))
	var z scores
	for range 50 {
		var ts, hip, l, rt []float64
		v := 1.2 + 0.6*r.Float64()
		flight := 2 * v / standardGravity
		for i := range 240 {
			s := float64(i) / 120
			up := 0.0
			if s > 1 && s < 1+flight {
				up = v*(s-1) - standardGravity*(s-1)*(s-1)/2
			}
			n := func() float64 { return 0.006 * r.NormFloat64() }
			ts, hip = append(ts, s), append(hip, 0.95+up+n())
			l, rt = append(l, 0.08+up+n()), append(rt, 0.08+up+n())
		}
		for _, f := range HopFalls(ts, hip, l, rt) {
			z.add(f.G-standardGravity, f.SD)
		}
	}
	t.Logf("%d hops, rms z %.2f", z.n, z.rms())
	if z.n < 40 || z.n > 55 || z.rms() > 1.2 {
		t.Error("hops are missed or mismeasured")
	}
}

func BenchmarkClockFromOnePhone(b *testing.B) {
	r := rand.New(rand.NewPCG(31, 1))
	s := randomSwinger(r)
	p, view := phone(r, s)
	frames := filmSlow(s, madeRally(s, r), &p, 60, 1, r)
	cam := Camera{Width: 1920, Height: 1080}
	b.ReportAllocs()
	for b.Loop() {
		loc, err := Locate(cam, frames, Upright(frames), view)
		if err != nil {
			b.Fatal(err)
		}
		loc.Clock(cam, frames, 0.02, true)
	}
}
