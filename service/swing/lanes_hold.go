package swing

import "math"

// What lanes hold of the past, and what a client must: a stream that resumes this
// one, from keep_from, has to come to the same answer in every lane.

// tire lets go of windows that were held for long.
func (l *lanes) tire(nowUS int64) {
	for i := range l.all {
		for h := &l.all[i]; len(h.held) > 0 && nowUS-h.held[0].c.EndUS > holdFor*1_000_000; {
			if l.mustDecide(h) {
				return
			}
			h.lose(l.rows())
		}
	}
}

// mustDecide reports whether the factor is settled, if need be in doubt, rather than let a lane
// lose its oldest window: where the frames, if they ended now, would be taken for that lane's.
// More would be known later, but not of the swing that is lost by then; and what falls later
// mends the factor (timeWindow).
func (l *lanes) mustDecide(h *lane) bool {
	if now := *l; l.decided == nil {
		now.end()
		if now.decided == h {
			*l = now
		}
	}
	return l.decided != nil
}

// lose drops the oldest window that is held, for good.
func (l *lane) lose(s *rows) {
	l.letGo(s)
	l.lost++
}

// letGo drops the oldest window that is held.
func (l *lane) letGo(s *rows) {
	for _, row := range l.held[0].window {
		s.drop(row)
	}
	l.held = l.held[:copy(l.held, l.held[1:])]
}

// holdWindow holds the rows of a window's frames, those that gather gathers.
func (m *machine) holdWindow(c *Candidate) []uint32 {
	r := m.cams[0].ring
	from := r.since(c.StartUS)
	held := make([]uint32, 0, r.since(c.EndUS+1)-from)
	for k := from; k < r.next && r.time(k) <= c.EndUS; k++ {
		held = append(held, r.row(k))
		r.hold(r.row(k))
	}
	return held
}

// rows are those of the one camera.
func (l *lanes) rows() *rows { return l.all[0].m.cams[0].ring.rows }

// slowest returns the lane whose frames reach back furthest.
func (l *lanes) slowest() *lane { return &l.all[len(l.all)-1] }

// span notes stretches that a resumed stream must not start inside.
func (l *lane) span(spans ...stretch) {
	for _, s := range spans {
		if n := len(l.past); n == maxStretches {
			l.past[n-1].to = s.to
			continue
		}
		l.past = append(l.past, s)
	}
}

// keepOf returns from when on a lane keeps frames, of which it needs those from
// keep on itself: the slowest keeps what a stream that resumes this one starts from.
func (l *lanes) keepOf(m *machine, keep int64) int64 {
	if l.slowest().m != m {
		return keep
	}
	from := min(keep, l.keepUS())
	r := m.cams[0].ring
	if k := r.since(from + 1); k > r.first {
		return r.time(k - 1) // the newest frame at or before it that every lane keeps
	}
	return from
}

// keepUS returns the time before which no lane needs frames, nor a stream that
// resumes this one.
func (l *lanes) keepUS() int64 {
	keep := int64(math.MaxInt64)
	for i := range l.all {
		h := &l.all[i]
		if c := &h.m.cams[0]; !c.ring.empty() {
			keep = min(keep, h.m.keepUS(c.ring.last()))
		}
		if len(h.held) > 0 {
			keep = min(keep, h.held[0].c.StartUS)
		}
	}
	for moved := true; moved; {
		moved = false
		for i := range l.all {
			h := &l.all[i]
			moved = outOf(h.past, &keep) || outOf(h.m.past, &keep) || moved
		}
	}
	for i := range l.all {
		h, old := &l.all[i], 0
		for old < len(h.past) && h.past[old].to < keep {
			old++
		}
		h.past = h.past[:copy(h.past, h.past[old:])]
	}
	return keep
}

// outOf moves an instant out of the stretches that it lies in, to their starts.
func outOf(past []stretch, us *int64) (moved bool) {
	for _, s := range past {
		if *us > s.from && *us <= s.to {
			*us, moved = s.from, true
		}
	}
	return moved
}
