package synth_test

import (
	"fmt"
	"math"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/synth"
)

var strokes = []body.Stroke{
	body.Forehand, body.TwoHandedBackhand, body.OneHandedBackhand, body.SliceBackhand,
	body.Serve, body.ForehandVolley, body.BackhandVolley, body.Overhead,
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if math.IsNaN(got) || math.Abs(got-want) > tol {
		t.Errorf("%s = %.5g, want %.5g ± %.2g", what, got, want, tol)
	}
}

// each runs a check on a few swings of every stroke.
func each(t *testing.T, check func(t *testing.T, m *synth.Motion, k synth.Struck)) {
	t.Helper()
	for _, s := range strokes {
		for seed := uint64(1); seed <= 2; seed++ {
			t.Run(fmt.Sprintf("%s/%d", s, seed), func(t *testing.T) {
				m := synth.NewSwing(synth.Spec{Stroke: s, Seed: seed, Level: body.Level(2 * seed)})
				check(t, m, m.Struck[0])
			})
		}
	}
}

func dist(p synth.Pose, a, b body.Point) float64 { return p.P[a].Sub(p.P[b]).Norm() }

func TestSegmentsAreRigid(t *testing.T) {
	bones := [][2]body.Point{
		{body.LeftShoulder, body.LeftElbow}, {body.LeftElbow, body.LeftWrist}, {body.RightShoulder, body.RightElbow},
		{body.RightElbow, body.RightWrist}, {body.LeftHip, body.LeftKnee}, {body.LeftKnee, body.LeftAnkle},
		{body.RightHip, body.RightKnee}, {body.RightKnee, body.RightAnkle}, {body.LeftShoulder, body.RightShoulder},
		{body.LeftHip, body.RightHip}, {body.RacketButt, body.RacketTip}, {body.RacketButt, body.RacketThroat},
		{body.RacketLeft, body.RacketRight}, {body.LeftHeel, body.LeftToe}, {body.LeftEar, body.RightEar},
	}
	each(t, func(t *testing.T, m *synth.Motion, k synth.Struck) {
		first := m.At(m.Start)
		for x := m.Start; x < m.End; x += 0.01 {
			p := m.At(x)
			for _, b := range bones {
				near(t, fmt.Sprintf("%s–%s at %.2f", b[0], b[1], x), dist(p, b[0], b[1]), dist(first, b[0], b[1]), 1e-9)
			}
		}
	})
}

func TestRacketIsAsLongAsAsked(t *testing.T) {
	for _, want := range []float64{0.58, 0.635, 0.685, 0.73} {
		m := synth.NewSwing(synth.Spec{Stroke: body.Forehand, Racket: want, Seed: 3})
		near(t, "racket", dist(m.At(1), body.RacketButt, body.RacketTip), want, 1e-9)
	}
}

func speed(m *synth.Motion, p body.Point, t, side float64) float64 {
	const h = 2e-4
	a, b := m.At(t).P[p], m.At(t + side*h).P[p]
	return a.Sub(b).Norm() / h
}

func TestMotionIsContinuousAndBrokenOnlyAtContact(t *testing.T) {
	each(t, func(t *testing.T, m *synth.Motion, k synth.Struck) {
		for x := m.Start; x < m.End; x += 0.007 {
			for p := range body.NumPoints {
				if p == body.Ball {
					continue
				}
				step := m.At(x + 1e-5).P[p].Sub(m.At(x).P[p]).Norm()
				if step > 60*1e-5 {
					t.Fatalf("%s leaps %.4f m in 10 µs at %.3f", p, step, x)
				}
			}
			if math.Abs(x-k.Contact) < 0.01 {
				continue
			}
			near(t, fmt.Sprintf("tip speed before and after %.3f", x), speed(m, body.RacketTip, x, 1), speed(m, body.RacketTip, x, -1), 0.5)
		}
	})
}

func TestImpactTakesAFifthToAThirdOfTheTipSpeed(t *testing.T) {
	each(t, func(t *testing.T, m *synth.Motion, k synth.Struck) {
		before, after := speed(m, body.RacketTip, k.Contact, -1), speed(m, body.RacketTip, k.Contact+0.0055, 1)
		if loss := 1 - after/before; loss < 0.15 || loss > 0.40 {
			t.Errorf("tip loses %.0f %%", 100*loss)
		}
	})
}

func TestTipIsStillFastestNearContact(t *testing.T) {
	each(t, func(t *testing.T, m *synth.Motion, k synth.Struck) {
		best, at := 0.0, 0.0
		for x := -0.3; x < -0.0005; x += 0.001 {
			if v := speed(m, body.RacketTip, k.Contact+x, -1); v > best {
				best, at = v, x
			}
		}
		if at < -0.035 {
			t.Errorf("tip is fastest %.0f ms before contact", -1000*at)
		}
	})
}

func TestElbowsAndKneesBendTheHumanWay(t *testing.T) {
	limbs := [][3]body.Point{
		{body.LeftShoulder, body.LeftElbow, body.LeftWrist}, {body.RightShoulder, body.RightElbow, body.RightWrist},
		{body.LeftHip, body.LeftKnee, body.LeftAnkle}, {body.RightHip, body.RightKnee, body.RightAnkle},
	}
	each(t, func(t *testing.T, m *synth.Motion, k synth.Struck) {
		for x := m.Start; x < m.End; x += 0.01 {
			p := m.At(x)
			for _, l := range limbs {
				f := geom.Between(p.P[l[1]].Sub(p.P[l[0]]), p.P[l[2]].Sub(p.P[l[1]])).Degrees()
				if f < 3 || f > 150 {
					t.Fatalf("%s flexed %.0f° at %.2f", l[1], f, x)
				}
			}
			for _, side := range [][3]body.Point{{body.LeftHip, body.LeftKnee, body.LeftToe}, {body.RightHip, body.RightKnee, body.RightToe}} {
				hip, knee := p.P[side[0]], p.P[side[1]]
				ankle := p.P[side[1]+2]
				along := p.P[side[2]].Sub(ankle).Flat()
				mid := hip.Lerp(ankle, 0.5)
				if knee.Sub(mid).Dot(along) < -0.02*along.Norm() && knee.Sub(mid).Norm() > 0.1 {
					t.Fatalf("%s bends backward at %.2f", side[1], x)
				}
			}
		}
	})
}

func TestFeetStandOnTheGround(t *testing.T) {
	each(t, func(t *testing.T, m *synth.Motion, k synth.Struck) {
		for x := m.Start; x < m.End; x += 0.01 {
			p := m.At(x)
			low := math.Min(p.P[body.LeftAnkle].Y, p.P[body.RightAnkle].Y) - m.Build.AnkleHeight
			if low < -0.004 || low > 0.35 {
				t.Fatalf("lower ankle %.3f m over its standing level at %.2f", low, x)
			}
		}
	})
}

func TestWristsHoldTheHandle(t *testing.T) {
	each(t, func(t *testing.T, m *synth.Motion, k synth.Struck) {
		hands := []body.Point{body.RightWrist, body.LeftWrist}
		if m.LeftHanded {
			hands[0], hands[1] = hands[1], hands[0]
		}
		if k.Stroke != body.TwoHandedBackhand {
			hands = hands[:1]
		}
		for _, dt := range []float64{-0.3, -0.1, 0, 0.1} {
			p := m.At(k.Contact + dt)
			u := p.P[body.RacketTip].Sub(p.P[body.RacketButt]).Unit()
			for i, h := range hands {
				r := p.P[h].Sub(p.P[body.RacketButt])
				along := r.Dot(u)
				off := r.Sub(u.Scale(along)).Norm()
				if off > 0.09 || along < 0.02+0.06*float64(i) || along > 0.13+0.10*float64(i) {
					t.Errorf("%s %.3f m from the butt, %.3f off the axis at %+.2f", h, along, off, dt)
				}
			}
		}
	})
}

func TestLeftHanderIsTheMirror(t *testing.T) {
	r := synth.NewSwing(synth.Spec{Stroke: body.Serve, Hand: body.RightHanded, Stature: 1.7, Level: body.Advanced, Seed: 8})
	l := synth.NewSwing(synth.Spec{Stroke: body.Serve, Hand: body.LeftHanded, Stature: 1.7, Level: body.Advanced, Seed: 8})
	for x := r.Start; x < r.End; x += 0.05 {
		a, b := r.At(x), l.At(x)
		for p := range body.NumPoints {
			near(t, p.String(), a.P[p].MirrorZ().Sub(b.P[p.Twin()]).Norm(), 0, 1e-12)
		}
	}
	ta, tb := r.Truth(0, true), l.Truth(0, true)
	for name, v := range ta.Measures {
		near(t, name, tb.Measures[name], v, 1e-9)
	}
}

func TestTipSpeedByLevel(t *testing.T) {
	// literature.md §2.4: club forehands 8–15 m/s at the head, high performance 31–33;
	// serves 15–25 and 38–45. Small players a little less.
	bands := map[body.Stroke][2]float64{body.Forehand: {8, 38}, body.Serve: {14, 46}, body.ForehandVolley: {5, 16}}
	for s, b := range bands {
		last := 0.0
		for lv := body.Beginner; lv <= body.Elite; lv++ {
			sum := 0.0
			for seed := range uint64(6) {
				m := synth.NewSwing(synth.Spec{Stroke: s, Level: lv, Stature: 1.75, Seed: seed})
				v := speed(m, body.RacketTip, m.Struck[0].Contact, -1)
				if v < b[0] || v > b[1] {
					t.Errorf("%s level %d seed %d: %.1f m/s", s, lv, seed, v)
				}
				sum += v
			}
			if sum <= last {
				t.Errorf("%s level %d is no faster than the level below", s, lv)
			}
			last = sum
		}
	}
}

func TestBallIsMetAtTheHead(t *testing.T) {
	each(t, func(t *testing.T, m *synth.Motion, k synth.Struck) {
		p := m.At(k.Contact)
		if !p.HasBall {
			t.Fatal("no ball at contact")
		}
		center := p.P[body.RacketTip].Lerp(p.P[body.RacketThroat], 0.5)
		near(t, "ball from head centre", p.P[body.Ball].Sub(center).Norm(), 0.05, 0.05)
		if k.Out.X < 1 {
			t.Errorf("ball leaves with %.1f m/s toward the net", k.Out.X)
		}
	})
}

func TestBallFallsFreely(t *testing.T) {
	m := synth.NewSwing(synth.Spec{Stroke: body.Serve, Seed: 5})
	k := m.Struck[0]
	at := func(x float64) float64 { return m.At(x).P[body.Ball].Y }
	for x := k.Release + 0.05; x < k.Contact-0.05; x += 0.02 {
		const h = 0.01
		near(t, "fall of the toss", (at(x+h)-2*at(x)+at(x-h))/h/h, -9.80665, 0.2)
	}
	const h = 1e-3
	before := (at(k.Release) - at(k.Release-h)) / h
	after := (at(k.Release+h) - at(k.Release)) / h
	near(t, "ball's rise at release", before, after, 0.3)
}

func TestPracticeIsOneMotion(t *testing.T) {
	ks := []body.Stroke{body.Forehand, body.TwoHandedBackhand, body.Forehand, body.SliceBackhand}
	m := synth.NewPractice(synth.Practice{Spec: synth.Spec{Seed: 11}, Strokes: ks})
	if len(m.Struck) != len(ks) {
		t.Fatalf("%d strokes, want %d", len(m.Struck), len(ks))
	}
	for x := m.Start; x < m.End; x += 0.005 {
		a, b := m.At(x), m.At(x+1e-5)
		for p := range body.NumPoints {
			if p != body.Ball && a.P[p].Sub(b.P[p]).Norm() > 60*1e-5 {
				t.Fatalf("%s leaps at %.3f", p, x)
			}
		}
	}
	for i, k := range m.Struck {
		if k.Stroke != ks[i] {
			t.Errorf("stroke %d is a %s", i, k.Stroke)
		}
		if i > 0 && k.Contact-m.Struck[i-1].Contact < 1.8 {
			t.Errorf("strokes %d and %d are %.1f s apart", i-1, i, k.Contact-m.Struck[i-1].Contact)
		}
	}
}

// A serve takes the arm once around; the take-back after it used to bring it back around
// the body, with the hand at 6 to 13 m/s; hands of recorded take-backs reach 5.5.
func TestATakeBackAfterAServeDoesNotCircle(t *testing.T) {
	for seed := range uint64(4) {
		for _, next := range []body.Stroke{body.Forehand, body.SliceBackhand, body.TwoHandedBackhand} {
			p := synth.Practice{Spec: synth.Spec{Seed: seed}, Strokes: []body.Stroke{body.Serve, next}, Plain: true}
			m := synth.NewPractice(p)
			for x := m.Struck[1].Contact - 1.5; x < m.Struck[1].Contact-0.45; x += 0.01 {
				hips, later := m.At(x), m.At(x+1e-3)
				v := later.P[body.RightHand].Sub(later.P[body.MidHip]).Sub(hips.P[body.RightHand].Sub(hips.P[body.MidHip])).Norm() / 1e-3
				if v > 6 {
					t.Fatalf("%s after a serve, seed %d: the hand takes back at %.1f m/s", next, seed, v)
				}
			}
		}
	}
}

func TestNothingBetweenStrokesIsAStroke(t *testing.T) {
	for seed := range uint64(6) {
		m := synth.NewPractice(synth.Practice{Spec: synth.Spec{Seed: seed}})
		if len(m.Struck) != 0 {
			t.Fatal("a practice without strokes has one")
		}
		for x := m.Start; x < m.End; x += 0.01 {
			if v := speed(m, body.RacketTip, x, 1); v > 9 {
				t.Errorf("seed %d: tip at %.1f m/s at %.2f", seed, v, x)
			}
		}
	}
}

func TestEventsComeInOrder(t *testing.T) {
	each(t, func(t *testing.T, m *synth.Motion, k synth.Struck) {
		e := m.Truth(0, true).Events
		order := []phase.EventKind{phase.TurnStart, phase.ForwardStart, phase.MaxLag, phase.Contact, phase.FollowEnd}
		for i := 1; i < len(order); i++ {
			if !(e[order[i-1]] <= e[order[i]]) {
				t.Errorf("event %d at %.3f, event %d at %.3f", order[i-1], e[order[i-1]], order[i], e[order[i]])
			}
		}
		near(t, "contact", e[phase.Contact], k.Contact, 1e-12)
	})
}

func TestPlantedTrendShowsInTheTruth(t *testing.T) {
	ks := []body.Stroke{body.Forehand, body.Forehand, body.Forehand, body.Forehand}
	p := synth.Practice{Spec: synth.Spec{Seed: 4, Level: body.Advanced}, Strokes: ks, Plain: true}
	p.Each = func(i int, s *synth.Spec) { s.Seed, s.Knobs.Turn = 77, -8*float64(i) }
	m := synth.NewPractice(p)
	for i := 1; i < len(ks); i++ {
		was, is := m.Truth(i-1, true).Measures["turn.shoulders.max"], m.Truth(i, true).Measures["turn.shoulders.max"]
		near(t, "shoulder turn falls by", was-is, 8, 1.5)
	}
}
