package swing_test

import (
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/swing"
	"example.com/courtkin/service/synth"
)

// TestSurveyMisses lists, on demand, every made stroke that was missed, invented
// or misnamed, with what the machine said about it:
//
//	MISSES=60 SEED=7 COND=B go test ./service/swing -run SurveyMisses -v
//
// NOBALL takes the ball out of the clips.
func TestSurveyMisses(t *testing.T) {
	n, _ := strconv.Atoi(os.Getenv("MISSES"))
	if n == 0 {
		t.Skip("a survey of misses, on demand")
	}
	seed, _ := strconv.ParseUint(os.Getenv("SEED"), 10, 64)
	for _, c := range synth.Conditions {
		if k := os.Getenv("COND"); k != "" && k != string(rune(c)) {
			continue
		}
		surveyMisses(t, c, n, seed)
	}
}

func surveyMisses(t *testing.T, c synth.Condition, n int, seed uint64) {
	made, found, extra, named, hands := 0, 0, 0, 0, 0
	var off []float64
	for i := uint64(0); made < n; i++ {
		clip := synth.Sample(c, 6, seed*1_000_003+i)
		if os.Getenv("NOBALL") != "" {
			for k := range clip.Frames {
				clip.Frames[k].World[body.Ball], clip.Frames[k].Image[body.Ball] = body.Seen3{}, body.Seen2{}
			}
		}
		m, err := swing.New(clip.Setup)
		if err != nil {
			t.Fatal(err)
		}
		m.SettleWith(swing.MeanOnly)
		if os.Getenv("FAST") != "" {
			m.SettleWith(swing.Unsettled)
		}
		w := &watch{}
		m.Explain(func(line string) { w.said = append(w.said, line) })
		for k := range clip.Frames {
			if err := m.Push(&clip.Frames[k], w); err != nil {
				t.Fatal(err)
			}
		}
		m.Finish(w)
		made += len(clip.Truth)
		used := make([]bool, len(w.swings))
		head := func(what string, tr *synth.TrueSwing, at float64) {
			fmt.Printf("\n%c clip %d %s", c, i, what)
			if tr != nil {
				fmt.Printf(" %v tip %.1f", tr.Stroke, tr.Measures["racket_speed.tip.contact"])
			}
			fmt.Printf(" at %.2f of %.2f s, stature %.2f, view %v\n", at, clip.Real(float64(clip.Frames[len(clip.Frames)-1].TimeUS)), clip.Motion.Build.Stature, viewOf(&clip))
		}
		feats := func(s *measure.Sheet) {
			for _, x := range s.Warnings {
				fmt.Println("      ", x.Code, x.Text)
			}
		}
		at := func(s *measure.Sheet) float64 {
			e, _ := s.Event(phase.Contact)
			return clip.Real(float64(s.StartUS) + e.Time*1e6)
		}
		for k := range clip.Truth {
			tr := &clip.Truth[k]
			best, gap := -1, 0.25
			for j, s := range w.swings {
				if d := math.Abs(at(s) - tr.Contact); !used[j] && d <= gap {
					best, gap = j, d
				}
			}
			if best < 0 {
				head("MISSED", tr, tr.Contact)
				told(w, clip, tr.Contact)
				continue
			}
			used[best] = true
			found++
			s := w.swings[best]
			if os.Getenv("ROWS") != "" {
				for _, x := range s.Warnings {
					if x.Code == "row" {
						fmt.Printf("ROW stroke %s named %s sure %.2f cond %c tip %.1f late %.0f hand %v clip %d-%d %s\n", strings.ReplaceAll(tr.Stroke.String(), " ", "_"), strings.ReplaceAll(s.Stroke.String(), " ", "_"), s.StrokeConfidence, c, tr.Measures["racket_speed.tip.contact"], gap*1000, s.Hand == tr.Hand, seed, i, x.Text)
					}
				}
			}
			off = append(off, math.Abs(at(s)-tr.Contact)*1000)
			if gap > 0.06 {
				e, _ := s.Event(phase.Contact)
				head(fmt.Sprintf("LATE by %+.3f ± %.3f", at(s)-tr.Contact, e.SD), tr, tr.Contact)
				told(w, clip, tr.Contact)
				feats(s)
			}
			if s.Stroke == tr.Stroke {
				named++
			} else if s.Stroke != 0 {
				head(fmt.Sprintf("MISNAMED %v (%.2f), contact off %+.3f, toss %.2f", s.Stroke, s.StrokeConfidence, at(s)-tr.Contact, tr.Contact-tr.Events[phase.BallRelease]), tr, tr.Contact)
				feats(s)
			}
			if s.Hand == tr.Hand {
				hands++
			} else if s.Stroke != 0 {
				head("HAND", tr, tr.Contact)
			}
		}
		for j, s := range w.swings {
			if !used[j] {
				extra++
				head(fmt.Sprintf("INVENTED %v", s.Stroke), nil, at(s))
				told(w, clip, at(s))
				feats(s)
			}
		}
	}
	fmt.Printf("%c seed %d: made %d found %.1f%% invented %.1f%% named %.1f%% hands %.1f%% contact ms %s\n", c, seed, made,
		100*float64(found)/float64(made), 100*float64(extra)/float64(made), 100*float64(named)/float64(found), 100*float64(hands)/float64(found), quantiles(off))
}

func viewOf(c *synth.Clip) string {
	if len(c.Setup.Cameras) == 0 {
		return "-"
	}
	return fmt.Sprint(c.Setup.Cameras[0].View)
}
