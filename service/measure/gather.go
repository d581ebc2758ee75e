package measure

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/phase"
)

// Policy says which value stands for an ensemble.
type Policy uint8

// Policies. EnsembleMean is the default: it is the posterior's mean of the
// measure itself and has the least expected square error when the posterior is
// right. Where draws are rougher than the motion, noise counts twice in what it can
// only raise (Row.Raised); CorrectedRaised takes it off there. On made swings in
// world points it brought the errors of head.stillness, lag.release_rate and the
// largest turns down by a fifth to two thirds against the mean. For events the
// median was the better one where draws fall on two candidates.
const (
	EnsembleMean    Policy = iota // mean of the draws in which the measure is defined
	EnsembleMedian                // their median
	MeanCourse                    // value of the mean course; the draws' median where that is undefined
	Corrected                     // 2 × value of the mean course − median of the draws: takes off, to first order, what noise adds
	CorrectedRaised               // Corrected for measures that noise can only raise, MeanCourse for the others
)

// Conditions says how the ensemble was had.
type Conditions struct {
	Stroke          body.Stroke
	Have            Need        // what the course and the context hold: Reader.Have
	Times           phase.Times // events of the mean course
	TargetAssumed   bool        // X is assumed: measures that depend on it are ROUGH at best
	ClockUnverified bool        // the clip's clock is not checked: rates and times are ROUGH at best
	ClockSD         float64     // relative error of a clock that is in doubt, at one sd; 0: it is in none
	OneView         bool        // one camera saw the swing
	View            camera.Viewpoint
	Policy          Policy
	Method          string  // as Capture.Method
	LeastHop        float64 // m: how far a hop must rise to be told from noise
}

// Shares of the draws in which a measure is defined.
const (
	// leastDefined: under this share the event is more likely absent than there.
	leastDefined = 0.5
	// surelyDefined: at this share and over, the few draws without a value are the
	// tail of the noise. Own choice: 3 draws of 32.
	surelyDefined = 0.9
	// leastDraws is how many values a spread needs to mean anything.
	leastDraws = 4
)

// Reasons: stable codes. Those with a colon go on in plain words.
const (
	ReasonNoEvent     = "no_such_event"
	ReasonNoRacket    = "no_racket_points: the racket's points were not seen"
	ReasonNoBall      = "no_ball: the ball was not seen"
	ReasonNoBody      = "no_body_points: points of the body that it needs were not seen"
	ReasonNoHead      = "no_head_points: the ears or the nose were not seen"
	ReasonNoStature   = "no_stature: the player's standing height is not known"
	ReasonUndefined   = "undefined: "
	ReasonTooWide     = "too_wide: "
	ReasonNoError     = "no_error: too few possible courses to tell the error"
	ReasonLengths     = "from the lengths of trunk and legs: the standing height was not told"
	ReasonHands       = "from the hand's speed: the racket's points were not seen"
	ReasonWide        = "wider than promised"
	ReasonUnsureEvent = "the event is not certain"
	ReasonTarget      = "the target direction was assumed"
	ReasonClock       = "the clip's clock could not be checked"
)

// Gather turns an ensemble into figures, one for each measure that is defined for
// the stroke, in the catalog's order. mean holds the values of the mean course,
// each of draws those of one draw from the posterior, all as Evaluate gives them.
func Gather(mean []float64, draws [][]float64, cond Conditions) []Figure {
	figures := make([]Figure, 0, len(catalog))
	column := make([]float64, 0, len(draws))
	for i := range catalog {
		row := &catalog[i]
		if !row.For(cond.Stroke) {
			continue
		}
		column = column[:0]
		for _, d := range draws {
			if !math.IsNaN(d[i]) {
				column = append(column, d[i])
			}
		}
		figures = append(figures, row.figure(mean[i], column, len(draws), &cond))
	}
	return figures
}

// figure grades one measure from the values of the draws in which it is defined, of
// count draws in all. It sorts the column.
func (r *Row) figure(mean float64, column []float64, count int, cond *Conditions) Figure {
	share := float64(len(column)) / float64(max(count, 1))
	switch {
	case r.Needs&^cond.Have != 0:
		return r.absent(missing(r.Needs &^ cond.Have))
	case r.lengthsOnly(cond) && !cond.metric():
		return r.absent(ReasonNoStature)
	case len(column) == 0 && math.IsNaN(mean), count > 0 && share < leastDefined:
		return r.absent(r.undefined(cond))
	case len(column) < leastDraws:
		return r.absent(ReasonNoError)
	}
	e := estimate(mean, column, r.policy(cond.Policy))
	e.sd = math.Hypot(e.sd*r.inflation(cond.Method), floors[r.Group])
	if r.fromHands(cond) {
		e.sd = math.Hypot(e.sd, handsShare*e.value)
	}
	if r.lengthsOnly(cond) {
		e.sd = math.Hypot(e.sd, StatureShare*e.value)
	}
	promised := r.promised(e.value)
	if !(e.sd <= refusal[r.Group]*promised) {
		return r.absent(r.tooWide(e.sd, cond))
	}
	if r.timed() {
		// After the refusal: against one another such figures of one clip still tell.
		e.sd = math.Hypot(e.sd, cond.ClockSD*e.value)
	}
	f := Figure{Name: r.Name, Unit: r.Unit, Value: e.value, SD: e.sd, Grade: Good}
	f.Low, f.High = e.value-e.cover*e.sd, e.value+e.cover*e.sd
	if f.Reason = r.doubts(e.sd > promised, share, cond); f.Reason != "" {
		f.Grade = Rough
	}
	return f
}

// policy is what a policy means for this measure.
func (r *Row) policy(p Policy) Policy {
	switch {
	case p != CorrectedRaised:
		return p
	case r.Raised:
		return Corrected
	}
	return MeanCourse
}

// absent is a figure without a value.
func (r *Row) absent(reason string) Figure {
	nan := math.NaN()
	return Figure{Name: r.Name, Unit: r.Unit, Value: nan, SD: nan, Low: nan, High: nan, Grade: NotMeasurable, Reason: reason}
}

// missing names the first of the needs that are not met.
func missing(needs Need) string {
	switch {
	case needs&NeedRacket != 0:
		return ReasonNoRacket
	case needs&NeedBall != 0:
		return ReasonNoBall
	case needs&(NeedEars|NeedNose) != 0:
		return ReasonNoHead
	case needs == NeedStature:
		return ReasonNoStature
	}
	return ReasonNoBody
}

// undefined says why a measure has no value although its needs are met.
func (r *Row) undefined(cond *Conditions) string {
	switch {
	case slices.Contains(r.Events, phase.SplitLanding) && math.IsNaN(cond.Times[phase.SplitLanding]) && cond.LeastHop > phase.LeastHop:
		return fmt.Sprintf("%sno hop stands out from the ankles' noise; one of less than %s m would not", ReasonUndefined, twoDigits(cond.LeastHop))
	case !r.present(&cond.Times, cond.Stroke) || r.Undefined == "" && len(r.Events) > 0:
		return ReasonNoEvent
	case r.Group == GroupBall || r.Needs == NeedBall:
		return r.Undefined
	case r.Undefined == "":
		return ReasonUndefined + "the motion does not have it"
	}
	return ReasonUndefined + r.Undefined
}

// tooWide says how wide a refused figure would be and, where one camera saw the
// swing from elsewhere, from where one is enough.
func (r *Row) tooWide(sd float64, cond *Conditions) string {
	text := ReasonTooWide + "the 95 % interval would be "
	if math.IsNaN(sd) || math.IsInf(sd, 0) {
		text = ReasonTooWide + "the error is without bound"
	} else {
		text += fmt.Sprintf("± %s %s", twoDigits(1.96*sd), r.Unit)
	}
	if !cond.OneView || slices.Contains(r.Views, cond.View) {
		return text
	}
	if len(r.Views) == 0 {
		return text + "; it needs two cameras or 3-D points"
	}
	return text + "; film from " + viewWords(r.Views)
}

// twoDigits writes a positive number to two digits, without an exponent.
func twoDigits(x float64) string {
	rounded, _ := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 2, 64), 64) // what was just written
	return strconv.FormatFloat(rounded, 'f', -1, 64)
}

// viewWords lists viewpoints as a coach would.
func viewWords(views []camera.Viewpoint) string {
	names := [...]string{"elsewhere", "behind the player", "the net", "the player's right", "the player's left"}
	text := ""
	for i, v := range views {
		if i > 0 {
			text += " or "
		}
		text += names[v]
	}
	return text
}

// doubts lists what makes a figure rough; empty when nothing does.
func (r *Row) doubts(wide bool, share float64, cond *Conditions) string {
	text := ""
	add := func(is bool, reason string) {
		if is && text != "" {
			text += "; "
		}
		if is {
			text += reason
		}
	}
	add(r.fromHands(cond), ReasonHands)
	add(r.lengthsOnly(cond), ReasonLengths)
	add(wide, ReasonWide)
	add(share < surelyDefined, ReasonUnsureEvent)
	add(cond.TargetAssumed && r.NeedsTarget, ReasonTarget)
	add(cond.ClockUnverified && r.timed(), ReasonClock)
	return text
}

// fromHands reports whether the hands stand in for the racket's points.
func (r *Row) fromHands(cond *Conditions) bool { return r.FromHands && cond.Have&NeedRacket == 0 }

// timed reports whether the value changes with the clock's rate.
func (r *Row) timed() bool { return r.Unit == "s" || r.Unit == "m/s" || r.Unit == "deg/s" }

// belief is a value with its spread and the half width of its 95 % interval in sd.
type belief struct{ value, sd, cover float64 }

// estimate returns what the policy makes of the draws' values (at least two; sorted
// in place). sd is the sample standard deviation about their mean.
func estimate(mean float64, column []float64, policy Policy) belief {
	n := float64(len(column))
	center := 0.0
	for _, v := range column {
		center += v / n
	}
	square := 0.0
	for _, v := range column {
		square += (v - center) * (v - center)
	}
	e := belief{center, math.Sqrt(square / (n - 1)), studentCover(n - 1)}
	switch {
	case policy == EnsembleMedian, policy == MeanCourse && math.IsNaN(mean), policy == CorrectedRaised && math.IsNaN(mean):
		e.value = median(column)
	case policy == MeanCourse, policy == CorrectedRaised:
		// The draws' spread about the value itself: what noise adds to a largest or a
		// length counts as error.
		e.value, e.sd = mean, math.Hypot(e.sd, center-mean)
	case policy == Corrected && !math.IsNaN(mean):
		// The correction is known no better than the draws' own rise is. A few draws that
		// take another event for this one say nothing of what noise adds.
		e.value, e.sd = 2*mean-median(column), math.Hypot(e.sd, center-mean)
	}
	return e
}

// median sorts a column that is not empty.
func median(column []float64) float64 {
	slices.Sort(column)
	return (column[(len(column)-1)/2] + column[len(column)/2]) / 2
}

// studentCover is the 97.5 % point of Student's t with ν degrees of freedom, the
// spread being itself known from the draws alone. With z = 1.96 it is
// z + (z³ + z)/4ν + (5z⁵ + 16z³ + 3z)/96ν², good to 0.1 % for ν ≥ 15
// (Abramowitz & Stegun 26.7.5, two terms).
func studentCover(nu float64) float64 {
	const z = 1.959964
	const z3, z5 = z * z * z, z * z * z * z * z
	return z + (z3+z)/(4*nu) + (5*z5+16*z3+3*z)/(96*nu*nu)
}

// GatherEvents turns an ensemble of event times into events, in order of time. An
// event that fewer than half of the draws have is left out. The policy chooses the
// instant as it does a figure's value (CorrectedRaised: the mean course's); sd carries the
// event's inflation for the method.
func GatherEvents(mean phase.Times, draws []phase.Times, policy Policy, method string) []phase.Event {
	var events []phase.Event
	column := make([]float64, 0, len(draws))
	for k := phase.EventUnknown + 1; k < phase.NumEvents; k++ {
		column = column[:0]
		for i := range draws {
			if t := draws[i][k]; !math.IsNaN(t) {
				column = append(column, t)
			}
		}
		if len(column) < leastDraws || float64(len(column)) < leastDefined*float64(len(draws)) {
			continue
		}
		e := estimate(mean[k], column, policy)
		sd := math.Hypot(e.sd*eventInflation(method, k), floors[GroupTime])
		events = append(events, phase.Event{Kind: k, Time: e.value, SD: sd})
	}
	slices.SortStableFunc(events, func(a, b phase.Event) int {
		switch {
		case a.Time < b.Time:
			return -1
		case a.Time > b.Time:
			return 1
		}
		return 0
	})
	return events
}
