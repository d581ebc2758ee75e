package compare

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/phase"
)

// trait is what a comparison knows of one measure.
type trait struct {
	name string
	kind phase.Kind // where in the swing it belongs
	// margin is the smallest difference that a coach would act on, in the
	// measure's unit; relative is the same as a share of the reference. The
	// larger of the two counts. Common practice, no source.
	margin, relative float64
	// matters is the importance for groundstrokes, slices, serves with
	// overheads, and volleys, each in [0, 1]. Common practice, no source: causes
	// (turn, spacing, lag) stand above their effects (arm bend, speeds, path
	// lengths), and figures that hang on the instant of MAX_LAG, which wanders
	// along a flat top of the lag, stand low.
	matters [4]float64
	noun    string // "racket lag"
	more    string // a sentence with the amount in it, for candidate > reference
	less    string // for candidate < reference
}

// Margins by kind of quantity; see trait.margin.
const (
	angleMargin   = 10.0  // deg
	lagMargin     = 15.0  // deg: lag swings widely from ball to ball
	lengthMargin  = 0.08  // m, about a hand's breadth
	spacingMargin = 0.05  // m: hands jammed or free is a matter of a few fingers
	pathMargin    = 0.20  // m of tip path
	timeMargin    = 0.040 // s
	speedMargin   = 1.0   // m/s, for slow strokes
	speedShare    = 0.10  // of the reference speed
)

// traits holds every measure of the catalog, in its order.
var traits = []trait{
	{"tempo.split_to_turn", phase.Ready, 0.06, 0, [4]float64{.6, .6, .1, .7}, "time from split step to turn",
		"The turn starts %s later after the split step", "The turn starts %s sooner after the split step"},
	{"tempo.preparation", phase.TakeBack, 0.10, .15, [4]float64{.6, .6, .5, .6}, "preparation time",
		"The preparation takes %s longer", "The preparation is %s shorter"},
	{"tempo.forward_swing", phase.ForwardSwing, timeMargin, .15, [4]float64{.6, .5, .5, .4}, "forward swing time",
		"The forward swing takes %s longer", "The forward swing is %s shorter"},
	{"tempo.follow_through", phase.FollowThrough, 0.10, .2, [4]float64{.35, .35, .3, .3}, "follow-through time",
		"The follow-through lasts %s longer", "The follow-through ends %s sooner"},
	{"racket_speed.tip.contact", phase.ForwardSwing, speedMargin, speedShare, [4]float64{.7, .5, .8, .4}, "tip speed at contact",
		"The tip meets the ball %s faster", "The tip meets the ball %s slower"},
	{"racket_speed.tip.peak", phase.ForwardSwing, speedMargin, speedShare, [4]float64{.55, .4, .65, .3}, "peak tip speed",
		"The tip peaks %s faster", "The tip peaks %s slower"},
	{"racket_speed.head.contact", phase.ForwardSwing, speedMargin, speedShare, [4]float64{.6, .5, .7, .4}, "racket head speed at contact",
		"The racket head meets the ball %s faster", "The racket head meets the ball %s slower"},
	{"racket_speed.hand.contact", phase.ForwardSwing, 0.8, speedShare, [4]float64{.5, .4, .5, .4}, "hand speed at contact",
		"The hands pass contact %s faster", "The hands pass contact %s slower"},
	{"racket_speed.tip.mean_forward", phase.ForwardSwing, speedMargin, speedShare, [4]float64{.5, .35, .5, .3}, "mean tip speed in the forward swing",
		"The tip travels %s faster on average on its way to the ball", "The tip travels %s slower on average on its way to the ball"},
	{"lag.max", phase.ForwardSwing, lagMargin, 0, [4]float64{1, .5, .8, .4}, "racket lag",
		"The racket lags %s further behind the hand", "The racket lags %s less behind the hand"},
	{"lag.contact", phase.ForwardSwing, angleMargin, 0, [4]float64{.75, .5, .6, .5}, "lag left at contact",
		"The tip is %s further behind the hand at contact", "The tip is %s further ahead at contact"},
	{"lag.release_rate", phase.ForwardSwing, 300, .2, [4]float64{.6, .3, .6, .2}, "rate of the release",
		"The racket releases %s faster", "The racket releases %s slower"},
	{"lag.release_time", phase.ForwardSwing, timeMargin, 0, [4]float64{.4, .2, .4, .15}, "time from greatest lag to contact",
		"The release starts %s earlier before contact", "The release starts %s later, closer to contact"},
	{"lag.snap_back", phase.Drop, 0.30, 0, [4]float64{.3, .1, .3, .1}, "tip path from drop to greatest lag",
		"The tip travels %s more between drop and greatest lag", "The tip travels %s less between drop and greatest lag"},
	{"lag.tip_wrap", phase.Drop, 0.12, 0, [4]float64{.8, .4, .4, .4}, "tip wrap behind the body",
		"The tip wraps %s further behind the body", "The tip stays %s more on the hitting side"},
	{"lag.tip_path", phase.ForwardSwing, pathMargin, .1, [4]float64{.65, .4, .5, .4}, "tip path to contact",
		"The tip comes to the ball over a path %s longer", "The tip comes to the ball over a path %s shorter"},
	{"path.rise_angle", phase.ForwardSwing, 8, 0, [4]float64{.8, .8, .6, .6}, "upward path into the ball",
		"The racket rises %s more steeply into the ball", "The racket comes through the ball %s flatter"},
	{"path.out_angle", phase.ForwardSwing, 8, 0, [4]float64{.75, .6, .6, .5}, "inside-to-outside path",
		"The racket goes %s more from inside to outside", "The racket goes %s less from inside to outside"},
	{"path.tip_drop", phase.Drop, 0.12, 0, [4]float64{.75, .3, .6, .2}, "drop of the tip below the ball",
		"The tip drops %s lower below the ball", "The tip drops %s less below the ball"},
	{"path.hand_drop", phase.ForwardSwing, lengthMargin, 0, [4]float64{.7, .3, .2, .3}, "drop of the hands below the ball",
		"The hands drop %s lower below the ball", "The hands drop %s less below the ball"},
	{"take_back.tip_above_hands", phase.TakeBack, 0.12, 0, [4]float64{.6, .6, .3, .5}, "tip height over the hands in the take-back",
		"The tip stands %s higher above the hands in the take-back", "The tip stands %s lower against the hands in the take-back"},
	{"take_back.hands_height", phase.TakeBack, lengthMargin, 0, [4]float64{.85, .8, .4, .6}, "hand height in the take-back",
		"The hands are taken back %s higher", "The hands are taken back %s lower"},
	{"take_back.tip_side", phase.TakeBack, 0.12, 0, [4]float64{.5, .4, .2, .4}, "side position of the tip in the take-back",
		"The tip points %s more to the hitting side in the take-back", "The tip points %s less to the hitting side in the take-back"},
	{"turn.shoulders.max", phase.TakeBack, angleMargin, 0, [4]float64{.95, .9, .8, .7}, "largest shoulder turn",
		"The shoulders turn %s further away from the net", "The shoulders turn %s less"},
	{"turn.shoulders.contact", phase.ForwardSwing, angleMargin, 0, [4]float64{.7, .75, .6, .6}, "shoulder turn at contact",
		"The shoulders are %s more side-on at contact", "The shoulders are %s more open at contact"},
	{"turn.shoulders.forward_range", phase.ForwardSwing, angleMargin, 0, [4]float64{.65, .4, .6, .3}, "shoulder rotation of the forward swing",
		"The shoulders unwind %s more into the ball", "The shoulders unwind %s less into the ball"},
	{"turn.hips.max", phase.TakeBack, angleMargin, 0, [4]float64{.75, .6, .6, .5}, "largest hip turn",
		"The hips turn %s further away from the net", "The hips turn %s less"},
	{"turn.hips.contact", phase.ForwardSwing, angleMargin, 0, [4]float64{.6, .5, .5, .4}, "hip turn at contact",
		"The hips are %s more side-on at contact", "The hips are %s more open at contact"},
	{"turn.hips.forward_range", phase.ForwardSwing, angleMargin, 0, [4]float64{.6, .3, .5, .3}, "hip rotation of the forward swing",
		"The hips unwind %s more into the ball", "The hips unwind %s less into the ball"},
	{"turn.separation.max", phase.Drop, angleMargin, 0, [4]float64{.7, .3, .7, .2}, "largest separation of shoulders and hips",
		"The shoulders wind %s further against the hips", "The shoulders wind %s less against the hips"},
	{"turn.separation.forward_start", phase.ForwardSwing, angleMargin, 0, [4]float64{.6, .3, .6, .2}, "separation at the start of the forward swing",
		"The separation at the start of the forward swing is %s larger", "The separation at the start of the forward swing is %s smaller"},
	{"turn.separation.contact", phase.ForwardSwing, angleMargin, 0, [4]float64{.45, .3, .5, .2}, "separation at contact",
		"The shoulders trail the hips by %s more at contact", "The shoulders trail the hips by %s less at contact"},
	{"elbow.hitting.forward_start", phase.ForwardSwing, 12, 0, [4]float64{.6, .5, .6, .5}, "bend of the hitting arm as the swing starts",
		"The hitting arm is %s more bent as the forward swing starts", "The hitting arm is %s straighter as the forward swing starts"},
	{"elbow.hitting.contact", phase.ForwardSwing, 12, 0, [4]float64{.85, .75, .8, .65}, "bend of the hitting arm at contact",
		"The hitting arm is %s more bent at contact", "The hitting arm is %s straighter at contact"},
	{"elbow.support.forward_start", phase.ForwardSwing, 12, 0, [4]float64{.5, .2, .2, .2}, "bend of the other arm as the swing starts",
		"The other arm is %s more bent as the forward swing starts", "The other arm is %s straighter as the forward swing starts"},
	{"elbow.support.contact", phase.ForwardSwing, 12, 0, [4]float64{.7, .2, .2, .2}, "bend of the other arm at contact",
		"The other arm is %s more bent at contact", "The other arm is %s straighter at contact"},
	{"wrist.racket_forearm.max", phase.ForwardSwing, lagMargin, 0, [4]float64{.6, .4, .6, .5}, "angle of racket and forearm",
		"The racket is cocked %s more against the forearm", "The racket is cocked %s less against the forearm"},
	{"contact.height", phase.ForwardSwing, 0.10, 0, [4]float64{.85, .8, .8, .7}, "height of contact",
		"The ball is met %s higher", "The ball is met %s lower"},
	{"contact.height_waist", phase.ForwardSwing, 0.10, 0, [4]float64{.7, .7, .6, .6}, "height of contact over the waist",
		"The ball is met %s higher against the waist", "The ball is met %s lower against the waist"},
	{"contact.ahead", phase.ForwardSwing, lengthMargin, 0, [4]float64{.9, .9, .8, .9}, "contact in front of the body",
		"The ball is met %s further in front", "The ball is met %s further back"},
	{"spacing.hands", phase.ForwardSwing, spacingMargin, 0, [4]float64{.95, .85, .3, .85}, "space between hands and body",
		"The hands pass %s further from the body", "The hands pass %s closer to the body"},
	{"spacing.clearance", phase.ForwardSwing, spacingMargin, 0, [4]float64{.85, .7, .25, .7}, "hands outside the hip",
		"The hands are %s further outside the hip", "The hands are %s closer to the hip"},
	{"spacing.reach", phase.ForwardSwing, lengthMargin, 0, [4]float64{.75, .7, .4, .7}, "reach to the ball",
		"The ball is met %s further from the shoulders", "The ball is met %s closer to the shoulders"},
	{"posture.shoulder_tilt", phase.ForwardSwing, angleMargin, 0, [4]float64{.75, .6, .8, .5}, "height of the hitting shoulder",
		"The hitting shoulder is tilted %s higher at contact", "The hitting shoulder is tilted %s lower at contact"},
	{"posture.lean_side", phase.ForwardSwing, 8, 0, [4]float64{.6, .5, .6, .5}, "sideways lean",
		"The body leans %s more to the ball side", "The body leans %s more away from the ball"},
	{"posture.lean_forward", phase.ForwardSwing, 8, 0, [4]float64{.6, .6, .6, .7}, "forward lean",
		"The body leans %s more toward the net", "The body leans %s further back"},
	{"head.stillness", phase.ForwardSwing, 0.010, 0, [4]float64{.6, .65, .5, .65}, "movement of the head through contact",
		"The head moves %s more through contact", "The head is %s stiller through contact"},
	{"head.over_shoulder", phase.TakeBack, 15, 0, [4]float64{.45, .45, .2, .3}, "chin over the front shoulder",
		"The chin is %s further over the front shoulder after the turn", "The chin is %s less over the front shoulder after the turn"},
	{"legs.base_width", phase.Ready, 0.06, 0, [4]float64{.6, .6, .2, .7}, "width of the base",
		"The feet are wider apart by %s of stature", "The feet are closer by %s of stature"},
	{"legs.knee_back.max", phase.TakeBack, 12, 0, [4]float64{.65, .6, .75, .6}, "bend of the back knee",
		"The back knee bends %s more", "The back knee bends %s less"},
	{"legs.knee_front.max", phase.TakeBack, 12, 0, [4]float64{.65, .65, .8, .65}, "bend of the front knee",
		"The front knee bends %s more", "The front knee bends %s less"},
	{"legs.rise", phase.ForwardSwing, 0.06, 0, [4]float64{.65, .4, .8, .3}, "rise of the legs into the ball",
		"The legs drive %s further up into the ball", "The legs drive %s less up into the ball"},
	{"legs.stance", phase.ForwardSwing, 20, 0, [4]float64{.6, .6, .5, .5}, "stance",
		"The stance is %s more closed", "The stance is %s more open"},
	{"chain.hips_to_racket", phase.ForwardSwing, timeMargin, 0, [4]float64{.6, .2, .6, .1}, "time from hips to racket",
		"The racket peaks %s later after the hips", "The racket peaks %s sooner after the hips"},
	{"chain.in_order", phase.ForwardSwing, 0.34, 0, [4]float64{.55, .2, .6, .1}, "order of the chain",
		"The chain runs in order more by %s", "The chain runs in order less by %s"},
	{"ball.speed_in", phase.ForwardSwing, 2, .15, [4]float64{.35, .35, 0, .4}, "speed of the incoming ball",
		"The ball comes in %s faster", "The ball comes in %s slower"},
	{"ball.speed_out", phase.FollowThrough, 2, .1, [4]float64{.55, .5, .7, .5}, "speed of the ball hit",
		"The ball leaves %s faster", "The ball leaves %s slower"},
	{"serve.toss_height", phase.Toss, 0.20, 0, [4]float64{0, 0, .7, 0}, "height of the toss",
		"The toss goes %s higher", "The toss stays %s lower"},
}

// otherMatters is the importance of a measure that the table does not hold.
const otherMatters = 0.3

var traitOf = func() map[string]trait {
	m := make(map[string]trait, len(traits))
	for _, t := range traits {
		m[t.name] = t
	}
	return m
}()

// marginByUnit serves measures outside the table.
var marginByUnit = map[string]float64{"deg": angleMargin, "m": lengthMargin, "s": timeMargin, "m/s": speedMargin, "deg/s": 300, "1": 0.1}

// lookup returns the trait of a measure; one that the table does not hold is
// named by its own name and judged by its unit.
func lookup(name, unit string) trait {
	if t, ok := traitOf[name]; ok {
		return t
	}
	t := trait{name: name, kind: phase.PhaseUnknown, margin: marginByUnit[unit], relative: 0.1, noun: name,
		more: name + " is %s more", less: name + " is %s less"}
	for i := range t.matters {
		t.matters[i] = otherMatters
	}
	return t
}

// Margin returns the smallest difference of a measure that a coach would act
// on, in its unit, at the given level of the figure.
func Margin(name, unit string, level float64) float64 {
	t := lookup(name, unit)
	return math.Max(t.margin, t.relative*math.Abs(level))
}

// Matters returns how much a measure matters for a stroke, in [0, 1].
func Matters(name string, s body.Stroke) float64 {
	t := lookup(name, "")
	switch {
	case s == body.SliceBackhand:
		return t.matters[1]
	case s.OverheadMotion():
		return t.matters[2]
	case s.Volley():
		return t.matters[3]
	}
	return t.matters[0]
}
