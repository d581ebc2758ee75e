package phase

import (
	"math"

	"example.com/courtkin/service/body"
)

// Phases cuts a swing into phases, in order, from the instants of its events and
// of its first and last frames, seconds. It is a partition: no two phases
// overlap, and a phase whose end would not follow its start, or of which an end
// is absent, is left out. Where DropStart is absent TurnComplete stands in.
//
// A serve is READY to the release, TOSS to the trophy, TAKE_BACK from there; an
// overhead has no toss, and its take-back starts with the turn.
func Phases(t Times, stroke body.Stroke, first, last float64) []Phase {
	drop := t.DropOrTurn()
	turn, readyEnd := t[TurnStart], t[TurnStart]
	if stroke == body.Serve {
		turn, readyEnd = t[Trophy], t[BallRelease]
	}
	cuts := [...]Phase{
		{Ready, first, readyEnd},
		{Toss, t[BallRelease], t[Trophy]},
		{TakeBack, turn, earlier(drop, t[ForwardStart])},
		{Drop, drop, t[ForwardStart]},
		{ForwardSwing, t[ForwardStart], t[Contact]},
		{FollowThrough, t[Contact], t[FollowEnd]},
		{Recovery, t[FollowEnd], t[Recovered]},
	}
	phases := make([]Phase, 0, len(cuts))
	done := first
	for _, p := range cuts {
		p.Start, p.End = math.Max(p.Start, done), math.Min(p.End, last)
		if p.Start < p.End {
			phases = append(phases, p)
			done = p.End
		}
	}
	return phases
}

// earlier returns the lesser of two instants; the other when one is absent.
func earlier(a, b float64) float64 {
	if b < a || math.IsNaN(a) {
		return b
	}
	return a
}
