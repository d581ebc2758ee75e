package practice

import (
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/compare"
	"example.com/courtkin/service/cue"
	"example.com/courtkin/service/measure"
)

// Figure is one measure of one stroke over a practice.
type Figure struct {
	Stroke             body.Stroke
	Measure            string
	Unit               string
	Count              uint32          // swings with a value
	Median             float64         // of those
	Spread             float64         // median absolute deviation, scaled to a standard deviation
	TrendPerSwing      float64         // Theil–Sen slope, unit per swing of this stroke; 0 below four values
	TrendP             float64         // Mann–Kendall, two-sided; 1 below four values
	SmallestRealChange float64         // between two practices like this one, 95 %
	ChangeFromBaseline float64         // median − the baseline's; NaN without a baseline
	ChangeVerdict      compare.Verdict // VerdictUnknown without a baseline
}

// Count is how often a stroke was played.
type Count struct {
	Stroke body.Stroke
	Count  uint32
}

// Request is what there is to look over.
type Request struct {
	Sheets   []*measure.Sheet // in the order played
	Baseline []Figure         // an earlier summary's figures
	Player   body.Player
	Locale   string
}

// Summary is what a practice showed.
type Summary struct {
	Figures        []Figure // by stroke, then in the order of the catalog
	TypicalSwingID string   // medoid of the most frequent stroke; empty without swings
	BestSwingID    string   // fastest tip at contact among those with the fewest corrections due
	Focus          *cue.Cue // the one thing to work on next time; nil when nothing is due
	Cautions       []cue.Cue
	Counts         []Count
	Text           string
}
