package trial

import (
	"fmt"
	"time"

	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/synth"
)

// Analyse is what is on trial: all swings found in a clip.
type Analyse func(synth.Clip) ([]*measure.Sheet, error)

// mostInClip is the most strokes in one clip of a trial: Sample(condition, mostInClip, Miss.Seed)
// makes a missed one again.
const mostInClip = 6

// Run makes clips of one condition until at least n strokes have been made, has each analysed,
// and scores the answers. The same condition, n and seed give the same clips.
func Run(c synth.Condition, n int, seed uint64, analyse Analyse) *Report {
	r := NewReport(c, seed)
	var spent time.Duration
	for i := uint64(0); r.True < n; i++ {
		s := seed*1_000_003 + i
		clip := synth.Sample(c, mostInClip, s)
		begin := time.Now()
		sheets, err := analyse(clip)
		spent += time.Since(begin)
		if err != nil {
			r.Failures = append(r.Failures, fmt.Sprintf("clip %d: %v", i, err))
		}
		r.Add(&clip, sheets, s)
	}
	if r.True > 0 {
		ms := float64(spent.Microseconds()) / 1000
		r.MSPer, r.MSPerClip = ms/float64(r.True), ms/float64(r.Clips)
	}
	return r
}
