package check

import (
	"cmp"
	"context"
	"math"
	"runtime"
	"slices"
	"sync"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/swing"
	"example.com/courtkin/service/synth"
)

// Reasons of figures that no film shows, beside the measures' own.
const (
	ReasonNoPlace     = "no_place: neither court lines nor the player's height nor points in space say how large the picture is"
	ReasonNotFound    = "not_found: from here the stroke itself would be missed"
	ReasonOtherStroke = "other_stroke: the expected stroke does not have it"
)

// Outlook is what a placement promises.
type Outlook struct {
	Look    *Look
	Figures []measure.Figure // every measure of the catalog, in its order, without values
	Capture measure.Capture
	Advice  []Advice

	scene scene
	takes []take
}

// take is one made stroke to be filmed.
type take struct {
	stroke body.Stroke
	seed   uint64
	turn   float64 // of the player, in the scene's doubts of where he faces
}

// usualStrokes are filmed when no stroke is expected; between them they have every
// measure of the catalog.
var usualStrokes = []body.Stroke{body.Forehand, body.TwoHandedBackhand, body.Serve}

// firstSeed makes the strokes; any other would do.
const firstSeed = 11

func takes(expected body.Stroke) []take {
	var out []take
	for i, k := range usualStrokes {
		if expected != body.StrokeUnknown {
			k = expected
		}
		out = append(out, take{k, firstSeed + uint64(i), float64(i - len(usualStrokes)/2)})
	}
	return out
}

// Foretell films made strokes from the placement and has them measured. The error is
// the context's.
func Foretell(ctx context.Context, r *Request) (*Outlook, error) {
	o := &Outlook{Look: NewLook(r), takes: takes(r.Setup.Expected)}
	s, ok := o.Look.scene()
	if !ok {
		o.Figures, o.Capture = nothing(r.Setup.Expected), o.Look.capture(nil)
		o.Advice = o.blindAdvice()
		return o, nil
	}
	s.thin()
	o.scene = s
	left := budget - float64(len(o.takes))*s.cost()
	sheets, err := playAll(ctx, []scene{s}, o.takes)
	if err != nil {
		return nil, err
	}
	found, err := o.again(ctx, sheets[0], &left)
	if err != nil {
		return nil, err
	}
	o.Figures, o.Capture = gather(o.takes, found, r.Setup.Expected), o.Look.capture(found)
	o.hold(found)
	o.Advice, err = o.advise(ctx, found, left)
	return o, err
}

// secondSeed makes the strokes that are played where the first was missed.
const secondSeed = 100

// again gives each stroke that was missed a second try with another swing, as far as
// what is left of the budget goes: one swing may be an odd one.
func (o *Outlook) again(ctx context.Context, sheets []*measure.Sheet, left *float64) ([]*measure.Sheet, error) {
	var more []take
	for i, s := range sheets {
		if s == nil && *left >= o.scene.cost() {
			more = append(more, take{o.takes[i].stroke, secondSeed + uint64(i), 0})
			*left -= o.scene.cost()
		}
	}
	second, err := playAll(ctx, []scene{o.scene}, more)
	o.takes = append(o.takes, more...)
	return append(sheets, second[0]...), err
}

// The work is counted in views of one stroke at 60 Hz with points in space, some
// 0.15 s of a core. The placement's own films take what they need, no more than
// mostCost each; advice gets what is left of the budget.
const (
	budget   = 10.0
	mostCost = 4.0
	// confirmBudget is for the variants that look promising.
	confirmBudget = 6.0

	costSpace = 0.5 // points in level axes: no camera to find
	costImage = 1.5 // one image without points in space: the signs of depth are sought
)

// cost is what one stroke costs.
func (s *scene) cost() float64 {
	sum := 0.0
	for i := range s.eyes {
		e := &s.eyes[i]
		w := 1.0
		switch {
		case e.pose == nil:
			w = costSpace
		case !e.seesWorld() && len(s.eyes) == 1:
			w = costImage
		}
		sum += w * math.Max(0.5, math.Min(e.rate*s.slow, mostRate)/60)
	}
	return sum
}

// thin lowers the films' rates until a stroke costs no more than mostCost: what many
// fast cameras would measure is then foretold a little too wide.
func (s *scene) thin() {
	for c := s.cost(); c > mostCost*1.001; c = s.cost() {
		for i := range s.eyes {
			e := &s.eyes[i]
			e.rate = math.Max(30/s.slow, math.Min(e.rate, mostRate/s.slow)*mostCost/c)
		}
		if !(s.cost() < c) {
			return // every camera is at its slowest
		}
	}
}

// playAll plays every take in every scene, a few at a time.
func playAll(ctx context.Context, scenes []scene, ts []take) ([][]*measure.Sheet, error) {
	out := make([][]*measure.Sheet, len(scenes))
	var wait sync.WaitGroup
	slots := make(chan struct{}, min(4, runtime.GOMAXPROCS(0)))
	for i := range scenes {
		out[i] = make([]*measure.Sheet, len(ts))
		for j := range ts {
			wait.Go(func() {
				slots <- struct{}{}
				defer func() { <-slots }()
				if ctx.Err() == nil {
					out[i][j] = scenes[i].turned(ts[j].turn).play(ts[j])
				}
			})
		}
	}
	wait.Wait()
	return out, ctx.Err()
}

// motion makes the stroke of a take by the scene's player.
func (s *scene) motion(t take) *synth.Motion {
	spec := synth.Spec{
		Stroke: t.stroke, Level: s.setup.Player.Level, Hand: s.setup.Player.Hand,
		Stature: s.stature, Racket: s.setup.RacketLength, Seed: t.seed,
	}
	if spec.Level == body.LevelUnknown {
		spec.Level = body.Intermediate
	}
	if spec.Hand == body.HandUnknown {
		spec.Hand = body.RightHanded
	}
	return synth.NewSwing(spec)
}

// play films one stroke and measures it; nil when the machine does not find it.
func (s *scene) play(t take) *measure.Sheet {
	motion := s.motion(t)
	setup := s.setup
	setup.Expected = t.stroke
	machine, err := swing.New(setup)
	if err != nil {
		return nil
	}
	var found findings
	frames := s.film(motion, t.seed)
	for i := range frames {
		if machine.Push(&frames[i], &found) != nil {
			return nil
		}
	}
	machine.Finish(&found)
	return found.nearest(s.clipTime(motion))
}

// clipTime is when the stroke's contact comes, on the clip's clock, µs.
func (s *scene) clipTime(m *synth.Motion) float64 {
	contact := m.Struck[0].Contact
	return epoch + (contact-math.Max(m.Start, contact-filmBefore))*s.slow*1e6
}

// findings keeps the settled swings.
type findings struct{ sheets []*measure.Sheet }

func (f *findings) Event(swing.LiveEvent)   {}
func (f *findings) Reading(swing.Reading)   {}
func (f *findings) Swing(s *measure.Sheet)  { f.sheets = append(f.sheets, s) }
func (f *findings) Warning(measure.Warning) {}
func (f *findings) Progress(swing.Progress) {}

// missedBy is how far from the truth a contact may lie to be the stroke's, s: eight
// times what is promised of a body alone. Beyond, every figure is of something else.
const missedBy = 0.1

func (f *findings) nearest(contact float64) *measure.Sheet {
	var best *measure.Sheet
	least := math.Inf(1)
	for _, s := range f.sheets {
		e, ok := s.Event(phase.Contact)
		if d := math.Abs(float64(s.StartUS) + e.Time*1e6 - contact); ok && d < least {
			best, least = s, d
		}
	}
	if best == nil || least > missedBy*1e6*math.Max(1, best.Capture.SlowMotion) {
		return nil
	}
	return best
}

// gather takes, for each measure of the catalog, the middle of the strokes that
// have it. sheets are one for each take.
func gather(ts []take, sheets []*measure.Sheet, expected body.Stroke) []measure.Figure {
	out := nothing(expected)
	for i, row := range measure.Catalog() {
		var seen []measure.Figure
		for j, s := range sheets {
			if !row.For(ts[j].stroke) {
				continue
			}
			f := out[i]
			f.Reason = ReasonNotFound
			if s != nil {
				if g, ok := s.Figure(row.Name); ok {
					f = g
				}
			}
			seen = append(seen, f)
		}
		if len(seen) > 0 {
			out[i] = middle(seen)
		}
	}
	return out
}

// middle is the median figure by grade and error, the better of two, without its value and
// with the geometric mean of the errors: in some films a racket may lie on either side, which
// makes an error several times that of the others, and of three the median is one or the other.
func middle(f []measure.Figure) measure.Figure {
	slices.SortStableFunc(f, func(a, b measure.Figure) int {
		if c := cmp.Compare(a.Grade, b.Grade); c != 0 || !a.Known() {
			return c
		}
		return cmp.Compare(a.SD, b.SD)
	})
	m := f[(len(f)-1)/2]
	logs, n := 0.0, 0.0
	for i := range f {
		if m.Known() && f[i].Known() {
			logs, n = logs+math.Log(f[i].SD), n+1
		}
	}
	m.SD = math.Exp(logs / n) // NaN of none
	m.Value, m.Low, m.High = math.NaN(), math.NaN(), math.NaN()
	return m
}

// nothing is the catalog with no figure.
func nothing(expected body.Stroke) []measure.Figure {
	nan := math.NaN()
	var out []measure.Figure
	for _, row := range measure.Catalog() {
		f := measure.Figure{Name: row.Name, Unit: row.Unit, Value: nan, SD: nan, Low: nan, High: nan, Grade: measure.NotMeasurable, Reason: ReasonNoPlace}
		if expected != body.StrokeUnknown && !row.For(expected) {
			f.Reason = ReasonOtherStroke
		}
		out = append(out, f)
	}
	return out
}

// capture says how figures will be had; sheets are those of the films.
func (l *Look) capture(sheets []*measure.Sheet) measure.Capture {
	r := &l.views[0].report
	c := measure.Capture{View: r.View, FrameRate: r.Rate, SlowMotion: l.slow(), SlowMotionSD: r.Clock.SD, Method: "image_plane"}
	for _, s := range sheets {
		if s != nil {
			c.Method, c.ScaleSD = s.Capture.Method, s.Capture.ScaleSD
			break
		}
	}
	return c
}
