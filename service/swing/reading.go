package swing

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
)

const (
	readEvery = 100_000 // µs of the clip's clock between readings
	headingIn = 1.0     // s: how slowly the waiting player's heading is followed
)

// onCourt reports whether world points are in court axes.
func (s *Setup) onCourt() bool { return s.Axes == camera.AxesCourt }

// read tells what is true now, about ten times a second.
func (l *live) read(to Sink) {
	l.followHeading()
	if l.us-l.readUS < readEvery {
		return
	}
	l.readUS = l.us
	if l.phase == phase.Recovery && l.speed < readyHand && l.view.seconds(l.since, l.us) > 0.3 {
		l.enter(phase.Ready)
	}
	r := Reading{
		TimeUS: l.us, Phase: l.phase,
		RacketSpeed: l.racketSpeed(), ShoulderTurn: l.shoulderTurn(), Lag: l.lag(),
		Grade: measure.Rough,
	}
	if math.IsNaN(r.RacketSpeed) && math.IsNaN(r.ShoulderTurn) && math.IsNaN(r.Lag) {
		r.Grade = measure.NotMeasurable
	}
	to.Reading(r)
}

// racketSpeed returns the tip's speed relative to the body, m/s; NaN unseen.
func (l *live) racketSpeed() float64 {
	if !l.tip.known() {
		return math.NaN()
	}
	return l.tip.v.Norm()
}

// chest returns the horizontal unit normal out of the chest.
func (l *live) chest() (geom.Vec3, bool) {
	if !l.view.world || !l.line.known() {
		return geom.Vec3{}, false
	}
	up := l.view.up(l.view.ring.next - 1)
	c := up.Cross(l.line.x)
	n := c.Norm()
	return c.Scale(1 / n), n > 0.1
}

// followHeading follows where the chest of a waiting player faces.
func (l *live) followHeading() {
	c, ok := l.chest()
	if !ok || l.court || l.phase != phase.Ready || math.Abs(l.rate) > turnOn {
		return
	}
	w := min(1, l.view.seconds(l.was, l.us)/headingIn)
	if l.heading == (geom.Vec3{}) {
		w = 1
	}
	l.heading = l.heading.Add(c.Sub(l.heading).Scale(w))
}

// shoulderTurn returns how far the chest is turned away from the net (court
// axes) or from where it faced in READY, degrees in [0, 180]; NaN when unknown.
func (l *live) shoulderTurn() float64 {
	c, ok := l.chest()
	ahead := l.heading
	if l.court {
		ahead = geom.Vec3{X: 1}
	}
	if !ok || ahead == (geom.Vec3{}) {
		return math.NaN()
	}
	return geom.Between(c, ahead).Degrees()
}

// lag returns the racket's lag behind the hand, degrees; NaN while the hand
// moves slower than 1 m/s or the racket's two ends are not both seen in the world.
func (l *live) lag() float64 {
	k := l.view.ring.next - 1
	if !l.view.world || !l.tip.known() || !l.butt.known() || l.view.ring.worldAt(k, body.RacketTip).Score == 0 {
		return math.NaN()
	}
	v := l.butt.v.Add(l.center.v)
	if v.Norm() < 1 {
		return math.NaN()
	}
	return geom.Between(l.tip.x.Sub(l.butt.x), v).Degrees() - 90
}
