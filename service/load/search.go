package load

import (
	"context"
	"time"
)

// Search looks for the most players that a measure of delay stays under a
// bound for.
type Search struct {
	From, Most int           // players; the first trial, and no more than
	Bound      time.Duration // of the 99th percentile
	Delay      func(*Result) Delays
	Settled    time.Duration // bound of the same of settled swings; what is settled ever later is not carried
	Closer     float64       // stop when the last that was well and the first that was not are nearer than this share
	Trials     int           // at most
}

// Highest doubles the players until a trial is not well, then halves the
// distance. try runs one trial. It returns the best result that was well, nil
// when not even the first was, and all trials.
func (s Search) Highest(ctx context.Context, try func(players int) *Result) (best *Result, all []*Result) {
	low, high := 0, 0 // well, and not
	for n := s.From; len(all) < s.Trials && ctx.Err() == nil; {
		r := try(n)
		all = append(all, r)
		if s.well(r) {
			low, best = n, r
		} else {
			high = n
		}
		switch {
		case high == 0 && low >= s.Most:
			return best, all
		case high == 0:
			n = min(2*low, s.Most)
		case high-low <= 1 || float64(high-low) <= s.Closer*float64(high):
			return best, all
		default:
			n = (low + high) / 2
		}
	}
	return best, all
}

// well reports whether a trial lost nothing and was in time.
func (s Search) well(r *Result) bool {
	d := s.Delay(r)
	return r.Well() && d.Count > 0 && d.P99 < s.Bound && (r.Swing.Count == 0 || r.Swing.P99 < s.Settled)
}
