package swing

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/track"
)

// question is a thing that one asks of a stroke. The answer is a chance of yes,
// from how far a feature lies from the value at which it might be one or the other.
type question uint8

const (
	overhead    question = iota // is the ball hit above the head?
	tossed                      // did the player put the ball up himself?
	acrossBody                  // is it hit on the support arm's side?
	twoHands                    // are both hands on the racket?
	flatThrough                 // does the hand go through level or down, not up?
	short                       // is the swing short?
	punched                     // of a forehand: does it stop at the ball, or is it swung through?

	numQuestions
)

// Answers that a stroke asks for.
const (
	no     int8 = -1
	either int8 = 0
	yes    int8 = 1
)

// strokeTable says how each stroke answers.
//
//	overhead tossed across two  flat short punched
var strokeTable = [body.NumStrokes][numQuestions]int8{
	body.Forehand:          {no, either, no, no, either, either, no},
	body.TwoHandedBackhand: {no, either, yes, yes, no, either, either},
	body.OneHandedBackhand: {no, either, yes, no, no, either, either},
	body.SliceBackhand:     {no, either, yes, no, yes, no, either},
	body.Serve:             {yes, yes, no, no, either, either, either},
	body.ForehandVolley:    {no, either, no, no, either, either, yes},
	body.BackhandVolley:    {no, either, yes, either, yes, yes, either},
	body.Overhead:          {yes, no, no, no, either, either, either},
}

// hint is one feature's word on a question: for yes by (x − even)/soft in
// log-odds, at most strong to either side.
func hint(x, even, soft, strong float64) float64 {
	if math.IsNaN(x) {
		return 0
	}
	return min(max((x-even)/soft, -strong), strong)
}

// logOdds answers the questions. The values at which a feature says nothing lie
// between the groups of the recorded strokes (r) and the made ones (m):
//
//	high      r ground strokes and volleys −0.22 … 0.13, serves and smashes 0.38 … 0.64
//	together  two-handed r 0.19 … 0.29, m 0.09 … 0.27; others r 0.42 …, m 0.24 …
//	coil      serves r 43 … 78, m 13 … 52: a server stands sideways; smashes r 142, 182, m 103 … 123
//	lift      serves r 0.82 … 1.09, m 0.77 … 0.90; smashes r 0.08 … 0.79, m 0.59 … 0.72
//	wait      serves r 1.2 … 2.2, m 0.7 … 1.1; smashes r 0.5 … 1.0, m 0.7 … 1.0
//	ballFar   m serves 1.0 … 1.9: a toss hangs over the head; smashes 2.1 …: 0.35 s before contact a ball at 8 m/s is 2.8 m away
//	ballFast  m serves 0.4 … 2.7, smashes 6.6 …: a toss that drops 1.5 m comes at 5.4 m/s and in the mean of the
//	          last 0.25 s at 4.2; a lob comes down from higher, and forward. ballIn is the same of the fit, where
//	          that can be had alone: one camera gets it wrong by half for a toss
//	turn      ±40 … ±140
//	side      forehands r 0.22 … 0.65, backhands −0.20 … 0.05
//	rise      drives r 0.21 … 0.77, m 0.05 … 0.57; volleys −0.01 … 0.06; m slices −0.01 … 0.31
//	slope     of the racket head; drives rise, slices and volleys fall (common practice; m +7° … and … −10°);
//	          of the hand alone: m drives −11 … 42, slices and volleys … −1; r drives fall, too, so that it counts little
//	back, turn, fall: m volleys back 0.15 … 0.28, turn 7 … 43, slices 0.19 … 0.38, 48 … 83 (none recorded);
//	          a slice comes down from over the ball, a volley meets it where the hand was held: fall says
//	          most, while who slices slowly, sideways to the end, unwinds no more than in a volley and
//	          need not rise after it, so that little turn and no rise say less than much of either
func (f *features) logOdds() (l [numQuestions]float64) {
	l[overhead] = hint(f.high, 0.28, 0.03, 8)
	l[tossed] = f.tossOdds()
	l[acrossBody] = hint(-f.turn, 0, 12, 5) + hint(-f.side, -0.15, 0.08, 2)
	// Both hands of a two-hander go with the racket; a free hand stays behind or balances.
	// One camera guesses how far apart they are along its line of sight: that makes them one
	// pair of hands when they come out together, and does not part them when they do not.
	l[twoHands] = max(hint(-f.together, -0.29, 0.02, 4), 0) + min(hint(-f.across, -0.29, 0.02, 4), 0)
	if f.racket {
		l[twoHands] = hint(-f.offHandle, -0.17, 0.02, 6)
	}
	l[twoHands] += hint(math.Log(f.otherSpeed/f.speed), -0.45, 0.12, 3)
	l[flatThrough] = hint(-f.rise, -0.12, 0.035, 5) + hint(-f.slope, 5, 4, 3)
	if f.racket {
		l[flatThrough] = hint(-f.slope, 4, 3, 5) + hint(-f.rise, -0.20, 0.05, 4)
	}
	l[short] = hint(-f.back, -0.28, 0.04, 1.5) + hint(-f.fall, -0.14, 0.03, 3) +
		min(hint(-math.Abs(f.turn), -45, 6, 3), 1.5) + min(hint(-f.rise, -0.04, 0.03, 2), 1)
	l[short] = max(l[short], l[twoHands]) // a slice is hit with one hand: with two, a flat backhand is a volley
	l[punched] = f.punchOdds()
	l[short] += f.unbounced
	return l
}

// punchOdds returns the log-odds that a forehand is a volley: the hand comes from not
// far behind, the chest hardly unwinds, nothing rises after the ball, and the racket
// goes down or level. A drive may do one of these: flat ones fall, too, so that no one
// of them decides.
func (f *features) punchOdds() float64 {
	l := hint(-f.rise, -0.22, 0.05, 5) + hint(-f.back, -0.44, 0.04, 3) + hint(-f.turn, -55, 8, 2.5)
	if f.racket {
		l += hint(-f.slope, 2, 4, 4)
	} else {
		l += hint(-f.slope, 5, 4, 2)
	}
	return l + f.unbounced
}

// tossOdds returns the log-odds that the player tossed the ball up himself: a
// server stands sideways, lifts the other arm, takes his time, and the ball hangs
// over his head.
func (f *features) tossOdds() float64 {
	l := hint(-f.coil, -88, 8, 4) + hint(f.lift, 0.75, 0.04, 4)
	l += max(hint(f.wait, 1.05, 0.10, 3), -0.5) + min(hint(f.wait, 0.60, 0.08, 3), 0)
	l += hint(-f.ballFar, -2.0, 0.12, 5)
	if math.IsNaN(f.ballFast) {
		l += hint(-f.ballIn, -8, 1.5, 2)
	} else {
		l += min(hint(-f.ballFast, -5.2, 0.5, 10), 3) // no arm tosses a ball that comes down at 8 m/s
	}
	if f.toss {
		l += 6
	}
	return l
}

// holds returns the log-odds that the hand read for holds the racket, from its
// wrist's speed, its place at the handle and, overhead, its height.
func (f *features) holds(l *[numQuestions]float64) float64 {
	h := hint(math.Log(f.speed/f.otherSpeed), 0, 0.12, 4)
	if f.racket {
		h = hint(f.offHandle-f.onHandle, 0, 0.04, 6)
	}
	h *= 1 - chance(l[twoHands])
	return h + f.handed*rightHanded + chance(l[overhead])*hint(f.above, 0, 0.05, 6)
}

// rightHanded is half the log-odds that a player of whom nothing is said holds the racket in
// the right hand: seven in eight do (common practice, no source). It decides only where
// nothing else does: a right-hander's two-handed backhand is much like a left-hander's forehand.
const rightHanded = 0.97

// chance returns the probability of log-odds l.
func chance(l float64) float64 { return 1 / (1 + math.Exp(-l)) }

// scores returns the weight of each stroke for one hand: the product of the
// chances of its answers.
func scores(l *[numQuestions]float64) (w [body.NumStrokes]float64) {
	for s := body.Forehand; s < body.NumStrokes; s++ {
		w[s] = 1
		for q, a := range strokeTable[s] {
			switch a {
			case yes:
				w[s] *= chance(l[q])
			case no:
				w[s] *= chance(-l[q])
			}
		}
	}
	return w
}

// classify names the stroke and the hand of a settled course (either heading, Y
// up, not mirrored) with the confidence, in (0, 1]. A hand or a stroke that the
// setup gives is taken as said; the confidence then still tells how well the
// course agrees. StrokeUnknown with confidence 0 when the wrists or the
// shoulders are not known.
func classify(c *track.Course, s Setup, b beside) (body.Stroke, body.Hand, float64) {
	best, sum := 0.0, 0.0
	stroke, hand := s.Expected, s.Player.Hand
	for _, h := range [...]body.Hand{body.RightHanded, body.LeftHanded} {
		f, ok := readFor(c, h, b)
		if !ok || s.Player.Hand != body.HandUnknown && s.Player.Hand != h {
			continue
		}
		l := f.logOdds()
		held := chance(f.holds(&l))
		for k, w := range scores(&l) {
			w *= held
			sum += w
			if fits := s.Expected == body.StrokeUnknown || s.Expected == body.Stroke(k); fits && w > best {
				best, stroke, hand = w, body.Stroke(k), h
			}
		}
	}
	if sum == 0 {
		return stroke, hand, 0
	}
	return stroke, hand, best / sum
}
