package checks

import (
	"bufio"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"example.com/courtkin/service/signal"
)

const (
	pezzackSource = "Pezzack, Norman & Winter 1977, J Biomech 10:377; data as in Vint & Hinrichs 1996, J Biomech 29:1637"
	pezzackStep   = .0201 // s
)

// pezzack is the benchmark of differentiation: the angle of a segment as filmed,
// the same with noise, and its angular acceleration from an accelerometer.
type pezzack struct{ time, angle, noisy, acceleration []float64 }

func readPezzack(t *testing.T) pezzack {
	t.Helper()
	f, err := os.Open("../../testdata/reference/pezzack.txt")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var p pezzack
	for lines := bufio.NewScanner(f); lines.Scan(); {
		if strings.HasPrefix(lines.Text(), "#") {
			continue
		}
		var v [4]float64
		if _, err := fmt.Sscan(lines.Text(), &v[0], &v[1], &v[2], &v[3]); err != nil {
			t.Fatal(err)
		}
		p.time, p.angle = append(p.time, v[0]), append(p.angle, v[1])
		p.noisy, p.acceleration = append(p.noisy, v[2]), append(p.acceleration, v[3])
	}
	return p
}

// misfit is the RMS distance of an acceleration from the accelerometer's,
// without the first and last sample, where no second difference exists.
func (p pezzack) misfit(got []float64) float64 {
	sum := 0.0
	for i := 1; i < len(got)-1; i++ {
		d := got[i] - p.acceleration[i]
		sum += d * d
	}
	return math.Sqrt(sum / float64(len(got)-2))
}

// asPublished is the cutoff at which our filter equals one whose hertz, and not
// tan(π·cutoff/rate), were divided by Winter's C: how the published column was made.
func asPublished(cutoff float64) float64 {
	c := math.Pow(math.Sqrt2-1, .25)
	return math.Atan(c*math.Tan(math.Pi*cutoff*pezzackStep/c)) / (math.Pi * pezzackStep)
}

// byFilter filters the noisy angle at cutoff Hz (0: not at all) and takes second differences.
func (p pezzack) byFilter(cutoff float64) []float64 {
	x := p.noisy
	if cutoff > 0 {
		x = signal.ZeroLag(x, cutoff, 1/pezzackStep)
	}
	_, a := signal.Parabola(x, pezzackStep, 1)
	return a
}

// bySmoother lets the data choose jerk density and noise.
func (p pezzack) bySmoother(t *testing.T) []float64 {
	samples := make([]signal.Sample, len(p.time))
	for i := range samples {
		samples[i] = signal.Sample{Time: p.time[i], Value: p.noisy[i], SD: 1}
	}
	var s signal.Smoother
	q, scale, err := s.Fit(samples)
	if err != nil {
		t.Fatal(err)
	}
	for i := range samples {
		samples[i].SD = scale
	}
	states, err := s.Smooth(samples, q)
	if err != nil {
		t.Fatal(err)
	}
	a := make([]float64, len(states))
	for i, x := range states {
		a[i] = x.Acc
	}
	return a
}

// bySpline lets cross-validation choose the smoothing.
func (p pezzack) bySpline(t *testing.T, m int) ([]float64, *signal.Spline) {
	s, err := signal.FitSplineGCV(p.time, p.noisy, nil, m)
	if err != nil {
		t.Fatal(err)
	}
	a := make([]float64, len(p.time))
	for i, at := range p.time {
		_, _, a[i] = s.At(at)
	}
	return a, s
}

// pezzackRows: the published column computed by others' filters (± 5 % for
// another padding), and the bounds that our own methods must keep.
func pezzackRows() []row {
	filtered := func(id string, cutoff, want float64) row {
		name := fmt.Sprintf("RMS error of acceleration, zero-lag filter at %g Hz", cutoff)
		if cutoff == 0 {
			name = "RMS error of acceleration, no filter"
		}
		return row{id: id, quantity: name, unit: "rad/s²", want: want, tol: .05 * want,
			got: func(t *testing.T) float64 { p := readPezzack(t); return p.misfit(p.byFilter(asPublished(cutoff))) }, source: pezzackSource, seen: readCalc}
	}
	bound := func(id, method string, want float64, got func(t *testing.T, p pezzack) float64) row {
		return row{id: id, quantity: "RMS error of acceleration, " + method, unit: "rad/s²", want: want, below: true,
			got: func(t *testing.T) float64 { return got(t, readPezzack(t)) }, source: pezzackSource, seen: read}
	}
	noise := func(id, method string, got func(t *testing.T, p pezzack) float64) row {
		return row{id: id, quantity: "noise of the angle, " + method, unit: "rad", want: .0063, tol: .0015,
			got: func(t *testing.T) float64 { return got(t, readPezzack(t)) }, source: pezzackSource, seen: readCalc}
	}
	extreme := func(id, quantity string, want, tol float64, of func([]float64) float64, from func(p pezzack) []float64) row {
		return row{id: id, quantity: quantity, unit: "rad/s²", want: want, tol: tol,
			got: func(t *testing.T) float64 { return of(from(readPezzack(t))) }, source: pezzackSource, seen: readCalc}
	}
	return []row{
		filtered("G39 raw", 0, 36.75),
		filtered("G39 3 Hz", 3, 6.43),
		filtered("G39 4 Hz", 4, 4.93),
		filtered("G39 5 Hz", 5, 4.51),
		filtered("G39 6 Hz", 6, 4.81),
		filtered("G39 8 Hz", 8, 6.97),
		filtered("G39 10 Hz", 10, 10.40),
		bound("G39 smoother", "our smoother, nothing chosen by hand", 5, func(t *testing.T, p pezzack) float64 { return p.misfit(p.bySmoother(t)) }),
		bound("G39 filter", "zero-lag filter at 5 Hz, corrected exactly", 5, func(_ *testing.T, p pezzack) float64 { return p.misfit(p.byFilter(5)) }),
		bound("G39 quintic", "quintic spline by cross-validation", 5, func(t *testing.T, p pezzack) float64 { a, _ := p.bySpline(t, 3); return p.misfit(a) }),
		extreme("G38 max", "largest acceleration of the accelerometer in our copy of the data", 68.35, .01, slices.Max, func(p pezzack) []float64 { return p.acceleration }),
		extreme("G38 min", "smallest", -96.00, .01, slices.Min, func(p pezzack) []float64 { return p.acceleration }),
		extreme("G38 max 5 Hz", "largest acceleration, zero-lag filter at 5 Hz", 57.8, 2.9, slices.Max, func(p pezzack) []float64 { return p.byFilter(asPublished(5)) }),
		extreme("G38 min 5 Hz", "smallest", -87.0, 4.4, slices.Min, func(p pezzack) []float64 { return p.byFilter(asPublished(5)) }),
		noise("noise residual", "by residual analysis", func(t *testing.T, p pezzack) float64 {
			_, n := signal.ResidualCutoff(p.noisy, 1/pezzackStep)
			return n
		}),
		noise("noise spline", "by the spline", func(t *testing.T, p pezzack) float64 { _, s := p.bySpline(t, 3); return s.Noise() }),
	}
}
