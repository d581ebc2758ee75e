package swing

import (
	"math"

	"example.com/courtkin/service/body"
)

const (
	// firstRing is how many frames a ring holds at first. It doubles: places are
	// then found by a mask, and marks are small.
	firstRing = 64

	// maxRingFrames bounds a ring: 10 s at 400 Hz. A ring that is full forgets
	// its oldest frames.
	maxRingFrames = 4096
)

// ring keeps the newest raw frames of one camera, or those of them that it was
// given. Frames are addressed by their place in the stream, counted from 0; the
// count has no meaning outside this machine.
//
// Invariants: first ≤ next; next − first ≤ len(marks), a power of two.
type ring struct {
	*rows

	marks []mark
	walls []bool // by slot: the frame shows somebody else than the one before it
	first uint64 // place of the oldest frame kept
	next  uint64 // place of the next frame to come

	ballUS, racketUS int64 // when each was seen last
}

// mark is what identifies a frame, and the row of its points.
type mark struct {
	time  int64
	index uint32
	row   uint32
}

func newRing(s *rows) *ring {
	return &ring{rows: s, ballUS: math.MinInt64, racketUS: math.MinInt64}
}

// empty reports whether no frame is kept.
func (r *ring) empty() bool { return r.first == r.next }

// slot returns where the frame at a place lies.
func (r *ring) slot(place uint64) int { return int(place & uint64(len(r.marks)-1)) }

// time returns the capture time of the frame at a place, microseconds.
func (r *ring) time(place uint64) int64 { return r.marks[r.slot(place)].time }

// index returns the client's number of the frame at a place.
func (r *ring) index(place uint64) uint32 { return r.marks[r.slot(place)].index }

// last returns the time of the newest frame; the ring must not be empty.
func (r *ring) last() int64 { return r.time(r.next - 1) }

// worldAt returns a world point; its score is 0 when it was not seen.
func (r *ring) worldAt(place uint64, p body.Point) body.Seen3 {
	c := r.world[p]
	if c < 0 {
		return body.Seen3{}
	}
	v := r.at(r.marks[r.slot(place)].row)[c:]
	return body.Seen3{X: v[0], Y: v[1], Z: v[2], Score: v[3]}
}

// imageAt returns an image point; its score is 0 when it was not seen.
func (r *ring) imageAt(place uint64, p body.Point) body.Seen2 {
	c := r.image[p]
	if c < 0 {
		return body.Seen2{}
	}
	v := r.at(r.marks[r.slot(place)].row)[c:]
	return body.Seen2{X: v[0], Y: v[1], Score: v[2]}
}

// push takes a frame in whose points lie in a row.
func (r *ring) push(m mark) {
	if int(r.next-r.first) == len(r.marks) {
		if len(r.marks) < maxRingFrames {
			r.relay(max(firstRing, 2*len(r.marks)))
		} else {
			r.forget(r.first + 1)
		}
	}
	r.hold(m.row)
	k := r.slot(r.next)
	r.marks[k] = m
	r.walls[k] = !r.empty() && r.parts(r.marks[r.slot(r.next-1)], m)
	r.next++
	if r.shows(m.row, body.Ball, body.Ball) {
		r.ballUS = m.time
	}
	if r.shows(m.row, body.RacketTip, body.RacketRight) {
		r.racketUS = m.time
	}
}

// shows reports whether any point from first to last was seen in a row.
func (r *ring) shows(row uint32, first, last body.Point) bool {
	v := r.at(row)
	for p := first; p <= last; p++ {
		if w, i := r.world[p], r.image[p]; w >= 0 && v[w+3] > 0 || i >= 0 && v[i+2] > 0 {
			return true
		}
	}
	return false
}

// frame fills f with the frame at a place.
func (r *ring) frame(place uint64, camera uint8, f *body.Frame) {
	r.marks[r.slot(place)].frame(r.rows, camera, f)
}

// frame fills f with the frame that m marks.
func (m mark) frame(s *rows, camera uint8, f *body.Frame) {
	f.Index, f.TimeUS, f.Camera = m.index, m.time, camera
	s.read(m.row, f)
}

// relay moves the marks to new memory for n frames.
func (r *ring) relay(n int) {
	old, walls := r.marks, r.walls
	r.marks, r.walls = make([]mark, n), make([]bool, n)
	for place := r.first; place < r.next; place++ {
		was := place & uint64(len(old)-1)
		r.marks[r.slot(place)], r.walls[r.slot(place)] = old[was], walls[was]
	}
}

// forget drops the frames before a place.
func (r *ring) forget(place uint64) {
	for ; r.first < min(place, r.next); r.first++ {
		r.drop(r.marks[r.slot(r.first)].row)
	}
}

// since returns the place of the first kept frame at or after time t; next when there is none.
func (r *ring) since(t int64) uint64 {
	lo, hi := r.first, r.next
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
	const aMark, aWall = 16, 1
	return len(r.marks) * (aMark + aWall)
}
