package wire

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"

	pb "example.com/courtkin/proto/courtkin/v1"
)

const (
	// MaxBlock is the most frames in one block: half a second at 60 Hz, beyond
	// which a block saves no more bytes.
	MaxBlock = 32

	// DefaultImageStep is in pixels. It rounds by at most 1/16 px (sd 0.04 px), well
	// below the 1 to 2 px error of pose estimators.
	DefaultImageStep = 0.125

	// DefaultWorldStep is in metres. It rounds by at most 0.5 mm (sd 0.3 mm), below
	// the 1 to 5 mm error of marker systems.
	DefaultWorldStep = 0.001

	// scoreStep is one hundredth: scores tell good from bad and no more.
	scoreStep = 0.01
)

// column ties one column of a block to the list of a frame that it stands for.
type column struct {
	name  string
	world bool
	of    func(*pb.FrameBlock) **pb.FrameColumn
	list  func(*pb.Frame) *[]float32
}

var columns = [...]column{
	{"image", false, func(b *pb.FrameBlock) **pb.FrameColumn { return &b.Image }, func(f *pb.Frame) *[]float32 { return &f.Image }},
	{"world", true, func(b *pb.FrameBlock) **pb.FrameColumn { return &b.World }, func(f *pb.Frame) *[]float32 { return &f.World }},
	{"racket_image", false, func(b *pb.FrameBlock) **pb.FrameColumn { return &b.RacketImage }, func(f *pb.Frame) *[]float32 { return &f.RacketImage }},
	{"racket_world", true, func(b *pb.FrameBlock) **pb.FrameColumn { return &b.RacketWorld }, func(f *pb.Frame) *[]float32 { return &f.RacketWorld }},
	{"ball_image", false, func(b *pb.FrameBlock) **pb.FrameColumn { return &b.BallImage }, func(f *pb.Frame) *[]float32 { return &f.BallImage }},
	{"ball_world", true, func(b *pb.FrameBlock) **pb.FrameColumn { return &b.BallWorld }, func(f *pb.Frame) *[]float32 { return &f.BallWorld }},
}

// each returns how many numbers a point has in the column.
func (c *column) each() int {
	if c.world {
		return 4
	}
	return 3
}

// step returns the size of a step of the k-th number of a point.
func (c *column) step(k int, s steps) float64 {
	switch {
	case k == c.each()-1:
		return scoreStep
	case c.world:
		return s.world
	}
	return s.image
}

// steps are the sizes of a step, in pixels and metres.
type steps struct{ image, world float64 }

func stepsOf(b *pb.FrameBlock) (steps, error) {
	s := steps{b.GetImageStepPx(), b.GetWorldStepM()}
	if s.image == 0 {
		s.image = DefaultImageStep
	}
	if s.world == 0 {
		s.world = DefaultWorldStep
	}
	var bad Problems
	bad.check(s.image >= 0.001 && s.image <= 16, "image_step_px", "must be 0 or 0.001 to 16, not %g", s.image)
	bad.check(s.world >= 0.00001 && s.world <= 0.1, "world_step_m", "must be 0 or 0.00001 to 0.1, not %g", s.world)
	return s, bad.orNil()
}

// Unblock returns the frames of a block; path is its place in the request.
// The error is of type Problems or *LimitError. The frames' numbers are
// checked by the decoder as any other frame's.
func Unblock(b *pb.FrameBlock, path string) ([]*pb.Frame, error) {
	frames, err := unblock(b)
	var bad Problems
	if errors.As(err, &bad) {
		for i := range bad {
			bad[i].Field = path + "." + bad[i].Field
		}
	}
	return frames, err
}

func unblock(b *pb.FrameBlock) ([]*pb.Frame, error) {
	s, err := stepsOf(b)
	if err != nil {
		return nil, err
	}
	frames, err := blockTimes(b)
	if err != nil {
		return nil, err
	}
	for i := range columns {
		if err := columns[i].unpack(b, frames, s); err != nil {
			return nil, err
		}
	}
	return frames, nil
}

// blockTimes returns the block's frames with camera, index and time alone.
func blockTimes(b *pb.FrameBlock) ([]*pb.Frame, error) {
	n := len(b.GetTimeStepsUs()) + 1
	if n > MaxBlock {
		return nil, &LimitError{"frames_per_block", MaxBlock, "frames"}
	}
	if k := len(b.GetIndexSteps()); k != 0 && k != n-1 {
		return nil, Problems{{"index_steps", fmt.Sprintf("has %d numbers; must be 0 or %d", k, n-1)}}
	}
	index, at := uint64(b.GetFirstIndex()), b.GetFirstTimeUs()
	if at > maxTimeUS || at < -maxTimeUS {
		return nil, Problems{{"first_time_us", "is out of range"}}
	}
	frames := make([]*pb.Frame, n)
	for i := range frames {
		if i > 0 {
			at += int64(b.GetTimeStepsUs()[i-1])
			index += indexStep(b, i-1)
		}
		if index > math.MaxUint32 {
			return nil, Problems{{"index_steps", "pass the largest index"}}
		}
		frames[i] = &pb.Frame{Camera: b.GetCamera(), Index: uint32(index), TimeUs: at}
	}
	return frames, nil
}

func indexStep(b *pb.FrameBlock, i int) uint64 {
	if len(b.GetIndexSteps()) == 0 {
		return 1
	}
	return uint64(b.GetIndexSteps()[i])
}

// unpack fills the column's list in every frame.
func (c *column) unpack(b *pb.FrameBlock, frames []*pb.Frame, s steps) error {
	whole, err := c.steps(*c.of(b), len(frames))
	if err != nil || len(whole) == 0 {
		return err
	}
	width := len(whole) / len(frames)
	values := make([]float32, len(whole))
	for i, q := range whole {
		values[i] = float32(float64(q) * c.step(i%width%c.each(), s))
	}
	for i, f := range frames {
		*c.list(f) = values[i*width : (i+1)*width : (i+1)*width]
	}
	return nil
}

// steps decodes a column to whole steps, frame after frame.
func (c *column) steps(col *pb.FrameColumn, frames int) ([]int64, error) {
	deltas, raw := col.GetDeltas(), col.GetSteps()
	n := len(deltas)
	if len(raw) > 0 {
		n = len(raw) / 2
	}
	switch {
	case len(deltas) > 0 && len(raw) > 0:
		return nil, Problems{{c.name, "has both deltas and steps"}}
	case len(raw)%2 != 0:
		return nil, Problems{{c.name + ".steps", "has an odd number of bytes"}}
	case n%(frames*c.each()) != 0:
		return nil, Problems{{c.name, fmt.Sprintf("has %d numbers; must be a multiple of %d (%d frames, %d numbers a point)",
			n, frames*c.each(), frames, c.each())}}
	case n > frames*c.each()*MaxPointNames:
		return nil, &LimitError{"points_per_frame", MaxPointNames, "points"}
	}
	if len(raw) > 0 {
		return fromBytes(raw), nil
	}
	return fromDeltas(deltas, frames), nil
}

func fromBytes(raw []byte) []int64 {
	out := make([]int64, len(raw)/2)
	for i := range out {
		out[i] = int64(int16(binary.LittleEndian.Uint16(raw[2*i:])))
	}
	return out
}

func fromDeltas(deltas []int32, frames int) []int64 {
	out := make([]int64, len(deltas))
	width := len(deltas) / frames
	for i, d := range deltas {
		out[i] = int64(d)
		if i >= width {
			out[i] += out[i-width]
		}
	}
	return out
}

// Block packs 1 to MaxBlock plain frames of one camera, in time order, at the
// default steps. forJSON fills the columns' bytes instead of their deltas, and
// widens the steps as far as a ball more than 32 m off or an image more than
// 4096 px wide needs. It fails when the frames do not fit a block: other
// cameras, times or indices that do not rise, numbers out of range.
func Block(frames []*pb.Frame, forJSON bool) (*pb.FrameBlock, error) {
	if len(frames) == 0 || len(frames) > MaxBlock {
		return nil, fmt.Errorf("a block holds 1 to %d frames, not %d", MaxBlock, len(frames))
	}
	b := &pb.FrameBlock{
		Camera: frames[0].GetCamera(), FirstIndex: frames[0].GetIndex(), FirstTimeUs: frames[0].GetTimeUs(),
	}
	if err := packTimes(b, frames); err != nil {
		return nil, err
	}
	s := steps{DefaultImageStep, DefaultWorldStep}
	if forJSON {
		s = steps{widened(s.image, frames, false), widened(s.world, frames, true)}
		b.ImageStepPx, b.WorldStepM = s.image, s.world
	}
	for i := range columns {
		if err := columns[i].pack(b, frames, s, forJSON); err != nil {
			return nil, err
		}
	}
	return b, nil
}

// widened doubles a step until every seen coordinate fits 16 bits; numbers that
// no step fits are left for pack to refuse.
func widened(step float64, frames []*pb.Frame, world bool) float64 {
	far := 0.
	for i := range columns {
		c := &columns[i]
		for _, f := range frames {
			if c.world == world {
				far = max(far, c.farthest(*c.list(f)))
			}
		}
	}
	for far/step > math.MaxInt16-1 && far <= maxPixels {
		step *= 2
	}
	return step
}

// farthest returns the largest coordinate of any seen point.
func (c *column) farthest(list []float32) float64 {
	far := 0.
	for i := c.each() - 1; i < len(list); i += c.each() {
		for k := 1; k < c.each() && list[i] != 0; k++ {
			far = max(far, math.Abs(float64(list[i-k])))
		}
	}
	return far
}

func packTimes(b *pb.FrameBlock, frames []*pb.Frame) error {
	gaps := false
	for i, f := range frames[1:] {
		last := frames[i]
		dt := f.GetTimeUs() - last.GetTimeUs()
		if f.GetCamera() != b.GetCamera() || f.GetIndex() <= last.GetIndex() || dt <= 0 || dt > math.MaxUint32 {
			return fmt.Errorf("frame %d does not follow frame %d in a block", f.GetIndex(), last.GetIndex())
		}
		b.TimeStepsUs = append(b.TimeStepsUs, uint32(dt))
		b.IndexSteps = append(b.IndexSteps, f.GetIndex()-last.GetIndex())
		gaps = gaps || f.GetIndex()-last.GetIndex() != 1
	}
	if !gaps {
		b.IndexSteps = nil
	}
	return nil
}

// pack fills one column from the frames' lists, shorter ones filled up with
// points that were not seen.
func (c *column) pack(b *pb.FrameBlock, frames []*pb.Frame, s steps, forJSON bool) error {
	width := 0
	for _, f := range frames {
		width = max(width, len(*c.list(f)))
	}
	if width == 0 {
		return nil
	}
	if width%c.each() != 0 {
		return fmt.Errorf("%s has %d numbers; must be a multiple of %d", c.name, width, c.each())
	}
	whole := make([]int32, 0, width*len(frames))
	held := make([]int32, width)
	for _, f := range frames {
		if err := c.quantise(*c.list(f), s, held); err != nil {
			return err
		}
		whole = append(whole, held...)
	}
	col, err := encode(whole, width, forJSON)
	*c.of(b) = col
	return err
}

// quantise writes a frame's list into held as whole steps. A point that was
// not seen keeps the coordinates of the frame before, which cost least.
func (c *column) quantise(list []float32, s steps, held []int32) error {
	each := c.each()
	for i := 0; i < len(held); i += each {
		if i+each > len(list) || list[i+each-1] == 0 {
			held[i+each-1] = 0
			continue
		}
		for k := range each {
			q := math.Round(float64(list[i+k]) / c.step(k, s))
			if !(math.Abs(q) <= math.MaxInt32/2) {
				return fmt.Errorf("%s: %g cannot be packed", c.name, list[i+k])
			}
			held[i+k] = int32(q)
		}
		held[i+each-1] = max(1, held[i+each-1])
	}
	return nil
}

func encode(whole []int32, width int, forJSON bool) (*pb.FrameColumn, error) {
	if !forJSON {
		return &pb.FrameColumn{Deltas: deltas(whole, width)}, nil
	}
	raw := make([]byte, 0, 2*len(whole))
	for _, q := range whole {
		if q < math.MinInt16 || q > math.MaxInt16 {
			return nil, fmt.Errorf("%d steps do not fit 16 bits", q)
		}
		raw = binary.LittleEndian.AppendUint16(raw, uint16(q))
	}
	return &pb.FrameColumn{Steps: raw}, nil
}

func deltas(whole []int32, width int) []int32 {
	out := make([]int32, len(whole))
	copy(out, whole[:width])
	for i := width; i < len(whole); i++ {
		out[i] = whole[i] - whole[i-width]
	}
	return out
}
