package swing

import (
	"fmt"
	"math"
	"os"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/track"
)

// courseOf solves the window that the machine finds in a clip.
func coursesOf(t testing.TB, s Setup, frames []body.Frame) []*track.Course {
	t.Helper()
	var out []*track.Course
	for _, w := range windowsOf(t, s, frames) {
		p, err := track.Solve(&track.Window{
			Frames: w.frames, Axes: s.Axes, Player: s.Player, Slow: 1,
			Guess: float64(w.ContactUS-w.frames[0].TimeUS) * 1e-6, GuessSD: 0.05,
		})
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, p.Mean())
	}
	return out
}

type foundWindow struct {
	Candidate
	frames []body.Frame
}

// windowsOf returns the windows that the machine cuts.
func windowsOf(t testing.TB, s Setup, frames []body.Frame) []foundWindow {
	t.Helper()
	var out []foundWindow
	m, err := New(s)
	if err != nil {
		t.Fatal(err)
	}
	m.settle = func(w []body.Frame, c Candidate, _ Setup) (*measure.Sheet, error) {
		out = append(out, foundWindow{c, append([]body.Frame(nil), w...)})
		return nil, nil
	}
	for i := range frames {
		if err := m.Push(&frames[i], &quiet{}); err != nil {
			t.Fatal(err)
		}
	}
	m.Finish(&quiet{})
	return out
}

func (f features) String() string {
	return fmt.Sprintf("high %+.2f tog %.2f turn %+4.0f side %+.2f lift %.2f wait %.2f rise %+.2f back %.2f fall %+.2f v %.1f slope %+3.0f tip %+.2f coil %.0f ball %.2f toss %v",
		f.high, f.together, f.turn, f.side, f.lift, f.wait, f.rise, f.back, f.fall, f.speed, f.slope, f.tipHigh, f.coil, f.ballFar, f.toss)
}

func TestSurveyFeatures(t *testing.T) {
	if os.Getenv("SURVEY") == "" {
		t.Skip("a look at the features, on demand")
	}
	for _, c := range recorded(t) {
		for _, k := range coursesOf(t, Setup{Axes: camera.AxesLevel}, c.frames) {
			f, _ := readFor(k, c.hand(), beside{ballFar: math.NaN(), ballFast: math.NaN()})
			fmt.Printf("%-18s %-22s %v\n", c.stroke(), c.name, f)
		}
	}
}

func TestRecordedStrokesAreNamed(t *testing.T) {
	for _, c := range recorded(t) {
		t.Run(c.name, func(t *testing.T) {
			for _, k := range coursesOf(t, Setup{Axes: camera.AxesLevel}, c.frames) {
				stroke, hand, sure := classify(k, Setup{}, beside{ballFar: math.NaN(), ballFast: math.NaN()})
				if stroke != c.stroke() || hand != c.hand() {
					f, _ := readFor(k, c.hand(), beside{ballFar: math.NaN(), ballFast: math.NaN()})
					t.Errorf("got %v, hand %d (%.2f), want %v, hand %d\n%v", stroke, hand, sure, c.stroke(), c.hand(), f)
				}
				t.Logf("%v %.3f", stroke, sure)
			}
		})
	}
}
