package wire

import (
	"errors"
	"fmt"
	"math"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/body"
)

const (
	// MaxRate is the most frames of one camera in one second of its clock, Hz.
	// The fastest phone sensors take 960; it bounds the window of a swing.
	MaxRate = 1000

	// Coordinates beyond these are no measurement: the machine's own limits.
	maxMetres, maxPixels = 1e3, 1e5

	// maxTimeUS is the largest time, microseconds, that a JavaScript number
	// holds exactly: 285 years.
	maxTimeUS = int64(1) << 53
)

// Decoder reads the frames of one clip or stream in their order.
type Decoder struct {
	// fixed
	layout  body.Layout
	cameras []clock

	// updated with each frame
	Taken []uint32 // frames read from each camera
}

// clock is where one camera's frames have got to.
type clock struct {
	index    uint32
	timeUS   int64
	second   int64 // whole second of timeUS
	inSecond int   // frames in that second
}

// NewDecoder returns a decoder for the frames of an intake.
func NewDecoder(in *Intake) *Decoder {
	return &Decoder{
		layout:  in.Layout,
		cameras: make([]clock, in.Cameras()),
		Taken:   make([]uint32, in.Cameras()),
	}
}

// Frame checks a frame and writes it into out. list and i name its place in
// the request for errors, which are of type Problems or *LimitError; the
// decoder and out are void after one.
func (d *Decoder) Frame(f *pb.Frame, list string, i int, out *body.Frame) error {
	if err := d.tick(f); err != nil {
		return placed(err, f, list, i)
	}
	*out = body.Frame{Index: f.GetIndex(), TimeUS: f.GetTimeUs(), Camera: uint8(f.GetCamera())}
	if err := d.points(f, out); err != nil {
		return placed(err, f, list, i)
	}
	d.Taken[f.GetCamera()]++
	return nil
}

// placed gives a frame's problem its path in the request.
func placed(err error, f *pb.Frame, list string, i int) error {
	var p Problem
	if errors.As(err, &p) {
		return Problems{{
			fmt.Sprintf("%s[%d].%s", list, i, p.Field),
			fmt.Sprintf("%s (frame %d of camera %d)", p.Description, f.GetIndex(), f.GetCamera()),
		}}
	}
	return err
}

// tick checks camera, index and time against the camera's frames before.
func (d *Decoder) tick(f *pb.Frame) error {
	if int64(f.GetCamera()) >= int64(len(d.cameras)) {
		return Problem{"camera", fmt.Sprintf("%d is not in the setup, which has %d", f.GetCamera(), len(d.cameras))}
	}
	c, t := &d.cameras[f.GetCamera()], f.GetTimeUs()
	first := d.Taken[f.GetCamera()] == 0
	switch {
	case t > maxTimeUS || t < -maxTimeUS:
		return Problem{"time_us", "is out of range"}
	case !first && t <= c.timeUS:
		return Problem{"time_us", fmt.Sprintf("%d does not rise from %d of the frame before", t, c.timeUS)}
	case !first && f.GetIndex() <= c.index:
		return Problem{"index", fmt.Sprintf("%d does not rise from %d of the frame before", f.GetIndex(), c.index)}
	}
	c.index, c.timeUS = f.GetIndex(), t
	return c.count(t)
}

// Time checks an instant on the frames' clock; path is its place in the request.
func Time(us int64, path string) error {
	if us > maxTimeUS || us < -maxTimeUS {
		return Problems{{path, "is out of range"}}
	}
	return nil
}

// count keeps the rate of frames within MaxRate.
func (c *clock) count(timeUS int64) error {
	if s := timeUS / 1e6; s != c.second || c.inSecond == 0 {
		c.second, c.inSecond = s, 0
	}
	if c.inSecond++; c.inSecond > MaxRate {
		return &LimitError{"frame_rate", MaxRate, "frames of a camera in a second of its clock"}
	}
	return nil
}

// points copies the lists of a frame, each by its order.
func (d *Decoder) points(f *pb.Frame, out *body.Frame) error {
	for _, l := range [...]struct {
		name    string
		numbers []float32
		order   body.Layout
		whole   bool // the list may not stop early
		world   bool
	}{
		{"image", f.GetImage(), d.layout, true, false},
		{"world", f.GetWorld(), d.layout, true, true},
		{"racket_image", f.GetRacketImage(), body.RacketOrder, false, false},
		{"racket_world", f.GetRacketWorld(), body.RacketOrder, false, true},
		{"ball_image", f.GetBallImage(), ballOrder, true, false},
		{"ball_world", f.GetBallWorld(), ballOrder, true, true},
	} {
		if len(l.numbers) == 0 {
			continue
		}
		if err := checkLength(l.name, len(l.numbers), len(l.order), l.whole, l.world); err != nil {
			return err
		}
		if err := copyPoints(l.name, l.numbers, l.order, l.world, out); err != nil {
			return err
		}
	}
	return nil
}

var ballOrder = body.Layout{body.Ball}

func checkLength(name string, numbers, points int, whole, world bool) error {
	each := 3
	if world {
		each = 4
	}
	if numbers == each*points || !whole && numbers%each == 0 && numbers < each*points {
		return nil
	}
	atMost := ""
	if !whole {
		atMost = "at most "
	}
	return Problem{name, fmt.Sprintf("has %d numbers; must be %s%d points of %d", numbers, atMost, points, each)}
}

func copyPoints(name string, n []float32, order body.Layout, world bool, out *body.Frame) error {
	if world {
		return copyWorld(name, n, order, out)
	}
	return copyImage(name, n, order, out)
}

func copyImage(name string, n []float32, order body.Layout, out *body.Frame) error {
	for i := range len(n) / 3 {
		x, y, s := n[3*i], n[3*i+1], n[3*i+2]
		switch {
		case s == 0:
			continue
		case !validScore(s):
			return Problem{name, fmt.Sprintf("score %g of point %d must be 0 to 1", s, i)}
		case !within(x, maxPixels) || !within(y, maxPixels):
			return Problem{name, fmt.Sprintf("point %d must be finite, in pixels, not (%g, %g)", i, x, y)}
		}
		if p := order[i]; p != body.Unused {
			out.Image[p] = body.Seen2{X: x, Y: y, Score: min(s, 1)}
		}
	}
	return nil
}

func copyWorld(name string, n []float32, order body.Layout, out *body.Frame) error {
	for i := range len(n) / 4 {
		x, y, z, s := n[4*i], n[4*i+1], n[4*i+2], n[4*i+3]
		switch {
		case s == 0:
			continue
		case !validScore(s):
			return Problem{name, fmt.Sprintf("score %g of point %d must be 0 to 1", s, i)}
		case !within(x, maxMetres) || !within(y, maxMetres) || !within(z, maxMetres):
			return Problem{name, fmt.Sprintf("point %d must be finite, in metres, not (%g, %g, %g)", i, x, y, z)}
		}
		if p := order[i]; p != body.Unused {
			out.World[p] = body.Seen3{X: x, Y: y, Z: z, Score: min(s, 1)}
		}
	}
	return nil
}

// validScore allows what some estimators give above 1; such a score counts as 1.
func validScore(s float32) bool { return s > 0 && s <= math.MaxFloat32 }

// within reports whether |x| ≤ top; false for NaN.
func within(x, top float32) bool { return x >= -top && x <= top }
