package swing

import (
	"math"
	"math/rand/v2"
	"slices"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/signal"
	"example.com/courtkin/service/track"
)

// The size of the ensemble that carries the errors. 32 draws give a standard deviation to 13 %
// (1/√(2·31)), 24 to 15 %, which the intervals allow for. Where the motion is seen in space all
// draws are near one course, and 24 do; one camera's go to rival courses, too, which few show.
const (
	members        = 32
	membersInSpace = 24
)

// members is how many draws are read.
func (s *settling) members() int {
	if m := s.post.Method(); m == measure.MethodWorld || m == measure.MethodTwoView {
		return membersInSpace
	}
	return members
}

// usualStature stands in where the setup gives none and the body cannot say,
// metres: only the grip of a player without racket points and the shares of
// stature hang on it. Common practice, no source.
const usualStature = 1.72

// settle measures one swing from the raw frames of its window: the motion is
// followed whole, the stroke named, then events and measures are read from the
// mean course and from each member of the ensemble.
func settle(window []body.Frame, guess Candidate, setup Setup) (*measure.Sheet, error) {
	w := trackWindow(window, guess, setup)
	post, err := track.Solve(w)
	if err != nil {
		return nil, err
	}
	defer post.Release()
	s := settling{setup: setup, guess: guess, post: post}
	s.trunk, s.feet = post.Response()
	s.flat = oneView(post.Method())
	s.name(besides(window, w, guess.Camera, post))
	s.orient(post.Mean())
	return s.sheet(window, w), nil
}

// trackWindow is the stretch as the tracking stage takes it.
func trackWindow(window []body.Frame, guess Candidate, setup Setup) *track.Window {
	slow := guess.Slow
	if !(slow > 0) {
		slow = 1
	}
	frames, cameras, courts := alone(window, setup.Cameras, setup.courts)
	return &track.Window{
		Frames: frames, Axes: setup.Axes, Cameras: cameras, Courts: courts, Clocks: guess.clocks(), Player: setup.Player,
		RacketLength: setup.RacketLength, Slow: slow,
		Guess:   float64(guess.ContactUS-window[0].TimeUS) * 1e-6 / slow,
		GuessSD: contactGuessSD,
	}
}

// alone leaves out the cameras that show nothing of a window: what one camera saw is
// followed as a stream of its own, by its own marks and lens.
func alone(window []body.Frame, cameras []camera.Camera, courts []track.Court) ([]body.Frame, []camera.Camera, []track.Court) {
	one := window[0].Camera
	for i := range window {
		if window[i].Camera != one {
			return window, cameras, courts
		}
	}
	if len(cameras) < 2 || int(one) >= len(cameras) {
		return window, cameras, courts
	}
	frames := slices.Clone(window)
	for i := range frames {
		frames[i].Camera = 0
	}
	if courts != nil {
		courts = courts[one : one+1]
	}
	return frames, cameras[one : one+1], courts
}

// contactGuessSD is the sd of the detector's guess of contact, real seconds: it
// lies within 0.15 s, in serves within 0.2 s.
const contactGuessSD = 0.09

// settling is the state of one settled solve.
type settling struct {
	setup Setup
	guess Candidate
	post  *track.Posterior

	stroke     body.Stroke
	hand       body.Hand
	confidence float64
	stature    float64
	ground     float64 // height to raise the course by
	assumed    bool    // X was assumed, not known: each course brings its own
	waits      bool    // X is where the chest faces while the player waits
	waitEnd    float64 // seconds, the end of the wait
	swivel     float64 // radians, sd of an assumed X beyond what the draws of a course say
	view       camera.Viewpoint
	reader     measure.Reader
	trunk      float64 // response times of the smoother, seconds
	feet       float64
	flat       bool // one camera saw the motion
}

// besides returns what the window says beside the course.
func besides(window []body.Frame, w *track.Window, camera uint8, p *track.Posterior) beside {
	return beside{ballBefore(window, w, camera, p.Contact), ballSpeed(window, w, camera, p.Contact), unbounced(window, w, camera, p.Contact), p.LineOfSight()}
}

// name decides stroke, hand and stature on the mean course.
func (s *settling) name(b beside) {
	s.stroke, s.hand, s.confidence = classify(s.post.Mean(), s.setup, b)
	s.stature = s.setup.Player.Stature
	if s.stature == 0 {
		s.stature = s.post.Stature()
	}
	if s.stature == 0 {
		s.stature = usualStature
	}
}

func (s *settling) context() measure.Context {
	return measure.Context{
		Context: phase.Context{Stroke: s.stroke},
		Stature: s.setup.Player.Stature,
	}
}

// orient finds the ground and the direction of play on the mean course, and
// brings the course into court axes, mirrored to right-handed.
func (s *settling) orient(c *track.Course) {
	if !s.post.OnCourt() {
		s.ground = ankleHeight*s.stature - c.StandingAnkle(s.stature)
		if math.IsNaN(s.ground) {
			s.ground = 0
		}
		s.assumed = true
		s.waits, s.waitEnd = s.wait(c)
		s.swivel = s.doubtOfX(c)
	}
	s.view = s.viewpoint(c)
	s.bring(c, nil)
}

// viewpoint is from where the guess's camera sees the player: as the client says, else
// by where it looks against the direction of play.
func (s *settling) viewpoint(c *track.Course) camera.Viewpoint {
	cam := int(s.guess.Camera)
	if cam < len(s.setup.Cameras) && s.setup.Cameras[cam].View != camera.ViewUnknown {
		return s.setup.Cameras[cam].View
	}
	forward, ok := s.post.Forward(cam)
	if !ok {
		return camera.ViewUnknown
	}
	net := geom.Vec3{X: 1}
	if s.assumed {
		net = s.facing(c)
	}
	return camera.ViewOf(forward, net)
}

// ankleHeight is the height of the ankle's joint centre above the ground as a
// share of stature (Drillis & Contini 1966, via Winter; from memory).
const ankleHeight = 0.039

// bring puts a course into the axes that events and measures read: on the
// ground, X in the direction of play, the player right-handed. Of a draw, by brings what no
// draw of the course says; nil for the mean course.
func (s *settling) bring(c *track.Course, by *unsaid) {
	if by == nil {
		by = &unsaid{}
	}
	if s.ground != 0 {
		c.Raise(s.ground)
	}
	if s.assumed {
		x, sin, cos := s.facing(c), math.Sin(by.swivel), math.Cos(by.swivel)
		c.TurnTo(geom.Vec3{X: cos*x.X - sin*x.Z, Z: sin*x.X + cos*x.Z})
	}
	if s.hand == body.LeftHanded {
		c.Mirror()
	}
	if !c.HasRacket {
		c.GripFromHands(s.stroke == body.TwoHandedBackhand, s.stature, by.fist)
	}
}

// facing returns the direction of play where the court is not known: where the
// chest faces while the player waits; for serves and overheads, and without a
// wait, where the racket head goes just before contact.
func (s *settling) facing(c *track.Course) geom.Vec3 {
	if s.waits {
		return chestFacing(c, s.waitEnd)
	}
	return s.strikeDirection(c)
}

// wait finds READY on the mean course: ok without a serve's rules, when the
// turn starts a tenth of a second or more into the window.
func (s *settling) wait(c *track.Course) (ok bool, end float64) {
	if s.stroke.OverheadMotion() || !c.Has[body.LeftShoulder] || !c.Has[body.RightShoulder] {
		return false, 0
	}
	end = s.turnStart(c)
	return end-c.T[0] > leastWait && chestFacing(c, end) != (geom.Vec3{}), end
}

// leastWait is the least time before the turn that counts as a wait, seconds.
const leastWait = 0.1

// chestFacing averages the chest's horizontal direction up to end.
func chestFacing(c *track.Course, end float64) geom.Vec3 {
	var sum geom.Vec3
	last := c.T[0]
	for i, t := range c.T {
		if t > end {
			break
		}
		across := c.Pos[body.RightShoulder][i].Sub(c.Pos[body.LeftShoulder][i]).Flat().Unit()
		// The chest's horizontal normal: up × (left → right).
		sum = sum.Add(geom.Vec3{Y: 1}.Cross(across).Scale(t - last))
		last = t
	}
	return sum
}

// turnStart locates TURN_START on a copy of the course turned to the strike's
// direction: a turn rate needs no direction of play.
func (s *settling) turnStart(c *track.Course) float64 {
	q := c.Clone()
	q.TurnTo(s.strikeDirection(c))
	if s.hand == body.LeftHanded {
		q.Mirror()
	}
	if !q.HasRacket {
		q.GripFromHands(s.stroke == body.TwoHandedBackhand, s.stature, track.Fist{})
	}
	return phase.Locate(q, s.context().Context)[phase.TurnStart]
}

// Over lastHead before contact, seconds, the racket head's direction is taken (measures.md), a
// wrist's in its stead, too; over the head over lastHand, for there a wrist is slower than
// the head by far, while it goes straighter on than in a ground stroke.
const lastHead, lastHand = 0.040, 0.080

// strikeDirection is the horizontal direction of the racket head, else of the
// faster wrist, just before contact.
func (s *settling) strikeDirection(c *track.Course) geom.Vec3 {
	v, over := c.Center, lastHead
	if len(v) == 0 {
		v = fasterWrist(c)
		if s.stroke.OverheadMotion() {
			over = lastHand
		}
	}
	if len(v) == 0 {
		return geom.Vec3{X: 1}
	}
	i := c.Break
	for i > 0 && c.T[c.Break]-c.T[i] < over {
		i--
	}
	return v[c.Break].Sub(v[i]).Flat().Unit()
}

func fasterWrist(c *track.Course) []geom.Vec3 {
	l, r := body.LeftWrist, body.RightWrist
	if !c.Has[r] || c.Has[l] && c.Vel[l][c.Break].Norm() > c.Vel[r][c.Break].Norm() {
		return c.Pos[l]
	}
	return c.Pos[r]
}

// sheet reads the mean course and the ensemble.
func (s *settling) sheet(window []body.Frame, w *track.Window) *measure.Sheet {
	mean, ctx := s.post.Mean(), s.context()
	c := s.post.Drawn(0)
	s.bring(c, s.unsaid(0))
	ctx.FootNoise = heightNoise(mean, c, body.LeftAnkle, body.RightAnkle)
	ctx.HeightNoise = heightNoise(mean, c, body.RacketTip)
	times := s.unspread(s.reader.Read(mean, ctx), nil)
	s.reader.Adjust(times)
	values := s.reader.Values(nil)
	have := s.reader.Have()
	var tracer *measure.Tracer
	if s.setup.Trace {
		tracer = measure.NewTracer(mean, ctx)
	}
	n := s.members()
	draws := make([][]float64, 0, n)
	at := make([]phase.Times, 0, n)
	var blow impactCheck
	for k := range n {
		if k > 0 {
			c = s.post.Drawn(k)
			s.bring(c, s.unsaid(k))
		}
		read := ctx
		read.RateDoubt = ctx.HeightNoise / restTime * spreadOver(k, n)
		t := s.unspread(s.reader.Read(c, read), rand.New(rand.NewPCG(0x6576656e7473, uint64(k))))
		t = s.endsUnsure(t, times, k)
		s.reader.Adjust(t)
		at = append(at, t)
		blow.add(&c.Ball)
		draws = append(draws, s.reader.Values(make([]float64, 0, len(values))))
		if tracer != nil {
			tracer.Add(c)
		}
	}
	capture := s.capture(window)
	sheet := &measure.Sheet{
		ID: s.guess.ID, Stroke: s.stroke, StrokeConfidence: s.confidence, Hand: s.hand,
		StartUS:    window[0].TimeUS,
		FirstFrame: window[0].Index, LastFrame: window[len(window)-1].Index,
		Capture:  capture,
		Warnings: warnings(s.post.Notes()),
		Figures: measure.Gather(values, draws, measure.Conditions{
			Stroke: s.stroke, Have: have, Times: times, TargetAssumed: s.assumed,
			ClockUnverified: s.guess.DoubtSlow, ClockSD: s.clockDoubt(),
			OneView: oneView(capture.Method),
			View:    capture.View, Policy: measure.CorrectedRaised, Method: capture.Method,
			LeastHop: ctx.LeastHop(),
		}),
		Events: measure.GatherEvents(times, at, measure.CorrectedRaised, capture.Method),
	}
	if s.assumed {
		sheet.Warnings = append(sheet.Warnings, measure.Warning{Code: "target_direction_assumed",
			Text: "The court is not known: the direction of play was taken from the player."})
	}
	if capture.Method == measure.MethodWorld || capture.Method == measure.MethodTwoView {
		sheet.Warnings = append(sheet.Warnings, blow.warnings(&mean.Ball)...)
	}
	if s.guess.DoubtSlow {
		sheet.Warnings = append(sheet.Warnings, measure.Warning{Code: camera.WarnClockUnverified,
			Text: "Nothing that fell settles how much the clip is slowed: its speeds are rough."})
	}
	if s.guess.DenySlow {
		sheet.Warnings = append(sheet.Warnings, measure.Warning{Code: camera.WarnClockContradicts,
			Text: "What falls in the clip contradicts the stated rate: gravity's factor was used."})
	}
	sheet.Phases = phase.Phases(phase.TimesOf(sheet.Events), s.stroke, 0, float64(window[len(window)-1].TimeUS-window[0].TimeUS)*1e-6/w.Slow)
	if tracer != nil {
		sheet.Trace = tracer.Trace()
	}
	toClipClock(sheet, w.Slow)
	return sheet
}

// restTime is how long a rest or a turning back lasts that smoothing takes for none, seconds.
// The members of the ensemble share the mean course's smoothing, and with it the choice
// between two instants of an event; a draw's speeds are therefore read off by the noise of a
// height over this time. Own choice: with half of it the intervals of one view's
// FORWARD_START held every truth, with none DROP_START's held 87 to 93 of 100.
const restTime = 0.1

// spreadOver gives draw k of n its place in a normal distribution, in sd: the draws' places
// are even in probability, in an order that keeps neighbours apart. n must not be a multiple
// of 13.
func spreadOver(k, n int) float64 {
	return math.Sqrt2 * math.Erfinv(2*(float64(k*13%n)+0.5)/float64(n)-1)
}

// toClipClock takes instants from real time to the clip's clock.
func toClipClock(s *measure.Sheet, slow float64) {
	if slow == 1 {
		return
	}
	for i := range s.Events {
		s.Events[i].Time *= slow
		s.Events[i].SD *= slow
	}
	for i := range s.Phases {
		s.Phases[i].Start *= slow
		s.Phases[i].End *= slow
	}
}

func warnings(notes []track.Note) []measure.Warning {
	var out []measure.Warning
	for _, n := range notes {
		out = append(out, measure.Warning(n))
	}
	return out
}

// capture tells how the figures were had.
func (s *settling) capture(window []body.Frame) measure.Capture {
	c := measure.Capture{
		SlowMotion: 1, SlowMotionSD: s.guess.SlowSD, Method: s.post.Method(), ScaleSD: s.post.ScaleSD(),
	}
	if s.guess.Slow > 0 {
		c.SlowMotion = s.guess.Slow
	}
	if interval := intervalOf(window, s.guess.Camera); interval > 0 {
		c.FrameRate = 1 / interval
	}
	c.View = s.view
	return c
}

// intervalOf is the median time between the frames of one camera of a window, seconds;
// NaN below two.
func intervalOf(window []body.Frame, of uint8) float64 {
	steps := make([]float64, 0, len(window))
	last := int64(math.MaxInt64)
	for i := range window {
		if f := &window[i]; f.Camera == of {
			if f.TimeUS > last {
				steps = append(steps, float64(f.TimeUS-last)*1e-6)
			}
			last = f.TimeUS
		}
	}
	return signal.Median(steps)
}
