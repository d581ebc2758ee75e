package phase

import (
	"math"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/track"
)

var names = [NumEvents]string{
	"unknown", "SPLIT_LANDING", "TURN_START", "TURN_COMPLETE", "DROP_START", "FORWARD_START", "MAX_LAG",
	"RACKET_LOW", "CONTACT", "FOLLOW_END", "RECOVERED", "BALL_RELEASE", "TROPHY",
}

// wantForehand holds the instants that the formulas of the made forehand give by hand.
func wantForehand() Times {
	t := None()
	// hop: 0.4 x (1 − x) m falls through 0.005 m at x = (1 + √(1 − 4·0.0125))/2.
	t[SplitLanding] = hopAt + hopFor*(1+math.Sqrt(0.95))/2
	// The rate 1 − cos 2πx is at 20 % of its largest, 2, at cos 2πx = 0.6.
	t[TurnStart] = turnAt + turnIn*math.Acos(0.6)/(2*math.Pi)
	t[TurnComplete] = bisect(shoulderTurn, turnAt, turnAt+turnIn, 0.97*fullTurn)
	t[DropStart], t[RacketLow] = dropAt, lowAt
	// An even ramp is at 5 % of its end after 5 % of its time.
	t[ForwardStart] = rampAt + 0.05*(madeContact-rampAt)
	t[MaxLag] = lagAt
	t[Contact] = madeContact
	// The tip's speed falls evenly, 3·handSpeed·(1 − 2d); the value before impact
	// has the height's rate beside it.
	sink := 0.4 * math.Pi / 0.3 * math.Sin(math.Pi*(madeContact-dropAt)/0.3)
	before := math.Hypot(3*handSpeed, sink)
	t[FollowEnd] = madeContact + (1-0.2*before/(3*handSpeed))/2
	t[Recovered] = math.Max(t[FollowEnd], bisect(func(x float64) float64 { return -shoulderTurn(x) }, madeContact, 3, -recoverTurn))
	return t
}

func TestLocateForehand(t *testing.T) {
	got, want := Locate(madeForehand().course(), Context{Stroke: body.Forehand}), wantForehand()
	for k := SplitLanding; k < NumEvents; k++ {
		near(t, names[k], got[k], want[k], 0.0005)
	}
}

// The backhand side is the forehand side in a mirror: h = −Z.
func TestLocateMirror(t *testing.T) {
	got := Locate(mirrored(madeForehand().course()), Context{Stroke: body.TwoHandedBackhand})
	want := Locate(madeForehand().course(), Context{Stroke: body.Forehand})
	for k := SplitLanding; k < NumEvents; k++ {
		near(t, names[k], got[k], want[k], 1e-12)
	}
	// Read with the wrong side the same shoulders turn away, and the take-back is no turn.
	wrong := Locate(mirrored(madeForehand().course()), Context{Stroke: body.Forehand})
	if !math.IsNaN(wrong[TurnStart]) && math.Abs(wrong[TurnStart]-want[TurnStart]) < 0.1 {
		t.Errorf("TURN_START on the wrong side = %v, as on the right one", wrong[TurnStart])
	}
}

// Whatever comes after impact moves no event before it.
func TestLocateKeepsToItsSideOfImpact(t *testing.T) {
	c := madeForehand().course()
	want := Locate(c, Context{Stroke: body.Forehand})
	spoil(c)
	got := Locate(c, Context{Stroke: body.Forehand})
	for k := SplitLanding; k < NumEvents; k++ {
		if k != FollowEnd && k != Recovered {
			near(t, names[k], got[k], want[k], 0)
		}
	}
}

// spoil puts nonsense into every sample after impact.
func spoil(c *track.Course) {
	bad := func(v []geom.Vec3) {
		for i := c.Break + 1; i < len(v); i++ {
			v[i] = geom.Vec3{X: 1e6, Y: -1e6, Z: 1e6 * float64(i)}
		}
	}
	for p := range body.NumPoints {
		bad(c.Pos[p])
		bad(c.Vel[p])
	}
	for _, v := range [][]geom.Vec3{c.Grip, c.GripVel, c.Axis, c.AxisVel, c.Center, c.CenterVel} {
		bad(v)
	}
}

func TestLocateTimeShift(t *testing.T) {
	c := madeForehand().course()
	want := Locate(c, Context{Stroke: body.Forehand})
	for i := range c.T {
		c.T[i] += 5
	}
	got := Locate(c, Context{Stroke: body.Forehand})
	for k := SplitLanding; k < NumEvents; k++ {
		near(t, names[k], got[k], want[k]+5, 1e-9)
	}
}

func TestLocateAbsent(t *testing.T) {
	flat := func(m *made) {
		m.points[body.RacketTip] = func(t float64) geom.Vec3 { p := tipPath(t); p.Y = 2 - 0.5*t; return p }
	}
	cases := []struct {
		name   string
		change func(*made)
		absent []EventKind
		there  []EventKind
	}{
		{"a tip that only sinks: the lowest point is at an end", flat, []EventKind{RacketLow, DropStart}, []EventKind{FollowEnd, MaxLag}},
		{"a drop of 4 cm", func(m *made) {
			m.points[body.RacketTip] = func(t float64) geom.Vec3 { p := tipPath(t); p.Y = 1 + 0.05*(p.Y-1); return p }
		}, []EventKind{DropStart}, []EventKind{RacketLow}},
		{"feet on the ground", func(m *made) { m.points[body.LeftAnkle] = still(0, 0.1, -0.2) }, []EventKind{SplitLanding}, []EventKind{TurnStart}},
		{"no racket points", func(m *made) { m.axis = nil; delete(m.points, body.RacketTip) },
			[]EventKind{DropStart, MaxLag, RacketLow, FollowEnd, Recovered}, []EventKind{ForwardStart, TurnStart, TurnComplete, SplitLanding, Contact}},
		{"shoulders that do not turn", func(m *made) {
			m.points[body.LeftShoulder], m.points[body.RightShoulder] = still(0, 1.45, -0.2), still(0, 1.45, 0.2)
		}, []EventKind{TurnStart, TurnComplete, RacketLow, DropStart, SplitLanding}, []EventKind{ForwardStart, MaxLag, FollowEnd}},
		{"shoulders not known", func(m *made) { delete(m.points, body.LeftShoulder) },
			[]EventKind{TurnStart, TurnComplete, Recovered}, []EventKind{ForwardStart, MaxLag, FollowEnd}},
		{"a hand that moves throughout", func(m *made) {
			m.grip = func(t float64) geom.Vec3 { return geom.Vec3{X: 5 * t, Y: 1} }
		}, []EventKind{ForwardStart, MaxLag}, []EventKind{TurnStart}},
		{"a follow-through that does not end", func(m *made) {
			m.points[body.RacketTip] = func(t float64) geom.Vec3 { return geom.Vec3{X: 9 * t, Y: 1} }
		}, []EventKind{FollowEnd, Recovered}, []EventKind{TurnStart}},
		{"a tip that stays behind", func(m *made) {
			m.points[body.RacketTip] = func(t float64) geom.Vec3 { p := tipPath(t); p.X -= 20; return p }
		}, []EventKind{Recovered}, []EventKind{FollowEnd}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			m := madeForehand()
			c.change(&m)
			got := Locate(m.course(), Context{Stroke: body.Forehand})
			for _, k := range c.absent {
				near(t, names[k], got[k], math.NaN(), 0)
			}
			for _, k := range c.there {
				if math.IsNaN(got[k]) {
					t.Errorf("%s is absent", names[k])
				}
			}
		})
	}
}

// Without a head centre f is the grip's own direction: here the same line.
func TestForwardStartFromWrists(t *testing.T) {
	m := madeForehand()
	m.axis = nil
	m.points[body.RightWrist] = gripX
	c := m.course()
	c.Grip, c.GripVel = nil, nil
	got := Locate(c, Context{Stroke: body.Forehand})
	near(t, "FORWARD_START", got[ForwardStart], wantForehand()[ForwardStart], 0.0005)
}

func TestLocateServe(t *testing.T) {
	const release, deepest = 1.0, 1.4
	m := madeForehand()
	m.points[body.LeftWrist] = func(t float64) geom.Vec3 { return geom.Vec3{Y: 1 + ease((t-release+0.25)/0.5)} }
	// The back knee comes forward and is bent deepest when it is furthest ahead.
	m.points[body.RightKnee] = func(t float64) geom.Vec3 {
		return geom.Vec3{X: 0.2 - (t-deepest)*(t-deepest), Y: 0.55, Z: 0.2}
	}
	m.points[body.RightAnkle], m.points[body.RightHip] = still(0, 0.1, 0.2), still(0, 1, 0.2)
	m.points[body.LeftAnkle] = still(0.4, 0.1, -0.2)
	c := m.course()
	got := Locate(c, Context{Stroke: body.Serve})
	near(t, "BALL_RELEASE without a ball", got[BallRelease], release, 0.001)
	near(t, "TROPHY", got[Trophy], deepest, 0.001)
	near(t, "SPLIT_LANDING", got[SplitLanding], math.NaN(), 0)
	c.Ball.Release = 1.03
	got = Locate(c, Context{Stroke: body.Serve})
	near(t, "BALL_RELEASE with a ball", got[BallRelease], 1.03, 0)
	near(t, "RACKET_LOW from the trophy on", got[RacketLow], lowAt, 0.0005)
	near(t, "overhead's BALL_RELEASE", Locate(c, Context{Stroke: body.Overhead})[BallRelease], math.NaN(), 0)
	near(t, "overhead's TROPHY", Locate(c, Context{Stroke: body.Overhead})[Trophy], deepest, 0.001)
	near(t, "forehand's TROPHY", Locate(c, Context{Stroke: body.Forehand})[Trophy], math.NaN(), 0)
}

// The turn is searched within 2.0 s before contact of a ground stroke, within 2.5 s of an overhead.
func TestTurnSearchStretch(t *testing.T) {
	m := madeForehand()
	early := func(t float64) float64 { return shoulderTurn(t) + 3*ease((t+0.25)/0.5) - 3 } // fastest at 0
	m.points[body.LeftShoulder], m.points[body.RightShoulder] = line(0.2, 1.45, early)
	c := m.course()
	for i := range c.T {
		c.T[i] += 0.3 // the window starts 0.3 s earlier than the search
	}
	var k Curves
	k.Read(c, Context{Stroke: body.Forehand})
	k.Locate()
	near(t, "start of the search", k.SearchFrom(), 0.3, 1e-12)
}

// A bump in the drop counts by the definition; with noise of its size it does not.
func TestDropStartBump(t *testing.T) {
	const bumpAt = 1.65
	m := madeForehand()
	m.points[body.RacketTip] = func(t float64) geom.Vec3 {
		p := tipPath(t)
		x := (t - bumpAt) / 0.012
		p.Y += 0.1 * math.Exp(-x*x/2)
		return p
	}
	c := m.course()
	exact := Locate(c, Context{Stroke: body.Forehand})
	noisy := Locate(c, Context{Stroke: body.Forehand, HeightNoise: 0.03})
	if d := math.Abs(exact[DropStart] - bumpAt); d > 0.02 {
		t.Errorf("DROP_START = %v, want the bump's top near %v", exact[DropStart], bumpAt)
	}
	if d := math.Abs(noisy[DropStart] - dropAt); d > 0.02 {
		t.Errorf("DROP_START with noise = %v, want the top near %v", noisy[DropStart], dropAt)
	}
}

// Where a motion all but rests, a doubt of its speed decides between two instants.
func TestRateDoubtTakesTheOtherInstant(t *testing.T) {
	const bumpAt, creepAt = 1.65, 1.4
	read := func(bump, doubt float64) Times {
		m := madeForehand()
		m.points[body.RacketTip] = func(t float64) geom.Vec3 {
			p := tipPath(t)
			x := (t - bumpAt) / 0.012
			p.Y += bump * math.Exp(-x*x/2)
			return p
		}
		m.grip = func(t float64) geom.Vec3 { // creeps at a little more than 5 % of its speed at contact
			return gripX(t).Add(geom.Vec3{X: 0.6 * math.Max(0, t-creepAt)})
		}
		return Locate(m.course(), Context{Stroke: body.Forehand, RateDoubt: doubt})
	}
	for _, c := range []struct{ bump, doubt, drop, forward float64 }{
		{0.06, 0, dropAt, creepAt},
		{0.06, -1, bumpAt, creepAt}, // a tip that falls slower turns back
		{0.09, 0, bumpAt, creepAt},
		{0.09, 1.5, dropAt, rampAt}, // one that falls faster does not; a slower hand starts later
	} {
		got := read(c.bump, c.doubt)
		near(t, "DROP_START", got[DropStart], c.drop, 0.04) // the top itself moves by the doubt over its bend, 1.5/44 s
		near(t, "FORWARD_START", got[ForwardStart], c.forward, 0.05)
	}
}

func TestLocateShortCourses(t *testing.T) {
	whole := madeForehand().course()
	for _, n := range []int{0, 1, 2, 3} {
		c := &track.Course{T: whole.T[:n]}
		if got := Locate(c, Context{}); !math.IsNaN(got[Contact]) {
			t.Errorf("%d samples: contact %v, want none", n, got[Contact])
		}
	}
	// Contact at the second sample and nothing known: contact alone, no panic.
	c := &track.Course{T: []float64{0, 1, 1}, Break: 1}
	near(t, "contact", Locate(c, Context{Stroke: body.Serve})[Contact], 1, 0)
}

// Turns past the back of the circle go on without a jump.
func TestTurnsWithoutJumps(t *testing.T) {
	m := madeForehand()
	turn := func(t float64) float64 { return 4 * (1 - t/madeContact) } // 229° at the start, 0 at contact
	m.points[body.LeftShoulder], m.points[body.RightShoulder] = line(0.2, 1.45, turn)
	var k Curves
	k.Read(m.course(), Context{Stroke: body.Forehand})
	for i, x := range k.t {
		near(t, "turn", k.ShoulderTurn[i], turn(x), 1e-9)
		near(t, "rate", k.ShoulderRate[i], -2, 1e-4)
	}
}

// Angles of single poses by hand. λ and flexion are the service's own angles; the
// flexion's sense is that of Wu et al. 2002, 2005 (ISB): 0 straight.
func TestPoseAngles(t *testing.T) {
	x, y, z := geom.Vec3{X: 1}, geom.Vec3{Y: 1}, geom.Vec3{Z: 1}
	cases := []struct {
		name      string
		got, want float64
	}{
		{"lag, tip straight behind the hand", lag(x.Scale(-1), x.Scale(5)), math.Pi / 2},
		{"lag, racket square to the path", lag(z, x.Scale(5)), 0},
		{"lag, tip straight ahead", lag(x, x.Scale(5)), -math.Pi / 2},
		{"lag of 45° with an axis that is no unit", lag(geom.Vec3{X: -3, Z: 3}, x), math.Pi / 4},
		{"flexion, straight", Flexion(geom.Vec3{}, x, x.Scale(2)), 0},
		{"flexion, right angle", Flexion(geom.Vec3{}, x, x.Add(y)), math.Pi / 2},
		{"flexion, folded", Flexion(geom.Vec3{}, x, geom.Vec3{}), math.Pi},
	}
	for _, c := range cases {
		near(t, c.name, c.got, c.want, 1e-12)
	}
}

// Front and back foot (measures.md): nearer to the net, or by the side when level.
func TestBackFoot(t *testing.T) {
	cases := []struct {
		name        string
		left, right float64 // X of the ankles
		stroke      body.Stroke
		backRight   bool
	}{
		{"left foot ahead", 0.5, 0, body.Forehand, true},
		{"right foot ahead", 0, 0.5, body.Forehand, false},
		{"level: a forehand's front foot is the left", 0, 0.05, body.Forehand, true},
		{"level: a backhand's front foot is the right", 0.05, 0, body.OneHandedBackhand, false},
		{"level: a server's front foot is the left", 0, 0.05, body.Serve, true},
	}
	for _, c := range cases {
		m := madeForehand()
		m.points[body.LeftAnkle], m.points[body.RightAnkle] = still(c.left, 0.1, 0), still(c.right, 0.1, 0)
		var k Curves
		k.Read(m.course(), Context{Stroke: c.stroke})
		if k.BackFootRight() != c.backRight {
			t.Errorf("%s: back foot right = %v", c.name, k.BackFootRight())
		}
	}
}

func BenchmarkLocate(b *testing.B) {
	c := madeForehand().course()
	var k Curves
	b.ReportAllocs()
	for b.Loop() {
		k.Read(c, Context{Stroke: body.Forehand})
		k.Locate()
	}
	b.ReportMetric(float64(len(c.T)), "samples")
}

// A hop counts while it stands out from the ankles' noise, and is none beyond.
func TestSplitLandingInNoise(t *testing.T) {
	c := madeForehand().course()
	want := Locate(c, Context{Stroke: body.Forehand})[SplitLanding]
	if math.IsNaN(want) {
		t.Fatal("the made forehand has no hop")
	}
	near(t, "SPLIT_LANDING in a little noise", Locate(c, Context{Stroke: body.Forehand, FootNoise: 0.1 / 3.5})[SplitLanding], want, 1e-12)
	near(t, "SPLIT_LANDING in noise", Locate(c, Context{Stroke: body.Forehand, FootNoise: 0.1 / 2.5})[SplitLanding], math.NaN(), 0)
	far := Context{FootNoise: 0.03}
	near(t, "least hop in noise of 3 cm", far.LeastHop(), 0.09, 1e-12)
	near(t, "least hop without noise", (&Context{}).LeastHop(), 0.02, 0)
}
