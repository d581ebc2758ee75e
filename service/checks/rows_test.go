package checks

import (
	"flag"
	"math"
	"slices"
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

// row is one check. It holds when |got − want| ≤ tol, or, with below, when got <
// want, or, with above, when got ≥ want.
type row struct {
	id       string
	quantity string
	unit     string
	want     float64
	tol      float64
	below    bool
	above    bool
	got      func(t *testing.T) float64
	source   string
	seen     string
}

// holds reports whether got passes.
func (r row) holds(got float64) bool {
	switch {
	case r.below:
		return got < r.want
	case r.above:
		return got >= r.want
	}
	return math.Abs(got-r.want) <= r.tol
}

// section is a heading of the page with its rows.
type section struct {
	title    string
	rows     []row
	recorded bool                    // needs the recorded strokes
	made     bool                    // runs the whole machine on many made swings
	about    string                  // a paragraph under the heading
	table    func(*testing.T) string // printed after the rows
}

// skip skips the test, aloud, when the section cannot or shall not be run here: the
// whole machine runs too long under the race detector, and nothing here is concurrent
// that is not raced elsewhere.
func (s *section) skip(t *testing.T) {
	t.Helper()
	if s.recorded {
		recorded(t)
	}
	if (s.recorded || s.made) && (racing || testing.Short()) {
		t.Skip("SKIPPED: not with -short, not under the race detector: run go test ./service/checks")
	}
}

// sections is the whole page, in order; made once, so that live rows run once.
var sections = sync.OnceValue(func() []section {
	madeFacts, recordedFacts := factRows()
	return []section{
		{title: "Filters and derivatives", rows: filterRows()},
		{title: "A measured movement", rows: pezzackRows()},
		{title: "Impact", rows: impactRows()},
		{title: "Statistics", rows: statisticsRows()},
		{title: "The court", rows: courtRows()},
		{title: "Standards", rows: standardsRows()},
		{title: "Dimensions", rows: dimensionRows()},
		{title: "The clock", rows: append(clockRows(), fallRows()...)},
		{title: "The ball of made swings", rows: ballRows()},
		{title: "The body", rows: bodyRows()},
		{title: "Published swings, measured back", rows: slices.Concat(bandRows(), goldenRows(), restitutionRows()), made: true},
		{title: "Facts of the trade, on made strokes", rows: madeFacts, made: true},
		{title: "Made swings, changed in what must not matter", rows: madeChangeRows(), made: true},
		{title: "SciPy, statsmodels and numpy, run live", rows: liveRows()},
		{title: "Recorded strokes of real players", rows: append(recordedRows(), repeatRows()...), recorded: true, about: aboutRecorded, table: recordedTable},
		{title: "Facts of the trade, on recorded strokes", rows: recordedFacts, recorded: true},
		{title: "A saying of the trade that does not hold", rows: sayingRows(), recorded: true, about: aboutSaying},
		{title: "Recorded strokes, changed in what must not matter", rows: append(changedRows(), streamRows()...), recorded: true},
		{title: "Recorded strokes, seen again", rows: reseenRows(), recorded: true, about: aboutReseen, table: reseenTable},
	}
})

func TestRows(t *testing.T) {
	seen := map[string]bool{}
	for _, s := range sections() {
		t.Run(s.title, func(t *testing.T) {
			s.skip(t)
			for _, r := range s.rows {
				t.Run(r.id, func(t *testing.T) {
					if seen[r.id] {
						t.Fatal("two rows share this name")
					}
					seen[r.id] = true
					r.check(t)
				})
			}
		})
	}
	whole := flag.Lookup("test.run").Value.String() == "" && !racing && !testing.Short() && haveRecordings()
	for id := range failing {
		if whole && !seen[id] {
			t.Errorf("%s is listed as failing and is no row", id)
		}
	}
}

func (r row) check(t *testing.T) {
	if r.source == "" || r.seen == "" {
		t.Error("a row without a source")
	}
	if !r.below && !r.above && !(r.tol > 0) {
		t.Error("a row without a tolerance")
	}
	got := r.result(t)
	why, known := failing[r.id]
	switch {
	case r.holds(got) && known:
		t.Errorf("%s = %.8g %s holds now: take %q off the list of failing rows", r.quantity, got, r.unit, r.id)
	case !r.holds(got) && known:
		t.Logf("FAILS, as is known (%s): %s = %.8g %s, want %s", why, r.quantity, got, r.unit, r.wanted())
	case !r.holds(got):
		t.Errorf("%s = %.8g %s, want %s (%s)", r.quantity, got, r.unit, r.wanted(), r.source)
	}
}

// results holds what was got, so that page and rows run the machine once.
var results = map[string]float64{}

func (r row) result(t *testing.T) float64 {
	v, ok := results[r.id]
	if !ok {
		v = r.got(t)
		results[r.id] = v
	}
	return v
}

// value makes a constant result a row's got.
func value(v float64) func(*testing.T) float64 { return func(*testing.T) float64 { return v } }
