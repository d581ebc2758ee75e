package swing_test

import (
	"fmt"
	"math"
	"os"
	"strconv"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/swing"
	"example.com/courtkin/service/synth"
)

// TestSurveyClocks counts, on demand, how the factor of slow motion that nobody states
// comes out, clip by clip and window by window: right (within 5 %) and sure, in doubt,
// wrong and sure. Conditions of one camera in true time are asked as well, not told
// their factor; WHY=1 prints what fell.
//
//	CLOCKS=200 SEED=7 COND=S go test ./service/swing -run SurveyClocks -v
func TestSurveyClocks(t *testing.T) {
	n, _ := strconv.Atoi(os.Getenv("CLOCKS"))
	if n == 0 {
		t.Skip("a survey of clocks, on demand")
	}
	seed, _ := strconv.ParseUint(os.Getenv("SEED"), 10, 64)
	from, _ := strconv.Atoi(os.Getenv("FROM"))
	for _, c := range []synth.Condition{synth.SlowMotion, synth.Phone, synth.ImageOnly, synth.BodyOnly} {
		if k := os.Getenv("COND"); k != "" && k != string(rune(c)) {
			continue
		}
		const right, doubt, rightDoubt, wrong = 0, 1, 2, 3
		var windows, clips [4]int
		none := 0
		for i := from; i < from+n; i++ {
			clip := synth.Sample(c, 6, seed*1_000_003+uint64(i))
			for k := range clip.Setup.Cameras {
				clip.Setup.Cameras[k].SlowMotion, clip.Setup.Cameras[k].CaptureRate = 0, 0
			}
			m, err := swing.New(clip.Setup)
			if err != nil {
				t.Fatal(err)
			}
			var lines []string
			if os.Getenv("WHY") != "" {
				m.Explain(func(s string) { lines = append(lines, s) })
				m.ExplainLanes(func(s string) { lines = append(lines, s) })
			}
			worst, told := -1, ""
			m.SettleWith(func(w []body.Frame, g swing.Candidate, s swing.Setup) (*measure.Sheet, error) {
				k := right
				off := math.Abs(g.Slow/clip.Stretch-1) > 0.05
				switch {
				case g.DoubtSlow && off:
					k = doubt
				case g.DoubtSlow:
					k = rightDoubt
				case off:
					k = wrong
				}
				windows[k]++
				worst = max(worst, k)
				told += fmt.Sprintf("  at %.2f s: %.2f ± %.2f", clip.Real(float64(g.ContactUS)), g.Slow, g.SlowSD)
				if k == wrong {
					told += swing.FallsOf(w, g.Camera, s)
				}
				return swing.Unsettled(w, g, s)
			})
			for k := range clip.Frames {
				if err := m.Push(&clip.Frames[k], &watch{}); err != nil {
					t.Fatal(err)
				}
			}
			m.Finish(&watch{})
			if worst < 0 {
				none++
				continue
			}
			clips[worst]++
			if worst == wrong || os.Getenv("WHY") == "2" {
				fmt.Printf("%c clip %d, made %g from %.0f Hz, %d strokes:%s\n", c, i, clip.Stretch, clip.Rate, len(clip.Truth), told)
				for _, l := range lines {
					fmt.Println("   ", l)
				}
			}
		}
		fmt.Printf("%c seed %d: windows right %d, in doubt and right %d, in doubt and wrong %d, wrong and sure %d; clips by their worst %d, %d, %d, %d, none found %d\n",
			c, seed, windows[right], windows[rightDoubt], windows[doubt], windows[wrong], clips[right], clips[rightDoubt], clips[doubt], clips[wrong], none)
	}
}
