package measure

import (
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/phase"
)

// Sources. No published operational definition was found for lag, release, drop,
// turn and recovery (literature, gap 3): those are the service's own and say so.
const (
	own         = "own definition; no published operational definition was found"
	practice    = "common practice"
	axesISB     = "axes: Wu & Cavanagh 1995, ISB recommendation"
	trunkISB    = "own definition, projected on the ground; axes: Wu & Cavanagh 1995; as the shoulder and hip alignment of Reid & Elliott 2002"
	flexISB     = "flexion in the sense of Wu et al. 2002 and 2005, ISB recommendations, taken in space"
	chainSource = "own definition; sequence of peaks after Landlinger et al. 2010"
)

var (
	everyStroke = []body.Stroke{
		body.Forehand, body.TwoHandedBackhand, body.OneHandedBackhand, body.SliceBackhand,
		body.Serve, body.ForehandVolley, body.BackhandVolley, body.Overhead,
	}
	notServe = []body.Stroke{
		body.Forehand, body.TwoHandedBackhand, body.OneHandedBackhand, body.SliceBackhand,
		body.ForehandVolley, body.BackhandVolley, body.Overhead,
	}
	twoHanded = []body.Stroke{body.TwoHandedBackhand}
	serveOnly = []body.Stroke{body.Serve}
)

// Viewpoints whose image plane holds what a measure needs: along X one sees
// heights and sides, across it heights and what is ahead; times, heights and
// limbs' flexions show from everywhere. What turns about the vertical shows to
// no single view but through the estimator's depth, hence nowhere enough.
var (
	everyView = []camera.Viewpoint{camera.ViewBehind, camera.ViewFront, camera.ViewRight, camera.ViewLeft}
	alongView = []camera.Viewpoint{camera.ViewBehind, camera.ViewFront}
	sideView  = []camera.Viewpoint{camera.ViewRight, camera.ViewLeft}
)

const trunkNeeds = NeedShoulders | NeedHips

func events(kinds ...phase.EventKind) []phase.EventKind { return kinds }

var tempoRows = []Row{
	{
		Name: "tempo.split_to_turn", Title: "Split step to turn", Unit: "s", Strokes: notServe, Source: own,
		Definition: "Start of the turn − landing of the split step.",
		Group:      GroupTime, Events: events(phase.SplitLanding, phase.TurnStart),
		PromisedSD: promisedLanding + promisedTurning, Views: everyView,
		read: after(phase.TurnStart, phase.SplitLanding),
	},
	{
		Name: "tempo.preparation", Title: "Preparation time", Unit: "s", Strokes: everyStroke, Source: own,
		Definition: "Start of the forward swing − start of the turn.",
		Group:      GroupTime, Events: events(phase.TurnStart, phase.ForwardStart),
		PromisedSD: promisedTurning + promisedSwing, Views: everyView,
		read: after(phase.ForwardStart, phase.TurnStart),
	},
	{
		Name: "tempo.forward_swing", Title: "Forward-swing time", Unit: "s", Strokes: everyStroke, Source: own,
		Definition: "Contact − start of the forward swing.",
		Group:      GroupTime, Events: events(phase.ForwardStart, phase.Contact),
		PromisedSD: promisedSwing + promisedContact, Views: everyView,
		read: after(phase.Contact, phase.ForwardStart),
	},
	{
		Name: "tempo.follow_through", Title: "Follow-through time", Unit: "s", Strokes: everyStroke, Source: own,
		Definition: "End of the follow-through − contact.",
		Group:      GroupTime, Needs: NeedRacket, Events: events(phase.Contact, phase.FollowEnd),
		PromisedSD: promisedLanding + promisedContact, Views: everyView,
		read: after(phase.FollowEnd, phase.Contact),
	},
}

var speedRows = []Row{
	{
		Name: "racket_speed.tip.contact", Title: "Tip speed at contact", Unit: "m/s", Strokes: everyStroke, Source: practice,
		Definition: "Speed of the racket's tip just before impact. Without racket points: from the speed of the hand, rough.",
		Group:      GroupSpeed, Needs: NeedGrip, FromHands: true,
		PromisedSD: promisedSpeed * fastTip, PromisedShare: promisedSpeed, Views: sideView,
		read: (*Reader).tipSpeed,
	},
	{
		Name: "racket_speed.tip.peak", Title: "Largest tip speed", Unit: "m/s", Strokes: everyStroke, Source: practice,
		Definition: "Largest speed of the racket's tip up to contact.",
		Group:      GroupSpeed, Needs: NeedRacket,
		PromisedSD: promisedSpeed * fastTip, PromisedShare: promisedSpeed, Views: sideView,
		read: (*Reader).tipPeak,
	},
	{
		Name: "racket_speed.head.contact", Title: "Racket-head speed at contact", Unit: "m/s", Strokes: everyStroke, Source: practice,
		Definition: "Speed of the head centre (midpoint of tip and throat) just before impact.",
		Group:      GroupSpeed, Needs: NeedRacket,
		PromisedSD: promisedSpeed * fastHead, PromisedShare: promisedSpeed, Views: sideView,
		read: func(r *Reader) float64 { return r.c.CenterVel[r.b].Norm() },
	},
	{
		Name: "racket_speed.hand.contact", Title: "Hand speed at contact", Unit: "m/s", Strokes: everyStroke, Source: practice,
		Definition: "Speed of the grip centre just before impact.",
		Group:      GroupSpeed, Needs: NeedGrip,
		PromisedSD: promisedSpeed * fastHand, PromisedShare: promisedSpeed, Views: sideView,
		read: func(r *Reader) float64 { return r.k.GripSpeed[r.b] },
	},
	{
		Name: "racket_speed.tip.mean_forward", Title: "Mean tip speed, forward swing", Unit: "m/s", Strokes: everyStroke, Source: own,
		Definition: "Path length of the tip ÷ time, start of the forward swing to contact.",
		Group:      GroupSpeed, Needs: NeedRacket, Events: events(phase.ForwardStart),
		PromisedSD: promisedSpeed * fastTip, PromisedShare: promisedSpeed,
		read: (*Reader).meanForward,
	},
}

var lagRows = []Row{
	{
		Name: "lag.max", Title: "Largest lag", Unit: "deg", Strokes: everyStroke, Source: own,
		Definition: "Largest lag angle: angle between the racket's axis and the grip centre's velocity − 90°. +90° is a tip straight behind the hand, 0° a racket square to the hand's path.",
		Group:      GroupLag, Needs: NeedRacket, Events: events(phase.MaxLag), PromisedSD: promisedLag,
		read: func(r *Reader) float64 { return degrees(r.k.LagBetween(r.t[phase.MaxLag])) },
	},
	{
		Name: "lag.contact", Title: "Lag at contact", Unit: "deg", Strokes: everyStroke, Source: own,
		Definition: "Lag angle just before impact; negative is a tip ahead of the hand.",
		Group:      GroupLag, Needs: NeedRacket, PromisedSD: promisedLag,
		Undefined: "the hand moves at 1 m/s or slower at contact",
		read:      func(r *Reader) float64 { return degrees(r.k.LagAt(r.b)) },
	},
	{
		Name: "lag.release_rate", Title: "Rate of release", Unit: "deg/s", Strokes: everyStroke, Source: own,
		Definition: "Largest rate at which the lag angle falls between largest lag and contact.",
		Group:      GroupLag, Raised: true, Needs: NeedRacket, Events: events(phase.MaxLag),
		PromisedSD: promisedRate * fastRate, PromisedShare: promisedRate,
		Undefined: "the largest lag comes too close to contact",
		read:      (*Reader).releaseRate,
	},
	{
		Name: "lag.release_time", Title: "Time of release", Unit: "s", Strokes: everyStroke, Source: own,
		Definition: "Contact − largest lag.",
		Group:      GroupTime, Needs: NeedRacket, Events: events(phase.MaxLag),
		PromisedSD: promisedSwing + promisedContact, Views: everyView,
		read: after(phase.Contact, phase.MaxLag),
	},
	{
		Name: "lag.snap_back", Title: "Snap-back path", Unit: "m", Strokes: everyStroke, Source: own,
		Definition: "Path length of the tip from the start of the racket drop (without one: the completed turn) to largest lag.",
		Group:      GroupLength, Needs: NeedRacket, Events: events(phase.DropStart, phase.MaxLag),
		PromisedSD: promisedSpeed * longPath, PromisedShare: promisedSpeed,
		Undefined: "the largest lag comes before the racket's drop",
		read:      func(r *Reader) float64 { return r.tipPath(r.t.DropOrTurn(), r.t[phase.MaxLag]) },
	},
	{
		Name: "lag.tip_wrap", Title: "Tip behind the back", Unit: "m", Strokes: everyStroke, Source: own,
		Definition: "Largest distance of the tip past mid-hip, away from the hitting side, between the start of the racket drop and contact while the tip is behind mid-hip. Negative when it stays on the hitting side.",
		Group:      GroupPlace, Needs: NeedRacket | NeedHips, Events: events(phase.DropStart), NeedsTarget: true,
		PromisedSD: promisedPlace, Views: alongView,
		Undefined: "the tip is never behind mid-hip",
		read:      (*Reader).tipWrap,
	},
	{
		Name: "lag.tip_path", Title: "Forward tip path", Unit: "m", Strokes: everyStroke, Source: own,
		Definition: "Path length of the tip, start of the forward swing to contact.",
		Group:      GroupLength, Needs: NeedRacket, Events: events(phase.ForwardStart),
		PromisedSD: promisedSpeed * longPath, PromisedShare: promisedSpeed,
		read: func(r *Reader) float64 { return r.tipPath(r.t[phase.ForwardStart], r.contact()) },
	},
}

var pathRows = []Row{
	{
		Name: "path.rise_angle", Title: "Low-to-high angle", Unit: "deg", Strokes: everyStroke,
		Source:     "own definition over 40 ms; the racket-path angle of the collegiate forehand studies in form",
		Definition: "Elevation of the head centre's displacement over the last 40 ms before contact.",
		Group:      GroupPath, Needs: NeedRacket, PromisedSD: promisedAngle, Views: sideView,
		read: func(r *Reader) float64 { return elevation(r.k.Strike()) },
	},
	{
		Name: "path.out_angle", Title: "Inside-to-outside angle", Unit: "deg", Strokes: everyStroke, Source: own,
		Definition: "Horizontal direction of the head centre's displacement over the last 40 ms before contact, from X, positive toward the hitting side: inside to outside.",
		Group:      GroupPath, Needs: NeedRacket, NeedsTarget: true, PromisedSD: promisedAngle,
		read: func(r *Reader) float64 { return r.heading(r.k.Strike()) },
	},
	{
		Name: "path.tip_drop", Title: "Tip drop", Unit: "m", Strokes: everyStroke, Source: own,
		Definition: "Head-centre height at contact − tip height at the racket's lowest point.",
		Group:      GroupPlace, Needs: NeedRacket, Events: events(phase.RacketLow), PromisedSD: promisedPlace, Views: everyView,
		read: func(r *Reader) float64 { return r.head().Y - r.tip(r.t[phase.RacketLow]).Y },
	},
	{
		Name: "path.hand_drop", Title: "Hand drop", Unit: "m", Strokes: everyStroke, Source: own,
		Definition: "Head-centre height at contact − lowest grip-centre height, start of the forward swing to contact.",
		Group:      GroupPlace, Needs: NeedRacket, Events: events(phase.ForwardStart), PromisedSD: promisedPlace, Views: everyView,
		read: func(r *Reader) float64 { return r.head().Y - r.handLow() },
	},
}

var takeBackRows = []Row{
	{
		Name: "take_back.tip_above_hands", Title: "Tip above the hands", Unit: "m", Strokes: everyStroke, Source: own,
		Definition: "Tip height − grip-centre height at the start of the racket drop (without one: at the completed turn).",
		Group:      GroupPlace, Needs: NeedRacket, Events: events(phase.DropStart), PromisedSD: promisedPlace, Views: everyView,
		read: func(r *Reader) float64 {
			t := r.t.DropOrTurn()
			return r.tip(t).Y - r.k.GripAt(t).Y
		},
	},
	{
		Name: "take_back.hands_height", Title: "Height of the hands", Unit: "m", Strokes: everyStroke, Source: own,
		Definition: "Grip-centre height − mid-hip height at the completed turn.",
		Group:      GroupPlace, Needs: NeedGrip | NeedHips, Events: events(phase.TurnComplete), PromisedSD: promisedPlace, Views: everyView,
		read: func(r *Reader) float64 {
			t := r.t[phase.TurnComplete]
			return r.k.GripAt(t).Y - r.hips(t).Y
		},
	},
	{
		Name: "take_back.tip_side", Title: "Tip to the side", Unit: "m", Strokes: everyStroke, Source: own,
		Definition: "(Tip − grip centre) toward the hitting side at the completed turn.",
		Group:      GroupPlace, Needs: NeedRacket, Events: events(phase.TurnComplete), NeedsTarget: true,
		PromisedSD: promisedPlace, Views: alongView,
		read: func(r *Reader) float64 {
			t := r.t[phase.TurnComplete]
			return r.toward(r.tip(t).Sub(r.k.GripAt(t)))
		},
	},
}

var chainRows = []Row{
	{
		Name: "chain.hips_to_racket", Title: "Hips to racket", Unit: "s", Strokes: everyStroke, Source: chainSource,
		Definition: "Time of peak racket angular speed − time of peak hip unwinding rate, both from the completed turn (serve and overhead: the trophy) to contact.",
		Group:      GroupTime, Needs: NeedRacket | NeedHips, Chain: true,
		PromisedSD: 2 * promisedSwing,
		read:       (*Reader).hipsToRacket,
	},
	{
		Name: "chain.in_order", Title: "Sequence", Unit: "1", Strokes: everyStroke, Source: chainSource,
		Definition: "Share of the neighbouring pairs hips → shoulders (unwinding rates) → hand → tip (speeds) whose peaks come in that order; peaks within 5 ms of one another count as in order.",
		Group:      GroupOrder, Needs: NeedRacket | NeedHips | NeedShoulders, Chain: true,
		PromisedSD: promisedShare,
		read:       (*Reader).inOrder,
	},
}

var ballRows = []Row{
	{
		Name: "ball.speed_in", Title: "Ball speed in", Unit: "m/s", Strokes: everyStroke, Source: practice,
		Definition: "Ball speed just before impact.",
		Group:      GroupBall, Needs: NeedBall, PromisedSD: promisedSpeed * fastBall, PromisedShare: promisedSpeed, Views: sideView,
		Undefined: "no_ball: the ball was not seen long enough before impact",
		read:      func(r *Reader) float64 { return positive(r.c.Ball.SpeedIn) },
	},
	{
		Name: "ball.speed_out", Title: "Ball speed out", Unit: "m/s", Strokes: everyStroke, Source: practice,
		Definition: "Ball speed just after impact.",
		Group:      GroupBall, Needs: NeedBall, PromisedSD: promisedSpeed * fastBall, PromisedShare: promisedSpeed, Views: sideView,
		Undefined: "no_ball: the ball was not seen long enough after impact",
		read:      func(r *Reader) float64 { return positive(r.c.Ball.SpeedOut) },
	},
	{
		Name: "serve.toss_height", Title: "Toss height", Unit: "m", Strokes: serveOnly, Source: practice,
		Definition: "Highest ball centre above the ground before contact.",
		Group:      GroupPlace, Needs: NeedBall, PromisedSD: promisedPlace, Views: everyView,
		Undefined: "no_ball: the top of the toss was not seen",
		read:      func(r *Reader) float64 { return positive(r.c.Ball.Apex) },
	},
}
