package client

import (
	"math"
	"slices"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/wire"
)

// item is one thing to send: a frame or a feed notice.
type item struct {
	frame *pb.Frame
	feed  *pb.StreamPracticeRequest_FeedNotice
}

// queue is what may still have to be sent, in the order in which it came.
//
// Invariants: items before next have been sent on the current stream; unacked
// holds, for each camera, the indices of frames sent on it and not yet
// acknowledged.
type queue struct {
	items []item
	next  int

	// of the current stream, by camera
	sent       []uint32
	acked      []uint32
	unacked    [][]uint32
	finishSent bool

	dropped int // frames let go of, over all streams

	// by camera, over all streams
	taken []mark // newest frame ever acknowledged
	again []mark // the same when the current stream began: up to here it repeats
}

// mark is a frame index, or none.
type mark struct {
	index uint32
	set   bool
}

func (q *queue) add(it item) {
	if it.frame != nil {
		for int(it.frame.GetCamera()) >= len(q.sent) {
			q.sent, q.acked, q.unacked = append(q.sent, 0), append(q.acked, 0), append(q.unacked, nil)
			q.taken, q.again = append(q.taken, mark{}), append(q.again, mark{})
		}
	}
	q.items = append(q.items, it)
}

// restart begins a new stream: everything kept is to be sent again.
func (q *queue) restart() {
	q.next, q.finishSent = 0, false
	clear(q.sent)
	clear(q.acked)
	clear(q.unacked)
	copy(q.again, q.taken)
}

// repeats reports whether a frame had been acknowledged before this stream.
func (q *queue) repeats(f *pb.Frame) bool {
	m := q.again[f.GetCamera()]
	return m.set && f.GetIndex() <= m.index
}

// replaying reports whether the server is still at frames that had been
// acknowledged before this stream.
func (q *queue) replaying() bool {
	for c, again := range q.again {
		if again.set && len(q.unacked[c]) > 0 && q.unacked[c][0] <= again.index {
			return true
		}
	}
	for _, it := range q.items[q.next:] {
		if it.frame != nil && q.repeats(it.frame) {
			return true
		}
		if it.frame != nil {
			return false
		}
	}
	return false
}

// firstUS returns the time of the oldest frame kept; everything is before it
// when none is.
func (q *queue) firstUS() int64 {
	for _, it := range q.items {
		if it.frame != nil {
			return it.frame.GetTimeUs()
		}
	}
	return math.MaxInt64
}

// anyAcked reports whether a frame has been acknowledged on the current stream.
func (q *queue) anyAcked() bool {
	return slices.ContainsFunc(q.acked, func(n uint32) bool { return n > 0 })
}

func (q *queue) allSent() bool { return q.next == len(q.items) }

// message returns the next batch or notice to send, nil when there is none or
// the window is full. A batch holds repeated frames or new ones, never both.
func (q *queue) message(c Config) *pb.StreamPracticeRequest {
	if q.allSent() {
		return nil
	}
	if feed := q.items[q.next].feed; feed != nil {
		q.next++
		return &pb.StreamPracticeRequest{Message: &pb.StreamPracticeRequest_Feed{Feed: feed}}
	}
	room := c.Window
	for _, u := range q.unacked {
		room -= len(u)
	}
	var frames []*pb.Frame
	for !q.allSent() && len(frames) < min(c.Batch, room) {
		f := q.items[q.next].frame
		if f == nil || len(frames) > 0 && q.repeats(f) != q.repeats(frames[0]) {
			break
		}
		frames = append(frames, f)
		q.next++
		q.sent[f.GetCamera()]++
		q.unacked[f.GetCamera()] = append(q.unacked[f.GetCamera()], f.GetIndex())
	}
	if len(frames) == 0 {
		return nil
	}
	return &pb.StreamPracticeRequest{Message: &pb.StreamPracticeRequest_Frames{Frames: batch(frames, c.Compact)}}
}

// batch packs frames, as blocks where they fit one.
func batch(frames []*pb.Frame, compact bool) *pb.StreamPracticeRequest_FrameBatch {
	if !compact {
		return &pb.StreamPracticeRequest_FrameBatch{Frames: frames}
	}
	out := &pb.StreamPracticeRequest_FrameBatch{}
	for len(frames) > 0 {
		n := 1
		for n < len(frames) && frames[n].GetCamera() == frames[0].GetCamera() {
			n++
		}
		b, err := wire.Block(frames[:n], false)
		if err != nil { // the server will say what is wrong with them
			return &pb.StreamPracticeRequest_FrameBatch{Frames: frames}
		}
		out.Blocks = append(out.Blocks, b)
		frames = frames[n:]
	}
	return out
}

func (q *queue) finish() *pb.StreamPracticeRequest {
	q.finishSent = true
	return &pb.StreamPracticeRequest{Message: &pb.StreamPracticeRequest_Finish_{
		Finish: &pb.StreamPracticeRequest_Finish{Frames: slices.Clone(q.sent)},
	}}
}

// ack notes what the server has taken and lets go of what it no longer needs.
func (q *queue) ack(a *pb.StreamPracticeResponse_Ack) {
	c := int(a.GetCamera())
	if c >= len(q.sent) || a.GetReceived() < q.acked[c] {
		return // a server that says what cannot be
	}
	n := min(int(a.GetReceived()-q.acked[c]), len(q.unacked[c]))
	if n > 0 {
		newest := q.unacked[c][n-1]
		if !q.taken[c].set || newest > q.taken[c].index {
			q.taken[c] = mark{newest, true}
		}
		q.unacked[c] = q.unacked[c][n:]
		q.acked[c] += uint32(n)
	}
	q.trim(uint32(c), a.GetKeepFrom())
}

// feedLasts is for how long a server may still go by a feed notice, µs.
const feedLasts = 4_000_000

// trim drops the sent frames of a camera before keepFrom, and feed notices that
// are over at the oldest frame that is left.
func (q *queue) trim(camera, keepFrom uint32) {
	oldest := int64(math.MaxInt64)
	for _, it := range q.items {
		if f := it.frame; f != nil && !(f.GetCamera() == camera && f.GetIndex() < keepFrom) {
			oldest = min(oldest, f.GetTimeUs())
		}
	}
	kept := q.items[:0]
	next := 0
	for i, it := range q.items {
		sent := i < q.next
		old := it.frame != nil && it.frame.GetCamera() == camera && it.frame.GetIndex() < keepFrom
		if sent && (old || it.feed != nil && it.feed.GetTimeUs() < oldest-feedLasts) {
			if it.frame != nil {
				q.dropped++
			}
			continue
		}
		kept = append(kept, it)
		if sent {
			next++
		}
	}
	clear(q.items[len(kept):])
	q.items, q.next = kept, next
}
