package checks

// failing lists rows that do not hold now, with the reason. A row that holds again
// must be taken off: the test asks for it. Nothing is loosened instead.
var failing = map[string]string{
	"again I found":   "one recorded stroke of 28 is missed without a racket: the image's chest turn is weak there",
	"again I stroke":  "two clips of 27 are named wrongly from the image of a body alone",
	"again I false":   "short clips without a racket: a swing is missed, or placed more than 0.2 s away, which counts as both",
	"again I lies":    "without racket and ball, contact is placed by the body alone and the machine is surer of it than it may be",
	"again P contact": "without racket and ball, contact is placed by the body alone and the machine is surer of it than it may be",
	"again P lies":    "without racket and ball, contact is placed by the body alone and the machine is surer of it than it may be",
	"again P stroke":  "two clips of 25 are named wrongly without a racket",
	"again P false":   "short clips without a racket: a swing is missed, or placed more than 0.2 s away, which counts as both",
	"again P found":   "short clips without a racket: a swing is missed, or placed more than 0.2 s away, which counts as both",
	"again T found":   "short clips without a racket: a swing is missed, or placed more than 0.2 s away, which counts as both",
}
