package swing

import (
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// rowsInChunk is by how many rows the store grows: small, because doubling would
// pass the memory of a stream (200 KB at 60 Hz) with half of it empty.
const rowsInChunk = 32

// rows stores the points of frames, only those that their camera has ever shown.
// Rings that see one camera, and windows that are held, share its rows.
//
// Invariants: a point has a column from its first sight on and keeps it; a row is
// free when, and only when, uses is 0.
type rows struct {
	image, world [body.NumPoints]int16 // column of the point's first number; −1: never seen
	stride       int                   // numbers a row

	chunks [][]float32 // rowsInChunk rows each
	tall   []lengths   // by row
	uses   []uint16    // by row
	free   []uint32
}

func newRows() *rows {
	s := &rows{}
	for p := range s.image {
		s.image[p], s.world[p] = -1, -1
	}
	return s
}

// at returns a row's numbers.
func (s *rows) at(row uint32) []float32 {
	k := int(row%rowsInChunk) * s.stride
	return s.chunks[row/rowsInChunk][k : k+s.stride]
}

// put lays a frame into a row, which is then in use once.
func (s *rows) put(f *body.Frame) uint32 {
	s.widen(f)
	if len(s.free) == 0 {
		s.grow()
	}
	row := s.free[len(s.free)-1]
	s.free = s.free[:len(s.free)-1]
	s.uses[row] = 1
	v := s.at(row)
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
	s.tall[row] = lengths{image: s.lengthIn(row, &s.image)}
	s.tall[row].world = s.lengthIn(row, &s.world)[downToAnkle]
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

// lengthIn returns trunk + thigh + shank of a row, by the columns of the image or
// the world: as they are seen, as trunk and thigh would have it, and as the trunk
// would; 0 when that is not all seen. The longer leg counts: the other may be bent away.
func (s *rows) lengthIn(row uint32, cols *[body.NumPoints]int16) (all [downTos]float32) {
	v := s.at(row)
	numbers := 3
	if cols == &s.world {
		numbers = 4
	}
	point := func(p body.Point) (geom.Vec3, bool) {
		c := int(cols[p])
		if c < 0 || v[c+numbers-1] == 0 {
			return geom.Vec3{}, false
		}
		x := geom.Vec3{X: float64(v[c]), Y: float64(v[c+1])}
		if numbers == 4 {
			x.Z = float64(v[c+2])
		}
		return x, true
	}
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
func (s *rows) hold(row uint32) { s.uses[row]++ }

func (s *rows) drop(row uint32) {
	if s.uses[row]--; s.uses[row] == 0 {
		s.free = append(s.free, row)
	}
}

// read fills f with a row's points.
func (s *rows) read(row uint32, f *body.Frame) {
	v := s.at(row)
	for p := range body.NumPoints {
		f.World[p], f.Image[p] = body.Seen3{}, body.Seen2{}
		if c := s.world[p]; c >= 0 {
			f.World[p] = body.Seen3{X: v[c], Y: v[c+1], Z: v[c+2], Score: v[c+3]}
		}
		if c := s.image[p]; c >= 0 {
			f.Image[p] = body.Seen2{X: v[c], Y: v[c+1], Score: v[c+2]}
		}
	}
}

// grow adds a chunk of free rows, the lowest to be used first.
func (s *rows) grow() {
	from := uint32(len(s.uses))
	s.chunks = append(s.chunks, make([]float32, rowsInChunk*s.stride))
	s.uses = append(s.uses, make([]uint16, rowsInChunk)...)
	s.tall = append(s.tall, make([]lengths, rowsInChunk)...)
	for i := uint32(rowsInChunk); i > 0; i-- {
		s.free = append(s.free, from+i-1)
	}
}

// widen gives columns to points seen for the first time. Columns are only ever
// added at the end, so an old row is a prefix of the new one.
func (s *rows) widen(f *body.Frame) {
	was := s.stride
	for p := range f.World {
		if s.world[p] < 0 && f.World[p].Score > 0 {
			s.world[p] = int16(s.stride)
			s.stride += 4
		}
		if s.image[p] < 0 && f.Image[p].Score > 0 {
			s.image[p] = int16(s.stride)
			s.stride += 3
		}
	}
	if s.stride == was {
		return
	}
	for i, old := range s.chunks {
		s.chunks[i] = make([]float32, rowsInChunk*s.stride)
		for k := range rowsInChunk {
			copy(s.chunks[i][k*s.stride:], old[k*was:(k+1)*was])
		}
	}
}

// bytes returns the memory that the rows hold.
func (s *rows) bytes() int {
	const aNumber, aUse, aTall, aFree = 4, 2, 16, 4
	return len(s.chunks)*rowsInChunk*s.stride*aNumber + cap(s.uses)*aUse + cap(s.tall)*aTall + cap(s.free)*aFree
}
