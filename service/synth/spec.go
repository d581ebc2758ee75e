package synth

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// Spec says which swing to make. The same Spec makes the same swing. Whatever
// it leaves at zero is drawn from Seed.
type Spec struct {
	Stroke  body.Stroke
	Level   body.Level
	Hand    body.Hand
	Stature float64 // m
	Racket  float64 // butt to tip, m; 0: 0.685
	Shadow  bool    // full speed, no ball
	Knobs   Knobs
	Seed    uint64
}

// Knobs move one property of a swing away from what the seed drew, everything
// else being equal. Zero leaves it alone.
type Knobs struct {
	Lag         float64 // added to the largest lag, degrees
	Spacing     float64 // < 0 jammed, > 0 reaching, metres of hand distance
	TakeBack    float64 // added to the height of the hands in the take-back, degrees of arm elevation
	ArmBend     float64 // > 0 more elbow flexion at contact, metres of hand-to-shoulder distance taken off
	BallHeight  float64 // added to contact height, m
	Turn        float64 // added to the largest shoulder turn, degrees
	Legs        float64 // added to the knee bend, m of hip height
	Drop        float64 // added to the racket's dip under the hand, degrees (> 0 deeper)
	Speed       float64 // factor on the tip speed at contact; 0 is 1
	Stance      float64 // added to the stance, degrees (> 0 more closed)
	ContactTime float64 // added to when the trunk unwinds before contact, s (> 0 earlier trunk)
}

// Struck is one true stroke of a Motion.
type Struck struct {
	Stroke     body.Stroke
	Start, End float64 // the stretch from ready to recovered, s
	Contact    float64 // s
	Release    float64 // serve: ball leaves the hand, s; else NaN
	Ball       bool
	Heading    float64   // direction of play, radians from court X toward +Z (before mirroring)
	In, Out    geom.Vec3 // ball velocity just before and after impact (before mirroring)
}

// tipSpeeds is the range of tip speed at contact by stroke and level, m/s
// (literature.md §2.4, head speeds raised by about 15 % for the tip; volleys from memory).
var tipSpeeds = map[body.Stroke][body.Elite + 1][2]float64{
	body.Forehand:          {{}, {10, 14}, {14, 20}, {20, 28}, {27, 37}},
	body.TwoHandedBackhand: {{}, {10, 13}, {13, 19}, {18, 26}, {24, 33}},
	body.OneHandedBackhand: {{}, {10, 13}, {13, 19}, {18, 27}, {25, 34}},
	body.SliceBackhand:     {{}, {9, 11}, {10, 15}, {13, 19}, {16, 23}},
	body.Serve:             {{}, {16, 22}, {22, 30}, {30, 38}, {36, 44}},
	body.ForehandVolley:    {{}, {6, 8}, {7, 11}, {8, 13}, {10, 15}},
	body.BackhandVolley:    {{}, {6, 8}, {7, 10}, {8, 12}, {9, 14}},
	body.Overhead:          {{}, {14, 19}, {18, 27}, {25, 34}, {31, 40}},
}

func (s Spec) filled() Spec {
	d := newDraw(s.Seed, streamBody)
	level, hand, stature := body.Level(1+d.IntN(4)), d.chance(0.2), math.Max(1.35, math.Min(1.98, d.about(1.72, 0.14)))
	if s.Stroke == body.StrokeUnknown {
		s.Stroke = body.Stroke(1 + d.IntN(int(body.NumStrokes)-1))
	}
	if s.Level == body.LevelUnknown {
		s.Level = level
	}
	if s.Hand == body.HandUnknown {
		s.Hand = body.RightHanded
		if hand {
			s.Hand = body.LeftHanded
		}
	}
	if s.Stature == 0 {
		s.Stature = stature
	}
	if s.Racket == 0 {
		s.Racket = 0.685
	}
	if s.Knobs.Speed == 0 {
		s.Knobs.Speed = 1
	}
	return s
}

// tipSpeed draws the wanted tip speed at contact; small players swing slower.
func (s Spec) tipSpeed(d draw) float64 {
	r := tipSpeeds[s.Stroke][s.Level]
	return d.in(r[0], r[1]) * math.Pow(s.Stature/1.75, 0.6) * s.Knobs.Speed
}
