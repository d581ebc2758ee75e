package swing_test

import (
	"math"
	"slices"
	"testing"

	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/synth"
)

// contactsOf plays a clip and returns the calls of CONTACT and how many were taken back.
func contactsOf(t *testing.T, clip *synth.Clip) (calls []heard, taken int) {
	for _, h := range watchClip(t, clip.Setup, clip.Frames).events {
		switch {
		case h.Kind != phase.Contact:
		case h.Withdrawn:
			taken++
		default:
			calls = append(calls, h)
		}
	}
	return calls, taken
}

// A swing whose frames had to wait for what other cameras say of the take-back before it keeps the
// call that it had as they came: none is called twice, and none taken back.
func TestASwingInFramesThatWaitKeepsItsCall(t *testing.T) {
	for _, seed := range []uint64{7_000_021, 3_000_009, 3_000_012, 17_000_056} { // slow strokes after a take-back as fast
		clip := synth.Sample(synth.TwoViews, 6, seed)
		calls, taken := contactsOf(t, &clip)
		for i := range clip.Truth {
			n, at := 0, clip.Truth[i].Contact
			for _, h := range calls {
				if math.Abs(clip.Real(float64(h.TimeUS))-at) < 0.25 {
					n++
				}
			}
			if n != 1 {
				t.Errorf("seed %d: the contact at %.3f s was called %d times", seed, at, n)
			}
		}
		if taken > 0 {
			t.Errorf("seed %d: %d calls were taken back", seed, taken)
		}
	}
}

// A racket that slows where no ball is near it has met none: where balls are in view, what it does
// before its ball comes is not called and taken back.
func TestARacketThatSlowsFarFromTheBallIsNotCalled(t *testing.T) {
	strokes, takenBack := 0, 0
	for _, c := range []synth.Condition{synth.TwoViews, synth.Phone, synth.ImageOnly} {
		for seed := range uint64(6) {
			clip := synth.Sample(c, 4, 9300+seed)
			_, taken := contactsOf(t, &clip)
			strokes += len(clip.Truth)
			takenBack += taken
		}
	}
	t.Logf("%d strokes, %d calls taken back", strokes, takenBack)
	if takenBack*8 > strokes {
		t.Errorf("of %d strokes' calls %d were taken back", strokes, takenBack)
	}
}

// While nobody knows how much a clip is slowed, a ball that leaves along the line of sight turns
// upward in the image, as in a bounce: that hand and racket swing out of a wound chest then is
// told in the time of the slow lanes. The first stroke of a clip seen from behind is called as it comes.
func TestTheFirstStrokeOfASlowClipIsCalledAsItComes(t *testing.T) {
	for _, seed := range []uint64{17_000_065, 3_000_020, 3_000_027, 7_000_024, 7_000_034} { // late by two to seven seconds before
		clip := synth.Sample(synth.SlowMotion, 6, seed)
		at, late := clip.Truth[0].Contact, math.Inf(1)
		for _, h := range watchClip(t, clip.Setup, clip.Frames).still() {
			if h.Kind == phase.Contact && math.Abs(clip.Real(float64(h.TimeUS))-at) < 0.03 {
				late = clip.Real(float64(h.at)) - shown(&clip, at)
			}
		}
		if late > 0.060 {
			t.Errorf("seed %d: the contact at %.3f s was called %.3f s late", seed, at, late)
		}
	}
}

// A serve that leaves along the line of sight hardly turns the ball in the image: that the ball is on
// the strings of a racket that swings tells its contact in time.
func TestAServeAlongTheLineOfSightIsCalledAsItComes(t *testing.T) {
	serves := 0
	for seed, about := range map[uint64][]float64{7_000_022: {13.2, 39.5}, 17_000_056: {11.6}} { // real seconds
		clip := synth.Sample(synth.Phone, 6, seed)
		still := watchClip(t, clip.Setup, clip.Frames).still()
		for i := range clip.Truth {
			at, late := clip.Truth[i].Contact, math.Inf(1)
			if !slices.ContainsFunc(about, func(s float64) bool { return math.Abs(s-at) < 0.1 }) {
				continue
			}
			serves++
			for _, h := range still {
				if h.Kind == phase.Contact && math.Abs(clip.Real(float64(h.TimeUS))-at) < 1.96e-6*float64(h.SDUS) {
					late = clip.Real(float64(h.at)) - shown(&clip, at)
				}
			}
			if late > 0.060 {
				t.Errorf("seed %d: the contact at %.3f s was called %.3f s late", seed, at, late)
			}
		}
	}
	if serves != 3 {
		t.Errorf("%d serves", serves)
	}
}

// A stroke whose ball was on the strings as the chest unwound from far is no take-back: it is settled
// as it ends, and does not wait for the stroke that it might prepare.
func TestAStrokeOutOfAWoundChestIsSettledAsItEnds(t *testing.T) {
	clip := synth.Sample(synth.ImageOnly, 6, 7_000_033) // settled 0.57 to 0.77 s after FOLLOW_END before
	w, n := watchClip(t, clip.Setup, clip.Frames), 0
	s := score{clip: &clip, w: w}
	for i := range clip.Truth {
		end := clip.Truth[i].Events[phase.FollowEnd]
		for k := range w.swings {
			if math.Abs(s.at(k)-clip.Truth[i].Contact) > 0.25 || math.IsNaN(end) {
				continue
			}
			n++
			if late := clip.Real(float64(w.settled[k])) - end; late > 0.35 {
				t.Errorf("the stroke at %.2f s was settled %.2f s after its end", clip.Truth[i].Contact, late)
			}
		}
	}
	if n < 4 {
		t.Errorf("%d strokes", n)
	}
}
