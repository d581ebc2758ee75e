package compare

import (
	"math"
	"testing"

	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
)

// TestMisplacedEventsDoNotShear: the courses are the same, and an event of one side
// stands in the wrong place, with the error that it states. Whether it is an inner or
// an outer one, the curves stay the same.
func TestMisplacedEventsDoNotShear(t *testing.T) {
	for _, c := range []struct {
		name  string
		kind  phase.EventKind
		shift float64
		sd    float64
	}{
		{"first, far off", phase.TurnStart, .3, .02},
		{"first, far off the other way", phase.TurnStart, -.3, .02},
		{"inner, past its neighbours", phase.DropStart, -.4, .05},
		{"along a flat top", phase.MaxLag, -.05, .004},
		{"last", phase.FollowEnd, .15, .01},
	} {
		a, b := withTrace(made(nil, nil), nil, identity), withTrace(made(nil, nil), nil, identity)
		for i := range b.Events {
			if e := &b.Events[i]; e.Kind == c.kind {
				e.Time, e.SD = e.Time+c.shift, c.sd
			}
		}
		for _, d := range compared(t, a, b, Default()).Curves {
			if d.Verdict == Different || d.RMS > .02*math.Max(1, d.RMS) && d.Unit == "m" {
				t.Errorf("%s: %s is %v, rms %.3g", c.name, d.Series, d.Verdict, d.RMS)
			}
		}
	}
}

// TestSureEventsComeFirst: one found in the wrong place, and unsure, neither pushes a
// sure one out nor says that the order differs.
func TestSureEventsComeFirst(t *testing.T) {
	a, b := made(nil, nil), made(nil, nil)
	for i := range b.Events {
		if e := &b.Events[i]; e.Kind == phase.TurnComplete {
			e.Time, e.SD = .2, .2 // before TURN_START at 0.3 s
		}
	}
	al, swapped := align(a, b)
	if swapped {
		t.Error("an order within its error is called another")
	}
	for _, k := range al.knots {
		near(t, "candidate", k.cand, k.ref, 1e-9)
	}
	if n := len(al.knots); n != len(a.Events)-1 {
		t.Errorf("%d knots, want all but one of %d", n, len(a.Events))
	}
}

// TestEvenPace against the normal equations solved by hand: one event at 0.3 s with
// offset 0.1 ± 0.06 under a walk of variance 0.012·0.3 = 0.06² is drawn half way, with
// error 0.06/√2; a second one 0.3 s further, told to nothing, follows it.
func TestEvenPace(t *testing.T) {
	sd := math.Sqrt(paceSpread * .3)
	k := []knot{{}, {ref: .3, cand: .4, sd: sd}, {ref: .6, cand: 2, sd: 1e6}}
	walk(k)
	near(t, "half way", k[1].cand, .35, 1e-9)
	near(t, "its error", k[1].sd, sd/math.Sqrt2, 1e-9)
	near(t, "what follows", k[2].cand, .65, 1e-6)
	near(t, "its error", k[2].sd, math.Sqrt(1.5)*sd, 1e-6)
	// Two sights: (1/p+1/s+1/p)·x1 − x2/p = .1/s, −x1/p + (1/p+1/s)·x2 = −.05/s
	// with p = s = 0.0036: 3·x1 − x2 = .1, −x1 + 2·x2 = −.05, so x1 = .03, x2 = −.01.
	k = []knot{{}, {ref: .3, cand: .4, sd: sd}, {ref: .6, cand: .55, sd: sd}}
	walk(k)
	near(t, "first of two", k[1].cand, .33, 1e-9)
	near(t, "second of two", k[2].cand, .59, 1e-9)
}

// TestSlowedClipsAlign: a clip slowed four times tells its events on its own clock, four
// times as long; its trace is in real seconds, and so is the alignment.
func TestSlowedClipsAlign(t *testing.T) {
	slow := withTrace(made(nil, nil), nil, identity)
	slow.Capture.SlowMotion = 4
	for i := range slow.Events {
		slow.Events[i].Time *= 4
		slow.Events[i].SD *= 4
	}
	for i := range slow.Phases {
		slow.Phases[i].Start *= 4
		slow.Phases[i].End *= 4
	}
	plain := withTrace(made(nil, nil), nil, identity)
	r, want := compared(t, plain, slow, Default()), compared(t, plain, plain, Default())
	if len(r.Alignment) != len(want.Alignment) {
		t.Errorf("%d pairs, want %d", len(r.Alignment), len(want.Alignment))
	}
	for _, p := range r.Alignment {
		near(t, "candidate time", p.Candidate, p.Reference, 1e-9)
	}
	if e, _ := slow.Event(phase.Contact); e.Time != 4.8 {
		t.Error("the sheet was changed")
	}
}

// TestWaitingIsNoPartOfTheSwing: how the player waits before the turn, and walks off after
// the follow-through, makes no curve different; what he does in between does.
func TestWaitingIsNoPartOfTheSwing(t *testing.T) {
	for _, c := range []struct {
		from, to float64
		want     bool
	}{{-0.9, -0.72, false}, {0.27, 0.4, false}, {-0.5, -0.2, true}} {
		a, b := withTrace(made(nil, nil), nil, identity), withTrace(made(nil, nil), nil, identity)
		for _, s := range []*measure.Sheet{a, b} {
			for i := range s.Events {
				switch e := &s.Events[i]; e.Kind {
				case phase.TurnStart:
					e.Time = 1.2 - 0.7
				case phase.FollowEnd:
					e.Time = 1.2 + 0.25
				}
			}
		}
		for _, s := range b.Trace.Series {
			for i, at := range b.Trace.Times {
				if at := float64(at); s.Name == "tip.y" && at > c.from && at < c.to {
					s.Values[i] += 0.5
				}
			}
		}
		different := false
		for _, d := range compared(t, a, b, Default()).Curves {
			different = different || d.Verdict == Different
		}
		if different != c.want {
			t.Errorf("half a metre from %v to %v s: different is %v", c.from, c.to, different)
		}
	}
}
