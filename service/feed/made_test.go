package feed_test

import (
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/cue"
	"example.com/courtkin/service/feed"
	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/synth"
)

// TestMadePractice: made players, seen as phones see them, are fed while they
// wait and never at contact or in the follow-through.
func TestMadePractice(t *testing.T) {
	book, err := cue.Load(cue.Base())
	if err != nil {
		t.Fatal(err)
	}
	for _, condition := range []synth.Condition{synth.Phone, synth.ImageOnly} {
		for view := camera.ViewBehind; view <= camera.ViewLeft; view++ {
			stroke := body.Stroke(view)
			m := synth.NewSwing(synth.Spec{Stroke: stroke, Level: body.Advanced, Seed: uint64(view)})
			clip := synth.Shoot(m, condition, synth.View{From: view}, uint64(view))
			truth := clip.Truth[0]
			for _, c := range []struct {
				when string
				at   float64
				want feed.Action
			}{
				{"waiting", truth.Events[phase.TurnStart] - .15, feed.Go}, {"contact", truth.Contact, feed.Hold}, {"follow-through", truth.Contact + .3, feed.Hold},
			} {
				a := feed.Advise(book, request(clip, view, c.at))
				if a.Action != c.want {
					t.Errorf("%c, view %d, %v, %s: %v, %s", condition, view, stroke, c.when, a.Action, a.Reason)
				}
			}
		}
	}
}

// request asks with the frames of the 0.8 s before an instant.
func request(clip synth.Clip, view camera.Viewpoint, at float64) feed.Request {
	r := feed.Request{Axes: clip.Setup.Axes, Cameras: append([]camera.Camera(nil), clip.Setup.Cameras...),
		Least: feed.Ball{Speed: 5, Interval: 1}, Most: feed.Ball{Speed: 20, Interval: 5, Depth: 4}}
	for i := range r.Cameras {
		r.Cameras[i].View = view
	}
	for _, f := range clip.Frames {
		if t := clip.Real(float64(f.TimeUS)); t <= at && t > at-.8 {
			r.Now = append(r.Now, f)
		}
	}
	return r
}
