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
		return tipPerHand * r.k.GripSpeed[r.b]
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

// releaseStep is the least time, s, between samples whose difference gives a
// rate of the lag angle: closer ones (a frame just before contact) would make
// rounding into a rate. Own choice, under the spacing of samples.
const releaseStep = 0.001

// releaseRate is the largest −dλ/dt, deg/s, between MAX_LAG and contact: the
// derivative of the parabola through three neighbouring samples; at the ends of
// the stretch that of the first or last three.
func (r *Reader) releaseRate() float64 {
	lo, hi, ok := r.k.Window(r.t[phase.MaxLag], r.contact())
	if !ok {
		return math.NaN()
	}
	t, lag := r.lagKnots(lo, hi)
	n := len(t)
	if n < 3 {
		return math.NaN()
	}
	fastest := math.Inf(-1)
	for i := 1; i < n-1; i++ {
		d01 := (lag[i] - lag[i-1]) / (t[i] - t[i-1])
		d12 := (lag[i+1] - lag[i]) / (t[i+1] - t[i])
		curve := (d12 - d01) / (t[i+1] - t[i-1])
		fastest = math.Max(fastest, -(d01 + curve*(t[i]-t[i-1])))
		if i == 1 {
			fastest = math.Max(fastest, -(d01 - curve*(t[1]-t[0])))
		}
		if i == n-2 {
			fastest = math.Max(fastest, -(d12 + curve*(t[n-1]-t[n-2])))
		}
	}
	return degrees(fastest)
}

// lagKnots returns instants and lag angles, radians, from MAX_LAG to contact: the
// samples lo+1 … hi that are releaseStep apart, counted from contact, and MAX_LAG
// itself; instants rise. The slices are the reader's scratch.
func (r *Reader) lagKnots(lo, hi int) (t, lag []float64) {
	ts, ls := r.k.Spare(0), r.k.Spare(1)
	first := len(ts)
	put := func(at, l float64) {
		if first == len(ts) || ts[first]-at >= releaseStep {
			first--
			ts[first], ls[first] = at, l
		}
	}
	for i := hi; i > lo; i-- {
		if l := r.k.LagAt(i); !math.IsNaN(l) {
			put(r.c.T[i], l)
		}
	}
	from := r.t[phase.MaxLag]
	put(from, r.k.LagBetween(from))
	return ts[first:], ls[first:]
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
