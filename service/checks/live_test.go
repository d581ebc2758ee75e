package checks

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/signal"
)

// ask runs testdata/reference/script with the system's own python3, question in
// as JSON, answer out. A missing interpreter or module fails the test: what is
// not run is not checked.
func ask(t *testing.T, script string, question, answer any) {
	t.Helper()
	path, err := exec.Command("sh", "-c", "command -v -p python3").Output()
	if err != nil {
		t.Fatal("python3 is not installed (apt-get install python3-scipy python3-statsmodels):", err)
	}
	in, err := json.Marshal(question)
	if err != nil {
		t.Fatal(err)
	}
	// The script goes in as text: go test then knows that its result hangs on the file.
	text, err := os.ReadFile(filepath.Join("../../testdata/reference", script))
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(strings.TrimSpace(string(path)), "-c", string(text))
	var out, complaint bytes.Buffer
	cmd.Stdin, cmd.Stdout, cmd.Stderr = bytes.NewReader(in), &out, &complaint
	if err := cmd.Run(); err != nil {
		t.Fatalf("%s: %v\n%s", script, err, complaint.String())
	}
	if err := json.Unmarshal(out.Bytes(), answer); err != nil {
		t.Fatalf("%s answered %q: %v", script, out.String(), err)
	}
}

// live is a row whose answer comes from a run of another library: the largest
// difference, which must stay below the bound. The page prints it rounded up to
// an even power of ten, so that versions and machines do not change the page.
func live(id, quantity, library string, bound float64, difference func(t *testing.T) float64) row {
	var once sync.Once
	var d float64
	return row{id: id, quantity: quantity + ": largest difference", want: bound, below: true, source: library, seen: "run live",
		got: func(t *testing.T) float64 {
			once.Do(func() { d = decades(difference(t)) })
			return d
		}}
}

// decades rounds d up to an even power of ten, at least 1e-12.
func decades(d float64) float64 {
	return math.Pow(10, 2*math.Ceil(math.Log10(max(d, 1e-12))/2))
}

// apart is the largest distance between two series of equal length; +∞ when
// the lengths differ or a value is not a number.
func apart(a, b []float64) float64 {
	if len(a) != len(b) {
		return math.Inf(1)
	}
	worst := 0.0
	for i := range a {
		d := math.Abs(a[i] - b[i])
		if math.IsNaN(d) {
			return math.Inf(1)
		}
		worst = max(worst, d)
	}
	return worst
}

// liveRows is what SciPy, statsmodels and numpy say.
func liveRows() []row {
	return []row{
		live("live butter", "Butterworth coefficients, 1 to 50 Hz at 60 to 240 Hz", "scipy.signal.butter", 1e-9, butterApart),
		live("live filtfilt", "zero-lag filtered wave with noise", "scipy.signal.filtfilt, odd padding", 1e-9, filtfiltApart),
		live("live derivative", "slope and curvature of moving parabolas of 3 to 11 samples, over 100 and 10⁴", "scipy.signal.savgol_filter", 1e-9, savgolApart),
		live("live circle", "circular mean and standard deviation of 10 samples, degrees", "scipy.stats.circmean, circstd", 1e-8, circleApart),
		live("live spline", "cubic smoothing spline of three given λ, value and slope", "scipy.interpolate.make_smoothing_spline", 1e-7, splineApart),
		live("live GCV", "cubic spline chosen by cross-validation, value", "scipy.interpolate.make_smoothing_spline", 1e-3, crossValidationApart),
		live("live Theil", "Theil–Sen slopes of 40 series", "scipy.stats.theilslopes", 1e-8, theilApart),
		live("live Kendall", "Mann–Kendall p of 40 series, with ties and without", "scipy.stats.kendalltau", 1e-8, kendallApart),
		live("live rotation", "rotation matrices by axis and angle", "scipy.spatial.transform.Rotation", 1e-8, rotationApart),
		live("live angle", "angle between two vectors, degrees", "scipy.spatial.transform.Rotation", 1e-8, angleApart),
		live("live smoother", "smoothed position, velocity and acceleration over their sds", "statsmodels.tsa.statespace.KalmanSmoother, exact diffuse start", 1e-8, smootherApart(peerSmoother)),
		live("live variance", "their variances, relative", "statsmodels.tsa.statespace.KalmanSmoother, exact diffuse start", 1e-8, varianceApart(peerSmoother)),
		live("live smoother long", "the same states in more digits", "numpy, a covariance filter of our own in long doubles", 1e-8, smootherApart(ownSmoother)),
		live("live variance long", "the same variances in more digits, relative", "numpy, a covariance filter of our own in long doubles", 1e-8, varianceApart(ownSmoother)),
	}
}

// wave is a made course with noise at uneven (or even) times.
func wave(n int, uneven bool, seed uint64) (t, y []float64) {
	rng := rand.New(rand.NewPCG(seed, 7))
	now := 0.0
	for range n {
		t = append(t, now)
		y = append(y, math.Sin(9*now)+.3*math.Cos(21*now)+.02*rng.NormFloat64())
		step := 1. / 120
		if uneven {
			step *= .5 + rng.Float64()
		}
		now += step
	}
	return t, y
}

func butterApart(t *testing.T) float64 {
	worst := 0.0
	for _, c := range [][2]float64{{1, 60}, {6, 60}, {12, 120}, {50, 240}, {29, 60}} {
		var a struct{ B, A []float64 }
		ask(t, "scipy_filter.py", map[string]any{"x": make([]float64, 20), "cutoff": c[0], "rate": c[1], "pad": 5}, &a)
		f := signal.Butterworth(c[0], c[1])
		worst = max(worst, apart([]float64{f.A0, f.A1, f.A2}, a.B), apart([]float64{1, -f.B1, -f.B2}, a.A))
	}
	return worst
}

func filtfiltApart(t *testing.T) float64 {
	_, x := wave(240, false, 1)
	const cutoff, rate = 10., 120.
	var a struct{ Y []float64 }
	pad := int(math.Ceil(1.5 * rate / cutoff)) // as ZeroLag pads
	ask(t, "scipy_filter.py", map[string]any{"x": x, "cutoff": cutoff, "rate": rate, "pad": pad}, &a)
	return apart(signal.ZeroLag(x, cutoff, rate), a.Y)
}

// curve is a spline read at given times.
type curve struct{ Value, First, Second []float64 }

func ours(s *signal.Spline, at []float64) (c curve) {
	for _, x := range at {
		g, g1, g2 := s.At(x)
		c.Value, c.First, c.Second = append(c.Value, g), append(c.First, g1), append(c.Second, g2)
	}
	return c
}

func between(t []float64, n int) []float64 {
	at := make([]float64, n)
	for i := range at {
		at[i] = t[0] + (t[len(t)-1]-t[0])*float64(i)/float64(n-1)
	}
	return at
}

func splineApart(t *testing.T) float64 {
	times, y := wave(120, true, 2)
	w := make([]float64, len(y))
	for i := range w {
		w[i] = 1 + float64(i%3)
	}
	worst := 0.0
	at := between(times, 300)
	for _, lam := range []float64{1e-7, 1e-5, 1e-3} {
		var a curve
		ask(t, "scipy_spline.py", map[string]any{"t": times, "y": y, "w": w, "lam": lam, "at": at}, &a)
		s, err := signal.FitSpline(times, y, w, 2, lam)
		if err != nil {
			t.Fatal(err)
		}
		o := ours(s, at)
		worst = max(worst, apart(o.Value, a.Value), apart(o.First, a.First))
	}
	return worst
}

func crossValidationApart(t *testing.T) float64 {
	times, y := wave(120, true, 3)
	w := make([]float64, len(y))
	for i := range w {
		w[i] = 1
	}
	at := between(times, 300)
	var a curve
	ask(t, "scipy_spline.py", map[string]any{"t": times, "y": y, "w": w, "lam": nil, "at": at}, &a)
	s, err := signal.FitSplineGCV(times, y, nil, 2)
	if err != nil {
		t.Fatal(err)
	}
	return apart(ours(s, at).Value, a.Value)
}

// sessions are 40 series of 4 to 30 values, some rounded so that values tie.
func sessions() [][]float64 {
	rng := rand.New(rand.NewPCG(4, 4))
	series := make([][]float64, 40)
	for i := range series {
		for k := range 4 + rng.IntN(27) {
			v := .1*float64(k) + rng.NormFloat64()
			if i%2 == 1 {
				v = math.Round(v)
			}
			series[i] = append(series[i], v)
		}
	}
	return series
}

type trends struct{ Slope, P []float64 }

func askTrends(t *testing.T) (theirs, our trends) {
	s := sessions()
	ask(t, "scipy_trend.py", map[string]any{"series": s}, &theirs)
	for _, y := range s {
		_, _, p := signal.MannKendall(y)
		our.Slope, our.P = append(our.Slope, signal.TheilSen(steps(len(y)), y)), append(our.P, p)
	}
	return theirs, our
}

func theilApart(t *testing.T) float64 {
	theirs, our := askTrends(t)
	return apart(theirs.Slope, our.Slope)
}

func kendallApart(t *testing.T) float64 {
	theirs, our := askTrends(t)
	return apart(theirs.P, our.P)
}

type turns struct {
	Matrices [][]float64
	Between  []float64
}

func someVec(rng *rand.Rand) geom.Vec3 {
	return geom.Vec3{X: rng.NormFloat64(), Y: rng.NormFloat64(), Z: rng.NormFloat64()}
}

func list(v geom.Vec3) []float64 { return []float64{v.X, v.Y, v.Z} }

func askTurns(t *testing.T) (theirs turns, our turns) {
	rng := rand.New(rand.NewPCG(5, 5))
	q := map[string]any{}
	var axes, pairs []any
	var degrees []float64
	for range 30 {
		axis, turn := someVec(rng).Unit(), 360*rng.Float64()-180
		a, b := someVec(rng), someVec(rng)
		axes, degrees, pairs = append(axes, list(axis)), append(degrees, turn), append(pairs, []any{list(a), list(b)})
		m := geom.RotationAbout(axis, geom.Angle(turn)*geom.Deg)
		our.Matrices, our.Between = append(our.Matrices, m[:]), append(our.Between, geom.Between(a, b).Degrees())
	}
	q["axes"], q["degrees"], q["pairs"] = axes, degrees, pairs
	ask(t, "scipy_rotation.py", q, &theirs)
	return theirs, our
}

func rotationApart(t *testing.T) float64 {
	theirs, our := askTurns(t)
	worst := 0.0
	for i := range our.Matrices {
		worst = max(worst, apart(our.Matrices[i], theirs.Matrices[i]))
	}
	return worst
}

func angleApart(t *testing.T) float64 {
	theirs, our := askTurns(t)
	return apart(theirs.Between, our.Between)
}

// Scripts that smooth: a library's, and one of our own by another way.
const peerSmoother, ownSmoother = "statsmodels_smoother.py", "numpy_smoother.py"

// askSmoother smooths the same uneven series with gaps both ways.
func askSmoother(t *testing.T, script string) (theirs struct{ X, Var [][]float64 }, our []signal.State) {
	times, y := wave(100, true, 6)
	samples := make([]signal.Sample, len(y))
	z, sd := make([]any, len(y)), make([]float64, len(y))
	for i := range y {
		sd[i] = .01 * float64(1+i%2)
		samples[i] = signal.Sample{Time: times[i], Value: y[i], SD: sd[i]}
		z[i] = y[i]
		if i%7 == 3 || i/10 == 4 {
			samples[i].Value, z[i] = math.NaN(), nil
		}
	}
	const q = 1e6
	ask(t, script, map[string]any{"t": times, "z": z, "sd": sd, "q": q}, &theirs)
	var s signal.Smoother
	our, err := s.Smooth(samples, q)
	if err != nil {
		t.Fatal(err)
	}
	if len(theirs.X) != len(our) {
		t.Fatal(fmt.Sprint(len(theirs.X), " states for ", len(our)))
	}
	return theirs, our
}

func smootherApart(script string) func(t *testing.T) float64 {
	return func(t *testing.T) float64 {
		theirs, our := askSmoother(t, script)
		worst := 0.0
		for i, o := range our {
			for k, v := range []float64{o.Pos, o.Vel, o.Acc} {
				worst = max(worst, apart([]float64{v}, theirs.X[i][k:k+1])/math.Sqrt(o.Cov[4*k]))
			}
		}
		return worst
	}
}

func varianceApart(script string) func(t *testing.T) float64 {
	return func(t *testing.T) float64 {
		theirs, our := askSmoother(t, script)
		worst := 0.0
		for i, o := range our {
			for k := range 3 {
				worst = max(worst, math.Abs(theirs.Var[i][k]/o.Cov[4*k]-1))
			}
		}
		return worst
	}
}
