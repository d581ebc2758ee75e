package synth

import (
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
)

// Court dimensions, m (ITF; literature.md G23).
const (
	netX        = 11.885 // baseline to net
	serviceX    = netX - 6.40
	singlesZ    = 8.23 / 2
	doublesZ    = 10.97 / 2
	postZ       = doublesZ + 0.914
	postHeight  = 1.07
	netHeight   = 0.914
	numMarks    = 22
	farService  = netX + 6.40
	farBaseline = 2 * netX
)

// markAt is where each court mark stands; index is the wire's number.
var markAt = [numMarks + 1]geom.Vec3{
	1: {X: 0, Z: -doublesZ}, 2: {X: 0, Z: -singlesZ}, 3: {}, 4: {X: 0, Z: singlesZ}, 5: {X: 0, Z: doublesZ},
	6: {X: serviceX, Z: -singlesZ}, 7: {X: serviceX}, 8: {X: serviceX, Z: singlesZ},
	9: {X: netX, Z: -postZ}, 10: {X: netX, Y: postHeight, Z: -postZ}, 11: {X: netX}, 12: {X: netX, Y: netHeight},
	13: {X: netX, Z: postZ}, 14: {X: netX, Y: postHeight, Z: postZ},
	15: {X: farService, Z: -singlesZ}, 16: {X: farService}, 17: {X: farService, Z: singlesZ},
	18: {X: farBaseline, Z: -doublesZ}, 19: {X: farBaseline, Z: -singlesZ}, 20: {X: farBaseline},
	21: {X: farBaseline, Z: singlesZ}, 22: {X: farBaseline, Z: doublesZ},
}

// lens is a pinhole camera: where it stands, how it is turned, what it sees.
type lens struct {
	at            geom.Vec3
	turn          geom.Mat3 // rows: right, down, forward in court axes
	focal         float64   // px
	width, height float64
	view          camera.Viewpoint
}

// aimed turns a camera at `at` toward target with a small roll, radians.
func aimed(at, target geom.Vec3, roll float64) geom.Mat3 {
	fwd := target.Sub(at).Unit()
	rt := fwd.Cross(upward).Unit()
	rt = geom.RotationAbout(fwd, geom.Angle(roll)).Apply(rt)
	return geom.Rows(rt, fwd.Cross(rt), fwd)
}

// project returns the pixel of a court point; ok is false behind the camera or
// outside the picture.
func (l *lens) project(p geom.Vec3) (x, y float64, ok bool) {
	c := l.turn.Apply(p.Sub(l.at))
	if c.Z < 0.2 {
		return 0, 0, false
	}
	x, y = l.width/2+l.focal*c.X/c.Z, l.height/2+l.focal*c.Y/c.Z
	return x, y, x >= 0 && x < l.width && y >= 0 && y < l.height
}

// marks lists the court marks in the picture, seen with the given noise in px.
func (l *lens) marks(d draw, noise float64) []camera.MarkedPoint {
	var ms []camera.MarkedPoint
	for i := 1; i <= numMarks; i++ {
		if x, y, ok := l.project(markAt[i]); ok {
			ms = append(ms, camera.MarkedPoint{Mark: camera.Mark(i), X: x + noise*d.NormFloat64(), Y: y + noise*d.NormFloat64()})
		}
	}
	return ms
}
