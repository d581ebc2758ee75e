package swing

import "example.com/courtkin/service/body"

const (
	// ringStep is by how many frames a ring grows: small, because doubling
	// would pass the memory of a stream (200 KB at 60 Hz) with half of it empty.
	ringStep = 32

	// maxRingFrames bounds a ring: 10 s at 400 Hz. A ring that is full forgets
	// its oldest frames.
	maxRingFrames = 4096
)

// ring keeps the newest raw frames of one camera, only those points that this
// camera has ever shown. Frames are addressed by their place in the stream,
// counted from 0; the count has no meaning outside this machine.
//
// Invariants: first ≤ next; next − first ≤ cap(slots); a point has a column
// from its first sight on and keeps it.
type ring struct {
	image, world [body.NumPoints]int16 // column of the point's first number; −1: never seen
	stride       int                   // numbers a frame

	vals  []float32
	marks []mark
	first uint64 // place of the oldest frame kept
	next  uint64 // place of the next frame to come
}

// mark is what identifies a frame.
type mark struct {
	time  int64
	index uint32
}

func newRing() *ring {
	r := &ring{}
	for p := range r.image {
		r.image[p], r.world[p] = -1, -1
	}
	return r
}

// empty reports whether no frame is kept.
func (r *ring) empty() bool { return r.first == r.next }

// slot returns where the frame at a place lies.
func (r *ring) slot(place uint64) int { return int(place % uint64(len(r.marks))) }

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
	v := r.vals[r.slot(place)*r.stride+int(c):]
	return body.Seen3{X: v[0], Y: v[1], Z: v[2], Score: v[3]}
}

// imageAt returns an image point; its score is 0 when it was not seen.
func (r *ring) imageAt(place uint64, p body.Point) body.Seen2 {
	c := r.image[p]
	if c < 0 {
		return body.Seen2{}
	}
	v := r.vals[r.slot(place)*r.stride+int(c):]
	return body.Seen2{X: v[0], Y: v[1], Score: v[2]}
}

// push takes a frame in.
func (r *ring) push(f *body.Frame) {
	if r.widen(f) {
		r.relay(len(r.marks))
	}
	if int(r.next-r.first) == len(r.marks) {
		if len(r.marks) < maxRingFrames {
			r.relay(len(r.marks) + ringStep)
		} else {
			r.first++
		}
	}
	s := r.slot(r.next)
	r.marks[s] = mark{f.TimeUS, f.Index}
	r.write(r.vals[s*r.stride:(s+1)*r.stride], f)
	r.next++
}

// write lays a frame's points into their columns.
func (r *ring) write(v []float32, f *body.Frame) {
	for p := range f.World {
		if c := r.world[p]; c >= 0 {
			w := &f.World[p]
			v[c], v[c+1], v[c+2], v[c+3] = w.X, w.Y, w.Z, w.Score
		}
		if c := r.image[p]; c >= 0 {
			w := &f.Image[p]
			v[c], v[c+1], v[c+2] = w.X, w.Y, w.Score
		}
	}
}

// read fills f with the frame at a place.
func (r *ring) read(place uint64, camera uint8, f *body.Frame) {
	*f = body.Frame{Index: r.index(place), TimeUS: r.time(place), Camera: camera}
	for p := range body.NumPoints {
		f.World[p] = r.worldAt(place, p)
		f.Image[p] = r.imageAt(place, p)
	}
}

// widen gives columns to points seen for the first time and reports whether
// there were any.
func (r *ring) widen(f *body.Frame) bool {
	before := r.stride
	for p := range f.World {
		if r.world[p] < 0 && f.World[p].Score > 0 {
			r.world[p] = int16(r.stride)
			r.stride += 4
		}
		if r.image[p] < 0 && f.Image[p].Score > 0 {
			r.image[p] = int16(r.stride)
			r.stride += 3
		}
	}
	return r.stride != before
}

// relay moves the kept frames to new memory for n frames of the present stride.
// Columns are only ever added at the end, so an old row is a prefix of the new one.
func (r *ring) relay(n int) {
	old, oldMarks := r.vals, r.marks
	was := 0
	if len(oldMarks) > 0 {
		was = len(old) / len(oldMarks)
	}
	r.vals = make([]float32, n*r.stride)
	r.marks = make([]mark, n)
	for place := r.first; place < r.next; place++ {
		from := int(place % uint64(len(oldMarks)))
		to := r.slot(place)
		r.marks[to] = oldMarks[from]
		copy(r.vals[to*r.stride:], old[from*was:(from+1)*was])
	}
}

// forget drops the frames before a place.
func (r *ring) forget(place uint64) {
	r.first = min(max(r.first, place), r.next)
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

// bytes returns the memory that the ring holds.
func (r *ring) bytes() int {
	const aNumber, aMark = 4, 16
	return len(r.vals)*aNumber + len(r.marks)*aMark
}
