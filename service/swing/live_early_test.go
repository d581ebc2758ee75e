package swing_test

import (
	"math"
	"testing"

	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/synth"
)

// A body alone shows its contact in the hand's speed alone; most are called within 60 ms of the frame
// that shows them all the same, within two of the sds that were said, and few forward swings are called
// out of the noise of a hand that waits.
func TestABodyAloneIsCalledAsItHits(t *testing.T) {
	strokes, soon, held, forwards := 0, 0, 0, 0
	for seed := range uint64(14) {
		clip := synth.Sample(synth.BodyOnly, 6, 9500+seed)
		w := watchClip(t, clip.Setup, clip.Frames)
		for i := range clip.Truth {
			at := clip.Truth[i].Contact
			strokes++
			for _, h := range w.still() {
				off := math.Abs(clip.Real(float64(h.TimeUS)) - at)
				if h.Kind != phase.Contact || off > 0.25 {
					continue
				}
				if off <= 1.96e-6*float64(h.SDUS) {
					held++
				}
				if clip.Real(float64(h.at))-shown(&clip, at) <= 0.060 {
					soon++
				}
				break
			}
		}
		for _, h := range w.events {
			if h.Kind == phase.ForwardStart && h.Withdrawn {
				forwards++
			}
		}
	}
	t.Logf("%d strokes, %d called within 60 ms, %d within their sds; %d forward swings taken back", strokes, soon, held, forwards)
	if soon*5 < strokes*3 || held*10 < strokes*9 || forwards > 2*strokes {
		t.Errorf("of %d strokes %d called within 60 ms, %d within their sds; %d forward swings taken back", strokes, soon, held, forwards)
	}
}

// A ball that bounces at the racket as it is taken back breaks its flight as surely as one that is hit:
// the hit after it takes its place as it comes.
func TestABounceBeforeTheRacketGivesWayToTheHit(t *testing.T) {
	for _, c := range []struct {
		seed  uint64
		about float64 // s: the stroke, called 0.08 and 0.12 s late before
	}{{19_000_068, 9.44}, {29_000_093, 26.02}} {
		clip := synth.Sample(synth.Phone, 6, c.seed)
		late := math.Inf(1)
		for _, h := range watchClip(t, clip.Setup, clip.Frames).still() {
			if at := clip.Real(float64(h.TimeUS)); h.Kind == phase.Contact && math.Abs(at-c.about) < 0.05 {
				late = clip.Real(float64(h.at)) - shown(&clip, at)
			}
		}
		if !(late <= 0.060) {
			t.Errorf("seed %d: the contact at %.2f s was called %.3f s late", c.seed, c.about, late)
		}
	}
}
