package swing

import (
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
)

// settle measures one swing from the raw frames of its window.
func settle(window []body.Frame, guess Candidate, setup Setup) (*measure.Sheet, error) {
	if len(window) == 0 {
		return nil, nil
	}
	start := window[0].TimeUS
	return &measure.Sheet{
		ID:         guess.ID,
		Stroke:     setup.Expected,
		Hand:       setup.Player.Hand,
		StartUS:    start,
		Events:     []phase.Event{{Kind: phase.Contact, Time: float64(guess.ContactUS-start) * 1e-6, SD: 0.05}},
		FirstFrame: window[0].Index,
		LastFrame:  window[len(window)-1].Index,
	}, nil
}
