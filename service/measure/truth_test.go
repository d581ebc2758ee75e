package measure_test

import (
	"math"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/synth"
	"example.com/courtkin/service/track"
)

// instants returns samples 4 ms apart with contact twice, and the first of the two.
func instants(from, contact, to float64) (t []float64, brk int) {
	const step = 0.004
	n := int((contact - from) / step)
	for i := n; i >= 0; i-- {
		t = append(t, contact-float64(i)*step)
	}
	for x := contact; x < to; x += step {
		t = append(t, x)
	}
	return t, n
}

// paths are a made swing's curves as functions of time, mirrored to right-handed.
type paths func(t float64) ([body.NumPoints]geom.Vec3, geom.Vec3, geom.Vec3, geom.Vec3)

func pathsOf(m *synth.Motion) paths {
	return func(t float64) (p [body.NumPoints]geom.Vec3, grip, axis, center geom.Vec3) {
		seen := m.At(t).P
		p = seen
		if m.LeftHanded {
			for i := range seen {
				p[body.Point(i).Twin()] = seen[i].MirrorZ()
			}
		}
		axis = p[body.RacketTip].Sub(p[body.RacketButt]).Unit()
		return p, p[body.RacketButt].Add(axis.Scale(0.10)), axis, p[body.RacketTip].Lerp(p[body.RacketThroat], 0.5)
	}
}

// exact is the course of a made swing without any error.
func exact(m *synth.Motion) *track.Course {
	k, at := m.Struck[0], pathsOf(m)
	c := &track.Course{HasRacket: true, Ball: track.Flight{Release: k.Release, SpeedIn: k.In.Norm(), SpeedOut: k.Out.Norm(), Apex: math.NaN()}}
	c.T, c.Break = instants(math.Max(m.Start, k.Contact-3.2), k.Contact, math.Min(m.End, k.Contact+2.6))
	for i, t := range c.T {
		a, b := t-1e-5, t+1e-5
		if i == c.Break {
			b = t - 1e-9
		} else if i == c.Break+1 {
			a = t + 1e-9
		}
		rate := func(x, y geom.Vec3) geom.Vec3 { return y.Sub(x).Scale(1 / (b - a)) }
		p, grip, axis, center := at(t)
		pa, ga, ua, ca := at(a)
		pb, gb, ub, cb := at(b)
		for q := range body.Ball {
			c.Has[q] = true
			c.Pos[q], c.Vel[q] = append(c.Pos[q], p[q]), append(c.Vel[q], rate(pa[q], pb[q]))
		}
		c.Grip, c.GripVel = append(c.Grip, grip), append(c.GripVel, rate(ga, gb))
		c.Axis, c.AxisVel = append(c.Axis, axis), append(c.AxisVel, rate(ua, ub))
		c.Center, c.CenterVel = append(c.Center, center), append(c.CenterVel, rate(ca, cb))
	}
	return c
}

// On made swings without error, events and measures are those that the generator
// finds by its own reading of the definitions on a grid of 0.5 ms: 3 ms and a tenth
// of the promised sd, and as far again as a hair's change of the motion moves them.
func TestAgreesWithMadeTruth(t *testing.T) {
	skip := map[string]string{
		"serve.toss_height": "the ball's apex is the course's, not set here",
		"lag.release_rate":  "the generator also takes the lag of a hand slower than 1 m/s",
	}
	compared := 0
	check := func(what string, got, want, tol, sway float64) {
		if math.IsInf(sway, 1) || sway > 20*tol {
			return // not scored: a hair's change moves it far
		}
		compared++
		if math.IsNaN(got) != math.IsNaN(want) || math.Abs(got-want) > tol+sway {
			t.Errorf("%s = %.5g, want %.5g ± %.2g", what, got, want, tol+sway)
		}
	}
	for s := body.Forehand; s < body.NumStrokes; s++ {
		m := synth.NewSwing(synth.Spec{Stroke: s, Seed: 3})
		truth := m.Truth(0, true)
		var r measure.Reader
		times := r.Read(exact(m), measure.Context{Context: phase.Context{Stroke: s}, Stature: m.Build.Stature})
		for i, d := range phase.Catalog() {
			check(s.String()+" "+d.Title, times[i+1], truth.Events[i+1], 0.003, truth.EventSway[i+1])
		}
		for i, v := range r.Values(nil) {
			row := &measure.Catalog()[i]
			want, ok := truth.Measures[row.Name]
			if !ok {
				want = math.NaN()
			}
			if skip[row.Name] == "" {
				check(s.String()+" "+row.Name, v, want, 0.1*row.PromisedSD, truth.MeasureSway[row.Name])
			}
		}
	}
	if compared < 400 {
		t.Errorf("only %d values compared", compared)
	}
}
