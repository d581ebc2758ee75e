package swing

// What a ball machine's notices tell the live depth: when a swing is to be
// expected. They change provisional findings alone, so that a practice is measured
// alike with a machine and without one, streamed and recorded.
const (
	// expectFrom and expectFor bound the time after a notice, seconds, in which a
	// swing is to be expected: a ball flies 0.5 to 1.5 s from a machine, a lob and a
	// ball left to fall 3 s, and clocks of machine and camera differ a little.
	// Common practice, no source.
	expectFrom, expectFor = -0.3, 3.5

	// expectTurn and expectRate are the turn, degrees and degrees a second, from
	// which on TURN_START is called when a swing is expected; strangeTurn when
	// notices come and none is.
	expectTurn, expectRate, strangeTurn = 10.0, 45.0, 25.0

	// maxFeeds is how many notices are remembered: more than come in expectFor.
	maxFeeds = 4
)

// feeds are the newest notices, on the frames' clock; those that run ahead of the
// frames wait for them.
type feeds struct {
	us   [maxFeeds]int64
	n    int
	used int64 // the notice that the player was last told to begin anew by
}

// Feed tells that a ball was fed at a time of the frames' clock: a swing is to be
// expected. It changes provisional events and never what is settled.
func (m *Machine) Feed(timeUS int64) { m.live.feeds.add(timeUS) }

func (f *feeds) add(us int64) {
	f.us[f.n%maxFeeds] = us
	f.n++
}

// expects reports whether a swing is to be expected, and by which notice; told
// whether notices come at all.
func (l *live) expects() (by int64, yes, told bool) {
	f := &l.feeds
	for i := range min(f.n, maxFeeds) {
		if after := l.view.seconds(f.us[i], l.us); after >= expectFrom && after <= expectFor && (!yes || f.us[i] > by) {
			by, yes = f.us[i], true
		}
	}
	return by, yes, f.n > 0
}

// turnNeeds returns from which turn on TURN_START is called, degrees and degrees a
// second. A feed begins anew: a turn called before it gives way to the next.
func (l *live) turnNeeds() (turn, rate float64) {
	by, yes, told := l.expects()
	switch {
	case yes:
		if by != l.feeds.used {
			l.feeds.used, l.rested = by, true
		}
		return expectTurn, expectRate
	case told:
		return strangeTurn, turnOn
	}
	return turnLeast, turnOn
}

// stray reports whether a ball that turned by so little, m/s, is another than the
// one that was fed: dropped, or bounced by hand.
func (l *live) stray(turn float64) bool {
	_, yes, told := l.expects()
	return told && !yes && turn < ballJump
}
