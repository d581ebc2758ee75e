package track

import (
	"math/rand/v2"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

const (
	// handLength is how far beyond the wrist's joint centre the middle of a hand on a handle
	// lies along the forearm, as a share of stature: from the wrist to the centre of the grip
	// are 0.040 of it (anthropometric surveys of soldiers, 70 mm of 1.76 m; from memory), which
	// a hand bent by 30–50° shortens by a fifth; the grip centre, 0.10 m from the butt, lies a
	// centimetre or two further up the handle than the middle of one fist, half of that along
	// the forearm.
	handLength = 0.040
	// fistAlong and fistAcross are the sds of that, metres, along the forearm and in each
	// direction across it: a hand bent by 15–60° to any side, the handle under the palm, held
	// at its end or higher up.
	fistAlong, fistAcross = 0.015, 0.030
	// betweenHands is where the grip centre lies on the way from the lower hand of two to the
	// upper: fists of 9 cm, the lower at the butt, have their middles 0.07 and 0.16 m from it.
	betweenHands = 1. / 3
)

// Fist is by how much a hand lies otherwise on the handle than usual: metres along the
// forearm, and a vector of which the part across the forearm counts.
type Fist struct {
	Along  float64
	Across geom.Vec3
}

// DrawFist returns the fist of draw k.
func DrawFist(k int) Fist {
	rng := rand.New(rand.NewPCG(0x66697374, uint64(k)))
	return Fist{
		Along:  fistAlong * rng.NormFloat64(),
		Across: geom.Vec3{X: rng.NormFloat64(), Y: rng.NormFloat64(), Z: rng.NormFloat64()}.Scale(fistAcross),
	}
}

// GripFromHands sets the grip centre from the hands, for a course without
// racket points: from the wrist of the dominant (right) hand, or of both,
// moved along the forearm to the handle. The course must be mirrored. stature
// in metres.
func (c *Course) GripFromHands(both bool, stature float64, f Fist) {
	f.Along += handLength * stature
	right, rightVel := c.fist(body.RightElbow, body.RightWrist, f)
	c.Grip, c.GripVel = right, rightVel
	if both && c.Has[body.LeftWrist] {
		left, leftVel := c.fist(body.LeftElbow, body.LeftWrist, f)
		for i := range right {
			right[i] = right[i].Lerp(left[i], betweenHands)
			rightVel[i] = rightVel[i].Lerp(leftVel[i], betweenHands)
		}
	}
}

// fist returns the middle of a closed hand: the wrist moved by a·u + d − (d·u)u, u the
// direction of the forearm, a along it and d across.
func (c *Course) fist(elbow, wrist body.Point, f Fist) (pos, vel []geom.Vec3) {
	pos = append(pos, c.Pos[wrist]...)
	vel = append(vel, c.Vel[wrist]...)
	if !c.Has[elbow] {
		return pos, vel
	}
	for i := range pos {
		d := pos[i].Sub(c.Pos[elbow][i])
		l := d.Norm()
		if l < 0.05 {
			continue
		}
		u := d.Scale(1 / l)
		dv := vel[i].Sub(c.Vel[elbow][i])
		du := dv.Sub(u.Scale(dv.Dot(u))).Scale(1 / l)
		reach := f.Along - f.Across.Dot(u)
		pos[i] = pos[i].Add(u.Scale(reach)).Add(f.Across)
		vel[i] = vel[i].Add(du.Scale(reach)).Sub(u.Scale(f.Across.Dot(du)))
	}
	return pos, vel
}
