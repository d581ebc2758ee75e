package swing_test

import (
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/synth"
)

// TestSurveyCalls lists, on demand, the contacts that were called late or not at
// all, and the calls that no contact answers, with what the live depth believed:
//
//	CALLS=60 SEED=7 COND=I go test ./service/swing -run SurveyCalls -v
func TestSurveyCalls(t *testing.T) {
	n, _ := strconv.Atoi(os.Getenv("CALLS"))
	if n == 0 {
		t.Skip("a survey of calls, on demand")
	}
	seed, _ := strconv.ParseUint(os.Getenv("SEED"), 10, 64)
	for _, c := range synth.Conditions {
		if k := os.Getenv("COND"); k != "" && k != string(rune(c)) {
			continue
		}
		made, missing, late, stray, covered, lies, taken := 0, 0, 0, 0, 0, 0, 0
		var off, delay []float64
		reasons := map[string]int{}
		for i := uint64(0); made < n; i++ {
			clip := synth.Sample(c, 6, seed*1_000_003+i)
			w := watchClip(t, clip.Setup, clip.Frames)
			for _, line := range w.said {
				if _, why, ok := strings.Cut(line, "take back contact: "); ok {
					reasons[why]++
				}
			}
			still := w.still()
			for _, h := range w.events {
				if h.Kind == phase.Contact && h.Withdrawn {
					taken++
				}
			}
			used := make([]bool, len(still))
			say := func(what string, at float64) {
				fmt.Printf("\n%c clip %d %s at %.3f, view %s\n", c, i, what, at, viewOf(&clip))
				if os.Getenv("WHY") != "" {
					told(w, clip, at)
				}
			}
			for k := range clip.Truth {
				tr := &clip.Truth[k]
				made++
				best, gap := -1, 0.5
				for j, h := range still {
					if d := math.Abs(clip.Real(float64(h.TimeUS)) - tr.Contact); h.Kind == phase.Contact && !used[j] && d <= gap {
						best, gap = j, d
					}
				}
				if best < 0 {
					missing++
					say(fmt.Sprintf("MISSING %v tip %.1f", tr.Stroke, tr.Measures["racket_speed.tip.contact"]), tr.Contact)
					continue
				}
				used[best] = true
				h := still[best]
				d := clip.Real(float64(h.at)) - shown(&clip, tr.Contact)
				e := clip.Real(float64(h.TimeUS)) - tr.Contact
				if math.Abs(e) <= 1.96*float64(h.SDUS)*1e-6/clip.Stretch {
					covered++
				} else {
					say(fmt.Sprintf("OFF by %+.3f of %.3f %v", e, float64(h.SDUS)*1e-6/clip.Stretch, tr.Stroke), tr.Contact)
				}
				if math.Abs(e) > 4*float64(h.SDUS)*1e-6/clip.Stretch {
					lies++
				}
				off, delay = append(off, e), append(delay, d)
				if d > 0.060 {
					late++
					say(fmt.Sprintf("LATE by %.3f, off %+.3f %v tip %.1f", d, e, tr.Stroke, tr.Measures["racket_speed.tip.contact"]), tr.Contact)
				}
			}
			for j, h := range still {
				if h.Kind == phase.Contact && !used[j] {
					stray++
					say("STRAY", clip.Real(float64(h.TimeUS)))
				}
			}
		}
		fmt.Printf("%c seed %d: %d strokes, missing %d, late %d, stray %d, taken back %d, covered %.1f%%, over 4 sd %d, within 60 ms %.1f%%; off %s; delay %s; why taken back %v\n", c, seed, made, missing, late, stray, taken, 100*float64(covered)/float64(made-missing), lies,
			100*float64(made-missing-late)/float64(made), quantiles(off), quantiles(delay), reasons)
	}
}

// shown returns when the first frame of the clip's first camera at or after an instant was
// taken, real seconds: no call can be heard before it.
func shown(clip *synth.Clip, at float64) float64 {
	for i := range clip.Frames {
		if f := &clip.Frames[i]; f.Camera == 0 && clip.Real(float64(f.TimeUS)) >= at {
			return clip.Real(float64(f.TimeUS))
		}
	}
	return at
}
