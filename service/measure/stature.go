package measure

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/signal"
)

// Stature is the name of the player's standing height: no measure of a swing, but
// what lengths of two players are set against each other by.
const Stature = "body.stature"

// lengthShare is trunk + thigh + shank, joint centre to joint centre, over stature:
// 0.288 + 0.245 + 0.246 (Drillis & Contini 1966, via Winter; from memory).
const lengthShare = 0.779

// StatureShare is how far a stature from body lengths may be off, sd as a share of it:
// what people's proportions and the choice of table leave. De Leva's lengths of the
// three segments differ from Drillis & Contini's by 1–2 % in sum, a pose estimator's
// joint centres are 3–5 cm off (Needham et al. 2021) of 1.3 m. Own estimate.
const StatureShare = 0.03

// statureTold is the sd of a stature that a person states, m: shoes and rounding. Own
// choice.
const statureTold = 0.01

var bodyRows = []Row{
	{
		Name: Stature, Title: "Standing height", Unit: "m", Strokes: everyStroke,
		Source:     "segment lengths as shares of stature: Drillis & Contini 1966, via Winter",
		Definition: "Standing height as told in the setup; where it was not, and lengths are in metres (points in space, or two cameras): trunk (mid-hip to mid-shoulder) + thigh + shank ÷ 0.779, rough.",
		Group:      GroupStature, FromLengths: true, PromisedSD: 0.02, Views: everyView,
		Undefined: "the standing height was not told, and trunk and legs were not seen",
		read:      (*Reader).stature,
	},
}

// lengthSamples is at how many instants up to contact the body's lengths are read.
const lengthSamples = 25

// stature returns the height that was told, else the one that the lengths of trunk
// and legs imply: of each the median up to contact, legs being the mean of both sides.
func (r *Reader) stature() float64 {
	if r.ctx.Stature > 0 {
		return r.ctx.Stature
	}
	if !r.k.Known(body.LeftShoulder, body.RightShoulder, body.LeftHip, body.RightHip,
		body.LeftKnee, body.RightKnee, body.LeftAnkle, body.RightAnkle) {
		return math.NaN()
	}
	lengths := make([]float64, 0, lengthSamples)
	from, to := r.c.T[0], r.contact()
	for i := range lengthSamples {
		// At the nearest sample: a length changes little between two.
		k, w := r.k.Bracket(from + (to-from)*float64(i)/(lengthSamples-1))
		if w > 0.5 {
			k++
		}
		at := func(p body.Point) geom.Vec3 { return r.c.Pos[p][k] }
		shoulders := at(body.LeftShoulder).Lerp(at(body.RightShoulder), 0.5)
		sum := shoulders.Sub(at(body.LeftHip).Lerp(at(body.RightHip), 0.5)).Norm()
		for _, leg := range [2][3]body.Point{
			{body.LeftHip, body.LeftKnee, body.LeftAnkle}, {body.RightHip, body.RightKnee, body.RightAnkle},
		} {
			hip, knee, ankle := at(leg[0]), at(leg[1]), at(leg[2])
			sum += (hip.Sub(knee).Norm() + knee.Sub(ankle).Norm()) / 2
		}
		lengths = append(lengths, sum)
	}
	return signal.Kth(lengths, lengthSamples/2) / lengthShare
}

// lengthsOnly reports whether the figure rests on lengths of the body, the standing
// height not being told.
func (r *Row) lengthsOnly(cond *Conditions) bool { return r.FromLengths && cond.Have&NeedStature == 0 }

// metric reports whether lengths are had in metres without the stature.
func (c *Conditions) metric() bool { return c.Method == MethodWorld || c.Method == MethodTwoView }
