package camera

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/signal"
)

const (
	// earsOverAnkles is the height of the ears over the ankles of a standing person, as
	// a share of stature: eyes .936, ears a little lower, ankles .039 (Drillis &
	// Contini 1966).
	earsOverAnkles = 0.89
	// inPlay is how much of that a player shows at his tallest in a clip of play, with
	// its relative sd: knees and hips stay a little bent. Common practice, no source.
	inPlay, inPlaySD = 0.95, 0.05
	// stanceDepthSD is how far a player moves toward or from the camera in a clip,
	// metres. Common practice, no source.
	stanceDepthSD = 0.5
	// toAnkle is how far under the hip joints the ankles of a standing body are, over its
	// trunk: thigh and shank .491 of stature, the trunk .288 (Drillis & Contini 1966), and
	// unseenSD the relative sd of a body's height of which the trunk alone is seen: trunks
	// differ by some 5 %, and a trunk that leans the same way throughout looks shorter.
	toAnkle, unseenSD = 0.491 / 0.288, 0.10
)

// LocateByStature places the camera from image points alone: the standing body's
// height in pixels against the stature gives its distance (over the focal length,
// given or believed), the feet give the ground, the legs the horizon's roll, and the
// belief about a camera's height its tilt. It is rough in depth; hips are put at the
// one distance. Feet that the picture cuts off are put under the hips by the trunk's length.
func LocateByStature(cam Camera, frames []body.Frame, stature float64, view Viewpoint) (Location, error) {
	if !(stature > 0) || math.IsInf(stature, 1) {
		return Location{}, ErrNoStature
	}
	cam = Sized(cam, frames)
	l := newLens(cam)
	b, tallSD := standingBody(frames, false), inPlaySD
	if len(b.heights) < fewStood {
		b, tallSD = standingBody(frames, true), unseenSD
	}
	tall := quantile(b.heights, 0.9)
	if !(tall > 1) {
		return Location{}, ErrNoBody
	}
	p := l.at(l.mean)
	depth := p.Focal * earsOverAnkles * inPlay * stature / tall
	roll, rsd := blend(b.lean, b.when, rollSD)
	g := Gravity{Up: geom.Vec3{X: math.Tan(roll), Y: -1}.Unit(), PitchSD: pitchSD, RollSD: geom.Angle(rsd), Frames: len(b.when)}
	foot := p.CameraRay(signal.Median(b.footX), signal.Median(b.footY)).Scale(depth)
	loc := Location{Gravity: withHeight(g, foot)}
	var ground []float64
	for i := range b.footX {
		ground = append(ground, loc.Gravity.Up.Dot(p.CameraRay(b.footX[i], b.footY[i]).Scale(depth)))
	}
	across := stanceDepthSD * signal.Median(b.hipAway) / p.Focal
	for i, at := range b.hips {
		loc.Hips = append(loc.Hips, HipFix{
			Frame: b.frame[i], Time: b.when[i], InCamera: p.CameraRay(at.X, at.Y).Scale(depth),
			SD: geom.Vec3{X: across + depth/p.Focal, Y: across + depth/p.Focal, Z: stanceDepthSD},
		})
	}
	loc.Pose = levelPose(l, loc.Gravity, firstHip(loc.Hips), groundOf(ground), tallSD, view)
	return loc, nil
}

// stood is what the image tells of a standing body, one entry a frame.
type stood struct {
	frame        []int
	when         []float64 // seconds
	heights      []float64 // ears over ankles, pixels
	lean         []float64 // of the line from the feet to the hips, radians, clockwise positive
	footX, footY []float64 // the lower ankle
	hips         []Pixel
	hipAway      []float64 // distance of the hips from the image's first hip, pixels
}

// fewStood is in how many frames the feet must be seen to stand for those without.
const fewStood = 5

// standingBody reads the frames that show the body from the ears to the feet; footless:
// to the hips, the feet where the trunk, upright, would have them.
func standingBody(frames []body.Frame, footless bool) (b stood) {
	for i := range frames {
		im := &frames[i].Image
		ears, a := middle2(im, body.LeftEar)
		hips, h := middle2(im, body.LeftHip)
		ankles, f := middle2(im, body.LeftAnkle)
		low := im[body.LeftAnkle]
		if r := im[body.RightAnkle]; r.Y > low.Y {
			low = r
		}
		if footless {
			var top Pixel
			top, f = middle2(im, body.LeftShoulder)
			ankles = Pixel{hips.X, hips.Y + toAnkle*math.Hypot(top.X-hips.X, top.Y-hips.Y)}
			low.X, low.Y = float32(ankles.X), float32(ankles.Y)
		}
		if !a || !h || !f {
			continue
		}
		b.frame = append(b.frame, i)
		b.when = append(b.when, float64(frames[i].TimeUS)*1e-6)
		b.heights = append(b.heights, math.Hypot(ears.X-ankles.X, ears.Y-ankles.Y))
		if !footless {
			b.lean = append(b.lean, math.Atan2(hips.X-ankles.X, ankles.Y-hips.Y))
		}
		b.footX, b.footY = append(b.footX, float64(low.X)), append(b.footY, float64(low.Y))
		b.hips = append(b.hips, hips)
		b.hipAway = append(b.hipAway, math.Hypot(hips.X-b.hips[0].X, hips.Y-b.hips[0].Y))
	}
	return b
}

// middle2 is the image midpoint of a point and its twin.
func middle2(im *[body.NumPoints]body.Seen2, p body.Point) (Pixel, bool) {
	a, b := im[p], im[p.Twin()]
	ok := a.Score > 0 && b.Score > 0 && finite32(a.X, a.Y, b.X, b.Y)
	return Pixel{(float64(a.X) + float64(b.X)) / 2, (float64(a.Y) + float64(b.Y)) / 2}, ok
}

// ApparentStature is the stature, metres, that world points show, with its sd: the
// legs' and trunk's lengths against their usual shares of stature. World points of
// an estimator have its own idea of scale; multiply them by stature ÷ apparent
// stature. False without enough frames.
func ApparentStature(frames []body.Frame) (stature, sd float64, ok bool) {
	var h []float64
	for i := range frames {
		if s, ok := bodyLength(&frames[i].World); ok {
			h = append(h, s/measuredShare)
		}
	}
	if len(h) < 5 {
		return 0, 0, false
	}
	m := signal.Median(h)
	return m, m * math.Hypot(worldScaleSD, 0.1/math.Sqrt(float64(len(h)))), true
}

// measuredShare is the share of stature in shank (.246), thigh (.245) and trunk from
// hip to shoulder joint (.288) (Drillis & Contini 1966 via Winter, Fig. 4.1).
const measuredShare = 0.246 + 0.245 + 0.288

// bodyLength adds the mean shank, the mean thigh and the trunk.
func bodyLength(w *[body.NumPoints]body.Seen3) (float64, bool) {
	sum := 0.0
	for _, s := range [][2]body.Point{
		{body.LeftAnkle, body.LeftKnee}, {body.RightAnkle, body.RightKnee},
		{body.LeftKnee, body.LeftHip}, {body.RightKnee, body.RightHip},
	} {
		a, ok := world3(w, s[0])
		b, too := world3(w, s[1])
		if !ok || !too {
			return 0, false
		}
		sum += a.Sub(b).Norm() / 2
	}
	hips, ok := middle3(w, body.LeftHip)
	shoulders, too := middle3(w, body.LeftShoulder)
	return sum + hips.Sub(shoulders).Norm(), ok && too
}
