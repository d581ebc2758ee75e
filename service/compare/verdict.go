package compare

import (
	"math"
	"sort"

	"gonum.org/v1/gonum/stat/distuv"

	"example.com/courtkin/service/signal"
)

// claim is one comparison before its verdict.
type claim struct {
	d, sd     float64 // difference and its error, NaN when either side is missing
	margin    float64 // the smallest difference that matters
	allowance float64 // what unlike conditions may have caused
	tests     int     // independent looks behind d: 1 for a figure, the samples of a curve's largest
	blind     bool    // a condition forbids a verdict
	z         float64 // for a curve: the largest |d|/sd over its samples, allowance taken off; else NaN
	freedom   float64 // degrees of freedom of sd; 0: sd is known
}

// ensemble is how many draws from the posterior stand behind a figure's sd
// (method.md, step 9), which gives it ensemble − 1 degrees of freedom.
const ensemble = 32

// freedom returns the degrees of freedom of √(a² + b²) for two standard
// deviations of ensembles, in [31, 62]:
//
//	ν = (a² + b²)² / ((a⁴ + b⁴)/31)
//
// Welch 1947, Biometrika 34:28; Satterthwaite 1946, Biometrics Bull 2:110.
func freedom(a, b float64) float64 {
	if a == 0 && b == 0 {
		return ensemble - 1
	}
	m := math.Max(a, b)
	a, b = sq(a/m), sq(b/m)
	return (ensemble - 1) * sq(a+b) / (sq(a) + sq(b))
}

// p returns the two-sided p-value of no difference beyond the allowance, with
// Bonferroni's bound over the claim's tests; NaN when there is nothing to test.
//
//	z = max(0, |d| − allowance)/σ,  p = min(1, tests·2·P(T > z))
//
// with T of Student's distribution, since σ is itself estimated: among sixty
// comparisons the far tail counts, and there the normal one is too thin.
func (c claim) p() float64 {
	z := c.z
	if math.IsNaN(z) {
		z = math.Max(0, math.Abs(c.d)-c.allowance) / c.sd
	}
	return math.Min(1, float64(c.tests)*2*c.tail(z))
}

// tail returns the chance that a standardised error exceeds z ≥ 0.
func (c claim) tail(z float64) float64 {
	if c.freedom > 0 && !math.IsInf(z, 0) && !math.IsNaN(z) {
		return distuv.StudentsT{Sigma: 1, Nu: c.freedom}.Survival(z)
	}
	return math.Erfc(z/math.Sqrt2) / 2
}

// testable reports whether both sides gave a number with its error.
func (c claim) testable() bool {
	return !c.blind && !math.IsNaN(c.d) && c.sd > 0 && !math.IsInf(c.sd, 0)
}

// z90 is the 95 % point of the normal distribution: two one-sided tests at 5 %
// are a two-sided interval of 90 %.
const z90 = 1.644854

// equivalent reports whether the 90 % interval of the difference lies within
// ± margin (two one-sided tests; Schuirmann 1987, J Pharmacokinet Biopharm
// 15:657) while the difference itself is inside the error of measurement.
func (c claim) equivalent() bool {
	return math.Abs(c.d) <= z95*c.sd && math.Abs(c.d)+z90*c.sd <= c.margin
}

// judge gives each claim its verdict. All claims are one family: those are
// Different whose p-values pass Benjamini and Hochberg's rule at q, so that of
// the differences named a share of at most q is expected to be false. The rule
// holds for independent figures and for positively dependent ones (Benjamini &
// Yekutieli 2001, Ann Stat 29:1165), as those of one swing nearly are.
func judge(claims []claim, q float64) []Verdict {
	var p []float64
	var at []int
	for i, c := range claims {
		if c.testable() {
			p, at = append(p, c.p()), append(at, i)
		}
	}
	verdicts := make([]Verdict, len(claims))
	for i := range verdicts {
		verdicts[i] = CannotTell
	}
	for k, rejected := range signal.BenjaminiHochberg(p, q) {
		switch {
		case rejected:
			verdicts[at[k]] = Different
		case claims[at[k]].equivalent():
			verdicts[at[k]] = Same
		}
	}
	return verdicts
}

// weightOf places a difference between 0 and 1: what is different stands above
// otherWeight, by importance and by its size e in margins, as 1.5·e/(1 + e), which
// is full at twice the margin: what is plainly different is ordered by what
// matters. All else stands below, by importance alone.
func weightOf(v Verdict, matters, size float64) float64 {
	if v != Different {
		return otherWeight * matters
	}
	return otherWeight + (1-otherWeight)*matters*math.Min(1, 1.5*(1-1/(1+size)))
}

const otherWeight = 0.2

// causeOf names what a difference follows from where both stand: who passes the ball
// with the hands jammed must bend the arm, and telling him to straighten it would not
// make room. Common practice, no source.
var causeOf = map[string]string{
	"elbow.hitting.contact":       "spacing.hands",
	"elbow.hitting.forward_start": "spacing.hands",
	"elbow.support.contact":       "spacing.hands",
	"elbow.support.forward_start": "spacing.hands",
	"spacing.clearance":           "spacing.hands",
}

// underCauses puts differences below their causes, where the cause is itself different
// by its margin or more.
func underCauses(d []Difference, margin func(Difference) float64) {
	weight := map[string]float64{}
	for _, x := range d {
		if x.Verdict == Different && math.Abs(x.Difference) >= margin(x) {
			weight[x.Measure] = x.Weight
		}
	}
	for i := range d {
		if w, ok := weight[causeOf[d[i].Measure]]; ok && d[i].Verdict == Different {
			d[i].Weight = math.Max(math.Min(d[i].Weight, 0.99*w), otherWeight+1e-9)
		}
	}
}

// sortHeaviest orders differences by weight, ties by name.
func sortHeaviest(d []Difference) {
	sort.SliceStable(d, func(i, j int) bool {
		if d[i].Weight != d[j].Weight {
			return d[i].Weight > d[j].Weight
		}
		return d[i].Measure < d[j].Measure
	})
}

// Change is one difference to judge outside the comparison of two swings.
type Change struct {
	Difference float64 // NaN: nothing to judge
	SD         float64 // its standard deviation
	Margin     float64 // the smallest difference that matters: see Margin
	Freedom    float64 // degrees of freedom of SD; 0: known
}

// Judge gives each change its verdict, all of them being one family with false
// discovery rate q, by the rules of Swings.
func Judge(changes []Change, q float64) []Verdict {
	claims := make([]claim, len(changes))
	for i, c := range changes {
		claims[i] = claim{d: c.Difference, sd: c.SD, margin: c.Margin, tests: 1, z: absent, freedom: c.Freedom}
	}
	return judge(claims, q)
}
