package trial_test

import (
	"math"
	"strings"
	"testing"

	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/synth"
	"example.com/courtkin/service/trial"
)

// Calls 10 ms after the truth with an sd of 8 ms, heard 40 ms after the frame that
// shows it, and one that was withdrawn.
func TestLiveScoresCalls(t *testing.T) {
	r, err := trial.RunLive(synth.World, 6, 3, func(c synth.Clip) ([]trial.Called, error) {
		out := []trial.Called{{Kind: phase.Contact, At: c.Truth[0].Contact - 0.4, SD: 0.01, TakenBy: 1}}
		for _, s := range c.Truth {
			frame := s.Contact + 1
			for i := range c.Frames {
				if at := c.Real(float64(c.Frames[i].TimeUS)); at >= s.Contact {
					frame = min(frame, at)
				}
			}
			out = append(out, trial.Called{Kind: phase.Contact, At: s.Contact + 0.010, SD: 0.008, Heard: frame + 0.040, TakenBy: math.NaN()})
		}
		return out, nil
	})
	if err != nil {
		t.Fatal(err)
	}
	k := &r.Events[phase.Contact]
	if math.Abs(k.Bias()-10) > 1e-6 || math.Abs(k.Delays[0]-40) > 1e-6 || k.Coverage() != 100 || k.Missing != 0 || k.Stray != 0 || k.Taken < 1 {
		t.Errorf("bias %g, delay %g, coverage %g, missing %d, stray %d, taken %d", k.Bias(), k.Delays[0], k.Coverage(), k.Missing, k.Stray, k.Taken)
	}
	if k.AtOnce() != 100 || r.Events[phase.TurnStart].AtOnce() != 0 {
		t.Errorf("at once: %g %% of the contacts, %g %% of the turns", k.AtOnce(), r.Events[phase.TurnStart].AtOnce())
	}
	if r.Events[phase.TurnStart].Missing != r.True {
		t.Errorf("%d turns missing, want %d", r.Events[phase.TurnStart].Missing, r.True)
	}
	if s := r.Table(); !strings.Contains(s, "CONTACT") || !strings.Contains(s, "delay") {
		t.Error(s)
	}
}
