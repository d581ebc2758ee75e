package signal

import (
	"math"
	"testing"

	"example.com/courtkin/service/geom"
)

func TestCUSUMExample(t *testing.T) {
	// Montgomery & Runger, example 16-6: target 99, K 1, H 10.
	x := []float64{102.0, 94.8, 98.3, 98.4, 102.0, 98.5, 99.0, 97.7, 100.0, 98.1, 101.3, 98.7, 101.1, 98.4, 97.0, 96.7, 100.3, 101.4, 97.2, 101.0}
	wantUp := []float64{2.0, 0, 0, 0, 2.0, .5, 0, 0, 0, 0, 1.3, 0, 1.1, 0, 0, 0, .3, 1.7, 0, 1.0}
	wantDown := []float64{0, 3.2, 2.9, 2.5, 0, 0, 0, .3, 0, 0, 0, 0, 0, 0, 1.0, 2.3, 0, 0, .8, 0}
	up, down := CUSUM(x, 99, 1)
	for i := range x {
		near(t, "up", up[i], wantUp[i], 1e-9)
		near(t, "down", down[i], wantDown[i], 1e-9)
	}
	if FirstAbove(up, 10) != -1 || FirstAbove(down, 10) != -1 {
		t.Error("signals where the book has none")
	}
}

func TestCUSUMSignals(t *testing.T) {
	// NIST/SEMATECH handbook 6.3.2.3 (from memory, recomputed): first signal at sample 14.
	x := []float64{324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600, 324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350}
	up, _ := CUSUM(x, 325, .3175)
	near(t, "first signal", float64(FirstAbove(up, 4.1959)), 13, 0)
	near(t, "sum at 13", up[12], 3.01, .005)
	near(t, "sum at 20", up[19], 19.04, .005)
}

func TestEWMA(t *testing.T) {
	// NIST/SEMATECH handbook 6.3.2.4 (data from memory, recomputed).
	x := []float64{52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1}
	want := []float64{50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99}
	for i, z := range EWMA(x, 50, .3) {
		near(t, "EWMA", z, want[i], .0051)
	}
	near(t, "limit", 50+EWMALimit(2.0539, .3), 52.5884, 1e-4)
	near(t, "NaN skipped", EWMA([]float64{4, nan}, 0, .5)[1], 2, 0)
}

func TestIndividuals(t *testing.T) {
	// SAS/QC, 30 diameters.
	x := []float64{24.05, 23.99, 23.95, 23.93, 23.97, 24.02, 24.06, 24.10, 23.98, 24.03, 23.91, 24.06, 24.06, 23.96, 23.98, 24.06, 24.01, 24.00, 23.93, 23.92, 24.09, 24.11, 24.05, 23.98, 23.98, 24.06, 24.02, 24.06, 23.97, 23.96}
	centre, sd := Individuals(x)
	near(t, "centre", centre, 24.0083, 5e-5)
	near(t, "sd", sd, .050423, 5e-7)
	near(t, "upper limit", centre+3*sd, 24.1596, 5e-5)
	if _, sd := Individuals(x[:1]); !math.IsNaN(sd) {
		t.Errorf("one value has sd %v", sd)
	}
}

func degrees(d ...float64) []geom.Angle {
	a := make([]geom.Angle, len(d))
	for i, v := range d {
		a[i] = geom.Angle(v) * geom.Deg
	}
	return a
}

func TestCircularMean(t *testing.T) {
	zar := CircularMean(degrees(45, 55, 81, 96, 110, 117, 132, 154))
	near(t, "mean", zar.Mean.Degrees(), 98.99, .01) // Zar, example 26.4 (from memory, recomputed)
	near(t, "R", zar.R, .82522, 5e-6)
	near(t, "SD", zar.SD().Degrees(), 35.51, .01)
	near(t, "deviation", zar.Deviation().Degrees(), 33.88, .01)
	near(t, "z", zar.RayleighZ(), 5.448, 5e-4)

	wrap := CircularMean(degrees(350, 10, 5, 355))
	near(t, "mean across the cut", wrap.Mean.Degrees(), 0, 1e-9)
	near(t, "R across the cut", wrap.R, .99050, 5e-6)
	near(t, "opposed", float64(CircularMean(degrees(0, 180)).Mean), nan, 0)
	near(t, "none", float64(CircularMean(nil).Mean), nan, 0)
}
