package synth_test

import (
	"fmt"
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/synth"
)

// Example prints the curves of one forehand around contact: a look at what the
// package makes, and a guard that a seed keeps its swing.
func Example() {
	m := synth.NewSwing(synth.Spec{Stroke: body.Forehand, Level: body.Advanced, Hand: body.RightHanded, Stature: 1.75, Seed: 12})
	contact := m.Struck[0].Contact
	fmt.Println("      s  tip m/s  hand m/s  lag °  shoulders °  elbow °")
	for _, x := range []float64{-0.60, -0.40, -0.20, -0.15, -0.10, -0.05, -0.001, 0.006, 0.10, 0.30} {
		c := curvesAt(m, contact+x)
		fmt.Printf("%7.3f  %7.0f  %8.0f  %5.0f  %11.0f  %7.0f\n", x, c.tip, c.hand, c.lag, c.turn, c.elbow)
	}
	// Output:
	//       s  tip m/s  hand m/s  lag °  shoulders °  elbow °
	//  -0.600        7         4     -5           86       79
	//  -0.400        5         2     60          101       75
	//  -0.200        2         1     53           97       75
	//  -0.150        3         2     50           85       75
	//  -0.100        8         3     39           67       74
	//  -0.050       17         6     11           46       68
	//  -0.001       20         7    -25           29       46
	//   0.006       15         7    -27           27       41
	//   0.100       12         6    -11           13       29
	//   0.300        4         1    -17          -11       55
}

// curves are what a coach would draw of a right-hander's swing.
type curves struct{ tip, hand, lag, turn, elbow float64 }

func curvesAt(m *synth.Motion, t float64) curves {
	const h = 2e-4
	p, a, b := m.At(t), m.At(t-h), m.At(t+h)
	grip := func(p synth.Pose) geom.Vec3 {
		return p.P[body.RacketButt].Add(p.P[body.RacketTip].Sub(p.P[body.RacketButt]).Unit().Scale(0.10))
	}
	rate := func(from, to geom.Vec3) geom.Vec3 { return to.Sub(from).Scale(1 / (2 * h)) }
	hand := rate(grip(a), grip(b))
	u := p.P[body.RacketTip].Sub(p.P[body.RacketButt])
	line := p.P[body.RightShoulder].Sub(p.P[body.LeftShoulder])
	upper, fore := p.P[body.RightElbow].Sub(p.P[body.RightShoulder]), p.P[body.RightWrist].Sub(p.P[body.RightElbow])
	return curves{
		tip: rate(a.P[body.RacketTip], b.P[body.RacketTip]).Norm(), hand: hand.Norm(),
		lag:  geom.Between(u, hand).Degrees() - 90,
		turn: math.Atan2(-line.X, line.Z) * 180 / math.Pi, elbow: geom.Between(upper, fore).Degrees(),
	}
}
