package measure

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/phase"
)

// tipPath returns the path length of the tip, metres, over [from, to] before or
// at contact; NaN for an empty stretch. Between samples the speed is that of the
// cubic through positions and velocities, integrated by Simpson's rule.
func (r *Reader) tipPath(from, to float64) float64 {
	lo, hi, ok := r.k.Window(from, to)
	if !ok {
		return math.NaN()
	}
	length := 0.0
	for i := lo; i < hi; i++ {
		a, b := math.Max(from, r.c.T[i]), math.Min(to, r.c.T[i+1])
		if b > a {
			length += r.arc(i, a, b)
		}
	}
	return length
}

// arc returns the tip's path length over [a, b] inside sample interval i.
func (r *Reader) arc(i int, a, b float64) float64 {
	t0, dt := r.c.T[i], r.c.T[i+1]-r.c.T[i]
	pos, vel := r.c.Pos[body.RacketTip], r.c.Vel[body.RacketTip]
	mean := pos[i+1].Sub(pos[i]).Scale(1 / dt)
	speed := func(t float64) float64 {
		w := (t - t0) / dt
		v := vel[i].Scale((1 - w) * (1 - 3*w)).Add(vel[i+1].Scale(w * (3*w - 2))).Add(mean.Scale(6 * w * (1 - w)))
		return v.Norm()
	}
	return (b - a) / 6 * (speed(a) + 4*speed((a+b)/2) + speed(b))
}

// tipSpeed is the tip's speed just before impact, m/s; without racket points, what
// the hand's speed lets expect.
func (r *Reader) tipSpeed() float64 {
	if !r.k.HasTip() {
		return tipPerHand[min(r.ctx.Stroke, body.NumStrokes-1)] * r.k.GripSpeed[r.b]
	}
	return r.k.TipSpeed[r.b]
}

// tipPeak is the largest tip speed up to contact.
func (r *Reader) tipPeak() float64 {
	_, v := r.k.Largest(r.k.TipSpeed, r.c.T[0], r.contact())
	return v
}

// meanForward is the tip's path length ÷ time, FORWARD_START to contact.
func (r *Reader) meanForward() float64 {
	from := r.t[phase.ForwardStart]
	return r.tipPath(from, r.contact()) / (r.contact() - from)
}

// foldCos is the least cosine of the lag angle for which its rate is taken: nearer to
// ±90° the angle folds and its rate has no limit.
const foldCos = 1e-3

// releaseRate is the largest −dλ/dt, deg/s, between MAX_LAG and contact.
func (r *Reader) releaseRate() float64 {
	from := r.t[phase.MaxLag]
	lo, hi, ok := r.k.Window(from, r.contact())
	if !ok {
		return math.NaN()
	}
	fall := r.k.Spare(0)
	for i := lo; i <= hi; i++ {
		fall[i] = -r.lagRate(i)
	}
	_, v := r.k.Largest(fall, from, r.contact())
	return degrees(v)
}

// lagRate is dλ/dt at sample i, at or before contact, rad/s. With sin λ = −u·v̂, v̂ the
// direction of the grip centre's velocity,
//
//	dλ/dt = −(u̇·v̂ + u·dv̂/dt) / cos λ;
//
// u̇ is the course's, dv̂/dt the derivative of the parabola through three samples at
// least turnStep apart (at contact: the last three). NaN where λ is not defined
// or its cosine is under foldCos. It cannot pass |u̇| + |dv̂/dt|.
func (r *Reader) lagRate(i int) float64 {
	lag := r.k.LagAt(i)
	cos := math.Cos(lag)
	a, b, c, ok := r.threeAround(i)
	if math.IsNaN(lag) || cos < foldCos || !ok {
		return math.NaN()
	}
	_, vel := r.k.Grip()
	t := r.c.T
	d01 := vel[b].Unit().Sub(vel[a].Unit()).Scale(1 / (t[b] - t[a]))
	d12 := vel[c].Unit().Sub(vel[b].Unit()).Scale(1 / (t[c] - t[b]))
	curve := d12.Sub(d01).Scale(1 / (t[c] - t[a]))
	turning := d01.Add(curve.Scale(2*t[i] - t[a] - t[b]))
	most := r.c.AxisVel[i].Norm() + turning.Norm()
	rate := -(r.c.AxisVel[i].Dot(vel[i].Unit()) + r.c.Axis[i].Dot(turning)) / cos
	return math.Min(math.Max(rate, -most), most)
}

// turnStep is the least time, s, between samples whose difference gives a rate: over
// less (a sample just before contact) small errors of velocity would make a large
// rate. Own choice, under the spacing of samples.
const turnStep = 0.001

// threeAround returns samples a < b < c at or before contact, turnStep apart, of which
// i is the middle one, or an end where the samples end.
func (r *Reader) threeAround(i int) (a, b, c int, ok bool) {
	before, behind := r.apart(i, -1), r.apart(i, 1)
	switch {
	case before >= 0 && behind >= 0:
		a, b, c = before, i, behind
	case before >= 0:
		a, b, c = r.apart(before, -1), before, i
	case behind >= 0:
		a, b, c = i, behind, r.apart(behind, 1)
	default:
		return 0, 0, 0, false
	}
	return a, b, c, a >= 0 && c >= 0
}

// apart returns the sample nearest to i that is at least turnStep from it in the
// given direction, at or before contact; −1 when there is none.
func (r *Reader) apart(i, step int) int {
	for j := i + step; j >= 0 && j <= r.b; j += step {
		if math.Abs(r.c.T[j]-r.c.T[i]) >= turnStep {
			return j
		}
	}
	return -1
}

// tipWrap is the largest −(tip − mid-hip)·h between DROP_START and contact while
// the tip is behind mid-hip along X; NaN when it never is.
func (r *Reader) tipWrap() float64 {
	from := r.t.DropOrTurn()
	lo, hi, ok := r.k.Window(from, r.contact())
	if !ok {
		return math.NaN()
	}
	wrap, behind := r.k.Spare(0), r.k.Spare(1)
	for i := lo; i <= hi; i++ {
		d := r.c.Pos[body.RacketTip][i].Sub(r.c.Pos[body.LeftHip][i].Lerp(r.c.Pos[body.RightHip][i], 0.5))
		wrap[i], behind[i] = -r.toward(d), -d.X
	}
	most := r.wrapAtLine(wrap, behind, from, lo, hi)
	for i := lo; i <= hi; i++ {
		if !(behind[i] > 0) {
			wrap[i] = math.NaN()
		}
	}
	if _, v := r.k.Largest(wrap, from, r.contact()); v > most || math.IsNaN(most) {
		return v
	}
	return most
}

// wrapAtLine returns the largest of the curve wrap where behind changes sign in
// [from, contact]: the tip passes the line of the hips. NaN without such an instant.
func (r *Reader) wrapAtLine(wrap, behind []float64, from float64, lo, hi int) float64 {
	most := math.NaN()
	for i := lo; i < hi; i++ {
		if (behind[i] > 0) == (behind[i+1] > 0) {
			continue
		}
		w := behind[i] / (behind[i] - behind[i+1])
		if r.c.T[i]+w*(r.c.T[i+1]-r.c.T[i]) < from {
			continue
		}
		if v := wrap[i] + w*(wrap[i+1]-wrap[i]); v > most || math.IsNaN(most) {
			most = v
		}
	}
	return most
}

// handLow is the lowest grip-centre height, m, FORWARD_START to contact.
func (r *Reader) handLow() float64 {
	height := r.k.Spare(0)
	pos, _ := r.k.Grip()
	from := r.t[phase.ForwardStart]
	lo, hi, _ := r.k.Window(from, r.contact())
	for i := lo; i <= hi; i++ {
		height[i] = pos[i].Y
	}
	_, v := r.k.Smallest(height, from, r.contact())
	return v
}

// racketForearm is the largest angle, degrees, between the hitting forearm (elbow →
// wrist) and u, FORWARD_START to contact: 0 is a racket in line with the forearm.
func (r *Reader) racketForearm() float64 {
	_, elbow, wrist := arm(r.leftHits())
	from := r.t[phase.ForwardStart]
	lo, hi, ok := r.k.Window(from, r.contact())
	if !ok {
		return math.NaN()
	}
	angle := r.k.Spare(0)
	for i := lo; i <= hi; i++ {
		angle[i] = geom.Between(r.c.Pos[wrist][i].Sub(r.c.Pos[elbow][i]), r.c.Axis[i]).Radians()
	}
	_, v := r.k.Largest(angle, from, r.contact())
	return degrees(v)
}

// peaks of the chain, each the instant of its largest value from TURN_COMPLETE
// (serve, overhead: TROPHY) to contact.

func (r *Reader) chainPeak(v []float64) float64 {
	at, _ := r.k.Largest(v, r.k.ChainFrom(&r.t), r.contact())
	return at
}

// unwindPeak is where a turn's rate is most negative.
func (r *Reader) unwindPeak(rate []float64) float64 {
	if r.contact()-r.k.ChainFrom(&r.t) < togetherTime {
		return math.NaN() // a stretch in which all peaks count as one has no order
	}
	at, _ := r.k.Smallest(rate, r.k.ChainFrom(&r.t), r.contact())
	return at
}

// spinPeak is where |du/dt|, the racket's angular speed across its own axis, is largest.
func (r *Reader) spinPeak() float64 {
	lo, hi, ok := r.k.Window(r.k.ChainFrom(&r.t), r.contact())
	if !ok {
		return math.NaN()
	}
	spin := r.k.Spare(0)
	for i := lo; i <= hi; i++ {
		spin[i] = r.c.AxisVel[i].Norm()
	}
	return r.chainPeak(spin)
}

// hipsToRacket is the time, s, from the peak of the hips' unwinding to that of
// the racket's angular speed.
func (r *Reader) hipsToRacket() float64 { return r.spinPeak() - r.unwindPeak(r.k.HipRate) }

// togetherTime is how close, s, two peaks count as in order (measures.md).
const togetherTime = 0.005

// inOrder is the share of the neighbouring pairs hips → shoulders → hand → tip
// whose peaks come in that order.
func (r *Reader) inOrder() float64 {
	peaks := [...]float64{
		r.unwindPeak(r.k.HipRate), r.unwindPeak(r.k.ShoulderRate),
		r.chainPeak(r.k.GripSpeed), r.chainPeak(r.k.TipSpeed),
	}
	ordered := 0
	for i := 1; i < len(peaks); i++ {
		if math.IsNaN(peaks[i] - peaks[i-1]) {
			return math.NaN()
		}
		if peaks[i] >= peaks[i-1]-togetherTime {
			ordered++
		}
	}
	return float64(ordered) / float64(len(peaks)-1)
}
