package swing_test

import (
	"fmt"
	"math"
	"os"
	"slices"
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

// at returns when swing k met the ball, real seconds.
func (s *score) at(k int) float64 {
	e, _ := s.w.swings[k].Event(phase.Contact)
	return s.clip.Real(float64(s.w.swings[k].StartUS) + e.Time*1e6)
}

func scoreSession(t testing.TB, clip *synth.Clip) score {
	s := score{clip: clip, w: watchClip(t, clip.Setup, clip.Frames)}
	used := make([]bool, len(s.w.swings))
	for i, tr := range clip.Truth {
		best, gap := -1, 0.25
		for k := range s.w.swings {
			if d := math.Abs(s.at(k) - tr.Contact); !used[k] && d <= gap {
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

// TestBusyPractices plays half an hour of busy practices: rallies with half swings,
// walks, drinks, balls picked up, bounced and changed from hand to hand between them,
// people who walk across the view and players who leave it. In 3-D every stroke is
// found and none made up; two views and a phone make nothing up out of passers-by and
// of coming back.
func TestBusyPractices(t *testing.T) {
	if testing.Short() {
		t.Skip("half an hour of practices")
	}
	for _, c := range []synth.Condition{synth.World, synth.TwoViews, synth.Phone} {
		strokes, missed, invented := 0, 0, 0
		var about [synth.NoFrames + 1]int // stretches of each kind
		for seed := range uint64(3) {
			clip, busy := synth.Session(c, 20, 5100+seed)
			s := scoreSession(t, &clip)
			strokes, missed, invented = strokes+s.strokes, missed+len(s.missed), invented+len(s.made)
			for _, x := range busy {
				about[x.Kind]++
				for _, k := range s.made {
					if at := s.at(k); at > x.From-0.3 && at < x.To+0.5 {
						t.Errorf("%c session %d: a swing made up at %.2f s, in a disturbance of kind %d from %.2f to %.2f s", c, seed, at, x.Kind, x.From, x.To)
					}
				}
			}
		}
		t.Logf("%c: %d strokes, %d missed, %d made up", c, strokes, missed, invented)
		if c == synth.World && missed+invented > 0 || 10*missed > strokes {
			t.Errorf("%c: of %d strokes %d missed, %d made up", c, strokes, missed, invented)
		}
		if strokes < 50 || slices.Min(about[1:]) < 3 {
			t.Errorf("%c: only %d strokes, %v disturbances", c, strokes, about[1:])
		}
	}
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
				say("INVENTED", s.at(k))
			}
		}
		fmt.Printf("%c seed %d: %d strokes, missed %.1f%% %v, invented %.1f%%\n", c, seed, made, 100*float64(lost)/float64(made), missed, 100*float64(invented)/float64(made))
	}
}
