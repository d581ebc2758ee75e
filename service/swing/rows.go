package swing

import (
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// rowsInChunk is by how many rows the store grows: small, because doubling would
// pass the memory of a stream (200 KB at 60 Hz) with half of it empty. A chunk of
// narrow rows of 33 points, racket and ball fills 8 KB, a size that the heap deals in.
const rowsInChunk = 30

// rows stores the points of frames, only those that their camera has ever shown.
// Rings that see one camera, and windows that are held, share its rows.
//
// A wide row has its numbers as they came. A narrow one, of half the size and less,
// has them to 16 bits of the frame's largest (see narrow.go), and of a score only whether
// the point was seen.
//
// Invariants: a point has a column from its first sight on and keeps it; a row is
// free when, and only when, its uses are 0.
type rows struct {
	narrow       bool
	image, world [body.NumPoints]int16 // column of the point's first number; −1: never seen
	stride       int                   // numbers a row

	chunks  []*chunk
	times   []int64  // by row: when its frame was captured, microseconds …
	indices []uint32 // … and the client's number of it
	free    []uint32
}

// chunk is rowsInChunk rows: by row, its numbers, and what goes with them.
type chunk struct {
	wide   []float32 // world points take 4 numbers, image points 3: the score after them
	narrow []uint16  // … or 3 and 2, without
	units  [rowsInChunk]units
	tall   [rowsInChunk]lengths
	uses   [rowsInChunk]uint16
}

// newRows returns an empty store, of narrow rows or wide ones.
func newRows(narrow bool) *rows {
	s := &rows{narrow: narrow}
	for p := range s.image {
		s.image[p], s.world[p] = -1, -1
	}
	return s
}

// place returns the chunk of a row and which of its rows it is.
func (s *rows) place(row uint32) (*chunk, int) {
	return s.chunks[row/rowsInChunk], int(row % rowsInChunk)
}

// seen3 returns a row's world point; its score is 0 when it was not seen.
func (s *rows) seen3(row uint32, p body.Point) body.Seen3 {
	c := int(s.world[p])
	if c < 0 {
		return body.Seen3{}
	}
	k, i := s.place(row)
	c += i * s.stride
	if !s.narrow {
		v := k.wide[c : c+4]
		return body.Seen3{X: v[0], Y: v[1], Z: v[2], Score: v[3]}
	}
	v := k.narrow[c : c+3]
	if v[0] == unseen {
		return body.Seen3{}
	}
	u := k.units[i].world.size()
	return body.Seen3{X: unpack(v[0], u), Y: unpack(v[1], u), Z: unpack(v[2], u), Score: 1}
}

// seen2 returns a row's image point; its score is 0 when it was not seen.
func (s *rows) seen2(row uint32, p body.Point) body.Seen2 {
	c := int(s.image[p])
	if c < 0 {
		return body.Seen2{}
	}
	k, i := s.place(row)
	c += i * s.stride
	if !s.narrow {
		v := k.wide[c : c+3]
		return body.Seen2{X: v[0], Y: v[1], Score: v[2]}
	}
	v := k.narrow[c : c+2]
	if v[0] == unseen {
		return body.Seen2{}
	}
	u := k.units[i].image.size()
	return body.Seen2{X: unpack(v[0], u), Y: unpack(v[1], u), Score: 1}
}

// put lays a frame into a row, which is then in use once.
func (s *rows) put(f *body.Frame) uint32 {
	s.widen(f)
	row := s.take()
	s.times[row], s.indices[row] = f.TimeUS, f.Index
	k, i := s.place(row)
	if s.narrow {
		s.pack(f, k.narrow[i*s.stride:(i+1)*s.stride], &k.units[i])
	} else {
		s.copy(f, k.wide[i*s.stride:(i+1)*s.stride])
	}
	k.tall[i] = lengths{image: s.lengthIn(row, inImage)}
	k.tall[i].world = s.lengthIn(row, inWorld)[downToAnkle]
	return row
}

// copy lays a frame's points into a wide row.
func (s *rows) copy(f *body.Frame, v []float32) {
	for p := range f.World {
		if c := s.world[p]; c >= 0 {
			w := &f.World[p]
			v[c], v[c+1], v[c+2], v[c+3] = w.X, w.Y, w.Z, w.Score
		}
		if c := s.image[p]; c >= 0 {
			w := &f.Image[p]
			v[c], v[c+1], v[c+2] = w.X, w.Y, w.Score
		}
	}
}

// take returns a free row, which is then in use once.
func (s *rows) take() uint32 {
	if len(s.free) == 0 {
		s.grow()
	}
	row := s.free[len(s.free)-1]
	s.free = s.free[:len(s.free)-1]
	k, i := s.place(row)
	k.uses[i] = 1
	return row
}

// lengths are a body's in a row's frame, 0 where not seen.
type lengths struct {
	image [downTos]float32 // pixels, as of the whole body
	world float32          // metres
}

// How far down a body is seen: a camera may cut off the feet, or the legs.
const (
	downToAnkle = iota
	downToKnee
	downToHip
	downTos
)

// The trunk's, and the trunk's and thigh's, share of trunk + thigh + shank.
const trunkShare, thighShare = 0.288 / 0.779, (0.288 + 0.245) / 0.779

// Which of a frame's points are meant.
const (
	inImage = false
	inWorld = true
)

// vec returns a row's point in the world or in the image, and whether it was seen.
func (s *rows) vec(row uint32, p body.Point, world bool) (geom.Vec3, bool) {
	if world {
		w := s.seen3(row, p)
		return geom.Vec3{X: float64(w.X), Y: float64(w.Y), Z: float64(w.Z)}, w.Score > 0
	}
	w := s.seen2(row, p)
	return geom.Vec3{X: float64(w.X), Y: float64(w.Y)}, w.Score > 0
}

// lengthIn returns trunk + thigh + shank of a row, in the image or the world: as they
// are seen, as trunk and thigh would have it, and as the trunk
// would; 0 when that is not all seen. The longer leg counts: the other may be bent away.
func (s *rows) lengthIn(row uint32, world bool) (all [downTos]float32) {
	cols := &s.image
	if world {
		cols = &s.world
	}
	point := func(p body.Point) (geom.Vec3, bool) { return s.vec(row, p, world) }
	middle := func(a, b, standIn body.Point) (geom.Vec3, bool) {
		if cols[a] < 0 || cols[b] < 0 {
			return point(standIn)
		}
		p, ok := point(a)
		q, ok2 := point(b)
		return p.Add(q).Scale(0.5), ok && ok2
	}
	top, ok := middle(body.LeftShoulder, body.RightShoulder, body.Neck)
	hips, ok2 := middle(body.LeftHip, body.RightHip, body.MidHip)
	if !ok || !ok2 {
		return all
	}
	trunk := top.Sub(hips).Norm()
	all[downToHip] = float32(trunk / trunkShare)
	leg := func(hip, knee, ankle body.Point) {
		h, ok := point(hip)
		k, ok2 := point(knee)
		a, ok3 := point(ankle)
		if !ok || !ok2 {
			return
		}
		thigh := h.Sub(k).Norm()
		all[downToKnee] = max(all[downToKnee], float32((trunk+thigh)/thighShare))
		if ok3 {
			all[downToAnkle] = max(all[downToAnkle], float32(trunk+thigh+k.Sub(a).Norm()))
		}
	}
	leg(body.LeftHip, body.LeftKnee, body.LeftAnkle)
	leg(body.RightHip, body.RightKnee, body.RightAnkle)
	return all
}

// apparent returns the body's length in a row's image, pixels, by the most of it that is
// seen; 0 when not even the trunk is.
func (l *lengths) apparent() float32 {
	for _, x := range l.image {
		if x > 0 {
			return x
		}
	}
	return 0
}

// hold uses a row once more; drop once less.
func (s *rows) hold(row uint32) {
	k, i := s.place(row)
	k.uses[i]++
}

func (s *rows) drop(row uint32) {
	k, i := s.place(row)
	if k.uses[i]--; k.uses[i] == 0 {
		s.free = append(s.free, row)
	}
}

// tallOf returns the body's lengths in a row.
func (s *rows) tallOf(row uint32) *lengths {
	k, i := s.place(row)
	return &k.tall[i]
}

// read fills f with a row's frame.
func (s *rows) read(row uint32, camera uint8, f *body.Frame) {
	f.Index, f.TimeUS, f.Camera = s.indices[row], s.times[row], camera
	for p := range body.NumPoints {
		f.World[p], f.Image[p] = s.seen3(row, p), s.seen2(row, p)
	}
}

// grow adds a chunk of free rows, the lowest to be used first.
func (s *rows) grow() {
	from := uint32(len(s.times))
	s.times = append(make([]int64, 0, from+rowsInChunk), s.times...)[:from+rowsInChunk]
	s.indices = append(make([]uint32, 0, from+rowsInChunk), s.indices...)[:from+rowsInChunk]
	k := &chunk{}
	if s.narrow {
		k.narrow = make([]uint16, rowsInChunk*s.stride)
	} else {
		k.wide = make([]float32, rowsInChunk*s.stride)
	}
	s.chunks = append(s.chunks, k)
	for i := uint32(rowsInChunk); i > 0; i-- {
		s.free = append(s.free, from+i-1)
	}
}

// widen gives columns to points seen for the first time. Columns are only ever
// added at the end, so an old row is a prefix of the new one.
func (s *rows) widen(f *body.Frame) {
	was, score := s.stride, 1
	if s.narrow {
		score = 0
	}
	for p := range f.World {
		if s.world[p] < 0 && f.World[p].Score > 0 {
			s.world[p] = int16(s.stride)
			s.stride += 3 + score
		}
		if s.image[p] < 0 && f.Image[p].Score > 0 {
			s.image[p] = int16(s.stride)
			s.stride += 2 + score
		}
	}
	if s.stride == was {
		return
	}
	for _, k := range s.chunks {
		if s.narrow {
			k.narrow = stretched(k.narrow, was, s.stride)
		} else {
			k.wide = stretched(k.wide, was, s.stride)
		}
	}
}

// stretched returns the numbers of a chunk with more of them a row, the new ones 0.
func stretched[T uint16 | float32](old []T, was, stride int) []T {
	v := make([]T, rowsInChunk*stride)
	for i := range rowsInChunk {
		copy(v[i*stride:], old[i*was:(i+1)*was])
	}
	return v
}

// bytes returns the memory that the rows hold.
func (s *rows) bytes() int {
	const aChunk, aPointer, aTime, anIndex, aFree = 648, 8, 8, 4, 4
	aNumber := 4
	if s.narrow {
		aNumber = 2
	}
	return len(s.chunks)*(aChunk+aPointer+rowsInChunk*s.stride*aNumber) + cap(s.times)*aTime + cap(s.indices)*anIndex + cap(s.free)*aFree
}
