package camera

import "math"

// SlowMotion is the verdict of the clock check.
type SlowMotion struct {
	Factor float64 // clip seconds per real second
	// SD of the factor as the check found it, before snapping; 0 when nothing was checked.
	SD       float64
	Snapped  bool // Factor is a usual one, which lies inside the error
	Verified bool // gravity agrees with Factor, and to within verifiedSD
	// Contradicted is set when gravity denies what the client stated: warning
	// clock_contradicts_gravity. Factor is then gravity's.
	Contradicted bool
	Stated       float64 // what the client stated; 0: nothing
	Arcs         int     // arcs that fell as gravity would have them
	// Sole is set when one arc alone speaks, its distance from the camera guessed: one in
	// twenty is no free flight at all, and shows a wrong factor as clearly as a right one. The
	// two sides of one meeting with the racket are as one where neither is precise: they share
	// the distance, the look along the ball's way and, where the ball met no racket, the fault.
	Sole bool
	// TempoOnly is set when only the tempo of the body speaks: weak evidence, never Verified.
	TempoOnly bool
	// Hand is the fastest speed of the hands across the view, m/s on the clip's clock, where
	// the clip holds a swing; 0: not known.
	Hand float64
}

// Warnings of the clock check.
const (
	WarnClockUnverified  = "clock_unverified"
	WarnClockContradicts = "clock_contradicts_gravity"
)

// usualFactors are those at which phones and editors slow clips.
var usualFactors = []float64{1, 2, 4, 8, 10, 16}

const (
	// A factor is looked for on a logarithmic grid from a third to 32.
	factorLow, factorHigh = 0.33, 32.0
	factorSteps           = 1200
	// bogusArc is the chance that a stretch taken for a flight is none (a ball in the
	// hand, a roll, a wrong track). Common practice, no source. bogusHop is that of a hop:
	// of made players' half were steps, in which the hips do not fall freely.
	bogusArc, bogusHop = 0.1, 0.5
	// arcModelSD is the relative error of any arc's acceleration beside its noise: spin
	// beyond the model, wind, a hip for the centre of mass. Common practice, no source.
	arcModelSD = 0.03
	// verifiedSD is the relative error of a verified factor (accuracy.md, clock: 5 %).
	verifiedSD = 0.05
	// snapSD is the relative error up to which a factor may be snapped, and snapShare how
	// likely the nearest usual factor must be among the usual ones: 8 and 10 lie 22 %
	// apart, 1 and 2 far more.
	snapSD, snapShare = 0.2, 0.97
)

// Tempo is what the body's own speed says of the clock, a weak belief: the natural
// logarithm of the factor and its sd. The zero value says nothing.
type Tempo struct{ LogFactor, SD float64 }

// TempoOf turns the largest hand speed of the swings in a clip as HandSpeed reads it, m/s
// on the clip's clock, into a belief.
func TempoOf(handSpeed float64) Tempo {
	if !(handSpeed > 0) || math.IsInf(handSpeed, 1) {
		return Tempo{}
	}
	return Tempo{math.Log(handTypical / handSpeed), handSpread}
}

// What HandSpeed, which knows nothing of the speed along the line of sight, reads of swings
// in true time, m/s, and its sd in the logarithm. Of 28 recorded strokes, each seen again four
// times by a phone, it reads 5.1 in the median and 3.3 to 9.0 in nine of ten: a spread of
// 0.31. The rest is for beginners and juniors, whom nobody recorded.
const handTypical, handSpread = 5.0, 0.4

// CheckClock finds the slow-motion factor k from falls: a clip stretched k times
// shows gravity k² too small. scaleSD is the relative error of the metres that all
// falls share. cam tells what the client stated; interval is the measured time
// between frames, seconds (NaN: unknown). tempo helps only to keep apart what
// gravity leaves open.
func CheckClock(falls []Fall, scaleSD float64, tempo Tempo, cam Camera, interval float64) SlowMotion {
	out := SlowMotion{Factor: 1, Stated: statedFactor(cam, interval)}
	p := factorPosterior(falls, scaleSD, tempo)
	out.Arcs = agreeing(falls, p.mode)
	out.Sole = soleAmong(falls, p.mode)
	switch {
	case p.informed && out.Arcs > 0:
		out.fromGravity(p, interval)
	case out.Stated > 0:
		out.Factor = out.Stated
	case tempo.SD > 0:
		out.fromTempo(tempo, interval)
	}
	return out
}

// statedFactor is what the client says: the factor itself, or the sensor's rate over
// the clip's; 0 when neither.
func statedFactor(cam Camera, interval float64) float64 {
	if cam.SlowMotion > 0 {
		return cam.SlowMotion
	}
	if f := cam.CaptureRate * interval; f > 0 {
		return nearestUsual(f, 0.05)
	}
	return 0
}

// nearestUsual snaps a factor to a usual one within a relative tolerance.
func nearestUsual(f, tol float64) float64 {
	for _, u := range usualFactors {
		if math.Abs(math.Log(f/u)) < tol {
			return u
		}
	}
	return f
}

// posterior of the logarithm of the factor.
type posterior struct {
	mean, sd float64 // about the mode's hill
	mode     float64
	rest     float64 // probability outside the hill
	trusted  bool    // enough falls agree
	informed bool
	at       func(logFactor float64) float64 // log density, up to a constant
}

func factorPosterior(falls []Fall, scaleSD float64, tempo Tempo) posterior {
	usable := usableFalls(falls)
	p := posterior{informed: len(usable) > 0}
	p.at = func(lf float64) float64 {
		sum := 0.0
		for _, f := range usable {
			sum += f.logLikelihood(lf)
		}
		if tempo.SD > 0 {
			// Student's t with three degrees of freedom: a slow clip of slow hands happens.
			z := (lf - tempo.LogFactor) / tempo.SD
			sum -= 2 * math.Log1p(z*z/3)
		}
		return sum
	}
	lo, hi := math.Log(factorLow), math.Log(factorHigh)
	best := math.Inf(-1)
	for i := range factorSteps + 1 {
		lf := lo + (hi-lo)*float64(i)/factorSteps
		if v := p.at(lf); v > best {
			best, p.mode = v, lf
		}
	}
	p.moments(best, lo, hi)
	p.trusted = trusted(falls, p.mode)
	p.sd = math.Sqrt(p.sd*p.sd + sq(scaleSD/2) + sq(sharedScale(usable, p.mode)/2))
	return p
}

// hillFoot is how far below its top, in log density, a hill of the posterior ends:
// 3.5 sd.
const hillFoot = 6.0

// moments takes mean and sd over the mode's hill; what lies elsewhere is in rest.
func (p *posterior) moments(best, lo, hi float64) {
	step := (hi - lo) / factorSteps
	from, to := p.mode, p.mode
	for from > lo && p.at(from-step) > best-hillFoot {
		from -= step
	}
	for to < hi && p.at(to+step) > best-hillFoot {
		to += step
	}
	var w, m, v, all float64
	for i := range factorSteps + 1 {
		lf := lo + step*float64(i)
		d := math.Exp(p.at(lf) - best)
		all += d
		if lf >= from-step/2 && lf <= to+step/2 {
			w, m, v = w+d, m+d*lf, v+d*lf*lf
		}
	}
	p.mean = m / w
	// A hill narrower than the grid still has its width.
	p.sd = math.Sqrt(max(step*step/12, v/w-p.mean*p.mean))
	p.rest = 1 - w/all
}

// sharedScale is the smallest relative error of the metres among the falls that agree
// with a factor: falls at one place share it, so it does not average out.
func sharedScale(falls []Fall, logFactor float64) float64 {
	least := math.Inf(1)
	for _, f := range falls {
		if f.agrees(logFactor) {
			least = min(least, f.Scale)
		}
	}
	if math.IsInf(least, 1) {
		return 0
	}
	return least
}

// usableFalls leaves out what tells nothing: a stretch whose fall is lost in its
// error, or is none.
func usableFalls(falls []Fall) []Fall {
	var out []Fall
	for _, f := range falls {
		if f.SD > 0 && f.G > 2*f.SD && !math.IsInf(f.SD, 1) {
			out = append(out, f)
		}
	}
	return out
}

// logLikelihood of a factor: the fall's acceleration is g/k² with its error, or the
// stretch was no flight and could show anything (even in the logarithm).
func (f Fall) logLikelihood(logFactor float64) float64 {
	want := standardGravity * math.Exp(-2*logFactor)
	sd := f.spread(want)
	z := (f.G - want) / sd
	flight := math.Exp(-z*z/2) / sd
	anything := 1 / (f.G * 2 * math.Log(factorHigh/factorLow))
	bogus := bogusArc
	if f.Hop {
		bogus = bogusHop
	}
	return math.Log((1-bogus)*flight + bogus*anything)
}

// agreeing counts the falls within 3 sd of a factor.
func agreeing(falls []Fall, logFactor float64) int {
	n := 0
	for _, f := range usableFalls(falls) {
		if f.agrees(logFactor) {
			n++
		}
	}
	return n
}

// soleAmong tells whether all that agrees with a factor is one fall, or the two sides of one
// meeting and neither precise, the distance from the camera guessed.
func soleAmong(falls []Fall, logFactor float64) bool {
	n, meeting, precise := 0, 0, false
	for _, f := range usableFalls(falls) {
		switch {
		case !f.agrees(logFactor):
			continue
		case f.Sure, n > 0 && (f.Meeting == 0 || f.Meeting != meeting):
			return false
		}
		n, meeting, precise = n+1, f.Meeting, precise || f.precise()
	}
	return n == 1 || n > 1 && !precise
}

// soleSpread is the relative error up to which one fall alone may settle the factor.
const soleSpread = 0.15

// trusted tells whether what agrees with a factor suffices: two falls, or one that is
// precise or whose distance from the camera is sure.
func trusted(falls []Fall, logFactor float64) bool {
	for _, f := range usableFalls(falls) {
		if f.agrees(logFactor) && (f.Sure || f.precise()) {
			return true
		}
	}
	return agreeing(falls, logFactor) > 1
}

// spread is a fall's whole error against a wanted acceleration.
func (f Fall) spread(want float64) float64 {
	return math.Sqrt(sq(f.SD) + sq(arcModelSD*want) + sq(f.Scale*want))
}

// precise tells whether one fall alone may settle the factor.
func (f Fall) precise() bool { return f.spread(f.G) < soleSpread*f.G }

func (f Fall) agrees(logFactor float64) bool {
	want := standardGravity * math.Exp(-2*logFactor)
	return math.Abs(f.G-want) < 3*f.spread(want)
}

// fromGravity settles the factor: the stated one when gravity allows it, else a
// usual one inside the error, else gravity's own.
func (s *SlowMotion) fromGravity(p posterior, interval float64) {
	s.Factor = math.Exp(p.mean)
	s.SD = s.Factor * p.sd
	inside := func(f float64) bool { return math.Abs(math.Log(f)-p.mean) < 2*p.sd }
	if s.Stated > 0 {
		apart := math.Abs(math.Log(s.Stated) - p.mean)
		s.Contradicted = p.firm() && p.sd < snapSD && apart > 3*p.sd && apart > verifiedSD
		if inside(s.Stated) {
			s.Factor = s.Stated
			s.Snapped = nearestUsual(s.Stated, 1e-9) == s.Stated
			s.Verified = p.firm() && p.sd < snapSD
			return
		}
	}
	if u, share := likeliestUsual(p, interval); inside(u) && share > snapShare && p.sd < snapSD && p.firm() {
		s.Factor, s.Snapped, s.Verified = u, true, true
		return
	}
	if s.Verified = p.sd < verifiedSD && p.firm() && p.unusual() && s.Arcs >= unusualArcs; !s.Verified && !s.Contradicted {
		s.settleUsual(p, interval)
	}
}

// unusualArcs is how many falls must agree before a factor that nobody uses is believed.
const unusualArcs = 3

// realTime is how much likelier a clip in true time is than any one slow factor.
// Common practice, no source.
const realTime = 3.0

// settleUsual takes the usual factor that gravity, tempo and sensor rates make likeliest,
// with errors taken as twice as large and heavy tails; the sd spans to gravity's own
// factor and over the other usual ones, by their odds. Not verified.
func (s *SlowMotion) settleUsual(p posterior, interval float64) {
	best, all, m, m2 := 0.0, 0.0, 0.0, 0.0
	for _, u := range usualFactors {
		z := (math.Log(u) - p.mean) / (2 * p.sd)
		w := usualWeight(u, interval) / sq(1+z*z/3)
		if u == 1 {
			w *= realTime
		}
		all, m, m2 = all+w, m+w*math.Log(u), m2+w*sq(math.Log(u))
		if w > best {
			best, s.Factor = w, u
		}
	}
	// The mean square distance of the usual factors from the one that was taken.
	lf := math.Log(s.Factor)
	others := m2/all - 2*lf*m/all + sq(lf)
	s.SD = s.Factor * math.Max(math.Hypot(p.sd, lf-p.mean), math.Sqrt(others))
}

// firm tells whether little speaks for a factor outside the hill, and enough for one inside.
func (p *posterior) firm() bool { return p.rest < 0.2 && p.trusted }

// unusual tells whether every usual factor lies clear of the hill. A factor that is near
// a usual one and yet not inside the error is more likely an error of the metres.
func (p *posterior) unusual() bool {
	for _, u := range usualFactors {
		if math.Abs(math.Log(u)-p.mean) < 5*p.sd {
			return false
		}
	}
	return true
}

// sensorRates are the frame rates that phones and cameras offer, Hz.
var sensorRates = []float64{24, 25, 30, 50, 60, 100, 120, 200, 240, 480, 960}

// oddRate is the weight of a factor that would need a sensor rate nobody offers: editors
// drop and repeat frames, so it is not zero. Common practice, no source.
const oddRate = 0.15

// usualWeight is the belief in a factor for a clip of that frame interval: what the
// sensor's rate would have been.
func usualWeight(factor, interval float64) float64 {
	if !(interval > 0) {
		return 1
	}
	for _, r := range sensorRates {
		if math.Abs(math.Log(factor/interval/r)) < 0.03 {
			return 1
		}
	}
	return oddRate
}

// likeliestUsual is the most probable usual factor and its share among them all. The
// tails are those of Student's t with three degrees of freedom: falls of made clips lie
// 3 sd off the true factor one time in twenty, a normal error one time in 400.
func likeliestUsual(p posterior, interval float64) (factor, share float64) {
	total, best := 0.0, 0.0
	for _, u := range usualFactors {
		z := (math.Log(u) - p.mean) / p.sd
		w := usualWeight(u, interval) / sq(1+z*z/3)
		total += w
		if w > best {
			best, factor = w, u
		}
	}
	if total == 0 {
		return 1, 0
	}
	return factor, best / total
}

// fromTempo takes the usual factor that the hands' tempo and the sensor rates make
// likeliest. Unverified.
func (s *SlowMotion) fromTempo(t Tempo, interval float64) {
	s.TempoOnly = true
	s.settleUsual(posterior{mean: t.LogFactor, sd: t.SD / 2}, interval)
	s.SD = max(s.SD, s.Factor*t.SD)
}
