package checks

import (
	"math"
	"math/rand/v2"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/swing"
)

// built is a swing made by formula to hold published figures exactly: hand and
// racket sweep about an upright axis through the mid-hip with the angular speed
// ω·sin²(π/2·x), x from 0 at the start of the forward swing to 1 at contact,
// time 0. Right-handed; lengths m, angles degrees, times s.
type built struct {
	stroke body.Stroke

	ahead, side float64 // head centre from mid-hip at contact: along X, along h
	speed       float64 // horizontal speed of the head centre just before contact, m/s
	rise        float64 // elevation of its path over the last 40 ms
	forward     float64 // duration of the forward sweep
	share       float64 // the hand's share of the head's angular speed, in (0, 1)
	shoulders   trunkTurn
	hips        trunkTurn
	ballIn      float64 // m/s
	ballOut     float64
	handHeight  float64 // at contact

	// What follows from these, set by settled.
	angular float64 // of the hand about the hip just before contact, rad/s
	radius  float64 // hand from mid-hip, level
	bearing float64 // of the hand at contact, from h toward X, rad
	climb   float64 // rate of the hand's rise just before contact, m/s
}

// trunkTurn is a turn that rises to max before the forward swing, holds, and
// unwinds by span between the instants from and 0, fastest at peak.
type trunkTurn struct{ max, span, from, peak float64 }

const (
	toHead   = 0.75*0.685 - 0.10 // m, grip centre to head centre
	toTip    = 0.585             // m, grip centre to tip
	takeBack = 0.55              // s before contact: take-back complete
	ready    = 1.70              // s before contact: still waiting
	impactOn = 0.0045            // s that the ball is on the strings: 4 to 5 ms (Brody, Cross & Lindsey)
	loss     = 0.30              // share of speed lost in it
	follow   = 0.25              // s over which the rest dies away
)

// settled fills in what follows from the wanted figures.
func (b built) settled() built {
	grip := geom.Vec3{X: b.ahead, Z: b.side - toHead} // X along the court, Z along h
	b.radius, b.bearing = math.Hypot(grip.X, grip.Z), math.Atan2(grip.X, grip.Z)
	// Head velocity for a hand at 1 rad/s: tangent of the hand's circle and the racket's own.
	racket := 1/b.share - 1
	unit := math.Hypot(b.radius*math.Cos(b.bearing)+toHead*(1+racket)*1, b.radius*math.Sin(b.bearing))
	b.angular = b.speed / unit
	if b.handHeight == 0 {
		b.handHeight = 1.0
	}
	// The head's rise is linear in climb.
	path := func(climb float64) geom.Vec3 {
		b.climb = climb
		return b.head(-1e-9).Sub(b.head(-.040))
	}
	level, risen := path(0), path(1)
	b.climb = (level.Flat().Norm()*math.Tan(b.rise*math.Pi/180) - level.Y) / (risen.Y - level.Y)
	return b
}

// sweptBefore is ∫ sin² from contact back to t ≤ 0 over a unit of angular speed, s, ≤ 0.
func (b built) sweptBefore(t float64) float64 {
	whole := b.forward / 2
	if t <= -b.forward {
		return -whole
	}
	x := (t + b.forward) / b.forward
	return b.forward*(x/2-math.Sin(math.Pi*x)/(2*math.Pi)) - whole
}

// sweptAfter is the same after contact: the blow, then cos² to rest.
func (b built) sweptAfter(t float64) float64 {
	if t < impactOn {
		return t - loss*t*t/(2*impactOn)
	}
	x := min((t-impactOn)/follow, 1)
	return impactOn*(1-loss/2) + (1-loss)*follow*(x/2+math.Sin(math.Pi*x)/(2*math.Pi))
}

func (b built) swept(t float64) float64 {
	if t <= 0 {
		return b.sweptBefore(t)
	}
	return b.sweptAfter(t)
}

// eased goes smoothly from 0 at a to 1 at z.
func eased(t, a, z float64) float64 {
	x := min(max((t-a)/(z-a), 0), 1)
	return x * x * x * (10 - 15*x + 6*x*x)
}

// at is the turn in radians at t.
func (u trunkTurn) at(t float64) float64 {
	turn := u.max * eased(t, -ready+.1, -takeBack)
	// A bell of rate whose peak lies at peak: cos² with the longer side before it.
	half := u.peak - u.from
	x := min(max((t-u.from)/(2*half), 0), 1)
	done := x - math.Sin(2*math.Pi*x)/(2*math.Pi)
	end := min((0-u.from)/(2*half), 1)
	atContact := end - math.Sin(2*math.Pi*end)/(2*math.Pi)
	return (turn - u.span*done/atContact) * math.Pi / 180
}

// grip is the hand in axes (X, Y, h) about the mid-hip.
func (b built) grip(t float64) geom.Vec3 {
	a := b.bearing + b.angular*b.swept(t)
	waiting := 1 - eased(t, -ready, -takeBack)
	a += waiting * (math.Pi/2 - (b.bearing + b.angular*b.swept(-ready))) // in front, at X
	y := b.handHeight + b.climb*b.swept(t)
	y += .35 * (1 - eased(t, -takeBack+.05, -b.forward+.02)) * (1 - waiting) // hands high in the take-back
	y += waiting * (1.0 - b.handHeight - b.climb*b.swept(-ready))
	return geom.Vec3{X: b.radius * math.Sin(a), Y: y, Z: b.radius * math.Cos(a)}
}

// axis is the racket's axis in (X, Y, h): along h at contact.
func (b built) axis(t float64) geom.Vec3 {
	rate := b.angular / b.share
	a := rate * b.swept(t)
	waiting := 1 - eased(t, -ready, -takeBack)
	a += waiting * (math.Pi/2 - rate*b.swept(-ready))
	// The tip stands up in the take-back and dips under the hand before it comes through.
	up := 50*(1-eased(t, -takeBack+.05, -b.forward))*(1-.3*waiting) - 25*eased(t, -takeBack+.05, -b.forward)*(1-eased(t, -b.forward, -.01))
	e := up * math.Pi / 180
	return geom.Vec3{X: math.Sin(a) * math.Cos(e), Y: math.Sin(e), Z: math.Cos(a) * math.Cos(e)}
}

func (b built) head(t float64) geom.Vec3 { return b.grip(t).Add(b.axis(t).Scale(toHead)) }

// place is every point at t in court axes.
func (b built) place(t float64) (p [body.NumPoints]geom.Vec3) {
	court := func(v geom.Vec3) geom.Vec3 { return geom.Vec3{X: v.X + .4, Y: v.Y, Z: v.Z * b.stroke.Side()} }
	const hipHeight = .92
	line := func(turn, half, y float64) (left, right geom.Vec3) {
		c := court(geom.Vec3{X: math.Cos(turn), Z: math.Sin(turn)}).Sub(court(geom.Vec3{}))
		r := c.Cross(geom.Vec3{Y: 1}).Scale(half)
		mid := court(geom.Vec3{Y: y})
		return mid.Sub(r), mid.Add(r)
	}
	p[body.LeftHip], p[body.RightHip] = line(b.hips.at(t), .10, hipHeight)
	p[body.LeftShoulder], p[body.RightShoulder] = line(b.shoulders.at(t), .19, 1.42)
	p[body.MidHip] = court(geom.Vec3{Y: hipHeight})
	p[body.Neck], p[body.Chest] = court(geom.Vec3{Y: 1.47}), court(geom.Vec3{Y: 1.30})
	face := geom.Vec3{X: 1}
	ears := court(geom.Vec3{Y: 1.62})
	p[body.LeftEar], p[body.RightEar] = ears.Add(geom.Vec3{Z: -.075}), ears.Add(geom.Vec3{Z: .075})
	p[body.Nose], p[body.Head], p[body.HeadTop] = ears.Add(face.Scale(.1)), ears, ears.Add(geom.Vec3{Y: .13})
	for i, side := range []float64{-1, 1} {
		k := body.Point(i) // right is left + 1 throughout
		foot := geom.Vec3{X: .4 + .16*side*b.stroke.Side(), Z: .17 * side}
		p[body.LeftAnkle+k] = foot.Add(geom.Vec3{Y: .08})
		p[body.LeftToe+k], p[body.LeftHeel+k] = foot.Add(geom.Vec3{X: .15, Y: .03}), foot.Add(geom.Vec3{X: -.05, Y: .03})
		p[body.LeftKnee+k] = p[body.LeftHip+k].Lerp(p[body.LeftAnkle+k], .5).Add(geom.Vec3{X: .09})
	}
	b.arms(t, court, &p)
	b.ball(t, &p)
	return p
}

// arms places racket, hands and elbows.
func (b built) arms(t float64, court func(geom.Vec3) geom.Vec3, p *[body.NumPoints]geom.Vec3) {
	grip := court(b.grip(t))
	u := court(b.axis(t)).Sub(court(geom.Vec3{}))
	edge := u.Cross(geom.Vec3{Y: 1}).Unit().Cross(u).Unit() // face upright
	p[body.RacketButt], p[body.RacketTip] = grip.Sub(u.Scale(.10)), grip.Add(u.Scale(toTip))
	p[body.RacketThroat] = grip.Add(u.Scale(2*toHead - toTip))
	mid := grip.Add(u.Scale(toHead))
	p[body.RacketLeft], p[body.RacketRight] = mid.Add(edge.Scale(.125)), mid.Sub(edge.Scale(.125))
	p[body.RightWrist] = grip.Sub(u.Scale(.03))
	p[body.LeftWrist] = grip.Add(u.Scale(.06))
	if b.stroke == body.Forehand {
		p[body.LeftWrist] = p[body.LeftShoulder].Add(geom.Vec3{X: .35, Y: -.25})
	}
	for i := range body.Point(2) {
		s, w := p[body.LeftShoulder+i], p[body.LeftWrist+i]
		p[body.LeftElbow+i] = s.Lerp(w, .5).Add(geom.Vec3{Y: -.10})
		p[body.LeftHand+i] = w.Add(w.Sub(p[body.LeftElbow+i]).Unit().Scale(.08))
	}
}

// ball comes in against X, meets the strings at the head centre at contact, its
// own centre a ball's radius before them, turns evenly while it is on them, and
// leaves along X.
func (b built) ball(t float64, p *[body.NumPoints]geom.Vec3) {
	at := geom.Vec3{X: .4 + b.ahead + .033, Y: b.handHeight, Z: b.side * b.stroke.Side()}
	gone := -b.ballIn * t
	if t > 0 {
		on := min(t, impactOn)
		gone = -b.ballIn*on + (b.ballIn+b.ballOut)*on*on/(2*impactOn) + b.ballOut*max(t-impactOn, 0)
	}
	p[body.Ball] = at.Add(geom.Vec3{X: gone, Y: -9.80665 / 2 * t * t})
}

// filmed is the swing as the laboratories of the published studies record:
// world points at 240 Hz with 2 mm of noise.
func (b built) filmed(seed uint64) []body.Frame {
	rng := rand.New(rand.NewPCG(seed, 17))
	start := -2.4 + rng.Float64()/120
	var frames []body.Frame
	const rate, noise = 240, .002
	for k := range 4 * rate {
		t := start + float64(k)/rate
		f := body.Frame{Index: uint32(k), TimeUS: int64(math.Round((t + 3) * 1e6))}
		for i, at := range b.place(t) {
			if body.Point(i) == body.Ball && (t < -.5 || t > .6) {
				continue
			}
			n := geom.Vec3{X: rng.NormFloat64(), Y: rng.NormFloat64(), Z: rng.NormFloat64()}
			at = at.Add(n.Scale(noise))
			f.World[i] = body.Seen3{X: float32(at.X), Y: float32(at.Y), Z: float32(at.Z), Score: .9}
		}
		frames = append(frames, f)
	}
	return frames
}

// sheets collects what the machine finds.
type sheets []*measure.Sheet

func (*sheets) Event(swing.LiveEvent)    {}
func (*sheets) Reading(swing.Reading)    {}
func (s *sheets) Swing(m *measure.Sheet) { *s = append(*s, m) }
func (*sheets) Warning(measure.Warning)  {}
func (*sheets) Progress(swing.Progress)  {}

// run puts frames through the machine.
func run(frames []body.Frame) (sheets, error) {
	m, err := swing.New(swing.Setup{Axes: camera.AxesCourt, Player: body.Player{Hand: body.RightHanded, Stature: 1.78}})
	if err != nil {
		return nil, err
	}
	var found sheets
	for i := range frames {
		if err := m.Push(&frames[i], &found); err != nil {
			return nil, err
		}
	}
	m.Finish(&found)
	return found, nil
}
