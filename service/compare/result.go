package compare

import (
	"errors"
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
)

// Verdict is what can be said of a difference. The numbers are those of the wire.
type Verdict uint8

// Verdicts.
const (
	VerdictUnknown Verdict = iota
	Same                   // any difference is inside the error, and the error is small enough to say so
	Different
	CannotTell // the reason says why
)

// String returns the verdict as a coach reads it.
func (v Verdict) String() string {
	switch v {
	case Same:
		return "same"
	case Different:
		return "different"
	case CannotTell:
		return "cannot tell"
	}
	return "unknown"
}

// Options says who swings and how strict the comparison is.
type Options struct {
	// Reference and Candidate tell the statures, metres; 0 where unknown: the
	// figure body.stature of the sheet is then used when it is there.
	Reference, Candidate body.Player
	// FalseDiscovery is the largest expected share of false findings among
	// those called DIFFERENT, in (0, 0.5].
	FalseDiscovery float64
	Locale         string // BCP 47; English and German are spoken, English stands for the rest
}

// defaultFalseDiscovery is 0.01. A coach acts on every difference he is told;
// and standard deviations are themselves estimates: where a stated 95 %
// interval covers only 92 %, the sd is 12 % short, and a nominal 0.01 over some
// 60 comparisons then becomes about 0.05, the usual limit. Our choice.
const defaultFalseDiscovery = 0.01

// Default returns the usual options: statures as the sheets tell them, one
// false finding in a hundred.
func Default() Options { return Options{FalseDiscovery: defaultFalseDiscovery} }

// Validate tells what is unfit about the options.
func (o Options) Validate() error {
	if !(o.FalseDiscovery > 0 && o.FalseDiscovery <= 0.5) {
		return errors.New("false discovery rate must be in (0, 0.5]")
	}
	for _, p := range []body.Player{o.Reference, o.Candidate} {
		if p.Stature != 0 && !(p.Stature >= 0.8 && p.Stature <= 2.5) {
			return errors.New("stature must be 0 or in [0.8, 2.5] m")
		}
	}
	return nil
}

// Difference is one figure of both swings. Numbers that do not exist are NaN.
type Difference struct {
	Measure    string
	Phase      phase.Kind // where in the swing the figure belongs
	Reference  float64
	Candidate  float64 // a length is scaled to the reference's stature where both are known
	Difference float64 // Candidate − Reference
	SD         float64 // of the difference
	Unit       string
	Verdict    Verdict
	Weight     float64 // 0 to 1: how much it matters for this stroke; above 0.2 only what is different
	Reason     string  // why it cannot be told, or what weakens or qualifies the verdict
	Text       string  // one sentence a coach would say
}

// TimePair is one knot of the alignment, seconds from contact.
type TimePair struct{ Reference, Candidate float64 }

// CurveDifference is one curve of both swings, candidate − reference, after alignment.
type CurveDifference struct {
	Series    string
	RMS       float64
	Largest   float64 // of the greatest size, with its sign
	LargestAt float64 // reference seconds from contact
	Unit      string
	Verdict   Verdict
}

// Result is the whole comparison.
type Result struct {
	Differences []Difference      // heaviest first
	Warnings    []measure.Warning // unlike conditions, the weightiest first
	Alignment   []TimePair        // rising in both; linear between neighbours
	Curves      []CurveDifference // different first, then by size
	Summary     string
}

var absent = math.NaN()
