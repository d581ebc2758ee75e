package check

import (
	"cmp"
	"context"
	"math"
	"slices"

	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/measure"
)

// Advice is one thing to change about the capture, with what it would bring.
type Advice struct {
	Name    string  // of the cue
	Gains   []Gain  // the largest first; none for advice that no film is needed for
	Benefit float64 // mean of the logarithms of error ratios over the headline figures, ≥ 0
}

// Gain is one figure from here and from there.
type Gain struct {
	Measure     string
	Unit        string
	From, To    float64 // sd; From is NaN where it is not measurable from here
	graded      int     // grades won
	logarithmic float64 // ln(From/To), bounded
}

// headline are the figures by which placements are compared: those that a coach
// asks for first.
var headline = []string{
	"racket_speed.tip.contact", "lag.max", "lag.release_time", "path.rise_angle", "path.tip_drop",
	"turn.shoulders.max", "turn.separation.max", "elbow.hitting.contact",
	"contact.height", "contact.ahead", "spacing.hands", "legs.knee_back.max", "tempo.forward_swing",
}

// A change is advised when it clearly helps: at least clearFigures headline figures
// are clearer by clearRatio or a grade, and over all of them the errors fall by
// clearMean, geometric. Our choice: smaller gains are not worth a walk to the fence.
const (
	clearFigures = 3
	clearRatio   = 1.25
	clearMean    = 1.08
	mostAdvice   = 4
)

// variant is another capture: a scene, and the cue that asks for it.
type variant struct {
	cue   string
	scene scene
}

// advise films the variants that the budget allows, and keeps those that help.
func (o *Outlook) advise(ctx context.Context, here []*measure.Sheet, left float64) ([]Advice, error) {
	out := o.plainAdvice()
	var scenes []scene
	var cues []string
	ts := o.shortTakes(left)
	for _, v := range o.variants() {
		if c := v.scene.cost() * float64(len(ts)); c <= left {
			left -= c
			scenes, cues = append(scenes, v.scene), append(cues, v.cue)
		}
	}
	sheets, err := playAll(ctx, scenes, ts)
	if err != nil {
		return nil, err
	}
	now := gather(ts, here[:len(ts)], o.scene.setup.Expected)
	var found []Advice
	for i, cue := range cues {
		then := gather(ts, sheets[i], o.scene.setup.Expected)
		if a, ok := compare(cue, now, then); ok {
			found = append(found, a)
		}
	}
	slices.SortStableFunc(found, func(a, b Advice) int { return cmp.Compare(b.Benefit, a.Benefit) })
	return append(out, onePlace(found)...)[:min(mostAdvice, len(out)+len(onePlace(found)))], nil
}

// shortTakes is how many of the strokes the variants are tried with: two where the
// budget allows two for several variants.
func (o *Outlook) shortTakes(left float64) []take {
	if len(o.takes) > 1 && left > 8*o.scene.cost() {
		return o.takes[:2]
	}
	return o.takes[:1]
}

// places are cues that move the phone: one of them is enough to say.
var places = []string{cueRight, cueLeft, cueBehind, cueHigher, cueCloser, cueFurther}

// onePlace keeps the best of the moves.
func onePlace(found []Advice) []Advice {
	var out []Advice
	moved := false
	for _, a := range found {
		move := slices.Contains(places, a.Name)
		if !move || !moved {
			out = append(out, a)
		}
		moved = moved || move
	}
	return out
}

// compare weighs a variant's outlook against the present one.
func compare(cue string, now, then []measure.Figure) (Advice, bool) {
	a := Advice{Name: cue}
	sum, n, clear := 0.0, 0.0, 0
	for _, name := range headline {
		i, _ := measure.Index(name)
		g, ok := gain(&now[i], &then[i])
		if !ok {
			continue
		}
		sum, n = sum+g.logarithmic, n+1
		if g.graded > 0 || g.graded == 0 && g.logarithmic > math.Log(clearRatio) {
			clear++
			a.Gains = append(a.Gains, g)
		}
	}
	if n == 0 {
		return a, false
	}
	slices.SortStableFunc(a.Gains, func(x, y Gain) int {
		return cmp.Or(cmp.Compare(y.graded, x.graded), cmp.Compare(y.logarithmic, x.logarithmic))
	})
	a.Benefit = sum / n
	won := 0
	for _, g := range a.Gains {
		won += g.graded
	}
	return a, clear >= clearFigures && (a.Benefit > math.Log(clearMean) || won >= clearFigures && a.Benefit > -0.02)
}

// gain compares one figure; ok is false where neither placement has it.
func gain(now, then *measure.Figure) (Gain, bool) {
	if !now.Known() && !then.Known() {
		return Gain{}, false
	}
	g := Gain{Measure: now.Name, Unit: now.Unit, From: now.SD, To: then.SD, graded: int(now.Grade) - int(then.Grade)}
	// An absent figure counts as twice the other's error, a lost one as half.
	const absent = 2.0
	switch {
	case !now.Known():
		g.From, g.logarithmic = math.NaN(), math.Log(absent)
	case !then.Known():
		g.logarithmic = -math.Log(absent)
	default:
		g.logarithmic = math.Max(-1.5, math.Min(1.5, math.Log(g.From/g.To)))
	}
	return g, true
}

// Names of cues. Those of the service's own catalog stand first.
const (
	cueRacket  = "capture_racket"
	cueClock   = "capture_clock"
	cueRight   = "capture_from_right"
	cueLeft    = "capture_from_left"
	cueBehind  = "capture_from_behind"
	cueHigher  = "capture_higher"
	cueCloser  = "capture_closer"
	cueFurther = "capture_further"
	cueBall    = "capture_ball"
	cueRate    = "capture_rate_120"
	cueLight   = "capture_light"
	cueStature = "capture_stature"
	cueLines   = "capture_lines"
	cueSecond  = "capture_second_phone"
)

// plainAdvice needs no film: what the frames lack for whole groups of figures.
func (o *Outlook) plainAdvice() (out []Advice) {
	seen := false
	for i := range o.Look.views {
		v := &o.Look.views[i]
		seen = seen || v.racketSeen() || !v.observed
		c := v.report.Clock
		if c.Contradicted || !c.Verified && c.Stated == 0 && math.Abs(c.Factor-1) > 0.05 {
			out = append(out, Advice{Name: cueClock})
		}
	}
	if !seen {
		out = append(out, Advice{Name: cueRacket})
	}
	return out[:min(len(out), 2)]
}

// blindAdvice is what to do where no figure can be had.
func (o *Outlook) blindAdvice() []Advice {
	out := o.plainAdvice()
	if o.Look.request.Setup.Player.Stature == 0 {
		out = append(out, Advice{Name: cueStature})
	}
	if len(o.Look.views[0].report.Pose.Dropped) == 0 && !o.Look.views[0].report.OnCourt {
		out = append(out, Advice{Name: cueLines})
	}
	return out
}

// viewOf is where the first camera stands.
func (o *Outlook) viewOf() camera.Viewpoint { return o.Look.views[0].report.View }
