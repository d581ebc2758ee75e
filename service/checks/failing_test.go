package checks

// failing lists rows that do not hold now, with the reason. A row that holds again
// must be taken off: the test asks for it. Nothing is loosened instead.
var failing = map[string]string{
	"again I false": "the turn in which a player of a smash goes back shows in one image as a swing without a racket: one clip of 28",
	"again I elbow": "at the start of the forward swing 10° by 14 strokes, between 8 and 15° nothing: which forehands are told there and not refused as too wide decides it; most single errors moved by no more than 3° since the row held",
	"again I found": "27 of 28: a volley seen along its path, whose burst lasts into the recovery, which the image shows as the faster",
}
