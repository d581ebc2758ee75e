package feed

import (
	"math"
	"slices"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
)

// state is what the newest frames show.
type state uint8

const (
	ready   state = iota
	unseen        // too little to judge: no frames, old frames, points missing, the net's direction unknown
	busy          // a player who is not waiting
	crowded       // signs of a second person
	gone          // frames, and nobody in them
)

// sight is a judgement with its reason, a key of the phrases.
type sight struct {
	state  state
	reason string
}

// Limits on frames. Our choice where no source is named.
const (
	maxAge      = 1.0  // s: older frames are no ground for a feed
	window      = 1.0  // s before the newest frame that count
	leastSpan   = 0.15 // s the frames must cover to show stillness
	leastFrames = 4
	leastGone   = 0.5 // s of frames without anybody before the player has left
	seenScore   = 0.3 // a point below is not seen
	seenShare   = 0.8 // of the frames that must show a point
	maxFrames   = 600 // newest frames that are looked at: 1 s of five cameras at 120 Hz
)

// needed are the points without which readiness cannot be judged.
var needed = []body.Point{body.LeftShoulder, body.RightShoulder, body.LeftHip, body.RightHip, body.LeftWrist, body.RightWrist}

// look judges the newest frames: each camera on its own, and the least
// favourable counts. A camera that shows too little is no objection while
// another shows the player.
func look(r *Request) sight {
	frames := newest(r.Now)
	if len(frames) == 0 {
		return sight{unseen, "no_frames"}
	}
	if age(r, frames) > maxAge {
		return sight{unseen, "old_frames"}
	}
	var sights []sight
	for _, view := range byCamera(frames) {
		sights = append(sights, view.judge(r))
	}
	for _, s := range []state{crowded, busy, ready, unseen} {
		if i := slices.IndexFunc(sights, func(x sight) bool { return x.state == s }); i >= 0 {
			return sights[i]
		}
	}
	return sights[0] // every camera shows that nobody is there
}

// newest returns the last frames of the second that ends with the newest one,
// by their own times.
func newest(frames []body.Frame) []body.Frame {
	frames = frames[max(0, len(frames)-maxFrames):]
	last := int64(math.MinInt64)
	for i := range frames {
		last = max(last, frames[i].TimeUS)
	}
	var out []body.Frame
	for i := range frames {
		if frames[i].TimeUS >= last-int64(window*1e6) {
			out = append(out, frames[i])
		}
	}
	return out
}

// age returns how old the newest frame is, s: against the instant of asking
// where that is known, else against the end of the newest swing, which the same
// clock timed.
func age(r *Request, frames []body.Frame) float64 {
	last := frames[0].TimeUS
	for i := range frames {
		last = max(last, frames[i].TimeUS)
	}
	now := last
	if r.AskedUS != 0 {
		now = max(now, r.AskedUS)
	}
	for _, s := range r.Recent {
		if s == nil {
			continue
		}
		for _, e := range s.Events {
			if e.Time >= 0 && e.Time < 60 {
				now = max(now, s.StartUS+int64(e.Time*1e6))
			}
		}
	}
	return float64(now-last) / 1e6
}

// view is the frames of one camera, in time order.
type view struct {
	frames []body.Frame
}

// byCamera parts frames by camera, in the order in which the cameras come.
func byCamera(frames []body.Frame) []*view {
	var all []*view
	for i := range frames {
		at := slices.IndexFunc(all, func(v *view) bool { return v.frames[0].Camera == frames[i].Camera })
		if at < 0 {
			all, at = append(all, &view{}), len(all)
		}
		v := all[at]
		if n := len(v.frames); n == 0 || frames[i].TimeUS > v.frames[n-1].TimeUS {
			v.frames = append(v.frames, frames[i])
		}
	}
	return all
}

// judge says what one camera shows.
func (v *view) judge(r *Request) sight {
	span := v.span()
	if n := v.empty(); n == len(v.frames) && span >= leastGone {
		return sight{gone, "player_left"}
	}
	if len(v.frames) < leastFrames || span < leastSpan {
		return sight{unseen, "too_few_frames"}
	}
	if toNet(r.Axes, v.viewpoint(r)) == nil && v.viewpoint(r) == camera.ViewUnknown {
		return sight{unseen, "net_unknown"}
	}
	track := v.track(r)
	if track == nil {
		return sight{unseen, "player_not_seen"}
	}
	if track.jumps() {
		return sight{crowded, "second_person"}
	}
	// World points about mid-hip cannot show the body itself move; the image can.
	if picture := v.image(camera.ViewBehind); !track.flat && picture != nil {
		if picture.jumps() {
			return sight{crowded, "second_person"}
		}
		if picture.fastest(pose.hip) > stillBody {
			return sight{busy, "player_moving"}
		}
	}
	return track.stance()
}

func (v *view) span() float64 {
	return float64(v.frames[len(v.frames)-1].TimeUS-v.frames[0].TimeUS) / 1e6
}

// empty counts the frames in which no body point is seen.
func (v *view) empty() int {
	n := 0
	for i := range v.frames {
		if nobody(&v.frames[i]) {
			n++
		}
	}
	return n
}

func nobody(f *body.Frame) bool {
	for p := range body.NumBody {
		if f.Image[p].Score > 0 || f.World[p].Score > 0 {
			return false
		}
	}
	return true
}
