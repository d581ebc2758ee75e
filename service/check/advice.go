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
	Gains   []Gain  // in the headline's order; none for advice that no film is needed for
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
	cue    string
	scene  scene
	sheets []*measure.Sheet // of the strokes filmed so far
}

// advise films the variants that the budget allows with one stroke, those that look
// promising with the others too, and keeps what clearly helps.
func (o *Outlook) advise(ctx context.Context, here []*measure.Sheet, left float64) ([]Advice, error) {
	ts := o.takes[:len(usualStrokes)]
	tried := o.affordable(left)
	first, err := playAll(ctx, scenesOf(tried), ts[:1])
	if err != nil {
		return nil, err
	}
	best := o.promising(tried, gather(ts[:1], here[:1], o.scene.setup.Expected), first)
	rest, err := playAll(ctx, scenesOf(best), ts[1:])
	if err != nil {
		return nil, err
	}
	now := gather(ts, here[:len(ts)], o.scene.setup.Expected)
	var found []Advice
	for i, v := range best {
		then := o.credible(v.cue, now, gather(ts, append(v.sheets, rest[i]...), o.scene.setup.Expected))
		if a := compare(v.cue, now, then); a.helps(clearFigures, clearMean) {
			films := append(v.sheets, rest[i]...)
			a.Gains = slices.DeleteFunc(a.Gains, func(g Gain) bool { return !g.inEach(here, films) })
			for k := range a.Gains {
				a.Gains[k].temper()
			}
			found = append(found, a)
		}
	}
	slices.SortStableFunc(found, func(a, b Advice) int { return cmp.Compare(b.Benefit, a.Benefit) })
	out := append(o.plainAdvice(), onePlace(found)...)
	return out[:min(mostAdvice, len(out))], nil
}

// inEach reports whether the gain shows in each stroke's film, of those in which both captures
// tell the figure: what one of three films promises, another place nearby may not keep.
func (g *Gain) inEach(here, there []*measure.Sheet) bool {
	for j := range there {
		if j >= len(here) || here[j] == nil || there[j] == nil {
			continue
		}
		now, _ := here[j].Figure(g.Measure)
		then, _ := there[j].Figure(g.Measure)
		if now.Known() && then.Known() && !(then.SD*clearRatio < now.SD) {
			return false
		}
	}
	return true
}

// keptGain is the share of a gain, in logarithm, that is promised. Gains of three films are known
// to some 30 %, and differ among figures by some 60: of those picked because they are
// large a fifth is luck (1 − .6²/(.6² + .3²)). Both spreads are estimates of ours.
const keptGain = 0.8

// temper takes the share of luck off the error that is promised.
func (g *Gain) temper() {
	if g.From > g.To {
		g.To = g.From * math.Pow(g.To/g.From, keptGain)
	}
}

// affordable are the variants of which one stroke fits into the budget, in order.
func (o *Outlook) affordable(left float64) (out []variant) {
	for _, v := range o.variants() {
		if !o.scene.court {
			v.scene.doubt = headingDoubt
		}
		if c := v.scene.cost(); c <= left {
			left -= c
			out = append(out, v)
		}
	}
	return out
}

// promising are the best of the variants after their first stroke, as many as
// confirmBudget allows to be filmed further.
func (o *Outlook) promising(tried []variant, now []measure.Figure, first [][]*measure.Sheet) (out []variant) {
	var hopes []Advice
	for i := range tried {
		tried[i].sheets = first[i]
		then := o.credible(tried[i].cue, now, gather(o.takes[:1], first[i], o.scene.setup.Expected))
		if a := compare(tried[i].cue, now, then); a.helps(clearFigures-1, 1) {
			hopes = append(hopes, a)
		}
	}
	slices.SortStableFunc(hopes, func(a, b Advice) int { return cmp.Compare(b.Benefit, a.Benefit) })
	left := confirmBudget
	for _, a := range hopes {
		i := slices.IndexFunc(tried, func(v variant) bool { return v.cue == a.Name })
		if c := tried[i].scene.cost() * float64(len(usualStrokes)-1); c <= left {
			left -= c
			out = append(out, tried[i])
		}
	}
	return out
}

func scenesOf(vs []variant) (out []scene) {
	for i := range vs {
		out = append(out, vs[i].scene)
	}
	return out
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

// compare weighs a variant's outlook against the present one. The gains come in the
// headline's order: the largest ratio of many is the luckiest.
func compare(cue string, now, then []measure.Figure) Advice {
	a := Advice{Name: cue}
	sum, n := 0.0, 0.0
	for _, name := range headline {
		i, _ := measure.Index(name)
		g, ok := gain(&now[i], &then[i])
		if !ok {
			continue
		}
		sum, n = sum+g.logarithmic, n+1
		if g.graded > 0 || g.graded == 0 && g.logarithmic > math.Log(clearRatio) {
			a.Gains = append(a.Gains, g)
		}
	}
	a.Benefit = sum / math.Max(n, 1)
	return a
}

// helps reports whether so many figures are clearer and all errors fall by a mean
// ratio; grades won weigh as much where the errors do not grow.
func (a *Advice) helps(figures int, ratio float64) bool {
	won := 0
	for _, g := range a.Gains {
		won += g.graded
	}
	return len(a.Gains) >= figures && (a.Benefit > math.Log(ratio) || won >= figures && a.Benefit > 0)
}

// gain compares one figure; ok is false where neither placement has it, and where it is
// refused here and would be rough there: so near to a refusal either may come.
func gain(now, then *measure.Figure) (Gain, bool) {
	if !now.Known() && then.Grade != measure.Good {
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
