package measure

import (
	"math"
	"slices"
	"strings"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/track"
)

// sheetOfMeasures is the table of definitions: every name with its unit.
const sheetOfMeasures = `
tempo.split_to_turn s
tempo.preparation s
tempo.forward_swing s
tempo.follow_through s
racket_speed.tip.contact m/s
racket_speed.tip.peak m/s
racket_speed.head.contact m/s
racket_speed.hand.contact m/s
racket_speed.tip.mean_forward m/s
lag.max deg
lag.contact deg
lag.release_rate deg/s
lag.release_time s
lag.snap_back m
lag.tip_wrap m
lag.tip_path m
path.rise_angle deg
path.out_angle deg
path.tip_drop m
path.hand_drop m
take_back.tip_above_hands m
take_back.hands_height m
take_back.tip_side m
turn.shoulders.max deg
turn.shoulders.contact deg
turn.shoulders.forward_range deg
turn.hips.max deg
turn.hips.contact deg
turn.hips.forward_range deg
turn.separation.max deg
turn.separation.forward_start deg
turn.separation.contact deg
elbow.hitting.forward_start deg
elbow.hitting.contact deg
elbow.support.forward_start deg
elbow.support.contact deg
wrist.racket_forearm.max deg
contact.height m
contact.height_waist m
contact.ahead m
spacing.hands m
spacing.clearance m
spacing.reach m
posture.shoulder_tilt deg
posture.lean_side deg
posture.lean_forward deg
head.stillness m
head.over_shoulder deg
legs.base_width 1
legs.knee_back.max deg
legs.knee_front.max deg
legs.rise m
legs.stance deg
chain.hips_to_racket s
chain.in_order 1
ball.speed_in m/s
ball.speed_out m/s
serve.toss_height m
body.stature m
`

func TestCatalogHoldsTheTable(t *testing.T) {
	var got []string
	for _, r := range Catalog() {
		got = append(got, r.Name+" "+r.Unit)
	}
	want := strings.Split(strings.TrimSpace(sheetOfMeasures), "\n")
	if !slices.Equal(got, want) {
		t.Errorf("catalog\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

func TestCatalogRowsAreFilled(t *testing.T) {
	titles := map[string]bool{}
	for i, r := range Catalog() {
		if r.Title == "" || r.Definition == "" || r.Source == "" || len(r.Strokes) == 0 || r.read == nil || titles[r.Title] {
			t.Errorf("%s: an empty field or a title used twice: %+v", r.Name, r)
		}
		titles[r.Title] = true
		if !(r.PromisedSD > 0) || r.Group >= numGroups || !(refusal[r.Group] > 1) || !(floors[r.Group] < r.PromisedSD) {
			t.Errorf("%s: promised %v, group %d with refusal or floor unset", r.Name, r.PromisedSD, r.Group)
		}
		if at, ok := Index(r.Name); !ok || at != i {
			t.Errorf("Index(%q) = %d, %v", r.Name, at, ok)
		}
	}
	if _, ok := Index("none"); ok {
		t.Error("Index knows a name that is not in the catalog")
	}
}

// The accuracy table's column P is the median of |error|; 0.6745 sd of a normal error.
func TestPromisedFromTable(t *testing.T) {
	cases := []struct {
		name   string
		median float64
	}{
		{"lag.max", 8}, {"turn.shoulders.max", 7}, {"elbow.hitting.contact", 7},
		{"spacing.hands", 0.04}, {"contact.ahead", 0.04},
	}
	for _, c := range cases {
		i, _ := Index(c.name)
		near(t, c.name, Catalog()[i].PromisedSD, c.median/0.6745, 1e-12)
	}
	i, _ := Index("racket_speed.tip.contact")
	near(t, "share of a slow tip", Catalog()[i].promised(10), 0.7/0.6745, 1e-12)
}

// What a measure needs is told before what it lacks, and the values of an empty
// course, of one without a racket and of one with everything say which is which.
func TestEvaluateNeeds(t *testing.T) {
	near(t, "empty course", Evaluate(&track.Course{}, someTimes(), Context{})[0], math.NaN(), 0)
	ctx := Context{Context: phase.Context{Stroke: body.Forehand}}
	m := chained(0.75, 0.8, 0.85, 0.9, 0.91)
	m.axis = nil
	delete(m.points, body.RacketTip)
	delete(m.points, body.LeftEar)
	v := Evaluate(m.course(), someTimes(), ctx)
	for i, r := range Catalog() {
		known := !math.IsNaN(v[i])
		lacking := r.Needs&(NeedRacket|NeedBall|NeedEars|NeedStature) != 0 || r.Name == "tempo.split_to_turn" || !r.For(body.Forehand)
		if known == lacking {
			t.Errorf("%s = %v without racket, ball, ears and stature", r.Name, v[i])
		}
	}
	hand, _ := Index("racket_speed.hand.contact")
	tip, _ := Index("racket_speed.tip.contact")
	near(t, "tip speed from the hand's", v[tip], tipPerHand[body.Forehand]*v[hand], 1e-12)
}

func TestBallFigures(t *testing.T) {
	c := standing().course()
	c.Ball = track.Flight{SpeedIn: 15, SpeedOut: math.NaN(), Apex: 3.1}
	near(t, "ball.speed_in", readCourse(t, "ball.speed_in", c, someTimes(), body.Serve), 15, 0)
	near(t, "ball.speed_out", readCourse(t, "ball.speed_out", c, someTimes(), body.Serve), math.NaN(), 0)
	near(t, "serve.toss_height", readCourse(t, "serve.toss_height", c, someTimes(), body.Serve), 3.1, 0)
	near(t, "a forehand has no toss", readCourse(t, "serve.toss_height", c, someTimes(), body.Forehand), math.NaN(), 0)
}

// A reader gives the same for a course whichever courses it read before.
func TestReaderKeepsNothing(t *testing.T) {
	ctx := Context{Context: phase.Context{Stroke: body.Forehand}, Stature: 1.8}
	a, b := chained(0.75, 0.8, 0.85, 0.9, 0.91).course(), standing().course()
	b.HasRacket = false
	var fresh, used Reader
	fresh.Read(a, ctx)
	want := fresh.Values(nil)
	used.Read(b, ctx)
	used.Values(nil)
	used.Read(&track.Course{}, ctx)
	used.Values(nil)
	used.Read(a, ctx)
	got := used.Values(nil)
	for i, r := range Catalog() {
		near(t, r.Name, got[i], want[i], 0)
	}
}

func TestEvaluateAgreesWithReader(t *testing.T) {
	ctx := Context{Context: phase.Context{Stroke: body.Forehand}, Stature: 1.8}
	c := chained(0.75, 0.8, 0.85, 0.9, 0.91).course()
	var r Reader
	times := r.Read(c, ctx)
	want, got := r.Values(nil), Evaluate(c, times, ctx)
	for i, row := range Catalog() {
		near(t, row.Name, got[i], want[i], 0)
	}
}

func BenchmarkReader(b *testing.B) {
	c := chained(0.75, 0.8, 0.85, 0.9, 0.91).course()
	ctx := Context{Context: phase.Context{Stroke: body.TwoHandedBackhand}, Stature: 1.8}
	var r Reader
	values := make([]float64, 0, len(catalog))
	b.ReportAllocs()
	for b.Loop() {
		r.Read(c, ctx)
		values = r.Values(values[:0])
	}
	b.ReportMetric(float64(len(c.T)), "samples")
}

// figureOf gathers one measure alone.
func figureOf(t *testing.T, name string, mean float64, draws []float64, cond Conditions) Figure {
	t.Helper()
	at, _ := Index(name)
	whole := func(v float64) []float64 {
		row := make([]float64, len(catalog))
		for i := range row {
			row[i] = math.NaN()
		}
		row[at] = v
		return row
	}
	ensemble := make([][]float64, len(draws))
	for i, v := range draws {
		ensemble[i] = whole(v)
	}
	for _, f := range Gather(whole(mean), ensemble, cond) {
		if f.Name == name {
			return f
		}
	}
	t.Fatalf("no figure %q", name)
	return Figure{}
}

// spreadOut returns 32 values of the given mean and sample standard deviation.
func spreadOut(mean, sd float64) []float64 {
	v := make([]float64, 32)
	square := 0.
	for i := range v {
		v[i] = float64(i) - 15.5
		square += v[i] * v[i]
	}
	for i := range v {
		v[i] = mean + sd*v[i]/math.Sqrt(square/31)
	}
	return v
}

const everything = ^Need(0)

func TestGatherGrades(t *testing.T) {
	all := Conditions{Stroke: body.Forehand, Have: everything, Times: someTimes()}
	with := func(change func(*Conditions)) Conditions {
		c := all
		change(&c)
		return c
	}
	some := func(mean, sd float64, undefined int) []float64 {
		v := spreadOut(mean, sd)
		for i := range undefined {
			v[2*i] = math.NaN()
		}
		return v
	}
	promised := 7 / 0.6745
	cases := []struct {
		name, measure string
		draws         []float64
		cond          Conditions
		grade         Grade
		reason        string
	}{
		{"inside the promise", "turn.hips.contact", spreadOut(20, 0.99*promised), all, Good, ""},
		{"outside", "turn.hips.contact", spreadOut(20, 1.01*promised), all, Rough, ReasonWide},
		{"far outside", "turn.hips.contact", spreadOut(20, 2.01*promised), all, NotMeasurable, "too_wide: the 95 % interval would be ± 41 deg"},
		{"from one camera that does not see it", "contact.ahead", spreadOut(0.4, 0.2), with(func(c *Conditions) { c.OneView, c.View = true, camera.ViewBehind }),
			NotMeasurable, "too_wide: the 95 % interval would be ± 0.39 m; film from the player's right or the player's left"},
		{"from one camera that should", "contact.ahead", spreadOut(0.4, 0.2), with(func(c *Conditions) { c.OneView, c.View = true, camera.ViewLeft }),
			NotMeasurable, "too_wide: the 95 % interval would be ± 0.39 m"},
		{"no single camera does", "lag.max", spreadOut(60, 40), with(func(c *Conditions) { c.OneView, c.View = true, camera.ViewLeft }),
			NotMeasurable, "too_wide: the 95 % interval would be ± 78 deg; it needs two cameras or 3-D points"},
		{"assumed direction", "contact.ahead", spreadOut(0.4, 0.01), with(func(c *Conditions) { c.TargetAssumed = true }), Rough, ReasonTarget},
		{"assumed direction, no matter", "contact.height", spreadOut(1, 0.01), with(func(c *Conditions) { c.TargetAssumed = true }), Good, ""},
		{"unverified clock", "racket_speed.tip.contact", spreadOut(30, 0.3), with(func(c *Conditions) { c.ClockUnverified = true }), Rough, ReasonClock},
		{"unverified clock, no matter", "contact.height", spreadOut(1, 0.01), with(func(c *Conditions) { c.ClockUnverified = true }), Good, ""},
		{"a fast tip beyond the promise in m/s", "racket_speed.tip.contact", spreadOut(45, 4), all, Rough, ReasonWide},
		{"a slow tip is held to its share", "racket_speed.tip.contact", spreadOut(10, 1.2), all, Rough, ReasonWide},
		{"3 draws without", "path.tip_drop", some(0.5, 0.01, 3), all, Good, ""},
		{"4 draws without", "path.tip_drop", some(0.5, 0.01, 4), all, Rough, ReasonUnsureEvent},
		{"most draws without", "path.tip_drop", some(0.5, 0.01, 16)[:31], all, NotMeasurable, ReasonNoEvent},
		{"no draw at all", "path.tip_drop", nil, all, NotMeasurable, ReasonNoError},
		{"event absent", "path.tip_drop", some(math.NaN(), 0, 0), with(func(c *Conditions) { c.Times = phase.None() }), NotMeasurable, "no_such_event"},
		{"never behind", "lag.tip_wrap", some(math.NaN(), 0, 0), all, NotMeasurable, "undefined: the tip is never behind mid-hip"},
		{"no racket before no event", "lag.max", some(math.NaN(), 0, 0), with(func(c *Conditions) { c.Have, c.Times = everything&^NeedRacket, phase.None() }), NotMeasurable, ReasonNoRacket},
		{"tip speed from the hands", "racket_speed.tip.contact", spreadOut(26, 1), with(func(c *Conditions) { c.Have &^= NeedRacket }), Rough, ReasonHands + "; " + ReasonWide},
		{"no ball", "ball.speed_in", some(math.NaN(), 0, 0), with(func(c *Conditions) { c.Have &^= NeedBall }), NotMeasurable, ReasonNoBall},
		{"no ball before impact", "ball.speed_in", some(math.NaN(), 0, 0), all, NotMeasurable, "no_ball: the ball was not seen long enough before impact"},
		{"no stature", "legs.base_width", some(math.NaN(), 0, 0), with(func(c *Conditions) { c.Have &^= NeedStature }), NotMeasurable, ReasonNoStature},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			mean := math.NaN()
			if len(c.draws) > 0 {
				mean = c.draws[0]
			}
			if c.name == "no draw at all" {
				mean = 0.5
			}
			f := figureOf(t, c.measure, mean, c.draws, c.cond)
			if f.Grade != c.grade || f.Reason != c.reason {
				t.Errorf("grade %d, reason %q; want %d, %q", f.Grade, f.Reason, c.grade, c.reason)
			}
			if f.Known() == math.IsNaN(f.Value) || f.Known() == math.IsNaN(f.SD) || f.Known() && !(f.Low < f.Value && f.Value < f.High) {
				t.Errorf("half filled: %+v", f)
			}
		})
	}
}

// What a single draw says of the mean, the spread and the interval.
func TestGatherValues(t *testing.T) {
	cond := Conditions{Stroke: body.Forehand, Have: everything, Times: someTimes()}
	draws := spreadOut(1, 0.02)
	draws[31] += 0.32 // mean 1.01, median as before: one draw out of the way corrects nothing
	f := figureOf(t, "contact.height", 0.98, draws, cond)
	near(t, "mean", f.Value, 1.01, 1e-12)
	for policy, want := range map[Policy]float64{EnsembleMedian: 1, MeanCourse: 0.98, Corrected: 0.96, CorrectedRaised: 0.98} {
		cond.Policy = policy
		near(t, "policy", figureOf(t, "contact.height", 0.98, draws, cond).Value, want, 1e-12)
	}
	// Noise can only raise a largest turn: there CorrectedRaised takes it off.
	near(t, "raised", figureOf(t, "turn.hips.max", 90, spreadOut(91, 2), Conditions{Stroke: body.Forehand, Have: everything, Policy: CorrectedRaised}).Value, 89, 1e-9)
	cond.Policy = EnsembleMean
	f = figureOf(t, "contact.height", 1, spreadOut(1, 0.02), cond)
	near(t, "sd", f.SD, math.Hypot(0.02, floors[GroupPlace]), 1e-12)
	// Student's t, 31 degrees of freedom, 97.5 %: 2.0395 (any table).
	near(t, "half width", (f.High-f.Low)/2, 2.0395*f.SD, 0.001*f.SD)
}

func TestGatherLeavesOutOtherStrokes(t *testing.T) {
	mean := make([]float64, len(catalog))
	for _, f := range Gather(mean, nil, Conditions{Stroke: body.Forehand, Have: everything}) {
		if f.Name == "serve.toss_height" || f.Name == "elbow.support.contact" {
			t.Errorf("a forehand has no %s", f.Name)
		}
	}
}

func TestGatherEvents(t *testing.T) {
	mean := someTimes()
	draws := make([]phase.Times, 32)
	spread := spreadOut(0.7, 0.008)
	for i := range draws {
		draws[i] = someTimes()
		draws[i][phase.ForwardStart] = spread[i]
		draws[i][phase.MaxLag] = math.NaN()
		if i%2 == 0 {
			draws[i][phase.DropStart] = math.NaN() // half have it
		}
		if i > 14 {
			draws[i][phase.RacketLow] = math.NaN() // fewer than half
		}
	}
	got := GatherEvents(mean, draws, EnsembleMean, MethodWorld)
	kinds := []phase.EventKind{}
	for i, e := range got {
		kinds = append(kinds, e.Kind)
		if i > 0 && e.Time < got[i-1].Time {
			t.Errorf("events out of order: %v", got)
		}
		if e.Kind == phase.ForwardStart {
			near(t, "time", e.Time, 0.7, 1e-12)
			near(t, "sd", e.SD, math.Hypot(0.008, floors[GroupTime]), 1e-12)
		}
	}
	want := []phase.EventKind{phase.TurnStart, phase.TurnComplete, phase.DropStart, phase.ForwardStart, phase.Contact, phase.FollowEnd}
	if !slices.Equal(kinds, want) {
		t.Errorf("events %v, want %v", kinds, want)
	}
}

func TestTrace(t *testing.T) {
	ctx := Context{Context: phase.Context{Stroke: body.Forehand}}
	c := chained(0.75, 0.8, 0.85, 0.9, 0.91).course()
	later := chained(0.75, 0.8, 0.85, 0.9, 0.91).course()
	for i := range later.T { // the same motion on a later clock, with a longer reach
		later.T[i] += 0.05
		later.GripVel[i] = later.GripVel[i].Scale(1.1)
	}
	// The two sides of impact differ: the contact sample must be the left one.
	c.GripVel[c.Break], c.GripVel[c.Break+1] = vec(9, 0, 0), vec(5, 0, 0)
	tr := BuildTrace(c, []*track.Course{c, later}, ctx)
	zero := slices.Index(tr.Times, 0)
	if zero < 0 || len(tr.Times) != 240 || tr.Times[0] != -1 {
		t.Fatalf("times %v … of %d, contact at %d", tr.Times[0], len(tr.Times), zero)
	}
	byName := map[string]Series{}
	for _, s := range tr.Series {
		if len(s.Values) != len(tr.Times) || s.SDs != nil && len(s.SDs) != len(tr.Times) {
			t.Errorf("%s: %d values, %d sds", s.Name, len(s.Values), len(s.SDs))
		}
		byName[s.Name] = s
	}
	for _, name := range []string{"tip.x", "hand.y", "racket_head.z", "nose.x", "left_shoulder.x", "right_ankle.z", "racket_speed.tip",
		"racket_speed.hand", "lag.angle", "shoulder_turn", "hip_turn", "separation", "elbow.hitting"} {
		if _, ok := byName[name]; !ok {
			t.Errorf("no series %s", name)
		}
	}
	near(t, "hand speed at contact", float64(byName["racket_speed.hand"].Values[zero]), 9, 1e-6)
	near(t, "height of the left shoulder", float64(byName["left_shoulder.y"].Values[7]), 1.45, 1e-6)
	peak := zero - 18 // 0.15 s before contact
	v := float64(byName["racket_speed.hand"].Values[peak])
	near(t, "sd of two draws 10 % apart", float64(byName["racket_speed.hand"].SDs[peak]), 0.1*v/math.Sqrt2, 1e-4*v)
	if BuildTrace(&track.Course{}, nil, ctx) != nil {
		t.Error("a trace of nothing")
	}
}

// TestTwoDigits: no exponent, however large or small.
func TestTwoDigits(t *testing.T) {
	for x, want := range map[float64]string{621.3: "620", 41.2: "41", 0.0391: "0.039", 0.996: "1", 7: "7", 1234567: "1200000"} {
		if got := twoDigits(x); got != want {
			t.Errorf("%v: %s, want %s", x, got, want)
		}
	}
}

// What widens must name what there is, and must widen.
func TestInflationsNameMeasures(t *testing.T) {
	for method, by := range inflations {
		for name, factor := range by {
			i, ok := Index(name)
			if !ok || !(factor > 1) {
				t.Errorf("%s: %s by %v", method, name, factor)
				continue
			}
			row := &catalog[i]
			if got := row.inflation(method); got != factor {
				t.Errorf("%s: %s is widened by %v, want %v", method, name, got, factor)
			}
			column := make([]float64, 32)
			for j := range column {
				column[j] = 1 + 0.01*float64(j%8)
			}
			cond := Conditions{Have: row.Needs}
			plain := row.figure(1, append([]float64(nil), column...), 32, &cond)
			cond.Method = method
			wide := row.figure(1, append([]float64(nil), column...), 32, &cond)
			if plain.Grade == NotMeasurable || !(wide.SD > plain.SD) {
				t.Errorf("%s: %s: sd %v in no method, %v in its own", method, name, plain.SD, wide.SD)
			}
		}
	}
}

// What hangs on an unverified clock is as wide as the clock's doubt, and is not refused
// for it; what does not hang on it stays as it is.
func TestClockDoubtWidens(t *testing.T) {
	for _, tt := range []struct {
		name string
		at   float64
		sd   float64 // share of the value
	}{{"racket_speed.tip.contact", 30, 0.5}, {"tempo.forward_swing", 0.3, 0.5}, {"contact.height", 1, 0}} {
		i, _ := Index(tt.name)
		cond := Conditions{Stroke: body.Forehand, Have: ^Need(0), ClockUnverified: true, ClockSD: 0.5}
		got := catalog[i].figure(tt.at, spreadOut(tt.at, 0.01*tt.at), 32, &cond)
		cond.ClockUnverified, cond.ClockSD = false, 0
		sure := catalog[i].figure(tt.at, spreadOut(tt.at, 0.01*tt.at), 32, &cond)
		if want := math.Hypot(sure.SD, tt.sd*tt.at); !got.Known() || math.Abs(got.SD-want) > 1e-9 {
			t.Errorf("%s: ± %g, want %g (grade %v)", tt.name, got.SD, want, got.Grade)
		}
	}
}
