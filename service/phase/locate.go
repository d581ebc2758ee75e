package phase

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/signal"
)

// Constants of the definitions (measures.md, Events). They define; they are not tuned.
const (
	turnShare     = 0.20 // of the fastest turn rate: TURN_START
	completeShare = 0.97 // of the largest turn: TURN_COMPLETE
	forwardShare  = 0.05 // of the grip's speed along f just before impact: FORWARD_START
	lagShare      = 0.20 // of the grip's speed just before impact: MAX_LAG
	followShare   = 0.20 // of the tip's speed at contact: FOLLOW_END

	groundSearch   = 2.0  // s before contact in which a turn is searched
	overheadSearch = 2.5  // s, the same for an overhead
	serveLead      = 1.0  // s before BALL_RELEASE, the same for a serve
	dropHeight     = 0.05 // m that the tip's maximum stands over RACKET_LOW: DROP_START

	recoverFor    = 0.1                 // s for which the recovered posture lasts
	recoverWithin = 2.0                 // s after FOLLOW_END
	recoverTurn   = 20 * math.Pi / 180. // rad of shoulder turn

	LeastHop  = 0.02  // m over the standing level: a hop
	hopLanded = 0.005 // m over the standing level: landed
	hopBefore = 1.0   // s before TURN_START
	hopAfter  = 0.3   // s after TURN_START
)

// bumpSDs is how many standard deviations of its height noise the tip must rise
// to a local maximum for that to be one. The course has been smoothed already: more
// than one takes shallow drops for none, and the event for an earlier one, far off.
// Common practice for peak prominence, no source; void when Context.HeightNoise is 0.
const bumpSDs = 1

// handQuiet is the doubt of the hand's speed as a share of the tip's: the tip stands at the
// end of a lever that the hand holds. Own estimate.
const handQuiet = 0.5

// hopSDs is how many standard deviations of the ankles' height a hop must rise for it
// to be one. The stretch in which it is searched, 1.3 s, holds some ten independent
// heights, of which the highest is 1.5 sd up by chance alone, and 3 sd in one swing of a
// hundred (order statistics of the normal distribution).
const hopSDs = 3

// standingQuantile is the share of the lower ankle's heights below its standing
// level: one foot stands for most of the time, so a low quantile is on the
// ground through hops and steps, and the least would follow the noise. Own choice.
const standingQuantile = 0.25

// Locate finds the events, seconds as Course.T; NaN where one is absent.
func (k *Curves) Locate() Times {
	t := None()
	if !k.usable {
		return t
	}
	t[Contact] = k.contact
	t[BallRelease] = k.ballRelease()
	k.searchFrom = k.turnSearch(t[BallRelease])
	t[TurnStart] = k.turnStart()
	t[TurnComplete] = k.turnComplete(t[TurnStart])
	t[Trophy] = k.trophy(&t)
	t[ForwardStart] = k.forwardStart()
	t[SplitLanding] = k.splitLanding(t[TurnStart])
	if k.HasTip() {
		k.locateRacket(&t)
	}
	return t
}

// locateRacket finds the events that need the racket's points.
func (k *Curves) locateRacket(t *Times) {
	height := k.Spare(0)
	for i := range k.c.Break + 1 {
		height[i] = k.c.Pos[body.RacketTip][i].Y
	}
	t[RacketLow] = k.racketLow(height, k.ChainFrom(t))
	t[DropStart] = k.dropStart(height, t[TurnStart], t[RacketLow])
	t[MaxLag] = k.maxLag(t[ForwardStart])
	t[FollowEnd] = k.followEnd()
	t[Recovered] = k.recovered(t[FollowEnd])
}

// ChainFrom returns the start of the stretch, up to contact, in which the racket's
// lowest point and the peaks of the chain are searched: TurnComplete; for a
// serve or an overhead, Trophy.
func (k *Curves) ChainFrom(t *Times) float64 {
	if k.ctx.Stroke.OverheadMotion() {
		return t[Trophy]
	}
	return t[TurnComplete]
}

// ballRelease is where the ball and the tossing wrist part; without a ball, the
// tossing wrist's fastest rise before contact. Serves only.
func (k *Curves) ballRelease() float64 {
	if k.ctx.Stroke != body.Serve {
		return math.NaN()
	}
	if r := k.c.Ball.Release; r > k.t[0] && r < k.contact {
		return r
	}
	if !k.Known(body.LeftWrist) {
		return math.NaN()
	}
	rise := k.Spare(0)
	for i := range k.c.Break + 1 {
		rise[i] = k.c.Vel[body.LeftWrist][i].Y
	}
	at, v := k.Largest(rise, k.t[0], k.contact)
	if !(v > 0) || at >= k.contact {
		return math.NaN()
	}
	return at
}

// turnSearch returns the start of the stretch in which turns are searched. A
// serve whose release is not known is searched like an overhead.
func (k *Curves) turnSearch(release float64) float64 {
	back := groundSearch
	switch {
	case k.ctx.Stroke == body.Serve && !math.IsNaN(release):
		back = k.contact - release + serveLead
	case k.ctx.Stroke.OverheadMotion():
		back = overheadSearch
	}
	return math.Max(k.t[0], k.contact-back)
}

// turnStart is the last instant before the fastest turn toward the hitting side
// at which the rate is under 20 % of that fastest rate. Absent when the
// shoulders never turn that way or turn from the stretch's start on.
func (k *Curves) turnStart() float64 {
	if k.ShoulderRate == nil {
		return math.NaN()
	}
	at, fastest := k.Largest(k.ShoulderRate, k.searchFrom, k.contact)
	if !(fastest > 0) {
		return math.NaN()
	}
	return k.lastBelow(k.ShoulderRate, k.searchFrom, at, turnShare*fastest)
}

// lastBelow returns the last instant in [from, to] at which the curve v rises through
// level; NaN when it is at or over level throughout. v must be at or over level at to.
func (k *Curves) lastBelow(v []float64, from, to, level float64) float64 {
	lo, hi, ok := k.Window(from, to)
	if !ok {
		return math.NaN()
	}
	for hi > lo && k.t[hi] > to {
		hi--
	}
	next := knot{to, k.Value(v, to)}
	for i := hi; i >= lo; i-- {
		if v[i] < level {
			t := crossing(k.t[i], v[i], next.t, next.v, level)
			if t < from {
				return math.NaN()
			}
			return t
		}
		next = knot{k.t[i], v[i]}
	}
	return math.NaN()
}

// turnComplete is the first instant after TURN_START at which the shoulder turn
// reaches 97 % of its maximum before contact. Absent when that maximum is not
// toward the hitting side or came before TURN_START.
func (k *Curves) turnComplete(start float64) float64 {
	if math.IsNaN(start) {
		return math.NaN()
	}
	_, most := k.Largest(k.ShoulderTurn, k.searchFrom, k.contact)
	if !(most > 0) {
		return math.NaN()
	}
	return k.firstAbove(k.ShoulderTurn, start, k.contact, completeShare*most)
}

// firstAbove returns the first instant in [from, to] at which the curve v is at
// or over level; NaN when there is none.
func (k *Curves) firstAbove(v []float64, from, to, level float64) float64 {
	lo, hi, ok := k.Window(from, to)
	if !ok {
		return math.NaN()
	}
	prev := knot{from, k.Value(v, from)}
	if prev.v >= level {
		return from
	}
	for i := lo + 1; i <= hi; i++ {
		if v[i] >= level {
			t := crossing(prev.t, prev.v, k.t[i], v[i], level)
			if t > to {
				return math.NaN()
			}
			return t
		}
		prev = knot{k.t[i], v[i]}
	}
	return math.NaN()
}

// trophy is the deepest flexion of the back knee: of a serve between BALL_RELEASE
// and contact, of an overhead between TURN_START and contact.
func (k *Curves) trophy(t *Times) float64 {
	from := math.NaN()
	switch k.ctx.Stroke {
	case body.Serve:
		from = t[BallRelease]
	case body.Overhead:
		from = t[TurnStart]
	}
	hip, knee, ankle := Knee(k.backRight)
	if !k.Known(hip, knee, ankle) {
		return math.NaN()
	}
	at, _ := k.MostBent(from, k.contact, hip, knee, ankle)
	return at
}

// forwardStart is the last instant before contact at which the grip centre's
// velocity along f rises through 5 % of its value just before impact. Absent
// when the grip does not move along f at impact.
func (k *Curves) forwardStart() float64 {
	if k.grip == nil || k.forward == (geom.Vec3{}) {
		return math.NaN()
	}
	b := k.c.Break
	along := k.Spare(0)
	along[b] = k.gripVel[b].Dot(k.forward)
	if !(along[b] > 0) {
		return math.NaN()
	}
	level := forwardShare*along[b] + k.ctx.RateDoubt*handQuiet
	for i := b - 1; i >= 0; i-- {
		if along[i] = k.gripVel[i].Dot(k.forward); along[i] < level {
			return crossing(k.t[i], along[i], k.t[i+1], along[i+1], level)
		}
	}
	return math.NaN()
}

// racketLow is the lowest tip height between from and contact where that is an
// inner minimum; absent when the lowest point is at an end of the stretch.
func (k *Curves) racketLow(height []float64, from float64) float64 {
	at, _ := k.Smallest(height, from, k.contact)
	if !(at > from && at < k.contact) {
		return math.NaN()
	}
	return at
}

// dropStart is the last local maximum of the tip's height after TURN_START and
// before RACKET_LOW that is at least 5 cm higher than RACKET_LOW.
func (k *Curves) dropStart(height []float64, start, low float64) float64 {
	lo, hi, ok := k.Window(start, low)
	if !ok {
		return math.NaN()
	}
	floor := k.Value(height, low) + dropHeight
	doubt := k.ctx.RateDoubt
	if doubt != 0 {
		for i := lo; i <= hi; i++ {
			height[i] += doubt * (low - k.t[i])
		}
	}
	for i := hi - 1; i > lo; i-- {
		if height[i] <= height[i-1] || height[i] < height[i+1] {
			continue
		}
		top := vertex(knot{k.t[i-1], height[i-1]}, knot{k.t[i], height[i]}, knot{k.t[i+1], height[i+1]})
		if top.v-doubt*(low-top.t) >= floor && top.t > start && top.t < low && k.stands(height, lo, i) {
			return top.t
		}
	}
	return math.NaN()
}

// stands reports whether the local maximum at i is more than noise: before it the
// curve rises to it by at least bumpSDs of the height noise, counted from the lowest
// point since it was last higher (or since lo).
func (k *Curves) stands(height []float64, lo, i int) bool {
	least := height[i]
	for j := i - 1; j >= lo && height[j] <= height[i]; j-- {
		least = math.Min(least, height[j])
	}
	return height[i]-least >= bumpSDs*k.ctx.HeightNoise
}

// maxLag is where the lag angle is largest between FORWARD_START and contact
// while the grip moves faster than 20 % of its speed just before impact (and
// faster than 1 m/s, under which the angle is not defined).
func (k *Curves) maxLag(forward float64) float64 {
	lo, hi, ok := k.Window(forward, k.contact)
	if !ok {
		return math.NaN()
	}
	level := math.Max(lagSpeed, lagShare*k.GripSpeed[k.c.Break])
	at, most := math.NaN(), math.Inf(-1)
	for i := lo; i < hi; i++ {
		from, to := math.Max(forward, k.t[i]), k.t[i+1]
		if fast, slow := k.GripSpeed[i+1] > level, k.GripSpeed[i] <= level; fast && slow {
			from = math.Max(from, k.gripReaches(level, k.t[i], to))
		} else if slow {
			continue
		} else if !fast {
			to = k.gripReaches(level, to, k.t[i])
		}
		for _, t := range [2]float64{from, to} {
			if l := k.LagBetween(t); l > most {
				at, most = t, l
			}
		}
	}
	return k.sharpenLag(at, most, forward, level)
}

// gripReaches returns an instant between slow and fast, neighbouring samples at which
// the grip is slower and faster than level, at which it has just passed level.
func (k *Curves) gripReaches(level, slow, fast float64) float64 {
	for range 12 { // to 1/4096 of the spacing of samples
		if mid := (slow + fast) / 2; k.GripVelAt(mid).Norm() > level {
			fast = mid
		} else {
			slow = mid
		}
	}
	return fast
}

// sharpenLag moves the largest lag found at a sample to the vertex of the
// parabola through it and its neighbours, where these belong to the stretch.
func (k *Curves) sharpenLag(at, most, forward, level float64) float64 {
	i, w := k.Bracket(at)
	if w == 1 {
		i++
	} else if w > 0 {
		return at
	}
	if math.IsNaN(at) || i < 1 || i >= k.c.Break || k.t[i-1] < forward {
		return at
	}
	if k.GripSpeed[i-1] <= level || k.GripSpeed[i+1] <= level {
		return at
	}
	return vertex(knot{k.t[i-1], k.LagAt(i - 1)}, knot{at, most}, knot{k.t[i+1], k.LagAt(i + 1)}).t
}

// followEnd is the first instant after contact at which the tip's speed is under
// 20 % of its value just before impact.
func (k *Curves) followEnd() float64 {
	after := k.c.Break + 1
	level := followShare * k.TipSpeed[k.c.Break]
	for i := after; i < len(k.t); i++ {
		if k.TipSpeed[i] < level {
			if i == after {
				return k.t[i]
			}
			return crossing(k.t[i-1], k.TipSpeed[i-1], k.t[i], k.TipSpeed[i], level)
		}
	}
	return math.NaN()
}

// recovered is the first instant after FOLLOW_END from which, for 0.1 s, the tip
// is ahead of mid-hip along X and the shoulder turn is within 20° of 0. Absent
// when that does not come within 2 s, or when the course ends first.
func (k *Curves) recovered(end float64) float64 {
	if math.IsNaN(end) || k.ShoulderTurn == nil || !k.Known(body.LeftHip, body.RightHip) {
		return math.NaN()
	}
	since := math.NaN() // start of the posture that lasts; NaN while it does not hold
	if k.readyAt(end) >= 0 {
		since = end
	}
	prev := knot{end, k.readyAt(end)}
	first, _ := k.Bracket(end)
	for i := first + 1; i < len(k.t) && !(prev.v < 0 && prev.t > end+recoverWithin); i++ {
		next := knot{k.t[i], k.readyAt(k.t[i])}
		if next.v >= 0 && prev.v < 0 {
			since = crossing(prev.t, prev.v, next.t, next.v, 0)
		}
		if next.v < 0 && prev.v >= 0 {
			if crossing(prev.t, prev.v, next.t, next.v, 0)-since >= recoverFor {
				break
			}
			since = math.NaN()
		}
		if next.t-since >= recoverFor {
			break
		}
		prev = next
	}
	if since > end+recoverWithin || k.t[len(k.t)-1]-since < recoverFor {
		return math.NaN()
	}
	return since
}

// readyAt is at least 0 while the tip is ahead of mid-hip and the shoulders face
// the net: the lesser of the two margins, metres and radians.
func (k *Curves) readyAt(t float64) float64 {
	ahead := k.At(body.RacketTip, t).X - k.Middle(body.LeftHip, body.RightHip, t).X
	turn := math.Remainder(k.Value(k.ShoulderTurn, t), 2*math.Pi)
	return math.Min(ahead, recoverTurn-math.Abs(turn))
}

// splitLanding is the last landing of a hop from 1.0 s before to 0.3 s after
// TURN_START: the lower ankle rises at least 2 cm over its standing level and is
// back within 0.5 cm. A server does not split: absent for serves.
func (k *Curves) splitLanding(start float64) float64 {
	if k.ctx.Stroke == body.Serve || !k.Known(body.LeftAnkle, body.RightAnkle) {
		return math.NaN()
	}
	lo, hi, ok := k.Window(math.Max(start-hopBefore, k.t[0]), math.Min(start+hopAfter, k.contact))
	if !ok {
		return math.NaN()
	}
	lower := k.Spare(0)
	for i := range hi + 1 {
		lower[i] = math.Min(k.c.Pos[body.LeftAnkle][i].Y, k.c.Pos[body.RightAnkle][i].Y)
	}
	level, rise := k.standing(lower[:hi+1]), k.ctx.LeastHop()
	landing, up := math.NaN(), false
	for i := 1; i <= hi; i++ {
		up = up || lower[i-1] >= level+rise
		if up && lower[i] <= level+hopLanded {
			at := crossing(k.t[i-1], lower[i-1], k.t[i], lower[i], level+hopLanded)
			if i > lo && at >= start-hopBefore && at <= start+hopAfter {
				landing = at
			}
			up = false
		}
	}
	return landing
}

// standing returns the standing level of the lower ankle, metres.
func (k *Curves) standing(lower []float64) float64 {
	k.standings = k.standings[:0]
	for i := 0; i < len(lower); i += 1 + len(lower)/256 {
		k.standings = append(k.standings, lower[i])
	}
	return signal.Kth(k.standings, int(standingQuantile*float64(len(k.standings)-1)))
}
