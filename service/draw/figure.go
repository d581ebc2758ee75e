package draw

import (
	"math"

	pb "example.com/courtkin/proto/courtkin/v1"
)

// limbs are the lines of a figure.
var limbs = [][2]string{
	{"left_shoulder", "right_shoulder"}, {"left_hip", "right_hip"}, {"left_shoulder", "left_hip"}, {"right_shoulder", "right_hip"},
	{"left_shoulder", "left_elbow"}, {"left_elbow", "left_wrist"}, {"right_shoulder", "right_elbow"}, {"right_elbow", "right_wrist"},
	{"left_hip", "left_knee"}, {"left_knee", "left_ankle"}, {"right_hip", "right_knee"}, {"right_knee", "right_ankle"},
}

const (
	figureWidth, figureHeight = 150, 190
	figureScale               = 66. // px a metre: 2.9 m of height
	figureYaw, figurePitch    = 0.9, 0.16
	pathTime                  = 0.25 // s of the tip's path behind a figure
	pathStep                  = 1. / 120
)

// project sees a point, relative to the player's middle on the ground, from
// behind and to one side.
func project(p point) (x, y float64) {
	sin, cos := math.Sincos(figureYaw)
	across, away := p.z*cos-p.x*sin, p.x*cos+p.z*sin
	up := p.y*math.Cos(figurePitch) + away*math.Sin(figurePitch)
	return figureWidth/2 + across*figureScale, figureHeight - 14 - up*figureScale
}

// figureAt draws the player t seconds from contact; empty without a body.
func figureAt(s *pb.Swing, m motion, t float64, class string) string {
	c := newCanvas(figureWidth, figureHeight, "The player")
	if !addFigure(c, m, t, class) {
		return ""
	}
	return c.end()
}

// addFigure draws a figure whose hips stand over the middle, and says whether it could.
func addFigure(c *canvas, m motion, t float64, class string) bool {
	l, r := m.at("left_hip", t), m.at("right_hip", t)
	if !l.known() || !r.known() {
		return false
	}
	origin := l.toward(r, 0.5)
	origin.y = 0
	place := func(name string, t float64) point { return m.at(name, t).minus(origin) }
	var path pen
	for u := t - pathTime; u <= t+1e-9; u += pathStep {
		path.to(project(place("tip", u)))
	}
	c.path(path.d.String(), "path "+class)
	for _, limb := range limbs {
		addStroke(c, place(limb[0], t), place(limb[1], t), "limb "+class)
	}
	if nose := place("nose", t); nose.known() {
		x, y := project(nose)
		c.circle(x, y, 0.1*figureScale, "head "+class)
		addStroke(c, nose, place("left_shoulder", t).toward(place("right_shoulder", t), 0.5), "limb "+class)
	}
	hand, tip := place("hand", t), place("tip", t)
	addStroke(c, hand, tip, "racket "+class)
	addStroke(c, hand.toward(tip, 0.56), tip, "racket face "+class)
	return true
}

func addStroke(c *canvas, a, b point, class string) {
	if !a.known() || !b.known() {
		return
	}
	x1, y1 := project(a)
	x2, y2 := project(b)
	c.line(x1, y1, x2, y2, class)
}
