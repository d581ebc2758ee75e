package swing_test

import (
	"fmt"
	"math"
	"os"
	"strconv"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/synth"
)

// score is how a session fared: strokes that were found, and swings that were none.
type score struct {
	clip    *synth.Clip
	w       *watch
	missed  []int // of the clip's truth
	made    []int // of the swings
	late    []float64
	doubled int
}

func scoreSession(t testing.TB, clip *synth.Clip) score {
	s := score{clip: clip, w: watchClip(t, clip.Setup, clip.Frames)}
	at := func(i int) float64 {
		e, _ := s.w.swings[i].Event(phase.Contact)
		return clip.Real(float64(s.w.swings[i].StartUS) + e.Time*1e6)
	}
	used := make([]bool, len(s.w.swings))
	for i, tr := range clip.Truth {
		best, gap := -1, 0.25
		for k := range s.w.swings {
			if d := math.Abs(at(k) - tr.Contact); !used[k] && d <= gap {
				best, gap = k, d
			}
		}
		if best < 0 {
			s.missed = append(s.missed, i)
			continue
		}
		used[best] = true
	}
	for k := range used {
		if !used[k] {
			s.made = append(s.made, k)
		}
	}
	return s
}

// TestSurveySessions counts, on demand, what is missed and invented in long busy
// practices:
//
//	SESSION=200 SEED=7 COND=P WHY=1 go test ./service/swing -run SurveySessions -v
func TestSurveySessions(t *testing.T) {
	n, _ := strconv.Atoi(os.Getenv("SESSION"))
	if n == 0 {
		t.Skip("a survey of busy practices, on demand")
	}
	seed, _ := strconv.ParseUint(os.Getenv("SEED"), 10, 64)
	for _, c := range synth.Conditions {
		if k := os.Getenv("COND"); k != "" && k != string(rune(c)) {
			continue
		}
		made, missed, invented := 0, map[body.Stroke]int{}, 0
		lost := 0
		for i := uint64(0); made < n; i++ {
			clip, busy := synth.Session(c, 25, seed*1_000_003+i)
			made += len(clip.Truth)
			s := scoreSession(t, &clip)
			lost += len(s.missed)
			invented += len(s.made)
			say := func(what string, at float64) {
				fmt.Printf("\n%c session %d %s at %.2f of %.0f s", c, i, what, at, clip.Real(float64(clip.Frames[len(clip.Frames)-1].TimeUS)))
				for _, x := range busy {
					if at > x.From-2 && at < x.To+2 {
						fmt.Printf(", %d at %.2f–%.2f", x.Kind, x.From, x.To)
					}
				}
				fmt.Println()
				if os.Getenv("WHY") != "" {
					told(s.w, clip, at)
				}
			}
			for _, k := range s.missed {
				tr := &clip.Truth[k]
				missed[tr.Stroke]++
				say(fmt.Sprintf("MISSED %v tip %.1f", tr.Stroke, tr.Measures["racket_speed.tip.contact"]), tr.Contact)
			}
			for _, k := range s.made {
				e, _ := s.w.swings[k].Event(phase.Contact)
				say("INVENTED", clip.Real(float64(s.w.swings[k].StartUS)+e.Time*1e6))
			}
		}
		fmt.Printf("%c seed %d: %d strokes, missed %.1f%% %v, invented %.1f%%\n", c, seed, made, 100*float64(lost)/float64(made), missed, 100*float64(invented)/float64(made))
	}
}
