package track

import (
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
)

// Reseat moves the course, in place, to where it would have been found had the camera
// stood as at does instead of was: what one camera saw stays where its image shows it,
// and as large, so it moves as one. Another focal length puts the player further off.
func (c *Course) Reseat(was, at *camera.Pose) {
	if !c.Has[body.LeftHip] || !c.Has[body.RightHip] {
		return
	}
	o := was.InCamera(c.Pos[body.LeftHip][0].Lerp(c.Pos[body.RightHip][0], 0.5))
	shift := geom.Vec3{Z: o.Z * (at.Focal/was.Focal - 1)}
	back := at.R.T()
	turn := back.Mul(was.R)
	c.vectors(func(v []geom.Vec3, place bool) {
		for i := range v {
			if place {
				v[i] = back.Apply(was.InCamera(v[i]).Add(shift).Sub(at.T))
			} else {
				v[i] = turn.Apply(v[i])
			}
		}
	})
}

// reseat gives a draw a camera of its own: where the marks leave it open where the only
// camera stood, each member of the ensemble saw from elsewhere.
func (m *scene) reseat(c *Course, rng *dice) {
	if !m.oneEye() || !m.onCourt {
		return
	}
	var z camera.Params
	for i := range z {
		z[i] = rng.NormFloat64()
	}
	was := &m.rig.Eyes[0]
	at := was.Draw(z)
	c.Reseat(was, &at)
}
