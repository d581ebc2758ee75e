package signal

import (
	"math"

	"example.com/courtkin/service/geom"
)

// Sample is one reading of a quantity. It is missing, and only asks for the
// state at its time, when Value is not finite or SD is not a positive finite number.
type Sample struct {
	Time  float64 // seconds
	Value float64
	SD    float64 // standard deviation of Value's error, same unit
}

func (s Sample) seen() bool { return finite(s.Value) && s.SD > 0 && finite(s.SD) }

// State is a quantity with its first and second time derivative and their
// covariance, in the order position, velocity, acceleration.
type State struct {
	Pos, Vel, Acc float64
	Cov           geom.Mat3
}

// Smoother finds the most probable course of one quantity whose third
// derivative is white noise, from noisy samples at any times, with its
// covariance. No cutoff is chosen: the density q of the jerk says how fast the
// quantity can turn.
//
//	x = (position, velocity, acceleration)
//	x_{k+1} = F·x_k + w,  F = [1 h h²/2; 0 1 h; 0 0 1],  w ~ N(0, Q)
//	Q = q·[h⁵/20 h⁴/8 h³/6; h⁴/8 h³/3 h²/2; h³/6 h²/2 h]
//	z_k = position + N(0, sd_k²)
//
// A forward filter and a backward pass of Rauch, Tung & Striebel (1965, AIAA J
// 3:1445) are exact here. Nothing is assumed of the first state: both passes
// carry information (inverse covariance), which is simply zero at the start,
// so a flat prior needs no large number and no special case. With equal sd the
// position is the quintic smoothing spline with λ = sd²/q
// (Wahba 1978, J R Stat Soc B 40:364).
//
// At the very end of a record the velocity leans on the last acceleration. Where
// the truth levels off just there, as head speed does at impact, it over-reads:
// by 3 % of 25 m/s with 2 mm and 7 % with 8 mm of noise at 120 Hz, about one and
// two of its own sds (made swing, checks/impact_test.go).
//
// The zero value is ready. It keeps its memory from call to call and then does
// not allocate; it is not safe for concurrent use.
type Smoother struct {
	// Fixed during a call: units that keep the matrices near 1.
	step   float64 // seconds, mean time between samples
	unit   float64 // sd of the first sample seen
	origin float64 // its value

	steps  []message // after each sample, forward
	states []State
	fit    likelihood
}

// message is what the samples so far say of the state: exp(−½·xᵀ·info·x + vec·x).
type message struct {
	info geom.Mat3
	vec  geom.Vec3
}

// likelihood collects the terms of the log density of all samples.
type likelihood struct {
	samples int
	sumLog  float64 // Σ ln sd + ½·Σ ln det(I + M·Q) + ½·ln det(last information)
	quad    float64 // the exponent, −2 × : has n − 3 degrees of freedom
}

// minSeen is how many samples at different times a state needs.
const minSeen = 3

// Smooth returns the state at each sample's time, which must not fall, for jerk
// density q ≥ 0 in unit²/s⁵. The result is valid until the next call. It fails
// with ErrSamples when fewer than three samples at different times were seen,
// a time is not finite or falls, or the figures leave the range of float64.
func (s *Smoother) Smooth(samples []Sample, q float64) ([]State, error) {
	if !s.forward(samples, q) {
		return nil, ErrSamples
	}
	s.backward(samples, s.scaled(q))
	for _, x := range s.states {
		if !finite(x.Pos + x.Vel + x.Acc + x.Cov[0] + x.Cov[4] + x.Cov[8]) {
			return nil, ErrSamples
		}
	}
	return s.states, nil
}

// LogLikelihood returns ln ∫ p(samples | x) dx over a flat first state x (in
// the unit and seconds) of the last successful call: comparable between
// different q and sd for the same samples.
func (s *Smoother) LogLikelihood() float64 {
	l, free := s.fit, float64(s.fit.samples-minSeen)
	return -l.sumLog - l.quad/2 - free/2*math.Log(2*math.Pi) - free*math.Log(s.unit) - 3*math.Log(s.step)
}

// scaled is q in the smoother's own units.
func (s *Smoother) scaled(q float64) float64 { return q * math.Pow(s.step, 5) / (s.unit * s.unit) }

// forward runs the filter; false when the samples do not determine the state.
func (s *Smoother) forward(samples []Sample, q float64) bool {
	if !s.measure(samples) || !(q >= 0) || math.IsInf(q, 1) {
		return false
	}
	q = s.scaled(q)
	s.steps = s.steps[:0]
	s.fit = likelihood{}
	var m message
	for k, z := range samples {
		if k > 0 {
			m = s.predict(m, (z.Time-samples[k-1].Time)/s.step, q)
		}
		if z.seen() {
			m = s.update(m, (z.Value-s.origin)/s.unit, z.SD/s.unit)
		}
		s.steps = append(s.steps, m)
	}
	return s.conclude(m)
}

// measure settles the units; false when the samples cannot be used.
func (s *Smoother) measure(samples []Sample) bool {
	seen, last := 0, math.Inf(-1)
	for k, z := range samples {
		if !finite(z.Time) || (k > 0 && z.Time < samples[k-1].Time) {
			return false
		}
		if !z.seen() {
			continue
		}
		if seen == 0 {
			s.origin, s.unit = z.Value, z.SD
		}
		if z.Time > last {
			seen, last = seen+1, z.Time
		}
	}
	if seen < minSeen {
		return false
	}
	s.step = (samples[len(samples)-1].Time - samples[0].Time) / float64(len(samples)-1)
	return finite(s.step)
}

// transition returns F⁻¹ over h and the covariance Q of what happens on the way.
func transition(h, q float64) (back, noise geom.Mat3) {
	h2 := h * h
	a, b, c := q*h2*h2*h/20, q*h2*h2/8, q*h2*h/6
	return geom.Mat3{1, -h, h2 / 2, 0, 1, -h, 0, 0, 1},
		geom.Mat3{a, b, c, b, q * h2 * h / 3, q * h2 / 2, c, q * h2 / 2, q * h}
}

// carry moves a message over h without noise: M = F⁻ᵀ·info·F⁻¹, m = F⁻ᵀ·vec.
func (m message) carry(back geom.Mat3) message {
	return message{info: back.T().Mul(m.info).Mul(back), vec: back.T().Apply(m.vec)}
}

// predict carries the message over h and lets noise Q blur it:
// (I + M·Q)⁻¹·M and (I + M·Q)⁻¹·m, which holds for singular M and Q alike.
func (s *Smoother) predict(m message, h, q float64) message {
	back, noise := transition(h, q)
	m = m.carry(back)
	spread := geom.Identity3.Add(m.info.Mul(noise))
	blur, _ := spread.Inverse() // I + M·Q has no eigenvalue below 1
	vec := blur.Apply(m.vec)
	s.fit.sumLog += .5 * math.Log(spread.Det())
	s.fit.quad -= m.vec.Dot(noise.Apply(vec))
	return message{info: symmetric(blur.Mul(m.info)), vec: vec}
}

// update adds what a reading z of the position with standard deviation sd says.
func (s *Smoother) update(m message, z, sd float64) message {
	w := 1 / (sd * sd)
	m.info[0] += w
	m.vec.X += w * z
	s.fit.samples++
	s.fit.sumLog += math.Log(sd)
	s.fit.quad += w * z * z
	return m
}

// conclude adds the terms of the last message; false when its information is singular.
func (s *Smoother) conclude(m message) bool {
	cov, ok := m.info.Inverse()
	det := m.info.Det()
	if !ok || !(det > 0) {
		return false
	}
	s.fit.sumLog += .5 * math.Log(det)
	s.fit.quad -= m.vec.Dot(cov.Apply(m.vec))
	return finite(s.fit.sumLog) && finite(s.fit.quad)
}

// backward smooths from the last sample to the first. Given the next state, the
// present one has covariance C and mean J·next + C·vec:
//
//	C = (info + Fᵀ·Q⁻¹·F)⁻¹ = F⁻¹·Q·(I + M·Q)⁻¹·F⁻ᵀ,  J = F⁻¹·(I + Q·M)⁻¹
func (s *Smoother) backward(samples []Sample, q float64) {
	n := len(s.steps)
	s.states = s.states[:0]
	for range n {
		s.states = append(s.states, State{})
	}
	cov, _ := s.steps[n-1].info.Inverse()
	x := cov.Apply(s.steps[n-1].vec)
	s.states[n-1] = s.state(x, cov)
	for k := n - 2; k >= 0; k-- {
		back, noise := transition((samples[k+1].Time-samples[k].Time)/s.step, q)
		blur, _ := geom.Identity3.Add(s.steps[k].carry(back).info.Mul(noise)).Inverse()
		given := back.Mul(noise).Mul(blur).Mul(back.T())
		gain := back.Mul(blur.T())
		x = gain.Apply(x).Add(given.Apply(s.steps[k].vec))
		cov = symmetric(gain.Mul(cov).Mul(gain.T()).Add(given))
		s.states[k] = s.state(x, cov)
	}
}

// state turns the smoother's units back into the samples'.
func (s *Smoother) state(x geom.Vec3, cov geom.Mat3) State {
	pos, vel, acc := s.unit, s.unit/s.step, s.unit/(s.step*s.step)
	rows := geom.Mat3{pos * pos, pos * vel, pos * acc, vel * pos, vel * vel, vel * acc, acc * pos, acc * vel, acc * acc}
	for i := range cov {
		cov[i] *= rows[i]
	}
	return State{Pos: s.origin + pos*x.X, Vel: vel * x.Y, Acc: acc * x.Z, Cov: cov}
}

// symmetric takes rounding's asymmetry out of m.
func symmetric(m geom.Mat3) geom.Mat3 { return m.Add(m.T()).Scale(.5) }
