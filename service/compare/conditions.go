package compare

import (
	"math"
	"strings"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/measure"
)

// touch says how an unlike condition reaches the figures whose names begin
// with prefix.
type touch struct {
	prefix   string
	slope    float64 // difference that the condition alone may cause, per unit of unlikeness
	relative bool    // slope counts in shares of the reference figure
	inflate  float64 // the error of the difference grows by this factor; 0: no growth
	blind    bool    // nothing can be told
}

// condition is one way in which the two swings were not had alike.
type condition struct {
	warning measure.Warning
	size    float64 // how unlike, in the unit of the slopes
	touches []touch
}

// effect is what all conditions together do to one figure.
type effect struct {
	allowance float64
	inflate   float64
	blind     bool
	reason    string
}

// on returns the effect of all conditions on a figure with reference value ref.
func on(conditions []condition, name string, ref float64) effect {
	e := effect{inflate: 1}
	var reasons []string
	for _, c := range conditions {
		t, ok := c.reaches(name)
		if !ok {
			continue
		}
		e.blind = e.blind || t.blind
		e.inflate *= math.Max(1, t.inflate)
		slope := t.slope
		if t.relative {
			slope *= math.Abs(ref)
		}
		e.allowance += slope * c.size
		reasons = append(reasons, c.warning.Text)
	}
	e.reason = strings.Join(reasons, " ")
	return e
}

// reaches returns the touch with the longest prefix of name.
func (c condition) reaches(name string) (best touch, ok bool) {
	for _, t := range c.touches {
		if strings.HasPrefix(name, t.prefix) && (!ok || len(t.prefix) > len(best.prefix)) {
			best, ok = t, true
		}
	}
	return best, ok
}

// timed are the figures that stand or fall with the clock.
var timed = []string{"tempo.", "racket_speed.", "lag.release", "chain.hips_to_racket", "ball.speed"}

func touchesOf(prefixes []string, t touch) []touch {
	all := make([]touch, len(prefixes))
	for i, p := range prefixes {
		t.prefix = p
		all[i] = t
	}
	return all
}

// conditions finds in what the two swings are unlike, the weightiest first.
func conditions(c *contest) []condition {
	var found []condition
	for _, look := range []func(*contest) (condition, bool){
		unlikeStroke, unlikeClock, unlikeBall, unlikeView, unlikeMethod, unlikeRate, unlikeSpeed, unlikeStance, unlikeHand, unscaled,
	} {
		if u, ok := look(c); ok {
			found = append(found, u)
		}
	}
	return found
}

func unlikeStroke(c *contest) (condition, bool) {
	a, b := c.ref.Stroke, c.cand.Stroke
	if a == b && a != body.StrokeUnknown {
		return condition{}, false
	}
	return condition{c.say.warn("unlike_stroke", c.say.stroke(a), c.say.stroke(b)), 1,
		[]touch{{blind: true}}}, true
}

// unlikeClock: the clip's clock of either side was not verified, or the two
// ran at unlike slow motion. Angles and lengths do not need a clock.
func unlikeClock(c *contest) (condition, bool) {
	if hasWarning(c.ref, "clock_unverified") || hasWarning(c.cand, "clock_unverified") {
		return condition{measure.Warning{Code: "unlike_clock", Text: c.say.tell("clock_unverified")}, 1,
			touchesOf(timed, touch{blind: true})}, true
	}
	a, b := c.ref.Capture.SlowMotion, c.cand.Capture.SlowMotion
	if a <= 0 || b <= 0 || near1(a/b, 0.02) {
		return condition{}, false
	}
	return condition{c.say.warn("unlike_clock", a, b), 1,
		touchesOf(timed, touch{inflate: unlikeInflation})}, true
}

func hasWarning(s *measure.Sheet, code string) bool {
	for _, w := range s.Warnings {
		if w.Code == code {
			return true
		}
	}
	return false
}

func near1(ratio, tolerance float64) bool { return math.Abs(math.Log(ratio)) <= tolerance }

// unlikeInflation and viewInflation widen the error of a difference when the
// two sides were seen in unlike ways: errors that cancel between two swings of
// one camera (joint centres biased by 3–5 cm, Needham et al. 2021; segment
// lengths; the direction of depth) then do not. Our choice.
const (
	unlikeInflation = 1.5
	viewInflation   = 2.0
)

// ballMargin is the difference in contact height from which balls count as
// unlike, m. Elliott & Christmass (ISBS) set low and high balls 0.47 m apart;
// a third of that is our choice.
const ballMargin = 0.15

// unlikeBall: a high ball asks for a higher take-back, a more upright stance
// and a higher shoulder. A serve's height is the player's own choice. The
// slopes (per metre of ball height) are wide on purpose; no source.
func unlikeBall(c *contest) (condition, bool) {
	if c.ref.Stroke.OverheadMotion() {
		return condition{}, false
	}
	d, sd, ok := c.difference("contact.height")
	if !ok {
		d, sd, ok = c.difference("contact.height_waist")
	}
	if !ok || math.Abs(d) < ballMargin || math.Abs(d) < 2*sd {
		return condition{}, false
	}
	touches := []touch{
		{prefix: "take_back.hands_height", slope: 1}, {prefix: "take_back.tip_above_hands", slope: .5}, {prefix: "take_back.tip_side", slope: .5},
		{prefix: "path.tip_drop", slope: 1}, {prefix: "path.hand_drop", slope: 1}, {prefix: "path.rise_angle", slope: 25}, {prefix: "path.out_angle", slope: 15},
		{prefix: "posture.shoulder_tilt", slope: 40}, {prefix: "posture.lean", slope: 20},
		{prefix: "elbow.", slope: 40}, {prefix: "wrist.", slope: 60},
		{prefix: "legs.knee", slope: 60}, {prefix: "legs.rise", slope: .3},
		{prefix: "spacing.", slope: .3}, {prefix: "contact.ahead", slope: .3},
		{prefix: "lag.tip_path", slope: 2}, {prefix: "lag.snap_back", slope: 2}, {prefix: "lag.", slope: 60}, {prefix: "lag.tip_wrap", slope: .5},
		{prefix: "tempo.", slope: 1, relative: true},
		{prefix: "lag.release_rate", slope: .5, relative: true}, {prefix: "lag.release_time", slope: .2},
	}
	touches = append(touches, touchesOf([]string{"tip.", "grip.", "hand.", "racket_head.", "left_", "right_"}, touch{slope: 1})...)
	touches = append(touches, touchesOf([]string{"lag.angle", "elbow.hitting"}, touch{slope: 60})...)
	key := "ball_higher"
	if d < 0 {
		key = "ball_lower"
	}
	return condition{measure.Warning{Code: "unlike_ball_height", Text: c.say.tell(key, c.say.amount(math.Abs(d), "m"))},
		math.Abs(d), touches}, true
}

func oneView(s *measure.Sheet) bool {
	return s.Capture.Method == "one_view" || s.Capture.Method == "image_plane"
}

// spatial are the figures and curves that depend on where the camera stood.
var spatial = []string{"racket_speed.", "lag.", "path.", "take_back.", "turn.", "elbow.", "wrist.", "contact.", "spacing.", "posture.",
	"head.", "legs.", "ball.", "serve.", "tip.", "grip.", "hand.", "racket_head.", "nose.", "left_", "right_", "shoulder_turn", "hip_turn", "separation"}

func unlikeView(c *contest) (condition, bool) {
	a, b := c.ref.Capture.View, c.cand.Capture.View
	if a == b || a == camera.ViewUnknown || b == camera.ViewUnknown || !(oneView(c.ref) || oneView(c.cand)) {
		return condition{}, false
	}
	return condition{c.say.warn("unlike_view", c.say.tell(viewNames[a]), c.say.tell(viewNames[b])), 1,
		touchesOf(spatial, touch{inflate: viewInflation})}, true
}

var viewNames = map[camera.Viewpoint]string{camera.ViewBehind: "behind", camera.ViewFront: "front", camera.ViewRight: "right", camera.ViewLeft: "left"}

func unlikeMethod(c *contest) (condition, bool) {
	a, b := c.ref.Capture.Method, c.cand.Capture.Method
	if a == b || a == "" || b == "" {
		return condition{}, false
	}
	return condition{c.say.warn("unlike_method", a, b), 1,
		touchesOf(spatial, touch{inflate: unlikeInflation})}, true
}

// rateRatio is the ratio of frame rates from which they count as unlike: 60
// against 120 Hz does, 50 against 60 Hz does not. Our choice.
const rateRatio = 1.5

func unlikeRate(c *contest) (condition, bool) {
	a, b := c.ref.Capture.FrameRate, c.cand.Capture.FrameRate
	if !(a > 0 && b > 0) || near1(a/b, math.Log(rateRatio)) {
		return condition{}, false
	}
	return condition{c.say.warn("unlike_frame_rate", a, b), 1,
		touchesOf(append([]string{"lag.", "head.stillness"}, timed...), touch{inflate: unlikeInflation})}, true
}

// speedMarginShare is the share by which tip speeds must differ to count as
// unlike effort. Common practice, no source.
const speedMarginShare = 0.15

// unlikeSpeed: a harder swing lags and turns more and takes less time. The size
// is the natural logarithm of the ratio of tip speeds. Slopes: no source.
func unlikeSpeed(c *contest) (condition, bool) {
	const name = "racket_speed.tip.contact"
	d, sd, ok := c.difference(name)
	ref, cand := c.values(name)
	if !ok || !(ref > 0 && cand > 0) || math.Abs(d) < 2*sd {
		return condition{}, false
	}
	size := math.Abs(math.Log(cand / ref))
	if size < math.Log(1+speedMarginShare) {
		return condition{}, false
	}
	touches := append(touchesOf([]string{"tempo.", "lag.release_rate", "chain.hips_to_racket", "lag.release_time"}, touch{slope: 1, relative: true}),
		touch{prefix: "lag.max", slope: 40}, touch{prefix: "lag.angle", slope: 40}, touch{prefix: "turn.", slope: 30},
		touch{prefix: "lag.tip_path", slope: .4, relative: true}, touch{prefix: "lag.snap_back", slope: .4, relative: true}, touch{prefix: "legs.rise", slope: .1})
	return condition{c.say.warn("unlike_swing_speed", c.say.amount(ref, "m/s"), c.say.amount(cand, "m/s")),
		size, touches}, true
}

// stanceMargin is the difference of stance that counts as another stance, deg:
// half way from square to open or closed at ±45°. Common practice, no source.
const stanceMargin = 25.0

func unlikeStance(c *contest) (condition, bool) {
	d, sd, ok := c.difference("legs.stance")
	if !ok || math.Abs(d) < stanceMargin || math.Abs(d) < 2*sd {
		return condition{}, false
	}
	return condition{c.say.warn("unlike_stance", c.say.amount(math.Abs(d), "deg")), math.Abs(d),
		[]touch{{prefix: "turn.", slope: .5}, {prefix: "hip_turn", slope: .7}, {prefix: "shoulder_turn", slope: .5}, {prefix: "separation", slope: .5},
			{prefix: "posture.lean", slope: .2}, {prefix: "legs.knee", slope: .3},
			{prefix: "contact.ahead", slope: .002}, {prefix: "spacing.", slope: .002}, {prefix: "path.out_angle", slope: .2}}}, true
}

func unlikeHand(c *contest) (condition, bool) {
	a, b := c.ref.Hand, c.cand.Hand
	if a == b || a == body.HandUnknown || b == body.HandUnknown {
		return condition{}, false
	}
	return condition{c.say.warn("unlike_hand"), 0, nil}, true
}

func unscaled(c *contest) (condition, bool) {
	if c.scale.known {
		return condition{}, false
	}
	return condition{c.say.warn("lengths_not_scaled"), 0, nil}, true
}
