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
//	overhead tossed across two  flat short
var strokeTable = [body.NumStrokes][numQuestions]int8{
	body.Forehand:          {no, either, no, no, no, either},
	body.TwoHandedBackhand: {no, either, yes, yes, no, either},
	body.OneHandedBackhand: {no, either, yes, no, no, either},
	body.SliceBackhand:     {no, either, yes, no, yes, no},
	body.Serve:             {yes, yes, no, no, either, either},
	body.ForehandVolley:    {no, either, no, no, yes, either},
	body.BackhandVolley:    {no, either, yes, either, yes, yes},
	body.Overhead:          {yes, no, no, no, either, either},
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
// between the groups of the recorded strokes:
//
//	high      recorded ground strokes and volleys −0.22 … 0.12, serves and smashes 0.38 … 0.64
//	together  two-handed 0.19 … 0.29, others 0.46 …
//	lift      serves 0.82 … 1.08, smashes 0.08 … 0.79
//	wait      serves 1.2 … 1.7, smashes 0.5 … 1.0
//	turn      ±40 … ±140
//	side      forehands 0.22 … 0.65, backhands −0.20 … 0.05
//	rise      drives 0.23 … 0.77, volleys −0.01 … 0.06
//	slope     of the racket head; drives rise, slices and volleys fall (common practice; made strokes +7° … and … −10°)
//	back, turn, fall: volleys back 0.29 … 0.38; slices are not among the recordings, their side is from made ones
func (f *features) logOdds() (l [numQuestions]float64) {
	l[overhead] = hint(f.high, 0.25, 0.03, 8)
	l[tossed] = hint(f.lift, 0.80, 0.04, 4) + hint(f.wait, 1.08, 0.10, 3)
	if f.toss {
		l[tossed] += 6
	}
	l[tossed] += hint(-f.ballIn, -6, 0.7, 4)
	l[acrossBody] = hint(-f.turn, 0, 12, 5) + hint(-f.side, -0.15, 0.08, 2)
	l[twoHands] = hint(-f.together, -0.34, 0.03, 4)
	if f.racket {
		l[twoHands] = hint(-f.offHandle, -0.15, 0.02, 6)
	}
	l[flatThrough] = hint(-f.rise, -0.15, 0.03, 5)
	if f.racket {
		l[flatThrough] = hint(-f.slope, 4, 3, 6) + hint(-f.rise, -0.15, 0.05, 2)
	}
	l[short] = hint(-f.back, -0.33, 0.05, 2) + hint(-math.Abs(f.turn), -41, 8, 2) +
		hint(-f.fall, -0.16, 0.03, 2) + hint(-f.rise, -0.04, 0.04, 2)
	l[short] = max(l[short], l[twoHands]) // a slice is hit with one hand: with two, a flat backhand is a volley
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
	return h + chance(l[overhead])*hint(f.above, 0, 0.05, 6)
}

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
func classify(c *track.Course, s Setup) (body.Stroke, body.Hand, float64) {
	best, sum := 0.0, 0.0
	stroke, hand := s.Expected, s.Player.Hand
	for _, h := range [...]body.Hand{body.RightHanded, body.LeftHanded} {
		f, ok := readFor(c, h)
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
