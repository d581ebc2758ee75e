package swing_test

import (
	"encoding/binary"
	"errors"
	"math"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/swing"
	"example.com/courtkin/service/synth"
)

// FuzzPush pushes a made swing through the live depth, frames changed as the fuzzer says:
// each change is four bytes, which frame, what of it, and the value. Nothing may panic;
// a frame is taken or refused by a field's name, and what comes out holds together: no
// time outside the clip, no event withdrawn that was not announced, keep_from never
// going back, and no swing twice. The settled depth is FuzzMachine's.
func FuzzPush(f *testing.F) {
	f.Add(byte(0), []byte{})
	f.Add(byte(1), []byte{40, 3, 1, 200, 90, 7, 0, 0, 100, 210, 255, 255})
	f.Add(byte(2), []byte{10, 250, 9, 255, 11, 251, 9, 255})
	f.Add(byte(5), []byte{120, 215, 3, 1, 121, 240, 3, 1})
	made := make([]synth.Clip, len(synth.Conditions))
	for i, c := range synth.Conditions {
		m := synth.NewSwing(synth.Spec{Stroke: body.Forehand, Hand: body.RightHanded, Seed: 3})
		made[i] = brief(synth.Shoot(m, c, synth.View{Layout: synth.COCO17}, 3))
	}
	f.Fuzz(func(t *testing.T, condition byte, changes []byte) {
		clip := made[int(condition)%len(made)]
		frames := append([]body.Frame(nil), clip.Frames...)
		for i := 0; i+4 <= len(changes) && i < 400; i += 4 {
			change(frames, changes[i:i+4])
		}
		m, err := swing.New(clip.Setup)
		if err != nil {
			t.Fatal(err)
		}
		m.SettleWith(swing.Unsettled)
		s := &sense{t: t, first: math.MaxInt64, last: math.MinInt64}
		for i := range frames {
			// The other cameras' clocks may be a second off the first's.
			s.first, s.last = min(s.first, frames[i].TimeUS-2e6), max(s.last, frames[i].TimeUS+2e6)
			var unfit *swing.FrameError
			if err := m.Push(&frames[i], s); err != nil && (!errors.As(err, &unfit) || unfit.Field == "") {
				t.Fatalf("frame %d: %v", i, err)
			}
		}
		m.Finish(s)
	})
}

// brief is the clip from the turn's start to the follow-through's end, which is all that
// the fuzzer should have to wait for, on a clock that is stated but in slow motion.
func brief(c synth.Clip) synth.Clip {
	contact := c.Zero + int64(c.Truth[0].Contact*c.Stretch*1e6)
	short := c.Frames[:0:0]
	for _, f := range c.Frames {
		if since := float64(f.TimeUS-contact) * 1e-6 / c.Stretch; since > -1.2 && since < 0.9 {
			short = append(short, f)
		}
	}
	c.Frames = short
	for i := range c.Setup.Cameras {
		if c.Condition != synth.SlowMotion {
			c.Setup.Cameras[i].SlowMotion = 1
		}
	}
	return c
}

// strange are numbers that mathematics stumbles over.
var strange = []float32{0, 1e-30, -1, 1e9, 3.4e38, float32(math.NaN()), float32(math.Inf(1)), float32(math.Inf(-1)), 0.5, 99}

// change changes one frame: a point in the world or in the image, its time or index,
// or a stretch from it on.
func change(frames []body.Frame, c []byte) {
	at := int(c[0]) * len(frames) / 256
	f := &frames[at]
	value, by := strange[int(c[2])%len(strange)], int64(int16(binary.LittleEndian.Uint16(c[2:4])))
	point := int(c[1]) % int(body.NumPoints)
	switch kind := c[1]; {
	case kind < 80:
		f.World[point].X, f.World[point].Z = value, float32(by)/1000
	case kind < 160:
		f.Image[point].X, f.Image[point].Y = value, float32(by)
	case kind < 180:
		f.World[point].Score, f.Image[point].Score = value, value
	case kind < 200: // times from here on come earlier or later
		for i := at; i < len(frames); i++ {
			frames[i].TimeUS += by * 1000
		}
	case kind < 210:
		f.TimeUS += by * 1000
	case kind < 220:
		f.Index += uint32(by)
	case kind < 230:
		f.Camera = uint8(by)
	default: // nothing is seen for a while
		for i := at; i < min(at+int(c[2]), len(frames)); i++ {
			frames[i].World, frames[i].Image = [body.NumPoints]body.Seen3{}, [body.NumPoints]body.Seen2{}
		}
	}
}

// sense is a sink that asks whether findings hold together.
type sense struct {
	t           *testing.T
	first, last int64 // times that findings may have, µs
	announced   map[any]int
	kept        map[uint8]uint32
	swings      map[string]bool
}

func (s *sense) Event(e swing.LiveEvent) {
	if s.announced == nil {
		s.announced = map[any]int{}
	}
	if e.Withdrawn {
		if s.announced[e.Kind] == 0 {
			s.t.Errorf("an event of kind %v withdrawn that stands nowhere", e.Kind)
		}
		s.announced[e.Kind] = 0
		return
	}
	s.announced[e.Kind]++
	if e.SDUS <= 0 || e.TimeUS < s.first || e.TimeUS > s.last {
		s.t.Errorf("event %+v, frames have been from %d to %d µs", e, s.first, s.last)
	}
}

func (s *sense) Reading(r swing.Reading) {
	if r.TimeUS < s.first || r.TimeUS > s.last {
		s.t.Errorf("reading %+v, frames have been from %d to %d µs", r, s.first, s.last)
	}
}

func (s *sense) Swing(x *measure.Sheet) {
	if s.swings == nil {
		s.swings = map[string]bool{}
	}
	id := x.ID
	if s.swings[id] {
		s.t.Errorf("swing %x twice", id)
	}
	s.swings[id] = true
}

func (*sense) Warning(measure.Warning) {}

func (s *sense) Progress(p swing.Progress) {
	if s.kept == nil {
		s.kept = map[uint8]uint32{}
	}
	if p.KeepFrom < s.kept[p.Camera] {
		s.t.Errorf("camera %d: keep from %d after %d", p.Camera, p.KeepFrom, s.kept[p.Camera])
	}
	s.kept[p.Camera] = p.KeepFrom
}
