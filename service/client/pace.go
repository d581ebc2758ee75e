package client

import (
	"context"
	"time"

	pb "example.com/courtkin/proto/courtkin/v1"
)

// pace holds what is sent to a multiple of true time.
//
// A swing is let go of when the server has settled it, which takes a while. Kept
// frames are sent as fast as they go, so a line that breaks after some hundred
// kilobytes may do so before that while is over, and again when the same frames
// are repeated: such connections bring nothing, however many there are. After some
// of them it is tried slower and slower. A line that breaks after some time wants
// the opposite; which of the two a line is cannot be known, so every second try, by
// lot, goes as fast as it can.
type pace struct {
	speed float64 // times true time; 0: as fast as it goes

	begun  bool
	at     time.Time // when the first frame was sent
	fromUS int64     // its time
}

// The speed of the first slow try, and the least: a client must still gain on
// frames that come at true speed.
const (
	firstPace = 32
	leastPace = 2
)

// longestHold is the most that one message waits: frames' clocks may jump.
const longestHold = time.Second

// paceAfter is the pace after so many connections in a row that brought nothing.
// One such is nothing unusual. Slow is drawn by lot.
func paceAfter(fruitless int, slow bool) pace {
	if fruitless < 2 || !slow {
		return pace{}
	}
	return pace{speed: float64(max(leastPace, firstPace>>min(fruitless/2-1, 16)))}
}

// wait waits until a message may be sent; false when ctx ended first.
func (p *pace) wait(ctx context.Context, m *pb.StreamPracticeRequest) bool {
	us, ok := firstTime(m.GetFrames())
	if p.speed == 0 || !ok {
		return true
	}
	if !p.begun {
		p.begun, p.at, p.fromUS = true, time.Now(), us
	}
	due := time.Duration(float64(us-p.fromUS) / p.speed * float64(time.Microsecond))
	hold := min(due-time.Since(p.at), longestHold)
	return hold <= 0 || sleep(ctx, hold) == nil
}

// firstTime is the time of a batch's first frame.
func firstTime(b *pb.StreamPracticeRequest_FrameBatch) (us int64, ok bool) {
	if frames := b.GetFrames(); len(frames) > 0 {
		return frames[0].GetTimeUs(), true
	}
	if blocks := b.GetBlocks(); len(blocks) > 0 {
		return blocks[0].GetFirstTimeUs(), true
	}
	return 0, false
}
