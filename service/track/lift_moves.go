package track

import (
	"math"

	"example.com/courtkin/service/body"
)

// A lift that has settled may still tilt a segment the wrong way over some
// stretch of time. Each stretch between two instants at which a segment lies flat is
// tried the other way round, the rest adapting; what fits better is kept, and
// what fits nearly as well is remembered, so that draws take it in turn.

// otherLift is another course of the distances over a stretch, which fits nearly as well.
type otherLift struct {
	lo, hi int
	delta  []float64 // what it adds to the distances
	worse  float64   // by how much its cost is larger
	kind   int
}

// flip is one segment's or several segments' tilt turned round at a node.
type flip struct {
	tie   int // whose stretches are tried
	apply func(l *lift, i int)
}

const (
	tieLeftUpperArm = iota
	tieRightUpperArm
	tieLeftForearm
	tieRightForearm
	tieLeftThigh
	tieRightThigh
	tieLeftShank
	tieRightShank
	tieShoulders
	tieHips
)

// tiltOf is how the tie tilts at a node.
func (l *lift) tiltOf(k, i int) (s slant, ok bool) {
	t := &ties[k]
	lam1, r1, ok1 := l.end(i, t.a)
	lam2, r2, ok2 := l.end(i, t.b)
	if !ok1 || !ok2 {
		return s, false
	}
	return slantOf(lam1, r1, lam2, r2, l.length(t.kind)), true
}

// shift moves joints at a node.
func (l *lift) shift(i int, d float64, ps ...body.Point) {
	for _, p := range ps {
		l.lam[i*liftJoints+int(p)] += d
	}
}

func buildFlips() (out []flip) {
	trunk := func(l *lift, i int, shoulders, hips bool) {
		if s, ok := l.tiltOf(tieShoulders, i); ok && shoulders {
			l.shift(i, -s.u, body.LeftShoulder, body.LeftElbow, body.LeftWrist) // u = left − right
			l.shift(i, s.u, body.RightShoulder, body.RightElbow, body.RightWrist)
		}
		if s, ok := l.tiltOf(tieHips, i); ok && hips {
			l.shift(i, -s.u, body.LeftHip)
			l.shift(i, s.u, body.RightHip)
			l.shift(i, -s.u/2, body.LeftKnee)
			l.shift(i, s.u/2, body.RightKnee)
		}
	}
	out = append(out,
		flip{tieShoulders, func(l *lift, i int) { trunk(l, i, true, false) }},
		flip{tieHips, func(l *lift, i int) { trunk(l, i, false, true) }},
		flip{tieShoulders, func(l *lift, i int) { trunk(l, i, true, true) }},
		flip{tieShoulders, (*lift).mirrorNode},
	)
	for side := range 2 {
		el, wr := body.LeftElbow+body.Point(side), body.LeftWrist+body.Point(side)
		kn, an := body.LeftKnee+body.Point(side), body.LeftAnkle+body.Point(side)
		upper, fore, thigh, shank := tieLeftUpperArm+side, tieLeftForearm+side, tieLeftThigh+side, tieLeftShank+side
		out = append(out,
			flip{upper, func(l *lift, i int) {
				if s, ok := l.tiltOf(upper, i); ok { // u = shoulder − elbow
					l.shift(i, 2*s.u, el, wr)
				}
			}},
			flip{fore, func(l *lift, i int) {
				if s, ok := l.tiltOf(fore, i); ok {
					l.shift(i, 2*s.u, wr)
				}
			}},
			flip{upper, func(l *lift, i int) {
				s, ok1 := l.tiltOf(upper, i)
				f, ok2 := l.tiltOf(fore, i)
				if ok1 && ok2 {
					l.shift(i, 2*s.u, el)
					l.shift(i, 2*s.u+2*f.u, wr)
				}
			}},
			flip{thigh, func(l *lift, i int) {
				if s, ok := l.tiltOf(thigh, i); ok {
					l.shift(i, 2*s.u, kn)
				}
			}},
			flip{shank, func(l *lift, i int) {
				if s, ok := l.tiltOf(shank, i); ok {
					l.shift(i, 2*s.u, an)
				}
			}},
		)
	}
	return out
}

// flips lists what is tried.
var flips = buildFlips()

// mirrorNode turns every tilt of the body round: its mirror image in the plane
// across the line of sight.
func (l *lift) mirrorNode(i int) {
	k := i * liftJoints
	mid := (l.lam[k+int(body.LeftHip)] + l.lam[k+int(body.RightHip)]) / 2
	for j := range liftJoints {
		l.lam[k+j] = 2*mid - l.lam[k+j]
	}
}

// flatTilt is the share of a segment's length under which its tilt may change sign unseen.
const flatTilt = 0.45

// stretches lists where a tie tilts one way between two flat instants: [lo, hi).
func (l *lift) stretches(k int) (out [][2]int) {
	n := len(l.t)
	v := l.long[:n]
	for i := range n {
		s, ok := l.tiltOf(k, i)
		if !ok {
			return nil
		}
		v[i] = s.u * math.Sqrt(s.r2) / l.length(ties[k].kind)
	}
	lo := 0
	peak := math.Abs(v[0])
	end := func(hi int) {
		if hi-lo >= 3 && peak > 0.2 {
			out = append(out, [2]int{lo, hi})
		}
		lo, peak = hi, 0
	}
	for i := 1; i < n; i++ {
		valley := i+1 < n && math.Abs(v[i]) < flatTilt && math.Abs(v[i]) <= math.Abs(v[i-1]) && math.Abs(v[i]) < math.Abs(v[i+1])
		if v[i]*v[i-1] < 0 || valley && i-lo >= 3 {
			end(i)
		}
		peak = math.Max(peak, math.Abs(v[i]))
	}
	end(n)
	if len(out) > 1 {
		out = append(out, [2]int{0, n})
	}
	return out
}

const (
	// moveMargin is how many nodes beside a stretch adapt with it.
	moveMargin = 3
	movePasses = 4
	// worstRival is how much worse, in log likelihood, another course may fit and still count.
	worstRival = 5.0
	// leastApart is how far a otherLift must be from what it rivals, metres.
	leastApart = 0.03
)

// tryMoves tries every flip of every stretch; it reports how many were kept, and
// gathers rivals.
func (l *lift) tryMoves() (kept int) {
	l.rivals = l.rivals[:0]
	for f := range flips {
		for _, s := range l.stretches(flips[f].tie) {
			if l.tryMove(f, s) {
				kept++
			}
		}
	}
	return kept
}

func (l *lift) tryMove(f int, s [2]int) bool {
	lo, hi := max(0, s[0]-moveMargin), min(len(l.t), s[1]+moveMargin)
	before := append(l.saved[:0], l.lam[lo*liftJoints:hi*liftJoints]...)
	l.saved = before
	l.lo, l.hi, l.held = lo, hi, true
	defer func() { l.lo, l.hi, l.held = 0, len(l.t), false }()
	was := l.costNow()
	for i := s[0]; i < s[1]; i++ {
		flips[f].apply(l, i)
	}
	for range movePasses {
		l.tries++
		worst, ok := l.improve()
		if !ok {
			copy(l.lam[lo*liftJoints:], before)
			return false
		}
		if worst < 0.01 {
			break
		}
	}
	worse := l.costNow() - was
	apart := 0.0
	for i, v := range before {
		apart = math.Max(apart, math.Abs(l.lam[lo*liftJoints+i]-v))
	}
	if worse < -0.05 {
		return true
	}
	if worse < worstRival && apart > leastApart {
		r := otherLift{lo: lo, hi: hi, worse: math.Max(0, worse), kind: f, delta: make([]float64, len(before))}
		for i, v := range before {
			r.delta[i] = l.lam[lo*liftJoints+i] - v
		}
		l.rivals = append(l.rivals, r)
	}
	copy(l.lam[lo*liftJoints:], before)
	return false
}

// costNow is the cost of the present distances over [lo, hi).
func (l *lift) costNow() float64 {
	l.only = true
	l.assemble()
	l.only = false
	return l.cost
}
