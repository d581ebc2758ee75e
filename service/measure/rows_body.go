package measure

import "example.com/courtkin/service/phase"

var turnRows = []Row{
	{
		Name: "turn.shoulders.max", Title: "Largest shoulder turn", Unit: "deg", Strokes: everyStroke, Source: trunkISB,
		Definition: "Largest shoulder turn before contact: 0° faces the net, 90° the hitting side, beyond 90° shows the back to the net.",
		Group:      GroupAngle, Raised: true, Needs: NeedShoulders, NeedsTarget: true, PromisedSD: promisedAngle,
		read: func(r *Reader) float64 { return r.turnMax(r.k.ShoulderTurn) },
	},
	{
		Name: "turn.shoulders.contact", Title: "Shoulder turn at contact", Unit: "deg", Strokes: everyStroke, Source: trunkISB,
		Definition: "Shoulder turn just before impact.",
		Group:      GroupAngle, Needs: NeedShoulders, NeedsTarget: true, PromisedSD: promisedAngle,
		read: func(r *Reader) float64 { return degrees(r.k.ShoulderTurn[r.b]) },
	},
	{
		Name: "turn.shoulders.forward_range", Title: "Shoulder unwinding", Unit: "deg", Strokes: everyStroke, Source: trunkISB,
		Definition: "Shoulder turn at the start of the forward swing − at contact.",
		Group:      GroupAngle, Needs: NeedShoulders, Events: events(phase.ForwardStart), PromisedSD: promisedAngle,
		read: func(r *Reader) float64 { return r.forwardRange(r.k.ShoulderTurn) },
	},
	{
		Name: "turn.hips.max", Title: "Largest hip turn", Unit: "deg", Strokes: everyStroke, Source: trunkISB,
		Definition: "Largest hip turn before contact: 0° faces the net, 90° the hitting side.",
		Group:      GroupAngle, Raised: true, Needs: NeedHips, NeedsTarget: true, PromisedSD: promisedAngle,
		read: func(r *Reader) float64 { return r.turnMax(r.k.HipTurn) },
	},
	{
		Name: "turn.hips.contact", Title: "Hip turn at contact", Unit: "deg", Strokes: everyStroke, Source: trunkISB,
		Definition: "Hip turn just before impact.",
		Group:      GroupAngle, Needs: NeedHips, NeedsTarget: true, PromisedSD: promisedAngle,
		read: func(r *Reader) float64 { return degrees(r.k.HipTurn[r.b]) },
	},
	{
		Name: "turn.hips.forward_range", Title: "Hip unwinding", Unit: "deg", Strokes: everyStroke, Source: trunkISB,
		Definition: "Hip turn at the start of the forward swing − at contact.",
		Group:      GroupAngle, Needs: NeedHips, Events: events(phase.ForwardStart), PromisedSD: promisedAngle,
		read: func(r *Reader) float64 { return r.forwardRange(r.k.HipTurn) },
	},
	{
		Name: "turn.separation.max", Title: "Largest separation", Unit: "deg", Strokes: everyStroke, Source: trunkISB,
		Definition: "Largest shoulder turn − hip turn between the start of the turn and contact.",
		Group:      GroupAngle, Raised: true, Needs: trunkNeeds, Events: events(phase.TurnStart), PromisedSD: promisedAngle,
		read: (*Reader).separationMax,
	},
	{
		Name: "turn.separation.forward_start", Title: "Separation as the forward swing starts", Unit: "deg", Strokes: everyStroke, Source: trunkISB,
		Definition: "Shoulder turn − hip turn at the start of the forward swing.",
		Group:      GroupAngle, Needs: trunkNeeds, Events: events(phase.ForwardStart), PromisedSD: promisedAngle,
		read: func(r *Reader) float64 { return r.separationAt(r.t[phase.ForwardStart]) },
	},
	{
		Name: "turn.separation.contact", Title: "Separation at contact", Unit: "deg", Strokes: everyStroke, Source: trunkISB,
		Definition: "Shoulder turn − hip turn just before impact.",
		Group:      GroupAngle, Needs: trunkNeeds, PromisedSD: promisedAngle,
		read: func(r *Reader) float64 { return degrees(r.k.Separation(r.b)) },
	},
}

const armNeeds = NeedShoulders | NeedElbows | NeedWrists

var armRows = []Row{
	{
		Name: "elbow.hitting.forward_start", Title: "Hitting elbow as the forward swing starts", Unit: "deg", Strokes: everyStroke, Source: flexISB,
		Definition: "Flexion of the hitting arm's elbow at the start of the forward swing; 0° is straight. The hitting arm is that of the top hand on a two-handed backhand.",
		Group:      GroupAngle, Needs: armNeeds, Events: events(phase.ForwardStart), PromisedSD: promisedAngle, Views: everyView,
		read: elbow(true, phase.ForwardStart),
	},
	{
		Name: "elbow.hitting.contact", Title: "Hitting elbow at contact", Unit: "deg", Strokes: everyStroke, Source: flexISB,
		Definition: "Flexion of the hitting arm's elbow just before impact; 0° is straight.",
		Group:      GroupAngle, Needs: armNeeds, PromisedSD: promisedAngle, Views: everyView,
		read: elbow(true, phase.Contact),
	},
	{
		Name: "elbow.support.forward_start", Title: "Support elbow as the forward swing starts", Unit: "deg", Strokes: twoHanded, Source: flexISB,
		Definition: "Flexion of the other arm's elbow at the start of the forward swing; 0° is straight.",
		Group:      GroupAngle, Needs: armNeeds, Events: events(phase.ForwardStart), PromisedSD: promisedAngle, Views: everyView,
		read: elbow(false, phase.ForwardStart),
	},
	{
		Name: "elbow.support.contact", Title: "Support elbow at contact", Unit: "deg", Strokes: twoHanded, Source: flexISB,
		Definition: "Flexion of the other arm's elbow just before impact; 0° is straight.",
		Group:      GroupAngle, Needs: armNeeds, PromisedSD: promisedAngle, Views: everyView,
		read: elbow(false, phase.Contact),
	},
	{
		Name: "wrist.racket_forearm.max", Title: "Racket to forearm", Unit: "deg", Strokes: everyStroke, Source: own,
		Definition: "Largest angle between the hitting forearm (elbow → wrist) and the racket's axis, start of the forward swing to contact; 0° is one line.",
		Group:      GroupLag, Needs: NeedRacket | NeedElbows | NeedWrists, Events: events(phase.ForwardStart), PromisedSD: promisedLag,
		read: (*Reader).racketForearm,
	},
}

var contactRows = []Row{
	{
		Name: "contact.height", Title: "Contact height", Unit: "m", Strokes: everyStroke, Source: axesISB,
		Definition: "Head centre above the ground at contact.",
		Group:      GroupPlace, Needs: NeedRacket, PromisedSD: promisedPlace, Views: everyView,
		read: func(r *Reader) float64 { return r.head().Y },
	},
	{
		Name: "contact.height_waist", Title: "Contact above the waist", Unit: "m", Strokes: everyStroke, Source: axesISB,
		Definition: "Head centre − mid-hip at contact, vertical.",
		Group:      GroupPlace, Needs: NeedRacket | NeedHips, PromisedSD: promisedPlace, Views: everyView,
		read: func(r *Reader) float64 { return r.head().Y - r.hips(r.contact()).Y },
	},
	{
		Name: "contact.ahead", Title: "Contact in front", Unit: "m", Strokes: everyStroke, Source: "after Reid & Elliott 2002 (impact in front of the body); " + axesISB,
		Definition: "Head centre − mid-hip at contact, toward the net.",
		Group:      GroupPlace, Needs: NeedRacket | NeedHips, NeedsTarget: true, PromisedSD: promisedPlace, Views: sideView,
		read: func(r *Reader) float64 { return r.head().X - r.hips(r.contact()).X },
	},
	{
		Name: "spacing.hands", Title: "Hands to the side", Unit: "m", Strokes: everyStroke, Source: own,
		Definition: "Grip centre − mid-hip at contact, toward the hitting side.",
		Group:      GroupPlace, Needs: NeedGrip | NeedHips, NeedsTarget: true, PromisedSD: promisedPlace, Views: alongView,
		read: (*Reader).handsOut,
	},
	{
		Name: "spacing.clearance", Title: "Hands clear of the body", Unit: "m", Strokes: everyStroke, Source: own,
		Definition: "Hands to the side − half the hip-joint width: > 0 is hands outside the body.",
		Group:      GroupPlace, Needs: NeedGrip | NeedHips, NeedsTarget: true, PromisedSD: promisedPlace, Views: alongView,
		read: (*Reader).clearance,
	},
	{
		Name: "spacing.reach", Title: "Reach", Unit: "m", Strokes: everyStroke, Source: own,
		Definition: "Horizontal distance mid-shoulder to head centre at contact.",
		Group:      GroupPlace, Needs: NeedRacket | NeedShoulders, PromisedSD: promisedPlace,
		read: (*Reader).reach,
	},
}

var postureRows = []Row{
	{
		Name: "posture.shoulder_tilt", Title: "Shoulder tilt", Unit: "deg", Strokes: everyStroke, Source: own,
		Definition: "Elevation of the line from the other shoulder to the hitting-side shoulder at contact: > 0 is the hitting side higher.",
		Group:      GroupAngle, Needs: NeedShoulders, PromisedSD: promisedAngle, Views: alongView,
		read: (*Reader).shoulderTilt,
	},
	{
		Name: "posture.lean_side", Title: "Lean to the side", Unit: "deg", Strokes: everyStroke, Source: "projected angle of mid-hip → mid-shoulder; " + axesISB,
		Definition: "atan2(component toward the hitting side, vertical component) of mid-hip → mid-shoulder at contact.",
		Group:      GroupAngle, Needs: trunkNeeds, NeedsTarget: true, PromisedSD: promisedAngle, Views: alongView,
		read: (*Reader).leanSide,
	},
	{
		Name: "posture.lean_forward", Title: "Lean forward", Unit: "deg", Strokes: everyStroke, Source: "projected angle of mid-hip → mid-shoulder; " + axesISB,
		Definition: "atan2(component toward the net, vertical component) of mid-hip → mid-shoulder at contact.",
		Group:      GroupAngle, Needs: trunkNeeds, NeedsTarget: true, PromisedSD: promisedAngle, Views: sideView,
		read: (*Reader).leanForward,
	},
	{
		Name: "head.stillness", Title: "Head movement through contact", Unit: "m", Strokes: everyStroke, Source: own,
		Definition: "RMS displacement of the head centre (mean of the ear points) about its mean, relative to mid-shoulder, contact ± 60 ms.",
		Group:      GroupStill, Raised: true, Needs: NeedEars | NeedShoulders, PromisedSD: promisedStill,
		Undefined: "the frames end within 60 ms of contact",
		read:      (*Reader).stillness,
	},
	{
		Name: "head.over_shoulder", Title: "Chin over the shoulder", Unit: "deg", Strokes: everyStroke, Source: own,
		Definition: "Shoulder turn − horizontal facing of the head (mid-ear → nose) at the completed turn: near 90° is chin over the front shoulder, eyes to the ball.",
		Group:      GroupAngle, Needs: NeedShoulders | NeedEars | NeedNose, Events: events(phase.TurnComplete), PromisedSD: promisedAngle,
		read: (*Reader).overShoulder,
	},
}

const kneeNeeds = NeedHips | NeedKnees | NeedAnkles

var legRows = []Row{
	{
		Name: "legs.base_width", Title: "Base width", Unit: "1", Strokes: everyStroke, Source: own,
		Definition: "Ankle-to-ankle distance ÷ stature at the landing of the split step; without one, at the start of the turn.",
		Group:      GroupShare, Needs: NeedAnkles | NeedStature, Events: events(phase.TurnStart),
		PromisedSD: promisedBase, Views: alongView,
		read: (*Reader).baseWidth,
	},
	{
		Name: "legs.knee_back.max", Title: "Back-knee bend", Unit: "deg", Strokes: everyStroke, Source: flexISB,
		Definition: "Largest flexion of the back knee between the start of the turn and contact; 0° is straight.",
		Group:      GroupAngle, Needs: kneeNeeds, Events: events(phase.TurnStart), NeedsTarget: true, PromisedSD: promisedAngle, Views: everyView,
		read: kneeMax(true),
	},
	{
		Name: "legs.knee_front.max", Title: "Front-knee bend", Unit: "deg", Strokes: everyStroke, Source: flexISB,
		Definition: "Largest flexion of the front knee between the start of the turn and contact; 0° is straight.",
		Group:      GroupAngle, Needs: kneeNeeds, Events: events(phase.TurnStart), NeedsTarget: true, PromisedSD: promisedAngle, Views: everyView,
		read: kneeMax(false),
	},
	{
		Name: "legs.rise", Title: "Rise of the hips", Unit: "m", Strokes: everyStroke, Source: own,
		Definition: "Mid-hip height at contact − lowest mid-hip height between the completed turn and contact.",
		Group:      GroupPlace, Needs: NeedHips, Events: events(phase.TurnComplete), PromisedSD: promisedPlace, Views: everyView,
		read: (*Reader).rise,
	},
	{
		Name: "legs.stance", Title: "Stance", Unit: "deg", Strokes: everyStroke, Source: "common practice (square, open, closed), sign ours",
		Definition: "Horizontal direction of back ankle → front ankle at contact, from X, positive toward the hitting side: about 0 square, > 0 closed, < 0 open.",
		Group:      GroupAngle, Needs: NeedAnkles, NeedsTarget: true, PromisedSD: promisedAngle,
		read: (*Reader).stance,
	},
}
