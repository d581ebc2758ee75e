package practice

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/compare"
	"example.com/courtkin/service/cue"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/signal"
)

// session holds the swings of one stroke in the order played.
type session struct {
	stroke body.Stroke
	sheets []*measure.Sheet
	values [][]float64 // [measure of the catalog][swing]; NaN where there is none
	sds    [][]float64
	due    [][]cue.Cue // corrections that each swing calls for
}

// sessions parts the sheets by stroke, in wire order; strokes that were not
// played and absent sheets are left out.
func sessions(sheets []*measure.Sheet) []*session {
	byStroke := map[body.Stroke]*session{}
	for _, s := range sheets {
		if s == nil {
			continue
		}
		if byStroke[s.Stroke] == nil {
			byStroke[s.Stroke] = &session{stroke: s.Stroke}
		}
		byStroke[s.Stroke].sheets = append(byStroke[s.Stroke].sheets, s)
	}
	var out []*session
	for stroke := body.StrokeUnknown; stroke < body.NumStrokes; stroke++ {
		if g := byStroke[stroke]; g != nil {
			g.read()
			out = append(out, g)
		}
	}
	return out
}

// largest bounds figures, in any unit: what is beyond is no figure of a swing,
// and its square must not overflow.
const largest = 1e9

// read lays the figures out by measure. The player's stature is none of a swing.
func (g *session) read() {
	rows := len(measure.Catalog())
	g.values, g.sds = table(rows, len(g.sheets)), table(rows, len(g.sheets))
	for k, s := range g.sheets {
		for _, f := range s.Figures {
			if i, ok := measure.Index(f.Name); ok && f.Name != measure.Stature && f.Known() && math.Abs(f.Value) <= largest {
				g.values[i][k], g.sds[i][k] = f.Value, math.Min(f.SD, largest)
			}
		}
	}
}

// table returns rows × columns of NaN.
func table(rows, columns int) [][]float64 {
	t := make([][]float64, rows)
	for i := range t {
		t[i] = make([]float64, columns)
		for k := range t[i] {
			t[i][k] = math.NaN()
		}
	}
	return t
}

// of returns the values of a measure by name; nil when the catalog lacks it.
func (g *session) of(name string) []float64 {
	if i, ok := measure.Index(name); ok {
		return g.values[i]
	}
	return nil
}

// present returns the values that are numbers, with their places.
func present(values []float64) (at, x []float64) {
	for k, v := range values {
		if !math.IsNaN(v) {
			at, x = append(at, float64(k)), append(x, v)
		}
	}
	return at, x
}

// figures summarises every measure that at least one swing has.
func (g *session) figures() []Figure {
	var out []Figure
	for i, row := range measure.Catalog() {
		at, x := present(g.values[i])
		if len(x) == 0 {
			continue
		}
		_, sds := present(g.sds[i])
		f := Figure{Stroke: g.stroke, Measure: row.Name, Unit: row.Unit, Count: uint32(len(x)),
			Median: signal.Median(x), Spread: signal.MAD(x), TrendP: 1, ChangeFromBaseline: math.NaN()}
		f.TrendPerSwing, f.TrendP = trend(at, x)
		f.SmallestRealChange = signal.MDC95(standardError(x, sds))
		out = append(out, f)
	}
	return out
}

// leastForTrend is the fewest values for a trend: below four no order of them
// reaches p = 0.05 (Mann–Kendall, exact: 4 values give 2/4! = 0.083, 5 give 0.017).
const leastForTrend = 4

// mostForTrend bounds the pairs of slopes; a longer series is thinned to the
// medians of equal blocks, which keeps its slope and spreads its noise less.
const mostForTrend = 300

// trend returns the Theil–Sen slope a swing and the two-sided Mann–Kendall p;
// 0 and 1 for too few values.
func trend(at, x []float64) (slope, p float64) {
	if len(x) < leastForTrend {
		return 0, 1
	}
	at, x = thin(at, x)
	_, _, p = signal.MannKendall(x)
	return signal.TheilSen(at, x), p
}

func thin(at, x []float64) (ta, tx []float64) {
	if len(x) <= mostForTrend {
		return at, x
	}
	block := (len(x) + mostForTrend - 1) / mostForTrend
	for i := 0; i < len(x); i += block {
		j := min(i+block, len(x))
		ta, tx = append(ta, signal.Median(at[i:j])), append(tx, signal.Median(x[i:j]))
	}
	return ta, tx
}

// medianVariance is the variance of a median against that of a mean of normal
// values: π/2 (Kenney & Keeping 1951, Mathematics of Statistics 2, §7.7; from memory).
const medianVariance = math.Pi / 2

// commonShare is the share of a figure's own error that all swings of one
// practice have in common (the camera's place, the scale, joint centres set off
// by a few cm: Needham et al. 2021), and that more swings do not average out.
// Our choice: half.
const commonShare = 0.5

// fewValues is the count below which the spread of the values says little.
const fewValues = 5

// standardError returns the standard error of measurement of a median over a
// practice, from the swing-to-swing spread s and the figures' own error σ:
//
//	SEM² = (π/2)·s²/n + max(σ·commonShare, √(σ² − s²))²
//
// The second term is what is common: where figures scatter less than their own
// error, the rest of the error must be common. It is 0 without errors.
func standardError(x, sds []float64) float64 {
	own := finite(signal.Median(sds))
	s := signal.MAD(x)
	if len(x) < fewValues {
		s = max(s, finite(signal.SD(x)), own)
	}
	common := max(commonShare*own, math.Sqrt(max(0, own*own-s*s)))
	return math.Sqrt(medianVariance*s*s/float64(len(x)) + common*common)
}

func finite(x float64) float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return 0
	}
	return x
}

// falseDiscovery is the largest expected share of false changes among those
// called different, and of false trends among those told: the usual 0.05.
const falseDiscovery = 0.05

// against sets the figures against an earlier summary's.
func against(figures, baseline []Figure) {
	then := map[body.Stroke]map[string]Figure{}
	for _, f := range baseline {
		if then[f.Stroke] == nil {
			then[f.Stroke] = map[string]Figure{}
		}
		then[f.Stroke][f.Measure] = f
	}
	var changes []compare.Change
	var at []int
	for i := range figures {
		f := &figures[i]
		b, ok := then[f.Stroke][f.Measure]
		if !ok || b.Count == 0 || b.Unit != f.Unit || !(math.Abs(b.Median) <= largest) {
			continue
		}
		f.ChangeFromBaseline = f.Median - b.Median
		sd := math.Hypot(errorOf(*f), errorOf(b))
		changes = append(changes, compare.Change{Difference: f.ChangeFromBaseline, SD: sd, Margin: compare.Margin(f.Measure, f.Unit, b.Median), Freedom: freedom(f.Count, b.Count)})
		at = append(at, i)
	}
	for k, v := range compare.Judge(changes, falseDiscovery) {
		figures[at[k]].ChangeVerdict = v
	}
}

// spreadEfficiency is how well a median absolute deviation tells the spread of
// normal values, against the standard deviation: 37 % (Rousseeuw & Croux 1993,
// J Am Stat Assoc 88:1273).
const spreadEfficiency = 0.37

// freedom returns about how many degrees of freedom stand behind the error of a
// change between medians of n and m swings, at least 1.
func freedom(n, m uint32) float64 {
	return max(1, spreadEfficiency*(float64(n)+float64(m)-2))
}

// errorOf returns the standard error behind a figure's smallest real change;
// NaN when it tells none.
func errorOf(f Figure) float64 {
	if !(f.SmallestRealChange > 0) || math.IsInf(f.SmallestRealChange, 0) {
		return math.NaN()
	}
	return f.SmallestRealChange / signal.MDC95(1)
}
