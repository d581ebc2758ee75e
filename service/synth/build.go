package synth

// Build holds the lengths of one body and racket, metres.
type Build struct {
	Stature                        float64
	UpperArm, Forearm, Hand        float64
	Thigh, Shank, AnkleHeight      float64
	FootFront, FootBack            float64 // ankle to toe, ankle to heel, along the sole
	ShoulderWidth, HipWidth, Trunk float64 // joint centres
	Neck, HeadHalf, Nose           float64 // mid-shoulder to mid-ear; half the ear distance; mid-ear to nose
	Racket, Throat, HeadWidth      float64 // butt to tip; butt to lower end of the strings; edge to edge
}

// Fractions of stature: Drillis & Contini 1966 via Winter, as in literature.md §6.1
// (from memory); joint-centre widths are narrower than the bony ones (common practice, no source).
func newBuild(stature, racket float64, d draw) Build {
	f := func(share float64) float64 { return stature * share * d.about(1, 0.025) }
	return Build{
		Stature:  stature,
		UpperArm: f(0.186), Forearm: f(0.146), Hand: f(0.05),
		Thigh: f(0.245), Shank: f(0.246), AnkleHeight: f(0.039),
		FootFront: f(0.105), FootBack: f(0.04),
		ShoulderWidth: f(0.215), HipWidth: f(0.118), Trunk: f(0.288),
		Neck: f(0.112), HeadHalf: f(0.043), Nose: f(0.062),
		Racket: racket, Throat: racket * d.in(0.47, 0.52), HeadWidth: d.in(0.24, 0.27),
	}
}

func (b Build) arm() float64 { return b.UpperArm + b.Forearm }
func (b Build) leg() float64 { return b.Thigh + b.Shank }

// standing is the height of the hip joints with straight legs.
func (b Build) standing() float64 { return b.AnkleHeight + b.leg() }
