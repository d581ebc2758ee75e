package swing_test

import (
	"fmt"
	"math"
	"os"
	"sort"
	"strconv"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/swing"
	"example.com/courtkin/service/synth"
)

// heard is one live event with the frames' time at which it came.
type heard struct {
	swing.LiveEvent
	at int64
}

// watch is a sink that writes down what it hears and when.
type watch struct {
	now      int64
	events   []heard
	swings   []*measure.Sheet
	settled  []int64
	readings int
	said     []string
}

func (w *watch) Event(e swing.LiveEvent) { w.events = append(w.events, heard{e, w.now}) }
func (w *watch) Reading(swing.Reading)   { w.readings++ }
func (w *watch) Swing(s *measure.Sheet) {
	w.swings = append(w.swings, s)
	w.settled = append(w.settled, w.now)
}
func (w *watch) Warning(measure.Warning) {}
func (w *watch) Progress(swing.Progress) {}
func (w *watch) still() (out []heard) {
	for _, e := range w.events {
		if !e.Withdrawn {
			out = append(out, e)
			continue
		}
		for i := len(out) - 1; i >= 0; i-- {
			if out[i].Kind == e.Kind && out[i].TimeUS == e.TimeUS {
				out = append(out[:i], out[i+1:]...)
				break
			}
		}
	}
	return out
}

func watchClip(t testing.TB, s swing.Setup, frames []body.Frame) *watch {
	m, err := swing.New(s)
	if err != nil {
		t.Fatal(err)
	}
	m.SettleWith(swing.Unsettled)
	w := &watch{}
	m.Explain(func(line string) { w.said = append(w.said, line) })
	if os.Getenv("LANES") != "" {
		m.ExplainLanes(func(line string) { w.said = append(w.said, line) })
	}
	for i := range frames {
		if frames[i].Camera == 0 {
			w.now = frames[i].TimeUS
		}
		if err := m.Push(&frames[i], w); err != nil {
			t.Fatal(err)
		}
	}
	m.Finish(w)
	return w
}

func quantiles(x []float64) string {
	if len(x) == 0 {
		return "-"
	}
	sort.Float64s(x)
	q := func(p float64) float64 { return x[int(p*float64(len(x)-1))] }
	return fmt.Sprintf("n %d: 5%% %+.3f 50%% %+.3f 95%% %+.3f", len(x), q(.05), q(.5), q(.95))
}

func TestSurvey(t *testing.T) {
	n, _ := strconv.Atoi(os.Getenv("SURVEY"))
	if n == 0 {
		t.Skip("a survey of made strokes, on demand")
	}
	for _, c := range synth.Conditions {
		if k := os.Getenv("COND"); k != "" && k != string(rune(c)) {
			continue
		}
		found, missed, doubled, wrong := 0, 0, 0, 0
		var guess, tail, cErr, cLate, fErr, tErr []float64
		noContact := 0
		for st := body.Forehand; st < body.NumStrokes; st++ {
			for seed := range uint64(n) {
				m := synth.NewSwing(synth.Spec{Stroke: st, Seed: seed + 100*uint64(st)})
				clip := synth.Shoot(m, c, synth.View{}, seed)
				w := watchClip(t, clip.Setup, clip.Frames)
				true0 := clip.Truth[0]
				switch len(w.swings) {
				case 0:
					missed++
				case 1:
					found++
				default:
					doubled++
				}
				if len(w.swings) != 1 {
					fmt.Printf("%c %v seed %d: %d swings; contact %.2f tip %.1f stature %.2f\n", c, st, seed, len(w.swings), true0.Contact, true0.Measures["racket_speed.tip.contact"], m.Build.Stature)
					if os.Getenv("WHY") != "" {
						for _, l := range w.said {
							fmt.Println("    ", l)
						}
					}
					continue
				}
				e, _ := w.swings[0].Event(phase.Contact)
				if off := clip.Real(float64(w.swings[0].StartUS)+e.Time*1e6) - true0.Contact; math.Abs(off) > 0.25 {
					wrong++
					fmt.Printf("%c %v seed %d: wrong by %.2f\n", c, st, seed, off)
					if os.Getenv("WHY") != "" {
						for _, l := range w.said {
							fmt.Println("    ", l)
						}
					}
				}
				guess = append(guess, clip.Real(float64(w.swings[0].StartUS)+e.Time*1e6)-true0.Contact)
				if f := true0.Events[phase.FollowEnd]; !math.IsNaN(f) {
					tail = append(tail, clip.Real(float64(w.settled[0]))-f)
				}
				has := false
				for _, h := range w.still() {
					err := clip.Real(float64(h.TimeUS)) - true0.Events[h.Kind]
					switch h.Kind {
					case phase.Contact:
						has = true
						cErr = append(cErr, err)
						cLate = append(cLate, clip.Real(float64(h.at))-true0.Contact)
					case phase.ForwardStart:
						fErr = append(fErr, err)
					case phase.TurnStart:
						if h.TimeUS < w.settled[0] {
							tErr = append(tErr, err)
						}
					}
				}
				if !has {
					noContact++
				}
			}
		}
		fmt.Printf("%c found %d missed %d doubled %d wrong %d | guess %s | settled after FOLLOW_END %s\n   live contact err %s late %s none %d\n   forward err %s\n   turn err %s\n",
			c, found, missed, doubled, wrong, quantiles(guess), quantiles(tail), quantiles(cErr), quantiles(cLate), noContact, quantiles(fErr), quantiles(tErr))
	}
}

// TestSurveyPractices plays samples of practices and counts strokes found, missed and made up.
func TestSurveyPractices(t *testing.T) {
	n, _ := strconv.Atoi(os.Getenv("PRACTICES"))
	if n == 0 {
		t.Skip("a survey of made practices, on demand")
	}
	offset := uint64(1000)
	if k, err := strconv.Atoi(os.Getenv("OFFSET")); err == nil {
		offset = uint64(k)
	}
	for _, c := range synth.Conditions {
		if k := os.Getenv("COND"); k != "" && k != string(rune(c)) {
			continue
		}
		strokes, found, false_ := 0, 0, 0
		var cErr, cLate, tail, fErr, tErr []float64
		calls, withdrawn, early := 0, 0, 0
		missed := map[body.Stroke]int{}
		for seed := range uint64(n) {
			clip := synth.Sample(c, 4, offset+seed)
			w := watchClip(t, clip.Setup, clip.Frames)
			used := make([]bool, len(w.swings))
			still := w.still()
			for _, tr := range clip.Truth {
				strokes++
				hit := -1
				for i, s := range w.swings {
					e, _ := s.Event(phase.Contact)
					if at := clip.Real(float64(s.StartUS) + e.Time*1e6); !used[i] && math.Abs(at-tr.Contact) < 0.25 {
						hit = i
						break
					}
				}
				if hit < 0 {
					missed[tr.Stroke]++
					if os.Getenv("WHY") != "" {
						fmt.Printf("%c seed %d missed %v at %.2f tip %.1f\n", c, seed, tr.Stroke, tr.Contact, tr.Measures["racket_speed.tip.contact"])
						told(w, clip, tr.Contact)
					}
					continue
				}
				used[hit] = true
				found++
				if f := tr.Events[phase.FollowEnd]; !math.IsNaN(f) {
					tail = append(tail, clip.Real(float64(w.settled[hit]))-f)
				}
				for _, h := range still {
					off := clip.Real(float64(h.TimeUS)) - tr.Events[h.Kind]
					near := clip.Real(float64(h.TimeUS)) > tr.Contact-2 && clip.Real(float64(h.TimeUS)) < tr.Contact+0.2
					switch {
					case h.Kind == phase.Contact && math.Abs(off) < 0.3:
						cErr, cLate = append(cErr, off), append(cLate, clip.Real(float64(h.at))-tr.Contact)
					case h.Kind == phase.ForwardStart && math.Abs(off) < 0.5:
						fErr = append(fErr, off)
					case h.Kind == phase.TurnStart && near:
						tErr = append(tErr, off)
					}
				}
			}
			for i, s := range w.swings {
				if !used[i] {
					false_++
					if os.Getenv("WHY") != "" {
						e, _ := s.Event(phase.Contact)
						at := clip.Real(float64(s.StartUS) + e.Time*1e6)
						fmt.Printf("%c seed %d false at %.2f of %.2f\n", c, seed, at, clip.Real(float64(clip.Frames[len(clip.Frames)-1].TimeUS)))
						told(w, clip, at)
					}
				}
			}
			for _, e := range w.events {
				if e.Kind == phase.Contact {
					calls++
					if e.Withdrawn {
						withdrawn++
					}
				}
			}
			for _, h := range still {
				if h.Kind == phase.Contact {
					ok := false
					for _, tr := range clip.Truth {
						ok = ok || math.Abs(clip.Real(float64(h.TimeUS))-tr.Contact) < 0.3
					}
					if !ok {
						early++
					}
				}
			}
		}
		fmt.Printf("%c strokes %d found %d false %d missed %v | settled after FOLLOW_END %s\n   contact err %s late %s; calls %d withdrawals %d standing wrong %d\n   forward %s\n   turn %s\n",
			c, strokes, found, false_, missed, quantiles(tail), quantiles(cErr), quantiles(cLate), calls, withdrawn, early, quantiles(fErr), quantiles(tErr))
	}
}

// told prints what the machine said about an instant.
func told(w *watch, clip synth.Clip, at float64) {
	for _, l := range w.said {
		var s float64
		if _, err := fmt.Sscanf(l, "%f", &s); err != nil {
			continue
		}
		if r := s / clip.Stretch; r > at-1.5 && r < at+1.2 {
			fmt.Println("      ", l)
		}
	}
}
