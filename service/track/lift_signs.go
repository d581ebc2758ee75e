package track

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// Which way segments tilt: at each node a pair of segments has four choices of
// signs. The sequence of choices that moves most evenly and agrees best with what
// is believed of posture is found by dynamic programming over pairs of
// neighbouring nodes (Viterbi).

// fourWays is, for each node, the four choices: their depths and their costs.
type fourWays struct {
	depth [][4][2]float64 // metres
	cost  [][4]float64
	accel float64 // sd of the depths' acceleration, m/s²
	// cross is the cost of changing a depth's sign between a node and the next, however far
	// apart the two depths are: as believed, the segment does not come to lie across the view
	// there, but with another length it does. nil: no such change is looked for.
	cross [][2]float64
}

// crossing is the cost of a segment of that length lying across the view where it seems to
// tilt by a depth h: to do so it must be shorter by h²/2L, and its length has an sd.
func crossing(h, length, sd float64) float64 { return sq2(h * h / (2 * length * length * sd)) }

func newWays(n int, accel float64) *fourWays {
	return &fourWays{depth: make([][4][2]float64, n), cost: make([][4]float64, n), accel: accel}
}

// even chooses for each node so that the depths move evenly.
func (l *lift) even(w *fourWays) []int {
	n := len(l.t)
	from := make([][4][4]uint8, n)
	var best [4][4]float64
	for j := range 4 {
		for k := range 4 {
			best[j][k] = w.cost[0][j] + w.cost[1][k]
			for d := range 2 {
				x := (w.depth[1][k][d] - w.depth[0][j][d]) / (3*(l.t[1]-l.t[0]) + depthNoise)
				best[j][k] += 0.1 * x * x
			}
		}
	}
	var turns [4][4][4]float64
	for i := 2; i < n; i++ {
		l.turns(w, i, &turns)
		var next [4][4]float64
		for k := range 4 {
			for m := range 4 {
				low, at := math.Inf(1), 0
				for j := range 4 {
					if c := best[j][k] + turns[k][m][j]; c < low {
						low, at = c, j
					}
				}
				next[k][m] = low + w.cost[i][m]
				from[i][k][m] = uint8(at)
			}
		}
		best = next
	}
	pick := make([]int, n)
	low := math.Inf(1)
	for j := range 4 {
		for k := range 4 {
			if best[j][k] < low {
				low, pick[n-2], pick[n-1] = best[j][k], j, k
			}
		}
	}
	for i := n - 1; i >= 2; i-- {
		pick[i-2] = int(from[i][pick[i-1]][pick[i]])
	}
	return pick
}

// depthNoise is the sd of a depth that a length gives, metres.
const depthNoise = 0.04

// start sets the distances to set out from. base is each node's distance of the body.
// mirror turns the trunk's preference round: 1 takes the choices as they come.
func (l *lift) start(base []float64) {
	for i := range l.t {
		for j := range liftJoints {
			l.lam[i*liftJoints+j] = base[i]
		}
	}
	l.startTrunk()
	l.startHead()
	for b := range limbs {
		l.startLimb(&limbs[b])
	}
}

// tilt is |δ| of a segment between joints a and b both at about distance lam,
// and what δ is at u = 0.
func (l *lift) tilt(i int, a, b body.Point, lam, length float64) (centre, half float64) {
	s := slantOf(lam, l.ray[a][i], lam, l.ray[b][i], length)
	return -s.b * lam, s.h
}

func signs(k int) (float64, float64) { return float64(1 - 2*(k&1)), float64(1 - 2*(k>>1)) }

// trunkWays lists how shoulders and hips may be turned about their present
// middles: the right joint's distance less the left one's, of shoulders and hips.
func (l *lift) trunkWays() *fourWays {
	w := newWays(len(l.t), 40)
	w.cross = make([][2]float64, len(l.t))
	for i := range l.t {
		q := l.lam[i*liftJoints:]
		chest, belly := (q[lsh]+q[rsh])/2, (q[lhp]+q[rhp])/2
		cs, hs := l.tilt(i, rsh, lsh, chest, l.length(paramShoulders))
		ch, hh := l.tilt(i, rhp, lhp, belly, l.length(paramHips))
		w.cross[i] = [2]float64{
			crossing(hs, l.length(paramShoulders), shares[paramShoulders].sd),
			crossing(hh, l.length(paramHips), shares[paramHips].sd),
		}
		weight := l.span[i] / (l.span[i] + beliefMemory)
		for k := range 4 {
			a, b := signs(k)
			ds, dh := cs+a*hs, ch+b*hh
			w.depth[i][k] = [2]float64{ds, dh}
			w.cost[i][k] = weight * l.trunkCost(i, chest, belly, ds, dh)
		}
	}
	l.heed(w, [2]body.Point{rsh, rhp}, [2]body.Point{lsh, lhp})
	return w
}

// startTrunk chooses how shoulders and hips are turned.
func (l *lift) startTrunk() {
	w := l.trunkWays()
	for i, k := range l.even(w) {
		d := w.depth[i][k]
		q := l.lam[i*liftJoints:]
		chest, belly := (q[lsh]+q[rsh])/2, (q[lhp]+q[rhp])/2
		q[rsh], q[lsh] = chest+d[0]/2, chest-d[0]/2
		q[rhp], q[lhp] = belly+d[1]/2, belly-d[1]/2
	}
}

// trunkCost is how unlikely a turn of shoulders and hips is by what the image shows of
// the rest: squared residuals.
func (l *lift) trunkCost(i int, high, low, ds, dh float64) float64 {
	s := l.stanceAt(i)
	set := func(p body.Point, lam float64) { s.p[p] = l.ray[p][i].Scale(lam) }
	set(rsh, high+ds/2)
	set(lsh, high-ds/2)
	set(rhp, low+dh/2)
	set(lhp, low-dh/2)
	chest, belly := s.forward(lsh, rsh), s.forward(lhp, rhp)
	sum := sq2(s.twist(belly, chest))
	sum += sq2(s.p[rhp].Sub(s.p[lhp]).Unit().Dot(s.up) / 0.1)
	sum += sq2(s.p[rsh].Sub(s.p[lsh]).Unit().Dot(s.up) / 0.22)
	// What lies before the body shows beside it where the body is turned.
	right := geom.Vec3{X: 1}
	mid := s.middle(lsh)
	var x, hands float64
	for _, p := range [2]body.Point{body.LeftWrist, body.RightWrist} {
		if l.seen[p] {
			x += s.p[p].Sub(mid).Dot(right)
			hands++
		}
	}
	if hands > 0 {
		sum += sq2((x/hands/s.stature - 0.15*chest.X) / 0.08)
	}
	for _, p := range [2]body.Point{body.LeftKnee, body.RightKnee} {
		hip, ankle := p-2, p+2
		if l.seen[p] && l.seen[ankle] {
			d := s.p[p].Sub(s.p[hip].Lerp(s.p[ankle], 0.5))
			sum += sq2((d.X/s.stature - 0.085*belly.X) / 0.035)
		}
	}
	if look, ok := l.look(s); ok {
		sum += sq2(s.turnBetween(chest, look) / 0.8)
	}
	return math.Min(sum, 60)
}

func sq2(x float64) float64 { return x * x }

// look is where the head looks, level: across by the nose's place between the ears, away or
// toward by the ears' order.
func (l *lift) look(s *stanceAt) (geom.Vec3, bool) {
	if !l.seen[body.Nose] || !l.seen[body.LeftEar] || !l.seen[body.RightEar] {
		return geom.Vec3{}, false
	}
	x := (s.p[body.Nose].X - s.middle(body.LeftEar).X) / (0.063 * s.stature)
	z := (s.p[body.RightEar].X - s.p[body.LeftEar].X) / (0.086 * s.stature)
	return geom.Vec3{X: x, Z: z}.Unit(), math.Hypot(x, z) > 0.2
}

// startHead sets the head's distances from where it looks.
func (l *lift) startHead() {
	for i := range l.t {
		s := l.stanceAt(i)
		look, ok := l.look(s)
		if !ok {
			continue
		}
		q := l.lam[i*liftJoints:]
		base := (q[lsh] + q[rsh]) / 2
		q[body.Nose] = base + look.Z*0.063*s.stature
		q[body.RightEar] = base - look.X*0.043*s.stature
		q[body.LeftEar] = base + look.X*0.043*s.stature
	}
}

// limb is two segments that hang together.
type limb struct {
	root, joint, end body.Point
	kinds            [2]int
	accel            float64 // sd of the depths' acceleration, m/s²
	of               func(l *lift, i int, s *stanceAt) float64
}

var limbs = buildLimbs()

func buildLimbs() (out []limb) {
	for side := range body.Point(2) {
		sh, el, wr := body.LeftShoulder+side, body.LeftElbow+side, body.LeftWrist+side
		out = append(out, limb{sh, el, wr, [2]int{paramUpperArm, paramForearm}, 80, func(l *lift, i int, s *stanceAt) float64 {
			chest := s.forward(lsh, rsh)
			d := s.p[wr].Sub(s.middle(lsh))
			sum := sq2((d.Dot(chest)/s.stature - 0.15) / 0.095)
			e := s.p[el].Sub(s.p[sh].Lerp(s.p[wr], 0.5))
			sum += sq2((e.Dot(chest)/s.stature + 0.015) / 0.045)
			reach := s.p[wr].Sub(s.p[sh]).Norm() / s.stature
			return sum + sq2(math.Max(0, 0.11-reach)/0.02)
		}})
		hp, kn, an := body.LeftHip+side, body.LeftKnee+side, body.LeftAnkle+side
		out = append(out, limb{hp, kn, an, [2]int{paramThigh, paramShank}, 40, func(l *lift, i int, s *stanceAt) float64 {
			belly := s.forward(lhp, rhp)
			d := s.p[kn].Sub(s.p[hp].Lerp(s.p[an], 0.5))
			sum := sq2((d.Dot(belly)/s.stature - 0.085) / 0.035)
			e := s.p[an].Sub(s.middle(lhp))
			e = e.Sub(s.up.Scale(e.Dot(s.up)))
			sum += sq2(e.Norm() / s.stature / 0.18)
			height := 0.12
			if l.court {
				height = 0.05
			}
			return sum + sq2((s.up.Dot(s.p[an])-s.floor-ankleShare*s.stature)/height)
		}})
	}
	return out
}

// limbWays lists how a limb may tilt from its root: depths of its joint and its end
// beyond the root.
func (l *lift) limbWays(b *limb) *fourWays {
	w := newWays(len(l.t), b.accel)
	len1, len2 := l.length(b.kinds[0]), l.length(b.kinds[1])
	for i := range l.t {
		s := l.stanceAt(i)
		weight := l.span[i] / (l.span[i] + beliefMemory)
		base := l.lam[i*liftJoints+int(b.root)]
		for k := range 4 {
			x, y := signs(k)
			c1, h1 := l.tilt(i, b.joint, b.root, base, len1)
			mid := base + c1 + x*h1
			c2, h2 := l.tilt(i, b.end, b.joint, mid, len2)
			tip := mid + c2 + y*h2
			w.depth[i][k] = [2]float64{mid - base, tip - base}
			s.p[b.joint], s.p[b.end] = l.ray[b.joint][i].Scale(mid), l.ray[b.end][i].Scale(tip)
			w.cost[i][k] = weight * math.Min(b.of(l, i, s), 60)
		}
	}
	l.heed(w, [2]body.Point{b.joint, b.end}, [2]body.Point{b.root, b.root})
	return w
}

// startLimb chooses the tilts of a limb.
func (l *lift) startLimb(b *limb) {
	if !l.seen[b.joint] || !l.seen[b.end] {
		return
	}
	w := l.limbWays(b)
	for i, k := range l.even(w) {
		q := l.lam[i*liftJoints:]
		q[b.joint] = q[b.root] + w.depth[i][k][0]
		q[b.end] = q[b.root] + w.depth[i][k][1]
	}
}

// bases are the distances of the body at the nodes to set out from: where the feet's rays
// meet the ground when the camera is known by the court, else the distance that
// stature gives.
func (l *lift) bases(distance float64) []float64 {
	out := make([]float64, len(l.t))
	for i := range out {
		out[i] = distance
		if h := l.hint[liftJoints]; h != nil && !math.IsNaN(h[i]) {
			out[i] = h[i]
		}
	}
	if l.hint[liftJoints] != nil {
		return out
	}
	if !l.court {
		return out
	}
	raw := make([]float64, len(l.t))
	for i := range raw {
		n := 0.0
		for _, p := range [2]body.Point{body.LeftAnkle, body.RightAnkle} {
			if down := l.up.Dot(l.ray[p][i]); l.seen[p] && down < -0.01 {
				raw[i] += (l.floor + ankleShare*l.stature + 0.01) / down
				n++
			}
		}
		raw[i] /= n
	}
	for i, t := range l.t {
		var near []float64
		for k, u := range l.t {
			if math.Abs(u-t) < 0.2 && !math.IsNaN(raw[k]) && raw[k] > 1 && raw[k] < 100 {
				near = append(near, raw[k])
			}
		}
		if len(near) > 0 {
			sum := 0.0
			for _, v := range near {
				sum += v
			}
			out[i] = sum / float64(len(near))
		}
	}
	return out
}

// liftUp solves the lift from its start; false where it fails.
func (l *lift) liftUp(distance float64, passes int) bool {
	if l.worlds != nil {
		l.takeHints()
	}
	l.start(l.bases(distance))
	if !l.settle(passes) {
		return false
	}
	if l.worlds != nil { // which tell the size better
		return true
	}
	l.lookAtVolume()
	return l.settle(volumePasses) && (!l.repick() || l.settle(volumePasses))
}

// liftRest is the root mean square step, metres, under which the distances rest: each
// further one is half as long, and the sd of a distance is 0.02 m or more.
const liftRest = 0.004

// settle improves until the distances rest.
func (l *lift) settle(passes int) bool {
	for range passes {
		moved, ok := l.improve()
		l.steps++
		if !ok || math.IsNaN(moved) {
			return false
		}
		if moved < liftRest {
			break
		}
	}
	return true
}
