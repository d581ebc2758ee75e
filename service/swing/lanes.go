package swing

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/signal"
)

// A phone's clip may be in slow motion and nobody says so. Until that is settled,
// the machine runs one lane for each factor that is usual: itself for true time,
// and a rival, a machine of its own on a thinned stream, for each slow one. What
// passes for a swing in a lane has its clock checked by what falls in its window
// (camera.CheckClock). The first answer that is sure decides for the stream.
//
//	verdict on a window                         what follows
//	gravity settles the factor                  that lane wins, unless no hand is so fast
//	one arc alone does, for a slow factor       held; a second window that says the same: it wins
//	most swings in true time at a true hand
//	speed, gravity not against them             true time wins
//	gravity speaks, unsure, for this lane       held; two such windows in one lane: it wins
//	nothing falls, in true time, a hand that
//	two measures call quick, or a hard hit ball true time wins
//	nothing falls, else                         held; counts at the end of the frames only
//
// At the end, or before the lane that would win then loses a window that it can hold no longer,
// the lane that most held windows speak for wins, in doubt; where none speaks for
// its own, that of the middle one; true time without any window.
const (
	// lanesRate is the rate, frames a real second, down to which a slow clip's stream
	// is thinned: that of a phone in true time, so that memory and work of a swing are
	// the same. On made clips 120 measure contact 0.1 ms and speeds half a percent
	// better, at twice the cost.
	lanesRate = 60.0

	// laneReach is how far, as a ratio, a factor may lie from a lane's own.
	laneReach = 1.42

	// trueHand is the hand speed, m/s on the clip's clock, at which a swing is
	// taken for one in true time unless gravity denies it: in a clip slowed four
	// times it would be the hand of a hard serve, 12 m/s. Common practice, no source.
	trueHand = 3.0

	// fastestHand bounds what gravity is believed of: a fall that would have the hand
	// faster, m/s of real time, was none. Hands reach 12 m/s in a hard serve, 15 at most
	// (recorded serves 10–11). Common practice, no source.
	fastestHand = 15.0

	// slowHand is the same where nothing falls: of made strokes slowed four times one hand
	// in forty is as fast, of such in true time nine in ten are.
	slowHand = 2.7

	// slowestHand is the same where what falls speaks, unsure, for true time, or where a ball
	// is hit as hard as trueBall: beginners' volleys go no slower.
	slowestHand = 2.0

	// trueBall is by how much a ball that is hit changes its velocity, m/s on the clip's
	// clock, where the clip is hardly slowed: slowed four times it would be by 60 m/s, as in
	// a hard serve, or as a drive's that comes at 20 and leaves at 40. Such are hit, so that it
	// counts only against no hands that are too slow (see outvoted). Common practice, no source.
	trueBall = 15.0

	// tempoSD is the relative error of a factor that only the tempo of the body tells.
	tempoSD = 0.5

	// doubtSD is the least relative error of a factor in doubt: of made clips whose
	// clock stayed in doubt a quarter lay a lane off (3 of 10), and the falls of one clip share
	// an error of its metres that they cannot tell: ln 2·√¼.
	doubtSD = 0.35

	// maxHeld bounds the windows that a lane holds, and holdFor for how long, seconds
	// of the clip: a client keeps their frames, for a stream that resumes this one
	// must hear of them too. With what the slowest lane reaches back, and a burst that a
	// resumed stream must not start inside, that is the contract's five minutes. A ball
	// every four seconds, slowed four times, makes eleven windows in that time; they share
	// rows with the ring and with each other.
	maxHeld, holdFor = 12, 180

	// rateFrames is from how many frames the rate is measured that a stated
	// capture rate is compared with.
	rateFrames = 16
)

// rivalFactors are the slow lanes'. A factor of ten runs in the lane of eight.
var rivalFactors = [...]float64{2, 4, 8, 16}

// heldWindow is a window whose clock is not sure.
type heldWindow struct {
	c        Candidate
	window   []uint32 // the rows of its frames, held
	keep     []uint32
	factor   float64 // what its own check found
	hand     float64 // m/s on the clip's clock
	informed bool    // by gravity
	settles  bool    // as sure as gravity makes it in one window
	denies   bool    // true time, by gravity
}

// lane is one hypothesis of the factor.
type lane struct {
	factor float64
	m      *machine
	held   []heldWindow
	past   []stretch // windows and bursts: a resumed stream must not start inside one
	lost   int       // windows that were let go of
}

// lanes is the state of a stream whose factor is not settled.
type lanes struct {
	all     []lane // the first is true time
	decided *lane
	clock   camera.SlowMotion // what decided
	doubt   bool              // decided by what is no evidence
	said    ledger
}

// unsettledClock reports whether nobody says the factor of a stream of one phone.
// Several cameras and world points in metres of a court or a room come from rigs
// that know their clock: they are taken as said, or as true time.
func (s *Setup) unsettledClock() bool {
	if s.Axes == camera.AxesCourt || s.Axes == camera.AxesLevel || len(s.Cameras) > 1 {
		return false
	}
	return len(s.Cameras) == 0 || !(s.Cameras[0].SlowMotion > 0)
}

// newLanes gives the machine its rivals.
func newLanes(m *Machine) *lanes {
	l := &lanes{all: make([]lane, 0, 1+len(rivalFactors))}
	l.all = append(l.all, lane{factor: 1, m: &m.machine})
	for _, f := range rivalFactors {
		r := &machine{setup: m.setup, slow: f, mute: true, rival: true}
		r.begin()
		r.cams[0].ring.rows = m.cams[0].ring.rows
		r.det.view.fit = m.det.view.fit
		r.thin(f)
		l.all = append(l.all, lane{factor: f, m: r})
	}
	for i := range l.all {
		l.all[i].m.lanes = l
	}
	l.said.l = l
	return l
}

// thin has the machine keep about lanesRate frames a real second in the lane of a
// factor. The cells of the lanes nest: what a slower one keeps the quicker ones do.
func (m *machine) thin(lane float64) {
	m.cams[0].cell = int64(0.9e6 / lanesRate * lane)
}

// nobody is the sink of the rivals.
type nobody struct{}

func (nobody) Event(LiveEvent)         {}
func (nobody) Reading(Reading)         {}
func (nobody) Swing(*measure.Sheet)    {}
func (nobody) Warning(measure.Warning) {}
func (nobody) Progress(Progress)       {}

// push gives a frame to the rivals; the machine itself has it already.
func (l *lanes) push(row uint32) {
	for i := 1; i < len(l.all); i++ {
		l.all[i].m.take(0, row, nobody{})
	}
	l.tire(l.rows().times[row])
	l.compareRates()
}

// compareRates settles the factor by a capture rate that was stated, once the
// clip's rate is measured. Gravity may contradict it later.
func (l *lanes) compareRates() {
	m := l.all[0].m
	if l.decided != nil || len(m.setup.Cameras) == 0 || !(m.setup.Cameras[0].CaptureRate > 0) || m.cams[0].received != rateFrames {
		return
	}
	interval := m.cams[0].ring.interval()
	l.clock = camera.CheckClock(nil, 0, camera.Tempo{}, m.setup.Cameras[0], interval)
	l.clock.Verified = false
	l.decided = l.of(l.clock.Stated)
}

// of returns the lane of a factor.
func (l *lanes) of(factor float64) *lane {
	best := &l.all[0]
	for i := range l.all {
		if math.Abs(math.Log(l.all[i].factor/factor)) < math.Abs(math.Log(best.factor/factor)) {
			best = &l.all[i]
		}
	}
	return best
}

// near reports whether a factor is within reach of the lane's.
func (l *lane) near(factor float64) bool {
	return math.Abs(math.Log(factor/l.factor)) < math.Log(laneReach)
}

// laneOf returns the lane that a machine runs.
func (l *lanes) laneOf(m *machine) *lane {
	for i := range l.all {
		if l.all[i].m == m {
			return &l.all[i]
		}
	}
	return nil
}

// hear takes in a window that passes for a swing in the lane of m.
func (l *lanes) hear(m *machine, c Candidate, window []body.Frame, keep []uint32) {
	here := l.laneOf(m)
	k := checkClock(window, c.Camera, m.setup)
	l.all[0].m.trace.checked(&c, here.factor, k)
	h := heldWindow{c: c, window: m.holdWindow(&c), keep: keep, factor: k.Factor, hand: steadyHand(&c, k, here.factor), informed: k.Arcs > 0 && !k.TempoOnly}
	possible := c.hand*k.Factor/here.factor < fastestHand
	h.settles, h.denies = k.Verified && possible, denies(k, possible) && !here.near(k.Factor)
	here.held = append(here.held, h)
	switch {
	case l.decided != nil:
	case h.settles && (!k.Sole || k.Factor < laneReach || here.twice(k.Factor)):
		l.decided, l.clock = l.of(k.Factor), k
	case here.factor == 1 && (here.quick() || h.isTrue(here.near(k.Factor), k.Verified) && !here.outvoted(&h)):
		l.decided, l.clock = here, camera.SlowMotion{Factor: 1}
	case here.factor != 1 && here.agreed(true) >= 2:
		l.decided, l.clock, l.doubt = here, k, true
	}
	if len(here.held) > maxHeld && !l.mustDecide(here) {
		here.lose(l.rows())
	}
}

// steadyHand returns a window's hand speed, m/s on the clip's clock: the smaller of what
// the detector found and of what the whole window shows. In a clip that is slowed either
// may be noise: it is as many times too large there.
func steadyHand(c *Candidate, k camera.SlowMotion, lane float64) float64 {
	if k.Hand > 0 {
		return math.Min(c.hand/lane, k.Hand)
	}
	return c.hand / lane
}

// isTrue reports whether a window of the lane of true time is taken for true time by itself: near says that what it shows lies in this lane, sure that gravity
// settled it.
func (h *heldWindow) isTrue(near, sure bool) bool {
	if !h.informed {
		return h.hand >= slowHand || h.hand >= slowestHand && h.c.ball >= trueBall
	}
	return near && (sure || h.hand >= slowestHand)
}

// outvoted reports whether a window is taken for true time by how hard its ball was hit alone,
// and as many windows of the lane have a hand too slow for that as have such a ball: a hard
// drive slowed four times looks as a volley does, but not the strokes about it.
func (l *lane) outvoted(h *heldWindow) bool {
	if h.informed || h.hand >= slowHand {
		return false
	}
	n := 0
	for i := range l.held {
		switch o := &l.held[i]; {
		case o.hand < slowestHand && !(o.informed && l.near(o.factor)):
			n++
		case !o.informed && o.c.ball >= trueBall:
			n--
		}
	}
	return n >= 0
}

// denies reports whether gravity speaks against true time in a window in which the hand
// seems quick enough for it: for a factor at which no hand would be too fast, or for one
// that more than a single arc shows. The hand's speed may be noise then, which in a slowed
// clip is as many times too large.
func denies(k camera.SlowMotion, possible bool) bool {
	return k.Arcs > 0 && !k.TempoOnly && (possible || k.Verified && !k.Sole)
}

// quick reports whether most windows with a hand of true speed speak for true time.
func (l *lane) quick() bool {
	n := 0
	for i := range l.held {
		switch h := &l.held[i]; {
		case h.denies:
			n--
		case h.hand >= trueHand:
			n++
		}
	}
	return n > 0
}

// twice reports whether two held windows settle the same factor: they share no fall.
func (l *lane) twice(factor float64) bool {
	n := 0
	for i := range l.held {
		if h := &l.held[i]; h.settles && math.Abs(math.Log(h.factor/factor)) < sameFactor {
			n++
		}
	}
	return n > 1
}

// sameFactor is the ratio, as a logarithm, within which two windows' factors are one:
// half of what lies between 8 and 10.
const sameFactor = 0.11

// agreed counts the held windows that speak for the lane, by gravity alone or not.
func (l *lane) agreed(informed bool) int {
	n := 0
	for i := range l.held {
		if l.near(l.held[i].factor) && (l.held[i].informed || !informed) {
			n++
		}
	}
	return n
}

// end decides for the lane that most windows speak for.
func (l *lanes) end() {
	if l.decided != nil {
		return
	}
	l.decided, l.clock = &l.all[0], camera.SlowMotion{Factor: 1}
	most := 0
	for i := range l.all {
		// Gravity counts double, an arc that would settle the factor once more.
		sole, factor := l.settling(&l.all[i])
		if n := l.all[i].agreed(true) + l.all[i].agreed(false) + sole; n > most {
			most, l.decided = n, &l.all[i]
			l.clock = camera.SlowMotion{Factor: factor, SD: tempoSD * factor}
			l.doubt = true
		}
	}
	if most == 0 {
		l.split()
	}
}

// split decides where no window speaks for its own lane: for the lane that the middle one of
// them all is nearest to, among those that hold any. Only true time, by true time's own
// windows, is then not in doubt.
func (l *lanes) split() {
	var all []float64
	for i := range l.all {
		for k := range l.all[i].held {
			all = append(all, math.Log(l.all[i].held[k].factor))
		}
	}
	if len(all) == 0 {
		return
	}
	middle, best := signal.Median(all), math.Inf(1)
	for i := range l.all {
		if d := math.Abs(math.Log(l.all[i].factor) - middle); len(l.all[i].held) > 0 && d < best {
			best, l.decided = d, &l.all[i]
		}
	}
	factor := l.decided.factor
	if l.doubt = !l.all[0].near(math.Exp(middle)) || factor != 1; l.doubt {
		l.clock = camera.SlowMotion{Factor: factor, SD: tempoSD * factor}
	}
}

// settling counts the windows of all lanes whose own gravity settles a factor of a lane,
// and returns that of the last of them; the lane's own where there is none.
func (l *lanes) settling(of *lane) (n int, factor float64) {
	factor = of.factor
	for i := range l.all {
		for k := range l.all[i].held {
			if h := &l.all[i].held[k]; h.settles && l.of(h.factor) == of {
				n, factor = n+1, h.factor
			}
		}
	}
	return n, factor
}

// retime sets the factor of the stream.
func (m *machine) retime(factor float64) {
	m.slow = factor
	m.det.view.slow = factor
	m.live.view.slow = factor
}

// timeWindow tells a window's factor and how sure it is. What a client states is
// checked in each window by itself, so that a resumed stream says the same: that
// is left to the job. A factor in doubt is looked for again until gravity settles
// it: the frames to come are read by it.
func (m *machine) timeWindow(j *job) {
	c := &j.guess
	c.Slow, c.SlowSD = m.slow, m.clock.SD
	stated := m.clock.Stated > 0 || len(m.setup.Cameras) == 1 && m.setup.Cameras[0].SlowMotion > 0
	if !m.doubt && !stated || m.setup.Axes == camera.AxesCourt || m.setup.Axes == camera.AxesLevel {
		return
	}
	if stated {
		j.stated = true
		return
	}
	// An arc alone put the clock in doubt: it may be that of this window.
	if k := checkClock(j.window, c.Camera, m.setup); k.Verified && (!k.Sole || k.Factor < laneReach) {
		m.doubt, m.clock = false, k
		m.retime(k.Factor)
		c.Slow, c.SlowSD = k.Factor, k.SD
	} else {
		c.DoubtSlow = true
		c.SlowSD = math.Max(c.SlowSD, doubtSD*c.Slow)
	}
}

// timeStated checks the factor that the client stated.
func (j *job) timeStated() {
	c, s := &j.guess, j.setup
	s.Cameras = []camera.Camera{j.setup.Cameras[0]}
	s.Cameras[0].SlowMotion, s.Cameras[0].CaptureRate = c.Slow, 0
	k := checkClock(j.window, c.Camera, s)
	c.SlowSD, c.DenySlow = k.SD, k.Contradicted
	if k.Contradicted {
		// What was said lies within two sd still.
		c.SlowSD = math.Max(k.SD, math.Abs(k.Factor-c.Slow)/2)
		c.Slow = k.Factor
	}
}

// interval returns the median time between the kept frames, seconds.
func (r *ring) interval() float64 {
	frames := make([]body.Frame, 0, r.next-r.first)
	for k := r.first; k < r.next; k++ {
		frames = append(frames, body.Frame{TimeUS: r.time(k)})
	}
	dt, _ := camera.FrameInterval(frames)
	return dt
}

// worldScale is the relative error of the metres that the falls of one window
// share, once they are scaled by stature: as camera.Locate takes it.
const worldScale = 0.03

// checkClock checks the clock of a window by what one camera saw fall in it.
func checkClock(window []body.Frame, from uint8, s Setup) camera.SlowMotion {
	var cam camera.Camera
	if int(from) < len(s.Cameras) {
		cam = s.Cameras[from]
	}
	var frames []body.Frame
	for i := range window {
		if window[i].Camera == from {
			frames = append(frames, window[i])
		}
	}
	loc, err := camera.Locate(cam, frames, camera.Upright(frames), cam.View)
	if err != nil {
		loc, err = camera.LocateByStature(cam, frames, s.Player.Stature, cam.View)
	}
	if err != nil {
		interval, _ := camera.FrameInterval(frames)
		return camera.CheckClock(nil, 0, camera.Tempo{}, cam, interval)
	}
	return loc.Clock(cam, frames, worldScale, true)
}
