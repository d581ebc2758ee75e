package checks

// failing lists rows that do not hold now, with the reason. A row that holds again
// must be taken off: the test asks for it. Nothing is loosened instead.
var failing = map[string]string{
	"again I false":   "the turn in which a player of a smash goes back shows in one image as a swing without a racket: one clip of 28",
	"again P contact": "the hand's fastest instant and the place where it meets the ball, joined, lie 12.7 ms apart by one view and by points in space: either is an estimate, of strokes without a ball",
	"again I found":   "27 of 28: a volley seen along its path, whose burst lasts into the recovery, which the image shows as the faster",
}
