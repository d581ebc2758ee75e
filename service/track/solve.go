package track

import (
	"errors"
	"math"
	"slices"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
)

// Window is the stretch of raw frames around one swing.
type Window struct {
	Frames       []body.Frame // in time order, every camera's; changed in place by the label repair
	Axes         camera.Axes
	Cameras      []camera.Camera
	Courts       []Court            // what SeeCourt says of the cameras; nil: found here
	Clocks       []*camera.ClockFit // by camera: how far its clock is off camera 0's; nil: found here
	Player       body.Player
	RacketLength float64 // metres; 0: not said
	Slow         float64 // clip seconds per real second; all other times here are real seconds
	Guess        float64 // instant of impact as first seen, seconds from the first frame
	GuessSD      float64 // seconds
}

// Posterior is what the data say of the motion: its mean and draws from it.
type Posterior struct {
	Contact   float64 // seconds from the first frame
	ContactSD float64

	scenes []*scene // at the mean instant of impact; then, where its sd matters, √3 sd before and after
	mean   *Course
}

// ErrTooLittle is returned when the window holds too little to follow a swing.
var ErrTooLittle = errors.New("too few sights of the body to follow the swing")

// scene is the state of one solve.
type scene struct {
	w       *Window
	room    *room
	t0      int64
	moved   []float64 // s, what is added to each frame's time
	stretch span      // what is followed of the window
	sights  [body.NumPoints][]sight
	// crossings hold places found from sights of other kinds: starts for the solve.
	crossings [body.NumPoints][]sight
	rig       *Rig
	onCourt   bool
	noise     [3][numGroups]hiss // by kind and group
	rough     [numGroups]rough
	jumps     [body.NumPoints]float64 // m/s: own jump of a point at impact; 0: its group's
	trails    [body.NumPoints]*path   // paths of the points' own sights, laid and weighed already
	length    float64                 // racket, metres
	throat    float64                 // butt → throat, metres

	g       *grid
	samples *sampling    // of the mean
	drawn   *sampling    // of draws
	shifted [2]*sampling // of draws read √3 sd of the instant of impact earlier and later
	paths   [body.NumPoints]*path
	racket  *rod
	rivals  []rival
	open    *openSigns // what is open of the racket's signs
	holds   holds
	flight  flight

	contactSD float64 // of the instant of impact, seconds

	handRough, turnRough rough // the racket's, as fitted

	upright float64 // sd of the upward direction about each horizontal axis, radians
	method  string
	scaleSD float64
	notes   []Note
}

// roughOf holds the motion of each group near impact: densities of white jerk
// that bring the evidence of recorded and made strokes to its highest, rounded;
// the level is fitted to each swing from there.
//
// The trunk's jump is the blow's remainder. A ball of 58 g turned by 50 m/s takes 3 N·s
// from the racket; the hand, a kilogram with the forearm, slows by some 0.6 m/s: 0.6 N·s
// into the arm. Passed on stiffly it would turn a trunk of 1.5 kg·m² at 0.6 m by
// 0.24 rad/s, the shoulder at 0.19 m by 0.045 m/s; the bent elbow and the muscles pass on
// a quarter or so within the contact. (Estimate, no source.) A larger jump lets the turn
// speed up on its way to impact and break there.
var roughOf = [numGroups]rough{
	groupHead:   {level: 5e3, width: 0.25, floor: 0.05, jump: 0.1},
	groupTrunk:  {level: 1e4, width: 0.25, floor: 0.2, jump: 0.01},
	groupElbow:  {level: 2e4, width: 0.2, floor: 0.03, jump: 0.3},
	groupWrist:  {level: 5e4, width: 0.15, floor: 0.02, jump: 0.7},
	groupLeg:    {level: 2e4, width: 0.25, floor: 1, jump: 0.1},
	groupFoot:   {level: 1e5, width: 0.25, floor: 1, jump: 0.1},
	groupRacket: {level: 5e6, width: 0.1, floor: 0.003, jump: 6},
	groupBall:   {level: 1e3, width: 1, floor: 1, jump: 40},
}

// handOf is the motion of the grip centre. The blow slows the hand by a tenth
// or so of 5–12 m/s.
var handOf = rough{level: 5e4, width: 0.12, floor: 0.02, jump: 0.6, rings: true}

// turnOf is the motion of the racket's axis on the sphere, radians.
var turnOf = rough{level: 2e6, width: 0.08, floor: 0.02, jump: 8, rings: true}

// Solve follows the motion in a window.
func Solve(w *Window) (*Posterior, error) {
	if w.Slow == 0 {
		w.Slow = 1
	}
	m := &scene{w: w, room: rooms.Get().(*room), t0: w.Frames[0].TimeUS, length: w.RacketLength, rough: roughOf, method: "world"}
	unswap(w.Frames)
	m.settleTimes()
	if err := m.observe(); err != nil {
		return nil, err
	}
	if len(m.sights[body.LeftShoulder]) < 8 && len(m.sights[body.RightShoulder]) < 8 {
		return nil, ErrTooLittle
	}
	m.measureNoise()
	clues := m.clues()
	guess, guessSD := w.Guess, w.GuessSD
	hands := m.bodyOnly() || m.oneEye() && m.ballAway()
	if hands {
		clues, guess, guessSD = m.byHands(clues)
	}
	ts, vs := contactScores(clues, guess, guessSD)
	at := settleContact(clues, ts, vs)
	m.measureRacket()
	m.contactSD = at.sd
	m.settleAt(at.mean, true)
	if m.oneEye() && !hands && len(peaks(ts, vs)) > 1 {
		m.askRacket(ts, vs)
		if again := settleContact(clues, ts, vs); math.Abs(again.mean-at.mean) > 0.004 {
			at, m.contactSD = again, again.sd
			m.settleAt(at.mean, true)
		}
	}
	at = m.touch(at)
	m.readAt(at)
	d := math.Sqrt(3) * at.sd
	p := &Posterior{Contact: at.mean, ContactSD: at.sd, scenes: []*scene{m}}
	if at.sd > nearContact {
		p.scenes = append(p.scenes, m.movedTo(at.mean-d), m.movedTo(at.mean+d))
	}
	p.mean = &m.room.mean
	m.course(p.mean, nil, m.samples)
	return p, nil
}

// nearContact is the sd of the instant of impact up to which the motion need not
// be solved anew for other instants: reading the side before impact a little
// earlier or later does. Seconds.
const nearContact = 0.0025

// leastAfter is how much of the motion after impact a window must hold for the solve to
// be broken there, seconds: with what the grid adds, a cubic's four nodes.
const leastAfter = 0.005

// settleAt solves the motion broken at the instant contact; fit says whether
// the levels of roughness are fitted anew.
func (m *scene) settleAt(contact float64, fit bool) {
	m.lay(contact)
	if fit {
		m.fitRoughness()
	}
	for p := range m.paths {
		if follows(body.Point(p)) {
			m.smooth(body.Point(p))
		}
	}
	m.followRacket(fit)
	m.flight = m.followBall(contact)
}

// lay lays the grid for a break at the instant contact.
func (m *scene) lay(contact float64) {
	end := m.end()
	at := clamp(contact, m.stretch.from+0.1, end-leastAfter) + dwellLead
	steps := spaceSteps
	if m.oneEye() {
		steps = solveSteps
	}
	m.g = newGrid(steps, m.stretch.from-0.02, at, end+0.02)
	m.samples, m.drawn = m.toldGrid(at).sampling(dwellLead), m.g.sampling(dwellLead)
}

// toldGrid is the grid of the mean course as it is told, broken at the instant at.
func (m *scene) toldGrid(at float64) *grid {
	return newGrid(tellSteps, m.stretch.from-0.02, at, m.end()+0.02)
}

// readAt says at which instants the courses of a scene that is settled are told: contact
// at at, and for some draws √3 sd earlier and later, 5 ms at most.
func (m *scene) readAt(at when) {
	lead, d := m.g.t[m.g.brk]-at.mean, math.Min(math.Sqrt(3)*at.sd, 0.005)
	m.shifted = [2]*sampling{m.g.sampling(lead + d), m.g.sampling(lead - d)}
	if lead != dwellLead {
		m.samples, m.drawn = m.toldGrid(m.g.t[m.g.brk]).sampling(lead), m.g.sampling(lead)
	}
}

// movedTo returns the scene solved for another instant of impact. Only arms and
// racket feel that; the rest of the body moves as it did.
func (m *scene) movedTo(contact float64) *scene {
	o := *m
	o.lay(contact)
	for p := range o.paths {
		if p := body.Point(p); follows(p) && (groupOf[p] == groupElbow || groupOf[p] == groupWrist) {
			o.sights[p] = slices.Clone(m.sights[p])
			o.smooth(p)
		}
	}
	o.carryRacket(m)
	o.flight = o.followBall(contact)
	return &o
}

// follows reports whether a point of the body is followed: those that events,
// measures and traces read. The neck stands in for shoulders.
func follows(p body.Point) bool { return p <= body.RightAnkle || p == body.Neck }

// looksAt reports whether sights of a point are collected: of what is followed, of the
// racket and of the ball.
func looksAt(p body.Point) bool { return follows(p) || p >= body.RacketTip }

func clamp(v, lo, hi float64) float64 { return math.Max(lo, math.Min(hi, v)) }

// time is when a frame was taken, real seconds from the first one's time.
func (m *scene) time(i int) float64 {
	return float64(m.w.Frames[i].TimeUS-m.t0)/1e6/m.w.Slow + m.moved[i]
}

// end is the last instant that is followed: that of the last frame, where the
// cameras do not set it.
func (m *scene) end() (t float64) {
	if m.stretch.to > 0 {
		return m.stretch.to
	}
	for i := range m.w.Frames {
		t = math.Max(t, m.time(i))
	}
	return t
}

// collect sorts the world sights by point.
func (m *scene) collect() {
	for i := range m.w.Frames {
		f := &m.w.Frames[i]
		t := m.time(i)
		for p := range f.World {
			if f.World[p].Score > 0 && looksAt(body.Point(p)) {
				m.sights[p] = append(m.roomFor(p), sight{kind: place, t: t, p: place3(f.World[p]), sd: 0.01, w: 1})
			}
		}
	}
}

// smooth solves a point if it was seen often enough.
func (m *scene) smooth(p body.Point) {
	m.paths[p] = nil
	if len(m.sights[p]) < 8 {
		return
	}
	r := m.roughness(p)
	q := m.trails[p]
	ok, weighed := true, q != nil && q.g == m.g // as the motion was fitted
	switch {
	case !weighed:
		start := m.startOf(p, r)
		if m.rig != nil && start == nil {
			return
		}
		q = m.room.path()
		if start == nil {
			ok = q.smooth(m.g, m.sights[p], r, 1, nil)
		} else {
			ok = q.smooth(m.g, m.sights[p], r, 1, start.mean)
			m.room.giveBack(start)
		}
	case groupOf[p] == groupTrunk: // which moves more freely now than it was weighed for
		ok, weighed = q.settle(r, 0), false
	}
	if ok && q.followBursts(r, !weighed) {
		m.paths[p] = q
	}
}

// startOf smooths the places found for a point into a start for its solve; nil
// where there are none.
func (m *scene) startOf(p body.Point, r rough) *path {
	if len(m.crossings[p]) < 6 {
		return nil
	}
	passes := 3
	if !m.oneEye() {
		passes = 1 // sights are linearised about it; what is left of an outlier does not matter to that
	}
	q := m.room.path()
	if !q.smooth(m.g, m.crossings[p], r, passes, nil) {
		return nil
	}
	return q
}

// LineOfSight returns the unit vector from the one camera that saw the motion to the player
// at contact, in the mean course's axes; zero when there were more, or world points alone.
func (p *Posterior) LineOfSight() geom.Vec3 {
	m, c := p.scenes[0], p.mean
	if !m.oneEye() || !c.Has[body.LeftShoulder] {
		return geom.Vec3{}
	}
	return c.Pos[body.LeftShoulder][c.Break].Sub(m.rig.Eyes[0].Center()).Unit()
}

// OnCourt reports whether the course is in court axes: the court was known.
func (p *Posterior) OnCourt() bool { return p.scenes[0].onCourt }

// Stature returns the standing height that the body's segments imply, metres; 0 when they cannot say.
func (p *Posterior) Stature() float64 { return 0 }

// Forward returns along which direction a camera looks, in the axes of the mean as it was
// solved; false where points in space were had.
func (p *Posterior) Forward(cam int) (geom.Vec3, bool) {
	rig := p.scenes[0].rig
	if rig != nil && len(rig.Eyes) == 1 {
		cam = 0
	}
	if rig == nil || cam >= len(rig.Eyes) {
		return geom.Vec3{}, false
	}
	return rig.Eyes[cam].Forward(), true
}

// Method names how the motion was had: "world", "two_view", "one_view" or "image_plane".
func (p *Posterior) Method() string { return p.scenes[0].method }

// ScaleSD is the relative sd of the scale of lengths; 0 when metres were given.
func (p *Posterior) ScaleSD() float64 { return p.scenes[0].scaleSD }

// Notes lists what the solve has to say of the input: stable codes with a sentence.
func (p *Posterior) Notes() []Note { return p.scenes[0].notes }

// Note is a stable code with a sentence.
type Note struct{ Code, Text string }

// Response returns the response times of the smoother for the trunk and for the
// feet, seconds: over about this time it spreads what happens at once. White
// jerk of density q under noise of sd σ every Δ seconds is followed up to
// (q/(σ²Δ))^(1/6) rad/s.
func (p *Posterior) Response() (trunk, feet float64) {
	m := p.scenes[0]
	return m.response(groupTrunk, body.LeftShoulder), m.response(groupFoot, body.LeftAnkle)
}

func (m *scene) response(g group, p body.Point) float64 {
	worst := 0.0
	q := m.rough[g].level * m.rough[g].floor
	take := func(own []stream) {
		for _, s := range own {
			sd := s.sights[0].sd / s.scale
			worst = math.Max(worst, math.Pow(sd*sd*medianStep(s.sights)/q, 1.0/6))
		}
	}
	if m.rig == nil {
		if len(m.sights[p]) > 0 {
			take(m.streams(p))
		}
		return worst
	}
	for _, k := range [...]kind{place, image, reach} {
		take(m.split(p, k))
	}
	return worst
}

// Mean returns the posterior mean, in court or level axes, not mirrored.
func (p *Posterior) Mean() *Course { return p.mean }

// Draw returns the k-th draw from the posterior: the same for the same k. Of
// six draws running, four are at the mean instant of impact and one each √3 sd
// before and after it: three-point Gauss–Hermite quadrature (Abramowitz &
// Stegun 25.4.46), which keeps mean, variance and kurtosis.
func (p *Posterior) Draw(k int) *Course {
	c := &Course{}
	p.DrawInto(c, k)
	return c
}

// DrawInto is Draw into a course whose memory may be written over: one that an
// earlier call of DrawInto, for this or another posterior, has filled.
func (p *Posterior) DrawInto(c *Course, k int) {
	m := p.scenes[0]
	samples := m.drawn
	switch {
	case k%6 >= 2:
	case len(p.scenes) > 1:
		m = p.scenes[1+k%6]
		samples = m.drawn
	default:
		samples = m.shifted[k%6]
	}
	rng := newDice(0x636f757274, k)
	m.course(c, rng, samples)
	if m.upright > 0 {
		c.Tilt(m.upright*rng.NormFloat64(), m.upright*rng.NormFloat64())
	}
	m.reseat(c, rng)
}

// course writes the motion at the samples into c: the mean, or a draw.
func (m *scene) course(c *Course, rng *dice, at *sampling) {
	c.clear()
	c.T, c.Break = at.t, at.brk
	for p, q := range m.paths {
		if q == nil {
			continue
		}
		nodes := q.mean
		if rng != nil {
			nodes = c.spare(0, len(q.mean))
			q.draw(rng, nodes)
		}
		c.Has[p] = true
		c.Pos[p], c.Vel[p] = at.of(q.g).read(nodes, c.Pos[p], c.Vel[p])
	}
	if m.racket != nil {
		m.writeRacket(c, rng, at)
	}
	m.flight.told(c, rng)
}
