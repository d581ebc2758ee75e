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
	strokes int   // those that the camera saw
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
		switch {
		case best >= 0:
			used[best] = true
			s.strokes++
		case inView(clip, tr.Contact):
			s.missed = append(s.missed, i)
			s.strokes++
		}
	}
	for k := range used {
		if !used[k] {
			s.made = append(s.made, k)
		}
	}
	return s
}

// inView reports whether the first camera shows the hands about an instant: a player
// who has walked out of a camera that stands still cannot be found.
func inView(clip *synth.Clip, at float64) bool {
	seen, all := 0, 0
	for i := range clip.Frames {
		f := &clip.Frames[i]
		if f.Camera != 0 || math.Abs(clip.Real(float64(f.TimeUS))-at) > 0.3 {
			continue
		}
		all++
		for _, w := range [...]body.Point{body.LeftWrist, body.RightWrist} {
			if f.Image[w].Score > 0 || f.World[w].Score > 0 {
				seen++
				break
			}
		}
	}
	return 4*seen > 3*all
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
			s := scoreSession(t, &clip)
			made += s.strokes
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
