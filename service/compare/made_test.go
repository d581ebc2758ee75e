package compare

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %v, want %v ± %v", what, got, want, tol)
	}
}

// level is a plausible forehand for each measure; the made swings vary about it.
var level = map[string]float64{
	"racket_speed.tip.contact": 30, "racket_speed.tip.peak": 31, "racket_speed.head.contact": 26, "racket_speed.hand.contact": 11,
	"racket_speed.tip.mean_forward": 11, "tempo.preparation": .7, "tempo.forward_swing": .2, "tempo.follow_through": .35, "tempo.split_to_turn": .1,
	"lag.max": 70, "lag.contact": 15, "lag.release_rate": 1500, "lag.release_time": .08, "lag.snap_back": 1.1, "lag.tip_wrap": .1, "lag.tip_path": 2.2,
	"path.rise_angle": 20, "path.out_angle": 8, "path.tip_drop": .5, "path.hand_drop": .2,
	"take_back.tip_above_hands": .3, "take_back.hands_height": .3, "take_back.tip_side": .3,
	"turn.shoulders.max": 95, "turn.shoulders.contact": 20, "turn.shoulders.forward_range": 70, "turn.hips.max": 60, "turn.hips.contact": 10,
	"turn.hips.forward_range": 45, "turn.separation.max": 35, "turn.separation.forward_start": 25, "turn.separation.contact": 8,
	"elbow.hitting.contact": 40, "elbow.hitting.forward_start": 60, "wrist.racket_forearm.max": 90,
	"contact.height": 1.0, "contact.height_waist": .05, "contact.ahead": .45, "spacing.hands": .5, "spacing.clearance": .35, "spacing.reach": .8,
	"posture.shoulder_tilt": 5, "posture.lean_side": 4, "posture.lean_forward": 8, "head.stillness": .01, "head.over_shoulder": 60,
	"legs.base_width": .4, "legs.knee_back.max": 50, "legs.knee_front.max": 40, "legs.rise": .1, "legs.stance": 20,
	"chain.hips_to_racket": .08, "chain.in_order": 1, "ball.speed_in": 15, "ball.speed_out": 28,
}

// sdByUnit is about what marker-like world points give.
func sdOf(name, unit string) float64 {
	switch unit {
	case "deg":
		return 2.5
	case "m":
		return 0.012
	case "s":
		return 0.008
	case "m/s":
		return 0.02 * level[name]
	case "deg/s":
		return 60
	}
	return 0.02
}

func unitOf(name string) string {
	i, ok := measure.Index(name)
	if !ok {
		return "1"
	}
	return measure.Catalog()[i].Unit
}

// made draws a swing: the level, changed by change, seen with noise.
func made(r *rand.Rand, change map[string]float64) *measure.Sheet {
	s := &measure.Sheet{ID: "made", Stroke: body.Forehand, StrokeConfidence: .98, Hand: body.RightHanded,
		Capture: measure.Capture{View: camera.ViewBehind, FrameRate: 120, SlowMotion: 1, Method: "world"}}
	for _, t := range traits {
		v, ok := level[t.name]
		if !ok {
			continue
		}
		unit := unitOf(t.name)
		sd := sdOf(t.name, unit)
		x := v + change[t.name]
		if r != nil {
			x += sd * r.NormFloat64()
		}
		s.Figures = append(s.Figures, measure.Figure{Name: t.name, Value: x, SD: sd, Low: x - z95*sd, High: x + z95*sd, Unit: unit, Grade: measure.Good})
	}
	for kind, at := range map[phase.EventKind]float64{phase.TurnStart: .3, phase.TurnComplete: .7, phase.DropStart: .85, phase.ForwardStart: 1.0,
		phase.MaxLag: 1.12, phase.RacketLow: 1.08, phase.Contact: 1.2, phase.FollowEnd: 1.55} {
		s.Events = append(s.Events, phase.Event{Kind: kind, Time: at, SD: .004})
	}
	s.Phases = []phase.Phase{{Kind: phase.TakeBack, Start: .3, End: .85}, {Kind: phase.Drop, Start: .85, End: 1}, {Kind: phase.ForwardSwing, Start: 1, End: 1.2}}
	return s
}

// withTrace adds a smooth made trace, noise correlated over a few samples.
func withTrace(s *measure.Sheet, r *rand.Rand, warp func(float64) float64) *measure.Sheet {
	tr := &measure.Trace{}
	for t := -0.9; t <= 0.35; t += 1.0 / 120 {
		tr.Times = append(tr.Times, float32(t))
	}
	side := float32(1)
	add := func(name, unit string, sd float64, f func(float64) float64) {
		v := measure.Series{Name: name, Unit: unit}
		noise := 0.0
		for _, t := range tr.Times {
			if r != nil {
				noise = .8*noise + .6*sd*r.NormFloat64()
			}
			v.Values = append(v.Values, float32(f(warp(float64(t)))+noise))
			v.SDs = append(v.SDs, float32(sd))
		}
		tr.Series = append(tr.Series, v)
	}
	add("grip.x", "m", .01, func(t float64) float64 { return .3 + .8*math.Tanh(5*t) })
	add("grip.y", "m", .01, func(t float64) float64 { return 1 + .3*t*t })
	add("grip.z", "m", .01, func(t float64) float64 { return float64(side)*.5 - .2*t })
	add("tip.x", "m", .012, func(t float64) float64 { return .4 + 1.2*math.Tanh(6*t) })
	add("tip.y", "m", .012, func(t float64) float64 { return 1 + .5*math.Sin(3*t) })
	add("tip.z", "m", .012, func(t float64) float64 { return 1 - .4*t })
	add("left_hip.x", "m", .01, func(float64) float64 { return .1 })
	add("right_hip.x", "m", .01, func(float64) float64 { return -.1 })
	add("left_hip.z", "m", .01, func(float64) float64 { return -.1 })
	add("right_hip.z", "m", .01, func(float64) float64 { return .1 })
	add("right_wrist.x", "m", .01, func(t float64) float64 { return .3 + .8*math.Tanh(5*t) })
	add("right_wrist.y", "m", .01, func(t float64) float64 { return 1 + .3*t*t })
	add("right_wrist.z", "m", .01, func(t float64) float64 { return .45 - .2*t })
	add("left_wrist.x", "m", .01, func(float64) float64 { return .2 })
	add("left_wrist.y", "m", .01, func(float64) float64 { return 1.2 })
	add("left_wrist.z", "m", .01, func(float64) float64 { return -.4 })
	add("racket_speed.tip", "m/s", .5, func(t float64) float64 { return 30 * math.Exp(-sq(t/.15)) })
	add("shoulder_turn", "deg", 2, func(t float64) float64 { return 60 - 50*math.Tanh(4*t) })
	s.Trace = tr
	return s
}

func identity(t float64) float64 { return t }

func compared(t *testing.T, a, b *measure.Sheet, opt Options) Result {
	t.Helper()
	r, err := Swings(a, b, opt)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func named(r Result) []string {
	var out []string
	for _, d := range r.Differences {
		if d.Verdict == Different {
			out = append(out, d.Measure)
		}
	}
	return out
}

func find(t *testing.T, r Result, name string) Difference {
	t.Helper()
	for _, d := range r.Differences {
		if d.Measure == name {
			return d
		}
	}
	t.Fatalf("%s is not in the result", name)
	return Difference{}
}

func hasCode(r Result, code string) bool {
	for _, w := range r.Warnings {
		if w.Code == code {
			return true
		}
	}
	return false
}
