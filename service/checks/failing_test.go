package checks

// failing lists rows that do not hold now, with the reason. A row that holds again
// must be taken off: the test asks for it. Nothing is loosened instead.
var failing = map[string]string{
	"G14 pelvis elite":            "the trace over-reads the rate of a turn that slackens at contact by 10 to 20 %: the course is smoothed up to contact and not across it; no figure of the service reports such a rate",
	"G14 pelvis high":             "the trace over-reads the rate of a turn that slackens at contact by 10 to 20 %: the course is smoothed up to contact and not across it; no figure of the service reports such a rate",
	"G14 trunk elite":             "the trace over-reads the rate of a turn that slackens at contact by 10 to 20 %: the course is smoothed up to contact and not across it; no figure of the service reports such a rate",
	"G14 trunk high":              "the trace over-reads the rate of a turn that slackens at contact by 10 to 20 %: the course is smoothed up to contact and not across it; no figure of the service reports such a rate",
	"again I contact":             "without racket and ball, contact is placed by the body alone and the machine is surer of it than it may be",
	"again I elbow":               "depth from one view without a racket is weak",
	"again I false":               "short clips without a racket: a swing is missed, or placed more than 0.2 s away, which counts as both",
	"again I lies":                "without racket and ball, contact is placed by the body alone and the machine is surer of it than it may be",
	"again P contact":             "without racket and ball, contact is placed by the body alone and the machine is surer of it than it may be",
	"again P false":               "short clips without a racket: a swing is missed, or placed more than 0.2 s away, which counts as both",
	"again P found":               "short clips without a racket: a swing is missed, or placed more than 0.2 s away, which counts as both",
	"again T false":               "short clips without a racket: a swing is missed, or placed more than 0.2 s away, which counts as both",
	"again T found":               "short clips without a racket: a swing is missed, or placed more than 0.2 s away, which counts as both",
	"again T stroke":              "one clip of 26 is named wrongly without a racket",
	"again W stroke":              "one clip of 28 is named wrongly with noise",
	"rec trade shoulder forehand": "nine of ten recorded forehands have the hitting-side shoulder 17 to 34° lower at contact: recorded players contradict the saying for forehands, and bear it out for backhands, serves and smashes",
	"trade hands low":             "in a third of the made topspin strokes the hands pass 1 to 6 cm above the ball's height: a fault of the made swings, not of the measure",
	"trade rise":                  "one made two-handed backhand in nine does not rise: its hips are lowest at contact",
	"trade shoulder backhand":     "made backhands tilt to the hitting side; recorded ones do not: a fault of the made swings",
	"trade shoulder forehand":     "made forehands tilt to the hitting side as recorded ones do (see rec trade shoulder forehand)",
}
