package compare

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
)

// TestEqualSwingsGiveNoDifferences: 600 equal pairs, more than 50 figures and
// 18 curves each. With nothing truly different, the false discovery rate is the
// share of pairs that name anything; q = 0.01 and three binomial errors of
// √(0.01·0.99/600) = 0.004 allow 0.022.
func TestEqualSwingsGiveNoDifferences(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	const pairs = 600
	wrong, same, all := 0, 0, 0
	for range pairs {
		res := compared(t, withTrace(made(r, nil), r, identity), withTrace(made(r, nil), r, identity), Default())
		bad := len(named(res)) > 0
		for _, c := range res.Curves {
			bad = bad || c.Verdict == Different
		}
		if bad {
			wrong++
		}
		for _, d := range res.Differences {
			all++
			if d.Verdict == Same {
				same++
			}
		}
	}
	if share := float64(wrong) / pairs; share > 0.022 {
		t.Errorf("%.3f of equal pairs name a difference, want at most 0.022", share)
	} else {
		t.Logf("false: %.4f of pairs; same: %.3f of figures", share, float64(same)/float64(all))
	}
	if share := float64(same) / float64(all); share < 0.6 {
		t.Errorf("only %.2f of equal figures are called the same", share)
	}
}

// TestFalseDiscoveryRateWithTrueDifferences plants ten true differences among
// some fifty figures: the mean share of false ones among those named stays at q.
func TestFalseDiscoveryRateWithTrueDifferences(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	change := map[string]float64{}
	for _, name := range []string{"turn.hips.max", "elbow.hitting.contact", "head.over_shoulder", "turn.separation.max", "legs.knee_back.max",
		"path.rise_angle", "posture.lean_side", "turn.shoulders.max", "wrist.racket_forearm.max", "lag.contact"} {
		change[name] = 16
	}
	const pairs, q = 500, 0.1
	opt := Default()
	opt.FalseDiscovery = q
	sum, found := 0.0, 0
	for range pairs {
		names := named(compared(t, made(r, nil), made(r, change), opt))
		false_ := 0
		for _, n := range names {
			if change[n] == 0 {
				false_++
			}
		}
		found += len(names) - false_
		sum += float64(false_) / math.Max(1, float64(len(names)))
	}
	if rate := sum / pairs; rate > q+0.02 {
		t.Errorf("false discovery rate %.3f, want at most %.2f", rate, q)
	}
	if power := float64(found) / (10 * pairs); power < 0.9 {
		t.Errorf("power %.2f for differences of 4.5 errors", power)
	}
}

// TestPlantedDifferenceComesFirst: pairs that differ in one thing, at several
// times the error, give that thing first and nothing else.
func TestPlantedDifferenceComesFirst(t *testing.T) {
	for _, c := range []struct {
		measure string
		change  float64
	}{
		{"lag.max", 30}, {"spacing.hands", .12}, {"take_back.hands_height", .15}, {"elbow.hitting.contact", -25},
		{"contact.height", .3}, {"turn.shoulders.max", -25}, {"lag.tip_wrap", .3}, {"posture.shoulder_tilt", 25}, {"path.out_angle", 25},
	} {
		t.Run(c.measure, func(t *testing.T) {
			r := rand.New(rand.NewPCG(5, 6))
			firsts, extra := 0, 0
			for range 60 {
				names := named(compared(t, made(r, nil), made(r, map[string]float64{c.measure: c.change}), Default()))
				if len(names) > 0 && names[0] == c.measure {
					firsts++
				}
				extra += max(0, len(names)-1)
			}
			if firsts < 58 {
				t.Errorf("first in %d of 60 pairs", firsts)
			}
			if extra > 4 {
				t.Errorf("%d other differences in 60 pairs", extra)
			}
		})
	}
}

// TestUnlikeConditionsWarnAndWeaken: the warning comes first, and what the
// condition may explain is no longer called different.
func TestUnlikeConditionsWarnAndWeaken(t *testing.T) {
	for _, c := range []struct {
		name    string
		change  map[string]float64
		set     func(*measure.Sheet)
		warning string
		measure string
	}{
		{"high ball, higher take-back", map[string]float64{"contact.height": .4, "take_back.hands_height": .25}, nil, "unlike_ball_height", "take_back.hands_height"},
		{"high ball, higher shoulder", map[string]float64{"contact.height": .4, "posture.shoulder_tilt": 14}, nil, "unlike_ball_height", "posture.shoulder_tilt"},
		{"harder swing, more lag", map[string]float64{"racket_speed.tip.contact": 9, "lag.max": 10.5}, nil, "unlike_swing_speed", "lag.max"},
		{"open stance", map[string]float64{"legs.stance": -50, "turn.hips.max": -20}, nil, "unlike_stance", "turn.hips.max"},
		{"another view", map[string]float64{"turn.shoulders.max": 20},
			func(s *measure.Sheet) { s.Capture.View, s.Capture.Method = camera.ViewRight, "one_view" }, "unlike_view", "turn.shoulders.max"},
		{"unverified clock", map[string]float64{"tempo.forward_swing": .3},
			func(s *measure.Sheet) { s.Warnings = []measure.Warning{{Code: "clock_unverified"}} }, "unlike_clock", "tempo.forward_swing"},
		{"frame rate", map[string]float64{"lag.max": 16}, func(s *measure.Sheet) { s.Capture.FrameRate = 60 }, "unlike_frame_rate", "lag.max"},
		{"another stroke", map[string]float64{"lag.max": 60}, func(s *measure.Sheet) { s.Stroke = body.Serve }, "unlike_stroke", "lag.max"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := made(nil, c.change)
			if c.set != nil {
				c.set(b)
			}
			r := compared(t, made(nil, nil), b, Default())
			if len(r.Warnings) == 0 || r.Warnings[0].Code != c.warning {
				t.Errorf("warnings %v, want %s first", r.Warnings, c.warning)
			}
			if d := find(t, r, c.measure); d.Verdict != CannotTell || d.Reason == "" {
				t.Errorf("%s: %v (%s), want cannot tell with a reason", c.measure, d.Verdict, d.Reason)
			}
		})
	}
}

// TestConditionExplainsOnlySoMuch: a difference far beyond what the ball's
// height asks for stays a difference.
func TestConditionExplainsOnlySoMuch(t *testing.T) {
	r := compared(t, made(nil, nil), made(nil, map[string]float64{"contact.height": .2, "take_back.hands_height": .45}), Default())
	if d := find(t, r, "take_back.hands_height"); d.Verdict != Different || d.Reason == "" {
		t.Errorf("%v, reason %q", d.Verdict, d.Reason)
	}
}

// TestSameNeedsSmallError: inside the error is not the same when the error is wide.
func TestSameNeedsSmallError(t *testing.T) {
	a, b := made(nil, nil), made(nil, nil)
	if d := find(t, compared(t, a, b, Default()), "lag.max"); d.Verdict != Same {
		t.Errorf("small error: %v", d.Verdict)
	}
	for i := range b.Figures {
		if b.Figures[i].Name == "lag.max" {
			b.Figures[i].SD = 20
		}
	}
	if d := find(t, compared(t, a, b, Default()), "lag.max"); d.Verdict != CannotTell || !strings.Contains(d.Text, "would matter") {
		t.Errorf("wide error: %v %q", d.Verdict, d.Text)
	}
	b = made(nil, nil)
	b.Figures[9] = measure.Figure{Name: b.Figures[9].Name, Value: absent, SD: absent, Grade: measure.NotMeasurable, Reason: "racket not seen", Unit: b.Figures[9].Unit}
	if d := find(t, compared(t, a, b, Default()), b.Figures[9].Name); d.Verdict != CannotTell || !strings.Contains(d.Reason, "racket not seen") || !math.IsNaN(d.Difference) {
		t.Errorf("absent: %+v", d)
	}
}

// TestEqualTimePathRatio: in equal time, mean speeds stand in the ratio of the paths.
func TestEqualTimePathRatio(t *testing.T) {
	d := find(t, compared(t, made(nil, nil), made(nil, map[string]float64{"lag.tip_path": .55}), Default()), "lag.tip_path")
	// 2.75 m ÷ 2.2 m = 1.25; 2.75 m ÷ 0.2 s = 13.75 m/s; 2.2 m ÷ 0.2 s = 11 m/s.
	for _, want := range []string{"1.25", "13.8 m/s", "11.0 m/s", "same time (200 ms)"} {
		if !strings.Contains(d.Text, want) {
			t.Errorf("%q lacks %q", d.Text, want)
		}
	}
	// Half the time again: 1.25 ÷ 1.5 = 0.83.
	d = find(t, compared(t, made(nil, nil), made(nil, map[string]float64{"lag.tip_path": .55, "tempo.forward_swing": .1}), Default()), "lag.tip_path")
	if !strings.Contains(d.Text, "0.83 times the mean speed") {
		t.Errorf("%q", d.Text)
	}
	d = find(t, compared(t, made(nil, nil), made(nil, map[string]float64{"lag.tip_path": .55, "lag.tip_wrap": .4}), Default()), "lag.tip_wrap")
	if !strings.Contains(d.Text, "further to come") {
		t.Errorf("%q", d.Text)
	}
}

// TestStatureScalesLengths: a player of 1.50 m with lengths in proportion to one
// of 1.80 m is the same, once both statures are known.
func TestStatureScalesLengths(t *testing.T) {
	small := made(nil, nil)
	for i := range small.Figures {
		if f := &small.Figures[i]; f.Unit == "m" {
			f.Value, f.Low, f.High = f.Value*1.5/1.8, f.Low*1.5/1.8, f.High*1.5/1.8
		}
	}
	opt := Default()
	if r := compared(t, made(nil, nil), small, opt); len(named(r)) == 0 || !hasCode(r, "lengths_not_scaled") {
		t.Error("unscaled lengths should differ, with a warning")
	}
	opt.Reference.Stature, opt.Candidate.Stature = 1.8, 1.5
	r := compared(t, made(nil, nil), small, opt)
	if names := named(r); len(names) != 0 || hasCode(r, "lengths_not_scaled") {
		t.Errorf("scaled: %v", names)
	}
	near(t, "candidate", find(t, r, "contact.height").Candidate, 1.0, 1e-9)
	for _, s := range []*measure.Sheet{small} {
		s.Figures = append(s.Figures, measure.Figure{Name: measure.Stature, Value: 1.5, SD: .01, Low: 1.48, High: 1.52, Unit: "m", Grade: measure.Good})
	}
	if names := named(compared(t, made(nil, nil), small, Options{Reference: body.Player{Stature: 1.8}, FalseDiscovery: .01})); len(names) != 0 {
		t.Errorf("stature as a figure: %v", names)
	}
}

// TestScaleSharesItsTable: two statures from lengths of the body share the table of
// segments, so that their ratio is known better than one stature alone; one told and one
// from lengths share nothing: √(0.03² + (0.01/1.8)²) = 0.0305.
func TestScaleSharesItsTable(t *testing.T) {
	with := func(stature, sd float64) *measure.Sheet {
		s := made(nil, nil)
		s.Figures = append(s.Figures, measure.Figure{Name: measure.Stature, Value: stature, SD: sd, Unit: "m", Low: stature - 2*sd, High: stature + 2*sd, Grade: measure.Rough})
		return s
	}
	for _, c := range []struct {
		ref, cand float64
		sd        float64 // of the candidate's
		want      float64
	}{
		{1.8, 1.5, .031 * 1.5, math.Sqrt(2*(.031*.031-.03*.03) + .01*.01)},
		{1.8, 1.5, .01, math.Hypot(.031, .01/1.5)},
	} {
		opt := Default()
		s := newContest(with(c.ref, .031*c.ref), with(c.cand, c.sd), opt).scale
		if !s.known {
			t.Fatal("not scaled")
		}
		near(t, "factor", s.factor, c.ref/c.cand, 1e-12)
		near(t, "its error", s.relative, c.want, 1e-9)
	}
}

func TestAlignmentIsLinearBetweenEvents(t *testing.T) {
	a, b := made(nil, nil), made(nil, nil)
	for i := range b.Events {
		if b.Events[i].Kind == phase.ForwardStart {
			b.Events[i].Time -= .1
		}
	}
	al, swapped := align(a, b)
	if swapped {
		t.Error("the order is the same")
	}
	for _, c := range []struct{ ref, want float64 }{{0, 0}, {-.2, -.3}, {-.35, -.35}, {-.275, -.325}, {.35, .35}, {.5, .5}, {-2, -2}} {
		got, _ := al.at(c.ref)
		near(t, "candidate time", got, c.want, 1e-9)
	}
	for i, p := range al.pairs() {
		if q := al.pairs(); i > 0 && (p.Reference <= q[i-1].Reference || p.Candidate <= q[i-1].Candidate) {
			t.Error("pairs do not rise")
		}
	}
}

func TestSwappedEventsArePassedOver(t *testing.T) {
	a, b := made(nil, nil), made(nil, nil)
	for i := range b.Events {
		if b.Events[i].Kind == phase.RacketLow {
			b.Events[i].Time = 1.19
		}
	}
	if r := compared(t, a, b, Default()); !hasCode(r, "event_order_differs") {
		t.Error("no warning")
	}
}

// TestCurvesFollowTheAlignment: the same course run at another pace before
// contact gives no difference once events tell the pace; a planted turn does.
func TestCurvesFollowTheAlignment(t *testing.T) {
	slow := withTrace(made(nil, nil), nil, func(t float64) float64 {
		if t < 0 {
			return t / 1.1
		}
		return t
	})
	for i := range slow.Events {
		if e := &slow.Events[i]; e.Time < 1.2 {
			e.Time = 1.2 + (e.Time-1.2)*1.1
		}
	}
	for _, c := range compared(t, withTrace(made(nil, nil), nil, identity), slow, Default()).Curves {
		if c.Verdict == Different {
			t.Errorf("%s: %v, largest %.3g at %.3g", c.Series, c.Verdict, c.Largest, c.LargestAt)
		}
	}
	turned := withTrace(made(nil, nil), nil, identity)
	for _, s := range turned.Trace.Series {
		if s.Name == "shoulder_turn" {
			for i := range s.Values {
				s.Values[i] += 20
			}
		}
	}
	first := compared(t, withTrace(made(nil, nil), nil, identity), turned, Default()).Curves[0]
	if first.Series != "shoulder_turn" || first.Verdict != Different {
		t.Errorf("%+v", first)
	}
	near(t, "rms", first.RMS, 20, 1e-3)
}

// TestLeftHanderIsMirrored: a left-hander's trace as he is equals the right-hander's.
func TestLeftHanderIsMirrored(t *testing.T) {
	lefty := withTrace(made(nil, nil), nil, identity)
	lefty.Hand = body.LeftHanded
	for i := range lefty.Trace.Series {
		s := &lefty.Trace.Series[i]
		if strings.HasSuffix(s.Name, ".z") {
			for k := range s.Values {
				s.Values[k] = -s.Values[k]
			}
		}
		s.Name = twin(s.Name)
	}
	before := lefty.Trace.Series[2].Values[0]
	r := compared(t, withTrace(made(nil, nil), nil, identity), lefty, Default())
	for _, c := range r.Curves {
		near(t, c.Series, c.RMS, 0, 1e-6)
	}
	if len(r.Curves) != 18 || !hasCode(r, "unlike_hand") {
		t.Errorf("%d curves, warnings %v", len(r.Curves), r.Warnings)
	}
	if lefty.Trace.Series[2].Values[0] != before {
		t.Error("the sheet was changed")
	}
}

// TestElasticDisagrees: the same way, with a pause that no event tells.
func TestElasticDisagrees(t *testing.T) {
	odd := withTrace(made(nil, nil), nil, func(t float64) float64 {
		if t > -.2 && t < 0 { // slow first, then fast: t² instead of t over the forward swing
			u := (t + .2) / .2
			return -.2 + .2*u*u*u*u
		}
		return t
	})
	r := compared(t, withTrace(made(nil, nil), nil, identity), odd, Default())
	if !hasCode(r, "elastic_alignment_disagrees") {
		t.Error("no warning")
	}
	if hasCode(compared(t, withTrace(made(nil, nil), nil, identity), withTrace(made(nil, nil), nil, identity), Default()), "elastic_alignment_disagrees") {
		t.Error("warning for equal swings")
	}
}

// TestAnythingGoesIn: whatever a client sends gives an answer.
func TestAnythingGoesIn(t *testing.T) {
	odd := []float64{math.NaN(), math.Inf(1), math.Inf(-1), 0, -1, 1e308, -1e308, 5e-324, 1}
	r := rand.New(rand.NewPCG(9, 9))
	pick := func() float64 { return odd[r.IntN(len(odd))] }
	for range 300 {
		s := withTrace(made(r, nil), r, identity)
		for i := range s.Figures {
			if r.IntN(2) == 0 {
				s.Figures[i] = measure.Figure{Name: s.Figures[i].Name, Value: pick(), SD: pick(), Low: pick(), High: pick(), Unit: "m", Grade: measure.Grade(r.IntN(6))}
			}
		}
		for i := range s.Events {
			s.Events[i].Time, s.Events[i].SD = pick(), pick()
		}
		for i := range s.Phases {
			s.Phases[i].Start, s.Phases[i].End = pick(), pick()
		}
		s.Trace.Series[r.IntN(18)].Values[3] = float32(pick())
		s.Trace.Series[r.IntN(18)].SDs[3] = float32(pick())
		s.Capture = measure.Capture{FrameRate: pick(), SlowMotion: pick(), Method: "one_view"}
		res := compared(t, withTrace(made(r, nil), r, identity), s, Default())
		for _, d := range res.Differences {
			if d.Verdict == VerdictUnknown || math.IsNaN(d.Weight) {
				t.Fatalf("%+v", d)
			}
		}
	}
	for _, s := range []*measure.Sheet{{}, {Trace: &measure.Trace{}}} {
		compared(t, s, s, Default())
	}
	if _, err := Swings(nil, &measure.Sheet{}, Default()); err == nil {
		t.Error("an absent swing was compared")
	}
	if _, err := Swings(&measure.Sheet{}, &measure.Sheet{}, Options{}); err == nil {
		t.Error("no false discovery rate was taken")
	}
}

func BenchmarkSwings(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 1))
	x, y := withTrace(made(r, nil), r, identity), withTrace(made(r, nil), r, identity)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Swings(x, y, Default()); err != nil {
			b.Fatal(err)
		}
	}
}

// TestTraceWithoutErrorsOfPlaces: the trace that the service builds gives errors
// for its headline curves alone, NaN where a curve is not defined; names the
// grip centre "hand".
func TestTraceWithoutErrorsOfPlaces(t *testing.T) {
	lines := func(shift float32) *measure.Sheet {
		s := withTrace(made(nil, nil), nil, identity)
		for i := range s.Trace.Series {
			v := &s.Trace.Series[i]
			v.Name = strings.Replace(v.Name, "grip.", "hand.", 1)
			if isPosition(v.Name) {
				v.SDs = nil
			}
			if v.Name == "hand.y" {
				for k := range v.Values {
					v.Values[k] += shift
				}
			}
			if v.Name == "shoulder_turn" {
				v.Values[0], v.SDs[0], v.SDs[5] = float32(math.NaN()), float32(math.NaN()), float32(math.NaN())
			}
		}
		return s
	}
	verdict := func(r Result, name string) Verdict {
		for _, c := range r.Curves {
			if c.Series == name {
				return c.Verdict
			}
		}
		return VerdictUnknown
	}
	r := compared(t, lines(0), lines(0), Default())
	for _, name := range []string{"hand.x", "hand.y", "tip.z", "shoulder_turn"} {
		if v := verdict(r, name); v != Same {
			t.Errorf("%s: %v", name, v)
		}
	}
	r = compared(t, lines(0), lines(.4), Default())
	if verdict(r, "hand.y") != Different || verdict(r, "hand.x") == Different || verdict(r, "shoulder_turn") == Different {
		t.Errorf("%+v", r.Curves)
	}
	none := lines(.4)
	none.Figures = nil
	if v := verdict(compared(t, lines(0), none, Default()), "hand.y"); v != CannotTell {
		t.Errorf("without any error: %v", v)
	}
}

// TestWanderingEventIsNoKnot: MAX_LAG found 50 ms earlier along a flat top, the
// courses being the same, does not shear them.
func TestWanderingEventIsNoKnot(t *testing.T) {
	a, b := withTrace(made(nil, nil), nil, identity), withTrace(made(nil, nil), nil, identity)
	for i := range b.Events {
		if b.Events[i].Kind == phase.MaxLag {
			b.Events[i].Time -= .05
		}
	}
	r := compared(t, a, b, Default())
	for _, p := range r.Alignment {
		near(t, "candidate time", p.Candidate, p.Reference, 1e-9)
	}
	for _, c := range r.Curves {
		near(t, c.Series, c.RMS, 0, 1e-6)
	}
}
