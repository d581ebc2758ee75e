package checks

import (
	"testing"

	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/signal"
)

// The worked examples, as printed.
var (
	mannKendall  = []float64{12.9, 14.8, 13.2, 15.7, 13.8, 15.6, 12.9, 11.0, 17.3, 15.9, 19.0, 18.3, 20.1, 21.7}
	cloudSeeding = []float64{1.26, 1.27, 1.12, 1.16, 1.03}
	shroutFleiss = [][]float64{{9, 2, 5, 8}, {6, 1, 3, 2}, {8, 4, 6, 8}, {7, 1, 2, 6}, {10, 5, 6, 9}, {6, 2, 4, 7}}
	weir         = [][]float64{{146, 140}, {148, 152}, {170, 152}, {90, 99}, {157, 145}, {156, 153}, {176, 167}, {205, 218}}
	weirNarrow   = [][]float64{{166, 160}, {168, 172}, {160, 142}, {150, 159}, {147, 135}, {146, 143}, {156, 147}, {155, 168}}
	peakFlow     = []float64{494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427}
	peakFlowMini = []float64{512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451}
	viscosity    = []float64{102.0, 94.8, 98.3, 98.4, 102.0, 98.5, 99.0, 97.7, 100.0, 98.1, 101.3, 98.7, 101.1, 98.4, 97.0, 96.7, 100.3, 101.4, 97.2, 101.0}
	cusumShift   = []float64{324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600, 324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350}
	ewmaSeries   = []float64{52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1}
	diameters    = []float64{24.05, 23.99, 23.95, 23.93, 23.97, 24.02, 24.06, 24.10, 23.98, 24.03, 23.91, 24.06, 24.06, 23.96, 23.98, 24.06, 24.01, 24.00, 23.93, 23.92, 24.09, 24.11, 24.05, 23.98, 23.98, 24.06, 24.02, 24.06, 23.97, 23.96}
	zarDegrees   = []float64{45, 55, 81, 96, 110, 117, 132, 154}
	// Benjamini & Hochberg 1995, §2.4: fifteen hypotheses of a heart study.
	heartStudy = []float64{.0001, .0004, .0019, .0095, .0201, .0278, .0298, .0344, .0459, .3240, .4262, .5719, .6528, .7590, 1}
)

func steps(n int) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = float64(i)
	}
	return x
}

func trues(b []bool) (n float64) {
	for _, v := range b {
		if v {
			n++
		}
	}
	return n
}

func circular(degrees ...float64) signal.Directions {
	a := make([]geom.Angle, len(degrees))
	for i, d := range degrees {
		a[i] = geom.Angle(d) * geom.Deg
	}
	return signal.CircularMean(a)
}

// exampleCost is the 6 × 6 matrix of the dtw package's own test.
func exampleCost(i, j int) float64 {
	switch {
	case i == 1 && j == 4:
		return .01
	case i == 1 || j == 4:
		return 0
	}
	return 1
}

// statisticsRows check trends, agreement, charts, directions and time warping.
func statisticsRows() []row {
	var rows []row
	rows = append(rows, trendRows()...)
	rows = append(rows, agreementRows()...)
	rows = append(rows, chartRows()...)
	return append(rows, circleAndWarpRows()...)
}

func trendRows() []row {
	const hand = "Mann–Kendall by hand, course notes, College of the Holy Cross (14 values, one tie)"
	const theil = "Hollander & Wolfe, Nonparametric Statistical Methods: cloud seeding"
	s, z, p := signal.MannKendall(mannKendall)
	s5, _, _ := signal.MannKendall(cloudSeeding)
	return []row{
		{id: "G40 S", quantity: "Mann–Kendall S", want: 54, tol: .1, got: value(float64(s)), source: hand, seen: read},
		{id: "G40 z", quantity: "Mann–Kendall z, corrected for ties", want: 2.9058, tol: 1e-4, got: value(z), source: hand, seen: readCalc},
		{id: "G40 p", quantity: "Mann–Kendall two-sided p", want: .00366, tol: 1e-5, got: value(p), source: hand, seen: readCalc},
		{id: "G40 slope", quantity: "Sen slope of the same", want: .56667, tol: 1e-5, got: value(signal.TheilSen(steps(14), mannKendall)), source: hand, seen: computed},
		{id: "G41", quantity: "Theil slope, five years of cloud seeding", want: -.05625, tol: 1e-6, got: value(signal.TheilSen(steps(5), cloudSeeding)), source: theil, seen: memoryCalc},
		{id: "G41 S", quantity: "Kendall's S of the same", want: -6, tol: .1, got: value(float64(s5)), source: theil, seen: memoryCalc},
		{id: "BH", quantity: "false discovery rate .05: hypotheses rejected of 15", want: 4, tol: .1, got: value(trues(signal.BenjaminiHochberg(heartStudy, .05))),
			source: "Benjamini & Hochberg 1995, J R Stat Soc B 57:289, §2.4", seen: memoryCalc},
	}
}

func agreementRows() []row {
	const sf, w = "Shrout & Fleiss 1979, Psychol Bull 86:420", "Weir 2005, J Strength Cond Res 19:231"
	a, b, narrow := signal.Agree(shroutFleiss), signal.Agree(weir), signal.Agree(weirNarrow)
	i1, i1k := a.ICC1()
	i2, i2k := a.ICC2()
	i3, i3k := a.ICC3()
	w2, _ := b.ICC2()
	w3, _ := b.ICC3()
	n2, _ := narrow.ICC2()
	bias, sd := signal.BlandAltman(peakFlow, peakFlowMini)
	icc := func(id, name string, want, got float64, source, seen string) row {
		return row{id: id, quantity: name, want: want, tol: 5e-3, got: value(got), source: source, seen: seen}
	}
	const ba = "Bland & Altman 1986, Lancet 1:307 (peak flow, two meters)"
	return []row{
		icc("G42 ICC(1,1)", "ICC(1,1)", .17, i1, sf, readSecond), icc("G42 ICC(2,1)", "ICC(2,1)", .29, i2, sf, readSecond),
		icc("G42 ICC(3,1)", "ICC(3,1)", .71, i3, sf, readSecond), icc("G42 ICC(1,4)", "ICC(1,4)", .44, i1k, sf, readSecond),
		icc("G42 ICC(2,4)", "ICC(2,4)", .62, i2k, sf, readSecond), icc("G42 ICC(3,4)", "ICC(3,4)", .91, i3k, sf, readSecond),
		{id: "G49 SEM", quantity: "standard error of measurement, eight lifters twice", unit: "lb", want: 7.557, tol: 1e-3, got: value(b.SEM()), source: w, seen: memoryCalc},
		{id: "G49 MDC95", quantity: "minimal detectable change of the same", unit: "lb", want: 20.95, tol: .01, got: value(signal.MDC95(b.SEM())), source: w, seen: memoryCalc},
		icc("G49 ICC(2,1)", "ICC(2,1) of the same", .950, w2, w, memoryCalc), icc("G49 ICC(3,1)", "ICC(3,1) of the same", .947, w3, w, memoryCalc),
		icc("G49 narrow ICC", "ICC(2,1) of a narrow group with the same differences", .553, n2, w, memoryCalc),
		{id: "G49 narrow SEM", quantity: "its SEM: unchanged", unit: "lb", want: 7.557, tol: 1e-3, got: value(narrow.SEM()), source: w, seen: memoryCalc},
		{id: "BA bias", quantity: "Bland–Altman mean difference", unit: "l/min", want: -2.1, tol: .05, got: value(bias), source: ba, seen: memoryCalc},
		{id: "BA sd", quantity: "Bland–Altman sd of differences", unit: "l/min", want: 38.8, tol: .05, got: value(sd), source: ba, seen: memoryCalc},
	}
}

// largest is the largest of x.
func largest(x []float64) float64 {
	best := x[0]
	for _, v := range x {
		best = max(best, v)
	}
	return best
}

func chartRows() []row {
	const book, nist, sas = "Montgomery & Runger, Applied Statistics and Probability for Engineers, example 16-6", "NIST/SEMATECH e-Handbook", "SAS/QC documentation, individual measurements"
	up, down := signal.CUSUM(viscosity, 99, 1)
	shift, _ := signal.CUSUM(cusumShift, 325, .3175)
	centre, sd := signal.Individuals(diameters)
	z := signal.EWMA(ewmaSeries, 50, .3)
	return []row{
		{id: "G43 up", quantity: "CUSUM, target 99, K 1: largest upper sum", want: 2.0, tol: .001, got: value(largest(up)), source: book, seen: read},
		{id: "G43 down", quantity: "largest lower sum", want: 3.2, tol: .001, got: value(largest(down)), source: book, seen: read},
		{id: "G43 signal", quantity: "first sum above H 10 (−1: none)", want: -1, tol: .1, got: value(float64(max(signal.FirstAbove(up, 10), signal.FirstAbove(down, 10)))), source: book, seen: read},
		{id: "CUSUM shift", quantity: "CUSUM, target 325, k .3175, h 4.1959: sample of the first signal", want: 14, tol: .1, got: value(float64(signal.FirstAbove(shift, 4.1959) + 1)), source: nist + " 6.3.2.3", seen: memoryCalc},
		{id: "CUSUM end", quantity: "its upper sum at sample 20", want: 19.04, tol: .005, got: value(shift[19]), source: nist + " 6.3.2.3", seen: memoryCalc},
		{id: "EWMA end", quantity: "EWMA, λ .3 from 50: last of 20", want: 51.99, tol: .0051, got: value(z[19]), source: nist + " 6.3.2.4", seen: memoryCalc},
		{id: "EWMA limit", quantity: "its upper control limit, s 2.0539", want: 52.5884, tol: 1e-4, got: value(50 + signal.EWMALimit(2.0539, .3)), source: nist + " 6.3.2.4", seen: memoryCalc},
		{id: "G44 centre", quantity: "individuals chart, 30 diameters: centre", unit: "mm", want: 24.0083, tol: 5e-5, got: value(centre), source: sas, seen: read},
		{id: "G44 sd", quantity: "its s from moving ranges", unit: "mm", want: .050423, tol: 1e-6, got: value(sd), source: sas, seen: read},
		{id: "G44 lower", quantity: "lower control limit", unit: "mm", want: 23.8571, tol: 5e-5, got: value(centre - 3*sd), source: sas, seen: read},
		{id: "G44 upper", quantity: "upper control limit", unit: "mm", want: 24.1596, tol: 5e-5, got: value(centre + 3*sd), source: sas, seen: read},
	}
}

func circleAndWarpRows() []row {
	const zar = "Zar, Biostatistical Analysis, ch. 26 (eight directions)"
	const giorgino = "dtw package, tests/dtw_test (Giorgino 2009, J Stat Softw 31(7))"
	d, wrap := circular(zarDegrees...), circular(350, 10, 5, 355)
	a, b := []float64{1, 2, 3}, []float64{2, 2, 2, 3, 4}
	equal := signal.Warp(3, 5, 1, -1, func(i, j int) float64 { return max(a[i]-b[j], b[j]-a[i]) })
	return []row{
		{id: "circle mean", quantity: "circular mean", unit: "°", want: 98.99, tol: .01, got: value(d.Mean.Degrees()), source: zar, seen: memoryCalc},
		{id: "circle r", quantity: "length of the mean vector", want: .82522, tol: 1e-5, got: value(d.R), source: zar, seen: memoryCalc},
		{id: "circle sd", quantity: "circular standard deviation", unit: "°", want: 35.51, tol: .01, got: value(d.SD().Degrees()), source: zar, seen: memoryCalc},
		{id: "circle deviation", quantity: "angular deviation", unit: "°", want: 33.88, tol: .01, got: value(d.Deviation().Degrees()), source: zar, seen: memoryCalc},
		{id: "circle z", quantity: "Rayleigh z", want: 5.448, tol: 5e-4, got: value(d.RayleighZ()), source: zar, seen: memoryCalc},
		{id: "circle wrap", quantity: "mean of 350°, 10°, 5°, 355°", unit: "°", want: 0, tol: 1e-6, got: value(wrap.Mean.Degrees()), source: "symmetry", seen: computed},
		{id: "G45", quantity: "time warping, 6 × 6 costs, symmetric step: distance", want: 2, tol: 1e-9, got: value(signal.Warp(6, 6, 2, -1, exampleCost).Distance), source: giorgino, seen: read},
		{id: "DTW equal", quantity: "1 2 3 on 2 2 2 3 4, equal weights: distance", want: 2, tol: 1e-9, got: value(equal.Distance), source: "by hand", seen: computed},
	}
}

// The example's published path costs as much as ours: where both ways are
// equally cheap ours goes diagonally.
func TestPublishedPathIsAsCheap(t *testing.T) {
	i := []int{1, 2, 2, 2, 2, 3, 4, 5, 6, 6}
	j := []int{1, 1, 2, 3, 4, 5, 5, 5, 5, 6}
	sum := exampleCost(0, 0)
	for k := 1; k < len(i); k++ {
		sum += exampleCost(i[k]-1, j[k]-1) * float64(i[k]-i[k-1]+j[k]-j[k-1])
	}
	if got := signal.Warp(6, 6, 2, -1, exampleCost).Distance; got != sum {
		t.Errorf("ours costs %v, the published path %v", got, sum)
	}
}
