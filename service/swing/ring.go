package swing

import (
	"math"

	"example.com/courtkin/service/body"
)

const (
	// firstRing is how many frames a ring holds at first. It doubles: places are
	// then found by a mask, and a frame costs a ring 5 bytes.
	firstRing = 64

	// maxRingFrames bounds a ring: 10 s at 400 Hz. A ring that is full forgets
	// its oldest frames.
	maxRingFrames = 4096
)

// ring keeps the newest raw frames of one camera, or those of them that it was
// given. Frames are addressed by their place in the stream, counted from 0; the
// count has no meaning outside this machine.
//
// Invariants: first ≤ next; next − first ≤ len(kept), a power of two.
type ring struct {
	*rows

	kept  []uint32 // by slot: the row of the frame
	walls []bool   // by slot: the frame shows somebody else than the one before it
	first uint64   // place of the oldest frame kept
	next  uint64   // place of the next frame to come

	ballUS, racketUS int64 // when each was seen last, in all frames that came
}

func newRing(s *rows) *ring {
	return &ring{rows: s, ballUS: math.MinInt64, racketUS: math.MinInt64}
}

// empty reports whether no frame is kept.
func (r *ring) empty() bool { return r.first == r.next }

// slot returns where the frame at a place lies.
func (r *ring) slot(place uint64) int { return int(place & uint64(len(r.kept)-1)) }

// row returns the row of the frame at a place.
func (r *ring) row(place uint64) uint32 { return r.kept[r.slot(place)] }

// time returns the capture time of the frame at a place, microseconds.
func (r *ring) time(place uint64) int64 { return r.times[r.row(place)] }

// index returns the client's number of the frame at a place.
func (r *ring) index(place uint64) uint32 { return r.indices[r.row(place)] }

// last returns the time of the newest frame; the ring must not be empty.
func (r *ring) last() int64 { return r.time(r.next - 1) }

// worldAt returns a world point; its score is 0 when it was not seen.
func (r *ring) worldAt(place uint64, p body.Point) body.Seen3 {
	return r.seen3(r.row(place), p)
}

// imageAt returns an image point; its score is 0 when it was not seen.
func (r *ring) imageAt(place uint64, p body.Point) body.Seen2 {
	return r.seen2(r.row(place), p)
}

// push takes a frame in whose points lie in a row.
func (r *ring) push(row uint32) {
	if int(r.next-r.first) == len(r.kept) {
		if len(r.kept) < maxRingFrames {
			r.relay(max(firstRing, 2*len(r.kept)))
		} else {
			r.forget(r.first + 1)
		}
	}
	r.hold(row)
	k := r.slot(r.next)
	r.kept[k] = row
	r.walls[k] = !r.empty() && r.parts(r.row(r.next-1), row)
	r.next++
	if r.shows(row, body.Ball, body.Ball) {
		r.ballUS = r.times[row]
	}
	if r.shows(row, body.RacketTip, body.RacketRight) {
		r.racketUS = r.times[row]
	}
}

// seesBallSince reports whether a ball was seen at an instant or later, up to the newest frame.
func (r *ring) seesBallSince(us int64) bool { return r.seenSince(us, r.ballUS, body.Ball, body.Ball) }

// seesRacketSince reports the same of a racket.
func (r *ring) seesRacketSince(us int64) bool {
	return r.seenSince(us, r.racketUS, body.RacketTip, body.RacketRight)
}

// seenSince reports whether any point from first to last was seen at an instant or later.
// Where frames are gone over again, the newest is not the last that came: lastUS, when
// one was seen last of all, may be later than what counts.
func (r *ring) seenSince(us, lastUS int64, first, last body.Point) bool {
	switch {
	case lastUS < us:
		return false
	case !r.empty() && lastUS <= r.last():
		return true
	}
	for k := r.next; k > r.first && r.time(k-1) >= us; k-- {
		if r.shows(r.row(k-1), first, last) {
			return true
		}
	}
	return false
}

// until returns the ring as it was when the frame before a place was its newest. It is to
// be read only, and until the ring takes the next frame.
func (r *ring) until(place uint64) *ring {
	was := *r
	was.next = max(r.first, min(place, r.next))
	return &was
}

// shows reports whether any point from first to last was seen in a row.
func (r *ring) shows(row uint32, first, last body.Point) bool {
	for p := first; p <= last; p++ {
		if r.seen3(row, p).Score > 0 || r.seen2(row, p).Score > 0 {
			return true
		}
	}
	return false
}

// frame fills f with the frame at a place.
func (r *ring) frame(place uint64, camera uint8, f *body.Frame) { r.read(r.row(place), camera, f) }

// relay moves the rows' numbers to new memory for n frames.
func (r *ring) relay(n int) {
	old, walls := r.kept, r.walls
	r.kept, r.walls = make([]uint32, n), make([]bool, n)
	for place := r.first; place < r.next; place++ {
		was := place & uint64(len(old)-1)
		r.kept[r.slot(place)], r.walls[r.slot(place)] = old[was], walls[was]
	}
}

// forget drops the frames before a place.
func (r *ring) forget(place uint64) {
	for ; r.first < min(place, r.next); r.first++ {
		r.drop(r.row(r.first))
	}
}

// repacked moves the ring's frames to a store of their own, which holds no more than
// they take, and returns it: the lanes that were given up leave most rows free.
func (r *ring) repacked() *rows {
	old := r.rows
	s := &rows{narrow: old.narrow, image: old.image, world: old.world, stride: old.stride}
	for place := r.first; place < r.next; place++ {
		was, row := r.row(place), s.take()
		s.times[row], s.indices[row] = old.times[was], old.indices[was]
		from, i := old.place(was)
		to, j := s.place(row)
		to.units[j], to.tall[j] = from.units[i], from.tall[i]
		if s.narrow {
			copy(to.narrow[j*s.stride:(j+1)*s.stride], from.narrow[i*s.stride:])
		} else {
			copy(to.wide[j*s.stride:(j+1)*s.stride], from.wide[i*s.stride:])
		}
		r.kept[r.slot(place)] = row
	}
	return s
}

// since returns the place of the first kept frame at or after time t; next when there is none.
func (r *ring) since(t int64) uint64 { return r.sinceIn(r.first, r.next, t) }

// sinceIn returns the first place from lo on at or after time t; hi when there is none before it.
func (r *ring) sinceIn(lo, hi uint64, t int64) uint64 {
	for lo < hi {
		mid := lo + (hi-lo)/2
		if r.time(mid) < t {
			lo = mid + 1
		} else {
			hi = mid
		}
	}
	return lo
}

// bytes returns the memory that the ring holds, its rows apart.
func (r *ring) bytes() int {
	const aRow, aWall = 4, 1
	return len(r.kept) * (aRow + aWall)
}
