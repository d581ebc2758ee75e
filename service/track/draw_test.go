package track

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
)

// seenPath holds sights of a point on a gentle course by one or two cameras, or as
// places (none), with noise of which a part lasts; for one camera with the distances
// of a lift.
func seenPath(g *grid, cameras int) (s []sight, start []geom.Vec3) {
	rng := rand.New(rand.NewPCG(21, uint64(cameras)))
	at := func(t float64) geom.Vec3 {
		return geom.Vec3{X: 0.4 * math.Sin(3*t), Y: 1 + 0.2*t, Z: 0.5 * math.Cos(2*t)}
	}
	eyes := []camera.Pose{denseEye(geom.Vec3{X: 8, Y: 1.5}), denseEye(geom.Vec3{X: 3, Y: 2, Z: 7})}
	noise := [3]hiss{place: {white: 0.005, slow: 0.004, memory: 0.08}, image: {white: 1.3, slow: 0.9, memory: 0.08}, reach: {white: 0.01, slow: 0.05, memory: 0.25}}
	end := g.t[len(g.t)-1]
	if cameras == 0 {
		for t := g.t[0] + 0.003; t < end; t += 1.0 / 120 {
			e := geom.Vec3{X: rng.NormFloat64(), Y: rng.NormFloat64(), Z: rng.NormFloat64()}.Scale(0.006)
			s = append(s, sight{kind: place, t: t, p: at(t).Add(e), sd: 0.005, h: &noise[place], w: 1})
		}
	}
	for k := range cameras {
		for t := g.t[0] + 0.003 + 0.006*float64(k); t < end; t += 1.0 / 60 {
			x, y, _ := eyes[k].Project(at(t))
			p := geom.Vec3{X: x + 1.5*rng.NormFloat64(), Y: y + 1.5*rng.NormFloat64()}
			s = append(s, sight{kind: image, t: t, eye: &eyes[k], p: p, sd: 1.3, h: &noise[image], w: 1})
		}
	}
	if cameras == 1 {
		f := eyes[0].Forward()
		var errs [liftDraws]float64
		for t := g.t[0]; t < end; t += 1.0 / 40 {
			for i := range errs {
				errs[i] = 0.9*errs[i] + 0.03*rng.NormFloat64()
			}
			s = append(s, sight{kind: reach, t: t, dir: f, p: geom.Vec3{X: f.Dot(at(t)) + 0.02*rng.NormFloat64()},
				sd: liftFollow, errs: append([]float64(nil), errs[:]...), h: &noise[reach], w: 1})
		}
	}
	sortByTime(s)
	for _, t := range g.t {
		start = append(start, at(t).Add(geom.Vec3{X: 0.03, Y: -0.01, Z: -0.02}))
	}
	return s, start
}

// plainDraw is path.draw sight by sight, for places too.
func (p *path) plainDraw(rng *dice, out []geom.Vec3) {
	if p.wide {
		p.drawWide(rng, out)
		return
	}
	p.linkSights()
	clear(out)
	for i, weight := range p.jerks {
		k := knot{i, p.g.jerk(i)}
		pull(out, &k, rng.vector(math.Sqrt(weight)))
	}
	last := make([]geom.Vec3, p.lasts)
	for i := range p.sights {
		s, l := &p.sights[i], &p.links[i]
		pull(out, &p.knots[i], l.next(s, &last[l.strand], rng).Scale(s.w/(s.sd*s.sd)))
	}
	p.even.forward(out)
	p.even.back(out)
	for i := range out {
		out[i] = out[i].Add(p.mean[i])
	}
}

// forward solves L·y = x for three axes, in place (after factor).
func (s strip) forward(x []geom.Vec3) {
	x = x[:len(s)]
	var x1, x2, x3 geom.Vec3
	for i := range s {
		r, v := &s[i], x[i]
		v = geom.Vec3{
			X: v.X - r[0]*x3.X - r[1]*x2.X - r[2]*x1.X,
			Y: v.Y - r[0]*x3.Y - r[1]*x2.Y - r[2]*x1.Y,
			Z: v.Z - r[0]*x3.Z - r[1]*x2.Z - r[2]*x1.Z,
		}
		x[i] = v
		x3, x2, x1 = x2, x1, v
	}
}

var seenRough = rough{level: 2e4, width: 0.2, floor: 0.1, jump: 0.5}

// solvedPaths are the path of sights as it is solved, and in the plain way.
func solvedPaths(t *testing.T, cameras int) (fast, plain *path) {
	t.Helper()
	g := newGrid(solveSteps, 0, 0.8, 1.2)
	s, start := seenPath(g, cameras)
	fast, plain = &path{}, &path{}
	for _, p := range []*path{fast, plain} {
		p.lay(g, append([]sight(nil), s...))
		copy(p.mean, start)
		if p == plain {
			p.apart = nil
		}
		if !p.settle(seenRough, 2) || !p.followBursts(seenRough, false) {
			t.Fatal("no path")
		}
	}
	return fast, plain
}

func TestPathsApartAreWhatPathsAre(t *testing.T) {
	for _, cameras := range []int{1, 2} {
		fast, plain := solvedPaths(t, cameras)
		if fast.apart == nil {
			t.Fatal("not solved apart")
		}
		for i, x := range fast.mean {
			if d := x.Sub(plain.mean[i]).Norm(); !(d < 0.001) { // a fifth of the noise
				t.Errorf("%d cameras, node %d at %.3f s: %.1f mm apart", cameras, i, fast.g.t[i], 1000*d)
			}
		}
	}
}

// TestDrawsSpreadAsPlainDraws sets the spread of draws, of places and of speeds,
// against that of draws made sight by sight; the fourth time, of a path that two cameras
// see and that is not solved apart.
func TestDrawsSpreadAsPlainDraws(t *testing.T) {
	const n = 600 // an sd of the sd of 3 %
	for cameras := range 4 {
		fast, plain := solvedPaths(t, min(cameras, 2))
		if cameras == 3 {
			fast = plain
			if fast.newShakerWide().blocks == nil {
				t.Fatal("drawn sight by sight")
			}
		}
		spread := func(draw func(rng *dice, out []geom.Vec3)) (place, speed []float64) {
			m := len(fast.mean)
			out := make([]geom.Vec3, m)
			place, speed = make([]float64, m), make([]float64, m)
			for k := range n {
				draw(newDice(77, k), out)
				for i := 1; i+1 < m; i++ {
					e := out[i].Sub(plain.mean[i])
					v := out[i+1].Sub(plain.mean[i+1]).Sub(out[i-1].Sub(plain.mean[i-1])).Scale(1 / (fast.g.t[i+1] - fast.g.t[i-1]))
					place[i] += e.Dot(e) / n
					speed[i] += v.Dot(v) / n
				}
			}
			return place, speed
		}
		p1, v1 := spread(fast.draw)
		p2, v2 := spread(plain.plainDraw)
		for name, pair := range map[string][2][]float64{"places": {p1, p2}, "speeds": {v1, v2}} {
			sum, worst := 0.0, 0.0
			for i := 2; i+2 < len(p1); i++ {
				r := 0.5 * math.Log(pair[0][i]/pair[1][i])
				sum += r / float64(len(p1)-4)
				worst = math.Max(worst, math.Abs(r))
			}
			t.Logf("%d cameras: %s %.3f in the mean, %.2f at most", cameras, name, sum, worst)
			if !(math.Abs(sum) < 0.06) || !(worst < 0.25) {
				t.Errorf("%d cameras: sds of %s differ by %.3f in the mean of their logarithms, by %.2f at most", cameras, name, sum, worst)
			}
		}
	}
}

// TestRodsDrawsSpreadAsPlainDraws sets the spread of a rod's draws, of grip, tip and the
// tip's speed, against that of draws made sight by sight.
func TestRodsDrawsSpreadAsPlainDraws(t *testing.T) {
	const n = 600 // an sd of the sd of 3 %
	eyes := []camera.Pose{denseEye(geom.Vec3{X: 8, Y: 1.5}), denseEye(geom.Vec3{X: 3, Y: 2, Z: 7})}
	noise := [2]hiss{place: {white: 0.006, slow: 0.005, memory: 0.08}, image: {white: 1.6, slow: 1.2, memory: 0.08}}
	hand, turn := handOf, rough{level: 1e5, width: 0.2, floor: 0.1, jump: 2}
	for _, k := range [2]kind{place, image} {
		g := newGrid(solveSteps, 0, 0.5, 0.8)
		r, s := madeRod(g)
		for i := range s {
			x := &s[i]
			x.sd, x.h = noise[k].white, &noise[k]
			if at := r.at(x.t, x.along); k == place {
				x.kind, x.p = place, at
			} else {
				x.kind, x.eye = image, &eyes[i/3%2]
				x.p.X, x.p.Y, _ = x.eye.Project(at)
				x.p.Z = 0
			}
		}
		if !settleRod(r, s, hand, turn, 3) {
			t.Fatal("no rod")
		}
		m := len(r.axis)
		grip, axis, room := make([]geom.Vec3, m), make([]geom.Vec3, m), make([]float64, rodDims*m)
		spread := func(s *rodShaker) (out [3][]float64) {
			r.shake = s
			for k := range out {
				out[k] = make([]float64, m)
			}
			for k := range n {
				r.draw(newDice(78, k), grip, axis, room)
				tip := func(i int) geom.Vec3 { return grip[i].Sub(r.grip[i]).Add(axis[i].Sub(r.axis[i]).Scale(0.58)) }
				for i := 1; i+1 < m; i++ {
					d := grip[i].Sub(r.grip[i])
					v := tip(i + 1).Sub(tip(i - 1)).Scale(1 / (g.t[i+1] - g.t[i-1]))
					out[0][i] += d.Dot(d) / n
					out[1][i] += tip(i).Dot(tip(i)) / n
					out[2][i] += v.Dot(v) / n
				}
			}
			return out
		}
		fast := r.newShaker()
		if fast.blocks == nil {
			t.Fatal("drawn sight by sight")
		}
		a, b := spread(fast), spread(r.newPlainShaker())
		for what, name := range [3]string{"grip", "tip", "tip's speed"} {
			sum, worst := 0.0, 0.0
			for i := 2; i+2 < m; i++ {
				d := 0.5 * math.Log(a[what][i]/b[what][i])
				sum += d / float64(m-4)
				worst = math.Max(worst, math.Abs(d))
			}
			t.Logf("kind %d: %s %.3f in the mean, %.2f at most", k, name, sum, worst)
			if !(math.Abs(sum) < 0.06) || !(worst < 0.25) {
				t.Errorf("kind %d: sds of the %s differ by %.3f in the mean of their logarithms, by %.2f at most", k, name, sum, worst)
			}
		}
	}
}
