package client

import (
	"testing"

	pb "example.com/courtkin/proto/courtkin/v1"
)

// A notice that a server may still go by is kept with the frames of its time,
// wherever it stands among them; one that is over is not.
func TestNoticesInForceAreKept(t *testing.T) {
	var q queue
	feed := func(us int64) { q.add(item{feed: &pb.StreamPracticeRequest_FeedNotice{TimeUs: us}}) }
	feed(0)
	feed(3_000_000)
	for i := range uint32(60) {
		q.add(item{frame: &pb.Frame{Index: i, TimeUs: int64(i) * 100_000}})
	}
	for q.message(Config{Batch: 8, Window: 1024}) != nil {
	}
	q.ack(&pb.StreamPracticeResponse_Ack{Received: 60, KeepFrom: 50}) // 5 s
	feeds := 0
	for _, it := range q.items {
		if it.feed != nil {
			feeds++
			if it.feed.GetTimeUs() != 3_000_000 {
				t.Errorf("a notice of %d µs is left", it.feed.GetTimeUs())
			}
		}
	}
	if feeds != 1 || len(q.items) != 11 || q.next != 11 {
		t.Errorf("%d notices, %d items, %d of them sent", feeds, len(q.items), q.next)
	}
}
