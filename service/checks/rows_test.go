package checks

import (
	"math"
	"sync"
	"testing"
)

// How the expected number of a row was had.
const (
	read       = "read"                // in the source itself
	readSecond = "read at second hand" // in a review, a textbook page or another project's tests
	computed   = "computed"            // arithmetic or simulation from stated inputs
	memory     = "from memory"         // recomputed where possible, not seen again in print
	readCalc   = "read, recomputed"
	memoryCalc = "from memory, recomputed"
)

// row is one check. It holds when |got − want| ≤ tol, or, with below, when got < want.
type row struct {
	id       string
	quantity string
	unit     string
	want     float64
	tol      float64
	below    bool
	got      func(t *testing.T) float64
	source   string
	seen     string
}

// holds reports whether got passes.
func (r row) holds(got float64) bool {
	if r.below {
		return got < r.want
	}
	return math.Abs(got-r.want) <= r.tol
}

// section is a heading of the page with its rows.
type section struct {
	title string
	rows  []row
}

// sections is the whole page, in order; made once, so that live rows run once.
var sections = sync.OnceValue(func() []section {
	return []section{
		{"Filters and derivatives", filterRows()},
		{"A measured movement", pezzackRows()},
		{"Impact", impactRows()},
		{"Statistics", statisticsRows()},
		{"The court", courtRows()},
		{"The clock", clockRows()},
		{"The ball of made swings", ballRows()},
		{"Published swings, measured back", bandRows()},
		{"SciPy and numpy, run live", liveRows()},
	}
})

func TestRows(t *testing.T) {
	seen := map[string]bool{}
	for _, s := range sections() {
		for _, r := range s.rows {
			t.Run(r.id, func(t *testing.T) {
				if seen[r.id] {
					t.Fatal("two rows share this name")
				}
				seen[r.id] = true
				if r.source == "" || r.seen == "" {
					t.Error("a row without a source")
				}
				if !r.below && !(r.tol > 0) {
					t.Error("a row without a tolerance")
				}
				if got := r.got(t); !r.holds(got) {
					t.Errorf("%s = %.8g %s, want %.8g ± %g (%s)", r.quantity, got, r.unit, r.want, r.tol, r.source)
				}
			})
		}
	}
}

// value makes a constant result a row's got.
func value(v float64) func(*testing.T) float64 { return func(*testing.T) float64 { return v } }
