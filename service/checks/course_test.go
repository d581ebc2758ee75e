package checks

import (
	"math"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/track"
)

// instants are samples 4 ms apart, contact at 1 s standing twice.
func instants() (t []float64, contact int) {
	for i := range 251 {
		t = append(t, .004*float64(i))
	}
	contact = 250
	for i := range 250 {
		t = append(t, 1+.004*float64(i))
	}
	return t, contact
}

// stillCourse is a body at rest with a hand that moves toward the net.
func stillCourse(places map[body.Point]geom.Vec3) *track.Course {
	c := &track.Course{HasRacket: true}
	c.T, c.Break = instants()
	n := len(c.T)
	same := func(v geom.Vec3) []geom.Vec3 {
		out := make([]geom.Vec3, n)
		for i := range out {
			out[i] = v
		}
		return out
	}
	for p, v := range places {
		c.Has[p], c.Pos[p], c.Vel[p] = true, same(v), same(geom.Vec3{})
	}
	c.Grip, c.GripVel = same(geom.Vec3{X: .3, Y: 1, Z: .5}), same(geom.Vec3{X: 5})
	c.Axis, c.AxisVel = same(geom.Vec3{Z: 1}), same(geom.Vec3{})
	c.Center, c.CenterVel = same(geom.Vec3{X: .4, Y: 1.1, Z: .9}), same(geom.Vec3{X: 10})
	nan := math.NaN()
	c.Ball = track.Flight{Release: nan, SpeedIn: nan, SpeedOut: nan, Apex: nan}
	return c
}

// someTimes are events that do not hang on the motion.
func someTimes() phase.Times {
	t := phase.None()
	t[phase.TurnStart], t[phase.TurnComplete], t[phase.DropStart] = .2, .5, .6
	t[phase.ForwardStart], t[phase.RacketLow], t[phase.MaxLag] = .7, .8, .85
	t[phase.Contact], t[phase.FollowEnd] = 1, 1.4
	return t
}

// evaluated is one measure of a course with those events.
func evaluated(t *testing.T, c *track.Course, name string, s body.Stroke) float64 {
	i, ok := measure.Index(name)
	if !ok {
		t.Fatalf("no measure %q", name)
	}
	return measure.Evaluate(c, someTimes(), measure.Context{Context: phase.Context{Stroke: s}, Stature: 1.8})[i]
}

// course is the built swing without any error, from 1 s before contact to 1 s after.
func (b built) course() *track.Course {
	c := &track.Course{HasRacket: true}
	c.T, c.Break = instants()
	const h = 1e-6
	for i, t := range c.T {
		a, z := t-1-h, t-1+h
		if i == c.Break {
			z = t - 1
		} else if i == c.Break+1 {
			a = t - 1
		}
		p, pa, pz := b.place(t-1), b.place(a), b.place(z)
		rate := func(u, v geom.Vec3) geom.Vec3 { return v.Sub(u).Scale(1 / (z - a)) }
		for q := range body.Ball {
			c.Has[q] = true
			c.Pos[q], c.Vel[q] = append(c.Pos[q], p[q]), append(c.Vel[q], rate(pa[q], pz[q]))
		}
		axis := func(p [body.NumPoints]geom.Vec3) geom.Vec3 { return p[body.RacketTip].Sub(p[body.RacketButt]).Unit() }
		grip := func(p [body.NumPoints]geom.Vec3) geom.Vec3 { return p[body.RacketButt].Add(axis(p).Scale(.1)) }
		head := func(p [body.NumPoints]geom.Vec3) geom.Vec3 { return p[body.RacketTip].Lerp(p[body.RacketThroat], .5) }
		c.Grip, c.GripVel = append(c.Grip, grip(p)), append(c.GripVel, rate(grip(pa), grip(pz)))
		c.Axis, c.AxisVel = append(c.Axis, axis(p)), append(c.AxisVel, rate(axis(pa), axis(pz)))
		c.Center, c.CenterVel = append(c.Center, head(p)), append(c.CenterVel, rate(head(pa), head(pz)))
	}
	c.Ball = track.Flight{Release: math.NaN(), SpeedIn: b.ballIn, SpeedOut: b.ballOut, Apex: math.NaN()}
	return c
}

// scaled is the course with lengths and times multiplied.
func scaled(c *track.Course, length, time float64) *track.Course {
	all := func(v []geom.Vec3, k float64) []geom.Vec3 {
		out := make([]geom.Vec3, len(v))
		for i := range v {
			out[i] = v[i].Scale(k)
		}
		return out
	}
	o := *c
	o.T = make([]float64, len(c.T))
	for i := range c.T {
		o.T[i] = c.T[i] * time
	}
	for p := range c.Pos {
		o.Pos[p], o.Vel[p] = all(c.Pos[p], length), all(c.Vel[p], length/time)
	}
	o.Grip, o.GripVel = all(c.Grip, length), all(c.GripVel, length/time)
	o.AxisVel = all(c.AxisVel, 1/time)
	o.Center, o.CenterVel = all(c.Center, length), all(c.CenterVel, length/time)
	o.Ball.SpeedIn, o.Ball.SpeedOut = c.Ball.SpeedIn*length/time, c.Ball.SpeedOut*length/time
	return &o
}

// dimensions are the powers of length and time in a unit of the catalog.
var dimensions = map[string][2]float64{"m": {1, 0}, "s": {0, 1}, "m/s": {1, -1}, "deg": {0, 0}, "deg/s": {0, -1}, "1": {0, 0}}

// fixedStretch are measures over a stretch of fixed duration, which no change of time
// scales: the last 40 ms, contact ± 60 ms, 5 ms of grace.
var fixedStretch = map[string]bool{"path.rise_angle": true, "path.out_angle": true, "head.stillness": true, "chain.in_order": true}

// departure is how far measures of a built swing are from scaling as their units say,
// relative: every length times length, every time times time.
func departure(t *testing.T, length, time float64) (worst float64) {
	b := backhand(71.1, 47.4).settled()
	ctx := measure.Context{Context: phase.Context{Stroke: b.stroke}, Stature: 1.8}
	c := b.course()
	var r measure.Reader
	times := r.Read(c, ctx)
	moved := times
	for i := range moved {
		moved[i] *= time
	}
	before := measure.Evaluate(c, times, ctx)
	ctx.Stature *= length
	after := measure.Evaluate(scaled(c, length, time), moved, ctx)
	known := 0
	for i, row := range measure.Catalog() {
		power, ok := dimensions[row.Unit]
		if !ok {
			t.Errorf("%s: no dimension for %q", row.Name, row.Unit)
		}
		if math.IsNaN(before[i]) || time != 1 && fixedStretch[row.Name] {
			continue
		}
		known++
		want := before[i] * math.Pow(length, power[0]) * math.Pow(time, power[1])
		if d := math.Abs(after[i]-want) / max(math.Abs(want), 1e-3); !(d <= worst) {
			t.Logf("%s: %.6g, want %.6g", row.Name, after[i], want)
			worst = d
		}
	}
	if known < 30 {
		t.Errorf("only %d measures were read", known)
	}
	return worst
}

// dimensionRows: every measure scales as its unit says.
func dimensionRows() []row {
	r := func(id, quantity string, length, time float64) row {
		return row{id: id, quantity: quantity + ": largest relative departure of a measure from its unit's scaling", want: 1e-6, below: true,
			got: func(t *testing.T) float64 { return decades(departure(t, length, time)) }, source: "dimensional analysis", seen: computed}
	}
	return []row{
		r("dim length", "a swing by formula, every length 1.3 times as long", 1.3, 1),
		r("dim time", "the same, in 1.3 times the time (measures over a fixed stretch of time left out)", 1, 1.3),
		r("dim both", "the same, both", 1.3, 1.3),
	}
}
