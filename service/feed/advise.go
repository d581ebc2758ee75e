package feed

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/cue"
)

// Times to ask again, s. Our choice.
const (
	soon  = 0.3 // the player is on his way to being ready
	later = 1.0 // frames or machine must change first
)

// Limits of balls in one session after which the drill ends. No number per
// session is published (weekly hours are: Thurber et al., clinical review);
// common practice, no source.
const (
	mostFeeds       = 300
	mostFeedsJunior = 120
)

// Advise answers one request of a ball machine. It says Go only when the
// newest frames show one player who is ready, the machine's limits are known
// and the volume is within bounds; in any doubt it says Hold.
func Advise(book *cue.Book, r Request) Advice {
	a := Advice{Cautions: named(book, r.Locale, "caution_feed_advice"), Cue: lastCue(book, r)}
	say := phrasesFor(r.Locale)
	if r.FeedsSoFar >= volume(r.Player) {
		a.Action, a.Reason = Stop, say["volume"]
		a.Cautions = append(a.Cautions, named(book, r.Locale, volumeCaution(r.Player))...)
		return a
	}
	s := look(&r)
	if s.state == gone {
		a.Action, a.Reason = Stop, say[s.reason]
		return a
	}
	if !r.limited() {
		a.Action, a.Reason, a.RetryAfter = Hold, say["no_limits"], later
		return a
	}
	if s.state != ready {
		a.Action, a.Reason, a.RetryAfter = Hold, say[s.reason], retry(s)
		return a
	}
	ball, why := next(&r)
	a.Action, a.Next, a.Reason = Go, &ball, say["ready"]+" "+say[why]
	return a
}

func volume(p body.Player) uint32 {
	if p.Junior {
		return mostFeedsJunior
	}
	return mostFeeds
}

func volumeCaution(p body.Player) string {
	if p.Junior {
		return "caution_junior_volume"
	}
	return "caution_feed_volume"
}

func retry(s sight) float64 {
	if s.state == busy {
		return soon
	}
	return later
}

func named(book *cue.Book, locale, name string) []cue.Cue {
	if c, ok := book.Named(name, locale); ok {
		return []cue.Cue{c}
	}
	return nil
}

// lastCue returns what the newest swing calls for, fading as the balls go on.
func lastCue(book *cue.Book, r Request) *cue.Cue {
	if len(r.Recent) == 0 {
		return nil
	}
	h := cue.History{Player: r.Player, Locale: r.Locale, SwingsSoFar: r.FeedsSoFar}
	for _, c := range book.Select(r.Recent[len(r.Recent)-1], h) {
		if c.Kind == cue.Correct || c.Kind == cue.Keep {
			return &c
		}
	}
	return nil
}

// quantity is one thing that a machine can vary. For each the harder side is
// stated: faster, further to the side, deeper, sooner, more spin. The height
// over the net has no harder side and is left alone.
type quantity struct {
	name string
	of   func(*Ball) *float64
	hard func(value, least, most float64) float64 // difficulty in [0, 1]
	back func(hardness, value, least, most float64, right bool) float64
}

// rising: the larger, the harder.
func rising(v, least, most float64) float64 { return (v - least) / (most - least) }

func fromRising(h, _, least, most float64, _ bool) float64 { return least + h*(most-least) }

// falling: the smaller, the harder.
func falling(v, least, most float64) float64 { return (most - v) / (most - least) }

func fromFalling(h, _, least, most float64, _ bool) float64 { return most - h*(most-least) }

// limitOn is how far a machine goes on the side of v; at 0 on that of side.
func limitOn(v, least, most, side float64) float64 {
	if v < 0 || v == 0 && side < 0 {
		return math.Max(-least, 0)
	}
	return math.Max(most, 0)
}

// spread: the further from 0, the harder.
func spread(v, least, most float64) float64 {
	limit := limitOn(v, least, most, 1)
	if limit == 0 {
		return 0
	}
	return math.Abs(v) / limit
}

// fromSpread keeps to the side on which the ball is; from the middle it goes to
// the forehand's.
func fromSpread(h, v, least, most float64, right bool) float64 {
	side := 1.0
	if v < 0 || v == 0 && !right {
		side = -1
	}
	return side * h * limitOn(v, least, most, side)
}

// fromSpin does the same for spin, from none to topspin.
func fromSpin(h, v, least, most float64, _ bool) float64 {
	return fromSpread(h, v, least, most, true)
}

var quantities = []quantity{
	{"speed", func(b *Ball) *float64 { return &b.Speed }, rising, fromRising},
	{"lateral", func(b *Ball) *float64 { return &b.Lateral }, spread, fromSpread},
	{"depth", func(b *Ball) *float64 { return &b.Depth }, falling, fromFalling},
	{"interval", func(b *Ball) *float64 { return &b.Interval }, falling, fromFalling},
	{"topspin", func(b *Ball) *float64 { return &b.Topspin }, spread, fromSpin},
}

// all lists every field of a ball.
func (b Ball) all() [6]float64 {
	return [6]float64{b.Speed, b.Lateral, b.Depth, b.Height, b.Topspin, b.Interval}
}

// limited reports whether the machine's limits are known and make sense: each
// least is at or below its most, all finite, and the machine can throw.
func (r *Request) limited() bool {
	least, most, last := r.Least.all(), r.Most.all(), r.Last.all()
	for i := range least {
		if !(least[i] <= most[i]) || math.IsInf(least[i], 0) || math.IsInf(most[i], 0) || math.IsNaN(last[i]) || math.IsInf(last[i], 0) {
			return false
		}
	}
	return r.Most.Speed > 0
}

// inside returns the ball with every field within the limits; the first ball,
// which has no last, is the easiest one: slow, in the middle, in good time.
func (r *Request) inside() Ball {
	b := r.Last
	if b == (Ball{}) {
		b = Ball{Speed: r.Least.Speed, Depth: r.Most.Depth, Height: (r.Least.Height + r.Most.Height) / 2, Interval: r.Most.Interval}
	}
	for _, of := range []func(*Ball) *float64{
		func(b *Ball) *float64 { return &b.Speed }, func(b *Ball) *float64 { return &b.Lateral }, func(b *Ball) *float64 { return &b.Depth },
		func(b *Ball) *float64 { return &b.Height }, func(b *Ball) *float64 { return &b.Topspin }, func(b *Ball) *float64 { return &b.Interval },
	} {
		*of(&b) = math.Min(math.Max(*of(&b), *of(&r.Least)), *of(&r.Most))
	}
	return b
}

// step is the change of difficulty from ball to ball, of the machine's range.
// Our choice: a tenth.
const step = 0.1

// next chooses the next ball: one quantity moves by one step, or none.
//
// The challenge point (Guadagnoli & Lee 2004, J Mot Behav 36:212): practice
// teaches most when it is as hard as the player can handle. Stated rule: when
// four in five of the last balls held together (held), the quantity that is
// easiest now gets one step harder; when half or fewer did, the hardest gets
// one step easier; in between, and with too few balls to judge, none moves.
func next(r *Request) (Ball, string) {
	b := r.inside()
	share, ok := steadiness(r.Recent)
	switch {
	case !ok:
		return b, "same_few"
	case share >= harderAt:
		return r.move(b, step)
	case share <= easierAt:
		return r.move(b, -step)
	}
	return b, "same"
}

// move takes one step: the easiest quantity up, or the hardest down; the next
// in line where the machine leaves it no room.
func (r *Request) move(b Ball, by float64) (Ball, string) {
	type turn struct{ hardness, value float64 }
	best, to := -1, turn{}
	for i, q := range quantities {
		least, most, x := *q.of(&r.Least), *q.of(&r.Most), *q.of(&b)
		if !(most > least) {
			continue
		}
		h := q.hard(x, least, most)
		moved := q.back(math.Min(math.Max(h+by, 0), 1), x, least, most, r.Player.Hand != body.LeftHanded)
		moved = math.Min(math.Max(moved, least), most)
		if room := math.Abs(moved-x) > 1e-9*(most-least); room && (best < 0 || (h-to.hardness)*by < 0) {
			best, to = i, turn{h, moved}
		}
	}
	if best < 0 {
		return b, "same"
	}
	*quantities[best].of(&b) = to.value
	if by > 0 {
		return b, "harder_" + quantities[best].name
	}
	return b, "easier_" + quantities[best].name
}
