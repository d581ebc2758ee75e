package checks

import (
	"fmt"
	"math"
	"strings"
	"sync"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/signal"
	"example.com/courtkin/service/swing"
)

// again is one recording seen again under one condition, beside what its own 3-D gives.
type again struct {
	clip  *recording
	ref   *measure.Sheet // nil: the 3-D itself gave no single swing
	got   []*measure.Sheet
	peak  float64 // reference: the recording's filtered wrist speed, m/s
	extra int     // swings beside the right one
	stage stage
	shot  shot
}

// seenAgainBy holds every clean single-stroke clip by condition.
var seenAgainBy struct {
	sync.Once
	by map[string][]again
}

// headingOf is the direction of play that a sheet assumed, in the recording's own
// axes, from how the shoulders' line stands in both at contact.
func (r *recording) headingOf(s *measure.Sheet) geom.Vec3 {
	read := func(p body.Point) geom.Vec3 {
		path := tracePath(s, p)
		i := int(math.Round((when(s, phase.Contact) - path.from) * path.rate))
		return path.at[min(max(i, 0), len(path.at)-1)]
	}
	if tracePath(s, body.LeftShoulder).at == nil {
		return geom.Vec3{X: 1}
	}
	court := read(body.RightShoulder).Sub(read(body.LeftShoulder))
	p := r.at(when(s, phase.Contact))
	own := p[body.RightShoulder].Sub(p[body.LeftShoulder])
	// Turning by a about Y takes own to court; X came from the direction turned back.
	a := math.Atan2(own.Z, own.X) - math.Atan2(court.Z, court.X)
	return geom.Vec3{X: math.Cos(a), Z: math.Sin(a)}
}

// reseen films and analyses everything, once.
func reseen(t *testing.T) map[string][]again {
	var clips []*recording
	for _, r := range singles(t) {
		if r.clean() {
			clips = append(clips, r)
		}
	}
	before := base(t)
	seenAgainBy.Do(func() {
		stages, refs := make([]stage, len(clips)), make([]*measure.Sheet, len(clips))
		each(len(clips), func(i int) {
			r := clips[i]
			heading := geom.Vec3{X: 1}
			if own := before[r.name]; len(own) == 1 {
				heading = r.headingOf(own[0])
			}
			stages[i] = r.staged(heading)
			s, err := play(swing.Setup{Trace: true, Axes: camera.AxesCourt}, stages[i].exact())
			if err != nil {
				t.Error(err)
			}
			if len(s) == 1 {
				refs[i] = s[0]
			}
		})
		by := map[string][]again{}
		for _, c := range conditions {
			all := make([]again, len(clips))
			each(len(clips), func(i int) {
				shot := stages[i].seenAgain(c, uint64(i))
				s, err := play(shot.setup, shot.frames)
				if err != nil {
					t.Errorf("%s %s: %v", clips[i].name, c.name, err)
				}
				all[i] = again{clip: clips[i], ref: refs[i], peak: clips[i].about.Ref.Peak, stage: stages[i], shot: shot}
				all[i].shot.frames = nil
				all[i].pick(s)
			})
			by[c.name] = all
		}
		seenAgainBy.by = by
	})
	return seenAgainBy.by
}

// pick takes the swing whose contact is nearest to the reference's.
func (a *again) pick(s []*measure.Sheet) {
	if a.ref == nil {
		return
	}
	for _, x := range s {
		if d := when(x, phase.Contact) - 1 - when(a.ref, phase.Contact); math.Abs(d) < .2 && len(a.got) == 0 {
			a.got = append(a.got, x)
		} else {
			a.extra++
		}
	}
}

// quantity is a line of the table: an error and its own sd, NaN where there is none.
type quantity struct {
	name, unit string
	decimals   int
	of         func(a *again) (err, sd float64)
}

func byFigure(name, unit string, decimals int) quantity {
	return quantity{"`" + name + "`", unit, decimals, func(a *again) (float64, float64) {
		f, ok := a.got[0].Figure(name)
		g, ok2 := a.ref.Figure(name)
		if !ok || !ok2 || !f.Known() || !g.Known() {
			return math.NaN(), math.NaN()
		}
		return f.Value - g.Value, math.Hypot(f.SD, g.SD)
	}}
}

func byEvent(k phase.EventKind) quantity {
	return quantity{phase.Catalog()[k-1].Title, "ms", 0, func(a *again) (float64, float64) {
		e, ok := a.got[0].Event(k)
		g, ok2 := a.ref.Event(k)
		if !ok || !ok2 {
			return math.NaN(), math.NaN()
		}
		return 1000 * (when(a.got[0], k) - 1 - when(a.ref, k)), 1000 * math.Hypot(e.SD, g.SD)
	}}
}

var quantities = []quantity{
	{"peak wrist speed, filtered at 12 Hz, against the recording's reference", "%", 1, func(a *again) (float64, float64) {
		v, _ := tracePath(a.got[0], a.clip.wrist()).filtered().fastest(a.clip.about.Ref.At + 1)
		return 100 * (v/a.peak - 1), math.NaN()
	}},
	byFigure("racket_speed.hand.contact", "m/s", 2),
	byFigure("turn.shoulders.max", "°", 1), byFigure("turn.shoulders.contact", "°", 1), byFigure("turn.shoulders.forward_range", "°", 1),
	byFigure("turn.hips.max", "°", 1), byFigure("turn.hips.contact", "°", 1), byFigure("turn.separation.contact", "°", 1),
	byFigure("elbow.hitting.forward_start", "°", 1), byFigure("elbow.hitting.contact", "°", 1),
	byFigure("spacing.hands", "m", 3),
	byEvent(phase.Contact), byEvent(phase.ForwardStart), byEvent(phase.TurnStart), byEvent(phase.TurnComplete),
}

// tally is one cell: errors of the clips that have one.
type tally struct {
	errors []float64
	inside int // within 1.96 of its own sd
	judged int
	lies   int // more than 4 sd off
	could  int // clips in which the 3-D itself has the quantity
}

func (q quantity) tally(all []again) (c tally) {
	for i := range all {
		a := &all[i]
		if a.ref == nil {
			continue
		}
		self := again{clip: a.clip, ref: a.ref, got: []*measure.Sheet{a.ref}, peak: a.peak}
		if e, _ := q.of(&self); math.IsNaN(e) {
			continue
		}
		c.could++
		if len(a.got) == 0 {
			continue
		}
		e, sd := q.of(a)
		if math.IsNaN(e) {
			continue
		}
		c.errors = append(c.errors, math.Abs(e))
		if !math.IsNaN(sd) {
			c.judged++
			if math.Abs(e) < 1.96*sd {
				c.inside++
			}
			if math.Abs(e) > 4*sd {
				c.lies++
			}
		}
	}
	return c
}

// reseenTable is the page's table by condition.
func reseenTable(t *testing.T) string {
	by := reseen(t)
	var b strings.Builder
	b.WriteString("\n| quantity | unit |")
	for _, c := range conditions {
		fmt.Fprintf(&b, " %s: %s |", c.name, c.what)
	}
	b.WriteString("\n|---|---|" + strings.Repeat("---|", len(conditions)) + "\n")
	line := func(name, unit string, cell func(all []again) string) {
		fmt.Fprintf(&b, "| %s | %s |", name, unit)
		for _, c := range conditions {
			fmt.Fprintf(&b, " %s |", cell(by[c.name]))
		}
		b.WriteString("\n")
	}
	line("swings found; false; stroke named right", "of clips", func(all []again) string {
		found, extra, right := counts(all)
		return fmt.Sprintf("%d; %d; %d of %d", found, extra, right, len(all))
	})
	for _, q := range quantities {
		line(q.name, q.unit, func(all []again) string {
			c := q.tally(all)
			if len(c.errors) == 0 {
				return fmt.Sprintf("– (0 of %d)", c.could)
			}
			return fmt.Sprintf("%.*f (%d of %d)", q.decimals, signal.Median(c.errors), len(c.errors), c.could)
		})
	}
	line("inside their own 95 % interval; more than 4 sd off", "%", func(all []again) string {
		in, lies := coverage(all)
		return fmt.Sprintf("%.0f; %.0f", in, lies)
	})
	return b.String()
}

func counts(all []again) (found, extra, right int) {
	for _, a := range all {
		extra += a.extra
		if len(a.got) == 1 {
			found++
			if a.got[0].Stroke == a.clip.stroke() {
				right++
			}
		}
	}
	return found, extra, right
}

// coverage is over all quantities with an error of their own, percent.
func coverage(all []again) (inside, lies float64) {
	judged := 0
	for _, q := range quantities {
		c := q.tally(all)
		inside, lies, judged = inside+float64(c.inside), lies+float64(c.lies), judged+c.judged
	}
	return 100 * inside / float64(judged), 100 * lies / float64(judged)
}

// promised is what the accuracy goals ask of a condition: swings found and strokes
// named right (%), turns (°). Of swings without racket and ball only condition B, a
// phone, is promised anything: contact to 12 ms and angles to 8°. All conditions are
// held to that for what hangs on the instant of contact.
var promised = map[string]struct{ found, right, turn float64 }{
	"W": {99.5, 99, 2}, "T": {99, 98, 4}, "P": {97, 95, 8}, "I": {98, 95, 10},
}

const goals = "the project's own accuracy goals; P without racket and ball is their B"

// reseenRows hold the conditions against the goals.
func reseenRows() (rows []row) {
	for _, c := range conditions {
		p := promised[c.name]
		all := func(t *testing.T) []again { return reseen(t)[c.name] }
		add := func(id, quantity, unit string, want float64, above bool, got func(t *testing.T) float64) {
			rows = append(rows, row{id: "again " + c.name + " " + id, quantity: c.name + ": " + quantity, unit: unit, want: want,
				above: above, below: !above, source: goals, seen: computed, got: got})
		}
		worst := func(qs ...quantity) func(t *testing.T) float64 {
			return func(t *testing.T) (worst float64) {
				for _, q := range qs {
					worst = max(worst, signal.Median(q.tally(all(t)).errors))
				}
				return worst
			}
		}
		add("found", "swings found", "%", p.found, true, func(t *testing.T) float64 {
			found, _, _ := counts(all(t))
			return 100 * float64(found) / float64(len(all(t)))
		})
		add("false", "swings that are none, of the clips", "%", 100-p.found+.01, false, func(t *testing.T) float64 {
			_, extra, _ := counts(all(t))
			return 100 * float64(extra) / float64(len(all(t)))
		})
		add("stroke", "strokes named right, of those found", "%", p.right, true, func(t *testing.T) float64 {
			found, _, right := counts(all(t))
			return 100 * float64(right) / float64(found)
		})
		add("contact", "contact, median difference from the 3-D's", "ms", 12, false, worst(byEvent(phase.Contact)))
		add("turn", "largest turns of shoulders and hips, the larger median difference", "°", p.turn, false, worst(quantities[2], quantities[5]))
		add("turn contact", "turns read at contact, largest median difference", "°", 8, false, worst(quantities[3], quantities[4], quantities[6], quantities[7]))
		add("elbow", "elbow flexion, largest median difference", "°", 8, false, worst(quantities[8:10]...))
		add("inside", "differences inside their own 95 % interval", "%", 92, true, func(t *testing.T) float64 { in, _ := coverage(all(t)); return in })
		add("lies", "differences of more than 4 sd", "%", .5, false, func(t *testing.T) float64 { _, lies := coverage(all(t)); return lies })
	}
	return append(rows, similarityRow("G32 T", "T"), similarityRow("G32 I", "I"))
}

const aboutReseen = `Every clean clip is stood on a court and filmed again by virtual cameras with the noise
and losses of the accuracy goals. The reference is what the machine finds in the
recording's own 3-D, its error counted in; for the wrist's speed it is the recording's own
figure. Nobody recorded racket or ball: contact is the instant best supported by the
body's motion, and what is read at contact carries its uncertainty. The table gives median
absolute differences and in how many of the clips that have the quantity it was told.
`
