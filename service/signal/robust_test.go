package signal

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

func TestMedianAndMAD(t *testing.T) {
	for _, c := range []struct {
		x           []float64
		median, mad float64
		why         string
	}{
		{[]float64{3, 1, 2}, 2, madToSD, "odd"},
		{[]float64{4, 1, 3, 2}, 2.5, madToSD, "even: deviations 1.5 1.5 .5 .5"},
		{[]float64{1, 1, 2, 2, 4, 6, 9}, 2, madToSD, "deviations 0 0 1 1 2 4 7"},
		{[]float64{1e300, -1e300, 7}, 7, madToSD * 1e300, "wide"},
		{[]float64{1, nan}, nan, nan, "NaN"},
		{nil, nan, nan, "nothing"},
	} {
		near(t, c.why+": median", Median(c.x), c.median, 1e-12)
		near(t, c.why+": MAD", MAD(c.x), c.mad, 1e-12*math.Abs(c.mad))
	}
}

// TestMedianIsTheMiddleOfTheSorted holds the selection against sorting, with ties and in all
// kinds of order.
func TestMedianIsTheMiddleOfTheSorted(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	for n := 1; n < 300; n += 1 + n/7 {
		x := make([]float64, n)
		for _, make := range []func(i int) float64{
			func(int) float64 { return rng.NormFloat64() },
			func(int) float64 { return float64(rng.IntN(3)) },
			func(i int) float64 { return float64(i) },
			func(i int) float64 { return -float64(i) },
			func(i int) float64 { return float64(i * (n - i)) },
		} {
			for i := range x {
				x[i] = make(i)
			}
			s := slices.Sorted(slices.Values(x))
			near(t, "median", Median(x), s[(n-1)/2]/2+s[n/2]/2, 1e-12)
			k := rng.IntN(n)
			near(t, "k-th", Kth(x, k), s[k], 0)
			if slices.Max(x[:k+1]) != s[k] || slices.Min(x[k:]) != s[k] {
				t.Errorf("the %d-th of %d does not part them", k, n)
			}
			slices.Sort(x)
			if !slices.Equal(x, s) {
				t.Errorf("%d values are not those that there were", n)
			}
		}
	}
}

func TestMADEstimatesSD(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	x := make([]float64, 20001)
	for i := range x {
		x[i] = 5 + 2*rng.NormFloat64()
		if i%10 == 0 {
			x[i] = 1000
		}
	}
	near(t, "MAD with a tenth of outliers", MAD(x), 2, .35)
	near(t, "MAD of the rest", MAD(slices.DeleteFunc(x, func(v float64) bool { return v == 1000 })), 2, .05)
}

func TestMeanAndSD(t *testing.T) {
	x := []float64{2, 4, 4, 4, 5, 5, 7, 9}
	near(t, "mean", Mean(x), 5, 1e-12)
	near(t, "SD", SD(x), math.Sqrt(32./7), 1e-12)
	near(t, "SD of one", SD(x[:1]), nan, 0)
	near(t, "mean of none", Mean(nil), nan, 0)
}

func TestMedoid(t *testing.T) {
	x := []float64{0, 10, 4, 5, 100}
	dist := func(i, j int) float64 { return math.Abs(x[i] - x[j]) }
	if got := Medoid(dist, len(x)); got != 3 {
		t.Errorf("medoid of %v = %d", x, got)
	}
	x[3] = nan
	if got := Medoid(func(i, j int) float64 { return 0 }, 3); got != 0 {
		t.Errorf("tie went to %d", got)
	}
	if got := Medoid(dist, 0); got != -1 {
		t.Errorf("medoid of nothing = %d", got)
	}
}
