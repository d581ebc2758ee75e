package track

import (
	"slices"

	"example.com/courtkin/service/body"
)

// Evidence is what one point's break says of the instant of impact, for tests.
type Evidence struct {
	Point       body.Point
	T           []float64 // candidates, s
	Fast, Plain []float64
	FineT       []float64
	Fine        [2][]float64 // fast, plain
}

// bothWays is a point's evidence by the fast and by the plain way.
type bothWays struct {
	point       body.Point
	fast, plain func() clue
}

// waysOf lists both ways for every point that breaks in a window.
func waysOf(w *Window) (out []bothWays) {
	w.Slow = 1
	m := &scene{w: w, t0: w.Frames[0].TimeUS, length: w.RacketLength, rough: roughOf, method: "world", room: &room{}}
	unswap(w.Frames)
	m.settleTimes()
	if m.observe() != nil {
		return nil
	}
	m.measureNoise()
	if b, ok := m.ballSeen(); ok {
		out = append(out, bothWays{body.Ball, func() clue { o := *b; return &o }, func() clue { return &plainBall{model: b} }})
	}
	for p := range body.NumPoints {
		r, ok := impactRough(p)
		if !ok || p == body.Ball && m.rig != nil || p.IsRacket() && m.oneEye() {
			continue
		}
		for _, s := range m.streams(p) {
			r := r.scaled(s.scale)
			out = append(out, bothWays{p,
				func() clue { return newBreaker(slices.Clone(s.sights), r, w.Guess, &breakRoom{}) },
				func() clue { return &plainBreaker{sights: slices.Clone(s.sights), rough: r, guess: w.Guess} }})
		}
	}
	return out
}

// EvidenceOf has both ways look at every point that breaks.
func EvidenceOf(w *Window) (out []Evidence) {
	for _, b := range waysOf(w) {
		e := Evidence{Point: b.point, T: candidates(w.Guess)}
		fast, plain := b.fast(), b.plain()
		e.Fast, e.Plain = fast.choose(e.T), plain.choose(e.T)
		at := e.T[argMax(e.Plain)]
		for t := at - 0.02; t < at+0.02; t += 0.001 {
			e.FineT = append(e.FineT, t)
		}
		e.Fine = [2][]float64{fast.finer(e.FineT, at), plain.finer(e.FineT, at)}
		out = append(out, e)
	}
	return out
}

// Ways returns both ways to the evidence of every point that breaks, to be timed.
func Ways(w *Window) (fast, plain func()) {
	all, ts := waysOf(w), candidates(w.Guess)
	fast = func() {
		for _, b := range all {
			b.fast().choose(ts)
		}
	}
	plain = func() {
		for _, b := range all {
			b.plain().choose(ts)
		}
	}
	return fast, plain
}
