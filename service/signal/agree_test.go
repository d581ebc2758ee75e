package signal

import (
	"math"
	"testing"
)

func TestShroutFleiss(t *testing.T) {
	a := Agree([][]float64{{9, 2, 5, 8}, {6, 1, 3, 2}, {8, 4, 6, 8}, {7, 1, 2, 6}, {10, 5, 6, 9}, {6, 2, 4, 7}})
	icc1, icc1k := a.ICC1()
	icc2, icc2k := a.ICC2()
	icc3, icc3k := a.ICC3()
	for _, c := range []struct {
		what      string
		got, want float64
	}{ // Shrout & Fleiss 1979, tables 2 to 4; more digits computed apart
		{"BMS", a.Between, 11.2417}, {"WMS", a.Within, 6.2639}, {"JMS", a.Trials, 32.4861}, {"EMS", a.Error, 1.0194},
		{"ICC(1,1)", icc1, .16574}, {"ICC(2,1)", icc2, .28976}, {"ICC(3,1)", icc3, .71484},
		{"ICC(1,4)", icc1k, .44280}, {"ICC(2,4)", icc2k, .62005}, {"ICC(3,4)", icc3k, .90932},
	} {
		near(t, c.what, c.got, c.want, 6e-5)
	}
}

func TestAgreeRefuses(t *testing.T) {
	for _, rows := range [][][]float64{nil, {{1, 2}}, {{1}, {2}}, {{1, 2}, {3}}} {
		if a := Agree(rows); !math.IsNaN(a.SEM()) {
			t.Errorf("%v has SEM %v", rows, a.SEM())
		}
	}
}

func TestBlandAltman(t *testing.T) {
	// Bland & Altman 1986, table 1 (from memory; reproduces the published −2.1 and 38.8 l/min).
	large := []float64{494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427}
	mini := []float64{512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451}
	bias, sd := BlandAltman(large, mini)
	near(t, "bias", bias, -2.1, .05)
	near(t, "sd", sd, 38.8, .05)
	if bias, _ := BlandAltman(large, mini[1:]); !math.IsNaN(bias) {
		t.Errorf("unpaired readings have bias %v", bias)
	}
}

func TestMDC95(t *testing.T) {
	near(t, "MDC95 of 7.557", MDC95(7.557), 20.95, .005) // Weir 2005
}
